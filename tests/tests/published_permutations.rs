//! Permutations of threads against published figures; each file of figures in
//! `tests/published` names its source, which is repeated at the check.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Permutation, normal_form};
use hitchwork_core::row::{self, Row};
use hitchwork_tests::{by_chance, made, published};
use proptest::prelude::*;
use serde::Deserialize;

/// Lengths of cycles, the longest first, as the figures write them.
fn cycle_type(permutation: &Permutation) -> Vec<usize> {
    let mut lengths: Vec<usize> = permutation.cycles().iter().map(Vec::len).collect();
    lengths.sort_unstable_by_key(|length| std::cmp::Reverse(*length));
    lengths
}

fn image(permutation: &Permutation) -> Vec<u16> {
    let positions = 1..=u16::try_from(permutation.len()).expect("few threads");
    positions
        .map(|position| permutation.goes_to(position))
        .collect()
}

/// All arrangements of 1 to n.
fn arrangements(n: u16) -> Vec<Vec<u16>> {
    let mut all = vec![Vec::new()];
    for number in 1..=n {
        let put_in = |arrangement: &Vec<u16>| {
            (0..=arrangement.len())
                .map(|at| {
                    let mut longer = arrangement.clone();
                    longer.insert(at, number);
                    longer
                })
                .collect::<Vec<_>>()
        };
        all = all.iter().flat_map(put_in).collect();
    }
    all
}

/// Humphreys, Reflection Groups and Coxeter Groups (1990), sections 3.16 to 3.18 (from
/// memory), and two computations: see `published/swap_words.json`.
#[test]
fn words_of_exchanges() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        n: u16,
        swap_gaps: Vec<u16>,
        threads_left_to_right_after: Vec<u16>,
        image_1based: Vec<u16>,
        cycle_type: Vec<usize>,
        order: u64,
    }
    for case in published::cases::<Case>("swap_words") {
        let id = &case.id;
        // Forward and backward knots exchange places alike.
        for kind in [Kind::Forward, Kind::Backward] {
            let rows = [made::run(kind, case.swap_gaps.iter().copied())];
            let permutation = Permutation::of_rows(&rows, case.n);
            assert_eq!(
                permutation.order_after(),
                case.threads_left_to_right_after,
                "{id}"
            );
            assert_eq!(image(&permutation), case.image_1based, "{id}");
            assert_eq!(cycle_type(&permutation), case.cycle_type, "{id}");
            assert_eq!(permutation.order(), case.order, "{id}");
            let fabric = Fabric::of(&made::band(case.n, rows.to_vec(), 1));
            let hang: Vec<u16> = fabric
                .final_order()
                .iter()
                .map(|thread| thread.number())
                .collect();
            assert_eq!(hang, case.threads_left_to_right_after, "{id}");
        }
    }
}

/// Computed with sympy 1.14.0 (2025): see `published/permutations_random.json`.
#[test]
fn permutations_with_their_cycles_powers_and_inverses() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        n: u16,
        image_1based: Vec<u16>,
        cycles_1based: Vec<Vec<u16>>,
        cycle_type: Vec<usize>,
        order: u64,
        inversions: usize,
        inverse_1based: Vec<u16>,
        power_k: usize,
        power_image_1based: Vec<u16>,
    }
    for case in published::cases::<Case>("permutations_random") {
        let id = &case.id;
        let rows = made::rows_carrying(&case.image_1based, Kind::Backward);
        assert_eq!(
            rows.len(),
            case.inversions,
            "{id}: one knot for each pair out of order"
        );
        let permutation = Permutation::of_rows(&rows, case.n);
        assert_eq!(image(&permutation), case.image_1based, "{id}");
        assert_eq!(permutation.cycles(), case.cycles_1based, "{id}");
        assert_eq!(cycle_type(&permutation), case.cycle_type, "{id}");
        assert_eq!(permutation.order(), case.order, "{id}");
        let inverse = Permutation::of_rows(&row::upside_down(&rows), case.n);
        assert_eq!(image(&inverse), case.inverse_1based, "{id}");
        let times: Vec<Row> = rows
            .iter()
            .cycle()
            .take(rows.len() * case.power_k)
            .cloned()
            .collect();
        assert_eq!(
            image(&Permutation::of_rows(&times, case.n)),
            case.power_image_1based,
            "{id}"
        );
    }
}

