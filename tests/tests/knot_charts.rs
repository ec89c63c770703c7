//! The knot chart, read back from the picture alone, is the band that was tied.
//!
//! The reader below knows what a maker sees: outlines, places, colours and numbers. It ties what it reads.

use std::collections::BTreeSet;

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::colour::{Colour, Srgb, contrast};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::{Kind, Side};
use hitchwork_core::proof::normal_form;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_draw::knots::{KnotChartOptions, LEAST_NUMBER_MM, PX_A_MM, pages};
use hitchwork_draw::strands::Rows;
use hitchwork_draw::{font, ink};
use hitchwork_rules::{Rules, Settings, built_in_names};
use hitchwork_tests::made::{self, run};
use hitchwork_tests::{by_chance, golden};
use proptest::prelude::*;
use roxmltree::{Document, Node};

fn of_rule(name: &str) -> Tied {
    let rules = Rules::new();
    let rule = rules.built_in(name).expect("built in");
    Tied::of(rules.make(&rule, &Settings::new()).expect("sound").band)
}

fn drawn(tied: &Tied, options: &KnotChartOptions) -> Vec<String> {
    pages(tied, options).expect("small enough")
}

fn sideways() -> KnotChartOptions {
    KnotChartOptions {
        sideways: true,
        ..KnotChartOptions::default()
    }
}

/// Something on the page: across the band from its left edge, and along it from its start.
#[derive(Clone, Copy, Debug)]
struct Spot {
    across: f64,
    along: f64,
}

/// A tile as it is seen.
#[derive(Clone, Debug)]
struct SeenTile {
    kind: Kind,
    middle: Spot,
    size: Spot,
    colour: Srgb,
    number: u16,
    /// The size of the number, and how much room is left beside it.
    font: f64,
    air: f64,
}

#[derive(Clone, Debug)]
struct SeenRow {
    number: u32,
    tiles: Vec<SeenTile>,
    wedges: BTreeSet<Side>,
}

/// Rows that stand together under a heading.
#[derive(Clone, Debug)]
struct SeenRows {
    heading: String,
    hanging: Vec<(u16, Srgb)>,
    hanging_after: Option<Vec<(u16, Srgb)>>,
    rows: Vec<SeenRow>,
}

fn number(node: Node<'_, '_>, name: &str) -> f64 {
    let text = node.attribute(name);
    let text = text.unwrap_or_else(|| panic!("{name} is there"));
    text.parse().expect("a number")
}

fn of_class<'a, 'b>(node: Node<'a, 'b>, class: &'static str) -> Vec<Node<'a, 'b>> {
    let nodes = node.descendants();
    nodes
        .filter(|node| node.attribute("class") == Some(class))
        .collect()
}

fn text<'a>(node: Node<'a, '_>) -> &'a str {
    let mut texts = node.descendants().filter(|node| node.has_tag_name("text"));
    texts.next().and_then(|node| node.text()).expect("words")
}

/// A reader that has been told which way the band lies.
#[derive(Clone, Copy)]
struct Reader {
    sideways: bool,
}

impl Reader {
    /// On its side, the band's left edge is at the foot of the page.
    fn spot(self, (x, y): (f64, f64)) -> Spot {
        let (across, along) = if self.sideways { (-y, x) } else { (x, y) };
        Spot { across, along }
    }

    fn points(self, path: &str) -> Vec<Spot> {
        let points = path.trim_end_matches('Z').split(['M', 'L']).skip(1);
        let point = |pair: &str| {
            let (x, y) = pair.split_once(' ').expect("two numbers");
            self.spot((x.parse().expect("a number"), y.parse().expect("a number")))
        };
        points.map(point).collect()
    }

