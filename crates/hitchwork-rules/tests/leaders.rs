//! Rows over a leader: where the threads go, what shows, how the rows lie, and what they
//! compose with; each worked out by hand or held by a law.

use hitchwork_core::band::Band;
use hitchwork_core::lay::LaySaid;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Made, Rules, Settings};

fn try_make(script: &str) -> Result<Made, String> {
    let rules = Rules::new();
    let rule = rules.compile("quay", script);
    rule.and_then(|rule| rules.make(&rule, &Settings::new()))
        .map_err(|error| error.render(false))
}

fn made(script: &str) -> Band {
    try_make(script)
        .unwrap_or_else(|error| panic!("{script}\n{error}"))
        .band
}

fn rows(threads: u16, rows: &str) -> Vec<Row> {
    made(&format!("band({threads}).repeat({rows})"))
        .repeat()
        .to_vec()
}

/// For each row of the first repeat, which thread shows in each of its columns, from the left.
fn shown(threads: u16, rows: &str) -> Vec<Vec<u16>> {
    shown_in(&made(&format!("band({threads}).repeat({rows})")))
}

fn shown_in(band: &Band) -> Vec<Vec<u16>> {
    let tied = Tied::of(band.clone());
    let tied_rows = tied.fabric().first_repeat().rows();
    let in_row = |row: hitchwork_core::fabric::TiedRow| {
        let mut knots: Vec<_> = row
            .knots
            .iter()
            .map(|knot| (knot.column, knot.working.number()))
            .collect();
        knots.sort_by_key(|(column, _)| *column);
        knots.into_iter().map(|(_, thread)| thread).collect()
    };
    tied_rows.into_iter().map(in_row).collect()
}

/// The threads by position after one repeat.
fn order(threads: u16, rows: &str) -> Vec<u16> {
    let band = made(&format!("band({threads}).repeat({rows})"));
    Tied::of(band).report().order_after_repeat.clone()
}

fn lay_of(script: &str) -> LaySaid {
    Tied::of(made(script)).lay().said().clone()
}

fn built_in(name: &str, settings: &[(&str, &str)]) -> Tied {
    let rules = Rules::new();
    let rule = rules.built_in(name).expect("listed");
    let with = |set: Settings, (name, value): &(&str, &str)| set.set(*name, *value);
    let settings = settings.iter().fold(Settings::new().length_mm(30.0), with);
    let made = rules.make(&rule, &settings);
    Tied::of(made.unwrap_or_else(|error| panic!("{name}:\n{error}")).band)
}

/// One thread goes across, and each of the others moves one place to meet it.
#[test]
fn a_leader_goes_across_and_comes_back() {
    for threads in 2..=40 {
        let there = format!("leader_right(1..{threads})");
        let back = format!("leader_left(1..{threads})");
        let right: Vec<u16> = (2..=threads).chain([1]).collect();
        let left: Vec<u16> = [threads].into_iter().chain(1..threads).collect();
        let still: Vec<u16> = (1..=threads).collect();
        for shows in ["", ".leader_shows()"] {
            assert_eq!(order(threads, &format!("{there}{shows}")), right);
            assert_eq!(order(threads, &format!("{back}{shows}")), left);
            let both = format!("[{there}{shows}, {back}{shows}]");
            assert_eq!(order(threads, &both), still, "{both}");
        }
    }
}

