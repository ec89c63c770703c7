//! What a person would call a colour.

use super::{Srgb, gradient::oklab};

/// Hue words by OKLCH hue angle in degrees: each holds up to the angle beside it.
/// Our own choice of everyday English words; no list was copied.
const HUES: [(f64, &str); 17] = [
    (15.0, "rose"),
    (37.0, "red"),
    (62.0, "orange"),
    (85.0, "amber"),
    (108.0, "yellow"),
    (130.0, "lime"),
    (152.0, "green"),
    (175.0, "sea green"),
    (200.0, "teal"),
    (222.0, "turquoise"),
    (248.0, "sky blue"),
    (270.0, "blue"),
    (288.0, "indigo"),
    (305.0, "violet"),
    (325.0, "purple"),
    (345.0, "magenta"),
    (360.0, "rose"),
];

/// A name for a colour as one would say it at the table: "pale teal", "deep red",
/// "dark grey". Different colours may share a name.
///
/// ```
/// use hitchwork_core::colour::{Srgb, spoken_name};
/// assert_eq!(spoken_name(Srgb::new(255, 255, 255)), "white");
/// assert_eq!(spoken_name(Srgb::new(0x80, 0x80, 0x80)), "grey");
/// assert!(spoken_name(Srgb::new(0x0f, 0x8a, 0x8a)).ends_with("teal"));
/// ```
#[must_use]
pub fn spoken_name(colour: Srgb) -> String {
    let lab = oklab(colour);
    let chroma = libm::sqrt(lab.a * lab.a + lab.b * lab.b);
    if chroma < 0.025 {
        return match lab.l {
            l if l > 0.96 => "white",
            l if l > 0.82 => "pale grey",
            l if l > 0.68 => "light grey",
            l if l > 0.48 => "grey",
            l if l > 0.25 => "dark grey",
            _ => "black",
        }
        .to_owned();
    }
    let degrees = libm::atan2(lab.b, lab.a).to_degrees();
    let hue = if degrees < 0.0 {
        degrees + 360.0
    } else {
        degrees
    };
    let word = HUES
        .iter()
        .find(|(upto, _)| hue <= *upto)
        .map_or("rose", |(_, word)| *word);
    let word = if (37.0..95.0).contains(&hue) && lab.l < 0.58 {
        "brown"
    } else {
        word
    };
    let shade = match lab.l {
        l if l > 0.87 => "pale ",
        l if l > 0.75 => "light ",
        l if l > 0.50 => "",
        l if l > 0.36 => "deep ",
        _ => "dark ",
    };
    let dusty = if chroma < 0.06 && lab.l <= 0.87 {
        "dusty "
    } else {
        ""
    };
    format!("{shade}{dusty}{word}")
}
