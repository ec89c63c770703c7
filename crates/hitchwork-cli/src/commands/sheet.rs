//! `sheet`: the steps that a follower ties from.

use hitchwork_core::fabric::Fabric;
use hitchwork_core::steps::Steps;
use hitchwork_draw::text;

use crate::arguments::Sheet;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(sheet: &Sheet) -> Result<Verdict, Trouble> {
    let input::Input { band, .. } = input::band(&sheet.subject)?;
    let tied = Fabric::of(&band);
    let report = super::report(&band, &tied, &sheet.making)?;
    let text = text::sheet(&Steps::of_fabric(&band, &tied, &report));
    match &sheet.out {
        Some(out) => {
            folder::write_one(out, text.as_bytes())?;
            say::aside(format!("{}\n", out.display()))?;
        }
        None => say::raw(text.as_bytes())?,
    }
    let verdict = super::verdict(&report, false);
    if verdict == Verdict::Unsound {
        say::aside(say::findings(&report))?;
    }
    Ok(verdict)
}
