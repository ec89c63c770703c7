//! Which search is done for a picture, and what comes out of it.

use std::ops::RangeInclusive;

use super::PlannedKnot;
use super::beam::{BYTES_OF_A_STATE, OrderBeam};
use super::closed::ClosedSearch;
use super::counts::{evenly, in_proportion, neighbours, shares};
use super::hand::KnotPath;
use super::meter::{SearchHalt, StepMeter};
use super::orders::{ColourOrders, MissCost, number_of_orders};
use super::painting::{Closing, Painting, SolvingEffort, refused};
use super::passes::{CheapestWalk, backward, lists_for};
use super::windows::{PositionWindows, WindowedBand};
use crate::error::Error;
use crate::knot::{Column, Knot};
use crate::row::Row;

/// A knot that shows another colour than was wanted.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct MissedKnot {
    /// The row of the picture, from 1.
    pub row: usize,
    /// The column.
    pub column: Column,
    /// The colour that was wanted, from 0.
    pub wanted: u8,
    /// The colour that shows instead, from 0.
    pub shown: u8,
}

/// The knots that were found for a picture.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Solved {
    /// How many threads of each colour hang.
    pub counts: Vec<u16>,
    /// The colour of each thread at the start, from left to right, counted from 0.
    pub start: Vec<u8>,
    /// The rows of the picture with their knots. A row in which nothing is tied is empty.
    pub rows: Vec<Row>,
    /// The knots that show a wrong colour, in tying order.
    pub missed: Vec<MissedKnot>,
    /// No way to tie the picture misses fewer knots: with these counts of threads where they
    /// were given, with any where they were looked for.
    pub least: usize,
    /// Whether all orders of the colours were looked at, or only a beam of them.
    pub exact: bool,
}

impl Solved {
    /// Whether it is proved that no way to tie the picture misses fewer knots.
    #[must_use]
    pub fn is_proved(&self) -> bool {
        self.missed.len() == self.least
    }
}

impl Painting {
    /// Finds the knots.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::{Closing, Painting, SolvingEffort};
    /// // A chessboard of two colours: with two threads of each it comes round.
    /// let mut painting = Painting::lattice(4, 2, 8, |row, column| {
    ///     Some(u8::from((row / 2 + usize::from(column) / 2) % 2 == 1))
    /// })?;
    /// painting.counts = Some(vec![2, 2]);
    /// painting.closing = Closing::Closed;
    /// let solved = painting.solve(&SolvingEffort::default())?;
    /// assert!(solved.is_proved());
    /// assert_eq!(solved.missed.len(), solved.least);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it asks for columns, colours or counts that there are not, when nothing was found
    /// whose ends fit each other, or when the memory or the steps do not even suffice for a
    /// first answer.
    pub fn solve(&self, effort: &SolvingEffort) -> Result<Solved, Error> {
        self.solve_while(effort, |_| Ok(()))
    }

    /// Finds the knots, saying before each part of the work how many steps it will take, and
    /// asking whether to go on: for whoever bounds the time. A step takes a nanosecond or two.
    ///
    /// ```
    /// use hitchwork_core::{Error, picture::solve::{Painting, SolvingEffort}};
    /// #[derive(Debug, PartialEq)]
    /// enum Ended { Refused(String), OutOfTime }
    /// impl From<Error> for Ended {
    ///     fn from(error: Error) -> Self { Self::Refused(error.to_string()) }
    /// }
    /// let painting = Painting::lattice(10, 2, 20, |row, _| Some(u8::from(row % 3 == 0)))?;
    /// let mut left = 10_000_u64;
    /// let solved = painting.solve_while(&SolvingEffort::default(), |steps| {
    ///     left = left.checked_sub(steps).ok_or(Ended::OutOfTime)?;
    ///     Ok(())
    /// });
    /// assert_eq!(solved, Err(Ended::OutOfTime));
    /// # Ok::<(), Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`solve`](Self::solve), and when `go_on` gives one.
    pub fn solve_while<E: From<Error>>(
        &self,
        effort: &SolvingEffort,
        mut go_on: impl FnMut(u64) -> Result<(), E>,
    ) -> Result<Solved, E> {
        Ok(self.solved_well_enough(effort, usize::MAX, &mut go_on)??)
    }

