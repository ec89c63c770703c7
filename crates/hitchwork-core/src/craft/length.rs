//! How much of each thread a band takes.

use std::f64::consts::PI;

use super::{End, Gauge, Habits, Shape, Ties, bundle_mm};
use crate::band::Band;
use crate::fabric::Fabric;

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
    /// Half rows between knots that do not touch.
    open_half_rows: u64,
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

fn courses(fabric: &Fabric) -> Vec<ThreadPath> {
    let mut courses = vec![ThreadPath::default(); usize::from(fabric.thread_count())];
    for pass in fabric.passes() {
        for knot in pass.knots() {
            for thread in [knot.working, knot.core] {
                courses[thread.index()].meets(knot.level);
            }
            courses[knot.working.index()].working += 1;
            courses[knot.core.index()].core += 1;
        }
    }
    courses
}

/// What the band takes of each thread, from left to right at the start, as
/// [`Tied::thread_lengths`](crate::tied::Tied::thread_lengths) says.
#[allow(
    clippy::cast_precision_loss,
    reason = "MAX_KNOTS is far below what a float counts exactly"
)]
pub(crate) fn thread_lengths(band: &Band, fabric: &Fabric, habits: &Habits) -> Vec<ThreadLength> {
    let gauge = band.gauge();
    let courses = courses(fabric);
    let top = courses
        .iter()
        .filter_map(|course| course.levels)
        .map(|(_, last)| last)
        .max()
        .unwrap_or(0);
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
    let start = band.start();
    let looped = start.shape == Shape::Loop;
    let starts = end_threads(start, start.shape, looped, &firsts, &gauge, habits);
    // Threads join a bundle on the way on which they would leave it from the other side.
    let way = match band.finish().shape {
        Shape::HalfTriangleLeft | Shape::HalfTriangleRight => band.finish().shape.mirrored(),
        other => other,
    };
    let finishes = end_threads(band.finish(), way, false, &lasts, &gauge, habits);
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
            passages: course.open_half_rows as f64 * gauge.half_row_mm,
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

/// What an end takes of the thread at each position, by how many half rows the first (or
/// last) knot of each lies back from where the edge sticks out furthest. `way` is the
/// shape by which the threads leave their bundle.
fn end_threads(
    end: End,
    way: Shape,
    looped: bool,
    lies_back: &[u32],
    gauge: &Gauge,
    habits: &Habits,
) -> Vec<EndThread> {
    let count = u16::try_from(lies_back.len()).expect("MAX_THREADS fits");
    let overhand = OVERHAND * bundle_mm(count, gauge.thread_mm);
    let (gathering, tie) = match looped {
        true => (overhand + habits.loop_mm / 2.0, 0.0),
        false => (overhand, tail_mm(end.ties, count, gauge, habits)),
    };
    let (last, middle) = (lies_back.len() - 1, lies_back.len() / 2);
    let one = |position: usize| {
        let (run, bundle_knot) = match way {
            Shape::Flat | Shape::Loop => (fanned(position, lies_back, gauge), 0.0),
            Shape::HalfTriangleLeft => bundled(position, 0, last, lies_back, gauge),
            Shape::HalfTriangleRight => bundled(position, last, 0, lies_back, gauge),
            Shape::Triangle if position < middle => {
                bundled(position, middle - 1, 0, lies_back, gauge)
            }
            Shape::Triangle if last - position < middle => {
                bundled(position, last + 1 - middle, last, lies_back, gauge)
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
    (0..lies_back.len()).map(one).collect()
}

/// The threads fan out from their knot, which lies half the width of the band before its
/// edge, so that the outermost ones come in at nearly 45 degrees (our own judgement).
fn fanned(position: usize, lies_back: &[u32], gauge: &Gauge) -> f64 {
    let count = u16::try_from(lies_back.len()).expect("MAX_THREADS fits");
    let half = gauge.width_mm(count) / 2.0;
    let at = u16::try_from(position).expect("MAX_THREADS fits");
    let aside = (f64::from(at) + 0.5) * gauge.column_mm - half;
    libm::hypot(half, aside) + f64::from(lies_back[position]) * gauge.half_row_mm
}

/// A bundle that is knotted at the position `root` and spent at the position `tip`: each
/// thread runs inside it along the edge, and ties its own knot round those that go on.
fn bundled(
    position: usize,
    root: usize,
    tip: usize,
    lies_back: &[u32],
    gauge: &Gauge,
) -> (f64, f64) {
    let (from, to) = (root.min(position), root.max(position));
    let run = lies_back[from..=to]
        .windows(2)
        .map(|pair| {
            let rise = f64::from(pair[0].abs_diff(pair[1])) * gauge.half_row_mm;
            libm::hypot(gauge.column_mm, rise)
        })
        .sum();
    let inside = u16::try_from(position.abs_diff(tip)).expect("MAX_THREADS fits");
    let knot = match inside {
        0 => 0.0,
        _ => wraps_mm(bundle_mm(inside, gauge.thread_mm), gauge.thread_mm),
    };
    (run, knot)
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
pub(crate) fn ends_mm(band: &Band, habits: &Habits) -> f64 {
    let fan = band.gauge().width_mm(band.thread_count()) / 2.0;
    let of = |end: End, looped: bool| {
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
    of(band.start(), band.start().shape == Shape::Loop) + of(band.finish(), false)
}
