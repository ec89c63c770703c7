//! `explore`: many bands by chance, of which those are kept that fulfil conditions.

mod asked;
mod census;
mod found;

use std::ops::ControlFlow;
use std::path::Path;

use comfy_table::{Table, presets};
use hitchwork_collection::search::{Failure, NOVELTY, Search, SearchEnd, SearchTally, Searched};
use hitchwork_core::band::Band;
use hitchwork_core::chance::nearby;
use hitchwork_core::measures::MEASURES;
use hitchwork_core::proof::ColoursCount;
use hitchwork_rules::{Expression, Rules};
use serde_json::json;

use self::asked::{SOUND, condition, disguises};
use crate::arguments::{ExploreArguments, TellApart};
use crate::progress::ProgressReport;
use crate::stopping::stopped_from_outside;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

/// The most bands that one search keeps.
const MOST_KEPT: usize = 10_000;

pub(crate) fn run(explore: &ExploreArguments) -> Result<Verdict, Trouble> {
    if explore.measures {
        return measures(explore.json);
    }
    if explore.count_all {
        return census::run(explore);
    }
    if let (true, Some(out)) = (explore.json, &explore.out) {
        folder::as_text(out, folder::NOT_IN_JSON)?;
    }
    let search = search(explore)?;
    let name = name(explore);
    let out = explore
        .out
        .clone()
        .unwrap_or_else(|| Path::new("out").join(format!("{name}-explored")));
    // What is in the way now would lose all that is found.
    folder::takes(&out, &|file| found::may_write(&name, &search, file))?;
    let (searched, search) = searched(explore, search)?;
    if searched.found.is_empty() {
        return Err(nothing(&searched, &search));
    }
    let files = found::files(&name, &search, &searched, &headline(&search, &searched))?;
    let written = folder::write_all(&out, &files)?;
    if explore.json {
        say::json(&found::as_json(&search, &searched, &written))?;
    } else {
        say::out(found::words(&name, &search, &searched, &written))?;
    }
    Ok(Verdict::Sound)
}

/// The names by which conditions and scores know a band.
fn measures(as_json: bool) -> Result<Verdict, Trouble> {
    let novelty = "how unlike the bands kept so far it is, from 0 to 1; only while exploring";
    if as_json {
        let measures = MEASURES.iter().map(|measure| {
            json!({
                "name": measure.name,
                "unit": measure.unit,
                "sentence": measure.sentence,
                "words": measure.words,
            })
        });
        let more = json!({ "name": NOVELTY, "unit": "share", "sentence": novelty, "words": [] });
        say::json(&measures.chain([more]).collect::<Vec<_>>())?;
        return Ok(Verdict::Sound);
    }
    let mut table = Table::new();
    table.load_preset(presets::NOTHING);
    for measure in MEASURES {
        let words = match measure.words {
            [] => String::new(),
            words => format!(": {}", words.join(", ")),
        };
        table.add_row([
            measure.name.to_owned(),
            format!("{}{words}", measure.sentence),
        ]);
    }
    table.add_row([NOVELTY, novelty]);
    say::out(format!("{}\n", table.trim_fmt()))?;
    Ok(Verdict::Sound)
}

fn search(explore: &ExploreArguments) -> Result<Search, Trouble> {
    if !(1..=MOST_KEPT).contains(&explore.count) {
        return Err(Trouble::new(
            format!(
                "one search keeps 1 to {MOST_KEPT} bands, not {}",
                explore.count
            ),
            "keep the best few, and look further with other seeds",
        ));
    }
    let read = |text: &String| Expression::condition_knowing(text, &[NOVELTY]);
    let mut conditions: Vec<Expression> = explore
        .conditions
        .iter()
        .map(read)
        .collect::<Result<_, _>>()?;
    if !explore.even_unsound {
        conditions.push(Expression::condition(SOUND)?);
    }
    let best_by = explore.best_by.as_ref();
    let best_by = best_by.map(|text| Expression::score_knowing(text, &[NOVELTY]));
    Ok(Search {
        seeds: explore.seeds.clone(),
        count: explore.count,
        conditions,
        best_by: best_by.transpose()?,
        disguises: disguises(&explore.tell_apart),
        colours: match explore.tell_apart.contains(&TellApart::Colours) {
            true => ColoursCount::ByValue,
            false => ColoursCount::ByLikeness,
        },
        known: Vec::new(),
        habits: explore.pace.habits(),
        workers: super::workers(explore.workers),
    })
}

/// The name under which the results go.
fn name(explore: &ExploreArguments) -> String {
    match &explore.near {
        Some(near) => format!("near-{}", input::short_name(near)),
        None => input::short_name(&explore.subject.rule),
    }
}

