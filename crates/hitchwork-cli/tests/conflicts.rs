//! Wishes that contradict each other: both are named, and nothing is made.

use std::fs;

use crate::common::{files_in, folder, hitchwork};

/// Each command with what is said of it. None of them writes anything.
fn all_are_refused(commands: &[(&[&str], &str)]) {
    let place = folder();
    for (arguments, says) in commands {
        let said = hitchwork(place.path(), arguments);
        assert_eq!(said.status, Some(2), "{arguments:?}: {}", said.out);
        assert!(said.err.contains(says), "{arguments:?}: {}", said.err);
        assert!(said.out.is_empty(), "{arguments:?}: {}", said.out);
        assert!(files_in(place.path()).is_empty(), "{arguments:?}");
    }
}

#[test]
fn a_setting_is_chosen_once() {
    let twice = "the setting threads is chosen twice: 10 and 8";
    let set = ["--set", "threads=10", "--set", "threads=8"];
    let with = |command: &[&'static str]| [command, &set[..]].concat();
    let watch = with(&["watch", "drift"]);
    let compare = with(&["compare", "drift", "--over", "stripes=2..3"]);
    let explore = with(&["explore", "flotsam", "--seeds", "1..3"]);
    all_are_refused(&[
        (&with(&["check", "drift"]), twice),
        (&with(&["make", "drift"]), twice),
        (&watch, twice),
        (&compare, twice),
        (&explore, twice),
        (
            &[
                "compare",
                "drift",
                "--over",
                "threads=6..8",
                "--set",
                "threads=10",
            ],
            "the setting threads is chosen by --set, and varied by --over",
        ),
    ]);
    // The same once more contradicts nothing.
    let said = hitchwork(
        folder().path(),
        &["check", "drift", "--set", "threads=8", "--set", "threads=8"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
}

#[test]
fn a_palette_is_chosen_once() {
    let twice = "the palette is chosen twice: gull by --palette, and regatta by --set palette";
    let set = ["--palette", "gull", "--set", "palette=regatta"];
    let with = |command: &[&'static str]| [command, &set[..]].concat();
    all_are_refused(&[
        (&with(&["check", "drift"]), twice),
        (&with(&["draw", "drift", "--out", "a.svg"]), twice),
        (&with(&["watch", "drift"]), twice),
        (
            &with(&["compare", "drift", "--over", "threads=6..8"]),
            twice,
        ),
        (&with(&["explore", "drift", "--seeds", "1..3"]), twice),
    ]);
    let place = folder();
    let same = [
        "check",
        "drift",
        "--palette",
        "gull",
        "--set",
        "palette=gull",
    ];
    let said = hitchwork(place.path(), &same);
    assert_eq!(said.status, Some(0), "{}", said.err);
    // Of two palettes, one may be named, and the other is the one that is asked for.
    let rule = "let out = palette(\"out\", \"regatta\", \"one\"); let back = palette(\"back\", \"regatta\", \"other\");\nband(4).repeat(forward(1..4)).colours(gradient(out, 2) + gradient(back, 2))\n";
    fs::write(place.path().join("two.rhai"), rule).expect("written");
    let both = [
        "check",
        "two.rhai",
        "--palette",
        "gull",
        "--set",
        "out=red sails",
    ];
    let said = hitchwork(place.path(), &both);
    assert_eq!(said.status, Some(0), "{}", said.err);
}

#[test]
fn a_plan_chooses_a_palette_and_a_setting_once() {
    let place = folder();
    for (plan, says) in [
        (
            "[[item]]\nrule = \"drift\"\npalettes = [\"regatta\"]\nsettings = { palette = \"gull\" }\n",
            [
                "palettes = [\"regatta\"], and by the setting palette = \"gull\"",
                "plan.toml:4:",
            ],
        ),
        (
            "[[item]]\nrule = \"drift\"\npalettes = [\"regatta\", \"gull\"]\nsettings = { palette = \"gull\" }\n",
            ["palettes = [\"regatta\", \"gull\"], and by", "plan.toml:4:"],
        ),
        (
            "[defaults]\npalettes = [\"regatta\"]\n[[item]]\nrule = \"drift\"\ngrid = { palette = [\"gull\", \"regatta\"] }\n",
            [
                "the setting palette = [\"gull\", \"regatta\"]",
                "plan.toml:5:",
            ],
        ),
        (
            "[[item]]\nrule = \"drift\"\nsettings = { threads = 10 }\ngrid = { threads = [6] }\n",
            [
                "threads stands in \"settings\" and in \"grid\"",
                "plan.toml:4:",
            ],
        ),
        (
            "[defaults]\nsettings = { threads = 10 }\ngrid = { threads = [6] }\n[[item]]\nrule = \"drift\"\n",
            [
                "threads stands in \"settings\" and in \"grid\"",
                "plan.toml:3:",
            ],
        ),
        (
            "[[item]]\nrule = \"\"\n",
            ["the rule of this item has no name", "plan.toml:2:"],
        ),
    ] {
        fs::write(place.path().join("plan.toml"), plan).expect("written");
        let said = hitchwork(place.path(), &["collect", "plan.toml", "--out", "made"]);
        assert_eq!(said.status, Some(2), "{plan}: {}", said.out);
        for says in says {
            assert!(said.err.contains(says), "{plan}: {}", said.err);
        }
        assert_eq!(files_in(place.path()), ["plan.toml"]);
    }
    // The same palette, none, and a grid in place of a setting of the defaults are no conflict.
    for plan in [
        "[[item]]\nrule = \"drift\"\npalettes = [\"gull\"]\nsettings = { palette = \"gull\" }\n",
        "[defaults]\npalettes = [\"regatta\"]\n[[item]]\nrule = \"drift\"\npalettes = []\nsettings = { palette = \"gull\" }\n",
        "[defaults]\nsettings = { threads = 10 }\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6] }\n",
        "[defaults]\ngrid = { threads = [6] }\n[[item]]\nrule = \"drift\"\nsettings = { threads = 10 }\n",
    ] {
        fs::write(place.path().join("plan.toml"), plan).expect("written");
        let said = hitchwork(
            place.path(),
            &["collect", "plan.toml", "--check", "--quiet"],
        );
        assert_eq!(said.status, Some(0), "{plan}: {}", said.err);
    }
}

#[test]
fn names_that_are_one_on_some_disk_are_refused() {
    let place = folder();
    let item = |name: &str| format!("[[item]]\nrule = \"drift\"\nname = \"{name}\"\nwrite = []\n");
    for other in ["e\u{301}bb", "\u{c9}bb", "\u{e9}BB"] {
        let plan = item("\u{e9}bb") + item(other).as_str();
        fs::write(place.path().join("plan.toml"), plan).expect("written");
        let said = hitchwork(place.path(), &["collect", "plan.toml"]);
        assert_eq!(said.status, Some(2), "{other}: {}", said.out);
        assert!(
            said.err.contains("two bands would be called \u{e9}bb"),
            "{}",
            said.err
        );
    }
}

#[test]
fn counting_takes_no_wishes_of_a_search() {
    let count = ["explore", "--count-all", "--threads", "3", "--rows", "2"];
    let place = folder();
    let said = hitchwork(
        place.path(),
        &[&count[..], &["--tell-apart", "mirrored"]].concat(),
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    for wish in [
        &["flotsam"][..],
        &["--set", "zz=1"],
        &["--seed", "1"],
        &["--length", "4"],
        &["--wrist", "child"],
        &["--thread", "floss"],
        &["--swatch", "11:12.5,40:42"],
        &["--palette", "gull"],
        &["--mirrored"],
        &["--operations", "5"],
        &["--seconds", "5"],
        &["--count", "3"],
        &["--pace", "quick"],
        &["--seeds", "1..2"],
        &["--where", "rubbish("],
        &["--best-by", "!!"],
        &["--even-unsound"],
        &["--out", "x"],
    ] {
        let said = hitchwork(place.path(), &[&count[..], wish].concat());
        assert_eq!(said.status, Some(2), "{wish:?}: {}", said.out);
        let named = match wish[0] {
            "flotsam" => "RULE",
            option => option,
        };
        assert!(
            said.err.contains("cannot be used with") && said.err.contains(named),
            "{wish:?}: {}",
            said.err
        );
    }
}

#[test]
fn of_colours_nothing_is_wished_in_vain() {
    let place = folder();
    let stash = "name,colour\nebb,#204060\nflood,#80a0c0\nslack,#f0f0e0\n";
    fs::write(place.path().join("stash.csv"), stash).expect("written");
    let order = [
        "colours",
        "order",
        "stash.csv",
        "--thread",
        "ebb",
        "--thread",
    ];
    for (arguments, status, says) in [
        (
            [&order[..], &["EBB"]].concat(),
            2,
            "the thread \"EBB\" is given twice",
        ),
        ([&order[..], &["flood"]].concat(), 0, ""),
        (
            vec![
                "colours",
                "gradient",
                "regatta",
                "-n",
                "4",
                "--way",
                "longer-hue",
            ],
            2,
            "--way has no effect: there are 4 colours already",
        ),
        (
            vec![
                "colours",
                "gradient",
                "regatta",
                "-n",
                "5",
                "--way",
                "longer-hue",
            ],
            0,
            "",
        ),
        (vec!["colours", "gradient", "regatta", "-n", "4"], 0, ""),
    ] {
        let said = hitchwork(place.path(), &arguments);
        assert_eq!(said.status, Some(status), "{arguments:?}: {}", said.err);
        assert!(said.err.contains(says), "{arguments:?}: {}", said.err);
    }
}

#[test]
fn a_rule_without_a_name_is_said_to_have_none() {
    all_are_refused(&[
        (&["check", ""], "the rule that is asked for has no name"),
        (&["make", " "], "the rule that is asked for has no name"),
    ]);
}
