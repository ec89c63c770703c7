//! Designs in disguise: the canonical form and the symmetry of a band against everything
//! that may be done with few knots, against published counts, and for bands by chance.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::knot::{Kind, Knot};
use hitchwork_core::proof::{
    CanonicalForm, ColoursCount, Disguise, Disguises, Operation, Strip, Symmetry,
};
use hitchwork_core::row::Row;
use hitchwork_tests::made::{colours, knot};
use hitchwork_tests::{by_chance, published};
use proptest::prelude::*;
use serde::Deserialize;

/// All ways of tying so many knots on so many threads.
fn words(threads: u16, knots: u32) -> Vec<Vec<Knot>> {
    let letters: Vec<Knot> = (1..threads)
        .flat_map(|column| Kind::ALL.map(|kind| knot(kind, column)))
        .collect();
    let mut all = vec![Vec::new()];
    for _ in 0..knots {
        let longer = |word: &Vec<Knot>| {
            let word = word.clone();
            letters
                .iter()
                .map(move |letter| [word.as_slice(), &[*letter]].concat())
        };
        all = all.iter().flat_map(longer).collect();
    }
    all
}

fn held(word: &[Knot], operation: Operation, threads: u16) -> Vec<Knot> {
    let image = |knot: &Knot| {
        let column = match operation.exchanges_sides() {
            true => threads - knot.column().number(),
            false => knot.column().number(),
        };
        hitchwork_tests::made::knot(operation.of_kind(knot.kind()), column)
    };
    let mut images: Vec<Knot> = word.iter().map(image).collect();
    if operation.exchanges_ends() {
        images.reverse();
    }
    images
}

/// For each word the number of its class: those reached from each other by exchanging
/// neighbours that do not touch, by beginning one knot later, and by these operations.
fn classes(all: &[Vec<Knot>], threads: u16, operations: &[Operation]) -> Vec<usize> {
    let number: BTreeMap<&Vec<Knot>, usize> = all.iter().zip(0..).collect();
    let mut class: Vec<Option<usize>> = vec![None; all.len()];
    for start in 0..all.len() {
        let mut waiting = vec![start];
        while let Some(at) = waiting.pop() {
            if class[at].is_some() {
                continue;
            }
            class[at] = Some(start);
            let word = &all[at];
            for left in 1..word.len() {
                let columns = [left - 1, left].map(|at| word[at].column().number());
                if columns[0].abs_diff(columns[1]) > 1 {
                    let mut exchanged = word.clone();
                    exchanged.swap(left - 1, left);
                    waiting.push(number[&exchanged]);
                }
            }
            let mut later = word.clone();
            later.rotate_left(1);
            waiting.push(number[&later]);
            waiting.extend(
                operations
                    .iter()
                    .map(|operation| number[&held(word, *operation, threads)]),
            );
        }
    }
    class
        .into_iter()
        .map(|class| class.expect("all were reached"))
        .collect()
}

/// Sizes at which everything can be tried; on five threads many of them fall apart.
const SMALL: [(u16, u32); 6] = [(2, 5), (3, 4), (4, 3), (4, 4), (5, 3), (6, 3)];

#[test]
fn few_knots_have_one_form_exactly_when_they_are_one_design() {
    let only = |operation| match operation {
        Operation::Mirrored => Disguises {
            mirrored: true,
            ..Disguises::NONE
        },
        Operation::UpsideDown => Disguises {
            upside_down: true,
            ..Disguises::NONE
        },
        _ => Disguises {
            half_turned: true,
            ..Disguises::NONE
        },
    };
    let mut allowed = vec![
        (Disguises::NONE, vec![]),
        (Disguises::ALL, Operation::ALL.to_vec()),
    ];
    allowed.extend(
        Operation::ALL[1..]
            .iter()
            .map(|operation| (only(*operation), vec![*operation])),
    );
    for (threads, knots) in SMALL {
        let all = words(threads, knots);
        for (disguises, operations) in &allowed {
            let classes = classes(&all, threads, operations);
            let mut form_of_class = BTreeMap::new();
            let mut forms = BTreeSet::new();
            for (word, class) in all.iter().zip(&classes) {
                let form =
                    CanonicalForm::of_rows(&[Row::new(word.iter().copied())], threads, *disguises);
                forms.insert(form.clone());
                let known = form_of_class.entry(*class).or_insert_with(|| form.clone());
                assert_eq!(*known, form, "{threads} threads, {word:?}");
            }
            assert_eq!(
                forms.len(),
                form_of_class.len(),
                "{threads} threads, {knots} knots, {disguises:?}"
            );
        }
    }
}

