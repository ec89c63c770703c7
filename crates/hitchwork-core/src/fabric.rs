//! The simulator: what a band becomes when it is tied.
//!
//! Every repeat ties the same knots in the same columns; only the threads that hang
//! there differ. So each part of the band is traced once, from a natural order, and every
//! time it is tied after that is a look-up through the order that it starts from. The
//! levels are simulated until the shape of the growing edge comes again, and are
//! periodic from then on. A band with ten million knots costs no more memory than its
//! orders.

use std::collections::BTreeMap;

use crate::band::{Band, Part};
use crate::knot::{Column, Kind, Knot, Place};

/// A thread of the band, by its position at the start.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Thread(u16);

impl Thread {
    pub(crate) const fn from_index(index: u16) -> Self {
        Self(index)
    }

    /// The number that people use: 1 for the leftmost thread at the start.
    #[must_use]
    pub const fn number(self) -> u16 {
        self.0 + 1
    }

    pub(crate) const fn index(self) -> usize {
        self.0 as usize
    }
}

impl std::fmt::Display for Thread {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.number().fmt(f)
    }
}

/// A knot as it lies in the fabric.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct TiedKnot {
    /// The row of its part, from 1.
    pub row: u32,
    /// The column in which it lies.
    pub column: Column,
    /// The way it was tied.
    pub kind: Kind,
    /// How high it lies, in half rows from the first knots on; those are at 0.
    pub level: u32,
    /// The thread that wraps and shows.
    pub working: Thread,
    /// The thread inside.
    pub core: Thread,
}

/// What one part of a band does, from a natural order.
#[derive(Debug, Default)]
struct Trace {
    knots: Vec<TracedKnot>,
    /// For each position, the position from which the thread there came.
    came_from: Vec<u16>,
    /// For each row, how many knots have been tied when it ends.
    row_ends: Vec<usize>,
}

#[derive(Clone, Copy, Debug)]
struct TracedKnot {
    column: Column,
    kind: Kind,
    row: u32,
    working: u16,
    core: u16,
}

impl Trace {
    fn new(rows: &[crate::row::Row], threads: u16) -> Self {
        let mut order: Vec<u16> = (0..threads).collect();
        let mut trace = Self::default();
        for (row, number) in rows.iter().zip(1..) {
            for knot in row.knots() {
                let left = knot.column().index();
                let (working, core) = tie(&mut order, left, knot.kind());
                trace.knots.push(TracedKnot {
                    column: knot.column(),
                    kind: knot.kind(),
                    row: number,
                    working,
                    core,
                });
            }
            trace.row_ends.push(trace.knots.len());
        }
        trace.came_from = order;
        trace
    }
}

/// Ties one knot at the threads `left` and `left + 1` of the order, and gives the working
/// thread and the core.
pub(crate) fn tie(order: &mut [u16], left: usize, kind: Kind) -> (u16, u16) {
    let (a, b) = (order[left], order[left + 1]);
    match kind {
        Kind::Forward => {
            order.swap(left, left + 1);
            (a, b)
        }
        Kind::Backward => {
            order.swap(left, left + 1);
            (b, a)
        }
        Kind::ForwardBackward => (a, b),
        Kind::BackwardForward => (b, a),
    }
}

/// The growing edge: the level of the last knot in each column.
///
/// An empty column stands at -2, so that the first knot in it comes to lie at 0 and never
/// lifts a neighbour. One empty column more at either side spares the edges a question.
#[derive(Clone, Debug)]
pub(crate) struct GrowingEdge {
    last: Vec<i64>,
}

impl GrowingEdge {
    pub(crate) fn new(columns: u16) -> Self {
        Self {
            last: vec![-2; usize::from(columns) + 2],
        }
    }

