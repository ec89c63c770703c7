//! Makes a collection: members by all workers, their records in order.

mod choice;
mod earlier;
mod verify;

use std::collections::BTreeMap;
use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError, mpsc};

use hitchwork_rules::Rules;

use self::choice::Choices;
#[doc(hidden)]
pub use self::earlier::journal_from_bytes;
use self::earlier::{Brought, Earlier, Seen};
pub use self::verify::{Verified, verify};
use crate::folder::{self, Folder, FolderError, Journal, Own, Part};
use crate::making::{self, Product, item_digest};
use crate::manifest::{self, Assembled, Seal, Written};
use crate::plan::{Member, Plan};
use crate::record::{Failed, File, Outcome, Record};
use crate::workers::started;

/// How a collection is to be made.
#[derive(Clone, Debug)]
pub struct Options {
    /// How many threads of the computer work on it.
    pub workers: usize,
    /// Which share of it; all of it where nothing is said.
    pub part: Option<Part>,
    /// Whether the first member that fails ends the run.
    pub stop_at_first_failure: bool,
    /// Where files go that are no longer in the plan; where nothing is said, they stay.
    pub move_out: Option<PathBuf>,
    /// Where shares of it lie that other machines have made; they are joined, and nothing
    /// is made anew.
    pub shares: Vec<PathBuf>,
}

