//! The frieze groups against published and recomputed strips: letters, grids of colours and
//! the brick lattice of a full fabric. See `published/frieze_*.json`: groups and elements
//! after Conway, Burgiel & Goodman-Strauss, The Symmetries of Things (2008), Grünbaum &
//! Shephard, Tilings and Patterns (1987) and Washburn & Crowe, Symmetries of Culture (1988),
//! the books from memory; every case found in two independent ways.

use std::collections::{BTreeMap, BTreeSet};

use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{Disguises, Frieze, Lengthwise, Strip, StripPattern};
use hitchwork_core::row::Row;
use hitchwork_tests::made::{knot, run};
use hitchwork_tests::published;
use serde::Deserialize;

#[derive(Deserialize)]
struct Flags {
    id: String,
    iuc: String,
    transverse_mirror: bool,
    longitudinal_mirror: bool,
    glide: bool,
    half_turn: bool,
}

impl Flags {
    fn check(&self, group: Frieze) {
        let id = &self.id;
        assert_eq!(group.symbol(), self.iuc, "{id}");
        assert_eq!(group.across(), self.transverse_mirror, "{id}");
        assert_eq!(group.turns(), self.half_turn, "{id}");
        let mirror = group.along() == Some(Lengthwise::Mirror);
        assert_eq!(mirror, self.longitudinal_mirror, "{id}");
        assert_eq!(group.along().is_some(), self.glide, "{id}");
    }
}

/// A grid of square cells as a strip: row i, from the top, in every second column from 1
/// on, all joined by blank pieces between them.
fn grid(rows: &[Vec<u32>]) -> Strip {
    const BLANK: u32 = 1000;
    let threads = u16::try_from(2 * rows.len()).expect("few rows");
    let mut pieces = Vec::new();
    for at in 0..rows[0].len() {
        pieces.extend(
            (0..)
                .map(|row| 2 * row + 1)
                .zip(rows.iter().map(|row| row[at])),
        );
        pieces.extend((2..threads).step_by(2).map(|column| (column, BLANK)));
    }
    Strip::new(threads, pieces)
}

fn marks(row: &str) -> Vec<u32> {
    row.chars().map(u32::from).collect()
}

/// International Tables for Crystallography, volume E (2002), frieze groups, and Conway,
/// Burgiel & Goodman-Strauss, The Symmetries of Things (2008), chapter 5 (from memory): see
/// `published/frieze_names.json`.
#[test]
fn the_seven_names_and_what_is_in_each() {
    #[derive(Deserialize)]
    struct Case {
        iuc: String,
        elements: String,
    }
    for case in published::cases::<Case>("frieze_names") {
        let group = Frieze::named(&case.iuc).expect("one of the seven");
        let has = |element| case.elements.split(',').any(|found| found == element);
        assert_eq!(group.turns(), has("R"), "{group}");
        assert_eq!(group.across(), has("V"), "{group}");
        assert_eq!(
            group.along() == Some(Lengthwise::Mirror),
            has("H"),
            "{group}"
        );
        assert_eq!(group.along().is_some(), has("G"), "{group}");
    }
}

#[derive(Deserialize)]
struct Letters {
    #[serde(flatten)]
    flags: Flags,
    rows: Vec<String>,
    minimal_period_letters: u64,
}

impl Letters {
    fn check(&self, found: &StripPattern) {
        self.flags.check(found.group);
        let letters = self.rows[0].len() as u64;
        let id = &self.flags.id;
        assert_eq!(letters / found.periods, self.minimal_period_letters, "{id}");
    }
}

/// Conway, Burgiel & Goodman-Strauss, The Symmetries of Things (2008), chapter 5 (from
/// memory); every strip judged in two ways: see `published/frieze_letters.json`.
///
/// Each letter is a motif without symmetry of its own on two rows of three cells: p has it in
/// the upper row, read from the left, and its images are where the images of that are.
#[test]
fn letters_in_a_strip() {
    for case in published::cases::<Letters>("frieze_letters") {
        let mut rows = Vec::new();
        for letters in &case.rows {
            for here in ["pq", "bd"] {
                let cells = |letter: char| match (here.contains(letter), "pb".contains(letter)) {
                    (true, true) => [1, 2, 0],
                    (true, false) => [0, 2, 1],
                    (false, _) => [0, 0, 0],
                };
                rows.push(letters.chars().flat_map(cells).collect());
            }
        }
        let pattern = grid(&rows).pattern();
        case.check(&pattern);
    }
}

/// Grünbaum & Shephard, Tilings and Patterns (1987), and Washburn & Crowe, Symmetries of
/// Culture (1988; both from memory): see `published/frieze_letters.json`.
///
/// The letters of one line as knots on two threads: p is a few knots without any symmetry, and
/// the others are what becomes of them.
#[test]
fn letters_that_are_knots() {
    use Kind::{Backward, BackwardForward, Forward, ForwardBackward};
    let letter = |letter: char| match letter {
        'p' => [ForwardBackward, ForwardBackward, BackwardForward, Forward],
        'b' => [BackwardForward, BackwardForward, ForwardBackward, Backward],
        'q' => [Backward, BackwardForward, ForwardBackward, ForwardBackward],
        'd' => [Forward, ForwardBackward, BackwardForward, BackwardForward],
        other => panic!("{other} is not a letter of a frieze"),
    };
    published::each("frieze_letters", "letters as knots", |case: Letters| {
        if case.rows.len() > 1 {
            return false;
        }
        let kinds = case.rows[0].chars().flat_map(letter);
        let rows: Vec<Row> = kinds.map(|kind| run(kind, [1])).collect();
        let pattern = Strip::of_rows(&rows, 2).pattern();
        case.check(&pattern);
        true
    });
}

