//! The engine's errors in the words of a maker.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use hitchwork_core::near::did_you_mean;
use rhai::{Dynamic, EvalAltResult, LexError, Module, ParseError, ParseErrorType, Position};

use crate::documented::documented;
use crate::engine_words::{self, Grown, SumFailure};
use crate::error::{Diagnostic, Frame, SourceSpan};
use crate::held;
use crate::kinds::plain_type_name;
use crate::limits::{Limits, Stopped};
use crate::sources::Source;
use crate::trouble::RaisedDiagnostic;

/// Knows the functions of the language, to say what is near and what they take.
#[derive(Clone, Debug)]
pub(crate) struct Translator {
    /// For each function, the forms in which it is called.
    forms: BTreeMap<String, Vec<String>>,
    limits: Limits,
}

/// Words that Rhai keeps for itself, which a maker might well want to use.
const KEPT_WORDS: &str =
    "thread, new, with, default, match, use, do, is, case, static, var, shared, go, until, package";

/// What a name that does not exist is used as in a rule.
#[derive(Clone, Copy)]
enum Sought {
    /// Before brackets; behind a dot, it is asked of a value that messages call so.
    Function { of: &'static str },
    /// Behind a dot, without brackets.
    Property,
    /// By itself; a function may be meant, whose brackets are missing.
    Value,
}

impl Sought {
    /// Whether a function that is called in these forms could be meant.
    fn finds(self, name: &str, forms: &[String]) -> bool {
        let called = format!("{name}(");
        let has_brackets = |form: &String| form.contains(&called);
        match self {
            Self::Function { .. } | Self::Value => forms.iter().any(has_brackets),
            Self::Property => !forms.iter().all(has_brackets),
        }
    }
}

impl Translator {
    pub(crate) fn new(functions: &[rhai::Shared<Module>], limits: Limits) -> Self {
        let mut forms = BTreeMap::<String, Vec<String>>::new();
        let mut note = |name: &str, comments: &[String]| {
            let comment = comments.join("\n");
            // Each comment begins with the form of the call in backticks.
            if let Some(form) = comment.split('`').nth(1) {
                let forms = forms.entry(name.to_owned()).or_default();
                if !forms.iter().any(|known| known == form) {
                    forms.push(form.to_owned());
                }
            }
        };
        for (name, comments) in functions.iter().flat_map(|module| documented(module)) {
            note(&name, &comments);
        }
        Self { forms, limits }
    }

    pub(crate) fn parse_error(&self, error: &ParseError, source: &Source) -> Diagnostic {
        if let Some(semicolon) = semicolon_before_method(error.position(), &source.text) {
            let diagnostic = Diagnostic::new(
                "not-a-rule",
                "this begins with a dot, but the value that it belongs to was ended with a ;",
                format!("take away the ; at the end of line {semicolon}"),
            );
            return placed(diagnostic, error.position(), source);
        }
        let diagnostic = self.parse_problem(error.err_type(), &source.text);
        placed(diagnostic, error.position(), source)
    }

    /// What is wrong with a band of that many threads; the first of the sources is the rule's
    /// own.
    pub(crate) fn refused_band(
        &self,
        error: &hitchwork_core::Error,
        threads: u16,
        sources: &[Source],
    ) -> Diagnostic {
        let code = if error.is_drift() {
            "no-drift"
        } else {
            "wrong-value"
        };
        if error.is_length() {
            // That was asked for outside the rule, and no line of it is to blame.
            let help = error.help().unwrap_or_default();
            return Diagnostic::new("setting-refused", error.to_string(), help);
        }
        let mut diagnostic = Diagnostic {
            help: error.help(),
            ..Diagnostic::new(code, error.to_string(), "")
        };
        if let Some(threads) = error.threads_of_outside() {
            diagnostic.help = Some(format!(
                "a band of {threads} threads has columns 1 to {}, so a row right across it is forward(1..{threads}); or hang more threads",
                threads - 1
            ));
        }
        if error.is_without_rows() {
            diagnostic.help = Some(format!(
                "give it rows to tie, such as .repeat(forward(1..{threads}))"
            ));
        }
        if error.is_empty_row() {
            if let Some(range) = DownwardRange::first_in(&sources[0].text) {
                let (first, last) = (range.first, range.last);
                let from = last.max(1);
                let maker = if range.over_leader {
                    "leader_left"
                } else {
                    "backward"
                };
                diagnostic.help = Some(format!(
                    "{first}..{last} is empty: a range runs upwards, as {from}..{first} does; {maker}({from}..{first}) ties from right to left"
                ));
                return placed(diagnostic, range.position, &sources[0]);
            }
            diagnostic.help = Some(format!(
                "give the row at least one knot, as forward(1..{threads}) has, or leave it out"
            ));
        }
        if let Some(place) = error.place() {
            let position = Position::new(
                u16::try_from(place.line).unwrap_or(u16::MAX),
                place.character,
            );
            return placed(diagnostic, position, &sources[usize::from(place.source)]);
        }
        let word = if error.is_drift() { "drift" } else { "repeat" };
        diagnostic.place = find_call(&sources[0].text, word, &sources[0].file);
        diagnostic
    }

