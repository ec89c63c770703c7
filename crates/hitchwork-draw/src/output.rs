//! Everything that can be written of a tied band, in one list.
//!
//! Commands, plans, pages and programs that embed this crate read the list: what stands in it
//! can be asked for everywhere, by one name, and is the same file wherever it is asked for.

mod options;
pub(crate) mod recipe;

use std::fmt;

use hitchwork_core::tied::Tied;

pub use self::options::OutputOptions;
use self::recipe::{Making, Recipe, Usual};
use crate::error::{Error, Problem};
use crate::{fabric, font, gradient, knots, order, pages, strands, text, thread_use};

/// All that there is, in the order in which it is shown to people. A new one is a line here, and
/// its own file.
static LIST: &[&Recipe] = &[
    &fabric::OUTPUT,
    &fabric::TILE_OUTPUT,
    &strands::OUTPUT,
    &knots::OUTPUT,
    &order::OUTPUT,
    &thread_use::OUTPUT,
    &gradient::OUTPUT,
    #[cfg(feature = "html")]
    &crate::html::OUTPUT,
    #[cfg(feature = "pdf")]
    &crate::pdf::OUTPUT,
    &text::OUTPUT,
];

/// A file that was made but not yet written.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct OutputFile {
    /// What it is called.
    pub name: String,
    /// What is in it.
    pub bytes: Vec<u8>,
}

/// Something that can be written of a tied band: a picture, a chart, a sheet.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
/// use hitchwork_draw::output::{OutputOptions, Output};
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// let tied = Tied::of(band);
/// let mut names = Vec::new();
/// for output in Output::all() {
///     let files = output.files(&tied, &OutputOptions::fitting(&tied))?;
///     names.extend(files.into_iter().map(|file| file.name));
/// }
/// assert_eq!(names[..3], ["fabric.svg", "tile.svg", "strands.svg"]);
/// assert!(Output::find("weather").is_none());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Output {
    /// In the list.
    place: usize,
}

impl Output {
    /// All of them, in the order in which people are shown them.
    pub fn all() -> impl ExactSizeIterator<Item = Self> + Clone {
        (0..LIST.len()).map(|place| Self { place })
    }

    /// The one of that name.
    #[must_use]
    pub fn find(name: &str) -> Option<Self> {
        Self::all().find(|output| output.name() == name)
    }

    /// What is written of a band that is made by itself, where nothing else is asked for.
    ///
    /// ```
    /// use hitchwork_draw::output::Output;
    /// assert!(Output::usual_of_one().any(|output| output.name() == "strands"));
    /// ```
    pub fn usual_of_one() -> impl Iterator<Item = Self> + Clone {
        Self::all().filter(|output| output.recipe().usual != Usual::Never)
    }

    /// What is written of each of many bands, where nothing else is asked for.
    ///
    /// ```
    /// use hitchwork_draw::output::Output;
    /// let names: Vec<&str> = Output::usual_of_many().map(Output::name).collect();
    /// assert_eq!(names, ["fabric", "html"]);
    /// ```
    pub fn usual_of_many() -> impl Iterator<Item = Self> + Clone {
        Self::all().filter(|output| output.recipe().usual == Usual::Always)
    }