/// Conway, Burgiel & Goodman-Strauss, The Symmetries of Things (2008), chapter 5 (from
/// memory); every grid judged in two ways: see `published/frieze_grids.json`.
#[test]
fn grids_of_colours() {
    #[derive(Deserialize)]
    struct Case {
        #[serde(flatten)]
        flags: Flags,
        rows: Vec<String>,
        minimal_period: u64,
    }
    for case in published::cases::<Case>("frieze_grids") {
        let rows: Vec<Vec<u32>> = case.rows.iter().map(|row| marks(row)).collect();
        let pattern = grid(&rows).pattern();
        case.flags.check(pattern.group);
        let cells = rows[0].len() as u64;
        assert_eq!(
            cells / pattern.periods,
            case.minimal_period,
            "{}",
            case.flags.id
        );
    }
}

/// Conway, Burgiel & Goodman-Strauss, The Symmetries of Things (2008), chapter 5 (from
/// memory); every lattice judged in two ways: see `published/frieze_brick.json`. That an odd
/// number of threads has no mirror along it is proved in its notes: such a mirror would
/// exchange odd columns with even ones.
#[test]
fn the_full_fabric_is_a_brick_lattice() {
    #[derive(Deserialize)]
    struct Case {
        #[serde(flatten)]
        flags: Flags,
        threads: u16,
        rows: Vec<String>,
        minimal_period_rows: u64,
    }
    for case in published::cases::<Case>("frieze_brick") {
        let piece = |(row, marked): (usize, &String)| {
            let first = if row % 2 == 0 { 1 } else { 2 };
            let columns = (first..case.threads).step_by(2);
            columns.zip(marks(marked)).collect::<Vec<_>>()
        };
        let pieces = case.rows.iter().enumerate().flat_map(piece);
        let pattern = Strip::new(case.threads, pieces).pattern();
        case.flags.check(pattern.group);
        let rows = case.rows.len() as u64;
        assert_eq!(
            rows / pattern.periods,
            case.minimal_period_rows,
            "{}",
            case.flags.id
        );
        if case.threads % 2 == 1 {
            assert_ne!(
                pattern.group.along(),
                Some(Lengthwise::Mirror),
                "{}",
                case.flags.id
            );
        }
    }
}

#[derive(Deserialize)]
struct GridCounts {
    height: usize,
    repeat: usize,
    binary_grids: usize,
    by_group: BTreeMap<String, usize>,
    up_to_shift: usize,
    up_to_shift_and_all_mirrors: usize,
}

/// All grids judged one by one; the counts of orbits by Burnside, Theory of Groups of Finite
/// Order (1897; citation from memory): see `published/frieze_grid_counts.json`.
#[test]
fn how_many_grids_of_two_colours_are_how_symmetrical() {
    for case in published::cases::<GridCounts>("frieze_grid_counts") {
        let (height, width) = (case.height, case.repeat);
        let mut found: BTreeMap<String, usize> = case
            .by_group
            .keys()
            .map(|group| (group.clone(), 0))
            .collect();
        let (mut shifted, mut mirrored) = (BTreeSet::new(), BTreeSet::new());
        for number in 0..1_usize << (height * width) {
            let cell = |row: usize, at: usize| u32::from(number >> (row * width + at) & 1 == 1);
            let rows: Vec<Vec<u32>> = (0..height)
                .map(|row| (0..width).map(|at| cell(row, at)).collect())
                .collect();
            let strip = grid(&rows);
            let reading = strip.read();
            *found
                .entry(reading.pattern().group.symbol().to_owned())
                .or_default() += 1;
            shifted.insert(reading.canonical_form(Disguises::NONE));
            mirrored.insert(reading.canonical_form(Disguises::ALL));
        }
        let orbits = (case.up_to_shift, case.up_to_shift_and_all_mirrors);
        assert_eq!(
            (shifted.len(), mirrored.len()),
            orbits,
            "{height} by {width}"
        );
        assert_eq!(found.values().sum::<usize>(), case.binary_grids);
        assert_eq!(found, case.by_group, "{height} by {width}");
    }
}

/// No source but a proof: no kind of knot is its own mirror image, and a full fabric on an odd
/// number of threads has no two columns at the same height that are (notes of
/// `published/frieze_brick.json`). All of two rows on up to five threads are tried.
#[test]
fn a_full_fabric_of_knots_never_has_a_mirror_along_it() {
    for threads in 2..=5_u16 {
        let columns: Vec<u16> = (1..threads)
            .step_by(2)
            .chain((2..threads).step_by(2))
            .collect();
        let knots = u32::try_from(columns.len()).expect("few");
        for number in 0..4_usize.pow(knots) {
            let kind = |at: usize| Kind::ALL[number >> (2 * at) & 3];
            let row = Row::new(
                columns
                    .iter()
                    .enumerate()
                    .map(|(at, column)| knot(kind(at), *column)),
            );
            let group = Strip::of_rows(&[row], threads).pattern().group;
            assert_ne!(
                group.along(),
                Some(Lengthwise::Mirror),
                "{threads} threads, {number}"
            );
        }
    }
}