#[test]
fn few_knots_are_symmetrical_exactly_when_their_images_are_the_same_design() {
    for (threads, knots) in SMALL {
        let all = words(threads, knots);
        let classes = classes(&all, threads, &[]);
        let number: BTreeMap<&Vec<Knot>, usize> = all.iter().zip(0..).collect();
        for (word, class) in all.iter().zip(&classes) {
            let group = Strip::of_rows(&[Row::new(word.iter().copied())], threads)
                .pattern()
                .group;
            let fits = |operation| classes[number[&held(word, operation, threads)]] == *class;
            assert_eq!(
                group.along().is_some(),
                fits(Operation::Mirrored),
                "{threads}, {word:?}"
            );
            assert_eq!(
                group.across(),
                fits(Operation::UpsideDown),
                "{threads}, {word:?}"
            );
            assert_eq!(
                group.turns(),
                fits(Operation::HalfTurned),
                "{threads}, {word:?}"
            );
        }
    }
}

/// How many strings or strips are tried one by one, at most.
const MOST_TRIED: u64 = 70_000;

/// OEIS A000031 and A000029; three and four colours by Burnside's lemma: see
/// `published/necklaces_bracelets.json`.
#[test]
fn strips_of_one_column_are_necklaces_and_bracelets() {
    #[derive(Deserialize)]
    struct Case {
        colours: u64,
        n: u32,
        necklaces: usize,
        bracelets: usize,
    }
    let upside_down = Disguises {
        upside_down: true,
        ..Disguises::NONE
    };
    published::each("necklaces_bracelets", "trying all strings", |case: Case| {
        let count = case.colours.pow(case.n);
        if count > MOST_TRIED {
            return false;
        }
        let (mut necklaces, mut bracelets) = (BTreeSet::new(), BTreeSet::new());
        for number in 0..count {
            let bead =
                |at| u32::try_from(number / case.colours.pow(at) % case.colours).expect("small");
            let strip = Strip::new(2, (0..case.n).map(|at| (1, bead(at))));
            let reading = strip.read();
            necklaces.insert(reading.canonical_form(Disguises::NONE));
            bracelets.insert(reading.canonical_form(upside_down));
        }
        assert_eq!(
            (necklaces.len(), bracelets.len()),
            (case.necklaces, case.bracelets),
            "{} of {}",
            case.n,
            case.colours
        );
        true
    });
}

/// Pisanski, Schattschneider & Servatius, Mathematics Magazine 79 (2006) 167-180; OEIS
/// A053656; four aspects by Burnside's lemma: see `published/papers_escher_1d.json`. Every
/// aspect of the motif is a few knots without any symmetry.
#[test]
fn strips_of_one_motif_in_all_its_aspects() {
    use Kind::{BackwardForward, Forward, ForwardBackward};
    #[derive(Deserialize)]
    struct Case {
        n: u32,
        patterns_two_aspects_original_and_half_turn: usize,
        patterns_four_aspects_up_to_shift_and_half_turn: usize,
        patterns_four_aspects_up_to_all_frieze_isometries: usize,
    }
    let motif =
        [ForwardBackward, ForwardBackward, BackwardForward, Forward].map(|kind| knot(kind, 1));
    let aspects = Operation::ALL.map(|operation| held(&motif, operation, 2));
    let half_turned = Disguises {
        half_turned: true,
        ..Disguises::NONE
    };
    let count = |length: u32, aspects: &[&Vec<Knot>], disguises| {
        let forms = (0..aspects.len().pow(length)).map(|number| {
            let aspect = |at| aspects[number / aspects.len().pow(at) % aspects.len()];
            let knots = (0..length).flat_map(aspect).copied();
            CanonicalForm::of_rows(&[Row::new(knots)], 2, disguises)
        });
        forms.collect::<BTreeSet<_>>().len()
    };
    let few = |aspects: u64, length| aspects.pow(length) <= 5_000;
    let file = "papers_escher_1d";
    published::each(file, "tying all strips of two aspects", |case: Case| {
        let found = few(2, case.n).then(|| count(case.n, &[&aspects[0], &aspects[3]], half_turned));
        let expected = case.patterns_two_aspects_original_and_half_turn;
        found
            .inspect(|found| assert_eq!(*found, expected, "{}", case.n))
            .is_some()
    });
    published::each(file, "tying all strips of four aspects", |case: Case| {
        if !few(4, case.n) {
            return false;
        }
        let four: Vec<&Vec<Knot>> = aspects.iter().collect();
        let found = [half_turned, Disguises::ALL].map(|disguises| count(case.n, &four, disguises));
        let expected = [
            case.patterns_four_aspects_up_to_shift_and_half_turn,
            case.patterns_four_aspects_up_to_all_frieze_isometries,
        ];
        assert_eq!(found, expected, "{}", case.n);
        true
    });
}