    /// From its start to its end a tile runs as its thread runs: straight to the other side, or out and
    /// back.
    fn tile(self, node: Node<'_, '_>) -> SeenTile {
        let mut children = node.children().filter(Node::is_element);
        let path = children.next().expect("an outline");
        let words = children.next().expect("a number");
        let points = self.points(path.attribute("d").expect("a path"));
        let bounds = |of: fn(&Spot) -> f64| {
            let values = points.iter().map(of);
            let (least, most) = (values.clone(), values);
            (
                least.fold(f64::MAX, f64::min),
                most.fold(f64::MIN, f64::max),
            )
        };
        let (across, along) = (bounds(|spot| spot.across), bounds(|spot| spot.along));
        // The two sides of the tile, at a height.
        let sides = |at: f64| -> Vec<f64> {
            let next = points.iter().cycle().skip(1);
            let sides = points.iter().zip(next).filter_map(|(one, other)| {
                let (low, high) = (one.along.min(other.along), one.along.max(other.along));
                let share = (at - one.along) / (other.along - one.along);
                let crosses = low < at && at <= high;
                crosses.then_some(one.across + share * (other.across - one.across))
            });
            let mut sides: Vec<f64> = sides.collect();
            sides.sort_by(f64::total_cmp);
            assert_eq!(sides.len(), 2, "{points:?}");
            sides
        };
        let middle_at = |share: f64| {
            let sides = sides(along.0 + share * (along.1 - along.0));
            f64::midpoint(sides[0], sides[1])
        };
        let [start, middle, end] = [0.05, 0.5, 0.95].map(middle_at);
        let least = 2.0;
        let kind = match (middle - start, end - middle) {
            (out, on) if out > least && on > least => Kind::Forward,
            (out, on) if out < -least && on < -least => Kind::Backward,
            (out, back) if out > least && back < -least => Kind::ForwardBackward,
            (out, back) if out < -least && back > least => Kind::BackwardForward,
            other => panic!("a tile that runs by {other:?}"),
        };
        let font = number(words, "font-size");
        let written = words.text().expect("a number");
        let wide = font::width(written, font::Weight::Strong, font);
        assert_eq!(words.attribute("text-anchor"), Some("middle"));
        let (x, base) = (number(words, "x"), number(words, "y"));
        let high = font * number_height();
        let corners = [(-0.5, 0.0), (0.5, 0.0), (-0.5, 1.0), (0.5, 1.0)]
            .map(|(right, up)| self.spot((x + right * wide, base - up * high)));
        let air = corners.map(|corner| {
            assert!(along.0 < corner.along && corner.along < along.1);
            let sides = sides(corner.along);
            (corner.across - sides[0]).min(sides[1] - corner.across)
        });
        let colour: Srgb = path
            .attribute("fill")
            .expect("filled")
            .parse()
            .expect("a colour");
        let ink: Srgb = words
            .attribute("fill")
            .expect("inked")
            .parse()
            .expect("a colour");
        assert_eq!(ink, ink::readable_on(colour));
        assert!(contrast(ink, colour) >= 4.5, "{ink} on {colour}");
        SeenTile {
            kind,
            middle: Spot {
                across: f64::midpoint(across.0, across.1),
                along: f64::midpoint(along.0, along.1),
            },
            size: Spot {
                across: across.1 - across.0,
                along: along.1 - along.0,
            },
            colour,
            number: written.parse().expect("the number of a thread"),
            font,
            air: air.into_iter().fold(f64::MAX, f64::min),
        }
    }

    /// Threads by their places from left to right, with their numbers and colours, and where they hang.
    fn hanging(self, node: Node<'_, '_>) -> (Vec<(u16, Srgb)>, Vec<f64>) {
        let children: Vec<Node<'_, '_>> = node.children().filter(Node::is_element).collect();
        let mut threads: Vec<(f64, u16, Srgb)> = children
            .chunks(2)
            .map(|pair| {
                let [chip, words] = pair else {
                    panic!("a chip with its number")
                };
                let x = number(*chip, "x") + number(*chip, "width") / 2.0;
                let y = number(*chip, "y") + number(*chip, "height") / 2.0;
                let colour = chip.attribute("fill").expect("filled").parse();
                let thread = words.text().expect("a number").parse();
                let at = self.spot((x, y)).across;
                (at, thread.expect("a number"), colour.expect("a colour"))
            })
            .collect();
        threads.sort_by(|one, other| one.0.total_cmp(&other.0));
        let places = threads.iter().map(|thread| thread.0).collect();
        (
            threads.iter().map(|thread| (thread.1, thread.2)).collect(),
            places,
        )
    }

