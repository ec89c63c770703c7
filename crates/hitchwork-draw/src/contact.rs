//! Many bands on one sheet, all at one scale, to choose from.

use std::fmt::Write;

use hitchwork_core::tied::Tied;
#[cfg(feature = "html")]
use maud::{DOCTYPE, PreEscaped, html};

use crate::error::Error;
use crate::fabric::{self, FabricOptions};
use crate::font::shortened;
#[cfg(feature = "html")]
use crate::html::lettered;
use crate::ink::{HAIR, SvgDocument, TITLE_LINE, TextStyle, lines, short, write_title};
#[cfg(feature = "html")]
use crate::web;
#[cfg(feature = "html")]
use hitchwork_core::text::{harmless, plain};

#[cfg(feature = "html")]
const STYLE: &str = include_str!("contact/contact.css");

const MARGIN: f64 = 30.0;
const COLUMNS: usize = 3;
/// Room for one band, and between two.
const TILE: f64 = 330.0;
const GAP: f64 = 24.0;
const WIDTH: f64 = 2.0 * MARGIN + 3.0 * TILE + 2.0 * GAP;
const HEADING: TextStyle = TextStyle::strong(13.0);
const TEXT: TextStyle = TextStyle::regular(11.0).quiet();
const LINE: f64 = 15.0;

/// As much of a band as is shown, if its repeat is not longer: about this many millimetres.
const SHOWN_MM: f64 = 40.0;
/// At this many pixels for a millimetre, which leaves room for the ends.
const PIXELS_PER_MM: f64 = TILE / (SHOWN_MM + 22.0);

/// How many bands are on one page of a sheet.
pub const BANDS_ON_A_PAGE: usize = 30;

/// One of the bands to choose from.
#[derive(Clone, Debug)]
pub struct Candidate<'a> {
    /// The band.
    pub tied: &'a Tied,
    /// What it is called on the sheet.
    pub heading: String,
    /// What is said about it, line by line.
    pub words: Vec<String>,
    /// The file to which a page leads, by its path from the page.
    pub link: String,
}

/// A band's picture, as large as it is to be, with its height.
struct Tile {
    svg: String,
    height: f64,
    /// With how many of its repeats it is drawn, where that is not all of them.
    shortened: Option<String>,
}

impl Tile {
    fn new(choice: &Candidate<'_>) -> Result<Self, Error> {
        let band = choice.tied.band();
        let repeat_mm = repeat_mm(choice.tied);
        let fit = SHOWN_MM / repeat_mm.max(0.1);
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "clamped"
        )]
        let repeats = fit.round().clamp(1.0, f64::from(u32::MAX)) as u32;
        let (repeats, all) = (repeats.min(band.repeats()), band.repeats());
        let shortened =
            (repeats < all).then(|| format!("drawn with {repeats} of its {all} repeats"));
        let drawn = |pixels_per_mm| {
            let options = FabricOptions {
                repeats: Some(repeats),
                pixels_per_mm,
                table: false,
                ..FabricOptions::default()
            };
            fabric::svg(choice.tied, &options)
        };
        let svg = drawn(PIXELS_PER_MM)?;
        let (width, height) = size(&svg);
        if width <= TILE {
            return Ok(Self {
                svg,
                height,
                shortened,
            });
        }
        let svg = drawn(PIXELS_PER_MM * TILE / width)?;
        let (_, height) = size(&svg);
        Ok(Self {
            svg,
            height,
            shortened,
        })
    }
}

/// By how much a repeat makes a band longer; of a soft one, by how much all repeats do together.
fn repeat_mm(tied: &Tied) -> f64 {
    let (band, lay) = (tied.band(), tied.lay());
    if lay.is_solved() {
        return lay.length_mm() / f64::from(band.repeats());
    }
    let growth = hitchwork_core::proof::growth(band.repeat(), band.thread_count());
    band.gauge().length_mm(growth.per_repeat())
}

/// The size that a picture of ours gives itself.
fn size(svg: &str) -> (f64, f64) {
    let number = |name: &str| {
        let after = svg.split_once(name).map_or("", |(_, after)| after);
        after
            .split('"')
            .next()
            .and_then(|number| number.parse().ok())
            .unwrap_or(0.0)
    };
    (number(" width=\""), number(" height=\""))
}

