//! The maker's sheet as a page and as PDF, read back with a general PDF reader and held
//! against published sizes and contrasts.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb, built_in_palettes, contrast, cyclic_gradient};
use hitchwork_core::knot::Kind;
use hitchwork_core::tied::Tied;
use hitchwork_draw::font;
use hitchwork_draw::pdf::{self, Paper};
use hitchwork_draw::{html, text};
use hitchwork_rules::{Rules, Settings};
use hitchwork_tests::made;
use hitchwork_tests::published::{cases, each};
use lopdf::{Document, Object, content::Content};
use serde::Deserialize;

fn of_rule(name: &str, settings: &Settings) -> Tied {
    let rules = Rules::new();
    let rule = rules.built_in(name).expect("built in");
    Tied::of(rules.make(&rule, settings).expect("a band").band)
}

fn drift(threads: u16) -> Tied {
    of_rule("drift", &Settings::new().set("threads", threads))
}

fn printed(tied: &Tied, paper: Paper) -> Document {
    let bytes = pdf::sheet(tied, paper).expect("pages");
    Document::load_mem(&bytes).expect("a PDF that others can read")
}

/// The words of every page, spaces made one.
fn pages(tied: &Tied, paper: Paper) -> Vec<String> {
    let bytes = pdf::sheet(tied, paper).expect("pages");
    let pages = pdf_extract::extract_text_from_mem_by_pages(&bytes).expect("words");
    let one = |text: &String| text.split_whitespace().collect::<Vec<_>>().join(" ");
    pages.iter().map(one).collect()
}

fn letters(text: &str) -> String {
    text.chars()
        .filter(|character| !character.is_whitespace())
        .collect()
}

fn number(object: &Object) -> f64 {
    match object {
        Object::Integer(number) => *number as f64,
        Object::Real(number) => f64::from(*number),
        other => panic!("{other:?} is not a number"),
    }
}

#[test]
fn the_paper_has_its_standard_size() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        width_pt: f64,
        height_pt: f64,
    }
    each("paper_sizes", "pages that are printed", |case: Case| {
        let paper = match case.id.as_str() {
            "A4" => Paper::A4,
            "Letter" => Paper::Letter,
            _ => return false,
        };
        let document = printed(&drift(6), paper);
        for page in document.get_pages().values() {
            let page = document.get_dictionary(*page).expect("a page");
            let media = page
                .get(b"MediaBox")
                .and_then(Object::as_array)
                .expect("a size");
            let sides: Vec<f64> = media.iter().map(number).collect();
            assert!(
                (sides[2] - sides[0] - case.width_pt).abs() < 0.01,
                "{sides:?}"
            );
            assert!(
                (sides[3] - sides[1] - case.height_pt).abs() < 0.01,
                "{sides:?}"
            );
        }
        true
    });
}

/// A size in points at which small letters are so many millimetres high.
fn points_for(x_height_mm: f64, x_height_over_em: f64) -> f64 {
    x_height_mm / x_height_over_em * 72.0 / 25.4
}

#[test]
fn every_word_of_the_sheet_is_printed_large_enough_to_read() {
    #[derive(Deserialize)]
    struct Size {
        x_height_mm: f64,
        x_height_over_em: f64,
        font_size_pt: f64,
    }
    for case in cases::<Size>("font_size_from_xheight") {
        let points = points_for(case.x_height_mm, case.x_height_over_em);
        assert!((points - case.font_size_pt).abs() < 1e-3);
    }
    #[derive(Deserialize)]
    struct Limit {
        id: String,
        value: serde_json::Value,
    }
    let mut limits = BTreeMap::new();
    each(
        "print_legibility",
        "sizes of printed letters",
        |limit: Limit| {
            let used = ["eu-fic-xheight", "eu-fic-xheight-small"].contains(&limit.id.as_str());
            if used {
                limits.insert(limit.id, limit.value.as_f64().expect("millimetres"));
            }
            used
        },
    );
    let of = |id: &str| limits[id];
    let face = ttf_parser::Face::parse(font::REGULAR, 0).expect("a font");
    let x_height = f64::from(face.x_height().expect("given")) / f64::from(face.units_per_em());
    // Running text keeps the usual limit, words inside pictures that for small surfaces.
    let (text, small) = (
        points_for(of("eu-fic-xheight"), x_height),
        points_for(of("eu-fic-xheight-small"), x_height),
    );
    let document = printed(&drift(10), Paper::A4);
    let mut sizes: Vec<f64> = Vec::new();
    for page in document.get_pages().values() {
        sizes.extend(sizes_of_words(&document, *page));
    }
    let least = sizes.iter().copied().fold(f64::INFINITY, f64::min);
    assert!(
        least >= small,
        "{least:.2} points are too small; {small:.2} is the least"
    );
    let large_enough = sizes.iter().filter(|size| **size >= text).count();
    assert!(
        large_enough * 10 >= sizes.len() * 5,
        "{large_enough} of {}",
        sizes.len()
    );
}

