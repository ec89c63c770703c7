//! `explain`: the page of a finding's or an error's code.

use hitchwork_core::near::did_you_mean;
use hitchwork_core::proof::Code;

use crate::arguments::ExplainArguments;
use crate::trouble::Trouble;
use crate::{Verdict, advice, say};

pub(crate) fn run(explain: &ExplainArguments) -> Result<Verdict, Trouble> {
    let text = match &explain.code {
        Some(code) => page(code)?,
        None => all(),
    };
    say::out(text)?;
    Ok(Verdict::Sound)
}

fn page(asked: &str) -> Result<String, Trouble> {
    let code = in_brackets(asked);
    let page = Code::named(code)
        .map(Code::page)
        .or_else(|| hitchwork_rules::explain(code));
    let advised = |page: &str| match advice::on_code(code) {
        Some(advice) if !advice.contains("hitchwork explain") => {
            format!("{page}\nWith this command\n  {advice}\n")
        }
        _ => page.to_owned(),
    };
    page.map(advised).ok_or_else(|| {
        let findings = Code::ALL.iter().map(|code| code.name());
        let known: Vec<&str> = findings.chain(hitchwork_rules::codes()).collect();
        let mut meant = did_you_mean(code, known.iter().copied());
        if meant.is_empty() && !code.is_empty() {
            let like = known.into_iter().filter(|known| known.contains(code));
            let like: Vec<&str> = like.collect();
            if !like.is_empty() {
                meant = format!("did you mean {}? ", like.join(" or "));
            }
        }
        Trouble::new(
            format!("there is no code {code}"),
            format!("{meant}hitchwork explain lists all codes"),
        )
    })
}

/// The code in what was copied from a message: `error[no-drift]`, with what comes behind it
/// or without.
fn in_brackets(asked: &str) -> &str {
    let inside = asked
        .split_once('[')
        .and_then(|(_, behind)| behind.split_once(']'));
    inside.map_or(asked, |(code, _)| code).trim()
}

fn all() -> String {
    let findings = Code::ALL.iter().map(|code| code.page());
    let errors = hitchwork_rules::codes()
        .into_iter()
        .filter_map(hitchwork_rules::explain);
    let first_lines = |pages: &mut dyn Iterator<Item = &'static str>| -> String {
        pages
            .filter_map(|page| page.lines().next())
            .map(|line| format!("  {line}\n"))
            .collect()
    };
    let (mut findings, mut errors) = (findings, errors);
    format!(
        "About bands\n{}\nAbout rules\n{}",
        first_lines(&mut findings),
        first_lines(&mut errors)
    )
}
