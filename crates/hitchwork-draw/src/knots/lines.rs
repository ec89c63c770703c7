//! The knots of a row on lines, and rows one below the other.

use hitchwork_core::band::Part;
use hitchwork_core::fabric::TiedRow;
use hitchwork_core::knot::Side;

/// One tying of a part, with its rows.
pub(super) struct KnotSection {
    pub(super) part: Part,
    pub(super) pass: u32,
    pub(super) rows: Vec<TiedRow>,
}

/// How the knots of a row lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RowLie {
    /// Each below those that it waits for, half beside them, as on the band.
    Lattice,
    /// Side by side as far as an edge at which one begins tells in which order they are tied.
    Flat,
}

/// From where a flat row is tied.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RowStart {
    /// From anywhere, the upper of its tiles first.
    Anywhere,
    /// From one edge, tile by tile.
    Edge(Side),
    /// From both edges to the middle.
    BothEdges,
}

/// A row with the line of each of its knots, from 0.
pub(super) struct LinedRow<'a> {
    pub(super) row: &'a TiedRow,
    pub(super) lines: Vec<u32>,
    pub(super) start: RowStart,
    /// For each column the first of its lines and one past the last; columns without a knot take those of
    /// the knots next to them, so that what lies above a row lies above it everywhere.
    outline: Vec<(f64, f64)>,
}

impl<'a> LinedRow<'a> {
    /// A row of a band of so many columns.
    pub(super) fn new(row: &'a TiedRow, lie: RowLie, columns: usize) -> Self {
        let start = match lie {
            RowLie::Lattice => None,
            RowLie::Flat => flat_start(row),
        };
        let mut lines: Vec<u32> = Vec::with_capacity(row.knots.len());
        for index in 0..row.knots.len() {
            let (from_left, same, from_right) = waits_for(row, index);
            let below = |earlier: Option<usize>| earlier.map(|earlier| lines[earlier] + 1);
            let beside = |earlier: Option<usize>| earlier.map(|earlier| lines[earlier]);
            let meets = from_left.is_some() && from_right.is_some();
            let (left, right) = match start {
                Some(_) if !meets => (beside(from_left), beside(from_right)),
                _ => (below(from_left), below(from_right)),
            };
            let line = [left, below(same), right].into_iter().flatten().max();
            lines.push(line.unwrap_or(0));
        }
        Self {
            outline: outline(row, &lines, columns),
            row,
            lines,
            start: start.unwrap_or(RowStart::Anywhere),
        }
    }

    /// How many lines it takes.
    pub(super) fn height(&self) -> f64 {
        f64::from(self.lines.iter().max().map_or(1, |line| line + 1))
    }

    /// The line of the knot next to an edge; of a row without knots the first.
    pub(super) fn line_at(&self, edge: Side) -> u32 {
        let knots = self.row.knots.iter().zip(&self.lines);
        let at = match edge {
            Side::Left => knots.min_by_key(|(knot, _)| knot.column),
            Side::Right => knots.max_by_key(|(knot, _)| knot.column),
        };
        at.map_or(0, |(_, line)| *line)
    }
}

fn outline(row: &TiedRow, lines: &[u32], columns: usize) -> Vec<(f64, f64)> {
    let mut own: Vec<Option<(u32, u32)>> = vec![None; columns];
    for (knot, line) in row.knots.iter().zip(lines) {
        let at = &mut own[usize::from(knot.column.number()) - 1];
        let (top, foot) = at.unwrap_or((*line, line + 1));
        *at = Some((top.min(*line), foot.max(line + 1)));
    }
    let carried = |nearest: &mut Option<(u32, u32)>, own: &Option<(u32, u32)>| {
        *nearest = own.or(*nearest);
        Some(*nearest)
    };
    let from_left: Vec<_> = own.iter().scan(None, carried).collect();
    let mut from_right: Vec<_> = own.iter().rev().scan(None, carried).collect();
    from_right.reverse();
    let both = from_left.into_iter().zip(from_right);
    both.map(|(left, right)| {
        let (top, foot) = match (left, right) {
            (Some(left), Some(right)) => (left.0.min(right.0), left.1.max(right.1)),
            (Some(only), None) | (None, Some(only)) => only,
            (None, None) => (0, 1),
        };
        (f64::from(top), f64::from(foot))
    })
    .collect()
}

