//! Values as people type them: read, and refused where they cannot be meant.

use std::ops::RangeInclusive;

use hitchwork_core::band::{MAX_LENGTH_MM, MAX_THREADS, MIN_LENGTH_MM, Part};
use hitchwork_core::compare::Limit;
use hitchwork_core::craft::{Ease, Pace, Swatch, WRISTS, Wrist, Yarn, knotted_mm_for_wrist};
use hitchwork_core::proof::Frieze;

/// A value with the words that it was given in, for whoever says the command again.
#[derive(Clone, Debug)]
pub(crate) struct AsTyped<T> {
    pub(crate) words: String,
    pub(crate) value: T,
}

pub(super) fn said<T>(
    text: &str,
    read: fn(&str) -> Result<T, String>,
) -> Result<AsTyped<T>, String> {
    Ok(AsTyped {
        words: text.trim().to_owned(),
        value: read(text)?,
    })
}

pub(super) fn setting(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((name, value)) if !name.trim().is_empty() => {
            Ok((name.trim().to_owned(), value.trim().to_owned()))
        }
        _ => Err("write it as NAME=VALUE, for example threads=12".to_owned()),
    }
}

pub(super) fn number(
    text: &str,
    least: f64,
    most: f64,
    what: &str,
    such_as: &str,
) -> Result<f64, String> {
    let number: f64 = text
        .trim()
        .parse()
        .map_err(|_| format!("{what} is a number, such as {such_as}"))?;
    if (least..=most).contains(&number) {
        Ok(number)
    } else {
        Err(format!("{what} is from {least} to {most}"))
    }
}

/// A whole number of something.
pub(super) fn whole<T: TryFrom<u64>>(
    text: &str,
    least: u64,
    most: u64,
    what: &str,
) -> Result<T, String> {
    let number = text.trim().replace('_', "").parse::<u64>().ok();
    number
        .filter(|number| (least..=most).contains(number))
        .and_then(|number| T::try_from(number).ok())
        .ok_or_else(|| format!("{what} is a whole number from {least} to {most}"))
}

pub(super) fn seed(text: &str) -> Result<u64, String> {
    let said = text.trim().replace('_', "");
    let is_whole = !said.is_empty() && said.chars().all(|digit| digit.is_ascii_digit());
    said.parse().map_err(|_| match is_whole {
        true => format!("the greatest seed is {}", u64::MAX),
        false => "a seed is a whole number, 0 or more".to_owned(),
    })
}

/// How many threads hang of each colour, by its letter or its name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct ColourCounts(pub(crate) Vec<(String, u16)>);

/// Threads of each colour, such as a=6,b=6.
pub(super) fn colour_counts(text: &str) -> Result<ColourCounts, String> {
    let such_as = "write each colour with its threads, such as a=6,b=6";
    let mut counts: Vec<(String, u16)> = Vec::new();
    for part in text.split(',') {
        let (name, count) = part.split_once('=').ok_or(such_as)?;
        let name = name.trim();
        if name.is_empty() {
            return Err(such_as.to_owned());
        }
        if counts.iter().any(|(known, _)| known == name) {
            return Err(format!("the colour {name} is given twice"));
        }
        let most = u64::from(MAX_THREADS);
        counts.push((
            name.to_owned(),
            whole(count, 0, most, "a number of threads")?,
        ));
    }
    Ok(ColourCounts(counts))
}

pub(super) fn picture_columns(text: &str) -> Result<u16, String> {
    whole(text, 1, 199, "a number of columns")
}

pub(super) fn picture_colours(text: &str) -> Result<usize, String> {
    whole(text, 1, 64, "a number of colours")
}

pub(super) fn free_rows(text: &str) -> Result<usize, String> {
    whole(text, 0, 1_000, "a number of free rows")
}

pub(super) fn margin(text: &str) -> Result<usize, String> {
    whole(text, 0, 90, "a margin")
}

pub(super) fn people(text: &str) -> Result<u32, String> {
    whole(text, 1, 1000, "a number of people")
}

pub(super) fn half_rows(text: &str) -> Result<u32, String> {
    whole(text, 1, 100_000, "a number of half rows")
}

pub(super) fn repeats(text: &str) -> Result<u32, String> {
    whole(text, 1, u32::MAX.into(), "a number of repeats")
}

pub(super) fn changes(text: &str) -> Result<u32, String> {
    whole(text, 1, 1000, "a number of changed knots")
}

pub(super) fn workers(text: &str) -> Result<u16, String> {
    whole(text, 1, 1024, "a number of processor cores")
}

pub(super) fn threads(text: &str) -> Result<u16, String> {
    whole(text, 0, u16::MAX.into(), "a number of threads")
}

pub(super) fn rows(text: &str) -> Result<usize, String> {
    whole(text, 0, u32::MAX.into(), "a number of rows")
}

pub(super) fn port(text: &str) -> Result<u16, String> {
    whole(text, 0, u16::MAX.into(), "a port")
}