    /// The level at which a knot in this column comes to lie. Neighbours overlap by half
    /// a knot, so a knot lies one half row above the last in a neighbouring column and
    /// two above the last in its own (a heap of pieces; Viennot 1986).
    pub(crate) fn tie(&mut self, column: Column) -> u32 {
        let at = usize::from(column.number());
        let level = (self.last[at] + 2)
            .max(self.last[at - 1] + 1)
            .max(self.last[at + 1] + 1);
        self.last[at] = level;
        u32::try_from(level).expect("levels start at 0 and MAX_KNOTS bounds them")
    }

    /// The level of the last knot in a column, if there is one.
    pub(crate) fn last(&self, column: Column) -> Option<i64> {
        Some(self.last[usize::from(column.number())]).filter(|level| *level >= 0)
    }

    /// The state of the edge as far as it matters for tying these columns again and
    /// again, relative to the level of the leftmost column of each connected run of
    /// columns; and those levels themselves.
    fn shape(&self, used: &[bool]) -> (Vec<i64>, Vec<i64>) {
        let (mut shape, mut bases) = (Vec::with_capacity(used.len()), Vec::new());
        let mut base = 0;
        for at in 1..self.last.len() - 1 {
            if !used[at] {
                continue;
            }
            if !used[at - 1] {
                base = self.last[at];
                bases.push(base);
            }
            shape.push(self.last[at] - base);
            for neighbour in [at - 1, at + 1] {
                if !used[neighbour] {
                    // A column that is not tied any more matters only while it stands
                    // higher than what the column itself demands.
                    shape.push((self.last[neighbour] - self.last[at]).max(1));
                }
            }
        }
        (shape, bases)
    }
}

/// The levels of one part over all the times that it is tied.
#[derive(Debug, Default)]
struct PartLevels {
    /// For each time until the edge's shape comes again: each knot's level.
    patterns: Vec<Vec<u32>>,
    /// From which of the patterns on they come again and again.
    recurs_from: usize,
    /// For each knot, what is added to its level each time they have come round.
    growth: Vec<u32>,
}

impl PartLevels {
    fn new(knots: &[TracedKnot], times: u32, edge: &mut GrowingEdge) -> Self {
        let mut used = vec![false; edge.last.len()];
        for knot in knots {
            used[usize::from(knot.column.number())] = true;
        }
        let mut seen = BTreeMap::new();
        let mut levels = Self {
            growth: vec![0; knots.len()],
            ..Self::default()
        };
        let mut all_bases: Vec<Vec<i64>> = Vec::new();
        for time in 0..times as usize {
            let (shape, bases) = edge.shape(&used);
            if let Some(&first) = seen.get(&shape) {
                levels.recurs_from = first;
                let growth = column_growth(&used, &all_bases[first], &bases);
                levels.growth = knots
                    .iter()
                    .map(|knot| growth[usize::from(knot.column.number())])
                    .collect();
                levels.advance(edge, &growth, knots, times);
                return levels;
            }
            seen.insert(shape, time);
            all_bases.push(bases);
            levels
                .patterns
                .push(knots.iter().map(|knot| edge.tie(knot.column)).collect());
        }
        levels
    }

    /// Moves the edge from the moment at which its shape has come again to the end.
    fn advance(&self, edge: &mut GrowingEdge, growth: &[u32], knots: &[TracedKnot], times: u32) {
        let period = self.patterns.len() - self.recurs_from;
        let left = times as usize - self.patterns.len();
        let rounds = i64::try_from(left / period).expect("MAX_REPEATS fits");
        for (last, growth) in edge.last.iter_mut().zip(growth) {
            *last += i64::from(*growth) * rounds;
        }
        for _ in 0..left % period {
            for knot in knots {
                edge.tie(knot.column);
            }
        }
    }

    /// The pattern for the given time, and how many rounds to add.
    fn at(&self, time: u32) -> (&[u32], u32) {
        if let Some(pattern) = self.patterns.get(time as usize) {
            return (pattern, 0);
        }
        let patterns = u32::try_from(self.patterns.len()).expect("MAX_REPEATS fits");
        let recurs_from = u32::try_from(self.recurs_from).expect("MAX_REPEATS fits");
        let (period, beyond) = (patterns - recurs_from, time - patterns);
        (
            &self.patterns[(recurs_from + beyond % period) as usize],
            beyond / period + 1,
        )
    }
}

