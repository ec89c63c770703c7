//! Many bands at once: seeded searches for bands of a rule that meet conditions, and
//! collections of thousands from one plan.

mod beginnings;
pub mod census;
pub mod class;
#[doc(hidden)]
pub mod digest;
pub mod folder;
mod gallery;
mod making;
pub mod manifest;
#[doc(hidden)]
pub mod names;
pub mod plan;
pub mod record;
pub mod run;
pub mod search;
mod workers;
