//! The marks with which the cells of pictures are written.

/// The mark of a cell that shows a colour, where only one is meant.
pub const MOTIF: char = '#';

/// The mark with which the colour of this number, counted from 0, is written where nobody has chosen
/// one: a letter, as long as there are any, since letters are colours wherever a picture is read from
/// text. There are marks for all the colours that a picture may have, and for its ground.
///
/// ```
/// use hitchwork_core::picture::{MAX_PICTURE_COLOURS, mark_of};
/// assert_eq!([0, 25, 26, 52].map(mark_of), [Some('a'), Some('z'), Some('A'), Some('0')]);
/// assert!(mark_of(MAX_PICTURE_COLOURS).is_some() && mark_of(MAX_PICTURE_COLOURS + 1).is_none());
/// ```
#[doc(hidden)]
#[must_use]
pub fn mark_of(number: usize) -> Option<char> {
    let letters = ('a'..='z').chain('A'..='Z').chain('0'..='9');
    letters.chain(['+', '*', '-']).nth(number)
}
