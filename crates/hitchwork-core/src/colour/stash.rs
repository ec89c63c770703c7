//! The threads that one owns.

use std::collections::BTreeMap;

use serde::Serialize;

use super::listing::{self, Table, TableRow, decoded, plain, quoted, refused};
use super::{Colour, Srgb};
use crate::band::{MAX_NAME_LETTERS, check_letters};
use crate::error::Error;
use crate::text::{is_blank, on_one_line};

/// The most threads of a stash.
pub const MAX_OWNED: usize = 200_000;

/// The most mistakes that are told at once.
const MOST_TOLD: usize = 5;

/// A thread that one owns.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Owned {
    /// What it is called; no other thread of the stash is called so.
    pub name: String,
    /// Its colour.
    pub srgb: Srgb,
    /// The code by which one buys it again.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub code: Option<String>,
    /// How much is left of it, in metres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub left_m: Option<f64>,
    /// Its linear density in tex, grams per kilometre.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub tex: Option<f64>,
    /// Its diameter in millimetres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub diameter_mm: Option<f64>,
}

impl Owned {
    /// A thread of which only name and colour are known.
    #[must_use]
    pub fn new(name: impl Into<String>, srgb: Srgb) -> Self {
        Self {
            name: name.into(),
            srgb,
            code: None,
            left_m: None,
            tex: None,
            diameter_mm: None,
        }
    }

    /// Its name and colour.
    #[must_use]
    pub fn colour(&self) -> Colour {
        Colour::new(self.name.as_str(), self.srgb)
    }
}

/// All threads that one owns.
///
/// ```
/// use hitchwork_core::colour::Stash;
/// let stash = Stash::read(b"name,colour,length left (m)\nlagoon,#23979f,7.5\nplum,984a8a,\n")?;
/// assert_eq!(stash.threads().len(), 2);
/// assert_eq!(stash.threads()[0].left_m, Some(7.5));
///
/// let wrong = Stash::read(b"name;colour\nlagoon;#23979\n").expect_err("one digit is missing");
/// assert_eq!(wrong.to_string(), "line 2: \"#23979\" is not a colour");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Stash {
    threads: Vec<Owned>,
    ignored_columns: Vec<String>,
}

pub(super) const NAME: &[&str] = &["name", "thread", "threadname", "colourname", "colorname"];
pub(super) const COLOUR: &[&str] = &[
    "colour",
    "color",
    "hex",
    "srgb",
    "rgb",
    "hexcolour",
    "hexcolor",
    "colourhex",
    "colorhex",
    "value",
];
const CODE: &[&str] = &["code", "number", "no", "article"];
/// Names of the column of lengths, with the metres that its unit has.
const LEFT: [(&[&str], f64); 3] = [
    (
        &[
            "left",
            "leftm",
            "length",
            "lengthm",
            "lengthleft",
            "lengthleftm",
            "metres",
            "metresleft",
            "meters",
            "m",
        ],
        1.0,
    ),
    (&["leftcm", "lengthcm", "lengthleftcm", "cm"], 0.01),
    (&["leftmm", "lengthmm", "lengthleftmm"], 0.001),
];
const TEX: &[&str] = &["tex", "lineardensity", "lineardensitytex"];
const DIAMETER: &[&str] = &["diameter", "diametermm", "mm", "thickness", "thicknessmm"];

struct StashColumns {
    name: usize,
    colour: usize,
    code: Option<usize>,
    left: Option<(usize, f64)>,
    tex: Option<usize>,
    diameter: Option<usize>,
}

impl Stash {
    /// Reads a stash from a table: its first line names the columns, every other line is
    /// a thread. It needs `name` and `colour` (as `#1d6f8c`); it may have `code`, `left`
    /// in metres (or `left cm`), `tex` and `diameter` in millimetres. Commas, semicolons or
    /// tabs separate the cells; decimal commas, quotation marks, any line ends, and UTF-8
    /// or UTF-16 are all understood.
    ///
    /// ```
    /// use hitchwork_core::colour::Stash;
    /// let stash = Stash::read("name;colour;left\nlagoon;#23979f;7,5".as_bytes())?;
    /// assert_eq!(stash.threads()[0].left_m, Some(7.5));
    /// assert!(Stash::read(b"").is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the text is not such a table, a colour or a number cannot be one, a name is
    /// missing or comes twice, or no thread is listed; with the lines.
    pub fn read(bytes: &[u8]) -> Result<Self, Error> {
        let text = decoded(bytes)?;
        let table = Table::read(&text)?;
        let (columns, ignored_columns) = StashColumns::of(&table)?;
        if table.rows.is_empty() {
            return Err(refused(
                "the stash lists no thread",
                "write one thread a line under the column names: lagoon,#23979f",
            ));
        }
        if table.rows.len() > MAX_OWNED {
            return Err(refused(
                format!(
                    "the stash lists {} threads; at most {MAX_OWNED} are allowed",
                    table.rows.len()
                ),
                "list the threads that you own, not every one there is",
            ));
        }
        let mut threads = Vec::with_capacity(table.rows.len());
        let mut wrong: Vec<(String, String)> = Vec::new();
        let mut named: BTreeMap<String, u64> = BTreeMap::new();
        for row in &table.rows {
            let line = row.line;
            match columns.thread(row) {
                Ok(thread) => {
                    let named_long = check_letters("a name", &thread.name, MAX_NAME_LETTERS);
                    if let Err(error) = named_long {
                        let help = error.help().unwrap_or_default();
                        wrong.push((format!("line {line}: {error}"), help));
                        continue;
                    }
                    let key = thread.name.to_lowercase();
                    if let Some(before) = named.insert(key, line) {
                        wrong.push((
                            format!(
                                "line {line}: {} is the name of line {before} too",
                                quoted(&thread.name)
                            ),
                            "give each thread a name of its own, so that a maker can ask for it"
                                .to_owned(),
                        ));
                    }
                    threads.push(thread);
                }
                Err((message, help)) => wrong.push((format!("line {line}: {message}"), help)),
            }
        }
        if let Some((_, help)) = wrong.first().cloned() {
            let more = wrong.len().saturating_sub(MOST_TOLD);
            let mut told: Vec<String> = wrong
                .into_iter()
                .take(MOST_TOLD)
                .map(|(message, _)| message)
                .collect();
            if more > 0 {
                told.push(format!("and {more} more"));
            }
            return Err(refused(told.join("; "), help));
        }
        Ok(Self {
            threads,
            ignored_columns,
        })
    }

