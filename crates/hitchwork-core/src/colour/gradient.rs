//! Gradients through stops whose steps look equally large.

use palette::{IntoColor, Lab, Oklab, color_difference::Ciede2000, white_point::D65};

use super::space::{distance, oklab, srgb, within_gamut};
use super::{Colour, Palette, Srgb, name_apart, name_unlike};
use crate::error::{Error, Problem};
use crate::limits::MAX_COLOURS;

/// The way from one stop to the next.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Way {
    /// Straight through OKLab: between opposite hues it passes near grey.
    #[default]
    Straight,
    /// Round the hues of OKLCH, the shorter way.
    ShorterHue,
    /// Round the hues of OKLCH, the longer way.
    LongerHue,
}

/// Where a gradient leads.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Course {
    /// Back to its first stop: the last colour is one step from the first, as a drift
    /// needs it.
    #[default]
    Cyclic,
    /// From the first stop to the last, both included.
    Open,
    /// To the last stop and back the same way; the last colour is one step from the first.
    /// An odd number of colours turns between two that are alike.
    ThereAndBack,
}

/// A gradient through any number of stops, spaced evenly.
///
/// Neighbouring colours are equally far apart along the path by CIEDE2000, however the
/// stops lie. Where the path leaves the sRGB gamut, lightness and hue stay and the colour
/// is made duller until it can be shown.
///
/// ```
/// use hitchwork_core::colour::{Course, Gradient, Srgb, Way, difference};
/// let stops = ["#f26b5e", "#23979f"].map(|hex| hex.parse::<Srgb>().expect("a colour"));
/// let rainbow = Gradient::through(stops).way(Way::LongerHue).course(Course::Open).colours(9)?;
/// assert_eq!(rainbow.len(), 9);
/// let steps: Vec<f64> = rainbow.windows(2).map(|two| difference(two[0].srgb, two[1].srgb)).collect();
/// assert!(steps.iter().all(|step| (step - steps[0]).abs() < 0.15 * steps[0]));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Gradient {
    stops: Vec<Colour>,
    way: Way,
    course: Course,
}

/// Into how many pieces the path is cut to measure its length, and the fewest and most
/// for one leg of it.
const PIECES: usize = 512;
const PIECES_OF_LEG: (usize, usize) = (8, 64);

/// Below this OKLCH chroma a colour is grey and takes the hue of its neighbour.
const GREY: f64 = 1e-3;

type FloatLab = Lab<D65, f64>;

/// A place on the path, with the way walked up to it.
struct Milestone {
    colour: Oklab<f64>,
    walked: f64,
}

impl Gradient {
    /// A gradient through named stops.
    #[must_use]
    pub fn new(stops: Vec<Colour>) -> Self {
        Self {
            stops,
            way: Way::default(),
            course: Course::default(),
        }
    }

    /// A gradient through stops that are named by what they look like.
    #[must_use]
    pub fn through(stops: impl IntoIterator<Item = Srgb>) -> Self {
        Self::new(Colour::spoken(stops))
    }

    /// Goes this way from stop to stop.
    #[must_use]
    pub fn way(mut self, way: Way) -> Self {
        self.way = way;
        self
    }

    /// Leads there.
    #[must_use]
    pub fn course(mut self, course: Course) -> Self {
        self.course = course;
        self
    }

    /// `count` colours. Those that fall on a stop keep its name; the others are named by
    /// what they look like, and no name comes twice but for colours that do: there and
    /// back passes each colour between its ends twice.
    ///
    /// ```
    /// use hitchwork_core::colour::{Gradient, Srgb};
    /// let gradient = Gradient::through([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]);
    /// assert_eq!(gradient.colours(5)?.len(), 5);
    /// assert!(gradient.colours(0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When `count` is 0 or more than a band can have colours, or there are no stops.
    pub fn colours(&self, count: usize) -> Result<Vec<Colour>, Error> {
        if count == 0 || count > MAX_COLOURS {
            return Err(Problem::GradientCount { found: count }.into());
        }
        let Some(first) = self.stops.first() else {
            return Err(Problem::EmptyPalette.into());
        };
        if count == 1 {
            return Ok(vec![first.clone()]);
        }
        let values = self.walked().values(count);
        Ok(match self.course {
            Course::Cyclic | Course::Open => named(&values),
            Course::ThereAndBack => {
                let out = named(&values[..=count / 2]);
                let back = out.iter().skip(1).rev();
                let back = back.skip(usize::from(count.is_multiple_of(2)));
                out.iter().chain(back).cloned().collect()
            }
        })
    }

