//! The shape of least energy of a number of knots.
//!
//! Every thread asks both of its knots that the way between them be the one on which it
//! leaves the one and enters the other, each turned with its knot; what misses, squared and
//! summed, is the energy (as-rigid-as-possible, Sorkine & Alexa 2007). For given places the
//! best turn of each knot is a sum of ways; for given turns the best places are the solution
//! of linear equations. Doing both in turn never raises the energy but takes thousands of
//! rounds where a long band bends. So the equations also know how the turns will follow the
//! places (Newton's method, with what would make them indefinite left out). A damping of the
//! turns leads from there back to the plain scheme wherever a round would raise the energy
//! (Levenberg 1944, Marquardt 1963).

use super::links::{Bond, Link, Neighbours, Net};
use super::plane::{Arrow, KnotPose, Motion};
use super::shape::{KnotShape, SlackRange};
use super::skyline::{Skyline, narrow_order};

/// How knots lie.
#[derive(Clone, Debug)]
pub(super) struct LayState {
    pub(super) places: Vec<Arrow>,
    pub(super) turns: Vec<Arrow>,
    /// From a repeat to the next one.
    pub(super) growth: Motion,
}

impl LayState {
    pub(super) fn upright(knots: usize) -> Self {
        Self {
            places: vec![Arrow::NONE; knots],
            turns: vec![Arrow::UPRIGHT; knots],
            growth: Motion::NONE,
        }
    }

    pub(super) fn pose(&self, knot: usize) -> KnotPose {
        KnotPose {
            place: self.places[knot],
            turn: self.turns[knot],
        }
    }

    pub(super) fn put(&mut self, knot: usize, pose: KnotPose) {
        (self.places[knot], self.turns[knot]) = (pose.place, pose.turn);
    }

    pub(super) fn push(&mut self, pose: KnotPose) {
        self.places.push(pose.place);
        self.turns.push(pose.turn);
    }

    fn to(&self, knot: usize, next_repeat: bool) -> Arrow {
        if next_repeat {
            self.growth.place(self.places[knot])
        } else {
            self.places[knot]
        }
    }

    fn turn_at_end(&self, link: &Link) -> Arrow {
        let turn = self.turns[link.to];
        if link.next_repeat {
            turn * self.growth.turn
        } else {
            turn
        }
    }

    /// The way from one knot of a link to the other.
    pub(super) fn way(&self, link: &Link) -> Arrow {
        self.to(link.to, link.next_repeat) - self.places[link.from]
    }
}

/// What came out.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct SettleResult {
    pub(super) rounds: u32,
    pub(super) energy: f64,
    pub(super) settled: bool,
}

/// After this many rounds it is said that the fabric has not settled (our own judgement: a band
/// takes ten to thirty, whether it is long or short).
const MAX_ROUNDS: u32 = 200;

/// It has settled when a round lowers the energy by less than this for each knot, which moves
/// no knot by more than a thousandth of itself (our own judgement).
const ENOUGH: f64 = 1e-11;

/// Where two knots just touch, the energy has a crease, and steps go from one side of it to the
/// other. It has settled there when so many rounds, bold and careful ones,
const ROUNDS_IN_CREASE: u32 = 40;

/// have lowered the energy of a knot by less than this in all (our own judgement: it moves no knot
/// by more than a hundredth of itself).
const ENOUGH_IN_CREASE: f64 = 1e-8;

/// A first guess has settled when a round lowers the energy by less than this for each knot (our
/// own judgement: it moves no knot by more than a fiftieth of itself).
const ENOUGH_FOR_A_GUESS: f64 = 1e-8;

/// Rounding can raise the energy of a knot by so much (our own judgement: far above, and far
/// below what counts).
const ROUNDING: f64 = 1e-14;

/// The stiffness of a turn is never taken for less than this share of the weights on it, so
/// that the equations stay definite (our own judgement).
const LEAST_STIFFNESS: f64 = 0.3;

/// A way is never taken for shorter than this where it divides (in knots).
const SHORT: f64 = 1e-3;

