//! The knots of a picture, found: against every way to tie it, against a second recursion, and
//! tied by the simulator.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::chance::{Chance, Purpose, RandomRows};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Column, Kind, Side};
use hitchwork_core::picture::lattice::LatticePicture;
use hitchwork_core::picture::solve::{
    Closing, Painting, Solved, SolvingEffort, WantedKnot, orders_of_colours,
};
use hitchwork_core::row::Row;
use hitchwork_tests::{made, naive};

/// Numbers that look like chance, and are the same everywhere (a linear congruential generator
/// with Knuth's multiplier; Knuth, The Art of Computer Programming, vol. 2, 1997, from memory).
struct Noise(u64);

impl Noise {
    fn below(&mut self, end: u64) -> u64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % end
    }

    fn colour(&mut self, colours: u8) -> u8 {
        u8::try_from(self.below(colours.into())).expect("a colour")
    }
}

/// Noise on the lattice, in tying order.
fn noise(threads: u16, rows: usize, colours: u8, seed: u64) -> Painting {
    let mut noise = Noise(seed);
    Painting::lattice(threads, colours, rows, |_, _| Some(noise.colour(colours)))
        .expect("a lattice")
}

/// Noise in which one knot of so many may show anything.
fn noise_with_gaps(threads: u16, rows: usize, colours: u8, seed: u64, gaps: u64) -> Painting {
    let mut noise = Noise(seed);
    Painting::lattice(threads, colours, rows, |_, _| {
        let colour = noise.colour(colours);
        (noise.below(gaps) > 0).then_some(colour)
    })
    .expect("a lattice")
}

fn with(painting: &Painting, counts: &[u16], closing: Closing) -> Painting {
    Painting {
        counts: Some(counts.to_vec()),
        closing,
        ..painting.clone()
    }
}

fn solve(painting: &Painting) -> Solved {
    painting
        .solve(&SolvingEffort::default())
        .expect("it can be tied")
}

fn misses(painting: &Painting, counts: &[u16], closing: Closing) -> usize {
    let solved = solve(&with(painting, counts, closing));
    assert!(solved.is_proved() && solved.exact);
    solved.missed.len()
}

/// Columns from 0 with the colours that are wanted there.
fn places(painting: &Painting) -> Vec<(usize, Option<u8>)> {
    let place = |knot: &WantedKnot| (usize::from(knot.column.number()) - 1, knot.colour);
    painting.rows.iter().flatten().map(place).collect()
}

/// All orders of so many threads of each colour.
fn all_orders(counts: &[u16]) -> Vec<Vec<u8>> {
    if counts.iter().all(|count| *count == 0) {
        return vec![Vec::new()];
    }
    let mut orders = Vec::new();
    for colour in 0..counts.len() {
        if counts[colour] > 0 {
            let mut rest = counts.to_vec();
            rest[colour] -= 1;
            for behind in all_orders(&rest) {
                let first = u8::try_from(colour).expect("a colour");
                orders.push([&[first], &behind[..]].concat());
            }
        }
    }
    orders
}

/// All counts of threads, each colour at least `least` times.
fn all_counts(threads: u16, colours: usize, least: u16) -> Vec<Vec<u16>> {
    if colours == 1 {
        return match threads >= least {
            true => vec![vec![threads]],
            false => Vec::new(),
        };
    }
    let mut all = Vec::new();
    for first in least..=threads {
        for rest in all_counts(threads - first, colours - 1, least) {
            all.push([&[first], &rest[..]].concat());
        }
    }
    all
}

/// Every way to tie the places, one after another: for each end that can be reached the fewest
/// misses on the way.
fn every_way(start: &[u8], places: &[(usize, Option<u8>)]) -> BTreeMap<Vec<u8>, usize> {
    let mut ends = BTreeMap::new();
    for way in 0..1_u32 << places.len() {
        let (mut hang, mut missed) = (start.to_vec(), 0);
        for (number, (column, wanted)) in places.iter().enumerate() {
            let pair = [hang[*column], hang[column + 1]];
            if wanted.is_some_and(|wanted| pair[0] != wanted && pair[1] != wanted) {
                missed += 1;
            }
            if way >> number & 1 == 1 {
                hang.swap(*column, column + 1);
            }
        }
        let known = ends.entry(hang).or_insert(missed);
        *known = missed.min(*known);
    }
    ends
}

/// The fewest misses: open, closed, and closed with the colours renamed by `names`, if it can be.
fn by_every_way(
    painting: &Painting,
    counts: &[u16],
    names: &[u8],
) -> (usize, usize, Option<usize>) {
    let places = places(painting);
    let (mut open, mut closed, mut renamed) = (usize::MAX, usize::MAX, None);
    for start in all_orders(counts) {
        let ends = every_way(&start, &places);
        open = ends.values().copied().fold(open, usize::min);
        closed = closed.min(ends[&start]);
        let end: Vec<u8> = start
            .iter()
            .map(|colour| names[usize::from(*colour)])
            .collect();
        renamed = [renamed, ends.get(&end).copied()]
            .into_iter()
            .flatten()
            .min();
    }
    (open, closed, renamed)
}

