//! A band that bends, pinned straight: its bent middle line is laid along a straight one.
//!
//! A knot that lies `across` to the right of the middle line, beside the point of it to which
//! the line is `along` long, goes to (across, along), turned back by as much as the line is
//! turned there. So the middle keeps its length, the longer edge is pushed together and the
//! shorter one drawn apart, as pins do with a band.

use super::measure::{LaidPiece, MiddleGrowth, between, over_chord};
use super::plane::{Arrow, KnotPose, Motion};
use super::shape::KnotShape;
use super::strip::{LaidStrip, PieceColumns};
use super::{Lay, LaySaid, Soft, SolvedPiece};
use crate::fabric::Fabric;

/// For every so many knots of a column, as a share of the columns, the middle line has a point
/// (our own judgement: near enough for the tightest bends, where chords cut the corner).
const POINTS_IN_WIDTH: usize = 6;
/// It has at least this many (our own judgement: fewer say nothing of a bend),
const FEWEST_POINTS: usize = 4;
/// and where a column has fewer knots than that, these.
const FEWEST_WAYS: usize = 1;

/// Halvings until a foot is found, to a billionth of the way from point to point (definition).
const HALVINGS: u32 = 30;

impl Lay {
    /// The same fabric pinned straight; `fabric` is the one that was laid. Where it lies on the
    /// lattice, that is straight.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, fabric::Fabric, knot::Kind, lay::Lay, row::Row};
    /// // Rows over a leader at the left, courses at the right: the band bends.
    /// let rows = [
    ///     Row::run(Kind::Backward, 1..5)?, Row::run(Kind::Forward, [6, 8])?,
    ///     Row::run(Kind::Forward, (1..5).rev())?, Row::run(Kind::Forward, [5, 7, 9])?,
    /// ];
    /// let band = Band::new(BandParts {
    ///     palette: Colour::spoken([Srgb::new(20, 120, 140)]),
    ///     threads: vec![0; 10], repeat: rows.to_vec(), repeats: 20,
    ///     ..BandParts::default()
    /// })?;
    /// let fabric = Fabric::of(&band);
    /// let lay = Lay::of(&fabric, &band.gauge());
    /// assert!(lay.bend().is_some());
    /// let pinned = lay.straightened(&fabric);
    /// assert!(pinned.bend().is_none());
    /// assert!((pinned.length_mm() - lay.length_mm()).abs() < 0.02 * lay.length_mm());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn straightened(&self, fabric: &Fabric) -> Self {
        let Some(soft) = &self.soft else {
            return self.clone();
        };
        let shape = KnotShape::of(&self.gauge);
        let mut columns = vec![Vec::new(); soft.pieces.len()];
        for knot in fabric.knots() {
            if let Some(piece) = soft.piece_of[knot.column.index()] {
                columns[piece].push(knot.column.index());
            }
        }
        let (mut pieces, mut measures) = (Vec::new(), Vec::new());
        let known = soft.pieces.iter().zip(&self.measures);
        for ((piece, known), columns) in known.zip(columns) {
            if known.curvature == 0.0 {
                // Edges that step or lean are no bend.
                measures.push(*known);
                pieces.push(piece.clone());
                continue;
            }
            let spots: Vec<KnotPose> = piece.strip.spots().collect();
            let pinned = MiddleLine::of(&columns, &spots)
                .map_or(spots.clone(), |middle| middle.straighten(&columns, &spots));
            let strip = LaidStrip {
                begin: pinned,
                repeat: Vec::new(),
                times: 0,
                growth: Motion::NONE,
                end: Vec::new(),
                ..piece.strip.clone()
            };
            // Pinned where it lay: the start at the same height, the middle below the start.
            let extent = |strip: &LaidStrip| measured(&piece.columns, strip, shape).extent();
            let ((least, most), (was_least, was_most)) = (extent(&strip), extent(&piece.strip));
            let was_start = Arrow::new((was_least.across + was_most.across) / 2.0, was_least.along);
            let start = Arrow::new((least.across + most.across) / 2.0, least.along);
            let strip = strip.moved(Motion {
                turn: Arrow::UPRIGHT,
                step: was_start - start,
            });
            measures
                .push(measured(&piece.columns, &strip, shape).measures(MiddleGrowth::default()));
            pieces.push(SolvedPiece {
                columns: piece.columns.clone(),
                strip,
            });
        }
        // What is left of a bend at the ends is not one, and the middle keeps its length.
        for (measures, known) in measures.iter_mut().zip(&self.measures) {
            measures.curvature = 0.0;
            measures.length = known.length;
        }
        let said = LaySaid {
            solved: true,
            settled: self.said.settled,
            rounds: self.said.rounds,
            energy_per_knot: self.said.energy_per_knot,
            ..LaySaid::new(&self.gauge, &measures)
        };
        Self {
            gauge: self.gauge,
            soft: Some(Soft {
                piece_of: soft.piece_of.clone(),
                pieces,
                repeat: soft.repeat,
            }),
            unsolved: None,
            said,
            measures,
        }
    }
}

fn measured<'a>(
    columns: &'a PieceColumns,
    strip: &'a LaidStrip,
    shape: KnotShape,
) -> LaidPiece<'a> {
    LaidPiece {
        columns,
        strip,
        shape,
    }
}

