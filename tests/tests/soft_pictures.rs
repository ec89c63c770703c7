//! Pictures of bands that do not lie on the lattice show them as they lie.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::lay::Lay;
use hitchwork_draw::fabric::{Aspect, FabricOptions, FabricPicture, RenderCache, View, svg, tile};
use hitchwork_draw::png;
use hitchwork_tests::golden::Pixels;
use hitchwork_tests::made::{self, brick, run};

/// Rows to and fro over a leader, threads of two colours in turn.
fn to_and_fro(threads: u16, rows: u32) -> Band {
    let right = run(Kind::Backward, 1..threads);
    let left = run(Kind::Forward, (1..threads).rev());
    coloured(made::band(threads, vec![right, left], rows / 2))
}

/// Rows over a leader at the left, courses at the right.
fn bending(repeats: u32) -> Band {
    let rows = vec![
        run(Kind::Backward, 1..5),
        run(Kind::Forward, [6, 8]),
        run(Kind::Forward, (1..5).rev()),
        run(Kind::Forward, [5, 7, 9]),
    ];
    coloured(made::band(10, rows, repeats))
}

/// Courses, then rows over a leader, then courses.
fn widening() -> Band {
    let threads = 8;
    let mut rows = brick(Kind::Forward, threads);
    rows.extend(brick(Kind::Forward, threads));
    for _ in 0..3 {
        rows.push(run(Kind::Backward, 1..threads));
        rows.push(run(Kind::Forward, (1..threads).rev()));
    }
    coloured(made::band(threads, rows, 2))
}

fn coloured(band: Band) -> Band {
    let threads = band.thread_count();
    let parts = BandParts {
        palette: made::colours(2),
        threads: (0..threads).map(|thread| thread % 2).collect(),
        ..band.into_parts()
    };
    Band::new(parts).expect("a band")
}

fn with_ends(band: Band, start: Shape, finish: Shape) -> Band {
    let end = |shape| End {
        shape,
        ties: Ties::Twisted,
    };
    let parts = BandParts {
        start: end(start),
        finish: end(finish),
        ..band.into_parts()
    };
    Band::new(parts).expect("a band")
}

fn unequal(band: Band) -> Band {
    let mut parts = band.into_parts();
    (parts.gauge.column_mm, parts.gauge.half_row_mm) = (1.25, 0.9);
    Band::new(parts).expect("a band")
}

fn drawn(band: &Band, options: &FabricOptions) -> String {
    svg(&made::tied(band), options).expect("small enough")
}

fn upright() -> FabricOptions {
    FabricOptions {
        upright: true,
        ..FabricOptions::default()
    }
}

/// The knots of a picture: the letter of the way they lie, and where, in millimetres.
fn knots_of(picture: &str, band: &Band) -> Vec<(char, f64, f64)> {
    let mm = band.gauge().column_mm / 100.0;
    let (_, placed) = picture.split_once("</defs>").expect("a picture");
    placed
        .split("<use href=\"#")
        .skip(1)
        .filter_map(|element| {
            let (name, rest) = element.split_once("\" x=\"")?;
            let lie = name.chars().last().filter(|lie| "frpq".contains(*lie))?;
            let (x, rest) = rest.split_once("\" y=\"")?;
            let (y, _) = rest.split_once('"')?;
            let number = |text: &str| text.parse::<f64>().expect("a number") * mm;
            Some((lie, number(x), number(y)))
        })
        .collect()
}

#[test]
fn every_knot_is_drawn_where_it_lies() {
    for band in [
        to_and_fro(10, 20),
        unequal(to_and_fro(7, 12)),
        bending(12),
        widening(),
    ] {
        let fabric = Fabric::of(&band);
        let lay = Lay::of(&fabric, &band.gauge());
        assert!(lay.is_solved());
        let found = knots_of(&drawn(&band, &FabricOptions::default()), &band);
        let laid: Vec<_> = lay.knots(&fabric).collect();
        assert_eq!(found.len(), laid.len());
        for ((lie, x, y), knot) in found.into_iter().zip(laid) {
            let expected = match knot.knot.kind {
                Kind::Forward => 'f',
                Kind::Backward => 'r',
                _ => '?',
            };
            assert_eq!(lie, expected);
            // A knot spreads towards its neighbours, by at most a sixth of itself to one side.
            let (across, along) = (x - knot.centre.across_mm, y - knot.centre.along_mm);
            let aside = (across * across + along * along).sqrt();
            assert!(aside < band.gauge().knot_mm() / 6.0, "{aside} mm aside");
        }
    }
}

