//! `mend`: what went wrong at the table, and what to do about it.

use hitchwork_core::band::{Band, Part};
use hitchwork_core::mistake::{
    Change, Explanation, Mistakes, NoSuchRow, RowPlace, SeenCloth, TiedUpTo, after_in_words,
    should_hang, should_hang_in_words,
};
use hitchwork_core::near::did_you_mean_quoted;
use hitchwork_core::text::{capitalised, counted};
use hitchwork_core::tied::Tied;
use serde_json::{Value, json};

use crate::arguments::MendArguments;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, input, say};

/// So many explanations are listed (our own judgement: nobody unties on the fourth guess).
const MOST_LISTED: usize = 3;
/// The orders that should hang are shown for so many rows.
const ROWS_BACK: usize = 4;
/// What stands for a colour that nobody knows.
const UNKNOWN: &str = "?";

pub(crate) fn run(mend: &MendArguments) -> Result<Verdict, Trouble> {
    let input::Input { band, .. } = input::band(&mend.subject)?;
    let tied = Tied::by(
        band,
        mend.order.habits(hitchwork_core::craft::Habits::default()),
    );
    let place = TiedUpTo {
        row: RowPlace {
            part: mend.part,
            pass: repeat(mend)?,
            row: mend.row,
        },
        knots: mend.knot.map(|number| number as usize),
    };
    let seen = seen(mend, tied.band())?;
    let found = Mistakes::of(&tied, place, &seen).map_err(|missing| no_such_row(&tied, missing))?;
    let should_hang =
        should_hang(&tied, place, ROWS_BACK).map_err(|missing| no_such_row(&tied, missing))?;
    let should_hang: Vec<(TiedUpTo, Vec<&str>)> = should_hang
        .into_iter()
        .map(|(place, colours)| (place, named(&tied, &colours)))
        .collect();
    if mend.json {
        say::json(&as_data(&tied, &found, &should_hang))?;
    } else {
        say::out(in_words(&tied, mend, place, &found, &should_hang))?;
    }
    let is_explained = found.is_as_written || !found.explanations.is_empty();
    Ok(if is_explained {
        Verdict::Sound
    } else {
        Verdict::Unsound
    })
}

/// The repeat that the maker is in; what is tied once has no others.
fn repeat(mend: &MendArguments) -> Result<u32, Trouble> {
    match mend.repeat {
        Some(repeat) if mend.part != Part::Repeat => Err(Trouble::new(
            format!("--repeat {repeat}: the {} is tied once", mend.part),
            "leave out --repeat, or --in if the row belongs to a repeat",
        )),
        repeat => Ok(repeat.unwrap_or(1)),
    }
}

/// What the maker says to see.
fn seen(mend: &MendArguments, band: &Band) -> Result<SeenCloth, Trouble> {
    let mut seen = SeenCloth::default();
    if let Some(hangs) = &mend.hangs {
        seen.hanging = colours(hangs, band, "--hangs")?;
        let threads = usize::from(band.thread_count());
        if seen.hanging.len() != threads {
            return Err(Trouble::new(
                format!(
                    "--hangs names {} for {threads} threads",
                    counted(seen.hanging.len() as u64, "colour")
                ),
                format!(
                    "name one for each thread that hangs, from the left; {UNKNOWN} stands for one that you do not know"
                ),
            ));
        }
    }
    seen.columns = vec![Vec::new(); usize::from(band.column_count())];
    for (position, knots) in &mend.knots {
        let column = seen
            .columns
            .get_mut(usize::from(*position) - 1)
            .ok_or_else(|| {
                Trouble::new(
                    format!(
                        "--knots {position}: no knots lie between positions {position} and {}",
                        position + 1
                    ),
                    format!(
                        "the band has positions 1 to {}; name the left one of the two",
                        band.thread_count()
                    ),
                )
            })?;
        if !column.is_empty() {
            return Err(Trouble::new(
                format!("--knots {position} is said twice"),
                "name all knots between two positions at once, from the last one up: 4=\"coral, ?, sand\"",
            ));
        }
        *column = colours(knots, band, "--knots")?;
    }
    if seen.known() == 0 {
        return Err(Trouble::new(
            "nothing is said of what you see",
            "name the colours that hang now, from the left, with --hangs, or those of the last knots between two positions with --knots",
        ));
    }
    Ok(seen)
}

