//! What the script of the page has to know of the band.

use std::fmt::Write;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::knot::Kind;
use hitchwork_core::mistake::SENTENCES;
use hitchwork_core::tied::Tied;
use hitchwork_core::{file, text::plain};
use serde_json::{Map, Value, json};
use sha2::{Digest, Sha256};

/// For each hand the colour of every thread and, for each row, the steps: the thread whose step it is,
/// and its knots, each as one number (its column, counted from 0, times four, and its kind). Besides
/// all that is said of mistakes.
#[doc(hidden)]
#[must_use]
pub fn page_data(tied: &Tied) -> String {
    let palette = tied.band().palette().iter();
    let palette: Vec<String> = palette.map(|colour| plain(&colour.name)).collect();
    let sentences = SENTENCES.iter();
    let sentences = sentences.map(|(name, words)| ((*name).to_owned(), Value::from(*words)));
    let data = json!({
        "key": key(tied.followed()),
        "repeats": tied.followed().repeats(),
        "palette": palette,
        "hands": [hand(tied), hand(tied.mirrored())],
        "kinds": Kind::ALL.map(Kind::name),
        "sentences": sentences.collect::<Map<String, Value>>(),
    });
    // Inside a script element only this sign could end it.
    data.to_string().replace('<', "\\u003c")
}

fn hand(tied: &Tied) -> Value {
    json!({
        "colours": tied.band().thread_colours(),
        "leadIn": rows(tied, Part::LeadIn),
        "repeat": rows(tied, Part::Repeat),
        "leadOut": rows(tied, Part::LeadOut),
    })
}

fn rows(tied: &Tied, part: Part) -> Vec<Vec<Vec<usize>>> {
    let steps = tied.steps().rows.iter().filter(|row| row.part == part);
    let rows = steps.zip(tied.followed().rows(part));
    let rows = rows.map(|(row, knots)| {
        let mut knots = knots.knots().iter().map(|knot| {
            let kind = Kind::ALL.iter().position(|kind| *kind == knot.kind());
            4 * (usize::from(knot.column().number()) - 1) + kind.unwrap_or_default()
        });
        let steps = row.runs.iter().map(|run| {
            let count: usize = run
                .stretches
                .iter()
                .map(|stretch| stretch.others.len())
                .sum();
            let thread = usize::from(run.thread);
            std::iter::once(thread)
                .chain(knots.by_ref().take(count))
                .collect()
        });
        steps.collect()
    });
    rows.collect()
}

/// The name under which a browser keeps the place: the same for the same band.
fn key(band: &Band) -> String {
    let digest = Sha256::digest(file::write(band));
    let mut key = String::from("hitchwork sheet ");
    for byte in &digest[..12] {
        write!(key, "{byte:02x}").expect("a string takes all that is written");
    }
    key
}
