//! The command line.

mod colours;
mod rules;
mod values;

use std::ffi::OsString;
use std::ops::RangeInclusive;
use std::path::PathBuf;
use std::sync::LazyLock;

use clap::builder::PossibleValue;
use clap::{Args, Parser, Subcommand, ValueEnum};
use hitchwork_core::band::Part;
use hitchwork_core::compare::Limit;
use hitchwork_core::craft::{Gauge, Habits, Pace, SkeinSize, Swatch, Yarn};
use hitchwork_core::proof::Frieze;
use hitchwork_core::text::visible;
use hitchwork_draw::fabric::Aspect;
use hitchwork_draw::output::Output;
use hitchwork_draw::pdf::Paper;

pub(crate) use self::colours::{
    ColoursArguments, ColoursChoose, ColoursCommand, ColoursGradient, ColoursMatch, ColoursOrder,
    ColoursOutput, ColoursPalettes, CourseChoice, GradientStops, WayChoice,
};
pub(crate) use self::rules::{
    RulesArguments, RulesCommand, RulesNew, RulesReference, RulesShow, RulesTest,
};
pub(crate) use self::values::{AsTyped, ColourCounts, Over, WristAsked};
use self::values::{
    about_wrists, at_least, at_most, bands, centimetres, changes, colour_counts, free_rows, frieze,
    half_rows, knots_seen, limit, margin, over, pace, part, part_of_band, people, picture_colours,
    picture_columns, pixels, port, price, repeats, rows, rows_a_page, said, scale, seed, seeds,
    setting, skein, swatch, thread, threads, workers, wrist,
};
use crate::trouble::Trouble;

/// Design families of hand-knotted thread bracelets.
///
/// A short rule makes a band for any number of threads. Every band is proved (does every
/// thread come back to its place, do the colours drift in order, does it hold together),
/// drawn, measured and written out as steps to tie.
#[derive(Debug, Parser)]
#[command(name = "hitchwork", version, propagate_version = true)]
#[command(
    after_help = "Start with:  hitchwork rules list\n             hitchwork make drift --set threads=10"
)]
pub(crate) struct Arguments {
    #[command(subcommand)]
    pub(crate) command: Command,
}

/// Checks that every argument is text that can be typed: the parser repeats what it refuses
/// on the terminal, which would obey it.
pub(crate) fn typed(arguments: impl Iterator<Item = OsString>) -> Result<(), Trouble> {
    for (at, argument) in arguments.enumerate() {
        let words = argument.to_string_lossy();
        if words != visible(&words) {
            return Err(Trouble::new(
                format!("argument {at} holds characters that would steer the terminal: {words}"),
                "type it again without them; if a file has such a name, rename it",
            ));
        }
    }
    Ok(())
}

#[derive(Debug, Subcommand)]
pub(crate) enum Command {
    /// Make a band: prove it, and write its band file, pictures and steps into a folder
    Make(MakeArguments),
    /// Find the knots that show a picture, and write the band as make does
    Paint(PaintArguments),
    /// Prove a band and report on it
    Check(CheckArguments),
    /// Draw one picture of a band
    Draw(DrawArguments),
    /// Write out the sheet that a maker ties from
    Sheet(SheetArguments),
    /// Find out what went wrong at the table, from the colours that you see
    Mend(MendArguments),
    /// Compare a rule's bands over a range of settings: size, thread, time and difficulty
    Compare(CompareArguments),
    /// Search many bands of a rule for the ones that meet your conditions
    #[command(mut_arg("rule", |rule| rule.required(false).default_value("").hide_default_value(true)))]
    Explore(ExploreArguments),
    /// Make every band of a plan into one folder, with a gallery
    Collect(CollectArguments),
    /// Make gradients; match, order and choose from the threads you own
    Colours(ColoursArguments),
    /// Show a rule's band on a page beside your editor, as you change it
    Watch(WatchArguments),
    /// List, show, start and test rules
    Rules(RulesArguments),
    /// Explain the code of a finding or an error
    Explain(ExplainArguments),
    /// Write completions for your shell to standard output
    Completions(CompletionsArguments),
    /// Write the manual page (in roff) to standard output
    Manual,
}

