//! Pictures on the lattice in rules: what `solved` and `in_pairs` tie shows the picture but where
//! they say that it does not, against the second model of tying; what is wished of them; and what
//! is refused, in a maker's words.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::Band;
use hitchwork_core::knot::Place;
use hitchwork_core::picture::solve::{Closing, Painting, SolvingEffort};
use hitchwork_rules::{Limits, Rules, Settings, bound_in_words};
use hitchwork_tests::by_chance;
use hitchwork_tests::naive;
use proptest::prelude::*;

/// The colours of pictures here, by their marks; a dot shows nothing.
const SHADES: [(char, &str, &str); 4] = [
    ('a', "sea", "#1d6f8c"),
    ('b', "foam", "#e8f1ee"),
    ('c', "lamp", "#ffc145"),
    ('d', "tar", "#22304f"),
];

/// A picture by its marks, as a rule draws it.
fn drawn(rows: &[String]) -> String {
    let marks: Vec<String> = SHADES
        .iter()
        .map(|(mark, name, srgb)| format!("\"{mark}\": colour(\"{name}\", \"{srgb}\")"))
        .collect();
    let rows: Vec<String> = rows.iter().map(|row| format!("\"{row}\"")).collect();
    format!(
        "let art = picture([{}], #{{ marks: #{{ {} }} }});\n",
        rows.join(", "),
        marks.join(", ")
    )
}

fn made(rule: &str) -> Result<Band, hitchwork_rules::Error> {
    let rules = Rules::new();
    let rule = rules.compile("art.rhai", rule)?;
    Ok(rules.make(&rule, &Settings::new())?.band)
}

fn band_of(rule: &str) -> Band {
    made(rule).unwrap_or_else(|error| panic!("{rule}\n{}", error.render(false)))
}

/// The code, the message and the help of a rule that is stopped, and the line of it.
fn refusal(rule: &str) -> (String, String, String, Option<usize>) {
    let error = made(rule).expect_err(rule);
    let first = &error.diagnostics()[0];
    (
        first.code.to_owned(),
        first.message.clone(),
        first.help.clone().unwrap_or_default(),
        first.place.as_ref().map(|place| place.line),
    )
}

/// What a rule says: it ends by throwing the words.
fn words(rule: &str) -> String {
    refusal(rule).1
}

/// How a repeat shows: for each row and column, from 1, the name of the colour.
fn shown(band: &Band) -> Vec<BTreeMap<(usize, usize), String>> {
    let tied = naive::tie_band(band);
    let mut knots = tied.knots.iter();
    let mut repeat = || {
        let rows = band.repeat().iter().enumerate();
        let places = rows.flat_map(|(row, knots)| knots.knots().iter().map(move |_| row + 1));
        places
            .map(|row| {
                let knot = knots.next().expect("as many knots as there are");
                let name = band.palette()[knot.colour].name.clone();
                ((row, knot.tie.column + 1), name)
            })
            .collect()
    };
    (0..band.repeats()).map(|_| repeat()).collect()
}

/// The name of the colour that a mark of a picture stands for.
fn named(mark: char) -> Option<&'static str> {
    let shade = SHADES.iter().find(|(known, ..)| *known == mark);
    shade.map(|(_, name, _)| *name)
}

/// Where a band does not show a picture, in one of its repeats; what is beyond the picture is
/// not looked at.
fn missed(art: &[String], repeat: &BTreeMap<(usize, usize), String>) -> BTreeSet<(usize, usize)> {
    let wanted = |(row, column): (usize, usize)| {
        let mark = art.get(row - 1)?.chars().nth(column - 1)?;
        named(mark)
    };
    let misses = repeat
        .iter()
        .filter(|(place, name)| wanted(**place).is_some_and(|wanted| wanted != **name));
    misses.map(|(place, _)| *place).collect()
}

