//! How hard a band is to tie, in parts that add up.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::band::Band;
use crate::fabric::Fabric;
use crate::knot::Kind;
use crate::row::Row;

/// One thing that makes a band hard.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Part {
    /// What it is about.
    pub name: &'static str,
    /// How much it weighs: from 0 to 2, in tenths.
    pub points: f64,
    /// What it comes from, counted.
    pub because: String,
}

/// How hard a band is, from 0 to 10: the sum of five parts of at most 2 points each.
///
/// What is counted is measurable; the weights are our own judgement.
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
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Difficulty {
    /// The sum of the parts.
    pub points: f64,
    /// The parts.
    pub parts: Vec<Part>,
}

impl Difficulty {
    /// How hard this band is.
    #[must_use]
    pub fn of(band: &Band) -> Self {
        Self::of_fabric(band, &Fabric::of(band))
    }

    /// The same for a band that has been tied already.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "numbers of knots and rows")]
    pub fn of_fabric(band: &Band, fabric: &Fabric) -> Self {
        let knots: Vec<_> = fabric.first_repeat().knots().collect();
        let kinds: BTreeSet<Kind> = knots.iter().map(|knot| knot.kind).collect();
        let changed = |different: &dyn Fn(usize) -> bool| {
            (1..knots.len()).filter(|&at| different(at)).count()
        };
        let hands = changed(&|at| knots[at].working != knots[at - 1].working);
        let turns = changed(&|at| {
            knots[at].working == knots[at - 1].working && knots[at].kind != knots[at - 1].kind
        });
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
        let part = |name, points: f64, because| Part {
            name,
            points: (points.clamp(0.0, 2.0) * 10.0).round() / 10.0,
            because,
        };
        let share = |count: usize| count as f64 / knots.len().max(1) as f64;
        let counted = |count: usize, thing: &str| {
            format!("{count} {thing}{}", if count == 1 { "" } else { "s" })
        };
        let parts = vec![
            part(
                "threads",
                f64::from(threads) / 12.0,
                counted(usize::from(threads), "thread"),
            ),
            part(
                "kinds",
                (kinds.len() as f64 - 1.0) * 2.0 / 3.0,
                counted(kinds.len(), "kind") + " of knot",
            ),
            part(
                "rows",
                libm::log2(rows.len() as f64) / 2.0,
                counted(rows.len(), "row") + " to remember",
            ),
            part(
                "changes",
                share(hands) * 2.0,
                counted(hands, "change") + " of working thread per repeat",
            ),
            part(
                "turns",
                share(turns) * 6.0,
                counted(turns, "change") + " of kind within a thread's knots per repeat",
            ),
        ];
        let tenths: f64 = parts.iter().map(|part| (part.points * 10.0).round()).sum();
        Self {
            points: tenths / 10.0,
            parts,
        }
    }

    /// The parts in a line, the weightiest first, without those that weigh nothing.
    #[must_use]
    pub fn words(&self) -> String {
        let mut parts: Vec<&Part> = self.parts.iter().filter(|part| part.points > 0.0).collect();
        parts.sort_by(|a, b| b.points.total_cmp(&a.points));
        let said: Vec<&str> = parts.iter().map(|part| part.because.as_str()).collect();
        said.join(", ")
    }
}
