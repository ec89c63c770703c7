//! How much of each thread a band takes.

use std::f64::consts::PI;

use super::{End, Gauge, Habits, Shape, Ties, bundle_mm};
use crate::band::Band;
use crate::fabric::{Fabric, Thread, TiedKnot};
use crate::knot::Side;
use crate::lay::{LaidEdge, Lay};

/// The wraps of a double half hitch (its definition: each of two half hitches goes once
/// round).
const WRAPS: f64 = 2.0;

/// The length of a tight trefoil in diameters of its cord (upper bound; Denne, Diao &
/// Sullivan, Geometry & Topology 10, 2006). An overhand knot in a bundle is that knot, open
/// and less tight.
const OVERHAND: f64 = 16.372;

/// How much longer the threads of a three-strand braid are than the braid (common
/// practice, no source). A flat braid with its strands side by side, the closest there is,
/// would take 4/3: its strands cross two strands' breadths while they move aside at the
/// angle whose cosine is 3/4.
const BRAID: f64 = 1.25;

/// How much longer the threads of a two-ply twist are than the twist (common practice, no
/// source): they wind at 30 degrees to it, as plied thread does, and 1 / cos 30 is 1.155.
const TWIST: f64 = 1.15;

/// The length of working thread in the two wraps of a double half hitch: a helix of two
/// turns round a cylinder as thick as the core, at the working thread's centre line, with
/// the wraps side by side: 2 sqrt((pi (core + thread))^2 + thread^2).
///
/// ```
/// use hitchwork_core::craft::wraps_mm;
/// assert!((wraps_mm(1.0, 1.0) - 12.724_530).abs() < 1e-6);
/// assert!(wraps_mm(2.0, 1.0) > wraps_mm(1.0, 1.0));
/// ```
#[must_use]
pub fn wraps_mm(core_mm: f64, thread_mm: f64) -> f64 {
    WRAPS * libm::hypot(PI * (core_mm + thread_mm), thread_mm)
}

/// The length of core in a knot: straight through it, from side to side.
#[must_use]
pub fn core_mm(gauge: &Gauge) -> f64 {
    gauge.knot_mm()
}

/// What one end of a band takes of a thread, in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct EndThread {
    /// Along or inside the bundle, or fanning out from the knot to the first row.
    pub run: f64,
    /// The thread's own knot round the bundle.
    pub bundle_knot: f64,
    /// The knots that hold all threads together, and the loop.
    pub gathering: f64,
    /// The tie, with the knot at its tip, or the stub.
    pub tie: f64,
}

impl EndThread {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.run + self.bundle_knot + self.gathering + self.tie
    }
}

/// What a band takes of one thread, in millimetres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct ThreadLength {
    /// In the knots in which it wraps.
    pub working: f64,
    /// In the knots in which it lies inside.
    pub core: f64,
    /// In the open between its knots.
    pub passages: f64,
    /// At the start.
    pub start: EndThread,
    /// At the finish.
    pub finish: EndThread,
    /// For uneven pull, and for the hand where no tie is left for it.
    pub handling: f64,
}

impl ThreadLength {
    /// What is in the rows: knots and passages.
    #[must_use]
    pub fn knotted(&self) -> f64 {
        self.working + self.core + self.passages
    }

    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.knotted() + self.start.total() + self.finish.total() + self.handling
    }
}

/// What a thread goes through in the rows.
#[derive(Clone, Copy, Debug, Default)]
struct ThreadPath {
    working: u64,
    core: u64,
    /// Half rows between knots that do not touch, on the lattice.
    open_half_rows: u64,
    /// How far it lies open, in a soft fabric.
    open_mm: f64,
    levels: Option<(u32, u32)>,
}

impl ThreadPath {
    fn meets(&mut self, level: u32) {
        let first = self.levels.map_or(level, |(first, last)| {
            // Knots that touch lie one half row apart.
            self.open_half_rows += u64::from(level.saturating_sub(last + 1));
            first
        });
        self.levels = Some((first, level));
    }
}

fn courses(fabric: &Fabric, lay: &Lay) -> Vec<ThreadPath> {
    let mut courses = vec![ThreadPath::default(); usize::from(fabric.thread_count())];
    for knot in fabric.knots() {
        for thread in [knot.working, knot.core] {
            courses[thread.index()].meets(knot.level);
        }
        courses[knot.working.index()].working += 1;
        courses[knot.core.index()].core += 1;
    }
    if lay.is_solved() {
        let stretches = lay.frames(fabric).flat_map(|(_, stretches)| stretches);
        for stretch in stretches.flatten() {
            courses[stretch.thread.index()].open_mm += stretch.length_mm;
        }
    }
    courses
}

/// The threads of a knot, by the side from which they come to it.
pub(crate) fn left_and_right(knot: &TiedKnot) -> [Thread; 2] {
    match knot.kind.working_side() {
        Side::Left => [knot.working, knot.core],
        Side::Right => [knot.core, knot.working],
    }
}

