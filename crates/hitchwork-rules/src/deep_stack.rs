//! The deep stack on which rules run.

use std::cell::Cell;
use std::thread::{Scope as Scoped, ScopedJoinHandle};

use crate::error::{Diagnostic, Error};

/// Deep values need a deep stack to be compared and dropped; the memory is only reserved.
const STACK_BYTES: usize = 128 << 20;

thread_local! {
    /// Whether this thread was started for its deep stack.
    static DEEP: Cell<bool> = const { Cell::new(false) };
}

/// Starts a thread with a deep stack.
pub(crate) fn deep_thread<'scope, T: Send + 'scope>(
    scope: &'scope Scoped<'scope, '_>,
    work: impl FnOnce() -> T + Send + 'scope,
) -> std::io::Result<ScopedJoinHandle<'scope, T>> {
    let deep = || {
        DEEP.set(true);
        work()
    };
    std::thread::Builder::new()
        .stack_size(STACK_BYTES)
        .spawn_scoped(scope, deep)
}

/// Does work on a thread with a deep stack, or says that there is no room for it.
pub(crate) fn on_a_deep_stack<T: Send>(work: impl FnOnce() -> T + Send) -> Result<T, Error> {
    if DEEP.get() {
        return Ok(work());
    }
    std::thread::scope(|scope| {
        let started = deep_thread(scope, work).map_err(|error| no_room(&error))?;
        let done = started.join();
        Ok(done.unwrap_or_else(|panic| std::panic::resume_unwind(panic)))
    })
}

fn no_room(error: &std::io::Error) -> Error {
    let megabytes = STACK_BYTES >> 20;
    let message = format!(
        "the system gives no room for the stack of {megabytes} MB on which a rule runs: {error}"
    );
    let help = "allow more memory, or let fewer workers work at once";
    Error::one(Diagnostic::new("limit-memory", message, help), &[])
}
