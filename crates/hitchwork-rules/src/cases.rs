//! A rule's own tests: settings, and the measures that the band must have.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use hitchwork_core::band::Setting;
use hitchwork_core::misread::from_toml;
use hitchwork_core::proof::{Frieze, Report, Severity};
use hitchwork_core::row::grid_of;
use hitchwork_core::tied::Tied;
use serde::de::{self, Unexpected, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::error::{Diagnostic, Error, spot};
use crate::parameter::Settings;
use crate::rule::Rule;
use crate::rules::Rules;
use crate::sources::Source;

/// The tests of a rule, as they are written beside it in `NAME.tests.toml`.
///
/// ```
/// use hitchwork_rules::{Rules, cases::Cases};
///
/// let rules = Rules::new();
/// let rule = rules.compile("slant", r#"
///     let threads = whole("threads", 8, 4..=40, "threads on the band");
///     band(threads).repeat(forward(1..threads)).drift(gradient("spring tide", threads))
/// "#)?;
/// let cases = Cases::read("slant.tests.toml", r#"
///     [[case]]
///     name = "six threads drift"
///     settings = { threads = 6 }
///     expect = { repeats_to_close = 6, drifts_by = 1, grid = '\\\\\', findings = [] }
///
///     [[case]]
///     name = "three are too few"
///     settings = { threads = 3 }
///     expect = { error = "setting-refused" }
/// "#)?;
/// assert!(cases.run(&rules, &rule).iter().all(|outcome| outcome.holds()));
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Cases {
    /// The cases in the order in which they stand.
    #[serde(rename = "case", default)]
    pub cases: Vec<Case>,
}

/// One case: what is set, and what must come of it.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Case {
    /// What the case shows.
    pub name: String,
    /// Values of the rule's parameters; the others have their defaults.
    #[serde(default)]
    pub settings: BTreeMap<String, Setting>,
    /// The seed of its chance, 0 where none is given.
    #[serde(default)]
    pub seed: u64,
    /// How long the band must be at least, in millimetres; 30 where nothing is given, to
    /// keep tests quick.
    pub length_mm: Option<f64>,
    /// The measures that it must have; those not mentioned are not looked at.
    pub expect: Expected,
}

/// What may be expected of a band. Every measure is optional.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct Expected {
    /// How many threads the band has.
    pub threads: Option<u16>,
    /// How many colours its threads have.
    pub colours: Option<usize>,
    /// After how many repeats every thread is back in its place.
    pub repeats_to_close: Option<u64>,
    /// After how many repeats the colours are back in their order.
    pub colour_repeats_to_close: Option<u64>,
    /// How many steps of the gradient the colours move at every repeat; 0 says that they
    /// do not drift.
    pub drifts_by: Option<usize>,
    /// How many rows a repeat has.
    pub rows: Option<usize>,
    /// How many knots a repeat has.
    pub knots: Option<usize>,
    /// By how many half rows a repeat makes the band longer: a whole number, or a fraction
    /// such as "7/2".
    pub half_rows: Option<Amount>,
    /// The symmetry of the repeat's knots, such as "half turns": its name or its symbol.
    pub knot_symmetry: Option<String>,
    /// The symmetry of the colours that show.
    pub colour_symmetry: Option<String>,
    /// The least and the most that the band may be wide, in millimetres.
    pub width_mm: Option<[f64; 2]>,
    /// The least and the most that the band may be long without its ties, in millimetres.
    pub length_mm: Option<[f64; 2]>,
    /// The codes of findings, in any order. What is listed must be found, and what is graver
    /// than a note must be listed; `[]` says that there is nothing but notes.
    pub findings: Option<Vec<String>>,
    /// How the band begins, such as "half triangle from the left".
    pub starts: Option<String>,
    /// How the band ends.
    pub finishes: Option<String>,
    /// How the edge runs at the start, such as "slants down to the right".
    pub start_edge: Option<String>,
    /// How the edge runs at the finish.
    pub finish_edge: Option<String>,
    /// The names of the colours at the start, from left to right.
    pub hang: Option<Vec<String>>,
    /// The numbers of the threads by position after one repeat.
    pub order: Option<Vec<u16>>,
    /// The rows of the repeat, as [`grid_of`] writes them.
    pub grid: Option<String>,
    /// The code of the error with which the rule must refuse.
    pub error: Option<String>,
}

/// A number of half rows, which need not be whole.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub enum Amount {
    /// A whole number.
    Whole(u64),
    /// A fraction, such as "7/2".
    Fraction(String),
}

// Derived, this would not say what belongs there.
impl<'de> Deserialize<'de> for Amount {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Either;
        impl Visitor<'_> for Either {
            type Value = Amount;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a whole number, or a fraction such as \"7/2\",")
            }
            fn visit_i64<E: de::Error>(self, number: i64) -> Result<Amount, E> {
                let whole = u64::try_from(number).map(Amount::Whole);
                whole.map_err(|_| E::invalid_value(Unexpected::Signed(number), &self))
            }
            fn visit_u64<E>(self, number: u64) -> Result<Amount, E> {
                Ok(Amount::Whole(number))
            }
            fn visit_str<E>(self, text: &str) -> Result<Amount, E> {
                Ok(Amount::Fraction(text.to_owned()))
            }
        }
        deserializer.deserialize_any(Either)
    }
}

