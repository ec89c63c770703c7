//! The best of those orders that look best: for bands with too many orders for all of them.

use std::collections::BTreeMap;

use super::PlannedKnot;
use super::hand::{EasyHand, KnotPath};
use super::meter::{SearchHalt, StepMeter};
use super::windows::{PositionWindows, WindowedBand};

/// Colours as they hang after some knots, and how they came about.
#[derive(Clone, Debug)]
struct BeamState {
    colours: Vec<u8>,
    misses: usize,
    /// The state before the last knot, and whether the two threads changed places in it.
    before: (u32, bool),
}

/// How the colours have to hang at the finish for how they hung at the start.
type EndOf<'a> = &'a dyn Fn(&[u8]) -> Vec<u8>;

/// What is told how many knots are tied, and which states are kept then.
type ToldStates<'a> =
    &'a mut dyn FnMut(usize, &[BeamState], &mut StepMeter<'_>) -> Result<(), SearchHalt>;

/// What a search that looks at only so many orders at a time goes by.
pub(super) struct OrderBeam<'a> {
    pub(super) counts: &'a [u16],
    pub(super) band: WindowedBand<'a>,
    /// The windows of the band if it may end anyhow.
    pub(super) windows: &'a PositionWindows,
    /// How many orders are kept after each knot.
    pub(super) kept: usize,
    /// How the colours have to hang at the finish for how they hung at the start, if not anyhow.
    pub(super) end: Option<EndOf<'a>>,
}

