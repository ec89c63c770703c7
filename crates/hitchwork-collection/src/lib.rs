//! Many bands at once: seeded searches for bands of a rule that fulfil conditions, and
//! collections of thousands from one plan.

pub mod census;
pub mod class;
pub mod digest;
pub mod folder;
mod gallery;
mod making;
pub mod manifest;
pub mod names;
pub mod plan;
pub mod record;
pub mod run;
pub mod search;
mod workers;
