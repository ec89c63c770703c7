//! Everything that is proved about a band, in one value.

use std::collections::BTreeMap;

use serde::Serialize;

use super::{Code, Drift, Edges, Finding, Growth, Permutation, RulePlace, Severity, Where, growth};
use crate::band::{Band, Part};
use crate::craft::Shape;
use crate::fabric::Fabric;
use crate::knot::{Column, Place};
use crate::row::Row;

/// A thread floats when the band grows by more than this many half rows between two of
/// its knots.
const LONGEST_FLOAT_HALF_ROWS: u32 = 8;

/// Below this share of the knots of a closed fabric, a repeat leaves holes.
const OPEN_BELOW: f64 = 0.6;

/// The size of a band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Size {
    /// From edge to edge.
    pub width: f64,
    /// Along the columns, without ends and ties.
    pub length: f64,
}

/// What one thread does over the whole band.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ThreadUse {
    /// The thread, by its number at the start.
    pub thread: u16,
    /// The name of its colour.
    pub colour: String,
    /// In how many knots it wraps and shows.
    pub working_knots: u64,
    /// In how many knots it is inside.
    pub core_knots: u64,
}

/// What is proved about a band.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, proof::Report, row::Row};
/// # let four = [Srgb::new(9, 9, 99), Srgb::new(9, 99, 9), Srgb::new(99, 9, 9), Srgb::new(99, 99, 9)];
/// let stripe = Band::new(BandParts {
///     palette: Colour::spoken(four),
///     threads: vec![0, 1, 2, 3],
///     repeat: vec![Row::run(Kind::Forward, 1..4)?],
///     repeats: 8,
///     ..BandParts::default()
/// })?;
/// let report = Report::of(&stripe);
/// assert_eq!(report.repeats_to_close, 4);
/// assert_eq!(report.half_rows_per_repeat, 2.0);
/// assert_eq!(report.knots_by_column, [1, 1, 1]);
/// assert_eq!(report.drift.map(|drift| drift.steps_per_repeat), Some(1));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Report {
    /// What the band is called.
    pub title: String,
    /// How many threads it has.
    pub threads: u16,
    /// How many colours its threads have.
    pub colours: usize,
    /// How many rows a repeat has.
    pub rows_per_repeat: usize,
    /// How many knots a repeat has.
    pub knots_per_repeat: usize,
    /// How often the repeat is tied.
    pub repeats: u32,
    /// How many knots the whole band has.
    pub knots: u64,
    /// The numbers of the threads by position after one repeat from the natural order.
    pub order_after_repeat: Vec<u16>,
    /// The cycles in which a repeat moves the positions.
    pub cycles: Vec<Vec<u16>>,
    /// After how many repeats every thread is back in its place.
    pub repeats_to_close: u64,
    /// After how many repeats the colours are back in their order.
    pub colour_repeats_to_close: u64,
    /// How the colours drift, if they do.
    pub drift: Option<Drift>,
    /// By how many half rows a repeat makes the band longer, in the long run.
    pub half_rows_per_repeat: f64,
    /// The same as an exact fraction in words, such as "7/2".
    pub half_rows_per_repeat_exact: String,
    /// How many knots of a repeat lie in each column.
    pub knots_by_column: Vec<usize>,
    /// The shape of both edges, and the ends that suit them.
    pub edges: Edges,
    /// The size in millimetres.
    pub size_mm: Size,
    /// What each thread does.
    pub thread_use: Vec<ThreadUse>,
    /// What the maker should know, the gravest first.
    pub findings: Vec<Finding>,
}

impl Report {
    /// Ties the band and proves what there is to prove.
    #[must_use]
    pub fn of(band: &Band) -> Self {
        Self::of_fabric(band, &Fabric::of(band))
    }

    /// The same for a band that has been tied already.
    #[must_use]
    pub fn of_fabric(band: &Band, fabric: &Fabric) -> Self {
        let permutation = Permutation::of_repeat(band);
        let (steps, colours) = gradient_steps(band);
        let grown = growth(band.repeat(), band.thread_count());
        let edges = Edges::of(fabric);
        let threads = follow_threads(fabric);
        let mut report = Self {
            title: band.title().to_owned(),
            threads: band.thread_count(),
            colours,
            rows_per_repeat: band.repeat().len(),
            knots_per_repeat: band.repeat().iter().map(Row::len).sum(),
            repeats: band.repeats(),
            knots: band.knot_count(),
            order_after_repeat: permutation.order_after(),
            cycles: permutation.cycles(),
            repeats_to_close: permutation.order(),
            colour_repeats_to_close: permutation.colour_order(band.thread_colours()),
            drift: Drift::of(&permutation, &steps, colours),
            half_rows_per_repeat: grown.per_repeat(),
            half_rows_per_repeat_exact: grown.to_string(),
            knots_by_column: knots_by_column(band),
            edges,
            size_mm: size(band, fabric),
            thread_use: thread_use(band, &threads),
            findings: Vec::new(),
        };
        report.find(band, fabric, grown, &threads);
        report
    }

