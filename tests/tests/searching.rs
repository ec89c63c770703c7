//! Searches by chance: the same on any number of workers, nothing twice, and what is asked
//! for is what is found.

use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, Ordering};

use hitchwork_collection::search::{Failure, NOVELTY, Search, SearchEnd, Searched};
use hitchwork_core::band::Band;
use hitchwork_core::chance::nearby;
use hitchwork_core::craft::Habits;
use hitchwork_core::proof::{CanonicalForm, ColoursCount, Disguises, Drift, Texture};
use hitchwork_core::row::Row;
use hitchwork_rules::{Expression, Rules, Settings};
use hitchwork_tests::made;

fn condition(text: &str) -> Expression {
    Expression::condition_knowing(text, &[NOVELTY]).expect("it can be read")
}

fn score(text: &str) -> Expression {
    Expression::score_knowing(text, &[NOVELTY]).expect("it can be read")
}

fn search(count: usize) -> Search {
    Search {
        seeds: 1..=200,
        count,
        conditions: Vec::new(),
        best_by: None,
        disguises: Disguises::ALL,
        colours: ColoursCount::ByLikeness,
        known: Vec::new(),
        habits: Habits::default(),
        workers: 2,
    }
}

fn run(search: &Search, rule: &str, settings: &Settings) -> Searched {
    let rules = Rules::new();
    let rule = rules.built_in(rule).expect("built in");
    let make = |seed: u64| Ok(rules.make(&rule, &settings.clone().seed(seed))?.band);
    search.run(&rules, &make, &AtomicBool::new(false), &mut |_| {
        ControlFlow::Continue(())
    })
}

fn small() -> Settings {
    Settings::new()
        .set("threads", 5)
        .set("fours", 1)
        .set("colours", 2)
        .length_mm(20.0)
}

#[test]
fn what_is_found_does_not_depend_on_the_number_of_workers() {
    for best_by in [
        None,
        Some("contrast - regions / 10"),
        Some("novelty + repeats_to_close"),
    ] {
        let of = |workers: usize| {
            let search = Search {
                workers,
                conditions: vec![
                    condition("repeats_to_close > 1"),
                    condition("novelty > 0.02"),
                ],
                best_by: best_by.map(score),
                ..search(10)
            };
            let searched = run(&search, "flotsam", &small());
            let bands: Vec<Band> = searched
                .found
                .iter()
                .map(|found| found.band.clone())
                .collect();
            let files: Vec<String> = bands.iter().map(hitchwork_core::file::write).collect();
            (files, searched.tally, searched.disguised)
        };
        let alone = of(1);
        assert_eq!(alone.0.len(), 10);
        for workers in [2, 3, 8] {
            assert!(
                of(workers) == alone,
                "{workers} workers, best by {best_by:?}"
            );
        }
    }
}

#[test]
fn nothing_is_found_twice_in_disguise() {
    let searched = run(&search(1000), "flotsam", &small());
    assert_eq!(searched.ended, SearchEnd::AllTried);
    assert!(searched.tally.in_disguise > 20, "{:?}", searched.tally);
    assert_eq!(searched.tally.kept as u64 + searched.tally.in_disguise, 200);
    let form = |band: &Band| {
        CanonicalForm::of(band, Disguises::ALL, ColoursCount::ByLikeness).expect("few colours")
    };
    let mut forms: Vec<CanonicalForm> = searched
        .found
        .iter()
        .map(|found| form(&found.band))
        .collect();
    forms.sort();
    let all = forms.len();
    forms.dedup();
    assert_eq!(forms.len(), all);
    for (seed, words) in &searched.disguised {
        assert!(
            words.contains("the band of seed "),
            "seed {seed} is {words}"
        );
    }
}

#[test]
fn the_best_are_those_with_the_most_of_what_is_asked_for() {
    let best = Search {
        best_by: Some(score("contrast")),
        ..search(5)
    };
    let searched = run(&best, "flotsam", &small());
    let scores: Vec<f64> = searched
        .found
        .iter()
        .filter_map(|found| found.score)
        .collect();
    assert!(
        scores.windows(2).all(|pair| pair[0] >= pair[1]),
        "{scores:?}"
    );
    // No other band of all seeds has more.
    let every = run(&search(1000), "flotsam", &small());
    let mut all: Vec<f64> = every
        .found
        .iter()
        .map(|found| {
            score("contrast")
                .value(&made::tied(&found.band))
                .expect("a number")
        })
        .collect();
    all.sort_by(|one, other| other.total_cmp(one));
    assert_eq!(scores, all[..5]);
}

#[test]
fn every_condition_holds_and_those_that_reject_are_counted() {
    let asked = Search {
        conditions: vec![
            condition("repeats_to_close <= 3"),
            condition("knot_symmetry == \"none\""),
        ],
        ..search(500)
    };
    let settings = small().set("symmetry", "none");
    let searched = run(&asked, "flotsam", &settings);
    assert!(!searched.found.is_empty());
    for found in &searched.found {
        let report = made::report(&found.band);
        assert!(report.repeats_to_close <= 3 && report.symmetry.knots.symbol() == "p1");
    }
    let rejected: u64 = searched.tally.rejected.iter().sum();
    assert_eq!(
        rejected + searched.tally.in_disguise + searched.tally.kept as u64,
        200
    );
    let never = Search {
        conditions: vec![condition("threads < 4"), condition("threads > 4")],
        ..search(5)
    };
    let searched = run(&never, "flotsam", &small());
    assert!(searched.found.is_empty());
    assert_eq!(searched.tally.rejected, [200, 0]);
}

