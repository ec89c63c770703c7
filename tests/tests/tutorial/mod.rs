//! The tutorial and the gallery of rules: every step runs, says what is so, and shows it.
//!
//! `RENEW=1 cargo test -p hitchwork-tests tutorial` writes measures, pages and
//! pictures anew, and fails.

use std::fs;
use std::path::{Path, PathBuf};

use hitchwork_core::band::Band;
use hitchwork_core::care::care;
use hitchwork_core::proof::Report;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{FabricOptions, svg};
use hitchwork_draw::png as painter;
use hitchwork_rules::cases::Cases;
use hitchwork_rules::{Rule, Rules, Settings, built_in_names};
use hitchwork_tests::{golden, made};

mod small;

const TUTORIAL: &str = "crates/hitchwork-rules/TUTORIAL.md";
const GALLERY: &str = "crates/hitchwork-rules/RULES.md";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("..")
}

fn tutorial() -> String {
    fs::read_to_string(root().join(TUTORIAL)).expect("the tutorial is there")
}

fn blocks(page: &str, language: &str) -> Vec<String> {
    let fence = format!("```{language}\n");
    let block = |rest: &str| rest.split_once("\n```").map(|(block, _)| block.to_owned());
    page.split(&fence).skip(1).filter_map(block).collect()
}

fn steps(rules: &Rules) -> Vec<Rule> {
    let compiled = |block: &String| {
        rules
            .compile("pier", block)
            .unwrap_or_else(|error| panic!("{block}\n{}", error.render(false)))
    };
    blocks(&tutorial(), "rhai").iter().map(compiled).collect()
}

fn make(rules: &Rules, rule: &Rule) -> Band {
    let made = rules.make(rule, &Settings::new());
    made.unwrap_or_else(|error| panic!("{}", error.render(false)))
        .band
}

/// What a step says of its band, in one line.
fn measures(report: &Report) -> String {
    let counted = |number: usize, thing: &str| {
        let plural = if number == 1 { "" } else { "s" };
        format!("{number} {thing}{plural}")
    };
    let drift = report.drift.map_or("do not drift".to_owned(), |drift| {
        format!(
            "drift {} at every repeat",
            counted(drift.steps_per_repeat, "step")
        )
    });
    let repeats = usize::try_from(report.repeats_to_close).expect("few");
    let codes: Vec<&str> = report
        .findings
        .iter()
        .map(|finding| finding.code.name())
        .collect();
    format!(
        "> {}; the repeat is {} of {}; comes round after {}; the colours {drift}; {:.1} cm wide; findings: {}.",
        counted(report.threads.into(), "thread"),
        counted(report.rows_per_repeat, "row"),
        counted(report.knots_per_repeat, "knot"),
        counted(repeats, "repeat"),
        report.size_mm.width / 10.0,
        if codes.is_empty() {
            "none".to_owned()
        } else {
            codes.join(", ")
        },
    )
}

/// A picture about as large as a page is wide, of the first half rows.
fn picture(band: &Band, half_rows: f64, pixels_per_mm: f64) -> Vec<u8> {
    let tied = Tied::of(band.clone());
    // As long as it lies, not as it would on the lattice.
    let lies = tied.lay().repeat_mm();
    let each = match lies {
        Some(mm) => mm / band.gauge().half_row_mm,
        None => tied.report().half_rows_per_repeat,
    };
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a few repeats"
    )]
    let repeats = (half_rows / each).ceil() as u32;
    let options = FabricOptions {
        repeats: Some(repeats.max(1)),
        pixels_per_mm,
        ..FabricOptions::default()
    };
    let picture = svg(&tied, &options).expect("drawable");
    small::with_few_colours(&painter::render(&picture, 1.0).expect("paintable"))
}

/// Compares pictures with their files, byte for byte: the painter is part of the project.
fn check_pictures(pictures: &[(String, Vec<u8>)]) {
    let mut stale = Vec::new();
    for (file, got) in pictures {
        let path = root().join(file);
        if fs::read(&path).unwrap_or_default() == *got {
            continue;
        }
        stale.push(file);
        if std::env::var_os("RENEW").is_some() {
            fs::create_dir_all(path.parent().expect("in a folder")).expect("writable");
            fs::write(&path, got).expect("writable");
        }
    }
    assert!(
        stale.is_empty(),
        "these no longer show their bands (RENEW=1 paints them anew; look at them then): {stale:?}"
    );
}

