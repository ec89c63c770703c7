//! Makes a collection: members by all workers, their records in order.

mod choice;
mod chosen;
mod earlier;
mod verify;

use std::collections::{BTreeMap, BTreeSet};
use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError, mpsc};

use hitchwork_rules::Rules;
use serde_json::json;

use self::choice::Choices;
pub use self::earlier::belongs_to_a_collection;
#[doc(hidden)]
pub use self::earlier::journal_from_bytes;
use self::earlier::{Brought, Earlier, EarlierState};
pub use self::verify::{Verified, verify};
use crate::folder::{
    self, FolderError, FolderErrorKind, Journal, LockedFolder, Occupant, Own, Share,
};
use crate::making::{self, Product, item_digest};
use crate::manifest::{self, Assembled, ManifestParts, Seal};
use crate::names::told;
use crate::plan::{Member, Plan};
use crate::record::{Failed, MOST_TOLD, MemberOutcome, Record, RecordPlace, RecordedFile};
use crate::workers::started;

/// How a collection is to be made.
#[derive(Clone, Debug)]
pub struct CollectOptions {
    /// How many threads of the computer work on it.
    pub workers: usize,
    /// Which share of it; all of it where nothing is said.
    pub part: Option<Share>,
    /// Whether the first member that fails ends the run.
    pub stop_at_first_failure: bool,
    /// Where files go that are no longer in the plan; where nothing is said, they stay.
    pub move_out: Option<PathBuf>,
    /// Where shares of it lie that other machines have made; they are joined, and nothing
    /// is made again.
    pub shares: Vec<PathBuf>,
}

impl Default for CollectOptions {
    /// All of it, by one worker.
    fn default() -> Self {
        Self {
            workers: 1,
            part: None,
            stop_at_first_failure: false,
            move_out: None,
            shares: Vec::new(),
        }
    }
}

/// How far a run has come.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Progress {
    /// How many members there are.
    pub total: u64,
    /// How many are done.
    pub done: u64,
    /// How many of them were made or proved in this run.
    pub made: u64,
    /// How many were there already.
    pub reused: u64,
    /// How many the conditions of the plan left out.
    pub left_out: u64,
    /// How many could not be made.
    pub failed: u64,
}

impl Progress {
    /// Counts what became of a member in this run; a failure that is to end the run is given
    /// back as what ended it.
    fn count(&mut self, record: &Record, stop_at_first_failure: bool) -> Result<(), RunError> {
        match &record.outcome {
            MemberOutcome::Made(_) => self.made += 1,
            MemberOutcome::LeftOut { .. } => self.left_out += 1,
            MemberOutcome::Failed(failed) => {
                self.failed += 1;
                if stop_at_first_failure {
                    return Err(RunError::Member {
                        name: record.name.clone(),
                        failed: failed.clone(),
                    });
                }
            }
        }
        Ok(())
    }
}

/// What a run did.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Collected {
    /// The counts at its end.
    pub progress: Progress,
    /// Members that could not be made, with why: as many as are worth reading.
    pub failures: Vec<(String, Failed)>,
    /// Members that are an earlier one in disguise, with what they are.
    pub disguised: Vec<(String, String)>,
    /// Files of members that are no longer in the plan, and still lie in the folder.
    pub left_behind: Vec<String>,
    /// Files of members that could not be made this time, and once could: as they were then.
    pub left_of_failed: Vec<String>,
    /// Files that somebody has changed since they were made, and that stay as they are.
    pub kept: Vec<String>,
    /// The same of members that are no longer in the plan.
    pub left_changed: Vec<String>,
    /// How many files were moved out.
    pub moved_out: usize,
    /// What was wrong with the manifest that an earlier run had left, if anything was.
    pub damage: Option<&'static str>,
    /// How many findings of each code and severity the members have.
    pub findings: Vec<(String, String, u64)>,
}

