//! Any bytes as a stash: threads with names, or an error.
#![no_main]

use hitchwork_core::colour::Stash;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| match Stash::read(bytes) {
    Ok(stash) => assert!(stash.in_hand().len() <= stash.threads().len()),
    Err(error) => assert!(!error.to_string().is_empty()),
});
