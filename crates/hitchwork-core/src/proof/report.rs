//! Everything that is proved about a band, in one value.

use std::collections::BTreeMap;

use serde::Serialize;

use super::drift::gradient_steps;
use super::permutation::at_first_repeat;
use super::{
    Code, Drift, Edges, Finding, Growth, Permutation, RulePlace, Severity, Symmetry, SymmetrySaid,
    Where, growth,
};
use crate::band::{Band, Part};
use crate::colour::Owned;
use crate::craft::{
    self, AtHand, CutList, Habits, Holds, Shape, Shopping, ThreadLength, Time, left_and_right,
    metres, metres_at_least,
};
use crate::fabric::Fabric;
use crate::knot::{Column, Side};
use crate::lay::{Lay, Unsolved};
use crate::row::Row;

/// A thread needs far more than the others from this many times the ordinary length on:
/// whoever cut all threads as long as the longest would throw a third away (our own
/// judgement).
const FAR_LONGER: f64 = 1.5;

/// No band is tied longer than this only so that its colours come round (our own judgement: a
/// belt).
const LONGEST_ROUND_MM: f64 = 1_200.0;

/// A band puckers where one column gets more knots than this many times another's (our own
/// judgement: firmer and looser pulling makes up for a knot in four).
const UNEVEN: (usize, usize) = (5, 4);

/// In a soft fabric a thread lies open where the way from knot to knot is longer than a knot by
/// more than this share of it (our own judgement: a leader that turns at an edge goes one knot, and
/// a finger slips under a little more).
const OPEN_KNOTS: f64 = 1.2;

/// A bend that takes the middle of the band aside by less than this share of its length is only
/// noted (our own judgement: worn round a wrist, nobody sees it).
const SLIGHT_BEND: f64 = 0.1;

/// A soft fabric puckers from so much energy for a knot on (our own judgement: courses that widen
/// into leader rows have a quarter of it and lie flat).
const PUCKERS: f64 = 0.06;

/// The most columns without a knot that are told one by one (our own judgement: more are not read).
const MOST_SPLITS: usize = 3;

/// The thickest cord that bracelets are knotted of, in millimetres: 4 mm, as parachute cord
/// has (common practice, no source).
const THICKEST_MM: f64 = 4.0;

/// The size of a band.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Size {
    /// From edge to edge; of a soft band that is not as wide everywhere, in the middle of all
    /// places.
    pub width: f64,
    /// From edge to edge where a soft band is widest, if that is more.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub widest: Option<f64>,
    /// Along the columns, without ends and ties; of a slanted band, along its edge.
    pub length: f64,
    /// By how much each repeat makes it longer, in the long run.
    pub repeat: f64,
    /// The length with both ends and their ties.
    pub total: f64,
}

/// What there is to measure on the finished band, for a swatch of your own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct ToMeasure {
    /// Its columns, measured over its whole width.
    pub columns: u16,
    /// Its half rows, measured along the column in which it is longest.
    pub half_rows: u32,
}

/// What one thread does over the whole band.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct ThreadUse {
    /// The thread, by its number at the start.
    pub thread: u16,
    /// The name of its colour.
    pub colour: String,
    /// In how many knots it wraps and shows.
    pub working_knots: u64,
    /// In how many knots it is inside.
    pub core_knots: u64,
    /// For how many half rows it lies loose at most, from one of its knots to the next.
    pub longest_float_half_rows: u32,
    /// How long to cut it: rows, ends, ties and handling, rounded up to a cutting step. At
    /// a loop start, its half of the folded piece.
    pub cut_mm: f64,
}

