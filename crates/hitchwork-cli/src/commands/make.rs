//! `make`: a band proved, drawn and written out.

use std::path::{Path, PathBuf};

use hitchwork_core::band::Band;
use hitchwork_core::file;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric;
use hitchwork_draw::output::OutputOptions;
use owo_colors::Style;

use crate::arguments::{MakeArguments, WrittenArguments};
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(make: &MakeArguments) -> Result<Verdict, Trouble> {
    if let (true, Some(out)) = (make.json, &make.written.out) {
        folder::as_text(out, folder::NOT_IN_JSON)?;
    }
    let input::Input { name, band } = input::band(&make.subject)?;
    let tied = super::tied(band, &make.subject, &make.making)?;
    let (band, report) = (tied.band(), tied.report());
    let verdict = super::verdict(report, make.strict);
    let folder::WrittenFiles { places, earlier } = match verdict {
        Verdict::Sound => {
            let mut files = files(&name, &tied, &make.written)?;
            let folder = make.written.out.clone();
            let folder = folder.unwrap_or_else(|| Path::new("out").join(&name));
            if is_there_already(make, &folder, &files[0]) {
                files.remove(0);
            }
            folder::write_all(&folder, &files)?
        }
        Verdict::Unsound => folder::WrittenFiles {
            places: Vec::new(),
            earlier: Vec::new(),
        },
    };
    if make.json {
        say::json(
            &serde_json::json!({ "report": say::as_data(&tied), "files": places, "earlier": earlier }),
        )?;
    } else {
        let mut words = words(&tied);
        match verdict {
            Verdict::Sound => words.push_str(&files_in_words(
                band,
                &places,
                &earlier,
                repeats_drawn(&tied, &make.written),
            )),
            Verdict::Unsound => words.push_str("Nothing was written: put the findings right first. To look at the band anyway, use draw.\n"),
        }
        say::out(words)?;
    }
    Ok(verdict)
}

/// Whether the band file that would be written is the very one that the band was read from, as
/// its maker has written it: it stays so.
fn is_there_already(
    make: &MakeArguments,
    folder: &Path,
    (name, written): &(String, Vec<u8>),
) -> bool {
    let (read, place) = (Path::new(&make.subject.rule), folder.join(name));
    let is_input = match (read.canonicalize(), place.canonicalize()) {
        (Ok(read), Ok(place)) => read == place,
        _ => false,
    };
    is_input
        && std::fs::read(place).is_ok_and(|bytes| {
            // What this version would write anyway is replaced and remembered like the rest.
            let the_same = |read: Band| file::write(&read).as_bytes() == written;
            bytes != *written && file::read(&bytes).is_ok_and(the_same)
        })
}

/// With how many repeats the picture of the fabric is drawn, if not with all.
pub(super) fn repeats_drawn(tied: &Tied, written: &WrittenArguments) -> Option<u32> {
    let band = tied.band();
    let drawn = fabric::repeats_to_draw(band);
    let with = &written.with;
    let is_drawn = with.iter().any(|output| output.0.name() == "fabric");
    (is_drawn && drawn < band.repeats()).then_some(drawn)
}

/// Everything that is written, as bytes.
pub(super) fn files(
    name: &str,
    tied: &Tied,
    written: &WrittenArguments,
) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    let options = OutputOptions {
        paper: written.paper.into(),
        pixels_too: true,
        ..OutputOptions::fitting(tied)
    };
    let band = file::write(tied.band()).into_bytes();
    let mut files = vec![(format!("{name}.band.json"), band)];
    let mut done = Vec::new();
    for output in &written.with {
        if done.contains(output) {
            continue;
        }
        done.push(*output);
        let made = output.0.files(tied, &options)?;
        files.extend(made.into_iter().map(|file| (file.name, file.bytes)));
    }
    Ok(files)
}

pub(super) fn words(tied: &Tied) -> String {
    format!(
        "{}\n{}{}",
        tied.band().title().styled(say::heading()),
        say::summary(tied),
        say::findings(tied.report())
    )
}

pub(super) fn files_in_words(
    band: &Band,
    places: &[PathBuf],
    earlier: &[String],
    drawn: Option<u32>,
) -> String {
    let mut text = String::new();
    if let Some(drawn) = drawn {
        let of = band.repeats();
        text.push_str(&line(
            "drawn",
            &format!(
                "fabric with {drawn} of {of} repeats: all of them are too many for one picture"
            ),
        ));
    }
    for (index, place) in places.iter().enumerate() {
        let label = if index == 0 { "files" } else { "" };
        text.push_str(&line(label, &place.display().to_string()));
    }
    if let Some(earlier) = say::earlier(earlier) {
        text.push_str(&line("earlier", &earlier));
    }
    text
}

pub(super) fn line(label: &str, said: &str) -> String {
    let label = format!("{label:<12}");
    format!("  {}{said}\n", label.styled(Style::new().cyan()))
}
