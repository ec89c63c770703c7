//! The picture of the finished band shows what was tied.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::{End, Gauge, Shape, Ties};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Column, Kind, Knot, Side};
use hitchwork_core::lay::{LaidKnot, Lay, Turn};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{Aspect, FabricOptions, svg, tile};
use hitchwork_draw::png;
use palette::{FromColor, Oklab, Srgb as FloatSrgb};
use proptest::prelude::*;
use resvg::tiny_skia::Pixmap;

mod common;

fn drawn(band: &Band, options: &FabricOptions) -> String {
    svg(&Tied::of(band.clone()), options).expect("small enough")
}

fn oklab(red: f64, green: f64, blue: f64) -> Oklab<f64> {
    Oklab::from_color(FloatSrgb::new(red / 255.0, green / 255.0, blue / 255.0))
}

fn distance(a: Oklab<f64>, b: Oklab<f64>) -> f64 {
    ((a.l - b.l) * (a.l - b.l) + (a.a - b.a) * (a.a - b.a) + (a.b - b.b) * (a.b - b.b)).sqrt()
}

/// A painted picture in which one can point at places on the band.
struct Table {
    pixels: Pixmap,
    corner: (f64, f64),
    pixels_per_unit: f64,
    upright: bool,
    half_row: f64,
    units_per_mm: f64,
}

impl Table {
    fn lay(band: &Band, upright: bool, pixels_per_mm: f64) -> Self {
        let picture = drawn(
            band,
            &FabricOptions {
                upright,
                pixels_per_mm,
                ..FabricOptions::default()
            },
        );
        let tree = roxmltree::Document::parse(&picture).expect("well-formed");
        let view: Vec<f64> = tree
            .root_element()
            .attribute("viewBox")
            .expect("there")
            .split(' ')
            .map(|part| part.parse().expect("a number"))
            .collect();
        let pixels =
            Pixmap::decode_png(&png::render(&picture, 1.0).expect("painted")).expect("a PNG");
        let pixels_per_unit = f64::from(pixels.width()) / view[2];
        let gauge = band.gauge();
        Self {
            pixels,
            corner: (view[0], view[1]),
            pixels_per_unit,
            upright,
            half_row: 100.0 * gauge.half_row_mm / gauge.column_mm,
            units_per_mm: 100.0 / gauge.column_mm,
        }
    }

    /// The mean colour of a patch of 5 by 5 pixels round a place on the band.
    fn colour_at(&self, x: f64, y: f64) -> Oklab<f64> {
        let (x, y) = if self.upright { (x, y) } else { (y, -x) };
        #[expect(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "on the picture"
        )]
        let pixel = |at: f64, corner: f64| ((at - corner) * self.pixels_per_unit) as u32;
        let (column, line) = (pixel(x, self.corner.0), pixel(y, self.corner.1));
        let mut sum = [0.0; 3];
        for dy in 0..5 {
            for dx in 0..5 {
                let found = self
                    .pixels
                    .pixel(column + dx - 2, line + dy - 2)
                    .expect("on the picture")
                    .demultiply();
                sum[0] += f64::from(found.red());
                sum[1] += f64::from(found.green());
                sum[2] += f64::from(found.blue());
            }
        }
        oklab(sum[0] / 25.0, sum[1] / 25.0, sum[2] / 25.0)
    }

    /// The colours on the two wraps of a knot.
    fn wraps(&self, knot: &LaidKnot) -> [Oklab<f64>; 2] {
        let unit = self.units_per_mm;
        let centre = (knot.centre.across_mm * unit, knot.centre.along_mm * unit);
        // Knots of a soft band press into each other and cover each other's edges.
        let share = if knot.turn.sine == 0.0 { 1.0 } else { 0.6 };
        self.wraps_turned(knot.knot.kind, centre, knot.turn, share)
    }

    /// The colours on two wraps that lie like those of a knot of that kind on the lattice.
    fn wraps_at(&self, kind: Kind, column: u16, level: f64) -> [Oklab<f64>; 2] {
        let centre = (100.0 * f64::from(column), level * self.half_row);
        let upright = Turn {
            cosine: 1.0,
            sine: 0.0,
        };
        self.wraps_turned(kind, centre, upright, 1.0)
    }

    /// The same for any knot, at a share of the way from its centre to the middles of its wraps.
    fn wraps_turned(
        &self,
        kind: Kind,
        (x, y): (f64, f64),
        turn: Turn,
        share: f64,
    ) -> [Oklab<f64>; 2] {
        // The two wraps lie along the core thread; those of a turning knot above each other.
        let (dx, dy) = match kind {
            Kind::Forward => (25.0, -self.half_row / 4.0),
            Kind::Backward => (-25.0, -self.half_row / 4.0),
            Kind::ForwardBackward | Kind::BackwardForward => (0.0, -self.half_row * 0.45),
        };
        let mirror = if kind.changes_places() { -1.0 } else { 1.0 };
        [(dx, dy), (mirror * dx, -dy)].map(|(dx, dy)| {
            let (dx, dy) = (dx * share, dy * share);
            self.colour_at(
                x + dx * turn.cosine - dy * turn.sine,
                y + dx * turn.sine + dy * turn.cosine,
            )
        })
    }
}

