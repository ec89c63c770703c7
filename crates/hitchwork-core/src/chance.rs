//! Chance that lasts: the same seed always gives the same choices, on every machine.
//!
//! The words come from ChaCha20 (RFC 8439) and are turned into choices here and nowhere
//! else, so that no new version of a dependency changes what a seed makes. The recipe has
//! a [name](VERSION) that is stored with every band; a change of the recipe gets a new
//! one.

mod nearby;
mod random_rows;

pub use nearby::{NEARBY_VERSION, nearby};
use rand_chacha::ChaCha20Rng;
use rand_chacha::rand_core::{Rng, SeedableRng};
pub use random_rows::{Prepared, RANDOM_ROWS_VERSION, RandomRows};

use crate::error::{Error, Problem};

/// The name of this recipe.
pub const VERSION: &str = "hitchwork-chance/1";

/// What the chance is for. Streams of different purposes do not depend on each other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Purpose {
    /// The choices that a rule makes.
    Rule,
    /// The choices that a rule makes when another rule calls it: the calls of one run are
    /// numbered from 1, in the order in which they begin.
    RuleWithin {
        /// The number of the call.
        call: u32,
    },
    /// The choices for one member of a search or a collection; members are numbered from 1.
    Member {
        /// The number of the member.
        number: u32,
    },
}

impl Purpose {
    /// The stream's number; part of the recipe, never to be changed.
    const fn stream(self) -> u64 {
        match self {
            Self::Rule => 1,
            Self::RuleWithin { call } => (1 << 32) | call as u64,
            Self::Member { number } => (2 << 32) | number as u64,
        }
    }
}

/// A stream of choices.
///
/// The recipe: ChaCha20 whose 32-byte key is the seed as 8 bytes, least significant
/// first, and 24 zero bytes, with the purpose as stream number, read in 64-bit words.
///
/// ```
/// use hitchwork_core::chance::{Chance, Purpose};
/// let mut one = Chance::new(7, Purpose::Rule);
/// let mut same = Chance::new(7, Purpose::Rule);
/// assert_eq!(one.below(1000), same.below(1000));
/// ```
#[derive(Clone, Debug)]
pub struct Chance {
    words: ChaCha20Rng,
}

impl Chance {
    /// The stream of a seed for a purpose.
    #[must_use]
    pub fn new(seed: u64, purpose: Purpose) -> Self {
        let mut key = [0; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        let mut words = ChaCha20Rng::from_seed(key);
        words.set_stream(purpose.stream());
        Self { words }
    }

    /// The next word of the stream, from which all choices are made.
    pub fn word(&mut self) -> u64 {
        self.words.next_u64()
    }

    /// Whether nothing has been left to it yet.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose};
    /// let mut chance = Chance::new(7, Purpose::Rule);
    /// assert!(chance.is_untouched());
    /// chance.below(6);
    /// assert!(!chance.is_untouched());
    /// ```
    #[must_use]
    pub fn is_untouched(&self) -> bool {
        self.words.get_word_pos() == 0
    }

    /// A whole number from 0 up to but not including `bound`, all equally likely; 0 when
    /// the bound is 0.
    ///
    /// The high half of word x bound, where words whose low half falls short of
    /// 2^64 mod bound are thrown away (Lemire 2019).
    pub fn below(&mut self, bound: u64) -> u64 {
        if bound == 0 {
            return 0;
        }
        loop {
            let product = u128::from(self.word()) * u128::from(bound);
            let low = u64::try_from(product & u128::from(u64::MAX)).expect("masked to 64 bits");
            // What is unfair is always below the bound, and only there is it worth a division.
            if low >= bound || low >= bound.wrapping_neg() % bound {
                return u64::try_from(product >> 64).expect("the high half of a 128-bit number");
            }
        }
    }

    /// A number from 0 up to but not including 1: the upper 53 bits of a word over 2^53.
    #[allow(clippy::cast_precision_loss, reason = "53 bits fit a double exactly")]
    pub fn unit(&mut self) -> f64 {
        (self.word() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Yes with the given probability.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose};
    /// let mut chance = Chance::new(7, Purpose::Rule);
    /// assert!(chance.happens(1.0)? && !chance.happens(0.0)?);
    /// assert!(chance.happens(1.5).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the probability is not a number from 0 to 1.
    pub fn happens(&mut self, probability: f64) -> Result<bool, Error> {
        if !(0.0..=1.0).contains(&probability) {
            return Err(Problem::Chance { found: probability }.into());
        }
        Ok(self.unit() < probability)
    }

    /// One of the things, all equally likely.
    ///
    /// ```
    /// use hitchwork_core::chance::{Chance, Purpose};
    /// let mut chance = Chance::new(7, Purpose::Rule);
    /// assert!(["ebb", "flood"].contains(chance.pick(&["ebb", "flood"])?));
    /// assert!(chance.pick::<u8>(&[]).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there is nothing to choose from.
    pub fn pick<'a, T>(&mut self, things: &'a [T]) -> Result<&'a T, Error> {
        if things.is_empty() {
            return Err(Problem::ChooseFromNothing.into());
        }
        let at = self.below(things.len() as u64);
        Ok(&things[usize::try_from(at).expect("below a length")])
    }

    /// Puts the things into an order, all orders equally likely: from the last place down
    /// to the second, each place is exchanged with one at or before it (Fisher & Yates in
    /// Durstenfeld's form, 1964).
    pub fn shuffle<T>(&mut self, things: &mut [T]) {
        for last in (1..things.len()).rev() {
            let other = usize::try_from(self.below(last as u64 + 1)).expect("below a length");
            things.swap(last, other);
        }
    }
}
