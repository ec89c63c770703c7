//! Pictures on the lattice: knots that are found, and knots that turn back.

use std::collections::BTreeSet;
use std::num::NonZeroU32;
use std::ops::{Range, RangeInclusive};
use std::sync::Arc;

use hitchwork_core::Error as CoreError;
use hitchwork_core::colour::{Colour, Srgb};
use hitchwork_core::picture::Picture;
use hitchwork_core::picture::solve::{Closing, MissedKnot, Painting, Solved};
use hitchwork_core::row::Row;
use hitchwork_core::text::counted;
use rhai::plugin::*;
use rhai::{Array, Map};

use super::given::{check_cells, check_entries, check_knots, listed, wrong_arguments};
use super::pictures::{meant, short};
use super::tied_picture::{TiedParts, TiedPicture};
use super::traces::remembering;
use super::wishes::Wishes;
use crate::run::{RunHandle, place};
use crate::solving::{FoundInRun, KnotSearch, MOST_PATIENCE, PATIENCE, knots_of, solving_effort};
use crate::trouble::{ScriptResult, refused, wrong_value};

pub(super) fn register(module: &mut Module) {
    module.set_custom_type::<TiedPicture>("tied_picture");
    combine_with_exported_module!(module, "solved", solved_pictures);
}

/// What a rule may wish of a picture whose knots are found.
const WISHES_OF_SOLVED: [&str; 6] = [
    "threads",
    "counts",
    "open",
    "drift",
    "free_rows",
    "patience",
];

/// What a rule may wish of a picture in pairs.
const WISHES_OF_PAIRS: [&str; 3] = ["threads", "first", "free_rows"];

/// The most free rows that are asked for.
const MOST_FREE_ROWS: i64 = 2_000;

/// The picture itself, the colours that hang, and how many threads there are.
struct HungPicture {
    picture: Picture,
    hung: Vec<Colour>,
    threads: u16,
}

impl HungPicture {
    fn painting(&self) -> ScriptResult<Painting> {
        let painting = self.picture.on_lattice(self.threads, &self.hung);
        painting.map_err(|error| refused(&error))
    }

    fn has(&self, colour: Srgb) -> Option<u8> {
        let place = self.hung.iter().position(|hung| hung.srgb == colour);
        place.and_then(|place| u8::try_from(place).ok())
    }

    fn name_of(&self, colour: Srgb) -> String {
        let mut listed = self.picture.colours().iter();
        let listed = listed.find(|listed| listed.srgb == colour);
        listed.map(|listed| listed.name.clone()).unwrap_or_default()
    }

    /// The number of a colour that is given itself or by its name.
    fn number(&self, which: &Dynamic) -> ScriptResult<u8> {
        let colour = meant(&self.picture, which)?;
        self.has(colour).ok_or_else(|| {
            let names: Vec<&str> = self.hung.iter().map(|hung| &*hung.name).collect();
            wrong_value(
                format!(
                    "no knot shows {}: it lies only between the knots, and no thread of it hangs",
                    short(&self.name_of(colour))
                ),
                format!("the colours that hang are {}", names.join(", ")),
            )
        })
    }
}

/// A picture that shows one colour, and elsewhere anything, would become a band of that colour.
fn check_colours(picture: &Picture) -> ScriptResult<()> {
    let shown = picture.shown();
    match shown[..] {
        [] => Err(wrong_value(
            "the picture shows nothing at all",
            "paint cells in the colours that its knots are to show",
        )),
        [only] if picture.cells().contains(&None) => Err(wrong_value(
            format!(
                "the picture shows {} and nothing else, and nothing means any colour here",
                short(&only.name)
            ),
            "give the ground a colour of its own: picture.filled(colour(\"sand\", \"#d6b882\"))",
        )),
        _ => Ok(()),
    }
}

