//! How much memory the program uses.

use peak_alloc::PeakAlloc;

/// Counts the memory in use, so that a rule that hoards it can be stopped.
#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

pub(crate) fn in_use() -> usize {
    MEMORY.current_usage()
}
