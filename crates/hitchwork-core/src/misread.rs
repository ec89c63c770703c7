//! What does not fit in a text that is read, as a value and not in the words of the library
//! that reads it.
//!
//! A library that reads JSON or TOML asks a visitor what it makes of each value, and puts a
//! refusal into English of its own. Here every visitor answers with an error of ours, so that
//! the refusal arrives as it was meant; the library's error still knows the place.

use std::cell::RefCell;
use std::fmt;
use std::ops::Range;

use serde::Deserialize;
use serde::de::{
    self, DeserializeSeed, Deserializer, EnumAccess, Expected, MapAccess, SeqAccess, Unexpected,
    Visitor,
};

use crate::error::shortened;

/// What does not fit.
#[derive(Clone, Debug, PartialEq)]
pub enum Misread {
    /// A value of another kind than belongs there.
    Kind {
        /// What was found, in our words.
        found: String,
        /// What belongs there.
        wanted: Belongs,
    },
    /// A whole number beyond its bounds.
    Range {
        /// The number.
        found: String,
    },
    /// A name that no field has here.
    UnknownField {
        /// The name.
        name: String,
        /// The names that there are.
        others: &'static [&'static str],
    },
    /// A word that is none of those that may stand here.
    UnknownWord {
        /// The word.
        word: String,
        /// The words that may.
        others: &'static [&'static str],
    },
    /// A field that must be given and is not.
    Missing(&'static str),
    /// A field that is given twice.
    Twice(&'static str),
    /// What a reader of ours refuses, in its own words.
    Said(String),
    /// What the library itself refuses: the text is not of its language.
    Foreign,
}

/// What belongs into a place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Belongs {
    /// True or false.
    Switch,
    /// A whole number.
    Whole,
    /// A number.
    Number,
    /// Text.
    Text,
    /// A list.
    List,
    /// A list of this many entries.
    Entries(usize),
    /// Fields with their values.
    Fields,
    /// What a reader of ours says of itself.
    Said(String),
}

/// Reads a value; an error says what does not fit, beside the library's own, which says where.
///
/// # Errors
/// When the text is not in its language, or something in it does not fit.
pub fn read<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
    from: D,
) -> Result<T, (Misread, D::Error)> {
    let noted = Noted::default();
    T::deserialize(Asking::new(from, &noted)).map_err(|error| (noted.take(), error))
}

/// A text in TOML that could not be read.
#[derive(Clone, Debug)]
pub struct NotRead {
    /// What does not fit.
    pub misread: Misread,
    /// The same in words, in one line.
    pub words: String,
    /// Where, in bytes.
    pub place: Option<Range<usize>>,
}

/// Reads a value from a text in TOML.
///
/// # Errors
/// When it is not TOML, or something in it does not fit.
pub fn from_toml<'de, T: Deserialize<'de>>(text: &'de str) -> Result<T, NotRead> {
    let parsed = toml::Deserializer::parse(text).map_err(|error| (Misread::Foreign, error));
    parsed.and_then(read).map_err(|(misread, error)| NotRead {
        words: match &misread {
            // What the library says of its language is for people, and stands as it is: none
            // of its words is read.
            Misread::Foreign => error.message().replace('\n', "; ").replace('`', "\""),
            misread => misread.to_string(),
        },
        misread,
        place: error.span(),
    })
}

impl fmt::Display for Misread {
    /// Complete in one line. What the library itself refuses is for the reader to say.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Kind { found, wanted } => {
                let belong = if wanted.is_several() {
                    "belong"
                } else {
                    "belongs"
                };
                write!(f, "{found} was found where {wanted} {belong}")
            }
            Self::Range { found } => write!(f, "{found} is out of range"),
            Self::UnknownField { name, others } => {
                write!(
                    f,
                    "\"{name}\" is not a key here; it can be {}",
                    quoted(others)
                )
            }
            Self::UnknownWord { word, others } => {
                write!(
                    f,
                    "\"{word}\" is not known here; it can be {}",
                    quoted(others)
                )
            }
            Self::Missing(field) => write!(f, "the key \"{field}\" is missing"),
            Self::Twice(field) => write!(f, "the key \"{field}\" is given twice"),
            Self::Said(said) => f.write_str(said),
            Self::Foreign => f.write_str("it cannot be read"),
        }
    }
}

