//! The colours that a picture can have, where they come from, and which of them are taken.

use std::collections::BTreeMap;

use hitchwork_core::colour::{
    self, Colour, Owned, Palette, Srgb, contrasting_colours, difference, match_threads,
};
use hitchwork_core::near::did_you_mean_quoted;
use hitchwork_core::picture::Picture;

use crate::arguments::PaintArguments;
use crate::input;
use crate::trouble::Trouble;

/// The palette of the colours where nobody says.
const ORDINARY_PALETTE: &str = "regatta";

/// The colours that there are to choose from.
pub(super) struct PaintPalette {
    palette: Palette,
    /// Whether somebody has chosen it, for pixels too.
    chosen: bool,
}

impl PaintPalette {
    pub(super) fn of(paint: &PaintArguments) -> Result<Self, Trouble> {
        let name = match (&paint.palette, &paint.making.stash) {
            (Some(name), _) => name,
            (None, Some(stash)) => return Self::of_stash(stash),
            (None, None) => ORDINARY_PALETTE,
        };
        Ok(Self {
            palette: named(name)?,
            chosen: paint.palette.is_some(),
        })
    }

    /// The threads of which there is some left.
    fn of_stash(file: &str) -> Result<Self, Trouble> {
        let owned = input::stash_quietly(file)?.in_hand();
        if owned.is_empty() {
            return Err(Trouble::new(
                format!("{file} has no thread of which anything is left"),
                "name a palette with --palette, or add threads",
            ));
        }
        Ok(Self {
            palette: Palette {
                name: file.to_owned(),
                sentence: String::new(),
                colours: owned.iter().map(Owned::colour).collect(),
            },
            chosen: true,
        })
    }

    fn check(&self, count: usize) -> Result<(), Trouble> {
        let has = self.palette.colours.len();
        match !self.chosen || count <= has {
            true => Ok(()),
            false => Err(Trouble::new(
                format!(
                    "the picture has {count} colours, and {} has {has}",
                    self.palette.name
                ),
                "choose another palette, or paint with fewer colours (pixels come in fewer with --colours)",
            )),
        }
    }

    /// So many colours, as unlike each other as can be.
    pub(super) fn unlike(&self, count: usize) -> Result<Vec<Colour>, Trouble> {
        self.check(count)?;
        Ok(contrasting_colours(&self.palette, count)?)
    }

    pub(super) fn two_unlike(&self) -> Result<[Colour; 2], Trouble> {
        let two = self.unlike(2)?;
        Ok(<[Colour; 2]>::try_from(two).expect("two"))
    }

    /// The colour of the ground, where somebody asks for one: one of these, by what it is called; or
    /// else one of the palette, or any by its value.
    pub(super) fn ground(
        &self,
        paint: &PaintArguments,
        shown: &[(&str, &Colour)],
    ) -> Result<Option<Colour>, Trouble> {
        let Some(asked) = &paint.ground else {
            return Ok(None);
        };
        let palette = &self.palette.colours;
        let known = shown.iter().find(|(called, _)| called == asked);
        let known = known.map(|(_, colour)| *colour);
        let known = known.or_else(|| {
            shown
                .iter()
                .map(|(_, colour)| *colour)
                .find(|one| one.name == *asked)
        });
        let known = known.or_else(|| palette.iter().find(|one| one.name == *asked));
        if let Some(known) = known {
            return Ok(Some(known.clone()));
        }
        let Ok(srgb) = asked.parse::<Srgb>() else {
            let names = shown.iter().map(|(called, _)| *called);
            let names: Vec<&str> = names
                .chain(palette.iter().map(|one| one.name.as_str()))
                .collect();
            return Err(Trouble::new(
                format!("--ground names {asked}, which no colour is called"),
                format!(
                    "{}give a value such as \"#1d6f8c\", or one of these: {}",
                    did_you_mean_quoted(asked, names.iter().copied()),
                    names.join(", ")
                ),
            ));
        };
        let is_it = |one: &&Colour| one.srgb == srgb;
        let of_picture = shown.iter().map(|(_, colour)| *colour).find(is_it);
        let known = of_picture.or_else(|| palette.iter().find(is_it));
        Ok(known.cloned().or_else(|| Colour::spoken([srgb]).pop()))
    }

    /// The colour that is furthest from all of these.
    pub(super) fn unlike_all(&self, colours: &[Colour]) -> Colour {
        let nearest = |one: &Colour| {
            let far = colours.iter().map(|other| difference(one.srgb, other.srgb));
            far.fold(f64::INFINITY, f64::min)
        };
        let palette = self.palette.colours.iter().rev();
        let furthest = palette.max_by(|one, other| nearest(one).total_cmp(&nearest(other)));
        furthest.cloned().expect("no palette is empty")
    }

    /// The picture in the colours of the palette that come nearest to its own, each used once; as it
    /// is where nobody has chosen a palette.
    pub(super) fn nearest(&self, picture: &Picture) -> Result<Picture, Trouble> {
        let shown: Vec<Colour> = picture.shown().into_iter().cloned().collect();
        if !self.chosen || shown.is_empty() {
            return Ok(picture.clone());
        }
        self.check(shown.len())?;
        let owned: Vec<Owned> = self
            .palette
            .colours
            .iter()
            .map(|colour| Owned::new(colour.name.clone(), colour.srgb))
            .collect();
        let matching = match_threads(&shown, &owned)?;
        let becomes: BTreeMap<_, Colour> = matching
            .pairs
            .iter()
            .map(|pair| (pair.wanted.srgb, pair.thread.colour()))
            .collect();
        Ok(picture.recoloured(|colour| becomes.get(&colour.srgb).cloned())?)
    }
}

/// The palette of a name, or in a file.
fn named(name: &str) -> Result<Palette, Trouble> {
    if let Some(own) = input::palette_file(name)? {
        return Ok(own);
    }
    colour::palette(name).ok_or_else(|| {
        let all = colour::built_in_palettes();
        let names: Vec<&str> = all.iter().map(|palette| palette.name.as_str()).collect();
        let meant = did_you_mean_quoted(name, names.iter().copied());
        Trouble::new(
            format!("there is no palette called \"{name}\""),
            format!("{meant}there are: {}", names.join(", ")),
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A ground that is like one of the colours does not set it off, however unlike it is the others.
    #[test]
    fn the_ground_is_unlike_every_colour_of_the_picture() {
        let grey = |name: &str, part: u8| Colour::new(name, Srgb::new(part, part, part));
        let palette = PaintPalette {
            palette: Palette {
                name: "greys".to_owned(),
                sentence: String::new(),
                colours: vec![grey("coal", 20), grey("slate", 120), grey("chalk", 235)],
            },
            chosen: true,
        };
        let ground = palette.unlike_all(&[grey("black", 0), grey("white", 255)]);
        assert_eq!(ground.name, "slate");
    }
}
