//! The craft: how large a knot comes out, and how a band begins and ends.

mod ends;
mod gauge;

pub use ends::{End, Shape, Ties, bringing_out};
pub use gauge::Gauge;
