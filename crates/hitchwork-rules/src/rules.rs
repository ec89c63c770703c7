//! The engine: built once, reads rules and runs them.

use std::sync::Arc;
use std::sync::atomic::AtomicBool;
use std::thread::{Scope as Scoped, ScopedJoinHandle};

use hitchwork_core::band::{Band, Origin};
use hitchwork_core::colour::Palette;
use hitchwork_core::near::did_you_mean;
use hitchwork_core::row::Row;
use hitchwork_core::text::unmarked;
use rhai::packages::{
    ArithmeticPackage, BasicArrayPackage, BasicFnPackage, BasicIteratorPackage, BasicMapPackage,
    BasicStringPackage, LogicPackage, MoreStringPackage, Package,
};
use rhai::{Dynamic, Engine, Module};

use crate::budget::Budget;
use crate::deep_stack::{deep_thread, on_a_deep_stack};
use crate::error::{Diagnostic, Error};
use crate::limits::Limits;
use crate::load::FileKind;
use crate::parameter::{Parameter, Settings};
use crate::reading::{Shared, names, tree};
use crate::reference::Reference;
use crate::rule::Rule;
use crate::run::RunHandle;
use crate::sketch::Sketch;
use crate::sources::{Source, Sources, is_plain};
use crate::trace::PictureTrace;
use crate::translate::Translator;
use crate::{functions, kinds, library, reference, variables};

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
    modules: Vec<rhai::Shared<Module>>,
    shared: Arc<Shared>,
    /// Where the embedder's own modules begin.
    own_modules: usize,
    /// Where rules are found before the built-in library, but for those that have their own.
    sources: Option<Arc<dyn Sources>>,
    limits: Limits,
    stop: Option<Arc<AtomicBool>>,
    /// Whether runs remember where the cells of pictures come from.
    traces: bool,
}

/// The rule language while you say what belongs to it; made by [`Rules::builder`].
#[derive(Debug, Default)]
pub struct Builder {
    limits: Limits,
    functions: Vec<Module>,
    palettes: Vec<Palette>,
    sources: Option<Arc<dyn Sources>>,
}

impl Builder {
    /// Other limits than the ordinary ones.
    #[must_use]
    pub fn limits(self, limits: Limits) -> Self {
        Self { limits, ..self }
    }

    /// Functions of your own, which every rule can call. A doc comment that begins with
    /// the form of the call in backticks makes error messages show that form.
    ///
    /// They run without limits: what they make and how long they take is their author's
    /// care.
    #[must_use]
    pub fn functions(mut self, functions: Module) -> Self {
        self.functions.push(functions);
        self
    }

    /// A palette of your own; it comes before a built-in one of the same name.
    #[must_use]
    pub fn palette(mut self, palette: Palette) -> Self {
        self.palettes.push(palette);
        self
    }

    /// A place of your own in which rules lie by their names, for [`Rules::load`] and for
    /// rules that use others; it comes before the built-in library. Messages call a rule as
    /// its [`Source`] says. A rule may have another place instead, by
    /// [`Rule::finding`].
    ///
    /// ```
    /// use hitchwork_rules::{Answer, Rules, Settings, Source, Sources};
    ///
    /// /// The rules of an evening class, page by page.
    /// #[derive(Debug)]
    /// struct Logbook;
    ///
    /// impl Sources for Logbook {
    ///     fn source(&self, name: &str) -> Answer {
    ///         let text = match name {
    ///             "punt" => r#"band(8).repeat(rule("drift", #{ threads: 8 }).rows)"#,
    ///             "dory" => r#"rule("skiff")"#,
    ///             "skiff" => r#"rule("dory")"#,
    ///             _ => return Ok(None),
    ///         };
    ///         let file = format!("logbook/{name}");
    ///         Ok(Some(Source { file, text: text.to_owned() }))
    ///     }
    ///
    ///     fn names(&self) -> Vec<String> {
    ///         ["punt", "dory", "skiff"].map(str::to_owned).to_vec()
    ///     }
    /// }
    ///
    /// let rules = Rules::builder().sources(Logbook).build();
    /// let punt = rules.make(&rules.load("punt")?, &Settings::new())?;
    /// assert_eq!(punt.band.thread_count(), 8);
    /// let circle = rules.make(&rules.load("dory")?, &Settings::new()).expect_err("a circle");
    /// assert_eq!(
    ///     circle.diagnostics()[0].message,
    ///     "rules use each other in a circle: logbook/dory, logbook/skiff, logbook/dory"
    /// );
    /// let slip = rules.load("skif").expect_err("there is none");
    /// assert!(slip.render(false).contains("did you mean skiff?"));
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    #[must_use]
    pub fn sources(self, sources: impl Sources + 'static) -> Self {
        let sources: Option<Arc<dyn Sources>> = Some(Arc::new(sources));
        Self { sources, ..self }
    }