/// The least and the most of the outline that throws the shadow, in knots.
fn outline(picture: &str, band: &Band) -> (f64, f64) {
    let (_, shadow) = picture.split_once("blur)\">").expect("a shadow");
    let outline = shadow
        .split("<path d=\"")
        .find(|path| path.contains("fill=\"#2b2115\""))
        .expect("an outline");
    let (path, _) = outline.split_once('"').expect("a path");
    let mut bounds = [(f64::MAX, f64::MIN); 2];
    for piece in path.split('M').skip(1) {
        let (start, steps) = piece.split_once('l').expect("corners");
        let numbers = |text: &str| -> Vec<f64> {
            text.trim_end_matches('z')
                .split(' ')
                .map(|number| number.parse().expect("a number"))
                .collect()
        };
        let mut at = numbers(start);
        let steps = numbers(steps);
        let (steps, _) = steps.as_chunks::<2>();
        for step in [[0.0; 2]].iter().chain(steps) {
            for axis in 0..2 {
                at[axis] += step[axis];
                let (least, most) = &mut bounds[axis];
                (*least, *most) = (least.min(at[axis]), most.max(at[axis]));
            }
        }
    }
    let knot = 100.0 * band.gauge().knot_mm() / band.gauge().column_mm;
    let side = |(least, most): (f64, f64)| (most - least) / knot;
    (side(bounds[0]), side(bounds[1]))
}

/// n threads make n - 1 knots a row, and m rows lie a knot apart: with half a knot beyond the
/// outermost centres on every side, the cloth is n - 1 knots wide and m knots long.
#[test]
fn a_band_over_a_leader_is_a_rectangle() {
    for (threads, rows) in [(10, 20), (5, 8), (16, 10)] {
        for band in [
            to_and_fro(threads, rows),
            unequal(to_and_fro(threads, rows)),
        ] {
            let (wide, long) = outline(&drawn(&band, &upright()), &band);
            assert!((wide - f64::from(threads - 1)).abs() < 0.03, "{wide}");
            assert!((long - f64::from(rows)).abs() < 0.03, "{long}");
        }
    }
}

/// What is drawn, without a table, as pixels; and for the body of a band over a leader the pixels
/// of its corners.
fn body(band: &Band, options: &FabricOptions) -> (Pixels, [f64; 4]) {
    let picture = drawn(band, options);
    let pixels = Pixels::of_png(&png::render(&picture, 1.0).expect("paintable"));
    let (_, view) = picture.split_once("viewBox=\"").expect("a view");
    let (view, _) = view.split_once('"').expect("a view");
    let view: Vec<f64> = view
        .split(' ')
        .map(|number| number.parse().expect("a number"))
        .collect();
    let mm = band.gauge().column_mm / 100.0;
    let pixels_per_unit = options.pixels_per_mm * mm;
    let mut corners = [f64::MAX, f64::MAX, f64::MIN, f64::MIN];
    for (_, x, y) in knots_of(&picture, band) {
        let (x, y) = if options.upright { (x, y) } else { (y, -x) };
        let at = [x / mm - view[0], y / mm - view[1]].map(|units| units * pixels_per_unit);
        corners = [
            corners[0].min(at[0]),
            corners[1].min(at[1]),
            corners[2].max(at[0]),
            corners[3].max(at[1]),
        ];
    }
    (pixels, corners)
}

#[test]
fn nothing_of_the_table_shows_between_hitches_over_a_leader() {
    let options = FabricOptions {
        table: false,
        ..FabricOptions::default()
    };
    for band in [
        to_and_fro(10, 20),
        to_and_fro(5, 8),
        unequal(to_and_fro(9, 12)),
    ] {
        for upright in [false, true] {
            let options = FabricOptions {
                upright,
                ..options.clone()
            };
            let (pixels, [left, top, right, bottom]) = body(&band, &options);
            let knot = band.gauge().knot_mm() * options.pixels_per_mm;
            // Beyond the outermost centres it is cloth, up to where the corners of knots are round.
            let reach = 0.33 * knot;
            let mut seen = 0;
            for y in pixel(top - reach)..=pixel(bottom + reach) {
                for x in pixel(left - reach)..=pixel(right + reach) {
                    let [.., covers] = pixels.at(x, y).expect("inside");
                    assert_eq!(covers, 255, "the table shows at {x} {y}");
                    seen += 1;
                }
            }
            assert!(seen > 5_000);
        }
    }
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "inside the picture"
)]
fn pixel(at: f64) -> u32 {
    at.round() as u32
}

