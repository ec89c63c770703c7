//! Rows by chance: even where they are said to be even, within bounds, and the same for
//! ever from the same seed.

use std::collections::BTreeMap;

use hitchwork_core::chance::{Chance, Purpose, RANDOM_ROWS_VERSION, RandomRows};
use hitchwork_core::knot::{Kind, Knot};
use hitchwork_core::proof::{Frieze, knots_that_break};
use hitchwork_core::row::{Row, grid};
use hitchwork_tests::statistics::as_expected;

/// The seeds from which is drawn.
const SEEDS: std::ops::RangeInclusive<u64> = 1..=3;

/// Whether counts of outcomes, drawn from every seed, are what their probabilities let
/// expect. No test here makes more than two such comparisons for each seed.
fn even<T: Ord + std::fmt::Debug>(drawn: impl Fn(u64) -> BTreeMap<T, u32>, chances: &[f64]) {
    for seed in SEEDS {
        let found = drawn(seed);
        assert_eq!(found.len(), chances.len(), "every outcome comes: {found:?}");
        let counts: Vec<u32> = found.into_values().collect();
        as_expected(&counts, chances, 2 * SEEDS.count());
    }
}

/// How often each outcome comes in so many drawings from a seed; those that fail are left
/// out.
fn counts<T: Ord>(
    recipe: &RandomRows,
    drawings: u32,
    outcome: impl Fn(&[Row]) -> T,
) -> impl Fn(u64) -> BTreeMap<T, u32> {
    let prepared = recipe.prepared().expect("the recipe can be");
    move |seed| {
        let mut found = BTreeMap::new();
        for number in 1..=drawings {
            let mut chance = Chance::new(seed, Purpose::Member { number });
            if let Ok(rows) = prepared.draw(&mut chance) {
                *found.entry(outcome(&rows)).or_default() += 1;
            }
        }
        found
    }
}

fn all(rows: &[Row]) -> Vec<Row> {
    rows.to_vec()
}

#[test]
fn all_fabrics_of_a_description_are_equally_likely() {
    let mut recipe = RandomRows::new(2, 2);
    recipe.weights = [1, 1, 1, 0];
    even(counts(&recipe, 4000, all), &[1.0 / 9.0; 9]);
    // Three kinds of one knot that decides another, twice.
    let mut recipe = RandomRows::new(3, 4);
    recipe.weights = [5, 5, 5, 0];
    recipe.symmetry = Frieze::P11g;
    recipe.rows = 2;
    even(counts(&recipe, 3000, all), &[1.0 / 3.0; 3]);
}

#[test]
fn all_fabrics_of_a_symmetry_are_equally_likely() {
    // Every row lies on an axis across, where only turning knots fit: 2 x 2 x 2.
    let mut recipe = RandomRows::new(4, 2);
    recipe.symmetry = Frieze::P1m1;
    even(counts(&recipe, 4000, all), &[1.0 / 8.0; 8]);
}

#[test]
fn weights_are_minded() {
    let mut recipe = RandomRows::new(2, 1);
    recipe.weights = [1, 2, 0, 3];
    let kind = |rows: &[Row]| rows[0].knots()[0].kind();
    even(
        counts(&recipe, 6000, kind),
        &[1.0 / 6.0, 2.0 / 6.0, 3.0 / 6.0],
    );
}

#[test]
fn the_density_is_minded() {
    let mut recipe = RandomRows::new(2, 3);
    recipe.density = 0.4;
    // None of three is an error, and left out here.
    let some = 1.0 - 0.6 * 0.6 * 0.6;
    let expected = [
        3.0 * 0.4 * 0.6 * 0.6 / some,
        3.0 * 0.4 * 0.4 * 0.6 / some,
        0.4 * 0.4 * 0.4 / some,
    ];
    even(counts(&recipe, 6000, <[Row]>::len), &expected);
}

#[test]
fn smooth_rows_repeat_their_neighbours() {
    let mut recipe = RandomRows::new(2, 3);
    recipe.smoothness = 0.6;
    let repeats = |rows: &[Row]| {
        let kinds: Vec<Kind> = rows.iter().map(|row| row.knots()[0].kind()).collect();
        kinds.windows(2).filter(|pair| pair[0] == pair[1]).count()
    };
    // By taking over, or by picking the same of four.
    let same = 0.6 + 0.4 / 4.0;
    let expected = [
        (1.0 - same) * (1.0 - same),
        2.0 * same * (1.0 - same),
        same * same,
    ];
    even(counts(&recipe, 6000, repeats), &expected);
}

