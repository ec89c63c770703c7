//! Everything that the command says.

use std::collections::BTreeSet;
use std::fmt::Display;
use std::io::{self, IsTerminal, Write};

use hitchwork_collection::names::told;
use hitchwork_core::colour::Srgb;
use hitchwork_core::craft::{Shopping, metres_at_least, time_words};
use hitchwork_core::proof::{Finding, Frieze, Report, Severity, SymmetrySaid, ToMeasure};
pub(crate) use hitchwork_core::text::counted;
use hitchwork_core::text::{on_one_line, steers};
use hitchwork_core::tied::Tied;
use owo_colors::Style;
use serde::Serialize;

use crate::advice;
use crate::terminal::{Styled as _, let_through, marked};
use crate::trouble::Trouble;

/// Writes to standard output; colours are left out where it is not a terminal.
pub(crate) fn out(text: impl Display) -> Result<(), Trouble> {
    let mut stdout = anstream::stdout().lock();
    stdout
        .write_all(let_through(&text.to_string()).as_bytes())
        .and_then(|()| stdout.flush())
        .map_err(|error| output_trouble(&error))
}

/// Writes bytes that are meant for programs or files to standard output, as they are; where
/// it is a terminal all the same, words pass the gate.
pub(crate) fn raw(bytes: &[u8]) -> Result<(), Trouble> {
    let mut stdout = io::stdout().lock();
    if stdout.is_terminal()
        && let Ok(text) = std::str::from_utf8(bytes)
    {
        return out(text);
    }
    stdout
        .write_all(bytes)
        .and_then(|()| stdout.flush())
        .map_err(|error| output_trouble(&error))
}

/// Writes data to standard output as JSON.
pub(crate) fn json(value: &impl Serialize) -> Result<(), Trouble> {
    let text = serde_json::to_string_pretty(value).expect("reports are plain data");
    raw(format!("{}\n", escaped(&text)).as_bytes())
}

/// JSON with those characters escaped that its writer leaves as they are and a terminal
/// would obey. They stand in strings alone, so nothing else changes.
fn escaped(json: &str) -> String {
    let mut text = String::with_capacity(json.len());
    for character in json.chars() {
        if character != '\n' && steers(character) {
            for unit in character.encode_utf16(&mut [0; 2]) {
                text.push_str(&format!("\\u{unit:04x}"));
            }
        } else {
            text.push(character);
        }
    }
    text
}

fn output_trouble(error: &io::Error) -> Trouble {
    if error.kind() == io::ErrorKind::BrokenPipe {
        return Trouble::OutputClosed;
    }
    Trouble::new(
        format!(
            "nothing can be written to standard output: {}",
            crate::folder::reason(error)
        ),
        "check where it leads",
    )
}

/// Says what went wrong, on standard error; as data on standard output where that was
/// asked for. Nothing is left to do when that fails too.
pub(crate) fn trouble(trouble: &Trouble, as_json: bool) {
    if as_json {
        let _ = match trouble {
            Trouble::Rule(error) => {
                json(&serde_json::json!({ "diagnostics": error.diagnostics() }))
            }
            Trouble::Plain(plain) => json(&serde_json::json!({ "diagnostics": [plain] })),
            Trouble::OutputClosed => Ok(()),
        };
        return;
    }
    let words = match trouble {
        Trouble::Rule(error) => {
            let codes = error.diagnostics().iter().map(|diagnostic| diagnostic.code);
            let codes: BTreeSet<&str> = codes.collect();
            let mut words = marked(&error.render(true));
            for advice in codes.into_iter().filter_map(advice::beside_error) {
                words.push_str(&format!("\n  {} {advice}", "help:".styled(heading())));
            }
            words
        }
        Trouble::Plain(plain) => {
            let help = plain
                .help
                .as_ref()
                .map(|help| format!("\n  {} {help}", "help:".styled(heading())));
            format!(
                "{} {}{}",
                "error:".styled(Style::new().red().bold()),
                on_one_line(&plain.message),
                help.unwrap_or_default()
            )
        }
        Trouble::OutputClosed => return,
    };
    on_standard_error(&format!("{words}\n"));
}

/// Words on standard error. Nobody may be reading there; that must not stop the work.
pub(crate) fn on_standard_error(words: &str) {
    let _ = anstream::stderr()
        .lock()
        .write_all(let_through(words).as_bytes());
}

