//! The hanging threads, the use of thread and the steps of a gradient: what they say is
//! what was computed, whatever the words are.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Sight, Srgb, contrast, difference};
use hitchwork_core::craft::{End, Shape, Ties, bringing_out, folds};
use hitchwork_core::knot::{Kind, Side};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_draw::{font, gradient, order, strands, thread_use};
use roxmltree::{Document, Node};

mod common;

/// Every chart of a band.
fn charts(band: &Band) -> Vec<String> {
    let tied = Tied::of(band.clone());
    let sight = Sight::of_knot(&band.gauge());
    let mut charts = vec![
        order::svg(&tied),
        thread_use::svg(&tied),
        gradient::svg(band.title(), band.palette(), true, sight).expect("few colours"),
    ];
    charts.extend(strands::pages(&tied, &strands::ChartOptions::default()).expect("few rows"));
    charts
}

fn bands() -> [Band; 5] {
    [
        common::candy_stripe(),
        common::chevron(),
        common::lozenges(),
        common::drift(),
        common::skerries(),
    ]
}

fn of_class<'a, 'b>(document: &'a Document<'b>, class: &'static str) -> Vec<Node<'a, 'b>> {
    document
        .descendants()
        .filter(|node| node.attribute("class") == Some(class))
        .collect()
}

fn words(node: Node<'_, '_>) -> Vec<String> {
    node.descendants()
        .filter(|node| node.has_tag_name("text"))
        .filter_map(|node| node.text().map(str::to_owned))
        .collect()
}

#[test]
fn every_chart_is_well_formed_and_says_what_it_is_before_anything_else() {
    for chart in bands().iter().flat_map(charts) {
        for picture in [&chart, &font::carried(&chart).expect("XML")] {
            let document = Document::parse(picture).expect("well-formed");
            let root = document.root_element();
            assert_eq!(root.attribute("role"), Some("img"));
            let first: Vec<&str> = root
                .children()
                .filter(Node::is_element)
                .take(2)
                .map(|node| node.tag_name().name())
                .collect();
            assert_eq!(first, ["title", "desc"]);
        }
    }
}

#[test]
fn every_hanging_thread_has_its_number_its_name_and_its_length() {
    for band in bands() {
        let tied = Tied::of(band);
        let (band, cuts) = (tied.band(), tied.cut_list());
        let picture = order::svg(&tied);
        let document = Document::parse(&picture).expect("well-formed");
        let hanging = of_class(&document, "hanging");
        assert_eq!(hanging.len(), usize::from(band.thread_count()));
        for ((thread, colour), mm) in hanging.iter().zip(band.colours()).zip(&cuts.thread_mm) {
            assert_eq!(
                words(*thread),
                [colour.name.clone(), format!("{}", mm / 10.0)]
            );
            let fill = thread.descendants().find_map(|node| node.attribute("fill"));
            assert_eq!(fill, Some(colour.srgb.to_string().as_str()));
        }
    }
}

#[test]
fn threads_are_brought_out_in_the_order_of_the_craft() {
    let band = |threads: u16, shape: Shape| {
        let parts = common::candy_stripe().into_parts();
        Band::new(BandParts {
            palette: (0..threads)
                .map(|at| Colour::new(format!("buoy {}", at + 1), Srgb::new(90, 40, 200)))
                .collect(),
            threads: (0..threads).collect(),
            repeat: vec![Row::run(Kind::Forward, 1..threads).expect("columns")],
            start: End {
                shape,
                ties: Ties::Cut,
            },
            ..parts
        })
        .expect("sound")
    };
    let steps = |band: &Band| -> Vec<String> {
        let picture = order::svg(&Tied::of(band.clone()));
        let document = Document::parse(&picture).expect("well-formed");
        of_class(&document, "step")
            .into_iter()
            .map(|step| words(step)[0].clone())
            .collect()
    };
    for (shape, side) in [
        (Shape::HalfTriangleLeft, Side::Left),
        (Shape::HalfTriangleRight, Side::Right),
    ] {
        let (_, order) = bringing_out(side, 8);
        // The last has nothing left to tie round.
        let named: Vec<String> = order[..7]
            .iter()
            .map(|at| format!("{at} buoy {at}"))
            .collect();
        assert_eq!(steps(&band(8, shape)), named);
    }
    // From the middle out, and of an odd number one between.
    assert_eq!(
        steps(&band(7, Shape::Triangle)),
        ["3 buoy 3", "2 buoy 2", "5 buoy 5", "6 buoy 6"]
    );
    // Of many, the first and the last.
    assert_eq!(steps(&band(40, Shape::HalfTriangleLeft)).len(), 7);
    assert!(steps(&band(8, Shape::Flat)).is_empty());
}