    /// The language.
    #[must_use]
    pub fn build(self) -> Rules {
        Rules::build(self)
    }
}

/// What a run of a rule gives.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Made {
    /// The band.
    pub band: Band,
    /// Every parameter that the rule declared, with the value that it had.
    pub parameters: Vec<Parameter>,
    /// Whether anything was left to chance, so that another seed may make another band.
    pub leaves_to_chance: bool,
    /// Whether the rule, or one that it called, set words in letters or flags: mirrored, they are read
    /// the wrong way round.
    pub sets_words: bool,
    /// What its knots are to show of pictures, where that was asked for.
    #[doc(hidden)]
    pub trace: Option<PictureTrace>,
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
        Self::builder().limits(limits).build()
    }

    /// The rule language with functions, palettes or limits of your own.
    ///
    /// ```
    /// use hitchwork_core::colour::{Colour, Palette, Srgb};
    /// use hitchwork_rules::{Rules, Settings, rhai};
    ///
    /// let mut functions = rhai::Module::new();
    /// functions.set_native_fn("berths", |piers: i64| Ok(2 * piers));
    /// let rules = Rules::builder()
    ///     .functions(functions)
    ///     .palette(Palette {
    ///         name: "low water".to_owned(),
    ///         sentence: "Mud, weed and a little sky.".to_owned(),
    ///         colours: Colour::spoken([Srgb::new(92, 80, 64), Srgb::new(70, 100, 70)]),
    ///     })
    ///     .build();
    /// let rule = rules.compile("piers", r#"
    ///     let threads = berths(3);
    ///     band(threads).repeat(forward(1..threads)).drift(gradient("low water", threads))
    /// "#)?;
    /// assert_eq!(rules.make(&rule, &Settings::new())?.band.thread_count(), 6);
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    pub fn builder() -> Builder {
        Builder::default()
    }

    fn build(built: Builder) -> Self {
        let Builder {
            limits,
            functions: own,
            palettes,
            sources,
        } = built;
        let mut modules = vec![
            ArithmeticPackage::new().as_shared_module(),
            LogicPackage::new().as_shared_module(),
            BasicIteratorPackage::new().as_shared_module(),
            BasicFnPackage::new().as_shared_module(),
            BasicArrayPackage::new().as_shared_module(),
            BasicMapPackage::new().as_shared_module(),
            BasicStringPackage::new().as_shared_module(),
            MoreStringPackage::new().as_shared_module(),
        ];
        let packages = modules.len();
        for mut functions in std::iter::once(functions::module()).chain(own) {
            functions.build_index();
            modules.push(rhai::Shared::new(functions));
        }
        let translator = Translator::new(&modules[packages..], limits);
        Self {
            modules,
            own_modules: packages + 1,
            sources,
            shared: Arc::new(Shared::new(translator, palettes)),
            limits,
            stop: None,
            traces: false,
        }
    }

    /// The same language, whose runs remember which cells of which pictures the knots of their
    /// bands are to show: [`Made::trace`].
    #[doc(hidden)]
    #[must_use]
    pub fn tracing_pictures(self) -> Self {
        Self {
            traces: true,
            ..self
        }
    }

    /// The same language, whose runs end soon after `stop` becomes true: for whoever wants
    /// something newer before something slow is done.
    #[must_use]
    pub fn stopped_by(&self, stop: Arc<AtomicBool>) -> Self {
        Self {
            stop: Some(stop),
            ..self.clone()
        }
    }

    /// Reads a rule. Its `name` is what messages call it.
    ///
    /// ```
    /// use hitchwork_rules::Rules;
    /// let rules = Rules::new();
    /// assert!(rules.compile("ebb", "band(4).repeat(forward(1..4))").is_ok());
    /// let error = rules.compile("ebb", "band(4).repeat(").unwrap_err();
    /// assert_eq!(error.diagnostics()[0].code, "not-a-rule");
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the text is too long or cannot be read, with the place.
    pub fn compile(&self, name: &str, text: &str) -> Result<Rule, Error> {
        if text.len() > FileKind::Rule.most_bytes() {
            let message = FileKind::Rule.too_long(&format!("the rule {name}"));
            return Err(Error::one(
                Diagnostic::new("limit-size", message, FileKind::Rule.shorter()),
                &[],
            ));
        }
        let source = Source {
            file: name.to_owned(),
            text: unmarked(text).to_owned(),
        };
        let run = RunHandle::new(
            Settings::new(),
            self.budget(),
            &self.shared,
            source.clone(),
            None,
        );
        let tree = on_a_deep_stack(|| tree(&self.engine(&run), &source))?;
        let tree = tree.map_err(|error| {
            let diagnostic = self.shared.translator.parse_error(&error, &source);
            Error::one(diagnostic, std::slice::from_ref(&source))
        })?;
        Ok(Rule {
            known_as: source.file.clone(),
            name: source.file,
            text: source.text,
            tree: Arc::new(tree),
            own: None,
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

    /// The rule of that name, read: from the place that was given with [`Builder::sources`],
    /// or else from the built-in library.
    ///
    /// ```
    /// let rules = hitchwork_rules::Rules::new();
    /// assert_eq!(rules.load("drift")?.name(), "drift");
    /// let slip = rules.load("drfit").expect_err("there is none");
    /// assert!(slip.render(false).contains("did you mean drift?"));
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there is no such rule, it may not be used, or it cannot be read.
    pub fn load(&self, name: &str) -> Result<Rule, Error> {
        let refused = |message: String, help: String| {
            Error::one(Diagnostic::new("wrong-value", message, help), &[])
        };
        let own = self.sources.as_ref();
        let found = match own {
            Some(own) if is_plain(name) => own.source(name),
            _ => Ok(None),
        };
        let found = found.map_err(|why| {
            let help = "correct it where it is, or choose another";
            refused(
                format!("the rule {name} cannot be used: {why}"),
                help.to_owned(),
            )
        })?;
        if let Some(source) = found {
            return self.compile(&source.file, &source.text);
        }
        self.built_in(name).ok_or_else(|| {
            let mut names = own.map_or(Vec::new(), Sources::names);
            names.extend(library::built_in_names().map(str::to_owned));
            let meant = did_you_mean(name, names.iter().map(String::as_str));
            let shown: String = name.chars().take(60).collect();
            refused(
                format!("there is no rule called {shown}"),
                format!("{meant}there are {}", names.join(", ")),
            )
        })
    }

    /// Runs a rule and makes its band.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let drift = rules.built_in("drift").expect("built in");
    /// assert_eq!(rules.make(&drift, &Settings::new().set("threads", 10))?.band.thread_count(), 10);
    /// let error = rules.make(&drift, &Settings::new().set("threads", 2)).unwrap_err();
    /// assert!(error.is_setting());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When a setting is unknown or refused, the rule stops with an error or at a limit,
    /// ends without a band, or describes a band that cannot be.
    pub fn make(&self, rule: &Rule, settings: &Settings) -> Result<Made, Error> {
        on_a_deep_stack(|| self.make_here(rule, settings))?
    }

    fn make_here(&self, rule: &Rule, settings: &Settings) -> Result<Made, Error> {
        let budget = self.budget();
        let run = self.begin(rule, settings, &budget);
        let value = self
            .run(rule, &run)
            .map_err(|error| self.with_other_settings(error, rule, &run, &budget))?;
        let mut state = run.state();
        let unknown = state.unknown_settings();
        if !unknown.is_empty() {
            return Err(Error::new(unknown, &state.sources));
        }
        let kind = kinds::type_name(&value);
        let Some(mut sketch) = value.try_cast::<Sketch>() else {
            let message = format!("the rule ends in {kind}, not in a band");
            let help = "let the last line be band(…) with its rows, or the name of the band; a line that begins with let makes a name and no band";
            return Err(Error::one(
                Diagnostic::new("no-band", message, help),
                &state.sources,
            ));
        };
        let finishing = run.budget().spend(FINISH_UNITS * sketch.knots() as u64);
        finishing.map_err(|stopped| {
            Error::one(
                self.shared.translator.stopped(Some(stopped)),
                &state.sources,
            )
        })?;
        sketch.gauge = settings.gauge.unwrap_or(sketch.gauge);
        let parameters = state.declared.clone();
        let origin = Origin {
            rule: rule.known_as.clone(),
            settings: parameters
                .iter()
                .map(|parameter| (parameter.name.clone(), parameter.value.clone()))
                .collect(),
            seed: settings.seed,
            chance: state.recipes(),
            hitchwork: env!("CARGO_PKG_VERSION").to_owned(),
        };
        let threads = sketch.threads;
        let title = title(&rule.known_as, threads);
        let files = state.known_as(&rule.known_as);
        let band = sketch.finish(title, origin, files, settings.length_mm);
        let band = band.map_err(|error| {
            let translator = &self.shared.translator;
            let diagnostic = translator.refused_band(&error, threads, &state.sources);
            Error::one(diagnostic, &state.sources)
        })?;
        Ok(Made {
            band,
            parameters,
            leaves_to_chance: state.leaves_to_chance(),
            sets_words: state.sets_words,
            trace: state.trace.take(),
        })
    }

    /// An error with all else that is wrong with the settings: where one is refused, the
    /// rule is run again without it, to see whether it takes the others, as long as the
    /// budget of the first run lasts.
    fn with_other_settings(
        &self,
        mut error: Error,
        rule: &Rule,
        run: &RunHandle,
        budget: &Arc<Budget>,
    ) -> Error {
        let others = run.state().without_refused();
        self.run_without_refused(rule, others, budget, |run, ended| match ended {
            Ok(_) => error.add(run.state().unknown_settings()),
            Err(next) if next.is_setting() => error.add(next.into_diagnostics()),
            // Without the settings that were meant, the rule may well stop.
            Err(_) => {}
        });
        error
    }

    /// Runs a rule, and again without the setting that it refuses for as long as it refuses
    /// one; each run with its end goes to `each`.
    fn run_without_refused(
        &self,
        rule: &Rule,
        mut settings: Option<Settings>,
        budget: &Arc<Budget>,
        mut each: impl FnMut(&RunHandle, Result<Dynamic, Error>),
    ) {
        while let Some(taken) = settings {
            let run = self.begin(rule, &taken, budget);
            let ended = self.run(rule, &run);
            each(&run, ended);
            settings = run.state().without_refused();
        }
    }

    /// The parameters that a rule declares with these settings; ranges and defaults may
    /// depend on earlier ones. Those before an error are given even when the rule stops
    /// at it.
    #[must_use]
    pub fn parameters(&self, rule: &Rule, settings: &Settings) -> Vec<Parameter> {
        let declared = on_a_deep_stack(|| {
            let run = self.begin(rule, settings, &self.budget());
            // What a broken rule declares before it breaks is still worth showing.
            let _ = self.run(rule, &run);
            run.state().declared.clone()
        });
        declared.unwrap_or_default()
    }

    /// The parameters that a rule declares when it is run without those of the settings that
    /// it refuses: so that one of them does not hide what comes behind it.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let drift = rules.built_in("drift").expect("built in");
    /// let refused = Settings::new().set("threads", 0);
    /// let parameters = rules.parameters_besides_refused(&drift, &refused);
    /// assert!(parameters.iter().any(|parameter| parameter.name == "palette"));
    /// assert!(rules.parameters(&drift, &refused).is_empty());
    /// ```
    #[doc(hidden)]
    #[must_use]
    pub fn parameters_besides_refused(&self, rule: &Rule, settings: &Settings) -> Vec<Parameter> {
        let declared = on_a_deep_stack(|| {
            let mut declared = Vec::new();
            let settings = Some(settings.clone());
            self.run_without_refused(rule, settings, &self.budget(), |run, _| {
                declared.clone_from(&run.state().declared);
            });
            declared
        });
        declared.unwrap_or_default()
    }

    fn budget(&self) -> Arc<Budget> {
        Budget::new(self.limits, self.stop.clone())
    }

    fn begin(&self, rule: &Rule, settings: &Settings, budget: &Arc<Budget>) -> RunHandle {
        let mut settings = settings.clone();
        for palette in &self.shared.palettes {
            if !settings
                .own_palettes
                .iter()
                .any(|own| own.name == palette.name)
            {
                settings.own_palettes.push(palette.clone());
            }
        }
        let run = RunHandle::new(
            settings,
            Arc::clone(budget),
            &self.shared,
            rule.source(),
            rule.own.clone().or_else(|| self.sources.clone()),
        );
        run.state().trace = self.traces.then(PictureTrace::default);
        run
    }

    /// The reference of the language, made from what its functions say about themselves: also
    /// those that were given with [`Builder::functions`], in a room of their own.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, rhai::{FuncRegistration, Module}};
    /// let mut functions = Module::new();
    /// FuncRegistration::new("berths")
    ///     .with_comments(["/// `berths(piers)`: how many boats find room at this many piers."])
    ///     .set_into_module(&mut functions, |piers: i64| 2 * piers);
    /// let reference = Rules::builder().functions(functions).build().reference();
    /// let berths = reference.find("berths").expect("it says what it does");
    /// assert_eq!(berths.forms[0].call, "berths(piers)");
    /// assert!(reference.find("forward").is_some());
    /// ```
    #[must_use]
    pub fn reference(&self) -> Reference {
        Reference::new(&self.modules[self.own_modules..])
    }

    /// Makes the band of an example: what ends in a band as every rule does, and what ends
    /// in a row or rows tied on a plain band that is just wide enough.
    ///
    /// ```
    /// let rules = hitchwork_rules::Rules::new();
    /// assert_eq!(rules.example("forward([1, 2, 5])")?.thread_count(), 6);
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// As [`make`](Self::make), and when it ends in anything else.
    pub fn example(&self, text: &str) -> Result<Band, Error> {
        on_a_deep_stack(|| self.example_here(text))?
    }

    fn example_here(&self, text: &str) -> Result<Band, Error> {
        let rule = self.compile("example", text)?;
        let run = self.begin(&rule, &Settings::new(), &self.budget());
        let value = self.run(&rule, &run)?;
        let Ok(rows) = functions::rows_of(value) else {
            return Ok(self.make(&rule, &Settings::new())?.band);
        };
        let widest = rows.iter().filter_map(Row::last_column).max();
        let sketch = Sketch {
            repeat: rows.into(),
            ..Sketch::new(widest.map_or(2, |column| column.number() + 1))
        };
        let threads = sketch.threads;
        let state = run.state();
        let files = state.known_as(&rule.known_as);
        let band = sketch.finish("example".to_owned(), Origin::default(), files, None);
        band.map_err(|error| {
            let translator = &self.shared.translator;
            let diagnostic = translator.refused_band(&error, threads, &state.sources);
            Error::one(diagnostic, &state.sources)
        })
    }

    /// What editors need to complete and explain the functions of rules: the definition
    /// files that language servers for Rhai read, by name.
    ///
    /// ```
    /// let files = hitchwork_rules::Rules::new().definitions();
    /// assert!(files.iter().any(|(_, text)| text.contains("fn forward(")));
    /// ```
    #[must_use]
    pub fn definitions(&self) -> Vec<(String, String)> {
        let nothing = self.compile("nothing", "").expect("nothing can be read");
        let engine = self.engine(&self.begin(&nothing, &Settings::new(), &self.budget()));
        let names = names();
        let definitions = engine.definitions_with_scope(&names);
        // Functions that no rule may call are not worth completing.
        definitions
            .iter_files()
            .filter(|(name, _)| name != "__builtin__.d.rhai")
            .map(|(name, text)| (name, reference::in_plain_types(&text)))
            .collect()
    }

    /// Runs a rule, on a deep stack: what it gives is as deep as it is.
    fn run(&self, rule: &Rule, run: &RunHandle) -> Result<Dynamic, Error> {
        let engine = self.engine(run);
        let mut scope = names();
        let outcome = engine.eval_ast_with_scope::<Dynamic>(&mut scope, &rule.tree);
        outcome.map_err(|error| {
            let held = variables::all(&scope);
            let state = run.state();
            let translator = &self.shared.translator;
            let mut stopped = translator.run_error(&error, &rule.name, &state.sources);
            stopped.variables = variables::on_the_line(&stopped, &rule.name, &rule.text, held);
            // A misspelt setting may be why a default did not do.
            let mut diagnostics = state.misspelt_settings();
            diagnostics.push(stopped);
            Error::new(diagnostics, &state.sources)
        })
    }

    /// Does work in which many rules are made one after another, with less to do for each:
    /// every run of a rule needs a deep stack, and here all of them have the same one.
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let stars = rules.built_in("stars").expect("built in");
    /// let nights = rules.batch(|| {
    ///     let nights = (1..=3).map(|seed| rules.make(&stars, &Settings::new().seed(seed)));
    ///     nights.collect::<Result<Vec<_>, _>>()
    /// })?;
    /// assert_eq!(nights.len(), 3);
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// Where the system has no room for a deep stack, each run asks for one again, and fails
    /// alone.
    pub fn batch<T: Send>(&self, work: impl FnOnce() -> T + Send) -> T {
        let mut work = Some(work);
        let mut done = || work.take().map(|work| work());
        let done = on_a_deep_stack(&mut done).ok().flatten();
        done.unwrap_or_else(|| work.take().expect("it was not begun")())
    }

    /// Starts a thread with a stack that is deep enough for rules, for work in which many of
    /// them are made: a worker that needs no [`batch`](Self::batch).
    ///
    /// ```
    /// use hitchwork_rules::{Rules, Settings};
    /// let rules = Rules::new();
    /// let drift = rules.built_in("drift").expect("built in");
    /// std::thread::scope(|scope| {
    ///     let worker = rules.start(scope, || rules.make(&drift, &Settings::new()));
    ///     let made = worker.expect("there is room").join().expect("no panic");
    ///     assert!(made.is_ok());
    /// });
    /// ```
    ///
    /// # Errors
    /// When the system has no room for the stack, or lets no more threads start.
    pub fn start<'scope, T: Send + 'scope>(
        &self,
        scope: &'scope Scoped<'scope, '_>,
        work: impl FnOnce() -> T + Send + 'scope,
    ) -> std::io::Result<ScopedJoinHandle<'scope, T>> {
        deep_thread(scope, work)
    }

    /// An engine for one run: cheap, since all that is heavy is shared.
    fn engine(&self, run: &RunHandle) -> Engine {
        let mut engine = Engine::new_raw();
        for module in &self.modules {
            engine.register_global_module(rhai::Shared::clone(module));
        }
        engine.set_module_resolver(functions::Imports(run.clone()));
        engine.set_default_tag(Dynamic::from(run.clone()));
        engine.set_strict_variables(true);
        engine.set_fail_on_invalid_map_property(true);
        for symbol in ["eval", "curry", "print", "debug", "export", "**"] {
            engine.disable_symbol(symbol);
        }
        let limits = self.limits;
        engine
            .set_max_strings_interned(0)
            // Counted in `on_progress`, together for all rules inside each other.
            .set_max_operations(0)
            .set_max_call_levels(limits.calls)
            .set_max_expr_depths(64, 48)
            .set_max_variables(500)
            .set_max_functions(500)
            .set_max_modules(32)
            .set_max_string_size(limits.text_bytes)
            .set_max_array_size(limits.list_entries)
            .set_max_map_size(limits.map_entries);
        let progress = run.clone();
        engine.on_progress(move |_| progress.step().err().map(Dynamic::from));
        keep_what_is_held(&mut engine, run.clone());
        engine
    }
}

#[allow(
    deprecated,
    reason = "the engine marks this call so because it may change, not because it will go"
)]
fn keep_what_is_held(engine: &mut Engine, run: RunHandle) {
    engine.on_var(move |name, place, mut context| {
        run.held().keep(name, place, &mut context);
        Ok(None)
    });
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

/// What it takes to tie and measure each knot of a finished band, in units of work.
const FINISH_UNITS: u64 = 16;
