//! Repeats that end as they began.
//!
//! Every order is a start, and each has its own cheapest way back. What an order costs with the
//! other end free, from it on and up to it, is a bound from below for its way back, and leaves
//! few orders. Of these, one after another is tried alone; those that remain are sieved
//! together: all ways that begin at one of them and end at one of them are cheaper than the ways
//! back, so an order to which none of them is cheap enough is out. What stays is halved, until
//! nothing stays. (Closed paths through a trellis: the same task as decoding a tail-biting code;
//! the method is our own.)

use super::PlannedKnot;
use super::meter::{SearchHalt, StepMeter};
use super::orders::{ColourOrders, MissCost};
use super::passes::{backward, forward};

/// What was found of the closed repeats.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct ClosedStarts {
    /// The fewest misses found, and the number of the order where they are had.
    pub(super) best: Option<(usize, usize)>,
    /// No closed repeat misses fewer; nothing where none closes at all.
    pub(super) least: Option<usize>,
}

pub(super) struct ClosedSearch<'a, 'm, C> {
    orders: &'a ColourOrders,
    knots: &'a [PlannedKnot],
    /// For each order, in which it has to end; nothing where in itself.
    ends: Option<&'a [usize]>,
    meter: &'a mut StepMeter<'m>,
    /// How many orders may still be tried alone.
    starts: usize,
    best: Option<(usize, usize)>,
    /// The least that an order can cost which was put aside as costing too much.
    next: Option<usize>,
    kind: std::marker::PhantomData<C>,
}

impl<'a, 'm, C: MissCost> ClosedSearch<'a, 'm, C> {
    pub(super) fn new(
        orders: &'a ColourOrders,
        knots: &'a [PlannedKnot],
        ends: Option<&'a [usize]>,
        starts: usize,
        meter: &'a mut StepMeter<'m>,
    ) -> Self {
        Self {
            orders,
            knots,
            ends,
            meter,
            starts,
            best: None,
            next: None,
            kind: std::marker::PhantomData,
        }
    }

    /// The closed repeat with the fewest misses, as long as these are at most `most`.
    pub(super) fn search(mut self, most: usize) -> Result<ClosedStarts, SearchHalt> {
        let mut least = 0;
        match self.rise(most, &mut least) {
            Ok(possible) => Ok(ClosedStarts {
                best: self.best,
                least: possible.then_some(least),
            }),
            Err(SearchHalt::Steps) => Ok(ClosedStarts {
                best: self.best,
                least: Some(least),
            }),
            Err(halt) => Err(halt),
        }
    }

    /// Raises the bound until something is found that meets it. Says whether anything closes.
    fn rise(&mut self, most: usize, least: &mut usize) -> Result<bool, SearchHalt> {
        let mut from = vec![C::NOTHING; self.orders.len()];
        backward(self.orders, self.knots, &mut from, self.meter)?;
        let mut up_to = vec![C::NOTHING; self.orders.len()];
        forward(self.orders, self.knots, &mut up_to, self.meter)?;
        *least = from
            .iter()
            .min()
            .and_then(|cost| cost.number())
            .unwrap_or(0);
        // There is something to show, even if the steps do not last.
        let cheapest = (0..from.len()).min_by_key(|at| from[*at].max(up_to[self.end(*at)]));
        self.alone(cheapest.unwrap_or_default())?;
        loop {
            if *least > most || self.best.is_some_and(|(misses, _)| misses <= *least) {
                return Ok(true);
            }
            self.next = None;
            let bound = |at: &usize| from[*at].max(up_to[self.end(*at)]).number();
            let mut among = Vec::new();
            let mut next = None;
            for at in 0..from.len() {
                match bound(&at) {
                    Some(bound) if bound <= *least => among.push(at),
                    bound => next = lesser(next, bound),
                }
            }
            self.next = next;
            if self.found_among(&among, *least)? {
                return Ok(true);
            }
            match self.next {
                Some(next) => *least = next,
                None => return Ok(false),
            }
        }
    }

    /// Whether one of these orders has a way back with at most so many misses; the first of
    /// them becomes the best.
    fn found_among(&mut self, among: &[usize], most: usize) -> Result<bool, SearchHalt> {
        let Some((first, rest)) = among.split_first() else {
            return Ok(false);
        };
        let misses = self.alone(*first)?;
        if misses.is_some_and(|misses| misses <= most) {
            return Ok(true);
        }
        self.next = lesser(self.next, misses);
        let sieved;
        let rest = if rest.len() > 2 {
            sieved = self.sieved(rest, most)?;
            &sieved
        } else {
            rest
        };
        let (early, late) = rest.split_at(rest.len() / 2);
        Ok(self.found_among(early, most)? || self.found_among(late, most)?)
    }

    /// The fewest misses with which one order comes back.
    fn alone(&mut self, start: usize) -> Result<Option<usize>, SearchHalt> {
        self.starts = self.starts.checked_sub(1).ok_or(SearchHalt::Steps)?;
        let mut costs = vec![C::BEYOND; self.orders.len()];
        costs[self.end(start)] = C::NOTHING;
        backward(self.orders, self.knots, &mut costs, self.meter)?;
        let misses = costs[start].number();
        if let Some(misses) = misses
            && self.best.is_none_or(|(best, _)| misses < best)
        {
            self.best = Some((misses, start));
        }
        Ok(misses)
    }

    /// Those orders that reach one of these, and are reached by one of these, cheaply enough.
    fn sieved(&mut self, among: &[usize], most: usize) -> Result<Vec<usize>, SearchHalt> {
        let mut from = vec![C::BEYOND; self.orders.len()];
        for at in among {
            from[self.end(*at)] = C::NOTHING;
        }
        backward(self.orders, self.knots, &mut from, self.meter)?;
        let kept = self.cheap(among, most, |_, at| from[at]);
        let mut up_to = from;
        up_to.fill(C::BEYOND);
        for at in &kept {
            up_to[*at] = C::NOTHING;
        }
        forward(self.orders, self.knots, &mut up_to, self.meter)?;
        Ok(self.cheap(&kept, most, |search, at| up_to[search.end(at)]))
    }

    fn cheap(
        &mut self,
        among: &[usize],
        most: usize,
        cost: impl Fn(&Self, usize) -> C,
    ) -> Vec<usize> {
        let mut kept = Vec::new();
        for at in among {
            match cost(self, *at).number() {
                Some(misses) if misses <= most => kept.push(*at),
                misses => self.next = lesser(self.next, misses),
            }
        }
        kept
    }

    fn end(&self, start: usize) -> usize {
        self.ends.map_or(start, |ends| ends[start])
    }
}

/// The lesser of two numbers that may not be there.
fn lesser(one: Option<usize>, other: Option<usize>) -> Option<usize> {
    one.into_iter().chain(other).min()
}
