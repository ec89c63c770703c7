//! What is asked: a picture knot by knot, and what may be done for it.

use crate::error::{Error, Problem};
use crate::knot::Column;
use crate::limits::{MAX_ROWS, MAX_THREADS, MIN_THREADS};

/// A place to be tied, and the colour that is to show there.
///
/// ```
/// use hitchwork_core::{knot::Column, picture::solve::WantedKnot};
/// let column = Column::new(1).expect("columns count from 1");
/// let free = WantedKnot { column, colour: None };
/// assert_ne!(free, WantedKnot { column, colour: Some(0) });
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WantedKnot {
    /// The column.
    pub column: Column,
    /// The colour, counted from 0; nothing where any will do.
    pub colour: Option<u8>,
}

/// How the colours have to hang at the end.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Closing {
    /// Anyhow: the rows are tied once.
    #[default]
    Open,
    /// As they hung at the start: the rows can be tied again and again.
    Closed,
    /// As at the start, but with another colour in the place of each, as in a repeat that
    /// drifts: for each colour, counted from 0, the one that then hangs where it hung.
    Renamed(Vec<u8>),
    /// As at the start, but in other places: for each position, counted from 0, the one at
    /// which the colour hung at the start that hangs there at the end.
    Rearranged(Vec<u16>),
}

/// A picture to be tied, knot by knot.
///
/// ```
/// use hitchwork_core::picture::solve::{Painting, SolvingEffort};
/// // Two colours on four threads: a slanting line of colour 1.
/// let picture = ["a a", " b ", "b a", " b "];
/// let painting = Painting::lattice(4, 2, 4, |row, column| {
///     match picture[row - 1].as_bytes()[usize::from(column) - 1] {
///         b'a' => Some(0),
///         _ => Some(1),
///     }
/// })?;
/// let solved = painting.solve(&SolvingEffort::default())?;
/// assert_eq!(solved.missed, []);
/// assert_eq!(solved.rows.len(), 4);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Painting {
    /// How many threads hang, 2 to 200.
    pub threads: u16,
    /// How many colours there are.
    pub colours: u8,
    /// The rows, each with its knots in tying order.
    pub rows: Vec<Vec<WantedKnot>>,
    /// How many threads of each colour hang, where that is given. Otherwise it is looked for,
    /// with one thread of each colour at least.
    pub counts: Option<Vec<u16>>,
    /// How the colours have to hang at the end.
    pub closing: Closing,
}

/// How much may be done to find the knots.
///
/// ```
/// use hitchwork_core::picture::solve::SolvingEffort;
/// let quick = SolvingEffort { steps: 100_000_000, ..SolvingEffort::default() };
/// assert!(quick.memory_bytes <= 400_000_000);
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SolvingEffort {
    /// About how much memory may be used, in bytes. Where all orders do not fit, a beam is
    /// searched instead.
    pub memory_bytes: u64,
    /// How many steps may be taken, one for each order of the colours at each knot.
    pub steps: u64,
    /// From how many starts at most a way back is looked for, one by one, for each choice of
    /// counts.
    pub starts: usize,
    /// How many orders a beam keeps after each knot.
    pub beam: usize,
}

impl Default for SolvingEffort {
    /// 400 MB; 20 thousand million steps, about half a minute; 10,000 starts; a beam of 500.
    fn default() -> Self {
        Self {
            memory_bytes: 400_000_000,
            steps: 20_000_000_000,
            starts: 10_000,
            beam: 500,
        }
    }
}

/// The columns of a row of the brick lattice, by its number from 1.
fn columns_of(threads: u16, row: usize) -> impl Iterator<Item = Column> {
    let first = if row.is_multiple_of(2) && threads > 2 {
        2
    } else {
        1
    };
    (first..threads).step_by(2).filter_map(Column::new)
}

