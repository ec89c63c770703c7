//! How the fabric lies on the table.
//!
//! The heap of pieces gives each knot a half row on a stiff lattice. That is how it lies
//! wherever every knot has its neighbours. Where some are missing the fabric is soft: rows tied
//! to and fro over a leader lie straight and close, a hole closes, a band with more rows on one
//! side bends. The lay says where each knot comes to lie then, and how it is turned.
//!
//! A knot is a frame; its two threads enter at the upper corners and leave at the lower ones. A
//! straight stretch of thread wants both of its knots to agree about the way between them: one
//! knot long, out of the one's lower corner and into the other's upper one. A thread that comes
//! back to the column that it left asks the same with less weight; at an edge it is a loop that
//! keeps its length. Knots of one column keep apart. The fabric takes the shape of least energy
//! (Sorkine & Alexa, As-rigid-as-possible surface modeling, 2007). A full lattice has energy 0
//! where it lies, so it stays there, to the bit, and is never solved.
//!
//! Where a gauge lays columns and half rows unequally far apart, straight threads run along its
//! own rhombus, and those that come back stand square to them; so both the maker's lattice and
//! rows over a leader, one knot apart, are at rest.

mod course;
mod edge;
mod lattice;
mod links;
mod measure;
mod plane;
mod settle;
mod shape;
mod skyline;
mod straighten;
mod strip;
mod sweep;

use serde::Serialize;

pub use self::course::{KnotFrame, LaidThreads, OpenStretch};
use crate::craft::Gauge;
use crate::fabric::{Fabric, TiedKnot};
use crate::knot::Side;
pub(crate) use edge::LaidEdge;
use measure::{LaidPiece, Measures, MiddleGrowth};
use plane::{Arrow, KnotPose, Motion};
use shape::KnotShape;
use strip::{EndlessRepeat, LaidStrip, PieceColumns};

/// A place on the band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Point {
    /// How far to the right, in millimetres: the left edge of a band on the lattice is at 0.
    pub across_mm: f64,
    /// How far from the first knots, in millimetres; the centre of the first is at 0.
    pub along_mm: f64,
}

/// How a knot is turned against one on the lattice.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Turn {
    /// The cosine of the angle.
    pub cosine: f64,
    /// The sine of the angle; above 0 where what points right on the lattice points away from
    /// the start.
    pub sine: f64,
}

/// A knot where it lies.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct LaidKnot {
    /// The knot.
    pub knot: TiedKnot,
    /// Where its centre is.
    pub centre: Point,
    /// How it is turned.
    pub turn: Turn,
}

/// How much a band bends by itself.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Bend {
    /// The radius of its middle, in millimetres.
    pub radius_mm: f64,
    /// The side to which it bends, seen with the start at the top: that edge is shorter.
    pub towards: Side,
}

/// How a fabric lies: where each knot is and how it is turned, and what there is to measure.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, craft::Gauge, fabric::Fabric, knot::Kind, lay::Lay, row::Row};
/// // Ten threads, twenty rows to and fro over a leader.
/// let band = Band::new(BandParts {
///     palette: Colour::spoken([Srgb::new(20, 120, 140)]),
///     threads: vec![0; 10],
///     repeat: vec![Row::run(Kind::Backward, 1..10)?, Row::run(Kind::Forward, (1..10).rev())?],
///     repeats: 10,
///     ..BandParts::default()
/// })?;
/// let lay = Lay::of(&Fabric::of(&band), &band.gauge());
/// assert!(lay.is_solved());
/// // The rows lie straight: one knot for each column and each row.
/// assert!((lay.width_knots() - 8.0).abs() < 1e-4);
/// assert!((lay.length_knots() - 19.0).abs() < 1e-4);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Lay {
    gauge: Gauge,
    soft: Option<Soft>,
    unsolved: Option<Unsolved>,
    said: LaySaid,
    measures: Vec<Measures>,
}

/// Why a fabric with holes is shown on the lattice all the same, where it does not lie.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Unsolved {
    /// It is too large to be solved.
    TooLarge,
    /// Some columns get so many more knots than those beside them that their knots would have to
    /// lie in each other.
    Crowded,
}

