//! Drift: after every repeat the colours have moved the same number of steps along the
//! gradient; and the starting order that makes it so.

use std::collections::BTreeSet;

use serde::Serialize;

use super::Permutation;
use super::divisor::greatest_common_divisor;
use super::permutation::at_first_repeat;
use crate::band::Band;
use crate::error::{Error, Problem, in_steps};

/// A drift as found on a band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Drift {
    /// How many colours the gradient has.
    pub colours: usize,
    /// How many steps along it the colour at every position moves at each repeat.
    pub steps_per_repeat: usize,
}

impl Drift {
    /// How the colours of a band drift along its palette, if they do, from the first repeat
    /// on: a lead-in may come before.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::proof::Drift;
    /// # let shades = [Srgb::new(20, 120, 140), Srgb::new(240, 190, 60), Srgb::new(90, 20, 60)];
    /// let stripe = Band::new(BandParts {
    ///     palette: Colour::spoken(shades), threads: vec![0, 1, 2],
    ///     repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    ///     ..BandParts::default()
    /// })?;
    /// assert_eq!(Drift::of_band(&stripe).map(|drift| drift.colours), Some(3));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn of_band(band: &Band) -> Option<Self> {
        let (steps, colours) = gradient_steps(band);
        Self::of(&Permutation::of_repeat(band), &steps, colours)
    }

    /// Whether `colours` (for each position, a step of a cyclic gradient of `count`
    /// colours, from 0) drift under `repeat`, and by how much. Colours that stay as they
    /// are do not drift.
    #[must_use]
    pub fn of(repeat: &Permutation, colours: &[usize], count: usize) -> Option<Self> {
        if count < 2 || colours.len() != repeat.len() {
            return None;
        }
        let moved = |(from, colour): (u16, &usize)| {
            let arrives_on = colours[usize::from(repeat.goes_to(from)) - 1];
            (colour + count - arrives_on) % count
        };
        let mut moves = (1..).zip(colours).map(moved);
        let steps = moves.next()?;
        (steps != 0 && moves.all(|other| other == steps)).then_some(Self {
            colours: count,
            steps_per_repeat: steps,
        })
    }
}

/// For each position at which a thread hangs when the first repeat begins, its step in the
/// gradient: the palette's colours in order, without those that no thread has. And how many
/// steps there are.
pub(super) fn gradient_steps(band: &Band) -> (Vec<usize>, usize) {
    let used = band.used_colours();
    let step = |colour: &u16| {
        used.binary_search(colour)
            .expect("every colour of a thread is used")
    };
    let steps: Vec<usize> = band.thread_colours().iter().map(step).collect();
    (at_first_repeat(band, &steps), used.len())
}

/// The most combinations of free choices that are tried one by one.
const MOST_TRIED: usize = 20_000;

/// The starting order in which the colours of a cyclic gradient drift.
///
/// Gives for each position at which a thread hangs when the first repeat begins (before a
/// lead-in see [`Permutation::before`]) a step of the gradient, from 0, such that after every repeat
/// the colour at each position has moved `steps` steps. The first position gets colour
/// `first`. Every colour hangs.
///
/// If the repeat sends position p to q then colour(q) = colour(p) - steps (mod colours).
/// On each cycle of length L this has solutions exactly when `colours` divides
/// `steps` x L, one for each choice of one colour on the cycle. A cycle then holds one of
/// the gcd(`steps`, `colours`) classes of colours that lie a whole number of moves apart,
/// so all hang where there are as many cycles as classes. Among all choices that hang them,
/// the one is taken whose colours follow each other along the start edge in the order of
/// the gradient as nearly as can be.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{drifting_order, Permutation}, row::Row};
/// // A slanted band with one turning place, at column 2 of five threads.
/// let out = Row::run(Kind::Forward, [1])?.then(&Row::run(Kind::ForwardBackward, [2])?)
///     .then(&Row::run(Kind::Forward, [3, 4])?);
/// let back = Row::run(Kind::Forward, [2])?;
/// let repeat = Permutation::of_rows(&[out, back], 5);
/// // In gradient order, but at the turn hangs the predecessor of the first.
/// assert_eq!(drifting_order(&repeat, 5, 1, 0)?, [0, 1, 4, 2, 3]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When no order drifts and hangs all colours, saying why, and which steps and which
/// numbers of colours would do.
pub fn drifting_order(
    repeat: &Permutation,
    colours: usize,
    steps: usize,
    first: usize,
) -> Result<Vec<usize>, Error> {
    drifting_order_through(repeat, &(0..colours).collect::<Vec<_>>(), steps, first)
}

