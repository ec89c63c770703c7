//! One connected piece of a band, laid: as a whole where it is short, else as a repeat that
//! goes on without end, with both ends laid against it.
//!
//! A thread that is tied in the lead-in and the lead-out but in no repeat between them floats
//! over the whole middle; where that is solved as a repeat, its one long stretch pulls at nothing.

use std::cmp::Ordering;

use super::links::Net;
use super::plane::{Arrow, KnotPose, Motion};
use super::settle::{LayState, SettleResult, Settling, energy};
use super::shape::KnotShape;
use super::sweep;

/// The columns of a piece of fabric, as indices from its own left edge.
#[derive(Clone, Debug, Default)]
pub(super) struct PieceColumns {
    pub(super) threads: u16,
    pub(super) lead_in: Vec<u16>,
    pub(super) repeat: Vec<u16>,
    pub(super) repeats: u32,
    pub(super) lead_out: Vec<u16>,
}

/// A laid piece: its beginning knot by knot, then a repeat this many times, then its end.
#[derive(Clone, Debug)]
pub(super) struct LaidStrip {
    pub(super) begin: Vec<KnotPose>,
    pub(super) repeat: Vec<KnotPose>,
    pub(super) times: u32,
    /// From a repeat to the next one.
    pub(super) growth: Motion,
    pub(super) end: Vec<KnotPose>,
    pub(super) outcome: SettleResult,
    /// How many knots had to be solved for it.
    pub(super) solved_knots: usize,
}

/// How the knots of a repeat lie that is tied without end.
pub(super) struct EndlessRepeat {
    /// Its columns alone.
    pub(super) columns: PieceColumns,
    pub(super) shape: KnotShape,
    lying: LayState,
    outcome: SettleResult,
}

impl EndlessRepeat {
    /// This many of its repeats.
    pub(super) fn strip(&self, times: u32) -> LaidStrip {
        LaidStrip {
            begin: Vec::new(),
            repeat: spots(&self.lying).collect(),
            times,
            growth: self.lying.growth,
            end: Vec::new(),
            outcome: self.outcome,
            solved_knots: self.lying.places.len(),
        }
    }
}

/// Up to this many knots a piece is solved as a whole (our own judgement: a few milliseconds).
const SOLVED_WHOLE: u64 = 600;

/// From this many repeats on, knots begin as those of the endless repeat lie (our own judgement:
/// of fewer, hardly one lies so).
const FEWEST_REPEATS: u32 = 3;

/// The ends are first laid over this many knots, as a multiple of the square of the threads:
/// one width of the band (our own judgement; they are laid over more where that is not enough).
const END_IN_SQUARES: u64 = 1;

/// The ends are long enough when the repeat next to the middle lies as the middle does, to
/// this share of a knot (our own judgement: no eye sees it).
const AS_THE_MIDDLE: f64 = 2e-3;

/// With no more energy than this for each knot a piece lies at rest that nobody has solved (our own
/// judgement: what is left of a lay that has settled is less).
const AT_REST: f64 = 1e-8;

/// A repeat that turns by less than this is straight (our own judgement: a thousand repeats
/// go aside by half of one).
const STRAIGHT: f64 = 1e-6;

impl PieceColumns {
    pub(super) fn knots(&self) -> u64 {
        let repeats = u64::from(self.repeats) * self.repeat.len() as u64;
        repeats + (self.lead_in.len() + self.lead_out.len()) as u64
    }

    /// The same knots with the shortest repeat that they have, and how often it stands in the
    /// repeat that was given. Where threads cross says nothing of what they show: rows over a
    /// leader that show a picture of hundreds of rows are two rows, again and again.
    pub(super) fn in_shortest_repeats(self) -> (Self, u32) {
        let all = self.repeat.len();
        let comes_again = |length: usize| {
            all.is_multiple_of(length) && self.repeat[length..] == self.repeat[..all - length]
        };
        let shortest = (1..all).find(|length| comes_again(*length));
        let times = shortest.and_then(|length| u32::try_from(all / length).ok());
        let repeats = times.and_then(|times| self.repeats.checked_mul(times));
        let (Some(length), Some(times), Some(repeats)) = (shortest, times, repeats) else {
            return (self, 1);
        };
        let repeat = self.repeat[..length].to_vec();
        let shorter = Self {
            repeat,
            repeats,
            ..self
        };
        (shorter, times)
    }

