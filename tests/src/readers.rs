//! Everything that reads what others wrote, each from any bytes: what is read is sound, and
//! what is refused is explained. Each says whether the bytes were read. `tests/fuzz` searches for bytes that are neither;
//! `tests/damaged_files.rs` damages the files that are kept beside it.

use std::collections::BTreeMap;
use std::sync::LazyLock;

use hitchwork_collection::digest::sha256;
use hitchwork_collection::{manifest, plan, run};
use hitchwork_core::colour::{Palette, PaletteFormat, Stash};
use hitchwork_core::file;
use hitchwork_core::picture::{Font, Lettering, MOTIF, marked};
use hitchwork_rules::picture_file;
use hitchwork_rules::{Limits, Rules, Settings, built_in_names, explain};

/// Reads any bytes, and says whether they were taken.
pub type Reader = fn(&[u8]) -> bool;

/// Every reader, by the name of its folder of kept files in `tests/fuzz/kept`.
pub const READERS: &[(&str, Reader)] = &[
    ("band_file", band_file),
    ("font", font),
    ("journal", journal),
    ("manifest", manifest),
    ("marks", marks),
    ("palette", palette),
    ("picture_file", picture_file),
    ("plan", plan),
    ("rule_text", rule_text),
    ("settings", settings),
    ("stash", stash),
];

/// Small limits, so that many tries fit into a second.
static RULES: LazyLock<Rules> = LazyLock::new(|| {
    Rules::with_limits(Limits {
        operations: 100_000,
        knots: 20_000,
        ..Limits::default()
    })
});

/// A band file: a band that is written and read back as itself, or an error.
///
/// # Panics
/// When it is neither; so do all that follow.
pub fn band_file(bytes: &[u8]) -> bool {
    match file::read(bytes) {
        Ok(band) => {
            let written = file::write(&band);
            let again = file::read(written.as_bytes()).expect("what was written can be read");
            assert_eq!(file::write(&again), written);
            true
        }
        Err(error) => refused(&error.to_string()),
    }
}

/// A font: all of its letters can be set, or an error.
pub fn font(bytes: &[u8]) -> bool {
    match Font::read(bytes) {
        Ok(font) => {
            for letter in font.letters().take(20) {
                let set = font.lettering(&letter.to_string(), &Lettering::default());
                assert!(set.is_ok() || font.height() == 0, "{letter}");
            }
            true
        }
        Err(error) => refused(&error.to_string()),
    }
}

/// The journal of a collection: as it is, and with the digest of every line put right, since
/// nobody reaches what lies behind a digest by chance.
pub fn journal(bytes: &[u8]) -> bool {
    let as_it_is = run::journal_from_bytes(bytes).len();
    let mut proved = Vec::new();
    for line in bytes.split(|byte| *byte == b'\n') {
        let data = line.split(|byte| *byte == b'\t').next().unwrap_or(line);
        proved.extend_from_slice(data);
        proved.extend_from_slice(format!("\t{}\n", sha256(data.trim_ascii())).as_bytes());
    }
    run::journal_from_bytes(&proved).len() >= as_it_is && as_it_is > 0
}

/// The manifest of a collection, as it is, and with its digest put right.
pub fn manifest(bytes: &[u8]) -> bool {
    const SEAL: &[u8] = b"\"sha256\": \"";
    let lines = bytes.split_inclusive(|byte| *byte == b'\n');
    let mut sealed: Vec<u8> = lines
        .take_while(|line| !line.starts_with(SEAL))
        .flatten()
        .copied()
        .collect();
    if !sealed.ends_with(b"\n") {
        sealed.push(b'\n');
    }
    let digest = sha256(&sealed);
    sealed.extend_from_slice(SEAL);
    sealed.extend_from_slice(format!("{digest}\"}}\n").as_bytes());
    let read = |bytes: &[u8]| match manifest::from_bytes(bytes) {
        Ok(_) => true,
        Err(error) => refused(&error.to_string()),
    };
    read(&sealed);
    read(bytes)
}

