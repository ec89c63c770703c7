//! All orders in which threads of given colours can hang, and what one knot does to costs
//! that are kept for every one of them.
//!
//! ColourOrders are numbered as words are in a dictionary. All orders that begin alike then lie side
//! by side, and so do those in which a pair of neighbours has changed places: a knot far to the
//! left joins long stretches of numbers, which is as fast as copying them. A knot far to the
//! right joins single numbers; those of the last few positions come again behind every
//! beginning, and are listed once for all beginnings that leave the same threads over.

use std::collections::BTreeMap;

/// A count of misses, in as few bytes as will do; the largest stands for "not to be had".
pub(super) trait MissCost: Copy + Ord {
    /// No miss.
    const NOTHING: Self;
    /// More than can be.
    const BEYOND: Self;
    /// With one more miss, or with none.
    fn with(self, miss: bool) -> Self;
    /// As a number, or nothing where it is beyond.
    fn number(self) -> Option<usize>;
}

macro_rules! cost {
    ($kind:ty) => {
        impl MissCost for $kind {
            const NOTHING: Self = 0;
            const BEYOND: Self = Self::MAX;
            fn with(self, miss: bool) -> Self {
                self.saturating_add(Self::from(miss))
            }
            fn number(self) -> Option<usize> {
                (self < Self::MAX).then_some(usize::from(self))
            }
        }
    };
}
cost!(u8);
cost!(u16);

/// How many orders there are: the multinomial number of the counts, or nothing where it is
/// beyond all that could be looked at.
pub(super) fn number_of_orders(counts: &[u16]) -> Option<u64> {
    let (mut orders, mut threads) = (1_u128, 0_u128);
    for count in counts {
        for one in 1..=u128::from(*count) {
            threads += 1;
            orders = orders.checked_mul(threads)? / one;
            if orders > u128::from(u64::MAX) {
                return None;
            }
        }
    }
    u64::try_from(orders).ok()
}

/// Stretches of numbers that a knot joins: each number of the first with the one that is as far
/// into the second. Of threads of one colour, the two are the same.
#[derive(Clone, Copy, Debug)]
struct JoinedStretch {
    first: usize,
    second: usize,
    length: usize,
}

/// What a knot between threads of these two colours joins.
#[derive(Clone, Debug)]
struct JoinedNumbers {
    colours: [u8; 2],
    stretches: Vec<JoinedStretch>,
}

impl JoinedNumbers {
    fn misses(&self, wanted: Option<u8>) -> bool {
        wanted.is_some_and(|wanted| !self.colours.contains(&wanted))
    }

    /// Whether a knot leaves all costs as they are.
    fn idle(&self, miss: bool) -> bool {
        self.colours[0] == self.colours[1] && !miss
    }
}

/// The orders of the last positions, when these threads are left for them.
#[derive(Clone, Debug)]
struct LastPositions {
    orders: usize,
    /// What each column joins, from the first that lies within the last positions.
    columns: Vec<Vec<JoinedNumbers>>,
}

/// All orders of threads of given colours.
#[derive(Clone, Debug, Default)]
pub(super) struct ColourOrders {
    counts: Vec<u16>,
    threads: usize,
    /// For each colour, how far the threads left over are apart in `ways` with and without one
    /// thread of it.
    strides: Vec<usize>,
    /// For all threads that can be left over, how many orders they have.
    ways: Vec<usize>,
    /// What each column joins that lies before the last positions.
    columns: Vec<Vec<JoinedNumbers>>,
    /// For each beginning, where its orders begin, and what ends them.
    blocks: Vec<(usize, usize)>,
    endings: Vec<LastPositions>,
}

/// Threads left over: how many of each colour, and where that stands in `ways`.
#[derive(Clone)]
struct LeftOver {
    counts: Vec<u16>,
    at: usize,
}