/// Names in quotes, as in `"at" or "kind"`.
fn quoted(names: &[&str]) -> String {
    match names {
        [one, other] => format!("\"{one}\" or \"{other}\""),
        names => {
            let names: Vec<String> = names.iter().map(|name| format!("\"{name}\"")).collect();
            names.join(", ")
        }
    }
}

impl Belongs {
    fn is_several(&self) -> bool {
        match self {
            Self::Entries(_) | Self::Fields => true,
            Self::Said(said) => !said.starts_with("a "),
            _ => false,
        }
    }
}

impl fmt::Display for Belongs {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Switch => f.write_str("true or false"),
            Self::Whole => f.write_str("a whole number"),
            Self::Number => f.write_str("a number"),
            Self::Text => f.write_str("text in quotes"),
            Self::List => f.write_str("a list in square brackets"),
            Self::Entries(count) => write!(f, "{count} entries"),
            Self::Fields => f.write_str("keys in braces"),
            Self::Said(said) => f.write_str(said),
        }
    }
}

/// What stands in the text, in our words.
fn found(value: Unexpected<'_>) -> String {
    match value {
        Unexpected::Bool(on) => on.to_string(),
        Unexpected::Unsigned(number) => number.to_string(),
        Unexpected::Signed(number) => number.to_string(),
        Unexpected::Float(number) => format!("{number:?}"),
        Unexpected::Char(letter) => format!("the text \"{letter}\""),
        Unexpected::Str(text) => format!("the text \"{}\"", shortened(text)),
        Unexpected::Unit | Unexpected::Option => "nothing (null)".to_owned(),
        Unexpected::Seq => "a list".to_owned(),
        Unexpected::Map => "a group of keys in braces".to_owned(),
        _ => "something else".to_owned(),
    }
}

impl std::error::Error for Misread {}

impl de::Error for Misread {
    fn custom<T: fmt::Display>(said: T) -> Self {
        Self::Said(said.to_string())
    }

    fn invalid_type(value: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        Self::Kind {
            found: found(value),
            wanted: Belongs::Said(wanted.to_string()),
        }
    }

    /// A value of the right kind, but none of those that can be: of numbers it is the bounds.
    fn invalid_value(value: Unexpected<'_>, wanted: &dyn Expected) -> Self {
        match value {
            Unexpected::Unsigned(_) | Unexpected::Signed(_) => Self::Range {
                found: found(value),
            },
            value => Self::invalid_type(value, wanted),
        }
    }

    fn invalid_length(count: usize, wanted: &dyn Expected) -> Self {
        Self::Kind {
            found: format!("a list of {count}"),
            wanted: Belongs::Said(wanted.to_string()),
        }
    }

    fn unknown_field(name: &str, others: &'static [&'static str]) -> Self {
        let name = shortened(name).into_owned();
        Self::UnknownField { name, others }
    }

    fn unknown_variant(word: &str, others: &'static [&'static str]) -> Self {
        let word = shortened(word).into_owned();
        Self::UnknownWord { word, others }
    }

    fn missing_field(name: &'static str) -> Self {
        Self::Missing(name)
    }

    fn duplicate_field(name: &'static str) -> Self {
        Self::Twice(name)
    }
}

/// Where a refusal waits until the library's error has come out.
#[derive(Debug, Default)]
pub(crate) struct Noted(RefCell<Option<Misread>>);

impl Noted {
    pub(crate) fn take(&self) -> Misread {
        self.0.take().unwrap_or(Misread::Foreign)
    }

    /// The answer of a visitor. The library is only told that there was a refusal.
    fn answer<T, E: de::Error>(
        &self,
        answer: Result<T, Misread>,
        wanted: Option<Belongs>,
    ) -> Result<T, E> {
        answer.map_err(|misread| {
            *self.0.borrow_mut() = Some(match (misread, wanted) {
                (Misread::Kind { found, .. }, Some(wanted)) => Misread::Kind { found, wanted },
                (misread, _) => misread,
            });
            E::custom("a reader refuses this")
        })
    }
}

