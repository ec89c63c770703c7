//! How much a repeat adds to the band, exactly.

use std::cmp::Ordering;
use std::fmt;

use super::divisor::greatest_common_divisor;
use crate::row::Row;

/// An exact number of half rows per repeat.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Growth {
    half_rows: u64,
    repeats: u64,
}

impl Growth {
    /// `half_rows` in `repeats` repeats.
    ///
    /// # Panics
    /// When there are no repeats.
    #[must_use]
    pub fn new(half_rows: u64, repeats: u64) -> Self {
        assert!(repeats > 0, "growth is measured over at least one repeat");
        let common = greatest_common_divisor(half_rows, repeats).max(1);
        Self {
            half_rows: half_rows / common,
            repeats: repeats / common,
        }
    }

    /// The fraction in lowest terms: this many half rows in this many repeats.
    #[must_use]
    pub fn fraction(self) -> (u64, u64) {
        (self.half_rows, self.repeats)
    }

    /// Half rows per repeat.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "far below 2^52")]
    pub fn per_repeat(self) -> f64 {
        self.half_rows as f64 / self.repeats as f64
    }
}

impl Ord for Growth {
    fn cmp(&self, other: &Self) -> Ordering {
        (u128::from(self.half_rows) * u128::from(other.repeats))
            .cmp(&(u128::from(other.half_rows) * u128::from(self.repeats)))
    }
}

impl PartialOrd for Growth {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Display for Growth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.repeats {
            1 => self.half_rows.fmt(f),
            repeats => write!(f, "{}/{repeats}", self.half_rows),
        }
    }
}

/// By how many half rows these rows, tied again and again, make the band of `threads`
/// threads longer each time, in the long run.
///
/// Tying a knot takes the highest of three levels, each with something added: a linear
/// step in max-plus algebra. So a repeat is a matrix over (max, +), and the growth is its
/// eigenvalue, the maximum cycle mean (Baccelli, Cohen, Olsder & Quadrat 1992), found
/// exactly by Karp's theorem (1978). Where columns without knots split the band, the part
/// that grows most is taken.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{growth, Growth}, row::Row};
/// let brick = [Row::run(Kind::Forward, [1, 3])?, Row::run(Kind::Forward, [2])?];
/// assert_eq!(growth(&brick, 4), Growth::new(2, 1));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn growth(rows: &[Row], threads: u16) -> Growth {
    let columns = usize::from(threads.saturating_sub(1));
    let mut used = vec![false; columns + 2];
    for knot in rows.iter().flat_map(Row::knots) {
        if let Some(used) = used.get_mut(usize::from(knot.column().number())) {
            *used = true;
        }
    }
    let mut best = Growth::new(0, 1);
    let mut at = 1;
    while at <= columns {
        let length = used[at..=columns].iter().take_while(|used| **used).count();
        if length > 0 {
            best = best.max(cycle_mean(&repeat_matrix(rows, at, length)));
        }
        at += length.max(1);
    }
    best
}

/// Stands for "does not depend on".
const NEVER: i64 = i64::MIN / 4;

/// The max-plus matrix of the rows on the columns `from..from + length`: entry \[i\]\[j\]
/// is how much column i stands above where column j stood before, at the least.
fn repeat_matrix(rows: &[Row], from: usize, length: usize) -> Vec<Vec<i64>> {
    let mut matrix = vec![vec![NEVER; length]; length];
    for (at, row) in matrix.iter_mut().enumerate() {
        row[at] = 0;
    }
    for knot in rows.iter().flat_map(Row::knots) {
        let Some(at) = usize::from(knot.column().number())
            .checked_sub(from)
            .filter(|at| *at < length)
        else {
            continue;
        };
        let mut tied: Vec<i64> = matrix[at].iter().map(|level| level + 2).collect();
        let neighbours = [
            at.checked_sub(1),
            Some(at + 1).filter(|right| *right < length),
        ];
        for neighbour in neighbours.into_iter().flatten() {
            for (level, beside) in tied.iter_mut().zip(&matrix[neighbour]) {
                *level = (*level).max(beside + 1);
            }
        }
        matrix[at] = tied;
    }
    matrix
}

/// The maximum cycle mean of a strongly connected max-plus matrix: with D(k, v) the
/// heaviest walk of k edges from a fixed node to v, the largest over v of the smallest
/// over k of (D(n, v) - D(k, v)) / (n - k).
fn cycle_mean(matrix: &[Vec<i64>]) -> Growth {
    let nodes = matrix.len();
    let mut walks = vec![vec![NEVER; nodes]; nodes + 1];
    walks[0][0] = 0;
    for length in 1..=nodes {
        let (before, after) = walks.split_at_mut(length);
        for (heaviest, row) in after[0].iter_mut().zip(matrix) {
            let through = before[length - 1]
                .iter()
                .zip(row)
                .map(|(walk, edge)| walk + edge);
            *heaviest = through.max().unwrap_or(NEVER).max(NEVER);
        }
    }
    let mean = |node: usize| {
        let longest = walks[nodes][node];
        let smallest = (0..nodes)
            .filter(|length| walks[*length][node] > NEVER / 2)
            .map(|length| {
                let gained = u64::try_from(longest - walks[length][node]).unwrap_or(0);
                Growth::new(gained, (nodes - length) as u64)
            });
        smallest.min()
    };
    let reached = (0..nodes).filter(|node| walks[nodes][*node] > NEVER / 2);
    reached.filter_map(mean).max().unwrap_or(Growth::new(0, 1))
}
