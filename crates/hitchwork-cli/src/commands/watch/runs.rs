//! Keeps the runs of the rule going, one at a time and each on a thread of its own, so that
//! whatever becomes of one, the next can begin: it may panic, it may stay in a call that
//! nothing can interrupt, or something newer may be wanted before it is done.

use std::any::Any;
use std::collections::BTreeMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use hitchwork_rules::Recording;

use super::lock::locked;
use super::painting::{Bytes, PaintedFolder};
use super::settings::SessionSettings;

#[cfg(test)]
mod tests;

/// After so long the page is told that a run is under way.
const SLOW: Duration = Duration::from_millis(300);
/// A run that is not wanted any more may take so long to notice.
const GRACE: Duration = Duration::from_secs(1);
/// A run may go on for so long after somebody has painted more (our own judgement: eight pictures a
/// second still follow the hand).
const OVERTAKEN: Duration = Duration::from_millis(120);
/// The most runs that are at work though nobody waits for them any more: each takes a core
/// and memory from those that follow.
const MOST_ADRIFT: usize = 3;

/// What the keeper of the runs is told.
enum Message<Outcome> {
    /// What is wanted has changed, or the rule has.
    Changed,
    /// Something has been painted: a run that is nearly done is not disturbed, so that the fabric
    /// follows a stroke that goes on and on.
    Painted,
    /// The run of this number has ended, like this.
    Over(u64, RunEnd<Outcome>),
}

/// How a run has ended, or why it is no longer waited for.
pub(super) enum RunEnd<Outcome> {
    /// It has made something, or said why not.
    Done(Box<Outcome>),
    /// It broke off, saying this.
    Panicked(String),
    /// It was in this part of its work for longer than it may be.
    Overtime(RunStage),
    /// So many runs that nobody waits for are still at work that it has to wait.
    Crowded,
    /// The system let no thread begin, and says this.
    NoThread(String),
}

/// The parts of a run's work.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum RunStage {
    /// The rule is read and run.
    Rule,
    /// The band is proved and laid out.
    Picture,
}

/// One run of the rule, as the thread that works at it and the one that waits share it.
pub(super) struct WatchRun {
    pub(super) number: u64,
    pub(super) wishes: SessionSettings,
    /// How many changes the wishes hold.
    pub(super) wish: u64,
    /// Which files the rule has asked for so far.
    pub(super) asked: Recording<PaintedFolder>,
    /// What had been painted when it began, and how many changes that holds.
    pub(super) painted: (Arc<BTreeMap<String, Bytes>>, u64),
    /// Asks it to end.
    pub(super) stop: Arc<AtomicBool>,
    began: Instant,
    part: Mutex<(RunStage, Instant)>,
}

impl WatchRun {
    pub(super) fn new(
        number: u64,
        wishes: SessionSettings,
        wish: u64,
        asked: Recording<PaintedFolder>,
        painted: (Arc<BTreeMap<String, Bytes>>, u64),
    ) -> Self {
        let began = Instant::now();
        Self {
            number,
            wishes,
            wish,
            asked,
            painted,
            stop: Arc::default(),
            began,
            part: Mutex::new((RunStage::Rule, began)),
        }
    }

    /// Goes on to the next part of the work, for which time starts again.
    pub(super) fn goes_on_to(&self, part: RunStage) {
        *locked(&self.part) = (part, Instant::now());
    }

    /// The part of the work that it is at, and for how long.
    fn at(&self) -> (RunStage, Duration) {
        let (part, since) = *locked(&self.part);
        (part, since.elapsed())
    }
}

/// What a run is for: somebody who says what is to be run, makes something of it, and hears how
/// it ended.
pub(super) trait RunWork: Send + Sync + 'static {
    /// What comes of a run.
    type Outcome: Send + 'static;

    /// How long a part of a run may take.
    fn allowance(&self) -> Duration;

    /// The next run, of what is wanted now.
    fn next_run(&self) -> WatchRun;

    /// Does all that could fail or take long.
    fn work_at(&self, run: &WatchRun) -> Self::Outcome;

    /// What has come of a run, or why nobody waits for it any more, becomes news.
    fn tell(self: &Arc<Self>, run: &WatchRun, ended: RunEnd<Self::Outcome>);

    /// A run takes its time.
    fn tell_that_it_is_slow(&self);
}

/// Tells the keeper of the runs that something has changed.
pub(super) struct Notifier<Outcome>(Sender<Message<Outcome>>);

impl<Outcome> Notifier<Outcome> {
    pub(super) fn notify(&self) {
        // Where nobody listens any more, nothing is to be done.
        let _ = self.0.send(Message::Changed);
    }

    pub(super) fn notify_of_paint(&self) {
        let _ = self.0.send(Message::Painted);
    }
}

/// The keeper of the runs, before it has anything to keep.
pub(super) struct IdleKeeper<Outcome>(Sender<Message<Outcome>>, Receiver<Message<Outcome>>);

