//! `compare`: what a rule's bands cost and give over a range of settings.

use std::path::Path;

use comfy_table::{CellAlignment, Table, presets};
use hitchwork_collection::names::is_counted;
use hitchwork_core::band::Setting;
use hitchwork_core::compare::{self, COMPARED, Limit, Measured, SettingOutcome};
use hitchwork_draw::plot::{self, Dot, Panel, Plot, PlotLine};
use hitchwork_rules::Settings;
use serde_json::json;

use crate::arguments::{CompareArguments, Over};
use crate::folder::ResultKind;
use crate::pictures::PictureFormat;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

/// One value for each setting that varies.
type VariedValues = Vec<f64>;
type Family = compare::Comparison<VariedValues, hitchwork_rules::Error>;

/// The most bands that are compared.
const MOST_MEMBERS: usize = 5_000;

/// What the table shows; the other forms hold all that is compared.
const SHOWN: &[&str] = &[
    "width_mm",
    "repeat_mm",
    "thread_m",
    "longest_cm",
    "knots",
    "minutes",
    "difficulty",
    "gradient_step",
];

/// What is plotted, and how each plot is headed.
const PLOTTED: &[(&str, &str)] = &[
    ("width_mm", "width in mm"),
    ("minutes", "time in minutes"),
    ("thread_m", "thread for one band in m"),
    ("repeat_mm", "length of a repeat in mm"),
    ("difficulty", "difficulty, 0 to 10"),
    ("gradient_step", "largest step of the gradient"),
];

pub(crate) fn run(asked: &CompareArguments) -> Result<Verdict, Trouble> {
    let form = asked.out.as_deref().map(form).transpose()?;
    if let Some(out) = &asked.out {
        folder::may_be_named(out, ResultKind::Other)?;
    }
    let points = points(&asked.over)?;
    let limits: Vec<Limit> = [asked.at_least.as_slice(), &asked.at_most].concat();
    // One engine and one reading of the rule serve all members.
    let rules = input::rules(&asked.subject);
    let rule = input::rule(&rules, &asked.subject.rule)?;
    input::varied_alone(&asked.subject, asked.over.iter().map(|over| &*over.name))?;
    let settings = input::settings(&asked.subject)?;
    input::one_palette(&asked.subject, &rules, &rule, &settings)?;
    let make = |point: &VariedValues| {
        let settings = at(&asked.over, point, settings.clone());
        let band = rules.make(&rule, &settings)?.band;
        Ok(if asked.subject.mirrored {
            band.mirrored()
        } else {
            band
        })
    };
    let habits = asked.pace.habits();
    let mut family: Family = rules.batch(|| compare::compare(points, make, &habits, &limits));
    if family
        .members
        .iter()
        .all(|member| member.outcome.measured().is_none())
        && let Some(SettingOutcome::Refused(error)) =
            family.members.drain(..).next().map(|member| member.outcome)
    {
        return Err(error.into());
    }
    if let (Some(out), Some(form)) = (&asked.out, form) {
        let picture = plot::svg(&plotted(asked, &family, &limits))?;
        folder::write_one(out, &form.bytes(&picture, 2.0)?, ResultKind::Other)?;
    }
    if asked.json {
        say::json(&as_json(asked, &family, &limits))?;
    } else if asked.csv {
        say::raw(as_csv(&asked.over, &family).as_bytes())?;
    } else {
        say::out(as_table(asked, &family, &limits))?;
    }
    if let Some(out) = &asked.out {
        say::aside(format!("{}\n", out.display()))?;
    }
    Ok(Verdict::Sound)
}

fn form(out: &Path) -> Result<PictureFormat, Trouble> {
    match out.extension().and_then(|extension| extension.to_str()) {
        Some("svg") => Ok(PictureFormat::Svg),
        Some("png") => Ok(PictureFormat::Png),
        _ => Err(Trouble::new(
            "the name of the plot does not say what kind of file it is to be",
            "end the file's name in .svg or .png",
        )),
    }
}

fn points(over: &[Over]) -> Result<Vec<VariedValues>, Trouble> {
    match over {
        [one] => Ok(one.values.iter().map(|value| vec![*value]).collect()),
        [one, other] if one.name == other.name => Err(Trouble::new(
            format!("{} is varied twice", one.name),
            "give two different settings, or one list such as --over threads=8,10,12",
        )),
        [one, other] => {
            let count = one.values.len() * other.values.len();
            if count > MOST_MEMBERS {
                return Err(Trouble::new(
                    format!("that would compare {count} bands; at most {MOST_MEMBERS} are"),
                    "give shorter ranges, or a larger step such as 6..24:2",
                ));
            }
            let mut points = Vec::with_capacity(count);
            for second in &other.values {
                points.extend(one.values.iter().map(|first| vec![*first, *second]));
            }
            Ok(points)
        }
        _ => Err(Trouble::new(
            format!("{} settings are varied; at most 2 can be", over.len()),
            "give --over once or twice, and fix the others with --set",
        )),
    }
}