/// Knots lie where a brick lattice has them, and nowhere else.
fn check_lattice(band: &Band, rows: usize) {
    assert_eq!(band.repeat().len(), rows);
    for (row, knots) in (1_usize..).zip(band.repeat()) {
        let columns: Vec<u16> = knots
            .knots()
            .iter()
            .map(|knot| knot.column().number())
            .collect();
        let first = if row % 2 == 0 && band.thread_count() > 2 {
            2
        } else {
            1
        };
        let lattice: Vec<u16> = (first..band.thread_count()).step_by(2).collect();
        assert_eq!(columns, lattice, "row {row}");
    }
}

/// The list of places that a rule printed.
fn places(words: &str) -> BTreeSet<(usize, usize)> {
    let numbers: Vec<usize> = words
        .split(|sign: char| !sign.is_ascii_digit())
        .filter(|part| !part.is_empty())
        .map(|part| part.parse().expect("a number"))
        .collect();
    numbers.chunks(2).map(|pair| (pair[0], pair[1])).collect()
}

/// A small picture of so many colours at most, with holes where `holes`.
fn art(colours: usize, holes: bool) -> impl Strategy<Value = Vec<String>> {
    let marks: Vec<char> = "abcd"
        .chars()
        .take(colours)
        .chain(holes.then_some('.'))
        .collect();
    (1_usize..=6, 1_usize..=8).prop_flat_map(move |(columns, rows)| {
        let row = prop::collection::vec(prop::sample::select(marks.clone()), columns);
        prop::collection::vec(row.prop_map(|row| row.into_iter().collect()), rows)
    })
}

fn reversed(art: &[String]) -> Vec<String> {
    art.iter().rev().cloned().collect()
}

fn mirrored(art: &[String]) -> Vec<String> {
    art.iter().map(|row| row.chars().rev().collect()).collect()
}

/// The colours that a picture shows where the lattice has knots.
fn colours_on_lattice(art: &[String]) -> BTreeSet<char> {
    let one_column = art[0].len() == 1;
    let rows = art.iter().enumerate();
    let cells = rows.flat_map(|(row, marks)| {
        let columns = marks.chars().enumerate();
        columns.filter(move |(column, _)| one_column || (row + column) % 2 == 0)
    });
    cells
        .map(|(_, mark)| mark)
        .filter(|mark| *mark != '.')
        .collect()
}

fn all_colours(art: &[String]) -> BTreeSet<char> {
    art.iter()
        .flat_map(|row| row.chars())
        .filter(|mark| *mark != '.')
        .collect()
}

/// Two colours or more, and not more than threads.
fn can_be_solved(art: &[String]) -> bool {
    let hung = colours_on_lattice(art).len();
    all_colours(art).len() >= 2 && (1..=art[0].len() + 1).contains(&hung)
}