    /// Left and right exchanged.
    pub(super) fn mirrored(&self) -> Self {
        let all = |list: &[u16]| {
            list.iter()
                .map(|column| self.threads - 2 - column)
                .collect()
        };
        Self {
            threads: self.threads,
            lead_in: all(&self.lead_in),
            repeat: all(&self.repeat),
            repeats: self.repeats,
            lead_out: all(&self.lead_out),
        }
    }

    /// Whether its first knot that lies otherwise in its mirror image lies at the left.
    pub(super) fn begins_at_the_left(&self) -> bool {
        let all = [&self.lead_in, &self.repeat, &self.lead_out];
        let all = all.into_iter().flatten();
        let mut ways = all.map(|column| (2 * column).cmp(&(self.threads - 2)));
        ways.find(|way| way.is_ne()).is_none_or(Ordering::is_lt)
    }

    fn all(&self) -> impl Iterator<Item = u16> {
        self.all_of(self.repeats)
    }

    /// The columns of all knots, if it had this many repeats.
    pub(super) fn all_of(&self, repeats: u32) -> impl Iterator<Item = u16> {
        let repeats = (0..repeats).flat_map(|_| &self.repeat);
        let (before, after) = (self.lead_in.iter(), self.lead_out.iter());
        before.chain(repeats).chain(after).copied()
    }

    /// Lays the piece, beginning as its endless repeat lies, if it has one that hangs together.
    /// Nothing where that is too much work.
    pub(super) fn lay(&self, shape: KnotShape, endless: &[EndlessRepeat]) -> Option<LaidStrip> {
        if self.threads == 2 {
            return Some(self.lay_one_column(shape));
        }
        let squares = END_IN_SQUARES * u64::from(self.threads) * u64::from(self.threads);
        let mut own = squares.div_ceil(self.repeat.len().max(1) as u64).max(2);
        let is_long = |own: u64| 2 * own + 2 < u64::from(self.repeats);
        let [
            EndlessRepeat {
                lying: pattern,
                outcome,
                ..
            },
        ] = endless
        else {
            return self.lay_whole(shape, None);
        };
        if self.repeats < FEWEST_REPEATS {
            return self.lay_whole(shape, None);
        }
        if self.knots() <= SOLVED_WHOLE || !is_long(own) {
            let whole = self.lay_whole(shape, Some(pattern));
            return whole.or_else(|| self.lay_as_repeated(shape, pattern, *outcome));
        }
        let mut laid = None;
        while is_long(own) {
            let own_repeats = u32::try_from(own).ok()?;
            let begin = self.lay_begin(shape, pattern, own_repeats);
            let end = self.lay_end(shape, pattern, own_repeats);
            let (Some(begin), Some(end)) = (begin, end) else {
                // Longer ends would be too much work: the shorter ones have to do.
                break;
            };
            let is_enough = begin.is_long_enough() && end.is_long_enough();
            // What has not settled would not do so where it is longer either.
            let is_the_last = !(begin.outcome.settled && end.outcome.settled);
            laid = Some(self.join(shape, pattern, *outcome, own_repeats, begin, end));
            if is_enough || is_the_last {
                return laid;
            }
            own *= 2;
        }
        let whole = self.lay_whole(shape, Some(pattern));
        whole
            .or(laid)
            .or_else(|| self.lay_as_repeated(shape, pattern, *outcome))
    }

    /// How the repeat lies when it is tied without end, part by part where columns without knots
    /// split it. Nothing where that is too much work. Where the piece has been laid and ties its
    /// repeat but once, that begins as it lies there.
    pub(super) fn lay_endless(
        &self,
        shape: KnotShape,
        once: Option<&LaidStrip>,
    ) -> Option<Vec<EndlessRepeat>> {
        let parts = self.parts_of_repeat().into_iter();
        let endless = parts.map(|(first, part)| {
            let lying = once.map(|once| self.of_part(once, first, part.threads));
            part.into_endless(shape, lying)
        });
        endless.collect()
    }

    /// How the knots of a part of the repeat lie in a piece that ties it once.
    fn of_part(&self, once: &LaidStrip, first: u16, threads: u16) -> LayState {
        let spots = once.spots().skip(self.lead_in.len());
        let own = first..first + threads - 1;
        let knots = spots
            .zip(&self.repeat)
            .filter(|(_, column)| own.contains(column));
        let mut lying = LayState::upright(0);
        for (spot, _) in knots {
            lying.push(spot);
        }
        lying
    }

