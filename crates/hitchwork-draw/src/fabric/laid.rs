//! Where everything of a band lies: each knot, and each stretch of thread that runs openly.

use hitchwork_core::fabric::{Fabric, Pass, Thread};

use super::style::{Along, COLUMN, Lie};
use crate::ink::PlanePoint;

/// A knot, as it is seen.
#[derive(Clone, Copy)]
pub(super) struct DrawnKnot {
    pub(super) colour: u16,
    pub(super) lie: Lie,
    pub(super) column: u16,
    pub(super) level: i32,
}

/// A thread that is seen running from one seam to another.
#[derive(Clone, Copy)]
pub(super) struct Open {
    pub(super) colour: u16,
    pub(super) along: Along,
    /// Its position, from 0.
    pub(super) position: u16,
    pub(super) from: i64,
    pub(super) to: i64,
}

impl Open {
    pub(super) fn half_rows(&self) -> i64 {
        self.to - self.from
    }

    /// Where it comes out from under its knot, where half rows are so high.
    pub(super) fn place(&self, half_row: f64) -> PlanePoint {
        #[expect(clippy::cast_precision_loss, reason = "MAX_KNOTS bounds the seams")]
        let seam = self.from as f64;
        (
            (f64::from(self.position) + 0.5) * COLUMN,
            (seam + 0.5) * half_row,
        )
    }
}

/// What has been laid so far.
pub(super) struct Layout {
    pub(super) threads: u16,
    /// In the order in which they are tied.
    pub(super) knots: Vec<DrawnKnot>,
    /// How many knots lie there at the end of each pass.
    pub(super) passes: Vec<usize>,
    pub(super) open: Vec<Open>,
    /// The levels and columns of the knots round the bundles of the ends.
    pub(super) bundle_knots: Vec<(i64, i64)>,
    /// For each position: the seam that its thread came out of, once it has been tied.
    left_at: Vec<Option<i64>>,
    /// For each position: the seam of its first knot.
    pub(super) first_seams: Vec<i64>,
    /// Only what lies in these half rows is laid, and from the first of them on.
    window: Option<(i64, i64)>,
}

impl Layout {
    pub(super) fn nothing(threads: u16, window: Option<(i64, i64)>) -> Self {
        Self {
            threads,
            knots: Vec::new(),
            passes: Vec::new(),
            open: Vec::new(),
            bundle_knots: Vec::new(),
            left_at: vec![None; usize::from(threads)],
            first_seams: vec![-1; usize::from(threads)],
            window,
        }
    }

    /// A whole band, but for its ends.
    pub(super) fn whole(fabric: &Fabric) -> Self {
        let mut laid = Self::nothing(fabric.thread_count(), None);
        for pass in fabric.passes() {
            laid.tie(pass, fabric);
        }
        laid
    }

    /// For each position: the seam of its last knot.
    pub(super) fn last_seams(&self) -> Vec<i64> {
        self.left_at.iter().map(|seam| seam.unwrap_or(-1)).collect()
    }

    /// Whether every thread that has been tied came out of its last knot below a seam.
    pub(super) fn is_all_past(&self, seam: i64) -> bool {
        self.left_at.iter().flatten().all(|last| *last > seam)
    }

    /// Whether something between two levels touches the window.
    fn shows(&self, from: i64, to: i64) -> bool {
        self.window
            .is_none_or(|(first, end)| to >= first - 2 && from <= end + 2)
    }

    /// A level, counted from the window.
    fn drawn(&self, level: i64) -> i64 {
        level - self.window.map_or(0, |(first, _)| first)
    }