/// Draws the bands as pages of [`BANDS_ON_A_PAGE`], each with its heading and words, as SVG.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::contact::{Candidate, pages};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let tied = Tied::of(band);
/// let choice = Candidate {
///     tied: &tied,
///     heading: "seed 7".to_owned(), words: vec!["comes round after 3".to_owned()],
///     link: "seed-7.band.json".to_owned(),
/// };
/// let sheet = pages("Stripes", "Three stripes to choose from.", &vec![choice; 31])?;
/// assert_eq!(sheet.len(), 2);
/// assert!(sheet[0].contains("of its 30 repeats"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When a repeat of one of the bands has too many knots to be drawn.
pub fn pages(title: &str, words: &str, choices: &[Candidate<'_>]) -> Result<Vec<String>, Error> {
    let count = choices.len().div_ceil(BANDS_ON_A_PAGE);
    let page = |(number, choices): (usize, &[Candidate<'_>])| {
        let title = match count {
            1 => title.to_owned(),
            _ => format!("{title}, page {number} of {count}"),
        };
        page(&title, words, choices)
    };
    (1..)
        .zip(choices.chunks(BANDS_ON_A_PAGE))
        .map(page)
        .collect()
}

fn page(title: &str, words: &str, choices: &[Candidate<'_>]) -> Result<String, Error> {
    let tiles: Vec<Tile> = choices.iter().map(Tile::new).collect::<Result<_, _>>()?;
    let mut out = String::new();
    let written = "writing to a string does not fail";
    let room = WIDTH - 2.0 * MARGIN;
    write_title(&mut out, MARGIN, title, room).expect(written);
    let mut y = TITLE_LINE + 6.0;
    for line in lines(words, TEXT, room) {
        y += LINE;
        TEXT.write(&mut out, (MARGIN, y), &line).expect(written);
    }
    y += 26.0;
    for (choices, tiles) in choices.chunks(COLUMNS).zip(tiles.chunks(COLUMNS)) {
        write!(
            out,
            r#"<path d="M{} {}H{}" stroke="{HAIR}"/>"#,
            short(MARGIN),
            short(y),
            short(WIDTH - MARGIN)
        )
        .expect(written);
        let height = tiles.iter().map(|tile| tile.height).fold(0.0, f64::max);
        let said = choices
            .iter()
            .zip(tiles)
            .map(|(choice, tile)| choice.words.len() + usize::from(tile.shortened.is_some()))
            .max()
            .unwrap_or(0);
        let mut x = MARGIN;
        for (choice, tile) in choices.iter().zip(tiles) {
            let place = format!(
                r#"<svg x="{}" y="{}" "#,
                short(x),
                short(y + 12.0 + (height - tile.height) / 2.0)
            );
            out.push_str(&tile.svg.replacen("<svg ", &place, 1));
            let mut base = y + 12.0 + height + 22.0;
            let heading = shortened(&choice.heading, HEADING.weight, HEADING.size, TILE);
            HEADING.write(&mut out, (x, base), &heading).expect(written);
            for words in choice.words.iter().chain(&tile.shortened) {
                base += LINE;
                let words = shortened(words, TEXT.weight, TEXT.size, TILE);
                TEXT.write(&mut out, (x, base), &words).expect(written);
            }
            x += TILE + GAP;
        }
        let said = f64::from(u32::try_from(said).unwrap_or(u32::MAX));
        y += 12.0 + height + 22.0 + said * LINE + 20.0;
    }
    Ok(SvgDocument {
        title,
        words,
        width: WIDTH,
        height: y,
        body: &out,
    }
    .write())
}

/// Writes the bands as one page for a browser, each with a link to its file.
///
/// The page holds all that it shows, and a policy forbids it to fetch anything.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// use hitchwork_draw::contact::{Candidate, page_for_browsers};
/// let tied = Tied::of(band);
/// let choice = Candidate {
///     tied: &tied,
///     heading: "Ebb".into(),
///     words: vec!["3 threads".into()],
///     link: "ebb.band.json".into(),
/// };
/// let page = page_for_browsers("Tides", "Two to choose from.", &[choice])?;
/// assert!(page.contains("<a href=\"ebb.band.json\">Ebb</a>"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When a repeat of one of the bands has too many knots to be drawn.
#[cfg(feature = "html")]
pub fn page_for_browsers(
    title: &str,
    words: &str,
    choices: &[Candidate<'_>],
) -> Result<String, Error> {
    let tiles: Vec<Tile> = choices.iter().map(Tile::new).collect::<Result<_, _>>()?;
    let body = html! {
        body {
            header {
                h1 { (plain(title)) }
                p { (plain(words)) }
            }
            main {
                ol.choices {
                    @for (choice, tile) in choices.iter().zip(&tiles) {
                        li {
                            div.band { (PreEscaped(harmless(&tile.svg))) }
                            h2 { a href=(choice.link) { (plain(&choice.heading)) } }
                            @for words in choice.words.iter().chain(&tile.shortened) { p { (plain(words)) } }
                        }
                    }
                }
            }
        }
    };
    let body = body.into_string();
    let style = lettered(&body, "") + STYLE;
    let policy = web::policy(&style, None, "img-src data:; font-src data:; ");
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            (web::head(&plain(title), &style, Some(&policy), &html! {}))
            (PreEscaped(body))
        }
    };
    Ok(page.into_string() + "\n")
}
