//! Files of expected text.
//!
//! `RENEW=1 cargo test -p hitchwork-tests` writes those that differ anew. A run that
//! renews does not pass: read what has changed, then run again without it.

use std::path::Path;

/// Compares `got` with the text of a file, given from the workspace's root.
///
/// # Panics
/// When they differ, or the file was renewed.
pub fn check(file: &str, got: &str) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("..");
    let path = root.join(file);
    let expected = std::fs::read_to_string(&path).unwrap_or_default();
    if expected == got {
        return;
    }
    if std::env::var_os("RENEW").is_some() {
        std::fs::create_dir_all(path.parent().expect("a file lies in a folder"))
            .expect("the folder can be made");
        std::fs::write(&path, got).expect("the file can be written");
        panic!("{file} was renewed; read what has changed, then run again without RENEW");
    }
    let line = expected
        .lines()
        .zip(got.lines())
        .position(|(expected, got)| expected != got)
        .unwrap_or_else(|| expected.lines().count().min(got.lines().count()));
    let side = |text: &str| {
        text.lines()
            .nth(line)
            .unwrap_or("(no more lines)")
            .to_owned()
    };
    panic!(
        "{file} differs from line {}:\n  expected: {}\n  got:      {}\n(RENEW=1 writes it anew)",
        line + 1,
        side(&expected),
        side(got)
    );
}
