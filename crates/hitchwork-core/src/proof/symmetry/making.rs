//! Rows that have a symmetry: every place of a fabric with all places in which the same
//! knot has to come again.

use super::distance::ways;
use super::{Frieze, Mesh, Operation, Strip};
use crate::error::{Error, Problem};
use crate::knot::{Column, Kind, Knot};
use crate::row::Row;

/// A full fabric of `rows` rows on this many threads, as a brick lattice: columns 1, 3, 5… in
/// the odd rows and 2, 4, 6… in the even ones, all forward knots. On two threads every row
/// has the one column that there is.
///
/// # Errors
/// When there are fewer than two threads, no rows, or, on more than two threads, an odd
/// number of rows, after which the lattice would not fit on its beginning.
///
/// ```
/// use hitchwork_core::{proof::brick_lattice, row::grid_of};
/// assert_eq!(grid_of(&brick_lattice(5, 2)?, 5), "\\.\\.\n.\\.\\\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
pub fn brick_lattice(threads: u16, rows: usize) -> Result<Vec<Row>, Error> {
    if !(crate::limits::MIN_THREADS..=crate::limits::MAX_THREADS).contains(&threads) {
        let found = usize::from(threads);
        return Err(Problem::ThreadCount { found }.into());
    }
    if rows == 0 || rows > crate::limits::MAX_ROWS || (threads > 2 && rows % 2 == 1) {
        return Err(Problem::LatticeRows { rows }.into());
    }
    let row = |number: usize| {
        let first = if number % 2 == 1 && threads > 2 { 2 } else { 1 };
        let columns = (first..threads).step_by(2).filter_map(Column::new);
        Row::new(columns.map(|column| Knot::new(column, Kind::Forward)))
    };
    Ok((0..rows).map(row).collect())
}

/// Places of a fabric that an operation of a group carries to each other.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Orbit {
    /// The places, by the number of the knot in the repeat, from 0 in tying order, and the
    /// operation that makes the knot there out of the first one.
    places: Vec<(usize, Operation)>,
    /// The kinds that the first knot may have: all four, but where an axis or a centre goes
    /// through it only those that the operation leaves as they are.
    allowed: Vec<Kind>,
}

impl Orbit {
    /// The knot of the repeat that decides, from 0 in tying order.
    #[must_use]
    pub fn first(&self) -> usize {
        self.places[0].0
    }

    /// The kinds that it may have.
    #[must_use]
    pub fn allowed(&self) -> &[Kind] {
        &self.allowed
    }

    /// All knots of the repeat that it decides, itself among them, and what each of them is
    /// when it is of this kind.
    pub fn decides(&self, first: Kind) -> impl Iterator<Item = (usize, Kind)> + '_ {
        let image = move |(knot, operation): &(usize, Operation)| (*knot, operation.of_kind(first));
        self.places.iter().map(image)
    }

    pub(crate) fn places(&self) -> &[(usize, Operation)] {
        &self.places
    }
}

/// The places of some rows, sorted by which of them have to be alike for a symmetry.
///
/// The first axis across goes through the first knot where it can, and the first centre lies
/// so that half a turn carries the first knot as near to the beginning as can be. For a
/// mirror along the band (p11m, p2mm), the middle column of an even number of threads keeps
/// out of it, because no kind of knot is its own mirror image: its knots are free, or for
/// p2mm the same from both ends.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{brick_lattice, Frieze, Places, Symmetry}, row::grid_of};
/// let lattice = brick_lattice(6, 4)?;
/// let places = Places::new(&lattice, 6, Frieze::P11g)?;
/// // Ten knots, of which five decide the others.
/// assert_eq!(places.orbits().len(), 5);
/// let rows = places.rows(|orbit| if orbit.first() == 0 { Kind::ForwardBackward } else { Kind::Forward });
/// assert_eq!(grid_of(&rows, 6), ">.\\.\\\n.\\.\\.\n/./.<\n././.\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Places {
    mesh: Mesh,
    group: Frieze,
    orbits: Vec<Orbit>,
}

