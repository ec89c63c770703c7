//! Where everything of a soft band lies: each knot turned with its frame, each stretch of thread
//! on its course, and what is dark between knots that touch.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::craft::Gauge;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Side;
use hitchwork_core::lay::{Bend, Courses, KnotFrame, Lay, Point, Stretch};

use super::ends::Drawn;
use super::frame::{CourseShape, Frame, Quad, dot, length};
use super::pen::{Bounds, plus, push_number};
use super::style::{COLUMN, FabricStyle, Lie};
use crate::ink::PlanePoint;

/// Stretches up to this share of a knot are hidden by the knots (our own judgement).
const HIDDEN: f64 = 0.1;

/// Knots that are no further from each other than this share of a knot spread until they touch,
/// as hitches do; between those further apart one sees the table (our own judgement).
const SPREAD: f64 = 0.35;

/// A corner is closed in if at this share of a knot all around it there is fabric,
const AROUND: f64 = 0.22;
/// where a knot counts as larger by this share (both our own judgement: a seam is no hole).
const SEAM: f64 = 0.12;

/// In this many directions around a corner one looks.
const DIRECTIONS: [PlanePoint; 8] = {
    const DIAGONAL: f64 = std::f64::consts::FRAC_1_SQRT_2;
    [
        (1.0, 0.0),
        (DIAGONAL, DIAGONAL),
        (0.0, 1.0),
        (-DIAGONAL, DIAGONAL),
        (-1.0, 0.0),
        (-DIAGONAL, -DIAGONAL),
        (0.0, -1.0),
        (DIAGONAL, -DIAGONAL),
    ]
};

/// A knot, as it is seen.
#[derive(Clone, Copy)]
pub(super) struct TurnedKnot {
    pub(super) colour: u16,
    pub(super) lie: Lie,
    pub(super) body: Body,
}

/// What a knot covers.
#[derive(Clone, Copy)]
pub(super) struct Body {
    pub(super) centre: PlanePoint,
    pub(super) frame: Frame,
}

/// A thread that is seen running from one knot to another.
#[derive(Clone, Copy)]
pub(super) struct OpenCourse {
    pub(super) colour: u16,
    pub(super) from: PlanePoint,
    pub(super) shape: CourseShape,
}

/// Where a thread leaves the fabric at one of its ends, and the way it goes there.
#[derive(Clone, Copy, Debug)]
pub(super) struct Anchor {
    pub(super) point: PlanePoint,
    pub(super) way: PlanePoint,
}

/// One end of the fabric.
pub(super) struct Rim {
    /// For each position.
    pub(super) anchors: Vec<Anchor>,
    /// For each column its outermost knot.
    pub(super) knots: Vec<Option<Body>>,
    /// The way out of the band there.
    pub(super) out: PlanePoint,
}

/// What has been laid.
pub(super) struct SoftLayout {
    /// In the order in which they are tied.
    pub(super) knots: Vec<TurnedKnot>,
    /// How many knots lie there at the end of each pass.
    pub(super) passes: Vec<usize>,
    pub(super) open: Vec<OpenCourse>,
    /// The knots round the bundles of the ends.
    pub(super) bundle_knots: Vec<Body>,
    /// Corners where knots meet, each with the frame of one of them.
    pub(super) chinks: Vec<Body>,
    /// Narrow gaps between two knots, from their first corners.
    pub(super) gaps: Vec<(PlanePoint, Quad)>,
    /// The size of a knot.
    knot: f64,
}

impl SoftLayout {
    /// The whole of a fabric that was laid, but for its ends, and where it begins and ends.
    pub(super) fn whole(fabric: &Fabric, lay: &Lay, gauge: &Gauge) -> (Self, [Rim; 2]) {
        let plane = Plane {
            units_per_mm: COLUMN / gauge.column_mm,
        };
        let courses = lay.courses(fabric);
        let knot = gauge.knot_mm() * plane.units_per_mm;
        let bodies = bodies(&courses, &plane, knot);
        let knots = courses.frames.iter().zip(&bodies);
        let knots = knots.map(|(frame, body)| TurnedKnot {
            colour: fabric.colour(frame.laid.knot.working),
            lie: Lie::of(frame.laid.knot.kind),
            body: *body,
        });
        let mut passes = Vec::new();
        for pass in fabric.passes() {
            passes.push(passes.last().unwrap_or(&0) + pass.knots().len());
        }
        let mut laid = Self {
            knots: knots.collect(),
            passes,
            open: Vec::new(),
            bundle_knots: Vec::new(),
            chinks: chinks(&bodies, knot),
            gaps: Vec::new(),
            knot,
        };
        for stretch in &courses.stretches {
            let colour = fabric.colour(stretch.thread);
            laid.stretch(&plane.gap(stretch, knot), colour, &bodies);
        }
        let rims =
            [End::Start, End::Finish].map(|end| Rim::of(fabric, &courses, &plane, end, lay.bend()));
        (laid, rims)
    }

