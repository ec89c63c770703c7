//! What one run of a rule knows and collects.

use std::sync::{Arc, Mutex, MutexGuard};

use hitchwork_core::band::{MAX_NAME_LETTERS, MAX_TITLE_LETTERS, Setting, check_letters};
use hitchwork_core::chance::{self, Chance, Purpose};
use hitchwork_core::colour::{self, Palette};
use hitchwork_core::knot::Place;
use hitchwork_core::near::{did_you_mean, nearest};
use rhai::NativeCallContext;

use crate::budget::Budget;
use crate::error::Diagnostic;
use crate::held::{Held, TooDeep};
use crate::limits::Stopped;
use crate::parameter::{Parameter, Range, Settings};
use crate::reading::Shared;
use crate::solving::KnownKnots;
use crate::sources::{Source, Sources};
use crate::trace::PictureTrace;
use crate::trouble::{ScriptResult, declared_wrongly, ended, refused, stop};

/// The most parameters of a rule.
const MOST_PARAMETERS: usize = 200;

/// The state of a run, handed to the native functions as the engine's tag.
#[derive(Clone, Debug)]
pub(crate) struct RunHandle(Arc<RunParts>);

#[derive(Debug)]
struct RunParts {
    state: Mutex<State>,
    /// What this run, rules within the rule and all else that it is run for may use.
    budget: Arc<Budget>,
    shared: Arc<Shared>,
    held: Held,
}

#[derive(Debug)]
pub(crate) struct State {
    settings: Settings,
    pub(crate) declared: Vec<Parameter>,
    pub(crate) chance: Chance,
    /// Whether a rule that this one has called left anything to chance.
    called_on_chance: bool,
    /// Whether rows were drawn, by a recipe with a versioned name of its own.
    pub(crate) draws_rows: bool,
    /// Where other rules are found, before the built-in library.
    pub(crate) own: Option<Arc<dyn Sources>>,
    /// The texts that took part, the rule's own first: places in knots count by these.
    pub(crate) sources: Vec<Source>,
    /// The names by which those behind the first were asked for: with them results call them,
    /// whatever files they lie in.
    asked_by: Vec<String>,
    /// The files of the rules that are being run, each inside the one before it.
    pub(crate) chain: Vec<String>,
    /// The rule's setting that it refused, on which it stopped.
    refused: Option<String>,
    /// How many calls of other rules have begun.
    calls: u32,
    /// What is remembered of pictures, where somebody wants to know.
    pub(crate) trace: Option<PictureTrace>,
    /// The pictures whose knots have been found.
    pub(crate) known_knots: KnownKnots,
    /// Whether words were set in letters or flags, which can be read one way round only.
    pub(crate) sets_words: bool,
}

/// What of a run belongs to one rule, and waits while another runs inside it.
pub(crate) struct Waiting {
    settings: Settings,
    declared: Vec<Parameter>,
    chance: Chance,
}

impl RunHandle {
    pub(crate) fn new(
        settings: Settings,
        budget: Arc<Budget>,
        shared: &Arc<Shared>,
        rule: Source,
        own: Option<Arc<dyn Sources>>,
    ) -> Self {
        let chance = Chance::new(settings.seed, Purpose::Rule);
        let held = Held::default();
        held.takes_part(&rule.text);
        let state = State {
            settings,
            declared: Vec::new(),
            chance,
            called_on_chance: false,
            draws_rows: false,
            own,
            chain: vec![rule.file.clone()],
            sources: vec![rule],
            asked_by: Vec::new(),
            refused: None,
            calls: 0,
            trace: None,
            known_knots: KnownKnots::default(),
            sets_words: false,
        };
        Self(Arc::new(RunParts {
            state: Mutex::new(state),
            budget,
            shared: Arc::clone(shared),
            held,
        }))
    }

    /// The run to which a call belongs.
    pub(crate) fn of(context: &NativeCallContext) -> Self {
        context
            .tag()
            .and_then(|tag| tag.read_lock::<Self>().map(|run| Self::clone(&run)))
            .expect("every run of a rule has its tag")
    }

    /// What all runs share.
    pub(crate) fn shared(&self) -> &Shared {
        &self.0.shared
    }

