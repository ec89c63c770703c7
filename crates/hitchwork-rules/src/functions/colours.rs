//! Colours, palettes and gradients.

use hitchwork_core::band::{MAX_COLOURS, MAX_NAME_LETTERS, MAX_THREADS, check_letters};
use hitchwork_core::colour::{
    self, Colour, Course, Gradient, Owned, Palette, Srgb, Way, contrasting_colours,
    cyclic_gradient, match_threads, smoothest_order,
};
use hitchwork_core::near::did_you_mean_quoted;
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::given::{whole_numbers, wrong_arguments};
use crate::kinds::type_name;
use crate::run::RunHandle;
use crate::spread::remembered;
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Colour>("colour");
    combine_with_exported_module!(module, "colours", colours);
}

/// What it takes to look for a palette, in units of work.
const LOOK_UP_UNITS: usize = 8_000;

fn named(context: &NativeCallContext, name: &str) -> ScriptResult<Palette> {
    let run = RunHandle::of(context);
    run.spend(LOOK_UP_UNITS)?;
    let palettes = run.state().palettes();
    if let Some(palette) = palettes.iter().find(|palette| palette.name == name) {
        return Ok(palette.clone());
    }
    let names: Vec<&str> = palettes
        .iter()
        .map(|palette| palette.name.as_str())
        .collect();
    let meant = did_you_mean_quoted(name, names.iter().copied());
    let shown: String = name.chars().take(60).collect();
    Err(wrong_value(
        format!("there is no palette called \"{shown}\""),
        format!("{meant}there are: {}", names.join(", ")),
    ))
}

/// The colours in a list, or those of the palette of that name.
fn stops(context: &NativeCallContext, stops: &Dynamic, what: &str) -> ScriptResult<Palette> {
    if let Some(list) = stops.read_lock::<Array>() {
        return Ok(nameless(colours_in(&list, what)?));
    }
    match stops.clone().into_immutable_string() {
        Ok(name) => named(context, &name),
        Err(_) => Err(wrong_arguments(
            format!("{what} cannot be {}", type_name(stops)),
            "give a palette's name or a list of colours".to_owned(),
        )),
    }
}

type Spread = fn(&Palette, usize) -> Result<Vec<Colour>, hitchwork_core::Error>;

/// What it takes to come past a stop of a gradient, or to find and name one of its colours, in
/// units of work.
const SPREAD_UNITS: usize = 200;

/// How many colours a gradient has, counted as work together with its stops before it is made.
fn count_of_colours(context: &NativeCallContext, stops: usize, count: i64) -> ScriptResult<usize> {
    let Ok(count) = usize::try_from(count) else {
        return Err(wrong_value(
            format!("a gradient has 1 to {MAX_COLOURS} colours, not {count}"),
            "ask for as many colours as there are threads, or fewer",
        ));
    };
    // More than a band can have are refused, and take no work.
    let work = stops.saturating_add(count.min(MAX_COLOURS));
    RunHandle::of(context).spend(work.saturating_mul(SPREAD_UNITS))?;
    Ok(count)
}

fn spread(
    context: &NativeCallContext,
    palette: &Palette,
    count: i64,
    how: &'static str,
    spread: Spread,
) -> ScriptResult<Array> {
    let count = count_of_colours(context, palette.colours.len(), count)?;
    let colours = remembered(how, &palette.colours, count, || spread(palette, count))
        .map_err(|error| refused(&error))?;
    Ok(colours.into_iter().map(Dynamic::from).collect())
}

/// Colours that a rule lists, as a palette.
fn nameless(colours: Vec<Colour>) -> Palette {
    Palette {
        name: String::new(),
        sentence: String::new(),
        colours,
    }
}

