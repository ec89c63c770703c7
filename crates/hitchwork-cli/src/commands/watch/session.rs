//! The session: what is wanted, the newest of what came of it, and how the page is told.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, OnceLock};
use std::time::{Duration, Instant};

use hitchwork_collection::names::quoted_for_shells;
use hitchwork_core::craft::Habits;
use hitchwork_core::file;
use hitchwork_core::proof::Finding;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{self, FabricPicture, RenderCache};
use hitchwork_draw::output::{self, Output};
use hitchwork_draw::{font, strands, text};
use hitchwork_rules::load::FileKind;
use hitchwork_rules::{
    Folder, Limits, Made, Parameter, PictureTrace, Recording, Rule, Rules, Settings,
};
use tokio::sync::watch;

use super::files::Noticing;
use super::lock::locked;
use super::painting::{BandKnots, PaintedFolder, Painting, PaintingNews};
use super::runs::{self, IdleKeeper, Notifier, RunEnd, RunStage, RunWork, WatchRun};
use super::settings::{Memory, SessionSettings, SettingsChange};
use super::update::{Control, Entry, ShownProblem, Update, measures};
use crate::arguments::{OwnPace, Subject, WatchArguments};
use crate::trouble::Trouble;
use crate::{advice, folder, input};

/// How long a file may be missing: editors that put a new one in its place take it away
/// for a moment.
const MISSING: Duration = Duration::from_millis(400);
/// How much longer than its limit a rule is waited for.
const LEEWAY: Duration = Duration::from_millis(500);

/// A band that could be made, with its picture.
pub(super) struct Good {
    pub(super) number: u64,
    /// What was wanted, and the command that makes exactly this band.
    wishes: SessionSettings,
    command: String,
    measures: Vec<Entry>,
    leaves_to_chance: bool,
    tied: Tied,
    picture: FabricPicture,
    /// What it knows of the pictures that it shows, which knots show their cells, and how many
    /// changes of the paint it holds.
    trace: PictureTrace,
    pub(super) knots: BandKnots,
    painted: u64,
    /// The working chart, drawn when somebody first looks at it.
    charts: OnceLock<Vec<String>>,
}

/// What came of a run.
pub(super) struct RunOutcome {
    made: Result<Good, Vec<ShownProblem>>,
    /// What turns the parameters that the rule declares, as far as it got.
    controls: Option<Vec<Control>>,
    took_ms: f64,
}

/// What the page and the rule's file ask for, and what came of it.
pub(super) struct Session {
    pub(super) rules: Rules,
    pub(super) rule: String,
    /// What notices changes, where the rule is not a built-in one.
    noticing: OnceLock<Noticing>,
    name: String,
    out: PathBuf,
    /// The settings of the command line that the page does not change, and the words in which
    /// they were given.
    base: Settings,
    base_words: Vec<String>,
    palette_words: Option<String>,
    habits: Habits,
    /// How long a part of a run may take.
    allowance: Duration,
    /// What the command line asks for of all that the page changes.
    given: SessionSettings,
    wanted: Mutex<Wanted>,
    pub(super) notifier: Notifier<RunOutcome>,
    pub(super) painting: Mutex<Painting>,
    good: Mutex<Option<Arc<Good>>>,
    cache: Mutex<PictureCache>,
    runs: AtomicU64,
    pub(super) updates: watch::Sender<Arc<Update>>,
}

/// Where pictures are painted.
#[derive(Default)]
struct PictureCache {
    sprites: RenderCache,
    /// What was last looked at, of the picture of which run: most likely it is what will be
    /// looked at next.
    looked: Option<(u64, fabric::View)>,
    /// That of the picture of a run, painted before somebody asks for it.
    ready: Option<(u64, fabric::View, Vec<u8>)>,
}

impl PictureCache {
    fn paint(&mut self, picture: &FabricPicture, view: &fabric::View) -> Painted {
        // Sprites that were left half done would spoil all pictures that follow.
        let mut sprites = std::mem::take(&mut self.sprites);
        let painted = sprites.paint(picture, view);
        self.sprites = sprites;
        painted
    }
}

