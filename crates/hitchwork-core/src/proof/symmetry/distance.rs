//! How far a band is from a symmetry that somebody wants.

use super::strip::{ANY_KIND, Move};
use super::turning::Groups;
use super::{Fit, Frieze, KnotPlace, Lengthwise, Numbering, Operation, Strip};
use crate::error::{Error, Problem};
use crate::knot::Kind;
use crate::row::Row;

/// The knots that keep rows on a band of `threads` threads from having a symmetry: with
/// another kind of knot in these places, and nowhere else, the knots would have it (or
/// one that contains it). They are as few as can be; where two ways take equally few, those
/// of the axis or centre that comes first. Nothing is moved: only kinds change. No kind is
/// its own mirror image, so for a mirror along the band (p11m, p2mm) the middle column is
/// left out of account.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{knots_that_break, Frieze}, row::Row};
/// // Forward and backward knots look the same after half a turn; a slip at column 3.
/// let rows = [Row::run(Kind::Forward, [1, 3])?, Row::run(Kind::Backward, [2])?];
/// assert_eq!(knots_that_break(&rows, 4, Frieze::P2)?, []);
/// let slip = Row::run(Kind::Forward, [1])?.then(&Row::run(Kind::Backward, [3])?);
/// let breaks = knots_that_break(&[slip, Row::run(Kind::Backward, [2])?], 4, Frieze::P2)?;
/// assert_eq!((breaks.len(), breaks[0].row, breaks[0].knot), (1, 1, 2));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When no change of kinds gives the symmetry, because the columns are not tied as it asks.
pub fn knots_that_break(
    rows: &[Row],
    threads: u16,
    wanted: Frieze,
) -> Result<Vec<KnotPlace>, Error> {
    let knots = |row: &Row| {
        let inside = row
            .knots()
            .iter()
            .filter(|knot| knot.column().number() < threads);
        Row::new(inside.copied())
    };
    let rows: Vec<Row> = rows.iter().map(knots).collect();
    let strip = match wanted.along() {
        Some(Lengthwise::Mirror) => Strip::of_rows(&rows, threads).with_middle_free(),
        _ => Strip::of_rows(&rows, threads),
    };
    let best = ways(&strip, wanted, |ways| {
        breaking(&strip, &ways.moves(ways.with_fewest_breaks()))
    })?;
    let numbering = Numbering::of(&rows);
    let place = |piece| numbering.place(i64::try_from(piece).expect("MAX_KNOTS fits"));
    Ok(best.into_iter().map(place).collect())
}

/// The ways in which the bare places of a strip can have a symmetry, each as the moves from
/// which the group follows. A group has as many ways as there are places for its first axis
/// across or its first centre, and one where it has neither.
pub(super) struct Ways<'a> {
    strip: &'a Strip,
    /// The moves that are the same in all ways.
    always: Vec<Move>,
    /// The one that exchanges the ends, which each way pushes a period further along.
    turned: Option<Fit<'a>>,
    periods: i64,
}

