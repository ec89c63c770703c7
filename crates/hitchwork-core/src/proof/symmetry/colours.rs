//! What is seen of a band, and ways of laying it onto itself by which colours change
//! places.

use std::collections::BTreeMap;
use std::sync::Arc;

use serde::Serialize;

use super::walk::{Walk, WalkStep};
use super::{CycleWord, Fit, Operation, Strip, greatest_common_divisor};
use crate::band::Band;
use crate::proof::round::{Round, ShownKnot};

/// A way of laying the visible colours onto themselves by which every colour comes to lie where
/// another, always the same one, was. A drift is one: pushing the band along by a repeat.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct ColourMove {
    /// What is done with the band. Mirror images and half turns are only named where the
    /// colours have to change places for them.
    pub operation: Operation,
    /// For [`Plain`](Operation::Plain): by how many repeats it is pushed along, as a
    /// fraction in lowest terms. Otherwise (0, 1).
    pub repeats: (u64, u64),
    /// For each colour that shows, by its index in the palette: the colour that comes to
    /// lie on its place.
    pub colours: Vec<(u16, u16)>,
}

/// The visible colours of a band until they come round.
pub(super) struct ColouredStrip {
    /// The marks are colours.
    pub(super) strip: Strip,
    /// How many repeats the strip is.
    pub(super) repeats: u64,
}

/// The colour that shows at every knot, until the colours come round.
pub(super) fn seen(band: &Band) -> Option<ColouredStrip> {
    let round = Round::of(band)?;
    let piece = |knot: &ShownKnot| {
        let column = u16::try_from(knot.column + 1).expect("columns are few");
        (column, u32::from(round.colour(knot)))
    };
    Some(ColouredStrip {
        strip: Strip::new(band.thread_count(), round.knots.iter().map(piece)),
        repeats: round.repeats,
    })
}

/// The word in which a letter says how far back in the walk the same colour was seen
/// last, instead of which it is: the same for all that differ by the names of colours
/// (after Baker 1993, here for words without ends).
fn nameless(strip: &Strip, walk: &Arc<Walk>) -> CycleWord {
    let colour = |step: &WalkStep| strip.mark(step.knot as usize);
    let length = walk.len() as u64;
    // Where each colour is seen for the last time, one cycle ago.
    let mut last: BTreeMap<u32, u64> = (0..)
        .zip(walk.steps())
        .map(|(at, step)| (colour(step), at))
        .collect();
    for at in last.values_mut() {
        *at = at.wrapping_sub(length);
    }
    let letter = |(at, step): (u64, &WalkStep)| {
        let before = last.insert(colour(step), at).unwrap_or(at);
        u64::from(step.column) << 32 | at.wrapping_sub(before)
    };
    let letters = (0..).zip(walk.steps()).map(letter).collect();
    CycleWord::new(letters, Arc::clone(walk))
}

/// All ways of laying the visible colours onto themselves for which colours have to change places.
/// Of a band that falls apart, none are looked for.
pub(super) fn moves(seen: &ColouredStrip) -> Vec<ColourMove> {
    let strip = &seen.strip;
    let walk = |operation| match strip.walks(operation) {
        [walk] => Some(walk),
        _ => None,
    };
    let (Some(plain), Some(named)) = (walk(Operation::Plain), strip.words(Operation::Plain).pop())
    else {
        return Vec::new();
    };
    let plain = nameless(strip, plain);
    let colour =
        |time| u16::try_from(strip.mark(strip.piece_at(time))).expect("an index of the palette");
    let mut moves = Vec::new();
    if plain.period < named.period {
        let onto = (0..).zip(plain.walk.steps()).map(|(at, step)| {
            let ahead = at + i64::try_from(plain.period).expect("MAX_KNOTS fits");
            (colour(step.time), colour(plain.walk.time(ahead)))
        });
        let colours: BTreeMap<u16, u16> = onto.collect();
        let periods = (plain.walk.len() / plain.period) as u64;
        let common = greatest_common_divisor(seen.repeats, periods);
        moves.push(ColourMove {
            operation: Operation::Plain,
            repeats: (seen.repeats / common, periods / common),
            colours: colours.into_iter().collect(),
        });
    }
    let (named, nameless_plain) = ([named], [plain]);
    for operation in [
        Operation::Mirrored,
        Operation::UpsideDown,
        Operation::HalfTurned,
    ] {
        let image: Vec<CycleWord> = walk(operation)
            .map(|walk| nameless(strip, walk))
            .into_iter()
            .collect();
        let fit = Fit::find(&nameless_plain, &image, operation);
        let keeps_names = || Fit::find(&named, &strip.words(operation), operation).is_some();
        if let Some(fit) = fit.filter(|_| !keeps_names()) {
            let steps = nameless_plain[0].walk.steps();
            let onto = steps
                .iter()
                .map(|step| (colour(step.time), colour(fit.send(0, step.time, 0))));
            let colours: BTreeMap<u16, u16> = onto.collect();
            moves.push(ColourMove {
                operation,
                repeats: (0, 1),
                colours: colours.into_iter().collect(),
            });
        }
    }
    moves
}