/// The size in points of every piece of text on a page: its font size under the scale in
/// force.
fn sizes_of_words(document: &Document, page: lopdf::ObjectId) -> Vec<f64> {
    let content = document.get_page_content(page).expect("a page");
    let content = Content::decode(&content).expect("operators");
    let (mut scale, mut stack, mut size, mut text_scale) = (1.0_f64, Vec::new(), 0.0, 1.0);
    let mut sizes = Vec::new();
    // How much a matrix enlarges: the length of the image of a unit upright.
    let enlarges = |operands: &[Object]| {
        let (c, d) = (number(&operands[2]), number(&operands[3]));
        libm::hypot(c, d)
    };
    for operation in &content.operations {
        match operation.operator.as_str() {
            "q" => stack.push(scale),
            "Q" => scale = stack.pop().expect("every Q has its q"),
            "cm" => scale *= enlarges(&operation.operands),
            "Tf" => size = number(&operation.operands[1]),
            "Tm" => text_scale = enlarges(&operation.operands),
            "Tj" | "TJ" => sizes.push(size * text_scale * scale),
            _ => {}
        }
    }
    assert!(!sizes.is_empty(), "there are words on the page");
    sizes
}

#[test]
fn the_words_are_words_in_letters_that_are_inside() {
    let tied = drift(10);
    let document = printed(&tied, Paper::A4);
    let all = letters(&pages(&tied, Paper::A4).concat());
    let steps = tied.steps();
    for row in &steps.rows {
        for run in &row.runs {
            // Chips part number and name with a space and not a comma.
            let (number, colour) = (run.thread, &run.colour);
            let words = run.words().replace(
                &format!("{number}, {colour}"),
                &format!("{number} {colour}"),
            );
            assert!(all.contains(&letters(&words)), "{words}");
        }
    }
    let sentences = [
        &steps.start,
        &steps.finish,
        &steps.cuts,
        &steps.cautions,
        &steps.measures,
    ];
    for sentence in sentences
        .into_iter()
        .flatten()
        .chain([&steps.stop, &steps.origin])
    {
        assert!(all.contains(&letters(sentence)), "{sentence}");
    }
    let mut fonts = 0;
    for object in document.objects.values() {
        let Ok(dictionary) = object.as_dict() else {
            continue;
        };
        if dictionary
            .get_type()
            .is_ok_and(|kind| kind == b"FontDescriptor")
        {
            let name = dictionary
                .get(b"FontName")
                .and_then(Object::as_name)
                .expect("a name");
            assert_eq!(
                name.iter().position(|byte| *byte == b'+'),
                Some(6),
                "a subset says so"
            );
            assert!(dictionary.has(b"FontFile2") || dictionary.has(b"FontFile3"));
            fonts += 1;
        }
    }
    assert_eq!(fonts, 2);
}

#[test]
fn pictures_are_drawn_in_lines_and_not_in_dots() {
    let document = printed(&drift(8), Paper::A4);
    let dots = document.objects.values().filter(|object| {
        let stream = object.as_stream();
        stream.is_ok_and(|stream| {
            stream
                .dict
                .get(b"Subtype")
                .and_then(Object::as_name)
                .is_ok_and(|kind| kind == b"Image")
        })
    });
    assert_eq!(dots.count(), 0);
}

#[test]
fn a_row_stays_with_the_order_to_check_it_by() {
    let bands = [
        drift(10),
        drift(18),
        of_rule("hearts", &Settings::new()),
        of_rule("harbour_wall", &Settings::new()),
        of_rule("tide_table", &Settings::new()),
    ];
    let papers = [Paper::A4, Paper::Letter].into_iter().cycle();
    for (tied, paper) in bands.into_iter().zip(papers) {
        let pages = pages(&tied, paper);
        let (mut rows, mut orders) = (0, 0);
        for (index, page) in pages.iter().enumerate() {
            let on_page = page.matches("(repeat)").count();
            let checks = page.matches("Order now:").count();
            let all_are_checked = tied.steps().moves_threads();
            assert!(
                checks == on_page || !all_are_checked,
                "page {} of {}",
                index + 1,
                tied.steps().title
            );
            rows += on_page;
            orders += checks;
        }
        let said = &tied.steps().said;
        assert_eq!(rows, said.len());
        let checked = said.iter().filter(|said| said.order_after.is_some());
        assert_eq!(orders, checked.count());
    }
}

