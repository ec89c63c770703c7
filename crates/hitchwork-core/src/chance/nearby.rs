//! Bands that differ a little from another.

use super::{Chance, Purpose, VERSION};
use crate::band::{Band, BandParts, Origin, Part};
use crate::error::Error;
use crate::fabric::Fabric;
use crate::knot::{Kind, Knot};
use crate::lay::Lay;
use crate::proof::{Drift, Edges, Permutation, drifting_order};
use crate::row::Row;

/// The name of the recipe by which [`nearby`] turns choices into changes; a change of the
/// recipe gets a new one.
pub const NEARBY_VERSION: &str = "hitchwork-nearby/1";

/// A band like another, but for one to `most` small changes of its repeat by the seed's
/// chance: a knot gets another kind, or a turning knot and its neighbour in the row change
/// kinds, so that the turn moves.
///
/// Where the colours of the band drift and those of the new one can, they are hung again so
/// that they do; else they hang as they did. An end that no longer suits its edge gives way
/// to one that does.
///
/// The recipe, in the stream of [`Purpose::Member`] number 1: how many changes, from 1 to
/// `most`, all equally likely; then for each change a knot of the repeat; if it is a turning
/// knot and its row has more knots, a word whose lowest bit, if set, makes its kind change
/// places with that of the next knot of its row (or of the one before, at the row's end);
/// else one of the three other kinds, in the order of [`Kind::ALL`].
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, chance::nearby, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// # let stripe = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 12,
/// #     ..BandParts::default() })?;
/// let one = nearby(&stripe, 7, 2)?;
/// assert_ne!(one.repeat(), stripe.repeat());
/// assert_eq!(one.repeat(), nearby(&stripe, 7, 2)?.repeat());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the changed parts make no band.
pub fn nearby(band: &Band, seed: u64, most: u32) -> Result<Band, Error> {
    let mut chance = Chance::new(seed, Purpose::Member { number: 1 });
    let mut rows: Vec<Vec<Knot>> = band
        .repeat()
        .iter()
        .map(|row| row.knots().to_vec())
        .collect();
    let changes = 1 + chance.below(u64::from(most.max(1)));
    for _ in 0..changes {
        change(&mut rows, &mut chance);
    }
    let repeat: Vec<Row> = rows.into_iter().map(Row::new).collect();
    let mut parts = band.clone().into_parts();
    parts.threads = hung(band, &repeat).unwrap_or(parts.threads);
    parts.repeat = repeat;
    parts.origin = Some(Origin {
        rule: format!("near {}", band.title()),
        seed,
        chance: format!("{VERSION} {NEARBY_VERSION}"),
        hitchwork: env!("CARGO_PKG_VERSION").to_owned(),
        ..Origin::default()
    });
    with_ends_that_suit(parts)
}

fn change(rows: &mut [Vec<Knot>], chance: &mut Chance) {
    let total: usize = rows.iter().map(Vec::len).sum();
    let mut at = usize::try_from(chance.below(total as u64)).expect("below a length");
    let Some(row) = rows.iter_mut().find(|row| {
        let here = at < row.len();
        if !here {
            at -= row.len();
        }
        here
    }) else {
        return;
    };
    let knot = row[at];
    let turns = !knot.kind().changes_places() && row.len() > 1;
    if turns && chance.word() & 1 == 1 {
        let other = if at + 1 < row.len() { at + 1 } else { at - 1 };
        let kind = row[other].kind();
        row[other] = row[other].of_kind(knot.kind());
        row[at] = knot.of_kind(kind);
        if kind != knot.kind() {
            return;
        }
    }
    let others: Vec<Kind> = Kind::ALL
        .into_iter()
        .filter(|kind| *kind != row[at].kind())
        .collect();
    let choice = usize::try_from(chance.below(others.len() as u64)).expect("below three");
    row[at] = row[at].of_kind(others[choice]);
}

/// The colours by position at the start with which the changed repeat drifts as the band does.
fn hung(band: &Band, repeat: &[Row]) -> Option<Vec<u16>> {
    let drift = Drift::of_band(band)?;
    let permutation = Permutation::of_rows(repeat, band.thread_count());
    let order = drifting_order(&permutation, drift.colours, drift.steps_per_repeat, 0).ok()?;
    let gradient = band.used_colours();
    let lead_in = Permutation::of_rows(band.rows(Part::LeadIn), band.thread_count());
    lead_in
        .before(&order)
        .into_iter()
        .map(|step| gradient.get(step).copied())
        .collect()
}

fn with_ends_that_suit(parts: BandParts) -> Result<Band, Error> {
    let band = Band::new(parts)?;
    let fabric = Fabric::of(&band);
    let edges = Edges::of(&fabric, &Lay::of(&fabric, &band.gauge()));
    let suits = |end, suiting: &[crate::craft::Shape]| suiting.contains(&end);
    if suits(band.start().shape, &edges.start.suits)
        && suits(band.finish().shape, &edges.finish.suits)
    {
        return Ok(band);
    }
    let mut parts = band.into_parts();
    for (end, suiting) in [
        (&mut parts.start, &edges.start.suits),
        (&mut parts.finish, &edges.finish.suits),
    ] {
        if let Some(shape) = suiting.first().filter(|_| !suits(end.shape, suiting)) {
            end.shape = *shape;
        }
    }
    Band::new(parts)
}
