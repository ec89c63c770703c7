//! What is remembered of a choice of the best: one line of the journal and of the manifest.

use serde::{Deserialize, Serialize};
use serde_json::json;

use crate::digest::sha256;
use crate::making::item_digest;
use crate::plan::{Asked, Best, Item};

/// Which members of an item were chosen as the best.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct BestOf {
    /// A digest of the item and of all that it combines.
    pub(super) item: String,
    /// The numbers of its members, from 1.
    pub(super) numbers: Vec<u64>,
    /// The other rules that its rule asked for, in the runs of all candidates.
    #[serde(default, skip_serializing_if = "Asked::is_empty")]
    pub(super) asked: Asked,
}

impl BestOf {
    /// Its line.
    pub(super) fn line(&self) -> String {
        json!({ "choice": self }).to_string()
    }
}

/// The newest choice of an item that would be the same today, and can be one at all: others may
/// have written it.
pub(super) fn known<'a>(choices: &'a [BestOf], digest: &str, item: &Item) -> Option<&'a BestOf> {
    let known = |choice: &&BestOf| {
        let numbers = &choice.numbers;
        let candidates = 1..=item.candidates();
        choice.item == digest
            && numbers.is_sorted_by(|one, next| one < next)
            && numbers.iter().all(|number| candidates.contains(number))
            && choice.asked.changed(&item.beside).is_none()
    };
    choices.iter().rev().find(known)
}

/// A digest of all on which a choice depends, but for what the rule will ask for.
pub(super) fn digest(item: &Item, best: &Best) -> String {
    let all = format!(
        "{}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}",
        item_digest(item),
        item.settings,
        item.grid,
        item.palettes,
        item.seeds,
        item.mirrored,
        item.lengths,
        best,
        item.prefer
    );
    sha256(all.as_bytes())
}