/// How many threads there are: as many as are wished, and no fewer than the picture takes.
fn threads_of(picture: &Picture, wishes: &mut Wishes, least: u16) -> ScriptResult<u16> {
    let needed = picture.threads_on_lattice();
    let needed = needed.map_err(|error| refused(&error))?;
    let Some(threads) = wishes.whole("threads", 2..=200)? else {
        return Ok(needed.max(least));
    };
    let threads = u16::try_from(threads).unwrap_or(u16::MAX);
    match threads >= needed {
        true => Ok(threads),
        false => Err(wrong_value(
            format!(
                "a picture {} columns wide takes {needed} threads, not {threads}",
                picture.width()
            ),
            "give as many threads as it has columns and one more, or crop the picture",
        )),
    }
}

/// How many threads of each colour of the picture hang, where that is wished.
fn counts_of(picture: &Picture, wishes: &mut Wishes) -> ScriptResult<Option<Vec<u16>>> {
    const HELP: &str = "give a number of threads for each colour: a list in the order of picture.colours, or a map such as #{ \"sea\": 6, \"foam\": 5 }; or leave counts out, and they are looked for";
    let Some(value) = wishes.take("counts") else {
        return Ok(None);
    };
    let shown = picture.shown();
    let mut counts = vec![None; shown.len()];
    if let Some(list) = value.read_lock::<Array>() {
        if list.len() != shown.len() {
            return Err(wrong_value(
                format!(
                    "counts gives {}, and the picture shows {}",
                    counted(list.len(), "number"),
                    counted(shown.len(), "colour")
                ),
                HELP,
            ));
        }
        for (count, entry) in counts.iter_mut().zip(list.iter()) {
            *count = Some(entry.clone());
        }
    } else if let Some(map) = value.read_lock::<Map>() {
        for (name, entry) in map.iter() {
            let which = meant(picture, &name.as_str().into())?;
            let at = shown.iter().position(|colour| colour.srgb == which);
            counts[at.unwrap_or_default()] = Some(entry.clone());
        }
    } else {
        return wishes.wrong("counts", &value, HELP);
    }
    let count = |(entry, colour): (Option<Dynamic>, &&Colour)| {
        let name = short(&colour.name);
        let Some(entry) = entry else {
            return Err(wrong_value(
                format!("counts says nothing about {name}, which the picture shows"),
                HELP,
            ));
        };
        let number = entry.as_int().ok().and_then(|n| u16::try_from(n).ok());
        match number.filter(|number| (1..=200).contains(number)) {
            Some(number) => Ok(number),
            None if entry.is_int() => Err(wrong_value(
                format!("{entry} threads of {name} cannot hang"),
                "give 1 or more, or take the colour out of the picture",
            )),
            None => wishes.wrong("counts", &entry, HELP),
        }
    };
    let counts = counts.into_iter().zip(&shown).map(count);
    counts.collect::<ScriptResult<_>>().map(Some)
}

/// The picture with the colours that hang, and the counts that are wished.
fn hung_picture(
    picture: Picture,
    wishes: &mut Wishes,
) -> ScriptResult<(HungPicture, Option<Vec<u16>>)> {
    check_colours(&picture)?;
    let counts = counts_of(&picture, wishes)?;
    let all: u16 = counts.iter().flatten().sum();
    let threads = threads_of(&picture, wishes, all)?;
    let hung = match &counts {
        // Whoever counts threads of a colour hangs it, even if no knot shows it.
        Some(_) => picture.shown(),
        None => picture.shown_on_lattice(),
    };
    let hung: Vec<Colour> = hung.into_iter().cloned().collect();
    if hung.is_empty() {
        return Err(wrong_value(
            "the picture shows nothing where its knots lie",
            "paint the odd columns of the odd rows and the even columns of the even ones; the knots lie there",
        ));
    }
    let picture = HungPicture {
        picture,
        hung,
        threads,
    };
    Ok((picture, counts))
}