impl ColourOrders {
    /// All orders of so many threads of each colour. There must be two threads at least, and
    /// fewer orders than fit into memory.
    pub(super) fn new(counts: &[u16]) -> Self {
        let threads: usize = counts.iter().copied().map(usize::from).sum();
        let mut orders = Self {
            counts: counts.to_vec(),
            threads,
            ..Self::default()
        };
        orders.count_ways();
        let (last, _) = orders.last_positions();
        orders.join_columns(threads - last);
        orders
    }

    /// About how many bytes all this takes in memory, for orders that are few enough.
    pub(super) fn bytes(counts: &[u16]) -> u64 {
        let mut orders = Self {
            counts: counts.to_vec(),
            threads: counts.iter().copied().map(usize::from).sum(),
            ..Self::default()
        };
        orders.count_ways();
        let (_, stretches) = orders.last_positions();
        let (ways, stretch) = (size_of::<usize>(), size_of::<JoinedStretch>());
        let bytes = stretches.saturating_mul(stretch);
        bytes.saturating_add(orders.ways.len() * ways) as u64
    }

    fn count_ways(&mut self) {
        let mut size = 1;
        for count in &self.counts {
            self.strides.push(size);
            size *= usize::from(*count) + 1;
        }
        self.ways = vec![1; size];
        for at in 1..size {
            let mut ways = 0;
            for (colour, stride) in self.strides.iter().enumerate() {
                if self.left_at(at, colour) > 0 {
                    ways += self.ways[at - stride];
                }
            }
            self.ways[at] = ways;
        }
    }

    /// How many threads of a colour are among those that stand at a place of `ways`.
    fn left_at(&self, at: usize, colour: usize) -> usize {
        at / self.strides[colour] % (usize::from(self.counts[colour]) + 1)
    }

    /// How many of the last positions have their orders listed once for all beginnings, so that
    /// the lists are short; and about how many stretches they then have.
    fn last_positions(&self) -> (usize, usize) {
        // How many words of so many positions there are, which are as many at the beginning as
        // at the end.
        let mut words = vec![0_usize; self.threads + 1];
        for at in 0..self.ways.len() {
            let left = (0..self.counts.len()).map(|colour| self.left_at(at, colour));
            let positions: usize = left.sum();
            words[positions] = words[positions].saturating_add(self.ways[at]);
        }
        let pairs = self.counts.len() * (self.counts.len() + 1) / 2;
        let stretches = |last: usize| {
            let beginnings = &words[..self.threads - last];
            let before = beginnings
                .iter()
                .fold(0_usize, |sum, words| sum.saturating_add(*words));
            let behind = words[last].saturating_mul(last);
            before.saturating_mul(pairs).saturating_add(behind)
        };
        let all = (1..self.threads).map(|last| (last, stretches(last)));
        all.min_by_key(|(_, stretches)| *stretches)
            .unwrap_or((1, 0))
    }

    fn join_columns(&mut self, beginning: usize) {
        for column in 0..beginning {
            let mut joined = BTreeMap::new();
            self.behind(column, &self.all(), 0, &mut |left, offset| {
                self.join(left, offset, &mut joined);
            });
            self.columns.push(in_a_list(joined));
        }
        let mut numbers = BTreeMap::new();
        let mut left_over = Vec::new();
        let mut blocks = Vec::new();
        self.behind(beginning, &self.all(), 0, &mut |left, offset| {
            let number = *numbers.entry(left.at).or_insert_with(|| {
                left_over.push(left.clone());
                left_over.len() - 1
            });
            blocks.push((offset, number));
        });
        self.blocks = blocks;
        let last = self.threads - beginning;
        let ending = |left: &LeftOver| LastPositions {
            orders: self.ways[left.at],
            columns: (0..last.saturating_sub(1))
                .map(|column| {
                    let mut joined = BTreeMap::new();
                    self.behind(column, left, 0, &mut |left, offset| {
                        self.join(left, offset, &mut joined);
                    });
                    in_a_list(joined)
                })
                .collect(),
        };
        self.endings = left_over.iter().map(ending).collect();
    }

    fn all(&self) -> LeftOver {
        LeftOver {
            counts: self.counts.clone(),
            at: self.ways.len() - 1,
        }
    }