fn held_against_every_way(painting: &Painting, counts: &[u16]) {
    let names: Vec<u8> = match counts {
        [a, b] if a == b => vec![1, 0],
        [a, b, c] if a == b && b == c => vec![1, 2, 0],
        _ => (0..painting.colours).collect(),
    };
    let (open, closed, renamed) = by_every_way(painting, counts, &names);
    assert_eq!(
        misses(painting, counts, Closing::Open),
        open,
        "{painting:?}"
    );
    assert_eq!(
        misses(painting, counts, Closing::Closed),
        closed,
        "{painting:?}"
    );
    let found = with(painting, counts, Closing::Renamed(names)).solve(&SolvingEffort::default());
    let found = found.ok().map(|solved| solved.missed.len());
    assert_eq!(found, renamed, "{painting:?} {counts:?}");
}

/// A picture by a number: each knot wants one of the colours, or nothing.
fn numbered(threads: u16, rows: usize, colours: u8, number: u64) -> Painting {
    let mut rest = number;
    Painting::lattice(threads, colours, rows, |_, _| {
        let wish = rest % (u64::from(colours) + 1);
        rest /= u64::from(colours) + 1;
        u8::try_from(wish).ok().filter(|wish| *wish < colours)
    })
    .expect("a lattice")
}

#[test]
fn no_way_to_tie_any_small_picture_misses_fewer() {
    let mut seen = 0;
    for (threads, rows, colours) in [(2, 3, 2), (3, 4, 2), (3, 4, 3), (4, 2, 2), (4, 3, 2)] {
        let knots = places(&numbered(threads, rows, colours, 0)).len();
        let pictures = u64::from(colours + 1).pow(u32::try_from(knots).expect("few"));
        for number in 0..pictures {
            let painting = numbered(threads, rows, colours, number);
            for counts in all_counts(threads, colours.into(), 0) {
                held_against_every_way(&painting, &counts);
                seen += 1;
            }
        }
    }
    assert!(seen > 3_000, "only {seen} were looked at");
}

#[test]
fn no_way_to_tie_a_picture_of_up_to_five_threads_misses_fewer() {
    let mut chance = Noise(1);
    for (threads, rows, colours) in [(4, 4, 2), (4, 4, 3), (5, 3, 2), (5, 4, 2), (5, 4, 3)] {
        for _ in 0..12 {
            let painting = numbered(threads, rows, colours, chance.below(1 << 31));
            for counts in all_counts(threads, colours.into(), 0) {
                held_against_every_way(&painting, &counts);
            }
        }
    }
}

/// Any knots anywhere, not only on the lattice; and any places exchanged at the end.
#[test]
fn knots_in_any_order_are_found_as_well() {
    let mut chance = Noise(2);
    for _ in 0..60 {
        let mut painting = noise_with_gaps(4, 2, 2, chance.below(1 << 31), 4);
        painting.rows = (0..2)
            .map(|_| {
                let knot = |_| WantedKnot {
                    column: Column::new(1 + u16::try_from(chance.below(3)).expect("small"))
                        .expect("from 1"),
                    colour: Some(chance.colour(3)).filter(|colour| *colour < 2),
                };
                (0..4).map(knot).collect()
            })
            .collect();
        held_against_every_way(&painting, &[2, 2]);
        held_against_every_way(&painting, &[3, 1]);
        let from = [2, 0, 3, 1];
        let rearranged = Closing::Rearranged(from.to_vec());
        let places = places(&painting);
        let back = |start: &Vec<u8>| {
            let end: Vec<u8> = from.iter().map(|from| start[usize::from(*from)]).collect();
            every_way(start, &places).get(&end).copied()
        };
        let fewest = all_orders(&[2, 2]).iter().filter_map(back).min();
        let found = with(&painting, &[2, 2], rearranged).solve(&SolvingEffort::default());
        assert_eq!(found.ok().map(|solved| solved.missed.len()), fewest);
    }
}

/// The fewest misses by colours that hang and cost, one knot after another: a recursion with
/// nothing in common with the search but the law that it goes by.
fn by_second_recursion(
    starts: &[Vec<u8>],
    places: &[(usize, Option<u8>)],
) -> BTreeMap<Vec<u8>, usize> {
    let mut reached: BTreeMap<Vec<u8>, usize> =
        starts.iter().map(|start| (start.clone(), 0)).collect();
    for (column, wanted) in places {
        let mut next: BTreeMap<Vec<u8>, usize> = BTreeMap::new();
        for (hang, cost) in reached {
            let pair = &hang[*column..column + 2];
            let cost = cost + usize::from(wanted.is_some_and(|wanted| !pair.contains(&wanted)));
            let mut changed = hang.clone();
            changed.swap(*column, column + 1);
            for hang in [hang, changed] {
                let known = next.entry(hang).or_insert(cost);
                *known = cost.min(*known);
            }
        }
        reached = next;
    }
    reached
}

#[test]
fn a_second_recursion_finds_as_few_misses() {
    for (threads, counts, rows, seed) in [
        (7, &[4, 3][..], 8, 1),
        (8, &[3, 3, 2], 10, 2),
        (6, &[2, 2, 1, 1], 12, 3),
        (6, &[1; 6], 6, 4),
    ] {
        let colours = u8::try_from(counts.len()).expect("few");
        let painting = noise_with_gaps(threads, rows, colours, seed, 9);
        let (places, starts) = (places(&painting), all_orders(counts));
        let open = by_second_recursion(&starts, &places).into_values().min();
        assert_eq!(Some(misses(&painting, counts, Closing::Open)), open);
        let back =
            |start: &Vec<u8>| by_second_recursion(std::slice::from_ref(start), &places)[start];
        let closed = misses(&painting, counts, Closing::Closed);
        match starts.len() {
            ..200 => assert_eq!(Some(closed), starts.iter().map(back).min()),
            // Of more starts some are enough for a bound from above.
            many => {
                let some = starts.iter().step_by(many / 24).map(back).min();
                assert!(open <= Some(closed) && Some(closed) <= some);
            }
        }
    }
}

