//! A picture with its knots, however they were tied.

use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::Picture;
use hitchwork_core::picture::solve::{Painting, Solved};
use hitchwork_core::row::Row;

use super::art::{Art, ArtForm};
use crate::arguments::PaintWay;

/// A picture with its knots.
pub(super) struct PaintedBand {
    pub(super) way: PaintWay,
    /// Why it is tied in this way, where nobody said.
    pub(super) why: Option<String>,
    /// The colours that hang, and what data call them: letters, or names.
    pub(super) colours: Vec<Colour>,
    pub(super) keys: Vec<String>,
    /// The colour of each thread at the start, from the left.
    pub(super) start: Vec<usize>,
    pub(super) rows: Vec<Row>,
    /// The picture as a rule has it, and the marks of its colours there.
    pub(super) picture: Picture,
    pub(super) marks: Vec<(Srgb, char)>,
    pub(super) found: HowTied,
}

/// What is known of the knots beside themselves.
pub(super) enum HowTied {
    OverLeader { ground: Colour },
    OnLattice(Box<OnLattice>),
}

/// A picture on the lattice.
pub(super) struct OnLattice {
    pub(super) painting: Painting,
    pub(super) solved: Solved,
    /// How many of its rows come after the picture.
    pub(super) free_rows: usize,
    /// How much patience a rule needs to find these knots.
    pub(super) patience: Option<u8>,
}

impl PaintedBand {
    /// How many cells of the picture show a colour, and how many of these lie between the knots of
    /// the lattice, where nothing is tied.
    pub(super) fn between_knots(&self, art: &Art) -> (usize, usize) {
        let picture = match &art.form {
            ArtForm::Letters(_) => art.picture.as_ref(),
            _ => Some(&self.picture),
        };
        let (Some(picture), Some(_)) = (picture, self.lattice()) else {
            return (0, 0);
        };
        let rows = 1..=picture.height();
        let places = rows.flat_map(|row| (1..=picture.width()).map(move |column| (row, column)));
        let painted = places.filter(|(row, column)| picture.cell(*row, *column).is_some());
        let is_knot =
            |row: u16, column: u16| picture.width() == 1 || (row + column).is_multiple_of(2);
        painted.fold((0, 0), |(all, between), (row, column)| {
            (all + 1, between + usize::from(!is_knot(row, column)))
        })
    }

    /// How many knots there are.
    pub(super) fn knots(&self) -> usize {
        self.rows.iter().map(Row::len).sum()
    }

    /// How many knots show another colour than the picture.
    pub(super) fn missed(&self) -> usize {
        self.lattice()
            .map_or(0, |lattice| lattice.solved.missed.len())
    }

    /// How many threads of each colour hang.
    pub(super) fn counts(&self) -> Vec<u16> {
        let mut counts = vec![0; self.colours.len()];
        for colour in &self.start {
            counts[*colour] += 1;
        }
        counts
    }

    /// What was found on the lattice.
    pub(super) fn lattice(&self) -> Option<&OnLattice> {
        match &self.found {
            HowTied::OnLattice(lattice) => Some(lattice),
            HowTied::OverLeader { .. } => None,
        }
    }
}
