//! Words as pictures: in letters, and in signal flags.

use hitchwork_core::picture::{Font, Lettering, Picture, signal_flag};
use rhai::plugin::*;
use rhai::{ImmutableString, Map};
use unicode_normalization::UnicodeNormalization;

use super::given::check_cells;
use super::others::file_beside;
use super::wishes::Wishes;
use crate::run::RunHandle;
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    combine_with_exported_module!(module, "letters", letters);
}

/// What a rule may wish of letters, and of flags.
const OF_LETTERS: [&str; 5] = ["colour", "letter_space", "word_space", "along", "font"];
const OF_FLAGS: [&str; 2] = ["space", "along"];

/// The most empty columns between two letters or flags.
const MOST_SPACE: i64 = 200;

/// What a byte of a font takes when it has been read.
const FONT_BYTES: usize = 16;

/// The most cells that a flag has.
const FLAG_CELLS: usize = 12 * 18;

fn set(context: &NativeCallContext, words: &str, wishes: Map) -> ScriptResult<Picture> {
    let mut wishes = Wishes::new(wishes, "lettering", &OF_LETTERS)?;
    let usual = Lettering::default();
    let how = Lettering {
        colour: wishes.colour("colour")?.unwrap_or(usual.colour),
        letter_space: wishes
            .whole("letter_space", 0..=MOST_SPACE)?
            .unwrap_or(usual.letter_space),
        word_space: wishes
            .whole("word_space", 0..=MOST_SPACE)?
            .unwrap_or(usual.word_space),
        along: wishes.flag("along")?.unwrap_or(usual.along),
    };
    let read;
    let font = match wishes.take("font") {
        None => Font::built_in(),
        Some(name) => match name.clone().into_immutable_string() {
            Ok(name) => {
                read = font_beside(context, &name)?;
                &read
            }
            Err(_) => {
                return wishes.wrong("font", &name, "give the name of a BDF file beside the rule");
            }
        },
    };
    // A letter with its accent apart is the same as in one piece.
    let words: String = words.nfc().collect();
    let letters = words.len().min(2_000);
    check_cells(
        context,
        letters.saturating_mul(font.height() * font.height()),
    )?;
    RunHandle::of(context).state().sets_words = true;
    font.lettering(&words, &how)
        .map_err(|error| refused(&error))
}

fn font_beside(context: &NativeCallContext, name: &str) -> ScriptResult<Font> {
    let source = file_beside(context, name, "font")?;
    let run = RunHandle::of(context);
    run.spend(source.bytes.len())?;
    run.make_room(source.bytes.len().saturating_mul(FONT_BYTES))?;
    Font::read(&source.bytes).map_err(|error| {
        wrong_value(
            format!("{}: {error}", source.file),
            error.help().unwrap_or_default(),
        )
    })
}

fn hoisted(context: &NativeCallContext, words: &str, wishes: Map) -> ScriptResult<Picture> {
    let mut wishes = Wishes::new(wishes, "a row of flags", &OF_FLAGS)?;
    let space = wishes.whole("space", 0..=MOST_SPACE)?.unwrap_or(1);
    let along = wishes.flag("along")?.unwrap_or(false);
    let mut all: Option<Picture> = None;
    for sign in words.chars() {
        let flag = signal_flag(sign).ok_or_else(|| {
            let shown: String = sign.escape_debug().collect();
            wrong_value(
                format!("there is no signal flag for \"{shown}\""),
                "the flags are the letters A to Z and the digits 0 to 9; leave out spaces and accents",
            )
        })?;
        let cells = all.as_ref().map_or(0, |all| all.cells().len());
        check_cells(context, cells + FLAG_CELLS)?;
        let with = |before: Picture| match along {
            true => before.above(&flag, space),
            false => before.beside(&flag, space),
        };
        let joined = all.map_or(Ok(flag.clone()), with);
        all = Some(joined.map_err(|error| refused(&error))?);
    }
    RunHandle::of(context).state().sets_words = true;
    all.ok_or_else(|| wrong_value("there are no flags to hoist", "give at least one letter"))
}