    /// A row between two edges: the number that stands at both, level with the tiles next to them.
    fn row(self, node: Node<'_, '_>, edges: (f64, f64)) -> SeenRow {
        let tiles: Vec<SeenTile> = of_class(node, "tile")
            .into_iter()
            .map(|tile| self.tile(tile))
            .collect();
        let middle = f64::midpoint(edges.0, edges.1);
        let numbers: Vec<(Spot, u32)> = of_class(node, "row-number")
            .into_iter()
            .map(|label| {
                let words = label.descendants().find(|node| node.has_tag_name("text"));
                let words = words.expect("a number");
                let font = number(words, "font-size");
                let up = number_height() / 2.0 * font;
                let spot = self.spot((number(words, "x"), number(words, "y") - up));
                assert!(font * number_height() / PX_A_MM > LEAST_NUMBER_MM - 0.02);
                (spot, text(label).parse().expect("a number"))
            })
            .collect();
        let [left, right] = numbers[..] else {
            panic!("a number at both edges: {numbers:?}")
        };
        assert_eq!(left.1, right.1);
        assert!(left.0.across < edges.0 && right.0.across > edges.1);
        let by_place = |one: &&SeenTile, other: &&SeenTile| {
            let places = [one, other].map(|tile| tile.middle.across);
            places[0].total_cmp(&places[1])
        };
        let outer = (
            tiles.iter().min_by(by_place).expect("a tile"),
            tiles.iter().max_by(by_place).expect("a tile"),
        );
        assert!((left.0.along - outer.0.middle.along).abs() < 0.3);
        assert!((right.0.along - outer.1.middle.along).abs() < 0.3);
        let wedges = of_class(node, "wedge").into_iter().map(|wedge| {
            let points = self.points(wedge.attribute("d").expect("a path"));
            let (tip, back) = (points[0].across, points[1].across);
            let side = if tip < middle {
                Side::Left
            } else {
                Side::Right
            };
            // Each points into the band.
            assert_eq!(side == Side::Left, tip > back);
            side
        });
        SeenRow {
            number: left.1,
            wedges: wedges.collect(),
            tiles,
        }
    }

    fn read(self, pages: &[String]) -> Vec<SeenRows> {
        let mut seen = Vec::new();
        for page in pages {
            let document = Document::parse(page).expect("well-formed");
            for node in of_class(document.root_element(), "rows") {
                let before = of_class(node, "hanging")[0];
                let (hanging, places) = self.hanging(before);
                let apart =
                    (places[places.len() - 1] - places[0]) / f64::from(many(places.len()) - 1);
                let edges = (
                    places[0] - apart / 2.0,
                    places[places.len() - 1] + apart / 2.0,
                );
                let mut rows: Vec<SeenRow> = of_class(node, "row")
                    .into_iter()
                    .map(|row| self.row(row, edges))
                    .collect();
                // From here on places count in columns.
                for tile in rows.iter_mut().flat_map(|row| &mut row.tiles) {
                    let column = (tile.middle.across - places[0]) / apart + 0.5;
                    assert!((column - column.round()).abs() < 0.06, "{column}");
                    tile.middle.across = column.round();
                }
                let after = of_class(node, "hanging-after");
                seen.push(SeenRows {
                    heading: text(node).to_owned(),
                    hanging,
                    hanging_after: after.first().map(|after| self.hanging(*after).0),
                    rows,
                });
            }
        }
        seen
    }
}

fn many(count: usize) -> u16 {
    u16::try_from(count).expect("few")
}

/// How high the numbers of the font are, of its size.
fn number_height() -> f64 {
    let face = ttf_parser::Face::parse(font::STRONG, 0).expect("a font");
    let bounds = "0123456789".chars().map(|digit| {
        let glyph = face.glyph_index(digit).expect("there");
        let bounds = face.glyph_bounding_box(glyph).expect("drawn");
        // What is round reaches a little over the line; the flat ones say how high they are.
        f64::from(bounds.y_max.min(face.capital_height().expect("given")))
    });
    bounds.fold(0.0, f64::max) / f64::from(face.units_per_em())
}

