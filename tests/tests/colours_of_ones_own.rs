//! The stash, palettes from files, gradients: what people give, good and bad.

use std::collections::BTreeSet;

use hitchwork_core::Error;
use hitchwork_core::colour::{
    Apart, Colour, Course, Gradient, Owned, Palette, PaletteFormat, Srgb, Stash, Vision, Way,
    built_in_palettes, choose_threads, cyclic_gradient, difference, match_threads, shopping,
    smoothest_order,
};
use hitchwork_tests::by_chance::cases;
use proptest::prelude::*;

fn refused(table: &str) -> String {
    let error = Stash::read(table.as_bytes()).expect_err("it cannot be read");
    assert!(error.is_listing() && error.help().is_some());
    error.to_string()
}

fn stash(bytes: &[u8]) -> Vec<Owned> {
    Stash::read(bytes).expect("a stash").threads().to_vec()
}

fn grey(level: u8) -> Srgb {
    Srgb::new(level, level, level)
}

#[test]
fn a_stash_is_read_however_a_spreadsheet_wrote_it() {
    let plain = stash(b"name,colour,code,left,tex\nlagoon,#23979f,A12,7.5,250\nplum,#984a8a,,,\n");
    assert_eq!(plain[0].code.as_deref(), Some("A12"));
    assert_eq!((plain[0].left_m, plain[0].tex), (Some(7.5), Some(250.0)));
    let text = "Name;Color;Code;Length left (m);TEX\r\n\"lagoon\";23979F;A12;7,5;250\r\n\r\nplum;#984A8A;;;\r\n";
    assert_eq!(stash(text.as_bytes()), plain);
    assert_eq!(stash(format!("\u{feff}{text}").as_bytes()), plain);
    assert_eq!(stash(text.replace("\r\n", "\r").as_bytes()), plain);
    assert_eq!(stash(text.replace(';', "\t").as_bytes()), plain);
    let wide = |order: fn(u16) -> [u8; 2]| -> Vec<u8> {
        let marked = format!("\u{feff}{text}");
        marked.encode_utf16().flat_map(order).collect()
    };
    assert_eq!(stash(&wide(u16::to_le_bytes)), plain);
    assert_eq!(stash(&wide(u16::to_be_bytes)), plain);
    let in_cm = stash(b"name,hex,left cm\nlagoon,#abc,750\n");
    assert_eq!(in_cm[0].left_m, Some(7.5));
    assert_eq!(in_cm[0].srgb, Srgb::new(0xaa, 0xbb, 0xcc));
}

#[test]
fn a_stash_that_is_wrong_says_in_which_line_and_what_to_do() {
    assert_eq!(refused(""), "the stash is empty");
    assert_eq!(refused("\n \n"), "the stash is empty");
    assert_eq!(refused("name,colour\n"), "the stash lists no thread");
    assert_eq!(
        refused("lagoon,#23979f\n"),
        "line 1 names no column \"name\"; it reads \"lagoon, #23979f\""
    );
    assert_eq!(
        refused("name,colour\nlagoon,#23979f\nplum,#98zz8a\n"),
        "line 3: \"#98zz8a\" is not a colour"
    );
    assert_eq!(
        refused("name,colour\nlagoon,#é39\nplum,\n"),
        "line 2: \"#é39\" is not a colour; line 3: \"plum\" has no colour"
    );
    assert_eq!(
        refused("name,colour\nlagoon,#23979f\nplum,#984a8a\nLagoon,#23979f\n"),
        "line 4: \"Lagoon\" is the name of line 2 too"
    );
    assert_eq!(
        refused("name,colour\n,#23979f\n"),
        "line 2: the thread has no name"
    );
    for wrong in ["NaN", "inf", "-1", "1e300", "much"] {
        assert_eq!(
            refused(&format!("name,colour,left\nlagoon,#23979f,{wrong}\n")),
            format!("line 2: \"{wrong}\" cannot be a length left")
        );
    }
    let many = format!("name,colour\n{}", "x,red\n".repeat(30));
    assert!(refused(&many).ends_with("; and 25 more"));
    let latin = Stash::read(b"name,colour\nros\xe9,#984a8a\n").expect_err("not UTF-8");
    assert_eq!(
        latin.to_string(),
        "line 2 holds a character that is not UTF-8"
    );
}

#[test]
fn columns_that_mean_nothing_are_told_and_threads_used_up_are_left_out() {
    let stash = Stash::read(b"name,colour,shelf,left\nlagoon,#23979f,2,0\nplum,#984a8a,1,\n");
    let stash = stash.expect("a stash");
    assert_eq!(stash.ignored_columns(), ["shelf"]);
    let names: Vec<String> = stash
        .in_hand()
        .into_iter()
        .map(|thread| thread.name)
        .collect();
    assert_eq!(names, ["plum"]);
}