/// How the turns may be treated, from the boldest to the most careful: a round that lowers the
/// energy leads down to bolder ones, one that would raise it up to the next more careful.
const LADDER: [Turning; 16] = [
    Turning::Exact,
    Turning::Swinging(0.01),
    Turning::Swinging(0.1),
    Turning::Swinging(1.0),
    Turning::Damped(0.0),
    Turning::Damped(1e-3),
    Turning::Damped(1e-2),
    Turning::Damped(0.1),
    Turning::Damped(1.0),
    Turning::Damped(10.0),
    Turning::Damped(100.0),
    Turning::Damped(1e3),
    Turning::Damped(1e4),
    Turning::Damped(1e5),
    Turning::Damped(1e6),
    Turning::Damped(1e7),
];

/// The first guess is far from the truth (our own judgement),
const FIRST_RUNG: usize = 6;

/// but one that was laid before, stretch by stretch or in another place, is near it.
const FIRST_RUNG_NEAR: usize = 4;

/// A round that lowers the energy leads down by so many rungs until it goes too far for the first
/// time, and by one from then on (our own judgement: by one all the time it takes a third more
/// rounds, and by two all the time it goes to and fro at a crease).
const RUNGS_DOWN: usize = 2;

/// Up to this rung a round goes nearly as far as it would; above it, a small step may only have
/// been held back.
const NEARLY_FREE: usize = 5;

/// After a rung that led nowhere, this many rounds go on above it (our own judgement).
const PATIENCE: u32 = 2;

/// Products of factorising that are allowed in all, some seconds of work on a slow
/// machine (our own judgement).
const MAX_WORK: f64 = 1e10;

/// What is to be done for each knot in a round besides, counted in such products (measured).
const WORK_OF_KNOT: f64 = 1000.0;

/// With fewer rounds than this hardly any fabric would settle: they are not begun (our own
/// judgement). Rows over a leader take nine, also of two hundred threads.
const FEWEST_ROUNDS: f64 = 12.0;

/// A coefficient for each unknown that a way depends on.
#[derive(Default)]
struct Coefficients {
    entries: [(usize, Arrow); 9],
    length: usize,
}

impl Coefficients {
    fn push(&mut self, unknown: usize, coefficient: Arrow) {
        self.entries[self.length] = (unknown, coefficient);
        self.length += 1;
    }

    /// Adds to the coefficient of an unknown that stands in the row already.
    fn add(&mut self, unknown: usize, coefficient: Arrow) {
        for entry in &mut self.entries[..self.length] {
            if entry.0 == unknown {
                entry.1 += coefficient;
            }
        }
    }

    /// Adds to the coefficient of an unknown, whether it stands in the row already or not.
    fn put(&mut self, unknown: usize, coefficient: Arrow) {
        if self.entries().iter().any(|entry| entry.0 == unknown) {
            self.add(unknown, coefficient);
        } else {
            self.push(unknown, coefficient);
        }
    }

    fn leave_out(&mut self, unknown: usize) {
        self.length -= usize::from(
            self.entries[..self.length]
                .last()
                .is_some_and(|last| last.0 == unknown),
        );
    }

    fn entries(&self) -> &[(usize, Arrow)] {
        &self.entries[..self.length]
    }
}

/// The equations of one round.
struct Equations {
    matrix: Skyline,
    right: Vec<f64>,
}

impl Equations {
    fn clear(&mut self) {
        self.matrix.clear();
        self.right.fill(0.0);
    }

    /// A way that misses by so much, both across and along.
    fn add(&mut self, row: &Coefficients, weight: f64, missing: Arrow) {
        for (at, (unknown, coefficient)) in row.entries().iter().enumerate() {
            let weighted = coefficient.times(weight);
            self.right[*unknown] -= weighted.dot(missing);
            for (other, coefficient) in &row.entries()[..=at] {
                self.matrix
                    .add(*unknown, *other, weighted.dot(*coefficient));
            }
        }
    }

    /// A way that misses by so much in one direction.
    fn add_along(&mut self, row: &Coefficients, weight: f64, direction: Arrow, missing: f64) {
        for (at, (unknown, coefficient)) in row.entries().iter().enumerate() {
            let weighted = coefficient.dot(direction) * weight;
            self.right[*unknown] -= weighted * missing;
            for (other, coefficient) in &row.entries()[..=at] {
                self.matrix
                    .add(*unknown, *other, weighted * coefficient.dot(direction));
            }
        }
    }
}