/// The knots of a row in the order in which its tiles are to be tied.
fn tied_row(row: &SeenRow) -> Row {
    let mut left: Vec<&SeenTile> = row.tiles.iter().collect();
    left.sort_by(|one, other| {
        let (one, other) = (one.middle, other.middle);
        let same_line = (one.along - other.along).abs() < 1.0;
        match same_line {
            true => one.across.total_cmp(&other.across),
            false => one.along.total_cmp(&other.along),
        }
    });
    let lines = left.chunk_by(|one, other| (one.middle.along - other.middle.along).abs() < 1.0);
    let mut knots = Vec::new();
    for line in lines {
        let chains: Vec<&[&SeenTile]> = line
            .chunk_by(|one, other| (other.middle.across - one.middle.across - 1.0).abs() < 0.1)
            .collect();
        let is_long = |chain: &&&[&SeenTile]| chain.len() > 1;
        assert!(row.wedges.len() < 2 || chains.iter().filter(is_long).count() <= 2);
        let mut ways = match row.wedges.len() {
            2 => vec![Side::Left, Side::Right],
            _ => row
                .wedges
                .iter()
                .copied()
                .cycle()
                .take(chains.len())
                .collect(),
        }
        .into_iter();
        for chain in chains {
            let from_left = chain.len() == 1 || {
                let way = ways.next();
                let way = way.unwrap_or_else(|| panic!("where does row {} begin?", row.number));
                way == Side::Left
            };
            let knot = |tile: &&SeenTile| made::knot(tile.kind, column(tile));
            match from_left {
                true => knots.extend(chain.iter().map(knot)),
                false => knots.extend(chain.iter().rev().map(knot)),
            }
        }
    }
    Row::new(knots)
}

#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "a small whole number"
)]
fn column(tile: &SeenTile) -> u16 {
    tile.middle.across as u16
}

/// Ties what was read, a part a section, and holds numbers and colours of tiles against what hangs there.
fn tied_from(seen: &[SeenRows], like: &Band) -> Band {
    let mut parts = BandParts {
        palette: like.palette().to_vec(),
        // A heading says how often where it is more than once.
        repeats: 1,
        ..BandParts::default()
    };
    let first = &seen[0].hanging;
    let of_colour = |srgb: Srgb| {
        let place = parts.palette.iter().position(|colour| colour.srgb == srgb);
        many(place.expect("a colour of the band"))
    };
    // Threads are numbered as they hang at the start.
    let mut threads: Vec<(u16, u16)> = first
        .iter()
        .map(|(thread, colour)| (*thread, of_colour(*colour)))
        .collect();
    threads.sort_unstable();
    assert!(
        (1..)
            .zip(&threads)
            .all(|(number, thread)| number == thread.0)
    );
    parts.threads = threads.iter().map(|thread| thread.1).collect();
    for seen in seen {
        let mut hangs = seen.hanging.clone();
        let rows = match seen.heading.split([':', ',', ' ']).next() {
            Some("Lead-in") => &mut parts.lead_in,
            Some("Lead-out") => &mut parts.lead_out,
            Some("Repeat") => &mut parts.repeat,
            other => panic!("{other:?}"),
        };
        if let Some(words) = seen.heading.strip_suffix(" times") {
            let times = words.rsplit(' ').next().expect("how often");
            parts.repeats = times.parse().expect("a number");
        }
        for row in &seen.rows {
            assert_eq!(row.number, u32::try_from(rows.len() + 1).expect("few"));
            let tied = tied_row(row);
            for knot in tied.knots() {
                let at = usize::from(knot.column().number());
                let (working, tile) = match knot.kind().working_side() {
                    Side::Left => (hangs[at - 1], at),
                    Side::Right => (hangs[at], at),
                };
                let is_it = |seen: &&SeenTile| {
                    usize::from(column(seen)) == tile
                        && (seen.number, seen.colour) == working
                        && seen.kind == knot.kind()
                };
                assert!(
                    row.tiles.iter().any(|seen| is_it(&seen)),
                    "{}: row {}: {knot:?} is tied by {working:?}: {:?}",
                    seen.heading,
                    row.number,
                    row.tiles
                );
                if knot.kind().changes_places() {
                    hangs.swap(at - 1, at);
                }
            }
            rows.push(tied);
        }
        if let Some(after) = &seen.hanging_after {
            assert_eq!(after, &hangs, "{}", seen.heading);
        }
    }
    Band::new(parts).expect("what was read makes a band")
}

