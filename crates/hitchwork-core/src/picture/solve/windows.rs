//! A bound for bands with too many orders: the positions are cut into windows, and each window
//! is solved as if whatever it liked came in over its edges.
//!
//! Knots inside different windows are different knots, so the fewest misses of all windows add
//! up to no more than the fewest misses of the band. Knots between two windows are not counted,
//! nor does it matter how many threads of a colour there are.

use super::PlannedKnot;
use super::meter::{SearchHalt, StepMeter};

/// The most orders that the colours in one window are allowed to have.
const MOST_IN_A_WINDOW: usize = 20_000;

/// What windows are made for.
#[derive(Clone, Copy)]
pub(super) struct WindowedBand<'a> {
    pub(super) colours: usize,
    pub(super) threads: usize,
    pub(super) knots: &'a [PlannedKnot],
    pub(super) memory_bytes: u64,
}

/// Neighbouring positions, with the fewest misses to come for all colours in them.
#[derive(Clone, Debug)]
struct PositionWindow {
    first: usize,
    width: usize,
    /// One list for each knot that changes something, the last knot's first.
    costs: Vec<Vec<u16>>,
    /// For each knot, which of the lists holds before it; one more for the finish.
    before: Vec<usize>,
}

/// Windows side by side, from the left edge to the right, and others over the edges between
/// them.
#[derive(Clone, Debug)]
pub(super) struct PositionWindows {
    colours: usize,
    side_by_side: Vec<PositionWindow>,
    over_edges: Vec<PositionWindow>,
}

/// How wide windows can be so that all their lists fit into so much memory.
fn width(colours: usize, threads: usize, knots: usize, memory_bytes: u64) -> usize {
    let fits = |width: u32| {
        let orders = colours.checked_pow(width)?;
        let lists = (4 * knots + 2 * threads) as u64;
        let bytes = lists.checked_mul(2 * orders as u64)?;
        (orders <= MOST_IN_A_WINDOW && bytes <= memory_bytes).then_some(())
    };
    let widest = (1..=14).take_while(|width| fits(*width).is_some()).last();
    widest.map_or(1, |width| width as usize).min(threads)
}

impl PositionWindows {
    /// The windows of a band that may end anyhow, or has to end with these colours.
    pub(super) fn new(
        band: WindowedBand<'_>,
        end: Option<&[u8]>,
        meter: &mut StepMeter<'_>,
    ) -> Result<Self, SearchHalt> {
        let WindowedBand {
            colours,
            threads,
            knots,
            memory_bytes,
        } = band;
        let count = threads.div_ceil(width(colours, threads, knots.len(), memory_bytes));
        let edges: Vec<usize> = (0..=count).map(|edge| edge * threads / count).collect();
        let middles = edges.windows(2).map(|edges| edges[0].midpoint(edges[1]));
        let mut over_edges = vec![0];
        over_edges.extend(middles.filter(|_| count > 1));
        over_edges.push(threads);
        over_edges.dedup();
        let mut between = |edges: &[usize]| -> Result<Vec<PositionWindow>, SearchHalt> {
            let window = |edges: &[usize]| {
                let end = end.map(|end| &end[edges[0]..edges[1]]);
                PositionWindow::new(edges[0], edges[1] - edges[0], band, end, meter)
            };
            edges.windows(2).map(window).collect()
        };
        Ok(Self {
            colours,
            side_by_side: between(&edges)?,
            over_edges: if count > 1 {
                between(&over_edges)?
            } else {
                Vec::new()
            },
        })
    }

    /// No band misses fewer knots, whatever hangs at its start.
    pub(super) fn least(&self) -> usize {
        let least = |window: &PositionWindow| window.before_knot(0).iter().min().copied();
        let sum = |windows: &[PositionWindow]| -> usize {
            windows.iter().filter_map(least).map(usize::from).sum()
        };
        sum(&self.side_by_side).max(sum(&self.over_edges))
    }

