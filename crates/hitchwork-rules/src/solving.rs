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