/// Fewest misses of noise, open and closed, found with another program: the same recursion over
/// a plain array of all orders, with the closed repeats tried start by start. Our own
/// computation, no source.
#[test]
fn a_program_of_its_own_finds_as_few_misses_in_noise() {
    for (threads, rows, seed, counts, open, closed) in [
        (12, 24, 1, &[6, 6][..], 0, 0),
        (12, 24, 1, &[4, 4, 4], 2, 2),
        (12, 24, 2, &[4, 4, 4], 6, 6),
        (10, 20, 3, &[4, 3, 3], 2, 2),
        (9, 24, 4, &[3, 2, 2, 2], 11, 12),
        (8, 10, 7, &[3, 3, 2], 2, 2),
        (12, 24, 8, &[6, 3, 3], 10, 11),
    ] {
        let colours = u8::try_from(counts.len()).expect("few");
        let painting = noise(threads, rows, colours, seed);
        let found = [Closing::Open, Closing::Closed].map(|ends| misses(&painting, counts, ends));
        assert_eq!(found, [open, closed], "{counts:?}, seed {seed}");
    }
}

/// The same program, on more orders.
#[test]
fn four_colours_on_twelve_threads_fit() {
    let painting = noise(12, 24, 4, 5);
    assert_eq!(orders_of_colours(&[3; 4]), Some(369_600));
    assert_eq!(misses(&painting, &[3; 4], Closing::Open), 14);
}

/// A design by chance: its rows, how many threads of each colour, how they hang, and what shows.
fn tied_design(threads: u16, colours: u8, seed: u64) -> (Vec<u8>, Vec<Row>, Vec<u16>) {
    let mut noise = Noise(seed);
    let start: Vec<u8> = (0..threads).map(|_| noise.colour(colours)).collect();
    let rows = 2 + 2 * usize::try_from(noise.below(4)).expect("few");
    let mut chance = Chance::new(seed, Purpose::Rule);
    let rows = RandomRows::new(threads, rows)
        .draw(&mut chance)
        .expect("rows");
    let of_colour = |colour| start.iter().filter(|one| **one == colour).count();
    let counts = (0..colours).map(|colour| u16::try_from(of_colour(colour)).expect("few"));
    let counts = counts.collect();
    (start, rows, counts)
}

/// What shows when rows are tied, as a picture; and how the colours hang at the end.
fn picture_of(start: &[u8], rows: &[Row], colours: u8) -> (Painting, Vec<u8>) {
    let mut hang = start.to_vec();
    let mut painting = Painting {
        threads: u16::try_from(start.len()).expect("few"),
        colours,
        rows: Vec::new(),
        counts: None,
        closing: Closing::Open,
    };
    for row in rows {
        let mut shown = Vec::new();
        for (tie, knot) in naive::ties(std::slice::from_ref(row))
            .iter()
            .zip(row.knots())
        {
            shown.push(WantedKnot {
                column: knot.column(),
                colour: Some(hang[tie.column + usize::from(!tie.left_works)]),
            });
            if tie.swaps {
                hang.swap(tie.column, tie.column + 1);
            }
        }
        painting.rows.push(shown);
    }
    (painting, hang)
}

#[test]
fn designs_that_were_tied_come_back_without_a_miss() {
    let mut closed = 0;
    for seed in 0..1_000 {
        let threads = 3 + u16::try_from(seed % 5).expect("small");
        let colours = 2 + u8::try_from(seed / 5 % 2).expect("small");
        let (start, rows, counts) = tied_design(threads, colours, seed);
        let (painting, end) = picture_of(&start, &rows, colours);
        assert_eq!(misses(&painting, &counts, Closing::Open), 0, "seed {seed}");
        // Tied until the colours hang as at the start, it is a design that closes.
        let (mut again, mut hang) = (rows.clone(), end);
        while hang != start && again.len() < 60 {
            again.extend(rows.iter().cloned());
            hang = picture_of(&start, &again, colours).1;
        }
        if hang == start {
            let (painting, _) = picture_of(&start, &again, colours);
            assert_eq!(
                misses(&painting, &counts, Closing::Closed),
                0,
                "seed {seed}"
            );
            closed += 1;
        }
    }
    assert!(closed > 900, "only {closed} closed");
}

/// A drifting repeat comes back as one: what a repeat of twice the rows shows, half by half, is
/// the same picture with the colours exchanged.
#[test]
fn a_repeat_that_drifts_closes_up_to_its_colours() {
    // The candy stripe: every thread goes one position to the left, and the first to the right.
    let rows = [made::run(Kind::Forward, 1..6)];
    let start = [0, 1, 2, 0, 1, 2];
    let (painting, end) = picture_of(&start, &rows, 3);
    assert_eq!(end, [1, 2, 0, 1, 2, 0]);
    let drifting = Closing::Renamed(vec![1, 2, 0]);
    let solved = solve(&with(&painting, &[2, 2, 2], drifting));
    assert_eq!((solved.missed.len(), solved.is_proved()), (0, true));
    let (_, found) = picture_of(&solved.start, &solved.rows, 3);
    let renamed: Vec<u8> = solved.start.iter().map(|colour| (colour + 1) % 3).collect();
    assert_eq!(found, renamed);
    // Whatever comes in at the left must have gone there in a single row, which no thread can.
    assert!(misses(&painting, &[2, 2, 2], Closing::Closed) <= 5);
}