/// What is tied from the chart alone is the fabric of the band, row by row.
fn holds(name: &str, tied: &Tied, options: &KnotChartOptions) -> Vec<SeenRows> {
    let pages = drawn(tied, options);
    assert!(
        pages
            .iter()
            .all(|page| !page.contains("NaN") && !page.contains("inf"))
    );
    let reader = Reader {
        sideways: options.sideways,
    };
    let seen = reader.read(&pages);
    let band = tied.followed();
    let read = tied_from(&seen, band);
    for part in [Part::LeadIn, Part::Repeat, Part::LeadOut] {
        let rows = |band: &Band| -> Vec<_> {
            let rows = band.rows(part).iter();
            rows.map(|row| normal_form(std::slice::from_ref(row)))
                .collect()
        };
        assert_eq!(rows(&read), rows(band), "{name}, {part}");
    }
    assert_eq!(read.thread_values(), band.thread_values(), "{name}");
    assert_eq!(read.repeats(), band.repeats(), "{name}");
    let knots = |band: &Band| {
        let fabric = Fabric::of(band);
        let knots = fabric
            .knots()
            .map(|knot| (knot.level, knot.column, knot.kind, knot.working));
        let mut knots: Vec<_> = knots.collect();
        knots.sort_unstable();
        knots
    };
    assert!(knots(&read) == knots(tied.band()), "{name}");
    seen
}

/// The numbers can be read, and stand inside their tiles; tiles do not lie on each other.
fn can_be_read(name: &str, seen: &[SeenRows]) {
    for rows in seen {
        let tiles: Vec<&SeenTile> = rows.rows.iter().flat_map(|row| &row.tiles).collect();
        for tile in &tiles {
            let high_mm = tile.font * number_height() / PX_A_MM;
            assert!(high_mm > LEAST_NUMBER_MM - 0.02, "{name}: {high_mm:.2} mm");
            assert!(tile.air > 0.3, "{name}: {tile:?}");
        }
        let mut by_column: Vec<Vec<f64>> = vec![Vec::new(); 202];
        for tile in &tiles {
            by_column[usize::from(column(tile))].push(tile.middle.along);
        }
        for lines in &mut by_column {
            lines.sort_by(f64::total_cmp);
            let high = tiles[0].size.along;
            assert!(
                lines.windows(2).all(|pair| pair[1] - pair[0] > high - 0.2),
                "{name}"
            );
        }
    }
}

#[test]
fn the_chart_of_every_built_in_rule_is_what_is_tied_in_both_hands() {
    for name in built_in_names() {
        let tied = of_rule(name);
        for hand in [&tied, tied.mirrored()] {
            for options in [KnotChartOptions::default(), sideways()] {
                let seen = holds(name, hand, &options);
                can_be_read(name, &seen);
            }
        }
    }
}

proptest! {
    #![proptest_config(by_chance::cases(96))]

    #[test]
    fn every_chart_is_the_band_that_was_tied(
        band in by_chance::band(),
        sideways in any::<bool>(),
        page_height in 420.0_f64..1_200.0,
    ) {
        // Threads of the same value could not be told apart by colour; their names may be any.
        let palette = (0..band.palette().len()).map(|index| {
            let level = u8::try_from(index % 256).expect("below 256");
            Colour::new(format!("tide {index}"), Srgb::new(level, 200 - level.min(200), 60))
        });
        let palette = palette.collect();
        let band = Band::new(BandParts { palette, ..band.into_parts() }).expect("sound");
        let options = KnotChartOptions { sideways, page_height, ..KnotChartOptions::default() };
        for tied in [made::tied(&band), Tied::of(band)] {
            let seen = holds("by chance", &tied, &options);
            can_be_read("by chance", &seen);
            holds("by chance, mirrored", tied.mirrored(), &options);
        }
    }

    /// Hostile words stay words.
    #[test]
    fn titles_and_names_stay_words(band in by_chance::lavish_band()) {
        for page in drawn(&made::tied(&band), &KnotChartOptions::default()) {
            let document = Document::parse(&page).expect("well-formed");
            let known = ["svg", "title", "desc", "rect", "text", "g", "path"];
            prop_assert!(document.descendants().filter(Node::is_element).all(|node| known.contains(&node.tag_name().name())));
        }
    }
}