/// How far, in OKLab, light and shade may carry a wrap from its thread's colour.
const TOLERANCE: f64 = 0.13;

fn every_wrap_shows_its_working_thread(band: &Band, upright: bool) {
    let fabric = Fabric::of(band);
    let table = Table::lay(band, upright, 20.0);
    let colour = |thread| {
        let Srgb { red, green, blue } = band.palette()[usize::from(fabric.colour(thread))].srgb;
        oklab(f64::from(red), f64::from(green), f64::from(blue))
    };
    for laid in Lay::of(&fabric, &band.gauge()).knots(&fabric) {
        let knot = laid.knot;
        let (working, core) = (colour(knot.working), colour(knot.core));
        for seen in table.wraps(&laid) {
            let off = distance(seen, working);
            assert!(off < TOLERANCE, "{knot:?} is {off:.3} off its colour");
            assert!(
                distance(working, core) < 2.0 * TOLERANCE || off < distance(seen, core),
                "{knot:?} shows its core"
            );
        }
    }
}

/// Below a picture with marks stands what they mean, and only of the marks that are there.
#[test]
fn a_marked_symmetry_has_its_key() {
    let marked = |band: Band, symmetry| {
        let options = FabricOptions {
            symmetry,
            ..FabricOptions::default()
        };
        let svg = drawn(&band, &options);
        let (_, key) = svg.split_once("<g class=\"key\"").unwrap_or_default();
        let (key, _) = key.split_once("</g>").unwrap_or_default();
        key.to_owned()
    };
    let stripe = || {
        Band::new(BandParts {
            palette: vec![Colour::new("teal", Srgb::new(20, 120, 140))],
            threads: vec![0; 4],
            repeat: vec![Row::run(Kind::Forward, 1..4).expect("columns")],
            repeats: 12,
            ..BandParts::default()
        })
        .expect("a band")
    };
    assert_eq!(marked(stripe(), None), "");
    let key = marked(stripe(), Some(Aspect::Knots));
    assert!(
        key.contains("Symmetry of the knots: half turns (p2)."),
        "{key}"
    );
    assert!(
        key.contains("A lens is the centre of a half turn."),
        "{key}"
    );
    assert!(!key.contains("mirror") && !key.contains("glide"), "{key}");
}

#[test]
fn a_candy_stripe_shows_the_thread_that_works() {
    every_wrap_shows_its_working_thread(&common::candy_stripe(), false);
}

#[test]
fn turning_knots_show_the_thread_that_works() {
    every_wrap_shows_its_working_thread(&common::drift(), false);
    every_wrap_shows_its_working_thread(&common::drift(), true);
}

#[test]
fn threads_that_run_openly_do_not_hide_knots() {
    every_wrap_shows_its_working_thread(&common::skerries(), false);
}

