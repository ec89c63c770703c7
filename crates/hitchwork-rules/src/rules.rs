//! The engine: built once, reads rules and runs them.

use std::time::Instant;

use hitchwork_core::band::{Band, Origin};
use hitchwork_core::chance;
use hitchwork_core::knot::Side;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicStringPackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Dynamic, Engine, EvalAltResult, Scope, Shared};

use crate::error::{Diagnostic, Error};
use crate::limits::{Limits, MAX_RULE_BYTES};
use crate::parameter::{Parameter, Settings};
use crate::rule::Rule;
use crate::run::Run;
use crate::sketch::Sketch;
use crate::translate::{Translator, stopped};
use crate::{functions, library};

/// Deep values need a deep stack to be compared and dropped; the memory is only reserved.
const STACK_BYTES: usize = 256 << 20;

/// How often a run looks at the clock and the memory meter, in steps.
const STEPS_BETWEEN_LOOKS: u64 = 512;

/// The functions that rules are written in and the limits under which they run. Built
/// once, shared between threads.
///
/// ```
/// use hitchwork_rules::{Rules, Settings};
/// let rules = Rules::new();
/// let drift = rules.built_in("drift").expect("built in");
/// let made = rules.make(&drift, &Settings::new().set("threads", 10))?;
/// assert_eq!(made.band.thread_count(), 10);
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Rules {
    packages: Vec<Shared<rhai::Module>>,
    functions: Shared<rhai::Module>,
    translator: Translator,
    limits: Limits,
}

/// What a run of a rule gives.
#[derive(Clone, Debug)]
pub struct Made {
    /// The band.
    pub band: Band,
    /// Every parameter that the rule declared, with the value that it had.
    pub parameters: Vec<Parameter>,
}

impl Default for Rules {
    fn default() -> Self {
        Self::new()
    }
}

impl Rules {
    /// The rule language with its ordinary limits.
    #[must_use]
    pub fn new() -> Self {
        Self::with_limits(Limits::default())
    }

    /// The rule language with other limits.
    #[must_use]
    pub fn with_limits(limits: Limits) -> Self {
        let packages = vec![
            ArithmeticPackage::new().as_shared_module(),
            LogicPackage::new().as_shared_module(),
            BasicIteratorPackage::new().as_shared_module(),
            BasicFnPackage::new().as_shared_module(),
            BasicArrayPackage::new().as_shared_module(),
            BasicMapPackage::new().as_shared_module(),
            BasicStringPackage::new().as_shared_module(),
            MoreStringPackage::new().as_shared_module(),
        ];
        let mut functions = functions::module();
        functions.build_index();
        let functions = Shared::new(functions);
        let translator = Translator::new(&functions);
        Self {
            packages,
            functions,
            translator,
            limits,
        }
    }

    /// Reads a rule. Its `name` is what messages call it.
    ///
    /// # Errors
    /// When the text is too long or cannot be read, with the place.
    pub fn compile(&self, name: &str, text: &str) -> Result<Rule, Error> {
        if text.len() > MAX_RULE_BYTES {
            let kilobytes = MAX_RULE_BYTES >> 10;
            let message = format!("the rule {name} is longer than {kilobytes} KB");
            let help = "a rule is a short text; long tables of knots belong into a band file";
            return Err(Error::one(Diagnostic::new("limit-size", message, help), ""));
        }
        let run = Run::new(Settings::new(), self.limits);
        let readable = without_opening_comment(text);
        let tree = on_a_deep_stack(|| self.engine(&run).compile_with_scope(&names(), &readable));
        let tree = tree.map_err(|error| self.translator.parse_error(&error, name, text))?;
        Ok(Rule {
            name: name.to_owned(),
            text: text.to_owned(),
            tree,
        })
    }

    /// The built-in rule of that name, read.
    #[must_use]
    pub fn built_in(&self, name: &str) -> Option<Rule> {
        let text = library::built_in(name)?;
        Some(
            self.compile(name, text)
                .expect("the built-in rules are tested"),
        )
    }

