//! The command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Design families of hand-knotted thread bracelets.
///
/// A short rule makes a band for any number of threads. Every band is proved (does it
/// close, do its colours drift in order, does it hang together), drawn, measured and
/// written out as steps to tie.
#[derive(Debug, Parser)]
#[command(name = "hitchwork", version, propagate_version = true)]
#[command(
    after_help = "Begin with:  hitchwork rules list\n             hitchwork make drift --set threads=10"
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make a band: prove it, and write its band file, pictures and steps into a folder
    Make(Make),
    /// Prove a band and report
    Check(Check),
    /// Draw one picture of a band
    Draw(Draw),
    /// Write out the steps that a follower ties from
    Sheet(Sheet),
    /// Make gradients, and match, order and choose the threads that you own
    Colours(Colours),
    /// Look at rules
    Rules(Rules),
    /// Explain the code of a finding or an error
    Explain(Explain),
    /// Write completions for your shell to standard output
    Completions(Completions),
    /// Write the manual page (in roff) to standard output
    Manual,
}

impl Command {
    /// Whether errors shall be written as data.
    pub(crate) fn wants_json(&self) -> bool {
        match self {
            Self::Make(make) => make.json,
            Self::Check(check) => check.json,
            Self::Colours(colours) => colours.command.output().json,
            Self::Rules(Rules {
                command: RulesCommand::List(list),
            }) => list.json,
            Self::Rules(Rules {
                command: RulesCommand::Show(show),
            }) => show.json,
            Self::Rules(Rules {
                command: RulesCommand::Test(test),
            }) => test.json,
            Self::Rules(Rules {
                command: RulesCommand::Reference(reference),
            }) => reference.json,
            _ => false,
        }
    }
}

/// What band is meant.
#[derive(Debug, Args)]
pub(crate) struct Subject {
    /// A built-in rule by its name, a rule file (.rhai) or a band file (.band.json)
    #[arg(value_name = "RULE")]
    pub(crate) rule: String,
    /// Set one of the rule's parameters; may be given several times
    #[arg(long = "set", value_name = "NAME=VALUE", value_parser = setting)]
    pub(crate) settings: Vec<(String, String)>,
    /// The seed of the rule's chance: the same seed makes the same band, for ever
    #[arg(long, value_name = "N")]
    pub(crate) seed: Option<u64>,
    /// Tie the repeat as often as it takes to be at least so long, without ends and ties
    #[arg(long, value_name = "CM", value_parser = centimetres)]
    pub(crate) length: Option<f64>,
    /// The palette, by its name or from your file (.toml, .csv or .gpl)
    #[arg(long, value_name = "NAME-or-FILE")]
    pub(crate) palette: Option<String>,
    /// Everything mirrored, for the other hand
    #[arg(long)]
    pub(crate) other_hand: bool,
    /// Steps that the rule may take before it is stopped
    #[arg(long, value_name = "N", hide_short_help = true)]
    pub(crate) operations: Option<u64>,
    /// Seconds that the rule may take before it is stopped
    #[arg(long, value_name = "N", hide_short_help = true)]
    pub(crate) seconds: Option<u64>,
}

#[derive(Debug, Args)]
pub(crate) struct Make {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// The folder to write into; files of the same names are replaced, others left alone
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// Write nothing either when there are warnings
    #[arg(long)]
    pub(crate) strict: bool,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Check {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Take warnings as seriously as errors
    #[arg(long)]
    pub(crate) strict: bool,
}

/// The pictures that there are.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Picture {
    /// The finished band as it lies on the table
    Fabric,
}

#[derive(Debug, Args)]
pub(crate) struct Draw {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// Which picture
    #[arg(long, value_enum, default_value_t = Picture::Fabric)]
    pub(crate) picture: Picture,
    /// The file to write, ending in .svg or .png; without it, SVG goes to standard output
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// Draw the first repeats only
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    pub(crate) repeats: Option<u32>,
    /// Hang the band from its start instead of laying it along
    #[arg(long)]
    pub(crate) upright: bool,
    /// Size of a PNG, in pixels per millimetre
    #[arg(long, value_name = "N", default_value_t = 12.0, value_parser = pixels)]
    pub(crate) pixels_per_mm: f64,
}

