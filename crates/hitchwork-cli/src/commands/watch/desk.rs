//! The desk: what is wanted, the newest of what came of it, and the thread between them.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, OnceLock, PoisonError};
use std::time::{Duration, Instant};

use hitchwork_core::band::Band;
use hitchwork_core::file;
use hitchwork_draw::fabric::{self, Picture, Stamps};
use hitchwork_draw::written::Written;
use hitchwork_draw::{font, html, strands, text};
use hitchwork_rules::load::Kind;
use hitchwork_rules::{Error, Folder, Parameter, Recording, Rule, Rules, Settings};
use tokio::sync::watch;

use super::files::Noticing;
use super::locked;
use super::view::{Shown, View, Wishes, facts};
use crate::arguments::Subject;
use crate::trouble::Trouble;
use crate::{folder, input};

/// How long a file may be missing: editors that put a new one in its place take it away
/// for a moment.
const MISSING: Duration = Duration::from_millis(400);

/// A band that could be made, with its picture.
pub(super) struct Good {
    number: u64,
    written: Written,
    picture: Picture,
    /// The working chart, drawn when somebody first looks at it.
    charts: OnceLock<Vec<String>>,
}

/// What the page and the rule's file ask for, and what came of it.
pub(super) struct Desk {
    rules: Rules,
    rule: String,
    /// What notices changes, where the rule is no built-in one.
    noticing: OnceLock<Noticing>,
    name: String,
    out: PathBuf,
    /// The settings of the command line, which the page changes.
    base: Settings,
    wanted: Mutex<Wanted>,
    changed: Condvar,
    good: Mutex<Option<Arc<Good>>>,
    easel: Mutex<Easel>,
    runs: AtomicU64,
    news: watch::Sender<Arc<View>>,
}

/// Where pictures are painted.
#[derive(Default)]
struct Easel {
    stamps: Stamps,
    /// What was last looked at, of the picture of which run: most likely it is what will be
    /// looked at next.
    looked: Option<(u64, fabric::View)>,
    /// That of the picture of a run, painted before somebody asks for it.
    ready: Option<(u64, fabric::View, Vec<u8>)>,
}

struct Wanted {
    wishes: Wishes,
    /// Counts what was asked for.
    number: u64,
    /// Ends the run that is under way.
    stop: Arc<AtomicBool>,
    parameters: Vec<Parameter>,
}

impl Desk {
    pub(super) fn new(subject: &Subject, name: String, out: PathBuf) -> Result<Self, Trouble> {
        let wishes = Wishes {
            settings: subject.settings.iter().cloned().collect(),
            seed: subject.seed.unwrap_or(0),
            length_cm: subject.length_mm().map(|mm| mm / 10.0),
            other_hand: subject.other_hand,
        };
        let (news, _) = watch::channel(Arc::new(View {
            number: 0,
            picture: 0,
            size: (0.0, 0.0),
            title: name.clone(),
            wishes: wishes.clone(),
            parameters: Vec::new(),
            facts: Vec::new(),
            findings: Vec::new(),
            troubles: Vec::new(),
            command: String::new(),
            took_ms: 0.0,
        }));
        Ok(Self {
            rules: input::rules(subject),
            rule: subject.rule.clone(),
            noticing: OnceLock::new(),
            name,
            out,
            base: input::fixed(subject)?,
            wanted: Mutex::new(Wanted {
                wishes,
                number: 1,
                stop: Arc::default(),
                parameters: Vec::new(),
            }),
            changed: Condvar::new(),
            good: Mutex::new(None),
            easel: Mutex::default(),
            runs: AtomicU64::new(0),
            news,
        })
    }

