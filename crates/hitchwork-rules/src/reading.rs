//! How the text of a rule is read, and what all runs share.

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use hitchwork_core::colour::Palette;
use hitchwork_core::knot::Side;
use rhai::{AST, Engine, ParseError, Scope};

use crate::sources::Source;
use crate::translate::Translator;

/// How many rules that others use are kept in the form in which they were read.
const MOST_KEPT: usize = 500;

/// What all runs share.
#[derive(Debug)]
pub(crate) struct Shared {
    pub(crate) translator: Translator,
    /// Palettes besides the built-in ones.
    pub(crate) palettes: Vec<Palette>,
    /// Rules that other rules use, by their files, with the text that was read.
    read: Mutex<BTreeMap<String, (String, Arc<AST>)>>,
}

impl Shared {
    pub(crate) fn new(translator: Translator, palettes: Vec<Palette>) -> Self {
        Self {
            translator,
            palettes,
            read: Mutex::default(),
        }
    }

    /// Reads a rule that another rule uses, unless it was read before.
    pub(crate) fn read(&self, engine: &Engine, source: &Source) -> Result<Arc<AST>, ParseError> {
        let kept = || {
            self.read
                .lock()
                .unwrap_or_else(std::sync::PoisonError::into_inner)
        };
        if let Some((text, tree)) = kept().get(&source.file)
            && *text == source.text
        {
            return Ok(Arc::clone(tree));
        }
        let tree = Arc::new(tree(engine, source)?);
        let mut kept = kept();
        if kept.len() >= MOST_KEPT {
            kept.clear();
        }
        kept.insert(
            source.file.clone(),
            (source.text.clone(), Arc::clone(&tree)),
        );
        Ok(tree)
    }
}

/// Reads a rule; its functions know from which file they are.
pub(crate) fn tree(engine: &Engine, source: &Source) -> Result<AST, ParseError> {
    let readable = without_opening_comment(&source.text);
    let mut tree = engine.compile_with_scope(&names(), &readable)?;
    tree.set_source(source.file.as_str());
    Ok(tree)
}

/// Names that rules can use everywhere, also inside functions.
pub(crate) fn names() -> Scope<'static> {
    let mut scope = Scope::new();
    scope
        .push_constant("LEFT", Side::Left)
        .push_constant("RIGHT", Side::Right);
    scope
}

/// The text with the `///` of its opening comment as ordinary comment marks, every other
/// character in its place: the engine takes doc comments before functions only.
fn without_opening_comment(text: &str) -> String {
    let mut opening = true;
    let line = |line: &str| {
        let start = line.trim_start();
        opening &= start.is_empty() || start.starts_with("///");
        if opening {
            line.replacen("///", "// ", 1)
        } else {
            line.to_owned()
        }
    };
    text.split_inclusive('\n').map(line).collect()
}