/// How the colours have to hang at the end.
fn closing_of(picture: &HungPicture, wishes: &mut Wishes) -> ScriptResult<Closing> {
    const HELP: &str = "say how many colours further each is after a repeat (1), or which hangs where another hung: #{ \"sea\": \"foam\", \"foam\": \"sea\" }";
    let open = wishes.flag("open")?.unwrap_or_default();
    let Some(value) = wishes.take("drift") else {
        return Ok(if open { Closing::Open } else { Closing::Closed });
    };
    if open {
        return Err(wrong_value(
            "a picture with open ends is tied once, and does not drift",
            "leave out open, or drift",
        ));
    }
    let colours = u8::try_from(picture.hung.len()).unwrap_or(u8::MAX);
    let mut names: Vec<u8> = (0..colours).collect();
    if let Ok(steps) = value.as_int() {
        let steps = steps.rem_euclid(i64::from(colours));
        names.rotate_left(usize::try_from(steps).unwrap_or_default());
    } else if let Some(map) = value.read_lock::<Map>() {
        for (name, becomes) in map.iter() {
            let from = picture.number(&name.as_str().into())?;
            names[usize::from(from)] = picture.number(becomes)?;
        }
    } else {
        return wishes.wrong("drift", &value, HELP);
    }
    Ok(Closing::Renamed(names))
}

/// How many free rows follow the picture.
enum FreeRows {
    Just(usize),
    AsNeeded(RangeInclusive<usize>),
}

fn free_rows_of(wishes: &mut Wishes) -> ScriptResult<FreeRows> {
    let Some(value) = wishes.take("free_rows") else {
        return Ok(FreeRows::Just(0));
    };
    const HELP: &str = "give how many (4), or within which numbers as few as are needed (0..=8)";
    let ends = if let Ok(number) = value.as_int() {
        Some((number, number))
    } else if let Some(range) = value.read_lock::<Range<i64>>() {
        Some((range.start, range.end.saturating_sub(1)))
    } else {
        let range = value.read_lock::<RangeInclusive<i64>>();
        range.map(|range| (*range.start(), *range.end()))
    };
    let Some((first, last)) = ends else {
        return wishes.wrong("free_rows", &value, HELP);
    };
    let within = |number: i64| {
        let number = Some(number).filter(|number| (0..=MOST_FREE_ROWS).contains(number));
        number.and_then(|number| usize::try_from(number).ok())
    };
    let said = match value.is_int() {
        true => first.to_string(),
        false => format!("{first}..={last}"),
    };
    let wrong = |help: &str| {
        let message = format!("free_rows of a solved picture cannot be {said}");
        Err(wrong_arguments(message, help.to_owned()))
    };
    match within(first).zip(within(last)) {
        Some((only, _)) if value.is_int() => Ok(FreeRows::Just(only)),
        Some((first, last)) if first <= last => Ok(FreeRows::AsNeeded(first..=last)),
        Some(_) => wrong(HELP),
        None => wrong("a picture is followed by 0 to 2,000 free rows"),
    }
}

/// Where the knots of a picture are, and how many there are, asked before they are made.
fn check_picture(context: &NativeCallContext, picture: &Picture, free: usize) -> ScriptResult<()> {
    check_cells(context, picture.cells().len())?;
    let rows = usize::from(picture.height()) + free;
    check_entries(context, rows)?;
    check_knots(context, rows.saturating_mul(100))
}

