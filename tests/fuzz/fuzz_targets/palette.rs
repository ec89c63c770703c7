//! Any bytes as a palette, by its file's ending: colours with names, or an error.
#![no_main]

use hitchwork_core::colour::{Palette, PaletteFormat};
use libfuzzer_sys::fuzz_target;

const ENDINGS: [&str; 3] = ["csv", "gpl", "toml"];

fuzz_target!(|given: (u8, &[u8])| {
    let (which, bytes) = given;
    let ending = ENDINGS[usize::from(which) % ENDINGS.len()];
    let Some(format) = PaletteFormat::of_extension(ending) else {
        return;
    };
    match Palette::read("fuzzed", bytes, format) {
        Ok(palette) => assert!(palette.colours.iter().all(|colour| !colour.name.is_empty())),
        Err(error) => assert!(!error.to_string().is_empty()),
    }
});