    /// The threads, as they were listed.
    #[must_use]
    pub fn threads(&self) -> &[Owned] {
        &self.threads
    }

    /// The threads of which something is left, as far as one knows.
    #[must_use]
    pub fn in_hand(&self) -> Vec<Owned> {
        let left = |thread: &&Owned| thread.left_m.is_none_or(|metres| metres > 0.0);
        self.threads.iter().filter(left).cloned().collect()
    }

    /// The columns of the table that mean nothing here.
    #[must_use]
    pub fn ignored_columns(&self) -> &[String] {
        &self.ignored_columns
    }
}

impl StashColumns {
    fn of(table: &Table) -> Result<(Self, Vec<String>), Error> {
        let missing = |what: &str| {
            let first = table.columns.join(", ");
            refused(
                match table.columns.is_empty() {
                    true => "the stash is empty".to_owned(),
                    false => format!(
                        "line 1 names no column \"{what}\"; it reads {}",
                        quoted(&first)
                    ),
                },
                "let the first line name the columns: name,colour,code,left,tex",
            )
        };
        let columns = Self {
            name: table.column(NAME).ok_or_else(|| missing("name"))?,
            colour: table.column(COLOUR).ok_or_else(|| missing("colour"))?,
            code: table.column(CODE),
            left: LEFT
                .iter()
                .find_map(|(names, metres)| Some((table.column(names)?, *metres))),
            tex: table.column(TEX),
            diameter: table.column(DIAMETER),
        };
        let used = [
            Some(columns.name),
            Some(columns.colour),
            columns.code,
            columns.left.map(|(column, _)| column),
            columns.tex,
            columns.diameter,
        ];
        let ignored = (0..table.columns.len())
            .filter(|column| !used.contains(&Some(*column)))
            .map(|column| table.columns[column].trim().to_owned())
            .filter(|column| !plain(column).is_empty())
            .collect();
        Ok((columns, ignored))
    }

    fn thread(&self, row: &TableRow) -> Result<Owned, (String, String)> {
        let name = row.cell(Some(self.name)).map(on_one_line);
        let Some(name) = name.filter(|name| !is_blank(name)) else {
            return Err((
                "the thread has no name".to_owned(),
                "name it as you would ask for it at the table".to_owned(),
            ));
        };
        let help = "write a colour as # and six hexadecimal digits, for example #1d6f8c";
        let value = row.cell(Some(self.colour)).ok_or_else(|| {
            let message = format!("{} has no colour", quoted(&name));
            (message, help.to_owned())
        })?;
        let srgb = listing::colour(value).ok_or_else(|| {
            (
                format!("{} is not a colour", quoted(value)),
                help.to_owned(),
            )
        })?;
        let left = self.left.map(|(column, _)| column);
        let metres = self.left.map_or(1.0, |(_, metres)| metres);
        Ok(Owned {
            name: name.into_owned(),
            srgb,
            code: row
                .cell(self.code)
                .map(|code| on_one_line(code).into_owned()),
            left_m: number(row.cell(left), "a length left", 0.0)?.map(|left| left * metres),
            tex: number(row.cell(self.tex), "a linear density in tex", 0.1)?,
            diameter_mm: number(row.cell(self.diameter), "a diameter in millimetres", 0.01)?,
        })
    }
}

/// A number with a decimal point or comma, not less than `least`.
fn number(cell: Option<&str>, what: &str, least: f64) -> Result<Option<f64>, (String, String)> {
    const MOST: f64 = 1e9;
    let Some(text) = cell else { return Ok(None) };
    let number: Option<f64> = text.replace(',', ".").parse().ok();
    match number {
        Some(number) if (least..=MOST).contains(&number) => Ok(Some(number)),
        _ => Err((
            format!("{} cannot be {what}", quoted(text)),
            "write a plain number such as 7.5, without its unit, or leave the cell empty"
                .to_owned(),
        )),
    }
}
