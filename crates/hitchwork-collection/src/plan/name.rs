//! Names of members, from a template.

use std::collections::BTreeMap;

use hitchwork_core::band::Setting;

use super::Member;
use super::member::mirrored_name;
use crate::names::{is_counted, safe};

/// The longest name of a member.
pub(super) const MOST_LETTERS: usize = 120;

/// The most bytes of such a name: disks take 255, and the files in it have endings.
const MOST_BYTES: usize = 240;

/// What a template can name besides settings.
pub(super) const ALWAYS: [&str; 6] = ["rule", "number", "seed", "mirrored", "length", "palette"];

/// How members are called: words with places such as `{threads}` in them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Template {
    pieces: Vec<TemplatePart>,
}

#[derive(Clone, Debug, PartialEq, Eq)]
enum TemplatePart {
    Words(String),
    Place(String),
}

/// A place in the usual name.
pub(super) struct NamePlace<'a> {
    pub(super) name: &'a str,
    /// Whether its value is told apart from other numbers by words.
    pub(super) says_of_what: bool,
}

impl Template {
    /// The rule's name, and everything that is not the same for all members.
    pub(super) fn usual<'a>(varied: impl Iterator<Item = NamePlace<'a>>) -> Self {
        let mut pieces = vec![TemplatePart::Place("rule".to_owned())];
        let words = |text: String| TemplatePart::Words(text);
        for NamePlace { name, says_of_what } in varied {
            let of_what = says_of_what.then_some(name);
            let (before, after) = match of_what {
                _ if name == "seed" => ("-seed-".to_owned(), None),
                Some("length") => ("-".to_owned(), Some("-cm".to_owned())),
                Some(name) if is_counted(name) => ("-".to_owned(), Some(format!("-{name}"))),
                Some(name) => (format!("-{name}-"), None),
                None => ("-".to_owned(), None),
            };
            pieces.push(words(before));
            pieces.push(TemplatePart::Place(name.to_owned()));
            pieces.extend(after.map(words));
        }
        Self { pieces }
    }

    /// Reads a template whose places are among `known`, or `fixed` for all members.
    pub(super) fn read(
        text: &str,
        known: &[&str],
        fixed: &BTreeMap<&str, &Setting>,
    ) -> Result<Self, String> {
        let mut pieces = Vec::new();
        let mut rest = text;
        while let Some((words, after)) = rest.split_once('{') {
            let (place, after) = after
                .split_once('}')
                .ok_or("a place is opened with { and not closed with }")?;
            pieces.push(TemplatePart::Words(words.to_owned()));
            if let Some(value) = fixed.get(place) {
                pieces.push(TemplatePart::Words(plain(&written(value))));
                rest = after;
                continue;
            }
            if !known.contains(&place) {
                let all = || known.iter().chain(fixed.keys()).copied();
                let meant = hitchwork_core::near::nearest(place, all())
                    .map_or(".".to_owned(), |near| format!("; did you mean {{{near}}}?"));
                return Err(format!(
                    "there is nothing to put into {{{place}}}{meant} This item can name {}",
                    all()
                        .map(|name| format!("{{{name}}}"))
                        .collect::<Vec<_>>()
                        .join(", ")
                ));
            }
            pieces.push(TemplatePart::Place(place.to_owned()));
            rest = after;
        }
        if rest.contains('}') {
            return Err("a } closes no place; places look like {threads}".to_owned());
        }
        pieces.push(TemplatePart::Words(rest.to_owned()));
        let leads_out = |piece: &TemplatePart| matches!(piece, TemplatePart::Words(words) if words.contains(['/', '\\', ':', '\0']));
        if pieces.iter().any(leads_out) {
            return Err("each band has a folder of its own in the collection, and its name cannot lead anywhere else: use no / \\ or :".to_owned());
        }
        Ok(Self { pieces })
    }

    /// The name of a member, such that every system can write it.
    pub(super) fn of(&self, rule: &str, member: &Member) -> String {
        let mut name = String::new();
        for piece in &self.pieces {
            match piece {
                TemplatePart::Words(words) => name.push_str(words),
                TemplatePart::Place(place) => name.push_str(&plain(&value(place, rule, member))),
            }
        }
        safe(&name)
    }
}

fn written(setting: &Setting) -> String {
    match setting {
        Setting::Places(places) => {
            let places: Vec<String> = places.iter().map(ToString::to_string).collect();
            places.join("-")
        }
        other => other.to_string(),
    }
}

fn value(place: &str, rule: &str, member: &Member) -> String {
    if let Some(setting) = member.settings.get(place) {
        return written(setting);
    }
    match place {
        "rule" => rule.to_owned(),
        "number" => format!("{:04}", member.number),
        "seed" => member.seed.to_string(),
        "mirrored" => mirrored_name(member.mirrored).to_owned(),
        "length" => member
            .length_mm
            .map_or("own".to_owned(), |mm| (mm / 10.0).to_string()),
        "palette" => member.palette.clone().unwrap_or("own".to_owned()),
        _ => String::new(),
    }
}

/// A value as a part of a folder's name.
fn plain(value: &str) -> String {
    let letter = |letter: char| match letter {
        letter if letter.is_alphanumeric() || "-_.+".contains(letter) => Some(letter),
        letter if letter.is_whitespace() || letter == ',' => Some('-'),
        _ => None,
    };
    value.chars().filter_map(letter).collect()
}

/// Why a name cannot be that of a folder, though every system could write it.
pub(crate) fn refused(name: &str) -> Option<String> {
    const OURS: [&str; 3] = ["collection.json", "collection.csv", "index.html"];
    let why = match name {
        "" => "is empty".to_owned(),
        name if name.chars().count() > MOST_LETTERS => {
            format!("is longer than {MOST_LETTERS} letters")
        }
        name if name.len() > MOST_BYTES => format!(
            "takes {} bytes with its letters, and a disk has room for {MOST_BYTES}",
            name.len()
        ),
        name if name.starts_with(['.', '-', ' ']) => {
            "begins with a dot, a dash or a blank".to_owned()
        }
        name if safe(name) != name => "is not one that every system can write".to_owned(),
        name if OURS.contains(&name.to_lowercase().as_str())
            || name.to_lowercase().starts_with("collection.") =>
        {
            "is the name of a file of the collection itself".to_owned()
        }
        _ => return None,
    };
    Some(why)
}
