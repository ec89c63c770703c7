//! The parameters that a rule declares, and the settings that fill them.

use std::collections::BTreeMap;

use hitchwork_core::band::{MAX_TITLE_LETTERS, Setting};
use hitchwork_core::colour::Palette;
use hitchwork_core::craft::Gauge;
use hitchwork_core::near::did_you_mean_quoted;
use serde::Serialize;
use unicode_normalization::UnicodeNormalization;

/// What values a parameter takes.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Range {
    /// Whole numbers, both ends included.
    Whole {
        /// The least.
        least: i64,
        /// The most.
        most: i64,
    },
    /// Numbers, both ends included.
    Number {
        /// The least.
        least: f64,
        /// The most.
        most: f64,
    },
    /// One of several words.
    Choice {
        /// The words.
        options: Vec<String>,
    },
    /// Yes or no.
    Flag,
    /// Some places on the band, each from the least to the most.
    Places {
        /// The least.
        least: i64,
        /// The most.
        most: i64,
    },
    /// The name of a palette.
    Palette {
        /// The palettes that there are.
        options: Vec<String>,
    },
    /// Words of the maker's own, on one line.
    Text {
        /// The fewest letters.
        least: usize,
        /// The most letters.
        most: usize,
    },
}

impl Range {
    /// The range in words: "a whole number from 4 to 40".
    #[must_use]
    pub fn words(&self) -> String {
        match self {
            Self::Whole { least, most } => format!("a whole number from {least} to {most}"),
            Self::Number { least, most } => format!("a number from {least} to {most}"),
            Self::Choice { options } => format!("one of {}", options.join(", ")),
            Self::Flag => "yes or no".to_owned(),
            Self::Places { least, most } => {
                format!("places from {least} to {most}, such as {least},{most}")
            }
            Self::Palette { options } => format!("one of the palettes {}", options.join(", ")),
            Self::Text { least, most } => format!("{least} to {most} letters, on one line"),
        }
    }

    /// The beginning of a help that asks about the word that was meant, if one is near.
    pub(crate) fn meant(&self, given: &Setting) -> String {
        let options = match self {
            Self::Choice { options } | Self::Palette { options } => options.as_slice(),
            _ => &[],
        };
        did_you_mean_quoted(&given.to_string(), options.iter().map(String::as_str))
    }

    /// The same kind of values, however large or small.
    #[doc(hidden)]
    #[must_use]
    pub fn without_bounds(&self) -> Self {
        match self {
            Self::Whole { .. } => Self::Whole {
                least: i64::MIN,
                most: i64::MAX,
            },
            Self::Number { .. } => Self::Number {
                least: f64::MIN,
                most: f64::MAX,
            },
            Self::Places { .. } => Self::Places {
                least: i64::MIN,
                most: i64::MAX,
            },
            Self::Text { .. } => Self::Text {
                least: 0,
                most: MAX_TITLE_LETTERS,
            },
            other => other.clone(),
        }
    }

    /// Reads a setting as a value of this range.
    ///
    /// # Errors
    /// Why it is not one.
    #[doc(hidden)]
    pub fn accept(&self, given: &Setting) -> Result<Setting, String> {
        let value = self
            .read(given)
            .ok_or_else(|| format!("\"{given}\" is not {}", self.words()))?;
        let inside = match (self, &value) {
            (Self::Whole { least, most }, Setting::Whole(number)) => {
                (least..=most).contains(&number)
            }
            (Self::Number { least, most }, Setting::Number(number)) => {
                (least..=most).contains(&number)
            }
            (Self::Places { least, most }, Setting::Places(places)) => {
                places.iter().all(|place| (least..=most).contains(&place))
            }
            (Self::Choice { options } | Self::Palette { options }, Setting::Text(text)) => {
                options.contains(text)
            }
            (Self::Text { least, most }, Setting::Text(text)) => {
                (least..=most).contains(&&letters(text)) && !text.contains(char::is_control)
            }
            _ => true,
        };
        match (inside, self, &value) {
            (true, ..) => Ok(value),
            (false, Self::Places { least, most }, Setting::Places(places)) => {
                let outside = places
                    .iter()
                    .filter(|place| !(least..=most).contains(place));
                let outside: Vec<String> = outside.map(ToString::to_string).collect();
                Err(match outside.as_slice() {
                    [one] => format!("{one} is not a place from {least} to {most}"),
                    many => format!("{} are not places from {least} to {most}", many.join(", ")),
                })
            }
            (false, Self::Text { .. }, Setting::Text(text)) if text.contains(char::is_control) => {
                Err("it holds a line break, or another character that cannot be shown".to_owned())
            }
            (false, Self::Text { least, most }, Setting::Text(text)) => Err(format!(
                "it has {}, and may have {least} to {most}",
                match letters(text) {
                    1 => "1 letter".to_owned(),
                    count => format!("{count} letters"),
                }
            )),
            _ => Err(format!("{given} is not {}", self.words())),
        }
    }