/// How the turns are treated in a round.
#[derive(Clone, Copy, PartialEq)]
enum Turning {
    /// They stay as they are, and nothing but the threads' ways counts: a first guess.
    Fixed,
    /// They follow the places, held back by so much, and nothing makes the equations indefinite.
    Damped(f64),
    /// They follow the places exactly, but ways are held back by so much from turning otherwise
    /// than their knots: a long band may still swing round as a whole.
    Swinging(f64),
    /// They follow the places exactly: best near the end, where it can be done at all.
    Exact,
}

/// Where the unknowns of each knot stand in the equations.
struct Unknowns {
    /// The first of three of each knot; nothing where the knot stays.
    at: Vec<Option<usize>>,
    /// The first unknown that each three have to do with.
    first: Vec<usize>,
}

impl Unknowns {
    /// From these knots on, by how near others are to them, and of those equally near by their
    /// keys.
    fn of(
        beside: &[Vec<usize>],
        stays: &[bool],
        begin: &[usize],
        key: impl Fn(usize) -> usize,
    ) -> Self {
        let order = narrow_order(beside, begin, key);
        let order: Vec<usize> = order.into_iter().filter(|knot| !stays[*knot]).collect();
        let mut at = vec![None; beside.len()];
        for (three, knot) in order.iter().enumerate() {
            at[*knot] = Some(3 * three);
        }
        let first = order.iter().map(|knot| {
            let others = beside[*knot].iter().filter_map(|other| at[*other]);
            others.chain(at[*knot]).min().unwrap_or(0)
        });
        Self {
            first: first.collect(),
            at,
        }
    }

    /// How many products it takes to factorise the equations.
    fn work(&self) -> f64 {
        lengths(&self.first)
            .map(|length| 3.0 * length * length)
            .sum()
    }
}

/// How many entries each three rows have before their diagonal, the last of them counted.
fn lengths(first: &[usize]) -> impl Iterator<Item = f64> {
    let rows = first.iter().enumerate();
    rows.map(|(three, first)| (3 * three + 2 - first) as f64)
}

/// Knots that look for the shape of least energy.
pub(super) struct Settling<'a> {
    net: &'a Net,
    shape: KnotShape,
    /// The first of three unknowns of each knot; nothing where the knot stays.
    unknowns: Vec<Option<usize>>,
    /// Knots whose turn stays as well.
    foreign: &'a [bool],
    /// The first of the three unknowns of growth, where a repeat grows.
    growth: Option<usize>,
    weights: Vec<f64>,
    equations: Equations,
    work: f64,
    most_rounds: u32,
    first_rung: usize,
    enough: f64,
}

impl<'a> Settling<'a> {
    /// Foreign knots stay where they are. `grows` where the net is a repeat.
    pub(super) fn new(net: &'a Net, shape: KnotShape, foreign: &'a [bool], grows: bool) -> Self {
        let stays = staying(net, foreign);
        let mut beside = vec![Vec::new(); net.knots];
        let mut above = vec![false; net.knots];
        for pair in net.neighbours.iter().filter(|pair| !pair.next_repeat) {
            above[pair.to] = true;
        }
        let pairs = net.links.iter().map(|link| (link.from, link.to));
        for (one, other) in pairs.chain(net.neighbours.iter().map(|pair| (pair.from, pair.to))) {
            if one != other && !stays[one] && !stays[other] {
                beside[one].push(other);
                beside[other].push(one);
            }
        }
        for list in &mut beside {
            list.sort_unstable();
            list.dedup();
        }
        let tops: Vec<usize> = (0..net.knots).filter(|knot| !above[*knot]).collect();
        // A short wide fabric is narrow the other way, from edge to edge.
        let leftmost = net.columns.iter().min();
        let edge = (0..net.knots).filter(|knot| Some(&net.columns[*knot]) == leftmost);
        let edge: Vec<usize> = edge.collect();
        let along = Unknowns::of(&beside, &stays, &tops, |knot| net.columns[knot].into());
        let across = Unknowns::of(&beside, &stays, &edge, |knot| knot);
        let unknowns = match across.work() < along.work() {
            true => across,
            false => along,
        };
        let mut work = unknowns.work() + WORK_OF_KNOT * net.knots as f64;
        let Unknowns {
            at: unknowns,
            mut first,
        } = unknowns;
        let growth = grows.then_some(3 * first.len());
        if grows {
            // It depends on every place, but each of those only on the few beside it.
            work += 3.0 * lengths(&first).sum::<f64>();
            first.push(0);
        }
        let mut weights = vec![0.0; net.knots];
        for link in &net.links {
            let hold = KnotShape::hold(link.bond);
            weights[link.from] += hold;
            weights[link.to] += hold;
        }
        let right = vec![0.0; 3 * first.len()];
        // A matrix that is too large to be worked with is not made either.
        let matrix = Skyline::new(if MAX_WORK / work < FEWEST_ROUNDS {
            Vec::new()
        } else {
            first
        });
        Self {
            net,
            shape,
            unknowns,
            foreign,
            growth,
            weights,
            equations: Equations { matrix, right },
            work,
            most_rounds: MAX_ROUNDS,
            first_rung: FIRST_RUNG,
            enough: ENOUGH,
        }
    }

