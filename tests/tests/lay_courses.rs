//! How threads run between laid knots, and how a band that bends lies when it is pinned straight.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::Gauge;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::lay::{LaidKnot, LaidThreads, Lay, Point};
use hitchwork_tests::by_chance::cases;
use hitchwork_tests::made::{band, brick, run};
use proptest::prelude::*;

fn laid(band: &Band, gauge: &Gauge) -> (Fabric, Lay) {
    let fabric = Fabric::of(band);
    let lay = Lay::of(&fabric, gauge);
    (fabric, lay)
}

fn courses(band: &Band, gauge: &Gauge) -> LaidThreads {
    let (fabric, lay) = laid(band, gauge);
    lay.courses(&fabric)
}

fn to_and_fro(threads: u16, rows_each_way: u32) -> Band {
    let right = run(Kind::Backward, 1..threads);
    let left = run(Kind::Forward, (1..threads).rev());
    band(threads, vec![right, left], rows_each_way)
}

/// Leader rows over the five threads at the left, courses at the right.
fn bending(repeats: u32) -> Band {
    let rows = vec![
        run(Kind::Backward, 1..5),
        run(Kind::Forward, [6, 8]),
        run(Kind::Forward, (1..5).rev()),
        run(Kind::Forward, [5, 7, 9]),
    ];
    band(10, rows, repeats)
}

fn unequal() -> Gauge {
    let mut gauge = Gauge::default();
    (gauge.column_mm, gauge.half_row_mm) = (1.3, 0.9);
    gauge
}

fn away(one: Point, other: Point) -> f64 {
    libm::hypot(
        one.across_mm - other.across_mm,
        one.along_mm - other.along_mm,
    )
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found} is not {expected}"
    );
}

/// The leader turns with a tangent of a third of the way on either side. The length of that
/// curve for a way of 1, by Simpson's rule with a thousand steps.
fn length_of_a_turn() -> f64 {
    let speed = |t: f64| {
        // From (0, 0) over (1/3, 0) and (1/3, 1) to (0, 1): its derivative.
        let across = 1.0 - 2.0 * t;
        let along = 6.0 * t * (1.0 - t);
        libm::hypot(across, along)
    };
    let steps = 1_000_u32;
    let at = |step: u32| speed(f64::from(step) / f64::from(steps));
    let inner: f64 = (1..steps)
        .map(|step| if step % 2 == 1 { 4.0 } else { 2.0 } * at(step))
        .sum();
    (at(0) + inner + at(steps)) / 3.0 / f64::from(steps)
}

#[test]
fn in_rows_over_a_leader_only_the_leader_runs_openly_where_it_turns() {
    for gauge in [Gauge::default(), unequal()] {
        let knot_mm = gauge.knot_mm();
        let courses = courses(&to_and_fro(10, 10), &gauge);
        assert_eq!(courses.stretches.len(), 19);
        for (at, stretch) in courses.stretches.iter().enumerate() {
            assert_eq!(stretch.position, if at % 2 == 0 { 10 } else { 1 });
            assert_eq!(stretch.thread.number(), 1, "the first thread leads");
            assert_eq!((stretch.from, stretch.to), (9 * at + 8, 9 * at + 9));
            near(away(stretch.course[0], stretch.course[3]), knot_mm, 1e-3);
            near(stretch.length_mm, length_of_a_turn() * knot_mm, 2e-3);
        }
    }
}

/// Whatever the gauge: each knot stands square, and its sides are those of its neighbours.
#[test]
fn hitches_over_a_leader_lie_side_by_side() {
    let gauge = unequal();
    let frames = courses(&to_and_fro(6, 2), &gauge).frames;
    for (at, frame) in frames.iter().enumerate() {
        let ways = [frame.leaves_left, frame.leaves_right].map(|side| {
            let centre = frame.laid.centre;
            (
                side.across_mm - centre.across_mm,
                side.along_mm - centre.along_mm,
            )
        });
        for (across, along) in ways {
            near(libm::hypot(across, along), gauge.knot_mm() / 2.0, 1e-3);
        }
        near(ways[0].0 * ways[1].0 + ways[0].1 * ways[1].1, 0.0, 1e-3);
        let (row, place) = (at / 5, at % 5);
        if place < 4 {
            let (out, next) = (frame, &frames[at + 1]);
            let (one, other) = if row % 2 == 0 {
                (out.leaves_right, next.enters_left())
            } else {
                (out.leaves_left, next.enters_right())
            };
            near(away(one, other), 0.0, 1e-3);
        }
    }
}

