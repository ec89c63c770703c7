//! All knots of a picture over all orders, in one direction or the other, and the walk along
//! what they say.

use super::PlannedKnot;
use super::hand::{EasyHand, KnotPath};
use super::meter::{SearchHalt, StepMeter};
use super::orders::{ColourOrders, MissCost};

/// From costs at the finish to the fewest misses that each order at the start leads to.
pub(super) fn backward<C: MissCost>(
    orders: &ColourOrders,
    knots: &[PlannedKnot],
    costs: &mut [C],
    meter: &mut StepMeter<'_>,
) -> Result<(), SearchHalt> {
    pass(orders, knots.iter().rev(), costs, meter)
}

/// From costs at the start to the fewest misses with which each order at the finish is reached.
pub(super) fn forward<C: MissCost>(
    orders: &ColourOrders,
    knots: &[PlannedKnot],
    costs: &mut [C],
    meter: &mut StepMeter<'_>,
) -> Result<(), SearchHalt> {
    pass(orders, knots.iter(), costs, meter)
}

fn pass<'a, C: MissCost>(
    orders: &ColourOrders,
    knots: impl Iterator<Item = &'a PlannedKnot>,
    costs: &mut [C],
    meter: &mut StepMeter<'_>,
) -> Result<(), SearchHalt> {
    for (column, wanted) in knots {
        meter.spend(orders.len())?;
        orders.knot(costs, *column, *wanted);
    }
    Ok(())
}

/// How many lists of costs a walk along so many knots must be able to hold besides the first.
pub(super) fn lists_for(knots: usize) -> usize {
    (usize::BITS - knots.leading_zeros()) as usize + 1
}

/// Walks from a start along knots that cost least, given what each order costs at the finish.
///
/// Which way is cheapest is known only from behind, so the costs before every knot are wanted
/// in the opposite order to that in which they come about. As many as fit are held; of a
/// longer stretch those in the middle, from which the first half is found again.
pub(super) struct CheapestWalk<'a, 'm, C> {
    pub(super) orders: &'a ColourOrders,
    pub(super) knots: &'a [PlannedKnot],
    pub(super) meter: &'a mut StepMeter<'m>,
    /// Where to begin; the first of the cheapest orders, if nothing.
    pub(super) start: Option<usize>,
    hand: Option<EasyHand>,
    kind: std::marker::PhantomData<C>,
}

impl<'a, 'm, C: MissCost> CheapestWalk<'a, 'm, C> {
    pub(super) fn new(
        orders: &'a ColourOrders,
        knots: &'a [PlannedKnot],
        start: Option<usize>,
        meter: &'a mut StepMeter<'m>,
    ) -> Self {
        Self {
            orders,
            knots,
            meter,
            start,
            hand: None,
            kind: std::marker::PhantomData,
        }
    }

    /// The path, with no more than `lists` lists of costs held at a time besides the one given.
    pub(super) fn along(mut self, finish: &[C], lists: usize) -> Result<KnotPath, SearchHalt> {
        self.stretch(0, self.knots.len(), finish, lists)?;
        self.hand(finish);
        Ok(self.hand.map(EasyHand::path).expect("it has begun"))
    }

    fn stretch(
        &mut self,
        from: usize,
        to: usize,
        after: &[C],
        lists: usize,
    ) -> Result<(), SearchHalt> {
        let knots = &self.knots[from..to];
        if knots.len() > lists.max(1) {
            let middle = from + knots.len() / 2;
            let mut costs = after.to_vec();
            backward(self.orders, &self.knots[middle..to], &mut costs, self.meter)?;
            self.stretch(from, middle, &costs, lists.saturating_sub(1))?;
            drop(costs);
            return self.stretch(middle, to, after, lists);
        }
        // The costs before each knot, the last knot's first.
        let mut held: Vec<Vec<C>> = Vec::with_capacity(knots.len());
        for knot in knots.iter().rev() {
            let mut costs = held.last().map_or(after, Vec::as_slice).to_vec();
            backward(
                self.orders,
                std::slice::from_ref(knot),
                &mut costs,
                self.meter,
            )?;
            held.push(costs);
        }
        for knot in knots {
            if let Some(before) = held.pop() {
                self.hand(&before);
            }
            self.tie(*knot, held.last().map_or(after, Vec::as_slice));
        }
        Ok(())
    }

    /// The hand; at the very beginning one that holds the start order.
    fn hand(&mut self, costs: &[C]) -> &mut EasyHand {
        let (orders, start) = (self.orders, self.start);
        self.hand.get_or_insert_with(|| {
            let cheapest = || (0..costs.len()).min_by_key(|number| costs[*number]);
            let start = start.or_else(cheapest).unwrap_or_default();
            EasyHand::new(orders.order(start))
        })
    }

    fn tie(&mut self, knot: PlannedKnot, after: &[C]) {
        let orders = self.orders;
        let hand = self.hand(after);
        let mut colours = hand.colours().to_vec();
        let staying = after[orders.number(&colours)].number();
        colours.swap(knot.0, knot.0 + 1);
        let changing = after[orders.number(&colours)].number();
        hand.tie(knot, staying, changing);
    }
}
