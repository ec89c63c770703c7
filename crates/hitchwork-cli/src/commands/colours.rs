//! `colours`: gradients, and the threads that one owns.

use hitchwork_core::colour::{
    self, Apart, Colour, Course, Gradient, GradientShopping, Matching, Owned, Palette, Sight, Srgb,
    Vision, Way, choose_threads, difference, match_threads, shopping, smoothest_order,
};
use hitchwork_core::craft::Gauge;
use hitchwork_core::near::did_you_mean_quoted;
use hitchwork_core::text::on_one_line;
use hitchwork_draw::swatches;
use serde::Serialize;

use crate::arguments::{
    self, ColoursChoose, ColoursCommand, ColoursGradient, ColoursMatch, ColoursOrder,
    ColoursOutput, ColoursPalettes, CourseChoice, GradientStops, WayChoice,
};
use crate::pictures::PictureFormat;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(colours: &arguments::ColoursArguments) -> Result<Verdict, Trouble> {
    match &colours.command {
        ColoursCommand::Gradient(asked) => gradient(asked),
        ColoursCommand::Match(asked) => matched(asked),
        ColoursCommand::Order(asked) => order(asked),
        ColoursCommand::Choose(asked) => choose(asked),
        ColoursCommand::Palettes(asked) => palettes(asked),
    }?;
    Ok(Verdict::Sound)
}

/// What is said, and what is drawn.
fn show(
    output: &ColoursOutput,
    data: &impl Serialize,
    text: &str,
    strips: &[swatches::SwatchStrip],
) -> Result<(), Trouble> {
    if let Some(out) = &output.out {
        let bytes = PictureFormat::of(out)?.bytes(&swatches::svg(strips)?, 2.0)?;
        folder::write_one(out, &bytes, folder::ResultKind::Other)?;
    }
    if output.json {
        return say::json(data);
    }
    say::out(text)
}

/// A line for a colour: its swatch, its number, its value, its name, and more.
fn line(number: usize, colour: &Colour, widest: usize, more: &str) -> String {
    format!(
        "  {}{number:>3}  {}  {:<widest$}  {more}",
        say::swatch(colour.srgb),
        colour.srgb,
        on_one_line(&colour.name)
    )
    .trim_end()
    .to_owned()
        + "\n"
}

fn widest<'a>(colours: impl IntoIterator<Item = &'a Colour>) -> usize {
    let letters = colours
        .into_iter()
        .map(|colour| colour.name.chars().count());
    letters.max().unwrap_or(0)
}

#[derive(Serialize)]
struct GradientStep<'a> {
    name: &'a str,
    srgb: Srgb,
    /// To the next colour; the last one's leads back to the first, if it does.
    to_next: Option<f64>,
}

fn steps(colours: &[Colour], cyclic: bool) -> Vec<GradientStep<'_>> {
    let count = colours.len();
    let next = |at: usize| {
        let leads_on = at + 1 < count || (cyclic && count > 1);
        leads_on.then(|| difference(colours[at].srgb, colours[(at + 1) % count].srgb))
    };
    (0..count)
        .map(|at| GradientStep {
            name: &colours[at].name,
            srgb: colours[at].srgb,
            to_next: next(at),
        })
        .collect()
}

/// The lines of colours with the differences between them.
fn list(colours: &[Colour], steps: &[GradientStep<'_>]) -> String {
    let widest = widest(colours);
    let more = |step: &GradientStep<'_>| {
        step.to_next
            .map(|far| format!("{far:.1} to the next"))
            .unwrap_or_default()
    };
    (1..)
        .zip(colours.iter().zip(steps))
        .map(|(number, (colour, step))| line(number, colour, widest, &more(step)))
        .collect()
}

fn strip(title: impl Into<String>, colours: &[Colour]) -> swatches::SwatchStrip {
    swatches::SwatchStrip {
        title: title.into(),
        colours: colours.to_vec(),
    }
}

/// Colours as they can be given instead of a palette.
const SEVERAL_COLOURS: &str =
    ", or several colours, each as # and six hexadecimal digits: \"#1d6f8c\" \"#f0be3c\"";

/// What stands before the options of a gradient.
const STOPS_TAKEN: &str = "give several colours, each as # and six hexadecimal digits, such as \"#1d6f8c\" \"#f0be3c\", or one palette by its name or from its file";

