//! The craft: how large a knot comes out, how a band begins and ends, how much thread it
//! takes, how long it takes, and how hard it is.
//!
//! Formulas are stated where they are used. What is called common practice has no
//! published source; what a maker measures replaces it.

mod at_hand;
mod cut;
mod difficulty;
mod ends;
mod gauge;
mod habits;
mod length;
mod pieces;
mod size;
mod swatch;
mod thread;
mod time;

pub use at_hand::{AtHand, Holds, at_hand};
pub use cut::{Cut, CutList, Purchase, Shopping, SkeinSize, shopping};
pub(crate) use cut::{cut_list, shopping_beside};
pub use difficulty::{Difficulty, DifficultyPart};
pub use ends::{End, Fold, Shape, Ties, bringing_out, folds, joining};
pub use gauge::Gauge;
pub use habits::{Habits, Pace};
use length::end_knots;
pub use length::{EndThread, ThreadLength, core_mm, wraps_mm};
pub(crate) use length::{ends_mm, left_and_right, tail_mm, thread_lengths};
pub(crate) use pieces::metres;
pub use pieces::metres_at_least;
pub use size::{Ease, WRISTS, Wrist, knotted_mm_for_wrist};
pub use swatch::{Fitted, Swatch, SwatchFit};
pub use thread::{Count, Yarn, YarnClass, bundle_mm};
pub use time::{Time, time_words};

use crate::error::{Error, Problem, millimetres};

/// Refuses a number outside its range, and says the range.
fn within(what: &str, found: f64, least: f64, most: f64, unit: &str) -> Result<(), Error> {
    if found.is_finite() && (least..=most).contains(&found) {
        return Ok(());
    }
    Err(Problem::Craft {
        message: format!(
            "{what} goes from {least} to {most}{unit}, and cannot be {}",
            millimetres(found)
        ),
        help: format!("give a number from {least} to {most}{unit}"),
    }
    .into())
}
