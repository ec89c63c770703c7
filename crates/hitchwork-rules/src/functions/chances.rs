//! Chance, through the seed alone.

use rhai::Array;
use rhai::plugin::*;

use super::wrong_arguments;
use crate::run::{Outcome, Run, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "chances", chances);
}

fn between(context: &NativeCallContext, least: i64, most: i64) -> Outcome<i64> {
    if least > most {
        return Err(wrong_value(
            format!("there is no whole number from {least} to {most}"),
            "put the smaller end first",
        ));
    }
    // The number of values may be 2^64, which wraps to 0: then every word is one of them.
    let values = most.wrapping_sub(least).cast_unsigned().wrapping_add(1);
    let run = Run::of(context);
    let mut state = run.state();
    let offset = if values == 0 {
        state.chance.word()
    } else {
        state.chance.below(values)
    };
    Ok(least.wrapping_add(offset.cast_signed()))
}

#[export_module]
mod chances {
    /// `chance(probability)`: true with that probability, 0.0 to 1.0.
    ///
    /// - `probability`: 0.0 never, 1.0 always
    ///
    /// Errors: wrong-value when it is not from 0.0 to 1.0.
    ///
    /// ```rhai
    /// lattice(10, 20, |row, column| if chance(0.2) { backward(column) } else { forward(column) })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn chance(context: NativeCallContext, probability: f64) -> Outcome<bool> {
        Run::of(&context)
            .state()
            .chance
            .happens(probability)
            .map_err(|error| refused(&error))
    }

    /// `pick(list)`: one entry of a list, all equally likely.
    ///
    /// - `list`: at least one entry
    ///
    /// Errors: wrong-value when the list is empty.
    ///
    /// ```rhai
    /// lattice(10, 20, |row, column| pick([forward(column), backward(column)]))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn pick(context: NativeCallContext, list: Array) -> Outcome<Dynamic> {
        Run::of(&context)
            .state()
            .chance
            .pick(&list)
            .cloned()
            .map_err(|error| refused(&error))
    }

    /// `roll(range)`: a whole number from a range such as 1..=6, all equally likely.
    ///
    /// - `range`: such as 1..=6
    ///
    /// Errors: wrong-value when there is no number in the range.
    ///
    /// ```rhai
    /// let rows = [];
    /// for number in 1..=8 { rows.push(forward(1..10).but(forward_backward(roll(2..9)))); }
    /// rows
    /// ```
    #[rhai_fn(return_raw)]
    pub fn roll(context: NativeCallContext, range: Dynamic) -> Outcome<i64> {
        if let Some(range) = range.read_lock::<std::ops::RangeInclusive<i64>>() {
            return between(&context, *range.start(), *range.end());
        }
        if let Some(range) = range.read_lock::<std::ops::Range<i64>>() {
            return between(&context, range.start, range.end.saturating_sub(1));
        }
        let kind = super::super::type_name(&range);
        Err(wrong_arguments(
            format!("roll cannot take {kind}"),
            "give a range such as 1..=6".to_owned(),
        ))
    }

    /// `shuffled(list)`: the entries in another order, all orders equally likely.
    ///
    /// - `list`: any list; it stays as it is
    ///
    /// ```rhai
    /// band(10).repeat(forward(1..10)).colours(shuffled(gradient("regatta", 10)))
    /// ```
    pub fn shuffled(context: NativeCallContext, list: Array) -> Array {
        let mut list = list;
        Run::of(&context).state().chance.shuffle(&mut list);
        list
    }
}