    pub(crate) fn state(&self) -> MutexGuard<'_, State> {
        self.0
            .state
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
    }

    pub(crate) fn budget(&self) -> &Arc<Budget> {
        &self.0.budget
    }

    /// What the functions of the run hold.
    pub(crate) fn held(&self) -> &Held {
        &self.0.held
    }

    /// Counts a step of the script.
    pub(crate) fn step(&self) -> Result<(), Stopped> {
        self.0.budget.step()?;
        let work = self.0.held.step().map_err(|TooDeep| Stopped::Depth)?;
        self.0.budget.spend(work as u64)
    }

    /// Counts native work, before it is done, in units of one knot in a plain loop.
    pub(crate) fn spend(&self, units: usize) -> ScriptResult<()> {
        ended(self.0.budget.spend(units as u64))
    }

    /// Asks for room in the memory, before it is filled.
    pub(crate) fn make_room(&self, bytes: usize) -> ScriptResult<()> {
        ended(self.0.budget.has_room_for(bytes))
    }
}

impl State {
    /// The versioned names of the recipes that turned the seed into choices.
    pub(crate) fn recipes(&self) -> String {
        match self.draws_rows {
            true => format!("{} {}", chance::VERSION, chance::RANDOM_ROWS_VERSION),
            false => chance::VERSION.to_owned(),
        }
    }

    /// Whether the rule, or one that it called, left anything to chance.
    pub(crate) fn leaves_to_chance(&self) -> bool {
        self.called_on_chance || !self.chance.is_untouched()
    }

    /// Every palette that the rule may name: the maker's own, then the built-in ones.
    pub(crate) fn palettes(&self) -> Vec<Palette> {
        let mut palettes = self.settings.own_palettes.clone();
        for built_in in colour::built_in_palettes() {
            if palettes.iter().all(|own| own.name != built_in.name) {
                palettes.push(built_in);
            }
        }
        palettes
    }

    /// Begins a rule inside the rule that runs: its own settings, parameters and chance.
    pub(crate) fn enter(&mut self, settings: Settings, file: String) -> Waiting {
        self.calls += 1;
        let seed = self.settings.seed;
        let chance = Chance::new(seed, Purpose::RuleWithin { call: self.calls });
        self.chain.push(file);
        let mut settings = settings.seed(seed);
        settings
            .own_palettes
            .clone_from(&self.settings.own_palettes);
        Waiting {
            settings: std::mem::replace(&mut self.settings, settings),
            declared: std::mem::take(&mut self.declared),
            chance: std::mem::replace(&mut self.chance, chance),
        }
    }

    /// Goes back to the rule that waited.
    pub(crate) fn leave(&mut self, waiting: Waiting) {
        self.chain.pop();
        self.settings = waiting.settings;
        self.declared = waiting.declared;
        let inner = std::mem::replace(&mut self.chance, waiting.chance);
        self.called_on_chance |= !inner.is_untouched();
    }

    /// Takes in the text of another rule, which was asked for by this name.
    pub(crate) fn take_in(&mut self, known_as: String, source: Source) {
        self.sources.push(source);
        self.asked_by.push(known_as);
    }

    /// What results call the texts that took part, the first of them this.
    pub(crate) fn known_as(&self, first: &str) -> Vec<String> {
        let others = self.asked_by.iter().map(String::as_str);
        std::iter::once(first)
            .chain(others)
            .map(str::to_owned)
            .collect()
    }

    /// The number of a source by its file.
    fn source_number(&self, file: Option<&str>) -> u16 {
        let number =
            file.and_then(|file| self.sources.iter().position(|source| source.file == file));
        u16::try_from(number.unwrap_or(0)).unwrap_or(u16::MAX)
    }

