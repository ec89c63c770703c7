//! The newest band that could be made, as it is shown: its picture, its working chart, its steps, and the
//! files that it is saved as.

use std::sync::OnceLock;

use hitchwork_core::file;
use hitchwork_core::text::capitalised;
use hitchwork_core::tied::Tied;
use hitchwork_draw::fabric::{self, FabricPicture, RenderCache};
use hitchwork_draw::output::{self, Output};
use hitchwork_draw::{font, strands, text};
use hitchwork_rules::PictureTrace;

use super::painting::BandKnots;
use super::settings::SessionSettings;
use super::update::{Control, Entry, ShownProblem};
use crate::input::MIRRORED_WORDS;
use crate::trouble::Trouble;

/// A band that could be made, with its picture.
pub(super) struct Good {
    pub(super) number: u64,
    /// What was wanted, and the command that makes exactly this band.
    pub(super) wishes: SessionSettings,
    pub(super) command: String,
    pub(super) measures: Vec<Entry>,
    pub(super) leaves_to_chance: bool,
    /// Whether the band is mirrored though the rule sets words.
    pub(super) mirrors_words: bool,
    pub(super) tied: Tied,
    pub(super) picture: FabricPicture,
    /// What it knows of the pictures that it shows, which knots show their cells, and how many
    /// changes of the paint it holds.
    pub(super) trace: PictureTrace,
    pub(super) knots: BandKnots,
    pub(super) painted: u64,
    /// The working chart, drawn when somebody first looks at it.
    pub(super) charts: OnceLock<Vec<String>>,
}

/// What came of a run.
pub(super) struct RunOutcome {
    pub(super) made: Result<Good, Vec<ShownProblem>>,
    /// What turns the parameters that the rule declares, as far as it got.
    pub(super) controls: Option<Vec<Control>>,
    pub(super) took_ms: f64,
}

impl Good {
    /// What to be careful with.
    pub(super) fn cautions(&self) -> Vec<String> {
        let mirrored = self.mirrors_words.then(|| format!("{MIRRORED_WORDS}."));
        let cautions = self.tied.cautions().into_iter();
        cautions
            .chain(mirrored.map(|words| capitalised(&words)))
            .collect()
    }

    /// The pages of the working chart; none where the band has no chart.
    pub(super) fn charts(&self) -> Vec<String> {
        // A picture in a page has no letters but its own.
        let drawn = || -> Result<Vec<String>, hitchwork_draw::Error> {
            let pages = strands::pages(&self.tied, &strands::ChartOptions::default())?;
            pages.iter().map(|page| font::carried(page)).collect()
        };
        self.charts
            .get_or_init(|| drawn().unwrap_or_default())
            .clone()
    }

    /// How hard it is: worked out when it is asked for, since it may take longer than all the rest.
    pub(super) fn difficulty(&self) -> String {
        self.tied.difficulty().degree()
    }

    pub(super) fn steps(&self) -> String {
        text::sheet(&self.tied)
    }

    /// The files of what is asked for, with the bytes that `make` writes.
    pub(super) fn files(&self, what: &str, name: &str) -> Result<Vec<(String, Vec<u8>)>, Trouble> {
        if what == "band" {
            let band = file::write(self.tied.band()).into_bytes();
            return Ok(vec![(format!("{name}.band.json"), band)]);
        }
        let Some(output) = Output::find(what) else {
            let all: Vec<&str> = Output::all().map(Output::name).collect();
            return Err(Trouble::new(
                "there is nothing of that name to save",
                format!("save the band, or one of these: {}", all.join(", ")),
            ));
        };
        let options = output::OutputOptions::fitting(&self.tied);
        let made = output.files(&self.tied, &options)?;
        let files = made.into_iter().map(|file| (file.name, file.bytes));
        Ok(files.collect())
    }
}

/// Where pictures are painted.
#[derive(Default)]
pub(super) struct PictureCache {
    sprites: RenderCache,
    /// What was last looked at, of the picture of which run: most likely it is what will be
    /// looked at next.
    looked: Option<(u64, fabric::View)>,
    /// That of the picture of a run, painted before somebody asks for it.
    ready: Option<(u64, fabric::View, Vec<u8>)>,
}

impl PictureCache {
    /// As much of the picture of a run as is looked at.
    pub(super) fn look(&mut self, good: &Good, view: &fabric::View) -> Painted {
        self.looked = Some((good.number, *view));
        match self.ready.take() {
            Some((number, painted, png)) if number == good.number && painted == *view => Ok(png),
            _ => self.paint(&good.picture, view),
        }
    }

    /// Paints what will most likely be asked for, while the update is on its way.
    pub(super) fn paint_ahead(&mut self, good: &Good) {
        if let Some((number, view)) = self.looked
            && number != good.number
        {
            let painted = self.paint(&good.picture, &view).ok();
            self.ready = painted.map(|png| (good.number, view, png));
        }
    }

    fn paint(&mut self, picture: &FabricPicture, view: &fabric::View) -> Painted {
        // Sprites that were left half done would spoil all pictures that follow.
        let mut sprites = std::mem::take(&mut self.sprites);
        let painted = sprites.paint(picture, view);
        self.sprites = sprites;
        painted
    }
}

pub(super) type Painted = Result<Vec<u8>, hitchwork_draw::Error>;
