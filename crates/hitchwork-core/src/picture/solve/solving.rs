//! Which search is done for a picture, and what comes out of it.

use std::ops::RangeInclusive;

use super::PlannedKnot;
use super::counts::evenly;
use super::hand::KnotPath;
use super::meter::StepMeter;
use super::orders::{ColourOrders, number_of_orders};
use super::painting::{Closing, Painting, SolvingEffort, refused};
use super::search::{BYTES_OF_A_START, FoundKnots, PaintingSearch, bytes_of_a_cost};
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
