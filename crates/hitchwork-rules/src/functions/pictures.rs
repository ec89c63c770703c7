//! Pictures: small grids of colours, and what can be made of them.

use std::collections::BTreeMap;
use std::ops::RangeInclusive;

use hitchwork_core::colour::{self, Colour, Srgb};
use hitchwork_core::near::did_you_mean_quoted;
use hitchwork_core::picture::{
    MAX_PICTURE_ROWS, MOTIF, MarkedPicture, Means, Picture, PixelGrid, marked,
};
use hitchwork_core::{Error as CoreError, text};
use rhai::plugin::*;
use rhai::{Array, Map};

use super::colours::colours_in;
use super::given::{check_cells, whole_numbers, wrong_arguments};
use super::grids::{misplaced, written_at};
use super::others::file_beside;
use super::wishes::Wishes;
use crate::kinds::type_name;
use crate::picture_file::{self, PictureUnread, is_called_text, is_picture};
use crate::run::RunHandle;
use crate::sources::FileSource;
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<Picture>("picture");
    combine_with_exported_module!(module, "pictures", pictures);
}

/// What a rule may wish of a picture.
const WISHES: [&str; 4] = ["marks", "columns", "colours", "ground"];

/// What a pixel takes while it is read: itself, and what it becomes.
const PIXEL_BYTES: usize = 16;

/// What it takes to remember where a cell comes from.
const ORIGIN_BYTES: usize = 4;

/// What it takes to find and name a colour, and to compare two, in units of work.
const NAME_UNITS: usize = 2_000;
const COMPARE_UNITS: usize = 4;

fn cells_of(picture: &Picture) -> usize {
    picture.cells().len()
}

/// A picture that is made from another of this many cells.
fn changed(
    context: &NativeCallContext,
    cells: usize,
    change: impl FnOnce() -> Result<Picture, CoreError>,
) -> ScriptResult<Picture> {
    check_cells(context, cells)?;
    change().map_err(|error| refused(&error))
}

/// Which colours the marks of a text stand for.
fn marks_of(wishes: &mut Wishes) -> ScriptResult<BTreeMap<char, Option<Colour>>> {
    const HELP: &str = "give a map from marks to colours, with () for nothing: #{ \"#\": colour(\"lamp\", \"#ffc145\"), \"-\": () }";
    let Some(value) = wishes.take("marks") else {
        let ink = hitchwork_core::picture::Lettering::default().colour;
        return Ok(BTreeMap::from([(MOTIF, Some(ink))]));
    };
    let Some(map) = value.clone().try_cast::<Map>() else {
        return wishes.wrong("marks", &value, HELP);
    };
    let mut marks = BTreeMap::new();
    for (name, value) in map {
        let mut letters = name.chars();
        let (Some(mark), None) = (letters.next(), letters.next()) else {
            let shown: String = name.chars().take(60).collect();
            return Err(wrong_value(
                format!("\"{shown}\" is not one mark"),
                "each mark of a picture is one character",
            ));
        };
        let colour = match value.is_unit() {
            true => None,
            false => match value.clone().try_cast::<Colour>() {
                Some(colour) => Some(colour),
                None => return wishes.wrong("marks", &value, HELP),
            },
        };
        marks.insert(mark, colour);
    }
    Ok(marks)
}

/// The lines of a list, as one text in which an empty line is a row of nothing.
fn lines_of(context: &NativeCallContext, list: &Array) -> ScriptResult<String> {
    if list.len() > usize::from(MAX_PICTURE_ROWS) {
        return Err(wrong_value(
            format!(
                "a picture has at most {MAX_PICTURE_ROWS} rows, not {}",
                list.len()
            ),
            "leave out rows, or repeat what comes again",
        ));
    }
    let mut lines = String::new();
    for entry in list {
        let line = entry.clone().into_immutable_string().map_err(|_| {
            wrong_arguments(
                format!(
                    "the rows of a picture hold {} where a text should be",
                    type_name(entry)
                ),
                "give a text for each row: [\".#.\", \"###\"]".to_owned(),
            )
        })?;
        check_cells(context, line.len())?;
        let is_empty = line.trim().is_empty();
        lines.push_str(if is_empty { "." } else { &line });
        lines.push('\n');
    }
    Ok(lines)
}

