//! A rule: its text, read once.

use std::sync::Arc;

use rhai::AST;

use crate::sources::{Source, Sources};

/// A rule that has been read and can be run any number of times, from many threads at
/// once. Made by [`Rules::compile`](crate::Rules::compile).
#[derive(Clone, Debug)]
pub struct Rule {
    pub(crate) name: String,
    /// What results call it.
    pub(crate) known_as: String,
    pub(crate) text: String,
    pub(crate) tree: Arc<AST>,
    pub(crate) own: Option<Arc<dyn Sources>>,
}

impl Rule {
    /// The rule, finding the other rules that it uses there before it looks into the
    /// built-in library. Without this it finds the library alone.
    #[must_use]
    pub fn finding(self, sources: impl Sources + 'static) -> Self {
        Self {
            own: Some(Arc::new(sources)),
            ..self
        }
    }

    /// The rule, called by this name in the bands that it makes: for a rule whose name is a
    /// path that
    /// means nothing on another machine.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let rule = rules.compile("/home/nobody/gulls.rhai", "band(2).repeat(forward(1))")?;
    /// let made = rules.make(&rule.known_as("gulls.rhai"), &Settings::new())?;
    /// assert_eq!(made.band.origin().expect("a rule made it").rule, "gulls.rhai");
    /// assert_eq!(made.band.sources(), ["gulls.rhai"]);
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    #[must_use]
    pub fn known_as(self, known_as: impl Into<String>) -> Self {
        let known_as = known_as.into();
        Self { known_as, ..self }
    }

    pub(crate) fn source(&self) -> Source {
        Source {
            file: self.name.clone(),
            text: self.text.clone(),
        }
    }

    /// Its name: that of its file, or in the built-in library.
    #[must_use]
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The text as it was written.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    /// What its opening doc comment says, line by line without the comment marks.
    ///
    /// ```
    /// let rules = hitchwork_rules::Rules::new();
    /// let rule = rules.compile("two", "/// Two threads, twisted.\nband(2).repeat(forward(1))")?;
    /// assert_eq!(rule.description(), "Two threads, twisted.");
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    #[must_use]
    pub fn description(&self) -> String {
        let lines = self
            .text
            .lines()
            .map(str::trim)
            .skip_while(|line| line.is_empty());
        let comment: Vec<&str> = lines
            .map_while(|line| line.strip_prefix("///"))
            .map(str::trim)
            .collect();
        comment.join("\n").trim().to_owned()
    }

    /// The first sentence of the description.
    #[must_use]
    pub fn sentence(&self) -> String {
        let words: Vec<String> = self
            .description()
            .split_whitespace()
            .map(ToOwned::to_owned)
            .collect();
        let all = words.join(" ");
        all.split_inclusive(". ")
            .next()
            .unwrap_or_default()
            .trim()
            .to_owned()
    }
}
