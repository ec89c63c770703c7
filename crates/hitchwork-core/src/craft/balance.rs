//! One rule over a range of settings: what each of its bands would be.

use std::fmt;
use std::str::FromStr;

use serde::Serialize;

use super::{Habits, time_words};
use crate::band::Band;
use crate::colour::{self, Srgb};
use crate::error::{Error, Problem, millimetres};
use crate::tied::Tied;

/// Something that is measured about a band.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Measure {
    /// Width in millimetres.
    Width,
    /// By how many millimetres a repeat makes the band longer.
    Repeat,
    /// Knotted length in millimetres.
    Length,
    /// How often the repeat is tied.
    Repeats,
    /// Number of knots.
    Knots,
    /// All thread for one follower, in metres.
    Thread,
    /// The longest piece to cut, in centimetres.
    Longest,
    /// Time in minutes.
    Minutes,
    /// Difficulty, from 0 to 10.
    Difficulty,
    /// The largest CIEDE2000 difference between neighbours in the gradient that drifts;
    /// smaller is smoother.
    Gradient,
}

impl Measure {
    /// All measures, in the order of a table.
    pub const ALL: [Self; 10] = [
        Self::Width,
        Self::Repeat,
        Self::Length,
        Self::Repeats,
        Self::Knots,
        Self::Thread,
        Self::Longest,
        Self::Minutes,
        Self::Difficulty,
        Self::Gradient,
    ];

    /// The name by which limits and tables call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Width => "width_mm",
            Self::Repeat => "repeat_mm",
            Self::Length => "length_mm",
            Self::Repeats => "repeats",
            Self::Knots => "knots",
            Self::Thread => "thread_m",
            Self::Longest => "longest_cm",
            Self::Minutes => "minutes",
            Self::Difficulty => "difficulty",
            Self::Gradient => "gradient_step",
        }
    }

    /// What it is, for people: "width in mm".
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Width => "width in mm",
            Self::Repeat => "length of a repeat in mm",
            Self::Length => "knotted length in mm",
            Self::Repeats => "repeats",
            Self::Knots => "knots",
            Self::Thread => "thread for one follower in m",
            Self::Longest => "longest piece in cm",
            Self::Minutes => "time in minutes",
            Self::Difficulty => "difficulty, 0 to 10",
            Self::Gradient => "step of the gradient in CIEDE2000",
        }
    }

    /// Its value; none if the band has no such thing.
    #[must_use]
    #[allow(
        clippy::cast_precision_loss,
        reason = "MAX_KNOTS is far below what a float counts exactly"
    )]
    pub fn of(self, measures: &Measures) -> Option<f64> {
        match self {
            Self::Width => Some(measures.width_mm),
            Self::Repeat => Some(measures.repeat_mm),
            Self::Length => Some(measures.length_mm),
            Self::Repeats => Some(f64::from(measures.repeats)),
            Self::Knots => Some(measures.knots as f64),
            Self::Thread => Some(measures.thread_m),
            Self::Longest => Some(measures.longest_cm),
            Self::Minutes => Some(measures.minutes),
            Self::Difficulty => Some(measures.difficulty),
            Self::Gradient => measures.gradient_step,
        }
    }
}

impl FromStr for Measure {
    type Err = Error;

    fn from_str(name: &str) -> Result<Self, Error> {
        let found = Self::ALL.into_iter().find(|measure| measure.name() == name);
        found.ok_or_else(|| {
            let names: Vec<&str> = Self::ALL.iter().map(|measure| measure.name()).collect();
            Problem::Craft {
                message: format!(
                    "there is no measure called \"{}\"",
                    crate::error::shortened(name)
                ),
                help: format!("the measures are {}", names.join(", ")),
            }
            .into()
        })
    }
}

/// What a band measures.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Measures {
    /// From edge to edge.
    pub width_mm: f64,
    /// By how much a repeat makes it longer.
    pub repeat_mm: f64,
    /// Knotted length, without ends and ties.
    pub length_mm: f64,
    /// How often the repeat is tied.
    pub repeats: u32,
    /// How many knots it has.
    pub knots: u64,
    /// All thread for one follower, as it is cut.
    pub thread_m: f64,
    /// The longest piece to cut.
    pub longest_cm: f64,
    /// How long it takes.
    pub minutes: f64,
    /// How hard it is, from 0 to 10.
    pub difficulty: f64,
    /// The largest CIEDE2000 difference between neighbouring colours of its drifting
    /// gradient; none if it does not drift.
    pub gradient_step: Option<f64>,
}

impl Measures {
    /// What this band measures, by the maker's habits.
    #[must_use]
    pub fn of(tied: &Tied) -> Self {
        let (band, report) = (tied.band(), tied.report());
        Self {
            width_mm: report.size_mm.width,
            repeat_mm: report.size_mm.repeat,
            length_mm: report.size_mm.length,
            repeats: report.repeats,
            knots: report.knots,
            thread_m: report.cut_list.total_m(),
            longest_cm: report.cut_list.longest_cm(),
            minutes: report.minutes,
            difficulty: report.difficulty.points,
            gradient_step: report.drift.and_then(|_| gradient_step(band)),
        }
    }
}

