//! The gallery: one page that works from disk, with all members as data in it and their
//! pictures in the files beside it.

use std::io::{self, Write};

use hitchwork_core::care::care;
use hitchwork_core::craft::time_words;
use hitchwork_core::measures::{MEASURES, in_full};
use hitchwork_core::text::plain;
use hitchwork_draw::html::lettered;
use hitchwork_draw::output::Output;
use hitchwork_draw::web;
use maud::{DOCTYPE, Markup, PreEscaped, html};
use serde_json::{Value, json};

use crate::beginnings::GALLERY_MARK;
use crate::record::{MadeMember, MemberOutcome, Record};

const STYLE: &str = include_str!("gallery/gallery.css");
const SCRIPT: &str = include_str!("gallery/gallery.js");

/// Goes through the records of a collection.
pub(crate) type EachRecord<'a> =
    dyn FnMut(&mut dyn FnMut(Record) -> io::Result<()>) -> io::Result<()> + 'a;

/// Writes the page, reading the records one by one.
pub(crate) fn write(
    out: &mut dyn Write,
    title: &str,
    notes: &str,
    records: &mut EachRecord<'_>,
) -> io::Result<()> {
    // Pictures lie in files beside the page, which a browser knows under `file:`.
    let style = lettered(SCRIPT, &letters()) + STYLE;
    let more = "img-src file: 'self' data:; font-src data:; ";
    let script = web::script(SCRIPT);
    let policy = web::policy(&style, Some(&script), more);
    let head = html! {
        (DOCTYPE)
        (PreEscaped("<html lang=\"en\">\n"))
        (web::head(&plain(title), &style, Some(&policy), &PreEscaped(GALLERY_MARK.to_owned())))
    };
    out.write_all(head.into_string().as_bytes())?;
    out.write_all(b"\n<body>\n")?;
    out.write_all(body(title, notes).into_string().as_bytes())?;
    let measures: Vec<Value> = MEASURES
        .iter()
        .map(|measure| json!([measure.name, measure.sentence]))
        .collect();
    out.write_all(b"\n<script type=\"application/json\" id=\"members\">{\"measures\":")?;
    out.write_all(in_a_script(&Value::from(measures)).as_bytes())?;
    out.write_all(b",\"outputs\":")?;
    let outputs: Vec<Value> = Output::all().map(offered).collect();
    out.write_all(in_a_script(&Value::from(outputs)).as_bytes())?;
    out.write_all(b",\"members\":[")?;
    let mut first = true;
    records(&mut |record| {
        if let MemberOutcome::Made(made) = &record.outcome {
            let between = if std::mem::take(&mut first) {
                "\n"
            } else {
                ",\n"
            };
            write!(out, "{between}{}", in_a_script(&member(&record.name, made)))?;
        }
        Ok(())
    })?;
    out.write_all(b"\n]}</script>\n<script>")?;
    out.write_all(script.as_bytes())?;
    out.write_all(b"</script>\n</body>\n</html>\n")
}

/// The letters of western European languages; others come from the reader's own fonts.
fn letters() -> String {
    (' '..='\u{17f}').chain("–—‘’“”…→×".chars()).collect()
}

/// Data that cannot end the element in which it stands.
fn in_a_script(data: &Value) -> String {
    data.to_string().replace('<', "\\u003c")
}

/// How the page finds the files of an output, and calls them.
fn offered(output: Output) -> Value {
    json!({
        "short": output.short(),
        "meaning": output.meaning(),
        "picture": output.is_picture(),
        "files": output.first_files(),
    })
}

fn member(name: &str, made: &MadeMember) -> Value {
    let settings = made
        .settings
        .iter()
        .map(|(name, value)| format!("{name} {value}"));
    let mut settings: Vec<String> = settings.collect();
    settings.push(format!("seed {}", made.seed));
    if made.mirrored {
        settings.push("mirrored".to_owned());
    }
    let measures: Vec<Value> = MEASURES
        .iter()
        .map(|measure| match made.measures.get(measure.name) {
            Some(Value::String(word)) => Value::from(in_full(word)),
            other => other.cloned().unwrap_or_default(),
        })
        .collect();
    let findings: Vec<Value> = made
        .findings
        .iter()
        .map(|finding| json!([finding.code, finding.severity]))
        .collect();
    let files: Vec<&str> = made.files.iter().map(|file| file.path.as_str()).collect();
    json!({
        "name": name,
        "title": plain(&made.title),
        "rule": made.rule,
        "palette": made.palette,
        "settings": plain(&settings.join(", ")),
        "same_as": made.same_as,
        "colours": made.colours.iter().map(|(name, value)| json!([plain(name), value])).collect::<Vec<_>>(),
        "measures": measures,
        "time": made.measures.get("minutes").and_then(Value::as_f64).map(time_words),
        "findings": findings,
        "files": files,
    })
}

fn body(title: &str, notes: &str) -> Markup {
    html! {
        a.skip href="#grid" { "To the bands" }
        header {
            h1 { (plain(title)) }
            @if !notes.is_empty() { p { (plain(notes)) } }
            noscript { p { "This gallery needs its script to show the bands; their folders lie beside this page, and collection.csv lists them." } }
        }
        main {
            form.ask #ask {
                label { "Search" input #search type="search" placeholder="name, rule, colour, setting" autocomplete="off"; }
                label { "Sort by" select.measures #sort { option value="" { "as planned" } } }
                label { "Order" select #order { option value="up" { "low first" } option value="down" { "high first" } } }
                @for number in 1..=2 {
                    fieldset.limit {
                        legend { "Filter by" }
                        span.row {
                            select.measures aria-label=(format!("measure {number}")) { option value="" { "any measure" } }
                            input type="text" size="7" aria-label=(format!("measure {number} at least, or exactly")) placeholder="from";
                            input type="text" size="7" aria-label=(format!("measure {number} at most")) placeholder="to";
                        }
                    }
                }
                button.plain #over type="button" { "Start over" }
                button.strong #compare type="button" disabled { "Compare" }
                button.plain #none type="button" hidden { "Clear" }
                button.plain #print type="button" { "Print this page" }
            }
            p.count #count role="status" tabindex="-1" {}
            ol.grid #grid {}
            nav.pages #pages aria-label="pages" {
                button #before type="button" { "Previous" }
                button #after type="button" { "Next" }
            }
        }
        dialog #beside aria-labelledby="beside-title" {
            div.bar {
                h2 #beside-title { "Side by side" }
                button #close type="button" { "Close" }
            }
            div.side #side tabindex="0" role="region" aria-label="comparison" {}
        }
        footer {
            h2 { "Take care" }
            ul { @for line in care(false) { li { (line) } } }
            p { "Made by Hitchwork." }
        }
    }
}
