//! Settings, declared where they are used; and a rule's own conditions.

use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use hitchwork_core::band::{MAX_TITLE_LETTERS, Setting};

use super::given::wrong_arguments;
use crate::error::Diagnostic;
use crate::kinds::type_name;
use crate::parameter::Range;
use crate::run::RunHandle;
use crate::trouble::{ScriptResult, stop};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "parameters", parameters);
}

/// The ends of a range of whole numbers, both included.
fn ends(range: &Dynamic, name: &str) -> ScriptResult<(i64, i64)> {
    if let Some(range) = range.read_lock::<std::ops::RangeInclusive<i64>>() {
        return Ok((*range.start(), *range.end()));
    }
    if let Some(range) = range.read_lock::<std::ops::Range<i64>>() {
        return Ok((range.start, range.end.saturating_sub(1)));
    }
    Err(wrong_arguments(
        format!("the range of {name} cannot be {}", type_name(range)),
        "give a range such as 4..=40".to_owned(),
    ))
}

fn not_empty(name: &str, empty: bool, range: &str) -> ScriptResult<()> {
    if empty {
        let message = format!("the setting {name} has an empty range: {range}");
        let help = "the first end of a range must not be greater than the last; require(…) more threads before, if it depends on them";
        return Err(stop(Diagnostic::new(
            "setting-declared-wrongly",
            message,
            help,
        )));
    }
    Ok(())
}