/// Why a run did not come to its end.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum RunError {
    /// The folder cannot be worked in.
    #[error(transparent)]
    Folder(#[from] FolderError),
    /// It was stopped from outside; what is done stays done.
    #[error("stopped with {} of {} members done", .0.done, .0.total)]
    Stopped(Progress),
    /// A member could not be made, and that was to end it.
    #[error("{name}: {}", .failed.message)]
    Member {
        /// The member.
        name: String,
        /// Why.
        failed: Failed,
    },
    /// The system has no room for a single worker.
    #[error("the system has no room for the stack of a single worker")]
    NoRoom,
    /// Shares are to be joined, and something is in none of them.
    #[error("{} of {total} members are in none of the shares; the first is {first}", .missing)]
    Missing {
        /// How many are missing.
        missing: u64,
        /// How many there are.
        total: u64,
        /// One of them.
        first: String,
    },
}

const NOWHERE: RecordPlace = RecordPlace {
    source: u8::MAX,
    begins: 0,
};

/// Makes, or goes on making, a collection in a folder. What an earlier run has finished is
/// kept where the plan has not changed it; the bytes of the folder at the end depend on
/// the plan alone.
///
/// ```
/// use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// let rules = hitchwork_rules::Rules::new();
/// let plan = "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n";
/// let plan = plan::read(&rules, "drifts.toml", plan)?;
/// let folder = tempfile::tempdir()?;
/// let stop = AtomicBool::new(false);
/// let run = || {
///     let go_on = &mut |_: &_| ControlFlow::Continue(());
///     collect(&rules, &plan, folder.path(), &CollectOptions::default(), &stop, go_on)
/// };
/// assert_eq!(run()?.progress.made, 2);
/// // What is finished is kept.
/// assert_eq!(run()?.progress.reused, 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When the folder cannot be worked in, the run is stopped, a member fails that was not to,
/// or a share is missing.
pub fn collect(
    rules: &Rules,
    plan: &Plan,
    path: &Path,
    options: &CollectOptions,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(&Progress) -> ControlFlow<()>,
) -> Result<Collected, RunError> {
    // What cannot go well is refused before there is a folder, and before anything is made.
    for share in &options.shares {
        earlier::shares_in(share)?;
    }
    if let Some(out) = &options.move_out {
        lies_outside(out, path)?;
    }
    let folder = LockedFolder::take(path, options.part)?;
    let mut earlier = Earlier::of(&folder)?;
    for share in &options.shares {
        earlier.bring_in(&folder, share)?;
    }
    let journal = Mutex::new(Journal::open(&folder.own(Own::Journal))?);
    let joining = !options.shares.is_empty();
    let choices = Choices::make(rules, plan, &earlier, options.workers, stop, &mut |line| {
        add_to(&journal, line)
    })?;
    let Some(choices) = choices else {
        return Err(RunError::Stopped(Progress::default()));
    };
    let work = Work {
        journal: &journal,
        rules,
        plan,
        digests: plan.items.iter().map(item_digest).collect(),
        folder: &folder,
        earlier: &earlier,
        joining,
    };
    let mut gathered = Gathered::of(&earlier, choices.count(plan, options.part));
    let members = choices.members(plan, options.part);
    let make = |member: &Member, handles: &mut _| work.done(member, handles);
    let is_last = |done: &Result<Done, FolderError>| {
        let failed = matches!(done, Ok(Done::Now { record, .. }) if record.is_failed());
        options.stop_at_first_failure && failed
    };
    let mut take = |place: usize, done: Result<Done, FolderError>| {
        gathered.take(place, done?, &journal, options.stop_at_first_failure)?;
        Ok(watch(&gathered.collected.progress))
    };
    let workers = options.workers;
    in_parallel(rules, workers, members, stop, &make, &is_last, &mut take)?;
    gathered.all_there(stop)?;
    if options.part.is_none() {
        gathered.leave_behind(&folder, &earlier, options.move_out.as_deref())?;
    }
    let collected = gathered.write(&folder, &earlier, plan, options.part, &choices)?;
    drop(journal);
    let _ = std::fs::remove_file(folder.own(Own::Journal));
    for share in earlier.joined(&folder) {
        let _ = std::fs::remove_file(share);
    }
    Ok(collected)
}

