//! The easiest order in which a repeat can be tied.
//!
//! Knots that do not wait for each other may be tied in any order, and the fabric is the same
//! ([`normal_form`](crate::proof::normal_form)). Of all these orders a maker wants the one in
//! which the working thread changes least often, then the one in which a thread changes its kind
//! of knot least often, and then the one whose rows are most alike, and never to be far ahead at one side.
//!
//! A *run* is what one thread ties before another takes over. Knots in which the same thread
//! works wait for each other, so an order is told by how the runs follow each other, and what is
//! left open is only which knots of its thread a run takes.
//!
//! **A run takes as many as it can.** Let a knot be ready while its thread works, and be tied
//! later in some order. Tied at once, it adds no change of thread where it comes in; where it is
//! taken out, the knots before and after it meet, which is at most one change where there were
//! two or one where there was one. So no order with runs cut short has fewer changes than all that have
//! none. The same holds for changes of kind where the ready knot is of the kind tied last; where it
//! is not, both are tried.
//!
//! **Going round.** An order that comes again with every repeat is a circle in the graph whose
//! places say which knots are tied, less whole repeats, and whose ways are runs (`graph`). So the
//! seam of the repeat is free: it lies where the circle says. Bounds from value
//! iteration say how good any circle can be at most, and starts that cannot be better are never
//! tried (`circles`).

mod beam;
mod circles;
mod edge;
mod graph;
mod periodic;
mod windows;

use serde::Serialize;

use self::circles::{FoundCircle, best_circle, thread_changes_at_least};
use self::edge::HeapEdge;
use self::graph::{RunEnds, RunGraph, THREAD_CHANGE};
use self::periodic::PeriodicHeap;
use crate::band::{Band, BandParts, Part};
use crate::knot::Knot;
use crate::proof::KnotChanges;
use crate::row::Row;

/// All orders are looked at where there are no more states than this: those of every full fabric of 12
/// threads and 70 rows, or of 14 threads and 18 (our own judgement: a fraction of a second).
const MOST_STATES: usize = 40_000;
/// So many runs are looked at in search of the best circle (our own judgement: some tenths of a second).
const MOST_RUNS: u64 = 20_000_000;
/// Where there are more states, so many columns are read on the way at most (our own judgement).
const MOST_READ: usize = 20_000_000;
/// The most states of one number of knots that are kept then (our own judgement).
const MOST_KEPT: usize = 24;
/// Rows before and after the repeats are worth their reading where the changes of the working thread over
/// the whole band become less than this part of what they are without them (our own judgement).
const WORTH_ROWS_AROUND: (u64, u64) = (4, 5);

/// How often a hand has to think of something else while it ties one repeat in the middle of the
/// band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct WorkCount {
    /// How often two knots tied one after the other have different working threads.
    pub thread_changes: usize,
    /// How often the working thread or the kind of knot changes: in so many pieces a repeat is told.
    pub pieces: usize,
}

impl WorkCount {
    pub(crate) fn of(band: &Band) -> Self {
        let changes = KnotChanges::of(band);
        Self {
            thread_changes: changes.of_thread,
            pieces: changes.of_thread + changes.of_kind,
        }
    }
}

/// What it takes to tie a repeat as it is written, and in the easiest order that was found.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 0, 0, 1, 1, 1], repeat: vec![Row::run(Kind::Forward, [1, 5])?,
/// #         Row::run(Kind::Forward, [2, 4])?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: knots in columns 1 and 5, then in 2 and 4.
/// let tied = Tied::of(band);
/// let work = tied.work();
/// assert!(work.easiest.thread_changes <= work.as_written.thread_changes);
/// assert!(work.proved && work.least_thread_changes == work.easiest.thread_changes);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct RepeatWork {
    /// In the order of its rows.
    pub as_written: WorkCount,
    /// In the easiest order that was found; the same where none is easier.
    pub easiest: WorkCount,
    /// No order that is the same in every repeat has fewer changes of the working thread.
    pub least_thread_changes: usize,
    /// Whether the easiest order has so few.
    pub proved: bool,
}

