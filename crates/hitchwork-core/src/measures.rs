//! What is known of a band, by names: one table, which conditions, searches, plans, tables and
//! comparisons of a rule read.

use serde::Serialize;

use crate::band::Band;
use crate::colour::{self, Srgb};
use crate::proof::permutation::at_first_repeat;
use crate::proof::{EdgeShape, Frieze, Severity};
use crate::tied::Tied;

/// A measure's value. As data it is the number, the yes or no, or the word itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum MeasureValue {
    /// A count.
    Whole(i64),
    /// A measure.
    Number(f64),
    /// Yes or no.
    Flag(bool),
    /// A word.
    Text(&'static str),
}

/// One of the things that are known of every band.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Measure {
    /// The name by which conditions and tables call it.
    pub name: &'static str,
    /// What it is counted or measured in; empty for what is not a number: a yes or no, a word.
    pub unit: &'static str,
    /// What it is, with its unit.
    pub sentence: &'static str,
    /// What it can be, for those that are words.
    pub words: &'static [&'static str],
    /// What stands for it where a band has no such thing.
    without: Option<MeasureValue>,
    read: fn(&Tied) -> MeasureValue,
}

impl MeasureValue {
    /// The number that it is; nothing for a yes, a no or a word.
    #[must_use]
    #[allow(
        clippy::cast_precision_loss,
        reason = "MAX_KNOTS is far below what a float counts exactly"
    )]
    pub const fn number(self) -> Option<f64> {
        match self {
            Self::Whole(whole) => Some(whole as f64),
            Self::Number(number) => Some(number),
            Self::Flag(_) | Self::Text(_) => None,
        }
    }
}

impl Measure {
    /// Its value for a band.
    #[must_use]
    pub fn of(&self, tied: &Tied) -> MeasureValue {
        (self.read)(tied)
    }

    /// Its value for a band that has such a thing; nothing where only a sign would stand for
    /// it, such as -1 where the colours come round too late to look.
    #[must_use]
    pub fn known(&self, tied: &Tied) -> Option<MeasureValue> {
        Some(self.of(tied)).filter(|value| self.without != Some(*value))
    }

    /// Whether it is a number for every band, so that it can be bounded.
    #[must_use]
    pub fn is_number(&self) -> bool {
        !self.unit.is_empty()
    }

    /// The measure of that name.
    ///
    /// ```
    /// use hitchwork_core::measures::Measure;
    /// assert_eq!(Measure::named("minutes").map(|measure| measure.sentence), Some("how many minutes it takes"));
    /// assert!(Measure::named("glitter").is_none());
    /// ```
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        MEASURES.iter().find(|measure| measure.name == name)
    }
}

/// The measures of a band. Each is found when it is asked for, so that a condition on the
/// order of the threads does not wait for the proofs.
impl Tied {
    /// The value of the measure of that name.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::{craft::{Habits, Pace}, measures::MeasureValue, tied::Tied};
    /// # let stripe = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 100,
    /// #     ..BandParts::default() })?;
    /// let tied = Tied::by(stripe, Habits { pace: Pace::QUICK, ..Habits::default() });
    /// assert_eq!(tied.measure("repeats_to_close"), Some(MeasureValue::Whole(4)));
    /// assert_eq!(tied.measure("knot_symmetry"), Some(MeasureValue::Text("half turns")));
    /// // 300 knots of 5 seconds, 4 threads to lay out, two ties: 25 + 1.6 + 6 minutes.
    /// assert_eq!(tied.measure("minutes"), Some(MeasureValue::Number(33.0)));
    /// assert_eq!(tied.measure("glitter"), None);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn measure(&self, name: &str) -> Option<MeasureValue> {
        Measure::named(name).map(|measure| measure.of(self))
    }

    /// All measures, with their values.
    pub fn measures(&self) -> impl Iterator<Item = (&'static Measure, MeasureValue)> + '_ {
        MEASURES.iter().map(|measure| (measure, measure.of(self)))
    }
}