/// For each column (by number), by how much it has grown between two times at which the
/// edge had the same shape, from the levels of each connected run of columns then.
fn column_growth(used: &[bool], before: &[i64], after: &[i64]) -> Vec<u32> {
    let mut growth = vec![0; used.len()];
    let mut run = 0;
    for at in (1..used.len()).filter(|at| used[*at]) {
        if !used[at - 1] {
            run += 1;
        }
        let grown = after[run - 1] - before[run - 1];
        growth[at] = u32::try_from(grown).expect("an edge only grows, and MAX_KNOTS bounds it");
    }
    growth
}

/// One part of a band with all the times that it is tied.
#[derive(Debug)]
struct Section {
    part: Part,
    rows: Vec<crate::row::Row>,
    trace: Trace,
    times: u32,
    levels: PartLevels,
    /// The orders from which the part is tied, one after another, until they come again.
    orders: Vec<Thread>,
    /// How many orders that is.
    distinct_orders: u32,
}

impl Section {
    fn new(band: &Band, part: Part, start: &[Thread], edge: &mut GrowingEdge) -> Self {
        let rows = band.rows(part).to_vec();
        let times = match part {
            Part::Repeat => band.repeats(),
            Part::LeadIn | Part::LeadOut => u32::from(!rows.is_empty()),
        };
        let trace = Trace::new(&rows, band.thread_count());
        let levels = PartLevels::new(&trace.knots, times, edge);
        let mut orders = start.to_vec();
        for time in 1..times as usize {
            let before = (time - 1) * start.len();
            let next: Vec<Thread> = trace
                .came_from
                .iter()
                .map(|&from| orders[before + usize::from(from)])
                .collect();
            if next == start {
                break;
            }
            orders.extend(next);
        }
        let distinct_orders = u32::try_from(orders.len() / start.len()).expect("MAX_REPEATS fits");
        Self {
            part,
            rows,
            trace,
            times,
            levels,
            orders,
            distinct_orders,
        }
    }

    fn passes(&self) -> impl Iterator<Item = Pass<'_>> + Clone {
        (0..self.times).map(move |time| Pass {
            section: self,
            time,
        })
    }

    fn order_before(&self, time: u32) -> &[Thread] {
        let threads = self.trace.came_from.len();
        let at = (time % self.distinct_orders) as usize * threads;
        &self.orders[at..at + threads]
    }

    fn order_after(&self, time: u32) -> Vec<Thread> {
        let before = self.order_before(time);
        self.trace
            .came_from
            .iter()
            .map(|&from| before[usize::from(from)])
            .collect()
    }
}

/// One tying of a lead-in, a repeat or a lead-out.
#[derive(Clone, Copy, Debug)]
pub struct Pass<'a> {
    section: &'a Section,
    time: u32,
}

impl<'a> Pass<'a> {
    /// The part that is tied.
    #[must_use]
    pub fn part(self) -> Part {
        self.section.part
    }

    /// Which tying of that part this is, from 1.
    #[must_use]
    pub fn number(self) -> u32 {
        self.time + 1
    }