    /// The weight of the gravest finding.
    #[must_use]
    pub fn gravest(&self) -> Option<Severity> {
        self.findings.iter().map(|finding| finding.severity).max()
    }

    fn find(&mut self, band: &Band, fabric: &Fabric, grown: Growth, threads: &[Followed]) {
        self.find_splits();
        self.find_uneven_columns(band, grown);
        self.find_threads(band, fabric, threads);
        self.find_ends(band);
        self.findings
            .extend(super::alike::findings(band, fabric, self.drift.is_some()));
        let (closes, repeats) = (self.colour_repeats_to_close, u64::from(band.repeats()));
        if repeats < closes {
            let message =
                format!("the colours come round after {closes} repeats, and {repeats} are tied");
            let help = format!("tie {closes} repeats if the finish is to look like the start");
            self.findings.push(Finding::new(
                Code::StopsEarly,
                message,
                help,
                Where::default(),
            ));
        }
        self.findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    }

    fn find_splits(&mut self) {
        for (column, _) in (1..)
            .zip(&self.knots_by_column)
            .filter(|(_, knots)| **knots == 0)
        {
            let next = column + 1;
            let message = format!(
                "the band splits in two between positions {column} and {next}: no knot of the repeat ties them"
            );
            let help = format!("tie at least one knot of the repeat in column {column}");
            let place = Where {
                part: Some(Part::Repeat),
                column: Some(column),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::SplitsApart, message, help, place));
        }
    }

    #[allow(clippy::cast_precision_loss, reason = "shares of knots, not counts")]
    fn find_uneven_columns(&mut self, band: &Band, grown: Growth) {
        let knots = &self.knots_by_column;
        let (Some(&fewest), Some(&most)) = (knots.iter().min(), knots.iter().max()) else {
            return;
        };
        if fewest == 0 {
            return;
        }
        if most * 4 > fewest * 5 {
            let fullest = Column::new(column_with(knots, most)).expect("columns count from 1");
            let emptiest = column_with(knots, fewest);
            let message = format!(
                "column {fullest} gets {most} knots per repeat and column {emptiest} only {fewest}, so the band will pucker"
            );
            let help = "give every column about as many knots per repeat as the others";
            let made = band
                .repeat()
                .iter()
                .flat_map(Row::knots)
                .find(|knot| knot.column() == fullest);
            let place = Where {
                part: Some(Part::Repeat),
                column: Some(fullest.number()),
                rule: made.and_then(|knot| rule_place(band, knot.place())),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::UnevenColumns, message, help, place));
        }
        let closed = knots.len() as f64 * grown.per_repeat() / 2.0;
        let share = self.knots_per_repeat as f64 / closed;
        if share < OPEN_BELOW {
            let percent = (share * 100.0).round();
            let message =
                format!("the fabric is open: it has {percent} % of the knots that would fill it");
            let help = "let the rows follow each other along one slant, or tie every second column and then the others";
            let place = Where {
                part: Some(Part::Repeat),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::OpenGaps, message, help, place));
        }
    }

    fn find_threads(&mut self, band: &Band, fabric: &Fabric, threads: &[Followed]) {
        for (colour, (number, followed)) in band.colours().zip((1..).zip(threads)) {
            let name = &colour.name;
            if let Some(float) = followed
                .float
                .filter(|float| float.half_rows > LONGEST_FLOAT_HALF_ROWS)
            {
                let half_rows = float.half_rows;
                let (part, row, knot) = float.ends_at;
                let message = format!(
                    "thread {number}, {name}, lies loose for {half_rows} half rows before knot {knot} of row {row} of the {part}"
                );
                let help = "knot it in between, for instance with a turning knot where it should stay in its place";
                let place = Where {
                    part: Some(part),
                    row: Some(row),
                    knot: Some(knot),
                    thread: Some(number),
                    rule: rule_place(band, fabric.place(part, row, knot)),
                    ..Where::default()
                };
                self.findings
                    .push(Finding::new(Code::FloatingThread, message, help, place));
            }
            if followed.working == 0 {
                let message =
                    format!("thread {number}, {name}, never wraps, so its colour never shows");
                let help = "let it work in one of its knots, or leave it as a hidden carrier of any colour";
                let place = Where {
                    thread: Some(number),
                    ..Where::default()
                };
                self.findings
                    .push(Finding::new(Code::ColourNeverShows, message, help, place));
            }
        }
    }

    fn find_ends(&mut self, band: &Band) {
        let ends = [
            ("start", band.start().shape, self.edges.start.clone()),
            ("finish", band.finish().shape, self.edges.finish.clone()),
        ];
        for (name, shape, edge) in ends {
            if shape == Shape::Loop
                && let Some(message) = loop_without_pairs(band)
            {
                let help = "hang every colour on an even number of threads, or choose another end";
                self.findings.push(Finding::new(
                    Code::LoopNeedsPairs,
                    message,
                    help,
                    Where::default(),
                ));
            }
            if !edge.suits.contains(&shape) {
                let offered: Vec<&str> = edge.suits.iter().map(|shape| shape.name()).collect();
                let message = format!(
                    "the {name} edge {}, which a {} end does not fill",
                    edge.shape.words(),
                    shape.name()
                );
                let help = format!("this edge takes: {}", offered.join(", "));
                self.findings.push(Finding::new(
                    Code::EndDoesNotSuit,
                    message,
                    help,
                    Where::default(),
                ));
            }
        }
    }
}

