//! Whether the fabric has a hole anywhere: where it has none, it lies on the lattice.

use crate::fabric::{Fabric, Pass};
use crate::knot::Column;

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
///
/// Of a repeat that is tied many times, the tyings are looked at until its levels come again:
/// every position that it ties it ties each time, so what leads from one tying to the next has
/// been seen by then.
pub(super) fn closed(fabric: &Fabric) -> Option<Closed> {
    let mut look = HoleSearch {
        left: vec![None; usize::from(fabric.thread_count())],
        edges: edges(fabric),
        closed: Closed::default(),
    };
    for (own, last) in fabric.own_passes() {
        for pass in own {
            if !pass
                .places()
                .all(|(column, level)| look.ties(column, level))
            {
                return None;
            }
        }
        for (column, level) in last.into_iter().flat_map(Pass::places) {
            look.leaves(column, level);
        }
    }
    Some(look.closed)
}

/// What is seen on the way from knot to knot.
struct HoleSearch {
    left: Vec<Option<Left>>,
    edges: Vec<bool>,
    closed: Closed,
}

impl HoleSearch {
    /// Whether the two threads of a knot come to it as on the lattice.
    fn ties(&mut self, column: Column, level: u32) -> bool {
        let column = column.number();
        for position in [column - 1, column] {
            let at = usize::from(position);
            let Some(before) = self.left[at].replace(Left { level, column }) else {
                continue;
            };
            let rises = level - before.level;
            let comes_back = before.column == column;
            if rises != 1 + u32::from(comes_back) || comes_back && !self.edges[at] {
                return false;
            }
            self.closed.has_loops |= comes_back;
        }
        true
    }

    /// The threads of a knot leave it; how they came to it is known.
    fn leaves(&mut self, column: Column, level: u32) {
        let column = column.number();
        for position in [column - 1, column] {
            self.left[usize::from(position)] = Some(Left { level, column });
        }
    }
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
