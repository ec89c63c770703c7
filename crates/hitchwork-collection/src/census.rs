//! Every design of a small size, counted.

use std::collections::BTreeMap;
use std::ops::{ControlFlow, Range};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};

use hitchwork_core::knot::Kind;
use hitchwork_core::proof::{
    Disguises, Frieze, Mesh, Operation, Strip, StripPattern, brick_lattice,
};

use crate::workers::all_at_once;

/// The most repeats that are gone through one by one: a few minutes' work.
pub const MOST_REPEATS: u64 = 1 << 26;

/// How many repeats a worker goes through at a time.
const BLOCK: u64 = 1 << 14;

/// A census of all full fabrics of one size: every place of a
/// [brick lattice](brick_lattice) has one of the kinds.
#[derive(Clone, Debug)]
pub struct Census {
    mesh: Mesh,
    kinds: Vec<Kind>,
    disguises: Disguises,
    repeats: u64,
}

/// What a census counted.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Counted {
    /// All repeats, each begun at each of its rows and held in each way counted by itself.
    pub repeats: u64,
    /// The designs among them: repeats that are the same in disguise count once.
    pub designs: u64,
    /// The designs by the symmetry of their knots.
    pub by_symmetry: BTreeMap<Frieze, u64>,
    /// The sum over all designs of the number of repeats that are disguises of each. That it
    /// is the number of all repeats proves that none was missed and none counted twice.
    pub accounted_for: u64,
}

/// A census that cannot be taken.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CensusError {
    /// There is no such lattice.
    #[error(transparent)]
    Lattice(#[from] hitchwork_core::Error),
    /// There are too many repeats.
    #[error(
        "{places} places with {kinds} kinds each make more than {MOST_REPEATS} repeats to go through"
    )]
    TooMany {
        /// How many knots a repeat has.
        places: usize,
        /// How many kinds each may have.
        kinds: usize,
    },
    /// Held in another way, a repeat of these kinds has others.
    #[error("held in another way, a {kind} knot is a {image} one, which is not among the kinds")]
    KindsNotKept {
        /// A kind that is among them.
        kind: Kind,
        /// What becomes of it.
        image: Kind,
    },
}

/// A design: the beginning of its digest, its group, and how many repeats are it.
type DesignCount = (u128, Frieze, u64);

impl Census {
    /// All full fabrics of this many threads and rows, with knots of these kinds.
    ///
    /// ```
    /// use hitchwork_collection::census::Census;
    /// use hitchwork_core::{knot::Kind, proof::Disguises};
    /// use std::{ops::ControlFlow, sync::atomic::AtomicBool};
    /// let census = Census::new(2, 4, &Kind::ALL, Disguises::NONE)?;
    /// let counted = census.take(1, &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()));
    /// // In a single column: necklaces of four beads in four colours (OEIS A001868).
    /// assert_eq!(counted.map(|counted| (counted.repeats, counted.designs)), Some((256, 70)));
    /// # Ok::<(), hitchwork_collection::census::CensusError>(())
    /// ```
    ///
    /// # Errors
    /// When there is no such lattice, there are more than [`MOST_REPEATS`], or a way of
    /// holding that counts as the same makes other kinds of these.
    pub fn new(
        threads: u16,
        rows: usize,
        kinds: &[Kind],
        disguises: Disguises,
    ) -> Result<Self, CensusError> {
        let mesh = Mesh::of_rows(&brick_lattice(threads, rows)?, threads);
        let mut kinds = kinds.to_vec();
        kinds.sort_unstable();
        kinds.dedup();
        for operation in disguises.operations() {
            for kind in &kinds {
                let (kind, image) = (*kind, operation.of_kind(*kind));
                if !kinds.contains(&image) {
                    return Err(CensusError::KindsNotKept { kind, image });
                }
            }
        }
        let repeats = u32::try_from(mesh.len())
            .ok()
            .and_then(|places| (kinds.len() as u64).checked_pow(places))
            .filter(|repeats| *repeats <= MOST_REPEATS)
            .ok_or(CensusError::TooMany {
                places: mesh.len(),
                kinds: kinds.len(),
            })?;
        Ok(Self {
            mesh,
            kinds,
            disguises,
            repeats,
        })
    }

