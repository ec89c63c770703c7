//! What a maker is used to: how long the ties are, what is left to hold, how fast.

use std::str::FromStr;

use super::within;
use crate::error::{Error, Problem};
use crate::near::did_you_mean;

/// How long a maker takes for a knot.
///
/// ```
/// use hitchwork_core::craft::Pace;
/// // A row of 18 knots took three minutes and a half.
/// let mine: Pace = "18:210".parse()?;
/// assert!((mine.seconds_per_knot() - 11.67).abs() < 0.01);
/// assert_eq!(mine.name(), "beginner");
/// assert_eq!("quick".parse::<Pace>()?.seconds_per_knot(), 5.0);
/// assert_eq!("8.5".parse::<Pace>()?.seconds_per_knot(), 8.5);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    seconds_per_knot: f64,
}

impl Pace {
    /// Somebody's who ties one of the first bands: 12 seconds for a knot, looking at the
    /// sheet and finding the threads included (common practice, no source).
    pub const BEGINNER: Self = Self {
        seconds_per_knot: 12.0,
    };
    /// Somebody's who has tied a dozen bands: 8 seconds for a knot (common practice, no
    /// source).
    pub const PRACTISED: Self = Self {
        seconds_per_knot: 8.0,
    };
    /// Somebody's whose hands know the knot: 5 seconds for a knot (common practice, no
    /// source).
    pub const QUICK: Self = Self {
        seconds_per_knot: 5.0,
    };

    /// The paces that have a name, the slowest first.
    pub const NAMED: &[(&'static str, Self)] = &[
        ("beginner", Self::BEGINNER),
        ("practised", Self::PRACTISED),
        ("quick", Self::QUICK),
    ];

    /// A pace of this many seconds for a double half hitch, finding the threads for it
    /// included.
    ///
    /// # Errors
    /// When that is outside 1 to 600.
    pub fn new(seconds_per_knot: f64) -> Result<Self, Error> {
        within("a pace", seconds_per_knot, 1.0, 600.0, " seconds per knot")?;
        Ok(Self { seconds_per_knot })
    }

    /// The pace of a maker who has timed one row.
    ///
    /// ```
    /// use hitchwork_core::craft::Pace;
    /// assert_eq!(Pace::of_row(11, 220.0)?, Pace::new(20.0)?);
    /// assert!(Pace::of_row(0, 220.0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the row has no knots, or the pace is outside 1 to 600 seconds per knot.
    pub fn of_row(knots: u32, seconds: f64) -> Result<Self, Error> {
        within("a timed row", knots.into(), 1.0, 100_000.0, " knots")?;
        Self::new(seconds / f64::from(knots))
    }

    /// Seconds for one knot.
    #[must_use]
    pub const fn seconds_per_knot(self) -> f64 {
        self.seconds_per_knot
    }

    /// The name of the pace in [`NAMED`](Self::NAMED) that comes nearest; of two that are
    /// as near, the slower.
    #[must_use]
    pub fn name(self) -> &'static str {
        let off = |pace: &Self| (pace.seconds_per_knot - self.seconds_per_knot).abs();
        let nearest = Self::NAMED
            .iter()
            .min_by(|(_, one), (_, other)| off(one).total_cmp(&off(other)));
        nearest.map_or("", |(name, _)| *name)
    }
}

impl Default for Pace {
    /// A beginner's, so that nobody runs out of evening.
    fn default() -> Self {
        Self::BEGINNER
    }
}

impl FromStr for Pace {
    type Err = Error;

    /// Reads the name of a pace, seconds for a knot (`8.5`), or a timed row as
    /// knots:seconds (`18:210`). An error asks about a name that was nearly given.
    fn from_str(text: &str) -> Result<Self, Error> {
        let text = text.trim();
        if let Some((_, pace)) = Self::NAMED.iter().find(|(name, _)| *name == text) {
            return Ok(*pace);
        }
        let unreadable = || {
            let names: Vec<String> = Self::NAMED
                .iter()
                .map(|(name, pace)| {
                    format!("{name} ({} seconds for a knot)", pace.seconds_per_knot)
                })
                .collect();
            let meant = did_you_mean(text, Self::NAMED.iter().map(|(name, _)| *name));
            Error::from(Problem::Craft {
                message: format!("\"{}\" is not a pace", crate::error::shortened(text)),
                help: format!(
                    "{meant}give {}, your own seconds for a knot, or a timed row as knots:seconds, such as 18:210",
                    names.join(", ")
                ),
            })
        };
        match text.split_once(':') {
            Some((knots, seconds)) => Self::of_row(
                knots.trim().parse().map_err(|_| unreadable())?,
                seconds.trim().parse().map_err(|_| unreadable())?,
            ),
            None => Self::new(text.parse().map_err(|_| unreadable())?),
        }
    }
}

