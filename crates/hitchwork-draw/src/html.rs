//! The maker's sheet as one page for a browser.
//!
//! The page is a single file: style, script, pictures and letters are inside, and a policy
//! forbids it to fetch anything. The band and its mirror image are written out in it, each with pictures,
//! words and threads of its own, and one is shown. The rows of a repeat stand there once;
//! the script puts into their places the threads that hang there in the repeat at hand,
//! by the permutation of the repeat. Without a script the page is a sheet like the printed
//! one.

use std::collections::BTreeSet;
use std::fmt::Write;

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::Colour;
use hitchwork_core::steps::{LEAD_OUT_IS_TIED, Piece, RowSteps, SaidRows, Steps};
use hitchwork_core::tied::Tied;
use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::error::Error;
use crate::fabric;
use crate::font::{Weight, letters};
use crate::ink::readable_on;
use crate::output::recipe::{Making, Recipe, Usual};
use crate::{order, sheet, web};
use hitchwork_core::text::{harmless, plain};

mod data;
mod place;

#[doc(hidden)]
pub use data::page_data;

const STYLE: &str = include_str!("html/sheet.css");
/// The search for mistakes, where they are tapped, and the place; in that order, since each uses
/// those before it.
const SCRIPT: &str = concat!(
    include_str!("html/mistake.js"),
    include_str!("html/sight.js"),
    include_str!("html/tracker.js"),
);
/// The height of a page of a chart, in the proportions of upright A4.
const CHART_HEIGHT: f64 = 1018.0;

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "html",
    meaning: "The sheet that a maker ties from, as a page for a browser",
    short: "sheet",
    usual: Usual::Always,
    stem: "sheet",
    making: Making::Document("html", |tied, _| sheet(tied).map(String::into_bytes)),
};

/// Writes the sheet of a band, and of its mirror image, as a page.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: three threads, the leftmost leads every row.
/// let page = hitchwork_draw::html::sheet(&Tied::of(band))?;
/// assert!(page.starts_with("<!DOCTYPE html>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the rows of the band have too many knots to be written out, or no picture can
/// be drawn of it.
pub fn sheet(tied: &Tied) -> Result<String, Error> {
    sheet::check_length(tied)?;
    let hands = [
        HandVersion::new(tied, "a")?,
        HandVersion::new(tied.mirrored(), "b")?,
    ];
    let body = body(&hands).into_string();
    let style = style(tied.band(), &body);
    let title = plain(&tied.steps().title);
    let more = "img-src data:; font-src data:; ";
    let policy = web::policy(&style, Some(SCRIPT), more);
    let description = html! {
        meta name="description" content=(format!("How to tie {title}, row by row."));
    };
    let heading = format!("{title}: how to tie it");
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (web::head(&heading, &style, Some(&policy), &description))
            (PreEscaped(body))
        }
    };
    Ok(page.into_string() + "\n")
}

/// One hand's band, with its pictures.
struct HandVersion<'a> {
    tied: &'a Tied,
    steps: &'a Steps,
    fabric: String,
    shown: u32,
    order: String,
    chart: sheet::RowChart,
}

impl<'a> HandVersion<'a> {
    fn new(tied: &'a Tied, letter: &str) -> Result<Self, Error> {
        let shown = sheet::repeats_pictured(tied);
        let options = fabric::FabricOptions {
            repeats: Some(shown),
            ..fabric::FabricOptions::default()
        };
        let mut chart = sheet::chart(tied, CHART_HEIGHT)?;
        for page in &mut chart.pages {
            *page = harmless(page);
        }
        Ok(Self {
            tied,
            steps: tied.steps(),
            fabric: with_own_ids(&fabric::svg(tied, &options)?, letter),
            shown,
            order: harmless(&order::svg(tied)),
            chart,
        })
    }

    fn colour_of(&self, thread: u16) -> &Colour {
        &self.steps.threads[usize::from(thread) - 1].colour
    }

    /// The class of a thread's colour: its place in the palette.
    fn class_of(&self, thread: u16) -> String {
        let index = self.tied.band().thread_colours()[usize::from(thread) - 1];
        format!("c{index}")
    }

    fn chip(&self, thread: u16) -> Markup {
        html! { b class={ "chip " (self.class_of(thread)) } data-t=(thread) { (thread) } }
    }

    fn named_chip(&self, thread: u16) -> Markup {
        html! {
            b class={ "chip named " (self.class_of(thread)) } data-t=(thread) {
                span { (thread) } " " bdi { (plain(&self.colour_of(thread).name)) }
            }
        }
    }
}