/// A band of up to eight threads in up to four colours.
fn band() -> impl Strategy<Value = Band> {
    let parts = (2_u16..=8).prop_flat_map(|threads| {
        let hung = prop::collection::vec(0_u16..4, usize::from(threads));
        (hung, by_chance::rows(threads, 1..=4, 8))
    });
    parts.prop_map(|(threads, repeat)| made(threads, repeat))
}

fn made(threads: Vec<u16>, repeat: Vec<Row>) -> Band {
    let parts = BandParts {
        palette: colours(4),
        threads,
        repeat,
        repeats: 1,
        ..BandParts::default()
    };
    Band::new(parts).expect("every part is in range")
}

/// The band under an operation, begun so many rows later.
fn begun_later(band: &Band, operation: Operation, later: usize) -> Band {
    let threads = band.thread_count();
    let mut rows = operation
        .of_rows(band.repeat(), threads)
        .expect("inside the band");
    let mut hung = band.thread_colours().to_vec();
    let tie = |hung: &mut Vec<u16>, row: &Row| {
        for knot in row
            .knots()
            .iter()
            .filter(|knot| knot.kind().changes_places())
        {
            let left = usize::from(knot.column().number());
            hung.swap(left - 1, left);
        }
    };
    if operation.exchanges_ends() {
        band.repeat().iter().for_each(|row| tie(&mut hung, row));
    }
    if operation.exchanges_sides() {
        hung.reverse();
    }
    for row in rows.iter().cycle().take(later) {
        tie(&mut hung, row);
    }
    let count = rows.len();
    rows.rotate_left(later % count);
    made(hung, rows)
}

/// The same, in other colours, with neighbours that do not touch exchanged here and there,
/// and its repeat so often in one.
fn disguised(
    band: &Band,
    operation: Operation,
    later: usize,
    exchanges: &[usize],
    times: usize,
) -> Band {
    let begun = begun_later(band, operation, later);
    let (rows, hung) = (begun.repeat(), begun.thread_colours());
    let mut knots: Vec<Knot> = rows
        .iter()
        .flat_map(|row| row.knots().iter().copied())
        .collect();
    for at in exchanges {
        let left = at % knots.len();
        if left + 1 < knots.len() {
            let [one, other] = [left, left + 1].map(|at| knots[at].column().number());
            if one.abs_diff(other) > 1 {
                knots.swap(left, left + 1);
            }
        }
    }
    let renamed = hung.iter().map(|colour| (colour * 3 + 1) % 4).collect();
    made(renamed, vec![Row::new(knots.repeat(times))])
}

fn operation() -> impl Strategy<Value = Operation> {
    prop::sample::select(Operation::ALL.to_vec())
}

proptest! {
    #![proptest_config(by_chance::cases(400))]

    #[test]
    fn every_disguise_is_seen_through(
        band in band(), operation in operation(), later in 0..9_usize,
        exchanges in prop::collection::vec(0..64_usize, 0..40), times in 1..4_usize,
    ) {
        let other = disguised(&band, operation, later, &exchanges, times);
        let form = |band: &Band, disguises| CanonicalForm::of(band, disguises, ColoursCount::ByLikeness);
        let all = |band: &Band| form(band, Disguises::ALL).expect("few threads");
        prop_assert_eq!(all(&band), all(&other));
        if operation == Operation::Plain {
            let none = |band: &Band| form(band, Disguises::NONE).expect("few threads");
            prop_assert_eq!(none(&band), none(&other));
        }
        let (here, there) = (Symmetry::of(&band), Symmetry::of(&other));
        prop_assert_eq!(here.knots.group, there.knots.group);
        prop_assert_eq!(here.knots.period.half_rows, there.knots.period.half_rows);
        let seen = |symmetry: &Symmetry| symmetry.colours.as_ref().map(|seen| (seen.group, seen.period.half_rows));
        prop_assert_eq!(seen(&here), seen(&there));
        prop_assert_eq!(here.colour_moves.len(), there.colour_moves.len());
    }

    #[test]
    fn another_kind_in_one_place_makes_another_design_or_the_same_again(
        band in band(), at in 0..64_usize, kind in by_chance::kind(),
    ) {
        let knots: Vec<Knot> = band.repeat().iter().flat_map(|row| row.knots().iter().copied()).collect();
        let mut changed = knots.clone();
        let at = at % knots.len();
        changed[at] = knot(kind, knots[at].column().number());
        let kinds = |knots: &[Knot]| {
            let mut kinds: Vec<Kind> = knots.iter().map(|knot| knot.kind()).collect();
            kinds.sort_unstable();
            kinds
        };
        let form = |knots: &[Knot]| {
            CanonicalForm::of_rows(&[Row::new(knots.iter().copied())], band.thread_count(), Disguises::NONE)
        };
        // Nothing but the order may differ between two ways of tying one design.
        prop_assert_eq!(form(&knots) == form(&changed), kinds(&knots) == kinds(&changed));
    }
}