    fn read(&self, given: &Setting) -> Option<Setting> {
        match (self, given) {
            (Self::Whole { .. }, Setting::Whole(_))
            | (Self::Number { .. }, Setting::Number(_))
            | (Self::Flag, Setting::Flag(_))
            | (Self::Choice { .. } | Self::Palette { .. } | Self::Text { .. }, Setting::Text(_)) => {
                Some(given.clone())
            }
            (Self::Whole { .. }, Setting::Text(text)) => {
                text.trim().parse().ok().map(Setting::Whole)
            }
            #[allow(clippy::cast_precision_loss, reason = "a setting that a person wrote")]
            (Self::Number { .. }, Setting::Whole(number)) => Some(Setting::Number(*number as f64)),
            (Self::Number { .. }, Setting::Text(text)) => text
                .trim()
                .parse()
                .ok()
                .filter(|number: &f64| number.is_finite())
                .map(Setting::Number),
            (Self::Flag, Setting::Text(text)) => match text.trim() {
                "yes" | "true" | "on" => Some(Setting::Flag(true)),
                "no" | "false" | "off" => Some(Setting::Flag(false)),
                _ => None,
            },
            (
                Self::Choice { .. } | Self::Palette { .. } | Self::Text { .. },
                Setting::Whole(number),
            ) => Some(Setting::Text(number.to_string())),
            (Self::Places { .. }, Setting::Places(places)) => {
                Some(Setting::Places(sorted(places.clone())))
            }
            (Self::Places { .. }, Setting::Whole(place)) => Some(Setting::Places(vec![*place])),
            (Self::Places { .. }, Setting::Text(text)) => {
                let words = text.split([',', ' ']).filter(|word| !word.is_empty());
                let places: Option<Vec<i64>> = words.map(|word| word.parse().ok()).collect();
                places.map(|places| Setting::Places(sorted(places)))
            }
            _ => None,
        }
    }
}

/// How many letters a person counts: an accent that is written apart belongs to its letter.
fn letters(text: &str) -> usize {
    text.nfc().count()
}

/// Places in order, each once: that is how they lie on the band.
fn sorted(mut places: Vec<i64>) -> Vec<i64> {
    places.sort_unstable();
    places.dedup();
    places
}

/// A parameter as a rule declares it, with the value that it had in a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Parameter {
    /// Its name.
    pub name: String,
    /// What it means, in a sentence.
    pub sentence: String,
    /// What values it takes; may depend on the values of earlier ones.
    pub range: Range,
    /// The value that it has when none is given.
    pub default: Setting,
    /// The value that it had.
    pub value: Setting,
}

/// What a rule is run with: values for its parameters, the seed, and how long the band
/// is to be.
///
/// ```
/// use hitchwork_rules::Settings;
/// let settings = Settings::new().set("threads", 12).set("turns", "4,8").seed(7).length_mm(160.0);
/// assert!(settings.names().eq(["threads", "turns"]));
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Settings {
    pub(crate) values: BTreeMap<String, Setting>,
    pub(crate) palette: Option<String>,
    pub(crate) own_palettes: Vec<Palette>,
    pub(crate) seed: u64,
    pub(crate) length_mm: Option<f64>,
    pub(crate) gauge: Option<Gauge>,
}