/// The multinomial numbers: Sloane, The On-Line Encyclopedia of Integer Sequences, A000984,
/// A006480 and A008977 (1996 and later; from memory); Abramowitz and Stegun, Handbook of
/// Mathematical Functions, table 24.2 (1964, from memory).
#[test]
fn there_are_as_many_orders_as_handbooks_say() {
    let central: [(u16, &[u64]); 3] = [
        (2, &[1, 2, 6, 20, 70, 252, 924, 3_432, 12_870]),
        (3, &[1, 6, 90, 1_680, 34_650, 756_756, 17_153_136]),
        (4, &[1, 24, 2_520, 369_600, 63_063_000]),
    ];
    for (colours, published) in central {
        for (each, orders) in published.iter().enumerate() {
            let each = u16::try_from(each).expect("few");
            let counts = vec![each; usize::from(colours)];
            assert_eq!(orders_of_colours(&counts), Some(*orders));
        }
    }
    let handbook: [(&[u16], u64); 8] = [
        (&[2, 1], 3),
        (&[2, 2, 1], 30),
        (&[3, 2], 10),
        (&[3, 2, 1], 60),
        (&[2, 2, 2], 90),
        (&[4, 1, 1], 30),
        (&[2, 1, 1, 1, 1], 360),
        (&[1; 6], 720),
    ];
    for (counts, orders) in handbook {
        assert_eq!(orders_of_colours(counts), Some(orders), "{counts:?}");
        assert_eq!(all_orders(counts).len() as u64, orders);
    }
    assert_eq!(
        orders_of_colours(&[33, 33]),
        Some(7_219_428_434_016_265_740)
    );
    assert_eq!(orders_of_colours(&[34, 34]), None);
}

fn band_of(solved: &Solved, colours: u8, repeats: u32) -> Band {
    let rows = solved.rows.iter().filter(|row| !row.is_empty());
    Band::new(BandParts {
        palette: made::colours(colours.into()),
        threads: solved.start.iter().copied().map(u16::from).collect(),
        repeat: rows.cloned().collect(),
        repeats,
        ..BandParts::default()
    })
    .expect("a band")
}

/// The simulator ties what was found, and shows the picture in every repeat but where it misses.
fn shows_its_picture(painting: &Painting, solved: &Solved, repeats: u32) {
    let fabric = Fabric::of(&band_of(solved, painting.colours, repeats));
    let shown: Vec<u8> = fabric
        .knots()
        .map(|knot| u8::try_from(fabric.colour(knot.working)).expect("a colour"))
        .collect();
    let wanted: Vec<(usize, WantedKnot)> = painting
        .rows
        .iter()
        .enumerate()
        .flat_map(|(row, knots)| knots.iter().map(move |knot| (row + 1, *knot)))
        .collect();
    assert_eq!(shown.len(), wanted.len() * repeats as usize);
    for repeat in shown.chunks(wanted.len()) {
        let missed: Vec<(usize, Column, u8, u8)> = wanted
            .iter()
            .zip(repeat)
            .filter_map(|((row, knot), shown)| {
                let wanted = knot.colour.filter(|wanted| wanted != shown)?;
                Some((*row, knot.column, wanted, *shown))
            })
            .collect();
        let said: Vec<(usize, Column, u8, u8)> = solved
            .missed
            .iter()
            .map(|missed| (missed.row, missed.column, missed.wanted, missed.shown))
            .collect();
        assert_eq!(said, missed);
    }
}

#[test]
fn the_simulator_ties_what_was_found_and_shows_the_picture() {
    for seed in 0..12 {
        for (threads, counts) in [(7, &[4, 3][..]), (8, &[3, 3, 2]), (2, &[1, 1])] {
            let colours = u8::try_from(counts.len()).expect("few");
            let painting = noise_with_gaps(threads, 6, colours, seed, 5);
            let open = with(&painting, counts, Closing::Open);
            shows_its_picture(&open, &solve(&open), 1);
            let closed = with(&painting, counts, Closing::Closed);
            shows_its_picture(&closed, &solve(&closed), 3);
            let solved = solve(&painting);
            shows_its_picture(&painting, &solved, 1);
            assert_eq!(solved.counts.iter().sum::<u16>(), threads);
        }
    }
}

fn changed(painting: &Painting, change: impl Fn(&mut Vec<Vec<WantedKnot>>)) -> Painting {
    let mut painting = painting.clone();
    change(&mut painting.rows);
    painting
}

#[test]
fn a_mirrored_picture_and_one_upside_down_miss_as_much() {
    for seed in 0..20 {
        let painting = noise_with_gaps(8, 7, 3, seed, 6);
        let mirrored = changed(&painting, |rows| {
            for knot in rows.iter_mut().flatten() {
                knot.column = knot.column.mirrored(8).expect("a column");
            }
        });
        let upside_down = changed(&painting, |rows| {
            rows.reverse();
            rows.iter_mut().for_each(|row| row.reverse());
        });
        let counts = [3, 3, 2];
        for ends in [Closing::Open, Closing::Closed] {
            let as_it_is = misses(&painting, &counts, ends.clone());
            assert_eq!(misses(&mirrored, &counts, ends.clone()), as_it_is);
            assert_eq!(misses(&upside_down, &counts, ends), as_it_is);
        }
    }
}

/// What has to follow at least from how the colours hang before each knot, by every way.
fn least_to_come(hang: &[u8], places: &[(usize, Option<u8>)]) -> usize {
    every_way(hang, places).into_values().min().expect("a way")
}

