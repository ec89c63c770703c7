//! Every single change within the last knots, and every two of them, that make what is seen.
//!
//! One change of a knot changes what hangs by nothing or by two neighbours that stand the other
//! way round. So, for two changes, what hangs at last is drawn back through the knots as they are
//! written; the second change fits only where what hangs before it is that, but for its two
//! neighbours. Changes of one place that exchange the same two are one class, and fit or do not fit
//! together. What is left is tied.

use std::cmp::Ordering;
use std::collections::BTreeMap;

use super::edits::{Edit, beside, insertions, weight_of};
use super::written::{Cloth, SeenCloth, WrittenKnots};

/// So many pairs are tied at most: where little is said of what is seen, nearly all of them fit (our
/// own judgement: a fifth of a second). Those that lie less far back come first.
const MOST_TIED: usize = 1_000_000;

/// So many that fit are kept at most (our own judgement: nobody tells them apart).
const MOST_FITTING: usize = 5_000;

/// Edits that make the same fabric.
pub(super) struct Group {
    /// The likeliest first.
    pub(super) edits: Vec<Vec<Edit>>,
    pub(super) weight: u64,
}

/// What was found.
#[derive(Default)]
pub(super) struct SoughtGroups {
    /// The likeliest first.
    pub(super) groups: Vec<Group>,
    /// Whether there was more to try than was tried.
    pub(super) is_cut_short: bool,
}

/// What explains a sight, by the fabrics that it would make.
struct Found<'a> {
    plan: &'a WrittenKnots,
    seen: &'a SeenCloth,
    /// What hangs, and what has been tied since the start, of the edits that are tried.
    tried: Cloth,
    places: BTreeMap<Cloth, usize>,
    groups: Vec<Group>,
    /// For each place the columns that show another colour than is seen before it.
    wrong: Vec<Vec<usize>>,
    tied: usize,
    fitting: usize,
}

impl<'a> Found<'a> {
    fn new(plan: &'a WrittenKnots, seen: &'a SeenCloth) -> Self {
        Self {
            plan,
            seen,
            tried: plan.start.clone(),
            places: BTreeMap::new(),
            groups: Vec::new(),
            wrong: plan.wrong_before(seen),
            tied: 0,
            fitting: 0,
        }
    }

    fn is_cut_short(&self) -> bool {
        self.tied >= MOST_TIED || self.fitting >= MOST_FITTING
    }

    /// Ties the edits, which come in the order of their places, and keeps them where that is what is
    /// seen.
    fn try_out(&mut self, edits: &[Edit]) {
        if self.is_cut_short() || self.is_wrong_before(edits) {
            return;
        }
        self.tied += 1;
        self.tie(edits);
        if !self.shows() {
            return;
        }
        self.fitting += 1;
        let group = *self
            .places
            .entry(self.tried.clone())
            .or_insert(self.groups.len());
        if group == self.groups.len() {
            self.groups.push(Group {
                edits: Vec::new(),
                weight: 0,
            });
        }
        let group = &mut self.groups[group];
        group.weight += weight_of(edits, self.plan);
        group.edits.push(edits.to_vec());
    }

    /// Whether another colour shows than is seen where neither is anything changed nor do more or
    /// fewer knots lie upon it.
    fn is_wrong_before(&self, edits: &[Edit]) -> bool {
        if edits.iter().any(Edit::is_of_row) {
            return false;
        }
        let mut wrong = self.wrong[edits[0].at(self.plan)].iter();
        wrong.any(|column| {
            edits
                .iter()
                .all(|edit| edit.recounts(self.plan) != Some(*column))
        })
    }

    fn tie(&mut self, edits: &[Edit]) {
        let tried = &mut self.tried;
        tried.order.copy_from_slice(&self.plan.start.order);
        tried.columns.iter_mut().for_each(Vec::clear);
        self.plan.done_with(edits, |act| tried.act(act));
    }

    /// Whether what has been tied is what is seen.
    fn shows(&self) -> bool {
        let Cloth { order, columns } = &self.tried;
        let hanging = order.iter().zip(&self.seen.hanging);
        let mut columns = columns
            .iter()
            .zip(&self.plan.start.columns)
            .zip(&self.seen.columns);
        hanging
            .into_iter()
            .all(|(thread, seen)| self.plan.fits(*thread, *seen))
            && columns.all(|((own, above), seen)| self.plan.column_shows(own, above, seen))
    }

