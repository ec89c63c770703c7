//! What can be wrong with values before there is a band to prove anything about.

use std::borrow::Cow;
use std::fmt;

use crate::knot::{Column, Place};
use crate::limits::{MAX_LENGTH_MM, MIN_LENGTH_MM};
use crate::line::on_one_line;

/// Why a value of this crate could not be made.
///
/// The message stands alone in one line; [`help`](Error::help) says what to do, and
/// [`place`](Error::place) says where in a rule it went wrong, where a rule is to blame.
#[derive(Debug)]
pub struct Error(Box<Problem>);

#[derive(Debug, thiserror::Error)]
pub(crate) enum Problem {
    #[error("{}", no_such_column(*.column, *.threads))]
    NoSuchColumn { column: i64, threads: Option<u16> },
    #[error("there is no knot in column {column} whose place another could take")]
    NothingToReplace { column: Column },
    #[error("\"{found}\" in line {line}, character {character} of the grid stands for no knot")]
    NoMark {
        found: char,
        line: usize,
        character: usize,
    },
    #[error(
        "lists of {first} and {second} rows only end together after {rows} rows; at most {} are allowed",
        crate::limits::MAX_ROWS
    )]
    OutOfStep {
        first: usize,
        second: usize,
        rows: usize,
    },
    #[error("a joining knot lies in column {column}, and the bands meet in column {meeting}")]
    JoinedElsewhere { column: Column, meeting: u16 },
    #[error("every 0th knot would be none at all")]
    EveryNone,
    #[error(
        "a band has {} to {} threads, not {found}",
        crate::limits::MIN_THREADS,
        crate::limits::MAX_THREADS
    )]
    ThreadCount { found: usize },
    #[error("{part}, row {row}, knot {knot}: column {column} lies outside the band, whose {threads} threads have columns 1 to {}", .threads - 1)]
    KnotOutside {
        part: &'static str,
        row: usize,
        knot: usize,
        column: Column,
        threads: u16,
        place: Option<Place>,
    },
    #[error("{part}, row {row} has no knots")]
    EmptyRow { part: &'static str, row: usize },
    #[error("the band has no rows to repeat")]
    NoRepeat,
    #[error("a band has 1 to {most} repeats here, not {found}")]
    Repeats { found: u32, most: u32 },
    #[error(
        "the band would have {found} knots; at most {} are allowed",
        crate::limits::MAX_KNOTS
    )]
    TooManyKnots { found: u64 },
    #[error(
        "the {part} has {found} rows; at most {} are allowed",
        crate::limits::MAX_ROWS
    )]
    TooManyRows { part: &'static str, found: usize },
    #[error(
        "thread {thread} asks for colour {index} of the palette (counted from 0), but the palette has {palette}"
    )]
    NoSuchColour {
        thread: usize,
        index: u16,
        palette: usize,
    },
    #[error("the palette has no colours")]
    EmptyPalette,
    #[error(
        "the palette has {found} colours; at most {} are allowed",
        crate::limits::MAX_COLOURS
    )]
    TooManyColours { found: usize },
    #[error("{what} has {found} letters; at most {most} are allowed")]
    TooManyLetters {
        what: &'static str,
        found: usize,
        most: usize,
    },
    #[error("two colours of the palette are both called \"{}\"", shortened(.name))]
    ColourNamedTwice { name: String },
    #[error("colour {number} of the palette has no name")]
    ColourWithoutName { number: usize },
    #[error("\"{text}\" is not a colour")]
    NotAColour { text: String },
    #[error("{what} must be {range}, not {}", millimetres(*.found))]
    Gauge {
        what: &'static str,
        range: &'static str,
        found: f64,
    },
    #[error("a band cannot be {} long", centimetres(*.found))]
    Length { found: f64 },
    #[error("{message}")]
    Craft { message: String, help: String },
    #[error(
        "a gradient has 1 to {} colours, not {found}",
        crate::limits::MAX_COLOURS
    )]
    GradientCount { found: usize },
    #[error("{message}")]
    Listing { message: String, help: String },
    #[error("{need} threads are needed, and the stash has {have}")]
    TooFewThreads { have: usize, need: usize },
    #[error("a difference between colours is a number from 0 up, not {found}")]
    Difference { found: f64 },
    #[error(
        "1 to {} colours can be put in order, not {found}",
        crate::limits::MAX_ORDERED
    )]
    OrderCount { found: usize },
    #[error(
        "2 to {} threads can be chosen, not {found}",
        crate::limits::MAX_COLOURS
    )]
    ChooseCount { found: usize },
    #[error("{} {asked} threads in the stash that are all unlike each other", if *.exact { "there are no" } else { "no way was found to choose" })]
    NotApart { asked: usize, exact: bool },
    #[error("the setting \"{}\" of the band's origin is not a number", shortened(.name))]
    SettingIsNoNumber { name: String },
    #[error("the colours cannot drift {} of {colours} at every repeat: {reason}", in_steps(*.steps))]
    NoDrift {
        colours: usize,
        steps: usize,
        reason: String,
        help: String,
    },
    #[error("this cannot have the symmetry {group}: {reason}")]
    NoSymmetry {
        group: crate::proof::Frieze,
        reason: String,
        help: String,
    },
    #[error("{message}")]
    RandomRows { message: String, help: String },
    #[error("{message}")]
    Painting { message: String, help: String },
    #[error("a brick lattice of {rows} rows does not fit on its beginning")]
    LatticeRows { rows: usize },
    #[error("the colours come round only after {repeats} repeats, too many to compare")]
    ColoursComeRoundLate { repeats: u64 },
    #[error(
        "the band falls apart into pieces that can be begun in too many ways to compare their colours"
    )]
    PartsBeginInManyWays,
    #[error("{message}")]
    File {
        message: String,
        help: Option<String>,
    },
    #[error("a chance must lie between 0 and 1, not at {found}")]
    Chance { found: f64 },
    #[error("there is nothing to choose from")]
    ChooseFromNothing,
    #[error("{message}")]
    Picture { message: String, help: String },
    #[error("{message}")]
    PictureMark {
        message: String,
        help: String,
        line: usize,
        character: usize,
    },
    #[error(
        "a picture has 1 to {} columns and 1 to {} rows, not {columns} by {rows}",
        crate::limits::MAX_PICTURE_COLUMNS,
        crate::limits::MAX_PICTURE_ROWS
    )]
    PictureSize { columns: usize, rows: usize },
    #[error(
        "the picture has {found} colours; at most {} are allowed",
        crate::limits::MAX_PICTURE_COLOURS
    )]
    PictureColours { found: usize },
}

