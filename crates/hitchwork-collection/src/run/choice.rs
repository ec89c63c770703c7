//! Which members of an item are made, where only the best are.

use std::cmp::Ordering;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

use hitchwork_core::band::Band;
use hitchwork_core::tied::Tied;
use hitchwork_rules::Rules;

use super::chosen::{BestOf, digest};
use super::earlier::Earlier;
use crate::folder::{FolderError, Share};
use crate::making::{band, left_out, rank};
use crate::plan::{Asked, Best, Item, Member, Plan};
use crate::workers::all_at_once;

/// For each item the numbers of its members, from 1, in order; nothing where all are made.
pub(super) struct Choices {
    chosen: Vec<Option<BestOf>>,
}

/// A candidate with how it ranks.
#[derive(Clone, Copy, PartialEq)]
struct Ranked {
    preferred: usize,
    score: f64,
    number: u64,
}

impl Ranked {
    /// The better first; of equals, the earlier.
    fn order(&self, other: &Self) -> Ordering {
        other
            .preferred
            .cmp(&self.preferred)
            .then(other.score.total_cmp(&self.score))
            .then(self.number.cmp(&other.number))
    }
}

impl Choices {
    /// Chooses, or takes an earlier choice from the same candidates; nothing if it was
    /// stopped. `remember` keeps each choice.
    pub(super) fn make(
        rules: &Rules,
        plan: &Plan,
        earlier: &Earlier,
        workers: usize,
        stop: &AtomicBool,
        remember: &mut dyn FnMut(&str) -> Result<u64, FolderError>,
    ) -> Result<Option<Self>, FolderError> {
        let mut chosen = Vec::with_capacity(plan.items.len());
        for (at, item) in plan.items.iter().enumerate() {
            let Some(best) = &item.best else {
                chosen.push(None);
                continue;
            };
            let digest = digest(item, best);
            let choice = match earlier.choice(&digest, item) {
                Some(known) => known.clone(),
                None => {
                    let chosen = best_of(rules, item, at, best, workers, stop);
                    let Some((numbers, asked)) = chosen else {
                        return Ok(None);
                    };
                    let choice = BestOf {
                        item: digest,
                        numbers,
                        asked,
                    };
                    remember(&choice.line())?;
                    choice
                }
            };
            chosen.push(Some(choice));
        }
        Ok(Some(Self { chosen }))
    }

    /// The choices, as lines of a manifest.
    pub(super) fn lines(&self) -> Vec<String> {
        self.chosen.iter().flatten().map(BestOf::line).collect()
    }

    pub(super) fn count(&self, plan: &Plan, part: Option<Share>) -> u64 {
        let of = |(item, chosen): (&Item, &Option<BestOf>)| match chosen {
            Some(choice) => choice.numbers.len() as u64,
            None => item.candidates(),
        };
        let all: u64 = plan.items.iter().zip(&self.chosen).map(of).sum();
        match part {
            None => all,
            Some(part) => (0..all).filter(|place| part.has(*place)).count() as u64,
        }
    }

    /// The members, in order.
    pub(super) fn members<'a>(
        &'a self,
        plan: &'a Plan,
        part: Option<Share>,
    ) -> impl Iterator<Item = Member> + Send + 'a {
        let items = plan.items.iter().enumerate().zip(&self.chosen);
        let all = items.flat_map(|((at, item), chosen)| {
            let count = chosen
                .as_ref()
                .map_or(item.candidates(), |choice| choice.numbers.len() as u64);
            (0..count).map(move |nth| {
                let nth = chosen.as_ref().map_or(nth, |choice| {
                    choice.numbers[usize::try_from(nth).expect("below a length")] - 1
                });
                item.member(at, nth)
            })
        });
        let mine = move |(place, _): &(u64, Member)| part.is_none_or(|part| part.has(*place));
        (0..).zip(all).filter(mine).map(|(_, member)| member)
    }
}

/// The numbers of the best candidates, in order, and of those that cannot be made: these
/// are reported like any other member that fails. With them goes what the rule asked for in
/// the runs of all candidates.
fn best_of(
    rules: &Rules,
    item: &Item,
    at: usize,
    best: &Best,
    workers: usize,
    stop: &AtomicBool,
) -> Option<(Vec<u64>, Asked)> {
    let next = AtomicU64::new(0);
    let count = item.candidates();
    let work = || {
        let (mut kept, mut failed, mut asked) = (Vec::new(), Vec::new(), Asked::default());
        while !stop.load(Relaxed) {
            let nth = next.fetch_add(1, Relaxed);
            if nth >= count {
                break;
            }
            let (ranked, for_it) = ranked(rules, item, &item.member(at, nth), best);
            asked.join(for_it);
            match ranked {
                Ok(Some(ranked)) => kept.push(ranked),
                Ok(None) => {}
                Err(()) => failed.push(nth + 1),
            }
            // Only the best so far are kept, whatever the number of candidates.
            if kept.len() > 2 * best.count + 64 {
                kept.sort_by(Ranked::order);
                kept.truncate(best.count);
            }
        }
        (kept, failed, asked)
    };
    let shares = all_at_once(Some(rules), workers, work, |_| ());
    if stop.load(Relaxed) {
        return None;
    }
    let (mut kept, mut failed, mut asked) = (Vec::new(), Vec::new(), Asked::default());
    for (its_kept, its_failed, its_asked) in shares {
        kept.extend(its_kept);
        failed.extend(its_failed);
        asked.join(its_asked);
    }
    kept.sort_by(Ranked::order);
    kept.truncate(best.count);
    let mut numbers: Vec<u64> = kept
        .into_iter()
        .map(|ranked| ranked.number)
        .chain(failed)
        .collect();
    numbers.sort_unstable();
    Some((numbers, asked))
}

/// How a member ranks, if it is not left out and can be made; and what its rule asked for.
fn ranked(
    rules: &Rules,
    item: &Item,
    member: &Member,
    best: &Best,
) -> (Result<Option<Ranked>, ()>, Asked) {
    let (band, asked) = band(rules, item, member);
    let ranked = band
        .map_err(|_| ())
        .and_then(|band| rank_of(band, item, member, best));
    (ranked, asked)
}

fn rank_of(band: Band, item: &Item, member: &Member, best: &Best) -> Result<Option<Ranked>, ()> {
    let tied = Tied::by(band, item.habits);
    if left_out(item, &tied).map_err(|_| ())?.is_some() {
        return Ok(None);
    }
    let (preferred, score) = rank(item, best.by.as_ref(), &tied).map_err(|_| ())?;
    Ok(Some(Ranked {
        preferred,
        score,
        number: member.number,
    }))
}