/// The last knots before one of a row that it has to wait for: in the column to the left, in its own and
/// in the column to the right.
fn waits_for(row: &TiedRow, index: usize) -> (Option<usize>, Option<usize>, Option<usize>) {
    let column = row.knots[index].column.number();
    let last_in = |column: u16| {
        let mut earlier = row.knots[..index].iter();
        earlier.rposition(|knot| knot.column.number() == column)
    };
    (last_in(column - 1), last_in(column), last_in(column + 1))
}

/// From where a row is tied whose neighbouring knots lie side by side; nothing where no edge tells.
///
/// A knot goes on to the right where it has the last knot to its left before it, and to the left likewise;
/// one that has both is where two ways meet, and lies below them.
fn flat_start(row: &TiedRow) -> Option<RowStart> {
    let (mut to_right, mut to_left, mut met) = (Vec::new(), Vec::new(), Vec::new());
    let mut repeats_a_column = false;
    for (index, knot) in row.knots.iter().enumerate() {
        let (from_left, same, from_right) = waits_for(row, index);
        repeats_a_column |= same.is_some();
        let column = knot.column.number();
        match (from_left, from_right) {
            (None, None) => {}
            (Some(_), None) => to_right.push(column),
            (None, Some(_)) => to_left.push(column),
            (Some(_), Some(_)) => met.push(column),
        }
    }
    let last_to_right = to_right.iter().chain(&met).max();
    let first_to_left = to_left.iter().chain(&met).min();
    if let (Some(right), Some(left)) = (last_to_right, first_to_left)
        && right > left
    {
        return None;
    }
    let one_way = |columns: &mut Vec<u16>| {
        columns.sort_unstable();
        columns.windows(2).all(|pair| pair[0] + 1 == pair[1])
    };
    match (to_right.is_empty(), to_left.is_empty()) {
        (true, true) => Some(RowStart::Anywhere),
        (false, true) => Some(RowStart::Edge(Side::Left)),
        (true, false) => Some(RowStart::Edge(Side::Right)),
        (false, false) => (!repeats_a_column && one_way(&mut to_right) && one_way(&mut to_left))
            .then_some(RowStart::BothEdges),
    }
}

/// So much of a line is left free below every fifth row, and below a row of several lines.
const AFTER_FIVE: f64 = 0.28;
const AFTER_A_TALL_ROW: f64 = 0.35;
/// Rows are counted in fives.
pub(super) const FIVE: u32 = 5;

/// Rows that are laid one below the other, each as close as its tiles allow.
pub(super) struct RowStack {
    feet: Vec<f64>,
}

impl RowStack {
    /// Nothing yet, in so many columns.
    pub(super) fn new(columns: usize) -> Self {
        Self {
            feet: vec![0.0; columns],
        }
    }

    /// On which line a row begins that is laid next, and how far down it reaches.
    pub(super) fn place(&self, row: &LinedRow<'_>) -> (f64, f64) {
        let last = self.feet.len() - 1;
        let above = |column: usize| {
            let beside = &self.feet[column.saturating_sub(1)..=(column + 1).min(last)];
            beside.iter().copied().fold(0.0, f64::max)
        };
        let needs = row.outline.iter().enumerate();
        let first = needs
            .map(|(column, (top, _))| above(column) - top)
            .fold(0.0, f64::max);
        let feet = row.outline.iter().map(|(_, foot)| first + foot);
        (first, feet.fold(0.0, f64::max))
    }

    /// Lays a row that begins on this line.
    pub(super) fn lay(&mut self, row: &LinedRow<'_>, first: f64) {
        let mut free = 0.0;
        if row.row.row.is_multiple_of(FIVE) {
            free += AFTER_FIVE;
        }
        if row.lines.iter().any(|line| *line > 0) {
            free += AFTER_A_TALL_ROW;
        }
        for (below, (_, foot)) in self.feet.iter_mut().zip(&row.outline) {
            *below = first + foot + free;
        }
    }
}
