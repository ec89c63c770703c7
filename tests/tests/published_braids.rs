//! Rows as braids, against published pairs of words; `tests/published/braid_pairs.json`
//! names its source, which is repeated at the check.

use hitchwork_core::knot::Kind;
use hitchwork_core::proof::Permutation;
use hitchwork_core::row::Row;
use hitchwork_tests::{made, published};
use serde::Deserialize;

#[derive(Deserialize)]
struct Pair {
    id: String,
    strands: u16,
    word_a: Vec<i16>,
    word_b: Vec<i16>,
    equal_as_braids: bool,
    final_threads_a: Vec<u16>,
    final_threads_b: Vec<u16>,
    same_permutation: bool,
}

/// A crossing i, the thread at position i over that at i + 1, is a forward knot there:
/// its working thread passes over. The opposite crossing is a backward knot.
fn rows(word: &[i16]) -> Vec<Row> {
    let knot = |crossing: &i16| {
        let kind = if *crossing > 0 {
            Kind::Forward
        } else {
            Kind::Backward
        };
        made::run(kind, [crossing.unsigned_abs()])
    };
    word.iter().map(knot).collect()
}

/// Artin, Theory of braids, Annals of Mathematics 48 (1947) 101-126; Garside (1969) for
/// the half twist.
#[test]
fn rows_that_are_equal_as_braids_carry_every_thread_to_the_same_place() {
    for pair in published::cases::<Pair>("braid_pairs") {
        let of = |word: &[i16]| Permutation::of_rows(&rows(word), pair.strands);
        let (a, b) = (of(&pair.word_a), of(&pair.word_b));
        assert_eq!(a.order_after(), pair.final_threads_a, "{}", pair.id);
        assert_eq!(b.order_after(), pair.final_threads_b, "{}", pair.id);
        assert_eq!(a == b, pair.same_permutation, "{}", pair.id);
        if pair.equal_as_braids {
            assert_eq!(a, b, "{}", pair.id);
        }
    }
}

/// Artin (1947), as above: the inverse of a word is that of its crossings, last one first.
///
/// Inverting every knot of a word gives the opposite crossings in the same columns, and
/// reading that from the finish gives the inverse braid: both come back to the start.
#[test]
fn a_word_and_its_inverse_bring_every_thread_back() {
    for pair in published::cases::<Pair>("braid_pairs") {
        let there = rows(&pair.word_a);
        let inverse: Vec<i16> = pair.word_a.iter().rev().map(|crossing| -crossing).collect();
        let both = [there, rows(&inverse)].concat();
        assert_eq!(
            Permutation::of_rows(&both, pair.strands).order(),
            1,
            "{}",
            pair.id
        );
    }
}
