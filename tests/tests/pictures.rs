//! Pictures: the laws of what can be made of them; that a fabric over leaders shows them cell by
//! cell; and letters and flags against what is known of them.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::knot::Side;
use hitchwork_core::picture::{
    Cell, Font, LeaderShows, Lettering, OverLeader, Picture, SIGNAL_COLOURS, signal_flag,
};
use hitchwork_tests::by_chance;
use hitchwork_tests::naive;
use proptest::prelude::*;

fn colour(number: u8) -> Colour {
    Colour::new(
        format!("colour {number}"),
        Srgb::new(number, 80, 255 - number),
    )
}

fn colours(count: u8) -> Vec<Colour> {
    (0..count).map(colour).collect()
}

/// A picture of up to nine columns and rows, and up to four colours.
fn any_picture() -> impl Strategy<Value = Picture> {
    (1_u16..=9, 1_usize..=9).prop_flat_map(|(columns, rows)| {
        let cell = prop::option::of(0_u8..4);
        prop::collection::vec(cell, usize::from(columns) * rows)
            .prop_map(move |cells| Picture::new(columns, colours(4), cells).expect("small"))
    })
}

proptest! {
    #![proptest_config(by_chance::cases(200))]

    #[test]
    fn what_is_done_twice_or_four_times_is_undone(one in any_picture()) {
        prop_assert_eq!(&one.mirrored().mirrored(), &one);
        prop_assert_eq!(&one.upside_down().upside_down(), &one);
        let quarter = |picture: Picture| picture.quarter_turned(1).expect("small");
        prop_assert_eq!(&(0..4).fold(one.clone(), |picture, _| quarter(picture)), &one);
        let half = quarter(quarter(one.clone()));
        prop_assert_eq!(&half, &one.mirrored().upside_down());
        prop_assert_eq!(&half, &one.quarter_turned(2).expect("small"));
        prop_assert_eq!(&quarter(half), &one.quarter_turned(3).expect("small"));
        prop_assert_eq!(&one.quarter_turned(4).expect("as it was"), &one);
        // A quarter to the right brings the left edge to the top, from below upwards.
        let turned = one.quarter_turned(1).expect("small");
        for row in 1..=one.height() {
            for column in 1..=one.width() {
                let there = turned.cell(column, one.height() + 1 - row);
                prop_assert_eq!(there, one.cell(row, column));
            }
        }
        if let Ok(inverted) = one.inverted() {
            prop_assert_eq!(&inverted.inverted().expect("as before"), &one);
        }
    }

    #[test]
    fn what_is_put_together_comes_apart(
        one in any_picture(),
        other in any_picture(),
        space in 0_usize..4,
    ) {
        let (width, height) = (one.width(), one.height());
        let gap = u16::try_from(space).expect("small");
        let both = one.beside(&other, space).expect("small");
        prop_assert_eq!(both.width(), width + gap + other.width());
        prop_assert_eq!(&both.cropped(1..=height, 1..=width).expect("inside"), &one);
        let begins = width + gap + 1;
        let right = both.cropped(1..=other.height(), begins..=both.width());
        prop_assert_eq!(&right.expect("inside"), &other);
        let stacked = one.above(&other, space).expect("small");
        prop_assert_eq!(&stacked.cropped(1..=height, 1..=width).expect("inside"), &one);
        let begins = height + gap + 1;
        let below = stacked.cropped(begins..=stacked.height(), 1..=other.width());
        prop_assert_eq!(&below.expect("inside"), &other);
        // What is added shows nothing.
        let count = |picture: &Picture| picture.cells().iter().flatten().count();
        prop_assert_eq!(count(&both), count(&one) + count(&other));
        prop_assert_eq!(count(&stacked), count(&one) + count(&other));
        // To turn what lies beside each other is to lay the turned ones above each other.
        let turned = |picture: &Picture| picture.mirrored().quarter_turned(1).expect("small");
        let mirrored_beside = other.mirrored().beside(&one.mirrored(), space).expect("small");
        if one.height() == other.height() {
            prop_assert_eq!(&both.mirrored(), &mirrored_beside);
            let turned_both = turned(&both.mirrored());
            let turned_each = turned(&one.mirrored()).above(&turned(&other.mirrored()), space);
            prop_assert_eq!(&turned_both, &turned_each.expect("small"));
        }
    }

    #[test]
    fn what_is_added_is_taken_away(one in any_picture(), left in 0_usize..4, above in 0_usize..4) {
        let padded = one.padded([left, 2], [above, 1]).expect("small");
        let (left, above) = (u16::try_from(left).expect("small"), u16::try_from(above).expect("small"));
        let rows = above + 1..=above + one.height();
        let inner = padded.cropped(rows, left + 1..=left + one.width()).expect("inside");
        prop_assert_eq!(&inner, &one);
        prop_assert_eq!(padded.trimmed().ok(), one.trimmed().ok());
        if let Ok(trimmed) = one.trimmed() {
            prop_assert_eq!(&trimmed.trimmed().expect("something"), &trimmed);
            let count = |picture: &Picture| picture.cells().iter().flatten().count();
            prop_assert_eq!(count(&trimmed), count(&one));
            for edge in [1, trimmed.width()] {
                prop_assert!((1..=trimmed.height()).any(|row| trimmed.cell(row, edge).is_some()));
            }
            for edge in [1, trimmed.height()] {
                prop_assert!((1..=trimmed.width()).any(|column| trimmed.cell(edge, column).is_some()));
            }
        }
        let repeated = one.repeated(3, 2).expect("small");
        for row in 1..=repeated.height() {
            for column in 1..=repeated.width() {
                let from = ((row - 1) % one.height() + 1, (column - 1) % one.width() + 1);
                prop_assert_eq!(repeated.colour(row, column), one.colour(from.0, from.1));
            }
        }
        prop_assert_eq!(&one.repeated(1, 1).expect("once"), &one);
    }

    #[test]
    fn colours_change_where_they_are_and_nowhere_else(one in any_picture(), which in 0_u8..4) {
        let away = |colour: &Colour| (colour.srgb != self::colour(which).srgb).then(|| colour.clone());
        let without = one.recoloured(away).expect("fewer colours");
        for (before, after) in one.cells().iter().zip(without.cells()) {
            let before = before.map(|number| one.colours()[usize::from(number)].clone());
            let after = after.map(|number| without.colours()[usize::from(number)].clone());
            prop_assert_eq!(after, before.filter(|colour| colour.srgb != self::colour(which).srgb));
        }
        prop_assert_eq!(&one.recoloured(|colour| Some(colour.clone())).expect("the same"), &one);
        // The order of a list, and what nobody sees in it, make no difference.
        let list: Vec<Colour> = colours(6).into_iter().rev().collect();
        let cells = one.cells().iter().map(|cell| cell.map(|number| 5 - number)).collect();
        prop_assert_eq!(&Picture::new(one.width(), list, cells).expect("small"), &one);
        let filled = one.filled(colour(9)).expect("five colours");
        prop_assert!(filled.cells().iter().all(Option::is_some));
        let emptied = filled.recoloured(|colour| (colour.srgb != self::colour(9).srgb).then(|| colour.clone()));
        prop_assert_eq!(&emptied.expect("fewer colours"), &one);
    }
}

