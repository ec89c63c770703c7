//! What a search found: files, a table, data.

use std::path::PathBuf;

use comfy_table::{CellAlignment, Table, presets};
use hitchwork_collection::search::{FoundBand, Search, SearchEnd, Searched};
use hitchwork_core::craft::time_words;
use hitchwork_core::file;
use hitchwork_core::measures::{Measure, MeasureValue, in_full};
use hitchwork_core::tied::Tied;
use hitchwork_draw::contact::{Candidate, page_for_browsers, pages};
use serde_json::{Value, json};

use super::asked::condition;
use crate::folder::WrittenFiles;
use crate::pictures::{self, PictureFormat};
use crate::say::{self, LabelledLines};
use crate::terminal::Styled as _;
use crate::trouble::Trouble;

/// The measures that the table shows.
const SHOWN: [&str; 8] = [
    "threads",
    "repeats_to_close",
    "knot_symmetry",
    "colour_symmetry",
    "regions",
    "contrast",
    "width_mm",
    "minutes",
];

/// The most rows of the table.
const MOST_ROWS: usize = 24;

/// Up to this many disguises are told.
const MOST_DISGUISES: usize = 3;

fn file_name(name: &str, found: &FoundBand) -> String {
    format!("{name}-seed-{}.band.json", found.seed)
}

/// Whether a search may come to write a file of this name.
pub(super) fn may_write(name: &str, search: &Search, file: &str) -> bool {
    let between = |before: &str, after: &str| {
        let between = file.strip_prefix(before)?.strip_suffix(after)?;
        Some(between.to_owned())
    };
    let page = ["svg", "png"]
        .into_iter()
        .find_map(|ending| between("contact", &format!(".{ending}")));
    let is_page = page.is_some_and(|page| {
        let number = page.strip_prefix('-').map(str::parse::<usize>);
        page.is_empty() || number.is_some_and(|number| number.is_ok())
    });
    let seed = between(&format!("{name}-seed-"), ".band.json");
    let is_band = seed.is_some_and(|seed| {
        seed.parse()
            .is_ok_and(|seed: u64| search.seeds.contains(&seed))
    });
    is_page || is_band || file == "contact.html"
}

/// The band files and the contact sheet.
pub(super) fn files(
    name: &str,
    search: &Search,
    searched: &Searched,
    headline: &str,
) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
    let all_tied: Vec<Tied> = searched
        .found
        .iter()
        .map(|found| tied(search, found))
        .collect();
    let choice = |(found, tied)| choice(name, found, tied);
    let choices: Vec<Candidate<'_>> = searched.found.iter().zip(&all_tied).map(choice).collect();
    let band = |found: &FoundBand| {
        (
            file_name(name, found),
            file::write(&found.band).into_bytes(),
        )
    };
    let mut files: Vec<(String, Vec<u8>)> = searched.found.iter().map(band).collect();
    let title = format!("{name}, explored");
    let sheet = pages(&title, headline, &choices)?;
    for (form, ending, scale) in [
        (PictureFormat::Svg, "svg", 1.0),
        (PictureFormat::Png, "png", 2.0),
    ] {
        for (name, page) in pictures::names("contact", ending, sheet.len())
            .into_iter()
            .zip(&sheet)
        {
            files.push((name, form.bytes(page, scale)?));
        }
    }
    let page = page_for_browsers(&title, headline, &choices)?;
    files.push(("contact.html".to_owned(), page.into_bytes()));
    Ok(files)
}

/// A band that was found, by the habits for which it was looked for.
fn tied(search: &Search, found: &FoundBand) -> Tied {
    Tied::by(found.band.clone(), search.habits)
}

fn choice<'a>(name: &str, found: &FoundBand, tied: &'a Tied) -> Candidate<'a> {
    let said = |name: &str| tied.measure(name).map_or(String::new(), text);
    let score = match found.score {
        Some(score) => format!(" · score {}", rounded(score)),
        None => String::new(),
    };
    let report = tied.report();
    let mut words = vec![
        format!(
            "{} threads, {} mm wide, {}",
            said("threads"),
            said("width_mm"),
            time_words(report.minutes)
        ),
        format!(
            "comes round after {}",
            say::counted(found_repeats(tied), "repeat")
        ),
    ];
    // A line each, for they stand side by side.
    let symmetry = say::symmetry(&report.symmetry);
    words.extend(symmetry.split("; ").map(str::to_owned));
    Candidate {
        tied,
        heading: format!("seed {}{score}", found.seed),
        words,
        link: file_name(name, found),
    }
}

fn found_repeats(tied: &Tied) -> u64 {
    match tied.measure("repeats_to_close") {
        Some(MeasureValue::Whole(repeats)) => u64::try_from(repeats).unwrap_or(0),
        _ => 0,
    }
}

fn rounded(number: f64) -> String {
    ((number * 100.0).round() / 100.0).to_string()
}

