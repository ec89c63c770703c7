//! How fast pictures are made, and how small they are.
//!
//! `cargo bench -p hitchwork-tests --bench pictures` prints, for a band of 12 threads and
//! 60 repeats and one of 40 threads and 200 repeats: how long the fabric takes as SVG
//! together with writing it to a file, against writing the same bytes from memory to a file
//! in the same run (target: within 3 times); bytes for a knot, plain and compressed (target:
//! under 40); that it is linear; the times of the chart and of PNG at twice its size; and
//! how long a view as large as a screen takes when it is painted from the SVG, when it is
//! blitted from sprites for the first time, and when the sprites are there; and our own
//! blitting against that of tiny-skia, which rasterises the sprites.
#![allow(clippy::print_stdout, reason = "the figures are what a reader wants")]

use std::cell::RefCell;
use std::fs;
use std::hint::black_box;
use std::io::Write;
use std::time::{Duration, Instant};

use flate2::Compression;
use flate2::write::GzEncoder;
use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{RenderCache, View};
use hitchwork_draw::{fabric, png, strands};
use hitchwork_tests::made;
use resvg::tiny_skia::{FillRule, Paint, PathBuilder, Pixmap, PixmapPaint, Rect, Transform};

#[path = "../../crates/hitchwork-draw/src/fabric/raster/bitmap.rs"]
#[allow(
    dead_code,
    unreachable_pub,
    reason = "only blitting is measured; the room is not a part of what the crate shows"
)]
mod bitmap;

fn band(threads: u16, repeats: u32) -> Band {
    let repeat = made::slanted_with_turns(threads, &[threads / 3, 2 * threads / 3]);
    let end = End {
        shape: Shape::HalfTriangleLeft,
        ties: Ties::Braided,
    };
    let parts = BandParts {
        start: end,
        finish: end,
        ..made::band(threads, repeat, repeats).into_parts()
    };
    Band::new(parts).expect("a band")
}

/// The median times of things done by turns, so that all meet the same weather.
fn medians<const N: usize>(rounds: usize, things: [&dyn Fn(); N]) -> [Duration; N] {
    let mut times = [const { Vec::new() }; N];
    for _ in 0..rounds {
        for (thing, times) in things.iter().zip(&mut times) {
            let start = Instant::now();
            thing();
            times.push(start.elapsed());
        }
    }
    times.map(|mut times| {
        times.sort_unstable();
        times[rounds / 2]
    })
}

fn compressed(text: &str) -> usize {
    let mut encoder = GzEncoder::new(Vec::new(), Compression::best());
    encoder.write_all(text.as_bytes()).expect("into memory");
    encoder.finish().expect("into memory").len()
}

#[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
fn each(bytes: usize, knots: u64) -> f64 {
    bytes as f64 / knots as f64
}

fn fabric_as_svg(folder: &std::path::Path, threads: u16, repeats: u32) {
    let band = band(threads, repeats);
    let tied = Tied::of(band);
    // The fabric is tied once, before it is drawn again and again.
    let _ = tied.fabric();
    let draw = || fabric::svg(&tied, &fabric::FabricOptions::default()).expect("small enough");
    let svg = draw();
    let (ours, theirs) = (folder.join("ours.svg"), folder.join("theirs.svg"));
    let [drawn, copied, alone] = medians(
        41,
        [
            &|| fs::write(&ours, draw()).expect("writable"),
            &|| fs::write(&theirs, &svg).expect("writable"),
            &|| drop(black_box(draw())),
        ],
    );
    let knots = tied.band().knot_count();
    println!(
        "fabric, {threads} threads, {repeats} repeats, {knots} knots: {drawn:?} to a file ({alone:?} of it drawing), \
         {copied:?} from memory, ratio {:.2}; {} bytes, {:.1} a knot, compressed {:.1}",
        drawn.as_secs_f64() / copied.as_secs_f64(),
        svg.len(),
        each(svg.len(), knots),
        each(compressed(&svg), knots),
    );
}

/// The whole band across a screen of 860 pixels.
fn a_view(threads: u16, repeats: u32) {
    let band = band(threads, repeats);
    let tied = Tied::of(band);
    // The fabric is tied once, before it is drawn again and again.
    let _ = tied.fabric();
    let lay =
        || fabric::FabricPicture::new(&tied, &fabric::FabricOptions::default()).expect("small");
    let scale = 860.0 / lay().size().0;
    let paint = |sprites: &mut RenderCache| {
        let picture = lay();
        let view = View::whole(&picture, scale).expect("small");
        black_box(sprites.paint(&picture, &view).expect("paintable"));
    };
    let sprites = RefCell::new(RenderCache::default());
    let svg = || drop(black_box(png::render(&lay().svg(), scale)));
    let [painted, cut, blitted] = medians(
        11,
        [&svg, &|| paint(&mut RenderCache::default()), &|| {
            paint(&mut sprites.borrow_mut());
        }],
    );
    println!(
        "a view of {threads} threads, {repeats} repeats: {painted:?} from the SVG, {cut:?} rasterising sprites ({:.1} times as fast), {blitted:?} blitting them ({:.1} times)",
        painted.as_secs_f64() / cut.as_secs_f64(),
        painted.as_secs_f64() / blitted.as_secs_f64(),
    );
}