/// A band of a picture over leaders, in its own colours.
fn tied_over(picture: &Picture, how: &OverLeader, ground: &[Colour], repeats: u32) -> Band {
    let hung = how.hung(picture, ground).expect("one colour a thread");
    let mut palette: Vec<Colour> = Vec::new();
    for colour in &hung {
        if !palette.contains(colour) {
            palette.push(colour.clone());
        }
    }
    let at = |colour: &Colour| palette.iter().position(|known| known == colour);
    let number = |colour: &Colour| u16::try_from(at(colour).expect("listed")).expect("small");
    Band::new(BandParts {
        threads: hung.iter().map(number).collect(),
        repeat: how.rows(picture).expect("it fits"),
        palette,
        repeats,
        ..BandParts::default()
    })
    .expect("a sound band")
}

/// What a band shows: for each row the colours of its knots from the left.
fn shown(band: &Band) -> Vec<Vec<Colour>> {
    let fabric = Fabric::of(band);
    let row = |row: hitchwork_core::fabric::TiedRow| {
        let mut knots: Vec<_> = row.knots.iter().collect();
        knots.sort_by_key(|knot| knot.column);
        let seen = |knot: &&hitchwork_core::fabric::TiedKnot| {
            band.palette()[usize::from(fabric.colour(knot.working))].clone()
        };
        knots.iter().map(seen).collect()
    };
    fabric.rows().map(row).collect()
}