impl Places {
    /// The places of these rows, whose kinds do not matter, on a band of `threads` threads.
    ///
    /// ```
    /// use hitchwork_core::proof::{Frieze, Places, brick_lattice};
    /// assert!(Places::new(&brick_lattice(6, 4)?, 6, Frieze::P2).is_ok());
    /// // On an odd number of threads, left and right are never at the same height.
    /// assert!(Places::new(&brick_lattice(5, 4)?, 5, Frieze::P11m).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When these places cannot have the symmetry, saying why; for instance, a full fabric
    /// on an odd number of threads never has a mirror along it (p11m, p2mm). When a knot
    /// lies outside the band.
    pub fn new(mesh: &[Row], threads: u16, group: Frieze) -> Result<Self, Error> {
        let outside = |knot: &&Knot| knot.column().number() >= threads;
        if let Some(knot) = mesh.iter().flat_map(Row::knots).find(outside) {
            return Err(Problem::NoSuchColumn {
                column: knot.column().number().into(),
                threads: Some(threads),
            }
            .into());
        }
        let strip = Strip::of_rows(mesh, threads);
        // Of all ways, the one that leaves the first knot nearest to where it is.
        let moves = ways(&strip, group, |ways| {
            let nearest = (0..ways.count()).min_by_key(|way| ways.first_goes(*way));
            ways.moves(nearest.unwrap_or(0))
        })?;
        let mirror = group.along() == Some(super::Lengthwise::Mirror);
        // What an operation does to a knot where it lies.
        let effect = |knot: usize, operation: Operation| {
            let in_middle = 2 * strip.column(knot) == threads;
            match mirror && in_middle && operation.exchanges_sides() {
                true => operation.then(Operation::Mirrored),
                false => operation,
            }
        };
        let mut reached: Vec<Option<Operation>> = vec![None; strip.len()];
        let mut orbits = Vec::new();
        for first in 0..strip.len() {
            if reached[first].is_some() {
                continue;
            }
            reached[first] = Some(Operation::Plain);
            let mut places = vec![(first, Operation::Plain)];
            let mut kept = vec![Operation::Plain];
            let mut next = 0;
            while let Some(&(knot, by)) = places.get(next) {
                for step in &moves {
                    let target = step.goes_to[knot] as usize;
                    let through = by.then(effect(knot, step.operation));
                    match reached[target] {
                        None => {
                            reached[target] = Some(through);
                            places.push((target, through));
                        }
                        Some(known) => kept.push(known.then(through)),
                    }
                }
                next += 1;
            }
            let stays = |kind: &Kind| {
                kept.iter()
                    .all(|operation| operation.of_kind(*kind) == *kind)
            };
            let allowed = Kind::ALL.into_iter().filter(stays).collect();
            orbits.push(Orbit { places, allowed });
        }
        Ok(Self {
            mesh: Mesh::of_rows(mesh, threads),
            group,
            orbits,
        })
    }

    /// The orbits, in the order of their first knots.
    #[must_use]
    pub fn orbits(&self) -> &[Orbit] {
        &self.orbits
    }

    /// The rows in which the first knot of every orbit has the kind chosen for it.
    #[must_use]
    pub fn rows(&self, mut choose: impl FnMut(&Orbit) -> Kind) -> Vec<Row> {
        let mut kinds = vec![Kind::Forward; self.mesh.len()];
        for orbit in &self.orbits {
            for (knot, kind) in orbit.decides(choose(orbit)) {
                kinds[knot] = kind;
            }
        }
        self.mesh.rows(&kinds)
    }

