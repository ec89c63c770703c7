//! Small pictures for the pages of the project.

use std::collections::BTreeMap;

use png::{BitDepth, ColorType, Compression, Decoder, Encoder, Filter};

/// Colours that a small picture has at most, and so many that nobody misses any.
const MOST_COLOURS: usize = 128;

type Rgb = [u8; 3];

/// The same picture on white, in its most frequent colours, about a quarter as large.
///
/// # Panics
/// When it is no PNG with eight bits for red, green, blue and opacity each.
pub(crate) fn with_few_colours(picture: &[u8]) -> Vec<u8> {
    let mut reader = Decoder::new(std::io::Cursor::new(picture))
        .read_info()
        .expect("a PNG");
    let mut bytes = vec![0; reader.output_buffer_size().expect("of a known size")];
    let info = reader.next_frame(&mut bytes).expect("a picture");
    assert_eq!(
        (info.color_type, info.bit_depth),
        (ColorType::Rgba, BitDepth::Eight)
    );
    let pixels: Vec<Rgb> = bytes[..info.buffer_size()]
        .chunks_exact(4)
        .map(on_white)
        .collect();
    let mut cells = BTreeMap::<Rgb, Vec<Rgb>>::new();
    for pixel in &pixels {
        cells.entry(coarse(*pixel)).or_default().push(*pixel);
    }
    let mut by_count: Vec<&Vec<Rgb>> = cells.values().collect();
    by_count.sort_by_key(|cell| std::cmp::Reverse(cell.len()));
    let palette: Vec<Rgb> = by_count
        .into_iter()
        .take(MOST_COLOURS)
        .map(|cell| mean(cell))
        .collect();
    let places: BTreeMap<Rgb, u8> = cells
        .iter()
        .map(|(coarse, cell)| (*coarse, nearest(mean(cell), &palette)))
        .collect();
    let indices: Vec<u8> = pixels.iter().map(|pixel| places[&coarse(*pixel)]).collect();

    let mut small = Vec::new();
    let mut encoder = Encoder::new(&mut small, info.width, info.height);
    encoder.set_color(ColorType::Indexed);
    encoder.set_depth(BitDepth::Eight);
    encoder.set_palette(palette.concat());
    encoder.set_compression(Compression::High);
    encoder.set_filter(Filter::NoFilter);
    let mut writer = encoder.write_header().expect("writing to memory");
    writer
        .write_image_data(&indices)
        .expect("writing to memory");
    writer.finish().expect("writing to memory");
    small
}

fn on_white(pixel: &[u8]) -> Rgb {
    let opacity = u32::from(pixel[3]);
    let mixed = |part: u8| {
        let mixed = (u32::from(part) * opacity + 255 * (255 - opacity)) / 255;
        u8::try_from(mixed).expect("between two bytes")
    };
    [mixed(pixel[0]), mixed(pixel[1]), mixed(pixel[2])]
}

/// The sixteenth of each channel in which a colour lies.
fn coarse(colour: Rgb) -> Rgb {
    colour.map(|part| part / 16)
}

/// What colours that are much alike look like together.
fn mean(colours: &[Rgb]) -> Rgb {
    [0, 1, 2].map(|channel| {
        let sum: usize = colours
            .iter()
            .map(|colour| usize::from(colour[channel]))
            .sum();
        u8::try_from(sum / colours.len()).expect("between bytes")
    })
}

fn nearest(colour: Rgb, palette: &[Rgb]) -> u8 {
    let apart = |other: &Rgb| -> u32 {
        let parts = colour.iter().zip(other);
        parts
            .map(|(one, two)| u32::from(one.abs_diff(*two)).pow(2))
            .sum()
    };
    let (place, _) = palette
        .iter()
        .enumerate()
        .min_by_key(|(_, other)| apart(other))
        .expect("a picture has colours");
    u8::try_from(place).expect("few colours")
}