/// The same for a gradient that passes some colours more than once, as one that goes there
/// and back: `gradient` gives for each of its steps a number, the same for the same colour.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{drifting_order_through, Permutation}, row::Row};
/// // Two threads that change places, and two beside them. Red, white, blue, white: moving
/// // on by two steps, one pair shows red and blue, and the other stays white.
/// let repeat = Permutation::of_rows(&[Row::run(Kind::Forward, [1, 3])?], 4);
/// assert_eq!(drifting_order_through(&repeat, &[0, 1, 2, 1], 2, 0)?, [0, 2, 3, 1]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// As [`drifting_order`].
pub fn drifting_order_through(
    repeat: &Permutation,
    gradient: &[usize],
    steps: usize,
    first: usize,
) -> Result<Vec<usize>, Error> {
    let colours = gradient.len();
    let refused = |reason: String, help: String| {
        Error::from(Problem::NoDrift {
            colours,
            steps,
            reason,
            help,
        })
    };
    if colours == 0 {
        return Err(refused(
            "there are no colours".into(),
            "give the gradient at least one colour".into(),
        ));
    }
    let cycles = repeat.cycles();
    let drift = Hanging {
        cycles: &cycles,
        gradient,
        steps: steps % colours,
        first: first % colours,
        threads: repeat.len(),
    };
    match drift.classes_to_hang() {
        Ok(classes) => Ok(drift.order(&classes)),
        Err(why) => Err(refused(drift.reason(&why), drift.help(steps))),
    }
}

/// Why a gradient cannot be hung so that it drifts.
enum Why<'a> {
    /// The threads of this cycle come home before their colours do.
    CannotDrift(&'a [u16]),
    /// There are more colours than threads.
    TooFewThreads,
    /// It could drift, but not with all its colours.
    NotAllHang,
    /// Colours that come more than once allow too many choices to try them all.
    NoneFound,
}

/// A gradient to be hung on the cycles of a repeat.
#[derive(Clone, Copy)]
struct Hanging<'a> {
    cycles: &'a [Vec<u16>],
    gradient: &'a [usize],
    /// Less than there are colours.
    steps: usize,
    first: usize,
    threads: usize,
}

impl<'a> Hanging<'a> {
    /// In how many classes the steps of the gradient fall: the colours that a position
    /// shows in turn all belong to one.
    fn class_count(&self) -> usize {
        common_divisor(self.steps, self.gradient.len())
    }

    /// How many colours a class has, and so a position shows in turn.
    fn colours_in_turn(&self) -> usize {
        self.gradient.len() / self.class_count()
    }

    /// The different colours of each class.
    fn classes(&self) -> Vec<BTreeSet<usize>> {
        let classes = self.class_count();
        let colours = |class: usize| self.gradient.iter().skip(class).step_by(classes);
        (0..classes)
            .map(|class| colours(class).copied().collect())
            .collect()
    }

    /// How many different colours are to hang.
    fn wanted(&self) -> usize {
        distinct(self.gradient)
    }

