//! What leaves a band as it is, marked on its picture: the axis of a mirror or a glide along
//! it, axes across it, and centres of half turns.

use std::fmt::Write;

use hitchwork_core::band::{Band, Part};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::lay::Lay;
use hitchwork_core::proof::{Halfway, KnotPlace, Lengthwise, Pattern, Symmetry};
use hitchwork_core::tied::Tied;

use super::pen::{Bounds, short};
use super::size::{MAX_KNOTS, knots_of};
use super::style::COLUMN;

/// Of what the symmetry is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Aspect {
    /// Of the knots, whatever their colours; those of the middle column are left out of
    /// account where that makes it more.
    Knots,
    /// Of the colours that show.
    Colours,
}

impl Aspect {
    const fn name(self) -> &'static str {
        match self {
            Self::Knots => "knots",
            Self::Colours => "colours",
        }
    }
}

/// By the first repeats a fabric has found its way of lying; places are taken from those
/// after them.
const REPEATS_TO_SETTLE: u64 = 2;

/// Dark lines with a light edge are seen on every colour.
const EDGE: &str = r##"stroke="#ffffff" stroke-width="40" opacity=".9""##;
const LINE: &str = r##"stroke="#22252b" stroke-width="16""##;

/// So many repeats more are laid of a soft band, so that its growth shows between its ends.
const REPEATS_BESIDE: u64 = 6;

/// Where the knots of some repeats lie, in columns and half rows.
struct RepeatPlaces {
    /// For each repeat, the place of each knot in tying order.
    repeats: Vec<Vec<(f64, f64)>>,
    /// How many knots come before each row of a repeat.
    before: Vec<usize>,
    /// By how many half rows a soft band grows with a repeat.
    growth: Option<f64>,
}

impl RepeatPlaces {
    /// Those of the first repeats of a band, and of a soft one of some more.
    fn of(band: &Band, repeats: u64, is_soft: bool) -> Option<Self> {
        let repeats = repeats + if is_soft { REPEATS_BESIDE } else { 0 };
        let knots = knots_of(band, Part::Repeat).saturating_mul(repeats);
        let repeats = u32::try_from(repeats).ok().filter(|_| knots <= MAX_KNOTS)?;
        let mut parts = band.clone().into_parts();
        parts.lead_out = Vec::new();
        parts.repeats = repeats;
        let fabric = Fabric::of(&Band::new(parts).ok()?);
        let mut laid = is_soft.then(|| soft_places(band, &fabric).into_iter());
        let mut places = Vec::new();
        for pass in fabric.passes() {
            let of_pass: Vec<(f64, f64)> = pass
                .knots()
                .filter_map(|knot| match &mut laid {
                    None => Some((f64::from(knot.column.number()), f64::from(knot.level))),
                    Some(laid) => laid.next(),
                })
                .collect();
            if pass.part() == Part::Repeat {
                places.push(of_pass);
            }
        }
        let mut before = vec![0];
        for row in band.repeat() {
            before.push(before[before.len() - 1] + row.len());
        }
        let growth = laid.and_then(|_| growth(&places));
        Some(Self {
            repeats: places,
            before,
            growth,
        })
    }

    fn at(&self, place: KnotPlace) -> Option<(f64, f64)> {
        let repeat = usize::try_from(place.repeat - 1 + REPEATS_TO_SETTLE).ok()?;
        let knot = self.before.get(place.row - 1)? + place.knot - 1;
        self.repeats.get(repeat)?.get(knot).copied()
    }

    /// Where what is meant lies: its column and its level, in columns and half rows.
    fn halfway(&self, place: &Halfway) -> Option<(f64, f64)> {
        let (one, other) = (self.at(place.one)?, self.at(place.other)?);
        Some(((one.0 + other.0) / 2.0, f64::midpoint(one.1, other.1)))
    }
}

/// Where the knots of a soft band lie that is pinned straight, in columns and half rows.
fn soft_places(band: &Band, fabric: &Fabric) -> Vec<(f64, f64)> {
    let gauge = band.gauge();
    let lay = Lay::of(fabric, &gauge).straightened(fabric);
    lay.knots(fabric)
        .map(|knot| {
            (
                knot.centre.across_mm / gauge.column_mm,
                knot.centre.along_mm / gauge.half_row_mm,
            )
        })
        .collect()
}