impl Command {
    /// Whether errors are to be written as data.
    pub(crate) fn wants_json(&self) -> bool {
        match self {
            Self::Make(make) => make.json,
            Self::Paint(paint) => paint.json,
            Self::Check(check) => check.json,
            Self::Mend(mend) => mend.json,
            Self::Compare(compare) => compare.json,
            Self::Explore(explore) => explore.json,
            Self::Collect(collect) => collect.json,
            Self::Colours(colours) => colours.command.output().json,
            Self::Rules(RulesArguments {
                command: RulesCommand::List(list),
            }) => list.json,
            Self::Rules(RulesArguments {
                command: RulesCommand::Show(show),
            }) => show.json,
            Self::Rules(RulesArguments {
                command: RulesCommand::Test(test),
            }) => test.json,
            Self::Rules(RulesArguments {
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
    /// Choose one of the rule's settings; may be given several times
    #[arg(long = "set", value_name = "NAME=VALUE", value_parser = setting)]
    pub(crate) settings: Vec<(String, String)>,
    /// The seed for what the rule leaves to chance: the same seed always makes the same band
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = seed)]
    pub(crate) seed: Option<u64>,
    /// Tie enough repeats to make it at least this long, not counting ends and ties: in
    /// centimetres, or with its unit (150mm, 6in)
    #[arg(long, value_name = "CM", allow_negative_numbers = true, value_parser = centimetres)]
    pub(crate) length: Option<f64>,
    #[arg(long, value_name = "CM", help = about_wrists(), conflicts_with = "length", allow_negative_numbers = true, value_parser = wrist)]
    pub(crate) wrist: Option<WristAsked>,
    /// The thread: floss, perle, polyester or waxed, or a number with its unit (0.6mm,
    /// 250tex, 2250den, 4nm, 2.4ne)
    #[arg(long, value_name = "THREAD", value_parser = |text: &str| said(text, thread))]
    pub(crate) thread: Option<AsTyped<Yarn>>,
    /// Your own swatch, as columns:mm,halfrows:mm, such as 11:12.5,40:42; add ,300:2700 if 300
    /// knots took 2700 mm of thread
    ///
    /// There is a column between every two neighbouring threads (12 threads have 11): measure
    /// the whole width, from edge to edge. A half row is half the height of a knot, so 20 knots
    /// one above the other make 40: measure along one column. `check` counts both for you.
    #[arg(long, value_name = "SWATCH", value_parser = |text: &str| said(text, swatch))]
    pub(crate) swatch: Option<AsTyped<Swatch>>,
    /// The palette: its name, or a file of yours (.toml, .csv or .gpl)
    #[arg(long, value_name = "NAME-or-FILE")]
    pub(crate) palette: Option<String>,
    /// Make the mirror image of the band, which a left-handed maker may find easier to tie
    #[arg(long)]
    pub(crate) mirrored: bool,
    /// How many steps the rule may take before it is stopped, from 1
    #[arg(long, value_name = "N", hide_short_help = true, value_parser = |text: &str| limit(text, "steps"))]
    pub(crate) operations: Option<u64>,
    /// How many seconds the rule may take before it is stopped, from 1
    #[arg(long, value_name = "N", hide_short_help = true, value_parser = |text: &str| limit(text, "seconds"))]
    pub(crate) seconds: Option<u64>,
}

/// In which order the knots are tied.
#[derive(Clone, Copy, Debug, Args)]
pub(crate) struct OwnOrder {
    /// Keep the rows as the rule writes them
    ///
    /// Without it, steps and sheets follow the order in which the working thread changes least
    /// often; knots, colours and size are the same. Where the rule's own order is as easy, or
    /// each of its rows is one line, it stays in any case.
    #[arg(long)]
    pub(crate) as_written: bool,
    /// How far ahead you work at one side of the band, in half rows; without it, as many as the
    /// band has columns
    #[arg(long, value_name = "N", hide_short_help = true, allow_negative_numbers = true, value_parser = half_rows)]
    pub(crate) half_rows_ahead: Option<u32>,
}

impl OwnOrder {
    /// These habits in this order.
    pub(crate) fn habits(self, habits: Habits) -> Habits {
        Habits {
            as_written: self.as_written,
            half_rows_ahead: self.half_rows_ahead,
            ..habits
        }
    }
}

/// How fast it is tied, and in which order.
#[derive(Clone, Copy, Debug, Args)]
pub(crate) struct OwnPace {
    /// How fast you tie: beginner (the default), practised or quick; your own seconds per knot;
    /// or a timed row as knots:seconds, such as 18:210
    ///
    /// By common practice (there is no published source) a beginner takes 12 seconds for a
    /// knot, somebody practised 8, and quick hands 5, and that includes finding the threads.
    /// Better still, time a row of your own. Cutting, laying out and ties take the same at any
    /// pace.
    #[arg(long, value_name = "PACE", allow_negative_numbers = true, value_parser = pace)]
    pub(crate) pace: Option<Pace>,
    #[command(flatten)]
    pub(crate) order: OwnOrder,
}

impl OwnPace {
    /// The usual habits at this pace, in this order.
    pub(crate) fn habits(self) -> Habits {
        self.order.habits(Habits {
            pace: self.pace.unwrap_or_default(),
            ..Habits::default()
        })
    }
}

/// Who ties it, and for how many.
#[derive(Debug, Args)]
pub(crate) struct MakingArguments {
    #[command(flatten)]
    pub(crate) pace: OwnPace,
    /// Say what to buy for this many people
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = people)]
    pub(crate) people: Option<u32>,
    /// Metres of thread on a skein or spool
    #[arg(long, value_name = "M", default_value_t = 8.0, requires = "people", allow_negative_numbers = true, value_parser = skein)]
    pub(crate) skein: f64,
    /// What a skein or spool costs
    #[arg(long, value_name = "MONEY", requires = "people", allow_negative_numbers = true, value_parser = price)]
    pub(crate) price: Option<f64>,
    /// The threads you own (.csv with name, colour and left, in metres): says for each colour
    /// whether you have it and enough of it, or which of yours comes nearest
    #[arg(long, value_name = "FILE")]
    pub(crate) stash: Option<String>,
}