fn solve_picture(
    context: &NativeCallContext,
    picture: Picture,
    wishes: Map,
) -> ScriptResult<TiedPicture> {
    let mut wishes = Wishes::new(wishes, "a solved picture", &WISHES_OF_SOLVED)?;
    check_picture(context, &picture, 0)?;
    let (hung, counts) = hung_picture(picture, &mut wishes)?;
    let mut painting = hung.painting()?;
    painting.counts = counts;
    painting.closing = closing_of(&hung, &mut wishes)?;
    let patience = wishes.whole("patience", 1..=MOST_PATIENCE.into())?;
    let (free, added) = match free_rows_of(&mut wishes)? {
        FreeRows::Just(rows) => {
            check_picture(context, &hung.picture, rows)?;
            painting = painting.with_free_rows(rows);
            (None, rows)
        }
        FreeRows::AsNeeded(_) if painting.closing == Closing::Open => {
            return Err(wrong_value(
                "with open ends a picture needs no free rows",
                "leave out open, or say how many free rows there are to be",
            ));
        }
        FreeRows::AsNeeded(rows) => {
            check_picture(context, &hung.picture, *rows.end())?;
            (Some(rows), 0)
        }
    };
    let patience = patience.and_then(|patience| u8::try_from(patience).ok());
    let effort = solving_effort(patience.unwrap_or(PATIENCE));
    let search = KnotSearch {
        painting,
        free,
        effort,
    };
    let found = found(search, &RunHandle::of(context))?;
    let added = added + found.added;
    tied(context, hung, &found.solved, added)
}

fn pair_picture(
    context: &NativeCallContext,
    picture: Picture,
    wishes: Map,
) -> ScriptResult<TiedPicture> {
    let mut wishes = Wishes::new(wishes, "a picture in pairs", &WISHES_OF_PAIRS)?;
    check_picture(context, &picture, 0)?;
    let free = wishes.whole("free_rows", 0..=MOST_FREE_ROWS)?;
    let free = free.unwrap_or_default();
    check_picture(context, &picture, free)?;
    let first = wishes.take("first");
    check_colours(&picture)?;
    let threads = threads_of(&picture, &mut wishes, 0)?;
    // A second colour hangs even where none of the knots shows it.
    let mut colours = picture.shown_on_lattice();
    if colours.len() < 2 {
        colours = picture.shown();
    }
    let mut hung = HungPicture {
        hung: colours.into_iter().cloned().collect(),
        picture,
        threads,
    };
    if let [only] = &hung.hung[..] {
        return Err(wrong_value(
            format!(
                "two colours hang by turns, and the picture shows only {}",
                short(&only.name)
            ),
            "paint with two colours",
        ));
    }
    if let Some(first) = first {
        let first = hung.number(&first)?;
        hung.hung[..=usize::from(first)].rotate_right(1);
    }
    let painting = hung.painting()?.with_free_rows(free);
    let solved = painting.in_pairs().map_err(|error| refused(&error))?;
    tied(context, hung, &solved, free)
}

/// What was found, with every knot at the line that asked for it.
fn tied(
    context: &NativeCallContext,
    hung: HungPicture,
    found: &Solved,
    free_rows: usize,
) -> ScriptResult<TiedPicture> {
    let call = place(context);
    let rows = shown_by(context, &hung.picture, found)?.into_iter();
    let rows = rows.map(|row| call.map_or(row.clone(), |call| row.made_at(call)));
    Ok(TiedPicture(Arc::new(TiedParts {
        hung: hung.hung,
        rows: rows.collect(),
        free_rows,
        knots: found.rows.iter().map(Row::len).sum(),
        found: found.clone(),
    })))
}

/// The rows that were found, whose knots know which cells they are to show.
fn shown_by(
    context: &NativeCallContext,
    picture: &Picture,
    found: &Solved,
) -> ScriptResult<Vec<Row>> {
    let number = |row: usize, column: u16| picture.cell_number(u16::try_from(row).ok()?, column);
    let missed = found.missed.iter();
    let missed = missed.filter_map(|knot| number(knot.row, knot.column.number()));
    let missed: BTreeSet<NonZeroU32> = missed.collect();
    let rows = (1..).zip(&found.rows).map(|(row, knots)| {
        let knots = knots.knots().iter();
        Row::new(knots.map(|knot| knot.showing(number(row, knot.column().number()))))
    });
    remembering(context, rows.collect(), picture, |cell| {
        (
            picture.numbered_colour(cell).map(|colour| colour.srgb),
            missed.contains(&cell),
        )
    })
}

