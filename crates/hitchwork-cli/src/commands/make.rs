//! `make`: a band proved, drawn and written out.

use std::path::{Path, PathBuf};

use hitchwork_core::band::Band;
use hitchwork_core::file;
use hitchwork_core::proof::Report;
use hitchwork_draw::written::Written;
use hitchwork_draw::{fabric, pdf, text};
use owo_colors::Style;

use crate::arguments::{Make, Part, Picture};
use crate::pictures::{self, Form, Wishes};
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(make: &Make) -> Result<Verdict, Trouble> {
    let input::Input { name, band } = input::band(&make.subject)?;
    let written = super::sheet::written(band, &make.making)?;
    let (band, report) = (written.band(), written.report());
    let verdict = super::verdict(report, make.strict);
    let places = match verdict {
        Verdict::Sound => {
            let files = files(&name, &written, make)?;
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
        say::out(words(band, report, &places, repeats_drawn(&written, make)))?;
    }
    Ok(verdict)
}

/// With how many repeats the picture of the fabric is drawn, if not with all.
fn repeats_drawn(written: &Written, make: &Make) -> Option<u32> {
    let band = written.band();
    let drawn = fabric::repeats_to_draw(band);
    (make.with.contains(&Part::Fabric) && drawn < band.repeats()).then_some(drawn)
}

/// Everything that is written, as bytes.
fn files(name: &str, written: &Written, make: &Make) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    let band = written.band();
    let wishes = Wishes {
        fabric: fabric::Options {
            repeats: repeats_drawn(written, make),
            ..fabric::Options::default()
        },
        habits: make.making.habits(),
        ..Wishes::default()
    };
    let mut files = vec![(format!("{name}.band.json"), file::write(band).into_bytes())];
    let mut done = Vec::new();
    for part in &make.with {
        if done.contains(part) {
            continue;
        }
        done.push(*part);
        let (picture, stem) = match part {
            Part::Fabric => (Picture::Fabric, "fabric"),
            Part::Tile => (Picture::Tile, "tile"),
            Part::Strands => (Picture::Strands, "strands"),
            Part::Order => (Picture::Order, "order"),
            Part::Thread => (Picture::Thread, "thread"),
            Part::Gradient => (Picture::Gradient, "gradient"),
            Part::Html => {
                let page = super::sheet::page(written, &make.making)?;
                files.push(("sheet.html".to_owned(), page));
                continue;
            }
            Part::Pdf => {
                let pages = pdf::sheet(written, make.paper.into())?;
                files.push(("sheet.pdf".to_owned(), pages));
                continue;
            }
            Part::Steps => {
                let steps = text::sheet(written.steps());
                files.push(("steps.txt".to_owned(), steps.into_bytes()));
                continue;
            }
        };
        let pages = pictures::svg(picture, band, written.fabric(), &wishes)?;
        for (name, page) in pictures::names(stem, "svg", pages.len())
            .into_iter()
            .zip(&pages)
        {
            files.push((name, Form::Svg.bytes(page, 1.0)?));
        }
        if matches!(part, Part::Fabric | Part::Tile) {
            files.push((format!("{stem}.png"), Form::Png.bytes(&pages[0], 1.0)?));
        }
    }
    Ok(files)
}

fn words(band: &Band, report: &Report, places: &[PathBuf], drawn: Option<u32>) -> String {
    let mut text = format!(
        "{}\n{}{}",
        band.title().styled(say::heading()),
        say::summary(band, report),
        say::findings(report)
    );
    if places.is_empty() {
        text.push_str("Nothing was written: mend the findings first. To look at the band all the same, use draw.\n");
    }
    if let Some(drawn) = drawn.filter(|_| !places.is_empty()) {
        text.push_str(&format!(
            "  {}fabric with {drawn} of {} repeats: all of them are too many for one picture\n",
            format!("{:<9}", "drawn").styled(Style::new().cyan()),
            band.repeats()
        ));
    }
    for (index, place) in places.iter().enumerate() {
        let label = if index == 0 { "files" } else { "" };
        text.push_str(&format!(
            "  {}{}\n",
            format!("{label:<9}").styled(Style::new().cyan()),
            place.display()
        ));
    }
    text
}
