//! Band files: text in, text out. Reading and writing the disk is somebody else's job.
//!
//! The format is `hitchwork-band/1`; its JSON Schema lies beside this crate in
//! `schema/band.schema.json`. Reading is strict: an unknown field, a field given twice, or
//! another version is refused with its place. Writing always gives the same bytes for the
//! same band.

use std::collections::BTreeMap;
use std::fmt;

use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::band::{Band, BandParts, Origin, Setting};
use crate::colour::Colour;
use crate::craft::{End, Gauge};
use crate::error::{Error, Problem};
use crate::knot::{Column, Kind, Knot};
use crate::row::Row;

/// The name of the format, which every written file begins with.
pub const FORMAT: &str = "hitchwork-band/1";

/// The most bytes that a band file may have.
pub const MAX_BYTES: usize = 64 << 20;

/// A band file as data.
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
    palette: Vec<Colour>,
    /// One index into the palette (from 0) per thread, from left to right.
    #[cfg_attr(feature = "schema", schemars(length(min = 2, max = 200)))]
    threads: Vec<u16>,
    /// Rows tied once, before the repeats.
    #[serde(default)]
    lead_in: Vec<RowFile>,
    /// Rows tied again and again.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    repeat: Vec<RowFile>,
    /// Rows tied once, after the repeats.
    #[serde(default)]
    lead_out: Vec<RowFile>,
    /// How often the repeat is tied.
    #[cfg_attr(feature = "schema", schemars(range(min = 1, max = 1_000_000)))]
    repeats: u32,
    /// How the band begins.
    #[serde(default)]
    start: End,
    /// How the band ends.
    #[serde(default)]
    finish: End,
    /// How large its knots come out, in millimetres.
    #[serde(default)]
    gauge: Gauge,
    /// Which rule made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    origin: Option<Origin>,
}

fn format() -> String {
    FORMAT.to_owned()
}

/// A row: knots in tying order.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct RowFile {
    /// The knots in tying order.
    #[cfg_attr(feature = "schema", schemars(length(min = 1)))]
    knots: Vec<KnotFile>,
}

