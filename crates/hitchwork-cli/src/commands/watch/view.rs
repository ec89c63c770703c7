//! What the page shows of a run.

use hitchwork_core::proof::{Finding, Report};
use hitchwork_rules::{Diagnostic, Error, Parameter};
use serde::{Deserialize, Serialize};

/// What is wanted of the rule, as the page says it.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Wishes {
    /// Values of parameters, as text; the others have their defaults.
    pub(super) settings: std::collections::BTreeMap<String, String>,
    pub(super) seed: u64,
    pub(super) length_cm: Option<f64>,
    pub(super) other_hand: bool,
}

/// The news of a run.
#[derive(Clone, Debug, Serialize)]
pub(super) struct View {
    /// Counts the runs.
    pub(super) number: u64,
    /// The number of the run whose picture is to be shown: an earlier one, where this one
    /// made no band. 0 where there is none yet.
    pub(super) picture: u64,
    /// That picture's own width and height in pixels.
    pub(super) size: (f64, f64),
    pub(super) title: String,
    pub(super) wishes: Wishes,
    /// The parameters, as the rule declares them.
    pub(super) parameters: Vec<Parameter>,
    pub(super) facts: Vec<Fact>,
    pub(super) findings: Vec<Finding>,
    pub(super) troubles: Vec<Shown>,
    /// The command that makes exactly this band.
    pub(super) command: String,
    /// Milliseconds that it took to run the rule, to prove the band and to lay it out.
    pub(super) took_ms: f64,
}

/// One entry of the strip of measures.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Fact {
    pub(super) name: &'static str,
    pub(super) value: String,
}

/// Something that is wrong, with the line of the rule in which it is.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Shown {
    pub(super) message: String,
    pub(super) help: Option<String>,
    pub(super) file: Option<String>,
    pub(super) line: Option<usize>,
    pub(super) character: Option<usize>,
    pub(super) length: usize,
    /// The line itself.
    pub(super) text: String,
}

impl Shown {
    pub(super) fn all(error: &Error, texts: &dyn Fn(&str) -> String) -> Vec<Self> {
        error
            .diagnostics()
            .iter()
            .map(|diagnostic| Self::of(diagnostic, texts))
            .collect()
    }

    fn of(diagnostic: &Diagnostic, texts: &dyn Fn(&str) -> String) -> Self {
        let spot = diagnostic.place.as_ref();
        let line = |line: usize, file: &str| {
            texts(file)
                .lines()
                .nth(line.saturating_sub(1))
                .unwrap_or("")
                .to_owned()
        };
        Self {
            message: diagnostic.message.clone(),
            help: diagnostic.help.clone(),
            file: spot.map(|spot| spot.file.clone()),
            line: spot.map(|spot| spot.line),
            character: spot.map(|spot| spot.character),
            length: spot.map_or(0, |spot| spot.length),
            text: spot.map_or(String::new(), |spot| line(spot.line, &spot.file)),
        }
    }

    /// Something that has no place in a rule.
    pub(super) fn plain(message: String, help: Option<String>) -> Self {
        Self {
            message,
            help,
            file: None,
            line: None,
            character: None,
            length: 0,
            text: String::new(),
        }
    }
}

/// The strip of measures.
pub(super) fn facts(report: &Report) -> Vec<Fact> {
    let fact = |name, value| Fact { name, value };
    vec![
        fact("threads", report.threads.to_string()),
        fact("width", format!("{} mm", report.size_mm.width)),
        fact("length", format!("{:.1} cm", report.size_mm.length / 10.0)),
        fact("time", hitchwork_core::craft::time_words(report.minutes)),
        fact("thread", format!("{:.1} m", report.cut_list.total_m())),
        fact("longest", format!("{:.0} cm", report.cut_list.longest_cm())),
        fact("closes after", report.repeats_to_close.to_string()),
        fact("symmetry", report.symmetry.structure.to_string()),
        fact("difficulty", report.difficulty.points.to_string()),
    ]
}
