//! The reference: complete, running, and not stale.

use std::fs;
use std::path::Path;

use hitchwork_core::proof::{Code, Severity};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_rules::Rules;

#[test]
fn every_function_says_how_it_is_called_and_what_it_does() {
    for function in Rules::new().reference().functions() {
        let name = &function.name;
        for form in &function.forms {
            assert!(
                !form.call.is_empty(),
                "{name} does not say how it is called"
            );
            assert!(
                form.call.contains(name.as_str())
                    || !name.starts_with(char::is_alphabetic)
                    || ["range", "list", "arithmetic"].contains(&name.as_str()),
                "{name} is called {}",
                form.call
            );
            assert!(
                form.meaning.ends_with('.') && form.meaning.contains(' '),
                "{name}: {}",
                form.meaning
            );
            for argument in &form.arguments {
                assert!(
                    form.call.contains(&argument.name),
                    "{} does not take {}",
                    form.call,
                    argument.name
                );
            }
        }
    }
}

/// What stands between the brackets of a call, parted by its outer commas.
fn given(call: &str) -> Vec<&str> {
    let call = call.trim_end_matches(';');
    // In `let …`, `fn …` and operators nothing is given by place.
    let Some((_, inner)) = call.strip_suffix(')').and_then(|call| call.split_once('(')) else {
        return Vec::new();
    };
    let (mut depth, mut names) = (0, false);
    let outer = |sign: char| {
        depth += i32::from("([{".contains(sign)) - i32::from(")]}".contains(sign));
        // What a closure calls what comes to it.
        names ^= sign == '|';
        sign == ',' && depth == 0 && !names
    };
    let given = inner.split(outer).map(str::trim);
    given.filter(|given| !given.is_empty()).collect()
}

#[test]
fn what_is_given_is_read_from_the_form_of_a_call() {
    assert_eq!(given("list.reverse();"), [""; 0]);
    assert_eq!(given("row.knots"), [""; 0]);
    assert_eq!(given("abs(number)"), ["number"]);
    assert_eq!(
        given("f(a, [b, c], |d, e| g(d, e))"),
        ["a", "[b, c]", "|d, e| g(d, e)"]
    );
}

#[test]
fn every_argument_of_every_form_is_explained() {
    let mut explained = 0;
    for function in Rules::new().reference().functions() {
        for form in &function.forms {
            let known: Vec<&str> = form.arguments.iter().map(|one| &*one.name).collect();
            for argument in given(&form.call) {
                assert!(
                    known.contains(&argument),
                    "{} does not say what {argument} is",
                    form.call
                );
                explained += 1;
            }
        }
    }
    assert!(explained > 100, "{explained}");
}

/// A code, and when it comes; or the form whose errors are the same.
#[test]
fn errors_are_said_apart_and_by_codes_that_have_a_page() {
    for function in Rules::new().reference().functions() {
        for form in &function.forms {
            assert!(
                !form.meaning.contains("Errors:"),
                "{}: {}",
                form.call,
                form.meaning
            );
            for clause in form.errors.iter().flat_map(|errors| errors.split("; ")) {
                let code = clause.split([' ', ',']).next().unwrap_or_default();
                assert!(
                    code == "as" || hitchwork_rules::explain(code).is_some(),
                    "{}: {clause}",
                    form.call
                );
            }
        }
    }
}

/// What rows over a leader are told: a leader that shows needs a longer piece than the others.
const SAID_OF_LEADERS: [Code; 2] = [Code::FarLongerThread, Code::Tangles];

#[test]
fn every_function_has_an_example_that_uses_it_and_makes_a_band() {
    let rules = Rules::new();
    let mut sizes = Vec::new();
    for function in rules.reference().functions() {
        let (name, example) = (&function.name, &function.example);
        let uses = example.contains(name.as_str())
            || ["range", "list", "arithmetic"].contains(&name.as_str());
        assert!(uses, "the example of {name} does without it:\n{example}");
        let band = rules
            .example(example)
            .unwrap_or_else(|error| panic!("{name}:\n{}", error.render(false)));
        let tied = Tied::of(band);
        let report = tied.report();
        // Whoever copies an example ties it as it is printed.
        let found: Vec<&str> = report
            .findings
            .iter()
            .filter(|finding| finding.severity > Severity::Note)
            .filter(|finding| {
                !(example.contains("leader") && SAID_OF_LEADERS.contains(&finding.code))
            })
            .map(|finding| finding.message.as_str())
            .collect();
        assert!(
            found.is_empty(),
            "the example of {name}:\n{example}\n{found:?}"
        );
        sizes.push(report.knots);
    }
    assert!(sizes.len() > 60);
    assert!(sizes.iter().all(|knots| *knots > 0));
}

/// A picture of marks is tied as it is printed: each mark is a knot in its column.
#[test]
fn every_grid_of_the_reference_is_tied_mark_by_mark() {
    let rules = Rules::new();
    let mut grids = 0;
    for function in rules.reference().functions() {
        let example = &function.example;
        let Some((_, rest)) = example.split_once("grid(`") else {
            continue;
        };
        let picture = rest.split('`').next().unwrap_or_default();
        let lines: Vec<&str> = picture
            .lines()
            .map(str::trim)
            .filter(|line| !line.is_empty())
            .collect();
        let columns = lines.iter().map(|line| line.chars().count()).max();
        let marks = lines.concat().chars().filter(|mark| *mark != '.').count();
        let rows = rules.example(&format!("grid(`{picture}`)")).expect("rows");
        assert_eq!(Some(usize::from(rows.column_count())), columns, "{example}");
        let tied: usize = rows.repeat().iter().map(Row::len).sum();
        assert_eq!(tied, marks, "{example}");
        // Two marks side by side in one line would be tied into each other: a lattice has none.
        let beside = lines.iter().any(|line| {
            let marks: Vec<bool> = line.chars().map(|mark| mark != '.').collect();
            marks.windows(2).any(|two| two[0] && two[1])
        });
        assert!(!beside, "{example}");
        grids += 1;
    }
    assert!(grids >= 2, "{grids}");
}

#[test]
fn the_reference_is_the_same_every_time() {
    let (first, second) = (Rules::new(), Rules::new());
    assert_eq!(first.reference(), second.reference());
    assert_eq!(first.definitions(), second.definitions());
}

#[test]
fn editors_get_the_functions_in_plain_types() {
    let files = Rules::new().definitions();
    let (_, functions) = files
        .iter()
        .find(|(name, _)| name == "__static__.d.rhai")
        .expect("the functions");
    assert!(functions.contains("fn forward(columns: ?) -> row;"));
    assert!(functions.contains("fn band(threads: int) -> band;"));
    for (name, text) in &files {
        assert!(
            !text.contains("ScriptResult<") && !text.contains("Sketch"),
            "{name}"
        );
    }
}

/// `RENEW=1 cargo test -p hitchwork-rules` writes the page anew, and fails.
#[test]
fn the_page_in_the_project_is_not_stale() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("REFERENCE.md");
    let now = Rules::new().reference().markdown();
    let written = fs::read_to_string(&file).unwrap_or_default();
    if written != now && std::env::var_os("RENEW").is_some() {
        fs::write(&file, now).expect("writable");
        panic!("REFERENCE.md was renewed; read what has changed, then run again without RENEW");
    }
    assert!(
        written == now,
        "REFERENCE.md is stale: RENEW=1 cargo test -p hitchwork-rules --test reference writes it anew"
    );
}