    /// The path through the stops, measured. There is at least one stop.
    pub(super) fn walked(&self) -> Walked<'_> {
        let mut stops: Vec<&Colour> = self.stops.iter().collect();
        if self.course == Course::Cyclic {
            stops.push(&self.stops[0]);
        }
        let (fewest, most) = PIECES_OF_LEG;
        let pieces = (PIECES / stops.len()).clamp(fewest, most);
        let start = oklab(stops[0].srgb);
        let mut milestones = vec![Milestone {
            colour: start,
            walked: 0.0,
        }];
        let mut seen: FloatLab = start.into_color();
        let mut walked = 0.0;
        for two in stops.windows(2) {
            let leg = Leg::new(oklab(two[0].srgb), oklab(two[1].srgb), self.way);
            for piece in 1..=pieces {
                #[allow(clippy::cast_precision_loss, reason = "a few dozen pieces")]
                let colour = within_gamut(leg.at(piece as f64 / pieces as f64));
                let next: FloatLab = colour.into_color();
                walked += seen.difference(next);
                seen = next;
                milestones.push(Milestone { colour, walked });
            }
        }
        let at_stops = milestones.iter().step_by(pieces).map(|stop| stop.walked);
        Walked {
            stops: at_stops.zip(stops).collect(),
            milestones,
            course: self.course,
        }
    }
}

/// A value of a gradient, and the stop on which it falls, if it does.
type Value<'a> = (Option<&'a Colour>, Srgb);

/// A path through stops with the way walked to each place on it.
pub(super) struct Walked<'a> {
    stops: Vec<(f64, &'a Colour)>,
    milestones: Vec<Milestone>,
    course: Course,
}

impl<'a> Walked<'a> {
    /// `count` values in equal steps, without names.
    pub(super) fn values(&self, count: usize) -> Vec<Value<'a>> {
        let length = self.milestones.last().map_or(0.0, |last| last.walked);
        let (reach, steps) = match self.course {
            Course::Cyclic => (length, count),
            Course::Open => (length, count.saturating_sub(1).max(1)),
            Course::ThereAndBack => (2.0 * length, count),
        };
        let value = |step: usize| {
            #[allow(clippy::cast_precision_loss, reason = "at most a thousand colours")]
            let along = reach * step as f64 / steps as f64;
            let turned = self.course == Course::ThereAndBack && along > length;
            let along = if turned { reach - along } else { along };
            let near = |(walked, _): &&(f64, &Colour)| (walked - along).abs() <= 1e-9 * reach;
            match self.stops.iter().find(near) {
                Some((_, stop)) => (Some(*stop), stop.srgb),
                None => (None, srgb(place(&self.milestones, along))),
            }
        };
        (0..count).map(value).collect()
    }
}

/// The colour so far along the path.
fn place(path: &[Milestone], along: f64) -> Oklab<f64> {
    let next = path.partition_point(|milestone| milestone.walked <= along);
    let Some(after) = path.get(next) else {
        return path[path.len() - 1].colour;
    };
    let before = &path[next.saturating_sub(1)];
    let part = (along - before.walked) / (after.walked - before.walked);
    mixed(before.colour, after.colour, part)
}

fn mixed(from: Oklab<f64>, to: Oklab<f64>, part: f64) -> Oklab<f64> {
    Oklab::new(
        from.l + (to.l - from.l) * part,
        from.a + (to.a - from.a) * part,
        from.b + (to.b - from.b) * part,
    )
}

