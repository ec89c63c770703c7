//! Pictures blitted from sprites show what the painter of the SVG shows, part by part.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::knot::Kind;
use hitchwork_draw::fabric::{Aspect, FabricOptions, FabricPicture, RenderCache, View};
use hitchwork_draw::png;
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::golden::Pixels;
use hitchwork_tests::made::{self, run};

fn picture(band: &Band, options: &FabricOptions) -> FabricPicture {
    FabricPicture::new(&made::tied(band), options).expect("small enough")
}

/// How wide and high a picture is at a scale.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "far below 2^32"
)]
fn sides(picture: &FabricPicture, scale: f64) -> (u32, u32) {
    let (width, height) = picture.size();
    ((width * scale) as u32, (height * scale) as u32)
}

fn blitted(picture: &FabricPicture, scale: f64) -> Pixels {
    let view = View::whole(picture, scale).expect("small enough");
    Pixels::of_png(
        &RenderCache::default()
            .paint(picture, &view)
            .expect("paintable"),
    )
}

/// How far two pictures are from one another, in hundredths of the way from black to white:
/// at the mean, and where they differ most when squares of 4 by 4 pixels are seen as one.
fn distance(one: &Pixels, other: &Pixels) -> (f64, f64) {
    assert_eq!((one.width, one.height), (other.width, other.height));
    let light = |pixels: &Pixels, x: u32, y: u32| {
        let [red, green, blue, covers] = pixels.at(x, y).expect("inside").map(f64::from);
        (red + green + blue) / 3.0 * covers / 255.0
    };
    let (mut sum, mut most, mut squares) = (0.0, 0.0_f64, 0.0);
    for y in (0..one.height - 3).step_by(4) {
        for x in (0..one.width - 3).step_by(4) {
            let apart = (0..16)
                .map(|at| light(one, x + at % 4, y + at / 4) - light(other, x + at % 4, y + at / 4))
                .sum::<f64>()
                .abs()
                / 16.0;
            sum += apart;
            most = most.max(apart);
            squares += 1.0;
        }
    }
    (sum / squares / 2.55, most / 2.55)
}

/// Open threads inside and at the edges, every kind of knot, chinks, and ends that wrap.
fn slipway(start: Shape, finish: Shape) -> Band {
    let end = |shape, ties| End { shape, ties };
    let parts = BandParts {
        start: end(start, Ties::Braided),
        finish: end(finish, Ties::Twisted),
        ..made::band(
            6,
            vec![
                run(Kind::Forward, [1, 3, 5]),
                run(Kind::ForwardBackward, [2]),
                run(Kind::Backward, [5, 4]),
                run(Kind::BackwardForward, [2]),
            ],
            7,
        )
        .into_parts()
    };
    Band::new(parts).expect("a band")
}

#[test]
fn a_blitted_picture_shows_what_the_painted_one_shows() {
    let sizes = [0.4, 1.0, 2.3, 4.5];
    for (start, finish) in [
        (Shape::Triangle, Shape::HalfTriangleRight),
        (Shape::Loop, Shape::Flat),
    ] {
        let band = slipway(start, finish);
        for (upright, table) in [(false, true), (true, true), (false, false)] {
            let options = FabricOptions {
                upright,
                table,
                ..FabricOptions::default()
            };
            let picture = picture(&band, &options);
            let svg = picture.svg();
            for scale in sizes {
                let painted = Pixels::of_png(&png::render(&svg, scale).expect("paintable"));
                let (mean, most) = distance(&blitted(&picture, scale), &painted);
                assert!(
                    mean < 1.2 && most < 20.0,
                    "{start:?} {finish:?}, upright {upright}, table {table}, {scale}: {mean:.2} at the mean, {most:.1} at the most"
                );
            }
        }
    }
}

#[test]
fn so_does_that_of_every_built_in_rule() {
    let rules = Rules::new();
    let mut sprites = RenderCache::default();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("there");
        let settings = Settings::new().length_mm(25.0);
        let band = rules.make(&rule, &settings).expect("sound").band;
        let options = FabricOptions {
            symmetry: Some(Aspect::Knots),
            ..FabricOptions::default()
        };
        let picture = picture(&band, &options);
        let view = View::whole(&picture, 1.0).expect("small enough");
        let blitted = sprites.paint(&picture, &view).expect("paintable");
        let painted = png::render(&picture.svg(), 1.0).expect("paintable");
        let (mean, most) = distance(&Pixels::of_png(&blitted), &Pixels::of_png(&painted));
        assert!(
            mean < 1.2 && most < 20.0,
            "{name}: {mean:.2} at the mean, {most:.1} at the most"
        );
    }
}

/// Nobody sees where a view ends and the next begins, nor what was looked at before.
#[test]
fn a_view_is_the_same_part_of_the_whole_whatever_was_painted_before() {
    let picture = picture(
        &slipway(Shape::Triangle, Shape::Flat),
        &FabricOptions::default(),
    );
    let mut sprites = RenderCache::default();
    for scale in [0.3, 1.0, 2.0, 7.0] {
        let whole = blitted(&picture, scale);
        let (right, down) = (whole.width / 3, whole.height / 4);
        let view = View {
            scale,
            left: right,
            top: down,
            width: whole.width / 2,
            height: whole.height / 2,
        };
        let part = sprites.paint(&picture, &view).expect("paintable");
        assert_eq!(
            part,
            RenderCache::default()
                .paint(&picture, &view)
                .expect("paintable")
        );
        assert_eq!(part, sprites.paint(&picture, &view).expect("paintable"));
        let part = Pixels::of_png(&part);
        for y in 0..part.height {
            for x in 0..part.width {
                let (here, there) = (part.at(x, y), whole.at(x + right, y + down));
                // What is drawn of an end by lines is rounded by where it is painted.
                let apart = here.into_iter().flatten().zip(there.into_iter().flatten());
                let apart = apart.map(|(here, there)| here.abs_diff(there)).max();
                assert!(apart <= Some(3), "{scale}: {x} {y}: {here:?} {there:?}");
            }
        }
    }
}

