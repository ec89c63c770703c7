//! The pictures whose knots a run has found, so that none is looked for twice.

use std::ops::RangeInclusive;
use std::sync::Arc;

use hitchwork_core::picture::solve::{Painting, Solved, SolvingEffort};

/// A picture, and how its knots are looked for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct KnotSearch {
    pub(crate) painting: Painting,
    /// As few free rows as are needed, of as many as these; nothing where the picture has them
    /// already.
    pub(crate) free: Option<RangeInclusive<usize>>,
    pub(crate) effort: SolvingEffort,
}

/// What came out, and how many rows were added for it.
#[derive(Clone, Debug)]
pub(crate) struct FoundInRun {
    pub(crate) solved: Solved,
    pub(crate) added: usize,
}

/// How many pictures a run remembers, and the most knots that one of them has.
const REMEMBERED: usize = 16;
const REMEMBERED_KNOTS: usize = 20_000;

/// The pictures of a run whose knots are known, the latest last.
#[derive(Debug, Default)]
pub(crate) struct KnownKnots(Vec<(KnotSearch, Arc<FoundInRun>)>);

impl KnownKnots {
    pub(crate) fn find(&self, search: &KnotSearch) -> Option<Arc<FoundInRun>> {
        let known = self.0.iter().find(|(known, _)| known == search);
        known.map(|(_, found)| Arc::clone(found))
    }

    pub(crate) fn remember(&mut self, search: KnotSearch, found: &Arc<FoundInRun>) {
        if knots_of(&search.painting) <= REMEMBERED_KNOTS {
            if self.0.len() == REMEMBERED {
                self.0.remove(0);
            }
            self.0.push((search, Arc::clone(found)));
        }
    }
}

/// How many knots a picture has.
pub(crate) fn knots_of(painting: &Painting) -> usize {
    painting.rows.iter().map(Vec::len).sum()
}

/// How long a rule looks for the knots of a picture where it does not say, and at most.
pub(crate) const PATIENCE: u8 = 10;
pub(crate) const MOST_PATIENCE: u8 = 100;

/// What may be done for each unit of patience, about half a second's work.
const STEPS_OF_PATIENCE: u64 = 200_000_000;

/// Half of what a rule may use, so that what comes out is the same wherever it runs.
const MEMORY_BYTES: u64 = 256 << 20;

/// What is known of how few knots of a picture can miss, of which so many do: at least so many
/// must.
///
/// ```
/// use hitchwork_rules::bound_in_words;
/// assert_eq!(bound_in_words(4, 4), "no way to tie it misses fewer");
/// assert_eq!(bound_in_words(4, 3), "no way to tie it misses fewer than 3");
/// assert_eq!(bound_in_words(4, 0), "whether fewer are possible is not known");
/// ```
#[must_use]
pub fn bound_in_words(missed: usize, least: usize) -> String {
    match least {
        least if least == missed => "no way to tie it misses fewer".to_owned(),
        0 => "whether fewer are possible is not known".to_owned(),
        least => format!("no way to tie it misses fewer than {least}"),
    }
}

/// What a rule does to find the knots of a picture when it is told to have so much patience, from
/// 1 to 100; 10 where it says nothing.
///
/// ```
/// use hitchwork_rules::solving_effort;
/// assert!(solving_effort(1).steps < solving_effort(10).steps);
/// assert_eq!(solving_effort(1).memory_bytes, solving_effort(100).memory_bytes);
/// ```
#[must_use]
pub fn solving_effort(patience: u8) -> SolvingEffort {
    SolvingEffort {
        memory_bytes: MEMORY_BYTES,
        steps: u64::from(patience) * STEPS_OF_PATIENCE,
        ..SolvingEffort::default()
    }
}
