//! What can be wrong with a rule or its settings, said at its line.

use std::fmt;
use std::ops::Range;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use hitchwork_core::text::visible;
use serde::Serialize;

use crate::sources::Source;

/// A place in a rule.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct SourceSpan {
    /// The rule's file, or its name in the built-in library.
    pub file: String,
    /// The line, from 1.
    pub line: usize,
    /// The character in that line, from 1.
    pub character: usize,
    /// How many characters are meant.
    pub length: usize,
}

/// One of the calls that led to a place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Frame {
    /// The function that was called.
    pub function: String,
    /// Where it was called.
    pub place: Option<SourceSpan>,
}

/// A variable of the rule, with what it held when the rule stopped.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Variable {
    /// Its name in the rule.
    pub name: String,
    /// Its value, shortened.
    pub value: String,
}

/// One thing that is wrong, with its place and what to do.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Diagnostic {
    /// What kind of trouble it is; see [`explain`].
    pub code: &'static str,
    /// What is wrong, complete in one line.
    pub message: String,
    /// What to do about it.
    pub help: Option<String>,
    /// Where in the rule.
    pub place: Option<SourceSpan>,
    /// The calls that led there, the innermost first.
    pub calls: Vec<Frame>,
    /// The variables on the line where the rule stopped; those inside its functions are
    /// not among them.
    pub variables: Vec<Variable>,
    /// The setting that it is about, if it is about one.
    #[serde(skip)]
    pub setting: Option<String>,
}

impl Diagnostic {
    pub(crate) fn new(
        code: &'static str,
        message: impl Into<String>,
        help: impl Into<String>,
    ) -> Self {
        Self {
            code,
            message: message.into(),
            help: Some(help.into()),
            place: None,
            calls: Vec::new(),
            variables: Vec::new(),
            setting: None,
        }
    }
}

/// Why a rule made no band: one or more [`Diagnostic`]s, with the rule's text at hand to
/// show the lines.
///
/// As text it is the first message alone, complete in one line; [`render`](Error::render)
/// shows it whole.
#[derive(Debug)]
pub struct Error(Box<ErrorParts>);

#[derive(Debug)]
struct ErrorParts {
    diagnostics: Vec<Diagnostic>,
    sources: Vec<Source>,
}

impl Error {
    /// With the texts of the files that the places mean.
    pub(crate) fn new(diagnostics: Vec<Diagnostic>, sources: &[Source]) -> Self {
        Self(Box::new(ErrorParts {
            diagnostics,
            sources: sources.to_vec(),
        }))
    }

    pub(crate) fn one(diagnostic: Diagnostic, sources: &[Source]) -> Self {
        Self::new(vec![diagnostic], sources)
    }

    /// Something that is wrong with a plan: a message, what to do, and the bytes of the
    /// plan's text that are meant.
    #[doc(hidden)]
    #[must_use]
    pub fn in_plan(
        message: impl Into<String>,
        help: impl Into<String>,
        file: &str,
        text: &str,
        bytes: Option<Range<usize>>,
    ) -> Self {
        let source = Source {
            file: file.to_owned(),
            text: text.to_owned(),
        };
        let diagnostic = Diagnostic {
            place: bytes.map(|bytes| spot(file, text, bytes)),
            ..Diagnostic::new("not-a-plan", message, help)
        };
        Self::one(diagnostic, &[source])
    }

    /// The text of a file.
    fn text(&self, file: &str) -> &str {
        let source = self.0.sources.iter().find(|source| source.file == file);
        source.map_or("", |source| source.text.as_str())
    }

    /// Says more that is wrong, in the same texts.
    pub(crate) fn add(&mut self, diagnostics: Vec<Diagnostic>) {
        for diagnostic in diagnostics {
            if !self.0.diagnostics.contains(&diagnostic) {
                self.0.diagnostics.push(diagnostic);
            }
        }
    }

    pub(crate) fn into_diagnostics(self) -> Vec<Diagnostic> {
        self.0.diagnostics
    }

    /// Everything that is wrong.
    #[must_use]
    pub fn diagnostics(&self) -> &[Diagnostic] {
        &self.0.diagnostics
    }

    /// Whether a limit stopped the rule.
    #[must_use]
    pub fn is_limit(&self) -> bool {
        self.0
            .diagnostics
            .iter()
            .any(|diagnostic| diagnostic.code.starts_with("limit-"))
    }

    /// Whether a setting is to blame and not the rule.
    #[must_use]
    pub fn is_setting(&self) -> bool {
        self.0
            .diagnostics
            .iter()
            .any(|diagnostic| diagnostic.code.starts_with("setting-"))
    }

    /// The whole of it for people: each message with its line of the rule, the place
    /// marked, the calls that led there, and the help. Whatever a rule or a setting holds
    /// that would steer a terminal is made [visible](hitchwork_core::text::visible).
    #[must_use]
    pub fn render(&self, coloured: bool) -> String {
        let renderer = if coloured {
            Renderer::styled()
        } else {
            Renderer::plain()
        };
        let reports: Vec<String> = self
            .0
            .diagnostics
            .iter()
            .map(|diagnostic| self.render_one(diagnostic, &renderer))
            .collect();
        reports.join("\n\n")
    }