    /// Declares a parameter and gives its value.
    pub(crate) fn declare(
        &mut self,
        name: &str,
        default: &Setting,
        range: Range,
        sentence: &str,
    ) -> ScriptResult<Setting> {
        if let Some(known) = self.declared.iter().find(|known| known.name == name) {
            if known.range == range {
                return Ok(known.value.clone());
            }
            return Err(declared_wrongly(
                format!("the setting {name} is declared twice, in different ways"),
                "declare it once, before it is used, and keep its value in a variable",
            ));
        }
        if name.is_empty()
            || !name
                .chars()
                .all(|character| character.is_alphanumeric() || "_-".contains(character))
        {
            return Err(declared_wrongly(
                format!("\"{name}\" cannot be the name of a setting"),
                "use letters, digits, _ and - only, so that it can be set by its name everywhere",
            ));
        }
        check_letters("the name of a setting", name, MAX_NAME_LETTERS)
            .and_then(|()| check_letters("the sentence of a setting", sentence, MAX_TITLE_LETTERS))
            .map_err(|error| refused(&error))?;
        if self.declared.len() >= MOST_PARAMETERS {
            return Err(stop(Diagnostic::new(
                "limit-size",
                format!("the rule declares more than {MOST_PARAMETERS} settings"),
                "nobody could choose among that many; work some out from others",
            )));
        }
        let default = range.accept(default).map_err(|why| {
            let help =
                "give a default that the setting takes; it may be worked out from earlier settings";
            declared_wrongly(format!("the default of {name} cannot be: {why}"), help)
        })?;
        let by_palette = matches!(range, Range::Palette { .. })
            .then(|| self.settings.palette.clone())
            .flatten();
        let given = self
            .settings
            .values
            .get(name)
            .cloned()
            .or(by_palette.map(Setting::Text));
        let value = match given {
            Some(given) => range.accept(&given).map_err(|why| {
                // The settings of a rule within this one are not those that were asked for.
                if self.chain.len() == 1 {
                    self.refused = Some(name.to_owned());
                }
                let meant = range.meant(&given);
                // A sentence may begin with the very word: "the palette: its first colour …".
                let named = match sentence.strip_prefix("the ").unwrap_or(sentence) {
                    rest if rest.starts_with(name) => sentence.to_owned(),
                    _ => format!("{name}: {sentence}"),
                };
                let help = format!("{meant}{named}; it takes {}", range.words());
                stop(Diagnostic::new(
                    "setting-refused",
                    format!("{name} cannot be set like that: {why}"),
                    help,
                ))
            })?,
            None => default.clone(),
        };
        let (name, sentence) = (name.to_owned(), sentence.to_owned());
        self.declared.push(Parameter {
            name,
            sentence,
            range,
            default,
            value: value.clone(),
        });
        Ok(value)
    }

    /// The settings without the one that the rule refused, if it stopped on one.
    pub(crate) fn without_refused(&self) -> Option<Settings> {
        let mut settings = self.settings.clone();
        if settings.values.remove(self.refused.as_ref()?).is_none() {
            settings.palette = None;
        }
        Some(settings)
    }

    /// What is wrong with the settings that no setting of the rule took, if one of them looks like a
    /// slip of the pen for one that was declared.
    pub(crate) fn misspelt_settings(&self) -> Vec<Diagnostic> {
        let names = || {
            self.declared
                .iter()
                .map(|parameter| parameter.name.as_str())
        };
        let mut unknown = self
            .settings
            .names()
            .filter(|name| !names().any(|known| known == *name));
        if unknown.any(|name| nearest(name, names()).is_some()) {
            self.unknown_settings()
        } else {
            Vec::new()
        }
    }

    /// What is wrong with the settings that no setting of the rule took; the last says what there is.
    pub(crate) fn unknown_settings(&self) -> Vec<Diagnostic> {
        let names: Vec<&str> = self
            .declared
            .iter()
            .map(|parameter| parameter.name.as_str())
            .collect();
        let unknown = self.settings.names().filter(|name| !names.contains(name));
        let one = |unknown: &str| {
            let meant = did_you_mean(unknown, names.iter().copied());
            Diagnostic {
                setting: Some(unknown.to_owned()),
                help: (!meant.is_empty()).then(|| meant.trim_end().to_owned()),
                ..Diagnostic::new(
                    "setting-unknown",
                    format!("the rule has no setting called {unknown}"),
                    "",
                )
            }
        };
        let mut wrong: Vec<Diagnostic> = unknown.map(one).collect();
        if let Some(last) = wrong.last_mut() {
            let list: Vec<String> = self
                .declared
                .iter()
                .map(|parameter| format!("{} ({})", parameter.name, parameter.range.words()))
                .collect();
            let there_is = match list.is_empty() {
                true => "this rule has no settings at all".to_owned(),
                false => format!("the rule has: {}", list.join("; ")),
            };
            let meant = last.help.take().map(|meant| meant + " ");
            last.help = Some(format!("{}{there_is}", meant.unwrap_or_default()));
        }
        let has_palette = self
            .declared
            .iter()
            .any(|parameter| matches!(parameter.range, Range::Palette { .. }));
        if self.settings.palette.is_some() && !has_palette {
            wrong.push(Diagnostic::new(
                "setting-unknown",
                "the rule lets nobody choose a palette",
                "its colours are fixed in the rule itself",
            ));
        }
        wrong
    }
}

/// The line of the rule from which a native function was called.
pub(crate) fn place(context: &NativeCallContext) -> Option<Place> {
    let position = context.call_position();
    let file = context.call_source();
    let line = u32::try_from(position.line()?).ok()?;
    let character = u16::try_from(position.position().unwrap_or(1)).unwrap_or(u16::MAX);
    Some(Place {
        source: RunHandle::of(context).state().source_number(file),
        line,
        character,
    })
}
