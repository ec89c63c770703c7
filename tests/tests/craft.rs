//! Laws of thread, ends and time that hold for any band, and what is refused.

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::compare::{COMPARED, Limit, compare};
use hitchwork_core::craft::{
    Count, CutList, Ease, End, Gauge, Habits, Pace, Shape, SkeinSize, Swatch, ThreadLength, Ties,
    Time, Yarn, folds, knotted_mm_for_wrist, shopping, time_words, wraps_mm,
};
use hitchwork_core::knot::Kind;
use hitchwork_core::measures::{MEASURES, Measure, MeasureValue};
use hitchwork_core::proof::Code;
use hitchwork_core::tied::Tied;
use hitchwork_tests::{by_chance, made};
use proptest::prelude::*;

fn lengths(band: &Band) -> Vec<ThreadLength> {
    made::tied(band).thread_lengths().to_vec()
}

fn list(band: &Band) -> CutList {
    made::tied(band).cut_list().clone()
}

fn with(band: &Band, change: impl FnOnce(&mut BandParts)) -> Band {
    let mut parts = band.clone().into_parts();
    change(&mut parts);
    Band::new(parts).expect("still a band")
}

fn in_knots(band: &Band) -> f64 {
    lengths(band)
        .iter()
        .map(|length| length.working + length.core)
        .sum()
}

fn close(one: f64, other: f64) -> bool {
    (one - other).abs() <= 1e-9 * one.abs().max(other.abs()).max(1.0)
}

/// The minutes in "2 h 10 min for the rows"; none in "less than a minute for the ties".
fn minutes_said(words: &str) -> u64 {
    let words: Vec<&str> = words.split(' ').collect();
    let before = |unit: &str| {
        let number = words.windows(2).find(|pair| pair[1] == unit);
        number.map_or(0, |pair| pair[0].parse().expect("a number"))
    };
    before("h") * 60 + before("min")
}

/// Worked by hand for eight threads, ten rows of seven knots, half triangles at both ends
/// and 30 seconds a knot. Two knots' time for each thread to cut and lay out: 16; the rows:
/// 70; seven at either end: 14; a braid is 15: 30. Together 130 knots, 65 minutes.
#[test]
fn the_time_of_a_small_band_by_hand() {
    let end = End {
        shape: Shape::HalfTriangleLeft,
        ties: Ties::Braided,
    };
    let band = made::band(8, vec![made::run(Kind::Forward, 1..8)], 10);
    let band = Band::new(BandParts {
        start: end,
        finish: end,
        ..band.into_parts()
    })
    .expect("a band");
    let habits = Habits {
        pace: Pace::new(30.0).expect("a pace"),
        ..Habits::default()
    };
    let time = Time::of(&band, &habits);
    assert_eq!(
        (time.laying_out, time.rows, time.ends, time.ties),
        // 8 threads of 24 s, 70 knots and 14 of the ends of 30 s, two ties of 180 s.
        (3.2, 35.0, 7.0, 6.0)
    );
    assert_eq!(time.minutes(), 51.0);
    assert_eq!(
        time.words(&band),
        "3 min to cut the threads and lay them out, 35 min for the rows, 7 min for the knots of both ends, and 6 min for the ties"
    );
    // Shown to five minutes, 67 are 65: 7.76, 34.93, 7.76 and 14.55 leave 3 to give.
    let of = |parts: [f64; 4]| {
        let mut other = time;
        [other.laying_out, other.rows, other.ends, other.ties] = parts;
        other
    };
    let longer = of([8.0, 36.0, 8.0, 15.0]);
    assert_eq!(
        longer.words(&band),
        "8 min to cut the threads and lay them out, 35 min for the rows, 8 min for the knots of both ends, and 14 min for the ties"
    );
    let quick = of([0.4, 3.0, 0.0, 0.2]);
    assert_eq!(
        quick.words(&band),
        "1 min to cut the threads and lay them out, 3 min for the rows, and less than a minute for the ties"
    );
}