#[test]
fn bands_that_are_kept_are_unlike_each_other_where_that_is_asked_for() {
    let unlike = Search {
        conditions: vec![condition("novelty > 0.15")],
        ..search(500)
    };
    let searched = run(&unlike, "flotsam", &small());
    let textures: Vec<Texture> = searched
        .found
        .iter()
        .filter_map(|found| Texture::of(&found.band))
        .collect();
    assert!(textures.len() > 3);
    for (at, one) in textures.iter().enumerate() {
        for other in &textures[..at] {
            assert!(one.distance(other) > 0.15);
        }
    }
}

#[test]
fn seeds_that_make_no_band_are_counted_and_the_first_is_told() {
    let rules = Rules::new();
    let rule = rules
        .compile(
            "tide",
            "require(roll(1..=2) == 1, \"low water\", \"wait\"); band(4).repeat(forward(1..4))",
        )
        .expect("it can be read");
    let make = |seed: u64| Ok(rules.make(&rule, &Settings::new().seed(seed))?.band);
    let searched = search(5).run(&rules, &make, &AtomicBool::new(false), &mut |_| {
        ControlFlow::Continue(())
    });
    // All others are the same band.
    assert_eq!(searched.tally.kept, 1);
    assert_eq!(searched.tally.failed + searched.tally.in_disguise + 1, 200);
    let (_, failure) = searched.first_failure.expect("about half");
    assert!(failure.to_string().contains("low water"), "{failure}");
}

#[test]
fn a_search_that_is_stopped_keeps_what_it_has_found() {
    let rules = Rules::new();
    let rule = rules.built_in("flotsam").expect("built in");
    let stop = AtomicBool::new(false);
    let make = |seed: u64| {
        if seed == 60 {
            stop.store(true, Ordering::Relaxed);
        }
        Ok(rules.make(&rule, &small().seed(seed))?.band)
    };
    let endless = Search {
        seeds: 1..=u64::MAX,
        ..search(usize::MAX)
    };
    let searched = endless.run(&rules, &make, &stop, &mut |_| ControlFlow::Continue(()));
    assert_eq!(searched.ended, SearchEnd::Stopped);
    assert!(
        searched.tally.tried >= 16 && searched.tally.tried < 200,
        "{:?}",
        searched.tally
    );
    assert!(!searched.found.is_empty());
    let by_watching = endless.run(
        &rules,
        &|seed| Ok(rules.make(&rule, &small().seed(seed))?.band),
        &AtomicBool::new(false),
        &mut |tally| {
            if tally.tried > 30 {
                ControlFlow::Break(())
            } else {
                ControlFlow::Continue(())
            }
        },
    );
    assert_eq!(by_watching.ended, SearchEnd::Stopped);
}

#[test]
fn seeds_at_the_end_of_all_numbers_are_tried_too() {
    let last = Search {
        seeds: u64::MAX - 2..=u64::MAX,
        ..search(10)
    };
    assert_eq!(run(&last, "flotsam", &small()).tally.tried, 3);
}

#[test]
fn bands_near_another_differ_in_few_knots_and_drift_where_they_can() {
    let rules = Rules::new();
    let drift = rules.built_in("drift").expect("built in");
    let band = rules
        .make(&drift, &Settings::new().set("threads", 8))
        .expect("a band")
        .band;
    let knots = |rows: &[Row]| -> Vec<_> { rows.iter().flat_map(Row::knots).copied().collect() };
    let original = knots(band.repeat());
    let mut drifting = 0;
    for seed in 1..=200 {
        let near = nearby(&band, seed, 3).expect("a band");
        let changed = knots(near.repeat());
        assert_eq!(changed.len(), original.len());
        let differ = changed
            .iter()
            .zip(&original)
            .filter(|(one, other)| one != other)
            .count();
        // Three changes of two knots at most.
        assert!(differ <= 6, "seed {seed}: {differ}");
        assert_eq!(
            near.repeat(),
            nearby(&band, seed, 3).expect("the same").repeat()
        );
        drifting += usize::from(Drift::of_band(&near).is_some());
        let origin = near.origin().expect("it says where it comes from");
        assert_eq!(
            (origin.seed, origin.chance.as_str()),
            (seed, "hitchwork-chance/1 hitchwork-nearby/1")
        );
    }
    assert!(drifting > 10, "{drifting} of 200 drift");
}

#[test]
fn a_band_itself_is_not_found_near_it() {
    let rules = Rules::new();
    let rule = rules.built_in("candy_stripe").expect("built in");
    let band = rules
        .make(&rule, &Settings::new().set("threads", 4))
        .expect("a band")
        .band;
    let near = Search {
        known: vec![("the stripe".to_owned(), band.clone())],
        ..search(500)
    };
    let make = |seed: u64| -> Result<Band, Failure> { Ok(nearby(&band, seed, 2)?) };
    let searched = near.run(&rules, &make, &AtomicBool::new(false), &mut |_| {
        ControlFlow::Continue(())
    });
    assert!(
        searched
            .disguised
            .iter()
            .any(|(_, words)| words.contains("the stripe"))
    );
    let form = |band: &Band| CanonicalForm::of(band, Disguises::ALL, ColoursCount::ByLikeness).ok();
    assert!(
        searched
            .found
            .iter()
            .all(|found| form(&found.band) != form(&band))
    );
}
