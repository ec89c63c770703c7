//! `explore --count-all`: every design of a small size.

use std::ops::ControlFlow;

use hitchwork_collection::census::{Census, CensusError, Counted, MOST_REPEATS};
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::Frieze;
use serde_json::json;

use super::asked::disguises;
use crate::arguments::{ExploreArguments, KindChoice};
use crate::progress::ProgressReport;
use crate::stopping::stopped_from_outside;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, say};

impl From<KindChoice> for Kind {
    fn from(choice: KindChoice) -> Self {
        match choice {
            KindChoice::Forward => Self::Forward,
            KindChoice::Backward => Self::Backward,
            KindChoice::ForwardBackward => Self::ForwardBackward,
            KindChoice::BackwardForward => Self::BackwardForward,
        }
    }
}

pub(super) fn run(explore: &ExploreArguments) -> Result<Verdict, Trouble> {
    let (threads, rows) = (explore.threads.unwrap_or(2), explore.rows.unwrap_or(2));
    let kinds: Vec<Kind> = match explore.kinds.as_slice() {
        [] => Kind::ALL.to_vec(),
        some => some.iter().map(|kind| (*kind).into()).collect(),
    };
    let census = Census::new(threads, rows, &kinds, disguises(&explore.tell_apart));
    let census = census.map_err(|error| trouble(&error))?;
    let stop = stopped_from_outside()?;
    let mut progress =
        ProgressReport::new(census.repeats(), "repeats", explore.quiet || explore.json);
    let mut watch = |done| {
        progress.done(done, "");
        ControlFlow::Continue(())
    };
    let counted = census.take(super::super::workers(explore.workers), &stop, &mut watch);
    progress.end();
    let Some(counted) = counted else {
        return Err(Trouble::new(
            "the count was stopped before its end, and part of a count says nothing",
            "count fewer threads, rows or kinds, or give it the time",
        ));
    };
    if explore.json {
        let by_symmetry: serde_json::Map<String, serde_json::Value> = counted
            .by_symmetry
            .iter()
            .map(|(group, count)| (group.name().to_owned(), json!(count)))
            .collect();
        say::json(&json!({
            "threads": threads,
            "rows": rows,
            "kinds": kinds.iter().map(|kind| kind.name()).collect::<Vec<_>>(),
            "repeats": counted.repeats,
            "designs": counted.designs,
            "by_symmetry": by_symmetry,
            "accounted_for": counted.accounted_for,
        }))?;
    } else {
        say::out(words(threads, rows, &counted))?;
    }
    Ok(Verdict::Sound)
}

fn words(threads: u16, rows: usize, counted: &Counted) -> String {
    let title = format!(
        "Full fabrics of {} and {}",
        say::counted(threads, "thread"),
        say::counted(rows as u64, "row")
    );
    let mut text = format!(
        "{}\n  repeats  {}\n  designs  {}, each counted once however it is held and wherever it begins\n",
        title.styled(say::heading()),
        counted.repeats,
        counted.designs
    );
    for (number, (group, count)) in counted.by_symmetry.iter().enumerate() {
        let label = if number == 0 { "of them" } else { "" };
        let group: Frieze = *group;
        text.push_str(&format!(
            "  {label:<7}  {count} {group}: {}\n",
            group.words()
        ));
    }
    text.push_str(&format!(
        "  proof    their disguises add up to {} repeats{}\n",
        counted.accounted_for,
        match counted.accounted_for == counted.repeats {
            true => ", which are all",
            false => ": that is not all of them, which is a mistake in this program",
        }
    ));
    text
}

fn trouble(error: &CensusError) -> Trouble {
    let help = match error {
        CensusError::Lattice(error) => error.help().unwrap_or_default(),
        CensusError::TooMany { .. } => {
            format!(
                "count fewer threads, rows or kinds; {MOST_REPEATS} repeats already take minutes"
            )
        }
        CensusError::KindsNotKept { image, .. } => {
            format!(
                "add {image} to --kinds, or tell such bands apart with --tell-apart mirrored,upside-down,half-turned"
            )
        }
        _ => "count another fabric".to_owned(),
    };
    Trouble::new(error.to_string(), help)
}