/// On a slanted band of ten threads the bundle runs along the slant, two half rows beyond
/// the first and the last knot of each column, and each thread but the last is seen there
/// once, wrapped round the others.
#[test]
fn the_ends_show_the_threads_that_are_brought_out_and_join() {
    let band = common::candy_stripe();
    let fabric = Fabric::of(&band);
    let table = Table::lay(&band, false, 20.0);
    let shows = |column: u16, level: f64, thread: hitchwork_core::fabric::Thread| {
        let Srgb { red, green, blue } = band.palette()[usize::from(fabric.colour(thread))].srgb;
        let colour = oklab(f64::from(red), f64::from(green), f64::from(blue));
        for seen in table.wraps_at(Kind::Backward, column, level) {
            let off = distance(seen, colour);
            assert!(off < TOLERANCE, "{thread} at column {column}: {off:.3} off");
        }
    };
    let start = fabric.passes().next().expect("tied").order_before();
    let (first, last) = (fabric.first_levels(), fabric.last_levels());
    for column in 1..10_u16 {
        let at = usize::from(column) - 1;
        shows(column, f64::from(first[at].expect("tied")) - 2.0, start[at]);
        shows(
            column,
            f64::from(last[at].expect("tied")) + 2.0,
            fabric.final_order()[at + 1],
        );
    }
}

#[test]
fn of_an_odd_triangle_the_middle_thread_hangs_between_the_bundles() {
    let run = |kind, columns: &[u16]| Row::run(kind, columns.iter().copied()).expect("columns");
    let end = End {
        shape: Shape::Triangle,
        ties: Ties::Cut,
    };
    let band = |threads: u16| {
        let columns: Vec<u16> = (1..threads).collect();
        let band = Band::new(BandParts {
            palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
            threads: vec![0; usize::from(threads)],
            repeat: vec![run(Kind::Forward, &columns)],
            repeats: 4,
            start: end,
            finish: end,
            ..BandParts::default()
        });
        drawn(&band.expect("sound"), &FabricOptions::default())
    };
    // Two bundles of n threads have 2 (n - 1) knots round them, with or without a thread
    // between them; each is a group of its own that is moved to its place.
    let knots = |picture: &str| picture.matches("<g transform=\"translate(").count();
    assert_eq!(knots(&band(6)), knots(&band(7)));
    assert_ne!(knots(&band(6)), knots(&band(8)));
}

/// A tile as a grid of pixels that goes on to the right and down without end.
struct Endless(Pixmap);

impl Endless {
    fn of(band: &Band, upright: bool) -> (Self, String) {
        let options = FabricOptions {
            upright,
            pixels_per_mm: 8.0,
            ..FabricOptions::default()
        };
        let picture = tile(&Tied::of(band.clone()), &options).expect("comes again");
        check_names(&picture);
        let pixels = png::render(&picture, 1.0).expect("painted");
        (Self(Pixmap::decode_png(&pixels).expect("a PNG")), picture)
    }

    /// How much two neighbouring lines across the band differ on average, the first of them
    /// at `along`, the second `step` further on.
    fn change(&self, along: u32, step: u32, upright: bool) -> f64 {
        let (wide, high) = (self.0.width(), self.0.height());
        let (length, breadth) = if upright { (high, wide) } else { (wide, high) };
        let at = |along: u32, across: u32| {
            let (x, y) = if upright {
                (across, along)
            } else {
                (along, across)
            };
            let pixel = self.0.pixel(x, y).expect("inside");
            [pixel.red(), pixel.green(), pixel.blue(), pixel.alpha()].map(f64::from)
        };
        let sum: f64 = (0..breadth)
            .map(|across| {
                let (a, b) = (at(along, across), at((along + step) % length, across));
                (0..4)
                    .map(|channel| (a[channel] - b[channel]).abs())
                    .sum::<f64>()
            })
            .sum();
        sum / f64::from(breadth)
    }
}

#[test]
fn tiles_fit_onto_themselves() {
    let bands = [
        common::candy_stripe(),
        common::chevron(),
        common::lozenges(),
        common::drift(),
        common::skerries(),
    ];
    for band in bands {
        for upright in [false, true] {
            let (tile, _) = Endless::of(&band, upright);
            let length = if upright {
                tile.0.height()
            } else {
                tile.0.width()
            };
            let seam = tile.change(length - 1, 1, upright);
            let inside = (0..length - 1).map(|at| tile.change(at, 1, upright));
            let most = inside.fold(0.0, f64::max);
            assert!(
                seam <= most,
                "{}: {seam:.1} at the seam, {most:.1} inside",
                band.title()
            );
            // Cut a little short, it would not fit: the check can fail.
            let short = tile.change(length - 1, 1 + length / 5, upright);
            assert!(
                short > 1.5 * seam,
                "{}: {short:.1} is no more than {seam:.1}",
                band.title()
            );
        }
    }
}

