//! Rows in as few lines as say all of them.

use std::collections::{BTreeMap, BTreeSet};

use super::run::Run;
use super::wording::{listed, sentence};
use crate::band::Part;
use crate::knot::{Kind, Side};

/// How the positions are read.
const POSITIONS_STAY: &str =
    "Positions count from the left edge and stay; threads keep their numbers and move.";

/// A row in which threads move is told by its positions from so many knots on: of fewer, the steps are
/// as short, and name the threads (our own judgement).
const FEWEST_BY_POSITION: usize = 3;

/// A single row that is told in so many letters is not told as another, which would have to be looked
/// up: they fit into a line (our own judgement).
const SHORT_ENOUGH: usize = 64;

/// Up to so many rows are told as those before several times over, which are looked for in each place
/// (our own judgement: a longer piece comes again rarely, and is found once at a time).
const MOST_OVER: usize = 24;

/// The steps of one row, and the order by which to check it.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct RowSteps {
    /// The part that the row belongs to.
    pub part: Part,
    /// Its number in that part, from 1.
    pub row: u32,
    /// The steps in order.
    pub runs: Vec<Run>,
    /// The numbers of the threads by position when the row is done.
    pub order_after: Vec<u16>,
}

/// A row, or several that follow each other, as a sheet tells them.
///
/// ```
/// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// # let repeat: Vec<Row> = [[1, 3], [2, 4], [1, 3], [2, 4]].into_iter()
/// #     .map(|columns| Row::run(Kind::ForwardBackward, columns)).collect::<Result<_, _>>()?;
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1, 0, 0], repeat, repeats: 30, ..BandParts::default() })?;
/// // `band`: two rows of turning knots in columns 1 and 3, and in 2 and 4, and both again.
/// let tied = hitchwork_core::tied::Tied::of(band);
/// let said = tied.steps().said.iter();
/// let said: Vec<_> = said.map(|said| (said.heading(), said.words.clone().unwrap_or_default())).collect();
/// assert_eq!(said, [
///     ("Row 1 of 4 (repeat)".into(), "Positions 1 and 3: forward-backward.".into()),
///     ("Row 2 of 4 (repeat)".into(), "Positions 2 and 4: forward-backward.".into()),
///     ("Rows 3 and 4 of 4 (repeat)".into(), "As rows 1 and 2.".to_owned()),
/// ]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct SaidRows {
    /// The part that the rows belong to.
    pub part: Part,
    /// The first of them, from 1.
    pub first: u32,
    /// The last of them.
    pub last: u32,
    /// How many rows the part has.
    pub of: u32,
    /// All that is to be done, where that is one sentence; else the row takes its
    /// [steps](RowSteps::runs).
    pub words: Option<String>,
    /// The numbers of the threads by position when they are done; nothing where all threads hang as
    /// before.
    pub order_after: Option<Vec<u16>>,
}

impl SaidRows {
    /// "Row 3 of 14 (repeat)", or "Rows 3 to 5 of 14 (repeat)".
    #[must_use]
    pub fn heading(&self) -> String {
        let (of, part) = (self.of, self.part);
        match self.first == self.last {
            true => format!("Row {} of {of} ({part})", self.first),
            false => format!("Rows {} of {of} ({part})", from_to(self.first, self.last)),
        }
    }

    /// Whether a row is one of these.
    #[must_use]
    pub fn tells(&self, row: &RowSteps) -> bool {
        row.part == self.part && (self.first..=self.last).contains(&row.row)
    }
}

/// "3 to 5", or "3 and 4".
fn from_to(first: u32, last: u32) -> String {
    let joint = if first + 1 == last { "and" } else { "to" };
    format!("{first} {joint} {last}")
}

impl RowSteps {
    /// Whether a thread leaves its place in it, if only to come back.
    #[must_use]
    pub fn moves_threads(&self) -> bool {
        let mut stretches = self.runs.iter().flat_map(|run| &run.stretches);
        stretches.any(|stretch| stretch.kind.changes_places())
    }

    /// The only knot of each step, with the position of the thread that ties it, if no two of them
    /// have a thread in common: then their turn does not matter.
    fn knots_apart(&self) -> Option<Vec<(u16, Kind)>> {
        let knot = |run: &Run| Some((run.from, run.only_knot()?));
        let knots: Vec<(u16, Kind)> = self.runs.iter().map(knot).collect::<Option<_>>()?;
        let touched = knots
            .iter()
            .flat_map(|(position, kind)| match kind.working_side() {
                Side::Left => [*position, position + 1],
                Side::Right => [position - 1, *position],
            });
        let apart = touched.collect::<BTreeSet<u16>>().len() == 2 * knots.len();
        (apart && !knots.is_empty()).then_some(knots)
    }