/// A palette by its name or from its file.
fn named_palette(name: &str) -> Result<Palette, Trouble> {
    named_palette_or(name, "")
}

/// The same where other things could have been given, which an error names.
fn named_palette_or(name: &str, others: &str) -> Result<Palette, Trouble> {
    if let Some(palette) = input::palette_file(name)? {
        return Ok(palette);
    }
    colour::palette(name).ok_or_else(|| {
        let names: Vec<String> = colour::built_in_palettes()
            .into_iter()
            .map(|palette| palette.name)
            .collect();
        let meant = did_you_mean_quoted(name, names.iter().map(String::as_str));
        Trouble::new(
            format!("there is no palette called \"{name}\""),
            format!(
                "{meant}give a file ending in .toml, .csv or .gpl, or one of: {}{others}",
                names.join(", ")
            ),
        )
    })
}

/// The gradient that is meant.
struct MeantGradient {
    /// What to call it.
    name: String,
    colours: Vec<Colour>,
    /// Whether it leads back to its first colour.
    cyclic: bool,
    /// Whether these are the very colours that were given, as far apart as they are.
    as_given: bool,
}

impl MeantGradient {
    /// "spring tide, 7 colours".
    fn title(&self) -> String {
        let count = self.colours.len();
        match self.as_given {
            true => format!(
                "{}: the {count} colours as they are, not in even steps; any other number is spread evenly",
                self.name
            ),
            false => format!("{}, {count} colours", self.name),
        }
    }
}

fn spread(stops: &GradientStops) -> Result<MeantGradient, Trouble> {
    let (name, colours) = match stops.stops.as_slice() {
        [one] if !one.starts_with('#') => {
            let palette = named_palette_or(one, SEVERAL_COLOURS)?;
            (palette.name, palette.colours)
        }
        several => {
            let value = |text: &String| {
                text.parse::<Srgb>()
                    .map_err(|error| Trouble::new(error.to_string(), STOPS_TAKEN))
            };
            let values: Vec<Srgb> = several.iter().map(value).collect::<Result<_, _>>()?;
            ("your colours".to_owned(), Colour::spoken(values))
        }
    };
    let course = match stops.course {
        CourseChoice::Cyclic => Course::Cyclic,
        CourseChoice::Open => Course::Open,
        CourseChoice::ThereAndBack => Course::ThereAndBack,
    };
    let way = match stops.way {
        None | Some(WayChoice::Straight) => Way::Straight,
        Some(WayChoice::ShorterHue) => Way::ShorterHue,
        Some(WayChoice::LongerHue) => Way::LongerHue,
    };
    let whole = stops.count == colours.len() && course != Course::ThereAndBack;
    if whole && stops.way.is_some() {
        return Err(Trouble::new(
            format!(
                "--way has no effect: there are {} colours already, and they are taken as they are",
                colours.len()
            ),
            "leave --way out, or ask for more or fewer colours",
        ));
    }
    let colours = if whole {
        colours
    } else {
        Gradient::new(colours)
            .way(way)
            .course(course)
            .colours(stops.count)?
    };
    Ok(MeantGradient {
        name,
        colours,
        cyclic: course != Course::Open,
        as_given: whole,
    })
}

fn gradient(asked: &ColoursGradient) -> Result<(), Trouble> {
    let meant = spread(&asked.stops)?;
    let title = meant.title();
    let MeantGradient {
        name,
        colours,
        cyclic,
        ..
    } = meant;
    let steps = steps(&colours, cyclic);
    let knot = Sight::of_knot(&Gauge::default());
    let values: Vec<Srgb> = colours.iter().map(|colour| colour.srgb).collect();
    let alike: Vec<(Vision, usize)> = Vision::ALL
        .iter()
        .map(|&vision| (vision, knot.alike_neighbours(&values, cyclic, vision).len()))
        .collect();
    let mut text = format!(
        "{}\n{}",
        title.styled(say::heading()),
        list(&colours, &steps)
    );
    for (vision, pairs) in alike.iter().filter(|(_, pairs)| *pairs > 0) {
        text.push_str(&format!(
            "  neighbours that look alike at the size of a knot under {vision}: {}\n",
            say::counted(*pairs as u64, "pair")
        ));
    }
    let alike: Vec<_> = alike
        .iter()
        .map(|(vision, pairs)| serde_json::json!({ "vision": vision, "pairs": pairs }))
        .collect();
    let data = serde_json::json!({
        "palette": name,
        "cyclic": cyclic,
        "colours": steps,
        "alike_neighbours": alike,
    });
    show(&asked.output, &data, &text, &[strip(name, &colours)])
}

