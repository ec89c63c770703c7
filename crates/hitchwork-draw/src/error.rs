//! Why a picture could not be made.

use std::fmt;

/// Why a picture could not be made.
///
/// The message stands alone in one line; [`help`](Error::help) says what to do.
#[derive(Debug)]
pub struct Error(Box<Problem>);

#[derive(Debug, thiserror::Error)]
#[cfg_attr(
    not(all(feature = "html", feature = "pdf", feature = "plot", feature = "png")),
    allow(dead_code, reason = "some arise only in what a feature brings")
)]
pub(crate) enum Problem {
    #[error("the picture would show {found} knots; at most {most} are drawn")]
    TooManyKnots { found: u64, most: u64, repeats: u64 },
    #[error("a picture is drawn at {least} to {most} pixels per millimetre, not at {found}")]
    PixelsPerMm { found: f64, least: f64, most: f64 },
    #[error(
        "the sheet would write out rows of {found} knots; at most {most} are written on such a page"
    )]
    TooManyWrittenKnots { found: usize, most: usize },
    #[error("the picture would show {found} colours; at most {most} are drawn")]
    TooManyColours { found: usize, most: usize },
    #[error("a picture shows at least one repeat, not 0")]
    NoRepeats,
    #[error("the scale of a picture must be a number above 0, not {found}")]
    Scale { found: f64 },
    #[error("the picture would be {width} by {height} pixels; at most {} million pixels are painted", .most / 1_000_000)]
    TooManyPixels { width: f64, height: f64, most: u64 },
    #[error("this is not a picture that can be painted: {reason}")]
    NotAPicture { reason: String },
    #[error("the chart would show {found} knots; at most {most} are drawn")]
    ChartTooLarge { found: u64, most: u64 },
    #[error("the band is tied with {has} repeats: there is no repeat {asked}")]
    NoSuchRepeat { asked: u32, has: u32 },
    #[error("a page is {least} to {most} pixels high, not {found}")]
    PageHeight { found: f64, least: f64, most: f64 },
    #[error("a gradient has at least two colours")]
    OneColour,
    #[error(
        "the fabric does not come again within {most} knots, so no piece of it fits onto itself"
    )]
    NeverComesAgain { most: u64 },
    #[error("{name} is not a picture")]
    NoPicture { name: &'static str },
    #[error("there is nothing to plot")]
    EmptyPlot,
    #[error("a number of the plot is not finite")]
    EndlessPlot,
    #[error("the sheet could not be written as PDF: {reason}")]
    Printing { reason: String },
    #[error("the picture could not be written as PNG: {reason}")]
    Encoding { reason: String },
}

impl Error {
    /// What can be done about it.
    #[must_use]
    pub fn help(&self) -> Option<String> {
        match &*self.0 {
            Problem::TooManyKnots { repeats: 0, .. } => Some(
                "one repeat alone is too large to be seen; draw a band with fewer rows or threads"
                    .into(),
            ),
            Problem::TooManyKnots { repeats, .. } => Some(format!(
                "draw fewer repeats: at most {repeats} of this band fit"
            )),
            Problem::TooManyWrittenKnots { .. } => {
                Some("write it as text, which has no such limit, or find a shorter repeat".into())
            }
            Problem::TooManyColours { .. } => Some("draw fewer of them".into()),
            Problem::PixelsPerMm { .. } => Some("10 suits a screen, 24 a print".into()),
            Problem::NoRepeats => Some("leave the number of repeats out to draw them all".into()),
            Problem::Scale { .. } => {
                Some("1 paints the picture at its own size, 2 twice as large".into())
            }
            Problem::TooManyPixels { .. } => {
                Some("draw fewer repeats, or at a smaller scale".into())
            }
            Problem::ChartTooLarge { .. } => {
                Some("draw one repeat only, which is what a maker needs".into())
            }
            Problem::NoSuchRepeat { has, .. } => Some(format!("give a repeat from 1 to {has}")),
            Problem::PageHeight { .. } => Some("1018 makes pages like upright A4".into()),
            Problem::OneColour => Some("draw it for a band of two colours or more".into()),
            Problem::NeverComesAgain { .. } => Some(
                "draw the fabric; check says whether the band splits apart, and after how many repeats its colours come again".into(),
            ),
            Problem::NoPicture { .. } => Some("make its files instead".into()),
            Problem::EmptyPlot => Some("give at least one band that can be made".into()),
            Problem::EndlessPlot => Some("leave out what could not be measured".into()),
            Problem::NotAPicture { .. }
            | Problem::Encoding { .. }
            | Problem::Printing { .. } => None,
        }
    }

    /// Whether the picture would be too large: too many knots or too many pixels.
    #[must_use]
    pub fn is_too_large(&self) -> bool {
        matches!(
            *self.0,
            Problem::TooManyKnots { .. }
                | Problem::TooManyPixels { .. }
                | Problem::ChartTooLarge { .. }
                | Problem::NeverComesAgain { .. }
                | Problem::TooManyColours { .. }
                | Problem::TooManyWrittenKnots { .. }
        )
    }

    /// Whether an option lies outside what it can be.
    #[must_use]
    pub fn is_out_of_range(&self) -> bool {
        matches!(
            *self.0,
            Problem::PixelsPerMm { .. }
                | Problem::NoRepeats
                | Problem::NoSuchRepeat { .. }
                | Problem::PageHeight { .. }
                | Problem::Scale { .. }
        )
    }

    /// Whether the text given to be painted is not SVG.
    #[must_use]
    pub fn is_not_a_picture(&self) -> bool {
        matches!(*self.0, Problem::NotAPicture { .. })
    }
}

impl From<Problem> for Error {
    fn from(problem: Problem) -> Self {
        Self(Box::new(problem))
    }
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.fmt(f)
    }
}

impl std::error::Error for Error {}