    /// A stretch of thread between two knots of the fabric: where they spread until they touch,
    /// it is dark along their seam; elsewhere the thread is seen.
    fn stretch(&mut self, gap: &Gap, colour: u16, bodies: &[Body]) {
        if !gap.closes {
            if gap.wide > HIDDEN * self.knot {
                self.run_openly(colour, gap.course);
            }
            return;
        }
        let [out, .., into] = gap.course;
        let [to, from] = bodies[gap.from].corners_at(out);
        let [back, end] = bodies[gap.to].corners_at(into);
        // Round the gap, not across it.
        let corners = if dot(plus(to, from, -1.0), plus(back, end, -1.0)) > 0.0 {
            [from, to, back, end]
        } else {
            [from, to, end, back]
        };
        self.gaps.push((corners[0], Quad::new(corners)));
    }

    /// A thread runs openly along a curve.
    pub(super) fn run_openly(&mut self, colour: u16, course: [PlanePoint; 4]) {
        self.open.push(OpenCourse {
            colour,
            from: course[0],
            shape: CourseShape::new(course),
        });
    }

    /// Ties an end on: its knots, and the threads that run to them.
    pub(super) fn tie_end(&mut self, drawn: &Drawn, rim: &Rim, colours: &[u16]) {
        self.bundle_knots.extend(&drawn.bodies);
        for (position, meets) in &drawn.meets {
            let Anchor { point, way } = rim.anchors[*position];
            let apart = length(plus(meets.point, point, -1.0));
            if apart > HIDDEN * self.knot {
                let course = [
                    point,
                    plus(point, way, apart / 3.0),
                    plus(meets.point, meets.way, -apart / 3.0),
                    meets.point,
                ];
                self.run_openly(colours[*position], course);
            }
        }
    }

    /// All knots, those round bundles last.
    pub(super) fn bodies(&self) -> impl Iterator<Item = Body> {
        let knots = self.knots.iter().map(|knot| knot.body);
        knots.chain(self.bundle_knots.iter().copied())
    }

    /// Asks for all that is to be drawn.
    pub(super) fn ask(&self, look: &mut FabricStyle) {
        for knot in &self.knots {
            look.ask_turned_knot(knot.colour, knot.lie, knot.body.frame);
        }
        for open in &self.open {
            look.ask_course(open.colour, open.shape);
        }
    }

