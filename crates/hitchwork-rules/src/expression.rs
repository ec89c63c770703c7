//! Conditions on bands and scores for them, written over their measures.

use std::fmt;
use std::sync::{Arc, OnceLock};

use hitchwork_core::band::{Band, BandParts};
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::knot::Kind;
use hitchwork_core::measures::{MEASURES, Measure, MeasureValue};
use hitchwork_core::near::did_you_mean;
use hitchwork_core::row::Row;
use hitchwork_core::tied::Tied;
use rhai::packages::{ArithmeticPackage, LogicPackage, Package};
use rhai::{AST, ASTNode, Dynamic, Engine, Expr, ParseErrorType, Position, Scope, Stmt};

use crate::error::{Diagnostic, Error};
use crate::kinds::type_name;
use crate::limits::Limits;
use crate::sources::Source;
use crate::translate::{Translator, placed};

/// Steps that one evaluation may take; an expression has no loops.
const MOST_STEPS: u64 = 10_000;

/// The most bytes that an expression may have.
const MOST_BYTES: usize = 4 << 10;

/// A condition on a band, or a score for it, over its [measures](MEASURES) by their names.
///
/// It is read and checked once: every name must be that of a measure, words are compared
/// with words that the measure can be, and it must give what is wanted of it, yes or no or a
/// number.
///
/// ```
/// use hitchwork_core::tied::Tied;
/// use hitchwork_rules::{Expression, Rules, Settings};
/// let rules = Rules::new();
/// let drift = rules.built_in("drift").expect("built in");
/// let band = rules.make(&drift, &Settings::new())?.band;
/// let tied = Tied::of(band);
/// assert!(Expression::condition("drifts && width_mm < 30")?.holds(&tied)?);
/// assert!(Expression::score("minutes / 60")?.value(&tied)? > 1.0);
/// let wrong = Expression::condition("widht_mm < 30").expect_err("no such measure");
/// assert!(wrong.render(false).contains("did you mean width_mm?"));
/// # Ok::<(), hitchwork_rules::Error>(())
/// ```
#[derive(Clone)]
pub struct Expression {
    source: Source,
    tree: Arc<AST>,
    gives: Gives,
    /// The names that it uses, in the order of the scope for which it was read.
    names: Vec<String>,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Gives {
    Flag,
    Number,
}

impl Gives {
    /// What such an expression is called.
    const fn name(self) -> &'static str {
        match self {
            Self::Flag => "condition",
            Self::Number => "score",
        }
    }
}

impl fmt::Debug for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Expression({})", self.source.text)
    }
}

impl fmt::Display for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.source.text)
    }
}

impl Expression {
    /// A condition, such as `repeats_to_close <= 4 && knot_symmetry == "half turns"`.
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// // `tied`: the band of the built-in rule `drift`.
    /// assert!(Expression::condition("drifts && errors == 0")?.holds(&tied)?);
    /// assert!(Expression::condition("draughts == 0").is_err());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it cannot be read, uses a name that is not a measure, compares what cannot be
    /// equal, or gives anything but yes or no.
    pub fn condition(text: &str) -> Result<Self, Error> {
        Self::read(text, Gives::Flag, &[])
    }

    /// A score, such as `contrast - difficulty`.
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// let half = Expression::score("width_mm / 2")?;
    /// assert_eq!(half.value(&tied)?, tied.report().size_mm.width / 2.0);
    /// assert!(Expression::score("drifts").is_err());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it cannot be read, uses a name that is not a measure, or gives no number.
    pub fn score(text: &str) -> Result<Self, Error> {
        Self::read(text, Gives::Number, &[])
    }

    /// A condition that may use more names than those of measures: numbers that are given
    /// each time it is [asked about](Self::holds_knowing).
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// let bold = Expression::condition_knowing("novelty > 0.5", &["novelty"])?;
    /// assert!(bold.holds_knowing(&tied, &[("novelty", 0.8)])?);
    /// assert!(Expression::condition("novelty > 0.5").is_err());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`condition`](Self::condition).
    pub fn condition_knowing(text: &str, more: &[&str]) -> Result<Self, Error> {
        Self::read(text, Gives::Flag, more)
    }

    /// A score that may use more names than those of measures: numbers that are given
    /// each time it is [evaluated](Self::value_knowing).
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// let dear = Expression::score_knowing("price * 2", &["price"])?;
    /// assert_eq!(dear.value_knowing(&tied, &[("price", 3.0)])?, 6.0);
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// As for [`score`](Self::score).
    pub fn score_knowing(text: &str, more: &[&str]) -> Result<Self, Error> {
        Self::read(text, Gives::Number, more)
    }

