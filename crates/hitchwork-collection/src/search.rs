//! Seeded searches: many bands are made by chance, and those that meet conditions are kept.

use std::cmp::Ordering;
use std::fmt;
use std::ops::{ControlFlow, RangeInclusive};
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};
use std::time::{Duration, Instant};

use hitchwork_core::band::Band;
use hitchwork_core::craft::Habits;
use hitchwork_core::proof::{CanonicalForm, ColoursCount, Disguise, Disguises, Texture};
use hitchwork_core::tied::Tied;
use hitchwork_rules::{Expression, Rules};

use crate::workers::all_at_once;

/// What conditions and scores of a search know besides the measures of a band: how unlike
/// the bands kept so far it is, from 0 to 1.
pub const NOVELTY: &str = "novelty";

/// A search over seeds. Its result depends on nothing but what stands here and on what makes
/// the bands: not on the number of workers, nor on how fast they are.
#[derive(Clone, Debug)]
pub struct Search {
    /// The seeds to try, in order.
    pub seeds: RangeInclusive<u64>,
    /// How many bands are kept at most.
    pub count: usize,
    /// What a band must fulfil, asked for in this order. May use [`NOVELTY`]; such
    /// conditions are asked last.
    pub conditions: Vec<Expression>,
    /// What the best bands have most of; without it the first are kept, and the search ends
    /// when there are enough. May use [`NOVELTY`].
    pub best_by: Option<Expression>,
    /// What one design may be held as and still count as the same; of those only one is kept.
    pub disguises: Disguises,
    /// How colours count when designs are compared.
    pub colours: ColoursCount,
    /// Bands with their names that are known already, and not found once more.
    pub known: Vec<(String, Band)>,
    /// The maker's habits, which sizes and times follow.
    pub habits: Habits,
    /// How many threads of the computer work on it.
    pub workers: usize,
}

/// Why a seed made no band, or one that could not be measured.
#[derive(Debug)]
#[non_exhaustive]
pub enum Failure {
    /// The rule or an expression stopped.
    Rule(hitchwork_rules::Error),
    /// There is no such band.
    Band(hitchwork_core::Error),
}

impl From<hitchwork_rules::Error> for Failure {
    fn from(error: hitchwork_rules::Error) -> Self {
        Self::Rule(error)
    }
}

impl From<hitchwork_core::Error> for Failure {
    fn from(error: hitchwork_core::Error) -> Self {
        Self::Band(error)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Rule(error) => error.fmt(f),
            Self::Band(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for Failure {}

/// A band that was kept.
#[derive(Clone, Debug)]
pub struct FoundBand {
    /// The seed that made it.
    pub seed: u64,
    /// The band.
    pub band: Band,
    /// What it was kept for, where the best are kept.
    pub score: Option<f64>,
    /// How unlike the bands kept before it was.
    pub novelty: f64,
    texture: Option<Texture>,
    form: Option<[u8; 32]>,
}

/// What has become of the seeds so far.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct SearchTally {
    /// How many seeds were tried.
    pub tried: u64,
    /// How many made no band.
    pub failed: u64,
    /// How many each condition rejected, in the order of the search's conditions.
    pub rejected: Vec<u64>,
    /// How many were one already kept, in disguise.
    pub in_disguise: u64,
    /// How many fulfilled everything but were not among the best.
    pub not_best: u64,
    /// How many are kept.
    pub kept: usize,
}

/// Why a search ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SearchEnd {
    /// There were enough bands.
    Enough,
    /// All seeds have been tried.
    AllTried,
    /// It was stopped from outside.
    Stopped,
}

/// What a search found.
#[derive(Debug)]
#[non_exhaustive]
pub struct Searched {
    /// The bands: the best first, or in the order of their seeds.
    pub found: Vec<FoundBand>,
    /// What became of the seeds.
    pub tally: SearchTally,
    /// The first seed that made no band, and why.
    pub first_failure: Option<(u64, Failure)>,
    /// Some seeds that made a band kept already, with what it is in disguise.
    pub disguised: Vec<(u64, String)>,
    /// Why it ended.
    pub ended: SearchEnd,
}

/// This many disguises are put into words.
const MOST_DISGUISES_NAMED: usize = 20;

/// As long as a block of seeds should take, so that progress is seen and a wish to stop heard.
const BLOCK: Duration = Duration::from_millis(150);

/// What has become of one seed, without regard to the others.
enum Tried {
    Failed(Failure),
    Rejected(usize),
    Passed(Box<FoundBand>),
}

impl Search {
    /// Tries the seeds. `make` makes the band of a seed; `rules` lends its workers a deep
    /// stack. Between blocks of seeds, `watch` sees what has become of them so far and may
    /// end the search; so does `stop`, within a block. What was found until then is kept.
    pub fn run(
        &self,
        rules: &Rules,
        make: &(dyn Fn(u64) -> Result<Band, Failure> + Sync),
        stop: &AtomicBool,
        watch: &mut dyn FnMut(&SearchTally) -> ControlFlow<()>,
    ) -> Searched {
        let mut merging = Merging::new(self);
        let mut next = Some(*self.seeds.start()).filter(|_| !self.seeds.is_empty());
        let mut size = 16;
        while let Some(first) = next {
            let left = self.seeds.end() - first;
            let last = first + left.min(size - 1);
            let began = Instant::now();
            let block = self.block(rules, make, stop, first..=last);
            size = sized(size, began.elapsed());
            for (seed, tried) in (first..=last).zip(block) {
                let ended = match tried {
                    Some(tried) => merging.take(seed, tried),
                    None => Some(SearchEnd::Stopped),
                };
                if let Some(ended) = ended {
                    return merging.ended(ended);
                }
            }
            if watch(&merging.searched.tally).is_break() {
                return merging.ended(SearchEnd::Stopped);
            }
            next = last.checked_add(1).filter(|next| self.seeds.contains(next));
        }
        merging.ended(SearchEnd::AllTried)
    }

