//! The reference of the rule language, made from what its functions say about themselves.

use hitchwork_core::text::capitalised;
use serde::Serialize;

use crate::documented::documented;
use crate::functions;

/// Everything that rules can be written with, room by room.
///
/// ```
/// let reference = hitchwork_rules::Rules::new().reference();
/// let forward = reference.find("forward").expect("there is such a function");
/// assert_eq!(forward.forms[0].call, "forward(columns)");
/// assert!(forward.example.contains("forward("));
/// assert!(reference.find("no_such_function").is_none());
/// ```
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Reference {
    /// The rooms, in the order in which a newcomer needs them.
    pub rooms: Vec<Room>,
}

/// Functions of one kind.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Room {
    /// What kind.
    pub title: String,
    /// What they are for.
    pub sentence: String,
    /// The functions by name.
    pub functions: Vec<Function>,
}

/// A function, in all the forms in which it can be called.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Function {
    /// Its name.
    pub name: String,
    /// The ways to call it.
    pub forms: Vec<Form>,
    /// A script that uses it, and ends in a band or in rows.
    pub example: String,
}

/// One way to call a function.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Form {
    /// How the call is written.
    pub call: String,
    /// What it does.
    pub meaning: String,
    /// What is given to it, with units and ranges.
    pub arguments: Vec<Argument>,
    /// When it stops the rule.
    pub errors: Option<String>,
}

/// What is given to a function.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Argument {
    /// What the form calls it.
    pub name: String,
    /// What it means, with its unit and range.
    pub meaning: String,
}

impl Reference {
    /// With the functions of these modules of an embedder's own.
    pub(crate) fn new(own_modules: &[rhai::Shared<rhai::Module>]) -> Self {
        let native = functions::ROOMS.iter().map(|room| Room {
            title: room.title.to_owned(),
            sentence: room.sentence.to_owned(),
            functions: grouped(by_name(&room.module())),
        });
        let own = BROUGHT_ALONG
            .split("\n# ")
            .map(|comment| comment.trim_start_matches("# "))
            .filter_map(|comment| comment.split_once('\n'))
            .map(|(name, comment)| (name.trim().to_owned(), comment.to_owned()));
        let brought_along = Room {
            title: "the script itself".to_owned(),
            sentence: "What every Rhai script can do and rules need most: names, choices, loops, lists and whole numbers.".to_owned(),
            functions: grouped(own.collect()),
        };
        let documented = own_modules.iter().flat_map(|module| by_name(module));
        let embedded = Room {
            title: "functions of your own".to_owned(),
            sentence: "What the program around the language adds to it.".to_owned(),
            functions: grouped(documented.collect()),
        };
        let embedded = Some(embedded).filter(|room| !room.functions.is_empty());
        Self {
            rooms: native.chain([brought_along]).chain(embedded).collect(),
        }
    }

    /// The function of that name.
    #[must_use]
    pub fn find(&self, name: &str) -> Option<&Function> {
        self.functions().find(|function| function.name == name)
    }

    /// All functions, room by room.
    pub fn functions(&self) -> impl Iterator<Item = &Function> {
        self.rooms.iter().flat_map(|room| &room.functions)
    }

    /// The reference as a page of Markdown.
    #[must_use]
    pub fn markdown(&self) -> String {
        let mut text =
            String::from("# The rule language\n\nEverything that rules can be written with.\n");
        for room in &self.rooms {
            text.push_str(&format!("\n## {}\n\n{}\n", room.title, room.sentence));
            for function in &room.functions {
                text.push_str(&format!("\n### {}\n", function.name));
                for form in &function.forms {
                    text.push_str(&format!("\n`{}`: {}\n", form.call, form.meaning));
                    if !form.arguments.is_empty() {
                        text.push('\n');
                    }
                    for argument in &form.arguments {
                        text.push_str(&format!("- `{}`: {}\n", argument.name, argument.meaning));
                    }
                    if let Some(errors) = &form.errors {
                        text.push_str(&format!("\nErrors: {errors}\n"));
                    }
                }
                text.push_str(&format!("\n```rhai\n{}\n```\n", function.example));
            }
        }
        text
    }
}

