//! The words for colours tell the truth: makers pick thread by them.

use hitchwork_core::colour::{
    Colour, Course, Gradient, Srgb, Way, built_in_palettes, contrasting_colours, spoken_name,
};
use hitchwork_tests::by_chance::cases;
use proptest::prelude::*;

fn colour(hex: &str) -> Srgb {
    hex.parse().expect("a colour")
}

/// The value that CSS (Color Module Level 4, as the `svgtypes` crate reads it) gives to a
/// name when its words are written as one.
fn of_the_standard(words: &str) -> Option<Srgb> {
    let parsed: svgtypes::Color = words.replace(' ', "").parse().ok()?;
    Some(Srgb::new(parsed.red, parsed.green, parsed.blue))
}

/// A name without the number that tells it from others.
fn words(name: &str) -> &str {
    name.trim_end_matches(|letter: char| letter.is_ascii_digit())
        .trim_end()
}

fn chroma([_, a, b]: [f64; 3]) -> f64 {
    libm::hypot(a, b)
}

/// What speaks against a name, if anything does.
fn untrue(name: &str, value: Srgb) -> Option<String> {
    let words = words(name);
    let lab = value.oklab();
    let (first, rest) = words.split_once(' ').unwrap_or(("", words));
    let plain = of_the_standard(rest).map(Srgb::oklab);
    let wrong = match first {
        "dark" | "deep" => lab[0] > 0.72 || plain.is_some_and(|plain| lab[0] >= plain[0]),
        "light" | "pale" => lab[0] < 0.62 || plain.is_some_and(|plain| lab[0] <= plain[0]),
        "dusty" => chroma(lab) > 0.12,
        _ => false,
    };
    // Pale and dusty colours are duller than the word; so is not a deep one by much.
    let dulled = plain.map_or(0.5, |plain| chroma(lab) / chroma(plain));
    let wrong = wrong
        || match first {
            "pale" | "dusty" => {
                !rest.contains("grey") && of_the_standard(words).is_none() && dulled > 0.85
            }
            "deep" => of_the_standard(words).is_none() && plain.is_some() && dulled < 0.6,
            _ => false,
        };
    if wrong {
        return Some(format!(
            "{name} {value}: lightness {:.2}, chroma {:.2}",
            lab[0],
            chroma(lab)
        ));
    }
    // What is spelt like a colour of the standard is near it. Greys are named by lightness
    // alone: the dark grey of the standard is lighter than its grey, an old slip.
    let standard = of_the_standard(words).filter(|_| !words.ends_with("grey"))?;
    let off = |at: usize| standard.oklab()[at] - lab[at];
    let far = libm::sqrt(off(0) * off(0) + 4.0 * off(1) * off(1) + 4.0 * off(2) * off(2));
    (far > 0.3).then(|| format!("{name} {value} is {far:.2} from {standard}"))
}

/// Those of the colours whose names were given, not taken from a stop.
fn assigned<'a>(colours: &'a [Colour], stops: &[Colour]) -> Vec<&'a Colour> {
    let is_stop = |colour: &&Colour| stops.iter().all(|stop| stop.name != words(&colour.name));
    colours.iter().filter(is_stop).collect()
}

#[test]
fn names_that_once_contradicted_their_colours_are_sensible() {
    for (hex, name) in [
        ("#d2acb6", "pale rose"),
        ("#bd5b7a", "rose"),
        ("#f99c57", "apricot"),
        ("#4b8b87", "teal"),
    ] {
        assert_eq!(spoken_name(colour(hex)), name, "{hex}");
    }
}

#[test]
fn no_name_in_any_gradient_of_a_palette_contradicts_its_colour() {
    let mut looked_at = 0;
    let mut wrong = Vec::new();
    for palette in built_in_palettes() {
        for course in [Course::Cyclic, Course::Open, Course::ThereAndBack] {
            for count in [3, 5, 8, 12, 17, 24, 40, 90] {
                let gradient = Gradient::new(palette.colours.clone()).course(course);
                let colours = gradient.colours(count).expect("a gradient");
                for colour in assigned(&colours, &palette.colours) {
                    looked_at += 1;
                    wrong.extend(untrue(&colour.name, colour.srgb));
                }
            }
        }
        let loud = contrasting_colours(&palette, 20).expect("twenty colours");
        for colour in assigned(&loud, &palette.colours) {
            looked_at += 1;
            wrong.extend(untrue(&colour.name, colour.srgb));
        }
    }
    assert!(looked_at > 5_000, "{looked_at} names only");
    assert_eq!(wrong, Vec::<String>::new());
}

/// Every sixteenth level of every part: 4,913 colours all over the gamut.
#[test]
fn no_spoken_name_contradicts_its_colour() {
    let levels = || (0..=16_u16).map(|step| u8::try_from((step * 16).min(255)).expect("a byte"));
    let mut wrong = Vec::new();
    for red in levels() {
        for green in levels() {
            for value in levels().map(|blue| Srgb::new(red, green, blue)) {
                wrong.extend(untrue(&spoken_name(value), value));
            }
        }
    }
    assert_eq!(wrong, Vec::<String>::new());
}

fn value() -> impl Strategy<Value = Srgb> {
    any::<[u8; 3]>().prop_map(|[red, green, blue]| Srgb::new(red, green, blue))
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn no_name_in_a_gradient_contradicts_its_colour(
        stops in prop::collection::vec(value(), 2..6),
        count in 2_usize..60,
        round: bool,
    ) {
        let way = if round { Way::LongerHue } else { Way::Straight };
        let gradient = Gradient::through(stops).way(way).course(Course::Open);
        for colour in gradient.colours(count)? {
            prop_assert_eq!(untrue(&colour.name, colour.srgb), None);
        }
    }
}