/// What the band takes of each thread, from left to right at the start, as
/// [`Tied::thread_lengths`](crate::tied::Tied::thread_lengths) says.
#[allow(
    clippy::cast_precision_loss,
    reason = "MAX_KNOTS is far below what a float counts exactly"
)]
pub(crate) fn thread_lengths(
    band: &Band,
    fabric: &Fabric,
    lay: &Lay,
    habits: &Habits,
) -> Vec<ThreadLength> {
    let gauge = band.gauge();
    let courses = courses(fabric, lay);
    let [start_edge, finish_edge] = edges(&courses, fabric, lay);
    let start = band.start();
    let looped = start.shape == Shape::Loop;
    let starts = end_threads(start, start.shape, looped, &start_edge, &gauge, habits);
    // Threads join a bundle on the way on which they would leave it from the other side.
    let way = match band.finish().shape {
        Shape::HalfTriangleLeft | Shape::HalfTriangleRight => band.finish().shape.mirrored(),
        other => other,
    };
    let finishes = end_threads(band.finish(), way, false, &finish_edge, &gauge, habits);
    let mut at_finish = vec![EndThread::default(); courses.len()];
    for (thread, end) in fabric.final_order().iter().zip(finishes) {
        at_finish[thread.index()] = end;
    }
    let hold = hold(band.finish(), habits);
    let one = |((course, start), finish): ((&ThreadPath, EndThread), EndThread)| {
        let mut length = ThreadLength {
            working: course.working as f64
                * wraps_mm(gauge.thread_mm, gauge.thread_mm)
                * gauge.take_up,
            core: course.core as f64 * core_mm(&gauge) * gauge.take_up,
            passages: match lay.is_solved() {
                true => course.open_mm,
                false => course.open_half_rows as f64 * gauge.half_row_mm,
            },
            start,
            finish,
            handling: 0.0,
        };
        length.handling = length.knotted() * habits.slack + hold;
        length
    };
    courses.iter().zip(starts).zip(at_finish).map(one).collect()
}

/// What the hand needs beyond what becomes the tie.
fn hold(finish: End, habits: &Habits) -> f64 {
    let left = match finish.ties {
        Ties::Braided | Ties::Twisted => habits.tie_mm,
        Ties::Cut => habits.stub_mm,
    };
    (habits.hold_mm - left).max(0.0)
}

/// How long the tails of an end are before anything is made of them: the tie that they become,
/// with the knot at its tip, or the stub that stays when they are cut.
pub(crate) fn tail_mm(ties: Ties, count: u16, gauge: &Gauge, habits: &Habits) -> f64 {
    let overhand = OVERHAND * bundle_mm(count, gauge.thread_mm);
    match ties.of_threads(count) {
        Ties::Braided => habits.tie_mm * BRAID + overhand,
        Ties::Twisted => habits.tie_mm * TWIST + overhand,
        Ties::Cut => habits.stub_mm,
    }
}

/// Where the threads leave the fabric at one of its ends.
struct EdgeProfile {
    /// Half of the width of the band there.
    half_mm: f64,
    /// For each position: how far from the middle of the band, and how far back from where the edge
    /// sticks out furthest.
    threads: Vec<(f64, f64)>,
    /// From each position to the next one to the right.
    between_mm: Vec<f64>,
}

impl EdgeProfile {
    /// On the lattice, by how many half rows the first (or last) knot of each position lies back.
    fn on_lattice(lies_back: &[u32], gauge: &Gauge) -> Self {
        let count = u16::try_from(lies_back.len()).expect("MAX_THREADS fits");
        let half_mm = gauge.width_mm(count) / 2.0;
        let aside = |at: u16| (f64::from(at) + 0.5) * gauge.column_mm - half_mm;
        let back = |half_rows: &u32| f64::from(*half_rows) * gauge.half_row_mm;
        let between = |pair: &[u32]| {
            let rise = f64::from(pair[0].abs_diff(pair[1])) * gauge.half_row_mm;
            libm::hypot(gauge.column_mm, rise)
        };
        Self {
            half_mm,
            threads: (0..count)
                .map(aside)
                .zip(lies_back.iter().map(back))
                .collect(),
            between_mm: lies_back.windows(2).map(between).collect(),
        }
    }

