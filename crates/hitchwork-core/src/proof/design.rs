//! The same design in disguise: a form that is the same for all that differ only by how
//! they are tied, where they begin, or how they are held.

mod disguise;

use std::cmp::Ordering;
use std::collections::BTreeSet;
use std::fmt;

pub use disguise::Disguise;
use sha2::{Digest, Sha256};

use super::permutation::at_first_repeat;
use super::symmetry::{CycleWord, Operation, Reading, Strip, common_periods};
use super::{MOST_KNOTS_SEEN, Permutation};
use crate::band::Band;
use crate::error::{Error, Problem};
use crate::row::Row;

/// What one design may be held as and still count as the same. The order of tying and the
/// row at which the repeat begins never count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Disguises {
    /// Left and right exchanged.
    pub mirrored: bool,
    /// Start and finish exchanged.
    pub upside_down: bool,
    /// Turned by half a turn.
    pub half_turned: bool,
}

impl Disguises {
    /// As it lies, and no other way.
    pub const NONE: Self = Self {
        mirrored: false,
        upside_down: false,
        half_turned: false,
    };

    /// Held in any way.
    pub const ALL: Self = Self {
        mirrored: true,
        upside_down: true,
        half_turned: true,
    };

    /// The operations allowed. Two of them one after the other make the third, so any two
    /// allow all.
    pub fn operations(self) -> impl Iterator<Item = Operation> + Clone {
        let allowed = [self.mirrored, self.upside_down, self.half_turned];
        let all = allowed.into_iter().filter(|allowed| *allowed).count() > 1;
        Operation::ALL.into_iter().filter(move |operation| {
            all || match operation {
                Operation::Plain => true,
                Operation::Mirrored => self.mirrored,
                Operation::UpsideDown => self.upside_down,
                Operation::HalfTurned => self.half_turned,
            }
        })
    }
}

/// How the colours of the threads count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum ColoursCount {
    /// Not at all: only the knots.
    No,
    /// Which threads are alike counts, and not which colour they have.
    ByLikeness,
    /// Every colour counts as it is.
    ByValue,
}

/// What is the same for all disguises of a design, and different for different designs.
///
/// It is made from the walk that [`Strip`] takes through the endless repeat: for every way
/// of holding the band that is allowed, the least rotation of the walk's word over its
/// smallest period; and of these the least. Where colours count, the orders of the threads'
/// colours at all beginnings that read the same are compared as well, and the least is
/// kept. So a repeat written twice is the same design as the repeat, and takes work in
/// proportion to its knots, and to the threads times the repeats after which the colours
/// come round.
///
/// The bytes of version 1: `hitchwork-design/1` and a line feed; a byte of the ways of
/// holding that were allowed (1 mirrored, 2 upside down, 4 half turned, added) and one of
/// how colours count (0, 1 or 2); then whole numbers in LEB128 (seven bits a byte, least
/// first, the top bit where more follow): the number of threads, the number of parts, and
/// for each part from the left its number of knots in the period common to all parts, and
/// for each knot its column and its kind (0 forward, 1 backward, 2 forward-backward,
/// 3 backward-forward); then for each position from the left the number of its colour, by
/// order of first appearance or by value. The [digest](Self::digest) is SHA-256 (FIPS
/// 180-4) of these bytes.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{CanonicalForm, Disguises}, row::Row};
/// let rows = [Row::run(Kind::Forward, 1..5)?, Row::run(Kind::BackwardForward, [2, 4])?];
/// let form = CanonicalForm::of_rows(&rows, 5, Disguises::ALL);
/// // The mirror of it, begun at its second row, and tied from the other side.
/// let disguised = [Row::run(Kind::ForwardBackward, [1, 3])?, Row::run(Kind::Backward, [4, 3, 2, 1])?];
/// assert_eq!(CanonicalForm::of_rows(&disguised, 5, Disguises::ALL), form);
/// assert_ne!(CanonicalForm::of_rows(&disguised, 5, Disguises::NONE),
///     CanonicalForm::of_rows(&rows, 5, Disguises::NONE));
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct CanonicalForm {
    bytes: Vec<u8>,
}

/// The name of the encoding; another encoding gets another name.
const VERSION: &[u8] = b"hitchwork-design/1\n";

impl CanonicalForm {
    /// That of the knots of a repeat on a band of `threads` threads. Knots outside are left
    /// out.
    #[must_use]
    pub fn of_rows(rows: &[Row], threads: u16, disguises: Disguises) -> Self {
        Strip::of_rows(rows, threads)
            .read()
            .canonical_form(disguises)
    }