/// A picture that is written as text: its marks again, or an error at a place.
pub fn marks(bytes: &[u8]) -> bool {
    let ink = Lettering::default().colour;
    let colours = BTreeMap::from([(MOTIF, Some(ink))]);
    match marked(&String::from_utf8_lossy(bytes), &colours) {
        Ok(found) => {
            let again = marked(&found.picture.to_string(), &colours);
            assert_eq!(again.expect("was written").picture, found.picture);
            true
        }
        Err(error) => refused(&error.to_string()),
    }
}

/// A palette, its ending chosen by the first byte: colours with names, or an error.
pub fn palette(bytes: &[u8]) -> bool {
    const ENDINGS: [&str; 3] = ["csv", "gpl", "toml"];
    let Some((which, text)) = bytes.split_first() else {
        return false;
    };
    let ending = ENDINGS[usize::from(*which) % ENDINGS.len()];
    let format = PaletteFormat::of_extension(ending).expect("a format of palettes");
    match Palette::read("given", text, format) {
        Ok(palette) => {
            assert!(palette.colours.iter().all(|colour| !colour.name.is_empty()));
            true
        }
        Err(error) => refused(&error.to_string()),
    }
}

/// A picture in a file: pixels that become a picture of four colours, or an error.
pub fn picture_file(bytes: &[u8]) -> bool {
    match picture_file::pixels(bytes) {
        Ok(pixels) => {
            assert!(pixels.width() > 0 && pixels.height() > 0);
            if let Err(error) = pixels.picture() {
                refused(&error.to_string());
            }
            true
        }
        Err(unread) => refused(&unread.to_string()),
    }
}

/// A plan: members that can be counted and named, or an error.
pub fn plan(bytes: &[u8]) -> bool {
    match plan::read(&RULES, "plan.toml", &String::from_utf8_lossy(bytes)) {
        Ok(plan) => {
            let named = plan.members().take(20).count() as u64;
            assert_eq!(named, plan.candidates().min(20));
            true
        }
        Err(error) => refused(&error.render(false)),
    }
}

/// A rule: a band, or an error whose every code is explained.
pub fn rule_text(bytes: &[u8]) -> bool {
    let outcome = RULES
        .compile("given.rhai", &String::from_utf8_lossy(bytes))
        .and_then(|rule| RULES.make(&rule, &Settings::new().length_mm(20.0)));
    let Err(error) = outcome else {
        return true;
    };
    for diagnostic in error.diagnostics() {
        let code = diagnostic.code;
        assert!(explain(code).is_some(), "{code} is explained nowhere");
    }
    refused(&error.render(false))
}

/// Settings of a built-in rule, which the first byte chooses; the second chooses the seed, and
/// each line after that has a parameter's number before its value. A band, or an error that
/// blames a setting or the rule's own conditions.
pub fn settings(bytes: &[u8]) -> bool {
    let [which, seed, lines @ ..] = bytes else {
        return false;
    };
    let count = built_in_names().len();
    let name = built_in_names().nth(usize::from(*which) % count);
    let name = name.expect("below the count");
    let rule = RULES.built_in(name).expect("listed");
    let parameters = RULES.parameters(&rule, &Settings::new());
    let mut settings = Settings::new().seed(u64::from(*seed)).length_mm(20.0);
    for line in lines.split(|byte| *byte == b'\n') {
        let Some((parameter, value)) = line.split_first() else {
            continue;
        };
        let at = usize::from(*parameter) % parameters.len().max(1);
        if let Some(parameter) = parameters.get(at) {
            settings = settings.set(
                parameter.name.as_str(),
                String::from_utf8_lossy(value).into_owned(),
            );
        }
    }
    let Err(error) = RULES.make(&rule, &settings) else {
        return true;
    };
    let code = error.diagnostics()[0].code;
    let blamed = error.is_setting() || code == "requirement" || code.starts_with("limit");
    assert!(blamed, "{name}: {error}");
    refused(&error.to_string())
}

/// A stash: threads with names, or an error.
pub fn stash(bytes: &[u8]) -> bool {
    match Stash::read(bytes) {
        Ok(stash) => {
            assert!(stash.in_hand().len() <= stash.threads().len());
            true
        }
        Err(error) => refused(&error.to_string()),
    }
}

/// What is refused is refused with words.
fn refused(words: &str) -> bool {
    assert!(!words.is_empty());
    false
}
