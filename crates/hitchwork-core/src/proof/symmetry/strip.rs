//! A strip of marked pieces, of which the infinite repeat of a band is one, and the
//! symmetry of any such strip.

use std::sync::{Arc, OnceLock};

use super::frieze::{Frieze, Lengthwise, Operation};
use super::walk::{Walk, WalkStep, least_rotation};
use crate::knot::Kind;
use crate::row::Row;

/// Pieces in columns, each with a mark, tied in this order again and again without
/// beginning or end. Pieces in the same column or in neighbouring ones touch, and only
/// the order of pieces that touch matters.
///
/// ```
/// use hitchwork_core::proof::{Frieze, Strip};
/// // Two columns, one mark in one of them at a time: the footprints of somebody walking.
/// let [left, right, between] = [1, 3, 2];
/// let steps = Strip::new(4, [(left, 1), (right, 0), (between, 2), (left, 0), (right, 1), (between, 2)]);
/// assert_eq!(steps.pattern().group, Frieze::P2mg);
/// // Pieces that do not touch may be tied in any order.
/// let other = Strip::new(4, [(right, 0), (left, 1), (between, 2), (right, 1), (left, 0), (between, 2)]);
/// assert_eq!(other.pattern().group, Frieze::P2mg);
/// ```
#[derive(Clone, Debug)]
pub struct Strip {
    ground: Arc<Ground>,
    marks: Vec<u32>,
    images: Images,
}

/// Where the pieces lie, whatever their marks: the walks depend on nothing else, so strips
/// on the same ground share them.
#[derive(Debug)]
pub(super) struct Ground {
    threads: u16,
    columns: Vec<u16>,
    walks: [OnceLock<Vec<Arc<Walk>>>; 4],
}

/// What operations make of marks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Images {
    /// They stay the same.
    Same,
    /// They are kinds of knots, or [`ANY_KIND`].
    Kinds,
}

/// The mark of a knot that counts as its own image whatever is done with it.
pub(super) const ANY_KIND: u32 = 4;

impl Ground {
    pub(super) fn new(threads: u16, columns: Vec<u16>) -> Self {
        Self {
            threads,
            columns,
            walks: [const { OnceLock::new() }; 4],
        }
    }

    pub(super) fn columns(&self) -> &[u16] {
        &self.columns
    }

    /// The walks through the parts of an image, from the image's left.
    fn walks(&self, operation: Operation) -> &[Arc<Walk>] {
        self.walks[operation.index()].get_or_init(|| {
            let (sides, ends) = (operation.exchanges_sides(), operation.exchanges_ends());
            let image = |column: &u16| match sides {
                false => *column,
                true => self.threads - column,
            };
            let columns: Vec<u16> = match ends {
                false => self.columns.iter().map(image).collect(),
                true => self.columns.iter().rev().map(image).collect(),
            };
            let walks = Walk::all(&columns, self.threads, ends);
            walks.into_iter().map(Arc::new).collect()
        })
    }
}

impl Strip {
    /// A strip of pieces in columns from 1, as on a band of `threads` threads; their marks
    /// stay the same whatever is done with the strip. Pieces in other columns are left out.
    #[must_use]
    pub fn new(threads: u16, pieces: impl IntoIterator<Item = (u16, u32)>) -> Self {
        let inside = |piece: &(u16, u32)| (1..threads).contains(&piece.0);
        let (columns, marks) = pieces.into_iter().filter(inside).unzip();
        Self {
            ground: Arc::new(Ground::new(threads, columns)),
            marks,
            images: Images::Same,
        }
    }

    /// Rows with the kinds of their knots as marks, on a band of `threads` threads. Knots
    /// outside are left out.
    #[must_use]
    pub fn of_rows(rows: &[Row], threads: u16) -> Self {
        let knots = rows.iter().flat_map(Row::knots);
        let piece = |knot: &crate::knot::Knot| (knot.column().number(), knot.kind() as u32);
        Self {
            images: Images::Kinds,
            ..Self::new(threads, knots.map(piece))
        }
    }

