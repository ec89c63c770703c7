//! `paint`: from a picture to a whole band.

use std::collections::BTreeMap;
use std::path::Path;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{self, Colour, contrasting_colours};
use hitchwork_core::near::did_you_mean_quoted;
use hitchwork_core::picture::lattice::LatticePicture;
use hitchwork_core::picture::solve::{Closing, Painting, Solved, SolvingEffort};
use hitchwork_rules::load::FileKind;

use super::make::{files, files_in_words, line, repeats_drawn, words};
use crate::arguments::{PaintArguments, PaintWay};
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

/// How long a closed picture is tied where nobody says: as long as the band of a rule.
const ORDINARY_LENGTH_MM: f64 = 150.0;

/// How many missed knots are named; the picture shows the others.
const NAMED: usize = 8;

/// What is done to say how a closed picture could miss less.
const EFFORT_OF_ADVICE: SolvingEffort = SolvingEffort {
    memory_bytes: 400_000_000,
    steps: 1_000_000_000,
    starts: 100,
    beam: 100,
};

/// A picture with its knots.
struct PaintedBand {
    way: PaintWay,
    painting: Painting,
    solved: Solved,
    /// The letters of the colours.
    letters: Vec<char>,
}

pub(crate) fn run(paint: &PaintArguments) -> Result<Verdict, Trouble> {
    if let (true, Some(out)) = (paint.json, &paint.written.out) {
        folder::as_text(out, folder::NOT_IN_JSON)?;
    }
    let palette = palette(&paint.palette)?;
    let painted = painted(paint)?;
    let colours = contrasting_colours(&palette, painted.letters.len())?;
    let name = name(&paint.picture);
    let band = band(paint, &name, &painted, &colours)?;
    let wrist_mm = paint.wrist.map(|wrist| wrist.round_mm);
    let tied = super::tied_for_wrist(band, wrist_mm, &paint.making)?;
    let (band, report) = (tied.band(), tied.report());
    let verdict = super::verdict(report, paint.strict);
    let written = match verdict {
        Verdict::Sound => {
            let folder = paint.written.out.clone();
            let folder = folder.unwrap_or_else(|| Path::new("out").join(&name));
            Some(folder::write_all(
                &folder,
                &files(&name, &tied, &paint.written)?,
            )?)
        }
        Verdict::Unsound => None,
    };
    if paint.json {
        say::json(&painted.as_data())?;
        return Ok(verdict);
    }
    let mut said = words(band, report);
    said.push_str(&painted.in_words(&colours));
    said.push_str(&match written {
        Some(written) => {
            let drawn = repeats_drawn(&tied, &paint.written);
            files_in_words(band, &written.places, &written.earlier, drawn)
        }
        None => "Nothing was written: put the findings right first.\n".to_owned(),
    });
    say::out(said)?;
    Ok(verdict)
}

/// The palette of a name, or in a file.
fn palette(name: &str) -> Result<colour::Palette, Trouble> {
    if let Some(own) = input::palette_file(name)? {
        return Ok(own);
    }
    colour::palette(name).ok_or_else(|| {
        let all = colour::built_in_palettes();
        let names: Vec<&str> = all.iter().map(|palette| palette.name.as_str()).collect();
        let meant = did_you_mean_quoted(name, names.iter().copied());
        Trouble::new(
            format!("there is no palette called \"{name}\""),
            format!("{meant}there are: {}", names.join(", ")),
        )
    })
}

/// `paintings/sail.txt` is called sail.
fn name(picture: &Path) -> String {
    let stem = picture.file_stem().unwrap_or_default();
    input::short_name(&stem.to_string_lossy())
}

/// Reads the picture and finds its knots.
fn painted(paint: &PaintArguments) -> Result<PaintedBand, Trouble> {
    let shown = paint.picture.to_string_lossy();
    let text = input::text(&shown, FileKind::Picture)?;
    let picture = LatticePicture::read(&text).map_err(|error| Trouble::of_file(&shown, &error))?;
    let mut letters = picture.marks();
    if let Some(counts) = &paint.counts {
        letters = counts.0.iter().map(|(letter, _)| *letter).collect();
        letters.sort_unstable();
    }
    let threads = paint.threads.unwrap_or((picture.columns() + 1).max(2));
    let mut painting = picture
        .painting(threads, &letters)
        .map_err(|error| Trouble::of_file(&shown, &error))?
        .with_free_rows(paint.free_rows);
    painting.counts = paint.counts.as_ref().map(|counts| {
        let mut counts = counts.0.clone();
        counts.sort_unstable();
        counts.into_iter().map(|(_, count)| count).collect()
    });
    painting.closing = match paint.open {
        true => Closing::Open,
        false => Closing::Closed,
    };
    let (way, solved) = tied_some_way(paint.way, &painting)?;
    Ok(PaintedBand {
        way,
        painting,
        solved,
        letters,
    })
}

