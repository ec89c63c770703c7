//! Writes bands with mistakes in them, and what the library says of each, so that others that say the
//! same can be held against it: a seed, and how many cases.

use std::io::{self, Write};

use hitchwork_core::mistake::{
    Mistakes, SeenCloth, TiedUpTo, after_in_words, changes_in_words, should_hang,
};
use hitchwork_core::tied::Tied;
use hitchwork_draw::html::page_data;
use hitchwork_tests::at_the_table::{
    TableChance, TiedTable, band_by_chance, go_wrong, place_by_chance, written,
};
use serde_json::{Value, json};

/// So many explanations are told in full.
const TOLD: usize = 3;

fn main() -> io::Result<()> {
    let mut numbers = std::env::args()
        .skip(1)
        .filter_map(|number| number.parse().ok());
    let mut chance = TableChance(numbers.next().unwrap_or(1));
    let cases = numbers.next().unwrap_or(200);
    let cases: Vec<Value> = (0..cases).map(|at| case(at, &mut chance)).collect();
    writeln!(io::stdout(), "{}", Value::from(cases))
}

/// Mistakes of one kind after another: one with everything seen, one with little known, two, and a
/// sight by chance, each for either hand.
fn case(at: u64, chance: &mut TableChance) -> Value {
    let tied = Tied::of(band_by_chance(chance));
    let data = page_data(&tied);
    let hand = at % 2;
    let tied = if hand == 0 { &tied } else { tied.mirrored() };
    let until = place_by_chance(tied.followed(), chance);
    let threads = tied.band().thread_count();
    let (mut done, _) = written(tied, until);
    for _ in 0..if at % 8 < 5 { 1 } else { 2 } {
        go_wrong(&mut done, threads, chance);
    }
    let mut seen = TiedTable::of(threads, &done).seen(tied.band());
    let all = seen
        .hanging
        .iter_mut()
        .chain(seen.columns.iter_mut().flatten());
    for colour in all {
        let unknown = match at % 5 {
            0 | 1 => 0,
            2 => 30,
            _ => 80,
        };
        if chance.below(100) < unknown {
            *colour = None;
        } else if at % 16 == 15 && chance.below(40) == 0 {
            *colour = Some(tied.band().thread_colours()[0]);
        }
    }
    json!({
        "data": data,
        "hand": hand,
        "until": place(until),
        "seen": { "hanging": seen.hanging, "columns": seen.columns },
        "answer": answer(tied, until, &seen),
    })
}

fn place(until: TiedUpTo) -> Value {
    json!({ "part": "repeat", "pass": until.row.pass, "row": until.row.row, "knots": until.knots })
}

fn answer(tied: &Tied, until: TiedUpTo, seen: &SeenCloth) -> Value {
    let found = Mistakes::of(tied, until, seen).expect("the band has this row");
    let all = found.explanations.iter().map(|one| {
        let all = std::iter::once(&one.changes).chain(&one.alike);
        all.map(|changes| changes_in_words(changes))
            .collect::<Vec<_>>()
    });
    let told = found.explanations.iter().take(TOLD);
    let hang = should_hang(tied, until, TOLD + 1).expect("the band has this row");
    let hang = hang
        .into_iter()
        .map(|(place, colours)| json!([after_in_words(place), colours]));
    json!({
        "isAsWritten": found.is_as_written,
        "saidFirst": found.said_first(),
        "saidOfOthers": found.said_of_others(TOLD),
        "all": all.collect::<Vec<_>>(),
        "told": told.map(|one| one.words(tied.band())).collect::<Vec<_>>(),
        "shouldHang": hang.collect::<Vec<_>>(),
    })
}