    /// What stopped the run of the rule in a file.
    pub(crate) fn run_error(
        &self,
        error: &EvalAltResult,
        file: &str,
        sources: &[Source],
    ) -> Diagnostic {
        let source_of = |file: &str| sources.iter().find(|source| source.file == file);
        let mut source = source_of(file).unwrap_or(&sources[0]);
        let mut calls = Vec::new();
        let mut inner = error;
        let mut outer_position = Position::NONE;
        loop {
            let (function, next, position, inside) = match inner {
                EvalAltResult::ErrorInFunctionCall(name, file, next, position) => {
                    let function = if engine_words::is_anonymous(name) {
                        "a |…| function".to_owned()
                    } else {
                        name.clone()
                    };
                    (function, next, *position, file)
                }
                EvalAltResult::ErrorInModule(file, next, position) => {
                    (format!("import \"{file}\""), next, *position, file)
                }
                _ => break,
            };
            outer_position = position;
            let frame = Frame {
                function,
                place: spot(position, source),
            };
            calls.insert(0, frame);
            source = source_of(inside).unwrap_or(source);
            inner = next;
        }
        let position = if inner.position().is_none() {
            outer_position
        } else {
            inner.position()
        };
        let mut diagnostic = self.run_problem(inner, &source.text);
        if diagnostic.place.is_none() {
            diagnostic = placed(diagnostic, position, source);
        } else if let Some(frame) = diagnostic.calls.last_mut()
            && frame.place.is_none()
        {
            // It went wrong in another rule, and this is where that rule was called.
            frame.place = spot(position, source);
        }
        diagnostic.calls.extend(calls);
        diagnostic
    }

    fn run_problem(&self, error: &EvalAltResult, text: &str) -> Diagnostic {
        use EvalAltResult as E;
        match error {
            E::ErrorRuntime(value, _) => thrown(value),
            E::ErrorParsing(kind, _) => self.parse_problem(kind, text),
            E::ErrorVariableNotFound(name, _) => self.unknown_name(name, text),
            E::ErrorFunctionNotFound(signature, _) => self.unknown_function(signature, text),
            E::ErrorPropertyNotFound(name, _) | E::ErrorDotExpr(name, _) => {
                self.unknown_property(name, text)
            }
            E::ErrorArithmetic(said, _) => arithmetic(said),
            E::ErrorStackOverflow(_) => self.limit_depth(),
            E::ErrorTooManyVariables(_) => Diagnostic::new(
                "limit-size",
                "the rule has more than 500 variables",
                "put what belongs together into a list",
            ),
            E::ErrorTooManyModules(_) => Diagnostic::new(
                "limit-size",
                "the rule imports more than 32 times",
                "import once, at the beginning of the rule",
            ),
            E::ErrorDataTooLarge(what, _) => self.too_large(engine_words::grown(what)),
            E::ErrorTerminated(token, _) => self.stopped(token.clone().try_cast()),
            other => value_problem(other),
        }
    }

    fn unknown_property(&self, said: &str, text: &str) -> Diagnostic {
        let word = engine_words::property(said);
        Diagnostic::new(
            "unknown-name",
            format!("there is nothing called {word} here"),
            self.near_help(word, text, Sought::Property),
        )
    }