    /// Whether it is small enough to be solved.
    pub(super) fn is_possible(&self) -> bool {
        MAX_WORK / self.work >= FEWEST_ROUNDS
    }

    /// How many rounds there may be.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "at most MAX_ROUNDS"
    )]
    pub(super) fn most_rounds(&self) -> u32 {
        (MAX_WORK / self.work).min(f64::from(self.most_rounds)) as u32
    }

    /// Allows no more rounds than this.
    pub(super) fn allow(&mut self, rounds: u32) {
        self.most_rounds = rounds;
    }

    /// The knots lie already about as they will.
    pub(super) fn begins_near(&mut self) {
        self.first_rung = FIRST_RUNG_NEAR;
    }

    /// Only a first guess is wanted.
    pub(super) fn roughly(&mut self) {
        self.enough = ENOUGH_FOR_A_GUESS;
    }

    /// Lets the knots settle, beginning as they lie or, where that is better, with the turns
    /// that they have and rows laid flat.
    pub(super) fn settle(&mut self, lying: &mut LayState) -> SettleResult {
        let mut outcome = SettleResult::default();
        if !self.is_possible() || !self.begin(lying) {
            return outcome;
        }
        let most = self.most_rounds();
        let knots = self.net.knots as f64;
        let mut stiffness = self.turn(lying);
        let mut energy = self.energy(lying);
        let mut rung = self.first_rung;
        // How many rounds to go on before a bolder rung is tried again, and how far down that is.
        let (mut patience, mut down) = (0, RUNGS_DOWN);
        // Since which round, and from which energy, it has hardly fallen.
        let mut crease = (0, energy);
        while outcome.rounds < most {
            outcome.rounds += 1;
            if crease.1 - energy > ENOUGH_IN_CREASE * knots {
                crease = (outcome.rounds, energy);
            } else if outcome.rounds - crease.0 > ROUNDS_IN_CREASE {
                outcome.settled = true;
                break;
            }
            let next = self.step(lying, &stiffness, LADDER[rung]).map(|mut next| {
                let stiffness = self.turn(&mut next);
                let energy = self.energy(&next);
                (next, stiffness, energy)
            });
            let better = next.filter(|(_, _, next)| *next <= energy + ROUNDING * knots);
            let Some((next, next_stiffness, next_energy)) = better else {
                if rung + 1 == LADDER.len() {
                    break;
                }
                (rung, patience, down) = (rung + 1, PATIENCE, 1);
                continue;
            };
            let fall = energy - next_energy;
            (*lying, stiffness, energy) = (next, next_stiffness, next_energy.min(energy));
            if fall <= self.enough * knots && rung <= NEARLY_FREE {
                outcome.settled = true;
                break;
            }
            if patience == 0 {
                rung = rung.saturating_sub(down);
            }
            patience -= u32::from(patience > 0);
        }
        outcome.energy = energy;
        outcome
    }

    /// Lays all knots where their threads ask them to be for the turns that they have.
    fn begin(&mut self, lying: &mut LayState) -> bool {
        let Some(flat) = self.step(lying, &[], Turning::Fixed) else {
            return false;
        };
        if self.energy(&flat) < self.energy(lying) {
            *lying = flat;
        }
        true
    }

    /// Turns each knot as its threads ask it to for the places of the knots; gives how firmly
    /// they do.
    fn turn(&self, lying: &mut LayState) -> Vec<f64> {
        let mut asked = vec![Arrow::NONE; self.net.knots];
        for link in &self.net.links {
            let (way, hold) = (lying.way(link), KnotShape::hold(link.bond));
            let leaving = self.shape.leaving(link.leaves, link.bond);
            let entering = self.shape.entering(link.enters, link.bond);
            asked[link.from] += (way * leaving.back()).times(hold);
            let way = if link.next_repeat {
                way * lying.growth.turn.back()
            } else {
                way
            };
            asked[link.to] += (way * entering.back()).times(hold);
        }
        for (knot, asked) in asked
            .iter()
            .enumerate()
            .filter(|(knot, _)| !self.foreign[*knot])
        {
            lying.turns[knot] = asked.direction_or(lying.turns[knot]);
        }
        asked.into_iter().map(Arrow::length).collect()
    }

    fn energy(&self, lying: &LayState) -> f64 {
        energy(self.net, self.shape, lying)
    }

    /// The next places, and growth.
    fn step(&mut self, lying: &LayState, stiffness: &[f64], turning: Turning) -> Option<LayState> {
        self.equations.clear();
        self.add_links(lying, turning);
        match turning {
            Turning::Fixed => self.hold_turns(),
            Turning::Damped(damping) => {
                self.add_distances(lying, Some(damping));
                self.damp_turns(stiffness, Some(damping));
            }
            Turning::Swinging(damping) => {
                self.add_distances(lying, None);
                self.damp_turns(stiffness, None);
                self.damp_ways(lying, damping);
            }
            Turning::Exact => {
                self.add_distances(lying, None);
                self.damp_turns(stiffness, None);
            }
        }
        let Equations { matrix, right } = &mut self.equations;
        if !matrix.factorise() {
            return None;
        }
        matrix.solve(right);
        let mut next = lying.clone();
        for (place, unknown) in next.places.iter_mut().zip(&self.unknowns) {
            if let Some(at) = *unknown {
                *place += Arrow::new(right[at], right[at + 1]);
            }
        }
        if let Some(at) = self.growth {
            next.growth.step += Arrow::new(right[at], right[at + 1]);
            let turn = next.growth.turn * Arrow::about(right[at + 2]);
            next.growth.turn = turn.direction_or(Arrow::UPRIGHT);
        }
        Some(next)
    }

    /// How a way depends on the places of its knots and on growth.
    fn places_row(
        &self,
        lying: &LayState,
        from: usize,
        to: usize,
        next_repeat: bool,
    ) -> Coefficients {
        let mut row = Coefficients::default();
        let turn = if next_repeat {
            lying.growth.turn
        } else {
            Arrow::UPRIGHT
        };
        if let Some(at) = self.unknowns[to] {
            row.push(at, turn);
            row.push(at + 1, turn.quarter());
        }
        if let Some(at) = self.unknowns[from] {
            // A knot of the next repeat may be the same knot: every unknown stands once.
            let put = if from == to {
                Coefficients::add
            } else {
                Coefficients::push
            };
            put(&mut row, at, -Arrow::UPRIGHT);
            put(&mut row, at + 1, -Arrow::UPRIGHT.quarter());
        }
        if let Some(at) = self.growth.filter(|_| next_repeat) {
            row.push(at, Arrow::UPRIGHT);
            row.push(at + 1, Arrow::UPRIGHT.quarter());
            row.push(at + 2, (lying.places[to] * turn).quarter());
        }
        row
    }

    fn add_links(&mut self, lying: &LayState, turning: Turning) {
        let net = self.net;
        for link in &net.links {
            let hold = KnotShape::hold(link.bond);
            if hold == 0.0 {
                continue;
            }
            let way = lying.way(link);
            let (leaving, entering) = asked(self.shape, lying, link);
            for (knot, asked, at_end) in [(link.from, leaving, false), (link.to, entering, true)] {
                let mut row = self.places_row(lying, link.from, link.to, link.next_repeat);
                if turning != Turning::Fixed {
                    if let Some(at) = self.unknowns[knot] {
                        row.push(at + 2, -asked.quarter());
                    }
                    if let Some(at) = self.growth.filter(|_| link.next_repeat && at_end) {
                        row.add(at + 2, -asked.quarter());
                    }
                } else if let Some(at) = self.growth.filter(|_| link.next_repeat) {
                    row.leave_out(at + 2);
                }
                self.equations.add(&row, hold, way - asked);
            }
        }
    }

    fn add_distances(&mut self, lying: &LayState, damping: Option<f64>) {
        let pairs: Vec<_> = distances(self.net, self.shape).collect();
        for (from, to, next_repeat, range) in pairs {
            let way = lying.to(to, next_repeat) - lying.places[from];
            let length = way.length();
            let nearest = range.nearest(length);
            if nearest == length {
                continue;
            }
            let direction = way.direction_or(Arrow::new(0.0, 1.0));
            let row = self.places_row(lying, from, to, next_repeat);
            self.equations
                .add_along(&row, range.weight, direction, length - nearest);
            // What a stretched thread holds sideways; of a pressed one only what damping asks.
            let exact = 1.0 - nearest / length.max(SHORT);
            let sideways = damping.map_or(exact, |damping| exact.max(damping.min(1.0)));
            self.equations
                .add_along(&row, range.weight * sideways, direction.quarter(), 0.0);
        }
    }

    fn damp_turns(&mut self, stiffness: &[f64], damping: Option<f64>) {
        for (knot, unknown) in self.unknowns.iter().enumerate() {
            let Some(at) = *unknown else { continue };
            let weights = self.weights[knot];
            let held = match damping {
                Some(damping) => stiffness[knot].max(LEAST_STIFFNESS * weights) + damping * weights,
                None => stiffness[knot],
            };
            let free = if weights > 0.0 { 0.0 } else { 1.0 };
            self.equations
                .matrix
                .add(at + 2, at + 2, held - weights + free);
        }
        if let Some(at) = self.growth {
            let held = self.equations.matrix.diagonal(at + 2);
            let damping = damping.unwrap_or(0.0);
            self.equations.matrix.add(at + 2, at + 2, damping * held);
        }
    }

    /// Holds each way back from turning otherwise than its knots do. What turns as a whole is
    /// not held: a long band may swing round in one round.
    fn damp_ways(&mut self, lying: &LayState, damping: f64) {
        let net = self.net;
        for link in &net.links {
            let weight = damping * KnotShape::hold(link.bond);
            for share in [[1.0, 0.0], [0.0, 1.0]] {
                self.damp_way(lying, (link.from, link.to, link.next_repeat), share, |_| {
                    weight
                });
            }
        }
        let pairs: Vec<_> = distances(net, self.shape).collect();
        for (from, to, next_repeat, range) in pairs {
            // So much a pressed way gives sideways: left to itself, the equations would be
            // indefinite.
            let gives = |length: f64| {
                let pressed = range.nearest(length) / length.max(SHORT) - 1.0;
                range.weight * (pressed.max(0.0) + damping)
            };
            self.damp_way(lying, (from, to, next_repeat), [0.5, 0.5], gives);
        }
    }

    fn damp_way(
        &mut self,
        lying: &LayState,
        (from, to, next_repeat): (usize, usize, bool),
        share: [f64; 2],
        weight: impl Fn(f64) -> f64,
    ) {
        let way = lying.to(to, next_repeat) - lying.places[from];
        let (length, weight) = (way.length(), weight(way.length()));
        if weight == 0.0 {
            return;
        }
        let aside = way.direction_or(Arrow::new(0.0, 1.0)).quarter();
        let mut row = self.places_row(lying, from, to, next_repeat);
        for (knot, share) in [(from, share[0]), (to, share[1])] {
            if let Some(at) = self.unknowns[knot] {
                row.put(at + 2, -aside.times(length * share));
            }
        }
        if let Some(at) = self.growth.filter(|_| next_repeat) {
            row.put(at + 2, -aside.times(length * share[1]));
        }
        self.equations.add_along(&row, weight, aside, 0.0);
    }

    fn hold_turns(&mut self) {
        let turns = self.unknowns.iter().flatten().copied().chain(self.growth);
        for at in turns {
            self.equations.matrix.add(at + 2, at + 2, 1.0);
        }
    }
}

