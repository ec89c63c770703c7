//! How soft fabric lies: facts that a maker can check with a ruler, laws, and small fabrics
//! minimised by a general-purpose library.
//!
//! A worked example of the local-global method with figures to repeat is not in the papers that
//! we know; the outside check is a library that minimises the same energy in another way.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::Gauge;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Kind, Side};
use hitchwork_core::lay::{LaidKnot, Lay, Unsolved};
use hitchwork_core::row::Row;
use hitchwork_tests::by_chance::cases;
use hitchwork_tests::made::{colours, knot};
use hitchwork_tests::published::Published;
use proptest::prelude::*;
use serde_json::Value;

/// A band whose knots lie in these columns; what kind they are does not matter to the lay.
struct Columns {
    threads: u16,
    lead_in: Vec<u16>,
    repeat: Vec<u16>,
    repeats: u32,
    lead_out: Vec<u16>,
    gauge: Gauge,
}

impl Columns {
    fn repeat(threads: u16, repeat: &[u16], repeats: u32) -> Self {
        let (lead_in, lead_out) = (Vec::new(), Vec::new());
        Self {
            threads,
            lead_in,
            repeat: repeat.to_vec(),
            repeats,
            lead_out,
            gauge: Gauge::default(),
        }
    }

    fn whole(threads: u16, columns: Vec<u16>) -> Self {
        Self {
            repeat: columns,
            ..Self::repeat(threads, &[], 1)
        }
    }

    fn fabric(&self) -> Fabric {
        let row = |columns: &[u16]| {
            let knots = columns.iter().map(|column| knot(Kind::Forward, *column));
            if columns.is_empty() {
                Vec::new()
            } else {
                vec![Row::new(knots.collect::<Vec<_>>())]
            }
        };
        let band = Band::new(BandParts {
            palette: colours(1),
            threads: vec![0; self.threads.into()],
            lead_in: row(&self.lead_in),
            repeat: row(&self.repeat),
            repeats: self.repeats,
            lead_out: row(&self.lead_out),
            ..BandParts::default()
        });
        Fabric::of(&band.expect("a sound band"))
    }

    fn lay(&self) -> Lay {
        Lay::of(&self.fabric(), &self.gauge)
    }

    /// Every knot, with places in knots.
    fn knots(&self) -> Vec<LaidKnot> {
        let fabric = self.fabric();
        let mut knots: Vec<LaidKnot> = Lay::of(&fabric, &self.gauge).knots(&fabric).collect();
        let one = self.gauge.knot_mm();
        for knot in &mut knots {
            knot.centre.across_mm /= one;
            knot.centre.along_mm /= one;
        }
        knots
    }
}

fn right(threads: u16) -> Vec<u16> {
    (1..threads).collect()
}

fn left(threads: u16) -> Vec<u16> {
    (1..threads).rev().collect()
}

/// A row to the right over a leader and one back.
fn to_and_fro(threads: u16) -> Vec<u16> {
    [right(threads), left(threads)].concat()
}

/// Every second column, then the others.
fn course(threads: u16) -> Vec<u16> {
    (1..threads)
        .step_by(2)
        .chain((2..threads).step_by(2))
        .collect()
}

/// Leader rows over five threads beside courses of five.
const LEADER_BESIDE_COURSES: [u16; 13] = [1, 2, 3, 4, 6, 8, 4, 3, 2, 1, 5, 7, 9];

fn away(one: &LaidKnot, other: &LaidKnot) -> f64 {
    let across = one.centre.across_mm - other.centre.across_mm;
    let along = one.centre.along_mm - other.centre.along_mm;
    libm::hypot(across, along)
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64) {
    assert!(
        (found - expected).abs() <= within,
        "{found}, and not {expected} within {within}"
    );
}

/// The prototype of the model (numpy), in knots, centre to centre, to half a percent.
#[test]
fn the_facts_of_the_prototype_come_out() {
    let facts = [
        (
            "to and fro, 20 rows",
            to_and_fro(10).repeat(10),
            0.0,
            Some((8.0, 19.0)),
        ),
        (
            "three right, three left",
            [right(10).repeat(3), left(10).repeat(3)].concat().repeat(4),
            0.0,
            Some((10.0, 23.0)),
        ),
        (
            "courses, leader rows, courses",
            [
                course(10).repeat(6),
                to_and_fro(10).repeat(5),
                course(10).repeat(6),
            ]
            .concat(),
            2.886_252 / 198.0,
            None,
        ),
        (
            "leader rows beside courses",
            LEADER_BESIDE_COURSES.repeat(12),
            15.369_181 / 156.0,
            None,
        ),
    ];
    for (name, columns, energy, size) in facts {
        let lay = Columns::whole(10, columns).lay();
        assert!(lay.is_solved() && lay.said().settled, "{name}");
        near(
            lay.said().energy_per_knot,
            energy,
            energy.mul_add(0.005, 1e-6),
        );
        if let Some((width, length)) = size {
            near(lay.width_knots(), width, 0.005 * width);
            near(lay.length_knots(), length, 0.005 * length);
        }
    }
}