/// Makers tie these from one page, with numbers that are seen at arm's length: 2.5 mm at 60 cm are 14
/// minutes of arc.
#[test]
fn a_repeat_of_the_bands_in_pairs_fits_one_page() {
    for (name, least_mm) in [
        ("hearts", 3.0),
        ("boats", 2.9),
        ("lighthouse", 2.9),
        ("stars", 2.15),
    ] {
        let tied = of_rule(name);
        // On a page of its own, and as it is printed in a sheet on Letter, which is the lower paper.
        let printed = KnotChartOptions {
            titled: false,
            page_height: 883.0,
            ..KnotChartOptions::default()
        };
        for (options, least_mm) in [
            (KnotChartOptions::default(), least_mm),
            (printed, LEAST_NUMBER_MM - 0.02),
        ] {
            let pages = drawn(&tied, &options);
            assert_eq!(pages.len(), 1, "{name}");
            let document = Document::parse(&pages[0]).expect("well-formed");
            let root = document.root_element();
            assert!(number(root, "height") <= options.page_height, "{name}");
            assert!((number(root, "width") - 720.0).abs() < 0.1, "{name}");
            let seen = Reader { sideways: false }.read(&pages);
            let font = seen[0].rows[0].tiles[0].font;
            let mm = font * number_height() / PX_A_MM;
            assert!(mm >= least_mm, "{name}: {mm:.2} mm");
        }
    }
}

/// What does not fit is never made smaller than that, and each page says which it is.
#[test]
fn more_rows_than_fit_a_page_go_on_upon_another() {
    let tied = of_rule("stars");
    let all = KnotChartOptions {
        rows: Rows::All,
        ..KnotChartOptions::default()
    };
    let pages = drawn(&tied, &all);
    assert!(pages.len() > 1);
    for (index, page) in pages.iter().enumerate() {
        assert!(page.contains(&format!("page {} of {}", index + 1, pages.len())));
        assert!(page.contains("class=\"key\""));
    }
    let seen = Reader { sideways: false }.read(&pages);
    can_be_read("stars", &seen);
    let rows: usize = seen.iter().map(|rows| rows.rows.len()).sum();
    assert_eq!(rows, 160);
}

/// Who hears the picture hears every knot.
#[test]
fn all_of_a_chart_is_told_in_words() {
    let tied = made::as_written(made::band(
        4,
        vec![run(Kind::Forward, 1..4), run(Kind::BackwardForward, [1, 3])],
        7,
    ));
    let page = &drawn(&tied, &KnotChartOptions::default())[0];
    let document = Document::parse(page).expect("well-formed");
    let told = |name: &str| {
        let node = document.descendants().find(|node| node.has_tag_name(name));
        node.and_then(|node| node.text()).expect("words").to_owned()
    };
    assert_eq!(told("title"), "A band: knots");
    assert_eq!(
        told("desc"),
        "The knot chart: every knot as a tile, row by row. Repeat: 2 rows, tied 7 times. \
         The threads hang so: 1 2 3 4. \
         Row 1: thread 1 forward, thread 1 forward, thread 1 forward. \
         Row 2: thread 3 backward-forward, thread 1 backward-forward. \
         The repeat ends: again from row 1, 7 times in all. Now they hang so: 2 3 4 1."
    );
}

