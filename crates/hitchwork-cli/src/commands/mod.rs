//! One room per command.

pub(crate) mod check;
pub(crate) mod colours;
pub(crate) mod draw;
pub(crate) mod explain;
pub(crate) mod generate;
pub(crate) mod make;
pub(crate) mod rules;
pub(crate) mod sheet;

use hitchwork_core::proof::{Report, Severity};

use crate::Verdict;

/// Whether the findings let the band pass.
fn verdict(report: &Report, strict: bool) -> Verdict {
    let bar = if strict {
        Severity::Warning
    } else {
        Severity::Error
    };
    if report.gravest() >= Some(bar) {
        Verdict::Unsound
    } else {
        Verdict::Sound
    }
}