impl Painting {
    /// A picture on the brick lattice: columns 1, 3, 5… in the odd rows, 2, 4, 6… in the even
    /// ones (on two threads, the one column in all of them). `cell` gives the colour for a row
    /// and a column, both counted from 1, or nothing where any will do. The ends are open, and
    /// the counts are looked for.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::Painting;
    /// let painting = Painting::lattice(5, 2, 3, |_, _| None)?;
    /// assert_eq!(painting.rows.iter().map(Vec::len).collect::<Vec<_>>(), [2, 2, 2]);
    /// assert!(Painting::lattice(1, 2, 3, |_, _| None).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there are too few or too many threads or rows for a band, or when a colour is
    /// wanted that is not one of so many.
    pub fn lattice(
        threads: u16,
        colours: u8,
        rows: usize,
        mut cell: impl FnMut(usize, u16) -> Option<u8>,
    ) -> Result<Self, Error> {
        check_threads(threads)?;
        check_rows(rows)?;
        let knots = |row| {
            let wanted = |column: Column| WantedKnot {
                column,
                colour: cell(row, column.number()),
            };
            columns_of(threads, row).map(wanted).collect()
        };
        let painting = Self {
            threads,
            colours,
            rows: (1..=rows).map(knots).collect(),
            counts: None,
            closing: Closing::Open,
        };
        painting.check()?;
        Ok(painting)
    }

