//! Every single change within the last knots, and every two of them, that make what is seen.
//!
//! One change of a knot changes what hangs by nothing or by two neighbours that stand the other
//! way round. So, for two changes, what hangs at last is drawn back through the knots as they are
//! written; the second change fits only where what hangs before it is that, but for its two
//! neighbours. What is left is tied.

use std::cmp::Ordering;
use std::collections::BTreeMap;
use std::ops::Range;

use super::written::{Change, Cloth, SeenCloth, WrittenKnots};
use crate::knot::{Column, Kind};

/// A change, by the indices of knots, columns and positions.
#[derive(Clone, Debug, PartialEq, Eq)]
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

/// Edits that make the same fabric.
pub(super) struct Group {
    /// The likeliest first.
    pub(super) edits: Vec<Vec<Edit>>,
    pub(super) weight: f64,
}

/// How often a mistake is made, as compared with others (our own judgement, no source): a knot that
/// turns back or does not is the commonest, one that nobody has asked for the rarest.
fn weight(edit: &Edit, plan: &WrittenKnots) -> f64 {
    match edit {
        Edit::Kind { at, kind } if plan.knots[*at].kind.working_side() == kind.working_side() => {
            8.0
        }
        Edit::Kind { .. } => 4.0,
        Edit::Omit { .. } => 4.0,
        Edit::Extra { at, column, kind } => {
            let before = at.checked_sub(1).map(|before| plan.knots[before]);
            match before.filter(|before| before.column.index() == *column) {
                Some(before) if before.kind == *kind => 2.0,
                Some(_) => 0.5,
                None => 0.2,
            }
        }
        Edit::Cross { .. } => 2.0,
        Edit::OmitRow { .. } => 3.0,
        Edit::TwiceRow { .. } => 2.0,
    }
}

fn weight_of(edits: &[Edit], plan: &WrittenKnots) -> f64 {
    edits.iter().map(|edit| weight(edit, plan)).product()
}

impl Edit {
    /// The knot before which it is, or which it is; as an order, and to tie the rest from.
    fn at(&self, plan: &WrittenKnots) -> usize {
        match self {
            Self::Kind { at, .. }
            | Self::Omit { at }
            | Self::Extra { at, .. }
            | Self::Cross { at, .. } => *at,
            Self::OmitRow { row } => plan.rows[*row].1.start,
            Self::TwiceRow { row } => plan.rows[*row].1.end,
        }
    }

    /// Whether the written knot at its place is another one, or none.
    fn takes_the_place(&self) -> bool {
        matches!(self, Self::Kind { .. } | Self::Omit { .. })
    }