    /// Which thread hangs at each position before the first knot.
    #[must_use]
    pub fn order_before(self) -> &'a [Thread] {
        self.section.order_before(self.time)
    }

    /// Which thread hangs at each position after the last knot.
    #[must_use]
    pub fn order_after(self) -> Vec<Thread> {
        self.section.order_after(self.time)
    }

    /// Column and level of each knot in tying order: less to look up than whole knots.
    pub(crate) fn places(self) -> impl Iterator<Item = (Column, u32)> + use<'a> {
        let (pattern, rounds) = self.section.levels.at(self.time);
        let levels = pattern.iter().zip(&self.section.levels.growth);
        let knots = self.section.trace.knots.iter().zip(levels);
        knots.map(move |(knot, (level, growth))| (knot.column, level + rounds * growth))
    }

    /// The knots in tying order.
    pub fn knots(self) -> impl ExactSizeIterator<Item = TiedKnot> + Clone + use<'a> {
        let order = self.order_before();
        let (pattern, rounds) = self.section.levels.at(self.time);
        let levels = pattern.iter().zip(&self.section.levels.growth);
        self.section
            .trace
            .knots
            .iter()
            .zip(levels)
            .map(move |(knot, (level, growth))| TiedKnot {
                row: knot.row,
                column: knot.column,
                kind: knot.kind,
                level: level + rounds * growth,
                working: order[usize::from(knot.working)],
                core: order[usize::from(knot.core)],
            })
    }

    /// The rows, each with its knots and the orders around it.
    #[must_use]
    pub fn rows(self) -> Vec<TiedRow> {
        let mut order = self.order_before().to_vec();
        let mut knots = self.knots();
        let mut start = 0;
        let row = |(&end, number): (&usize, u32)| {
            let order_before = order.clone();
            let knots: Vec<TiedKnot> = knots.by_ref().take(end - start).collect();
            start = end;
            for knot in knots.iter().filter(|knot| knot.kind.changes_places()) {
                order.swap(knot.column.index(), knot.column.index() + 1);
            }
            TiedRow {
                part: self.part(),
                pass: self.number(),
                row: number,
                knots,
                order_before,
                order_after: order.clone(),
            }
        };
        self.section
            .trace
            .row_ends
            .iter()
            .zip(1..)
            .map(row)
            .collect()
    }
}

/// A row as it was tied.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct TiedRow {
    /// The part that it belongs to.
    pub part: Part,
    /// Which tying of that part, from 1.
    pub pass: u32,
    /// Which row of that part, from 1.
    pub row: u32,
    /// Its knots in tying order.
    pub knots: Vec<TiedKnot>,
    /// Which thread hung at each position before it.
    pub order_before: Vec<Thread>,
    /// Which thread hangs at each position after it.
    pub order_after: Vec<Thread>,
}

/// A band as tied: every knot with its level and its two threads, and the order of the
/// threads after every row.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, fabric::Fabric, knot::Kind, row::Row};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 4,
/// #     ..BandParts::default() })?;
/// // `band`: three threads, four times the same slanted row.
/// let fabric = Fabric::of(&band);
/// let levels: Vec<u32> = fabric.knots().map(|knot| knot.level).collect();
/// assert_eq!(levels, [0, 1, 2, 3, 4, 5, 6, 7]);
/// let order: Vec<u16> = fabric.final_order().iter().map(|thread| thread.number()).collect();
/// assert_eq!(order, [2, 3, 1]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Debug)]
pub struct Fabric {
    sections: Vec<Section>,
    final_order: Vec<Thread>,
    edge: GrowingEdge,
    colours: Vec<u16>,
}

impl Fabric {
    /// Ties the band.
    #[must_use]
    pub fn of(band: &Band) -> Self {
        let mut edge = GrowingEdge::new(band.column_count());
        let mut order: Vec<Thread> = (0..band.thread_count()).map(Thread::from_index).collect();
        let mut sections = Vec::with_capacity(3);
        for part in [Part::LeadIn, Part::Repeat, Part::LeadOut] {
            if band.rows(part).is_empty() {
                continue;
            }
            let section = Section::new(band, part, &order, &mut edge);
            order = section.order_after(section.times - 1);
            sections.push(section);
        }
        Self {
            sections,
            final_order: order,
            edge,
            colours: band.thread_colours().to_vec(),
        }
    }