/// Two bands in which two colours are exchanged, and a third in which two threads are alike
/// that are not in the first.
#[test]
fn colours_count_by_value_by_likeness_or_not_at_all() {
    let repeat = || vec![hitchwork_tests::made::run(Kind::Forward, 1..4)];
    let bands =
        [[0, 1, 2, 0], [1, 0, 2, 1], [0, 1, 1, 0]].map(|hung| made(hung.to_vec(), repeat()));
    let same = |other: usize, count| {
        let form = |band| CanonicalForm::of(band, Disguises::ALL, count).expect("few threads");
        let between = Disguise::between(&bands[0], &bands[other], Disguises::ALL, count);
        let alike = form(&bands[0]) == form(&bands[other]);
        assert_eq!(between.expect("few threads").is_some(), alike, "{count:?}");
        alike
    };
    let exchanged = [
        ColoursCount::ByValue,
        ColoursCount::ByLikeness,
        ColoursCount::No,
    ];
    assert_eq!(exchanged.map(|count| same(1, count)), [false, true, true]);
    assert_eq!(exchanged.map(|count| same(2, count)), [false, false, true]);
    // Of one thread each round the band, any order of three colours is any other's image.
    let drifting = [[0, 1, 2, 3], [0, 2, 1, 3]].map(|hung| made(hung.to_vec(), repeat()));
    let said = |count| {
        Disguise::between(&drifting[0], &drifting[1], Disguises::ALL, count).expect("few threads")
    };
    assert_eq!(said(ColoursCount::ByValue), None);
    assert!(
        said(ColoursCount::ByLikeness)
            .expect("all are different")
            .recoloured
    );
}

/// Pairs of threads that no knot joins, each in two colours of its own: every pair may begin
/// with its colours exchanged, so that together they begin in 2^pairs ways. More comparisons
/// than a million are refused; here their number grows with the pairs and not with the ways.
#[test]
fn bands_in_many_pieces_are_compared_piece_by_piece() {
    let form = |hung: Vec<u16>| {
        let threads = u16::try_from(hung.len()).expect("few");
        let columns = (1..threads).step_by(2);
        let band = Band::new(BandParts {
            palette: colours(hung.len()),
            threads: hung,
            repeat: vec![hitchwork_tests::made::run(Kind::Forward, columns)],
            repeats: 1,
            ..BandParts::default()
        })
        .expect("every part is in range");
        CanonicalForm::of(&band, Disguises::ALL, ColoursCount::ByLikeness).expect("few comparisons")
    };
    for pairs in [1_u16, 2, 3, 10, 40, 100] {
        let own: Vec<u16> = (0..2 * pairs).collect();
        // Every third pair the other way round, and the colours by other names.
        let renamed = |colour: &u16| match colour / 2 % 3 {
            0 => 2 * pairs - 1 - (colour ^ 1),
            _ => 2 * pairs - 1 - colour,
        };
        assert_eq!(form(own.iter().map(renamed).collect()), form(own.clone()));
        let mut shared = own.clone();
        shared[usize::from(2 * pairs) - 1] = 0;
        assert_ne!(form(shared), form(own), "{pairs} pairs");
    }
}

#[test]
fn a_form_is_the_same_for_ever() {
    let rows = [
        Row::run(Kind::Forward, 1..5).expect("columns"),
        Row::run(Kind::BackwardForward, [2, 4]).expect("columns"),
    ];
    let form = CanonicalForm::of_rows(&rows, 5, Disguises::ALL);
    assert!(
        form.bytes().starts_with(b"hitchwork-design/1\n"),
        "a changed encoding needs a new name"
    );
    let hex = "fb3213145c9b3ae4a7117001ef0819f306c899ed640d695972fa15ef22593168";
    assert_eq!(form.hex(), hex);
}