/// A measure that is a word, as people read it in a table: a symmetry is followed by its symbol.
///
/// ```
/// use hitchwork_core::measures::in_full;
/// assert_eq!(in_full("half turns"), "half turns (p2)");
/// assert_eq!(in_full("level"), "level");
/// ```
#[must_use]
pub fn in_full(word: &str) -> String {
    Frieze::named(word).map_or(word.to_owned(), |symmetry| symmetry.to_string())
}

fn findings(tied: &Tied, severity: Severity) -> MeasureValue {
    let findings = tied.report().findings.iter();
    whole(
        findings
            .filter(|finding| finding.severity == severity)
            .count() as u64,
    )
}

/// The largest difference between neighbours of the gradient: the colours in palette
/// order, the last followed by the first.
fn gradient_step(band: &Band) -> Option<f64> {
    let used = band.used_colours();
    if used.len() < 3 {
        return None;
    }
    let colours: Vec<Srgb> = used
        .iter()
        .map(|index| band.palette()[usize::from(*index)].srgb)
        .collect();
    let next = colours.iter().cycle().skip(1);
    let widest = colours
        .iter()
        .zip(next)
        .map(|(one, other)| colour::difference(*one, *other))
        .fold(0.0, f64::max);
    Some((widest * 10.0).round() / 10.0)
}

fn whole(count: u64) -> MeasureValue {
    MeasureValue::Whole(i64::try_from(count).unwrap_or(i64::MAX))
}

/// What stands for a frieze group where the colours come round too late to look.
const UNKNOWN: &str = "unknown";

const GROUPS_OR_UNKNOWN: [&str; Frieze::ALL.len() + 1] = {
    let mut names = [UNKNOWN; Frieze::ALL.len() + 1];
    let mut at = 0;
    while at < Frieze::ALL.len() {
        names[at] = Frieze::ALL[at].name();
        at += 1;
    }
    names
};

const GROUPS: &[&str] = GROUPS_OR_UNKNOWN.split_at(Frieze::ALL.len()).0;

const EDGES: [&str; EdgeShape::ALL.len()] = {
    let mut names = [""; EdgeShape::ALL.len()];
    let mut at = 0;
    while at < EdgeShape::ALL.len() {
        names[at] = EdgeShape::ALL[at].name();
        at += 1;
    }
    names
};

