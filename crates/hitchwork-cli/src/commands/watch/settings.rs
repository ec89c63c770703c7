//! What is wanted of the rule: the state that all open pages share.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::craft::{Ease, knotted_mm_for_wrist};
use serde::{Deserialize, Deserializer, Serialize};

/// The most settings that are kept: as many as a rule may have parameters.
const MOST_SETTINGS: usize = 200;

/// The whole state, as the page is told it and as it gives it back after a restart.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct SessionSettings {
    /// Values of parameters, as text; the others have their defaults.
    pub(super) settings: BTreeMap<String, String>,
    /// In words as text, since a browser's numbers are exact only up to 2^53.
    #[serde(with = "as_text")]
    pub(super) seed: u64,
    /// How long the band is to be; it has no length of its own where it is for a wrist.
    pub(super) length_cm: Option<f64>,
    /// For which wrist it is, in centimetres round.
    pub(super) wrist_cm: Option<f64>,
    pub(super) mirrored: bool,
}

/// What a touch on the page changes: all that is not named stays as it is.
#[derive(Clone, Debug, Default, PartialEq, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct SettingsChange {
    /// Whether the settings from before go back to what the rule says.
    afresh: bool,
    settings: BTreeMap<String, String>,
    #[serde(deserialize_with = "as_text::given")]
    seed: Option<u64>,
    #[serde(deserialize_with = "given")]
    length_cm: Option<Option<f64>>,
    #[serde(deserialize_with = "given")]
    wrist_cm: Option<Option<f64>>,
    mirrored: Option<bool>,
}

/// What a page that was open before the command started again knows of it.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Memory {
    /// What the command line asked for then.
    given: SessionSettings,
    /// What was wanted at last.
    wishes: SessionSettings,
}

impl SessionSettings {
    /// How long the knotted part is to be, in millimetres, if anybody has said.
    pub(super) fn length_mm(&self) -> Option<f64> {
        let of_wrist = self.wrist_cm.and_then(knotted_mm);
        of_wrist.or(self.length_cm.map(|length_cm| length_cm * 10.0))
    }

    /// Takes over what has changed; nothing where that would be more than any rule takes.
    pub(super) fn change(&mut self, changes: SettingsChange) -> Result<(), &'static str> {
        let mut settings = match changes.afresh {
            true => BTreeMap::new(),
            false => self.settings.clone(),
        };
        settings.extend(changes.settings);
        if settings.len() > MOST_SETTINGS {
            return Err("no rule has that many settings");
        }
        let (mut length_cm, mut wrist_cm) = (self.length_cm, self.wrist_cm);
        // Each takes the place of the other.
        if let Some(length) = changes.length_cm {
            length_cm = length;
            wrist_cm = wrist_cm.filter(|_| length.is_none());
        }
        if let Some(wrist) = changes.wrist_cm {
            wrist_cm = wrist;
            length_cm = length_cm.filter(|_| wrist.is_none());
        }
        if wrist_cm.is_some_and(|wrist| knotted_mm(wrist).is_none()) {
            return Err("a wrist is from 6 to 40 centimetres round");
        }
        *self = Self {
            settings,
            seed: changes.seed.unwrap_or(self.seed),
            length_cm,
            wrist_cm,
            mirrored: changes.mirrored.unwrap_or(self.mirrored),
        };
        Ok(())
    }

    /// What is wanted by those who knew the command before it started again, where this is what
    /// its command line asks for now. What has been changed there is meant, and wins; all
    /// else is as it was at last.
    pub(super) fn after_restart(&self, memory: &Memory) -> Self {
        let Memory { given, wishes } = memory;
        let names: BTreeSet<&String> = [self, given, wishes]
            .into_iter()
            .flat_map(|each| each.settings.keys())
            .collect();
        let settings = names.into_iter().filter_map(|name| {
            let of = |wishes: &Self| wishes.settings.get(name).cloned();
            let value = newest(of(self), &of(given), of(wishes));
            value.map(|value| (name.clone(), value))
        });
        let size = |of: &Self| (of.length_cm, of.wrist_cm);
        let (length_cm, wrist_cm) = newest(size(self), &size(given), size(wishes));
        Self {
            settings: settings.take(MOST_SETTINGS).collect(),
            seed: newest(self.seed, &given.seed, wishes.seed),
            length_cm,
            wrist_cm: wrist_cm.filter(|wrist| knotted_mm(*wrist).is_some()),
            mirrored: newest(self.mirrored, &given.mirrored, wishes.mirrored),
        }
    }
}