    /// About how many bytes finding the knots takes at most: no more than are allowed, and where
    /// all orders are looked at often far fewer.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::{Painting, SolvingEffort};
    /// let effort = SolvingEffort::default();
    /// let small = Painting::lattice(8, 2, 20, |_, _| None)?;
    /// assert!(small.memory_bytes(&effort) < 1_000_000);
    /// let wide = Painting::lattice(100, 4, 20, |_, _| None)?;
    /// assert_eq!(wide.memory_bytes(&effort), effort.memory_bytes);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn memory_bytes(&self, effort: &SolvingEffort) -> u64 {
        let knots: usize = self.rows.iter().map(Vec::len).sum();
        // Of all counts the most even ones have the most orders.
        let counts = match &self.counts {
            Some(counts) => counts.clone(),
            None => evenly(self.threads, self.colours),
        };
        let needed = || {
            let bytes = bytes_of_a_cost(knots)?;
            let orders = number_of_orders(&counts)?;
            let lists = (knots as u64 + 4).checked_mul(bytes)?;
            let costs = orders.checked_mul(lists + BYTES_OF_A_START)?;
            // So many orders are not looked at all together.
            (costs <= effort.memory_bytes).then(|| costs + ColourOrders::bytes(&counts))
        };
        needed().map_or(effort.memory_bytes, |bytes| bytes.min(effort.memory_bytes))
    }

    /// Whoever waits may give up, which is another matter than that there is no way to tie it.
    fn solved_well_enough<E>(
        &self,
        effort: &SolvingEffort,
        enough: usize,
        go_on: &mut impl FnMut(u64) -> Result<(), E>,
    ) -> Result<Result<Solved, Error>, E> {
        let mut refusal = None;
        let solved = self.solved(effort, enough, &mut |steps| {
            go_on(steps).map_err(|error| refusal = Some(error)).is_ok()
        });
        match refusal {
            Some(error) => Err(error),
            None => Ok(solved),
        }
    }

    /// Finds the fewest free rows after the picture, of as many as these, with which it closes and
    /// misses no more knots than it does with open ends, and the knots for it; with the most of
    /// them, whatever it then misses. Where the counts are looked for,
    /// they are those that are best with open ends. If the picture is not to be closed in
    /// another way, it is closed as [`Closing::Closed`] says.
    ///
    /// As many free rows as there are threads are always enough for that (odd-even
    /// transposition sort; Knuth 1973). On more than two threads the rows are even in number, as
    /// a brick lattice has to be that is tied again and again, unless there is no such number of
    /// free rows among these.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::{Painting, SolvingEffort};
    /// // A thread of colour 1 runs from the left edge to the right, and has to come back.
    /// let mut painting = Painting::lattice(4, 2, 3, |row, column| {
    ///     Some(u8::from(row == usize::from(column)))
    /// })?;
    /// painting.counts = Some(vec![3, 1]);
    /// let (rows, solved) = painting.with_fewest_free_rows(0..=4, &SolvingEffort::default(), |_| Ok::<(), hitchwork_core::Error>(()))?;
    /// assert_eq!((rows, solved.missed.len()), (1, 0));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`solve_while`](Self::solve_while).
    pub fn with_fewest_free_rows<E: From<Error>>(
        &self,
        free: RangeInclusive<usize>,
        effort: &SolvingEffort,
        mut go_on: impl FnMut(u64) -> Result<(), E>,
    ) -> Result<(usize, Solved), E> {
        let open = Self {
            closing: Closing::Open,
            ..self.clone()
        };
        let open = open.solve_while(effort, &mut go_on)?;
        let mut closed = self.clone();
        closed.counts = Some(open.counts.clone());
        if closed.closing == Closing::Open {
            closed.closing = Closing::Closed;
        }
        let even = self.threads > 2;
        let (fewest, most) = free.into_inner();
        let uneven = even && !(self.rows.len() + fewest).is_multiple_of(2);
        let mut rows = (fewest + usize::from(uneven)).min(most);
        loop {
            let longer = closed.with_free_rows(rows);
            let last = rows + 1 + usize::from(even) > most;
            // One that misses more will not be taken, unless there is nothing after it.
            let enough = if last { usize::MAX } else { open.missed.len() };
            let found = longer.solved_well_enough(effort, enough, &mut go_on)?;
            match found {
                Ok(solved) if last || solved.missed.len() <= open.missed.len() => {
                    return Ok((rows, solved));
                }
                Err(error) if last => return Err(error.into()),
                // What does not close with so few rows may with more.
                Ok(_) | Err(_) => rows += 1 + usize::from(even),
            }
        }
    }

    /// As [`solve_while`](Self::solve_while), but with closed ends what misses more than
    /// `enough` knots need not be the best.
    fn solved(
        &self,
        effort: &SolvingEffort,
        enough: usize,
        go_on: &mut dyn FnMut(u64) -> bool,
    ) -> Result<Solved, Error> {
        self.check()?;
        let knots = self.rows.iter().flatten();
        let knots: Vec<PlannedKnot> = knots
            .map(|knot| (knot.column.index(), knot.colour))
            .collect();
        let mut search = PaintingSearch {
            painting: self,
            knots: &knots,
            effort,
            meter: StepMeter::new(effort.steps, go_on),
        };
        let found = match &self.counts {
            Some(counts) => search.with_counts(counts, enough),
            None => search.with_any_counts(enough),
        };
        match found {
            Ok(FoundKnots {
                counts,
                path: Some(path),
                least,
                exact,
            }) => Ok(self.written(counts, &path, least, exact)),
            Ok(_) => Err(refused(
                "no way was found to tie these rows so that the colours hang at the end as they have to",
                "add rows in which any colour will do, or leave the ends open",
            )),
            Err(_) => Err(refused(
                "the picture has too many orders of its colours to look for its knots",
                "hang fewer threads, or let it be looked for longer",
            )),
        }
    }

    fn written(&self, counts: Vec<u16>, path: &KnotPath, least: usize, exact: bool) -> Solved {
        let mut kinds = path.kinds.iter();
        let mut knot = |column| kinds.next().map(|kind| Knot::new(column, *kind));
        let row = |knots: &Vec<super::WantedKnot>| {
            Row::new(
                knots
                    .iter()
                    .filter_map(|wanted| knot(wanted.column))
                    .collect::<Vec<_>>(),
            )
        };
        let rows = self.rows.iter().map(row).collect();
        let numbered = self.rows.iter().enumerate();
        let places: Vec<_> = numbered
            .flat_map(|(row, knots)| knots.iter().map(move |knot| (row + 1, knot)))
            .collect();
        let missed = path.missed.iter().filter_map(|(at, shown)| {
            let (row, knot) = places[*at];
            Some(MissedKnot {
                row,
                column: knot.column,
                wanted: knot.colour?,
                shown: *shown,
            })
        });
        Solved {
            counts,
            start: path.start.clone(),
            rows,
            missed: missed.collect(),
            least,
            exact,
        }
    }
}