    /// What becomes of each seed of a block; nothing for those not tried before the stop.
    fn block(
        &self,
        rules: &Rules,
        make: &(dyn Fn(u64) -> Result<Band, Failure> + Sync),
        stop: &AtomicBool,
        seeds: RangeInclusive<u64>,
    ) -> Vec<Option<Tried>> {
        let count = usize::try_from(seeds.end() - seeds.start() + 1).expect("a block is short");
        let next = AtomicUsize::new(0);
        let work = || {
            let mut done = Vec::new();
            while !stop.load(Relaxed) {
                let number = next.fetch_add(1, Relaxed);
                if number >= count {
                    break;
                }
                let seed = seeds.start() + number as u64;
                done.push((number, self.tried(seed, make)));
            }
            done
        };
        let workers = self.workers.clamp(1, count);
        let shares = all_at_once(Some(rules), workers, work, |_| ());
        let mut block: Vec<Option<Tried>> = (0..count).map(|_| None).collect();
        for (number, tried) in shares.into_iter().flatten() {
            block[number] = Some(tried);
        }
        block
    }

    fn tried(&self, seed: u64, make: &(dyn Fn(u64) -> Result<Band, Failure> + Sync)) -> Tried {
        let judged = make(seed).and_then(|band| {
            let tied = Tied::by(band, self.habits);
            for (number, condition) in self.conditions.iter().enumerate() {
                if !condition.uses(NOVELTY) && !condition.holds(&tied)? {
                    return Ok(Tried::Rejected(number));
                }
            }
            let score = match self.best_by.as_ref().filter(|best| !best.uses(NOVELTY)) {
                Some(best_by) => Some(best_by.value(&tied)?),
                None => None,
            };
            let band = tied.into_band();
            // Where the colours come round too late to compare, every band counts as new.
            let form = CanonicalForm::of(&band, self.disguises, self.colours);
            Ok(Tried::Passed(Box::new(FoundBand {
                seed,
                score,
                novelty: 1.0,
                texture: Texture::of(&band),
                form: form.ok().map(|form| form.digest()),
                band,
            })))
        });
        judged.unwrap_or_else(Tried::Failed)
    }
}

/// The next block's size: so that it takes about as long as a block should.
fn sized(size: u64, took: Duration) -> u64 {
    match took {
        took if took < BLOCK / 2 => (size * 2).min(1 << 16),
        took if took > BLOCK * 2 => (size / 2).max(1),
        _ => size,
    }
}

/// Puts together what has become of the seeds, in their order.
struct Merging<'a> {
    search: &'a Search,
    known: Vec<FoundBand>,
    searched: Searched,
}

impl<'a> Merging<'a> {
    fn new(search: &'a Search) -> Self {
        let known = search.known.iter().map(|(_, band)| FoundBand {
            seed: 0,
            score: None,
            novelty: 1.0,
            texture: Texture::of(band),
            form: CanonicalForm::of(band, search.disguises, search.colours)
                .ok()
                .map(|form| form.digest()),
            band: band.clone(),
        });
        Self {
            known: known.collect(),
            search,
            searched: Searched {
                found: Vec::new(),
                tally: SearchTally {
                    rejected: vec![0; search.conditions.len()],
                    ..SearchTally::default()
                },
                first_failure: None,
                disguised: Vec::new(),
                ended: SearchEnd::AllTried,
            },
        }
    }

