//! A colour is its value, whatever it is called: what to cut, what to buy, what is there.

use hitchwork_collection::class::{Chosen, ClassList};
use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Owned, Srgb, difference};
use hitchwork_core::craft::{CutList, End, Holds, Shape, Shopping, SkeinSize, at_hand, shopping};
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::Code;
use hitchwork_core::tied::Tied;
use hitchwork_tests::by_chance::{self, cases};
use hitchwork_tests::made;
use proptest::prelude::*;

const DEEP: Srgb = Srgb::new(0x3a, 0x5f, 0x7d);
const PALE: Srgb = Srgb::new(0x5b, 0x80, 0x9e);
const SAND: Srgb = Srgb::new(0xf0, 0xe0, 0xb0);

fn band(palette: &[(&str, Srgb)], threads: &[u16]) -> Band {
    let count = u16::try_from(threads.len()).expect("a few threads");
    Band::new(BandParts {
        palette: palette
            .iter()
            .map(|(name, srgb)| Colour::new(*name, *srgb))
            .collect(),
        threads: threads.to_vec(),
        repeat: vec![made::run(Kind::Forward, 1..count)],
        repeats: 40,
        ..BandParts::default()
    })
    .expect("a band")
}

/// The cut lists of some bands as one, as a class has it.
fn together(bands: &[Band]) -> CutList {
    let lists: Vec<CutList> = bands
        .iter()
        .map(|band| made::report(band).cut_list)
        .collect();
    CutList {
        cuts: lists.iter().flat_map(|list| list.cuts.clone()).collect(),
        thread_mm: Vec::new(),
        total_mm: lists.iter().map(|list| list.total_mm).sum(),
    }
}

fn bought(bands: &[Band]) -> Shopping {
    shopping(&together(bands), 6, SkeinSize::default()).expect("a class buys")
}

#[test]
fn two_colours_of_one_name_are_bought_apart_and_one_of_two_names_together() {
    let class = bought(&[
        band(&[("dark steel blue", DEEP), ("sand", SAND)], &[0, 0, 1]),
        band(&[("dark steel blue", PALE), ("dune", SAND)], &[0, 1, 1]),
    ]);
    let lines: Vec<(&str, Srgb, usize)> = class
        .purchases
        .iter()
        .map(|purchase| (purchase.colour.as_str(), purchase.srgb, purchase.pieces))
        .collect();
    assert_eq!(
        lines,
        [
            ("dark steel blue", DEEP, 2 * 6),
            ("sand", SAND, (1 + 2) * 6),
            ("dark steel blue 2", PALE, 6),
        ]
    );
}

#[test]
fn the_list_of_a_class_keeps_values_apart_and_says_what_the_sheets_call_them() {
    let bands = [
        band(&[("dark steel blue", DEEP), ("sand", SAND)], &[0, 0, 1]),
        band(&[("dark steel blue", PALE), ("sand", SAND)], &[0, 1, 1]),
    ];
    let chosen = bands.iter().enumerate().map(|(number, band)| Chosen {
        name: format!("tide-{number}"),
        title: "Tide".into(),
        cuts: made::report(band).cut_list,
    });
    let list = ClassList {
        title: "Evening class (invented)".into(),
        chosen: chosen.collect(),
        people: 6,
        shopping: bought(&bands),
    };
    let text = list.text();
    assert!(text.contains("dark steel blue  #3a5f7d"), "{text}");
    assert!(text.contains("dark steel blue 2  #5b809e"), "{text}");
    assert!(
        text.contains("1 dark steel blue 2 (on its sheet: dark steel blue) of"),
        "{text}"
    );
    let table = String::from_utf8(list.csv()).expect("text");
    assert!(table.contains("\ndark steel blue,#3a5f7d,"), "{table}");
    assert!(table.contains("\ndark steel blue 2,#5b809e,"), "{table}");
    let page = list.page();
    assert!(page.contains("dark steel blue 2"));
    // Every colour has a dab of itself where it is bought, and one at each piece to cut.
    for value in ["3a5f7d", "5b809e"] {
        assert!(
            page.contains(&format!(".k{value}{{background:#{value}}}")),
            "{page}"
        );
        let dabs = page
            .matches(&format!("<i class=\"dab k{value}\"></i>"))
            .count();
        assert!(dabs >= 2, "{dabs} dabs of {value}");
    }
}