/// By how much all threads miss what they ask for.
pub(super) fn energy(net: &Net, shape: KnotShape, lying: &LayState) -> f64 {
    let mut energy = 0.0;
    for link in &net.links {
        let (leaving, entering) = asked(shape, lying, link);
        let way = lying.way(link);
        let (out, into) = (way - leaving, way - entering);
        energy += KnotShape::hold(link.bond) * (out.dot(out) + into.dot(into));
    }
    for (from, to, next_repeat, range) in distances(net, shape) {
        let length = (lying.to(to, next_repeat) - lying.places[from]).length();
        let missing = length - range.nearest(length);
        energy += range.weight * missing * missing;
    }
    energy
}

/// The ways that the knots at both ends of a link ask for.
fn asked(shape: KnotShape, lying: &LayState, link: &Link) -> (Arrow, Arrow) {
    (
        shape.leaving(link.leaves, link.bond) * lying.turns[link.from],
        shape.entering(link.enters, link.bond) * lying.turn_at_end(link),
    )
}

/// All pairs of knots that only keep a distance.
fn distances(
    net: &Net,
    shape: KnotShape,
) -> impl Iterator<Item = (usize, usize, bool, SlackRange)> {
    let (apart, edge_loop) = (shape.apart(), shape.edge_loop());
    let columns = net.neighbours.iter();
    let columns =
        columns.map(move |pair: &Neighbours| (pair.from, pair.to, pair.next_repeat, apart));
    let loops = net.links.iter().filter(|link| link.bond == Bond::EdgeLoop);
    let loops = loops.map(move |link| (link.from, link.to, link.next_repeat, edge_loop));
    columns.chain(loops)
}