/// The largest difference between neighbours of the gradient: the colours in palette
/// order, the last followed by the first.
fn gradient_step(band: &Band) -> Option<f64> {
    let used = band.used_colours();
    if used.len() < 3 {
        return None;
    }
    let colours: Vec<Srgb> = used
        .iter()
        .map(|index| band.palette()[usize::from(*index)].srgb)
        .collect();
    let next = colours.iter().cycle().skip(1);
    let widest = colours
        .iter()
        .zip(next)
        .map(|(one, other)| colour::difference(*one, *other))
        .fold(0.0, f64::max);
    Some((widest * 10.0).round() / 10.0)
}

/// A bound that a member shall keep: written `minutes=180`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// What is bounded.
    pub measure: Measure,
    /// The least it may be, if that is bounded.
    pub at_least: Option<f64>,
    /// The most it may be, if that is bounded.
    pub at_most: Option<f64>,
}

impl Limit {
    /// Reads `minutes=180` as a bound from above.
    ///
    /// # Errors
    /// When there is no such measure, or no number behind it.
    pub fn at_most(text: &str) -> Result<Self, Error> {
        let (measure, value) = bound(text)?;
        Ok(Self {
            measure,
            at_least: None,
            at_most: Some(value),
        })
    }

    /// Reads `width_mm=10` as a bound from below.
    ///
    /// # Errors
    /// When there is no such measure, or no number behind it.
    pub fn at_least(text: &str) -> Result<Self, Error> {
        let (measure, value) = bound(text)?;
        Ok(Self {
            measure,
            at_least: Some(value),
            at_most: None,
        })
    }

    /// Whether these measures keep to it; what a band does not have keeps to no bound.
    #[must_use]
    pub fn keeps(&self, measures: &Measures) -> bool {
        self.measure.of(measures).is_some_and(|value| {
            self.at_least.is_none_or(|least| value >= least)
                && self.at_most.is_none_or(|most| value <= most)
        })
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.measure.name();
        match (self.at_least, self.at_most) {
            (Some(least), Some(most)) => write!(f, "{name} from {least} to {most}"),
            (Some(least), None) => write!(f, "{name} at least {least}"),
            (None, Some(most)) => write!(f, "{name} at most {most}"),
            (None, None) => write!(f, "{name} as it comes"),
        }
    }
}

fn bound(text: &str) -> Result<(Measure, f64), Error> {
    let unreadable = || {
        Error::from(Problem::Craft {
            message: format!("\"{}\" is no limit", crate::error::shortened(text)),
            help: "write it as MEASURE=NUMBER, for example minutes=180 or width_mm=10".to_owned(),
        })
    };
    let (name, value) = text.split_once('=').ok_or_else(unreadable)?;
    let measure = name.trim().parse()?;
    let value: f64 = value.trim().parse().map_err(|_| unreadable())?;
    if value.is_finite() {
        Ok((measure, value))
    } else {
        Err(Problem::Craft {
            message: format!(
                "a limit is a finite number, and cannot be {}",
                millimetres(value)
            ),
            help: "leave the limit out if there is none".to_owned(),
        }
        .into())
    }
}

/// What became of one setting.
#[derive(Clone, Debug)]
pub enum Outcome<E> {
    /// A band, with what it measures and the limits that it misses.
    Made {
        /// What it measures.
        measures: Measures,
        /// The limits that it does not keep to.
        misses: Vec<Limit>,
    },
    /// No band: why.
    Refused(E),
}

impl<E> Outcome<E> {
    /// The measures, if there is a band.
    #[must_use]
    pub const fn measures(&self) -> Option<&Measures> {
        match self {
            Self::Made { measures, .. } => Some(measures),
            Self::Refused(_) => None,
        }
    }

    /// Whether there is a band that keeps to all limits.
    #[must_use]
    pub const fn feasible(&self) -> bool {
        matches!(self, Self::Made { misses, .. } if misses.is_empty())
    }
}

/// One setting and what became of it.
#[derive(Clone, Debug)]
pub struct Member<S, E> {
    /// The setting.
    pub setting: S,
    /// What became of it.
    pub outcome: Outcome<E>,
}

/// Which member to take, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Recommendation {
    /// Its place among the members, from 0.
    #[serde(skip)]
    pub index: usize,
    /// The reason, as a sentence.
    pub why: String,
}

/// All members of a family, side by side.
#[derive(Clone, Debug)]
pub struct Balance<S, E> {
    /// One for each setting, in their order.
    pub members: Vec<Member<S, E>>,
    /// Which one to take, if any keeps to the limits.
    pub recommendation: Option<Recommendation>,
}