/// The functions of a module with their doc comments, by name.
fn by_name(module: &rhai::Module) -> Vec<(String, String)> {
    let plain = |(name, lines): (String, Vec<String>)| (name, without_marks(&lines.join("\n")));
    let mut functions: Vec<(String, String)> = documented(module).into_iter().map(plain).collect();
    // The engine lists them in an order that changes from run to run.
    functions.sort();
    functions.dedup();
    functions
}

/// A doc comment without the slashes and the space before each line.
fn without_marks(comment: &str) -> String {
    let line = |line: &str| {
        let line = line.trim_start().trim_start_matches("///");
        line.strip_prefix(' ').unwrap_or(line).to_owned()
    };
    comment.lines().map(line).collect::<Vec<_>>().join("\n")
}

/// Functions by name; their example is that of the first form which has one.
fn grouped(documented: Vec<(String, String)>) -> Vec<Function> {
    let mut functions: Vec<Function> = Vec::new();
    for (name, comment) in documented {
        let (form, example) = form(&comment);
        match functions.last_mut().filter(|last| last.name == name) {
            Some(last) => {
                last.forms.push(form);
                if last.example.is_empty() {
                    last.example = example;
                }
            }
            None => functions.push(Function {
                name,
                forms: vec![form],
                example,
            }),
        }
    }
    functions
}

/// Reads a doc comment: the form in backticks and its meaning, then `- ` arguments, a
/// paragraph that begins with `Errors:`, and a fenced example.
fn form(comment: &str) -> (Form, String) {
    let (words, example) = match comment.split_once("```rhai\n") {
        Some((before, after)) => {
            let (example, rest) = after.split_once("\n```").unwrap_or((after, ""));
            (format!("{before}\n{rest}"), example.to_owned())
        }
        None => (comment.to_owned(), String::new()),
    };
    let mut paragraphs: Vec<String> = Vec::new();
    let mut open = false;
    for line in words.lines() {
        let line = line.trim();
        if line.is_empty() {
            open = false;
        } else if open && !line.starts_with("- ") {
            let last = paragraphs.last_mut().expect("a paragraph is open");
            last.push(' ');
            last.push_str(line);
        } else {
            paragraphs.push(line.to_owned());
            open = true;
        }
    }
    let mut made = Form {
        call: String::new(),
        meaning: String::new(),
        arguments: Vec::new(),
        errors: None,
    };
    for paragraph in paragraphs {
        if let Some(errors) = paragraph.strip_prefix("Errors: ") {
            made.errors = Some(errors.to_owned());
        } else if let Some((name, meaning)) = paragraph
            .strip_prefix("- `")
            .and_then(|argument| argument.split_once("`: "))
        {
            made.arguments.push(Argument {
                name: name.to_owned(),
                meaning: meaning.to_owned(),
            });
        } else if made.call.is_empty()
            && let Some((call, meaning)) = paragraph
                .strip_prefix('`')
                .and_then(|paragraph| paragraph.split_once("`: "))
        {
            made.call = call.to_owned();
            made.meaning = capitalised(meaning);
        } else {
            if !made.meaning.is_empty() {
                made.meaning.push(' ');
            }
            made.meaning.push_str(&paragraph);
        }
    }
    (made, example)
}

/// What the script engine itself brings along, in the form of doc comments.
const BROUGHT_ALONG: &str = include_str!("reference/script.txt");

/// A definition file for editors, in the types that rules know.
pub(crate) fn in_plain_types(definitions: &str) -> String {
    const PLAIN: [(&str, &str); 6] = [
        ("Sketch", "band"),
        ("Row", "row"),
        ("Colour", "colour"),
        ("End", "end"),
        ("Side", "side"),
        ("Array", "array"),
    ];
    let plain = |line: &str| {
        if !(line.starts_with("fn ") || line.starts_with("op ")) {
            return line.to_owned();
        }
        let line = line.replace("ScriptResult<", "").replace(" >;", ";");
        let mut plain = String::with_capacity(line.len());
        for piece in line.split_inclusive(|letter: char| !letter.is_alphanumeric()) {
            let word = piece.trim_end_matches(|letter: char| !letter.is_alphanumeric());
            let known = PLAIN.iter().find(|(name, _)| *name == word);
            plain.push_str(known.map_or(word, |(_, plain)| plain));
            plain.push_str(&piece[word.len()..]);
        }
        plain
    };
    let lines: Vec<String> = definitions.lines().map(plain).collect();
    lines.join("\n") + "\n"
}