/// Finds the ways and hands them to `then`.
pub(super) fn ways<T>(
    strip: &Strip,
    wanted: Frieze,
    then: impl FnOnce(&Ways<'_>) -> T,
) -> Result<T, Error> {
    let none = Ways {
        strip,
        always: Vec::new(),
        turned: None,
        periods: 1,
    };
    if wanted == Frieze::P1 {
        return Ok(then(&none));
    }
    let bare = strip.bare();
    let reading = bare.read();
    let plain = &reading.words[0];
    if plain.len() > 1 {
        return Err(cannot(
            wanted,
            "the band falls apart into pieces that no knot joins",
            "tie a knot in every column first",
        ));
    }
    let Some(word) = plain.first() else {
        return Ok(then(&none));
    };
    let periods = i64::try_from(word.periods()).expect("MAX_KNOTS fits");
    let fit = |operation: Operation| {
        let image = &reading.words[operation.index()];
        Fit::find(plain, image, operation).ok_or_else(|| {
            let exchanged = match operation {
                Operation::UpsideDown => "start and finish",
                Operation::Mirrored => "left and right",
                Operation::HalfTurned | Operation::Plain => "both ends and both sides",
            };
            cannot(
                wanted,
                &format!("with {exchanged} exchanged, its columns are not tied in the same places"),
                "tie the columns so that the places of the knots alone have the symmetry, for instance every second column and then the others",
            )
        })
    };
    let mut always = Vec::new();
    if let Some(along) = wanted.along() {
        let mirrored = fit(Operation::Mirrored)?;
        always.push(mirrored.moved(strip, pushed_along(&mirrored, along, periods, wanted)?));
    }
    let turned = match (wanted.across(), wanted.turns()) {
        (true, _) => Some(fit(Operation::UpsideDown)?),
        (false, true) => Some(fit(Operation::HalfTurned)?),
        (false, false) => None,
    };
    Ok(then(&Ways {
        always,
        turned,
        periods,
        ..none
    }))
}

impl Ways<'_> {
    /// How many ways there are.
    pub(super) fn count(&self) -> i64 {
        self.turned.as_ref().map_or(1, |_| self.periods)
    }

    pub(super) fn moves(&self, way: i64) -> Vec<Move> {
        let turned = self.turned.iter().map(|fit| fit.moved(self.strip, way));
        self.always.iter().cloned().chain(turned).collect()
    }

    /// The piece to which the exchange of the ends carries the first.
    pub(super) fn first_goes(&self, way: i64) -> usize {
        let goes = |fit: &Fit<'_>| self.strip.piece_at(fit.send(0, 0, way));
        self.turned.as_ref().map_or(0, goes)
    }

    /// The first of the ways in which as few pieces as can be have to change.
    fn with_fewest_breaks(&self) -> i64 {
        let Some(turned) = &self.turned else {
            return 0;
        };
        let periods = usize::try_from(self.periods).expect("MAX_KNOTS fits");
        let groups = Groups::new(self.strip, &self.always);
        let tried = || groups.best_turn_tried(turned, self.different(turned));
        let best = groups.best_turn(turned, periods).unwrap_or_else(tried);
        i64::try_from(best).expect("MAX_KNOTS fits")
    }

    /// After how many periods the ways come again, because what is moved in all of them moves
    /// the strip along too.
    fn different(&self, turned: &Fit<'_>) -> usize {
        let (plain, period) = turned.plain();
        let plain: Vec<usize> = plain.collect();
        let along = self.always.iter().map(|step| {
            let twice = step.goes_to[step.goes_to[plain[0]] as usize] as usize;
            plain.iter().position(|piece| *piece == twice).unwrap_or(0) / period
        });
        let periods = self.periods.unsigned_abs();
        let common = along.fold(periods, |common, along| {
            super::greatest_common_divisor(common, along as u64)
        });
        usize::try_from(common).expect("MAX_KNOTS fits")
    }
}

fn cannot(wanted: Frieze, reason: &str, help: &str) -> Error {
    Problem::NoSymmetry {
        group: wanted,
        reason: reason.to_owned(),
        help: help.to_owned(),
    }
    .into()
}

/// By how many periods of the bare places a mirror image is to be pushed along, so that
/// mirroring twice moves nothing (a mirror) or as little as the repeat allows (a glide).
fn pushed_along(
    fit: &Fit<'_>,
    along: Lengthwise,
    periods: i64,
    wanted: Frieze,
) -> Result<i64, Error> {
    let twice = match fit.lengthwise() {
        Lengthwise::Mirror => 0,
        Lengthwise::Glide => 1,
    };
    let odd_part = periods >> periods.trailing_zeros();
    match (along, twice) {
        (Lengthwise::Mirror, 0) => Ok(0),
        (Lengthwise::Mirror, _) => Err(cannot(
            wanted,
            "its knots lie so that left and right are never at the same height: in a full fabric on an odd number of threads, a column and its mirror image are tied by turns",
            "take an even number of threads, or a glide (p11g or p2mg)",
        )),
        (Lengthwise::Glide, 0) if periods % 2 == 0 => Ok(periods / 2),
        (Lengthwise::Glide, 0) => Err(cannot(
            wanted,
            "half of its repeat is not tied in the same places as the other half",
            "tie the repeat twice, or add rows until it has two equal halves",
        )),
        (Lengthwise::Glide, _) => Ok((odd_part - 1) / 2),
    }
}