/// Stanley, Enumerative Combinatorics vol. 1, section 1.3 (from memory), and enumeration:
/// see `published/permutation_counts.json`.
#[test]
fn how_many_permutations_close_after_so_many_repeats() {
    #[derive(Deserialize)]
    struct Case {
        n: u16,
        n_factorial: usize,
        n_cycles_count_full_cycle: usize,
        derangements: usize,
        even: usize,
        odd: usize,
        number_by_order: BTreeMap<u64, usize>,
    }
    for case in published::cases::<Case>("permutation_counts") {
        // Of more threads, one permutation stands for all with cycles of the same lengths.
        let goes_to: Vec<(Vec<u16>, usize)> = match case.n <= 7 {
            true => arrangements(case.n).into_iter().map(|it| (it, 1)).collect(),
            false => one_of_each_cycle_type(case.n),
        };
        let carried = |(goes_to, stands_for): (Vec<u16>, usize)| {
            let rows = made::rows_carrying(&goes_to, Kind::Forward);
            let knots: usize = rows.iter().map(Row::len).sum();
            (Permutation::of_rows(&rows, case.n), knots, stands_for)
        };
        let all: Vec<(Permutation, usize, usize)> = goes_to.into_iter().map(carried).collect();
        let count = |wanted: &dyn Fn(&Permutation, usize) -> bool| -> usize {
            let wanted = all.iter().filter(|(it, knots, _)| wanted(it, *knots));
            wanted.map(|(_, _, stands_for)| stands_for).sum()
        };
        assert_eq!(count(&|_, _| true), case.n_factorial);
        let mut by_order = BTreeMap::new();
        for (permutation, _, stands_for) in &all {
            *by_order.entry(permutation.order()).or_insert(0) += stands_for;
        }
        assert_eq!(by_order, case.number_by_order, "{} threads", case.n);
        assert_eq!(
            count(&|it, _| it.cycles().len() == 1),
            case.n_cycles_count_full_cycle
        );
        assert_eq!(
            count(&|it, _| it.cycles().iter().all(|cycle| cycle.len() > 1)),
            case.derangements
        );
        assert_eq!(count(&|_, knots| knots % 2 == 0), case.even);
        assert_eq!(count(&|_, knots| knots % 2 == 1), case.odd);
    }
}

/// For each way of cutting `n` into lengths of cycles, a permutation with such cycles, and
/// how many there are: n! over the product of k^m m! for m cycles of length k (Stanley, as
/// above).
fn one_of_each_cycle_type(n: u16) -> Vec<(Vec<u16>, usize)> {
    /// All lists of lengths, the longest first, that add up to `left`.
    fn lengths(left: u16, longest: u16) -> Vec<Vec<u16>> {
        if left == 0 {
            return vec![Vec::new()];
        }
        let begin = |first: u16| {
            let rest = lengths(left - first, first);
            rest.into_iter()
                .map(move |rest| [vec![first], rest].concat())
        };
        (1..=longest.min(left)).flat_map(begin).collect()
    }
    let factorial = |of: usize| (1..=of).product::<usize>();
    let of_type = |lengths: Vec<u16>| {
        let mut same: BTreeMap<usize, usize> = BTreeMap::new();
        for length in &lengths {
            *same.entry(usize::from(*length)).or_default() += 1;
        }
        let alike = |(length, times): (&usize, &usize)| {
            factorial(*times) * (0..*times).map(|_| length).product::<usize>()
        };
        let stands_for = factorial(usize::from(n)) / same.iter().map(alike).product::<usize>();
        // The cycles run through the positions in steps of 2, so that they interlace.
        let positions: Vec<u16> = (1..=n).step_by(2).chain((2..=n).step_by(2)).collect();
        let mut goes_to = vec![0; usize::from(n)];
        let mut begin = 0;
        for length in lengths.into_iter().map(usize::from) {
            let cycle = &positions[begin..begin + length];
            for (from, to) in cycle.iter().zip(cycle.iter().cycle().skip(1)) {
                goes_to[usize::from(*from) - 1] = *to;
            }
            begin += length;
        }
        (goes_to, stands_for)
    };
    lengths(n, n).into_iter().map(of_type).collect()
}

