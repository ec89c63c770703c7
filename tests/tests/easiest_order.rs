//! The easiest order of tying against all orders, one by one, and against a greedy hand.

use std::collections::BTreeSet;

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::chance::{Chance, Purpose, RandomRows};
use hitchwork_core::craft::{Difficulty, Habits};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::normal_form;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::by_chance;
use hitchwork_tests::made::colours;
use hitchwork_tests::naive::{Tie, ties};
use proptest::prelude::*;

/// How many knots of each column are tied.
type Heights = Vec<i64>;

/// The endless repeat, in which everything is found by looking at all its knots.
struct Endless {
    knots: Vec<Tie>,
    threads: usize,
}

impl Endless {
    fn of(band: &Band) -> Self {
        Self {
            knots: ties(band.repeat()),
            threads: usize::from(band.thread_count()),
        }
    }

    fn nothing(&self) -> Heights {
        vec![0; self.threads - 1]
    }

    fn in_column(&self, column: usize) -> Vec<usize> {
        let here = |at: &usize| self.knots[*at].column == column;
        (0..self.knots.len()).filter(here).collect()
    }

    fn later(&self, heights: &Heights) -> Heights {
        let more = |column: usize| self.in_column(column).len() as i64;
        (0..heights.len())
            .map(|column| heights[column] + more(column))
            .collect()
    }

    /// The next knot of a column, if all that are written before it beside it are tied.
    fn ready(&self, heights: &Heights, column: usize) -> Option<Tie> {
        let here = self.in_column(column);
        if here.is_empty() {
            return None;
        }
        let each = here.len() as i64;
        let (repeat, index) = (
            heights[column].div_euclid(each),
            heights[column].rem_euclid(each),
        );
        let written = here[usize::try_from(index).expect("a remainder")];
        for beside in [column.wrapping_sub(1), column + 1] {
            if beside >= self.threads - 1 {
                continue;
            }
            let there = self.in_column(beside);
            let before = there.iter().filter(|at| **at < written).count();
            if heights[beside] < repeat * there.len() as i64 + before as i64 {
                return None;
            }
        }
        Some(self.knots[written])
    }

    /// All that can be tied so far, those that are whole repeats apart told once.
    fn all_heights(&self) -> BTreeSet<Heights> {
        let told_once = |mut heights: Heights| {
            while heights.iter().sum::<i64>() >= self.knots.len() as i64 {
                let later = self.later(&self.nothing());
                heights = heights.iter().zip(later).map(|(a, b)| a - b).collect();
            }
            heights
        };
        let mut found = BTreeSet::new();
        let mut waiting = vec![self.nothing()];
        while let Some(heights) = waiting.pop() {
            if !found.insert(heights.clone()) {
                continue;
            }
            for column in 0..heights.len() {
                if self.ready(&heights, column).is_some() {
                    let mut next = heights.clone();
                    next[column] += 1;
                    waiting.push(told_once(next));
                }
            }
        }
        found
    }
}

/// Where a repeat is being tied: what hangs where since it was begun, and what was counted.
#[derive(Clone)]
struct Hand {
    heights: Heights,
    order: Vec<usize>,
    first: Option<(usize, Tie)>,
    last: Option<(usize, Tie)>,
    changes: (usize, usize),
}

impl Hand {
    fn at(endless: &Endless, heights: Heights) -> Self {
        Self {
            heights,
            order: (0..endless.threads).collect(),
            first: None,
            last: None,
            changes: (0, 0),
        }
    }

    fn worker(&self, tie: Tie) -> usize {
        self.order[tie.column + usize::from(!tie.left_works)]
    }

    fn count(&mut self, worker: usize, tie: Tie) {
        if let Some((before, knot)) = self.last {
            let kind = |tie: Tie| (tie.left_works, tie.swaps);
            if before != worker {
                self.changes.0 += 1;
            } else if kind(knot) != kind(tie) {
                self.changes.1 += 1;
            }
        }
    }

