//! Files that a maker has changed or named, and files of ours that they must not cost.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use crate::common::{Said, Tree, files_in, folder, hitchwork, tree};
use sha2::{Digest, Sha256};

const PLAN: &str = "title = \"Two moorings\"\n[defaults]\nlengths = 4\nwrite = [\"fabric\", \"text\"]\n[[item]]\nrule = \"own.rhai\"\ngrid = { threads = [4, 5, 6] }\n";

/// A member of the plan.
const MEMBER: &str = "own-4";

const REMARK: &str = "row 3: hold it tight\n";

/// A rule of your own, whose bands are called by a word.
fn rule(place: &Path, word: &str) {
    let text = format!(
        "/// A mooring.\nlet threads = whole(\"threads\", 6, 4..=12, \"threads\");\nrequire(threads < 12, \"that is too wide\", \"take fewer\");\nband(threads).repeat(forward(1..threads)).title(\"{word}\")\n"
    );
    fs::write(place.join("own.rhai"), text).expect("written");
}

fn planned() -> tempfile::TempDir {
    let place = folder();
    fs::write(place.path().join("plan.toml"), PLAN).expect("written");
    rule(place.path(), "ebb");
    place
}

fn collect(place: &Path, more: &[&str]) -> Said {
    let asked = ["collect", "plan.toml", "--quiet", "--workers", "1"];
    hitchwork(place, &[&asked[..], more].concat())
}