fn no_such_column(column: i64, threads: Option<u16>) -> String {
    match threads {
        Some(threads) if threads > 1 => {
            format!(
                "there is no column {column}: {threads} threads have columns 1 to {}",
                threads - 1
            )
        }
        Some(threads) => format!("there is no column {column} on {threads} threads"),
        None => format!("there is no column {column}: columns count from 1 at the left edge"),
    }
}

/// "1 step", "3 steps".
pub(crate) fn in_steps(steps: usize) -> String {
    format!("{steps} step{}", if steps == 1 { "" } else { "s" })
}

/// A length as people write it; one that is absurd, without its hundreds of zeros.
pub(crate) fn millimetres(length: f64) -> String {
    if length.abs() < 1e6 {
        length.to_string()
    } else {
        format!("{length:e}")
    }
}

/// How long something is that was given in millimetres; also where that is beyond all numbers.
fn centimetres(length_mm: f64) -> String {
    match length_mm.is_finite() {
        true => format!("{} cm", millimetres(length_mm / 10.0)),
        false => "endlessly".to_owned(),
    }
}

/// Somebody else's text, short enough to stand in a message, and on one line.
pub(crate) fn shortened(text: &str) -> Cow<'_, str> {
    const MOST: usize = 60;
    match text.char_indices().nth(MOST) {
        Some((end, _)) => Cow::Owned(format!("{}…", on_one_line(&text[..end]))),
        None => on_one_line(text),
    }
}

impl Error {
    pub(crate) fn file(message: impl Into<String>, help: Option<String>) -> Self {
        Problem::File {
            message: message.into(),
            help,
        }
        .into()
    }

