//! Values that are written one by one or as ranges.

use std::fmt;
use std::ops::RangeInclusive;

use hitchwork_core::band::Setting;
use serde::de::value::MapAccessDeserializer;
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};
use toml::Value;

/// The most values that one setting takes one after another.
const MOST_VALUES: usize = 10_000;

/// Seeds: some ranges of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Seeds {
    ranges: Vec<RangeInclusive<u64>>,
}

impl Seeds {
    /// Seed 0 alone, with which a rule is run where nobody says.
    pub(crate) fn ordinary() -> Self {
        Self {
            ranges: std::iter::once(0..=0).collect(),
        }
    }

    pub(crate) fn count(&self) -> u64 {
        let counts = self
            .ranges
            .iter()
            .map(|range| (range.end() - range.start()).saturating_add(1));
        counts.fold(0, u64::saturating_add)
    }

    pub(crate) fn nth(&self, mut nth: u64) -> u64 {
        for range in &self.ranges {
            let count = (range.end() - range.start()).saturating_add(1);
            if nth < count {
                return range.start() + nth;
            }
            nth -= count;
        }
        0
    }

    /// One seed, a list of them, or a range such as "1..20".
    pub(super) fn read(written: &WrittenSeeds) -> Result<Self, String> {
        let ranges = match written {
            WrittenSeeds::List(list) => list.iter().map(range).collect::<Result<Vec<_>, _>>()?,
            one => vec![range(one)?],
        };
        match ranges.is_empty() {
            true => Err("there are no seeds".to_owned()),
            false => Ok(Self { ranges }),
        }
    }
}

fn range(written: &WrittenSeeds) -> Result<RangeInclusive<u64>, String> {
    let value = match written {
        WrittenSeeds::Seed(seed) => return Ok(*seed..=*seed),
        WrittenSeeds::List(_) => return Err("a list of seeds holds another list".to_owned()),
        WrittenSeeds::Other(value) => value,
    };
    let said = || format!("{value} is not a seed, nor a range of them such as \"1..20\"");
    let Value::String(text) = value else {
        return Err(said());
    };
    let seed = |text: &str| text.trim().parse::<u64>().map_err(|_| said());
    let (first, last) = match text.split_once("..") {
        Some((first, last)) => (seed(first)?, seed(last)?),
        None => (seed(text)?, seed(text)?),
    };
    match first <= last {
        true => Ok(first..=last),
        false => Err(format!("there is no seed from {first} to {last}")),
    }
}

/// Seeds as they are written. A whole number of TOML goes to half of all seeds, and most readers
/// take the others as well.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum WrittenSeeds {
    Seed(u64),
    List(Vec<WrittenSeeds>),
    /// Text, or what is no seed at all.
    Other(Value),
}

impl<'de> Deserialize<'de> for WrittenSeeds {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        deserializer.deserialize_any(SeedsVisitor)
    }
}

struct SeedsVisitor;

impl<'de> Visitor<'de> for SeedsVisitor {
    type Value = WrittenSeeds;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a seed, a list of them, or a range such as \"1..20\"")
    }

    fn visit_u64<E>(self, seed: u64) -> Result<WrittenSeeds, E> {
        Ok(WrittenSeeds::Seed(seed))
    }

    fn visit_i64<E>(self, whole: i64) -> Result<WrittenSeeds, E> {
        Ok(match u64::try_from(whole) {
            Ok(seed) => WrittenSeeds::Seed(seed),
            Err(_) => WrittenSeeds::Other(whole.into()),
        })
    }

    fn visit_f64<E>(self, number: f64) -> Result<WrittenSeeds, E> {
        Ok(WrittenSeeds::Other(number.into()))
    }

    fn visit_bool<E>(self, flag: bool) -> Result<WrittenSeeds, E> {
        Ok(WrittenSeeds::Other(flag.into()))
    }

    fn visit_str<E>(self, text: &str) -> Result<WrittenSeeds, E> {
        Ok(WrittenSeeds::Other(text.into()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<WrittenSeeds, A::Error> {
        let mut seeds = Vec::new();
        while let Some(one) = list.next_element()? {
            seeds.push(one);
        }
        Ok(WrittenSeeds::List(seeds))
    }

    fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<WrittenSeeds, A::Error> {
        Value::deserialize(MapAccessDeserializer::new(map)).map(WrittenSeeds::Other)
    }
}

/// A setting as it is written in TOML.
pub(super) fn setting(value: &Value) -> Result<Setting, String> {
    match value {
        Value::Boolean(flag) => Ok(Setting::Flag(*flag)),
        Value::Integer(whole) => Ok(Setting::Whole(*whole)),
        Value::Float(number) if number.is_finite() => Ok(Setting::Number(*number)),
        Value::String(text) => Ok(Setting::Text(text.clone())),
        Value::Array(list) => {
            let place = |entry: &Value| {
                entry
                    .as_integer()
                    .ok_or_else(|| format!("{entry} is not a place on a band"))
            };
            list.iter()
                .map(place)
                .collect::<Result<_, _>>()
                .map(Setting::Places)
        }
        other => Err(format!("{other} cannot be a setting")),
    }
}

/// The values of a setting that is combined: a list, or a range such as "6..24:2".
pub(super) fn values(value: &Value) -> Result<Vec<Setting>, String> {
    let values = match value {
        Value::Array(list) => list.iter().map(setting).collect::<Result<Vec<_>, _>>()?,
        Value::String(text) => match text.split_once("..") {
            Some((first, rest)) => stepped(text, first, rest)?,
            None => vec![setting(value)?],
        },
        one => vec![setting(one)?],
    };
    match values.len() {
        0 => Err("there is no value to combine".to_owned()),
        many if many > MOST_VALUES => Err(format!("a setting takes at most {MOST_VALUES} values")),
        _ => Ok(values),
    }
}

fn stepped(text: &str, first: &str, rest: &str) -> Result<Vec<Setting>, String> {
    let (last, step) = rest.split_once(':').unwrap_or((rest, "1"));
    let whole = |text: &str| text.trim().parse::<i64>();
    let wrong = || format!("\"{text}\" is not a range such as \"6..24\" or \"6..24:2\"");
    let (Ok(first), Ok(last), Ok(step @ 1..)) = (whole(first), whole(last), whole(step)) else {
        return Err(wrong());
    };
    if last < first {
        return Err(format!("there is nothing from {first} to {last}"));
    }
    let step = usize::try_from(step).map_err(|_| wrong())?;
    let values = (first..=last).step_by(step).map(Setting::Whole);
    Ok(values.take(MOST_VALUES + 1).collect())
}

/// Numbers one by one: a number, or a list of them.
pub(super) fn numbers(value: &Value) -> Result<Vec<f64>, String> {
    #[allow(clippy::cast_precision_loss, reason = "a measure that a person wrote")]
    let number = |value: &Value| match value {
        Value::Integer(whole) => Ok(*whole as f64),
        Value::Float(number) if number.is_finite() => Ok(*number),
        other => Err(format!("{other} is not a number")),
    };
    match value {
        Value::Array(list) if list.is_empty() => Err("there is no number in the list".to_owned()),
        Value::Array(list) => list.iter().map(number).collect(),
        one => Ok(vec![number(one)?]),
    }
}