impl MakingArguments {
    /// The maker's habits.
    pub(crate) fn habits(&self) -> Habits {
        self.pace.habits()
    }

    /// How thread is sold.
    pub(crate) fn skein_size(&self) -> SkeinSize {
        SkeinSize {
            length_mm: self.skein * 1000.0,
            price: self.price,
        }
    }
}

impl Subject {
    /// How long the knotted part is to be, if anybody has said.
    pub(crate) fn length_mm(&self) -> Option<f64> {
        self.length
            .map(|centimetres| centimetres * 10.0)
            .or(self.wrist.map(|wrist| wrist.knotted_mm))
    }

    /// The wrist that it is made for, in millimetres round, if anybody has said.
    pub(crate) fn wrist_mm(&self) -> Option<f64> {
        self.wrist.map(|wrist| wrist.round_mm)
    }

    /// The gauge that the maker's thread or swatch asks for.
    pub(crate) fn gauge(&self) -> Result<Option<(Gauge, Option<String>)>, hitchwork_core::Error> {
        let thread_mm = self.thread.as_ref().map(|yarn| yarn.value.diameter_mm());
        if let Some(swatch) = &self.swatch {
            let fit = swatch.value.fit(thread_mm)?;
            return Ok(Some((fit.gauge, Some(fit.words()))));
        }
        let gauge = thread_mm.map(Gauge::from_diameter).transpose()?;
        Ok(gauge.map(|gauge| (gauge, None)))
    }
}

/// What is written of a band, and where.
#[derive(Debug, Args)]
pub(crate) struct WrittenArguments {
    /// The folder to write into; without it, out/ and the rule's name. What hitchwork made there
    /// is replaced, everything else stays
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// What to write beside the band file
    #[arg(
        long,
        value_name = "LIST",
        value_enum,
        value_delimiter = ',',
        default_values = Output::usual_of_one().map(Output::name)
    )]
    pub(crate) with: Vec<ToWrite>,
    /// The paper of a PDF
    #[arg(long, value_enum, default_value_t = PaperChoice::A4)]
    pub(crate) paper: PaperChoice,
}

#[derive(Debug, Args)]
pub(crate) struct MakeArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    #[command(flatten)]
    pub(crate) making: MakingArguments,
    #[command(flatten)]
    pub(crate) written: WrittenArguments,
    /// Treat warnings as errors: write nothing if there are any
    #[arg(long)]
    pub(crate) strict: bool,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// The ways to tie a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaintWay {
    /// Motif and ground, every cell: one thread leads from edge to edge, and the others hang
    Leader,
    /// Two colours, exactly: they hang by turns, and every knot turns back
    Pairs,
    /// Any picture: the knots and the hanging order are found that miss the fewest of its colours
    Solved,
}

