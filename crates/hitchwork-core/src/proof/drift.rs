//! Drift: after every repeat the colours have moved the same number of steps along the
//! gradient; and the starting order that makes it so.

use serde::Serialize;

use super::Permutation;
use super::permutation::greatest_common_divisor;
use crate::band::Band;
use crate::error::{Error, Problem, in_steps};

/// A drift as found on a band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Drift {
    /// How many colours the gradient has.
    pub colours: usize,
    /// How many steps along it the colour at every position moves at each repeat.
    pub steps_per_repeat: usize,
}

impl Drift {
    /// How the colours of a band drift along its palette, if they do.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::proof::Drift;
    /// # let shades = [Srgb::new(20, 120, 140), Srgb::new(240, 190, 60), Srgb::new(90, 20, 60)];
    /// let stripe = Band::new(BandParts {
    ///     palette: Colour::spoken(shades), threads: vec![0, 1, 2],
    ///     repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    ///     ..BandParts::default()
    /// })?;
    /// assert_eq!(Drift::of_band(&stripe).map(|drift| drift.colours), Some(3));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn of_band(band: &Band) -> Option<Self> {
        let (steps, colours) = gradient_steps(band);
        Self::of(&Permutation::of_repeat(band), &steps, colours)
    }

    /// Whether `colours` (for each position, a step of a cyclic gradient of `count`
    /// colours, from 0) drift under `repeat`, and by how much. Colours that stay as they
    /// are do not drift.
    #[must_use]
    pub fn of(repeat: &Permutation, colours: &[usize], count: usize) -> Option<Self> {
        if count < 2 || colours.len() != repeat.len() {
            return None;
        }
        let moved = |(from, colour): (u16, &usize)| {
            let arrives_on = colours[usize::from(repeat.goes_to(from)) - 1];
            (colour + count - arrives_on) % count
        };
        let mut moves = (1..).zip(colours).map(moved);
        let steps = moves.next()?;
        (steps != 0 && moves.all(|other| other == steps)).then_some(Self {
            colours: count,
            steps_per_repeat: steps,
        })
    }
}

/// For each thread its step in the gradient: the palette's colours in order, without
/// those that no thread has. And how many steps there are.
pub(super) fn gradient_steps(band: &Band) -> (Vec<usize>, usize) {
    let used = band.used_colours();
    let step = |colour: &u16| {
        used.binary_search(colour)
            .expect("every colour of a thread is used")
    };
    (band.thread_colours().iter().map(step).collect(), used.len())
}

/// The most combinations of free choices that are tried one by one.
const MOST_TRIED: usize = 20_000;

/// The starting order in which the colours of a cyclic gradient drift.
///
/// Gives for each position a step of the gradient, from 0, such that after every repeat
/// the colour at each position has moved `steps` steps. The first position gets colour
/// `first`.
///
/// If the repeat sends position p to q then colour(q) = colour(p) - steps (mod colours).
/// On each cycle of length L this has solutions exactly when `colours` divides
/// `steps` x L, one for each choice of one colour on the cycle. So a repeat that is a
/// single cycle leaves only `first` to choose. Where there are several cycles, the others
/// are chosen so that along the start edge the colours follow each other in the order of
/// the gradient as nearly as can be.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{drifting_order, Permutation}, row::Row};
/// // A slanted band with one turning place, at column 2 of five threads.
/// let out = Row::run(Kind::Forward, [1])?.then(&Row::run(Kind::ForwardBackward, [2])?)
///     .then(&Row::run(Kind::Forward, [3, 4])?);
/// let back = Row::run(Kind::Forward, [2])?;
/// let repeat = Permutation::of_rows(&[out, back], 5);
/// // In gradient order, but at the turn hangs the predecessor of the first.
/// assert_eq!(drifting_order(&repeat, 5, 1, 0)?, [0, 1, 4, 2, 3]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When a cycle cannot drift, saying which, and which numbers of colours could.
pub fn drifting_order(
    repeat: &Permutation,
    colours: usize,
    steps: usize,
    first: usize,
) -> Result<Vec<usize>, Error> {
    let cycles = repeat.cycles();
    let no_drift = |reason: String, help: String| {
        Error::from(Problem::NoDrift {
            colours,
            steps,
            reason,
            help,
        })
    };
    if colours == 0 {
        return Err(no_drift(
            "there are no colours".into(),
            "give the gradient at least one colour".into(),
        ));
    }
    for cycle in &cycles {
        if !(steps % colours * cycle.len()).is_multiple_of(colours) {
            return Err(no_drift(
                cannot_drift(cycle, colours, steps),
                could_drift(&cycles, steps),
            ));
        }
    }
    // Every cycle as if its leftmost position had colour 0.
    let mut order = vec![0; repeat.len()];
    let mut cycle_of = vec![0; repeat.len()];
    for (number, cycle) in cycles.iter().enumerate() {
        let mut colour = 0;
        for position in cycle {
            let at = usize::from(*position) - 1;
            (order[at], cycle_of[at]) = (colour, number);
            colour = (colour + colours - steps % colours) % colours;
        }
    }
    let mut offsets = vec![0; cycles.len()];
    offsets[0] = first % colours;
    best_offsets(&order, &cycle_of, colours, &mut offsets);
    Ok(order
        .iter()
        .zip(&cycle_of)
        .map(|(colour, cycle)| (colour + offsets[*cycle]) % colours)
        .collect())
}