/// What is gathered of the members while they come in.
struct Gathered {
    collected: Collected,
    /// Where the record of each member stands, in order.
    places: Vec<RecordPlace>,
    /// Files that members had and have no more.
    gone: Vec<RecordedFile>,
    /// The same of earlier plans.
    left_behind: BTreeMap<String, Vec<RecordedFile>>,
    /// The members that could not be made.
    failed: BTreeSet<String>,
    /// How many members are in none of the shares, and the first of them.
    missing: Option<(u64, String)>,
}

impl Gathered {
    /// Nothing yet, of this many members.
    fn of(earlier: &Earlier, total: u64) -> Self {
        let damage = match earlier.manifest {
            Seal::Changed => Some("the manifest was changed by hand: every band was made again"),
            Seal::CutShort => {
                Some("the manifest was cut short: what it no longer named was made again")
            }
            Seal::Whole | Seal::Missing => None,
        };
        let count = usize::try_from(total).expect("MOST_MEMBERS fits");
        Self {
            collected: Collected {
                progress: Progress {
                    total,
                    ..Progress::default()
                },
                damage,
                ..Collected::default()
            },
            places: vec![NOWHERE; count],
            gone: Vec::new(),
            left_behind: earlier.left_behind(),
            failed: BTreeSet::new(),
            missing: None,
        }
    }

    /// Takes in what became of a member, and writes its record where it is new.
    fn take(
        &mut self,
        number: usize,
        done: Done,
        journal: &Mutex<Journal>,
        stop_at_first_failure: bool,
    ) -> Result<(), RunError> {
        let progress = &mut self.collected.progress;
        progress.done += 1;
        match done {
            Done::Before {
                place,
                record,
                lost,
                kept,
            } => {
                progress.reused += 1;
                progress.left_out += u64::from(record.is_left_out());
                self.places[number] = place;
                self.has_again(&record, lost, kept);
            }
            Done::InNoShare { name } => self.missing.get_or_insert((0, name)).0 += 1,
            Done::Now { record, lost, kept } => {
                let line = serde_json::to_string(&record).expect("records are plain data");
                let begins = add_to(journal, &line)?;
                progress.count(&record, stop_at_first_failure)?;
                self.places[number] = RecordPlace {
                    source: earlier::JOURNAL,
                    begins,
                };
                self.has_again(&record, lost, kept);
            }
        }
        Ok(())
    }

    /// Takes the files of a member from among those that were left behind, and remembers those
    /// that it has lost, and those that its maker has changed.
    fn has_again(&mut self, record: &Record, lost: Vec<RecordedFile>, kept: Vec<String>) {
        for file in files_of(record) {
            self.left_behind.remove(&file.path);
        }
        if matches!(record.outcome, MemberOutcome::Failed(_)) {
            self.failed.insert(record.name.clone());
        }
        self.gone.extend(lost);
        self.collected.kept.extend(kept);
    }

    /// Says so where the run was stopped, or a member is in none of the shares.
    fn all_there(&self, stop: &AtomicBool) -> Result<(), RunError> {
        let progress = self.collected.progress;
        if stop.load(Relaxed) || progress.done < progress.total {
            return Err(RunError::Stopped(progress));
        }
        match &self.missing {
            None => Ok(()),
            Some((missing, first)) => Err(RunError::Missing {
                missing: *missing,
                total: progress.total,
                first: first.clone(),
            }),
        }
    }