/// No page begins with the words that end a list, none holds the origin of the band alone, and
/// what to be careful with comes before the first cut.
#[test]
fn no_page_is_begun_or_left_by_a_line_of_another() {
    for threads in [6, 9, 10, 14] {
        let tied = drift(threads);
        let papers: &[Paper] = match threads {
            10 => &[Paper::A4, Paper::Letter],
            _ => &[Paper::A4],
        };
        for &paper in papers {
            let pages = pages(&tied, paper);
            let steps = tied.steps();
            for page in &pages {
                for ending in [&steps.comes_round, &steps.cutting, &steps.origin] {
                    let begins: String = letters(ending).chars().take(24).collect();
                    assert!(
                        !letters(page).starts_with(&begins),
                        "{threads} threads: {ending}"
                    );
                }
            }
            let all = pages.concat();
            let at = |words: &str| all.find(words).unwrap_or_else(|| panic!("{words}"));
            assert!(at("Take care") < at("Cut"));
            assert!(at("Order now:") < at("Finish") && at("Finish") < at("The rows as a chart"));
        }
    }
}

#[test]
fn a_row_longer_than_a_page_keeps_its_last_step_with_its_order() {
    // The last knot waits for others, so that the row is told step by step.
    let brick = made::brick(Kind::Forward, 200).remove(0);
    let rows = vec![brick.then(&made::run(Kind::Forward, [150]))];
    let tied = made::as_written(made::band(200, rows, 2));
    let pages = pages(&tied, Paper::Letter);
    let with_order = pages.iter().find(|page| page.contains("Order now:"));
    let last = tied.steps().rows[0].runs.last().expect("a run").words();
    let with_order = letters(with_order.expect("printed"));
    assert!(
        with_order.contains(&letters(&last).replace(',', "")[..10]),
        "{last}"
    );
    assert!(with_order.contains("101."), "the number of the last step");
}

#[test]
fn pages_have_numbers_and_readers_find_their_way() {
    let tied = drift(10);
    let document = printed(&tied, Paper::A4);
    let pages = pages(&tied, Paper::A4);
    for (index, page) in pages.iter().enumerate() {
        let number = format!("{}of{}", index + 1, pages.len());
        assert!(
            letters(page).ends_with(&number) || letters(page).contains(&number),
            "{page}"
        );
    }
    let names: Vec<String> = {
        let toc = document.get_toc().expect("bookmarks");
        toc.toc.into_iter().map(|entry| entry.title).collect()
    };
    assert_eq!(
        names,
        [
            "Take care",
            "Cut",
            "The knots of this band",
            "Start",
            "Tie",
            "The next repeats",
            "Finish",
            "The rows as a chart of strands"
        ]
    );
    let catalog = document.catalog().expect("a catalogue");
    let language = catalog
        .get(b"Lang")
        .and_then(Object::as_str)
        .expect("a language");
    assert_eq!(language, b"en");
    let info = document
        .trailer
        .get(b"Info")
        .and_then(Object::as_reference)
        .expect("facts");
    let info = document.get_dictionary(info).expect("facts");
    let title = lopdf::decode_text_string(info.get(b"Title").expect("a title")).expect("text");
    assert_eq!(title, tied.steps().title);
}

#[test]
fn the_same_band_gives_the_same_bytes() {
    let (one, two) = (drift(9), drift(9));
    for paper in [Paper::A4, Paper::Letter] {
        assert!(pdf::sheet(&one, paper).expect("pages") == pdf::sheet(&two, paper).expect("pages"));
    }
    let page = |tied: &Tied| html::sheet(tied).expect("a page");
    assert_eq!(page(&one), page(&two));
}

#[test]
fn whatever_a_band_is_called_its_sheets_are_written() {
    let long = "tide".repeat(23);
    for name in [
        "<b>&</b>",
        "\u{202e}ebb\u{202c}",
        "שפל וגאות",
        "ebb\u{0}\u{7}\u{1b}flow",
        "潮の満ち引き",
        "\u{fffe}x",
        &long,
    ] {
        let tied = Tied::of(
            Band::new(BandParts {
                title: name.to_owned(),
                notes: format!("{name}\n{name}"),
                palette: vec![
                    Colour::new(name, Srgb::new(20, 120, 140)),
                    Colour::new(format!("{name} too"), Srgb::new(240, 190, 60)),
                ],
                threads: vec![0, 1, 1],
                repeat: vec![made::run(Kind::Forward, 1..3)],
                repeats: 4,
                ..BandParts::default()
            })
            .expect("a band"),
        );
        assert!(!pages(&tied, Paper::A4).is_empty());
        let page = html::sheet(&tied).expect("a page");
        for never in ["<b>&</b>", "\u{202e}", "\u{0}", "\u{fffe}"] {
            assert!(!page.contains(never), "{name:?}");
        }
    }
}