    /// Knots of these kinds in these places.
    pub(super) fn of_kinds(ground: &Arc<Ground>, kinds: &[Kind]) -> Self {
        Self {
            ground: Arc::clone(ground),
            marks: kinds.iter().map(|kind| *kind as u32).collect(),
            images: Images::Kinds,
        }
    }

    /// The same strip, but whatever is tied in the middle column counts as its own image.
    pub(super) fn with_middle_free(mut self) -> Self {
        for (column, mark) in self.ground.columns.iter().zip(&mut self.marks) {
            if 2 * *column == self.ground.threads {
                *mark = ANY_KIND;
            }
        }
        self
    }

    /// The same pieces without their marks.
    pub(super) fn bare(&self) -> Self {
        Self {
            ground: Arc::clone(&self.ground),
            marks: vec![0; self.marks.len()],
            images: Images::Same,
        }
    }

    /// How many pieces it has in one repeat.
    #[must_use]
    pub fn len(&self) -> usize {
        self.marks.len()
    }

    /// Whether there are no pieces at all.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.marks.is_empty()
    }

    pub(in crate::proof) fn threads(&self) -> u16 {
        self.ground.threads
    }

    pub(in crate::proof) fn mark(&self, piece: usize) -> u32 {
        self.marks[piece]
    }

    pub(in crate::proof) fn mark_image(&self, operation: Operation, mark: u32) -> u32 {
        match (self.images, Kind::ALL.get(mark as usize)) {
            (Images::Kinds, Some(kind)) => operation.of_kind(*kind) as u32,
            _ => mark,
        }
    }

    pub(in crate::proof) fn column(&self, piece: usize) -> u16 {
        self.ground.columns[piece]
    }

    /// For each column number the times of one repeat at which it is tied.
    fn lanes(&self) -> Vec<Vec<i64>> {
        let mut lanes = vec![Vec::new(); usize::from(self.threads())];
        for (time, column) in (0..).zip(&self.ground.columns) {
            lanes[usize::from(*column)].push(time);
        }
        lanes
    }

    /// The piece tied at this time.
    pub(in crate::proof) fn piece_at(&self, time: i64) -> usize {
        let length = i64::try_from(self.len()).expect("MAX_KNOTS fits");
        usize::try_from(time.rem_euclid(length)).expect("below a length")
    }

    /// The walks through the parts of an image of the strip, from the image's left.
    pub(in crate::proof) fn walks(&self, operation: Operation) -> &[Arc<Walk>] {
        self.ground.walks(operation)
    }

    /// Walks through the strip and its images.
    #[must_use]
    pub fn read(&self) -> Reading<'_> {
        Reading {
            words: Operation::ALL.map(|operation| self.words(operation)),
            strip: self,
        }
    }

    /// The words that the walks read: a letter is a column and a mark.
    pub(in crate::proof) fn words(&self, operation: Operation) -> Vec<CycleWord> {
        // Kinds are few: what becomes of each is looked up once, not for every knot.
        let known: [u32; 8] = std::array::from_fn(|mark| {
            self.mark_image(operation, u32::try_from(mark).unwrap_or(0))
        });
        let letter = |step: &WalkStep| {
            let mark = self.marks[step.knot as usize];
            let mark = known.get(mark as usize).copied().unwrap_or(mark);
            u64::from(step.column) << 32 | u64::from(mark)
        };
        let word = |walk: &Arc<Walk>| {
            CycleWord::new(walk.steps().iter().map(letter).collect(), Arc::clone(walk))
        };
        self.walks(operation).iter().map(word).collect()
    }

    /// Its smallest period and its symmetry.
    #[must_use]
    pub fn pattern(&self) -> StripPattern {
        self.read().pattern()
    }
}

/// A strip and its images, read in a way that does not depend on the order of tying: what
/// is asked about symmetry and sameness is answered from here.
///
/// ```
/// use hitchwork_core::{knot::Kind, proof::{Disguises, Frieze, Strip}, row::Row};
/// let strip = Strip::of_rows(&[Row::run(Kind::Forward, 1..5)?], 5);
/// let reading = strip.read();
/// assert_eq!(reading.pattern().group, Frieze::P2);
/// let form = reading.canonical_form(Disguises::ALL);
/// let mirrored = Strip::of_rows(&[Row::run(Kind::Backward, [4, 3, 2, 1])?], 5);
/// assert_eq!(mirrored.read().canonical_form(Disguises::ALL), form);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Debug)]
pub struct Reading<'a> {
    pub(in crate::proof) words: [Vec<CycleWord>; 4],
    pub(in crate::proof) strip: &'a Strip,
}

