//! A step: all that one thread does before another takes over.

use crate::fabric::{TiedKnot, TiedRow};
use crate::knot::{Kind, Side};

/// So many times others tie round a thread one after another before it is said to lead them: told
/// of the thread inside, that is one step, and told of those that tie, it would be so many.
const FEWEST_LED: usize = 2;

/// What the thread of a step does in its knots.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Role {
    /// It ties the knots, and its colour shows.
    Works,
    /// It is inside: the others tie round it, and their colours show.
    Leads,
}

/// Knots of one kind, one after another, in which the thread of the step does the same.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Stretch {
    /// The way they are tied.
    pub kind: Kind,
    /// What the thread of the step does in them.
    pub role: Role,
    /// The numbers of the other threads, in tying order.
    pub others: Vec<u16>,
}

/// A step: all that one working thread does before another takes over, or the way of a leader, round
/// which the others tie as it passes them.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Run {
    /// The position at which its thread hangs before.
    pub from: u16,
    /// The number of that thread.
    pub thread: u16,
    /// The name of its colour.
    pub colour: String,
    /// Its knots.
    pub stretches: Vec<Stretch>,
    /// The position at which it hangs afterwards.
    pub to: u16,
    /// How many threads the band has.
    pub threads: u16,
}

/// A piece of the sentence of a step.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Words that stay the same in every repeat.
    Words(String),
    /// The thread whose step it is, with the name of its colour.
    Named,
    /// The number of another thread.
    Thread(u16),
}

/// Pieces of a sentence as one, of the step of this thread of this colour.
#[must_use]
pub fn words(pieces: &[Piece], thread: u16, colour: &str) -> String {
    let mut words = String::new();
    for piece in pieces {
        match piece {
            Piece::Words(text) => words.push_str(text),
            Piece::Named => words.push_str(&format!("{thread}, {colour}")),
            Piece::Thread(number) => words.push_str(&number.to_string()),
        }
    }
    words
}

impl Run {
    /// The step in words.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, steps::{Role, Run, Stretch}};
    /// let run = |role, kind| Run {
    ///     from: 1, thread: 1, colour: "coral".into(), to: 4, threads: 4,
    ///     stretches: vec![Stretch { kind, role, others: vec![2, 3, 4] }],
    /// };
    /// assert_eq!(
    ///     run(Role::Works, Kind::Forward).words(),
    ///     "Position 1, thread 1, coral: forward knots over the next 3 threads (2, 3, 4), to the right edge."
    /// );
    /// assert_eq!(
    ///     run(Role::Leads, Kind::Backward).words(),
    ///     "Position 1, thread 1, coral, leads to the right edge: each of the next 3 threads (2, 3, 4) ties a backward knot round it."
    /// );
    /// ```
    #[must_use]
    pub fn words(&self) -> String {
        words(&self.pieces(), self.thread, &self.colour)
    }

    /// The same sentence in pieces, so that a page can show its threads as it likes, and
    /// put others in their places for a later repeat.
    ///
    /// ```
    /// use hitchwork_core::{knot::Kind, steps::{Piece, Role, Run, Stretch}};
    /// let run = Run {
    ///     from: 1, thread: 1, colour: "coral".into(), to: 1, threads: 4,
    ///     stretches: vec![Stretch { kind: Kind::ForwardBackward, role: Role::Works, others: vec![2] }],
    /// };
    /// assert_eq!(run.pieces(), [
    ///     Piece::Words("Position 1, thread ".into()), Piece::Named,
    ///     Piece::Words(": forward-backward knot over thread ".into()), Piece::Thread(2),
    ///     Piece::Words(", and it stays at position 1.".into()),
    /// ]);
    /// ```
    #[must_use]
    pub fn pieces(&self) -> Vec<Piece> {
        let mut pieces = vec![
            Piece::Words(format!("Position {}, thread ", self.from)),
            Piece::Named,
        ];
        let leads = self.leads();
        if leads {
            push_words(&mut pieces, &format!(", leads {}", self.destination()));
        }
        for (index, stretch) in self.stretches.iter().enumerate() {
            push_words(&mut pieces, if index == 0 { ": " } else { ", then " });
            match stretch.role {
                Role::Leads => push_led(&mut pieces, stretch),
                Role::Works => push_worked(&mut pieces, stretch, leads),
            }
        }
        match leads {
            true => push_words(&mut pieces, "."),
            false => push_words(&mut pieces, &format!(", {}.", self.destination())),
        }
        pieces
    }

    /// Whether others tie round its thread.
    #[must_use]
    pub fn leads(&self) -> bool {
        let mut stretches = self.stretches.iter();
        stretches.any(|stretch| stretch.role == Role::Leads)
    }

    /// The kind of its knot, where that is the only one.
    pub(super) fn only_knot(&self) -> Option<Kind> {
        match self.stretches.as_slice() {
            [only] if only.others.len() == 1 && only.role == Role::Works => Some(only.kind),
            _ => None,
        }
    }

    fn destination(&self) -> String {
        match self.to {
            to if to == self.from => format!("and it stays at position {to}"),
            1 => "to the left edge".to_owned(),
            to if to == self.threads => "to the right edge".to_owned(),
            to => format!("to position {to}"),
        }
    }
}

/// Adds words to the last piece if that is words too.
fn push_words(pieces: &mut Vec<Piece>, words: &str) {
    match pieces.last_mut() {
        Some(Piece::Words(before)) => before.push_str(words),
        _ => pieces.push(Piece::Words(words.to_owned())),
    }
}

