//! The style sheets of the pages: letters that we carry or that everybody has, and no brand.

use std::path::{Path, PathBuf};

use hitchwork_tests::files;

/// The family that every page and picture carries.
const CARRIED: &str = hitchwork_draw::font::FAMILY;

/// Families that stand for whatever the reader has (CSS Fonts Module Level 4, 2024, section
/// 2.1.3; from memory).
const GENERIC: [&str; 5] = [
    "inherit",
    "monospace",
    "sans-serif",
    "system-ui",
    "ui-monospace",
];

/// The files of the crates with this ending, with their texts.
fn texts(ending: &str) -> Vec<(PathBuf, String)> {
    let crates = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let mut texts = files::texts(&crates, ending);
    texts.retain(|(path, _)| path.components().any(|part| part.as_os_str() == "src"));
    texts
}

/// The families that a style sheet asks for, whole declarations as `font` and `font-family`.
fn families(style: &str) -> Vec<String> {
    let declarations = style.split(['{', '}', ';']);
    let values = declarations.filter_map(|declaration| {
        let (property, value) = declaration.split_once(':')?;
        match property.trim() {
            "font-family" => Some(value.trim()),
            // Behind the weight and the size, which has no blanks inside.
            "font" => {
                let value = value.trim();
                let size = value.split(' ').take_while(|word| {
                    word.starts_with(|first: char| first.is_ascii_digit() || first == '.')
                });
                let before: usize = size.map(|word| word.len() + 1).sum();
                Some(value.get(before..).unwrap_or_default())
            }
            _ => None,
        }
    });
    let names = values.flat_map(|value| value.split(','));
    names.map(|name| name.trim().to_owned()).collect()
}

#[test]
fn families_are_read_from_a_style_sheet() {
    let style = "body { font: 600 1rem/1.5 Inter, \"Ebb Sans\"; color: red }
        code{font-family:ui-monospace,monospace} button { font: inherit; font-size: 1rem; }";
    let expected = [
        "Inter",
        "\"Ebb Sans\"",
        "ui-monospace",
        "monospace",
        "inherit",
    ];
    assert_eq!(families(style), expected);
}

#[test]
fn style_sheets_ask_for_the_carried_family_or_for_what_everybody_has() {
    let sheets = texts("css");
    assert!(sheets.len() >= 6, "{}", sheets.len());
    for (sheet, style) in sheets {
        let asked = families(&style);
        let place = sheet.display();
        assert!(asked.iter().any(|family| family == CARRIED), "{place}");
        for family in asked {
            let is_known = family == CARRIED || GENERIC.contains(&family.as_str());
            assert!(is_known, "{place} asks for {family}");
        }
    }
}

/// A family that is asked for and not carried looks different on every machine.
#[test]
fn every_page_carries_its_letters() {
    let sources = texts("rs");
    for (sheet, _) in texts("css") {
        let (folder, name) = (sheet.parent(), sheet.file_name());
        let name = name.and_then(|name| name.to_str()).expect("a plain name");
        let folder = folder.expect("a folder");
        let included = |(path, text): &&(PathBuf, String)| {
            let quoted = text.split("include_str!(\"").skip(1);
            let mut names = quoted.filter_map(|rest| rest.split('"').next());
            let beside = path.parent().expect("a folder");
            names.any(|included| beside.join(included) == folder.join(name))
        };
        let pages: Vec<&(PathBuf, String)> = sources.iter().filter(included).collect();
        assert!(!pages.is_empty(), "nobody uses {}", sheet.display());
        for (page, text) in pages {
            assert!(text.contains("lettered("), "{}", page.display());
        }
    }
}

/// Prefixes of the engines are plain words of style sheets (Compatibility Standard, 2024);
/// names of browsers are not.
#[test]
fn pages_name_no_browser() {
    const BROWSERS: [&str; 5] = ["chrome", "chromium", "firefox", "opera", "safari"];
    for (path, text) in ["css", "js"].into_iter().flat_map(texts) {
        let text = text.to_lowercase();
        let mut words = text.split(|letter: char| !letter.is_alphanumeric());
        let named = words.find(|word| BROWSERS.contains(word));
        assert_eq!(named, None, "{}", path.display());
    }
}