/// A fabric that had to be solved.
#[derive(Clone, Debug)]
struct Soft {
    /// For each column, in which piece it is.
    piece_of: Vec<Option<usize>>,
    pieces: Vec<SolvedPiece>,
    /// By how much each repeat makes it longer, in knots.
    repeat: f64,
}

#[derive(Clone, Debug)]
struct SolvedPiece {
    columns: PieceColumns,
    strip: LaidStrip,
}

/// What a report says of the lay.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct LaySaid {
    /// Whether it had to be solved; false where the lattice is exact.
    pub solved: bool,
    /// Whether the fabric came to rest. Where it has not, all measures are only near the truth.
    pub settled: bool,
    /// How many rounds that took.
    pub rounds: u32,
    /// By how much the threads of a knot miss what they ask for: squared, in knots.
    pub energy_per_knot: f64,
    /// The size of a knot: how far apart two lie that a thread leads from one to the other.
    pub knot_mm: f64,
    /// How far apart the outermost centres of knots are across the band, in knots.
    pub width_knots: f64,
    /// How far apart the outermost centres of knots are along the band, in knots.
    pub length_knots: f64,
    /// The radius of the band's middle; nothing where it lies straight.
    pub bend_radius_mm: Option<f64>,
    /// How long the longest open stretch of thread is, from where it leaves a knot to where it
    /// enters the next.
    pub longest_open_mm: f64,
}

impl Lay {
    /// Lays a fabric.
    #[must_use]
    pub fn of(fabric: &Fabric, gauge: &Gauge) -> Self {
        if let Some(closed) = lattice::closed(fabric) {
            return Self::on_lattice(fabric, gauge, closed.has_loops, None);
        }
        Self::solved(fabric, gauge)
            .unwrap_or_else(|unsolved| Self::on_lattice(fabric, gauge, true, Some(unsolved)))
    }

    fn on_lattice(
        fabric: &Fabric,
        gauge: &Gauge,
        has_loops: bool,
        unsolved: Option<Unsolved>,
    ) -> Self {
        let knot_mm = gauge.knot_mm();
        let (first, last) = (fabric.first_levels(), fabric.last_levels());
        let tied: Vec<usize> = (0..first.len()).filter(|at| first[*at].is_some()).collect();
        let columns = tied.last().unwrap_or(&0) - tied.first().unwrap_or(&0);
        let highest = last.iter().flatten().max().copied().unwrap_or(0);
        let measures = Measures {
            least: Arrow::NONE,
            most: Arrow::new(
                columns as f64 * gauge.column_mm,
                f64::from(highest) * gauge.half_row_mm,
            )
            .times(1.0 / knot_mm),
            median_width: gauge.width_mm(fabric.thread_count()) / knot_mm,
            greatest_width: gauge.width_mm(fabric.thread_count()) / knot_mm,
            length: gauge.length_mm(f64::from(fabric.longest_column())) / knot_mm,
            curvature: 0.0,
            longest_open: if has_loops {
                gauge.half_row_mm / knot_mm
            } else {
                0.0
            },
        };
        let mut said = LaySaid::new(gauge, &[measures]);
        said.settled = unsolved.is_none();
        Self {
            gauge: *gauge,
            soft: None,
            unsolved,
            said,
            measures: vec![measures],
        }
    }

    fn solved(fabric: &Fabric, gauge: &Gauge) -> Result<Self, Unsolved> {
        let shape = KnotShape::of(gauge);
        let (piece_of, all) = pieces(fabric);
        let mut upright = Vec::with_capacity(all.len());
        let mut repeat = 0.0;
        for (first, columns) in all {
            let (columns, times) = columns.in_shortest_repeats();
            let piece = UprightPiece::of(first, columns, shape)?;
            repeat = f64::max(repeat, piece.growth.length * f64::from(times));
            upright.push(piece);
        }
        let column = gauge.column_mm / gauge.knot_mm();
        let starts = beside_each_other(&upright, column);
        let mut pieces = Vec::with_capacity(upright.len());
        let mut measures = Vec::with_capacity(upright.len());
        for (piece, across) in upright.into_iter().zip(starts) {
            // On the lattice too every piece begins at the first half row: nothing is tied before it.
            let strip = piece.strip.moved(Motion {
                turn: Arrow::UPRIGHT,
                step: Arrow::new(across - piece.least.across, 0.0 - piece.least.along),
            });
            let columns = piece.columns;
            measures.push(
                LaidPiece {
                    columns: &columns,
                    strip: &strip,
                    shape,
                }
                .measures(piece.growth),
            );
            pieces.push(SolvedPiece { columns, strip });
        }
        let mut said = LaySaid::new(gauge, &measures);
        said.solved = true;
        said.settled = pieces.iter().all(|piece| piece.strip.outcome.settled);
        said.rounds = pieces.iter().map(|piece| piece.strip.outcome.rounds).sum();
        let energy: f64 = pieces.iter().map(|piece| piece.strip.outcome.energy).sum();
        let knots: u64 = pieces.iter().map(|piece| piece.columns.knots()).sum();
        said.energy_per_knot = rounded(energy / knots as f64, 1e6);
        Ok(Self {
            gauge: *gauge,
            soft: Some(Soft {
                piece_of,
                pieces,
                repeat,
            }),
            unsolved: None,
            said,
            measures,
        })
    }