/// The library's reader, whose visitors answer with errors of ours.
pub(crate) struct Asking<'n, D> {
    inner: D,
    noted: &'n Noted,
}

impl<'n, D> Asking<'n, D> {
    pub(crate) fn new(inner: D, noted: &'n Noted) -> Self {
        Self { inner, noted }
    }

    fn visitor<V>(&self, visitor: V, wanted: Option<Belongs>) -> Answering<'n, V> {
        Answering {
            visitor,
            wanted,
            noted: self.noted,
        }
    }
}

/// Every value is read as whatever it is: asked for a number, a library would refuse a text by
/// itself, in its own words, and no visitor would be asked.
macro_rules! ask {
    ($($method:ident($($name:ident: $kind:ty),*) wants $wanted:expr;)*) => {
        $(fn $method<V: Visitor<'de>>(self $(, $name: $kind)*, visitor: V) -> Result<V::Value, D::Error> {
            $(let _ = $name;)*
            let visitor = self.visitor(visitor, $wanted);
            self.inner.deserialize_any(visitor)
        })*
    };
}

impl<'de, D: Deserializer<'de>> Deserializer<'de> for Asking<'_, D> {
    type Error = D::Error;

    ask! {
        deserialize_any() wants None;
        deserialize_bool() wants Some(Belongs::Switch);
        deserialize_i8() wants Some(Belongs::Whole);
        deserialize_i16() wants Some(Belongs::Whole);
        deserialize_i32() wants Some(Belongs::Whole);
        deserialize_i64() wants Some(Belongs::Whole);
        deserialize_i128() wants Some(Belongs::Whole);
        deserialize_u8() wants Some(Belongs::Whole);
        deserialize_u16() wants Some(Belongs::Whole);
        deserialize_u32() wants Some(Belongs::Whole);
        deserialize_u64() wants Some(Belongs::Whole);
        deserialize_u128() wants Some(Belongs::Whole);
        deserialize_f32() wants Some(Belongs::Number);
        deserialize_f64() wants Some(Belongs::Number);
        deserialize_char() wants Some(Belongs::Text);
        deserialize_str() wants Some(Belongs::Text);
        deserialize_string() wants Some(Belongs::Text);
        deserialize_bytes() wants None;
        deserialize_byte_buf() wants None;
        deserialize_unit() wants None;
        deserialize_unit_struct(name: &'static str) wants None;
        deserialize_seq() wants Some(Belongs::List);
        deserialize_tuple(count: usize) wants Some(Belongs::Entries(count));
        deserialize_tuple_struct(name: &'static str, count: usize) wants Some(Belongs::Entries(count));
        deserialize_map() wants Some(Belongs::Fields);
        deserialize_identifier() wants Some(Belongs::Text);
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        let visitor = self.visitor(visitor, Some(Belongs::Fields));
        // By such a name a library asks itself for something of its own, such as a place.
        if name.starts_with('$') {
            self.inner.deserialize_struct(name, fields, visitor)
        } else {
            self.inner.deserialize_any(visitor)
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
        let visitor = self.visitor(visitor, None);
        self.inner.deserialize_option(visitor)
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        let visitor = self.visitor(visitor, None);
        self.inner.deserialize_newtype_struct(name, visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        words: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, D::Error> {
        let visitor = self.visitor(visitor, Some(Belongs::Text));
        self.inner.deserialize_enum(name, words, visitor)
    }

    fn deserialize_ignored_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, D::Error> {
        let visitor = self.visitor(visitor, None);
        self.inner.deserialize_ignored_any(visitor)
    }

    fn is_human_readable(&self) -> bool {
        self.inner.is_human_readable()
    }
}

/// A visitor that answers with errors of ours.
struct Answering<'n, V> {
    visitor: V,
    wanted: Option<Belongs>,
    noted: &'n Noted,
}

macro_rules! answer {
    ($($method:ident($($value:ident: $kind:ty)?);)*) => {
        $(fn $method<E: de::Error>(self $(, $value: $kind)?) -> Result<V::Value, E> {
            let answer = self.visitor.$method::<Misread>($($value)?);
            self.noted.answer(answer, self.wanted)
        })*
    };
}

impl<'de, V: Visitor<'de>> Visitor<'de> for Answering<'_, V> {
    type Value = V::Value;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.visitor.expecting(f)
    }

    answer! {
        visit_bool(on: bool);
        visit_i64(number: i64);
        visit_i128(number: i128);
        visit_u64(number: u64);
        visit_u128(number: u128);
        visit_f64(number: f64);
        visit_char(letter: char);
        visit_str(text: &str);
        visit_borrowed_str(text: &'de str);
        visit_string(text: String);
        visit_bytes(bytes: &[u8]);
        visit_borrowed_bytes(bytes: &'de [u8]);
        visit_byte_buf(bytes: Vec<u8>);
        visit_none();
        visit_unit();
    }

    fn visit_some<D: Deserializer<'de>>(self, inner: D) -> Result<V::Value, D::Error> {
        self.visitor.visit_some(Asking::new(inner, self.noted))
    }

    fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<V::Value, D::Error> {
        self.visitor
            .visit_newtype_struct(Asking::new(inner, self.noted))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, inner: A) -> Result<V::Value, A::Error> {
        let mut inside = Inside::new(inner, self.noted);
        let answer = self.visitor.visit_seq(&mut inside);
        let Inside { error, .. } = inside;
        error.map_or_else(|| self.noted.answer(answer, self.wanted), Err)
    }

    fn visit_map<A: MapAccess<'de>>(self, inner: A) -> Result<V::Value, A::Error> {
        let mut inside = Inside::new(inner, self.noted);
        let answer = self.visitor.visit_map(&mut inside);
        let Inside { error, .. } = inside;
        error.map_or_else(|| self.noted.answer(answer, self.wanted), Err)
    }

    fn visit_enum<A: EnumAccess<'de>>(self, inner: A) -> Result<V::Value, A::Error> {
        self.visitor.visit_enum(inner)
    }
}

/// The entries of a list or of fields. The library's error, which knows its place, waits here
/// while the visitor is told with one of ours.
struct Inside<'n, A, E> {
    inner: A,
    error: Option<E>,
    noted: &'n Noted,
}

impl<'n, A, E> Inside<'n, A, E> {
    fn new(inner: A, noted: &'n Noted) -> Self {
        Self {
            inner,
            error: None,
            noted,
        }
    }