/// How long a band is knotted for a wrist; nothing where nobody has such a wrist.
fn knotted_mm(wrist_cm: f64) -> Option<f64> {
    knotted_mm_for_wrist(wrist_cm * 10.0, Ease::default()).ok()
}

/// Of what a command line asks for now and asked for before, and what was wanted at last.
fn newest<T: PartialEq>(now: T, before: &T, at_last: T) -> T {
    match now == *before {
        true => at_last,
        false => now,
    }
}

/// A value that is there, be it `null`: what is not there stays as it is.
fn given<'de, T: Deserialize<'de>, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<Option<T>, D::Error> {
    T::deserialize(deserializer).map(Some)
}

/// Seeds as text.
mod as_text {
    use serde::de::{Deserialize, Deserializer, Error};
    use serde::ser::Serializer;

    pub(super) fn serialize<S: Serializer>(seed: &u64, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(seed)
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(deserializer: D) -> Result<u64, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.trim()
            .parse()
            .map_err(|_| D::Error::custom("a seed is a whole number"))
    }

    pub(super) fn given<'de, D: Deserializer<'de>>(
        deserializer: D,
    ) -> Result<Option<u64>, D::Error> {
        deserialize(deserializer).map(Some)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wishes(text: &str) -> SessionSettings {
        serde_json::from_str(text).expect("it can be read")
    }

    fn after(start: &str, changes: &[&str]) -> SessionSettings {
        let mut wishes = wishes(start);
        for change in changes {
            let changes = serde_json::from_str(change).expect("it can be read");
            wishes.change(changes).expect("it is taken");
        }
        wishes
    }

    #[test]
    fn a_change_touches_only_what_it_names() {
        let all = r#"{"settings":{"threads":"8","lean":"left"},"seed":"3","length_cm":12.5,"mirrored":true}"#;
        for (change, then) in [
            ("{}", all.to_owned()),
            (r#"{"settings":{"threads":"9"}}"#, all.replace('8', "9")),
            (r#"{"seed":"7"}"#, all.replace("\"3\"", "\"7\"")),
            (r#"{"length_cm":4}"#, all.replace("12.5", "4")),
            (r#"{"length_cm":null}"#, all.replace("12.5", "null")),
            (r#"{"mirrored":false}"#, all.replace("true", "false")),
            // A wrist and a length take each other's place.
            (
                r#"{"wrist_cm":12.5}"#,
                all.replace(r#""length_cm":12.5"#, r#""wrist_cm":12.5"#),
            ),
            (r#"{"wrist_cm":null}"#, all.to_owned()),
            (
                r#"{"afresh":true,"settings":{"threads":"5"}}"#,
                all.replace(r#""threads":"8","lean":"left""#, r#""threads":"5""#),
            ),
        ] {
            assert_eq!(after(all, &[change]), wishes(&then), "{change}");
        }
        let for_a_wrist = r#"{"wrist_cm":15.5}"#;
        assert_eq!(
            after(for_a_wrist, &[r#"{"length_cm":9}"#]),
            wishes(r#"{"length_cm":9}"#)
        );
        assert_eq!(
            after(for_a_wrist, &[r#"{"length_cm":null}"#]),
            wishes(for_a_wrist)
        );
        // 155 mm and 19 mm of ease without the 25 mm that the ties bridge.
        assert_eq!(wishes(for_a_wrist).length_mm(), Some(149.0));
        assert_eq!(wishes(r#"{"length_cm":9}"#).length_mm(), Some(90.0));
        let giant = serde_json::from_str(r#"{"wrist_cm":400}"#).expect("it can be read");
        assert!(wishes("{}").change(giant).is_err());
        // Two pages that change different things both get what they want.
        let both = after(
            "{}",
            &[r#"{"seed":"7"}"#, r#"{"settings":{"threads":"9"}}"#],
        );
        assert_eq!(both, wishes(r#"{"seed":"7","settings":{"threads":"9"}}"#));
    }

    #[test]
    fn a_seed_is_exact_to_its_last_digit() {
        // 2^53 + 1 is the first whole number that a browser's numbers cannot hold (IEEE 754,
        // binary64: 53 bits of significand).
        for seed in [0, (1 << 53) + 1, u64::MAX] {
            let told = serde_json::to_string(&SessionSettings {
                seed,
                ..SessionSettings::default()
            });
            let told = told.expect("it can be written");
            assert!(told.contains(&format!("\"seed\":\"{seed}\"")), "{told}");
            assert_eq!(wishes(&told).seed, seed);
        }
        for wrong in [
            "9007199254740993",
            "\"\"",
            "\"-1\"",
            "\"1e3\"",
            "null",
            "\"18446744073709551616\"",
        ] {
            let change = format!("{{\"seed\":{wrong}}}");
            assert!(
                serde_json::from_str::<SettingsChange>(&change).is_err(),
                "{change}"
            );
        }
    }

    #[test]
    fn more_settings_than_any_rule_has_are_refused_and_change_nothing() {
        let mut kept = wishes(r#"{"settings":{"threads":"8"},"seed":"3"}"#);
        let before = kept.clone();
        let names = (0..MOST_SETTINGS).map(|at| (format!("name {at}"), String::new()));
        let changes = SettingsChange {
            settings: names.collect(),
            seed: Some(4),
            ..SettingsChange::default()
        };
        assert!(kept.change(changes).is_err());
        assert_eq!(kept, before);
    }

    #[test]
    fn after_a_restart_all_is_as_it_was_but_for_what_the_command_line_changed() {
        let memory = |given: &str, at_last: &str| Memory {
            given: wishes(given),
            wishes: wishes(at_last),
        };
        let at_last = r#"{"settings":{"threads":"8","lean":"left"},"seed":"3","length_cm":5,"mirrored":true}"#;
        // The same command again: as it was.
        let given = r#"{"settings":{"threads":"6"},"length_cm":4}"#;
        let known = memory(given, at_last);
        assert_eq!(wishes(given).after_restart(&known), wishes(at_last));
        // Another number of threads, no length any more, and a seed: these are meant.
        let now = wishes(r#"{"settings":{"threads":"10"},"seed":"9"}"#);
        assert_eq!(
            now.after_restart(&known),
            wishes(r#"{"settings":{"threads":"10","lean":"left"},"seed":"9","mirrored":true}"#)
        );
        // A setting that the page took back, or the command line did, stays away.
        let took_back = memory(r#"{"settings":{"threads":"6"}}"#, "{}");
        assert_eq!(
            wishes(r#"{"settings":{"threads":"6"}}"#).after_restart(&took_back),
            wishes("{}")
        );
        let left_out = memory(
            r#"{"settings":{"threads":"6"}}"#,
            r#"{"settings":{"threads":"6"},"seed":"2"}"#,
        );
        assert_eq!(
            wishes("{}").after_restart(&left_out),
            wishes(r#"{"seed":"2"}"#)
        );
        // Its mirror image too.
        let turned = memory(r#"{"mirrored":true}"#, r#"{"mirrored":true}"#);
        assert_eq!(wishes("{}").after_restart(&turned), wishes("{}"));
    }
}