/// The time of the ends is told of those ends that have knots or ties.
#[test]
fn the_time_of_the_ends_is_told_of_the_ends_that_have_it() {
    let stripe = made::band(8, vec![made::run(Kind::Forward, 1..8)], 10);
    let said = |start: (Shape, Ties), finish: (Shape, Ties)| {
        let end = |(shape, ties)| End { shape, ties };
        let band = Band::new(BandParts {
            start: end(start),
            finish: end(finish),
            ..stripe.clone().into_parts()
        })
        .expect("a band");
        Time::of(&band, &Habits::default()).words(&band)
    };
    let (flat, half) = (Shape::Flat, Shape::HalfTriangleLeft);
    let (braid, cut) = (Ties::Braided, Ties::Cut);
    for (start, finish, knots, ties) in [
        (
            (half, braid),
            (half, braid),
            "the knots of both ends",
            "for the ties",
        ),
        (
            (flat, braid),
            (half, braid),
            "the knots of the finish",
            "for the ties",
        ),
        (
            (half, braid),
            (flat, braid),
            "the knots of the start",
            "for the ties",
        ),
        (
            (half, cut),
            (flat, braid),
            "the knots of the start",
            "for the tie and for closing the other end",
        ),
        (
            (Shape::Loop, braid),
            (half, braid),
            "the knots of the finish",
            "for the tie and for closing the other end",
        ),
        (
            (half, cut),
            (half, cut),
            "the knots of both ends",
            "for closing both ends",
        ),
    ] {
        let words = said(start, finish);
        assert!(words.contains(knots) && words.ends_with(ties), "{words}");
    }
    let plain = said((flat, braid), (flat, braid));
    assert!(!plain.contains("the knots of"), "{plain}");
}

