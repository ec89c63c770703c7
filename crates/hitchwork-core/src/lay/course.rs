//! The threads of laid knots: where they leave and enter each knot, and how they run openly
//! from one to the next.

use super::links::{Bond, Corner, Link, Tracer};
use super::plane::Arrow;
use super::{LaidKnot, Lay, Point};
use crate::craft::{Gauge, left_and_right};
use crate::fabric::{Fabric, Thread};

/// Stretches up to this share of a knot are not open (our own judgement: what is left of a lay
/// that has settled is less, and no eye sees it).
const CLOSED: f64 = 2e-3;

/// How long the tangents of a course are at its ends, as a share of the straight way between
/// them: with a third the course is straight where both lie on that way (definition of the cubic
/// Bézier curve).
const TANGENT: f64 = 1.0 / 3.0;
/// They are at most this long, in knots (our own judgement: a thread that floats far turns at once
/// to where it goes, and does not swing out by as much as it floats).
const LONGEST_TANGENT: f64 = 1.0;

/// Over this many chords a course is measured (our own judgement: a turn at an edge comes out
/// short by less than a thousandth).
const CHORDS: u32 = 32;

/// A knot where it lies, with the places at which its threads leave it. They enter it at the
/// places opposite.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct KnotFrame {
    /// The knot.
    pub laid: LaidKnot,
    /// Where the thread at its left leaves it: the middle of its lower left side.
    pub leaves_left: Point,
    /// Where the thread at its right leaves it: the middle of its lower right side.
    pub leaves_right: Point,
}

/// A stretch of thread that runs openly from one knot to the next.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct OpenStretch {
    /// The thread.
    pub thread: Thread,
    /// The position at which it hangs there, from 1.
    pub position: u16,
    /// The knot that it leaves: how many are tied before it.
    pub from: usize,
    /// The knot that it enters: how many are tied before it.
    pub to: usize,
    /// Its course, as the four points of a cubic Bézier curve: where it leaves the one knot,
    /// in the direction in which it leaves, and where it enters the other.
    pub course: [Point; 4],
    /// How long it is, in millimetres.
    pub length_mm: f64,
}

/// All knots of a fabric with the threads between them.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct LaidThreads {
    /// The knots in the order in which they are tied.
    pub frames: Vec<KnotFrame>,
    /// The open stretches, by the knots that they enter.
    pub stretches: Vec<OpenStretch>,
}

impl Lay {
    /// The open stretches of thread of the fabric that was laid, by the knots that they enter:
    /// loops at the edges, threads that come back to where they were, threads that float.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, fabric::Fabric, knot::Kind, lay::Lay, row::Row};
    /// // Six threads, four rows to and fro over a leader.
    /// let band = Band::new(BandParts {
    ///     palette: Colour::spoken([Srgb::new(20, 120, 140)]),
    ///     threads: vec![0; 6],
    ///     repeat: vec![Row::run(Kind::Backward, 1..6)?, Row::run(Kind::Forward, (1..6).rev())?],
    ///     repeats: 2,
    ///     ..BandParts::default()
    /// })?;
    /// let fabric = Fabric::of(&band);
    /// let stretches = Lay::of(&fabric, &band.gauge()).stretches(&fabric);
    /// // Between the rows the leader turns, at the right, the left and the right.
    /// let turns: Vec<u16> = stretches.iter().map(|stretch| stretch.position).collect();
    /// assert_eq!(turns, [6, 1, 6]);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn stretches(&self, fabric: &Fabric) -> Vec<OpenStretch> {
        self.courses(fabric).stretches
    }

    /// The same together with the knots between which they run.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, fabric::Fabric, knot::Kind, lay::Lay, row::Row};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140)]),
    /// #     threads: vec![0; 4],
    /// #     repeat: vec![Row::run(Kind::Forward, 1..4)?],
    /// #     repeats: 1,
    /// #     ..BandParts::default()
    /// # })?;
    /// let fabric = Fabric::of(&band);
    /// let courses = Lay::of(&fabric, &band.gauge()).courses(&fabric);
    /// // `band`: one slanted row. Its working thread runs from each knot into the next.
    /// assert_eq!(courses.frames.len(), 3);
    /// assert!(courses.stretches.is_empty());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn courses(&self, fabric: &Fabric) -> LaidThreads {
        let mut courses = LaidThreads::default();
        for (frame, stretches) in self.frames(fabric) {
            courses.frames.push(frame);
            courses.stretches.extend(stretches.into_iter().flatten());
        }
        courses
    }

    /// One knot after the other, with the open stretches that enter it at its left and its
    /// right: of a band of millions of knots only a few are kept at a time.
    pub(crate) fn frames<'a>(
        &'a self,
        fabric: &'a Fabric,
    ) -> impl Iterator<Item = (KnotFrame, [Option<OpenStretch>; 2])> + 'a {
        let mut ways = Vec::new();
        let mut tracer = Tracer::new(fabric.thread_count());
        for knot in fabric.knots() {
            ways.push(StraightWays::default());
            for link in tracer.tie(knot.column.number() - 1).0 {
                ways[link.from].note(&link);
                ways[link.to].note(&link);
            }
        }
        let knot_mm = self.gauge.knot_mm();
        let mut tracer = Tracer::new(fabric.thread_count());
        let mut left: Vec<Option<KnotFrame>> = vec![None; usize::from(fabric.thread_count())];
        self.knots(fabric).zip(ways).map(move |(laid, ways)| {
            let frame = KnotFrame::new(laid, ways, &self.gauge);
            let knot = &frame.laid.knot;
            let threads = left_and_right(knot);
            let (mut stretches, position) = ([None; 2], knot.column.number() - 1);
            for link in tracer.tie(position).0 {
                let side = usize::from(link.position - position);
                let one = left[usize::from(link.position)].as_ref();
                let one = one.expect("a link leads from a knot");
                stretches[side] = stretch(&link, threads[side], [one, &frame], knot_mm);
            }
            for at in [position, position + 1] {
                left[usize::from(at)] = Some(frame);
            }
            (frame, stretches)
        })
    }
}

