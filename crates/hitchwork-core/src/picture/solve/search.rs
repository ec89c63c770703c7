//! The search for counts that are given: over all orders where they can be looked at, and by a
//! beam where they are too many.

use super::PlannedKnot;
use super::beam::{BYTES_OF_A_STATE, OrderBeam};
use super::closed::ClosedSearch;
use super::hand::KnotPath;
use super::meter::{SearchHalt, StepMeter};
use super::orders::{ColourOrders, MissCost, number_of_orders};
use super::painting::{Closing, Painting, SolvingEffort};
use super::passes::{CheapestWalk, backward, lists_for};
use super::windows::{PositionWindows, WindowedBand};

/// What came out for some counts.
pub(super) struct FoundKnots {
    pub(super) counts: Vec<u16>,
    pub(super) path: Option<KnotPath>,
    pub(super) least: usize,
    pub(super) exact: bool,
}

impl FoundKnots {
    pub(super) fn misses(&self) -> usize {
        self.path
            .as_ref()
            .map_or(usize::MAX, |path| path.missed.len())
    }
}

/// Bytes that an order takes in a list of misses, for so many knots; nothing where there are
/// too many knots for any.
pub(super) fn bytes_of_a_cost(knots: usize) -> Option<u64> {
    match knots {
        0..=254 => Some(1),
        255..=65_534 => Some(2),
        _ => None,
    }
}

/// The most orders that a beam keeps.
const MOST_IN_A_BEAM: usize = 1_000_000;

/// Bytes that a closed search holds for each order besides costs: where it ends, and the orders
/// that are left.
pub(super) const BYTES_OF_A_START: u64 = 32;

/// A search under way.
pub(super) struct PaintingSearch<'a, 'm> {
    pub(super) painting: &'a Painting,
    pub(super) knots: &'a [PlannedKnot],
    pub(super) effort: &'a SolvingEffort,
    pub(super) meter: StepMeter<'m>,
}

