//! Paths that are no text: files go where they are meant to go, or nothing is made.

use std::ffi::OsStr;
use std::fs;
use std::os::unix::ffi::OsStrExt as _;
use std::path::Path;
use std::process::{Command, Output};

/// Bytes that are not UTF-8: `\xff` begins no character (RFC 3629, 2003).
const NO_TEXT: &[u8] = b"berth-\xff";

fn run(place: &Path, arguments: &[&OsStr]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_hitchwork"))
        .args(arguments)
        .current_dir(place)
        .env("NO_COLOR", "1")
        .output()
        .expect("the command starts")
}

fn words(text: &str) -> Vec<&OsStr> {
    text.split(' ').map(OsStr::new).collect()
}

/// What lies in a folder, as it is called.
fn names(place: &Path) -> Vec<Vec<u8>> {
    let entries = fs::read_dir(place).expect("a folder");
    let mut names: Vec<Vec<u8>> = entries
        .map(|entry| entry.expect("readable").file_name().as_bytes().to_vec())
        .collect();
    names.sort();
    names
}

#[test]
fn pictures_go_to_the_folder_that_is_named() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let berth = OsStr::from_bytes(NO_TEXT);
    let chart = "draw drift --picture strands --rows-a-page 1 --all-rows --length 1 --out";
    for asked in ["draw drift --out", chart] {
        let out = Path::new(berth).join("x.svg");
        let said = run(
            place.path(),
            &[&words(asked)[..], &[out.as_os_str()]].concat(),
        );
        assert_eq!(said.status.code(), Some(0), "{asked}");
        assert_eq!(names(place.path()), [NO_TEXT], "{asked}");
    }
    assert!(place.path().join(berth).join("x.svg").is_file());
    assert!(place.path().join(berth).join("x-2.svg").is_file());
    // One picture may be called so; several could not be known again, and are not begun.
    let mut own = NO_TEXT.to_vec();
    own.extend(b".svg");
    let one = run(
        place.path(),
        &[&words("draw drift --out")[..], &[OsStr::from_bytes(&own)]].concat(),
    );
    assert_eq!(one.status.code(), Some(0));
    let several = run(
        place.path(),
        &[&words(chart)[..], &[OsStr::from_bytes(&own)]].concat(),
    );
    assert_eq!(several.status.code(), Some(2));
    assert_eq!(names(place.path()), [NO_TEXT, &own]);
}

#[test]
fn what_json_cannot_name_is_not_made() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let berth = OsStr::from_bytes(NO_TEXT);
    for asked in [
        "make drift --json --out",
        "explore flotsam --seeds 1..3 --even-unsound --json --out",
    ] {
        let said = run(place.path(), &[&words(asked)[..], &[berth]].concat());
        assert_eq!(said.status.code(), Some(2), "{asked}");
        let said = String::from_utf8(said.stdout).expect("JSON is UTF-8");
        let data: serde_json::Value = serde_json::from_str(&said).expect("JSON");
        let message = data["diagnostics"][0]["message"].as_str().expect("said");
        assert!(message.contains("is not UTF-8 text"), "{message}");
        assert!(names(place.path()).is_empty(), "{asked}");
        // Without JSON there is nothing against it.
        let asked = asked.replace("--json ", "");
        let said = run(place.path(), &[&words(&asked)[..], &[berth]].concat());
        assert_eq!(said.status.code(), Some(0), "{asked}");
        assert_eq!(names(place.path()), [NO_TEXT]);
        fs::remove_dir_all(place.path().join(berth)).expect("removed");
    }
}

#[test]
fn a_plan_that_is_there_is_not_said_to_be_missing() {
    let place = tempfile::tempdir().expect("a temporary folder");
    let berth = place.path().join(OsStr::from_bytes(NO_TEXT));
    fs::create_dir(&berth).expect("made");
    let plan = berth.join("plan.toml");
    fs::write(&plan, "[[item]]\nrule = \"drift\"\n").expect("written");
    let said = run(
        place.path(),
        &[&words("collect")[..], &[plan.as_os_str()]].concat(),
    );
    assert_eq!(said.status.code(), Some(2));
    let said = String::from_utf8(said.stderr).expect("text");
    assert!(said.contains("is not UTF-8 text"), "{said}");
    assert_eq!(names(place.path()), [NO_TEXT]);
}