/// A band with its rows in the easiest order; nothing where its own rows are as easy.
#[derive(Debug, Default)]
pub(crate) struct EasiestBand {
    pub(crate) easiest: Option<Band>,
    /// With the seam where the rule has it, where that is all but as easy and spares the rows that the
    /// easiest order needs before and after the repeats.
    pub(crate) handier: Option<Band>,
}

impl EasiestBand {
    fn alone(easiest: Band) -> Self {
        Self {
            easiest: Some(easiest),
            handier: None,
        }
    }

    pub(crate) fn mirrored(&self) -> Self {
        Self {
            easiest: self.easiest.as_ref().map(Band::mirrored),
            handier: self.handier.as_ref().map(Band::mirrored),
        }
    }
}

/// The easiest order, as runs.
struct FoundOrder {
    /// What is tied once before the repeats, up to where the seam lies.
    counts: Vec<i32>,
    runs: Vec<Vec<Knot>>,
}

/// How far ahead one may work at one side of a band when nobody says anything else: as many half
/// rows as it has columns. That far the first row of a plain slanted band takes its thread,
/// from one edge to the other, and every maker ties it and knows where it goes on (common
/// practice, no source). The rows as they are written may go further.
#[must_use]
pub fn usual_half_rows_ahead(band: &Band) -> u32 {
    u32::from(band.column_count())
}

/// Whether no thread ever leaves its place, and no two knots of a row have a thread in common: then each
/// row is told in one line, by its positions, where another order would take a line for every change of
/// thread.
pub(crate) fn is_a_line_a_row(band: &Band) -> bool {
    let is_a_line = |row: &Row| {
        let mut columns: Vec<u16> = row
            .knots()
            .iter()
            .map(|knot| knot.column().number())
            .collect();
        columns.sort_unstable();
        let stays = row.knots().iter().all(|knot| !knot.kind().changes_places());
        stays && columns.windows(2).all(|pair| pair[0] + 1 < pair[1])
    };
    band.repeat().iter().all(is_a_line)
}

/// What it takes to tie a band, and the band with its rows in the easiest order, each a run; nothing
/// where its own rows are as easy. The fabric is the same.
///
/// Lead-in and lead-out stay as they are, but for knots of the repeat that come before or after
/// the others where the seam lies elsewhere: those are their last and first rows then.
pub(crate) fn easiest(band: &Band, half_rows_ahead: Option<u32>) -> (RepeatWork, EasiestBand) {
    // Both hands tie in the same order: of a band and its mirror image one is looked at for both.
    let mirrored = band.mirrored();
    if mirrored.repeat() < band.repeat() {
        let (work, ordered) = of_this_hand(&mirrored, half_rows_ahead);
        return (work, ordered.mirrored());
    }
    of_this_hand(band, half_rows_ahead)
}

