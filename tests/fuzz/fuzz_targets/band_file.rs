//! Any bytes as a band file: a band that is written and read back as itself, or an error.
#![no_main]

use hitchwork_core::file;
use libfuzzer_sys::fuzz_target;

fuzz_target!(|bytes: &[u8]| match file::read(bytes) {
    Ok(band) => {
        let written = file::write(&band);
        let again = file::read(written.as_bytes()).expect("what was written can be read");
        assert!(again == band, "{written}");
    }
    Err(error) => assert!(!error.to_string().is_empty()),
});