/// Four threads, the first of which leads.
#[test]
fn the_others_show_unless_the_leader_does() {
    let there_and_back = "[leader_right(1..4), leader_left(1..4)]";
    assert_eq!(shown(4, there_and_back), [[2, 3, 4], [2, 3, 4]]);
    let shows = |what: &str| shown(4, &format!("{there_and_back}{what}"));
    assert_eq!(shows(".leader_shows()"), [[1, 1, 1], [1, 1, 1]]);
    assert_eq!(shows(".leader_shows(2)"), [[2, 1, 4], [2, 1, 4]]);
    assert_eq!(shows(".leader_shows([1, 3])"), [[1, 3, 1], [1, 3, 1]]);
    assert_eq!(shows(".leader_shows(1..=3)"), [[1, 1, 1], [1, 1, 1]]);
    // Said twice it is still so, and what it does can be said in single knots.
    assert_eq!(
        shows(".leader_shows(2).leader_shows(2)"),
        [[2, 1, 4], [2, 1, 4]]
    );
    assert_eq!(
        shows(".leader_shows().leader_shows()"),
        [[1, 1, 1], [1, 1, 1]]
    );
    // There and back may be one row.
    assert_eq!(
        rows(4, "(leader_right(1..4) + leader_left(1..4)).leader_shows()"),
        rows(4, "forward(1..4) + backward(1..4)")
    );
    assert_eq!(
        rows(4, "leader_right(1..4).leader_shows(2)"),
        rows(4, "backward([1]) + forward(2) + backward(3)")
    );
    assert_eq!(
        rows(4, "leader_right(1..4).leader_shows()"),
        rows(4, "forward(1..4)")
    );
    assert_eq!(
        rows(4, "leader_left(1..4).leader_shows()"),
        rows(4, "backward(1..4)")
    );
}

/// Two threads have one column, in which nothing says where the leader comes from.
#[test]
fn a_knot_by_itself_hides_its_leader_until_it_shows() {
    assert_eq!(shown(2, "leader_right(1)"), [[2]]);
    assert_eq!(shown(2, "leader_left(1)"), [[1]]);
    assert_eq!(shown(2, "leader_right(1).leader_shows()"), [[1]]);
    assert_eq!(shown(2, "leader_left(1).leader_shows(1)"), [[2]]);
}

/// Worked by hand on four threads. The first leader stays at position 3, beside thread 4,
/// which leads back; that one stays at position 2, beside thread 2.
#[test]
fn another_leader_takes_over_at_the_edge() {
    let there = "leader_right(1..4).leader_changes(3)";
    let back = "leader_left(1..4).leader_changes(1)";
    assert_eq!(order(4, there), [2, 3, 1, 4]);
    assert_eq!(shown(4, there), [[2, 3, 4]]);
    assert_eq!(order(4, &format!("[{there}, {back}]")), [2, 4, 3, 1]);
    let third = format!("[{there}, {back}, leader_right(1..4)].leader_shows()");
    assert_eq!(shown(4, &third), [[1, 1, 1], [4, 4, 4], [2, 2, 2]]);
    // It does not matter which of the two is said first.
    assert_eq!(
        rows(4, "leader_right(1..4).leader_shows().leader_changes(3)"),
        rows(4, &format!("{there}.leader_shows()"))
    );
}

/// Thread 1 stays at position 3; thread 4, which it meets there, leads on.
#[test]
fn another_leader_takes_over_on_the_way() {
    let row = "leader_right(1..6).leader_changes(3)";
    assert_eq!(order(6, row), [2, 3, 1, 5, 6, 4]);
    assert_eq!(shown(6, row), [[2, 3, 4, 5, 6]]);
    assert_eq!(
        shown(6, &format!("{row}.leader_shows()")),
        [[1, 1, 1, 4, 4]]
    );
    // Seen in a mirror: thread 6 stays at position 4, and thread 3 leads on.
    let mirrored = "leader_left(1..6).leader_changes(3).leader_shows()";
    assert_eq!(order(6, mirrored), [3, 1, 2, 6, 4, 5]);
    assert_eq!(shown(6, mirrored), [[3, 3, 6, 6, 6]]);
}

/// Two leaders in one row: each is read from the order in which its own knots are tied.
#[test]
fn leaders_from_both_edges_meet_in_the_middle() {
    let out = "leader_left(4..6) + leader_right(1..=3).leader_changes(3)";
    let home = "leader_left(1..=3).leader_changes(3) + leader_right(4..6)";
    let both = format!("[{out}, {home}]");
    assert_eq!(order(6, &both), [1, 2, 3, 4, 5, 6]);
    assert_eq!(shown(6, &both), [[2, 3, 6, 4, 5], [2, 3, 1, 4, 5]]);
    assert_eq!(
        shown(
            6,
            &format!("[({out}).leader_shows(), ({home}).leader_shows()]")
        ),
        [[1, 1, 1, 6, 6], [1, 1, 6, 6, 6]]
    );
}

