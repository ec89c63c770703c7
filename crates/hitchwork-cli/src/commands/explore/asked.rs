//! What is asked of the bands, and how it is called.

use hitchwork_collection::search::Search;
use hitchwork_core::proof::Disguises;

use crate::arguments::TellApart;

/// The condition that is always asked unless the maker wants unsound bands too.
pub(super) const SOUND: &str = "errors == 0";

/// What counts as the same design, unless it is to be told apart.
pub(super) fn disguises(apart: &[TellApart]) -> Disguises {
    Disguises {
        mirrored: !apart.contains(&TellApart::Mirrored),
        upside_down: !apart.contains(&TellApart::UpsideDown),
        half_turned: !apart.contains(&TellApart::HalfTurned),
    }
}

/// A condition as it is blamed.
pub(super) fn condition(search: &Search, number: usize) -> String {
    let text = search.conditions[number].to_string();
    match text.as_str() {
        SOUND => "that a band is sound (unless --even-unsound)".to_owned(),
        _ => format!("'{text}'"),
    }
}