/// The picture that a rule asks for: drawn in the rule, or in a file beside it.
fn asked_for(
    context: &NativeCallContext,
    what: &Dynamic,
    mut wishes: Wishes,
) -> ScriptResult<Picture> {
    let picture = if let Some(list) = what.read_lock::<Array>() {
        let lines = lines_of(context, &list)?;
        drawn(context, &lines, &mut wishes)?
    } else if let Ok(words) = what.clone().into_immutable_string() {
        match words.contains('\n') {
            true => drawn(context, &words, &mut wishes)?,
            false => in_file(context, &words, &mut wishes)?,
        }
    } else {
        return Err(wrong_arguments(
            format!("a picture cannot be made from {}", type_name(what)),
            "draw it between backticks, give a list of its rows, or the name of a file beside the rule".to_owned(),
        ));
    };
    with_ground(picture, &mut wishes)
}

fn drawn(context: &NativeCallContext, words: &str, wishes: &mut Wishes) -> ScriptResult<Picture> {
    check_cells(context, words.len())?;
    not_wished(wishes, "is drawn in the rule")?;
    let marks = marks_of(wishes)?;
    let written = written_at(context, words);
    let found = marked(words, &marks);
    let whole = found.and_then(MarkedPicture::whole);
    whole.map_err(|error| misplaced(&error, written.as_ref()))
}

/// What is wished of pixels says nothing about marks.
fn not_wished(wishes: &mut Wishes, how: &str) -> ScriptResult<()> {
    for name in ["columns", "colours"] {
        if wishes.take(name).is_some() {
            return Err(wrong_value(
                format!("{name} say nothing about a picture that {how}"),
                "they shrink a picture of pixels, from a file; say with marks what each character stands for",
            ));
        }
    }
    Ok(())
}

fn in_file(context: &NativeCallContext, name: &str, wishes: &mut Wishes) -> ScriptResult<Picture> {
    let source = file_beside(context, name, "picture")?;
    let outcome = match is_picture(&source.bytes) || !is_called_text(name) {
        true => of_pixels(context, &source, wishes).and_then(|read| match read {
            Ok(picture) => remembered(context, name, picture, None).map(Ok),
            unread => Ok(unread),
        }),
        false => of_text(context, name, &source, wishes),
    };
    outcome?.map_err(|unread| {
        wrong_value(
            format!("{}: {unread}", source.file),
            unread.help().to_owned(),
        )
    })
}

type PictureRead = ScriptResult<Result<Picture, PictureUnread>>;

fn of_text(
    context: &NativeCallContext,
    name: &str,
    source: &FileSource,
    wishes: &mut Wishes,
) -> PictureRead {
    check_cells(context, source.bytes.len())?;
    not_wished(wishes, "is written as text")?;
    let marks = marks_of(wishes)?;
    let read = text::decoded(&source.bytes).and_then(|words| marked(&words, &marks));
    Ok(match read {
        Ok(found) => Ok(remembered(context, name, found.picture, Some(marks))?),
        Err(error) => Err(error.into()),
    })
}

/// The picture that was read from a file, whose cells remember it where somebody wants to know.
fn remembered(
    context: &NativeCallContext,
    name: &str,
    picture: Picture,
    marks: Option<BTreeMap<char, Option<Colour>>>,
) -> ScriptResult<Picture> {
    let run = RunHandle::of(context);
    if run.state().trace.is_none() {
        return Ok(picture);
    }
    run.make_room(cells_of(&picture).saturating_mul(ORIGIN_BYTES))?;
    let mut state = run.state();
    Ok(match &mut state.trace {
        Some(trace) => trace.read(name, picture, marks),
        None => picture,
    })
}

fn of_pixels(context: &NativeCallContext, source: &FileSource, wishes: &mut Wishes) -> PictureRead {
    let run = RunHandle::of(context);
    if let Some(value) = wishes.take("marks") {
        return wishes.wrong(
            "marks",
            &value,
            "only pictures that are written as text have marks",
        );
    }
    // A pixel of a plain format takes a bit or more.
    let at_most = source.bytes.len().saturating_mul(8);
    let promised = picture_file::promised(&source.bytes);
    let pixels = promised.map_or(at_most, |pixels| {
        usize::try_from(pixels).unwrap_or(usize::MAX)
    });
    let pixels =
        pixels.min(usize::try_from(hitchwork_core::picture::MAX_PIXELS).unwrap_or(usize::MAX));
    run.spend(pixels)?;
    run.make_room(pixels.saturating_mul(PIXEL_BYTES))?;
    match picture_file::pixels(&source.bytes) {
        Ok(pixels) => reduced(&run, pixels, wishes),
        Err(unread) => Ok(Err(unread)),
    }
}