    /// That of the endless repeat of a band. Neither its ends nor its lead-in and lead-out
    /// count.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// use hitchwork_core::proof::{CanonicalForm, ColoursCount, Disguises};
    /// let form = |band: &Band| CanonicalForm::of(band, Disguises::ALL, ColoursCount::ByValue);
    /// assert_eq!(form(&band)?, form(&band.mirrored())?);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When colours count and come round only after so many repeats that there are more
    /// than [`MOST_KNOTS_SEEN`] places to compare; or when the band falls apart into pieces
    /// that can be begun, each for itself, in more ways than can be compared.
    pub fn of(band: &Band, disguises: Disguises, colours: ColoursCount) -> Result<Self, Error> {
        let strip = Strip::of_rows(band.repeat(), band.thread_count());
        let reading = strip.read();
        let hung = Hung::of(band, colours)?;
        form(&reading, disguises, disguises.operations(), hung.as_ref())
    }

    /// The bytes, as documented above.
    #[must_use]
    pub fn bytes(&self) -> &[u8] {
        &self.bytes
    }

    /// The SHA-256 of the bytes: the same on every machine and in every later version of
    /// this crate that uses the same encoding.
    #[must_use]
    pub fn digest(&self) -> [u8; 32] {
        Sha256::digest(&self.bytes).into()
    }

    /// The digest in 64 hexadecimal digits.
    #[must_use]
    pub fn hex(&self) -> String {
        format!("{:x}", Sha256::digest(&self.bytes))
    }

    fn push(&mut self, mut number: u64) {
        while number > 127 {
            self.bytes.push((number & 127) as u8 | 128);
            number >>= 7;
        }
        self.bytes.push((number & 127) as u8);
    }
}

impl fmt::Debug for CanonicalForm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "CanonicalForm({})", self.hex())
    }
}

impl Reading<'_> {
    /// The canonical form of the strip, whose marks stand for kinds of knots.
    #[must_use]
    pub fn canonical_form(&self, disguises: Disguises) -> CanonicalForm {
        structure(self, disguises, disguises.operations(), ColoursCount::No).0
    }
}

/// The letters of a part in the period that all parts have in common.
fn letters(word: &CycleWord, common: u64) -> impl Iterator<Item = u64> + Clone + '_ {
    let periods = usize::try_from(word.periods() / common).expect("fewer than letters");
    word.least().take(word.period * periods)
}

fn compare(one: &[CycleWord], other: &[CycleWord], common: u64) -> Ordering {
    let of = |words: &[CycleWord]| words.len();
    let by_length = of(one).cmp(&of(other));
    one.iter()
        .zip(other)
        .fold(by_length, |so_far, (one, other)| {
            so_far.then_with(|| letters(one, common).cmp(letters(other, common)))
        })
}

/// Whether an image of the strip reads as another does.
fn reads_as(reading: &Reading<'_>, one: Operation, other: Operation) -> bool {
    let words = |operation: Operation| &reading.words[operation.index()];
    compare(words(one), words(other), common_periods(&reading.words[0])).is_eq()
}

/// The form over these operations; what was allowed is only noted.
fn form(
    reading: &Reading<'_>,
    allowed: Disguises,
    operations: impl Iterator<Item = Operation> + Clone,
    hung: Option<&Hung>,
) -> Result<CanonicalForm, Error> {
    let count = hung.map_or(ColoursCount::No, |hung| hung.count);
    let (mut form, least) = structure(reading, allowed, operations.clone(), count);
    let Some(hung) = hung else {
        return Ok(form);
    };
    let as_least = operations.filter(|operation| reads_as(reading, *operation, least));
    let named: Vec<Vec<u32>> = as_least
        .map(|operation| hung.least_names(reading, operation))
        .collect::<Result<_, _>>()?;
    for name in named.into_iter().min().unwrap_or_default() {
        form.push(name.into());
    }
    Ok(form)
}

/// The form over these operations without the colours, and the operation whose image reads
/// least; what was allowed and how colours count is only noted.
fn structure(
    reading: &Reading<'_>,
    allowed: Disguises,
    operations: impl Iterator<Item = Operation>,
    colours: ColoursCount,
) -> (CanonicalForm, Operation) {
    let common = common_periods(&reading.words[0]);
    let words = |operation: Operation| &reading.words[operation.index()];
    let least = operations
        .min_by(|one, other| compare(words(*one), words(*other), common))
        .unwrap_or(Operation::Plain);
    let mut form = CanonicalForm {
        bytes: Vec::with_capacity(VERSION.len() + 16 + 3 * reading.strip.len()),
    };
    form.bytes.extend_from_slice(VERSION);
    let ways = [allowed.mirrored, allowed.upside_down, allowed.half_turned];
    let flags = (0..).zip(ways).map(|(bit, way)| u8::from(way) << bit);
    form.bytes.push(flags.sum());
    form.bytes.push(colours as u8);
    form.push(reading.strip.threads().into());
    form.push(words(least).len() as u64);
    for word in words(least) {
        let letters = letters(word, common);
        form.push(word.period as u64 * (word.periods() / common));
        for letter in letters {
            form.push(letter >> 32);
            form.push(letter & u64::from(u32::MAX));
        }
    }
    (form, least)
}