proptest! {
    #![proptest_config(by_chance::cases(120))]

    /// Every knot takes its wraps from one thread and its core from another, and nothing
    /// else takes any.
    #[test]
    fn thread_in_knots_is_conserved(band in by_chance::band()) {
        let gauge = band.gauge();
        #[allow(clippy::cast_precision_loss, reason = "a few hundred knots")]
        let knots = band.knot_count() as f64;
        let per_knot = wraps_mm(gauge.thread_mm, gauge.thread_mm) + gauge.knot_mm();
        prop_assert!(close(in_knots(&band), knots * per_knot));
    }

    /// What a band takes in its knots is what its parts take.
    #[test]
    fn thread_in_knots_is_additive_over_rows(band in by_chance::band()) {
        let alone = |part: Part| {
            let rows = band.rows(part).to_vec();
            if rows.is_empty() {
                return 0.0;
            }
            let repeats = if part == Part::Repeat { band.repeats() } else { 1 };
            in_knots(&with(&band, |parts| {
                (parts.lead_in, parts.lead_out) = (Vec::new(), Vec::new());
                (parts.repeat, parts.repeats) = (rows, repeats);
            }))
        };
        let parts = alone(Part::LeadIn) + alone(Part::Repeat) + alone(Part::LeadOut);
        prop_assert!(close(in_knots(&band), parts));
    }

    /// The other hand takes the same thread, position for position.
    #[test]
    fn the_other_hand_takes_the_same_thread(band in by_chance::lavish_band()) {
        let mut mirrored = lengths(&band.mirrored());
        mirrored.reverse();
        // To the millionth: sums are taken from the left on either hand.
        for (one, other) in lengths(&band).iter().zip(&mirrored) {
            let (one_mm, other_mm) = (one.total(), other.total());
            prop_assert!((one_mm - other_mm).abs() <= 1e-6 * one_mm.max(1.0), "{one:?} {other:?}");
        }
    }

    /// Each repeat after the first takes as much in its knots as the one before.
    #[test]
    fn thread_in_knots_is_linear_in_repeats(band in by_chance::band()) {
        let at = |repeats| in_knots(&with(&band, |parts| parts.repeats = repeats));
        let (one, two, five) = (at(1), at(2), at(5));
        prop_assert!(close(five - one, 4.0 * (two - one)));
    }

    /// A band of thread twice as thick is twice as large and takes twice the thread in its
    /// rows; so do its bundle knots, and only ties and loops stay as long.
    #[test]
    fn thread_scales_with_its_diameter(band in by_chance::lavish_band(), factor in 0.5..2.0) {
        let sized = |mm: f64| with(&band, |parts| {
            parts.gauge = Gauge::from_diameter(mm).expect("an ordinary thread");
            (parts.start.ties, parts.finish.ties) = (Ties::Cut, Ties::Cut);
        });
        // Soft fabric comes to rest only nearly, and where it stops the last bit decides.
        let nearly = if made::tied(&band).lay().is_solved() { 1e-4 } else { 1e-6 };
        let same = |one: f64, other: f64| (one - other).abs() <= nearly * one.max(1.0);
        for (one, other) in lengths(&sized(0.6)).iter().zip(lengths(&sized(0.6 * factor))) {
            let (knotted, scaled) = (one.knotted() * factor, other.knotted());
            prop_assert!(same(knotted, scaled), "knotted {knotted} {scaled}");
            let end = |length: &ThreadLength| length.start.run + length.start.bundle_knot
                + length.finish.run + length.finish.bundle_knot + length.finish.gathering;
            let (ended, scaled) = (end(one) * factor, end(&other));
            prop_assert!(same(ended, scaled), "ends {ended} {scaled}");
        }
    }

    /// Nothing is cut too short, nor longer than a step too long; and every thread of the
    /// band comes from exactly one piece.
    #[test]
    fn the_cut_list_serves_every_thread_once(band in by_chance::lavish_band()) {
        let habits = Habits::default();
        let list = list(&band);
        for (cut, length) in list.thread_mm.iter().zip(lengths(&band)) {
            prop_assert!(*cut >= length.total() - 1e-6);
            prop_assert!(*cut < length.total() + habits.cutting_step_mm);
        }
        let mut threads: Vec<u16> = list.cuts.iter().flat_map(|cut| cut.threads.clone()).collect();
        threads.sort_unstable();
        prop_assert_eq!(threads, (1..=band.thread_count()).collect::<Vec<u16>>());
        let pieces: f64 = list.cuts.iter().map(|cut| cut.cut_mm * f64::from(u16::try_from(cut.pieces).expect("few"))).sum();
        prop_assert!(close(pieces, list.total_mm));
    }

    /// Skeins are never fewer than the thread fills, and k people need no more than k
    /// times what one needs.
    #[test]
    fn a_class_buys_enough_and_not_too_much(band in by_chance::lavish_band(), people in 1_u32..12) {
        let list = list(&band);
        let skein = SkeinSize { length_mm: 1_000_000.0, price: Some(2.0) };
        let one = shopping(&list, 1, skein).expect("long skeins");
        let class = shopping(&list, people, skein).expect("long skeins");
        #[allow(clippy::cast_precision_loss, reason = "a few skeins")]
        let bought = class.skeins as f64;
        prop_assert!(bought * skein.length_mm >= list.total_mm * f64::from(people) - 1e-3);
        prop_assert!(class.skeins <= one.skeins * people as usize);
        prop_assert_eq!(class.cost, Some(bought * 2.0));
    }

    /// An order can be had from folded threads exactly when every colour comes in pairs,
    /// and then each position has one other half of its own colour.
    #[test]
    fn folds_pair_equal_colours(colours in prop::collection::vec(0_u16..4, 2..14)) {
        let even = (0..4).all(|colour| colours.iter().filter(|other| **other == colour).count() % 2 == 0);
        match folds(&colours) {
            Ok(folds) => {
                prop_assert!(even);
                let mut met: Vec<u16> = folds.iter().flat_map(|fold| fold.halves).collect();
                met.sort_unstable();
                prop_assert_eq!(met, (1..).take(colours.len()).collect::<Vec<u16>>());
                let colour = |position: u16| colours[usize::from(position) - 1];
                prop_assert!(folds.iter().all(|fold| colour(fold.halves[0]) == colour(fold.halves[1])));
            }
            Err(_) => prop_assert!(!even),
        }
    }

    /// The parts of the difficulty add up to it, and none weighs more than two points.
    #[test]
    fn difficulty_adds_up(band in by_chance::band()) {
        let difficulty = made::tied(&band).difficulty().clone();
        let sum: f64 = difficulty.parts.iter().map(|part| part.points).sum();
        prop_assert!(close(sum, difficulty.points));
        prop_assert!(difficulty.parts.iter().all(|part| (0.0..=2.0).contains(&part.points)));
    }

    /// Time for the knots grows with the pace, in proportion; all else takes as long at any.
    #[test]
    fn only_knots_go_by_the_pace(band in by_chance::lavish_band(), seconds in 5.0..60.0) {
        let time = |pace| {
            let habits = Habits { pace: Pace::new(pace).expect("a pace"), ..Habits::default() };
            Tied::by(band.clone(), habits).report().time
        };
        let (one, two) = (time(seconds), time(2.0 * seconds));
        // Each is rounded to a tenth of a minute.
        prop_assert!((two.rows - 2.0 * one.rows).abs() <= 0.15001);
        prop_assert!((two.ends - 2.0 * one.ends).abs() <= 0.15001);
        prop_assert_eq!(two.laying_out, one.laying_out);
        prop_assert_eq!(two.ties, one.ties);
    }

    /// A measure has one value, whoever asks for it, in whatever order: conditions and tables,
    /// a report, a comparison.
    #[test]
    fn every_figure_has_one_value(band in by_chance::lavish_band()) {
        let (by_report, forwards, backwards) = (made::tied(&band), made::tied(&band), made::tied(&band));
        let report = by_report.report();
        let named: Vec<&str> = MEASURES.iter().map(|measure| measure.name).collect();
        for name in named.iter().rev() {
            let _ = backwards.measure(name);
        }
        let family = compare([()], |()| Ok::<_, hitchwork_core::Error>(band.clone()), by_report.habits(), &[]);
        let measured = family.members[0].outcome.measured().expect("a band");
        for name in &named {
            let value = forwards.measure(name);
            prop_assert_eq!(value, by_report.measure(name), "{}", name);
            prop_assert_eq!(value, backwards.measure(name), "{}", name);
            // What a band has no such thing of is left out of a comparison.
            let measure = Measure::named(name).expect("in the table");
            if COMPARED.contains(name) {
                prop_assert_eq!(measure.known(&forwards), measured.get(name), "{}", name);
            }
            let stands_in = [Some(MeasureValue::Number(-1.0)), Some(MeasureValue::Whole(-1))];
            prop_assert!(measure.known(&forwards).is_none() || !stands_in.contains(&value));
        }
        let whole = |count: usize| Some(MeasureValue::Whole(i64::try_from(count).expect("few")));
        prop_assert_eq!(forwards.measure("colours"), whole(report.colours));
        let changes = by_report.difficulty().parts.iter().find(|part| part.name == "changes");
        let counted = changes.expect("a part").because.split(' ').next().expect("a word");
        let measure = forwards.measure("working_changes");
        let too_late = measure == Some(MeasureValue::Whole(-1));
        prop_assert!(too_late || measure == whole(counted.parse().expect("a count")));
    }

    /// The longest piece and all thread are those of the cut list: at a loop start a piece is
    /// two threads long.
    #[test]
    fn figures_of_thread_are_those_of_the_cut_list(band in by_chance::lavish_band()) {
        let report = made::report(&band);
        let cuts = &report.cut_list.cuts;
        let longest = cuts.iter().map(|cut| cut.cut_mm).fold(0.0, f64::max);
        let all: f64 = cuts.iter().map(|cut| cut.cut_mm * f64::from(u32::try_from(cut.pieces).expect("few"))).sum();
        let number = |name: &str| match made::tied(&band).measure(name) {
            Some(MeasureValue::Number(number)) => number,
            other => panic!("{name}: {other:?}"),
        };
        prop_assert!((number("longest_cm") * 10.0 - longest).abs() <= 0.5);
        prop_assert!((number("thread_m") * 1000.0 - all).abs() <= 5.0001);
    }

    /// What is said of the time on the sheet, part by part, adds up to the whole that is said.
    #[test]
    fn the_parts_of_the_time_add_up(band in by_chance::lavish_band(), seconds in 2.0..90.0) {
        let habits = Habits { pace: Pace::new(seconds).expect("a pace"), ..Habits::default() };
        let tied = Tied::by(band, habits);
        let report = tied.report();
        let time = report.time;
        let sum = time.laying_out + time.rows + time.ends + time.ties;
        prop_assert!((sum - report.minutes).abs() <= 0.5 + 1e-9, "{time:?}");
        let words = time.words(tied.band());
        let parts: u64 = words.split(", ").map(minutes_said).sum();
        prop_assert_eq!(parts, minutes_said(&time_words(report.minutes)), "{}", words);
        // The sheet says these very words.
        prop_assert!(tied.steps().measures.iter().any(|said| said.contains(&words)));
    }

    /// A swatch that was tied by the model fits the model.
    #[test]
    fn a_swatch_of_the_model_is_the_model(mm in 0.2..3.0, columns in 4_u32..40, half_rows in 4_u32..80) {
        let gauge = Gauge::from_diameter(mm).expect("an ordinary thread");
        let per_knot = wraps_mm(mm, mm) + gauge.knot_mm();
        let swatch = Swatch {
            columns,
            width_mm: gauge.column_mm * f64::from(columns + 1),
            half_rows,
            length_mm: gauge.half_row_mm * f64::from(half_rows),
            thread_used: Some((100, per_knot * 100.0)),
        };
        prop_assume!(swatch.width_mm >= 1.0 && swatch.length_mm >= 1.0);
        let fit = swatch.fit(Some(mm)).expect("consistent");
        prop_assert!(close(fit.gauge.column_mm, gauge.column_mm));
        prop_assert!(close(fit.gauge.take_up, 1.0));
    }
}

