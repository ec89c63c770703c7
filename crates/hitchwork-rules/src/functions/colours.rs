//! Colours, palettes and gradients.

use hitchwork_core::colour::{
    self, Colour, Course, Gradient, Owned, Palette, Srgb, Way, contrasting_colours,
    cyclic_gradient, match_threads, smoothest_order,
};
use rhai::plugin::*;
use rhai::{Array, ImmutableString};

use super::{type_name, whole_numbers, wrong_arguments};
use crate::run::{Outcome, Run, refused, wrong_value};
use crate::translate::nearest;

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Colour>("colour");
    combine_with_exported_module!(module, "colours", colours);
}

fn named(context: &NativeCallContext, name: &str) -> Outcome<Palette> {
    let palettes = Run::of(context).state().palettes();
    if let Some(palette) = palettes.iter().find(|palette| palette.name == name) {
        return Ok(palette.clone());
    }
    let names: Vec<&str> = palettes
        .iter()
        .map(|palette| palette.name.as_str())
        .collect();
    let meant = nearest(name, names.iter().copied())
        .map(|near| format!("did you mean \"{near}\"? "))
        .unwrap_or_default();
    Err(wrong_value(
        format!("there is no palette called \"{name}\""),
        format!("{meant}there are: {}", names.join(", ")),
    ))
}