fn of_this_hand(band: &Band, half_rows_ahead: Option<u32>) -> (RepeatWork, EasiestBand) {
    let as_written = WorkCount::of(band);
    let kind_changes = as_written.pieces - as_written.thread_changes;
    let whole = |count: usize| i64::try_from(count).expect("MAX_KNOTS fits");
    let asked = whole(as_written.thread_changes) * THREAD_CHANGE + whole(kind_changes);
    let knots = band.repeat().iter().flat_map(Row::knots).copied();
    let knots: Vec<Knot> = knots.collect();
    let as_it_is = |least: usize| RepeatWork {
        as_written,
        easiest: as_written,
        least_thread_changes: least,
        proved: least == as_written.thread_changes,
    };
    // Where one thread ties all, its knots wait for each other, and there is no other order.
    let columns = usize::from(band.column_count());
    if as_written.thread_changes == 0 {
        return (as_it_is(0), EasiestBand::default());
    }
    if knots.len() * columns * columns > MOST_READ {
        return (as_it_is(0), EasiestBand::default());
    }
    let half_rows_ahead = half_rows_ahead.unwrap_or_else(|| usual_half_rows_ahead(band));
    let heap = PeriodicHeap::new(band.repeat(), band.thread_count(), half_rows_ahead);
    let with_its_seam = || {
        let width = (MOST_READ / (knots.len() * columns * columns)).clamp(1, MOST_KEPT);
        let counts = heap.nothing();
        let runs = beam::kept_few(&heap, &counts, &heap.later(&counts, 1), width);
        FoundOrder { counts, runs }
    };
    let (found, least) = match round(&heap, asked, band.repeats()) {
        Some((found, bound)) => (found, thread_changes_at_least(bound, knots.len())),
        None => {
            let least = windows::least_changes(&heap, MOST_STATES).max(beam::kept_apart(&knots));
            (Some(with_its_seam()), least)
        }
    };
    let changes = |count: WorkCount| (count.thread_changes, count.pieces);
    let easier_of = |found: FoundOrder| {
        let ordered = in_order(band, &heap, &found)?;
        (changes(WorkCount::of(&ordered)) < changes(as_written)).then_some(ordered)
    };
    let moved = |found: &FoundOrder| found.counts.iter().any(|count| *count > 0);
    let kept = found.as_ref().is_some_and(moved).then(with_its_seam);
    let (kept, easier) = (kept.and_then(easier_of), found.and_then(easier_of));
    // Where as few changes are found without rows around, those are the easiest.
    let as_few =
        |kept: &Band, easier: &Band| changes(WorkCount::of(kept)) <= changes(WorkCount::of(easier));
    let easiest = match (kept, easier) {
        (Some(kept), Some(easier)) if as_few(&kept, &easier) => EasiestBand::alone(kept),
        (Some(kept), Some(easier)) => EasiestBand {
            handier: is_handier(&kept, &easier).then_some(kept),
            easiest: Some(easier),
        },
        (_, Some(easier)) => EasiestBand::alone(easier),
        (_, None) => EasiestBand::default(),
    };
    let work = match &easiest.easiest {
        None => as_it_is(least),
        Some(easier) => {
            let easiest = WorkCount::of(easier);
            RepeatWork {
                easiest,
                proved: least == easiest.thread_changes,
                ..as_it_is(least)
            }
        }
    };
    (work, easiest)
}

/// Whether a band without rows around is tied more readily, though its thread changes more often: over
/// the whole band by less than a [fifth](WORTH_ROWS_AROUND).
fn is_handier(kept: &Band, easier: &Band) -> bool {
    let in_all = |band: &Band| {
        let around = band.rows(Part::LeadIn).len() + band.rows(Part::LeadOut).len();
        let repeats = u64::from(band.repeats());
        around as u64 + repeats * WorkCount::of(band).thread_changes as u64
    };
    in_all(easier) * WORTH_ROWS_AROUND.1 > in_all(kept) * WORTH_ROWS_AROUND.0
}

/// The best circle that is better than what was asked, and what no circle costs less than; nothing
/// where there are too many states.
fn round(heap: &PeriodicHeap, asked: i64, repeats: u32) -> Option<(Option<FoundOrder>, i64)> {
    let changes = |cost: i64| thread_changes_at_least(cost, heap.knots());
    let all = 0..heap.nothing().len();
    let graph = RunGraph::new(heap, MOST_STATES, RunEnds::Whole, &all)?;
    let found = circle(heap, &graph, asked, repeats);
    let order = order_of(heap, &graph, &found);
    if changes(found.bound) == changes(found.cost) {
        return Some((order, found.bound));
    }
    // The bound speaks of many repeats that may differ. Among all states every circle is there.
    let Some(graph) = RunGraph::new(heap, MOST_STATES, RunEnds::Anywhere, &all) else {
        return Some((order, found.bound));
    };
    let again = circle(heap, &graph, found.cost, repeats);
    let bound = match again.all_tried {
        true => again.cost,
        false => again.bound.max(found.bound),
    };
    Some((order_of(heap, &graph, &again).or(order), bound))
}

