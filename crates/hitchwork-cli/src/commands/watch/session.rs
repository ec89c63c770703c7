//! The session: what is wanted, the newest of what came of it, and how the page is told.

use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicU64;
use std::sync::{Arc, Mutex, MutexGuard, OnceLock};
use std::time::{Duration, Instant};

use hitchwork_core::craft::Habits;
use hitchwork_draw::fabric;
use hitchwork_rules::load::FileKind;
use hitchwork_rules::{Limits, Rule, Rules, Settings};
use tokio::sync::watch;

use super::command_words::{base_words, quoted};
use super::files::Noticing;
use super::good::{Good, Painted, PictureCache, RunOutcome};
use super::lock::locked;
use super::painting::{Painting, PaintingNews};
use super::runs::{self, IdleKeeper, Notifier};
use super::settings::{Memory, SessionSettings, SettingsChange};
use super::update::{Control, ShownProblem, Update};
use crate::arguments::{OwnPace, WatchArguments};
use crate::trouble::Trouble;
use crate::{folder, input};

/// How long a file may be missing: editors that put a new one in its place take it away
/// for a moment.
const MISSING: Duration = Duration::from_millis(400);
/// How much longer than its limit a rule is waited for.
const LEEWAY: Duration = Duration::from_millis(500);

/// What the page and the rule's file ask for, and what came of it.
pub(super) struct Session {
    pub(super) rules: Rules,
    pub(super) rule: String,
    /// What notices changes, where the rule is not a built-in one.
    pub(super) noticing: OnceLock<Noticing>,
    pub(super) name: String,
    out: PathBuf,
    /// The settings of the command line that the page does not change, and the words in which
    /// they were given.
    pub(super) base: Settings,
    pub(super) base_words: Vec<String>,
    pub(super) palette_words: Option<String>,
    pub(super) habits: Habits,
    /// How long a part of a run may take.
    pub(super) allowance: Duration,
    /// What the command line asks for of all that the page changes.
    given: SessionSettings,
    wanted: Mutex<Wanted>,
    pub(super) notifier: Notifier<RunOutcome>,
    pub(super) painting: Mutex<Painting>,
    pub(super) good: Mutex<Option<Arc<Good>>>,
    cache: Mutex<PictureCache>,
    pub(super) runs: AtomicU64,
    pub(super) updates: watch::Sender<Arc<Update>>,
}

pub(super) struct Wanted {
    pub(super) wishes: SessionSettings,
    /// Counts what pages have asked for.
    pub(super) wish: u64,
    pub(super) controls: Vec<Control>,
}

impl Session {
    /// The session, and what keeps its runs: it waits until it is told to begin.
    pub(super) fn new(
        watch: &WatchArguments,
        rules: Rules,
    ) -> Result<(Arc<Self>, IdleKeeper<RunOutcome>), Trouble> {
        let subject = &watch.subject;
        let name = input::short_name(&subject.rule);
        let out = watch.out.clone();
        let given = SessionSettings {
            settings: subject.settings.iter().cloned().collect(),
            seed: subject.seed.unwrap_or(0),
            length_cm: subject.length,
            wrist_cm: subject.wrist_mm().map(|mm| mm / 10.0),
            mirrored: subject.mirrored,
        };
        let pace = OwnPace {
            pace: watch.pace.as_ref().map(|pace| pace.value),
            order: watch.order,
        };
        let (updates, _) = watch::channel(Arc::new(Update {
            start: start(),
            rule: subject.rule.clone(),
            title: name.clone(),
            given: given.clone(),
            wishes: given.clone(),
            ..Update::default()
        }));
        let (notifier, idle) = runs::keeper();
        let session = Self {
            rules: rules.tracing_pictures(),
            rule: subject.rule.clone(),
            noticing: OnceLock::new(),
            out: out.unwrap_or_else(|| Path::new("out").join(&name)),
            name,
            base: input::fixed(subject)?,
            base_words: base_words(watch),
            palette_words: subject
                .palette
                .as_ref()
                .map(|palette| format!("--palette {}", quoted(palette))),
            habits: pace.habits(),
            allowance: allowance(subject.seconds.unwrap_or(Limits::default().seconds)),
            wanted: Mutex::new(Wanted {
                wishes: given.clone(),
                wish: 0,
                controls: Vec::new(),
            }),
            given,
            notifier,
            painting: Mutex::default(),
            good: Mutex::new(None),
            cache: Mutex::default(),
            runs: AtomicU64::new(0),
            updates,
        };
        Ok((Arc::new(session), idle))
    }

