//! `sheet`: the steps that a follower ties from.

use std::io::IsTerminal;
use std::path::Path;

use hitchwork_core::band::Band;
use hitchwork_core::fabric::Fabric;
use hitchwork_draw::written::Written;
use hitchwork_draw::{html, pdf, text};

use crate::arguments::{Making, Sheet, SheetFormat};
use crate::folder::Kind;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(sheet: &Sheet) -> Result<Verdict, Trouble> {
    let format = format(sheet)?;
    if sheet.out.is_none() && format != SheetFormat::Text && std::io::stdout().is_terminal() {
        let help = "give it a file with --out, or send it to another program";
        return Err(Trouble::new("such a sheet is not for the terminal", help));
    }
    let input::Input { band, .. } = input::band(&sheet.subject)?;
    let written = written(band, &sheet.making)?;
    let bytes = match format {
        SheetFormat::Text => text::sheet(written.steps()).into_bytes(),
        SheetFormat::Html => page(&written, &sheet.making)?,
        SheetFormat::Pdf => pdf::sheet(&written, sheet.paper.into())?,
    };
    match &sheet.out {
        Some(out) => {
            folder::write_one(out, &bytes, Kind::Sheet)?;
            say::aside(format!("{}\n", out.display()))?;
        }
        None => say::raw(&bytes)?,
    }
    let report = written.report();
    if !report.findings.is_empty() {
        say::note(say::findings(report));
    }
    Ok(super::verdict(report, false))
}

/// A band with its steps, by the maker's own habits.
pub(crate) fn written(band: Band, making: &Making) -> Result<Written, Trouble> {
    let tied = Fabric::of(&band);
    let report = super::report(&band, &tied, making)?;
    Ok(Written::new(band, tied, report))
}

/// The page for a browser, with both hands.
pub(crate) fn page(of: &Written, making: &Making) -> Result<Vec<u8>, Trouble> {
    let other_hand = written(of.band().mirrored(), making)?;
    Ok(html::sheet(of, &other_hand)?.into_bytes())
}

/// What is asked for, by name or by the file's ending.
fn format(sheet: &Sheet) -> Result<SheetFormat, Trouble> {
    match (sheet.format, &sheet.out) {
        (Some(asked), _) => Ok(asked),
        (None, Some(out)) => of_ending(out),
        (None, None) => Ok(SheetFormat::Text),
    }
}

fn of_ending(out: &Path) -> Result<SheetFormat, Trouble> {
    let ending = out.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("html" | "htm") => Ok(SheetFormat::Html),
        Some("pdf") => Ok(SheetFormat::Pdf),
        Some("txt") => Ok(SheetFormat::Text),
        _ => Err(Trouble::new(
            "the name of the sheet does not say what kind it shall be",
            "end the file's name in .html, .pdf or .txt, or say it with --format",
        )),
    }
}
