//! What is proved about a band: where its repeat sends each thread, when it comes round, how
//! its colours drift, how fast it grows, how its edges run, how symmetrical it is,
//! whether it is another band in disguise, and what is wrong with it.

mod alike;
mod design;
mod divisor;
mod drift;
mod edges;
mod finding;
mod growth;
mod heap;
mod look;
pub(crate) mod permutation;
mod report;
mod round;
mod symmetry;

pub use design::{CanonicalForm, ColoursCount, Disguise, Disguises};
pub(crate) use divisor::greatest_common_divisor;
pub use drift::{Drift, drifting_order, drifting_order_through};
pub use edges::{Edge, EdgeShape, Edges};
pub use finding::{Code, Finding, RulePlace, Severity, Where};
pub use growth::{Growth, growth};
pub use heap::{normal_form, same_fabric};
pub use look::{Look, Texture};
pub use permutation::Permutation;
pub use report::{Report, Size, ThreadUse, ToMeasure};
pub(crate) use round::KnotChanges;
pub use round::MOST_KNOTS_SEEN;
pub use symmetry::{
    ColourMove, Frieze, Halfway, KnotPlace, Lengthwise, Mesh, Operation, Orbit, Pattern, Period,
    Places, Reading, Strip, StripPattern, Symmetry, SymmetrySaid, brick_lattice, knots_that_break,
};