/// PixelGrid as a picture of as few columns and colours as are wished.
fn reduced(run: &RunHandle, mut pixels: PixelGrid, wishes: &mut Wishes) -> PictureRead {
    let cells = |pixels: &PixelGrid| pixels.width() as usize * pixels.height() as usize;
    if let Some(columns) = wishes.whole("columns", 1..=200)? {
        run.spend(cells(&pixels))?;
        let columns = u16::try_from(columns).unwrap_or(u16::MAX);
        pixels = match pixels.shrunk(columns) {
            Ok(shrunk) => shrunk,
            Err(error) => return Ok(Err(error.into())),
        };
    }
    run.spend(cells(&pixels) * COMPARE_UNITS)?;
    let picture = match wishes.take("colours") {
        None => pixels.picture(),
        Some(value) => {
            if let Some(list) = value.read_lock::<Array>() {
                let list = colours_in(&list, "colours of a picture")?;
                run.spend(cells(&pixels).saturating_mul(list.len()) * COMPARE_UNITS)?;
                pixels.nearest(&list)
            } else if let Some(count) = value
                .as_int()
                .ok()
                .and_then(|count| usize::try_from(count).ok())
            {
                in_few(run, pixels, count)?
            } else {
                return wishes.wrong(
                    "colours",
                    &value,
                    "say how many colours it may have (4), or give a list of colours",
                );
            }
        }
    };
    Ok(picture.map_err(PictureUnread::from))
}

/// The picture in so few colours, with a look at the clock between two rounds.
fn in_few(
    run: &RunHandle,
    pixels: PixelGrid,
    count: usize,
) -> ScriptResult<Result<Picture, CoreError>> {
    run.spend(count.min(64) * NAME_UNITS)?;
    let mut means = match Means::new(pixels, count) {
        Ok(means) => means,
        Err(error) => return Ok(Err(error)),
    };
    loop {
        run.spend(means.work() * COMPARE_UNITS)?;
        if !means.go_on() {
            return Ok(means.picture());
        }
    }
}

/// The picture without the colour that is wished to be its ground, or the one nearest to it.
fn with_ground(picture: Picture, wishes: &mut Wishes) -> ScriptResult<Picture> {
    let Some(ground) = wishes.colour("ground")? else {
        return Ok(picture);
    };
    let far = |colour: &&Colour| colour::difference(colour.srgb, ground.srgb);
    let shown = picture.shown();
    let nearest = shown
        .into_iter()
        .min_by(|one, other| far(one).total_cmp(&far(other)));
    let nearest = nearest.map(|colour| colour.srgb);
    let kept = |colour: &Colour| (Some(colour.srgb) != nearest).then(|| colour.clone());
    picture.recoloured(kept).map_err(|error| refused(&error))
}

/// Rows or columns from a number, a range or a list, all in a row.
fn stretch(numbers: &Dynamic, what: &str) -> ScriptResult<RangeInclusive<u16>> {
    let numbers = whole_numbers(numbers, what)?;
    let ends = numbers.first().zip(numbers.last());
    let small = |number: &i64| u16::try_from(*number).ok();
    let in_a_row = numbers.windows(2).all(|pair| pair[1] == pair[0] + 1);
    let ends = ends.and_then(|(first, last)| small(first).zip(small(last)));
    match ends.filter(|_| in_a_row) {
        Some((first, last)) => Ok(first..=last),
        None => Err(wrong_value(
            format!("these are no {what} that lie side by side"),
            "give a range such as 1..=7; they count from 1",
        )),
    }
}

/// How many cells something takes, or how often it comes.
fn count_of(number: i64, what: &str) -> ScriptResult<usize> {
    let most = i64::from(MAX_PICTURE_ROWS);
    let within = Some(number).filter(|number| *number <= most);
    within
        .map(usize::try_from)
        .and_then(Result::ok)
        .ok_or_else(|| {
            let help = match number < 0 {
                true => "give 0 or more",
                false => "a picture has at most 200 columns and 2,000 rows",
            };
            wrong_value(format!("there cannot be {number} {what}"), help)
        })
}