/// What is proved about a band, as its [`Tied`](crate::tied::Tied) says it.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let four = [Srgb::new(9, 9, 99), Srgb::new(9, 99, 9), Srgb::new(99, 9, 9), Srgb::new(99, 99, 9)];
/// let stripe = Band::new(BandParts {
///     palette: Colour::spoken(four),
///     threads: vec![0, 1, 2, 3],
///     repeat: vec![Row::run(Kind::Forward, 1..4)?],
///     repeats: 8,
///     ..BandParts::default()
/// })?;
/// let tied = Tied::of(stripe);
/// let report = tied.report();
/// assert_eq!(report.repeats_to_close, 4);
/// assert_eq!(report.half_rows_per_repeat, 2.0);
/// assert_eq!(report.knots_by_column, [1, 1, 1]);
/// assert_eq!(report.drift.map(|drift| drift.steps_per_repeat), Some(1));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
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
    /// The symmetry of the endless repeat: of its knots and of its colours.
    pub symmetry: SymmetrySaid,
    /// The size in millimetres.
    pub size_mm: Size,
    /// What to count when the finished band is measured as a
    /// [swatch](craft::Swatch): these columns are [as wide](Size::width) as the band, and
    /// these half rows [as long](Size::length).
    /// Nothing for a soft band, whose knots do not lie in columns and half rows.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub swatch: Option<ToMeasure>,
    /// What each thread does.
    pub thread_use: Vec<ThreadUse>,
    /// What to cut, colour by colour.
    pub cut_list: CutList,
    /// What to buy for a class, where somebody asked with
    /// [`Tied::for_class`](crate::tied::Tied::for_class).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub shopping: Option<Shopping>,
    /// What a stash has of each colour, where somebody asked with
    /// [`Tied::with_stash`](crate::tied::Tied::with_stash).
    #[serde(skip_serializing_if = "Option::is_none")]
    pub stash: Option<Vec<AtHand>>,
    /// How long it takes: every knot of rows and ends, the cutting and laying out, and the
    /// ties.
    pub minutes: f64,
    /// The same by what it is spent on, in minutes.
    #[serde(rename = "minutes_for")]
    pub time: Time,
    /// At how many seconds for a knot.
    pub seconds_per_knot: f64,
    /// What the maker should know, the gravest first.
    pub findings: Vec<Finding>,
}

