//! The changes that are tried, and what is tied with them.

use std::ops::Range;

use super::written::{Change, Cloth, WrittenKnots};
use crate::knot::{Column, Kind};

/// A change, by the indices of knots, columns and rows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Edit {
    Kind {
        at: usize,
        kind: Kind,
    },
    Omit {
        at: usize,
    },
    Extra {
        at: usize,
        column: usize,
        kind: Kind,
    },
    Cross {
        at: usize,
        left: usize,
    },
    OmitRow {
        row: usize,
    },
    TwiceRow {
        row: usize,
    },
}

/// What was really done at the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum TableAct {
    /// A knot, and which of the written ones it is.
    Knot {
        column: usize,
        kind: Kind,
        of: Option<usize>,
    },
    Cross {
        left: usize,
    },
}

/// How often a mistake is made, as compared with others (common practice, no source: a knot that turns
/// back or does not is the commonest, one that nobody has asked for the rarest).
pub(super) fn weight(edit: &Edit, plan: &WrittenKnots) -> u64 {
    match edit {
        Edit::Kind { at, kind } if plan.knots[*at].kind.working_side() == kind.working_side() => 80,
        Edit::Kind { .. } | Edit::Omit { .. } => 40,
        Edit::Extra { at, column, kind } => {
            let mut under = plan.knots[..*at].iter().rev();
            let under = under.find(|under| under.column.index().abs_diff(*column) <= 1);
            match under.filter(|under| under.column.index() == *column) {
                Some(under) if under.kind == *kind => 20,
                Some(_) => 5,
                None => 2,
            }
        }
        Edit::Cross { .. } | Edit::TwiceRow { .. } => 20,
        Edit::OmitRow { .. } => 30,
    }
}

pub(super) fn weight_of(edits: &[Edit], plan: &WrittenKnots) -> u64 {
    edits.iter().map(|edit| weight(edit, plan)).product()
}

impl Edit {
    /// The knot before which it is, or which it is; as an order, and to tie the rest from.
    pub(super) fn at(&self, plan: &WrittenKnots) -> usize {
        match self {
            Self::Kind { at, .. }
            | Self::Omit { at }
            | Self::Extra { at, .. }
            | Self::Cross { at, .. } => *at,
            Self::OmitRow { row } => plan.rows[*row].1.start,
            Self::TwiceRow { row } => plan.rows[*row].1.end,
        }
    }

    /// The column, or the left position, of what is done more than is written.
    pub(super) fn inserted_at(&self) -> Option<usize> {
        match self {
            Self::Extra { column, .. } => Some(*column),
            Self::Cross { left, .. } => Some(*left),
            _ => None,
        }
    }

    pub(super) fn is_of_row(&self) -> bool {
        matches!(self, Self::OmitRow { .. } | Self::TwiceRow { .. })
    }

    /// The column in which there is a knot more or less.
    pub(super) fn recounts(&self, plan: &WrittenKnots) -> Option<usize> {
        match self {
            Self::Omit { at } => Some(plan.knots[*at].column.index()),
            Self::Extra { column, .. } => Some(*column),
            _ => None,
        }
    }

    /// The left one of the two positions that stand the other way round because of it.
    pub(super) fn swaps(&self, plan: &WrittenKnots) -> Option<usize> {
        match self {
            Self::Kind { at, kind } => {
                let knot = plan.knots[*at];
                (knot.kind.changes_places() != kind.changes_places()).then(|| knot.column.index())
            }
            Self::Omit { at } => {
                let knot = plan.knots[*at];
                knot.kind.changes_places().then(|| knot.column.index())
            }
            Self::Extra { column, kind, .. } => kind.changes_places().then_some(*column),
            Self::Cross { left, .. } => Some(*left),
            Self::OmitRow { .. } | Self::TwiceRow { .. } => None,
        }
    }
}