/// The description of the model: m rows over a leader of n threads are (n - 2) knots wide and
/// (m - 1) long between centres, without any energy, whatever the gauge; to the millimetre
/// common practice, no source: a row is one knot high.
#[test]
fn rows_over_a_leader_are_a_knot_for_each_column_and_row() {
    let flat = Gauge {
        column_mm: 1.6,
        half_row_mm: 1.2,
        ..Gauge::default()
    };
    for (threads, rows, gauge) in [
        (5, 7, Gauge::default()),
        (8, 4, flat),
        (10, 20, Gauge::default()),
    ] {
        let columns = (0..rows).flat_map(|row| {
            if row % 2 == 0 {
                right(threads)
            } else {
                left(threads)
            }
        });
        let lay = Columns {
            gauge,
            ..Columns::whole(threads, columns.collect())
        }
        .lay();
        near(lay.said().energy_per_knot, 0.0, 1e-6);
        near(lay.width_knots(), f64::from(threads) - 2.0, 2e-3);
        near(lay.length_knots(), f64::from(rows) - 1.0, 2e-3);
        assert_eq!(lay.bend(), None);
        near(
            lay.median_width_mm() / gauge.knot_mm(),
            f64::from(threads) - 1.0,
            0.1,
        );
    }
}

/// A full lattice keeps today's places to the bit and is never solved.
#[test]
fn where_there_is_no_hole_the_lattice_stays() {
    // The middle column has as many beside it on both sides; of an even number of columns none
    // is in the middle, and a chevron has a hole there.
    let n = 10;
    let chevron: Vec<u16> = (1..5).chain((6..10).rev()).chain([5]).collect();
    let gauge = Gauge {
        column_mm: 1.3,
        half_row_mm: 0.9,
        ..Gauge::default()
    };
    for repeat in [right(n), left(n), course(n), chevron] {
        let band = Columns {
            gauge,
            ..Columns::repeat(n, &repeat, 40)
        };
        let fabric = band.fabric();
        let lay = Lay::of(&fabric, &gauge);
        assert!(!lay.is_solved() && lay.unsolved().is_none() && lay.said().settled);
        assert_eq!(
            (lay.said().rounds, lay.said().energy_per_knot, lay.bend()),
            (0, 0.0, None)
        );
        assert_eq!(lay.median_width_mm(), gauge.width_mm(n));
        for LaidKnot {
            knot, centre, turn, ..
        } in lay.knots(&fabric)
        {
            assert_eq!(
                centre.across_mm.to_bits(),
                (f64::from(knot.column.number()) * 1.3).to_bits()
            );
            assert_eq!(
                centre.along_mm.to_bits(),
                (f64::from(knot.level) * 0.9).to_bits()
            );
            assert_eq!((turn.cosine, turn.sine), (1.0, 0.0));
        }
    }
    // Two full lattices that nothing ties together are two that have no hole.
    let apart = Columns::repeat(6, &[1, 2, 4, 5], 30).lay();
    assert!(!apart.is_solved() && apart.said().settled);
    near(apart.median_width_mm(), Gauge::default().width_mm(6), 1e-9);
    // In a chevron of four columns the way from the last to the third goes over two half rows,
    // where a straight thread is one knot long: a hole that a maker pulls shut.
    assert!(Columns::whole(5, vec![1, 4, 2, 3]).lay().is_solved());
    let hole: Vec<u16> = course(n)
        .repeat(3)
        .into_iter()
        .enumerate()
        .filter(|(at, _)| *at != 11)
        .map(|(_, column)| column)
        .collect();
    assert!(
        Columns::whole(n, hole).lay().is_solved(),
        "one hole is enough"
    );
}

/// SciPy's least squares finds the same shapes of least energy in another way.
#[test]
fn small_fabrics_lie_as_a_general_library_lays_them() {
    for case in Published::read("lay_least_squares").cases {
        let numbers =
            |value: &Value| -> Vec<u16> { serde_json::from_value(value.clone()).expect("columns") };
        let real = |name: &str| case[name].as_f64().expect("a number");
        let gauge = Gauge {
            column_mm: real("column"),
            half_row_mm: real("half_row"),
            ..Gauge::default()
        };
        let threads = numbers(&Value::Array(vec![case["threads"].clone()]))[0];
        let band = Columns {
            gauge,
            ..Columns::whole(threads, numbers(&case["columns"]))
        };
        let places: Vec<[f64; 2]> = serde_json::from_value(case["places"].clone()).expect("places");
        let knots = band.knots();
        near(
            band.lay().said().energy_per_knot * knots.len() as f64,
            real("energy"),
            1e-4,
        );
        for (one, a) in knots.iter().zip(&places) {
            for (other, b) in knots.iter().zip(&places) {
                near(
                    away(one, other),
                    libm::hypot(a[0] - b[0], a[1] - b[1]),
                    2e-3,
                );
            }
        }
    }
}