    fn parse_problem(&self, error: &ParseErrorType, text: &str) -> Diagnostic {
        use ParseErrorType as P;
        let not_a_rule =
            |message: String, help: String| Diagnostic::new("not-a-rule", message, help);
        match error {
            P::UnexpectedEOF => not_a_rule(
                "the rule breaks off before its end".into(),
                "a bracket or a brace that was opened is not closed".into(),
            ),
            P::BadInput(LexError::UnterminatedString) => {
                not_a_rule("a text in quotes has no closing quote".into(), "put a \" at its end".into())
            }
            P::BadInput(LexError::ImproperSymbol(word, _)) if ["print", "debug", "eval"].contains(&word.as_str()) => not_a_rule(
                format!("a rule cannot {word}"),
                "a rule only makes a band; stop it with throw and a value to look at that value".into(),
            ),
            P::BadInput(LexError::ImproperSymbol(symbol, _)) => not_a_rule(
                format!("\"{symbol}\" cannot stand here"),
                instead_of(symbol).into(),
            ),
            P::BadInput(LexError::StringTooLong(most)) => {
                Diagnostic::new("limit-size", format!("a text in the rule is longer than {} KB", most >> 10), "shorten it")
            }
            P::BadInput(error) => not_a_rule(format!("this cannot be read: {error}"), "look at the marked place".into()),
            P::UnknownOperator(operator) => {
                not_a_rule(format!("there is no operator {operator}"), instead_of(operator).into())
            }
            P::MissingToken(token, _) => missing(token),
            P::MissingSymbol(what) => not_a_rule(format!("something is missing here: {what}"), "look at the marked place".into()),
            P::Reserved(word) if word == "export" => not_a_rule(
                "a rule cannot export values".into(),
                "others can call the functions in it as they are".into(),
            ),
            P::Reserved(word) => not_a_rule(
                format!("\"{word}\" is a word that the language keeps for itself"),
                format!("choose another name; kept words are {KEPT_WORDS}"),
            ),
            P::VariableUndefined(name) => self.unknown_name(name, text),
            P::ModuleUndefined(name) => self.unknown_name(name, text),
            P::ExprTooDeep => self.limit_depth(),
            P::TooManyFunctions => Diagnostic::new("limit-size", "the rule has too many functions", "a rule may have 500"),
            P::LiteralTooLarge(what, most) => Diagnostic::new(
                "limit-size",
                match engine_words::grown(what) {
                    Some(Grown::Text) => "this text is too long",
                    Some(Grown::List) => "this list is too long",
                    Some(Grown::Map) => "this map is too large",
                    None => "this is too large",
                },
                format!("it may have {most} entries; make long lists in a loop, or let rows repeat"),
            ),
            P::VariableExpected => not_a_rule("a name is missing here".into(), "write the name of a variable".into()),
            P::ExprExpected(_) => not_a_rule("a value is missing here".into(), "write a number, a name or a call".into()),
            P::AssignmentToConstant(name) => {
                not_a_rule(format!("{name} is constant and cannot be changed"), "use a name of your own".into())
            }
            P::AssignmentToInvalidLHS(_) => not_a_rule(
                "nothing can be stored in this".into(),
                "to compare two values write ==; to store one, a name stands left of =".into(),
            ),
            P::FnDuplicatedDefinition(name, _) => {
                not_a_rule(format!("the function {name} is written twice"), "give one of them another name".into())
            }
            P::DuplicatedProperty(name) => not_a_rule(format!("{name} is given twice"), "leave one of them out".into()),
            P::WrongDocComment => not_a_rule(
                "a comment with /// cannot stand here".into(),
                "/// opens a rule or stands before a function; write // elsewhere".into(),
            ),
            P::WrongFnDefinition => not_a_rule(
                "a function cannot be written inside something else".into(),
                "write it at the start of a line of its own, outside all braces".into(),
            ),
            P::LoopBreak => not_a_rule("there is no loop here to leave".into(), "break and continue belong in loops".into()),
            other => not_a_rule(format!("this cannot be read: {}", first_line(&other.to_string())), "look at the marked place".into()),
        }
    }

