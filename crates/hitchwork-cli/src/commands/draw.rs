//! `draw`: one picture of a band, sound or not.

use std::io::IsTerminal;

use hitchwork_core::craft::Habits;
use hitchwork_core::tied::Tied;
use hitchwork_draw::output::OutputOptions;
use hitchwork_draw::strands::{self, Rows};
use hitchwork_draw::{fabric, knots};

use crate::arguments::DrawArguments;
use crate::pictures::PictureFormat;
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(draw: &DrawArguments) -> Result<Verdict, Trouble> {
    let form = draw
        .out
        .as_deref()
        .map_or(Ok(PictureFormat::Svg), PictureFormat::of)?;
    if draw.out.is_none() && std::io::stdout().is_terminal() {
        let help = "give it a file, such as --out band.svg, or send it to another program";
        return Err(Trouble::new("a picture is not for the terminal", help));
    }
    check_options(draw)?;
    let input::Input { band, .. } = input::band(&draw.subject)?;
    let rows = match draw.of_repeat {
        Some(repeat) => Rows::Repeat(repeat),
        None if draw.all_rows => Rows::All,
        None => Rows::Once,
    };
    let options = OutputOptions {
        fabric: fabric::FabricOptions {
            repeats: draw.repeats,
            upright: draw.upright,
            pixels_per_mm: draw.pixels_per_mm.unwrap_or(12.0),
            table: !draw.no_table,
            symmetry: draw.symmetry.map(Into::into),
            straight: draw.straight,
        },
        strands: strands::ChartOptions {
            rows,
            rows_a_page: draw.rows_a_page,
            ..strands::ChartOptions::default()
        },
        knots: knots::KnotChartOptions {
            rows,
            sideways: draw.sideways,
            ..knots::KnotChartOptions::default()
        },
        ..OutputOptions::default()
    };
    let picture = draw.picture.0;
    let pages = picture.svg(
        &Tied::by(band, draw.order.habits(Habits::default())),
        &options,
    )?;
    let woven = picture.is_woven();
    let scale = draw.scale.unwrap_or(if woven { 1.0 } else { 2.0 });
    let pages: Vec<Vec<u8>> = pages
        .iter()
        .map(|svg| form.bytes(svg, scale))
        .collect::<Result<_, _>>()?;
    let Some(out) = &draw.out else {
        let [page] = &pages[..] else {
            return Err(Trouble::new(
                format!(
                    "the chart has {} pages, and only one goes to standard output",
                    pages.len()
                ),
                "give it a file, such as --out strands.svg: the pages become strands-1.svg, strands-2.svg and so on",
            ));
        };
        say::raw(page)?;
        return Ok(Verdict::Sound);
    };
    for place in folder::write_pages(out, &pages)? {
        say::aside(format!("{}\n", place.display()))?;
    }
    Ok(Verdict::Sound)
}

/// Refuses options that mean nothing for the picture.
fn check_options(draw: &DrawArguments) -> Result<(), Trouble> {
    let picture = draw.picture.0;
    let fabric = picture.name() == "fabric";
    let woven = picture.is_woven();
    let strands = picture.name() == "strands";
    let knots = picture.name() == "knots";
    let given = [
        ("--repeats", draw.repeats.is_some(), fabric, "the fabric"),
        ("--no-table", draw.no_table, fabric, "the fabric"),
        ("--symmetry", draw.symmetry.is_some(), fabric, "the fabric"),
        ("--straight", draw.straight, fabric, "the fabric"),
        ("--upright", draw.upright, woven, "the fabric and the tile"),
        (
            "--pixels-per-mm",
            draw.pixels_per_mm.is_some(),
            woven,
            "the fabric and the tile; charts take --scale",
        ),
        (
            "--scale",
            draw.scale.is_some(),
            !woven,
            "charts; the fabric and the tile take --pixels-per-mm",
        ),
        (
            "--of-repeat",
            draw.of_repeat.is_some(),
            strands || knots,
            "the strands and the knots",
        ),
        (
            "--all-rows",
            draw.all_rows,
            strands || knots,
            "the strands and the knots",
        ),
        ("--sideways", draw.sideways, knots, "the knots"),
        (
            "--rows-a-page",
            draw.rows_a_page.is_some(),
            strands,
            "the strands",
        ),
    ];
    match given
        .into_iter()
        .find(|(_, given, fits, _)| *given && !fits)
    {
        None => Ok(()),
        Some((option, _, _, what)) => Err(Trouble::new(
            format!("{option} has no effect on the picture {picture}"),
            format!("leave it out; {option} is for {what}"),
        )),
    }
}
