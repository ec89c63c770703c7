//! What our libraries offer, kept as lists in `tests/public_api`: whoever changes what is offered
//! sees it there, and so does whoever reads the change.
//!
//! The lists are made from the sources by names alone, with what the toolchain has that CI uses.
//! What a macro writes is listed by the name under which it is handed on. What is hidden from the
//! documentation is for our own crates and is not listed.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write;

use hitchwork_tests::golden;
use hitchwork_tests::own_code::{CrateCode, Names, about, crates, is_hidden};
use proc_macro2::{Delimiter, Spacing, TokenStream, TokenTree};
use quote::ToTokens;
use syn::{Attribute, Field, Fields, ImplItem, Item, Signature, TraitItem, Visibility};

/// Code on one line, spaced as people write it.
fn tidy(code: &impl ToTokens) -> String {
    let mut text = String::new();
    set(code.to_token_stream(), &mut text);
    text.replace(" :: ", "::")
}

fn set(code: TokenStream, text: &mut String) {
    let mut joined = true;
    for token in code {
        let word = match &token {
            TokenTree::Group(group) => {
                let (opens, closes) = match group.delimiter() {
                    Delimiter::Parenthesis => ("(", ")"),
                    Delimiter::Brace => (" { ", " }"),
                    Delimiter::Bracket => ("[", "]"),
                    Delimiter::None => ("", ""),
                };
                let spaced = match opens {
                    "(" => text.ends_with([',', ':', '=', '+']),
                    "[" => !text.ends_with(['&', '#', '!', '(', '<']),
                    _ => false,
                };
                if spaced && !joined || text.ends_with("->") || text.ends_with(" mut") {
                    text.push(' ');
                }
                text.push_str(opens);
                set(group.stream(), text);
                text.push_str(closes);
                joined = false;
                continue;
            }
            other => other.to_string(),
        };
        let mark = match &token {
            TokenTree::Punct(mark) => Some(mark),
            _ => None,
        };
        let clings = matches!(word.as_str(), "," | ";" | ":" | ">" | "?" | "." | "<" | "!");
        if !joined && !clings {
            text.push(' ');
        }
        text.push_str(&word);
        joined = match word.as_str() {
            "&" | "<" | "'" | "." | "!" | "#" => true,
            ":" | "-" | "=" | ">" => mark.is_some_and(|mark| mark.spacing() == Spacing::Joint),
            _ => false,
        };
        // The second half of `::` and `->`.
        if text.ends_with("::") {
            joined = true;
        }
        if text.ends_with("->") {
            let begin = text.len() - 2;
            if !text[..begin].ends_with(' ') {
                text.insert(begin, ' ');
            }
            joined = false;
        }
    }
}

fn is_public(visibility: &Visibility) -> bool {
    matches!(visibility, Visibility::Public(_))
}

/// What of the attributes is part of the promise.
fn marked(attributes: &[Attribute]) -> String {
    let mut marks = String::new();
    for attribute in attributes {
        let path = attribute.path();
        if path.is_ident("non_exhaustive") {
            marks.push_str("#[non_exhaustive] ");
        } else if path.is_ident("cfg") {
            marks.push_str(&format!("{} ", tidy(attribute)));
        }
    }
    marks
}

fn derived(attributes: &[Attribute]) -> BTreeSet<String> {
    let mut traits = BTreeSet::new();
    for attribute in attributes.iter().filter(|it| it.path().is_ident("derive")) {
        let all = attribute.parse_nested_meta(|meta| {
            let last = meta.path.segments.last().expect("a path has an end");
            traits.insert(last.ident.to_string());
            Ok(())
        });
        all.expect("names of traits");
    }
    // By which libraries a type is printed or taken apart inside is nobody's business.
    traits.remove("JsonSchema");
    traits
}

fn implementing(traits: &BTreeSet<String>) -> String {
    match traits.is_empty() {
        true => String::new(),
        false => {
            let traits: Vec<&str> = traits.iter().map(String::as_str).collect();
            format!("  [{}]", traits.join(", "))
        }
    }
}

/// One entry of a list, with what belongs to it.
#[derive(Default)]
struct Entry {
    head: String,
    parts: Vec<String>,
}

/// What belongs to a type wherever it stands in the crate: functions, constants and traits.
#[derive(Default)]
struct Own {
    functions: Vec<String>,
    traits: BTreeSet<String>,
}

struct Listing<'c> {
    code: &'c CrateCode,
    own: BTreeMap<(Names, String), Own>,
    text: String,
}