/// Each leader row wants its knots a whole knot apart and each course only the side of a square
/// on its corner: the side with leader rows is the longer one, so the band bends to the other.
#[test]
fn leader_rows_beside_courses_bend_away_from_the_longer_side() {
    let band = |repeats| Columns::repeat(10, &LEADER_BESIDE_COURSES, repeats).lay();
    let (short, long) = (band(12), band(400));
    let radius = |lay: &Lay| lay.bend().expect("it bends").radius_mm;
    near(radius(&short), radius(&long), 0.1 * radius(&long));
    assert_eq!(long.bend().map(|bend| bend.towards), Some(Side::Right));
    // 400 repeats go round and round: the band lies on a circle, as wide as it is long.
    near(long.width_knots(), long.length_knots(), 0.05);
    near(
        long.width_knots(),
        2.0 * radius(&long) / Gauge::default().knot_mm(),
        8.0,
    );
    let mirrored: Vec<u16> = LEADER_BESIDE_COURSES
        .iter()
        .map(|column| 10 - column)
        .collect();
    let other = Columns::repeat(10, &mirrored, 400).lay();
    assert_eq!(other.bend().map(|bend| bend.towards), Some(Side::Left));
    near(radius(&other), radius(&long), 1e-3);
}

/// A law: solved as a repeat with both ends, a long band lies as it does solved whole.
#[test]
fn a_long_band_lies_as_if_it_had_been_solved_whole() {
    let n = 5;
    let repeats: [Vec<u16>; 3] = [
        to_and_fro(n),
        vec![1, 2, 4, 2, 1, 3],
        [course(n), right(n), left(n)].concat(),
    ];
    for repeat in repeats {
        let times = 660 / u32::try_from(repeat.len()).expect("small");
        let lead = vec![1, 2, 3, 4, 2];
        let by_repeats = Columns {
            lead_in: lead.clone(),
            lead_out: vec![4, 3, 1],
            ..Columns::repeat(n, &repeat, times)
        };
        let all = [lead, repeat.repeat(times as usize), vec![4, 3, 1]].concat();
        let whole = Columns::whole(n, all);
        let (one, other) = (by_repeats.lay(), whole.lay());
        assert!(one.said().settled, "{:?}", one.said());
        assert!(other.said().settled, "{:?}", other.said());
        // The second goes round and round: how often can only be seen along the way.
        let towards = |lay: &Lay| lay.bend().map(|bend| bend.towards);
        assert_eq!(towards(&one), towards(&other));
        if let (Some(one), Some(other)) = (one.bend(), other.bend()) {
            near(one.radius_mm, other.radius_mm, 0.1 * one.radius_mm);
        }
        assert!(
            one.solved_knots() < other.solved_knots(),
            "{} {}",
            one.solved_knots(),
            other.solved_knots()
        );
        near(
            one.said().energy_per_knot,
            other.said().energy_per_knot,
            1e-5,
        );
        let (one, other) = (by_repeats.knots(), whole.knots());
        for at in 0..one.len() - 20 {
            for step in [1, 7, 19] {
                near(
                    away(&one[at], &one[at + step]),
                    away(&other[at], &other[at + step]),
                    0.02,
                );
            }
        }
    }
}

/// Steps at the edges and ends of another kind do not make a straight band a bent one.
#[test]
fn a_straight_band_is_not_said_to_bend() {
    let three_and_three = [right(10).repeat(3), left(10).repeat(3)].concat();
    let with_ends = Columns {
        lead_in: vec![1, 2, 3, 4, 2],
        lead_out: vec![4, 3, 1],
        ..Columns::repeat(5, &to_and_fro(5), 82)
    };
    // Also where a single repeat is one wave, whose sides lean to one side and to the other.
    let four_and_four = [right(10).repeat(4), left(10).repeat(4)].concat();
    for band in [
        Columns::repeat(10, &three_and_three, 40),
        Columns::repeat(10, &three_and_three, 1),
        Columns::repeat(10, &four_and_four, 1),
        Columns::repeat(10, &four_and_four, 2),
        with_ends,
    ] {
        assert_eq!(band.lay().bend(), None);
    }
}

/// What would take too long is not begun: it stays on the lattice, and says that it does not
/// lie there.
#[test]
fn a_fabric_that_is_too_much_says_so() {
    let holes = course(10).repeat(50_000).into_iter().zip(0_u32..);
    let holes = holes.filter(|(_, at)| at % 7 != 3);
    let lay = Columns::whole(10, holes.map(|(column, _)| column).collect()).lay();
    assert_eq!(lay.unsolved(), Some(Unsolved::TooLarge));
    assert!(!lay.is_solved());
    let said = lay.said();
    assert!(!said.settled && !said.solved && said.rounds == 0);
    assert_eq!(lay.solved_knots(), 0);
}

