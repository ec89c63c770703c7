//! Whether the threads that one owns are enough for a band.

use serde::Serialize;

use super::CutList;
use super::pieces::{Pieces, metres, metres_at_least, millimetres, rest};
use crate::colour::{Colour, Owned, Srgb, difference};

/// What a stash has of one colour of a band.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct AtHand {
    /// The name of the colour in the band.
    pub colour: String,
    /// The colour itself.
    pub srgb: Srgb,
    /// How much all pieces of it take together.
    pub needs_mm: f64,
    /// What there is.
    #[serde(flatten)]
    pub holds: Holds,
}

/// Whether a colour is owned, and enough of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "holds", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Holds {
    /// Every piece can be cut from the threads of this colour.
    Enough {
        /// The threads of just this colour.
        threads: Vec<Owned>,
        /// How much of them is left together; `None` where that is not known of all.
        left_mm: Option<f64>,
    },
    /// There is some, and not enough.
    Short {
        /// The threads of just this colour.
        threads: Vec<Owned>,
        /// How much of them is left together.
        left_mm: f64,
        /// How much is missing: of the whole length; or, where only the pieces do not come
        /// out of the rests, the pieces that remain to be cut.
        by_mm: f64,
    },
    /// No thread of this colour is owned.
    Missing {
        /// The owned thread that comes nearest, of those that are not used up.
        nearest: Option<Owned>,
        /// How far it is from the colour by CIEDE2000.
        difference: Option<f64>,
    },
}

/// What a stash has of each colour of a cut list, for this many bands.
///
/// A colour is its value, whatever it is called here and there. Threads of one value under
/// several codes are all of that colour, and each piece is cut from one of them.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb, Stash}, knot::Kind, row::Row};
/// use hitchwork_core::craft::{Holds, at_hand};
/// use hitchwork_core::tied::Tied;
/// # let band = Band::new(BandParts {
/// #     palette: vec![Colour::new("buoy red", Srgb::new(200, 30, 30)), Colour::new("foam", Srgb::new(240, 244, 240))],
/// #     threads: vec![0, 1, 0], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 90,
/// #     ..BandParts::default() })?;
/// let stash = Stash::read(b"name,colour,code,left\nsignal,#c81e1e,R4,40\nsail,#f0f4f1,W1,8\n")?;
/// let there = at_hand(Tied::of(band).cut_list(), stash.threads(), 1);
/// assert!(matches!(there[0].holds, Holds::Enough { .. }));
/// assert!(there[1].words().starts_with("foam (#f0f4f0): not owned"));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[must_use]
pub fn at_hand(list: &CutList, stash: &[Owned], bands: u32) -> Vec<AtHand> {
    let mut colours: Vec<Colour> = Vec::new();
    for cut in &list.cuts {
        if colours.iter().all(|known| known.srgb != cut.srgb) {
            colours.push(Colour::new(cut.colour.as_str(), cut.srgb));
        }
    }
    let one = |colour: Colour| {
        let mut pieces = Pieces::default();
        for cut in list.cuts.iter().filter(|cut| cut.srgb == colour.srgb) {
            pieces.add(cut.cut_mm, cut.pieces * bands as usize);
        }
        let of_it = stash.iter().filter(|owned| owned.srgb == colour.srgb);
        let threads: Vec<Owned> = of_it.cloned().collect();
        AtHand {
            needs_mm: millimetres(pieces.together()),
            holds: match threads.is_empty() {
                true => nearest(colour.srgb, stash),
                false => held(threads, pieces),
            },
            colour: colour.name,
            srgb: colour.srgb,
        }
    };
    colours.into_iter().map(one).collect()
}

fn nearest(colour: Srgb, stash: &[Owned]) -> Holds {
    let left = |owned: &&Owned| owned.left_m.is_none_or(|metres| metres > 0.0);
    let apart = |owned: &Owned| difference(colour, owned.srgb);
    let nearest = stash
        .iter()
        .filter(left)
        .min_by(|a, b| apart(a).total_cmp(&apart(b)));
    Holds::Missing {
        nearest: nearest.cloned(),
        difference: nearest.map(apart),
    }
}

/// Whether the pieces can be cut from these threads.
fn held(threads: Vec<Owned>, mut pieces: Pieces) -> Holds {
    let needs = millimetres(pieces.together());
    let left = threads
        .iter()
        .map(|owned| owned.left_m.map_or(f64::INFINITY, |metres| metres * 1000.0))
        .sum::<f64>();
    pieces.cut_from_stash(threads.iter().map(rest).collect());
    let uncut = millimetres(pieces.together());
    if uncut == 0.0 {
        return Holds::Enough {
            threads,
            left_mm: left.is_finite().then_some(left),
        };
    }
    Holds::Short {
        threads,
        left_mm: left,
        by_mm: match needs > left {
            true => needs - left,
            false => uncut,
        },
    }
}

impl AtHand {
    /// "foam (#f0f4f0): owned and enough; 2.8 m needed, 8.0 m left of sail (W1)".
    #[must_use]
    pub fn words(&self) -> String {
        let colour = format!("{} ({})", self.colour, self.srgb);
        let needs = metres_at_least(self.needs_mm);
        match &self.holds {
            Holds::Enough { threads, left_mm } => {
                let threads = named(threads);
                match left_mm {
                    Some(left) => format!(
                        "{colour}: owned and enough; {needs} needed from {threads}, {} left",
                        metres(*left)
                    ),
                    None => format!(
                        "{colour}: owned; {needs} needed from {threads}, of which the stash does not say how much is left"
                    ),
                }
            }
            Holds::Short {
                threads,
                left_mm,
                by_mm,
            } => format!(
                "{colour}: owned, short by {}; {needs} needed from {}, {} left",
                metres_at_least(*by_mm),
                named(threads),
                metres(*left_mm)
            ),
            Holds::Missing {
                nearest,
                difference,
            } => match nearest.as_ref().zip(*difference) {
                Some((owned, apart)) => format!(
                    "{colour}: not owned; {needs} needed, nearest is {}, {}",
                    named(std::slice::from_ref(owned)),
                    far(apart)
                ),
                None => {
                    format!("{colour}: not owned; {needs} needed, and nothing is left in the stash")
                }
            },
        }
    }
}

/// "sail (W1) and lagoon".
fn named(threads: &[Owned]) -> String {
    let names: Vec<String> = threads
        .iter()
        .map(|owned| match &owned.code {
            Some(code) => format!("{} ({code})", owned.name),
            None => owned.name.clone(),
        })
        .collect();
    names.join(" and ")
}

/// A difference by CIEDE2000 with what it means: about 1 is just seen, and 10 has another
/// name (the scale that the stash commands explain too).
fn far(apart: f64) -> String {
    let words = match apart {
        apart if apart < 1.0 => "which nobody tells apart from it",
        apart if apart < 3.0 => "told apart only side by side",
        apart if apart < 10.0 => "a different shade",
        _ => "another colour",
    };
    format!("{apart:.1} away: {words}")
}