impl Settings {
    /// No settings: every parameter has its default, the seed is 0.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Gives a parameter a value. Text is read as the parameter's kind asks: numbers,
    /// `yes` or `no`, places as `4,8`.
    #[must_use]
    pub fn set(mut self, name: impl Into<String>, value: impl Into<GivenSetting>) -> Self {
        self.values.insert(name.into(), value.into().0);
        self
    }

    /// Gives the rule's palette parameter a value, whatever the rule calls it.
    #[must_use]
    pub fn palette(mut self, name: impl Into<String>) -> Self {
        self.palette = Some(name.into());
        self
    }

    /// Lets the rule use a palette that is not built in, by its name: for
    /// [`palette`](Self::palette), or in gradients that the rule names itself. It takes
    /// the place of a built-in palette of the same name.
    ///
    /// ```
    /// use hitchwork_core::colour::{Palette, PaletteFormat};
    /// use hitchwork_rules::{Rules, Settings};
    /// let ebb = Palette::read("ebb", b"name,colour\nmud,#6b5a48\npool,#6fa3b5\n", PaletteFormat::Csv)?;
    /// let rules = Rules::new();
    /// let drift = rules.built_in("drift").expect("built in");
    /// let made = rules.make(&drift, &Settings::new().own_palette(ebb).palette("ebb"))?;
    /// assert_eq!(made.band.palette()[0].name, "mud");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn own_palette(mut self, palette: Palette) -> Self {
        self.own_palettes.push(palette);
        self
    }

    /// Sets the seed of the rule's chance.
    #[must_use]
    pub fn seed(mut self, seed: u64) -> Self {
        self.seed = seed;
        self
    }

    /// Ties the repeat as often as this length needs, whatever the rule says.
    #[must_use]
    pub fn length_mm(mut self, length_mm: f64) -> Self {
        self.length_mm = Some(length_mm);
        self
    }

    /// Ties with the maker's own thread or swatch, whatever the rule says.
    #[must_use]
    pub fn gauge(mut self, gauge: Gauge) -> Self {
        self.gauge = Some(gauge);
        self
    }

    /// The palette that was asked for, where the run took no notice of it: every palette
    /// parameter that it declared was given another by its name. With it comes the first of
    /// these parameters.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let drift = rules.built_in("drift").expect("built in");
    /// let settings = Settings::new().palette("gull").set("palette", "regatta");
    /// let parameters = rules.parameters(&drift, &settings);
    /// let (palette, parameter) = settings.palette_without_effect(&parameters).expect("two");
    /// assert_eq!((palette, parameter.value.to_string().as_str()), ("gull", "regatta"));
    /// ```
    #[doc(hidden)]
    #[must_use]
    pub fn palette_without_effect<'a>(
        &'a self,
        parameters: &'a [Parameter],
    ) -> Option<(&'a str, &'a Parameter)> {
        let palette = self.palette.as_deref()?;
        let takes_one = |parameter: &&Parameter| matches!(parameter.range, Range::Palette { .. });
        let mut taking = parameters.iter().filter(takes_one);
        let first = taking.next()?;
        let took_it = |parameter: &Parameter| parameter.value.to_string() == palette;
        let is_taken = took_it(first) || taking.any(took_it);
        (!is_taken).then_some((palette, first))
    }

    /// The names of the parameters that were given values.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.values.keys().map(String::as_str)
    }
}

/// A value given for a parameter: a whole number, a number, a flag or text.
#[derive(Clone, Debug, PartialEq)]
pub struct GivenSetting(Setting);

macro_rules! given {
    ($($from:ty => $setting:expr),* $(,)?) => {$(
        impl From<$from> for GivenSetting {
            fn from(value: $from) -> Self {
                #[allow(clippy::redundant_closure_call, reason = "the macro's only way to name a conversion")]
                Self(($setting)(value))
            }
        }
    )*};
}

given! {
    Setting => |setting| setting,
    i64 => Setting::Whole,
    i32 => |number: i32| Setting::Whole(number.into()),
    u16 => |number: u16| Setting::Whole(number.into()),
    f64 => Setting::Number,
    bool => Setting::Flag,
    &str => |text: &str| Setting::Text(text.to_owned()),
    String => Setting::Text,
    Vec<i64> => Setting::Places,
}
