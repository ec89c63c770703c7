//! Keeps the runs of the rule going, one at a time and each on a thread of its own, so that
//! whatever becomes of one, the next can begin: it may panic, it may stay in a call that
//! nothing can interrupt, or something newer may be wanted before it is done.

use std::any::Any;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use super::desk::{Desk, Outcome};
use super::locked;
use super::wishes::Wishes;
use hitchwork_rules::{Folder, Recording};

/// After so long the page is told that a run is under way.
const SLOW: Duration = Duration::from_millis(300);
/// A run that is not wanted any more may take so long to notice.
const GRACE: Duration = Duration::from_secs(1);
/// The most runs that are at work though nobody waits for them any more: each takes a core
/// and memory from those that follow.
const MOST_ADRIFT: usize = 3;

/// What the keeper of the runs is told.
enum Word {
    /// What is wanted has changed, or the rule has.
    Changed,
    /// The run of this number has ended, like this.
    Over(u64, Ended),
}

/// How a run has ended, or why it is no longer waited for.
pub(super) enum Ended {
    /// It has made something, or said why not.
    Done(Box<Outcome>),
    /// It broke off, saying this.
    Panicked(String),
    /// It was in this part of its work for longer than it may be.
    Overtime(Part),
    /// So many runs that nobody waits for are still at work that it has to wait.
    Crowded,
    /// The system let no thread begin, and says this.
    NoThread(String),
}

/// The parts of a run's work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// The rule is read and run.
    Rule,
    /// The band is proved and laid out.
    Picture,
}

/// One run of the rule, as the thread that works at it and the one that waits share it.
pub(super) struct Run {
    pub(super) number: u64,
    pub(super) wishes: Wishes,
    /// How many changes the wishes hold.
    pub(super) wish: u64,
    /// Which files the rule has asked for so far.
    pub(super) asked: Recording<Folder>,
    /// Asks it to end.
    pub(super) stop: Arc<AtomicBool>,
    began: Instant,
    part: Mutex<(Part, Instant)>,
}

impl Run {
    pub(super) fn new(number: u64, wishes: Wishes, wish: u64, asked: Recording<Folder>) -> Self {
        let began = Instant::now();
        Self {
            number,
            wishes,
            wish,
            asked,
            stop: Arc::default(),
            began,
            part: Mutex::new((Part::Rule, began)),
        }
    }

    /// Goes on to the next part of the work, for which time begins anew.
    pub(super) fn goes_on_to(&self, part: Part) {
        *locked(&self.part) = (part, Instant::now());
    }

    /// The part of the work that it is at, and for how long.
    fn at(&self) -> (Part, Duration) {
        let (part, since) = *locked(&self.part);
        (part, since.elapsed())
    }
}

/// Tells the keeper of the runs that something has changed.
#[derive(Clone)]
pub(super) struct Bell(Sender<Word>);

impl Bell {
    pub(super) fn ring(&self) {
        // Where nobody listens any more, nothing is to be done.
        let _ = self.0.send(Word::Changed);
    }
}

/// The keeper of the runs, before it has anything to keep.
pub(super) struct Idle(Sender<Word>, Receiver<Word>);

pub(super) fn keeper() -> (Bell, Idle) {
    let (sender, receiver) = channel();
    (Bell(sender.clone()), Idle(sender, receiver))
}

impl Idle {
    /// Runs the rule now, and again whenever the bell rings.
    pub(super) fn begin(self, desk: Arc<Desk>) {
        let Self(sender, words) = self;
        let mut keeper = Keeper {
            allowance: desk.allowance(),
            desk,
            sender,
            words,
            under_way: None,
            due: true,
            adrift: 0,
            waits_for_room: false,
        };
        std::thread::spawn(move || while keeper.one_step() {});
    }
}

struct Keeper {
    desk: Arc<Desk>,
    /// How long a part of a run may take.
    allowance: Duration,
    sender: Sender<Word>,
    words: Receiver<Word>,
    under_way: Option<UnderWay>,
    /// Whether something has changed since the last run began.
    due: bool,
    /// How many runs are at work though nobody waits for them any more.
    adrift: usize,
    /// Whether the page knows that these are too many.
    waits_for_room: bool,
}

struct UnderWay {
    run: Arc<Run>,
    unwanted_since: Option<Instant>,
    is_told: bool,
}

impl Keeper {
    /// Waits for the next thing that happens, and deals with it. Gives whether there can be
    /// another.
    fn one_step(&mut self) -> bool {
        self.begin_what_is_due();
        let word = match self.patience() {
            None => self
                .words
                .recv()
                .map_err(|_| RecvTimeoutError::Disconnected),
            Some(patience) => self.words.recv_timeout(patience),
        };
        match word {
            Ok(Word::Changed) => {
                self.due = true;
                if let Some(under_way) = &mut self.under_way {
                    under_way.run.stop.store(true, Ordering::Relaxed);
                    under_way.unwanted_since.get_or_insert_with(Instant::now);
                }
            }
            Ok(Word::Over(number, ended)) => self.is_over(number, ended),
            Err(RecvTimeoutError::Timeout) => self.look_at_the_clock(),
            Err(RecvTimeoutError::Disconnected) => return false,
        }
        true
    }

