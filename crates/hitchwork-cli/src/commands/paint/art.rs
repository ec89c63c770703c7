//! The picture that is to be painted, read from whatever it was saved as.

use std::collections::BTreeMap;

use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::lattice::LatticePicture;
use hitchwork_core::picture::{MOTIF, Means, Picture, PixelGrid, mark_of, marked};
use hitchwork_core::text;
use hitchwork_rules::load::{self, FileKind};
use hitchwork_rules::picture_file::{self, PictureUnread};

use super::palette::PaintPalette;
use crate::arguments::PaintArguments;
use crate::trouble::Trouble;

/// A picture in the colours in which it is to hang.
pub(super) struct Art {
    pub(super) form: ArtForm,
    /// All of its cells; of letters in a text those of every place, if they can all be read.
    pub(super) picture: Option<Picture>,
    /// The colour of the ground, where it shows nothing.
    pub(super) ground: Colour,
    /// The slips that were taken for what they seem to mean.
    pub(super) slips: Vec<String>,
}

/// How a picture was written.
pub(super) enum ArtForm {
    /// A letter for each knot of the lattice.
    Letters(Letters),
    /// Marks of a motif.
    Motif,
    /// Pixels.
    Pixels,
}

/// Letters of a text, and their colours.
pub(super) struct Letters {
    pub(super) lattice: LatticePicture,
    pub(super) letters: Vec<char>,
    pub(super) colours: Vec<Colour>,
}

impl Art {
    /// Reads the picture. With `colours`, pixels come in so many, whatever was asked.
    pub(super) fn read(paint: &PaintArguments, colours: Option<usize>) -> Result<Self, Trouble> {
        let shown = paint.picture.to_string_lossy();
        let bytes = load::bytes(&paint.picture, &shown, FileKind::Picture)?;
        let palette = PaintPalette::of(paint)?;
        // What is called a picture of pixels and is none was damaged, or saved as something else:
        // nobody means its first letters for colours.
        if !picture_file::is_picture(&bytes)
            && !picture_file::is_called_pixels(&shown)
            && let Ok(words) = text::decoded(&bytes)
        {
            return Self::of_text(paint, &shown, &words, &palette);
        }
        if picture_file::is_called_text(&shown)
            && let Err(error) = text::decoded(&bytes)
        {
            return Err(Trouble::of_file(&shown, &error));
        }
        Self::of_pixels(paint, &shown, &bytes, colours.or(paint.colours), &palette)
    }

    /// The marks of its colours in a rule: those of its text, or letters.
    pub(super) fn marks(&self) -> Vec<(Srgb, char)> {
        let colours = match (&self.form, &self.picture) {
            (ArtForm::Letters(letters), _) => {
                let named = letters.colours.iter().zip(&letters.letters);
                return named
                    .map(|(colour, letter)| (colour.srgb, *letter))
                    .collect();
            }
            (_, Some(picture)) => picture.colours().iter().chain([&self.ground]),
            (_, None) => return Vec::new(),
        };
        let colours = colours.map(|colour| colour.srgb);
        match self.form {
            ArtForm::Motif => colours.zip([MOTIF, '.']).collect(),
            _ => colours.zip((0..).map_while(mark_of)).collect(),
        }
    }