/// The settings with those of a point.
fn at(over: &[Over], point: &VariedValues, settings: Settings) -> Settings {
    over.iter()
        .zip(point)
        .fold(settings, |settings, (over, value)| {
            settings.set(&over.name, setting(*value))
        })
}

/// A whole number is given as one, so that it fits settings of either kind.
fn setting(value: f64) -> Setting {
    #[allow(
        clippy::cast_possible_truncation,
        reason = "whole and far below what an i64 holds"
    )]
    if value.fract() == 0.0 && value.abs() < 1e15 {
        Setting::Whole(value as i64)
    } else {
        Setting::Number(value)
    }
}

/// "12 threads, height 4".
fn named(over: &[Over], point: &VariedValues) -> String {
    let one = |(over, value): (&Over, &f64)| match is_counted(&over.name) {
        true => format!("{value} {}", over.name),
        false => format!("{} {value}", over.name),
    };
    over.iter()
        .zip(point)
        .map(one)
        .collect::<Vec<_>>()
        .join(", ")
}

/// As few decimals as say something: a tenth.
fn rounded(value: f64) -> String {
    ((value * 10.0).round() / 10.0).to_string()
}

/// Which band to take, as a sentence.
fn recommendation(over: &[Over], family: &Family, limits: &[Limit]) -> String {
    if let Some(taken) = &family.recommendation {
        let point = &family.members[taken.index].setting;
        return format!("take {}: {}", named(over, point), taken.why);
    }
    if let Some(why) = &family.undecided {
        return why.clone();
    }
    let limits: Vec<String> = limits.iter().map(ToString::to_string).collect();
    format!(
        "none of these bands keeps to {}; widen a limit or the range",
        limits.join(" and ")
    )
}

/// With a capital and a full stop.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().into_iter().flat_map(char::to_uppercase);
    first.chain(letters).chain(['.']).collect()
}

fn as_table(asked: &CompareArguments, family: &Family, limits: &[Limit]) -> String {
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    let over = &asked.over;
    let names = over.iter().map(|over| over.name.clone());
    let mut header: Vec<String> = names.chain(SHOWN.iter().map(ToString::to_string)).collect();
    header.push(String::new());
    table.set_header(header);
    let taken = family.recommendation.as_ref().map(|taken| taken.index);
    let mut refused = String::new();
    for (index, member) in family.members.iter().enumerate() {
        let mut cells: Vec<String> = member.setting.iter().map(ToString::to_string).collect();
        match &member.outcome {
            SettingOutcome::Made { measured, misses } => {
                let cell = |name: &&str| measured.number(name).map_or("-".to_owned(), rounded);
                cells.extend(SHOWN.iter().map(cell));
                let misses: Vec<&str> = misses.iter().map(|limit| limit.measure.name).collect();
                cells.push(match misses.as_slice() {
                    _ if taken == Some(index) => "<- recommended".to_owned(),
                    [] if limits.is_empty() => String::new(),
                    [] => "within".to_owned(),
                    misses => format!("misses {}", misses.join(", ")),
                });
                table.add_row(cells);
            }
            SettingOutcome::Refused(error) => {
                let why = error
                    .diagnostics()
                    .first()
                    .map(|diagnostic| diagnostic.message.clone())
                    .unwrap_or_default();
                refused.push_str(&format!("  {}: {why}\n", named(over, &member.setting)));
            }
        }
    }
    for column in table.column_iter_mut().take(over.len() + SHOWN.len()) {
        column.set_cell_alignment(CellAlignment::Right);
    }
    let table = table.trim_fmt();
    let mut text = format!("{}\n{table}\n", asked.subject.rule.styled(say::heading()));
    if !refused.is_empty() {
        text.push_str(&format!("no band for\n{refused}"));
    }
    text.push_str(&format!("{}\n", recommendation(over, family, limits)));
    if limits.is_empty() && family.undecided.is_some() {
        text.push_str("a limit is set with --at-most minutes=180\n");
    }
    text
}

