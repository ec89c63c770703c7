//! Colours as numbers and as words; gradients that a drift can use; and the threads that you
//! really own.

mod assign;
mod choose;
mod contrast;
mod difference;
mod gradient;
mod legible;
mod listing;
mod matching;
mod name;
mod order;
mod palette_file;
mod palettes;
mod space;
mod stash;
mod vision;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use serde::{Deserialize, Serialize};

pub use choose::{Apart, ThreadChoice, choose_threads};
pub use contrast::{contrast, relative_luminance};
pub use difference::{ciede2000, difference};
pub use gradient::{Course, Gradient, Way, contrasting_colours, cyclic_gradient, fade};
pub use legible::{Sight, TYING_DISTANCE_MM};
pub use listing::MAX_LIST_BYTES;
pub use matching::{GradientShopping, Matching, Missing, Pair, match_threads, shopping};
use name::name_unlike;
pub use name::spoken_name;
pub use order::{EXACT_UP_TO, Order, smoothest_order};
pub use palette_file::PaletteFormat;
pub use palettes::{Palette, built_in_palettes, palette};
pub use stash::{MAX_OWNED, Owned, Stash};
pub use vision::Vision;

use crate::error::{Error, Problem};
pub use crate::limits::MAX_ORDERED;

/// An 8-bit sRGB colour (IEC 61966-2-1), written `#rrggbb`.
///
/// ```
/// use hitchwork_core::colour::Srgb;
/// let teal: Srgb = "#1d6f8c".parse()?;
/// assert_eq!(teal, Srgb::new(0x1d, 0x6f, 0x8c));
/// assert_eq!(teal.to_string(), "#1d6f8c");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Srgb {
    /// Red, 0 to 255.
    pub red: u8,
    /// Green, 0 to 255.
    pub green: u8,
    /// Blue, 0 to 255.
    pub blue: u8,
}

impl Srgb {
    /// A colour from its three parts, each 0 to 255.
    #[must_use]
    pub const fn new(red: u8, green: u8, blue: u8) -> Self {
        Self { red, green, blue }
    }
}

impl fmt::Display for Srgb {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "#{:02x}{:02x}{:02x}", self.red, self.green, self.blue)
    }
}

impl std::str::FromStr for Srgb {
    type Err = Error;

    fn from_str(text: &str) -> Result<Self, Error> {
        let wrong = || {
            Error::from(Problem::NotAColour {
                text: text.chars().take(40).collect(),
            })
        };
        let digits = text.strip_prefix('#').ok_or_else(wrong)?;
        if digits.len() != 6 || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
            return Err(wrong());
        }
        let part = |at: usize| u8::from_str_radix(&digits[at..at + 2], 16).map_err(|_| wrong());
        Ok(Self::new(part(0)?, part(2)?, part(4)?))
    }
}

impl Serialize for Srgb {
    fn serialize<S: serde::Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Srgb {
    fn deserialize<D: serde::Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Hex;
        impl serde::de::Visitor<'_> for Hex {
            type Value = Srgb;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a colour as # and six hexadecimal digits")
            }
            fn visit_str<E: serde::de::Error>(self, text: &str) -> Result<Srgb, E> {
                text.parse().map_err(E::custom)
            }
        }
        // Not asked for as text, so that a number is told what belongs there.
        deserializer.deserialize_any(Hex)
    }
}

#[cfg(feature = "schema")]
impl schemars::JsonSchema for Srgb {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Srgb".into()
    }
    fn json_schema(_: &mut schemars::SchemaGenerator) -> schemars::Schema {
        schemars::json_schema!({ "type": "string", "pattern": "^#[0-9a-fA-F]{6}$", "description": "An 8-bit sRGB colour." })
    }
}

/// A colour with the name by which a maker calls it.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Colour {
    /// The name, as said at the table; not blank.
    #[cfg_attr(feature = "schema", schemars(regex(pattern = r"\S")))]
    pub name: String,
    /// The value.
    pub srgb: Srgb,
}

impl Colour {
    /// A colour with a name.
    #[must_use]
    pub fn new(name: impl Into<String>, srgb: Srgb) -> Self {
        Self {
            name: name.into(),
            srgb,
        }
    }
}

/// Gives different colours different names: the first of a name keeps it, and each further
/// value gets the next number that no other colour's name has ("teal", "teal 2"). One value
/// keeps one name, the first that it had.
///
/// ```
/// use hitchwork_core::colour::{Colour, Srgb, name_apart};
/// let [deep, pale] = [Srgb::new(0, 128, 128), Srgb::new(120, 190, 190)];
/// let mut colours = vec![
///     Colour::new("teal", deep), Colour::new("teal", pale),
///     Colour::new("teal 2", Srgb::new(9, 99, 99)), Colour::new("lagoon", deep),
/// ];
/// name_apart(&mut colours);
/// let names: Vec<&str> = colours.iter().map(|colour| colour.name.as_str()).collect();
/// assert_eq!(names, ["teal", "teal 3", "teal 2", "teal"]);
/// ```
pub fn name_apart(colours: &mut [Colour]) {
    let mut names = BTreeMap::<Srgb, String>::new();
    let mut taken: BTreeSet<String> = BTreeSet::new();
    let given: BTreeSet<String> = colours.iter().map(|colour| colour.name.clone()).collect();
    for colour in colours {
        if let Some(name) = names.get(&colour.srgb) {
            colour.name.clone_from(name);
            continue;
        }
        let numbered = (2_usize..)
            .map(|number| format!("{} {number}", colour.name))
            .filter(|name| !given.contains(name));
        let name = std::iter::once(colour.name.clone())
            .chain(numbered)
            .find(|name| !taken.contains(name))
            .expect("there are more numbers than colours");
        taken.insert(name.clone());
        names.insert(colour.srgb, name.clone());
        colour.name = name;
    }
}
