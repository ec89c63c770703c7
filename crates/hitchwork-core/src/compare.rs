//! One rule over a range of settings: what each of its bands would be.

use std::collections::BTreeMap;
use std::fmt;

use serde::Serialize;

use crate::band::Band;
use crate::craft::{Habits, time_words};
use crate::error::{Error, Problem, millimetres};
use crate::measures::{MEASURES, Measure, MeasureValue};
use crate::near::did_you_mean;
use crate::tied::Tied;

/// The measures by which members are compared, in the order of a table.
pub const COMPARED: &[&str] = &[
    "width_mm",
    "repeat_mm",
    "length_mm",
    "repeats",
    "knots",
    "thread_m",
    "longest_cm",
    "minutes",
    "difficulty",
    "gradient_step",
];

/// What a band measures: [what is compared](COMPARED) and what is bounded, by the names of the
/// measures; what a band does not have is left out.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Measured(BTreeMap<&'static str, MeasureValue>);

impl Measured {
    /// What is asked of a band, beyond what is compared of every one.
    fn of(tied: &Tied, limits: &[Limit]) -> Self {
        let bounded = limits.iter().map(|limit| limit.measure);
        let measures = COMPARED.iter().filter_map(|name| Measure::named(name));
        let known = measures
            .chain(bounded)
            .filter_map(|measure| Some((measure.name, measure.known(tied)?)));
        Self(known.collect())
    }

    /// A measure as it is, if the band has it and it was asked for.
    #[must_use]
    pub fn get(&self, name: &str) -> Option<MeasureValue> {
        self.0.get(name).copied()
    }

    /// A measure as a number.
    #[must_use]
    pub fn number(&self, name: &str) -> Option<f64> {
        self.get(name)?.number()
    }
}

/// A bound that a member must keep: written `minutes=180`.
#[derive(Clone, Copy, Debug)]
pub struct Limit {
    /// What is bounded: a measure that is a number.
    pub measure: &'static Measure,
    /// The least it may be, if that is bounded.
    pub at_least: Option<f64>,
    /// The most it may be, if that is bounded.
    pub at_most: Option<f64>,
}

impl Limit {
    /// Reads `minutes=180` as a bound from above.
    ///
    /// ```
    /// use hitchwork_core::compare::Limit;
    /// let limit = Limit::at_most("minutes=180")?;
    /// assert_eq!((limit.measure.name, limit.at_most), ("minutes", Some(180.0)));
    /// assert!(Limit::at_most("hours=3").is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
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
    /// ```
    /// use hitchwork_core::compare::Limit;
    /// let limit = Limit::at_least("width_mm=10")?;
    /// assert_eq!((limit.at_least, limit.at_most), (Some(10.0), None));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
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
    pub fn keeps(&self, measured: &Measured) -> bool {
        measured.number(self.measure.name).is_some_and(|value| {
            self.at_least.is_none_or(|least| value >= least)
                && self.at_most.is_none_or(|most| value <= most)
        })
    }
}

impl fmt::Display for Limit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name = self.measure.name;
        match (self.at_least, self.at_most) {
            (Some(least), Some(most)) => write!(f, "{name} from {least} to {most}"),
            (Some(least), None) => write!(f, "{name} at least {least}"),
            (None, Some(most)) => write!(f, "{name} at most {most}"),
            (None, None) => write!(f, "any {name}"),
        }
    }
}

/// The measure of that name, if it is a number.
fn numeric(name: &str) -> Result<&'static Measure, Error> {
    let numbers = || MEASURES.iter().filter(|measure| measure.is_number());
    let found = numbers().find(|measure| measure.name == name);
    found.ok_or_else(|| {
        let names: Vec<&str> = numbers().map(|measure| measure.name).collect();
        Problem::Craft {
            message: match Measure::named(name) {
                Some(_) => format!("{name} is not a number, so it cannot be limited"),
                None => format!(
                    "there is no measure called \"{}\"",
                    crate::error::shortened(name)
                ),
            },
            help: format!(
                "{}the measures that are numbers are {}",
                did_you_mean(name, names.iter().copied()),
                names.join(", ")
            ),
        }
        .into()
    })
}

