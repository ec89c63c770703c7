//! Pictures as pixels, on their way to a picture of few cells and few colours.

use std::collections::BTreeMap;

use super::{Cell, Picture, size, wrong};
use crate::colour::{Colour, Srgb};
use crate::error::{Error, Problem};
use crate::limits::{MAX_PICTURE_COLOURS, MAX_PICTURE_COLUMNS, MAX_PICTURE_ROWS};

/// The most pixels of a picture that is read, before it is shrunk.
pub const MAX_PIXELS: u64 = 8_000_000;

/// A cell shows nothing where its pixels let through more than half of the light.
const MOST_TRANSPARENT: u8 = 128;

/// PixelGrid of red, green, blue and opacity, 8 bits each (IEC 61966-2-1).
///
/// ```
/// use hitchwork_core::picture::PixelGrid;
/// let clear = [0, 0, 0, 0];
/// let red = [200, 30, 30, 255];
/// let buoy = PixelGrid::new(2, 1, vec![clear, red])?.picture()?;
/// assert_eq!(buoy.to_string(), ".#\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PixelGrid {
    width: u32,
    height: u32,
    rgba: Vec<[u8; 4]>,
}

impl PixelGrid {
    /// PixelGrid row by row, each from the left.
    ///
    /// # Errors
    /// When there are none, too many, or not as many as the size says.
    pub fn new(width: u32, height: u32, rgba: Vec<[u8; 4]>) -> Result<Self, Error> {
        let count = u64::from(width) * u64::from(height);
        if count == 0 || count > MAX_PIXELS || rgba.len() as u64 != count {
            return Err(Self::too_many(width, height));
        }
        Ok(Self {
            width,
            height,
            rgba,
        })
    }

    /// The error of a picture of a size that is not read.
    #[must_use]
    pub fn too_many(width: u32, height: u32) -> Error {
        wrong(
            format!(
                "a picture of {width} by {height} pixels is not read; it may have 1 to {} million",
                MAX_PIXELS / 1_000_000
            ),
            "shrink it first, to a few hundred pixels across",
        )
    }

    /// How many pixels lie beside each other.
    #[must_use]
    pub const fn width(&self) -> u32 {
        self.width
    }

    /// How many pixels lie below each other.
    #[must_use]
    pub const fn height(&self) -> u32 {
        self.height
    }

    /// A pixel by its column and its row, counted from 0.
    ///
    /// # Panics
    /// When there is no such pixel.
    #[must_use]
    pub fn colour(&self, column: u32, row: u32) -> [u8; 4] {
        self.rgba[row as usize * self.width as usize + column as usize]
    }

    /// The picture shrunk to this many columns, and as many rows as keep its proportions. Each cell
    /// is the average of the light that falls on it, so that fine stripes of black and white
    /// become the grey that they look from afar.
    ///
    /// # Errors
    /// When that is more columns than there are, or more than a picture may have; or the rows are
    /// too many.
    pub fn shrunk(&self, columns: u16) -> Result<Self, Error> {
        if u32::from(columns) > self.width || columns > MAX_PICTURE_COLUMNS || columns == 0 {
            return Err(wrong(
                format!(
                    "a picture of {} columns cannot be shrunk to {columns}",
                    self.width
                ),
                format!("give 1 to {}", self.width.min(MAX_PICTURE_COLUMNS.into())),
            ));
        }
        let (width, height) = (u64::from(self.width), u64::from(self.height));
        let across = u64::from(columns);
        let down = ((height * across + width / 2) / width).max(1);
        if down > u64::from(MAX_PICTURE_ROWS) {
            return Err(Problem::PictureSize {
                columns: columns.into(),
                rows: usize::try_from(down).unwrap_or(usize::MAX),
            }
            .into());
        }
        let light = light_of_parts();
        let mut rgba = Vec::new();
        for row in 0..down {
            for column in 0..across {
                rgba.push(self.average(
                    &light,
                    shares(row, height, down),
                    &shares(column, width, across).collect::<Vec<_>>(),
                ));
            }
        }
        let down = u32::try_from(down).expect("at most 2,000");
        Self::new(columns.into(), down, rgba)
    }

