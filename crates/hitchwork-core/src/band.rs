//! A whole band: threads, rows, ends, and where it came from.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use serde::de::{Error as _, MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::colour::Colour;
use crate::craft::{End, Gauge};
use crate::error::{Error, Problem, shortened};
pub use crate::limits::{
    MAX_COLOURS, MAX_KNOTS, MAX_LENGTH_MM, MAX_NAME_LETTERS, MAX_NOTES_LETTERS, MAX_REPEATS,
    MAX_ROWS, MAX_THREADS, MAX_TITLE_LETTERS, MIN_LENGTH_MM, MIN_THREADS,
};
use crate::row::{self, Row};
use crate::text::{is_blank, on_one_line};

/// Refuses a text that is longer than a maker would read. Letters are counted as one sees
/// them written, however many bytes each takes.
///
/// ```
/// use hitchwork_core::band::{MAX_NAME_LETTERS, check_letters};
/// assert!(check_letters("a name", &"ß".repeat(100), MAX_NAME_LETTERS).is_ok());
/// let error = check_letters("a name", &"ß".repeat(101), MAX_NAME_LETTERS).unwrap_err();
/// assert_eq!(error.to_string(), "a name has 101 letters; at most 100 are allowed");
/// ```
///
/// # Errors
/// When it has more than `most` letters.
#[doc(hidden)]
pub fn check_letters(what: &'static str, text: &str, most: usize) -> Result<(), Error> {
    // No letter takes less than a byte.
    if text.len() <= most {
        return Ok(());
    }
    match text.chars().count() {
        found if found > most => Err(Problem::TooManyLetters { what, found, most }.into()),
        _ => Ok(()),
    }
}

/// Which of the three parts of a band a row belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// Tied once, before the repeats.
    LeadIn,
    /// Tied again and again.
    Repeat,
    /// Tied once, after the repeats.
    LeadOut,
}

impl Part {
    /// The name as people say it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::LeadIn => "lead-in",
            Self::Repeat => "repeat",
            Self::LeadOut => "lead-out",
        }
    }
}

impl fmt::Display for Part {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A setting's value, as written in a band's origin.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub enum Setting {
    /// A switch.
    Flag(bool),
    /// A whole number.
    Whole(i64),
    /// A number with a fraction.
    Number(f64),
    /// A choice, or the name of a palette.
    Text(String),
    /// Places on the band, counted from 1.
    Places(Vec<i64>),
}

// Derived, this would first copy whatever is there, however large, and then not say what
// was wrong with it.
impl<'de> Deserialize<'de> for Setting {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Any;
        impl<'de> Visitor<'de> for Any {
            type Value = Setting;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a switch, a number, a text or a list of places")
            }
            fn visit_bool<E>(self, on: bool) -> Result<Setting, E> {
                Ok(Setting::Flag(on))
            }
            fn visit_i64<E>(self, number: i64) -> Result<Setting, E> {
                Ok(Setting::Whole(number))
            }
            fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<Setting, E> {
                let too_large =
                    |_| E::custom(format!("{number} is larger than any setting can be"));
                i64::try_from(number).map(Setting::Whole).map_err(too_large)
            }
            fn visit_f64<E>(self, number: f64) -> Result<Setting, E> {
                Ok(Setting::Number(number))
            }
            fn visit_str<E>(self, text: &str) -> Result<Setting, E> {
                Ok(Setting::Text(text.to_owned()))
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Setting, A::Error> {
                let mut places = Vec::new();
                while let Some(place) = list.next_element()? {
                    places.push(place);
                }
                Ok(Setting::Places(places))
            }
        }
        deserializer.deserialize_any(Any)
    }
}

impl fmt::Display for Setting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Flag(on) => f.write_str(if *on { "yes" } else { "no" }),
            Self::Whole(number) => number.fmt(f),
            Self::Number(number) => number.fmt(f),
            Self::Text(text) => text.fmt(f),
            Self::Places(places) => {
                for (index, place) in places.iter().enumerate() {
                    write!(f, "{}{place}", if index == 0 { "" } else { "," })?;
                }
                Ok(())
            }
        }
    }
}

/// Which rule made a band, with which settings: enough to make it again.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
pub struct Origin {
    /// The rule's name, or the name of its file.
    pub rule: String,
    /// Every setting of the rule with the value it had.
    #[serde(default, deserialize_with = "settings_named_once")]
    pub settings: BTreeMap<String, Setting>,
    /// The seed for what its rule leaves to chance.
    #[serde(default)]
    pub seed: u64,
    /// The versioned names of the recipes that turned the seed into choices, separated by spaces.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub chance: String,
    /// The version of Hitchwork.
    #[serde(default)]
    pub hitchwork: String,
}

