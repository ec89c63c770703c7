//! What the tests share: a second model of tying that is too simple to be wrong, bands by
//! chance, published figures, what counts as their source, and files of expected text.

pub mod by_chance;
pub mod follower;
pub mod golden;
pub mod made;
pub mod naive;
pub mod published;
pub mod sources;
pub mod statistics;

/// Every Rust example of the README runs.
#[cfg(doctest)]
#[doc = include_str!("../../README.md")]
struct ReadMe;
