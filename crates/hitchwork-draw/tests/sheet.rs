//! The maker's sheet as text. Renew the golden sheets with
//! `SNAPSHOTS=overwrite cargo test -p hitchwork-draw --test sheet`.

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::knot::Kind;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use hitchwork_draw::text::{COLUMNS, sheet};
use snapbox::{assert_data_eq, file};

mod common;

#[test]
fn a_small_band_with_lead_in_and_lead_out() {
    assert_data_eq!(
        sheet(&Tied::of(common::skerries())),
        file!["golden/skerries.txt"]
    );
}

#[test]
fn a_band_that_drifts() {
    assert_data_eq!(sheet(&Tied::of(common::drift())), file!["golden/drift.txt"]);
}

#[test]
fn lines_are_never_wider_than_the_sheet() {
    let name = "a name that nobody would ever give to a colour but that a file may hold, word after word after word";
    let band = Band::new(BandParts {
        title: format!("{name}{}", &name[1..]),
        notes: "wide\u{7}\u{1b}[2J\r\nnotes ".repeat(40),
        palette: vec![
            Colour::new(name, Srgb::new(1, 2, 3)),
            Colour::new("x".repeat(100), Srgb::new(9, 9, 9)),
        ],
        threads: (0..150).map(|thread| thread % 2).collect(),
        repeat: vec![Row::run(Kind::Backward, (1..150).rev()).expect("columns")],
        repeats: 60,
        ..BandParts::default()
    })
    .expect("sound");
    let sheet = sheet(&Tied::of(band.clone()));
    assert!(sheet.lines().all(|line| line.chars().count() <= COLUMNS));
    assert!(!sheet.contains(|character: char| character.is_control() && character != '\n'));
}

/// What the maker checks by is what the simulator says, wherever it changes.
#[test]
fn the_orders_on_the_sheet_are_those_of_the_fabric() {
    for band in [
        common::candy_stripe(),
        common::chevron(),
        common::lozenges(),
        common::drift(),
        common::skerries(),
    ] {
        let band = Tied::of(band);
        let mut written: Vec<Vec<u16>> = sheet(&band)
            .lines()
            .filter_map(|line| line.strip_prefix("Order now: "))
            .map(|order| {
                order
                    .split(' ')
                    .map(|number| number.parse().expect("a number"))
                    .collect()
            })
            .collect();
        let mut tied: Vec<Vec<u16>> = band
            .followed_fabric()
            .rows()
            .filter(|row| row.pass == 1)
            .map(|row| {
                row.order_after
                    .iter()
                    .map(|thread| thread.number())
                    .collect()
            })
            .collect();
        written.dedup();
        tied.dedup();
        assert_eq!(written, tied, "{}", band.band().title());
    }
}