/// Reads settings, refusing a name that comes twice instead of taking the last.
fn settings_named_once<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<BTreeMap<String, Setting>, D::Error> {
    struct Once;
    impl<'de> Visitor<'de> for Once {
        type Value = BTreeMap<String, Setting>;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("settings by name, in braces,")
        }
        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
            let mut settings = BTreeMap::new();
            while let Some((name, setting)) = map.next_entry::<String, Setting>()? {
                if settings.contains_key(&name) {
                    return Err(A::Error::custom(format!(
                        "the setting \"{}\" is given twice",
                        shortened(&name)
                    )));
                }
                settings.insert(name, setting);
            }
            Ok(settings)
        }
    }
    deserializer.deserialize_any(Once)
}

/// What a band is made from, before it is checked; see [`Band::new`].
#[derive(Clone, Debug, Default)]
pub struct BandParts {
    /// What the band is called.
    pub title: String,
    /// What its designer wants to say about it.
    pub notes: String,
    /// The colours, each with a name of its own.
    pub palette: Vec<Colour>,
    /// For each thread from left to right, its colour: an index into the palette, from 0.
    pub threads: Vec<u16>,
    /// Rows tied once, before the repeats.
    pub lead_in: Vec<Row>,
    /// Rows tied again and again.
    pub repeat: Vec<Row>,
    /// Rows tied once, after the repeats.
    pub lead_out: Vec<Row>,
    /// How often the repeat is tied.
    pub repeats: u32,
    /// Whether its designer wants the rows tied as they are written, and not in the [easiest
    /// order](crate::work).
    pub as_written: bool,
    /// How the band begins.
    pub start: End,
    /// How the band ends.
    pub finish: End,
    /// How large its knots come out.
    pub gauge: Gauge,
    /// Which rule made it.
    pub origin: Option<Origin>,
    /// Names of the rule files that the places of knots refer to.
    pub sources: Vec<String>,
}

/// A band that can be tied: every knot lies between two of its threads, every thread has
/// a colour, and there is something to repeat. What it is worth is for the proofs.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// let stripe = Band::new(BandParts {
///     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
///     threads: vec![0, 0, 1, 1],
///     repeat: vec![Row::run(Kind::Forward, 1..4)?],
///     repeats: 12,
///     ..BandParts::default()
/// })?;
/// assert_eq!(stripe.thread_count(), 4);
/// assert_eq!(stripe.knot_count(), 36);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Band {
    parts: BandParts,
    threads: u16,
    knots: u64,
}

impl Band {
    /// Checks the parts and makes the band.
    ///
    /// ```
    /// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// let parts = BandParts {
    ///     palette: vec![Colour::new("tide", Srgb::new(20, 120, 140))],
    ///     threads: vec![0, 0, 0],
    ///     repeat: vec![Row::run(Kind::Forward, 1..3)?],
    ///     repeats: 10,
    ///     ..BandParts::default()
    /// };
    /// assert_eq!(Band::new(parts.clone())?.thread_count(), 3);
    ///
    /// let too_far = BandParts { repeat: vec![Row::run(Kind::Forward, [3])?], ..parts };
    /// assert_eq!(
    ///     Band::new(too_far).unwrap_err().to_string(),
    ///     "repeat, row 1, knot 1: column 3 lies outside the band, whose 3 threads have columns 1 to 2"
    /// );
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the number of threads, colours, rows, repeats or knots is out of range, a
    /// knot lies outside the threads, a row is empty, a thread's colour is not in the
    /// palette, colours share a name or have none, the gauge is absurd, or a setting of the
    /// origin is not finite.
    pub fn new(mut parts: BandParts) -> Result<Self, Error> {
        for colour in &mut parts.palette {
            if let Cow::Owned(name) = on_one_line(&colour.name) {
                colour.name = name;
            }
        }
        let threads = u16::try_from(parts.threads.len())
            .ok()
            .filter(|count| (MIN_THREADS..=MAX_THREADS).contains(count))
            .ok_or(Problem::ThreadCount {
                found: parts.threads.len(),
            })?;
        check_words(&parts)?;
        check_palette(&parts.palette)?;
        for (index, &colour) in parts.threads.iter().enumerate() {
            if usize::from(colour) >= parts.palette.len() {
                let (thread, palette) = (index + 1, parts.palette.len());
                return Err(Problem::NoSuchColour {
                    thread,
                    index: colour,
                    palette,
                }
                .into());
            }
        }
        let lead_in = check_rows(Part::LeadIn, &parts.lead_in, threads)?;
        let repeat = check_rows(Part::Repeat, &parts.repeat, threads)?;
        let lead_out = check_rows(Part::LeadOut, &parts.lead_out, threads)?;
        if parts.repeat.is_empty() {
            return Err(Problem::NoRepeat.into());
        }
        if !(1..=MAX_REPEATS).contains(&parts.repeats) {
            return Err(Problem::Repeats {
                found: parts.repeats,
                most: MAX_REPEATS,
            }
            .into());
        }
        let knots = lead_in + repeat * u64::from(parts.repeats) + lead_out;
        if knots > MAX_KNOTS {
            return Err(Problem::TooManyKnots { found: knots }.into());
        }
        parts.gauge.checked()?;
        for (name, setting) in parts.origin.iter().flat_map(|origin| &origin.settings) {
            if matches!(setting, Setting::Number(number) if !number.is_finite()) {
                return Err(Problem::SettingIsNoNumber { name: name.clone() }.into());
            }
        }
        Ok(Self {
            parts,
            threads,
            knots,
        })
    }

