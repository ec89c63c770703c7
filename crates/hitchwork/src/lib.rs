//! Design families of hand-knotted thread bracelets.
//!
//! The only dependency that you need to embed Hitchwork: the [`core`] that ties and proves bands,
//! the [`rules`] language in which families of them are written, and the pictures and
//! sheets that [`draw`] makes of them.
//!
//! ```
//! use hitchwork::core::{file, tied::Tied};
//! use hitchwork::draw;
//! use hitchwork::rules::{Rules, Settings};
//!
//! // A family is a rule; a member of it is a rule with settings.
//! let rules = Rules::new();
//! let drift = rules.built_in("drift").expect("a rule of the built-in library");
//! let band = rules.make(&drift, &Settings::new().set("threads", 10).length_mm(160.0))?.band;
//!
//! // Tied once, it is proved, drawn and written out.
//! let tied = Tied::of(band);
//! assert_eq!(tied.report().drift.map(|drift| drift.colours), Some(10));
//! let picture = draw::fabric::svg(&tied, &draw::fabric::FabricOptions::default())?;
//! let sheet = draw::text::sheet(&tied);
//! let text = file::write(tied.band());
//! # assert!(picture.starts_with("<svg") && sheet.contains("Row 1") && text.contains("hitchwork-band/1"));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub use hitchwork_core as core;
pub use hitchwork_draw as draw;
pub use hitchwork_rules as rules;

/// Every Rust example of the page that registries show runs.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct ReadMe;