impl Report {
    /// Proves what there is to prove of a band, from what it becomes and takes of thread.
    pub(crate) fn new(
        band: &Band,
        (fabric, lay): (&Fabric, &Lay),
        lengths: &[ThreadLength],
        cut_list: &CutList,
        habits: &Habits,
    ) -> Self {
        let permutation = Permutation::of_repeat(band);
        let (steps, colours) = gradient_steps(band);
        let grown = growth(band.repeat(), band.thread_count());
        let edges = Edges::of(fabric, lay);
        let threads = follow_threads(fabric, lay);
        let time = Time::of(band, habits);
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
            colour_repeats_to_close: permutation
                .colour_order(&at_first_repeat(band, &band.thread_values())),
            drift: Drift::of(&permutation, &steps, colours),
            half_rows_per_repeat: grown.per_repeat(),
            half_rows_per_repeat_exact: grown.to_string(),
            knots_by_column: knots_by_column(band),
            edges,
            symmetry: SymmetrySaid::from(&Symmetry::grown(band, grown)),
            size_mm: size(band, (fabric, lay), grown, habits),
            swatch: (!lay.is_solved()).then(|| to_measure(band, fabric)),
            thread_use: thread_use(band, &threads, cut_list),
            cut_list: cut_list.clone(),
            shopping: None,
            stash: None,
            minutes: time.minutes(),
            time,
            seconds_per_knot: tenths(habits.pace.seconds_per_knot()),
            findings: Vec::new(),
        };
        report.find(band, (fabric, lay), grown, &threads);
        report.find_lengths(lengths, habits);
        report
            .findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.severity));
        report
    }

    /// Compares the cut list with the threads of a stash for this many bands: says for every
    /// colour what is at hand, and adds a finding for each of which there is too little.
    pub(crate) fn compare_with_stash(&mut self, stash: &[Owned], bands: u32) {
        let there = craft::at_hand(&self.cut_list, stash, bands);
        for colour in &there {
            let Holds::Short { left_mm, by_mm, .. } = colour.holds else {
                continue;
            };
            let (needs, left) = (metres_at_least(colour.needs_mm), metres(left_mm));
            let by = metres_at_least(by_mm);
            let message = match colour.needs_mm > left_mm {
                true => format!(
                    "{} takes {needs} and the stash has {left}: short by {by}",
                    colour.colour
                ),
                false => format!(
                    "{} takes {needs} and the stash has {left}, but in lengths out of which not every piece can be cut whole: {by} of pieces are missing",
                    colour.colour
                ),
            };
            let help = "take a narrower or shorter band, or another colour for some of its threads";
            self.findings.push(Finding::new(
                Code::StashTooShort,
                message,
                help,
                Where::default(),
            ));
        }
        self.stash = Some(there);
        self.findings
            .sort_by_key(|finding| std::cmp::Reverse(finding.severity));
    }

    /// Threads that need far more than the others, and threads so long that they tangle.
    fn find_lengths(&mut self, lengths: &[ThreadLength], habits: &Habits) {
        let mut totals: Vec<f64> = lengths.iter().map(ThreadLength::total).collect();
        totals.sort_by(f64::total_cmp);
        let ordinary = totals[totals.len() / 2];
        let longer: Vec<(u16, f64)> = (1..)
            .zip(lengths.iter().map(|length| length.total() / ordinary))
            .filter(|(_, times)| *times > FAR_LONGER)
            .collect();
        let longest_first = |one: &(u16, f64), other: &(u16, f64)| other.1.total_cmp(&one.1);
        if let Some(&(longest, most)) = longer.iter().min_by(|a, b| longest_first(a, b)) {
            let least = longer.iter().map(|(_, times)| *times).fold(most, f64::min);
            let named = match longer.as_slice() {
                [_] => {
                    let colour = &self.thread_use[usize::from(longest) - 1].colour;
                    format!("thread {longest}, {colour}, needs")
                }
                many => {
                    let numbers: Vec<String> = many.iter().map(|(at, _)| at.to_string()).collect();
                    format!("threads {} need", numbers.join(", "))
                }
            };
            let (least, most) = (format!("{least:.1}"), format!("{most:.1}"));
            let times = match least == most {
                true => most,
                false => format!("{least} to {most}"),
            };
            let (why, instead) = self.why_longer(longest);
            let message = format!("{named} {times} times as much thread as most: {why}");
            let help = format!("cut each thread to its own length by the cut list, or {instead}");
            let place = Where {
                thread: Some(longest),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::FarLongerThread, message, &help, place));
        }
        let longest = self
            .thread_use
            .iter()
            .max_by(|a, b| a.cut_mm.total_cmp(&b.cut_mm).then(b.thread.cmp(&a.thread)));
        if let Some(uses) = longest.filter(|uses| uses.cut_mm > habits.tangles_mm) {
            let ThreadUse { thread, colour, .. } = uses;
            let message = format!(
                "thread {thread}, {colour}, is {} long and will tangle; threads of about {} or more do",
                metres(uses.cut_mm),
                metres(habits.tangles_mm)
            );
            let help = "wind the long threads into small butterflies, or tie a shorter band";
            let place = Where {
                thread: Some(*thread),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::Tangles, message, help, place));
        }
    }

    /// Why a thread needs so much more than most, and what would spare it that.
    fn why_longer(&self, thread: u16) -> (String, &'static str) {
        let middle = |count: fn(&ThreadUse) -> u64| {
            let mut counts: Vec<u64> = self.thread_use.iter().map(count).collect();
            counts.sort_unstable();
            counts[counts.len() / 2]
        };
        let all = |uses: &ThreadUse| uses.working_knots + uses.core_knots;
        let uses = &self.thread_use[usize::from(thread) - 1];
        let mostly = middle(|uses| uses.working_knots);
        if uses.working_knots as f64 > FAR_LONGER * mostly as f64 {
            let why = format!(
                "thread {thread} wraps in {} knots, the others mostly in {mostly}",
                uses.working_knots
            );
            return (why, "let more threads take turns at wrapping");
        }
        let why = format!(
            "thread {thread} runs through {} knots, the others mostly through {}",
            all(uses),
            middle(all)
        );
        (
            why,
            "let more threads take turns at running from edge to edge",
        )
    }

    /// The weight of the gravest finding.
    #[must_use]
    pub fn gravest(&self) -> Option<Severity> {
        self.findings.iter().map(|finding| finding.severity).max()
    }

    fn find(
        &mut self,
        band: &Band,
        (fabric, lay): (&Fabric, &Lay),
        grown: Growth,
        threads: &[Followed],
    ) {
        self.find_splits(band);
        self.find_how_it_lies(band, lay);
        self.find_open_threads(band, (fabric, lay), threads);
        self.find_hidden_threads(band, threads);
        self.find_thick_thread(band);
        self.find_ends(band);
        self.findings
            .extend(super::alike::findings(band, fabric, self.drift.is_some()));
        let (round, repeats) = (self.colour_repeats_to_close, u64::from(band.repeats()));
        if repeats < round {
            let are = if repeats == 1 { "is" } else { "are" };
            let message =
                format!("the colours come round after {round} repeats, and {repeats} {are} tied");
            #[allow(clippy::cast_precision_loss, reason = "a length, not a count")]
            let round_mm = repeat_mm(band, lay, grown) * round as f64;
            let help = match round_mm <= LONGEST_ROUND_MM {
                true => format!("tie {round} repeats if the finish is to look like the start"),
                false => "no band is long enough for the finish to look like the start: choose a length by how the band looks, or rows after which fewer threads have changed places".to_owned(),
            };
            self.findings.push(Finding::new(
                Code::StopsEarly,
                message,
                help,
                Where::default(),
            ));
        }
    }

    fn find_splits(&mut self, band: &Band) {
        let leads = [(Part::LeadIn, "lead-in"), (Part::LeadOut, "lead-out")];
        // The columns without a knot, by what ties them instead.
        let mut apart: BTreeMap<String, Vec<u16>> = BTreeMap::new();
        let columns = (1..).zip(&self.knots_by_column);
        for (column, _) in columns.filter(|(_, knots)| **knots == 0) {
            let tying = leads
                .iter()
                .filter(|(part, _)| ties(band.rows(*part), column));
            let tying: Vec<&str> = tying.map(|(_, name)| *name).collect();
            apart
                .entry(tying.join(" and the "))
                .or_default()
                .push(column);
        }
        let mut found: Vec<Finding> = Vec::new();
        for (tying, columns) in &apart {
            // Whoever leaves out many columns hears it once.
            let each = if columns.len() > MOST_SPLITS {
                columns.len()
            } else {
                1
            };
            found.extend(columns.chunks(each).map(|columns| split(tying, columns)));
        }
        found.sort_by_key(|finding| finding.place.column);
        self.findings.extend(found);
    }

    /// A band that bends or puckers, and one of which nobody can say how it will lie.
    fn find_how_it_lies(&mut self, band: &Band, lay: &Lay) {
        let said = lay.said();
        // Two threads that only tie each other, as beside a slit, are laid on the lattice rightly,
        // and the slit is said by itself.
        let has_slits = self.knots_by_column.contains(&0);
        if lay.unsolved() == Some(Unsolved::Crowded) && !has_slits {
            let message = format!(
                "{}: the threads between them lie open, and how the band will lie cannot be worked out; its size and picture are those of a stiff lattice",
                self.most_and_fewest()
            );
            let help = "spread the knots more evenly over the columns, or tie a short piece and measure it before you plan with these sizes";
            let place = Where {
                part: Some(Part::Repeat),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::OpenGaps, message, help, place));
        } else if !said.settled && lay.unsolved() != Some(Unsolved::Crowded) {
            let message = match lay.unsolved() {
                Some(_) => {
                    "the knots do not lie as in a full slanted or straight fabric, and there are too many to work out how they do: its size and picture are rough, and may be far too long"
                }
                None => {
                    "how this band lies could not be worked out to the end: its size and picture are rough"
                }
            };
            let help = "tie a short piece and measure it before you plan with these sizes";
            self.findings.push(Finding::new(
                Code::RoughSize,
                message.to_owned(),
                help,
                Where::default(),
            ));
        }
        if let Some(bend) = lay.bend() {
            let (towards, longer) = match bend.towards {
                Side::Left => ("left", "right"),
                Side::Right => ("right", "left"),
            };
            let (radius_mm, repeat_mm) = (bend.radius_mm, self.size_mm.repeat);
            let by_mm = repeat_mm * self.size_mm.width / radius_mm;
            let message = format!(
                "the band bends to the {towards} by itself, round a circle of {:.1} cm across: each repeat makes its {longer} edge {by_mm:.1} mm longer than its {towards} one",
                radius_mm / 5.0
            );
            let help = format!(
                "tie more rows at the {towards} edge or fewer at the {longer} one, or let every second repeat be the mirror image"
            );
            let place = Where {
                part: Some(Part::Repeat),
                ..Where::default()
            };
            // An arc of this length rises over its chord by an eighth of its square over the radius.
            let aside = self.size_mm.length / (8.0 * radius_mm);
            let finding = Finding::new(Code::Bends, message, help, place);
            self.findings.push(match aside < SLIGHT_BEND {
                true => finding.of_severity(Severity::Note),
                false => finding,
            });
        } else if said.energy_per_knot > PUCKERS {
            self.find_uneven_columns(band);
        }
    }

    /// "column 1 gets 7 knots per repeat and column 2 only 1".
    fn most_and_fewest(&self) -> String {
        let knots = &self.knots_by_column;
        let most = knots.iter().max().copied().unwrap_or(0);
        let fewest = knots.iter().min().copied().unwrap_or(0);
        let (fullest, emptiest) = (column_with(knots, most), column_with(knots, fewest));
        if most == fewest {
            return "before or after the repeats some columns get many more knots than those beside them".to_owned();
        }
        let knots = if most == 1 { "knot" } else { "knots" };
        format!(
            "column {fullest} gets {most} {knots} per repeat and column {emptiest} only {fewest}"
        )
    }

    fn find_uneven_columns(&mut self, band: &Band) {
        let knots = &self.knots_by_column;
        let (Some(&fewest), Some(&most)) = (knots.iter().min(), knots.iter().max()) else {
            return;
        };
        if fewest == 0 {
            return;
        }
        if most * UNEVEN.1 > fewest * UNEVEN.0 {
            let fullest = Column::new(column_with(knots, most)).expect("columns count from 1");
            let message = format!("{}, so the band will pucker", self.most_and_fewest());
            let help = "give every column about as many knots per repeat as the others";
            let made = band
                .repeat()
                .iter()
                .flat_map(Row::knots)
                .find(|knot| knot.column() == fullest);
            let place = Where {
                part: Some(Part::Repeat),
                column: Some(fullest.number()),
                rule: made.and_then(|knot| RulePlace::of(band, knot.place())),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::UnevenColumns, message, help, place));
        }
    }

    /// Threads that lie open in a soft fabric.
    fn find_open_threads(
        &mut self,
        band: &Band,
        (fabric, lay): (&Fabric, &Lay),
        threads: &[Followed],
    ) {
        let knot_mm = lay.gauge().knot_mm();
        for (number, followed) in (1..).zip(threads) {
            let Some(OpenThread { open_mm, ends_at }) = followed.open else {
                continue;
            };
            let (name, knots) = (
                &self.thread_use[usize::from(number) - 1].colour,
                open_mm / knot_mm,
            );
            let (part, row, knot) = ends_at;
            let message = format!(
                "thread {number}, {name}, lies open for {open_mm:.1} mm ({knots:.1} knots) before knot {knot} of row {row} of the {part}"
            );
            let help = "knot it in between, for instance with a turning knot where it should stay in its place";
            let place = Where {
                part: Some(part),
                row: Some(row),
                knot: Some(knot),
                thread: Some(number),
                rule: RulePlace::of(band, fabric.place(part, row, knot)),
                ..Where::default()
            };
            self.findings
                .push(Finding::new(Code::FloatingThread, message, help, place));
        }
    }

    fn find_hidden_threads(&mut self, band: &Band, threads: &[Followed]) {
        for (colour, (number, followed)) in band.colours().zip((1..).zip(threads)) {
            if followed.working == 0 {
                self.find_hidden(number, &colour.name, followed.at_an_edge);
            }
        }
    }

    fn find_thick_thread(&mut self, band: &Band) {
        let thread_mm = band.gauge().thread_mm;
        if thread_mm <= THICKEST_MM {
            return;
        }
        let message = format!(
            "the thread is {thread_mm:.1} mm across, thicker than any cord that bracelets are knotted of, and the band {:.1} cm wide",
            self.size_mm.width / 10.0
        );
        let help = "measure the thread in millimetres; how many threads there are is said by a setting of the rule";
        self.findings.push(Finding::new(
            Code::ThickThread,
            message,
            help,
            Where::default(),
        ));
    }

    /// A thread that never wraps. Inside it is hidden; at an edge it turns from knot to knot
    /// round the outside, in loops that everybody sees.
    fn find_hidden(&mut self, number: u16, name: &str, at_an_edge: bool) {
        let (code, message, help) = if at_an_edge {
            (
                Code::ColourOnlyInEdge,
                format!("thread {number}, {name}, never wraps: its colour shows only in the edge"),
                "keep its colour, since it borders the band, or make it the working thread in one of its knots",
            )
        } else {
            (
                Code::ColourNeverShows,
                format!("thread {number}, {name}, never wraps, so its colour never shows"),
                "make it the working thread in one of its knots, or leave it hidden, in any colour",
            )
        };
        let place = Where {
            thread: Some(number),
            ..Where::default()
        };
        self.findings.push(Finding::new(code, message, help, place));
    }

    fn find_ends(&mut self, band: &Band) {
        let ends = [
            ("start", band.start().shape, self.edges.start.clone()),
            ("finish", band.finish().shape, self.edges.finish.clone()),
        ];
        for (name, shape, edge) in ends {
            // At the finish nothing is folded: the tails only pass through the loop of the start.
            if shape == Shape::Loop
                && name == "start"
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
                let can_fold = name == "start" && loop_without_pairs(band).is_none();
                let offered = edge.suits.iter();
                let offered = offered.filter(|shape| can_fold || **shape != Shape::Loop);
                let offered: Vec<&str> = offered.map(|shape| shape.name()).collect();
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

fn loop_without_pairs(band: &Band) -> Option<String> {
    let threads = band.thread_count();
    if threads % 2 == 1 {
        return Some(format!(
            "a loop folds threads in half, which makes an even number, and this band has {threads}"
        ));
    }
    let mut counts = BTreeMap::<u16, usize>::new();
    for colour in band.thread_values() {
        *counts.entry(colour).or_default() += 1;
    }
    let (&odd, count) = counts.iter().find(|(_, count)| **count % 2 == 1)?;
    let name = &band.palette()[usize::from(odd)].name;
    Some(format!(
        "a loop folds threads in half, so each colour hangs on an even number of threads, and {name} hangs on {count}"
    ))
}

/// Whether some knot of these rows lies in the column of that number.
fn ties(rows: &[Row], column: u16) -> bool {
    rows.iter()
        .flat_map(Row::knots)
        .any(|knot| knot.column().number() == column)
}

fn knots_by_column(band: &Band) -> Vec<usize> {
    let mut counts = vec![0; usize::from(band.column_count())];
    for knot in band.repeat().iter().flat_map(Row::knots) {
        counts[knot.column().index()] += 1;
    }
    counts
}

fn to_measure(band: &Band, fabric: &Fabric) -> ToMeasure {
    ToMeasure {
        columns: band.column_count(),
        half_rows: fabric.longest_column(),
    }
}

fn size(band: &Band, (fabric, lay): (&Fabric, &Lay), grown: Growth, habits: &Habits) -> Size {
    let gauge = band.gauge();
    let (width, length) = match lay.is_solved() {
        true => (lay.median_width_mm(), lay.length_mm()),
        false => (
            gauge.width_mm(band.thread_count()),
            gauge.length_mm(f64::from(fabric.longest_column())),
        ),
    };
    let widest = lay.is_solved().then(|| tenths(lay.greatest_width_mm()));
    Size {
        width: tenths(width),
        widest: widest.filter(|widest| *widest > tenths(width)),
        length: tenths(length),
        repeat: tenths(repeat_mm(band, lay, grown)),
        total: tenths(length + craft::ends_mm(band, fabric, lay, habits)),
    }
}

/// By how much each repeat makes the band longer, in the long run.
fn repeat_mm(band: &Band, lay: &Lay, grown: Growth) -> f64 {
    let lattice = || band.gauge().length_mm(grown.per_repeat());
    lay.repeat_mm().unwrap_or_else(lattice)
}

/// A tenth of a millimetre, or of a second, is more than anybody can measure on thread.
fn tenths(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}

/// What was seen on the way along one thread.
#[derive(Clone, Debug, Default)]
struct Followed {
    working: u64,
    core: u64,
    last_level: Option<u32>,
    longest_float: u32,
    open: Option<OpenThread>,
    /// Whether it hangs at the edge now.
    outermost: bool,
    /// Whether it turned at an edge, from one knot there to the next.
    at_an_edge: bool,
}

/// A stretch of thread that lies open in a soft fabric.
#[derive(Clone, Copy, Debug)]
struct OpenThread {
    open_mm: f64,
    /// The knot before which it does.
    ends_at: (Part, u32, usize),
}

impl Followed {
    /// The next of its knots, after so many loose half rows.
    fn meets(&mut self, level: u32, half_rows: u32, outermost: bool) {
        self.at_an_edge |= self.outermost;
        self.outermost = outermost;
        self.longest_float = self.longest_float.max(half_rows);
        self.last_level = Some(level);
    }

    /// It lies open for so long.
    fn opens(&mut self, found: OpenThread) {
        let open = self.open.get_or_insert(found);
        if found.open_mm > open.open_mm {
            *open = found;
        }
    }
}

fn follow_threads(fabric: &Fabric, lay: &Lay) -> Vec<Followed> {
    let count = fabric.thread_count();
    let mut threads = vec![Followed::default(); usize::from(count)];
    let gauge = lay.gauge();
    let mut soft = lay.is_solved().then(|| lay.frames(fabric));
    for pass in fabric.passes() {
        let (mut row, mut number) = (0, 0);
        for knot in pass.knots() {
            number = if knot.row == row { number + 1 } else { 1 };
            row = knot.row;
            let stretches = soft.as_mut().and_then(Iterator::next).map(|(_, open)| open);
            let worker_ends_left =
                (knot.kind.working_side() == Side::Left) != knot.kind.changes_places();
            let column = knot.column.number();
            for (side, thread) in left_and_right(&knot).into_iter().enumerate() {
                let followed = &mut threads[thread.index()];
                let ends_left = (thread == knot.working) == worker_ends_left;
                let outermost = if ends_left {
                    column == 1
                } else {
                    column + 1 == count
                };
                let on_lattice = |last: u32| knot.level.saturating_sub(last);
                let half_rows = match (followed.last_level, stretches) {
                    (None, _) => 0,
                    (Some(last), None) => on_lattice(last),
                    // Knots that touch lie one half row apart.
                    (_, Some(open)) => 1 + open[side].map_or(0, |open| open.half_rows(gauge)),
                };
                if let Some(open) = stretches.and_then(|open| open[side])
                    && open.straight_mm() > OPEN_KNOTS * gauge.knot_mm()
                {
                    followed.opens(OpenThread {
                        open_mm: open.straight_mm(),
                        ends_at: (pass.part(), row, number),
                    });
                }
                followed.meets(knot.level, half_rows, outermost);
            }
            threads[knot.working.index()].working += 1;
            threads[knot.core.index()].core += 1;
        }
    }
    threads
}

fn thread_use(band: &Band, threads: &[Followed], cut_list: &CutList) -> Vec<ThreadUse> {
    (1..)
        .zip(threads)
        .zip(band.colours())
        .zip(&cut_list.thread_mm)
        .map(|(((thread, followed), colour), cut_mm)| ThreadUse {
            thread,
            colour: colour.name.clone(),
            working_knots: followed.working,
            core_knots: followed.core,
            longest_float_half_rows: followed.longest_float,
            cut_mm: *cut_mm,
        })
        .collect()
}

/// These columns have no knot in the repeat, only in these parts.
fn split(tying: &str, columns: &[u16]) -> Finding {
    let column = columns[0];
    let place = Where {
        part: Some(Part::Repeat),
        column: Some(column),
        ..Where::default()
    };
    let (between, pieces, tie) = match columns {
        [_] => (
            format!("between positions {column} and {}", column + 1),
            "in two".to_owned(),
            format!("tie at least one knot of the repeat in column {column}"),
        ),
        many => (
            format!(
                "in {} of its columns ({})",
                many.len(),
                stretches_in_words(many)
            ),
            format!("into {}", many.len() + 1),
            "tie at least one knot of the repeat in each of these columns".to_owned(),
        ),
    };
    let (code, message, help) = match tying {
        "" => (
            Code::SplitsApart,
            format!("the band splits {pieces} {between}: no knot of the repeat ties them"),
            tie,
        ),
        tying => (
            Code::Slit,
            format!("the repeat leaves a slit {between}: only the {tying} ties them"),
            format!("{tie}, unless the slit is meant"),
        ),
    };
    Finding::new(code, message, help, place)
}

/// Columns as stretches of them: "3 to 199"; of many stretches the first.
fn stretches_in_words(columns: &[u16]) -> String {
    let stretches = columns.chunk_by(|one, next| one + 1 == *next);
    let words = |stretch: &[u16]| match stretch {
        [only] => only.to_string(),
        many => format!("{} to {}", many[0], many[many.len() - 1]),
    };
    let mut words: Vec<String> = stretches.map(words).collect();
    if words.len() > MOST_SPLITS {
        words.truncate(MOST_SPLITS);
        words.push("others".to_owned());
    }
    words.join(", ")
}