/// As it was asked; or, where nobody asked, so that most of the picture shows.
fn tied_some_way(
    way: Option<PaintWay>,
    painting: &Painting,
) -> Result<(PaintWay, Solved), hitchwork_core::Error> {
    if way == Some(PaintWay::Pairs) {
        return Ok((PaintWay::Pairs, painting.in_pairs()?));
    }
    let solved = painting.solve(&SolvingEffort::default())?;
    if way.is_none()
        && !solved.missed.is_empty()
        && let Ok(in_pairs) = painting.in_pairs()
    {
        return Ok((PaintWay::Pairs, in_pairs));
    }
    Ok((PaintWay::Solved, solved))
}

fn band(
    paint: &PaintArguments,
    name: &str,
    painted: &PaintedBand,
    colours: &[Colour],
) -> Result<Band, Trouble> {
    let rows = painted.solved.rows.iter().filter(|row| !row.is_empty());
    let band = Band::new(BandParts {
        title: name.to_owned(),
        palette: colours.to_vec(),
        threads: painted
            .solved
            .start
            .iter()
            .copied()
            .map(u16::from)
            .collect(),
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

impl PaintedBand {
    fn knots(&self) -> usize {
        self.painting.rows.iter().map(Vec::len).sum()
    }

    fn as_data(&self) -> serde_json::Value {
        let solved = &self.solved;
        let letters = self.letters.iter().map(char::to_string);
        let threads: BTreeMap<String, u16> = letters.zip(solved.counts.iter().copied()).collect();
        let missed = solved.missed.iter();
        let missed: Vec<(usize, u16)> = missed
            .map(|missed| (missed.row, missed.column.number()))
            .collect();
        serde_json::json!({
            "way": match self.way {
                PaintWay::Solved => "solved",
                PaintWay::Pairs => "pairs",
            },
            "knots": self.knots(),
            "misses": missed.len(),
            "least": solved.least,
            "proved": solved.is_proved(),
            "threads": threads,
            "missed": missed,
        })
    }

    fn in_words(&self, colours: &[Colour]) -> String {
        let solved = &self.solved;
        let way = match self.way {
            PaintWay::Solved => "its knots were found",
            PaintWay::Pairs => "tied in pairs, and every knot turns back",
        };
        let mut said = line(
            "picture",
            &format!("{}; {way}", say::counted(self.knots() as u64, "knot")),
        );
        let letters = self.letters.iter().zip(colours).zip(&solved.counts);
        let hung: Vec<String> = letters
            .map(|((letter, colour), count)| format!("{letter} {} ({count})", colour.name))
            .collect();
        said.push_str(&line("colours", &hung.join(", ")));
        said.push_str(&line("misses", &self.misses_in_words()));
        for advice in self.advice() {
            said.push_str(&line("", &advice));
        }
        said
    }

    fn misses_in_words(&self) -> String {
        let missed = &self.solved.missed;
        let least = self.solved.least;
        if missed.is_empty() {
            return "none: every knot shows the picture".to_owned();
        }
        let letter = |colour: u8| self.letters[usize::from(colour)];
        let mut named: Vec<String> = missed
            .iter()
            .take(NAMED)
            .map(|missed| {
                let (wanted, shown) = (letter(missed.wanted), letter(missed.shown));
                format!(
                    "row {} column {} ({shown} for {wanted})",
                    missed.row, missed.column
                )
            })
            .collect();
        if missed.len() > NAMED {
            named.push(format!("{} more", missed.len() - NAMED));
        }
        let bound = match self.solved.is_proved() {
            true => "no way to tie it misses fewer".to_owned(),
            false => format!("no way to tie it misses fewer than {least}"),
        };
        format!("{}, and {bound}: {}", missed.len(), named.join(", "))
    }

    /// What would miss less.
    fn advice(&self) -> Vec<String> {
        let mut advice = Vec::new();
        if self.solved.missed.is_empty() {
            return advice;
        }
        if self.painting.in_pairs().is_ok() {
            advice.push("--way pairs shows every knot of it".to_owned());
        }
        if self.painting.closing == Closing::Closed {
            let painting = Painting {
                counts: Some(self.solved.counts.clone()),
                ..self.painting.clone()
            };
            let go_on = |_| Ok::<(), hitchwork_core::Error>(());
            let found = painting.with_fewest_free_rows(
                0..=usize::from(painting.threads) + 1,
                &EFFORT_OF_ADVICE,
                go_on,
            );
            if let Ok((rows, solved)) = found
                && solved.missed.len() < self.solved.missed.len()
            {
                let misses = match solved.missed.len() {
                    0 => "none".to_owned(),
                    some => format!("only {some}"),
                };
                advice.push(format!(
                    "with {} after it that may show anything (--free-rows), {misses} would miss",
                    say::counted(rows as u64, "more row")
                ));
            }
        }
        advice
    }
}