    /// The tyings of the band's parts, in order.
    pub fn passes(&self) -> impl Iterator<Item = Pass<'_>> + Clone {
        self.sections.iter().flat_map(Section::passes)
    }

    /// The first tying of the repeat.
    #[must_use]
    pub fn first_repeat(&self) -> Pass<'_> {
        let section = self
            .sections
            .iter()
            .find(|section| section.part == Part::Repeat);
        Pass {
            section: section.expect("every band has a repeat"),
            time: 0,
        }
    }

    /// How often the repeat is tied.
    pub(crate) fn repeats(&self) -> u32 {
        self.first_repeat().section.times
    }

    /// Of each part, in order, the tyings that are not as others before them: all until the shape
    /// of the growing edge comes again, and one more, which is tied upon that shape. And the last
    /// tying where it is none of those.
    pub(crate) fn own_passes(
        &self,
    ) -> impl Iterator<Item = (impl Iterator<Item = Pass<'_>>, Option<Pass<'_>>)> {
        self.sections.iter().map(|section| {
            let own = section.levels.patterns.len() + 1;
            let time = section.times - 1;
            let last = (time as usize >= own).then_some(Pass { section, time });
            (section.passes().take(own), last)
        })
    }

    /// The first tying of each part, in order.
    pub(crate) fn parts(&self) -> impl Iterator<Item = (Part, Pass<'_>)> {
        let first = |section| Pass { section, time: 0 };
        self.sections
            .iter()
            .map(move |section| (section.part, first(section)))
    }

    /// Every knot in tying order.
    pub fn knots(&self) -> impl Iterator<Item = TiedKnot> + Clone {
        self.passes().flat_map(Pass::knots)
    }

    /// Every row in tying order.
    pub fn rows(&self) -> impl Iterator<Item = TiedRow> {
        self.passes().flat_map(Pass::rows)
    }

    /// Which thread hangs at each position when all is tied.
    #[must_use]
    pub fn final_order(&self) -> &[Thread] {
        &self.final_order
    }

    /// The index in the palette of a thread's colour.
    #[must_use]
    pub fn colour(&self, thread: Thread) -> u16 {
        self.colours[thread.index()]
    }

    /// How many threads were tied.
    #[must_use]
    pub fn thread_count(&self) -> u16 {
        u16::try_from(self.colours.len()).expect("MAX_THREADS fits")
    }

    /// How many half rows the whole band is high: one more than the highest level, and
    /// one for the upper half of that knot.
    #[must_use]
    pub fn half_rows(&self) -> u32 {
        let top = self.edge.last.iter().max().copied().unwrap_or(-2);
        u32::try_from(top + 2).expect("MAX_KNOTS bounds the levels")
    }

    /// The level of the last knot in each column, from the left; nothing where a column
    /// has none.
    #[must_use]
    pub fn last_levels(&self) -> Vec<Option<u32>> {
        (1..self.thread_count())
            .filter_map(Column::new)
            .map(|column| {
                self.edge
                    .last(column)
                    .and_then(|level| u32::try_from(level).ok())
            })
            .collect()
    }

    /// The level of the first knot in each column, from the left; nothing where a column
    /// has none.
    #[must_use]
    pub fn first_levels(&self) -> Vec<Option<u32>> {
        let mut first = vec![None; self.colours.len() - 1];
        for section in &self.sections {
            let pass = Pass { section, time: 0 };
            for knot in pass.knots() {
                first[knot.column.index()].get_or_insert(knot.level);
            }
        }
        first
    }

    /// How many half rows the longest column is high, from the top of its first knot to the
    /// bottom of its last: the length of the band without its ends.
    #[must_use]
    pub fn longest_column(&self) -> u32 {
        let extents = self.first_levels().into_iter().zip(self.last_levels());
        extents
            .filter_map(|(first, last)| Some(last? - first? + 2))
            .max()
            .unwrap_or(0)
    }

    /// Where in a rule the `knot`-th knot (from 1) of a part's row (from 1) was made.
    #[must_use]
    pub fn place(&self, part: Part, row: u32, knot: usize) -> Option<Place> {
        let section = self.sections.iter().find(|section| section.part == part)?;
        let row = section
            .rows
            .get(usize::try_from(row).ok()?.checked_sub(1)?)?;
        row.knots()
            .get(knot.checked_sub(1)?)
            .copied()
            .and_then(Knot::place)
    }
}
