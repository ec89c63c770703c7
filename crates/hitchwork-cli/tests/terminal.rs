//! What reaches a terminal: our words and colours, and nothing from outside that a terminal
//! would obey.

use std::fs;
use std::path::Path;
use std::process::Command;

/// Escape sequences that clear the screen, colour words, name the window, and hide what
/// follows (ISO/IEC 6429, in the forms of seven and of eight bits), a bell, and a mark that
/// turns the words behind it.
const HOSTILE: &str =
    "\u{1b}[2J\u{1b}[31mebb\u{1b}]0;owned\u{7}\u{9b}8m\u{90}q\u{9c}\u{7f}\u{202e}tide";

/// Runs the command as if it stood on a terminal that shows colours, and gives all that it
/// says.
fn seen(folder: &Path, arguments: &[&str]) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(arguments)
        .current_dir(folder)
        .env_remove("NO_COLOR")
        .env("CLICOLOR_FORCE", "1")
        .env("COLORTERM", "truecolor")
        .output()
        .expect("the command starts");
    let said = [output.stdout, output.stderr].concat();
    String::from_utf8(said).expect("the command speaks UTF-8")
}

/// Asserts that there is nothing a terminal would obey but line ends and the colours that
/// the command gives its own words.
fn is_harmless(said: &str, about: &str) {
    for (at, part) in said.split('\u{1b}').enumerate() {
        let rest = if at == 0 {
            part
        } else {
            let (colour, rest) = part.split_once('m').unwrap_or_default();
            let ours = colour
                .strip_prefix('[')
                .is_some_and(|codes| codes.chars().all(|c| c.is_ascii_digit() || c == ';'));
            assert!(ours, "{about}: {part:?} in {said:?}");
            rest
        };
        let obeyed = rest
            .chars()
            .find(|c| (c.is_control() && !"\n\t".contains(*c)) || matches!(c, '\u{202e}'));
        assert_eq!(obeyed, None, "{about}: {said:?}");
    }
    assert!(
        !said.contains("\u{1b}[31mebb"),
        "{about}: colours from outside in {said:?}"
    );
}

/// A JSON string.
fn quoted(text: &str) -> String {
    serde_json::to_string(text).expect("text is JSON")
}

/// A band file that is hostile wherever it holds words.
fn band_file(hostile: &str) -> String {
    format!(
        r##"{{"format": "hitchwork-band/1", "title": {0}, "notes": {0},
            "palette": [{{"name": {0}, "srgb": "#204060"}}, {{"name": "foam", "srgb": "#f0f0f0"}}],
            "threads": [0, 1, 0, 1], "repeats": 3,
            "repeat": [{{"knots": [{{"at": 1, "kind": "forward"}}, {{"at": 3, "kind": "forward"}}]}}],
            "origin": {{"rule": {0}}}}}"##,
        quoted(hostile)
    )
}

#[test]
fn words_of_files_never_steer_the_terminal() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: String| {
        fs::write(folder.path().join(name), text).expect("written");
    };
    // TOML has no raw control characters; its escapes have them all.
    let escaped: String = HOSTILE
        .chars()
        .map(|c| format!("\\u{:04X}", u32::from(c)))
        .collect();
    write("hostile.band.json", band_file(HOSTILE));
    write("broken.band.json", format!("{{{}: 1}}", quoted(HOSTILE)));
    write(
        "hostile.rhai",
        format!(
            "/// Makes {HOSTILE}.\nlet threads = whole(\"threads\", 4, 4..=8, \"{HOSTILE}\");\nband(threads).repeat(forward(1..threads)).title(\"{HOSTILE}\")\n"
        ),
    );
    write(
        "broken.rhai",
        format!("/// Makes nothing.\nlet x = \"{HOSTILE}\"; nothing_of_that_name(x)\n"),
    );
    write(
        "throwing.rhai",
        format!("/// Makes nothing.\nrequire(false, \"{HOSTILE}\", \"{HOSTILE}\")\n"),
    );
    write(
        "palette.csv",
        format!("name,srgb\n{HOSTILE},#204060\nfoam,#f0f0f0\n"),
    );
    write("broken.csv", format!("name,srgb\n{HOSTILE},{HOSTILE}\n"));
    write(
        "stash.csv",
        format!("name,srgb,{HOSTILE}\n{HOSTILE},#204060,1\nfoam,#f0f0f0,2\n"),
    );
    let plan = |settings: &str| {
        format!("title = \"{escaped}\"\n[[item]]\nname = \"one\"\nrule = \"drift\"\n{settings}\n")
    };
    write("plan.toml", plan(""));
    write(
        "broken.toml",
        plan(&format!("set = {{ \"{escaped}\" = 3 }}")),
    );

    let commands: [&[&str]; 22] = [
        &["check", "hostile.band.json"],
        &["check", "--json", "hostile.band.json"],
        &["make", "hostile.band.json", "--out", "made"],
        &["sheet", "hostile.band.json", "--format", "text"],
        &["check", "broken.band.json"],
        &["check", "--json", "broken.band.json"],
        &["check", "hostile.rhai"],
        &["check", "hostile.rhai", "--set", "threads=90"],
        &["rules", "show", "hostile.rhai"],
        &["check", "broken.rhai"],
        &["check", "throwing.rhai"],
        &["check", "--json", "throwing.rhai"],
        &["compare", "hostile.rhai", "--over", "threads=4..6"],
        &["explore", "hostile.rhai", "--tries", "3"],
        &["colours", "palettes", "palette.csv"],
        &["check", "drift", "--palette", "palette.csv"],
        &["check", "drift", "--palette", "broken.csv"],
        &["check", "hostile.band.json", "--stash", "stash.csv"],
        &["colours", "match", "spring tide", "--stash", "stash.csv"],
        &["collect", "plan.toml", "--out", "bands", "--dry-run"],
        &["collect", "plan.toml", "--out", "bands"],
        &["collect", "broken.toml", "--out", "bands"],
    ];
    for arguments in commands {
        let said = seen(folder.path(), arguments);
        assert!(!said.is_empty(), "{arguments:?}");
        is_harmless(&said, &format!("{arguments:?}"));
    }
}