    /// Without one thread of a colour, if there is one.
    fn without(&self, left: &LeftOver, colour: usize) -> Option<LeftOver> {
        if left.counts[colour] == 0 {
            return None;
        }
        let mut left = left.clone();
        left.counts[colour] -= 1;
        left.at -= self.strides[colour];
        Some(left)
    }

    /// All beginnings of so many positions, by what they leave over and where their orders begin.
    fn behind(
        &self,
        positions: usize,
        left: &LeftOver,
        offset: usize,
        each: &mut dyn FnMut(&LeftOver, usize),
    ) {
        if positions == 0 {
            each(left, offset);
            return;
        }
        let mut offset = offset;
        for colour in 0..self.counts.len() {
            if let Some(rest) = self.without(left, colour) {
                let ways = self.ways[rest.at];
                self.behind(positions - 1, &rest, offset, each);
                offset += ways;
            }
        }
    }

    /// What a knot at the first two positions of what is left over joins.
    fn join(
        &self,
        left: &LeftOver,
        offset: usize,
        joined: &mut BTreeMap<[u8; 2], Vec<JoinedStretch>>,
    ) {
        // Where the orders begin that begin with these two colours.
        let mut begins = BTreeMap::new();
        let mut at = offset;
        for first in 0..self.counts.len() {
            let Some(rest) = self.without(left, first) else {
                continue;
            };
            for second in 0..self.counts.len() {
                if let Some(rest) = self.without(&rest, second) {
                    begins.insert([first, second], (at, self.ways[rest.at]));
                    at += self.ways[rest.at];
                }
            }
        }
        for ([first, second], (begin, length)) in &begins {
            if first <= second {
                let stretch = JoinedStretch {
                    first: *begin,
                    second: begins[&[*second, *first]].0,
                    length: *length,
                };
                let colours = [*first, *second].map(as_colour);
                joined.entry(colours).or_default().push(stretch);
            }
        }
    }

    /// How many there are.
    pub(super) fn len(&self) -> usize {
        self.ways[self.ways.len() - 1]
    }

    /// The number of an order, which must be one of these.
    pub(super) fn number(&self, order: &[u8]) -> usize {
        let (mut at, mut number) = (self.ways.len() - 1, 0);
        let mut left = self.counts.clone();
        for colour in order.iter().copied().map(usize::from) {
            for (stride, left) in self.strides[..colour].iter().zip(&left) {
                if *left > 0 {
                    number += self.ways[at - stride];
                }
            }
            at -= self.strides[colour];
            left[colour] -= 1;
        }
        number
    }

    /// The order that has this number.
    pub(super) fn order(&self, number: usize) -> Vec<u8> {
        let (mut left, mut rest) = (self.all(), number);
        let mut order = Vec::with_capacity(self.threads);
        while order.len() < self.threads {
            for colour in 0..self.counts.len() {
                let Some(without) = self.without(&left, colour) else {
                    continue;
                };
                let ways = self.ways[without.at];
                if rest < ways {
                    order.push(as_colour(colour));
                    left = without;
                    break;
                }
                rest -= ways;
            }
        }
        order
    }

    /// One knot: each order costs from now on what the cheaper of the two costs between which
    /// the knot lets choose, and one more where neither thread has the wanted colour.
    ///
    /// It is the same read from either end: a knot costs by what hangs there.
    pub(super) fn knot<C: MissCost>(&self, costs: &mut [C], column: usize, wanted: Option<u8>) {
        if let Some(joined) = self.columns.get(column) {
            for joined in joined {
                let miss = joined.misses(wanted);
                if !joined.idle(miss) {
                    for stretch in &joined.stretches {
                        join_stretch(costs, *stretch, miss);
                    }
                }
            }
            return;
        }
        let column = column - self.columns.len();
        for (offset, ending) in &self.blocks {
            let ending = &self.endings[*ending];
            let costs = &mut costs[*offset..offset + ending.orders];
            for joined in &ending.columns[column] {
                let miss = joined.misses(wanted);
                if !joined.idle(miss) {
                    join_single(costs, &joined.stretches, miss);
                }
            }
        }
    }
}