proptest! {
    #![proptest_config(by_chance::cases(60))]

    /// Every cell of the picture shows in every repeat, but for just those that are named; and
    /// there are as many of them as the picture's own solver says that there must be.
    #[test]
    fn a_solved_picture_shows_but_where_it_says(
        art in art(4, true).prop_filter("two colours", |art| can_be_solved(art)),
        open in any::<bool>(),
        wider in 0_usize..3,
    ) {
        let threads = art[0].len() + 1 + wider;
        let rule = format!(
            "{}let tied = solved(art, #{{ open: {open}, threads: {threads} }});\n", drawn(&art)
        );
        let repeats = if open { 1 } else { 3 };
        let band = band_of(&format!(
            "{rule}band(tied.threads).repeat(tied.rows).repeats({repeats}).colours(tied.colours)"
        ));
        prop_assert_eq!(usize::from(band.thread_count()), threads);
        check_lattice(&band, art.len());
        let said = words(&format!("{rule}throw `${{tied.missed}}`;"));
        for repeat in shown(&band) {
            prop_assert_eq!(&missed(&art, &repeat), &places(&said));
        }
        let hung: Vec<char> = colours_on_lattice(&art).into_iter().collect();
        let colours = u8::try_from(hung.len()).expect("few");
        let cell = |row: usize, column: u16| {
            let mark = art[row - 1].chars().nth(usize::from(column) - 1)?;
            hung.iter().position(|known| *known == mark).and_then(|at| u8::try_from(at).ok())
        };
        let threads = u16::try_from(threads).expect("few");
        let mut painting = Painting::lattice(threads, colours, art.len(), cell).expect("small");
        painting.closing = if open { Closing::Open } else { Closing::Closed };
        let solved = painting.solve(&SolvingEffort::default()).expect("small");
        let told = words(&format!(
            "{rule}throw `${{tied.misses}} ${{tied.least}} ${{tied.proved}} ${{tied.free_rows}}`;"
        ));
        let (misses, least) = (solved.missed.len(), solved.least);
        prop_assert_eq!(told, format!("{misses} {least} {} 0", misses == least));
    }

    /// On the other hand, the mirror image shows.
    #[test]
    fn a_mirrored_band_shows_the_mirrored_picture(
        art in art(3, false).prop_filter("two colours", |art| can_be_solved(art)),
    ) {
        let rule = format!(
            "{}let tied = solved(art);\nlet b = band(tied.threads).repeat(tied.rows).repeats(2).colours(tied.colours);\n",
            drawn(&art)
        );
        let (band, other) = (band_of(&format!("{rule}b")), band_of(&format!("{rule}b.mirrored()")));
        let width = art[0].len() + 1;
        for (repeat, mirror) in shown(&band).iter().zip(shown(&other)) {
            let turned: BTreeMap<_, _> = repeat
                .iter()
                .map(|((row, column), name)| ((*row, width - column), name.clone()))
                .collect();
            prop_assert_eq!(&mirror, &turned);
            let missed_there = missed(&mirrored(&art), &mirror);
            prop_assert_eq!(missed_there.len(), missed(&art, repeat).len());
        }
    }

    /// In pairs every cell shows, both ways round, on both hands.
    #[test]
    fn a_picture_in_pairs_shows_without_exception(
        art in art(2, false).prop_filter("two colours", |art| all_colours(art).len() == 2),
        wider in 0_usize..3,
        first in prop::sample::select(vec!["sea", "foam"]),
    ) {
        let threads = art[0].len() + 1 + wider;
        let rule = format!(
            "{}let tied = in_pairs(art, #{{ threads: {threads}, first: \"{first}\" }});\nlet b = band(tied.threads).repeat(tied.rows).repeats(2).colours(tied.colours);\n",
            drawn(&art)
        );
        let band = band_of(&format!("{rule}b"));
        check_lattice(&band, art.len());
        let colours: Vec<&str> = band
            .thread_colours()
            .iter()
            .map(|colour| &*band.palette()[usize::from(*colour)].name)
            .collect();
        prop_assert_eq!(colours[0], first);
        prop_assert!(colours.windows(2).all(|pair| pair[0] != pair[1]), "{:?}", colours);
        prop_assert_eq!(
            words(&format!("{rule}throw `${{tied.misses}} ${{tied.least}} ${{tied.proved}} ${{tied.missed}}`;")),
            "0 0 true []"
        );
        // A column further left in the mirrored band for every column that is wider.
        let padded: Vec<String> = mirrored(&art)
            .iter()
            .map(|row| format!("{}{row}", ".".repeat(wider)))
            .collect();
        for (end, wanted) in [
            ("b", art.clone()),
            ("b.upside_down()", reversed(&art)),
            ("b.mirrored()", padded.clone()),
            ("b.half_turned()", reversed(&padded)),
        ] {
            for repeat in shown(&band_of(&format!("{rule}{end}"))) {
                prop_assert_eq!(missed(&wanted, &repeat), BTreeSet::new(), "{}", end);
            }
        }
    }
}

