//! Members: one band each.

use std::collections::BTreeMap;

use hitchwork_core::band::Setting;
use serde::{Deserialize, Serialize};

/// For which hand a member is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hand {
    /// As the rule makes it.
    One,
    /// Mirrored.
    Other,
}

impl Hand {
    /// The name by which plans call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::One => "one",
            Self::Other => "other",
        }
    }
}

/// One member of a collection.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Its item, from 0.
    pub(crate) item: usize,
    /// Its number within the item, from 1.
    pub number: u64,
    /// Its name, and that of its folder.
    pub name: String,
    /// Its settings.
    pub settings: BTreeMap<String, Setting>,
    /// Its palette, where the plan says.
    pub palette: Option<String>,
    /// Its seed.
    pub seed: u64,
    /// Its hand.
    pub hand: Hand,
    /// Its length in millimetres, where the plan says.
    pub length_mm: Option<f64>,
}
