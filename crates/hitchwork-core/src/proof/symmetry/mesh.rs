//! Many designs on the same places.

use std::sync::Arc;

use super::Strip;
use super::strip::Ground;
use crate::knot::{Kind, Knot};
use crate::proof::Permutation;
use crate::row::Row;

/// The places of the knots of a repeat, whose kinds are left open.
///
/// What depends on the places alone is found once. So to read many designs that differ only
/// in their kinds takes a fraction of the time that it takes to read each by its rows.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{brick_lattice, CanonicalForm, Disguises, Mesh}};
/// let mesh = Mesh::of_rows(&brick_lattice(4, 2)?, 4);
/// // Columns 1 and 3, then 2.
/// let kinds = [Kind::Forward, Kind::Forward, Kind::Backward];
/// assert_eq!(mesh.permutation(&kinds).order_after(), [2, 4, 1, 3]);
/// let form = mesh.strip(&kinds).read().canonical_form(Disguises::ALL);
/// assert_eq!(form, CanonicalForm::of_rows(&mesh.rows(&kinds), 4, Disguises::ALL));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Mesh {
    rows: Vec<Row>,
    threads: u16,
    ground: Arc<Ground>,
}

impl Mesh {
    /// The places of these rows on a band of `threads` threads. Knots outside are left out.
    #[must_use]
    pub fn of_rows(rows: &[Row], threads: u16) -> Self {
        let inside = |knot: &&Knot| knot.column().number() < threads;
        let row = |row: &Row| Row::new(row.knots().iter().filter(inside).copied());
        let rows: Vec<Row> = rows.iter().map(row).collect();
        let knots = rows.iter().flat_map(Row::knots);
        let columns = knots.map(|knot| knot.column().number()).collect();
        Self {
            ground: Arc::new(Ground::new(threads, columns)),
            rows,
            threads,
        }
    }

    /// The rows of places, with the kinds that they had.
    pub(crate) fn places(&self) -> &[Row] {
        &self.rows
    }

    /// How many places there are.
    #[must_use]
    pub fn len(&self) -> usize {
        self.ground.columns().len()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// How many threads the band has.
    #[must_use]
    pub fn threads(&self) -> u16 {
        self.threads
    }

    /// The column of each place, from 1, in tying order.
    #[must_use]
    pub fn columns(&self) -> &[u16] {
        self.ground.columns()
    }

    /// The rows with a kind for every place, in tying order. Places for which there is none
    /// stay as they were.
    #[must_use]
    pub fn rows(&self, kinds: &[Kind]) -> Vec<Row> {
        let mut kinds = kinds.iter();
        let mut tied = |place: &Knot| match kinds.next() {
            Some(kind) => Knot::new(place.column(), *kind),
            None => *place,
        };
        let mut row = |row: &Row| Row::new(row.knots().iter().map(&mut tied));
        self.rows.iter().map(&mut row).collect()
    }

    /// The endless strip of knots of these kinds.
    ///
    /// # Panics
    /// When there is not one kind for every place.
    #[must_use]
    pub fn strip(&self, kinds: &[Kind]) -> Strip {
        assert_eq!(kinds.len(), self.len(), "one kind for every place");
        Strip::of_kinds(&self.ground, kinds)
    }

    /// What tying knots of these kinds once does to the order of the threads.
    #[must_use]
    pub fn permutation(&self, kinds: &[Kind]) -> Permutation {
        let places = self.columns().iter().zip(kinds);
        let knots = places.map(|(column, kind)| (usize::from(*column) - 1, *kind));
        Permutation::of_knots(knots, self.threads)
    }
}
