//! Numbers that two numbers have in common.

/// The largest number that divides both (Euclid's algorithm).
pub(crate) fn greatest_common_divisor(a: u64, b: u64) -> u64 {
    if b == 0 {
        a
    } else {
        greatest_common_divisor(b, a % b)
    }
}

/// The smallest number that both divide.
pub(super) fn lowest_common_multiple(a: u64, b: u64) -> u64 {
    a / greatest_common_divisor(a, b) * b
}