#[derive(Debug, Args)]
#[command(
    after_help = "A picture is a PNG, PBM, PGM or PPM file, of which each pixel is a cell, or a text in one of two forms.\n\n\
    A text of # and dots shows a motif on a ground, a character a cell:\n\n  \
    ..#..\n  .###.\n  #####\n\n\
    A text of letters says what each knot shows: a line a row, a character a column. The odd rows have\n\
    the odd columns, the even rows the even ones; what stands between them is passed over. A letter is a\n\
    colour; ?, a dot and a space are any colour.\n\n  \
    a a b b a\n   a b b a\n  a b ? b a\n   b b b b\n\n\
    Without --way, motif and ground are tied over a leader, which shows every cell, as is all else\n\
    that can be. For other pictures the knots are found; where some miss and the picture has two\n\
    colours, it is tied in pairs. Beside the band comes a rule that makes it, to be changed by hand.\n\n\
    Examples:\n  \
    hitchwork paint sail.txt\n  \
    hitchwork paint word.txt --along --margin 2\n  \
    hitchwork paint sail.txt --counts a=5,b=5 --closed --palette 'red sails' --out sail\n  \
    hitchwork paint sail.txt --way pairs --with fabric,text\n  \
    hitchwork paint harbour.png --columns 20 --colours 3 --stash demo/evening-class/class.csv"
)]
pub(crate) struct PaintArguments {
    /// The picture: a PNG, PBM, PGM or PPM file, or a text
    #[arg(value_name = "PICTURE")]
    pub(crate) picture: PathBuf,
    /// How it is tied; without it, so that most of it shows
    #[arg(long, value_enum, value_name = "WAY")]
    pub(crate) way: Option<PaintWay>,
    /// Shrink a picture of pixels to this many columns
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = picture_columns)]
    pub(crate) columns: Option<u16>,
    /// Bring a picture of pixels down to this many colours
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = picture_colours)]
    pub(crate) colours: Option<usize>,
    /// Turn the picture by a quarter, so that it runs along the band; without it, its top row is
    /// tied first, and it stands upright as the band hangs
    #[arg(long)]
    pub(crate) along: bool,
    /// Leave this many rows and columns of the ground around the picture
    #[arg(long, value_name = "N", default_value_t = 0, allow_negative_numbers = true, value_parser = margin)]
    pub(crate) margin: usize,
    /// How many threads of each colour hang, such as a=6,b=6; without it, what shows most is
    /// looked for
    #[arg(long, value_name = "LIST", value_parser = colour_counts)]
    pub(crate) counts: Option<ColourCounts>,
    /// How many threads hang; default: one more than the picture has columns, or as many as --counts
    /// counts if these are more
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = threads)]
    pub(crate) threads: Option<u16>,
    /// Tie the picture once: its colours may end in any order
    #[arg(long, conflicts_with_all = ["closed", "length", "wrist"])]
    pub(crate) open: bool,
    /// Tie the picture again and again: its colours end in the order in which they began (the
    /// default)
    #[arg(long)]
    pub(crate) closed: bool,
    /// Tie this many rows after the picture that may show anything, in which the colours come
    /// back into their order
    #[arg(long, value_name = "N", default_value_t = 0, allow_negative_numbers = true, value_parser = free_rows)]
    pub(crate) free_rows: usize,
    /// The colour of the ground: over a leader one of the picture's own, which then lies behind the
    /// others (without it, the one that fills most); and where the picture shows nothing, any: the
    /// name of one of the palette, or a value such as "#1d6f8c"
    #[arg(long, value_name = "COLOUR")]
    pub(crate) ground: Option<String>,
    /// The palette of the colours: its name, or a file of yours (.toml, .csv or .gpl). The
    /// letters of a text become colours as unlike each other as can be (without it: regatta), and
    /// the colours of pixels those that come nearest. Without it, --stash gives the colours
    #[arg(long, value_name = "NAME-or-FILE")]
    pub(crate) palette: Option<String>,
    /// Tie enough repeats to make it at least this long, not counting ends and ties: in
    /// centimetres, or with its unit (150mm, 6in)
    #[arg(long, value_name = "CM", allow_negative_numbers = true, value_parser = centimetres)]
    pub(crate) length: Option<f64>,
    #[arg(long, value_name = "CM", help = about_wrists(), conflicts_with = "length", allow_negative_numbers = true, value_parser = wrist)]
    pub(crate) wrist: Option<WristAsked>,
    #[command(flatten)]
    pub(crate) making: MakingArguments,
    #[command(flatten)]
    pub(crate) written: WrittenArguments,
    /// Treat warnings as errors: write nothing if there are any
    #[arg(long)]
    pub(crate) strict: bool,
    /// Report as JSON: the way, the knots, how many miss, the fewest that can, and which do
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct CheckArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    #[command(flatten)]
    pub(crate) making: MakingArguments,
    /// Say which knots keep it from having this symmetry: glide, "mirror along", "mirror
    /// across", "half turns", "mirror across and glide" or "mirror along and across"
    #[arg(long, value_name = "SYMMETRY", value_parser = frieze)]
    pub(crate) want_symmetry: Option<Frieze>,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Treat warnings as errors
    #[arg(long)]
    pub(crate) strict: bool,
}

