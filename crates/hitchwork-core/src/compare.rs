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
    /// Which one to take, if any keeps to the limits and the figures say which.
    pub recommendation: Option<Recommendation>,
    /// Why the maker has to choose, where several keep to the limits and the figures do not say
    /// which to take.
    pub undecided: Option<String>,
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
    let candidates: Vec<Weighed> = feasible
        .iter()
        .map(|(index, measured)| Weighed::new(*index, measured, &feasible))
        .collect();
    let (recommendation, undecided) = match recommend(&candidates, !limits.is_empty()) {
        Advice::Take(recommendation) => (Some(recommendation), None),
        Advice::Choose(why) => (None, Some(why)),
        Advice::Nothing => (None, None),
    };
    Comparison {
        members,
        recommendation,
        undecided,
    }
}

/// A member that keeps to the limits, as a maker weighs it: what shows against the evening
/// that it costs. What shows is the step of the gradient, or the width where nothing drifts.
#[derive(Clone, Copy, Debug)]
struct Weighed {
    index: usize,
    minutes: f64,
    look: WeighedLook,
}

#[derive(Clone, Copy, Debug)]
enum WeighedLook {
    /// The largest step of its gradient.
    Step(f64),
    /// Its width in millimetres.
    Width(f64),
}

impl Weighed {
    fn new(index: usize, measured: &Measured, all: &[(usize, &Measured)]) -> Self {
        let step = |measured: &Measured| measured.number("gradient_step");
        let all_drift = all.iter().all(|(_, measured)| step(measured).is_some());
        let width = || measured.number("width_mm").unwrap_or(0.0);
        let look = match step(measured).filter(|_| all_drift) {
            Some(step) => WeighedLook::Step(step),
            None => WeighedLook::Width(width()),
        };
        Self {
            index,
            minutes: measured.number("minutes").unwrap_or(0.0),
            look,
        }
    }

    /// What is lost in looks: a rough gradient, or a narrow band.
    fn lost(&self) -> f64 {
        match self.look {
            WeighedLook::Step(step) => step,
            WeighedLook::Width(width) => -width,
        }
    }

    /// "steps of 16.0", "12.5 mm".
    fn look_words(&self) -> String {
        match self.look {
            WeighedLook::Step(step) => format!("steps of {step:.1}"),
            WeighedLook::Width(width) => format!("{width:.1} mm"),
        }
    }

    /// "its gradient goes in steps of 16.0, in 3 h".
    fn words(&self) -> String {
        let look = self.look_words();
        let time = time_words(self.minutes);
        match self.look {
            WeighedLook::Step(_) => format!("its gradient goes in {look}, in {time}"),
            WeighedLook::Width(_) => format!("it is {look} wide, in {time}"),
        }
    }

    /// How much better each minute more makes another that takes longer.
    fn gain_per_minute(&self, longer: &Self) -> f64 {
        (self.lost() - longer.lost()) / (longer.minutes - self.minutes)
    }
}

/// What can be advised.
enum Advice {
    Take(Recommendation),
    /// The maker has to choose, since the figures do not; a sentence says why.
    Choose(String),
    /// There is nothing to take.
    Nothing,
}

/// A curve bends where each minute gains less than half of what it gained before (our own
/// judgement; along a gradient that becomes smoother thread by thread, or a band that becomes
/// wider, it gains nearly the same from one thread to the next).
const BEND: f64 = 2.0;

/// Which of these members to take.
///
/// Where limits were set, the maker has said what it may cost, so the best look within them is
/// taken, the quickest of equals. Without limits one is taken only where the figures say so:
/// it is better in one thing and in none worse than all others, or the curve of looks over
/// time bends there, whatever the ends of the range.
fn recommend(candidates: &[Weighed], limited: bool) -> Advice {
    let take = |candidate: &Weighed, why: String| {
        Advice::Take(Recommendation {
            index: candidate.index,
            why,
        })
    };
    let Some(first) = candidates.first() else {
        return Advice::Nothing;
    };
    if candidates.len() == 1 {
        let why = match limited {
            true => "it is the only one within the limits",
            false => "there is no other",
        };
        return take(first, why.to_owned());
    }
    let by_look = |a: &&Weighed, b: &&Weighed| {
        let looks = a.lost().total_cmp(&b.lost());
        looks.then(a.minutes.total_cmp(&b.minutes))
    };
    let best = candidates.iter().min_by(by_look).unwrap_or(first);
    let quickest = candidates
        .iter()
        .min_by(|a, b| a.minutes.total_cmp(&b.minutes));
    let quickest = quickest.unwrap_or(first);
    let alike = |other: &Weighed| other.lost() == best.lost() && other.minutes == best.minutes;
    if candidates.iter().filter(|other| alike(other)).count() == candidates.len() {
        return Advice::Choose(format!(
            "these bands are alike in looks and in time ({}): choose by eye",
            best.look_words()
        ));
    }
    let words = best.words();
    if limited {
        return take(
            best,
            match best.look {
                WeighedLook::Step(_) => format!(
                    "of all within the limits its colours pass most smoothly into each other ({words})"
                ),
                WeighedLook::Width(_) => {
                    format!("of all within the limits it is the widest ({words})")
                }
            },
        );
    }
    if best.minutes == quickest.minutes {
        return take(
            best,
            format!("none looks better, and none is done sooner ({words})"),
        );
    }
    match bend(candidates) {
        Some([before, here, after]) => take(
            here,
            format!(
                "{}; with {} less it would be {}, with {} more only {}",
                here.words(),
                time_words(here.minutes - before.minutes),
                before.look_words(),
                time_words(after.minutes - here.minutes),
                after.look_words()
            ),
        ),
        None => Advice::Choose(format!(
            "none stands out: a {} costs more time, from {} in {} to {} in {}, and nowhere does the curve bend; say how much time there is, and the best within it is named",
            match best.look {
                WeighedLook::Step(_) => "smoother gradient",
                WeighedLook::Width(_) => "wider band",
            },
            quickest.look_words(),
            time_words(quickest.minutes),
            best.look_words(),
            time_words(best.minutes)
        )),
    }
}