/// A law: the middle repeats of a long band are congruent, and a thousand times as many are
/// solved with the same work.
#[test]
fn middle_repeats_are_congruent_and_cost_nothing() {
    let repeat = &LEADER_BESIDE_COURSES;
    let band = |repeats| Columns::repeat(10, repeat, repeats);
    let (short, long) = (band(100), band(100_000));
    assert_eq!(short.lay().solved_knots(), long.lay().solved_knots());
    assert_eq!(short.lay().said().rounds, long.lay().said().rounds);
    let knots = short.knots();
    let at = |time: usize, knot: usize| &knots[time * repeat.len() + knot];
    for knot in 0..repeat.len() {
        for other in 0..knot {
            near(
                away(at(48, knot), at(48, other)),
                away(at(52, knot), at(52, other)),
                1e-9,
            );
        }
        near(
            away(at(47, knot), at(48, 0)),
            away(at(51, knot), at(52, 0)),
            1e-9,
        );
    }
}

/// A law: a hole does not reach far. Where a long lattice lacks one knot, it is solved, and is
/// as wide in the middle of all places as one that lacks none: on a square gauge the knots at its
/// edges stand on their corners, and reach out by half a diagonal.
#[test]
fn one_hole_does_not_make_a_long_lattice_narrower() {
    let n = 8;
    let mut columns = course(n).repeat(24);
    columns.remove(84);
    let lay = Columns::whole(n, columns).lay();
    assert!(lay.is_solved() && lay.said().settled);
    let whole = Gauge::default().width_mm(n);
    near(lay.median_width_mm(), whole, 0.01 * whole);
    near(lay.greatest_width_mm(), whole, 0.05 * whole);
}

/// Two threads that only tie each other hang together by nothing but their loops, which ask no
/// turn of a knot. Beside a part with a hole they are laid all the same, and come to rest.
#[test]
fn knots_that_only_hang_by_their_loops_come_to_rest() {
    let band = Columns::whole(5, vec![1, 1, 1, 3, 4, 4, 3, 4, 1]);
    let lay = band.lay();
    assert!(lay.is_solved() && lay.said().settled, "{:?}", lay.said());
    let knots = band.knots();
    let first: Vec<&LaidKnot> = knots
        .iter()
        .filter(|knot| knot.knot.column.number() == 1)
        .collect();
    assert_eq!(first.len(), 4);
    for pair in first.windows(2) {
        // No nearer than a knot, and no further than two half rows of the lattice.
        let apart = away(pair[0], pair[1]);
        assert!((0.99..=1.42).contains(&apart), "{apart}");
    }
    // However often: beside a part with a hole the column is as long as its knots.
    let pairs = Columns {
        lead_in: vec![1],
        lead_out: vec![1, 1],
        ..Columns::repeat(6, &[1, 3, 4, 5, 5, 4, 3], 200)
    };
    assert!(pairs.lay().is_solved());
    let knots = pairs.knots();
    let column: Vec<&LaidKnot> = knots
        .iter()
        .filter(|knot| knot.knot.column.number() == 1)
        .collect();
    assert_eq!(column.len(), 203);
    near(
        away(column[0], column[202]),
        202.0 * std::f64::consts::SQRT_2,
        0.01,
    );
}

/// The pull that keeps knots of a column apart weighs half of a straight thread's, so knots are
/// soft. Where nothing pulls them together (rows over a leader) they are a whole knot apart; where
/// threads do, they press into each other. Worst is a knot right upon another, of the same two
/// threads, as where a leader turns back inside the band: each comes back square to the other, so that both together ask for a distance of
/// 1 / sqrt(2), with the weights 4 * 0.3 of their ends against 0.5 for a whole knot. Left to
/// itself such a pair lies (1.2 / sqrt(2) + 0.5) / 1.7 = 0.79 knots apart, and its neighbours
/// press it further. The limits for such fabrics are what the model gives, not a law.
#[test]
fn knots_of_a_column_keep_apart() {
    let bands = [
        Columns::whole(10, to_and_fro(10).repeat(4)),
        Columns::whole(10, LEADER_BESIDE_COURSES.repeat(6)),
        Columns::whole(
            7,
            [course(7), vec![3, 3, 4, 1, 1], course(7)]
                .concat()
                .repeat(3),
        ),
    ];
    for (band, least) in bands.iter().zip([0.999, 0.5, 0.5]) {
        let knots = band.knots();
        for (at, one) in knots.iter().enumerate() {
            let next = knots[at + 1..]
                .iter()
                .find(|next| next.knot.column == one.knot.column);
            if let Some(next) = next {
                assert!(away(one, next) >= least, "{}", away(one, next));
            }
        }
    }
}