/// A picture of which no row and no column is like another.
fn spray(row: usize, column: usize) -> bool {
    (row * row * 5 + column * 7 + row * column) % 11 < 5
}

/// Apart from the leader, each thread keeps to its column, there and back.
#[test]
fn leader_rows_show_the_picture_that_the_function_paints() {
    for threads in [2, 3, 5, 12, 31] {
        for count in [1, 2, 7] {
            let picture = format!(
                "leader_rows({threads}, {count}, |row, column| (row * row * 5 + column * 7 + row * column) % 11 < 5)"
            );
            let shown = shown(threads, &picture);
            assert_eq!(shown.len(), count);
            for (row, threads_shown) in (1..).zip(shown) {
                let expected = (1..usize::from(threads)).map(|column| {
                    let thread = if spray(row, column) { 1 } else { column + 1 };
                    u16::try_from(thread).expect("few")
                });
                assert_eq!(
                    threads_shown,
                    expected.collect::<Vec<_>>(),
                    "{picture}, row {row}"
                );
            }
        }
    }
}

#[test]
fn leader_rows_are_leader_right_and_leader_left_in_turn() {
    assert_eq!(
        rows(7, "leader_rows(7, 3, |row, column| row == 2 && column > 3)"),
        rows(
            7,
            "[leader_right(1..7), leader_left(1..7).leader_shows(4..7), leader_right(1..7)]"
        )
    );
    assert!(shown(7, "leader_rows(7, 0, |row, column| true) + [forward(1..7)]").len() == 1);
}

/// In a mirror, right is left.
#[test]
fn rows_over_a_leader_compose_as_all_rows_do() {
    for (one, other) in [
        ("leader_right(1..9).mirrored(9)", "leader_left(1..9)"),
        ("leader_right(2..5).mirrored(9)", "leader_left(5..8)"),
        (
            "leader_right(1..9).leader_shows(1..4).mirrored(9)",
            "leader_left(1..9).leader_shows(6..9)",
        ),
        (
            "leader_right(1..9).leader_changes(8).mirrored(9)",
            "leader_left(1..9).leader_changes(1)",
        ),
        ("leader_right(1..9).upside_down()", "leader_left(1..9)"),
        ("leader_right(1..9).half_turned(9)", "leader_right(1..9)"),
        (
            "leader_right(1..9).inverted()",
            "leader_right(1..9).leader_shows()",
        ),
        ("leader_right(1..4).shift(3)", "leader_right(4..7)"),
        ("leader_right([3, 1, 2])", "leader_right(1..4)"),
        ("leader_left([3, 1, 2])", "leader_left(1..4)"),
        ("leader_right(4)", "leader_right(4..5)"),
        (
            "leader_right(1..5).but(forward(2))",
            "leader_right(1..5).leader_shows(2)",
        ),
        (
            "leader_right(1..9).mirrored(9).leader_shows(7)",
            "leader_left(1..9).leader_shows(7)",
        ),
    ] {
        assert_eq!(rows(9, one), rows(9, other), "{one}");
    }
    let half = "let half = [leader_right(1..4), leader_left(1..4)];";
    let beside =
        format!("{half} band(8).repeat(beside(half, 4, half.mirrored(4), forward_backward(4)))");
    let lay = lay_of(&beside);
    let report = Tied::of(made(&beside)).report().clone();
    assert_eq!(report.knots_by_column, [2; 7]);
    assert_eq!(report.repeats_to_close, 1);
    assert!(lay.settled && lay.energy_per_knot < 0.15);
    let drift = "band(8).repeat(leader_right(1..8)).drift(gradient(\"spring tide\", 8))";
    let report = Tied::of(made(drift)).report().clone();
    assert_eq!(report.drift.expect("it drifts").colours, 8);
}

