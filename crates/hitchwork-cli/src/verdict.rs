//! What a command comes to.

/// What a command has to say about its band.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Verdict {
    /// Can be tied as meant.
    Sound,
    /// Has findings that forbid it.
    Unsound,
}
