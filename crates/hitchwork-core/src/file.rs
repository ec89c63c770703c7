//! Band files: text in, text out. Reading and writing the disk is somebody else's job.
//!
//! The format is `hitchwork-band/1`; its JSON Schema lies beside this crate in
//! `schema/band.schema.json`. Reading is strict: an unknown field, a field given twice, or
//! another version is refused with its place. Writing always gives the same bytes for the
//! same band.

use std::fmt;
use std::marker::PhantomData;
use std::num::NonZeroU16;

use serde::de::value::MapAccessDeserializer;
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use serde_path_to_error::{Path, Segment};

use crate::band::{Band, BandParts, Origin};
use crate::colour::Colour;
use crate::craft::{End, Gauge};
use crate::error::{Error, shortened};
use crate::knot::{Column, Kind, Knot};
use crate::misread::{Asking, Misread, Noted};
use crate::row::Row;
use crate::text;

/// The name of the format, which every written file begins with.
pub const FORMAT: &str = "hitchwork-band/1";

/// The most bytes that a band file may have.
pub const MAX_BYTES: usize = 64 << 20;

/// A hand-knotted band: its threads, its rows of knots, and where it came from.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct BandFile {
    /// The format and its version; a hand-written file may leave it out.
    #[serde(default = "format")]
    #[cfg_attr(feature = "schema", schemars(extend("const" = FORMAT)))]
    format: String,
    /// What the band is called.
    #[serde(default)]
    title: String,
    /// What its designer wants to say about it.
    #[serde(default)]
    notes: String,
    /// The colours, each with a name of its own.
    #[cfg_attr(feature = "schema", schemars(length(min = 1, max = 1000)))]
    palette: Vec<Braced<Colour>>,
    /// One index into the palette (from 0) per thread, from left to right.
    #[cfg_attr(feature = "schema", schemars(length(min = 2, max = 200)))]
    threads: Vec<u16>,
    /// Rows tied once, before the repeats.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(length(max = 100_000)))]
    lead_in: Vec<Braced<RowFile>>,
    /// Rows tied again and again.
    #[cfg_attr(feature = "schema", schemars(length(min = 1, max = 100_000)))]
    repeat: Vec<Braced<RowFile>>,
    /// Rows tied once, after the repeats.
    #[serde(default)]
    #[cfg_attr(feature = "schema", schemars(length(max = 100_000)))]
    lead_out: Vec<Braced<RowFile>>,
    /// How often the repeat is tied.
    #[cfg_attr(feature = "schema", schemars(range(min = 1, max = 1_000_000)))]
    repeats: u32,
    /// Whether the rows are tied as they are written, and not in the easiest order.
    #[serde(default, skip_serializing_if = "is_left_to_the_maker")]
    as_written: bool,
    /// How the band begins.
    #[serde(default)]
    start: Braced<End>,
    /// How the band ends.
    #[serde(default)]
    finish: Braced<End>,
    /// How large its knots come out, in millimetres.
    #[serde(default)]
    gauge: Braced<Gauge>,
    /// Which rule made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    origin: Option<Braced<Origin>>,
}

/// A value written in braces, by the names of its fields. Serde would also take a list of
/// the fields' values in their order, which no reader could check.
#[derive(Debug, Default, Serialize)]
#[serde(transparent)]
struct Braced<T>(T);

#[cfg(feature = "schema")]
impl<T: schemars::JsonSchema> schemars::JsonSchema for Braced<T> {
    fn schema_name() -> std::borrow::Cow<'static, str> {
        T::schema_name()
    }
    fn schema_id() -> std::borrow::Cow<'static, str> {
        T::schema_id()
    }
    fn json_schema(generator: &mut schemars::SchemaGenerator) -> schemars::Schema {
        T::json_schema(generator)
    }
}

impl<'de, T: Deserialize<'de>> Deserialize<'de> for Braced<T> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Fields<T>(PhantomData<T>);
        impl<'de, T: Deserialize<'de>> Visitor<'de> for Fields<T> {
            type Value = T;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("fields in braces")
            }
            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<T, A::Error> {
                T::deserialize(MapAccessDeserializer::new(map))
            }
        }
        deserializer.deserialize_map(Fields(PhantomData)).map(Self)
    }
}