    /// Whether it uses a name.
    #[must_use]
    pub fn uses(&self, name: &str) -> bool {
        self.names.iter().any(|known| known == name)
    }

    /// Whether the condition holds for a band.
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// assert!(!Expression::condition("threads > 200")?.holds(&tied)?);
    /// assert!(Expression::score("threads")?.holds(&tied).is_err());
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it is a score, or divides by zero for this band.
    pub fn holds(&self, tied: &Tied) -> Result<bool, Error> {
        self.holds_knowing(tied, &[])
    }

    /// Whether the condition holds for a band of which more is known.
    ///
    /// # Errors
    /// As for [`holds`](Self::holds).
    pub fn holds_knowing(&self, tied: &Tied, more: &[(&str, f64)]) -> Result<bool, Error> {
        let value = self.evaluate(tied, more)?;
        value.as_bool().map_err(|_| self.gives_wrongly(&value))
    }

    /// The score of a band.
    ///
    /// ```
    /// # use hitchwork_rules::Rules;
    /// # let rules = Rules::new();
    /// # let rule = rules.built_in("drift").expect("built in");
    /// # let tied = hitchwork_core::tied::Tied::of(rules.make(&rule, &Default::default())?.band);
    /// use hitchwork_rules::Expression;
    /// let threads = Expression::score("threads")?;
    /// assert_eq!(threads.value(&tied)?, f64::from(tied.band().thread_count()));
    /// # Ok::<(), hitchwork_rules::Error>(())
    /// ```
    ///
    /// # Errors
    /// When it is a condition, divides by zero for this band, or exceeds all numbers.
    pub fn value(&self, tied: &Tied) -> Result<f64, Error> {
        self.value_knowing(tied, &[])
    }

    /// The score of a band of which more is known.
    ///
    /// # Errors
    /// As for [`value`](Self::value).
    pub fn value_knowing(&self, tied: &Tied, more: &[(&str, f64)]) -> Result<f64, Error> {
        let value = self.evaluate(tied, more)?;
        let number = match value.as_int() {
            #[allow(clippy::cast_precision_loss, reason = "measures are small")]
            Ok(whole) => whole as f64,
            Err(_) => value.as_float().map_err(|_| self.gives_wrongly(&value))?,
        };
        match number.is_finite() {
            true => Ok(number),
            false => Err(self.wrong(Diagnostic::new(
                "wrong-value",
                "the score is not a number for this band: it divides by zero or is too large",
                "divide by something that is never 0",
            ))),
        }
    }

    fn read(text: &str, gives: Gives, more: &[&str]) -> Result<Self, Error> {
        let source = Source {
            file: format!("the {}", gives.name()),
            text: text.to_owned(),
        };
        let wrong = |diagnostic| Error::one(diagnostic, std::slice::from_ref(&source));
        if text.trim().is_empty() {
            return Err(wrong(Diagnostic::new(
                "wrong-arguments",
                format!("there is nothing in the {}", gives.name()),
                gives.example(),
            )));
        }
        if text.len() > MOST_BYTES {
            let message = format!(
                "the {} is longer than {} KB",
                gives.name(),
                MOST_BYTES >> 10
            );
            return Err(Error::one(
                Diagnostic::new("limit-size", message, "ask for less at once"),
                &[],
            ));
        }
        let names = MEASURES.iter().map(|measure| measure.name);
        let names: Vec<&str> = names.chain(more.iter().copied()).collect();
        let tree = compile(text, &names).map_err(|error| {
            let diagnostic = match error.err_type() {
                ParseErrorType::VariableUndefined(name) => unknown(name, &names),
                _ => match single_equals(text, error.position()) {
                    Some(diagnostic) => diagnostic,
                    None => return wrong(gives.own(translator().parse_error(&error, &source))),
                },
            };
            wrong(placed(diagnostic, error.position(), &source))
        })?;
        let (used, mismatch) = look_through(&tree);
        if let Some((message, position)) = mismatch {
            let help = "compare numbers with numbers, and words with words in quotes";
            let diagnostic = Diagnostic::new("wrong-arguments", message, help);
            return Err(wrong(placed(diagnostic, position, &source)));
        }
        let used: Vec<&str> = names
            .into_iter()
            .filter(|name| used.iter().any(|it| it == name))
            .collect();
        let tree = compile(text, &used)
            .map_err(|error| wrong(gives.own(translator().parse_error(&error, &source))))?;
        let expression = Self {
            tree: Arc::new(tree),
            gives,
            names: used.into_iter().map(ToOwned::to_owned).collect(),
            source,
        };
        // What it gives is found by asking it about some band.
        let sample = Tied::of(sample());
        let more: Vec<(&str, f64)> = more.iter().map(|name| (*name, 1.0)).collect();
        let value = expression.evaluate(&sample, &more)?;
        let fits = match gives {
            Gives::Flag => value.is_bool(),
            Gives::Number => value.is_int() || value.is_float(),
        };
        match fits {
            true => Ok(expression),
            false => Err(expression.gives_wrongly(&value)),
        }
    }