    fn of_text(
        paint: &PaintArguments,
        shown: &str,
        words: &str,
        palette: &PaintPalette,
    ) -> Result<Self, Trouble> {
        let of_pixels = [
            ("--columns", paint.columns.is_some()),
            ("--colours", paint.colours.is_some()),
        ];
        if let Some((option, _)) = of_pixels.iter().find(|(_, given)| *given) {
            return Err(Trouble::new(
                format!("{shown} is a text, each mark of which is a cell"),
                format!("leave out {option}, which is for pictures of pixels"),
            ));
        }
        let unread = |error: hitchwork_core::Error| Trouble::of_file(shown, &error);
        let marks = words.chars().filter(|mark| *mark == MOTIF).count();
        let letters = words.chars().filter(|mark| mark.is_alphabetic()).count();
        if marks > letters {
            if letters > 0 {
                return Err(stray_letter(shown, words));
            }
            let [ground, motif] = match palette.ground(paint, &[])? {
                Some(ground) => [ground.clone(), palette.unlike_all(&[ground])],
                None => palette.two_unlike()?,
            };
            let marks = BTreeMap::from([(MOTIF, Some(motif))]);
            let found = marked(words, &marks).map_err(unread)?;
            let shorter: Vec<usize> = found.shorter.iter().map(|row| row.line).collect();
            return Ok(Self {
                form: ArtForm::Motif,
                slips: short_lines(&shorter, "the ground"),
                picture: Some(laid(paint, found.picture, None).map_err(unread)?),
                ground,
            });
        }
        let of_cells = [("--along", paint.along), ("--margin", paint.margin > 0)];
        if let Some((option, _)) = of_cells.iter().find(|(_, given)| *given) {
            return Err(Trouble::new(
                format!("{shown} has a letter for each knot, and the knots stay where they are"),
                format!("leave out {option}, or write a text of # and dots"),
            ));
        }
        let lattice = LatticePicture::read(words).map_err(unread)?;
        let letters = match &paint.counts {
            Some(counts) => letters_of(counts.0.iter().map(|(name, _)| name.as_str()))?,
            None => lattice.marks(),
        };
        let colours = palette.unlike(letters.len())?;
        let named = letters.iter().copied().zip(colours.iter().cloned());
        let mut marks: BTreeMap<char, Option<Colour>> = named
            .map(|(letter, colour)| (letter, Some(colour)))
            .collect();
        marks.insert('?', None);
        let picture = marked(words, &marks).ok().map(|found| found.picture);
        let keys: Vec<String> = letters.iter().map(char::to_string).collect();
        let named: Vec<(&str, &Colour)> = keys.iter().map(String::as_str).zip(&colours).collect();
        let ground = palette.ground(paint, &named)?;
        let ground = ground.unwrap_or_else(|| palette.unlike_all(&colours));
        Ok(Self {
            slips: slips_of_letters(words, &lattice, &letters),
            form: ArtForm::Letters(Letters {
                lattice,
                letters,
                colours,
            }),
            picture,
            ground,
        })
    }

    fn of_pixels(
        paint: &PaintArguments,
        shown: &str,
        bytes: &[u8],
        colours: Option<usize>,
        palette: &PaintPalette,
    ) -> Result<Self, Trouble> {
        let unread = |unread: PictureUnread| {
            Trouble::new(format!("{shown}: {unread}"), unread.help().to_owned())
        };
        let wrong = |error: hitchwork_core::Error| unread(error.into());
        let mut pixels = picture_file::pixels(bytes).map_err(unread)?;
        if let Some(columns) = paint.columns {
            pixels = pixels.shrunk(columns).map_err(wrong)?;
        }
        let (across, word) = match paint.along {
            true => (pixels.height(), "high"),
            false => (pixels.width(), "wide"),
        };
        if across > 199 {
            return Err(Trouble::new(
                format!("{shown} is {across} pixels {word}; a band shows at most 199 columns"),
                "shrink it with --columns: 12 to 40 make an ordinary band",
            ));
        }
        let picture = match colours {
            Some(count) => few_colours(pixels, count).map_err(wrong)?,
            None if pixels.colour_count() > 64 => {
                return Err(Trouble::new(
                    format!(
                        "{shown} shows {} colours; a picture has at most 64",
                        pixels.colour_count()
                    ),
                    "bring it down to few with --colours: 2 to 5 are still easy to hang",
                ));
            }
            None => pixels.picture().map_err(wrong)?,
        };
        let picture = palette.nearest(&picture)?;
        let named: Vec<(&str, &Colour)> = (picture.shown().into_iter())
            .map(|colour| (colour.name.as_str(), colour))
            .collect();
        let asked = palette.ground(paint, &named)?;
        let most = picture.shown().into_iter();
        let most = most
            .max_by_key(|colour| cells_of(&picture, colour))
            .cloned();
        let margin = asked.clone().or(most);
        let picture = laid(paint, picture, margin).map_err(wrong)?;
        let ground = asked.unwrap_or_else(|| palette.unlike_all(picture.colours()));
        Ok(Self {
            form: ArtForm::Pixels,
            picture: Some(picture),
            ground,
            slips: Vec::new(),
        })
    }
}

