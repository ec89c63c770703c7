//! How much of each thread goes where: in the knots that it ties, in those of others, between
//! them, in the ends and to spare.

use std::fmt::Write;

use hitchwork_core::band::Band;
use hitchwork_core::craft::{CutList, ThreadLength, metres_at_least};
use hitchwork_core::tied::Tied;

use crate::ink::{
    Anchor, CHIP, Chip, Chips, HAIR, INK, QUIET, SvgDocument, TextStyle, short, title, write_title,
};
use crate::output::recipe::{Making, Recipe, Usual};

const WIDTH: f64 = 720.0;
const MARGIN: f64 = 30.0;
/// The width of the chips, and where bars may begin and end.
const PANEL: f64 = 170.0;
const BARS: (f64, f64) = (MARGIN + PANEL + 14.0, WIDTH - MARGIN - 62.0);
const STEP: f64 = 22.0;
const HEAD: f64 = 92.0;

/// What a stretch of thread does, in words, and how its bar is filled: from dark to light,
/// and each with a texture of its own.
const PARTS: [(&str, &str); 5] = [
    ("wraps and shows", "#3f464f"),
    ("lies inside", "#8f979f"),
    ("loose between knots", "#c3c8cc"),
    ("in both ends", "#e3e0d8"),
    ("to spare", "#ffffff"),
];

/// In the list of all outputs.
pub(crate) static OUTPUT: Recipe = Recipe {
    name: "thread",
    meaning: "What each thread is used for",
    short: "use of the threads",
    usual: Usual::Never,
    stem: "thread",
    making: Making::Chart(|tied, _| Ok(svg(tied))),
};

/// Draws a bar for every thread as SVG.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let picture = hitchwork_draw::thread_use::svg(&Tied::of(band));
/// assert_eq!(picture.matches("class=\"bar\"").count(), 3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn svg(tied: &Tied) -> String {
    let band = tied.band();
    let (lengths, cuts) = (tied.thread_lengths(), tied.cut_list());
    let mut body = String::new();
    draw(band, lengths, cuts, &mut body).expect("writing to a string does not fail");
    let rows = u32::try_from(lengths.len()).expect("a band has few threads");
    SvgDocument {
        title: &format!("{}: what each thread is used for", title(band)),
        words: &words(band, cuts),
        width: WIDTH,
        height: HEAD + STEP * f64::from(rows) + 44.0,
        body: &body,
    }
    .write()
}

fn words(band: &Band, cuts: &CutList) -> String {
    let threads = band.colours().zip(&cuts.thread_mm).zip(1..);
    let threads = threads
        .map(|((colour, mm), number)| format!("{number} {}, {:.0} cm", colour.name, mm / 10.0));
    format!(
        "A bar for every thread, as long as what is cut of it: {}. All together {}.",
        threads.collect::<Vec<_>>().join("; "),
        metres_at_least(cuts.total_mm)
    )
}

/// The lengths of the parts, in millimetres.
fn parts(length: &ThreadLength) -> [f64; 5] {
    [
        length.working,
        length.core,
        length.passages,
        length.start.total() + length.finish.total(),
        length.handling,
    ]
}

