//! Work that is shared out among the threads of the computer.

use std::io;
use std::panic::resume_unwind;
use std::thread::{Builder, ScopedJoinHandle, scope};

use hitchwork_rules::Rules;

/// Has all workers do the work at once, and gives what each of them brings back. Meanwhile
/// this thread may wait, or look on. With `rules`, each has a stack that is deep enough for
/// them.
///
/// Where the system has no room for so many, as many work as it has room for, and at the least
/// this thread itself.
pub(crate) fn all_at_once<T: Send>(
    rules: Option<&Rules>,
    workers: usize,
    work: impl Fn() -> T + Sync,
    meanwhile: impl FnOnce(&[ScopedJoinHandle<'_, T>]),
) -> Vec<T> {
    scope(|scope| {
        let workers = started(workers, || match rules {
            Some(rules) => rules.start(scope, &work),
            None => Builder::new().spawn_scoped(scope, &work),
        });
        meanwhile(&workers);
        if workers.is_empty() {
            return vec![work()];
        }
        let joined = |worker: ScopedJoinHandle<'_, T>| {
            worker.join().unwrap_or_else(|panic| resume_unwind(panic))
        };
        workers.into_iter().map(joined).collect()
    })
}

/// As many of the workers as the system has room for.
pub(crate) fn started<'scope, T>(
    workers: usize,
    start: impl Fn() -> io::Result<ScopedJoinHandle<'scope, T>>,
) -> Vec<ScopedJoinHandle<'scope, T>> {
    (0..workers.max(1)).map_while(|_| start().ok()).collect()
}