/// Why a search ends without knots.
enum KnotSearchEnd {
    Refused(CoreError),
    /// By the limits of the run.
    Stopped(Box<EvalAltResult>),
}

impl From<CoreError> for KnotSearchEnd {
    fn from(error: CoreError) -> Self {
        Self::Refused(error)
    }
}

/// A step of the search is an operation on one number of a long list: of this many, as long as
/// one knot takes in a plain loop.
const STEPS_OF_A_UNIT: u64 = 4;

/// The knots. What was found earlier in the run is not looked for again.
fn found(search: KnotSearch, run: &RunHandle) -> ScriptResult<Arc<FoundInRun>> {
    run.spend(knots_of(&search.painting))?;
    let known = run.state().known_knots.find(&search);
    if let Some(found) = known {
        return Ok(found);
    }
    let bytes = search.painting.memory_bytes(&search.effort);
    run.make_room(usize::try_from(bytes).unwrap_or(usize::MAX))?;
    let go_on = |steps: u64| {
        let units = usize::try_from(steps / STEPS_OF_A_UNIT).unwrap_or(usize::MAX);
        run.spend(units + 1)
            .and_then(|()| run.make_room(0))
            .map_err(KnotSearchEnd::Stopped)
    };
    let found = match &search.free {
        None => {
            let solved = search.painting.solve_while(&search.effort, go_on);
            solved.map(|solved| FoundInRun { solved, added: 0 })
        }
        Some(free) => {
            let found = search
                .painting
                .with_fewest_free_rows(free.clone(), &search.effort, go_on);
            found.map(|(added, solved)| FoundInRun { solved, added })
        }
    };
    let found = Arc::new(found.map_err(|end| match end {
        KnotSearchEnd::Refused(error) => refused(&error),
        KnotSearchEnd::Stopped(stopped) => stopped,
    })?);
    run.state().known_knots.remember(search, &found);
    Ok(found)
}

/// What a missed knot takes in the list of them.
const BYTES_OF_A_MISS: usize = 64;

fn number(count: usize) -> i64 {
    i64::try_from(count).unwrap_or(i64::MAX)
}

#[export_module]
mod solved_pictures {
    /// `solved(picture)`: a picture tied so that the fewest knots show another colour than it
    /// does, and so that it comes again and again; see solved(picture, wishes).
    ///
    /// Knots lie where a brick lattice has them: in the odd columns of the odd rows, and in the
    /// even columns of the even ones. Other cells are passed over, and a cell that shows nothing
    /// is any colour. What comes back has rows, colours and threads for a band, and says how well
    /// it shows the picture. Give it an even number of rows (free_rows adds some): an odd one leaves
    /// gaps where it is tied again.
    ///
    /// - `picture`: a picture of two colours or more
    ///
    /// Errors: as solved(picture, wishes).
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let wave = picture(`
    ///     ~~~~~--
    ///     ~~~~--~
    ///     ~~~--~~
    ///     ~~--~~~
    ///     ~--~~~~
    ///     --~~~~~
    /// `, #{ marks: #{ "~": sea, "-": foam } });
    /// let tied = solved(wave);
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(return_raw, name = "solved")]
    pub fn plainly_solved(
        context: NativeCallContext,
        picture: Picture,
    ) -> ScriptResult<TiedPicture> {
        solve_picture(&context, picture, Map::new())
    }

