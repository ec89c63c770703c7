//! The built-in rules that show pictures, read back from their fabric: drawn here as they are worn,
//! with the start of the band at the left.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::Band;
use hitchwork_core::colour::{Colour, fade, palette};
use hitchwork_core::fabric::{Fabric, TiedKnot};
use hitchwork_core::file;
use hitchwork_core::proof::Frieze;
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Rules, Settings};

fn band(rule: &str, settings: &Settings) -> Band {
    let rules = Rules::new();
    let rule = rules.built_in(rule).expect("listed");
    let made = rules.make(&rule, settings);
    made.unwrap_or_else(|error| panic!("{}", error.render(false)))
        .band
}

/// The colours of the knots of one repeat, row by row, each from the left edge to the right.
fn shown(band: &Band) -> Vec<Vec<Colour>> {
    let fabric = Fabric::of(band);
    let row = |row: hitchwork_core::fabric::TiedRow| {
        let mut knots: Vec<TiedKnot> = row.knots.to_vec();
        knots.sort_by_key(|knot| knot.column);
        let seen =
            |knot: &TiedKnot| band.palette()[usize::from(fabric.colour(knot.working))].clone();
        knots.iter().map(seen).collect()
    };
    fabric.rows().take(band.repeat().len()).map(row).collect()
}

/// The band as it is worn: `#` for what is not of the ground's colour. The right edge is up.
fn worn(band: &Band, ground: &str) -> String {
    let rows = shown(band);
    let columns = rows[0].len();
    assert!(rows.iter().all(|row| row.len() == columns), "straight rows");
    let line = |column: usize| {
        let mark = |row: &Vec<Colour>| if row[column].name == ground { '.' } else { '#' };
        rows.iter().map(mark).chain(['\n']).collect::<String>()
    };
    (0..columns).rev().map(line).collect()
}

/// The band as it hangs from its start.
fn hanging(band: &Band, ground: &str) -> String {
    let mark = |colour: &Colour| if colour.name == ground { '.' } else { '#' };
    let rows = shown(band);
    let line = |row: &Vec<Colour>| row.iter().map(mark).chain(['\n']).collect::<String>();
    rows.iter().map(line).collect()
}

fn drawn(lines: &str) -> String {
    let lines = lines.lines().map(str::trim).filter(|line| !line.is_empty());
    lines.map(|line| format!("{line}\n")).collect()
}

fn same(got: &str, wanted: &str) {
    let wanted = drawn(wanted);
    assert_eq!(got, wanted, "\n{got}\nis not\n\n{wanted}");
}

#[test]
fn a_nameboard_says_the_name_upright_and_from_the_start() {
    let settings = Settings::new().set("name", "Flò").set("gap", 1);
    same(
        &worn(&band("nameboard", &settings), "lamp"),
        "
        ................
        ...........#....
        .####.##....#...
        .#.....#........
        .###...#...##...
        .#.....#..#..#..
        .#.....#..#..#..
        .#....###..##...
        ................
    ",
    );
}

#[test]
fn an_afterglow_changes_from_the_horizon_up() {
    let band = band(
        "afterglow",
        &Settings::new().set("words", "ж").set("gap", 1),
    );
    same(
        &worn(&band, "night"),
        "
        ........
        .#.#.#..
        ..###...
        ..###...
        .#.#.#..
        ........
    ",
    );
}

#[test]
fn whales_swim_to_the_start_or_by_turns() {
    let settings = Settings::new().set("gap", 1).set("edge", 0);
    same(
        &worn(&band("whales", &settings), "deep sea"),
        "
        ....#.#...............
        .....#................
        .....#...........#..#.
        ...#######.......####.
        ..##########......##..
        .##.##########..###...
        .#################....
        ..##############......
        ....##########........
    ",
    );
    same(
        &worn(&band("whales", &settings.set("turns", true)), "deep sea"),
        "
        ....#.#..............................#.#....
        .....#................................#.....
        .....#...........#..#..#..#...........#.....
        ...#######.......####..####.......#######...
        ..##########......##....##......##########..
        .##.##########..###......###..##########.##.
        .#################........#################.
        ..##############............##############..
        ....##########................##########....
    ",
    );
}