/// How unevenly hands pull and how slackly thread is measured: to about a twentieth (common
/// practice, no source).
pub(super) const UNEVEN_PULL: f64 = 0.05;

/// What a maker is used to, and what does not depend on the band (common practice, no
/// source, unless a field says otherwise).
///
/// ```
/// use hitchwork_core::craft::Habits;
/// let long_ties = Habits { tie_mm: 150.0, ..Habits::default() }.checked()?;
/// assert!(Habits { tie_mm: -1.0, ..long_ties }.checked().is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Habits {
    /// Seconds for a knot.
    pub pace: Pace,
    /// How long the finished ties are, at either end: usually 100 mm, a hand's breadth.
    pub tie_mm: f64,
    /// What stays of tails that are cut short behind their knot: usually 15 mm, so that the
    /// knot cannot slip off.
    pub stub_mm: f64,
    /// What the hand needs to hold of a thread when it ties its last knot; a tie that is
    /// made afterwards is made of it. Usually 100 mm: once round the fingers.
    pub hold_mm: f64,
    /// The length of the loop at a loop start, all round: usually 30 mm, which lets two
    /// bundles through.
    pub loop_mm: f64,
    /// What is added for uneven pull, as a share of the knotted length: usually 0.05.
    pub slack: f64,
    /// Threads are cut to whole multiples of this: usually 50 mm, the marks of a tape that
    /// one reads at a glance.
    pub cutting_step_mm: f64,
    /// From this length on a thread tangles while it is worked: usually 2000 mm, more than
    /// one pulls through a knot at arm's length in one go (our own judgement).
    pub tangles_mm: f64,
    /// Seconds to cut a thread and lay it in its place, at any pace: usually 24.
    pub laying_out_seconds: f64,
    /// Seconds to tie all threads of an end into one knot, or to cut its tails short, at any
    /// pace: usually 12.
    pub gathering_seconds: f64,
    /// Seconds to braid or twist a tie and knot its tip, at any pace: usually 180.
    pub tie_seconds: f64,
    /// How many half rows a maker works ahead at one side of the band before the other side is
    /// tied as far; where nothing is said, as many as the band has columns
    /// ([`usual_half_rows_ahead`](crate::work::usual_half_rows_ahead)).
    pub half_rows_ahead: Option<u32>,
    /// Whether a maker ties the rows as they are written, and not in the [easiest
    /// order](crate::work).
    pub as_written: bool,
}

impl Default for Habits {
    fn default() -> Self {
        Self {
            pace: Pace::default(),
            tie_mm: 100.0,
            stub_mm: 15.0,
            hold_mm: 100.0,
            loop_mm: 30.0,
            slack: UNEVEN_PULL,
            cutting_step_mm: 50.0,
            tangles_mm: 2000.0,
            laying_out_seconds: 24.0,
            gathering_seconds: 12.0,
            tie_seconds: 180.0,
            half_rows_ahead: None,
            as_written: false,
        }
    }
}

impl Habits {
    /// The habits themselves if they can be anybody's.
    ///
    /// ```
    /// use hitchwork_core::craft::Habits;
    /// assert!(Habits::default().checked().is_ok());
    /// assert!(Habits { tie_mm: -1.0, ..Habits::default() }.checked().is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a length or a time is negative, infinite or absurd, or nothing can be tied ahead, with
    /// its range.
    pub fn checked(self) -> Result<Self, Error> {
        within("a tie's length", self.tie_mm, 0.0, 2_000.0, " mm")?;
        within("a stub's length", self.stub_mm, 0.0, 500.0, " mm")?;
        within("the length to hold", self.hold_mm, 0.0, 1_000.0, " mm")?;
        within("a loop's length", self.loop_mm, 5.0, 500.0, " mm")?;
        within("the slack", self.slack, 0.0, 1.0, "")?;
        within("a cutting step", self.cutting_step_mm, 1.0, 1_000.0, " mm")?;
        within(
            "the length from which threads tangle",
            self.tangles_mm,
            100.0,
            100_000.0,
            " mm",
        )?;
        let seconds = |what, found| within(what, found, 0.0, 36_000.0, " seconds");
        seconds("the time to lay out a thread", self.laying_out_seconds)?;
        seconds("the time to gather an end", self.gathering_seconds)?;
        seconds("the time for a tie", self.tie_seconds)?;
        if let Some(ahead) = self.half_rows_ahead {
            within(
                "how far ahead one works",
                f64::from(ahead),
                1.0,
                100_000.0,
                " half rows",
            )?;
        }
        Ok(self)
    }
}
