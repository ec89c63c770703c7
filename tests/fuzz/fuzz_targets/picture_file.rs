//! See `hitchwork_tests::readers::picture_file`.
#![no_main]

use hitchwork_tests::readers;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    readers::picture_file(bytes);
});
