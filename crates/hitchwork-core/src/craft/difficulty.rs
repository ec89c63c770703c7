//! How hard a band is to tie, in parts that add up.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::band::Band;
use crate::knot::Kind;
use crate::proof::KnotChanges;
use crate::row::Row;
use crate::text::counted;

/// One thing that makes a band hard.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct DifficultyPart {
    /// What it is about.
    pub name: &'static str,
    /// How much it weighs: from 0 to 2, in tenths.
    pub points: f64,
    /// What it comes from, counted.
    pub because: String,
}

/// The most that a part weighs, so that none of the five drowns the others (our own
/// judgement).
const MOST_POINTS: f64 = 2.0;
/// This many threads weigh the most: as many as lie side by side under two hands (our own
/// judgement).
const MOST_THREADS: f64 = 24.0;
/// This many rows to remember weigh the most, and every doubling as much as the one before,
/// as with all that is learnt by heart (our own judgement).
const MOST_ROWS: f64 = 16.0;
/// A change of kind within a thread's knots at every third knot weighs the most; a change of
/// the working thread does at every knot, since the eye finds a thread sooner than the hand
/// another movement (our own judgement).
const KNOTS_PER_TURN: f64 = 3.0;

/// Below this a band is called easy: a plain stripe with few threads, which are the first bands
/// of most makers, stays below (our own judgement).
const EASY_BELOW: f64 = 3.5;
/// From here on it is called hard: two of the five parts weigh their most and the others half of
/// it (our own judgement).
const HARD_FROM: f64 = 6.5;

/// How hard a band is, from 0 to 10: the sum of five parts of at most 2 points each.
///
/// Threads, kinds of knot beyond the first, and both sorts of change weigh in proportion,
/// rows by their doublings. What is counted is measurable; the weights are our own
/// judgement.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, craft::Difficulty, knot::Kind, row::Row};
/// # let stripe = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 12,
/// #     ..BandParts::default() })?;
/// let easy = Difficulty::of(&stripe);
/// assert!(easy.points < 3.0);
/// let sum: f64 = easy.parts.iter().map(|part| part.points).sum();
/// assert!((easy.points - sum).abs() < 1e-9);
/// assert!(easy.degree().starts_with("easy, "));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Difficulty {
    /// The sum of the parts.
    pub points: f64,
    /// The parts.
    pub parts: Vec<DifficultyPart>,
}

impl Difficulty {
    /// How hard this band is.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "numbers of knots and rows")]
    pub fn of(band: &Band) -> Self {
        let kinds: BTreeSet<Kind> = band
            .repeat()
            .iter()
            .flat_map(Row::knots)
            .map(|knot| knot.kind())
            .collect();
        let changes = KnotChanges::of(band);
        let rows: BTreeSet<Vec<(u16, Kind)>> = band
            .repeat()
            .iter()
            .map(Row::knots)
            .map(|knots| {
                knots
                    .iter()
                    .map(|knot| (knot.column().number(), knot.kind()))
                    .collect()
            })
            .collect();
        let threads = band.thread_count();
        let part = |name, of_the_most: f64, because| DifficultyPart {
            name,
            points: (of_the_most.clamp(0.0, 1.0) * MOST_POINTS * 10.0).round() / 10.0,
            because,
        };
        let share = |count: usize| count as f64 / changes.knots.max(1) as f64;
        let (hands, turns) = (changes.of_thread, changes.of_kind);
        let parts = vec![
            part(
                "threads",
                f64::from(threads) / MOST_THREADS,
                counted(usize::from(threads), "thread"),
            ),
            part(
                "kinds",
                (kinds.len() as f64 - 1.0) / (Kind::ALL.len() as f64 - 1.0),
                counted(kinds.len(), "kind") + " of knot",
            ),
            part(
                "rows",
                libm::log2(rows.len() as f64) / libm::log2(MOST_ROWS),
                counted(rows.len(), "row") + " to remember",
            ),
            part(
                "changes",
                share(hands),
                counted(hands, "change") + " of working thread per repeat",
            ),
            part(
                "turns",
                share(turns) * KNOTS_PER_TURN,
                counted(turns, "change") + " of kind within a thread's knots per repeat",
            ),
        ];
        let tenths: f64 = parts.iter().map(|part| (part.points * 10.0).round()).sum();
        Self {
            points: tenths / 10.0,
            parts,
        }
    }

    /// How hard it is in a word, and in whole points: "middling, 5 of 10".
    #[must_use]
    pub fn degree(&self) -> String {
        let word = match self.points {
            points if points < EASY_BELOW => "easy",
            points if points < HARD_FROM => "middling",
            _ => "hard",
        };
        format!("{word}, {:.0} of 10", self.points.round())
    }

    /// What weighs most: the two weightiest parts, the weightier first, without one that
    /// weighs nothing.
    #[must_use]
    pub fn reasons(&self) -> String {
        let mut parts: Vec<&DifficultyPart> =
            self.parts.iter().filter(|part| part.points > 0.0).collect();
        parts.sort_by(|a, b| b.points.total_cmp(&a.points));
        let said = parts.iter().take(2).map(|part| part.because.as_str());
        said.collect::<Vec<_>>().join(", and ")
    }
}