#[test]
fn anchors_stand_upright_on_the_wrist_or_hang_on_a_rope() {
    let settings = Settings::new().set("gap", 1);
    let ground = "midnight";
    same(
        &worn(&band("anchors", &settings), ground),
        "
        ..............
        .....###......
        .....#.#......
        .....###......
        ......#.......
        ...#######....
        ......#.......
        ......#.......
        ......#.......
        .#....#....#..
        .##...#...##..
        .#.#..#..#.#..
        ....#####.....
        ......#.......
        ..............
    ",
    );
    let on_a_rope = settings.set("stands", "on a rope");
    same(
        &hanging(&band("anchors", &on_a_rope), ground),
        "
        ......#......
        ......#......
        ......#......
        .....###.....
        .....#.#.....
        .....###.....
        ......#......
        ...#######...
        ......#......
        ......#......
        ......#......
        .#....#....#.
        .##...#...##.
        .#.#..#..#.#.
        ....#####....
        ......#......
    ",
    );
}

#[test]
fn a_sampler_stands_in_lines_as_the_band_hangs() {
    let settings = Settings::new().set("letters", "abcd").set("in_line", 3);
    let sampler = band("sampler", &settings);
    same(
        &hanging(&sampler, &sampler.palette()[1].name),
        "
        .##..##..##..##.
        #..##..##..##..#
        ................
        ......#.........
        ......#.........
        ..###.###...###.
        .#..#.#..#.#....
        .#..#.#..#.#....
        ..###.###...###.
        ................
        ................
        ................
        .........#......
        .........#......
        .......###......
        ......#..#......
        ......#..#......
        .......###......
        ................
        ................
        ................
        .##..##..##..##.
        #..##..##..##..#
        ................
    ",
    );
}

/// Each bar is as high as its digit says, from the lower edge up.
#[test]
fn the_bars_of_a_tide_table_are_as_high_as_its_digits() {
    let settings = Settings::new().set("heights", "905").set("broad", 1);
    same(
        &worn(&band("tide_table", &settings), "dusk"),
        "
        ......
        #.....
        #.....
        #.....
        #.....
        #...#.
        #...#.
        #...#.
        #...#.
        #...#.
    ",
    );
}

/// The flags of a word, in two tones: the drawings of the International Code of Signals (2005), in
/// which A is white and blue with a swallow tail, and F white with a red diamond.
#[test]
fn a_hoist_spells_its_word_from_the_start() {
    let hoist = band("hoist", &Settings::new().set("word", "AF").set("gap", 1));
    let ground = hoist.palette()[0].name.clone();
    same(
        &worn(&hoist, &ground),
        "
        .##############.##############
        .#......#######.#.....##.....#
        .#......#######.#....####....#
        .#......#######.#...######...#
        .#......#####.#.#..########..#
        .#......####..#.#.##########.#
        .#......###...#.##############
        .#......###...#.##############
        .#......####..#.#.##########.#
        .#......#####.#.#..########..#
        .#......#######.#...######...#
        .#......#######.#....####....#
        .#......#######.#.....##.....#
        .##############.##############
    ",
    );
}

#[test]
fn all_flags_of_a_hoist_can_be_told_apart_but_h_and_k() {
    let mut by_picture: BTreeMap<String, String> = BTreeMap::new();
    for letter in ('A'..='Z').chain('0'..='9') {
        let hoist = band("hoist", &Settings::new().set("word", letter.to_string()));
        let ground = hoist.palette()[0].name.clone();
        by_picture
            .entry(worn(&hoist, &ground))
            .or_default()
            .push(letter);
    }
    let alike: Vec<&String> = by_picture
        .values()
        .filter(|letters| letters.len() > 1)
        .collect();
    assert_eq!(alike, ["HK"]);
    assert_eq!(by_picture.len(), 35);
}