    /// Classes, at most as many as there are cycles and that of the first colour among
    /// them, that hang all colours together.
    fn classes_to_hang(&self) -> Result<Vec<usize>, Why<'a>> {
        if self.wanted() > self.threads {
            return Err(Why::TooFewThreads);
        }
        let in_turn = self.colours_in_turn();
        let apart = |cycle: &&Vec<u16>| !cycle.len().is_multiple_of(in_turn);
        if let Some(cycle) = self.cycles.iter().find(apart) {
            return Err(Why::CannotDrift(cycle));
        }
        let (classes, cycles) = (self.class_count(), self.cycles.len());
        if classes <= cycles {
            return Ok((0..classes).collect());
        }
        let wanted = self.wanted();
        if cycles * in_turn < wanted {
            return Err(Why::NotAllHang);
        }
        let sets = self.classes();
        let first = self.first % classes;
        let mut cover = Cover {
            sets: &sets,
            wanted,
            chosen: vec![first],
            looks_left: MOST_TRIED,
        };
        if cover.complete(&sets[first].clone(), cycles - 1) {
            return Ok(cover.chosen);
        }
        Err(match cover.looks_left {
            0 => Why::NoneFound,
            _ => Why::NotAllHang,
        })
    }

    /// The best order in which these classes hang; there are at most as many as cycles.
    fn order(&self, classes: &[usize]) -> Vec<usize> {
        let colours = self.gradient.len();
        let mut order = vec![0; self.threads];
        let mut cycle_of = vec![0; self.threads];
        // Every cycle as if its leftmost position had colour 0.
        for (number, cycle) in self.cycles.iter().enumerate() {
            let mut colour = 0;
            for position in cycle {
                let at = usize::from(*position) - 1;
                (order[at], cycle_of[at]) = (colour, number);
                colour = (colour + colours - self.steps) % colours;
            }
        }
        let search = OffsetSearch {
            hanging: *self,
            sets: self.classes(),
            wanted: self.wanted(),
            order,
            cycle_of,
        };
        let offsets = search.best_offsets(classes);
        let hung = search.order.iter().zip(&search.cycle_of);
        hung.map(|(colour, cycle)| (colour + offsets[*cycle]) % colours)
            .collect()
    }

    fn reason(&self, why: &Why<'_>) -> String {
        let (colours, steps) = (self.gradient.len(), in_steps(self.steps));
        match why {
            Why::CannotDrift([stays]) => format!(
                "the thread at position {stays} comes back to its place at every repeat, so its colour cannot move"
            ),
            Why::CannotDrift(cycle) => format!(
                "the {length} threads at positions {} only change places among themselves; after {length} repeats \
                 they are back, but their colours have moved {} and are not back at the colour that they began with",
                positions(cycle),
                in_steps(self.steps * cycle.len()),
                length = cycle.len(),
            ),
            Why::TooFewThreads => format!(
                "{} colours cannot all hang on {} threads",
                self.wanted(),
                self.threads
            ),
            Why::NotAllHang => {
                let (groups, in_turn) = (self.cycles.len(), self.colours_in_turn());
                let among = match groups {
                    1 => "all threads change places with each other".to_owned(),
                    _ => format!("the threads change places in {groups} groups"),
                };
                let hang = match groups * in_turn {
                    most if most < self.wanted() => {
                        format!("only {most} of {} colours could hang", self.wanted())
                    }
                    _ => format!("not all {} colours could hang", self.wanted()),
                };
                format!(
                    "moving {steps} at a time, a place passes {in_turn} of the {colours}, and {among}, so {hang}"
                )
            }
            Why::NoneFound => {
                "no way was found to hang all colours, some of which come more than once".to_owned()
            }
        }
    }

    /// Which steps and which numbers of colours would do, in words.
    fn help(&self, asked: usize) -> String {
        let steps = self.steps_that_would_do();
        // With no more colours than steps, the colours would move by fewer, or not at all.
        let numbers: Vec<usize> = (asked.max(1) + 1..=self.threads)
            .filter(|colours| self.would_do(*colours, asked))
            .collect();
        let colours = self.gradient.len();
        let with_steps = (!steps.is_empty()).then(|| {
            let last = if steps == [1] { "step" } else { "steps" };
            format!(
                "drift these {colours} by {} {last} at a time",
                either(&steps, true)
            )
        });
        let with_numbers = (!numbers.is_empty()).then(|| {
            let numbers = either(&numbers, false);
            format!("keep to {} and give {numbers} colours", in_steps(asked))
        });
        let with_both = || {
            let pair = (2..=self.threads).rev().find_map(|colours| {
                let steps = (1..colours).find(|steps| self.would_do(colours, *steps))?;
                Some((colours, steps))
            });
            pair.map(|(colours, steps)| {
                format!("give {colours} colours and drift by {}", in_steps(steps))
            })
        };
        match (with_steps, with_numbers) {
            (Some(steps), Some(numbers)) => format!("{steps}, or {numbers}"),
            (Some(one), None) | (None, Some(one)) => one,
            (None, None) => with_both().unwrap_or_else(|| {
                "change the repeat so that its threads all wander in one cycle, for example with a turn at another place".to_owned()
            }),
        }
    }

    /// The steps by which this gradient drifts and hangs whole.
    fn steps_that_would_do(&self) -> Vec<usize> {
        let colours = self.gradient.len();
        let divisors = (1..colours).filter(|divisor| colours.is_multiple_of(*divisor));
        // Whether it can be done depends on the classes alone.
        let done = divisors.filter(|steps| {
            let by = Self {
                steps: *steps,
                ..*self
            };
            by.classes_to_hang().is_ok()
        });
        let done: Vec<usize> = done.collect();
        (1..colours)
            .filter(|steps| done.contains(&common_divisor(*steps, colours)))
            .collect()
    }

    /// Whether this many different colours drift by these steps and all hang.
    fn would_do(&self, colours: usize, steps: usize) -> bool {
        let gradient: Vec<usize> = (0..colours).collect();
        let other = Hanging {
            cycles: self.cycles,
            gradient: &gradient,
            steps: steps % colours,
            first: 0,
            threads: self.threads,
        };
        other.steps != 0 && other.classes_to_hang().is_ok()
    }
}

