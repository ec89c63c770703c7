//! See `hitchwork_tests::readers::rule_text`.
#![no_main]

use hitchwork_tests::readers;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    readers::rule_text(bytes);
});