fn signature(signature: &Signature) -> String {
    // Whether a function changes its own copy of something is its own business.
    let said = tidy(signature)
        .replace("(mut ", "(")
        .replace(", mut ", ", ");
    said.replace(",)", ")")
}

fn fields<'f>(fields: impl Iterator<Item = &'f Field>, all_are_public: bool) -> Vec<String> {
    let (mut shown, mut inside) = (Vec::new(), false);
    for field in fields {
        if !(all_are_public || is_public(&field.vis)) || is_hidden(&field.attrs) {
            inside = true;
            continue;
        }
        let name = field.ident.as_ref().map(|name| format!("{name}: "));
        let kind = tidy(&field.ty);
        let marks = marked(&field.attrs);
        shown.push(format!("{marks}{}{kind}", name.unwrap_or_default()));
    }
    if inside {
        shown.push("..".to_owned());
    }
    shown
}

impl<'c> Listing<'c> {
    fn of(code: &'c CrateCode) -> String {
        let mut listing = Self {
            code,
            own: BTreeMap::new(),
            text: String::new(),
        };
        for (name, module) in &code.modules {
            for item in &module.items {
                if let Item::Impl(item) = item {
                    listing.note(item, name);
                }
            }
        }
        listing.module(&Names::new());
        listing.text
    }

    /// Notes what an `impl` gives to a type of the crate.
    fn note(&mut self, item: &syn::ItemImpl, module: &Names) {
        let syn::Type::Path(of) = &*item.self_ty else {
            return;
        };
        let path = of.path.segments.iter().map(|part| part.ident.to_string());
        let path: Names = path.collect();
        let Some(found) = self.code.meant(&path, module) else {
            return;
        };
        let Some(of) = self.code.definition(&found) else {
            return;
        };
        let of_something_inside = item.trait_.as_ref().is_some_and(|(_, path, _)| {
            let arguments = path.segments.iter().map(|part| &part.arguments);
            arguments.into_iter().any(|it| self.is_inside(it, module))
        });
        let own = self.own.entry(of).or_default();
        if let Some((_, path, _)) = &item.trait_ {
            if !of_something_inside {
                own.traits.insert(tidy(path));
            }
            return;
        }
        for part in &item.items {
            match part {
                ImplItem::Fn(part) if is_public(&part.vis) && !is_hidden(&part.attrs) => {
                    let marks = marked(&part.attrs);
                    own.functions
                        .push(format!("{marks}{}", signature(&part.sig)));
                }
                ImplItem::Const(part) if is_public(&part.vis) => {
                    let kind = tidy(&part.ty);
                    own.functions.push(format!("const {}: {kind}", part.ident));
                }
                _ => {}
            }
        }
    }

    /// Whether code names something of the crate that is not for everybody.
    fn is_inside(&self, code: &impl ToTokens, module: &Names) -> bool {
        code.to_token_stream().into_iter().any(|token| {
            let meant = self.code.meant(&[token.to_string()], module);
            let Some(of) = meant.and_then(|path| self.code.definition(&path)) else {
                return false;
            };
            let items = self.code.modules[&of.0].items.iter();
            let mut items = items.filter(|item| about(item).1.as_ref() == Some(&of.1));
            items.all(|item| self.entry(item, &of.1, &of).is_none())
        })
    }

    fn module(&mut self, name: &Names) {
        let module = &self.code.modules[name];
        let mut entries: BTreeMap<String, Entry> = BTreeMap::new();
        let mut inside = Vec::new();
        for item in &module.items {
            if is_hidden(about(item).0) {
                continue;
            }
            match item {
                Item::Mod(item) if is_public(&item.vis) => {
                    let inner = [name.as_slice(), &[item.ident.to_string()]].concat();
                    let marks = marked(&item.attrs);
                    inside.extend(
                        self.code
                            .modules
                            .contains_key(&inner)
                            .then_some((inner, marks)),
                    );
                }
                _ => {
                    if let Some(defined) = about(item).1 {
                        let of = (name.clone(), defined.clone());
                        let entry = self.entry(item, &defined, &of);
                        entries.extend(entry.map(|entry| (defined, entry)));
                    }
                }
            }
        }
        for (known_as, path) in &module.hands_on {
            entries.insert(known_as.clone(), self.handed_on(known_as, path, name));
        }
        for entry in entries.into_values() {
            let _ = writeln!(self.text, "  {}", entry.head);
            for part in entry.parts {
                let _ = writeln!(self.text, "    {part}");
            }
        }
        for (inner, marks) in inside {
            let _ = writeln!(self.text, "\n{marks}mod {}", inner.join("::"));
            self.module(&inner);
        }
    }

