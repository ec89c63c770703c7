//! How well two rings of numbers fit on each other at every turn, found for all turns at once.
//!
//! By the convolution theorem, with a transform over the whole numbers modulo a prime instead
//! of Fourier's over the complex ones, so that nothing is rounded (Pollard 1971). The prime is
//! 2^64 - 2^32 + 1, modulo which there are roots of unity of every order that a band can need.

/// 2^64 - 2^32 + 1.
const PRIME: u64 = 0xffff_ffff_0000_0001;

/// What 2^64 is modulo the prime.
const WRAPPED: u64 = 0xffff_ffff;

/// A number of which the powers are all numbers but 0.
const GENERATOR: u64 = 7;

fn add(a: u64, b: u64) -> u64 {
    let (sum, wrapped) = a.overflowing_add(b);
    if wrapped || sum >= PRIME {
        sum.wrapping_sub(PRIME)
    } else {
        sum
    }
}

fn subtract(a: u64, b: u64) -> u64 {
    let (difference, wrapped) = a.overflowing_sub(b);
    if wrapped {
        difference.wrapping_add(PRIME)
    } else {
        difference
    }
}

#[allow(clippy::cast_possible_truncation, reason = "the halves of the product")]
fn multiply(a: u64, b: u64) -> u64 {
    let product = u128::from(a) * u128::from(b);
    let (low, high) = (product as u64, (product >> 64) as u64);
    // 2^64 is 2^32 - 1, and 2^96 is -1.
    let (middle, top) = (high & WRAPPED, high >> 32);
    let low = if low >= PRIME { low - PRIME } else { low };
    add(subtract(low, top), middle * WRAPPED)
}

fn power(base: u64, mut exponent: u64) -> u64 {
    let (mut square, mut result) = (base, 1);
    while exponent > 0 {
        if exponent & 1 == 1 {
            result = multiply(result, square);
        }
        square = multiply(square, square);
        exponent >>= 1;
    }
    result
}

/// Sums of products of the numbers of two rings, for all ways in which one may be turned
/// against the other.
pub(super) struct Correlation {
    length: usize,
    /// Powers of a root of unity of the order of the transform: half of them.
    roots: Vec<u64>,
    /// The transform of what has been added up.
    sum: Vec<u64>,
}

impl Correlation {
    /// Of rings of this many numbers.
    pub(super) fn of_length(length: usize) -> Self {
        let size = (2 * length).next_power_of_two().max(2);
        let root = power(GENERATOR, (PRIME - 1) / size as u64);
        let roots = std::iter::successors(Some(1), |power| Some(multiply(*power, root)));
        Self {
            length,
            roots: roots.take(size / 2).collect(),
            sum: vec![0; size],
        }
    }

    /// Adds two rings. All products of all that is added must together stay below the prime.
    pub(super) fn add(&mut self, still: &[u64], turned: &[u64]) {
        let size = self.sum.len();
        let padded = |numbers: &mut dyn Iterator<Item = &u64>| {
            let mut padded: Vec<u64> = numbers.copied().collect();
            padded.resize(size, 0);
            padded
        };
        let mut still = padded(&mut still.iter().rev());
        let mut turned = padded(&mut turned.iter());
        transform(&mut still, &self.roots);
        transform(&mut turned, &self.roots);
        for (sum, (one, other)) in self.sum.iter_mut().zip(still.iter().zip(&turned)) {
            *sum = add(*sum, multiply(*one, *other));
        }
    }

    /// For every turn from 0 on, the sum over all places of the number there in the ring that
    /// stands still, times the number this many places further on in the other.
    pub(super) fn sums(mut self) -> Vec<u64> {
        // The inverse transform is the transform read backwards, divided by its size.
        transform(&mut self.sum, &self.roots);
        self.sum[1..].reverse();
        let divided = power(self.sum.len() as u64, PRIME - 2);
        let mut sums = vec![0; self.length];
        for (at, sum) in self.sum.iter().enumerate().take(2 * self.length) {
            let turn = (at + 1) % self.length;
            sums[turn] = add(sums[turn], multiply(*sum, divided));
        }
        sums
    }
}

/// The transform in place, by halves (Cooley and Tukey 1965).
fn transform(numbers: &mut [u64], roots: &[u64]) {
    let size = numbers.len();
    let bits = size.trailing_zeros();
    for at in 0..size {
        let swapped = at.reverse_bits() >> (usize::BITS - bits);
        if at < swapped {
            numbers.swap(at, swapped);
        }
    }
    let mut half = 1;
    while half < size {
        let stride = size / (2 * half);
        for block in numbers.chunks_exact_mut(2 * half) {
            let (low, high) = block.split_at_mut(half);
            for (at, (low, high)) in low.iter_mut().zip(high).enumerate() {
                let turned = multiply(*high, roots[at * stride]);
                (*low, *high) = (add(*low, turned), subtract(*low, turned));
            }
        }
        half *= 2;
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::{Correlation, PRIME, multiply};

    proptest! {
        #[test]
        fn products_are_those_of_long_division(a in 0..PRIME, b in 0..PRIME) {
            let long = u128::from(a) * u128::from(b) % u128::from(PRIME);
            prop_assert_eq!(u128::from(multiply(a, b)), long);
        }

        #[test]
        fn all_turns_at_once_are_what_each_is_alone(
            pairs in prop::collection::vec((0..100_u64, 0..100_u64), 1..40), twice in any::<bool>(),
        ) {
            let (still, turned): (Vec<u64>, Vec<u64>) = pairs.into_iter().unzip();
            let length = still.len();
            let mut correlation = Correlation::of_length(length);
            let times = 1 + u64::from(twice);
            for _ in 0..times {
                correlation.add(&still, &turned);
            }
            let one = |turn: usize| {
                let product = |at: usize| still[at] * turned[(at + turn) % length];
                times * (0..length).map(product).sum::<u64>()
            };
            prop_assert_eq!(correlation.sums(), (0..length).map(one).collect::<Vec<_>>());
        }
    }

    #[test]
    fn the_largest_numbers_multiply_too() {
        assert_eq!(multiply(PRIME - 1, PRIME - 1), 1);
    }
}
