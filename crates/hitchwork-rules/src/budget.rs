//! What a run of a rule has used of what it may use, for the steps of the script and for
//! what native functions do within one step.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use crate::limits::{Limits, Stopped};

/// How often the clock is looked at, in steps.
const STEPS_BETWEEN_LOOKS: u64 = 512;

/// How often the clock is looked at, in units of native work. A unit is what one knot takes
/// in a plain loop, so that this much is done in about a millisecond.
const UNITS_BETWEEN_LOOKS: u64 = 1 << 16;

/// The limits of one run, or of all the runs that one question takes, and what is used up
/// of them. Runs keep to one thread each, one after another, so nothing is lost between
/// reading a counter and writing it.
#[derive(Debug)]
pub(crate) struct Budget {
    pub(crate) limits: Limits,
    /// When time is up; nothing where that is beyond all clocks.
    end: Option<Instant>,
    memory_before: usize,
    stop: Option<Arc<AtomicBool>>,
    steps: AtomicU64,
    /// Units of native work since the last look at the clock.
    unseen: AtomicU64,
    /// Whether a text was asked for that is longer than any may be.
    overlong: AtomicBool,
}

impl Budget {
    pub(crate) fn new(limits: Limits, stop: Option<Arc<AtomicBool>>) -> Arc<Self> {
        Arc::new(Self {
            end: Instant::now().checked_add(Duration::from_secs(limits.seconds)),
            memory_before: limits.memory_meter.map_or(0, |meter| meter()),
            limits,
            stop,
            steps: AtomicU64::new(0),
            unseen: AtomicU64::new(0),
            overlong: AtomicBool::new(false),
        })
    }

    /// Counts a step of the script, those of rules within the rule counted as well.
    pub(crate) fn step(&self) -> Result<(), Stopped> {
        let steps = self.steps.load(Ordering::Relaxed) + 1;
        self.steps.store(steps, Ordering::Relaxed);
        if steps > self.limits.operations {
            return Err(Stopped::Operations);
        }
        if steps.is_multiple_of(STEPS_BETWEEN_LOOKS) {
            self.look()?;
        }
        if self.overlong.load(Ordering::Relaxed) {
            return Err(Stopped::Text);
        }
        // A step may fill megabytes, and a look at the meter costs next to nothing.
        self.has_room_for(0)
    }

    /// Counts native work, before it is done.
    pub(crate) fn spend(&self, units: u64) -> Result<(), Stopped> {
        let unseen = self.unseen.load(Ordering::Relaxed).saturating_add(units);
        self.unseen.store(unseen, Ordering::Relaxed);
        match unseen >= UNITS_BETWEEN_LOOKS {
            true => self.look(),
            false => Ok(()),
        }
    }

    /// Whether memory may grow by this many bytes, asked before it does.
    pub(crate) fn has_room_for(&self, bytes: usize) -> Result<(), Stopped> {
        let Some(meter) = self.limits.memory_meter else {
            return Ok(());
        };
        let grown = meter().saturating_sub(self.memory_before);
        match grown.saturating_add(bytes) > self.limits.memory_bytes {
            true => Err(Stopped::Memory),
            false => Ok(()),
        }
    }

    /// Ends the run at its next step, since a text became too long: for functions that may
    /// not fail, as the engine would do their work again in its own way.
    pub(crate) fn refuse_text(&self) {
        self.overlong.store(true, Ordering::Relaxed);
    }

    /// Looks at the clock, and whether somebody wants the run to end.
    fn look(&self) -> Result<(), Stopped> {
        self.unseen.store(0, Ordering::Relaxed);
        if self.end.is_some_and(|end| Instant::now() > end) {
            return Err(Stopped::Seconds);
        }
        let stop = self.stop.as_ref();
        match stop.is_some_and(|stop| stop.load(Ordering::Relaxed)) {
            true => Err(Stopped::ByRequest),
            false => Ok(()),
        }
    }
}
