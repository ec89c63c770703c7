//! The seed's stream against RFC 8439 and the reference library, and the choices made from
//! it against figures that must never change.

use hitchwork_core::chance::{Chance, Purpose, VERSION};
use hitchwork_tests::published;
use hitchwork_tests::statistics::{as_expected, chi_square_tail};
use rand_chacha::rand_core::{Rng, SeedableRng};
use rand_chacha::{ChaCha8Rng, ChaCha12Rng, ChaCha20Rng};
use serde::Deserialize;

/// One block of ChaCha, straight from RFC 8439, sections 2.1 and 2.3: the four words of
/// `tail` are the counter and the nonce, however they share the room.
fn chacha_block(rounds: usize, key: &[u8], tail: [u32; 4]) -> [u32; 16] {
    fn quarter(state: &mut [u32; 16], [a, b, c, d]: [usize; 4]) {
        for (add, xor, rotate) in [(b, d, 16), (d, b, 12), (b, d, 8), (d, b, 7)] {
            let sum = if xor == d { a } else { c };
            state[sum] = state[sum].wrapping_add(state[add]);
            state[xor] = (state[xor] ^ state[sum]).rotate_left(rotate);
        }
    }
    let word = |bytes: &[u8]| u32::from_le_bytes(bytes.try_into().expect("four bytes"));
    let mut start = [
        0x6170_7865,
        0x3320_646e,
        0x7962_2d32,
        0x6b20_6574,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
        0,
    ];
    for (state, bytes) in start[4..12].iter_mut().zip(key.chunks(4)) {
        *state = word(bytes);
    }
    start[12..].copy_from_slice(&tail);
    let mut state = start;
    for _ in 0..rounds / 2 {
        for down in [[0, 4, 8, 12], [1, 5, 9, 13], [2, 6, 10, 14], [3, 7, 11, 15]] {
            quarter(&mut state, down);
        }
        for across in [[0, 5, 10, 15], [1, 6, 11, 12], [2, 7, 8, 13], [3, 4, 9, 14]] {
            quarter(&mut state, across);
        }
    }
    for (word, before) in state.iter_mut().zip(start) {
        *word = word.wrapping_add(before);
    }
    state
}

/// RFC 8439 (Nir & Langley 2018), sections 2.1.1, 2.3.2 and appendix A.1: see
/// `published/chacha_rfc8439.json`.
#[test]
fn our_own_block_function_is_that_of_rfc_8439() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        key: String,
        counter: u32,
        nonce: String,
        keystream_block: String,
    }
    for case in published::cases::<Case>("chacha_rfc8439") {
        let nonce = published::bytes(&case.nonce);
        let mut tail = [case.counter, 0, 0, 0];
        for (word, bytes) in tail[1..].iter_mut().zip(nonce.chunks(4)) {
            *word = u32::from_le_bytes(bytes.try_into().expect("four bytes"));
        }
        let block = chacha_block(20, &published::bytes(&case.key), tail);
        let bytes: Vec<u8> = block.iter().flat_map(|word| word.to_le_bytes()).collect();
        assert_eq!(
            bytes,
            published::bytes(&case.keystream_block),
            "{}",
            case.id
        );
    }
}

/// Strombergson, draft-strombergson-chacha-test-vectors-01 (2013), with the counter and the
/// nonce of 64 bits that our streams use: see `published/chacha_strombergson.json`.
#[test]
fn our_own_block_function_is_that_of_the_test_vectors() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        key: String,
        nonce8: String,
        rounds: usize,
        keystream128: String,
    }
    for case in published::cases::<Case>("chacha_strombergson") {
        let nonce = published::bytes(&case.nonce8);
        let word = |bytes: &[u8]| u32::from_le_bytes(bytes.try_into().expect("four bytes"));
        let key = published::bytes(&case.key);
        let block = |number| {
            let tail = [number, 0, word(&nonce[..4]), word(&nonce[4..])];
            chacha_block(case.rounds, &key, tail)
        };
        let bytes: Vec<u8> = (0..2).flat_map(block).flat_map(u32::to_le_bytes).collect();
        assert_eq!(bytes, published::bytes(&case.keystream128), "{}", case.id);
    }
}