/// Makes a band for every setting, measures it, and says which to take.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour, knot::Kind, row::Row};
/// use hitchwork_core::craft::{Habits, Limit, balance};
/// let slant = |threads: u16| -> Result<Band, hitchwork_core::Error> {
///     let tide = colour::palette("spring tide").expect("built in");
///     Band::new(BandParts {
///         palette: colour::cyclic_gradient(&tide, threads.into())?,
///         threads: (0..threads).collect(),
///         repeat: vec![Row::run(Kind::Forward, 1..threads)?],
///         repeats: 1,
///         ..BandParts::default()
///     })?.at_least_mm(150.0)
/// };
/// let limits = [Limit::at_most("minutes=150")?];
/// let balance = balance(4..=16, |threads| slant(*threads), &Habits::default(), &limits);
/// let minutes: Vec<f64> = balance.members.iter().filter_map(|member| Some(member.outcome.measures()?.minutes)).collect();
/// assert!(minutes.is_sorted(), "more threads take longer");
/// let taken = balance.recommendation.expect("one of them is quick enough");
/// assert!(minutes[taken.index] <= 150.0);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
pub fn balance<S, E>(
    settings: impl IntoIterator<Item = S>,
    mut make: impl FnMut(&S) -> Result<Band, E>,
    habits: &Habits,
    limits: &[Limit],
) -> Balance<S, E> {
    let member = |setting: S| {
        let outcome = match make(&setting) {
            Ok(band) => {
                let measures = Measures::of(&Tied::by(band, *habits));
                let misses = limits
                    .iter()
                    .filter(|limit| !limit.keeps(&measures))
                    .copied()
                    .collect();
                Outcome::Made { measures, misses }
            }
            Err(error) => Outcome::Refused(error),
        };
        Member { setting, outcome }
    };
    let members: Vec<Member<S, E>> = settings.into_iter().map(member).collect();
    let feasible: Vec<(usize, &Measures)> = members
        .iter()
        .enumerate()
        .filter(|(_, member)| member.outcome.feasible())
        .filter_map(|(index, member)| Some((index, member.outcome.measures()?)))
        .collect();
    let recommendation = recommend(&feasible, !limits.is_empty());
    Balance {
        members,
        recommendation,
    }
}

/// Which of these members to take.
///
/// Makers weigh what shows against the evening it costs. What shows is the step of the
/// gradient, or the width where nothing drifts. Where limits were set, the maker has said
/// what it may cost, so the best look within them is taken, the quickest of equals.
/// Without limits it is the bend of the curve: looks and minutes each as a share of what
/// they range over, the member is taken whose sum of both is least.
#[must_use]
pub fn recommend(feasible: &[(usize, &Measures)], limited: bool) -> Option<Recommendation> {
    let &(only, first) = feasible.first()?;
    if feasible.len() == 1 {
        return Some(Recommendation {
            index: only,
            why: if limited {
                "it is the only one within the limits".to_owned()
            } else {
                "there is no other".to_owned()
            },
        });
    }
    let drifts = feasible
        .iter()
        .all(|(_, measures)| measures.gradient_step.is_some());
    // What is lost in looks: a rough gradient, or a narrow band.
    let lost = |measures: &Measures| match measures.gradient_step {
        Some(step) if drifts => step,
        _ => -measures.width_mm,
    };
    let look = |measures: &Measures| match measures.gradient_step {
        Some(step) if drifts => format!("its gradient goes in steps of {step:.1}"),
        _ => format!("it is {:.1} mm wide", measures.width_mm),
    };
    let minutes = |measures: &Measures| measures.minutes;
    let best = if limited {
        feasible.iter().min_by(|(_, a), (_, b)| {
            lost(a)
                .total_cmp(&lost(b))
                .then(minutes(a).total_cmp(&minutes(b)))
        })
    } else {
        let share = |of: &dyn Fn(&Measures) -> f64, measures: &Measures| {
            let values = feasible.iter().map(|(_, measures)| of(measures));
            let (least, most) = values.fold((f64::MAX, f64::MIN), |(least, most), value| {
                (least.min(value), most.max(value))
            });
            (of(measures) - least) / (most - least).max(1e-9)
        };
        let cost = |measures: &Measures| share(&lost, measures) + share(&minutes, measures);
        feasible
            .iter()
            .min_by(|(_, a), (_, b)| cost(a).total_cmp(&cost(b)))
    };
    let &(index, measures) = best.unwrap_or(&(only, first));
    let (what, how) = (look(measures), time_words(measures.minutes));
    let why = match (limited, drifts) {
        (true, true) => format!(
            "of all within the limits its colours pass most smoothly into each other: {what}, in {how}"
        ),
        (true, false) => format!("of all within the limits it is the widest: {what}, in {how}"),
        (false, true) => format!(
            "here the curve bends: {what}, in {how}; fewer threads are much rougher for little time saved, more take much longer for little gain"
        ),
        (false, false) => format!(
            "here width and time are in balance: {what}, in {how}; narrower saves little, wider costs much"
        ),
    };
    Some(Recommendation { index, why })
}