/// The threads of a stash that are not used up.
fn threads(file: &str) -> Result<Vec<Owned>, Trouble> {
    Ok(input::stash(file)?.in_hand())
}

fn matched(asked: &ColoursMatch) -> Result<(), Trouble> {
    let MeantGradient {
        name,
        colours: wanted,
        ..
    } = spread(&asked.stops)?;
    let owned = threads(&asked.stash)?;
    let wanted_strip = strip(&name, &wanted);
    if let Some(within) = asked.buy {
        let list = shopping(&wanted, &owned, within)?;
        let missing = list.buy.iter().map(|missing| missing.wanted.clone());
        let buy: Vec<Colour> = missing.collect();
        let strips = [wanted_strip, strip("to buy", &buy)];
        let text = there_and_to_buy(&name, &list, widest(&wanted));
        return show(&asked.output, &list, &text, &strips);
    }
    let matching = match_threads(&wanted, &owned)?;
    let found = matching.pairs.iter().map(|pair| pair.thread.colour());
    let found: Vec<Colour> = found.collect();
    let strips = [wanted_strip, strip("your threads", &found)];
    let title = format!("{name}, from {}", asked.stash);
    let text = matches(&title, &matching, widest(&wanted));
    show(&asked.output, &matching, &text, &strips)
}

/// The colours of a gradient that are there, and those to buy; `names` is how wide names are.
fn there_and_to_buy(name: &str, list: &GradientShopping, names: usize) -> String {
    let title = format!("{name}: what is there");
    let mut text = format!("{}\n", title.styled(say::heading()));
    for (number, pair) in (1..).zip(&list.have) {
        let Owned { srgb, name, .. } = &pair.thread;
        let more = format!("{} {name}, {:.1} off", say::swatch(*srgb), pair.difference);
        text.push_str(&line(number, &pair.wanted, names, &more));
    }
    text.push_str(&format!("{}\n", "to buy".styled(say::heading())));
    for (number, missing) in (1..).zip(&list.buy) {
        let more = match missing.alternative.as_ref().zip(missing.difference) {
            None => "nothing near".to_owned(),
            Some((Owned { srgb, name, .. }, far)) => {
                format!("or use {} {name}, {far:.1} off", say::swatch(*srgb))
            }
        };
        text.push_str(&line(number, &missing.wanted, names, &more));
    }
    if list.buy.is_empty() {
        text.push_str("  nothing\n");
    }
    text
}

/// The threads that take the places of a gradient's colours.
fn matches(title: &str, matching: &Matching, names: usize) -> String {
    let mut text = format!("{}\n", title.styled(say::heading()));
    for (number, pair) in (1..).zip(&matching.pairs) {
        let Owned {
            srgb, name, code, ..
        } = &pair.thread;
        let code = code.as_ref().map(|code| format!(" ({code})"));
        let more = format!(
            "{} {srgb}  {name}{}, {:.1} off",
            say::swatch(*srgb),
            code.unwrap_or_default(),
            pair.difference
        );
        text.push_str(&line(number, &pair.wanted, names, &more));
    }
    text.push_str(&format!(
        "  {:.1} off altogether, {:.1} at the worst; no other choice of these threads is nearer altogether\n",
        matching.total, matching.worst
    ));
    text
}

/// How good an order or a choice is.
fn verdict(total: f64, worst: f64, at_least: f64, exact: bool) -> String {
    let best = if exact {
        "and none is smoother".to_owned()
    } else {
        format!("and none is below {at_least:.1}")
    };
    format!("  {total:.1} altogether, {worst:.1} at the largest step, {best}\n")
}