/// m rows over n threads are n - 2 knots wide and m - 1 long between centres, at rest: design
/// of the model, and a ruler at the table.
#[test]
fn straight_rows_lie_straight_and_close_whoever_leads_and_whatever_shows() {
    for threads in [3, 4, 7, 24] {
        for row in [
            "[leader_right(1..n), leader_left(1..n)]",
            "[leader_right(1..n), leader_left(1..n)].leader_shows()",
            "[leader_right(1..n).leader_changes(n - 1), leader_left(1..n).leader_changes(1)]",
            "leader_rows(n, 2, |row, column| column % 2 == row % 2)",
        ] {
            let lay = lay_of(&format!(
                "let n = {threads}; band(n).repeat({row}).repeats(6)"
            ));
            assert!(lay.solved && lay.settled, "{threads}: {row}");
            assert!(lay.energy_per_knot < 1e-6, "{threads}: {row}: {lay:?}");
            near(lay.width_knots, f64::from(threads) - 2.0, 1e-3, row);
            near(lay.length_knots, 11.0, 1e-3, row);
        }
    }
}

#[track_caller]
fn near(found: f64, expected: f64, within: f64, what: &str) {
    assert!(
        (found - expected).abs() <= within,
        "{what}: {found}, and not {expected} within {within}"
    );
}

#[test]
fn what_cannot_be_led_is_refused_at_its_line() {
    for (line, code, said) in [
        (
            "leader_right([1, 2, 4])",
            "wrong-value",
            "a leader cannot pass from column 2 to column 4",
        ),
        (
            "leader_left([2, 2])",
            "wrong-value",
            "a leader cannot pass from column 2 to column 2",
        ),
        ("leader_right(0..3)", "wrong-value", "there is no column 0"),
        (
            "leader_right(\"1\")",
            "wrong-arguments",
            "columns cannot be",
        ),
        (
            "leader_right(1..6).leader_shows(6)",
            "wrong-value",
            "the row has no knot in column 6",
        ),
        (
            "leader_right(2..6).leader_changes(1)",
            "wrong-value",
            "they lie between 2 and 5",
        ),
        (
            "leader_right(3).leader_changes(0)",
            "wrong-value",
            "only a knot in column 3",
        ),
        (
            "no_knots().leader_shows(1)",
            "wrong-value",
            "no knots at all",
        ),
        (
            "leader_rows(6, 2, |row, column| column)",
            "wrong-arguments",
            "for row 1, column 1",
        ),
        (
            "[leader_right(1..6), leader_right(2..6)].leader_shows([5, 1])",
            "wrong-value",
            "the row has no knot in column 1",
        ),
        (
            "leader_rows(1, 2, |row, column| true)",
            "wrong-value",
            "2 to 200 threads",
        ),
        (
            "leader_rows(6, -1, |row, column| true)",
            "wrong-value",
            "-1 rows",
        ),
    ] {
        let error = try_make(&format!(
            "let n = 6;\nlet row = {line};\nband(n).repeat(row)"
        ));
        let error = error.expect_err(line);
        for part in [code, said, "quay:2:"] {
            assert!(error.contains(part), "{line} does not say {part}:\n{error}");
        }
    }
    // No columns are no knots, as with all rows.
    assert_eq!(
        rows(6, "leader_right(3..3) + forward(1..6)"),
        rows(6, "forward(1..6)")
    );
}

/// Every knot of a row that a picture painted knows the line that asked for it.
#[test]
fn findings_point_at_the_line_of_the_row() {
    let script = "let n = 6;\nlet there = leader_right(1..n);\nlet back = leader_rows(n, 2, |row, column| true)[1];\nband(n).repeat([there, back.leader_shows(), there.leader_changes(2), back])";
    let band = made(script);
    let lines = |row: &Row| {
        let places = row
            .knots()
            .iter()
            .map(|knot| knot.place().map(|place| place.line));
        places.collect::<Vec<_>>()
    };
    let all: Vec<_> = band.repeat().iter().map(lines).collect();
    assert_eq!(
        all,
        [
            vec![Some(2); 5],
            vec![Some(3); 5],
            vec![Some(2); 5],
            vec![Some(3); 5]
        ]
    );
}

