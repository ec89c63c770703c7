//! Any bytes as the manifest of a collection: its records, or why they are not believed.
#![no_main]

use hitchwork_collection::manifest;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| if let Err(error) = manifest::from_bytes(bytes) {
    assert!(!error.to_string().is_empty());
});