    /// The likeliest first; of those as likely, the one that lies less far back, and then the one that
    /// was found before.
    fn sorted(self) -> SoughtGroups {
        let is_cut_short = self.is_cut_short();
        let (plan, mut groups) = (self.plan, self.groups);
        let place = |edits: &[Edit]| edits.iter().map(|edit| edit.at(plan)).max();
        let likelier = |one: &Vec<Edit>, other: &Vec<Edit>| {
            let way = weight_of(other, plan).cmp(&weight_of(one, plan));
            way.then_with(|| place(other).cmp(&place(one)))
        };
        for group in &mut groups {
            group.edits.sort_by(likelier);
        }
        groups.sort_by(|one, other| match other.weight.cmp(&one.weight) {
            Ordering::Equal => place(&other.edits[0]).cmp(&place(&one.edits[0])),
            way => way,
        });
        SoughtGroups {
            groups,
            is_cut_short,
        }
    }
}

/// Every single change that makes what is seen.
pub(super) fn singles(plan: &WrittenKnots, seen: &SeenCloth) -> SoughtGroups {
    let mut found = Found::new(plan, seen);
    for edit in plan.edits() {
        found.try_out(&[edit]);
    }
    found.sorted()
}

/// Every two changes that make what is seen.
pub(super) fn pairs(plan: &WrittenKnots, seen: &SeenCloth) -> SoughtGroups {
    let mut found = Found::new(plan, seen);
    let edits = Classes::of(plan, seen);
    for place in (0..=plan.knots.len()).rev() {
        edits.pairs_from(place, &mut found);
    }
    for row in (0..plan.rows.len()).rev() {
        edits.pairs_with_row(row, &mut found);
    }
    found.sorted()
}

/// The changes of single knots by their places and by the two neighbours that they exchange.
struct Classes<'a> {
    plan: &'a WrittenKnots,
    /// For each place the changes that exchange nothing, and then those that exchange the threads at
    /// each position and the next.
    by_place: Vec<Vec<Vec<Edit>>>,
    /// What hangs before each knot, and after the last.
    orders: Vec<Vec<u16>>,
    /// What would have to hang there so that the knots as they are written lead to what is seen.
    wanted: Vec<WantedColours>,
}

/// For each position the colour that is wanted; nothing where it does not matter.
type WantedColours = Vec<Option<u16>>;

impl<'a> Classes<'a> {
    fn of(plan: &'a WrittenKnots, seen: &SeenCloth) -> Self {
        let (places, threads) = (plan.knots.len() + 1, plan.start.order.len());
        let mut by_place = vec![vec![Vec::new(); threads]; places];
        for edit in plan.edits() {
            if edit.is_of_row() {
                continue;
            }
            let class = edit.swaps(plan).map_or(0, |left| left + 1);
            by_place[edit.at(plan)][class].push(edit);
        }
        let mut hangs = seen.hanging.clone();
        hangs.resize(threads, None);
        Self {
            plan,
            by_place,
            orders: passed_on(plan, plan.start.order.clone(), 0),
            wanted: drawn_back(plan, hangs, plan.knots.len()),
        }
    }

    /// Every pair of which the first is at this place, both of single knots.
    fn pairs_from(&self, place: usize, found: &mut Found) {
        self.both_at(place, found);
        for (class, firsts) in self.by_place[place].iter().enumerate() {
            if firsts.is_empty() {
                continue;
            }
            let order = exchanged(&self.orders[place], class);
            for (at, order) in (place..).zip(passed_on(self.plan, order, place)) {
                for class in self.fitting(&order, &self.wanted[at]) {
                    for second in &self.by_place[at][class] {
                        for first in firsts {
                            self.try_both(*first, *second, found);
                        }
                    }
                }
            }
        }
    }

    /// Two at different places; or at one, what is done more than is written and then the knot, or two
    /// that do not touch each other.
    fn try_both(&self, first: Edit, second: Edit, found: &mut Found) {
        if first.at(self.plan) < second.at(self.plan) {
            found.try_out(&[first, second]);
            return;
        }
        match (first.inserted_at(), second.inserted_at()) {
            (None, Some(_)) => found.try_out(&[second, first]),
            (Some(one), Some(other)) if one + 1 < other => found.try_out(&[first, second]),
            _ => {}
        }
    }

    /// Two more than is written that touch each other, the one upon the other.
    fn both_at(&self, place: usize, found: &mut Found) {
        let columns = self.plan.start.columns.len();
        for upper in self.by_place[place].iter().flatten() {
            let Some(column) = upper.inserted_at() else {
                continue;
            };
            for under in insertions(place, beside(column, columns)) {
                let mut order = self.orders[place].clone();
                for left in [under.swaps(self.plan), upper.swaps(self.plan)]
                    .into_iter()
                    .flatten()
                {
                    order.swap(left, left + 1);
                }
                if self.fits(&order, &self.wanted[place]) {
                    found.try_out(&[under, *upper]);
                }
            }
        }
    }

