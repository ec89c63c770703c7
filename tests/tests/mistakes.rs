//! What went wrong at the table: mistakes made by chance are found again from what is seen, and what
//! is said to be done about them is done, knot by knot, in a second model that knows nothing of the
//! first.

use hitchwork_core::band::{Band, BandParts, Part};
use hitchwork_core::knot::{Kind, Knot, Side};
use hitchwork_core::mistake::{
    Change, GoingOn, Mistakes, RowPlace, SeenCloth, WrittenKnot, changes_in_words,
};
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_tests::made::{colours, knot, run};

/// Numbers by chance, the same in every run (Knuth's constants for a linear congruential generator).
struct Chance(u64);

impl Chance {
    fn below(&mut self, bound: usize) -> usize {
        let next = self.0.wrapping_mul(6_364_136_223_846_793_005);
        self.0 = next.wrapping_add(1_442_695_040_888_963_407);
        usize::try_from(self.0 >> 33).expect("31 bits") % bound
    }

    fn kind(&mut self) -> Kind {
        Kind::ALL[self.below(4)]
    }
}

/// What is done at the table, one thing after another.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Done {
    /// A knot in a column, by index; and which written one it is.
    Knot(usize, Kind, Option<(RowPlace, usize)>),
    /// Two threads cross without a knot, the left one at this index.
    Crossed(usize),
}

/// What hangs and lies: threads by position, and of each column the threads that show.
#[derive(Debug, PartialEq)]
struct Table {
    order: Vec<usize>,
    columns: Vec<Vec<usize>>,
}

impl Table {
    fn of(threads: u16, done: &[Done]) -> Self {
        let mut table = Self {
            order: (0..threads.into()).collect(),
            columns: vec![Vec::new(); usize::from(threads) - 1],
        };
        for done in done {
            match *done {
                Done::Crossed(left) => table.order.swap(left, left + 1),
                Done::Knot(column, kind, _) => {
                    let works = usize::from(kind.working_side() == Side::Right);
                    table.columns[column].push(table.order[column + works]);
                    if kind.changes_places() {
                        table.order.swap(column, column + 1);
                    }
                }
            }
        }
        table
    }

    /// What a maker sees of it who looks at everything.
    fn seen(&self, band: &Band) -> SeenCloth {
        let colour = |thread: &usize| Some(band.thread_colours()[*thread]);
        let columns = self.columns.iter();
        SeenCloth {
            hanging: self.order.iter().map(colour).collect(),
            columns: columns
                .map(|column| column.iter().rev().take(10).map(colour).collect())
                .collect(),
        }
    }

    fn hanging(&self, band: &Band) -> Vec<u16> {
        let colour = |thread: &usize| band.thread_colours()[*thread];
        self.order.iter().map(colour).collect()
    }
}

/// Whether that is to be seen of a cloth that whole shows this; a maker may look at fewer knots than
/// there are.
fn shows(whole: &SeenCloth, seen: &SeenCloth) -> bool {
    let mut columns = whole.columns.iter().zip(&seen.columns);
    whole.hanging == seen.hanging && columns.all(|(whole, seen)| whole.starts_with(seen))
}

fn band_by_chance(chance: &mut Chance) -> Band {
    let threads = 4 + chance.below(11);
    let count = 2 + chance.below(5);
    let columns = u16::try_from(threads).expect("few");
    let row = |at: usize, chance: &mut Chance| {
        let first = if at.is_multiple_of(2) { 1 } else { 2 };
        let knots = (first..columns).step_by(2);
        Row::new(
            knots
                .map(|column| knot(chance.kind(), column))
                .collect::<Vec<Knot>>(),
        )
    };
    let rows = 4 + chance.below(20);
    Band::new(BandParts {
        palette: colours(count),
        threads: (0..threads)
            .map(|_| u16::try_from(chance.below(count)).expect("few"))
            .collect(),
        repeat: (0..rows).map(|at| row(at, chance)).collect(),
        repeats: 2 + u32::try_from(chance.below(3)).expect("few"),
        ..BandParts::default()
    })
    .expect("a sound band")
}