#[derive(Deserialize)]
struct Landau {
    n: u16,
    g: u64,
    witness_cycle_type: Vec<u16>,
}

/// OEIS A000793; Landau 1903.
#[test]
fn the_slowest_repeats_reach_landaus_function() {
    for case in published::cases::<Landau>("landau") {
        // Side by side, one slanted row over each group of threads.
        let mut first = 1;
        let mut columns = Vec::new();
        for length in &case.witness_cycle_type {
            columns.extend(first..first + length - 1);
            first += length;
        }
        let rows = [made::run(Kind::Forward, columns)];
        assert_eq!(
            Permutation::of_rows(&rows, case.n).order(),
            case.g,
            "{} threads",
            case.n
        );
        let report = made::report(&made::band(case.n, rows.to_vec(), 1));
        assert_eq!(report.repeats_to_close, case.g, "{} threads", case.n);
    }
}

proptest! {
    #![proptest_config(by_chance::cases(256))]

    /// OEIS A000793; Landau 1903.
    #[test]
    fn no_repeat_is_slower_than_landaus_function(
        seeds in prop::collection::vec((by_chance::kind(), any::<prop::sample::Index>()), 1..120),
    ) {
        for case in published::cases::<Landau>("landau") {
            let columns: Vec<u16> = (1..case.n).collect();
            let knots = seeds.iter().map(|(kind, index)| made::knot(*kind, *index.get(&columns)));
            let permutation = Permutation::of_rows(&[Row::new(knots)], case.n);
            prop_assert!(permutation.order() <= case.g);
        }
    }
}

/// A band that sorts: every round exchanges the neighbours of every second column that
/// hang the wrong way round. Gives the rounds, some of them empty.
fn sorting_rounds(hung: &[u16], from_column: u16, rounds: u16) -> Vec<Vec<u16>> {
    let mut hung = hung.to_vec();
    let threads = u16::try_from(hung.len()).expect("few threads");
    let round = |number: u16| {
        let first = if number.is_multiple_of(2) {
            from_column
        } else {
            3 - from_column
        };
        let mut columns = Vec::new();
        for column in (first..threads).step_by(2) {
            let left = usize::from(column) - 1;
            if hung[left] > hung[left + 1] {
                hung.swap(left, left + 1);
                columns.push(column);
            }
        }
        columns
    };
    (0..rounds).map(round).collect()
}

fn effective(rounds: &[Vec<u16>]) -> usize {
    rounds
        .iter()
        .rposition(|columns| !columns.is_empty())
        .map_or(0, |last| last + 1)
}

