//! The working chart, read back from the picture, is the braid that was tied.

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::colour::{Srgb, Vision, contrast};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Kind;
use hitchwork_core::tied::Tied;
use hitchwork_draw::ink;
use hitchwork_draw::strands::{ChartOptions, Rows, pages};
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::by_chance;
use hitchwork_tests::made::{self, colours, run, slanted_with_turns};
use proptest::prelude::*;
use roxmltree::{Document, Node};

/// Six threads with a lead-in, turning knots and a lead-out.
fn skerries() -> Band {
    let repeat = vec![
        run(Kind::Forward, [1, 5]),
        run(Kind::ForwardBackward, [2]),
        run(Kind::BackwardForward, [4]),
        run(Kind::Backward, [3, 2]),
    ];
    Band::new(BandParts {
        palette: colours(6),
        threads: (0..6).collect(),
        lead_in: vec![run(Kind::Forward, 1..6)],
        repeat,
        lead_out: vec![run(Kind::Backward, (1..6).rev())],
        repeats: 14,
        ..BandParts::default()
    })
    .expect("sound")
}

fn drift(repeats: u32) -> Band {
    made::band(10, slanted_with_turns(10, &[3, 6]), repeats)
}

fn drawn(band: &Band, options: &ChartOptions) -> Vec<String> {
    pages(&made::tied(band), options).expect("small enough")
}

fn number(node: Node<'_, '_>, name: &str) -> u16 {
    let text = node
        .attribute(name)
        .unwrap_or_else(|| panic!("{name} is there"));
    text.parse().expect("a number")
}

fn inside<'a, 'b>(
    node: Node<'a, 'b>,
    name: &'a str,
    value: &'a str,
) -> impl Iterator<Item = Node<'a, 'b>> {
    node.descendants()
        .filter(move |inner| inner.attribute(name) == Some(value))
}

/// The numbers in a group of chips, by position.
fn order_of(chips: Node<'_, '_>) -> Vec<u16> {
    let chips = inside(chips, "class", "chip").map(|chip| {
        let thread = number(chip, "data-thread");
        let words: String = chip
            .children()
            .filter(|child| child.has_tag_name("text"))
            .filter_map(|child| child.text())
            .collect();
        assert!(words.starts_with(&thread.to_string()), "{words}");
        (number(chip, "data-position"), thread)
    });
    let mut order: Vec<(u16, u16)> = chips.collect();
    order.sort_unstable();
    assert!((1..).zip(&order).all(|(at, place)| place.0 == at));
    order.into_iter().map(|place| place.1).collect()
}

/// Where a path begins and ends, from its numbers.
fn ends(path: &str) -> [(f64, f64); 2] {
    let mut at = (0.0, 0.0);
    let mut first = None;
    let starts = path
        .char_indices()
        .filter(|(_, letter)| letter.is_ascii_alphabetic());
    for (start, letter) in starts {
        let rest = &path[start + 1..];
        let end = rest.find(|letter: char| letter.is_ascii_alphabetic());
        let numbers: Vec<f64> = rest[..end.unwrap_or(rest.len())]
            .split_whitespace()
            .map(|number| number.parse().expect("a number"))
            .collect();
        match letter {
            'V' => at.1 = numbers[0],
            _ => at = (numbers[numbers.len() - 2], numbers[numbers.len() - 1]),
        }
        first.get_or_insert(at);
    }
    [first.expect("a path begins"), at]
}

