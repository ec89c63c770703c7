//! Maps of wishes that functions take beside what they need.

use std::ops::RangeInclusive;

use hitchwork_core::colour::Colour;
use hitchwork_core::near::did_you_mean;
use rhai::{Dynamic, ImmutableString, Map};

use super::given::wrong_arguments;
use crate::kinds::type_name;
use crate::trouble::{ScriptResult, wrong_value};

/// What a function was asked for in a map.
pub(super) struct Wishes {
    map: Map,
    /// What messages call that for which it was wished.
    of: &'static str,
}

impl Wishes {
    /// The wishes in a map, whose names must all be among these.
    pub(super) fn new(map: Map, of: &'static str, names: &[&str]) -> ScriptResult<Self> {
        if let Some(unknown) = map.keys().find(|name| !names.contains(&name.as_str())) {
            let meant = did_you_mean(unknown, names.iter().copied());
            let shown: String = unknown.chars().take(60).collect();
            return Err(wrong_value(
                format!("{of} has no setting called {shown}"),
                format!("{meant}there are {}", names.join(", ")),
            ));
        }
        Ok(Self { map, of })
    }

    /// What was wished under a name, whatever it is.
    pub(super) fn take(&mut self, name: &str) -> Option<Dynamic> {
        self.map.remove(name)
    }

    pub(super) fn wrong<T>(&self, name: &str, value: &Dynamic, help: &str) -> ScriptResult<T> {
        let given = match value.read_lock::<ImmutableString>() {
            Some(words) => format!("\"{}\"", words.chars().take(60).collect::<String>()),
            None if value.is_int() || value.is_float() || value.is_bool() => value.to_string(),
            None => type_name(value).to_owned(),
        };
        Err(wrong_arguments(
            format!("{name} of {} cannot be {given}", self.of),
            help.to_owned(),
        ))
    }

    /// A whole number within a range.
    pub(super) fn whole(
        &mut self,
        name: &str,
        range: RangeInclusive<i64>,
    ) -> ScriptResult<Option<usize>> {
        let Some(value) = self.take(name) else {
            return Ok(None);
        };
        let number = value.as_int().ok().filter(|number| range.contains(number));
        match number.and_then(|number| usize::try_from(number).ok()) {
            Some(number) => Ok(Some(number)),
            None => {
                let help = format!(
                    "give a whole number from {} to {}",
                    range.start(),
                    range.end()
                );
                self.wrong(name, &value, &help)
            }
        }
    }

    /// Yes or no.
    pub(super) fn flag(&mut self, name: &str) -> ScriptResult<Option<bool>> {
        let Some(value) = self.take(name) else {
            return Ok(None);
        };
        match value.as_bool() {
            Ok(flag) => Ok(Some(flag)),
            Err(_) => self.wrong(name, &value, "give true or false"),
        }
    }

    /// A colour.
    pub(super) fn colour(&mut self, name: &str) -> ScriptResult<Option<Colour>> {
        let Some(value) = self.take(name) else {
            return Ok(None);
        };
        match value.clone().try_cast::<Colour>() {
            Some(colour) => Ok(Some(colour)),
            None => self.wrong(name, &value, "give a colour: colour(\"lamp\", \"#ffc145\")"),
        }
    }
}