    /// What a limit stopped from outside.
    pub(crate) fn stopped(&self, by: Option<Stopped>) -> Diagnostic {
        let limits = self.limits;
        let (code, message, help) = match by {
            Some(Stopped::Operations) => (
                "limit-work",
                format!(
                    "the rule was stopped: it made more than {} steps",
                    limits.operations
                ),
                "see that every loop comes to its end, or allow the rule more steps",
            ),
            Some(Stopped::Memory) => (
                "limit-memory",
                format!(
                    "the rule was stopped: it used more than {} MB of memory",
                    limits.memory_bytes >> 20
                ),
                "keep only what the band needs",
            ),
            Some(Stopped::Text) => return self.too_large(Some(Grown::Text)),
            Some(Stopped::Depth) => (
                "limit-depth",
                format!(
                    "functions hold each other more than {} deep, or lists in them more than {}",
                    held::MOST_INSIDE,
                    held::MOST_NESTED
                ),
                "let a function use values from around it, and other functions no more than one inside the other",
            ),
            Some(Stopped::ByRequest) => (
                "limit-work",
                "the rule was stopped, as you asked".to_owned(),
                "run it again",
            ),
            Some(Stopped::Seconds) | None => (
                "limit-work",
                format!(
                    "the rule was stopped: it took more than {} s",
                    limits.seconds
                ),
                "ask for less at once, such as a smaller picture to be solved; see that every loop comes to its end; or allow the rule more time",
            ),
        };
        Diagnostic::new(code, message, help)
    }

    fn limit_depth(&self) -> Diagnostic {
        let message = format!(
            "calls are nested more than {} deep, or brackets too deeply",
            self.limits.calls
        );
        let help = "see that no function calls itself without end, and split expressions with very many brackets";
        Diagnostic::new("limit-depth", message, help)
    }

    fn too_large(&self, grown: Option<Grown>) -> Diagnostic {
        let limits = self.limits;
        let (what, most) = match grown {
            Some(Grown::Text) => ("a text", format!("{} KB", limits.text_bytes >> 10)),
            Some(Grown::List) => ("a list", format!("{} entries", limits.list_entries)),
            Some(Grown::Map) => ("a map", format!("{} entries", limits.map_entries)),
            None => ("a value", "what a rule may use".to_owned()),
        };
        let help = "see that it does not grow without end in a loop; let rows repeat instead of listing them";
        Diagnostic::new(
            "limit-size",
            format!("{what} grows beyond {most} here"),
            help,
        )
    }

    fn unknown_name(&self, name: &str, text: &str) -> Diagnostic {
        if self.forms.contains_key(name) {
            let forms = self.forms[name].join(" or ");
            return Diagnostic::new(
                "unknown-name",
                format!("{name} is a function, not a value"),
                format!("call it: {forms}"),
            );
        }
        Diagnostic::new(
            "unknown-name",
            format!("there is nothing called {name} here"),
            self.near_help(name, text, Sought::Value),
        )
    }

    /// The name that was meant, of those that would do where this one stands.
    fn near_help(&self, name: &str, text: &str, sought: Sought) -> String {
        let own = names_in(text);
        let known = self
            .forms
            .iter()
            .filter(|(name, forms)| sought.finds(name, forms))
            .map(|(name, _)| name.as_str())
            .chain(own.iter().map(String::as_str))
            .chain(["LEFT", "RIGHT"]);
        let words = known.filter(|known| {
            *known != name
                && known
                    .chars()
                    .all(|letter| letter.is_alphanumeric() || letter == '_')
        });
        let meant = did_you_mean(name, words);
        if !meant.is_empty() {
            return meant.trim_end().to_owned();
        }
        match sought {
            Sought::Function { of } if text.contains(&format!(".{name}(")) => {
                self.what_follows(of, name)
            }
            Sought::Function { .. } => {
                format!("a function of your own is written fn {name}(…) {{ … }}")
            }
            Sought::Property | Sought::Value => {
                "a name is made with let; functions see only the values that they are given"
                    .to_owned()
            }
        }
    }

    /// What can follow a value behind a dot, where something else was asked of one.
    fn what_follows(&self, kind: &'static str, name: &str) -> String {
        // What the reference calls such a value; what is none of these is mostly to be a band.
        let (value, kind) = match kind {
            "a picture" => ("picture", kind),
            "a tied picture" => ("tied", kind),
            "a row" => ("row", kind),
            _ => ("band", "a band"),
        };
        let forms = self.forms.iter();
        let of_value = forms.filter(|(known, forms)| {
            let called = format!("{value}.{known}");
            let mut behind = forms.iter().filter_map(|form| form.strip_prefix(&called));
            behind.any(|behind| behind.starts_with('(') || behind.is_empty() && value != "band")
        });
        let names: Vec<&str> = of_value.map(|(known, _)| known.as_str()).collect();
        let instead = match name {
            "length" | "long" | "cm" | "mm" if value == "band" => {
                "how long a band becomes is chosen when it is made, or with repeats(…); "
            }
            _ => "",
        };
        format!("{instead}{kind} takes {}", names.join(", "))
    }

