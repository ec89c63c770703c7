//! How one band is another in disguise, in words.

use super::{ColoursCount, Disguises, Hung, form};
use crate::band::Band;
use crate::error::Error;
use crate::proof::Operation;
use crate::proof::symmetry::{Reading, Strip, greatest_common_divisor};
use crate::row::Row;

/// What makes one band out of another that is the same design.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Disguise {
    /// How it is held.
    pub operation: Operation,
    /// How many rows later it begins than the other, held in the same way; nothing for a
    /// band that falls apart, whose parts may each begin somewhere else.
    pub rows_later: Option<u64>,
    /// Whether the threads have other colours.
    pub recoloured: bool,
    /// Whether its knots are tied in another order, or grouped to other rows.
    pub retied: bool,
}

impl Disguise {
    /// How `found` is `known` in disguise, if it is: held in one of the ways allowed, and
    /// with colours that count as they do for [`CanonicalForm`](super::CanonicalForm). Of
    /// several disguises, the first by this order: colours as they are, held as it is,
    /// begun soonest.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::proof::{ColoursCount, Disguise, Disguises};
    /// # let band = |threads: [u16; 3], rows: [(Kind, u16); 3]| {
    /// #     let row = |(kind, column): &(Kind, u16)| Row::run(*kind, [*column]);
    /// #     Band::new(BandParts {
    /// #         palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #         threads: threads.to_vec(), repeat: rows.iter().map(row).collect::<Result<_, _>>()?, repeats: 1,
    /// #         ..BandParts::default() })
    /// # };
    /// use Kind::{Backward, Forward, ForwardBackward};
    /// let known = band([0, 1, 1], [(Forward, 1), (Forward, 2), (ForwardBackward, 1)])?;
    /// let found = band([1, 0, 1], [(Forward, 2), (ForwardBackward, 1), (Forward, 1)])?;
    /// let disguise = Disguise::between(&known, &found, Disguises::ALL, ColoursCount::ByLikeness)?;
    /// let words = disguise.map(|disguise| disguise.words("member 12"));
    /// assert_eq!(words.as_deref(), Some("member 12, begun 1 row later"));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When colours count and come round too late to compare.
    pub fn between(
        known: &Band,
        found: &Band,
        disguises: Disguises,
        colours: ColoursCount,
    ) -> Result<Option<Self>, Error> {
        let strips = [known, found].map(|band| Strip::of_rows(band.repeat(), band.thread_count()));
        let [known_reading, found_reading] = strips.each_ref().map(Strip::read);
        let ways = match colours {
            ColoursCount::No => vec![ColoursCount::No],
            ColoursCount::ByValue => vec![ColoursCount::ByValue],
            ColoursCount::ByLikeness => vec![ColoursCount::ByValue, ColoursCount::ByLikeness],
        };
        for count in ways {
            let hung = [Hung::of(known, count)?, Hung::of(found, count)?];
            let of = |reading: &Reading<'_>, operation, hung: &Option<Hung>| {
                form(
                    reading,
                    disguises,
                    std::iter::once(operation),
                    hung.as_ref(),
                )
            };
            let wanted = of(&found_reading, Operation::Plain, &hung[1])?;
            for operation in disguises.operations() {
                if of(&known_reading, operation, &hung[0])? != wanted {
                    continue;
                }
                let rows = operation.of_rows(known.repeat(), known.thread_count())?;
                let readings = [&known_reading, &found_reading];
                let rows_later = begins_later(readings, &hung, operation, &rows, found.repeat());
                return Ok(Some(Self {
                    operation,
                    rows_later,
                    recoloured: count == ColoursCount::ByLikeness,
                    retied: !rows_agree(&rows, rows_later.unwrap_or(0), found.repeat()),
                }));
            }
        }
        Ok(None)
    }

    /// The disguise of a band that goes by `name`: "the mirror image of member 12, begun 1
    /// row later".
    #[must_use]
    pub fn words(&self, name: &str) -> String {
        let held = match self.operation {
            Operation::Plain => name.to_owned(),
            Operation::Mirrored => format!("the mirror image of {name}"),
            Operation::UpsideDown => format!("{name} upside down"),
            Operation::HalfTurned => format!("{name} after half a turn"),
        };
        let later = match self.rows_later {
            Some(0) | None => String::new(),
            Some(1) => ", begun 1 row later".to_owned(),
            Some(rows) => format!(", begun {rows} rows later"),
        };
        let colours = if self.recoloured {
            ", in other colours"
        } else {
            ""
        };
        let order = if self.retied {
            ", tied in another order"
        } else {
            ""
        };
        format!("{held}{later}{colours}{order}")
    }
}