/// The middle of all columns of a piece, from its first knots to its last.
struct MiddleLine {
    points: Vec<Arrow>,
    /// The way along at each point, of length 1.
    ways: Vec<Arrow>,
    /// How long the line is up to each point.
    lengths: Vec<f64>,
}

impl MiddleLine {
    /// Nothing where the columns have too few knots to say which way they go.
    fn of(columns: &[usize], spots: &[KnotPose]) -> Option<Self> {
        let first = *columns.iter().min()?;
        let mut by_column = vec![Vec::new(); columns.iter().max()? - first + 1];
        for (column, spot) in columns.iter().zip(spots) {
            by_column[column - first].push(*spot);
        }
        let fewest = by_column.iter().map(Vec::len).min()?;
        if fewest < 2 {
            return None;
        }
        let most = (fewest - 1).max(FEWEST_WAYS);
        let ways = (POINTS_IN_WIDTH * fewest / by_column.len())
            .max(FEWEST_POINTS)
            .min(most);
        let share = 1.0 / by_column.len() as f64;
        let points: Vec<Arrow> = (0..=ways)
            .map(|at| {
                let sum = by_column
                    .iter()
                    .fold(Arrow::NONE, |sum, column| sum + between(column, at, ways));
                sum.times(share)
            })
            .collect();
        let forth = Arrow::new(0.0, 1.0);
        let chord = |from: usize, to: usize| (points[to] - points[from]).direction_or(forth);
        let inner = |at: usize| chord(at - 1, at + 1);
        let ways: Vec<Arrow> = (0..=ways)
            .map(|at| match at {
                // At the ends the line goes on bending as it did: as far beyond the last chord as
                // that is beyond the point before.
                0 if ways > 1 => mirrored(inner(1), chord(0, 1)),
                0 => chord(0, 1),
                at if at < ways => inner(at),
                at if ways > 1 => mirrored(inner(at - 1), chord(at - 1, at)),
                at => chord(at - 1, at),
            })
            .collect();
        let mut lengths = vec![0.0];
        for (pair, ways) in points.windows(2).zip(ways.windows(2)) {
            let angle = libm::atan2(ways[0].cross(ways[1]), ways[0].dot(ways[1]));
            let arc = (pair[1] - pair[0]).length() * over_chord(angle / 2.0);
            lengths.push(lengths[lengths.len() - 1] + arc);
        }
        Some(Self {
            points,
            ways,
            lengths,
        })
    }

    fn straighten(&self, columns: &[usize], spots: &[KnotPose]) -> Vec<KnotPose> {
        let columns_end = columns.iter().max().map_or(0, |last| last + 1);
        let mut knots_in = vec![0_usize; columns_end];
        for column in columns {
            knots_in[*column] += 1;
        }
        let mut tied = vec![0_usize; columns_end];
        let last = self.points.len() - 2;
        columns
            .iter()
            .zip(spots)
            .map(|(column, spot)| {
                // Near there its foot lies, also where a band goes round itself.
                let near = tied[*column] * last / knots_in[*column].max(1);
                tied[*column] += 1;
                self.pinned(*spot, near)
            })
            .collect()
    }

    /// How far a place lies before (below 0) or beyond a point of the line.
    fn beyond(&self, place: Arrow, at: usize) -> f64 {
        (place - self.points[at]).dot(self.ways[at])
    }

    fn pinned(&self, spot: KnotPose, near: usize) -> KnotPose {
        let last = self.points.len() - 1;
        let mut at = near;
        while at > 0 && self.beyond(spot.place, at) < 0.0 {
            at -= 1;
        }
        while at + 1 < last && self.beyond(spot.place, at + 1) > 0.0 {
            at += 1;
        }
        let before = self.beyond(spot.place, at).min(0.0);
        let after = self.beyond(spot.place, at + 1).max(0.0);
        let share = if before < 0.0 {
            0.0
        } else if after > 0.0 {
            1.0
        } else {
            self.foot(spot.place, at)
        };
        let (point, way) = self.at(at, share);
        let length = self.lengths[at] + share * (self.lengths[at + 1] - self.lengths[at]);
        let back = Arrow::new(0.0, 1.0) * way.back();
        KnotPose {
            place: Arrow::new(
                (spot.place - point).dot(-way.quarter()),
                length + before + after,
            ),
            turn: spot.turn * back,
        }
    }

    /// The point at a share of the way from one point to the next, and the way along there.
    fn at(&self, at: usize, share: f64) -> (Arrow, Arrow) {
        let mix = |from: Arrow, to: Arrow| from.times(1.0 - share) + to.times(share);
        (
            mix(self.points[at], self.points[at + 1]),
            mix(self.ways[at], self.ways[at + 1]).direction_or(self.ways[at]),
        )
    }

    /// At which share of the way from one point to the next a place lies square to the line.
    fn foot(&self, place: Arrow, at: usize) -> f64 {
        let (mut from, mut to) = (0.0, 1.0);
        for _ in 0..HALVINGS {
            let middle = (from + to) / 2.0;
            let (point, way) = self.at(at, middle);
            if (place - point).dot(way) > 0.0 {
                from = middle;
            } else {
                to = middle;
            }
        }
        (from + to) / 2.0
    }
}

/// A way, mirrored at another.
fn mirrored(way: Arrow, at: Arrow) -> Arrow {
    // Turned on by twice as much as it misses the other: at * (at / way).
    (at * (at * way.back())).direction_or(at)
}