proptest! {
    #![proptest_config(by_chance::cases(300))]

    #[test]
    fn a_disguise_is_named(
        band in band(), operation in operation(), later in 0..9_usize,
        exchanges in prop::collection::vec(0..64_usize, 0..40), times in 1..4_usize,
    ) {
        let other = disguised(&band, operation, later, &exchanges, times);
        let between = |known, found| {
            Disguise::between(known, found, Disguises::ALL, ColoursCount::ByLikeness).expect("few threads")
        };
        let disguise = between(&band, &other);
        prop_assert!(disguise.is_some());
        let itself = between(&band, &band).expect("a band is itself");
        prop_assert_eq!(itself.words("it"), "it");
    }

    /// Bands are made again from what is said of them.
    #[test]
    fn what_is_said_makes_the_disguise(
        band in band(), operation in operation(), later in 0..9_usize, joined in any::<bool>(),
    ) {
        let mut rows = band.repeat().to_vec();
        if joined {
            rows.push(hitchwork_tests::made::run(Kind::Forward, 1..band.thread_count()));
        }
        let band = made(band.thread_colours().to_vec(), rows);
        said_as_found_by_trying(&band, &begun_later(&band, operation, later));
    }
}

/// What is said of one band in disguise against trying every number of rows.
fn said_as_found_by_trying(band: &Band, other: &Band) {
    // Colours of up to eight threads come round after 15 repeats, of five rows each.
    const MOST_LATER: usize = 75;
    let said = Disguise::between(band, other, Disguises::ALL, ColoursCount::ByLikeness)
        .expect("few threads")
        .expect("the same design");
    let hung_alike = |again: &Band| {
        let (again, other) = (again.thread_colours(), other.thread_colours());
        let likeness = |hung: &[u16]| -> Vec<_> {
            let first = |colour| hung.iter().position(|other| other == colour);
            hung.iter().map(first).collect()
        };
        match said.recoloured {
            true => likeness(again) == likeness(other),
            false => again == other,
        }
    };
    let found = (0..MOST_LATER).find(|later| {
        let again = begun_later(band, said.operation, *later);
        again.repeat() == other.repeat() && hung_alike(&again)
    });
    match found {
        Some(later) => {
            assert_eq!(said.rows_later, Some(later as u64), "{said:?}");
            assert!(!said.retied, "{said:?}");
        }
        None => assert!(said.retied || said.rows_later.is_none(), "{said:?}"),
    }
}

/// Three knots in one column exchange two threads three times, so that the colours hang the
/// other way round after each row. To begin at the second knot would fit the colours, too,
/// and no row: what begins with the colours exchanged begins one row later.
#[test]
fn a_disguise_begins_where_rows_and_colours_fit() {
    let row = || vec![hitchwork_tests::made::run(Kind::Forward, [1, 1, 1])];
    let (band, other) = (made(vec![0, 1], row()), made(vec![1, 0], row()));
    said_as_found_by_trying(&band, &other);
    let said = Disguise::between(&band, &other, Disguises::NONE, ColoursCount::ByValue);
    let said = said.expect("few threads").expect("the same design");
    assert_eq!(said.words("tideline"), "tideline, begun 1 row later");
    // Of two strips side by side, one is begun a row later, and no row fits both.
    let parts = |rows: [&[u16]; 2], hung: [u16; 4]| {
        let row = |columns: &&[u16]| hitchwork_tests::made::run(Kind::Forward, columns.to_vec());
        made(hung.to_vec(), rows.iter().map(row).collect())
    };
    let band = parts([&[1, 3], &[1, 3]], [0, 1, 2, 3]);
    let other = parts([&[1, 3], &[1, 3]], [0, 1, 3, 2]);
    said_as_found_by_trying(&band, &other);
    let said = Disguise::between(&band, &other, Disguises::NONE, ColoursCount::ByValue);
    let said = said.expect("few threads").expect("the same design");
    assert_eq!(
        said.words("tideline"),
        "tideline, with its parts begun elsewhere"
    );
}

#[test]
fn disguises_in_words() {
    let rows = hitchwork_core::row::grid(
        r"\\>
./\
<..",
    )
    .expect("marks");
    let band = made(vec![0, 1, 2, 0], rows);
    let words = |operation, later| {
        let other = begun_later(&band, operation, later);
        Disguise::between(&band, &other, Disguises::ALL, ColoursCount::ByValue)
            .expect("few threads")
            .map(|disguise| disguise.words("tideline"))
            .expect("the same design")
    };
    assert_eq!(words(Operation::Plain, 0), "tideline");
    assert_eq!(
        words(Operation::Mirrored, 1),
        "the mirror image of tideline, begun 1 row later"
    );
    assert_eq!(
        words(Operation::UpsideDown, 2),
        "tideline upside down, begun 2 rows later"
    );
    assert_eq!(
        words(Operation::HalfTurned, 4),
        "tideline after half a turn, begun 4 rows later"
    );
}