    /// Every pair of this row, left out or tied twice, and a change of a knot before or after it, or
    /// of a later row.
    fn pairs_with_row(&self, row: usize, found: &mut Found) {
        let range = self.plan.rows[row].1.clone();
        let (omit, twice) = (Edit::OmitRow { row }, Edit::TwiceRow { row });
        for later in row + 1..self.plan.rows.len() {
            for other in [Edit::OmitRow { row: later }, Edit::TwiceRow { row: later }] {
                found.try_out(&[omit, other]);
                found.try_out(&[twice, other]);
            }
        }
        let mut again = self.wanted[range.end].clone();
        let mut order = self.orders[range.end].clone();
        for at in range.clone() {
            self.plan.knots[at].passes(&mut order);
        }
        for at in range.clone().rev() {
            self.plan.knots[at].passes(&mut again);
        }
        let left_out = self.wanted[range.end].clone();
        let left_out = drawn_back(self.plan, left_out, range.start);
        self.before_row(omit, &left_out, found);
        self.before_row(twice, &drawn_back(self.plan, again, range.end), found);
        self.after_row(omit, range.end, self.orders[range.start].clone(), found);
        self.after_row(twice, range.end, order, found);
    }

    fn before_row(&self, row: Edit, wanted: &[WantedColours], found: &mut Found) {
        for (at, wanted) in wanted.iter().enumerate() {
            for class in self.fitting(&self.orders[at], wanted) {
                for edit in &self.by_place[at][class] {
                    // A knot of a row that is left out is not there to be changed.
                    if at < row.at(self.plan) || edit.inserted_at().is_some() {
                        found.try_out(&[*edit, row]);
                    }
                }
            }
        }
    }

    fn after_row(&self, row: Edit, end: usize, order: Vec<u16>, found: &mut Found) {
        for (at, order) in (end..).zip(passed_on(self.plan, order, end)) {
            for class in self.fitting(&order, &self.wanted[at]) {
                for edit in &self.by_place[at][class] {
                    found.try_out(&[row, *edit]);
                }
            }
        }
    }

    /// The classes of changes after which what hangs is what is wanted.
    fn fitting(&self, order: &[u16], wanted: &WantedColours) -> Vec<usize> {
        let wrong = |at: usize| !self.plan.fits(order[at], wanted[at]);
        let mut misses = (0..order.len()).filter(|at| wrong(*at));
        let lefts = match (misses.next(), misses.next(), misses.next()) {
            (None, ..) => 0..order.len() - 1,
            // Two neighbours can be helped, and one with a neighbour that does not matter.
            (Some(first), None, _) => first.saturating_sub(1)..(first + 1).min(order.len() - 1),
            (Some(first), Some(second), None) if second == first + 1 => first..second,
            _ => return Vec::new(),
        };
        let is_right = (0..order.len()).all(|at| !wrong(at));
        let exchange = lefts.filter(|left| {
            self.plan.fits(order[*left], wanted[left + 1])
                && self.plan.fits(order[left + 1], wanted[*left])
        });
        let exchange = exchange.map(|left| left + 1);
        is_right.then_some(0).into_iter().chain(exchange).collect()
    }

    fn fits(&self, order: &[u16], wanted: &WantedColours) -> bool {
        let mut both = order.iter().zip(wanted);
        both.all(|(thread, wanted)| self.plan.fits(*thread, *wanted))
    }
}

/// What hangs after a change of a class.
fn exchanged(order: &[u16], class: usize) -> Vec<u16> {
    let mut order = order.to_vec();
    if class > 0 {
        order.swap(class - 1, class);
    }
    order
}

/// What hangs before each knot from this place on, and after the last.
fn passed_on(plan: &WrittenKnots, mut order: Vec<u16>, place: usize) -> Vec<Vec<u16>> {
    let mut all = vec![order.clone()];
    for knot in &plan.knots[place..] {
        knot.passes(&mut order);
        all.push(order.clone());
    }
    all
}

/// What would have to hang before each knot up to this place so that the knots as they are written
/// lead to this.
fn drawn_back(plan: &WrittenKnots, mut hangs: WantedColours, place: usize) -> Vec<WantedColours> {
    let mut all = vec![hangs.clone()];
    for knot in plan.knots[..place].iter().rev() {
        // What has changed places has done so both ways.
        knot.passes(&mut hangs);
        all.push(hangs.clone());
    }
    all.reverse();
    all
}
