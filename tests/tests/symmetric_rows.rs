//! Rows made for a symmetry: they have it, and what is refused cannot be.

use std::collections::BTreeSet;

use hitchwork_core::chance::{Chance, Purpose};
use hitchwork_core::knot::{Kind, Knot};
use hitchwork_core::proof::{
    Frieze, Lengthwise, Places, Strip, Symmetry, brick_lattice, knots_that_break,
};
use hitchwork_core::row::Row;
use hitchwork_tests::made::{band, knot, run};

/// Whether a group has everything that another has.
fn has_all_of(found: Frieze, wanted: Frieze) -> bool {
    let along = match wanted.along() {
        None => true,
        // A mirror and a period that is half as long make a glide.
        Some(Lengthwise::Glide) => found.along().is_some(),
        Some(Lengthwise::Mirror) => found.along() == Some(Lengthwise::Mirror),
    };
    along && (found.across() || !wanted.across()) && (found.turns() || !wanted.turns())
}

fn by_chance(places: &Places, chance: &mut Chance) -> Vec<Row> {
    places.rows(|orbit| *chance.pick(orbit.allowed()).expect("some kind fits"))
}

#[test]
fn rows_made_for_a_symmetry_have_it() {
    let mut chance = Chance::new(5, Purpose::Rule);
    let mut made = BTreeSet::new();
    for threads in 2..=9_u16 {
        for rows in (2..=12).step_by(2) {
            let lattice = brick_lattice(threads, rows).expect("an even number of rows");
            for group in Frieze::ALL {
                let Ok(places) = Places::new(&lattice, threads, group) else {
                    continue;
                };
                for _ in 0..20 {
                    let rows = by_chance(&places, &mut chance);
                    assert_eq!(
                        knots_that_break(&rows, threads, group).expect("it was made so"),
                        [],
                        "{group}"
                    );
                    let symmetry = Symmetry::of(&band(threads, rows, 1));
                    let apart = symmetry.apart_from_middle.unwrap_or(symmetry.knots.clone());
                    let found = match group.along() {
                        Some(Lengthwise::Mirror) => apart.group,
                        _ => symmetry.knots.group,
                    };
                    assert!(
                        has_all_of(found, group),
                        "{threads} threads: {found} for {group}"
                    );
                    made.insert((threads % 2, group, found == group));
                }
            }
        }
    }
    for group in Frieze::ALL {
        assert!(
            made.contains(&(0, group, true)),
            "{group} on an even number of threads"
        );
        let odd = made.contains(&(1, group, true));
        assert_eq!(
            odd,
            group.along() != Some(Lengthwise::Mirror),
            "{group} on an odd number"
        );
    }
}

/// Everything that can be tied on these places.
fn everything(mesh: &[Row]) -> impl Iterator<Item = Vec<Row>> {
    let count: usize = mesh.iter().map(Row::len).sum();
    let mesh = mesh.to_vec();
    (0..4_usize.pow(u32::try_from(count).expect("few"))).map(move |number| {
        let mut at = 0;
        let mut next = |place: &Knot| {
            at += 1;
            knot(
                Kind::ALL[number >> (2 * (at - 1)) & 3],
                place.column().number(),
            )
        };
        let row = |row: &Row| Row::new(row.knots().iter().map(&mut next).collect::<Vec<_>>());
        mesh.iter().map(row).collect()
    })
}

#[test]
fn what_is_refused_does_not_exist() {
    let mut refused = 0;
    for (threads, rows) in [
        (2, 1),
        (2, 2),
        (2, 3),
        (2, 4),
        (3, 2),
        (3, 4),
        (3, 6),
        (4, 2),
        (5, 2),
    ] {
        let lattice = brick_lattice(threads, rows).expect("it fits");
        let groups: BTreeSet<Frieze> = everything(&lattice)
            .map(|rows| Strip::of_rows(&rows, threads).pattern().group)
            .collect();
        for group in Frieze::ALL {
            let exists = groups.iter().any(|found| has_all_of(*found, group));
            match Places::new(&lattice, threads, group) {
                Ok(_) if group.along() == Some(Lengthwise::Mirror) => {
                    assert_eq!(threads % 2, 0, "only the middle column may differ");
                }
                Ok(_) => assert!(exists, "{threads} threads, {rows} rows: {group}"),
                Err(error) => {
                    refused += 1;
                    assert!(error.is_symmetry() && error.help().is_some());
                    assert!(!exists, "{threads} threads, {rows} rows: {group}");
                }
            }
        }
    }
    assert!(refused > 10);
}

#[test]
fn the_reasons_for_refusing() {
    let says = |threads, rows, group| {
        let lattice = brick_lattice(threads, rows).expect("an even number of rows");
        Places::new(&lattice, threads, group)
            .expect_err("it cannot be")
            .to_string()
    };
    assert_eq!(
        says(5, 4, Frieze::P2mm),
        "this cannot have the symmetry mirror along and across (p2mm): its knots lie so that left and right are never at the same height: \
         in a full fabric on an odd number of threads, a column and its mirror image are tied by turns"
    );
    assert_eq!(
        says(6, 6, Frieze::P11g),
        "this cannot have the symmetry glide (p11g): half of its repeat is not tied in the same places as the other half"
    );
    let apart = Places::new(&[run(Kind::Forward, [1, 3])], 4, Frieze::P2);
    assert_eq!(
        apart.expect_err("two pieces").to_string(),
        "this cannot have the symmetry half turns (p2): the band falls apart into pieces that no knot joins"
    );
    for rows in [0, 3] {
        assert!(brick_lattice(6, rows).is_err());
    }
    assert!(brick_lattice(1, 4).is_err() && brick_lattice(201, 4).is_err());
}

#[test]
fn a_fundamental_piece_decides_the_rest_or_says_what_is_missing() {
    let places =
        Places::new(&brick_lattice(5, 4).expect("it fits"), 5, Frieze::P2).expect("it can be");
    let mut chance = Chance::new(9, Purpose::Rule);
    let whole = by_chance(&places, &mut chance);
    assert_eq!(places.continued(&whole).expect("all is there"), whole);
    let missing = places
        .continued(&whole[..1])
        .expect_err("too small")
        .to_string();
    assert!(
        missing.contains("the piece does not decide the knot in row 3"),
        "{missing}"
    );
    let elsewhere = places
        .continued(&[run(Kind::Forward, [2])])
        .expect_err("no knot there")
        .to_string();
    assert!(
        elsewhere.contains("row 1, column 2, where the fabric has none"),
        "{elsewhere}"
    );
    let across =
        Places::new(&brick_lattice(4, 4).expect("it fits"), 4, Frieze::P1m1).expect("it can be");
    let axis = across
        .continued(&[run(Kind::Forward, [1, 3])])
        .expect_err("on the axis")
        .to_string();
    assert!(
        axis.contains("an axis or a centre goes through row 1, column 1"),
        "{axis}"
    );
}