impl OrderBeam<'_> {
    /// A path with few misses; nothing where none was found whose end fits its start.
    pub(super) fn path(&self, meter: &mut StepMeter<'_>) -> Result<Option<KnotPath>, SearchHalt> {
        let starts = self.starts(meter)?;
        let Some(end) = self.end else {
            let nothing = &mut |_: usize, _: &[BeamState], _: &mut StepMeter<'_>| Ok(());
            let history = self.tied(starts, self.windows, meter, nothing)?;
            let knots = self.band.knots.len();
            return Ok(Some(self.hand_along(&history, knots, 0).path()));
        };
        let mut best: Option<KnotPath> = None;
        // Each start has an end of its own.
        for start in starts.into_iter().take(CLOSED_STARTS) {
            let target = end(&start.colours);
            let found = self.homeward(start, &target, meter)?;
            let better = |path: &KnotPath| {
                best.as_ref()
                    .is_none_or(|best| path.missed.len() < best.missed.len())
            };
            if let Some(path) = found.filter(better) {
                best = Some(path);
            }
        }
        Ok(best)
    }

    /// The starts from which least follows, window by window from the left; of equally good
    /// beginnings those that use up the colours evenly.
    fn starts(&self, meter: &mut StepMeter<'_>) -> Result<Vec<BeamState>, SearchHalt> {
        let mut begun = vec![(0, 0, Vec::new(), self.counts.to_vec())];
        for choices in self.windows.at_start() {
            meter.ask((begun.len() * choices.len()) as u64)?;
            let needs: Vec<Vec<u16>> = choices
                .iter()
                .map(|(inside, _)| self.needs(inside))
                .collect();
            let mut longer: Vec<(usize, u64, Vec<u8>, Vec<u16>)> = Vec::new();
            let mut bar = (usize::MAX, u64::MAX);
            for (misses, _, colours, left) in &begun {
                for ((inside, cost), needs) in choices.iter().zip(&needs) {
                    if misses + cost > bar.0
                        || left.iter().zip(needs).any(|(left, need)| left < need)
                    {
                        continue;
                    }
                    let left = left.iter().zip(needs).map(|(left, need)| left - need);
                    let left: Vec<u16> = left.collect();
                    let worth = (misses + cost, self.unevenness(&left));
                    if worth <= bar {
                        let colours = [&colours[..], inside].concat();
                        longer.push((worth.0, worth.1, colours, left));
                    }
                    if longer.len() >= 8 * STARTS_KEPT {
                        longer.sort_unstable();
                        longer.truncate(STARTS_KEPT);
                        bar = longer.last().map_or(bar, |last| (last.0, last.1));
                    }
                }
            }
            longer.sort_unstable();
            longer.truncate(STARTS_KEPT);
            begun = longer;
        }
        begun.sort_by_cached_key(|(_, _, colours, _)| self.windows.promise(0, colours, 0));
        begun.truncate(self.kept);
        let state = |(_, _, colours, _)| BeamState {
            colours,
            misses: 0,
            before: (0, false),
        };
        Ok(begun.into_iter().map(state).collect())
    }

    /// How many threads of each colour hang in a window.
    fn needs(&self, inside: &[u8]) -> Vec<u16> {
        let mut needs = vec![0; self.counts.len()];
        for colour in inside {
            needs[usize::from(*colour)] += 1;
        }
        needs
    }

    /// How far the threads that are left over are from the shares of all.
    fn unevenness(&self, left: &[u16]) -> u64 {
        let sum = |counts: &[u16]| counts.iter().copied().map(u64::from).sum::<u64>();
        let (all, rest) = (sum(self.counts), sum(left));
        let off = |(left, count): (&u16, &u16)| {
            (u64::from(*left) * all).abs_diff(u64::from(*count) * rest)
        };
        let off = left.iter().zip(self.counts).map(off);
        off.map(|off| off * off).sum()
    }

    /// Ties knot after knot, and keeps the best states, best first. Each time it is said how many
    /// knots are tied, and what is kept.
    fn tied(
        &self,
        starts: Vec<BeamState>,
        windows: &PositionWindows,
        meter: &mut StepMeter<'_>,
        each: ToldStates<'_>,
    ) -> Result<BeamHistory, SearchHalt> {
        let mut history = BeamHistory {
            starts: starts.iter().map(|state| state.colours.clone()).collect(),
            before: Vec::with_capacity(self.band.knots.len()),
        };
        let mut states = starts;
        for (number, knot) in self.band.knots.iter().enumerate() {
            each(number, &states, meter)?;
            meter.ask((states.len() * self.band.threads * STEPS_OF_A_POSITION) as u64)?;
            states = after(&states, *knot);
            let promise =
                |state: &BeamState| windows.promise(state.misses, &state.colours, number + 1);
            states.sort_by_cached_key(promise);
            states.truncate(self.kept);
            history
                .before
                .push(states.iter().map(|state| state.before).collect());
        }
        each(self.band.knots.len(), &states, meter)?;
        Ok(history)
    }

    /// A path from one start that is led home in time to hang as it should.
    fn homeward(
        &self,
        start: BeamState,
        target: &[u8],
        meter: &mut StepMeter<'_>,
    ) -> Result<Option<KnotPath>, SearchHalt> {
        let windows = PositionWindows::new(self.band, Some(target), meter)?;
        let knots = self.band.knots;
        // As many rows as there are threads bring every thread to its place.
        let early = knots.len().saturating_sub(target.len() * target.len());
        let mut best: Option<(usize, usize, usize)> = None;
        let history = self.tied(
            vec![start],
            &windows,
            meter,
            &mut |number, states, meter| {
                let tried = if number < early { 0 } else { HOMEWARD };
                for (at, state) in states.iter().enumerate().take(tried) {
                    meter.ask((STEPS_OF_A_POSITION * (knots.len() - number)) as u64)?;
                    let (end, missed) = self.led_home(&state.colours, number, target);
                    let misses = state.misses + missed;
                    if end == target && best.is_none_or(|best| misses < best.0) {
                        best = Some((misses, number, at));
                    }
                }
                Ok(())
            },
        )?;
        Ok(best.map(|(_, number, at)| {
            let mut hand = self.hand_along(&history, number, at);
            let places = places_in(hand.colours(), target);
            let mut places = places.unwrap_or_default();
            for knot in &knots[number..] {
                lead(&mut hand, *knot, &mut places);
            }
            hand.path()
        }))
    }

    /// How the colours hang at the finish if from this knot on all go straight to their places,
    /// and how many knots miss on the way.
    fn led_home(&self, colours: &[u8], knot: usize, target: &[u8]) -> (Vec<u8>, usize) {
        let Some(mut places) = places_in(colours, target) else {
            return (colours.to_vec(), 0);
        };
        let mut hand = EasyHand::new(colours.to_vec());
        for knot in &self.band.knots[knot..] {
            lead(&mut hand, *knot, &mut places);
        }
        let path = hand.path();
        (path.end, path.missed.len())
    }

    /// A hand that has tied so many knots, as far as one of the states that were kept then.
    fn hand_along(&self, history: &BeamHistory, knots: usize, at: usize) -> EasyHand {
        let mut changes = Vec::with_capacity(knots);
        let mut at = at;
        for kept in history.before[..knots].iter().rev() {
            let (before, changed) = kept[at];
            changes.push(changed);
            at = before as usize;
        }
        let mut hand = EasyHand::new(history.starts[at].clone());
        for (knot, changed) in self.band.knots.iter().zip(changes.iter().rev()) {
            decide(&mut hand, *knot, *changed);
        }
        hand
    }
}