pub(crate) fn heading() -> Style {
    Style::new().bold()
}

/// A note for people, on standard error where standard output is piped to a program.
pub(crate) fn aside(text: impl Display) -> Result<(), Trouble> {
    if io::stdout().is_terminal() {
        return out(text);
    }
    note(text);
    Ok(())
}

/// A note for people on standard error, wherever standard output leads.
pub(crate) fn note(text: impl Display) {
    on_standard_error(&text.to_string());
}

/// What is proved of a band, and how hard it is, as data.
pub(crate) fn as_data(tied: &Tied) -> serde_json::Value {
    let mut report = serde_json::to_value(tied.report()).expect("reports are plain data");
    report["difficulty"] = serde_json::json!(tied.difficulty());
    report
}

/// What was proved, in a few lines that a maker understands.
pub(crate) fn summary(tied: &Tied) -> String {
    let (band, report, difficulty) = (tied.band(), tied.report(), tied.difficulty());
    let mut lines = LabelledLines::under(String::new(), 12);
    let threads = format!(
        "{}, in {}",
        report.threads,
        counted(report.colours as u64, "colour")
    );
    lines.add("threads", threads);
    lines.add(
        "repeat",
        format!(
            "{} of {}, {:.1} mm longer each time",
            counted(report.rows_per_repeat as u64, "row"),
            counted(report.knots_per_repeat as u64, "knot"),
            report.size_mm.repeat,
        ),
    );
    lines.add("comes round", comes_round(report));
    lines.add(
        "drifts",
        report.drift.map_or("no".to_owned(), |drift| {
            format!(
                "{} of {} colours at every repeat",
                counted(drift.steps_per_repeat as u64, "step"),
                drift.colours
            )
        }),
    );
    lines.add("symmetry", symmetry(&report.symmetry));
    let (width, length) = (report.size_mm.width / 10.0, report.size_mm.length / 10.0);
    lines.add(
        "size",
        format!(
            "{width:.1} cm wide and {length:.1} cm long without ties, {}",
            counted(report.knots, "knot")
        ),
    );
    lines.add("thread", thread(report));
    if let Some(shopping) = &report.shopping {
        lines.add("buy", buy(shopping));
    }
    for (at, colour) in report.stash.iter().flatten().enumerate() {
        lines.add(if at == 0 { "stash" } else { "" }, colour.words());
    }
    lines.add(
        "time",
        format!(
            "about {} at {} seconds for a knot",
            time_words(report.minutes),
            report.seconds_per_knot
        ),
    );
    lines.add(
        "difficulty",
        format!("{} ({})", difficulty.degree(), difficulty.reasons()),
    );
    lines.add(
        "begins",
        end(band.start().shape.name(), report.edges.start.shape.words()),
    );
    lines.add(
        "ends",
        end(
            band.finish().shape.name(),
            report.edges.finish.shape.words(),
        ),
    );
    let threads: Vec<String> = (1..)
        .zip(band.colours())
        .map(|(number, colour): (u16, _)| format!("{number} {}", colour.name))
        .collect();
    lines.add("hang", threads.join(", "));
    lines.text
}

/// How often the working thread changes in a repeat: as the rows are written, in the easiest order
/// that was found, and at least; and as the sheet has it, where that is neither one nor the other alone.
pub(crate) fn work(tied: &Tied) -> String {
    let work = tied.work();
    let (easiest, written) = (work.easiest.thread_changes, work.as_written.thread_changes);
    let mut words = format!("{} of thread a repeat", counted(written as u64, "change"));
    if easiest < written {
        let found = if work.proved { "" } else { " that was found" };
        words += &format!(" as written; {easiest} in the easiest order{found}");
    }
    words += &match (work.proved, easiest < written) {
        (true, false) => "; no order has fewer".to_owned(),
        (true, true) => ", and no order has fewer".to_owned(),
        (false, _) if work.least_thread_changes == 0 => {
            ", and whether an order has fewer is not known".to_owned()
        }
        (false, _) => format!(
            ", and none can have fewer than {}",
            work.least_thread_changes
        ),
    };
    words += &match tied.followed_work().thread_changes {
        followed if followed == easiest => String::new(),
        followed if followed == written => {
            "; the sheet keeps the rows as they are written".to_owned()
        }
        followed => {
            format!("; the sheet has an order with {followed}, which spares rows before and after")
        }
    };
    let mut lines = LabelledLines::under(String::new(), 12);
    lines.add("work", words);
    lines.text
}