    /// The left one of the two positions that stand the other way round because of it.
    fn swaps(&self, plan: &WrittenKnots) -> Option<usize> {
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
    /// What is done with these edits, in the order of their places.
    pub(super) fn acts(&self, edits: &[Edit]) -> Vec<TableAct> {
        let mut acts = Vec::with_capacity(self.knots.len() + 8);
        let written = |at: usize| TableAct::Knot {
            column: self.knots[at].column.index(),
            kind: self.knots[at].kind,
            of: Some(at),
        };
        let mut left_out: Range<usize> = 0..0;
        for at in 0..=self.knots.len() {
            let mut own = (at < self.knots.len()).then(|| written(at));
            for edit in edits.iter().filter(|edit| edit.at(self) == at) {
                match edit {
                    Edit::Kind { at, kind } => {
                        let column = self.knots[*at].column.index();
                        own = Some(TableAct::Knot {
                            column,
                            kind: *kind,
                            of: Some(*at),
                        });
                    }
                    Edit::Omit { .. } => own = None,
                    Edit::Extra { column, kind, .. } => acts.push(TableAct::Knot {
                        column: *column,
                        kind: *kind,
                        of: None,
                    }),
                    Edit::Cross { left, .. } => acts.push(TableAct::Cross { left: *left }),
                    Edit::OmitRow { row } => left_out = self.rows[*row].1.clone(),
                    Edit::TwiceRow { row } => {
                        let again = self.rows[*row].1.clone().map(|at| {
                            let knot = self.knots[at];
                            TableAct::Knot {
                                column: knot.column.index(),
                                kind: knot.kind,
                                of: None,
                            }
                        });
                        acts.extend(again);
                    }
                }
            }
            if !left_out.contains(&at) {
                acts.extend(own);
            }
        }
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
        let all = edits.iter().map(|edit| match edit {
            Edit::Kind { at, kind } => Change::OtherKind {
                knot: self.knots[*at],
                tied: *kind,
            },
            Edit::Omit { at } => Change::LeftOut {
                knot: self.knots[*at],
            },
            Edit::Extra {
                at,
                column: index,
                kind,
            } => Change::TooMany {
                before: self.knots.get(*at).copied(),
                column: column(*index),
                tied: *kind,
            },
            Edit::Cross { at, left } => Change::TakenForEachOther {
                before: self.knots.get(*at).copied(),
                left: column(*left).number(),
            },
            Edit::OmitRow { row } => Change::RowLeftOut {
                row: self.rows[*row].0,
            },
            Edit::TwiceRow { row } => Change::RowTwice {
                row: self.rows[*row].0,
            },
        });
        all.collect()
    }

    /// Every single change that there is.
    fn edits(&self) -> Vec<Edit> {
        let mut edits = Vec::new();
        for (at, knot) in self.knots.iter().enumerate() {
            let others = Kind::ALL.into_iter().filter(|kind| *kind != knot.kind);
            edits.extend(others.map(|kind| Edit::Kind { at, kind }));
            edits.push(Edit::Omit { at });
        }
        for at in 0..=self.knots.len() {
            for column in 0..self.start.columns.len() {
                edits.extend(Kind::ALL.map(|kind| Edit::Extra { at, column, kind }));
                edits.push(Edit::Cross { at, left: column });
            }
        }
        for row in 0..self.rows.len() {
            edits.push(Edit::OmitRow { row });
            edits.push(Edit::TwiceRow { row });
        }
        edits
    }
}

impl Cloth {
    fn act(&mut self, act: TableAct) {
        match act {
            TableAct::Knot { column, kind, .. } => self.tie(column, kind),
            TableAct::Cross { left } => self.order.swap(left, left + 1),
        }
    }
}

/// What explains a sight, by the fabrics that it would make.
struct Found<'a> {
    plan: &'a WrittenKnots,
    seen: &'a SeenCloth,
    groups: BTreeMap<Cloth, Group>,
}

impl<'a> Found<'a> {
    fn new(plan: &'a WrittenKnots, seen: &'a SeenCloth) -> Self {
        Self {
            plan,
            seen,
            groups: BTreeMap::new(),
        }
    }

    fn try_out(&mut self, edits: Vec<Edit>) {
        let acts = self.plan.acts(&edits);
        let cloth = self.plan.cloth(&acts);
        if !self.plan.shows(&cloth, self.seen) {
            return;
        }
        let weight = weight_of(&edits, self.plan);
        let group = self.groups.entry(cloth).or_insert(Group {
            edits: Vec::new(),
            weight: 0.0,
        });
        group.weight += weight;
        group.edits.push(edits);
    }

    /// The likeliest first; of those as likely, the one that lies less far back.
    fn sorted(self) -> Vec<Group> {
        let plan = self.plan;
        let weigh = |edits: &[Edit]| weight_of(edits, plan);
        let place = |edits: &Vec<Edit>| edits.iter().map(|edit| edit.at(plan)).max();
        let likelier =
            |one: &Vec<Edit>, other: &Vec<Edit>| match weigh(other).total_cmp(&weigh(one)) {
                Ordering::Equal => place(other).cmp(&place(one)),
                way => way,
            };
        let mut groups: Vec<Group> = self.groups.into_values().collect();
        for group in &mut groups {
            group.edits.sort_by(likelier);
        }
        groups.sort_by(|one, other| {
            let way = other.weight.total_cmp(&one.weight);
            way.then_with(|| likelier(&one.edits[0], &other.edits[0]))
        });
        groups
    }
}