/// Odd-even transposition sort: Knuth, TAOCP vol. 3, section 5.3.4 (section from memory);
/// Habermann 1972: see `published/odd_even_sort_cases.json`.
#[test]
fn alternating_rows_sort_threads_hung_in_any_order() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        n: u16,
        perm: Vec<u16>,
        inversions: usize,
        rounds_starting_gap1: usize,
        rounds_starting_gap2: usize,
        exchanges_per_round_starting_gap1: Vec<usize>,
    }
    for case in published::cases::<Case>("odd_even_sort_cases") {
        let id = &case.id;
        for (from, needed) in [
            (1, case.rounds_starting_gap1),
            (2, case.rounds_starting_gap2),
        ] {
            let rounds = sorting_rounds(&case.perm, from, case.n);
            assert_eq!(effective(&rounds), needed, "{id}");
            if from == 1 {
                let exchanges: Vec<usize> = rounds.iter().map(Vec::len).collect();
                assert_eq!(exchanges, case.exchanges_per_round_starting_gap1, "{id}");
            }
            let rows: Vec<Row> = rounds
                .into_iter()
                .filter(|columns| !columns.is_empty())
                .map(|columns| made::run(Kind::Forward, columns))
                .collect();
            if rows.is_empty() {
                assert_eq!(case.inversions, 0, "{id}");
                continue;
            }
            let band = Band::new(BandParts {
                palette: made::colours(usize::from(case.n)),
                threads: case.perm.iter().map(|number| number - 1).collect(),
                repeat: rows,
                repeats: 1,
                ..BandParts::default()
            })
            .expect("a band");
            assert_eq!(band.knot_count(), case.inversions as u64, "{id}");
            let fabric = Fabric::of(&band);
            let sorted: Vec<u16> = fabric
                .final_order()
                .iter()
                .map(|thread| fabric.colour(*thread))
                .collect();
            assert_eq!(sorted, (0..case.n).collect::<Vec<_>>(), "{id}");
        }
    }
}

/// Knuth and Habermann (1972), as above, over all orders, with the numbers of pairs out of
/// order by Sloane, The On-Line Encyclopedia of Integer Sequences (1996 and later), A008302:
/// see `published/odd_even_sort_exhaustive.json`.
#[test]
fn as_many_alternating_rows_as_threads_sort_every_order() {
    #[derive(Deserialize)]
    struct Case {
        n: u16,
        max_rounds_needed_starting_gap1: usize,
        max_rounds_needed_starting_gap2: usize,
        perms_by_rounds_needed_starting_gap1: Vec<usize>,
        perms_by_rounds_needed_starting_gap2: Vec<usize>,
        mahonian_row: Vec<usize>,
    }
    for case in published::cases::<Case>("odd_even_sort_exhaustive") {
        let ways = [
            (
                1,
                &case.perms_by_rounds_needed_starting_gap1,
                case.max_rounds_needed_starting_gap1,
            ),
            (
                2,
                &case.perms_by_rounds_needed_starting_gap2,
                case.max_rounds_needed_starting_gap2,
            ),
        ];
        for (from, by_rounds, most) in ways {
            let mut counted = vec![0; usize::from(case.n) + 1];
            let mut by_knots = vec![0; case.mahonian_row.len()];
            for hung in arrangements(case.n) {
                let rounds = sorting_rounds(&hung, from, case.n);
                counted[effective(&rounds)] += 1;
                let rows: Vec<Row> = rounds
                    .into_iter()
                    .map(|columns| made::run(Kind::Backward, columns))
                    .collect();
                by_knots[rows.iter().map(Row::len).sum::<usize>()] += 1;
                // Thread p carries the number hung[p - 1], and hangs there in the end.
                assert_eq!(image(&Permutation::of_rows(&rows, case.n)), hung);
            }
            assert_eq!(&counted, by_rounds, "{} threads", case.n);
            assert_eq!(by_knots, case.mahonian_row, "{} threads", case.n);
            assert_eq!(effective_of_counts(&counted), most, "{} threads", case.n);
        }
    }
}

fn effective_of_counts(counts: &[usize]) -> usize {
    counts
        .iter()
        .rposition(|count| *count > 0)
        .expect("something was counted")
}