/// Along which of its two ways threads run straight through a knot, from a knot or to one.
#[derive(Clone, Copy, Default)]
struct StraightWays {
    falling: bool,
    rising: bool,
}

impl StraightWays {
    fn note(&mut self, link: &Link) {
        if link.bond == Bond::Straight {
            match link.leaves {
                Corner::Right => self.falling = true,
                Corner::Left => self.rising = true,
            }
        }
    }
}

impl KnotFrame {
    /// A knot is as the gauge lays it where threads run straight both ways. Where they do so one
    /// way alone, as along a leader, it stands square to that.
    fn new(laid: LaidKnot, ways: StraightWays, gauge: &Gauge) -> Self {
        let (column, half_row) = (gauge.column_mm, gauge.half_row_mm);
        let along = Arrow::new(column, half_row);
        let square = Arrow::new(half_row, column);
        let (right, left) = match (ways.falling, ways.rising) {
            (true, false) => (along, square),
            (false, true) => (square, along),
            _ => (along, along),
        };
        let turn = Arrow::new(laid.turn.cosine, laid.turn.sine);
        let middle = place(laid.centre);
        let leaves = |way: Arrow| point(middle + (way * turn).times(0.5));
        Self {
            laid,
            leaves_left: leaves(Arrow::new(-left.across, left.along)),
            leaves_right: leaves(right),
        }
    }

    fn leaves(&self, corner: Corner) -> Arrow {
        place(match corner {
            Corner::Left => self.leaves_left,
            Corner::Right => self.leaves_right,
        })
    }

    /// Where the thread at its left enters it: the middle of its upper left side.
    #[must_use]
    pub fn enters_left(&self) -> Point {
        point(self.enters(Corner::Left))
    }

    /// Where the thread at its right enters it: the middle of its upper right side.
    #[must_use]
    pub fn enters_right(&self) -> Point {
        point(self.enters(Corner::Right))
    }

    fn enters(&self, corner: Corner) -> Arrow {
        let opposite = match corner {
            Corner::Left => self.leaves(Corner::Right),
            Corner::Right => self.leaves(Corner::Left),
        };
        place(self.laid.centre).times(2.0) - opposite
    }
}

/// How a thread runs, if it is seen between its two knots.
fn stretch(
    link: &Link,
    thread: Thread,
    [one, other]: [&KnotFrame; 2],
    knot_mm: f64,
) -> Option<OpenStretch> {
    let (out, into) = (one.leaves(link.leaves), other.enters(link.enters));
    let leaves = (out - place(one.laid.centre)).direction_or(Arrow::UPRIGHT);
    let enters = (place(other.laid.centre) - into).direction_or(Arrow::UPRIGHT);
    let way = into - out;
    // Not by rounding alone: in double knots a thread turns by exactly a right angle.
    let (is_turn, closed) = (leaves.dot(enters) < -CLOSED, CLOSED * knot_mm);
    if way.length() <= closed || (!is_turn && way.dot(leaves + enters) <= closed) {
        // The knots touch, or press into each other.
        return None;
    }
    let tangent = (way.length() * TANGENT).min(LONGEST_TANGENT * knot_mm);
    let course = [
        out,
        out + leaves.times(tangent),
        into - enters.times(tangent),
        into,
    ];
    Some(OpenStretch {
        thread,
        position: link.position + 1,
        from: link.from,
        to: link.to,
        length_mm: length(course),
        course: course.map(point),
    })
}

impl OpenStretch {
    /// How far it is straight from where it leaves the one knot to where it enters the other: a
    /// turn at the edge of rows over a leader is one knot.
    pub(crate) fn straight_mm(&self) -> f64 {
        (place(self.course[3]) - place(self.course[0])).length()
    }

    /// The same in half rows of the lattice, to the nearest.
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a length on the band"
    )]
    pub(crate) fn half_rows(&self, gauge: &Gauge) -> u32 {
        (self.straight_mm() / gauge.half_row_mm).round() as u32
    }
}

fn length(course: [Arrow; 4]) -> f64 {
    let points = (0..=CHORDS).map(|at| at_share(course, f64::from(at) / f64::from(CHORDS)));
    let mut before = course[0];
    points.fold(0.0, |sum, here| {
        let chord = (here - before).length();
        before = here;
        sum + chord
    })
}

/// The point of a cubic Bézier curve at a share of it.
fn at_share(course: [Arrow; 4], share: f64) -> Arrow {
    let rest = 1.0 - share;
    let parts = [
        rest * rest * rest,
        3.0 * share * rest * rest,
        3.0 * share * share * rest,
        share * share * share,
    ];
    let terms = course.iter().zip(parts);
    terms.fold(Arrow::NONE, |sum, (point, part)| sum + point.times(part))
}

fn place(point: Point) -> Arrow {
    Arrow::new(point.across_mm, point.along_mm)
}

fn point(place: Arrow) -> Point {
    Point {
        across_mm: place.across,
        along_mm: place.along,
    }
}