/// How many cells a picture of these sides has, as far as any may have.
fn area(columns: usize, rows: usize) -> usize {
    columns.min(201).saturating_mul(rows.min(2_001))
}

/// The colour of a picture that is meant by a colour or by its name.
pub(super) fn meant(picture: &Picture, which: &Dynamic) -> ScriptResult<Srgb> {
    let shown = picture.shown();
    let (found, said) = if let Some(colour) = which.read_lock::<Colour>() {
        let found = shown.iter().find(|shown| shown.srgb == colour.srgb);
        (
            found,
            format!("\"{}\" ({})", short(&colour.name), colour.srgb),
        )
    } else if let Ok(name) = which.clone().into_immutable_string() {
        let found = shown.iter().find(|shown| shown.name == name.as_str());
        let near = did_you_mean_quoted(&name, shown.iter().map(|colour| colour.name.as_str()));
        if found.is_none() && !near.is_empty() {
            return Err(wrong_value(
                format!("the picture shows no colour called \"{}\"", short(&name)),
                format!("{near}it shows {}", listed(&shown)),
            ));
        }
        (found, format!("called \"{}\"", short(&name)))
    } else {
        return Err(wrong_arguments(
            format!("a colour of a picture cannot be {}", type_name(which)),
            "give a colour, or its name".to_owned(),
        ));
    };
    found.map(|colour| colour.srgb).ok_or_else(|| {
        wrong_value(
            format!("the picture shows no colour {said}"),
            format!("it shows {}", listed(&shown)),
        )
    })
}

pub(super) fn short(name: &str) -> String {
    name.chars().take(60).collect()
}

/// The colours of a picture in a sentence; of many the first.
fn listed(shown: &[&Colour]) -> String {
    const MOST: usize = 8;
    let name = |colour: &&Colour| format!("{} ({})", short(&colour.name), colour.srgb);
    let names: Vec<String> = shown.iter().take(MOST).map(name).collect();
    match (names.is_empty(), shown.len() > MOST) {
        (true, _) => "no colours at all".to_owned(),
        (false, true) => format!("{} and others", names.join(", ")),
        (false, false) => names.join(", "),
    }
}

#[export_module]
mod pictures {
    /// `picture(what)`: a picture that is drawn in the rule or lies in a file beside it.
    ///
    /// Draw it between backticks, a line for each row and a character for each cell: # shows ink,
    /// and a . or a space shows nothing. Indentation that all lines share does not count, and
    /// lines of nothing but spaces are skipped. All rows are as wide; only spaces may be left off
    /// at the end of a line. A file is called by its name, such as "anchor.png" or
    /// "signs/anchor.txt": PNG, PBM, PGM, PPM, or text with the same marks. It lies in the rule's
    /// own folder.
    ///
    /// - `what`: a text of several lines, a list with a text for each row, or the name of a file
    ///
    /// Errors: wrong-value when a character is not a mark, a row is shorter, there is no such file, it cannot be read,
    /// or the picture is larger than 200 columns or 2,000 rows or has more than 64 colours;
    /// wrong-arguments when it is given anything else.
    ///
    /// ```rhai
    /// let wave = picture(`
    ///     .##....
    ///     #..#..#
    ///     ....##.
    /// `);
    /// let colours = [colour("chalk", "#f4f1e8")] + fade("open water", 7);
    /// band(8).repeat(over_leader(wave)).colours(colours)
    /// ```
    #[rhai_fn(return_raw, name = "picture")]
    pub fn plain_picture(context: NativeCallContext, what: Dynamic) -> ScriptResult<Picture> {
        let wishes = Wishes::new(Map::new(), "a picture", &WISHES)?;
        asked_for(&context, &what, wishes)
    }

