//! The assignment problem: each row gets a column of its own, at the least total cost.

/// The column of each row. There are at least as many columns as rows.
///
/// The Hungarian method with potentials and shortest augmenting paths (Kuhn 1955; Munkres
/// 1957; in this form Jonker and Volgenant 1987): exact, in rows x rows x columns steps.
/// Among equal optima the one found is the same on every machine.
pub(super) fn assignment(costs: &[Vec<f64>]) -> Vec<usize> {
    let columns = costs.first().map_or(0, Vec::len);
    debug_assert!(costs.len() <= columns || costs.is_empty());
    let mut row_potential = vec![0.0; costs.len()];
    // One column more than there are: the root of every search.
    let root = columns;
    let mut column_potential = vec![0.0; columns + 1];
    let mut row_of: Vec<Option<usize>> = vec![None; columns + 1];
    for start in 0..costs.len() {
        row_of[root] = Some(start);
        let mut slack = vec![f64::INFINITY; columns];
        let mut came_from = vec![root; columns];
        let mut reached = vec![false; columns + 1];
        let mut at = root;
        while let Some(row) = row_of[at] {
            reached[at] = true;
            let mut nearest = (f64::INFINITY, root);
            for column in 0..columns {
                if reached[column] {
                    continue;
                }
                let reduced = costs[row][column] - row_potential[row] - column_potential[column];
                if reduced < slack[column] {
                    slack[column] = reduced;
                    came_from[column] = at;
                }
                if slack[column] < nearest.0 {
                    nearest = (slack[column], column);
                }
            }
            let (shift, next) = nearest;
            for column in (0..=columns).filter(|column| reached[*column]) {
                if let Some(row) = row_of[column] {
                    row_potential[row] += shift;
                }
                column_potential[column] -= shift;
            }
            for (slack, reached) in slack.iter_mut().zip(&reached) {
                if !reached {
                    *slack -= shift;
                }
            }
            at = next;
        }
        while at != root {
            let before = came_from[at];
            row_of[at] = row_of[before];
            at = before;
        }
    }
    let mut assigned = vec![0; costs.len()];
    for (column, row) in row_of[..columns].iter().enumerate() {
        if let Some(row) = row {
            assigned[*row] = column;
        }
    }
    assigned
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::assignment;

    /// The least total by trying every assignment.
    fn least(costs: &[Vec<f64>], taken: &mut Vec<usize>) -> f64 {
        let Some(row) = costs.get(taken.len()) else {
            return 0.0;
        };
        let mut best = f64::INFINITY;
        for (column, cost) in row.iter().enumerate() {
            if !taken.contains(&column) {
                taken.push(column);
                best = best.min(cost + least(costs, taken));
                taken.pop();
            }
        }
        best
    }

    fn table() -> impl Strategy<Value = Vec<Vec<f64>>> {
        (1_usize..=5, 0_usize..=2).prop_flat_map(|(rows, spare)| {
            // Few different costs, so that equal ones are common.
            let cost = prop_oneof![(0_i32..6).prop_map(f64::from), 0.0..100.0];
            prop::collection::vec(prop::collection::vec(cost, rows + spare), rows)
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::with_cases(600) })]

        #[test]
        fn no_other_assignment_costs_less(costs in table()) {
            let assigned = assignment(&costs);
            let mut columns = assigned.clone();
            columns.sort_unstable();
            columns.dedup();
            prop_assert_eq!(columns.len(), costs.len());
            let total: f64 = assigned.iter().zip(&costs).map(|(column, row)| row[*column]).sum();
            prop_assert!((total - least(&costs, &mut Vec::new())).abs() < 1e-9);
        }
    }
}
