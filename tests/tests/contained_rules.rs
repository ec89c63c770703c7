//! Rules that mean harm, each stopped by a limit or an error and never by the computer:
//! under a cap on memory and on time, one after another, with the allocator as the meter.

use std::time::{Duration, Instant};

use hitchwork_rules::{Error, Folder, Limits, Made, Rules, Settings, Source, Sources};
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// What a rule may use; the ordinary limits are wider, and take longer to reach.
fn limits() -> Limits {
    Limits {
        operations: 1_000_000,
        seconds: 10,
        memory_bytes: 48 << 20,
        memory_meter: Some(|| MEMORY.current_usage()),
        ..Limits::default()
    }
}

/// Native work between two looks at the meter comes on top of what a rule may use.
const MOST_BYTES: usize = 120 << 20;

/// Ten seconds of the rule's own, and the rest for reading it and for a busy computer.
const MOST_TIME: Duration = Duration::from_secs(40);

/// What a rule may call from these tests.
#[derive(Debug)]
struct Harbour;

impl Sources for Harbour {
    fn source(&self, name: &str) -> Result<Option<Source>, String> {
        let text = match name {
            "endless" => "loop { }".to_owned(),
            "again" => "rule(\"more\")".to_owned(),
            "more" => "rule(\"again\")".to_owned(),
            "hoard" => "let all = []; loop { all.push(forward(1..100)); }".to_owned(),
            "deeper" => "import \"deepest\" as deepest; band(4)".to_owned(),
            "deepest" => "import \"deeper\" as deeper; band(4)".to_owned(),
            "imports_itself" => "import \"imports_itself\" as me; band(4)".to_owned(),
            name => match name.strip_prefix("step_") {
                // A chain of rules without an end, none of them twice.
                Some(number) => {
                    let next = number.parse::<u64>().unwrap_or(0) + 1;
                    format!("rule(\"step_{next}\")")
                }
                None => return Ok(None),
            },
        };
        let file = format!("{name}.rhai");
        Ok(Some(Source { file, text }))
    }
}

fn run(text: &str) -> Result<Made, Error> {
    let rules = Rules::with_limits(limits());
    let rule = rules.compile("hostile.rhai", text)?.finding(Harbour);
    rules.make(&rule, &Settings::new())
}

fn repeated(text: &str, times: usize) -> String {
    text.repeat(times)
}