/// Which leader leads the rows, one after another: 1 to the last, and back.
fn leading(leaders: u16) -> impl Iterator<Item = usize> {
    let leaders = usize::from(leaders);
    (0..leaders).chain((0..leaders).rev()).cycle()
}

#[derive(Clone, Debug)]
struct Tied {
    picture: Picture,
    how: OverLeader,
}

/// A picture of one colour for each column (or, where leaders show the motif, for each leader).
fn tied() -> impl Strategy<Value = Tied> {
    let how = (1_u16..=3, any::<bool>(), any::<bool>(), any::<bool>());
    let cells = (1_u16..=8, 1_usize..=9).prop_flat_map(|(columns, rows)| {
        let cells = prop::collection::vec(any::<bool>(), usize::from(columns) * rows);
        (Just(columns), cells)
    });
    (how, cells).prop_map(|((leaders, right, motif, comes_back), (columns, cells))| {
        let how = OverLeader {
            leaders,
            from: if right { Side::Right } else { Side::Left },
            shows: if motif {
                LeaderShows::Motif
            } else {
                LeaderShows::Ground
            },
            comes_back,
        };
        let across = usize::from(columns);
        let rows = cells.len() / across;
        let led: Vec<usize> = leading(leaders).take(rows).collect();
        let number = |at: usize| match how.shows {
            LeaderShows::Ground => at % across,
            LeaderShows::Motif => led[at / across],
        };
        let cell = |(at, motif): (usize, bool)| -> Cell {
            motif.then(|| u8::try_from(number(at)).expect("small"))
        };
        let cells = cells.into_iter().enumerate().map(cell).collect();
        let picture = Picture::new(columns, colours(9), cells).expect("small");
        Tied { picture, how }
    })
}

proptest! {
    #![proptest_config(by_chance::cases(400))]

    /// Both hands, both directions, one leader and several, twice where they come back.
    #[test]
    fn a_fabric_over_leaders_shows_the_picture_cell_by_cell(tied in tied()) {
        let Tied { picture, how } = &tied;
        let count = match how.shows {
            LeaderShows::Ground => how.leaders,
            LeaderShows::Motif => picture.width(),
        };
        let ground: Vec<Colour> = (0..count).map(|number| colour(100 + u8::try_from(number).expect("small"))).collect();
        let repeats = if how.comes_back { 2 } else { 1 };
        let band = tied_over(picture, how, &ground, repeats);
        prop_assert_eq!(band.thread_count(), picture.width() + how.leaders);
        let seen = shown(&band);
        let rows = how.row_count(picture);
        prop_assert_eq!(seen.len(), rows * usize::try_from(repeats).expect("small"));
        let led: Vec<usize> = leading(how.leaders).take(rows).collect();
        for (at, row) in seen.iter().enumerate() {
            prop_assert_eq!(row.len(), usize::from(picture.width()));
            let at = at % rows;
            for (column, seen) in (1..).zip(row) {
                let behind = match how.shows {
                    LeaderShows::Ground => &ground[led[at]],
                    LeaderShows::Motif => &ground[usize::from(column) - 1],
                };
                let row = u16::try_from(at + 1).expect("small");
                let wanted = picture.colour(row, column).unwrap_or(behind);
                prop_assert_eq!(seen, wanted, "row {}, column {}", row, column);
            }
        }
        // A second model of tying sees the same.
        let naive = naive::tie_band(&band);
        let seen_by_colour: Vec<usize> = naive.knots.iter().map(|knot| knot.colour).collect();
        let fabric = Fabric::of(&band);
        let ours: Vec<usize> = fabric.knots().map(|knot| usize::from(fabric.colour(knot.working))).collect();
        prop_assert_eq!(ours, seen_by_colour);
        if how.comes_back {
            let order: Vec<u16> = fabric.final_order().iter().map(|thread| thread.number()).collect();
            prop_assert_eq!(order, (1..=band.thread_count()).collect::<Vec<u16>>());
        } else {
            prop_assert_eq!(rows, usize::from(picture.height()));
        }
    }
}

