//! Whether counts are what their probabilities let expect. A fair generator fails a test
//! that uses this about once in a million seeds, however many comparisons the test makes;
//! and as seeds are fixed, it fails never or always.

/// How often a fair generator may fail a whole test.
pub const FAILS_FAIR: f64 = 1e-6;

/// The chance that chi-square with so many degrees of freedom is at least this large: the
/// regularised upper incomplete gamma function Q(degrees/2, square/2), by its series below
/// the mean and by its continued fraction (in Lentz's way) above (NIST Digital Library of
/// Mathematical Functions, 8.7.1 and 8.9.2, from memory; held against published critical
/// values by `tests/published_chance.rs`).
#[must_use]
pub fn chi_square_tail(square: f64, degrees: usize) -> f64 {
    #[allow(clippy::cast_precision_loss, reason = "few outcomes")]
    let (a, x) = (degrees as f64 / 2.0, square / 2.0);
    if x <= 0.0 {
        return 1.0;
    }
    let scale = libm::exp(a * libm::log(x) - x - libm::lgamma(a));
    if x < a + 1.0 {
        let (mut term, mut sum, mut n) = (1.0 / a, 1.0 / a, a);
        while term > sum * 1e-17 {
            n += 1.0;
            term *= x / n;
            sum += term;
        }
        return 1.0 - scale * sum;
    }
    let mut b = x + 1.0 - a;
    let (mut c, mut d) = (f64::MAX, 1.0 / b);
    let mut fraction = d;
    for i in 1..10_000 {
        let i = f64::from(i);
        let factor = -i * (i - a);
        b += 2.0;
        d = 1.0 / (factor * d + b);
        c = b + factor / c;
        fraction *= c * d;
        if (c * d - 1.0).abs() < 1e-15 {
            break;
        }
    }
    scale * fraction
}

/// Checks counts of outcomes against their probabilities, in a test that makes so many
/// comparisons.
///
/// # Panics
/// When a fair generator would give such counts more seldom than [`FAILS_FAIR`] allows.
pub fn as_expected(found: &[u32], probabilities: &[f64], comparisons: usize) {
    assert_eq!(
        found.len(),
        probabilities.len(),
        "every outcome has its chance"
    );
    let total = f64::from(found.iter().sum::<u32>());
    let term = |(count, probability): (&u32, &f64)| {
        let expected = total * probability;
        assert!(expected >= 5.0, "too few drawings for chi-square");
        (f64::from(*count) - expected) * (f64::from(*count) - expected) / expected
    };
    let square: f64 = found.iter().zip(probabilities).map(term).sum();
    let chance = chi_square_tail(square, found.len() - 1);
    #[allow(clippy::cast_precision_loss, reason = "few comparisons")]
    let least = FAILS_FAIR / comparisons as f64;
    assert!(
        chance >= least,
        "{found:?} comes once in {:.0} times",
        1.0 / chance
    );
}