/// What a maker sees whose band has gone wrong.
#[derive(Debug, Args)]
pub(crate) struct MendArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    #[command(flatten)]
    pub(crate) order: OwnOrder,
    /// The repeat that you are in; the first if you do not say
    #[arg(long, value_name = "N", value_parser = from_one)]
    pub(crate) repeat: Option<u32>,
    /// The last row that you have tied, as the sheet numbers it
    #[arg(long, value_name = "N", value_parser = from_one)]
    pub(crate) row: u32,
    /// The last knot that you have tied of that row, in the order of the sheet, if you are in the
    /// midst of it
    #[arg(long, value_name = "N", value_parser = from_one)]
    pub(crate) knot: Option<u32>,
    /// Where that row stands in the sheet: lead-in, repeat or lead-out
    #[arg(long = "in", value_name = "PART", default_value = "repeat", value_parser = part_of_band)]
    pub(crate) part: Part,
    /// The colours that hang now, from the left, by their names in the sheet; ? for one that you
    /// do not know: "coral, ?, sand". The number of a thread stands for its colour
    #[arg(long, value_name = "COLOURS")]
    pub(crate) hangs: Option<String>,
    /// The colours of the knots between a position and the next, from the last knot up, as many
    /// as you like: 4="coral, ?, sand"; may be given several times
    #[arg(long, value_name = "POSITION=COLOURS", value_parser = knots_seen)]
    pub(crate) knots: Vec<(u16, String)>,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

/// A number that counts from 1.
fn from_one(text: &str) -> Result<u32, String> {
    match text.trim().parse() {
        Ok(0) => Err("it counts from 1, as on the sheet".to_owned()),
        Ok(number) => Ok(number),
        Err(_) => Err("give a whole number, as the sheet has it".to_owned()),
    }
}

/// One of the pictures that `draw` makes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct PictureToDraw(pub(crate) Output);

impl ValueEnum for PictureToDraw {
    fn value_variants<'a>() -> &'a [Self] {
        static ALL: LazyLock<Vec<PictureToDraw>> = LazyLock::new(|| {
            let pictures = Output::all().filter(|output| output.is_picture());
            pictures.map(PictureToDraw).collect()
        });
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.0.name()).help(self.0.meaning()))
    }
}

/// What `make` can write beside the band file.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct ToWrite(pub(crate) Output);

impl ValueEnum for ToWrite {
    fn value_variants<'a>() -> &'a [Self] {
        static ALL: LazyLock<Vec<ToWrite>> = LazyLock::new(|| Output::all().map(ToWrite).collect());
        &ALL
    }

    fn to_possible_value(&self) -> Option<PossibleValue> {
        Some(PossibleValue::new(self.0.name()).help(self.0.meaning()))
    }
}

/// Whose symmetry is marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SymmetryOf {
    /// That of the knots, whatever their colours
    Knots,
    /// That of the colours that show
    Colours,
}

