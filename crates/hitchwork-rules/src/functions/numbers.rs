//! Numbers with fractions, the same on every machine.

use rhai::plugin::*;

use crate::trouble::{ScriptResult, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "numbers", numbers);
}

fn whole(number: f64) -> ScriptResult<i64> {
    if number.is_nan() {
        return Err(wrong_value(
            "that is not a number, so no whole number is near it",
            "look for what makes it: 0.0 / 0.0 is not a number, nor is infinity less infinity",
        ));
    }
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
    /// `round(number)`: the nearest whole number; halves round away from zero.
    ///
    /// - `number`: a number with a fraction
    ///
    /// Errors: wrong-value when it is too large for a whole number, or not a number at all.
    ///
    /// ```rhai
    /// lattice(10, 16, |row, column|
    ///     if column < 5 + round(2.0 * sine(fraction(row) / 16.0)) { forward(column) } else { backward(column) })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn round(number: f64) -> ScriptResult<i64> {
        whole(number.round())
    }

    /// `floor(number)`: the greatest whole number that is not greater.
    ///
    /// - `number`: a number with a fraction
    ///
    /// Errors: wrong-value when it is too large for a whole number, or not a number at all.
    ///
    /// ```rhai
    /// forward(1..10).but(forward_backward(floor(9.0 * 0.5)))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn floor(number: f64) -> ScriptResult<i64> {
        whole(number.floor())
    }

    /// `ceiling(number)`: the smallest whole number that is not smaller.
    ///
    /// - `number`: a number with a fraction
    ///
    /// Errors: wrong-value when it is too large for a whole number, or not a number at all.
    ///
    /// ```rhai
    /// forward(1..10).but(forward_backward(ceiling(9.0 * 0.5)))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn ceiling(number: f64) -> ScriptResult<i64> {
        whole(number.ceil())
    }

    /// `fraction(whole)`: a whole number as a number with a fraction.
    ///
    /// Whole numbers divide without a remainder: 7 / 2 is 3, and fraction(7) / 2.0 is 3.5.
    ///
    /// - `whole`: a whole number
    ///
    /// ```rhai
    /// lattice(10, 12, |row, column|
    ///     if fraction(column) < fraction(row) * 0.8 { forward(column) } else { backward(column) })
    /// ```
    #[allow(clippy::cast_precision_loss, reason = "a rule's numbers are small")]
    pub fn fraction(whole: i64) -> f64 {
        whole as f64
    }

    /// `sine(turns)`: the sine of an angle given in whole turns; 0.25 gives 1.
    ///
    /// - `turns`: 1.0 is once round, so that sine(fraction(row) / 24.0) comes again after 24
    ///   rows
    ///
    /// ```rhai
    /// lattice(12, 24, |row, column|
    ///     if fraction(column) < 6.0 + 3.0 * sine(fraction(row) / 24.0) { odd_shows(column) } else { even_shows(column) })
    /// ```
    pub fn sine(turns: f64) -> f64 {
        libm::sin(turns * std::f64::consts::TAU)
    }

    /// `cosine(turns)`: the cosine of an angle given in whole turns; 0.5 gives -1.
    ///
    /// - `turns`: 1.0 is once round
    ///
    /// ```rhai
    /// lattice(12, 24, |row, column|
    ///     if fraction(column) < 6.0 + 3.0 * cosine(fraction(row) / 24.0) { odd_shows(column) } else { even_shows(column) })
    /// ```
    pub fn cosine(turns: f64) -> f64 {
        libm::cos(turns * std::f64::consts::TAU)
    }

    /// `square_root(number)`: the square root; negative numbers have none.
    ///
    /// - `number`: 0 or more
    ///
    /// Errors: wrong-value when it is below 0.
    ///
    /// ```rhai
    /// lattice(12, 16, |row, column| {
    ///     let long = fraction(row - 8);
    ///     let wide = fraction(column - 6);
    ///     if square_root(long * long + wide * wide) < 5.0 { odd_shows(column) } else { even_shows(column) }
    /// })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn square_root(number: f64) -> ScriptResult<f64> {
        if number >= 0.0 {
            Ok(number.sqrt())
        } else {
            let what = match number.is_nan() {
                true => "what is not a number".to_owned(),
                false => number.to_string(),
            };
            Err(wrong_value(
                format!("{what} has no square root"),
                "give 0 or more",
            ))
        }
    }
}