#[export_module]
mod parameters {
    /// `whole(name, default, range, sentence)`: declares a whole number from a range such as
    /// 4..=40, and gives the value that the maker chose.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: its value when nobody sets it, within the range; may be worked out from
    ///   earlier settings
    /// - `range`: from least to most, such as 4..=40
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: setting-declared-wrongly when the default lies outside the range or the range is
    /// empty; setting-refused when the maker's value lies outside.
    ///
    /// ```rhai
    /// let threads = whole("threads", 8, 4..=40, "threads on the band");
    /// band(threads).repeat(forward(1..threads))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn whole(
        context: NativeCallContext,
        name: ImmutableString,
        default: i64,
        range: Dynamic,
        sentence: ImmutableString,
    ) -> ScriptResult<i64> {
        let (least, most) = ends(&range, &name)?;
        not_empty(&name, least > most, &format!("{least}..={most}"))?;
        let run = RunHandle::of(&context);
        let value = run.state().declare(
            &name,
            &Setting::Whole(default),
            Range::Whole { least, most },
            &sentence,
        )?;
        match value {
            Setting::Whole(number) => Ok(number),
            other => unreachable!("a whole number accepts whole numbers only, not {other}"),
        }
    }

    /// `number(name, default, [least, most], sentence)`: declares a number with a fraction.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: its value when nobody sets it, from least to most
    /// - `[least, most]`: the ends of the range, both included
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: as whole(…).
    ///
    /// ```rhai
    /// let lean = number("lean", 0.8, [0.0, 1.0], "how often the thread from the left shows");
    /// lattice(10, 20, |row, column| if chance(lean) { forward(column) } else { backward(column) })
    /// ```
    #[rhai_fn(return_raw)]
    pub fn number(
        context: NativeCallContext,
        name: ImmutableString,
        default: Dynamic,
        range: Array,
        sentence: ImmutableString,
    ) -> ScriptResult<f64> {
        let float = |value: &Dynamic| {
            #[allow(clippy::cast_precision_loss, reason = "bounds that a person wrote")]
            let whole = value.as_int().map(|whole| whole as f64);
            value.as_float().or(whole).map_err(|_| {
                let message = format!("the setting {name} needs numbers, not {}", type_name(value));
                wrong_arguments(
                    message,
                    "write it as number(\"slope\", 0.5, [0.0, 1.0], \"what it means\")".to_owned(),
                )
            })
        };
        let [least, most] = range.as_slice() else {
            let message = format!(
                "the range of {name} needs its least and its most, and has {} entries",
                range.len()
            );
            return Err(wrong_arguments(
                message,
                "write it as [0.0, 1.0]".to_owned(),
            ));
        };
        let (least, most) = (float(least)?, float(most)?);
        not_empty(&name, least > most, &format!("[{least}, {most}]"))?;
        let run = RunHandle::of(&context);
        let value = run.state().declare(
            &name,
            &Setting::Number(float(&default)?),
            Range::Number { least, most },
            &sentence,
        )?;
        match value {
            Setting::Number(number) => Ok(number),
            other => unreachable!("a number accepts numbers only, not {other}"),
        }
    }

    /// `choice(name, default, options, sentence)`: declares a choice between words.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: one of the options
    /// - `options`: a list of words
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: setting-declared-wrongly when the default is not one of the options;
    /// setting-refused when the maker's word is not.
    ///
    /// ```rhai
    /// let leans = choice("leans", "right", ["left", "right"], "the edge from which the threads travel");
    /// if leans == "left" { forward(1..8) } else { backward(1..8) }
    /// ```
    #[rhai_fn(return_raw)]
    pub fn choice(
        context: NativeCallContext,
        name: ImmutableString,
        default: ImmutableString,
        options: Array,
        sentence: ImmutableString,
    ) -> ScriptResult<ImmutableString> {
        let text = |option: Dynamic| {
            let kind = type_name(&option);
            option.into_string().map_err(|_| {
                let message = format!("the options of {name} hold {kind} where text should be");
                wrong_arguments(message, "write them as [\"left\", \"right\"]".to_owned())
            })
        };
        let options: Vec<String> = options.into_iter().map(text).collect::<Result<_, _>>()?;
        not_empty(&name, options.is_empty(), "it has no options")?;
        text_setting(
            &context,
            &name,
            &default,
            Range::Choice { options },
            &sentence,
        )
    }

    /// `flag(name, default, sentence)`: declares a switch, which is true or false.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: true or false; a maker sets it with yes or no
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: setting-refused when the maker's word is neither yes nor no.
    ///
    /// ```rhai
    /// let edges = flag("edges", true, "whether both edges stand still");
    /// let out = forward(1..8);
    /// if edges { out.but(forward_backward(1)).but(backward_forward(7)) } else { out }
    /// ```
    #[rhai_fn(return_raw)]
    pub fn flag(
        context: NativeCallContext,
        name: ImmutableString,
        default: bool,
        sentence: ImmutableString,
    ) -> ScriptResult<bool> {
        let run = RunHandle::of(&context);
        let value = run
            .state()
            .declare(&name, &Setting::Flag(default), Range::Flag, &sentence)?;
        match value {
            Setting::Flag(on) => Ok(on),
            other => unreachable!("a flag accepts flags only, not {other}"),
        }
    }

    /// `places(name, defaults, range, sentence)`: declares some places on the band, each
    /// within a range such as 2..=threads - 2; gives them in order, each once.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `defaults`: a list of whole numbers within the range
    /// - `range`: where a place may lie, such as 2..=threads - 2
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: as whole(…).
    ///
    /// ```rhai
    /// let threads = 10;
    /// let turns = places("turns", [3, 6], 2..=threads - 2, "where two threads turn back");
    /// forward(1..threads).but(forward_backward(turns))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn places(
        context: NativeCallContext,
        name: ImmutableString,
        defaults: Array,
        range: Dynamic,
        sentence: ImmutableString,
    ) -> ScriptResult<Array> {
        let (least, most) = ends(&range, &name)?;
        not_empty(&name, least > most, &format!("{least}..={most}"))?;
        let defaults =
            super::super::given::whole_numbers(&Dynamic::from_array(defaults), "places")?;
        let run = RunHandle::of(&context);
        let value = run.state().declare(
            &name,
            &Setting::Places(defaults),
            Range::Places { least, most },
            &sentence,
        )?;
        match value {
            Setting::Places(places) => Ok(places.into_iter().map(Dynamic::from).collect()),
            other => unreachable!("places accept places only, not {other}"),
        }
    }

    /// `palette(name, default, sentence)`: declares the palette that the maker can choose,
    /// and gives its name, for gradient(…) and the like.
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: the name of a palette, built in or of your own
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: setting-refused when there is no palette of that name.
    ///
    /// ```rhai
    /// let tones = palette("palette", "evening sky", "the palette of the stripes");
    /// band(8).repeat(forward(1..8)).colours(gradient(tones, 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn palette(
        context: NativeCallContext,
        name: ImmutableString,
        default: ImmutableString,
        sentence: ImmutableString,
    ) -> ScriptResult<ImmutableString> {
        let palettes = RunHandle::of(&context).state().palettes();
        let options = palettes.into_iter().map(|palette| palette.name).collect();
        text_setting(
            &context,
            &name,
            &default,
            Range::Palette { options },
            &sentence,
        )
    }

    /// `text(name, default, letters, sentence)`: declares words of the maker's own, on one line,
    /// for lettering(…) and flags(…).
    ///
    /// - `name`: letters, digits, _ and -; the maker sets it by this name
    /// - `default`: what it says when nobody sets it
    /// - `letters`: how many letters it may have, such as 1..=12; spaces count, and at most 200
    /// - `sentence`: what it means, for the maker
    ///
    /// Errors: setting-declared-wrongly when the default has more or fewer letters, or the range is
    /// empty or goes beyond 0..=200; setting-refused when the maker's words do not fit.
    ///
    /// ```rhai
    /// let name = text("name", "Ahoy", 1..=12, "what the band says");
    /// let word = lettering(name, #{ along: true });
    /// band(word.width + 1).repeat(over_leader(word))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn text(
        context: NativeCallContext,
        name: ImmutableString,
        default: ImmutableString,
        letters: Dynamic,
        sentence: ImmutableString,
    ) -> ScriptResult<ImmutableString> {
        let (least, most) = ends(&letters, &name)?;
        not_empty(&name, least > most, &format!("{least}..={most}"))?;
        let count = |end: i64| {
            usize::try_from(end)
                .ok()
                .filter(|end| *end <= MAX_TITLE_LETTERS)
        };
        let (Some(least), Some(most)) = (count(least), count(most)) else {
            return Err(stop(Diagnostic::new(
                "setting-declared-wrongly",
                format!("the setting {name} cannot have {least} to {most} letters"),
                format!("give a range within 0..={MAX_TITLE_LETTERS}, such as 1..=12"),
            )));
        };
        let range = Range::Text { least, most };
        text_setting(&context, &name, &default, range, &sentence)
    }

    /// `require(condition, message, hint)`: stops the rule when its own condition does not
    /// hold, with a message that says why and a hint that says what to do.
    ///
    /// - `condition`: what must be true
    /// - `message`: what is wrong when it is not
    /// - `hint`: what the maker can do about it
    ///
    /// Errors: requirement, with this message and this hint.
    ///
    /// ```rhai
    /// let threads = whole("threads", 8, 4..=40, "threads on the band");
    /// require(threads % 2 == 0, "the halves need equally many threads", "set an even number of threads");
    /// let left = forward(1..threads / 2);
    /// left + left.mirrored(threads) + forward(threads / 2)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn require(
        condition: bool,
        message: ImmutableString,
        hint: ImmutableString,
    ) -> ScriptResult<()> {
        if condition {
            Ok(())
        } else {
            Err(stop(Diagnostic::new(
                "requirement",
                message.as_str(),
                hint.as_str(),
            )))
        }
    }
}

fn text_setting(
    context: &NativeCallContext,
    name: &str,
    default: &str,
    range: Range,
    sentence: &str,
) -> ScriptResult<ImmutableString> {
    let run = RunHandle::of(context);
    let value = run
        .state()
        .declare(name, &Setting::Text(default.to_owned()), range, sentence)?;
    match value {
        Setting::Text(text) => Ok(text.into()),
        other => unreachable!("choices, palettes and text accept text only, not {other}"),
    }
}
