//! How a soft band begins and ends: where its outermost knots lie, and where the threads leave it.

use std::collections::VecDeque;
use std::ops::Range;

use super::plane::Arrow;
use super::{Lay, Point};
use crate::fabric::Fabric;

/// Where a soft fabric begins or ends.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct LaidEdge {
    /// For each column from the left, how far its outermost knot lies back from where the edge
    /// sticks out furthest; nothing where the column has no knot.
    pub(crate) columns_back_mm: Vec<Option<f64>>,
    /// For each position from the left, where its thread leaves the fabric.
    pub(crate) threads: Vec<LeavingThread>,
}

/// Where a thread leaves the fabric.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct LeavingThread {
    /// How far to the right of the first.
    pub(crate) across_mm: f64,
    /// How far back from where the edge sticks out furthest.
    pub(crate) back_mm: f64,
}

/// The outermost knots of a column, the outermost first, and as many further in as say which
/// way the column goes.
type OutermostKnots = VecDeque<Arrow>;

/// What lies outermost at one end of the fabric.
#[derive(Default)]
struct OuterKnots {
    columns: Vec<OutermostKnots>,
    threads: Vec<Option<Arrow>>,
}

impl OuterKnots {
    fn of(threads: usize) -> Self {
        Self {
            columns: vec![OutermostKnots::new(); threads - 1],
            threads: vec![None; threads],
        }
    }

    /// Which way the band goes from here, if its middle turns by so much over a millimetre.
    fn inwards(&self, turns: f64) -> Arrow {
        let (mut way, mut length, mut columns) = (Arrow::NONE, 0.0, 0.0);
        for column in self.columns.iter().filter(|column| column.len() > 1) {
            let chord = column[column.len() - 1] - column[0];
            way += chord;
            length += chord.length();
            columns += 1.0;
        }
        // A chord is turned against the beginning of its arc by half of what the arc turns.
        let half = -turns * length / f64::max(columns, 1.0) / 2.0;
        way.direction_or(Arrow::new(0.0, 1.0)) * Arrow::new(libm::cos(half), libm::sin(half))
    }

    /// Seen with the band going on towards `inwards`; `right` is the way to the right.
    fn edge(&self, inwards: Arrow, right: Arrow) -> LaidEdge {
        let depth = |place: Arrow| place.dot(inwards);
        let outermost = |places: &mut dyn Iterator<Item = Arrow>| {
            places.map(depth).fold(f64::INFINITY, f64::min)
        };
        let first = outermost(
            &mut self
                .columns
                .iter()
                .filter_map(|column| column.front().copied()),
        );
        let first_thread = outermost(&mut self.threads.iter().flatten().copied());
        let known = |at: usize| {
            self.threads[at].map(|place| LeavingThread {
                across_mm: place.dot(right),
                back_mm: depth(place) - first_thread,
            })
        };
        let columns_back_mm = self.columns.iter();
        let columns_back_mm = columns_back_mm
            .map(|column| Some(depth(*column.front()?) - first))
            .collect();
        let mut edge = LaidEdge {
            columns_back_mm,
            threads: (0..self.threads.len())
                .map(|at| known(at).unwrap_or_default())
                .collect(),
        };
        self.place_untied(&mut edge, known);
        let leftmost = edge.threads[0].across_mm;
        for thread in &mut edge.threads {
            thread.across_mm -= leftmost;
        }
        edge
    }

    /// Threads that no knot ties hang evenly between those that are tied; beyond the outermost of
    /// these, as far apart as they are.
    fn place_untied(&self, edge: &mut LaidEdge, known: impl Fn(usize) -> Option<LeavingThread>) {
        let tied: Vec<usize> = (0..self.threads.len())
            .filter(|at| known(*at).is_some())
            .collect();
        let (Some(&first), Some(&last)) = (tied.first(), tied.last()) else {
            return;
        };
        let across = |at: usize| known(at).unwrap_or_default().across_mm;
        let step = |from: usize, to: usize| (across(to) - across(from)) / (to - from).max(1) as f64;
        let mut place = |threads: Range<usize>, from: usize, step: f64| {
            for at in threads {
                let steps = at as f64 - from as f64;
                edge.threads[at].across_mm = across(from) + steps * step;
            }
        };
        place(0..first, first, step(first, last));
        place(last + 1..self.threads.len(), last, step(first, last));
        for pair in tied.windows(2) {
            place(pair[0] + 1..pair[1], pair[0], step(pair[0], pair[1]));
        }
    }
}

