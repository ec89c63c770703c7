//! What a module of the script engine says of its functions.

use rhai::Module;

use crate::engine_words;

/// The functions of a module, each with the lines of its doc comment; properties by their names
/// alone. In no order that means anything.
pub(crate) fn documented(module: &Module) -> Vec<(String, Vec<String>)> {
    let mut engine = rhai::Engine::new_raw();
    engine.register_global_module(rhai::Shared::new(module.clone()));
    let json = engine
        .gen_fn_metadata_to_json(false)
        .expect("names and comments are plain data");
    let metadata: serde_json::Value =
        serde_json::from_str(&json).expect("the engine writes valid JSON");
    let one = |function: &serde_json::Value| {
        let name = function["name"].as_str()?;
        let lines = function["docComments"].as_array()?.iter();
        let lines = lines.filter_map(|line| line.as_str().map(ToOwned::to_owned));
        let name = engine_words::without_getter(name);
        Some((name.to_owned(), lines.collect()))
    };
    let functions = metadata["functions"].as_array().into_iter().flatten();
    functions.filter_map(one).collect()
}