    fn evaluate(&self, tied: &Tied, more: &[(&str, f64)]) -> Result<Dynamic, Error> {
        let mut scope = Scope::new();
        for name in &self.names {
            let given = more.iter().find(|(known, _)| known == name);
            let value = match given {
                Some((_, number)) => Dynamic::from(*number),
                None => tied.measure(name).map_or(Dynamic::UNIT, dynamic),
            };
            scope.push_dynamic(name.as_str(), value);
        }
        engine()
            .eval_ast_with_scope::<Dynamic>(&mut scope, &self.tree)
            .map_err(|error| {
                let sources = std::slice::from_ref(&self.source);
                let diagnostic = translator().run_error(&error, &self.source.file, sources);
                self.wrong(self.gives.own(diagnostic))
            })
    }

    fn wrong(&self, diagnostic: Diagnostic) -> Error {
        Error::one(diagnostic, std::slice::from_ref(&self.source))
    }

    fn gives_wrongly(&self, value: &Dynamic) -> Error {
        let message = format!("the {} gives {}", self.gives.name(), type_name(value));
        let diagnostic = Diagnostic::new("wrong-arguments", message, self.gives.example());
        self.wrong(placed(diagnostic, Position::new(1, 1), &self.source))
    }
}

impl Gives {
    /// What the language says of a rule, said of such an expression.
    fn own(self, diagnostic: Diagnostic) -> Diagnostic {
        let (the, one) = (format!("the {}", self.name()), format!("a {}", self.name()));
        let said = |text: &str| text.replace("the rule", &the).replace("a rule", &one);
        Diagnostic {
            code: match diagnostic.code {
                "not-a-rule" => "not-a-condition",
                code => code,
            },
            message: said(&diagnostic.message),
            help: diagnostic.help.as_deref().map(said),
            ..diagnostic
        }
    }

    const fn example(self) -> &'static str {
        match self {
            Self::Flag => {
                "a condition holds or not: width_mm < 20 && knot_symmetry == \"half turns\""
            }
            Self::Number => "a score is a number: contrast - difficulty",
        }
    }
}

/// A single = where two values are compared: it stands for storing one.
fn single_equals(text: &str, position: Position) -> Option<Diagnostic> {
    let line = text.lines().nth(position.line()?.checked_sub(1)?)?;
    let at = position.position()?.checked_sub(1)?;
    let letter = |at: usize| line.chars().nth(at);
    let alone = letter(at) == Some('=') && letter(at + 1) != Some('=');
    let before = at.checked_sub(1).and_then(letter);
    (alone && !before.is_some_and(|letter| "=<>!".contains(letter))).then(|| {
        Diagnostic::new(
            "not-a-condition",
            "a single = compares nothing",
            "compare with ==, and put words in quotes: knot_symmetry == \"half turns\"",
        )
    })
}

fn unknown(name: &str, names: &[&str]) -> Diagnostic {
    let is_word = MEASURES.iter().any(|measure| measure.words.contains(&name));
    let help = match is_word {
        true => format!("words stand in quotes: \"{name}\""),
        false => format!(
            "{}{}",
            did_you_mean(name, names.iter().copied()),
            all_names(names)
        ),
    };
    Diagnostic::new(
        "unknown-name",
        format!("there is no measure called {name}"),
        help,
    )
}

fn all_names(names: &[&str]) -> String {
    format!("the measures are {}", names.join(", "))
}

fn compile(text: &str, names: &[&str]) -> Result<AST, rhai::ParseError> {
    let mut scope = Scope::new();
    for name in names {
        scope.push_dynamic(*name, Dynamic::UNIT);
    }
    engine().compile_expression_with_scope(&scope, text)
}