    /// Finds what is left of bands that the plan no longer has, and moves it out if that was
    /// asked. What is left of bands that could not be made stays for them.
    fn leave_behind(
        &mut self,
        folder: &LockedFolder,
        earlier: &Earlier,
        out: Option<&Path>,
    ) -> Result<(), RunError> {
        let mut files = std::mem::take(&mut self.gone);
        let unused = earlier.unused();
        files.extend(unused.map_err(|error| unreadable(folder, &error))?);
        files.extend(
            std::mem::take(&mut self.left_behind)
                .into_values()
                .flatten(),
        );
        let of_failed = |file: &RecordedFile| {
            let member = file.path.split('/').next();
            member.is_some_and(|member| self.failed.contains(member))
        };
        let (of_failed, files) = files.into_iter().partition(of_failed);
        let failed = still_there(folder, of_failed);
        let StillThere { unchanged, changed } = still_there(folder, files);
        let paths = |files: &[RecordedFile]| -> Vec<String> {
            files.iter().map(|file| file.path.clone()).collect()
        };
        let collected = &mut self.collected;
        collected.left_of_failed = paths(&failed.unchanged);
        collected.kept.extend(paths(&failed.changed));
        collected.left_changed = paths(&changed);
        self.gone = changed;
        self.gone.extend(failed.unchanged);
        self.gone.extend(failed.changed);
        match out {
            Some(out) => collected.moved_out = move_out(folder, out, &unchanged)?,
            None => {
                collected.left_behind = paths(&unchanged);
                self.gone.extend(unchanged);
            }
        }
        self.gone.sort_by(|one, other| one.path.cmp(&other.path));
        Ok(())
    }

    /// Writes manifest, table and gallery.
    fn write(
        self,
        folder: &LockedFolder,
        earlier: &Earlier,
        plan: &Plan,
        part: Option<Share>,
        choices: &Choices,
    ) -> Result<Collected, RunError> {
        let Assembled {
            failures,
            disguised,
            findings,
        } = manifest::write(
            folder,
            &ManifestParts {
                plan,
                choices: choices.lines(),
                left_behind: &self.gone,
                places: &self.places,
                sources: earlier.sources(),
                part,
            },
        )?;
        let mut collected = self.collected;
        collected.kept.sort();
        collected.kept.dedup();
        collected.failures = failures;
        collected.disguised = disguised;
        collected.findings = findings;
        Ok(collected)
    }
}

/// Proves all members without writing anything.
///
/// ```
/// use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// use hitchwork_collection::{plan, run::{CollectOptions, prove}};
/// let rules = hitchwork_rules::Rules::new();
/// let plan = "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n";
/// let plan = plan::read(&rules, "drifts.toml", plan)?;
/// let stop = AtomicBool::new(false);
/// let proved = prove(&rules, &plan, &CollectOptions::default(), &stop, &mut |_| ControlFlow::Continue(()))?;
/// assert!(proved.failures.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When it is stopped, or a member fails that was not to.
pub fn prove(
    rules: &Rules,
    plan: &Plan,
    options: &CollectOptions,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(&Progress) -> ControlFlow<()>,
) -> Result<Collected, RunError> {
    let choices = Choices::make(
        rules,
        plan,
        &Earlier::default(),
        options.workers,
        stop,
        &mut |_| Ok(0),
    )?;
    let Some(choices) = choices else {
        return Err(RunError::Stopped(Progress::default()));
    };
    let mut collected = Collected::default();
    collected.progress.total = choices.count(plan, options.part);
    let mut tally = manifest::FindingTally::default();
    let members = choices.members(plan, options.part);
    let make = |member: &Member, _: &mut _| {
        let item = &plan.items[member.item];
        making::product(rules, item, member, String::new(), false).record
    };
    let is_last = |record: &Record| options.stop_at_first_failure && record.is_failed();
    let mut take = |_: usize, record: Record| {
        let progress = &mut collected.progress;
        progress.done += 1;
        progress.count(&record, options.stop_at_first_failure)?;
        match record.outcome {
            MemberOutcome::Made(made) => tally.count(&made.findings),
            MemberOutcome::Failed(failed) if collected.failures.len() < MOST_TOLD => {
                collected.failures.push((record.name, failed));
            }
            MemberOutcome::LeftOut { .. } | MemberOutcome::Failed(_) => {}
        }
        Ok(watch(progress))
    };
    let workers = options.workers;
    in_parallel(rules, workers, members, stop, &make, &is_last, &mut take)?;
    if collected.progress.done < collected.progress.total {
        return Err(RunError::Stopped(collected.progress));
    }
    collected.failures.sort_by(|one, other| one.0.cmp(&other.0));
    collected.findings = tally.counted();
    Ok(collected)
}

