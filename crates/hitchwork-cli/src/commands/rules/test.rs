//! `rules test`: the tests that are written beside rules.

use std::path::{Path, PathBuf};

use hitchwork_rules::cases::{CaseOutcome, Cases, FactDifference};
use hitchwork_rules::load::FileKind;
use hitchwork_rules::{Rule, Rules, built_in_names, built_in_tests};
use owo_colors::Style;
use serde::Serialize;

use crate::arguments::RulesTest;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

#[derive(Serialize)]
struct Tested {
    rule: String,
    cases: Vec<CaseOutcome>,
}

pub(super) fn run(test: &RulesTest) -> Result<Verdict, Trouble> {
    let rules = input::language();
    let here = [".".to_owned()];
    let subjects = if test.rules.is_empty() {
        &here[..]
    } else {
        &test.rules
    };
    let mut tested = Vec::new();
    for subject in subjects {
        if Path::new(subject).is_dir() {
            for file in tests_in(Path::new(subject))? {
                let rule = rule_of(&file);
                tested.push(test_file(&rules, &rule)?);
            }
        } else if let Some(tests) = built_in_tests(subject) {
            let rule = rules.built_in(subject).expect("it has tests");
            let cases = Cases::read(&format!("{subject}.tests.toml"), tests)?;
            tested.push(run_cases(&rules, &rule, &cases));
        } else {
            tested.push(test_file(&rules, subject)?);
        }
    }
    if test.json {
        say::json(&tested)?;
    } else {
        say::out(words(&tested))?;
    }
    let all_hold = tested.iter().all(Tested::holds);
    Ok(if all_hold {
        Verdict::Sound
    } else {
        Verdict::Unsound
    })
}

impl Tested {
    fn holds(&self) -> bool {
        self.cases.iter().all(CaseOutcome::holds)
    }
}

fn run_cases(rules: &Rules, rule: &Rule, cases: &Cases) -> Tested {
    Tested {
        rule: rule.name().to_owned(),
        cases: cases.run(rules, rule),
    }
}

fn test_file(rules: &Rules, file: &str) -> Result<Tested, Trouble> {
    let rule = input::rule(rules, file)?;
    let tests = Path::new(file).with_extension("tests.toml");
    let shown = tests.display().to_string();
    if !tests.exists() {
        let help = format!(
            "write cases into {shown}; `hitchwork explain not-tests` shows one, and `hitchwork rules test {}` runs those of a built-in rule",
            built_in_names().next().unwrap_or_default()
        );
        return Err(Trouble::new(format!("{file} has no tests beside it"), help));
    }
    let cases = Cases::read(&shown, &input::text(&shown, FileKind::Tests)?)?;
    Ok(run_cases(rules, &rule, &cases))
}

/// The files of tests in a folder, in alphabetical order.
fn tests_in(place: &Path) -> Result<Vec<PathBuf>, Trouble> {
    let entries = std::fs::read_dir(place).and_then(Iterator::collect::<Result<Vec<_>, _>>);
    let entries = entries.map_err(|error| {
        Trouble::new(
            format!(
                "{} cannot be read: {}",
                place.display(),
                folder::reason(&error)
            ),
            "check the path",
        )
    })?;
    let is_tests = |file: &PathBuf| file.to_string_lossy().ends_with(".tests.toml");
    let mut files: Vec<PathBuf> = entries.into_iter().map(|entry| entry.path()).collect();
    files.retain(is_tests);
    files.sort();
    if files.is_empty() {
        return Err(Trouble::new(
            format!("there are no tests in {}", place.display()),
            "tests stand beside their rule, in NAME.tests.toml; `hitchwork rules new NAME` writes both",
        ));
    }
    Ok(files)
}

/// The rule beside which a file of tests stands.
fn rule_of(tests: &Path) -> String {
    let tests = tests.to_string_lossy();
    let stem = tests.strip_suffix(".tests.toml").unwrap_or(&tests);
    format!("{}.rhai", stem.strip_prefix("./").unwrap_or(stem))
}

fn words(tested: &[Tested]) -> String {
    let mut text = String::new();
    let widest = tested.iter().map(|tested| tested.rule.len()).max();
    for Tested { rule, cases } in tested {
        let failed = cases.iter().filter(|case| !case.holds()).count();
        let name = format!("{rule:<width$}", width = widest.unwrap_or(0));
        let verdict = match failed {
            0 if cases.len() == 1 => "1 case holds".styled(good()).to_string(),
            0 => format!("{} cases hold", cases.len())
                .styled(good())
                .to_string(),
            failed => does_not_hold(failed, cases.len()).styled(bad()).to_string(),
        };
        text.push_str(&format!("{}  {verdict}\n", name.styled(say::heading())));
        for case in cases.iter().filter(|case| !case.holds()) {
            text.push_str(&format!("  {}\n", case.name.styled(say::heading())));
            for difference in &case.differences {
                text.push_str(&one(difference));
            }
        }
    }
    text
}

fn does_not_hold(failed: usize, of: usize) -> String {
    match (failed, of) {
        (1, 1) => "1 case does not hold".to_owned(),
        (1, of) => format!("1 of {of} cases does not hold"),
        (failed, of) => format!("{failed} of {of} cases do not hold"),
    }
}

fn one(difference: &FactDifference) -> String {
    let FactDifference {
        measure,
        expected,
        got,
        ..
    } = difference;
    if *measure != "grid" {
        return format!(
            "    {measure}\n      expected  {}\n      got       {}\n",
            expected.styled(good()),
            got.styled(bad())
        );
    }
    let mut text = format!(
        "    {measure}   {} expected, {} got\n",
        "-".styled(good()),
        "+".styled(bad())
    );
    let (mut expected, mut got) = (expected.lines(), got.lines());
    loop {
        match (expected.next(), got.next()) {
            (None, None) => return text,
            (Some(expected), Some(got)) if expected == got => {
                text.push_str(&format!("        {got}\n"));
            }
            (expected, got) => {
                if let Some(expected) = expected {
                    text.push_str(&format!(
                        "      {}\n",
                        format!("- {expected}").styled(good())
                    ));
                }
                if let Some(got) = got {
                    text.push_str(&format!("      {}\n", format!("+ {got}").styled(bad())));
                }
            }
        }
    }
}

fn good() -> Style {
    Style::new().green()
}

fn bad() -> Style {
    Style::new().red()
}
