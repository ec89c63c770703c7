//! The knots of a picture, found: any picture on any places, with the fewest knots that show a
//! wrong colour.
//!
//! What a band can show next depends only on the order in which its *colours* hang. At each
//! knot the two threads stay or change places, and one of them shows. So the fewest misses come
//! from dynamic programming over all orders of the colours (Bellman 1957): n! / (n1! n2! …) of
//! them, one step for each at every knot, exactly. With the ends closed every start has its own
//! way back; bounds from both sides leave few starts, and those are tried until one is as good
//! as the bound. Where the orders are too many, a beam finds a good picture, and windows (see
//! below) say how many misses there must be at least.
//!
//! Of several ways with equally few misses the easier to tie is taken, knot by knot in tying
//! order from the start: first one whose working thread also worked in the last knot that it
//! took part in, so that its run goes on; then one of the same kind as the knot tied before it;
//! then the first in the order of [`Kind::ALL`](crate::knot::Kind::ALL). The start is, with open
//! ends, the first in lexicographic order of those with the fewest misses; with closed ends, the
//! first that was found to have them.
//!
//! - `painting`: what is asked, and its limits
//! - `orders`: all orders of the colours, and what one knot does to costs kept for each
//! - `passes`: all knots over all orders, and the walk along the cheapest
//! - `hand`: which of the knots that would do is tied
//! - `closed`: repeats that end as they began
//! - `windows`, `beam`: where the orders are too many
//! - `counts`: how many threads of each colour
//! - `search`: which of these is done for some counts
//! - `any_counts`: the same where the counts are looked for
//! - `solving`: the question and the answer

mod any_counts;
mod beam;
mod closed;
mod counts;
mod hand;
mod meter;
mod orders;
mod painting;
mod passes;
mod search;
mod solving;
mod windows;

pub(super) use painting::refused;
pub use painting::{Closing, Painting, SolvingEffort, WantedKnot};
pub use solving::{MissedKnot, Solved};

use orders::number_of_orders;

/// A knot to be tied: its column, counted from 0, and the colour that it is to show.
type PlannedKnot = (usize, Option<u8>);

/// In how many orders threads can hang of which so many have each colour: the multinomial
/// number of the counts. Nothing where that is 2^64 or more.
///
/// ```
/// use hitchwork_core::picture::solve::orders_of_colours;
/// assert_eq!(orders_of_colours(&[4, 4, 4]), Some(34_650));
/// assert_eq!(orders_of_colours(&[100, 100]), None);
/// ```
#[must_use]
pub fn orders_of_colours(counts: &[u16]) -> Option<u64> {
    number_of_orders(counts)
}
