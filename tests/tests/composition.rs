//! What can be made of rows, bands and other rules inside a rule.

use hitchwork_core::band::Band;
use hitchwork_core::proof::{Permutation, Severity, growth};
use hitchwork_rules::{Answer, Error, Rules, Settings, Source, Sources};
use hitchwork_tests::{golden, made};

/// Rules by name, as if they lay in a folder.
#[derive(Clone, Debug)]
struct Locker(&'static [(&'static str, &'static str)]);

impl Sources for Locker {
    fn source(&self, name: &str) -> Answer {
        let found = self.0.iter().find(|(known, _)| *known == name);
        Ok(found.map(|(name, text)| Source {
            file: format!("{name}.rhai"),
            text: (*text).to_owned(),
        }))
    }
}

const LOCKER: Locker = Locker(&[
    (
        "rope",
        "let threads = whole(\"threads\", 4, 2..=40, \"threads\");\nband(threads).repeat(forward(1..threads))",
    ),
    (
        "knots",
        "fn zigzag(n) { [forward(1..n), backward(1..n)] }\nfn outside(n) {\n    forward(n - 100)\n}",
    ),
    ("broken", "band(4)\n    .repeat(forwrd(1..4))"),
    ("unreadable", "band(4"),
    ("chicken", "rule(\"egg\")"),
    ("egg", "let band = rule(\"chicken\");\nband"),
    ("self", "import \"self\" as me;\nband(4)"),
    ("seven", "7"),
    (
        "dice",
        "band(4).repeat(forward(1..4)).notes(`${roll(1..=1000)} ${roll(1..=1000)}`)",
    ),
]);

fn run(text: &str, settings: &Settings) -> Result<Band, Error> {
    let rules = Rules::new();
    let rule = rules.compile("harbour.rhai", text)?.finding(LOCKER);
    Ok(rules.make(&rule, settings)?.band)
}

fn band(text: &str) -> Band {
    run(text, &Settings::new()).unwrap_or_else(|error| panic!("{}", error.render(false)))
}

fn rows(text: &str) -> Vec<String> {
    let band = band(&format!("band(12).repeat({text})"));
    band.repeat().iter().map(ToString::to_string).collect()
}

#[test]
fn inverted_knots_let_the_other_thread_work() {
    assert_eq!(
        rows("(forward(1..=2) + backward_forward(3)).inverted()"),
        ["backward at 1, backward at 2, forward-backward at 3"]
    );
    assert_eq!(
        rows("[forward(3), backward(2)].inverted()"),
        ["backward at 3", "forward at 2"]
    );
}

#[test]
fn rows_of_two_rules_can_be_interleaved() {
    assert_eq!(
        rows("interleaved([forward(1), forward(2), forward(3)], backward(9))"),
        [
            "forward at 1",
            "backward at 9",
            "forward at 2",
            "forward at 3"
        ]
    );
}

#[test]
fn every_k_th_row_and_column_can_be_taken() {
    assert_eq!(
        rows("forward(every(1..9, 3))"),
        ["forward at 1, forward at 4, forward at 7"]
    );
    assert_eq!(
        rows("forward(every(1..=10, 3)).every(2)"),
        ["forward at 1, forward at 7"]
    );
    assert_eq!(
        rows("[forward(1), forward(2), forward(3)].every(2)"),
        ["forward at 1", "forward at 3"]
    );
}

#[test]
fn a_grid_is_tied_as_it_is_drawn() {
    let drawn = r"grid(`
        \\>
        ..//
        /.<
    `)";
    assert_eq!(
        rows(drawn),
        [
            "forward at 1, forward at 2, forward-backward at 3",
            "backward at 4, backward at 3",
            "backward at 1, backward-forward at 3",
        ]
    );
    let back = band(&format!(
        "band(5).repeat({drawn}).notes(grid_of({drawn}, 5))"
    ));
    assert_eq!(back.notes(), "\\\\>.\n..//\n/.<.\n");
}

#[test]
fn knots_of_a_grid_remember_their_line() {
    let band = band("let rows = grid(`\n    \\\\\n    /<\n`);\nband(3).repeat(rows)");
    let places: Vec<_> = band
        .repeat()
        .iter()
        .flat_map(hitchwork_core::row::Row::knots)
        .map(|knot| knot.place().map(|place| (place.line, place.character)))
        .collect();
    assert_eq!(
        places,
        [Some((2, 5)), Some((2, 6)), Some((3, 5)), Some((3, 6))]
    );
}

#[test]
fn bands_beside_each_other_hold_together_and_grow_evenly() {
    for (left, right) in [
        ("candy_stripe", "candy_stripe"),
        ("straight_drift", "checks"),
        ("zigzag", "candy_stripe"),
        ("checks", "checks"),
    ] {
        let text = format!("rule(\"{left}\").beside(rule(\"{right}\"))");
        let report = made::report(&band(&text));
        let splits = report
            .findings
            .iter()
            .any(|finding| finding.severity == Severity::Error);
        assert!(!splits, "{left} beside {right}: {:?}", report.findings);
    }
}

#[test]
fn two_alike_stripes_beside_each_other_are_one_even_band() {
    let both = band("rule(\"rope\").beside(rule(\"rope\"))");
    assert_eq!(both.thread_count(), 8);
    let counts = made::report(&both).knots_by_column;
    assert!(counts.iter().all(|count| *count == counts[0]), "{counts:?}");
    // Held together only, each half closes for itself.
    assert_eq!(Permutation::of_rows(both.repeat(), 8).order(), 4);
    let exchanging = band("rule(\"rope\").beside(rule(\"rope\"), forward(4))");
    assert_eq!(
        Permutation::of_rows(exchanging.repeat(), 8).cycles().len(),
        1
    );
}

#[test]
fn brick_rows_beside_each_other_meet_in_the_row_that_has_room() {
    let brick = "let pair = lattice(4, 2, |row, column| forward(column));";
    let both = band(&format!(
        "{brick} band(8).repeat(beside(pair, 4, pair, forward_backward(4)))"
    ));
    let text: Vec<String> = both.repeat().iter().map(ToString::to_string).collect();
    assert_eq!(
        text,
        [
            "forward at 1, forward at 3, forward at 5, forward at 7",
            "forward at 2, forward at 6, forward-backward at 4",
        ]
    );
    // As much as one of them alone: the joining takes no rows of its own.
    let alone = band(&format!("{brick} band(4).repeat(pair)"));
    assert_eq!(growth(both.repeat(), 8), growth(alone.repeat(), 4));
}

#[test]
fn repeats_of_different_lengths_end_together() {
    let both = band(
        "let two = band(3).repeat([forward(1), forward(2)]);\nlet three = band(3).repeat([forward(1), forward(2), backward(1)]);\ntwo.beside(three)",
    );
    assert_eq!(both.repeat().len(), 6);
}

#[test]
fn the_colours_of_two_bands_come_together() {
    let both = band("rule(\"rope\").mirrored().beside(rule(\"rope\"))");
    let names: Vec<&str> = both.colours().map(|colour| colour.name.as_str()).collect();
    let mirrored: Vec<&str> = names.iter().rev().copied().collect();
    assert_eq!(names, mirrored);
}

#[test]
fn a_row_and_a_list_of_rows_join() {
    let [out, back] = ["forward(1..4)", "backward(1..4)"];
    let list = rows(&format!("[{out}, {back}, {back}]"));
    assert_eq!(rows(&format!("{out} + [{back}, {back}]")), list);
    assert_eq!(rows(&format!("[{out}, {back}] + {back}")), list);
    // Two rows join into one, as ever.
    assert_eq!(rows(&format!("{out} + {back}")).len(), 1);
}

#[test]
fn bands_follow_each_other() {
    let both = band("rule(\"rope\") + rule(\"rope\").mirrored()");
    assert_eq!(both.repeat().len(), 2);
    // The second row carries every thread back.
    assert_eq!(Permutation::of_rows(both.repeat(), 4).order(), 1);
}

#[test]
fn mirror_upside_down_and_half_turn_of_bands_fit_together() {
    let of = |operations: &str| {
        let band = band(&format!("rule(\"drift\"){operations}"));
        (
            band.repeat().to_vec(),
            band.thread_colours().to_vec(),
            band.start(),
            band.finish(),
        )
    };
    assert_eq!(of(".half_turned()").0, of(".upside_down().mirrored()").0);
    assert_eq!(of(".mirrored().mirrored()").0, of("").0);
    assert_eq!(of(".inverted().inverted()").0, of("").0);
}

#[test]
fn another_rule_takes_its_settings_and_reads_as_rows() {
    let band = band(
        "let inner = rule(\"rope\", #{ threads: 6 });\nband(inner.threads + 1).repeat(inner.rows.shift(1) + [forward(1)]).colours([colour(\"edge\", \"#102030\")] + inner.hung)",
    );
    assert_eq!(band.thread_count(), 7);
    assert_eq!(band.sources(), ["harbour.rhai", "rope.rhai"]);
    let places: Vec<u16> = band
        .repeat()
        .iter()
        .flat_map(hitchwork_core::row::Row::knots)
        .filter_map(|knot| knot.place())
        .map(|place| place.source)
        .collect();
    assert_eq!(places, [1, 1, 1, 1, 1, 0]);
}

#[test]
fn functions_of_another_rule_can_be_imported() {
    let band = band("import \"knots\" as knots;\nband(5).repeat(knots::zigzag(5))");
    assert_eq!(band.repeat().len(), 2);
    let place = band.repeat()[0].knots()[0].place().expect("made by a rule");
    assert_eq!(
        (
            band.sources()[usize::from(place.source)].as_str(),
            place.line
        ),
        ("knots.rhai", 1)
    );
}

#[test]
fn every_call_of_a_rule_has_a_chance_of_its_own() {
    let rolled = |text: &str, seed| {
        run(text, &Settings::new().seed(seed))
            .expect("a band")
            .notes()
            .to_owned()
    };
    let first = rolled("rule(\"dice\")", 7);
    let second = rolled("let first = rule(\"dice\");\nrule(\"dice\")", 7);
    assert_ne!(first, second);
    // What the caller rolls itself does not move the chance of the others.
    assert_eq!(
        first,
        rolled("let spent = [roll(1..=6), roll(1..=6)];\nrule(\"dice\")", 7)
    );
    assert_ne!(first, rolled("rule(\"dice\")", 8));
    assert_eq!(first, rolled("rule(\"dice\")", 7));
}

/// Slips with other rules, each with what is wrong with it.
const SLIPS: [(&str, &str); 16] = [
    ("a rule that there is not", "rule(\"rop\")"),
    ("a misspelt built-in rule", "rule(\"chevrn\")"),
    ("a rule with its ending", "rule(\"rope.rhai\")"),
    ("a way out", "rule(\"../rope\")"),
    (
        "a setting that there is not",
        "rule(\"rope\", #{ thrads: 8 })",
    ),
    (
        "a setting out of range",
        "let n = 99;\nrule(\"rope\", #{ threads: n })",
    ),
    (
        "a setting that is none",
        "rule(\"rope\", #{ threads: forward(1) })",
    ),
    (
        "an error in another rule",
        "fn inner() {\n    rule(\"broken\")\n}\ninner()",
    ),
    ("another rule that cannot be read", "rule(\"unreadable\")"),
    ("rules in a circle", "rule(\"chicken\")"),
    (
        "a rule that imports itself",
        "import \"self\" as other;\nband(4)",
    ),
    ("a rule without a band", "rule(\"seven\")"),
    (
        "an error in an imported function",
        "import \"knots\" as knots;\nband(5).repeat(knots::outside(5))",
    ),
    (
        "an import that there is not",
        "import \"knits\" as knots;\nband(5)",
    ),
    (
        "a mark that is none",
        "band(5).repeat(grid(`\n    \\\\..\n    .o\\\\\n`))",
    ),
    (
        "bands that are joined elsewhere",
        "rule(\"rope\").beside(rule(\"rope\"), forward(3))",
    ),
];

#[test]
fn slips_with_other_rules_are_explained_where_they_happen() {
    let mut said = String::new();
    for (what, text) in SLIPS {
        let error = run(text, &Settings::new())
            .err()
            .unwrap_or_else(|| panic!("{what}: let through"));
        said += &format!("# {what}\n{}\n\n", error.render(false));
    }
    golden::check("tests/golden/composition_errors.txt", &said);
}
