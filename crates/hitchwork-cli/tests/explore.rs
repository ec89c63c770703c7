//! `explore`: searches and counts as people and scripts meet them.

use std::fs;

use hitchwork_core::chance::nearby;
use hitchwork_core::file;

use crate::common::{files_in, folder, hitchwork};

const SMALL: [&str; 6] = ["--set", "threads=6", "--set", "fours=1", "--length", "3"];

fn explore<'a>(more: &[&'a str]) -> Vec<&'a str> {
    ["explore", "flotsam"]
        .into_iter()
        .chain(SMALL)
        .chain(more.iter().copied())
        .collect()
}

/// Conditions and tables know the time that this maker takes.
#[test]
fn times_follow_the_makers_pace() {
    let folder = folder();
    let minutes = |pace: &str| {
        let asked = explore(&["--count", "1", "--pace", pace, "--json"]);
        let said = hitchwork(folder.path(), &asked);
        assert_eq!(said.status, Some(0), "{}{}", said.out, said.err);
        let found: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
        found["found"][0]["measures"]["minutes"]
            .as_f64()
            .expect("minutes")
    };
    let (beginner, quick) = (minutes("beginner"), minutes("quick"));
    assert!(quick < beginner, "{quick} {beginner}");
    let limit = format!("minutes <= {quick}");
    let kept = |pace: &str| {
        let asked = explore(&["--where", &limit, "--seeds", "1..1", "--pace", pace]);
        hitchwork(folder.path(), &asked).status
    };
    assert_eq!((kept("quick"), kept("beginner")), (Some(0), Some(2)));
}

#[test]
fn what_is_found_is_written_with_a_contact_sheet() {
    let folder = folder();
    let asked = explore(&[
        "--where",
        "repeats_to_close <= 4",
        "--count",
        "4",
        "--out",
        "found",
    ]);
    let said = hitchwork(folder.path(), &asked);
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("kept      4 bands of "), "{}", said.out);
    let files = files_in(&folder.path().join("found"));
    assert_eq!(
        files
            .iter()
            .filter(|name| name.ends_with(".band.json"))
            .count(),
        4
    );
    for sheet in ["contact.svg", "contact.png", "contact.html"] {
        assert!(files.iter().any(|name| name == sheet), "{files:?}");
    }
    // Every band is what `make` makes of its seed.
    for name in files.iter().filter(|name| name.ends_with(".band.json")) {
        let seed = name
            .trim_start_matches("flotsam-seed-")
            .trim_end_matches(".band.json");
        let made = [
            "make", "flotsam", "--seed", seed, "--with", "text", "--out", "made",
        ];
        let made: Vec<&str> = made.into_iter().chain(SMALL).collect();
        assert_eq!(hitchwork(folder.path(), &made).status, Some(0));
        assert_eq!(
            fs::read(folder.path().join("found").join(name)).expect("written"),
            fs::read(folder.path().join("made/flotsam.band.json")).expect("written"),
            "seed {seed}"
        );
    }
    let page = fs::read_to_string(folder.path().join("found/contact.html")).expect("written");
    // What is said of a band is said as everywhere else.
    assert!(
        page.contains(" mm wide, ") && page.contains(" min</p>"),
        "{page}"
    );
    assert!(page.contains("<p>the knots have ") || page.contains("<p>knots and colours have "));
    assert!(!page.contains(" minutes<"));
    assert!(page.contains("Content-Security-Policy") && page.contains("flotsam-seed-"));
}

#[test]
fn workers_do_not_change_a_byte() {
    let folder = folder();
    let files = |workers: &str| {
        let more = [
            "--best-by",
            "contrast",
            "--seeds",
            "1..60",
            "--workers",
            workers,
            "--out",
            workers,
        ];
        let said = hitchwork(folder.path(), &explore(&more));
        assert_eq!(said.status, Some(0), "{}", said.err);
        let place = folder.path().join(workers);
        let read = |name: &String| (name.clone(), fs::read(place.join(name)).expect("written"));
        files_in(&place).iter().map(read).collect::<Vec<_>>()
    };
    assert!(files("1") == files("2"));
}

#[test]
fn data_say_all_that_people_are_told() {
    let folder = folder();
    let asked = explore(&["--json", "--where", "novelty > 0.3", "--seeds", "1..40"]);
    let said = hitchwork(folder.path(), &asked);
    let data: serde_json::Value = serde_json::from_str(&said.out).expect("JSON");
    let found = data["found"].as_array().expect("a list");
    assert!(!found.is_empty());
    for band in found {
        assert!(band["measures"]["knot_symmetry"].is_string() && band["seed"].is_u64());
    }
    assert_eq!(data["rejected"][0]["condition"], "novelty > 0.3");
    assert_eq!(said.err, "");
}