/// What workers need to know.
struct Work<'a> {
    rules: &'a Rules,
    plan: &'a Plan,
    digests: Vec<String>,
    folder: &'a LockedFolder,
    earlier: &'a Earlier,
    journal: &'a Mutex<Journal>,
    /// Whether nothing is made, but only looked for.
    joining: bool,
}

/// What became of a member.
enum Done {
    /// It was there before, and its record stands where it stood.
    Before {
        place: RecordPlace,
        record: Box<Record>,
        /// Files that it had and has no more.
        lost: Vec<RecordedFile>,
        /// Those of its files that somebody has changed, and that stay as they are.
        kept: Vec<String>,
    },
    /// It was to be in one of the shares, and is in none.
    InNoShare { name: String },
    /// It was made in this run.
    Now {
        record: Record,
        /// Files that it had and has no more.
        lost: Vec<RecordedFile>,
        /// Those of its files that somebody has changed, and that stay as they are.
        kept: Vec<String>,
    },
}

/// What became of the files of a member.
enum Settled {
    /// They are there, but for those that somebody has changed.
    There { written: bool, kept: Vec<String> },
    /// At the places of these lies something else.
    InTheWay(Vec<String>),
}

impl Work<'_> {
    fn done(&self, member: &Member, handles: &mut earlier::Handles) -> Result<Done, FolderError> {
        let (folder, item) = (self.folder, &self.plan.items[member.item]);
        let key = making::key(&self.digests[member.item], member);
        let (mut had, before) = match self.earlier.look_up(folder, item, member, &key, handles) {
            EarlierState::AsItIs(place, record) => return Ok(Done::before(place, record)),
            EarlierState::Touched(place, record) => {
                (files_of(&record).to_vec(), Some((place, record)))
            }
            EarlierState::Outdated(files) => (files, None),
            EarlierState::Never => (Vec::new(), None),
        };
        had.extend(self.earlier.left_behind_of(folder, &member.name));
        if self.joining {
            return match (self.earlier.brought(item, member, &key, handles), before) {
                (Some(brought), before) => self.joined(member, brought, had, before.is_some()),
                (None, Some((place, record))) => Ok(self.in_its_place(member, place, record)),
                (None, None) => Ok(Done::in_no_share(member)),
            };
        }
        let Product { record, files } = making::product(self.rules, item, member, key, true);
        let same = |(_, before): &(RecordPlace, Box<Record>)| files_of(before) == files_of(&record);
        let before = before.filter(same);
        match self.settle(member, &had, before.is_some(), files)? {
            Settled::InTheWay(paths) => Ok(refused(member, record, had, &paths)),
            Settled::There { written, kept } => {
                let wanted = files_of(&record);
                had.retain(|had| wanted.iter().all(|file| file.path != had.path));
                match before.filter(|_| !written) {
                    Some((place, record)) => Ok(Done::Before {
                        place,
                        record,
                        lost: had,
                        kept,
                    }),
                    None => Ok(Done::Now {
                        record,
                        lost: had,
                        kept,
                    }),
                }
            }
        }
    }

    /// Copies the files of a member from a share to where the collection is joined.
    fn joined(
        &self,
        member: &Member,
        brought: Brought<'_>,
        mut had: Vec<RecordedFile>,
        same: bool,
    ) -> Result<Done, FolderError> {
        let Brought {
            place,
            record,
            share,
        } = brought;
        let mut files = Vec::new();
        let missing = |file: &&RecordedFile| !folder::holds(self.folder.path(), file);
        for file in files_of(&record).iter().filter(missing) {
            match folder::bytes_of(share, file) {
                Ok(bytes) => files.push((file.path.clone(), bytes)),
                Err(_) => return Ok(Done::in_no_share(member)),
            }
        }
        match self.settle(member, &had, same, files)? {
            Settled::InTheWay(paths) => Ok(refused(member, *record, had, &paths)),
            Settled::There { kept, .. } => {
                let wanted = files_of(&record);
                had.retain(|had| wanted.iter().all(|file| file.path != had.path));
                Ok(Done::Before {
                    place,
                    record,
                    lost: had,
                    kept,
                })
            }
        }
    }

    /// A member of a share that is joined where it lies. There is nothing to make its files
    /// anew from: those that were changed stay, and where one is missing, so is the member.
    fn in_its_place(&self, member: &Member, place: RecordPlace, record: Box<Record>) -> Done {
        let changed = |file: &&RecordedFile| !folder::holds(self.folder.path(), file);
        let changed: Vec<&RecordedFile> = files_of(&record).iter().filter(changed).collect();
        let is_there =
            |file: &&RecordedFile| self.folder.found(&file.path, &[]) == Occupant::Another;
        if !changed.iter().all(is_there) {
            return Done::in_no_share(member);
        }
        let kept = changed.iter().map(|file| file.path.clone()).collect();
        Done::Before {
            place,
            record,
            lost: Vec::new(),
            kept,
        }
    }

    /// Writes the files of a member. What lies at the place of one is replaced where it is
    /// what the collection has made there (`had`), and nobody has changed it since. Where
    /// the member is the `same` as before, a changed file stays, and the others are made.
    fn settle(
        &self,
        member: &Member,
        had: &[RecordedFile],
        same: bool,
        mut files: Vec<(String, Vec<u8>)>,
    ) -> Result<Settled, FolderError> {
        let is_ours = |path: &str| {
            let had = had.iter().filter(|file| file.path == path);
            had.into_iter()
                .any(|file| folder::holds(self.folder.path(), file))
        };
        let (mut written, mut replaced, mut others) = (false, false, Vec::new());
        for (path, bytes) in &files {
            match self.folder.found(path, bytes) {
                Occupant::These => {}
                Occupant::Nothing => written = true,
                Occupant::Another if is_ours(path) => replaced = true,
                Occupant::Another => others.push(path.clone()),
            }
        }
        if !others.is_empty() && !same {
            return Ok(Settled::InTheWay(others));
        }
        files.retain(|(path, _)| !others.contains(path));
        if replaced {
            self.about_to_write(&files)?;
        }
        written |= replaced || !same;
        if written {
            self.folder.clear_unfinished(&member.name);
            self.folder.write(&files)?;
        }
        Ok(Settled::There {
            written,
            kept: others,
        })
    }

    /// Remembers files that are about to take the place of others: a run that dies between
    /// them and the record leaves what another plan may still replace.
    fn about_to_write(&self, files: &[(String, Vec<u8>)]) -> Result<(), FolderError> {
        for (path, bytes) in files {
            let file = RecordedFile::of(path, bytes);
            add_to(self.journal, &json!({ "left_behind": file }).to_string())?;
        }
        Ok(())
    }
}

