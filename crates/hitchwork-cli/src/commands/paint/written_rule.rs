//! The rule that makes a painted band, written out to be changed by hand.

use hitchwork_core::colour::Colour;
use hitchwork_core::picture::solve::Closing;
use hitchwork_core::row::{Row, grid_lines};
use hitchwork_core::text::on_one_line;
use hitchwork_rules::{Rules, Settings};

use super::painted::{HowTied, OnLattice, PaintedBand};
use crate::arguments::PaintWay;
use crate::input;

/// The longest text that a rule may hold, with some room.
const MOST_TEXT: usize = 24 << 10;

/// A rule that has been run, and makes the knots of a band.
pub(super) struct WrittenRule {
    pub(super) text: String,
    /// Whether it has the picture, and not only the knots.
    pub(super) has_picture: bool,
}

/// The rule of a band; nothing where it would be too long to be read.
pub(super) fn rule(name: &str, painted: &PaintedBand, open: bool) -> Option<WrittenRule> {
    let with_picture = with_picture(name, painted, open).map(|text| (text, true));
    let with_knots = || (with_knots(name, painted, open), false);
    let texts = with_picture
        .into_iter()
        .chain(std::iter::once_with(with_knots));
    let mut rules = texts.map(|(text, has_picture)| WrittenRule { text, has_picture });
    rules.find(|rule| makes(&rule.text, painted))
}

/// Whether a rule makes the very knots of a band, in its colours.
fn makes(rule: &str, painted: &PaintedBand) -> bool {
    let rules: Rules = input::language();
    let made = rules
        .compile("painted.rhai", rule)
        .and_then(|rule| rules.make(&rule, &Settings::new()));
    made.is_ok_and(|made| {
        let band = made.band;
        let hung = band.thread_colours().iter();
        let hung = hung.map(|number| band.palette()[usize::from(*number)].srgb);
        let rows = painted.rows.iter().filter(|row| !row.is_empty());
        let start = painted.start.iter();
        hung.eq(start.map(|number| painted.colours[*number].srgb)) && band.repeat().iter().eq(rows)
    })
}

/// What a rule says of the counts that were found for its picture.
const ABOUT_COUNTS: &str = "// These counts suit this picture as it is. If you change or turn it, leave counts out: then it is\n\
    // looked for how many threads of each colour show it best.\n";

fn quoted(words: &str) -> String {
    let words = on_one_line(words);
    format!("\"{}\"", words.replace('\\', "\\\\").replace('"', "\\\""))
}

fn colour(colour: &Colour) -> String {
    format!("colour({}, \"{}\")", quoted(&colour.name), colour.srgb)
}

fn comment(name: &str, what: &str) -> String {
    format!(
        "/// A band that shows the picture {}, {what}.\n",
        on_one_line(name)
    )
}

/// The picture between backticks, with what its marks stand for. A colour of which no thread hangs
/// lies only where nothing is tied: there the rule has nothing, or it would have to hang it.
fn art(painted: &PaintedBand) -> Option<String> {
    let hangs = |srgb| painted.colours.iter().any(|hung| hung.srgb == srgb);
    let picture = &painted.picture;
    let picture = picture.recoloured(|one| hangs(one.srgb).then(|| one.clone()));
    let (picture, marks) = (picture.ok()?, &painted.marks);
    let mark = |colour: &Colour| {
        let known = marks.iter().find(|(known, _)| *known == colour.srgb);
        known.map(|(_, mark)| *mark)
    };
    let mut lines = String::new();
    for row in 1..=picture.height() {
        lines.push_str("    ");
        for column in 1..=picture.width() {
            lines.push(match picture.colour(row, column) {
                None => '.',
                Some(colour) => mark(colour)?,
            });
        }
        lines.push('\n');
    }
    if lines.len() > MOST_TEXT {
        return None;
    }
    let meanings: Vec<String> = picture
        .shown()
        .into_iter()
        .filter_map(|shown| Some(format!("    \"{}\": {},\n", mark(shown)?, colour(shown))))
        .collect();
    Some(format!(
        "let marks = #{{\n{}}};\nlet art = picture(`\n{lines}`, #{{ marks: marks }});\n",
        meanings.concat()
    ))
}