/// A collection in the folder `out`, as it is when nobody disturbs it.
fn collected(place: &Path) -> Tree {
    let said = collect(place, &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    tree(&place.join("out"))
}

fn text(path: &Path) -> String {
    fs::read_to_string(path).expect("there")
}

fn write(path: &Path, bytes: impl AsRef<[u8]>) {
    fs::write(path, bytes).expect("written");
}

#[test]
fn a_file_that_its_maker_has_changed_stays_and_is_told_in_every_run() {
    let place = planned();
    let whole = collected(place.path());
    let member = place.path().join("out").join(MEMBER);
    write(&member.join("sheet.txt"), REMARK);
    fs::remove_file(member.join("fabric.svg")).expect("there");
    for made in ["1 band; 2 were", "0 bands; 3 were"] {
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        assert!(
            said.out.contains(
                "kept      1 file that was changed since: own-4/sheet.txt; rename or delete one"
            ),
            "{}",
            said.out
        );
        assert!(said.out.contains(made), "{}", said.out);
        assert_eq!(text(&member.join("sheet.txt")), REMARK);
        // Everything else is as it was, the manifest too: it says what was made.
        let mut now = tree(&place.path().join("out"));
        let steps = format!("{MEMBER}/sheet.txt");
        now.insert(steps.clone(), whole[&steps].clone());
        assert!(now == whole);
    }
    let data = collect(place.path(), &["--out", "out", "--json"]);
    let data: serde_json::Value = serde_json::from_str(&data.out).expect("JSON");
    assert_eq!(data["kept"], serde_json::json!(["own-4/sheet.txt"]));
    let verified = hitchwork(place.path(), &["collect", "out", "--verify"]);
    assert_eq!(verified.status, Some(1), "{}", verified.out);
    fs::remove_file(member.join("sheet.txt")).expect("there");
    assert!(collected(place.path()) == whole);
}

#[test]
fn what_a_loss_of_power_leaves_is_made_again() {
    let place = planned();
    let whole = collected(place.path());
    let steps = place.path().join("out").join(MEMBER).join("sheet.txt");
    let bytes = fs::read(&steps).expect("there");
    let half = &bytes[..bytes.len() / 2];
    let zeros = vec![0; bytes.len()];
    let with_zeros = [half, &zeros[half.len()..]].concat();
    for left in [half, &zeros, &with_zeros, b""] {
        write(&steps, left);
        assert!(collected(place.path()) == whole);
    }
    // One letter more, or another one, is somebody's.
    let mut other = bytes.clone();
    other[0] ^= 1;
    for changed in [[&bytes[..], b"\n"].concat(), other] {
        write(&steps, &changed);
        assert_eq!(collect(place.path(), &["--out", "out"]).status, Some(0));
        assert_eq!(fs::read(&steps).expect("there"), changed);
    }
}

#[test]
fn a_changed_band_file_keeps_its_band_in_the_collection() {
    let place = planned();
    let plan = format!(
        "{PLAN}[[item]]\nrule = \"own.rhai\"\nname = \"again\"\ngrid = {{ threads = [4] }}\n"
    );
    write(&place.path().join("plan.toml"), plan);
    let whole = collected(place.path());
    assert!(
        String::from_utf8_lossy(&whole["collection.csv"]).contains(",own-4,"),
        "again is own-4 once more"
    );
    let band = place.path().join("out/own-4/own-4.band.json");
    let retitled = text(&band).replace("\"ebb\"", "\"flood\"");
    write(&band, &retitled);
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(said.out.contains("own-4/own-4.band.json"), "{}", said.out);
    assert_eq!(text(&band), retitled);
    // A list for a class is not made from what nobody has proved.
    let class = hitchwork(place.path(), &["collect", "out", "--class", "buy.txt"]);
    assert_eq!(class.status, Some(2), "{}", class.out);
    assert!(class.err.contains("rename or delete it"), "{}", class.err);
}

#[test]
fn where_a_changed_plan_needs_the_places_of_changed_files_that_band_fails_and_names_all() {
    let place = planned();
    collected(place.path());
    let member = place.path().join("out").join(MEMBER);
    for name in ["sheet.txt", "fabric.svg"] {
        write(&member.join(name), REMARK);
    }
    rule(place.path(), "flood");
    for made in ["made      2 bands", "0 bands; 2 were"] {
        let said = collect(place.path(), &["--out", "out"]);
        assert_eq!(said.status, Some(1), "{}{}", said.out, said.err);
        assert!(
            said.out
                .contains("own-4/fabric.svg and own-4/sheet.txt are there already"),
            "{}",
            said.out
        );
        assert!(said.out.contains(made), "{}", said.out);
        assert_eq!(text(&member.join("sheet.txt")), REMARK);
        assert_eq!(text(&member.join("fabric.svg")), REMARK);
    }
    // A collection says nothing about the machine that it was made on.
    let away = place.path().display().to_string();
    for name in ["collection.json", "collection.csv", "index.html"] {
        let written = text(&place.path().join("out").join(name));
        assert!(
            !written.contains(&away) && !written.contains("out/own-4"),
            "{name}"
        );
    }
    for name in ["sheet.txt", "fabric.svg"] {
        fs::rename(member.join(name), member.join(format!("my {name}"))).expect("renamed");
    }
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    let said = collect(place.path(), &["--out", "fresh"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    let mut now = tree(&place.path().join("out"));
    now.retain(|name, _| !name.contains("my "));
    assert!(now == tree(&place.path().join("fresh")));
}

#[test]
fn joining_keeps_what_was_changed_elsewhere_and_in_its_place() {
    let place = planned();
    let whole = collected(place.path());
    let share = collect(place.path(), &["--out", "share", "--part", "1/1"]);
    assert_eq!(share.status, Some(0), "{}", share.err);
    for (out, from) in [("out", "share"), ("share", "share")] {
        let steps = place.path().join(out).join(MEMBER).join("sheet.txt");
        write(&steps, REMARK);
        let said = collect(place.path(), &["--out", out, "--merge", from]);
        assert_eq!(said.status, Some(0), "{out}: {}{}", said.out, said.err);
        assert!(said.out.contains("kept      1 file"), "{out}: {}", said.out);
        assert_eq!(text(&steps), REMARK, "{out}");
        let mut now = tree(&place.path().join(out));
        let steps = format!("{MEMBER}/sheet.txt");
        now.insert(steps.clone(), whole[&steps].clone());
        assert!(now == whole, "{out}");
    }
    // What is missing there cannot be made from nothing.
    let share = collect(place.path(), &["--out", "other", "--part", "1/1"]);
    assert_eq!(share.status, Some(0), "{}", share.err);
    fs::remove_file(place.path().join("other").join(MEMBER).join("sheet.txt")).expect("there");
    let said = collect(place.path(), &["--out", "other", "--merge", "other"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(said.err.contains("in none of the shares"), "{}", said.err);
}

/// A line of a journal, as a run writes it.
fn proved(line: &str) -> String {
    format!("{line}\t{:x}\n", Sha256::digest(line))
}

#[test]
fn a_run_that_died_while_it_replaced_a_band_does_not_bind_the_plan() {
    let place = planned();
    collected(place.path());
    let out = place.path().join("out");
    // A run that ends at a failure leaves its journal: before the new files it names them.
    rule(place.path(), "flood");
    let failing = PLAN.replace("[4, 5, 6]", "[4, 12]");
    write(&place.path().join("plan.toml"), failing);
    let halt = ["--out", "out", "--stop-at-first-failure"];
    assert_eq!(collect(place.path(), &halt).status, Some(2));
    let journal = text(&out.join("collection.journal"));
    let steps = fs::read(out.join(MEMBER).join("sheet.txt")).expect("there");
    let named = format!(
        "{{\"left_behind\":{{\"bytes\":{},\"path\":\"own-4/sheet.txt\",\"sha256\":\"{:x}\"}}}}",
        steps.len(),
        Sha256::digest(&steps)
    );
    assert!(journal.contains(&proved(&named)), "{journal}");
    // Had it died right then, the record would be missing.
    let kept = journal.lines().filter(|line| !line.contains("\"name\""));
    let kept: String = kept.map(|line| format!("{line}\n")).collect();
    write(&out.join("collection.journal"), kept);
    // A plan without that band finds its files as what they are: written by itself.
    write(
        &place.path().join("plan.toml"),
        PLAN.replace("[4, 5, 6]", "[5, 6]"),
    );
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(said.out.contains("3 files of bands"), "{}", said.out);
    assert!(!said.out.contains("changed since"), "{}", said.out);
    // And the plan may change its mind once more.
    rule(place.path(), "slack");
    write(&place.path().join("plan.toml"), PLAN);
    let said = collect(place.path(), &["--out", "out"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(!said.out.contains("left"), "{}", said.out);
    let said = collect(place.path(), &["--out", "fresh"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    assert!(tree(&out) == tree(&place.path().join("fresh")));
}

#[test]
fn moving_out_says_which_changed_files_stay_and_goes_nowhere_inside() {
    let place = planned();
    collected(place.path());
    let before = tree(place.path());
    for inside in ["out/old", "out", "out/../out/older/still"] {
        let said = collect(place.path(), &["--out", "out", "--move-out", inside]);
        assert_eq!(said.status, Some(2), "{inside}: {}", said.out);
        assert!(said.err.contains("collection"), "{}", said.err);
    }
    // It is refused before anything is made.
    let said = collect(place.path(), &["--out", "new", "--move-out", "new/old"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(tree(place.path()) == before);
    write(
        &place.path().join("plan.toml"),
        PLAN.replace("[4, 5, 6]", "[5, 6]"),
    );
    let steps = place.path().join("out").join(MEMBER).join("sheet.txt");
    write(&steps, REMARK);
    let stays = "1 file of such bands was changed since, and stays where it is: own-4/sheet.txt";
    for more in [&[][..], &["--move-out", "old"], &["--move-out", "old"]] {
        let said = collect(place.path(), &[&["--out", "out"], more].concat());
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        assert!(said.out.contains(stays), "{}", said.out);
        assert_eq!(text(&steps), REMARK);
    }
    assert_eq!(files_in(&place.path().join("old/own-4")).len(), 2);
    fs::remove_file(&steps).expect("there");
    let said = collect(place.path(), &["--out", "out"]);
    assert!(!said.out.contains("changed since"), "{}", said.out);
}

#[test]
fn a_share_that_is_not_there_leaves_no_folder() {
    let place = planned();
    let before = tree(place.path());
    fs::create_dir(place.path().join("empty")).expect("made");
    for share in ["nowhere", "empty"] {
        let said = collect(place.path(), &["--out", "joined", "--merge", share]);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(
            said.err.contains("there is no share of a collection"),
            "{}",
            said.err
        );
        assert!(!place.path().join("joined").exists());
    }
    assert!(tree(place.path()) == before);
}

#[test]
fn a_dry_run_tells_bands_from_candidates() {
    let place = planned();
    let plan = format!(
        "{PLAN}[[item]]\nrule = \"flotsam\"\nsettings = {{ threads = 5, fours = 1, colours = 2 }}\nseeds = \"1..40\"\nbest = {{ count = 5, by = \"contrast\" }}\n"
    );
    write(&place.path().join("plan.toml"), plan);
    let said = collect(place.path(), &["--dry-run"]);
    assert!(
        said.err.contains("at most 8 bands of 43 candidates, about"),
        "{}",
        said.err
    );
    let said = collect(place.path(), &["--dry-run", "--json"]);
    let data: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    assert_eq!(
        (&data["members"], &data["candidates"]),
        (&8.into(), &43.into())
    );
}

#[test]
fn a_search_looks_first_whether_its_folder_takes_what_it_will_find() {
    let place = folder();
    // A search that finds nothing says so; one that cannot write says that, and first.
    let explore = |out: &str, seeds: &str, more: &[&str]| {
        let asked = ["explore", "flotsam", "--set", "threads=5", "--count", "2"];
        let asked = [&asked[..], &["--seeds", seeds, "--out", out], more].concat();
        hitchwork(place.path(), &asked)
    };
    let never = ["--where", "threads > 1000"];
    let first = explore("found", "1..20", &[]);
    assert_eq!(first.status, Some(0), "{}", first.err);
    let found = files_in(&place.path().join("found"));
    let band = found.iter().find(|name| name.ends_with(".band.json"));
    let band = band.expect("one was found");
    for name in ["contact.html", "contact.svg", "contact.png", band] {
        let path = place.path().join("found").join(name);
        let before = fs::read(&path).expect("there");
        write(&path, "my own");
        let said = explore("found", "1..20", &never);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(
            said.err.contains(&format!("{name} is there already")),
            "{name}: {}",
            said.err
        );
        assert_eq!(text(&path), "my own");
        write(&path, before);
    }
    // Its own unchanged files are in nobody's way, nor is a band of other seeds.
    write(&place.path().join("found").join(band), "my own");
    let said = explore("found", "100..120", &never);
    assert!(said.err.contains("nothing was found"), "{}", said.err);
    write(&place.path().join("a file"), "no folder");
    for out in ["a file", "a file/found"] {
        let said = explore(out, "1..20", &never);
        assert!(
            said.err.contains("part of the path is a file"),
            "{}",
            said.err
        );
    }
    let said = explore("new/found", "1..20", &never);
    assert!(said.err.contains("nothing was found"), "{}", said.err);
    assert!(!place.path().join("new").exists());
}

#[test]
fn a_named_file_is_never_one_of_a_collection_or_of_another_kind() {
    let place = planned();
    collected(place.path());
    let explored = [
        "explore",
        "flotsam",
        "--set",
        "threads=5",
        "--seeds",
        "1..9",
    ];
    let explored = hitchwork(place.path(), &[&explored[..], &["--out", "found"]].concat());
    assert_eq!(explored.status, Some(0), "{}", explored.err);
    let made = hitchwork(place.path(), &["make", "drift", "--out", "made"]);
    assert_eq!(made.status, Some(0), "{}", made.err);
    let class = ["collect", "out", "--class"];
    let sheet = ["sheet", "drift", "--out"];
    let draw = ["draw", "drift", "--out"];
    let comparison = ["compare", "drift", "--over", "threads=6..8", "--out"];
    let before = tree(place.path());
    for (command, file) in [
        (&class[..], "out/collection.csv"),
        (&class, "out/index.html"),
        (&sheet, "out/index.html"),
        (&sheet, "out/own-4/sheet.txt"),
        (&draw, "out/own-4/fabric.svg"),
        (&comparison, "out/own-5/fabric.svg"),
        (&class, "found/contact.html"),
        (&sheet, "found/contact.html"),
        (&draw, "found/contact.svg"),
        (&class, "made/sheet.txt"),
        (&comparison, "made/fabric.svg"),
    ] {
        let said = hitchwork(place.path(), &[command, &[file]].concat());
        assert_eq!(said.status, Some(2), "{command:?} {file}: {}", said.out);
        assert!(
            said.err.contains(&format!("{file} was not written")),
            "{command:?} {file}: {}",
            said.err
        );
        assert!(tree(place.path()) == before, "{command:?} {file}");
    }
    // Also where the collection has lost its own, or is in the middle of its work.
    fs::remove_file(place.path().join("out/collection.csv")).expect("there");
    let said = hitchwork(
        place.path(),
        &["collect", "out", "--class", "out/collection.csv"],
    );
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert_eq!(collected(place.path()).len(), 12);
    // Other files are what the maker means, and so are results of the same kind.
    write(&place.path().join("out/own-4/mine.txt"), "mine");
    for (command, file) in [
        (&class[..], "out/shopping.csv"),
        (&sheet, "out/own-4/mine.txt"),
        (&class, "collection.csv"),
        (&sheet, "made/sheet.txt"),
        (&draw, "made/fabric.svg"),
    ] {
        let said = hitchwork(place.path(), &[command, &[file]].concat());
        assert_eq!(said.status, Some(0), "{command:?} {file}: {}", said.err);
    }
    assert_ne!(text(&place.path().join("out/own-4/mine.txt")), "mine");
}

#[test]
fn two_that_make_into_one_folder_wait_for_each_other() {
    let place = folder();
    let out = place.path().join("made");
    fs::create_dir(&out).expect("made");
    let lock = fs::File::create(out.join(".hitchwork-lock")).expect("a file");
    lock.try_lock().expect("nobody else has it");
    let rules = ["drift", "waves", "flotsam", "candy_stripe"];
    let make = |rule: &str| {
        Command::new(env!("CARGO_BIN_EXE_hitchwork"))
            .args(["make", rule, "--with", "order", "--out", "made"])
            .current_dir(place.path())
            .stdout(Stdio::null())
            .spawn()
            .expect("the command starts")
    };
    let running: Vec<_> = rules.iter().map(|rule| make(rule)).collect();
    std::thread::sleep(Duration::from_millis(700));
    assert!(files_in(&out).is_empty(), "the folder is somebody else's");
    drop(lock);
    for mut one in running {
        assert!(one.wait().expect("it ends").success());
    }
    // All are remembered: each can be made again, with other settings too.
    for rule in rules {
        let asked = [
            "make", rule, "--with", "order", "--out", "made", "--length", "9",
        ];
        let said = hitchwork(place.path(), &asked);
        assert_eq!(said.status, Some(0), "{rule}: {}", said.err);
    }
}

#[test]
fn a_band_file_that_was_changed_where_it_lies_is_made_again_beside_itself() {
    let place = folder();
    let make = |rule: &str, more: &[&str]| {
        hitchwork(
            place.path(),
            &[&["make", rule, "--with", "text"], more].concat(),
        )
    };
    assert_eq!(make("drift", &[]).status, Some(0));
    let path = "out/drift/drift.band.json";
    let band = place.path().join(path);
    let retitled = text(&band).replace("\"title\": \"", "\"title\":   \"Quayside ");
    assert!(retitled.contains("Quayside"), "{retitled}");
    write(&band, &retitled);
    let said = make(path, &[]);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert_eq!(text(&band), retitled, "the maker's own words stay");
    assert!(text(&place.path().join("out/drift/sheet.txt")).contains("Quayside"));
    assert!(!said.out.contains("drift.band.json\n"), "{}", said.out);
    // Another band than the one in the file would cost it.
    let said = make(path, &["--mirrored"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert_eq!(text(&band), retitled);
    // A copy elsewhere is no reason to write over the one that was changed.
    fs::create_dir(place.path().join("copy")).expect("made");
    fs::copy(&band, place.path().join("copy/drift.band.json")).expect("copied");
    write(&band, retitled.replace("Quayside", "Harbour"));
    let said = make("copy/drift.band.json", &[]);
    assert_eq!(said.status, Some(2), "{}", said.out);
}

#[test]
fn all_files_in_the_way_are_named_and_those_of_an_earlier_make_are_told() {
    let place = folder();
    let make = |rule: &str, with: &str| {
        let asked = ["make", rule, "--with", with, "--out", "made"];
        hitchwork(place.path(), &asked)
    };
    let said = make("drift", "fabric,order,thread,text,html,pdf");
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(!said.out.contains("earlier"), "{}", said.out);
    let out = place.path().join("made");
    // Somebody's own is not among what is ours.
    write(&out.join("thread.svg"), "my own");
    let said = make("waves", "text");
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(
        said.out.contains("earlier     drift.band.json, fabric.png, fabric.svg, order.svg, sheet.html and 1 more were not written now"),
        "{}",
        said.out
    );
    for name in ["waves.band.json", "sheet.txt"] {
        write(&out.join(name), "my own");
    }
    let said = make("waves", "text");
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(
        said.err
            .contains("sheet.txt and waves.band.json are in made already"),
        "{}",
        said.err
    );
}

#[test]
fn a_column_of_a_stash_that_means_nothing_is_told_wherever_it_is_read() {
    let place = folder();
    write(
        &place.path().join("mine.csv"),
        "name,colour,remaining\nlagoon,#23979f,7\n",
    );
    let stash = ["--stash", "mine.csv"];
    for command in [
        &["check", "drift"][..],
        &["make", "drift", "--with", "text"],
        &["colours", "order", "mine.csv"],
    ] {
        let stash = if command[0] == "colours" {
            &[][..]
        } else {
            &stash
        };
        let said = hitchwork(place.path(), &[command, stash].concat());
        assert!(
            said.err.contains("mine.csv: not used: remaining"),
            "{command:?}: {}",
            said.err
        );
    }
}
