//! Spreads of colours that were asked for before.
//!
//! Spacing colours evenly to the eye takes longer than everything else that a small rule does,
//! and a search or a collection asks for the same colours thousands of times.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use hitchwork_core::Error;
use hitchwork_core::colour::Colour;

/// How many spreads are remembered.
const MOST: usize = 256;

/// The most stops or colours of a spread that is remembered; longer ones are rare.
const LONGEST: usize = hitchwork_core::band::MAX_THREADS as usize;

/// How colours are spread, through which stops, and into how many.
type Key = (&'static str, Vec<Colour>, usize);

static KNOWN: Mutex<BTreeMap<Key, Vec<Colour>>> = Mutex::new(BTreeMap::new());

/// What `spread` gives, from memory where it was asked before. `how` must name everything
/// on which it depends besides the stops and the count.
pub(crate) fn remembered(
    how: &'static str,
    stops: &[Colour],
    count: usize,
    spread: impl FnOnce() -> Result<Vec<Colour>, Error>,
) -> Result<Vec<Colour>, Error> {
    if stops.len() > LONGEST || count > LONGEST {
        return spread();
    }
    let known = || KNOWN.lock().unwrap_or_else(PoisonError::into_inner);
    let key = (how, stops.to_vec(), count);
    if let Some(colours) = known().get(&key) {
        return Ok(colours.clone());
    }
    let colours = spread()?;
    let mut known = known();
    if known.len() >= MOST {
        known.clear();
    }
    known.insert(key, colours.clone());
    Ok(colours)
}