/// What is written, up to a row and one row farther.
fn written(tied: &Tied, until: RowPlace) -> (Vec<Done>, Vec<Done>) {
    let (mut before, mut after) = (Vec::new(), Vec::new());
    let mut next = None;
    for row in tied.followed_fabric().rows() {
        let place = RowPlace {
            part: row.part,
            pass: row.pass,
            row: row.row,
        };
        let knots = row.knots.iter().zip(1..).map(|(knot, number)| {
            Done::Knot(
                usize::from(knot.column.number()) - 1,
                knot.kind,
                Some((place, number)),
            )
        });
        if place <= until {
            before.extend(knots);
        } else if *next.get_or_insert(place) == place {
            after.extend(knots);
        }
    }
    (before, after)
}

fn place_by_chance(band: &Band, chance: &mut Chance) -> RowPlace {
    let below =
        |chance: &mut Chance, bound: usize| u32::try_from(chance.below(bound)).expect("few");
    RowPlace {
        part: Part::Repeat,
        pass: 1 + below(chance, band.repeats() as usize),
        row: 1 + below(chance, band.repeat().len()),
    }
}

/// Does one thing otherwise, within the last forty knots.
fn go_wrong(done: &mut Vec<Done>, threads: u16, chance: &mut Chance) {
    if done.is_empty() {
        return;
    }
    let columns = usize::from(threads) - 1;
    let first = done.len().saturating_sub(40);
    let at = first + chance.below(done.len() - first);
    let row_of = |done: &Done| match done {
        Done::Knot(_, _, Some((row, _))) => Some(*row),
        _ => None,
    };
    match (chance.below(6), done[at]) {
        (0 | 1, Done::Knot(column, kind, of)) => {
            let other = Kind::ALL.into_iter().cycle();
            let mut other = other
                .skip(chance.below(4))
                .skip_while(|other| *other == kind);
            done[at] = Done::Knot(column, other.next().expect("three others"), of);
        }
        (2, _) => _ = done.remove(at),
        (3, _) => done.insert(at, Done::Knot(chance.below(columns), chance.kind(), None)),
        (4, _) => done.insert(at, Done::Crossed(chance.below(columns))),
        _ => {
            // A whole row, of those that lie wholly within the last knots.
            let row = row_of(&done[at]);
            let own: Vec<usize> = (0..done.len())
                .filter(|at| row.is_some() && row_of(&done[*at]) == row)
                .collect();
            if own.first().is_none_or(|start| *start < first) {
                done[at] = Done::Crossed(0);
                done.insert(at, Done::Crossed(0));
            } else if chance.below(2) == 0 {
                done.retain(|done| row_of(done) != row);
            } else {
                let again: Vec<Done> = own
                    .iter()
                    .map(|at| match done[*at] {
                        Done::Knot(column, kind, _) => Done::Knot(column, kind, None),
                        crossed @ Done::Crossed(_) => crossed,
                    })
                    .collect();
                let end = own[own.len() - 1] + 1;
                done.splice(end..end, again);
            }
        }
    }
}

