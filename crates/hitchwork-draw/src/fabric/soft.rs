//! Where everything of a soft band lies: each knot turned with its frame, each stretch of thread
//! on its course, and what is dark between knots that touch.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::craft::Gauge;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Side;
use hitchwork_core::lay::{Bend, KnotFrame, LaidThreads, Lay, OpenStretch, Point};

use super::frame::{ChinkSize, CourseShape, Quad, TurnedFrame, dot, length};
use super::pen::{Bounds, plus, push_number};
use super::style::{COLUMN, FabricStyle, Lie};
use crate::ink::PlanePoint;

/// Stretches up to this share of a knot are hidden by the knots (our own judgement).
const HIDDEN: f64 = 0.1;

/// Knots that are no further from each other than this share of a knot spread until they touch,
/// as hitches do; between those further apart one sees the table (our own judgement).
const SPREAD: f64 = 0.35;

/// A corner is closed in if at this share of a knot all around it there is fabric;
const AROUND: f64 = 0.22;
/// it lies at a hole too small to see the table through if that is so at one of these shares;
const HOLE: [f64; 3] = [0.3, 0.4, 0.5];
/// where a knot counts as larger by this share (all our own judgement: a seam is no hole).
const SEAM: f64 = 0.12;

/// So many knots lie in one cell at the most, where a cell is about two knots wide and high (our
/// own judgement: about five lie side by side there, and soft ones closer).
const IN_CELL: usize = 12;

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

/// Where it is dark at the corner of a knot.
#[derive(Clone, Copy)]
pub(super) struct Chink {
    pub(super) centre: PlanePoint,
    pub(super) frame: TurnedFrame,
    pub(super) size: ChinkSize,
}