#[test]
fn two_names_for_one_value_are_cut_folded_and_counted_as_one_colour() {
    let two = band(&[("sand", SAND), ("dune", SAND)], &[0, 1, 1, 0, 0, 1]);
    let one = band(&[("sand", SAND)], &[0; 6]);
    assert_eq!(made::report(&two).cut_list, made::report(&one).cut_list);
    assert_eq!(made::report(&two).colour_repeats_to_close, 1);
    let mut parts = band(&[("sand", SAND), ("dune", SAND)], &[0, 1, 1, 1]).into_parts();
    parts.start = End {
        shape: Shape::Loop,
        ..End::default()
    };
    let folded = Band::new(parts).expect("a band");
    let found = made::report(&folded).findings;
    assert!(
        found
            .iter()
            .all(|finding| finding.code != Code::LoopNeedsPairs)
    );
    assert!(made::steps(&folded).cuts[0].contains("folded"));
}

proptest! {
    #![proptest_config(cases(64))]

    /// Whatever colours are called: as many lines as values, each name once, and no piece
    /// is lost.
    #[test]
    fn a_buy_list_has_a_line_for_each_value(bands in prop::collection::vec(by_chance::band(), 1..4), names in prop::collection::vec(0_usize..3, 12)) {
        let mut called = names.iter().cycle();
        let renamed: Vec<Band> = bands.into_iter().map(|band| {
            let mut parts = band.into_parts();
            for (at, colour) in parts.palette.iter_mut().enumerate() {
                // Names that come again from band to band, each once in its own.
                colour.name = format!("teal {}", at + called.next().expect("it never ends"));
                if at > 0 { colour.name.push_str(&" bis".repeat(at)); }
            }
            Band::new(parts).expect("still a band")
        }).collect();
        let list = together(&renamed);
        let skein = SkeinSize { length_mm: 1e8, price: None };
        let class = shopping(&list, 2, skein)?;
        let mut values: Vec<Srgb> = list.cuts.iter().map(|cut| cut.srgb).collect();
        values.sort_unstable();
        values.dedup();
        let mut bought: Vec<Srgb> = class.purchases.iter().map(|purchase| purchase.srgb).collect();
        bought.sort_unstable();
        prop_assert_eq!(bought, values);
        let mut names: Vec<&str> = class.purchases.iter().map(|purchase| purchase.colour.as_str()).collect();
        names.sort_unstable();
        names.dedup();
        prop_assert_eq!(names.len(), class.purchases.len());
        let pieces: usize = list.cuts.iter().map(|cut| 2 * cut.pieces).sum();
        prop_assert_eq!(class.purchases.iter().map(|purchase| purchase.pieces).sum::<usize>(), pieces);
    }
}

fn owned(name: &str, srgb: Srgb, left_m: Option<f64>) -> Owned {
    Owned {
        code: Some(format!("no. {name}")),
        left_m,
        ..Owned::new(name, srgb)
    }
}

/// Two pieces of one colour and one of another, each a metre long.
fn metre_pieces() -> CutList {
    let band = band(&[("deep", DEEP), ("sand", SAND)], &[0, 0, 1]);
    let mut list = made::report(&band).cut_list;
    for cut in &mut list.cuts {
        cut.cut_mm = 1_000.0;
    }
    list
}

/// Whether the pieces can be cut from the rests, by trying every rest for every piece: too
/// simple to be wrong.
fn can_be_cut(pieces: &[u32], rests: &mut [u32]) -> bool {
    let Some((piece, others)) = pieces.split_first() else {
        return true;
    };
    (0..rests.len()).any(|at| {
        if rests[at] < *piece {
            return false;
        }
        rests[at] -= piece;
        let done = can_be_cut(others, rests);
        rests[at] += piece;
        done
    })
}

