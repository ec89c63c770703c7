//! Fabrics as heaps of pieces against published counts and examples; each file of figures
//! in `tests/published` names its source, which is repeated at the check.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Kind, Knot};
use hitchwork_core::proof::normal_form;
use hitchwork_core::row::Row;
use hitchwork_tests::{made, published};
use serde::Deserialize;

type Layers = Vec<Vec<Knot>>;

fn columns(layers: &Layers) -> Vec<Vec<u16>> {
    let numbers = |layer: &Vec<Knot>| layer.iter().map(|knot| knot.column().number()).collect();
    layers.iter().map(numbers).collect()
}

fn form_of(word: &[u16]) -> Layers {
    normal_form(&[made::run(Kind::Forward, word.iter().copied())])
}

/// Every word that exchanging neighbours in columns more than one apart leads to.
fn exchanged(word: &[u16]) -> BTreeSet<Vec<u16>> {
    let mut all = BTreeSet::from([word.to_vec()]);
    let mut to_do = vec![word.to_vec()];
    while let Some(word) = to_do.pop() {
        for at in 1..word.len() {
            if word[at - 1].abs_diff(word[at]) > 1 {
                let mut other = word.clone();
                other.swap(at - 1, at);
                if all.insert(other.clone()) {
                    to_do.push(other);
                }
            }
        }
    }
    all
}

/// Cartier & Foata 1969; Viennot 1986: see `published/foata_examples.json`.
#[test]
fn normal_forms_of_words() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        threads: u16,
        word: Vec<u16>,
        an_equivalent_word: Vec<u16>,
        foata_layers: Vec<Vec<u16>>,
        rows: usize,
        lexicographically_least_word: Vec<u16>,
        tying_orders: usize,
    }
    for case in published::cases::<Case>("foata_examples") {
        let id = &case.id;
        let form = form_of(&case.word);
        assert_eq!(columns(&form), case.foata_layers, "{id}");
        assert_eq!(form.len(), case.rows, "{id}");
        assert_eq!(form, form_of(&case.an_equivalent_word), "{id}");
        assert_eq!(form, form_of(&case.lexicographically_least_word), "{id}");
        assert_eq!(tying_orders(&form), case.tying_orders, "{id}");
        assert_eq!(
            first_to_tie(&form),
            case.lexicographically_least_word,
            "{id}"
        );
        // The same by trying, where that does not take too long.
        if case.tying_orders <= 4000 {
            let all = exchanged(&case.word);
            assert_eq!(all.len(), case.tying_orders, "{id}");
            assert_eq!(
                all.first(),
                Some(&case.lexicographically_least_word),
                "{id}"
            );
            assert!(all.iter().all(|word| form_of(word) == form), "{id}");
        }
        // The fabric's levels tell the same: a knot lies at least as high as its layer.
        let band = made::band(case.threads, vec![made::run(Kind::Forward, case.word)], 1);
        let highest = Fabric::of(&band).knots().map(|knot| knot.level).max();
        assert!(
            highest.is_some_and(|level| level as usize + 1 >= case.rows),
            "{id}"
        );
    }
}

/// What of a fabric may be tied next, when so many knots of each column are tied.
fn may_follow(knots: &[u16], tied: &[usize]) -> Vec<u16> {
    let mut waits_for: Vec<usize> = vec![0; tied.len()];
    let mut free = Vec::new();
    for column in knots.iter().map(|column| usize::from(*column)) {
        // A knot waits for all that lie below it in its column and in those beside it.
        let touching = column - 1..=column + 1;
        let is_next = waits_for[column] == tied[column];
        if is_next
            && touching
                .into_iter()
                .all(|beside| waits_for[beside] <= tied[beside])
        {
            free.push(u16::try_from(column).expect("few columns"));
        }
        waits_for[column] += 1;
    }
    free
}

/// The columns of a fabric's knots in an order in which they can be tied, and how many
/// columns there are room for.
fn flattened(form: &Layers) -> (Vec<u16>, usize) {
    let knots: Vec<u16> = columns(form).concat();
    let room = usize::from(knots.iter().copied().max().unwrap_or(0)) + 2;
    (knots, room)
}

/// In how many orders a fabric can be tied: by how many of its knots are tied in each
/// column, one knot after the other.
fn tying_orders(form: &Layers) -> usize {
    let (knots, room) = flattened(form);
    let mut ways = BTreeMap::from([(vec![0; room], 1_usize)]);
    for _ in &knots {
        let mut after = BTreeMap::new();
        for (tied, count) in ways {
            for column in may_follow(&knots, &tied) {
                let mut tied = tied.clone();
                tied[usize::from(column)] += 1;
                *after.entry(tied).or_insert(0) += count;
            }
        }
        ways = after;
    }
    ways.into_values().sum()
}

/// The order of tying that always goes on as far to the left as can be.
fn first_to_tie(form: &Layers) -> Vec<u16> {
    let (knots, room) = flattened(form);
    let mut tied = vec![0; room];
    let next = |_: &u16| {
        let free = may_follow(&knots, &tied);
        let column = *free.iter().min().expect("not all are tied");
        tied[usize::from(column)] += 1;
        column
    };
    knots.iter().map(next).collect()
}

