//! What follows from a band is never handed over beside it: a band and the fabric, lengths or
//! report of another one cannot be written.

use std::path::Path;

use hitchwork_tests::files;

/// What follows from a band, by the types that hold it.
const FOLLOWS: [&str; 5] = ["Fabric", "ThreadLength", "CutList", "Report", "Steps"];

/// What the public functions of a file take, each with its name.
fn public_functions(text: &str) -> Vec<(&str, &str)> {
    let heads = text.split("pub fn ").skip(1);
    heads
        .filter_map(|rest| {
            let (name, rest) = rest.split_once(['(', '<'])?;
            let end = rest.find(" -> ").into_iter().chain(rest.find('{')).min()?;
            Some((name, &rest[..end]))
        })
        .collect()
}

/// Whether the type stands there, and not only as a part of another's name.
fn takes(what: &str, kind: &str) -> bool {
    let words = what.split(|letter: char| !letter.is_alphanumeric());
    words.into_iter().any(|word| word == kind)
}

#[test]
fn no_public_function_takes_a_band_with_what_follows_from_one() {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let (mut of_bands, mut of_tied) = (0, 0);
    for name in [
        "hitchwork-core",
        "hitchwork-rules",
        "hitchwork-draw",
        "hitchwork-collection",
    ] {
        for (file, text) in files::texts(&crates.join(name).join("src"), "rs") {
            for (function, taken) in public_functions(&text) {
                of_bands += usize::from(takes(taken, "Band"));
                of_tied += usize::from(takes(taken, "Tied"));
                let pair = takes(taken, "Band") || takes(taken, "Tied");
                let beside: Vec<&&str> = FOLLOWS.iter().filter(|kind| takes(taken, kind)).collect();
                let at = file.display();
                assert!(
                    !pair || beside.is_empty(),
                    "{at}: {function} takes {beside:?} beside a band"
                );
            }
        }
    }
    assert!(
        of_bands > 10 && of_tied > 10,
        "{of_bands} and {of_tied} were read"
    );
}