/// The files that a record tells of.
fn files_of(record: &Record) -> &[RecordedFile] {
    match &record.outcome {
        MemberOutcome::Made(made) => &made.files,
        MemberOutcome::LeftOut { .. } | MemberOutcome::Failed(_) => &[],
    }
}

/// A member whose files are not written, for something of somebody else lies at the places
/// of some: a file that comes from elsewhere, or one that was changed since. The message goes
/// into the manifest, and says nothing about this machine.
fn refused(
    member: &Member,
    mut record: Record,
    mut had: Vec<RecordedFile>,
    paths: &[String],
) -> Done {
    let message = match paths {
        [path] => format!(
            "{path} is there already, and does not come from this collection or was changed since"
        ),
        paths => format!(
            "{} are there already, and do not come from this collection or were changed since",
            told(paths)
        ),
    };
    record.outcome = MemberOutcome::Failed(Failed {
        message,
        help: Some("move it away, or choose another folder".to_owned()),
        place: None,
        settings: making::settings_in_words(member),
    });
    had.retain(|file| !paths.contains(&file.path));
    Done::Now {
        record,
        lost: had,
        kept: Vec::new(),
    }
}

/// Adds a line to the journal, and says where it begins.
fn add_to(journal: &Mutex<Journal>, line: &str) -> Result<u64, FolderError> {
    let mut journal = journal.lock().unwrap_or_else(PoisonError::into_inner);
    journal.add(line)
}