/// Reads pages back: for every row its part, its number, and the order after it.
///
/// The order is carried through three times: by the crossings (Artin's generators, where
/// the strand on top and the one below change places), by the data of the strands, and by
/// where their paths begin and end on the page. They must agree with each other and with
/// the chips.
fn read(pages: &[String]) -> Vec<(String, u32, Vec<u16>)> {
    let mut rows = Vec::new();
    let mut carried: Option<Vec<u16>> = None;
    for page in pages {
        let document = Document::parse(page).expect("well-formed");
        let root = document.root_element();
        assert!(root.children().any(|child| child.has_tag_name("title")));
        for child in root.children().filter(Node::is_element) {
            match child.attribute("class") {
                Some("order") => carried = Some(order_of(child)),
                Some("row") => {
                    let before = carried.take().expect("an order stands over every row");
                    let mut order = before.clone();
                    for knot in inside(child, "class", "knot") {
                        let left = usize::from(number(knot, "data-column")) - 1;
                        let crossings: Vec<_> = knot
                            .children()
                            .filter(Node::is_element)
                            .map(|crossing| {
                                (
                                    number(crossing, "data-over"),
                                    number(crossing, "data-under"),
                                )
                            })
                            .collect();
                        for &(over, under) in &crossings {
                            let mut pair = [order[left], order[left + 1]];
                            pair.sort_unstable();
                            let mut crossed = [over, under];
                            crossed.sort_unstable();
                            assert_eq!(pair, crossed, "neighbours cross");
                            order.swap(left, left + 1);
                        }
                        if let [first, second] = crossings[..] {
                            assert_eq!(first, (second.1, second.0), "a hook goes round");
                        }
                    }
                    let strands: Vec<Node<'_, '_>> = inside(child, "class", "strand").collect();
                    let mut by_data = vec![0; order.len()];
                    let mut by_place = Vec::new();
                    for strand in &strands {
                        let thread = number(*strand, "data-thread");
                        let from = usize::from(number(*strand, "data-from"));
                        assert_eq!(before[from - 1], thread);
                        by_data[usize::from(number(*strand, "data-to")) - 1] = thread;
                        by_place.push((ends(strand.attribute("d").expect("a path")), thread));
                    }
                    by_place.sort_by(|a, b| a.0[0].0.total_cmp(&b.0[0].0));
                    assert!(
                        by_place
                            .iter()
                            .map(|place| place.1)
                            .eq(before.iter().copied())
                    );
                    by_place.sort_by(|a, b| a.0[1].0.total_cmp(&b.0[1].0));
                    assert!(
                        by_place
                            .iter()
                            .map(|place| place.1)
                            .eq(order.iter().copied())
                    );
                    assert_eq!(by_data, order);
                    let chips = inside(child, "class", "order").next().expect("chips");
                    assert_eq!(order_of(chips), order);
                    rows.push((
                        child.attribute("data-part").expect("there").to_owned(),
                        u32::from(number(child, "data-row")),
                        order.clone(),
                    ));
                    carried = Some(order);
                }
                _ => {}
            }
        }
    }
    rows
}

fn tied(band: &Band, all: bool) -> Vec<(String, u32, Vec<u16>)> {
    let fabric = Fabric::of(band);
    let rows = fabric.rows().filter(|row| all || row.pass == 1);
    rows.map(|row| {
        let order = row.order_after.iter().map(|thread| thread.number());
        (row.part.to_string(), row.row, order.collect())
    })
    .collect()
}

#[test]
fn the_chart_of_every_built_in_rule_is_what_is_tied() {
    let rules = Rules::new();
    for name in built_in_names() {
        let rule = rules.built_in(name).expect("there");
        let band = rules.make(&rule, &Settings::new()).expect("sound").band;
        let read = read(&drawn(&band, &ChartOptions::default()));
        assert_eq!(read, tied(&band, false), "{name}");
    }
}

proptest! {
    #![proptest_config(by_chance::cases(96))]

    /// Whatever is tied, on however many pages.
    #[test]
    fn every_chart_is_the_braid_that_was_tied(
        band in by_chance::band(),
        rows_a_page in 1_usize..5,
        all in any::<bool>(),
    ) {
        let rows = if all { Rows::All } else { Rows::Once };
        let pages = drawn(&band, &ChartOptions { rows, rows_a_page: Some(rows_a_page), ..ChartOptions::default() });
        prop_assert!(pages.iter().all(|page| page.matches("class=\"row\"").count() <= rows_a_page));
        prop_assert!(pages.iter().all(|page| !page.contains("NaN") && !page.contains("inf")));
        prop_assert_eq!(read(&pages), tied(&band, all));
    }

    /// Hostile words stay words.
    #[test]
    fn titles_and_names_stay_words(band in by_chance::lavish_band()) {
        for page in drawn(&band, &ChartOptions::default()) {
            let document = Document::parse(&page).expect("well-formed");
            let known = ["svg", "title", "desc", "rect", "text", "g", "path"];
            prop_assert!(document.descendants().filter(Node::is_element).all(|node| known.contains(&node.tag_name().name())));
        }
    }
}