/// The key has the kinds that are used and no others, each with its own tile.
#[test]
fn the_key_has_the_kinds_that_are_used() {
    for name in ["hearts", "drift", "diamonds", "candy_stripe"] {
        let tied = of_rule(name);
        let page = &drawn(&tied, &KnotChartOptions::default())[0];
        let document = Document::parse(page).expect("well-formed");
        let key = of_class(document.root_element(), "key")[0];
        let used: BTreeSet<Kind> = tied.fabric().knots().map(|knot| knot.kind).collect();
        assert_eq!(of_class(key, "tile").len(), used.len(), "{name}");
        let words: Vec<&str> = key
            .children()
            .filter(|node| node.has_tag_name("text"))
            .filter_map(|node| node.text())
            .collect();
        for kind in Kind::ALL {
            let is_told = words
                .iter()
                .any(|words| words.starts_with(&format!("{kind}: ")));
            assert_eq!(is_told, used.contains(&kind), "{name}: {kind}");
        }
    }
}

#[test]
fn what_cannot_be_charted_is_said() {
    let tied = of_rule("hearts");
    let refused = |options: KnotChartOptions| pages(&tied, &options).expect_err("refused");
    for page_height in [0.0, 399.0, f64::NAN, f64::INFINITY] {
        let options = KnotChartOptions {
            page_height,
            ..KnotChartOptions::default()
        };
        assert!(refused(options).is_out_of_range());
    }
    let rows = Rows::Repeat(12);
    let error = refused(KnotChartOptions {
        rows,
        ..KnotChartOptions::default()
    });
    assert_eq!(
        error.to_string(),
        "the band is tied with 11 repeats: there is no repeat 12"
    );
    let long = made::tied(&made::band(10, made::slanted_with_turns(10, &[3]), 5_000));
    let error = pages(
        &long,
        &KnotChartOptions {
            rows: Rows::All,
            ..KnotChartOptions::default()
        },
    );
    assert!(error.expect_err("90 000 knots").is_too_large());
}

/// A chart as text: a line a row, its tiles by column, each as it leans, with its number.
fn as_text(pages: &[String]) -> String {
    let mut text = String::new();
    for rows in (Reader { sideways: false }).read(pages) {
        text.push_str(&format!("{}\n", rows.heading));
        for row in &rows.rows {
            text.push_str(&format!("{:4}", row.number));
            let mut lines: Vec<f64> = row.tiles.iter().map(|tile| tile.middle.along).collect();
            lines.sort_by(f64::total_cmp);
            lines.dedup_by(|one, other| (*one - *other).abs() < 1.0);
            let mut tiles: Vec<&SeenTile> = row.tiles.iter().collect();
            tiles.sort_by_key(|tile| column(tile));
            for tile in tiles {
                let mark = match tile.kind {
                    Kind::Forward => '\\',
                    Kind::Backward => '/',
                    Kind::ForwardBackward => '>',
                    Kind::BackwardForward => '<',
                };
                let above = |line: &&f64| **line < tile.middle.along - 1.0;
                let below = match lines.iter().filter(above).count() {
                    0 => String::new(),
                    line => format!("+{line}"),
                };
                text.push_str(&format!("  {}{mark}{}{below}", column(tile), tile.number));
            }
            let wedges: Vec<String> = row.wedges.iter().map(ToString::to_string).collect();
            if !wedges.is_empty() {
                text.push_str(&format!("  from the {}", wedges.join(" and the ")));
            }
            text.push('\n');
        }
    }
    text
}

#[test]
fn charts_are_what_they_were() {
    let to_and_fro = made::as_written(made::band(
        6,
        vec![run(Kind::Forward, 1..6), run(Kind::Backward, (1..6).rev())],
        9,
    ));
    let mut text = String::new();
    for (name, tied) in [
        ("hearts", of_rule("hearts")),
        ("drift", of_rule("drift")),
        ("chevron", of_rule("chevron")),
        ("to and fro", to_and_fro),
    ] {
        let pages = drawn(&tied, &KnotChartOptions::default());
        text.push_str(&format!("{name}\n{}\n", as_text(&pages)));
    }
    golden::check("tests/golden/knot_charts.txt", &text);
}