/// A half triangle start: the first thread brought out goes round all the others, the last
/// ties none, and a bundle knot grows with the root of what is inside.
#[test]
fn bundle_knots_shrink_with_the_bundle() {
    let rows = made::slanted_with_turns(9, &[3]);
    let band = with(&made::band(9, rows, 20), |parts| {
        parts.start = End {
            shape: Shape::HalfTriangleLeft,
            ties: Ties::Braided,
        };
    });
    let knots: Vec<f64> = lengths(&band)
        .iter()
        .map(|length| length.start.bundle_knot)
        .collect();
    assert!(knots.is_sorted_by(|a, b| a > b), "{knots:?}");
    assert_eq!(knots[8], 0.0);
    let mm = band.gauge().thread_mm;
    assert!(
        (knots[4] - wraps_mm(2.0 * mm, mm)).abs() < 1e-9,
        "four threads are twice as thick as one"
    );
}

/// One thread that ties every knot needs several times what the others need, and says so.
#[test]
fn a_thread_that_does_all_the_work_is_named() {
    let rows = vec![
        made::run(Kind::Forward, 1..6),
        made::run(Kind::Backward, (1..6).rev()),
    ];
    let report = made::report(&made::band(6, rows, 60));
    let far = report
        .findings
        .iter()
        .find(|finding| finding.code == Code::FarLongerThread);
    let far = far.expect("thread 1 ties all knots");
    assert_eq!(far.place.thread, Some(1));
    assert!(
        far.message
            .contains("wraps in 600 knots, the others mostly in 0"),
        "{}",
        far.message
    );
    assert!(
        report
            .findings
            .iter()
            .any(|finding| finding.code == Code::Tangles)
    );
}