/// Worked by hand: three columns over two leaders that hang at the left, at positions 1 and 2.
#[test]
fn two_leaders_go_one_after_another_and_come_back() {
    let how = OverLeader {
        leaders: 2,
        ..OverLeader::default()
    };
    let blank = Picture::plain(3, 3, None).expect("small");
    let rows: Vec<String> = how
        .rows(&blank)
        .expect("five threads")
        .iter()
        .map(ToString::to_string)
        .collect();
    assert_eq!(
        rows,
        [
            // The one at position 2 goes over columns 2 to 4, the other over 1 to 3; then back.
            "forward at 2, forward at 3, forward at 4",
            "forward at 1, forward at 2, forward at 3",
            "backward at 3, backward at 2, backward at 1",
            "backward at 4, backward at 3, backward at 2",
        ]
    );
    let ground = [colour(1), colour(2)];
    let names = |from: Side| -> Vec<String> {
        let how = OverLeader { from, ..how };
        let lamp = Picture::plain(3, 1, Some(colour(7))).expect("small");
        let hung = how.hung(&lamp, &ground).expect("three columns");
        hung.into_iter().map(|colour| colour.name).collect()
    };
    assert_eq!(
        names(Side::Left),
        ["colour 2", "colour 1", "colour 7", "colour 7", "colour 7"]
    );
    assert_eq!(
        names(Side::Right),
        ["colour 7", "colour 7", "colour 7", "colour 1", "colour 2"]
    );
}

#[test]
fn what_cannot_be_tied_over_leaders_is_refused_in_words() {
    let two = Picture::new(2, colours(2), vec![Some(0), None, Some(1), None]).expect("small");
    let refused = OverLeader::default()
        .hung(&two, &[colour(9)])
        .expect_err("two colours");
    assert!(refused.is_picture());
    assert_eq!(
        refused.to_string(),
        "column 1 of the picture shows colour 0 and colour 1, and is one thread"
    );
    let led = OverLeader {
        shows: LeaderShows::Motif,
        ..OverLeader::default()
    };
    let refused = led.hung(&two, &[colour(9)]).expect_err("one leader");
    assert!(
        refused
            .to_string()
            .starts_with("what leader 1 leads of the picture shows"),
        "{refused}"
    );
    let blank = Picture::plain(2, 2, None).expect("small");
    let refused = OverLeader::default()
        .hung(&blank, &[colour(8), colour(9)])
        .expect_err("one leader");
    assert_eq!(
        refused.to_string(),
        "2 colours of the ground cannot hang as 1 leader"
    );
    let none = OverLeader {
        leaders: 0,
        ..OverLeader::default()
    };
    assert!(none.rows(&two).is_err());
    let wide = Picture::plain(200, 1, None).expect("as wide as may be");
    let refused = OverLeader::default().rows(&wide).expect_err("201 threads");
    assert_eq!(
        refused.to_string(),
        "200 columns and 1 leader make 201 threads; a band has at most 200"
    );
    let fits = Picture::plain(199, 1, None).expect("small");
    assert_eq!(OverLeader::default().threads(&fits).ok(), Some(200));
}

#[test]
fn pictures_keep_to_their_limits() {
    assert!(Picture::plain(200, 2_000, None).is_ok());
    for (columns, rows) in [(201, 1), (1, 2_001), (0, 5), (5, 0)] {
        let refused = Picture::plain(columns, rows, None).expect_err("too much or nothing");
        assert_eq!(
            refused.to_string(),
            format!("a picture has 1 to 200 columns and 1 to 2000 rows, not {columns} by {rows}")
        );
    }
    let tall = Picture::plain(3, 201, None).expect("it fits");
    assert!(tall.quarter_turned(1).is_err() && tall.quarter_turned(2).is_ok());
    let wide = Picture::plain(150, 3, None).expect("it fits");
    assert!(wide.beside(&wide, 0).is_err() && wide.repeated(2, 1).is_err());
    assert!(wide.padded([usize::MAX, 1], [0, 0]).is_err());
    assert!(wide.repeated(usize::MAX, usize::MAX).is_err());
    assert!(
        Picture::new(2, colours(1), vec![None; 3]).is_err(),
        "half a row"
    );
    assert!(
        Picture::new(1, colours(1), vec![Some(1)]).is_err(),
        "no such colour"
    );
    assert!(Picture::new(1, colours(64), vec![None]).is_ok());
    assert!(Picture::new(1, colours(65), vec![None]).is_err());
    let halves = [colours(40), (40..80).map(colour).collect()];
    let [one, other] =
        halves.map(|list| Picture::new(1, list, vec![Some(39)]).expect("40 colours"));
    assert!(one.beside(&other, 0).is_err(), "80 colours");
    let three = Picture::new(3, colours(2), vec![None, Some(0), Some(1)]).expect("small");
    assert!(three.inverted().is_err());
    // One value has one name, the first.
    let named = vec![colour(3), Colour::new("again", colour(3).srgb)];
    let merged = Picture::new(2, named, vec![Some(0), Some(1)]).expect("small");
    assert_eq!(merged.shown(), [&colour(3)]);
}

