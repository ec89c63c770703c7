//! How many designs there are, against counts that others made of things that are the same
//! thing in disguise.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::ControlFlow;
use std::sync::atomic::AtomicBool;

use hitchwork_collection::census::{Census, CensusError, Counted};
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{
    CanonicalForm, Disguises, Frieze, Mesh, Operation, Strip, Symmetry, brick_lattice,
};
use hitchwork_core::row::Row;
use hitchwork_tests::made::band;
use hitchwork_tests::published;
use serde::Deserialize;

fn counted(threads: u16, rows: usize, kinds: &[Kind], disguises: Disguises) -> Counted {
    let census = Census::new(threads, rows, kinds, disguises).expect("a small census");
    let go_on = &mut |_| ControlFlow::Continue(());
    let counted = census.take(2, &AtomicBool::new(false), go_on);
    counted.expect("nobody stops it")
}

const HALF_TURNED: Disguises = Disguises {
    half_turned: true,
    ..Disguises::NONE
};

/// How many strings or strips are tried one by one, at most.
const MOST_TRIED: u64 = 70_000;

/// Sloane, The On-Line Encyclopedia of Integer Sequences (1996 and later), A000031 and
/// A000029, and computed for three and four colours: see `published/necklaces_bracelets.json`.
/// Knots in a single column are beads on a string, and after half a turn travelling knots are
/// what they were.
#[test]
fn fabrics_of_two_threads_are_necklaces_and_bracelets() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        colours: usize,
        n: usize,
        necklaces: u64,
        bracelets: u64,
    }
    published::each("necklaces_bracelets", "trying all strings", |case: Case| {
        let strings = u64::try_from(case.colours)
            .expect("few")
            .pow(u32::try_from(case.n).expect("short"));
        if strings > MOST_TRIED {
            return false;
        }
        let found = counted(2, case.n, &Kind::ALL[..case.colours], Disguises::NONE);
        assert_eq!(
            (found.designs, found.accounted_for),
            (case.necklaces, strings),
            "{}",
            case.id
        );
        if case.colours == 2 {
            let found = counted(2, case.n, &Kind::ALL[..2], HALF_TURNED);
            assert_eq!(
                (found.designs, found.accounted_for),
                (case.bracelets, strings),
                "{}",
                case.id
            );
        }
        true
    });
}

/// Pisanski, Schattschneider & Servatius 2006 and OEIS A053656; four-aspect counts by
/// Burnside and by trying all: see `published/papers_escher_1d.json`. The four kinds of knots
/// are the four aspects of a motif.
#[test]
fn fabrics_of_two_threads_are_eschers_strips() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        n: usize,
        patterns_four_aspects_up_to_all_frieze_isometries: u64,
    }
    let by = "trying all strips of four aspects";
    published::each("papers_escher_1d", by, |case: Case| {
        let strips = 4_u64.pow(u32::try_from(case.n).expect("short"));
        if strips > MOST_TRIED {
            return false;
        }
        let mut forms = BTreeSet::new();
        for number in 0..strips {
            // Aspects that are each other's images as a motif's are: p, b, d, q.
            let marks = (0..case.n).map(|at| number >> (2 * at) & 3);
            forms.insert(escher(&marks.collect::<Vec<u64>>()));
        }
        let patterns = case.patterns_four_aspects_up_to_all_frieze_isometries;
        assert_eq!(forms.len() as u64, patterns, "{}", case.id);
        true
    });
}

/// The least of a strip of motifs and its images, each by its own canonical form.
fn escher(aspects: &[u64]) -> CanonicalForm {
    // Bit 0: upside down; bit 1: left and right exchanged.
    let form = |marks: Vec<u64>| {
        let pieces = marks
            .into_iter()
            .map(|mark| (1, u32::try_from(mark).expect("small")));
        Strip::new(2, pieces).read().canonical_form(Disguises::NONE)
    };
    let plain = aspects.to_vec();
    let over = aspects.iter().map(|aspect| aspect ^ 1).collect();
    let mirrored = aspects.iter().rev().map(|aspect| aspect ^ 2).collect();
    let turned = aspects.iter().rev().map(|aspect| aspect ^ 3).collect();
    [plain, over, mirrored, turned]
        .map(form)
        .into_iter()
        .min()
        .expect("four")
}

