//! A band while a rule is still describing it.

use std::sync::Arc;

use hitchwork_core::band::{Band, BandParts, Origin};
use hitchwork_core::colour::{self, Colour};
use hitchwork_core::craft::{End, Gauge, Shape};
use hitchwork_core::fabric::Fabric;
use hitchwork_core::lay::Lay;
use hitchwork_core::proof::{Edges, Permutation, drifting_order_through};
use hitchwork_core::row::{self, Row};

use crate::spread::remembered;

/// How long a band becomes when neither rule nor maker says: once round an ordinary wrist
/// without its ties (common practice, no source).
const ORDINARY_LENGTH_MM: f64 = 150.0;

/// What a rule has said about its band so far. A value: every method gives a new one. What
/// may be long is shared, so that a copy costs next to nothing however often a rule takes one.
#[derive(Clone, Debug)]
pub(crate) struct Sketch {
    pub(crate) threads: u16,
    pub(crate) title: Option<Arc<str>>,
    pub(crate) notes: Arc<str>,
    pub(crate) lead_in: Arc<[Row]>,
    pub(crate) repeat: Arc<[Row]>,
    pub(crate) lead_out: Arc<[Row]>,
    pub(crate) repeats: Option<u32>,
    pub(crate) as_written: bool,
    pub(crate) colours: Colours,
    pub(crate) start: Option<End>,
    pub(crate) finish: Option<End>,
    pub(crate) gauge: Gauge,
}

/// How the threads get their colours.
#[derive(Clone, Debug)]
pub(crate) enum Colours {
    /// Nobody has said.
    Unsaid,
    /// One for each thread, from left to right.
    Given(Arc<[Colour]>),
    /// In the order in which the gradient drifts, from the first repeat on.
    Drift {
        gradient: Arc<[Colour]>,
        first: usize,
        steps: usize,
    },
}

impl Sketch {
    pub(crate) fn new(threads: u16) -> Self {
        Self {
            threads,
            title: None,
            notes: Arc::default(),
            lead_in: Arc::default(),
            repeat: Arc::default(),
            lead_out: Arc::default(),
            repeats: None,
            as_written: false,
            colours: Colours::Unsaid,
            start: None,
            finish: None,
            gauge: Gauge::default(),
        }
    }

    /// Makes the band: solves the colours, chooses what was left open, and checks it all.
    pub(crate) fn finish(
        self,
        title: String,
        origin: Origin,
        sources: Vec<String>,
        length_mm: Option<f64>,
    ) -> Result<Band, hitchwork_core::Error> {
        let (palette, threads) = self.hang()?;
        let parts = BandParts {
            title: self.title.map_or(title, |title| title.to_string()),
            notes: self.notes.to_string(),
            palette,
            threads,
            lead_in: self.lead_in.to_vec(),
            repeat: self.repeat.to_vec(),
            lead_out: self.lead_out.to_vec(),
            repeats: self.repeats.unwrap_or(1),
            as_written: self.as_written,
            start: self.start.unwrap_or_default(),
            finish: self.finish.unwrap_or_default(),
            gauge: self.gauge,
            origin: Some(origin),
            sources,
        };
        let mut band = Band::new(parts)?;
        let wanted = length_mm.or_else(|| self.repeats.is_none().then_some(ORDINARY_LENGTH_MM));
        if let Some(length_mm) = wanted {
            band = band.at_least_mm(length_mm)?;
        }
        if self.start.is_some() && self.finish.is_some() {
            return Ok(band);
        }
        let fabric = Fabric::of(&band);
        let edges = Edges::of(&fabric, &Lay::of(&fabric, &band.gauge()));
        let natural = |shapes: &[Shape]| End {
            shape: shapes.first().copied().unwrap_or_default(),
            ..End::default()
        };
        let mut parts = band.into_parts();
        parts.start = self.start.unwrap_or_else(|| natural(&edges.start.suits));
        parts.finish = self.finish.unwrap_or_else(|| natural(&edges.finish.suits));
        Band::new(parts)
    }

    /// How many knots all its rows have.
    pub(crate) fn knots(&self) -> usize {
        let parts = [&self.lead_in, &self.repeat, &self.lead_out];
        parts
            .into_iter()
            .flat_map(|rows| rows.iter())
            .map(Row::len)
            .sum()
    }

    /// The colour of each thread, from left to right.
    pub(crate) fn thread_colours(&self) -> Result<Vec<Colour>, hitchwork_core::Error> {
        let (palette, threads) = self.hang()?;
        let colour = |index: &u16| palette[usize::from(*index)].clone();
        Ok(threads.iter().map(colour).collect())
    }

    /// The mirror image of the band.
    pub(crate) fn mirrored(self) -> Result<Self, hitchwork_core::Error> {
        let mut colours = self.thread_colours()?;
        colours.reverse();
        let mirrored = |rows: &[Row]| row::mirrored(rows, self.threads);
        Ok(Self {
            lead_in: mirrored(&self.lead_in)?.into(),
            repeat: mirrored(&self.repeat)?.into(),
            lead_out: mirrored(&self.lead_out)?.into(),
            colours: Colours::Given(colours.into()),
            start: self.start.map(End::mirrored),
            finish: self.finish.map(End::mirrored),
            ..self
        })
    }

