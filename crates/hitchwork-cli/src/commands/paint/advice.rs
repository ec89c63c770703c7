//! What would show more of a picture than was tied.

use hitchwork_core::picture::solve::{Closing, Painting, SolvingEffort};

use super::art::{Art, ArtForm};
use super::ways::{OnLattice, PaintedBand, suits_leader};
use crate::arguments::{PaintArguments, PaintWay};
use crate::say;

/// What is done to find each of them: about a second's work, and less memory than for the knots.
const EFFORT_OF_ADVICE: SolvingEffort = SolvingEffort {
    memory_bytes: 200_000_000,
    steps: 400_000_000,
    starts: 100,
    beam: 100,
};

/// Sentences that say it; most are for pictures of which something misses.
pub(super) fn advice(paint: &PaintArguments, art: &Art, painted: &PaintedBand) -> Vec<String> {
    let mut advice = Vec::new();
    let Some(lattice) = painted.lattice() else {
        return advice;
    };
    advice.extend(with_even_rows(lattice));
    let missed = lattice.solved.missed.len();
    if missed == 0 {
        return advice;
    }
    if suits_leader(paint, art) && !matches!(art.form, ArtForm::Letters(_)) {
        advice.push("--way leader shows every cell of it".to_owned());
    }
    if lattice.painting.in_pairs().is_ok() {
        advice.push("--way pairs shows every knot of it".to_owned());
    }
    advice.extend(with_free_rows(lattice, missed));
    advice.extend(with_more_threads(lattice, missed));
    advice.extend(with_fewer_colours(paint, painted, missed));
    advice
}

/// Tied again, a lattice with an odd number of rows has two knots of a column one after another,
/// which leave gaps or pull the band round.
fn with_even_rows(lattice: &OnLattice) -> Option<String> {
    let painting = &lattice.painting;
    let uneven = painting.threads > 2 && !painting.rows.len().is_multiple_of(2);
    (uneven && painting.closing == Closing::Closed).then(|| {
        let free = lattice.free_rows + 1;
        format!(
            "tied again, an odd number of rows leaves gaps or bends: --free-rows {free} makes it even"
        )
    })
}

/// "none would miss", "only 3 would miss".
fn would_miss(missed: usize) -> String {
    match missed {
        0 => "none would miss".to_owned(),
        some => format!("only {some} would miss"),
    }
}

fn with_free_rows(lattice: &OnLattice, missed: usize) -> Option<String> {
    if lattice.painting.closing != Closing::Closed {
        return None;
    }
    let painting = Painting {
        counts: Some(lattice.solved.counts.clone()),
        ..lattice.painting.clone()
    };
    let go_on = |_| Ok::<(), hitchwork_core::Error>(());
    let most = usize::from(painting.threads) + 1;
    let found = painting.with_fewest_free_rows(0..=most, &EFFORT_OF_ADVICE, go_on);
    let (rows, solved) = found.ok()?;
    (solved.missed.len() < missed && rows > 0).then(|| {
        format!(
            "with {} after it that may show anything (--free-rows), {}",
            say::counted(rows as u64, "more row"),
            would_miss(solved.missed.len())
        )
    })
}

/// With a thread or two more, which hang at the right, and may show anything.
fn with_more_threads(lattice: &OnLattice, missed: usize) -> Option<String> {
    (1..=2).find_map(|more| {
        let painting = lattice.painting.on_more_threads(more).ok()?;
        let solved = painting.solve(&EFFORT_OF_ADVICE).ok()?;
        (solved.missed.len() < missed).then(|| {
            format!(
                "with {} (--threads {}), {}",
                say::counted(more.into(), "more thread"),
                painting.threads,
                would_miss(solved.missed.len())
            )
        })
    })
}

/// With a colour fewer, where pixels can be brought down to fewer.
fn with_fewer_colours(
    paint: &PaintArguments,
    painted: &PaintedBand,
    missed: usize,
) -> Option<String> {
    let fewer = painted
        .colours
        .len()
        .checked_sub(1)
        .filter(|fewer| *fewer >= 2)?;
    let art = Art::read(paint, Some(fewer)).ok()?;
    if !matches!(art.form, ArtForm::Pixels) || painted.way != PaintWay::Solved {
        return None;
    }
    let lattice = PaintedBand::unsolved(paint, &art).ok()?;
    let solved = lattice.solve(&EFFORT_OF_ADVICE).ok()?;
    (solved.missed.len() < missed).then(|| {
        format!(
            "with one colour fewer (--colours {fewer}), {}",
            would_miss(solved.missed.len())
        )
    })
}
