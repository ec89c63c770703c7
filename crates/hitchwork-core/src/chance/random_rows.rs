//! Rows of knots by chance.

use super::Chance;
use crate::error::{Error, Problem};
use crate::knot::{Kind, Knot};
use crate::proof::{Frieze, Mesh, Places, brick_lattice, greatest_common_divisor};
use crate::row::Row;

/// The name of the recipe by which [`RandomRows`] turns choices into rows; a change of the
/// recipe gets a new one.
pub const RANDOM_ROWS_VERSION: &str = "hitchwork-random-rows/1";

/// How rows are to come out that chance makes: the kinds of the knots of a
/// [brick lattice](brick_lattice), within bounds.
///
/// With nothing but the number of threads, the rows, a symmetry and kinds of equal weight,
/// all rows to which a fundamental piece can be continued (see [`Places`]) are equally
/// likely. Weights, a density, a smoothness and a longest run make some likelier than
/// others, as each says.
///
/// The recipe: the [places](Places) that the symmetry lets decide, in tying order. For each,
/// where the density is below 1, a unit decides whether its knots are tied; where the
/// smoothness is above 0 and a neighbour has been decided, a unit decides whether its kind
/// is taken over; else a number below the sum of the weights of the kinds that it may have
/// picks one of them, in the order of [`Kind::ALL`]. (The weights are first divided by what
/// divides them all. Where the sum is a power of two, up to 2^16, the number is this many bits
/// of a word that is kept for this, its lowest first, and drawn again when it has too few
/// left; else it is [`Chance::below`] of the sum.) A kind that would make a run too long is
/// neither taken over nor picked while there is another; where a run is too long all the
/// same, round the end of the repeat or by the symmetry, everything is drawn again. Fixed
/// places use no chance.
///
/// ```
/// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
/// use hitchwork_core::proof::{Frieze, Strip};
/// let mut recipe = RandomRows::new(8, 12);
/// recipe.symmetry = Frieze::P2;
/// let rows = recipe.draw(&mut Chance::new(7, Purpose::Rule))?;
/// assert_eq!(rows.len(), 12);
/// assert!(Strip::of_rows(&rows, 8).pattern().group.turns());
/// assert_eq!(recipe.draw(&mut Chance::new(7, Purpose::Rule))?, rows);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq)]
pub struct RandomRows {
    /// How many threads the band has.
    pub threads: u16,
    /// How many rows the lattice has; an even number on more than two threads.
    pub rows: usize,
    /// For each kind, in the order of [`Kind::ALL`], how likely it is compared with the others.
    pub weights: [u32; 4],
    /// The symmetry that the rows have, if nothing is left out or fixed against it.
    pub symmetry: Frieze,
    /// The probability with which a place is tied at all, 0 to 1. Rows in which nothing is
    /// tied are left out of the result.
    pub density: f64,
    /// The probability with which a knot takes over the kind of the one that was decided
    /// last in the column to its left or, where there is none, in its own or to its right.
    pub smoothness: f64,
    /// At most this many knots of one kind come one after another in a column, the last of
    /// the repeat being followed by its first; nothing for no bound. A column that has a
    /// single knot in the repeat is let be.
    pub longest_run: Option<usize>,
    /// Knots that are as they are: rows from the first on. Those that the symmetry makes
    /// of them are fixed too.
    pub fixed: Vec<Row>,
}

/// This many times rows are drawn again because a run is too long, before it is given up.
const TRIES: usize = 1000;

impl RandomRows {
    /// All kinds equally likely, everything tied, no symmetry asked for.
    #[must_use]
    pub fn new(threads: u16, rows: usize) -> Self {
        Self {
            threads,
            rows,
            weights: [1; 4],
            symmetry: Frieze::P1,
            density: 1.0,
            smoothness: 0.0,
            longest_run: None,
            fixed: Vec::new(),
        }
    }

    /// Draws rows.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
    /// let rows = RandomRows::new(6, 4).draw(&mut Chance::new(7, Purpose::Rule))?;
    /// assert_eq!(rows.iter().map(|row| row.len()).collect::<Vec<_>>(), [3, 2, 3, 2]);
    /// // A lattice of bricks has an even number of rows.
    /// assert!(RandomRows::new(6, 3).draw(&mut Chance::new(7, Purpose::Rule)).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there is no such lattice or it cannot have the symmetry, when a probability is
    /// not from 0 to 1, when all kinds that a place may have weigh nothing, when a fixed
    /// knot lies where the lattice has none or against the symmetry, when no knot at all is
    /// tied, or when the longest run was exceeded in every one of 1,000 tries.
    pub fn draw(&self, chance: &mut Chance) -> Result<Vec<Row>, Error> {
        self.prepared()?.draw(chance)
    }

