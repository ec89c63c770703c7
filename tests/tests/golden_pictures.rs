//! A few small pictures, pixel for pixel. `RENEW=1` writes them anew and fails; when one
//! differs, expected, found and difference are kept side by side.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::{End, Shape, Ties};
use hitchwork_core::knot::Kind;
use hitchwork_core::tied::Tied;
use hitchwork_draw::{fabric, knots, order, png, strands};
use hitchwork_tests::golden::{Pixels, check_picture, difference};
use hitchwork_tests::made::run;

/// Every kind of knot, an open thread at either edge, and two kinds of ends.
fn slipway() -> Band {
    let colour = |name: &str, value: &str| Colour::new(name, value.parse().expect("a colour"));
    Band::new(BandParts {
        title: "Slipway".into(),
        palette: vec![
            colour("tar", "#23262b"),
            colour("kelp", "#6f8f3a"),
            colour("sail", "#f2ead8"),
            colour("buoy", "#d9472b"),
            colour("tide", "#2f7f99"),
        ],
        threads: vec![0, 1, 2, 3, 4],
        repeat: vec![
            run(Kind::Forward, [1]),
            run(Kind::ForwardBackward, [3]),
            run(Kind::Backward, [4, 2]),
            run(Kind::BackwardForward, [1]),
        ],
        repeats: 3,
        start: End {
            shape: Shape::Triangle,
            ties: Ties::Braided,
        },
        finish: End {
            shape: Shape::HalfTriangleRight,
            ties: Ties::Twisted,
        },
        ..BandParts::default()
    })
    .expect("sound")
}

fn painted(svg: &str, scale: f64) -> Vec<u8> {
    png::render(svg, scale).expect("paintable")
}

#[test]
fn the_fabric_looks_as_it_did() {
    let band = slipway();
    let options = fabric::FabricOptions {
        pixels_per_mm: 14.0,
        ..fabric::FabricOptions::default()
    };
    let svg = fabric::svg(&Tied::of(band), &options).expect("small");
    check_picture("tests/golden/fabric.png", &painted(&svg, 1.0));
}

/// Rows over a leader lie straight, its wraps at both edges, half triangles along the first row
/// and the last; and a band with such rows at one side alone bends.
#[test]
fn soft_bands_look_as_they_did() {
    let band = |repeat, start, finish| {
        let parts = BandParts {
            threads: vec![4, 2, 2, 3, 3, 1, 1, 0],
            repeat,
            repeats: 5,
            start: End {
                shape: start,
                ties: Ties::Cut,
            },
            finish: End {
                shape: finish,
                ties: Ties::Cut,
            },
            ..slipway().into_parts()
        };
        let options = fabric::FabricOptions {
            pixels_per_mm: 14.0,
            ..fabric::FabricOptions::default()
        };
        let band = Band::new(parts).expect("sound");
        painted(&fabric::svg(&Tied::of(band), &options).expect("small"), 1.0)
    };
    let over_leader = vec![run(Kind::Backward, 1..8), run(Kind::Forward, (1..8).rev())];
    let leader = band(
        over_leader,
        Shape::HalfTriangleLeft,
        Shape::HalfTriangleRight,
    );
    check_picture("tests/golden/over_leader.png", &leader);
    let beside = vec![
        run(Kind::Backward, 1..5),
        run(Kind::Forward, [6]),
        run(Kind::Forward, (1..5).rev()),
        run(Kind::Forward, [5, 7]),
    ];
    let bends = band(beside, Shape::Loop, Shape::Flat);
    check_picture("tests/golden/bends.png", &bends);
}

#[test]
fn the_strands_look_as_they_did() {
    let band = slipway();
    let pages = strands::pages(&Tied::of(band), &strands::ChartOptions::default());
    check_picture(
        "tests/golden/strands.png",
        &painted(&pages.expect("small")[0], 0.7),
    );
}

#[test]
fn the_knots_look_as_they_did() {
    let pages = knots::pages(&Tied::of(slipway()), &knots::KnotChartOptions::default());
    check_picture(
        "tests/golden/knots.png",
        &painted(&pages.expect("small")[0], 0.7),
    );
}

#[test]
fn the_hanging_threads_look_as_they_did() {
    let band = slipway();
    let svg = order::svg(&Tied::of(band));
    check_picture("tests/golden/order.png", &painted(&svg, 0.7));
}

#[test]
fn a_difference_is_found_and_shown() {
    let square = |colour: Srgb| {
        let svg = format!(
            r#"<svg xmlns="http://www.w3.org/2000/svg" width="2" height="2"><rect width="2" height="2" fill="{colour}"/></svg>"#
        );
        Pixels::of_png(&painted(&svg, 1.0))
    };
    let (one, near, far) = (
        square(Srgb::new(100, 100, 100)),
        square(Srgb::new(101, 99, 100)),
        square(Srgb::new(100, 140, 100)),
    );
    assert_eq!(difference(&one, &near), None);
    let three = difference(&one, &far).expect("they differ");
    assert_eq!((three.width, three.height), (6, 2));
    let shown = [0, 2, 4].map(|x| three.at(x, 0).expect("inside"));
    assert_eq!(
        shown,
        [
            [100, 100, 100, 255],
            [100, 140, 100, 255],
            [120, 120, 120, 255]
        ]
    );
}