fn engine() -> &'static Engine {
    static ENGINE: OnceLock<Engine> = OnceLock::new();
    ENGINE.get_or_init(|| {
        let mut engine = Engine::new_raw();
        engine.register_global_module(ArithmeticPackage::new().as_shared_module());
        engine.register_global_module(LogicPackage::new().as_shared_module());
        engine.set_strict_variables(true);
        engine.set_max_operations(MOST_STEPS);
        engine.set_max_expr_depths(64, 0);
        engine.set_max_strings_interned(0);
        engine.set_max_string_size(MOST_BYTES);
        // Powers come from functions that differ between machines.
        for symbol in ["**", "eval", "switch"] {
            engine.disable_symbol(symbol);
        }
        engine
    })
}

fn translator() -> &'static Translator {
    static TRANSLATOR: OnceLock<Translator> = OnceLock::new();
    TRANSLATOR.get_or_init(|| Translator::new(&[], Limits::default()))
}

fn dynamic(value: MeasureValue) -> Dynamic {
    match value {
        MeasureValue::Whole(whole) => whole.into(),
        MeasureValue::Number(number) => number.into(),
        MeasureValue::Flag(flag) => flag.into(),
        MeasureValue::Text(text) => text.into(),
    }
}

/// What stands on one side of a comparison.
enum Operand {
    Number,
    Flag,
    Word(String),
    /// A measure that is a word, with all that it can be.
    Words(&'static [&'static str]),
}

/// The names that an expression uses, and the first comparison that can never hold.
fn look_through(tree: &AST) -> (Vec<String>, Option<(String, Position)>) {
    let sample = Tied::of(sample());
    let operand = |side: &Expr| match side {
        Expr::IntegerConstant(..) | Expr::FloatConstant(..) => Some(Operand::Number),
        Expr::BoolConstant(..) => Some(Operand::Flag),
        Expr::StringConstant(word, _) => Some(Operand::Word(word.to_string())),
        Expr::Variable(variable, ..) => {
            let name = variable.1.as_str();
            Some(match (Measure::named(name), sample.measure(name)) {
                (Some(measure), Some(MeasureValue::Text(_))) => Operand::Words(measure.words),
                (_, Some(MeasureValue::Flag(_))) => Operand::Flag,
                _ => Operand::Number,
            })
        }
        _ => None,
    };
    let mut names: Vec<String> = Vec::new();
    let mut mismatch = None;
    tree.walk(&mut |path: &[ASTNode<'_>]| {
        match path.last() {
            Some(ASTNode::Expr(Expr::Variable(variable, ..))) => {
                names.push(variable.1.to_string());
            }
            // A comparison that is all there is stands as a statement.
            Some(
                ASTNode::Expr(Expr::FnCall(call, position))
                | ASTNode::Stmt(Stmt::FnCall(call, position)),
            ) if ["==", "!=", "<", "<=", ">", ">="].contains(&call.name.as_str()) => {
                if let [one, other] = &call.args[..]
                    && let (Some(left), Some(right)) = (operand(one), operand(other))
                    && let Some(message) = never(&left, &right)
                {
                    mismatch.get_or_insert((message, *position));
                }
            }
            _ => {}
        }
        true
    });
    (names, mismatch)
}

/// Why two sides can never be compared with any use.
fn never(left: &Operand, right: &Operand) -> Option<String> {
    use Operand::{Flag, Number, Word, Words};
    let called = |side: &Operand| match side {
        Number => "a number".to_owned(),
        Flag => "yes or no".to_owned(),
        Word(word) => format!("the word \"{word}\""),
        Words(_) => "a word".to_owned(),
    };
    match (left, right) {
        (Number, Number) | (Flag, Flag) | (Word(_), Word(_)) | (Words(_), Words(_)) => None,
        (Words(words), Word(word)) | (Word(word), Words(words)) => {
            let known = words.contains(&word.as_str());
            (!known).then(|| format!("it is never \"{word}\", but one of {}", words.join(", ")))
        }
        _ => Some(format!(
            "{} is compared with {}",
            called(left),
            called(right)
        )),
    }
}

/// Some band, to see what an expression gives.
fn sample() -> Band {
    let stripes = Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]);
    let row = Row::run(Kind::Forward, 1..4).expect("columns count from 1");
    Band::new(BandParts {
        palette: stripes,
        threads: vec![0, 0, 1, 1],
        repeat: vec![row],
        repeats: 4,
        ..BandParts::default()
    })
    .expect("a candy stripe is a band")
}