/// All ways of reversing `threads` threads with as few knots as can be: how many orders of
/// tying there are, and how many different fabrics.
fn reversals(threads: u16) -> (u64, usize) {
    // By the order that hangs: how many words lead there, and the fabrics they make.
    type Ways = (u64, BTreeMap<Vec<Vec<hitchwork_core::knot::Knot>>, Row>);
    let mut now: BTreeMap<Vec<u16>, Ways> = BTreeMap::new();
    let nothing = Row::new([]);
    now.insert(
        (1..=threads).collect(),
        (1, BTreeMap::from([(Vec::new(), nothing)])),
    );
    for _ in 0..threads * (threads - 1) / 2 {
        let mut next: BTreeMap<Vec<u16>, Ways> = BTreeMap::new();
        for (order, (words, fabrics)) in now {
            for column in 1..threads {
                let left = usize::from(column) - 1;
                if order[left] > order[left + 1] {
                    continue;
                }
                let knot = made::run(Kind::Forward, [column]);
                let any = fabrics.values().next().expect("a way leads here");
                let after = Permutation::of_rows(&[any.then(&knot)], threads).order_after();
                let ways = next.entry(after).or_default();
                ways.0 += words;
                for fabric in fabrics.values() {
                    let longer = fabric.then(&knot);
                    ways.1
                        .entry(normal_form(std::slice::from_ref(&longer)))
                        .or_insert(longer);
                }
            }
        }
        now = next;
    }
    let reversed: Vec<u16> = (1..=threads).rev().collect();
    assert_eq!(now.keys().collect::<Vec<_>>(), [&reversed]);
    let (words, fabrics) = &now[&reversed];
    (*words, fabrics.len())
}

/// Stanley 1984 (from memory; OEIS A005118) and OEIS A006245: see
/// `published/reversal_networks.json`.
#[test]
fn how_many_fabrics_reverse_the_threads_with_the_fewest_knots() {
    #[derive(Deserialize)]
    struct Case {
        n: u16,
        reduced_words_of_reversal: u64,
        distinct_minimal_swap_diagrams_of_reversal: usize,
    }
    let cases = published::cases::<Case>("reversal_networks");
    // OEIS A006245 as quoted in the source of the file.
    let listed = [1, 1, 2, 8, 62, 908, 24698];
    let most = cases.iter().map(|case| case.n).max().expect("cases");
    let found: Vec<(u64, usize)> = (1..=most).map(reversals).collect();
    for ((threads, found), listed) in (1..).zip(&found).zip(listed) {
        assert_eq!(found.1, listed, "{threads} threads");
    }
    for case in cases {
        let expected = (
            case.reduced_words_of_reversal,
            case.distinct_minimal_swap_diagrams_of_reversal,
        );
        assert_eq!(
            found[usize::from(case.n) - 1],
            expected,
            "{} threads",
            case.n
        );
    }
}

/// The torus link T(p, q) has gcd(p, q) components (Murasugi, Knot Theory and Its
/// Applications, from memory): see `published/braid_torus_closure.json`.
#[test]
fn a_strip_joined_to_a_ring_makes_as_many_loops_as_threads_and_rows_share() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        threads: u16,
        rows: usize,
        closed_loop_components: usize,
        strand_cycle_length: usize,
        crossings: usize,
    }
    for case in published::cases::<Case>("braid_torus_closure") {
        let rows = vec![made::run(Kind::Forward, 1..case.threads); case.rows];
        assert_eq!(
            rows.iter().map(Row::len).sum::<usize>(),
            case.crossings,
            "{}",
            case.id
        );
        let cycles = Permutation::of_rows(&rows, case.threads).cycles();
        assert_eq!(cycles.len(), case.closed_loop_components, "{}", case.id);
        assert!(
            cycles
                .iter()
                .all(|cycle| cycle.len() == case.strand_cycle_length),
            "{}",
            case.id
        );
    }
}