fn cannot_drift(cycle: &[u16], colours: usize, steps: usize) -> String {
    let length = cycle.len();
    if let [stays] = cycle {
        return format!(
            "the thread at position {stays} comes back to its place at every repeat, so its colour cannot move"
        );
    }
    let positions: Vec<String> = cycle.iter().map(ToString::to_string).collect();
    format!(
        "the {length} threads at positions {} change places among themselves and are back after {length} repeats, \
         but {length} times {} is no whole number of turns round {colours} colours",
        positions.join(", "),
        in_steps(steps)
    )
}

/// What number of colours the cycles allow, in words.
fn could_drift(cycles: &[Vec<u16>], steps: usize) -> String {
    let common = cycles.iter().fold(0, |common, cycle| {
        greatest_common_divisor(common, (steps * cycle.len()) as u64)
    });
    let numbers: Vec<String> = (2..=common.min(200))
        .filter(|count| common.is_multiple_of(*count))
        .map(|count| count.to_string())
        .collect();
    if numbers.is_empty() {
        "change the repeat so that its threads all wander in one cycle, for example with a turn at another place".into()
    } else {
        format!(
            "this repeat can drift with {} colours",
            numbers.join(" or ")
        )
    }
}

/// How badly the start edge reads: by how many steps of the gradient, summed over all
/// neighbours, the colour at the right misses the one that follows the colour at the left.
fn roughness(order: &[usize], cycle_of: &[usize], colours: usize, offsets: &[usize]) -> usize {
    let colour = |at: usize| (order[at] + offsets[cycle_of[at]]) % colours;
    let misses = |at: usize| {
        let ahead = (colour(at) + 2 * colours - colour(at - 1) - 1) % colours;
        ahead.min(colours - ahead)
    };
    (1..order.len()).map(misses).sum()
}

/// Chooses all offsets but the first: by trying every combination where there are few,
/// otherwise one cycle after the other until no change of a single one is better.
fn best_offsets(order: &[usize], cycle_of: &[usize], colours: usize, offsets: &mut [usize]) {
    let free = offsets.len() - 1;
    let combinations = (0..free).try_fold(1_usize, |all, _| all.checked_mul(colours));
    let rough = |offsets: &[usize]| roughness(order, cycle_of, colours, offsets);
    if let Some(all) = combinations.filter(|all| *all <= MOST_TRIED) {
        let nth = |number: usize| {
            let mut rest = number;
            let mut tried = vec![offsets[0]];
            tried.extend((0..free).map(|_| {
                let offset = rest % colours;
                rest /= colours;
                offset
            }));
            tried
        };
        let best = (0..all).map(nth).min_by_key(|tried| rough(tried));
        offsets.copy_from_slice(&best.expect("there is at least one combination"));
        return;
    }
    loop {
        let before = rough(offsets);
        for cycle in 1..offsets.len() {
            let with = |offset| {
                let mut tried = offsets.to_vec();
                tried[cycle] = offset;
                rough(&tried)
            };
            offsets[cycle] = (0..colours)
                .min_by_key(|offset| with(*offset))
                .expect("at least one colour");
        }
        if rough(offsets) >= before {
            return;
        }
    }
}