/// The threads that hang beside the leader have the colours of a palette, each from its own end.
#[test]
fn colours_run_from_the_edge_that_the_rule_says() {
    for (rule, tones, from_below) in [
        ("afterglow", "evening sky", true),
        ("tide_table", "open water", false),
        ("whales", "open water", false),
    ] {
        let band = band(rule, &Settings::new());
        let tones = palette(tones).expect("built in").colours;
        let hung = |thread: u16| {
            let number = band.thread_colours()[usize::from(thread)];
            band.palette()[usize::from(number)].srgb
        };
        let edges = [hung(1), hung(band.thread_count() - 1)];
        let ends = [tones[0].srgb, tones[tones.len() - 1].srgb];
        let wanted = if from_below { ends } else { [ends[1], ends[0]] };
        assert_eq!(edges, wanted, "{rule}");
    }
}

/// How many columns the sea has risen from its lowest, in a row of so many: a sine, to the nearest
/// column.
fn swell(height: usize, row: usize, rows: usize) -> usize {
    let risen = |columns: usize| {
        let share = |number: usize| f64::from(u32::try_from(number).expect("few"));
        let turns = share(row) / share(rows);
        share(height) * (1.0 + libm::sin(turns * std::f64::consts::TAU)) >= share(columns) - 0.5
    };
    (1..=2 * height).filter(|columns| risen(*columns)).count()
}

/// The waves are painted here once more, each knot in the colour that the wave has at its place.
#[test]
fn rollers_show_the_waves_that_are_painted() {
    for (threads, colours, broad, height, length) in
        [(10, 4, 2, 2, 10), (7, 3, 3, 1, 5), (12, 2, 4, 3, 8)]
    {
        let settings = [
            ("threads", threads),
            ("colours", colours),
            ("broad", broad),
            ("height", height),
            ("length", length),
        ];
        let settings = settings
            .into_iter()
            .fold(Settings::new(), |settings, (name, value)| {
                settings.set(name, value.to_string())
            });
        let settings = settings.palette("open water");
        let rollers = band("rollers", &settings);
        assert!(
            rollers.notes().ends_with("and all show it."),
            "{}",
            rollers.notes()
        );
        let tones = palette("open water").expect("built in");
        let painted = fade(&tones, colours).expect("a few");
        let fabric = Fabric::of(&rollers);
        for (number, row) in (1..=2 * length).zip(fabric.rows()) {
            let swell = swell(height, number, 2 * length);
            for knot in row.knots {
                let column = usize::from(knot.column.number());
                let wave = (column + swell) / broad % colours;
                let seen = &rollers.palette()[usize::from(fabric.colour(knot.working))];
                assert_eq!(*seen, painted[wave], "row {number}, column {column}");
            }
        }
    }
}

/// Frost is the same on all four sides, whatever chance has strewn.
#[test]
fn hoarfrost_is_the_same_on_all_four_sides() {
    let mut seen = BTreeSet::new();
    for seed in 0..8 {
        let tied = Tied::of(band("hoarfrost", &Settings::new().seed(seed)));
        let colours = tied.report().symmetry.colours;
        assert_eq!(colours, Some(Frieze::P2mm), "seed {seed}");
        seen.insert(file::write(tied.band()));
    }
    assert_eq!(seen.len(), 8, "another seed is another morning");
}

/// The thicker the frost, the more knots show it: none is expected where the chance is 0, and in the
/// mean nearly half of them where it is highest in the middle and 0 in the corners.
#[test]
fn thicker_frost_covers_more_of_the_window() {
    let frozen = |frost: f64| {
        let settings = Settings::new()
            .set("frost", frost)
            .set("length", 24)
            .set("pairs", 12);
        let band = band("hoarfrost", &settings);
        let frost = palette("open water").expect("built in").colours[0].srgb;
        let knots: Vec<Colour> = shown(&band).concat();
        let white = knots.iter().filter(|colour| colour.srgb == frost).count();
        (white, knots.len())
    };
    let ((thin, all), (thick, _)) = (frozen(0.2), frozen(1.0));
    assert!(
        thin * 5 < all && thick * 5 > 2 * all && thick * 5 < 3 * all,
        "{thin}, {thick} of {all}"
    );
}