    /// Checks the recipe and finds the places once, for drawing many rows.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
    /// let recipe = RandomRows::new(6, 4);
    /// let prepared = recipe.prepared()?;
    /// for seed in 0..100 {
    ///     let chance = || Chance::new(seed, Purpose::Rule);
    ///     assert_eq!(prepared.draw(&mut chance())?, recipe.draw(&mut chance())?);
    /// }
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`draw`](Self::draw).
    pub fn prepared(&self) -> Result<Prepared, Error> {
        for found in [self.density, self.smoothness] {
            if !(0.0..=1.0).contains(&found) {
                return Err(Problem::Chance { found }.into());
            }
        }
        if self.longest_run == Some(0) {
            return Err(Problem::RandomRows {
                message: "a longest run of 0 knots leaves nothing to tie".into(),
                help: "allow runs of at least 1 knot of one kind".into(),
            }
            .into());
        }
        let lattice = brick_lattice(self.threads, self.rows)?;
        let places = Places::new(&lattice, self.threads, self.symmetry)?;
        let fixed = places.decided_by(&self.fixed)?;
        let weights = in_lowest_terms(self.weights);
        let mut lots = Vec::with_capacity(fixed.len());
        for (orbit, fixed) in places.orbits().iter().zip(&fixed) {
            let drawn_from = Lots::new(orbit.allowed(), weights, None);
            if fixed.is_none() && drawn_from.is_none() {
                let names: Vec<&str> = orbit.allowed().iter().map(|kind| kind.name()).collect();
                return Err(Problem::RandomRows {
                    message: format!(
                        "{} asks for a knot that is {}, and these kinds weigh nothing",
                        self.symmetry,
                        names.join(" or ")
                    ),
                    help: "give one of them a weight, or ask for another symmetry".into(),
                }
                .into());
            }
            lots.push(drawn_from.unwrap_or_default());
        }
        Ok(Prepared {
            recipe: self.clone(),
            neighbours: neighbours(places.mesh().columns(), self.threads),
            weights,
            lots,
            places,
            fixed,
        })
    }
}

fn in_lowest_terms(weights: [u32; 4]) -> [u32; 4] {
    let common = weights
        .map(u64::from)
        .into_iter()
        .fold(0, greatest_common_divisor);
    let common = u32::try_from(common).map_or(1, |common| common.max(1));
    weights.map(|weight| weight / common)
}

/// The bits that are left of a word.
#[derive(Default)]
struct Bits {
    word: u64,
    left: u32,
}

impl Bits {
    /// A number below a sum of weights.
    fn below(&mut self, sum: u64, chance: &mut Chance) -> u64 {
        if !sum.is_power_of_two() || sum > 1 << 16 {
            return chance.below(sum);
        }
        let count = sum.trailing_zeros();
        if self.left < count {
            *self = Self {
                word: chance.word(),
                left: u64::BITS,
            };
        }
        let number = self.word & (sum - 1);
        self.word >>= count;
        self.left -= count;
        number
    }
}

/// Kinds, each with its share of the numbers below a sum.
#[derive(Clone, Copy, Debug, Default)]
struct Lots {
    kinds: [Option<Kind>; 4],
    /// Where the shares of the first three end.
    ends: [u64; 3],
    sum: u64,
}

impl Lots {
    /// The allowed kinds but the avoided one, by their weights; nothing where all of them
    /// weigh nothing.
    fn new(allowed: &[Kind], weights: [u32; 4], avoided: Option<Kind>) -> Option<Self> {
        let mut lots = Self::default();
        let mut ends = [0; 4];
        for (at, end) in ends.iter_mut().enumerate() {
            if let Some(kind) = allowed.get(at) {
                lots.kinds[at] = Some(*kind);
                if avoided != Some(*kind) {
                    lots.sum += u64::from(weights[*kind as usize]);
                }
            }
            *end = lots.sum;
        }
        lots.ends = [ends[0], ends[1], ends[2]];
        (lots.sum > 0).then_some(lots)
    }

    fn draw(&self, bits: &mut Bits, chance: &mut Chance) -> Kind {
        let number = bits.below(self.sum, chance);
        let at = self.ends.map(|end| usize::from(number >= end));
        self.kinds[at[0] + at[1] + at[2]].unwrap_or(Kind::Forward)
    }
}