    /// The repeat, part by part where columns without knots split it, each with its first column.
    fn parts_of_repeat(&self) -> Vec<(u16, Self)> {
        let mut used = vec![false; usize::from(self.threads)];
        for column in &self.repeat {
            used[usize::from(*column)] = true;
        }
        let (mut parts, mut first) = (Vec::new(), 0);
        for run in used.chunk_by(|one, other| one == other) {
            let next = first + u16::try_from(run.len()).expect("no more than the threads");
            if run[0] {
                let own = self
                    .repeat
                    .iter()
                    .filter(|column| (first..next).contains(column));
                let part = Self {
                    threads: next - first + 1,
                    repeat: own.map(|column| column - first).collect(),
                    repeats: 1,
                    ..Self::default()
                };
                parts.push((first, part));
            }
            first = next;
        }
        parts
    }

    /// Two threads that only tie each other are all loops, which ask no knot to lie or turn
    /// in any way: it lies one upon the other, at rest, as on the lattice.
    #[allow(clippy::cast_precision_loss, reason = "at most MAX_KNOTS knots")]
    fn lay_one_column(&self, shape: KnotShape) -> LaidStrip {
        let above = shape.one_upon_another();
        let spots = |from: u64, knots: usize| {
            let at = (from..).take(knots);
            let spot = |at: u64| KnotPose {
                place: Arrow::new(0.0, at as f64 * above),
                turn: Arrow::UPRIGHT,
            };
            at.map(spot).collect::<Vec<_>>()
        };
        let (lead, repeat, end) = (self.lead_in.len(), self.repeat.len(), self.lead_out.len());
        LaidStrip {
            begin: spots(0, lead),
            repeat: spots(lead as u64, repeat),
            times: if repeat > 0 { self.repeats } else { 0 },
            growth: Motion {
                turn: Arrow::UPRIGHT,
                step: Arrow::new(0.0, repeat as f64 * above),
            },
            end: spots(self.knots() - end as u64, end),
            outcome: SettleResult {
                settled: true,
                ..SettleResult::default()
            },
            solved_knots: lead + repeat + end,
        }
    }

    /// Lays all knots at once, beginning as the endless repeat lies, if that is known.
    pub(super) fn lay_whole(
        &self,
        shape: KnotShape,
        pattern: Option<&LayState>,
    ) -> Option<LaidStrip> {
        let knots = self.knots();
        if knots > LARGEST {
            return None;
        }
        let net = Net::of(self.threads, self.all());
        let foreign = vec![false; net.knots];
        let mut settling = Settling::new(&net, shape, &foreign, false);
        if !settling.is_possible() {
            return None;
        }
        let mut lying = match pattern {
            Some(pattern) => self.as_repeated(pattern),
            None => sweep::begin(&net, shape, self.threads, settling.most_rounds()),
        };
        if pattern.is_some() || sweep::is_needed(&net) {
            settling.begins_near();
        }
        let outcome = settling.settle(&mut lying);
        Some(LaidStrip {
            begin: spots(&lying).collect(),
            repeat: Vec::new(),
            times: 0,
            growth: Motion::NONE,
            end: Vec::new(),
            outcome,
            solved_knots: net.knots,
        })
    }

    /// A piece without leads that is too much to solve as a whole, as its endless repeat lies. It
    /// lies at rest where its ends ask for nothing else, as rows over a leader do.
    #[allow(clippy::cast_precision_loss, reason = "at most MAX_KNOTS knots")]
    fn lay_as_repeated(
        &self,
        shape: KnotShape,
        pattern: &LayState,
        outcome: SettleResult,
    ) -> Option<LaidStrip> {
        if !(self.lead_in.is_empty() && self.lead_out.is_empty()) {
            return None;
        }
        let next = f64::from(self.repeats - 1) * outcome.energy;
        let energy = self.energy_of_one(shape, pattern) + next;
        let settled = outcome.settled && energy <= AT_REST * self.knots() as f64;
        Some(LaidStrip {
            begin: Vec::new(),
            repeat: spots(pattern).collect(),
            times: self.repeats,
            growth: pattern.growth,
            end: Vec::new(),
            outcome: SettleResult {
                energy,
                settled,
                ..outcome
            },
            solved_knots: self.repeat.len(),
        })
    }

    /// All knots as the endless repeat lies, those of the leads beside it.
    fn as_repeated(&self, pattern: &LayState) -> LayState {
        let mut lying = LayState::upright(0);
        lying.take(self.lead_in.len(), Motion::NONE);
        let mut pose = Motion::NONE;
        for repeat in 0..self.repeats {
            if repeat > 0 {
                pose = pattern.growth.after(pose);
            }
            lying.take_repeat(pattern, pose);
        }
        lying.take(self.lead_out.len(), pose);
        lying
    }