impl From<SymmetryOf> for Aspect {
    fn from(of: SymmetryOf) -> Self {
        match of {
            SymmetryOf::Knots => Self::Knots,
            SymmetryOf::Colours => Self::Colours,
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct DrawArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// Which picture
    #[arg(long, value_enum, default_value = "fabric")]
    pub(crate) picture: PictureToDraw,
    /// The file to write, ending in .svg or .png; several pages become NAME-1.svg
    /// and so on; without it, SVG goes to standard output
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    #[command(flatten)]
    pub(crate) order: OwnOrder,
    /// Draw only this many repeats (fabric)
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = repeats)]
    pub(crate) repeats: Option<u32>,
    /// Hang the band from its start instead of laying it along (fabric, tile)
    #[arg(long)]
    pub(crate) upright: bool,
    /// Leave out the table and the shadow on it (fabric)
    #[arg(long)]
    pub(crate) no_table: bool,
    /// Draw a band that bends by itself pinned straight (fabric)
    #[arg(long)]
    pub(crate) straight: bool,
    /// Mark the mirrors, glides and centres of its symmetry (fabric)
    #[arg(long, value_enum, value_name = "OF")]
    pub(crate) symmetry: Option<SymmetryOf>,
    /// Size in pixels per millimetre of the band; default: 12 (fabric, tile)
    #[arg(long, value_name = "N", value_parser = pixels)]
    pub(crate) pixels_per_mm: Option<f64>,
    /// Chart this repeat instead of the first (strands, knots)
    #[arg(long, value_name = "N", conflicts_with = "all_rows", allow_negative_numbers = true, value_parser = repeats)]
    pub(crate) of_repeat: Option<u32>,
    /// Chart every row that is tied (strands, knots)
    #[arg(long)]
    pub(crate) all_rows: bool,
    /// At most this many rows on a page (strands)
    #[arg(long, value_name = "N", value_parser = rows_a_page)]
    pub(crate) rows_a_page: Option<usize>,
    /// Lay the band on its side, its start at the left, to read its rows from left to right (knots)
    #[arg(long)]
    pub(crate) sideways: bool,
    /// How many times its own size a chart is painted as PNG; default: 2
    #[arg(long, value_name = "N", value_parser = scale)]
    pub(crate) scale: Option<f64>,
}

#[derive(Debug, Args)]
pub(crate) struct SheetArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    #[command(flatten)]
    pub(crate) making: MakingArguments,
    /// The file to write, ending in .html, .pdf or .txt; without it, the sheet goes to
    /// standard output
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
    /// What kind of sheet; without it, the file's name decides; default: text
    #[arg(long, value_enum, value_name = "KIND")]
    pub(crate) format: Option<SheetFormat>,
    /// The paper of a PDF
    #[arg(long, value_enum, default_value_t = PaperChoice::A4)]
    pub(crate) paper: PaperChoice,
}

/// The kinds of sheet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum SheetFormat {
    /// One page for a phone or a computer, which keeps your place
    Html,
    /// Pages to print
    Pdf,
    /// Plain text
    Text,
}

/// The paper that a PDF is made for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum PaperChoice {
    /// 210 by 297 mm
    A4,
    /// 8.5 by 11 inches
    Letter,
}

impl From<PaperChoice> for Paper {
    fn from(choice: PaperChoice) -> Self {
        match choice {
            PaperChoice::A4 => Self::A4,
            PaperChoice::Letter => Self::Letter,
        }
    }
}

#[derive(Debug, Args)]
pub(crate) struct CompareArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// The setting to vary: NAME=FIRST..LAST, both included (only in a rule does a range leave
    /// out its last), NAME=FIRST..LAST:STEP or NAME=A,B,C; give it twice for every combination
    /// of two
    #[arg(long, value_name = "NAME=RANGE", required = true, value_parser = over)]
    pub(crate) over: Vec<Over>,
    /// Mark bands with at most this much, such as minutes=180; may be given several times
    #[arg(long, value_name = "MEASURE=N", value_parser = at_most)]
    pub(crate) at_most: Vec<Limit>,
    /// Mark bands with at least this much, such as width_mm=10; may be given several times
    #[arg(long, value_name = "MEASURE=N", value_parser = at_least)]
    pub(crate) at_least: Vec<Limit>,
    #[command(flatten)]
    pub(crate) pace: OwnPace,
    /// As comma-separated values
    #[arg(long, conflicts_with = "json")]
    pub(crate) csv: bool,
    /// As JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// Draw a plot of it too, into a file ending in .svg or .png
    #[arg(long, short, value_name = "FILE")]
    pub(crate) out: Option<PathBuf>,
}

/// What says which bands are searched and kept: counting makes no bands.
const OF_A_SEARCH: [&str; 18] = [
    "rule",
    "settings",
    "seed",
    "length",
    "wrist",
    "thread",
    "swatch",
    "palette",
    "mirrored",
    "operations",
    "seconds",
    "count",
    "pace",
    "seeds",
    "conditions",
    "best_by",
    "even_unsound",
    "out",
];

