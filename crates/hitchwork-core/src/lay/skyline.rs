//! Symmetric equations with few entries, solved exactly: Cholesky's method in the envelope of
//! the matrix (Jennings 1966), in an order that keeps it narrow (by distance, as Cuthill & McKee
//! 1969).

/// A symmetric matrix of which each row is kept from its first entry to the diagonal. Its rows and
/// columns go by threes, as the unknowns of a knot do, so that nine entries are worked out at once.
pub(super) struct Skyline {
    /// The first column of each three rows, itself a multiple of three.
    first: Vec<usize>,
    /// Where each row begins in `entries`; one more for the end.
    starts: Vec<usize>,
    entries: Vec<f64>,
}

/// The sums of the products of each row with each other, in an order that is the same everywhere
/// and that a processor can work on two at a time.
fn products(rows: [&[f64]; 3], others: [&[f64]; 3]) -> [[f64; 3]; 3] {
    let mut sums = [[[0.0; 2]; 3]; 3];
    let length = rows[0].len();
    let pairs = length / 2 * 2;
    let [a, b, c] = rows.map(|row| row[..pairs].as_chunks::<2>().0);
    let [x, y, z] = others.map(|row| row[..pairs].as_chunks::<2>().0);
    for (((((a, b), c), x), y), z) in a.iter().zip(b).zip(c).zip(x).zip(y).zip(z) {
        for (sums, row) in sums.iter_mut().zip([a, b, c]) {
            for (sum, other) in sums.iter_mut().zip([x, y, z]) {
                sum[0] += row[0] * other[0];
                sum[1] += row[1] * other[1];
            }
        }
    }
    let mut all = sums.map(|sums| sums.map(|sum| sum[0] + sum[1]));
    if pairs < length {
        for (sums, row) in all.iter_mut().zip(rows) {
            for (sum, other) in sums.iter_mut().zip(others) {
                *sum += row[pairs] * other[pairs];
            }
        }
    }
    all
}

fn dot(one: &[f64], other: &[f64]) -> f64 {
    let (pairs, rest) = one.as_chunks::<4>();
    let mut sums = [0.0; 4];
    for (a, b) in pairs.iter().zip(other.as_chunks::<4>().0) {
        for at in 0..4 {
            sums[at] += a[at] * b[at];
        }
    }
    let done = one.len() - rest.len();
    let rest: f64 = rest.iter().zip(&other[done..]).map(|(a, b)| a * b).sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

impl Skyline {
    /// A matrix of zeros with room from these columns on, for each three rows.
    pub(super) fn new(first: Vec<usize>) -> Self {
        let mut starts = Vec::with_capacity(3 * first.len() + 1);
        let mut end = 0;
        starts.push(end);
        for (three, first) in first.iter().enumerate() {
            assert!(
                first.is_multiple_of(3) && *first <= 3 * three,
                "a first column"
            );
            for row in 3 * three..3 * three + 3 {
                end += row + 1 - first;
                starts.push(end);
            }
        }
        Self {
            first,
            starts,
            entries: vec![0.0; end],
        }
    }

    pub(super) fn clear(&mut self) {
        self.entries.fill(0.0);
    }

    pub(super) fn diagonal(&self, row: usize) -> f64 {
        self.entries[self.starts[row + 1] - 1]
    }

    /// Adds to the entry in a row and a column, which is the same the other way round; give
    /// each pair once.
    pub(super) fn add(&mut self, one: usize, other: usize, value: f64) {
        let (row, column) = (one.max(other), one.min(other));
        self.entries[self.starts[row] + column - self.first[row / 3]] += value;
    }

    /// Makes the matrix its own factor; false where it is not positive definite.
    pub(super) fn factorise(&mut self) -> bool {
        (0..self.first.len()).all(|three| self.factorise_three(three))
    }

    fn factorise_three(&mut self, three: usize) -> bool {
        let first = self.first[three];
        let (before, from_rows) = self.entries.split_at_mut(self.starts[3 * three]);
        let length = 3 * three - first;
        let (one, from_rows) = from_rows.split_at_mut(length + 1);
        let (two, from_rows) = from_rows.split_at_mut(length + 2);
        let rows = &mut [one, two, &mut from_rows[..length + 3]];
        for column in (first..3 * three).step_by(3) {
            let other_first = self.first[column / 3];
            let begins = first.max(other_first);
            let (from, to) = (begins - first, column - first);
            let others: [&[f64]; 3] = std::array::from_fn(|at| {
                &before
                    [self.starts[column + at] + begins - other_first..self.starts[column + at + 1]]
            });
            let known = products(
                [&rows[0][from..to], &rows[1][from..to], &rows[2][from..to]],
                others.map(|other| &other[..to - from]),
            );
            // What is left of each other row: its part beside the diagonal, and that.
            let corner = others.map(|other| &other[to - from..]);
            for (row, known) in rows.iter_mut().zip(known) {
                let first = (row[to] - known[0]) / corner[0][0];
                let second = (row[to + 1] - known[1] - first * corner[1][0]) / corner[1][1];
                let third = row[to + 2] - known[2] - first * corner[2][0] - second * corner[2][1];
                row[to] = first;
                row[to + 1] = second;
                row[to + 2] = third / corner[2][2];
            }
        }
        for at in 0..3 {
            let (done, rest) = rows.split_at_mut(at);
            let row = &mut rest[0];
            for (column, other) in (length..).zip(done) {
                let known = dot(&row[..column], &other[..column]);
                row[column] = (row[column] - known) / other[column];
            }
            let known = &row[..length + at];
            let diagonal = row[length + at];
            let square = diagonal - dot(known, known);
            if square <= diagonal * LEFT_OVER || square.is_nan() {
                return false;
            }
            row[length + at] = square.sqrt();
        }
        true
    }

    /// Solves with the factor, in place.
    pub(super) fn solve(&self, values: &mut [f64]) {
        let rows = 3 * self.first.len();
        let row = |row: usize| &self.entries[self.starts[row]..self.starts[row + 1]];
        for at in 0..rows {
            let (diagonal, known) = row(at).split_last().expect("every row has its diagonal");
            values[at] = (values[at] - dot(known, &values[self.first[at / 3]..at])) / diagonal;
        }
        for at in (0..rows).rev() {
            let (diagonal, known) = row(at).split_last().expect("every row has its diagonal");
            let value = values[at] / diagonal;
            values[at] = value;
            for (above, entry) in values[self.first[at / 3]..at].iter_mut().zip(known) {
                *above -= entry * value;
            }
        }
    }
}

/// Of a diagonal entry, so much must be left over for it to be more than rounding.
const LEFT_OVER: f64 = 1e-13;

/// The nodes in an order that keeps neighbours close: those nearest to the roots first, and
/// those equally near by their keys.
pub(super) fn narrow_order(
    neighbours: &[Vec<usize>],
    roots: &[usize],
    key: impl Fn(usize) -> u16,
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
