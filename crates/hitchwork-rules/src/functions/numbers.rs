//! Numbers with fractions, the same on every machine.

use rhai::plugin::*;

use crate::run::{Outcome, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "numbers", numbers);
}

fn whole(number: f64) -> Outcome<i64> {
    // Beyond 2^53 a number with a fraction no longer knows its neighbours.
    if number.abs() <= 9_007_199_254_740_992.0 {
        #[allow(clippy::cast_possible_truncation, reason = "bounded above")]
        return Ok(number as i64);
    }
    Err(wrong_value(
        format!("{number} is too large for a whole number"),
        "keep numbers below nine thousand million million",
    ))
}

#[export_module]
mod numbers {
    /// `round(number)`: the nearest whole number; halves go away from zero.
    #[rhai_fn(return_raw)]
    pub fn round(number: f64) -> Outcome<i64> {
        whole(number.round())
    }

    /// `floor(number)`: the greatest whole number that is not greater.
    #[rhai_fn(return_raw)]
    pub fn floor(number: f64) -> Outcome<i64> {
        whole(number.floor())
    }

    /// `ceiling(number)`: the smallest whole number that is not smaller.
    #[rhai_fn(return_raw)]
    pub fn ceiling(number: f64) -> Outcome<i64> {
        whole(number.ceil())
    }

    /// `fraction(whole)`: a whole number as a number with a fraction.
    #[allow(clippy::cast_precision_loss, reason = "a rule's numbers are small")]
    pub fn fraction(whole: i64) -> f64 {
        whole as f64
    }

    /// `sine(turns)`: the sine of an angle given in whole turns; 0.25 gives 1.
    pub fn sine(turns: f64) -> f64 {
        libm::sin(turns * std::f64::consts::TAU)
    }

    /// `cosine(turns)`: the cosine of an angle given in whole turns; 0.5 gives -1.
    pub fn cosine(turns: f64) -> f64 {
        libm::cos(turns * std::f64::consts::TAU)
    }

    /// `square_root(number)`: the square root; negative numbers have none.
    #[rhai_fn(return_raw)]
    pub fn square_root(number: f64) -> Outcome<f64> {
        if number >= 0.0 {
            Ok(number.sqrt())
        } else {
            Err(wrong_value(
                format!("{number} has no square root"),
                "give 0 or more",
            ))
        }
    }
}