proptest! {
    /// Enough is said exactly where some way of cutting exists, and the order of the stash
    /// makes no difference: pieces of 4 to 9 dm from up to four threads.
    #[test]
    fn enough_is_enough_however_it_has_to_be_cut(
        lengths in prop::collection::vec((4_u32..=9, 1_usize..=3), 1..=3),
        rests in prop::collection::vec(0_u32..=24, 1..=4),
    ) {
        let mut list = metre_pieces();
        let cut = list.cuts[0].clone();
        list.cuts = lengths
            .iter()
            .map(|(decimetres, pieces)| {
                let mut cut = cut.clone();
                (cut.cut_mm, cut.pieces) = (f64::from(*decimetres) * 100.0, *pieces);
                cut
            })
            .collect();
        let stash: Vec<Owned> = rests
            .iter()
            .map(|rest| owned("quay", DEEP, Some(f64::from(*rest) / 10.0)))
            .collect();
        let turned: Vec<Owned> = stash.iter().rev().cloned().collect();
        let pieces: Vec<u32> = lengths
            .iter()
            .flat_map(|(length, pieces)| std::iter::repeat_n(*length, *pieces))
            .collect();
        let possible = can_be_cut(&pieces, &mut rests.clone());
        let holds = |stash: &[Owned]| at_hand(&list, stash, 1)[0].holds.clone();
        prop_assert_eq!(matches!(holds(&stash), Holds::Enough { .. }), possible);
        let by = |holds: Holds| match holds {
            Holds::Short { by_mm, .. } => by_mm,
            _ => 0.0,
        };
        prop_assert!((by(holds(&stash)) - by(holds(&turned))).abs() < 1e-6);
    }
}

/// What is missing although there is as much as is needed is said in pieces.
#[test]
fn rests_that_are_long_enough_only_together_are_told_as_such() {
    let band = band(&[("deep", DEEP), ("sand", SAND)], &[0, 1, 1]);
    let tied = made::tied(&band);
    let metres = tied.report().cut_list.cuts[0].cut_mm / 1_000.0;
    let stash = [
        owned("quay", DEEP, Some(metres * 0.6)),
        owned("pier", DEEP, Some(metres * 0.6)),
        owned("dune", SAND, Some(metres * 9.0)),
    ];
    let tied = tied.with_stash(&stash, 1);
    let said = &tied.report().findings;
    let said = said
        .iter()
        .find(|finding| finding.code.name() == "stash-too-short");
    let said = &said.expect("a piece is missing").message;
    assert!(said.contains("not every piece can be cut whole"), "{said}");
    assert!(!said.contains("short by"), "{said}");
}

