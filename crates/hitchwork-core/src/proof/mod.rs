//! What is proved about a band: where its repeat sends each thread, when it closes, how
//! its colours drift, how fast it grows, how its edges run, and what is wrong with it.

mod alike;
mod drift;
mod edges;
mod finding;
mod growth;
mod heap;
mod permutation;
mod report;

pub use drift::{Drift, drifting_order};
pub use edges::{Edge, EdgeShape, Edges};
pub use finding::{Code, Finding, RulePlace, Severity, Where};
pub use growth::{Growth, growth};
pub use heap::{normal_form, same_fabric};
pub use permutation::Permutation;
pub use report::{Report, Size, ThreadUse};
