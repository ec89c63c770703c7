//! Colour against published figures; each file of figures in `tests/published` names its
//! source, which is repeated at the check.

use hitchwork_core::colour::{
    Course, Gradient, Sight, Srgb, Vision, ciede2000, contrast, difference, relative_luminance,
};
use hitchwork_tests::published::{cases, each};
use palette::{FromColor, Oklab, Xyz, white_point::D65};
use serde::Deserialize;

fn colour(hex: &str) -> Srgb {
    hex.parse().expect("a colour")
}

fn near(got: f64, expected: f64, tolerance: f64, what: &str) {
    assert!(
        (got - expected).abs() <= tolerance,
        "{what}: {got} is not {expected}"
    );
}

/// Sharma, Wu & Dalal, Color Research & Application 30(1) (2005) 21-30, Table 1, all 34 pairs:
/// see `published/ciede2000_sharma.json`.
#[test]
fn differences_are_those_of_the_published_pairs_and_the_same_both_ways() {
    #[derive(Deserialize)]
    struct Pair {
        id: String,
        lab1: [f64; 3],
        lab2: [f64; 3],
        de00: f64,
    }
    for pair in cases::<Pair>("ciede2000_sharma") {
        let (a, b) = (pair.lab1, pair.lab2);
        near(ciede2000(a, b), pair.de00, 1e-4, &pair.id);
        near(ciede2000(b, a), pair.de00, 1e-4, &pair.id);
    }
}

/// IEC 61966-2-1:1999 (constants from memory, matched by three libraries): see
/// `published/srgb_transfer.json`.
#[test]
fn linear_light_is_that_of_the_standard_and_comes_back() {
    #[derive(Deserialize)]
    struct Level {
        code8: u8,
        linear: f64,
    }
    for level in cases::<Level>("srgb_transfer") {
        let grey = Srgb::new(level.code8, level.code8, level.code8);
        near(grey.linear()[0], level.linear, 1e-9, "linear light");
    }
    for code in 0..=255 {
        let colour = Srgb::new(code, 255 - code, code / 2);
        assert_eq!(Srgb::from_linear(colour.linear()), colour);
    }
}

/// CIELAB of CIE 15 (ISO/CIE 11664-4:2019) and OKLab of Ottosson, A perceptual color space for
/// image processing (2020), computed by two libraries: see `published/srgb_lab_oklab.json`.
///
/// The file gives two tolerances: the wide one is for white points and matrices rounded to
/// four or five digits, as the IEC and the `palette` crate round theirs; OKLab keeps the
/// narrow one.
#[test]
fn cielab_and_oklab_are_those_of_two_libraries() {
    #[derive(Deserialize)]
    struct Values {
        hex: String,
        lab_d65: [f64; 3],
        oklab: [f64; 3],
    }
    for values in cases::<Values>("srgb_lab_oklab") {
        let colour = colour(&values.hex);
        for axis in 0..3 {
            near(
                colour.cielab()[axis],
                values.lab_d65[axis],
                0.02,
                &values.hex,
            );
            near(colour.oklab()[axis], values.oklab[axis], 1e-5, &values.hex);
        }
    }
}

/// Ottosson, A perceptual color space for image processing (2020), table of pairs of XYZ and
/// Oklab: see `published/oklab_ottosson_table.json`; and Lilley, notes on OKLab for W3C CSS
/// Color (2021; year from memory): see `published/oklab_published_pairs.json`.
#[test]
fn oklab_is_that_of_its_author_and_of_the_notes_of_its_standard() {
    #[derive(Deserialize)]
    struct Xyzs {
        xyz: [f64; 3],
        oklab_published_3dp: [f64; 3],
    }
    for case in cases::<Xyzs>("oklab_ottosson_table") {
        let [x, y, z] = case.xyz;
        let lab = Oklab::from_color(Xyz::<D65, f64>::new(x, y, z));
        for (got, expected) in [lab.l, lab.a, lab.b]
            .into_iter()
            .zip(case.oklab_published_3dp)
        {
            near(got, expected, 6e-4, &format!("{:?}", case.xyz));
        }
    }
    #[derive(Deserialize)]
    struct Pair {
        srgb: [u8; 3],
        oklab_published: [f64; 3],
    }
    for pair in cases::<Pair>("oklab_published_pairs") {
        let [red, green, blue] = pair.srgb.map(|part| part * 255);
        let lab = Srgb::new(red, green, blue).oklab();
        for (got, expected) in lab.into_iter().zip(pair.oklab_published) {
            near(got, expected, 1e-5, &format!("{:?}", pair.srgb));
        }
    }
}