    pub(super) fn wanted(&self) -> MutexGuard<'_, Wanted> {
        locked(&self.wanted)
    }

    /// Looks again whenever the rule's file changes, or one that it uses.
    pub(super) fn notice(self: &Arc<Self>, rule: &Path) -> Result<(), Trouble> {
        let session = Arc::downgrade(self);
        let changed = move || {
            if let Some(session) = session.upgrade() {
                session.look_again();
            }
        };
        let noticing = Noticing::new(rule, changed)?;
        self.noticing.get_or_init(|| noticing);
        Ok(())
    }

    /// The rule may have changed.
    pub(super) fn look_again(&self) {
        self.notifier.notify();
    }

    /// A page asks for something else. Gives how many changes there have been since the
    /// command began, this one included.
    pub(super) fn change(&self, changes: SettingsChange) -> Result<u64, &'static str> {
        let mut wanted = self.wanted();
        wanted.wishes.change(changes)?;
        Ok(self.tell_of_change(&mut wanted))
    }

    /// A page that was open before the command started again says how everything was. That counts
    /// unless somebody has asked for something since: then this is newer.
    pub(super) fn remember(&self, memory: &Memory) -> u64 {
        let mut wanted = self.wanted();
        if wanted.wish > 0 {
            return wanted.wish;
        }
        wanted.wishes = self.given.after_restart(memory);
        self.tell_of_change(&mut wanted)
    }

    /// All pages learn at once what is wanted now, and what comes of it when that is known.
    fn tell_of_change(&self, wanted: &mut Wanted) -> u64 {
        wanted.wish += 1;
        self.updates.send_modify(|update| {
            *update = Arc::new(Update {
                wishes: wanted.wishes.clone(),
                wish: wanted.wish,
                is_busy: true,
                ..Update::clone(update)
            });
        });
        self.notifier.notify();
        wanted.wish
    }

    pub(super) fn updates(&self) -> watch::Receiver<Arc<Update>> {
        self.updates.subscribe()
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    pub(super) fn good(&self) -> Option<Arc<Good>> {
        locked(&self.good).clone()
    }

    /// The newest picture, as much of it as is looked at; nothing where there is none yet.
    pub(super) fn picture(&self, view: &fabric::View) -> Option<Painted> {
        let good = self.good()?;
        Some(locked(&self.cache).look(&good, view))
    }

    /// Paints what will most likely be asked for, while the update is on its way.
    pub(super) fn paint_ahead(&self) {
        let mut cache = locked(&self.cache);
        if let Some(good) = self.good() {
            cache.paint_ahead(&good);
        }
    }

    /// The pages of the working chart; none where the band has no chart.
    pub(super) fn charts(&self) -> Vec<String> {
        self.good().map_or_else(Vec::new, |good| good.charts())
    }

    pub(super) fn difficulty(&self) -> Option<String> {
        self.good().map(|good| good.difficulty())
    }

    pub(super) fn steps(&self) -> Option<String> {
        self.good().map(|good| good.steps())
    }

    /// Saves what is shown into the chosen folder, with the bytes that `make` writes.
    pub(super) fn save(&self, what: &str) -> Result<String, Trouble> {
        let Some(good) = self.good() else {
            return Err(Trouble::new(
                "there is no band to save yet",
                "put the rule right first",
            ));
        };
        let files = good.files(what, &self.name)?;
        let written = folder::write_all(&self.out, &files)?;
        Ok(written.places[0].display().to_string())
    }

    /// Reads the rule, waiting for a moment where its file is missing.
    pub(super) fn rule(&self, rules: &Rules) -> Result<Rule, Trouble> {
        let began = Instant::now();
        loop {
            match input::rule(rules, &self.rule) {
                Err(Trouble::Plain(_)) if began.elapsed() < MISSING => {
                    std::thread::sleep(Duration::from_millis(20));
                }
                read => return read,
            }
        }
    }

    pub(super) fn settings(&self, wishes: &SessionSettings) -> Settings {
        let mut settings = self.base.clone().seed(wishes.seed);
        for (name, value) in &wishes.settings {
            settings = settings.set(name, value.as_str());
        }
        match wishes.length_mm() {
            Some(length_mm) => settings.length_mm(length_mm),
            None => settings,
        }
    }

    /// What the page is told of what has been painted, and of the band that is shown.
    pub(super) fn painting_news(&self) -> PaintingNews {
        let good = self.good();
        let mut news = locked(&self.painting).news();
        if let Some(good) = good {
            (news.tied, news.missed) = (good.painted, good.knots.missed());
            news.shows_drawn = good.knots.shows_drawn();
        }
        news
    }

    pub(super) fn shown(&self, trouble: Trouble) -> Vec<ShownProblem> {
        let text = |file: &str| {
            let built_in = hitchwork_rules::built_in(file).map(ToOwned::to_owned);
            built_in
                .or_else(|| input::text(file, FileKind::Rule).ok())
                .unwrap_or_default()
        };
        match trouble {
            Trouble::Rule(error) => ShownProblem::all(&error, &text),
            Trouble::Plain(plain) => vec![ShownProblem::plain(plain.message, plain.help)],
            Trouble::OutputClosed => Vec::new(),
        }
    }
}

/// How long a part of a run may take, where a rule may take this many seconds: a little more,
/// since the rule says better what is wrong when it is stopped by its limit.
fn allowance(seconds: u64) -> Duration {
    let limit = Duration::from_secs(seconds);
    limit.saturating_add(limit / 10).saturating_add(LEEWAY)
}

/// A word that tells this start of the command from every other.
fn start() -> String {
    use std::hash::{BuildHasher, RandomState};
    format!("{:016x}", RandomState::new().hash_one(std::process::id()))
}
