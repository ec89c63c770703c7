//! `collect --class`: what a class has to buy and cut.

use std::path::Path;

use hitchwork_collection::class::class_list;
use hitchwork_collection::folder::manifest_name;
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
    if !collection.join(manifest_name(None)).exists() {
        return Err(never_made(asked, collection));
    }
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

/// A collection of which nothing has been made yet.
fn never_made(asked: &CollectArguments, collection: &Path) -> Trouble {
    let plan = asked.plan.display();
    match asked.plan.is_dir() {
        true => Trouble::new(
            format!("there is no collection in {}", collection.display()),
            "give the plan (.toml), or the folder into which it was made",
        ),
        false => Trouble::new(
            format!(
                "this plan has not been made yet into {}",
                collection.display()
            ),
            format!("make it first: hitchwork collect {plan}; or name the folder with --out"),
        ),
    }
}