#[export_module]
mod letters {
    /// `lettering(words)`: words as a picture, in letters on a line of 9 rows: Latin with its accents,
    /// Greek, Cyrillic, digits and signs; see lettering(words, wishes).
    ///
    /// - `words`: letters and spaces, on one line
    ///
    /// Errors: as lettering(words, wishes).
    ///
    /// ```rhai
    /// let word = lettering("ahoy", #{ along: true });
    /// let night = colour("night", "#22304f");
    /// band(word.width + 1)
    ///     .repeat(over_leader(word.padded(0, 1)))
    ///     .colours([night] + fade("evening sky", word.width))
    /// ```
    #[rhai_fn(return_raw, name = "lettering")]
    pub fn plain_lettering(
        context: NativeCallContext,
        words: ImmutableString,
    ) -> ScriptResult<Picture> {
        set(&context, &words, Map::new())
    }

    /// `lettering(words, wishes)`: words as a picture, set as you wish.
    ///
    /// The picture is as high as a line of the font, so that all words stand on the same line;
    /// picture.trimmed() makes it as high as these. Letters stand in the order in which they are
    /// written, each as wide as it is.
    ///
    /// Wishes: colour, of the letters; letter_space, how many columns lie between two letters (1)
    /// and word_space, how many a space takes (3); along, true where the words run along the band
    /// from its start, and not across it; font, the name of a BDF file in the rule's own folder,
    /// for other letters and other scripts.
    ///
    /// - `words`: letters and spaces, on one line
    /// - `wishes`: a map, such as #{ along: true, colour: colour("lamp", "#ffc145") }
    ///
    /// Errors: wrong-value when the font lacks a letter or cannot be read, or the words are too
    /// long; wrong-arguments when a wish cannot be.
    #[rhai_fn(return_raw, name = "lettering")]
    pub fn wished_lettering(
        context: NativeCallContext,
        words: ImmutableString,
        wishes: Map,
    ) -> ScriptResult<Picture> {
        set(&context, &words, wishes)
    }

    /// `flags(words)`: the flags of the International Code of Signals that spell words, from left
    /// to right; see flags(words, wishes).
    ///
    /// - `words`: letters from A to Z, and digits
    ///
    /// Errors: as flags(words, wishes).
    ///
    /// ```rhai
    /// let hoist = flags("x", #{ along: true }).without("signal white");
    /// let white = colour("signal white", "#f4f1e8");
    /// band(hoist.width + 1).repeat(over_leader(hoist)).colours(colours_over_leader(hoist, white))
    /// ```
    #[rhai_fn(return_raw, name = "flags")]
    pub fn plain_flags(
        context: NativeCallContext,
        words: ImmutableString,
    ) -> ScriptResult<Picture> {
        hoisted(&context, &words, Map::new())
    }

    /// `flags(words, wishes)`: the flags of the International Code of Signals that spell words, as
    /// you wish. Each flag is 12 rows high, a letter's 12 columns wide and a digit's 18, with its
    /// mast at the left. Its colours are signal white, red, yellow, blue and black.
    ///
    /// Wishes: space, how many cells lie between two flags (1); along, true where the flags hang
    /// one below the other, as they are hoisted.
    ///
    /// - `words`: letters from A to Z, and digits
    /// - `wishes`: a map, such as #{ along: true, space: 2 }
    ///
    /// Errors: wrong-value when there is no such flag, or the flags make too large a picture;
    /// wrong-arguments when a wish cannot be.
    #[rhai_fn(return_raw, name = "flags")]
    pub fn wished_flags(
        context: NativeCallContext,
        words: ImmutableString,
        wishes: Map,
    ) -> ScriptResult<Picture> {
        hoisted(&context, &words, wishes)
    }
}