#[test]
fn members_of_a_seed_do_not_depend_on_each_other() {
    let recipe = RandomRows::new(2, 1);
    let kind = |seed, number| {
        let rows = recipe
            .draw(&mut Chance::new(seed, Purpose::Member { number }))
            .expect("it can be");
        rows[0].knots()[0].kind()
    };
    // Pairs that share no member, so that chi-square may be asked about them.
    let pairs = |seed| {
        let mut pairs = BTreeMap::new();
        for number in (1..=4000).step_by(2) {
            let pair = (kind(seed, number), kind(seed, number + 1));
            *pairs.entry(pair).or_default() += 1;
        }
        pairs
    };
    even(pairs, &[1.0 / 16.0; 16]);
}

#[test]
fn every_bound_is_kept() {
    let mut recipe = RandomRows::new(7, 12);
    recipe.longest_run = Some(2);
    recipe.smoothness = 0.7;
    recipe.symmetry = Frieze::P2;
    recipe.fixed = grid(
        r"
        >.\.>",
    )
    .expect("marks");
    for number in 1..=200 {
        let rows = recipe
            .draw(&mut Chance::new(1, Purpose::Member { number }))
            .expect("it can be");
        assert_eq!(rows[0].to_string(), recipe.fixed[0].to_string());
        assert_eq!(
            knots_that_break(&rows, 7, Frieze::P2).expect("it can be"),
            []
        );
        for column in 1..7 {
            let of_column = |row: &Row| {
                row.knots()
                    .iter()
                    .find(|knot| knot.column().number() == column)
                    .copied()
            };
            let kinds: Vec<Kind> = rows.iter().filter_map(of_column).map(Knot::kind).collect();
            let twice = kinds.repeat(2);
            assert!(
                twice
                    .windows(3)
                    .all(|run| run[0] != run[1] || run[1] != run[2]),
                "{kinds:?}"
            );
        }
    }
}

#[test]
fn a_seed_makes_the_same_rows_for_ever() {
    assert_eq!(
        RANDOM_ROWS_VERSION, "hitchwork-random-rows/1",
        "a changed recipe needs a new name"
    );
    let mut recipe = RandomRows::new(7, 6);
    recipe.weights = [3, 3, 1, 1];
    recipe.smoothness = 0.3;
    recipe.density = 0.9;
    let rows = recipe
        .draw(&mut Chance::new(7, Purpose::Member { number: 12 }))
        .expect("it can be");
    let expected = r"
        \.\.\.
        ././.\
        >.<./.
        .\././
        >.\.\.
        .<./.\";
    assert_eq!(rows, grid(expected).expect("marks"));
}

#[test]
fn recipes_that_cannot_be_are_refused() {
    let refused = |change: &dyn Fn(&mut RandomRows)| {
        let mut recipe = RandomRows::new(5, 4);
        change(&mut recipe);
        let error = recipe
            .draw(&mut Chance::new(1, Purpose::Rule))
            .expect_err("it cannot be");
        assert!(error.help().is_some());
        error.to_string()
    };
    assert!(refused(&|recipe| recipe.symmetry = Frieze::P2mm).contains("odd number of threads"));
    assert!(refused(&|recipe| recipe.density = 1.5).contains("between 0 and 1"));
    assert!(refused(&|recipe| recipe.smoothness = f64::NAN).contains("between 0 and 1"));
    assert!(refused(&|recipe| recipe.density = 0.0).contains("left out every knot"));
    assert!(refused(&|recipe| recipe.rows = 3).contains("3 rows"));
    assert!(refused(&|recipe| recipe.threads = 1).contains("threads"));
    assert!(refused(&|recipe| recipe.weights = [0; 4]).contains("weigh nothing"));
    assert!(refused(&|recipe| recipe.longest_run = Some(0)).contains("longest run"));
    assert!(
        refused(&|recipe| {
            recipe.weights = [1, 0, 0, 0];
            recipe.longest_run = Some(1);
        })
        .contains("more than 1 knots")
    );
    assert!(
        refused(&|recipe| {
            recipe.weights = [1, 1, 0, 0];
            recipe.symmetry = Frieze::P1m1;
        })
        .contains("forward-backward or backward-forward, and these kinds weigh nothing")
    );
}
