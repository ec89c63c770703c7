//! Tables and texts that people export from elsewhere: their encodings, separators and
//! line ends.

use std::borrow::Cow;

use super::Srgb;
use crate::cell::original;
use crate::error::{Error, Problem, shortened};

/// The most bytes that a palette or a stash may have.
pub const MAX_LIST_BYTES: usize = 64 << 20;

/// A table cannot be read: what is wrong, and what to do.
pub(super) fn refused(message: impl Into<String>, help: impl Into<String>) -> Error {
    Problem::Listing {
        message: message.into(),
        help: help.into(),
    }
    .into()
}

/// The text of a table that is not too long.
pub(super) fn decoded(bytes: &[u8]) -> Result<Cow<'_, str>, Error> {
    if bytes.len() > MAX_LIST_BYTES {
        let most = MAX_LIST_BYTES >> 20;
        return Err(refused(
            format!("the file is larger than {most} MB"),
            "give only the threads that you own, one a line",
        ));
    }
    crate::text::decoded(bytes)
}

/// A table with a first line of column names.
pub(super) struct Table {
    pub(super) columns: Vec<String>,
    pub(super) rows: Vec<TableRow>,
}

pub(super) struct TableRow {
    pub(super) line: u64,
    cells: Vec<String>,
}

impl TableRow {
    /// A cell without the blanks around it, and without the apostrophe that keeps a
    /// spreadsheet from reckoning with it; nothing where it is empty or missing.
    pub(super) fn cell(&self, column: Option<usize>) -> Option<&str> {
        let cell = original(self.cells.get(column?)?.trim());
        (!cell.is_empty()).then_some(cell)
    }
}

/// Counts lines as people do, whatever ends them. (The reader of tables takes the half of a
/// line end, and empty lines, for the beginning of what follows.)
struct LineCounter<'a> {
    text: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> LineCounter<'a> {
    fn new(text: &'a str) -> Self {
        let text = text.as_bytes();
        Self {
            text,
            at: 0,
            line: 1,
        }
    }

    /// The line on which a record stands that begins at this byte or behind line ends
    /// there; records come in order.
    fn of_record(&mut self, start: usize) -> u64 {
        while let Some(byte) = self.text.get(self.at) {
            let ends = match byte {
                b'\n' => true,
                b'\r' => self.text.get(self.at + 1) != Some(&b'\n'),
                _ if self.at >= start => break,
                _ => false,
            };
            self.line += u64::from(ends);
            self.at += 1;
        }
        self.line
    }
}

impl Table {
    /// Reads a table whose cells stand between commas, semicolons or tabs; lines that
    /// hold nothing, and lines that begin with # and a blank, are left out.
    pub(super) fn read(text: &str) -> Result<Self, Error> {
        let first = text.lines().find(|line| !line.trim().is_empty());
        let first = first.unwrap_or_default();
        let count = |separator: char| first.matches(separator).count();
        let separator = [(';', b';'), ('\t', b'\t')]
            .into_iter()
            .find(|(separator, _)| count(*separator) > count(','))
            .map_or(b',', |(_, byte)| byte);
        let mut reader = csv::ReaderBuilder::new()
            .delimiter(separator)
            .has_headers(false)
            .flexible(true)
            .from_reader(text.as_bytes());
        let mut columns = None;
        let mut rows = Vec::new();
        let mut lines = LineCounter::new(text);
        for record in reader.records() {
            let record = record.map_err(|error| {
                refused(
                    format!("the table cannot be read: {error}"),
                    "save it again as CSV",
                )
            })?;
            let start = record.position().map_or(0, csv::Position::byte);
            let line = lines.of_record(usize::try_from(start).unwrap_or(usize::MAX));
            let cells: Vec<String> = record.iter().map(str::to_owned).collect();
            if cells.iter().all(|cell| cell.trim().is_empty()) || cells[0].starts_with("# ") {
                continue;
            }
            if columns.is_none() {
                columns = Some(cells);
                continue;
            }
            rows.push(TableRow { line, cells });
        }
        Ok(Self {
            columns: columns.unwrap_or_default(),
            rows,
        })
    }

    /// The first column that has one of these names, however they are written.
    pub(super) fn column(&self, names: &[&str]) -> Option<usize> {
        self.columns
            .iter()
            .position(|column| names.contains(&plain(column).as_str()))
    }
}

/// A column's name without capitals, blanks, units in brackets and punctuation.
pub(super) fn plain(name: &str) -> String {
    let letters = name.chars().filter(|letter| letter.is_alphanumeric());
    letters.flat_map(char::to_lowercase).collect()
}

/// A colour as people write it in tables: `#1d6f8c`, `1D6F8C` or `#abc`.
pub(super) fn colour(text: &str) -> Option<Srgb> {
    let digits = text.strip_prefix('#').unwrap_or(text);
    if !digits.is_ascii() {
        return None;
    }
    let long: String = if digits.len() == 3 {
        digits.chars().flat_map(|digit| [digit, digit]).collect()
    } else {
        digits.to_owned()
    };
    format!("#{long}").parse().ok()
}

/// Somebody else's text in quotation marks.
pub(super) fn quoted(text: &str) -> String {
    format!("\"{}\"", shortened(text))
}