/// The carried font read by a reader of a few lines that knows nothing of ours: for each letter
/// its columns from the left, without empty ones at the sides, as bits from the top.
fn drawn_letters() -> BTreeMap<char, Vec<u16>> {
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../crates/hitchwork-core/fonts/fixed-6x9.bdf"
    );
    let text = std::fs::read_to_string(path).expect("our own font");
    let mut letters = BTreeMap::new();
    for letter in text.split("STARTCHAR ").skip(1) {
        let of = |word: &str| {
            letter
                .lines()
                .find_map(|line| line.strip_prefix(word))
                .expect("given")
        };
        // All letters fill the same box, so that the first row of each is the top of the line.
        assert_eq!(of("BBX "), "6 9 0 -2");
        let code: u32 = of("ENCODING ").parse().expect("a number");
        let rows: Vec<u8> = (letter
            .lines()
            .skip_while(|line| *line != "BITMAP")
            .skip(1)
            .take(9))
        .map(|line| u8::from_str_radix(line, 16).expect("two digits"))
        .collect();
        assert_eq!(rows.len(), 9);
        let column = |at: u8| -> u16 {
            (0..9)
                .map(|row| u16::from(rows[row] >> (7 - at) & 1) << row)
                .sum()
        };
        let mut columns: Vec<u16> = (0..6).map(column).collect();
        while columns.last() == Some(&0) {
            columns.pop();
        }
        let columns: Vec<u16> = columns
            .into_iter()
            .skip_while(|column| *column == 0)
            .collect();
        letters.insert(char::from_u32(code).expect("a letter"), columns);
    }
    letters
}

