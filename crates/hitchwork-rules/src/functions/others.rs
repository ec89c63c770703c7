//! Other rules inside a rule.

use std::sync::Arc;

use hitchwork_core::band::Setting;
use hitchwork_core::near::{did_you_mean, did_you_mean_quoted};
use rhai::module_resolvers::ModuleResolver;
use rhai::plugin::*;
use rhai::{AST, ImmutableString, Map, Position, Scope, Shared};

use super::given::wrong_arguments;
use crate::error::{Diagnostic, Frame};
use crate::kinds::type_name;
use crate::library;
use crate::parameter::Settings;
use crate::reading::names;
use crate::run::RunHandle;
use crate::sketch::Sketch;
use crate::sources::{FileSource, Source, SourceError, is_plain, is_plain_file};
use crate::trouble::{ScriptResult, stop, wrong_value};

/// How many rules may be at work, each inside the one before it.
const MOST_INSIDE: usize = 16;

/// How many different texts may take part in a run.
const MOST_SOURCES: usize = 100;

/// What it takes to look for a rule among files, in units of work.
const FIND_UNITS: usize = 4_000;

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "others", others);
}

/// The rule of that name, from the rule's own folder or else from the built-in library.
fn find(run: &RunHandle, name: &str) -> ScriptResult<Source> {
    let help = "a rule is called by its name, without .rhai; it lies in the rule's own folder or in the built-in library";
    if !is_plain(name) {
        let shown: String = name.chars().take(60).collect();
        return Err(wrong_value(
            format!("\"{shown}\" cannot be the name of a rule"),
            help,
        ));
    }
    run.spend(FIND_UNITS)?;
    let own = run.state().own.clone();
    let found = own.as_ref().map_or(Ok(None), |own| own.source(name));
    let found =
        found.map_err(|why| wrong_value(format!("the rule {name} cannot be used: {why}"), help))?;
    let known_as = match found {
        Some(_) => format!("{name}.rhai"),
        None => name.to_owned(),
    };
    let built_in = || {
        library::built_in(name).map(|text| Source {
            file: name.to_owned(),
            text: text.to_owned(),
        })
    };
    let source = found.or_else(built_in);
    if source.is_none() {
        // Every name that there is will be compared with the one that was meant.
        run.spend(name.len() * FIND_UNITS)?;
    }
    let source = source.ok_or_else(|| {
        let mut names = own.map_or(Vec::new(), |own| own.names());
        names.extend(library::built_in_names().map(str::to_owned));
        let meant = did_you_mean(name, names.iter().map(String::as_str));
        wrong_value(
            format!("there is no rule called {name}"),
            format!("{meant}{help}"),
        )
    })?;
    let mut state = run.state();
    if state.chain.contains(&source.file) {
        let chain: Vec<&str> = state.chain.iter().map(String::as_str).collect();
        return Err(wrong_value(
            format!(
                "rules use each other in a circle: {}, {}",
                chain.join(", "),
                source.file
            ),
            "let one of them do without the others",
        ));
    }
    if state.chain.len() > MOST_INSIDE {
        return Err(stop(Diagnostic::new(
            "limit-depth",
            format!("more than {MOST_INSIDE} rules are at work inside each other"),
            "let a rule use others, and not others that use others that use others",
        )));
    }
    if !state.sources.iter().any(|known| known.file == source.file) {
        if state.sources.len() >= MOST_SOURCES {
            return Err(stop(Diagnostic::new(
                "limit-size",
                format!("a rule uses more than {MOST_SOURCES} others"),
                "put what belongs together into one rule",
            )));
        }
        state.take_in(known_as, source.clone());
    }
    Ok(source)
}