/// How far two pictures are from one another, in hundredths of the way from black to white, when
/// squares of 4 by 4 pixels are seen as one: at the mean, and at the most.
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

#[test]
fn blitted_pictures_of_soft_bands_show_what_the_painted_ones_show() {
    let bands = [
        with_ends(to_and_fro(8, 10), Shape::Triangle, Shape::Flat),
        with_ends(bending(5), Shape::HalfTriangleLeft, Shape::Triangle),
        with_ends(bending(5), Shape::Loop, Shape::HalfTriangleRight),
        widening(),
    ];
    for band in &bands {
        for (upright, straight) in [(false, false), (true, true)] {
            let options = FabricOptions {
                upright,
                straight,
                ..FabricOptions::default()
            };
            let picture = FabricPicture::new(&made::tied(band), &options).expect("small enough");
            for scale in [0.5, 1.0, 2.3] {
                let painted = png::render(&picture.svg(), scale).expect("paintable");
                let view = View::whole(&picture, scale).expect("small enough");
                let blitted = RenderCache::default()
                    .paint(&picture, &view)
                    .expect("paintable");
                let (mean, most) = distance(&Pixels::of_png(&blitted), &Pixels::of_png(&painted));
                assert!(
                    mean < 1.0 && most < 20.0,
                    "upright {upright}, {scale}: {mean:.2} at the mean, {most:.1} at the most"
                );
            }
        }
    }
}

/// Mirrored, every knot lies as far from the other edge, and leans the other way.
#[test]
fn a_mirrored_band_has_a_mirrored_picture() {
    for band in [to_and_fro(6, 8), bending(6), widening()] {
        let threads = band.thread_count();
        let mirrored = made::tied(&band).mirrored().band().clone();
        let ours = knots_of(&drawn(&band, &FabricOptions::default()), &band);
        let theirs = knots_of(&drawn(&mirrored, &FabricOptions::default()), &mirrored);
        assert_eq!(ours.len(), theirs.len());
        let width = f64::from(threads) * band.gauge().column_mm;
        for (one, other) in ours.iter().zip(&theirs) {
            assert_ne!(one.0, other.0);
            assert!((one.1 + other.1 - width).abs() < 0.02, "{one:?} {other:?}");
            assert!((one.2 - other.2).abs() < 0.02, "{one:?} {other:?}");
        }
    }
}

/// A band that bends is drawn so, and pinned straight where that is asked for, or where its
/// symmetry is marked: then it is hardly wider than its width.
#[test]
fn a_band_that_bends_is_drawn_bent_or_pinned_straight() {
    let band = bending(14);
    let lay = made::tied(&band).lay().clone();
    assert!(lay.bend().is_some());
    let wide = |options: &FabricOptions| {
        let found = knots_of(&drawn(&band, options), &band);
        let least = found.iter().map(|knot| knot.1).fold(f64::MAX, f64::min);
        let most = found.iter().map(|knot| knot.1).fold(f64::MIN, f64::max);
        most - least
    };
    let straight = FabricOptions {
        straight: true,
        ..FabricOptions::default()
    };
    let marked = FabricOptions {
        symmetry: Some(Aspect::Knots),
        ..FabricOptions::default()
    };
    let bent = wide(&FabricOptions::default());
    assert!(bent > 1.3 * lay.greatest_width_mm(), "{bent}");
    for options in [straight, marked] {
        let pinned = wide(&options);
        assert!(pinned < 1.1 * lay.greatest_width_mm(), "{pinned}");
    }
    // What lies straight is drawn alike, but for the names in it.
    let leader = to_and_fro(8, 10);
    let plain = knots_of(&drawn(&leader, &FabricOptions::default()), &leader);
    let pinned = FabricOptions {
        straight: true,
        ..FabricOptions::default()
    };
    for (one, other) in plain
        .iter()
        .zip(knots_of(&drawn(&leader, &pinned), &leader))
    {
        assert!((one.1 - other.1).abs() < 0.01 && (one.2 - other.2).abs() < 0.01);
    }
}