/// The colours of the threads as they hang when the first repeat begins.
struct Hung {
    count: ColoursCount,
    before: Vec<u32>,
    /// As they hang after one repeat.
    after: Vec<u32>,
}

impl Hung {
    fn of(band: &Band, count: ColoursCount) -> Result<Option<Self>, Error> {
        if count == ColoursCount::No {
            return Ok(None);
        }
        let value = |index: &u16| {
            let srgb = band.palette()[usize::from(*index)].srgb;
            u32::from_be_bytes([0, srgb.red, srgb.green, srgb.blue])
        };
        let values: Vec<u32> = band.thread_colours().iter().map(value).collect();
        let values = at_first_repeat(band, &values);
        let mut kinds = values.clone();
        kinds.sort_unstable();
        kinds.dedup();
        let by_likeness: Vec<u16> = values
            .iter()
            .map(|value| {
                let at = kinds.binary_search(value).expect("it is one of them");
                u16::try_from(at).expect("no more than threads")
            })
            .collect();
        let permutation = Permutation::of_repeat(band);
        let repeats = permutation.colour_order(&by_likeness);
        if repeats.saturating_mul(u64::from(band.thread_count())) > MOST_KNOTS_SEEN {
            return Err(Problem::ColoursComeRoundLate { repeats }.into());
        }
        let before = match count {
            ColoursCount::ByValue => values,
            _ => by_likeness.into_iter().map(u32::from).collect(),
        };
        let came_from = permutation.order_after();
        let after = came_from.iter().map(|from| before[usize::from(*from) - 1]);
        Ok(Some(Self {
            count,
            after: after.collect(),
            before,
        }))
    }

    /// As they hang where the band begins when it is held in this way.
    fn held(&self, operation: Operation) -> Vec<u32> {
        let mut hung = match operation.exchanges_ends() {
            false => self.before.clone(),
            true => self.after.clone(),
        };
        if operation.exchanges_sides() {
            hung.reverse();
        }
        hung
    }

    /// The colours at every beginning at which the strip under an operation reads the same,
    /// for each part of it and each thread that is in none, from the left.
    fn beginnings(&self, reading: &Reading<'_>, operation: Operation) -> Vec<Vec<Vec<u32>>> {
        let strip = reading.strip;
        let hung = self.held(operation);
        let mut groups = Vec::new();
        let mut next = 0;
        for word in &reading.words[operation.index()] {
            let first = usize::from(word.walk.steps()[0].column) - 1;
            groups.extend(hung[next..first].iter().map(|lone| vec![vec![*lone]]));
            let last = word.walk.steps().iter().map(|step| step.column).max();
            next = usize::from(last.unwrap_or(0)) + 1;
            groups.push(part_beginnings(strip, operation, word, &hung[first..next]));
        }
        groups.extend(hung[next..].iter().map(|lone| vec![vec![*lone]]));
        groups
    }

    /// The colours of all positions at a beginning of every part, by likeness or value.
    fn alike(&self, groups: &[Vec<Vec<u32>>], beginning: usize) -> Vec<u32> {
        let colours = groups
            .iter()
            .flat_map(|group| &group[beginning % group.len()]);
        self.named(colours)
    }