/// The colours in a list, or those of the palette of that name.
fn stops(context: &NativeCallContext, stops: &Dynamic, what: &str) -> Outcome<Palette> {
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

fn spread(palette: &Palette, count: i64, spread: Spread) -> Outcome<Array> {
    let count = usize::try_from(count).unwrap_or(0);
    let colours = spread(palette, count).map_err(|error| refused(&error))?;
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

fn spread_by(palette: Palette, count: i64, way: &str, course: Course) -> Outcome<Array> {
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
    let count = usize::try_from(count).unwrap_or(0);
    let gradient = Gradient::new(palette.colours).way(way).course(course);
    let colours = gradient.colours(count).map_err(|error| refused(&error))?;
    Ok(colours.into_iter().map(Dynamic::from).collect())
}

/// How many entries a list of colours for threads shall have.
fn entries(count: i64) -> Outcome<usize> {
    use hitchwork_core::band::MAX_THREADS;
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

fn not_without_colours(list: &Array) -> Outcome<()> {
    if list.is_empty() {
        return Err(wrong_value(
            "there are no colours to hang",
            "give at least one colour in the list",
        ));
    }
    Ok(())
}

/// The colours in a list.
pub(super) fn colours_in(list: &Array, what: &str) -> Outcome<Vec<Colour>> {
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
    #[rhai_fn(return_raw)]
    pub fn colour(name: ImmutableString, value: ImmutableString) -> Outcome<Colour> {
        Ok(Colour::new(
            name.as_str(),
            value.parse().map_err(|error| refused(&error))?,
        ))
    }

    /// `gradient(palette, count)`: that many colours, evenly spaced round a palette (by its
    /// name, or a list of colours), the last leading back to the first.
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_by_name(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> Outcome<Array> {
        spread(&named(&context, &palette)?, count, cyclic_gradient)
    }

    /// `gradient(colours, count)`: that many colours, evenly spaced round the given ones, the
    /// last leading back to the first.
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_through(colours: Array, count: i64) -> Outcome<Array> {
        let colours = colours_in(&colours, "the list for a gradient")?;
        spread(&nameless(colours), count, cyclic_gradient)
    }

    /// `gradient(palette, count, way)`: as gradient, from stop to stop by a way: "straight",
    /// or round the hues by the "shorter hue" or the "longer hue"; the palette may be a list
    /// of colours.
    #[rhai_fn(return_raw, name = "gradient")]
    pub fn gradient_by_way(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
        way: ImmutableString,
    ) -> Outcome<Array> {
        let palette = stops(&context, &palette, "what a gradient leads through")?;
        spread_by(palette, count, &way, Course::Cyclic)
    }

    /// `there_and_back(palette, count)`: that many colours, evenly spaced through a palette
    /// (by its name, or a list of colours) from its first colour to its last and back, the
    /// last one step from the first.
    #[rhai_fn(return_raw, name = "there_and_back")]
    pub fn colours_there_and_back(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
    ) -> Outcome<Array> {
        let palette = stops(&context, &palette, "what goes there and back")?;
        spread_by(palette, count, "straight", Course::ThereAndBack)
    }

    /// `smoothest(colours)`: the colours in the order in which neighbours differ least, the
    /// last leading back to the first, as a drift needs it.
    #[rhai_fn(return_raw)]
    pub fn smoothest(colours: Array) -> Outcome<Array> {
        let given = colours_in(&colours, "the list to put in order")?;
        let values: Vec<Srgb> = given.iter().map(|colour| colour.srgb).collect();
        let order = smoothest_order(&values, true).map_err(|error| refused(&error))?;
        Ok(order
            .order
            .into_iter()
            .map(|at| Dynamic::from(given[at].clone()))
            .collect())
    }

    /// `matched(wanted, owned)`: for each wanted colour one of the owned ones, each used once,
    /// so that together they miss the wanted ones least.
    #[rhai_fn(return_raw)]
    pub fn matched(wanted: Array, owned: Array) -> Outcome<Array> {
        let wanted = colours_in(&wanted, "the list of wanted colours")?;
        let owned: Vec<Owned> = colours_in(&owned, "the list of owned colours")?
            .into_iter()
            .map(|colour| Owned::new(colour.name, colour.srgb))
            .collect();
        let matching = match_threads(&wanted, &owned).map_err(|error| refused(&error))?;
        let pairs = matching.pairs.into_iter();
        Ok(pairs
            .map(|pair| Dynamic::from(pair.thread.colour()))
            .collect())
    }

    /// `fade(palette, count)`: that many colours, evenly spaced through a palette from its
    /// first colour to its last.
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_by_name(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> Outcome<Array> {
        spread(&named(&context, &palette)?, count, colour::fade)
    }

    /// `fade(colours, count)`: that many colours, evenly spaced through the given ones from
    /// the first to the last.
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_through(colours: Array, count: i64) -> Outcome<Array> {
        let colours = colours_in(&colours, "the list for a fade")?;
        spread(&nameless(colours), count, colour::fade)
    }

    /// `fade(palette, count, way)`: as fade, from stop to stop by a way: "straight", or round
    /// the hues by the "shorter hue" or the "longer hue"; the palette may be a list of
    /// colours.
    #[rhai_fn(return_raw, name = "fade")]
    pub fn fade_by_way(
        context: NativeCallContext,
        palette: Dynamic,
        count: i64,
        way: ImmutableString,
    ) -> Outcome<Array> {
        let palette = stops(&context, &palette, "what a fade leads through")?;
        spread_by(palette, count, &way, Course::Open)
    }

    /// `contrasting(palette, count)`: that many of a palette's own colours, each as unlike
    /// the ones before it as can be; the first suits as a ground, the second as a figure.
    #[rhai_fn(return_raw)]
    pub fn contrasting(
        context: NativeCallContext,
        palette: ImmutableString,
        count: i64,
    ) -> Outcome<Array> {
        spread(&named(&context, &palette)?, count, contrasting_colours)
    }

    /// `in_turn(colours, count)`: the colours one after another, again and again, until there
    /// are that many.
    #[rhai_fn(return_raw)]
    pub fn in_turn(colours: Array, count: i64) -> Outcome<Array> {
        not_without_colours(&colours)?;
        Ok(colours
            .iter()
            .cycle()
            .take(entries(count)?)
            .cloned()
            .collect())
    }

    /// `in_stripes(colours, count)`: that many entries in which each colour comes several
    /// times side by side, as equally often as can be.
    #[rhai_fn(return_raw)]
    pub fn in_stripes(colours: Array, count: i64) -> Outcome<Array> {
        not_without_colours(&colours)?;
        let count = entries(count)?;
        let stripe = |entry: usize| colours[entry * colours.len() / count].clone();
        Ok((0..count).map(stripe).collect())
    }

    /// `paired(odd, even)`: the entries of two lists of one length in turn: the first list for
    /// the threads at odd positions, the second for those at even ones.
    #[rhai_fn(return_raw)]
    pub fn paired(odd: Array, even: Array) -> Outcome<Array> {
        if odd.len() != even.len() {
            let (first, second) = (odd.len(), even.len());
            return Err(wrong_value(
                format!("lists of {first} and {second} colours cannot be paired"),
                "give two lists of one length, such as fade(\"open water\", pairs)",
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
    pub fn on_both_sides(colours: Array) -> Array {
        let back = colours.clone().into_iter().rev();
        colours.into_iter().chain(back).collect()
    }

    /// `in_order(colours, numbers)`: colours from a list by their numbers, from 1, such as
    /// [1, 1, 2, 2].
    #[rhai_fn(return_raw)]
    pub fn in_order(colours: Array, numbers: Array) -> Outcome<Array> {
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