    fn render_one(&self, diagnostic: &Diagnostic, renderer: &Renderer) -> String {
        let title = Level::ERROR
            .primary_title(visible(&diagnostic.message))
            .id(diagnostic.code);
        match &diagnostic.place {
            Some(spot) => {
                let labels: Vec<(String, &SourceSpan)> = diagnostic
                    .calls
                    .iter()
                    .filter_map(|call| call.place.as_ref().map(|place| (call, place)))
                    .map(|(call, place)| {
                        let label = format!("called from here, inside {}", call.function);
                        (visible(&label).into_owned(), place)
                    })
                    .collect();
                // One snippet for each file, that in which it went wrong first.
                let mut files = vec![spot.file.as_str()];
                for (_, place) in &labels {
                    if !files.contains(&place.file.as_str()) {
                        files.push(&place.file);
                    }
                }
                let snippet = |file: &str| {
                    let text = self.text(file);
                    let primary = (spot.file == file)
                        .then(|| AnnotationKind::Primary.span(byte_span(text, spot)));
                    let called = labels.iter().filter(|(_, place)| place.file == file);
                    let called = called.map(|(label, place)| {
                        AnnotationKind::Context
                            .span(byte_span(text, place))
                            .label(label.clone())
                    });
                    Snippet::source(text.to_owned())
                        .path(visible(file).into_owned())
                        .annotations(primary.into_iter().chain(called))
                };
                let group = files.iter().fold(Group::with_title(title), |group, file| {
                    group.element(snippet(file))
                });
                let held: Vec<String> = diagnostic
                    .variables
                    .iter()
                    .map(|variable| format!("{} = {}", variable.name, variable.value))
                    .collect();
                let group = match held.is_empty() {
                    true => group,
                    false => {
                        let held = format!("here {}", held.join(", "));
                        group.element(Level::NOTE.message(visible(&held).into_owned()))
                    }
                };
                let group = match &diagnostic.help {
                    Some(help) => group.element(Level::HELP.message(visible(help))),
                    None => group,
                };
                renderer.render(&[group])
            }
            None => {
                let mut group = Group::with_title(title);
                if let Some(help) = &diagnostic.help {
                    group = group.element(Level::HELP.message(visible(help)));
                }
                renderer.render(&[group])
            }
        }
    }
}

/// The bytes of the characters that a place means.
fn byte_span(text: &str, spot: &SourceSpan) -> Range<usize> {
    let line_start: usize = text
        .split_inclusive('\n')
        .take(spot.line.saturating_sub(1))
        .map(str::len)
        .sum();
    let line = text
        .get(line_start..)
        .and_then(|rest| rest.lines().next())
        .unwrap_or("");
    let byte_of = |character: usize| {
        line.char_indices()
            .nth(character)
            .map_or(line.len(), |(byte, _)| byte)
    };
    let start = byte_of(spot.character.saturating_sub(1));
    let end = byte_of(spot.character.saturating_sub(1) + spot.length.max(1));
    line_start + start..line_start + end
}

impl fmt::Display for Error {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Some(first) = self.0.diagnostics.first() else {
            return f.write_str("the rule made no band");
        };
        if let Some(SourceSpan {
            file,
            line,
            character,
            ..
        }) = &first.place
        {
            write!(f, "{file}, line {line}, character {character}: ")?;
        }
        f.write_str(&first.message)
    }
}

impl std::error::Error for Error {}

/// The codes that this crate gives, in the order of the documentation.
#[must_use]
pub fn codes() -> Vec<&'static str> {
    PAGES.iter().map(|(code, _)| *code).collect()
}

/// The page that explains one of this crate's codes.
///
/// ```
/// assert!(hitchwork_rules::explain("unknown-name").is_some());
/// for code in hitchwork_rules::codes() {
///     assert!(hitchwork_rules::explain(code).is_some_and(|page| page.starts_with(code)));
/// }
/// ```
#[must_use]
pub fn explain(code: &str) -> Option<&'static str> {
    PAGES
        .iter()
        .find(|(known, _)| *known == code)
        .map(|(_, page)| *page)
}

/// The codes, each once, with the page of its name in `pages`.
macro_rules! pages {
    ($($code:literal,)+) => {
        const PAGES: &[(&str, &str)] = &[
            $(($code, include_str!(concat!("pages/", $code, ".txt"))),)+
        ];
    };
}

pages! {
    "not-a-condition",
    "not-a-rule",
    "unknown-name",
    "wrong-arguments",
    "wrong-value",
    "no-band",
    "no-drift",
    "not-a-plan",
    "nothing-found",
    "requirement",
    "setting-unknown",
    "setting-refused",
    "setting-declared-wrongly",
    "limit-work",
    "limit-depth",
    "limit-size",
    "limit-memory",
    "not-tests",
}

pub(crate) fn spot(file: &str, text: &str, span: Range<usize>) -> SourceSpan {
    let before = text.get(..span.start).unwrap_or(text);
    let line_start = before.rfind('\n').map_or(0, |newline| newline + 1);
    let meant = text.get(span).unwrap_or("");
    let length = meant.lines().next().unwrap_or("").chars().count();
    SourceSpan {
        file: file.to_owned(),
        line: before.matches('\n').count() + 1,
        character: before[line_start..].chars().count() + 1,
        length: length.max(1),
    }
}