fn column_with(knots: &[usize], wanted: usize) -> u16 {
    (1..)
        .zip(knots)
        .find(|(_, knots)| **knots == wanted)
        .map_or(1, |(column, _)| column)
}

pub(super) fn rule_place(band: &Band, place: Option<Place>) -> Option<RulePlace> {
    let place = place?;
    let file = band.sources().get(usize::from(place.source))?.clone();
    Some(RulePlace {
        file,
        line: place.line,
        character: place.character,
    })
}

fn loop_without_pairs(band: &Band) -> Option<String> {
    let threads = band.thread_count();
    if threads % 2 == 1 {
        return Some(format!(
            "a loop folds threads in half, which makes an even number, and this band has {threads}"
        ));
    }
    let mut counts = BTreeMap::<u16, usize>::new();
    for &colour in band.thread_colours() {
        *counts.entry(colour).or_default() += 1;
    }
    let (&odd, count) = counts.iter().find(|(_, count)| **count % 2 == 1)?;
    let name = &band.palette()[usize::from(odd)].name;
    Some(format!(
        "a loop folds threads in half, so each colour hangs on an even number of threads, and {name} hangs on {count}"
    ))
}

/// For each thread its step in the gradient: the palette's colours in order, without
/// those that no thread has. And how many steps there are.
fn gradient_steps(band: &Band) -> (Vec<usize>, usize) {
    let mut used: Vec<u16> = band.thread_colours().to_vec();
    used.sort_unstable();
    used.dedup();
    let step = |colour: &u16| {
        used.binary_search(colour)
            .expect("every colour of a thread is used")
    };
    (band.thread_colours().iter().map(step).collect(), used.len())
}

fn knots_by_column(band: &Band) -> Vec<usize> {
    let mut counts = vec![0; usize::from(band.column_count())];
    for knot in band.repeat().iter().flat_map(Row::knots) {
        counts[knot.column().index()] += 1;
    }
    counts
}

fn size(band: &Band, fabric: &Fabric) -> Size {
    let extents = fabric.first_levels().into_iter().zip(fabric.last_levels());
    let longest = extents
        .filter_map(|(first, last)| Some(last? - first? + 2))
        .max()
        .unwrap_or(0);
    let gauge = band.gauge();
    Size {
        width: tenths(gauge.width_mm(band.thread_count())),
        length: tenths(gauge.length_mm(f64::from(longest))),
    }
}

/// A tenth of a millimetre is more than anybody can measure on thread.
fn tenths(mm: f64) -> f64 {
    (mm * 10.0).round() / 10.0
}

/// What was seen on the way along one thread.
#[derive(Clone, Debug, Default)]
struct Followed {
    working: u64,
    core: u64,
    last_level: Option<u32>,
    float: Option<Float>,
}

#[derive(Clone, Copy, Debug)]
struct Float {
    half_rows: u32,
    ends_at: (Part, u32, usize),
}

impl Followed {
    fn meets(&mut self, level: u32, at: (Part, u32, usize)) {
        let half_rows = self.last_level.map_or(0, |last| level.saturating_sub(last));
        if self
            .float
            .is_none_or(|longest| half_rows > longest.half_rows)
        {
            self.float = Some(Float {
                half_rows,
                ends_at: at,
            });
        }
        self.last_level = Some(level);
    }
}

fn follow_threads(fabric: &Fabric) -> Vec<Followed> {
    let mut threads = vec![Followed::default(); usize::from(fabric.thread_count())];
    for pass in fabric.passes() {
        let (mut row, mut number) = (0, 0);
        for knot in pass.knots() {
            number = if knot.row == row { number + 1 } else { 1 };
            row = knot.row;
            let at = (pass.part(), row, number);
            for thread in [knot.working, knot.core] {
                threads[thread.index()].meets(knot.level, at);
            }
            threads[knot.working.index()].working += 1;
            threads[knot.core.index()].core += 1;
        }
    }
    threads
}

fn thread_use(band: &Band, threads: &[Followed]) -> Vec<ThreadUse> {
    let one =
        |((thread, followed), colour): ((u16, &Followed), &crate::colour::Colour)| ThreadUse {
            thread,
            colour: colour.name.clone(),
            working_knots: followed.working,
            core_knots: followed.core,
        };
    (1..).zip(threads).zip(band.colours()).map(one).collect()
}