fn far_longer(band: &Band) -> (Option<u16>, String) {
    let report = made::report(band);
    let mut findings = report.findings.into_iter();
    let far = findings.find(|finding| finding.code == Code::FarLongerThread);
    let far = far.expect("some thread is far longer");
    (far.place.thread, far.message)
}

/// Where several need far more, nobody reads one's share as that of all: the least and the most
/// are said, as the cut list has them.
#[test]
fn of_several_long_threads_the_least_and_the_most_are_said() {
    let rows = vec![
        made::run(Kind::Forward, 1..6),
        made::run(Kind::Backward, (1..6).rev()),
        made::run(Kind::Backward, [7, 6]),
        made::run(Kind::Forward, [6, 7]),
    ];
    for mirrored in [false, true] {
        let band = made::band(8, rows.clone(), 40);
        let band = if mirrored { band.mirrored() } else { band };
        let (thread, message) = far_longer(&band);
        assert_eq!(thread, Some(if mirrored { 8 } else { 1 }), "{message}");
        let said = message.strip_prefix("threads 1, 8 need ").expect("both");
        let said = said.split(" times").next().expect("a share");
        let (least, most) = said.split_once(" to ").expect("two shares");
        let mut cut: Vec<f64> = made::report(&band)
            .thread_use
            .iter()
            .map(|uses| uses.cut_mm)
            .collect();
        cut.sort_by(f64::total_cmp);
        for (said, mm) in [(least, cut[6]), (most, cut[7])] {
            let said: f64 = said.parse().expect("a number");
            // The list rounds up to what is cut.
            assert!(
                (said / (mm / cut[4]) - 1.0).abs() < 0.12,
                "{message} {cut:?}"
            );
        }
    }
}

