//! Runs that fall, that linger, and that are overtaken.

use std::sync::atomic::AtomicUsize;

use clap::Parser;
use hitchwork_rules::{Limits, Rules, rhai};

use super::super::session::Session;
use super::super::update::Update;
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

/// A session whose rule can call for a panic, and for what no limit ends.
struct HostileSession {
    session: Arc<Session>,
    /// How often a run has come to linger.
    lingering: Arc<AtomicUsize>,
    /// Ends all that linger.
    enough: Arc<AtomicBool>,
    _place: tempfile::TempDir,
}

impl Drop for HostileSession {
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

impl HostileSession {
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
        let (session, runs) = Session::new(&watch, rules).expect("a session");
        runs.begin(Arc::clone(&session));
        let trial = Self {
            session,
            lingering,
            enough,
            _place: place,
        };
        trial.updates("the first band", tied);
        trial
    }

    fn change(&self, what: &str) -> u64 {
        let changes = format!("{{\"settings\":{{\"what\":\"{what}\"}}}}");
        let changes = serde_json::from_str(&changes).expect("it can be read");
        self.session.change(changes).expect("it is taken")
    }

    fn linger(&self) {
        let before = self.lingering.load(Ordering::Relaxed);
        self.change("lingers");
        until("lingering", || {
            self.lingering.load(Ordering::Relaxed) > before
        });
    }

    /// Waits for an update.
    fn updates(&self, what: &str, holds: impl Fn(&Update) -> bool) -> Arc<Update> {
        let updates = self.session.updates();
        until(what, || holds(&updates.borrow()));
        Arc::clone(&updates.borrow())
    }

    /// A change to what ties makes a band, without troubles.
    fn ties_again(&self) {
        let wish = self.change("ties");
        let update = self.updates("a band", |update| update.wish == wish && tied(update));
        assert!(update.troubles.is_empty() && update.picture == update.number);
    }
}

fn tied(update: &Update) -> bool {
    !update.is_busy && update.picture > 0 && update.picture == update.number
}

fn says(words: &str) -> impl Fn(&Update) -> bool {
    move |update| {
        !update.is_busy
            && update
                .troubles
                .iter()
                .any(|each| each.message.contains(words))
    }
}

#[test]
fn a_panic_becomes_news_and_the_next_run_ties_again() {
    let trial = HostileSession::new(20);
    for _ in 0..2 {
        trial.change("falls");
        let update = trial.updates("the fall", says("failed at this: the mast broke"));
        assert!(update.picture > 0, "the last good band stays");
        trial.ties_again();
    }
}

#[test]
fn a_call_that_never_ends_is_not_waited_for() {
    let trial = HostileSession::new(1);
    trial.linger();
    let update = trial.updates(
        "that it takes too long",
        says("still at work after 2 seconds"),
    );
    assert!(update.picture > 0, "the last good band stays");
    trial.ties_again();
}

#[test]
fn who_wants_something_newer_does_not_wait_for_a_call_that_never_ends() {
    let trial = HostileSession::new(3600);
    trial.linger();
    trial.ties_again();
}

/// The fabric follows a stroke that goes on and on: runs are not broken off by each bit of it.
#[test]
fn who_paints_without_a_rest_sees_fabric_all_the_while() {
    let trial = HostileSession::new(3600);
    trial.updates("a band", tied);
    let rests = Arc::new(AtomicBool::new(false));
    let (session, enough) = (Arc::clone(&trial.session), Arc::clone(&rests));
    let hand = std::thread::spawn(move || {
        while !enough.load(Ordering::Relaxed) {
            session.notifier.notify_of_paint();
            std::thread::sleep(Duration::from_millis(4));
        }
    });
    let first = trial.session.updates().borrow().number;
    trial.updates("more bands", |update| update.number > first + 2);
    rests.store(true, Ordering::Relaxed);
    hand.join().expect("it only asks");
}

/// One that takes long is not waited for by who has painted since.
#[test]
fn a_run_that_takes_long_is_overtaken_by_paint() {
    let trial = HostileSession::new(3600);
    trial.linger();
    let before = trial.lingering.load(Ordering::Relaxed);
    trial.session.notifier.notify_of_paint();
    until("another run", || {
        trial.lingering.load(Ordering::Relaxed) > before
    });
}

#[test]
fn the_page_learns_that_a_run_takes_its_time() {
    let trial = HostileSession::new(3600);
    trial.linger();
    trial.enough.store(true, Ordering::Relaxed);
    trial.updates("the end of it", tied);
    trial.enough.store(false, Ordering::Relaxed);
    trial.session.look_again();
    trial.updates("that it is slow", |update| update.is_busy);
}

#[test]
fn runs_that_nobody_waits_for_do_not_pile_up() {
    let trial = HostileSession::new(3600);
    for _ in 0..MOST_ADRIFT {
        trial.linger();
    }
    let wish = trial.change("ties");
    let update = trial.updates("that it is crowded", says("too many earlier runs"));
    assert_eq!(update.wish, wish);
    assert_eq!(trial.lingering.load(Ordering::Relaxed), MOST_ADRIFT);
    trial.enough.store(true, Ordering::Relaxed);
    let update = trial.updates("a band", tied);
    assert!(update.troubles.is_empty() && update.wish == wish);
}