impl Done {
    fn before(place: RecordPlace, record: Box<Record>) -> Self {
        Self::Before {
            place,
            record,
            lost: Vec::new(),
            kept: Vec::new(),
        }
    }

    fn in_no_share(member: &Member) -> Self {
        let name = member.name.clone();
        Self::InNoShare { name }
    }
}

/// Has the members made by all workers. `take` is told on this thread what became of each,
/// and may end it all; after one that `is_last`, nothing further is begun.
fn in_parallel<'a, Done: Send>(
    rules: &Rules,
    workers: usize,
    members: impl Iterator<Item = Member> + Send + 'a,
    stop: &AtomicBool,
    make: &(dyn Fn(&Member, &mut earlier::Handles) -> Done + Sync),
    is_last: &(dyn Fn(&Done) -> bool + Sync),
    take: &mut dyn FnMut(usize, Done) -> Result<ControlFlow<()>, RunError>,
) -> Result<(), RunError> {
    let ended = AtomicBool::new(false);
    let last = AtomicBool::new(false);
    let members = Mutex::new(members.enumerate());
    let (sender, receiver) = mpsc::sync_channel(64);
    std::thread::scope(|scope| {
        let working = started(workers, || {
            let (sender, members) = (sender.clone(), &members);
            let (ended, last) = (&ended, &last);
            rules.start(scope, move || {
                let mut handles = earlier::Handles::default();
                while ![stop, ended, last].iter().any(|end| end.load(Relaxed)) {
                    let next = members
                        .lock()
                        .unwrap_or_else(PoisonError::into_inner)
                        .next();
                    let Some((place, member)) = next else { break };
                    let done = make(&member, &mut handles);
                    if is_last(&done) {
                        last.store(true, Relaxed);
                    }
                    if sender.send((place, done)).is_err() {
                        break;
                    }
                }
            })
        });
        if working.is_empty() {
            return Err(RunError::NoRoom);
        }
        drop(sender);
        let mut outcome = Ok(());
        for (place, done) in receiver {
            if ended.load(Relaxed) {
                // What was under way is done and written all the same, but not recorded.
                continue;
            }
            match take(place, done) {
                Ok(ControlFlow::Continue(())) => {}
                Ok(ControlFlow::Break(())) => ended.store(true, Relaxed),
                Err(error) => {
                    ended.store(true, Relaxed);
                    outcome = Err(error);
                }
            }
        }
        outcome
    })
}

impl Record {
    fn is_left_out(&self) -> bool {
        matches!(self.outcome, MemberOutcome::LeftOut { .. })
    }

    fn is_failed(&self) -> bool {
        matches!(self.outcome, MemberOutcome::Failed(_))
    }
}

fn unreadable(folder: &LockedFolder, error: &io::Error) -> FolderError {
    FolderError::new(
        FolderErrorKind::Other,
        format!(
            "the records in {} cannot be read: {}",
            folder.path().display(),
            folder::reason(error)
        ),
        "start again: what was finished is whole",
    )
}

/// Files of members that are no longer in the plan, and still lie in the folder.
struct StillThere {
    /// As the collection has made them.
    unchanged: Vec<RecordedFile>,
    /// What somebody has changed since is theirs; but it stays known, to be told of.
    changed: Vec<RecordedFile>,
}