    /// Colours by likeness or value.
    fn named<'a>(&self, colours: impl IntoIterator<Item = &'a u32>) -> Vec<u32> {
        let mut naming = Naming::default();
        let name = |colour: &u32| match self.count {
            ColoursCount::ByValue => *colour,
            _ => naming.of(*colour),
        };
        colours.into_iter().map(name).collect()
    }

    /// The least way of numbering the colours along the positions, over all beginnings.
    fn least_names(&self, reading: &Reading<'_>, operation: Operation) -> Result<Vec<u32>, Error> {
        let groups = self.beginnings(reading, operation);
        if self.count == ColoursCount::ByValue {
            let least = groups
                .into_iter()
                .filter_map(|group| group.into_iter().min());
            return Ok(least.flatten().collect());
        }
        // Several beginnings may read the same so far and yet leave different names for
        // the parts that follow: all such ways of naming go on.
        let mut namings = BTreeSet::from([Naming::default()]);
        let mut names = Vec::new();
        for (number, group) in groups.iter().enumerate() {
            let compared = namings.len() as u64 * group.iter().map(Vec::len).sum::<usize>() as u64;
            if compared > MOST_KNOTS_SEEN {
                return Err(Problem::PartsBeginInManyWays.into());
            }
            let later = groups[number + 1..]
                .iter()
                .filter_map(|group| group.first());
            let later: BTreeSet<u32> = later.flatten().copied().collect();
            let mut least: Option<(Vec<u32>, BTreeSet<Naming>)> = None;
            for naming in &namings {
                for colours in group {
                    let mut naming = naming.clone();
                    let named: Vec<u32> = colours.iter().map(|colour| naming.of(*colour)).collect();
                    naming.forget_all_but(&later);
                    match &mut least {
                        Some((best, _)) if *best < named => {}
                        Some((best, namings)) if *best == named => {
                            namings.insert(naming);
                        }
                        _ => least = Some((named, BTreeSet::from([naming]))),
                    }
                }
            }
            if let Some((named, after)) = least {
                names.extend(named);
                namings = after;
            }
        }
        Ok(names)
    }
}

/// Numbers given to colours in the order in which they come.
#[derive(Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
struct Naming {
    known: Vec<u32>,
}

impl Naming {
    fn of(&mut self, colour: u32) -> u32 {
        let known = self.known.iter().position(|known| *known == colour);
        let number = known.unwrap_or_else(|| {
            self.known.push(colour);
            self.known.len() - 1
        });
        u32::try_from(number).expect("no more than threads")
    }
}

impl Naming {
    /// Forgets which colours have which numbers, but of those that still come: ways of naming
    /// that differ in nothing else go on alike.
    fn forget_all_but(&mut self, later: &BTreeSet<u32>) {
        for known in &mut self.known {
            if !later.contains(known) {
                *known = u32::MAX;
            }
        }
    }
}

/// The colours at the positions of one part at every beginning at which it reads the same,
/// from its least rotation on.
fn part_beginnings(
    strip: &Strip,
    operation: Operation,
    word: &CycleWord,
    hung: &[u32],
) -> Vec<Vec<u32>> {
    let steps = word.walk.steps();
    let first = steps[0].column;
    let (length, threads) = (strip.len(), strip.threads());
    // The knot tied at a time in the image, and its column there.
    let tied = |time: usize| {
        let knot = match operation.exchanges_ends() {
            false => time % length,
            true => length - 1 - time % length,
        };
        let column = strip.column(knot);
        match operation.exchanges_sides() {
            false => (knot, column),
            true => (knot, threads - column),
        }
    };
    let changes = |knot: usize| strip.mark(knot) < 2;
    let swap = |order: &mut [u32], column: u16, knot: usize| {
        if changes(knot) {
            let left = usize::from(column - first);
            order.swap(left, left + 1);
        }
    };
    // The walk begins in each column only after some of its knots: these come first.
    let mut begins = vec![None; hung.len() - 1];
    for step in steps {
        let time = match operation.exchanges_ends() {
            false => step.time,
            true => i64::try_from(length).expect("MAX_KNOTS fits") - 1 - step.time,
        };
        let time = usize::try_from(time).expect("the walk begins after time 0");
        begins[usize::from(step.column - first)].get_or_insert(time);
    }
    let mut order = hung.to_vec();
    let latest = begins.iter().flatten().max().copied().unwrap_or(0);
    for time in 0..latest {
        let (knot, column) = tied(time);
        let lane = column.checked_sub(first).map(usize::from);
        let begins = lane.and_then(|lane| begins.get(lane).copied().flatten());
        if begins.is_some_and(|begins| time < begins) {
            swap(&mut order, column, knot);
        }
    }
    for step in &steps[..word.begins] {
        swap(&mut order, step.column, step.knot as usize);
    }
    let mut came_from: Vec<u32> = (0..).take(hung.len()).collect();
    for step in steps.iter().cycle().skip(word.begins).take(word.period) {
        swap(&mut came_from, step.column, step.knot as usize);
    }
    let mut beginnings = vec![order];
    loop {
        let last = &beginnings[beginnings.len() - 1];
        let next: Vec<u32> = came_from.iter().map(|from| last[*from as usize]).collect();
        if next == beginnings[0] {
            return beginnings;
        }
        beginnings.push(next);
    }
}
