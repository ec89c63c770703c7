//! Pictures and sheets of knotted bands.
//!
//! Everything here is made from a [`Tied`](hitchwork_core::tied::Tied) band; no rule is
//! ever seen. The same band gives the same bytes on every machine.
//!
//! ```
//! use hitchwork_core::{band::{Band, BandParts}, colour, knot::Kind, row::Row, tied::Tied};
//! use hitchwork_draw::{fabric::{self, Options}, png};
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let lights = colour::palette("harbour lights").expect("built in");
//! let band = Band::new(BandParts {
//!     title: "Harbour entrance".into(),
//!     palette: lights.colours,
//!     threads: vec![0, 1, 2, 3],
//!     repeat: vec![Row::run(Kind::Forward, 1..4)?],
//!     repeats: 8,
//!     ..BandParts::default()
//! })?;
//! let picture = fabric::svg(&Tied::of(band), &Options::default())?;
//! assert!(picture.contains("<title>Harbour entrance</title>"));
//! let pixels = png::render(&picture, 1.0)?;
//! assert!(pixels.starts_with(b"\x89PNG"));
//! # Ok(())
//! # }
//! ```

pub mod contact;
mod error;
pub mod fabric;
pub mod font;
pub mod gradient;
pub mod html;
pub mod ink;
pub mod order;
pub mod pages;
pub mod pdf;
pub mod plot;
pub mod png;
mod shade;
mod sheet;
pub mod strands;
pub mod swatches;
pub mod text;
pub mod thread_use;
pub mod web;
mod xml;

pub use error::Error;
