//! One room per command.

pub(crate) mod balance;
pub(crate) mod check;
pub(crate) mod collect;
pub(crate) mod colours;
pub(crate) mod draw;
pub(crate) mod explain;
pub(crate) mod explore;
pub(crate) mod generate;
pub(crate) mod make;
pub(crate) mod rules;
pub(crate) mod sheet;
pub(crate) mod watch;

use hitchwork_core::band::Band;
use hitchwork_core::craft;
use hitchwork_core::fabric::Fabric;
use hitchwork_core::proof::{Report, Severity};

use crate::arguments::Making;
use crate::trouble::Trouble;
use crate::{Verdict, input};

/// The report for the maker's habits, with the shopping list if one was asked for.
fn report(band: &Band, fabric: &Fabric, making: &Making) -> Result<Report, Trouble> {
    let mut report = Report::by_habits(band, fabric, &making.habits());
    if let Some(followers) = making.followers {
        let list = craft::shopping(&report.cut_list, followers, making.skein_size())?;
        report.shopping = Some(list);
    }
    if let Some(file) = &making.stash {
        let stash = input::stash(file)?;
        report.compare_with_stash(stash.threads(), making.followers.unwrap_or(1));
    }
    Ok(report)
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

/// So many workers as were asked for, or one for each core.
fn workers(asked: Option<u16>) -> usize {
    let all = || std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    asked.map_or_else(all, usize::from)
}
