//! The infinite repeat as a word that does not depend on how it is tied.
//!
//! A heap without beginning or end is fixed by how the knots of neighbouring columns
//! alternate. So let every knot hang from the last knot before it in the column to its
//! left. The knots of the leftmost column become the roots of ordered trees, and walking
//! through one tree after the other, each knot before what hangs from it, visits every
//! knot: "tie as far to the right as can be before the next knot further left". That walk
//! is itself a way of tying the fabric, and it is the same walk for every other way. After
//! one repeat it goes on as before, so that all that is asked about shifts of the fabric
//! becomes a question about rotations of a word. (It is a lexicographic normal form in the
//! sense of Anisimov & Knuth 1979, for words without ends.)

/// A walk through one part of the band: a run of columns that knots join.
///
/// Times count the knots of the cycle in tying order, from 0 for its first; before it they
/// are negative, and the next cycle begins at the cycle's length.
#[derive(Debug)]
pub(in crate::proof) struct Walk {
    /// One cycle of the walk.
    steps: Vec<WalkStep>,
    /// By how much time goes on over one cycle: the strip's length, negative where the
    /// walk goes upside down.
    cycle: i64,
}

/// The walk comes by at a knot.
#[derive(Clone, Copy, Debug)]
pub(in crate::proof) struct WalkStep {
    /// The column, as the image of the strip has it.
    pub(in crate::proof) column: u16,
    /// The knot, by its place in the cycle of the strip as it is tied.
    pub(in crate::proof) knot: u32,
    /// When it is tied, in the time of the strip.
    pub(in crate::proof) time: i64,
}

impl Walk {
    /// The walks through all parts of a strip, from the left. `columns` are those of its
    /// knots in tying order, or of their images; `reversed` says that the image is tied
    /// from the finish.
    pub(in crate::proof) fn all(columns: &[u16], threads: u16, reversed: bool) -> Vec<Self> {
        let lanes = Lanes::new(columns, threads);
        let mut walks = Vec::with_capacity(1);
        let mut first = 1;
        while first < usize::from(threads) {
            let joined = (first..usize::from(threads))
                .take_while(|column| lanes.count(*column) > 0)
                .count();
            if joined > 0 {
                walks.push(Self::through(
                    &lanes,
                    first,
                    first + joined - 1,
                    signed(columns.len()),
                    reversed,
                ));
            }
            first += joined + 1;
        }
        walks
    }

    fn through(lanes: &Lanes, first: usize, last: usize, length: i64, reversed: bool) -> Self {
        let mut heads: Vec<Head<'_>> = Vec::with_capacity(last - first + 1);
        let mut after = -1;
        for column in first..=last {
            let head = Head::after(lanes.of(column), after, length);
            after = head.next;
            heads.push(head);
        }
        let total = (first..=last).map(|column| lanes.count(column)).sum();
        let mut steps = Vec::with_capacity(total);
        let mut at = 0;
        while steps.len() < total {
            let knot = heads[at].lane[heads[at].at];
            let time = heads[at].advance();
            let column = u16::try_from(first + at).expect("columns are small");
            steps.push(match reversed {
                false => WalkStep { column, knot, time },
                true => WalkStep {
                    column,
                    knot: lanes.knots - 1 - knot,
                    time: length - 1 - time,
                },
            });
            if at + 1 < heads.len() && heads[at + 1].next < heads[at].next {
                at += 1;
            } else {
                while at > 0 && heads[at].next > heads[at - 1].next {
                    at -= 1;
                }
            }
        }
        Self {
            steps,
            cycle: if reversed { -length } else { length },
        }
    }

    /// How many knots the walk passes in one cycle.
    pub(in crate::proof) fn len(&self) -> usize {
        self.steps.len()
    }

    /// One cycle.
    pub(in crate::proof) fn steps(&self) -> &[WalkStep] {
        &self.steps
    }

    /// When the walk comes by at a step; steps before the first cycle are negative.
    pub(in crate::proof) fn time(&self, step: i64) -> i64 {
        let length = signed(self.len());
        let at = usize::try_from(step.rem_euclid(length)).expect("below a length");
        self.steps[at].time + step.div_euclid(length) * self.cycle
    }

    /// For each knot of the strip's cycle, the step of the walk at which it or one of its
    /// repetitions comes by; knots of other parts get 0.
    pub(in crate::proof) fn steps_by_knot(&self) -> Vec<u32> {
        let mut steps = vec![0; usize::try_from(self.cycle.abs()).expect("a length")];
        for (number, step) in (0..).zip(&self.steps) {
            steps[step.knot as usize] = number;
        }
        steps
    }

    /// At which step the walk comes by at a time, given the steps of all knots.
    pub(in crate::proof) fn step(&self, steps_by_knot: &[u32], time: i64) -> i64 {
        let knot = usize::try_from(time.rem_euclid(self.cycle.abs())).expect("below a length");
        let step = steps_by_knot[knot];
        let cycles = (time - self.steps[step as usize].time) / self.cycle;
        i64::from(step) + cycles * signed(self.len())
    }
}