    /// The average light of some pixels, each with its shares across and down.
    fn average(
        &self,
        light: &[f64; 256],
        down: impl Iterator<Item = (usize, u64)>,
        across: &[(usize, u64)],
    ) -> [u8; 4] {
        // Light that shines through counts as little as it shows.
        let (mut sum, mut opacity, mut all) = ([0.0; 3], 0_u64, 0_u64);
        for (row, high) in down {
            for (column, wide) in across {
                let pixel = self.rgba[row * self.width as usize + column];
                let share = high * wide;
                all += share * 255;
                let shown = share * u64::from(pixel[3]);
                opacity += shown;
                #[expect(clippy::cast_precision_loss, reason = "shares are far below 2^53")]
                let shown = shown as f64;
                for (sum, part) in sum.iter_mut().zip(pixel) {
                    *sum += light[usize::from(part)] * shown;
                }
            }
        }
        let alpha = u8::try_from(opacity * 255 / all.max(1)).unwrap_or(255);
        if opacity == 0 {
            return [0; 4];
        }
        #[expect(clippy::cast_precision_loss, reason = "shares are far below 2^53")]
        let whole = opacity as f64;
        let colour = Srgb::from_linear(sum.map(|sum| sum / whole));
        [colour.red, colour.green, colour.blue, alpha]
    }

    /// Every colour that the cells show, with how many show it.
    fn counted(&self) -> BTreeMap<Srgb, u32> {
        let mut counts = BTreeMap::new();
        for colour in self.rgba.iter().filter_map(shown) {
            *counts.entry(colour).or_insert(0) += 1;
        }
        counts
    }

    /// How many different colours the cells show.
    #[must_use]
    pub fn colour_count(&self) -> usize {
        self.counted().len()
    }

    /// The picture as it is, each pixel a cell, its colours named by what they look like.
    ///
    /// # Errors
    /// When it is too large, or has too many colours.
    pub fn picture(&self) -> Result<Picture, Error> {
        self.check_size()?;
        let colours: Vec<Srgb> = self.counted().into_keys().collect();
        if colours.len() > MAX_PICTURE_COLOURS {
            return Err(Problem::PictureColours {
                found: colours.len(),
            }
            .into());
        }
        let numbers = colours.iter().copied().zip(0..).collect();
        self.numbered(Colour::spoken(colours), &numbers)
    }

    /// The picture in these colours, each cell in the one that is nearest to it in `OKLab`
    /// (Ottosson 2020); of those that are equally near, in the first.
    ///
    /// # Errors
    /// When it is too large, or there are no colours or too many.
    pub fn nearest(&self, colours: &[Colour]) -> Result<Picture, Error> {
        self.check_size()?;
        if colours.is_empty() {
            return Err(wrong(
                "there is no colour that the cells of the picture could take",
                "give one colour or more",
            ));
        }
        if colours.len() > MAX_PICTURE_COLOURS {
            return Err(Problem::PictureColours {
                found: colours.len(),
            }
            .into());
        }
        let places: Vec<[f64; 3]> = colours.iter().map(|colour| colour.srgb.oklab()).collect();
        let numbers = self.counted().into_keys().map(|colour| {
            let nearest = nearest(&places, colour.oklab());
            (colour, u8::try_from(nearest).expect("at most 64 colours"))
        });
        self.numbered(colours.to_vec(), &numbers.collect())
    }

    fn check_size(&self) -> Result<(), Error> {
        size(self.width as usize, self.height as usize).map(|_| ())
    }

    fn numbered(
        &self,
        colours: Vec<Colour>,
        numbers: &BTreeMap<Srgb, u8>,
    ) -> Result<Picture, Error> {
        let cell = |pixel: &[u8; 4]| -> Cell { shown(pixel).map(|colour| numbers[&colour]) };
        let columns = u16::try_from(self.width).unwrap_or(u16::MAX);
        Picture::new(columns, colours, self.rgba.iter().map(cell).collect())
    }
}

/// The light of each value of a part (IEC 61966-2-1).
fn light_of_parts() -> [f64; 256] {
    let mut light = [0.0; 256];
    for (value, light) in (0..=255).zip(&mut light) {
        *light = Srgb::new(value, value, value).linear()[0];
    }
    light
}

/// Which pixels lie on a cell, each with how much of it, where `pixels` lie on `cells` in a row.
/// In whole numbers: a pixel is as long as there are cells, and a cell as there are pixels.
fn shares(cell: u64, pixels: u64, cells: u64) -> impl Iterator<Item = (usize, u64)> {
    let (begins, ends) = (cell * pixels, (cell + 1) * pixels);
    (begins / cells..ends.div_ceil(cells)).map(move |pixel| {
        let share = ends.min((pixel + 1) * cells) - begins.max(pixel * cells);
        (usize::try_from(pixel).expect("an index of a pixel"), share)
    })
}

/// The colour of a pixel, if it shows any.
fn shown(pixel: &[u8; 4]) -> Option<Srgb> {
    let [red, green, blue, opacity] = *pixel;
    (opacity >= MOST_TRANSPARENT).then_some(Srgb::new(red, green, blue))
}

fn squared_distance(one: [f64; 3], other: [f64; 3]) -> f64 {
    let squares = one
        .iter()
        .zip(other)
        .map(|(one, other)| (one - other) * (one - other));
    squares.sum()
}

