//! Whether the fabric has a hole anywhere: where it has none, it lies on the lattice.

use crate::fabric::Fabric;

/// How a fabric without holes lies.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Closed {
    /// Whether a thread turns from one knot at an edge to the next.
    pub(super) has_loops: bool,
}

/// Which side of a knot a thread left, and at which level.
#[derive(Clone, Copy)]
struct Left {
    level: u32,
    column: u16,
}

/// Nothing where some thread does not run from knot to knot as on the lattice: there the
/// fabric is soft. A straight thread rises one half row to the next knot; one that comes back
/// to its column does so at an edge, after two half rows.
pub(super) fn closed(fabric: &Fabric) -> Option<Closed> {
    let threads = fabric.thread_count();
    let mut left = vec![None; usize::from(threads)];
    let edges = edges(fabric);
    let mut closed = Closed::default();
    for knot in fabric.knots() {
        let column = knot.column.number();
        for position in [column - 1, column] {
            let now = Left {
                level: knot.level,
                column,
            };
            let Some(before) = left[usize::from(position)].replace(now) else {
                continue;
            };
            let rises = now.level - before.level;
            if before.column == column {
                if rises != 2 || !edges[usize::from(position)] {
                    return None;
                }
                closed.has_loops = true;
            } else if rises != 1 {
                return None;
            }
        }
    }
    Some(closed)
}

/// For each position, whether it is at an edge: of the band, or of a part that no knot of the
/// whole band ties to its neighbour.
fn edges(fabric: &Fabric) -> Vec<bool> {
    let first = fabric.first_levels();
    let tied = |column: Option<usize>| {
        column
            .and_then(|at| first.get(at))
            .is_some_and(Option::is_some)
    };
    (0..=first.len())
        .map(|position| !(tied(position.checked_sub(1)) && tied(Some(position))))
        .collect()
}
