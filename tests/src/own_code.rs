//! Our own crates, read as Rust: their files, what each defines, and where the names in them
//! lead.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

use quote::ToTokens;
use syn::{Attribute, Item, UseTree};

use crate::files::texts;

/// The names that lead to something, from the root of the crate: `["lay", "plane", "Arrow"]`.
pub type Names = Vec<String>;

/// A file: a module of its crate.
pub struct Module {
    /// What stands in it, but for its tests and what it brings in.
    pub items: Vec<Item>,
    /// What it defines.
    pub defines: BTreeSet<String>,
    /// What it brings in by `use`: under which name, and what that is in the crate.
    pub brought: BTreeMap<String, Names>,
    /// The modules of the crate of which it brings in everything.
    pub whole: Vec<Names>,
    /// What it brings in for everybody (`pub use`), as it is written there.
    pub hands_on: BTreeMap<String, Names>,
}

/// A crate by its modules; its root has no name.
pub struct CrateCode {
    /// The modules.
    pub modules: BTreeMap<Names, Module>,
}

/// The libraries and the command.
///
/// # Panics
/// When there are none.
#[must_use]
pub fn crates() -> BTreeMap<String, PathBuf> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../crates");
    let entries = fs::read_dir(folder).expect("our own folder");
    let folder = |entry: std::io::Result<fs::DirEntry>| {
        let entry = entry.expect("an entry");
        (
            entry.file_name().into_string().expect("plain names"),
            entry.path(),
        )
    };
    entries.map(folder).collect()
}

/// Whether something is there for tests alone.
#[must_use]
pub fn is_of_tests(attributes: &[Attribute]) -> bool {
    attributes.iter().any(|attribute| {
        attribute.path().is_ident("cfg")
            && ["(test)", "(doctest)"].iter().any(|tests| {
                attribute
                    .meta
                    .to_token_stream()
                    .to_string()
                    .ends_with(tests)
            })
    })
}