fn signed(length: usize) -> i64 {
    i64::try_from(length).expect("MAX_KNOTS fits")
}

/// The times at which each column is tied.
struct Lanes {
    /// For each column number, where its times begin; one more at the end.
    begins: Vec<u32>,
    times: Vec<u32>,
    /// How many knots all columns have together.
    knots: u32,
}

impl Lanes {
    fn new(columns: &[u16], threads: u16) -> Self {
        let mut begins = vec![0_u32; usize::from(threads) + 2];
        for column in columns {
            begins[usize::from(*column) + 1] += 1;
        }
        for column in 1..begins.len() {
            begins[column] += begins[column - 1];
        }
        let mut filled = begins.clone();
        let mut times = vec![0; columns.len()];
        for (time, column) in (0..).zip(columns) {
            let place = &mut filled[usize::from(*column)];
            times[*place as usize] = time;
            *place += 1;
        }
        Self {
            begins,
            times,
            knots: u32::try_from(columns.len()).expect("MAX_KNOTS fits"),
        }
    }

    fn of(&self, column: usize) -> &[u32] {
        &self.times[self.begins[column] as usize..self.begins[column + 1] as usize]
    }

    fn count(&self, column: usize) -> usize {
        self.of(column).len()
    }
}

/// Where the walk stands in one column.
struct Head<'a> {
    lane: &'a [u32],
    at: usize,
    /// The time at which the present cycle began.
    began: i64,
    length: i64,
    next: i64,
}

impl<'a> Head<'a> {
    /// At the first knot of the column after a time.
    fn after(lane: &'a [u32], time: i64, length: i64) -> Self {
        let began = time.div_euclid(length) * length;
        let at = lane.partition_point(|knot| began + i64::from(*knot) <= time);
        let (at, began) = match at == lane.len() {
            true => (0, began + length),
            false => (at, began),
        };
        let next = began + i64::from(lane[at]);
        Self {
            lane,
            at,
            began,
            length,
            next,
        }
    }

    fn advance(&mut self) -> i64 {
        let passed = self.next;
        self.at += 1;
        if self.at == self.lane.len() {
            self.at = 0;
            self.began += self.length;
        }
        self.next = self.began + i64::from(self.lane[self.at]);
        passed
    }
}

/// Where the least rotation of a word begins, and after how many letters the word, read
/// round and round, comes again for the first time.
///
/// The rotations that begin with the least letter are compared one after the other, which
/// for most words is done after a glance at each. Where it takes more, because much of the
/// word comes again and again, Duval's way (1983) finds it in time proportional to the
/// letters.
pub(in crate::proof) fn least_rotation<T: Ord + Copy>(word: &[T]) -> (usize, usize) {
    let length = word.len();
    let Some(least) = word.iter().min() else {
        return (0, 1);
    };
    let twice = [word, word].concat();
    let mut begins: Option<usize> = None;
    let mut glances = length;
    for at in (0..length).filter(|at| word[*at] == *least) {
        let Some(best) = begins else {
            begins = Some(at);
            continue;
        };
        let both = twice[at..at + length].iter().zip(&twice[best..]);
        let alike = both.take_while(|(one, other)| one == other).count();
        if alike == length {
            // It goes on as at `best`, where the first of the least rotations begins.
            return (best, at - best);
        }
        if alike > glances {
            return least_rotation_by_duval(&twice);
        }
        glances -= alike;
        if twice[at + alike] < twice[best + alike] {
            begins = Some(at);
        }
    }
    (begins.unwrap_or(0), length)
}

/// The least rotation of a word that is given twice, and its period.
fn least_rotation_by_duval<T: Ord>(twice: &[T]) -> (usize, usize) {
    let length = twice.len() / 2;
    let (mut begins, mut period) = (0, length.max(1));
    let mut from = 0;
    while from < length {
        let (mut behind, mut ahead) = (from, from + 1);
        while ahead < 2 * length {
            match twice[behind].cmp(&twice[ahead]) {
                std::cmp::Ordering::Less => behind = from,
                std::cmp::Ordering::Equal => behind += 1,
                std::cmp::Ordering::Greater => break,
            }
            ahead += 1;
        }
        (begins, period) = (from, ahead - behind);
        while from <= behind {
            from += ahead - behind;
        }
    }
    (begins, period)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::least_rotation;

    /// By trying all.
    fn naive(word: &[u8]) -> (usize, usize) {
        let rotated = |at: usize| [&word[at..], &word[..at]].concat();
        let begins = (0..word.len()).min_by_key(|at| rotated(*at));
        let period = (1..=word.len()).find(|at| rotated(*at % word.len()) == word);
        (begins.unwrap_or(0), period.unwrap_or(1))
    }

    proptest! {
        #[test]
        fn the_first_of_the_least_rotations_is_found(
            part in prop::collection::vec(0..3_u8, 0..12), times in 1..4_usize, slip in 0..40_usize,
        ) {
            let mut word = part.repeat(times);
            if let Some(letter) = word.get_mut(slip) {
                *letter = 1;
            }
            prop_assert_eq!(least_rotation(&word), naive(&word));
        }
    }
}