/// The words of the documented recipe, from our own block function.
fn recipe(seed: u64, count: usize) -> Vec<u64> {
    let mut key = [0; 32];
    key[..8].copy_from_slice(&seed.to_le_bytes());
    let block = |counter: u32| chacha_block(20, &key, [counter, 0, 1, 0]);
    let words = (0..).flat_map(block).collect_pairs(count);
    words
        .into_iter()
        .map(|(low, high)| u64::from(high) << 32 | u64::from(low))
        .collect()
}

trait CollectPairs: Iterator<Item = u32> + Sized {
    fn collect_pairs(mut self, count: usize) -> Vec<(u32, u32)> {
        (0..count)
            .map_while(|_| Some((self.next()?, self.next()?)))
            .collect()
    }
}

impl<I: Iterator<Item = u32>> CollectPairs for I {}

/// Our own definition: the recipe that `chance` documents, from the block function of RFC 8439
/// (2018), section 2.3, written out anew above.
#[test]
fn the_stream_of_a_seed_is_the_documented_recipe() {
    assert_eq!(
        VERSION, "hitchwork-chance/1",
        "a changed recipe needs a new name"
    );
    for seed in [0, 1, 7, 20_240_601, 1 << 40, u64::MAX] {
        let mut chance = Chance::new(seed, Purpose::Rule);
        let words: Vec<u64> = (0..100).map(|_| chance.word()).collect();
        assert_eq!(words, recipe(seed, 100), "seed {seed}");
    }
}

/// Output of rand_chacha 0.3.1 (2021), 0.9.0 (2025) and 0.10.0, which agree (years from
/// memory): see `published/rand_chacha.json`.
#[test]
fn the_library_that_makes_the_words_gives_what_its_earlier_versions_gave() {
    for case in published::cases::<LibraryCase>("rand_chacha") {
        match case.rng.as_str() {
            "ChaCha8Rng" => case.check::<ChaCha8Rng>(8),
            "ChaCha12Rng" => case.check::<ChaCha12Rng>(12),
            "ChaCha20Rng" => case.check::<ChaCha20Rng>(20),
            other => panic!("{other} is not known"),
        }
    }
}

#[derive(Deserialize)]
struct LibraryCase {
    id: String,
    rng: String,
    seed_hex: String,
    seed_u64: Option<String>,
    u32: Vec<u32>,
    u64: Vec<String>,
    fill160: Option<String>,
    stream7_fill64: Option<String>,
    wordpos1000_u32: Option<Vec<u32>>,
}

trait Seekable: Rng + SeedableRng<Seed = [u8; 32]> {
    fn stream(&mut self, number: u64);
    fn word_pos(&mut self, position: u128);
}

macro_rules! seekable {
    ($($name:ty),*) => {$(
        impl Seekable for $name {
            fn stream(&mut self, number: u64) {
                self.set_stream(number);
            }
            fn word_pos(&mut self, position: u128) {
                self.set_word_pos(position);
            }
        }
    )*};
}
seekable!(ChaCha8Rng, ChaCha12Rng, ChaCha20Rng);

impl LibraryCase {
    fn check<R: Seekable>(&self, rounds: usize) {
        let id = &self.id;
        let key: [u8; 32] = published::bytes(&self.seed_hex)
            .try_into()
            .expect("32 bytes");
        let fresh = || R::from_seed(key);
        let words =
            |rng: &mut R, count: usize| (0..count).map(|_| rng.next_u32()).collect::<Vec<_>>();
        let bytes = |rng: &mut R, count: usize| {
            let mut bytes = vec![0; count];
            rng.fill_bytes(&mut bytes);
            bytes
        };
        assert_eq!(words(&mut fresh(), self.u32.len()), self.u32, "{id}");
        let mut own = (0..).flat_map(|counter| chacha_block(rounds, &key, [counter, 0, 0, 0]));
        assert!(
            self.u32.iter().all(|word| own.next() == Some(*word)),
            "{id}: our own block function"
        );
        let mut rng = fresh();
        let doubles: Vec<String> = (0..self.u64.len())
            .map(|_| rng.next_u64().to_string())
            .collect();
        assert_eq!(doubles, self.u64, "{id}");
        if let Some(seed) = &self.seed_u64 {
            let mut seeded = R::seed_from_u64(seed.parse().expect("a 64-bit number"));
            assert_eq!(words(&mut seeded, self.u32.len()), self.u32, "{id}");
        }
        if let Some(expected) = &self.fill160 {
            assert_eq!(bytes(&mut fresh(), 160), published::bytes(expected), "{id}");
        }
        if let Some(expected) = &self.stream7_fill64 {
            let mut rng = fresh();
            rng.stream(7);
            assert_eq!(bytes(&mut rng, 64), published::bytes(expected), "{id}");
        }
        if let Some(expected) = &self.wordpos1000_u32 {
            let mut rng = fresh();
            rng.word_pos(1000);
            assert_eq!(&words(&mut rng, expected.len()), expected, "{id}");
        }
    }
}