/// Two bands of rows over a leader that no knot joins are wider than on the lattice, and lie beside
/// each other all the same: as far apart as their columns are, and mirrored in a mirrored band.
#[test]
fn parts_that_nothing_joins_lie_beside_each_other() {
    let rows = |first: u16, last: u16| (first..=last).chain((first..=last).rev());
    let repeat: Vec<u16> = rows(1, 5).chain(rows(7, 13)).collect();
    let across = |repeat: &[u16], columns: std::ops::RangeInclusive<u16>| {
        let knots = Columns::repeat(14, repeat, 8).knots();
        let places = knots
            .iter()
            .filter(|knot| columns.contains(&knot.knot.column.number()))
            .map(|knot| knot.centre.across_mm);
        let least = places.clone().fold(f64::INFINITY, f64::min);
        (least, places.fold(f64::NEG_INFINITY, f64::max))
    };
    let (left, right) = (across(&repeat, 1..=5), across(&repeat, 7..=13));
    // In knots: a part is as many wide between centres as it has columns but one; columns 5 and 7
    // are two columns apart, each 1 / sqrt(2) on a square gauge.
    near(left.1 - left.0, 4.0, 2e-3);
    near(right.1 - right.0, 6.0, 2e-3);
    near(right.0 - left.1, std::f64::consts::SQRT_2, 2e-3);
    let mirrored: Vec<u16> = repeat.iter().map(|column| 14 - column).collect();
    let middle = 7.0 / std::f64::consts::SQRT_2;
    let other = across(&mirrored, 1..=7);
    near(2.0 * middle - right.1, other.0, 2e-3);
    near(2.0 * middle - right.0, other.1, 2e-3);
}

#[test]
fn whatever_comes_in_a_lay_or_a_clear_word_comes_out() {
    let wide: Vec<u16> = to_and_fro(200);
    let bands = [
        ("one column only", Columns::repeat(2, &[1], 30)),
        (
            "threads that never meet",
            Columns::repeat(6, &[1, 5, 5], 300),
        ),
        ("one knot", Columns::whole(4, vec![2])),
        ("one column of many", Columns::repeat(8, &[4], 50)),
        (
            "a part that is left alone",
            Columns {
                lead_in: course(6),
                ..Columns::repeat(6, &[1, 2, 1], 200)
            },
        ),
        (
            "two parts that meet again",
            Columns {
                lead_in: course(7),
                lead_out: course(7),
                ..Columns::repeat(7, &[1, 2, 5, 6, 5], 20)
            },
        ),
        ("200 threads", Columns::repeat(200, &wide, 2)),
        (
            "200 threads, again and again",
            Columns::repeat(200, &wide, 5_000),
        ),
    ];
    for (name, band) in bands {
        let lay = band.lay();
        let said = lay.said();
        assert!(
            said.settled || lay.unsolved().is_some() || said.rounds > 0,
            "{name}: {said:?}"
        );
        for value in [
            said.energy_per_knot,
            said.width_knots,
            said.length_knots,
            said.longest_open_mm,
            lay.median_width_mm(),
            lay.greatest_width_mm(),
            lay.length_mm(),
        ] {
            assert!(
                value.is_finite() && value >= 0.0,
                "{name}: {said:?} {}",
                lay.length_mm()
            );
        }
        if band.repeats < 1000 {
            for knot in band.knots() {
                assert!(
                    knot.centre.across_mm.is_finite() && knot.centre.along_mm.is_finite(),
                    "{name}"
                );
                near(libm::hypot(knot.turn.cosine, knot.turn.sine), 1.0, 1e-9);
            }
        }
    }
}

/// As wide as a band can be: rows over a leader lie as those of a narrow one do.
#[test]
fn rows_over_a_leader_of_two_hundred_threads_lie_as_those_of_ten() {
    let lay = Columns::repeat(200, &to_and_fro(200), 20).lay();
    let said = lay.said();
    assert!(said.solved && said.settled, "{said:?}");
    near(said.width_knots, 198.0, 1e-3);
    near(said.length_knots, 39.0, 1e-3);
}

/// A picture of hundreds of rows over a leader is one repeat, and lies as the two rows do, of which
/// it is made for whoever asks only where threads cross.
#[test]
fn a_long_picture_over_a_leader_lies_as_two_rows_again_and_again() {
    for (threads, pairs) in [(13_u16, 100_u32), (40, 300), (5, 1000)] {
        let long = to_and_fro(threads).repeat(pairs as usize);
        let picture = Columns::repeat(threads, &long, 3);
        let rows = Columns::repeat(threads, &to_and_fro(threads), 3 * pairs);
        let said = picture.lay().said().clone();
        assert_eq!(&said, rows.lay().said());
        assert!(said.solved && said.settled);
        // A leader band is n - 2 knots wide and m - 1 long between the centres.
        near(said.width_knots, f64::from(threads - 2), 1e-3);
        near(
            said.length_knots,
            f64::from(6 * pairs - 1),
            1e-3 * f64::from(pairs),
        );
        let repeat_mm = picture.lay().repeat_mm().expect("it is soft");
        near(
            repeat_mm,
            f64::from(2 * pairs) * picture.gauge.knot_mm(),
            1e-3 * f64::from(pairs),
        );
    }
}

/// Knots with many holes, so that nearly every one of these fabrics has to be solved; but no
/// wilder than what somebody might tie: of a wild heap there may be two shapes of equal energy.
fn holes() -> impl Strategy<Value = (u16, Vec<u16>)> {
    (4_u16..=7).prop_flat_map(|threads| {
        let knots = course(threads).repeat(3);
        let kept = prop::collection::vec(prop::bool::weighted(0.85), knots.len());
        kept.prop_map(move |kept| {
            let columns = knots.iter().zip(kept).filter(|(_, kept)| *kept);
            (
                threads,
                columns
                    .map(|(column, _)| *column)
                    .chain(course(threads))
                    .collect(),
            )
        })
    })
}