/// Every measure, in the order of a table.
pub const MEASURES: &[Measure] = &[
    Measure {
        name: "threads",
        unit: "threads",
        sentence: "threads on the band",
        words: &[],
        without: None,
        read: |of| whole(of.band().thread_count().into()),
    },
    Measure {
        name: "colours",
        unit: "colours",
        sentence: "how many colours its threads have",
        words: &[],
        without: None,
        read: |of| whole(of.band().used_colours().len() as u64),
    },
    Measure {
        name: "rows_per_repeat",
        unit: "rows",
        sentence: "rows in a repeat",
        words: &[],
        without: None,
        read: |of| whole(of.band().repeat().len() as u64),
    },
    Measure {
        name: "knots_per_repeat",
        unit: "knots",
        sentence: "knots in a repeat",
        words: &[],
        without: None,
        read: |of| {
            whole(
                of.band()
                    .repeat()
                    .iter()
                    .map(crate::row::Row::len)
                    .sum::<usize>() as u64,
            )
        },
    },
    Measure {
        name: "repeats",
        unit: "repeats",
        sentence: "how often the repeat is tied",
        words: &[],
        without: None,
        read: |of| whole(of.band().repeats().into()),
    },
    Measure {
        name: "knots",
        unit: "knots",
        sentence: "knots on the whole band",
        words: &[],
        without: None,
        read: |of| whole(of.band().knot_count()),
    },
    Measure {
        name: "repeats_to_close",
        unit: "repeats",
        sentence: "repeats after which every thread is back in its place",
        words: &[],
        without: None,
        read: |of| whole(of.permutation().order()),
    },
    Measure {
        name: "colour_repeats_to_close",
        unit: "repeats",
        sentence: "repeats after which the colours hang as they did before the first",
        words: &[],
        without: None,
        read: |of| {
            let colours = at_first_repeat(of.band(), &of.band().thread_values());
            whole(of.permutation().colour_order(&colours))
        },
    },
    Measure {
        name: "cycles",
        unit: "groups",
        sentence: "groups of threads that change places among themselves",
        words: &[],
        without: None,
        read: |of| whole(of.permutation().cycles().len() as u64),
    },
    Measure {
        name: "drifts",
        unit: "",
        sentence: "true where the colours drift along their gradient",
        words: &[],
        without: None,
        read: |of| MeasureValue::Flag(of.report().drift.is_some()),
    },
    Measure {
        name: "half_rows_per_repeat",
        unit: "half rows",
        sentence: "by how many half rows a repeat makes the band longer; a knot is two half rows high",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().half_rows_per_repeat),
    },
    Measure {
        name: "fewest_knots",
        unit: "knots",
        sentence: "knots of a repeat in the column that has the fewest",
        words: &[],
        without: None,
        read: |of| {
            whole(
                of.report()
                    .knots_by_column
                    .iter()
                    .min()
                    .copied()
                    .unwrap_or(0) as u64,
            )
        },
    },
    Measure {
        name: "most_knots",
        unit: "knots",
        sentence: "knots of a repeat in the column that has the most",
        words: &[],
        without: None,
        read: |of| {
            whole(
                of.report()
                    .knots_by_column
                    .iter()
                    .max()
                    .copied()
                    .unwrap_or(0) as u64,
            )
        },
    },
    Measure {
        name: "start_edge",
        unit: "",
        sentence: "shape of the start edge",
        words: &EDGES,
        without: None,
        read: |of| MeasureValue::Text(of.report().edges.start.shape.name()),
    },
    Measure {
        name: "finish_edge",
        unit: "",
        sentence: "shape of the finish edge",
        words: &EDGES,
        without: None,
        read: |of| MeasureValue::Text(of.report().edges.finish.shape.name()),
    },
    Measure {
        name: "knot_symmetry",
        unit: "",
        sentence: "symmetry of the knots",
        words: GROUPS,
        without: None,
        read: |of| MeasureValue::Text(of.knot_symmetry().name()),
    },
    Measure {
        name: "knot_symmetry_apart",
        unit: "",
        sentence: "symmetry of the knots, not counting those of the middle column",
        words: GROUPS,
        without: None,
        read: |of| {
            let symmetry = &of.report().symmetry;
            MeasureValue::Text(symmetry.apart_from_middle.unwrap_or(symmetry.knots).name())
        },
    },
    Measure {
        name: "colour_symmetry",
        unit: "",
        sentence: "symmetry of the colours; unknown where they come round too late to look",
        words: &GROUPS_OR_UNKNOWN,
        without: Some(MeasureValue::Text(UNKNOWN)),
        read: |of| {
            let colours = of.report().symmetry.colours;
            MeasureValue::Text(colours.map_or(UNKNOWN, Frieze::name))
        },
    },
    Measure {
        name: "knot_period_half_rows",
        unit: "half rows",
        sentence: "after how many half rows the knots come again",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().symmetry.knots_half_rows),
    },
    Measure {
        name: "colour_period_half_rows",
        unit: "half rows",
        sentence: "after how many half rows the colours come again; 0 where that is too late to look",
        words: &[],
        without: Some(MeasureValue::Number(0.0)),
        read: |of| MeasureValue::Number(of.report().symmetry.colours_half_rows.unwrap_or(0.0)),
    },
    Measure {
        name: "width_mm",
        unit: "mm",
        sentence: "width in millimetres",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().size_mm.width),
    },
    Measure {
        name: "length_mm",
        unit: "mm",
        sentence: "knotted length in millimetres",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().size_mm.length),
    },
    Measure {
        name: "repeat_mm",
        unit: "mm",
        sentence: "by how many millimetres a repeat makes the band longer",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().size_mm.repeat),
    },
    Measure {
        name: "total_mm",
        unit: "mm",
        sentence: "length with ends and ties in millimetres",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().size_mm.total),
    },
    Measure {
        name: "thread_m",
        unit: "m",
        sentence: "all the thread for one band in metres",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().cut_list.total_m()),
    },
    Measure {
        name: "longest_cm",
        unit: "cm",
        sentence: "the longest piece to cut in centimetres",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().cut_list.longest_cm()),
    },
    Measure {
        name: "minutes",
        unit: "minutes",
        sentence: "how many minutes it takes",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.report().minutes),
    },
    Measure {
        name: "difficulty",
        unit: "points",
        sentence: "how hard it is, from 0 to 10",
        words: &[],
        without: None,
        read: |of| MeasureValue::Number(of.difficulty().points),
    },
    Measure {
        name: "longest_float",
        unit: "half rows",
        sentence: "the most half rows over which a thread lies loose",
        words: &[],
        without: None,
        read: |of| {
            let uses = of.report().thread_use.iter();
            whole(
                uses.map(|thread| thread.longest_float_half_rows)
                    .max()
                    .unwrap_or(0)
                    .into(),
            )
        },
    },
    Measure {
        name: "working_changes",
        unit: "changes",
        sentence: "changes of the working thread in a repeat; -1 where colours come round too late to look",
        words: &[],
        without: Some(MeasureValue::Whole(-1)),
        read: |of| {
            MeasureValue::Whole(of.look().map_or(-1, |look| {
                i64::try_from(look.working_changes).unwrap_or(i64::MAX)
            }))
        },
    },
    Measure {
        name: "regions",
        unit: "regions",
        sentence: "regions of one colour until the colours come round; -1 where that is too late to look",
        words: &[],
        without: Some(MeasureValue::Whole(-1)),
        read: |of| {
            MeasureValue::Whole(
                of.look()
                    .map_or(-1, |look| i64::try_from(look.regions).unwrap_or(i64::MAX)),
            )
        },
    },
    Measure {
        name: "colour_balance",
        unit: "share",
        sentence: "how evenly the colours share the knots, from 0 to 1; -1 where they come round too late to look",
        words: &[],
        without: Some(MeasureValue::Number(-1.0)),
        read: |of| MeasureValue::Number(of.look().map_or(-1.0, |look| look.colour_balance)),
    },
    Measure {
        name: "contrast",
        unit: "colour difference",
        sentence: "how different the colours of touching knots are on average: about 1 is just visible, 10 another colour (CIEDE2000); -1 where they come round too late to look",
        words: &[],
        without: Some(MeasureValue::Number(-1.0)),
        read: |of| MeasureValue::Number(of.look().map_or(-1.0, |look| look.contrast)),
    },
    Measure {
        name: "gradient_step",
        unit: "colour difference",
        sentence: "the largest difference between neighbouring colours of the gradient that drifts (CIEDE2000); -1 where none does",
        words: &[],
        without: Some(MeasureValue::Number(-1.0)),
        read: |of| {
            let drifts = of.report().drift.is_some();
            let step = drifts.then(|| gradient_step(of.band())).flatten();
            MeasureValue::Number(step.unwrap_or(-1.0))
        },
    },
    Measure {
        name: "errors",
        unit: "findings",
        sentence: "findings that keep it from being sound",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Error),
    },
    Measure {
        name: "warnings",
        unit: "findings",
        sentence: "findings that a maker should put right",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Warning),
    },
    Measure {
        name: "notes",
        unit: "findings",
        sentence: "findings that are good to know",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Note),
    },
];