    fn recipe(self) -> &'static Recipe {
        LIST[self.place]
    }

    /// Its name, by which commands and plans ask for it.
    #[must_use]
    pub fn name(self) -> &'static str {
        self.recipe().name
    }

    /// What it shows, in a few words.
    #[must_use]
    pub fn meaning(self) -> &'static str {
        self.recipe().meaning
    }

    /// What a link or a button calls it.
    #[must_use]
    pub fn short(self) -> &'static str {
        self.recipe().short
    }

    /// Whether it is a picture, which [`svg`](Self::svg) draws.
    #[must_use]
    pub fn is_picture(self) -> bool {
        !matches!(self.recipe().making, Making::Document(..))
    }

    /// Whether it shows the fabric itself: its size is said in pixels per millimetre.
    #[must_use]
    pub fn is_woven(self) -> bool {
        matches!(self.recipe().making, Making::Woven(_))
    }

    /// The ending of its files.
    #[must_use]
    pub fn ending(self) -> &'static str {
        match self.recipe().making {
            Making::Document(ending, _) => ending,
            _ => "svg",
        }
    }

    /// Draws it: one text of SVG, or one for each page. They name the font and do not carry it.
    ///
    /// ```
    /// use hitchwork_draw::output::{OutputOptions, Output};
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row, tied::Tied};
    /// # let tied = Tied::of(Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?);
    /// let (order, steps) = (Output::find("order").unwrap(), Output::find("text").unwrap());
    /// assert!(order.svg(&tied, &OutputOptions::default())?[0].starts_with("<svg"));
    /// assert!(steps.svg(&tied, &OutputOptions::default()).is_err());
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// When it is not a picture, or one that would be too large, or the options do not suit it.
    pub fn svg(self, tied: &Tied, options: &OutputOptions) -> Result<Vec<String>, Error> {
        match self.recipe().making {
            Making::Woven(draw) | Making::Chart(draw) => Ok(vec![draw(tied, options)?]),
            Making::Pages(draw) => draw(tied, options),
            Making::Document(..) => Err(Problem::NoPicture { name: self.name() }.into()),
        }
    }

    /// Makes its files: pictures carry the letters that they use. Nothing is written.
    ///
    /// # Errors
    /// When it would be too large, or the options do not suit it.
    pub fn files(self, tied: &Tied, options: &OutputOptions) -> Result<Vec<OutputFile>, Error> {
        let recipe = self.recipe();
        if let Making::Document(ending, write) = recipe.making {
            return Ok(vec![OutputFile {
                name: format!("{}.{ending}", recipe.stem),
                bytes: write(tied, options)?,
            }]);
        }
        let svg = self.svg(tied, options)?;
        let names = pages::names(recipe.stem, "svg", svg.len());
        let whole = |(name, svg): (String, &String)| {
            let bytes = font::carried(svg)?.into_bytes();
            Ok(OutputFile { name, bytes })
        };
        #[cfg_attr(
            not(feature = "png"),
            expect(unused_mut, reason = "pixels would follow")
        )]
        let mut files: Vec<OutputFile> = names
            .into_iter()
            .zip(&svg)
            .map(whole)
            .collect::<Result<_, Error>>()?;
        #[cfg(feature = "png")]
        if options.pixels_too && self.is_woven() {
            files.push(OutputFile {
                name: format!("{}.png", recipe.stem),
                bytes: crate::png::render(&svg[0], 1.0)?,
            });
        }
        Ok(files)
    }

    /// What its first file may be called: a chart of several pages numbers them.
    ///
    /// ```
    /// use hitchwork_draw::output::Output;
    /// let first = |name| Output::find(name).unwrap().first_files();
    /// assert_eq!(first("strands"), ["strands.svg", "strands-1.svg"]);
    /// assert_eq!(first("html"), ["sheet.html"]);
    /// ```
    #[must_use]
    pub fn first_files(self) -> Vec<String> {
        let recipe = self.recipe();
        let most = match recipe.making {
            Making::Pages(_) => 2,
            _ => 1,
        };
        let first = |pages| pages::names(recipe.stem, self.ending(), pages).swap_remove(0);
        (1..=most).map(first).collect()
    }

    /// Whether a file of this name is one of those that it makes of some band, not counting
    /// pixels.
    ///
    /// ```
    /// use hitchwork_draw::output::Output;
    /// let strands = Output::find("strands").unwrap();
    /// assert!(strands.makes("strands.svg") && strands.makes("strands-12.svg"));
    /// assert!(!strands.makes("strands-0.svg") && !strands.makes("order.svg"));
    /// assert!(!Output::find("order").unwrap().makes("order-2.svg"));
    /// ```
    #[must_use]
    pub fn makes(self, file: &str) -> bool {
        let recipe = self.recipe();
        let between = file
            .strip_prefix(recipe.stem)
            .and_then(|rest| rest.strip_suffix(self.ending())?.strip_suffix('.'));
        let page = between.and_then(|between| between.strip_prefix('-'));
        let is_number = |page: &str| {
            let number = page.parse::<usize>();
            number.is_ok_and(|number| number > 0 && number.to_string() == page)
        };
        let has_pages = matches!(recipe.making, Making::Pages(_));
        between == Some("") || has_pages && page.is_some_and(is_number)
    }
}

impl fmt::Display for Output {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

impl fmt::Debug for Output {
    /// As the variant of an enumeration would be: collections have it in their digests.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (first, rest) = self.name().split_at(1);
        write!(f, "{}{rest}", first.to_ascii_uppercase())
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    /// What collections have of it in their digests: told otherwise, every band would be made
    /// again.
    #[test]
    fn digests_know_it_as_they_always_did() {
        let output = Output::find("fabric").expect("listed");
        assert_eq!(format!("{output:?} {output}"), "Fabric fabric");
    }

    #[test]
    fn names_and_files_are_told_apart() {
        let names: BTreeSet<&str> = Output::all().map(Output::name).collect();
        let files: BTreeSet<String> = Output::all()
            .map(|output| format!("{}.{}", output.recipe().stem, output.ending()))
            .collect();
        assert_eq!((names.len(), files.len()), (LIST.len(), LIST.len()));
        for output in Output::all() {
            let name = output.name();
            assert_eq!(Output::find(name), Some(output));
            assert!(
                name.chars().all(|letter| letter.is_ascii_lowercase()),
                "{name}"
            );
            assert!(!output.meaning().ends_with('.'), "{name}");
            assert!(
                output
                    .short()
                    .starts_with(|first: char| first.is_ascii_lowercase()),
                "{name}"
            );
            assert!(
                output.first_files().iter().all(|file| output.makes(file)),
                "{name}"
            );
            // Pages count from 1, without zeros and signs before them, and only where there
            // are pages.
            let file = |page: &str| format!("{}{page}.{}", output.recipe().stem, output.ending());
            let has_pages = matches!(output.recipe().making, Making::Pages(_));
            assert_eq!(output.makes(&file("-12")), has_pages, "{name}");
            for other in ["-0", "-01", "-+1", "-", "-1-2", " ", "1"] {
                assert!(!output.makes(&file(other)), "{name}: {other}");
            }
            let ending = output.ending();
            assert!(!output.makes(&format!("{}{ending}", output.recipe().stem)));
            let own = |file: &&String| output.makes(file);
            assert_eq!(files.iter().filter(own).count(), 1, "{name}");
        }
    }
}
