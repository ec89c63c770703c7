//! Pictures, and the knots that show them.

pub mod lattice;
pub mod pairs;
pub mod solve;

pub use crate::limits::MAX_PICTURE_ROWS;
