//! Rules that mean harm, each stopped by a limit or an error and never by the computer:
//! under a cap on memory and on time, one after another, with the allocator as the meter.

use std::time::{Duration, Instant};

use hitchwork_rules::{
    Answer, Error, FileAnswer, FileSource, Folder, Limits, Made, Rules, Settings, Source, Sources,
};
use peak_alloc::PeakAlloc;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// What a rule may use; the ordinary limits are wider, and take longer to reach. What may be
/// stopped by the clock is stopped after a second, so that all of them are tried in little time.
fn limits(codes: &[&str]) -> Limits {
    let by_the_clock = codes.contains(&"limit-work");
    Limits {
        operations: 1_000_000,
        seconds: if by_the_clock { 1 } else { 3 },
        memory_bytes: 48 << 20,
        memory_meter: Some(|| MEMORY.current_usage()),
        ..Limits::default()
    }
}

/// A tenth more than a rule may use, and what it takes to read a rule.
const MOST_BYTES: usize = (48 << 20) + (48 << 20) / 10 + (4 << 20);

/// Up to three seconds of the rule's own, and the rest for reading it and for a busy computer.
const MOST_TIME: Duration = Duration::from_secs(40);

/// What a rule may call from these tests.
#[derive(Debug)]
struct Harbour;