    /// The rows that continue a fundamental piece: some knots, given by their rows from the
    /// first on, that decide all others.
    ///
    /// ```
    /// use hitchwork_core::{proof::{brick_lattice, Frieze, Places}, row::{grid, grid_of}};
    /// let places = Places::new(&brick_lattice(4, 4)?, 4, Frieze::P11g)?;
    /// // Two rows, and their mirror image after them.
    /// let rows = places.continued(&grid(r"
    ///     \.>
    ///     .\.")?)?;
    /// assert_eq!(grid_of(&rows, 4), "\\.>\n.\\.\n<./\n./.\n");
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a knot of the piece lies where these rows have none, when two of them ask for
    /// different kinds in one place or one lies on an axis that it does not fit, or when the
    /// piece is too small to decide every knot.
    pub fn continued(&self, piece: &[Row]) -> Result<Vec<Row>, Error> {
        let decided = self.decided_by(piece)?;
        if let Some(missing) = decided.iter().position(Option::is_none) {
            let (row, column) = self.numbers()[self.orbits[missing].first()];
            return Err(self.refuse(
                format!("the piece does not decide the knot in row {row}, column {column}"),
                "add that knot to the piece",
            ));
        }
        let mut decided = decided.into_iter().flatten();
        Ok(self.rows(|_| decided.next().unwrap_or(Kind::Forward)))
    }

    fn refuse(&self, reason: String, help: &str) -> Error {
        Problem::NoSymmetry {
            group: self.group,
            reason,
            help: help.to_owned(),
        }
        .into()
    }

    /// What the knots of a piece decide about the first knot of each orbit.
    pub(crate) fn decided_by(&self, piece: &[Row]) -> Result<Vec<Option<Kind>>, Error> {
        let numbers = self.numbers();
        let mut orbit_of = vec![(0, Operation::Plain); numbers.len()];
        for (number, orbit) in self.orbits.iter().enumerate() {
            for (knot, operation) in orbit.places() {
                orbit_of[*knot] = (number, *operation);
            }
        }
        let mut places: Vec<_> = numbers.iter().copied().zip(0..).collect();
        places.sort_unstable();
        // Of a place that lies there twice, the first counts.
        let place_of = |place: (usize, u16)| -> Option<usize> {
            let at = places.partition_point(|(found, _)| *found < place);
            places
                .get(at)
                .filter(|found| found.0 == place)
                .map(|found| found.1)
        };
        let mut decided: Vec<Option<Kind>> = vec![None; self.orbits.len()];
        for (row, knots) in (1..).zip(piece) {
            for knot in knots.knots() {
                let place = (row, knot.column().number());
                let at = place_of(place).ok_or_else(|| {
                    self.refuse(
                        format!("the piece has a knot in row {row}, column {}, where the fabric has none", place.1),
                        "give the piece knots only where the rows have them",
                    )
                })?;
                let (orbit, operation) = orbit_of[at];
                let first = operation.of_kind(knot.kind());
                if decided[orbit].is_some_and(|known| known != first) {
                    return Err(self.refuse(
                        format!(
                            "the knot in row {row}, column {} of the piece is not what another knot of it asks for there",
                            place.1
                        ),
                        "leave one of the two out of the piece",
                    ));
                }
                if !self.orbits[orbit].allowed.contains(&first) {
                    return Err(self.refuse(
                        format!(
                            "an axis or a centre goes through row {row}, column {}, and a {} knot is not its own image there",
                            place.1,
                            knot.kind()
                        ),
                        "tie a turning knot on an axis across, and a forward or backward one at a centre",
                    ));
                }
                decided[orbit] = Some(first);
            }
        }
        Ok(decided)
    }

    /// For each knot of the repeat its row and its column, from 1.
    fn numbers(&self) -> Vec<(usize, u16)> {
        let row = |(number, row): (usize, &Row)| {
            let columns: Vec<u16> = row
                .knots()
                .iter()
                .map(|knot| knot.column().number())
                .collect();
            columns.into_iter().map(move |column| (number, column))
        };
        (1..).zip(self.mesh.places()).flat_map(row).collect()
    }

    /// The places, with no regard to the symmetry.
    #[must_use]
    pub fn mesh(&self) -> &Mesh {
        &self.mesh
    }
}