/// A tile of rows over a leader is as long as its rows, a knot for each, and shows the knots of
/// so many repeats and those that reach in from beside it.
#[test]
fn a_tile_of_a_soft_band_is_as_long_as_its_rows() {
    let band = to_and_fro(6, 40);
    let options = FabricOptions {
        upright: true,
        pixels_per_mm: 20.0,
        ..FabricOptions::default()
    };
    let tile = tile(&made::tied(&band), &options).expect("comes again");
    let (_, view) = tile.split_once("viewBox=\"").expect("a view");
    let (view, _) = view.split_once('"').expect("a view");
    let long: f64 = view
        .rsplit(' ')
        .next()
        .expect("four")
        .parse()
        .expect("a number");
    let knot = 100.0 * band.gauge().knot_mm() / band.gauge().column_mm;
    let rows = long / knot;
    assert!((rows - rows.round()).abs() < 0.01, "{rows} rows");
    assert!(rows.round() >= 2.0);
    let pixels = Pixels::of_png(&png::render(&tile, 1.0).expect("paintable"));
    // Row by row the knots on both cut edges are the same: what is cut off above is below.
    let found = knots_of(&tile, &band);
    let mm = knot * band.gauge().column_mm / 100.0;
    let mut by_height: BTreeMap<i64, usize> = BTreeMap::new();
    for (_, _, y) in &found {
        #[expect(clippy::cast_possible_truncation, reason = "few rows")]
        let row = (y / mm - 0.5).round() as i64;
        *by_height.entry(row).or_default() += 1;
    }
    #[expect(clippy::cast_possible_truncation, reason = "few rows")]
    let rows = rows.round() as i64;
    for row in 0..rows {
        assert_eq!(by_height.get(&row), Some(&5), "row {row}");
    }
    // The middle of the piece is cloth all over, from one cut to the other.
    let middle = pixels.width / 2;
    for y in 0..pixels.height {
        let [.., covers] = pixels.at(middle, y).expect("inside");
        assert!(covers > 250, "{y}");
    }
}

/// Rows to and fro over a leader are mirrored at every seam between two rows, and at both ends:
/// 24 rows have 25 such axes, a knot apart. The repeat holds two periods.
#[test]
fn axes_are_drawn_where_the_band_lies() {
    let (right, left) = (run(Kind::Backward, 1..7), run(Kind::Forward, (1..7).rev()));
    let rows = vec![right.clone(), left.clone(), right, left];
    let band = made::band(7, rows, 6);
    let options = FabricOptions {
        upright: true,
        symmetry: Some(Aspect::Knots),
        ..FabricOptions::default()
    };
    let picture = drawn(&band, &options);
    let (_, marks) = picture.split_once("class=\"symmetry\"").expect("marks");
    let (mut along, mut across) = (Vec::new(), Vec::new());
    for path in marks.split("<path d=\"M").skip(1) {
        let (path, _) = path.split_once('"').expect("a path");
        if let Some((start, _)) = path.split_once('V') {
            let (x, _) = start.split_once(' ').expect("a place");
            along.push(x.parse::<f64>().expect("a number"));
        } else if let Some((start, _)) = path.split_once('L') {
            let (_, y) = start.split_once(' ').expect("a place");
            across.push(y.parse::<f64>().expect("a number"));
        }
    }
    // Seven columns as wide as on the lattice have their middle there.
    assert!(
        !along.is_empty() && along.iter().all(|x| (x - 350.0).abs() < 1.0),
        "{along:?}"
    );
    across.sort_by(f64::total_cmp);
    across.dedup();
    assert_eq!(across.len(), 25, "{across:?}");
    let knot = 100.0 * band.gauge().knot_mm() / band.gauge().column_mm;
    for (seam, y) in (0_u32..).zip(&across) {
        let expected = (f64::from(seam) - 0.5) * knot;
        assert!((y - expected).abs() < 2.0, "{y} is not {expected}");
    }
}