/// Reads the number of a column.
fn column<'de, D: Deserializer<'de>>(deserializer: D) -> Result<NonZeroU16, D::Error> {
    struct Number;
    impl Number {
        fn none<E: serde::de::Error>(number: impl fmt::Display) -> E {
            E::custom(format!("there is no column {number}"))
        }
    }
    impl Visitor<'_> for Number {
        type Value = NonZeroU16;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("a whole number")
        }
        fn visit_u64<E: serde::de::Error>(self, number: u64) -> Result<NonZeroU16, E> {
            let column = u16::try_from(number).map_err(|_| Self::none(number))?;
            NonZeroU16::new(column)
                .ok_or_else(|| Self::none("0: columns count from 1 at the left edge"))
        }
        fn visit_i64<E: serde::de::Error>(self, number: i64) -> Result<NonZeroU16, E> {
            let number_from_0 = u64::try_from(number).map_err(|_| Self::none(number))?;
            self.visit_u64(number_from_0)
        }
    }
    deserializer.deserialize_u16(Number)
}

#[allow(clippy::trivially_copy_pass_by_ref, reason = "so Serde asks")]
fn is_left_to_the_maker(as_written: &bool) -> bool {
    !as_written
}

fn format() -> String {
    FORMAT.to_owned()
}

/// A row: knots in tying order.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Row"))]
struct RowFile {
    /// The knots in tying order.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    knots: Vec<Braced<KnotFile>>,
}

/// A knot: where and how.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "Knot"))]
struct KnotFile {
    /// The column, from 1 at the left edge.
    #[cfg_attr(feature = "schema", schemars(range(min = 1, max = 199)))]
    #[serde(deserialize_with = "column")]
    at: NonZeroU16,
    /// The way it is tied.
    #[serde(deserialize_with = "crate::words::one_of")]
    kind: Kind,
}

/// Reads a band from the text of a band file.
///
/// ```
/// let text = r##"{
///   "palette": [{ "name": "lamp", "srgb": "#ffc145" }, { "name": "night", "srgb": "#1c2541" }],
///   "threads": [0, 1, 1],
///   "repeat": [{ "knots": [{ "at": 1, "kind": "forward" }, { "at": 2, "kind": "forward" }] }],
///   "repeats": 30
/// }"##;
/// let band = hitchwork_core::file::read(text.as_bytes())?;
/// assert_eq!(band.thread_count(), 3);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the text is not a band file of this version, saying what is wrong in which line and
/// field, or when what it describes is not a band (see [`Band::new`]).
pub fn read(bytes: &[u8]) -> Result<Band, Error> {
    if bytes.len() > MAX_BYTES {
        let megabytes = MAX_BYTES >> 20;
        return Err(Error::file(
            format!("a band file has at most {megabytes} MB, and this one has more"),
            None,
        ));
    }
    let text =
        text::decoded(bytes).map_err(|error| Error::file(error.to_string(), error.help()))?;
    let text = text.as_ref();
    // The quick way first; the slow way knows the path to the field that is wrong.
    let Braced(file): Braced<BandFile> =
        serde_json::from_str(text).or_else(|_| read_slowly(text))?;
    if file.format != FORMAT {
        return Err(other_format(&file.format));
    }
    Band::new(file.into())
}

/// Writes a band as the text of a band file, ending in a line feed: one field, colour and
/// row a line. Reading it and writing it again gives the same bytes.
#[must_use]
pub fn write(band: &Band) -> String {
    set_out(&BandFile::from(band)).expect("a band holds nothing that JSON cannot")
}

/// The JSON Schema of the band file, as text.
#[cfg(feature = "schema")]
#[must_use]
pub fn schema() -> String {
    let mut schema = schemars::schema_for!(BandFile);
    schema.insert("title".into(), "Hitchwork band file".into());
    // What follows the first paragraph is for programmers.
    let mut first_paragraph =
        schemars::transform::RecursiveTransform(|schema: &mut schemars::Schema| {
            if let Some(serde_json::Value::String(text)) = schema.get_mut("description") {
                *text = text.split("\n\n").next().unwrap_or("").replace('\n', " ");
            }
        });
    schemars::transform::Transform::transform(&mut first_paragraph, &mut schema);
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is JSON");
    text.push('\n');
    text
}