/// The picture or the font in the file of that name, from the rule's own folder. `what` says
/// which of the two is meant.
pub(super) fn file_beside(
    context: &NativeCallContext,
    name: &str,
    what: &str,
) -> ScriptResult<FileSource> {
    let run = RunHandle::of(context);
    let shown: String = name.chars().take(60).collect();
    let help = match what {
        "font" => {
            "a font is called by its name with the ending bdf, and lies in the rule's own folder"
        }
        _ => {
            "a picture is called by its name with its ending (png, txt, pbm, pgm, ppm), and lies in the rule's own folder; one that is drawn in the rule has several lines, or its rows in a list"
        }
    };
    if !is_plain_file(name) {
        return Err(wrong_value(
            format!("\"{shown}\" cannot be the file of a {what}"),
            help,
        ));
    }
    run.spend(FIND_UNITS)?;
    let own = run.state().own.clone();
    let found = own.as_ref().map_or(Ok(None), |own| own.file(name));
    let found = found.map_err(|why| match &why {
        // These name the file themselves.
        SourceError::Unread(unread) => wrong_value(why.to_string(), unread.help().to_owned()),
        SourceError::LeadsOut { .. } | SourceError::LeadsNowhere { .. } => {
            wrong_value(why.to_string(), help)
        }
        _ => wrong_value(format!("the file {name} cannot be used: {why}"), help),
    })?;
    found.map_or_else(
        || {
            // Every name that there is will be compared with the one that was meant.
            run.spend(name.len() * FIND_UNITS)?;
            let names = own.map_or(Vec::new(), |own| own.file_names());
            let meant = did_you_mean_quoted(name, names.iter().map(String::as_str));
            Err(wrong_value(
                format!("there is no file called \"{shown}\""),
                format!("{meant}{help}"),
            ))
        },
        Ok,
    )
}

fn read(run: &RunHandle, engine: &Engine, source: &Source, frame: &str) -> ScriptResult<Arc<AST>> {
    run.spend(source.text.len())?;
    run.held().takes_part(&source.text);
    let shared = run.shared();
    shared.read(engine, source).map_err(|error| {
        let diagnostic = shared.translator.parse_error(&error, source);
        inside(diagnostic, frame)
    })
}

/// Hands a diagnostic with a place in another rule on to the rule that called it; the
/// place of the call is filled in there.
fn inside(mut diagnostic: Diagnostic, function: &str) -> Box<EvalAltResult> {
    diagnostic.calls.push(Frame {
        function: function.to_owned(),
        place: None,
    });
    stop(diagnostic)
}

fn settings_of(name: &str, map: Map) -> ScriptResult<Settings> {
    let setting = |key: &str, value: Dynamic| {
        if let Ok(number) = value.as_int() {
            return Ok(Setting::Whole(number));
        }
        if let Ok(number) = value.as_float() {
            return Ok(Setting::Number(number));
        }
        if let Ok(on) = value.as_bool() {
            return Ok(Setting::Flag(on));
        }
        if let Some(list) = value.read_lock::<rhai::Array>() {
            let places: Option<Vec<i64>> = list.iter().map(|place| place.as_int().ok()).collect();
            if let Some(places) = places {
                return Ok(Setting::Places(places));
            }
        }
        let kind = type_name(&value);
        value.into_string().map(Setting::Text).map_err(|_| {
            wrong_arguments(
                format!("the setting {key} of the rule {name} cannot be {kind}"),
                "give a number, yes or no as true or false, a text, or a list of places".to_owned(),
            )
        })
    };
    let mut settings = Settings::new();
    for (key, value) in map {
        let value = setting(&key, value)?;
        settings = settings.set(key.as_str(), value);
    }
    Ok(settings)
}

fn band_of(context: &NativeCallContext, name: &str, settings: Map) -> ScriptResult<Sketch> {
    let run = RunHandle::of(context);
    let frame = format!("rule(\"{name}\")");
    let settings = settings_of(name, settings)?;
    let source = find(&run, name)?;
    let tree = read(&run, context.engine(), &source, &frame)?;
    let waiting = run.state().enter(settings, source.file.clone());
    let outcome = context
        .engine()
        .eval_ast_with_scope::<Dynamic>(&mut names(), &tree);
    let mut state = run.state();
    let unknown = match &outcome {
        Ok(_) => state.unknown_settings(),
        Err(_) => state.misspelt_settings(),
    };
    state.leave(waiting);
    if let Some(unknown) = unknown.into_iter().last() {
        return Err(stop(unknown));
    }
    let value = outcome.map_err(|error| {
        if matches!(*error, EvalAltResult::ErrorTerminated(..)) {
            return error;
        }
        let translator = &run.shared().translator;
        let diagnostic = translator.run_error(&error, &source.file, &state.sources);
        if diagnostic.code == "setting-refused" && diagnostic.calls.is_empty() {
            // The setting was given where the rule is called.
            return stop(Diagnostic {
                place: None,
                ..diagnostic
            });
        }
        inside(diagnostic, &frame)
    })?;
    let kind = type_name(&value);
    value.try_cast::<Sketch>().ok_or_else(|| {
        wrong_value(
            format!("the rule {name} ends in {kind}, not in a band"),
            "import it to use its functions: import \"name\" as short_name",
        )
    })
}