/// Lemire 2019 over the recipe's words, written out anew.
fn below(words: &mut impl Iterator<Item = u64>, bound: u64) -> u64 {
    let unfair = (1_u128 << 64) % u128::from(bound);
    loop {
        let product = u128::from(words.next().expect("enough words")) * u128::from(bound);
        if product % (1_u128 << 64) >= unfair {
            return u64::try_from(product >> 64).expect("below the bound");
        }
    }
}

/// Lemire, Fast random integer generation in an interval, ACM Transactions on Modeling and
/// Computer Simulation 29 (2019), for numbers below a bound; Knuth, The Art of Computer
/// Programming vol. 2 (1997), section 3.4.2, algorithm P, for shuffles (both citations from
/// memory); which bits make a fraction is our own definition.
#[test]
fn choices_are_made_from_the_words_as_documented() {
    for seed in [3, 1234] {
        let mut words = recipe(seed, 4000).into_iter();
        let mut chance = Chance::new(seed, Purpose::Rule);
        // A bound just above 2^63 throws away nearly half of the words.
        for bound in [1, 2, 3, 7, 10, 200, 1 << 32, (1 << 63) + 1, u64::MAX].repeat(20) {
            assert_eq!(
                chance.below(bound),
                below(&mut words, bound),
                "seed {seed}, below {bound}"
            );
        }
        for _ in 0..20 {
            let expected = unit_bit_by_bit(words.next().expect("enough words"));
            assert!((chance.unit() - expected).abs() < f64::EPSILON / 4.0);
        }
        let mut shuffled: Vec<u32> = (1..=30).collect();
        chance.shuffle(&mut shuffled);
        let mut expected: Vec<u32> = (1..=30).collect();
        for last in (1..30).rev() {
            let other = usize::try_from(below(&mut words, last + 1)).expect("small");
            expected.swap(usize::try_from(last).expect("small"), other);
        }
        assert_eq!(shuffled, expected, "seed {seed}");
    }
}

/// The upper 53 bits of a word as a fraction of one.
fn unit_bit_by_bit(word: u64) -> f64 {
    let mut unit = 0.0;
    let mut worth = 0.5;
    for bit in (11..64).rev() {
        if word >> bit & 1 == 1 {
            unit += worth;
        }
        worth /= 2.0;
    }
    unit
}

/// Our own definition: what the recipe gives from RFC 8439 (2018), which the checks above hold
/// for other seeds; these figures only hold the recipe still.
#[test]
fn a_seed_makes_the_same_choices_for_ever() {
    let mut chance = Chance::new(7, Purpose::Rule);
    let rolls: Vec<u64> = (0..12).map(|_| chance.below(6) + 1).collect();
    let units: Vec<String> = (0..3).map(|_| chance.unit().to_string()).collect();
    let mut order: Vec<u32> = (1..=10).collect();
    chance.shuffle(&mut order);
    let picked = *chance
        .pick(&["ebb", "flood", "slack"])
        .expect("three to pick from");
    // The same choices follow from RFC 8439 by the recipe; see the checks above.
    assert_eq!(rolls, [6, 2, 4, 3, 6, 6, 1, 4, 6, 2, 3, 6]);
    let expected = [
        "0.9037101244947356",
        "0.5690766901856772",
        "0.6158441198982434",
    ];
    assert_eq!(units, expected);
    assert_eq!(order, [9, 10, 2, 4, 7, 1, 8, 6, 3, 5]);
    assert_eq!(picked, "slack");
}

