//! What is known of a band, by names: one table, which conditions, searches, plans, tables and
//! the balance of a rule read.

use serde::Serialize;

use crate::band::Band;
use crate::colour::{self, Srgb};
use crate::proof::permutation::at_first_repeat;
use crate::proof::{EdgeShape, Frieze, Severity};
use crate::tied::Tied;

/// A figure's value. As data it is the number, the yes or no, or the word itself.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum FigureValue {
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
pub struct Figure {
    /// The name by which conditions and tables call it.
    pub name: &'static str,
    /// What it is counted or measured in; empty for what is no number: a yes or no, a word.
    pub unit: &'static str,
    /// What it is, with its unit.
    pub sentence: &'static str,
    /// What it can be, for those that are words.
    pub words: &'static [&'static str],
    /// What stands for it where a band has no such thing.
    without: Option<FigureValue>,
    read: fn(&Tied) -> FigureValue,
}

impl FigureValue {
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

impl Figure {
    /// Its value for a band.
    #[must_use]
    pub fn of(&self, tied: &Tied) -> FigureValue {
        (self.read)(tied)
    }

    /// Its value for a band that has such a thing; nothing where only a sign would stand for
    /// it, such as -1 where the colours come round too late to look.
    #[must_use]
    pub fn known(&self, tied: &Tied) -> Option<FigureValue> {
        Some(self.of(tied)).filter(|value| self.without != Some(*value))
    }

    /// Whether it is a number for every band, so that it can be bounded.
    #[must_use]
    pub fn is_number(&self) -> bool {
        !self.unit.is_empty()
    }

    /// The figure of that name.
    ///
    /// ```
    /// use hitchwork_core::figures::Figure;
    /// assert_eq!(Figure::named("minutes").map(|figure| figure.sentence), Some("minutes that it takes"));
    /// assert!(Figure::named("glitter").is_none());
    /// ```
    #[must_use]
    pub fn named(name: &str) -> Option<&'static Self> {
        FIGURES.iter().find(|figure| figure.name == name)
    }
}

/// The figures of a band. Each is found when it is asked for, so that a condition on the
/// order of the threads does not wait for the proofs.
impl Tied {
    /// The value of the figure of that name.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::{craft::{Habits, Pace}, figures::FigureValue, tied::Tied};
    /// # let stripe = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 100,
    /// #     ..BandParts::default() })?;
    /// let tied = Tied::by(stripe, Habits { pace: Pace::QUICK, ..Habits::default() });
    /// assert_eq!(tied.figure("repeats_to_close"), Some(FigureValue::Whole(4)));
    /// assert_eq!(tied.figure("structure"), Some(FigureValue::Text("p2")));
    /// // 300 knots of 5 seconds, 4 threads to lay out, two ties: 25 + 1.6 + 6 minutes.
    /// assert_eq!(tied.figure("minutes"), Some(FigureValue::Number(33.0)));
    /// assert_eq!(tied.figure("glitter"), None);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn figure(&self, name: &str) -> Option<FigureValue> {
        Figure::named(name).map(|figure| figure.of(self))
    }

    /// All figures, with their values.
    pub fn figures(&self) -> impl Iterator<Item = (&'static Figure, FigureValue)> + '_ {
        FIGURES.iter().map(|figure| (figure, figure.of(self)))
    }
}