/// Every knot is the one that the documentation says: of those that leave the fewest misses, one
/// that goes on with a working thread, then with a kind, then the first.
#[test]
fn of_knots_that_do_the_easiest_is_tied() {
    let mut goes_on = 0;
    for seed in 0..30 {
        let painting = with(&noise_with_gaps(4, 4, 2, seed, 3), &[2, 2], Closing::Open);
        let solved = solve(&painting);
        let places = places(&painting);
        let least = |hang: &Vec<u8>| least_to_come(hang, &places);
        // The first of the best starts.
        let orders = all_orders(&[2, 2]);
        assert_eq!(
            Some(&solved.start),
            orders.iter().min_by_key(|order| least(order))
        );
        let mut hang: Vec<(usize, u8)> = solved.start.iter().copied().enumerate().collect();
        let mut workers = BTreeSet::new();
        let mut last = None;
        let knots = solved.rows.iter().flat_map(Row::knots);
        for (number, (knot, (column, wanted))) in knots.zip(&places).enumerate() {
            let judged = Kind::ALL.map(|kind| {
                let mut after = hang.clone();
                let works = after[column + usize::from(kind.working_side() == Side::Right)];
                if kind.changes_places() {
                    after.swap(*column, column + 1);
                }
                let colours: Vec<u8> = after.iter().map(|(_, colour)| *colour).collect();
                let miss = usize::from(wanted.is_some_and(|wanted| wanted != works.1));
                let to_come = least_to_come(&colours, &places[number + 1..]);
                (
                    miss + to_come,
                    !workers.contains(&works.0),
                    last != Some(kind),
                    kind,
                )
            });
            let easiest = judged.into_iter().min().expect("four kinds");
            assert_eq!(knot.kind(), easiest.3, "seed {seed}, knot {number}");
            goes_on += usize::from(!easiest.1);
            let side = usize::from(knot.kind().working_side() == Side::Right);
            workers.insert(hang[column + side].0);
            workers.remove(&hang[column + 1 - side].0);
            if knot.kind().changes_places() {
                hang.swap(*column, column + 1);
            }
            last = Some(knot.kind());
        }
    }
    assert!(goes_on > 50);
}

#[test]
fn counts_are_looked_for_among_all() {
    for seed in 0..10 {
        let painting = noise_with_gaps(6, 6, 3, seed, 5);
        for closing in [Closing::Open, Closing::Closed] {
            let wanted = Painting {
                closing: closing.clone(),
                ..painting.clone()
            };
            let solved = solve(&wanted);
            let best = all_counts(6, 3, 1)
                .iter()
                .map(|counts| misses(&painting, counts, closing.clone()))
                .min();
            assert_eq!(Some(solved.missed.len()), best);
            assert!(solved.is_proved());
            assert_eq!(
                misses(&painting, &solved.counts, closing),
                solved.missed.len()
            );
        }
    }
}

/// What comes out is what comes of trying all counts one by one: those first that miss fewest with
/// open ends, of these the most even, and of these the first; of equally good ones the first is taken.
#[test]
fn of_counts_that_do_as_well_the_most_even_is_taken() {
    let orders =
        |counts: &[u16]| -> u64 { counts.iter().map(|count| u64::from(*count).pow(2)).sum() };
    for (threads, rows, colours, gaps) in [(6, 6, 3, 5), (7, 5, 4, 9), (6, 7, 2, 5), (5, 6, 5, 40)]
    {
        for seed in 0..12 {
            let painting = noise_with_gaps(threads, rows, colours, seed, gaps);
            let names: Vec<u8> = (0..colours).map(|colour| (colour + 1) % colours).collect();
            for closing in [
                Closing::Open,
                Closing::Closed,
                Closing::Renamed(names.clone()),
            ] {
                let is_drifting = matches!(closing, Closing::Renamed(_));
                let mut all = all_counts(threads, colours.into(), 1);
                all.retain(|counts| !is_drifting || counts.iter().all(|count| *count == counts[0]));
                all.sort_by_cached_key(|counts| {
                    let open = misses(&painting, counts, Closing::Open);
                    (open, orders(counts), counts.clone())
                });
                let solved = |counts: &Vec<u16>| {
                    with(&painting, counts, closing.clone())
                        .solve(&SolvingEffort::default())
                        .ok()
                };
                let one_by_one = all
                    .iter()
                    .filter_map(solved)
                    .min_by_key(|solved| solved.missed.len());
                let wanted = Painting {
                    closing: closing.clone(),
                    ..painting.clone()
                };
                let found = wanted.solve(&SolvingEffort::default()).ok();
                assert_eq!(found, one_by_one, "seed {seed}, {closing:?}");
            }
        }
    }
}

/// Whoever paints waits for this after every stroke: a pass over all orders of all counts takes 70
/// million steps, and three passes over those of the best 14 million (our own judgement).
#[test]
fn few_counts_are_looked_at_in_full() {
    for seed in 0..4 {
        let mut painting = Painting::lattice(12, 3, 24, |row, column| {
            u8::try_from((row + usize::from(column)) % 24 / 8).ok()
        })
        .expect("a lattice");
        painting.closing = Closing::Closed;
        let mut chance = Noise(seed);
        for knot in painting.rows.iter_mut().flatten() {
            if chance.below(5) == 0 {
                knot.colour = Some(chance.colour(3));
            }
        }
        let mut steps = 0;
        let found = painting.solve_while(&SolvingEffort::default(), |some| {
            steps += some;
            Ok::<(), hitchwork_core::Error>(())
        });
        assert!(found.expect("knots").is_proved());
        assert!(steps < 30_000_000, "{steps} steps with seed {seed}");
    }
}

