//! `collect --dry-run`: what a plan would make, how long that would take and how much room.

use std::time::Instant;

use hitchwork_collection::plan::Plan;
use hitchwork_collection::run::sample;
use hitchwork_core::craft::time_words;
use hitchwork_rules::Rules;
use serde_json::json;

use crate::arguments::CollectArguments;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, say};

/// This many members are made, spread over the plan, to guess by.
const SAMPLES: u64 = 8;

pub(super) fn run(
    asked: &CollectArguments,
    rules: &Rules,
    plan: &Plan,
) -> Result<Verdict, Trouble> {
    let workers = super::super::workers(asked.workers);
    let (candidates, most) = (plan.candidates(), plan.most_made());
    let began = Instant::now();
    let sampled = sample(rules, plan, SAMPLES);
    // All candidates of a choice are made to choose from, and only the chosen ones are written.
    #[allow(clippy::cast_precision_loss, reason = "an estimate")]
    let (seconds, bytes) = {
        let made = sampled.members.max(1) as f64;
        let seconds = began.elapsed().as_secs_f64() * candidates as f64 / made / workers as f64;
        (seconds, sampled.bytes as f64 * most as f64 / made)
    };
    let limited = plan
        .items
        .iter()
        .any(|item| item.best.is_some() || !item.keep.is_empty() || !item.reject.is_empty());
    if asked.json {
        let names: Vec<String> = plan.members().map(|member| member.name).collect();
        say::json(&json!({
            "title": plan.title,
            "members": most,
            "candidates": candidates,
            "conditions": limited,
            "seconds": seconds.round(),
            "bytes": bytes.round(),
            "names": names,
        }))?;
        return Ok(Verdict::Sound);
    }
    let mut names = String::new();
    for member in plan.members() {
        names.push_str(&member.name);
        names.push('\n');
    }
    say::out(names)?;
    let upper = if limited { "at most " } else { "" };
    let megabytes = bytes / 1e6;
    let time = match seconds {
        seconds if seconds < 90.0 => format!("{seconds:.0} s"),
        seconds => time_words(seconds / 60.0),
    };
    let of = match most == candidates {
        true => String::new(),
        false => format!(" of {}", say::counted(candidates, "candidate")),
    };
    say::aside(format!(
        "{}: {upper}{}{of}, about {time} with {} and {megabytes:.0} MB\n",
        plan.title.styled(say::heading()),
        say::counted(most, "band"),
        say::counted(workers as u64, "core"),
    ))?;
    Ok(Verdict::Sound)
}