    fn begin_what_is_due(&mut self) {
        if !self.due || self.under_way.is_some() {
            return;
        }
        let run = Arc::new(self.desk.next_run());
        if self.adrift >= MOST_ADRIFT {
            if !std::mem::replace(&mut self.waits_for_room, true) {
                self.desk.tell(&run, Ended::Crowded);
            }
            return;
        }
        self.waits_for_room = false;
        self.due = false;
        let (desk, sender, working) = (
            Arc::clone(&self.desk),
            self.sender.clone(),
            Arc::clone(&run),
        );
        let work = move || {
            let worked = catch_unwind(AssertUnwindSafe(|| desk.work_at(&working)));
            let ended = match worked {
                Ok(outcome) => Ended::Done(Box::new(outcome)),
                Err(panic) => Ended::Panicked(said(&*panic)),
            };
            let _ = sender.send(Word::Over(working.number, ended));
        };
        match std::thread::Builder::new().spawn(work) {
            Ok(_) => {
                self.under_way = Some(UnderWay {
                    run,
                    unwanted_since: None,
                    is_told: false,
                });
            }
            Err(error) => self.desk.tell(&run, Ended::NoThread(error.to_string())),
        }
    }

    /// How long to wait before the clock has something to say; for ever where nothing is
    /// under way.
    fn patience(&self) -> Option<Duration> {
        let UnderWay {
            run,
            unwanted_since,
            is_told,
        } = self.under_way.as_ref()?;
        if let Some(since) = unwanted_since {
            return Some(GRACE.saturating_sub(since.elapsed()));
        }
        let left = self.allowance.saturating_sub(run.at().1);
        Some(match is_told {
            true => left,
            false => left.min(SLOW.saturating_sub(run.began.elapsed())),
        })
    }

    fn look_at_the_clock(&mut self) {
        let Some(under_way) = &mut self.under_way else {
            return;
        };
        let UnderWay {
            run,
            unwanted_since,
            is_told,
        } = under_way;
        if let Some(since) = unwanted_since {
            if since.elapsed() >= GRACE {
                self.cast_adrift();
            }
            return;
        }
        let (part, at_it) = run.at();
        if at_it >= self.allowance {
            run.stop.store(true, Ordering::Relaxed);
            self.desk.tell(run, Ended::Overtime(part));
            self.cast_adrift();
        } else if run.began.elapsed() >= SLOW && !std::mem::replace(is_told, true) {
            self.desk.tell_that_it_is_slow();
        }
    }

    /// Waits no longer for the run that is under way: a thread cannot be ended from outside.
    fn cast_adrift(&mut self) {
        self.under_way = None;
        self.adrift += 1;
    }

    fn is_over(&mut self, number: u64, ended: Ended) {
        match self.under_way.take() {
            Some(under_way) if under_way.run.number == number => {
                // Where something newer is wanted, what came of the older is not news.
                if under_way.unwanted_since.is_none() {
                    self.desk.tell(&under_way.run, ended);
                }
            }
            other => {
                self.under_way = other;
                self.adrift -= 1;
            }
        }
    }
}

/// What a panic says.
fn said(panic: &(dyn Any + Send)) -> String {
    let text = panic.downcast_ref::<&str>().map(ToString::to_string);
    text.or_else(|| panic.downcast_ref::<String>().cloned())
        .unwrap_or_else(|| "it gave no reason".to_owned())
}

#[cfg(test)]
mod tests {
    use std::sync::atomic::AtomicUsize;

    use clap::Parser;
    use hitchwork_rules::{Limits, Rules, rhai};

    use super::super::view::View;
    use super::*;
    use crate::arguments::{Arguments, Command};

    const RULE: &str = r#"/// What can become of a run.
        let what = choice("what", "ties", ["ties", "falls", "lingers"], "what becomes of it");
        if what == "falls" { fall(); }
        if what == "lingers" { linger(); }
        band(6).repeat(forward(1..6))
    "#;
    /// So long is waited for what must come; far longer than it takes.
    const PATIENCE: Duration = Duration::from_secs(120);

    /// A desk whose rule can call for a panic, and for what no limit ends.
    struct Trial {
        desk: Arc<Desk>,
        /// How often a run has come to linger.
        lingering: Arc<AtomicUsize>,
        /// Ends all that linger.
        enough: Arc<AtomicBool>,
        _place: tempfile::TempDir,
    }

    impl Drop for Trial {
        fn drop(&mut self) {
            self.enough.store(true, Ordering::Relaxed);
        }
    }

