//! Strips of colours side by side, for choosing by eye.

use std::fmt::Write;

use hitchwork_core::colour::Colour;

use crate::error::{Error, Problem};
use crate::xml::escaped;

/// Colours in a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Strip {
    /// What the strip shows.
    pub title: String,
    /// The colours, from left to right.
    pub colours: Vec<Colour>,
}

/// The most colours that are drawn.
const MOST: usize = 20_000;

/// Side of a swatch, the space around all and that between strips, in pixels.
const SIDE: usize = 48;
const MARGIN: usize = 16;
const BETWEEN: usize = 12;

/// Draws strips under each other as SVG. Swatches of a strip touch, as threads on a band
/// do. Each carries its number, name and value as its title, which viewers show and
/// screen readers read.
///
/// ```
/// use hitchwork_core::colour::palette;
/// use hitchwork_draw::swatches::{Strip, svg};
/// let gull = palette("gull").expect("built in");
/// let picture = svg(&[Strip { title: gull.name, colours: gull.colours }])?;
/// assert!(picture.contains("<title>1 foam"));
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When there are more than 20,000 colours.
pub fn svg(strips: &[Strip]) -> Result<String, Error> {
    let colours: usize = strips.iter().map(|strip| strip.colours.len()).sum();
    if colours > MOST {
        let (found, most) = (colours, MOST);
        return Err(Problem::TooManyColours { found, most }.into());
    }
    let longest = strips.iter().map(|strip| strip.colours.len()).max();
    let width = 2 * MARGIN + SIDE * longest.unwrap_or(0);
    let height = 2 * MARGIN + (SIDE + BETWEEN) * strips.len().max(1) - BETWEEN;
    let mut svg = String::new();
    let writing = "a string takes all that is written";
    write!(
        svg,
        r##"<svg xmlns="http://www.w3.org/2000/svg" width="{width}" height="{height}" viewBox="0 0 {width} {height}"><rect width="{width}" height="{height}" fill="#ffffff"/>"##
    )
    .expect(writing);
    for (row, strip) in strips.iter().enumerate() {
        let top = MARGIN + row * (SIDE + BETWEEN);
        write!(
            svg,
            r#"<g role="list" aria-label="{}">"#,
            escaped(&strip.title)
        )
        .expect(writing);
        for (at, colour) in strip.colours.iter().enumerate() {
            let (left, number) = (MARGIN + at * SIDE, at + 1);
            write!(
                svg,
                r#"<rect x="{left}" y="{top}" width="{SIDE}" height="{SIDE}" fill="{value}" shape-rendering="crispEdges"><title>{number} {name}, {value}</title></rect>"#,
                value = colour.srgb,
                name = escaped(&colour.name),
            )
            .expect(writing);
        }
        svg.push_str("</g>");
    }
    svg.push_str("</svg>\n");
    Ok(svg)
}
