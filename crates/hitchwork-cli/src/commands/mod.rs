//! One room per command.

pub(crate) mod check;
pub(crate) mod collect;
pub(crate) mod colours;
pub(crate) mod compare;
pub(crate) mod draw;
pub(crate) mod explain;
pub(crate) mod explore;
pub(crate) mod generate;
pub(crate) mod make;
pub(crate) mod mend;
pub(crate) mod paint;
pub(crate) mod rules;
pub(crate) mod sheet;
pub(crate) mod watch;

use hitchwork_core::band::Band;
use hitchwork_core::proof::{Report, Severity};
use hitchwork_core::tied::Tied;

use crate::arguments::{MakingArguments, Subject};
use crate::trouble::Trouble;
use crate::{Verdict, input};

/// A band, tied by the maker's habits, with what to buy for a class and what is there of it in
/// a stash, where that was asked.
fn tied(band: Band, subject: &Subject, making: &MakingArguments) -> Result<Tied, Trouble> {
    tied_for_wrist(band, subject.wrist_mm(), making)
}

fn tied_for_wrist(
    band: Band,
    wrist_mm: Option<f64>,
    making: &MakingArguments,
) -> Result<Tied, Trouble> {
    let mut tied = Tied::by(band, making.habits());
    if let Some(wrist_mm) = wrist_mm {
        tied = tied.for_wrist(wrist_mm);
    }
    if let Some(file) = &making.stash {
        let stash = input::stash(file)?;
        tied = tied.with_stash(stash.threads(), making.people.unwrap_or(1));
    }
    if let Some(people) = making.people {
        tied = tied.for_class(people, making.skein_size())?;
    }
    Ok(tied)
}

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

/// As many workers as were asked for, or one for each core.
fn workers(asked: Option<u16>) -> usize {
    let all = || std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    asked.map_or_else(all, usize::from)
}
