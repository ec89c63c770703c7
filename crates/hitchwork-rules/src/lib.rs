//! The rule language of Hitchwork: short scripts that make families of knotted bands.
//!
//! A rule is a [Rhai](https://rhai.rs) script. It declares its parameters where it uses
//! them, builds rows from knots, and ends in a band:
//!
//! ```
//! use hitchwork_rules::{Rules, Settings};
//!
//! let rules = Rules::new();
//! let rule = rules.compile("slant", r#"
//!     /// A slanted band whose colours drift one step at every row.
//!     let threads = whole("threads", 8, 4..=40, "threads on the band, one colour each");
//!     band(threads)
//!         .repeat(forward(1..threads))
//!         .drift(gradient("spring tide", threads))
//! "#)?;
//! let made = rules.make(&rule, &Settings::new().set("threads", 12))?;
//! assert_eq!(made.band.thread_count(), 12);
//! # Ok::<(), hitchwork_rules::Error>(())
//! ```
//!
//! A rule reads no files but the pictures and fonts of its own folder, no clock and no network,
//! prints nothing, and takes its chance from the seed alone, so that the same settings and seed always make the same band.
//! [`Limits`] bound what it may use; whatever goes wrong is said in the words of a maker,
//! at its line.

mod budget;
pub mod cases;
mod deep_stack;
mod documented;
mod engine_words;
mod error;
mod expression;
mod functions;
mod held;
mod kinds;
mod library;
mod limits;
pub mod load;
mod parameter;
pub mod picture_file;
mod reading;
pub mod reference;
mod rule;
mod rules;
mod run;
mod sketch;
mod solving;
mod sources;
mod spread;
mod trace;
mod translate;
mod trouble;
mod variables;
#[doc = include_str!("../TUTORIAL.md")]
pub mod tutorial {}

/// The engine of the language, for functions of your own.
pub use rhai;

pub use error::{Diagnostic, Error, Frame, SourceSpan, Variable, codes, explain};
pub use expression::Expression;
pub use library::{built_in, built_in_names, built_in_tests};
pub use limits::Limits;
pub use parameter::{Parameter, Range, Settings};
pub use reference::Reference;
pub use rule::Rule;
pub use rules::{Builder, Made, Rules};
pub use solving::{bound_in_words, solving_effort};
pub use sources::{
    Answer, FileAnswer, FileSource, Folder, Recording, Source, SourceError, Sources,
};
#[doc(hidden)]
pub use trace::{PictureTrace, TracedFile, WantedCell};
