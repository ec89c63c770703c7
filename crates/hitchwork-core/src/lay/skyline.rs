//! Symmetric equations with few entries, solved exactly: Cholesky's method in the envelope of
//! the matrix (Jennings 1966), in an order that keeps it narrow (by distance, as Cuthill & McKee
//! 1969).

/// A symmetric matrix of which each row is kept from its first entry to the diagonal. Its rows and
/// columns go by threes, as the unknowns of a knot do: what three rows have in a column lies together,
/// so that a processor works on all of them at once.
pub(super) struct Skyline {
    /// The first column of each three rows, itself a multiple of three.
    first: Vec<usize>,
    /// Where the columns of each three rows begin in `entries`; one more for the end.
    starts: Vec<usize>,
    entries: Vec<ThreeRows>,
    /// One over each diagonal entry of the factor.
    inverse: Vec<f64>,
}

/// What three rows have in a column. The fourth is nothing, and only makes the whole as wide as what a
/// processor takes.
type ThreeRows = [f64; 4];

const NO_ROWS: ThreeRows = [0.0; 4];

/// For each of the three other rows the sums of its products with all three rows, column by column,
/// in an order that is the same everywhere.
fn products(rows: &[ThreeRows], others: &[ThreeRows]) -> [ThreeRows; 3] {
    let mut sums = [NO_ROWS; 3];
    for (row, other) in rows.iter().zip(others) {
        for (sums, other) in sums.iter_mut().zip(other) {
            for (sum, row) in sums.iter_mut().zip(row) {
                *sum += row * other;
            }
        }
    }
    sums
}

/// Takes from the lanes others so many times.
fn less(lanes: ThreeRows, others: ThreeRows, times: f64) -> ThreeRows {
    std::array::from_fn(|at| lanes[at] - others[at] * times)
}

fn times(lanes: ThreeRows, factor: f64) -> ThreeRows {
    lanes.map(|lane| lane * factor)
}

impl Skyline {
    /// A matrix of zeros with room from these columns on, for each three rows.
    pub(super) fn new(first: Vec<usize>) -> Self {
        let mut starts = Vec::with_capacity(first.len() + 1);
        let mut end = 0;
        starts.push(end);
        for (three, first) in first.iter().enumerate() {
            assert!(
                first.is_multiple_of(3) && *first <= 3 * three,
                "a first column"
            );
            end += 3 * three + 3 - first;
            starts.push(end);
        }
        Self {
            starts,
            entries: vec![NO_ROWS; end],
            inverse: vec![0.0; 3 * first.len()],
            first,
        }
    }

    pub(super) fn clear(&mut self) {
        self.entries.fill(NO_ROWS);
    }

    pub(super) fn diagonal(&self, row: usize) -> f64 {
        self.entries[self.starts[row / 3 + 1] - 3 + row % 3][row % 3]
    }

    /// Adds to the entry in a row and a column, which is the same the other way round; give
    /// each pair once.
    pub(super) fn add(&mut self, one: usize, other: usize, value: f64) {
        let (row, column) = (one.max(other), one.min(other));
        let three = row / 3;
        self.entries[self.starts[three] + column - self.first[three]][row % 3] += value;
    }

    /// Makes the matrix its own factor; false where it is not positive definite.
    pub(super) fn factorise(&mut self) -> bool {
        (0..self.first.len()).all(|three| self.factorise_three(three))
    }

    fn factorise_three(&mut self, three: usize) -> bool {
        let first = self.first[three];
        let (before, from_here) = self.entries.split_at_mut(self.starts[three]);
        let (rows, corner) = from_here[..3 * three + 3 - first].split_at_mut(3 * three - first);
        for other in first / 3..three {
            let other_first = self.first[other];
            let begins = first.max(other_first);
            let others = &before[self.starts[other]..self.starts[other + 1]];
            let (others, [x, y, _]) = others
                .split_last_chunk::<3>()
                .expect("three columns at the diagonal");
            let (known, rest) = rows.split_at_mut(3 * other - first);
            let sums = products(&known[begins - first..], &others[begins - other_first..]);
            let inverse = &self.inverse[3 * other..3 * other + 3];
            let one = times(less(rest[0], sums[0], 1.0), inverse[0]);
            let two = less(less(rest[1], sums[1], 1.0), one, x[1]);
            let two = times(two, inverse[1]);
            let rest_of_three = less(less(rest[2], sums[2], 1.0), one, x[2]);
            let last = times(less(rest_of_three, two, y[2]), inverse[2]);
            (rest[0], rest[1], rest[2]) = (one, two, last);
        }
        let sums = products(rows, rows);
        for at in 0..3 {
            let (done, here) = corner.split_at_mut(at);
            let diagonal = here[0][at];
            let mut column = less(here[0], sums[at], 1.0);
            for done in done {
                column = less(column, *done, done[at]);
            }
            let square = column[at];
            if square <= diagonal * LEFT_OVER || square.is_nan() {
                return false;
            }
            let root = square.sqrt();
            let inverse = 1.0 / root;
            column = times(column, inverse);
            column[at] = root;
            here[0] = column;
            self.inverse[3 * three + at] = inverse;
        }
        true
    }