fn other_format(found: &str) -> Error {
    let found = shortened(found);
    let help = match found.strip_prefix("hitchwork-band/") {
        Some(_) => "a newer Hitchwork may have written it; use that version to read it",
        None => "leave \"format\" out in files written by hand",
    };
    Error::file(
        format!(
            "the file says that its format is \"{found}\", and this version reads \"{FORMAT}\""
        ),
        Some(help.into()),
    )
}

/// Finds out what is wrong with a text that could not be read.
fn read_slowly(text: &str) -> Result<Braced<BandFile>, Error> {
    #[derive(Deserialize)]
    struct Version {
        format: String,
    }
    if text.trim().is_empty() {
        let help = "it may have been cut short while being copied or saved";
        return Err(Error::file("the file is empty", Some(help.into())));
    }
    if let Ok(Braced(Version { format })) = serde_json::from_str(text)
        && format != FORMAT
    {
        return Err(other_format(&format));
    }
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let noted = Noted::default();
    let file = serde_path_to_error::deserialize(Asking::new(&mut deserializer, &noted))
        .map_err(|error| in_words(text, noted.take(), error.inner(), error.path()))?;
    deserializer.end().map_err(|error| {
        let (what, help) = not_json(&error);
        let place = place_in_words(text, &error);
        Error::file(format!("{place}: {what}"), Some(help.into()))
    })?;
    Ok(file)
}

/// What is wrong in which line and field, as said at the table.
fn in_words(text: &str, misread: Misread, error: &serde_json::Error, path: &Path) -> Error {
    let last = path.iter().next_back();
    let is_colour =
        matches!((&misread, last), (Misread::Said(_), Some(Segment::Map { key })) if key == "srgb");
    let mut path = path_in_words(path);
    if let Misread::UnknownField { .. } = misread {
        // The message names it anyway.
        path.pop();
    }
    path.insert(0, place_in_words(text, error));
    let place = path.join(", ");
    let (what, help) = match misread {
        Misread::Foreign => not_json(error),
        misread => (
            misread.to_string(),
            if is_colour {
                "write a colour as # and six hexadecimal digits, for example \"#1d6f8c\""
            } else {
                "the fields of a band file are listed in its JSON Schema, band.schema.json"
            },
        ),
    };
    Error::file(format!("{place}: {what}"), Some(help.into()))
}

/// The line and the character at which reading stopped.
fn place_in_words(text: &str, error: &serde_json::Error) -> String {
    let line = error.line();
    // Columns of the parser are bytes.
    let before = text
        .lines()
        .nth(line.saturating_sub(1))
        .unwrap_or("")
        .as_bytes();
    let before = String::from_utf8_lossy(&before[..error.column().min(before.len())]);
    let character = before.chars().count().max(1);
    format!("line {line}, character {character}")
}

/// The way to a field, counted from 1: `repeat, row 2, knot 1, "kind"`.
fn path_in_words(path: &Path) -> Vec<String> {
    let mut words = Vec::new();
    let mut field: Option<&str> = None;
    let alone = |name: &str| format!("\"{}\"", shortened(name));
    for segment in path {
        match segment {
            Segment::Map { key } => words.extend(field.replace(key).map(alone)),
            Segment::Seq { index } => {
                let number = index + 1;
                words.push(match field.take() {
                    Some("palette") => format!("colour {number} of the palette"),
                    Some("threads") => format!("thread {number}"),
                    Some("lead_in") => format!("lead-in, row {number}"),
                    Some("repeat") => format!("repeat, row {number}"),
                    Some("lead_out") => format!("lead-out, row {number}"),
                    Some("knots") => format!("knot {number}"),
                    Some(other) => format!("{}, entry {number}", alone(other)),
                    None => format!("entry {number}"),
                });
            }
            Segment::Enum { .. } | Segment::Unknown => {}
        }
    }
    words.extend(field.map(alone));
    words
}