/// Whether `found`, tied again and again, is `rows` from the given row on. Two endless
/// lists that come again after p and q rows are the same when their first p + q are (Fine
/// & Wilf 1965).
fn rows_agree(rows: &[Row], later: u64, found: &[Row]) -> bool {
    let skipped = usize::try_from(later % rows.len() as u64).expect("below a length");
    let here = rows.iter().cycle().skip(skipped);
    let both = here.zip(found.iter().cycle());
    both.take(rows.len() + found.len())
        .all(|(one, other)| one == other)
}

/// How many rows of `rows`, which is the known band under the operation, come before what
/// corresponds to the first row of the found one; the fewest possible.
fn begins_later(
    [known, found]: [&Reading<'_>; 2],
    hung: &[Option<Hung>; 2],
    operation: Operation,
    rows: &[Row],
    found_rows: &[Row],
) -> Option<u64> {
    let ([here], [there]) = (
        known.words[operation.index()].as_slice(),
        found.words[0].as_slice(),
    ) else {
        return None;
    };
    // At which of the beginnings of the known one the colours hang as in the found one.
    let fits: Vec<bool> = match hung {
        [Some(one), Some(other)] => {
            let wanted = other.alike(&other.beginnings(found, Operation::Plain), 0);
            let known = one.beginnings(known, operation);
            let count = known.iter().map(Vec::len).max().unwrap_or(1);
            (0..count)
                .map(|at| one.alike(&known, at) == wanted)
                .collect()
        }
        _ => vec![true],
    };
    let length = i64::try_from(known.strip.len()).expect("MAX_KNOTS fits");
    let periods = here.periods();
    // Everything, colours included, comes again after so many periods, and after this time.
    let beginnings = fits.len() as u64;
    let repeats = beginnings / greatest_common_divisor(beginnings, periods);
    let comes_again = i64::try_from(repeats).expect("few") * length;
    let mut row_ends = Vec::with_capacity(rows.len());
    for row in rows {
        row_ends.push(row_ends.last().copied().unwrap_or(0) + row.len());
    }
    let row_of = |time: i64| {
        let time = usize::try_from(time.rem_euclid(comes_again)).expect("below a length");
        let repeat = time / known.strip.len();
        let row = row_ends.partition_point(|end| *end <= time % known.strip.len());
        (repeat * rows.len() + row) as u64
    };
    let found_steps = there.walk.steps_by_knot();
    let first_row = found_rows.first()?.len();
    let begun = |beginning: usize| {
        let knot = |knot: usize| {
            let time = i64::try_from(knot).expect("MAX_KNOTS fits");
            let step = there.walk.step(&found_steps, time) - signed(there.begins);
            let step = step + signed(here.begins) + signed(beginning * here.period);
            let time = here.walk.time(step);
            row_of(if operation.exchanges_ends() {
                length - 1 - time
            } else {
                time
            })
        };
        (0..first_row).map(knot).min().unwrap_or(0)
    };
    let total = usize::try_from(repeats * periods).ok()?;
    (0..total)
        .filter(|beginning| fits[beginning % fits.len()])
        .map(begun)
        .min()
}

fn signed(length: usize) -> i64 {
    i64::try_from(length).expect("MAX_KNOTS fits")
}