#[test]
fn a_hundred_thousand_threads_are_read_and_matched() {
    let mut table = "name;colour\n".to_owned();
    for number in 0..100_000_u32 {
        let value = number.wrapping_mul(2_654_435_761) >> 8;
        table.push_str(&format!("skein {number};#{value:06x}\n"));
    }
    let owned = stash(table.as_bytes());
    let wanted = cyclic_gradient(&built_in_palettes()[0], 12).expect("twelve colours");
    let matching = match_threads(&wanted, &owned).expect("enough threads");
    assert!(matching.worst < 3.0);
    assert_eq!(
        choose_threads(&owned, 6, Apart::By(20.0))
            .expect("enough")
            .threads
            .len(),
        6
    );
}

#[test]
fn too_few_threads_are_said_and_identical_ones_are_no_trouble() {
    let owned: Vec<Owned> = (0..5)
        .map(|number| Owned::new(format!("skein {number}"), grey(90)))
        .collect();
    let wanted = cyclic_gradient(&built_in_palettes()[0], 6).expect("six colours");
    let too_few = |error: Error| assert!(error.is_too_few_threads() && error.help().is_some());
    too_few(match_threads(&wanted, &owned).expect_err("five for six"));
    too_few(choose_threads(&owned, 6, Apart::By(1.0)).expect_err("five for six"));
    too_few(choose_threads(&owned, 3, Apart::By(1.0)).expect_err("all alike"));
    too_few(match_threads(&wanted, &[]).expect_err("none for six"));
    assert!(choose_threads(&owned, 3, Apart::By(f64::NAN)).is_err());
    assert!(shopping(&wanted, &owned, f64::INFINITY).is_err());
    assert!(match_threads(&[], &owned).is_err());
    assert!(smoothest_order(&[], true).is_err());
    assert_eq!(
        choose_threads(&owned, 3, Apart::By(0.0))
            .expect("any three")
            .total,
        0.0
    );
    assert_eq!(
        smoothest_order(&[grey(7); 30], true)
            .expect("an order")
            .total,
        0.0
    );
    let list = shopping(&wanted, &[], 3.0).expect("a list");
    assert_eq!((list.have.len(), list.buy.len()), (0, 6));
    assert!(list.buy.iter().all(|missing| missing.alternative.is_none()));
}

#[test]
fn palettes_that_are_wrong_say_why() {
    let says = |text: &str, format| {
        let error = Palette::read("own", text.as_bytes(), format).expect_err("no palette");
        assert!(error.is_listing() && error.help().is_some());
        error.to_string()
    };
    assert_eq!(
        says("", PaletteFormat::Gpl),
        "line 1 is not \"GIMP Palette\""
    );
    assert_eq!(
        says("GIMP Palette\n#\n", PaletteFormat::Gpl),
        "the palette has no colours"
    );
    assert_eq!(
        says("GIMP Palette\n1 2 300 sand\n", PaletteFormat::Gpl),
        "line 2: \"1 2 300 sand\" does not begin with a colour"
    );
    assert_eq!(
        says("name,colour\nsand,#zzz\n", PaletteFormat::Csv),
        "line 2: \"#zzz\" is not a colour"
    );
    assert_eq!(
        says("name,colour\nsand,#aaa\nsand,#bbb\n", PaletteFormat::Csv),
        "two colours of the palette are both called \"sand\""
    );
    let toml = says(
        "name = \"ebb\"\n\n[[colours]]\nname = \"mud\"\nsrgb = \"brown\"\n",
        PaletteFormat::Toml,
    );
    assert!(
        toml.starts_with("line 5: \"brown\" is not a colour"),
        "{toml}"
    );
    let toml = says("colours = []\nshade = 1\n", PaletteFormat::Toml);
    assert!(toml.contains("shade"), "{toml}");
}

#[test]
fn there_and_back_is_its_own_mirror_and_names_every_colour_once() {
    let tide = built_in_palettes().swap_remove(0);
    for count in 2..=24 {
        let colours = Gradient::new(tide.colours.clone())
            .course(Course::ThereAndBack)
            .colours(count)
            .expect("a gradient");
        assert_eq!(colours.len(), count);
        for at in 1..count {
            assert_eq!(colours[at], colours[count - at]);
        }
        if count % 2 == 0 {
            assert_eq!(colours.get(count / 2), tide.colours.last());
        }
    }
}

/// Two values once fell on two words that were spelt alike, and a numbered name met a third.
#[test]
fn colours_that_once_shared_a_name_are_named_apart() {
    let cases = [
        (vec!["#a48400", "#d66e00"], 11),
        (vec!["#d66e00", "#ff8c00", "#a48400"], 30),
    ];
    for (stops, count) in cases {
        let stops = stops
            .iter()
            .map(|hex| hex.parse::<Srgb>().expect("a colour"));
        let gradient = Gradient::through(stops).course(Course::Open);
        check_named_apart(&gradient.colours(count).expect("a gradient"));
    }
}