impl Sources for Harbour {
    fn source(&self, name: &str) -> Answer {
        let text = match name {
            "endless" => "loop { }".to_owned(),
            "again" => "rule(\"more\")".to_owned(),
            "more" => "rule(\"again\")".to_owned(),
            "hoard" => "let all = []; loop { all.push(forward(1..100)); }".to_owned(),
            // Its last bracket is never closed.
            "broken" => format!("{} [", repeated("let x = [1, 2, 3];\n", 12_000)),
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

    fn file(&self, name: &str) -> FileAnswer {
        let bytes = match name {
            "sea.pbm" => [b"P4 200 2000\n".to_vec(), vec![0x5a; 25 * 2_000]].concat(),
            "ocean.pgm" => [b"P5 4000 2000 255\n".to_vec(), vec![7; 8_000_000]].concat(),
            "ocean.png" => png_of(4_000, 2_000),
            // As many colours as cells.
            "noise.ppm" => {
                let value = |at: u32| at.wrapping_mul(2_654_435_761).to_be_bytes()[0];
                let values = (0..200 * 500 * 3).map(value);
                b"P6 200 500 255\n".iter().copied().chain(values).collect()
            }
            "sea.bdf" => repeated("COMMENT the sea\n", 100_000).into_bytes(),
            "long.txt" => repeated("#\n", 500_000).into_bytes(),
            _ => return Ok(None),
        };
        Ok(Some(FileSource {
            file: name.to_owned(),
            bytes: bytes.into(),
        }))
    }
}

fn run(text: &str, codes: &[&str]) -> Result<Made, Error> {
    let rules = Rules::with_limits(limits(codes));
    let rule = rules.compile("hostile.rhai", text)?.finding(Harbour);
    rules.make(&rule, &Settings::new())
}

fn repeated(text: &str, times: usize) -> String {
    text.repeat(times)
}

/// A rule with a row of 2^15 knots, called long, and a list in which it stands 1,000 times.
fn with_long_rows(text: &str) -> String {
    format!(
        "let long = forward(1); for i in 0..15 {{ long += long; }} let many = []; for i in 0..1000 {{ many.push(long); }} {text}"
    )
}

/// Functions that take rows or give them, each asked for more than a rule may have: at once,
/// or again and again.
fn rows_without_bounds() -> Vec<(&'static str, String, &'static [&'static str])> {
    const SIZE: &[&str] = &["limit-size"];
    const HOARD: &[&str] = &["limit-memory", "limit-size", "limit-work"];
    let at_once = [
        "many.shift(1)",
        "many.mirrored(9)",
        "many.upside_down()",
        "many.there_and_back()",
        "many.half_turned(9)",
        "many.inverted()",
        "many.times(2)",
        "interleaved(many, many)",
        "beside(many, 4, many, no_knots())",
        "beside([no_knots()].times(1000), 4, forward(1), forward(4) + long)",
        "let joining = forward(4); for i in 0..15 { joining += joining; } beside(forward(1).times(1000), 4, forward(1), joining)",
        "let joining = forward(4); for i in 0..15 { joining += joining; } band(4).repeat(forward(1).times(1000)).beside(band(4).repeat(forward(1)), joining)",
        "let joining = forward(4); for i in 0..15 { joining += joining; } band(4).repeat(forward(1)).lead_in(forward(1).times(1000)).beside(band(4).repeat(forward(1)), joining)",
        "grid_of(many, 200)",
        "grid_of(long, 200)",
        "band(9).repeat(many)",
        "band(9).lead_in(many)",
        "band(9).lead_out(many)",
        "order_after(many, 9)",
        "cycles(many, 9)",
        "repeats_to_close(many, 9)",
        "symmetry(many, 9)",
        "knots_by_column(many, 9)",
        "symmetric_rows(9, 10, \"p2\", many)",
        "random_rows(9, 10, #{ fixed: many })",
        "lattice(9, 100, |row, column| long)",
        "leader_rows(200, 1000000, |row, column| true)",
        "many.leader_shows()",
        "many.leader_shows(1)",
        "let columns = []; for i in 0..50000 { columns.push(1); } forward(1).times(50000).leader_shows(columns).times(1000)",
        "let list = []; for i in 0..1000 { list.push(no_knots()); } let b = band(4).lead_in(list); for i in 0..30 { b = b + b; }",
    ];
    let hoards = [
        "long.reversed()",
        "long.turned()",
        "long.inverted()",
        "long.upside_down()",
        "long.mirrored(9)",
        "long.half_turned(9)",
        "long.shift(1)",
        "long.every(1)",
        "long.leader_shows()",
        "long.leader_shows(1)",
        "long.leader_changes(1)",
        "leader_rows(100, 100, |row, column| true)",
        "long.but(forward(1))",
        "forward(1).but(long.every(40000)) + long",
        "many.every(100).shift(1)",
        "many.every(100).inverted()",
        "band(9).repeat(long).mirrored()",
        "band(9).repeat(long).upside_down()",
        "band(9).repeat(long).half_turned()",
        "band(9).repeat(long).inverted()",
        "band(9).repeat(long).beside(band(9).repeat(long))",
        "lattice(9, 1, |row, column| long)",
        "random_rows(100, 100)",
        "symmetric_rows(100, 100, \"p1\", lattice(100, 100, |row, column| forward(column)))",
    ];
    let at_once = at_once.map(|text| (text, with_long_rows(text), SIZE));
    let hoards = hoards.map(|text| {
        let hoard = format!("let all = []; loop {{ all.push({text}); }}");
        (text, with_long_rows(&hoard), HOARD)
    });
    at_once.into_iter().chain(hoards).collect()
}

/// Work without an end that keeps nothing: only the clock can stop it, within a step.
fn work_without_bounds() -> Vec<(&'static str, String, &'static [&'static str])> {
    const WORK: &[&str] = &["limit-work"];
    let again = [
        "long.but(long)",
        "symmetry(long, 9)",
        "order_after(long, 9)",
        "band(200).repeat(long).repeat_mm()",
        "band(2).repeat(long + forward(1)).drift([colour(\"a\", \"#000000\"), colour(\"b\", \"#ffffff\")]).hung",
        "grid_of(long.every(3000), 200)",
        "random_rows(60, 60, #{ symmetry: \"mirror along and across\" })",
        "try { random_rows(100, 100, #{ longest_run: 1 }) } catch { }",
        "try { random_rows(60, 60, #{ kinds: #{ forward: 1 }, longest_run: 1000000 }) } catch { }",
        "random_rows(60, 60, #{ such_that: |rows| false, tries: 1000000000 })",
        "try { rule(\"broken\") } catch { }",
        "let name = \"\"; name.pad(190, 'a'); try { rule(name) } catch { }",
        "let name = \"\"; name.pad(30000, 'a'); try { gradient(name, 9) } catch { }",
    ];
    let again = again.map(|text| (text, with_long_rows(&format!("loop {{ {text}; }}")), WORK));
    again.into_iter().collect()
}

/// Pictures, each as large as may be: kept again and again, or made and forgotten.
fn pictures_without_bounds() -> Vec<(&'static str, String, &'static [&'static str])> {
    const HOARD: &[&str] = &["limit-memory", "limit-size", "limit-work"];
    const WORK: &[&str] = &["limit-work"];
    let with_pictures = |text: String| {
        format!(
            "let wide = picture([\"#.\"]).repeated(100, 2000); let narrow = wide.cropped(1..=200, 1..=200); let line = \"\"; line.pad(200, '#'); let rows = []; for i in 0..100 {{ rows.push(line); }} let art = wide.cropped(1..=200, 1..=19).filled(colour(\"b\", \"#ffffff\")); {text}"
        )
    };
    let hoards = [
        "picture([\"#.\"]).repeated(100, 2000)",
        "wide.mirrored()",
        "wide.upside_down()",
        "wide.inverted()",
        "narrow.quarter_turned()",
        "narrow.above(narrow, 1600)",
        "picture([\"#\"]).beside(narrow.cropped(1..=200, 1..=2), 190).repeated(1, 10)",
        "wide.recoloured(colour(\"a\", \"#112233\"))",
        "wide.filled(colour(\"a\", \"#112233\"))",
        "wide.without(\"ink\")",
        "wide.cropped(1..=2000, 1..=199)",
        "picture([\"#\"]).padded(99, 999)",
        "picture(rows)",
        "lettering(line, #{ along: true })",
        "flags(\"abcdefghijklmno\")",
        "over_leader(wide.cropped(1..=2000, 1..=199))",
        "colours_over_leader(narrow.cropped(1..=200, 1..=199), colour(\"a\", \"#112233\"))",
        "picture(\"sea.pbm\")",
        "in_pairs(art, #{ threads: 200, free_rows: 2000 })",
        "in_pairs(art).rows",
        "solved(art, #{ counts: [10, 10], free_rows: 2000 }).rows",
        "{ let tied = in_pairs(art); let many = []; for i in 0..2000 { many += tied.colours; } many }",
    ];
    let again = [
        "solved(art, #{ patience: 100, counts: [17, 3], free_rows: roll(0..=8) })",
        "solved(art.cropped(1..=200, 1..=9), #{ open: true, free_rows: roll(0..=1000) })",
        "in_pairs(art)",
        "let tied = in_pairs(art); for i in 0..1000 { let missed = tied.missed; let words = `${tied}`; }",
        "wide == wide.mirrored()",
        "wide.trimmed()",
        "wide.colours",
        "try { wide.without(\"inc\") } catch { }",
        "try { picture(\"none.png\") } catch { }",
        "try { picture(\"sea.pbm\", #{ marks: 3 }) } catch { }",
        "picture(\"sea.pbm\", #{ columns: 3, colours: 2 })",
        "try { picture(\"noise.ppm\", #{ colours: 60 }) } catch { }",
        "try { lettering(\"a\", #{ font: \"sea.bdf\" }) } catch { }",
        "try { picture(\"long.txt\") } catch { }",
    ];
    let hoards = hoards.map(|text| {
        let hoard = format!("let all = []; loop {{ all.push({text}); }}");
        (text, with_pictures(hoard), HOARD)
    });
    let again = again.map(|text| (text, with_pictures(format!("loop {{ {text}; }}")), WORK));
    // Too large to be read at once where so little memory is allowed.
    let once = ["ocean.pgm", "ocean.png"].map(|file| {
        let text = with_pictures(format!("picture(\"{file}\", #{{ columns: 9 }})"));
        (file, text, &["limit-memory"] as &[&str])
    });
    // So many orders that none of them can all be looked at.
    let noise = "picture(\"noise.ppm\", #{ columns: 199, colours: 12 })";
    let wishes = [
        "",
        ", #{ open: true }",
        ", #{ drift: 1 }",
        ", #{ free_rows: 0..=2000 }",
    ];
    let searched = wishes.map(|wish| {
        let text = with_pictures(format!("solved({noise}{wish})"));
        (
            wish,
            text,
            &["limit-work", "limit-memory", "limit-size"] as &[&str],
        )
    });
    // Just as many orders as have no room here.
    let wide = "[picture([\"ab\"], #{ marks: #{ \"a\": colour(\"a\", \"#000000\"), \"b\": colour(\"b\", \"#ffffff\") } }).repeated(12, 100)]";
    let full = (
        wide,
        with_pictures(format!(
            "let s = {wide}[0]; solved(s, #{{ counts: [13, 12] }}).rows"
        )),
        &["limit-memory"] as &[&str],
    );
    // Short lines that a long one would fill up, and a text whose every line is the same one.
    let filled = [
        "let t = \"\"; for i in 0..15000 { t += \"#\\n\"; } let w = \"\"; w.pad(1000, '#'); picture(t + w)",
        "let l = \"\"; l.pad(32000, '#'); let all = []; for i in 0..2000 { all.push(l); } picture(all)",
        "let all = []; for i in 0..20000 { all.push(\"#\"); } picture(all)",
    ];
    let filled = filled.map(|text| {
        (
            text,
            text.to_owned(),
            &["wrong-value", "limit-memory", "limit-size", "limit-work"] as &[&str],
        )
    });
    hoards
        .into_iter()
        .chain(again)
        .chain(once)
        .chain(searched)
        .chain([full])
        .chain(filled)
        .collect()
}

/// A PNG that only says how large it is.
fn png_of(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
    bytes.extend(width.to_be_bytes());
    bytes.extend(height.to_be_bytes());
    bytes.extend([8, 6, 0, 0, 0]);
    bytes
}

/// The engine's own functions, asked for what it does not bound itself.
fn engine_without_bounds() -> Vec<(&'static str, String, &'static [&'static str])> {
    const SIZE: &[&str] = &["limit-size"];
    let own = |text: &str| text.to_owned();
    vec![
        (
            "a text put in place of each of its letters",
            own("let t = \"\"; t.pad(30000, 'x'); t.replace(\"x\", t)"),
            SIZE,
        ),
        (
            "a text put in place of each letter",
            own("let t = \"\"; t.pad(30000, 'x'); t.replace('x', t)"),
            SIZE,
        ),
        (
            "a text padded with nothing",
            own("let t = \"\"; t.pad(30000, \"\"); t"),
            &["no-band"],
        ),
        (
            "a list sorted by dice",
            own("let l = []; for i in 0..5000 { l.push(i); } l.sort(|a, b| roll(-1..=1)); l"),
            &["no-band", "requirement"],
        ),
        (
            "deep lists compared",
            own(
                "let a = []; let b = []; for i in 0..9000 { a = [a]; b = [b]; } if a == b { 1 } else { 2 }",
            ),
            &["no-band", "limit-depth", "limit-work"],
        ),
        (
            "a deep list looked for",
            own(
                "let a = []; let b = []; for i in 0..9000 { a = [a]; b = [b]; } if [a].contains(b) { 1 } else { 2 }",
            ),
            &["no-band", "limit-depth", "limit-work"],
        ),
        (
            "a deep list in words",
            own("let a = []; for i in 0..9000 { a = [a]; } `${a}`"),
            &["no-band", "limit-size", "limit-work"],
        ),
        (
            "a deep list thrown",
            own("let a = []; for i in 0..9000 { a = [a]; } throw a"),
            &["requirement", "limit-work"],
        ),
        (
            "rows in a deep list",
            own("let a = [forward(1)]; for i in 0..9000 { a = [a]; } band(2).repeat(a)"),
            &["a band", "limit-work"],
        ),
        (
            "a band of many rows, kept many times",
            own(
                "let l = []; l.pad(20000, forward(1)); let b = band(2).repeat(l); let all = []; all.pad(20000, b); all",
            ),
            &["no-band"],
        ),
        (
            "colours of endless names",
            own("let t = \"\"; t.pad(30000, 'x'); colour(t, \"#000000\")"),
            &["wrong-value"],
        ),
        (
            "a thousand colours in order",
            own(
                "let l = []; for i in 0..1000 { l.push(colour(`c${i}`, \"#000000\")); } smoothest(l)",
            ),
            &["no-band", "wrong-value", "limit-work"],
        ),
        (
            "a gradient through very many colours",
            own(
                "let l = []; for i in 0..20000 { l.push(colour(`c`, \"#123456\")); } gradient(l, 1000)",
            ),
            &["no-band", "wrong-value", "limit-work"],
        ),
        (
            "very many colours matched",
            own(
                "let l = []; for i in 0..20000 { l.push(colour(`c${i}`, \"#123456\")); } matched(gradient(\"gull\", 1000), l)",
            ),
            &["no-band", "wrong-value", "limit-work"],
        ),
    ]
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

/// Functions that hold functions that hold functions …, built in every way in which a rule
/// can, and then dropped, shown, compared or looked up. Each loop ends only at a limit; those
/// that come to their end say what is done with what they made.
fn functions_in_functions() -> Vec<(&'static str, String, &'static [&'static str])> {
    const HOARD: &[&str] = &["limit-memory", "limit-work"];
    const DEPTH: &[&str] = &["limit-depth"];
    const CHAIN: &str = "let f = 0; for i in 0..60000 { let g = f; f = |x| g; }";
    let endless = [
        "let f = 0; loop { let g = f; f = |x| g; }",
        "let f = 0; loop { const G = f; f = |x| G; }",
        "fn held(g) { |x| g } let f = 0; loop { f = held(f); }",
        "let f = 0; loop { let g = [f]; f = |x| g; }",
        "let f = 0; loop { let g = #{ f: f }; f = [|x| g]; }",
        "let f = 0; loop { let g = [[[#{ f: [[f]] }]]]; f = |x| g; }",
        "let f = 0; loop { let g = f; let h = f; f = |x| [g, h]; }",
        "let f = 0; loop { let h = 0; for x in [0, f] { if h == 0 { h = || x; } } f = h; }",
        "let f = 0; loop { let g = 0; let h = || g; g = f; f = h; }",
        "let f = 0; loop { let g = 0; let set = |v| { g = v; }; let h = || g; set.call(f); f = h; }",
        "let f = 0; loop { let g = [0]; let h = || g; g.push(f); f = h; }",
        "let f = 0; loop { try { throw f; } catch (g) { f = |x| g; } }",
        "let first = 0; let last = || first; loop { let g = 0; let h = || g; first = h; first = 0; let next = || last; g = next; last = h; }",
    ];
    let done = [
        ("f = 0; 1", "no-band"),
        ("f", "no-band"),
        ("[f]", "no-band"),
        ("throw f", "requirement"),
        ("throw [f]", "requirement"),
        ("let t = `${[f]}`; 1", "no-band"),
        ("let t = `${#{ f: f }}`; 1", "no-band"),
        ("let t = [f].to_debug(); 1", "no-band"),
        ("let t = \"gull\" + [f]; 1", "no-band"),
        ("[f].contains(1)", "no-band"),
        ("[f] == [1]", "no-band"),
        ("f.call(1)", "no-band"),
        ("rule(\"drift\", #{ threads: f })", "wrong-arguments"),
        ("band(f)", "wrong-arguments"),
    ];
    let circles = [
        "let f = (); f = |x| f; f = 0; 1",
        "let f = (); f = |x| f; `${[f]}`; 1",
        "let f = []; f = [|x| f, |x| f]; `${f}`; 1",
        "let f = (); let g = |x| f; f = |x| g; throw [f, g]",
    ];
    let endless = endless.map(|text| (text, text.to_owned(), HOARD));
    let done = done.map(|(text, code)| {
        let codes: &[&str] = match code {
            "no-band" => &["no-band"],
            "requirement" => &["requirement"],
            _ => &["wrong-arguments"],
        };
        (text, format!("{CHAIN} {text}"), codes)
    });
    let circles = circles.map(|text| (text, text.to_owned(), &["no-band", "requirement"] as &[_]));
    // Where there is a switch, depth is looked at before it could be gone into.
    let switched = [
        "switch f { 1 => 2, _ => 3 }",
        "switch [f] { 1 => 2, _ => 3 }",
    ];
    let switched = switched.map(|text| (text, format!("{CHAIN} {text}"), DEPTH));
    let circle = (
        "a circle in a switch",
        "let f = (); f = |x| f; for i in 0..100 { let n = i; } switch f { 1 => 2, _ => 3 }"
            .to_owned(),
        DEPTH,
    );
    endless
        .into_iter()
        .chain(done)
        .chain(circles)
        .chain(switched)
        .chain([circle])
        .collect()
}

/// One test, since the meter counts for the whole program.
#[test]
fn hostile_rules_are_contained() {
    let mut hostile = hostile();
    hostile.extend(rows_without_bounds());
    hostile.extend(work_without_bounds());
    hostile.extend(pictures_without_bounds());
    hostile.extend(engine_without_bounds());
    hostile.extend(functions_in_functions());
    assert!(hostile.len() >= 150, "{}", hostile.len());
    let mut wrong = Vec::new();
    for (what, text, codes) in hostile {
        MEMORY.reset_peak_usage();
        let before = MEMORY.current_usage();
        let start = Instant::now();
        let Ok(outcome) = std::panic::catch_unwind(|| run(&text, codes)) else {
            wrong.push(format!("{what}: a panic"));
            continue;
        };
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
    functions_share_what_they_hold();
    functions_in_functions_fill_no_stack();
}

/// Under the ordinary limits there is room for millions of functions inside each other, for
/// which no stack would be deep enough.
fn functions_in_functions_fill_no_stack() {
    let limits = Limits {
        memory_meter: Some(|| MEMORY.current_usage()),
        seconds: 60,
        ..Limits::default()
    };
    let rules = Rules::with_limits(limits);
    for text in [
        "let f = 0; loop { let g = [f]; f = |x| g; }",
        "let f = 0; loop { const G = f; f = |x| G; }",
    ] {
        let rule = rules.compile("hostile.rhai", text).expect("it can be read");
        let error = rules.make(&rule, &Settings::new()).expect_err("no band");
        let stopped = &error.diagnostics()[0];
        assert!(["limit-memory", "limit-work"].contains(&stopped.code));
        assert!(stopped.message.contains("the rule was stopped"), "{error}");
    }
}

/// What a rule's functions hold of the lines around them is one and the same for both, and
/// gone when the run is: as if nobody kept an eye on it. Worked by hand.
fn functions_share_what_they_hold() {
    let rules = Rules::new();
    let threads = |text: &str| {
        let rule = rules.compile("sharing", text).expect("a rule");
        let made = rules.make(&rule, &Settings::new());
        made.expect(text).band.thread_count()
    };
    let shared = [
        (
            "let n = 4; let more = |by| { n += by; }; more.call(3); more.call(1);",
            "n",
            8,
        ),
        ("let n = 4; let more = || n + 1; n = 10;", "more.call()", 11),
        ("let n = 0; [2, 3, 4].for_each(|| { n += this; });", "n", 9),
        (
            "let all = []; let add = |x| all.push(x); for i in 0..6 { add.call(i); }",
            "all.len()",
            6,
        ),
        (
            "const N = 5; let more = |by| N + by;",
            "more.call(1) + more.call(2)",
            13,
        ),
        (
            "let fs = []; for i in 1..4 { let n = i; fs.push(|| n); }",
            "fs[0].call() + fs[1].call() + fs[2].call()",
            6,
        ),
        (
            "let n = 3; let f = || { let g = || { n += 1; n }; g.call() }; f.call();",
            "n",
            4,
        ),
        (
            "fn twice(f, n) { f.call(f.call(n)) } let by = 3;",
            "twice(|n| n + by, 1)",
            7,
        ),
        (
            "let n = 2; let f = || n; let g = || f.call() + n; n = 3; let m = switch g.call() { 6 => 7, _ => 8 };",
            "m",
            7,
        ),
        (
            "let f = |n| n; for i in 0..40 { let g = f; f = |n| g.call(n) + 1; } let m = switch f.call(0) { 40 => 9, _ => 8 };",
            "m",
            9,
        ),
    ];
    for (body, value, expected) in shared {
        let text = format!("{body} band({value}).repeat(forward(1))");
        assert_eq!(threads(&text), expected, "{text}");
    }
    let circle =
        "let big = []; big.pad(19000, 1); let f = (); f = || [f, big]; band(4).repeat(forward(1))";
    threads(circle);
    let before = MEMORY.current_usage();
    for _ in 0..50 {
        threads(circle);
    }
    let kept = MEMORY.current_usage().saturating_sub(before);
    assert!(kept < 1 << 20, "{kept} bytes are kept after the runs");
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