fn draw(
    band: &Band,
    lengths: &[ThreadLength],
    cuts: &CutList,
    out: &mut String,
) -> std::fmt::Result {
    write_title(out, MARGIN, title(band), WIDTH - 2.0 * MARGIN)?;
    TextStyle::regular(11.0).quiet().write(
        out,
        (MARGIN, 58.0),
        "What each thread is used for; the number is the length to cut in centimetres.",
    )?;
    textures(out)?;
    let mut x = MARGIN;
    for (at, (what, _)) in PARTS.iter().enumerate() {
        filled(out, at, (x, 69.0), (16.0, 10.0))?;
        let hand = TextStyle::regular(10.5);
        hand.write(out, (x + 21.0, 78.0), what)?;
        x += 21.0 + hand.width(what) + 18.0;
    }
    out.push('\n');
    let longest = cuts.thread_mm.iter().copied().fold(1.0, f64::max);
    let scale = (BARS.1 - BARS.0) / longest;
    let rows = f64::from(u32::try_from(lengths.len()).expect("a band has few threads"));
    axis(out, longest, scale, HEAD + STEP * rows)?;
    for ((number, length), cut) in (1_u16..).zip(lengths).zip(&cuts.thread_mm) {
        let y = HEAD + STEP * f64::from(number - 1);
        let index = band.thread_colours()[usize::from(number) - 1];
        let chip = Chip::new(number, number, &band.palette()[usize::from(index)], PANEL);
        Chips::new([chip], PANEL).write(out, (MARGIN, y + (STEP - CHIP) / 2.0))?;
        write!(out, r#"<g class="bar" data-thread="{number}">"#)?;
        let mut x = BARS.0;
        for (at, mm) in parts(length).into_iter().enumerate() {
            let wide = mm * scale;
            if wide >= 0.05 {
                filled(out, at, (x, y + 4.0), (wide, STEP - 8.0))?;
            }
            x += wide;
        }
        let end = BARS.0 + cut * scale;
        write!(
            out,
            r#"<path d="M{e} {}v{}" stroke="{INK}" stroke-width="2"/>"#,
            short(y + 2.0),
            short(STEP - 4.0),
            e = short(end)
        )?;
        let words = format!("{:.0}", cut / 10.0);
        TextStyle::strong(11.0).write(out, (end + 7.0, y + STEP / 2.0 + 4.0), &words)?;
        out.push_str("</g>\n");
    }
    Ok(())
}

fn textures(out: &mut String) -> std::fmt::Result {
    let marks = [
        "",
        r##"<path d="M-1 1l2-2M0 6l6-6M5 7l2-2" stroke="#22252b" stroke-width=".9"/>"##,
        r##"<path d="M0 3h3" stroke="#22252b"/>"##,
        r##"<circle cx="2" cy="2" r=".9" fill="#22252b"/>"##,
        "",
    ];
    out.push_str("<defs>");
    for (at, ((_, fill), mark)) in PARTS.iter().zip(marks).enumerate() {
        write!(
            out,
            r#"<pattern id="thread-use-{at}" width="6" height="6" patternUnits="userSpaceOnUse"><rect width="6" height="6" fill="{fill}"/>{mark}</pattern>"#
        )?;
    }
    out.push_str("</defs>\n");
    Ok(())
}

fn filled(
    out: &mut String,
    part: usize,
    (x, y): (f64, f64),
    (wide, high): (f64, f64),
) -> std::fmt::Result {
    write!(
        out,
        r#"<rect x="{}" y="{}" width="{}" height="{}" fill="url(#thread-use-{part})" stroke="{INK}" stroke-width=".8"/>"#,
        short(x),
        short(y),
        short(wide),
        short(high)
    )
}

fn axis(out: &mut String, longest: f64, scale: f64, bottom: f64) -> std::fmt::Result {
    // As many marks as have room: steps of 1, 2 or 5 times a power of ten centimetres.
    let mut step = 10.0;
    for factor in [2.0, 2.5, 2.0].iter().cycle() {
        if longest / step <= 9.0 {
            break;
        }
        step *= factor;
    }
    let mut at = 0.0;
    while at <= longest {
        let x = BARS.0 + at * scale;
        write!(
            out,
            r#"<path d="M{} {}V{}" stroke="{HAIR}"/>"#,
            short(x),
            short(HEAD - 3.0),
            short(bottom + 4.0)
        )?;
        TextStyle::regular(9.5)
            .coloured(QUIET)
            .anchored(Anchor::Middle)
            .write(out, (x, bottom + 17.0), &format!("{:.0}", at / 10.0))?;
        at += step;
    }
    TextStyle::regular(9.5)
        .coloured(QUIET)
        .write(out, (BARS.1 + 20.0, bottom + 17.0), "cm")?;
    out.push('\n');
    Ok(())
}