impl Lay {
    /// Where the band begins and where it ends; nothing where it lies on the lattice, which says
    /// that by itself.
    pub(crate) fn edges(&self, fabric: &Fabric) -> Option<[LaidEdge; 2]> {
        if !self.is_solved() {
            return None;
        }
        let threads = usize::from(fabric.thread_count());
        let (mut start, mut finish) = (OuterKnots::of(threads), OuterKnots::of(threads));
        for (frame, _) in self.frames(fabric) {
            let place = arrow(frame.laid.centre);
            let column = frame.laid.knot.column.index();
            let (begun, ending) = (&mut start.columns[column], &mut finish.columns[column]);
            if begun.len() <= threads {
                begun.push_back(place);
            }
            ending.push_front(place);
            ending.truncate(threads + 1);
            let enters = [frame.enters_left(), frame.enters_right()];
            let leaves = [frame.leaves_left, frame.leaves_right];
            for (position, (enters, leaves)) in (column..).zip(enters.into_iter().zip(leaves)) {
                start.threads[position].get_or_insert(arrow(enters));
                finish.threads[position] = Some(arrow(leaves));
            }
        }
        let turns = self
            .bend()
            .map_or(0.0, |_| self.curvature() / self.gauge.knot_mm());
        // A band that does not bend stands upright, and steps at its edges do not lean it over.
        let inwards = |end: &OuterKnots, turns: f64, upright: Arrow| {
            if turns == 0.0 {
                upright
            } else {
                end.inwards(turns)
            }
        };
        let down = inwards(&start, turns, Arrow::new(0.0, 1.0));
        // From the end the band is gone along backwards, so it turns the other way.
        let up = inwards(&finish, -turns, Arrow::new(0.0, -1.0));
        Some([
            start.edge(down, -down.quarter()),
            finish.edge(up, up.quarter()),
        ])
    }
}

fn arrow(point: Point) -> Arrow {
    Arrow::new(point.across_mm, point.along_mm)
}

#[cfg(test)]
mod tests {
    use crate::band::{Band, BandParts};
    use crate::colour::{Colour, Srgb};
    use crate::fabric::Fabric;
    use crate::knot::Kind;
    use crate::lay::Lay;
    use crate::row::Row;

    /// Rows over a leader at one side and courses at the other: at its ends a band that bends lies
    /// as it does pinned straight, where along is known.
    #[test]
    fn the_ends_of_a_band_that_bends_are_those_of_the_same_band_pinned_straight() {
        let left = [vec![1, 2, 3, 4, 6, 8], vec![4, 3, 2, 1, 5, 7, 9]];
        let right = left
            .clone()
            .map(|row| row.iter().map(|column| 10 - column).collect());
        for rows in [left, right] {
            let row = |columns: Vec<u16>| Row::run(Kind::Forward, columns).expect("columns");
            let band = Band::new(BandParts {
                palette: Colour::spoken([Srgb::new(20, 120, 140)]),
                threads: vec![0; 10],
                repeat: rows.map(row).to_vec(),
                repeats: 20,
                ..BandParts::default()
            });
            let band = band.expect("a band");
            let fabric = Fabric::of(&band);
            let lay = Lay::of(&fabric, &band.gauge());
            assert!(lay.bend().is_some());
            let edges = |lay: &Lay| lay.edges(&fabric).expect("it is soft");
            let pinned = lay.straightened(&fabric);
            // How far the first knots lean is only nearly told by the first few of each column.
            let within = 0.6 * band.gauge().knot_mm();
            for (bent, straight) in edges(&lay).into_iter().zip(edges(&pinned)) {
                for (one, other) in bent.columns_back_mm.iter().zip(&straight.columns_back_mm) {
                    let (one, other) = (one.expect("a knot"), other.expect("a knot"));
                    assert!((one - other).abs() < within, "{bent:?} {straight:?}");
                }
                for (one, other) in bent.threads.iter().zip(&straight.threads) {
                    let aside = (one.across_mm - other.across_mm).abs();
                    let back = (one.back_mm - other.back_mm).abs();
                    assert!(aside < within && back < within, "{bent:?} {straight:?}");
                }
            }
        }
    }
}
