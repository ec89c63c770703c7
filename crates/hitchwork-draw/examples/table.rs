//! Paints the evening class's bands into a folder, to be looked at:
//! `cargo run -p hitchwork-draw --example table -- FOLDER`

use hitchwork_core::colour::Sight;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{FabricOptions, svg, tile};
use hitchwork_draw::{Error, font, gradient, order, png, strands, text, thread_use};

#[path = "../tests/common/mod.rs"]
mod common;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let folder = std::env::args()
        .nth(1)
        .ok_or("name the folder to paint into")?;
    std::fs::create_dir_all(&folder)?;
    let bands = [
        ("stripes", common::candy_stripe()),
        ("chevron", common::chevron()),
        ("lozenges", common::lozenges()),
        ("drift", common::drift()),
        ("skerries", common::skerries()),
    ];
    for (name, band) in bands {
        let tied = Tied::of(band);
        let band = tied.band();
        let picture = svg(&tied, &FabricOptions::default())?;
        std::fs::write(format!("{folder}/{name}.svg"), &picture)?;
        std::fs::write(format!("{folder}/{name}.png"), png::render(&picture, 1.0)?)?;
        std::fs::write(
            format!("{folder}/{name}-close.png"),
            png::render(&close(&tied)?, 1.0)?,
        )?;
        let pages = strands::pages(&tied, &strands::ChartOptions::default())?;
        for (page, number) in pages.iter().zip(1..) {
            let file = format!("{folder}/{name}-strands-{number}");
            std::fs::write(format!("{file}.svg"), font::carried(page)?)?;
            std::fs::write(format!("{file}.png"), png::render(page, 1.5)?)?;
        }
        let order = order::svg(&tied);
        std::fs::write(format!("{folder}/{name}-order.svg"), font::carried(&order)?)?;
        std::fs::write(
            format!("{folder}/{name}-order.png"),
            png::render(&order, 1.5)?,
        )?;
        let tile = tile(&tied, &FabricOptions::default())?;
        std::fs::write(format!("{folder}/{name}-tile.svg"), &tile)?;
        std::fs::write(
            format!("{folder}/{name}-tile.png"),
            png::render(&tile, 1.0)?,
        )?;
        let thread = thread_use::svg(&tied);
        std::fs::write(
            format!("{folder}/{name}-thread.png"),
            png::render(&thread, 1.5)?,
        )?;
        let sight = Sight::of_knot(&band.gauge());
        let steps = gradient::svg(band.title(), band.palette(), true, sight)?;
        std::fs::write(
            format!("{folder}/{name}-gradient.png"),
            png::render(&steps, 1.5)?,
        )?;
        std::fs::write(format!("{folder}/{name}.txt"), text::sheet(&tied))?;
    }
    Ok(())
}

/// A few repeats, large enough to see the single thread.
fn close(tied: &Tied) -> Result<String, Error> {
    let few = 24 / u32::try_from(tied.band().repeat().len()).unwrap_or(24);
    svg(
        tied,
        &FabricOptions {
            repeats: Some((few / 3).max(1)),
            upright: false,
            pixels_per_mm: 30.0,
            ..FabricOptions::default()
        },
    )
}