    /// The rows of the band read from the finish to the start; its ends change places.
    pub(crate) fn upside_down(self) -> Self {
        Self {
            lead_in: row::upside_down(&self.lead_out).into(),
            repeat: row::upside_down(&self.repeat).into(),
            lead_out: row::upside_down(&self.lead_in).into(),
            start: self.finish,
            finish: self.start,
            ..self
        }
    }

    /// The band in whose knots the other threads work.
    pub(crate) fn inverted(self) -> Self {
        Self {
            lead_in: row::inverted(&self.lead_in).into(),
            repeat: row::inverted(&self.repeat).into(),
            lead_out: row::inverted(&self.lead_out).into(),
            ..self
        }
    }

    /// The band with another to its right. Each part stands beside the same part of the
    /// other; the repeats are brought in step.
    pub(crate) fn beside(
        self,
        right: &Self,
        threads: u16,
        joining: &Row,
    ) -> Result<Self, hitchwork_core::Error> {
        let beside = |left: &[Row], right: &[Row]| row::beside(left, self.threads, right, joining);
        let alone = |left: &[Row], right: &[Row]| match (left, right) {
            // Rows tied once need no joining where there are none.
            ([], []) => Ok(Vec::new()),
            _ => beside(left, right),
        };
        let (left_repeat, right_repeat) = row::in_step(&self.repeat, &right.repeat)?;
        let colours = [self.thread_colours()?, right.thread_colours()?].concat();
        Ok(Self {
            threads,
            lead_in: alone(&self.lead_in, &right.lead_in)?.into(),
            repeat: alone(&left_repeat, &right_repeat)?.into(),
            lead_out: alone(&self.lead_out, &right.lead_out)?.into(),
            repeats: None,
            colours: Colours::Given(colours.into()),
            start: None,
            finish: None,
            ..self
        })
    }

    /// The band with the rows of another, on as many threads, after its own.
    pub(crate) fn then(self, next: &Self) -> Self {
        let both = |first: &[Row], second: &[Row]| [first, second].concat().into();
        Self {
            lead_in: both(&self.lead_in, &next.lead_in),
            repeat: both(&self.repeat, &next.repeat),
            lead_out: both(&self.lead_out, &next.lead_out),
            repeats: self.repeats.or(next.repeats),
            start: self.start.or(next.start),
            finish: next.finish.or(self.finish),
            ..self
        }
    }

    /// The palette, and the colour of each thread as an index into it.
    fn hang(&self) -> Result<(Vec<Colour>, Vec<u16>), hitchwork_core::Error> {
        let threads = usize::from(self.threads);
        match &self.colours {
            Colours::Drift {
                gradient,
                first,
                steps,
            } => {
                let repeat = Permutation::of_rows(&self.repeat, self.threads);
                // There and back, a gradient passes colours twice, and the maker has one
                // thread for both.
                let (palette, places) = palette_of(gradient);
                let order = drifting_order_through(&repeat, &places, *steps, *first)?;
                // So it hangs when the first repeat begins; the lead-in comes before.
                let lead_in = Permutation::of_rows(&self.lead_in, self.threads);
                let order = lead_in
                    .before(&order)
                    .into_iter()
                    .map(|step| index(places[step]));
                Ok((palette, order.collect()))
            }
            Colours::Given(colours) => Ok(hung(colours)),
            Colours::Unsaid => {
                let tide = colour::built_in_palettes()
                    .into_iter()
                    .next()
                    .expect("there are built-in palettes");
                let count = threads.max(1);
                let spread = || colour::cyclic_gradient(&tide, count);
                Ok(hung(&remembered(
                    "cyclic_gradient",
                    &tide.colours,
                    count,
                    spread,
                )?))
            }
        }
    }
}

/// The palette of colours given thread by thread, and the place of each in it.
fn hung(colours: &[Colour]) -> (Vec<Colour>, Vec<u16>) {
    let (palette, places) = palette_of(colours);
    (palette, places.into_iter().map(index).collect())
}

/// The different colours in their order, and the place of each among them. A colour is its
/// value: two gradients may meet in one under two names, and both may pass through what is
/// called "deep blue".
fn palette_of(colours: &[Colour]) -> (Vec<Colour>, Vec<usize>) {
    let mut palette: Vec<Colour> = Vec::new();
    let mut places = Vec::with_capacity(colours.len());
    for colour in colours {
        let known = palette.iter().position(|known| known.srgb == colour.srgb);
        places.push(known.unwrap_or_else(|| {
            palette.push(colour.clone());
            palette.len() - 1
        }));
    }
    colour::name_apart(&mut palette);
    (palette, places)
}

fn index(step: usize) -> u16 {
    u16::try_from(step).unwrap_or(u16::MAX)
}