#[test]
fn a_tile_has_the_knots_of_its_repeats_and_nothing_behind_it() {
    // The drift of ten colours comes again after ten repeats of 18 knots.
    let (tile, picture) = Endless::of(&common::drift(), true);
    assert!(picture.contains("10 repeats, after which fabric and colours come again"));
    let tree = roxmltree::Document::parse(&picture).expect("well-formed");
    let half_row = {
        let gauge = common::drift().gauge();
        100.0 * gauge.half_row_mm / gauge.column_mm
    };
    let view: Vec<f64> = tree
        .root_element()
        .attribute("viewBox")
        .expect("there")
        .split(' ')
        .map(|part| part.parse().expect("a number"))
        .collect();
    let knots = tree.descendants().filter(|node| {
        let y: Option<f64> = node.attribute("y").and_then(|y| y.parse().ok());
        node.attribute("href")
            .is_some_and(|name| name.ends_with(['f', 'r', 'p', 'q']))
            && y.is_some_and(|y| (-0.25 * half_row..view[3] - 0.25 * half_row).contains(&y))
    });
    assert_eq!(knots.count(), 180);
    assert_eq!(tile.0.pixel(0, 0).expect("a corner").alpha(), 0);
}

#[test]
fn a_band_that_splits_into_parts_of_different_growth_has_no_tile() {
    let run = |columns: &[u16]| Row::run(Kind::Forward, columns.iter().copied()).expect("columns");
    let band = Band::new(BandParts {
        palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
        threads: vec![0, 1, 0, 1],
        repeat: vec![run(&[1, 3, 3])],
        repeats: 3,
        ..BandParts::default()
    });
    let error =
        tile(&Tied::of(band.expect("sound")), &FabricOptions::default()).expect_err("never");
    assert!(error.is_too_large() && error.help().is_some(), "{error}");
}

#[test]
fn without_the_table_nothing_is_behind_the_band() {
    let bare = FabricOptions {
        table: false,
        ..FabricOptions::default()
    };
    let picture = drawn(&common::drift(), &bare);
    check_names(&picture);
    assert!(!picture.contains("filter"));
    let pixels = Pixmap::decode_png(&png::render(&picture, 1.0).expect("painted")).expect("a PNG");
    let (wide, high) = (pixels.width(), pixels.height());
    for corner in [(0, 0), (wide - 1, 0), (0, high - 1), (wide - 1, high - 1)] {
        assert_eq!(pixels.pixel(corner.0, corner.1).expect("inside").alpha(), 0);
    }
}

#[test]
fn a_band_of_its_own_gauge_is_drawn_at_that_gauge() {
    let gauge = Gauge {
        thread_mm: 0.8,
        column_mm: 1.2,
        half_row_mm: 1.8,
        ..Gauge::default()
    };
    let band = Band::new(BandParts {
        gauge,
        ..common::lozenges().into_parts()
    })
    .expect("sound");
    every_wrap_shows_its_working_thread(&band, false);
}

#[test]
fn a_forward_knot_falls_to_the_right_and_a_turn_points_away_from_where_it_came() {
    let red = Colour::new("red", Srgb::new(200, 40, 40));
    let one = |kind| {
        let knots = [1, 3, 2].map(|column| Knot::new(Column::new(column).expect("from 1"), kind));
        let band = Band::new(BandParts {
            palette: vec![red.clone()],
            threads: vec![0; 4],
            repeat: vec![Row::new(knots)],
            repeats: 2,
            ..BandParts::default()
        });
        Table::lay(&band.expect("sound"), true, 60.0)
    };
    // A little way off the middle the gap between two wraps lies along their run, and is
    // darker than the ridge of a wrap that crosses there.
    let lightness = |table: &Table, dx: f64, dy: f64| table.colour_at(200.0 + dx, 100.0 + dy).l;
    for (kind, run) in [(Kind::Forward, 1.0), (Kind::Backward, -1.0)] {
        let table = one(kind);
        let gap = lightness(&table, 25.0 * run, 25.0);
        let ridge = lightness(&table, 25.0 * run, -25.0);
        assert!(gap + 0.04 < ridge, "{kind}: {gap} {ridge}");
    }
    // The wraps of a turning knot meet in a crease on the side that they point to.
    for (kind, apex) in [(Kind::ForwardBackward, 1.0), (Kind::BackwardForward, -1.0)] {
        let table = one(kind);
        let crease =
            |side: f64| lightness(&table, 40.0 * side, 12.0) - lightness(&table, 40.0 * side, 0.0);
        assert!(
            crease(apex) > 0.04 && crease(-apex) < 0.02,
            "{kind}: {} {}",
            crease(apex),
            crease(-apex)
        );
    }
}