fn as_csv(over: &[Over], family: &Family) -> String {
    let names = over.iter().map(|over| quoted(&over.name));
    let header: Vec<String> = names
        .chain(COMPARED.iter().map(ToString::to_string))
        .chain(["feasible".to_owned(), "recommended".to_owned()])
        .collect();
    let mut text = header.join(",") + "\n";
    let taken = family.recommendation.as_ref().map(|taken| taken.index);
    for (index, member) in family.members.iter().enumerate() {
        let mut fields: Vec<String> = member.setting.iter().map(ToString::to_string).collect();
        let measured = member.outcome.measured();
        fields.extend(COMPARED.iter().map(|name| {
            let value = measured.and_then(|measured| measured.number(name));
            value.map_or(String::new(), |value| value.to_string())
        }));
        let yes = |is| if is { "yes" } else { "no" }.to_owned();
        fields.push(yes(member.outcome.feasible()));
        fields.push(yes(taken == Some(index)));
        text.push_str(&(fields.join(",") + "\n"));
    }
    text
}

/// A name as a field of a table (RFC 4180).
fn quoted(text: &str) -> String {
    if text.contains([',', '"', '\n', '\r']) {
        format!("\"{}\"", text.replace('"', "\"\""))
    } else {
        text.to_owned()
    }
}

/// All that is compared, with nothing where a band has no such thing.
fn compared(measured: &Measured) -> serde_json::Map<String, serde_json::Value> {
    let named = COMPARED.iter();
    named
        .map(|name| ((*name).to_owned(), json!(measured.get(name))))
        .collect()
}

fn as_json(asked: &CompareArguments, family: &Family, limits: &[Limit]) -> serde_json::Value {
    let settings = |point: &VariedValues| -> serde_json::Map<String, serde_json::Value> {
        let pairs = asked.over.iter().zip(point);
        pairs
            .map(|(over, value)| (over.name.clone(), json!(setting(*value))))
            .collect()
    };
    let member = |member: &compare::FamilyMember<VariedValues, hitchwork_rules::Error>| {
        match &member.outcome {
            SettingOutcome::Made { measured, misses } => json!({
                "settings": settings(&member.setting),
                "measures": compared(measured),
                "feasible": misses.is_empty(),
                "misses": misses.iter().map(ToString::to_string).collect::<Vec<_>>(),
            }),
            SettingOutcome::Refused(error) => json!({
                "settings": settings(&member.setting),
                "diagnostics": error.diagnostics(),
                "feasible": false,
            }),
        }
    };
    json!({
        "rule": asked.subject.rule,
        "over": asked.over.iter().map(|over| &over.name).collect::<Vec<_>>(),
        "limits": limits.iter().map(ToString::to_string).collect::<Vec<_>>(),
        "members": family.members.iter().map(member).collect::<Vec<_>>(),
        "recommendation": family.recommendation.as_ref().map(|taken| json!({
            "settings": settings(&family.members[taken.index].setting),
            "why": taken.why,
        })),
        "undecided": family.undecided,
    })
}

fn plotted(asked: &CompareArguments, family: &Family, limits: &[Limit]) -> Plot {
    let over = &asked.over;
    let seconds: Vec<Option<f64>> = over.get(1).map_or(vec![None], |second| {
        second.values.iter().map(|value| Some(*value)).collect()
    });
    let taken = family.recommendation.as_ref().map(|taken| taken.index);
    let line = |name: &str, second: Option<f64>| {
        let members = family.members.iter().enumerate();
        let dots = members
            .filter(|(_, member)| member.setting.get(1).copied() == second)
            .filter_map(|(index, member)| {
                Some(Dot {
                    x: member.setting[0],
                    y: member.outcome.measured()?.number(name)?,
                    feasible: member.outcome.feasible(),
                    recommended: taken == Some(index),
                })
            })
            .collect();
        let name = second.map_or(String::new(), |value| value.to_string());
        PlotLine { name, dots }
    };
    let panel = |(name, heading): &(&str, &str)| {
        let of_it = || {
            limits
                .iter()
                .filter(move |limit| limit.measure.name == *name)
        };
        Panel {
            title: (*heading).to_owned(),
            lines: seconds
                .iter()
                .map(|second| line(name, *second))
                .filter(|line| !line.dots.is_empty())
                .collect(),
            at_least: of_it().filter_map(|limit| limit.at_least).reduce(f64::max),
            at_most: of_it().filter_map(|limit| limit.at_most).reduce(f64::min),
        }
    };
    Plot {
        title: format!(
            "{} over {}",
            input::short_name(&asked.subject.rule),
            over.iter()
                .map(|over| over.name.as_str())
                .collect::<Vec<_>>()
                .join(" and ")
        ),
        subtitle: sentence(&recommendation(over, family, limits)),
        along: over[0].name.clone(),
        across: over.get(1).map_or(String::new(), |over| over.name.clone()),
        panels: PLOTTED
            .iter()
            .map(panel)
            .filter(|panel| !panel.lines.is_empty())
            .collect(),
    }
}