impl Default for Options {
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
            Outcome::Made(_) => self.made += 1,
            Outcome::LeftOut { .. } => self.left_out += 1,
            Outcome::Failed(failed) => {
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
pub struct Collected {
    /// The counts at its end.
    pub progress: Progress,
    /// Members that could not be made, with why: as many as are worth reading.
    pub failures: Vec<(String, Failed)>,
    /// Members that are an earlier one in disguise, with what they are.
    pub disguised: Vec<(String, String)>,
    /// Files of members that are no longer in the plan, and still lie in the folder.
    pub left_behind: Vec<String>,
    /// How many files were moved out.
    pub moved_out: usize,
    /// What was wrong with the manifest that an earlier run had left, if anything was.
    pub damage: Option<&'static str>,
    /// How many findings of each code and severity the members have.
    pub findings: Vec<(String, String, u64)>,
}

/// Why a run did not come to its end.
#[derive(Debug, thiserror::Error)]
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

/// As many failures, disguises and files are told as are worth reading.
pub(crate) const MOST_TOLD: usize = 20;

/// Where the record of a member stands: in which file, and where it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Place {
    pub(crate) source: u8,
    pub(crate) begins: u64,
}

const NOWHERE: Place = Place {
    source: u8::MAX,
    begins: 0,
};

/// Makes, or goes on making, a collection in a folder. What an earlier run has finished is
/// kept where the plan has not changed it; the bytes of the folder at the end depend on
/// the plan alone.
///
/// # Errors
/// When the folder cannot be worked in, the run is stopped, a member fails that was not to,
/// or a share is missing.
pub fn collect(
    rules: &Rules,
    plan: &Plan,
    path: &Path,
    options: &Options,
    stop: &AtomicBool,
    watch: &mut dyn FnMut(&Progress) -> ControlFlow<()>,
) -> Result<Collected, RunError> {
    let folder = Folder::take(path, options.part)?;
    let mut earlier = Earlier::of(&folder)?;
    for share in &options.shares {
        earlier.bring_in(&folder, share)?;
    }
    let mut journal = Journal::open(&folder.own(Own::Journal))?;
    let joining = !options.shares.is_empty();
    let choices = Choices::make(rules, plan, &earlier, options.workers, stop, &mut |line| {
        journal.add(line)
    })?;
    let Some(choices) = choices else {
        return Err(RunError::Stopped(Progress::default()));
    };
    let work = Work {
        rules,
        plan,
        digests: plan.items.iter().map(item_digest).collect(),
        folder: &folder,
        earlier: &earlier,
        joining,
    };
    let mut collected = Collected {
        progress: Progress {
            total: choices.count(plan, options.part),
            ..Progress::default()
        },
        damage: match earlier.manifest {
            Seal::Changed => Some("the manifest was changed by hand: every band was made again"),
            Seal::CutShort => {
                Some("the manifest was cut short: what it no longer named was made again")
            }
            Seal::Whole | Seal::Missing => None,
        },
        ..Collected::default()
    };
    let count = usize::try_from(collected.progress.total).expect("MOST_MEMBERS fits");
    let mut places = vec![NOWHERE; count];
    let mut gone: Vec<File> = Vec::new();
    let mut left_behind = earlier.left_behind();
    let mut missing: Option<(u64, String)> = None;
    let members = choices.members(plan, options.part);
    let make = |member: &Member, handles: &mut _| work.done(member, handles);
    let is_last = |done: &Result<Done, FolderError>| {
        let failed = matches!(done, Ok(Done::Now { record, .. }) if record.is_failed());
        options.stop_at_first_failure && failed
    };
    let mut take = |place: usize, done: Result<Done, FolderError>| {
        let done = done?;
        let progress = &mut collected.progress;
        progress.done += 1;
        match done {
            Done::Before {
                place: at,
                record,
                lost,
            } => {
                gone.extend(lost);
                has_again(&mut left_behind, &record);
                progress.reused += 1;
                progress.left_out += u64::from(record.is_left_out());
                places[place] = at;
            }
            Done::InNoShare { name } => missing.get_or_insert((0, name)).0 += 1,
            Done::Now { record, lost } => {
                gone.extend(lost);
                has_again(&mut left_behind, &record);
                let line = serde_json::to_string(&record).expect("records are plain data");
                let begins = journal.add(&line)?;
                progress.count(&record, options.stop_at_first_failure)?;
                places[place] = Place {
                    source: earlier::JOURNAL,
                    begins,
                };
            }
        }
        Ok(watch(progress))
    };
    let workers = options.workers;
    in_parallel(rules, workers, members, stop, &make, &is_last, &mut take)?;
    if stop.load(Relaxed) || collected.progress.done < collected.progress.total {
        return Err(RunError::Stopped(collected.progress));
    }
    if let Some((missing, first)) = missing {
        let total = collected.progress.total;
        return Err(RunError::Missing {
            missing,
            total,
            first,
        });
    }
    let sources = earlier.sources();
    if options.part.is_none() {
        let unused = earlier.unused();
        gone.extend(unused.map_err(|error| unreadable(&folder, &error))?);
        gone.extend(left_behind.into_values());
        collected.left_behind = still_there(&folder, &mut gone);
    }
    if let Some(out) = &options.move_out {
        collected.moved_out = move_out(&folder, out, &gone)?;
        collected.left_behind.clear();
        gone.clear();
    }
    let written = Written {
        plan,
        choices: choices.lines(),
        left_behind: &gone,
        places: &places,
        sources,
        part: options.part,
    };
    let Assembled {
        failures,
        disguised,
        findings,
    } = manifest::write(&folder, &written)?;
    collected.failures = failures;
    collected.disguised = disguised;
    collected.findings = findings;
    drop(journal);
    let _ = std::fs::remove_file(folder.own(Own::Journal));
    for share in earlier.joined(&folder) {
        let _ = std::fs::remove_file(share);
    }
    Ok(collected)
}

/// Proves all members without writing anything.
///
/// # Errors
/// When it is stopped, or a member fails that was not to.
pub fn prove(
    rules: &Rules,
    plan: &Plan,
    options: &Options,
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
    let mut tally = manifest::Tally::default();
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
            Outcome::Made(made) => tally.count(&made.findings),
            Outcome::Failed(failed) if collected.failures.len() < MOST_TOLD => {
                collected.failures.push((record.name, failed));
            }
            Outcome::LeftOut { .. } | Outcome::Failed(_) => {}
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
    folder: &'a Folder,
    earlier: &'a Earlier,
    /// Whether nothing is made, but only looked for.
    joining: bool,
}

/// What became of a member.
enum Done {
    /// It was there before, and its record stands where it stood.
    Before {
        place: Place,
        record: Box<Record>,
        /// Files that it had and has no more.
        lost: Vec<File>,
    },
    /// It was to be in one of the shares, and is in none.
    InNoShare { name: String },
    /// It was made in this run.
    Now {
        record: Record,
        /// Files that it had and has no more.
        lost: Vec<File>,
    },
}

impl Work<'_> {
    fn done(&self, member: &Member, handles: &mut earlier::Handles) -> Result<Done, FolderError> {
        let (folder, item) = (self.folder, &self.plan.items[member.item]);
        let key = making::key(&self.digests[member.item], member);
        let mut had = match self.earlier.look_up(folder, item, member, &key, handles) {
            Seen::AsItIs(place, record) => {
                return Ok(Done::Before {
                    place,
                    record,
                    lost: Vec::new(),
                });
            }
            Seen::Changed(files) => files,
            Seen::Never => Vec::new(),
        };
        had.extend(self.earlier.left_behind_of(folder, &member.name));
        if self.joining {
            return match self.earlier.brought(item, member, &key, handles) {
                Some(brought) => self.joined(member, brought, had),
                None => Ok(Done::in_no_share(member)),
            };
        }
        let Product { mut record, files } = making::product(self.rules, item, member, key, true);
        if let Some(failed) = self.refused(member, &had, &files) {
            record.outcome = Outcome::Failed(failed);
            return Ok(Done::Now { record, lost: had });
        }
        folder.clear_unfinished(&member.name);
        folder.write(&files)?;
        had.retain(|file| files.iter().all(|(path, _)| *path != file.path));
        Ok(Done::Now { record, lost: had })
    }

