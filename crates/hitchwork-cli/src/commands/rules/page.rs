//! The reference as one page, which needs nothing but itself.

use hitchwork_core::band::Band;
use hitchwork_core::craft::Ties;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{self, FabricOptions};
use hitchwork_draw::html::lettered;
use hitchwork_draw::web;
use hitchwork_rules::Rules;
use hitchwork_rules::reference::{Form, Function, Reference, Room};
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::trouble::Trouble;

/// About how many knots a picture shows: enough to see the repeat come again.
const KNOTS_SHOWN: u64 = 80;

const STYLE: &str = include_str!("page.css");

pub(super) fn of(rules: &Rules, reference: &Reference) -> Result<String, Trouble> {
    let mut rooms = Vec::with_capacity(reference.rooms.len());
    for room in &reference.rooms {
        rooms.push(room_of(rules, room)?);
    }
    let body = html! {
        body {
            a .skip href="#functions" { "Skip to the functions" }
            header {
                h1 { "The rule language" }
                p { "Everything that rules for knotted bands can be written with. Each picture shows what its example makes, from the start at the left." }
            }
            div .page {
                nav aria-label="Functions" {
                    @for room in &reference.rooms {
                        h2 { a href={ "#" (id(&room.title)) } { (room.title) } }
                        ul {
                            @for function in &room.functions {
                                li { a href={ "#" (id(&room.title)) "-" (id(&function.name)) } { code { (function.name) } } }
                            }
                        }
                    }
                }
                main #functions { @for room in &rooms { (room) } }
            }
            footer { p { "hitchwork " (env!("CARGO_PKG_VERSION")) } }
        }
    };
    let body = body.into_string();
    let style = lettered(&body, "") + STYLE;
    let policy = web::policy(&style, None, "img-src data:; font-src data:; ");
    let title = "The rule language of Hitchwork";
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (web::head(title, &style, Some(&policy), &html! {}))
            (PreEscaped(body))
        }
    };
    Ok(page.into_string() + "\n")
}

fn room_of(rules: &Rules, room: &Room) -> Result<Markup, Trouble> {
    let mut functions = Vec::with_capacity(room.functions.len());
    for function in &room.functions {
        functions.push(function_of(rules, &room.title, function)?);
    }
    Ok(html! {
        section .room aria-labelledby=(id(&room.title)) {
            h2 id=(id(&room.title)) { (room.title) }
            p .sentence { (room.sentence) }
            @for function in &functions { (function) }
        }
    })
}

fn function_of(rules: &Rules, room: &str, function: &Function) -> Result<Markup, Trouble> {
    let picture = picture(rules, function)?;
    Ok(html! {
        article id={ (id(room)) "-" (id(&function.name)) } {
            h3 { code { (function.name) } }
            div .words { @for form in &function.forms { (form_of(form)) } }
            div .example {
                pre { code { (function.example) } }
                figure {
                    // Wide bands scroll inside their own frame.
                    div .band tabindex="0" { (PreEscaped(picture)) }
                }
            }
        }
    })
}

fn form_of(form: &Form) -> Markup {
    html! {
        p .call { code { (form.call) } }
        p { (with_code(&form.meaning)) }
        @if !form.arguments.is_empty() {
            dl {
                @for argument in &form.arguments {
                    div { dt { code { (argument.name) } } dd { (with_code(&argument.meaning)) } }
                }
            }
        }
        @if let Some(errors) = &form.errors { p .errors { strong { "Errors " } (with_code(errors)) } }
    }
}

fn picture(rules: &Rules, function: &Function) -> Result<String, Trouble> {
    let band = rules.example(&function.example)?;
    let mut parts = band.into_parts();
    parts.title = format!("What the example of {} makes", function.name);
    // Tails take more room than the knots that the example is about.
    if !function.example.contains(".starts(") && !function.example.contains(".finishes(") {
        parts.start.ties = Ties::Cut;
        parts.finish.ties = Ties::Cut;
    }
    let band = Band::new(parts)?;
    let once = band
        .repeat()
        .iter()
        .map(|row| row.len() as u64)
        .sum::<u64>();
    let repeats = u32::try_from(KNOTS_SHOWN / once.max(1)).unwrap_or(1).max(2);
    let options = FabricOptions {
        repeats: Some(repeats),
        ..FabricOptions::default()
    };
    Ok(fabric::svg(&Tied::of(band), &options)?)
}

/// Words in which what stands between backticks is written as code.
fn with_code(text: &str) -> Markup {
    html! {
        @for (number, piece) in text.split('`').enumerate() {
            @if number % 2 == 1 { code { (piece) } } @else { (piece) }
        }
    }
}

/// A name as the id of a place in the page.
fn id(name: &str) -> String {
    let plain = |letter| match letter {
        '+' => 'p',
        letter if char::is_alphanumeric(letter) => letter,
        _ => '-',
    };
    name.chars().map(plain).collect()
}
