//! Which of the ways to exchange the ends of a strip breaks at the fewest pieces, found for
//! all ways at once.

use std::collections::BTreeMap;

use super::correlation::Correlation;
use super::strip::{ANY_KIND, Move};
use super::{Fit, Operation, Strip};

/// Marks are kinds, and the one that fits everywhere.
const MARKS: usize = ANY_KIND as usize + 1;

/// Groups larger than this, or of more classes, are not counted with all ways at once but way
/// by way, with a table of what two classes break: only a glide on an odd number of threads makes them, and the larger they are, the
/// fewer they are and the fewer ways it leaves.
const LARGEST: usize = 16;
const MOST_CLASSES: usize = 64;

/// What two classes break together is kept in a table up to this many classes: more would not
/// fit into the cache of a processor, and only groups of more than 16 pieces have them.
const MOST_IN_TABLE: usize = 1024;

/// Pieces that some moves carry to each other. As many of them have to change as are not like
/// most of them; where two groups are to be alike, as many as are not like most of both.
pub(super) struct Groups<'a> {
    strip: &'a Strip,
    /// For each piece its group, and the operation that makes it out of the group's first.
    of: Vec<(usize, Operation)>,
    /// The pieces, group by group, and where each group begins; one more at the end.
    pieces: Vec<usize>,
    begins: Vec<usize>,
    /// For each group, how it looks from its first piece.
    classes: Vec<GroupSignature>,
}

/// How a group looks from one of its pieces: how many of the others are as they should be if
/// it has each mark, and which marks it may have so that the group fits on itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct GroupSignature {
    counts: [u32; MARKS],
    may_be: [bool; MARKS],
}

impl GroupSignature {
    fn size(&self) -> u64 {
        self.counts.iter().map(|count| u64::from(*count)).sum()
    }

    /// The same from a piece that an operation makes out of this one.
    fn seen_by(&self, strip: &Strip, operation: Operation) -> Self {
        let from = |mark: usize| image(strip, operation, mark);
        Self {
            counts: std::array::from_fn(|mark| self.counts[from(mark)]),
            may_be: std::array::from_fn(|mark| self.may_be[from(mark)]),
        }
    }

    /// How many pieces change so that all of these are alike.
    fn breaks(counts: [u32; MARKS], may_be: [bool; MARKS], size: u64) -> u64 {
        let kept = counts.iter().zip(may_be).filter(|(_, may_be)| *may_be);
        size - kept.map(|(count, _)| u64::from(*count)).max().unwrap_or(0)
    }

    /// How many pieces change so that an operation makes the one group out of the other.
    fn breaks_with(&self, other: &Self, strip: &Strip, operation: Operation) -> u64 {
        let other = other.seen_by(strip, operation);
        let counts = std::array::from_fn(|mark| self.counts[mark] + other.counts[mark]);
        let may_be = std::array::from_fn(|mark| self.may_be[mark] && other.may_be[mark]);
        Self::breaks(counts, may_be, self.size() + other.size())
    }
}

fn image(strip: &Strip, operation: Operation, mark: usize) -> usize {
    let mark = u32::try_from(mark).expect("marks are few");
    strip.mark_image(operation, mark) as usize
}

impl<'a> Groups<'a> {
    pub(super) fn new(strip: &'a Strip, moves: &[Move]) -> Self {
        let mut of: Vec<Option<(usize, Operation)>> = vec![None; strip.len()];
        let mut groups = Self {
            strip,
            of: Vec::new(),
            pieces: Vec::with_capacity(strip.len()),
            begins: vec![0],
            classes: Vec::new(),
        };
        for first in 0..strip.len() {
            if of[first].is_some() {
                continue;
            }
            let group = groups.classes.len();
            let mut class = GroupSignature {
                counts: [0; MARKS],
                may_be: [true; MARKS],
            };
            of[first] = Some((group, Operation::Plain));
            groups.pieces.push(first);
            let mut next = groups.begins[group];
            while let Some(&piece) = groups.pieces.get(next) {
                let (_, by) = of[piece].expect("it was reached");
                class.counts[image(strip, by, strip.mark(piece) as usize)] += 1;
                for step in moves {
                    let target = step.goes_to[piece] as usize;
                    let through = by.then(step.operation);
                    match of[target] {
                        None => {
                            of[target] = Some((group, through));
                            groups.pieces.push(target);
                        }
                        Some((_, known)) => groups.keep(&mut class, known.then(through)),
                    }
                }
                next += 1;
            }
            groups.begins.push(groups.pieces.len());
            groups.classes.push(class);
        }
        groups.of = of.into_iter().flatten().collect();
        groups
    }