/// Rules whose rows all lie over leaders from edge to edge: their rows count off the length.
#[test]
fn straight_rules_are_as_wide_and_as_long_as_counted() {
    for (name, settings) in [
        ("ebb_lines", vec![]),
        ("ebb_lines", vec![("threads", "5"), ("sand", "0")]),
        (
            "ebb_lines",
            vec![("threads", "30"), ("line", "4"), ("sand", "8")],
        ),
        ("harbour_wall", vec![]),
        ("harbour_wall", vec![("threads", "6"), ("height", "1")]),
        (
            "harbour_wall",
            vec![("threads", "30"), ("height", "6"), ("width", "8")],
        ),
    ] {
        let tied = built_in(name, &settings);
        let (lay, rows) = (tied.lay().said(), rows_of(&tied));
        assert!(
            lay.settled && lay.energy_per_knot < 1e-6,
            "{name} {settings:?}: {lay:?}"
        );
        let threads = f64::from(tied.band().thread_count());
        near(lay.width_knots, threads - 2.0, 1e-3, name);
        near(lay.length_knots, rows - 1.0, 1e-2, name);
    }
}

fn rows_of(tied: &Tied) -> f64 {
    tied.report().rows_per_repeat as f64 * f64::from(tied.band().repeats())
}

/// Each step but the first of a rise lies one knot further out.
#[test]
fn a_swell_is_wider_by_its_steps() {
    for (threads, steps, tread) in [
        (6, 2, 1),
        (6, 3, 3),
        (12, 6, 1),
        (12, 6, 2),
        (16, 8, 3),
        (24, 8, 1),
    ] {
        let settings = [
            ("threads", &*threads.to_string()),
            ("steps", &*steps.to_string()),
            ("tread", &*tread.to_string()),
        ];
        let tied = built_in("swell", &settings);
        let lay = tied.lay().said();
        assert!(
            lay.settled && lay.energy_per_knot < 1e-6,
            "{settings:?}: {lay:?}"
        );
        assert_eq!(rows_of(&tied) % f64::from(2 * steps * (2 * tread - 1)), 0.0);
        near(
            lay.width_knots,
            f64::from(threads - 2 + steps - 1),
            1e-2,
            "swell",
        );
        near(lay.length_knots, rows_of(&tied) - 1.0, 1e-2, "swell");
    }
}

/// Eight threads: the leaders 1, 2, 3 and back again; and thread 1 hidden by all others.
#[test]
fn the_stripes_of_a_swell_run_as_they_are_chosen() {
    let across = built_in(
        "swell",
        &[("threads", "8"), ("steps", "3"), ("stripes", "across")],
    );
    let expected: Vec<Vec<u16>> = [1, 2, 3, 3, 2, 1].map(|leader| vec![leader; 7]).to_vec();
    assert_eq!(shown_in(across.band()), expected);
    let along = built_in("swell", &[("threads", "8"), ("steps", "3")]);
    assert_eq!(
        shown_in(along.band()),
        [
            [2, 3, 4, 5, 6, 7, 8],
            [3, 4, 5, 6, 7, 8, 1],
            [4, 5, 6, 7, 8, 1, 2],
            [4, 5, 6, 7, 8, 1, 2],
            [3, 4, 5, 6, 7, 8, 1],
            [2, 3, 4, 5, 6, 7, 8],
        ]
    );
}

/// Six threads, lines of one row and sand of two: those of threads 1, 6 and 2 in turn, and
/// beside the sand the leader that takes over.
#[test]
fn ebb_lines_have_three_leaders_or_two() {
    let three = built_in(
        "ebb_lines",
        &[("threads", "6"), ("line", "1"), ("sand", "2")],
    );
    assert_eq!(
        shown_in(three.band()),
        [
            [1, 1, 1, 1, 1],
            [2, 3, 4, 5, 1],
            [2, 3, 4, 5, 1],
            [6, 6, 6, 6, 6],
            [6, 3, 4, 5, 1],
            [6, 3, 4, 5, 1],
        ]
    );
    assert_eq!(three.report().order_after_repeat, [2, 6, 3, 4, 5, 1]);
    let two = built_in(
        "ebb_lines",
        &[("threads", "6"), ("line", "2"), ("sand", "0")],
    );
    let expected: Vec<Vec<u16>> = [1, 1, 2, 2].map(|leader| vec![leader; 5]).to_vec();
    assert_eq!(shown_in(two.band()), expected);
    assert_eq!(two.report().colour_repeats_to_close, 1);
}

