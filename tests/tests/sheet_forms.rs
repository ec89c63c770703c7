//! The sheet comes as text, as a page and as pages to print. All three are read here for the
//! same bands, and must say the same.

use std::collections::BTreeSet;

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::craft::SkeinSize;
use hitchwork_core::knot::Kind;
use hitchwork_core::proof::Code;
use hitchwork_core::tied::Tied;
use hitchwork_draw::pdf::{self, Paper};
use hitchwork_draw::{html, text};
use hitchwork_rules::{Rules, Settings};
use hitchwork_tests::made;

fn of_rule(name: &str) -> Tied {
    let rules = Rules::new();
    let rule = rules.built_in(name).expect("built in");
    Tied::of(rules.make(&rule, &Settings::new()).expect("a band").band)
}

/// A band with a lead-in, a lead-out, and threads that change places in between.
fn with_all_parts() -> Tied {
    let plain = made::band(
        5,
        vec![
            made::run(Kind::Forward, 1..5),
            made::run(Kind::BackwardForward, [2, 4]),
        ],
        8,
    );
    let band = Band::new(BandParts {
        title: "Ebb & <flow>".to_owned(),
        notes: "For a calm evening.\nPull every knot twice.".to_owned(),
        lead_in: vec![made::run(Kind::Backward, [4, 3, 2])],
        lead_out: vec![made::run(Kind::Forward, [1, 2])],
        ..plain.into_parts()
    });
    Tied::of(band.expect("a band"))
}

/// A band on which one long thread ties every knot, with what to buy for a class.
fn with_a_long_thread() -> Tied {
    let over_all = made::run(Kind::Forward, 1..6).then(&made::run(Kind::Backward, (1..6).rev()));
    let tied = Tied::of(made::band(6, vec![over_all], 60));
    tied.for_class(6, SkeinSize::default()).expect("a list")
}

fn all() -> Vec<Tied> {
    let mut bands = vec![with_all_parts(), with_a_long_thread()];
    bands.extend(["drift", "bordered_stripes", "hearts", "boats"].map(of_rule));
    bands
}

/// Text without spaces and without what stands between a thread's number and its name in one
/// form and not in another; capitals do not matter.
fn letters(text: &str) -> String {
    text.chars()
        .filter(|letter| !letter.is_whitespace() && *letter != ',')
        .flat_map(char::to_lowercase)
        .collect()
}

/// The statements of the text sheet, one by one: its headings, items and paragraphs.
fn statements(sheet: &str) -> Vec<String> {
    let mut statements: Vec<String> = Vec::new();
    let mut in_paragraph = false;
    for line in sheet.lines() {
        let trimmed = line.trim();
        if trimmed.is_empty() || trimmed.chars().all(|letter| letter == '=') {
            in_paragraph = false;
            continue;
        }
        let mark = trimmed.split(' ').next().unwrap_or("");
        let numbered = |mark: &str| mark.parse::<u32>().is_ok();
        let is_thread = line.starts_with(' ') && numbered(mark) && trimmed.contains("  ");
        let is_item = mark == "-"
            || mark.strip_suffix('.').is_some_and(numbered)
            || ["Repeat", "Row", "Order"].contains(&mark);
        let is_heading = trimmed
            .chars()
            .all(|letter| letter.is_uppercase() || "- ".contains(letter));
        let begins = is_item || is_heading || is_thread;
        let goes_on = !is_thread && line.starts_with(' ') || in_paragraph && !begins;
        match statements.last_mut().filter(|_| goes_on) {
            Some(last) => {
                last.push(' ');
                last.push_str(trimmed);
            }
            None => {
                let marked = mark == "-" || mark.ends_with('.') && !is_thread && is_item;
                let words = if marked {
                    &trimmed[mark.len()..]
                } else {
                    trimmed
                };
                statements.push(words.trim().to_owned());
            }
        }
        if !goes_on {
            in_paragraph = !begins;
        }
    }
    statements
}

/// Elements without an end tag.
const VOID: [&str; 5] = ["meta", "input", "br", "hr", "link"];

/// The words of the page for the hand as designed, block by block, without pictures and
/// without what only helps on a screen.
fn blocks(page: &str) -> Vec<String> {
    let mut blocks = vec![String::new()];
    let mut left_out: Vec<String> = Vec::new();
    let (_, body) = page.split_once("<body>").expect("a body");
    // The scripts come last, and hold signs of their own.
    let (mut rest, _) = body.split_once("<script").expect("a script");
    while let Some((words, after)) = rest.split_once('<') {
        if left_out.is_empty() {
            let words = words.replace("&lt;", "<").replace("&gt;", ">");
            let words = words.replace("&quot;", "\"").replace("&amp;", "&");
            blocks.last_mut().expect("one").push_str(&words);
        }
        let (tag, after) = after.split_once('>').expect("a tag ends");
        rest = after;
        let name = tag
            .trim_start_matches('/')
            .split([' ', '/'])
            .next()
            .unwrap_or("");
        let opens = !tag.starts_with('/') && !tag.ends_with('/') && !VOID.contains(&name);
        let hides = ["svg", "nav", "figcaption"].contains(&name)
            || [
                "data-hand=\"1\"",
                "id=\"tracker\"",
                "class=\"hands\"",
                "class=\"skip\"",
                // What is said in short on paper is followed step by step on a screen.
                "in-full",
            ]
            .iter()
            .any(|mark| tag.contains(mark));
        if opens && (hides || !left_out.is_empty()) {
            left_out.push(name.to_owned());
        } else if tag.starts_with('/') && !left_out.is_empty() {
            assert_eq!(left_out.pop().as_deref(), Some(name), "tags are in pairs");
        }
        if ["li", "p", "h1", "h2", "h3", "summary"].contains(&name) {
            blocks.push(String::new());
        }
    }
    blocks.retain(|block| !block.trim().is_empty());
    blocks
}

