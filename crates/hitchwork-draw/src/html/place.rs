//! Where the maker is, and what looks wrong there: the parts of the page that the script fills.

use hitchwork_core::mistake::should_hang_in_words;
use maud::{Markup, html};

/// Where the maker follows the rows.
pub(super) fn tracker() -> Markup {
    html! {
        // It takes the focus when it is clicked on: some keys move the place from here only.
        div.tracker #tracker hidden tabindex="-1" {
            h3.unseen { "Your place" }
            div.panel #panel {
                p.where #where { "Row 1" }
                progress #progress value="0" max="1" aria-label="Steps tied" {}
                div.step #step {}
                h3 #order-heading { "Order now" }
                div.hung #hung role="group" aria-labelledby="order-heading" {
                    ol.order #order aria-labelledby="order-heading" {}
                }
                p.unseen #said aria-live="polite" aria-atomic="true" {}
                div.keys role="group" aria-label="Go through the steps" {
                    button #back type="button" { "Back" }
                    button #next type="button" { "Next" }
                }
            }
            (sight())
            details.more #finding {
                summary { "Find a place, and how this works" }
                label.check { input #whole type="checkbox"; span { "A whole row at a time" } }
                label.check #awake-choice hidden { input #awake type="checkbox" checked; span { "Keep the screen awake" } }
                div.find {
                    label for="repeat" { "Go to repeat" }
                    input #repeat type="number" min="1" inputmode="numeric" autocomplete="off";
                    button #go type="button" { "Go" }
                }
                button.quiet #over type="button" { "Start over" }
                p.help {
                    "Keys: right arrow for the next step, left arrow for the one before, with shift for whole rows. "
                    "When you have clicked into this box, also space for the next step, "
                    "home for the beginning of the repeat, and end for its last step."
                }
                p.help #kept {}
            }
        }
    }
}

/// Where the maker taps what looks wrong.
fn sight() -> Markup {
    html! {
        details.more #sight {
            summary { "Looks wrong? Tap what you see" }
            p #untied hidden { "Nothing is tied yet." }
            div #tapping {
                p #sight-place {}
                div.look #look role="group" aria-label="The last knots, and the hanging threads below them, as they should be" {}
                div.choice #choice role="group" aria-labelledby="choice-heading" hidden {
                    p #choice-heading {}
                    div.choices #choices {}
                }
                label.check { input #others type="checkbox" checked; span { "All that I have not tapped looks as drawn" } }
                label.check { input #far type="checkbox"; span { "Show knots farther back" } }
                div.asking {
                    button #ask type="button" { "What went wrong?" }
                    button #forget type="button" { "Untap all" }
                }
                div.answer #answer aria-live="polite" {}
                h3 #should-heading { (should_hang_in_words()) }
                ol.should #should aria-labelledby="should-heading" {}
                p.help {
                    "Arrow keys go from knot to knot, and the enter key chooses what is seen there. "
                    "What is not tapped counts as drawn. Untick that above if you have not looked at it closely."
                }
            }
        }
    }
}