    /// What to write where the name of a palette was given for a list of colours.
    fn colours_for_text(name: &str, kinds: &[&str], text: &str) -> Option<String> {
        let function = match name {
            "colours" => "fade",
            "drift" => "gradient",
            _ => return None,
        };
        let given = kinds.get(1).filter(|kind| **kind == "text");
        given?;
        let between = |opens: &str, closes: char| {
            let (_, behind) = text.split_once(opens)?;
            Some(behind.split_once(closes)?.0)
        };
        let palette = between(&format!(".{name}(\""), '"').unwrap_or("spring tide");
        let threads = between("band(", ')').unwrap_or("threads");
        Some(format!(
            "a palette becomes a list of colours, one for each thread: .{name}({function}(\"{palette}\", {threads}))"
        ))
    }

    /// The engine writes `name (type, type)`, or `value.name (…)` never: methods come as
    /// functions whose first argument is the value.
    fn unknown_function(&self, signature: &str, text: &str) -> Diagnostic {
        let (name, types) = engine_words::signature(signature);
        let kinds: Vec<&str> = types.into_iter().map(plain_type_name).collect();
        let symbol = !name.chars().any(char::is_alphanumeric);
        if let (true, [left, right]) = (symbol, kinds.as_slice()) {
            let help =
                "both sides must be values that go together, such as two rows or two numbers";
            return Diagnostic::new(
                "wrong-arguments",
                format!("{name} cannot join {left} and {right}"),
                help,
            );
        }
        if let Some(forms) = self.forms.get(name) {
            let message = match kinds.as_slice() {
                [] => format!("{name} was given nothing"),
                kinds => format!("{name} does not take {}", kinds.join(" and ")),
            };
            return Diagnostic::new(
                "wrong-arguments",
                message,
                Self::colours_for_text(name, &kinds, text)
                    .unwrap_or_else(|| format!("it is used as {}", forms.join(" or "))),
            );
        }
        if engine_words::is_anonymous(name) {
            return Diagnostic::new(
                "wrong-arguments",
                "a |…| function is asked with another number of values than it has names for",
                "name each value that it is asked with: |row, column| where a cell of rows is asked for",
            );
        }
        let own = names_in(text);
        if own.iter().any(|own| own == name) {
            let message = format!(
                "{name} is not a function that takes {}",
                kinds.join(" and ")
            );
            return Diagnostic::new(
                "wrong-arguments",
                message,
                "look at how many values it is given, and of which kind",
            );
        }
        Diagnostic::new(
            "unknown-name",
            format!("there is no function called {name}"),
            self.near_help(
                name,
                text,
                Sought::Function {
                    of: kinds.first().copied().unwrap_or_default(),
                },
            ),
        )
    }
}

/// What is wrong with a value, or with how it is used.
fn value_problem(error: &EvalAltResult) -> Diagnostic {
    use EvalAltResult as E;
    match error {
        E::ErrorIndexNotFound(name, _) => Diagnostic::new(
            "wrong-value",
            format!("nothing is stored under {name}"),
            "give it a value before it is read",
        ),
        E::ErrorMismatchDataType(wanted, found, _)
        | E::ErrorMismatchOutputType(wanted, found, _) => Diagnostic::new(
            "wrong-arguments",
            format!(
                "there is {} here, where {} belongs",
                plain_type_name(found),
                plain_type_name(wanted)
            ),
            "look at what the value was made from",
        ),
        E::ErrorArrayBounds(0, index, _) => Diagnostic::new(
            "wrong-value",
            format!("an empty list has no entry {index}"),
            "put something into it first",
        ),
        E::ErrorArrayBounds(length, index, _) => Diagnostic::new(
            "wrong-value",
            format!("a list of {length} has no entry {index}"),
            format!("in square brackets entries count from 0 to {}", length - 1),
        ),
        E::ErrorStringBounds(length, index, _) => Diagnostic::new(
            "wrong-value",
            format!("a text of {length} letters has no letter {index}"),
            "count from 0",
        ),
        E::ErrorIndexingType(name, _) => Diagnostic::new(
            "wrong-arguments",
            format!("{} has no entries to take with [ ]", plain_type_name(name)),
            "only lists, maps and texts have entries",
        ),
        E::ErrorFor(_) => Diagnostic::new(
            "wrong-arguments",
            "for cannot go through this",
            "go through a range (for row in 1..=4) or a list",
        ),
        E::ErrorAssignmentToConstant(name, _) => Diagnostic::new(
            "wrong-value",
            format!("{name} is constant and cannot be changed"),
            "use a name of your own",
        ),
        E::ErrorDataRace(..) => Diagnostic::new(
            "wrong-value",
            "this value is used here while it is being changed",
            "a |…| function cannot use the very list or map that it is put into; copy it first",
        ),
        other => Diagnostic::new(
            "wrong-value",
            format!("the rule stopped here: {}", first_line(&other.to_string())),
            "look at the marked place",
        ),
    }
}

/// A text that takes no more than a reader would read.
struct Shortened(String);

impl std::fmt::Write for Shortened {
    fn write_str(&mut self, text: &str) -> std::fmt::Result {
        const MOST: usize = 300;
        let room = MOST.saturating_sub(self.0.chars().count());
        match text.char_indices().nth(room) {
            None => self.0.push_str(text),
            Some((end, _)) => {
                self.0.push_str(&text[..end]);
                self.0.push('…');
                return Err(std::fmt::Error);
            }
        }
        Ok(())
    }
}

fn thrown(value: &Dynamic) -> Diagnostic {
    if let Some(RaisedDiagnostic(diagnostic)) = value.clone().try_cast::<RaisedDiagnostic>() {
        return diagnostic;
    }
    let message = if value.is_unit() {
        "the rule stopped itself".to_owned()
    } else {
        let mut short = Shortened(String::new());
        // What does not fit is left out, which ends the writing early.
        let _ = write!(short, "{value}");
        short.0
    };
    Diagnostic::new(
        "requirement",
        message,
        "the rule's author has stopped it here on purpose",
    )
}

fn missing(token: &str) -> Diagnostic {
    let (message, help) = match token {
        "," => (
            "a comma or a closing bracket is missing before this".to_owned(),
            "close the bracket that was opened, or separate the values with commas",
        ),
        ";" => (
            "a ; is missing before this".to_owned(),
            "end the line above it with ;, or close a brace } that was opened",
        ),
        token => (
            format!("a {token} is missing before this"),
            match token {
                ")" | "]" | "|" => {
                    "close the bracket that was opened, or separate the values with commas"
                }
                "}" => "close the brace that was opened, or separate the values with commas",
                "{" => "put what belongs to it in braces: { … }",
                "(" => "put what a function is given in round brackets",
                ":" => "in a map, a colon stands between a name and its value",
                "=>" => "in a switch, => stands between a case and what comes of it",
                "in" => "the values to go through come after in, as in for row in rows { … }",
                _ => "put it before the marked place",
            },
        ),
    };
    Diagnostic::new("not-a-rule", message, help)
}

/// What to write instead of a sign of other languages.
fn instead_of(symbol: &str) -> &'static str {
    match symbol {
        "..." => "a range is written 1..6, which leaves out the 6, or 1..=6, which includes it",
        "=" | "===" => "to compare two values write ==",
        "!" | "!==" => "to ask whether two values differ write !=",
        "<-" => "for at most write <=",
        ":=" => "to store a value write =",
        ":;" | "::<" => "a function of another rule comes after ::",
        "(*" | "*)" => "a comment comes after //, or between /* and */",
        "# {" => "a map begins with #{, without a space between",
        _ => "look at the marked place",
    }
}