/// Where looks over time bend most, with the neighbours on the curve: the lower edge of the
/// convex hull, so that a member which is worse than its neighbours promise makes no bend.
fn bend(candidates: &[Weighed]) -> Option<[&Weighed; 3]> {
    let mut sorted: Vec<&Weighed> = candidates.iter().collect();
    sorted.sort_by(|a, b| {
        let time = a.minutes.total_cmp(&b.minutes);
        time.then(a.lost().total_cmp(&b.lost()))
    });
    let mut edge: Vec<&Weighed> = Vec::new();
    for candidate in sorted {
        // What takes longer and looks no better lies above the curve.
        if edge
            .last()
            .is_some_and(|last| candidate.lost() >= last.lost())
        {
            continue;
        }
        while let [.., before, last] = edge[..]
            && before.gain_per_minute(last) < last.gain_per_minute(candidate)
        {
            edge.pop();
        }
        edge.push(candidate);
    }
    let bends = edge.windows(3).map(|three| {
        let [before, here, after] = [three[0], three[1], three[2]];
        let ratio = before.gain_per_minute(here) / here.gain_per_minute(after);
        (ratio, [before, here, after])
    });
    let sharpest = bends.max_by(|(a, _), (b, _)| a.total_cmp(b));
    sharpest
        .filter(|(ratio, _)| *ratio >= BEND)
        .map(|(_, bend)| bend)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn steps(of: &[(f64, f64)]) -> Vec<Weighed> {
        let one = |(index, (minutes, step)): (usize, &(f64, f64))| Weighed {
            index,
            minutes: *minutes,
            look: WeighedLook::Step(*step),
        };
        of.iter().enumerate().map(one).collect()
    }

    fn taken(of: &[(f64, f64)], limited: bool) -> Result<(usize, String), String> {
        match recommend(&steps(of), limited) {
            Advice::Take(Recommendation { index, why }) => Ok((index, why)),
            Advice::Choose(why) => Err(why),
            Advice::Nothing => panic!("there are members"),
        }
    }

    /// 10 minutes gain 10 twice, and then 1 twice: the bend is in the middle, by hand, and stays
    /// there whatever ends the range has.
    #[test]
    fn a_bend_is_found_and_does_not_move_with_the_range() {
        let curve = [
            (60.0, 40.0),
            (70.0, 30.0),
            (80.0, 20.0),
            (90.0, 19.0),
            (100.0, 18.0),
        ];
        for (range, index) in [(0..5, 2), (1..5, 1), (0..4, 2), (1..4, 1)] {
            let (taken, why) = taken(&curve[range], false).expect("a bend");
            assert_eq!(taken, index);
            assert!(
                why.starts_with("its gradient goes in steps of 20.0, in 1 h 20 min;"),
                "{why}"
            );
            assert!(
                why.contains("with 10 min less it would be steps of 30.0"),
                "{why}"
            );
            assert!(why.contains("with 10 min more only steps of 19.0"), "{why}");
        }
    }

    /// As many minutes for each thread, and a gradient as long in more steps: 120 over 6 to 14.
    #[test]
    fn a_curve_without_a_bend_is_left_to_the_maker() {
        let even: Vec<(f64, f64)> = (6..=14)
            .map(|threads| (f64::from(threads) * 16.0, 120.0 / f64::from(threads)))
            .collect();
        for range in [0..9, 0..5, 3..9] {
            let why = taken(&even[range], false).expect_err("no bend");
            assert!(why.starts_with("none stands out"), "{why}");
        }
        // One that is worse than both its neighbours makes the next no better.
        let mut dented = even;
        dented[2].1 = 25.0;
        assert!(taken(&dented, false).is_err());
    }

    #[test]
    fn what_is_best_in_everything_is_taken_and_equals_are_not() {
        let (index, why) = taken(&[(60.0, 20.0), (60.0, 10.0), (90.0, 10.0)], false).expect("best");
        assert_eq!(index, 1);
        assert!(why.contains("none looks better"), "{why}");
        let why = taken(&[(60.0, 20.0), (60.0, 20.0)], false).expect_err("alike");
        assert!(why.contains("alike in looks and in time"), "{why}");
        assert!(taken(&[(60.0, 20.0), (60.0, 20.0)], true).is_err());
        assert_eq!(
            taken(&[(60.0, 20.0), (90.0, 10.0)], true)
                .expect("limits")
                .0,
            1
        );
    }
}