fn body(hands: &[HandVersion<'_>; 2]) -> Markup {
    let steps = hands[0].steps;
    html! {
        body {
            a.skip href="#tie" { "To the rows" }
            header.top {
                p.kind { "A band to tie" }
                h1 { bdi { (plain(&steps.title)) } }
                @for note in steps.notes.lines().filter(|note| !note.trim().is_empty()) {
                    p.note { (plain(note)) }
                }
                (both(hands, picture))
                (both(hands, |side| html! {
                    ul.facts { @for measure in &side.steps.measures { li { (plain(measure)) } } }
                }))
            }
            nav aria-label="On this sheet" {
                a href="#cut" { "Cut" } a href="#knots" { "Knots" } a href="#start" { "Start" } a href="#tie" { "Tie" } a href="#finish" { "Finish" }
            }
            main {
                fieldset.hands hidden {
                    legend { "As designed, or mirrored?" }
                    label { input type="radio" name="hand" value="0" checked; span { "As designed" } }
                    label { input type="radio" name="hand" value="1"; span { "Mirrored" } }
                    p { "Letters in a mirrored band read the wrong way round." }
                }
                section.care aria-labelledby="care-heading" {
                    h2 #care-heading { "Take care" }
                    ul { @for caution in &steps.cautions { li { (plain(caution)) } } }
                }
                @if hands.iter().any(|side| !side.steps.know.is_empty()) {
                    section #know aria-labelledby="know-heading" {
                        h2 #know-heading { "Good to know" }
                        (both(hands, |side| html! {
                            ul.plain { @for line in &side.steps.know { li { (plain(line)) } } }
                        }))
                    }
                }
                section #cut aria-labelledby="cut-heading" {
                    h2 #cut-heading { "Cut" }
                    (both(hands, cut))
                }
                section #knots aria-labelledby="knots-heading" {
                    h2 #knots-heading { "The knots of this band" }
                    (both(hands, |side| html! {
                        ul.plain { @for knot in &side.steps.knots { li { (plain(knot)) } } }
                    }))
                }
                section #start aria-labelledby="start-heading" {
                    h2 #start-heading { "Start" }
                    (both(hands, start))
                }
                section #tie aria-labelledby="tie-heading" {
                    h2 #tie-heading { "Tie" }
                    (both(hands, |side| html! { p { (side.steps.reading) } }))
                    div.bench {
                        (place::tracker())
                        div.written {
                            (both(hands, |side| html! {
                                (rows(side, &[Part::LeadIn, Part::Repeat]))
                                (next_repeats(side))
                                (rows(side, &[Part::LeadOut]))
                            }))
                        }
                    }
                    (both(hands, chart))
                }
                section #finish aria-labelledby="finish-heading" {
                    h2 #finish-heading { "Finish" }
                    (both(hands, |side| html! {
                        p { (plain(&side.steps.stop)) }
                        ol.plain { @for sentence in &side.steps.finish { li { (plain(sentence)) } } }
                    }))
                }
            }
            footer {
                @if !steps.origin.is_empty() { p { (plain(&steps.origin)) } }
                p.screen { "This page is one file and needs no network. Your place is kept in this browser only." }
            }
            script type="application/json" id="band" { (PreEscaped(page_data(hands[0].tied))) }
            script { (PreEscaped(SCRIPT)) }
        }
    }
}

/// The same part for both hands; the second waits.
fn both(hands: &[HandVersion<'_>; 2], part: impl Fn(&HandVersion<'_>) -> Markup) -> Markup {
    html! {
        div data-hand="0" { (part(&hands[0])) }
        div data-hand="1" hidden { (part(&hands[1])) }
    }
}

fn picture(side: &HandVersion<'_>) -> Markup {
    let repeats = side.steps.repeats;
    html! {
        figure.band {
            div.pan tabindex="0" role="group" aria-label="The finished band" { (PreEscaped(&side.fabric)) }
            @if side.shown < repeats {
                figcaption { "Drawn with " (side.shown) " of its " (repeats) " repeats." }
            }
        }
    }
}

fn cut(side: &HandVersion<'_>) -> Markup {
    let steps = side.steps;
    html! {
        @for sentence in &steps.meant_for { p { (plain(sentence)) } }
        ul.cuts {
            @for (words, cut) in steps.cuts.iter().zip(&side.tied.cut_list().cuts) {
                li {
                    i class={ "chip dot " @if let Some(thread) = cut.threads.first() { (side.class_of(*thread)) } } {}
                    span { (plain(words)) }
                }
            }
        }
        p { (plain(&steps.cutting)) }
        @if !steps.shopping.is_empty() {
            h3 { "Buy" }
            ul.plain { @for purchase in &steps.shopping { li { (plain(purchase)) } } }
        }
        @if !steps.stash.is_empty() {
            h3 { "From the stash" }
            ul.plain { @for colour in &steps.stash { li { (plain(colour)) } } }
        }
    }
}