#[test]
fn bands_near_another_are_searched_too() {
    let folder = folder();
    let made = ["make", "candy_stripe", "--with", "text", "--out", "made"];
    assert_eq!(hitchwork(folder.path(), &made).status, Some(0));
    let near = [
        "explore",
        "--near",
        "made/candy_stripe.band.json",
        "--count",
        "3",
        "--seeds",
        "1..60",
        "--out",
        "near",
    ];
    let said = hitchwork(folder.path(), &near);
    assert_eq!(said.status, Some(0), "{}", said.err);
    let bands = files_in(&folder.path().join("near"));
    assert!(
        bands
            .iter()
            .any(|name| name.starts_with("near-candy_stripe-seed-")),
        "{bands:?}"
    );
    // Every band is what its seed makes of the one that it stays near.
    let bytes = |path: &std::path::Path| fs::read(path).expect("written");
    let read = |path: &std::path::Path| file::read(&bytes(path)).expect("a band file");
    let known = read(&folder.path().join("made/candy_stripe.band.json"));
    let mut seeds = std::collections::BTreeSet::new();
    for name in bands.iter().filter(|name| name.ends_with(".band.json")) {
        let seed = name
            .trim_start_matches("near-candy_stripe-seed-")
            .trim_end_matches(".band.json");
        let seed: u64 = seed.parse().expect("a seed");
        let changed = nearby(&known, seed, 2).expect("a change");
        let found = read(&folder.path().join("near").join(name));
        assert_eq!(found.repeat(), changed.repeat(), "seed {seed}");
        seeds.insert(seed);
    }
    assert_eq!(seeds.len(), 3);
}

#[test]
fn small_fabrics_are_counted_with_their_proof() {
    let folder = folder();
    let said = hitchwork(
        folder.path(),
        &["explore", "--count-all", "--threads", "4", "--rows", "2"],
    );
    assert_eq!(said.status, Some(0), "{}", said.err);
    assert!(said.out.contains("designs  20,"), "{}", said.out);
    assert!(
        said.out.contains("add up to 64 repeats, which are all"),
        "{}",
        said.out
    );
}

#[test]
fn the_figures_are_listed() {
    let folder = folder();
    let said = hitchwork(folder.path(), &["explore", "--measures"]);
    for name in ["repeats_to_close", "contrast", "novelty"] {
        assert!(said.out.contains(name), "{}", said.out);
    }
}

#[test]
fn what_cannot_be_searched_is_refused_and_nothing_is_written() {
    let folder = folder();
    let earlier = folder.path().join("found");
    fs::create_dir(&earlier).expect("a folder");
    fs::write(earlier.join("notes.txt"), "earlier").expect("written");
    for (asked, said) in [
        (
            explore(&["--where", "width_mm < 2 && threads > 3", "--seeds", "1..20"]),
            "nothing was found among 20 seeds; 'width_mm < 2 && threads > 3' rejected 20 of them",
        ),
        (
            explore(&["--where", "widht_mm < 2"]),
            "did you mean width_mm?",
        ),
        (
            explore(&["--best-by", "drifts"]),
            "the score gives yes or no",
        ),
        (
            explore(&["--seeds", "9..2"]),
            "there is no seed from 9 to 2",
        ),
        (explore(&["--seeds", "low..2"]), "\"low\" is not a seed"),
        (
            explore(&["--count", "0"]),
            "one search keeps 1 to 10000 bands",
        ),
        (
            explore(&["--count", "1000000"]),
            "one search keeps 1 to 10000 bands",
        ),
        (
            explore(&["--set", "symmetry=mirror along"]),
            "none of 1000 seeds made a band",
        ),
        (explore(&["--seed", "3"]), "--seed asks for one"),
        (
            explore(&["--near", "missing.band.json"]),
            "both a rule, flotsam, and a band",
        ),
        (vec!["explore"], "there is no rule to explore"),
        (
            vec!["explore", "--near", "missing.band.json"],
            "missing.band.json cannot be read",
        ),
        (
            vec!["explore", "--count-all", "--threads", "12", "--rows", "24"],
            "132 places with 4 kinds each",
        ),
        (
            vec!["explore", "--count-all", "--threads", "4", "--rows", "3"],
            "a brick lattice of 3 rows does not fit",
        ),
        (
            vec![
                "explore",
                "--count-all",
                "--threads",
                "4",
                "--rows",
                "2",
                "--kinds",
                "forward",
            ],
            "add backward to --kinds",
        ),
    ] {
        let mut asked = asked;
        // Counting writes nothing anywhere.
        if !asked.contains(&"--count-all") {
            asked.extend(["--out", "found"]);
        }
        let refused = hitchwork(folder.path(), &asked);
        assert_eq!(refused.status, Some(2), "{asked:?}: {}", refused.out);
        let words = refused.err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains(said), "{asked:?}: {}", refused.err);
        assert_eq!(files_in(&earlier), ["notes.txt"], "{asked:?}");
    }
}
