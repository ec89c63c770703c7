//! What a run is for: it makes the band that is wanted, and what has come of it becomes an update.

use std::sync::Arc;
use std::sync::OnceLock;
use std::sync::atomic::Ordering;
use std::time::{Duration, Instant};

use hitchwork_core::proof::Finding;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{self, FabricPicture};
use hitchwork_rules::{Folder, Made, Parameter, Recording, Rule, Rules};

use super::command_words::quoted;
use super::files::Noticing;
use super::good::{Good, RunOutcome};
use super::lock::locked;
use super::painting::{BandKnots, PaintedFolder};
use super::runs::{RunEnd, RunStage, RunWork, WatchRun};
use super::session::Session;
use super::settings::SessionSettings;
use super::update::{Control, ShownProblem, Update, measures};
use crate::advice;
use crate::trouble::Trouble;

impl Session {
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

    fn laid_out(&self, made: Made, run: &WatchRun, command: String) -> Result<Good, Trouble> {
        let band = match run.wishes.mirrored {
            true => made.band.mirrored(),
            false => made.band,
        };
        let mut tied = Tied::by(band, self.habits);
        if let Some(wrist_cm) = run.wishes.wrist_cm {
            tied = tied.for_wrist(wrist_cm * 10.0);
        }
        let mirrors_words = run.wishes.mirrored && made.sets_words;
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
            mirrors_words,
            measures: measures(tied.report()),
            picture,
            charts: OnceLock::new(),
            tied,
        })
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
            cautions: good.as_ref().map_or_else(Vec::new, |good| good.cautions()),
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

/// The findings, with what this command adds to their help.
fn advised(findings: &[Finding]) -> Vec<Finding> {
    let mut findings = findings.to_vec();
    for finding in &mut findings {
        finding.help = advice::beside_finding(finding).into_owned();
    }
    findings
}