fn text(value: MeasureValue) -> String {
    match value {
        MeasureValue::Whole(whole) => whole.to_string(),
        MeasureValue::Number(number) => rounded(number),
        MeasureValue::Flag(true) => "yes".to_owned(),
        MeasureValue::Flag(false) => "no".to_owned(),
        MeasureValue::Text(text) => in_full(text),
    }
}

pub(super) fn as_json(search: &Search, searched: &Searched, written: &WrittenFiles) -> Value {
    let found = searched.found.iter().map(|found| {
        let measures: serde_json::Map<String, Value> = tied(search, found)
            .measures()
            .map(|(measure, value): (&Measure, _)| (measure.name.to_owned(), json!(value)))
            .collect();
        json!({
            "seed": found.seed,
            "score": found.score,
            "novelty": found.novelty,
            "measures": measures,
        })
    });
    let rejected = search.conditions.iter().zip(&searched.tally.rejected);
    let rejected = rejected
        .map(|(condition, count)| json!({ "condition": condition.to_string(), "bands": count }));
    json!({
        "tried": searched.tally.tried,
        "failed": searched.tally.failed,
        "rejected": rejected.collect::<Vec<_>>(),
        "in_disguise": searched.tally.in_disguise,
        "not_best": searched.tally.not_best,
        "first_failure": searched.first_failure.as_ref().map(|(seed, failure)| json!({
            "seed": seed,
            "message": failure.to_string(),
        })),
        "disguised": searched.disguised.iter().map(|(seed, words)| json!({
            "seed": seed,
            "is": words,
        })).collect::<Vec<_>>(),
        "stopped": searched.ended == SearchEnd::Stopped,
        "found": found.collect::<Vec<_>>(),
        "files": written.places,
        "earlier": written.earlier,
    })
}

pub(super) fn words(
    name: &str,
    search: &Search,
    searched: &Searched,
    written: &WrittenFiles,
) -> String {
    let title = format!("{name}, explored").styled(say::heading());
    let table = table(search, searched);
    let mut lines = LabelledLines::under(format!("{title}\n{table}\n"), 10);
    say_bands(&mut lines, search, searched);
    say_files(&mut lines, written);
    lines.text
}

/// What was kept, and what became of all the other seeds.
fn say_bands(lines: &mut LabelledLines, search: &Search, searched: &Searched) {
    if searched.found.len() > MOST_ROWS {
        lines.add("", format!("and {} more", searched.found.len() - MOST_ROWS));
    }
    let tally = &searched.tally;
    let kept = say::counted(searched.found.len() as u64, "band");
    let tried = say::counted(tally.tried, "seed");
    let ended = match searched.ended {
        SearchEnd::Stopped => "; stopped, and what was found is kept",
        SearchEnd::AllTried if search.best_by.is_none() => "; there are no more among these seeds",
        SearchEnd::AllTried | SearchEnd::Enough => "",
    };
    lines.add("kept", format!("{kept} of {tried} tried{ended}"));
    for (number, count) in tally.rejected.iter().enumerate() {
        if *count > 0 {
            let condition = condition(search, number);
            lines.add("rejected", format!("{count} by {condition}"));
        }
    }
    if tally.not_best > 0 {
        let not_best = tally.not_best;
        lines.add("passed", format!("{not_best} that are not among the best"));
    }
    if tally.in_disguise > 0 {
        let alike = tally.in_disguise;
        lines.add(
            "alike",
            format!("{alike} were a band kept already, in disguise"),
        );
    }
    for (seed, disguise) in searched.disguised.iter().take(MOST_DISGUISES) {
        lines.add("", format!("seed {seed} is {disguise}"));
    }
    if let Some((seed, failure)) = &searched.first_failure {
        let failed = tally.failed;
        lines.add(
            "failed",
            format!("{failed}; the first was seed {seed}: {failure}"),
        );
    }
}

/// What was written, and what lay there before.
fn say_files(lines: &mut LabelledLines, written: &WrittenFiles) {
    let is_contact_sheet = |place: &&PathBuf| {
        let name = place.file_name().and_then(|name| name.to_str());
        name.is_some_and(|name| name.starts_with("contact"))
    };
    let sheets = written.places.iter().filter(is_contact_sheet);
    lines.add_all("sheet", sheets.map(|place| place.display()));
    if let Some(first) = written.places.first() {
        lines.add("bands", format!("{} and so on", first.display()));
    }
    if let Some(earlier) = say::earlier(&written.earlier) {
        lines.add("earlier", earlier);
    }
}

fn table(search: &Search, searched: &Searched) -> Table {
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    let mut header = vec!["seed"];
    if search.best_by.is_some() {
        header.push("score");
    }
    header.extend(SHOWN);
    header.push("novelty");
    let columns = header.len();
    table.set_header(header);
    for found in searched.found.iter().take(MOST_ROWS) {
        let tied = tied(search, found);
        let mut cells = vec![found.seed.to_string()];
        cells.extend(found.score.map(rounded));
        cells.extend(SHOWN.map(|name| tied.measure(name).map_or(String::new(), text)));
        cells.push(rounded(found.novelty));
        table.add_row(cells);
    }
    for column in table.column_iter_mut().take(columns) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    table
}
