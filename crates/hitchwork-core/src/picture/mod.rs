//! Pictures, and the knots that show them.

pub mod pairs;
pub mod solve;