    fn wanted(&self) -> MutexGuard<'_, Wanted> {
        locked(&self.wanted)
    }

    /// Looks again whenever the rule's file changes, or one that it uses.
    pub(super) fn notice(self: &Arc<Self>, rule: &Path) -> Result<(), Trouble> {
        let desk = Arc::downgrade(self);
        let changed = move || {
            if let Some(desk) = desk.upgrade() {
                desk.look_again();
            }
        };
        let noticing = Noticing::new(rule, changed)?;
        self.noticing.get_or_init(|| noticing);
        Ok(())
    }

    /// Begins to run the rule, and again whenever something has changed.
    pub(super) fn begin(self: &Arc<Self>) {
        let desk = Arc::clone(self);
        std::thread::spawn(move || {
            let mut done = 0;
            loop {
                let (wishes, stop, number) = {
                    let mut wanted = desk.wanted();
                    while wanted.number == done {
                        wanted = desk
                            .changed
                            .wait(wanted)
                            .unwrap_or_else(PoisonError::into_inner);
                    }
                    wanted.stop = Arc::default();
                    (
                        wanted.wishes.clone(),
                        Arc::clone(&wanted.stop),
                        wanted.number,
                    )
                };
                let view = desk.run(wishes, &stop);
                done = number;
                // Something newer was asked for meanwhile: what came of the older is not news.
                if !stop.load(Ordering::Relaxed) {
                    desk.news.send_replace(Arc::new(view));
                    desk.paint_ahead();
                }
            }
        });
    }

    /// The rule may have changed.
    pub(super) fn look_again(&self) {
        let mut wanted = self.wanted();
        wanted.number += 1;
        wanted.stop.store(true, Ordering::Relaxed);
        self.changed.notify_all();
    }

    /// The page asks for something else.
    pub(super) fn wish(&self, wishes: Wishes) {
        self.wanted().wishes = wishes;
        self.look_again();
    }

    pub(super) fn news(&self) -> watch::Receiver<Arc<View>> {
        self.news.subscribe()
    }

    pub(super) fn name(&self) -> &str {
        &self.name
    }

    fn good(&self) -> Option<Arc<Good>> {
        locked(&self.good).clone()
    }

    /// The newest picture, as much of it as is looked at; nothing where there is none yet.
    pub(super) fn picture(
        &self,
        view: &fabric::View,
    ) -> Option<Result<Vec<u8>, hitchwork_draw::Error>> {
        let good = self.good()?;
        let mut easel = locked(&self.easel);
        easel.looked = Some((good.number, *view));
        match easel.ready.take() {
            Some((number, painted, png)) if number == good.number && painted == *view => {
                Some(Ok(png))
            }
            _ => Some(easel.stamps.paint(&good.picture, view)),
        }
    }

    /// Paints what will most likely be asked for, while the news are on their way.
    fn paint_ahead(&self) {
        let mut easel = locked(&self.easel);
        if let (Some(good), Some((number, view))) = (self.good(), easel.looked)
            && number != good.number
        {
            let painted = easel.stamps.paint(&good.picture, &view).ok();
            easel.ready = painted.map(|png| (good.number, view, png));
        }
    }

    /// The pages of the working chart; none where the band has no chart.
    pub(super) fn charts(&self) -> Vec<String> {
        let Some(good) = self.good() else {
            return Vec::new();
        };
        let (band, tied) = (good.written.band(), good.written.fabric());
        let drawn = || strands::pages(band, tied, &strands::Options::default()).unwrap_or_default();
        good.charts.get_or_init(drawn).clone()
    }

    pub(super) fn steps(&self) -> Option<String> {
        self.good().map(|good| text::sheet(good.written.steps()))
    }

    /// Saves what is shown into the chosen folder, with the bytes that `make` writes.
    pub(super) fn save(&self, what: &str) -> Result<String, Trouble> {
        let Some(good) = self.good() else {
            return Err(Trouble::new(
                "there is no band to save yet",
                "mend the rule first",
            ));
        };
        let band = good.written.band();
        let (file, bytes) = match what {
            "band" => (
                format!("{}.band.json", self.name),
                file::write(band).into_bytes(),
            ),
            "picture" => (
                "fabric.svg".to_owned(),
                font::carried(&good.picture.svg())?.into_bytes(),
            ),
            "sheet" => {
                let page = html::sheet(&good.written, &good.written.mirrored())?;
                ("sheet.html".to_owned(), page.into_bytes())
            }
            _ => {
                return Err(Trouble::new(
                    "there is nothing of that name to save",
                    "save the band, the picture or the sheet",
                ));
            }
        };
        let places = folder::write_all(&self.out, &[(file, bytes)])?;
        Ok(places[0].display().to_string())
    }

    /// Reads the rule, waiting for a moment where its file is missing.
    fn rule(&self, rules: &Rules) -> Result<Rule, Trouble> {
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

    fn run(&self, wishes: Wishes, stop: &Arc<AtomicBool>) -> View {
        let number = self.runs.fetch_add(1, Ordering::Relaxed) + 1;
        let began = Instant::now();
        let rules = self.rules.stopped_by(Arc::clone(stop));
        let asked = Recording::new(Folder::of_file(&self.rule));
        let made = self.rule(&rules).and_then(|rule| {
            let rule = match self.noticing.get() {
                Some(_) => rule.finding(asked.clone()),
                None => rule,
            };
            self.made(&rules, &rule, &wishes, number)
        });
        if self
            .noticing
            .get()
            .is_some_and(|noticing| noticing.follow(asked.asked().keys()))
        {
            self.look_again();
        }
        let took_ms = (began.elapsed().as_secs_f64() * 10_000.0).round() / 10.0;
        let mut troubles = Vec::new();
        match made {
            Ok((good, parameters)) => {
                *locked(&self.good) = Some(Arc::new(good));
                self.wanted().parameters = parameters;
            }
            Err(Trouble::Rule(error)) => troubles = self.shown(&error),
            Err(Trouble::Plain(plain)) => troubles.push(Shown::plain(plain.message, plain.help)),
            Err(Trouble::OutputClosed) => {}
        }
        let good = self.good();
        let report = good.as_ref().map(|good| good.written.report());
        View {
            number,
            picture: good.as_ref().map_or(0, |good| good.number),
            size: good.as_ref().map_or((0.0, 0.0), |good| good.picture.size()),
            title: good.as_ref().map_or(self.name.clone(), |good| {
                good.written.band().title().to_owned()
            }),
            parameters: self.wanted().parameters.clone(),
            facts: report.map_or_else(Vec::new, facts),
            findings: report.map_or_else(Vec::new, |report| report.findings.clone()),
            command: self.command(&wishes),
            troubles,
            wishes,
            took_ms,
        }
    }

    fn made(
        &self,
        rules: &Rules,
        rule: &Rule,
        wishes: &Wishes,
        number: u64,
    ) -> Result<(Good, Vec<Parameter>), Trouble> {
        let mut settings = self.base.clone().seed(wishes.seed);
        for (name, value) in &wishes.settings {
            settings = settings.set(name, value.as_str());
        }
        if let Some(length_cm) = wishes.length_cm {
            settings = settings.length_mm(length_cm * 10.0);
        }
        let made = rules.make(rule, &settings)?;
        let band: Band = match wishes.other_hand {
            true => made.band.mirrored(),
            false => made.band,
        };
        let written = Written::of(band);
        let options = fabric::Options {
            repeats: Some(fabric::repeats_to_draw(written.band())),
            ..fabric::Options::default()
        };
        let picture = Picture::new(written.band(), written.fabric(), &options)?;
        let good = Good {
            number,
            picture,
            charts: OnceLock::new(),
            written,
        };
        Ok((good, made.parameters))
    }

    fn shown(&self, error: &Error) -> Vec<Shown> {
        Shown::all(error, &|file| {
            let built_in = hitchwork_rules::built_in(file).map(ToOwned::to_owned);
            built_in
                .or_else(|| input::text(file, Kind::Rule).ok())
                .unwrap_or_default()
        })
    }

    /// The command that makes exactly this band.
    fn command(&self, wishes: &Wishes) -> String {
        let mut words = vec!["hitchwork make".to_owned(), quoted(&self.rule)];
        for (name, value) in &wishes.settings {
            words.push(format!("--set {}", quoted(&format!("{name}={value}"))));
        }
        if wishes.seed != 0 {
            words.push(format!("--seed {}", wishes.seed));
        }
        if let Some(length_cm) = wishes.length_cm {
            words.push(format!("--length {length_cm}"));
        }
        if wishes.other_hand {
            words.push("--other-hand".to_owned());
        }
        words.join(" ")
    }
}

/// A word for a shell.
fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./=,:".contains(letter);
    match word.chars().all(plain) {
        true => word.to_owned(),
        false => format!("'{}'", word.replace('\'', "'\\''")),
    }
}
