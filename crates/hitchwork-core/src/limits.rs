//! The most that is allowed of everything that could otherwise grow without end.

/// The fewest threads that can be knotted together.
pub const MIN_THREADS: u16 = 2;
/// The most threads that a band may have.
pub const MAX_THREADS: u16 = 200;
/// The most rows in the lead-in, the repeat or the lead-out.
pub const MAX_ROWS: usize = 100_000;
/// The most times a repeat is tied.
pub const MAX_REPEATS: u32 = 1_000_000;
/// The most knots on a band, all repeats counted.
pub const MAX_KNOTS: u64 = 20_000_000;
/// The shortest that a band may be asked to be, in millimetres of knotting.
pub const MIN_LENGTH_MM: f64 = 5.0;
/// The longest that a band may be asked to be, in millimetres of knotting.
pub const MAX_LENGTH_MM: f64 = 100_000.0;
/// The most colours in a palette.
pub const MAX_COLOURS: usize = 1_000;
/// The most letters of a title, or of a setting's value: what fits on a line or two of a sheet.
pub const MAX_TITLE_LETTERS: usize = 200;
/// The most letters of notes: some pages.
pub const MAX_NOTES_LETTERS: usize = 10_000;
/// The most letters of a name: of a colour, a palette, a thread or a setting.
pub const MAX_NAME_LETTERS: usize = 100;
/// The most colours that are put in order.
pub const MAX_ORDERED: usize = 1_000;
/// The most rows of a picture.
pub const MAX_PICTURE_ROWS: u16 = 2_000;
