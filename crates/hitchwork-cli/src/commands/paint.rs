//! `paint`: from a picture to a whole band.

mod advice;
mod art;
mod painted;
mod palette;
mod ways;
mod written_rule;

use std::collections::BTreeMap;
use std::path::Path;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::picture::Picture;
use hitchwork_rules::bound_in_words;

use self::art::Art;
use self::painted::PaintedBand;
use super::make::{files, files_in_words, line, repeats_drawn, words};
use crate::arguments::{PaintArguments, PaintWay};
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

/// How long a closed picture is tied where nobody says: as long as the band of a rule.
const ORDINARY_LENGTH_MM: f64 = 150.0;

/// How many missed knots are named; the picture shows the others.
const NAMED: usize = 8;

pub(crate) fn run(paint: &PaintArguments) -> Result<Verdict, Trouble> {
    if let (true, Some(out)) = (paint.json, &paint.written.out) {
        folder::as_text(out, folder::NOT_IN_JSON)?;
    }
    if paint.open && paint.free_rows > 0 {
        return Err(Trouble::new(
            "--open ties the picture once, and in --free-rows its colours would come back into their order to tie it again",
            "leave out one of the two",
        ));
    }
    let art = Art::read(paint, None)?;
    let is_empty = |picture: &Picture| picture.shown().is_empty();
    if art.picture.as_ref().is_some_and(is_empty) {
        return Err(Trouble::new(
            "the picture shows nothing: all of it is clear",
            "paint something that is to show",
        ));
    }
    let painted = PaintedBand::tied(paint, &art)?;
    let name = name(&paint.picture);
    let band = band_of(paint, &name, &painted)?;
    let wrist_mm = paint.wrist.map(|wrist| wrist.round_mm);
    let tied = super::tied_for_wrist(band, wrist_mm, &paint.making)?;
    let (band, report) = (tied.band(), tied.report());
    let verdict = super::verdict(report, paint.strict);
    let mut notes = advice::notes(paint, &art, &painted);
    notes.extend(advice::shorter_leader(paint, &art, &painted, |other| {
        let band = band_of(paint, &name, other).ok()?;
        let tied = super::tied_for_wrist(band, wrist_mm, &paint.making).ok()?;
        Some(tied.report().cut_list.longest_cm())
    }));
    let written = match verdict {
        Verdict::Sound => {
            let folder = paint.written.out.clone();
            let folder = folder.unwrap_or_else(|| Path::new("out").join(&name));
            let mut files = files(&name, &tied, &paint.written)?;
            match written_rule::rule(&name, &painted, paint.open) {
                None => notes
                    .push("no rule is written, since it would be too long to be read".to_owned()),
                Some(rule) => {
                    if !rule.has_picture {
                        notes.push(KNOT_BY_KNOT.to_owned());
                    }
                    files.insert(1, (format!("{name}.rhai"), rule.text.into_bytes()));
                }
            }
            Some(folder::write_all(&folder, &files)?)
        }
        Verdict::Unsound => None,
    };
    if paint.json {
        for note in &notes {
            say::note(format!("note: {note}\n"));
        }
        if written.is_none() {
            say::note(format!("{}{NOTHING_WRITTEN}", say::findings(report)));
        }
        say::json(&as_data(&painted))?;
        return Ok(verdict);
    }
    let mut said = words(&tied);
    if report.findings.is_empty() && painted.missed() > 0 {
        // Not that somebody reads no further.
        said = said.replace(&say::findings(report), &line("findings", NONE_BUT_MISSES));
    }
    said.push_str(&in_words(&painted));
    for note in &notes {
        said.push_str(&line("note", note));
    }
    for (at, advice) in advice::advice(paint, &art, &painted).iter().enumerate() {
        said.push_str(&line(if at == 0 { "advice" } else { "" }, advice));
    }
    said.push_str(&match written {
        Some(written) => {
            let drawn = repeats_drawn(&tied, &paint.written);
            files_in_words(band, &written.places, &written.earlier, drawn)
        }
        None => NOTHING_WRITTEN.to_owned(),
    });
    say::out(said)?;
    Ok(verdict)
}

/// Why a written rule cannot be changed by painting in it.
const KNOT_BY_KNOT: &str = "the rule has the knots one by one, as no rule finds them from this picture: to change the picture, change its own file, and paint it again";