    /// Copies the files of a member from a share to where the collection is joined.
    fn joined(
        &self,
        member: &Member,
        brought: Brought<'_>,
        mut had: Vec<File>,
    ) -> Result<Done, FolderError> {
        let Brought {
            place,
            mut record,
            share,
        } = brought;
        if let Outcome::Made(made) = &record.outcome {
            let mut files = Vec::new();
            let missing = |file: &&File| !folder::holds(self.folder.path(), file);
            for file in made.files.iter().filter(missing) {
                match folder::bytes_of(share, file) {
                    Ok(bytes) => files.push((file.path.clone(), bytes)),
                    Err(_) => return Ok(Done::in_no_share(member)),
                }
            }
            if let Some(failed) = self.refused(member, &had, &files) {
                record.outcome = Outcome::Failed(failed);
                let record = *record;
                return Ok(Done::Now { record, lost: had });
            }
            had.retain(|had| made.files.iter().all(|file| file.path != had.path));
            self.folder.clear_unfinished(&member.name);
            self.folder.write(&files)?;
        }
        Ok(Done::Before {
            place,
            record,
            lost: had,
        })
    }

    /// Why the files of a member are not written, where one of them would take the place of
    /// a file that somebody else has made: one that the member did not have.
    fn refused(
        &self,
        member: &Member,
        had: &[File],
        files: &[(String, Vec<u8>)],
    ) -> Option<Failed> {
        let is_new = |path: &str| had.iter().all(|file| file.path != path);
        let mut new = files.iter().filter(|(path, _)| is_new(path));
        let message = new.find_map(|(path, bytes)| self.folder.of_others(path, bytes))?;
        Some(Failed {
            message,
            help: Some("move it away, or choose another folder with --out".to_owned()),
            place: None,
            settings: making::settings_in_words(member),
        })
    }
}

impl Done {
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
        matches!(self.outcome, Outcome::LeftOut { .. })
    }

    fn is_failed(&self) -> bool {
        matches!(self.outcome, Outcome::Failed(_))
    }
}

fn unreadable(folder: &Folder, error: &io::Error) -> FolderError {
    FolderError::new(
        format!(
            "the records in {} cannot be read: {}",
            folder.path().display(),
            folder::reason(error)
        ),
        "run the same command again",
    )
}

/// Takes the files of a member from among those that were left behind.
fn has_again(left_behind: &mut BTreeMap<String, File>, record: &Record) {
    if let Outcome::Made(made) = &record.outcome {
        for file in &made.files {
            left_behind.remove(&file.path);
        }
    }
}

/// Keeps the files that still lie in the folder as the collection has made them, and says
/// their paths. What somebody has changed since is theirs.
fn still_there(folder: &Folder, files: &mut Vec<File>) -> Vec<String> {
    files.sort_by(|one, other| one.path.cmp(&other.path));
    files.retain(|file| {
        making::is_file_of_a_member(&file.path) && folder::holds(folder.path(), file)
    });
    files.dedup_by(|one, other| one.path == other.path);
    files.iter().map(|file| file.path.clone()).collect()
}

/// Moves files out of the collection, to where nothing lies that they would replace; either
/// all can go, or none does.
fn move_out(folder: &Folder, out: &Path, files: &[File]) -> Result<usize, FolderError> {
    const HELP: &str = "choose another folder with --move-out; nothing was lost";
    let same = |one: &Path, other: &Path| one.canonicalize().ok() == other.canonicalize().ok();
    if out.exists() && same(folder.path(), out) {
        return Err(FolderError::new(
            format!("{} is the folder of the collection itself", out.display()),
            HELP,
        ));
    }
    let mut moves = Vec::with_capacity(files.len());
    for file in files {
        let (from, to) = (folder.place(&file.path), out.join(&file.path));
        if std::fs::symlink_metadata(&to).is_ok() && !folder::holds(out, file) {
            return Err(FolderError::new(
                format!("{} is there already", to.display()),
                HELP,
            ));
        }
        let in_the_way = |found: std::fs::Metadata| !found.is_dir();
        let above = to
            .parent()
            .filter(|above| std::fs::symlink_metadata(above).is_ok_and(in_the_way));
        if let Some(above) = above {
            return Err(FolderError::new(
                format!("{} is in the way: it is no folder", above.display()),
                HELP,
            ));
        }
        moves.push((from, to));
    }
    for (from, to) in &moves {
        to.parent().map_or(Ok(()), folder::plain_folder)?;
        folder::move_file(from, to).map_err(|error| {
            FolderError::new(
                format!(
                    "{} cannot be moved to {}: {}",
                    from.display(),
                    to.display(),
                    folder::reason(&error)
                ),
                HELP,
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