/// What to count on the finished band for a swatch of your own; nothing where its knots do not
/// lie in columns and half rows.
pub(crate) fn to_measure(report: &Report) -> String {
    let Some(ToMeasure {
        columns, half_rows, ..
    }) = report.swatch
    else {
        return String::new();
    };
    let mut lines = LabelledLines::under(String::new(), 12);
    lines.add(
        "swatch",
        format!(
            "{} wide, {} long (a knot is two): measure both, and give --swatch {columns}:MM,{half_rows}:MM",
            counted(columns, "column"),
            counted(half_rows, "half row")
        ),
    );
    lines.text
}

/// "the knots have half turns (p2); the colours have no symmetry (p1)".
pub(crate) fn symmetry(found: &SymmetrySaid) -> String {
    let have = |group: Frieze| match group {
        Frieze::P1 => format!("have no symmetry ({})", group.symbol()),
        other => format!("have {other}"),
    };
    let apart = found
        .apart_from_middle
        .map(|group| format!("; without the middle column they {}", have(group)));
    let colours = found
        .colours
        .map_or_else(|| "come round too late to tell".to_owned(), have);
    if found.apart_from_middle.is_none() && found.colours == Some(found.knots) {
        return format!("knots and colours {colours}");
    }
    format!(
        "the knots {}{}; the colours {colours}",
        have(found.knots),
        apart.unwrap_or_default()
    )
}

/// "10 threads of 95 to 120 cm, 10.6 m in all"; for a loop start "5 pieces of 190 to 240 cm
/// for 10 threads, 10.6 m in all".
fn thread(report: &Report) -> String {
    let list = &report.cut_list;
    let pieces: usize = list.cuts.iter().map(|cut| cut.pieces).sum();
    let shortest = list.cuts.iter().map(|cut| cut.cut_mm / 10.0);
    let (least, most) = (shortest.fold(f64::MAX, f64::min), list.longest_cm());
    let lengths = match least == most {
        true => format!("{most:.0} cm"),
        false => format!("{least:.0} to {most:.0} cm"),
    };
    let threads = counted(u64::from(report.threads), "thread");
    let what = match pieces == usize::from(report.threads) {
        true => format!("{threads} of {lengths}"),
        false => format!(
            "{} of {lengths} for {threads}",
            counted(pieces as u64, "piece")
        ),
    };
    format!("{what}, {} in all", metres_at_least(list.total_mm))
}

/// "14 skeins of 8 m for 6 people (2 coral, 1 teal…), 21.00 in all"; with a stash, what it does
/// not have.
fn buy(shopping: &Shopping) -> String {
    let people = shopping.people_words();
    let owned = shopping.from_stash();
    if let (true, Some(owned)) = (shopping.purchases.is_empty(), &owned) {
        return format!("nothing for {people}: all {owned} come from your stash");
    }
    let owned = owned.map(|owned| format!("; another {owned} come from your stash"));
    let colours: Vec<String> = shopping
        .purchases
        .iter()
        .map(|purchase| format!("{} {}", purchase.skeins, purchase.colour))
        .collect();
    let cost = shopping
        .cost
        .map(|cost| format!(", {cost:.2} in all"))
        .unwrap_or_default();
    format!(
        "{} for {people} ({}){cost}{}",
        shopping.skeins_words(shopping.skeins),
        colours.join(", "),
        owned.unwrap_or_default()
    )
}

/// After how many repeats every thread hangs again where it hung before the first.
fn comes_round(report: &Report) -> String {
    let colours = report.colour_repeats_to_close;
    let tied = format!("you tie {}", report.repeats);
    match report.repeats_to_close {
        threads if threads == colours => {
            format!("after {}; {tied}", counted(colours, "repeat"))
        }
        threads => format!(
            "the colours after {}, the threads after {threads}; {tied}",
            counted(colours, "repeat")
        ),
    }
}

fn end(shape: &str, edge: &str) -> String {
    format!("{shape} (the edge {edge})")
}

/// That files lie in the folder which belong to something that was made there before.
pub(crate) fn earlier(files: &[String]) -> Option<String> {
    let lie = match files {
        [] => return None,
        [_] => "was not written now: it belongs to what was made here before",
        _ => "were not written now: they belong to what was made here before",
    };
    Some(format!("{} {lie}", told(files)))
}

