//! What to cut, and what to buy.

use serde::Serialize;

use super::pieces::{Pieces, hundredths, metres_at_least, millimetres, rest};
use super::{Habits, Shape, ThreadLength, folds, within};
use crate::band::Band;
use crate::colour::{Colour, Owned, Srgb, name_apart};
use crate::error::{Error, Problem};

/// Threads of one colour that are cut to one length.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Cut {
    /// The name of the colour.
    pub colour: String,
    /// The colour itself.
    pub srgb: Srgb,
    /// How long each piece is.
    pub cut_mm: f64,
    /// At a loop start, where the piece is folded: the length of its left half.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub fold_mm: Option<f64>,
    /// The threads of the band that come from these pieces; a folded piece makes two, its
    /// left half first.
    pub threads: Vec<u16>,
    /// How many pieces.
    pub pieces: usize,
}

/// All that is cut for one band, and the length of each thread.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CutList {
    /// The pieces, the longest first within a colour, colours as they first hang.
    pub cuts: Vec<Cut>,
    /// For each thread of the band what it takes, rounded up; for a folded piece that is
    /// its half.
    pub thread_mm: Vec<f64>,
    /// All pieces together.
    pub total_mm: f64,
}

impl CutList {
    /// The pieces of several bands together, band by band. No thread is one of all of them, so
    /// none has a length here.
    #[must_use]
    pub fn of_all<'a>(lists: impl IntoIterator<Item = &'a Self>) -> Self {
        let mut all = Self {
            cuts: Vec::new(),
            thread_mm: Vec::new(),
            total_mm: 0.0,
        };
        for list in lists {
            all.cuts.extend_from_slice(&list.cuts);
            all.total_mm += list.total_mm;
        }
        all
    }

    /// All pieces together in metres, to a centimetre.
    #[must_use]
    pub fn total_m(&self) -> f64 {
        (self.total_mm / 10.0).round() / 100.0
    }

    /// The longest piece in centimetres, to a millimetre. At a loop start that is a whole
    /// piece, of which two threads are made.
    #[must_use]
    pub fn longest_cm(&self) -> f64 {
        let longest = self.cuts.iter().map(|cut| cut.cut_mm).fold(0.0, f64::max);
        longest.round() / 10.0
    }
}

/// A length rounded up to whole cutting steps.
fn cut_up(mm: f64, step: f64) -> f64 {
    // A hair above a whole number of steps is that number, not one more.
    (mm / step - 1e-9).ceil() * step
}

/// What to cut for a band whose threads take so much.
pub(crate) fn cut_list(band: &Band, lengths: &[ThreadLength], habits: &Habits) -> CutList {
    let step = habits.cutting_step_mm;
    let hung = band.thread_values();
    let thread_mm: Vec<f64> = lengths
        .iter()
        .map(|length| cut_up(length.total(), step))
        .collect();
    let folded = match band.start().shape {
        Shape::Loop => folds(&hung).ok(),
        _ => None,
    };
    let of = |number: u16| thread_mm[usize::from(number) - 1];
    let pieces: Vec<(Vec<u16>, f64, Option<f64>)> = match folded {
        Some(folds) => folds
            .iter()
            .map(|fold| {
                let [left, right] = fold.halves;
                (vec![left, right], of(left) + of(right), Some(of(left)))
            })
            .collect(),
        None => (1..=band.thread_count())
            .map(|number| (vec![number], of(number), None))
            .collect(),
    };
    let mut turn: Vec<u16> = Vec::new();
    for colour in &hung {
        if !turn.contains(colour) {
            turn.push(*colour);
        }
    }
    let mut cuts: Vec<(usize, Cut)> = Vec::new();
    for (threads, cut_mm, fold_mm) in pieces {
        let index = hung[usize::from(threads[0]) - 1];
        let place = turn.iter().position(|colour| *colour == index).unwrap_or(0);
        let same = cuts
            .iter_mut()
            .find(|(other, cut)| *other == place && cut.cut_mm == cut_mm && cut.fold_mm == fold_mm);
        match same {
            Some((_, cut)) => {
                cut.threads.extend(threads);
                cut.pieces += 1;
            }
            None => {
                let Colour { name, srgb } = band.palette()[usize::from(index)].clone();
                let cut = Cut {
                    colour: name,
                    srgb,
                    cut_mm,
                    fold_mm,
                    threads,
                    pieces: 1,
                };
                cuts.push((place, cut));
            }
        }
    }
    cuts.sort_by(|(a, left), (b, right)| a.cmp(b).then(right.cut_mm.total_cmp(&left.cut_mm)));
    CutList {
        cuts: cuts.into_iter().map(|(_, cut)| cut).collect(),
        total_mm: thread_mm.iter().sum(),
        thread_mm,
    }
}

/// How thread is sold.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SkeinSize {
    /// The length of a skein or spool.
    pub length_mm: f64,
    /// What one costs, in whatever money.
    pub price: Option<f64>,
}

impl Default for SkeinSize {
    /// A skein of 8 m, the shorter of the two ordinary lengths of six-strand floss (8 m and
    /// 10 m, as general needlework texts have them).
    fn default() -> Self {
        Self {
            length_mm: 8_000.0,
            price: None,
        }
    }
}

/// How much of one colour to buy.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Purchase {
    /// The name of the colour, which no other purchase has.
    pub colour: String,
    /// The colour itself.
    pub srgb: Srgb,
    /// How many pieces are cut from it.
    pub pieces: usize,
    /// How many skeins or spools that takes, since pieces are not joined.
    pub skeins: usize,
}