/// Stops of a palette may bear one name, and even one with a number that is given out.
#[test]
fn stops_that_share_a_name_are_numbered_past_the_names_that_stand() {
    let stops = [("reef", 10), ("reef", 90), ("reef 2", 170), ("reef", 250)];
    let stops = stops.map(|(name, level)| Colour::new(name, grey(level)));
    for count in [4, 7, 10, 25] {
        let gradient = Gradient::new(stops.to_vec()).course(Course::Open);
        check_named_apart(&gradient.colours(count).expect("a gradient"));
    }
}

fn check_named_apart(colours: &[Colour]) {
    let names: BTreeSet<&str> = colours.iter().map(|colour| colour.name.as_str()).collect();
    let values: BTreeSet<Srgb> = colours.iter().map(|colour| colour.srgb).collect();
    let both: BTreeSet<&Colour> = colours.iter().collect();
    assert_eq!(names.len(), both.len(), "{colours:?}");
    assert_eq!(values.len(), both.len(), "{colours:?}");
}

/// Blue and yellow both lie at the edge of the gamut, and the way between them outside.
#[test]
fn what_leaves_the_gamut_keeps_its_hue() {
    let blue_to_yellow = [Srgb::new(0, 0, 255), Srgb::new(255, 255, 0)];
    for way in [Way::ShorterHue, Way::LongerHue] {
        let gradient = Gradient::through(blue_to_yellow)
            .way(way)
            .course(Course::Open);
        let hues: Vec<f64> = gradient
            .colours(40)
            .expect("a gradient")
            .iter()
            .map(|colour| {
                let [_, a, b] = colour.srgb.oklab();
                libm::atan2(b, a).to_degrees()
            })
            .collect();
        // Round the hues, one way only: every turn has the same sign, to within rounding.
        let turns = hues
            .windows(2)
            .map(|two| (two[1] - two[0] + 540.0).rem_euclid(360.0) - 180.0);
        let turns: Vec<f64> = turns.collect();
        let one_way = turns.iter().sum::<f64>().signum();
        assert!(
            turns.iter().all(|turn| turn * one_way > -1.0),
            "{way:?}: {turns:?}"
        );
    }
}

fn value() -> impl Strategy<Value = Srgb> {
    any::<[u8; 3]>().prop_map(|[red, green, blue]| Srgb::new(red, green, blue))
}

proptest! {
    #![proptest_config(cases(64))]

    #[test]
    fn each_colour_has_one_name_and_each_name_one_colour(stops in prop::collection::vec(value(), 2..6), count in 2_usize..40) {
        let colours = Gradient::through(stops).course(Course::Open).colours(count)?;
        prop_assert_eq!(colours.len(), count);
        check_named_apart(&colours);
    }

    /// On one leg there is no corner, and chords are nearly as long as arcs.
    #[test]
    fn steps_between_two_colours_are_even(from in value(), to in value(), count in 6_usize..14) {
        prop_assume!(difference(from, to) > 30.0);
        let colours = Gradient::through([from, to]).course(Course::Open).colours(count)?;
        let steps: Vec<f64> = colours.windows(2).map(|two| difference(two[0].srgb, two[1].srgb)).collect();
        let mean = steps.iter().sum::<f64>() / steps.len() as f64;
        // Eight bits round each end of a step by up to half a level in three parts.
        prop_assert!(steps.iter().all(|step| (step - mean).abs() < 0.2 * mean + 1.0), "{:?}", steps);
    }

    #[test]
    fn nothing_given_as_a_stash_or_a_palette_panics(bytes in prop::collection::vec(any::<u8>(), 0..200), text in "(name|colour|,|;|\"|#|\n|\r|[0-9a-f]|\\PC){0,40}") {
        for bytes in [bytes.as_slice(), text.as_bytes()] {
            let _ = Stash::read(bytes);
            for format in [PaletteFormat::Toml, PaletteFormat::Csv, PaletteFormat::Gpl] {
                let _ = Palette::read("own", bytes, format);
            }
        }
    }

    #[test]
    fn a_shopping_list_has_every_colour_once(wanted in prop::collection::vec(value(), 1..8), owned in prop::collection::vec(value(), 0..8), within in 0.0..40.0) {
        let wanted = Colour::spoken(wanted);
        let owned: Vec<Owned> = owned.into_iter().map(|value| Owned::new("skein", value)).collect();
        let list = shopping(&wanted, &owned, within)?;
        prop_assert_eq!(list.have.len() + list.buy.len(), wanted.len());
        prop_assert!(list.have.iter().all(|pair| pair.difference <= within));
        prop_assert!(list.have.len() <= owned.len());
    }
}

#[test]
fn a_normal_eye_sees_colours_as_they_are() {
    assert_eq!(Vision::Normal.sees(Srgb::new(1, 2, 3)), Srgb::new(1, 2, 3));
}
