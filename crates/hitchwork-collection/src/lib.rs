//! Many bands at once: seeded searches for bands of a rule that fulfil conditions, and
//! collections of thousands from one plan.

pub mod census;
pub mod plan;
pub mod search;