    /// The gauge by which it was laid.
    pub(crate) fn gauge(&self) -> &Gauge {
        &self.gauge
    }

    /// Whether a fabric has holes anywhere, so that it is soft and has to be solved; found out in
    /// the time that it takes to look at each knot once.
    #[must_use]
    pub fn has_holes(fabric: &Fabric) -> bool {
        lattice::closed(fabric).is_none()
    }

    /// Whether the fabric has holes and had to be solved; where not, every knot lies on the
    /// lattice.
    #[must_use]
    pub fn is_solved(&self) -> bool {
        self.soft.is_some()
    }

    /// Why the fabric is shown on the lattice although it has holes, so that it does not lie
    /// there; nothing where it was solved or has none.
    #[must_use]
    pub fn unsolved(&self) -> Option<Unsolved> {
        self.unsolved
    }

    /// How many knots had to be solved: of a long band only those of its ends and of one repeat.
    #[must_use]
    pub fn solved_knots(&self) -> usize {
        let pieces = self.soft.iter().flat_map(|soft| &soft.pieces);
        pieces.map(|piece| piece.strip.solved_knots).sum()
    }

    /// What a report says of it.
    #[must_use]
    pub fn said(&self) -> &LaySaid {
        &self.said
    }

    /// How far apart the outermost centres of knots are across the band, in knots.
    #[must_use]
    pub fn width_knots(&self) -> f64 {
        self.said.width_knots
    }

    /// How far apart the outermost centres of knots are along the band, in knots.
    #[must_use]
    pub fn length_knots(&self) -> f64 {
        self.said.length_knots
    }

    /// How wide the band lies, from outside to outside, in the middle of all places.
    #[must_use]
    pub fn median_width_mm(&self) -> f64 {
        self.widest(|measures| measures.median_width)
    }

    /// How wide it lies where it is widest.
    #[must_use]
    pub fn greatest_width_mm(&self) -> f64 {
        self.widest(|measures| measures.greatest_width)
    }

    fn widest(&self, width: impl Fn(&Measures) -> f64) -> f64 {
        // Parts that nothing ties together lie beside each other.
        self.measures.iter().map(width).sum::<f64>() * self.gauge.knot_mm()
    }

    /// How long the band is, along its middle, from outside to outside.
    #[must_use]
    pub fn length_mm(&self) -> f64 {
        let longest = self
            .measures
            .iter()
            .map(|measures| measures.length)
            .fold(0.0, f64::max);
        longest * self.gauge.knot_mm()
    }

    /// By how much each repeat makes a soft band longer in the long run, along its middle;
    /// nothing where it lies on the lattice, whose growth is a number of half rows.
    #[must_use]
    pub fn repeat_mm(&self) -> Option<f64> {
        self.soft
            .as_ref()
            .map(|soft| soft.repeat * self.gauge.knot_mm())
    }

    /// How much the piece that bends most turns over a knot's length, above 0 to the left; not at
    /// all where pieces that nothing joins bend to both sides.
    fn curvature(&self) -> f64 {
        let bends_to = |side: f64| self.measures.iter().any(|at| at.curvature * side > 0.0);
        if bends_to(1.0) && bends_to(-1.0) {
            return 0.0;
        }
        let most = |one: &f64, other: &f64| one.abs().total_cmp(&other.abs());
        let all = self.measures.iter().map(|measures| measures.curvature);
        all.max_by(most).unwrap_or(0.0)
    }

