//! The flags of the International Code of Signals as pictures: 26 letters and 10 numerals.
//! (International Maritime Organization, *International Code of Signals*, 2005; the designs from
//! memory, their proportions ours: as few cells as show each flag for what it is.)

use super::{Cell, Picture};
use crate::colour::{Colour, Srgb};

/// The colours of signal flags. The code names them; the values are our own judgement.
pub const SIGNAL_COLOURS: [(&str, Srgb); 5] = [
    ("signal white", Srgb::new(0xf4, 0xf1, 0xe8)),
    ("signal red", Srgb::new(0xc8, 0x2a, 0x2f)),
    ("signal yellow", Srgb::new(0xf5, 0xc8, 0x2e)),
    ("signal blue", Srgb::new(0x1f, 0x4e, 0x9c)),
    ("signal black", Srgb::new(0x1c, 0x1c, 0x22)),
];

const WHITE: Cell = Some(0);
const RED: Cell = Some(1);
const YELLOW: Cell = Some(2);
const BLUE: Cell = Some(3);
const BLACK: Cell = Some(4);

/// A flag of a letter is square, and a pennant of a numeral longer: this many cells.
const HIGH: u16 = 12;
const LONG: u16 = 18;

/// The flag of a letter from A to Z, or the pennant of a digit, as it flies with its mast at the
/// left: 12 rows high, and 12 or 18 columns wide. Around pennants and in the notch of a swallow
/// tail nothing is shown.
///
/// ```
/// use hitchwork_core::picture::signal_flag;
/// let hotel = signal_flag('H').expect("a letter");
/// assert_eq!(hotel.colour(1, 1).map(|colour| &*colour.name), Some("signal white"));
/// assert_eq!(hotel.colour(1, 12).map(|colour| &*colour.name), Some("signal red"));
/// assert_eq!(signal_flag('h'), signal_flag('H'));
/// assert!(signal_flag('?').is_none());
/// ```
#[must_use]
pub fn signal_flag(sign: char) -> Option<Picture> {
    let sign = sign.to_ascii_uppercase();
    let (columns, design): (u16, fn(char, i32, i32) -> Cell) = match sign {
        'A'..='Z' => (HIGH, letter),
        '0'..='9' => (LONG, pennant),
        _ => return None,
    };
    let list = SIGNAL_COLOURS
        .map(|(name, value)| Colour::new(name, value))
        .to_vec();
    let at = |row: u16| (0..columns).map(move |column| (i32::from(column), i32::from(row)));
    let cells = (0..HIGH).flat_map(at).map(|(x, y)| design(sign, x, y));
    let flag = Picture::new(columns, list, cells.collect()).expect("within all limits");
    let seen: Vec<Srgb> = flag.shown().iter().map(|colour| colour.srgb).collect();
    let used = |colour: &Colour| seen.contains(&colour.srgb).then(|| colour.clone());
    Some(flag.recoloured(used).expect("fewer colours than before"))
}

/// One colour where this is so, and another where it is not.
const fn where_or(is_so: bool, one: Cell, other: Cell) -> Cell {
    if is_so { one } else { other }
}

/// The stripes of a flag, each this many cells broad.
fn stripes(at: i32, broad: &[(i32, Cell)]) -> Cell {
    let mut ends = 0;
    for (cells, colour) in broad {
        ends += cells;
        if at < ends {
            return *colour;
        }
    }
    None
}

/// A letter's flag at a column and a row, counted from 0.
fn letter(sign: char, x: i32, y: i32) -> Cell {
    // Twice the distance from the middle, so that it is whole.
    let (across, down) = ((2 * x - 11).abs(), (2 * y - 11).abs());
    let cross = across <= 3 || down <= 3;
    let saltire = (across - down).abs() <= 2;
    // The notch of a swallow tail reaches a third of the flag deep.
    let notch = x - 8 > down / 2;
    match sign {
        'A' => where_or(notch, None, where_or(x < 6, WHITE, BLUE)),
        'B' => where_or(notch, None, RED),
        'C' => stripes(y, &[(2, BLUE), (3, WHITE), (2, RED), (3, WHITE), (2, BLUE)]),
        'D' => stripes(y, &[(3, YELLOW), (6, BLUE), (3, YELLOW)]),
        'E' => where_or(y < 6, BLUE, RED),
        'F' => where_or(across + down <= 12, RED, WHITE),
        'G' => where_or(x / 2 % 2 == 0, YELLOW, BLUE),
        'H' => where_or(x < 6, WHITE, RED),
        'I' => where_or(across * across + down * down <= 50, BLACK, YELLOW),
        'J' => stripes(y, &[(4, BLUE), (4, WHITE), (4, BLUE)]),
        'K' => where_or(x < 6, YELLOW, BLUE),
        'L' => where_or((x < 6) == (y < 6), YELLOW, BLACK),
        'M' => where_or(saltire, WHITE, BLUE),
        'N' => where_or((x / 3 + y / 3) % 2 == 0, BLUE, WHITE),
        'O' => where_or(x > y, RED, YELLOW),
        'P' => where_or(across <= 4 && down <= 4, WHITE, BLUE),
        'Q' => YELLOW,
        'R' => where_or(cross, YELLOW, RED),
        'S' => where_or(across <= 4 && down <= 4, BLUE, WHITE),
        'T' => stripes(x, &[(4, RED), (4, WHITE), (4, BLUE)]),
        'U' => where_or((x < 6) == (y < 6), RED, WHITE),
        'V' => where_or(saltire, RED, WHITE),
        'W' => match across.max(down) {
            ..=3 => RED,
            4..=7 => WHITE,
            _ => BLUE,
        },
        'X' => where_or(cross, BLUE, WHITE),
        // Ten stripes that rise to the right.
        'Y' => where_or((x + y + 1) * 10 / 24 % 2 == 0, YELLOW, RED),
        // Four triangles that meet in the middle.
        _ => match (x > y, x + y < 11) {
            (true, true) => YELLOW,
            (true, false) => BLUE,
            (false, true) => BLACK,
            (false, false) => RED,
        },
    }
}

/// A numeral's pennant, which tapers to a third of its height.
fn pennant(sign: char, x: i32, y: i32) -> Cell {
    let down = (2 * y - 11).abs();
    if down > 11 - x * 8 / 17 {
        return None;
    }
    let disc = (2 * x - 11) * (2 * x - 11) + down * down <= 26;
    let cross = (x - 6).abs() <= 1 || down <= 1;
    match sign {
        '0' => stripes(x, &[(6, YELLOW), (6, RED), (6, YELLOW)]),
        '1' => where_or(disc, RED, WHITE),
        '2' => where_or(disc, WHITE, BLUE),
        '3' => stripes(x, &[(6, RED), (6, WHITE), (6, BLUE)]),
        '4' => where_or(cross, WHITE, RED),
        '5' => where_or(x < 9, YELLOW, BLUE),
        '6' => where_or(y < 6, BLACK, WHITE),
        '7' => where_or(y < 6, YELLOW, RED),
        '8' => where_or(cross, RED, WHITE),
        _ => match (x < 9, y < 6) {
            (true, true) => WHITE,
            (false, true) => BLACK,
            (true, false) => RED,
            (false, false) => YELLOW,
        },
    }
}