    /// The repeat of a piece that has nothing else, without end; beginning as it lies when it is
    /// tied once, where that is known.
    fn into_endless(self, shape: KnotShape, once: Option<LayState>) -> Option<EndlessRepeat> {
        if self.threads == 2 {
            let strip = self.lay_one_column(shape);
            let mut lying = LayState::upright(0);
            for spot in &strip.repeat {
                lying.push(*spot);
            }
            lying.growth = strip.growth;
            let outcome = strip.outcome;
            return Some(EndlessRepeat {
                columns: self,
                shape,
                lying,
                outcome,
            });
        }
        let net = Net::of_repeat(self.threads, &self.repeat);
        let foreign = vec![false; net.knots];
        let is_tied_once = once.is_some();
        let mut lying = once.unwrap_or_else(|| LayState::upright(0));
        let mut outcome = SettleResult {
            settled: true,
            ..SettleResult::default()
        };
        // What is tied once lies as it does: only how it would go on is asked.
        if !(is_tied_once && sweep::go_on(&net, shape, self.threads, &mut lying)) {
            let mut settling = Settling::new(&net, shape, &foreign, true);
            if !settling.is_possible() {
                return None;
            }
            if !is_tied_once {
                lying = sweep::begin(&net, shape, self.threads, settling.most_rounds());
            }
            if !is_tied_once && sweep::is_needed(&net) {
                sweep::go_on(&net, shape, self.threads, &mut lying);
            }
            if is_tied_once || sweep::is_needed(&net) {
                settling.begins_near();
            }
            outcome = settling.settle(&mut lying);
        }
        if lying.growth.turn.along.abs() < STRAIGHT {
            lying.growth.turn = Arrow::UPRIGHT;
        }
        Some(EndlessRepeat {
            columns: self,
            shape,
            lying,
            outcome,
        })
    }

    /// The lead-in and this many repeats, laid against a repeat in its place.
    fn lay_begin(&self, shape: KnotShape, pattern: &LayState, own: u32) -> Option<SettledEnd> {
        let back = pattern.growth.undone().repeated(own);
        let mut lying = LayState::upright(0);
        let lead = self.lead_in.len();
        lying.take(lead, back);
        for repeat in 0..=own {
            lying.take_repeat(pattern, pattern.growth.repeated(repeat).after(back));
        }
        let columns = self
            .lead_in
            .iter()
            .chain((0..=own).flat_map(|_| &self.repeat));
        let net = Net::of(self.threads, columns.copied());
        let own_knots = net.knots - self.repeat.len();
        let foreign: Vec<bool> = (0..net.knots).map(|knot| knot >= own_knots).collect();
        let beside = own_knots - self.repeat.len()..own_knots;
        SettledEnd::settle(shape, &net, &foreign, lying, 0..own_knots, beside)
    }

    /// This many repeats and the lead-out, laid against a repeat in its place.
    fn lay_end(&self, shape: KnotShape, pattern: &LayState, own: u32) -> Option<SettledEnd> {
        let mut lying = LayState::upright(0);
        for repeat in 0..=own {
            lying.take_repeat(pattern, pattern.growth.repeated(repeat));
        }
        lying.take(self.lead_out.len(), pattern.growth.repeated(own));
        let columns = (0..=own).flat_map(|_| &self.repeat).chain(&self.lead_out);
        let net = Net::of(self.threads, columns.copied());
        let one = self.repeat.len();
        let foreign: Vec<bool> = (0..net.knots).map(|knot| knot < one).collect();
        SettledEnd::settle(shape, &net, &foreign, lying, one..net.knots, one..2 * one)
    }

    /// The energy of a single repeat that lies as the endless one does.
    fn energy_of_one(&self, shape: KnotShape, pattern: &LayState) -> f64 {
        let net = Net::of(self.threads, self.repeat.iter().copied());
        energy(&net, shape, pattern)
    }

