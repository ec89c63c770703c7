//! Symmetric equations with few entries, solved exactly: Cholesky's method in the envelope of
//! the matrix (Jennings 1966), in an order that keeps it narrow (by distance, as Cuthill & McKee
//! 1969).

/// A symmetric matrix of which each row is kept from its first entry to the diagonal.
pub(super) struct Skyline {
    /// The first column of each row.
    first: Vec<usize>,
    /// Where each row begins in `entries`; one more for the end.
    starts: Vec<usize>,
    entries: Vec<f64>,
}

/// The sum of the products, in an order that is the same everywhere and that a processor can
/// work on eight at a time.
fn dot(mut one: &[f64], mut other: &[f64]) -> f64 {
    let mut sums = [0.0; 8];
    while let (Some((a, after_one)), Some((b, after_other))) =
        (one.split_first_chunk::<8>(), other.split_first_chunk::<8>())
    {
        for at in 0..8 {
            sums[at] += a[at] * b[at];
        }
        (one, other) = (after_one, after_other);
    }
    let rest: f64 = one.iter().zip(other).map(|(a, b)| a * b).sum();
    let (one, other) = sums.split_at(4);
    let half = |sums: &[f64]| (sums[0] + sums[1]) + (sums[2] + sums[3]);
    half(one) + half(other) + rest
}

impl Skyline {
    /// A matrix of zeros with room from these columns on in each row.
    pub(super) fn new(first: Vec<usize>) -> Self {
        let mut starts = Vec::with_capacity(first.len() + 1);
        starts.push(0);
        for (row, first) in first.iter().enumerate() {
            starts.push(starts[row] + row + 1 - first);
        }
        let entries = vec![0.0; starts[first.len()]];
        Self {
            first,
            starts,
            entries,
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
        self.entries[self.starts[row] + column - self.first[row]] += value;
    }

    /// Makes the matrix its own factor; false where it is not positive definite.
    pub(super) fn factorise(&mut self) -> bool {
        for row in 0..self.first.len() {
            let (before, from_row) = self.entries.split_at_mut(self.starts[row]);
            let first = self.first[row];
            let this = &mut from_row[..=row - first];
            for column in first..row {
                let begins = first.max(self.first[column]);
                let other = &before[self.starts[column]..self.starts[column + 1]];
                let (diagonal, other) = other.split_last().expect("every row has its diagonal");
                let known = dot(
                    &this[begins - first..column - first],
                    &other[begins - self.first[column]..],
                );
                this[column - first] = (this[column - first] - known) / diagonal;
            }
            let (diagonal, known) = this.split_last_mut().expect("every row has its diagonal");
            let square = *diagonal - dot(known, known);
            if square <= *diagonal * LEFT_OVER || square.is_nan() {
                return false;
            }
            *diagonal = square.sqrt();
        }
        true
    }

    /// Solves with the factor, in place.
    pub(super) fn solve(&self, values: &mut [f64]) {
        let rows = self.first.len();
        let row = |row: usize| &self.entries[self.starts[row]..self.starts[row + 1]];
        for at in 0..rows {
            let (diagonal, known) = row(at).split_last().expect("every row has its diagonal");
            values[at] = (values[at] - dot(known, &values[self.first[at]..at])) / diagonal;
        }
        for at in (0..rows).rev() {
            let (diagonal, known) = row(at).split_last().expect("every row has its diagonal");
            let value = values[at] / diagonal;
            values[at] = value;
            for (above, entry) in values[self.first[at]..at].iter_mut().zip(known) {
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
        let mut matrix = Skyline::new(vec![0, 0, 2]);
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

    #[test]
    fn an_indefinite_matrix_is_refused() {
        let mut matrix = Skyline::new(vec![0, 0]);
        for (row, column, value) in [(0, 0, 1.0), (1, 0, 2.0), (1, 1, 1.0)] {
            matrix.add(row, column, value);
        }
        assert!(!matrix.factorise());
    }
}