/// The fewest pieces that have to change so that the moves leave the strip as it is.
fn breaking(strip: &Strip, moves: &[Move]) -> Vec<usize> {
    // For each piece, by which operation it comes from the first of its orbit.
    let mut reached: Vec<Option<Operation>> = vec![None; strip.len()];
    let mut breaking = Vec::new();
    for first in 0..strip.len() {
        if reached[first].is_some() {
            continue;
        }
        reached[first] = Some(Operation::Plain);
        let mut orbit = vec![first];
        let mut must_keep = Vec::new();
        let mut next = 0;
        while let Some(&piece) = orbit.get(next) {
            let by = reached[piece].expect("it was reached");
            for step in moves {
                let target = step.goes_to[piece] as usize;
                let through = by.then(step.operation);
                match reached[target] {
                    None => {
                        reached[target] = Some(through);
                        orbit.push(target);
                    }
                    // Two ways to one place: what differs between them must change nothing.
                    Some(known) => must_keep.push(known.then(through)),
                }
            }
            next += 1;
        }
        // What the first of the orbit would have to be for this piece to be right.
        let as_first = |piece: usize| {
            let by = reached[piece].expect("it was reached");
            strip.mark_image(by, strip.mark(piece))
        };
        let keeps = |mark: &u32| {
            must_keep
                .iter()
                .all(|operation| strip.mark_image(*operation, *mark) == *mark)
        };
        let wrong = |mark: u32| {
            orbit
                .iter()
                .filter(|piece| as_first(**piece) != mark)
                .count()
        };
        let kinds = Kind::ALL.iter().map(|kind| *kind as u32);
        let marks = kinds.chain([ANY_KIND]).filter(keeps);
        let best = marks.min_by_key(|mark| wrong(*mark)).unwrap_or(ANY_KIND);
        breaking.extend(
            orbit
                .iter()
                .copied()
                .filter(|piece| as_first(*piece) != best),
        );
    }
    breaking.sort_unstable();
    breaking
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::turning::Groups;
    use super::{breaking, ways};
    use crate::error::Error;
    use crate::knot::Kind;
    use crate::proof::{Frieze, Lengthwise, Mesh, Strip, brick_lattice};

    /// A strip of bricks of the first few kinds, as symmetries of a group look at it.
    fn bricks(
        threads: u16,
        pairs: usize,
        kinds: &[usize],
        few: usize,
        wanted: Frieze,
    ) -> Result<Strip, Error> {
        let mesh = Mesh::of_rows(&brick_lattice(threads, 2 * pairs)?, threads);
        let kind = |at: usize| Kind::ALL[kinds[at % kinds.len()] % few];
        let strip = mesh.strip(&(0..mesh.len()).map(kind).collect::<Vec<Kind>>());
        Ok(match wanted.along() {
            Some(Lengthwise::Mirror) => strip.with_middle_free(),
            _ => strip,
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]
        /// The way that is found for all at once is the one that trying them all finds.
        #[test]
        fn the_first_way_with_the_fewest_breaks_is_found(
            threads in 2..8_u16, pairs in 1..13_usize, group in 0..7_usize,
            kinds in prop::collection::vec(0..4_usize, 100), few in 1..5_usize,
        ) {
            let wanted = Frieze::ALL[group];
            let strip = bricks(threads, pairs, &kinds, few, wanted)?;
            let found = ways(&strip, wanted, |ways| {
                let breaks = |way: &i64| breaking(&strip, &ways.moves(*way)).len();
                (ways.with_fewest_breaks(), (0..ways.count()).min_by_key(breaks))
            });
            if let Ok((found, tried)) = found {
                prop_assert_eq!(Some(found), tried);
            }
        }

        /// So is the one that trying group by group finds, however large the groups are: up
        /// to 64 pieces where a glide on an odd number of threads has 32 periods.
        #[test]
        fn trying_by_groups_finds_what_trying_by_pieces_does(
            threads in 2..8_u16, odd in 0..3_usize, twos in 0..6_u32, group in 0..7_usize,
            kinds in prop::collection::vec(0..4_usize, 100), few in 1..5_usize,
        ) {
            let pairs = (2 * odd + 1) * 2_usize.pow(twos);
            let wanted = Frieze::ALL[group];
            let strip = bricks(threads, pairs, &kinds, few, wanted)?;
            let found = ways(&strip, wanted, |ways| {
                let turned = ways.turned.as_ref()?;
                let breaks = |way: &i64| breaking(&strip, &ways.moves(*way)).len();
                let groups = Groups::new(&strip, &ways.always);
                let found = groups.best_turn_tried(turned, ways.different(turned));
                Some((i64::try_from(found).expect("few"), (0..ways.count()).min_by_key(breaks)?))
            });
            if let Ok(Some((found, tried))) = found {
                prop_assert_eq!(found, tried);
            }
        }
    }
}
