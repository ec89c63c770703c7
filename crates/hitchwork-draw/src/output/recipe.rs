//! What stands beside each room that makes something of a tied band.

use hitchwork_core::tied::Tied;

use super::options::OutputOptions;
use crate::error::Error;

/// What an output is called, and how it is made: stands beside what makes it.
pub(crate) struct Recipe {
    /// By which people ask for it: small letters.
    pub(crate) name: &'static str,
    /// What it shows, in a few words without a full stop.
    pub(crate) meaning: &'static str,
    /// What a link or a button calls it, in small letters.
    pub(crate) short: &'static str,
    /// Where it is made without being asked for.
    pub(crate) usual: Usual,
    /// What its files are called, without their ending and the number of a page.
    pub(crate) stem: &'static str,
    pub(crate) making: Making,
}

/// Where an output is made without being asked for.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Usual {
    /// Of every band.
    Always,
    /// Of a band that is made by itself.
    ForOne,
    /// Nowhere.
    Never,
}

/// How an output is made.
pub(crate) enum Making {
    /// The fabric itself, as SVG at a size in pixels per millimetre: one picture.
    Woven(fn(&Tied, &OutputOptions) -> Result<String, Error>),
    /// A chart, as SVG: one picture.
    Chart(fn(&Tied, &OutputOptions) -> Result<String, Error>),
    /// A chart in as many pages as it takes, each as SVG.
    Pages(fn(&Tied, &OutputOptions) -> Result<Vec<String>, Error>),
    /// A document whose files have this ending.
    Document(
        &'static str,
        fn(&Tied, &OutputOptions) -> Result<Vec<u8>, Error>,
    ),
}
