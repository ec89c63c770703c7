//! Members: one band each.

use std::collections::BTreeMap;

use hitchwork_core::band::Setting;

/// What a member is called for being the band as the rule makes it, or its mirror image.
pub(super) const fn mirrored_name(is_mirrored: bool) -> &'static str {
    match is_mirrored {
        false => "as-designed",
        true => "mirrored",
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
    /// Whether it is the mirror image of what the rule makes.
    pub mirrored: bool,
    /// Its length in millimetres, where the plan says.
    pub length_mm: Option<f64>,
    /// For which wrist that is, in millimetres round, where the plan says.
    pub wrist_mm: Option<f64>,
}