    /// What all of it lies within.
    pub(super) fn bounds(&self, thread: f64) -> Bounds {
        let mut bounds = Bounds::around((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for body in self.bodies() {
            for corner in body.frame.corners() {
                bounds.include(plus(body.centre, corner, 1.0), 0.0);
            }
        }
        for open in &self.open {
            let (least, most) = open.shape.extent();
            for end in [least, most] {
                // The points of a curve lie further out than the curve.
                bounds.include(plus(open.from, end, 1.0), thread / 2.0);
            }
        }
        bounds
    }

    pub(super) fn write_knots(&self, out: &mut String, look: &FabricStyle) {
        let mut from = 0;
        for to in &self.passes {
            out.push_str("<g>");
            for knot in &self.knots[from..*to] {
                out.push_str(look.turned_knot(knot.colour, knot.lie, knot.body.frame));
                place(out, knot.body.centre);
            }
            out.push_str("</g>\n");
            from = *to;
        }
    }

    pub(super) fn write_open_threads(&self, out: &mut String, look: &FabricStyle) {
        for open in &self.open {
            out.push_str(r##"<use href="#"##);
            out.push_str(look.course(open.colour, open.shape));
            out.push_str(r#"" x=""#);
            place(out, open.from);
        }
    }

    /// The outlines of all knots, for the shadow, and what is dark between them.
    pub(super) fn silhouette(&self) -> (String, String) {
        let mut outlines: BTreeMap<Frame, (String, String)> = BTreeMap::new();
        let mut written = |frame: Frame| {
            let both = || (frame.outline(), frame.chink());
            outlines.entry(frame).or_insert_with(both).clone()
        };
        let (mut path, mut dark) = (String::new(), String::new());
        for body in self.bodies() {
            start(
                &mut path,
                plus(body.centre, body.frame.outline_start(), 1.0),
            );
            path.push_str(&written(body.frame).0);
        }
        for chink in &self.chinks {
            start(
                &mut dark,
                plus(chink.centre, chink.frame.chink_start(), 1.0),
            );
            dark.push_str(&written(chink.frame).1);
        }
        for (from, gap) in &self.gaps {
            start(&mut dark, *from);
            dark.push_str(&gap.outline());
        }
        (path, dark)
    }
}

/// Begins a stretch of a path.
fn start(path: &mut String, (x, y): PlanePoint) {
    path.push('M');
    push_number(path, x);
    path.push(' ');
    push_number(path, y);
}

/// The rest of an element that is placed, from the value of `x` on.
fn place(out: &mut String, (x, y): PlanePoint) {
    push_number(out, x);
    out.push_str(r#"" y=""#);
    push_number(out, y);
    out.push_str(r#""/>"#);
}

/// From millimetres to hundredths of a column.
struct Plane {
    units_per_mm: f64,
}

impl Plane {
    fn point(&self, point: Point) -> PlanePoint {
        (
            point.across_mm * self.units_per_mm,
            point.along_mm * self.units_per_mm,
        )
    }

    fn gap(&self, stretch: &Stretch, knot: f64) -> Gap {
        let course = stretch.course.map(|point| self.point(point));
        let [out, leaves, enters, into] = course;
        let (leaves, enters) = (plus(leaves, out, -1.0), plus(into, enters, -1.0));
        let wide = length(plus(into, out, -1.0));
        let face = dot(leaves, enters) > FACING * length(leaves) * length(enters);
        Gap {
            from: stretch.from,
            to: stretch.to,
            course,
            wide,
            closes: face && wide < SPREAD * knot,
        }
    }

    fn body(&self, frame: &KnotFrame) -> Body {
        let centre = self.point(frame.laid.centre);
        let way = |to: Point| plus(self.point(to), centre, -1.0);
        Body {
            centre,
            frame: Frame::new(way(frame.leaves_right), way(frame.leaves_left)),
        }
    }
}

/// Two sides face each other if the ways out of them are turned by less than this cosine says
/// (our own judgement).
const FACING: f64 = 0.85;

/// What lies between the two knots of a stretch of thread.
struct Gap {
    from: usize,
    to: usize,
    course: [PlanePoint; 4],
    wide: f64,
    /// Whether the knots spread until they touch.
    closes: bool,
}

/// What all knots cover: those that lie almost side by side spread until they touch, and those
/// that press into each other are pressed flat.
fn bodies(courses: &Courses, plane: &Plane, knot: f64) -> Vec<Body> {
    let laid: Vec<Body> = courses
        .frames
        .iter()
        .map(|frame| plane.body(frame))
        .collect();
    let mut spread = vec![[0.0_f64; 4]; laid.len()];
    // Of which knot a thread leaves which side, by its position.
    let mut left = vec![None; courses.frames.len() + 1];
    for (to, frame) in courses.frames.iter().enumerate() {
        let column = column_of(frame);
        left.resize(left.len().max(column + 2), None);
        for (position, enters, leaves) in [(column, 2, 1), (column + 1, 3, 0)] {
            let before = left[position].replace((to, leaves));
            if let Some((from, leaves)) = before {
                let wide = laid[from].apart(leaves, laid[to], enters);
                let wide = wide.filter(|wide| wide.abs() < SPREAD * knot);
                for (at, side) in [(from, leaves), (to, enters)] {
                    spread[at][side] = wide.unwrap_or(0.0) / 2.0;
                }
            }
        }
    }
    laid.iter()
        .zip(spread)
        .map(|(body, spread)| body.spread(spread))
        .collect()
}

impl Body {
    /// The same, reaching further at each of its sides, numbered as in [`Body::sides`].
    fn spread(self, by: [f64; 4]) -> Self {
        let mut centre = self.centre;
        let [right, left] = [0, 1].map(|at| {
            let half = self.sides()[at].0;
            let long = length(half).max(1e-9);
            centre = plus(centre, half, (by[at] - by[at + 2]) / 2.0 / long);
            plus((0.0, 0.0), half, 1.0 + (by[at] + by[at + 2]) / 2.0 / long)
        });
        Self {
            centre,
            frame: Frame::new(right, left),
        }
    }

    /// How far one of its sides lies from a side of another that faces it; less than nothing
    /// where they press into each other.
    fn apart(self, side: usize, other: Self, facing: usize) -> Option<f64> {
        let (out, into) = (self.sides()[side].0, other.sides()[facing].0);
        let way = plus(out, into, -1.0);
        let (long, short) = (length(way), length(out) * length(into));
        if dot(out, into) > -FACING * short {
            return None;
        }
        let gap = plus(
            plus(other.centre, into, 1.0),
            plus(self.centre, out, 1.0),
            -1.0,
        );
        Some(dot(gap, way) / long.max(1e-9))
    }

    /// Its four sides: lower right, lower left, upper left, upper right. Of each the way to its
    /// middle, and half of the side itself.
    fn sides(self) -> [(PlanePoint, PlanePoint); 4] {
        let [right, left] = self.frame.sides();
        let back = |way: PlanePoint| plus((0.0, 0.0), way, -1.0);
        [
            (right, left),
            (left, right),
            (back(right), left),
            (back(left), right),
        ]
    }

    /// In the middle of which side a point lies.
    fn side_at(self, point: PlanePoint) -> usize {
        let way = plus(point, self.centre, -1.0);
        let aside = |at: &usize| length(plus(way, self.sides()[*at].0, -1.0));
        let nearest = (0..4).min_by(|one, other| aside(one).total_cmp(&aside(other)));
        nearest.unwrap_or(0)
    }

    /// The two corners of that side.
    fn corners_at(self, point: PlanePoint) -> [PlanePoint; 2] {
        let (middle, half) = self.sides()[self.side_at(point)];
        [-1.0, 1.0].map(|sign| plus(plus(self.centre, middle, 1.0), half, sign))
    }

    /// Whether it covers a point, when it is larger by a share.
    fn covers(self, point: PlanePoint, larger: f64) -> bool {
        let [right, left] = self.frame.sides();
        let way = plus(point, self.centre, -1.0);
        let area = cross(right, left);
        let reach = (1.0 + larger) * area.abs();
        cross(way, left).abs() <= reach && cross(right, way).abs() <= reach
    }

    /// How far it reaches in a direction of length 1.
    pub(super) fn reach(self, direction: PlanePoint) -> f64 {
        let corners = self.frame.corners().into_iter();
        corners
            .map(|corner| dot(corner, direction))
            .fold(0.0, f64::max)
    }
}

/// The corners that are closed in, each once.
fn chinks(bodies: &[Body], knot: f64) -> Vec<Body> {
    // Whatever lies round a corner is no further away than this.
    let cell = 1.9 * knot;
    #[expect(clippy::cast_possible_truncation, reason = "MAX_KNOTS bounds places")]
    let cell_of =
        |(x, y): PlanePoint, cell: f64| ((x / cell).floor() as i32, (y / cell).floor() as i32);
    let mut cells: BTreeMap<(i32, i32), Vec<usize>> = BTreeMap::new();
    for (at, body) in bodies.iter().enumerate() {
        cells
            .entry(cell_of(body.centre, cell))
            .or_default()
            .push(at);
    }
    let (mut seen, mut chinks) = (BTreeSet::new(), Vec::new());
    let mut near = Vec::new();
    for body in bodies {
        let (x, y) = cell_of(body.centre, cell);
        near.clear();
        for across in x - 1..=x + 1 {
            for along in y - 1..=y + 1 {
                let there = cells.get(&(across, along)).into_iter().flatten();
                near.extend(
                    there
                        .map(|at| bodies[*at])
                        .filter(|other| length(plus(other.centre, body.centre, -1.0)) < cell),
                );
            }
        }
        for corner in body.frame.corners() {
            let centre = plus(body.centre, corner, 1.0);
            let is_closed = DIRECTIONS.iter().all(|direction| {
                let point = plus(centre, *direction, AROUND * knot);
                near.iter().any(|other| other.covers(point, SEAM))
            });
            if is_closed && seen.insert(cell_of(centre, 0.2 * knot)) {
                chinks.push(Body {
                    centre,
                    frame: body.frame,
                });
            }
        }
    }
    chinks
}

/// Which end of the fabric.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Start,
    Finish,
}

/// Over so many knots of each column the way of a band that bends is taken at its ends (our own
/// judgement: over a few rows, so that their pattern does not sway it).
const KNOTS_AT_END: usize = 12;

/// An end that is turned by less than this cosine says is drawn upright (our own judgement: by
/// six degrees an end hangs aside in any case).
const AS_UPRIGHT: f64 = 0.9945;

impl End {
    /// The way out of a band that lies upright.
    fn out(self) -> PlanePoint {
        match self {
            Self::Start => (0.0, -1.0),
            Self::Finish => (0.0, 1.0),
        }
    }
}

impl Rim {
    fn of(fabric: &Fabric, courses: &Courses, plane: &Plane, end: End, bend: Option<Bend>) -> Self {
        let threads = usize::from(fabric.thread_count());
        let mut columns: Vec<Vec<&KnotFrame>> = vec![Vec::new(); threads - 1];
        let mut order: Vec<Option<Anchor>> = vec![None; threads];
        let mut take = |frame: &KnotFrame| {
            let left = column_of(frame);
            let centre = plane.point(frame.laid.centre);
            let sides = match end {
                End::Start => [frame.enters_left(), frame.enters_right()],
                End::Finish => [frame.leaves_left, frame.leaves_right],
            };
            for (position, side) in [left, left + 1].into_iter().zip(sides) {
                let point = plane.point(side);
                order[position].get_or_insert_with(|| {
                    let way = plus(point, centre, -1.0);
                    Anchor {
                        point,
                        way: plus((0.0, 0.0), way, 1.0 / length(way).max(1e-9)),
                    }
                });
            }
        };
        let mut note = |frame| {
            take(frame);
            let column = &mut columns[column_of(frame)];
            if column.len() <= KNOTS_AT_END {
                column.push(frame);
            }
        };
        match end {
            End::Start => courses.frames.iter().for_each(&mut note),
            End::Finish => courses.frames.iter().rev().for_each(&mut note),
        }
        let out = bend
            .and_then(|bend| way_out(&columns, plane, end, &bend))
            .unwrap_or(end.out());
        Self {
            anchors: all_anchors(&order, end, out),
            knots: columns
                .iter()
                .map(|column| column.first().map(|frame| plane.body(frame)))
                .collect(),
            out,
        }
    }
}

/// The way out of a band that bends: that in which its columns go at an end, where that is not
/// upright.
fn way_out(
    columns: &[Vec<&KnotFrame>],
    plane: &Plane,
    end: End,
    bend: &Bend,
) -> Option<PlanePoint> {
    let (mut sum, mut lengths, mut count) = ((0.0, 0.0), 0.0, 0.0);
    for column in columns {
        if let [outer, .., inner] = &column[..] {
            let inside = plane.point(inner.laid.centre);
            let way = plus(plane.point(outer.laid.centre), inside, -1.0);
            sum = plus(sum, way, 1.0 / length(way).max(1e-9));
            lengths += length(way);
            count += 1.0;
        }
    }
    let long = length(sum);
    if long < 1e-9 {
        return None;
    }
    // That is the way in the middle of these knots; from there the band goes on bending.
    let quarter = lengths / count / (bend.radius_mm * plane.units_per_mm) / 4.0;
    let side = match (bend.towards, end) {
        (Side::Left, End::Finish) | (Side::Right, End::Start) => 1.0,
        (Side::Right, End::Finish) | (Side::Left, End::Start) => -1.0,
    };
    // The half angle formulae; a quarter of the angle is taken for its tangent.
    let tangent = side * quarter.min(0.5);
    let size = (1.0 + tangent * tangent) * long;
    let (cosine, sine) = ((1.0 - tangent * tangent) / size, 2.0 * tangent / size);
    let out = (sum.0 * cosine - sum.1 * sine, sum.0 * sine + sum.1 * cosine);
    (dot(out, end.out()) < AS_UPRIGHT).then_some(out)
}

/// Threads that are never tied hang beside those that are, as far apart as on the lattice.
fn all_anchors(tied: &[Option<Anchor>], end: End, out: PlanePoint) -> Vec<Anchor> {
    let beside = |at: usize| {
        let nearest = (0..tied.len())
            .filter_map(|other| Some((other, tied[other]?)))
            .min_by_key(|(other, _)| other.abs_diff(at));
        let (other, anchor) = nearest.unwrap_or((
            at,
            Anchor {
                point: (0.0, 0.0),
                way: out,
            },
        ));
        #[expect(clippy::cast_precision_loss, reason = "positions are few")]
        let columns = at as f64 - other as f64;
        let right = match end {
            End::Start => (-out.1, out.0),
            End::Finish => (out.1, -out.0),
        };
        Anchor {
            point: plus(anchor.point, right, columns * COLUMN),
            way: out,
        }
    };
    tied.iter()
        .enumerate()
        .map(|(at, anchor)| anchor.unwrap_or_else(|| beside(at)))
        .collect()
}

/// The column of a knot, from 0; the same is the position to its left.
fn column_of(frame: &KnotFrame) -> usize {
    usize::from(frame.laid.knot.column.number()) - 1
}

fn cross(one: PlanePoint, other: PlanePoint) -> f64 {
    one.0 * other.1 - one.1 * other.0
}