fn arithmetic(said: &str) -> Diagnostic {
    let (message, help) = match engine_words::sum(said) {
        SumFailure::DividedByZero => (
            "a number is divided by zero here",
            "see that the divisor cannot become 0",
        ),
        SumFailure::NegativePower => (
            "a whole number cannot be raised to a power below 0",
            "see that the exponent is 0 or more, or divide instead",
        ),
        SumFailure::TooLarge => (
            "a number becomes too large here",
            "whole numbers go to about nine million million million",
        ),
    };
    Diagnostic::new("wrong-value", message, help)
}

/// A range between two numbers of which the second is the smaller: it holds nothing.
struct DownwardRange {
    first: u64,
    last: u64,
    /// Whether it says where a row over a leader lies.
    over_leader: bool,
    position: Position,
}

impl DownwardRange {
    fn first_in(text: &str) -> Option<Self> {
        (1..)
            .zip(text.lines())
            .find_map(|(line, code)| Self::in_line(line, code.split("//").next().unwrap_or("")))
    }

    fn in_line(line: u16, code: &str) -> Option<Self> {
        let is_digit = |letter: char| letter.is_ascii_digit();
        code.match_indices("..").find_map(|(at, _)| {
            let before = code[..at].trim_end_matches(is_digit);
            let after = code[at + 2..].trim_start_matches('=');
            let after = &after[..after
                .find(|letter| !is_digit(letter))
                .unwrap_or(after.len())];
            let (first, last) = (code[before.len()..at].parse().ok()?, after.parse().ok()?);
            let character = u16::try_from(before.chars().count() + 1).ok()?;
            (first > last).then(|| Self {
                first,
                last,
                over_leader: before.ends_with("leader_right(") || before.ends_with("leader_left("),
                position: Position::new(line, character),
            })
        })
    }
}