#[test]
fn hostile_words_stay_words() {
    let names = [
        "<script>alert(1)</script>",
        "\"/><image href='file:///etc/passwd'/>",
        "&undefined;",
        "bell\u{7}\u{0}\u{1b}[31m",
        "]]>\u{ffff}\u{202e}",
    ];
    let palette = names
        .map(|name| Colour::new(name, Srgb::new(120, 60, 30)))
        .to_vec();
    for title in names {
        let band = Band::new(BandParts {
            title: title.to_owned(),
            palette: palette.clone(),
            threads: vec![0, 1, 2, 3, 4],
            repeat: vec![Row::run(Kind::Forward, 1..5).expect("columns")],
            repeats: 3,
            ..BandParts::default()
        });
        let picture = drawn(&band.expect("sound"), &FabricOptions::default());
        let tree = roxmltree::Document::parse(&picture).expect("well-formed");
        let text = |name| {
            tree.descendants()
                .find(|node| node.has_tag_name(name))
                .and_then(|node| node.text())
                .map(str::to_owned)
        };
        let plain = |text: &str| {
            text.replace(|character: char| character.is_control(), " ")
                .replace('\u{ffff}', "")
        };
        assert_eq!(text("title"), Some(plain(title)));
        assert!(
            names
                .iter()
                .all(|name| text("desc").expect("there").contains(&plain(name)))
        );
        assert!(
            !tree
                .descendants()
                .any(|node| node.has_tag_name("script") || node.has_tag_name("image"))
        );
    }
}

/// Every name that is used is defined, once.
fn check_names(picture: &str) {
    let tree = roxmltree::Document::parse(picture).expect("well-formed");
    let ids: Vec<&str> = tree
        .descendants()
        .filter_map(|node| node.attribute("id"))
        .collect();
    let distinct: std::collections::BTreeSet<&str> = ids.iter().copied().collect();
    assert_eq!(ids.len(), distinct.len());
    let paints = tree
        .descendants()
        .flat_map(|node| [node.attribute("fill"), node.attribute("filter")])
        .flatten();
    let used = tree
        .descendants()
        .filter_map(|node| node.attribute("href")?.strip_prefix('#'))
        .chain(paints.filter_map(|paint| paint.strip_prefix("url(#")?.strip_suffix(')')));
    for name in used {
        assert!(distinct.contains(name), "{name} is not defined");
    }
}

#[test]
fn the_same_band_gives_the_same_bytes_and_other_bands_other_names() {
    let picture = drawn(&common::chevron(), &FabricOptions::default());
    assert_eq!(
        picture,
        drawn(&common::chevron(), &FabricOptions::default())
    );
    let first_name = |picture: &str| {
        picture
            .split("id=\"")
            .nth(1)
            .map(|rest| rest[..5].to_owned())
    };
    assert_ne!(
        first_name(&picture),
        first_name(&drawn(&common::lozenges(), &FabricOptions::default()))
    );
}

#[test]
fn a_picture_too_large_says_how_many_repeats_fit() {
    let mut parts = common::candy_stripe().into_parts();
    parts.repeats = 100_000;
    let band = Band::new(parts).expect("sound");
    let tied = Tied::of(band);
    let error = svg(&tied, &FabricOptions::default()).expect_err("900 000 knots");
    assert!(error.is_too_large());
    assert_eq!(
        error.to_string(),
        "the picture would show 900000 knots; at most 40000 are drawn"
    );
    assert_eq!(
        error.help().as_deref(),
        Some("draw fewer repeats: at most 4444 of this band fit")
    );
    let few = FabricOptions {
        repeats: Some(6),
        ..FabricOptions::default()
    };
    let picture = svg(&tied, &few).expect("54 knots");
    assert!(picture.contains("Drawn with 6 of its 100000 repeats"));
}

