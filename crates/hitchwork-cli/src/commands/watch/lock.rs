//! Locks that are taken whatever has happened.

use std::sync::{Mutex, MutexGuard, PoisonError};

/// Takes a lock, also where somebody panicked who held it: nothing here is ever half changed.
pub(super) fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
}