proptest! {
    #![proptest_config(cases(12))]

    #[test]
    fn a_mirrored_band_has_the_mirrored_lay((threads, columns) in holes()) {
        let mirrored: Vec<u16> = columns.iter().map(|column| threads - column).collect();
        let (one, other) = (Columns::whole(threads, columns).knots(), Columns::whole(threads, mirrored).knots());
        let width = f64::from(threads) * Gauge::default().column_mm / Gauge::default().knot_mm();
        for (one, other) in one.iter().zip(&other) {
            near(width - one.centre.across_mm, other.centre.across_mm, 1e-9);
            near(one.centre.along_mm, other.centre.along_mm, 1e-9);
            near(one.turn.sine, -other.turn.sine, 1e-9);
        }
    }

    /// However many times the rule says what comes again.
    #[test]
    fn what_is_repeated_lies_alike_however_it_is_written((threads, columns) in holes(), times in 2_u32..5) {
        let twice = Columns::repeat(threads, &columns.repeat(times as usize), 2);
        let often = Columns::repeat(threads, &columns, 2 * times);
        let said = |columns: &Columns| columns.lay().said().clone();
        prop_assert_eq!(said(&twice), said(&often));
        prop_assert_eq!(twice.knots(), often.knots());
    }

    /// Whether there is a hole is found out without looking at every repeat; written out, every
    /// knot is looked at.
    #[test]
    fn holes_are_found_in_repeats_as_in_every_knot(
        threads in 3_u16..8,
        parts in prop::array::uniform3(prop::collection::vec((0_u16..100, any::<bool>()), 0..4)),
        repeats in 1_u32..9,
    ) {
        // Courses all of a piece, and now and then a knot alone.
        let columns = |part: &[(u16, bool)]| -> Vec<u16> {
            let some = part.iter().map(|(at, alone)| match alone {
                true => vec![1 + at % (threads - 1)],
                false => course(threads),
            });
            some.collect::<Vec<_>>().concat()
        };
        let [lead_in, mut repeat, lead_out] = parts.each_ref().map(|part| columns(part));
        if repeat.is_empty() {
            repeat = course(threads);
        }
        let written = (0..repeats).flat_map(|_| repeat.clone());
        let all = lead_in.iter().copied().chain(written).chain(lead_out.iter().copied()).collect();
        let whole = Columns::whole(threads, all).fabric();
        let gauge = Gauge::default();
        let parts = Columns { threads, lead_in, repeat, repeats, lead_out, gauge };
        let fabric = parts.fabric();
        prop_assert_eq!(Lay::has_holes(&fabric), Lay::has_holes(&whole));
        if !Lay::has_holes(&fabric) {
            let open = |fabric: &Fabric| Lay::of(fabric, &gauge).said().longest_open_mm;
            prop_assert_eq!(open(&fabric).to_bits(), open(&whole).to_bits());
        }
    }

    #[test]
    fn a_band_upside_down_has_the_lay_upside_down((threads, columns) in holes()) {
        let turned: Vec<u16> = columns.iter().rev().copied().collect();
        let (one, other) = (Columns::whole(threads, columns).knots(), Columns::whole(threads, turned).knots());
        for (at, a) in one.iter().enumerate() {
            for (step, b) in one.iter().enumerate() {
                let of_other = |at: usize| &other[one.len() - 1 - at];
                near(away(a, b), away(of_other(at), of_other(step)), 2e-3);
            }
        }
    }

    #[test]
    fn another_order_of_tying_gives_the_same_lay((threads, columns) in holes(), swaps in prop::collection::vec(0_usize..100, 60)) {
        let mut order: Vec<(u16, usize)> = columns.iter().copied().zip(0..).collect();
        for swap in swaps {
            let at = swap % (order.len() - 1);
            if order[at].0.abs_diff(order[at + 1].0) > 1 {
                order.swap(at, at + 1);
            }
        }
        let other = Columns::whole(threads, order.iter().map(|(column, _)| *column).collect()).knots();
        let one = Columns::whole(threads, columns).knots();
        for ((_, at), other) in order.iter().zip(&other) {
            near(one[*at].centre.across_mm, other.centre.across_mm, 2e-3);
            near(one[*at].centre.along_mm, other.centre.along_mm, 2e-3);
        }
    }
}

/// One knot more, just right of the middle, in four rows over a leader: no repeat shows it, and two
/// hundred of them make a bow, to the side where fewer knots are.
/// Rows of courses with a knot left out in each, as a picture has them.
fn courses_with_holes(threads: u16, rows: u16) -> Vec<u16> {
    let row = |at: u16| {
        let first = 1 + at % 2;
        let hole = first + 2 * ((7 * at) % (threads / 2));
        (first..threads)
            .step_by(2)
            .filter(move |column| *column != hole)
    };
    (0..rows).flat_map(row).collect()
}