/// After a repeat that drifts, the next colour hangs where each hung.
#[test]
fn a_picture_may_close_but_for_its_drift() {
    let art = [
        "a.c".to_owned(),
        ".d.".to_owned(),
        "d.a".to_owned(),
        ".b.".to_owned(),
    ];
    let whole = drawn(&art);
    let swapped = "#{ \"sea\": \"foam\", \"foam\": \"sea\" }";
    let shades = drawn(&["aab".to_owned(), "bba".to_owned()]);
    // Three colours tell one step from two.
    let three = drawn(&["abcab".to_owned(), "cabca".to_owned()]);
    for (rule, wish) in [
        (&three, "drift: 1, counts: [2, 2, 2]"),
        (&three, "drift: 2, counts: [2, 2, 2]"),
        (&shades, "drift: 1"),
        (&shades, &*format!("drift: {swapped}")),
        (&shades, "drift: -1"),
        (&whole, "drift: 2"),
    ] {
        let rule = format!("{rule}let tied = solved(art, #{{ {wish} }});\n");
        let band = band_of(&format!(
            "{rule}band(tied.threads).repeat(tied.rows).repeats(2).colours(tied.colours)"
        ));
        let names: Vec<&str> = band.palette().iter().map(|colour| &*colour.name).collect();
        let hung = |order: &[usize]| -> Vec<&str> {
            order
                .iter()
                .map(|thread| names[usize::from(band.thread_colours()[*thread])])
                .collect()
        };
        let tied = naive::tie_band(&band);
        let start: Vec<usize> = (0..usize::from(band.thread_count())).collect();
        let rows = band.repeat().len();
        // In the order of their marks.
        let mut colours: Vec<&str> = names.clone();
        colours.sort_by_key(|name| SHADES.iter().position(|(_, known, _)| known == name));
        let steps = if wish.starts_with("drift: 2") { 2 } else { 1 };
        let moved = |name: &&str| {
            let at = colours
                .iter()
                .position(|known| known == name)
                .expect("a colour");
            colours[(at + steps) % colours.len()]
        };
        let wanted: Vec<&str> = hung(&start).iter().map(moved).collect();
        assert_eq!(hung(&tied.orders[rows - 1]), wanted, "{wish}");
    }
}

