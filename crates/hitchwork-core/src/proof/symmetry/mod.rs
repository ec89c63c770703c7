//! The symmetry of a band: of its knots, and of what is seen of its colours.
//!
//! Symmetry is a matter of the repeat that goes on without end, so neither ends nor lead-ins
//! count. What is compared is the fabric, not the order of tying: two knots that touch keep
//! their order, and how the others lie follows from that. So a slanted band needs no care
//! of its own. Its knots touch as those of a straight band do; only the edges at which it
//! is begun and ended slant, and of those an endless band has none. In pictures that
//! keep the slant of the start, an axis across the band therefore runs along that slant:
//! places are given as pairs of knots, halfway between which the axis or centre lies.

mod colours;
mod correlation;
mod distance;
mod frieze;
mod making;
mod mesh;
mod strip;
mod turning;
pub(in crate::proof) mod walk;

use serde::Serialize;

pub use colours::ColourMove;
pub use distance::knots_that_break;
pub use frieze::{Frieze, Lengthwise, Operation};
pub use making::{Orbit, Places, brick_lattice};
pub use mesh::Mesh;
pub use strip::{Reading, Strip, StripPattern};

pub(in crate::proof) use super::divisor::greatest_common_divisor;
pub(in crate::proof) use strip::{CycleWord, Fit, common_periods};

use super::growth::{Growth, growth};
use crate::band::Band;
use crate::row::Row;

/// A knot of the endless repeat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[non_exhaustive]
pub struct KnotPlace {
    /// The repeat, from 1.
    pub repeat: u64,
    /// The row of the repeat, from 1.
    pub row: usize,
    /// The knot of the row, from 1.
    pub knot: usize,
    /// Its column, from 1.
    pub column: u16,
}

/// A place halfway between two knots, or on a knot where both are the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[non_exhaustive]
pub struct Halfway {
    /// The one that is tied first.
    pub one: KnotPlace,
    /// What the operation makes of it.
    pub other: KnotPlace,
}

/// After how much of the band everything comes again for the first time.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub struct Period {
    /// This many repeats, as a fraction in lowest terms.
    pub repeats: (u64, u64),
    /// This many rows, where that is a whole number.
    pub rows: Option<u64>,
    /// This many half rows, in the long run.
    pub half_rows: Growth,
}

/// The symmetry of one aspect of a band.
///
/// Where the [group](Self::group) has a mirror or a glide along the band, its axis is the
/// middle of the band. All else has its places here, and comes again after each period.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Pattern {
    /// The frieze group.
    pub group: Frieze,
    /// The smallest period.
    pub period: Period,
    /// The two axes of each period at which start and finish mirror each other: where they
    /// cross every column that has knots, from the left.
    pub across: Vec<Vec<Halfway>>,
    /// The two centres of each period round which half a turn changes nothing.
    pub centres: Vec<Halfway>,
}

/// The symmetry of a band's endless repeat.
///
/// The symmetry of the *knots* is that of their kinds and of how they touch; the symmetry of the
/// *colours* asks only what colour shows at each knot. Either may be the more symmetrical: a band of one colour
/// looks the same in a mirror though its knots lean to one side, and a band whose knots
/// are symmetrical may have threads whose colours are not.
///
/// No kind of knot is its own mirror image, so on an even number of threads the knots
/// never have a mirror along the band if anything is tied in the middle column; and on an
/// odd number, the two columns nearest the middle touch, so that one of them always comes
/// first. A band that seems to be mirrored along its length has knots that are so
/// [apart from the middle column](Self::apart_from_middle).
///
/// Parts of a band that no knot joins slide freely against each other. Each is taken as
/// it lies best, and the period is the one that all have in common.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{Frieze, Operation, Symmetry}, row::Row};
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}};
/// # let five = [Srgb::new(9, 9, 99), Srgb::new(9, 99, 9), Srgb::new(99, 9, 9), Srgb::new(99, 99, 9), Srgb::new(9, 9, 9)];
/// # let palette = Colour::spoken(five);
/// // Candy stripe: forward knots all over, five colours.
/// let stripe = Band::new(BandParts {
///     palette, threads: vec![0, 1, 2, 3, 4], repeat: vec![Row::run(Kind::Forward, 1..5)?], repeats: 5,
///     ..BandParts::default()
/// })?;
/// let symmetry = Symmetry::of(&stripe);
/// // Half a turn leaves the knots as they are, but not the order of the colours.
/// assert_eq!(symmetry.knots.group, Frieze::P2);
/// let colours = symmetry.colours.expect("few colours");
/// assert_eq!(colours.group, Frieze::P1);
/// assert_eq!(colours.period.repeats, (5, 1));
/// // Pushing the band along by one repeat moves every colour on by one.
/// let drift = &symmetry.colour_moves[0];
/// assert_eq!((drift.operation, drift.repeats), (Operation::Plain, (1, 1)));
/// assert_eq!(drift.colours, [(0, 1), (1, 2), (2, 3), (3, 4), (4, 0)]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Symmetry {
    /// That of the knots.
    pub knots: Pattern,
    /// That of the knots when those of the middle column are left out of account, where
    /// that is more than [`knots`](Self::knots).
    pub apart_from_middle: Option<Pattern>,
    /// That of the colours; nothing where they come round only after more than
    /// [`MOST_KNOTS_SEEN`](crate::proof::MOST_KNOTS_SEEN) knots.
    pub colours: Option<Pattern>,
    /// What else lays the colours onto themselves if the colours change places.
    pub colour_moves: Vec<ColourMove>,
}