/// Every letter that is carried is set, tied, and read from what the fabric shows, by its cells.
#[test]
fn letters_are_read_back_from_the_fabric_for_the_whole_repertoire() {
    let drawn = drawn_letters();
    let letters: Vec<char> = Font::built_in().letters().collect();
    let expected: Vec<char> = (drawn.iter().filter(|(_, columns)| !columns.is_empty()))
        .map(|(letter, _)| *letter)
        .collect();
    assert_eq!(letters, expected);
    assert_eq!(letters.len(), 664);
    for (name, some) in [
        ("digits", "0123456789"),
        ("Latin", "AZazÀÅÆÉÎÑÖØÜßçłőşžŸ"),
        ("Greek", "ΑΩαωΆώς"),
        ("Cyrillic", "АЯаяЁёЙйЇїҐґ"),
        ("signs", "!?.,:;&@#€+-()\"'«»"),
    ] {
        assert!(
            some.chars().all(|letter| letters.contains(&letter)),
            "{name}"
        );
    }
    let mut by_columns: BTreeMap<&[u16], BTreeSet<char>> = BTreeMap::new();
    for (letter, columns) in &drawn {
        by_columns.entry(columns).or_default().insert(*letter);
    }
    // No letter has a gap as wide as that between two.
    const GAP: usize = 4;
    let how = Lettering {
        letter_space: GAP,
        ..Lettering::default()
    };
    let (ink, paper) = (how.colour.clone(), colour(1));
    for (number, letters) in letters.chunks(16).enumerate() {
        let words: String = letters.iter().collect();
        let picture = Font::built_in().lettering(&words, &how).expect("carried");
        assert_eq!(picture.height(), 9);
        let over = OverLeader {
            from: if number % 2 == 0 {
                Side::Left
            } else {
                Side::Right
            },
            shows: if number % 3 == 0 {
                LeaderShows::Motif
            } else {
                LeaderShows::Ground
            },
            ..OverLeader::default()
        };
        let band = tied_over(&picture, &over, std::slice::from_ref(&paper), 1);
        let seen = shown(&band);
        let column = |at: usize| -> u16 {
            (0..9)
                .map(|row| u16::from(seen[row][at].srgb == ink.srgb) << row)
                .sum()
        };
        let columns: Vec<u16> = (0..usize::from(picture.width())).map(column).collect();
        let mut read: Vec<Vec<u16>> = vec![Vec::new()];
        let mut empty = 0;
        for column in columns {
            if column == 0 {
                empty += 1;
                continue;
            }
            let letter = read.last_mut().expect("one at least");
            if empty >= GAP {
                read.push(vec![column]);
            } else {
                letter.extend(std::iter::repeat_n(0, empty));
                letter.push(column);
            }
            empty = 0;
        }
        assert_eq!(read.len(), letters.len(), "{words}");
        for (letter, columns) in letters.iter().zip(&read) {
            let alike = by_columns.get(columns.as_slice());
            assert!(
                alike.is_some_and(|alike| alike.contains(letter)),
                "{letter} of {words}"
            );
        }
    }
    // Accents are seen. Of the letters of one script these alone look the same.
    let scripts: [fn(u32) -> bool; 3] = [
        |code| matches!(code, 0x41..=0x24f | 0x1e00..=0x1eff),
        |code| matches!(code, 0x370..=0x3ff),
        |code| matches!(code, 0x400..=0x52f),
    ];
    let mut alike = BTreeSet::new();
    for letters in by_columns.values() {
        for is_of in scripts {
            let letters = letters.iter().filter(|letter| letter.is_alphabetic());
            let same: String = letters
                .filter(|letter| is_of(u32::from(**letter)))
                .collect();
            if same.chars().count() > 1 {
                alike.insert(same);
            }
        }
    }
    let known = ["ÂÅ", "ÐĐ", "ŞȘ", "şș", "ŢȚ", "ţț", "Θϴ", "ѲӨ"];
    assert_eq!(alike, BTreeSet::from(known.map(str::to_owned)));
    // And these of three scripts.
    assert_eq!(
        by_columns[drawn[&'A'].as_slice()],
        BTreeSet::from(['A', 'Α', 'А'])
    );
}

#[test]
fn words_are_spaced_turned_and_refused_as_is_said() {
    let font = Font::built_in();
    let usual = Lettering::default();
    let word = |words: &str, how: &Lettering| font.lettering(words, how).expect("carried");
    let along = Lettering {
        along: true,
        ..usual.clone()
    };
    assert_eq!(
        word("Ahoy!", &along),
        word("Ahoy!", &usual).quarter_turned(1).expect("small")
    );
    let [a, b] = ["a", "b"].map(|letter| word(letter, &usual));
    assert_eq!(word("ab", &usual), a.beside(&b, 1).expect("small"));
    assert_eq!(word("a b", &usual), a.beside(&b, 3).expect("small"));
    let wide = Lettering {
        letter_space: 4,
        word_space: 9,
        ..usual.clone()
    };
    assert_eq!(word("ab", &wide), a.beside(&b, 4).expect("small"));
    assert_eq!(word("a b", &wide), a.beside(&b, 9).expect("small"));
    let refused = font
        .lettering("ab日本", &usual)
        .expect_err("no such letters");
    assert_eq!(
        refused.to_string(),
        "the font has no 日 (U+65E5), 本 (U+672C)"
    );
    let refused = font.lettering("two\nlines", &usual).expect_err("one line");
    assert_eq!(refused.to_string(), "the font has no U+000A");
    assert!(font.lettering("", &usual).is_err());
    let long = "harbour ".repeat(40);
    assert!(font.lettering(&long, &usual).is_err());
    assert!(font.lettering(&long, &along).is_ok());
    assert!(font.lettering(&long.repeat(10), &along).is_err());
}