/// What came of a case.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct CaseOutcome {
    /// The case.
    pub name: String,
    /// What was expected and is not so.
    pub differences: Vec<FactDifference>,
}

/// A measure that is not as it was expected.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct FactDifference {
    /// Which measure, by its name in the file.
    pub measure: &'static str,
    /// What the case says; several lines for a grid.
    pub expected: String,
    /// What the band has.
    pub got: String,
}

/// How long the bands of cases are where they say nothing.
const ORDINARY_LENGTH_MM: f64 = 30.0;

impl CaseOutcome {
    /// Whether everything is as expected.
    #[must_use]
    pub fn holds(&self) -> bool {
        self.differences.is_empty()
    }
}

impl Cases {
    /// Reads the tests of a rule. Their `file` is what messages call them.
    ///
    /// ```
    /// use hitchwork_rules::cases::Cases;
    /// let cases = "[[case]]\nname = \"with the defaults\"\nexpect = { threads = 8 }\n";
    /// assert_eq!(Cases::read("drift.tests.toml", cases)?.cases.len(), 1);
    /// // What expects nothing could not fail.
    /// assert!(Cases::read("drift.tests.toml", "[[case]]\nname = \"as it is\"\n").is_err());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the text cannot be read, with the place; when a case expects nothing, or there
    /// are no cases: such tests could not fail.
    pub fn read(file: &str, text: &str) -> Result<Self, Error> {
        let source = [Source {
            file: file.to_owned(),
            text: text.to_owned(),
        }];
        let cases: Self = from_toml(text).map_err(|unread| {
            let help = "each test is a [[case]] with a name, settings and what it expects";
            let place = unread.place.map(|span| spot(file, text, span));
            let message = format!("{file} cannot be read: {}", unread.words);
            Error::one(
                Diagnostic {
                    place,
                    ..Diagnostic::new("not-tests", message, help)
                },
                &source,
            )
        })?;
        let refused = |message: String, help| {
            Err(Error::one(
                Diagnostic::new("not-tests", message, help),
                &source,
            ))
        };
        if cases.cases.is_empty() {
            let help = "write a [[case]] with a name, settings and what it expects";
            return refused(format!("{file} has no cases"), help);
        }
        let silent = |case: &&Case| case.expect == Expected::default();
        if let Some(case) = cases.cases.iter().find(silent) {
            let help =
                "say what must hold, for example expect = { repeats_to_close = 6, findings = [] }";
            let message = format!(
                "the case \"{}\" in {file} expects nothing, so it could not fail",
                case.name
            );
            return refused(message, help);
        }
        let range = 1.0..=100_000.0;
        let long = |case: &&Case| case.length_mm.is_some_and(|mm| !range.contains(&mm));
        if let Some(case) = cases.cases.iter().find(long) {
            let message = format!(
                "length_mm of the case \"{}\" in {file} is {} mm, which no band can have",
                case.name,
                case.length_mm.unwrap_or_default()
            );
            return refused(message, "give a length from 1 to 100,000 mm");
        }
        Ok(cases)
    }

    /// Runs all cases.
    #[must_use]
    pub fn run(&self, rules: &Rules, rule: &Rule) -> Vec<CaseOutcome> {
        self.cases
            .iter()
            .map(|case| CaseOutcome {
                name: case.name.clone(),
                differences: case.differences(rules, rule),
            })
            .collect()
    }
}

impl Case {
    fn differences(&self, rules: &Rules, rule: &Rule) -> Vec<FactDifference> {
        let length_mm = self.length_mm.unwrap_or(ORDINARY_LENGTH_MM);
        let settings = Settings::new().seed(self.seed).length_mm(length_mm);
        let settings = self
            .settings
            .iter()
            .fold(settings, |settings, (name, value)| {
                settings.set(name.as_str(), value.clone())
            });
        match (rules.make(rule, &settings), &self.expect.error) {
            (Ok(made), None) => self.expect.differences(&Tied::of(made.band)),
            (Ok(made), Some(code)) => vec![FactDifference {
                measure: "error",
                expected: code.clone(),
                got: format!("the band \"{}\"", made.band.title()),
            }],
            (Err(error), expected) => {
                let code = error.diagnostics().first().map_or("", |first| first.code);
                if expected.as_deref() == Some(code) {
                    return Vec::new();
                }
                vec![FactDifference {
                    measure: "error",
                    expected: expected.clone().unwrap_or("none".to_owned()),
                    got: format!("{code}: {error}"),
                }]
            }
        }
    }
}

/// A symmetry by its name and its symbol, whichever of them a test says; as it stands where
/// there is none of that name.
fn symmetry_called(name: &str) -> String {
    Frieze::named(name.trim()).map_or(name.to_owned(), |group| group.to_string())
}

