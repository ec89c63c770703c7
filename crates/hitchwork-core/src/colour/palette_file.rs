//! Palettes from files: our own TOML, tables, and the palettes of general drawing tools.

use std::borrow::Cow;

use serde::Deserialize;

use super::listing::{Table, colour, decoded, quoted, refused};
use super::{Colour, Palette, Srgb, name_unlike};
use crate::band::{MAX_COLOURS, MAX_NAME_LETTERS, check_letters};
use crate::error::Error;
use crate::misread::{self, NotRead};
use crate::text::{is_blank, on_one_line};

/// How a palette is written down.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum PaletteFormat {
    /// TOML with `name`, `sentence` and a list of `colours`, each with `name` and `srgb`.
    Toml,
    /// A table with the columns `name` and `colour`.
    Csv,
    /// The plain text that GIMP and other drawing tools share: a line `GIMP Palette`, then
    /// a line for each colour: red, green and blue from 0 to 255, and its name.
    Gpl,
}

impl PaletteFormat {
    /// The format of files that end so, without the dot.
    #[must_use]
    pub fn of_extension(extension: &str) -> Option<Self> {
        match extension.to_ascii_lowercase().as_str() {
            "toml" => Some(Self::Toml),
            "csv" => Some(Self::Csv),
            "gpl" => Some(Self::Gpl),
            _ => None,
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct PaletteFile {
    name: Option<String>,
    #[serde(default)]
    sentence: String,
    colours: Vec<Colour>,
}

impl Palette {
    /// Reads a palette from a file's bytes; `name` is what it is called unless it names
    /// itself. Colours without a name are named by what they look like.
    ///
    /// ```
    /// use hitchwork_core::colour::{Palette, PaletteFormat};
    /// let text = "name = \"ebb\"\n[[colours]]\nname = \"mud\"\nsrgb = \"#6b5a48\"\n[[colours]]\nname = \"pool\"\nsrgb = \"#6fa3b5\"\n";
    /// let ebb = Palette::read("file", text.as_bytes(), PaletteFormat::Toml)?;
    /// assert_eq!((ebb.name.as_str(), ebb.colours.len()), ("ebb", 2));
    ///
    /// let text = "GIMP Palette\nName: Ebb\n#\n107  90  72\tmud\n111 163 181\n";
    /// let ebb = Palette::read("file", text.as_bytes(), PaletteFormat::Gpl)?;
    /// assert_eq!(ebb.colours[1].name, "pale teal");
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the text is not of that format, a colour cannot be one, a name comes twice, or
    /// there are no colours or too many; with the line where there is one.
    pub fn read(name: &str, bytes: &[u8], format: PaletteFormat) -> Result<Self, Error> {
        let text = decoded(bytes)?;
        let mut palette = match format {
            PaletteFormat::Toml => from_toml(&text)?,
            PaletteFormat::Csv => from_csv(&text)?,
            PaletteFormat::Gpl => from_gpl(&text)?,
        };
        for name in palette.names_mut() {
            if let Cow::Owned(joined) = on_one_line(name) {
                *name = joined;
            }
        }
        if is_blank(&palette.name) {
            palette.name = on_one_line(name).into_owned();
        }
        let count = palette.colours.len();
        if count == 0 {
            return Err(refused(
                "the palette has no colours",
                "give at least one colour",
            ));
        }
        if count > MAX_COLOURS {
            return Err(refused(
                format!("the palette has {count} colours; at most {MAX_COLOURS} are allowed"),
                "keep the colours that the gradient is to pass through",
            ));
        }
        check_letters("the name of the palette", &palette.name, MAX_NAME_LETTERS)?;
        for colour in &palette.colours {
            check_letters("the name of a colour", &colour.name, MAX_NAME_LETTERS)?;
        }
        name_the_nameless(&mut palette.colours);
        for (number, colour) in palette.colours.iter().enumerate() {
            if palette.colours[..number]
                .iter()
                .any(|other| other.name == colour.name)
            {
                return Err(refused(
                    format!(
                        "two colours of the palette are both called {}",
                        quoted(&colour.name)
                    ),
                    "give each colour a name of its own, so that a maker can tell them apart",
                ));
            }
        }
        Ok(palette)
    }
}

impl Palette {
    /// Its own name, and those of its colours.
    fn names_mut(&mut self) -> impl Iterator<Item = &mut String> {
        let colours = self.colours.iter_mut().map(|colour| &mut colour.name);
        std::iter::once(&mut self.name).chain(colours)
    }
}

fn name_the_nameless(colours: &mut [Colour]) {
    let taken: Vec<String> = colours
        .iter()
        .filter(|colour| !is_blank(&colour.name))
        .map(|colour| colour.name.clone())
        .collect();
    let taken: Vec<&str> = taken.iter().map(String::as_str).collect();
    let nameless = |colour: &Colour| is_blank(&colour.name);
    let values: Vec<Srgb> = colours
        .iter()
        .filter(|colour| nameless(colour))
        .map(|colour| colour.srgb)
        .collect();
    let names = name_unlike(&values, &taken);
    for (colour, name) in colours
        .iter_mut()
        .filter(|colour| nameless(colour))
        .zip(names)
    {
        colour.name = name;
    }
}

fn from_toml(text: &str) -> Result<Palette, Error> {
    let written: PaletteFile = misread::from_toml(text).map_err(|NotRead { words, place, .. }| {
        let line = place
            .and_then(|place| text.get(..place.start))
            .map(|before| format!("line {}: ", before.split('\n').count()))
            .unwrap_or_default();
        refused(
            line + &words,
            "write name = \"ebb\", and for each colour [[colours]] with name = \"mud\" and srgb = \"#6b5a48\"",
        )
    })?;
    Ok(Palette {
        name: written.name.unwrap_or_default(),
        sentence: written.sentence,
        colours: written.colours,
    })
}

fn from_csv(text: &str) -> Result<Palette, Error> {
    let table = Table::read(text)?;
    let Some(value) = table.column(super::stash::COLOUR) else {
        return Err(refused(
            "the palette's first line names no column \"colour\"",
            "let the first line be name,colour",
        ));
    };
    let name = table.column(super::stash::NAME);
    let one = |row: &super::listing::TableRow| {
        let text = row.cell(Some(value)).unwrap_or_default();
        let srgb = colour(text).ok_or_else(|| {
            refused(
                format!("line {}: {} is not a colour", row.line, quoted(text)),
                "write a colour as # and six hexadecimal digits, for example #1d6f8c",
            )
        })?;
        Ok(Colour::new(row.cell(name).unwrap_or_default(), srgb))
    };
    Ok(nameless(
        table.rows.iter().map(one).collect::<Result<_, Error>>()?,
    ))
}

fn from_gpl(text: &str) -> Result<Palette, Error> {
    let mut lines = (1..).zip(text.lines().map(str::trim));
    if lines
        .next()
        .is_none_or(|(_, first)| first != "GIMP Palette")
    {
        return Err(refused(
            "line 1 is not \"GIMP Palette\"",
            "save the palette again from your drawing tool, or write it as TOML",
        ));
    }
    let mut palette = nameless(Vec::new());
    for (line, content) in lines {
        if content.is_empty() || content.starts_with('#') || content.starts_with("Columns:") {
            continue;
        }
        if let Some(name) = content.strip_prefix("Name:") {
            name.trim().clone_into(&mut palette.name);
            continue;
        }
        let mut rest = content;
        let mut part =
            || {
                let end = rest.find(char::is_whitespace).unwrap_or(rest.len());
                let (word, after) = rest.split_at(end);
                rest = after.trim_start();
                word.parse::<u8>().map_err(|_| {
                refused(
                    format!("line {line}: {} does not begin with a colour", quoted(content)),
                    "write red, green and blue from 0 to 255 and then the name: 29 111 140 lagoon",
                )
            })
            };
        let srgb = Srgb::new(part()?, part()?, part()?);
        let name = match rest {
            "Untitled" => "",
            named => named,
        };
        palette.colours.push(Colour::new(name, srgb));
    }
    Ok(palette)
}

fn nameless(colours: Vec<Colour>) -> Palette {
    Palette {
        name: String::new(),
        sentence: String::new(),
        colours,
    }
}