impl<'a> PaintingSearch<'a, '_> {
    fn is_open(&self) -> bool {
        self.painting.closing == Closing::Open
    }

    /// How many lists of costs fit besides what a search holds anyway, where all orders can be
    /// looked at; nothing where they are too many for memory or steps.
    fn lists(&self, counts: &[u16]) -> Option<usize> {
        let bytes = bytes_of_a_cost(self.knots.len())?;
        let orders = number_of_orders(counts)?;
        let least = lists_for(self.knots.len());
        let closing = if self.is_open() {
            0
        } else {
            BYTES_OF_A_START + 3 * bytes
        };
        let held = orders.checked_mul(closing + bytes)?;
        let room = self.effort.memory_bytes.checked_sub(held)?;
        let room = room.checked_sub(ColourOrders::bytes(counts))?;
        let lists = usize::try_from(room / (orders * bytes)).unwrap_or(usize::MAX);
        let passes = if self.is_open() { 0 } else { 3 };
        let steps = self.steps_of_a_walk(orders, lists).saturating_add(
            orders
                .saturating_mul(self.knots.len() as u64)
                .saturating_mul(passes),
        );
        (lists >= least && steps <= self.meter.left()).then_some(lists)
    }

    /// At most so many steps are taken along a path.
    fn steps_of_a_walk(&self, orders: u64, lists: usize) -> u64 {
        let knots = self.knots.len();
        let again = if knots <= lists {
            0
        } else {
            lists_for(knots) as u64
        };
        orders
            .saturating_mul(knots as u64)
            .saturating_mul(1 + again)
    }

    /// The knots for counts that are given; with closed ends, what misses more than `enough` knots
    /// need not be the best.
    pub(super) fn with_counts(
        &mut self,
        counts: &[u16],
        enough: usize,
    ) -> Result<FoundKnots, SearchHalt> {
        let Some(lists) = self.lists(counts) else {
            return self.by_beam(counts);
        };
        let orders = ColourOrders::new(counts);
        let (path, least) = match bytes_of_a_cost(self.knots.len()) {
            Some(1) => self.exact::<u8>(&orders, lists, enough)?,
            _ => self.exact::<u16>(&orders, lists, enough)?,
        };
        Ok(FoundKnots {
            counts: counts.to_vec(),
            path,
            least,
            exact: true,
        })
    }

    fn exact<C: MissCost>(
        &mut self,
        orders: &ColourOrders,
        lists: usize,
        enough: usize,
    ) -> Result<(Option<KnotPath>, usize), SearchHalt> {
        if self.is_open() {
            let finish = vec![C::NOTHING; orders.len()];
            let path = CheapestWalk::new(orders, self.knots, None, &mut self.meter)
                .along(&finish, lists)?;
            let least = path.missed.len();
            return Ok((Some(path), least));
        }
        let ends = self.ends(orders);
        let walk = self.steps_of_a_walk(orders.len() as u64, lists);
        let (knots, starts) = (self.knots, self.effort.starts.max(1));
        let found = self.meter.keeping(walk, |meter| {
            ClosedSearch::<C>::new(orders, knots, ends.as_deref(), starts, meter).search(enough)
        })?;
        let Some((misses, start)) = found.best else {
            return Ok((None, found.least.unwrap_or_default()));
        };
        let end = ends.as_ref().map_or(start, |ends| ends[start]);
        let mut finish = vec![C::BEYOND; orders.len()];
        finish[end] = C::NOTHING;
        let path =
            CheapestWalk::new(orders, knots, Some(start), &mut self.meter).along(&finish, lists)?;
        Ok((Some(path), found.least.unwrap_or_default().min(misses)))
    }

    /// For each order, in which it has to end; nothing where in itself.
    fn ends(&self, orders: &ColourOrders) -> Option<Vec<usize>> {
        if self.painting.closing == Closing::Closed {
            return None;
        }
        let end = |number| {
            let end = self.painting.ends_of(&orders.order(number));
            end.map_or(number, |end| orders.number(&end))
        };
        Some((0..orders.len()).map(end).collect())
    }

    fn by_beam(&mut self, counts: &[u16]) -> Result<FoundKnots, SearchHalt> {
        let windows = self.windows()?;
        let band = self.windowed();
        let painting = self.painting;
        let end = |start: &[u8]| painting.ends_of(start).unwrap_or_default();
        let beam = OrderBeam {
            counts,
            band,
            windows: &windows,
            kept: self.kept_by_beam(),
            end: if self.is_open() { None } else { Some(&end) },
        };
        Ok(FoundKnots {
            counts: counts.to_vec(),
            path: beam.path(&mut self.meter)?,
            least: windows.least(),
            exact: false,
        })
    }

    /// As many orders as are wanted, or as many as have room for how they came about.
    fn kept_by_beam(&self) -> usize {
        let each = BYTES_OF_A_STATE * self.knots.len().max(1) as u64;
        let room = usize::try_from(self.effort.memory_bytes / 4 / each).unwrap_or(usize::MAX);
        self.effort.beam.min(room).clamp(1, MOST_IN_A_BEAM)
    }

    pub(super) fn windows(&mut self) -> Result<PositionWindows, SearchHalt> {
        let band = self.windowed();
        PositionWindows::new(band, None, &mut self.meter)
    }

    fn windowed(&self) -> WindowedBand<'a> {
        WindowedBand {
            colours: usize::from(self.painting.colours),
            threads: usize::from(self.painting.threads),
            knots: self.knots,
            memory_bytes: self.effort.memory_bytes / 4,
        }
    }

    /// The fewest misses with open ends, where all orders can be looked at.
    pub(super) fn open_misses(&mut self, counts: &[u16]) -> Result<Option<usize>, SearchHalt> {
        self.open_misses_of(self.knots, counts)
    }

    /// The same for as many knots that show other colours.
    pub(super) fn open_misses_of(
        &mut self,
        knots: &[PlannedKnot],
        counts: &[u16],
    ) -> Result<Option<usize>, SearchHalt> {
        fn misses<C: MissCost>(
            counts: &[u16],
            knots: &[PlannedKnot],
            meter: &mut StepMeter<'_>,
        ) -> Result<Option<usize>, SearchHalt> {
            let orders = ColourOrders::new(counts);
            let mut costs = vec![C::NOTHING; orders.len()];
            backward(&orders, knots, &mut costs, meter)?;
            Ok(costs.iter().min().and_then(|cost| cost.number()))
        }
        if self.lists(counts).is_none() {
            return Ok(None);
        }
        match bytes_of_a_cost(knots.len()) {
            Some(1) => misses::<u8>(counts, knots, &mut self.meter),
            _ => misses::<u16>(counts, knots, &mut self.meter),
        }
    }
}