impl Expected {
    /// The measures that a band does not have.
    #[must_use]
    pub fn differences(&self, tied: &Tied) -> Vec<FactDifference> {
        let (band, report) = (tied.band(), tied.report());
        let mut found = Differences(Vec::new());
        found.whole("threads", self.threads, report.threads);
        found.whole("colours", self.colours, report.colours);
        found.whole(
            "repeats_to_close",
            self.repeats_to_close,
            report.repeats_to_close,
        );
        found.whole(
            "colour_repeats_to_close",
            self.colour_repeats_to_close,
            report.colour_repeats_to_close,
        );
        let drifts_by = report.drift.map_or(0, |drift| drift.steps_per_repeat);
        found.whole("drifts_by", self.drifts_by, drifts_by);
        found.whole("rows", self.rows, report.rows_per_repeat);
        found.whole("knots", self.knots, report.knots_per_repeat);
        let half_rows = self.half_rows.as_ref().map(|amount| match amount {
            Amount::Whole(number) => number.to_string(),
            Amount::Fraction(text) => text.trim().to_owned(),
        });
        found.text(
            "half_rows",
            half_rows,
            report.half_rows_per_repeat_exact.clone(),
        );
        let symmetry = &report.symmetry;
        found.text(
            "knot_symmetry",
            self.knot_symmetry.as_deref().map(symmetry_called),
            symmetry.knots.to_string(),
        );
        let colours = symmetry.colours.map(|group| group.to_string());
        found.text(
            "colour_symmetry",
            self.colour_symmetry.as_deref().map(symmetry_called),
            colours.unwrap_or("unknown".to_owned()),
        );
        found.between("width_mm", self.width_mm, report.size_mm.width);
        found.between("length_mm", self.length_mm, report.size_mm.length);
        self.findings_in(report, &mut found);
        let (start, finish) = (band.start().shape.name(), band.finish().shape.name());
        found.text("starts", self.starts.clone(), start.to_owned());
        found.text("finishes", self.finishes.clone(), finish.to_owned());
        let edge = |edge: &hitchwork_core::proof::Edge| {
            edge.shape.words().trim_start_matches("is ").to_owned()
        };
        found.text(
            "start_edge",
            self.start_edge.clone(),
            edge(&report.edges.start),
        );
        found.text(
            "finish_edge",
            self.finish_edge.clone(),
            edge(&report.edges.finish),
        );
        let hang: Vec<&str> = band.colours().map(|colour| colour.name.as_str()).collect();
        found.text("hang", self.hang.as_deref().map(listed), listed(&hang));
        let order = listed(&report.order_after_repeat);
        found.text("order", self.order.as_deref().map(listed), order);
        let grid = self.grid.as_ref().map(|grid| {
            let lines = grid.lines().map(str::trim).filter(|line| !line.is_empty());
            lines.collect::<Vec<_>>().join("\n")
        });
        let tied = grid_of(band.repeat(), band.thread_count());
        found.text("grid", grid, tied.trim_end().to_owned());
        found.0
    }

    /// What is listed must be found, and what is graver than a note must be listed.
    fn findings_in(&self, report: &Report, found: &mut Differences) {
        let Some(expected) = &self.findings else {
            return;
        };
        let listed_codes: BTreeSet<&str> = expected.iter().map(String::as_str).collect();
        let all = || report.findings.iter();
        let codes: BTreeSet<&str> = all().map(|finding| finding.code.name()).collect();
        let mut grave = all().filter(|finding| finding.severity > Severity::Note);
        if listed_codes.is_subset(&codes)
            && grave.all(|finding| listed_codes.contains(finding.code.name()))
        {
            return;
        }
        let words = |codes: BTreeSet<&str>| listed(&codes.into_iter().collect::<Vec<_>>());
        found.text("findings", Some(words(listed_codes)), words(codes));
    }
}

struct Differences(Vec<FactDifference>);

impl Differences {
    fn text(&mut self, measure: &'static str, expected: Option<String>, got: String) {
        if let Some(expected) = expected.filter(|expected| *expected != got) {
            self.0.push(FactDifference {
                measure,
                expected,
                got,
            });
        }
    }

    fn whole<T: ToString + Copy>(&mut self, measure: &'static str, expected: Option<T>, got: T) {
        let expected = expected.map(|expected| expected.to_string());
        self.text(measure, expected, got.to_string());
    }

    fn between(&mut self, measure: &'static str, expected: Option<[f64; 2]>, got: f64) {
        if let Some([least, most]) =
            expected.filter(|[least, most]| !(*least..=*most).contains(&got))
        {
            self.0.push(FactDifference {
                measure,
                expected: format!("from {least} to {most}"),
                got: got.to_string(),
            });
        }
    }
}

fn listed<T: ToString>(entries: &[T]) -> String {
    if entries.is_empty() {
        return "none".to_owned();
    }
    let entries: Vec<String> = entries.iter().map(ToString::to_string).collect();
    entries.join(", ")
}