    fn handed_on(&self, known_as: &str, path: &[String], module: &Names) -> Entry {
        let meant = self.code.meant(path, module);
        let found = meant.and_then(|meant| self.code.definition(&meant));
        let entry = found.as_ref().and_then(|of| {
            let items = self.code.modules[&of.0].items.iter();
            let mut items = items.filter(|item| about(item).1.as_ref() == Some(&of.1));
            items.find_map(|item| self.entry(item, known_as, of))
        });
        entry.unwrap_or_else(|| Entry {
            head: format!("use {} as {known_as}", path.join("::")),
            parts: self.by_macro(path, module),
        })
    }

    /// The functions of something that a macro writes, as far as they stand outside of it.
    fn by_macro(&self, path: &[String], module: &Names) -> Vec<String> {
        let of = match path.split_last() {
            Some((name, before)) => {
                let inner = [module.as_slice(), before].concat();
                (inner, name.clone())
            }
            None => return Vec::new(),
        };
        self.own
            .get(&of)
            .map_or(Vec::new(), |own| own.functions.clone())
    }

    fn entry(&self, item: &Item, known_as: &str, of: &(Names, String)) -> Option<Entry> {
        let nothing = Own::default();
        let own = self.own.get(of).unwrap_or(&nothing);
        let with_traits = |attributes: &[Attribute]| {
            let traits = &derived(attributes) | &own.traits;
            implementing(&traits)
        };
        let entry = match item {
            Item::Const(item) if is_public(&item.vis) => Entry {
                head: format!(
                    "{}const {known_as}: {}",
                    marked(&item.attrs),
                    tidy(&item.ty)
                ),
                ..Entry::default()
            },
            Item::Fn(item) if is_public(&item.vis) => Entry {
                head: format!("{}{}", marked(&item.attrs), signature(&item.sig)),
                ..Entry::default()
            },
            Item::Type(item) if is_public(&item.vis) => Entry {
                head: format!("type {known_as} = {}", tidy(&item.ty)),
                ..Entry::default()
            },
            Item::Struct(item) if is_public(&item.vis) => {
                let shown = match &item.fields {
                    Fields::Unit => Vec::new(),
                    all => fields(all.iter(), false),
                };
                Entry {
                    head: format!(
                        "{}struct {known_as}{}{}",
                        marked(&item.attrs),
                        tidy(&item.generics),
                        with_traits(&item.attrs)
                    ),
                    parts: [shown, own.functions.clone()].concat(),
                }
            }
            Item::Enum(item) if is_public(&item.vis) => {
                let variant = |variant: &syn::Variant| {
                    let marks = marked(&variant.attrs);
                    let inside = fields(variant.fields.iter(), true).join(", ");
                    match &variant.fields {
                        Fields::Unit => format!("{marks}{}", variant.ident),
                        Fields::Named(_) => format!("{marks}{} {{ {inside} }}", variant.ident),
                        Fields::Unnamed(_) => format!("{marks}{}({inside})", variant.ident),
                    }
                };
                Entry {
                    head: format!(
                        "{}enum {known_as}{}{}",
                        marked(&item.attrs),
                        tidy(&item.generics),
                        with_traits(&item.attrs)
                    ),
                    parts: [
                        item.variants.iter().map(variant).collect(),
                        own.functions.clone(),
                    ]
                    .concat(),
                }
            }
            Item::Trait(item) if is_public(&item.vis) => {
                let part = |part: &TraitItem| match part {
                    TraitItem::Fn(part) => match part.default {
                        Some(_) => format!("{} (given)", signature(&part.sig)),
                        None => signature(&part.sig),
                    },
                    other => tidy(other),
                };
                let above = match item.supertraits.is_empty() {
                    true => String::new(),
                    false => format!(": {}", tidy(&item.supertraits)),
                };
                Entry {
                    head: format!("{}trait {known_as}{above}", marked(&item.attrs)),
                    parts: item.items.iter().map(part).collect(),
                }
            }
            _ => return None,
        };
        Some(entry)
    }
}

#[test]
fn what_is_offered_is_what_the_lists_say() {
    let mut renewed = Vec::new();
    for (name, folder) in crates()
        .into_iter()
        .filter(|(name, _)| name != "hitchwork-cli")
    {
        let listing = Listing::of(&CrateCode::read(&folder));
        let list = format!("What {name} offers.\n\n{listing}");
        let file = format!("tests/public_api/{name}.txt");
        // All lists are renewed at once.
        let checked = std::panic::catch_unwind(|| golden::check(&file, &list));
        renewed.extend(checked.err());
    }
    if let Some(first) = renewed.into_iter().next() {
        std::panic::resume_unwind(first);
    }
}
