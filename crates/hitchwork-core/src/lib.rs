//! The pure core of Hitchwork: threads, knots, rows and bands; the simulator that ties
//! them; and everything that is proved about the result.
//!
//! A [`Band`](band::Band) is [`Tied`](tied::Tied) into a [`Fabric`](fabric::Fabric); the
//! [`Report`](proof::Report) says what it is worth. Nothing here reads files, clocks or
//! chance from outside: the same band gives the same bytes on every machine.
//!
//! ```
//! use hitchwork_core::{band::{Band, BandParts}, colour, knot::Kind, proof::{self, Permutation}, row::Row, tied::Tied};
//!
//! // A slanted band of six threads whose colours drift, with a turn at column 3.
//! let out = Row::run(Kind::Forward, 1..6)?.but(&Row::run(Kind::ForwardBackward, [3])?)?;
//! let back = Row::run(Kind::BackwardForward, 1..6)?.but(&Row::run(Kind::Forward, [3])?)?;
//! let repeat = vec![out, back];
//! let order = proof::drifting_order(&Permutation::of_rows(&repeat, 6), 6, 1, 0)?;
//!
//! let tide = colour::palette("spring tide").expect("built in");
//! let band = Band::new(BandParts {
//!     palette: colour::cyclic_gradient(&tide, 6)?,
//!     threads: order.iter().map(|step| *step as u16).collect(),
//!     repeat,
//!     repeats: 24,
//!     ..BandParts::default()
//! })?;
//! assert_eq!(Tied::of(band).report().drift.map(|drift| drift.steps_per_repeat), Some(1));
//! # Ok::<(), hitchwork_core::Error>(())
//! ```

pub mod band;
pub mod care;
#[doc(hidden)]
pub mod cell;
pub mod chance;
pub mod colour;
pub mod compare;
pub mod craft;
mod error;
pub mod fabric;
pub mod file;
pub mod knot;
pub mod lay;
mod limits;
mod line;
pub mod measures;
#[doc(hidden)]
pub mod misread;
pub mod mistake;
#[doc(hidden)]
pub mod near;
pub mod picture;
pub mod proof;
pub mod row;
mod sizing;
pub mod steps;
pub mod text;
pub mod tied;
mod words;
pub mod work;

pub use error::Error;