#[derive(Debug, Args)]
pub(crate) struct Sheet {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// The file to write; without it, the text goes to standard output
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(crate) struct Colours {
    #[command(subcommand)]
    pub(crate) command: ColoursCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ColoursCommand {
    /// Spread a palette, or colours of your own, into even steps
    Gradient(ColoursGradient),
    /// Make a gradient from the nearest threads that you own
    Match(ColoursMatch),
    /// Put threads that you own in the smoothest order
    Order(ColoursOrder),
    /// Choose the threads that make the smoothest gradient
    Choose(ColoursChoose),
    /// List the built-in palettes, or show one
    Palettes(ColoursPalettes),
}

impl ColoursCommand {
    pub(crate) fn output(&self) -> &ColoursOutput {
        match self {
            Self::Gradient(gradient) => &gradient.output,
            Self::Match(matching) => &matching.output,
            Self::Order(order) => &order.output,
            Self::Choose(choose) => &choose.output,
            Self::Palettes(palettes) => &palettes.output,
        }
    }
}

/// Where colours are shown besides the terminal.
#[derive(Debug, Args)]
pub(crate) struct ColoursOutput {
    /// Draw the colours too, into a file ending in .svg or .png
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// Where a gradient leads.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum CourseChoice {
    /// Back to its first colour, as a drift needs it
    Cyclic,
    /// From the first colour to the last
    Open,
    /// To the last colour and back the same way
    ThereAndBack,
}

/// The way from colour to colour.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum WayChoice {
    /// Straight, passing near grey between opposite hues
    Straight,
    /// Round the hues, the shorter way
    ShorterHue,
    /// Round the hues, the longer way
    LongerHue,
}

/// What gradient is meant.
#[derive(Debug, Args)]
pub(crate) struct Stops {
    /// A palette by its name or from a file (.toml, .csv or .gpl), or several colours such
    /// as "#1d6f8c"
    #[arg(value_name = "PALETTE-or-COLOUR", required = true)]
    pub(crate) stops: Vec<String>,
    /// How many colours
    #[arg(long, short = 'n', value_name = "N")]
    pub(crate) count: usize,
    /// Where it leads
    #[arg(long, value_enum, default_value_t = CourseChoice::Cyclic)]
    pub(crate) course: CourseChoice,
    /// The way from colour to colour
    #[arg(long, value_enum, default_value_t = WayChoice::Straight)]
    pub(crate) way: WayChoice,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursGradient {
    #[command(flatten)]
    pub(crate) stops: Stops,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursMatch {
    #[command(flatten)]
    pub(crate) stops: Stops,
    /// Your threads, as a table (.csv) with the columns name and colour, and perhaps code,
    /// left, tex and diameter
    #[arg(long, value_name = "FILE")]
    pub(crate) stash: String,
    /// List what to buy instead of threads that are further off than this (CIEDE2000)
    #[arg(long, value_name = "DIFFERENCE")]
    pub(crate) buy: Option<f64>,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursOrder {
    /// Your threads, as a table (.csv) with the columns name and colour
    #[arg(value_name = "STASH")]
    pub(crate) stash: String,
    /// Only this thread; give it once for each that you like
    #[arg(long, value_name = "NAME")]
    pub(crate) thread: Vec<String>,
    /// From one end to another, instead of back to the first
    #[arg(long)]
    pub(crate) open: bool,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursChoose {
    /// Your threads, as a table (.csv) with the columns name and colour
    #[arg(value_name = "STASH")]
    pub(crate) stash: String,
    /// How many threads
    #[arg(long, short = 'n', value_name = "N")]
    pub(crate) count: usize,
    /// How unlike every two of them must be (CIEDE2000); without it, so unlike that they
    /// are told apart at the size of a knot
    #[arg(long, value_name = "DIFFERENCE")]
    pub(crate) apart: Option<f64>,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursPalettes {
    /// One palette by its name or from a file (.toml, .csv or .gpl); without it, all
    /// built-in ones
    #[arg(value_name = "NAME-or-FILE")]
    pub(crate) palette: Option<String>,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct Rules {
    #[command(subcommand)]
    pub(crate) command: RulesCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum RulesCommand {
    /// List the built-in rules
    List(List),
    /// Show what a rule makes, its parameters with their ranges, and its text
    Show(Show),
    /// Begin a rule of your own: a commented one that runs, with its tests
    New(New),
    /// Run the tests that are written beside rules, and show what is not as expected
    Test(Test),
    /// Read up on the functions that rules are written with
    Reference(Reference),
}

#[derive(Debug, Args)]
pub(crate) struct List {
    /// As JSON, with every parameter, its default and its range
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Show {
    /// A built-in rule by its name, or a rule file
    #[arg(value_name = "RULE")]
    pub(crate) rule: String,
    /// Only the rule's text, for a copy of your own
    #[arg(long, conflicts_with = "json")]
    pub(crate) text: bool,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct New {
    /// What the rule shall be called; it is written to NAME.rhai, its tests to NAME.tests.toml
    #[arg(value_name = "NAME")]
    pub(crate) name: PathBuf,
}

#[derive(Debug, Args)]
pub(crate) struct Test {
    /// Rule files, folders with rules, or built-in rules by their names; without any, the
    /// folder that you are in
    #[arg(value_name = "RULE")]
    pub(crate) rules: Vec<String>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Reference {
    /// One function only, by its name
    #[arg(value_name = "FUNCTION")]
    pub(crate) function: Option<String>,
    /// Write all of it as one web page, with a picture of what every example makes
    #[arg(long, short = 'o', value_name = "FILE", conflicts_with_all = ["function", "json", "definitions"])]
    pub(crate) html: Option<PathBuf>,
    /// Write the files from which editors complete and explain functions into a folder
    #[arg(long, value_name = "FOLDER", conflicts_with_all = ["function", "json"])]
    pub(crate) definitions: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct Explain {
    /// The code, such as floating-thread; without it, all codes are listed
    #[arg(value_name = "CODE")]
    pub(crate) code: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct Completions {
    /// The shell
    #[arg(value_enum)]
    pub(crate) shell: clap_complete::Shell,
}

fn setting(text: &str) -> Result<(String, String), String> {
    match text.split_once('=') {
        Some((name, value)) if !name.trim().is_empty() => {
            Ok((name.trim().to_owned(), value.trim().to_owned()))
        }
        _ => Err("write it as NAME=VALUE, for example threads=12".to_owned()),
    }
}

fn number(text: &str, least: f64, most: f64, what: &str) -> Result<f64, String> {
    let number: f64 = text
        .trim()
        .parse()
        .map_err(|_| format!("{what} is a number, such as {least}"))?;
    if (least..=most).contains(&number) {
        Ok(number)
    } else {
        Err(format!("{what} goes from {least} to {most}"))
    }
}

fn centimetres(text: &str) -> Result<f64, String> {
    number(text, 0.5, 10_000.0, "a length in centimetres")
}

fn pixels(text: &str) -> Result<f64, String> {
    number(text, 0.5, 100.0, "a number of pixels per millimetre")
}