    fn until(what: &str, holds: impl Fn() -> bool) {
        let began = Instant::now();
        while !holds() {
            assert!(began.elapsed() < PATIENCE, "{what} has not come");
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    impl Trial {
        fn new(seconds: u64) -> Self {
            let lingering = Arc::<AtomicUsize>::default();
            let enough = Arc::<AtomicBool>::default();
            let mut functions = rhai::Module::new();
            functions.set_native_fn("fall", || -> Result<(), Box<rhai::EvalAltResult>> {
                panic!("the mast broke")
            });
            let (counted, ended) = (Arc::clone(&lingering), Arc::clone(&enough));
            functions.set_native_fn("linger", move || {
                counted.fetch_add(1, Ordering::Relaxed);
                while !ended.load(Ordering::Relaxed) {
                    std::thread::sleep(Duration::from_millis(5));
                }
                Ok(())
            });
            let limits = Limits {
                seconds,
                ..Limits::default()
            };
            let rules = Rules::builder().limits(limits).functions(functions).build();
            let place = tempfile::tempdir().expect("a folder");
            let file = place.path().join("mast.rhai");
            std::fs::write(&file, RULE).expect("written");
            let file = file.to_str().expect("plain letters");
            let seconds = seconds.to_string();
            let words = ["hitchwork", "watch", file, "--seconds", &seconds];
            let Command::Watch(watch) = Arguments::parse_from(words).command else {
                panic!("that is what was asked for");
            };
            let (desk, runs) = Desk::new(&watch, rules).expect("a desk");
            runs.begin(Arc::clone(&desk));
            let trial = Self {
                desk,
                lingering,
                enough,
                _place: place,
            };
            trial.news("the first band", tied);
            trial
        }

        fn change(&self, what: &str) -> u64 {
            let changes = format!("{{\"settings\":{{\"what\":\"{what}\"}}}}");
            let changes = serde_json::from_str(&changes).expect("it can be read");
            self.desk.change(changes).expect("it is taken")
        }

        fn linger(&self) {
            let before = self.lingering.load(Ordering::Relaxed);
            self.change("lingers");
            until("lingering", || {
                self.lingering.load(Ordering::Relaxed) > before
            });
        }

        /// Waits for news.
        fn news(&self, what: &str, holds: impl Fn(&View) -> bool) -> Arc<View> {
            let news = self.desk.news();
            until(what, || holds(&news.borrow()));
            Arc::clone(&news.borrow())
        }

        /// A change to what ties makes a band, without troubles.
        fn ties_again(&self) {
            let wish = self.change("ties");
            let view = self.news("a band", |view| view.wish == wish && tied(view));
            assert!(view.troubles.is_empty() && view.picture == view.number);
        }
    }

    fn tied(view: &View) -> bool {
        !view.is_busy && view.picture > 0 && view.picture == view.number
    }

    fn says(words: &str) -> impl Fn(&View) -> bool {
        move |view| {
            !view.is_busy
                && view
                    .troubles
                    .iter()
                    .any(|each| each.message.contains(words))
        }
    }

    #[test]
    fn a_panic_becomes_news_and_the_next_run_ties_again() {
        let trial = Trial::new(20);
        for _ in 0..2 {
            trial.change("falls");
            let view = trial.news("the fall", says("failed at this: the mast broke"));
            assert!(view.picture > 0, "the last good band stays");
            trial.ties_again();
        }
    }

    #[test]
    fn a_call_that_never_ends_is_not_waited_for() {
        let trial = Trial::new(1);
        trial.linger();
        let view = trial.news(
            "that it takes too long",
            says("still at work after 2 seconds"),
        );
        assert!(view.picture > 0, "the last good band stays");
        trial.ties_again();
    }

    #[test]
    fn who_wants_something_newer_does_not_wait_for_a_call_that_never_ends() {
        let trial = Trial::new(3600);
        trial.linger();
        trial.ties_again();
    }

    #[test]
    fn the_page_learns_that_a_run_takes_its_time() {
        let trial = Trial::new(3600);
        trial.linger();
        trial.enough.store(true, Ordering::Relaxed);
        trial.news("the end of it", tied);
        trial.enough.store(false, Ordering::Relaxed);
        trial.desk.look_again();
        trial.news("that it is slow", |view| view.is_busy);
    }

    #[test]
    fn runs_that_nobody_waits_for_do_not_pile_up() {
        let trial = Trial::new(3600);
        for _ in 0..MOST_ADRIFT {
            trial.linger();
        }
        let wish = trial.change("ties");
        let view = trial.news("that it is crowded", says("too many earlier runs"));
        assert_eq!(view.wish, wish);
        assert_eq!(trial.lingering.load(Ordering::Relaxed), MOST_ADRIFT);
        trial.enough.store(true, Ordering::Relaxed);
        let view = trial.news("a band", tied);
        assert!(view.troubles.is_empty() && view.wish == wish);
    }
}