    /// What the maker can do about it.
    #[must_use]
    pub fn help(&self) -> Option<String> {
        let help = match &*self.0 {
            Problem::NoSuchColumn { .. } => "a column is the place between two neighbouring threads; the last one is one less than the number of threads".into(),
            Problem::NothingToReplace { .. } => "only knots that are there can become another kind; give columns that the row uses, or add the knots to the row".into(),
            Problem::NoMark { .. } => "the marks draw the path of the working thread: \\ down to the right (forward), / down to the left (backward), > right and back (forward-backward), < left and back (backward-forward); . or a space means no knot, and a line has at most 199 marks".into(),
            Problem::OutOfStep { .. } => "make one of them longer or shorter, so that their numbers of rows have a divisor in common".into(),
            Problem::JoinedElsewhere { meeting, .. } => format!("give joining knots in column {meeting}, where the bands meet, and in no other"),
            Problem::EveryNone => "every 1st knot is all of them, every 2nd the first, third, fifth…".into(),
            Problem::ThreadCount { .. } => "set another number of threads".into(),
            Problem::KnotOutside { .. } => "use columns up to one less than the number of threads, or hang more threads".into(),
            Problem::EmptyRow { .. } => "leave the row out, or give it at least one knot".into(),
            Problem::NoRepeat => "give the band at least one row in its repeat".into(),
            Problem::Repeats { .. } => "ask for fewer repeats, or at least one".into(),
            Problem::TooManyKnots { .. } => "tie fewer repeats, or fewer rows in the repeat".into(),
            Problem::TooManyRows { .. } => "shorten it; what comes again and again belongs in the repeat, written once".into(),
            Problem::NoSuchColour { palette, .. } => format!("use 0 to {}, or add the colour to the palette", palette.saturating_sub(1)),
            Problem::EmptyPalette => "give at least one colour with a name and a value such as \"#1d6f8c\"".into(),
            Problem::TooManyColours { .. } => "leave out the colours that no thread has".into(),
            Problem::TooManyLetters { .. } => "say it in fewer words; long texts belong in a file of their own".into(),
            Problem::ColourNamedTwice { .. } => "give each colour a name of its own, so that a maker can tell them apart".into(),
            Problem::ColourWithoutName { .. } => "name it as you would say it at the table".into(),
            Problem::NotAColour { .. } => "write a colour as # and six hexadecimal digits, for example \"#1d6f8c\"".into(),
            Problem::Gauge { .. } => "measure a finished swatch, or leave the gauge out for ordinary six-strand cotton floss".into(),
            Problem::Length { .. } => format!("ask for a length from {} to {} cm of knotting", MIN_LENGTH_MM / 10.0, MAX_LENGTH_MM / 10.0),
            Problem::GradientCount { .. } => "ask for as many colours as there are threads, or fewer".into(),
            Problem::Listing { help, .. } => help.clone(),
            Problem::TooFewThreads { have: 0 | 1, .. } => "add threads to the stash".into(),
            Problem::TooFewThreads { have, .. } => format!("ask for at most {have} colours, or add threads to the stash"),
            Problem::Difference { .. } => "about 1 is a difference that can just be seen, and 10 is another colour (CIEDE2000)".into(),
            Problem::OrderCount { .. } => "put the colours that you like in order, not every one there is".into(),
            Problem::ChooseCount { .. } => "choose as many threads as the band has colours".into(),
            Problem::NotApart { .. } => "choose fewer, or allow threads that are more alike".into(),
            Problem::SettingIsNoNumber { .. } => "a band that is to be made again needs settings that can be written down".into(),
            Problem::NoDrift { help, .. } | Problem::NoSymmetry { help, .. } | Problem::RandomRows { help, .. } | Problem::Painting { help, .. } | Problem::Craft { help, .. } => help.clone(),
            Problem::LatticeRows { .. } => format!("ask for an even number of rows, from 2 to {}", crate::limits::MAX_ROWS),
            Problem::PartsBeginInManyWays => "compare the knots alone, or tie a knot in every column".into(),
            Problem::ColoursComeRoundLate { .. } => "compare the knots alone, or hang fewer colours".into(),
            Problem::File { help, .. } => return help.clone(),
            Problem::Chance { .. } => "0 means never, 1 means always, 0.5 means half of the time".into(),
            Problem::ChooseFromNothing => "give at least one thing to choose from".into(),
            Problem::Picture { help, .. } | Problem::PictureMark { help, .. } => help.clone(),
            Problem::PictureSize { columns: 0, .. } | Problem::PictureSize { rows: 0, .. } => {
                "it needs one row and one column at least".into()
            }
            Problem::PictureSize { .. } => "make it smaller: crop it, pad it or repeat it less, or say to how many columns a file is to be shrunk".into(),
            Problem::PictureColours { .. } => "say how many colours it may have, or which, and each cell takes the nearest".into(),
        };
        Some(help)
    }