    /// How little promise it holds that these colours hang before this knot, after so many misses: by the misses
    /// that must follow in each window, on an average of those side by side and those over edges.
    pub(super) fn promise(&self, misses: usize, colours: &[u8], knot: usize) -> usize {
        let to_come = |window: &PositionWindow| {
            let inside = &colours[window.first..window.first + window.width];
            usize::from(window.before_knot(knot)[place(inside, self.colours)])
        };
        let all = self.side_by_side.iter().chain(&self.over_edges);
        let partitions = 1 + usize::from(!self.over_edges.is_empty());
        partitions * misses + all.map(to_come).sum::<usize>()
    }

    /// For each window, from left to right, all colours that can be in it with the fewest misses
    /// that follow.
    pub(super) fn at_start(&self) -> impl Iterator<Item = Vec<(Vec<u8>, usize)>> {
        self.side_by_side.iter().map(|window| {
            let costs = window.before_knot(0);
            let all = costs.iter().enumerate();
            all.map(|(place, cost)| {
                (
                    colours_at(place, window.width, self.colours),
                    usize::from(*cost),
                )
            })
            .collect()
        })
    }
}

impl PositionWindow {
    fn new(
        first: usize,
        width: usize,
        band: WindowedBand<'_>,
        end: Option<&[u8]>,
        meter: &mut StepMeter<'_>,
    ) -> Result<Self, SearchHalt> {
        let WindowedBand {
            colours,
            threads,
            knots,
            ..
        } = band;
        let orders = (0..width).fold(1, |orders, _| orders * colours);
        let finish = match end {
            None => vec![0; orders],
            Some(end) => {
                let mut finish = vec![u16::MAX; orders];
                finish[place(end, colours)] = 0;
                finish
            }
        };
        let mut window = Self {
            first,
            width,
            costs: vec![finish],
            before: vec![0; knots.len() + 1],
        };
        let last = first + width - 1;
        for (knot, (column, wanted)) in knots.iter().enumerate().rev() {
            let inside = (first..last).contains(column);
            let over_left_edge = column + 1 == first;
            let over_right_edge = *column == last && last + 1 < threads;
            if inside || over_left_edge || over_right_edge {
                meter.ask(orders as u64)?;
                let after = window.before_knot(knot + 1);
                window.costs.push(if inside {
                    tied(after, column - first, *wanted, width, colours)
                } else {
                    let position = if over_left_edge { 0 } else { width - 1 };
                    any_instead(after, position, width, colours)
                });
            }
            window.before[knot] = window.costs.len() - 1;
        }
        Ok(window)
    }

    fn before_knot(&self, knot: usize) -> &[u16] {
        &self.costs[self.before[knot]]
    }
}

/// Where the costs of colours in a window stand.
fn place(inside: &[u8], colours: usize) -> usize {
    inside
        .iter()
        .fold(0, |place, colour| place * colours + usize::from(*colour))
}

fn colours_at(place: usize, width: usize, colours: usize) -> Vec<u8> {
    let mut rest = place;
    let mut inside = vec![0; width];
    for colour in inside.iter_mut().rev() {
        *colour = u8::try_from(rest % colours).expect("a colour");
        rest /= colours;
    }
    inside
}

/// How far apart the places are of two words that differ by one at this position.
fn stride(position: usize, width: usize, colours: usize) -> usize {
    (position + 1..width).fold(1, |stride, _| stride * colours)
}

fn tied(after: &[u16], left: usize, wanted: Option<u8>, width: usize, colours: usize) -> Vec<u16> {
    let step = stride(left + 1, width, colours);
    let cost = |place: usize| {
        let (right, left) = (place / step % colours, place / step / colours % colours);
        let rest = place - step * (left * colours + right);
        let changed = rest + step * (right * colours + left);
        let shows = |wanted| [left, right].contains(&usize::from(wanted));
        after[place]
            .min(after[changed])
            .saturating_add(u16::from(!wanted.is_none_or(shows)))
    };
    (0..after.len()).map(cost).collect()
}

fn any_instead(after: &[u16], position: usize, width: usize, colours: usize) -> Vec<u16> {
    let step = stride(position, width, colours);
    let cost = |place: usize| {
        let rest = place - step * (place / step % colours);
        let others = (0..colours).map(|colour| after[rest + step * colour]);
        others.min().unwrap_or_default()
    };
    (0..after.len()).map(cost).collect()
}
