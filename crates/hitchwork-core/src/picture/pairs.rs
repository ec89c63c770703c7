//! Any picture of two colours, exactly: the two hang by turns, and every knot turns back.
//!
//! Every column then always lies between a thread of each colour, whatever was tied before, and
//! each knot shows the one that is wanted. All threads stay in their places, so any rows close.

use super::solve::{Painting, Solved, refused};
use crate::error::Error;
use crate::knot::{Column, Kind, Knot};
use crate::row::Row;

impl Painting {
    /// The knots of a picture in two colours that hang by turns: the first colour at the odd
    /// positions, or the other where its counts have a thread more. Nothing misses, and the
    /// colours end as they began. Where any colour will do, the one is shown that the knot
    /// before shows.
    ///
    /// ```
    /// use hitchwork_core::picture::solve::Painting;
    /// let spot = Painting::lattice(5, 2, 3, |row, column| Some(u8::from((row, column) == (2, 2))))?;
    /// let tied = spot.in_pairs()?;
    /// assert_eq!(tied.start, [0, 1, 0, 1, 0]);
    /// // The spot is tied with the thread at position 2, the left one of its column.
    /// assert_eq!(tied.rows[1].to_string(), "forward-backward at 2, backward-forward at 4");
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the picture has not just two colours, when so many threads of each cannot hang by
    /// turns, when the colours have to end in another way than they began, or when there are
    /// columns or colours wanted that there are not.
    pub fn in_pairs(&self) -> Result<Solved, Error> {
        self.check()?;
        if self.colours != 2 {
            return Err(refused(
                format!(
                    "two colours hang by turns, and the picture has {}",
                    self.colours
                ),
                "paint it with two colours, or have its knots found",
            ));
        }
        let start = self.by_turns()?;
        if self.ends_of(&start).is_some_and(|end| end != start) {
            return Err(refused(
                "threads that stay in their places cannot end in another way than they began",
                "close the picture as it began, or have its knots found",
            ));
        }
        let mut last = 0;
        let mut knot = |column: Column, wanted: Option<u8>| {
            last = wanted.unwrap_or(last);
            let left = start[usize::from(column.number()) - 1];
            let kind = match left == last {
                true => Kind::ForwardBackward,
                false => Kind::BackwardForward,
            };
            Knot::new(column, kind)
        };
        let mut rows = Vec::with_capacity(self.rows.len());
        for row in &self.rows {
            let knots: Vec<Knot> = row.iter().map(|it| knot(it.column, it.colour)).collect();
            rows.push(Row::new(knots));
        }
        Ok(Solved {
            counts: [0, 1].map(|colour| self.hung(&start, colour)).to_vec(),
            start,
            rows,
            missed: Vec::new(),
            least: 0,
            exact: true,
        })
    }

    fn by_turns(&self) -> Result<Vec<u8>, Error> {
        for first in [0, 1] {
            let start: Vec<u8> = (0..self.threads)
                .map(|position| if position % 2 == 0 { first } else { 1 - first })
                .collect();
            let counts = [0, 1].map(|colour| self.hung(&start, colour));
            if self.counts.as_ref().is_none_or(|given| given[..] == counts) {
                return Ok(start);
            }
        }
        Err(refused(
            "threads in these numbers cannot hang by turns",
            "give both colours the same number of threads, or one of them one more",
        ))
    }

    fn hung(&self, start: &[u8], colour: u8) -> u16 {
        let of_colour = |position: &u16| start[usize::from(*position)] == colour;
        u16::try_from((0..self.threads).filter(of_colour).count()).unwrap_or(u16::MAX)
    }
}