/// The first of those that are nearest.
fn nearest(places: &[[f64; 3]], to: [f64; 3]) -> usize {
    let mut best = (0, f64::INFINITY);
    for (at, place) in places.iter().enumerate() {
        let distance = squared_distance(*place, to);
        if distance < best.1 {
            best = (at, distance);
        }
    }
    best.0
}

/// The colours of a picture brought down to a few, by k-means in `OKLab` (Lloyd 1982; Ottosson
/// 2020), one round at a time, so that whoever asks can stop between two.
///
/// The first mean is the colour that most cells show; each further one that for which its
/// squared distance from the means so far, times the number of its cells, is greatest. So nothing
/// is left to chance, and the same picture has the same colours on every machine.
///
/// ```
/// use hitchwork_core::picture::{Means, PixelGrid};
/// let near = [[200, 30, 30, 255], [204, 30, 30, 255], [20, 40, 200, 255]];
/// let mut means = Means::new(PixelGrid::new(3, 1, near.to_vec())?, 2)?;
/// while means.go_on() {}
/// assert_eq!(means.picture()?.to_string(), "aa#\n");
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug)]
pub struct Means {
    pixels: PixelGrid,
    colours: Vec<(Srgb, [f64; 3], f64)>,
    means: Vec<[f64; 3]>,
    belongs: Vec<usize>,
    rounds: u32,
}

/// Rounds settle sooner as a rule; what they would still change then cannot be seen.
const MOST_ROUNDS: u32 = 40;

impl Means {
    /// The means of this many colours, not yet moved to their middles.
    ///
    /// # Errors
    /// When no cell shows a colour, or no picture may have this many colours.
    pub fn new(pixels: PixelGrid, count: usize) -> Result<Self, Error> {
        if !(1..=MAX_PICTURE_COLOURS).contains(&count) {
            return Err(wrong(
                format!("a picture cannot be brought down to {count} colours"),
                format!("say 1 to {MAX_PICTURE_COLOURS}"),
            ));
        }
        pixels.check_size()?;
        let weighed = |(colour, count): (Srgb, u32)| (colour, colour.oklab(), f64::from(count));
        let colours: Vec<_> = pixels.counted().into_iter().map(weighed).collect();
        let mut far = vec![1.0; colours.len()];
        let mut means = Vec::with_capacity(count);
        while means.len() < count {
            let mut best = (0.0, None);
            for ((_, place, weight), far) in colours.iter().zip(&far) {
                if far * weight > best.0 {
                    best = (far * weight, Some(*place));
                }
            }
            let Some(mean) = best.1 else { break };
            for ((_, place, _), far) in colours.iter().zip(&mut far) {
                let distance = squared_distance(*place, mean);
                *far = if means.is_empty() {
                    distance
                } else {
                    far.min(distance)
                };
            }
            means.push(mean);
        }
        if means.is_empty() {
            return Err(wrong(
                "no cell of the picture shows a colour",
                "give a picture that is not transparent all over",
            ));
        }
        Ok(Self {
            belongs: vec![usize::MAX; colours.len()],
            pixels,
            colours,
            means,
            rounds: 0,
        })
    }

    /// How many distances a round takes.
    #[must_use]
    pub const fn work(&self) -> usize {
        self.colours.len() * self.means.len()
    }

    /// One round more; gives whether anything has moved, and another is worth it.
    pub fn go_on(&mut self) -> bool {
        let mut moved = false;
        let mut sums = vec![([0.0; 3], 0.0); self.means.len()];
        for ((_, place, weight), belongs) in self.colours.iter().zip(&mut self.belongs) {
            let nearest = nearest(&self.means, *place);
            moved |= *belongs != nearest;
            *belongs = nearest;
            let (sum, all) = &mut sums[nearest];
            for (sum, part) in sum.iter_mut().zip(place) {
                *sum += part * weight;
            }
            *all += weight;
        }
        for (mean, (sum, all)) in self.means.iter_mut().zip(sums) {
            if all > 0.0 {
                *mean = sum.map(|sum| sum / all);
            }
        }
        self.rounds += 1;
        moved && self.rounds < MOST_ROUNDS
    }

    /// The picture in the colours of its means, named by what they look like.
    ///
    /// # Errors
    /// When the picture is too large.
    pub fn picture(&self) -> Result<Picture, Error> {
        let colours = Colour::spoken(self.means.iter().map(|mean| Srgb::from_oklab(*mean)));
        let numbers = self.colours.iter().map(|(colour, place, _)| {
            let number = nearest(&self.means, *place);
            (*colour, u8::try_from(number).expect("at most 64 colours"))
        });
        self.pixels.numbered(colours, &numbers.collect())
    }
}