    /// Ties one pass: its knots, and the open threads that lead to them.
    pub(super) fn tie(&mut self, pass: Pass<'_>, fabric: &Fabric) {
        let mut order: Vec<Thread> = pass.order_before().to_vec();
        for knot in pass.knots() {
            let level = i64::from(knot.level);
            let right = knot.column.number();
            for position in [right - 1, right] {
                let at = usize::from(position);
                match self.left_at[at].replace(level) {
                    Some(seam) if self.shows(seam, level) => {
                        let (from, to) = (self.drawn(seam), self.drawn(level) - 1);
                        self.run_openly(position, from, to, fabric.colour(order[at]));
                    }
                    Some(_) => {}
                    None => self.first_seams[at] = level - 1,
                }
            }
            if knot.kind.changes_places() {
                order.swap(usize::from(right) - 1, usize::from(right));
            }
            if self.shows(level, level) {
                self.knots.push(DrawnKnot {
                    colour: fabric.colour(knot.working),
                    lie: Lie::of(knot.kind),
                    column: right,
                    level: i32::try_from(self.drawn(level)).expect("MAX_KNOTS bounds the levels"),
                });
            }
        }
        self.passes.push(self.knots.len());
    }

    /// A thread runs openly from one seam to another, if that is any way at all.
    pub(super) fn run_openly(&mut self, position: u16, from: i64, to: i64, colour: u16) {
        if to <= from {
            return;
        }
        let along = match position {
            0 => Along::LeftEdge,
            at if at + 1 == self.threads => Along::RightEdge,
            _ => Along::Inside,
        };
        self.open.push(Open {
            colour,
            along,
            position,
            from,
            to,
        });
    }

    /// The levels and columns of all knots, those round bundles last.
    pub(super) fn places(&self) -> impl Iterator<Item = (i64, i64)> {
        let place = |knot: &DrawnKnot| (i64::from(knot.level), i64::from(knot.column));
        let knots = self.knots.iter().map(place);
        knots.chain(self.bundle_knots.iter().copied())
    }

    pub(super) fn by_level(&self) -> ByLevel {
        ByLevel::new(self.places().collect())
    }
}

/// The columns that are tied on every level.
pub(super) struct ByLevel {
    least: i64,
    /// Where each level's columns begin; one more for the end.
    starts: Vec<usize>,
    columns: Vec<i64>,
}

impl ByLevel {
    fn new(places: Vec<(i64, i64)>) -> Self {
        let least = places.iter().map(|place| place.0).min().unwrap_or(0);
        let most = places.iter().map(|place| place.0).max().unwrap_or(0);
        let index = |level: i64| usize::try_from(level - least).expect("not below the least");
        let mut starts = vec![0; index(most) + 2];
        for (level, _) in &places {
            starts[index(*level) + 1] += 1;
        }
        for at in 1..starts.len() {
            starts[at] += starts[at - 1];
        }
        let mut free = starts.clone();
        let mut columns = vec![0; places.len()];
        for (level, column) in places {
            let at = &mut free[index(level)];
            columns[*at] = column;
            *at += 1;
        }
        for ends in starts.windows(2) {
            columns[ends[0]..ends[1]].sort_unstable();
        }
        Self {
            least,
            starts,
            columns,
        }
    }

    fn at(&self, level: i64) -> &[i64] {
        usize::try_from(level - self.least)
            .ok()
            .and_then(|at| self.starts.get(at..at + 2))
            .map_or(&[], |ends| &self.columns[ends[0]..ends[1]])
    }

    fn tied(&self, level: i64, column: i64) -> bool {
        self.at(level).binary_search(&column).is_ok()
    }

    pub(super) fn iter(&self) -> impl Iterator<Item = (i64, &[i64])> {
        (self.least..)
            .take(self.starts.len() - 1)
            .map(|level| (level, self.at(level)))
    }

    /// Within a run of knots on a level: the corners, counted from the left edge, where
    /// four knots meet.
    pub(super) fn chinks(&self, level: i64, run: &[i64]) -> impl Iterator<Item = i64> {
        run.iter()
            .skip(1)
            .map(|column| column - 1)
            .filter(move |corner| self.tied(level - 1, *corner) && self.tied(level + 1, *corner))
    }
}

/// The runs of knots on one level that touch.
pub(super) fn runs(columns: &[i64]) -> impl Iterator<Item = &[i64]> {
    columns.chunk_by(|one, next| *next == one + 2)
}
