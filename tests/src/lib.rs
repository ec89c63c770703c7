//! What the tests share: a second model of tying that is too simple to be wrong, bands by
//! chance, published figures and what counts as their source, files of expected text, all
//! that reads what others wrote, and our own code as data.

pub mod at_the_table;
pub mod by_chance;
pub mod files;
pub mod follower;
pub mod golden;
pub mod made;
pub mod naive;
pub mod own_code;
pub mod plans;
pub mod published;
pub mod readers;
pub mod sources;
pub mod statistics;

/// Every Rust example of the README runs.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
struct ReadMe;