fn first_line(text: &str) -> &str {
    text.lines().next().unwrap_or("")
}

/// The line that ends in a ; just before a method that begins a line: `band(8);` and then
/// `.repeat(…)`.
fn semicolon_before_method(position: Position, text: &str) -> Option<usize> {
    let (line, character) = (position.line()?, position.position()?);
    let lines: Vec<&str> = text.lines().collect();
    let here = lines.get(line - 1)?;
    let before: String = here.chars().take(character.saturating_sub(1)).collect();
    let begins = here.chars().nth(character.saturating_sub(1)) == Some('.');
    if !begins || !before.trim().is_empty() {
        return None;
    }
    let code = |line: &&str| {
        let code = line.split("//").next().unwrap_or("").trim();
        !code.is_empty()
    };
    let (above, last) = (1..)
        .zip(&lines[..line - 1])
        .filter(|(_, line)| code(line))
        .last()?;
    let last = last.split("//").next().unwrap_or("");
    last.trim_end().ends_with(';').then_some(above)
}

/// The names that the rule itself gives to values and functions.
fn names_in(text: &str) -> Vec<String> {
    let mut names = Vec::new();
    let words: Vec<&str> = text
        .split(|character: char| !(character.is_alphanumeric() || character == '_'))
        .filter(|word| !word.is_empty())
        .collect();
    for pair in words.windows(2) {
        if ["let", "const", "fn", "for"].contains(&pair[0]) {
            names.push(pair[1].to_owned());
        }
    }
    names
}

pub(crate) fn placed(diagnostic: Diagnostic, position: Position, source: &Source) -> Diagnostic {
    Diagnostic {
        place: spot(position, source).or(diagnostic.place.clone()),
        ..diagnostic
    }
}

/// The word or sign at a position; the engine does not say where it ends.
fn spot(position: Position, source: &Source) -> Option<SourceSpan> {
    let line = position.line()?;
    let character = position.position().unwrap_or(1).max(1);
    let rest: Vec<char> = source
        .text
        .lines()
        .nth(line - 1)
        .unwrap_or("")
        .chars()
        .skip(character - 1)
        .collect();
    let word = rest
        .iter()
        .take_while(|character| character.is_alphanumeric() || **character == '_')
        .count();
    let length = match rest.first() {
        Some('"') => rest
            .iter()
            .skip(1)
            .position(|character| *character == '"')
            .map_or(1, |end| end + 2),
        _ => word.max(1),
    };
    Some(SourceSpan {
        file: source.file.clone(),
        line,
        character,
        length,
    })
}

/// Where a method is called for the first time, or else where the band is made.
fn find_call(text: &str, method: &str, file: &str) -> Option<SourceSpan> {
    let calls = [
        (format!(".{method}("), 1, method),
        ("band(".to_owned(), 0, "band"),
    ];
    calls.iter().find_map(|(call, skipped, word)| {
        let (index, line) = text
            .lines()
            .enumerate()
            .find(|(_, line)| line.contains(call.as_str()))?;
        let byte = line.find(call.as_str())? + skipped;
        let character = line[..byte].chars().count() + 1;
        Some(SourceSpan {
            file: file.to_owned(),
            line: index + 1,
            character,
            length: word.chars().count(),
        })
    })
}