    /// The knots by their positions, where that says all.
    fn by_position(&self, all_stay: bool) -> Option<String> {
        let mut knots = self.knots_apart()?;
        if !all_stay && knots.len() < FEWEST_BY_POSITION {
            return None;
        }
        knots.sort_unstable_by_key(|(position, _)| *position);
        let mut kinds: Vec<Kind> = Vec::new();
        for (_, kind) in &knots {
            if !kinds.contains(kind) {
                kinds.push(*kind);
            }
        }
        let of = |kind: &Kind| {
            let at = knots.iter().filter(|(_, other)| other == kind);
            let at: Vec<u16> = at.map(|(position, _)| *position).collect();
            (listed(&at, "and"), at.len(), *kind)
        };
        let mut said = String::new();
        for (index, (positions, count, kind)) in kinds.iter().map(of).enumerate() {
            let what = match (index, count) {
                (0, 1) => "position ",
                (0, _) => "positions ",
                _ => "; ",
            };
            said.push_str(&format!("{what}{positions}: {kind}"));
        }
        Some(sentence(&said))
    }
}

/// A row with what has to be compared to say it as another.
struct ComparedRow<'a> {
    row: &'a RowSteps,
    by_position: Option<String>,
    /// The same for all rows that are tied by the same words.
    told: usize,
    /// The same for those of them that leave the same order.
    whole: usize,
}

/// Numbers what is asked, the same things alike.
fn numbered<T: Ord>(things: impl Iterator<Item = T>) -> Vec<usize> {
    let mut numbers = BTreeMap::new();
    let number = |thing| {
        let next = numbers.len();
        *numbers.entry(thing).or_insert(next)
    };
    things.map(number).collect()
}

/// All rows in as few lines as say all of them.
pub(super) fn in_few_lines(rows: &[RowSteps]) -> Vec<SaidRows> {
    let all_stay = !rows.iter().any(RowSteps::moves_threads);
    let by_position: Vec<Option<String>> =
        rows.iter().map(|row| row.by_position(all_stay)).collect();
    // What is told by positions goes for whatever threads hang there.
    let words = rows.iter().zip(&by_position).map(|(row, words)| {
        let runs = words.is_none().then_some(&row.runs);
        (row.part, words, runs)
    });
    let told = numbered(words);
    let whole = numbered(
        rows.iter()
            .zip(&told)
            .map(|(row, told)| (told, &row.order_after)),
    );
    let compared = rows
        .iter()
        .zip(by_position)
        .zip(told.into_iter().zip(whole));
    let compared: Vec<ComparedRow<'_>> = compared
        .map(|((row, by_position), (told, whole))| ComparedRow {
            row,
            by_position,
            told,
            whole,
        })
        .collect();
    let parts = compared.chunk_by(|one, next| one.row.part == next.row.part);
    parts.flat_map(part_in_few_lines).collect()
}

