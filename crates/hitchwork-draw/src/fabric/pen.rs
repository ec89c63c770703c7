//! Numbers, paths and bounds.

use std::fmt::Write;

use crate::ink::PlanePoint;

/// A number as short as can be: large ones, of which a fraction would not be seen, are
/// whole, and small ones have one decimal.
pub(super) fn short(number: f64) -> String {
    let mut text = String::new();
    push_short(&mut text, number);
    text
}

/// Writes the same.
pub(super) fn push_short(out: &mut String, number: f64) {
    let rounded = if number.abs() < 20.0 {
        number
    } else {
        number.round()
    };
    push_number(out, rounded);
}

/// Writes a number with at most one decimal. Pictures are mostly numbers, so this goes
/// without the formatter of the standard library.
pub(crate) fn push_number(out: &mut String, number: f64) {
    #[expect(
        clippy::cast_possible_truncation,
        reason = "places on a picture are far below 2^63"
    )]
    let tenths = (number * 10.0).round() as i64;
    let (mut whole, tenth) = (tenths.unsigned_abs() / 10, tenths.unsigned_abs() % 10);
    let mut text = [0_u8; 24];
    let mut at = text.len();
    let mut write = |byte: u8| {
        at -= 1;
        text[at] = byte;
    };
    if tenth > 0 {
        write(digit(tenth));
        write(b'.');
    }
    if whole == 0 && tenth == 0 {
        write(b'0');
    }
    while whole > 0 {
        write(digit(whole % 10));
        whole /= 10;
    }
    if tenths < 0 {
        write(b'-');
    }
    out.push_str(std::str::from_utf8(&text[at..]).expect("digits"));
}

fn digit(number: u64) -> u8 {
    b'0' + u8::try_from(number % 10).expect("below 10")
}

pub(super) fn pair((x, y): PlanePoint) -> String {
    let mut text = String::with_capacity(16);
    push_short(&mut text, x);
    text.push(' ');
    push_short(&mut text, y);
    text
}

pub(super) fn plus(a: PlanePoint, b: PlanePoint, times: f64) -> PlanePoint {
    (a.0 + b.0 * times, a.1 + b.1 * times)
}

/// Half the width of a bundle of this many threads, packed as loosely as in the hand
/// (three quarters of the round are thread; our own measure).
pub(super) fn bundle_radius(threads: f64, thread: f64) -> f64 {
    let packed = if threads > 1.0 { 0.75 } else { 1.0 };
    thread / 2.0 * (threads / packed).sqrt()
}

/// A closed shape with soft corners. Each corner is a point and how much of the way to
/// the corner before and after it is given up to the rounding (up to a half).
pub(super) fn soft_shape(corners: &[(PlanePoint, f64, f64)]) -> String {
    let mut path = String::new();
    let count = corners.len();
    for (at, &(corner, before, after)) in corners.iter().enumerate() {
        let (last, next) = (
            corners[(at + count - 1) % count].0,
            corners[(at + 1) % count].0,
        );
        let toward = |other: PlanePoint, share: f64| {
            plus(corner, (other.0 - corner.0, other.1 - corner.1), share)
        };
        let (from, to) = (toward(last, before), toward(next, after));
        let command = if at == 0 { 'M' } else { 'L' };
        write!(
            path,
            "{command}{}Q{} {}",
            pair(from),
            pair(corner),
            pair(to)
        )
        .expect("writing to a string does not fail");
    }
    path.push('Z');
    path
}

/// What has been drawn so far lies within.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bounds {
    pub(super) least: PlanePoint,
    pub(super) most: PlanePoint,
}

impl Bounds {
    pub(super) fn around(least: PlanePoint, most: PlanePoint) -> Self {
        Self { least, most }
    }

    pub(super) fn include(&mut self, (x, y): PlanePoint, radius: f64) {
        self.least = (self.least.0.min(x - radius), self.least.1.min(y - radius));
        self.most = (self.most.0.max(x + radius), self.most.1.max(y + radius));
    }
}

/// A number with one decimal, if it needs one.
pub(super) fn exact(number: f64) -> String {
    let mut text = String::new();
    push_number(&mut text, number);
    text
}

/// A level, a seam or a column as a number to reckon with.
pub(super) fn units(level: i64) -> f64 {
    f64::from(i32::try_from(level).expect("MAX_KNOTS bounds the levels"))
}