fn printed(tied: &Tied) -> String {
    let bytes = pdf::sheet(tied, Paper::A4).expect("pages");
    pdf_extract::extract_text_from_mem(&bytes).expect("words")
}

/// Headings and words that stand in one form only, as its layout needs them.
const OF_THE_TEXT: [&str; 6] = [
    "THREADS",
    "Numbered from left to right, as they hang at the start.",
    "SIZE AND TIME",
    "ROWS",
    "THE LEAD-OUT",
    "STOP",
];
const OF_THE_PAGE: [&str; 6] = [
    "A band to tie",
    "The threads, from left to right:",
    "Tie",
    "The rows as a chart of strands",
    "The rows as a chart of knots",
    "This page is one file and needs no network. Your place is kept in this browser only.",
];

#[test]
fn page_text_and_pdf_say_the_same() {
    for tied in all() {
        let title = &tied.steps().title;
        let sheet = text::sheet(&tied);
        let page = html::sheet(&tied).expect("a page");
        let blocks = blocks(&page);
        let (on_page, on_paper) = (letters(&blocks.concat()), letters(&printed(&tied)));
        let said = statements(&sheet);
        for statement in said
            .iter()
            .filter(|said| !OF_THE_TEXT.contains(&said.as_str()))
        {
            let wanted = letters(statement);
            assert!(
                on_page.contains(&wanted),
                "{title}: not on the page: {statement}"
            );
            assert!(
                on_paper.contains(&wanted),
                "{title}: not on paper: {statement}"
            );
        }
        let in_text = letters(&said.concat());
        for block in blocks
            .iter()
            .filter(|block| !OF_THE_PAGE.contains(&block.trim()))
        {
            assert!(
                in_text.contains(&letters(block)),
                "{title}: only on the page: {block}"
            );
        }
        in_one_turn(&said, [("the page", &on_page), ("paper", &on_paper)], title);
    }
}

/// From the rows on, all forms say everything in the same turn; each has headings of its own.
fn in_one_turn(said: &[String], forms: [(&str, &String); 2], title: &str) {
    let rows = said.iter().position(|said| said == "ROWS").expect("rows");
    let is_heading = |said: &&String| said.chars().all(|letter| !letter.is_lowercase());
    for (form, letters_of_form) in forms {
        let mut rest = letters_of_form.as_str();
        for statement in said[rows..].iter().filter(|said| !is_heading(said)) {
            let wanted = letters(statement);
            let at = rest.find(&wanted);
            let at = at.unwrap_or_else(|| panic!("{title}: out of turn on {form}: {statement}"));
            rest = &rest[at + wanted.len()..];
        }
    }
}

/// What the proofs found stands on the sheet with what a maker does about it, and not with
/// what only a designer could do.
#[test]
fn a_sheet_says_what_was_found_and_what_to_do_at_the_table() {
    let tied = with_a_long_thread();
    let found: BTreeSet<Code> = tied
        .report()
        .findings
        .iter()
        .map(|finding| finding.code)
        .collect();
    for (code, advice) in [
        (Code::Tangles, "Wind long threads into small butterflies"),
        (Code::FarLongerThread, "Cut each thread to its own length."),
        (Code::ColourNeverShows, "The same goes for threads 4 and 5."),
        (Code::ColourOnlyInEdge, "The same goes for thread 6."),
    ] {
        assert!(found.contains(&code), "{code} is found in {found:?}");
        assert!(
            tied.steps().know.iter().any(|line| line.contains(advice)),
            "{advice} in {:?}",
            tied.steps().know
        );
    }
    let alike = of_rule("blend");
    let know = &alike.steps().know;
    assert_eq!(know.len(), 1, "{know:?}");
    assert!(know[0].ends_with("Number the threads at the start, and tie by the numbers."));
    assert!(
        !know[0].contains("hang 1"),
        "fewer colours are for the designer: {know:?}"
    );
    for tied in [tied, alike] {
        for line in &tied.steps().know {
            let sheet = letters(&text::sheet(&tied));
            assert!(sheet.contains(&letters(line)), "{line}");
        }
    }
}

/// Every finding has its word for the maker, but for the one that the rows say themselves.
#[test]
fn every_finding_but_one_has_a_word_for_the_maker() {
    for &code in Code::ALL {
        let silent = code == Code::StopsEarly;
        assert_eq!(code.advice().is_none(), silent, "{code}");
    }
}

/// A sheet of a band without findings has no room for them.
#[test]
fn a_sheet_without_findings_says_nothing_of_them() {
    let tied = of_rule("chevron");
    assert!(tied.report().findings.is_empty());
    assert!(!text::sheet(&tied).contains("GOOD TO KNOW"));
    let page = html::sheet(&tied).expect("a page");
    assert!(!page.contains("Good to know"));
    assert!(!printed(&tied).contains("Good to know"));
}
