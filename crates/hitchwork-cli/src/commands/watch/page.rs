//! The live page: one text, whose style and script its policy names by their digests.

use hitchwork_core::band::{MAX_LENGTH_MM, MIN_LENGTH_MM};
use hitchwork_core::care::care;
use hitchwork_core::craft::WRISTS;
use hitchwork_core::text::plain;
use hitchwork_draw::html::lettered;
use hitchwork_draw::output::Output;
use hitchwork_draw::web;
use hitchwork_rules::picture_file::picture_endings;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("page.css");
const SCRIPT: &str = concat!(
    include_str!("page.js"),
    include_str!("painting.js"),
    include_str!("beside.js")
);

/// The page with its policy.
pub(super) fn page(name: &str, token: &str) -> (String, String) {
    let letters: String = (' '..='\u{17f}').chain("–—‘’“”…→×▸".chars()).collect();
    let style = lettered(SCRIPT, &letters) + STYLE;
    // Sent by the server, for only there may it forbid to be framed.
    let more =
        "img-src 'self' blob: data:; font-src data:; connect-src 'self'; frame-ancestors 'none'; ";
    let script = web::script(SCRIPT);
    let policy = web::policy(&style, Some(&script), more);
    let token = html! { meta name="token" content=(token); };
    let usual: Vec<Output> = Output::usual_of_many().collect();
    let seldom = Output::all().filter(|output| !usual.contains(output));
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (web::head(&plain(name), &style, None, &token))
            body {
                header.top {
                    h1 #title { (plain(name)) }
                    p #state role="status" { "Waiting for the first picture…" }
                }
                main {
                    section.look aria-label="the band" {
                        div.tabs {
                          div.row role="tablist" aria-label="what is shown" {
                            button #tab-fabric role="tab" type="button" aria-selected="true" aria-controls="fabric" { "Fabric " kbd { "1" } }
                            button #tab-strands role="tab" type="button" aria-selected="false" aria-controls="strands" tabindex="-1" { "Strands " kbd { "2" } }
                            button #tab-steps role="tab" type="button" aria-selected="false" aria-controls="steps" tabindex="-1" { "Steps " kbd { "3" } }
                          }
                            span.zoom {
                                button #less type="button" aria-label="smaller" { "−" }
                                output #scale { "fits" }
                                button #more type="button" aria-label="larger" { "+" }
                                button #fit type="button" { "Fit" }
                            }
                        }
                        div #desk {
                            div #fabric .pane role="tabpanel" aria-labelledby="tab-fabric" tabindex="0" { div #table { img #picture src="data:," alt="" hidden; canvas #marks aria-hidden="true" width="0" height="0" {} } }
                            div #beside data-takes=(takes()) aria-label="pictures of the rule" role="group" hidden {}
                            // Only for a rule that reads a picture.
                            div #ends role="group" aria-label="threads to paint with" hidden {}
                        }
                        div #painting hidden {
                            span.row {
                                button #undo type="button" disabled { "Undo" }
                                button #redo type="button" disabled { "Redo" }
                            }
                            p #told role="status" {}
                        }
                        p #drawn hidden { "The picture of this band is drawn in the rule itself, or made there: change it in the rule, and the band follows. To paint it on this page, put it into a text file beside the rule, such as art.txt, and let the rule read that: picture(\"art.txt\")." }
                        div #strands .pane role="tabpanel" aria-labelledby="tab-strands" tabindex="0" hidden {}
                        div #steps .pane role="tabpanel" aria-labelledby="tab-steps" tabindex="0" hidden { pre {} }
                        div #troubles role="alert" hidden {}
                        dl.measures #measures aria-label="measures" {}
                    }
                    section.ask aria-label="settings" {
                        div.seed {
                            // Only for a rule that leaves something to chance.
                            div #chance hidden {
                                label for="seed" { "Seed" }
                                span.row {
                                    input #seed type="text" inputmode="numeric" autocomplete="off" spellcheck="false" value="0";
                                    button.strong #another type="button" { "Another seed " kbd { "d" } }
                                    button #back type="button" disabled aria-label="the seed before" { "Back" }
                                }
                            }
                            button #pin type="button" { "Pin " kbd { "p" } }
                        }
                        form #settings {}
                        div.more {
                            label { "For a wrist" select #wrist {
                                option value="" { "as the length says" }
                                @for wrist in WRISTS {
                                    @let cm = wrist.mm / 10.0;
                                    option value=(cm) { "a " (wrist.name) "'s, " (cm) " cm round" }
                                }
                            } }
                            label { "Length in cm" input #length type="number" min=(MIN_LENGTH_MM / 10.0) max=(MAX_LENGTH_MM / 10.0) step="0.5" placeholder="as the rule says"; }
                            label.check { input #mirrored type="checkbox"; " mirrored" }
                        }
                        div.save {
                            button data-save="band" type="button" { "Save band file" }
                            @for output in &usual { (to_save(*output)) }
                            button #defaults type="button" { "Reset" }
                            p #saved role="status" {}
                            details {
                                summary { "Save more" }
                                div { @for output in seldom { (to_save(output)) } }
                            }
                        }
                        div.command {
                            h2 { "The command for this band" }
                            code #command {}
                            p #unsaved hidden {}
                            button #copy type="button" { "Copy" }
                        }
                        ol.pins #pins aria-label="pinned bands" {}
                        ul.findings #findings aria-label="findings" {}
                    }
                }
                footer {
                    h2 { "Take care" }
                    ul #cautions { @for line in care(false) { li { (line) } } }
                }
                script { (PreEscaped(script)) }
            }
        }
    };
    (page.into_string(), policy)
}

/// The endings of files that can be dropped.
fn takes() -> String {
    let endings: Vec<String> = picture_endings()
        .map(|ending| format!(".{ending}"))
        .collect();
    endings.join(",")
}

fn to_save(output: Output) -> Markup {
    html! { button data-save=(output.name()) type="button" { "Save " (output.short()) } }
}