    fn tie(&mut self, tie: Tie) {
        let worker = self.worker(tie);
        self.count(worker, tie);
        self.first
            .get_or_insert((tie.column + usize::from(!tie.left_works), tie));
        self.last = Some((worker, tie));
        if tie.swaps {
            self.order.swap(tie.column, tie.column + 1);
        }
        self.heights[tie.column] += 1;
    }

    /// Changes of thread, and of kind, with that to the first knot of the next repeat.
    fn gone_round(mut self) -> (usize, usize) {
        let (position, tie) = self.first.expect("a knot");
        let worker = self.order[position];
        self.count(worker, tie);
        self.changes
    }
}

/// The least of all orders from here to the same place one repeat later.
fn least_of_all(endless: &Endless, hand: &Hand, end: &Heights, best: &mut (usize, usize)) {
    if hand.heights == *end {
        *best = (*best).min(hand.clone().gone_round());
    }
    for column in 0..end.len() {
        if hand.heights[column] < end[column]
            && let Some(tie) = endless.ready(&hand.heights, column)
        {
            let mut next = hand.clone();
            next.tie(tie);
            least_of_all(endless, &next, end, best);
        }
    }
}

/// A hand that always takes the thread that can tie most.
fn greedy(endless: &Endless) -> (usize, usize) {
    let mut hand = Hand::at(endless, endless.nothing());
    let end = endless.later(&endless.nothing());
    let ready = |hand: &Hand, column: usize| {
        let open = hand.heights[column] < end[column];
        open.then(|| endless.ready(&hand.heights, column)).flatten()
    };
    while hand.heights != end {
        let run = |column: usize| {
            let mut next = hand.clone();
            let first = ready(&next, column)?;
            let worker = next.worker(first);
            next.tie(first);
            let mut tied = 1;
            while let Some(tie) = (0..end.len())
                .filter_map(|column| ready(&next, column))
                .find(|tie| next.worker(*tie) == worker)
            {
                next.tie(tie);
                tied += 1;
            }
            Some((tied, next))
        };
        let runs = (0..end.len()).rev().filter_map(run);
        hand = runs
            .max_by_key(|(tied, _)| *tied)
            .expect("a knot is ready")
            .1;
    }
    hand.gone_round()
}

fn band(threads: u16, repeat: Vec<Row>, repeats: u32) -> Band {
    let parts = BandParts {
        palette: colours(1),
        threads: vec![0; usize::from(threads)],
        repeat,
        repeats,
        ..BandParts::default()
    };
    Band::new(parts).expect("a band")
}

fn lattice(threads: u16, rows: usize, number: u32) -> Band {
    let prepared = RandomRows::new(threads, rows)
        .prepared()
        .expect("a lattice");
    let mut chance = Chance::new(1, Purpose::Member { number });
    band(
        threads,
        prepared.draw(&mut chance).expect("nothing is asked"),
        12,
    )
}

/// One who goes as far ahead as there is anything to tie.
fn far_ahead(band: Band) -> Tied {
    let half_rows_ahead = Some(1_000);
    Tied::by(
        band,
        Habits {
            half_rows_ahead,
            ..Habits::default()
        },
    )
}

fn all_rows(band: &Band) -> Vec<Row> {
    let mut rows = band.rows(Part::LeadIn).to_vec();
    for _ in 0..band.repeats() {
        rows.extend_from_slice(band.repeat());
    }
    rows.extend_from_slice(band.rows(Part::LeadOut));
    rows
}

/// Repeats of a few knots that leave no column out: what hangs by itself can be tied to the end
/// of all days before the rest, and cannot be looked at whole.
fn few_knots() -> impl Strategy<Value = (u16, Vec<Row>)> {
    let rows = |threads: u16| (Just(threads), by_chance::rows(threads, 1..=3, 3));
    let leaves_none_out = |(threads, rows): &(u16, Vec<Row>)| {
        let knots = ties(rows);
        knots.len() <= 7
            && (0..usize::from(*threads) - 1).all(|at| knots.iter().any(|tie| tie.column == at))
    };
    (2_u16..=5)
        .prop_flat_map(rows)
        .prop_filter("every column is tied", leaves_none_out)
}