/// The picture as it is to lie on the band: turned to run along it, and with a margin of its ground.
/// What shows nothing is the ground, and where every cell shows something, this colour.
fn laid(
    paint: &PaintArguments,
    picture: Picture,
    margin: Option<Colour>,
) -> Result<Picture, hitchwork_core::Error> {
    let picture = match paint.along {
        true => picture.quarter_turned(1)?,
        false => picture,
    };
    if paint.margin == 0 {
        return Ok(picture);
    }
    let padded = picture.padded([paint.margin; 2], [paint.margin; 2])?;
    match margin.filter(|_| !picture.cells().contains(&None)) {
        Some(margin) => padded.filled(margin),
        None => Ok(padded),
    }
}

/// How many cells show a colour.
pub(super) fn cells_of(picture: &Picture, colour: &Colour) -> usize {
    let number = picture.colours().iter().position(|known| known == colour);
    let shows = |cell: &&Option<u8>| cell.map(usize::from) == number;
    picture.cells().iter().filter(shows).count()
}

/// The most lines of a text that are named.
const MOST_LINES: usize = 5;

/// A letter in a text that is for the most part # and dots.
fn stray_letter(shown: &str, words: &str) -> Trouble {
    let of_line = |(number, line): (usize, &str)| {
        let mut marks = (1..).zip(line.chars());
        let stray = marks.find(|(_, mark)| mark.is_alphabetic());
        stray.map(|(character, letter)| (number, character, letter))
    };
    let stray = (1..).zip(words.lines()).find_map(of_line);
    let (line, character, letter) = stray.unwrap_or_default();
    Trouble::new(
        format!(
            "{shown}, line {line}, character {character}: \"{letter}\" is a letter, in a picture of # and dots"
        ),
        "write # where the motif shows, and a dot for its ground; of letters alone each is the colour of a knot",
    )
}

/// Says which lines of a text end before its width.
fn short_lines(short: &[usize], instead: &str) -> Vec<String> {
    let mut named: Vec<String> = short
        .iter()
        .take(MOST_LINES)
        .map(usize::to_string)
        .collect();
    if short.len() > MOST_LINES {
        named.push(format!("{} more", short.len() - MOST_LINES));
    }
    match short {
        [] => Vec::new(),
        [one] => vec![format!(
            "line {one} is shorter than others: what it lacks at its end is taken for {instead}"
        )],
        _ => vec![format!(
            "lines {} are shorter than others: what they lack at their ends is taken for {instead}",
            named.join(", ")
        )],
    }
}

/// Says where a text of letters may not mean what it says.
fn slips_of_letters(words: &str, lattice: &LatticePicture, letters: &[char]) -> Vec<String> {
    let columns = usize::from(lattice.columns());
    // The odd rows have the odd columns, and the even rows the even ones.
    let last_knot = |row: usize| (row % 2..columns).step_by(2).next_back();
    let lines = words.lines().take(lattice.rows()).enumerate();
    let short = lines
        .filter(|(row, line)| last_knot(*row).is_some_and(|last| line.chars().count() <= last));
    let short: Vec<usize> = short.map(|(row, _)| row + 1).collect();
    let mut slips = short_lines(&short, "any colour");
    if let [letter] = letters {
        let dots = match words.contains('.') {
            true => format!(
                ": a dot is any colour here. For a motif on a ground write # instead of {letter}"
            ),
            false => String::new(),
        };
        slips.push(format!("everything is one colour{dots}"));
    }
    slips
}

fn few_colours(pixels: PixelGrid, count: usize) -> Result<Picture, hitchwork_core::Error> {
    let mut means = Means::new(pixels, count)?;
    while means.go_on() {}
    means.picture()
}

/// Letters that are given as names of colours, in the order of the alphabet.
fn letters_of<'a>(names: impl Iterator<Item = &'a str>) -> Result<Vec<char>, Trouble> {
    let letter = |name: &str| {
        let mut letters = name.chars();
        match (letters.next(), letters.next()) {
            (Some(letter), None) if letter.is_alphabetic() => Ok(letter),
            _ => Err(Trouble::new(
                format!("the picture is a text, and \"{name}\" is not one of its letters"),
                "give each letter with its threads, such as --counts a=6,b=6",
            )),
        }
    };
    let mut letters: Vec<char> = names.map(letter).collect::<Result<_, _>>()?;
    letters.sort_unstable();
    Ok(letters)
}