/// Keeps the files that still lie in the folder, each once.
fn still_there(folder: &LockedFolder, mut files: Vec<RecordedFile>) -> StillThere {
    files.retain(|file| making::is_file_of_a_member(&file.path) && folder.has(&file.path));
    let is_changed = |file: &RecordedFile| !folder::holds(folder.path(), file);
    // What a path can be as is known of several makes: the one that it is comes first.
    files.sort_by_cached_key(|file| (file.path.clone(), is_changed(file)));
    files.dedup_by(|later, first| later.path == first.path);
    let (changed, unchanged) = files.into_iter().partition(is_changed);
    StillThere { unchanged, changed }
}

/// Refuses a folder to move files into that is the collection, or lies in it.
fn lies_outside(out: &Path, collection: &Path) -> Result<(), FolderError> {
    let (out_real, collection) = (folder::real(out), folder::real(collection));
    let is = match out_real.strip_prefix(&collection) {
        Err(_) => return Ok(()),
        Ok(below) if below.as_os_str().is_empty() => "is the folder of the collection itself",
        Ok(_) => "lies inside the collection",
    };
    Err(FolderError::new(
        FolderErrorKind::NotMovedOut,
        format!(
            "{} {is}, so nothing would be moved out of it",
            out.display()
        ),
        MOVE_OUT_HELP,
    ))
}

const MOVE_OUT_HELP: &str = "choose another folder to move them to; nothing was lost";

/// Moves files out of the collection, to where nothing lies that they would replace; either
/// all can go, or none does.
fn move_out(
    folder: &LockedFolder,
    out: &Path,
    files: &[RecordedFile],
) -> Result<usize, FolderError> {
    let mut moves = Vec::with_capacity(files.len());
    let mut there = Vec::new();
    for file in files {
        let (from, to) = (folder.place(&file.path), out.join(&file.path));
        if std::fs::symlink_metadata(&to).is_ok() && !folder::holds(out, file) {
            there.push(to.display().to_string());
        }
        let in_the_way = |found: std::fs::Metadata| !found.is_dir();
        let above = to
            .parent()
            .filter(|above| std::fs::symlink_metadata(above).is_ok_and(in_the_way));
        if let Some(above) = above {
            return Err(FolderError::new(
                FolderErrorKind::NotMovedOut,
                format!("{} is in the way: it is not a folder", above.display()),
                MOVE_OUT_HELP,
            ));
        }
        moves.push((from, to));
    }
    if !there.is_empty() {
        let are = if there.len() == 1 { "is" } else { "are" };
        return Err(FolderError::new(
            FolderErrorKind::NotMovedOut,
            format!("{} {are} there already", told(&there)),
            MOVE_OUT_HELP,
        ));
    }
    for (from, to) in &moves {
        to.parent().map_or(Ok(()), folder::plain_folder)?;
        folder::move_file(from, to).map_err(|error| {
            FolderError::new(
                FolderErrorKind::NotMovedOut,
                format!(
                    "{} cannot be moved to {}: {}",
                    from.display(),
                    to.display(),
                    folder::reason(&error)
                ),
                MOVE_OUT_HELP,
            )
        })?;
        // A folder with nothing left in it goes too; one with files of others stays.
        if let Some(emptied) = from.parent() {
            let _ = std::fs::remove_dir(emptied);
        }
    }
    Ok(files.len())
}

/// What some members of a plan take, made and not written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Sampled {
    /// How many were made.
    pub members: u64,
    /// How many bytes their files have.
    pub bytes: u64,
}

/// Makes a few members, spread over the plan, to guess by what all of them take.
#[must_use]
pub fn sample(rules: &Rules, plan: &Plan, most: u64) -> Sampled {
    let step = plan.candidates().div_ceil(most.max(1)).max(1);
    let step = usize::try_from(step).unwrap_or(usize::MAX);
    let mut sampled = Sampled::default();
    rules.batch(|| {
        for member in plan.members().step_by(step) {
            let item = &plan.items[member.item];
            let Product { files, .. } = making::product(rules, item, &member, String::new(), true);
            sampled.members += 1;
            sampled.bytes += files
                .iter()
                .map(|(_, bytes)| bytes.len() as u64)
                .sum::<u64>();
        }
        sampled
    })
}