/// Ottosson, A perceptual color space for image processing (2020), straight lines computed by
/// a library: see `published/oklab_gradients.json`.
///
/// Our steps are even by CIEDE2000, those of the file by parameter; so every colour of the
/// file must lie on our path: a fine gradient passes within its own fineness of it.
#[test]
fn straight_gradients_pass_through_the_published_colours() {
    #[derive(Deserialize)]
    struct Path {
        from_: String,
        to: String,
        oklab_steps: Vec<Step>,
    }
    #[derive(Deserialize)]
    struct Step {
        in_gamut: bool,
        rgb8_if_in_gamut: Option<[u8; 3]>,
    }
    for path in cases::<Path>("oklab_gradients") {
        let ends = [colour(&path.from_), colour(&path.to)];
        let fine = Gradient::through(ends)
            .course(Course::Open)
            .colours(1000)
            .expect("a gradient");
        assert!(!path.oklab_steps.is_empty(), "{}", path.from_);
        for step in &path.oklab_steps {
            // The file says of each step whether a screen can show it.
            assert_eq!(step.in_gamut, step.rgb8_if_in_gamut.is_some());
            let Some([red, green, blue]) = step.rgb8_if_in_gamut else {
                continue;
            };
            let off = |colour: &Srgb| {
                let parts = [
                    (colour.red, red),
                    (colour.green, green),
                    (colour.blue, blue),
                ];
                parts
                    .map(|(got, wanted)| got.abs_diff(wanted))
                    .into_iter()
                    .max()
            };
            let nearest = fine.iter().map(|colour| off(&colour.srgb)).min().flatten();
            assert!(
                nearest <= Some(1),
                "{} to {}: {nearest:?} off",
                path.from_,
                path.to
            );
        }
    }
}

/// Machado, Oliveira & Fernandes, IEEE Transactions on Visualization and Computer Graphics
/// 15(6) (2009) 1291-1298, supplementary matrices: see `published/cvd_machado.json`.
#[test]
fn dichromacies_see_what_machado_and_others_compute() {
    #[derive(Deserialize)]
    struct Case {
        kind: String,
        deficiency: String,
        severity: f64,
        matrix_row_major: Option<[f64; 9]>,
        hex: Option<String>,
        linear_out: Option<[f64; 3]>,
        clipped_rgb8: Option<[u8; 3]>,
    }
    each("cvd_machado", "what dichromats see", |case: Case| {
        let vision = match case.deficiency.as_str() {
            "Protanopia" => Vision::Protanopia,
            "Deuteranopia" => Vision::Deuteranopia,
            "Tritanopia" => Vision::Tritanopia,
            _ => return false,
        };
        if case.severity < 1.0 {
            return false;
        }
        if let ("matrix", Some(matrix)) = (case.kind.as_str(), case.matrix_row_major) {
            for column in 0..3 {
                let mut light = [0.0; 3];
                light[column] = 1.0;
                for (row, got) in vision.sees_light(light).into_iter().enumerate() {
                    near(got, matrix[row * 3 + column], 1e-9, &case.deficiency);
                }
            }
            return true;
        }
        let (Some(hex), Some(linear), Some(rgb8)) = (case.hex, case.linear_out, case.clipped_rgb8)
        else {
            return false;
        };
        for (got, expected) in vision
            .sees_light(colour(&hex).linear())
            .into_iter()
            .zip(linear)
        {
            near(got, expected, 1e-5, &hex);
        }
        let seen = vision.sees(colour(&hex));
        for (got, expected) in [seen.red, seen.green, seen.blue].into_iter().zip(rgb8) {
            assert!(got.abs_diff(expected) <= 1, "{hex}: {seen} is not {rgb8:?}");
        }
        true
    });
}