proptest! {
    #![proptest_config(cases(40))]

    /// A curve is no shorter than the way between its ends, and no longer than the way over its
    /// points (convex hulls of Bézier curves); and mirrored, everything is mirrored.
    #[test]
    fn courses_are_as_long_as_curves_can_be_and_mirrored_with_the_band(
        columns in prop::collection::vec(1_u16..6, 4..40),
    ) {
        let gauge = Gauge::default();
        let of = |columns: Vec<u16>| {
            let row = hitchwork_core::row::Row::new(
                columns.iter().map(|column| hitchwork_tests::made::knot(Kind::Forward, *column)).collect::<Vec<_>>(),
            );
            courses(&band(6, vec![row], 1), &gauge)
        };
        let one = of(columns.clone());
        for stretch in &one.stretches {
            let [a, b, c, d] = stretch.course;
            prop_assert!(stretch.length_mm >= away(a, d) - 1e-9);
            prop_assert!(stretch.length_mm <= away(a, b) + away(b, c) + away(c, d) + 1e-9);
            // However far it floats, it leaves its way by no more than it turns at its knots.
            let aside = gauge.knot_mm() + 1e-9;
            prop_assert!(away(a, b) <= aside && away(c, d) <= aside);
            prop_assert!(stretch.length_mm <= away(a, d) + 4.0 * aside);
        }
        let other = of(columns.iter().map(|column| 6 - column).collect());
        let (mut ours, mut theirs) = (
            one.stretches.iter().map(|stretch| stretch.length_mm).collect::<Vec<_>>(),
            other.stretches.iter().map(|stretch| stretch.length_mm).collect::<Vec<_>>(),
        );
        prop_assert_eq!(ours.len(), theirs.len());
        ours.sort_by(f64::total_cmp);
        theirs.sort_by(f64::total_cmp);
        for (ours, theirs) in ours.iter().zip(&theirs) {
            prop_assert!((ours - theirs).abs() < 1e-3, "{} {}", ours, theirs);
        }
    }
}

#[test]
fn a_lattice_is_pinned_as_it_lies_and_so_is_a_straight_band() {
    for (made, within) in [
        (band(6, brick(Kind::Forward, 6), 8), 0.0),
        (to_and_fro(8, 8), 1e-3),
    ] {
        let (fabric, lay) = laid(&made, &Gauge::default());
        let pinned = lay.straightened(&fabric);
        for (one, other) in lay.knots(&fabric).zip(pinned.knots(&fabric)) {
            near(away(one.centre, other.centre), 0.0, within);
            near(one.turn.sine, other.turn.sine, within.max(1e-12));
        }
    }
}

/// Every column of a band that is pinned straight runs straight down, and the band keeps the
/// length of its middle, also where it would go round itself more than once.
#[test]
fn a_band_that_bends_is_pinned_straight() {
    for repeats in [6, 40, 400] {
        let gauge = Gauge::default();
        let (fabric, lay) = laid(&bending(repeats), &gauge);
        assert!(lay.bend().is_some(), "{repeats}");
        let pinned = lay.straightened(&fabric);
        let knots: Vec<LaidKnot> = pinned.knots(&fabric).collect();
        assert_eq!(knots.len(), lay.knots(&fabric).count());
        for column in 1..10 {
            let column: Vec<&LaidKnot> = knots
                .iter()
                .filter(|knot| knot.knot.column.number() == column)
                .collect();
            let across = column.iter().map(|knot| knot.centre.across_mm);
            let (least, most) = across.fold((f64::MAX, f64::MIN), |(least, most), at| {
                (least.min(at), most.max(at))
            });
            assert!(most - least < gauge.knot_mm(), "{repeats}: {least} {most}");
            for pair in column.windows(2) {
                assert!(pair[1].centre.along_mm > pair[0].centre.along_mm);
            }
        }
        // The middle column is as long as it was.
        let length = |lay: &Lay| {
            let column: Vec<LaidKnot> = lay
                .knots(&fabric)
                .filter(|knot| knot.knot.column.number() == 5)
                .collect();
            column
                .windows(2)
                .map(|pair| away(pair[0].centre, pair[1].centre))
                .sum::<f64>()
        };
        near(length(&pinned), length(&lay), 0.02 * length(&lay));
        assert!(pinned.bend().is_none());
    }
}

#[test]
fn bands_of_parts_are_kept() {
    let parts = BandParts {
        lead_in: vec![run(Kind::Forward, [1])],
        ..to_and_fro(4, 3).into_parts()
    };
    let (fabric, lay) = laid(&Band::new(parts).expect("a band"), &Gauge::default());
    assert_eq!(
        lay.straightened(&fabric).knots(&fabric).count(),
        lay.courses(&fabric).frames.len()
    );
}