pub(super) fn keeper<Outcome>() -> (Notifier<Outcome>, IdleKeeper<Outcome>) {
    let (sender, receiver) = channel();
    (Notifier(sender.clone()), IdleKeeper(sender, receiver))
}

impl<Outcome: Send + 'static> IdleKeeper<Outcome> {
    /// Runs the rule now, and again whenever it is notified.
    pub(super) fn begin(self, session: Arc<impl RunWork<Outcome = Outcome>>) {
        let Self(sender, words) = self;
        let mut keeper = Keeper {
            allowance: session.allowance(),
            session,
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

struct Keeper<Session: RunWork> {
    session: Arc<Session>,
    /// How long a part of a run may take.
    allowance: Duration,
    sender: Sender<Message<Session::Outcome>>,
    words: Receiver<Message<Session::Outcome>>,
    under_way: Option<UnderWay>,
    /// Whether something has changed since the last run began.
    due: bool,
    /// How many runs are at work though nobody waits for them any more.
    adrift: usize,
    /// Whether the page knows that these are too many.
    waits_for_room: bool,
}

struct UnderWay {
    run: Arc<WatchRun>,
    unwanted_since: Option<Instant>,
    is_told: bool,
}

impl<Session: RunWork> Keeper<Session> {
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
            Ok(Message::Changed) => {
                self.due = true;
                self.stop_what_is_under_way();
            }
            Ok(Message::Painted) => self.due = true,
            Ok(Message::Over(number, ended)) => self.is_over(number, ended),
            Err(RecvTimeoutError::Timeout) => self.look_at_the_clock(),
            Err(RecvTimeoutError::Disconnected) => return false,
        }
        true
    }

    fn begin_what_is_due(&mut self) {
        if !self.due || self.under_way.is_some() {
            return;
        }
        let run = Arc::new(self.session.next_run());
        if self.adrift >= MOST_ADRIFT {
            if !std::mem::replace(&mut self.waits_for_room, true) {
                self.session.tell(&run, RunEnd::Crowded);
            }
            return;
        }
        self.waits_for_room = false;
        self.due = false;
        let (session, sender, working) = (
            Arc::clone(&self.session),
            self.sender.clone(),
            Arc::clone(&run),
        );
        let work = move || {
            let worked = catch_unwind(AssertUnwindSafe(|| session.work_at(&working)));
            let ended = match worked {
                Ok(outcome) => RunEnd::Done(Box::new(outcome)),
                Err(panic) => RunEnd::Panicked(said(&*panic)),
            };
            let _ = sender.send(Message::Over(working.number, ended));
        };
        match std::thread::Builder::new().spawn(work) {
            Ok(_) => {
                self.under_way = Some(UnderWay {
                    run,
                    unwanted_since: None,
                    is_told: false,
                });
            }
            Err(error) => self.session.tell(&run, RunEnd::NoThread(error.to_string())),
        }
    }

    /// Whether something has been painted since the run began that has been under way for so long
    /// that it is in the way.
    fn is_overtaken(&self) -> bool {
        let under_way = self.under_way.as_ref().filter(|_| self.due);
        under_way.is_some_and(|under_way| under_way.run.began.elapsed() >= OVERTAKEN)
    }

    /// How long to wait before the clock has something to say; without end where nothing is
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
        let mut left = self.allowance.saturating_sub(run.at().1);
        if self.due {
            left = left.min(OVERTAKEN.saturating_sub(run.began.elapsed()));
        }
        Some(match is_told {
            true => left,
            false => left.min(SLOW.saturating_sub(run.began.elapsed())),
        })
    }

    /// What is under way is not wanted any more.
    fn stop_what_is_under_way(&mut self) {
        if let Some(under_way) = &mut self.under_way {
            under_way.run.stop.store(true, Ordering::Relaxed);
            under_way.unwanted_since.get_or_insert_with(Instant::now);
        }
    }

    fn look_at_the_clock(&mut self) {
        let is_overtaken = self.is_overtaken();
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
        if is_overtaken {
            self.stop_what_is_under_way();
            return;
        }
        let (part, at_it) = run.at();
        if at_it >= self.allowance {
            run.stop.store(true, Ordering::Relaxed);
            self.session.tell(run, RunEnd::Overtime(part));
            self.cast_adrift();
        } else if run.began.elapsed() >= SLOW && !std::mem::replace(is_told, true) {
            self.session.tell_that_it_is_slow();
        }
    }

    /// Waits no longer for the run that is under way: a thread cannot be ended from outside.
    fn cast_adrift(&mut self) {
        self.under_way = None;
        self.adrift += 1;
    }

    fn is_over(&mut self, number: u64, ended: RunEnd<Session::Outcome>) {
        match self.under_way.take() {
            Some(under_way) if under_way.run.number == number => {
                // Where something newer is wanted, nobody is told what came of the older.
                if under_way.unwanted_since.is_none() {
                    self.session.tell(&under_way.run, ended);
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
