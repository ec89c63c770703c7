//! What is said about bad rules and settings, as one text to be read aloud.

use std::fmt::Write;

use hitchwork_rules::{Error, Rules, Settings};
use hitchwork_tests::golden;

/// Bad rules, each with what is wrong with it.
const RULES: &[(&str, &str)] = &[
    ("a misspelt function", "band(4).repeat(forwrd(1..4))"),
    (
        "a misspelt variable",
        "let threads = 6;\nband(threds).repeat(forward(1..6))",
    ),
    (
        "a misspelt method",
        "let row = forward(1..4);\nband(4).repeat(row.butt(row))",
    ),
    (
        "a method that there is not",
        "band(4).repeat(forward(1..4)).glitter()",
    ),
    (
        "what a band has, in place of a function",
        "band(4).repeat(row(1..4))",
    ),
    (
        "what a band has, misspelt",
        "let stripe = rule(\"candy_stripe\");\nband(4).repeat(stripe.rws)",
    ),
    ("a kept word", "let thread = 4;\nband(thread)"),
    ("a bracket too few", "band(4).repeat(forward(1..4);"),
    ("a brace too few", "if true { band(4)"),
    (
        "a quote too few",
        "band(4).title(\"Ebb).repeat(forward(1..4))",
    ),
    (
        "a semicolon too few",
        "let row = forward(1..4)\nband(4).repeat(row)",
    ),
    (
        "a semicolon before a method",
        "// Four.\nband(4); // The band.\n\n    // And its row.\n    .repeat(forward(1..4))",
    ),
    ("text for a column", "band(4).repeat(forward(\"3\"))"),
    (
        "a list of text for columns",
        "band(4).repeat(forward([1, \"2\"]))",
    ),
    ("column 0", "band(4).repeat(forward(0))"),
    (
        "a column outside, found late",
        "let n = 4;\nlet rows = [\n    forward(1..n),\n    forward(2..n + 2),\n];\nband(n).repeat(rows)",
    ),
    (
        "a column outside, inside a function",
        "fn edge(n) {\n    forward(n - 9)\n}\nlet row = edge(4);\nband(4).repeat(row)",
    ),
    (
        "an error inside a |…| function",
        "let rows = lattice(6, 2, |row, column| forward(column - 1));\nband(6).repeat(rows)",
    ),
    (
        "a lattice of numbers",
        "band(6).repeat(lattice(6, 2, |row, column| 3))",
    ),
    ("a number for a row", "band(4).repeat([forward(1..4), 7])"),
    ("a row and a number", "forward(1..3) + 3"),
    ("but in a free column", "forward(1..3).but(backward(7))"),
    ("no rows", "band(4)"),
    (
        "an empty row",
        "band(4).repeat([forward(1..4), no_knots()])",
    ),
    ("a column too many", "band(6).repeat(forward(1..7))"),
    (
        "a range that runs downwards",
        "band(6).repeat(forward(6..1))",
    ),
    (
        "a dot too many in a range",
        "band(6).repeat(forward(1...6))",
    ),
    (
        "a palette for a list of colours",
        "band(6).repeat(forward(1..6)).colours(\"evening sky\")",
    ),
    (
        "a palette for a gradient",
        "let threads = 6;\nband(threads).repeat(forward(1..threads)).drift(\"spring tide\")",
    ),
    (
        "text for a number",
        "let threads = whole(\"threads\", \"6\", 4..=8, \"threads\");\nband(threads)",
    ),
    (
        "a length in the rule",
        "band(6).repeat(forward(1..6)).length(15)",
    ),
    ("too many threads", "band(10000)"),
    ("one thread", "band(1)"),
    ("no band", "let band = band(4).repeat(forward(1..4));"),
    (
        "a palette that there is not",
        "band(4).repeat(forward(1..4)).drift(gradient(\"spring tied\", 4))",
    ),
    ("a colour that is none", "colour(\"lamp\", \"#ffc14\")"),
    (
        "too few colours",
        "band(4).repeat(forward(1..4)).colours(gradient(\"gull\", 3))",
    ),
    (
        "a drift that cannot be",
        "band(4)\n    .repeat(forward([1, 3]))\n    .drift(gradient(\"gull\", 4))",
    ),
    (
        "a default outside its range",
        "whole(\"threads\", 3, 4..=40, \"threads\")",
    ),
    (
        "an empty range",
        "let threads = 3;\nplaces(\"turns\", [], 2..=threads - 2, \"turns\")",
    ),
    (
        "a requirement",
        "require(5 % 2 == 0, \"an even number of threads is needed\", \"set threads to 4 or 6\")",
    ),
    ("division by zero", "let n = 0;\nforward(4 / n)"),
    ("printing", "print(\"ebb\")"),
    (
        "an entry that there is not",
        "let list = [1, 2];\nforward(list[2])",
    ),
    (
        "a symmetry that the number of threads forbids",
        "band(7).repeat(random_rows(7, 8, #{ symmetry: \"mirror along and across\" }))",
    ),
    (
        "a symmetry that there is not",
        "band(6).repeat(random_rows(6, 8, #{ symmetry: \"p3\" }))",
    ),
    (
        "a misspelt wish of random rows",
        "band(6).repeat(random_rows(6, 8, #{ smothness: 0.5 }))",
    ),
    (
        "a misspelt kind of random rows",
        "band(6).repeat(random_rows(6, 8, #{ kinds: #{ foward: 1 } }))",
    ),
    (
        "random rows that are odd in number",
        "band(6).repeat(random_rows(6, 7))",
    ),
    (
        "a condition that nothing fulfils",
        "let rows = random_rows(6, 4, #{\n    such_that: |rows| cycles(rows, 6).len() == 7,\n    tries: 20,\n});\nband(6).repeat(rows)",
    ),
    (
        "a condition that is none",
        "band(6).repeat(random_rows(6, 4, #{ such_that: |rows| repeats_to_close(rows, 6) }))",
    ),
    (
        "a piece that decides too little",
        "band(6).repeat(symmetric_rows(6, 8, \"glide\", grid(`\\.\\.\\`)))",
    ),
    (
        "facts of rows outside the band",
        "let rows = forward(1..8);\nrequire(repeats_to_close(rows, 6) < 9, \"slow\", \"tie less\");\nband(8).repeat(rows)",
    ),
];

