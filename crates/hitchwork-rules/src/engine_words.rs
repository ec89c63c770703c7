//! What the engine says only in words.
//!
//! Its errors are variants, and what they hold is told apart by those. A few hold a sentence
//! and nothing else: here it is taken apart, and nowhere else. The tests below have the engine
//! itself say each of these sentences, so that a version with other words fails there.

/// The functions that a rule asked for in vain: its name, and the engine's names of the types
/// that it was given.
pub(crate) fn signature(words: &str) -> (&str, Vec<&str>) {
    let (name, types) = words.split_once('(').unwrap_or((words, ""));
    let name = name.trim().rsplit("::").next().unwrap_or(name).trim();
    (name, split_types(types.trim_end_matches(')')))
}

/// Splits the types of a signature at the commas that are not inside angle brackets.
fn split_types(types: &str) -> Vec<&str> {
    let mut depth = 0_i32;
    let separator = |character: char| {
        depth += match character {
            '<' => 1,
            '>' => -1,
            _ => 0,
        };
        character == ',' && depth == 0
    };
    types
        .split(separator)
        .map(str::trim)
        .filter(|kind| !kind.is_empty())
        .collect()
}

/// The property behind a dot that a value does not have: the first of the words in quotes.
pub(crate) fn property(words: &str) -> &str {
    let quoted = words.split_whitespace().find(|word| word.starts_with('\''));
    quoted.unwrap_or(words).trim_matches(['\'', '"'])
}

/// What has grown too large.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Grown {
    Text,
    List,
    Map,
}

/// What has grown too large, by the engine's word for it.
pub(crate) fn grown(words: &str) -> Option<Grown> {
    let names = [
        ("string", Grown::Text),
        ("array", Grown::List),
        ("map", Grown::Map),
    ];
    let found = names.into_iter().find(|(name, _)| words.contains(name));
    found.map(|(_, grown)| grown)
}

/// What whole numbers cannot do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum SumFailure {
    DividedByZero,
    NegativePower,
    TooLarge,
}

/// Why a sum has no result.
pub(crate) fn sum(words: &str) -> SumFailure {
    // Of a remainder the engine says "by zero or overflow", whichever it is.
    let by_zero = match words.contains("zero or overflow") {
        true => words.ends_with("% 0"),
        false => words.contains("by zero"),
    };
    if by_zero {
        SumFailure::DividedByZero
    } else if words.contains("negative power") {
        SumFailure::NegativePower
    } else {
        SumFailure::TooLarge
    }
}

/// Whether this is the engine's name for a `|…|` function.
pub(crate) fn is_anonymous(name: &str) -> bool {
    name.starts_with("anon$")
}

/// The name of a function as rules write it: what is read without brackets has a mark before
/// its name.
pub(crate) fn without_getter(name: &str) -> &str {
    name.strip_prefix("get$").unwrap_or(name)
}

#[cfg(test)]
mod tests {
    use rhai::packages::{ArithmeticPackage, Package};
    use rhai::{Engine, EvalAltResult as E};

    use super::*;

    #[derive(Clone)]
    struct Rope;

    fn said(script: &str) -> E {
        let mut engine = Engine::new_raw();
        engine
            .register_global_module(ArithmeticPackage::new().as_shared_module())
            .register_type_with_name::<Rope>("rope")
            .register_fn("rope", || Rope)
            .set_max_string_size(8)
            .set_max_array_size(4)
            .set_max_map_size(4);
        *engine.eval::<rhai::Dynamic>(script).expect_err(script)
    }

    #[test]
    fn a_function_that_there_is_not_is_named_with_what_it_was_given() {
        for (script, name, types) in [
            (
                "splice(1, \"ebb\")",
                "splice",
                &["i64", "&str | ImmutableString | String"][..],
            ),
            ("splice()", "splice", &[]),
            ("rope() + 1", "+", &["rope", "i64"]),
            ("rope().splice([2])", "splice", &["rope", "array"]),
        ] {
            let E::ErrorFunctionNotFound(words, _) = said(script) else {
                panic!("{script}: {}", said(script));
            };
            assert_eq!(signature(&words), (name, types.to_vec()), "{words}");
        }
        // So the engine writes types that no module has named.
        let inside = signature("quay::splice (alloc::vec::Vec<(i64, i64)>, map)");
        assert_eq!(
            inside,
            ("splice", vec!["alloc::vec::Vec<(i64, i64)>", "map"])
        );
    }

    #[test]
    fn a_property_that_there_is_not_is_named() {
        let E::ErrorDotExpr(words, _) = said("rope().length") else {
            panic!("{}", said("rope().length"));
        };
        assert_eq!(property(&words), "length", "{words}");
    }

    #[test]
    fn what_has_grown_too_large_is_told_apart() {
        for (script, kind) in [
            ("let t = \"tide\"; t + t + t", Grown::Text),
            ("let l = [1, 2, 3]; [l, l]", Grown::List),
            ("let m = #{a: 1, b: 2, c: 3}; [m, m]", Grown::Map),
        ] {
            let E::ErrorDataTooLarge(words, _) = said(script) else {
                panic!("{script}: {}", said(script));
            };
            assert_eq!(grown(&words), Some(kind), "{words}");
        }
    }

    #[test]
    fn sums_without_a_result_are_told_apart() {
        for (script, why) in [
            ("1 / 0", SumFailure::DividedByZero),
            ("1 % 0", SumFailure::DividedByZero),
            ("2 ** -1", SumFailure::NegativePower),
            ("9223372036854775807 + 1", SumFailure::TooLarge),
            ("(-9223372036854775807 - 1) % -1", SumFailure::TooLarge),
            ("(-9223372036854775807 - 1) / -1", SumFailure::TooLarge),
            ("(-9223372036854775807 - 1) % 0", SumFailure::DividedByZero),
            ("-9223372036854775807 - 2", SumFailure::TooLarge),
            ("9223372036854775807 * 2", SumFailure::TooLarge),
            ("10 ** 40", SumFailure::TooLarge),
        ] {
            let E::ErrorArithmetic(words, _) = said(script) else {
                panic!("{script}: {}", said(script));
            };
            assert_eq!(sum(&words), why, "{words}");
        }
    }

    #[test]
    fn functions_without_a_name_and_values_behind_a_dot_are_known() {
        let E::ErrorInFunctionCall(name, ..) = said("let f = |ebb| ebb / 0; f.call(1)") else {
            panic!("a |…| function is called");
        };
        assert!(is_anonymous(&name), "{name}");
        let mut engine = Engine::new_raw();
        engine.register_get("length", |_: &mut Rope| 3_i64);
        let names: Vec<String> = engine
            .collect_fn_metadata(None, |found| Some(found.metadata.name.to_string()), false)
            .into_iter()
            .filter(|name| without_getter(name) == "length")
            .collect();
        assert_eq!(names.len(), 1, "{names:?}");
        assert!(!is_anonymous("fairlead") && without_getter("fairlead") == "fairlead");
    }
}