fn spread_by(
    context: &NativeCallContext,
    palette: Palette,
    count: i64,
    way: &str,
    course: Course,
) -> ScriptResult<Array> {
    let way = match way {
        "straight" => Way::Straight,
        "shorter hue" => Way::ShorterHue,
        "longer hue" => Way::LongerHue,
        other => {
            return Err(wrong_value(
                format!("no gradient goes by \"{other}\""),
                "go \"straight\", by the \"shorter hue\" or by the \"longer hue\"",
            ));
        }
    };
    let count = count_of_colours(context, palette.colours.len(), count)?;
    let gradient = Gradient::new(palette.colours).way(way).course(course);
    let colours = gradient.colours(count).map_err(|error| refused(&error))?;
    Ok(colours.into_iter().map(Dynamic::from).collect())
}

/// How many entries a list of colours for threads must have.
fn entries(count: i64) -> ScriptResult<usize> {
    usize::try_from(count)
        .ok()
        .filter(|count| *count <= usize::from(MAX_THREADS))
        .ok_or_else(|| {
            wrong_value(
                format!("a list of colours cannot have {count} entries"),
                format!("give 0 to {MAX_THREADS}, the most threads of a band"),
            )
        })
}

fn not_without_colours(list: &Array) -> ScriptResult<()> {
    if list.is_empty() {
        return Err(wrong_value(
            "there are no colours to hang",
            "give at least one colour in the list",
        ));
    }
    Ok(())
}

fn no_more_than(found: usize, most: usize, why: &str) -> ScriptResult<()> {
    if found > most {
        return Err(wrong_value(
            format!("{found} colours are too many: at most {most} {why}"),
            "leave out those that no thread has",
        ));
    }
    Ok(())
}

/// Counts the comparing of two lists of colours, each with each, before it is done.
fn check_pairs(context: &NativeCallContext, one: usize, other: usize) -> ScriptResult<()> {
    RunHandle::of(context).spend(one * other * PAIR_UNITS)
}

/// What it takes to compare two colours and to weigh what is found, in units of work.
const PAIR_UNITS: usize = 100;

/// The colours in a list.
pub(super) fn colours_in(list: &Array, what: &str) -> ScriptResult<Vec<Colour>> {
    no_more_than(list.len(), MAX_COLOURS, "are allowed")?;
    let one = |entry: &Dynamic| {
        entry.clone().try_cast::<Colour>().ok_or_else(|| {
            wrong_arguments(
                format!("{what} holds {} where a colour should be", type_name(entry)),
                "give colours, such as gradient(\"spring tide\", threads) or [colour(\"lamp\", \"#ffc145\")]".to_owned(),
            )
        })
    };
    list.iter().map(one).collect()
}