const STOPPED: [(&str, &str); 7] = [
    (
        "functions in functions before a switch",
        "let f = 0;\nloop {\n    let g = f;\n    f = |x| g;\n    switch f { 1 => 2, _ => 3 }\n}",
    ),
    ("an endless loop", "loop { }"),
    ("an endless call", "fn again(n) { again(n + 1) }\nagain(0)"),
    (
        "a text that doubles",
        "let text = \"ebb\";\nloop { text += text; }",
    ),
    (
        "a list that doubles",
        "let rows = [forward(1)];\nloop { rows += rows; }",
    ),
    (
        "a row that doubles",
        "let row = forward(1);\nloop { row = row + row; }",
    ),
    (
        "a lattice for a giant",
        "lattice(200, 1000000000, |row, column| forward(column))",
    ),
];

fn made(rules: &Rules, text: &str, settings: &Settings) -> Error {
    let rule = match rules.compile("harbour.rhai", text) {
        Ok(rule) => rule,
        Err(error) => return error,
    };
    rules
        .make(&rule, settings)
        .err()
        .unwrap_or_else(|| panic!("this should be refused:\n{text}"))
}

#[test]
fn bad_rules_are_explained_at_their_line() {
    let rules = Rules::new();
    let mut said = String::new();
    for (what, text) in RULES.iter().chain(&STOPPED) {
        let error = made(&rules, text, &Settings::new());
        writeln!(said, "# {what}\n{}\n", error.render(false)).expect("writing to memory");
    }
    golden::check("tests/golden/rule_errors.txt", &said);
}