/// Holden 2023, table 3 of the supplement: see `published/papers_naiki_orbits.json`. Two
/// families of eight threads go in opposite directions round a tube. The canonical form
/// sees through shifts of both and through their reversal; what else makes two colourings
/// the same joins their forms.
#[test]
fn braids_of_two_families_of_threads() {
    #[derive(Deserialize)]
    struct Case {
        id: String,
        odd_threads_coloured: Option<u32>,
        even_threads_coloured: Option<u32>,
        classes: usize,
    }
    let turned = |family: u8, by: u32| family.rotate_left(by);
    let mut numbers: BTreeMap<CanonicalForm, usize> = BTreeMap::new();
    let mut form_of = Vec::with_capacity(1 << 16);
    for colouring in 0..=u16::MAX {
        let [odd, even] = colouring.to_be_bytes();
        let marks = (0..8).map(|at| (1, u32::from(odd >> at & 1) << 1 | u32::from(even >> at & 1)));
        let strip = Strip::new(2, marks);
        let form = strip.read().canonical_form(HALF_TURNED);
        let next = numbers.len();
        form_of.push(*numbers.entry(form).or_insert(next));
    }
    let mut joined: Vec<usize> = (0..numbers.len()).collect();
    fn stands_for(joined: &[usize], form: usize) -> usize {
        if joined[form] == form {
            form
        } else {
            stands_for(joined, joined[form])
        }
    }
    for colouring in 0..=u16::MAX {
        let [odd, even] = colouring.to_be_bytes();
        let images = [
            [turned(odd, 1), turned(even, 7)],
            [even, turned(odd, 1)],
            [!odd, !even],
        ];
        for image in images {
            let one = stands_for(&joined, form_of[usize::from(colouring)]);
            let other = stands_for(&joined, form_of[usize::from(u16::from_be_bytes(image))]);
            joined[one.max(other)] = one.min(other);
        }
    }
    let class_of = |colouring: u16| stands_for(&joined, form_of[usize::from(colouring)]);
    let mut cells: BTreeMap<(u32, u32), BTreeSet<usize>> = BTreeMap::new();
    for colouring in 0..=u16::MAX {
        let [odd, even] = colouring.to_be_bytes().map(u8::count_ones);
        cells
            .entry((odd, even))
            .or_default()
            .insert(class_of(colouring));
    }
    for case in published::cases::<Case>("papers_naiki_orbits") {
        let found = match (case.odd_threads_coloured, case.even_threads_coloured) {
            (Some(odd), Some(even)) => cells[&(odd, even)].len(),
            (Some(_), None) | (None, Some(_)) => panic!("{} gives half a cell", case.id),
            (None, None) => cells.values().flatten().collect::<BTreeSet<_>>().len(),
        };
        assert_eq!(found, case.classes, "{}", case.id);
    }
}

/// The least of all rows that are these in disguise and lie in the same places.
fn least_by_trying(rows: &[Row], threads: u16) -> Vec<Row> {
    let in_order = |row: &Row| {
        let mut knots = row.knots().to_vec();
        knots.sort_unstable_by_key(|knot| knot.column());
        Row::new(knots)
    };
    let columns = |rows: &[Row]| -> Vec<Vec<u16>> {
        let of = |row: &Row| {
            row.knots()
                .iter()
                .map(|knot| knot.column().number())
                .collect()
        };
        rows.iter().map(of).collect()
    };
    let images = Operation::ALL.into_iter().flat_map(|operation| {
        let image = operation.of_rows(rows, threads).expect("inside the band");
        let image: Vec<Row> = image.iter().map(in_order).collect();
        (0..rows.len()).map(move |later| {
            let mut begun = image.clone();
            begun.rotate_left(later);
            begun
        })
    });
    let lies = images.filter(|image| columns(image) == columns(rows));
    lies.min().expect("the rows themselves")
}

/// No source, but a second count of the same: by trying every way of holding and every
/// beginning on the rows themselves, with no canonical form.
#[test]
fn a_census_agrees_with_trying_everything() {
    for (threads, rows) in [(3, 2), (3, 4), (4, 2), (5, 2)] {
        let lattice = brick_lattice(threads, rows).expect("even");
        let mesh = Mesh::of_rows(&lattice, threads);
        let found = counted(threads, rows, &Kind::ALL, Disguises::ALL);
        assert_eq!(found.accounted_for, found.repeats);
        let mut by_symmetry: BTreeMap<Frieze, u64> = BTreeMap::new();
        let mut seen = BTreeSet::new();
        for number in 0..found.repeats {
            let kinds = (0..mesh.len()).map(|at| Kind::ALL[(number >> (2 * at) & 3) as usize]);
            let tied = mesh.rows(&kinds.collect::<Vec<_>>());
            if !seen.insert(least_by_trying(&tied, threads)) {
                continue;
            }
            let symmetry = Symmetry::of(&band(threads, tied, 1));
            *by_symmetry.entry(symmetry.knots.group).or_default() += 1;
        }
        assert_eq!(
            found.by_symmetry, by_symmetry,
            "{threads} threads, {rows} rows"
        );
    }
}

/// Our own judgement of how many are too many; that an odd number of rows makes no brick
/// lattice that repeats is its definition.
#[test]
fn a_census_that_cannot_be_taken_is_refused() {
    let refused = |threads, rows, kinds: &[Kind], disguises| {
        Census::new(threads, rows, kinds, disguises).expect_err("it cannot be")
    };
    let all = Disguises::ALL;
    assert!(matches!(
        refused(12, 24, &Kind::ALL, all),
        CensusError::TooMany { places: 132, .. }
    ));
    assert!(matches!(
        refused(4, 3, &Kind::ALL, all),
        CensusError::Lattice(_)
    ));
    let only_forward = refused(4, 2, &Kind::ALL[..1], all);
    assert!(
        only_forward
            .to_string()
            .contains("a forward knot is a backward one"),
        "{only_forward}"
    );
    let stopped = Census::new(4, 4, &Kind::ALL, all).expect("small");
    assert!(
        stopped
            .take(
                2,
                &AtomicBool::new(true),
                &mut |_| ControlFlow::Continue(())
            )
            .is_none()
    );
}