fn findings(tied: &Tied, severity: Severity) -> FigureValue {
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

fn whole(count: u64) -> FigureValue {
    FigureValue::Whole(i64::try_from(count).unwrap_or(i64::MAX))
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

/// Every figure, in the order of a table.
pub const FIGURES: &[Figure] = &[
    Figure {
        name: "threads",
        unit: "threads",
        sentence: "threads on the band",
        words: &[],
        without: None,
        read: |of| whole(of.band().thread_count().into()),
    },
    Figure {
        name: "colours",
        unit: "colours",
        sentence: "colours of its threads",
        words: &[],
        without: None,
        read: |of| whole(of.band().used_colours().len() as u64),
    },
    Figure {
        name: "rows_per_repeat",
        unit: "rows",
        sentence: "rows in a repeat",
        words: &[],
        without: None,
        read: |of| whole(of.band().repeat().len() as u64),
    },
    Figure {
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
    Figure {
        name: "repeats",
        unit: "repeats",
        sentence: "how often the repeat is tied",
        words: &[],
        without: None,
        read: |of| whole(of.band().repeats().into()),
    },
    Figure {
        name: "knots",
        unit: "knots",
        sentence: "knots on the whole band",
        words: &[],
        without: None,
        read: |of| whole(of.band().knot_count()),
    },
    Figure {
        name: "repeats_to_close",
        unit: "repeats",
        sentence: "repeats after which every thread is back in its place",
        words: &[],
        without: None,
        read: |of| whole(of.permutation().order()),
    },
    Figure {
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
    Figure {
        name: "cycles",
        unit: "groups",
        sentence: "groups of threads that change places among themselves",
        words: &[],
        without: None,
        read: |of| whole(of.permutation().cycles().len() as u64),
    },
    Figure {
        name: "drifts",
        unit: "",
        sentence: "true where the colours drift along their gradient",
        words: &[],
        without: None,
        read: |of| FigureValue::Flag(of.report().drift.is_some()),
    },
    Figure {
        name: "half_rows_per_repeat",
        unit: "half rows",
        sentence: "half rows by which a repeat makes the band longer",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().half_rows_per_repeat),
    },
    Figure {
        name: "fewest_knots",
        unit: "knots",
        sentence: "knots of a repeat in the column that has fewest",
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
    Figure {
        name: "most_knots",
        unit: "knots",
        sentence: "knots of a repeat in the column that has most",
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
    Figure {
        name: "start_edge",
        unit: "",
        sentence: "shape of the start edge",
        words: &EDGES,
        without: None,
        read: |of| FigureValue::Text(of.report().edges.start.shape.name()),
    },
    Figure {
        name: "finish_edge",
        unit: "",
        sentence: "shape of the finish edge",
        words: &EDGES,
        without: None,
        read: |of| FigureValue::Text(of.report().edges.finish.shape.name()),
    },
    Figure {
        name: "structure",
        unit: "",
        sentence: "frieze group of the knots",
        words: GROUPS,
        without: None,
        read: |of| FigureValue::Text(of.structure().name()),
    },
    Figure {
        name: "structure_apart",
        unit: "",
        sentence: "frieze group of the knots, those of the middle column left out of account",
        words: GROUPS,
        without: None,
        read: |of| {
            let symmetry = &of.report().symmetry;
            FigureValue::Text(
                symmetry
                    .apart_from_middle
                    .unwrap_or(symmetry.structure)
                    .name(),
            )
        },
    },
    Figure {
        name: "appearance",
        unit: "",
        sentence: "frieze group of the colours; unknown where they come round too late to look",
        words: &GROUPS_OR_UNKNOWN,
        without: Some(FigureValue::Text(UNKNOWN)),
        read: |of| {
            let appearance = of.report().symmetry.appearance;
            FigureValue::Text(appearance.map_or(UNKNOWN, Frieze::name))
        },
    },
    Figure {
        name: "structure_half_rows",
        unit: "half rows",
        sentence: "half rows after which the knots come again",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().symmetry.structure_half_rows),
    },
    Figure {
        name: "period_half_rows",
        unit: "half rows",
        sentence: "half rows after which the colours come again; 0 where that is too late to look",
        words: &[],
        without: Some(FigureValue::Number(0.0)),
        read: |of| FigureValue::Number(of.report().symmetry.appearance_half_rows.unwrap_or(0.0)),
    },
    Figure {
        name: "width_mm",
        unit: "mm",
        sentence: "width in millimetres",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().size_mm.width),
    },
    Figure {
        name: "length_mm",
        unit: "mm",
        sentence: "knotted length in millimetres",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().size_mm.length),
    },
    Figure {
        name: "repeat_mm",
        unit: "mm",
        sentence: "millimetres by which a repeat makes the band longer",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().size_mm.repeat),
    },
    Figure {
        name: "total_mm",
        unit: "mm",
        sentence: "length with ends and ties in millimetres",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().size_mm.total),
    },
    Figure {
        name: "thread_m",
        unit: "m",
        sentence: "all thread for one follower in metres",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().cut_list.total_m()),
    },
    Figure {
        name: "longest_cm",
        unit: "cm",
        sentence: "the longest piece to cut in centimetres",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().cut_list.longest_cm()),
    },
    Figure {
        name: "minutes",
        unit: "minutes",
        sentence: "minutes that it takes",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().minutes),
    },
    Figure {
        name: "difficulty",
        unit: "points",
        sentence: "how hard it is, from 0 to 10",
        words: &[],
        without: None,
        read: |of| FigureValue::Number(of.report().difficulty.points),
    },
    Figure {
        name: "longest_float",
        unit: "half rows",
        sentence: "half rows for which a thread lies loose at most",
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
    Figure {
        name: "working_changes",
        unit: "changes",
        sentence: "changes of the working thread in a repeat; -1 where colours come round too late to look",
        words: &[],
        without: Some(FigureValue::Whole(-1)),
        read: |of| {
            FigureValue::Whole(of.look().map_or(-1, |look| {
                i64::try_from(look.working_changes).unwrap_or(i64::MAX)
            }))
        },
    },
    Figure {
        name: "regions",
        unit: "regions",
        sentence: "regions of one colour until the colours come round; -1 where that is too late to look",
        words: &[],
        without: Some(FigureValue::Whole(-1)),
        read: |of| {
            FigureValue::Whole(
                of.look()
                    .map_or(-1, |look| i64::try_from(look.regions).unwrap_or(i64::MAX)),
            )
        },
    },
    Figure {
        name: "colour_balance",
        unit: "share",
        sentence: "how evenly the colours share the knots, from 0 to 1; -1 where they come round too late to look",
        words: &[],
        without: Some(FigureValue::Number(-1.0)),
        read: |of| FigureValue::Number(of.look().map_or(-1.0, |look| look.colour_balance)),
    },
    Figure {
        name: "contrast",
        unit: "CIEDE2000",
        sentence: "how different touching knots are on average, in CIEDE2000; -1 where colours come round too late to look",
        words: &[],
        without: Some(FigureValue::Number(-1.0)),
        read: |of| FigureValue::Number(of.look().map_or(-1.0, |look| look.contrast)),
    },
    Figure {
        name: "gradient_step",
        unit: "CIEDE2000",
        sentence: "the largest difference between neighbours in the gradient that drifts, in CIEDE2000; -1 where none does",
        words: &[],
        without: Some(FigureValue::Number(-1.0)),
        read: |of| {
            let drifts = of.report().drift.is_some();
            let step = drifts.then(|| gradient_step(of.band())).flatten();
            FigureValue::Number(step.unwrap_or(-1.0))
        },
    },
    Figure {
        name: "errors",
        unit: "findings",
        sentence: "findings that keep it from being sound",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Error),
    },
    Figure {
        name: "warnings",
        unit: "findings",
        sentence: "findings that a maker should mend",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Warning),
    },
    Figure {
        name: "notes",
        unit: "findings",
        sentence: "findings that are good to know",
        words: &[],
        without: None,
        read: |of| findings(of, Severity::Note),
    },
];
