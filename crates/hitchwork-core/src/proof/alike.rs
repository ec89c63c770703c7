//! Colours that cannot be told apart where the maker, or whoever wears the band, would
//! have to.

use std::collections::BTreeSet;

use super::{Code, Finding, RulePlace, Severity, Where};
use crate::band::Band;
use crate::colour::{Colour, Palette, Sight, Srgb, Vision};
use crate::fabric::Fabric;

pub(super) fn findings(band: &Band, fabric: &Fabric, drifts: bool) -> Vec<Finding> {
    let sight = Sight::of_knot(&band.gauge());
    let colours: Vec<Colour> = band
        .used_colours()
        .into_iter()
        .map(|index| band.palette()[usize::from(index)].clone())
        .collect();
    let one = one_colour_under_two_names(sight, &colours);
    let neighbours = alike_neighbours(sight, &colours, drifts, Vision::Normal);
    let at_a_knot = if one.is_none() && neighbours.is_none() {
        alike_at_a_knot(band, fabric, sight)
    } else {
        None
    };
    let normal = one.into_iter().chain(neighbours).chain(at_a_knot);
    let mut findings: Vec<Finding> = normal.collect();
    // Where normal vision fails, the others fail too, and the same is to be done.
    if findings.is_empty() {
        findings.extend(alike_to_some(sight, &colours, drifts));
    }
    findings
}

fn values(colours: &[Colour]) -> Vec<Srgb> {
    colours.iter().map(|colour| colour.srgb).collect()
}

fn note(message: String, help: String) -> Finding {
    Finding::new(Code::AlikeColours, message, help, Where::default())
}

/// Two colours between which nobody sees a difference. Where they have one value, one of
/// the names is a slip; a gradient that passes close to another colour is none.
fn one_colour_under_two_names(sight: Sight, colours: &[Colour]) -> Option<Finding> {
    let (a, b) = sight.taken_for_one(&values(colours))?;
    let (a, b) = (&colours[a], &colours[b]);
    let message = format!(
        "{} and {} ({} and {}) are two names for what everybody sees as one colour",
        a.name, b.name, a.srgb, b.srgb
    );
    let help = "hang one colour on the threads of both, or make one of them lighter or darker";
    let severity = match a.srgb == b.srgb {
        true => Severity::Warning,
        false => Severity::Note,
    };
    Some(note(message, help.to_owned()).of_severity(severity))
}

/// Neighbours in the gradient that look alike.
fn alike_neighbours(
    sight: Sight,
    colours: &[Colour],
    drifts: bool,
    vision: Vision,
) -> Option<Finding> {
    let alike = sight.alike_neighbours(&values(colours), drifts, vision);
    let &(a, b) = alike.first()?;
    let pairs = match alike.len() {
        1 => "1 pair of neighbouring colours".to_owned(),
        count => format!("{count} pairs of neighbouring colours"),
    };
    let message = format!(
        "{pairs} shade into each other: {} and {} cannot be told apart at the size of a knot",
        colours[a].name, colours[b].name
    );
    let help = format!(
        "{}number the threads at the start and tie by the numbers",
        fewer(sight, colours, vision)
    );
    Some(note(message, help))
}

/// How many colours along the same gradient are told apart, as the first half of what to do.
fn fewer(sight: Sight, colours: &[Colour], vision: Vision) -> String {
    let palette = Palette {
        name: String::new(),
        sentence: String::new(),
        colours: colours.to_vec(),
    };
    let count = palette.told_apart_up_to(sight, &[vision]);
    match count.filter(|count| *count < colours.len()) {
        Some(count) => format!(
            "{count} colours along the same gradient can be told apart, {} cannot: hang {count}, or ",
            colours.len()
        ),
        None => String::new(),
    }
}

/// The two threads of a knot, which the maker holds side by side.
fn alike_at_a_knot(band: &Band, fabric: &Fabric, sight: Sight) -> Option<Finding> {
    let pass = fabric.first_repeat();
    let mut seen = BTreeSet::new();
    let mut number = (0, 0);
    for knot in pass.knots() {
        number = match number {
            (row, knot_of_row) if row == knot.row => (row, knot_of_row + 1),
            _ => (knot.row, 1),
        };
        let (working, core) = (fabric.colour(knot.working), fabric.colour(knot.core));
        if working == core || !seen.insert((working.min(core), working.max(core))) {
            continue;
        }
        let [over, under] = [working, core].map(|index| &band.palette()[usize::from(index)]);
        if sight.tells_apart(over.srgb, under.srgb, Vision::Normal) {
            continue;
        }
        let (row, knot_of_row) = number;
        let message = format!(
            "knot {knot_of_row} of row {row} ties {} over {}, which cannot be told apart at the size of a knot",
            over.name, under.name
        );
        let help = "tell them by their positions, which the sheet gives, or make one of them lighter or darker";
        let place = Where {
            part: Some(pass.part()),
            row: Some(row),
            knot: Some(knot_of_row),
            column: Some(knot.column.number()),
            rule: RulePlace::of(band, fabric.place(pass.part(), row, knot_of_row)),
            ..Where::default()
        };
        return Some(Finding::new(Code::AlikeColours, message, help, place));
    }
    None
}

/// Neighbours that look alike to people who see two primary colours.
fn alike_to_some(sight: Sight, colours: &[Colour], drifts: bool) -> Option<Finding> {
    let first = |vision: Vision| {
        let alike = sight.alike_neighbours(&values(colours), drifts, vision);
        alike.first().map(|pair| (vision, *pair))
    };
    let kinds: Vec<(Vision, (usize, usize))> = Vision::DICHROMACIES
        .iter()
        .copied()
        .filter_map(first)
        .collect();
    let examples: Vec<String> = kinds
        .iter()
        .map(|(vision, (a, b))| {
            format!("{} and {} to {vision}", colours[*a].name, colours[*b].name)
        })
        .collect();
    if examples.is_empty() {
        return None;
    }
    let message = format!(
        "some colours look alike to those who see fewer of them: {}",
        examples.join("; ")
    );
    let help = format!(
        "{}number the threads at the start, so that these makers can tie by the numbers",
        fewer(sight, colours, kinds[0].0)
    );
    Some(note(message, help))
}