fn common_divisor(a: usize, b: usize) -> usize {
    usize::try_from(greatest_common_divisor(a as u64, b as u64)).expect("at most the greater")
}

fn distinct(gradient: &[usize]) -> usize {
    gradient.iter().collect::<BTreeSet<_>>().len()
}

/// "1, 4, 7, 10 and 30 more".
fn positions(cycle: &[u16]) -> String {
    const MOST: usize = 8;
    let listed: Vec<String> = cycle.iter().take(MOST).map(ToString::to_string).collect();
    match cycle.len().checked_sub(MOST) {
        Some(more @ 1..) => format!("{} and {more} more", listed.join(", ")),
        _ => listed.join(", "),
    }
}

/// "2, 3 or 6": of many the least or the greatest.
fn either(numbers: &[usize], least: bool) -> String {
    const MOST: usize = 6;
    let shown = match numbers.len().checked_sub(MOST) {
        Some(more) if least => &numbers[..numbers.len() - more],
        Some(more) => &numbers[more..],
        None => numbers,
    };
    let words: Vec<String> = shown.iter().map(ToString::to_string).collect();
    match words.split_last() {
        Some((last, before)) if !before.is_empty() => format!("{} or {last}", before.join(", ")),
        _ => words.concat(),
    }
}

/// A search for few sets that hold enough of the colours together.
struct Cover<'a> {
    sets: &'a [BTreeSet<usize>],
    wanted: usize,
    chosen: Vec<usize>,
    looks_left: usize,
}

impl Cover<'_> {
    fn complete(&mut self, covered: &BTreeSet<usize>, left: usize) -> bool {
        if covered.len() >= self.wanted {
            return true;
        }
        let gains = |set: &BTreeSet<usize>| set.difference(covered).count();
        let most = self.sets.iter().map(gains).max().unwrap_or(0);
        if left == 0 || covered.len() + left * most < self.wanted || self.looks_left == 0 {
            return false;
        }
        for next in self.candidates(covered) {
            self.looks_left = self.looks_left.saturating_sub(1);
            let both = covered | &self.sets[next];
            self.chosen.push(next);
            if self.complete(&both, left - 1) {
                return true;
            }
            self.chosen.pop();
        }
        false
    }

    /// The sets of the colour that has the fewest, each kind of set once; where not all
    /// colours are to be held, all sets.
    fn candidates(&self, covered: &BTreeSet<usize>) -> Vec<usize> {
        let mut seen = BTreeSet::new();
        let fresh = |at: &usize| {
            let gained: BTreeSet<usize> = self.sets[*at].difference(covered).copied().collect();
            !gained.is_empty() && seen.insert(gained)
        };
        let useful: Vec<usize> = (0..self.sets.len()).filter(fresh).collect();
        // Every colour has to be held, so each asks for one of its sets.
        let holders = |colour: usize| {
            let held = useful.iter().filter(|at| self.sets[**at].contains(&colour));
            held.copied().collect::<Vec<usize>>()
        };
        let uncovered: BTreeSet<usize> = self.sets.iter().flatten().copied().collect();
        let uncovered = uncovered.difference(covered);
        uncovered
            .map(|colour| holders(*colour))
            .min_by_key(Vec::len)
            .unwrap_or_default()
    }
}

/// The choice of an offset for each cycle: the colour of its leftmost position.
struct OffsetSearch<'a> {
    hanging: Hanging<'a>,
    sets: Vec<BTreeSet<usize>>,
    wanted: usize,
    /// For each position its colour if that of its cycle's leftmost were 0, and the cycle.
    order: Vec<usize>,
    cycle_of: Vec<usize>,
}