/// Where no way is found for a drift with few free rows, more are added; also beginning from none.
#[test]
fn free_rows_are_added_until_a_drift_closes() {
    let with = |free: &str| {
        let rule = r##"
            let marks = #{ "a": colour("sea", "#1d6f8c"), "b": colour("foam", "#e8f1ee"), "c": colour("rust", "#aa0000") };
            let art = picture(["aabbcca", "aabbcca"], #{ marks: marks });
            let tied = solved(art, #{ free_rows: FREE, drift: 1, counts: [3, 3, 3], threads: 9 });
            require(tied.free_rows == 2 && tied.misses == 0, `${tied}`, "two rows are enough");
            band(tied.threads).repeat(tied.rows).colours(tied.colours)
        "##;
        made(&rule.replace("FREE", free))
    };
    for free in ["2", "1..=12", "0..=12", "0..=2"] {
        assert!(
            with(free).is_ok(),
            "{free}: {}",
            with(free).expect_err("it is not").render(false)
        );
    }
    assert!(with("0").is_err() && with("0..=1").is_err());
}

#[test]
fn free_rows_follow_as_few_as_are_needed() {
    // A thread of foam runs from the left edge to the right, and has to come back.
    let art = ["baa".to_owned(), "aba".to_owned(), "aab".to_owned()];
    let rule = |wishes: &str| {
        format!(
            "{}let tied = solved(art, #{{ counts: #{{ \"sea\": 3, \"foam\": 1 }}, {wishes} }});\n",
            drawn(&art)
        )
    };
    let told = |wishes: &str| {
        words(&format!(
            "{}throw `${{tied.misses}} ${{tied.free_rows}}`;",
            rule(wishes)
        ))
    };
    assert_eq!(told("free_rows: 0..=9"), "0 1");
    assert_eq!(told("free_rows: 0..9"), "0 1");
    assert_eq!(told("free_rows: 2..=9"), "0 3");
    assert_eq!(told("free_rows: 3"), "0 3");
    assert_eq!(told("free_rows: 0"), "1 0");
    assert_eq!(told("free_rows: 0..=0"), "1 0");
    assert_eq!(told("open: true"), "0 0");
    assert_eq!(told("open: true, free_rows: 2"), "0 2");
    let band = band_of(&format!(
        "{}band(tied.threads).repeat(tied.rows).repeats(3).colours(tied.colours)",
        rule("free_rows: 0..=9")
    ));
    check_lattice(&band, 4);
    for repeat in shown(&band) {
        assert_eq!(missed(&art, &repeat), BTreeSet::new());
    }
    let pairs = format!(
        "{}let tied = in_pairs(art, #{{ free_rows: 3 }});\n",
        drawn(&art)
    );
    assert_eq!(
        words(&format!(
            "{pairs}throw `${{tied.free_rows}} ${{tied.rows.len()}}`;"
        )),
        "3 6"
    );
}

#[test]
fn counts_are_a_list_or_a_map_and_hang_as_wished() {
    let art = ["abab".to_owned(), "baba".to_owned()];
    for counts in [
        "[3, 2]",
        "#{ \"sea\": 3, \"foam\": 2 }",
        "#{ \"foam\": 2, \"sea\": 3 }",
    ] {
        let rule = format!(
            "{}let tied = solved(art, #{{ counts: {counts} }});\n",
            drawn(&art)
        );
        let told = words(&format!(
            "{rule}throw `${{tied.counts}} ${{tied.threads}}`;"
        ));
        assert_eq!(told, "#{\"foam\": 2, \"sea\": 3} 5");
    }
    // More threads than the picture takes make a wider band.
    let rule = format!(
        "{}let tied = solved(art, #{{ counts: [4, 3] }});\n",
        drawn(&art)
    );
    assert_eq!(words(&format!("{rule}throw `${{tied.threads}}`;")), "7");
    // A colour that shows between the knots alone hangs where its threads are counted.
    let between = ["aca".to_owned(), "bbb".to_owned()];
    let rule = drawn(&between);
    let told = |wishes: &str| words(&format!("{rule}throw `${{solved(art{wishes}).counts}}`;"));
    assert_eq!(told(""), "#{\"foam\": 2, \"sea\": 2}");
    assert_eq!(
        told(", #{ counts: #{ \"sea\": 2, \"foam\": 1, \"lamp\": 1 } }"),
        "#{\"foam\": 1, \"lamp\": 1, \"sea\": 2}"
    );
}

#[test]
fn it_says_in_a_sentence_what_came_out() {
    let said = |rows: &[&str], tie: &str| {
        let rows: Vec<String> = rows.iter().map(ToString::to_string).collect();
        words(&format!("{}throw `${{{tie}}}`;", drawn(&rows)))
    };
    assert_eq!(
        said(&["aba", "bab"], "in_pairs(art)"),
        "a picture of 3 knots on 4 threads, and all show it"
    );
    assert_eq!(
        said(&["baa", "aba", "aab"], "solved(art, #{ counts: [1, 3] })"),
        "a picture of 5 knots on 4 threads, of which 1 misses; no way to tie it misses fewer"
    );
    assert_eq!(
        said(&["b", "a"], "[in_pairs(art)]"),
        "[a picture of 2 knots on 2 threads, and all show it]"
    );
}

/// Every knot knows the line that asked for it, so that a finding leads there.
#[test]
fn knots_know_the_line_that_asked_for_them() {
    for tie in ["solved", "in_pairs"] {
        let band = band_of(&format!(
            "{}\nlet tied = {tie}(art);\nband(tied.threads).repeat(tied.rows).colours(tied.colours)",
            drawn(&["aba".to_owned(), "bab".to_owned()])
        ));
        let made = |place: Option<Place>| place.map(|place| place.line);
        for row in band.repeat() {
            for knot in row.knots() {
                assert_eq!(made(knot.place()), Some(3), "{knot}");
            }
        }
    }
}

/// What is given in place of rows, or asked of a picture, is answered with what was meant.
#[test]
fn slips_with_pictures_are_told_what_to_write() {
    let art = drawn(&["aabb".to_owned(), "bbaa".to_owned()]);
    for (rule, message, help) in [
        (
            format!("{art}band(5).repeat(solved(art))"),
            "the repeat cannot be a tied picture",
            ".repeat(tied.rows)",
        ),
        (
            format!("{art}band(5).repeat(art)"),
            "the repeat cannot be a picture",
            "over_leader(art)",
        ),
        (
            format!("{art}art.rotated(1)"),
            "there is no function called rotated",
            "a picture takes ",
        ),
        (
            format!("{art}art.rotated(1)"),
            "there is no function called rotated",
            "quarter_turned",
        ),
        (
            format!("{art}solved(art).rotated(1)"),
            "there is no function called rotated",
            "a tied picture takes colours, counts, free_rows, least, missed, misses, proved, rows, threads",
        ),
        (
            "band(5).rotated(1)".to_owned(),
            "there is no function called rotated",
            "a band takes ",
        ),
        (
            "forward(1..5).rotated(1)".to_owned(),
            "there is no function called rotated",
            "a row takes ",
        ),
        (
            format!("lettering(\"{}\")", "a long name ".repeat(5)),
            "the words are longer than a picture may be",
            "along: true",
        ),
        (
            format!("lettering(\"{}\", #{{ along: true }})", "m".repeat(400)),
            "the words are longer than a picture may be",
            "fewer words",
        ),
        (
            format!("{art}solved(art, #{{ counts: [2, 2] }})"),
            "the colours have 4 threads together, and the band has 5",
            "leave the counts out",
        ),
        (
            format!("{art}solved(art, #{{ counts: [2] }})"),
            "counts gives 1 number",
            "leave counts out",
        ),
    ] {
        let (_, said, told, _) = refusal(&rule);
        assert!(said.contains(message), "{rule}: {said}");
        assert!(told.contains(help), "{rule}: {told}");
    }
    let (.., bands, _) = refusal("band(5).rotated(1)");
    assert!(!bands.contains("quarter_turned"), "{bands}");
}

/// A bound of nothing says nothing.
#[test]
fn a_bound_is_said_where_there_is_one() {
    assert_eq!(bound_in_words(5, 5), "no way to tie it misses fewer");
    assert_eq!(bound_in_words(5, 2), "no way to tie it misses fewer than 2");
    assert_eq!(
        bound_in_words(5, 0),
        "whether fewer are possible is not known"
    );
}

#[test]
fn what_cannot_be_tied_is_refused_in_words() {
    let two = ["aabb".to_owned(), "bbaa".to_owned()];
    let refused = |rows: &[String], tie: &str| {
        let (code, message, help, line) = refusal(&format!("{}{tie}", drawn(rows)));
        assert_eq!(line, Some(2), "{message}");
        assert!(!help.is_empty(), "{message}");
        assert!(
            !help.contains("--") && !message.contains("--"),
            "{message} {help}"
        );
        (code, message)
    };
    for (rows, tie, code, message) in [
        (
            &two[..],
            "solved(art, #{ counts: [3] })",
            "wrong-value",
            "counts gives 1 number, and the picture shows 2 colours",
        ),
        (
            &two,
            "solved(art, #{ counts: [2, 2] })",
            "wrong-value",
            "the colours have 4 threads together, and the band has 5",
        ),
        (
            &two,
            "solved(art, #{ counts: [3, 3], threads: 5 })",
            "wrong-value",
            "the colours have 6 threads together, and the band has 5",
        ),
        (
            &two,
            "solved(art, #{ counts: [5, 0] })",
            "wrong-value",
            "0 threads of foam cannot hang",
        ),
        (
            &two,
            "solved(art, #{ counts: [900, 2] })",
            "wrong-value",
            "900 threads of sea cannot hang",
        ),
        (
            &two,
            "solved(art, #{ counts: [\"3\", 2] })",
            "wrong-arguments",
            "counts of a solved picture cannot be \"3\"",
        ),
        (
            &two,
            "solved(art, #{ counts: #{ \"sea\": 5 } })",
            "wrong-value",
            "counts says nothing about foam, which the picture shows",
        ),
        (
            &two,
            "solved(art, #{ counts: #{ \"see\": 5 } })",
            "wrong-value",
            "the picture shows no colour called \"see\"",
        ),
        (
            &two,
            "solved(art, #{ counts: 5 })",
            "wrong-arguments",
            "counts of a solved picture cannot be 5",
        ),
        (
            &two,
            "solved(art, #{ threads: 4 })",
            "wrong-value",
            "a picture 4 columns wide takes 5 threads, not 4",
        ),
        (
            &two,
            "in_pairs(art, #{ threads: 4 })",
            "wrong-value",
            "a picture 4 columns wide takes 5 threads, not 4",
        ),
        (
            &two,
            "solved(art, #{ threads: 201 })",
            "wrong-arguments",
            "threads of a solved picture cannot be 201",
        ),
        (
            &two,
            "solved(art, #{ treads: 6 })",
            "wrong-value",
            "a solved picture has no setting called treads",
        ),
        (
            &two,
            "in_pairs(art, #{ counts: [3, 2] })",
            "wrong-value",
            "a picture in pairs has no setting called counts",
        ),
        (
            &two,
            "in_pairs(art, #{ first: \"lamp\" })",
            "wrong-value",
            "the picture shows no colour called \"lamp\"",
        ),
        (
            &two,
            "solved(art, #{ open: 3 })",
            "wrong-arguments",
            "open of a solved picture cannot be 3",
        ),
        (
            &two,
            "solved(art, #{ open: true, drift: 1 })",
            "wrong-value",
            "a picture with open ends is tied once, and does not drift",
        ),
        (
            &two,
            "solved(art, #{ open: true, free_rows: 0..=4 })",
            "wrong-value",
            "with open ends a picture needs no free rows",
        ),
        (
            &two,
            "solved(art, #{ drift: \"sea\" })",
            "wrong-arguments",
            "drift of a solved picture cannot be \"sea\"",
        ),
        (
            &two,
            "solved(art, #{ drift: #{ \"sea\": \"foam\" } })",
            "wrong-value",
            "the colours cannot hang like that at the end",
        ),
        (
            &two,
            "solved(art, #{ free_rows: -1 })",
            "wrong-arguments",
            "free_rows of a solved picture cannot be -1",
        ),
        (
            &two,
            "solved(art, #{ free_rows: 5..=3 })",
            "wrong-arguments",
            "free_rows of a solved picture cannot be 5..=3",
        ),
        (
            &two,
            "solved(art, #{ free_rows: 0..=3000 })",
            "wrong-arguments",
            "free_rows of a solved picture cannot be 0..=3000",
        ),
        (
            &two,
            "solved(art, #{ free_rows: [1, 2] })",
            "wrong-arguments",
            "free_rows of a solved picture cannot be a list",
        ),
        (
            &two,
            "solved(art, #{ patience: 0 })",
            "wrong-arguments",
            "patience of a solved picture cannot be 0",
        ),
        (
            &two,
            "let wide = art.repeated(50, 1); solved(wide)",
            "wrong-value",
            "a picture of 200 columns takes 201 threads; a band has at most 200",
        ),
        (
            &two,
            "let wide = art.repeated(50, 1); in_pairs(wide)",
            "wrong-value",
            "a picture of 200 columns takes 201 threads; a band has at most 200",
        ),
        (
            &[
                "ac".to_owned(),
                "db".to_owned(),
                "da".to_owned(),
                "cc".to_owned(),
                "cc".to_owned(),
                "ad".to_owned(),
            ],
            "solved(art)",
            "wrong-value",
            "4 colours do not hang on 3 threads: each needs a thread at least",
        ),
        (
            &["acb".to_owned(), "bca".to_owned()],
            "in_pairs(art)",
            "wrong-value",
            "two colours hang by turns, and the picture has 3",
        ),
        (
            &["aaa".to_owned(), "aaa".to_owned()],
            "in_pairs(art)",
            "wrong-value",
            "two colours hang by turns, and the picture shows only sea",
        ),
        (
            &["a.a".to_owned(), "aaa".to_owned()],
            "solved(art)",
            "wrong-value",
            "the picture shows sea and nothing else, and nothing means any colour here",
        ),
        (
            &["a.a".to_owned(), "aaa".to_owned()],
            "in_pairs(art)",
            "wrong-value",
            "the picture shows sea and nothing else, and nothing means any colour here",
        ),
        (
            &["..".to_owned(), "..".to_owned()],
            "solved(art)",
            "wrong-value",
            "the picture shows nothing at all",
        ),
        (
            &[".a.b.".to_owned()],
            "solved(art)",
            "wrong-value",
            "the picture shows nothing where its knots lie",
        ),
        (
            &["acbab".to_owned()],
            "let tied = solved(art, #{ drift: #{ \"lamp\": \"sea\" } });",
            "wrong-value",
            "no knot shows lamp: it lies only between the knots, and no thread of it hangs",
        ),
        (
            &["acbab".to_owned()],
            "let tied = solved(art); tied.missses",
            "unknown-name",
            "there is nothing called missses here",
        ),
    ] {
        let found = refused(rows, tie);
        assert_eq!(found, (code.to_owned(), message.to_owned()), "{tie}");
    }
}

/// What was found once in a run is not looked for again, even by a rule within it; and it is the
/// same as what another run finds.
#[test]
fn the_same_picture_costs_once_in_a_run() {
    let rows: Vec<String> = (0..12)
        .map(|row| {
            (0..9)
                .map(|column| ["a", "b", "c"][(row * row + column * (row + 2)) % 3])
                .collect()
        })
        .collect();
    let art = drawn(&rows);
    let took = |rule: &str| {
        let start = std::time::Instant::now();
        let band = band_of(&format!("{art}{rule}"));
        (start.elapsed(), band)
    };
    let tie = "band(tied.threads).repeat(tied.rows).colours(tied.colours)";
    let (once, band) = took(&format!("let tied = solved(art); {tie}"));
    let (often, again) = took(&format!(
        "let tied = solved(art); for i in 0..200 {{ tied = solved(art); }} {tie}"
    ));
    assert_eq!(band.repeat(), again.repeat());
    assert!(often < once * 50, "{once:?} once, {often:?} for 200 times");
    // Another wish is another search.
    let (_, open) = took(&format!(
        "let tied = solved(art); tied = solved(art, #{{ open: true }}); {tie}"
    ));
    assert_eq!(
        open.repeat(),
        took(&format!("let tied = solved(art, #{{ open: true }}); {tie}"))
            .1
            .repeat()
    );
}

/// The clock and whoever wants it to end stop a search on the way; steps decide what it finds.
#[test]
fn a_search_ends_with_its_run() {
    let rows: Vec<String> = (0..40_usize)
        .map(|row| {
            (0..19)
                .map(|column| ["a", "b", "c", "d"][(row * row * 7 + column * (row + 3)) / 3 % 4])
                .collect()
        })
        .collect();
    let rule = format!("{}solved(art, #{{ patience: 100 }}).rows", drawn(&rows));
    let limits = Limits {
        seconds: 1,
        ..Limits::default()
    };
    let rules = Rules::with_limits(limits);
    let rule = rules.compile("art.rhai", &rule).expect("a rule");
    let start = std::time::Instant::now();
    let error = rules.make(&rule, &Settings::new()).expect_err("too long");
    assert_eq!(error.diagnostics()[0].code, "limit-work");
    assert!(start.elapsed().as_secs() < 30, "{:?}", start.elapsed());
}
