//! How many threads of each colour.

use super::PlannedKnot;

/// All ways to share threads out among colours so that each has one at least, the most even
/// first, and of equally even ones the first in lexicographic order.
pub(super) fn shares(threads: u16, colours: u8) -> Vec<Vec<u16>> {
    let mut all = Vec::new();
    share(threads, colours, &mut Vec::new(), &mut all);
    let unevenness =
        |counts: &Vec<u16>| -> u64 { counts.iter().map(|count| u64::from(*count).pow(2)).sum() };
    all.sort_by_cached_key(unevenness);
    all
}

fn share(threads: u16, colours: u8, begun: &mut Vec<u16>, all: &mut Vec<Vec<u16>>) {
    if colours <= 1 {
        all.push([&begun[..], &[threads]].concat());
        return;
    }
    for count in 1..=threads - u16::from(colours - 1) {
        begun.push(count);
        share(threads - count, colours - 1, begun, all);
        begun.pop();
    }
}

/// Threads shared out as evenly as can be.
pub(super) fn evenly(threads: u16, colours: u8) -> Vec<u16> {
    let colours = u16::from(colours.max(1));
    let (each, over) = (threads / colours, threads % colours);
    let count = |colour| each + u16::from(colour < over);
    (0..colours).map(count).collect()
}

/// About the share that each colour has in a picture, with one thread of each at least.
pub(super) fn in_proportion(threads: u16, colours: u8, knots: &[PlannedKnot]) -> Vec<u16> {
    let mut wanted = vec![0_u64; usize::from(colours)];
    for colour in knots.iter().filter_map(|(_, colour)| *colour) {
        wanted[usize::from(colour)] += 1;
    }
    let mut counts = vec![1_u16; wanted.len()];
    for _ in u16::from(colours)..threads {
        // The next thread goes where each would have to show the most knots.
        let need = |at: &usize| {
            let (wanted, count) = (wanted[*at], u64::from(counts[*at]));
            (wanted << 16) / count
        };
        let most = (0..counts.len()).rev().max_by_key(need);
        counts[most.unwrap_or_default()] += 1;
    }
    counts
}

/// All counts that differ by one thread of another colour.
pub(super) fn neighbours(counts: &[u16]) -> Vec<Vec<u16>> {
    let mut all = Vec::new();
    for from in 0..counts.len() {
        for to in 0..counts.len() {
            if from != to && counts[from] > 1 {
                let mut counts = counts.to_vec();
                counts[from] -= 1;
                counts[to] += 1;
                all.push(counts);
            }
        }
    }
    all
}
