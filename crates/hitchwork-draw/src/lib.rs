//! Pictures and sheets of knotted bands.
//!
//! Everything here is made from a [`Tied`](hitchwork_core::tied::Tied) band; no rule is
//! ever seen. The same band gives the same bytes on every machine.
//!
//! ```
//! use hitchwork_core::{band::{Band, BandParts}, colour, knot::Kind, row::Row, tied::Tied};
//! use hitchwork_draw::fabric::{self, FabricOptions};
//! # #[cfg(feature = "png")]
//! use hitchwork_draw::png;
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
//! let picture = fabric::svg(&Tied::of(band), &FabricOptions::default())?;
//! assert!(picture.contains("<title>Harbour entrance</title>"));
//! # #[cfg(feature = "png")]
//! assert!(png::render(&picture, 1.0)?.starts_with(b"\x89PNG"));
//! # Ok(())
//! # }
//! ```
//!
//! Beyond SVG and text, four features bring in what they need: `html`, `pdf`, `plot` and `png`.
//! All are there unless left out.

#![cfg_attr(docsrs, feature(doc_cfg))]

pub mod contact;
mod error;
pub mod fabric;
pub mod font;
pub mod gradient;
#[cfg(feature = "html")]
pub mod html;
pub mod ink;
pub mod knots;
pub mod order;
pub mod output;
#[doc(hidden)]
pub mod pages;
#[cfg(feature = "pdf")]
pub mod pdf;
#[cfg(feature = "plot")]
pub mod plot;
#[cfg(feature = "png")]
pub mod png;
#[cfg(any(feature = "pdf", feature = "png"))]
mod resolved;
mod shade;
#[cfg(any(feature = "html", feature = "pdf"))]
mod sheet;
pub mod strands;
pub mod swatches;
pub mod text;
pub mod thread_use;
#[cfg(feature = "html")]
#[doc(hidden)]
pub mod web;
mod xml;

pub use error::Error;