    /// Takes in what became of the next seed; says when there are enough.
    fn take(&mut self, seed: u64, tried: Tried) -> Option<SearchEnd> {
        self.searched.tally.tried += 1;
        match tried {
            Tried::Failed(failure) => self.fail(seed, failure),
            Tried::Rejected(number) => self.searched.tally.rejected[number] += 1,
            Tried::Passed(found) => {
                if let Err(failure) = self.consider(*found) {
                    self.fail(seed, failure);
                }
            }
        }
        self.searched.tally.kept = self.searched.found.len();
        let enough =
            self.search.best_by.is_none() && self.searched.found.len() >= self.search.count;
        enough.then_some(SearchEnd::Enough)
    }

    fn fail(&mut self, seed: u64, failure: Failure) {
        self.searched.tally.failed += 1;
        self.searched.first_failure.get_or_insert((seed, failure));
    }

    fn consider(&mut self, mut found: FoundBand) -> Result<(), Failure> {
        let kept = self.known.iter().chain(&self.searched.found);
        let distances =
            kept.filter_map(|kept| Some(found.texture.as_ref()?.distance(kept.texture.as_ref()?)));
        found.novelty = distances.fold(1.0, f64::min);
        let more = [(NOVELTY, found.novelty)];
        let tied = Tied::by(found.band, self.search.habits);
        for (number, condition) in self.search.conditions.iter().enumerate() {
            if condition.uses(NOVELTY) && !condition.holds_knowing(&tied, &more)? {
                self.searched.tally.rejected[number] += 1;
                return Ok(());
            }
        }
        let best_by = self.search.best_by.as_ref();
        if let Some(best_by) = best_by.filter(|best| best.uses(NOVELTY)) {
            found.score = Some(best_by.value_knowing(&tied, &more)?);
        }
        found.band = tied.into_band();
        if let Some((name, same)) = self.same_as(&found) {
            self.searched.tally.in_disguise += 1;
            self.name_disguise(&name, same, &found)?;
            // The better one of the two stays.
            let better = same.filter(|at| before(&found, &self.searched.found[*at]).is_lt());
            let Some(worse) = better else { return Ok(()) };
            self.searched.found.remove(worse);
        } else if self.searched.found.len() == self.search.count {
            let Some(last) = self.searched.found.last() else {
                return Ok(());
            };
            self.searched.tally.not_best += 1;
            if before(&found, last).is_gt() {
                return Ok(());
            }
            self.searched.found.pop();
        }
        let at = self
            .searched
            .found
            .partition_point(|kept| before(kept, &found).is_lt());
        self.searched.found.insert(at, found);
        Ok(())
    }

    /// The name of the band that a new one is in disguise, and its place among the found
    /// ones if it is one of them.
    fn same_as(&self, found: &FoundBand) -> Option<(String, Option<usize>)> {
        let form = found.form?;
        let is_it = |kept: &FoundBand| kept.form == Some(form);
        if let Some(at) = self.known.iter().position(is_it) {
            return Some((self.search.known[at].0.clone(), None));
        }
        let at = self.searched.found.iter().position(is_it)?;
        Some((
            format!("the band of seed {}", self.searched.found[at].seed),
            Some(at),
        ))
    }

    fn name_disguise(
        &mut self,
        name: &str,
        same: Option<usize>,
        found: &FoundBand,
    ) -> Result<(), Failure> {
        if self.searched.disguised.len() >= MOST_DISGUISES_NAMED {
            return Ok(());
        }
        let kept = match same {
            Some(at) => &self.searched.found[at].band,
            None => match self.search.known.iter().find(|(known, _)| known == name) {
                Some((_, band)) => band,
                None => return Ok(()),
            },
        };
        let (disguises, colours) = (self.search.disguises, self.search.colours);
        if let Some(disguise) = Disguise::between(kept, &found.band, disguises, colours)? {
            self.searched
                .disguised
                .push((found.seed, disguise.words(name)));
        }
        Ok(())
    }

    fn ended(mut self, ended: SearchEnd) -> Searched {
        self.searched.ended = ended;
        self.searched
    }
}

/// The better before the worse; of equals, the one of the smaller seed.
fn before(one: &FoundBand, other: &FoundBand) -> Ordering {
    let scores = match (one.score, other.score) {
        (Some(one), Some(other)) => other.total_cmp(&one),
        _ => Ordering::Equal,
    };
    scores.then(one.seed.cmp(&other.seed))
}