    /// Where in a rule the offending knot was made.
    #[must_use]
    pub fn place(&self) -> Option<Place> {
        match &*self.0 {
            Problem::KnotOutside { place, .. } => *place,
            _ => None,
        }
    }

    /// Where in a grid of marks, or in a picture of marks, something is not a mark: its line and its character, from 1.
    #[must_use]
    pub fn grid_place(&self) -> Option<(usize, usize)> {
        match &*self.0 {
            Problem::NoMark {
                line, character, ..
            }
            | Problem::PictureMark {
                line, character, ..
            } => Some((*line, *character)),
            _ => None,
        }
    }

    /// Whether a band file could not be read.
    #[must_use]
    pub fn is_file(&self) -> bool {
        matches!(*self.0, Problem::File { .. })
    }

    /// Whether a stash or a palette could not be read.
    #[must_use]
    pub fn is_listing(&self) -> bool {
        matches!(*self.0, Problem::Listing { .. })
    }

    /// Whether a picture, or what letters are set in, cannot be, or cannot be read or tied.
    #[must_use]
    pub fn is_picture(&self) -> bool {
        matches!(
            *self.0,
            Problem::Picture { .. }
                | Problem::PictureMark { .. }
                | Problem::PictureSize { .. }
                | Problem::PictureColours { .. }
        )
    }

    /// Whether the stash has too few threads, or too few that are unlike each other.
    #[must_use]
    pub fn is_too_few_threads(&self) -> bool {
        matches!(
            *self.0,
            Problem::TooFewThreads { .. } | Problem::NotApart { .. }
        )
    }

    /// Whether the asked drift has no starting order on this repeat.
    #[must_use]
    pub fn is_drift(&self) -> bool {
        matches!(*self.0, Problem::NoDrift { .. })
    }

    /// Whether rows cannot have the symmetry that is asked for.
    #[must_use]
    pub fn is_symmetry(&self) -> bool {
        matches!(*self.0, Problem::NoSymmetry { .. })
    }

    /// Whether a size, a thread, a swatch or a habit of the craft cannot be.
    #[must_use]
    pub fn is_craft(&self) -> bool {
        matches!(
            *self.0,
            Problem::Craft { .. } | Problem::Gauge { .. } | Problem::Length { .. }
        )
    }

    /// Whether a band was asked for of a length that no band can have.
    #[must_use]
    pub fn is_length(&self) -> bool {
        matches!(*self.0, Problem::Length { .. })
    }

    /// Of a knot that lies beyond the last column: how many threads the band has.
    #[must_use]
    pub fn threads_of_outside(&self) -> Option<u16> {
        match &*self.0 {
            Problem::KnotOutside { threads, .. } => Some(*threads),
            _ => None,
        }
    }

    /// Whether a row of a band has no knots.
    #[must_use]
    pub fn is_empty_row(&self) -> bool {
        matches!(*self.0, Problem::EmptyRow { .. })
    }

    /// Whether a band has no rows to repeat.
    #[must_use]
    pub fn is_without_rows(&self) -> bool {
        matches!(*self.0, Problem::NoRepeat)
    }

    /// Whether a number lies outside what a band can have: threads, repeats, rows,
    /// knots, colours.
    #[must_use]
    pub fn is_out_of_range(&self) -> bool {
        matches!(
            *self.0,
            Problem::NoSuchColumn { .. }
                | Problem::ThreadCount { .. }
                | Problem::KnotOutside { .. }
                | Problem::Repeats { .. }
                | Problem::TooManyKnots { .. }
                | Problem::TooManyRows { .. }
                | Problem::TooManyColours { .. }
                | Problem::TooManyLetters { .. }
                | Problem::NoSuchColour { .. }
                | Problem::GradientCount { .. }
                | Problem::OrderCount { .. }
                | Problem::ChooseCount { .. }
                | Problem::Difference { .. }
        )
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
