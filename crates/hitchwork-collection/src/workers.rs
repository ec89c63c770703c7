//! Work that is shared out among the threads of the computer.

use std::panic::resume_unwind;
use std::thread::{ScopedJoinHandle, scope};

/// Has all workers do the work at once, and gives what each of them brings back. Meanwhile
/// this thread may wait, or look on.
pub(crate) fn all_at_once<T: Send>(
    workers: usize,
    work: impl Fn() -> T + Sync,
    meanwhile: impl FnOnce(&[ScopedJoinHandle<'_, T>]),
) -> Vec<T> {
    scope(|scope| {
        let workers: Vec<_> = (0..workers.max(1)).map(|_| scope.spawn(&work)).collect();
        meanwhile(&workers);
        let joined = |worker: ScopedJoinHandle<'_, T>| {
            worker.join().unwrap_or_else(|panic| resume_unwind(panic))
        };
        workers.into_iter().map(joined).collect()
    })
}