impl WrittenKnots {
    /// Goes through what is done with these edits, which come in the order of their places.
    pub(super) fn done_with(&self, edits: &[Edit], mut act: impl FnMut(TableAct)) {
        let knot = |at: usize, of: Option<usize>| TableAct::Knot {
            column: self.knots[at].column.index(),
            kind: self.knots[at].kind,
            of,
        };
        let mut next = 0;
        for edit in edits {
            for at in next..edit.at(self) {
                act(knot(at, Some(at)));
            }
            next = next.max(edit.at(self));
            match edit {
                Edit::Kind { at, kind } => {
                    act(TableAct::Knot {
                        column: self.knots[*at].column.index(),
                        kind: *kind,
                        of: Some(*at),
                    });
                    next = at + 1;
                }
                Edit::Omit { at } => next = at + 1,
                Edit::Extra { column, kind, .. } => act(TableAct::Knot {
                    column: *column,
                    kind: *kind,
                    of: None,
                }),
                Edit::Cross { left, .. } => act(TableAct::Cross { left: *left }),
                Edit::OmitRow { row } => next = self.rows[*row].1.end,
                Edit::TwiceRow { row } => {
                    for at in self.rows[*row].1.clone() {
                        act(knot(at, None));
                    }
                }
            }
        }
        for at in next..self.knots.len() {
            act(knot(at, Some(at)));
        }
    }

    pub(super) fn acts(&self, edits: &[Edit]) -> Vec<TableAct> {
        let mut acts = Vec::with_capacity(self.knots.len() + 8);
        self.done_with(edits, |act| acts.push(act));
        acts
    }

    pub(super) fn cloth(&self, acts: &[TableAct]) -> Cloth {
        let mut cloth = self.start.clone();
        for act in acts {
            cloth.act(*act);
        }
        cloth
    }

    /// The same in words for others.
    pub(super) fn changes(&self, edits: &[Edit]) -> Vec<Change> {
        let column = |index: usize| {
            let number = u16::try_from(index + 1).ok().and_then(Column::new);
            number.expect("columns of a band")
        };
        let before = |at: usize| self.knots.get(at).copied();
        let all = edits.iter().map(|edit| match *edit {
            Edit::Kind { at, kind } => Change::OtherKind {
                knot: self.knots[at],
                tied: kind,
            },
            Edit::Omit { at } => Change::LeftOut {
                knot: self.knots[at],
            },
            Edit::Extra {
                at,
                column: index,
                kind,
            } => Change::TooMany {
                before: before(at),
                column: column(index),
                tied: kind,
            },
            Edit::Cross { at, left } => Change::TakenForEachOther {
                before: before(at),
                left: column(left).number(),
            },
            Edit::OmitRow { row } => Change::RowLeftOut {
                row: self.rows[row].0,
            },
            Edit::TwiceRow { row } => Change::RowTwice {
                row: self.rows[row].0,
            },
        });
        all.collect()
    }

    /// Every single change that there is. What is done more than is written stands before the first
    /// knot that lies upon it, and nowhere else: between two knots that do not touch it, it would be
    /// the same.
    pub(super) fn edits(&self) -> Vec<Edit> {
        let mut edits = Vec::new();
        for (at, knot) in self.knots.iter().enumerate() {
            let others = Kind::ALL.into_iter().filter(|kind| *kind != knot.kind);
            edits.extend(others.map(|kind| Edit::Kind { at, kind }));
            edits.push(Edit::Omit { at });
        }
        let columns = self.start.columns.len();
        for at in 0..self.knots.len() {
            edits.extend(insertions(
                at,
                beside(self.knots[at].column.index(), columns),
            ));
        }
        edits.extend(insertions(self.knots.len(), 0..columns));
        for row in 0..self.rows.len() {
            edits.push(Edit::OmitRow { row });
            edits.push(Edit::TwiceRow { row });
        }
        edits
    }
}

/// The columns whose knots touch one in this column.
pub(super) fn beside(column: usize, columns: usize) -> Range<usize> {
    column.saturating_sub(1)..columns.min(column + 2)
}

/// All that can be done more than is written before a knot, in some columns.
pub(super) fn insertions(at: usize, columns: Range<usize>) -> impl Iterator<Item = Edit> {
    columns.flat_map(move |column| {
        let knots = Kind::ALL.map(|kind| Edit::Extra { at, column, kind });
        let cross = Edit::Cross { at, left: column };
        knots.into_iter().chain([cross])
    })
}

impl Cloth {
    pub(super) fn act(&mut self, act: TableAct) {
        match act {
            TableAct::Knot { column, kind, .. } => self.tie(column, kind),
            TableAct::Cross { left } => self.order.swap(left, left + 1),
        }
    }
}