    /// How it bends by itself, if it does.
    #[must_use]
    pub fn bend(&self) -> Option<Bend> {
        let curvature = self.curvature();
        (curvature != 0.0).then(|| Bend {
            radius_mm: self.gauge.knot_mm() / curvature.abs(),
            towards: if curvature > 0.0 {
                Side::Left
            } else {
                Side::Right
            },
        })
    }

    /// Every knot of the fabric that was laid, in the order in which they are tied.
    pub fn knots<'a>(&'a self, fabric: &'a Fabric) -> impl Iterator<Item = LaidKnot> + 'a {
        let spots = self.soft.iter().flat_map(|soft| &soft.pieces);
        let mut spots: Vec<_> = spots.map(|piece| piece.strip.spots()).collect();
        let knot_mm = self.gauge.knot_mm();
        fabric.knots().map(move |knot| {
            let piece = self
                .soft
                .as_ref()
                .and_then(|soft| soft.piece_of[knot.column.index()]);
            match piece.and_then(|piece| spots[piece].next()) {
                Some(KnotPose { place, turn }) => LaidKnot {
                    knot,
                    centre: Point {
                        across_mm: place.across * knot_mm,
                        along_mm: place.along * knot_mm,
                    },
                    turn: Turn {
                        cosine: turn.across,
                        sine: turn.along,
                    },
                },
                None => LaidKnot {
                    knot,
                    centre: Point {
                        across_mm: f64::from(knot.column.number()) * self.gauge.column_mm,
                        along_mm: f64::from(knot.level) * self.gauge.half_row_mm,
                    },
                    turn: Turn {
                        cosine: 1.0,
                        sine: 0.0,
                    },
                },
            }
        })
    }
}

impl LaySaid {
    fn new(gauge: &Gauge, measures: &[Measures]) -> Self {
        let knot_mm = gauge.knot_mm();
        let least =
            |of: fn(&Measures) -> f64| measures.iter().map(of).fold(f64::INFINITY, f64::min);
        let most =
            |of: fn(&Measures) -> f64| measures.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
        let bend = measures
            .iter()
            .map(|measures| measures.curvature.abs())
            .fold(0.0, f64::max);
        Self {
            solved: false,
            settled: true,
            rounds: 0,
            energy_per_knot: 0.0,
            knot_mm: rounded(knot_mm, 1e4),
            width_knots: rounded(most(|at| at.most.across) - least(|at| at.least.across), 1e4),
            length_knots: rounded(most(|at| at.most.along) - least(|at| at.least.along), 1e4),
            bend_radius_mm: (bend > 0.0).then(|| rounded(knot_mm / bend, 10.0)),
            longest_open_mm: rounded(most(|at| at.longest_open) * knot_mm, 1e3),
        }
    }
}

/// To this many parts of one: what lies beyond is only rounding, and read by nobody.
fn rounded(value: f64, parts: f64) -> f64 {
    (value * parts).round() / parts
}

/// The pieces of a fabric that threads hold together: runs of columns of which each is tied at
/// some time. For each column the number of its piece, and each piece with its first column.
fn pieces(fabric: &Fabric) -> (Vec<Option<usize>>, Vec<(u16, PieceColumns)>) {
    let mut piece_of = vec![None; usize::from(fabric.thread_count()) - 1];
    let mut pieces: Vec<(u16, PieceColumns)> = Vec::new();
    let mut before = false;
    for (column, level) in (0..).zip(fabric.first_levels()) {
        if level.is_some() {
            if !before {
                pieces.push((
                    column,
                    PieceColumns {
                        threads: 1,
                        repeats: fabric.repeats(),
                        ..PieceColumns::default()
                    },
                ));
            }
            let last = pieces.len() - 1;
            pieces[last].1.threads += 1;
            piece_of[usize::from(column)] = Some(last);
        }
        before = level.is_some();
    }
    for (part, pass) in fabric.parts() {
        for knot in pass.knots() {
            let piece =
                piece_of[knot.column.index()].expect("every column with a knot is in a piece");
            let (first, columns) = &mut pieces[piece];
            let list = match part {
                crate::band::Part::LeadIn => &mut columns.lead_in,
                crate::band::Part::Repeat => &mut columns.repeat,
                crate::band::Part::LeadOut => &mut columns.lead_out,
            };
            list.push(knot.column.number() - 1 - *first);
        }
    }
    (piece_of, pieces)
}