/// Why a text is not JSON, and what to do.
///
/// The library says only in words what it misses, and only here are its words read. They are
/// those of `SYNTAX`; what it may say besides stands as it is.
fn not_json(error: &serde_json::Error) -> (String, &'static str) {
    let full = error.to_string();
    let said = full
        .rsplit_once(" at line ")
        .map_or(full.as_str(), |(said, _)| said);
    if error.is_eof() {
        return (
            "the file breaks off before its end".to_owned(),
            "it may have been cut short while being copied or saved",
        );
    }
    if said == TOO_LARGE {
        return (
            "a number here is larger than any that can be used".to_owned(),
            "write a smaller number",
        );
    }
    let ours = SYNTAX.iter().find(|(theirs, _)| *theirs == said);
    let ours = ours.map_or_else(|| said.replace('`', "\""), |(_, ours)| (*ours).to_owned());
    (
        format!("the file is not JSON: {ours}"),
        "look for a missing or extra comma, quote or bracket just before that place",
    )
}

/// What the JSON library says of a number that is too large.
const TOO_LARGE: &str = "number out of range";

/// What the JSON library says, and what we say instead.
const SYNTAX: &[(&str, &str)] = &[
    ("expected value", "no text, number or list begins like this"),
    ("expected ident", "no text, number or list begins like this"),
    (
        "expected `,` or `}`",
        "a comma or a closing brace } belongs here",
    ),
    (
        "expected `,` or `]`",
        "a comma or a closing bracket ] belongs here",
    ),
    (
        "expected `:`",
        "a colon belongs here, after the name of a field",
    ),
    (
        "key must be a string",
        "the name of a field belongs here, in quotes",
    ),
    ("trailing comma", "there is one comma too many"),
    ("trailing characters", "there is something after its end"),
    ("invalid number", "a number is not written like this"),
    (
        "invalid escape",
        "a backslash in a text stands before none of \", \\, /, b, f, n, r, t and u",
    ),
    (
        "control character (\\u0000-\\u001F) found while parsing a string",
        "a text breaks off at the end of its line, or holds a character that cannot be seen",
    ),
    (
        "recursion limit exceeded",
        "brackets are nested far too deeply",
    ),
];

impl From<BandFile> for BandParts {
    fn from(file: BandFile) -> Self {
        let rows = |rows: Vec<Braced<RowFile>>| rows.iter().map(row).collect();
        Self {
            title: file.title,
            notes: file.notes,
            palette: file
                .palette
                .into_iter()
                .map(|Braced(colour)| colour)
                .collect(),
            threads: file.threads,
            lead_in: rows(file.lead_in),
            repeat: rows(file.repeat),
            lead_out: rows(file.lead_out),
            repeats: file.repeats,
            as_written: file.as_written,
            start: file.start.0,
            finish: file.finish.0,
            gauge: file.gauge.0,
            origin: file.origin.map(|Braced(origin)| origin),
            sources: Vec::new(),
        }
    }
}

fn row(Braced(file): &Braced<RowFile>) -> Row {
    let knot = |Braced(knot): &Braced<KnotFile>| Knot::new(Column::from(knot.at), knot.kind);
    Row::new(file.knots.iter().map(knot))
}

impl From<&Band> for BandFile {
    fn from(band: &Band) -> Self {
        let knot = |knot: &Knot| {
            Braced(KnotFile {
                at: knot.column().into(),
                kind: knot.kind(),
            })
        };
        let rows = |part| {
            let row = |row: &Row| {
                Braced(RowFile {
                    knots: row.knots().iter().map(knot).collect(),
                })
            };
            band.rows(part).iter().map(row).collect()
        };
        Self {
            format: format(),
            title: band.title().to_owned(),
            notes: band.notes().to_owned(),
            palette: band.palette().iter().cloned().map(Braced).collect(),
            threads: band.thread_colours().to_vec(),
            lead_in: rows(crate::band::Part::LeadIn),
            repeat: rows(crate::band::Part::Repeat),
            lead_out: rows(crate::band::Part::LeadOut),
            repeats: band.repeats(),
            as_written: band.as_written(),
            start: Braced(band.start()),
            finish: Braced(band.finish()),
            gauge: Braced(band.gauge()),
            origin: band.origin().cloned().map(Braced),
        }
    }
}

