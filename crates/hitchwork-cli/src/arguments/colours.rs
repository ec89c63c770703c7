//! The arguments of `colours`.

use std::path::PathBuf;

use clap::{Args, Subcommand, ValueEnum};

use super::values::{colours, difference};

#[derive(Debug, Args)]
pub(crate) struct ColoursArguments {
    #[command(subcommand)]
    pub(crate) command: ColoursCommand,
}

#[derive(Debug, Subcommand)]
pub(crate) enum ColoursCommand {
    /// Spread a palette, or colours of your own, into even steps; where as many are asked for as
    /// there are, they stay as they are
    Gradient(ColoursGradient),
    /// Make a gradient from the nearest threads you own
    Match(ColoursMatch),
    /// Put threads you own in the smoothest order
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
    /// Back to its first colour, as a drift needs
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

/// Which gradient is meant.
#[derive(Debug, Args)]
pub(crate) struct GradientStops {
    /// A palette by its name or from a file (.toml, .csv or .gpl), or several colours such
    /// as "#1d6f8c"
    #[arg(value_name = "PALETTE-or-COLOUR", required = true)]
    pub(crate) stops: Vec<String>,
    /// How many colours
    #[arg(long, short = 'n', value_name = "N", allow_negative_numbers = true, value_parser = colours)]
    pub(crate) count: usize,
    /// Where it leads
    #[arg(long, value_enum, default_value_t = CourseChoice::Cyclic)]
    pub(crate) course: CourseChoice,
    /// The way from colour to colour; default: straight
    #[arg(long, value_enum)]
    pub(crate) way: Option<WayChoice>,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursGradient {
    #[command(flatten)]
    pub(crate) stops: GradientStops,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursMatch {
    #[command(flatten)]
    pub(crate) stops: GradientStops,
    /// Your threads, as a table (.csv) with the columns name and colour, and perhaps code,
    /// left, tex and diameter
    #[arg(long, value_name = "FILE")]
    pub(crate) stash: String,
    /// List what to buy in place of threads whose colour is further off than this: about 1 is
    /// just visible, 10 is another colour (CIEDE2000)
    #[arg(long, value_name = "DIFFERENCE", allow_negative_numbers = true, value_parser = difference)]
    pub(crate) buy: Option<f64>,
    #[command(flatten)]
    pub(crate) output: ColoursOutput,
}

#[derive(Debug, Args)]
pub(crate) struct ColoursOrder {
    /// Your threads, as a table (.csv) with the columns name and colour
    #[arg(value_name = "STASH")]
    pub(crate) stash: String,
    /// Use only this thread; may be given several times
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
    #[arg(long, short = 'n', value_name = "N", allow_negative_numbers = true, value_parser = colours)]
    pub(crate) count: usize,
    /// How different any two of them must be: about 1 is just visible, 10 is another colour
    /// (CIEDE2000); without it, different enough to be told apart at the size of a knot
    #[arg(long, value_name = "DIFFERENCE", allow_negative_numbers = true, value_parser = difference)]
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
