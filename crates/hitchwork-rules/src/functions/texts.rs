//! Functions of the engine that know no bounds, with bounds. They are those of its packages
//! otherwise, and no part of the reference.

use rhai::plugin::*;
use rhai::{ImmutableString, Position};

use crate::run::RunHandle;
use crate::trouble::ScriptResult;

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "texts", texts);
}

fn too_long() -> Box<EvalAltResult> {
    let what = "Length of string".to_owned();
    Box::new(EvalAltResult::ErrorDataTooLarge(what, Position::NONE))
}

/// Refuses to make a longer text than a run may.
fn check_bytes(context: &NativeCallContext, bytes: usize) -> ScriptResult<()> {
    match bytes > RunHandle::of(context).budget().limits.text_bytes {
        true => Err(too_long()),
        false => Ok(()),
    }
}

/// The text with something else in place of what is looked for.
fn replaced(
    context: &NativeCallContext,
    text: &mut ImmutableString,
    found: &str,
    by: &str,
) -> ScriptResult<()> {
    let times = text.matches(found).count();
    check_bytes(context, text.len().saturating_add(times * by.len()))?;
    *text = text.replace(found, by).into();
    Ok(())
}

#[export_module]
mod texts {
    #[rhai_fn(name = "replace", return_raw)]
    pub fn replace(
        context: NativeCallContext,
        text: &mut ImmutableString,
        found: ImmutableString,
        by: ImmutableString,
    ) -> ScriptResult<()> {
        replaced(&context, text, &found, &by)
    }

    #[rhai_fn(name = "replace", return_raw)]
    pub fn replace_letter(
        context: NativeCallContext,
        text: &mut ImmutableString,
        found: char,
        by: ImmutableString,
    ) -> ScriptResult<()> {
        replaced(&context, text, found.encode_utf8(&mut [0; 4]), &by)
    }

    /// The engine's own never ends where there is nothing to pad with.
    #[rhai_fn(name = "pad", return_raw)]
    pub fn pad(
        context: NativeCallContext,
        text: &mut ImmutableString,
        letters: i64,
        with: ImmutableString,
    ) -> ScriptResult<()> {
        let letters = usize::try_from(letters).unwrap_or(0);
        let missing = letters.saturating_sub(text.chars().count());
        check_bytes(&context, text.len().saturating_add(missing))?;
        let padded: String = text
            .chars()
            .chain(with.chars().cycle().take(missing))
            .collect();
        check_bytes(&context, padded.len())?;
        *text = padded.into();
        Ok(())
    }
}
