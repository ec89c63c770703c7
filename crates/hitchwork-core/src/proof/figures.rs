//! What is known of a band, by names that conditions and tables use.

use serde::Serialize;

use super::permutation::colours_at_first_repeat;
use super::{Frieze, Severity};
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
pub struct Figure {
    /// The name by which conditions and tables call it.
    pub name: &'static str,
    /// What it is, with its unit.
    pub sentence: &'static str,
    /// What it can be, for those that are words.
    pub words: &'static [&'static str],
    read: fn(&Tied) -> FigureValue,
}

impl Figure {
    /// Its value for a band.
    #[must_use]
    pub fn of(&self, tied: &Tied) -> FigureValue {
        (self.read)(tied)
    }

    /// The figure of that name.
    ///
    /// ```
    /// use hitchwork_core::proof::Figure;
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
    /// use hitchwork_core::{craft::{Habits, Pace}, proof::FigureValue, tied::Tied};
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

fn whole(count: u64) -> FigureValue {
    FigureValue::Whole(i64::try_from(count).unwrap_or(i64::MAX))
}

const GROUPS: [&str; 7] = ["p1", "p11g", "p11m", "p1m1", "p2", "p2mg", "p2mm"];

const GROUPS_OR_UNKNOWN: [&str; 8] = [
    "p1", "p11g", "p11m", "p1m1", "p2", "p2mg", "p2mm", "unknown",
];

const EDGES: [&str; 6] = [
    "level",
    "slants-right",
    "slants-left",
    "pointed",
    "notched",
    "ragged",
];

/// Every figure, in the order of a table.
pub const FIGURES: &[Figure] = &[
    Figure {
        name: "threads",
        sentence: "threads on the band",
        words: &[],
        read: |of| whole(of.band().thread_count().into()),
    },
    Figure {
        name: "colours",
        sentence: "colours of its threads",
        words: &[],
        read: |of| whole(of.band().used_colours().len() as u64),
    },
    Figure {
        name: "rows_per_repeat",
        sentence: "rows in a repeat",
        words: &[],
        read: |of| whole(of.band().repeat().len() as u64),
    },
    Figure {
        name: "knots_per_repeat",
        sentence: "knots in a repeat",
        words: &[],
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
        sentence: "how often the repeat is tied",
        words: &[],
        read: |of| whole(of.band().repeats().into()),
    },
    Figure {
        name: "knots",
        sentence: "knots on the whole band",
        words: &[],
        read: |of| whole(of.band().knot_count()),
    },
    Figure {
        name: "repeats_to_close",
        sentence: "repeats after which every thread is back in its place",
        words: &[],
        read: |of| whole(of.permutation().order()),
    },
    Figure {
        name: "colour_repeats_to_close",
        sentence: "repeats after which the colours hang as they did before the first",
        words: &[],
        read: |of| {
            let colours = colours_at_first_repeat(of.band());
            whole(of.permutation().colour_order(&colours))
        },
    },
    Figure {
        name: "cycles",
        sentence: "groups of threads that change places among themselves",
        words: &[],
        read: |of| whole(of.permutation().cycles().len() as u64),
    },
    Figure {
        name: "drifts",
        sentence: "true where the colours drift along their gradient",
        words: &[],
        read: |of| FigureValue::Flag(of.report().drift.is_some()),
    },
    Figure {
        name: "half_rows_per_repeat",
        sentence: "half rows by which a repeat makes the band longer",
        words: &[],
        read: |of| FigureValue::Number(of.report().half_rows_per_repeat),
    },
    Figure {
        name: "fewest_knots",
        sentence: "knots of a repeat in the column that has fewest",
        words: &[],
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
        sentence: "knots of a repeat in the column that has most",
        words: &[],
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
        sentence: "shape of the start edge",
        words: &EDGES,
        read: |of| FigureValue::Text(of.report().edges.start.shape.name()),
    },
    Figure {
        name: "finish_edge",
        sentence: "shape of the finish edge",
        words: &EDGES,
        read: |of| FigureValue::Text(of.report().edges.finish.shape.name()),
    },
    Figure {
        name: "structure",
        sentence: "frieze group of the knots",
        words: &GROUPS,
        read: |of| FigureValue::Text(of.structure().name()),
    },
    Figure {
        name: "structure_apart",
        sentence: "frieze group of the knots, those of the middle column left out of account",
        words: &GROUPS,
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
        sentence: "frieze group of the colours; unknown where they come round too late to look",
        words: &GROUPS_OR_UNKNOWN,
        read: |of| {
            let appearance = of.report().symmetry.appearance;
            FigureValue::Text(appearance.map_or("unknown", Frieze::name))
        },
    },
    Figure {
        name: "structure_half_rows",
        sentence: "half rows after which the knots come again",
        words: &[],
        read: |of| FigureValue::Number(of.report().symmetry.structure_half_rows),
    },
    Figure {
        name: "period_half_rows",
        sentence: "half rows after which the colours come again; 0 where that is too late to look",
        words: &[],
        read: |of| FigureValue::Number(of.report().symmetry.appearance_half_rows.unwrap_or(0.0)),
    },
    Figure {
        name: "width_mm",
        sentence: "width in millimetres",
        words: &[],
        read: |of| FigureValue::Number(of.report().size_mm.width),
    },
    Figure {
        name: "length_mm",
        sentence: "knotted length in millimetres",
        words: &[],
        read: |of| FigureValue::Number(of.report().size_mm.length),
    },
    Figure {
        name: "repeat_mm",
        sentence: "millimetres by which a repeat makes the band longer",
        words: &[],
        read: |of| FigureValue::Number(of.report().size_mm.repeat),
    },
    Figure {
        name: "total_mm",
        sentence: "length with ends and ties in millimetres",
        words: &[],
        read: |of| FigureValue::Number(of.report().size_mm.total),
    },
    Figure {
        name: "thread_m",
        sentence: "all thread for one follower in metres",
        words: &[],
        read: |of| FigureValue::Number(of.report().cut_list.total_m()),
    },
    Figure {
        name: "longest_cm",
        sentence: "the longest piece to cut in centimetres",
        words: &[],
        read: |of| FigureValue::Number(of.report().cut_list.longest_cm()),
    },
    Figure {
        name: "minutes",
        sentence: "minutes that it takes",
        words: &[],
        read: |of| FigureValue::Number(of.report().minutes),
    },
    Figure {
        name: "difficulty",
        sentence: "how hard it is, from 0 to 10",
        words: &[],
        read: |of| FigureValue::Number(of.report().difficulty.points),
    },
    Figure {
        name: "longest_float",
        sentence: "half rows for which a thread lies loose at most",
        words: &[],
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
        sentence: "changes of the working thread in a repeat; -1 where colours come round too late to look",
        words: &[],
        read: |of| {
            FigureValue::Whole(of.look().map_or(-1, |look| {
                i64::try_from(look.working_changes).unwrap_or(i64::MAX)
            }))
        },
    },
    Figure {
        name: "regions",
        sentence: "regions of one colour until the colours come round; -1 where that is too late to look",
        words: &[],
        read: |of| {
            FigureValue::Whole(
                of.look()
                    .map_or(-1, |look| i64::try_from(look.regions).unwrap_or(i64::MAX)),
            )
        },
    },
    Figure {
        name: "colour_balance",
        sentence: "how evenly the colours share the knots, from 0 to 1; -1 where they come round too late to look",
        words: &[],
        read: |of| FigureValue::Number(of.look().map_or(-1.0, |look| look.colour_balance)),
    },
    Figure {
        name: "contrast",
        sentence: "how different touching knots are on average, in CIEDE2000; -1 where colours come round too late to look",
        words: &[],
        read: |of| FigureValue::Number(of.look().map_or(-1.0, |look| look.contrast)),
    },
    Figure {
        name: "errors",
        sentence: "findings that keep it from being sound",
        words: &[],
        read: |of| findings(of, Severity::Error),
    },
    Figure {
        name: "warnings",
        sentence: "findings that a maker should mend",
        words: &[],
        read: |of| findings(of, Severity::Warning),
    },
    Figure {
        name: "notes",
        sentence: "findings that are good to know",
        words: &[],
        read: |of| findings(of, Severity::Note),
    },
];