/// What a knot covers.
#[derive(Clone, Copy)]
pub(super) struct Body {
    pub(super) centre: PlanePoint,
    pub(super) frame: TurnedFrame,
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
pub(super) struct RimPoint {
    pub(super) point: PlanePoint,
    pub(super) way: PlanePoint,
}

/// One end of the fabric.
pub(super) struct Rim {
    /// For each position.
    pub(super) anchors: Vec<RimPoint>,
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
    pub(super) chinks: Vec<Chink>,
    /// The dark under the seams of two knots, from its first corners.
    pub(super) seams: Vec<(PlanePoint, Quad)>,
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
        let (bodies, seams) = bodies(&courses, &plane, knot);
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
            seams: seams.iter().map(|seam| seam.quad(&bodies, knot)).collect(),
            knot,
        };
        for stretch in &courses.stretches {
            let colour = fabric.colour(stretch.thread);
            laid.stretch(&plane.gap(stretch, knot), colour);
        }
        let rims = [RimSide::Start, RimSide::Finish]
            .map(|end| Rim::of(fabric, &courses, &plane, end, lay.bend()));
        (laid, rims)
    }

    /// A stretch of thread between two knots of the fabric is seen, unless they spread until they
    /// touch.
    fn stretch(&mut self, gap: &Gap, colour: u16) {
        if !gap.closes && gap.wide > HIDDEN * self.knot {
            self.run_openly(colour, gap.course);
        }
    }

    /// A thread runs openly along a curve.
    pub(super) fn run_openly(&mut self, colour: u16, course: [PlanePoint; 4]) {
        self.open.push(OpenCourse {
            colour,
            from: course[0],
            shape: CourseShape::new(course),
        });
    }

    /// Threads run openly from the rim to where they meet the bundle of an end: positions, and
    /// places there.
    pub(super) fn run_to_end(&mut self, rim: &Rim, meets: &[(usize, RimPoint)], colours: &[u16]) {
        for (position, meets) in meets {
            let RimPoint { point, way } = rim.anchors[*position];
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

    /// Keeps what is seen between two heights, counted from the first of them.
    pub(super) fn keep_between(&mut self, from: f64, to: f64) {
        let room = 2.0 * self.knot;
        let sees = |least: f64, most: f64| most > from - room && least < to + room;
        self.knots.retain(|knot| {
            let (_, along) = knot.body.centre;
            sees(along, along)
        });
        self.chinks
            .retain(|chink| sees(chink.centre.1, chink.centre.1));
        self.seams.retain(|(corner, _)| sees(corner.1, corner.1));
        self.open.retain(|open| {
            let (least, most) = open.shape.extent();
            sees(open.from.1 + least.1, open.from.1 + most.1)
        });
        self.passes = vec![self.knots.len()];
        for knot in &mut self.knots {
            knot.body.centre.1 -= from;
        }
        for chink in &mut self.chinks {
            chink.centre.1 -= from;
        }
        for (corner, _) in &mut self.seams {
            corner.1 -= from;
        }
        for open in &mut self.open {
            open.from.1 -= from;
        }
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

    /// What the knots of the fabric lie within.
    pub(super) fn knot_bounds(&self) -> Bounds {
        let mut bounds = Bounds::around((f64::MAX, f64::MAX), (f64::MIN, f64::MIN));
        for knot in &self.knots {
            for corner in knot.body.frame.corners() {
                bounds.include(plus(knot.body.centre, corner, 1.0), 0.0);
            }
        }
        bounds
    }

    /// What all of it lies within.
    pub(super) fn bounds(&self, thread: f64) -> Bounds {
        let mut bounds = self.knot_bounds();
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
        let mut outlines: BTreeMap<TurnedFrame, String> = BTreeMap::new();
        let (mut path, mut dark) = (String::new(), String::new());
        for body in self.bodies() {
            start(
                &mut path,
                plus(body.centre, body.frame.outline_start(), 1.0),
            );
            let outline = outlines.entry(body.frame);
            path.push_str(outline.or_insert_with(|| body.frame.outline()));
        }
        for chink in &self.chinks {
            let from = chink.frame.chink_start(chink.size);
            start(&mut dark, plus(chink.centre, from, 1.0));
            dark.push_str(&chink.frame.chink(chink.size));
        }
        for (from, seam) in &self.seams {
            start(&mut dark, *from);
            dark.push_str(&seam.outline());
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

    fn gap(&self, stretch: &OpenStretch, knot: f64) -> Gap {
        let course = stretch.course.map(|point| self.point(point));
        let [out, leaves, enters, into] = course;
        let (leaves, enters) = (plus(leaves, out, -1.0), plus(into, enters, -1.0));
        let wide = length(plus(into, out, -1.0));
        let face = dot(leaves, enters) > FACING * length(leaves) * length(enters);
        Gap {
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
            frame: TurnedFrame::new(way(frame.leaves_right), way(frame.leaves_left)),
        }
    }
}

/// Two sides face each other if the ways out of them are turned by less than this cosine says
/// (our own judgement).
const FACING: f64 = 0.85;

/// What lies between the two knots of a stretch of thread.
struct Gap {
    course: [PlanePoint; 4],
    wide: f64,
    /// Whether the knots spread until they touch.
    closes: bool,
}

/// Two sides that touch: of which knots, and which of their sides.
struct SideBySide {
    knots: [usize; 2],
    sides: [usize; 2],
}

/// So far the dark under a seam reaches under its knots, as a share of a knot,
const UNDER_SEAM: f64 = 0.08;
/// and along so much of their sides, up to where their corners are round.
const ALONG_SEAM: f64 = 0.84;

impl SideBySide {
    /// What is dark under the seam, from its first corner.
    fn quad(&self, bodies: &[Body], knot: f64) -> (PlanePoint, Quad) {
        let [one, other] = [0, 1].map(|at| {
            let body = bodies[self.knots[at]];
            let (out, half) = body.sides()[self.sides[at]];
            let inside = plus(out, out, -UNDER_SEAM * knot / length(out).max(1e-9));
            let middle = plus(body.centre, inside, 1.0);
            [-ALONG_SEAM, ALONG_SEAM].map(|share| plus(middle, half, share))
        });
        let mut corners = [one[0], one[1], other[0], other[1]];
        // One way round, as chinks are: where they overlap it is dark, too.
        let middle = plus(
            (0.0, 0.0),
            corners
                .iter()
                .fold((0.0, 0.0), |sum, at| plus(sum, *at, 1.0)),
            0.25,
        );
        let angle = |corner: &PlanePoint| {
            let (x, y) = plus(*corner, middle, -1.0);
            // Grows with the angle, like it.
            (1.0 - x / (x.abs() + y.abs()).max(1e-9)).copysign(y)
        };
        corners.sort_by(|one, other| angle(one).total_cmp(&angle(other)));
        (corners[0], Quad::new(corners))
    }
}

/// What all knots cover: those that lie almost side by side spread until they touch, and those
/// that press into each other are pressed flat. And where they touch.
fn bodies(courses: &LaidThreads, plane: &Plane, knot: f64) -> (Vec<Body>, Vec<SideBySide>) {
    let laid: Vec<Body> = courses
        .frames
        .iter()
        .map(|frame| plane.body(frame))
        .collect();
    let (mut spread, mut seams) = (vec![[0.0_f64; 4]; laid.len()], Vec::new());
    // Of which knot a thread leaves which side, by its position.
    let mut left = vec![None; courses.frames.len() + 1];
    for (to, frame) in courses.frames.iter().enumerate() {
        let column = column_of(frame);
        left.resize(left.len().max(column + 2), None);
        for (position, enters, leaves) in [(column, 2, 1), (column + 1, 3, 0)] {
            let before = left[position].replace((to, leaves));
            if let Some((from, leaves)) = before {
                let wide = laid[from].apart(leaves, laid[to], enters);
                let Some(wide) = wide.filter(|wide| wide.abs() < SPREAD * knot) else {
                    continue;
                };
                let touching = SideBySide {
                    knots: [from, to],
                    sides: [leaves, enters],
                };
                for (at, side) in touching.knots.into_iter().zip(touching.sides) {
                    spread[at][side] = wide / 2.0;
                }
                seams.push(touching);
            }
        }
    }
    let bodies = laid
        .iter()
        .zip(spread)
        .map(|(body, spread)| body.spread(spread));
    (bodies.collect(), seams)
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
            frame: TurnedFrame::new(right, left),
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
fn chinks(bodies: &[Body], knot: f64) -> Vec<Chink> {
    // Whatever lies round a corner is no further away than this.
    let cell = 2.2 * knot;
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
    for (at, body) in bodies.iter().enumerate() {
        let (x, y) = cell_of(body.centre, cell);
        near.clear();
        for across in x - 1..=x + 1 {
            for along in y - 1..=y + 1 {
                let there = cells.get(&(across, along)).map_or(&[][..], Vec::as_slice);
                // A band that bends may lie over itself: what was tied about as early counts.
                let middle = there.partition_point(|other| *other < at);
                let from = middle.saturating_sub(IN_CELL);
                let until = (middle + IN_CELL).min(there.len());
                near.extend(there[from..until].iter().map(|other| bodies[*other]));
            }
        }
        near.retain(|other| length(plus(other.centre, body.centre, -1.0)) < cell);
        for corner in body.frame.corners() {
            let centre = plus(body.centre, corner, 1.0);
            let covered = |direction: PlanePoint, share: f64| {
                let point = plus(centre, direction, share * knot);
                near.iter().any(|other| other.covers(point, SEAM))
            };
            let closed = |is_so: &dyn Fn(PlanePoint) -> bool| {
                DIRECTIONS.iter().all(|direction| is_so(*direction))
            };
            let size = if closed(&|direction| covered(direction, AROUND)) {
                ChinkSize::Seam
            } else if closed(&|direction| HOLE.iter().any(|share| covered(direction, *share))) {
                ChinkSize::Hole
            } else {
                continue;
            };
            if seen.insert(cell_of(centre, 0.2 * knot)) {
                chinks.push(Chink {
                    centre,
                    frame: body.frame,
                    size,
                });
            }
        }
    }
    chinks
}

/// Which end of the fabric.
#[derive(Clone, Copy, PartialEq, Eq)]
enum RimSide {
    Start,
    Finish,
}

/// Over so many knots of each column the way of a band that bends is taken at its ends (our own
/// judgement: over a few rows, so that their pattern does not sway it).
const KNOTS_AT_END: usize = 12;

/// An end that is turned by less than this cosine says is drawn upright (our own judgement: by
/// six degrees an end hangs aside in any case).
const AS_UPRIGHT: f64 = 0.9945;

impl RimSide {
    /// The way out of a band that lies upright.
    fn out(self) -> PlanePoint {
        match self {
            Self::Start => (0.0, -1.0),
            Self::Finish => (0.0, 1.0),
        }
    }
}

impl Rim {
    fn of(
        fabric: &Fabric,
        courses: &LaidThreads,
        plane: &Plane,
        end: RimSide,
        bend: Option<Bend>,
    ) -> Self {
        let threads = usize::from(fabric.thread_count());
        let mut columns: Vec<Vec<&KnotFrame>> = vec![Vec::new(); threads - 1];
        let mut order: Vec<Option<RimPoint>> = vec![None; threads];
        let mut take = |frame: &KnotFrame| {
            let left = column_of(frame);
            let centre = plane.point(frame.laid.centre);
            let sides = match end {
                RimSide::Start => [frame.enters_left(), frame.enters_right()],
                RimSide::Finish => [frame.leaves_left, frame.leaves_right],
            };
            for (position, side) in [left, left + 1].into_iter().zip(sides) {
                let point = plane.point(side);
                order[position].get_or_insert_with(|| {
                    let way = plus(point, centre, -1.0);
                    RimPoint {
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
            RimSide::Start => courses.frames.iter().for_each(&mut note),
            RimSide::Finish => courses.frames.iter().rev().for_each(&mut note),
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
    end: RimSide,
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
        (Side::Left, RimSide::Finish) | (Side::Right, RimSide::Start) => 1.0,
        (Side::Right, RimSide::Finish) | (Side::Left, RimSide::Start) => -1.0,
    };
    // The half angle formulae; a quarter of the angle is taken for its tangent.
    let tangent = side * quarter.min(0.5);
    let size = (1.0 + tangent * tangent) * long;
    let (cosine, sine) = ((1.0 - tangent * tangent) / size, 2.0 * tangent / size);
    let out = (sum.0 * cosine - sum.1 * sine, sum.0 * sine + sum.1 * cosine);
    (dot(out, end.out()) < AS_UPRIGHT).then_some(out)
}

/// Threads that are never tied hang beside those that are, as far apart as on the lattice.
fn all_anchors(tied: &[Option<RimPoint>], end: RimSide, out: PlanePoint) -> Vec<RimPoint> {
    let beside = |at: usize| {
        let nearest = (0..tied.len())
            .filter_map(|other| Some((other, tied[other]?)))
            .min_by_key(|(other, _)| other.abs_diff(at));
        let (other, anchor) = nearest.unwrap_or((
            at,
            RimPoint {
                point: (0.0, 0.0),
                way: out,
            },
        ));
        #[expect(clippy::cast_precision_loss, reason = "positions are few")]
        let columns = at as f64 - other as f64;
        let right = match end {
            RimSide::Start => (-out.1, out.0),
            RimSide::Finish => (out.1, -out.0),
        };
        RimPoint {
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