#[export_module]
mod colours {
    /// `colour(name, value)`: a colour with a name and a value such as "#1d6f8c".
    ///
    /// Two colours are the same (==) where both name and value are; a list can be asked whether it
    /// holds one: lamp in picture.colours.
    ///
    /// - `name`: what the sheet calls it
    /// - `value`: # and six digits of 0-9 and a-f: red, green and blue
    ///
    /// Errors: wrong-value when the value is not a colour.
    ///
    /// ```rhai
    /// let lamp = colour("lamp", "#ffc145");
    /// let night = colour("night", "#22304f");
    /// band(8).repeat(forward(1..8)).colours(in_turn([night, night, lamp], 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn colour(name: ImmutableString, value: ImmutableString) -> ScriptResult<Colour> {
        check_letters("the name of a colour", &name, MAX_NAME_LETTERS)
            .map_err(|error| refused(&error))?;
        Ok(Colour::new(
            name.as_str(),
            value.parse().map_err(|error| refused(&error))?,
        ))
    }

    /// `gradient(palette, count)`: that many colours, evenly spaced round a palette (by its
    /// name, or a list of colours), the last leading back to the first.
    ///
    /// It suits drifts, whose colours go round without end.
    ///
    /// - `palette`: the name of a palette, such as "open water"
    /// - `count`: how many colours, 1 or more
    ///
    /// Errors: wrong-value when there is no such palette, or no colours are asked for.
    ///
    /// ```rhai
    /// band(12).repeat(forward(1..12)).colours(gradient("spring tide", 12))
    /// ```
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_by_name(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> ScriptResult<Array> {
        spread(
            &context,
            &named(&context, &palette)?,
            count,
            "cyclic_gradient",
            cyclic_gradient,
        )
    }

    /// `gradient(colours, count)`: that many colours, evenly spaced round the given ones, the
    /// last leading back to the first.
    ///
    /// - `colours`: a list of colours
    /// - `count`: how many colours, 1 or more
    ///
    /// Errors: as gradient(palette, count).
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_through(
        context: NativeCallContext,
        colours: Array,
        count: i64,
    ) -> ScriptResult<Array> {
        let colours = colours_in(&colours, "the list for a gradient")?;
        spread(
            &context,
            &nameless(colours),
            count,
            "cyclic_gradient",
            cyclic_gradient,
        )
    }

    /// `gradient(palette, count, way)`: as gradient, but going from colour to colour by a way
    /// that you choose.
    ///
    /// - `palette`: the name of a palette, or a list of colours
    /// - `count`: how many colours, 1 or more
    /// - `way`: "straight", or round the hues: the "shorter hue" or the "longer hue"
    ///
    /// Errors: as gradient(palette, count), and wrong-value when there is no such way.
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_by_way(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
        way: ImmutableString,
    ) -> ScriptResult<Array> {
        let palette = stops(&context, &palette, "what a gradient leads through")?;
        spread_by(&context, palette, count, &way, Course::Cyclic)
    }

    /// `there_and_back(palette, count)`: that many colours, evenly spaced through a palette
    /// from its first colour to its last and back, the last one step from the first.
    ///
    /// - `palette`: the name of a palette, or a list of colours
    /// - `count`: how many colours, 1 or more; with an odd number, the two at the turn are alike
    ///
    /// Errors: wrong-value when there is no such palette, or no colours are asked for.
    ///
    /// ```rhai
    /// band(12).repeat(forward(1..12)).colours(there_and_back("open water", 12))
    /// ```
    #[rhai_fn(return_raw, name = "there_and_back")]
    pub fn colours_there_and_back(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
    ) -> ScriptResult<Array> {
        let palette = stops(&context, &palette, "what goes there and back")?;
        spread_by(&context, palette, count, "straight", Course::ThereAndBack)
    }

    /// `smoothest(colours)`: the colours in the order in which neighbours differ least, the
    /// last leading back to the first, as a drift needs it.
    ///
    /// - `colours`: a list of colours; up to 16 the best order is found exactly
    ///
    /// Errors: wrong-value when the list is empty.
    ///
    /// ```rhai
    /// let mixed = [colour("fog", "#d4dae2"), colour("peat", "#32201e"), colour("slate", "#708090"), colour("straw", "#d6b882")];
    /// band(4).repeat(forward(1..4)).drift(smoothest(mixed))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn smoothest(context: NativeCallContext, colours: Array) -> ScriptResult<Array> {
        let given = colours_in(&colours, "the list to put in order")?;
        no_more_than(given.len(), usize::from(MAX_THREADS), "hang on a band")?;
        check_pairs(&context, given.len(), given.len())?;
        let values: Vec<Srgb> = given.iter().map(|colour| colour.srgb).collect();
        let order = smoothest_order(&values, true).map_err(|error| refused(&error))?;
        Ok(order
            .order
            .into_iter()
            .map(|at| Dynamic::from(given[at].clone()))
            .collect())
    }

    /// `matched(wanted, owned)`: for each wanted colour one of the owned ones, each used once,
    /// so that together they come as near to the wanted ones as possible.
    ///
    /// - `wanted`: a list of colours, such as a gradient
    /// - `owned`: a list of at least as many colours, or the name of a palette that holds them
    ///
    /// Errors: wrong-value when there are fewer owned colours than wanted ones.
    ///
    /// ```rhai
    /// band(4).repeat(forward(1..4)).colours(matched(gradient("gull", 4), "spring tide"))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn matched(
        context: NativeCallContext,
        wanted: Array,
        owned: Dynamic,
    ) -> ScriptResult<Array> {
        let wanted = colours_in(&wanted, "the list of wanted colours")?;
        let owned: Vec<Owned> = stops(&context, &owned, "what one owns")?
            .colours
            .into_iter()
            .map(|colour| Owned::new(colour.name, colour.srgb))
            .collect();
        no_more_than(wanted.len(), usize::from(MAX_THREADS), "hang on a band")?;
        check_pairs(&context, wanted.len(), owned.len())?;
        let matching = match_threads(&wanted, &owned).map_err(|error| refused(&error))?;
        let pairs = matching.pairs.into_iter();
        Ok(pairs
            .map(|pair| Dynamic::from(pair.thread.colour()))
            .collect())
    }

    /// `fade(palette, count)`: that many colours, evenly spaced through a palette from its
    /// first colour to its last.
    ///
    /// It suits what has a top and a bottom, such as a sky.
    ///
    /// - `palette`: the name of a palette, such as "open water"
    /// - `count`: how many colours, 1 or more
    ///
    /// Errors: wrong-value when there is no such palette, or no colours are asked for.
    ///
    /// ```rhai
    /// band(12).repeat(forward(1..12)).colours(fade("evening sky", 12))
    /// ```
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_by_name(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> ScriptResult<Array> {
        spread(
            &context,
            &named(&context, &palette)?,
            count,
            "fade",
            colour::fade,
        )
    }

    /// `fade(colours, count)`: that many colours, evenly spaced through the given ones from
    /// the first to the last.
    ///
    /// - `colours`: a list of colours
    /// - `count`: how many colours, 1 or more
    ///
    /// Errors: as fade(palette, count).
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_through(
        context: NativeCallContext,
        colours: Array,
        count: i64,
    ) -> ScriptResult<Array> {
        let colours = colours_in(&colours, "the list for a fade")?;
        spread(&context, &nameless(colours), count, "fade", colour::fade)
    }

    /// `fade(palette, count, way)`: as fade, but going from colour to colour by a way that you
    /// choose.
    ///
    /// - `palette`: the name of a palette, or a list of colours
    /// - `count`: how many colours, 1 or more
    /// - `way`: "straight", or round the hues: the "shorter hue" or the "longer hue"
    ///
    /// Errors: as fade(palette, count), and wrong-value when there is no such way.
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_by_way(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
        way: ImmutableString,
    ) -> ScriptResult<Array> {
        let palette = stops(&context, &palette, "what a fade leads through")?;
        spread_by(&context, palette, count, &way, Course::Open)
    }

    /// `contrasting(palette, count)`: that many of a palette's own colours, each as unlike the
    /// ones before it as possible; the first suits as a ground, the second as a motif.
    ///
    /// - `palette`: the name of a palette, such as "open water"
    /// - `count`: how many, at most as many as the palette has
    ///
    /// Errors: wrong-value when there is no such palette, or it has fewer colours.
    ///
    /// ```rhai
    /// let two = contrasting("harbour lights", 2);
    /// band(8).repeat(forward(1..8)).colours(in_turn(two, 8))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn contrasting(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> ScriptResult<Array> {
        spread(
            &context,
            &named(&context, &palette)?,
            count,
            "contrasting_colours",
            contrasting_colours,
        )
    }

    /// `in_turn(colours, count)`: the colours one after another, again and again, until there
    /// are that many.
    ///
    /// - `colours`: a list of at least one colour
    /// - `count`: how many entries, 0 to 200
    ///
    /// Errors: wrong-value when the list is empty.
    ///
    /// ```rhai
    /// band(9).repeat(forward(1..9)).colours(in_turn(contrasting("red sails", 3), 9))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn in_turn(colours: Array, count: i64) -> ScriptResult<Array> {
        not_without_colours(&colours)?;
        Ok(colours
            .iter()
            .cycle()
            .take(entries(count)?)
            .cloned()
            .collect())
    }

    /// `in_stripes(colours, count)`: that many entries in which each colour comes several times
    /// side by side, as evenly as possible.
    ///
    /// - `colours`: a list of at least one colour
    /// - `count`: how many entries, 0 to 200
    ///
    /// Errors: wrong-value when the list is empty.
    ///
    /// ```rhai
    /// band(9).repeat(forward(1..9)).colours(in_stripes(contrasting("red sails", 3), 9))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn in_stripes(colours: Array, count: i64) -> ScriptResult<Array> {
        not_without_colours(&colours)?;
        let count = entries(count)?;
        let stripe = |entry: usize| colours[entry * colours.len() / count].clone();
        Ok((0..count).map(stripe).collect())
    }

    /// `paired(odd, even)`: the entries of two lists of the same length, alternating: the first
    /// list for
    /// the threads at odd positions, the second for those at even ones.
    ///
    /// - `odd`: the colours at positions 1, 3, 5…
    /// - `even`: the colours at positions 2, 4, 6…, the same number
    ///
    /// Errors: wrong-value when the lists are not of the same length.
    ///
    /// ```rhai
    /// let sea = fade("open water", 5);
    /// let sky = fade("evening sky", 5);
    /// let waterline = lattice(10, 10, |row, column|
    ///     if column + row % 3 < 6 { odd_shows(column) } else { even_shows(column) });
    /// band(10).repeat(waterline).colours(paired(sea, sky))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn paired(odd: Array, even: Array) -> ScriptResult<Array> {
        if odd.len() != even.len() {
            let (first, second) = (odd.len(), even.len());
            return Err(wrong_value(
                format!("lists of {first} and {second} colours cannot be paired"),
                "give two lists of the same length, such as fade(\"open water\", pairs)",
            ));
        }
        Ok(odd
            .into_iter()
            .zip(even)
            .flat_map(|(odd, even)| [odd, even])
            .collect())
    }

    /// `on_both_sides(colours)`: the colours in order and then in the opposite order, from
    /// the left edge to the middle and from the middle to the right edge.
    ///
    /// - `colours`: the colours of the left half, from the edge to the middle
    ///
    /// ```rhai
    /// let left = forward(1..5);
    /// band(10).repeat(left + left.mirrored(10) + forward(5)).colours(on_both_sides(fade("regatta", 5)))
    /// ```
    pub fn on_both_sides(colours: Array) -> Array {
        let back = colours.clone().into_iter().rev();
        colours.into_iter().chain(back).collect()
    }

    /// `in_order(colours, numbers)`: colours from a list by their numbers, from 1, such as
    /// [1, 1, 2, 2].
    ///
    /// - `colours`: a list of colours
    /// - `numbers`: which of them hangs on each thread, counted from 1
    ///
    /// Errors: wrong-value when the list has no colour of that number.
    ///
    /// ```rhai
    /// let lights = contrasting("harbour lights", 3);
    /// band(8).repeat(forward(1..8)).colours(in_order(lights, [1, 1, 1, 2, 1, 1, 1, 3]))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn in_order(colours: Array, numbers: Array) -> ScriptResult<Array> {
        let numbers = whole_numbers(&Dynamic::from_array(numbers), "numbers of colours")?;
        let one = |number: i64| {
            let at = usize::try_from(number)
                .ok()
                .and_then(|number| number.checked_sub(1));
            at.and_then(|at| colours.get(at)).cloned().ok_or_else(|| {
                let count = colours.len();
                wrong_value(
                    format!("there is no colour number {number} among {count}"),
                    format!("use numbers from 1 to {count}"),
                )
            })
        };
        numbers.into_iter().map(one).collect()
    }
}