#[test]
fn folded_threads_are_joined_by_arcs() {
    let tied = Tied::of(common::chevron());
    let (band, picture) = (tied.band(), order::svg(&tied));
    let arcs = picture.matches(r#"stroke-linecap="round""#).count();
    assert_eq!(arcs, folds(band.thread_colours()).expect("even").len());
}

#[test]
fn bars_are_as_long_as_the_thread_that_they_stand_for() {
    let tied = Tied::of(common::drift());
    let (lengths, cuts) = (tied.thread_lengths(), tied.cut_list());
    let picture = thread_use::svg(&tied);
    let document = Document::parse(&picture).expect("well-formed");
    for words in ["wraps and shows", "loose between knots", "to spare"] {
        assert!(picture.contains(words), "{words}");
    }
    let bars = of_class(&document, "bar");
    let wide = |bar: &Node<'_, '_>| -> f64 {
        bar.children()
            .filter_map(|part| part.attribute("width")?.parse::<f64>().ok())
            .sum()
    };
    let scale = wide(&bars[0]) / lengths[0].total();
    for ((bar, length), cut) in bars.iter().zip(lengths).zip(&cuts.thread_mm) {
        assert!((wide(bar) - length.total() * scale).abs() < 0.3);
        assert!(words(*bar).contains(&format!("{}", cut / 10.0)));
    }
}

#[test]
fn differences_between_neighbours_are_those_of_the_colours() {
    let band = common::drift();
    let sight = Sight::of_knot(&band.gauge());
    let shown = |cyclic| {
        let picture = gradient::svg("tide", band.palette(), cyclic, sight).expect("few colours");
        let document = Document::parse(&picture).expect("well-formed");
        let shown = of_class(&document, "difference")
            .into_iter()
            .map(|node| words(node)[0].clone());
        shown.collect::<Vec<String>>()
    };
    let palette = band.palette();
    let around: Vec<String> = (0..palette.len())
        .map(|at| difference(palette[at].srgb, palette[(at + 1) % palette.len()].srgb))
        .map(|difference| format!("{difference:.1}"))
        .collect();
    assert_eq!(shown(true), around);
    assert_eq!(shown(false), around[..around.len() - 1]);
    // Two colours have one step, which is no range.
    let two = gradient::svg("tide", &palette[..2], false, sight).expect("two colours");
    let step = format!("the step between them is {};", around[0]);
    assert!(two.contains(&step) && !two.contains(" to "), "{step}");
    let one = &palette[..1];
    assert!(gradient::svg("tide", one, true, sight).is_err_and(|error| error.help().is_some()));
}

/// WCAG 2.2, SC 1.4.3: at least 4.5 between words and what they stand on, for every word on
/// a chip, a ribbon or a swatch, and on paper.
#[test]
fn all_words_have_enough_contrast() {
    let colour = |text: &str| -> Option<Srgb> { text.parse().ok() };
    for chart in bands().iter().flat_map(charts) {
        let document = Document::parse(&chart).expect("well-formed");
        let mut ground = None;
        let mut checked = 0;
        // What words stand on is drawn last before them.
        for node in document.descendants().filter(Node::is_element) {
            match node.tag_name().name() {
                "rect" | "path" => {
                    if let Some(fill) = node.attribute("fill").and_then(colour) {
                        ground = Some(fill);
                    }
                }
                "text" => {
                    let ink = node.attribute("fill").and_then(colour).expect("a colour");
                    let inside = node.ancestors().any(|node| {
                        ["chip", "numbers"].contains(&node.attribute("class").unwrap_or_default())
                    });
                    let black_or_white =
                        ink == Srgb::new(0, 0, 0) || ink == Srgb::new(255, 255, 255);
                    if inside || black_or_white {
                        let ground = ground.expect("something under it");
                        assert!(contrast(ink, ground) >= 4.5, "{ink} on {ground}");
                        checked += 1;
                    } else {
                        for paper in [hitchwork_draw::ink::PAPER, hitchwork_draw::ink::TINT] {
                            assert!(contrast(ink, paper) >= 4.5, "{ink} on {paper}");
                        }
                    }
                }
                _ => {}
            }
        }
        assert!(checked > 0);
    }
}

#[test]
fn hostile_words_stay_words() {
    let names = [
        "<script>alert(1)</script>",
        "\"/><image href='file:///etc/passwd'/>",
        "&undefined;",
        "bell\u{7}\u{0}\u{1b}[31m",
        "]]>\u{ffff}\u{202e}ebbe",
        "\u{5d2}\u{5dc}\u{5d9}\u{5dd}",
    ];
    let palette: Vec<Colour> = (0_u8..)
        .zip(names)
        .map(|(at, name)| Colour::new(name, Srgb::new(120, 40 * at, 30)))
        .collect();
    for title in names {
        let band = Band::new(BandParts {
            title: title.to_owned(),
            palette: palette.clone(),
            threads: (0..6).collect(),
            repeat: vec![Row::run(Kind::Forward, 1..6).expect("columns")],
            repeats: 3,
            start: End {
                shape: Shape::HalfTriangleLeft,
                ties: Ties::Cut,
            },
            ..BandParts::default()
        })
        .expect("sound");
        for chart in charts(&band) {
            let whole = font::carried(&chart).expect("XML");
            let document = Document::parse(&whole).expect("well-formed");
            let strangers = ["script", "image", "use", "a", "foreignObject"];
            let known = document
                .descendants()
                .filter(Node::is_element)
                .all(|node| !strangers.contains(&node.tag_name().name()));
            assert!(known, "{title}");
            let said = document
                .descendants()
                .find(|node| node.has_tag_name("title"))
                .and_then(|node| node.text())
                .expect("a title");
            let plain: String = title
                .chars()
                .map(|character| {
                    if character.is_control() {
                        ' '
                    } else {
                        character
                    }
                })
                .filter(|character| *character != '\u{ffff}')
                .collect();
            assert!(said.starts_with(&plain), "{said} {plain}");
            assert!(
                whole
                    .chars()
                    .all(|character| character == '\n' || !character.is_control())
            );
        }
    }
}