#[test]
fn the_working_thread_is_on_top() {
    let band = skerries();
    let fabric = Fabric::of(&band);
    let page = drawn(&band, &ChartOptions::default()).concat();
    let first = fabric.knots().next().expect("a knot");
    let over = format!(
        r#"data-over="{}" data-under="{}""#,
        first.working, first.core
    );
    assert_eq!(page.find("data-over"), page.find(&over));
}

#[test]
fn a_band_of_many_repeats_breaks_before_its_lead_out_and_says_the_order_there() {
    let band = skerries();
    let page = drawn(&band, &ChartOptions::default()).concat();
    assert!(page.contains("After all 14 repeats the lead-out begins"));
    let third = ChartOptions {
        rows: Rows::Repeat(3),
        ..ChartOptions::default()
    };
    let page = drawn(&band, &third).concat();
    assert!(page.contains("Before repeat 3 the threads hang so"));
    assert!(!page.contains(r#"data-part="lead-in""#));
    assert_eq!(
        page.matches("class=\"row\"").count(),
        band.rows(Part::Repeat).len()
    );
}

#[test]
fn what_cannot_be_charted_is_said() {
    let tied = Tied::of(drift(24));
    let refused = |options: ChartOptions| pages(&tied, &options).expect_err("refused");
    let error = refused(ChartOptions {
        rows: Rows::Repeat(25),
        ..ChartOptions::default()
    });
    assert_eq!(
        error.to_string(),
        "the band is tied with 24 repeats: there is no repeat 25"
    );
    assert!(error.is_out_of_range());
    for page_height in [0.0, f64::NAN, f64::INFINITY] {
        assert!(
            refused(ChartOptions {
                page_height,
                ..ChartOptions::default()
            })
            .is_out_of_range()
        );
    }
    let long = drift(5_000);
    let all = ChartOptions {
        rows: Rows::All,
        ..ChartOptions::default()
    };
    let error = pages(&Tied::of(long), &all).expect_err("90 000 knots");
    assert!(error.is_too_large() && error.help().is_some());
}

/// WCAG 2.2, SC 1.4.11 asks for 3 between what carries meaning and what is beside it, and
/// SC 1.4.3 for 4.5 for words: kept in full colour, in grey and in the three
/// dichromacies, since outline and gap carry what is over and what is under.
#[test]
fn over_and_under_are_told_apart_without_colour() {
    for vision in Vision::ALL.iter().copied() {
        let seen = |colour| vision.sees(colour);
        for ground in [ink::PAPER, ink::TINT] {
            assert!(contrast(seen(ink::INK), seen(ground)) >= 7.0);
            assert!(contrast(seen(ink::QUIET), seen(ground)) >= 4.5);
        }
    }
    // The upper strand of every crossing has an outline, and around it a gap in the colour
    // of the ground, wider than the outline.
    for page in drawn(&skerries(), &ChartOptions::default()) {
        let document = Document::parse(&page).expect("well-formed");
        for row in inside(document.root_element(), "class", "row") {
            let ground = row
                .children()
                .find_map(|child| child.attribute("fill"))
                .expect("a ground");
            for crossing in row
                .descendants()
                .filter(|node| node.has_attribute("data-over"))
            {
                let strokes: Vec<(&str, f64)> = crossing
                    .children()
                    .map(|path| {
                        let wide = path.attribute("stroke-width").expect("there");
                        (
                            path.attribute("stroke").expect("there"),
                            wide.parse().expect("a number"),
                        )
                    })
                    .collect();
                assert_eq!(strokes[0].0, ground);
                assert_eq!(strokes[1].0, ink::INK.to_string());
                assert!(strokes[0].1 >= strokes[1].1 + 3.0 && strokes[1].1 >= strokes[2].1 + 1.5);
            }
        }
    }
}

#[test]
fn words_in_chips_can_be_read_on_every_colour() {
    for red in (0..=255).step_by(15) {
        for green in (0..=255).step_by(15) {
            for blue in (0..=255).step_by(15) {
                let colour = Srgb::new(red, green, blue);
                assert!(
                    contrast(colour, ink::readable_on(colour)) >= 4.5,
                    "{colour}"
                );
            }
        }
    }
}