#[test]
fn a_view_beyond_the_picture_is_clear_and_an_absurd_one_is_refused() {
    let picture = picture(
        &slipway(Shape::Flat, Shape::Flat),
        &FabricOptions::default(),
    );
    let (width, _) = sides(&picture, 1.0);
    let beyond = View {
        scale: 1.0,
        left: width + 400,
        top: 0,
        width: 5,
        height: 5,
    };
    let mut sprites = RenderCache::default();
    let clear = Pixels::of_png(&sprites.paint(&picture, &beyond).expect("paintable"));
    assert_eq!(clear.at(2, 2), Some([0; 4]));
    for scale in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let view = View { scale, ..beyond };
        let refused = sprites.paint(&picture, &view).expect_err("no scale");
        assert!(refused.is_out_of_range(), "{refused}");
    }
    let huge = View {
        width: u32::MAX,
        height: u32::MAX,
        ..beyond
    };
    assert!(
        sprites
            .paint(&picture, &huge)
            .is_err_and(|error| error.is_too_large())
    );
    for scale in [60.0, 1e4, 1e300] {
        let view = View { scale, ..beyond };
        assert!(
            sprites
                .paint(&picture, &view)
                .is_err_and(|error| error.is_too_large())
        );
    }
    assert!(View::whole(&picture, 1e6).is_err_and(|error| error.is_too_large()));
}

/// A thread that runs past hundreds of rows has no sprite as long as itself when one looks closely.
#[test]
fn a_very_long_open_thread_is_seen_wherever_one_looks() {
    let band = made::band(4, vec![run(Kind::Forward, [2, 3])], 2_000);
    let parts = BandParts {
        lead_in: vec![run(Kind::Forward, [1])],
        lead_out: vec![run(Kind::Forward, [1])],
        ..band.into_parts()
    };
    let picture = picture(
        &Band::new(parts).expect("a band"),
        &FabricOptions::default(),
    );
    let mut sprites = RenderCache::default();
    let scale = 12.0;
    let (width, height) = sides(&picture, scale);
    let view = View {
        scale,
        left: width / 2,
        top: 0,
        width: 300,
        height,
    };
    let seen = Pixels::of_png(&sprites.paint(&picture, &view).expect("paintable"));
    // Along a line across the band: table, shadow and threads.
    let line: Vec<[u8; 4]> = (0..seen.height).filter_map(|y| seen.at(150, y)).collect();
    let below = &line[line.len() * 3 / 4..];
    let threads = below
        .iter()
        .filter(|[red, green, ..]| u32::from(*green) > u32::from(*red) + 60);
    assert!(
        threads.count() > 20,
        "the first thread runs along the lower edge"
    );
}

/// The outline of a wide row is pressed in pieces where one would be too large; the shadow
/// has no seams.
#[test]
fn a_wide_band_seen_closely_throws_the_same_shadow() {
    let band = made::band(60, made::brick(Kind::Forward, 60), 2);
    let picture = picture(&band, &FabricOptions::default());
    let scale = 40.0;
    let (width, height) = sides(&picture, scale);
    let view = View {
        scale,
        left: width / 5 * 2,
        top: height - 800,
        width: 600,
        height: 800,
    };
    let blitted = RenderCache::default()
        .paint(&picture, &view)
        .expect("paintable");
    let painted = svg_part(&picture.svg(), &view);
    let (mean, most) = distance(&Pixels::of_png(&blitted), &Pixels::of_png(&painted));
    assert!(
        mean < 0.5 && most < 20.0,
        "{mean:.2} at the mean, {most:.1} at the most"
    );
}

/// A view as the painter of the SVG paints it: of a picture that shows no more than that.
fn svg_part(svg: &str, view: &View) -> Vec<u8> {
    let number = |name: &str| -> Vec<f64> {
        let (_, behind) = svg.split_once(&format!(" {name}=\"")).expect("a picture");
        let (value, _) = behind.split_once('"').expect("a picture");
        value
            .split(' ')
            .map(|part| part.parse().expect("a number"))
            .collect()
    };
    let (own, area) = (number("width")[0], number("viewBox"));
    let unit = area[2] / (own * view.scale);
    let (_, behind) = svg.split_once('>').expect("a picture");
    let at = |pixels: u32| f64::from(pixels) * unit;
    let part = format!(
        r#"<svg xmlns="http://www.w3.org/2000/svg" width="{}" height="{}" viewBox="{} {} {} {}">{behind}"#,
        view.width,
        view.height,
        area[0] + at(view.left),
        area[1] + at(view.top),
        at(view.width),
        at(view.height),
    );
    png::render(&part, 1.0).expect("paintable")
}