/// A knot: where and how.
#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
struct KnotFile {
    /// The column, from 1 at the left edge.
    #[cfg_attr(feature = "schema", schemars(range(min = 1, max = 199)))]
    at: u16,
    /// The way it is tied.
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
/// When the text is no band file of this version, saying what is wrong in which line and
/// field, or when what it describes is no band (see [`Band::new`]).
pub fn read(bytes: &[u8]) -> Result<Band, Error> {
    if bytes.len() > MAX_BYTES {
        let megabytes = MAX_BYTES >> 20;
        return Err(Error::file(
            format!("a band file has at most {megabytes} MB, and this one has more"),
            None,
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(not_text)?;
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    // The quick way first; the slow way knows the path to the field that is wrong.
    let file: BandFile = serde_json::from_str(text).or_else(|_| read_slowly(text))?;
    if file.format != FORMAT {
        return Err(other_format(&file.format));
    }
    Band::new(file.try_into()?)
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
    let mut text = serde_json::to_string_pretty(&schema).expect("a schema is JSON");
    text.push('\n');
    text
}

fn not_text(error: std::str::Utf8Error) -> Error {
    let at = error.valid_up_to() + 1;
    let help = "save the file as UTF-8 text; most editors offer that when saving";
    Error::file(
        format!("the file is not UTF-8 text: byte {at} fits no character"),
        Some(help.into()),
    )
}

fn other_format(found: &str) -> Error {
    let found: String = found.chars().take(60).collect();
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
fn read_slowly(text: &str) -> Result<BandFile, Error> {
    #[derive(Deserialize)]
    struct Version {
        format: String,
    }
    if let Ok(Version { format }) = serde_json::from_str(text) {
        if format != FORMAT {
            return Err(other_format(&format));
        }
    }
    let mut deserializer = serde_json::Deserializer::from_str(text);
    let file = serde_path_to_error::deserialize(&mut deserializer).map_err(|error| {
        let path = error.path().to_string();
        in_words(
            error.inner(),
            Some(path.as_str()).filter(|path| *path != "."),
        )
    })?;
    deserializer.end().map_err(|error| in_words(&error, None))?;
    Ok(file)
}

fn in_words(error: &serde_json::Error, path: Option<&str>) -> Error {
    let full = error.to_string();
    let said = full
        .rsplit_once(" at line ")
        .map_or(full.as_str(), |(said, _)| said);
    let field = path.map(|path| format!(", at {path}")).unwrap_or_default();
    let (line, character) = (error.line(), error.column());
    let (what, help) = match error.classify() {
        serde_json::error::Category::Eof => (
            "the file breaks off before its end".to_owned(),
            "it may have been cut short while being copied or saved",
        ),
        serde_json::error::Category::Syntax if said.contains("recursion limit") => (
            "lists are nested far too deeply for a band file".to_owned(),
            "this is probably not a band file",
        ),
        serde_json::error::Category::Syntax => (
            format!("the file is not JSON: {said}"),
            "look for a missing or extra comma, quote or bracket just before that place",
        ),
        _ => (
            said.to_owned(),
            "the fields of a band file are listed in its JSON Schema, band.schema.json",
        ),
    };
    Error::file(
        format!("line {line}, character {character}{field}: {what}"),
        Some(help.into()),
    )
}

impl TryFrom<BandFile> for BandParts {
    type Error = Error;

    fn try_from(file: BandFile) -> Result<Self, Error> {
        let rows = |rows: Vec<RowFile>| rows.iter().map(row).collect::<Result<Vec<_>, _>>();
        Ok(Self {
            title: file.title,
            notes: file.notes,
            palette: file.palette,
            threads: file.threads,
            lead_in: rows(file.lead_in)?,
            repeat: rows(file.repeat)?,
            lead_out: rows(file.lead_out)?,
            repeats: file.repeats,
            start: file.start,
            finish: file.finish,
            gauge: file.gauge,
            origin: file.origin,
            sources: Vec::new(),
        })
    }
}

fn row(file: &RowFile) -> Result<Row, Error> {
    let knots = file.knots.iter().map(|knot| match Column::new(knot.at) {
        Some(column) => Ok(Knot::new(column, knot.kind)),
        None => Err(Error::from(Problem::NoSuchColumn {
            column: 0,
            threads: None,
        })),
    });
    Ok(Row::new(knots.collect::<Result<Vec<_>, _>>()?))
}

impl From<&Band> for BandFile {
    fn from(band: &Band) -> Self {
        let knot = |knot: &Knot| KnotFile {
            at: knot.column().number(),
            kind: knot.kind(),
        };
        let rows = |part| {
            let row = |row: &Row| RowFile {
                knots: row.knots().iter().map(knot).collect(),
            };
            band.rows(part).iter().map(row).collect()
        };
        Self {
            format: format(),
            title: band.title().to_owned(),
            notes: band.notes().to_owned(),
            palette: band.palette().to_vec(),
            threads: band.thread_colours().to_vec(),
            lead_in: rows(crate::band::Part::LeadIn),
            repeat: rows(crate::band::Part::Repeat),
            lead_out: rows(crate::band::Part::LeadOut),
            repeats: band.repeats(),
            start: band.start(),
            finish: band.finish(),
            gauge: band.gauge(),
            origin: band.origin().cloned(),
        }
    }
}

/// Reads settings, refusing a name that comes twice instead of taking the last.
pub(crate) fn settings_named_once<'de, D: Deserializer<'de>>(
    deserializer: D,
) -> Result<BTreeMap<String, Setting>, D::Error> {
    struct Once;
    impl<'de> Visitor<'de> for Once {
        type Value = BTreeMap<String, Setting>;
        fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
            f.write_str("settings by name")
        }
        fn visit_map<A: MapAccess<'de>>(self, mut map: A) -> Result<Self::Value, A::Error> {
            let mut settings = BTreeMap::new();
            while let Some((name, setting)) = map.next_entry::<String, Setting>()? {
                if settings.contains_key(&name) {
                    return Err(serde::de::Error::custom(format!(
                        "the setting \"{name}\" is given twice"
                    )));
                }
                settings.insert(name, setting);
            }
            Ok(settings)
        }
    }
    deserializer.deserialize_map(Once)
}

/// Sets out JSON for people: the fields of the file and the entries of its lists of
/// objects on lines of their own, everything further in on the line that it belongs to.
fn set_out(file: &BandFile) -> serde_json::Result<String> {
    let fields = [
        ("format", serde_json::to_string(&file.format)?),
        ("title", serde_json::to_string(&file.title)?),
        ("notes", serde_json::to_string(&file.notes)?),
        ("palette", list(&file.palette)?),
        ("threads", serde_json::to_string(&file.threads)?),
        ("lead_in", list(&file.lead_in)?),
        ("repeat", list(&file.repeat)?),
        ("lead_out", list(&file.lead_out)?),
        ("repeats", serde_json::to_string(&file.repeats)?),
        ("start", serde_json::to_string(&file.start)?),
        ("finish", serde_json::to_string(&file.finish)?),
        ("gauge", serde_json::to_string(&file.gauge)?),
    ];
    let origin = file
        .origin
        .as_ref()
        .map(serde_json::to_string)
        .transpose()?;
    let lines: Vec<String> = fields
        .into_iter()
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