    /// Lets only such marks be as an operation leaves as they are.
    fn keep(&self, class: &mut GroupSignature, operation: Operation) {
        for (mark, may_be) in class.may_be.iter_mut().enumerate() {
            *may_be &= image(self.strip, operation, mark) == mark;
        }
    }

    fn members(&self, group: usize) -> &[usize] {
        &self.pieces[self.begins[group]..self.begins[group + 1]]
    }

    /// By how many periods the exchange of the ends is to be pushed along so that it breaks at
    /// the fewest pieces: the first such number. Nothing where the groups are too large or too
    /// different to count.
    pub(super) fn best_turn(&self, turned: &Fit<'_>, periods: usize) -> Option<usize> {
        let sizes = || self.begins.windows(2).map(|two| two[1] - two[0]);
        let largest = sizes().max().unwrap_or(1);
        if largest > LARGEST || !sizes().all(|size| largest.is_multiple_of(size)) {
            return None;
        }
        let (class_of, classes) = self.seen_from_each_piece(MOST_CLASSES)?;
        let lying = WalkOrder::of(turned);
        // Every piece counts what its whole group breaks, so each group counts as often as it
        // has pieces, and both groups of a pair do.
        let weight = |class: &GroupSignature| largest as u64 / class.size();
        let operation = turned.operation();
        let row = |one: &GroupSignature| {
            let breaks = |other: &GroupSignature| one.breaks_with(other, self.strip, operation);
            classes
                .iter()
                .map(|other| breaks(other) * weight(one))
                .collect()
        };
        let breaks: Vec<Vec<u64>> = classes.iter().map(row).collect();
        let mut correlation = Correlation::of_length(periods);
        for lane in 0..lying.period {
            let along = |pieces: &[usize]| -> Vec<usize> {
                let lane = pieces.iter().skip(lane).step_by(lying.period);
                lane.map(|piece| class_of[*piece]).collect()
            };
            let (from, to) = (along(&lying.image), along(&lying.plain));
            for (class, breaks) in breaks.iter().enumerate() {
                if from.contains(&class) {
                    let is_it: Vec<u64> = from.iter().map(|it| u64::from(*it == class)).collect();
                    let with: Vec<u64> = to.iter().map(|other| breaks[*other]).collect();
                    correlation.add(&is_it, &with);
                }
            }
        }
        let mut sums = correlation.sums();
        self.correct_what_stays(&lying, operation, &mut sums, |one, other| {
            breaks[class_of[one]][class_of[other]]
        });
        (0..periods).min_by_key(|turn| sums[*turn])
    }

    /// The same, found by trying one way after the other. A way costs a step for each group
    /// and not for each piece: of groups that change places, all pieces do as the first does.
    pub(super) fn best_turn_tried(&self, turned: &Fit<'_>, ways: usize) -> usize {
        let lying = WalkOrder::of(turned);
        let operation = turned.operation();
        let table = self.seen_from_each_piece(MOST_IN_TABLE);
        let table = table.map(|(class_of, classes)| {
            PairTable::of(class_of, &classes, |one, other| {
                one.breaks_with(other, self.strip, operation)
            })
        });
        let breaks_of_group = |group: usize, turn: usize| match &table {
            Some(table) => {
                let first = self.members(group)[0];
                let onto = lying.turned(first, turn);
                match self.of[onto].0 == group {
                    true => self.breaks_turned(group, turn, &lying, operation),
                    false => table.breaks(first, onto),
                }
            }
            None => self.breaks_turned(group, turn, &lying, operation),
        };
        let groups = self.classes.len();
        let breaks =
            |turn: &usize| -> u64 { (0..groups).map(|group| breaks_of_group(group, *turn)).sum() };
        (0..ways).min_by_key(breaks).unwrap_or(0)
    }

    /// How many pieces of a group and of the one with which a turn makes it change places
    /// have to change; twice as many as of the group alone where it stays.
    fn breaks_turned(
        &self,
        group: usize,
        turn: usize,
        lying: &WalkOrder,
        operation: Operation,
    ) -> u64 {
        let members = self.members(group);
        let class = self.classes[group];
        let onto = lying.turned(members[0], turn);
        let (other, by) = self.of[onto];
        if other != group {
            let other = self.classes[other].seen_by(self.strip, by);
            return class.breaks_with(&other, self.strip, operation);
        }
        let mut stays = class;
        for one in members {
            let (_, by) = self.of[*one];
            let (_, back) = self.of[lying.turned(*one, turn)];
            self.keep(&mut stays, by.then(operation).then(back));
        }
        2 * GroupSignature::breaks(stays.counts, stays.may_be, stays.size())
    }

