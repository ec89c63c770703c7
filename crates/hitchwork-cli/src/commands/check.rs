//! `check`: what is proved about a band.

use hitchwork_core::proof::{Frieze, KnotPlace, knots_that_break};
use serde_json::json;

use crate::arguments::CheckArguments;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, input, say};

pub(crate) fn run(check: &CheckArguments) -> Result<Verdict, Trouble> {
    let input::Input { band, .. } = input::band(&check.subject)?;
    let tied = super::tied(band, &check.subject, &check.making)?;
    let (band, report) = (tied.band(), tied.report());
    let wanted = check.want_symmetry.map(|group| {
        let breaking = knots_that_break(band.repeat(), band.thread_count(), group)?;
        Ok::<_, Trouble>((group, breaking))
    });
    let wanted = wanted.transpose()?;
    if check.json {
        let mut report = say::as_data(&tied);
        report["lay"] = json!(tied.lay().said());
        report["work"] = json!(tied.work());
        report["work"]["followed"] = json!(tied.followed_work());
        if let Some((group, knots)) = &wanted {
            report["wanted_symmetry"] = json!({ "group": group, "broken_by": knots });
        }
        say::json(&report)?;
    } else {
        let title = if band.title().is_empty() {
            check.subject.rule.as_str()
        } else {
            band.title()
        };
        say::out(format!(
            "{}\n{}{}{}{}{}",
            title.styled(say::heading()),
            say::summary(&tied),
            say::work(&tied),
            say::to_measure(report),
            wanted.map_or(String::new(), |(group, knots)| broken(group, &knots)),
            say::findings(report)
        ))?;
    }
    Ok(super::verdict(report, check.strict))
}

/// The most knots that are listed one by one.
const MOST_LISTED: usize = 12;

/// Which knots keep the band from having a symmetry.
fn broken(group: Frieze, knots: &[KnotPlace]) -> String {
    if knots.is_empty() {
        return format!("Its knots have the symmetry {group}.\n");
    }
    let places = knots.iter().take(MOST_LISTED).map(|knot| {
        let KnotPlace {
            row, knot, column, ..
        } = knot;
        format!("  row {row}, knot {knot} (column {column})\n")
    });
    let more = match knots.len().checked_sub(MOST_LISTED) {
        Some(more @ 1..) => format!("  and {more} more\n"),
        _ => String::new(),
    };
    format!(
        "For the symmetry {group}, it would need other kinds of knots in {} of the repeat:\n{}{more}",
        say::counted(knots.len() as u64, "place"),
        places.collect::<String>()
    )
}