/// What is found of a band all of whose knots hold, and some of which show another colour than the
/// picture.
const NONE_BUT_MISSES: &str = "none of the band itself; for what it shows see misses";

const NOTHING_WRITTEN: &str = "Nothing was written: put the findings right first.\n";

/// `paintings/sail.txt` is called sail.
fn name(picture: &Path) -> String {
    let stem = picture.file_stem().unwrap_or_default();
    input::short_name(stem.to_string_lossy().trim_start_matches('.'))
}

fn band_of(paint: &PaintArguments, name: &str, painted: &PaintedBand) -> Result<Band, Trouble> {
    let rows = painted.rows.iter().filter(|row| !row.is_empty());
    let number = |colour: &usize| u16::try_from(*colour).expect("at most 64 colours");
    let band = Band::new(BandParts {
        title: name.to_owned(),
        palette: painted.colours.clone(),
        threads: painted.start.iter().map(number).collect(),
        repeat: rows.cloned().collect(),
        repeats: 1,
        ..BandParts::default()
    })?;
    if paint.open {
        return Ok(band);
    }
    let length_mm = paint.length.map(|centimetres| centimetres * 10.0);
    let length_mm = length_mm.or(paint.wrist.map(|wrist| wrist.knotted_mm));
    Ok(band.at_least_mm(length_mm.unwrap_or(ORDINARY_LENGTH_MM))?)
}

fn as_data(painted: &PaintedBand) -> serde_json::Value {
    let keys = painted.keys.iter().cloned();
    let threads: BTreeMap<String, u16> = keys.zip(painted.counts()).collect();
    let lattice = painted.lattice();
    let missed: Vec<(usize, u16)> = lattice
        .iter()
        .flat_map(|lattice| &lattice.solved.missed)
        .map(|missed| (missed.row, missed.column.number()))
        .collect();
    serde_json::json!({
        "way": match painted.way {
            PaintWay::Leader => "leader",
            PaintWay::Solved => "solved",
            PaintWay::Pairs => "pairs",
        },
        "knots": painted.knots(),
        "misses": missed.len(),
        "least": lattice.map_or(0, |lattice| lattice.solved.least),
        "proved": lattice.is_none_or(|lattice| lattice.solved.is_proved()),
        "threads": threads,
        "missed": missed,
    })
}

fn in_words(painted: &PaintedBand) -> String {
    let way = match painted.way {
        PaintWay::Leader => "tied over a leader, which shows the ground",
        PaintWay::Solved => "its knots were found",
        PaintWay::Pairs => "tied in pairs, and every knot turns back",
    };
    let why = painted
        .why
        .as_ref()
        .map(|why| format!(", {why}"))
        .unwrap_or_default();
    let knots = say::counted(painted.knots() as u64, "knot");
    let mut said = line("picture", &format!("{knots}; {way}{why}"));
    let colours = painted.keys.iter().zip(&painted.colours);
    let hung: Vec<String> = colours
        .zip(painted.counts())
        .map(|((key, colour), count)| match *key == colour.name {
            true => format!("{key} ({count})"),
            false => format!("{key} {} ({count})", colour.name),
        })
        .collect();
    said.push_str(&line("colours", &hung.join(", ")));
    said.push_str(&line("misses", &misses_in_words(painted)));
    said
}

fn misses_in_words(painted: &PaintedBand) -> String {
    let Some(lattice) = painted.lattice() else {
        return "none: every cell shows the picture".to_owned();
    };
    let solved = &lattice.solved;
    let missed = &solved.missed;
    if missed.is_empty() {
        return match painted.colours.len() {
            1 => "none: everything is one colour".to_owned(),
            _ => "none: every knot shows the picture".to_owned(),
        };
    }
    let key = |colour: u8| &painted.keys[usize::from(colour)];
    let mut named: Vec<String> = missed
        .iter()
        .take(NAMED)
        .map(|missed| {
            let (wanted, shown) = (key(missed.wanted), key(missed.shown));
            format!(
                "row {} column {} ({shown} instead of {wanted})",
                missed.row, missed.column
            )
        })
        .collect();
    if missed.len() > NAMED {
        named.push(format!("{} more", missed.len() - NAMED));
    }
    let bound = bound_in_words(missed.len(), solved.least);
    format!("{}; {bound}: {}", missed.len(), named.join(", "))
}