    fn passed_on<T>(&mut self, entry: Result<T, E>) -> Result<T, Misread> {
        entry.map_err(|error| {
            self.error = Some(error);
            Misread::Foreign
        })
    }
}

impl<'de, A: SeqAccess<'de>> SeqAccess<'de> for &mut Inside<'_, A, A::Error> {
    type Error = Misread;

    fn next_element_seed<T: DeserializeSeed<'de>>(
        &mut self,
        seed: T,
    ) -> Result<Option<T::Value>, Misread> {
        let noted = self.noted;
        let entry = self.inner.next_element_seed(Seed { seed, noted });
        self.passed_on(entry)
    }

    fn size_hint(&self) -> Option<usize> {
        self.inner.size_hint()
    }
}

impl<'de, A: MapAccess<'de>> MapAccess<'de> for &mut Inside<'_, A, A::Error> {
    type Error = Misread;

    fn next_key_seed<K: DeserializeSeed<'de>>(
        &mut self,
        seed: K,
    ) -> Result<Option<K::Value>, Misread> {
        let noted = self.noted;
        let key = self.inner.next_key_seed(Seed { seed, noted });
        self.passed_on(key)
    }

    fn next_value_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Result<T::Value, Misread> {
        let noted = self.noted;
        let value = self.inner.next_value_seed(Seed { seed, noted });
        self.passed_on(value)
    }

    fn size_hint(&self) -> Option<usize> {
        self.inner.size_hint()
    }
}

struct Seed<'n, T> {
    seed: T,
    noted: &'n Noted,
}

impl<'de, T: DeserializeSeed<'de>> DeserializeSeed<'de> for Seed<'_, T> {
    type Value = T::Value;

