//! A gradient made from the threads that you own; and what is missing.

use serde::Serialize;

use super::assign::assignment;
use super::space::cielab;
use super::{Colour, Owned};
use crate::error::{Error, Problem};
use crate::limits::MAX_COLOURS;
use palette::color_difference::Ciede2000;

/// A wanted colour and the owned thread that takes its place.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Pair {
    /// The colour that was wanted.
    pub wanted: Colour,
    /// The thread.
    pub thread: Owned,
    /// How far apart they are by CIEDE2000.
    pub difference: f64,
}

/// A gradient in owned threads.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Matching {
    /// One pair for each wanted colour, in order.
    pub pairs: Vec<Pair>,
    /// The sum of their differences.
    pub total: f64,
    /// The greatest difference among them.
    pub worst: f64,
}

/// A colour to buy.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Missing {
    /// The colour that was wanted.
    pub wanted: Colour,
    /// The nearest owned thread that no other step needs, if there is any.
    pub alternative: Option<Owned>,
    /// How far that one is from it by CIEDE2000.
    pub difference: Option<f64>,
}

/// What is there for a gradient, and what is to be bought.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct GradientShopping {
    /// The colours that are there.
    pub have: Vec<Pair>,
    /// The colours that are not.
    pub buy: Vec<Missing>,
}

fn differences(wanted: &[Colour], owned: &[Owned]) -> Vec<Vec<f64>> {
    let threads: Vec<_> = owned.iter().map(|thread| cielab(thread.srgb)).collect();
    let row = |colour: &Colour| {
        let colour = cielab(colour.srgb);
        threads
            .iter()
            .map(|thread| colour.difference(*thread))
            .collect()
    };
    wanted.iter().map(row).collect()
}

/// The columns that an optimum can use: for each row as many of the cheapest as there are
/// rows. (If a row used a dearer one, one of its cheapest would be free.)
fn worth_a_look(costs: &[Vec<f64>]) -> Vec<usize> {
    let rows = costs.len();
    let mut useful = Vec::new();
    for row in costs {
        let mut columns: Vec<usize> = (0..row.len()).collect();
        if rows < columns.len() {
            let by_cost = |a: &usize, b: &usize| row[*a].total_cmp(&row[*b]).then(a.cmp(b));
            columns.select_nth_unstable_by(rows, by_cost);
            columns.truncate(rows);
        }
        useful.extend(columns);
    }
    useful.sort_unstable();
    useful.dedup();
    useful
}

fn check_wanted(wanted: &[Colour]) -> Result<(), Error> {
    if wanted.is_empty() || wanted.len() > MAX_COLOURS {
        let found = wanted.len();
        return Err(Problem::GradientCount { found }.into());
    }
    Ok(())
}

/// The wanted colours made from the owned threads, each used once, with the least
/// possible sum of CIEDE2000 differences: an exact optimum (the assignment problem), which
/// taking the nearest thread for one colour after another would miss.
///
/// ```
/// use hitchwork_core::colour::{Colour, Owned, Srgb, match_threads};
/// let grey = |level| Srgb::new(level, level, level);
/// let wanted = [Colour::new("first", grey(100)), Colour::new("second", grey(110))];
/// let owned = [Owned::new("fog", grey(108)), Owned::new("slate", grey(140))];
/// let matching = match_threads(&wanted, &owned)?;
/// assert_eq!(matching.pairs[0].thread.name, "fog");
/// assert_eq!(matching.pairs[1].thread.name, "slate");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When there are fewer threads than wanted colours, or no wanted colours.
pub fn match_threads(wanted: &[Colour], owned: &[Owned]) -> Result<Matching, Error> {
    check_wanted(wanted)?;
    if owned.len() < wanted.len() {
        return Err(Problem::TooFewThreads {
            have: owned.len(),
            need: wanted.len(),
        }
        .into());
    }
    let costs = differences(wanted, owned);
    let useful = worth_a_look(&costs);
    let narrowed: Vec<Vec<f64>> = costs
        .iter()
        .map(|row| useful.iter().map(|column| row[*column]).collect())
        .collect();
    let pairs: Vec<Pair> = assignment(&narrowed)
        .into_iter()
        .enumerate()
        .map(|(step, column)| Pair {
            wanted: wanted[step].clone(),
            thread: owned[useful[column]].clone(),
            difference: narrowed[step][column],
        })
        .collect();
    Ok(Matching {
        total: pairs.iter().map(|pair| pair.difference).sum(),
        worst: pairs.iter().map(|pair| pair.difference).fold(0.0, f64::max),
        pairs,
    })
}

/// Which of the wanted colours you own, to within a CIEDE2000 difference, each thread
/// used once, and which are to be bought: as many as can be are made from what is there,
/// and those as closely as can be.
///
/// ```
/// use hitchwork_core::colour::{Colour, Owned, Srgb, shopping};
/// let wanted = [Colour::new("teal", Srgb::new(0, 128, 128)), Colour::new("plum", Srgb::new(142, 69, 133))];
/// let owned = [Owned::new("lagoon", Srgb::new(5, 130, 130))];
/// let list = shopping(&wanted, &owned, 3.0)?;
/// assert_eq!(list.have[0].thread.name, "lagoon");
/// assert_eq!(list.buy[0].wanted.name, "plum");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When there are no wanted colours, or the difference is not a number of 0 or more.
pub fn shopping(
    wanted: &[Colour],
    owned: &[Owned],
    within: f64,
) -> Result<GradientShopping, Error> {
    check_wanted(wanted)?;
    if !(0.0..=1000.0).contains(&within) {
        return Err(Problem::Difference { found: within }.into());
    }
    let costs = differences(wanted, owned);
    let useful = worth_a_look(&costs);
    #[allow(clippy::cast_precision_loss, reason = "at most a thousand colours")]
    let too_far = (within + 1.0) * (wanted.len() + 1) as f64;
    // One column for each step stands for buying it.
    let padded: Vec<Vec<f64>> = costs
        .iter()
        .map(|row| {
            let near = useful.iter().map(|column| match row[*column] {
                near if near <= within => near,
                _ => 2.0 * too_far,
            });
            near.chain(std::iter::repeat_n(too_far, wanted.len()))
                .collect()
        })
        .collect();
    let assigned = assignment(&padded);
    let used: Vec<usize> = assigned
        .iter()
        .filter_map(|column| useful.get(*column).copied())
        .collect();
    let mut list = GradientShopping {
        have: Vec::new(),
        buy: Vec::new(),
    };
    for (step, colour) in wanted.iter().enumerate() {
        if let Some(&thread) = useful.get(assigned[step]) {
            list.have.push(Pair {
                wanted: colour.clone(),
                thread: owned[thread].clone(),
                difference: costs[step][thread],
            });
            continue;
        }
        let nearest = (0..owned.len())
            .filter(|thread| !used.contains(thread))
            .min_by(|a, b| costs[step][*a].total_cmp(&costs[step][*b]));
        list.buy.push(Missing {
            wanted: colour.clone(),
            alternative: nearest.map(|thread| owned[thread].clone()),
            difference: nearest.map(|thread| costs[step][thread]),
        });
    }
    Ok(list)
}