#[test]
fn absurd_options_are_refused() {
    let tied = Tied::of(common::candy_stripe());
    let refused = |options: FabricOptions| {
        svg(&tied, &options).is_err_and(|error| error.is_out_of_range() && error.help().is_some())
    };
    assert!(refused(FabricOptions {
        repeats: Some(0),
        ..FabricOptions::default()
    }));
    for pixels_per_mm in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        assert!(refused(FabricOptions {
            pixels_per_mm,
            ..FabricOptions::default()
        }));
        assert!(
            png::render(
                &drawn(tied.band(), &FabricOptions::default()),
                pixels_per_mm
            )
            .is_err_and(|error| error.is_out_of_range())
        );
    }
    assert!(
        png::render(&drawn(tied.band(), &FabricOptions::default()), 1e6)
            .is_err_and(|error| error.is_too_large())
    );
}

fn shapes() -> impl Strategy<Value = End> {
    let shape = prop::sample::select(vec![
        Shape::Flat,
        Shape::Loop,
        Shape::HalfTriangleLeft,
        Shape::HalfTriangleRight,
        Shape::Triangle,
    ]);
    (
        shape,
        prop::sample::select(vec![Ties::Braided, Ties::Twisted, Ties::Cut]),
    )
        .prop_map(|(shape, ties)| End { shape, ties })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Whatever is tied, with whatever ends: a picture whose every part is there, that
    /// can be painted, and that grows out of no margin.
    #[test]
    fn every_band_can_be_drawn(
        threads in 2_u16..24,
        seeds in prop::collection::vec((0_u16..1000, 0_usize..4), 1..40),
        start in shapes(),
        finish in shapes(),
        upright in any::<bool>(),
    ) {
        let knots = seeds.iter().map(|(at, kind)| Knot::new(Column::new(at % (threads - 1) + 1).expect("from 1"), Kind::ALL[*kind]));
        let palette = Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60), Srgb::new(0, 0, 0), Srgb::new(255, 255, 255)]);
        let band = Band::new(BandParts {
            palette,
            threads: (0..threads).map(|thread| thread % 4).collect(),
            repeat: vec![Row::new(knots)],
            repeats: 3,
            start,
            finish,
            ..BandParts::default()
        }).expect("sound");
        let picture = drawn(&band, &FabricOptions { upright, pixels_per_mm: 2.0, ..FabricOptions::default() });
        check_names(&picture);
        prop_assert!(!picture.contains("NaN") && !picture.contains("inf"));
        prop_assert!(png::render(&picture, 1.0).is_ok());
        let tree = roxmltree::Document::parse(&picture).expect("well-formed");
        let placed = tree.descendants().filter(|node| node.attribute("x").is_some() && node.attribute("href").is_some_and(|name| name.ends_with(['f', 'r', 'p', 'q'])));
        prop_assert_eq!(placed.count() as u64, band.knot_count());
    }
}

#[test]
fn a_band_lying_along_starts_at_the_left_with_its_left_edge_below() {
    // One blue thread, the leftmost, never moves from the left edge; the others are yellow.
    let band = Band::new(BandParts {
        palette: vec![
            Colour::new("blue", Srgb::new(20, 40, 200)),
            Colour::new("yellow", Srgb::new(240, 220, 40)),
        ],
        threads: vec![0, 1, 1, 1],
        repeat: vec![
            Row::run(Kind::ForwardBackward, [1]).expect("a column"),
            Row::run(Kind::Forward, [3, 2]).expect("columns"),
        ],
        repeats: 6,
        ..BandParts::default()
    })
    .expect("sound");
    assert_eq!(Kind::ForwardBackward.working_side(), Side::Left);
    let picture = drawn(
        &band,
        &FabricOptions {
            pixels_per_mm: 20.0,
            ..FabricOptions::default()
        },
    );
    let pixels = Pixmap::decode_png(&png::render(&picture, 1.0).expect("painted")).expect("a PNG");
    let (width, height) = (pixels.width(), pixels.height());
    assert!(width > height);
    let blue_in = |lines: std::ops::Range<u32>| {
        let middle = width * 2 / 5..width * 3 / 5;
        middle
            .flat_map(|x| lines.clone().map(move |y| (x, y)))
            .filter(|(x, y)| {
                pixels
                    .pixel(*x, *y)
                    .is_some_and(|pixel| pixel.blue() > 120 && pixel.red() < 90)
            })
            .count()
    };
    assert!(blue_in(height / 2..height) > 10 * blue_in(0..height / 2).max(1));
}