/// Each with what it tries, the rule, and the codes with which it may be stopped.
fn hostile() -> Vec<(&'static str, String, &'static [&'static str])> {
    const WORK: &[&str] = &["limit-work"];
    const SIZE: &[&str] = &["limit-size"];
    const DEPTH: &[&str] = &["limit-depth"];
    const HOARD: &[&str] = &["limit-memory", "limit-size", "limit-work"];
    const WRONG: &[&str] = &[
        "wrong-value",
        "wrong-arguments",
        "unknown-name",
        "not-a-rule",
    ];
    const DEEP: &[&str] = &["limit-depth", "limit-size", "not-a-rule"];
    let own = |text: &str| text.to_owned();
    vec![
        ("an endless loop", own("loop { }"), WORK),
        (
            "a loop that is never done",
            own("while true { let x = 1; }"),
            WORK,
        ),
        (
            "a loop that catches every error",
            own("loop { try { throw 1; } catch { } }"),
            WORK,
        ),
        (
            "a range without an end",
            own("for i in 0..9223372036854775807 { let x = i; }"),
            WORK,
        ),
        (
            "loops inside loops",
            own("for a in 0..100000 { for b in 0..100000 { for c in 0..100000 { let x = c; } } }"),
            WORK,
        ),
        (
            "a loop inside a lattice",
            own("lattice(9, 9, |row, column| { loop { } })"),
            WORK,
        ),
        (
            "a loop inside a default",
            own("whole(\"n\", { loop { } }, 1..=2, \"n\")"),
            WORK,
        ),
        (
            "an endless rule inside a rule",
            own("rule(\"endless\")"),
            WORK,
        ),
        (
            "an endless rule again and again",
            own("loop { try { rule(\"endless\") } catch { } }"),
            WORK,
        ),
        (
            "a function that calls itself",
            own("fn again(n) { again(n + 1) } again(0)"),
            DEPTH,
        ),
        (
            "two functions that call each other",
            own("fn tick(n) { tock(n) } fn tock(n) { tick(n) } tick(0)"),
            DEPTH,
        ),
        (
            "a function that calls itself twice",
            own("fn twice(n) { if n > 0 { twice(n - 1); twice(n - 1) } } twice(45)"),
            WORK,
        ),
        (
            "a closure that is given itself",
            own("let f = |g| g.call(g); f.call(f)"),
            DEPTH,
        ),
        (
            "a closure that captures itself",
            own("let f = (); f = || f.call(); f.call()"),
            &["limit-depth", "wrong-value", "wrong-arguments"],
        ),
        (
            "a list that holds a closure that holds the list",
            own(
                "let list = []; let f = || list.len(); list.push(f); list.push(f); loop { list += list; }",
            ),
            &["limit-size", "limit-memory", "wrong-value", "limit-work"],
        ),
        (
            "a text that doubles",
            own("let text = \"ebb\"; loop { text += text; }"),
            SIZE,
        ),
        (
            "a list that doubles",
            own("let list = [1]; loop { list += list; }"),
            SIZE,
        ),
        (
            "a list that holds itself, deeper and deeper",
            own("let list = []; loop { list = [list]; }"),
            HOARD,
        ),
        (
            "a map that holds itself, deeper and deeper",
            own("let map = #{}; loop { map = #{ a: map }; }"),
            HOARD,
        ),
        (
            "lists and maps in turn, deeper and deeper",
            own("let all = []; loop { all = [#{ a: all }]; }"),
            HOARD,
        ),
        (
            "a map of many names",
            own("let map = #{}; for i in 0..1000000 { map[`name ${i}`] = i; }"),
            HOARD,
        ),
        (
            "a map of long texts",
            own(
                "let long = \"\"; long.pad(30000, 'x'); let map = #{}; for i in 0..3000 { map[`${i}`] = long + i; }",
            ),
            HOARD,
        ),
        (
            "a text padded beyond all bounds",
            own("let text = \"\"; text.pad(9000000000, 'x'); text"),
            SIZE,
        ),
        (
            "a list padded beyond all bounds",
            own("let list = []; list.pad(9000000000, 1); list"),
            SIZE,
        ),
        (
            "a bomb of interpolation",
            own("let t = \"0123456789\"; loop { t = `${t}${t}${t}${t}${t}${t}${t}${t}`; }"),
            SIZE,
        ),
        (
            "a list of one text, shown",
            own(
                "let t = \"\"; t.pad(30000, 'x'); let list = []; for i in 0..9000 { list.push(t); } throw `${list}`",
            ),
            HOARD,
        ),
        (
            "many variables with big lists",
            own(&(0..400)
                .map(|number| format!("let v{number} = []; v{number}.pad(19000, {number});\n"))
                .collect::<String>()),
            HOARD,
        ),
        (
            "a hoard of closures",
            own(
                "let all = []; loop { let n = all; all.push(|x| x + n.len()); if all.len() > 9000 { all = [all]; } }",
            ),
            HOARD,
        ),
        (
            "a hoard of rows",
            own(
                "let all = []; loop { all.push(forward(1..190) + backward(1..190)); if all.len() > 15000 { all = [all]; } }",
            ),
            HOARD,
        ),
        (
            "a hoard of bands",
            own(
                "let rows = forward(1..100).times(9000); let all = []; loop { all.push(band(101).lead_in(rows).repeat(rows).lead_out(rows)); }",
            ),
            HOARD,
        ),
        (
            "a hoard of palettes",
            own(
                "let all = []; loop { all.push(gradient(\"gull\", 200)); if all.len() > 90 { all = [all]; } }",
            ),
            HOARD,
        ),
        (
            "a row that doubles",
            own("let row = forward(1); loop { row = row + row; }"),
            SIZE,
        ),
        (
            "a row of nothing, a thousand million times",
            own("no_knots().times(1000000000)"),
            SIZE,
        ),
        (
            "no rows, for ever",
            own("[].times(9223372036854775807)"),
            SIZE,
        ),
        (
            "a lattice for a giant",
            own("lattice(200, 1000000000, |row, column| forward(column))"),
            SIZE,
        ),
        (
            "bands whose repeats never meet",
            own(
                "let a = forward(1).times(9973); let b = forward(1).times(9967); band(4).repeat(a).beside(band(4).repeat(b))",
            ),
            &["wrong-value"],
        ),
        (
            "a band that doubles",
            own("let both = band(4).repeat(forward(1..4)); loop { both = both + both; }"),
            HOARD,
        ),
        (
            "columns beyond all bounds",
            own("forward(1..9000000000000000000)"),
            WRONG,
        ),
        (
            "columns before all bounds",
            own("forward(-9223372036854775807..=9223372036854775807)"),
            WRONG,
        ),
        (
            "a number that is too large",
            own("let n = 9223372036854775807; n + 1"),
            WRONG,
        ),
        (
            "the least number, turned round",
            own("let n = -9223372036854775807 - 1; abs(n) / -1"),
            WRONG,
        ),
        (
            "a roll of everything",
            own("roll(-9223372036854775807..=9223372036854775807)"),
            &["no-band"],
        ),
        (
            "a thousand parameters",
            own("for i in 0..1000 { whole(`p${i}`, 1, 0..=2, \"one of many\"); }"),
            SIZE,
        ),
        (
            "a choice between very many",
            own(
                "let many = []; for i in 0..19000 { many.push(`${i}`); } choice(\"many\", \"0\", many, \"many\"); loop { choice(\"other\", \"0\", many, \"many\"); }",
            ),
            HOARD,
        ),
        (
            "a function with hundreds of arguments",
            format!(
                "fn f({}) {{ 1 }} f(1)",
                (0..3000)
                    .map(|number| format!("a{number}"))
                    .collect::<Vec<_>>()
                    .join(", ")
            ),
            &["wrong-arguments", "limit-size", "not-a-rule"],
        ),
        (
            "thousands of functions",
            (0..3000)
                .map(|number| format!("fn f{number}() {{ }}\n"))
                .collect(),
            SIZE,
        ),
        (
            "thousands of variables",
            (0..3000)
                .map(|number| format!("let v{number} = 1;\n"))
                .collect(),
            SIZE,
        ),
        (
            "ten thousand brackets",
            format!("{}1{}", repeated("(", 10_000), repeated(")", 10_000)),
            DEEP,
        ),
        (
            "ten thousand lists in lists",
            format!("{}{}", repeated("[", 10_000), repeated("]", 10_000)),
            DEEP,
        ),
        (
            "ten thousand braces",
            format!("{}{}", repeated("{", 10_000), repeated("}", 10_000)),
            DEEP,
        ),
        (
            "ten thousand ifs",
            format!(
                "{}{}",
                repeated("if true { ", 10_000),
                repeated("}", 10_000)
            ),
            DEEP,
        ),
        (
            "ten thousand other cases",
            format!("if false {{ }}{}", repeated(" else if false { }", 10_000)),
            &["limit-depth", "not-a-rule", "no-band"],
        ),
        (
            "ten thousand signs",
            format!("let x = 1; {}x", repeated("-", 10_000)),
            DEEP,
        ),
        (
            "ten thousand denials",
            format!("let x = true; {}x", repeated("!", 10_000)),
            DEEP,
        ),
        (
            "a very long sum",
            format!("let x = 1; x{}", repeated(" + x", 50_000)),
            &["limit-depth", "limit-work", "no-band"],
        ),
        (
            "a very long way into a map",
            format!("let x = #{{ a: 1 }}; x{}", repeated(".a", 50_000)),
            &["limit-depth", "unknown-name", "wrong-arguments"],
        ),
        (
            "a very long way into a list",
            format!("let x = [1]; x{}", repeated("[0]", 50_000)),
            &["limit-depth", "unknown-name", "wrong-arguments"],
        ),
        (
            "a very long chain of calls",
            format!("let x = 1; x{}", repeated(".abs()", 30_000)),
            &["limit-depth", "no-band"],
        ),
        (
            "closures in closures",
            format!("{}1", repeated("|x| ", 10_000)),
            DEEP,
        ),
        (
            "texts in texts",
            format!("{}1{}", repeated("`${", 5_000), repeated("}`", 5_000)),
            DEEP,
        ),
        (
            "a switch with very many cases",
            format!(
                "let n = 1; switch n {{ {} _ => 1 }}",
                (0..18_000)
                    .map(|number| format!("{number} => 1,"))
                    .collect::<String>()
            ),
            &["no-band", "limit-size"],
        ),
        (
            "a list with very many entries",
            format!("let n = [{}]; n", repeated("1,", 100_000)),
            SIZE,
        ),
        (
            "a text longer than any",
            format!("\"{}\"", repeated("x", 200_000)),
            SIZE,
        ),
        (
            "a rule longer than any",
            repeated("// nothing\n", 100_000),
            SIZE,
        ),
        (
            "a comment inside comments",
            format!("{}1", repeated("/* ", 50_000)),
            &["no-band", "not-a-rule"],
        ),
        (
            "rules in a circle",
            own("rule(\"again\")"),
            &["wrong-value"],
        ),
        (
            "rules in rules without an end",
            own("rule(\"step_1\")"),
            DEPTH,
        ),
        (
            "very many rules",
            own(
                "for i in 0..1000 { try { rule(`step_${i * 20}`) } catch { } } rule(\"step_99999\")",
            ),
            &["limit-size", "limit-work"],
        ),
        (
            "a rule that hoards inside a rule",
            own("rule(\"hoard\")"),
            HOARD,
        ),
        (
            "a rule that imports itself",
            own("import \"imports_itself\" as me; band(4)"),
            &["wrong-value"],
        ),
        (
            "imports in a circle",
            own("import \"deeper\" as deeper; band(4)"),
            &["wrong-value"],
        ),
        (
            "very many imports",
            (0..100)
                .map(|number| format!("import \"drift\" as other{number};\n"))
                .collect(),
            SIZE,
        ),
        (
            "a path to the parent folder",
            own("rule(\"../secret\")"),
            &["wrong-value"],
        ),
        (
            "an absolute path",
            own("import \"/etc/hostname\" as other; band(4)"),
            &["wrong-value"],
        ),
        (
            "a path with a drive",
            own("rule(\"C:\\\\secret\")"),
            &["wrong-value"],
        ),
        ("a path with a null", own("rule(\"drift\\x00\")"), WRONG),
        (
            "a name without an end",
            own("let n = \"\"; n.pad(30000, 'a'); rule(n)"),
            &["wrong-value"],
        ),
        (
            "a grid as large as a text can be",
            own("let t = \"\"; t.pad(32000, '\\\\'); grid(t)"),
            &["wrong-value"],
        ),
        (
            "a grid of thousands of rows",
            own(
                "let t = \"\"; while t.len < 30000 { t += \">\\n\"; } let rows = grid(t); loop { rows += rows; }",
            ),
            SIZE,
        ),
        (
            "something huge, thrown",
            own("let list = []; for i in 0..9000 { list.push(i); } throw list"),
            &["requirement"],
        ),
        ("sleeping", own("sleep(1000)"), WRONG),
        ("code made while running", own("eval(\"loop { }\")"), WRONG),
    ]
}

/// One test, since the meter counts for the whole program.
#[test]
fn hostile_rules_are_contained() {
    let hostile = hostile();
    assert!(hostile.len() >= 40);
    let mut wrong = Vec::new();
    for (what, text, codes) in hostile {
        MEMORY.reset_peak_usage();
        let before = MEMORY.current_usage();
        let start = Instant::now();
        let outcome = run(&text);
        let took = start.elapsed();
        let grown = MEMORY.peak_usage().saturating_sub(before);
        let code = match &outcome {
            Ok(_) => "a band",
            Err(error) => {
                assert!(
                    error.render(false).len() < 20_000,
                    "{what}: too much to read"
                );
                error.diagnostics()[0].code
            }
        };
        if !codes.contains(&code) {
            wrong.push(format!(
                "{what}: {code}: {:?}",
                outcome.as_ref().err().map(ToString::to_string)
            ));
        }
        if grown > MOST_BYTES || took > MOST_TIME {
            wrong.push(format!("{what}: took {took:?} and {} MB", grown >> 20));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// A folder hands out what lies in it, and nothing that lies elsewhere.
#[cfg(unix)]
#[test]
fn a_folder_keeps_to_itself() {
    let outside = tempfile::tempdir().expect("a folder");
    let inside = outside.path().join("rules");
    std::fs::create_dir_all(inside.join("borders")).expect("a folder");
    let write =
        |path: &str, text: &str| std::fs::write(outside.path().join(path), text).expect("written");
    write("secret.rhai", "band(4).repeat(forward(1..4))");
    write("rules/rope.rhai", "\u{feff}band(4).repeat(forward(1..4))");
    write("rules/borders/edge.rhai", "band(2).repeat(forward(1))");
    write("rules/long.rhai", &repeated("// nothing\n", 100_000));
    let link = |to: &str, name: &str| {
        std::os::unix::fs::symlink(outside.path().join(to), inside.join(name)).expect("a link");
    };
    link("secret.rhai", "out.rhai");
    link("rules/rope.rhai", "line.rhai");
    link(".", "up");
    std::fs::create_dir(inside.join("folder.rhai")).expect("a folder");
    let folder = Folder::new(&inside);
    let text = |name: &str| {
        folder
            .source(name)
            .map(|found| found.map(|source| source.text))
    };
    assert_eq!(
        text("rope"),
        Ok(Some("band(4).repeat(forward(1..4))".to_owned()))
    );
    assert_eq!(text("line"), text("rope"));
    assert_eq!(
        text("borders/edge"),
        Ok(Some("band(2).repeat(forward(1))".to_owned()))
    );
    assert_eq!(text("missing"), Ok(None));
    for name in [
        "out",
        "up/secret",
        "../secret",
        "/etc/hostname",
        "",
        "borders/../../secret",
        "folder",
        "long",
        "rope.rhai",
        "a//b",
    ] {
        assert!(text(name).is_err(), "{name} was let through");
    }
    let beside = Folder::of_file(inside.join("rope.rhai"));
    assert_eq!(beside, folder);
}