/// The best circle of a graph whose seam lies in the repeats that are tied.
fn circle(heap: &PeriodicHeap, graph: &RunGraph, asked: i64, repeats: u32) -> FoundCircle {
    let repeats = i32::try_from(repeats).expect("MAX_REPEATS fits");
    best_circle(graph, asked, MOST_RUNS, |counts| {
        let counts = seam(heap, counts);
        let tied = counts.iter().map(|count| i64::from(*count)).sum();
        (heap.repeats_begun(&counts) < repeats).then_some(tied)
    })
}

/// The runs of a circle, from where the fewest knots are to be tied before it.
fn order_of(heap: &PeriodicHeap, graph: &RunGraph, found: &FoundCircle) -> Option<FoundOrder> {
    let (start, ways) = found.best.as_ref()?;
    let mut tied = graph.counts(*start as usize).to_vec();
    let mut edge = HeapEdge::new(heap, &tied);
    let (mut seams, mut runs) = (Vec::new(), Vec::new());
    for way in ways {
        let counts = seam(heap, &tied);
        seams.push((counts.iter().sum::<i32>(), counts));
        edge.go_to(&tied);
        edge.run(way.column as usize, |counts, run| {
            let is_whole = run.len() == way.knots as usize;
            if is_whole {
                runs.push(run.to_vec());
                tied.copy_from_slice(counts);
            }
            is_whole
        });
    }
    let fewest = (0..seams.len()).min_by_key(|at| seams[*at].0)?;
    runs.rotate_left(fewest);
    let counts = seams.swap_remove(fewest).1;
    Some(FoundOrder { counts, runs })
}

/// How much is tied of the first repeats where the seam lies at this state: of all that are whole repeats
/// apart the first that has tied no less than nothing.
fn seam(heap: &PeriodicHeap, counts: &[i32]) -> Vec<i32> {
    let fewest = heap.whole_repeats(counts);
    heap.later(counts, -fewest)
}

/// The band with its repeat in this order. The seam lies in repeats that are begun before the first
/// is done, so that many fewer are tied whole, and what they lack comes after them.
fn in_order(band: &Band, heap: &PeriodicHeap, found: &FoundOrder) -> Option<Band> {
    let begun = heap.repeats_begun(&found.counts);
    let whole = i32::try_from(band.repeats()).ok()? - begun;
    let repeats = u32::try_from(whole).ok().filter(|repeats| *repeats > 0)?;
    // What is left after the whole ones is the same as if there were none.
    let all = heap.later(&heap.nothing(), begun);
    let rows = |runs: Vec<Vec<Knot>>| runs.into_iter().map(Row::new);
    let tied_once = |from: &[i32], to: &[i32]| rows(beam::kept_few(heap, from, to, MOST_KEPT));
    let before = tied_once(&heap.nothing(), &found.counts);
    let after = tied_once(&found.counts, &all);
    let parts = band.clone().into_parts();
    let ordered = Band::new(BandParts {
        lead_in: parts.lead_in.into_iter().chain(before).collect(),
        repeat: rows(found.runs.clone()).collect(),
        lead_out: after.chain(parts.lead_out).collect(),
        repeats,
        ..parts
    });
    // Only too many rows before or after could be wrong with it.
    ordered.ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::chance::{Chance, Purpose, RandomRows};

    /// What is looked at whole has no fewer changes than what is looked at a few columns at a time.
    #[test]
    fn bounds_from_windows_are_bounds() {
        for number in 0..6 {
            let prepared = RandomRows::new(13, 8).prepared().expect("a lattice");
            let mut chance = Chance::new(3, Purpose::Member { number });
            let rows = prepared.draw(&mut chance).expect("nothing is asked");
            let heap = PeriodicHeap::new(&rows, 13, 12);
            let (found, bound) = round(&heap, i64::MAX / 8, 100).expect("few states");
            let runs = found.expect("some order").runs.len();
            assert_eq!(thread_changes_at_least(bound, heap.knots()), runs);
            let windows = windows::least_changes(&heap, MOST_STATES);
            assert!(
                windows <= runs && 4 * windows >= 3 * runs,
                "{windows} of {runs}"
            );
        }
    }
}