    /// Solves with the factor, in place.
    pub(super) fn solve(&self, values: &mut [f64]) {
        for (three, first) in self.first.iter().enumerate() {
            let (known, rest) = values.split_at_mut(3 * three);
            let (rows, corner) = self.rows(three);
            let mut left = [rest[0], rest[1], rest[2], 0.0];
            for (row, value) in rows.iter().zip(&known[*first..]) {
                left = less(left, *row, *value);
            }
            for at in 0..3 {
                rest[at] = left[at] * self.inverse[3 * three + at];
                left = less(left, corner[at], rest[at]);
            }
        }
        for (three, first) in self.first.iter().enumerate().rev() {
            let (before, rest) = values.split_at_mut(3 * three);
            let (rows, corner) = self.rows(three);
            for at in (0..3).rev() {
                let after = at + 1..3;
                let known: f64 = after.map(|after| corner[at][after] * rest[after]).sum();
                rest[at] = (rest[at] - known) * self.inverse[3 * three + at];
            }
            for (value, row) in before[*first..].iter_mut().zip(rows) {
                *value -= row[0] * rest[0] + row[1] * rest[1] + row[2] * rest[2];
            }
        }
    }

    /// What three rows have beside the diagonal, and at it.
    fn rows(&self, three: usize) -> (&[ThreeRows], &[ThreeRows; 3]) {
        let rows = &self.entries[self.starts[three]..self.starts[three + 1]];
        rows.split_last_chunk()
            .expect("three columns at the diagonal")
    }
}

/// Of a diagonal entry, so much must be left over for it to be more than rounding.
const LEFT_OVER: f64 = 1e-13;

/// The nodes in an order that keeps neighbours close: those nearest to the roots first, and
/// those equally near by their keys.
pub(super) fn narrow_order(
    neighbours: &[Vec<usize>],
    roots: &[usize],
    key: impl Fn(usize) -> usize,
) -> Vec<usize> {
    let mut order: Vec<usize> = Vec::with_capacity(neighbours.len());
    let mut seen = vec![false; neighbours.len()];
    // Whatever hangs together with no root comes last, each piece from its first node.
    let pieces =
        std::iter::once(roots.to_vec()).chain((0..neighbours.len()).map(|node| vec![node]));
    for roots in pieces {
        let mut at = order.len();
        order.extend(
            roots
                .into_iter()
                .filter(|root| !std::mem::replace(&mut seen[*root], true)),
        );
        while at < order.len() {
            let end = order.len();
            order[at..end].sort_by_key(|node| (key(*node), *node));
            for place in at..end {
                for &next in &neighbours[order[place]] {
                    if !std::mem::replace(&mut seen[next], true) {
                        order.push(next);
                    }
                }
            }
            at = end;
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Worked by hand: 4x + 2y = 10, 2x + 5y = 17, 3z = 6 gives x = 1, y = 3, z = 2.
    #[test]
    fn equations_worked_by_hand_are_solved() {
        let mut matrix = Skyline::new(vec![0]);
        for (row, column, value) in [(0, 0, 4.0), (1, 0, 2.0), (1, 1, 5.0), (2, 2, 3.0)] {
            matrix.add(row, column, value);
        }
        assert!(matrix.factorise());
        let mut values = [10.0, 17.0, 6.0];
        matrix.solve(&mut values);
        for (found, expected) in values.iter().zip([1.0, 3.0, 2.0]) {
            assert!((found - expected).abs() < 1e-12, "{values:?}");
        }
    }

    /// Any factor times itself is a matrix, and gives what it was multiplied with; with envelopes
    /// that begin anywhere, so that every length of row meets every other.
    #[test]
    fn a_matrix_made_from_a_factor_gives_back_what_it_was_multiplied_with() {
        let threes = 24;
        let first: Vec<usize> = (0..threes)
            .map(|at| 3 * (at - (at * 5 % 7).min(at)))
            .collect();
        let last = 3 * threes;
        let entry = |row: usize, column: usize| match row.cmp(&column) {
            _ if column < first[row / 3] => 0.0,
            std::cmp::Ordering::Less => 0.0,
            std::cmp::Ordering::Equal => 2.0 + (row % 5) as f64,
            std::cmp::Ordering::Greater => ((7 * row + 3 * column) % 11) as f64 / 11.0 - 0.4,
        };
        let product = |row: usize, column: usize| -> f64 {
            (0..last).map(|at| entry(row, at) * entry(column, at)).sum()
        };
        let mut matrix = Skyline::new(first.clone());
        for row in 0..last {
            for column in first[row / 3]..=row {
                matrix.add(row, column, product(row, column));
            }
        }
        let expected: Vec<f64> = (0..last).map(|at| (at % 13) as f64 - 6.0).collect();
        let times = |row: usize| (0..last).map(|at| product(row, at) * expected[at]).sum();
        let mut values: Vec<f64> = (0..last).map(times).collect();
        assert!(matrix.factorise());
        matrix.solve(&mut values);
        for (found, expected) in values.iter().zip(expected) {
            assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
        }
    }

    #[test]
    fn an_indefinite_matrix_is_refused() {
        for wrong in 0..3 {
            let mut matrix = Skyline::new(vec![0]);
            for at in 0..3 {
                matrix.add(at, at, 1.0);
            }
            matrix.add(wrong, (wrong + 1) % 3, 2.0);
            assert!(!matrix.factorise());
        }
    }
}