fn part_in_few_lines(rows: &[ComparedRow<'_>]) -> Vec<SaidRows> {
    let (mut said, mut at) = (Vec::new(), 0);
    // Which rows are told themselves: nobody should look up a row and find that it is as another.
    let mut told_itself: Vec<bool> = Vec::new();
    while let Some(row) = rows.get(at) {
        let before = as_before(rows, &told_itself);
        told_itself.extend(vec![
            before.is_none();
            before.as_ref().map_or(1, |(count, _)| *count)
        ]);
        let (count, words) = match before {
            Some((count, words)) => (count, Some(words)),
            None => (1, row.by_position.clone()),
        };
        let told = &rows[at..at + count];
        let order = &told[count - 1].row.order_after;
        let is_checked = words.is_none() || told.iter().any(|told| told.row.moves_threads());
        said.push(SaidRows {
            part: row.row.part,
            first: number(at),
            last: number(at + count - 1),
            of: number(rows.len() - 1),
            order_after: is_checked.then(|| order.clone()),
            words,
        });
        at += count;
    }
    said
}

/// The number of a row in its part.
fn number(index: usize) -> u32 {
    u32::try_from(index + 1).expect("MAX_KNOTS fits")
}

/// How many rows after those that are told already are told as some of them, and as which.
fn as_before(rows: &[ComparedRow<'_>], told_itself: &[bool]) -> Option<(usize, String)> {
    let at = told_itself.len();
    let longest = longest_as_before(rows, told_itself);
    if longest.count <= 1 {
        let is_told = |from: &usize| told_itself[*from] && rows[at].told == rows[*from].told;
        let from = (0..at).find(is_told)?;
        let words = rows[at].by_position.as_ref();
        let is_short = words.is_some_and(|words| words.len() <= SHORT_ENOUGH);
        return (!is_short).then(|| (1, format!("As row {}.", number(from))));
    }
    Some((longest.count, longest.words()))
}

/// Rows that are as some before them.
#[derive(Clone, Copy, Default)]
struct AsBefore {
    /// How many they are.
    count: usize,
    /// The row that the first of them is as.
    from: usize,
    /// After so many rows it is as that one again.
    period: usize,
    /// Whether they go back from there.
    goes_back: bool,
}

impl AsBefore {
    fn words(self) -> String {
        let first = number(self.from);
        if self.goes_back {
            return match number(self.from + 1 - self.count) {
                last if self.count == 2 => format!("As row {first}, then row {last}."),
                last => format!("As rows {first} back to {last}."),
            };
        }
        let last = number(self.from + self.period - 1);
        match self.count / self.period {
            _ if self.period == 1 => format!("Each as row {first}."),
            1 => format!("As rows {}.", from_to(first, last)),
            times => format!("As rows {}, {times} times over.", from_to(first, last)),
        }
    }
}

/// The most rows after those that are told already that are as some of these; of as many rows those
/// that are found first, and once before several times over.
fn longest_as_before(rows: &[ComparedRow<'_>], told_itself: &[bool]) -> AsBefore {
    let at = told_itself.len();
    let is_as =
        |row: &ComparedRow<'_>, from: usize| told_itself[from] && row.whole == rows[from].whole;
    let once = |from: usize| {
        let pairs = rows[at..].iter().zip(from..at);
        pairs.take_while(|(row, from)| is_as(row, *from)).count()
    };
    let several_times = |from: usize, period: usize| {
        let pairs = rows[at..].iter().zip((from..from + period).cycle());
        let count = pairs.take_while(|(row, from)| is_as(row, *from)).count();
        AsBefore {
            count: count - count % period,
            from,
            period,
            goes_back: false,
        }
    };
    let forwards = (0..at).flat_map(|from| {
        let longest = once(from);
        let whole = AsBefore {
            count: longest,
            from,
            period: longest,
            goes_back: false,
        };
        // All that lie between come again directly.
        let all = (longest == at - from).then_some(longest);
        let periods = (1..=longest.min(MOST_OVER)).chain(all);
        let over = periods.map(move |period| several_times(from, period));
        std::iter::once(whole).chain(over)
    });
    let backwards = (0..at).map(|from| {
        let pairs = rows[at..].iter().zip((0..=from).rev());
        let count = pairs.take_while(|(row, from)| is_as(row, *from)).count();
        AsBefore {
            count,
            from,
            period: count,
            goes_back: true,
        }
    });
    let all = forwards.chain(backwards);
    let longer = |best: AsBefore, other: AsBefore| match other.count > best.count {
        true => other,
        false => best,
    };
    all.reduce(longer).unwrap_or_default()
}

/// The position of the thread whose step begins the repeat, where that is told step by step.
pub(super) fn begins(rows: &[RowSteps], said: &[SaidRows]) -> Option<u16> {
    let first = rows.iter().find(|row| row.part == Part::Repeat)?;
    let told = said.iter().find(|said| said.tells(first))?;
    let run = first.runs.first().filter(|_| told.words.is_none());
    run.map(|run| run.from)
}

/// How the rows are read.
pub(super) fn reading(rows: &[RowSteps], said: &[SaidRows]) -> String {
    let mut reading = vec![POSITIONS_STAY.to_owned()];
    let by_position = said.iter().filter_map(|said| said.words.as_ref());
    if by_position
        .clone()
        .any(|words| words.starts_with("Position"))
    {
        let uses = |kind: Kind| {
            let name = kind.to_string();
            let mut words = by_position.clone();
            words.any(|words| {
                words
                    .split([';', '.'])
                    .any(|clause| clause.ends_with(&format!(": {name}")))
            })
        };
        let over = |kinds: [Kind; 2], side: &str| {
            let used: Vec<String> = kinds
                .into_iter()
                .filter(|kind| uses(*kind))
                .map(|kind| kind.to_string())
                .collect();
            (!used.is_empty())
                .then(|| format!("{} over the thread to its {side}", used.join(" and ")))
        };
        let both = [
            over([Kind::Forward, Kind::ForwardBackward], "right"),
            over([Kind::Backward, Kind::BackwardForward], "left"),
        ];
        let both: Vec<String> = both.into_iter().flatten().collect();
        reading.push(format!(
            "Where a row names positions, the thread at each ties one knot: {}.",
            both.join(", ")
        ));
    }
    if said.iter().any(|said| said.order_after.is_none()) {
        reading.push("Where no order is given, all threads hang as before.".to_owned());
    }
    if rows.iter().flat_map(|row| &row.runs).any(Run::leads) {
        reading.push(
            "A thread that leads is held taut on its way, and the others tie round it as it passes them.".to_owned(),
        );
    }
    reading.join(" ")
}
