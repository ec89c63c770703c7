//! Lists and maps in words and compared, as the engine does it, but without a call of the
//! engine for each list inside a list, for which no stack is deep enough; and colours, which the
//! engine knows nothing of. No part of the reference.

use std::fmt::{Error, Write as _};

use hitchwork_core::colour::Colour;
use rhai::plugin::*;
use rhai::{Array, ImmutableString, Map};

use crate::run::RunHandle;
use crate::trouble::ScriptResult;

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "lists", lists);
}

/// A list or a map in words. The engine would do it in its own way where this failed, so that
/// a text that becomes too long ends the run afterwards.
fn in_words(context: &NativeCallContext, value: Dynamic) -> ImmutableString {
    let run = RunHandle::of(context);
    let most = run.budget().limits.text_bytes;
    let mut words = String::new();
    if write(context, &value, most, &mut words).is_err() {
        run.budget().refuse_text();
        return "…".into();
    }
    words.into()
}

fn write(
    context: &NativeCallContext,
    value: &Dynamic,
    most: usize,
    words: &mut String,
) -> Result<(), Error> {
    if words.len() > most {
        return Err(Error);
    }
    if let Ok(list) = value.as_array_ref() {
        words.push('[');
        for (index, entry) in list.iter().enumerate() {
            words.push_str(if index == 0 { "" } else { ", " });
            write(context, entry, most, words)?;
        }
        words.push(']');
    } else if let Ok(map) = value.as_map_ref() {
        words.push_str("#{");
        for (index, (key, entry)) in map.iter().enumerate() {
            words.push_str(if index == 0 { "" } else { ", " });
            write!(words, "{key:?}: ")?;
            write(context, entry, most, words)?;
        }
        words.push('}');
    } else {
        let word = context.call_native_fn_raw("to_debug", true, &mut [&mut value.clone()]);
        match word.map(Dynamic::into_immutable_string) {
            Ok(Ok(word)) => words.push_str(&word),
            _ => write!(words, "{value}")?,
        }
    }
    Ok(())
}

/// Whether two values are equal; those that cannot be compared are not.
fn equal(context: &NativeCallContext, one: &Dynamic, other: &Dynamic) -> ScriptResult<bool> {
    RunHandle::of(context).spend(1)?;
    if let (Ok(one), Ok(other)) = (one.as_array_ref(), other.as_array_ref()) {
        let pairs = || one.iter().zip(other.iter());
        return Ok(
            one.len() == other.len() && all(pairs(), |(one, other)| equal(context, one, other))?
        );
    }
    if let (Ok(one), Ok(other)) = (one.as_map_ref(), other.as_map_ref()) {
        let same = |(key, one): (&_, &Dynamic)| match other.get(key) {
            Some(other) => equal(context, one, other),
            None => Ok(false),
        };
        return Ok(one.len() == other.len() && all(one.iter(), same)?);
    }
    let outcome =
        context.call_native_fn_raw("==", true, &mut [&mut one.clone(), &mut other.clone()]);
    match outcome {
        Ok(equal) => Ok(equal.as_bool().unwrap_or(false)),
        Err(error) => match *error {
            EvalAltResult::ErrorFunctionNotFound(..) if one.type_id() != other.type_id() => {
                Ok(false)
            }
            error => Err(Box::new(error)),
        },
    }
}

/// Whether something holds for all, up to the first for which it does not.
fn all<T>(
    mut values: impl Iterator<Item = T>,
    mut holds: impl FnMut(T) -> ScriptResult<bool>,
) -> ScriptResult<bool> {
    let other = values.find_map(|value| match holds(value) {
        Ok(true) => None,
        other => Some(other),
    });
    other.unwrap_or(Ok(true))
}

#[export_module]
mod lists {
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn list_in_words(context: NativeCallContext, list: &mut Array) -> ImmutableString {
        in_words(&context, Dynamic::from_array(list.clone()))
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn map_in_words(context: NativeCallContext, map: &mut Map) -> ImmutableString {
        in_words(&context, Dynamic::from_map(map.clone()))
    }

    #[rhai_fn(name = "==", return_raw, pure)]
    pub fn lists_equal(
        context: NativeCallContext,
        one: &mut Array,
        other: Array,
    ) -> ScriptResult<bool> {
        equal(
            &context,
            &Dynamic::from_array(one.clone()),
            &Dynamic::from_array(other),
        )
    }

    #[rhai_fn(name = "!=", return_raw, pure)]
    pub fn lists_differ(
        context: NativeCallContext,
        one: &mut Array,
        other: Array,
    ) -> ScriptResult<bool> {
        lists_equal(context, one, other).map(|equal| !equal)
    }

    #[rhai_fn(name = "==", return_raw, pure)]
    pub fn maps_equal(context: NativeCallContext, one: &mut Map, other: Map) -> ScriptResult<bool> {
        equal(
            &context,
            &Dynamic::from_map(one.clone()),
            &Dynamic::from_map(other),
        )
    }

    #[rhai_fn(name = "!=", return_raw, pure)]
    pub fn maps_differ(
        context: NativeCallContext,
        one: &mut Map,
        other: Map,
    ) -> ScriptResult<bool> {
        maps_equal(context, one, other).map(|equal| !equal)
    }

    #[rhai_fn(name = "==", pure)]
    pub fn colours_equal(one: &mut Colour, other: Colour) -> bool {
        *one == other
    }

    #[rhai_fn(name = "!=", pure)]
    pub fn colours_differ(one: &mut Colour, other: Colour) -> bool {
        *one != other
    }

    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn colour_in_words(colour: &mut Colour) -> ImmutableString {
        colour.name.as_str().into()
    }
}