/// A rule that has the picture, and has it tied.
fn with_picture(name: &str, painted: &PaintedBand, open: bool) -> Option<String> {
    let art = art(painted)?;
    let once = if open { ".repeats(1)" } else { "" };
    Some(match &painted.found {
        HowTied::OverLeader { ground } => {
            let wishes = if open { ", #{ comes_back: false }" } else { "" };
            format!(
                "{}{art}let ground = {};\nband(art.width + 1)\n    .repeat(over_leader(art{wishes})){once}\n    .colours(colours_over_leader(art, ground{wishes}))\n",
                comment(name, "tied over a leader, which shows the ground"),
                colour(ground),
            )
        }
        HowTied::OnLattice(lattice) => {
            let counts_in_words = match painted.way {
                PaintWay::Pairs => "",
                _ => ABOUT_COUNTS,
            };
            let (what, tie) = match painted.way {
                PaintWay::Pairs => ("in two colours that hang by turns", "in_pairs"),
                _ => ("with the fewest knots that show another colour", "solved"),
            };
            let wishes = match painted.way {
                PaintWay::Pairs => wishes_of_pairs(painted, lattice),
                _ => wishes_of_solved(painted, lattice),
            };
            let wishes = match wishes.is_empty() {
                true => String::new(),
                false => format!(", #{{ {} }}", wishes.join(", ")),
            };
            format!(
                "{}{art}{counts_in_words}let tied = {tie}(art{wishes});\nband(tied.threads).repeat(tied.rows){once}.colours(tied.colours)\n",
                comment(name, what)
            )
        }
    })
}

fn wishes_of_both(painted: &PaintedBand, lattice: &OnLattice) -> Vec<String> {
    let mut wishes = Vec::new();
    let threads = lattice.painting.threads;
    if threads != painted.picture.width() + 1 {
        wishes.push(format!("threads: {threads}"));
    }
    if lattice.free_rows > 0 {
        wishes.push(format!("free_rows: {}", lattice.free_rows));
    }
    wishes
}

fn wishes_of_pairs(painted: &PaintedBand, lattice: &OnLattice) -> Vec<String> {
    let mut wishes = wishes_of_both(painted, lattice);
    if let Some(first) = painted.start.first().filter(|first| **first != 0) {
        wishes.push(format!("first: {}", quoted(&painted.colours[*first].name)));
    }
    wishes
}

fn wishes_of_solved(painted: &PaintedBand, lattice: &OnLattice) -> Vec<String> {
    let counts = painted.colours.iter().zip(painted.counts());
    let counts: Vec<String> = counts
        .map(|(colour, count)| format!("{}: {count}", quoted(&colour.name)))
        .collect();
    let mut wishes = vec![format!("counts: #{{ {} }}", counts.join(", "))];
    wishes.extend(wishes_of_both(painted, lattice));
    if lattice.painting.closing == Closing::Open {
        wishes.push("open: true".to_owned());
    }
    if let Some(patience) = lattice.patience {
        wishes.push(format!("patience: {patience}"));
    }
    wishes
}

/// A rule that has the knots themselves, each as a mark.
fn with_knots(name: &str, painted: &PaintedBand, open: bool) -> String {
    let threads = u16::try_from(painted.start.len()).unwrap_or(u16::MAX);
    let rows: Vec<Row> = painted
        .rows
        .iter()
        .filter(|row| !row.is_empty())
        .cloned()
        .collect();
    let mut grids = vec![String::new()];
    for line in grid_lines(&rows, threads) {
        if grids
            .last()
            .is_some_and(|grid| grid.len() + line.len() > MOST_TEXT)
        {
            grids.push(String::new());
        }
        if let Some(grid) = grids.last_mut() {
            grid.push_str(line.trim_end());
            grid.push('\n');
        }
    }
    let grids: Vec<String> = grids
        .iter()
        .map(|grid| format!("grid(`\n{grid}`)"))
        .collect();
    let start = painted.start.iter();
    let hung: Vec<String> = start.map(|number| name_of_colour(*number)).collect();
    let named = painted.colours.iter().enumerate();
    let named: Vec<String> = named
        .map(|(number, one)| format!("let {} = {};\n", name_of_colour(number), colour(one)))
        .collect();
    let once = if open { ".repeats(1)" } else { "" };
    format!(
        "{}{}let rows = {};\nband({threads}).repeat(rows){once}.colours([{}])\n",
        comment(name, "knot by knot"),
        named.concat(),
        grids.join(" + "),
        hung.join(", ")
    )
}

/// What a colour is called in a rule that has the knots themselves: a letter, and with more of them
/// than letters a number behind it.
fn name_of_colour(number: usize) -> String {
    let letter = ('a'..='z').cycle().nth(number).unwrap_or('a');
    match number / 26 {
        0 => letter.to_string(),
        round => format!("{letter}{round}"),
    }
}