/// With too few steps to try all counts, they are climbed to, and the bound is that of windows.
#[test]
fn with_few_steps_counts_are_climbed_to_and_nothing_false_is_said() {
    for seed in 0..10 {
        let painting = noise(8, 8, 3, seed);
        let best = solve(&painting);
        let knots = places(&painting).len() as u64;
        let few = SolvingEffort {
            steps: 3 * 6_561 * knots,
            ..SolvingEffort::default()
        };
        let climbed = painting.solve(&few).expect("some knots");
        assert!(climbed.exact);
        assert!(climbed.least <= best.missed.len());
        assert!(best.missed.len() <= climbed.missed.len());
        assert!(climbed.missed.len() <= best.missed.len() + 3, "it climbs");
    }
}

/// Where the picture has much of a colour, climbing ends with many threads of it.
#[test]
fn climbing_finds_counts_far_from_even() {
    let stripes = Painting::lattice(20, 2, 20, |row, column| {
        Some(u8::from(column == 10 && row % 4 == 2))
    });
    let few = SolvingEffort {
        steps: 20_000_000,
        ..SolvingEffort::default()
    };
    let solved = stripes.expect("a lattice").solve(&few).expect("knots");
    assert_eq!((solved.missed.len(), solved.least), (0, 0));
    assert!(solved.counts[0] > solved.counts[1]);
}

#[test]
fn little_memory_gives_the_same_knots_as_much() {
    for seed in 0..6 {
        let painting = noise_with_gaps(9, 20, 3, seed, 8);
        for closing in [Closing::Open, Closing::Closed] {
            let painting = with(&painting, &[3, 3, 3], closing.clone());
            let much = solve(&painting);
            // 1,680 orders: room for some lists of them, not for all 80 knots.
            let closed_room = if closing == Closing::Open { 0 } else { 60_000 };
            let little = SolvingEffort {
                memory_bytes: 90_000 + closed_room,
                ..SolvingEffort::default()
            };
            let solved = painting.solve(&little).expect("knots");
            assert!(solved.exact, "there is room for all orders");
            assert_eq!(solved, much);
        }
    }
}

/// More than 254 knots need larger costs, and more than that many misses can be.
#[test]
fn long_pictures_count_their_misses_in_full() {
    // Of two threads of colour 0 nothing else can ever show.
    let painting = Painting::lattice(2, 2, 1_000, |row, _| Some(u8::from(row > 100)));
    let painting = painting.expect("a lattice");
    for ends in [Closing::Open, Closing::Closed] {
        let solved = solve(&with(&painting, &[2, 0], ends));
        assert_eq!((solved.missed.len(), solved.is_proved()), (900, true));
        assert_eq!(solved.missed[0].row, 101);
    }
    // Just as many knots as fit into a byte, all of them missed, and one more.
    for rows in [254, 255] {
        let painting = Painting::lattice(2, 2, rows, |_, _| Some(1)).expect("a lattice");
        assert_eq!(misses(&painting, &[2, 0], Closing::Closed), rows);
    }
}

/// A closed search that may not look long says what it has, and bounds it.
#[test]
fn a_closed_search_cut_short_bounds_what_it_missed() {
    let mut cut = 0;
    for seed in 0..20 {
        let painting = with(&noise(7, 6, 3, seed), &[3, 2, 2], Closing::Closed);
        let best = solve(&painting);
        let short = SolvingEffort {
            starts: 1,
            ..SolvingEffort::default()
        };
        let solved = painting.solve(&short).expect("knots");
        assert!(solved.least <= best.missed.len());
        assert!(best.missed.len() <= solved.missed.len());
        shows_its_picture(&painting, &solved, 2);
        cut += usize::from(!solved.is_proved());
    }
    assert!(cut > 0, "some were cut short");
}

/// Steps bound the work, and what is found within few of them holds.
#[test]
fn no_more_steps_are_taken_than_allowed() {
    let mut unproved = 0;
    for seed in 0..8 {
        let painting = with(&noise(9, 8, 3, seed), &[3, 3, 3], Closing::Closed);
        let best = solve(&painting);
        let pass = 1_680 * places(&painting).len() as u64;
        for passes in [4, 5, 6, 8, 12, 30] {
            let few = SolvingEffort {
                steps: passes * pass,
                ..SolvingEffort::default()
            };
            let mut taken = 0;
            let solved = painting.solve_while(&few, |steps| {
                taken += steps;
                Ok::<(), hitchwork_core::Error>(())
            });
            let solved = solved.expect("some knots");
            assert!(
                solved.exact && taken <= few.steps,
                "{taken} of {}",
                few.steps
            );
            assert!(solved.least <= best.missed.len());
            assert!(best.missed.len() <= solved.missed.len());
            shows_its_picture(&painting, &solved, 2);
            unproved += usize::from(!solved.is_proved());
        }
    }
    assert!(unproved > 0, "four passes are not always enough");
}

fn by_beam(painting: &Painting, beam: usize) -> Solved {
    let effort = SolvingEffort {
        steps: 1,
        beam,
        ..SolvingEffort::default()
    };
    let solved = painting.solve(&effort).expect("knots");
    assert!(!solved.exact);
    solved
}

