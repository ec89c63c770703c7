//! Work that is shared out among the threads of the computer.

use std::io;
use std::panic::resume_unwind;
use std::thread::{Builder, ScopedJoinHandle, scope};

use hitchwork_rules::Rules;

/// Has all workers do the work at once, and gives what each of them brings back. Meanwhile
/// this thread may wait, or look on. With `rules`, each has a stack that is deep enough for
/// them.
///
/// Where the system has no room for this many, as many work as it has room for, and at the least
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

/// What a worker needs besides its stack: a heap of its own, as systems give one to every
/// thread, and the largest bands of a collection in it (our own judgement).
const ROOM_BYTES: usize = 128 << 20;

/// As many of the workers as the system has room for: for their stacks, and for what all of
/// them need while they work. A thread that the last of the room went to would end the whole
/// program at its first allocation.
pub(crate) fn started<'scope, T>(
    workers: usize,
    start: impl Fn() -> io::Result<ScopedJoinHandle<'scope, T>>,
) -> Vec<ScopedJoinHandle<'scope, T>> {
    (1..=workers.max(1))
        .map_while(|count| {
            has_room_for(count.saturating_mul(ROOM_BYTES))
                .then(&start)?
                .ok()
        })
        .collect()
}

/// Whether this many bytes of addresses could be had at once; none of them is touched or kept.
/// They are asked for as a stack and not as memory, for what memory there is in use is what
/// the runs of rules that are under way are held to.
fn has_room_for(bytes: usize) -> bool {
    let asking = Builder::new().stack_size(bytes).spawn(|| ());
    asking.is_ok_and(|asking| asking.join().is_ok())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_starts_where_there_is_no_room_to_work() {
        assert!(has_room_for(ROOM_BYTES));
        assert!(!has_room_for(usize::MAX / 4), "more than any computer has");
        let workers = scope(|scope| started(3, || Builder::new().spawn_scoped(scope, || ())).len());
        assert_eq!(workers, 3);
    }
}