/// Lines of a label and what it says.
pub(crate) struct LabelledLines {
    pub(crate) text: String,
    /// How wide the labels are.
    width: usize,
}

impl LabelledLines {
    /// Under words that stand above them, with labels this many letters wide.
    pub(crate) const fn under(text: String, width: usize) -> Self {
        Self { text, width }
    }

    pub(crate) fn add(&mut self, label: &str, says: impl Display) {
        let says = says.to_string();
        let says = on_one_line(&says);
        let label = format!("{label:<width$}", width = self.width);
        let label = label.styled(Style::new().cyan());
        self.text.push_str(&format!("  {label}{says}\n"));
    }

    /// Several lines, of which the first has the label.
    pub(crate) fn add_all(&mut self, label: &str, says: impl Iterator<Item = impl Display>) {
        for (number, says) in says.enumerate() {
            self.add(if number == 0 { label } else { "" }, says);
        }
    }
}

/// The findings, each with its place and what to do.
pub(crate) fn findings(report: &Report) -> String {
    if report.findings.is_empty() {
        return format!(
            "  {}none\n",
            format!("{:<12}", "findings").styled(Style::new().cyan())
        );
    }
    let alike =
        |one: &Finding, other: &Finding| one.severity == Severity::Note && one.code == other.code;
    report.findings.chunk_by(alike).map(of_one_kind).collect()
}

/// From this many notes of one kind on, not each is told (our own judgement: the line that
/// matters would be lost between them),
const MANY_NOTES: usize = 5;
/// but only so many.
const TOLD_OF_MANY: usize = 2;

/// Findings of one kind, one after another.
fn of_one_kind(findings: &[Finding]) -> String {
    if findings.len() < MANY_NOTES {
        return findings.iter().map(finding).collect();
    }
    let (told, others) = findings.split_at(TOLD_OF_MANY);
    let mut said: String = told.iter().map(finding).collect();
    let threads: Vec<String> = others
        .iter()
        .filter_map(|finding| finding.place.thread)
        .map(|thread| thread.to_string())
        .collect();
    let place = match threads.len() == others.len() {
        true => format!("the same of threads {}", threads.join(", ")),
        false => "of the same kind".to_owned(),
    };
    let label = label(&others[0]);
    said.push_str(&format!("{label} {} more, {place}\n", others.len()));
    said
}

/// How serious it is, and its code.
fn label(finding: &Finding) -> String {
    let style = match finding.severity {
        Severity::Error => Style::new().red().bold(),
        Severity::Warning => Style::new().yellow().bold(),
        Severity::Note => Style::new().blue().bold(),
    };
    let label = format!("{}[{}]:", finding.severity, finding.code);
    label.styled(style).to_string()
}

fn finding(finding: &Finding) -> String {
    let place = finding.place.rule.as_ref().map(|rule| {
        format!(
            "\n  at:   {}, line {}, character {}",
            on_one_line(&rule.file),
            rule.line,
            rule.character
        )
    });
    format!(
        "{} {}{}\n  {} {}\n",
        label(finding),
        on_one_line(&finding.message),
        place.unwrap_or_default(),
        "help:".styled(heading()),
        advice::beside_finding(finding)
    )
}

/// Text in lines of at most 80 characters, each indented; a word that is longer stays whole.
pub(crate) fn wrapped(text: &str, indent: usize) -> String {
    const WIDTH: usize = 80;
    let indent = " ".repeat(indent);
    let options = textwrap::Options::new(WIDTH)
        .initial_indent(&indent)
        .subsequent_indent(&indent)
        .word_separator(textwrap::WordSeparator::AsciiSpace)
        .word_splitter(textwrap::WordSplitter::NoHyphenation)
        .break_words(false);
    let words: Vec<&str> = text.split_whitespace().collect();
    textwrap::fill(&words.join(" "), options) + "\n"
}

/// A patch of a colour, where the terminal can show it; nothing elsewhere.
pub(crate) fn swatch(colour: Srgb) -> String {
    let shown = anstream::AutoStream::choice(&io::stdout()) != anstream::ColorChoice::Never
        && std::env::var("COLORTERM")
            .is_ok_and(|term| ["truecolor", "24bit"].contains(&term.as_str()));
    if shown {
        "    ".styled(Style::new().on_truecolor(colour.red, colour.green, colour.blue))
    } else {
        String::new()
    }
}