/// A sprite as large as a knot's: an ellipse with soft edges that fills most of a square.
fn sprite(side: u32) -> Pixmap {
    let mut sprite = Pixmap::new(side, side).expect("small");
    let long = f32::from(u16::try_from(side).expect("small"));
    let square = Rect::from_xywh(0.0, 0.0, long, long);
    let ellipse = PathBuilder::from_oval(square.expect("a square")).expect("an ellipse");
    let mut paint = Paint::default();
    paint.set_color_rgba8(20, 120, 140, 255);
    let upright = Transform::identity();
    sprite.fill_path(&ellipse, &paint, FillRule::Winding, upright, None);
    sprite
}

/// A screen covered with sprites about twice over, by us and by tiny-skia.
fn blitting(side: u32) {
    const SCREEN: (u32, u32) = (860, 1200);
    let sprite = sprite(side);
    let step = usize::try_from(side * 2 / 3).expect("small");
    let places: Vec<(i32, i32)> = (0..SCREEN.1)
        .step_by(step)
        .flat_map(|y| (0..SCREEN.0).step_by(step).map(move |x| (x, y)))
        .map(|(x, y)| (x.cast_signed() - 5, y.cast_signed() - 5))
        .collect();
    let ours = bitmap::Bitmap::of(&sprite, (0, 0));
    let empty = Pixmap::new(SCREEN.0, SCREEN.1).expect("small");
    let by_us = || {
        let mut canvas = bitmap::Bitmap::of(&empty, (0, 0));
        for (x, y) in &places {
            canvas.put(&ours, (i64::from(*x), i64::from(*y)));
        }
        canvas
    };
    let by_skia = || {
        let mut canvas = empty.clone();
        let (paint, still) = (PixmapPaint::default(), Transform::identity());
        for (x, y) in &places {
            canvas.draw_pixmap(*x, *y, sprite.as_ref(), &paint, still, None);
        }
        canvas
    };
    let (mine, its) = (by_us(), by_skia());
    let apart = mine.pixels.as_flattened().iter().zip(its.data());
    let apart = apart.map(|(mine, its)| mine.abs_diff(*its)).max();
    let [us, skia] = medians(
        11,
        [&|| drop(black_box(by_us())), &|| drop(black_box(by_skia()))],
    );
    println!(
        "{} sprites of {side} by {side} pixels: {us:?} by us, {skia:?} by tiny-skia ({:.1} times as long), at most {} of 255 apart",
        places.len(),
        skia.as_secs_f64() / us.as_secs_f64(),
        apart.unwrap_or(0),
    );
}

fn main() {
    for side in [12, 24, 48, 96] {
        blitting(side);
    }
    let folder = tempfile::tempdir().expect("a temporary folder");
    for (threads, repeats) in [(12, 60), (12, 240), (12, 960), (40, 200), (40, 400)] {
        fabric_as_svg(folder.path(), threads, repeats);
    }
    for (threads, repeats) in [(12, 60), (40, 200)] {
        a_view(threads, repeats);
    }
    for (threads, repeats) in [(12, 60), (40, 200)] {
        let band = band(threads, repeats);
        let tied = Tied::of(band);
        // The fabric is tied once, before it is drawn again and again.
        let _ = tied.fabric();
        let svg = fabric::svg(&tied, &fabric::FabricOptions::default()).expect("small enough");
        let pixels = png::render(&svg, 2.0).expect("paintable");
        let paint = || drop(black_box(png::render(&svg, 2.0)));
        let options = strands::ChartOptions::default();
        let chart = || drop(black_box(strands::pages(&tied, &options)));
        let [painted, charted] = medians(3, [&paint, &chart]);
        let pages = strands::pages(&tied, &options).expect("small");
        let bytes: usize = pages.iter().map(String::len).sum();
        println!(
            "{threads} threads, {repeats} repeats: PNG at twice its size {painted:?}, {} bytes; strands {charted:?}, {} pages, {bytes} bytes",
            pixels.len(),
            pages.len()
        );
    }
}
