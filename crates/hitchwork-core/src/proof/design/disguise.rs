//! How one band is another in disguise, in words.

use std::collections::BTreeSet;

use super::{ColoursCount, Disguises, Hung, form};
use crate::band::Band;
use crate::error::Error;
use crate::knot::Knot;
use crate::proof::symmetry::{Reading, Strip, greatest_common_divisor};
use crate::proof::{MOST_KNOTS_SEEN, Operation};
use crate::row::Row;

/// What makes one band out of another that is the same design.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Disguise {
    /// How it is held.
    pub operation: Operation,
    /// How many rows later it begins than the other, held in the same way; nothing for a
    /// band that falls apart and whose parts begin somewhere else, each by itself.
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
                let begun = begun(readings, &hung, operation, &rows, found.repeat());
                return Ok(Some(Self {
                    operation,
                    rows_later: begun.rows_later,
                    recoloured: count == ColoursCount::ByLikeness,
                    retied: !begun.row_by_row,
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
            Some(0) => String::new(),
            None => ", with its parts begun elsewhere".to_owned(),
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

/// Where a band begins in the other.
struct Begun {
    rows_later: Option<u64>,
    /// Whether from there on the two have the same rows, colours included.
    row_by_row: bool,
}

/// How many rows of `rows`, which is the known band under the operation, come before what
/// corresponds to the first row of the found one. Of all beginnings at which the colours
/// hang as they should, those count before others from which the bands agree row by row;
/// and of these, the one after the fewest rows.
fn begun(
    [known, found]: [&Reading<'_>; 2],
    hung: &[Option<Hung>; 2],
    operation: Operation,
    rows: &[Row],
    found_rows: &[Row],
) -> Begun {
    let ([here], [there], Some(first_row)) = (
        known.words[operation.index()].as_slice(),
        found.words[0].as_slice(),
        found_rows.first(),
    ) else {
        let later = begun_together(
            hung.each_ref().map(Option::as_ref),
            operation,
            rows,
            found_rows,
        );
        return Begun {
            rows_later: later,
            row_by_row: later.is_some() || rows_agree(rows, 0, found_rows),
        };
    };
    let fits = colours_fit([known, found], hung, operation);
    let length = signed(known.strip.len());
    let periods = here.periods();
    // Everything, colours included, comes again after this many periods, and these rows.
    let beginnings = fits.len() as u64;
    let repeats = beginnings / greatest_common_divisor(beginnings, periods);
    let comes_again = signed(rows.len()) * i64::try_from(repeats).expect("few");
    let mut row_ends = Vec::with_capacity(rows.len());
    for row in rows {
        row_ends.push(row_ends.last().copied().unwrap_or(0) + row.len());
    }
    let row_of = |time: i64| {
        let within = usize::try_from(time.rem_euclid(length)).expect("below a length");
        let row = row_ends.partition_point(|end| *end <= within);
        time.div_euclid(length) * signed(rows.len()) + signed(row)
    };
    let found_steps = there.walk.steps_by_knot();
    // The rows in which the knots of the first row lie: the first and the last of them.
    let begun_at = |beginning: usize| {
        let lies_in = |knot: usize| {
            let step = there.walk.step(&found_steps, signed(knot)) - signed(there.begins);
            let step = step + signed(here.begins) + signed(beginning * here.period);
            let time = here.walk.time(step);
            row_of(match operation.exchanges_ends() {
                true => length - 1 - time,
                false => time,
            })
        };
        let rows = (0..first_row.len()).map(lies_in);
        let (first, last) = rows.fold((i64::MAX, i64::MIN), |(first, last), row| {
            (first.min(row), last.max(row))
        });
        let later = first.rem_euclid(comes_again);
        let later = u64::try_from(later).expect("not negative");
        (first == last, later)
    };
    let total = usize::try_from(repeats * periods).expect("no more than knots");
    let fitting = (0..total).filter(|beginning| fits[beginning % fits.len()]);
    let begun: BTreeSet<(bool, u64)> = fitting.map(begun_at).collect();
    // Where the first row lies in one row, its knots are all that this row has in their
    // columns: so no two ways of laying it there differ, and all other rows lie where they
    // should as soon as the rows are the same.
    let in_one_row = begun.iter().filter(|(in_one_row, _)| *in_one_row);
    let row_by_row = in_one_row
        .map(|(_, later)| *later)
        .find(|later| rows_agree(rows, *later, found_rows));
    let soonest = || begun.iter().map(|(_, later)| *later).min();
    Begun {
        rows_later: row_by_row.or_else(soonest).or(Some(0)),
        row_by_row: row_by_row.is_some(),
    }
}

/// From which row of `rows` on the found band is the known one row by row, colours included,
/// when all parts of both are looked at together: by trying, as far as that is affordable.
fn begun_together(
    [known_hung, found_hung]: [Option<&Hung>; 2],
    operation: Operation,
    rows: &[Row],
    found_rows: &[Row],
) -> Option<u64> {
    let knots: usize = rows.iter().map(Row::len).sum();
    let affordable = MOST_KNOTS_SEEN / (knots as u64).max(1);
    let mut hanging = known_hung.map(|hung| hung.held(operation));
    let wanted = found_hung.map(|hung| hung.named(&hung.before));
    (0..=affordable)
        .zip(rows.iter().cycle())
        .find_map(|(later, row)| {
            let colours = known_hung.zip(hanging.as_mut());
            let named = colours
                .as_ref()
                .map(|(hung, colours)| hung.named(colours.iter()));
            let agree = named == wanted && rows_agree(rows, later, found_rows);
            if let Some((_, colours)) = colours {
                tie(row, colours);
            }
            agree.then_some(later)
        })
}

/// Lets a row carry what hangs at the positions.
fn tie<T>(row: &Row, hanging: &mut [T]) {
    let moving = |knot: &&Knot| knot.kind().changes_places();
    for knot in row.knots().iter().filter(moving) {
        let right = usize::from(knot.column().number());
        hanging.swap(right - 1, right);
    }
}

/// At which of the beginnings of the known band, held in this way, the colours hang as in
/// the found one.
fn colours_fit(
    [known, found]: [&Reading<'_>; 2],
    hung: &[Option<Hung>; 2],
    operation: Operation,
) -> Vec<bool> {
    let [Some(one), Some(other)] = hung else {
        return vec![true];
    };
    let wanted = other.alike(&other.beginnings(found, Operation::Plain), 0);
    let known = one.beginnings(known, operation);
    let count = known.iter().map(Vec::len).max().unwrap_or(1);
    (0..count)
        .map(|at| one.alike(&known, at) == wanted)
        .collect()
}

fn signed(length: usize) -> i64 {
    i64::try_from(length).expect("MAX_KNOTS fits")
}
