//! A picture tied over leaders: any picture of motif and ground, exactly.
//!
//! Rows over a leader lie straight across the band, and every knot shows either the leader or the
//! thread that hangs there. Apart from the leaders, each thread keeps to its column: so a column
//! can have a colour of its own, and a row that of its leader.

use super::{Cell, Picture, wrong};
use crate::colour::Colour;
use crate::error::{Error, shortened};
use crate::knot::{Column, Kind, Knot, Side};
use crate::limits::MAX_THREADS;
use crate::row::Row;
use crate::text::counted;

/// What the leaders show of a picture; the threads that hang show the rest.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LeaderShows {
    /// The ground, where a cell shows nothing: each column of the motif can have its own colour.
    #[default]
    Ground,
    /// The motif, where a cell shows a colour: each row of it can have its leader's colour.
    Motif,
}

/// How a picture is tied over leaders.
///
/// One leader goes across in each row and comes back in the next. Several wait side by side at the
/// edge: each goes across in a row of its own, the innermost first; then all come back, again the
/// innermost first. So with leaders 1 and 2 the rows are led by 1, 2, 2, 1, 1, 2…
///
/// ```
/// use hitchwork_core::{colour::{Colour, Srgb}, picture::{OverLeader, Picture}};
/// let lamp = Colour::new("lamp", Srgb::new(255, 193, 69));
/// let night = Colour::new("night", Srgb::new(34, 48, 79));
/// let buoy = Picture::new(3, vec![lamp], vec![None, Some(0), None, Some(0), Some(0), Some(0)])?;
/// let how = OverLeader::default();
/// let rows = how.rows(&buoy)?;
/// assert_eq!(rows[0].to_string(), "forward at 1, backward at 2, forward at 3");
/// assert_eq!(rows[1].to_string(), "forward at 3, forward at 2, forward at 1");
/// let hung = how.hung(&buoy, &[night])?;
/// let names: Vec<&str> = hung.iter().map(|colour| &*colour.name).collect();
/// assert_eq!(names, ["night", "lamp", "lamp", "lamp"]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OverLeader {
    /// How many leaders there are, 1 or more. They hang beside the columns of the picture.
    pub leaders: u16,
    /// The edge at which they hang at the start.
    pub from: Side,
    /// What they show.
    pub shows: LeaderShows,
    /// Whether rows of ground are added at the end until every thread hangs where it hung, as a
    /// repeat needs it.
    pub comes_back: bool,
}

impl Default for OverLeader {
    /// One leader, which hangs at the left, shows the ground and comes back.
    fn default() -> Self {
        Self {
            leaders: 1,
            from: Side::Left,
            shows: LeaderShows::Ground,
            comes_back: true,
        }
    }
}

/// One row over a leader.
#[derive(Clone, Copy, Debug)]
struct LeaderRow {
    /// Which leader goes, counted from 0 in the order in which they go first.
    leader: u16,
    /// From which side it comes.
    from: Side,
    /// The column before that of the picture's first column.
    before: u16,
}

impl OverLeader {
    /// How many threads it takes: one for each column of the picture, and the leaders.
    ///
    /// # Errors
    /// When there is no leader, or there are more threads than a band may have.
    pub fn threads(&self, picture: &Picture) -> Result<u16, Error> {
        if self.leaders == 0 {
            return Err(wrong(
                "nothing is tied over a leader without a leader",
                "give 1 leader or more",
            ));
        }
        let threads = u32::from(self.leaders) + u32::from(picture.width());
        let fits = u16::try_from(threads)
            .ok()
            .filter(|threads| *threads <= MAX_THREADS);
        fits.ok_or_else(|| {
            let columns = counted(picture.width(), "column");
            let leaders = counted(self.leaders, "leader");
            wrong(
                format!("{columns} and {leaders} make {threads} threads; a band has at most {MAX_THREADS}"),
                "over a leader each column of the picture is a thread: crop the picture or turn it by a quarter, or take fewer leaders",
            )
        })
    }

    /// How many rows it takes, the added ones counted.
    #[must_use]
    pub fn row_count(&self, picture: &Picture) -> usize {
        let rows = usize::from(picture.height());
        match self.comes_back {
            true => rows.next_multiple_of(2 * usize::from(self.leaders.max(1))),
            false => rows,
        }
    }

    /// The crossing of a row, counted from 0.
    fn crossing(&self, row: usize) -> LeaderRow {
        let leaders = usize::from(self.leaders);
        let (way, gone) = (row / leaders, row % leaders);
        let from = match way.is_multiple_of(2) {
            true => self.from,
            false => self.from.opposite(),
        };
        // Those that went last are the innermost, and come back first.
        let leader = match from == self.from {
            true => gone,
            false => leaders - 1 - gone,
        };
        // Leaders at the left push all columns to the right by one each.
        let before = match from {
            Side::Left => leaders - gone - 1,
            Side::Right => gone,
        };
        let small = |number: usize| u16::try_from(number).expect("fewer than the leaders");
        LeaderRow {
            leader: small(leader),
            from,
            before: small(before),
        }
    }

