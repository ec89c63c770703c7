//! A picture that is written as text, whose marks are painted over: whatever is not painted stays as
//! its author wrote it.

use std::collections::BTreeMap;

use hitchwork_core::colour::Colour;
use hitchwork_core::picture::{MarkedPicture, marked};

/// What marks stand for, as a rule says it.
pub(super) type Marks = BTreeMap<char, Option<Colour>>;

/// The text of a picture, with the places of its cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct MarkedText {
    /// The characters of each line, and behind them what ends it.
    lines: Vec<(Vec<char>, String)>,
    /// Which lines are rows of the picture: blank ones are none.
    rows: Vec<usize>,
    /// So many spaces before every row belong to no cell.
    indent: usize,
    columns: usize,
}

impl MarkedText {
    /// The text, read as [`marked`] reads it.
    pub(super) fn new(text: &str) -> Self {
        let line = |whole: &str| {
            let seen = whole.trim_end();
            (seen.chars().collect(), whole[seen.len()..].to_owned())
        };
        let lines: Vec<(Vec<char>, String)> = text.split_inclusive('\n').map(line).collect();
        let rows: Vec<usize> = (0..lines.len())
            .filter(|at| !lines[*at].0.is_empty())
            .collect();
        let spaces = |at: &usize| {
            let marks = lines[*at].0.iter();
            marks.take_while(|mark| **mark == ' ').count()
        };
        let indent = rows.iter().map(spaces).min().unwrap_or(0);
        let width = |at: &usize| lines[*at].0.len() - indent;
        let columns = rows.iter().map(width).max().unwrap_or(0);
        Self {
            lines,
            rows,
            indent,
            columns,
        }
    }

    /// How many rows and columns there are.
    pub(super) fn size(&self) -> (usize, usize) {
        (self.rows.len(), self.columns)
    }

    /// The mark of a cell, counted from 0; nothing where its line ends before.
    pub(super) fn mark(&self, row: usize, column: usize) -> Option<char> {
        let (line, _) = &self.lines[*self.rows.get(row)?];
        line.get(self.indent + column).copied()
    }

    /// Writes a mark into a cell of the picture, both counted from 0. A line that ends before is
    /// filled up with marks of nothing.
    pub(super) fn set(&mut self, row: usize, column: usize, mark: char, nothing: char) {
        let (line, _) = &mut self.lines[self.rows[row]];
        let at = self.indent + column;
        if line.len() <= at {
            line.resize(at + 1, nothing);
        }
        line[at] = mark;
    }

    /// The text.
    pub(super) fn text(&self) -> String {
        let mut text = String::new();
        for (marks, end) in &self.lines {
            text.extend(marks);
            text.push_str(end);
        }
        text
    }

    /// The text, if it is read back as a picture of the same size whose cells are these; otherwise
    /// the marks that stand for nothing leave no way to write this.
    pub(super) fn kept_in_shape(&self, marks: &Marks) -> Option<String> {
        let text = self.text();
        let MarkedPicture { picture, .. } = marked(&text, marks).ok()?;
        let size = (picture.height().into(), picture.width().into());
        let again = Self::new(&text);
        (size == self.size() && again.rows == self.rows).then_some(text)
    }
}

/// The mark with which nothing is written: a dot, if it means that; else one for which the rule says
/// so; else a space.
pub(super) fn mark_of_nothing(marks: &Marks) -> Option<char> {
    let is_free = |mark: &char| marks.get(mark).is_none_or(Option::is_none);
    let said = || marks.iter().find(|(_, colour)| colour.is_none());
    let dot = Some('.').filter(is_free);
    dot.or_else(|| said().map(|(mark, _)| *mark))
        .or_else(|| Some(' ').filter(is_free))
}