/// How many fabrics are built.
const MOST_FABRICS: usize = 20_000;

/// All fabrics of no knot, of one, of two and so on in so many columns, of the given kinds,
/// built by adding a knot on top of all that have one knot less; as long as the file gives
/// counts that are not too large. What is passed over is noted.
fn built(
    case: &str,
    gaps: u16,
    kinds: &[Kind],
    counts: &[usize],
    passed_over: &mut Vec<String>,
) -> Vec<BTreeMap<Layers, Row>> {
    let letters: Vec<Row> = (1..=gaps)
        .flat_map(|column| kinds.iter().map(move |kind| made::run(*kind, [column])))
        .collect();
    let mut all = vec![BTreeMap::from([(Vec::new(), Row::new([]))])];
    for (knots, count) in counts.iter().enumerate().skip(1) {
        if *count > MOST_FABRICS {
            passed_over.push(format!("{case}, from {knots} knots"));
            break;
        }
        let taller = |fabric: &Row| {
            let fabric = fabric.clone();
            letters.iter().map(move |letter| {
                let taller = fabric.then(letter);
                (normal_form(std::slice::from_ref(&taller)), taller)
            })
        };
        let next = all[knots - 1].values().flat_map(taller).collect();
        all.push(next);
    }
    all
}

/// Cartier & Foata 1969; Viennot 1986 (formula from memory), with three counts: see
/// `published/heaps_counts.json`.
#[test]
fn how_many_fabrics_so_many_knots_make() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        gaps: u16,
        heaps_by_pieces: Vec<usize>,
        heaps_by_pieces_and_height_m0_to_8: Vec<Vec<usize>>,
        knot_diagrams_4_types_by_knots: Vec<usize>,
    }
    let (mut passed_over, mut passed_over_of_four) = (Vec::new(), Vec::new());
    for case in published::cases::<Case>("heaps_counts") {
        let (id, counts) = (&case.id, &case.heaps_by_pieces);
        let all = built(id, case.gaps, &[Kind::Forward], counts, &mut passed_over);
        for (knots, fabrics) in all.iter().enumerate() {
            assert_eq!(fabrics.len(), counts[knots], "{id}, {knots} knots");
            let mut by_height = BTreeMap::<usize, usize>::new();
            for layers in fabrics.keys() {
                *by_height.entry(layers.len()).or_default() += 1;
            }
            // Heights are given up to eight knots.
            let Some(heights) = case.heaps_by_pieces_and_height_m0_to_8.get(knots) else {
                assert!(knots > 8, "{id}");
                continue;
            };
            let expected: BTreeMap<usize, usize> = (0..)
                .zip(heights.iter().copied())
                .filter(|(_, count)| *count > 0)
                .collect();
            assert_eq!(by_height, expected, "{id}, {knots} knots");
        }
        let counts = &case.knot_diagrams_4_types_by_knots;
        let all = built(id, case.gaps, &Kind::ALL, counts, &mut passed_over_of_four);
        for (knots, fabrics) in all.iter().enumerate() {
            assert_eq!(fabrics.len(), counts[knots], "{id}, {knots} knots");
        }
    }
    let only = published::only_those_left_out;
    only("heaps_counts", "building fabrics of one kind", passed_over);
    only(
        "heaps_counts",
        "building fabrics of four kinds",
        passed_over_of_four,
    );
}

/// Every fabric of so many knots with a single lowest one, in column `knots`, wide enough
/// for all; built by adding one knot on top at a time.
fn pyramids(knots: u16) -> BTreeSet<Layers> {
    let mut all = BTreeMap::from([(form_of(&[knots]), vec![knots])]);
    for _ in 1..knots {
        let mut taller = BTreeMap::new();
        for word in all.values() {
            for column in 1..2 * knots {
                let mut word = word.clone();
                word.push(column);
                let form = form_of(&word);
                if form[0].len() == 1 {
                    taller.insert(form, word);
                }
            }
        }
        all = taller;
    }
    all.into_keys().collect()
}

/// Viennot 1986; Durhuus & Eilers, arXiv:0902.2274; the counts C(2m - 1, m) and Catalan(m)
/// from memory, and by enumeration: see `published/heaps_pyramids.json`.
#[test]
fn how_many_fabrics_stand_on_a_single_knot() {
    #[derive(Deserialize)]
    struct Case {
        pieces: u16,
        pyramids: usize,
        half_pyramids: usize,
    }
    for case in published::cases::<Case>("heaps_pyramids") {
        let all = pyramids(case.pieces);
        assert_eq!(all.len(), case.pyramids, "{} knots", case.pieces);
        let leans_right = |layers: &&Layers| {
            layers
                .iter()
                .flatten()
                .all(|knot| knot.column().number() >= case.pieces)
        };
        assert_eq!(
            all.iter().filter(leans_right).count(),
            case.half_pyramids,
            "{} knots",
            case.pieces
        );
    }
}