/// Stones of two columns and one row between mortar, on seven threads: the joints of one course
/// lie in columns 3 and 6, those of the next in columns 2 and 5.
#[test]
fn the_joints_of_a_harbour_wall_change_from_course_to_course() {
    let wall = built_in(
        "harbour_wall",
        &[("threads", "7"), ("width", "2"), ("height", "1")],
    );
    assert_eq!(
        shown_in(wall.band()),
        [
            [2, 3, 1, 5, 6, 1],
            [1, 1, 1, 1, 1, 1],
            [2, 1, 4, 5, 1, 7],
            [1, 1, 1, 1, 1, 1],
        ]
    );
}

/// How far apart the outermost knots of two rows next to each other lie, in knots: in the middle
/// repeat, since bands that bend a little lie further aside from repeat to repeat.
fn width_at(tied: &Tied, row: u32) -> f64 {
    let one = tied.report().knots_per_repeat;
    let middle = one * (tied.band().repeats() / 2) as usize;
    let knots = tied.lay().knots(tied.fabric());
    let across = knots
        .skip(middle)
        .take(one)
        .filter(|laid| (row..=row + 1).contains(&laid.knot.row))
        .map(|laid| laid.centre.across_mm);
    let ends = |(least, most): (f64, f64), across: f64| (least.min(across), most.max(across));
    let (least, most) = across.fold((f64::MAX, f64::MIN), ends);
    (most - least) / tied.lay().said().knot_mm
}

/// Rows over a leader are n - 2 knots wide and one high; courses, in which threads run along the
/// diagonal of a knot, only 1/sqrt(2) of that.
#[test]
fn a_billow_is_wide_where_its_rows_lie_over_a_leader() {
    for (threads, calm, breeze) in [(6, 6, 4), (10, 6, 4), (10, 12, 12), (16, 8, 8)] {
        let tied = built_in(
            "billow",
            &[
                ("threads", &threads.to_string()),
                ("calm", &calm.to_string()),
                ("breeze", &breeze.to_string()),
            ],
        );
        let lay = tied.lay().said();
        assert!(lay.settled && lay.energy_per_knot < 0.03, "{lay:?}");
        let (wide, diagonal) = (f64::from(threads) - 2.0, f64::sqrt(0.5));
        let of_calm = width_at(&tied, calm);
        near(of_calm, wide * diagonal, 0.08 * wide, "the calm");
        near(
            width_at(&tied, 2 * calm + breeze),
            wide,
            0.03 * wide,
            "the breeze",
        );
        let widest = tied.lay().greatest_width_mm() / lay.knot_mm;
        near(
            widest,
            wide + 1.0,
            0.03 * wide + 0.2,
            "the widest, from outside to outside",
        );
        let one = 2.0 * (f64::from(calm) * diagonal + f64::from(breeze));
        let length = one * f64::from(tied.band().repeats());
        near(lay.length_knots, length, 0.05 * length, "along");
    }
}

/// Mirrored, a rule of rows over a leader shows the same from the other side.
#[test]
fn mirrored_rules_make_mirrored_bands() {
    for name in ["ebb_lines", "swell", "billow", "harbour_wall"] {
        let tied = built_in(name, &[]);
        let threads = tied.band().thread_count();
        let mut mirrored = shown_in(tied.band());
        for row in &mut mirrored {
            row.reverse();
            for thread in row {
                *thread = threads + 1 - *thread;
            }
        }
        assert_eq!(shown_in(tied.mirrored().band()), mirrored, "{name}");
        let (one, other) = (tied.lay().said(), tied.mirrored().lay().said());
        near(other.width_knots, one.width_knots, 1e-3, name);
        near(other.length_knots, one.length_knots, 1e-3, name);
    }
}