proptest! {
    #![proptest_config(by_chance::cases(300))]

    #[test]
    fn no_order_has_fewer_changes((threads, rows) in few_knots()) {
        let band = band(threads, rows, 30);
        let endless = Endless::of(&band);
        let mut best = (usize::MAX, 0);
        for heights in endless.all_heights() {
            let end = endless.later(&heights);
            least_of_all(&endless, &Hand::at(&endless, heights), &end, &mut best);
        }
        let tied = far_ahead(band);
        let work = tied.work();
        let easiest = (work.easiest.thread_changes, work.easiest.pieces);
        prop_assert_eq!(easiest, (best.0, best.0 + best.1));
        prop_assert!(work.proved);
        prop_assert_eq!(work.least_thread_changes, best.0);
    }

    #[test]
    fn the_fabric_is_the_same_and_no_order_worse_than_as_written(band in by_chance::band()) {
        let tied = Tied::of(band);
        let (work, easiest) = (*tied.work(), tied.easiest());
        prop_assert_eq!(normal_form(&all_rows(easiest)), normal_form(&all_rows(tied.band())));
        let counted = |work: hitchwork_core::work::WorkCount| (work.thread_changes, work.pieces);
        prop_assert!(counted(work.easiest) <= counted(work.as_written));
        prop_assert!(work.least_thread_changes <= work.easiest.thread_changes);
        // Its mirror image has as much to do.
        prop_assert_eq!(work, *Tied::of(tied.band().mirrored()).work());
        // Of an order that cannot be easier nothing changes.
        let again = Tied::of(easiest.clone());
        prop_assert!(counted(again.work().easiest) <= counted(work.easiest));
    }
}

#[test]
fn nobody_greedy_has_fewer_changes() {
    for (threads, rows) in [(6, 8), (8, 12), (10, 16), (12, 24)] {
        for number in 0..4 {
            let band = lattice(threads, rows, number);
            let greedy = greedy(&Endless::of(&band));
            let work = *far_ahead(band).work();
            let easiest = work.easiest;
            assert!(
                (
                    easiest.thread_changes,
                    easiest.pieces - easiest.thread_changes
                ) <= greedy,
                "{threads} threads, {rows} rows, number {number}: {work:?}, greedy {greedy:?}"
            );
            assert!(
                work.proved,
                "{threads} threads, {rows} rows, number {number}: {work:?}"
            );
        }
    }
}

/// Wide bands are not looked at whole; what is found is a band all the same.
#[test]
fn wide_bands_are_the_same_fabric() {
    for number in 0..3 {
        let tied = Tied::of(lattice(24, 20, number));
        let work = tied.work();
        assert!(work.easiest.thread_changes < work.as_written.thread_changes);
        assert!(work.least_thread_changes <= work.easiest.thread_changes);
        let easiest = tied.easiest();
        assert!(normal_form(&all_rows(easiest)) == normal_form(&all_rows(tied.band())));
    }
}

/// In full fabrics a level is the same in every repeat, and one may look at the knots themselves.
#[test]
fn nobody_goes_further_ahead_than_asked() {
    let furthest = |asked: u32, number: u32| {
        let band = lattice(10, 16, number);
        let half_rows_ahead = Some(asked);
        let tied = Tied::by(
            band,
            Habits {
                half_rows_ahead,
                ..Habits::default()
            },
        );
        let fabric = Fabric::of(tied.easiest());
        let levels: Vec<u32> = fabric.knots().map(|knot| knot.level).collect();
        let mut lowest_left = levels.clone();
        for at in (1..levels.len()).rev() {
            lowest_left[at - 1] = lowest_left[at - 1].min(lowest_left[at]);
        }
        let ahead = levels.iter().zip(&lowest_left);
        ahead
            .map(|(level, lowest)| level - lowest)
            .max()
            .expect("knots")
    };
    for number in 0..5 {
        let ahead = [1, 3, 5, 9].map(|asked| furthest(asked, number));
        assert!(
            ahead
                .iter()
                .zip([1, 3, 5, 9])
                .all(|(ahead, asked)| *ahead <= asked),
            "{ahead:?}"
        );
        // Somebody who may go further does.
        assert!(ahead[0] < ahead[3], "{ahead:?}");
    }
}

