//! Where thread lies open in a soft fabric, from where it leaves a knot to where it enters the
//! next.

use super::plane::Arrow;
use super::{LaidKnot, Lay};
use crate::fabric::Fabric;

/// The corners of a knot where its threads enter and leave it, by where it lies.
pub(super) struct Corners {
    place: Arrow,
    turn: Arrow,
    half: Arrow,
}

impl Lay {
    pub(super) fn corners(&self, knot: &LaidKnot) -> Corners {
        Corners {
            place: Arrow::new(knot.centre.across_mm, knot.centre.along_mm),
            turn: Arrow::new(knot.turn.cosine, knot.turn.sine),
            half: Arrow::new(self.gauge.column_mm, self.gauge.half_row_mm).times(0.5),
        }
    }

    /// For each knot in the order in which they are tied, how far its left and its right thread
    /// lie open before it, in millimetres; nothing where a thread is tied for the first time.
    /// Nothing at all where the band lies on the lattice, which says that by itself.
    pub(crate) fn open_mm<'a>(
        &'a self,
        fabric: &'a Fabric,
    ) -> Option<impl Iterator<Item = [Option<f64>; 2]> + 'a> {
        let mut left_at = vec![None; usize::from(fabric.thread_count())];
        self.is_solved().then(|| {
            self.knots(fabric).map(move |knot| {
                let corners = self.corners(&knot);
                let position = knot.knot.column.index();
                [(position, -1.0), (position + 1, 1.0)].map(|(position, aside)| {
                    let before: Option<Arrow> = left_at[position].replace(corners.below(aside));
                    before.map(|before| (corners.above(aside) - before).length())
                })
            })
        })
    }
}

impl Corners {
    /// Where a thread enters, at the left (-1) or at the right (1).
    pub(super) fn above(&self, aside: f64) -> Arrow {
        self.at(aside, -1.0)
    }

    /// Where a thread leaves, at the left (-1) or at the right (1).
    pub(super) fn below(&self, aside: f64) -> Arrow {
        self.at(aside, 1.0)
    }

    fn at(&self, aside: f64, below: f64) -> Arrow {
        let way = Arrow::new(aside * self.half.across, below * self.half.along);
        self.place + way * self.turn
    }
}
