//! `collect --class`: what a class has to buy and cut.

use std::path::Path;

use hitchwork_collection::class::class_list;
use hitchwork_core::craft::SkeinSize;

use crate::arguments::CollectArguments;
use crate::folder::ResultKind;
use crate::trouble::Trouble;
use crate::{Verdict, folder, say};

pub(super) fn run(
    asked: &CollectArguments,
    collection: &Path,
    out: &Path,
) -> Result<Verdict, Trouble> {
    let ending = out.extension().and_then(|ending| ending.to_str());
    let ending = ending.map(str::to_ascii_lowercase);
    if !matches!(ending.as_deref(), Some("txt" | "csv" | "html")) {
        return Err(Trouble::new(
            "the name of the list does not say what kind of file it is to be",
            "end the file's name in .txt, .csv or .html",
        ));
    }
    folder::may_be_named(out, ResultKind::Other)?;
    let skein = SkeinSize {
        length_mm: asked.skein * 1000.0,
        price: asked.price,
    };
    let list = class_list(collection, &asked.choose, asked.people, skein)?;
    let bytes = match ending.as_deref() {
        Some("csv") => list.csv(),
        Some("html") => list.page().into_bytes(),
        _ => list.text().into_bytes(),
    };
    folder::write_one(out, &bytes, ResultKind::Other)?;
    say::aside(format!("{}\n", out.display()))?;
    Ok(Verdict::Sound)
}