pub(super) fn bands(text: &str) -> Result<usize, String> {
    whole(text, 0, u32::MAX.into(), "a number of bands")
}

pub(super) fn colours(text: &str) -> Result<usize, String> {
    whole(text, 0, u32::MAX.into(), "a number of colours")
}

pub(super) fn difference(text: &str) -> Result<f64, String> {
    text.trim()
        .parse()
        .map_err(|_| "a difference between colours is a number, such as 3".to_owned())
}

/// How much a rule may take of something. With nothing at all it could not begin.
pub(super) fn limit(text: &str, of: &str) -> Result<u64, String> {
    match text.trim().parse() {
        Ok(0) => Err(format!(
            "a rule that may take 0 {of} is stopped before it begins; allow 1 or more, or leave the limit out"
        )),
        Ok(most) => Ok(most),
        Err(_) => Err(format!("a limit is a whole number of {of}, such as 20")),
    }
}

/// Units in which people measure a length: a number of each, times the first over the second,
/// is centimetres. An inch is 2.54 cm by definition.
const LENGTH_UNITS: [(&str, f64, f64); 4] = [
    ("cm", 1.0, 1.0),
    ("mm", 1.0, 10.0),
    ("inches", 2.54, 1.0),
    ("in", 2.54, 1.0),
];

/// A length in centimetres, or in the unit that stands behind its number.
fn in_centimetres(text: &str) -> Option<f64> {
    let said = text.trim().to_ascii_lowercase();
    let with_unit = LENGTH_UNITS.iter().find_map(|(unit, times, over)| {
        let number = said.strip_suffix(unit)?;
        Some((number.trim_end(), *times, *over))
    });
    let (number, times, over) = with_unit.unwrap_or((&said, 1.0, 1.0));
    Some(number.parse::<f64>().ok()? * times / over)
}

/// The same between two bounds.
fn centimetres_within(text: &str, least: f64, most: f64, what: &str) -> Result<f64, String> {
    let found = in_centimetres(text).ok_or_else(|| {
        format!("{what} is a number of centimetres, such as 15.5, or has its unit: 155mm, 6in")
    })?;
    match (least..=most).contains(&found) {
        true => Ok(found),
        false => Err(format!("{what} is from {least} to {most} cm")),
    }
}

pub(super) fn centimetres(text: &str) -> Result<f64, String> {
    centimetres_within(text, MIN_LENGTH_MM / 10.0, MAX_LENGTH_MM / 10.0, "a length")
}

pub(super) fn pixels(text: &str) -> Result<f64, String> {
    number(text, 0.5, 100.0, "a number of pixels per millimetre", "12")
}

pub(super) fn scale(text: &str) -> Result<f64, String> {
    number(text, 0.1, 20.0, "a scale", "2")
}

pub(super) fn rows_a_page(text: &str) -> Result<usize, String> {
    let rows: Option<usize> = text.trim().parse().ok().filter(|rows| *rows > 0);
    rows.ok_or_else(|| "a number of rows is a whole number above 0".to_owned())
}

/// A wrist that a band is made for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct WristAsked {
    /// How long the band is knotted for it.
    pub(crate) knotted_mm: f64,
    /// How many millimetres it is round.
    pub(crate) round_mm: f64,
}

pub(super) fn wrist(text: &str) -> Result<WristAsked, String> {
    let said = text.trim();
    let known = WRISTS.iter().find(|wrist| wrist.name == said);
    let round_mm = match (known, in_centimetres(said)) {
        (Some(wrist), _) => wrist.mm,
        (None, Some(_)) => centimetres_within(said, 6.0, 40.0, "a wrist")? * 10.0,
        (None, None) => {
            let names = WRISTS.iter().map(|wrist| wrist.name);
            let names = names.collect::<Vec<_>>().join(", ");
            return Err(format!(
                "a wrist is a number of centimetres round, such as 16, or one of {names}"
            ));
        }
    };
    let knotted = knotted_mm_for_wrist(round_mm, Ease::default());
    Ok(WristAsked {
        knotted_mm: knotted.map_err(|error| in_one_line(&error))?,
        round_mm,
    })
}

/// What `--wrist` takes.
pub(super) fn about_wrists() -> String {
    let named = |wrist: &Wrist| format!("a {} ({})", wrist.name, wrist.mm / 10.0);
    let names = WRISTS.iter().map(named);
    let names = names.collect::<Vec<_>>().join(", ");
    format!("Make it to fit a wrist this many centimetres round, or that of {names}")
}

pub(super) fn thread(text: &str) -> Result<Yarn, String> {
    text.parse().map_err(|error: hitchwork_core::Error| {
        let said = in_one_line(&error);
        match text.trim().parse::<u16>() {
            Ok(count) => {
                format!("{said}; if {count} threads are meant, --set threads={count}")
            }
            Err(_) => said,
        }
    })
}

pub(super) fn swatch(text: &str) -> Result<Swatch, String> {
    text.parse()
        .map_err(|error: hitchwork_core::Error| in_one_line(&error))
}