/// The attributes and the name of an item.
#[must_use]
pub fn about(item: &Item) -> (&[Attribute], Option<String>) {
    match item {
        Item::Const(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Enum(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Fn(item) => (&item.attrs, Some(item.sig.ident.to_string())),
        Item::Impl(item) => (&item.attrs, None),
        Item::Macro(item) => (&item.attrs, item.ident.as_ref().map(ToString::to_string)),
        Item::Mod(item) => (&item.attrs, None),
        Item::Static(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Struct(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Trait(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Type(item) => (&item.attrs, Some(item.ident.to_string())),
        Item::Use(item) => (&item.attrs, None),
        _ => (&[], None),
    }
}

impl CrateCode {
    /// Reads a crate from its folder.
    ///
    /// # Panics
    /// When something in it is no Rust.
    #[must_use]
    pub fn read(folder: &Path) -> Self {
        let source = folder.join("src");
        let module = |(path, text): (PathBuf, String)| {
            let inside = path.strip_prefix(&source).expect("it lies there");
            let parts = inside.with_extension("");
            let parts = parts.iter().map(|part| part.to_str().expect("plain names"));
            let mut names: Names = parts.map(str::to_owned).collect();
            names.pop_if(|last| ["mod", "lib", "main"].contains(&last.as_str()));
            (names, text)
        };
        Self::of(&texts(&source, "rs").into_iter().map(module).collect())
    }

    /// Reads a crate from the texts of its modules.
    ///
    /// # Panics
    /// When one of them is no Rust.
    #[must_use]
    pub fn of(texts: &BTreeMap<Names, String>) -> Self {
        let known: BTreeSet<Names> = texts.keys().cloned().collect();
        let module = |(name, text): (&Names, &String)| {
            let file = syn::parse_file(text).expect("Rust");
            (name.clone(), Module::of(file.items, name, &known))
        };
        Self {
            modules: texts.iter().map(module).collect(),
        }
    }

    /// What a path that stands in a module means, from the root; nothing where it leads out of
    /// the crate.
    #[must_use]
    pub fn meant(&self, path: &[String], module: &Names) -> Option<Names> {
        let first = path.first()?;
        let known = |name: &Names| self.modules.contains_key(name);
        if let Some(from) = self.modules[module].brought.get(first) {
            return Some([from, &path[1..]].concat());
        }
        from_the_root(path, module, &known).or_else(|| {
            let here = &self.modules[module];
            let is_here = here.defines.contains(first) || !here.whole.is_empty();
            is_here.then(|| [module, path].concat())
        })
    }

    /// The module that defines what a path from the root leads to, and its name there; nothing
    /// where it leads to a module as a whole, or out of the crate.
    #[must_use]
    pub fn definition(&self, path: &[String]) -> Option<(Names, String)> {
        self.through(path, 12)
    }

    fn through(&self, path: &[String], steps: usize) -> Option<(Names, String)> {
        let ends = (0..=path.len()).rev();
        let end = ends
            .into_iter()
            .find(|end| self.modules.contains_key(&path[..*end]))?;
        let (name, rest) = path[end..].split_first()?;
        let module = &self.modules[&path[..end]];
        if module.defines.contains(name) {
            return Some((path[..end].to_vec(), name.clone()));
        }
        if steps == 0 {
            return None;
        }
        if let Some(from) = module.brought.get(name) {
            return self.through(&[from.as_slice(), rest].concat(), steps - 1);
        }
        let mut whole = module.whole.iter();
        whole.find_map(|from| self.through(&[from.as_slice(), &path[end..]].concat(), steps - 1))
    }
}

impl Module {
    fn of(items: Vec<Item>, name: &Names, known: &BTreeSet<Names>) -> Self {
        let mut module = Self {
            items: Vec::new(),
            defines: BTreeSet::new(),
            brought: BTreeMap::new(),
            whole: Vec::new(),
            hands_on: BTreeMap::new(),
        };
        for item in items {
            let (attributes, defined) = about(&item);
            if is_of_tests(attributes) {
                continue;
            }
            module.defines.extend(defined);
            match item {
                Item::Use(item) => {
                    let is_known = |names: &Names| known.contains(names);
                    let for_all = matches!(item.vis, syn::Visibility::Public(_));
                    let is_hidden = is_hidden(&item.attrs);
                    for (known_as, path) in named_by(&item.tree, &[]) {
                        if for_all && !is_hidden {
                            module.hands_on.insert(known_as.clone(), path.clone());
                        }
                        match from_the_root(&path, name, &is_known) {
                            Some(from) if known_as == "*" => module.whole.push(from),
                            Some(from) => {
                                module.brought.insert(known_as, from);
                            }
                            None => {}
                        }
                    }
                }
                item => module.items.push(item),
            }
        }
        module
    }
}

/// Whether the documentation leaves something out: it is there for our own crates.
#[must_use]
pub fn is_hidden(attributes: &[Attribute]) -> bool {
    attributes
        .iter()
        .any(|attribute| attribute.meta.to_token_stream().to_string() == "doc (hidden)")
}

/// Everything that a `use` brings in: its name here (`*` for all that a module has), and its path.
fn named_by(tree: &UseTree, before: &[String]) -> Vec<(String, Names)> {
    let further = |name: String| [before, &[name]].concat();
    let named = |name: String, known_as: Option<String>| {
        let path = match name.as_str() {
            "self" => before.to_vec(),
            _ => further(name),
        };
        let known_as = known_as.unwrap_or_else(|| path[path.len() - 1].clone());
        vec![(known_as, path)]
    };
    match tree {
        UseTree::Path(path) => named_by(&path.tree, &further(path.ident.to_string())),
        UseTree::Group(group) => {
            let items = group.items.iter();
            items.flat_map(|tree| named_by(tree, before)).collect()
        }
        UseTree::Glob(_) => vec![("*".to_owned(), before.to_vec())],
        UseTree::Name(name) => named(name.ident.to_string(), None),
        UseTree::Rename(name) => named(name.ident.to_string(), Some(name.rename.to_string())),
    }
}

/// A path from the root of the crate, where it begins in the crate by its own words.
fn from_the_root(
    path: &[String],
    module: &Names,
    is_known: &dyn Fn(&Names) -> bool,
) -> Option<Names> {
    let (mut names, mut rest) = match path.first()?.as_str() {
        "crate" => (Names::new(), &path[1..]),
        "self" => (module.clone(), &path[1..]),
        "super" => (module.clone(), path),
        inner => {
            let inside = [module.as_slice(), &[inner.to_owned()]].concat();
            is_known(&inside).then_some((module.clone(), path))?
        }
    };
    while let Some(further) = rest.strip_prefix(&["super".to_owned()]) {
        names.pop();
        rest = further;
    }
    names.extend_from_slice(rest);
    Some(names)
}