    /// `solved(picture, wishes)`: a picture tied so that the fewest knots show another colour than
    /// it does, as you wish.
    ///
    /// What a band can show next depends only on the order in which its colours hang: so all
    /// orders are looked at, and it is proved that no way to tie the picture misses fewer knots.
    /// Where the orders are too many, some are, and least says how few might be possible. Of ways
    /// that miss as few the one is taken that is easiest to tie. The same picture and wishes give
    /// the same knots on every machine.
    ///
    /// Wishes: open, true where the picture is tied once (otherwise the colours end as they began,
    /// so that it comes again and again); counts, how many threads of each colour hang, as a list
    /// in the order of picture.colours or a map from their names (otherwise that is looked for);
    /// threads, how many, where the band is to be wider than the picture: it then lies at the left;
    /// free_rows, how many rows of any colours follow in which the colours can find their places
    /// again, or a range (0..=8) of which as few are taken as are needed; drift, how many colours
    /// further along picture.colours each place is after a repeat, or a map that says which colour
    /// then hangs where another hung; patience, from 1 to 100, how long is looked at most (10, a few
    /// seconds).
    ///
    /// - `picture`: a picture of two colours or more
    /// - `wishes`: a map, such as #{ free_rows: 0..=8, counts: #{ "sea": 5, "foam": 3 } }
    ///
    /// Errors: wrong-value when the picture has more colours than threads or too many columns for a
    /// band, its ground is nothing and so would be any colour, the counts are not as many as the
    /// threads, or no way was found to close it; wrong-arguments when a wish cannot be; limit-work
    /// or limit-memory when it takes too long or too much.
    #[rhai_fn(return_raw, name = "solved")]
    pub fn solved_as_wished(
        context: NativeCallContext,
        picture: Picture,
        wishes: Map,
    ) -> ScriptResult<TiedPicture> {
        solve_picture(&context, picture, wishes)
    }