impl Symmetry {
    /// The symmetry of a band.
    #[must_use]
    pub fn of(band: &Band) -> Self {
        Self::grown(band, growth(band.repeat(), band.thread_count()))
    }

    /// The same where the growth of the repeat is known.
    pub(in crate::proof) fn grown(band: &Band, growth: Growth) -> Self {
        let rows = band.repeat();
        let knots = Strip::of_rows(rows, band.thread_count());
        let numbering = Numbering::of(rows);
        let pattern = |strip: &Strip, repeats| numbering.pattern(&strip.pattern(), repeats, growth);
        let strict = pattern(&knots, 1);
        let apart_from_middle = band
            .thread_count()
            .is_multiple_of(2)
            .then(|| pattern(&knots.clone().with_middle_free(), 1))
            .filter(|pattern| pattern.group != strict.group);
        let seen = colours::seen(band);
        Self {
            knots: strict,
            apart_from_middle,
            colour_moves: seen.as_ref().map_or_else(Vec::new, colours::moves),
            colours: seen.map(|seen| pattern(&seen.strip, seen.repeats)),
        }
    }
}

/// What is said of a band's symmetry in its report.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct SymmetrySaid {
    /// The frieze group of the knots.
    pub knots: Frieze,
    /// The frieze group of the knots apart from those in the middle column, where that is
    /// another.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub apart_from_middle: Option<Frieze>,
    /// The frieze group of the colours; nothing where they come round too late to look.
    pub colours: Option<Frieze>,
    /// After how many half rows the knots come again, in the long run.
    pub knots_half_rows: f64,
    /// After how many half rows the colours come again, in the long run.
    pub colours_half_rows: Option<f64>,
}

impl From<&Symmetry> for SymmetrySaid {
    fn from(symmetry: &Symmetry) -> Self {
        let half_rows = |pattern: &Pattern| pattern.period.half_rows.per_repeat();
        Self {
            knots: symmetry.knots.group,
            apart_from_middle: symmetry.apart_from_middle.as_ref().map(|it| it.group),
            colours: symmetry.colours.as_ref().map(|it| it.group),
            knots_half_rows: half_rows(&symmetry.knots),
            colours_half_rows: symmetry.colours.as_ref().map(half_rows),
        }
    }
}

/// Turns times into rows and knots.
struct Numbering {
    /// How many knots have been tied when each row ends.
    row_ends: Vec<usize>,
    columns: Vec<u16>,
}

impl Numbering {
    fn of(rows: &[Row]) -> Self {
        let knots = rows.iter().flat_map(Row::knots);
        let mut tied = 0;
        let end = |row: &Row| {
            tied += row.len();
            tied
        };
        Self {
            row_ends: rows.iter().map(end).collect(),
            columns: knots.map(|knot| knot.column().number()).collect(),
        }
    }

    fn place(&self, time: i64) -> KnotPlace {
        let length = i64::try_from(self.columns.len()).expect("MAX_KNOTS fits");
        let piece = usize::try_from(time.rem_euclid(length)).expect("below a length");
        let row = self.row_ends.partition_point(|end| *end <= piece);
        let begins = row.checked_sub(1).map_or(0, |before| self.row_ends[before]);
        KnotPlace {
            repeat: u64::try_from(time.div_euclid(length) + 1).unwrap_or(1),
            row: row + 1,
            knot: piece - begins + 1,
            column: self.columns[piece],
        }
    }

    fn halfway(&self, (one, other): (i64, i64)) -> Halfway {
        Halfway {
            one: self.place(one),
            other: self.place(other),
        }
    }

    /// The pattern of a strip of this many repeats, where a repeat adds `growth`.
    fn pattern(&self, found: &StripPattern, repeats: u64, growth: Growth) -> Pattern {
        let common = greatest_common_divisor(repeats, found.periods);
        let (repeats, periods) = (repeats / common, found.periods / common);
        let rows = self.row_ends.len() as u64 * repeats;
        let (half_rows, in_repeats) = growth.fraction();
        Pattern {
            group: found.group,
            period: Period {
                repeats: (repeats, periods),
                rows: rows.is_multiple_of(periods).then_some(rows / periods),
                half_rows: Growth::new(half_rows * repeats, in_repeats * periods),
            },
            across: found
                .across
                .iter()
                .map(|axis| axis.iter().map(|place| self.halfway(*place)).collect())
                .collect(),
            centres: found
                .centres
                .iter()
                .map(|place| self.halfway(*place))
                .collect(),
        }
    }
}