/// The same with changes that are told.
fn with_changes(written: &[Done], changes: &[Change]) -> Vec<Done> {
    let mut done = written.to_vec();
    let find = |done: &[Done], knot: &WrittenKnot| {
        let own = |done: &Done| matches!(done, Done::Knot(_, _, Some(of)) if *of == (knot.row, knot.number));
        done.iter().position(own).expect("it is written")
    };
    let row =
        |done: &Done, row: RowPlace| matches!(done, Done::Knot(_, _, Some((of, _))) if *of == row);
    // What takes the place of a knot comes last, so that what is tied before it finds it.
    let (places, others): (Vec<&Change>, Vec<&Change>) = changes.iter().partition(|change| {
        matches!(
            change,
            Change::OtherKind { .. } | Change::LeftOut { .. } | Change::RowLeftOut { .. }
        )
    });
    for change in others.into_iter().chain(places) {
        let before = |done: &[Done], knot: &Option<WrittenKnot>| {
            knot.as_ref().map_or(done.len(), |knot| find(done, knot))
        };
        match change {
            Change::OtherKind { knot, tied } => {
                let at = find(&done, knot);
                if let Done::Knot(column, _, of) = done[at] {
                    done[at] = Done::Knot(column, *tied, of);
                }
            }
            Change::LeftOut { knot } => _ = done.remove(find(&done, knot)),
            Change::TooMany {
                before: at,
                column,
                tied,
            } => {
                let at = before(&done, at);
                done.insert(
                    at,
                    Done::Knot(usize::from(column.number()) - 1, *tied, None),
                );
            }
            Change::TakenForEachOther { before: at, left } => {
                let at = before(&done, at);
                done.insert(at, Done::Crossed(usize::from(*left) - 1));
            }
            Change::RowLeftOut { row: left_out } => done.retain(|done| !row(done, *left_out)),
            Change::RowTwice { row: twice } => {
                let again: Vec<Done> = done
                    .iter()
                    .filter(|done| row(done, *twice))
                    .map(|done| match done {
                        Done::Knot(column, kind, _) => Done::Knot(*column, *kind, None),
                        crossed @ Done::Crossed(_) => *crossed,
                    })
                    .collect();
                let end = done
                    .iter()
                    .rposition(|done| row(done, *twice))
                    .expect("it is written")
                    + 1;
                done.splice(end..end, again);
            }
        }
    }
    done
}

/// Unties and ties again as is said, and looks whether all is then as it is written.
fn mended(threads: u16, wrong: &[Done], mend: &hitchwork_core::mistake::Mend) -> Table {
    let mut done = wrong.to_vec();
    let free = |done: &mut Vec<Done>, at: usize| {
        // Nothing that is still tied may lie upon what is undone.
        let (left, right) = match done[at] {
            Done::Knot(column, _, _) => (column, column + 1),
            Done::Crossed(left) => (left, left + 1),
        };
        let upon = done[at + 1..].iter().any(|done| match done {
            Done::Knot(column, _, _) => [*column, column + 1]
                .iter()
                .any(|at| [left, right].contains(at)),
            Done::Crossed(_) => false,
        });
        assert!(!upon, "a knot lies upon {:?}", done[at]);
        done.remove(at);
    };
    for column in &mend.untie {
        let own = |done: &Done| matches!(done, Done::Knot(at, _, _) if *at + 1 == usize::from(column.number()));
        let at = done
            .iter()
            .rposition(own)
            .expect("there is a knot to untie");
        free(&mut done, at);
    }
    while let Some(at) = done
        .iter()
        .rposition(|done| matches!(done, Done::Crossed(_)))
    {
        free(&mut done, at);
    }
    let again = mend.tie_again.iter();
    done.extend(
        again.map(|knot| Done::Knot(usize::from(knot.column.number()) - 1, knot.kind, None)),
    );
    Table::of(threads, &done)
}

/// Whether what is said of going on with the mistake is so: after the next row the right colours
/// hang.
fn goes_on(tied: &Tied, wrong: &[Done], right: &[Done], next: &[Done], how: GoingOn) -> bool {
    let threads = tied.band().thread_count();
    let mut done = wrong.to_vec();
    let mut row = next.to_vec();
    match how {
        GoingOn::AsWritten => {}
        GoingOn::WithAKnot { column, kind } => {
            done.push(Done::Knot(usize::from(column.number()) - 1, kind, None));
        }
        GoingOn::WithAnotherKind { knot, kind } => {
            if let Done::Knot(column, _, of) = row[knot.number - 1] {
                row[knot.number - 1] = Done::Knot(column, kind, of);
            }
        }
    }
    done.extend(row);
    let hangs = |done: &[Done]| Table::of(threads, done).hanging(tied.band());
    hangs(&done) == hangs(&[right, next].concat())
}