#[test]
fn every_colour_is_enough_or_short_or_missing() {
    let list = metre_pieces();
    let holds = |stash: &[Owned], bands| -> Holds { at_hand(&list, stash, bands)[0].holds.clone() };
    // Two pieces from exactly two pieces' length, under whatever name.
    assert!(matches!(
        holds(&[owned("quay", DEEP, Some(2.0))], 1),
        Holds::Enough { left_mm: Some(left), .. } if (left - 2_000.0).abs() < 1e-6
    ));
    // Half a piece less.
    assert!(matches!(
        holds(&[owned("quay", DEEP, Some(1.5))], 1),
        Holds::Short { by_mm, .. } if (by_mm - 500.0).abs() < 1e-6
    ));
    // Enough for one band is short by four pieces for three.
    assert!(matches!(
        holds(&[owned("quay", DEEP, Some(2.0))], 3),
        Holds::Short { by_mm, .. } if (by_mm - 4_000.0).abs() < 1e-6
    ));
    // Two rests of a piece and a half: one piece of each; of three quarters: none.
    let rests = |left: f64, bands| {
        let rests = [
            owned("quay", DEEP, Some(left)),
            owned("pier", DEEP, Some(left)),
        ];
        holds(&rests, bands)
    };
    assert!(matches!(rests(1.5, 1), Holds::Enough { threads, .. } if threads.len() == 2));
    assert!(matches!(
        holds(&[owned("quay", DEEP, Some(1.5)), owned("pier", DEEP, Some(0.75))], 1),
        Holds::Short { by_mm, .. } if (by_mm - 1_000.0).abs() < 1e-6
    ));
    // In which order the stash lists its threads makes no difference.
    for (first, second) in [(2.0, 1.0), (1.0, 2.0)] {
        let stash = [
            owned("quay", DEEP, Some(first)),
            owned("pier", DEEP, Some(second)),
        ];
        let mut list = list.clone();
        list.cuts.truncate(1);
        list.cuts[0].pieces = 3;
        let held = at_hand(&list, &stash, 1)[0].holds.clone();
        assert!(matches!(held, Holds::Enough { .. }), "{first}: {held:?}");
    }
    // Nobody wrote down how much is left.
    assert!(matches!(
        holds(&[owned("quay", DEEP, None)], 9),
        Holds::Enough { left_mm: None, .. }
    ));
    // A name is not a colour; and what is used up is not offered.
    let other = [
        owned("deep", SAND, Some(9.0)),
        owned("spent", PALE, Some(0.0)),
        owned("dusk", Srgb::new(0x3a, 0x5f, 0x80), Some(9.0)),
    ];
    assert!(matches!(
        holds(&other, 1),
        Holds::Missing { nearest: Some(near), difference: Some(apart) }
            if near.name == "dusk" && (apart - difference(DEEP, near.srgb)).abs() < 1e-9
    ));
    assert!(matches!(
        holds(&[], 1),
        Holds::Missing { nearest: None, .. }
    ));
}

#[test]
fn report_and_sheet_say_of_every_colour_what_is_there() {
    let band = band(
        &[("deep", DEEP), ("pale", PALE), ("sand", SAND)],
        &[0, 1, 2],
    );
    let stash = [
        owned("quay", DEEP, Some(50.0)),
        owned("pier", PALE, Some(0.5)),
    ];
    let tied = Tied::of(band.clone()).with_stash(&stash, 1);
    let report = tied.report();
    let [deep, pale, sand] = [0, 1, 2].map(|at| report.cut_list.cuts[at].cut_mm / 1000.0);
    // What is needed is said to a tenth of a metre, and never less than it is.
    let said_up = |metres: f64| (metres * 10.0 - 1e-6).ceil() / 10.0;
    let short = said_up(pale - 0.5);
    let [deep, pale, sand] = [deep, pale, sand].map(said_up);
    let said = &tied.steps().stash;
    let apart = difference(SAND, PALE);
    assert_eq!(
        *said,
        [
            format!(
                "deep (#3a5f7d): owned and enough; {deep:.1} m needed from quay (no. quay), 50.0 m left"
            ),
            format!(
                "pale (#5b809e): owned, short by {short:.1} m; {pale:.1} m needed from pier (no. pier), 0.5 m left"
            ),
            format!(
                "sand (#f0e0b0): not owned; {sand:.1} m needed, nearest is pier (no. pier), {apart:.1} away: another colour"
            ),
        ]
    );
    let short_of: Vec<&str> = report
        .findings
        .iter()
        .filter(|finding| finding.code == Code::StashTooShort)
        .map(|finding| finding.message.as_str())
        .collect();
    assert_eq!(
        short_of,
        [format!(
            "pale takes {pale:.1} m and the stash has 0.5 m: short by {short:.1} m"
        )]
    );
    assert!(made::steps(&band).stash.is_empty());
}