#[test]
fn words_of_the_command_line_never_steer_the_terminal() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let set = format!("threads={HOSTILE}");
    let name = format!("{HOSTILE}.rhai");
    let commands: [&[&str]; 6] = [
        &["check", "drift", "--set", &set],
        &["check", HOSTILE],
        &["check", &name],
        &[HOSTILE],
        &["check", "drift", HOSTILE],
        &["explain", HOSTILE],
    ];
    for arguments in commands {
        let said = seen(folder.path(), arguments);
        is_harmless(&said, &format!("{arguments:?}"));
        assert!(said.contains("would steer the terminal"), "{said}");
    }
}

#[test]
fn the_words_are_still_coloured_where_they_are_ours() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let said = seen(folder.path(), &["check", "drift", "--set", "threads=10"]);
    assert!(
        said.contains("\u{1b}[1mdrift, 10 threads\u{1b}[0m"),
        "{said:?}"
    );
    let said = seen(folder.path(), &["check", "drift", "--set", "threads=900"]);
    assert!(said.contains("\u{1b}["), "{said:?}");
}

/// A line break in a name would let it go on as if it were a line of ours.
#[test]
fn names_never_become_lines_of_a_report() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: String| {
        fs::write(folder.path().join(name), text).expect("written");
    };
    const FORGED: &str = "error: all bad";
    for (at, end) in [
        "\n", "\r", "\r\n", "\u{b}", "\u{c}", "\u{85}", "\u{2028}", "\u{2029}",
    ]
    .into_iter()
    .enumerate()
    {
        let name = format!("ebb{end}{FORGED}");
        write(
            "stash.csv",
            format!("name,colour,left,\"{name}\"\n\"{name}\",#ef6b5c,1,\n"),
        );
        write(
            "palette.csv",
            format!("name,colour\n\"{name}\",#ef6b5c\nfoam,#f0f0f0\n"),
        );
        let escaped = quoted(&name);
        write(
            "palette.toml",
            format!(
                "name = {escaped}\nsentence = {escaped}\n[[colours]]\nname = {escaped}\nsrgb = \"#ef6b5c\"\n"
            ),
        );
        write("ebb.band.json", band_file(&name));
        write(
            "ebb.rhai",
            format!(
                "/// Makes a band.\nband(2).repeat(forward(1)).colours([colour({escaped}, \"#ef6b5c\"), colour(\"foam\", \"#f0f0f0\")]).title({escaped})\n"
            ),
        );
        write(
            "broken.csv",
            format!("name,colour\n\"{name}\",#ef6b5c\n\"{name}\",#ef6b5c\n"),
        );
        write(
            "failing.rhai",
            format!("/// Makes nothing.\nrequire(false, {escaped}, \"nothing\")\n"),
        );
        write(
            "plan.toml",
            "[[item]]\nrule = \"failing.rhai\"\nname = \"ebb\"\n".to_owned(),
        );
        let commands: [&[&str]; 12] = [
            &["collect", "plan.toml", "--check", "--quiet"],
            &["colours", "order", "stash.csv"],
            &["colours", "choose", "stash.csv", "-n", "1"],
            &[
                "colours",
                "match",
                "#ef6b5c",
                "-n",
                "1",
                "--stash",
                "stash.csv",
            ],
            &["colours", "palettes", "palette.csv"],
            &["colours", "palettes", "palette.toml"],
            &["colours", "palettes", "broken.csv"],
            &["colours", "order", "broken.csv"],
            &["check", "drift", "--stash", "stash.csv"],
            &[
                "check",
                "drift",
                "--palette",
                "palette.csv",
                "--people",
                "2",
            ],
            &["check", "ebb.band.json", "--people", "2"],
            &["check", "ebb.rhai"],
        ];
        for arguments in commands {
            let said = seen(folder.path(), arguments);
            let ends = |letter: char| "\n\r\u{b}\u{c}\u{85}\u{2028}\u{2029}".contains(letter);
            let forged = said
                .split(ends)
                .find(|line| line.trim_start().starts_with(FORGED));
            assert_eq!(forged, None, "{at} {arguments:?}: {said}");
            assert!(said.contains("ebb"), "{at} {arguments:?}: {said}");
        }
    }
}

/// A name of which nothing is seen (U+200B is a space of no width) cannot be asked for.
#[test]
fn names_that_cannot_be_seen_are_refused() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let write = |name: &str, text: String| {
        fs::write(folder.path().join(name), text).expect("written");
    };
    for blank in ["\u{200b}", "\u{2060}\u{ad}", "\u{3164}", " \u{200b} "] {
        write("stash.csv", format!("name,colour\n{blank},#ef6b5c\n"));
        write("ebb.band.json", band_file(blank));
        for (arguments, says) in [
            (
                &["colours", "order", "stash.csv"][..],
                "the thread has no name",
            ),
            (
                &["check", "ebb.band.json"],
                "colour 1 of the palette has no name",
            ),
        ] {
            let said = seen(folder.path(), arguments);
            assert!(said.contains(says), "{blank:?} {arguments:?}: {said}");
        }
    }
}