fn start(side: &HandVersion<'_>) -> Markup {
    html! {
        p { "The threads, from left to right:" }
        ol.order { @for thread in &side.steps.threads { li { (side.named_chip(thread.number)) } } }
        div.beside {
            ol.plain { @for sentence in &side.steps.start { li { (plain(sentence)) } } }
            figure {
                div.pan.chart tabindex="0" role="group" aria-label="The hanging threads" { (PreEscaped(&side.order)) }
            }
        }
    }
}

fn rows(side: &HandVersion<'_>, parts: &[Part]) -> Markup {
    html! {
        @for part in parts {
            @let told: Vec<&SaidRows> = side.steps.said.iter().filter(|said| said.part == *part).collect();
            @if !told.is_empty() {
                div.part data-part=(part.name()) {
                    @if *part == Part::LeadOut { p { (LEAD_OUT_IS_TIED) } }
                    @for said in &told {
                        article.told.short[said.words.is_some()] {
                            h3 { (said.heading()) }
                            @if let Some(words) = &said.words { p { (words) } }
                            @for row in side.steps.rows_of(said) { (steps_of_row(side, row, said)) }
                            @if let Some(order) = &said.order_after {
                                p.after {
                                    "Order now: "
                                    @for thread in order { (side.chip(*thread)) " " }
                                }
                            }
                        }
                    }
                }
            }
        }
    }
}

/// The steps of a row, which the script follows also where they are told in short.
fn steps_of_row(side: &HandVersion<'_>, row: &RowSteps, said: &SaidRows) -> Markup {
    html! {
        div.row.in-full[said.words.is_some()] {
            @if said.first != said.last { p.which { "Row " (row.row) } }
            ol { @for run in &row.runs { li { (sentence(side, &run.pieces(), run.thread)) } } }
        }
    }
}

fn sentence(side: &HandVersion<'_>, pieces: &[Piece], worker: u16) -> Markup {
    html! {
        @for piece in pieces {
            @match piece {
                Piece::Words(words) => (words),
                Piece::Named => (side.named_chip(worker)),
                Piece::Thread(number) => (side.chip(*number)),
            }
        }
    }
}

fn next_repeats(side: &HandVersion<'_>) -> Markup {
    let steps = side.steps;
    html! {
        @if steps.repeats > 1 {
            div.repeats {
                h3 { "The next repeats" }
                p { (steps.again) }
                @if !steps.next_repeats.is_empty() {
                    ul {
                        @for next in &steps.next_repeats {
                            li {
                                (sentence(side, &next.pieces(), next.leader.number))
                                @for thread in &next.order { (side.chip(*thread)) " " }
                            }
                        }
                    }
                }
                p { (steps.comes_round) }
            }
        }
    }
}

fn chart(side: &HandVersion<'_>) -> Markup {
    let chart = &side.chart;
    html! {
        @if !chart.pages.is_empty() {
            details.chart-of-rows open[chart.tells_all] {
                summary { (chart.name) }
                @for (index, page) in chart.pages.iter().enumerate() {
                    div.pan.chart tabindex="0" role="group" aria-label={ "Chart, part " (index + 1) } { (PreEscaped(page)) }
                }
            }
        }
    }
}

/// The style of every page, the chips of this palette, and the letters that the page uses.
fn style(band: &Band, body: &str) -> String {
    let mut style = lettered(body, SCRIPT);
    style.push_str(STYLE);
    for index in band.used_colours() {
        let colour = band.palette()[usize::from(index)].srgb;
        let ink = readable_on(colour);
        writeln!(style, ".c{index}{{background:{colour};color:{ink}}}")
            .expect("a string takes all that is written");
    }
    style
}

/// The style that brings our font into a page, with the letters of its body and its script.
#[doc(hidden)]
#[must_use]
pub fn lettered(body: &str, script: &str) -> String {
    let mut style = String::new();
    let mut characters: BTreeSet<char> = body.chars().collect();
    characters.extend(script.chars());
    for (weight, number) in [(Weight::Regular, 400), (Weight::Strong, 600)] {
        let font = STANDARD.encode(letters(weight, characters.iter().copied().collect()));
        writeln!(style, "@font-face{{font-family:Inter;font-weight:{number};src:url(data:font/ttf;base64,{font})}}")
            .expect("a string takes all that is written");
    }
    style
}

/// The ids in a picture begin with letters made from its palette, which both hands share.
fn with_own_ids(svg: &str, letter: &str) -> String {
    harmless(svg)
        .replace(" id=\"", &format!(" id=\"{letter}"))
        .replace("href=\"#", &format!("href=\"#{letter}"))
        .replace("url(#", &format!("url(#{letter}"))
}