#[test]
fn a_beam_says_how_far_from_best_it_may_be() {
    let mut bounded = 0;
    for seed in 0..12 {
        let painting = noise(9, 10, 3, seed);
        for ends in [
            Closing::Open,
            Closing::Closed,
            Closing::Renamed(vec![1, 2, 0]),
        ] {
            let painting = with(&painting, &[3, 3, 3], ends);
            let best = solve(&painting);
            let solved = by_beam(&painting, 40);
            assert!(solved.least <= best.missed.len());
            assert!(best.missed.len() <= solved.missed.len());
            let repeats = if painting.closing == Closing::Closed {
                3
            } else {
                1
            };
            shows_its_picture(&painting, &solved, repeats);
            let (_, end) = picture_of(&solved.start, &solved.rows, 3);
            match &painting.closing {
                Closing::Closed => assert_eq!(end, solved.start),
                Closing::Renamed(_) => {
                    let renamed = solved.start.iter().map(|colour| (colour + 1) % 3);
                    assert!(renamed.eq(end));
                }
                _ => {}
            }
            bounded += solved.least;
        }
    }
    assert!(bounded > 0, "the bound is not always nothing");
}

/// Far more orders than can be counted.
#[test]
fn a_hundred_threads_are_tied_by_a_beam() {
    let painting = Painting::lattice(100, 3, 10, |row, column| {
        let leans = row.abs_diff(5);
        Some(u8::try_from((usize::from(column) + leans) / 7 % 3).expect("a colour"))
    });
    let painting = Painting {
        closing: Closing::Closed,
        ..painting.expect("a lattice")
    };
    let effort = SolvingEffort {
        beam: 20,
        ..SolvingEffort::default()
    };
    let solved = painting.solve(&effort).expect("knots");
    assert!(!solved.exact && solved.least <= solved.missed.len());
    let knots = places(&painting).len();
    assert!(
        solved.missed.len() < knots / 10,
        "{} and {}",
        solved.missed.len(),
        solved.least
    );
    shows_its_picture(&painting, &solved, 2);
}

#[test]
fn no_work_goes_on_that_nobody_wants() {
    #[derive(Debug, PartialEq)]
    struct Enough;
    impl From<hitchwork_core::Error> for Enough {
        fn from(error: hitchwork_core::Error) -> Self {
            panic!("it was not stopped: {error}")
        }
    }
    let painting = noise(9, 12, 3, 1);
    for (counts, closing, memory_bytes) in [
        (Some(vec![3, 3, 3]), Closing::Open, 400_000_000),
        (Some(vec![3, 3, 3]), Closing::Closed, 400_000_000),
        (None, Closing::Closed, 400_000_000),
        (Some(vec![3, 3, 3]), Closing::Open, 3_000),
        (Some(vec![3, 3, 3]), Closing::Closed, 3_000),
    ] {
        let painting = Painting {
            counts,
            closing,
            ..painting.clone()
        };
        let effort = SolvingEffort {
            memory_bytes,
            ..SolvingEffort::default()
        };
        let mut asked = 0;
        let all = painting.solve_while(&effort, |_| {
            asked += 1;
            Ok::<(), hitchwork_core::Error>(())
        });
        assert!(all.is_ok());
        assert!(asked > 20, "it asks often: {asked}");
        for last in [1, asked / 2, asked] {
            let mut left = last;
            let stopped = painting.solve_while(&effort, |_| {
                left -= 1;
                if left == 0 { Err(Enough) } else { Ok(()) }
            });
            assert_eq!(stopped, Err(Enough));
            assert_eq!(left, 0, "nothing is asked after the answer");
        }
    }
}

/// As few free rows as are needed bring the colours of a picture back; how many those are.
fn free_rows_needed(painting: &Painting, counts: &[u16]) -> usize {
    let fewest = |free| {
        let go_on = |_| Ok::<(), hitchwork_core::Error>(());
        painting
            .with_fewest_free_rows(free, &SolvingEffort::default(), go_on)
            .expect("free rows")
    };
    let (open, drawn) = (solve(painting).missed.len(), painting.rows.len());
    let (rows, solved) = fewest(0..=usize::from(painting.threads) + 1);
    assert_eq!(solved.missed.len(), open);
    assert_eq!(solved.rows.len(), drawn + rows);
    assert!((drawn + rows).is_multiple_of(2) && rows <= usize::from(painting.threads) + 1);
    let longer = with(&painting.with_free_rows(rows), counts, Closing::Closed);
    shows_its_picture(&longer, &solved, 3);
    if rows >= 2 {
        let shorter = painting.with_free_rows(rows - 2);
        let missed = misses(&shorter, counts, Closing::Closed);
        assert!(missed > open);
        // No more of them than are allowed, even if that is too few.
        let (most, solved) = fewest(0..=rows - 2);
        assert_eq!((most, solved.missed.len()), (rows - 2, missed));
    }
    // No fewer of them than are asked for.
    let (least, solved) = fewest(rows + 1..=rows + 8);
    assert_eq!((least, solved.missed.len()), (rows + 2, open));
    rows
}

#[test]
fn free_rows_bring_the_colours_back() {
    for seed in 0..12 {
        for (threads, counts) in [(5, &[3, 2][..]), (6, &[2, 2, 2])] {
            let colours = u8::try_from(counts.len()).expect("few");
            let noise = with(&noise(threads, 4, colours, seed), counts, Closing::Open);
            free_rows_needed(&noise, counts);
        }
    }
    // One thread goes from the left edge to the right, a column a row, and comes back as fast.
    for threads in 4..=7_u16 {
        let (counts, rows) = ([threads - 1, 1], usize::from(threads) - 1);
        let line = |row: usize, column: u16| Some(u8::from(row == usize::from(column)));
        let line = Painting::lattice(threads, 2, rows, line).expect("small");
        let line = with(&line, &counts, Closing::Open);
        let needed = free_rows_needed(&line, &counts);
        assert!(needed + 2 >= rows, "{needed} rows for {threads} threads");
    }
}

