//! What of a band strikes the eye, in numbers by which bands can be chosen.

use std::collections::BTreeMap;

use super::round::{KnotChanges, Round, ShownKnot};
use crate::band::Band;
use crate::colour::{Srgb, difference};

/// What strikes the eye about a band's endless repeat.
///
/// Knots touch where one follows another in the same column or in a neighbouring one.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, proof::Look, row::Row};
/// // A candy stripe of two colours in four threads: each stripe winds on without end.
/// let stripe = Band::new(BandParts {
///     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
///     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 12,
///     ..BandParts::default() })?;
/// let look = Look::of(&stripe).expect("few knots");
/// assert_eq!((look.regions, look.colour_balance, look.working_changes), (2, 1.0, 1));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Look {
    /// How many regions of one colour there are, counted until the colours come round. A
    /// region that goes on without end counts once.
    pub regions: u64,
    /// How evenly the colours share the knots: 1 where each of the band's colours shows
    /// equally often, 0 where only one shows. (Evenness after Pielou 1966: the Shannon
    /// entropy of the shares over its greatest value.)
    pub colour_balance: f64,
    /// How different touching knots are on average, in CIEDE2000; those of the same colour
    /// count as 0.
    pub contrast: f64,
    /// How often in one repeat the thread that works is another than in the knot before,
    /// the first knot of the next repeat counted as well.
    pub working_changes: u64,
}

/// Regions that have been joined, by the number of one of their knots.
struct Regions {
    /// For each knot one that is in the same region, itself where it stands for it.
    joined: Vec<u32>,
    count: u64,
}

impl Regions {
    fn stands_for(&mut self, knot: u32) -> u32 {
        let mut at = knot;
        while self.joined[at as usize] != at {
            let next = self.joined[at as usize];
            self.joined[at as usize] = self.joined[next as usize];
            at = self.joined[at as usize];
        }
        at
    }

    fn join(&mut self, one: u32, other: u32) {
        let [one, other] = [one, other].map(|knot| self.stands_for(knot));
        if one != other {
            self.joined[one as usize] = other;
            self.count -= 1;
        }
    }
}

impl Look {
    /// The look of a band; nothing where its colours come round only after more than
    /// [`MOST_KNOTS_SEEN`](super::MOST_KNOTS_SEEN) knots.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "counts up to a million")]
    pub fn of(band: &Band) -> Option<Self> {
        let round = Round::of(band)?;
        let colour = |knot: &ShownKnot| usize::from(round.colour(knot));
        let knots = &round.knots;
        let mut shares: BTreeMap<usize, u64> = round
            .colours
            .iter()
            .map(|index| (usize::from(*index), 0))
            .collect();
        for knot in knots {
            *shares.entry(colour(knot)).or_default() += 1;
        }
        let mut regions = Regions {
            joined: (0..).take(knots.len()).collect(),
            count: knots.len() as u64,
        };
        let mut touching: BTreeMap<(usize, usize), u64> = BTreeMap::new();
        round.each_with_those_before(band.column_count(), |number, before| {
            let here = colour(&knots[number as usize]);
            for before in before.into_iter().flatten() {
                let there = colour(&knots[before as usize]);
                if there == here {
                    regions.join(number, before);
                }
                let pair = (here.min(there), here.max(there));
                *touching.entry(pair).or_default() += 1;
            }
        });
        let value = |index: usize| -> Srgb { band.palette()[index].srgb };
        let touches: u64 = touching.values().sum();
        let differences: f64 = touching
            .iter()
            .map(|((one, other), count)| difference(value(*one), value(*other)) * *count as f64)
            .sum();
        Some(Self {
            regions: regions.count,
            colour_balance: evenness(&shares.into_values().collect::<Vec<_>>()),
            contrast: hundredths(differences / touches.max(1) as f64),
            working_changes: KnotChanges::of(band).of_thread as u64,
        })
    }
}

/// In which ways a knot and the three before it that it touches can be: its kind, and
/// which of the three show its colour.
const WAYS: usize = 4 * 8;

/// What a band is made of when it is looked at closely: how often each kind of knot lies
/// beside knots of its own colour, and beside others.
///
/// It is the same for all ways of tying a band and all rows at which it begins, and other
/// colours in the place of the same do not change it. Held in another way a band has another
/// texture.
#[derive(Clone, Debug, PartialEq)]
pub struct Texture {
    shares: [f32; WAYS],
}

impl Texture {
    /// The texture of a band; nothing where its colours come round only after more than
    /// [`MOST_KNOTS_SEEN`](super::MOST_KNOTS_SEEN) knots.
    #[must_use]
    #[allow(clippy::cast_precision_loss, reason = "counts up to a million")]
    pub fn of(band: &Band) -> Option<Self> {
        let round = Round::of(band)?;
        let mut counts = [0_u32; WAYS];
        round.each_with_those_before(band.column_count(), |number, before| {
            let knot = &round.knots[number as usize];
            let mut way = knot.kind as usize;
            for before in before {
                let shows = before.map(|at| round.colour(&round.knots[at as usize]));
                way = 2 * way + usize::from(shows == Some(round.colour(knot)));
            }
            counts[way] += 1;
        });
        let total = round.knots.len().max(1) as f32;
        Some(Self {
            shares: counts.map(|count| count as f32 / total),
        })
    }

    /// How different two textures are: the share of knots, from 0 to 1, that would have to be
    /// otherwise (the total variation distance).
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// use hitchwork_core::proof::Texture;
    /// # let band = |kind| Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 0, 1], repeat: vec![Row::run(kind, 1..4)?], repeats: 12,
    /// #     ..BandParts::default() });
    /// let [one, other] = [band(Kind::Forward)?, band(Kind::ForwardBackward)?];
    /// let [one, other] = [Texture::of(&one).expect("few"), Texture::of(&other).expect("few")];
    /// assert_eq!((one.distance(&one), one.distance(&other)), (0.0, 1.0));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn distance(&self, other: &Self) -> f64 {
        let both = self.shares.iter().zip(&other.shares);
        let differences: f32 = both.map(|(one, other)| (one - other).abs()).sum();
        hundredths(f64::from(differences) / 2.0)
    }
}

#[allow(clippy::cast_precision_loss, reason = "counts up to a million")]
fn evenness(counts: &[u64]) -> f64 {
    let total: u64 = counts.iter().sum();
    if counts.len() < 2 || total == 0 {
        return 0.0;
    }
    let share = |count: &u64| *count as f64 / total as f64;
    let entropy: f64 = counts
        .iter()
        .filter(|count| **count > 0)
        .map(|count| -share(count) * libm::log(share(count)))
        .sum();
    hundredths(entropy / libm::log(counts.len() as f64))
}

fn hundredths(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