fn bound(text: &str) -> Result<(&'static Measure, f64), Error> {
    let unreadable = || {
        Error::from(Problem::Craft {
            message: format!("\"{}\" is not a limit", crate::error::shortened(text)),
            help: "write it as MEASURE=NUMBER, for example minutes=180 or width_mm=10".to_owned(),
        })
    };
    let (name, value) = text.split_once('=').ok_or_else(unreadable)?;
    let measure = numeric(name.trim())?;
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
pub enum SettingOutcome<E> {
    /// A band, with what it measures and the limits that it misses.
    Made {
        /// What it measures.
        measured: Measured,
        /// The limits that it does not keep to.
        misses: Vec<Limit>,
    },
    /// No band: why.
    Refused(E),
}

impl<E> SettingOutcome<E> {
    /// What it measures, if there is a band.
    #[must_use]
    pub const fn measured(&self) -> Option<&Measured> {
        match self {
            Self::Made { measured, .. } => Some(measured),
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
pub struct FamilyMember<S, E> {
    /// The setting.
    pub setting: S,
    /// What became of it.
    pub outcome: SettingOutcome<E>,
}

/// Which member to take, and why.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Recommendation {
    /// Its place among the members, from 0.
    #[serde(skip)]
    pub index: usize,
    /// The reason, as a sentence.
    pub why: String,
}

/// All members of a family, side by side.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Comparison<S, E> {
    /// One for each setting, in their order.
    pub members: Vec<FamilyMember<S, E>>,
    /// Which one to take, if any keeps to the limits.
    pub recommendation: Option<Recommendation>,
}

/// Makes a band for every setting, measures it, and says which to take.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour, knot::Kind, row::Row};
/// use hitchwork_core::{compare::{Limit, compare}, craft::Habits};
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
/// let compared = compare(4..=16, |threads| slant(*threads), &Habits::default(), &limits);
/// let minutes: Vec<f64> = compared.members.iter().filter_map(|member| member.outcome.measured()?.number("minutes")).collect();
/// assert!(minutes.is_sorted(), "more threads take longer");
/// let taken = compared.recommendation.expect("one of them is quick enough");
/// assert!(minutes[taken.index] <= 150.0);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
pub fn compare<S, E>(
    settings: impl IntoIterator<Item = S>,
    mut make: impl FnMut(&S) -> Result<Band, E>,
    habits: &Habits,
    limits: &[Limit],
) -> Comparison<S, E> {
    let member = |setting: S| {
        let outcome = match make(&setting) {
            Ok(band) => {
                let measured = Measured::of(&Tied::by(band, *habits), limits);
                let misses = limits
                    .iter()
                    .filter(|limit| !limit.keeps(&measured))
                    .copied()
                    .collect();
                SettingOutcome::Made { measured, misses }
            }
            Err(error) => SettingOutcome::Refused(error),
        };
        FamilyMember { setting, outcome }
    };
    let members: Vec<FamilyMember<S, E>> = settings.into_iter().map(member).collect();
    let feasible: Vec<(usize, &Measured)> = members
        .iter()
        .enumerate()
        .filter(|(_, member)| member.outcome.feasible())
        .filter_map(|(index, member)| Some((index, member.outcome.measured()?)))
        .collect();
    let recommendation = recommend(&feasible, !limits.is_empty());
    Comparison {
        members,
        recommendation,
    }
}

/// Which of these members to take.
///
/// Makers weigh what shows against the evening it costs. What shows is the step of the
/// gradient, or the width where nothing drifts. Where limits were set, the maker has said
/// what it may cost, so the best look within them is taken, the quickest of equals.
/// Without limits it is the best trade: looks and minutes each as a share of what
/// they range over, the member is taken whose sum of both is least.
#[must_use]
pub fn recommend(feasible: &[(usize, &Measured)], limited: bool) -> Option<Recommendation> {
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
        .all(|(_, measured)| measured.number("gradient_step").is_some());
    // What is lost in looks: a rough gradient, or a narrow band.
    let width = |measured: &Measured| measured.number("width_mm").unwrap_or(0.0);
    let lost = |measured: &Measured| match measured.number("gradient_step") {
        Some(step) if drifts => step,
        _ => -width(measured),
    };
    let look = |measured: &Measured| match measured.number("gradient_step") {
        Some(step) if drifts => format!("its gradient goes in steps of {step:.1}"),
        _ => format!("it is {:.1} mm wide", width(measured)),
    };
    let minutes = |measured: &Measured| measured.number("minutes").unwrap_or(0.0);
    let best = if limited {
        feasible.iter().min_by(|(_, a), (_, b)| {
            lost(a)
                .total_cmp(&lost(b))
                .then(minutes(a).total_cmp(&minutes(b)))
        })
    } else {
        let share = |of: &dyn Fn(&Measured) -> f64, measured: &Measured| {
            let values = feasible.iter().map(|(_, measures)| of(measures));
            let (least, most) = values.fold((f64::MAX, f64::MIN), |(least, most), value| {
                (least.min(value), most.max(value))
            });
            (of(measured) - least) / (most - least).max(1e-9)
        };
        let cost = |measured: &Measured| share(&lost, measured) + share(&minutes, measured);
        feasible
            .iter()
            .min_by(|(_, a), (_, b)| cost(a).total_cmp(&cost(b)))
    };
    let &(index, measured) = best.unwrap_or(&(only, first));
    let (what, how) = (look(measured), time_words(minutes(measured)));
    let why = match (limited, drifts) {
        (true, true) => format!(
            "of all within the limits its colours pass most smoothly into each other ({what}, in {how})"
        ),
        (true, false) => format!("of all within the limits it is the widest ({what}, in {how})"),
        (false, true) => format!(
            "the best trade-off between looks and time ({what}, in {how}); fewer threads are much rougher for little time saved, more take much longer for little gain"
        ),
        (false, false) => format!(
            "the best trade-off between width and time ({what}, in {how}); narrower saves little, wider costs much"
        ),
    };
    Some(Recommendation { index, why })
}
