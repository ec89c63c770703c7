//! Rows and bands by chance, for laws that hold for all.

use std::collections::BTreeMap;

use hitchwork_core::band::{Band, BandParts, Origin, Setting};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::craft::{End, Gauge, Shape, Ties};
use hitchwork_core::knot::{Kind, Knot};
use hitchwork_core::row::Row;
use proptest::prelude::*;

use crate::made::{colours, knot};

/// So many cases of a law. What fails is printed, and no file of it is kept: a case worth
/// keeping becomes a test of its own.
#[must_use]
pub fn cases(count: u32) -> ProptestConfig {
    ProptestConfig {
        failure_persistence: None,
        ..ProptestConfig::with_cases(count)
    }
}

/// Any of the four kinds.
pub fn kind() -> impl Strategy<Value = Kind> {
    prop::sample::select(Kind::ALL.to_vec())
}

/// A knot on a band of `threads` threads.
pub fn any_knot(threads: u16) -> impl Strategy<Value = Knot> {
    (kind(), 1..threads).prop_map(|(kind, column)| knot(kind, column))
}

/// A row of one to `most` knots; columns may come more than once or not at all.
pub fn row(threads: u16, most: usize) -> impl Strategy<Value = Row> {
    prop::collection::vec(any_knot(threads), 1..=most).prop_map(Row::new)
}

/// So many rows, of up to `most_knots` knots each.
pub fn rows(
    threads: u16,
    count: std::ops::RangeInclusive<usize>,
    most_knots: usize,
) -> impl Strategy<Value = Vec<Row>> {
    prop::collection::vec(row(threads, most_knots), count)
}

/// A number of threads up to `most`, and up to four rows on them.
pub fn threads_and_rows(most: u16) -> impl Strategy<Value = (u16, Vec<Row>)> {
    (2..=most).prop_flat_map(|threads| (Just(threads), rows(threads, 1..=4, 10)))
}

/// A small band with or without a lead-in and a lead-out, tied up to nine times.
pub fn band() -> impl Strategy<Value = Band> {
    let parts = (2_u16..=9).prop_flat_map(|threads| {
        (
            prop::collection::vec(0_u16..4, usize::from(threads)),
            rows(threads, 0..=2, 6),
            rows(threads, 1..=3, 8),
            rows(threads, 0..=2, 6),
            1_u32..=9,
        )
    });
    parts.prop_map(|(threads, lead_in, repeat, lead_out, repeats)| {
        Band::new(BandParts {
            palette: colours(4),
            threads,
            lead_in,
            repeat,
            lead_out,
            repeats,
            ..BandParts::default()
        })
        .expect("every part is in range")
    })
}

fn end() -> impl Strategy<Value = End> {
    let shapes = [
        Shape::Flat,
        Shape::Loop,
        Shape::HalfTriangleLeft,
        Shape::HalfTriangleRight,
        Shape::Triangle,
    ];
    let ties = [Ties::Twisted, Ties::Braided, Ties::Cut];
    (
        prop::sample::select(shapes.to_vec()),
        prop::sample::select(ties.to_vec()),
    )
        .prop_map(|(shape, ties)| End { shape, ties })
}

fn setting() -> impl Strategy<Value = Setting> {
    prop_oneof![
        any::<bool>().prop_map(Setting::Flag),
        any::<i64>().prop_map(Setting::Whole),
        prop::num::f64::NORMAL.prop_map(Setting::Number),
        (-1000_i32..1000).prop_map(|number| Setting::Number(f64::from(number))),
        any::<String>().prop_map(Setting::Text),
        prop::collection::vec(any::<i64>(), 0..4).prop_map(Setting::Places),
    ]
}

fn origin() -> impl Strategy<Value = Origin> {
    (
        any::<String>(),
        prop::collection::btree_map(any::<String>(), setting(), 0..4),
        any::<u64>(),
        prop_oneof![Just(String::new()), any::<String>()],
        any::<String>(),
    )
        .prop_map(|(rule, settings, seed, chance, hitchwork)| Origin {
            rule,
            settings,
            seed,
            chance,
            hitchwork,
        })
}

fn palette() -> impl Strategy<Value = Vec<Colour>> {
    let name = "\\PC*[a-zà-ÿ]".prop_map(|name: String| name);
    prop::collection::btree_map(name, any::<[u8; 3]>(), 1..5).prop_map(
        |named: BTreeMap<String, [u8; 3]>| {
            named
                .into_iter()
                .map(|(name, [red, green, blue])| Colour::new(name, Srgb::new(red, green, blue)))
                .collect()
        },
    )
}

/// A band that uses everything a band file can say.
pub fn lavish_band() -> impl Strategy<Value = Band> {
    let gauge = (
        0.05..10.0,
        0.05..50.0,
        0.05..50.0,
        prop_oneof![Just(1.0), 0.3..3.0],
    )
        .prop_map(|(thread_mm, column_mm, half_row_mm, take_up)| Gauge {
            thread_mm,
            column_mm,
            half_row_mm,
            take_up,
        });
    let looks = (
        any::<String>(),
        any::<String>(),
        palette(),
        end(),
        end(),
        gauge,
        prop::option::of(origin()),
    );
    (band(), looks).prop_map(
        |(band, (title, notes, palette, start, finish, gauge, origin))| {
            let mut parts = band.into_parts();
            let colours = u16::try_from(palette.len()).expect("few colours");
            for colour in &mut parts.threads {
                *colour %= colours;
            }
            Band::new(BandParts {
                title,
                notes,
                palette,
                start,
                finish,
                gauge,
                origin,
                ..parts
            })
            .expect("every part is in range")
        },
    )
}