#[export_module]
mod others {
    /// `rule(name)`: the band that another rule makes with its default settings; see
    /// rule(name, settings).
    ///
    /// - `name`: the rule's name, without .rhai
    ///
    /// Errors: as rule(name, settings).
    ///
    /// ```rhai
    /// let stripe = rule("candy_stripe", #{ threads: 6 });
    /// band(stripe.threads).repeat(stripe.rows).colours(stripe.hung)
    /// ```
    #[rhai_fn(return_raw, name = "rule")]
    pub fn rule_by_default(
        context: NativeCallContext,
        name: ImmutableString,
    ) -> ScriptResult<Sketch> {
        band_of(&context, &name, Map::new())
    }

    /// `rule(name, settings)`: the band that another rule makes with these settings, such as
    /// rule("candy_stripe", #{ threads: 8 }). The rule lies in the folder of this one or in
    /// the built-in library, and is named without .rhai. It may use its seed as if it were
    /// alone; each call makes chance choices of its own.
    ///
    /// - `name`: the rule's name, without .rhai
    /// - `settings`: a map of what you set; everything else has its default
    ///
    /// Errors: wrong-value when there is no such rule, or when rules use each other in a circle;
    /// setting-unknown when a setting is not one of its own.
    #[rhai_fn(return_raw, name = "rule")]
    pub fn rule_with_settings(
        context: NativeCallContext,
        name: ImmutableString,
        settings: Map,
    ) -> ScriptResult<Sketch> {
        band_of(&context, &name, settings)
    }
}

/// Finds the rules whose functions a rule imports: the same rules that `rule` finds.
pub(crate) struct Imports(pub(crate) RunHandle);

impl Imports {
    fn import(
        &self,
        engine: &Engine,
        path: &str,
        position: Position,
    ) -> ScriptResult<Shared<Module>> {
        let run = &self.0;
        let here = |mut error: Box<EvalAltResult>| {
            error.set_position(position);
            error
        };
        let source = find(run, path).map_err(here)?;
        let frame = format!("import \"{path}\"");
        let tree = read(run, engine, &source, &frame).map_err(here)?;
        run.state().chain.push(source.file.clone());
        let mut scope: Scope = names();
        let mut global = engine.new_global_runtime_state();
        let module = Module::eval_ast_as_new_raw(engine, &mut scope, &mut global, &tree);
        let mut state = run.state();
        state.chain.pop();
        let mut module = module.map_err(|error| {
            if matches!(*error, EvalAltResult::ErrorTerminated(..)) {
                return error;
            }
            let translator = &run.shared().translator;
            let diagnostic = translator.run_error(&error, &source.file, &state.sources);
            here(inside(diagnostic, &frame))
        })?;
        module.build_index();
        Ok(Shared::new(module))
    }
}

impl ModuleResolver for Imports {
    fn resolve(
        &self,
        engine: &Engine,
        _: Option<&str>,
        path: &str,
        position: Position,
    ) -> ScriptResult<Shared<Module>> {
        self.import(engine, path, position)
    }

    fn resolve_raw(
        &self,
        engine: &Engine,
        _: &mut rhai::GlobalRuntimeState,
        _: &mut Scope,
        path: &str,
        position: Position,
    ) -> ScriptResult<Shared<Module>> {
        self.import(engine, path, position)
    }
}