    /// What the band is called; may be empty.
    #[must_use]
    pub fn title(&self) -> &str {
        &self.parts.title
    }

    /// What its designer wants to say about it; may be empty.
    #[must_use]
    pub fn notes(&self) -> &str {
        &self.parts.notes
    }

    /// The colours.
    #[must_use]
    pub fn palette(&self) -> &[Colour] {
        &self.parts.palette
    }

    /// For each thread from left to right, the index of its colour in the palette.
    #[must_use]
    pub fn thread_colours(&self) -> &[u16] {
        &self.parts.threads
    }

    /// The colour of each thread, from left to right.
    pub fn colours(&self) -> impl ExactSizeIterator<Item = &Colour> + Clone {
        self.parts
            .threads
            .iter()
            .map(|&index| &self.parts.palette[usize::from(index)])
    }

    /// The colours that hang on the band, by their indices in the palette, in its order.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # let shades = [Srgb::new(20, 120, 140), Srgb::new(240, 190, 60), Srgb::new(90, 20, 60)];
    /// let band = Band::new(BandParts {
    ///     palette: Colour::spoken(shades), threads: vec![2, 0, 2],
    ///     repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    ///     ..BandParts::default()
    /// })?;
    /// assert_eq!(band.used_colours(), [0, 2]);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn used_colours(&self) -> Vec<u16> {
        let mut used = self.parts.threads.clone();
        used.sort_unstable();
        used.dedup();
        used
    }

    /// For each thread the place in the palette of the first colour that has the value of
    /// its own. A colour is its value: two names for one value are one colour to cut, to
    /// fold and to buy.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// let teal = Srgb::new(20, 120, 140);
    /// let band = Band::new(BandParts {
    ///     palette: vec![Colour::new("teal", teal), Colour::new("lagoon", teal)],
    ///     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    ///     ..BandParts::default() })?;
    /// assert_eq!(band.thread_values(), [0, 0, 0]);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn thread_values(&self) -> Vec<u16> {
        let palette = &self.parts.palette;
        let mut first = BTreeMap::new();
        for (index, colour) in (0_u16..).zip(palette) {
            first.entry(colour.srgb).or_insert(index);
        }
        let threads = self.parts.threads.iter();
        threads
            .map(|colour| first[&palette[usize::from(*colour)].srgb])
            .collect()
    }

    /// How many threads the band has.
    #[must_use]
    pub fn thread_count(&self) -> u16 {
        self.threads
    }

    /// How many columns: one less than the threads.
    #[must_use]
    pub fn column_count(&self) -> u16 {
        self.threads - 1
    }

    /// The rows of one part.
    #[must_use]
    pub fn rows(&self, part: Part) -> &[Row] {
        match part {
            Part::LeadIn => &self.parts.lead_in,
            Part::Repeat => &self.parts.repeat,
            Part::LeadOut => &self.parts.lead_out,
        }
    }

    /// The rows that are tied again and again.
    #[must_use]
    pub fn repeat(&self) -> &[Row] {
        &self.parts.repeat
    }

    /// How often the repeat is tied.
    #[must_use]
    pub fn repeats(&self) -> u32 {
        self.parts.repeats
    }

    /// How many knots are tied in all.
    #[must_use]
    pub fn knot_count(&self) -> u64 {
        self.knots
    }

    /// Whether its designer wants the rows tied as they are written.
    #[must_use]
    pub fn as_written(&self) -> bool {
        self.parts.as_written
    }

    /// How the band begins.
    #[must_use]
    pub fn start(&self) -> End {
        self.parts.start
    }

    /// How the band ends.
    #[must_use]
    pub fn finish(&self) -> End {
        self.parts.finish
    }

    /// How large its knots come out.
    #[must_use]
    pub fn gauge(&self) -> Gauge {
        self.parts.gauge
    }

    /// Which rule made it, if one did.
    #[must_use]
    pub fn origin(&self) -> Option<&Origin> {
        self.parts.origin.as_ref()
    }

    /// Names of the rule files that the places of its knots refer to.
    #[must_use]
    pub fn sources(&self) -> &[String] {
        &self.parts.sources
    }

    /// The parts, to change and check again.
    #[must_use]
    pub fn into_parts(self) -> BandParts {
        self.parts
    }

    /// The mirror image of the band.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 1,
    /// #     ..BandParts::default() })?;
    /// let other = band.mirrored();
    /// assert_eq!(other.thread_colours(), [1, 1, 0]);
    /// assert_eq!(other.repeat()[0].to_string(), "backward at 2, backward at 1");
    /// assert_eq!(other.mirrored().repeat(), band.repeat());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn mirrored(&self) -> Self {
        let mut parts = self.parts.clone();
        parts.threads.reverse();
        for rows in [&mut parts.lead_in, &mut parts.repeat, &mut parts.lead_out] {
            *rows =
                row::mirrored(rows, self.threads).expect("a band's knots lie within its threads");
        }
        parts.start = parts.start.mirrored();
        parts.finish = parts.finish.mirrored();
        Self { parts, ..*self }
    }
}

