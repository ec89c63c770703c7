//! What a rule may use before it is stopped.

/// Bounds on one run of a rule. Every bound is explicit, and the same in every build. What
/// functions of the language do counts as what the script does itself: each says beforehand
/// what it is about to make, so that none goes beyond a bound by more than a tenth.
///
/// Where settings are refused, the runs that look for what else is wrong with them count
/// together.
///
/// ```
/// use hitchwork_rules::Limits;
/// let patient = Limits { seconds: 60, ..Limits::default() };
/// assert!(patient.operations >= 1_000_000);
/// ```
#[derive(Clone, Copy, Debug)]
pub struct Limits {
    /// Steps of the script.
    pub operations: u64,
    /// Seconds of wall time; more than a clock can count are no bound.
    pub seconds: u64,
    /// Functions that call each other, one inside the other.
    pub calls: usize,
    /// Bytes in one text.
    pub text_bytes: usize,
    /// Entries in one list.
    pub list_entries: usize,
    /// Entries in one map.
    pub map_entries: usize,
    /// Knots of all rows that one function takes or gives, and of each part of a band.
    pub knots: usize,
    /// Bytes by which memory may grow during a run, where a meter is given.
    pub memory_bytes: usize,
    /// How much memory is in use now; without it, memory is bounded only by the other
    /// limits. The binary that owns the allocator can know.
    pub memory_meter: Option<fn() -> usize>,
}

/// Which limit stopped a run from outside.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Stopped {
    Operations,
    Seconds,
    Memory,
    /// By a text that shows a list or a map.
    Text,
    /// By functions that hold each other.
    Depth,
    /// By whoever ran it.
    ByRequest,
}

/// The most bytes that a rule's text may have.
pub(crate) const MAX_RULE_BYTES: usize = 256 << 10;

impl Default for Limits {
    fn default() -> Self {
        Self {
            operations: 30_000_000,
            seconds: 20,
            calls: 48,
            text_bytes: 32 << 10,
            list_entries: 20_000,
            map_entries: 4_000,
            knots: 1_000_000,
            memory_bytes: 512 << 20,
            memory_meter: None,
        }
    }
}