    /// Runs a rule and makes its band.
    ///
    /// # Errors
    /// When a setting is unknown or refused, the rule stops with an error or at a limit,
    /// ends without a band, or describes a band that cannot be.
    pub fn make(&self, rule: &Rule, settings: &Settings) -> Result<Made, Error> {
        let run = Run::new(settings.clone(), self.limits);
        let value = self.run(rule, &run)?;
        let state = run.state();
        if let Some(diagnostic) = state.unknown_settings() {
            return Err(Error::one(diagnostic, &rule.text));
        }
        let kind = functions::type_name(&value);
        let Some(mut sketch) = value.try_cast::<Sketch>() else {
            let message = format!("the rule ends in {kind}, not in a band");
            let help = "let the last thing in the rule be band(…) with its rows, without a semicolon behind it";
            return Err(Error::one(
                Diagnostic::new("no-band", message, help),
                &rule.text,
            ));
        };
        sketch.gauge = settings.gauge.unwrap_or(sketch.gauge);
        let parameters = state.declared.clone();
        let origin = Origin {
            rule: rule.name.clone(),
            parameters: parameters
                .iter()
                .map(|parameter| (parameter.name.clone(), parameter.value.clone()))
                .collect(),
            seed: settings.seed,
            chance: chance::VERSION.to_owned(),
            hitchwork: env!("CARGO_PKG_VERSION").to_owned(),
        };
        let title = title(&rule.name, sketch.threads);
        let band = sketch.finish(title, origin, rule.name.clone(), settings.length_mm);
        let band =
            band.map_err(|error| self.translator.refused_band(&error, &rule.name, &rule.text))?;
        Ok(Made { band, parameters })
    }

    /// The parameters that a rule declares with these settings; ranges and defaults may
    /// depend on earlier ones. Those before an error are given even when the rule stops
    /// at it.
    #[must_use]
    pub fn parameters(&self, rule: &Rule, settings: &Settings) -> Vec<Parameter> {
        let run = Run::new(settings.clone(), self.limits);
        // What a broken rule declares before it breaks is still worth showing.
        let _ = self.run(rule, &run);
        run.state().declared.clone()
    }

    fn run(&self, rule: &Rule, run: &Run) -> Result<Dynamic, Error> {
        let evaluate = || {
            let engine = self.engine(run);
            engine.eval_ast_with_scope::<Dynamic>(&mut names(), &rule.tree)
        };
        on_a_deep_stack(evaluate).map_err(|error: Box<EvalAltResult>| {
            let misspelt = run.state().misspelt_setting();
            self.translator
                .run_error(&error, &rule.name, &rule.text, misspelt)
        })
    }

    /// An engine for one run: cheap, since all that is heavy is shared.
    fn engine(&self, run: &Run) -> Engine {
        let mut engine = Engine::new_raw();
        for package in &self.packages {
            engine.register_global_module(Shared::clone(package));
        }
        engine.register_global_module(Shared::clone(&self.functions));
        engine.set_default_tag(Dynamic::from(run.clone()));
        engine.set_strict_variables(true);
        engine.set_fail_on_invalid_map_property(true);
        for symbol in ["eval", "curry", "print", "debug", "import", "export", "**"] {
            engine.disable_symbol(symbol);
        }
        let limits = self.limits;
        engine
            .set_max_strings_interned(0)
            .set_max_operations(limits.operations)
            .set_max_call_levels(limits.calls)
            .set_max_expr_depths(64, 48)
            .set_max_variables(500)
            .set_max_functions(500)
            .set_max_modules(0)
            .set_max_string_size(limits.text_bytes)
            .set_max_array_size(limits.list_entries)
            .set_max_map_size(limits.map_entries);
        let end = Instant::now() + limits.deadline();
        let memory_before = limits.memory_meter.map(|meter| meter());
        engine.on_progress(move |steps| {
            if steps % STEPS_BETWEEN_LOOKS != 0 {
                return None;
            }
            if Instant::now() > end {
                return Some(stopped("limit-work"));
            }
            let grown = limits
                .memory_meter
                .zip(memory_before)
                .map(|(meter, before)| meter().saturating_sub(before));
            grown
                .filter(|grown| *grown > limits.memory_bytes)
                .map(|_| stopped("limit-memory"))
        });
        engine
    }
}

/// Names that rules can use everywhere, also inside functions.
fn names() -> Scope<'static> {
    let mut scope = Scope::new();
    scope
        .push_constant("LEFT", Side::Left)
        .push_constant("RIGHT", Side::Right);
    scope
}

/// The title of a band whose rule gives none: the rule's name and the number of threads.
fn title(rule: &str, threads: u16) -> String {
    let rule = rule
        .rsplit(['/', '\\'])
        .next()
        .unwrap_or(rule)
        .trim_end_matches(".rhai")
        .replace(['-', '_'], " ");
    format!("{rule}, {threads} threads")
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

fn on_a_deep_stack<T: Send>(work: impl FnOnce() -> T + Send) -> T {
    std::thread::scope(|scope| {
        let thread = std::thread::Builder::new()
            .stack_size(STACK_BYTES)
            .spawn_scoped(scope, work);
        match thread.expect("the system lets us start a thread").join() {
            Ok(value) => value,
            Err(panic) => std::panic::resume_unwind(panic),
        }
    })
}
