//! What to do about a mistake: untie back to it, or leave it and go on.

use super::edits::{Edit, TableAct};
use super::reached::WrittenKnot;
use super::written::{Cloth, WrittenKnots};
use crate::knot::{Column, Kind};

/// What to untie and tie again, and how the band can go on as it is.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Mend {
    /// The columns of the knots to untie, the last one first: those that lie upon the mistake, and
    /// itself.
    pub untie: Vec<Column>,
    /// The left ones of neighbouring positions whose threads are then to change back, in that order,
    /// from 1.
    pub change_back: Vec<u16>,
    /// What is then to be tied, as it is written.
    pub tie_again: Vec<WrittenKnot>,
    /// How the band can go on without untying anything, so that all rows after that are as
    /// written; nothing where no single knot of the next row brings that about.
    pub going_on: Option<GoingOn>,
    /// The knots that then show another colour than they should.
    pub show: Vec<WrongColour>,
    /// How many knots then lie in the fabric that should not.
    pub too_many: usize,
    /// How many should lie in it and do not.
    pub missing: usize,
}

/// A knot that shows another colour than it should.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WrongColour {
    /// The knot as it is written.
    pub knot: WrittenKnot,
    /// The colour that shows, as an index into the band's palette.
    pub shows: u16,
    /// The colour that should.
    pub should: u16,
}

/// How a band goes on with its mistake in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum GoingOn {
    /// As it is written.
    AsWritten,
    /// With a knot more, before the next row.
    WithAKnot {
        /// The column in which it is tied.
        column: Column,
        /// The way it is tied.
        kind: Kind,
    },
    /// With another knot in the next row.
    WithAnotherKind {
        /// The knot as it is written.
        knot: WrittenKnot,
        /// The way it is tied.
        kind: Kind,
    },
}

impl Mend {
    pub(super) fn of(plan: &WrittenKnots, edits: &[Edit]) -> Self {
        let acts = plan.acts(edits);
        let columns = plan.start.columns.len();
        // From the first act that is not as written on, whatever shares a thread with what is
        // wrong has to come off: a heap, seen from the side.
        let mut touched = vec![false; columns + 2];
        let touch = |from: usize, to: usize, touched: &mut Vec<bool>| touched[from..=to].fill(true);
        let (mut untie, mut change_back) = (Vec::new(), Vec::new());
        let mut stays = vec![false; plan.knots.len()];
        let mut next = 0;
        let column = |index: usize| u16::try_from(index + 1).ok().and_then(Column::new);
        for act in acts.iter().copied() {
            match act {
                TableAct::Cross { left } => {
                    touch(left, left + 1, &mut touched);
                    change_back.extend(column(left).map(Column::number));
                }
                TableAct::Knot {
                    column: at,
                    kind,
                    of,
                } => {
                    if let Some(of) = of {
                        // What was left out would have lain here.
                        for left_out in &plan.knots[next..of] {
                            let left = left_out.column.index();
                            touch(left, left + 1, &mut touched);
                        }
                        next = of + 1;
                    }
                    let right = of.is_some_and(|of| plan.knots[of].kind == kind);
                    if right && !touched[at] && !touched[at + 1] {
                        stays[of.unwrap_or_default()] = true;
                    } else {
                        touch(at, at + 1, &mut touched);
                        untie.extend(column(at));
                    }
                }
            }
        }
        untie.reverse();
        change_back.reverse();
        let again = plan.knots.iter().zip(&stays).filter(|(_, stays)| !**stays);
        let mut mend = Self {
            untie,
            change_back,
            tie_again: again.map(|(knot, _)| *knot).collect(),
            going_on: going_on(plan, &plan.cloth(&acts)),
            show: Vec::new(),
            too_many: 0,
            missing: 0,
        };
        mend.compare(plan, &acts);
        mend
    }

    /// What shows otherwise than it should.
    fn compare(&mut self, plan: &WrittenKnots, acts: &[TableAct]) {
        let (mut right, mut real) = (plan.start.clone(), plan.start.clone());
        let mut should = Vec::with_capacity(plan.knots.len());
        for knot in &plan.knots {
            let column = knot.column.index();
            right.tie(column, knot.kind);
            should.extend(right.columns[column].last());
        }
        let mut tied = 0;
        for act in acts {
            match *act {
                TableAct::Cross { left } => real.order.swap(left, left + 1),
                TableAct::Knot { column, kind, of } => {
                    real.tie(column, kind);
                    let Some(of) = of else {
                        self.too_many += 1;
                        continue;
                    };
                    tied += 1;
                    let colour = |thread: u16| plan.colours[usize::from(thread)];
                    let shows = real.columns[column].last().copied().map(colour);
                    let wrong = WrongColour {
                        knot: plan.knots[of],
                        shows: shows.unwrap_or_default(),
                        should: colour(should[of]),
                    };
                    self.show
                        .extend((wrong.shows != wrong.should).then_some(wrong));
                }
            }
        }
        self.missing = plan.knots.len() - tied;
    }
}

/// How the band can go on from what hangs now, so that what hangs after the next row is as it
/// should be, colour by colour: from there on everything is as written.
fn going_on(plan: &WrittenKnots, now: &Cloth) -> Option<GoingOn> {
    let colours = |order: &[u16]| -> Vec<u16> {
        order
            .iter()
            .map(|thread| plan.colours[usize::from(*thread)])
            .collect()
    };
    let right = plan.end().order;
    let wanted = colours(&right);
    if colours(&now.order) == wanted {
        return Some(GoingOn::AsWritten);
    }
    let row = &plan.next;
    if row.is_empty() {
        return None;
    }
    for left in 0..now.order.len() - 1 {
        let mut order = now.order.clone();
        order.swap(left, left + 1);
        if colours(&order) == wanted {
            let column = u16::try_from(left + 1).ok().and_then(Column::new)?;
            return Some(GoingOn::WithAKnot {
                column,
                kind: Kind::Forward,
            });
        }
    }
    let after = |order: &[u16], other: Option<(usize, Kind)>| {
        let mut order = order.to_vec();
        for (at, knot) in row.iter().enumerate() {
            let other = other.filter(|(other, _)| *other == at);
            let kind = other.map_or(knot.kind, |(_, kind)| kind);
            WrittenKnot { kind, ..*knot }.passes(&mut order);
        }
        colours(&order)
    };
    let wanted = after(&right, None);
    for (at, knot) in row.iter().enumerate() {
        // Of the two kinds that would do, the one that works with the thread that the sheet names.
        let kind = Kind::ALL.into_iter().find(|kind| {
            kind.working_side() == knot.kind.working_side()
                && kind.changes_places() != knot.kind.changes_places()
        })?;
        if after(&now.order, Some((at, kind))) == wanted {
            return Some(GoingOn::WithAnotherKind { knot: *knot, kind });
        }
    }
    None
}