#[derive(Debug, Args)]
#[command(
    after_help = "Conditions and scores are written over measures: explore --measures lists them.\n\
    Examples:\n  \
    hitchwork explore flotsam --where 'repeats_to_close <= 6' --where 'novelty > 0.1' --count 24\n  \
    hitchwork explore flotsam --set symmetry=glide --seeds 1..2000 --best-by 'contrast - regions / 10'\n  \
    hitchwork explore --near out/drift/drift.band.json --where drifts\n  \
    hitchwork explore --count-all --threads 4 --rows 4"
)]
pub(crate) struct ExploreArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// How many bands to keep
    #[arg(long, value_name = "N", default_value_t = 12, allow_negative_numbers = true, value_parser = bands)]
    pub(crate) count: usize,
    #[command(flatten)]
    pub(crate) pace: OwnPace,
    /// The seeds to try, both included
    #[arg(long, value_name = "FIRST..LAST", default_value = "1..1000", value_parser = seeds)]
    pub(crate) seeds: RangeInclusive<u64>,
    /// A condition that a band must meet, such as 'width_mm < 20'; may be given several
    /// times, and conditions are checked in that order
    #[arg(long = "where", value_name = "CONDITION")]
    pub(crate) conditions: Vec<String>,
    /// Try all seeds and keep those with the highest score, such as 'contrast - difficulty'
    #[arg(long, value_name = "SCORE")]
    pub(crate) best_by: Option<String>,
    /// Keep unsound bands too: those with errors among their findings
    #[arg(long)]
    pub(crate) even_unsound: bool,
    /// Count these as different designs; without it, a band that is mirrored, turned, begun at
    /// another row or tied in other colours counts as the same design
    #[arg(long, value_enum, value_name = "LIST", value_delimiter = ',')]
    pub(crate) tell_apart: Vec<TellApart>,
    /// Try small changes of this band instead of a rule's bands
    #[arg(long, value_name = "BAND", conflicts_with = "count_all")]
    pub(crate) near: Option<String>,
    /// How many knots may be changed at most
    #[arg(long, value_name = "N", default_value_t = 2, requires = "near", allow_negative_numbers = true, value_parser = changes)]
    pub(crate) changes: u32,
    /// Count every full fabric of --threads and --rows instead of searching
    #[arg(long, requires = "threads", requires = "rows", conflicts_with_all = OF_A_SEARCH)]
    pub(crate) count_all: bool,
    /// Threads of the fabrics to count
    #[arg(long, value_name = "N", requires = "count_all", allow_negative_numbers = true, value_parser = threads)]
    pub(crate) threads: Option<u16>,
    /// Rows of the fabrics to count
    #[arg(long, value_name = "N", requires = "count_all", allow_negative_numbers = true, value_parser = rows)]
    pub(crate) rows: Option<usize>,
    /// Kinds of knots in the fabrics to count; default: all four
    #[arg(
        long,
        value_enum,
        value_name = "LIST",
        value_delimiter = ',',
        requires = "count_all"
    )]
    pub(crate) kinds: Vec<KindChoice>,
    /// List the measures that conditions and scores are written over
    #[arg(long)]
    pub(crate) measures: bool,
    /// The folder to write the band files and the contact sheet into
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// How many processor cores work on it; default: all
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = workers)]
    pub(crate) workers: Option<u16>,
    /// Show no progress bar
    #[arg(long)]
    pub(crate) quiet: bool,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
#[command(after_help = "Examples:\n  \
    hitchwork collect demo/evening-class/plan.toml --dry-run\n  \
    hitchwork collect demo/evening-class/plan.toml --out class\n  \
    hitchwork collect class --verify\n  \
    hitchwork collect class --class shopping.html --choose drift-8-quayside,waves-6 --people 12")]
