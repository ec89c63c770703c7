//! A picture with the knots that were found for it.

use std::sync::Arc;

use hitchwork_core::colour::Colour;
use hitchwork_core::picture::solve::Solved;
use hitchwork_core::row::Row;
use hitchwork_core::text::counted;

use crate::solving::bound_in_words;

/// A picture with its knots. A value: it never changes, and cloning is cheap.
#[derive(Clone, Debug)]
pub(crate) struct TiedPicture(pub(super) Arc<TiedParts>);

#[derive(Debug)]
pub(super) struct TiedParts {
    /// The colours that hang, by their numbers in what was found.
    pub(super) hung: Vec<Colour>,
    /// The rows as they were found, each knot at the place of the call.
    pub(super) rows: Vec<Row>,
    /// How many of the rows came after the picture.
    pub(super) free_rows: usize,
    pub(super) knots: usize,
    pub(super) found: Solved,
}

impl std::fmt::Display for TiedPicture {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let TiedParts { knots, found, .. } = &*self.0;
        let (knots, threads) = (counted(*knots, "knot"), found.start.len());
        match found.missed.len() {
            0 => write!(
                f,
                "a picture of {knots} on {threads} threads, and all show it"
            ),
            missed => {
                let least = bound_in_words(missed, found.least);
                let miss = if missed == 1 { "misses" } else { "miss" };
                write!(
                    f,
                    "a picture of {knots} on {threads} threads, of which {missed} {miss}; {least}"
                )
            }
        }
    }
}