/// How the states came about that were kept.
struct BeamHistory {
    starts: Vec<Vec<u8>>,
    /// For each knot, for each state kept after it: the one before it, and whether the two
    /// threads changed places.
    before: Vec<Vec<(u32, bool)>>,
}

/// Bytes that a state takes in the history.
pub(super) const BYTES_OF_A_STATE: u64 = size_of::<(u32, bool)>() as u64;

/// About how many steps over an array take as long as tying one position of a state.
const STEPS_OF_A_POSITION: usize = 16;

/// All states to which a knot leads; of those that hang alike the one with the fewest misses, and
/// the first of these.
fn after(states: &[BeamState], (column, wanted): PlannedKnot) -> Vec<BeamState> {
    let mut reached: BTreeMap<Vec<u8>, BeamState> = BTreeMap::new();
    for (at, state) in (0..).zip(states) {
        let pair = &state.colours[column..column + 2];
        let missed = wanted.is_some_and(|wanted| !pair.contains(&wanted));
        let misses = state.misses + usize::from(missed);
        for changes in [false, true] {
            if changes && pair[0] == pair[1] {
                continue;
            }
            let mut colours = state.colours.clone();
            if changes {
                colours.swap(column, column + 1);
            }
            let better = |known: &BeamState| known.misses <= misses;
            if !reached.get(&colours).is_some_and(better) {
                let state = BeamState {
                    colours: colours.clone(),
                    misses,
                    before: (at, changes),
                };
                reached.insert(colours, state);
            }
        }
    }
    reached.into_values().collect()
}

/// How many beginnings of starts are kept from window to window.
const STARTS_KEPT: usize = 200;
/// From how many starts a closed repeat is tried.
const CLOSED_STARTS: usize = 4;
/// How many states after each knot are led home for a try.
const HOMEWARD: usize = 4;

/// To which position the thread at each position goes, so that threads of a colour do not pass
/// each other; nothing where the colours are not the same.
fn places_in(colours: &[u8], target: &[u8]) -> Option<Vec<usize>> {
    let mut waiting: BTreeMap<u8, Vec<usize>> = BTreeMap::new();
    for (position, colour) in target.iter().enumerate().rev() {
        waiting.entry(*colour).or_default().push(position);
    }
    let place = |colour: &u8| waiting.get_mut(colour).and_then(Vec::pop);
    colours.iter().map(place).collect()
}

/// Ties a knot after which the thread that goes further to the right hangs on the right.
fn lead(hand: &mut EasyHand, knot: PlannedKnot, places: &mut [usize]) {
    let changes = places[knot.0] > places[knot.0 + 1];
    if changes {
        places.swap(knot.0, knot.0 + 1);
    }
    decide(hand, knot, changes);
}

/// Ties a knot that changes the places of the colours or does not.
fn decide(hand: &mut EasyHand, knot: PlannedKnot, changes: bool) {
    let colours = hand.colours();
    let alike = colours[knot.0] == colours[knot.0 + 1];
    let allowed = |changing: bool| (alike || changing == changes).then_some(0);
    hand.tie(knot, allowed(false), allowed(true));
}