impl Reading<'_> {
    /// Of how many smallest periods, common to all its parts, the strip consists.
    pub(in crate::proof) fn periods(&self) -> u64 {
        common_periods(&self.words[0])
    }

    /// The smallest period and the symmetry.
    #[must_use]
    pub fn pattern(&self) -> StripPattern {
        let [plain, mirrored, upside_down, half_turned] = &self.words;
        let mirrored = Fit::find(plain, mirrored, Operation::Mirrored);
        let upside_down = Fit::find(plain, upside_down, Operation::UpsideDown);
        let half_turned = Fit::find(plain, half_turned, Operation::HalfTurned);
        let along = mirrored.as_ref().map(Fit::lengthwise);
        let group = Frieze::of(along, upside_down.is_some(), half_turned.is_some());
        StripPattern {
            group,
            periods: self.periods(),
            across: upside_down.map_or_else(Vec::new, |fit| fit.axes(self.strip)),
            centres: half_turned.map_or_else(Vec::new, |fit| fit.centres(self.strip)),
        }
    }
}

/// How many smallest periods all parts have in common.
pub(in crate::proof) fn common_periods(words: &[CycleWord]) -> u64 {
    let periods = words.iter().map(CycleWord::periods);
    periods.fold(0, super::greatest_common_divisor).max(1)
}

/// What a walk reads in one cycle.
#[derive(Debug)]
pub(in crate::proof) struct CycleWord {
    pub(in crate::proof) letters: Vec<u64>,
    pub(in crate::proof) walk: Arc<Walk>,
    /// Where its least rotation begins.
    pub(in crate::proof) begins: usize,
    /// After how many letters it comes again.
    pub(in crate::proof) period: usize,
}

impl CycleWord {
    pub(in crate::proof) fn new(letters: Vec<u64>, walk: Arc<Walk>) -> Self {
        let (begins, period) = least_rotation(&letters);
        Self {
            letters,
            walk,
            begins,
            period,
        }
    }

    /// The least rotation.
    pub(in crate::proof) fn least(&self) -> impl Iterator<Item = u64> + Clone + '_ {
        let (end, start) = self.letters.split_at(self.begins);
        start.iter().chain(end).copied()
    }

    /// Of how many smallest periods one cycle consists.
    pub(in crate::proof) fn periods(&self) -> u64 {
        (self.letters.len() / self.period) as u64
    }

    fn is_rotation_of(&self, other: &Self) -> bool {
        self.letters.len() == other.letters.len()
            && self.period == other.period
            && self.least().eq(other.least())
    }
}

/// A way in which an image of a strip fits on the strip.
pub(in crate::proof) struct Fit<'a> {
    plain: &'a [CycleWord],
    image: &'a [CycleWord],
    /// For each part, at which step its image's walk comes by, by piece.
    image_steps: Vec<Vec<u32>>,
    /// For each part, by how many steps its image is pushed along to fit.
    offsets: Vec<i64>,
    operation: Operation,
}

fn signed(length: usize) -> i64 {
    i64::try_from(length).expect("MAX_KNOTS fits")
}

impl<'a> Fit<'a> {
    /// The image of a strip looks like the strip, pushed along, where both walks read the same
    /// cyclic words. Parts do not touch each other, so each may be pushed along by itself; but
    /// they keep their order across the band, for which the walks of an image are told from its
    /// own left. So the first part of the image can only fit on the first, and so on.
    pub(in crate::proof) fn find(
        plain: &'a [CycleWord],
        image: &'a [CycleWord],
        operation: Operation,
    ) -> Option<Self> {
        let fits = plain.len() == image.len()
            && image
                .iter()
                .zip(plain)
                .all(|(image, plain)| image.is_rotation_of(plain));
        if !fits {
            return None;
        }
        // Both words begin their least rotation at a place of their own. An image whose word is
        // put where the plain word's begins lies on the strip, knot on knot.
        let offset =
            |(image, plain): (&CycleWord, &CycleWord)| signed(image.begins) - signed(plain.begins);
        let offsets = image.iter().zip(plain).map(offset).collect();
        let image_steps = image.iter().map(|word| word.walk.steps_by_knot()).collect();
        let mut fit = Self {
            plain,
            image,
            image_steps,
            offsets,
            operation,
        };
        // Of a mirror from left to right there are as many as there are periods, each with a
        // push along of its own, and only done twice does it tell how far that goes. The others
        // turn the direction of tying about, and undo themselves wherever their axis lies.
        if operation == Operation::Mirrored {
            fit.centre();
        }
        Some(fit)
    }