/// A chance lies from 0 to 1, and what is certain has 1: Kolmogorov, Grundbegriffe der
/// Wahrscheinlichkeitsrechnung (1933), chapter I, axioms (from memory). That nothing lies
/// below 0, so that 0 comes out, is our own definition.
#[test]
fn small_bounds_and_certain_chances() {
    let mut chance = Chance::new(1, Purpose::Rule);
    assert_eq!(chance.below(0), 0);
    assert_eq!(chance.below(1), 0);
    assert!(chance.happens(1.0).expect("1 is a chance"));
    assert!(!chance.happens(0.0).expect("0 is a chance"));
    for absurd in [-0.1, 1.1, f64::NAN, f64::INFINITY] {
        assert!(chance.happens(absurd).is_err(), "{absurd}");
    }
    assert!(chance.pick::<u8>(&[]).is_err());
}

/// Upper-tail critical values of chi-square (NIST/SEMATECH e-Handbook 1.3.6.7.4, from
/// memory; recomputed): see `published/chi_square_critical.json`. They are given to six
/// decimals; the density at the value says how much of the chance that is.
#[test]
fn the_tail_of_chi_square_is_that_of_the_tables() {
    #[derive(Deserialize)]
    struct Case {
        df: usize,
        #[serde(rename = "p0.05")]
        one_in_twenty: f64,
        #[serde(rename = "p0.01")]
        one_in_a_hundred: f64,
        #[serde(rename = "p0.001")]
        one_in_a_thousand: f64,
        #[serde(rename = "p0.0001")]
        one_in_ten_thousand: f64,
    }
    for case in published::cases::<Case>("chi_square_critical") {
        let published = [
            (0.05, case.one_in_twenty),
            (0.01, case.one_in_a_hundred),
            (0.001, case.one_in_a_thousand),
            (0.0001, case.one_in_ten_thousand),
        ];
        for (chance, square) in published {
            let found = chi_square_tail(square, case.df);
            assert!(
                (found / chance - 1.0).abs() <= 1e-6,
                "{} degrees at {square}: {found}",
                case.df
            );
        }
    }
    // With two degrees the tail is exp(-square/2) exactly, as far out as one looks.
    for square in [0.1, 1.0, 3.0, 27.631_021, 60.0] {
        let exact = libm::exp(-square / 2.0);
        assert!((chi_square_tail(square, 2) / exact - 1.0).abs() <= 1e-12);
    }
}

/// Pearson's test of counts, Philosophical Magazine 50 (1900) 157-175 (citation from memory):
/// chi-square against equal shares, whose tail the check above holds against the tables.
#[test]
fn rolls_and_shuffles_are_even() {
    const SEEDS: std::ops::RangeInclusive<u64> = 1..=4;
    const OUTCOMES: [usize; 14] = [2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 16, 31, 64, 256];
    let comparisons = 2 * OUTCOMES.len() * SEEDS.count();
    for (outcomes, seed) in OUTCOMES
        .into_iter()
        .flat_map(|outcomes| SEEDS.map(move |seed| (outcomes, seed)))
    {
        let mut chance = Chance::new(seed, Purpose::Rule);
        let mut rolled = vec![0_u32; outcomes];
        let mut first_of_shuffled = vec![0_u32; outcomes];
        for _ in 0..60 * outcomes {
            rolled[usize::try_from(chance.below(outcomes as u64)).expect("small")] += 1;
            let mut order: Vec<usize> = (0..outcomes).collect();
            chance.shuffle(&mut order);
            first_of_shuffled[order[0]] += 1;
        }
        #[allow(clippy::cast_precision_loss, reason = "few outcomes")]
        let each = vec![1.0 / outcomes as f64; outcomes];
        for counts in [rolled, first_of_shuffled] {
            as_expected(&counts, &each, comparisons);
        }
    }
}