/// A leader that is hidden wraps nowhere: it is long because it runs to and fro through every knot.
#[test]
fn a_hidden_leader_is_long_because_it_runs_through_every_knot() {
    let rows = vec![
        made::run(Kind::Backward, 1..12),
        made::run(Kind::Forward, (1..12).rev()),
    ];
    let (thread, message) = far_longer(&made::band(12, rows, 60));
    assert_eq!(thread, Some(1));
    let why = "thread 1 runs through 1320 knots, the others mostly through 120";
    assert!(message.contains(why), "{message}");
}

#[test]
fn a_loop_start_folds_pieces_between_unlike_halves() {
    let rows = vec![made::run(Kind::Forward, 1..4)];
    let band = with(&made::band(4, rows, 30), |parts| {
        parts.threads = vec![0, 1, 1, 0];
        parts.start.shape = Shape::Loop;
    });
    let list = list(&band);
    assert_eq!(list.cuts.iter().map(|cut| cut.pieces).sum::<usize>(), 2);
    for cut in &list.cuts {
        let [left, right] = cut.threads.as_slice() else {
            panic!("a folded piece makes two threads: {cut:?}");
        };
        let of = |number: u16| list.thread_mm[usize::from(number) - 1];
        assert_eq!(cut.cut_mm, of(*left) + of(*right));
        assert_eq!(cut.fold_mm, Some(of(*left)));
    }
}

/// Zero, negative, infinite and absurd sizes are refused, and the range is said.
#[test]
fn absurd_sizes_are_refused_with_their_range() {
    let absurd = [0.0, -1.0, f64::NAN, f64::INFINITY, 1e300];
    let said = |outcome: Result<String, hitchwork_core::Error>| {
        let error = outcome.expect_err("absurd");
        assert!(error.is_craft(), "{error}");
        assert!(error.help().is_some(), "{error}");
        error.to_string()
    };
    for value in absurd {
        let refusals = [
            said(Yarn::of_diameter(value).map(|yarn| format!("{yarn:?}"))),
            said(Yarn::of_count(Count::Cotton, value).map(|yarn| format!("{yarn:?}"))),
            said(Gauge::from_diameter(value).map(|gauge| format!("{gauge:?}"))),
            said(Pace::new(value).map(|pace| format!("{pace:?}"))),
            said(knotted_mm_for_wrist(value, Ease::default()).map(|mm| mm.to_string())),
        ];
        for refusal in refusals {
            assert!(refusal.contains(" to "), "{refusal}");
            assert!(refusal.len() < 200, "{refusal}");
        }
    }
    for tie_mm in [-1.0, f64::NAN, f64::INFINITY] {
        said(
            Habits {
                tie_mm,
                ..Habits::default()
            }
            .checked()
            .map(|habits| format!("{habits:?}")),
        );
    }
    let small = made::band(3, vec![made::run(Kind::Forward, 1..3)], 5);
    for people in [0, 1_000_000] {
        said(shopping(&list(&small), people, SkeinSize::default()).map(|list| format!("{list:?}")));
    }
    let short = SkeinSize {
        length_mm: 200.0,
        price: None,
    };
    assert!(
        said(shopping(&list(&small), 1, short).map(|list| format!("{list:?}")))
            .contains("takes a piece of")
    );
}

#[test]
fn a_gap_longer_than_the_band_is_refused() {
    let ease = Ease {
        ease_mm: 10.0,
        tie_gap_mm: 200.0,
    };
    let error = knotted_mm_for_wrist(150.0, ease).expect_err("nothing to knot");
    assert!(
        error
            .to_string()
            .contains("the ends alone are longer than the band"),
        "{error}"
    );
}