#[test]
fn what_is_stopped_says_that_a_limit_did_it() {
    let rules = Rules::new();
    for (what, text) in STOPPED {
        assert!(made(&rules, text, &Settings::new()).is_limit(), "{what}");
    }
    for (what, text) in RULES {
        assert!(!made(&rules, text, &Settings::new()).is_limit(), "{what}");
    }
}

#[test]
fn bad_settings_are_explained_with_what_there_is() {
    const RULE: &str = r#"
let threads = whole("threads", 8, 4..=40, "threads on the band");
let slope = number("slope", 0.5, [0.0, 1.0], "how steep");
let hand = choice("hand", "right", ["left", "right"], "which hand");
let border = flag("border", false, "with a border");
let turns = places("turns", [3], 2..=threads - 2, "where threads turn");
let tones = palette("palette", "gull", "the colours");
band(threads).repeat(forward(1..threads)).colours(gradient(tones, threads))
"#;
    let rules = Rules::new();
    let mut said = String::new();
    let wrong = [
        ("thread", "8"),
        ("threads", "3"),
        ("threads", "eight"),
        ("threads", "8.5"),
        ("slope", "1.5"),
        ("slope", "NaN"),
        ("hand", "middle"),
        ("border", "maybe"),
        ("turns", "2,7"),
        ("turns", "2;3"),
        ("palette", "sea"),
    ];
    for (name, value) in wrong {
        let error = made(&rules, RULE, &Settings::new().set(name, value));
        assert!(error.is_setting(), "{name} = {value}");
        writeln!(said, "# {name} = {value}\n{}\n", error.render(false)).expect("writing to memory");
    }
    // A misspelt setting may be why a default does not fit: both are said.
    let depends = "let threads = whole(\"threads\", 8, 4..=40, \"threads\");\nrequire(threads > 9, \"more than 9\", \"set threads\")";
    let error = made(&rules, depends, &Settings::new().set("threds", 12));
    writeln!(
        said,
        "# threds = 12, where the default does not do\n{}\n",
        error.render(false)
    )
    .expect("writing to memory");
    // What is wrong with several settings is said at once.
    let several = Settings::new()
        .set("threads", 3)
        .set("hand", "middle")
        .set("tunrs", "3")
        .set("boarder", true);
    let error = made(&rules, RULE, &several);
    assert_eq!(error.diagnostics().len(), 4, "{}", error.render(false));
    writeln!(
        said,
        "# threads = 3, hand = middle, tunrs = 3, boarder = true\n{}\n",
        error.render(false)
    )
    .expect("writing to memory");
    golden::check("tests/golden/setting_errors.txt", &said);
}

#[test]
fn settings_are_read_as_their_kind_asks() {
    const RULE: &str = r#"
let threads = whole("threads", 8, 4..=40, "threads on the band");
let border = flag("border", false, "with a border");
let turns = places("turns", [3], 2..=threads - 2, "where threads turn");
let row = forward(1..threads).but(forward_backward(turns));
band(threads).repeat(if border { [row, row] } else { [row] })
"#;
    let rules = Rules::new();
    let rule = rules.compile("harbour.rhai", RULE).expect("a good rule");
    let settings = Settings::new()
        .set("threads", "12")
        .set("border", "yes")
        .set("turns", "8, 4,4");
    let made = rules.make(&rule, &settings).expect("a band");
    assert_eq!(made.band.thread_count(), 12);
    assert_eq!(made.band.repeat().len(), 2);
    assert_eq!(made.parameters[2].value.to_string(), "4,8");
    assert_eq!(
        made.band.origin().map(|origin| origin.settings.len()),
        Some(3)
    );
}

#[test]
fn of_variables_of_one_name_the_latest_is_shown() {
    let text = "let n = 4;\nlet n = \"ebb\";\nband(4).repeat(forward(n))";
    let said = made(&Rules::new(), text, &Settings::new()).render(false);
    assert!(
        said.contains("n = \"ebb\"") && !said.contains("n = 4"),
        "{said}"
    );
}
