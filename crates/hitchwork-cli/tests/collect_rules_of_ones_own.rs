//! Collections of rules of your own: what a band is made from is found out by what its run
//! asked for, and results are the same wherever plan and rules lie.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::common::{Said, folder, hitchwork, tree};

const PLAN: &str = r#"
title = "Gulls over the harbour"

[defaults]
lengths = 4
write = ["text", "html"]

[[item]]
rule = "gulls.rhai"
grid = { threads = [4, 6], made_of = ["strip", "candy_stripe"] }
"#;

/// Half of its bands use a rule in a folder below, the other half one of the library, unless
/// there is one of that name beside the rule.
const GULLS: &str = r#"/// Gulls in rows.
let threads = whole("threads", 4, 4..=20, "threads");
let made_of = choice("made_of", "strip", ["strip", "candy_stripe"], "what it is made with");
if made_of == "strip" { rule("parts/strip", #{ threads: threads }) } else { rule("candy_stripe", #{ threads: threads }) }
"#;

const STRIP: &str = r#"let threads = whole("threads", 4, 4..=20, "threads");
band(threads).repeat(forward(1..threads))
"#;

const OTHER_STRIP: &str = r#"let threads = whole("threads", 4, 4..=20, "threads");
band(threads).repeat(backward(1..threads))
"#;

fn lay_out(folder: &Path, plan: &str) {
    fs::create_dir_all(folder.join("parts")).expect("a folder");
    write(folder, "plan.toml", plan);
    write(folder, "gulls.rhai", GULLS);
    write(folder, "parts/strip.rhai", STRIP);
}

fn write(folder: &Path, path: &str, text: &str) {
    fs::write(folder.join(path), text).expect("written");
}

fn collect(folder: &Path, more: &[&str]) -> Said {
    let asked: Vec<&str> = ["collect", "plan.toml", "--quiet"]
        .into_iter()
        .chain(more.iter().copied())
        .collect();
    hitchwork(folder, &asked)
}

/// Collects, and says how many bands were made and how many were there already.
fn counts(folder: &Path) -> (u64, u64) {
    let said = collect(folder, &["--out", "made", "--json"]);
    assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
    let data: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    let count = |name: &str| data[name].as_u64().expect("a count");
    (count("made"), count("reused"))
}

#[test]
fn an_edit_in_a_folder_below_makes_anew_what_used_it_and_nothing_else() {
    let place = folder();
    lay_out(place.path(), PLAN);
    assert_eq!(counts(place.path()), (4, 0));
    assert_eq!(counts(place.path()), (0, 4));
    let verify = || collect(place.path(), &["--out", "made", "--verify"]);
    assert_eq!(verify().status, Some(0), "{}", verify().out);

    write(place.path(), "parts/strip.rhai", OTHER_STRIP);
    let noticed = verify();
    assert_eq!(noticed.status, Some(1), "{}", noticed.out);
    assert!(
        noticed
            .out
            .contains("gulls-strip-4 was made with another rule parts/strip than there is now"),
        "{}",
        noticed.out
    );
    assert!(
        !noticed.out.contains("gulls-candy_stripe-4"),
        "{}",
        noticed.out
    );
    assert_eq!(counts(place.path()), (2, 2));
    assert_eq!(verify().status, Some(0));
    let band = fs::read_to_string(
        place
            .path()
            .join("made/gulls-strip-4/gulls-strip-4.band.json"),
    );
    assert!(band.expect("made").contains("backward"));

    let mended = GULLS.replace("Gulls in rows", "Gulls in a row");
    write(place.path(), "gulls.rhai", &mended);
    assert!(verify().out.contains("other settings"), "{}", verify().out);
    assert_eq!(counts(place.path()), (4, 0));
}

#[test]
fn a_rule_that_was_missing_and_appears_is_noticed() {
    let place = folder();
    lay_out(place.path(), PLAN);
    assert_eq!(counts(place.path()), (4, 0));
    // Until now it was that of the library.
    write(place.path(), "candy_stripe.rhai", STRIP);
    assert_eq!(counts(place.path()), (2, 2));
    fs::remove_file(place.path().join("candy_stripe.rhai")).expect("removed");
    let verified = collect(place.path(), &["--out", "made", "--verify"]);
    assert!(
        verified.out.contains("another rule candy_stripe"),
        "{}",
        verified.out
    );
    assert_eq!(counts(place.path()), (2, 2));
}

#[test]
fn what_nobody_asked_for_changes_nothing() {
    let place = folder();
    lay_out(place.path(), PLAN);
    assert_eq!(counts(place.path()), (4, 0));
    write(place.path(), "terns.rhai", "band(4).repeat(forward(1))");
    write(place.path(), "parts/lace.rhai", "this is not a rule");
    assert_eq!(counts(place.path()), (0, 4));
}

/// The best are chosen anew when a rule has changed that any candidate asked for.
#[test]
fn a_choice_of_the_best_depends_on_what_all_candidates_asked_for() {
    let place = folder();
    let plan = format!("{PLAN}best = {{ count = 1, by = \"knots\" }}\n");
    lay_out(place.path(), &plan);
    assert_eq!(counts(place.path()), (1, 0));
    assert_eq!(counts(place.path()), (0, 1));
    write(
        place.path(),
        "parts/strip.rhai",
        "let threads = whole(\"threads\", 4, 4..=20, \"threads\");\nband(2 * threads).repeat(forward(1..2 * threads)).repeats(40)\n",
    );
    let verified = collect(place.path(), &["--out", "made", "--verify"]);
    assert!(
        verified
            .out
            .contains("gulls needs its best bands chosen again"),
        "{}",
        verified.out
    );
    counts(place.path());
    let fresh = collect(place.path(), &["--out", "fresh", "--move-out", "old"]);
    assert_eq!(fresh.status, Some(0), "{}", fresh.err);
    let moved = collect(place.path(), &["--out", "made", "--move-out", "old"]);
    assert_eq!(moved.status, Some(0), "{}", moved.err);
    assert!(tree(&place.path().join("made")) == tree(&place.path().join("fresh")));
}

/// One plan, however its path is written and wherever its folder lies: the same members, the
/// same bytes, and shares that join.
#[test]
fn a_path_is_no_part_of_a_collection() {
    let place = folder();
    let here = place.path();
    let class = here.join("class");
    let copy = here.join("elsewhere/a copy of it");
    for folder in [&class, &copy] {
        fs::create_dir_all(folder).expect("a folder");
        lay_out(folder, PLAN);
    }
    let absolute = class.join("plan.toml").display().to_string();
    let of_copy = copy.join("plan.toml").display().to_string();
    let out = |name: &str| here.join(name).display().to_string();
    let spellings: [(&Path, &str); 5] = [
        (&class, "plan.toml"),
        (here, "class/plan.toml"),
        (here, "./class/../class/plan.toml"),
        (&copy, &absolute),
        (here, &of_copy),
    ];
    let made = |from: &Path, plan: &str, more: &[&str]| {
        let asked = [&["collect", plan, "--quiet"], more].concat();
        let said = hitchwork(from, &asked);
        assert_eq!(said.status, Some(0), "{plan}: {}{}", said.out, said.err);
        said
    };
    let mut whole: Option<BTreeMap<String, Vec<u8>>> = None;
    for (number, (from, plan)) in spellings.into_iter().enumerate() {
        let name = format!("whole-{number}");
        made(from, plan, &["--out", &out(&name)]);
        let files = tree(&here.join(&name));
        for (path, bytes) in &files {
            let text = String::from_utf8_lossy(bytes);
            let temporary = here.file_name().expect("a name").to_string_lossy();
            assert!(!text.contains(&*temporary), "{plan}: {path} names a folder");
            assert!(!text.contains("class/"), "{plan}: {path} names a folder");
        }
        assert!(
            *whole.get_or_insert_with(|| files.clone()) == files,
            "{plan}"
        );
        // A rerun by another path has nothing to do.
        let again = made(from, plan, &["--out", &out("whole-0")]);
        assert!(
            again.out.contains("0 bands; 4 were there already"),
            "{plan}: {}",
            again.out
        );
    }
    let whole = whole.expect("made");
    let steps = String::from_utf8_lossy(&whole["gulls-strip-4/sheet.txt"]);
    assert!(steps.contains("Made by the rule gulls.rhai"), "{steps}");
    for (number, (from, plan)) in spellings.into_iter().enumerate() {
        let share = format!("{}/5", number + 1);
        let name = format!("share-{number}");
        made(from, plan, &["--part", &share, "--out", &out(&name)]);
    }
    let shares: Vec<String> = (0..5)
        .map(|number| out(&format!("share-{number}")))
        .collect();
    let mut merge: Vec<&str> = vec!["--merge"];
    merge.extend(shares.iter().map(String::as_str));
    let joined = out("joined");
    merge.extend(["--out", &joined]);
    made(here, "class/plan.toml", &merge);
    assert!(tree(&here.join("joined")) == whole);
}

/// Band file, steps and page of a single band do not say either where its rule lies.
#[test]
fn a_band_says_the_name_of_its_rule_and_not_where_it_lies() {
    let place = folder();
    let class = place.path().join("class");
    fs::create_dir_all(&class).expect("a folder");
    lay_out(&class, PLAN);
    let absolute = class.join("gulls.rhai").display().to_string();
    let make = |from: &Path, rule: &str, out: &str| {
        let out = place.path().join(out);
        let shown = out.display().to_string();
        let said = hitchwork(
            from,
            &["make", rule, "--with", "html,text", "--out", &shown],
        );
        assert_eq!(said.status, Some(0), "{}", said.err);
        tree(&out)
    };
    let made = make(&class, "gulls.rhai", "one");
    assert!(make(place.path(), "class/gulls.rhai", "two") == made);
    assert!(make(Path::new("/"), &absolute, "three") == made);
    let band = String::from_utf8_lossy(&made["gulls.band.json"]);
    assert!(
        band.contains("\"rule\": \"gulls.rhai\"") || band.contains("\"rule\":\"gulls.rhai\""),
        "{band}"
    );
    // A message still says the path that leads there.
    write(&class, "parts/strip.rhai", "band(");
    let said = hitchwork(place.path(), &["check", "class/gulls.rhai"]);
    assert!(said.err.contains("class/parts/strip.rhai"), "{}", said.err);
}

/// What cannot be made is told in the same words from anywhere, too.
#[test]
fn a_failure_is_remembered_without_a_path() {
    let place = folder();
    let class = place.path().join("class");
    fs::create_dir_all(&class).expect("a folder");
    lay_out(&class, PLAN);
    write(&class, "parts/strip.rhai", "band(");
    let absolute = class.join("plan.toml").display().to_string();
    let mut all = Vec::new();
    for (from, plan, out) in [
        (class.as_path(), "plan.toml", "one"),
        (place.path(), "class/plan.toml", "two"),
        (place.path(), &*absolute, "three"),
    ] {
        let out = place.path().join(out);
        let shown = out.display().to_string();
        let said = hitchwork(from, &["collect", plan, "--quiet", "--out", &shown]);
        assert_eq!(said.status, Some(1), "{}", said.err);
        let manifest = fs::read_to_string(out.join("collection.json")).expect("written");
        assert!(
            manifest.contains("\"parts/strip.rhai, line 1"),
            "{manifest}"
        );
        all.push(tree(&out));
    }
    assert!(all.windows(2).all(|pair| pair[0] == pair[1]));
}

/// Pictures and fonts count as rules do: what shows them is made anew when they change.
#[test]
fn a_picture_that_changes_makes_anew_what_shows_it() {
    let place = folder();
    let here = place.path();
    let plan = PLAN.replace(
        "grid = { threads = [4, 6], made_of = [\"strip\", \"candy_stripe\"] }",
        "grid = { sign = [\"buoy\", \"sail\", \"none\"] }",
    );
    lay_out(here, &plan);
    let gulls = "let sign = choice(\"sign\", \"buoy\", [\"buoy\", \"sail\", \"none\"], \"what is shown\");\nlet made = if sign == \"none\" { lettering(\"o\") } else { picture(\"parts/\" + sign + \".txt\") };\nband(made.width + 1).repeat(over_leader(made))\n";
    write(here, "gulls.rhai", gulls);
    write(here, "parts/buoy.txt", ".#.\n###\n");
    write(here, "parts/sail.txt", "..#\n.##\n");
    assert_eq!(counts(here), (3, 0));
    assert_eq!(counts(here), (0, 3));
    write(here, "parts/buoy.txt", ".#.\n#.#\n");
    let verified = collect(here, &["--out", "made", "--verify"]);
    assert_eq!(verified.status, Some(1));
    assert!(
        verified
            .out
            .contains("gulls-buoy was made with another file parts/buoy.txt than there is now"),
        "{}",
        verified.out
    );
    assert!(!verified.out.contains("gulls-sail"), "{}", verified.out);
    assert_eq!(counts(here), (1, 2));
    fs::remove_file(here.join("parts/sail.txt")).expect("removed");
    let said = collect(here, &["--out", "made"]);
    assert_eq!(said.status, Some(1), "{}{}", said.out, said.err);
    assert!(
        said.out
            .contains("there is no file called \"parts/sail.txt\""),
        "{}",
        said.out
    );
    write(here, "parts/sail.txt", "..#\n.##\n");
    assert_eq!(collect(here, &["--out", "made"]).status, Some(0));
}

#[cfg(unix)]
#[test]
fn pipes_and_devices_beside_a_rule_do_no_harm() {
    let place = folder();
    lay_out(place.path(), PLAN);
    assert_eq!(counts(place.path()), (4, 0));
    let here = place.path();
    std::os::unix::fs::symlink("/dev/zero", here.join("zeros.rhai")).expect("a link");
    let pipe = |name: &str| {
        let made = std::process::Command::new("mkfifo")
            .arg(here.join(name))
            .status();
        assert!(made.expect("mkfifo starts").success());
    };
    pipe("pipe.rhai");
    assert_eq!(counts(here), (0, 4));
    // Asked for by name, each is refused at once, and whatever reads it.
    fs::remove_file(here.join("parts/strip.rhai")).expect("removed");
    pipe("parts/strip.rhai");
    let said = collect(here, &["--out", "made"]);
    assert_eq!(said.status, Some(1), "{}", said.err);
    assert!(
        said.out.contains("it is a pipe or a device"),
        "{}",
        said.out
    );
    for name in ["plan.pipe.toml", "colours.csv", "gulls.band.json"] {
        pipe(name);
    }
    for asked in [
        &["check", "pipe.rhai"][..],
        &["check", "zeros.rhai"],
        &["check", "gulls.band.json"],
        &["collect", "plan.pipe.toml", "--check"],
        &["make", "drift", "--palette", "colours.csv"],
        &["check", "drift", "--stash", "colours.csv"],
        &["collect", "zeros.toml", "--check"],
        &["check", "drift", "--palette", "zeros.csv"],
    ] {
        for (ending, of) in [("toml", "zeros.toml"), ("csv", "zeros.csv")] {
            if asked.contains(&of) && !here.join(of).exists() {
                std::os::unix::fs::symlink("/dev/zero", here.join(of)).expect(ending);
            }
        }
        let said = hitchwork(here, asked);
        assert_eq!(said.status, Some(2), "{asked:?}");
        assert!(
            said.err
                .contains("cannot be read: it is a pipe or a device"),
            "{asked:?}: {}",
            said.err
        );
    }
}

#[test]
fn a_plan_that_is_too_long_is_refused_and_never_cut() {
    let place = folder();
    let item = "[[item]]\nrule = \"drift\"\nname = \"n-%\"\n";
    let items: String = (0..30_000)
        .map(|number| item.replace('%', &number.to_string()))
        .collect();
    assert!(items.len() > 1 << 20);
    write(place.path(), "plan.toml", &items);
    for more in [&["--out", "made"][..], &["--check"], &["--dry-run"]] {
        let said = collect(place.path(), more);
        assert_eq!(said.status, Some(2), "{}", said.out);
        assert!(
            said.err.contains("plan.toml is longer than 1 MB")
                && said.err.contains("ranges and lists"),
            "{}",
            said.err
        );
    }
    assert!(!place.path().join("made").exists());
}

/// Rules, plans and palettes are the same with and without the mark that some editors put at
/// the beginning.
#[test]
fn a_byte_order_mark_is_no_part_of_a_file() {
    let place = folder();
    lay_out(
        place.path(),
        &PLAN.replace("lengths = 4", "lengths = 4\npalettes = [\"tones.csv\"]"),
    );
    let gulls = "let threads = whole(\"threads\", 4, 4..=20, \"threads\");\nlet made_of = choice(\"made_of\", \"strip\", [\"strip\", \"candy_stripe\"], \"what\");\nlet tones = palette(\"palette\", \"spring tide\", \"the tones\");\nrule(\"parts/strip\", #{ threads: threads })\n";
    write(place.path(), "gulls.rhai", gulls);
    write(
        place.path(),
        "tones.csv",
        "name,colour\nmud,#6b5a48\npool,#6fa3b5\n",
    );
    assert_eq!(counts(place.path()), (4, 0));
    for path in ["plan.toml", "gulls.rhai", "parts/strip.rhai", "tones.csv"] {
        let path = place.path().join(path);
        let text = fs::read_to_string(&path).expect("written");
        fs::write(&path, format!("\u{feff}{text}")).expect("written");
        assert_eq!(counts(place.path()), (0, 4), "{}", path.display());
    }
    let said = hitchwork(place.path(), &["check", "gulls.rhai"]);
    assert_eq!(said.status, Some(0), "{}", said.err);
}

#[test]
fn a_palette_that_there_is_not_is_found_when_the_plan_is_read() {
    let place = folder();
    for said in [
        "grid = { threads = [6, 8], palette = [\"spring tide\", \"spring tyde\"] }",
        "settings = { palette = \"spring tyde\" }",
        // A setting that is refused does not hide it.
        "settings = { threads = 0, palette = \"spring tyde\" }",
    ] {
        write(
            place.path(),
            "plan.toml",
            &format!("[[item]]\nrule = \"drift\"\n{said}\n"),
        );
        let refused = collect(place.path(), &["--dry-run"]);
        assert_eq!(refused.status, Some(2), "{said}: {}", refused.out);
        assert!(
            refused
                .err
                .contains("there is no palette called \"spring tyde\"")
                && refused.err.contains("did you mean \"spring tide\"?")
                && refused.err.contains("plan.toml:3"),
            "{}",
            refused.err
        );
    }
    let good = "[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8], palette = [\"spring tide\", \"regatta\"] }\n";
    write(place.path(), "plan.toml", good);
    assert_eq!(collect(place.path(), &["--dry-run"]).status, Some(0));
}

/// The plan on the page that explains the error is one that has it.
#[test]
fn the_page_on_plans_shows_one_that_is_refused() {
    let place = folder();
    let page = hitchwork(place.path(), &["explain", "not-a-plan"]).out;
    let example: String = page
        .lines()
        .filter_map(|line| line.strip_prefix("    "))
        .map(|line| format!("{line}\n"))
        .collect();
    write(place.path(), "plan.toml", &example);
    let said = collect(place.path(), &["--dry-run"]);
    assert_eq!(said.status, Some(2), "{}", said.out);
    assert!(said.err.contains("not-a-plan"), "{}", said.err);
    let mended = example.replace("thread =", "threads =");
    assert_ne!(mended, example);
    write(place.path(), "plan.toml", &mended);
    assert_eq!(collect(place.path(), &["--dry-run"]).status, Some(0));
}

#[test]
fn a_swatch_in_a_plan_is_that_of_the_command_line() {
    let place = folder();
    let swatch = "12:14,40:46,300:3000";
    let item = "[[item]]\nrule = \"drift\"\n";
    let made = |plan: &str| {
        write(place.path(), "plan.toml", plan);
        let said = collect(place.path(), &["--out", "made"]);
        assert_eq!(said.status, Some(0), "{}", said.err);
        fs::read(place.path().join("made/drift/drift.band.json")).expect("made")
    };
    let alone = |more: &[&str]| {
        let asked = [&["make", "drift", "--with", "text", "--out", "alone"], more].concat();
        let said = hitchwork(place.path(), &asked);
        assert_eq!(said.status, Some(0), "{}", said.err);
        fs::read(place.path().join("alone/drift.band.json")).expect("made")
    };
    let by_swatch = alone(&["--swatch", swatch]);
    assert!(made(&format!("{item}swatch = \"{swatch}\"\n")) == by_swatch);
    assert!(made(&format!("[defaults]\nswatch = \"{swatch}\"\n{item}")) == by_swatch);
    let both = alone(&["--swatch", swatch, "--thread", "0.6mm"]);
    assert!(both != by_swatch);
    let plan = format!("[defaults]\nthread = \"0.6mm\"\n{item}swatch = \"{swatch}\"\n");
    assert!(made(&plan) == both);
    // The swatch of the defaults is of another thread than this item's own.
    let plan = format!("[defaults]\nswatch = \"{swatch}\"\n{item}thread = \"0.6mm\"\n");
    assert!(made(&plan) == alone(&["--thread", "0.6mm"]));
    write(
        place.path(),
        "plan.toml",
        &format!("{item}swatch = \"12:14\"\n"),
    );
    let refused = collect(place.path(), &["--dry-run"]);
    assert_eq!(refused.status, Some(2));
    assert!(refused.err.contains("plan.toml:3"), "{}", refused.err);
}