    /// `picture(what, wishes)`: the same, read as you wish.
    ///
    /// Wishes of a picture that is text: marks, a map from each mark to the colour for which it
    /// stands, or to () for nothing. Wishes of one that is pixels: columns, to how many it is
    /// shrunk; colours, how many it may have at most, or a list of those that it may have: then
    /// each cell takes the one that looks nearest. Of both: ground, a colour; the colour of the
    /// picture that comes nearest to it becomes nothing.
    ///
    /// - `what`: a text of several lines, a list with a text for each row, or the name of a file
    /// - `wishes`: a map, such as #{ columns: 15, colours: 2, ground: colour("white", "#ffffff") }
    ///
    /// Errors: as picture(what); wrong-value when there is no such wish.
    #[rhai_fn(return_raw, name = "picture")]
    pub fn wished_picture(
        context: NativeCallContext,
        what: Dynamic,
        wishes: Map,
    ) -> ScriptResult<Picture> {
        let wishes = Wishes::new(wishes, "a picture", &WISHES)?;
        asked_for(&context, &what, wishes)
    }

    /// `picture.width`: how many columns the picture has.
    ///
    /// ```rhai
    /// let word = lettering("ebb", #{ along: true });
    /// band(word.width + 1).repeat(over_leader(word)).colours(colours_over_leader(word, colour("foam", "#e8f1ee")))
    /// ```
    #[rhai_fn(get = "width", pure)]
    pub fn width(picture: &mut Picture) -> i64 {
        picture.width().into()
    }

    /// `picture.height`: how many rows the picture has.
    ///
    /// ```rhai
    /// let word = lettering("ebb");
    /// require(word.height == 9, "a line must be 9 rows high", "give another font");
    /// band(word.width + 1).repeat(over_leader(word)).colours(colours_over_leader(word, colour("foam", "#e8f1ee")))
    /// ```
    #[rhai_fn(get = "height", pure)]
    pub fn height(picture: &mut Picture) -> i64 {
        picture.height().into()
    }

    /// `picture.colours`: the colours that the picture shows, as a list.
    ///
    /// ```rhai
    /// let tide = flags("t");
    /// require(tide.colours.len() == 3, "the flag has three colours", "give another letter");
    /// band(6).repeat(forward(1..6)).colours(in_turn(tide.colours, 6))
    /// ```
    #[rhai_fn(get = "colours", return_raw)]
    pub fn shown_colours(context: NativeCallContext, picture: &mut Picture) -> ScriptResult<Array> {
        check_cells(&context, cells_of(picture))?;
        let shown = picture.shown().into_iter().cloned();
        Ok(shown.map(Dynamic::from).collect())
    }

    /// `picture.cell(row, column)`: the colour of a cell, or () where nothing is shown.
    ///
    /// - `row`: from 1 at the top
    /// - `column`: from 1 at the left
    ///
    /// Errors: wrong-value when the picture has no such cell.
    ///
    /// ```rhai
    /// let wave = picture([".##....", "#..#..#", "....##."]);
    /// let blocks = leader_rows(8, 6, |row, column| wave.cell((row + 1) / 2, column) != ());
    /// band(8).repeat(blocks).colours([colour("tar", "#22304f")] + fade("open water", 7))
    /// ```
    #[rhai_fn(return_raw, pure)]
    pub fn cell(picture: &mut Picture, row: i64, column: i64) -> ScriptResult<Dynamic> {
        let inside = |number: i64, most: u16| {
            u16::try_from(number)
                .ok()
                .filter(|number| (1..=most).contains(number))
        };
        let (rows, columns) = (picture.height(), picture.width());
        match inside(row, rows).zip(inside(column, columns)) {
            Some((row, column)) => {
                let colour = picture.colour(row, column);
                Ok(colour.cloned().map_or(Dynamic::UNIT, Dynamic::from))
            }
            None => Err(wrong_value(
                format!("the picture has no cell in row {row}, column {column}"),
                format!("it has rows 1 to {rows} and columns 1 to {columns}"),
            )),
        }
    }