/// Names for the colours that are no stops. One that comes to the very value of a stop is
/// that colour.
fn named(colours: &[Value<'_>]) -> Vec<Colour> {
    let stops: Vec<&Colour> = colours.iter().filter_map(|(stop, _)| *stop).collect();
    let colours: Vec<Value<'_>> = colours
        .iter()
        .map(|(stop, value)| {
            let same = || stops.iter().copied().find(|stop| stop.srgb == *value);
            (stop.or_else(same), *value)
        })
        .collect();
    let taken: Vec<&str> = colours
        .iter()
        .filter_map(|(stop, _)| stop.map(|stop| stop.name.as_str()))
        .collect();
    let nameless: Vec<Srgb> = colours
        .iter()
        .filter(|(stop, _)| stop.is_none())
        .map(|(_, value)| *value)
        .collect();
    let mut names = name_unlike(&nameless, &taken).into_iter();
    let mut all: Vec<Colour> = colours
        .iter()
        .map(|(stop, value)| match stop {
            Some(stop) => (*stop).clone(),
            None => Colour::new(names.next().expect("one name for each"), *value),
        })
        .collect();
    name_apart(&mut all);
    all
}

/// From one stop to the next.
enum Leg {
    Straight(Oklab<f64>, Oklab<f64>),
    Round {
        lightness: (f64, f64),
        chroma: (f64, f64),
        hue: (f64, f64),
    },
}

impl Leg {
    fn new(from: Oklab<f64>, to: Oklab<f64>, way: Way) -> Self {
        if way == Way::Straight {
            return Self::Straight(from, to);
        }
        let chroma = |colour: Oklab<f64>| libm::hypot(colour.a, colour.b);
        let hue = |colour: Oklab<f64>| libm::atan2(colour.b, colour.a).to_degrees();
        let (mut start, mut end) = match (chroma(from) < GREY, chroma(to) < GREY) {
            (true, true) => return Self::Straight(from, to),
            (true, false) => (hue(to), hue(to)),
            (false, true) => (hue(from), hue(from)),
            (false, false) => (hue(from), hue(to)),
        };
        // The rules of CSS Color Module Level 4, section 12.4 (section from memory).
        let turn = end - start;
        match way {
            Way::LongerHue if 0.0 < turn && turn < 180.0 => start += 360.0,
            Way::LongerHue if -180.0 < turn && turn < 0.0 => end += 360.0,
            Way::ShorterHue if turn > 180.0 => start += 360.0,
            Way::ShorterHue if turn < -180.0 => end += 360.0,
            _ => {}
        }
        Self::Round {
            lightness: (from.l, to.l),
            chroma: (chroma(from), chroma(to)),
            hue: (start, end),
        }
    }

    fn at(&self, part: f64) -> Oklab<f64> {
        match *self {
            Self::Straight(from, to) => mixed(from, to, part),
            Self::Round {
                lightness,
                chroma,
                hue,
            } => {
                let between = |(from, to): (f64, f64)| from + (to - from) * part;
                let (angle, chroma) = (between(hue).to_radians(), between(chroma));
                Oklab::new(
                    between(lightness),
                    chroma * libm::cos(angle),
                    chroma * libm::sin(angle),
                )
            }
        }
    }
}

/// `count` colours round the closed path through the palette's stops, the last leading
/// back to the first, equally far apart along the path by CIEDE2000.
///
/// A palette that has exactly `count` colours is taken as it is: they were chosen to
/// stand beside each other. Otherwise see [`Gradient::colours`].
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
/// When `count` is 0 or more than a band can have colours, or the palette is empty.
pub fn cyclic_gradient(palette: &Palette, count: usize) -> Result<Vec<Colour>, Error> {
    as_it_is_or(palette, count, Course::Cyclic)
}

/// `count` colours through the palette's stops from the first to the last, equally far
/// apart along the path by CIEDE2000; unlike [`cyclic_gradient`] they do not lead back.
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
/// When `count` is 0 or more than a band can have colours, or the palette is empty.
pub fn fade(palette: &Palette, count: usize) -> Result<Vec<Colour>, Error> {
    as_it_is_or(palette, count, Course::Open)
}

fn as_it_is_or(palette: &Palette, count: usize, course: Course) -> Result<Vec<Colour>, Error> {
    if count > 0 && count == palette.colours.len() && count <= MAX_COLOURS {
        return Ok(palette.colours.clone());
    }
    Gradient::new(palette.colours.clone())
        .course(course)
        .colours(count)
}

/// `count` of a palette's own colours, each as unlike the ones before it as can be (by
/// distance in OKLab): the palette's first colour, then the one furthest from it, then the
/// one whose nearest neighbour among those is furthest away, and so on. The first suits
/// as a ground, the second as a motif on it.
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
    // How far each that is left is from the nearest of those that were chosen.
    let mut nearest = vec![f64::INFINITY; left.len()];
    while chosen.len() < count {
        let newest = oklab(chosen[chosen.len() - 1].srgb);
        for (nearest, colour) in nearest.iter_mut().zip(&left) {
            *nearest = nearest.min(distance(newest, oklab(colour.srgb)));
        }
        let furthest = (0..left.len())
            .rev()
            .max_by(|a, b| nearest[*a].total_cmp(&nearest[*b]))
            .expect("the palette has more colours than were chosen");
        nearest.remove(furthest);
        chosen.push(left.remove(furthest));
    }
    Ok(chosen)
}
