//! What strikes the eye, on bands whose answers can be counted by hand.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb, difference};
use hitchwork_core::knot::Kind;
use hitchwork_core::measures::MeasureValue;
use hitchwork_core::proof::Look;
use hitchwork_core::row::{Row, grid};
use hitchwork_core::tied::Tied;

const WATER: Srgb = Srgb::new(20, 120, 140);
const SAND: Srgb = Srgb::new(240, 190, 60);

fn band(threads: &[u16], repeat: Vec<Row>) -> Band {
    Band::new(BandParts {
        palette: Colour::spoken([WATER, SAND]),
        threads: threads.to_vec(),
        repeat,
        repeats: 8,
        ..BandParts::default()
    })
    .expect("a band")
}

fn look(threads: &[u16], repeat: Vec<Row>) -> Look {
    Look::of(&band(threads, repeat)).expect("few knots")
}

fn candy_stripe(threads: u16) -> Vec<Row> {
    vec![Row::run(Kind::Forward, 1..threads).expect("columns")]
}

#[test]
fn stripes_that_wind_on_are_one_region_each() {
    // Colours that come by turns: each of four threads lies in a stripe between others.
    assert_eq!(look(&[0, 1, 0, 1], candy_stripe(4)).regions, 2);
    // Two colours, each in two threads side by side.
    assert_eq!(look(&[0, 0, 1, 1], candy_stripe(4)).regions, 2);
    assert_eq!(look(&[0, 0, 0, 0], candy_stripe(4)).regions, 1);
}

#[test]
fn single_knots_of_another_colour_are_regions_of_their_own() {
    // In a full fabric the last thread comes up in column 5 once a repeat: the turning
    // knots beside it hide it everywhere else.
    let rows = grid(
        r"
        >.>.<
        .>.>.",
    )
    .expect("marks");
    let found = look(&[0, 0, 0, 0, 0, 1], rows);
    assert_eq!(
        found.regions, 2,
        "the ground, and a line of knots along the edge"
    );
    let rows = grid(
        r"
        >.>.<
        .>.>.
        >.>.>
        .>.>.",
    )
    .expect("marks");
    let found = look(&[0, 0, 0, 0, 0, 1], rows);
    assert_eq!(found.regions, 2, "the ground, and one knot in every repeat");
    assert_eq!(
        found.working_changes, 10,
        "every knot is tied with another thread than the one before"
    );
}

#[test]
fn balance_is_one_where_colours_share_evenly_and_zero_where_one_shows() {
    assert!((look(&[0, 1, 0, 1], candy_stripe(4)).colour_balance - 1.0).abs() < 1e-9);
    let rows = grid(
        r"
        >.>
        .>.",
    )
    .expect("marks");
    // Thread 4 never works.
    assert_eq!(look(&[0, 0, 0, 1], rows).colour_balance, 0.0);
    // A quarter and three quarters: (1/4 log2 4 + 3/4 log2 4/3) bits of 1.
    let share = look(&[0, 1, 1, 1], candy_stripe(4)).colour_balance;
    assert!((share - 0.81).abs() < 1e-9, "{share}");
}

#[test]
fn contrast_is_the_mean_difference_of_knots_that_touch() {
    assert_eq!(look(&[0, 0, 0, 0], candy_stripe(4)).contrast, 0.0);
    // In two threads, every knot touches only the one before it in the only column, which
    // shows the other thread.
    let found = look(&[0, 1], candy_stripe(2)).contrast;
    let full = (difference(WATER, SAND) * 100.0).round() / 100.0;
    assert!((found - full).abs() < 1e-9, "{found} of {full}");
}

#[test]
fn a_thread_that_is_left_out_floats() {
    // Thread 1 is knotted only in the first of the rows.
    let rows = grid(
        r"
        \.>
        .\.
        ..>
        .>.
        ..>
        .>.",
    )
    .expect("marks");
    let made = band(&[0, 0, 1, 1], rows);
    match Tied::of(made).measure("longest_float") {
        Some(MeasureValue::Whole(half_rows)) => assert!(half_rows >= 5, "{half_rows}"),
        other => panic!("{other:?}"),
    }
}