/// For each knot, the last ones before it to its left, in its own column and to its right.
fn neighbours(columns: &[u16], threads: u16) -> Vec<[Option<usize>; 3]> {
    let mut last = vec![None; usize::from(threads) + 1];
    let neighbour = |(knot, column): (usize, &u16)| {
        let at = usize::from(*column);
        let found = [last[at - 1], last[at], last[at + 1]];
        last[at] = Some(knot);
        found
    };
    columns.iter().enumerate().map(neighbour).collect()
}

/// Whether the knots of a column, tied again and again, have no longer run of one kind.
fn lane_within(lane: &[Kind], longest: usize) -> bool {
    // A column of one kind all along runs on without end, however short it is.
    let mut within = lane.len() < 2 || lane.iter().any(|kind| *kind != lane[0]);
    let round = || lane.iter().chain(lane);
    let mut run = 0;
    for (kind, next) in round().zip(round().skip(1)) {
        run = if kind == next { run + 1 } else { 0 };
        within &= run < longest;
    }
    within
}

/// A recipe that has been checked, with its places.
#[derive(Clone, Debug)]
pub struct Prepared {
    recipe: RandomRows,
    places: Places,
    fixed: Vec<Option<Kind>>,
    weights: [u32; 4],
    /// For each orbit, what its first knot is drawn from where no kind is avoided.
    lots: Vec<Lots>,
    neighbours: Vec<[Option<usize>; 3]>,
}

impl Prepared {
    /// Draws rows.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
    /// let prepared = RandomRows::new(6, 4).prepared()?;
    /// assert_eq!(prepared.draw(&mut Chance::new(7, Purpose::Rule))?.len(), 4);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When no knot at all is tied, or when the longest run was exceeded in every one of
    /// 1,000 tries.
    pub fn draw(&self, chance: &mut Chance) -> Result<Vec<Row>, Error> {
        self.draw_while(chance, || Ok(()))
    }

    /// Draws rows, asking before each try whether to go on: for whoever bounds the time. A
    /// try takes time proportional to the places.
    ///
    /// ```
    /// use hitchwork_core::Error;
    /// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
    /// #[derive(Debug, PartialEq)]
    /// enum Ended { Refused(String), OutOfTime }
    /// impl From<Error> for Ended {
    ///     fn from(error: Error) -> Self { Self::Refused(error.to_string()) }
    /// }
    /// let mut recipe = RandomRows::new(8, 400);
    /// recipe.longest_run = Some(1);
    /// let mut tries = 0..3;
    /// let drawn = recipe.prepared()?.draw_while(&mut Chance::new(7, Purpose::Rule), || {
    ///     tries.next().map(drop).ok_or(Ended::OutOfTime)
    /// });
    /// assert_eq!(drawn, Err(Ended::OutOfTime));
    /// # Ok::<(), Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`draw`](Self::draw), and when `go_on` gives one.
    pub fn draw_while<E: From<Error>>(
        &self,
        chance: &mut Chance,
        go_on: impl FnMut() -> Result<(), E>,
    ) -> Result<Vec<Row>, E> {
        let kinds = self.within_bounds(chance, go_on)?;
        Ok(self.rows(&kinds)?)
    }

    /// Draws the kinds of the knots, one for every place of the [mesh](Self::mesh): the same
    /// that [`draw`](Self::draw) gives as rows, in less time.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose, RandomRows};
    /// let prepared = RandomRows::new(6, 4).prepared()?;
    /// // Rows of three knots and of two by turns.
    /// assert_eq!(prepared.draw_kinds(&mut Chance::new(7, Purpose::Rule))?.len(), 10);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a density below 1 may leave places out, or when the longest run was exceeded in
    /// every one of 1,000 tries.
    pub fn draw_kinds(&self, chance: &mut Chance) -> Result<Vec<Kind>, Error> {
        let drawn = self.within_bounds(chance, || Ok::<(), Error>(()))?;
        let kinds = drawn.into_iter().collect();
        Option::ok_or(
            kinds,
            Problem::RandomRows {
                message: "a place was left out, and has no kind".into(),
                help: "draw rows, or ask for a density of 1".into(),
            }
            .into(),
        )
    }