/// "(2, 3, 4)".
fn push_threads(pieces: &mut Vec<Piece>, threads: &[u16]) {
    for (index, number) in threads.iter().enumerate() {
        push_words(pieces, if index == 0 { "(" } else { ", " });
        pieces.push(Piece::Thread(*number));
    }
    push_words(pieces, ")");
}

/// Words for knots that the thread of a step ties; of a leader it has to be said that it does.
fn push_worked(pieces: &mut Vec<Piece>, stretch: &Stretch, leads: bool) {
    let kind = stretch.kind;
    let (ties, a) = if leads { ("it ties ", "a ") } else { ("", "") };
    let way = way(kind.working_side() == Side::Left);
    match stretch.others.as_slice() {
        [one] => {
            push_words(pieces, &format!("{ties}{a}{kind} knot over thread "));
            pieces.push(Piece::Thread(*one));
        }
        // A turning knot leaves its thread where it was, so the next goes round the same one.
        [first, ..] if !kind.changes_places() => {
            let count = stretch.others.len();
            push_words(pieces, &format!("{ties}{count} {kind} knots over thread "));
            pieces.push(Piece::Thread(*first));
        }
        many => {
            let count = many.len();
            push_words(
                pieces,
                &format!("{ties}{kind} knots over the next {count} threads{way} "),
            );
            push_threads(pieces, many);
        }
    }
}

/// Words for knots that others tie round the thread of a step.
fn push_led(pieces: &mut Vec<Piece>, stretch: &Stretch) {
    let kind = stretch.kind;
    match stretch.others.as_slice() {
        [one] => {
            push_words(pieces, "thread ");
            pieces.push(Piece::Thread(*one));
        }
        many => {
            let (count, way) = (many.len(), way(kind.working_side() == Side::Right));
            push_words(pieces, &format!("each of the next {count} threads{way} "));
            push_threads(pieces, many);
        }
    }
    push_words(pieces, &format!(" ties a {kind} knot round it"));
}

/// To which side, where it is not the right.
const fn way(to_the_right: bool) -> &'static str {
    if to_the_right { "" } else { " to its left" }
}

/// The steps of a row, as few as say all of it: each of one working thread, or of one that leads the
/// others.
pub(super) fn runs(row: &TiedRow, colour: impl Fn(u16) -> String, threads: u16) -> Vec<Run> {
    let run = |thread: u16, knots: &[TiedKnot]| {
        let (first, last) = (&knots[0], &knots[knots.len() - 1]);
        let mut stretches: Vec<Stretch> = Vec::new();
        for knot in knots {
            let (role, other) = match knot.working.number() == thread {
                true => (Role::Works, knot.core.number()),
                false => (Role::Leads, knot.working.number()),
            };
            let same = |stretch: &&mut Stretch| (stretch.kind, stretch.role) == (knot.kind, role);
            match stretches.last_mut().filter(same) {
                Some(stretch) => stretch.others.push(other),
                None => stretches.push(Stretch {
                    kind: knot.kind,
                    role,
                    others: vec![other],
                }),
            }
        }
        Run {
            from: position_before(first, thread),
            thread,
            colour: colour(thread),
            stretches,
            to: position_after(last, thread),
            threads,
        }
    };
    let mut runs = Vec::new();
    let mut left: Vec<&[TiedKnot]> = row
        .knots
        .chunk_by(|one, next| one.working == next.working)
        .rev()
        .collect();
    let mut knots = row.knots.as_slice();
    while let Some(own) = left.pop() {
        let (thread, count) = match led(own, &left) {
            Some((leader, more)) => {
                let led = left.split_off(left.len() - more);
                let others: usize = led.iter().map(|run| run.len()).sum();
                (leader, own.len() + others)
            }
            None => (own[0].working.number(), own.len()),
        };
        let (step, rest) = knots.split_at(count);
        runs.push(run(thread, step));
        knots = rest;
    }
    runs
}

/// The thread that leads from these knots of one working thread on, and through how many runs of those
/// that are left, the next of which is the last: always in one direction, past one thread after another.
fn led(own: &[TiedKnot], left: &[&[TiedKnot]]) -> Option<(u16, usize)> {
    let followed = |leader: u16, goes_right: bool| {
        let passes = |knot: &TiedKnot| {
            let works = knot.working.number() == leader;
            let is_in = works || knot.core.number() == leader;
            let kind = if goes_right == works {
                Kind::Forward
            } else {
                Kind::Backward
            };
            is_in && knot.kind == kind
        };
        let led = |run: &[TiedKnot]| run[0].core.number() == leader;
        if !own.iter().all(passes) {
            return (0, 0);
        }
        let more = left.iter().rev();
        let more = more.take_while(|run| run.iter().all(passes)).count();
        let with = left[left.len() - more..].iter().filter(|run| led(run));
        (usize::from(led(own)) + with.count(), more)
    };
    let ends = [own[0].core.number(), own[0].working.number()];
    let ways = ends
        .into_iter()
        .flat_map(|leader| [true, false].map(|goes_right| (followed(leader, goes_right), leader)));
    let ((times, more), leader) = ways.max_by_key(|((times, _), _)| *times)?;
    (times >= FEWEST_LED).then_some((leader, more))
}

fn position_before(knot: &TiedKnot, thread: u16) -> u16 {
    let side = match knot.working.number() == thread {
        true => knot.kind.working_side(),
        false => knot.kind.working_side().opposite(),
    };
    knot.column.number() + u16::from(side == Side::Right)
}

fn position_after(knot: &TiedKnot, thread: u16) -> u16 {
    let (left, before) = (knot.column.number(), position_before(knot, thread));
    match knot.kind.changes_places() {
        true => 2 * left + 1 - before,
        false => before,
    }
}
