//! The steps are proved: whoever ties what is written gets the band that was simulated.

use hitchwork_core::band::Band;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::steps::Steps;
use hitchwork_draw::text;
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::{by_chance, follower};
use proptest::prelude::*;

/// Asserts that a follower of the written sheet ties the simulated fabric.
fn followed(band: &Band) -> Result<(), TestCaseError> {
    let sheet = text::sheet(&Steps::of(band));
    let tied =
        follower::tie(&sheet).map_err(|why| TestCaseError::fail(format!("{why}\n{sheet}")))?;
    let simulated: Vec<follower::Tied> = Fabric::of(band)
        .knots()
        .map(|knot| follower::Tied {
            column: knot.column.number().into(),
            kind: knot.kind.to_string(),
            working: knot.working.number(),
            core: knot.core.number(),
        })
        .collect();
    prop_assert_eq!(tied, simulated);
    Ok(())
}

#[test]
fn every_built_in_rule_can_be_tied_from_its_sheet() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("built in");
        let band = rules
            .make(&rule, &Settings::new())
            .unwrap_or_else(|error| panic!("{name}: {error}"))
            .band;
        followed(&band).unwrap_or_else(|why| panic!("{name}: {why}"));
        followed(&band.mirrored()).unwrap_or_else(|why| panic!("{name} for the other hand: {why}"));
    }
}

proptest! {
    #![proptest_config(by_chance::cases(60))]

    /// Whatever the rows, the colours and the ends.
    #[test]
    fn any_band_can_be_tied_from_its_sheet(band in by_chance::band()) {
        followed(&band)?;
        followed(&band.mirrored())?;
    }
}

#[test]
fn a_wrong_sheet_is_noticed() {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let band = rules.make(&rule, &Settings::new()).expect("a band").band;
    let sheet = text::sheet(&Steps::of(&band));
    follower::tie(&sheet).expect("the sheet is right");
    for (right, wrong) in [
        ("Order now: 2 3", "Order now: 3 2"),
        ("1. Position 1, thread 1", "1. Position 2, thread 1"),
        (
            "forward knots over the next 2 threads (2, 3)",
            "forward knots over the next 2 threads (3, 2)",
        ),
        (
            "forward-backward knot over thread 4",
            "forward knot over thread 4",
        ),
        ("to position 3", "to position 4"),
    ] {
        assert!(sheet.contains(right), "{right}");
        assert!(
            follower::tie(&sheet.replacen(right, wrong, 1)).is_err(),
            "{wrong}"
        );
    }
}

/// Common practice, no source: at a half triangle every thread but the last ties a knot
/// round those still in the bundle; with backward knots the first brought out ends at the
/// left edge, with forward knots at the right.
#[test]
fn a_half_triangle_brings_the_threads_out_in_their_hanging_order() {
    let rules = Rules::new();
    let rule = rules.built_in("drift").expect("built in");
    let band = rules
        .make(&rule, &Settings::new().set("threads", 8))
        .expect("a band")
        .band;
    for (band, kind, from_left) in [
        (band.mirrored(), "forward", false),
        (band, "backward", true),
    ] {
        let start = Steps::of(&band).start.join(" ");
        assert!(
            start.contains(&format!("Each of the first 7 ties one {kind} knot")),
            "{start}"
        );
        assert!(start.contains("it ties none"), "{start}");
        let (_, order) = start.split_once("in this order: ").expect("an order");
        let order = order.split('.').next().expect("a sentence");
        let brought_out: Vec<u16> = order
            .split(", ")
            .map(|thread| {
                thread
                    .split(' ')
                    .next()
                    .and_then(|word| word.parse().ok())
                    .expect("a number")
            })
            .collect();
        // The bundle keeps to the other side, so each thread comes to hang inside the
        // one before it.
        let mut hanging = Vec::new();
        for thread in brought_out {
            let inside = if from_left { hanging.len() } else { 0 };
            hanging.insert(inside, thread);
        }
        assert_eq!(hanging, (1..=8).collect::<Vec<u16>>());
    }
}
