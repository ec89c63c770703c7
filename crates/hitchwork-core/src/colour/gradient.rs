//! Gradients through stops, evenly spaced in OKLab.

use palette::{FromColor, IntoColor, Oklab, Srgb as FloatSrgb};

use super::{Colour, Palette, Srgb, number_repeated_names, spoken_name};
use crate::band::MAX_COLOURS;
use crate::error::{Error, Problem};

pub(super) fn oklab(colour: Srgb) -> Oklab<f64> {
    let unit = |part: u8| f64::from(part) / 255.0;
    Oklab::from_color(FloatSrgb::new(
        unit(colour.red),
        unit(colour.green),
        unit(colour.blue),
    ))
}

fn srgb(colour: Oklab<f64>) -> Srgb {
    let float: FloatSrgb<f64> = colour.into_color();
    #[allow(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "clamped to 0..=255 first"
    )]
    let part = |unit: f64| (unit * 255.0).round().clamp(0.0, 255.0) as u8;
    Srgb::new(part(float.red), part(float.green), part(float.blue))
}

fn distance(a: Oklab<f64>, b: Oklab<f64>) -> f64 {
    let (lightness, green_red, blue_yellow) = (a.l - b.l, a.a - b.a, a.b - b.b);
    libm::sqrt(lightness * lightness + green_red * green_red + blue_yellow * blue_yellow)
}

/// `count` colours round the closed path through the palette's stops, the last leading
/// back to the first, equally far apart along the path in OKLab (Ottosson 2020).
///
/// A palette that has exactly `count` colours is taken as it is. Otherwise colours that
/// fall on a stop keep its name and the others are named by what they look like; no name
/// comes twice.
///
/// ```
/// use hitchwork_core::colour::{cyclic_gradient, palette};
/// let tide = palette("spring tide").expect("built in");
/// let ten = cyclic_gradient(&tide, 10)?;
/// assert_eq!(ten.len(), 10);
/// assert_eq!(ten[0], tide.colours[0]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When `count` is 0 or more than a band can have colours.
pub fn cyclic_gradient(palette: &Palette, count: usize) -> Result<Vec<Colour>, Error> {
    if count == 0 || count > MAX_COLOURS {
        return Err(Problem::GradientCount { found: count }.into());
    }
    let stops = &palette.colours;
    if stops.is_empty() {
        return Err(Problem::EmptyPalette.into());
    }
    if stops.len() == count {
        return Ok(stops.clone());
    }
    let legs: Vec<(usize, usize)> = (0..stops.len())
        .map(|stop| (stop, (stop + 1) % stops.len()))
        .collect();
    Ok(spread(stops, &legs, count))
}

/// `count` colours through the palette's stops from the first to the last, equally far
/// apart along the path in OKLab; unlike [`cyclic_gradient`] they do not lead back.
///
/// ```
/// use hitchwork_core::colour::{fade, palette};
/// let water = palette("open water").expect("built in");
/// let depths = fade(&water, 9)?;
/// assert_eq!(depths.first(), water.colours.first());
/// assert_eq!(depths.last(), water.colours.last());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When `count` is 0 or more than a band can have colours.
pub fn fade(palette: &Palette, count: usize) -> Result<Vec<Colour>, Error> {
    let stops = &palette.colours;
    if count < 2 || stops.len() < 2 || stops.len() == count {
        return cyclic_gradient(palette, count);
    }
    if count > MAX_COLOURS {
        return Err(Problem::GradientCount { found: count }.into());
    }
    let legs: Vec<(usize, usize)> = (1..stops.len()).map(|stop| (stop - 1, stop)).collect();
    let mut colours = spread(stops, &legs, count - 1);
    colours.extend(stops.last().cloned());
    Ok(colours)
}

/// `count` colours that divide the legs between stops into equal parts; the end of the
/// last leg is not among them.
fn spread(stops: &[Colour], legs: &[(usize, usize)], count: usize) -> Vec<Colour> {
    let path: Vec<Oklab<f64>> = stops.iter().map(|stop| oklab(stop.srgb)).collect();
    let lengths: Vec<f64> = legs
        .iter()
        .map(|&(from, to)| distance(path[from], path[to]))
        .collect();
    let total: f64 = lengths.iter().sum();
    let mut colours = Vec::with_capacity(count);
    let (mut leg, mut before) = (0, 0.0);
    for step in 0..count {
        #[allow(clippy::cast_precision_loss, reason = "at most a few hundred colours")]
        let along = total * step as f64 / count as f64;
        while leg + 1 < legs.len() && before + lengths[leg] <= along {
            before += lengths[leg];
            leg += 1;
        }
        let part = if lengths[leg] > 0.0 {
            (along - before) / lengths[leg]
        } else {
            0.0
        };
        if part < 1e-9 {
            colours.push(stops[legs[leg].0].clone());
            continue;
        }
        let (from, to) = (path[legs[leg].0], path[legs[leg].1]);
        let between = Oklab::new(
            from.l + (to.l - from.l) * part,
            from.a + (to.a - from.a) * part,
            from.b + (to.b - from.b) * part,
        );
        let value = srgb(between);
        colours.push(Colour::new(spoken_name(value), value));
    }
    number_repeated_names(&mut colours);
    colours
}

/// `count` of a palette's own colours, each as unlike the ones before it as can be (by
/// distance in OKLab): the palette's first colour, then the one furthest from it, then the
/// one whose nearest neighbour among those is furthest away, and so on. The first suits
/// as a ground, the second as a figure on it.
///
/// Where more are wanted than the palette has, it gives a [`cyclic_gradient`] instead.
///
/// ```
/// use hitchwork_core::colour::{contrasting_colours, palette};
/// let regatta = palette("regatta").expect("built in");
/// let names: Vec<String> = contrasting_colours(&regatta, 2)?.into_iter().map(|colour| colour.name).collect();
/// assert_eq!(names, ["sail", "marine"]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When `count` is 0 or more than a band can have colours.
pub fn contrasting_colours(palette: &Palette, count: usize) -> Result<Vec<Colour>, Error> {
    let mut left = palette.colours.clone();
    if count == 0 || left.is_empty() || count > left.len() {
        return cyclic_gradient(palette, count);
    }
    let mut chosen = vec![left.remove(0)];
    while chosen.len() < count {
        let nearest = |colour: &Colour| {
            let to = |other: &Colour| distance(oklab(colour.srgb), oklab(other.srgb));
            chosen.iter().map(to).fold(f64::INFINITY, f64::min)
        };
        let furthest = (0..left.len())
            .rev()
            .max_by(|a, b| nearest(&left[*a]).total_cmp(&nearest(&left[*b])))
            .expect("the palette has more colours than were chosen");
        chosen.push(left.remove(furthest));
    }
    Ok(chosen)
}