    pub(super) fn operation(&self) -> Operation {
        self.operation
    }

    /// Where the piece of a time comes to lie when the image is pushed along by this many
    /// smallest periods more. `part` is where it comes to lie.
    pub(in crate::proof) fn send(&self, part: usize, time: i64, periods: i64) -> i64 {
        // From the time of the piece to the step at which the image's walk comes by, from there
        // to the step of the plain walk on which it is laid, and back to a time.
        let step = self.image[part].walk.step(&self.image_steps[part], time);
        let along = self.offsets[part] - periods * signed(self.plain[part].period);
        self.plain[part].walk.time(step - along)
    }

    /// For each piece of a strip that is all one part, the step of the plain walk at which it
    /// comes to lie when nothing more is pushed along.
    pub(super) fn steps(&self) -> Vec<usize> {
        let length = signed(self.plain[0].letters.len());
        let along = self.offsets[0];
        let step = |step: &u32| (i64::from(*step) - along).rem_euclid(length);
        let step = |at: &u32| usize::try_from(step(at)).expect("below a length");
        self.image_steps[0].iter().map(step).collect()
    }

    /// The pieces of a strip that is all one part in the order of the plain walk, and after
    /// how many of them the bare places come again.
    pub(super) fn plain(&self) -> (impl Iterator<Item = usize> + '_, usize) {
        let word = &self.plain[0];
        let pieces = word.walk.steps().iter().map(|step| step.knot as usize);
        (pieces, word.period)
    }

    /// By how many smallest periods the middle part moves when it is mirrored from left to right
    /// twice: a whole number, for mirroring twice turns nothing, and what lies on itself after
    /// a push along was pushed by whole periods. The mirror exchanges all other parts with one
    /// another, which can be pushed so that twice moves nothing: only an odd number of parts
    /// has one in the middle that lies on itself.
    fn twice(&self) -> Option<(usize, i64)> {
        let parts = self.plain.len();
        let middle = (parts % 2 == 1).then_some(parts / 2)?;
        let plain = &self.plain[middle].walk;
        // One knot is enough, since all move alike: that with which the walk begins.
        let back = self.send(middle, self.send(middle, plain.time(0), 0), 0);
        let steps = plain.step(&plain.steps_by_knot(), back);
        Some((middle, steps / signed(self.plain[middle].period)))
    }

    /// Pushes a left-right mirror image along so that mirroring twice moves nothing, or
    /// one period where it cannot be nothing.
    fn centre(&mut self) {
        if let Some((middle, periods)) = self.twice() {
            // A push counts twice when it is done twice. What is left over is 0 or 1.
            let period = signed(self.plain[middle].period);
            self.offsets[middle] += periods.div_euclid(2) * period;
        }
    }

    /// Whether a left-right mirror image fits as it is or half a period further on: twice half
    /// a period is the one period that `centre` could not take away.
    pub(in crate::proof) fn lengthwise(&self) -> Lengthwise {
        match self.twice() {
            Some((_, periods)) if periods % 2 != 0 => Lengthwise::Glide,
            _ => Lengthwise::Mirror,
        }
    }