    /// `in_pairs(picture)`: a picture of two colours tied exactly, with knots that all turn back;
    /// see in_pairs(picture, wishes).
    ///
    /// The colours hang by turns, so that every knot can show either, and every thread keeps its
    /// place. Knots lie as in solved(picture).
    ///
    /// - `picture`: a picture of two colours
    ///
    /// Errors: as in_pairs(picture, wishes).
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let sail = colour("sail", "#f4f1e8");
    /// let boats = picture(`
    ///     ~~~~~~~
    ///     ~~~#~~~
    ///     ~~###~~
    ///     ~#####~
    ///     ~~~~~~~
    ///     ~~###~~
    /// `, #{ marks: #{ "~": sea, "#": sail } });
    /// let tied = in_pairs(boats);
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(return_raw, name = "in_pairs")]
    pub fn plainly_in_pairs(
        context: NativeCallContext,
        picture: Picture,
    ) -> ScriptResult<TiedPicture> {
        pair_picture(&context, picture, Map::new())
    }

    /// `in_pairs(picture, wishes)`: a picture of two colours tied exactly, with knots that all turn
    /// back, as you wish.
    ///
    /// Wishes: first, the colour that hangs at the left edge, itself or its name (otherwise the
    /// first of picture.colours); threads, how many, where the band is to be wider than the picture:
    /// it then lies at the left; free_rows, how many rows follow that go on as the knots before
    /// them.
    ///
    /// Sheets keep its rows, since each is one line by its positions: no thread leaves its place.
    ///
    /// - `picture`: a picture of two colours
    /// - `wishes`: a map, such as #{ first: "sea", free_rows: 2 }
    ///
    /// Errors: wrong-value when the picture has more or fewer than two colours, its ground is
    /// nothing, or it has too many columns for a band; wrong-arguments when a wish cannot be.
    #[rhai_fn(return_raw, name = "in_pairs")]
    pub fn in_pairs_as_wished(
        context: NativeCallContext,
        picture: Picture,
        wishes: Map,
    ) -> ScriptResult<TiedPicture> {
        pair_picture(&context, picture, wishes)
    }

    /// `tied.rows`: the rows of a tied picture, for the repeat of a band.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "rows", return_raw)]
    pub fn rows(context: NativeCallContext, tied: &mut TiedPicture) -> ScriptResult<Array> {
        check_knots(&context, tied.0.knots)?;
        Ok(listed(tied.0.rows.clone()))
    }

    /// `tied.colours`: the colours of the threads of a tied picture as they hang at the start, from
    /// left to right.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "colours", return_raw)]
    pub fn hung_colours(context: NativeCallContext, tied: &mut TiedPicture) -> ScriptResult<Array> {
        check_cells(&context, tied.0.found.start.len())?;
        let colour = |number: &u8| Dynamic::from(tied.0.hung[usize::from(*number)].clone());
        Ok(tied.0.found.start.iter().map(colour).collect())
    }

    /// `tied.threads`: how many threads a tied picture takes.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.threads == 8, "the band is to be narrow", "crop the picture");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "threads", pure)]
    pub fn threads(tied: &mut TiedPicture) -> i64 {
        number(tied.0.found.start.len())
    }

    /// `tied.counts`: how many threads of each colour a tied picture takes, as a map from the
    /// names of the colours.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.counts["sea"] == 4, "there is not enough foam for this", "count the threads yourself: counts");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "counts", pure)]
    pub fn counts(tied: &mut TiedPicture) -> Map {
        let counts = tied.0.found.counts.iter();
        let named = tied.0.hung.iter().zip(counts);
        named
            .map(|(colour, count)| (colour.name.as_str().into(), i64::from(*count).into()))
            .collect()
    }

    /// `tied.misses`: how many knots of a tied picture show another colour than the picture.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.misses == 0, "the waves do not come out", "choose other colours");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "misses", pure)]
    pub fn misses(tied: &mut TiedPicture) -> i64 {
        number(tied.0.found.missed.len())
    }

    /// `tied.least`: no way to tie the picture misses fewer knots than this.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.misses < tied.least + 3, "it may be far from the best", "be more patient");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "least", pure)]
    pub fn least(tied: &mut TiedPicture) -> i64 {
        number(tied.0.found.least)
    }

    /// `tied.proved`: whether it is proved that no way to tie the picture misses fewer knots.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.proved, "there may be a better way", "be more patient");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "proved", pure)]
    pub fn proved(tied: &mut TiedPicture) -> bool {
        tied.0.found.is_proved()
    }

    /// `tied.missed`: the knots of a tied picture that show another colour than the picture, as a
    /// list of [row, column].
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// for knot in tied.missed {
    ///     require(knot[0] > 2, "the crests must come out", "choose other colours");
    /// }
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "missed", return_raw)]
    pub fn missed(context: NativeCallContext, tied: &mut TiedPicture) -> ScriptResult<Array> {
        let missed = &tied.0.found.missed;
        check_cells(&context, missed.len().saturating_mul(BYTES_OF_A_MISS / 8))?;
        let place = |missed: &MissedKnot| {
            let column = i64::from(missed.column.number());
            Dynamic::from_array(vec![number(missed.row).into(), column.into()])
        };
        Ok(missed.iter().map(place).collect())
    }

    /// `tied.free_rows`: how many rows of a tied picture follow those of the picture itself.
    ///
    /// ```rhai
    /// let sea = colour("sea", "#1d6f8c");
    /// let foam = colour("foam", "#e8f1ee");
    /// let marks = #{ "~": sea, "-": foam };
    /// let tied = solved(picture(["~~--~~-", "~--~~--"], #{ marks: marks }));
    /// require(tied.free_rows == 0, "the waves do not meet", "paint rows in which they do");
    /// band(tied.threads).repeat(tied.rows).colours(tied.colours)
    /// ```
    #[rhai_fn(get = "free_rows", pure)]
    pub fn free_rows(tied: &mut TiedPicture) -> i64 {
        number(tied.0.free_rows)
    }
}

/// Tied pictures in words. No part of the reference, as all values can be put in words.
pub(super) fn register_words(module: &mut Module) {
    combine_with_exported_module!(module, "tied_words", tied_words);
}

#[export_module]
mod tied_words {
    #[rhai_fn(name = "to_string", name = "to_debug", pure)]
    pub fn tied_picture_in_words(tied: &mut TiedPicture) -> String {
        tied.to_string()
    }
}