/// Colours by their names, as the sheet has them, or by the numbers of threads that have them.
fn colours(list: &str, band: &Band, option: &str) -> Result<Vec<Option<u16>>, Trouble> {
    let names: Vec<&str> = band
        .palette()
        .iter()
        .map(|colour| colour.name.as_str())
        .collect();
    let one = |name: &str| {
        let name = name.trim();
        if name == UNKNOWN {
            return Ok(None);
        }
        let at = (0..)
            .zip(&names)
            .find(|(_, known)| known.eq_ignore_ascii_case(name));
        let number = name.parse::<usize>().ok();
        let of_thread = number.and_then(|number| {
            let colours = band.thread_colours();
            colours.get(number.checked_sub(1)?).copied()
        });
        at.map(|(at, _)| at).or(of_thread).map(Some).ok_or_else(|| {
            if number.is_some() {
                return Trouble::new(
                    format!("{option}: the band has no thread {name}"),
                    format!(
                        "its threads are 1 to {}; {UNKNOWN} stands for one that you do not know",
                        band.thread_count()
                    ),
                );
            }
            if !list.contains(',') && name.contains([' ', ';']) && name.contains([';', '?']) {
                return Trouble::new(
                    format!("{option}: \"{name}\" is not one colour"),
                    "put commas between the colours: \"coral, ?, sand\"",
                );
            }
            Trouble::new(
                format!("{option}: the band has no colour \"{name}\""),
                format!(
                    "{}its colours are {}; {UNKNOWN} stands for one that you do not know",
                    did_you_mean_quoted(name, names.iter().copied()),
                    names.join(", ")
                ),
            )
        })
    };
    list.split(',').map(one).collect()
}

fn no_such_row(tied: &Tied, missing: NoSuchRow) -> Trouble {
    let band = tied.followed();
    let rows = |part: Part| band.rows(part).len();
    let parts = [Part::LeadIn, Part::Repeat, Part::LeadOut]
        .into_iter()
        .filter(|part| rows(*part) > 0);
    let parts = parts.map(|part| match part {
        Part::Repeat => format!(
            "{} of {}",
            counted(u64::from(band.repeats()), "repeat"),
            counted(rows(part) as u64, "row")
        ),
        part => format!("a {part} of {}", counted(rows(part) as u64, "row")),
    });
    Trouble::new(
        missing.to_string(),
        format!(
            "it has {}: name the last row that you have tied, as its sheet numbers it",
            parts.collect::<Vec<_>>().join(", ")
        ),
    )
}

/// Colours by their names in the sheet.
fn named<'a>(tied: &'a Tied, colours: &[u16]) -> Vec<&'a str> {
    let palette = tied.band().palette();
    let name = |colour: &u16| palette[usize::from(*colour)].name.as_str();
    colours.iter().map(name).collect()
}

fn in_words(
    tied: &Tied,
    mend: &MendArguments,
    place: TiedUpTo,
    found: &Mistakes,
    should_hang: &[(TiedUpTo, Vec<&str>)],
) -> String {
    let title = match tied.band().title() {
        "" => mend.subject.rule.as_str(),
        title => title,
    };
    let mut words = format!(
        "{}, {}\n",
        title.styled(say::heading()),
        after_in_words(place)
    );
    if let Some(said) = found.said_first() {
        words.push_str(&say::wrapped(&said, 0));
    }
    for (number, one) in (1..).zip(found.explanations.iter().take(MOST_LISTED)) {
        words.push_str(&explained(number, one, tied.band()));
    }
    if let Some(said) = found.said_of_others(MOST_LISTED) {
        words.push_str(&say::wrapped(
            &format!("{said} --knots names the last knots."),
            0,
        ));
    }
    words.push_str(&format!("{}:\n", should_hang_in_words()));
    for (place, colours) in should_hang {
        let after = capitalised(&after_in_words(*place));
        words.push_str(&say::wrapped(
            &format!("{after}: {}", colours.join(", ")),
            2,
        ));
    }
    words
}

fn explained(number: usize, one: &Explanation, band: &Band) -> String {
    let lines = (0..).zip(one.words(band));
    lines
        .map(|(at, line): (u32, String)| match at {
            0 => say::wrapped(&format!("{number}. {line}"), 0),
            _ => say::wrapped(&line, 3),
        })
        .collect()
}

fn as_data(tied: &Tied, found: &Mistakes, should_hang: &[(TiedUpTo, Vec<&str>)]) -> Value {
    let words = |changes: &[Change]| changes.iter().map(ToString::to_string).collect::<Vec<_>>();
    let explanations = found.explanations.iter().map(|one| {
        json!({
            "changes": words(&one.changes),
            "alike": one.alike.iter().map(|changes| words(changes)).collect::<Vec<_>>(),
            "share": (one.share * 1000.0).round() / 1000.0,
            "sureness": one.sureness.to_string(),
            "untie": one.mend.untie.iter().map(|column| column.number()).collect::<Vec<_>>(),
            "tie_again": one.mend.tie_again.iter().map(ToString::to_string).collect::<Vec<_>>(),
            "untying": one.mend.untying(),
            "leaving": one.mend.leaving(tied.band()),
        })
    });
    let should_hang = should_hang
        .iter()
        .map(|(place, colours)| json!({ "after": place.to_string(), "colours": colours }));
    json!({
        "as_written": found.is_as_written,
        "explanations": explanations.collect::<Vec<_>>(),
        "more": found.more,
        "knots": found.knots,
        "should_hang": should_hang.collect::<Vec<_>>(),
    })
}