/// A piece that lies, its own axis upright, but not yet in its place.
struct UprightPiece {
    first: u16,
    columns: PieceColumns,
    strip: LaidStrip,
    growth: MiddleGrowth,
    least: Arrow,
    most: Arrow,
}

impl UprightPiece {
    /// Of a piece and its mirror image only one is solved, so that the other lies as its mirror
    /// image to the last bit. Soft fabric can come to rest in several ways, and where it stands
    /// between two of them the last bit decides.
    fn of(first: u16, columns: PieceColumns, shape: KnotShape) -> Result<Self, Unsolved> {
        if columns.begins_at_the_left() {
            return Self::solved(first, columns, shape);
        }
        Ok(Self::solved(first, columns.mirrored(), shape)?.mirrored())
    }

    fn solved(first: u16, columns: PieceColumns, shape: KnotShape) -> Result<Self, Unsolved> {
        if columns.has_far_floats() {
            return Err(Unsolved::Crowded);
        }
        let (endless, strip) = if columns.repeats == 1 && columns.threads > 2 {
            let strip = columns.lay_whole(shape, None).ok_or(Unsolved::TooLarge)?;
            let endless = columns.lay_endless(shape, Some(&strip));
            (endless.ok_or(Unsolved::TooLarge)?, strip)
        } else {
            let endless = columns.lay_endless(shape, None).ok_or(Unsolved::TooLarge)?;
            if endless.iter().any(EndlessRepeat::is_crowded) {
                return Err(Unsolved::Crowded);
            }
            let strip = columns.lay(shape, &endless).ok_or(Unsolved::TooLarge)?;
            (endless, strip)
        };
        let laid = LaidPiece {
            columns: &columns,
            strip: &strip,
            shape,
        };
        if laid.is_crowded() {
            return Err(Unsolved::Crowded);
        }
        let growth = EndlessRepeat::growth_of(&endless);
        let turn = Arrow::new(0.0, 1.0) * laid.axis().back();
        let step = Arrow::NONE;
        let strip = strip.moved(Motion { turn, step });
        let laid = LaidPiece {
            columns: &columns,
            strip: &strip,
            shape,
        };
        let (least, most) = laid.extent();
        Ok(Self {
            first,
            strip,
            growth,
            least,
            most,
            columns,
        })
    }

    fn mirrored(self) -> Self {
        let (least, most) = (self.least.across, self.most.across);
        Self {
            first: self.first,
            columns: self.columns.mirrored(),
            strip: self.strip.mirrored(),
            growth: MiddleGrowth {
                curvature: 0.0 - self.growth.curvature,
                ..self.growth
            },
            least: Arrow::new(0.0 - most, self.least.along),
            most: Arrow::new(0.0 - least, self.most.along),
        }
    }

    fn width(&self) -> f64 {
        self.most.across - self.least.across
    }

    /// The column after its last one.
    fn end(&self) -> u16 {
        self.first + self.columns.threads - 1
    }
}

/// Where the leftmost knots of each piece lie, in knots: as far from the piece before as their
/// columns are apart, and all together in the middle of the band.
fn beside_each_other(pieces: &[UprightPiece], column: f64) -> Vec<f64> {
    let (Some(leftmost), Some(rightmost)) = (pieces.first(), pieces.last()) else {
        return Vec::new();
    };
    let mut starts: Vec<f64> = Vec::with_capacity(pieces.len());
    for (at, piece) in pieces.iter().enumerate() {
        let start = at.checked_sub(1).map_or(0.0, |before| {
            let before_it = &pieces[before];
            let apart = f64::from(piece.first + 1 - before_it.end()) * column;
            starts[before] + before_it.width() + apart
        });
        starts.push(start);
    }
    let width = starts[pieces.len() - 1] + rightmost.width();
    // The columns count from 1: the first lies one column from the left edge.
    let middle = f64::from(leftmost.first + 1 + rightmost.end()) / 2.0 * column;
    for start in &mut starts {
        *start += middle - width / 2.0;
    }
    starts
}
