//! What would show more of a picture than was tied.

use hitchwork_core::picture::solve::{Closing, Painting, SolvingEffort};

use super::art::{Art, ArtForm};
use super::painted::{OnLattice, PaintedBand};
use super::ways::{other_ways, suits_leader, wishes_of_lattice};
use crate::arguments::{PaintArguments, PaintWay};
use crate::say;

/// What is done to find each of them: about a second's work, and less memory than for the knots.
const EFFORT_OF_ADVICE: SolvingEffort = SolvingEffort {
    memory_bytes: 200_000_000,
    steps: 400_000_000,
    starts: 100,
    beam: 100,
};

/// Another way is worth a word from so much less of the longest thread on (our own judgement).
const FAR_SHORTER: f64 = 0.85;

/// Sentences that say what else is to be known of the band.
pub(super) fn notes(paint: &PaintArguments, art: &Art, painted: &PaintedBand) -> Vec<String> {
    let mut notes = art.slips.clone();
    let (painted_cells, between) = painted.between_knots(art);
    if between > 0 {
        let leader = match can_choose_leader(paint, art) {
            true => "; --way leader shows them all",
            false => "",
        };
        notes.push(format!(
            "{between} of the {painted_cells} cells of the picture lie between the knots and are not tied{leader}"
        ));
    }
    let (across, high) = (painted.picture.width(), painted.picture.height());
    if !matches!(art.form, ArtForm::Letters(_)) && !paint.along && across > high {
        notes.push(
            "it lies across the band, its top row first; --along turns it to run along the band"
                .to_owned(),
        );
    }
    notes
}

/// That the leader is far longer than any thread of another way to tie the picture.
/// `longest_cm` says how long the longest piece of thread of a band is.
pub(super) fn shorter_leader(
    paint: &PaintArguments,
    art: &Art,
    painted: &PaintedBand,
    longest_cm: impl Fn(&PaintedBand) -> Option<f64>,
) -> Option<String> {
    let longest = longest_cm(painted)?;
    let others = other_ways(paint, art, painted).into_iter();
    let others = others.filter_map(|(option, other)| {
        let cm = longest_cm(&other)?;
        let half = match other.lattice() {
            Some(_) => ", which shows every second cell",
            None => "",
        };
        (cm < longest * FAR_SHORTER).then(|| {
            format!(
                "with {option}{half}, no thread is longer than {:.1} m",
                cm / 100.0
            )
        })
    });
    let others: Vec<String> = others.collect();
    (!others.is_empty()).then(|| {
        format!(
            "the leader is {:.1} m long; {}",
            longest / 100.0,
            others.join("; ")
        )
    })
}

/// Whether nothing else that was asked keeps the picture from being tied over a leader.
fn can_choose_leader(paint: &PaintArguments, art: &Art) -> bool {
    wishes_of_lattice(paint).is_none() && suits_leader(paint, art)
}

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
    if can_choose_leader(paint, art) && !matches!(art.form, ArtForm::Letters(_)) {
        advice.push("--way leader shows every cell of it".to_owned());
    }
    if lattice.painting.in_pairs().is_ok() {
        advice.push("--way pairs shows every knot of it".to_owned());
    }
    advice.extend(in_two_colours(paint, art, painted));
    advice.extend(with_free_rows(paint, lattice, missed));
    advice.extend(with_more_threads(paint, lattice, missed));
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

/// "none would miss"; "only 3 would miss", where that is proved of all that the command would look
/// at; or "at most 3 would miss", as it would look longer.
fn would_miss(missed: usize, is_proved: bool) -> String {
    match (missed, is_proved) {
        (0, _) => "none would miss".to_owned(),
        (some, true) => format!("only {some} would miss"),
        (some, false) => format!("at most {some} would miss"),
    }
}

fn with_free_rows(paint: &PaintArguments, lattice: &OnLattice, missed: usize) -> Option<String> {
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
            "with {} after it that may show anything (--free-rows {}), {}",
            say::counted(rows as u64, "more row"),
            lattice.free_rows + rows,
            // Where nobody has asked for these counts, the command looks at others too.
            would_miss(
                solved.missed.len(),
                paint.counts.is_some() && solved.is_proved()
            )
        )
    })
}

/// With a thread or two more, which hang at the right, and may show anything.
fn with_more_threads(paint: &PaintArguments, lattice: &OnLattice, missed: usize) -> Option<String> {
    (1..=2).find_map(|more| {
        let painting = lattice.painting.on_more_threads(more).ok()?;
        let solved = painting.solve(&EFFORT_OF_ADVICE).ok()?;
        (solved.missed.len() < missed).then(|| {
            format!(
                "with {} (--threads {}{}), {}",
                say::counted(more, "more thread"),
                painting.threads,
                if paint.counts.is_some() {
                    ", and no --counts"
                } else {
                    ""
                },
                would_miss(solved.missed.len(), solved.is_proved())
            )
        })
    })
}

/// In two colours, in which nothing misses, where there are so many that one colour fewer is not two.
fn in_two_colours(paint: &PaintArguments, art: &Art, painted: &PaintedBand) -> Option<String> {
    let is_many = painted.colours.len() > 3 && paint.counts.is_none();
    if !is_many || !matches!(art.form, ArtForm::Pixels) {
        return None;
    }
    let two = Art::read(paint, Some(2)).ok()?;
    let way = |way: &str| match paint.way {
        Some(_) => format!("--colours 2 --way {way}"),
        None => "--colours 2".to_owned(),
    };
    if can_choose_leader(paint, &two) {
        let option = way("leader");
        return Some(format!(
            "in two colours every cell shows ({option}), over a leader"
        ));
    }
    let in_pairs = PaintedBand::unsolved(paint, &two).ok()?.in_pairs();
    in_pairs.ok()?;
    Some(format!(
        "in two colours every knot shows ({})",
        way("pairs")
    ))
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
    // Where nobody has chosen a way, one is taken that misses none, if there is one.
    let is_free = paint.way.is_none();
    let over_leader = is_free && can_choose_leader(paint, &art);
    let would = match over_leader || (is_free && lattice.in_pairs().is_ok()) {
        true => would_miss(0, true),
        false => {
            let solved = lattice.solve(&EFFORT_OF_ADVICE).ok()?;
            let fewer = solved.missed.len() < missed;
            fewer.then(|| would_miss(solved.missed.len(), solved.is_proved()))?
        }
    };
    let how = if over_leader { " over a leader" } else { "" };
    Some(format!(
        "with one colour fewer, which changes the picture (--colours {fewer}), {would}{how}"
    ))
}

#[cfg(test)]
mod tests {
    use super::would_miss;

    /// Whoever is told "only" finds no more, and whoever is told "at most" may find fewer: advice is
    /// found with less effort than the command then spends.
    #[test]
    fn what_is_not_proved_is_promised_as_at_most() {
        assert_eq!(would_miss(3, true), "only 3 would miss");
        assert_eq!(would_miss(3, false), "at most 3 would miss");
        assert_eq!(would_miss(0, false), "none would miss");
    }
}