fn check_words(parts: &BandParts) -> Result<(), Error> {
    check_letters("the title", &parts.title, MAX_TITLE_LETTERS)?;
    check_letters("the text of the notes", &parts.notes, MAX_NOTES_LETTERS)?;
    for (name, setting) in parts.origin.iter().flat_map(|origin| &origin.settings) {
        check_letters("the name of a setting", name, MAX_NAME_LETTERS)?;
        if let Setting::Text(text) = setting {
            check_letters("the value of a setting", text, MAX_TITLE_LETTERS)?;
        }
    }
    Ok(())
}

fn check_palette(palette: &[Colour]) -> Result<(), Error> {
    if palette.is_empty() {
        return Err(Problem::EmptyPalette.into());
    }
    if palette.len() > MAX_COLOURS {
        return Err(Problem::TooManyColours {
            found: palette.len(),
        }
        .into());
    }
    let mut names = BTreeSet::new();
    for (index, colour) in palette.iter().enumerate() {
        if is_blank(&colour.name) {
            return Err(Problem::ColourWithoutName { number: index + 1 }.into());
        }
        check_letters("the name of a colour", &colour.name, MAX_NAME_LETTERS)?;
        if !names.insert(&colour.name) {
            return Err(Problem::ColourNamedTwice {
                name: colour.name.clone(),
            }
            .into());
        }
    }
    Ok(())
}

/// Gives the number of knots.
fn check_rows(part: Part, rows: &[Row], threads: u16) -> Result<u64, Error> {
    let part = part.name();
    if rows.len() > MAX_ROWS {
        return Err(Problem::TooManyRows {
            part,
            found: rows.len(),
        }
        .into());
    }
    // Rows may share their knots, and so be many more than one would go through.
    let knots = rows.iter().map(|row| row.len() as u64).sum();
    if knots > MAX_KNOTS {
        return Err(Problem::TooManyKnots { found: knots }.into());
    }
    for (index, tied) in rows.iter().enumerate() {
        let row = index + 1;
        if tied.is_empty() {
            return Err(Problem::EmptyRow { part, row }.into());
        }
        if let Some(at) = tied
            .knots()
            .iter()
            .position(|knot| knot.column().number() >= threads)
        {
            let outside = tied.knots()[at];
            let (knot, column, place) = (at + 1, outside.column(), outside.place());
            return Err(Problem::KnotOutside {
                part,
                row,
                knot,
                column,
                threads,
                place,
            }
            .into());
        }
    }
    Ok(knots)
}
