//! `sheet`: the steps that a maker ties from.

use std::io::IsTerminal;
use std::path::Path;

use hitchwork_draw::{html, pdf, text};

use crate::arguments::{SheetArguments, SheetFormat};
use crate::folder::ResultKind;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(sheet: &SheetArguments) -> Result<Verdict, Trouble> {
    let format = format(sheet)?;
    if sheet.out.is_none() && format != SheetFormat::Text && std::io::stdout().is_terminal() {
        let help = "give it a file with --out, or send it to another program";
        return Err(Trouble::new("such a sheet is not for the terminal", help));
    }
    let input::Input { band, .. } = input::band(&sheet.subject)?;
    let tied = super::tied(band, &sheet.subject, &sheet.making)?;
    let bytes = match format {
        SheetFormat::Text => text::sheet(&tied).into_bytes(),
        SheetFormat::Html => html::sheet(&tied)?.into_bytes(),
        SheetFormat::Pdf => pdf::sheet(&tied, sheet.paper.into())?,
    };
    match &sheet.out {
        Some(out) => {
            folder::write_one(out, &bytes, ResultKind::Sheet)?;
            say::aside(format!("{}\n", out.display()))?;
        }
        None => say::raw(&bytes)?,
    }
    let report = tied.report();
    if !report.findings.is_empty() {
        say::note(say::findings(report));
    }
    Ok(super::verdict(report, false))
}

/// What is asked for, by name or by the file's ending.
fn format(sheet: &SheetArguments) -> Result<SheetFormat, Trouble> {
    match (sheet.format, &sheet.out) {
        (Some(asked), Some(out)) => match of_ending(out) {
            Ok(named) if named != asked => Err(Trouble::new(
                format!(
                    "{} is named as {}, and --format asks for {}",
                    out.display(),
                    called(named),
                    called(asked)
                ),
                format!(
                    "end the file's name in .{}, or leave --format out",
                    ending(asked)
                ),
            )),
            _ => Ok(asked),
        },
        (Some(asked), None) => Ok(asked),
        (None, Some(out)) => of_ending(out),
        (None, None) => Ok(SheetFormat::Text),
    }
}

fn called(format: SheetFormat) -> &'static str {
    match format {
        SheetFormat::Html => "a page",
        SheetFormat::Pdf => "a PDF",
        SheetFormat::Text => "text",
    }
}

fn ending(format: SheetFormat) -> &'static str {
    match format {
        SheetFormat::Html => "html",
        SheetFormat::Pdf => "pdf",
        SheetFormat::Text => "txt",
    }
}

fn of_ending(out: &Path) -> Result<SheetFormat, Trouble> {
    let ending = out.extension().and_then(|ending| ending.to_str());
    match ending.map(str::to_ascii_lowercase).as_deref() {
        Some("html" | "htm") => Ok(SheetFormat::Html),
        Some("pdf") => Ok(SheetFormat::Pdf),
        Some("txt") => Ok(SheetFormat::Text),
        _ => Err(Trouble::new(
            "the name of the sheet does not say what kind of file it is to be",
            "end the file's name in .html, .pdf or .txt, or say it with --format",
        )),
    }
}