/// Two threads have all their knots in column 1, and a picture in letters has none there in every
/// second row: what stands in them would get lost.
#[test]
fn a_picture_in_letters_is_refused_on_two_threads() {
    let read = |text: &str| LatticePicture::read(text).expect("letters");
    let colours = ['a', 'b'];
    assert!(read("a\n").painting(2, &colours).is_ok());
    let error = read("a\nb\na\nb\n")
        .painting(2, &colours)
        .expect_err("b is lost");
    assert!(error.to_string().contains("column 1"), "{error}");
    assert!(read("a\n b\na\n b\n").painting(3, &colours).is_ok());
}

#[test]
fn any_picture_of_two_colours_is_tied_in_pairs() {
    for seed in 0..40 {
        let threads = 2 + u16::try_from(seed % 9).expect("small");
        let mut painting = noise_with_gaps(threads, 6, 2, seed, 4);
        painting.closing = Closing::Closed;
        let tied = painting.in_pairs().expect("two colours");
        assert!(tied.missed.is_empty() && tied.is_proved());
        shows_its_picture(&painting, &tied, 2);
        let kinds = tied.rows.iter().flat_map(Row::knots);
        assert!(kinds.into_iter().all(|knot| !knot.kind().changes_places()));
    }
}

/// The rule language says which thread shows by whether its position is odd.
#[test]
fn in_pairs_ties_what_odd_shows_and_even_shows_tie() {
    let rule = "band(9).repeat(lattice(9, 8, |row, column| \
        if (row * column) % 3 == 0 { odd_shows(column) } else { even_shows(column) }))";
    let rules = hitchwork_rules::Rules::new();
    let rule = rules.compile("flotsam", rule).expect("it can be read");
    let made = rules
        .make(&rule, &hitchwork_rules::Settings::new())
        .expect("a band");
    let painting = Painting::lattice(9, 2, 8, |row, column| {
        Some(u8::from(row * usize::from(column) % 3 != 0))
    });
    let tied = painting
        .expect("a lattice")
        .in_pairs()
        .expect("two colours");
    assert_eq!(tied.rows, made.band.repeat());
}

#[test]
fn in_pairs_wants_two_colours_by_turns() {
    let three = noise(6, 4, 3, 1).in_pairs().unwrap_err();
    assert_eq!(
        three.to_string(),
        "two colours hang by turns, and the picture has 3"
    );
    let two = noise(6, 4, 2, 1);
    let uneven = with(&two, &[4, 2], Closing::Open).in_pairs().unwrap_err();
    assert!(uneven.to_string().contains("cannot hang by turns"));
    let odd = noise(5, 4, 2, 1);
    let more_of_the_second = with(&odd, &[2, 3], Closing::Open)
        .in_pairs()
        .expect("by turns");
    assert_eq!(more_of_the_second.start, [1, 0, 1, 0, 1]);
    let renamed = with(&two, &[3, 3], Closing::Renamed(vec![1, 0])).in_pairs();
    assert!(
        renamed
            .unwrap_err()
            .to_string()
            .contains("stay in their places")
    );
}

#[test]
fn what_cannot_be_asked_is_refused_with_help() {
    let two = noise(4, 4, 2, 1);
    let refused = |painting: Painting, says: &str| {
        let error = painting.solve(&SolvingEffort::default()).unwrap_err();
        assert_eq!(error.to_string(), says);
        assert!(error.help().is_some_and(|help| !help.is_empty()));
    };
    refused(
        with(&two, &[3, 2], Closing::Open),
        "the colours have 5 threads together, and the band has 4",
    );
    refused(
        with(&two, &[4], Closing::Open),
        "there are 2 colours, and 1 counts of threads",
    );
    refused(
        with(&two, &[3, 1], Closing::Renamed(vec![1, 0])),
        "the colours cannot hang like that at the end",
    );
    refused(
        with(&two, &[2, 2], Closing::Renamed(vec![1, 1])),
        "the colours cannot hang like that at the end",
    );
    refused(
        with(&two, &[2, 2], Closing::Rearranged(vec![0, 1, 2])),
        "the colours cannot hang like that at the end",
    );
    let mut wrong = two.clone();
    wrong.rows[1][0].colour = Some(2);
    refused(
        wrong,
        "row 2, column 2 asks for colour 2 (counted from 0), and there are 2",
    );
    let mut outside = two.clone();
    outside.rows[0][0].column = Column::new(4).expect("from 1");
    refused(
        outside,
        "there is no column 4: 4 threads have columns 1 to 3",
    );
    let five = Painting {
        colours: 5,
        ..two.clone()
    };
    refused(
        five,
        "5 colours do not hang on 4 threads: each needs a thread at least",
    );
    let none = Painting { colours: 0, ..two };
    refused(none, "a picture without colours leaves nothing to show");
    // One row can exchange neighbours, and no more.
    let one_row = Painting::lattice(4, 4, 1, |_, _| None).expect("a lattice");
    refused(
        with(&one_row, &[1; 4], Closing::Rearranged(vec![1, 2, 3, 0])),
        "no way was found to tie these rows so that the colours hang at the end as they have to",
    );
}