/// Yamanaka, Nakano, Matsui, Uehara & Nakada, Efficient enumeration of all ladder
/// lotteries, Theoretical Computer Science 411 (2010): a ladder needs as many bars as there
/// are pairs out of order, with an example; and all ladders with no more are connected by
/// local moves. Sentences of `published/papers_statements.json`.
#[test]
fn what_papers_state_about_ladders() {
    #[derive(Deserialize)]
    struct Statement {
        id: String,
        statement: String,
    }
    for statement in published::cases::<Statement>("papers_statements") {
        match statement.id.as_str() {
            "ladder-min-bars" => a_ladder_needs_a_bar_for_every_pair(&statement.statement),
            "ladder-local-moves" => {
                let (words, fabrics) = reversals(5);
                let connected = connected_by_local_moves(&[5, 4, 3, 2, 1]);
                assert_eq!(words, connected.len() as u64);
                let forms = connected.iter().map(|word| form(word));
                assert_eq!(forms.collect::<BTreeSet<_>>().len(), fabrics);
            }
            other => panic!("nobody checks what {other} states"),
        }
    }
}

/// Reads "Example (2,6,4,1,5,3): 8." out of a statement, and checks it.
fn a_ladder_needs_a_bar_for_every_pair(statement: &str) {
    let (_, example) = statement.split_once("Example (").expect("an example");
    let (goes_to, bars) = example.split_once("): ").expect("a number of bars");
    let goes_to: Vec<u16> = goes_to
        .split(',')
        .map(|number| number.trim().parse().expect("a number"))
        .collect();
    let bars: usize = bars.trim_end_matches('.').parse().expect("a number");
    let threads = u16::try_from(goes_to.len()).expect("few");
    let enough = made::rows_carrying(&goes_to, Kind::Forward);
    assert_eq!(enough.iter().map(Row::len).sum::<usize>(), bars);
    // Fewer knots do not do: everything that can be reached, knot by knot.
    let start: Vec<u16> = (1..=threads).collect();
    let mut reached = BTreeMap::from([(start, Row::new([]))]);
    let mut all: BTreeSet<Vec<u16>> = reached.keys().cloned().collect();
    for _ in 1..bars {
        let mut further = BTreeMap::new();
        for row in reached.values() {
            for column in 1..threads {
                let longer = row.then(&made::run(Kind::Forward, [column]));
                let image = image(&Permutation::of_rows(
                    std::slice::from_ref(&longer),
                    threads,
                ));
                if all.insert(image.clone()) {
                    further.insert(image, longer);
                }
            }
        }
        reached = further;
        assert!(!all.contains(goes_to.as_slice()));
    }
}

fn form(word: &[u16]) -> Vec<Vec<hitchwork_core::knot::Knot>> {
    normal_form(&[made::run(Kind::Forward, word.iter().copied())])
}

/// All words of columns that lead from one with the fewest knots to others by exchanging
/// neighbours that do not touch, which makes the same fabric, and by the local move, from
/// one, the next, the one to the next, the one, the next, which carries threads alike.
fn connected_by_local_moves(goes_to: &[u16]) -> BTreeSet<Vec<u16>> {
    let threads = u16::try_from(goes_to.len()).expect("few");
    let carries = |word: &[u16]| {
        image(&Permutation::of_rows(
            &[made::run(Kind::Forward, word.iter().copied())],
            threads,
        ))
    };
    let rows = made::rows_carrying(goes_to, Kind::Forward);
    let knots = rows.iter().flat_map(Row::knots);
    let first: Vec<u16> = knots.map(|knot| knot.column().number()).collect();
    let mut all = BTreeSet::from([first.clone()]);
    let mut to_do = vec![first];
    while let Some(word) = to_do.pop() {
        let mut others = Vec::new();
        for at in 1..word.len() {
            let mut other = word.clone();
            if word[at - 1].abs_diff(word[at]) > 1 {
                other.swap(at - 1, at);
                assert_eq!(form(&other), form(&word));
                others.push(other);
            } else if at > 1 && word[at - 2] == word[at] && word[at - 1] != word[at] {
                other[at - 2..=at].copy_from_slice(&[word[at - 1], word[at], word[at - 1]]);
                assert_ne!(form(&other), form(&word));
                others.push(other);
            }
        }
        for other in others {
            assert_eq!(carries(&other), goes_to);
            if all.insert(other.clone()) {
                to_do.push(other);
            }
        }
    }
    all
}