/// Every single change that makes what is seen.
pub(super) fn singles(plan: &WrittenKnots, seen: &SeenCloth) -> Vec<Group> {
    let mut found = Found::new(plan, seen);
    for edit in plan.edits() {
        found.try_out(vec![edit]);
    }
    found.sorted()
}

/// So many pairs are tied at most: where little is said of what is seen, nearly all of them fit
/// (our own judgement: a fifth of a second).
const MOST_TIED: usize = 200_000;

/// Every two changes that make what is seen.
pub(super) fn pairs(plan: &WrittenKnots, seen: &SeenCloth) -> Vec<Group> {
    let mut found = Found::new(plan, seen);
    let edits = plan.edits();
    let drawn_back = drawn_back(plan, seen);
    let mut by_place: Vec<Vec<&Edit>> = vec![Vec::new(); plan.knots.len() + 1];
    let (mut rows, mut tied) = (Vec::new(), 0);
    for edit in &edits {
        match edit {
            Edit::OmitRow { .. } | Edit::TwiceRow { .. } => rows.push(edit),
            edit => by_place[edit.at(plan)].push(edit),
        }
    }
    for row in rows {
        for edit in edits.iter().filter(|edit| *edit != row) {
            let mut both = vec![row.clone(), edit.clone()];
            both.sort_by_key(|edit| edit.at(plan));
            found.try_out(both);
        }
    }
    for first in by_place.iter().flatten() {
        let place = first.at(plan);
        let mut order = plan.start.order.clone();
        for knot in &plan.knots[..place] {
            knot.passes(&mut order);
        }
        if let Some(left) = first.swaps(plan) {
            order.swap(left, left + 1);
        }
        for at in place..=plan.knots.len() {
            let wanted = &drawn_back[at];
            let misses = misses(plan, &order, wanted);
            for second in &by_place[at] {
                // Of two at one place each pair comes once, and a knot has one kind.
                if at == place && (second.takes_the_place() || !first.takes_the_place()) {
                    continue;
                }
                let fits = match (misses, second.swaps(plan)) {
                    (Misses::None, None) => true,
                    (Misses::Few, None) | (Misses::Many, _) => false,
                    (_, Some(left)) => {
                        let mut swapped = order.clone();
                        swapped.swap(left, left + 1);
                        matches!(self::misses(plan, &swapped, wanted), Misses::None)
                    }
                };
                if fits && tied < MOST_TIED {
                    tied += 1;
                    let pair = if at == place {
                        [*second, *first]
                    } else {
                        [*first, *second]
                    };
                    found.try_out(pair.map(Clone::clone).to_vec());
                }
            }
            if let Some(knot) = plan.knots.get(at) {
                knot.passes(&mut order);
            }
        }
    }
    found.sorted()
}

/// Before each knot, and after the last, what would have to hang so that the knots as they are
/// written lead to what is seen.
fn drawn_back(plan: &WrittenKnots, seen: &SeenCloth) -> Vec<Vec<Option<u16>>> {
    let mut hangs = seen.hanging.clone();
    hangs.resize(plan.start.order.len(), None);
    let mut all = vec![hangs.clone()];
    for knot in plan.knots.iter().rev() {
        // What has changed places has done so both ways.
        knot.passes(&mut hangs);
        all.push(hangs.clone());
    }
    all.reverse();
    all
}

#[derive(Clone, Copy)]
enum Misses {
    None,
    Few,
    Many,
}

/// How many positions do not hang as they should: two neighbours can be helped.
fn misses(plan: &WrittenKnots, order: &[u16], wanted: &[Option<u16>]) -> Misses {
    let wrong = order
        .iter()
        .zip(wanted)
        .filter(|(thread, seen)| !plan.fits(**thread, **seen));
    match wrong.take(3).count() {
        0 => Misses::None,
        1 | 2 => Misses::Few,
        _ => Misses::Many,
    }
}