/// W3C, Web Content Accessibility Guidelines 2.0 (2008) to 2.2 (2023), definitions of relative
/// luminance and contrast ratio, success criterion 1.4.3: see `published/wcag_contrast.json`.
#[test]
fn contrast_is_that_of_the_guidelines() {
    #[derive(Deserialize)]
    struct Case {
        a: String,
        b: String,
        luminance_a: f64,
        contrast: f64,
        aa_text: bool,
    }
    for case in cases::<Case>("wcag_contrast") {
        let (a, b) = (colour(&case.a), colour(&case.b));
        near(relative_luminance(a), case.luminance_a, 1e-5, &case.a);
        near(contrast(a, b), case.contrast, 1e-5, &case.a);
        assert_eq!(contrast(a, b) >= 4.5, case.aa_text);
    }
}

/// Stone, Szafir & Setlur, Color and Imaging Conference 22 (2014) 253-258: see
/// `published/jnd_size_model.json`.
#[test]
fn the_noticeable_difference_grows_as_published_when_things_get_small() {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Case {
        Threshold {
            p: f64,
            size_deg: f64,
            #[serde(rename = "dL")]
            lightness: f64,
            da: f64,
            db: f64,
        },
        Angle {
            object_mm: f64,
            distance_cm: f64,
            visual_angle_deg: f64,
        },
        Coefficients {
            #[serde(rename = "A")]
            at_any_size: Axes,
            #[serde(rename = "B")]
            over_size: Axes,
            valid_size_deg: [f64; 2],
        },
    }
    #[derive(Deserialize)]
    struct Axes {
        #[serde(rename = "L")]
        lightness: f64,
        a: f64,
        b: f64,
    }
    for case in cases::<Case>("jnd_size_model") {
        match case {
            Case::Threshold {
                p,
                size_deg,
                lightness,
                da,
                db,
            } => {
                let got = Sight::of_degrees(size_deg).noticeable(p);
                for (got, expected) in got.into_iter().zip([lightness, da, db]) {
                    near(got, expected, 2e-5, "noticeable difference");
                }
            }
            Case::Angle {
                object_mm,
                distance_cm,
                visual_angle_deg,
            } => {
                let got = Sight::of_mm(object_mm, distance_cm * 10.0).degrees();
                near(got, visual_angle_deg, 1e-5, "angle");
            }
            // A difference of p (A + B/size): read off from both ends of the sizes tried.
            Case::Coefficients {
                at_any_size,
                over_size,
                valid_size_deg: [small, large],
            } => {
                let [at_small, at_large] =
                    [small, large].map(|degrees| Sight::of_degrees(degrees).noticeable(1.0));
                let expected = [
                    (at_any_size.lightness, over_size.lightness),
                    (at_any_size.a, over_size.a),
                    (at_any_size.b, over_size.b),
                ];
                for (axis, (constant, slope)) in expected.into_iter().enumerate() {
                    let found = (at_small[axis] - at_large[axis]) / (1.0 / small - 1.0 / large);
                    near(found, slope, 1e-9, "what grows as things get small");
                    near(
                        at_large[axis] - found / large,
                        constant,
                        1e-9,
                        "what is left",
                    );
                }
            }
        }
    }
}

/// Ghinea et al. (2010) and Paravina et al. (2015, from memory): see
/// `published/jnd_thresholds.json`.
///
/// What is told apart at the size of a knot must lie above every published limit for large
/// patches, side by side.
#[test]
fn what_is_told_apart_on_thread_is_accepted_as_different_on_large_patches() {
    #[derive(Deserialize)]
    struct Limit {
        metric: String,
        kind: String,
        value: serde_json::Value,
    }
    let mut limits: Vec<f64> = Vec::new();
    each(
        "jnd_thresholds",
        "limits for large patches",
        |limit: Limit| {
            let values = match limit.value {
                serde_json::Value::Array(values) => values,
                value => vec![value],
            };
            let used = limit.metric == "CIEDE2000" && limit.kind.contains("50:50");
            if used {
                limits.extend(values.iter().map(|value| value.as_f64().expect("a number")));
            }
            used
        },
    );
    let knot = Sight::of_mm(1.5, 400.0);
    let mut told = 0;
    for step in 0..60 {
        for (red, blue) in [(0, 255), (120, 200), (255, 0)] {
            let a = Srgb::new(red, 120, blue);
            let b = Srgb::new(red, 120 + step, blue);
            if knot.tells_apart(a, b, Vision::Normal) {
                told += 1;
                assert!(limits.iter().all(|limit| difference(a, b) > *limit));
            }
        }
    }
    assert!(told > 20, "{told}");
}