    /// The places whose kinds are drawn.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        self.places.mesh()
    }

    fn within_bounds<E: From<Error>>(
        &self,
        chance: &mut Chance,
        mut go_on: impl FnMut() -> Result<(), E>,
    ) -> Result<Vec<Option<Kind>>, E> {
        let Some(longest) = self.recipe.longest_run else {
            go_on()?;
            return Ok(self.kinds(chance));
        };
        for _ in 0..TRIES {
            go_on()?;
            let kinds = self.kinds(chance);
            if self.runs_within(&kinds, longest) {
                return Ok(kinds);
            }
        }
        Err(Error::from(Problem::RandomRows {
            message: format!(
                "in each of {TRIES} tries, some column had more than {longest} knots of one kind one after another"
            ),
            help: "allow longer runs, ask for fewer rows, or make the rows less smooth".into(),
        })
        .into())
    }

    /// A kind for every place, or nothing where none is tied.
    fn kinds(&self, chance: &mut Chance) -> Vec<Option<Kind>> {
        let recipe = &self.recipe;
        let mut bits = Bits::default();
        let mut runs = Vec::new();
        let mut kinds: Vec<Option<Kind>> = vec![None; self.mesh().len()];
        let orbits = self.places.orbits().iter().zip(&self.fixed);
        for ((orbit, fixed), lots) in orbits.zip(&self.lots) {
            let first = orbit.first();
            let may_be_left_out = fixed.is_none() && recipe.density < 1.0;
            if may_be_left_out && chance.unit() >= recipe.density {
                continue;
            }
            let avoided = self.runs_into(&kinds, &mut runs, first);
            let neighbour = || {
                let before = self.neighbours[first];
                let [left, own, right] = before.map(|at| at.and_then(|at| kinds[at]));
                let fits = |kind: &Kind| orbit.allowed().contains(kind) && avoided != Some(*kind);
                left.or(own).or(right).filter(fits)
            };
            let kind = match fixed {
                Some(kind) => *kind,
                None => match (recipe.smoothness > 0.0).then(neighbour).flatten() {
                    Some(kind) if chance.unit() < recipe.smoothness => kind,
                    _ => match avoided {
                        None => lots.draw(&mut bits, chance),
                        Some(kind) => Lots::new(orbit.allowed(), self.weights, avoided)
                            .map_or(kind, |lots| lots.draw(&mut bits, chance)),
                    },
                },
            };
            for (knot, image) in orbit.decides(kind) {
                kinds[knot] = Some(image);
            }
        }
        kinds
    }

    /// The kind that would make a run in the column of this knot too long. `runs` holds, for
    /// places in tying order, how many knots of its kind end there one after another; it is
    /// filled as far as this knot, before which all is decided.
    fn runs_into(
        &self,
        kinds: &[Option<Kind>],
        runs: &mut Vec<usize>,
        knot: usize,
    ) -> Option<Kind> {
        let longest = self.recipe.longest_run?;
        for at in runs.len()..knot {
            let before = self.neighbours[at][1].filter(|before| kinds[*before] == kinds[at]);
            runs.push(match kinds[at] {
                Some(_) => before.map_or(0, |before| runs[before]) + 1,
                None => 0,
            });
        }
        let before = self.neighbours[knot][1]?;
        kinds[before].filter(|_| runs[before] >= longest)
    }

    /// Whether no column has a longer run of one kind, round the end of the repeat too.
    fn runs_within(&self, kinds: &[Option<Kind>], longest: usize) -> bool {
        let mut lanes: Vec<Vec<Kind>> = vec![Vec::new(); usize::from(self.recipe.threads)];
        for (column, kind) in self.mesh().columns().iter().zip(kinds) {
            lanes[usize::from(*column)].extend(kind);
        }
        lanes.iter().all(|lane| lane_within(lane, longest))
    }

    fn rows(&self, kinds: &[Option<Kind>]) -> Result<Vec<Row>, Error> {
        let mut kinds = kinds.iter();
        let mut knot = |place: &Knot| {
            let kind = kinds.next().copied().flatten();
            kind.map(|kind| Knot::new(place.column(), kind))
        };
        let row =
            |row: &Row| Row::new(row.knots().iter().filter_map(&mut knot).collect::<Vec<_>>());
        let mut rows: Vec<Row> = self.mesh().places().iter().map(row).collect();
        rows.retain(|row| !row.is_empty());
        if rows.is_empty() {
            return Err(Problem::RandomRows {
                message: "chance left out every knot".into(),
                help: "ask for a higher density".into(),
            }
            .into());
        }
        Ok(rows)
    }
}