/// Sets out JSON for people: the fields of the file and the entries of its lists of
/// objects on lines of their own, everything further in on the line that it belongs to.
///
/// Taken apart field by field, so that none can be left out.
fn set_out(file: &BandFile) -> serde_json::Result<String> {
    let BandFile {
        format,
        title,
        notes,
        palette,
        threads,
        lead_in,
        repeat,
        lead_out,
        repeats,
        as_written,
        start,
        finish,
        gauge,
        origin,
    } = file;
    let fields = [
        ("format", serde_json::to_string(format)?),
        ("title", serde_json::to_string(title)?),
        ("notes", serde_json::to_string(notes)?),
        ("palette", list(palette)?),
        ("threads", serde_json::to_string(threads)?),
        ("lead_in", list(lead_in)?),
        ("repeat", list(repeat)?),
        ("lead_out", list(lead_out)?),
        ("repeats", serde_json::to_string(repeats)?),
        ("start", serde_json::to_string(start)?),
        ("finish", serde_json::to_string(finish)?),
        ("gauge", serde_json::to_string(gauge)?),
    ];
    let as_written = as_written.then(|| ("as_written", "true".to_owned()));
    let origin = origin.as_ref().map(serde_json::to_string).transpose()?;
    let lines: Vec<String> = fields
        .into_iter()
        .chain(as_written)
        .chain(origin.map(|origin| ("origin", origin)))
        .map(|(name, value)| format!("  \"{name}\": {value}"))
        .collect();
    Ok(format!("{{\n{}\n}}\n", lines.join(",\n")))
}

fn list<T: Serialize>(entries: &[T]) -> serde_json::Result<String> {
    if entries.is_empty() {
        return Ok("[]".to_owned());
    }
    let lines = entries
        .iter()
        .map(|entry| Ok(format!("    {}", serde_json::to_string(entry)?)));
    Ok(format!(
        "[\n{}\n  ]",
        lines.collect::<serde_json::Result<Vec<_>>>()?.join(",\n")
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn refused(text: &str) -> serde_json::Error {
        serde_json::from_str::<serde_json::Value>(text).expect_err("not JSON")
    }

    /// These are the library's own words, read only in `not_json`. Where it changes them, this
    /// fails, and not the messages in silence.
    #[test]
    fn the_words_of_the_library_are_those_that_we_know() {
        let deep = "[".repeat(200);
        let samples = [
            ("# tide", "expected value"),
            ("nil", "expected ident"),
            ("{\"a\": 1 \"b\": 2}", "expected `,` or `}`"),
            ("[1 2]", "expected `,` or `]`"),
            ("{\"a\" 1}", "expected `:`"),
            ("{1: 2}", "key must be a string"),
            ("[1,]", "trailing comma"),
            ("1 2", "trailing characters"),
            ("-x", "invalid number"),
            ("\"\\q\"", "invalid escape"),
            (
                "\"ebb\n\"",
                "control character (\\u0000-\\u001F) found while parsing a string",
            ),
            (deep.as_str(), "recursion limit exceeded"),
        ];
        let known: Vec<&str> = SYNTAX.iter().map(|(theirs, _)| *theirs).collect();
        assert_eq!(samples.map(|(_, theirs)| theirs), known[..]);
        for ((text, theirs), (_, ours)) in samples.iter().zip(SYNTAX) {
            let error = refused(text);
            assert!(error.to_string().starts_with(theirs), "{text}: {error}");
            assert_eq!(not_json(&error).0, format!("the file is not JSON: {ours}"));
        }
        let (what, _) = not_json(&refused("1e999"));
        assert!(what.contains("larger than any"), "{what}");
        let (what, _) = not_json(&refused("[1, 2"));
        assert!(what.contains("breaks off"), "{what}");
    }
}