#[test]
fn a_band_that_is_too_large_for_a_page_is_refused_and_written_as_text() {
    let rows: Vec<_> = (0..400)
        .flat_map(|_| made::brick(Kind::Forward, 200))
        .collect();
    let tied = made::as_written(made::band(200, rows, 1));
    let refused = html::sheet(&tied).expect_err("79,600 knots");
    assert!(refused.is_too_large());
    assert!(refused.to_string().contains("79600 knots"), "{refused}");
    assert!(refused.help().is_some_and(|help| help.contains("text")));
    assert!(pdf::sheet(&tied, Paper::A4).is_err_and(|error| error.is_too_large()));
    assert!(text::sheet(&tied).contains("Row 800 of 800"));
}

#[test]
fn every_chip_on_every_palette_can_be_read() {
    for palette in built_in_palettes() {
        for count in [palette.colours.len(), 24] {
            let colours = cyclic_gradient(&palette, count).expect("a gradient");
            let threads = u16::try_from(count).expect("few");
            let tied = Tied::of(
                Band::new(BandParts {
                    palette: colours.into_iter().collect(),
                    threads: (0..threads).collect(),
                    repeat: vec![made::run(Kind::Forward, 1..threads)],
                    repeats: 2,
                    ..BandParts::default()
                })
                .expect("a band"),
            );
            let page = html::sheet(&tied).expect("a page");
            let mut chips = 0;
            for rule in page
                .split(".c")
                .skip(1)
                .filter(|rule| rule.starts_with(|first: char| first.is_ascii_digit()))
            {
                let Some((_, rest)) = rule.split_once("{background:") else {
                    continue;
                };
                let (ground, rest) = rest.split_once(";color:").expect("ink");
                let colour = |text: &str| text[..7].parse::<Srgb>().expect("a colour");
                let found = contrast(colour(ground), colour(rest));
                // WCAG 2.2, success criterion 1.4.3.
                assert!(found >= 4.5, "{rule}: {found:.2}");
                chips += 1;
            }
            assert_eq!(chips, count, "{}", palette.name);
        }
    }
}

#[test]
fn every_text_of_the_page_can_be_read_by_day_and_by_night() {
    let tied = drift(4);
    let page = html::sheet(&tied).expect("a page");
    let schemes: Vec<&str> = page.split(":root {").skip(1).collect();
    assert_eq!(schemes.len(), 3, "light, dark and paper");
    let mut seen = BTreeSet::new();
    for scheme in schemes {
        let colour = |name: &str| {
            let (_, rest) = scheme
                .split_once(&format!("--{name}: "))
                .expect("set in every scheme");
            rest[..7].parse::<Srgb>().expect("a colour")
        };
        let on = |scheme_has: bool, ink: &str, grounds: &[&str], least: f64| {
            for ground in grounds.iter().filter(|_| scheme_has) {
                let found = contrast(colour(ink), colour(ground));
                assert!(found >= least, "{ink} on {ground}: {found:.2}");
            }
        };
        on(true, "ink", &["paper", "card"], 7.0);
        on(true, "quiet", &["paper", "card"], 4.5);
        on(true, "sea", &["paper", "card"], 4.5);
        let screen = scheme
            .split('}')
            .next()
            .is_some_and(|block| block.contains("--wash"));
        on(screen, "ink", &["wash"], 4.5);
        on(screen, "on-sea", &["sea"], 4.5);
        seen.insert(colour("paper").to_string());
    }
    assert!(seen.len() >= 2);
}

/// A picture in pairs is printed on few pages, with all of its rows.
#[test]
fn pictures_in_pairs_fit_four_pages() {
    for name in ["hearts", "boats", "stars", "lighthouse"] {
        let tied = of_rule(name, &Settings::new());
        // Of the papers, Letter is the lower.
        let pages = pages(&tied, Paper::Letter);
        assert!(pages.len() <= 4, "{name}: {} pages", pages.len());
        let all = letters(&pages.concat());
        for said in &tied.steps().said {
            let words = said.words.as_ref().expect("every row is one line");
            let line = letters(&(said.heading() + words.as_str()));
            assert!(all.contains(&line), "{name}: {line}");
        }
    }
}