#[test]
fn a_swatch_that_contradicts_itself_is_refused() {
    let contradictions = [
        ("11:12.5,40:142", None),
        ("11:12.5,40:12", None),
        ("11:12.5,40:42", Some(3.0)),
        ("11:12.5,40:42", Some(0.1)),
        ("11:12.5,40:42,300:27000", None),
        ("11:12.5,40:42,300:270", None),
    ];
    for (text, thread_mm) in contradictions {
        let swatch: Swatch = text.parse().expect("readable");
        let error = swatch.fit(thread_mm).expect_err(text);
        assert!(error.to_string().contains("contradicts"), "{text}: {error}");
    }
    for text in [
        "",
        "12",
        "12:x,4:5",
        "0:12.5,40:42",
        "12:0,40:42",
        "12:inf,40:42",
        "1:2,3:4,5:6,7:8",
    ] {
        let refused = text.parse::<Swatch>().and_then(|swatch| swatch.fit(None));
        assert!(refused.is_err(), "{text}");
    }
}

/// 12 threads of ordinary floss lie 12.5 mm wide, which is 1.25 cm.
#[test]
fn a_swatch_in_centimetres_is_refused_and_one_of_sewing_thread_is_not() {
    for (text, what) in [("11:1.25,40:4.2", "column"), ("11:2.6,40:7", "half row")] {
        let swatch: Swatch = text.parse().expect("readable");
        let error = swatch.fit(None).expect_err(text);
        assert!(
            error
                .to_string()
                .contains("did you measure in centimetres?"),
            "{error}"
        );
        assert!(
            error.to_string().starts_with(&format!("a {what} of 0.1")),
            "{error}"
        );
    }
    let swatch: Swatch = "11:1.25,40:4.2".parse().expect("readable");
    let help = swatch.fit(None).expect_err("centimetres").help();
    assert!(help.expect("a help").ends_with("write 11:12.5,40:42"));
    // A thread of 0.2 mm: columns and half rows of 0.35 mm (two and a half diameters over the
    // root of two).
    let sewing: Swatch = "11:4.24,40:14.1".parse().expect("readable");
    let fit = sewing.fit(None).expect("thin, and a thread");
    assert!((fit.gauge.thread_mm - 0.2).abs() < 0.005, "{fit:?}");
}

/// 4 mm is the last that is not warned of.
#[test]
fn a_thread_thicker_than_any_cord_of_this_craft_is_warned_of() {
    let found = |thread_mm: f64| {
        let mut parts = made::band(4, vec![made::run(Kind::Forward, 1..4)], 8).into_parts();
        parts.gauge = Gauge::from_diameter(thread_mm).expect("a thread");
        let findings = made::report(&Band::new(parts).expect("a band")).findings;
        findings
            .iter()
            .any(|finding| finding.code == Code::ThickThread)
    };
    assert!(found(10.0) && found(4.1));
    assert!(!found(4.0) && !found(0.59));
}

#[test]
fn unreadable_threads_and_limits_say_what_there_is() {
    for text in [
        "", "0.6", "10", "rope", "0.6cm", "-2 tex", "tex", "0 ne", "nan mm",
    ] {
        assert!(text.parse::<Yarn>().is_err(), "{text}");
    }
    let error = "rope".parse::<Yarn>().expect_err("no class");
    assert!(
        error
            .help()
            .expect("a help")
            .contains("floss, perle, polyester, waxed")
    );
    for text in [
        "minutes",
        "minutes=soon",
        "minutes=inf",
        "time=3",
        "drifts=1",
        "knot_symmetry=2",
    ] {
        assert!(Limit::at_most(text).is_err(), "{text}");
    }
    // Whatever is a number can be bounded.
    for measure in MEASURES.iter().filter(|measure| measure.is_number()) {
        let limit = Limit::at_least(&format!("{}=3", measure.name)).expect("a number");
        assert_eq!(limit.to_string(), format!("{} at least 3", measure.name));
    }
    let error = Limit::at_least("time=3").expect_err("no such measure");
    assert!(
        error
            .help()
            .expect("a help")
            .contains("width_mm, length_mm")
    );
}