/// By how much the places of a repeat are further along than those of the repeat before, away from
/// both ends.
fn growth(repeats: &[Vec<(f64, f64)>]) -> Option<f64> {
    let settled = usize::try_from(REPEATS_TO_SETTLE).ok()?;
    let last = repeats.len().checked_sub(1 + settled)?;
    let between = last.checked_sub(settled).filter(|between| *between > 0)?;
    let along = |repeat: &[(f64, f64)]| repeat.iter().map(|place| place.1).sum::<f64>();
    #[expect(clippy::cast_precision_loss, reason = "repeats of a picture are few")]
    let steps = (between * repeats[last].len()) as f64;
    Some((along(&repeats[last]) - along(&repeats[settled])) / steps)
}

/// The pattern that is marked.
pub(super) fn pattern(band: &Band, aspect: Aspect) -> Option<Pattern> {
    let symmetry = Symmetry::of(band);
    match aspect {
        Aspect::Knots => Some(symmetry.apart_from_middle.unwrap_or(symmetry.knots)),
        Aspect::Colours => symmetry.colours,
    }
}

/// What is marked, in words.
pub(super) fn words(aspect: Aspect, pattern: Option<&Pattern>) -> String {
    let of = aspect.name();
    match pattern {
        Some(pattern) => format!(
            " Marked: the symmetry of its {of}, {}: {}; lines are mirrors, broken lines glides, lenses centres of half turns.",
            pattern.group,
            pattern.group.words()
        ),
        None => format!(" The {of} come round too late for their symmetry to be marked."),
    }
}

/// What the marks mean, for people to read below the picture.
pub(super) fn key(aspect: Aspect, pattern: Option<&Pattern>) -> String {
    let of = aspect.name();
    let Some(group) = pattern.map(|pattern| pattern.group) else {
        return format!("The {of} come round too late for their symmetry to be marked.");
    };
    let marks = [
        (
            group.along() == Some(Lengthwise::Mirror) || group.across(),
            "A line is a mirror.",
        ),
        (
            group.along() == Some(Lengthwise::Glide),
            "A broken line is a glide.",
        ),
        (group.turns(), "A lens is the centre of a half turn."),
    ];
    let marks: Vec<&str> = marks
        .into_iter()
        .filter_map(|(is_there, words)| is_there.then_some(words))
        .collect();
    match marks.is_empty() {
        true => format!("The {of} have no symmetry to be marked."),
        false => format!("Symmetry of the {of}: {group}. {}", marks.join(" ")),
    }
}

/// By how much something is pushed along to lie at every place where it comes again.
fn again(first: f64, period: f64, until: f64) -> impl Iterator<Item = f64> {
    let begins = first.rem_euclid(period) - period;
    let nth = move |times: u32| begins + period * f64::from(times);
    let levels = (0..).map(nth);
    levels
        .take_while(move |level| *level <= until + period)
        .map(move |level| level - first)
}

/// The points of an axis, one for each column, pushed by whole periods to where they are
/// nearest to each other: which of the axes each column has named is left open.
fn joined(mut points: Vec<(f64, f64)>, period: f64) -> Vec<(f64, f64)> {
    for at in 1..points.len() {
        let apart = points[at].1 - points[at - 1].1;
        points[at].1 -= (apart / period).round() * period;
    }
    points
}

/// The first and the last level of each column, widened by half a knot.
struct Extent {
    columns: Vec<Option<(f64, f64)>>,
    /// The same for all columns of a soft band.
    soft: Option<(f64, f64)>,
}

impl Extent {
    fn of(fabric: &Fabric) -> Self {
        let ends = fabric.first_levels().into_iter().zip(fabric.last_levels());
        let column = |(first, last): (Option<u32>, Option<u32>)| {
            Some((f64::from(first?) - 1.0, f64::from(last?) + 1.0))
        };
        Self {
            columns: ends.map(column).collect(),
            soft: None,
        }
    }

