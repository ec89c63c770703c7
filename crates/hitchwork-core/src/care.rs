//! What to be careful with: one text, which sheets, class lists, galleries, the live page and
//! the tutorial all show.

use crate::craft::WRISTS;

/// The usual cautions of the craft (common practice, no source), in a maker's words.
const USUAL: [&str; 6] = [
    "Keep cords, thread ends and small parts away from children under three: they can choke on them or get caught in them.",
    "Tie a band loosely enough for two fingers to pass under it. If a hand swells, cut the band off; do not force it.",
    "Close your scissors when you put them down, out of reach of small hands.",
    "Only synthetic ends are singed, away from hair and thread, and an adult holds the lighter. Cotton burns: leave flames away from it.",
    "Pin and tape to the table or a cushion, never to skin or clothes, and count your pins before you get up.",
    "Rest your hands and your neck every half hour.",
];

/// What is added where a child will wear the band.
const FOR_A_CHILD: &str = "This one is for a child: tie it together with an adult, and make sure that it slips off the hand when it is pulled.";

/// What goes before everything else, on a line of its own.
pub const RULES_COME_FIRST: &str = "Local product-safety rules come first.";

/// What to be careful with, a line each; the last defers to local product-safety rules.
///
/// ```
/// use hitchwork_core::care::{RULES_COME_FIRST, care};
/// assert_eq!(care(false).last(), Some(&RULES_COME_FIRST));
/// assert_eq!(care(true).len(), care(false).len() + 1);
/// ```
#[must_use]
pub fn care(for_a_child: bool) -> Vec<&'static str> {
    let more = for_a_child.then_some(FOR_A_CHILD);
    let all = USUAL.into_iter().chain(more);
    all.chain([RULES_COME_FIRST]).collect()
}

/// Whether a wrist of this circumference is a child's: no wider than the one that is asked for
/// as "child".
///
/// ```
/// use hitchwork_core::care::is_a_childs;
/// assert!(is_a_childs(125.0) && !is_a_childs(155.0));
/// ```
#[must_use]
pub fn is_a_childs(wrist_mm: f64) -> bool {
    wrist_mm <= WRISTS[0].mm
}