/// What a greedy choice comes to, counted by a prototype of that choice.
const GREEDY: [(&str, usize); 7] = [
    ("boats", 160),
    ("diamonds", 58),
    ("drizzle", 107),
    ("hearts", 68),
    ("stars", 370),
    ("wakes", 151),
    ("zigzag", 34),
];

#[test]
fn built_in_rules_are_tied_as_easily_as_can_be() {
    let rules = Rules::new();
    let made = |name: &str| {
        let rule = rules.built_in(name).expect("there");
        Tied::of(rules.make(&rule, &Settings::new()).expect("sound").band)
    };
    for (name, greedy) in GREEDY {
        let work = *made(name).work();
        assert!(work.easiest.thread_changes <= greedy, "{name}: {work:?}");
    }
    // Whose own rows are as easy keeps them.
    for name in ["blend", "candy_stripe", "drift"] {
        let tied = made(name);
        let work = tied.work();
        assert!(
            work.proved && work.easiest == work.as_written,
            "{name}: {work:?}"
        );
        assert_eq!(tied.easiest().repeat(), tied.band().repeat(), "{name}");
    }
    let chevron = *made("chevron").work();
    assert!(chevron.easiest.thread_changes <= chevron.as_written.thread_changes);
}

fn of_rule(name: &str, habits: Habits) -> Tied {
    let rules = Rules::new();
    let rule = rules.built_in(name).expect("there");
    Tied::by(
        rules.make(&rule, &Settings::new()).expect("sound").band,
        habits,
    )
}

fn as_written() -> Habits {
    Habits {
        as_written: true,
        ..Habits::default()
    }
}

/// Nobody has to tie in an order that is harder: in the easiest one threads change less often, but there may
/// be more rows to remember, and more changes of kind.
#[test]
fn a_band_is_no_harder_than_the_easier_of_its_orders() {
    for name in built_in_names() {
        let tied = of_rule(name, Habits::default());
        let orders = [tied.band(), tied.followed()].map(Difficulty::of);
        let least = orders[0].points.min(orders[1].points);
        let said = tied.difficulty();
        assert!(
            (said.points - least).abs() < 1e-9,
            "{name}: {said:?}, {orders:?}"
        );
        assert!(orders.contains(said), "{name}");
        assert_eq!(tied.mirrored().difficulty(), said, "{name}");
    }
    // The runs of these are harder to keep in mind than their rows.
    for name in ["chevron", "rollers"] {
        let tied = of_rule(name, Habits::default());
        assert_ne!(tied.followed().repeat(), tied.band().repeat(), "{name}");
        assert!(
            Difficulty::of(tied.followed()).points > tied.difficulty().points,
            "{name}"
        );
    }
}