    /// For each piece the number of its class, and the classes; nothing where there are more
    /// than this many.
    fn seen_from_each_piece(&self, most: usize) -> Option<(Vec<usize>, Vec<GroupSignature>)> {
        let mut numbers: BTreeMap<GroupSignature, usize> = BTreeMap::new();
        let mut class_of = Vec::with_capacity(self.of.len());
        for (group, by) in &self.of {
            let class = self.classes[*group].seen_by(self.strip, *by);
            let next = numbers.len();
            class_of.push(*numbers.entry(class).or_insert(next));
            if numbers.len() > most {
                return None;
            }
        }
        let mut classes: Vec<(usize, GroupSignature)> = numbers
            .into_iter()
            .map(|(class, number)| (number, class))
            .collect();
        classes.sort_unstable();
        Some((
            class_of,
            classes.into_iter().map(|(_, class)| class).collect(),
        ))
    }

    /// Groups that a turn leaves in their place were counted as if they were pairs.
    fn correct_what_stays(
        &self,
        lying: &WalkOrder,
        operation: Operation,
        sums: &mut [u64],
        counted: impl Fn(usize, usize) -> u64,
    ) {
        let sizes = self.begins.windows(2).map(|two| two[1] - two[0]);
        let largest = sizes.max().unwrap_or(1) as u64;
        for (group, class) in self.classes.iter().enumerate() {
            let mut turns: BTreeMap<usize, (GroupSignature, u64)> = BTreeMap::new();
            let pairs = self.members(group).iter();
            let pairs = pairs.flat_map(|one| self.members(group).iter().map(move |to| (*one, *to)));
            for (one, other) in pairs {
                if let Some(turn) = lying.turn(one, other) {
                    let (stays, too_many) = turns.entry(turn).or_insert((*class, 0));
                    let back = self.of[one].1.then(operation).then(self.of[other].1);
                    self.keep(stays, back);
                    *too_many += counted(one, other);
                }
            }
            for (turn, (stays, too_many)) in turns {
                let breaks = GroupSignature::breaks(stays.counts, stays.may_be, stays.size());
                sums[turn] = sums[turn] + 2 * largest * breaks - too_many;
            }
        }
    }
}

/// How many pieces change so that two groups are alike, by how they look from a piece of each.
struct PairTable {
    class_of: Vec<usize>,
    classes: usize,
    /// For each class a row with each of the others.
    breaks: Vec<u32>,
}

impl PairTable {
    fn of(
        class_of: Vec<usize>,
        classes: &[GroupSignature],
        breaks: impl Fn(&GroupSignature, &GroupSignature) -> u64,
    ) -> Self {
        let pairs = classes
            .iter()
            .flat_map(|one| classes.iter().map(move |other| (one, other)));
        let breaks =
            pairs.map(|(one, other)| u32::try_from(breaks(one, other)).expect("MAX_KNOTS fits"));
        Self {
            breaks: breaks.collect(),
            classes: classes.len(),
            class_of,
        }
    }

    fn breaks(&self, one: usize, other: usize) -> u64 {
        u64::from(self.breaks[self.class_of[one] * self.classes + self.class_of[other]])
    }
}

/// The pieces of a strip in the order of its walk, and those that its image has in the same
/// places when nothing is pushed along.
struct WalkOrder {
    plain: Vec<usize>,
    image: Vec<usize>,
    /// For each piece its place in `plain`, and where the image has it.
    places: Vec<(usize, usize)>,
    /// After how many places the bare strip comes again.
    period: usize,
}

impl WalkOrder {
    fn of(turned: &Fit<'_>) -> Self {
        let (plain, period) = turned.plain();
        let plain: Vec<usize> = plain.collect();
        let steps = turned.steps();
        let mut image = vec![0; plain.len()];
        let mut places = vec![(0, 0); plain.len()];
        for (piece, step) in steps.into_iter().enumerate() {
            image[step] = piece;
            places[piece].1 = step;
        }
        for (step, piece) in plain.iter().enumerate() {
            places[*piece].0 = step;
        }
        Self {
            plain,
            image,
            places,
            period,
        }
    }

    /// On which piece the image of one lies when it is pushed along by this many periods.
    fn turned(&self, one: usize, turn: usize) -> usize {
        self.plain[(self.places[one].1 + turn * self.period) % self.plain.len()]
    }

    /// By how many periods the image of one piece is pushed along to lie on another.
    fn turn(&self, one: usize, other: usize) -> Option<usize> {
        let length = self.plain.len();
        let apart = (self.places[other].0 + length - self.places[one].1) % length;
        apart
            .is_multiple_of(self.period)
            .then(|| apart / self.period)
    }
}
