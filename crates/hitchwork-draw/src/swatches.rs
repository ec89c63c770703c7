//! Strips of colours side by side, for choosing by eye.

use std::fmt::Write;

use hitchwork_core::colour::Colour;

use crate::error::{Error, Problem};
use crate::font::shortened;
use crate::ink::{SvgDocument, TextStyle, readable_on, short};
use crate::xml::escaped;

/// Colours in a row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SwatchStrip {
    /// What the strip shows.
    pub title: String,
    /// The colours, from left to right.
    pub colours: Vec<Colour>,
}

/// The most colours that are drawn.
const MOST: usize = 20_000;
/// The most colours whose names are written on them; smaller swatches show more.
const MOST_NAMED: usize = 600;

/// Sides of a swatch, in pixels, without its name and with it.
const SIDE: f64 = 48.0;
const TALL: f64 = 148.0;
const MARGIN: f64 = 16.0;
const BETWEEN: f64 = 14.0;

const TITLE: TextStyle = TextStyle::strong(14.0);
const NAME: TextStyle = TextStyle::regular(13.0);

/// Draws strips under each other as SVG. Swatches of a strip touch, as threads on a band
/// do. Each carries its number and name, and these with its value as its title, which
/// viewers show and screen readers read.
///
/// ```
/// use hitchwork_core::colour::palette;
/// use hitchwork_draw::swatches::{SwatchStrip, svg};
/// let gull = palette("gull").expect("built in");
/// let picture = svg(&[SwatchStrip { title: gull.name, colours: gull.colours }])?;
/// assert!(picture.contains("<title>1 foam"));
/// assert!(picture.contains(">1 foam</text>"));
/// # Ok::<(), hitchwork_draw::Error>(())
/// ```
///
/// # Errors
/// When there are more than 20,000 colours.
pub fn svg(strips: &[SwatchStrip]) -> Result<String, Error> {
    let colours: usize = strips.iter().map(|strip| strip.colours.len()).sum();
    if colours > MOST {
        let (found, most) = (colours, MOST);
        return Err(Problem::TooManyColours { found, most }.into());
    }
    let mut body = String::new();
    let (width, height) =
        draw(strips, colours <= MOST_NAMED, &mut body).expect("writing to a string does not fail");
    let titles: Vec<&str> = strips.iter().map(|strip| strip.title.as_str()).collect();
    let sheet = SvgDocument {
        title: &titles.join(", "),
        words: "Colours side by side, each with its number and name.",
        width,
        height,
        body: &body,
    };
    Ok(sheet.write())
}

fn pixels(count: usize) -> f64 {
    f64::from(u32::try_from(count).expect("at most MOST"))
}

fn draw(
    strips: &[SwatchStrip],
    named: bool,
    out: &mut String,
) -> Result<(f64, f64), std::fmt::Error> {
    let longest = strips.iter().map(|strip| strip.colours.len()).max();
    let titles = strips.iter().map(|strip| TITLE.width(&strip.title));
    let widest = titles.fold(SIDE * pixels(longest.unwrap_or(0)), f64::max);
    let tall = if named { TALL } else { SIDE };
    let mut top = MARGIN;
    for strip in strips {
        TITLE.write(out, (MARGIN, top + TITLE.size), &strip.title)?;
        top += TITLE.size + 8.0;
        write!(
            out,
            r#"<g role="list" aria-label="{}">"#,
            escaped(&strip.title)
        )?;
        for (at, Colour { name, srgb }) in strip.colours.iter().enumerate() {
            let (left, number) = (MARGIN + SIDE * pixels(at), at + 1);
            write!(
                out,
                r#"<rect x="{}" y="{}" width="{SIDE}" height="{tall}" fill="{srgb}" shape-rendering="crispEdges"><title>{number} {name}, {srgb}</title></rect>"#,
                short(left),
                short(top),
                name = escaped(name),
            )?;
            if named {
                let hand = NAME.coloured(readable_on(*srgb));
                let words = shortened(
                    &format!("{number} {name}"),
                    hand.weight,
                    hand.size,
                    TALL - 20.0,
                );
                let middle = left + SIDE / 2.0 - hand.size * 0.36;
                hand.write_downwards(out, (middle, top + 10.0), &words)?;
            }
        }
        out.push_str("</g>");
        top += tall + BETWEEN;
    }
    Ok((widest + 2.0 * MARGIN, top - BETWEEN + MARGIN))
}