impl OffsetSearch<'_> {
    fn colours(&self) -> usize {
        self.hanging.gradient.len()
    }

    fn colour(&self, offsets: &[usize], at: usize) -> usize {
        (self.order[at] + offsets[self.cycle_of[at]]) % self.colours()
    }

    /// How badly the start edge reads: by how many steps of the gradient, summed over all
    /// neighbours, the colour at the right misses the one that follows the colour at the
    /// left.
    fn roughness(&self, offsets: &[usize]) -> usize {
        let colours = self.colours();
        let misses = |at: usize| {
            let next = self.colour(offsets, at - 1) + 1;
            let ahead = (self.colour(offsets, at) + 2 * colours - next) % colours;
            ahead.min(colours - ahead)
        };
        (1..self.order.len()).map(misses).sum()
    }

    /// Whether all colours hang that can.
    fn hangs_all(&self, offsets: &[usize]) -> bool {
        let classes: BTreeSet<usize> = offsets
            .iter()
            .map(|offset| offset % self.sets.len())
            .collect();
        let hung: BTreeSet<usize> = classes
            .iter()
            .flat_map(|class| self.sets[*class].iter().copied())
            .collect();
        hung.len() >= self.wanted
    }

    /// All offsets, by trying every combination where there are few.
    fn best_offsets(&self, classes: &[usize]) -> Vec<usize> {
        let (free, colours) = (self.hanging.cycles.len() - 1, self.colours());
        let combinations = (0..free).try_fold(1_usize, |all, _| all.checked_mul(colours));
        let Some(all) = combinations.filter(|all| *all <= MOST_TRIED) else {
            let mut offsets = self.follow_on(classes);
            while self.turn_one(&mut offsets) || self.exchange_two(&mut offsets) {}
            return offsets;
        };
        let nth = |number: usize| {
            let mut rest = number;
            let mut tried = vec![self.hanging.first];
            tried.extend((0..free).map(|_| {
                let offset = rest % colours;
                rest /= colours;
                offset
            }));
            tried
        };
        let mut best = (usize::MAX, Vec::new());
        for tried in (0..all).map(nth) {
            if let Some(rough) = self.better(&tried, best.0) {
                best = (rough, tried);
            }
        }
        best.1
    }

    /// From left to right, each cycle with the colour that follows best on its left
    /// neighbour's, as long as every class still finds a cycle.
    fn follow_on(&self, classes: &[usize]) -> Vec<usize> {
        let (colours, count) = (self.colours(), self.sets.len());
        let mut offsets = vec![self.hanging.first];
        let mut waiting: Vec<usize> = classes.to_vec();
        waiting.retain(|class| *class != self.hanging.first % count);
        for (number, cycle) in self.hanging.cycles.iter().enumerate().skip(1) {
            // The thread to the left hangs in an earlier cycle: this is its leftmost.
            let next = self.colour(&offsets, usize::from(cycle[0]) - 2) + 1;
            let must_wait_no_longer = waiting.len() >= self.hanging.cycles.len() - number;
            let offset = (0..colours)
                .map(|ahead| (next + ahead) % colours)
                .filter(|offset| !must_wait_no_longer || waiting.contains(&(offset % count)))
                .min_by_key(|offset| {
                    let ahead = (offset + colours - next % colours) % colours;
                    ahead.min(colours - ahead)
                })
                .expect("some class is allowed");
            waiting.retain(|class| *class != offset % count);
            offsets.push(offset);
        }
        offsets
    }

    /// The roughness of offsets with which all colours hang, if it is less than that.
    fn better(&self, offsets: &[usize], than: usize) -> Option<usize> {
        let rough = self.roughness(offsets);
        (rough < than && self.hangs_all(offsets)).then_some(rough)
    }

    /// Gives each cycle in turn its best offset; whether that helped.
    fn turn_one(&self, offsets: &mut [usize]) -> bool {
        let before = self.roughness(offsets);
        let mut rough = before;
        for cycle in 1..offsets.len() {
            let mut best = offsets[cycle];
            for offset in 0..self.colours() {
                offsets[cycle] = offset;
                if let Some(less) = self.better(offsets, rough) {
                    (rough, best) = (less, offset);
                }
            }
            offsets[cycle] = best;
        }
        rough < before
    }

    /// Exchanges the offsets of two cycles wherever it helps; whether it did.
    fn exchange_two(&self, offsets: &mut [usize]) -> bool {
        let before = self.roughness(offsets);
        let mut rough = before;
        for one in 1..offsets.len() {
            for other in one + 1..offsets.len() {
                offsets.swap(one, other);
                let now = self.roughness(offsets);
                if now < rough {
                    rough = now;
                } else {
                    offsets.swap(one, other);
                }
            }
        }
        rough < before
    }
}