    /// Whether a place, in columns from 1 and half rows, lies on the band.
    fn holds(&self, (column, level): (f64, f64)) -> bool {
        if let Some((first, last)) = self.soft {
            return (first..=last).contains(&level);
        }
        #[allow(
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "columns are few and count from 1"
        )]
        let at = (column.floor() as usize).saturating_sub(1);
        let extent = self.columns.get(at).copied().flatten();
        extent.is_some_and(|(first, last)| (first..=last).contains(&level))
    }
}

/// The marks of a pattern, to lie over everything else, where half rows are so high. Of a soft
/// band, which is pinned straight, it is given what its knots lie within.
pub(super) fn marks(
    tied: &Tied,
    pattern: &Pattern,
    half_row: f64,
    soft: Option<Bounds>,
) -> Result<String, std::fmt::Error> {
    let (band, fabric) = (tied.band(), tied.fabric());
    let (left, right, until) = match &soft {
        None => (
            0.0,
            COLUMN * f64::from(band.thread_count()),
            f64::from(fabric.half_rows()) - 1.0,
        ),
        Some(bounds) => (bounds.least.0, bounds.most.0, bounds.most.1 / half_row),
    };
    let mut lines: Vec<(String, &str)> = Vec::new();
    if let Some(along) = pattern.group.along() {
        let path = format!(
            "M{} {}V{}",
            short(left.midpoint(right)),
            short(-3.0 * half_row),
            short((until + 2.0) * half_row)
        );
        lines.push((
            path,
            match along {
                Lengthwise::Mirror => "",
                Lengthwise::Glide => r#" stroke-dasharray="60 34""#,
            },
        ));
    }
    let places = pattern.across.iter().flatten().chain(&pattern.centres);
    let last = places
        .map(|place| place.one.repeat.max(place.other.repeat))
        .max();
    let levels =
        last.and_then(|last| RepeatPlaces::of(band, last + REPEATS_TO_SETTLE, soft.is_some()));
    let (repeats, of) = pattern.period.repeats;
    #[expect(clippy::cast_precision_loss, reason = "repeats of a picture are few")]
    let repeats = repeats as f64 / of as f64;
    let growth = levels.as_ref().and_then(|levels| levels.growth);
    let period = growth.map_or(pattern.period.half_rows.per_repeat(), |growth| {
        growth * repeats
    });
    let mut lenses = String::new();
    if let Some(levels) = levels.filter(|_| period > 0.0) {
        let mut extent = Extent::of(fabric);
        extent.soft = soft.map(|bounds| (bounds.least.1 / half_row, until));
        for axis in &pattern.across {
            let points = axis.iter().filter_map(|place| levels.halfway(place));
            let points = joined(points.collect(), period);
            let Some((_, first)) = points.first().copied() else {
                continue;
            };
            for push in again(first, period, until) {
                let pushed: Vec<(f64, f64)> = points
                    .iter()
                    .map(|(column, at)| (*column, at + push))
                    .collect();
                if !pushed.iter().all(|point| extent.holds(*point)) {
                    continue;
                }
                let down = |at: f64| short(at * half_row);
                let mut path = format!("M{} {}", short(left - 0.6 * COLUMN), down(pushed[0].1));
                for (column, at) in &pushed {
                    write!(path, "L{} {}", short(column * COLUMN), down(*at))?;
                }
                let (_, at) = pushed[pushed.len() - 1];
                write!(path, "L{} {}", short(right + 0.6 * COLUMN), down(at))?;
                lines.push((path, ""));
            }
        }
        let centres = pattern.centres.iter();
        for (column, first) in centres.filter_map(|place| levels.halfway(place)) {
            for push in again(first, period, until) {
                if !extent.holds((column, first + push)) {
                    continue;
                }
                write!(
                    lenses,
                    r##"<path d="M-72 0Q0 -76 72 0Q0 76 -72 0Z" transform="translate({} {})" fill="#ffffff" stroke="#22252b" stroke-width="20"/>"##,
                    short(column * COLUMN),
                    short((first + push) * half_row)
                )?;
            }
        }
    }
    let mut marks = String::from(r#"<g class="symmetry" fill="none" stroke-linejoin="round">"#);
    for style in [EDGE, LINE] {
        for (path, broken) in &lines {
            write!(marks, r#"<path d="{path}" {style}{broken}/>"#)?;
        }
    }
    marks.push_str(&lenses);
    marks.push_str("</g>");
    Ok(marks)
}
