//! `check`: what is proved about a band.

use hitchwork_core::fabric::Fabric;
use owo_colors::OwoColorize;

use crate::arguments::Check;
use crate::trouble::Trouble;
use crate::{Verdict, input, say};

pub(crate) fn run(check: &Check) -> Result<Verdict, Trouble> {
    let input::Input { band, .. } = input::band(&check.subject)?;
    let report = super::report(&band, &Fabric::of(&band), &check.making)?;
    if check.json {
        say::json(&report)?;
    } else {
        let title = if band.title().is_empty() {
            check.subject.rule.as_str()
        } else {
            band.title()
        };
        say::out(format!(
            "{}\n{}{}",
            title.style(say::heading()),
            say::summary(&band, &report),
            say::findings(&report)
        ))?;
    }
    Ok(super::verdict(&report, check.strict))
}