/// The share of cases in which what was done is among the answers, comes first, and comes among the
/// first three; of how many.
struct Tally {
    cases: usize,
    alone: usize,
    among: usize,
    first: usize,
    first_three: usize,
    first_where_alone: usize,
}

fn tally(cases: usize, mistakes: usize, seed: u64) -> Tally {
    let mut chance = Chance(seed);
    let mut tally = Tally {
        cases: 0,
        alone: 0,
        among: 0,
        first: 0,
        first_three: 0,
        first_where_alone: 0,
    };
    while tally.cases < cases {
        let band = band_by_chance(&mut chance);
        let threads = band.thread_count();
        let tied = Tied::of(band);
        let place = place_by_chance(tied.followed(), &mut chance);
        let Ok(as_written) = SeenCloth::as_written(&tied, place, 10) else {
            continue;
        };
        let (right, next) = written(&tied, place);
        assert!(shows(
            &Table::of(threads, &right).seen(tied.band()),
            &as_written
        ));
        let mut wrong = right.clone();
        for _ in 0..mistakes {
            go_wrong(&mut wrong, threads, &mut chance);
        }
        let table = Table::of(threads, &wrong);
        let seen = table.seen(tied.band());
        if shows(&as_written, &seen) {
            // Nobody can see it.
            continue;
        }
        tally.cases += 1;
        let found = Mistakes::of(&tied, place, &seen).expect("there is such a row");
        assert!(!found.is_as_written && found.knots <= 40);
        // The likeliest: the others are worked out in the same way.
        for explanation in found.explanations.iter().take(4) {
            for changes in
                std::iter::once(&explanation.changes).chain(explanation.alike.iter().take(2))
            {
                let done = with_changes(&right, changes);
                let explained = Table::of(threads, &done);
                assert!(
                    shows(&explained.seen(tied.band()), &seen),
                    "{}",
                    changes_in_words(changes)
                );
            }
            let done = with_changes(&right, &explanation.changes);
            let again = mended(threads, &done, &explanation.mend);
            assert_eq!(
                again,
                Table::of(threads, &right),
                "{}",
                changes_in_words(&explanation.changes)
            );
            if let Some(how) = explanation.mend.going_on {
                assert!(goes_on(&tied, &done, &right, &next, how), "{how:?}");
            }
        }
        let same = |changes: &[Change]| Table::of(threads, &with_changes(&right, changes)) == table;
        let place = found.explanations.iter().position(|one| same(&one.changes));
        let is_alone = found.explanations.len() == 1;
        tally.alone += usize::from(is_alone);
        tally.among += usize::from(place.is_some());
        tally.first += usize::from(place == Some(0));
        tally.first_three += usize::from(place.is_some_and(|place| place < 3));
        tally.first_where_alone += usize::from(is_alone && place == Some(0));
    }
    tally
}

#[test]
fn a_single_mistake_is_among_the_answers_and_first_where_it_can_be_told_apart() {
    let found = tally(300, 1, 7);
    let Tally {
        cases,
        alone,
        among,
        first,
        first_three,
        first_where_alone,
    } = found;
    assert_eq!(among, cases);
    assert_eq!(first_where_alone, alone);
    // Of a few colours several mistakes look the same: then the likeliest is said first.
    assert!(
        alone > cases / 2 && first > cases * 3 / 4 && first_three > cases * 9 / 10,
        "{alone} {first} {first_three} of {cases}"
    );
}

#[test]
fn of_two_mistakes_most_are_among_the_first_answers() {
    let found = tally(20, 2, 11);
    assert!(
        found.first_three * 100 >= found.cases * 50,
        "{} of {}",
        found.first_three,
        found.cases
    );
}