pub(super) fn pace(text: &str) -> Result<Pace, String> {
    text.parse()
        .map_err(|error: hitchwork_core::Error| in_one_line(&error))
}

pub(super) fn skein(text: &str) -> Result<f64, String> {
    number(text, 0.1, 100_000.0, "a skein in metres", "8")
}

pub(super) fn price(text: &str) -> Result<f64, String> {
    number(
        text,
        0.0,
        1_000_000.0,
        "a price",
        "2.50, without a currency sign and with a point",
    )
}

pub(super) fn at_most(text: &str) -> Result<Limit, String> {
    Limit::at_most(text).map_err(|error| in_one_line(&error))
}

pub(super) fn at_least(text: &str) -> Result<Limit, String> {
    Limit::at_least(text).map_err(|error| in_one_line(&error))
}

pub(super) fn part(text: &str) -> Result<hitchwork_collection::folder::Share, String> {
    let form = "write it as I/N, for example 2/5 for the second of five shares";
    let (number, of) = text.split_once('/').ok_or(form)?;
    let whole = |text: &str| text.trim().parse::<u32>().map_err(|_| form.to_owned());
    let (number, of) = (whole(number)?, whole(of)?);
    if number == 0 || number > of {
        return Err(format!("there is no share {number} of {of}; {form}"));
    }
    Ok(hitchwork_collection::folder::Share { number, of })
}

pub(super) fn part_of_band(text: &str) -> Result<Part, String> {
    let all = [Part::LeadIn, Part::Repeat, Part::LeadOut];
    let found = all.into_iter().find(|part| part.name() == text.trim());
    found.ok_or_else(|| "a row stands in the lead-in, the repeat or the lead-out".to_owned())
}

pub(super) fn knots_seen(text: &str) -> Result<(u16, String), String> {
    let form =
        "write a position, = and the colours from the last knot up, such as 4=\"coral, ?, sand\"";
    let (position, colours) = text.split_once('=').ok_or(form)?;
    let position = position
        .trim()
        .parse::<u16>()
        .ok()
        .filter(|position| (1..u16::MAX).contains(position));
    Ok((position.ok_or(form)?, colours.to_owned()))
}

pub(super) fn frieze(text: &str) -> Result<Frieze, String> {
    let names = Frieze::ALL.map(|group| group.to_string()).join(", ");
    Frieze::named(text.trim()).ok_or_else(|| format!("a symmetry is one of {names}"))
}

pub(super) fn seeds(text: &str) -> Result<RangeInclusive<u64>, String> {
    let form = "write them as FIRST..LAST, for example 1..5000";
    let (first, last) = text.split_once("..").ok_or(form)?;
    let last = last.strip_prefix('=').unwrap_or(last);
    let seed = |text: &str| {
        let parsed = text.trim().replace('_', "").parse::<u64>();
        parsed.map_err(|_| format!("\"{}\" is not a seed; {form}", text.trim()))
    };
    let (first, last) = (seed(first)?, seed(last)?);
    if last < first {
        return Err(format!(
            "there is no seed from {first} to {last}; put the smaller one first"
        ));
    }
    Ok(first..=last)
}

/// The most values that one setting takes one after another.
const MOST_VALUES: f64 = 1000.0;

/// A setting and the values that it takes one after another.
#[derive(Clone, Debug)]
pub(crate) struct Over {
    pub(crate) name: String,
    pub(crate) values: Vec<f64>,
}

pub(super) fn over(text: &str) -> Result<Over, String> {
    let form = "write it as NAME=FIRST..LAST, for example threads=6..24, or NAME=8,10,12";
    let (name, range) = text.split_once('=').ok_or(form)?;
    let value = |text: &str| {
        let parsed = text
            .trim()
            .parse()
            .ok()
            .filter(|value: &f64| value.is_finite());
        parsed.ok_or_else(|| format!("\"{}\" is not a number; {form}", text.trim()))
    };
    let values = match range.split_once("..") {
        Some((first, rest)) => {
            let (last, step) = rest.split_once(':').unwrap_or((rest, "1"));
            let last = last.strip_prefix('=').unwrap_or(last);
            let (first, last, step) = (value(first)?, value(last)?, value(step)?);
            if step <= 0.0 || last < first {
                return Err(format!("a range goes upwards in steps above 0; {form}"));
            }
            let count = ((last - first) / step + 1e-9).floor();
            if count >= MOST_VALUES {
                return Err(format!("a range has at most {MOST_VALUES} values"));
            }
            #[allow(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "below MOST_VALUES"
            )]
            let count = count as u16;
            (0..=count).map(|at| first + step * f64::from(at)).collect()
        }
        None => range
            .split(',')
            .map(value)
            .collect::<Result<Vec<f64>, _>>()?,
    };
    Ok(Over {
        name: name.trim().to_owned(),
        values,
    })
}

pub(super) fn in_one_line(error: &hitchwork_core::Error) -> String {
    match error.help() {
        Some(help) => format!("{error}; {help}"),
        None => error.to_string(),
    }
}