/// A long picture that is tied once is not laid without end to learn by how much it would grow:
/// only its end beside its start is. Tied twice, it is laid without end.
#[test]
fn what_is_tied_once_grows_as_it_does_when_it_is_tied_again() {
    for (threads, rows) in [(10, 131), (12, 151), (16, 161)] {
        let columns = courses_with_holes(threads, rows);
        let once = Columns::repeat(threads, &columns, 1).lay();
        let twice = Columns::repeat(threads, &columns, 2).lay();
        let grows = |lay: &Lay| lay.repeat_mm().expect("it is soft");
        // A hundredth of a knot, however many knots long it is.
        let found = (grows(&once) - grows(&twice)).abs();
        let bound = 0.01 * Gauge::default().knot_mm() + 1e-3 * grows(&twice);
        assert!(
            found <= bound,
            "{} for {} threads: {} and {}",
            found,
            threads,
            grows(&once),
            grows(&twice)
        );
    }
}

/// However long a picture is, and also where its repeat would be too much to be laid without end.
#[test]
fn a_picture_of_thousands_of_rows_that_is_tied_once_is_laid() {
    let long = Columns::whole(10, courses_with_holes(10, 2_003)).lay();
    assert!(
        long.is_solved() && long.said().settled,
        "{:?}",
        long.unsolved()
    );
    let short = Columns::whole(10, courses_with_holes(10, 501)).lay();
    // Four times the rows, four times the length, but for how dense they are here and there.
    near(long.length_mm() / short.length_mm(), 4.0, 0.05);
}

#[test]
fn a_slight_bend_is_not_taken_for_straight() {
    let rows = to_and_fro(24);
    let repeat = [rows.clone(), rows, vec![14]].concat();
    let radius = |repeats: u32| {
        let lay = Columns::repeat(24, &repeat, repeats).lay();
        assert!(lay.said().settled, "{:?}", lay.said());
        let bend = lay.bend().expect("it bends");
        assert_eq!(bend.towards, Side::Left);
        bend.radius_mm
    };
    let (short, long) = (radius(200), radius(400));
    // A repeat is some four knots long and turns by less than a hundredth.
    assert!(short > 400.0 * Gauge::default().knot_mm(), "{short}");
    near(long / short, 1.0, 1e-3);
}

/// Courses pull at the rows over a leader beside them further than the band is wide: ends that are
/// laid over less than that do not fit the middle, and do not come to rest against it.
#[test]
fn the_ends_of_a_long_band_are_laid_over_as_much_as_they_need() {
    let billow = [course(10).repeat(6), to_and_fro(10).repeat(4)].concat();
    let lays = |repeats: u32| {
        let band = Columns::repeat(10, &billow, repeats);
        let said = band.lay().said().clone();
        assert!(said.settled, "{repeats} repeats: {said:?}");
        band.knots()
    };
    // Four repeats are few enough to be solved as a whole.
    let (whole, long) = (lays(4), lays(40));
    for at in 1..billow.len() {
        near(away(&long[0], &long[at]), away(&whole[0], &whole[at]), 0.02);
    }
}

/// A band too wide to be solved as a whole is laid as its repeat lies without end. Where its ends
/// would lie otherwise it is not at rest, and says so; where they would not, it is.
#[test]
fn what_is_laid_as_its_repeat_lies_says_whether_its_ends_do_too() {
    let rows = to_and_fro(200).repeat(8);
    let holes = [rows.clone(), vec![3, 5, 7, 9, 11]].concat();
    let uneven = Columns::repeat(200, &holes, 6).lay();
    assert!(
        uneven.is_solved() && !uneven.said().settled,
        "{:?}",
        uneven.said()
    );
    let plain = Columns::repeat(200, &rows, 6).lay();
    assert!(
        plain.is_solved() && plain.said().settled,
        "{:?}",
        plain.said()
    );
}

/// Only part of a long band is measured, and what is left out is added: every row over a leader
/// makes it a knot longer, in all (common practice, no source).
#[test]
fn every_row_over_a_leader_makes_a_band_of_any_length_one_knot_longer() {
    let rows = |pairs: u32| Columns::repeat(9, &to_and_fro(9), pairs).lay();
    let knot_mm = Gauge::default().knot_mm();
    let short = rows(10);
    for pairs in [30, 100, 5_000] {
        let longer = f64::from(2 * (pairs - 10));
        let lay = rows(pairs);
        near(
            lay.length_mm() - short.length_mm(),
            longer * knot_mm,
            1e-4 * longer,
        );
        near(
            lay.length_knots() - short.length_knots(),
            longer,
            1e-4 * longer,
        );
        near(lay.median_width_mm(), short.median_width_mm(), 1e-3);
    }
}