/// The foreign knots, and one of every piece that has none: it is the lay itself that counts,
/// not where it lies.
fn staying(net: &Net, foreign: &[bool]) -> Vec<bool> {
    let (piece, pieces) = net.pieces();
    let mut held = vec![false; pieces];
    for (piece, _) in piece.iter().zip(foreign).filter(|(_, foreign)| **foreign) {
        held[*piece] = true;
    }
    let mut stays = foreign.to_vec();
    for (knot, piece) in piece.iter().enumerate() {
        if !std::mem::replace(&mut held[*piece], true) {
            stays[knot] = true;
        }
    }
    stays
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::craft::Gauge;

    /// A law: however many rounds are allowed, one more never ends with more energy.
    #[test]
    fn energy_never_rises_from_round_to_round() {
        let beside = [1, 2, 3, 4, 6, 8, 4, 3, 2, 1, 5, 7, 9];
        let leader = [1, 2, 3, 4, 5, 6, 7, 8, 9, 9, 8, 7, 6, 5, 4, 3, 2, 1];
        let crossing = [3, 7, 2, 2, 9, 1, 5, 5, 8, 4, 6, 1, 3];
        for repeat in [&beside[..], &leader, &crossing] {
            let columns = repeat.repeat(6).into_iter().map(|column| column - 1);
            let whole = Net::of(10, columns);
            let once: Vec<u16> = repeat.iter().map(|column| column - 1).collect();
            let endless = Net::of_repeat(10, &once);
            for (net, grows) in [(&whole, false), (&endless, true)] {
                let foreign = vec![false; net.knots];
                let mut before = f64::INFINITY;
                let mut settled = false;
                for rounds in 0..60 {
                    let shape = KnotShape::of(&Gauge::default());
                    let mut settling = Settling::new(net, shape, &foreign, grows);
                    settling.allow(rounds);
                    let mut lying = LayState::upright(net.knots);
                    let outcome = settling.settle(&mut lying);
                    let energy = energy(net, shape, &lying);
                    assert!(
                        energy <= before + 1e-12,
                        "{before} then {energy} after {rounds} rounds"
                    );
                    assert!(
                        (energy - outcome.energy).abs() < 1e-9,
                        "{energy} {}",
                        outcome.energy
                    );
                    (before, settled) = (energy, outcome.settled);
                    if settled {
                        break;
                    }
                }
                assert!(settled, "{} knots settle in 60 rounds", net.knots);
            }
        }
    }

    #[test]
    fn what_has_too_few_rounds_says_that_it_has_not_settled() {
        let net = Net::of(10, (0..9).chain((0..9).rev()).chain(0..9));
        let foreign = vec![false; net.knots];
        let shape = KnotShape::of(&Gauge::default());
        let mut settling = Settling::new(&net, shape, &foreign, false);
        settling.allow(2);
        let outcome = settling.settle(&mut LayState::upright(net.knots));
        assert!(!outcome.settled);
        assert_eq!(outcome.rounds, 2);
    }
}
