//! A band with everything that follows from it.

use std::sync::OnceLock;

use crate::band::Band;
use crate::care::{care, is_a_childs};
use crate::colour::Owned;
use crate::craft::{self, CutList, Difficulty, Habits, Shopping, SkeinSize, ThreadLength};
use crate::error::Error;
use crate::fabric::Fabric;
use crate::lay::Lay;
use crate::proof::{Frieze, Look, Permutation, Report, Strip};
use crate::steps::{self, Steps};
use crate::work::{self, EasiestBand, RepeatWork, WorkCount};

/// A band, with everything that follows from it: its fabric, what is proved of it, its
/// measures, what to cut, the steps to tie it from, and its mirror image.
///
/// It is made from a band and the habits of the hand that ties it, and from nothing else, so
/// that none of this can be of another band. Each is found when it is first asked for, and
/// kept: asking for the order of the threads does not wait for the proofs. A tied band can
/// be asked by several workers at once.
///
/// ```
/// use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
/// use hitchwork_core::tied::Tied;
/// # let band = Band::new(BandParts {
/// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
/// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
/// #     ..BandParts::default() })?;
/// // `band`: three threads, the leftmost leads every row.
/// let tied = Tied::of(band);
/// assert_eq!(tied.fabric().knots().count(), 60);
/// assert_eq!(tied.report().repeats_to_close, 3);
/// assert_eq!(tied.steps().rows[0].order_after, [2, 3, 1]);
/// assert_eq!(tied.mirrored().steps().rows[0].order_after, [3, 1, 2]);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Debug)]
pub struct Tied {
    band: Band,
    habits: Habits,
    class: Option<Class>,
    stash: Option<Stocked>,
    wrist_mm: Option<f64>,
    fabric: OnceLock<Fabric>,
    lay: OnceLock<Lay>,
    thread_lengths: OnceLock<Vec<ThreadLength>>,
    cut_list: OnceLock<CutList>,
    permutation: OnceLock<Permutation>,
    knot_symmetry: OnceLock<Frieze>,
    look: OnceLock<Option<Look>>,
    report: OnceLock<Report>,
    difficulty: OnceLock<Difficulty>,
    steps: OnceLock<Steps>,
    worked: OnceLock<(RepeatWork, EasiestBand)>,
    is_shorter: OnceLock<bool>,
    eased: OnceLock<Fabric>,
    mirrored: OnceLock<Box<Tied>>,
}

/// A class that is to be bought for.
#[derive(Clone, Copy, Debug)]
struct Class {
    people: u32,
    skein: SkeinSize,
}

/// The threads that somebody has, to be compared with this many bands.
#[derive(Clone, Debug)]
struct Stocked {
    threads: Vec<Owned>,
    bands: u32,
}

impl Tied {
    /// A band, for a maker of the usual habits.
    #[must_use]
    pub fn of(band: Band) -> Self {
        Self::by(band, Habits::default())
    }

