//! Any bytes as the journal of a collection: what of it is believed.
#![no_main]

use hitchwork_collection::run;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| {
    let _ = run::journal_from_bytes(bytes);
});