fn searched(explore: &ExploreArguments, mut search: Search) -> Result<(Searched, Search), Trouble> {
    let rules = input::rules(&explore.subject);
    let Some(near) = &explore.near else {
        if explore.subject.rule.is_empty() {
            return Err(Trouble::new(
                "there is no rule to explore",
                "name one, such as hitchwork explore flotsam; or a band, with --near",
            ));
        }
        let rule = input::rule(&rules, &explore.subject.rule)?;
        if explore.subject.seed.is_some() {
            return Err(Trouble::new(
                "exploring tries many seeds, and --seed asks for one",
                "say which with --seeds 1..5000, or make the one band with make",
            ));
        }
        let settings = input::settings(&explore.subject)?;
        input::one_palette(&explore.subject, &rules, &rule, &settings)?;
        let [start, end] = [explore.seeds.start(), explore.seeds.end()];
        let first = rules.make(&rule, &settings.clone().seed(*start));
        if start != end && first.is_ok_and(|made| !made.leaves_to_chance) {
            return Err(leaves_nothing_to_chance(&explore.subject.rule));
        }
        let make = |seed: u64| {
            let band = rules.make(&rule, &settings.clone().seed(seed))?.band;
            Ok(match explore.subject.mirrored {
                true => band.mirrored(),
                false => band,
            })
        };
        let searched = go(explore, &search, &rules, &make)?;
        return Ok((searched, search));
    };
    if !explore.subject.rule.is_empty() {
        return Err(Trouble::new(
            format!(
                "both a rule, {}, and a band to stay near, {near}, are given",
                explore.subject.rule
            ),
            "leave one of them out",
        ));
    }
    let input::Input { name, band } = input::band_of(&explore.subject, near)?;
    search.known.push((name, band.clone()));
    let make = |seed: u64| -> Result<Band, Failure> { Ok(nearby(&band, seed, explore.changes)?) };
    let searched = go(explore, &search, &rules, &make)?;
    Ok((searched, search))
}

/// A rule that makes the same band from every seed is not worth a thousand of them.
fn leaves_nothing_to_chance(rule: &str) -> Trouble {
    Trouble::new(
        format!("{rule} leaves nothing to chance: every seed makes the same band"),
        format!(
            "try its settings with --set; hitchwork compare {rule} sets its bands side by side; or explore the neighbours of one band with --near"
        ),
    )
}

fn go(
    explore: &ExploreArguments,
    search: &Search,
    rules: &Rules,
    make: &(dyn Fn(u64) -> Result<Band, Failure> + Sync),
) -> Result<Searched, Trouble> {
    let stop = stopped_from_outside()?;
    let total = (search.seeds.end() - search.seeds.start()).saturating_add(1);
    let mut progress = ProgressReport::new(total, "seeds", explore.quiet || explore.json);
    let mut watch = |tally: &SearchTally| {
        progress.done(tally.tried, &format!(", {} kept", tally.kept));
        ControlFlow::Continue(())
    };
    let searched = search.run(rules, make, &stop, &mut watch);
    progress.end();
    Ok(searched)
}

/// Why nothing was found: the first failure where there were only failures, else the
/// condition that rejected most.
fn nothing(searched: &Searched, search: &Search) -> Trouble {
    let tally = &searched.tally;
    if tally.tried == tally.failed
        && let Some((seed, failure)) = &searched.first_failure
    {
        return match failure {
            Failure::Band(error) => Trouble::new(
                format!("none of the changed bands is one; seed {seed}: {error}"),
                error.help().unwrap_or_default(),
            ),
            failure => Trouble::new(
                format!(
                    "none of {} made a band; seed {seed}: {failure}",
                    say::counted(tally.tried, "seed")
                ),
                first_help(failure).unwrap_or_else(|| {
                    format!("make it alone to see more: hitchwork make … --seed {seed}")
                }),
            ),
        };
    }
    let tried = say::counted(tally.tried, "seed");
    let most = (0..)
        .zip(&tally.rejected)
        .max_by_key(|(number, count)| (*count, std::cmp::Reverse(*number)));
    let blamed = most
        .filter(|(_, count)| **count > 0)
        .map(|(number, count): (usize, _)| {
            format!("; {} rejected {count} of them", condition(search, number))
        });
    let stopped = match searched.ended {
        SearchEnd::Stopped => " before it was stopped",
        _ => "",
    };
    let disguised = match tally.in_disguise {
        0 => String::new(),
        count => format!("; {count} were known already, in disguise"),
    };
    Trouble::new(
        format!(
            "nothing was found among {tried}{stopped}{}{disguised}",
            blamed.unwrap_or_default()
        ),
        "ask for less, or try more seeds with --seeds; conditions that contradict each other are never met together",
    )
}

fn first_help(failure: &Failure) -> Option<String> {
    match failure {
        Failure::Rule(error) => error.diagnostics().first()?.help.clone(),
        _ => None,
    }
}

/// What was asked for and found, in one line.
fn headline(search: &Search, searched: &Searched) -> String {
    let asked: Vec<String> = search
        .conditions
        .iter()
        .map(ToString::to_string)
        .filter(|text| text != SOUND)
        .collect();
    let asked = match asked.is_empty() {
        true => String::new(),
        false => format!(" with {}", asked.join(" and ")),
    };
    let best = match &search.best_by {
        Some(best_by) => format!(", the best first by {best_by}"),
        None => String::new(),
    };
    format!(
        "{} of {} tried{asked}{best}.",
        say::counted(searched.found.len() as u64, "band"),
        say::counted(searched.tally.tried, "seed")
    )
}