    /// The same with so many rows more in which any colour will do, in which the colours can
    /// come back to how they hung at the start. They go on as a brick lattice does.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::Painting;
    /// let painting = Painting::lattice(4, 2, 3, |_, _| Some(1))?.with_free_rows(1);
    /// assert_eq!(painting.rows[3].len(), 1);
    /// assert_eq!(painting.rows[3][0].colour, None);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn with_free_rows(&self, rows: usize) -> Self {
        let mut longer = self.clone();
        for _ in 0..rows {
            let columns = columns_of(self.threads, longer.rows.len() + 1);
            let free = |column| WantedKnot {
                column,
                colour: None,
            };
            longer.rows.push(columns.map(free).collect());
        }
        longer
    }

    /// The same on so many threads more at the right, with knots between them that may show any
    /// colour, and counts that are looked for.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::Painting;
    /// let wider = Painting::lattice(4, 2, 2, |_, _| Some(1))?.on_more_threads(2)?;
    /// let colours: Vec<_> = wider.rows[0].iter().map(|knot| knot.colour).collect();
    /// assert_eq!(colours, [Some(1), Some(1), None]);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there are too many threads for a band, or the colours have to end in other places.
    pub fn on_more_threads(&self, more: u16) -> Result<Self, Error> {
        let threads = self.threads.saturating_add(more);
        let mut wider = Self {
            threads,
            counts: None,
            ..self.clone()
        };
        for (row, knots) in wider.rows.iter_mut().enumerate() {
            let new = columns_of(threads, row + 1).filter(|column| column.number() >= self.threads);
            knots.extend(new.map(|column| WantedKnot {
                column,
                colour: None,
            }));
        }
        wider.check()?;
        Ok(wider)
    }

    /// Refuses what cannot be tied, whatever the knots.
    pub(in crate::picture) fn check(&self) -> Result<(), Error> {
        check_threads(self.threads)?;
        check_rows(self.rows.len())?;
        if self.colours == 0 {
            return Err(refused(
                "a picture without colours leaves nothing to show",
                "give at least one colour",
            ));
        }
        self.check_knots()?;
        match &self.counts {
            Some(counts) => self.check_counts(counts)?,
            None if u16::from(self.colours) > self.threads => {
                return Err(refused(
                    format!(
                        "{} colours do not hang on {} threads: each needs a thread at least",
                        self.colours, self.threads
                    ),
                    "hang more threads, or paint with fewer colours",
                ));
            }
            None => {}
        }
        self.check_closing()
    }

    fn check_knots(&self) -> Result<(), Error> {
        for (row, knots) in self.rows.iter().enumerate() {
            for knot in knots {
                let column = knot.column.number();
                if column >= self.threads {
                    let threads = Some(self.threads);
                    let column = i64::from(column);
                    return Err(Problem::NoSuchColumn { column, threads }.into());
                }
                if let Some(colour) = knot.colour.filter(|colour| *colour >= self.colours) {
                    return Err(refused(
                        format!(
                            "row {}, column {column} asks for colour {colour} (counted from 0), and there are {}",
                            row + 1,
                            self.colours
                        ),
                        "ask for one of the colours, or for more of them",
                    ));
                }
            }
        }
        Ok(())
    }

    fn check_counts(&self, counts: &[u16]) -> Result<(), Error> {
        let hung: usize = counts.iter().copied().map(usize::from).sum();
        let help = "give for every colour how many threads of it hang, all threads together; or leave the counts out, and they are looked for";
        if counts.len() != usize::from(self.colours) {
            let (given, colours) = (counts.len(), self.colours);
            return Err(refused(
                format!("there are {colours} colours, and {given} counts of threads"),
                help,
            ));
        }
        if hung != usize::from(self.threads) {
            let threads = self.threads;
            return Err(refused(
                format!("the colours have {hung} threads together, and the band has {threads}"),
                help,
            ));
        }
        Ok(())
    }

    fn check_closing(&self) -> Result<(), Error> {
        let is_rearranged = |list: &[usize], of: usize| {
            let mut sorted = list.to_vec();
            sorted.sort_unstable();
            sorted.into_iter().eq(0..of)
        };
        let fits = match &self.closing {
            Closing::Open | Closing::Closed => true,
            Closing::Renamed(names) => {
                let names: Vec<usize> = names.iter().copied().map(usize::from).collect();
                is_rearranged(&names, usize::from(self.colours))
                    && self
                        .counts
                        .as_ref()
                        .is_none_or(|counts| self.may_hang(counts))
            }
            Closing::Rearranged(from) => {
                let from: Vec<usize> = from.iter().copied().map(usize::from).collect();
                is_rearranged(&from, usize::from(self.threads))
            }
        };
        match fits {
            true => Ok(()),
            false => Err(refused(
                "the colours cannot hang like that at the end",
                "say for each colour, or for each position, which other takes its place, each of them once, and only colours with as many threads",
            )),
        }
    }

    /// Whether so many threads of each colour can hang at the end as they have to.
    pub(super) fn may_hang(&self, counts: &[u16]) -> bool {
        let Closing::Renamed(names) = &self.closing else {
            return true;
        };
        let renamed = |(from, to): (usize, &u8)| counts[from] == counts[usize::from(*to)];
        names.iter().enumerate().all(renamed)
    }

    /// How the colours have to hang at the end for how they hang at the start; nothing where
    /// any way will do.
    pub(in crate::picture) fn ends_of(&self, start: &[u8]) -> Option<Vec<u8>> {
        match &self.closing {
            Closing::Open => None,
            Closing::Closed => Some(start.to_vec()),
            Closing::Renamed(names) => {
                let named = |colour: &u8| names[usize::from(*colour)];
                Some(start.iter().map(named).collect())
            }
            Closing::Rearranged(from) => {
                Some(from.iter().map(|from| start[usize::from(*from)]).collect())
            }
        }
    }
}

fn check_threads(threads: u16) -> Result<(), Error> {
    match (MIN_THREADS..=MAX_THREADS).contains(&threads) {
        true => Ok(()),
        false => {
            let found = usize::from(threads);
            Err(Problem::ThreadCount { found }.into())
        }
    }
}

fn check_rows(rows: usize) -> Result<(), Error> {
    match rows <= MAX_ROWS {
        true => Ok(()),
        false => Err(Problem::TooManyRows {
            part: "picture",
            found: rows,
        }
        .into()),
    }
}

pub(in crate::picture) fn refused(message: impl Into<String>, help: &str) -> Error {
    Problem::Painting {
        message: message.into(),
        help: help.into(),
    }
    .into()
}