/// Twenty-four repeats that bend, written as one: it turns by more than half a circle, and grows
/// and bends as they do. Two rows more keep it from being cut into its parts.
#[test]
fn a_repeat_that_turns_by_more_than_half_a_circle_bends_as_its_parts_do() {
    let written = [LEADER_BESIDE_COURSES.repeat(24), to_and_fro(10)].concat();
    let (parts, one) = (
        Columns::repeat(10, &LEADER_BESIDE_COURSES, 96).lay(),
        Columns::repeat(10, &written, 4).lay(),
    );
    let bends = |lay: &Lay| lay.bend().expect("it bends");
    assert_eq!(bends(&one).towards, bends(&parts).towards);
    near(bends(&one).radius_mm / bends(&parts).radius_mm, 1.0, 0.1);
    let repeat_mm = |lay: &Lay| lay.repeat_mm().expect("it is soft");
    // Half a circle and more, and the two rows.
    let turned = repeat_mm(&one) / bends(&one).radius_mm;
    assert!(turned > 3.3, "{turned}");
    let rows = 2.0 * Gauge::default().knot_mm();
    near(
        repeat_mm(&one),
        24.0 * repeat_mm(&parts) + rows,
        0.05 * repeat_mm(&one),
    );
}

/// A band that winds to and fro in every repeat bends as much as it does in the long run, however
/// few repeats are tied.
#[test]
fn waves_that_come_again_with_every_repeat_are_no_bend() {
    let bending = |column: u16, times: usize| [to_and_fro(12), vec![column]].concat().repeat(times);
    let repeat = [bending(9, 6), bending(3, 12), bending(9, 6)].concat();
    let radius_mm = |repeats: u32| {
        let bend = Columns::repeat(12, &repeat, repeats).lay().bend();
        bend.map_or(f64::INFINITY, |bend| bend.radius_mm)
    };
    near(radius_mm(2) / radius_mm(12), 1.0, 0.01);
}

/// A column that gets eighty knots cannot lie as short as one beside it that gets a few, and no
/// thread is pulled so hard that it rolls them up.
#[test]
fn a_thread_that_passes_dozens_of_knots_does_not_roll_them_up() {
    // At the right of what is tied often, and at the left.
    let rights = [[1, 2, 3, 3, 2, 1].repeat(14), right(6)].concat();
    let lefts = [right(6), [3, 4, 5, 5, 4, 3].repeat(14)].concat();
    for repeat in [rights, lefts] {
        let lay = Columns::repeat(6, &repeat, 2).lay();
        assert_eq!(lay.unsolved(), Some(Unsolved::Crowded), "{repeat:?}");
        assert!(!lay.said().settled);
    }
}

/// A thread that waits at the side for a row that comes from the other leaves a hole there, though it
/// turns back nowhere.
#[test]
fn a_straight_thread_that_waits_leaves_a_hole() {
    let waits = Columns::whole(6, vec![1, 5, 4, 3, 2]);
    assert!(Lay::has_holes(&waits.fabric()));
    let slants = Columns::whole(6, vec![5, 4, 3, 2, 1]);
    assert!(!Lay::has_holes(&slants.fabric()));
}

/// On the lattice the longest open stretch is the loop at an edge, a half row high; where nothing turns
/// at an edge, there is none.
#[test]
fn on_the_lattice_only_loops_at_the_edges_are_open() {
    let gauge = Gauge::default();
    let open_mm = |columns: Vec<u16>| {
        let lay = Columns::whole(5, columns).lay();
        assert!(!lay.is_solved() && lay.unsolved().is_none());
        lay.said().longest_open_mm
    };
    near(open_mm(course(5).repeat(3)), gauge.half_row_mm, 1e-3);
    near(open_mm(course(5)), 0.0, 0.0);
}

/// Parts that nothing joins grow each by itself; the band grows as that which grows most, at
/// whichever side it lies.
#[test]
fn parts_that_nothing_joins_make_a_band_as_long_as_the_longest() {
    let (fast, slow) = ([1, 2, 3, 3, 2, 1].repeat(2), vec![5, 6, 7, 7, 6, 5]);
    let columns = [fast, slow].concat();
    let other: Vec<u16> = columns.iter().map(|column| 8 - column).collect();
    for columns in [columns, other] {
        let lay = Columns::repeat(8, &columns, 40).lay();
        let knot_mm = Gauge::default().knot_mm();
        near(lay.repeat_mm().expect("it is soft"), 4.0 * knot_mm, 1e-3);
        near(lay.length_knots(), 159.0, 1e-2);
    }
}

/// Pins keep the middle of a band that bends as long as it is, and leave a band alone that only steps
/// to and fro.
#[test]
fn pinned_straight_a_band_keeps_its_length_and_its_steps() {
    let bends = Columns::repeat(10, &LEADER_BESIDE_COURSES, 20);
    let (fabric, lay) = (bends.fabric(), bends.lay());
    assert!(lay.bend().is_some());
    let pinned = lay.straightened(&fabric);
    assert!(pinned.bend().is_none());
    near(pinned.length_mm(), lay.length_mm(), 0.0);
    let steps = [right(10).repeat(3), left(10).repeat(3)].concat();
    let steps = Columns::repeat(10, &steps, 6);
    let (fabric, lay) = (steps.fabric(), steps.lay());
    assert!(lay.is_solved() && lay.bend().is_none());
    let pinned = lay.straightened(&fabric);
    assert!(lay.knots(&fabric).eq(pinned.knots(&fabric)));
}