/// What is tied has a row for each run, makes the same fabric, takes the same thread, and is less hard;
/// who wants the rule's own rows has them, in both hands.
#[test]
fn a_rule_is_written_out_in_the_easiest_order() {
    for name in ["diamonds", "zigzag", "wakes"] {
        let (eased, own) = (
            of_rule(name, Habits::default()),
            of_rule(name, as_written()),
        );
        let work = *eased.work();
        assert_eq!(
            eased.followed().repeat().len(),
            work.easiest.thread_changes,
            "{name}"
        );
        assert_eq!(own.followed().repeat(), own.band().repeat(), "{name}");
        assert_eq!(eased.band().repeat(), own.band().repeat(), "{name}");
        let rows = |tied: &Tied| normal_form(&all_rows(tied.followed()));
        assert!(rows(&eased) == rows(&own), "{name}");
        let cut = |tied: &Tied| format!("{:?}", tied.cut_list());
        assert_eq!(cut(&eased), cut(&own), "{name}");
        let (eased_report, own_report) = (eased.report(), own.report());
        assert_eq!(eased_report.size_mm, own_report.size_mm, "{name}");
        assert!(
            eased.difficulty().points < own.difficulty().points,
            "{name}: {:?}, as written {:?}",
            eased.difficulty(),
            own.difficulty()
        );
        assert_eq!(
            own.mirrored().followed().repeat(),
            own.band().mirrored().repeat()
        );
        // The designer may want it so, too, and a band file keeps that.
        let parts = eased.into_band().into_parts();
        let kept = Band::new(BandParts {
            as_written: true,
            ..parts
        })
        .expect("a band");
        let text = hitchwork_core::file::write(&kept);
        let read = hitchwork_core::file::read(text.as_bytes()).expect("a band file");
        assert_eq!(hitchwork_core::file::write(&read), text);
        let read = Tied::of(read);
        for tied in [&read, read.mirrored()] {
            assert_eq!(tied.followed().repeat(), tied.band().repeat(), "{name}");
        }
    }
}

/// A picture in pairs is told a line a row, which another order would break up.
#[test]
fn a_picture_in_pairs_keeps_its_rows() {
    for name in ["hearts", "boats", "stars", "lighthouse"] {
        let tied = of_rule(name, Habits::default());
        assert_eq!(tied.followed().repeat(), tied.band().repeat(), "{name}");
    }
    // Where one knot changes places, or two meet at a thread, it is no such picture.
    let turning = |columns: &[u16]| {
        Row::run(Kind::ForwardBackward, columns.iter().copied()).expect("columns")
    };
    let keeps = |rows: Vec<Row>| {
        let tied = Tied::of(band(6, rows, 12));
        assert!(tied.work().easiest.thread_changes < tied.work().as_written.thread_changes);
        tied.followed().repeat() == tied.band().repeat()
    };
    let (outer, inner) = (turning(&[1, 3, 5]), turning(&[2, 4]));
    assert!(keeps(vec![outer.clone(), turning(&[1, 5]), inner.clone()]));
    let moves = Row::run(Kind::Forward, [3]).expect("a column");
    assert!(!keeps(vec![outer.clone(), turning(&[1, 5]), moves]));
    assert!(!keeps(vec![outer, turning(&[1, 5, 4]), inner]));
}

/// Rows before and after the repeats come in only where the thread then changes far less often; and
/// what takes no fewer steps to tell stays as it is.
#[test]
fn rows_around_come_in_only_where_they_are_worth_it() {
    let around = |tied: &Tied| {
        let followed = tied.followed();
        followed.rows(Part::LeadIn).len() + followed.rows(Part::LeadOut).len()
    };
    for name in ["drizzle", "rollers", "flotsam"] {
        let tied = of_rule(name, Habits::default());
        let (written, followed) = (tied.band().repeat().len(), tied.followed());
        assert_eq!(around(&tied), 0, "{name}");
        assert!(followed.repeat().len() > written, "{name}");
        assert!(
            normal_form(&all_rows(followed)) == normal_form(&all_rows(tied.band())),
            "{name}"
        );
    }
    // One thread goes from edge to edge, where as written it is another at every knot.
    let drift = of_rule("straight_drift", Habits::default());
    assert_eq!(drift.followed().repeat().len(), 1);
    assert!((1..10).contains(&around(&drift)));
    // Over a leader a row is one step.
    for name in ["billow", "harbour_wall", "nameboard"] {
        let tied = of_rule(name, Habits::default());
        assert_eq!(tied.followed().repeat(), tied.band().repeat(), "{name}");
    }
}