fn in_a_list(joined: BTreeMap<[u8; 2], Vec<JoinedStretch>>) -> Vec<JoinedNumbers> {
    let list = |(colours, stretches)| JoinedNumbers { colours, stretches };
    joined.into_iter().map(list).collect()
}

fn join_stretch<C: MissCost>(costs: &mut [C], stretch: JoinedStretch, miss: bool) {
    let JoinedStretch {
        first,
        second,
        length,
    } = stretch;
    if first == second {
        for cost in &mut costs[first..first + length] {
            *cost = cost.with(miss);
        }
        return;
    }
    let (before, after) = costs.split_at_mut(second);
    let pairs = before[first..first + length].iter_mut().zip(after);
    for (one, other) in pairs {
        let least = (*one).min(*other).with(miss);
        *one = least;
        *other = least;
    }
}

fn join_single<C: MissCost>(costs: &mut [C], stretches: &[JoinedStretch], miss: bool) {
    for stretch in stretches {
        for step in 0..stretch.length {
            let (one, other) = (stretch.first + step, stretch.second + step);
            let least = costs[one].min(costs[other]).with(miss);
            costs[one] = least;
            costs[other] = least;
        }
    }
}

fn as_colour(index: usize) -> u8 {
    u8::try_from(index).expect("no more colours than a byte can name")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders_are_numbered_as_words_are_in_a_dictionary() {
        for counts in [&[2, 2][..], &[3, 1, 2], &[1; 5], &[7, 1], &[0, 2, 1], &[4]] {
            let orders = ColourOrders::new(counts);
            let all: Vec<Vec<u8>> = (0..orders.len())
                .map(|number| orders.order(number))
                .collect();
            assert!(all.is_sorted() && all.windows(2).all(|pair| pair[0] != pair[1]));
            assert_eq!(Some(all.len() as u64), number_of_orders(counts));
            for (number, order) in all.iter().enumerate() {
                assert_eq!(orders.number(order), number);
            }
        }
    }

    #[test]
    fn a_knot_joins_each_order_with_the_one_that_has_the_two_exchanged() {
        for counts in [&[3, 3][..], &[2, 3, 2], &[1, 1, 2, 2], &[1, 9], &[5, 1, 1]] {
            let orders = ColourOrders::new(counts);
            let threads: usize = counts.iter().copied().map(usize::from).sum();
            for column in 0..threads - 1 {
                for wanted in [None, Some(0), Some(1)] {
                    let before: Vec<u8> = (0..orders.len())
                        .map(|at| u8::try_from(at * 7 % 251).expect("small"))
                        .collect();
                    let mut after = before.clone();
                    orders.knot(&mut after, column, wanted);
                    for number in 0..orders.len() {
                        let mut order = orders.order(number);
                        let shows =
                            wanted.is_none_or(|wanted| order[column..column + 2].contains(&wanted));
                        order.swap(column, column + 1);
                        let least = before[number].min(before[orders.number(&order)]);
                        assert_eq!(after[number], least + u8::from(!shows));
                    }
                }
            }
        }
    }

    #[test]
    fn what_is_beyond_stays_beyond() {
        assert_eq!(u8::BEYOND.with(true), u8::BEYOND);
        assert_eq!(254_u8.with(false).number(), Some(254));
        assert_eq!(u16::BEYOND.number(), None);
    }

    /// Lists stay short, however uneven the counts.
    #[test]
    fn tables_take_little_room() {
        for (counts, most) in [
            (&[4, 4, 4][..], 400_000),
            (&[3, 3, 3, 3], 2_000_000),
            (&[8, 8], 200_000),
            (&[198, 2], 60_000_000),
        ] {
            let bytes = ColourOrders::bytes(counts);
            assert!(bytes < most, "{counts:?}: {bytes}");
        }
    }
}
