//! How long a band takes, in parts that add up.

use serde::Serialize;

use super::{End, Habits, Shape, Ties, end_knots};
use crate::band::Band;

/// The minutes that a band takes, by what they are spent on, each to a tenth.
///
/// Knots go by the maker's pace. Cutting, laying out and ties take as long at any, as the
/// [habits](Habits) say.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// use hitchwork_core::craft::{Habits, Pace, Time};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: 30 rows of 2 knots on 3 threads, braided at both ends, at 12 seconds a knot.
/// let time = Time::of(&band, &Habits::default());
/// assert_eq!((time.laying_out, time.rows, time.ends, time.ties), (1.2, 12.0, 0.0, 6.0));
/// assert_eq!(time.minutes(), 19.0);
/// // With quick hands, 5 seconds a knot, only the rows take less.
/// let quick = Time::of(&band, &Habits { pace: Pace::QUICK, ..Habits::default() });
/// assert_eq!((quick.laying_out, quick.rows, quick.ends, quick.ties), (1.2, 5.0, 0.0, 6.0));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Time {
    /// Cutting the threads and laying them out.
    pub laying_out: f64,
    /// The knots of the rows.
    pub rows: f64,
    /// The knots with which threads leave their bundle at the start and join it at the
    /// finish.
    pub ends: f64,
    /// The ties, or the knots that close an end without one.
    pub ties: f64,
}

impl Time {
    /// How long the parts of a band take a maker of these habits.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "MAX_KNOTS bounds it")]
    pub fn of(band: &Band, habits: &Habits) -> Self {
        let minutes = |seconds: f64| (seconds / 6.0).round() / 10.0;
        let knots = |knots: u64| minutes(knots as f64 * habits.pace.seconds_per_knot());
        Self {
            laying_out: minutes(f64::from(band.thread_count()) * habits.laying_out_seconds),
            rows: knots(band.knot_count()),
            ends: knots(end_knots(band).iter().sum()),
            ties: minutes(closing_seconds(band, habits)),
        }
    }

    /// All parts together, in whole minutes.
    #[must_use]
    pub fn minutes(&self) -> f64 {
        // Tenths first: what they add up to is not a whole number of tenths in binary.
        let tenths = (self.parts().iter().sum::<f64>() * 10.0).round();
        (tenths / 10.0).round()
    }

    fn parts(&self) -> [f64; 4] {
        [self.laying_out, self.rows, self.ends, self.ties]
    }

    /// The parts in words, each in whole minutes, so that they add up to the whole as
    /// [`time_words`] says it. The band says at which ends there are knots and ties.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::craft::{End, Shape, Time};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     finish: End { shape: Shape::HalfTriangleLeft, ..End::default() },
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// // `band`: a flat start and a half triangle at the finish, and both ends have ties.
    /// let time = Time { laying_out: 4.0, rows: 133.2, ends: 1.8, ties: 6.0 };
    /// assert_eq!(
    ///     time.words(&band),
    ///     "4 min to cut the threads and lay them out, 2 h 13 min for the rows, \
    ///      2 min for the knots of the finish, and 6 min for the ties"
    /// );
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn words(&self, band: &Band) -> String {
        let named = [
            "to cut the threads and lay them out",
            "for the rows",
            match end_knots(band) {
                [0, _] => "for the knots of the finish",
                [_, 0] => "for the knots of the start",
                _ => "for the knots of both ends",
            },
            match ties(band) {
                0 => "for closing both ends",
                1 => "for the tie and for closing the other end",
                _ => "for the ties",
            },
        ];
        let parts = self.parts();
        let shares = shares(parts, shown(self.minutes()));
        let taken = parts.iter().zip(shares).zip(named);
        let said: Vec<String> = taken
            .filter(|((part, _), _)| **part > 0.0)
            .map(|((_, minutes), what)| match minutes {
                0 => format!("less than a minute {what}"),
                minutes => format!("{} {what}", clock_words(minutes)),
            })
            .collect();
        match said.split_last() {
            Some((last, before)) if !before.is_empty() => {
                format!("{}, and {last}", before.join(", "))
            }
            _ => said.concat(),
        }
    }
}

/// How many ties a band has.
fn ties(band: &Band) -> usize {
    let tied = |end: End| end.ties != Ties::Cut;
    let start = tied(band.start()) && band.start().shape != Shape::Loop;
    usize::from(start) + usize::from(tied(band.finish()))
}

/// How long it takes to close both ends.
fn closing_seconds(band: &Band, habits: &Habits) -> f64 {
    let of = |ties| match ties {
        Ties::Braided | Ties::Twisted => habits.tie_seconds,
        Ties::Cut => habits.gathering_seconds,
    };
    let start = match band.start().shape {
        Shape::Loop => habits.gathering_seconds,
        _ => of(band.start().ties),
    };
    start + of(band.finish().ties)
}

/// Whole numbers in proportion to the parts that add up to the whole: each gets its share
/// rounded down, and what is left goes to those that lost most (largest remainders,
/// Hamilton 1792).
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "minutes of a band"
)]
fn shares(parts: [f64; 4], whole: u64) -> [u64; 4] {
    let sum: f64 = parts.iter().sum();
    if sum <= 0.0 {
        return [0; 4];
    }
    let exact = parts.map(|part| part / sum * whole as f64);
    let mut shares = exact.map(|share| share.floor() as u64);
    let mut turn = [0, 1, 2, 3];
    turn.sort_by(|&a, &b| exact[b].fract().total_cmp(&exact[a].fract()));
    let left = whole.saturating_sub(shares.iter().sum());
    for &part in turn.iter().take(left as usize) {
        shares[part] += 1;
    }
    shares
}

/// Minutes as people say them: at least one, and to five from an hour on.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "minutes of a band"
)]
fn shown(minutes: f64) -> u64 {
    let step = if minutes >= 60.0 { 5.0 } else { 1.0 };
    ((minutes / step).round() * step).max(1.0) as u64
}

/// "2 h 10 min".
fn clock_words(minutes: u64) -> String {
    match (minutes / 60, minutes % 60) {
        (0, minutes) => format!("{minutes} min"),
        (hours, 0) => format!("{hours} h"),
        (hours, minutes) => format!("{hours} h {minutes} min"),
    }
}

/// A time as people say it, to five minutes from an hour on.
///
/// ```
/// use hitchwork_core::craft::time_words;
/// assert_eq!(time_words(131.0), "2 h 10 min");
/// assert_eq!(time_words(45.0), "45 min");
/// ```
#[must_use]
pub fn time_words(minutes: f64) -> String {
    clock_words(shown(minutes))
}