type Painted = Result<Vec<u8>, hitchwork_draw::Error>;

pub(super) struct Wanted {
    pub(super) wishes: SessionSettings,
    /// Counts what pages have asked for.
    wish: u64,
    controls: Vec<Control>,
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
        Ok(self.is_changed(&mut wanted))
    }

    /// A page that was open before the command started again says how everything was. That counts
    /// unless somebody has asked for something since: then this is newer.
    pub(super) fn remember(&self, memory: &Memory) -> u64 {
        let mut wanted = self.wanted();
        if wanted.wish > 0 {
            return wanted.wish;
        }
        wanted.wishes = self.given.after_restart(memory);
        self.is_changed(&mut wanted)
    }

    /// All pages learn at once what is wanted now, and what comes of it when that is known.
    fn is_changed(&self, wanted: &mut Wanted) -> u64 {
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
        let mut cache = locked(&self.cache);
        cache.looked = Some((good.number, *view));
        match cache.ready.take() {
            Some((number, painted, png)) if number == good.number && painted == *view => {
                Some(Ok(png))
            }
            _ => Some(cache.paint(&good.picture, view)),
        }
    }

    /// Paints what will most likely be asked for, while the update is on its way.
    fn paint_ahead(&self) {
        let mut cache = locked(&self.cache);
        if let (Some(good), Some((number, view))) = (self.good(), cache.looked)
            && number != good.number
        {
            let painted = cache.paint(&good.picture, &view).ok();
            cache.ready = painted.map(|png| (good.number, view, png));
        }
    }

    /// The pages of the working chart; none where the band has no chart.
    pub(super) fn charts(&self) -> Vec<String> {
        let Some(good) = self.good() else {
            return Vec::new();
        };
        // A picture in a page has no letters but its own.
        let drawn = || -> Result<Vec<String>, hitchwork_draw::Error> {
            let pages = strands::pages(&good.tied, &strands::ChartOptions::default())?;
            pages.iter().map(|page| font::carried(page)).collect()
        };
        good.charts
            .get_or_init(|| drawn().unwrap_or_default())
            .clone()
    }

    pub(super) fn steps(&self) -> Option<String> {
        self.good().map(|good| text::sheet(&good.tied))
    }

    /// Saves what is shown into the chosen folder, with the bytes that `make` writes.
    pub(super) fn save(&self, what: &str) -> Result<String, Trouble> {
        let Some(good) = self.good() else {
            return Err(Trouble::new(
                "there is no band to save yet",
                "put the rule right first",
            ));
        };
        let tied = &good.tied;
        let files: Vec<(String, Vec<u8>)> = if what == "band" {
            let band = file::write(tied.band()).into_bytes();
            vec![(format!("{}.band.json", self.name), band)]
        } else {
            let Some(output) = Output::find(what) else {
                let all: Vec<&str> = Output::all().map(Output::name).collect();
                return Err(Trouble::new(
                    "there is nothing of that name to save",
                    format!("save the band, or one of these: {}", all.join(", ")),
                ));
            };
            let made = output.files(tied, &output::OutputOptions::fitting(tied))?;
            made.into_iter()
                .map(|file| (file.name, file.bytes))
                .collect()
        };
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

    fn made(
        &self,
        rules: &Rules,
        rule: &Rule,
        run: &WatchRun,
    ) -> (Result<Good, Trouble>, Option<Vec<Parameter>>) {
        let settings = self.settings(&run.wishes);
        match rules.make(rule, &settings) {
            Ok(made) => {
                run.goes_on_to(RunStage::Picture);
                let is_used = settings.palette_without_effect(&made.parameters).is_none();
                let command = self.command(&run.wishes, is_used);
                let parameters = made.parameters.clone();
                (self.laid_out(made, run, command), Some(parameters))
            }
            Err(error) => {
                // A setting that is refused can be mended only where the page shows it.
                let declared = error
                    .is_setting()
                    .then(|| rules.parameters(rule, &self.base));
                (Err(error.into()), declared)
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

    fn laid_out(&self, made: Made, run: &WatchRun, command: String) -> Result<Good, Trouble> {
        let band = match run.wishes.mirrored {
            true => made.band.mirrored(),
            false => made.band,
        };
        let mut tied = Tied::by(band, self.habits);
        if let Some(wrist_cm) = run.wishes.wrist_cm {
            tied = tied.for_wrist(wrist_cm * 10.0);
        }
        let options = fabric::FabricOptions {
            repeats: Some(fabric::repeats_to_draw(tied.band())),
            ..fabric::FabricOptions::default()
        };
        let picture = FabricPicture::new(&tied, &options)?;
        let trace = made.trace.unwrap_or_default();
        Ok(Good {
            knots: BandKnots::new(tied.band(), &picture, &trace),
            trace,
            painted: run.painted.1,
            number: run.number,
            wishes: run.wishes.clone(),
            command,
            leaves_to_chance: made.leaves_to_chance,
            measures: measures(tied.report()),
            picture,
            charts: OnceLock::new(),
            tied,
        })
    }

    /// What the page is told of what has been painted, and of the band that is shown.
    pub(super) fn painting_news(&self) -> PaintingNews {
        let (tied, missed) = self
            .good()
            .map_or((0, 0), |good| (good.painted, good.knots.missed()));
        let mut news = locked(&self.painting).news();
        (news.tied, news.missed) = (tied, missed);
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

    /// The command that makes exactly this band. The palette of the command line stands in it
    /// unless the page has chosen another in its place.
    fn command(&self, wishes: &SessionSettings, with_palette: bool) -> String {
        let mut words = vec!["hitchwork make".to_owned(), quoted(&self.rule)];
        let palette = self.palette_words.iter().filter(|_| with_palette);
        words.extend(palette.chain(&self.base_words).cloned());
        for (name, value) in &wishes.settings {
            words.push(format!("--set {}", quoted(&format!("{name}={value}"))));
        }
        if wishes.seed != 0 {
            words.push(format!("--seed {}", wishes.seed));
        }
        if let Some(length_cm) = wishes.length_cm {
            words.push(format!("--length {length_cm}"));
        }
        if let Some(wrist_cm) = wishes.wrist_cm {
            words.push(format!("--wrist {wrist_cm}"));
        }
        if wishes.mirrored {
            words.push("--mirrored".to_owned());
        }
        words.join(" ")
    }
}

impl RunWork for Session {
    type Outcome = RunOutcome;

    fn allowance(&self) -> Duration {
        self.allowance
    }

    /// What the next run is to make.
    fn next_run(&self) -> WatchRun {
        let number = self.runs.fetch_add(1, Ordering::Relaxed) + 1;
        let wanted = self.wanted();
        let painting = locked(&self.painting);
        let painted = (Arc::new(painting.unsaved()), painting.version());
        let folder = PaintedFolder::new(Folder::of_file(&self.rule), Arc::clone(&painted.0));
        let asked = Recording::new(folder);
        WatchRun::new(number, wanted.wishes.clone(), wanted.wish, asked, painted)
    }

    /// Runs the rule, proves its band and lays it out.
    fn work_at(&self, run: &WatchRun) -> RunOutcome {
        let began = Instant::now();
        self.look_at_the_disk(&run.painted.0);
        let rules = self.rules.stopped_by(Arc::clone(&run.stop));
        let rule = self.rule(&rules).map(|rule| match self.noticing.get() {
            Some(_) => rule.finding(run.asked.clone()),
            None => rule,
        });
        let (made, declared) = match rule {
            Ok(rule) => self.made(&rules, &rule, run),
            Err(trouble) => (Err(trouble), None),
        };
        RunOutcome {
            made: made.map_err(|trouble| self.shown(trouble)),
            controls: declared.map(|declared| declared.iter().map(Control::of).collect()),
            took_ms: (began.elapsed().as_secs_f64() * 10_000.0).round() / 10.0,
        }
    }

    /// What has come of a run, or why nobody waits for it any more, becomes an update.
    fn tell(self: &Arc<Self>, run: &WatchRun, ended: RunEnd<RunOutcome>) {
        let follows = |noticing: &Noticing| {
            noticing.follow(run.asked.asked().keys(), run.asked.asked_files().keys())
        };
        if self.noticing.get().is_some_and(follows) {
            self.look_again();
        }
        let mut troubles = Vec::new();
        let mut took_ms = 0.0;
        let mut wanted = self.wanted();
        match ended {
            RunEnd::Done(outcome) => {
                took_ms = outcome.took_ms;
                if let Some(controls) = outcome.controls {
                    wanted.controls = controls;
                }
                match outcome.made {
                    Ok(good) => {
                        self.learn(&good.trace, run);
                        *locked(&self.good) = Some(Arc::new(good));
                    }
                    Err(shown) => troubles = shown,
                }
            }
            RunEnd::Panicked(reason) => troubles.push(ShownProblem::panicked(&reason)),
            RunEnd::Overtime(part) => troubles.push(ShownProblem::overtime(part, self.allowance)),
            RunEnd::Crowded => troubles.push(ShownProblem::crowded()),
            RunEnd::NoThread(reason) => troubles.push(ShownProblem::no_thread(&reason)),
        }
        let good = self.good();
        let report = good.as_ref().map(|good| good.tied.report());
        let known = self.updates.borrow().clone();
        let update = Update {
            number: run.number,
            picture: good.as_ref().map_or(0, |good| good.number),
            size: good.as_ref().map_or((0.0, 0.0), |good| good.picture.size()),
            title: good.as_ref().map_or(self.name.clone(), |good| {
                good.tied.band().title().to_owned()
            }),
            made: good.as_ref().map(|good| good.wishes.clone()),
            wishes: wanted.wishes.clone(),
            wish: wanted.wish,
            is_busy: wanted.wish != run.wish || locked(&self.painting).version() != run.painted.1,
            painting: self.painting_news(),
            controls: wanted.controls.clone(),
            measures: good
                .as_ref()
                .map_or_else(Vec::new, |good| good.measures.clone()),
            cautions: good
                .as_ref()
                .map_or_else(Vec::new, |good| good.tied.steps().cautions.clone()),
            leaves_to_chance: good.as_ref().is_some_and(|good| good.leaves_to_chance),
            findings: report.map_or_else(Vec::new, |report| advised(&report.findings)),
            command: good.map_or_else(
                || self.command(&run.wishes, true),
                |good| good.command.clone(),
            ),
            troubles,
            took_ms,
            ..Update::clone(&known)
        };
        self.updates.send_replace(Arc::new(update));
        drop(wanted);
        let session = Arc::clone(self);
        // Whatever becomes of this, the picture can still be asked for.
        let _ = std::thread::Builder::new().spawn(move || session.paint_ahead());
    }

    /// A run takes its time.
    fn tell_that_it_is_slow(&self) {
        let _wanted = self.wanted();
        self.updates
            .send_modify(|update| Arc::make_mut(update).is_busy = true);
    }
}

/// A word for a shell.
fn quoted(word: &str) -> String {
    let plain = |letter: char| letter.is_ascii_alphanumeric() || "-_./=,:".contains(letter);
    match word.chars().all(plain) {
        true => word.to_owned(),
        false => quoted_for_shells(word),
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

/// The findings, with what this command adds to their help.
fn advised(findings: &[Finding]) -> Vec<Finding> {
    let mut findings = findings.to_vec();
    for finding in &mut findings {
        finding.help = advice::beside_finding(finding).into_owned();
    }
    findings
}

/// The words of the command line for what the page does not change.
fn base_words(watch: &WatchArguments) -> Vec<String> {
    let Subject {
        thread,
        swatch,
        operations,
        seconds,
        ..
    } = &watch.subject;
    let said = [
        (
            "--thread",
            thread.as_ref().map(|thread| thread.words.clone()),
        ),
        (
            "--swatch",
            swatch.as_ref().map(|swatch| swatch.words.clone()),
        ),
        ("--pace", watch.pace.as_ref().map(|pace| pace.words.clone())),
        ("--operations", operations.map(|steps| steps.to_string())),
        ("--seconds", seconds.map(|seconds| seconds.to_string())),
    ];
    said.into_iter()
        .filter_map(|(option, words)| Some(format!("{option} {}", quoted(&words?))))
        .collect()
}