    /// The two axes across that each smallest period has: an image that is pushed on by one
    /// period lies on the strip again, and what stays where it is then lies half a period
    /// further on. With two periods the first axis comes again, one period on.
    fn axes(&self, strip: &Strip) -> Vec<Vec<(i64, i64)>> {
        let lanes = strip.lanes();
        let axis = |periods: i64| {
            let part = |part: usize| {
                let mut columns = vec![false; lanes.len()];
                for step in self.plain[part].walk.steps() {
                    columns[usize::from(step.column)] = true;
                }
                let used = lanes.iter().zip(columns).filter(|(_, used)| *used);
                let places = used.map(|(lane, _)| self.halfway(strip, lane, part, periods));
                places.collect::<Vec<_>>()
            };
            (0..self.plain.len()).flat_map(part).collect()
        };
        vec![axis(0), axis(1)]
    }

    /// The two centres that each smallest period has, as with the axes. A half turn takes a
    /// column to the one as far from the other edge: halfway between a knot and its image is
    /// the centre, whichever column is asked. That next to the middle is, since its knots lie
    /// nearest.
    fn centres(&self, strip: &Strip) -> Vec<(i64, i64)> {
        let threads = strip.threads();
        let lanes = strip.lanes();
        let used = |column: &u16| !lanes[usize::from(*column)].is_empty();
        let Some(column) = (1..=threads / 2).rev().find(used) else {
            return Vec::new();
        };
        let image_column = threads - column;
        let lies_in = |word: &&CycleWord| {
            word.walk
                .steps()
                .iter()
                .any(|step| step.column == image_column)
        };
        let part = self.plain.iter().position(|word| lies_in(&word));
        let lane = &lanes[usize::from(column)];
        let centre = |periods| part.map(|part| self.halfway(strip, lane, part, periods));
        [0, 1].into_iter().filter_map(centre).collect()
    }

    /// The last piece of a column that is not tied after its image, and that image, for an
    /// operation that exchanges the ends: between the two, or on them where they are one,
    /// lies what stays where it is. `lane` are the times of the column, and `part` is where
    /// the image lies.
    fn halfway(&self, strip: &Strip, lane: &[i64], part: usize, periods: i64) -> (i64, i64) {
        let length = signed(strip.len());
        let nth = |number: i64| {
            let at = usize::try_from(number.rem_euclid(signed(lane.len()))).expect("in the lane");
            lane[at] + number.div_euclid(signed(lane.len())) * length
        };
        let comes_after = |number: i64| self.send(part, nth(number), periods) >= nth(number);
        // The later a piece, the earlier its image: once a piece comes after its image, all
        // later ones do. So the last that does not is found by doubling the stretch until it
        // lies inside, and halving what is left.
        let (mut low, mut high) = (0, 1);
        while !comes_after(low) {
            low = low * 2 - 1;
        }
        while comes_after(high) {
            high *= 2;
        }
        while high - low > 1 {
            let middle = i64::midpoint(low, high);
            if comes_after(middle) {
                low = middle;
            } else {
                high = middle;
            }
        }
        let one = nth(low);
        let other = self.send(part, one, periods);
        let whole = one.div_euclid(length) * length;
        (one - whole, other - whole)
    }
}

/// An operation as a rearrangement of the pieces of one repeat.
#[derive(Clone)]
pub(super) struct Move {
    pub(super) operation: Operation,
    pub(super) goes_to: Vec<u32>,
}

impl Fit<'_> {
    /// What it makes of a strip, pushed this many periods further along.
    pub(super) fn moved(&self, strip: &Strip, periods: i64) -> Move {
        let goes_to = |time| {
            let piece = strip.piece_at(self.send(0, time, periods));
            u32::try_from(piece).expect("MAX_KNOTS fits")
        };
        let length = i64::try_from(strip.len()).expect("MAX_KNOTS fits");
        Move {
            operation: self.operation(),
            goes_to: (0..length).map(goes_to).collect(),
        }
    }
}

/// The symmetry of a strip.
///
/// Places are pairs of times, which count the strip's pieces from 0: what is meant lies
/// halfway between the two, or on the piece where they are one. Everything comes again
/// after each smallest period.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StripPattern {
    /// The frieze group.
    pub group: Frieze,
    /// How many smallest periods one repeat is.
    pub periods: u64,
    /// The two axes of each period that mirror start and finish: a place for every column.
    pub(in crate::proof) across: Vec<Vec<(i64, i64)>>,
    /// The two centres of half turns of each period.
    pub(in crate::proof) centres: Vec<(i64, i64)>,
}