fn order(asked: &ColoursOrder) -> Result<(), Trouble> {
    let all = threads(&asked.stash)?;
    let mut liked = Vec::new();
    for (at, name) in asked.thread.iter().enumerate() {
        let is_it = |other: &String| other.eq_ignore_ascii_case(name);
        if asked.thread[..at].iter().any(is_it) {
            return Err(Trouble::new(
                format!("the thread \"{name}\" is given twice, and hangs once"),
                "leave it out the second time",
            ));
        }
        let thread = all
            .iter()
            .find(|thread| thread.name.eq_ignore_ascii_case(name));
        liked.push(thread.cloned().ok_or_else(|| {
            Trouble::new(
                format!(
                    "there is no thread called \"{name}\" in {}, or nothing is left of it",
                    asked.stash
                ),
                "write its name as the stash does",
            )
        })?);
    }
    let threads = if liked.is_empty() { all } else { liked };
    let values: Vec<Srgb> = threads.iter().map(|thread| thread.srgb).collect();
    let order = smoothest_order(&values, !asked.open)?;
    let colours: Vec<Colour> = order.order.iter().map(|at| threads[*at].colour()).collect();
    let steps = steps(&colours, !asked.open);
    let text = format!(
        "{}\n{}{}",
        asked.stash.styled(say::heading()),
        list(&colours, &steps),
        verdict(order.total, order.worst, order.at_least, order.exact)
    );
    let data = serde_json::json!({
        "cyclic": !asked.open,
        "threads": steps,
        "total": order.total,
        "worst": order.worst,
        "at_least": order.at_least,
        "exact": order.exact,
    });
    show(
        &asked.output,
        &data,
        &text,
        &[strip(asked.stash.as_str(), &colours)],
    )
}

fn choose(asked: &ColoursChoose) -> Result<(), Trouble> {
    let owned = threads(&asked.stash)?;
    let apart = asked
        .apart
        .map_or(Apart::AtSight(Sight::of_knot(&Gauge::default())), Apart::By);
    let choice = choose_threads(&owned, asked.count, apart)?;
    let colours: Vec<Colour> = choice.threads.iter().map(Owned::colour).collect();
    let text = format!(
        "{}\n{}{}",
        format!("{} of {}", colours.len(), owned.len()).styled(say::heading()),
        list(&colours, &steps(&colours, true)),
        verdict(choice.total, choice.worst, choice.at_least, choice.exact)
    );
    show(
        &asked.output,
        &choice,
        &text,
        &[strip(asked.stash.as_str(), &colours)],
    )
}

#[derive(Serialize)]
struct ListedPalette {
    name: String,
    sentence: String,
    colours: Vec<Colour>,
    told_apart_up_to: Option<usize>,
    by_everybody_up_to: Option<usize>,
}

fn palettes(asked: &ColoursPalettes) -> Result<(), Trouble> {
    let palettes = match &asked.palette {
        Some(name) => vec![named_palette(name)?],
        None => colour::built_in_palettes(),
    };
    let knot = Sight::of_knot(&Gauge::default());
    let shown: Vec<ListedPalette> = palettes
        .into_iter()
        .map(|palette| ListedPalette {
            told_apart_up_to: palette.told_apart_up_to(knot, &[Vision::Normal]),
            by_everybody_up_to: palette.told_apart_up_to(knot, Vision::ALL),
            name: palette.name,
            sentence: palette.sentence,
            colours: palette.colours,
        })
        .collect();
    let mut text = String::new();
    for palette in &shown {
        text.push_str(&format!("{}\n", palette.name.styled(say::heading())));
        if !palette.sentence.is_empty() {
            text.push_str(&format!("  {}\n", on_one_line(&palette.sentence)));
        }
        let swatches: String = palette
            .colours
            .iter()
            .map(|colour| say::swatch(colour.srgb))
            .collect();
        if !swatches.is_empty() {
            text.push_str(&format!("  {swatches}\n"));
        }
        if asked.palette.is_some() {
            let names = widest(&palette.colours);
            for (number, colour) in (1..).zip(&palette.colours) {
                text.push_str(&line(number, colour, names, ""));
            }
        }
        let upto = |count: Option<usize>| {
            count.map_or("fewer than 3".to_owned(), |count| format!("{count}"))
        };
        text.push_str(&format!(
            "  {}; told apart up to {} colours, by everybody up to {}\n",
            say::counted(palette.colours.len() as u64, "colour"),
            upto(palette.told_apart_up_to),
            upto(palette.by_everybody_up_to)
        ));
    }
    let strips: Vec<swatches::SwatchStrip> = shown
        .iter()
        .map(|palette| strip(palette.name.as_str(), &palette.colours))
        .collect();
    match (&asked.palette, shown.as_slice()) {
        (Some(_), [one]) => show(&asked.output, one, &text, &strips),
        _ => show(&asked.output, &shown, &text, &strips),
    }
}