/// What came out for some counts.
struct FoundKnots {
    counts: Vec<u16>,
    path: Option<KnotPath>,
    least: usize,
    exact: bool,
}

impl FoundKnots {
    fn misses(&self) -> usize {
        self.path
            .as_ref()
            .map_or(usize::MAX, |path| path.missed.len())
    }
}

/// Bytes that an order takes in a list of misses, for so many knots; nothing where there are
/// too many knots for any.
fn bytes_of_a_cost(knots: usize) -> Option<u64> {
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
const BYTES_OF_A_START: u64 = 32;

struct PaintingSearch<'a, 'm> {
    painting: &'a Painting,
    knots: &'a [PlannedKnot],
    effort: &'a SolvingEffort,
    meter: StepMeter<'m>,
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

    fn with_counts(&mut self, counts: &[u16], enough: usize) -> Result<FoundKnots, SearchHalt> {
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

    fn windows(&mut self) -> Result<PositionWindows, SearchHalt> {
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
    fn open_misses(&mut self, counts: &[u16]) -> Result<Option<usize>, SearchHalt> {
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
        match bytes_of_a_cost(self.knots.len()) {
            Some(1) => misses::<u8>(counts, self.knots, &mut self.meter),
            _ => misses::<u16>(counts, self.knots, &mut self.meter),
        }
    }

    fn with_any_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let Painting {
            threads, colours, ..
        } = *self.painting;
        // All orders of all counts together are no more than this.
        let orders = u64::from(colours).checked_pow(u32::from(threads));
        let steps = orders.and_then(|orders| orders.checked_mul(self.knots.len() as u64));
        match steps.is_some_and(|steps| steps <= self.meter.left() / 4) {
            true => self.with_all_counts(enough),
            false => self.with_climbing_counts(enough),
        }
    }

    /// Tries all counts, those first that are best with open ends.
    fn with_all_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let mut all = Vec::new();
        for counts in shares(self.painting.threads, self.painting.colours) {
            if self.painting.may_hang(&counts) {
                let misses = self.open_misses(&counts)?.unwrap_or_default();
                all.push((misses, counts));
            }
        }
        all.sort_by_key(|(misses, _)| *misses);
        let mut best: Option<FoundKnots> = None;
        let mut least = usize::MAX;
        for (misses, counts) in all {
            let known = best.as_ref().map_or(usize::MAX, FoundKnots::misses);
            if misses >= known {
                least = least.min(misses);
                break;
            }
            let found = match self.with_counts(&counts, enough.min(known - 1)) {
                Err(SearchHalt::Steps) if best.is_some() => {
                    least = least.min(misses);
                    break;
                }
                found => found?,
            };
            least = least.min(found.least.max(misses));
            if best.is_none() || found.misses() < known {
                best = Some(found);
            }
        }
        let mut best = best.ok_or(SearchHalt::Steps)?;
        best.least = least.min(best.misses());
        Ok(best)
    }

    /// Begins with the share of each colour in the picture, and exchanges one thread after
    /// another as long as fewer knots miss with open ends.
    fn with_climbing_counts(&mut self, enough: usize) -> Result<FoundKnots, SearchHalt> {
        let painting = self.painting;
        let mut counts = in_proportion(painting.threads, painting.colours, self.knots);
        if !painting.may_hang(&counts) {
            return Err(SearchHalt::Steps);
        }
        let least = self.windows()?.least();
        // Half of the steps are for the search itself.
        let half = self.meter.left() / 2;
        let mut misses = self.open_misses(&counts)?;
        while let Some(most) = misses.filter(|misses| *misses > least) {
            let mut better = None;
            for other in neighbours(&counts) {
                let dear = number_of_orders(&other).is_none_or(|orders| {
                    orders.saturating_mul(self.knots.len() as u64)
                        > self.meter.left().saturating_sub(half)
                });
                if dear || !painting.may_hang(&other) {
                    continue;
                }
                if let Some(misses) = self.open_misses(&other)? {
                    let so_far = better.as_ref().map_or(most, |(misses, _)| *misses);
                    if misses < so_far {
                        better = Some((misses, other));
                    }
                }
            }
            let Some((fewer, other)) = better else { break };
            (misses, counts) = (Some(fewer), other);
        }
        let found = self.with_counts(&counts, enough)?;
        let least = least.min(found.misses());
        Ok(FoundKnots { least, ..found })
    }
}