    fn deserialize<D: Deserializer<'de>>(self, inner: D) -> Result<T::Value, D::Error> {
        self.seed.deserialize(Asking::new(inner, self.noted))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, Default, PartialEq, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Mooring {
        ropes: u8,
        #[serde(default)]
        tide_m: f64,
        #[serde(default)]
        knots: Vec<Knot>,
        berth: Option<[u16; 2]>,
        #[serde(default)]
        lit: bool,
        #[serde(default)]
        boat: String,
    }

    #[derive(Debug, PartialEq, Deserialize)]
    struct Knot {
        at: u16,
    }

    fn json(text: &str) -> Result<Mooring, Misread> {
        let mut from = serde_json::Deserializer::from_str(text);
        read(&mut from).map_err(|(misread, _)| misread)
    }

    fn kind(found: &str, wanted: Belongs) -> Misread {
        let found = found.to_owned();
        Misread::Kind { found, wanted }
    }

    #[test]
    fn what_does_not_fit_arrives_as_it_was_meant() {
        let fields = &["ropes", "tide_m", "knots", "berth", "lit", "boat"];
        let unknown = Misread::UnknownField {
            name: "gulls".to_owned(),
            others: fields,
        };
        let range = |found: &str| Misread::Range {
            found: found.to_owned(),
        };
        for (text, misread) in [
            ("{}", Misread::Missing("ropes")),
            (r#"{"ropes":2,"ropes":3}"#, Misread::Twice("ropes")),
            (r#"{"ropes":2,"gulls":3}"#, unknown),
            (r#"{"ropes":256}"#, range("256")),
            (r#"{"ropes":-1}"#, range("-1")),
            (r#"{"ropes":1.5}"#, kind("1.5", Belongs::Whole)),
            (
                r#"{"ropes":"two"}"#,
                kind("the text \"two\"", Belongs::Whole),
            ),
            (
                r#"{"ropes":2,"tide_m":true}"#,
                kind("true", Belongs::Number),
            ),
            (r#"{"ropes":2,"boat":7}"#, kind("7", Belongs::Text)),
            (
                r#"{"ropes":2,"lit":null}"#,
                kind("nothing (null)", Belongs::Switch),
            ),
            (
                r#"{"ropes":2,"knots":{}}"#,
                kind("a group of keys in braces", Belongs::List),
            ),
            (r#"{"ropes":2,"knots":[4]}"#, kind("4", Belongs::Fields)),
            (r#"{"ropes":2,"knots":[{}]}"#, Misread::Missing("at")),
            (
                r#"{"ropes":2,"berth":[4]}"#,
                kind("a list of 1", Belongs::Entries(2)),
            ),
            (r#"{"ropes":2,"berth":[4,-5]}"#, range("-5")),
            (r#"{"ropes":2,]"#, Misread::Foreign),
            (r#"{"ropes":"#, Misread::Foreign),
        ] {
            assert_eq!(json(text), Err(misread), "{text}");
        }
        let sound = r#"{"ropes":2,"tide_m":3,"knots":[{"at":1}],"berth":[4,5],"lit":true,"boat":"Kestrel"}"#;
        let plain: Mooring = serde_json::from_str(sound).expect("sound");
        assert_eq!(json(sound), Ok(plain));
    }

    /// The same details come out of TOML, and the library still says where.
    #[test]
    fn it_makes_no_difference_which_language_is_read() {
        let misread = |text: &str| {
            let NotRead { misread, place, .. } =
                from_toml::<Mooring>(text).expect_err("it does not fit");
            (misread, place)
        };
        assert_eq!(
            misread("ropes = 2\nboat = 7\n"),
            (kind("7", Belongs::Text), Some(17..18))
        );
        assert_eq!(
            misread("ropes = 2\n[[knots]]\nat = -1\n"),
            (
                Misread::Range {
                    found: "-1".to_owned()
                },
                Some(25..27)
            )
        );
        assert_eq!(misread("lit = true\n").0, Misread::Missing("ropes"));
        let syntax = from_toml::<Mooring>("ropes = 2\nropes = ]\n").expect_err("no TOML");
        assert_eq!(syntax.misread, Misread::Foreign);
        assert!(!syntax.words.contains(['`', '\n']), "{}", syntax.words);
    }
}