#[test]
fn every_step_says_what_is_so() {
    let rules = Rules::new();
    let steps = steps(&rules);
    assert_eq!(steps.len(), 19, "eighteen steps and a closing example");
    let page = tutorial();
    let mut renewed = page.clone();
    for (number, rule) in (1..).zip(&steps) {
        let mark = format!("<!-- measures of step {number} -->\n");
        let (before, after) = renewed
            .split_once(&mark)
            .expect("every step has its measures");
        let after = after.strip_prefix('>').map_or(after, |old| {
            old.split_once("\n").map_or("", |(_, rest)| rest)
        });
        renewed = format!(
            "{before}{mark}{}\n{after}",
            measures(&made::report(&make(&rules, rule)))
        );
    }
    let mark = "<!-- care -->\n";
    let (before, after) = renewed.split_once(mark).expect("the place of the cautions");
    let after = after.trim_start_matches('\n');
    let after = match after.starts_with("- ") {
        true => after.split_once("\n\n").map_or("", |(_, rest)| rest),
        false => after,
    };
    let lines = care(false).into_iter().map(|line| format!("- {line}\n"));
    let renewed = format!("{before}{mark}{}\n{after}", lines.collect::<String>());
    golden::check(TUTORIAL, &renewed);
}

#[test]
fn every_step_has_its_picture() {
    let rules = Rules::new();
    let page = tutorial();
    let shown = |(number, rule): (usize, Rule)| {
        let file = format!("demo/pictures/tutorial/{number:02}.png");
        assert!(page.contains(&file), "{file}");
        (file, picture(&make(&rules, &rule), 44.0, 9.0))
    };
    let pictures: Vec<_> = (1..).zip(steps(&rules)).map(shown).collect();
    check_pictures(&pictures);
}

/// The first picture of the README is the band of the command above it.
#[test]
fn the_readme_begins_with_the_picture_of_its_command() {
    let readme = fs::read_to_string(root().join("README.md")).expect("there");
    let (before, _) = readme
        .split_once("](demo/pictures/drift.png)")
        .expect("its picture");
    let command = before.lines().find(|line| line.contains("make drift"));
    let words = command.expect("above the picture").split_whitespace();
    let set = words.filter_map(|word| word.split_once('='));
    let settings = set.fold(Settings::new(), |settings, (name, value)| {
        settings.set(name, value)
    });
    assert_eq!(settings.names().collect::<Vec<_>>(), ["threads", "turns"]);
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("listed");
    let band = rules.make(&rule, &settings).expect("made").band;
    assert_eq!(band.thread_count(), 10);
    let options = FabricOptions {
        pixels_per_mm: 8.0,
        ..FabricOptions::default()
    };
    let picture = svg(&Tied::of(band), &options).expect("drawable");
    let picture = small::with_few_colours(&painter::render(&picture, 1.0).expect("paintable"));
    check_pictures(&[("demo/pictures/drift.png".to_owned(), picture)]);
}

#[test]
fn the_tests_that_the_tutorial_writes_hold() {
    let rules = Rules::new();
    let steps = steps(&rules);
    let tests = blocks(&tutorial(), "toml");
    let cases = Cases::read("pier.tests.toml", &tests[0]).expect("readable");
    for outcome in cases.run(&rules, &steps[9]) {
        assert!(outcome.holds(), "{outcome:?}");
    }
}

#[test]
fn what_can_be_set_in_the_tutorial_can_be_set_everywhere_in_its_range() {
    let rules = Rules::new();
    for rule in steps(&rules) {
        for parameter in rules.parameters(&rule, &Settings::new()) {
            let hitchwork_rules::Range::Whole { least, most } = parameter.range else {
                continue;
            };
            for value in least..=most {
                let settings = Settings::new().set(parameter.name.as_str(), value);
                let made = rules.make(&rule, &settings);
                if let Err(error) = made {
                    let code = error.diagnostics()[0].code;
                    assert_eq!(code, "requirement", "{}", error.render(false));
                }
            }
        }
    }
}

#[test]
fn the_gallery_shows_every_built_in_rule() {
    let rules = Rules::new();
    let mut page = String::from(
        "# The built-in rules\n\nEach makes a family of bands: `hitchwork make NAME --set …` makes one of them, and\n`hitchwork rules show NAME` shows how the rule is written. The pictures show each rule as it\nis by default.\n",
    );
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("listed");
        page.push_str(&format!(
            "\n## {name}\n\n{}\n\n![{}](../../demo/pictures/rules/{name}.png)\n\n",
            rule.description().replace('\n', " "),
            rule.sentence().trim_end_matches('.'),
        ));
        page.push_str("| setting | takes | default | it means |\n| --- | --- | --- | --- |\n");
        for parameter in rules.parameters(&rule, &Settings::new()) {
            let takes = match &parameter.range {
                hitchwork_rules::Range::Palette { .. } => "a palette".to_owned(),
                range => range.words(),
            };
            page.push_str(&format!(
                "| `{}` | {takes} | {} | {} |\n",
                parameter.name, parameter.default, parameter.sentence
            ));
        }
    }
    golden::check(GALLERY, &page);
}

#[test]
fn every_built_in_rule_has_its_picture() {
    let rules = Rules::new();
    let shown = |name| {
        let band = make(&rules, &rules.built_in(name).expect("listed"));
        let file = format!("demo/pictures/rules/{name}.png");
        (file, picture(&band, 72.0, 6.0))
    };
    let pictures: Vec<_> = built_in_names().map(shown).collect();
    check_pictures(&pictures);
}