    /// `picture.cropped(rows, columns)`: the part in these rows and columns.
    ///
    /// - `rows`: a range (2..=6) or a row; rows count from 1 at the top
    /// - `columns`: a range (2..=6) or a column; columns count from 1 at the left
    ///
    /// Errors: wrong-value when they do not all lie in the picture.
    ///
    /// ```rhai
    /// let cross = flags("x").cropped(4..=9, 1..=12);
    /// over_leader(cross.without("signal white"))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn cropped(
        context: NativeCallContext,
        picture: Picture,
        rows: Dynamic,
        columns: Dynamic,
    ) -> ScriptResult<Picture> {
        let (rows, columns) = (stretch(&rows, "rows")?, stretch(&columns, "columns")?);
        changed(&context, cells_of(&picture), || {
            picture.cropped(rows, columns)
        })
    }

    /// `picture.trimmed()`: the smallest part that holds all cells which show a colour.
    ///
    /// Errors: wrong-value when none of them shows one.
    ///
    /// ```rhai
    /// let word = lettering("ace").trimmed();
    /// require(word.height == 4, "small letters are 4 rows high", "give another font");
    /// over_leader(word)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn trimmed(context: NativeCallContext, picture: Picture) -> ScriptResult<Picture> {
        changed(&context, 4 * cells_of(&picture), || picture.trimmed())
    }

    /// `picture.padded(cells)`: the picture with this many cells around it that show nothing.
    ///
    /// - `cells`: how many at each side
    ///
    /// Errors: wrong-value when the picture becomes too large.
    ///
    /// ```rhai
    /// over_leader(lettering("ebb", #{ along: true }).padded(1))
    /// ```
    #[rhai_fn(return_raw, name = "padded")]
    pub fn padded_around(
        context: NativeCallContext,
        picture: Picture,
        cells: i64,
    ) -> ScriptResult<Picture> {
        padded(context, picture, cells, cells)
    }

    /// `picture.padded(columns, rows)`: the picture with this many columns at its left and right, and
    /// this many rows above and below it, that show nothing.
    ///
    /// - `columns`: how many at the left and at the right
    /// - `rows`: how many above and below
    ///
    /// Errors: as picture.padded(cells).
    #[rhai_fn(return_raw, name = "padded")]
    pub fn padded(
        context: NativeCallContext,
        picture: Picture,
        columns: i64,
        rows: i64,
    ) -> ScriptResult<Picture> {
        let (columns, rows) = (count_of(columns, "columns")?, count_of(rows, "rows")?);
        let across = columns
            .saturating_mul(2)
            .saturating_add(picture.width().into());
        let down = rows
            .saturating_mul(2)
            .saturating_add(picture.height().into());
        changed(&context, area(across, down), || {
            picture.padded([columns; 2], [rows; 2])
        })
    }

    /// `picture.mirrored()`: the picture with left and right exchanged.
    ///
    /// ```rhai
    /// let wave = picture(["##...", "..##.", "...##"]);
    /// over_leader(wave.beside(wave.mirrored()))
    /// ```
    #[rhai_fn(return_raw, name = "mirrored")]
    pub fn mirrored(context: NativeCallContext, picture: Picture) -> ScriptResult<Picture> {
        changed(&context, cells_of(&picture), || Ok(picture.mirrored()))
    }

    /// `picture.upside_down()`: the picture with its last row first; left and right stay.
    ///
    /// ```rhai
    /// let wave = picture(["##...", "..##.", "...##"]);
    /// over_leader(wave.above(wave.upside_down()))
    /// ```
    #[rhai_fn(return_raw, name = "upside_down")]
    pub fn upside_down(context: NativeCallContext, picture: Picture) -> ScriptResult<Picture> {
        changed(&context, cells_of(&picture), || Ok(picture.upside_down()))
    }

    /// `picture.quarter_turned()`: the picture turned to the right by a quarter of a circle, so
    /// that its left edge comes to lie at the top.
    ///
    /// Errors: wrong-value when it becomes too wide.
    ///
    /// ```rhai
    /// over_leader(lettering("ebb").quarter_turned())
    /// ```
    #[rhai_fn(return_raw, name = "quarter_turned")]
    pub fn quarter_turned_once(
        context: NativeCallContext,
        picture: Picture,
    ) -> ScriptResult<Picture> {
        quarter_turned(context, picture, 1)
    }

    /// `picture.quarter_turned(times)`: the picture turned to the right by this many quarters of a
    /// circle; below 0, to the left.
    ///
    /// - `times`: how many quarters
    ///
    /// Errors: as picture.quarter_turned().
    #[rhai_fn(return_raw, name = "quarter_turned")]
    pub fn quarter_turned(
        context: NativeCallContext,
        picture: Picture,
        times: i64,
    ) -> ScriptResult<Picture> {
        let times = u8::try_from(times.rem_euclid(4)).unwrap_or(0);
        changed(&context, cells_of(&picture), || {
            picture.quarter_turned(times)
        })
    }

    /// `picture.beside(other)`: another picture to the right of this one. Both begin at the top;
    /// where one ends before the other, nothing is shown.
    ///
    /// - `other`: a picture
    ///
    /// Errors: wrong-value when together they are too wide, or have too many colours.
    ///
    /// ```rhai
    /// let buoy = picture([".#.", "###"]);
    /// over_leader(buoy.beside(buoy.upside_down(), 1))
    /// ```
    #[rhai_fn(return_raw, name = "beside")]
    pub fn picture_beside(
        context: NativeCallContext,
        picture: Picture,
        other: Picture,
    ) -> ScriptResult<Picture> {
        spaced_beside(context, picture, other, 0)
    }

    /// `picture.beside(other, space)`: another picture to the right of this one, with columns
    /// between them that show nothing.
    ///
    /// - `other`: a picture
    /// - `space`: how many columns
    ///
    /// Errors: as picture.beside(other).
    #[rhai_fn(return_raw, name = "beside")]
    pub fn spaced_beside(
        context: NativeCallContext,
        picture: Picture,
        other: Picture,
        space: i64,
    ) -> ScriptResult<Picture> {
        let space = count_of(space, "columns")?;
        let across = usize::from(picture.width()) + usize::from(other.width());
        let rows = picture.height().max(other.height());
        changed(
            &context,
            area(across.saturating_add(space), rows.into()),
            || picture.beside(&other, space),
        )
    }

    /// `picture.above(other)`: another picture below this one. Both begin at the left; where one
    /// ends before the other, nothing is shown.
    ///
    /// - `other`: a picture
    ///
    /// Errors: wrong-value when together they are too high, or have too many colours.
    ///
    /// ```rhai
    /// let words = lettering("high").above(lettering("tide"), 2);
    /// band(words.width + 1).repeat(over_leader(words)).colours(colours_over_leader(words, colour("foam", "#e8f1ee")))
    /// ```
    #[rhai_fn(return_raw, name = "above")]
    pub fn picture_above(
        context: NativeCallContext,
        picture: Picture,
        other: Picture,
    ) -> ScriptResult<Picture> {
        spaced_above(context, picture, other, 0)
    }

    /// `picture.above(other, space)`: another picture below this one, with rows between them that
    /// show nothing.
    ///
    /// - `other`: a picture
    /// - `space`: how many rows
    ///
    /// Errors: as picture.above(other).
    #[rhai_fn(return_raw, name = "above")]
    pub fn spaced_above(
        context: NativeCallContext,
        picture: Picture,
        other: Picture,
        space: i64,
    ) -> ScriptResult<Picture> {
        let space = count_of(space, "rows")?;
        let down = usize::from(picture.height()) + usize::from(other.height());
        let columns = picture.width().max(other.width());
        changed(
            &context,
            area(columns.into(), down.saturating_add(space)),
            || picture.above(&other, space),
        )
    }

    /// `picture.repeated(across, down)`: the picture this many times beside itself, and all of that
    /// this many times below itself.
    ///
    /// - `across`: how often from left to right
    /// - `down`: how often from top to bottom
    ///
    /// Errors: wrong-value when it becomes too large, or there is nothing left of it.
    ///
    /// ```rhai
    /// over_leader(picture(["#..", ".##"]).repeated(3, 2))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn repeated(
        context: NativeCallContext,
        picture: Picture,
        across: i64,
        down: i64,
    ) -> ScriptResult<Picture> {
        let (across, down) = (count_of(across, "pictures")?, count_of(down, "pictures")?);
        let columns = across.saturating_mul(picture.width().into());
        let rows = down.saturating_mul(picture.height().into());
        changed(&context, area(columns, rows), || {
            picture.repeated(across, down)
        })
    }

    /// `picture.inverted()`: the picture with motif and ground exchanged: what showed nothing shows
    /// its one colour, and that shows nothing. Of two colours without nothing, each takes the
    /// other's place.
    ///
    /// Errors: wrong-value when the picture shows more or less than two things.
    ///
    /// ```rhai
    /// over_leader(lettering("ebb").inverted())
    /// ```
    #[rhai_fn(return_raw, name = "inverted")]
    pub fn picture_inverted(context: NativeCallContext, picture: Picture) -> ScriptResult<Picture> {
        changed(&context, 2 * cells_of(&picture), || picture.inverted())
    }

    /// `picture.recoloured(colours)`: the picture in other colours.
    ///
    /// - `colours`: a colour, which all cells take that show one; or a map from the names of its
    ///   colours to other colours, or to () for nothing
    ///
    /// Errors: wrong-value when the picture shows no colour of that name.
    ///
    /// ```rhai
    /// let lamp = colour("lamp", "#ffc145");
    /// let tide = flags("u").recoloured(#{ "signal red": lamp, "signal white": () });
    /// over_leader(tide)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn recoloured(
        context: NativeCallContext,
        picture: Picture,
        colours: Dynamic,
    ) -> ScriptResult<Picture> {
        check_cells(&context, cells_of(&picture))?;
        if let Some(colour) = colours.read_lock::<Colour>() {
            return changed(&context, 0, || picture.recoloured(|_| Some(colour.clone())));
        }
        let Some(map) = colours.read_lock::<Map>() else {
            return Err(wrong_arguments(
                format!("other colours cannot be {}", type_name(&colours)),
                "give a colour, or a map: #{ \"signal red\": colour(\"lamp\", \"#ffc145\") }"
                    .to_owned(),
            ));
        };
        let mut becomes = BTreeMap::new();
        for (name, value) in map.iter() {
            let which = meant(&picture, &name.as_str().into())?;
            let other = match value.is_unit() {
                true => None,
                false => Some(value.clone().try_cast::<Colour>().ok_or_else(|| {
                    wrong_arguments(
                        format!("a colour cannot become {}", type_name(value)),
                        "give a colour, or () for nothing".to_owned(),
                    )
                })?),
            };
            becomes.insert(which, other);
        }
        changed(&context, 0, || {
            picture.recoloured(|colour| match becomes.get(&colour.srgb) {
                Some(other) => other.clone(),
                None => Some(colour.clone()),
            })
        })
    }

    /// `picture.without(colour)`: the picture with nothing where it showed this colour, so that it
    /// becomes the ground.
    ///
    /// - `colour`: a colour of the picture, or its name
    ///
    /// Errors: wrong-value when the picture does not show it.
    ///
    /// ```rhai
    /// let cross = flags("x").without("signal white");
    /// over_leader(cross)
    /// ```
    #[rhai_fn(return_raw)]
    pub fn without(
        context: NativeCallContext,
        picture: Picture,
        colour: Dynamic,
    ) -> ScriptResult<Picture> {
        check_cells(&context, cells_of(&picture))?;
        let which = meant(&picture, &colour)?;
        changed(&context, 0, || {
            picture.recoloured(|colour| (colour.srgb != which).then(|| colour.clone()))
        })
    }

    /// `picture.filled(colour)`: the picture with this colour where it showed nothing.
    ///
    /// - `colour`: a colour
    ///
    /// Errors: wrong-value when it has too many colours.
    ///
    /// ```rhai
    /// let sand = colour("sand", "#d6b882");
    /// let wave = picture(["##...", "..##.", "...##"]).filled(sand);
    /// over_leader(wave.without("ink"))
    /// ```
    #[rhai_fn(return_raw)]
    pub fn filled(
        context: NativeCallContext,
        picture: Picture,
        colour: Colour,
    ) -> ScriptResult<Picture> {
        changed(&context, cells_of(&picture), || picture.filled(colour))
    }
}

/// Pictures compared. No part of the reference, as all that can be compared is compared so.
pub(super) fn register_comparisons(module: &mut Module) {
    combine_with_exported_module!(module, "comparisons", comparisons);
}

#[export_module]
mod comparisons {
    #[rhai_fn(name = "==", return_raw)]
    pub fn pictures_equal(
        context: NativeCallContext,
        one: Picture,
        other: Picture,
    ) -> ScriptResult<bool> {
        check_cells(&context, cells_of(&one))?;
        Ok(one == other)
    }

    #[rhai_fn(name = "!=", return_raw)]
    pub fn pictures_differ(
        context: NativeCallContext,
        one: Picture,
        other: Picture,
    ) -> ScriptResult<bool> {
        pictures_equal(context, one, other).map(|equal| !equal)
    }
}