    /// The rows that show the picture, from its top row on.
    ///
    /// # Errors
    /// As [`threads`](Self::threads).
    pub fn rows(&self, picture: &Picture) -> Result<Vec<Row>, Error> {
        self.threads(picture)?;
        let row = |at: usize| {
            let crossing = self.crossing(at);
            let knot = |column: u16| {
                let number = u16::try_from(at + 1).unwrap_or(u16::MAX);
                let is_motif = picture.cell(number, column).is_some();
                let leader_shows = is_motif == (self.shows == LeaderShows::Motif);
                let cell = picture.cell_number(number, column);
                let column = Column::new(crossing.before + column).expect("counted from 1");
                Knot::new(column, over_leader(crossing.from, leader_shows)).showing(cell)
            };
            let columns = 1..=picture.width();
            match crossing.from {
                Side::Left => Row::new(columns.map(knot)),
                Side::Right => Row::new(columns.rev().map(knot)),
            }
        };
        Ok((0..self.row_count(picture)).map(row).collect())
    }

    /// The colours of the threads as they hang at the start, so that each cell of the picture
    /// shows its own colour, and a cell that shows nothing a colour of the ground.
    ///
    /// The ground is one colour; or one for each leader, in the order in which they first lead; or,
    /// where leaders show the motif, one for each column. A column of the ground alone takes the
    /// colour of the nearest motif to its left, or else to its right.
    ///
    /// # Errors
    /// As [`threads`](Self::threads); when there are too few or too many colours of the ground; and
    /// when a column of the motif (or, where leaders show it, the rows of a leader) has several
    /// colours: a thread has only one.
    pub fn hung(&self, picture: &Picture, ground: &[Colour]) -> Result<Vec<Colour>, Error> {
        self.threads(picture)?;
        let (columns, leaders) = (picture.width(), self.leaders);
        let (mut leading, hanging) = match self.shows {
            LeaderShows::Ground => {
                let column = |column| {
                    let cells = (1..=picture.height()).map(|row| picture.cell(row, column));
                    one_colour(picture, cells, || format!("column {column}"))
                };
                let motif: Vec<_> = (1..=columns).map(column).collect::<Result<_, _>>()?;
                (
                    each(ground, leaders, "leader")?,
                    without_gaps(motif, ground),
                )
            }
            LeaderShows::Motif => {
                let leader = |leader| {
                    let cells = self.cells_led_by(picture, leader);
                    one_colour(picture, cells, || {
                        format!("what leader {} leads", leader + 1)
                    })
                };
                let motif: Vec<_> = (0..leaders).map(leader).collect::<Result<_, _>>()?;
                (
                    without_gaps(motif, ground),
                    each(ground, columns, "column")?,
                )
            }
        };
        Ok(match self.from {
            // The innermost goes first.
            Side::Left => {
                leading.reverse();
                [leading, hanging].concat()
            }
            Side::Right => [hanging, leading].concat(),
        })
    }

    /// The cells of the rows that a leader leads, counted from 0.
    fn cells_led_by<'a>(
        &'a self,
        picture: &'a Picture,
        leader: u16,
    ) -> impl Iterator<Item = Cell> + 'a {
        let led = move |row: &u16| self.crossing(usize::from(*row) - 1).leader == leader;
        let rows = (1..=picture.height()).filter(led);
        rows.flat_map(move |row| (1..=picture.width()).map(move |column| picture.cell(row, column)))
    }
}

/// The knot of a leader that comes from this side and goes on to the other.
#[must_use]
pub const fn over_leader(from: Side, leader_shows: bool) -> Kind {
    match (from, leader_shows) {
        (Side::Left, true) | (Side::Right, false) => Kind::Forward,
        (Side::Left, false) | (Side::Right, true) => Kind::Backward,
    }
}

/// The one colour that these cells show, if they show any.
fn one_colour(
    picture: &Picture,
    cells: impl Iterator<Item = Cell>,
    what: impl Fn() -> String,
) -> Result<Option<Colour>, Error> {
    let mut shown = cells.filter_map(|cell| picture.listed(cell));
    let Some(first) = shown.next() else {
        return Ok(None);
    };
    match shown.find(|other| *other != first) {
        None => Ok(Some(first.clone())),
        Some(other) => Err(wrong(
            format!(
                "{} of the picture shows {} and {}, and is one thread",
                what(),
                shortened(&first.name),
                shortened(&other.name)
            ),
            "over a leader a column (or, where leaders show the motif, what a leader leads) has one colour besides the ground: recolour the picture, or take another way to tie it",
        )),
    }
}

/// Each of them, the empty ones as the nearest before them, or else behind; a motif of which there
/// is nothing at all has the colour of the ground.
fn without_gaps(mut colours: Vec<Option<Colour>>, ground: &[Colour]) -> Vec<Colour> {
    let mut nearest = colours.iter().flatten().next().or(ground.first()).cloned();
    for colour in &mut colours {
        if colour.is_some() {
            nearest.clone_from(colour);
        }
        colour.clone_from(&nearest);
    }
    colours.into_iter().flatten().collect()
}

/// One colour for each of them, or the one that they all have.
fn each(ground: &[Colour], count: u16, what: &str) -> Result<Vec<Colour>, Error> {
    let count = usize::from(count);
    match ground {
        [one] => Ok(vec![one.clone(); count]),
        all if all.len() == count => Ok(all.to_vec()),
        all => Err(wrong(
            format!(
                "{} of the ground cannot hang as {}",
                counted(all.len(), "colour"),
                counted(count, what)
            ),
            format!("give one colour, or one for each {what}"),
        )),
    }
}
