//! `make`: a band proved, drawn and written out.

use std::path::{Path, PathBuf};

use hitchwork_core::file;
use hitchwork_core::proof::Report;
use hitchwork_draw::{fabric, png, text};
use owo_colors::{OwoColorize, Style};

use crate::arguments::Make;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(make: &Make) -> Result<Verdict, Trouble> {
    let input::Input { name, band } = input::band(&make.subject)?;
    let written = super::sheet::written(band, &make.making)?;
    let (band, report) = (written.band(), written.report());
    let verdict = super::verdict(report, make.strict);
    let places = match verdict {
        Verdict::Sound => {
            let options = fabric::Options::default();
            let svg = fabric::svg(band, written.fabric(), &options)?;
            let picture = png::render(&svg, 1.0)?;
            let steps = text::sheet(written.steps());
            let files = [
                (format!("{name}.band.json"), file::write(band).into_bytes()),
                ("fabric.svg".to_owned(), svg.into_bytes()),
                ("fabric.png".to_owned(), picture),
                (
                    "sheet.html".to_owned(),
                    super::sheet::page(&written, &make.making)?,
                ),
                ("steps.txt".to_owned(), steps.into_bytes()),
            ];
            folder::write_all(
                &make
                    .out
                    .clone()
                    .unwrap_or_else(|| Path::new("out").join(&name)),
                &files,
            )?
        }
        Verdict::Unsound => Vec::new(),
    };
    if make.json {
        say::json(&serde_json::json!({ "report": report, "files": places }))?;
    } else {
        say::out(words(band, report, &places))?;
    }
    Ok(verdict)
}

fn words(band: &hitchwork_core::band::Band, report: &Report, places: &[PathBuf]) -> String {
    let mut text = format!(
        "{}\n{}{}",
        band.title().style(say::heading()),
        say::summary(band, report),
        say::findings(report)
    );
    if places.is_empty() {
        text.push_str("Nothing was written: mend the findings first. To look at the band all the same, use draw.\n");
    }
    for (index, place) in places.iter().enumerate() {
        let label = if index == 0 { "files" } else { "" };
        text.push_str(&format!(
            "  {}{}\n",
            format!("{label:<9}").style(Style::new().cyan()),
            place.display()
        ));
    }
    text
}
