//! What a maker is used to: how long the ties are, what is left to hold, how fast.

use super::within;
use crate::error::Error;

/// How long a maker takes for a knot.
///
/// ```
/// use hitchwork_core::craft::Pace;
/// // A row of 18 knots took three minutes and a half.
/// let mine = Pace::of_row(18, 210.0)?;
/// assert!((mine.seconds_per_knot() - 11.67).abs() < 0.01);
/// assert_eq!(mine.class(), "ordinary");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pace {
    seconds_per_knot: f64,
}

impl Pace {
    /// A pace of so many seconds for a double half hitch, laying the threads included.
    ///
    /// # Errors
    /// When that is outside 1 to 600.
    pub fn new(seconds_per_knot: f64) -> Result<Self, Error> {
        within("a pace", seconds_per_knot, 1.0, 600.0, " seconds per knot")?;
        Ok(Self { seconds_per_knot })
    }

    /// The pace of a maker who has timed one row.
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

    /// The class of pace: practised up to 9 seconds, ordinary up to 16, then unhurried
    /// (common practice, no source).
    #[must_use]
    pub fn class(self) -> &'static str {
        match self.seconds_per_knot {
            seconds if seconds <= 9.0 => "practised",
            seconds if seconds <= 16.0 => "ordinary",
            _ => "unhurried",
        }
    }
}

impl Default for Pace {
    /// Twelve seconds for a knot (common practice, no source).
    fn default() -> Self {
        Self {
            seconds_per_knot: 12.0,
        }
    }
}

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
    /// How long the finished ties are, at either end.
    pub tie_mm: f64,
    /// What stays of tails that are cut short behind their knot.
    pub stub_mm: f64,
    /// What the hand needs to hold of a thread when it ties its last knot; a tie that is
    /// made afterwards is made of it.
    pub hold_mm: f64,
    /// The length of the loop at a loop start, all round.
    pub loop_mm: f64,
    /// What is added for uneven pull, as a share of the knotted length.
    pub slack: f64,
    /// Threads are cut to whole multiples of this.
    pub cutting_step_mm: f64,
    /// From this length on a thread tangles while it is worked.
    pub tangles_mm: f64,
}

impl Default for Habits {
    fn default() -> Self {
        Self {
            pace: Pace::default(),
            tie_mm: 100.0,
            stub_mm: 15.0,
            hold_mm: 100.0,
            loop_mm: 30.0,
            slack: 0.05,
            cutting_step_mm: 50.0,
            tangles_mm: 2000.0,
        }
    }
}

impl Habits {
    /// The habits themselves if they can be anybody's.
    ///
    /// # Errors
    /// When a length is negative, infinite or absurd, with its range.
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
        Ok(self)
    }
}