    /// A band, for a maker of these habits: another pace, other ties, other cutting. Lengths
    /// and times follow them.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// use hitchwork_core::craft::{Habits, Pace};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// let usual = Tied::of(band.clone());
    /// let slow = Tied::by(band, Habits { pace: Pace::new(24.0)?, ..Habits::default() });
    /// assert_eq!(slow.report().time.rows, usual.report().time.rows * 2.0);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn by(band: Band, habits: Habits) -> Self {
        Self {
            band,
            habits,
            class: None,
            stash: None,
            wrist_mm: None,
            fabric: OnceLock::new(),
            lay: OnceLock::new(),
            thread_lengths: OnceLock::new(),
            cut_list: OnceLock::new(),
            permutation: OnceLock::new(),
            knot_symmetry: OnceLock::new(),
            look: OnceLock::new(),
            report: OnceLock::new(),
            difficulty: OnceLock::new(),
            steps: OnceLock::new(),
            worked: OnceLock::new(),
            is_shorter: OnceLock::new(),
            eased: OnceLock::new(),
            mirrored: OnceLock::new(),
        }
    }

    /// The same, with what to buy for this many people in its report and steps: all of it, or
    /// what a [stash](Self::with_stash) does not have.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// use hitchwork_core::craft::SkeinSize;
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// let tied = Tied::of(band).for_class(12, SkeinSize::default())?;
    /// assert_eq!(tied.report().shopping.as_ref().map(|list| list.people), Some(12));
    /// assert_eq!(tied.steps().shopping.len(), 3);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When there are no people or more than 1,000, the size of a skein is absurd, or a
    /// piece that is to be bought is longer than a skein.
    pub fn for_class(mut self, people: u32, skein: SkeinSize) -> Result<Self, Error> {
        let class = Class { people, skein };
        self.shopping_for(class)?;
        self.class = Some(class);
        self.forget_report();
        Ok(self)
    }

    /// The same, its cut list compared with the threads of a stash for this many bands: the
    /// report and the steps say for every colour what is there, and a finding names each colour
    /// of which there is too little.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb, Stash}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// use hitchwork_core::proof::Code;
    /// # let band = Band::new(BandParts {
    /// #     palette: vec![Colour::new("buoy red", Srgb::new(200, 30, 30))],
    /// #     threads: vec![0, 0, 0], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 90,
    /// #     ..BandParts::default() })?;
    /// let stash = Stash::read(b"name,colour,left\nsignal,#c81e1e,0.5\n")?;
    /// let tied = Tied::of(band).with_stash(stash.threads(), 1);
    /// let mut found = tied.report().findings.iter();
    /// assert!(found.any(|finding| finding.code == Code::StashTooShort));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn with_stash(mut self, threads: &[Owned], bands: u32) -> Self {
        let threads = threads.to_vec();
        self.stash = Some(Stocked { threads, bands });
        self.forget_report();
        self
    }

    /// The same, for a wrist this many millimetres round: the sheet says so, and for a
    /// [child's](crate::care::is_a_childs) also what to be careful with. How long the band is
    /// for it, [`knotted_mm_for_wrist`](craft::knotted_mm_for_wrist) says.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// let tied = Tied::of(band).for_wrist(125.0);
    /// assert_eq!(tied.steps().meant_for[0], "For a wrist 12.5 cm round.");
    /// assert!(tied.steps().cautions.iter().any(|line| line.contains("with an adult")));
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn for_wrist(mut self, wrist_mm: f64) -> Self {
        self.wrist_mm = Some(wrist_mm);
        self.forget_report();
        self
    }

    /// What to buy for a class, besides what is there in the stash.
    fn shopping_for(&self, class: Class) -> Result<Shopping, Error> {
        let stash = self.stash.as_ref().map(|stash| stash.threads.as_slice());
        craft::shopping_beside(self.cut_list(), class.people, class.skein, stash)
    }

    /// What is said of a class or a stash stands in the report, and whatever comes of that.
    fn forget_report(&mut self) {
        self.report.take();
        self.steps.take();
        self.mirrored.take();
    }

    /// The band.
    #[must_use]
    pub fn band(&self) -> &Band {
        &self.band
    }

    /// The band, without all that followed from it.
    #[must_use]
    pub fn into_band(self) -> Band {
        self.band
    }

    /// The habits of the hand that ties it.
    #[must_use]
    pub fn habits(&self) -> &Habits {
        &self.habits
    }

    /// What the band becomes, knot by knot.
    #[must_use]
    pub fn fabric(&self) -> &Fabric {
        self.fabric.get_or_init(|| Fabric::of(&self.band))
    }

    /// How the fabric lies on the table.
    #[must_use]
    pub fn lay(&self) -> &Lay {
        self.lay
            .get_or_init(|| Lay::of(self.fabric(), &self.band.gauge()))
    }

    /// What the band takes of each thread, from left to right at the start.
    ///
    /// In a knot the working thread makes two wraps ([`craft::wraps_mm`]) and the core runs
    /// straight ([`craft::core_mm`]); between knots that do not touch, a thread runs along
    /// the band. At the ends, a knot round a bundle wraps a thickness that grows with the
    /// root of the number of threads inside ([`craft::bundle_mm`]), and a knot in the whole
    /// bundle is an overhand knot.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// # let stripe = |repeats| Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..3)?], repeats,
    /// #     ..BandParts::default() });
    /// let knotted = |band: Band| -> f64 {
    ///     let tied = Tied::of(band);
    ///     tied.thread_lengths().iter().map(|length| length.working + length.core).sum()
    /// };
    /// let (short, long) = (knotted(stripe(12)?), knotted(stripe(24)?));
    /// assert!((long - 2.0 * short).abs() < 1e-9);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn thread_lengths(&self) -> &[ThreadLength] {
        let found = || craft::thread_lengths(&self.band, self.fabric(), self.lay(), &self.habits);
        self.thread_lengths.get_or_init(found)
    }

    /// What to cut for it.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 1, 1], repeat: vec![Row::run(Kind::Forward, 1..4)?], repeats: 80,
    /// #     ..BandParts::default() })?;
    /// let tied = Tied::of(band);
    /// let (list, step) = (tied.cut_list(), tied.habits().cutting_step_mm);
    /// assert!(list.cuts.iter().all(|cut| cut.cut_mm % step == 0.0));
    /// assert_eq!(list.cuts.iter().map(|cut| cut.pieces).sum::<usize>(), 4);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn cut_list(&self) -> &CutList {
        let listed = || craft::cut_list(&self.band, self.thread_lengths(), &self.habits);
        self.cut_list.get_or_init(listed)
    }

    /// Everything that is proved.
    #[must_use]
    pub fn report(&self) -> &Report {
        self.report.get_or_init(|| {
            let lengths = self.thread_lengths();
            let mut report = Report::new(
                &self.band,
                (self.fabric(), self.lay()),
                lengths,
                self.cut_list(),
                &self.habits,
            );
            // What can be wrong with it was said by `for_class`, of the same pieces; a stash
            // leaves fewer of them to buy.
            report.shopping = self.class.and_then(|class| self.shopping_for(class).ok());
            if let Some(stash) = &self.stash {
                report.compare_with_stash(&stash.threads, stash.bands);
            }
            report
        })
    }

    /// How hard it is, in the order that the steps [follow](Self::followed) or as it is written, whichever
    /// is easier: in the easiest order a thread changes its kind of knot more often, and there are more rows
    /// to remember, but nobody has to follow it.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::{craft::Difficulty, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 0, 1, 1, 1], repeat: vec![Row::run(Kind::Forward, [1, 5])?,
    /// #         Row::run(Kind::Forward, [2, 4])?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// // `band`: as written its working thread changes four times a repeat, in the easiest order twice.
    /// let tied = Tied::of(band);
    /// assert!(tied.difficulty().points < Difficulty::of(tied.band()).points);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn difficulty(&self) -> &Difficulty {
        self.difficulty.get_or_init(|| {
            let written = Difficulty::of(&self.band);
            let followed = self.followed_order().map(Difficulty::of);
            let easier = followed.filter(|followed| followed.points <= written.points);
            easier.unwrap_or(written)
        })
    }

    /// What to be careful with, as its [steps](Steps::cautions) say it, without working those out.
    #[must_use]
    pub fn cautions(&self) -> Vec<String> {
        let care = care(self.wrist_mm.is_some_and(is_a_childs));
        care.into_iter().map(str::to_owned).collect()
    }

    /// The words to tie it from.
    #[must_use]
    pub fn steps(&self) -> &Steps {
        let written = || {
            Steps::new(
                self.followed(),
                self.followed_fabric(),
                (self.report(), self.difficulty()),
                &self.habits,
                (self.wrist_mm, self.cautions()),
            )
        };
        self.steps.get_or_init(written)
    }

    /// How often a hand has to think of something else in a repeat, as its rows are written and in
    /// the easiest order that was found.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 0, 1, 1, 1], repeat: vec![Row::run(Kind::Forward, [1, 5])?,
    /// #         Row::run(Kind::Forward, [2, 4])?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// // `band`: one thread goes on from column 1 to 2, one from 4 to 5 of the next repeat.
    /// let work = *Tied::of(band).work();
    /// assert_eq!((work.as_written.thread_changes, work.easiest.thread_changes), (4, 2));
    /// assert!(work.proved);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn work(&self) -> &RepeatWork {
        &self.worked().0
    }

    /// The same of the order that the steps [follow](Self::followed).
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::tied::Tied;
    /// # let turning = |columns: [u16; 2]| Row::run(Kind::ForwardBackward, columns);
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 1, 1, 0, 0], repeat: vec![turning([1, 3])?, turning([2, 4])?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// // `band`: two rows of turning knots, each one line by its positions: they are kept.
    /// let tied = Tied::of(band);
    /// assert_eq!(tied.followed_work(), tied.work().as_written);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn followed_work(&self) -> WorkCount {
        match self.followed_order() {
            None => self.work().as_written,
            Some(band) => WorkCount::of(band),
        }
    }

    /// The band with its rows in the easiest order, each row one run of a working thread; the
    /// band as it is written where that is as easy. It makes the same fabric.
    #[must_use]
    pub fn easiest(&self) -> &Band {
        self.worked().1.easiest.as_ref().unwrap_or(&self.band)
    }

    /// The band as it is tied: in the easiest order, which steps, sheets and charts follow; but as it is written where its [designer](Band::as_written) or the
    /// [maker](Habits::as_written) wants it so, where that is as easy, where no thread ever leaves its
    /// place and each row is one line by its positions, and where it takes no more steps to tell, as rows
    /// over a leader do. Rows before and after the repeats come in only where they are worth it. The
    /// fabric is the same.
    ///
    /// ```
    /// # use hitchwork_core::{band::{Band, BandParts}, colour::{Colour, Srgb}, knot::Kind, row::Row};
    /// # use hitchwork_core::{craft::Habits, tied::Tied};
    /// # let band = Band::new(BandParts {
    /// #     palette: Colour::spoken([Srgb::new(20, 120, 140), Srgb::new(240, 190, 60)]),
    /// #     threads: vec![0, 0, 0, 1, 1, 1], repeat: vec![Row::run(Kind::Forward, [1, 5])?,
    /// #         Row::run(Kind::Forward, [2, 4])?, Row::run(Kind::Forward, [3])?], repeats: 30,
    /// #     ..BandParts::default() })?;
    /// // `band`: knots in columns 1 and 5, then in 2 and 4, then in 3, in three rows.
    /// let tied = Tied::of(band.clone());
    /// assert_eq!(tied.followed().repeat().len(), tied.work().easiest.thread_changes);
    /// let as_written = Tied::by(band, Habits { as_written: true, ..Habits::default() });
    /// assert_eq!(as_written.followed().repeat().len(), 3);
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    #[must_use]
    pub fn followed(&self) -> &Band {
        self.followed_order().unwrap_or(&self.band)
    }

    /// The fabric of the band [as it is tied](Self::followed): the same knots, each in its row.
    #[must_use]
    pub fn followed_fabric(&self) -> &Fabric {
        match self.followed_order() {
            None => self.fabric(),
            Some(band) => self.eased.get_or_init(|| Fabric::of(band)),
        }
    }

    /// The band in another order than it is written in, where that is followed.
    fn followed_order(&self) -> Option<&Band> {
        let as_written = self.habits.as_written || self.band.as_written();
        if as_written || work::is_a_line_a_row(&self.band) {
            return None;
        }
        let found = &self.worked().1;
        let easier = found.handier.as_ref().or(found.easiest.as_ref())?;
        let takes_fewer_steps = || {
            let eased = self.eased.get_or_init(|| Fabric::of(easier));
            steps::repeat_steps(eased) < steps::repeat_steps(self.fabric())
        };
        let is_shorter = *self.is_shorter.get_or_init(takes_fewer_steps);
        is_shorter.then_some(easier)
    }

    fn worked(&self) -> &(RepeatWork, EasiestBand) {
        let found = || work::easiest(&self.band, self.habits.half_rows_ahead);
        self.worked.get_or_init(found)
    }

    /// Its mirror image, by the same habits and with the same asked for.
    #[must_use]
    pub fn mirrored(&self) -> &Self {
        let mirrored = || {
            // Both hands tie in the same order: where it has been found, it is not looked for again.
            let found = self.worked.get();
            let worked = found.map(|(work, easiest)| (*work, easiest.mirrored()));
            Box::new(Self {
                worked: worked.map(OnceLock::from).unwrap_or_default(),
                class: self.class,
                stash: self.stash.clone(),
                wrist_mm: self.wrist_mm,
                ..Self::by(self.band.mirrored(), self.habits)
            })
        };
        self.mirrored.get_or_init(mirrored)
    }

    /// Where a repeat sends every thread.
    #[must_use]
    pub fn permutation(&self) -> &Permutation {
        self.permutation
            .get_or_init(|| Permutation::of_repeat(&self.band))
    }

    /// What strikes the eye; nothing where the colours come round too late to look.
    #[must_use]
    pub fn look(&self) -> Option<Look> {
        *self.look.get_or_init(|| Look::of(&self.band))
    }

    /// The symmetry of the knots: from the report where there is one, else by itself.
    pub(crate) fn knot_symmetry(&self) -> Frieze {
        let strip = || Strip::of_rows(self.band.repeat(), self.band.thread_count());
        match self.report.get() {
            Some(report) => report.symmetry.knots,
            None => *self.knot_symmetry.get_or_init(|| strip().pattern().group),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::band::BandParts;
    use crate::colour::{Colour, Srgb, Stash};
    use crate::knot::Kind;
    use crate::proof::Code;
    use crate::row::Row;

    /// Three threads, the leftmost leads every row: its mirror image is another band.
    fn stripe() -> Band {
        let colours = [("buoy red", 200), ("sand", 240)];
        let band = Band::new(BandParts {
            palette: colours
                .map(|(name, red)| Colour::new(name, Srgb::new(red, 30, 30)))
                .to_vec(),
            threads: vec![0, 1, 1],
            repeat: vec![Row::run(Kind::Forward, 1..3).expect("columns")],
            repeats: 30,
            ..BandParts::default()
        });
        band.expect("a band")
    }

    /// What has been found so far, by name.
    fn found(tied: &Tied) -> Vec<&'static str> {
        let all = [
            ("fabric", tied.fabric.get().is_some()),
            ("lengths", tied.thread_lengths.get().is_some()),
            ("cut list", tied.cut_list.get().is_some()),
            ("permutation", tied.permutation.get().is_some()),
            ("knot symmetry", tied.knot_symmetry.get().is_some()),
            ("look", tied.look.get().is_some()),
            ("report", tied.report.get().is_some()),
            ("steps", tied.steps.get().is_some()),
            ("mirrored", tied.mirrored.get().is_some()),
        ];
        let found = all.into_iter().filter(|(_, found)| *found);
        found.map(|(name, _)| name).collect()
    }

    #[test]
    fn only_what_is_asked_is_found() {
        let after = |ask: fn(&Tied)| {
            let tied = Tied::of(stripe());
            ask(&tied);
            found(&tied)
        };
        let measure = |name: &'static str| {
            let tied = Tied::of(stripe());
            assert!(tied.measure(name).is_some());
            found(&tied)
        };
        assert_eq!(after(|_| ()), [""; 0]);
        assert_eq!(after(|tied| _ = tied.fabric()), ["fabric"]);
        let lengths = ["fabric", "lengths"];
        assert_eq!(after(|tied| _ = tied.thread_lengths()), lengths);
        let cuts = ["fabric", "lengths", "cut list"];
        assert_eq!(after(|tied| _ = tied.cut_list()), cuts);
        let report = ["fabric", "lengths", "cut list", "report"];
        assert_eq!(after(|tied| _ = tied.report()), report);
        let steps = [&report[..], &["steps"]].concat();
        assert_eq!(after(|tied| _ = tied.steps()), steps);
        assert_eq!(after(|tied| _ = tied.mirrored()), ["mirrored"]);
        assert_eq!(measure("knots"), [""; 0]);
        assert_eq!(measure("repeats_to_close"), ["permutation"]);
        assert_eq!(measure("knot_symmetry"), ["knot symmetry"]);
        assert_eq!(measure("contrast"), ["look"]);
        assert_eq!(measure("minutes"), report);
    }

    #[test]
    fn what_was_found_is_kept() {
        let tied = Tied::of(stripe());
        assert!(std::ptr::eq(tied.report(), tied.report()));
        assert!(std::ptr::eq(tied.mirrored(), tied.mirrored()));
        // With the report there, the frieze group is read from it.
        assert_eq!(
            tied.measure("knot_symmetry").is_some(),
            tied.knot_symmetry.get().is_none()
        );
    }

    /// A class and a stash are told of in report and steps also where those were asked for
    /// before, and in the mirror.
    #[test]
    fn what_is_asked_later_is_told_to_both_hands() {
        let habits = Habits {
            tie_mm: 150.0,
            ..Habits::default()
        };
        let tied = Tied::by(stripe(), habits);
        let stash = Stash::read(b"name,colour,left\nquay,#c81e1e,0.1\n").expect("a stash");
        let _ = (tied.steps(), tied.mirrored().steps());
        let tied = tied
            .for_class(6, SkeinSize::default())
            .expect("short pieces");
        let _ = (tied.steps(), tied.mirrored().steps());
        let tied = tied.with_stash(stash.threads(), 6);
        for side in [&tied, tied.mirrored()] {
            assert_eq!(side.habits(), &habits);
            let shopping = side.report().shopping.as_ref().expect("asked for");
            assert_eq!(shopping.people, 6);
            let mut findings = side.report().findings.iter();
            assert!(findings.any(|finding| finding.code == Code::StashTooShort));
            // For six bands six times the thread of one.
            let one: f64 = side.report().cut_list.total_m();
            let needed = side.report().stash.iter().flatten();
            let needed: f64 = needed.map(|colour| colour.needs_mm / 1000.0).sum();
            assert!((needed - 6.0 * one).abs() < 1e-9, "{needed} of {one}");
            assert_eq!(
                (side.steps().shopping.len(), side.steps().stash.len()),
                (3, 2)
            );
        }
        let twice = tied.mirrored().mirrored();
        assert_eq!(twice.report(), tied.report());
        assert_eq!(twice.steps(), tied.steps());
    }

    #[test]
    fn a_class_of_nobody_and_pieces_longer_than_a_skein_are_refused() {
        let tied = || Tied::of(stripe());
        let short = SkeinSize {
            length_mm: 200.0,
            ..SkeinSize::default()
        };
        assert!(tied().for_class(0, SkeinSize::default()).is_err());
        assert!(tied().for_class(6, short).is_err());
        assert!(tied().for_class(6, SkeinSize::default()).is_ok());
    }

    /// Workers may ask at once, and a band that goes out is the one that came in.
    #[test]
    fn workers_share_it() {
        let tied = Tied::of(stripe());
        let knots = std::thread::scope(|scope| {
            let asked = [(); 4].map(|()| scope.spawn(|| tied.report().knots));
            asked.map(|one| one.join().expect("no panic"))
        });
        assert_eq!(knots, [60; 4]);
        assert_eq!(tied.into_band().repeat(), stripe().repeat());
    }
}