/// (International Maritime Organization, International Code of Signals, 2005; from memory.)
#[test]
fn signal_flags_have_the_colours_of_the_code() {
    let table = [
        ('A', "white blue"),
        ('B', "red"),
        ('C', "white red blue"),
        ('D', "yellow blue"),
        ('E', "red blue"),
        ('F', "white red"),
        ('G', "yellow blue"),
        ('H', "white red"),
        ('I', "yellow black"),
        ('J', "white blue"),
        ('K', "yellow blue"),
        ('L', "yellow black"),
        ('M', "white blue"),
        ('N', "white blue"),
        ('O', "red yellow"),
        ('P', "white blue"),
        ('Q', "yellow"),
        ('R', "red yellow"),
        ('S', "white blue"),
        ('T', "white red blue"),
        ('U', "white red"),
        ('V', "white red"),
        ('W', "white red blue"),
        ('X', "white blue"),
        ('Y', "red yellow"),
        ('Z', "red yellow blue black"),
        ('0', "red yellow"),
        ('1', "white red"),
        ('2', "white blue"),
        ('3', "white red blue"),
        ('4', "white red"),
        ('5', "yellow blue"),
        ('6', "white black"),
        ('7', "red yellow"),
        ('8', "white red"),
        ('9', "white red yellow black"),
    ];
    let mut seen: Vec<(char, Picture)> = Vec::new();
    for (sign, colours) in table {
        let flag = signal_flag(sign).expect("a flag");
        let names: BTreeSet<String> = flag
            .shown()
            .iter()
            .map(|colour| colour.name.clone())
            .collect();
        let expected: BTreeSet<String> = colours
            .split(' ')
            .map(|name| format!("signal {name}"))
            .collect();
        assert_eq!(names, expected, "{sign}");
        for (other, known) in &seen {
            assert_ne!(&flag, known, "{sign} and {other}");
        }
        // Only swallow tails and pennants leave cells empty.
        let is_whole = flag.cells().iter().all(Option::is_some);
        assert_eq!(
            is_whole,
            sign.is_ascii_uppercase() && !"AB".contains(sign),
            "{sign}"
        );
        seen.push((sign, flag));
    }
    assert_eq!(seen.len(), 36);
    let at = |sign: char, row: u16, column: u16| {
        let flag = signal_flag(sign).expect("a flag");
        flag.colour(row, column).map_or("nothing", |colour| {
            let (name, _) = SIGNAL_COLOURS
                .iter()
                .find(|(name, _)| *name == colour.name)
                .expect("of the code");
            name.trim_start_matches("signal ")
        })
    };
    // The mast is at the left: what lies next to it, at the top and at the bottom, and at the fly.
    for (sign, corners) in [
        ('E', ["blue", "blue", "red", "red"]),
        ('H', ["white", "red", "white", "red"]),
        ('K', ["yellow", "blue", "yellow", "blue"]),
        ('L', ["yellow", "black", "black", "yellow"]),
        ('N', ["blue", "white", "white", "blue"]),
        ('U', ["red", "white", "white", "red"]),
        ('A', ["white", "blue", "white", "blue"]),
        ('V', ["red", "red", "red", "red"]),
        ('M', ["white", "white", "white", "white"]),
    ] {
        let found = [
            at(sign, 1, 1),
            at(sign, 1, 12),
            at(sign, 12, 1),
            at(sign, 12, 12),
        ];
        assert_eq!(found, corners, "{sign}");
    }
    assert_eq!([at('O', 2, 11), at('O', 11, 2)], ["red", "yellow"]);
    let z = [at('Z', 2, 6), at('Z', 6, 2), at('Z', 6, 11), at('Z', 11, 6)];
    assert_eq!(z, ["yellow", "black", "blue", "red"]);
    // Those that look the same from all sides, and from both.
    for sign in "FIMPQRSVWX".chars() {
        let flag = signal_flag(sign).expect("a flag");
        assert_eq!(flag.quarter_turned(1).expect("small"), flag, "{sign}");
    }
    for sign in "CDEGHJKTABFIMPQRSVWX123458".chars() {
        let flag = signal_flag(sign).expect("a flag");
        let is_level = !"E".contains(sign);
        assert_eq!(flag.upside_down() == flag, is_level, "{sign}");
    }
    assert!(signal_flag('é').is_none() && signal_flag(' ').is_none());
}