    fn join(
        &self,
        shape: KnotShape,
        pattern: &LayState,
        middle: SettleResult,
        own: u32,
        begin: SettledEnd,
        end: SettledEnd,
    ) -> LaidStrip {
        let times = self.repeats - 2 * own;
        let to_end = pattern.growth.repeated(times - 1);
        let outcomes = [middle, begin.outcome, end.outcome];
        let is_enough = begin.is_long_enough() && end.is_long_enough();
        // The repeat beside each end is counted with it: between the two lie the others and
        // what leads from one to the next.
        let inside = self.energy_of_one(shape, pattern);
        let between = f64::from(times - 1) * middle.energy - inside;
        LaidStrip {
            solved_knots: begin.spots.len() + end.spots.len() + self.repeat.len(),
            begin: begin.spots,
            repeat: spots(pattern).collect(),
            times,
            growth: pattern.growth,
            end: end
                .spots
                .into_iter()
                .map(|spot| spot.moved(to_end))
                .collect(),
            outcome: SettleResult {
                rounds: outcomes.iter().map(|outcome| outcome.rounds).sum(),
                energy: begin.outcome.energy + end.outcome.energy + between,
                settled: is_enough && outcomes.iter().all(|outcome| outcome.settled),
            },
        }
    }
}

/// More knots than this are never solved as a whole (our own judgement: some seconds).
const LARGEST: u64 = 200_000;

/// One end of a long piece.
struct SettledEnd {
    spots: Vec<KnotPose>,
    outcome: SettleResult,
    /// By how much the repeat next to the middle lies otherwise than the middle.
    aside: f64,
}

impl SettledEnd {
    fn is_long_enough(&self) -> bool {
        self.aside <= AS_THE_MIDDLE
    }

    fn settle(
        shape: KnotShape,
        net: &Net,
        foreign: &[bool],
        mut lying: LayState,
        own: std::ops::Range<usize>,
        beside: std::ops::Range<usize>,
    ) -> Option<Self> {
        let mut settling = Settling::new(net, shape, foreign, false);
        if !settling.is_possible() {
            return None;
        }
        settling.begins_near();
        let before: Vec<Arrow> = lying.places[beside.clone()].to_vec();
        let outcome = settling.settle(&mut lying);
        let after = &lying.places[beside];
        let aside = before
            .iter()
            .zip(after)
            .map(|(one, other)| (*one - *other).length());
        let aside = aside.fold(0.0, f64::max);
        Some(Self {
            spots: spots(&lying).skip(own.start).take(own.len()).collect(),
            outcome,
            aside,
        })
    }
}

impl LayState {
    fn take(&mut self, knots: usize, pose: Motion) {
        let spot = pose.place(Arrow::NONE);
        self.places.extend(std::iter::repeat_n(spot, knots));
        self.turns.extend(std::iter::repeat_n(pose.turn, knots));
    }

    fn take_repeat(&mut self, pattern: &Self, pose: Motion) {
        for spot in spots(pattern) {
            self.push(spot.moved(pose));
        }
    }
}

impl LaidStrip {
    /// The whole piece moved.
    pub(super) fn moved(self, by: Motion) -> Self {
        let all = |spots: Vec<KnotPose>| spots.into_iter().map(|spot| spot.moved(by)).collect();
        Self {
            begin: all(self.begin),
            repeat: all(self.repeat),
            end: all(self.end),
            growth: by.after(self.growth).after(by.undone()),
            ..self
        }
    }

    /// Left and right exchanged.
    pub(super) fn mirrored(self) -> Self {
        let all = |spots: Vec<KnotPose>| spots.into_iter().map(KnotPose::mirrored).collect();
        Self {
            begin: all(self.begin),
            repeat: all(self.repeat),
            end: all(self.end),
            growth: self.growth.mirrored(),
            ..self
        }
    }

    /// The same with fewer repeats between its ends.
    pub(super) fn shortened(&self, times: u32) -> Self {
        let away = self.growth.undone().repeated(self.times - times);
        // Seen from the first repeat: the end goes back over the repeats that are left out.
        Self {
            times,
            end: self.end.iter().map(|spot| spot.moved(away)).collect(),
            ..self.clone()
        }
    }

    /// All its knots as they were tied.
    pub(super) fn spots(&self) -> impl Iterator<Item = KnotPose> + Clone {
        let mut pose = Motion::NONE;
        let repeats = (0..self.times).flat_map(move |time| {
            if time > 0 {
                pose = self.growth.after(pose);
            }
            self.repeat.iter().map(move |spot| spot.moved(pose))
        });
        self.begin
            .iter()
            .copied()
            .chain(repeats)
            .chain(self.end.iter().copied())
    }
}

fn spots(lying: &LayState) -> impl Iterator<Item = KnotPose> {
    (0..lying.places.len()).map(|knot| lying.pose(knot))
}
