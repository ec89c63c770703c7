//! How far a band is from a symmetry that somebody wants.

use super::strip::ANY_KIND;
use super::{Fit, Frieze, KnotPlace, Lengthwise, Numbering, Operation, Strip};
use crate::error::{Error, Problem};
use crate::knot::Kind;
use crate::row::Row;

/// The knots that keep rows on a band of `threads` threads from having a symmetry: with
/// another kind of knot in these places, and nowhere else, the structure would have it (or
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
    let mut best: Option<Vec<usize>> = None;
    each_way(&strip, wanted, &mut |moves| {
        let found = breaking(&strip, moves);
        if best.as_ref().is_none_or(|best| found.len() < best.len()) {
            best = Some(found);
        }
        best.as_ref().is_some_and(|best| !best.is_empty())
    })?;
    let numbering = Numbering::of(&rows);
    let place = |piece| numbering.place(i64::try_from(piece).expect("MAX_KNOTS fits"));
    Ok(best.unwrap_or_default().into_iter().map(place).collect())
}

/// Looks at the ways in which the bare places of a strip can have a symmetry, each as the
/// moves from which the group follows, until `look` says that it has seen enough. A group
/// has as many ways as there are places for its first axis across or its first centre.
pub(super) fn each_way(
    strip: &Strip,
    wanted: Frieze,
    look: &mut dyn FnMut(&[Move]) -> bool,
) -> Result<(), Error> {
    if wanted == Frieze::P1 {
        look(&[]);
        return Ok(());
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
        return Ok(());
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
    match turned {
        None => {
            look(&always);
        }
        Some(fit) => {
            let begins = always.len();
            for pushed in 0..periods {
                always.truncate(begins);
                always.push(fit.moved(strip, pushed));
                if !look(&always) {
                    break;
                }
            }
        }
    }
    Ok(())
}

fn cannot(wanted: Frieze, reason: &str, help: &str) -> Error {
    Problem::NoSymmetry {
        group: wanted.name(),
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
            "take an even number of threads, or a glide (p11g, p2mg)",
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

/// An operation as a rearrangement of the pieces of one repeat.
#[derive(Clone)]
pub(super) struct Move {
    pub(super) operation: Operation,
    pub(super) goes_to: Vec<u32>,
}

impl Fit<'_> {
    fn moved(&self, strip: &Strip, periods: i64) -> Move {
        let goes_to = |time| {
            let piece = strip.piece_at(self.send(0, time, periods));
            u32::try_from(piece).expect("MAX_KNOTS fits")
        };
        let length = i64::try_from(strip.len()).expect("MAX_KNOTS fits");
        Move {
            operation: self.operation(),
            goes_to: (0..length).map(goes_to).collect(),
        }
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