pub(crate) struct CollectArguments {
    /// A plan (.toml); with --verify and --class, the folder of a collection will do
    #[arg(value_name = "PLAN")]
    pub(crate) plan: PathBuf,
    /// The folder of the collection; without it, out/ and the name of the plan
    ///
    /// A file in it that you have changed stays, and every run says so. Rename or delete it,
    /// and it is made again.
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
    /// List the members, and estimate time and disk; make nothing
    #[arg(long, conflicts_with_all = ["check", "verify", "merge", "class"])]
    pub(crate) dry_run: bool,
    /// Prove every member; write nothing
    #[arg(long, conflicts_with_all = ["verify", "merge", "class"])]
    pub(crate) check: bool,
    /// Check that every file of the manifest is in the folder and unchanged; given the plan,
    /// also that every band is what the plan would make today
    #[arg(long, conflicts_with_all = ["merge", "class", "part"])]
    pub(crate) verify: bool,
    /// Make one share of several, such as 2/5, on this machine
    #[arg(long, value_name = "I/N", value_parser = part)]
    pub(crate) part: Option<hitchwork_collection::folder::Share>,
    /// Join the shares in these folders
    #[arg(long, value_name = "FOLDER", num_args = 1.., conflicts_with_all = ["part", "class"])]
    pub(crate) merge: Vec<PathBuf>,
    /// Stop at the first member that cannot be made
    #[arg(long)]
    pub(crate) stop_at_first_failure: bool,
    /// Move files that are no longer in the plan into this folder, outside the collection;
    /// those that you have changed stay
    #[arg(long, value_name = "FOLDER", conflicts_with = "part")]
    pub(crate) move_out: Option<PathBuf>,
    /// Write what a class has to buy and cut, into a file ending in .txt, .csv or .html
    #[arg(long, value_name = "FILE")]
    pub(crate) class: Option<PathBuf>,
    /// The members that the class makes, by name; default: all of them
    #[arg(long, value_name = "LIST", value_delimiter = ',', requires = "class")]
    pub(crate) choose: Vec<String>,
    /// How many people make each of them
    #[arg(long, value_name = "N", default_value_t = 1, requires = "class", allow_negative_numbers = true, value_parser = people)]
    pub(crate) people: u32,
    /// Metres of thread on a skein or spool
    #[arg(long, value_name = "M", default_value_t = 8.0, requires = "class", allow_negative_numbers = true, value_parser = skein)]
    pub(crate) skein: f64,
    /// What a skein or spool costs
    #[arg(long, value_name = "MONEY", requires = "class", allow_negative_numbers = true, value_parser = price)]
    pub(crate) price: Option<f64>,
    /// How many processor cores work on it; default: all
    #[arg(long, value_name = "N", allow_negative_numbers = true, value_parser = workers)]
    pub(crate) workers: Option<u16>,
    /// Show no progress bar
    #[arg(long)]
    pub(crate) quiet: bool,
    /// Report as JSON
    #[arg(long)]
    pub(crate) json: bool,
}

#[derive(Debug, Args)]
pub(crate) struct WatchArguments {
    #[command(flatten)]
    pub(crate) subject: Subject,
    /// How fast you tie: beginner (the default), practised or quick; your own seconds per knot;
    /// or a timed row as knots:seconds, such as 18:210
    #[arg(long, value_name = "PACE", allow_negative_numbers = true, value_parser = |text: &str| said(text, pace))]
    pub(crate) pace: Option<AsTyped<Pace>>,
    #[command(flatten)]
    pub(crate) order: OwnOrder,
    /// The port on this computer; without it, the same one each time for the same rule, or
    /// another if that is taken
    #[arg(long, value_name = "P", allow_negative_numbers = true, value_parser = port)]
    pub(crate) port: Option<u16>,
    /// Open the page in the browser
    #[arg(long)]
    pub(crate) open: bool,
    /// The folder that the page saves into
    #[arg(long, short, value_name = "FOLDER")]
    pub(crate) out: Option<PathBuf>,
}

/// What can make designs different.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum TellApart {
    /// A band and its mirror image
    Mirrored,
    /// A band and the same band read from its finish
    UpsideDown,
    /// A band and the same band after half a turn
    HalfTurned,
    /// Bands that differ only in their colours
    Colours,
}

/// The kinds of knots.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum KindChoice {
    /// The left thread works and goes to the right
    Forward,
    /// The right thread works and goes to the left
    Backward,
    /// The left thread works and turns
    ForwardBackward,
    /// The right thread works and turns
    BackwardForward,
}

#[derive(Debug, Args)]
pub(crate) struct ExplainArguments {
    /// The code, such as floating-thread; without it, all codes are listed
    #[arg(value_name = "CODE")]
    pub(crate) code: Option<String>,
}

#[derive(Debug, Args)]
pub(crate) struct CompletionsArguments {
    /// The shell
    #[arg(value_enum)]
    pub(crate) shell: clap_complete::Shell,
}