    /// As a soft fabric lies: its outermost threads stand half a column inside its edges.
    fn of_soft(edge: &LaidEdge, gauge: &Gauge) -> Self {
        let across = || edge.threads.iter().map(|thread| thread.across_mm);
        let least = across().fold(f64::INFINITY, f64::min);
        let most = across().fold(f64::NEG_INFINITY, f64::max);
        let middle = f64::midpoint(least, most);
        let threads = edge.threads.iter();
        let threads: Vec<(f64, f64)> = threads
            .map(|thread| (thread.across_mm - middle, thread.back_mm))
            .collect();
        let between =
            |pair: &[(f64, f64)]| libm::hypot(pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
        Self {
            half_mm: (most - least + gauge.column_mm) / 2.0,
            between_mm: threads.windows(2).map(between).collect(),
            threads,
        }
    }
}

/// The edges of the start and the finish.
fn edges(courses: &[ThreadPath], fabric: &Fabric, lay: &Lay) -> [EdgeProfile; 2] {
    let gauge = lay.gauge();
    if let Some(edges) = lay.edges(fabric) {
        return edges.map(|edge| EdgeProfile::of_soft(&edge, gauge));
    }
    let levels = courses.iter().filter_map(|course| course.levels);
    let top = levels.map(|(_, last)| last).max().unwrap_or(0);
    let firsts: Vec<u32> = courses
        .iter()
        .map(|course| course.levels.map_or(0, |(first, _)| first))
        .collect();
    let lasts: Vec<u32> = fabric
        .final_order()
        .iter()
        .map(|thread| {
            let levels = courses[thread.index()].levels;
            top - levels.map_or(top, |(_, last)| last)
        })
        .collect();
    [firsts, lasts].map(|lies_back| EdgeProfile::on_lattice(&lies_back, gauge))
}

/// What an end takes of the thread at each position. `way` is the shape by which the threads
/// leave their bundle.
fn end_threads(
    end: End,
    way: Shape,
    looped: bool,
    edge: &EdgeProfile,
    gauge: &Gauge,
    habits: &Habits,
) -> Vec<EndThread> {
    let positions = edge.threads.len();
    let count = u16::try_from(positions).expect("MAX_THREADS fits");
    let overhand = OVERHAND * bundle_mm(count, gauge.thread_mm);
    let (gathering, tie) = match looped {
        true => (overhand + habits.loop_mm / 2.0, 0.0),
        false => (overhand, tail_mm(end.ties, count, gauge, habits)),
    };
    let (last, middle) = (positions - 1, positions / 2);
    let one = |position: usize| {
        let (run, bundle_knot) = match way {
            Shape::Flat | Shape::Loop => (edge.fanned(position), 0.0),
            Shape::HalfTriangleLeft => edge.bundled(position, 0, last, gauge),
            Shape::HalfTriangleRight => edge.bundled(position, last, 0, gauge),
            Shape::Triangle if position < middle => edge.bundled(position, middle - 1, 0, gauge),
            Shape::Triangle if last - position < middle => {
                edge.bundled(position, last + 1 - middle, last, gauge)
            }
            // The middle one of an odd number hangs between both bundles.
            Shape::Triangle => (0.0, 0.0),
        };
        EndThread {
            run,
            bundle_knot,
            gathering,
            tie,
        }
    };
    (0..positions).map(one).collect()
}

impl EdgeProfile {
    /// The threads fan out from their knot, which lies half the width of the band before its
    /// edge, so that the outermost ones come in at nearly 45 degrees (our own judgement).
    fn fanned(&self, position: usize) -> f64 {
        let (aside, back) = self.threads[position];
        libm::hypot(self.half_mm, aside) + back
    }

    /// A bundle that is knotted at the position `root` and spent at the position `tip`: each
    /// thread runs inside it along the edge, and ties its own knot round those that go on.
    fn bundled(&self, position: usize, root: usize, tip: usize, gauge: &Gauge) -> (f64, f64) {
        let run = self.between_mm[root.min(position)..root.max(position)]
            .iter()
            .sum();
        let inside = u16::try_from(position.abs_diff(tip)).expect("MAX_THREADS fits");
        let knot = match inside {
            0 => 0.0,
            _ => wraps_mm(bundle_mm(inside, gauge.thread_mm), gauge.thread_mm),
        };
        (run, knot)
    }
}

/// How many knots start and finish have: one for each thread that ties one round a bundle.
#[must_use]
pub(super) fn end_knots(band: &Band) -> [u64; 2] {
    let threads = u64::from(band.thread_count());
    let of = |shape| match shape {
        Shape::Flat | Shape::Loop => 0,
        Shape::HalfTriangleLeft | Shape::HalfTriangleRight => threads - 1,
        // Two bundles, in each of which the last thread ties none.
        Shape::Triangle => (threads / 2 - 1) * 2,
    };
    [band.start(), band.finish()].map(|end| of(end.shape))
}

/// How far the ends reach beyond the knotted length, in millimetres: a fan or nothing, the
/// loop, the ties.
#[must_use]
pub(crate) fn ends_mm(band: &Band, fabric: &Fabric, lay: &Lay, habits: &Habits) -> f64 {
    let lattice = band.gauge().width_mm(band.thread_count()) / 2.0;
    let soft = lay.edges(fabric);
    let soft = soft.map(|edges| edges.map(|edge| EdgeProfile::of_soft(&edge, lay.gauge()).half_mm));
    let [start_fan, finish_fan] = soft.unwrap_or([lattice; 2]);
    let of = |end: End, fan: f64, looped: bool| {
        let shape = match end.shape {
            Shape::Flat | Shape::Loop => fan,
            Shape::HalfTriangleLeft | Shape::HalfTriangleRight | Shape::Triangle => 0.0,
        };
        let beyond = match end.ties {
            _ if looped => habits.loop_mm / 2.0,
            Ties::Braided | Ties::Twisted => habits.tie_mm,
            Ties::Cut => habits.stub_mm,
        };
        shape + beyond
    };
    let looped = band.start().shape == Shape::Loop;
    of(band.start(), start_fan, looped) + of(band.finish(), finish_fan, false)
}