/// At the edge a thread shows in every loop between its knots there, working or not.
#[test]
fn a_thread_that_never_wraps_shows_only_where_it_turns_at_an_edge() {
    let codes = |rows: Vec<hitchwork_core::row::Row>, threads: u16| -> Vec<(Code, Option<u16>)> {
        let band = Band::new(BandParts {
            palette: made::colours(usize::from(threads)),
            threads: (0..threads).collect(),
            repeat: rows,
            repeats: 12,
            ..BandParts::default()
        });
        let found = made::report(&band.expect("a band")).findings;
        let hidden = |code| matches!(code, Code::ColourNeverShows | Code::ColourOnlyInEdge);
        found
            .iter()
            .filter(|finding| hidden(finding.code))
            .map(|finding| (finding.code, finding.place.thread))
            .collect()
    };
    let row = made::run;
    // The left of two threads always inside, and it stays at the left edge.
    assert_eq!(
        codes(vec![row(Kind::BackwardForward, [1])], 2),
        [(Code::ColourOnlyInEdge, Some(1))]
    );
    // The same at the right edge.
    assert_eq!(
        codes(vec![row(Kind::ForwardBackward, [1])], 2),
        [(Code::ColourOnlyInEdge, Some(2))]
    );
    // The middle of three, wrapped from both sides, never comes to an edge.
    assert_eq!(
        codes(
            vec![
                row(Kind::ForwardBackward, [1]),
                row(Kind::BackwardForward, [2])
            ],
            3
        ),
        [(Code::ColourNeverShows, Some(2))]
    );
    // A thread that travels through all columns as core: it turns at both edges.
    let to_and_fro = vec![
        row(Kind::Backward, [1]),
        row(Kind::Backward, [2]),
        row(Kind::Forward, [2]),
        row(Kind::Forward, [1]),
    ];
    assert_eq!(codes(to_and_fro, 3), [(Code::ColourOnlyInEdge, Some(1))]);
}

/// Six bands of two deep threads and one of sand: 12 pieces and 6.
#[test]
fn what_is_there_is_not_bought() {
    let band = band(&[("deep", DEEP), ("sand", SAND)], &[0, 0, 1]);
    let skein = SkeinSize {
        price: Some(2.0),
        ..SkeinSize::default()
    };
    let bought = |stash: &[Owned]| {
        let tied = Tied::of(band.clone()).with_stash(stash, 6);
        let tied = tied.for_class(6, skein).expect("a class buys");
        let report = tied.report();
        let shopping = report.shopping.clone().expect("asked for");
        let all: f64 = report
            .stash
            .iter()
            .flatten()
            .map(|there| there.needs_mm)
            .sum();
        let lines: Vec<(String, usize)> = shopping
            .purchases
            .iter()
            .map(|purchase| (purchase.colour.clone(), purchase.pieces))
            .collect();
        let skeins = u32::try_from(shopping.skeins).expect("a few");
        assert_eq!(shopping.cost, Some(2.0 * f64::from(skeins)));
        (lines, shopping.from_stash_mm.expect("a stash"), all)
    };
    let line = |colour: &str, pieces| (colour.to_owned(), pieces);
    let piece = made::report(&band).cut_list.cuts[0].cut_mm;
    let (lines, from_stash, all) = bought(&[]);
    assert_eq!(lines, [line("deep", 12), line("sand", 6)]);
    assert_eq!(from_stash, 0.0);
    let plenty = [owned("quay", DEEP, None), owned("dune", SAND, Some(900.0))];
    assert_eq!(bought(&plenty), (Vec::new(), all, all));
    let (lines, ..) = bought(&plenty[..1]);
    assert_eq!(lines, [line("sand", 6)]);
    // A rest of two pieces and a half, and one that is just too short for a piece: of 12 pieces,
    // of which all are equally long or one band's two differ, 10 are still to be bought.
    let rests = [
        owned("quay", DEEP, Some(2.5 * piece / 1000.0)),
        owned("pier", DEEP, Some(0.01)),
    ];
    let (lines, from_stash, _) = bought(&rests);
    assert_eq!(lines, [line("deep", 10), line("sand", 6)]);
    assert!(from_stash > 1.5 * piece && from_stash <= 2.5 * piece);
}
