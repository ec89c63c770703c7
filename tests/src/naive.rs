//! A second model of tying, with nothing in common with the simulator: threads are
//! numbers in a list, a knot swaps two of them or does not, and how high a knot lies is
//! found by looking at every knot under it. Slow, and easy to believe.

use hitchwork_core::band::{Band, Part};
use hitchwork_core::row::Row;

/// A knot as a maker would say it, counted from 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tie {
    /// The place between two threads, from 0.
    pub column: usize,
    /// Whether the left thread wraps.
    pub left_works: bool,
    /// Whether the two threads change places.
    pub swaps: bool,
}

/// A knot as tied.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TiedOnce {
    /// Where and how.
    pub tie: Tie,
    /// How high it lies.
    pub level: usize,
    /// The thread that wraps, by its number at the start, from 0.
    pub working: usize,
    /// The thread inside.
    pub core: usize,
    /// The colour that shows.
    pub colour: usize,
}

/// A band tied knot by knot.
#[derive(Clone, Debug, Default)]
pub struct TiedBand {
    /// Every knot in tying order.
    pub knots: Vec<TiedOnce>,
    /// Which thread hangs where after every row.
    pub orders: Vec<Vec<usize>>,
}

/// Knots of some rows, without their rows.
#[must_use]
pub fn ties(rows: &[Row]) -> Vec<Tie> {
    rows.iter().flat_map(ties_of_row).collect()
}

fn ties_of_row(row: &Row) -> Vec<Tie> {
    let tie = |knot: &hitchwork_core::knot::Knot| {
        let (left_works, swaps) = match knot.kind().name() {
            "forward" => (true, true),
            "backward" => (false, true),
            "forward-backward" => (true, false),
            "backward-forward" => (false, false),
            other => panic!("no such knot: {other}"),
        };
        Tie {
            column: usize::from(knot.column().number()) - 1,
            left_works,
            swaps,
        }
    };
    row.knots().iter().map(tie).collect()
}

/// Ties a whole band.
#[must_use]
pub fn tie_band(band: &Band) -> TiedBand {
    let mut order: Vec<usize> = (0..usize::from(band.thread_count())).collect();
    let colours = band.thread_colours();
    let mut tied = TiedBand::default();
    let mut rows: Vec<&Row> = band.rows(Part::LeadIn).iter().collect();
    for _ in 0..band.repeats() {
        rows.extend(band.repeat());
    }
    rows.extend(band.rows(Part::LeadOut));
    for row in rows {
        for tie in ties_of_row(row) {
            let (left, right) = (order[tie.column], order[tie.column + 1]);
            let (working, core) = if tie.left_works {
                (left, right)
            } else {
                (right, left)
            };
            if tie.swaps {
                order[tie.column] = right;
                order[tie.column + 1] = left;
            }
            let level = level_on(&tied.knots, tie.column);
            let colour = usize::from(colours[working]);
            tied.knots.push(TiedOnce {
                tie,
                level,
                working,
                core,
                colour,
            });
        }
        tied.orders.push(order.clone());
    }
    tied
}

/// As low as everything under it allows.
fn level_on(knots: &[TiedOnce], column: usize) -> usize {
    let mut level = 0;
    for under in knots {
        match under.tie.column.abs_diff(column) {
            0 => level = level.max(under.level + 2),
            1 => level = level.max(under.level + 1),
            _ => {}
        }
    }
    level
}

/// Lays `things` in the order in which the ties leave them, `times` times over.
#[must_use]
pub fn carried<T: Clone>(ties: &[Tie], things: &[T], times: usize) -> Vec<T> {
    let mut things = things.to_vec();
    for _ in 0..times {
        for tie in ties.iter().filter(|tie| tie.swaps) {
            things.swap(tie.column, tie.column + 1);
        }
    }
    things
}

/// After how many repeats the things first hang as at the start, by tying until they do.
#[must_use]
pub fn repeats_until_as_before<T: Clone + PartialEq>(ties: &[Tie], start: &[T]) -> u64 {
    let mut now = carried(ties, start, 1);
    let mut repeats = 1;
    while now != start {
        now = carried(ties, &now, 1);
        repeats += 1;
    }
    repeats
}

/// The layers of a heap by taking off, again and again, every knot that lies on nothing.
#[must_use]
pub fn peeled(mut ties: Vec<Tie>) -> Vec<Vec<Tie>> {
    let mut layers = Vec::new();
    while !ties.is_empty() {
        let lies_on_nothing =
            |at: usize| (0..at).all(|under| ties[under].column.abs_diff(ties[at].column) > 1);
        let (free, rest): (Vec<usize>, Vec<usize>) =
            (0..ties.len()).partition(|&at| lies_on_nothing(at));
        let mut layer: Vec<Tie> = free.into_iter().map(|at| ties[at]).collect();
        layer.sort_unstable_by_key(|tie| tie.column);
        layers.push(layer);
        ties = rest.into_iter().map(|at| ties[at]).collect();
    }
    layers
}

/// How much the rows grow in the long run, by tying until the growing edge has the same
/// shape again: so many half rows in so many repeats, of the stretch of joined columns
/// that grows most.
#[must_use]
pub fn measured_growth(ties: &[Tie], columns: usize) -> (u64, u64) {
    let mut best = (0, 1);
    let mut from = 0;
    while from < columns {
        let joined = (from..columns)
            .take_while(|column| ties.iter().any(|tie| tie.column == *column))
            .count();
        if joined > 0 {
            let own: Vec<usize> = ties
                .iter()
                .map(|tie| tie.column)
                .filter(|column| (from..from + joined).contains(column))
                .map(|column| column - from)
                .collect();
            let grown = measured_growth_of_joined(&own, joined);
            if grown.0 * best.1 > best.0 * grown.1 {
                best = grown;
            }
        }
        from += joined.max(1);
    }
    best
}

fn measured_growth_of_joined(columns_tied: &[usize], columns: usize) -> (u64, u64) {
    let mut tops: Vec<Option<u64>> = vec![None; columns];
    let mut seen: Vec<(Vec<u64>, u64)> = Vec::new();
    loop {
        for &column in columns_tied {
            let mut level = 0;
            for (other, top) in tops.iter().enumerate() {
                match (top, other.abs_diff(column)) {
                    (Some(top), 0) => level = level.max(top + 2),
                    (Some(top), 1) => level = level.max(top + 1),
                    _ => {}
                }
            }
            tops[column] = Some(level);
        }
        let levels: Vec<u64> = tops.iter().flatten().copied().collect();
        let lowest = levels.iter().min().copied().unwrap_or(0);
        let shape: Vec<u64> = levels.iter().map(|level| level - lowest).collect();
        if let Some(at) = seen.iter().position(|(before, _)| *before == shape) {
            return (lowest - seen[at].1, (seen.len() - at) as u64);
        }
        seen.push((shape, lowest));
    }
}
