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
    let mut closed = 0;
    for case in published::cases::<Case>("foata_examples") {
        let id = &case.id;
        let form = form_of(&case.word);
        assert_eq!(columns(&form), case.foata_layers, "{id}");
        assert_eq!(form.len(), case.rows, "{id}");
        assert_eq!(form, form_of(&case.an_equivalent_word), "{id}");
        assert_eq!(form, form_of(&case.lexicographically_least_word), "{id}");
        if case.tying_orders <= 4000 {
            closed += 1;
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
    assert!(closed >= 20, "most cases have few enough orders to try");
}

/// Every fabric of so many knots in so many columns, of the given kinds, from all words.
fn fabrics(gaps: u16, knots: u32, kinds: &[Kind]) -> BTreeSet<Layers> {
    let letters: Vec<Knot> = (1..=gaps)
        .flat_map(|column| kinds.iter().map(move |kind| made::knot(*kind, column)))
        .collect();
    let words = letters.len().pow(knots);
    let word = |mut number: usize| {
        (0..knots)
            .map(|_| {
                let letter = letters[number % letters.len()];
                number /= letters.len();
                letter
            })
            .collect::<Vec<_>>()
    };
    (0..words)
        .map(|number| normal_form(&[Row::new(word(number))]))
        .collect()
}

/// Cartier & Foata 1969; Viennot 1986 (formula from memory), with three counts: see
/// `published/heaps_counts.json`.
#[test]
fn how_many_fabrics_so_many_knots_make() {
    const MOST_WORDS: u64 = 20_000;
    #[derive(Deserialize)]
    struct Case {
        gaps: u16,
        heaps_by_pieces: Vec<usize>,
        heaps_by_pieces_and_height_m0_to_8: Vec<Vec<usize>>,
        knot_diagrams_4_types_by_knots: Vec<usize>,
    }
    let few = |letters: u16, knots: &u32| u64::from(letters).pow(*knots) <= MOST_WORDS;
    for case in published::cases::<Case>("heaps_counts") {
        for knots in (0..=8).take_while(|knots| few(case.gaps, knots)) {
            let all = fabrics(case.gaps, knots, &[Kind::Forward]);
            let at = knots as usize;
            assert_eq!(
                all.len(),
                case.heaps_by_pieces[at],
                "{} columns, {knots} knots",
                case.gaps
            );
            let mut by_height = BTreeMap::<usize, usize>::new();
            for layers in &all {
                *by_height.entry(layers.len()).or_default() += 1;
            }
            let expected = (0..).zip(&case.heaps_by_pieces_and_height_m0_to_8[at]);
            let expected: BTreeMap<usize, usize> = expected
                .filter(|(_, count)| **count > 0)
                .map(|(height, count)| (height, *count))
                .collect();
            assert_eq!(by_height, expected, "{} columns, {knots} knots", case.gaps);
        }
        for knots in (0..=4).take_while(|knots| few(4 * case.gaps, knots)) {
            let all = fabrics(case.gaps, knots, &Kind::ALL);
            let expected = case.knot_diagrams_4_types_by_knots[knots as usize];
            assert_eq!(all.len(), expected, "{} columns, {knots} knots", case.gaps);
        }
    }
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