    /// How many repeats it has to go through.
    #[must_use]
    pub fn repeats(&self) -> u64 {
        self.repeats
    }

    /// Takes the census; nothing if it was stopped. `watch` is called now and then with the
    /// number of repeats gone through, and may end it, as may `stop`.
    pub fn take(
        &self,
        workers: usize,
        stop: &AtomicBool,
        watch: &mut dyn FnMut(u64) -> ControlFlow<()>,
    ) -> Option<Counted> {
        let ground = self.mesh.columns().iter().map(|column| (*column, 0));
        let ground = Strip::new(self.mesh.threads(), ground).pattern();
        let next = AtomicU64::new(0);
        let done = AtomicU64::new(0);
        let work = || {
            let mut entries: Vec<DesignCount> = Vec::new();
            let mut let_in = 1 << 16;
            while !stop.load(Relaxed) {
                let first = next.fetch_add(BLOCK, Relaxed);
                if first >= self.repeats {
                    break;
                }
                let block = first..(first + BLOCK).min(self.repeats);
                let count = block.end - block.start;
                self.entries(block, &ground, &mut entries);
                done.fetch_add(count, Relaxed);
                if entries.len() > let_in {
                    entries.sort_unstable();
                    entries.dedup();
                    let_in = 2 * entries.len() + (1 << 16);
                }
            }
            entries
        };
        let shares = all_at_once(None, workers, work, |workers| {
            while workers.iter().any(|worker| !worker.is_finished()) {
                if watch(done.load(Relaxed)).is_break() {
                    stop.store(true, Relaxed);
                }
                std::thread::sleep(std::time::Duration::from_millis(20));
            }
        });
        if stop.load(Relaxed) {
            return None;
        }
        let mut entries = shares.into_iter().flatten().collect::<Vec<DesignCount>>();
        entries.sort_unstable();
        entries.dedup();
        let mut by_symmetry = BTreeMap::new();
        for (_, group, _) in &entries {
            *by_symmetry.entry(*group).or_default() += 1;
        }
        Some(Counted {
            repeats: self.repeats,
            designs: entries.len() as u64,
            by_symmetry,
            accounted_for: entries.iter().map(|(_, _, disguises)| disguises).sum(),
        })
    }

    fn entries(&self, numbers: Range<u64>, ground: &StripPattern, entries: &mut Vec<DesignCount>) {
        let base = self.kinds.len() as u64;
        let mut kinds = vec![Kind::Forward; self.mesh.len()];
        for number in numbers {
            let mut rest = number;
            for kind in &mut kinds {
                let digit = usize::try_from(rest % base).expect("four kinds at most");
                *kind = self.kinds[digit];
                rest /= base;
            }
            let strip = self.mesh.strip(&kinds);
            let reading = strip.read();
            let pattern = reading.pattern();
            let digest = reading.canonical_form(self.disguises).digest();
            let mut half = [0; 16];
            half.copy_from_slice(&digest[..16]);
            let disguises = self.disguises_of(&pattern, ground);
            entries.push((u128::from_be_bytes(half), pattern.group, disguises));
        }
    }

    /// How many repeats are this design, from what leaves it as it is: begun at another row,
    /// or held in another way, it is another repeat or the same again (an orbit has as many
    /// elements as its group over those that fix it).
    fn disguises_of(&self, pattern: &StripPattern, ground: &StripPattern) -> u64 {
        let held = |pattern: &StripPattern| {
            let ways = self.disguises.operations();
            ways.filter(|way| has(pattern.group, *way)).count() as u64
        };
        ground.periods / pattern.periods * held(ground) / held(pattern)
    }
}

/// Whether a group has an operation of a kind.
fn has(group: Frieze, operation: Operation) -> bool {
    match operation {
        Operation::Plain => true,
        Operation::Mirrored => group.along().is_some(),
        Operation::UpsideDown => group.across(),
        Operation::HalfTurned => group.turns(),
    }
}