/// Worked by hand: six threads, one slanted row after another. In row 2 the third knot turned back.
#[test]
fn a_knot_that_turned_back_is_told_in_a_makers_words() {
    let band = Band::new(BandParts {
        palette: colours(6),
        threads: (0..6).collect(),
        repeat: vec![run(Kind::Forward, 1..6)],
        repeats: 4,
        ..BandParts::default()
    });
    let tied = Tied::of(band.expect("a sound band"));
    let place = RowPlace {
        part: Part::Repeat,
        pass: 2,
        row: 1,
    };
    // As written, thread 2 of the second row would hang at the right edge, behind thread 1. It
    // stayed at position 3, and thread 5 went round the rest.
    let right = SeenCloth::as_written(&tied, place, 2).expect("it is a row");
    let hangs = |seen: &SeenCloth| {
        seen.hanging
            .iter()
            .flatten()
            .map(|at| at + 1)
            .collect::<Vec<_>>()
    };
    assert_eq!(hangs(&right), [3, 4, 5, 6, 1, 2]);
    let seen = SeenCloth {
        hanging: [3, 4, 2, 6, 1, 5]
            .map(|thread: u16| Some(thread - 1))
            .to_vec(),
        columns: Vec::new(),
    };
    let found = Mistakes::of(&tied, place, &seen).expect("it is a row");
    let told: Vec<String> = found
        .explanations
        .iter()
        .map(|one| changes_in_words(&one.changes))
        .collect();
    assert!(
        told.contains(
            &"repeat 2, row 1, knot 3, at positions 3 and 4: forward-backward instead of forward"
                .to_owned()
        ),
        "{told:?}"
    );
    let one = &found.explanations[told
        .iter()
        .position(|told| told.contains("forward-backward instead of forward"))
        .expect("it is told")];
    assert_eq!(
        one.mend.untying(),
        "Untie back to there: 3 knots, the last first, at positions 5 and 6; 4 and 5; 3 and 4. Then tie 3 knots as written, from repeat 2, row 1, knot 3, at positions 3 and 4 on."
    );
    assert_eq!(one.mend.leaving(tied.band()), None);
}

#[test]
fn nothing_wrong_and_nothing_known_are_said() {
    let tied = Tied::of(
        Band::new(BandParts {
            palette: colours(4),
            threads: (0..4).collect(),
            repeat: vec![run(Kind::Forward, 1..4)],
            repeats: 9,
            ..BandParts::default()
        })
        .expect("a sound band"),
    );
    let place = |pass, row| RowPlace {
        part: Part::Repeat,
        pass,
        row,
    };
    let right = SeenCloth::as_written(&tied, place(3, 1), 4).expect("it is a row");
    assert_eq!(right.known(), 16 - 3);
    let found = Mistakes::of(&tied, place(3, 1), &right).expect("it is a row");
    assert!(found.is_as_written && found.explanations.is_empty());
    let found = Mistakes::of(&tied, place(3, 1), &SeenCloth::default()).expect("it is a row");
    assert!(
        found.is_as_written,
        "whoever has seen nothing has seen nothing wrong"
    );
    // Of four threads the first stands twice: no knots make that.
    let seen = SeenCloth {
        hanging: [0, 0, 0, 0].map(Some).to_vec(),
        columns: Vec::new(),
    };
    let found = Mistakes::of(&tied, place(3, 1), &seen).expect("it is a row");
    assert!(!found.is_as_written && found.explanations.is_empty());
    for nowhere in [
        place(10, 1),
        place(1, 2),
        place(1, 0),
        RowPlace {
            part: Part::LeadIn,
            pass: 1,
            row: 1,
        },
    ] {
        assert!(Mistakes::of(&tied, nowhere, &right).is_err(), "{nowhere}");
    }
    let error = Mistakes::of(&tied, place(10, 1), &right).expect_err("nine repeats");
    assert_eq!(
        error.to_string(),
        "the band has no such row: repeat 10, row 1"
    );
}
