//! What the page shows of a run, as it is told: an update.

use std::time::Duration;

use hitchwork_core::craft::{metres_at_least, time_words};
use hitchwork_core::proof::{Finding, Report};
use hitchwork_rules::{Diagnostic, Error, Parameter, Range};
use serde::Serialize;

use super::painting::PaintingNews;
use super::runs::RunStage;
use super::settings::SessionSettings;

/// The most whole numbers that a browser tells apart: its numbers are binary64 (IEEE 754).
const EXACT: i64 = 1 << 53;

/// An update: all that the page knows, so that whoever has missed some misses nothing.
#[derive(Clone, Debug, Default, Serialize)]
pub(super) struct Update {
    /// A word that this start of the command has, and no other.
    pub(super) start: String,
    /// The rule, as the command line names it.
    pub(super) rule: String,
    /// What the command line asks for.
    pub(super) given: SessionSettings,
    /// What is wanted now, by whichever page.
    pub(super) wishes: SessionSettings,
    /// How many changes these hold.
    pub(super) wish: u64,
    /// Whether what follows is about older wishes, or a rule that has changed since.
    pub(super) is_busy: bool,
    /// Counts the runs; 0 before the first has ended.
    pub(super) number: u64,
    /// The number of the run whose picture is to be shown: an earlier one, where this one
    /// made no band. 0 where there is none yet.
    pub(super) picture: u64,
    /// That picture's own width and height in pixels.
    pub(super) size: (f64, f64),
    pub(super) title: String,
    /// For what wishes that picture was made.
    pub(super) made: Option<SessionSettings>,
    /// The parameters, as the rule declares them.
    pub(super) controls: Vec<Control>,
    pub(super) measures: Vec<Entry>,
    pub(super) findings: Vec<Finding>,
    pub(super) troubles: Vec<ShownProblem>,
    /// What has been painted over the pictures of the rule.
    pub(super) painting: PaintingNews,
    /// What to be careful with.
    pub(super) cautions: Vec<String>,
    /// Whether another seed may make another band.
    pub(super) leaves_to_chance: bool,
    /// The command that makes exactly the band in the picture.
    pub(super) command: String,
    /// Milliseconds that it took to run the rule, to prove the band and to lay it out.
    pub(super) took_ms: f64,
}

/// A parameter with all that it takes to turn it. Values are text, for numbers would not be
/// exact in a browser.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Control {
    name: String,
    sentence: String,
    value: String,
    default: String,
    #[serde(flatten)]
    kind: ControlKind,
}

/// What turns a parameter.
#[derive(Clone, Debug, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
enum ControlKind {
    /// A slider with a field beside it.
    Slider {
        least: String,
        most: String,
        whole: bool,
    },
    /// One of a list.
    List {
        options: Vec<String>,
    },
    /// On or off.
    Switch,
    Text,
}

impl Control {
    pub(super) fn of(parameter: &Parameter) -> Self {
        let slider =
            |least: String, most: String, whole| ControlKind::Slider { least, most, whole };
        let exact = -EXACT..=EXACT;
        let kind = match &parameter.range {
            Range::Whole { least, most } if exact.contains(least) && exact.contains(most) => {
                slider(least.to_string(), most.to_string(), true)
            }
            Range::Number { least, most } => slider(least.to_string(), most.to_string(), false),
            Range::Choice { options } | Range::Palette { options } => ControlKind::List {
                options: options.clone(),
            },
            Range::Flag => ControlKind::Switch,
            // Everything else can be typed.
            _ => ControlKind::Text,
        };
        Self {
            name: parameter.name.clone(),
            sentence: parameter.sentence.clone(),
            value: parameter.value.to_string(),
            default: parameter.default.to_string(),
            kind,
        }
    }
}

/// One entry of the strip of measures.
#[derive(Clone, Debug, Serialize)]
pub(super) struct Entry {
    pub(super) name: &'static str,
    pub(super) value: String,
}

/// Something that is wrong, with the line of the rule in which it is.
#[derive(Clone, Debug, Serialize)]
pub(super) struct ShownProblem {
    pub(super) message: String,
    pub(super) help: Option<String>,
    pub(super) file: Option<String>,
    pub(super) line: Option<usize>,
    pub(super) character: Option<usize>,
    pub(super) length: usize,
    /// The line itself.
    pub(super) text: String,
}

impl ShownProblem {
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

    /// A run that broke off.
    pub(super) fn panicked(reason: &str) -> Self {
        Self::plain(
            format!("Hitchwork itself failed at this: {reason}"),
            Some("the fault is not yours, though other settings or another way to write the rule may do; please report it, with the rule and its settings".to_owned()),
        )
    }

    /// A run that is not waited for any longer.
    pub(super) fn overtime(part: RunStage, allowance: Duration) -> Self {
        let seconds = allowance.as_secs_f64();
        let (message, help) = match part {
            RunStage::Rule => (
                format!(
                    "the rule is still at work after {seconds:.0} seconds, in a call that cannot be stopped; Hitchwork has stopped waiting for it"
                ),
                "ask for fewer knots at once, save the rule or change a setting; --seconds gives it longer",
            ),
            RunStage::Picture => (
                format!(
                    "the band could not be proved and drawn within {seconds:.0} seconds; Hitchwork has stopped waiting for it"
                ),
                "ask for a shorter band or for fewer knots; --seconds gives it longer",
            ),
        };
        Self::plain(message, Some(help.to_owned()))
    }

    /// Too many runs are at work for another to begin.
    pub(super) fn crowded() -> Self {
        Self::plain(
            "too many earlier runs are still at work, in calls that cannot be stopped".to_owned(),
            Some("wait until one of them ends, and this goes on by itself; or end the command with Ctrl-C and start it again: this page keeps your settings".to_owned()),
        )
    }

    /// The system lets no run begin.
    pub(super) fn no_thread(reason: &str) -> Self {
        Self::plain(
            format!("the rule could not be run: the system starts no new thread ({reason})"),
            Some("close other programs, then save the rule or change a setting".to_owned()),
        )
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

fn repeats(number: u64) -> String {
    match number {
        1 => "after every repeat".to_owned(),
        many => format!("after {many} repeats"),
    }
}

/// The strip of measures.
pub(super) fn measures(report: &Report) -> Vec<Entry> {
    let entry = |name, value| Entry { name, value };
    vec![
        entry("threads", report.threads.to_string()),
        entry("width", format!("{} mm", report.size_mm.width)),
        entry("length", format!("{:.1} cm", report.size_mm.length / 10.0)),
        entry("time", time_words(report.minutes)),
        entry("thread", metres_at_least(report.cut_list.total_mm)),
        entry(
            "longest piece",
            format!("{:.0} cm", report.cut_list.longest_cm()),
        ),
        entry("comes round", repeats(report.repeats_to_close)),
        entry("symmetry", report.symmetry.knots.to_string()),
    ]
}