/// What to buy for a class.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Shopping {
    /// For how many people.
    pub people: u32,
    /// Each colour of which something is to be bought, in the order of the cut list.
    pub purchases: Vec<Purchase>,
    /// All skeins together.
    pub skeins: usize,
    /// How long the thread on a skein is.
    pub skein_mm: f64,
    /// What they cost, if a price was given.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
    /// How much of the thread is cut from a stash instead, if there is one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub from_stash_mm: Option<f64>,
}

impl Shopping {
    /// How much comes from a stash, such as "13.2 m"; nothing where nothing does.
    #[must_use]
    pub fn from_stash(&self) -> Option<String> {
        let owned = self.from_stash_mm.filter(|mm| *mm > 0.0);
        owned.map(metres_at_least)
    }

    /// "1 person", "6 people".
    #[must_use]
    pub fn people_words(&self) -> String {
        match self.people {
            1 => "1 person".to_owned(),
            many => format!("{many} people"),
        }
    }

    /// "2 skeins of 8 m".
    #[must_use]
    pub fn skeins_words(&self, skeins: usize) -> String {
        let thing = if skeins == 1 { "skein" } else { "skeins" };
        format!("{skeins} {thing} of {} m", self.skein_mm / 1000.0)
    }
}

/// What to buy for this many people, each of whom ties one band.
///
/// Pieces are cut from the skeins the longest first, each from the first skein that still
/// has enough: not always the fewest skeins, but what hands do, and never more than a
/// quarter above the fewest (first fit decreasing; Johnson 1973: 11/9 of it, and a bit).
///
/// A colour is its value: what two bands call differently is bought as one where it is one,
/// and different colours of one name are bought apart, under a number each.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// use hitchwork_core::craft::{SkeinSize, shopping};
/// let skein = SkeinSize { length_mm: 8_000.0, ..SkeinSize::default() };
/// let class = shopping(Tied::of(band.clone()).cut_list(), 12, skein)?;
/// assert_eq!(class.purchases.len(), 2);
/// // A skein that is shorter than a piece.
/// let skein = SkeinSize { length_mm: 100.0, ..skein };
/// assert!(shopping(Tied::of(band).cut_list(), 12, skein).is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the number of people or the skein is absurd, or a piece is longer than a skein.
pub fn shopping(list: &CutList, people: u32, skein: SkeinSize) -> Result<Shopping, Error> {
    shopping_beside(list, people, skein, None)
}

/// The same where there is a stash: what can be cut from threads of just the same colour is,
/// as [`at_hand`](super::at_hand) cuts it, and only the rest is bought.
pub(crate) fn shopping_beside(
    list: &CutList,
    people: u32,
    skein: SkeinSize,
    stash: Option<&[Owned]>,
) -> Result<Shopping, Error> {
    within("a class", people.into(), 1.0, 1_000.0, " people")?;
    within(
        "a skein's length",
        skein.length_mm,
        100.0,
        100_000_000.0,
        " mm",
    )?;
    if let Some(price) = skein.price {
        within("a price", price, 0.0, 1_000_000.0, "")?;
    }
    let mut colours: Vec<(Colour, Pieces)> = Vec::new();
    for cut in &list.cuts {
        let known = colours.iter_mut();
        let of_colour = match known
            .map(|(colour, pieces)| (colour.srgb, pieces))
            .find(|(srgb, _)| *srgb == cut.srgb)
        {
            Some((_, pieces)) => pieces,
            None => {
                let colour = Colour::new(cut.colour.as_str(), cut.srgb);
                colours.push((colour, Pieces::default()));
                &mut colours.last_mut().expect("just pushed").1
            }
        };
        of_colour.add(cut.cut_mm, cut.pieces * people as usize);
    }
    let mut owned = 0;
    for (colour, pieces) in &mut colours {
        let of_it = stash.into_iter().flatten();
        let rests = of_it.filter(|thread| thread.srgb == colour.srgb).map(rest);
        let all = pieces.together();
        pieces.cut_from_stash(rests.collect());
        owned += all - pieces.together();
    }
    let (mut named, pieces): (Vec<Colour>, Vec<_>) = colours.into_iter().unzip();
    name_apart(&mut named);
    let skein_length = hundredths(skein.length_mm);
    let mut purchases = Vec::new();
    for (colour, pieces) in named.into_iter().zip(pieces) {
        let Some(longest) = pieces.longest() else {
            continue;
        };
        if longest > skein_length {
            return Err(Problem::Craft {
                message: format!(
                    "{} takes a piece of {:.0} cm, and a skein has {:.0} cm",
                    colour.name,
                    millimetres(longest) / 10.0,
                    skein.length_mm / 10.0
                ),
                help: "take longer skeins, or a shorter band".to_owned(),
            }
            .into());
        }
        purchases.push(Purchase {
            colour: colour.name,
            srgb: colour.srgb,
            pieces: pieces.count(),
            skeins: pieces.skeins(skein_length),
        });
    }
    let skeins = purchases.iter().map(|purchase| purchase.skeins).sum();
    #[allow(clippy::cast_precision_loss, reason = "numbers of skeins")]
    let cost = skein.price.map(|price| price * skeins as f64);
    Ok(Shopping {
        people,
        purchases,
        skeins,
        skein_mm: skein.length_mm,
        cost,
        from_stash_mm: stash.map(|_| millimetres(owned)),
    })
}
