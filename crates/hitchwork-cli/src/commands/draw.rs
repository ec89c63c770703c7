//! `draw`: one picture of a band, sound or not.

use std::io::IsTerminal;

use hitchwork_core::fabric::Fabric;
use hitchwork_draw::{fabric, png};

use crate::arguments::{Draw, Picture};
use crate::trouble::Trouble;
use crate::{Verdict, folder, input, say};

pub(crate) fn run(draw: &Draw) -> Result<Verdict, Trouble> {
    let extension = draw.out.as_deref().map(|out| {
        out.extension()
            .and_then(|extension| extension.to_str())
            .map(str::to_ascii_lowercase)
    });
    let as_png = match extension.as_ref().map(Option::as_deref) {
        None | Some(Some("svg")) => false,
        Some(Some("png")) => true,
        Some(_) => {
            let help = "end the file's name in .svg or .png";
            return Err(Trouble::new(
                "the name of the picture does not say what kind it shall be",
                help,
            ));
        }
    };
    if draw.out.is_none() && std::io::stdout().is_terminal() {
        let help = "give it a file, such as --out band.svg, or send it to another program";
        return Err(Trouble::new("a picture is not for the terminal", help));
    }
    let input::Input { band, .. } = input::band(&draw.subject)?;
    let svg = match draw.picture {
        Picture::Fabric => {
            let options = fabric::Options {
                repeats: draw.repeats,
                upright: draw.upright,
                pixels_per_mm: draw.pixels_per_mm,
            };
            fabric::svg(&band, &Fabric::of(&band), &options)?
        }
    };
    let bytes = if as_png {
        png::render(&svg, 1.0)?
    } else {
        svg.into_bytes()
    };
    match &draw.out {
        Some(out) => {
            folder::write_one(out, &bytes)?;
            say::aside(format!("{}\n", out.display()))?;
        }
        None => say::raw(&bytes)?,
    }
    Ok(Verdict::Sound)
}
