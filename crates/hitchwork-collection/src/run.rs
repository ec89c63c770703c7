//! Makes a collection: members by all workers, their records in order.

mod choice;
mod earlier;

use std::io;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering::Relaxed};
use std::sync::{Mutex, PoisonError, mpsc};

use hitchwork_rules::Rules;

use self::choice::Choices;
use self::earlier::{Earlier, Seen};
use crate::folder::{self, Folder, FolderError, Journal, Part};
use crate::making::{self, Product, item_digest};
use crate::manifest::{self, Assembled, Seal, Written};
use crate::plan::{Member, Plan};
use crate::record::{Failed, File, Outcome, Record};

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
    let mut journal = Journal::open(&folder.journal())?;
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
        folder: Some(&folder),
        earlier: Some(&earlier),
        joining,
        stop_at_first_failure: options.stop_at_first_failure && !joining,
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
    let mut missing: Option<(u64, String)> = None;
    let members = choices.members(plan, options.part);
    let ended = in_parallel(&work, options.workers, members, stop, &mut |place, done| {
        let Done { seen, record, lost } = done.map_err(RunError::Folder)?;
        gone.extend(lost);
        let progress = &mut collected.progress;
        progress.done += 1;
        places[place] = match seen {
            Some(seen) => {
                progress.reused += 1;
                progress.left_out += u64::from(record.is_left_out());
                seen
            }
            None if joining => {
                let (count, _) = missing.get_or_insert((0, record.name.clone()));
                *count += 1;
                NOWHERE
            }
            None => {
                let line = serde_json::to_string(&record).expect("records are plain data");
                let begins = journal.add(&line)?;
                match &record.outcome {
                    Outcome::Made(_) => progress.made += 1,
                    Outcome::LeftOut { .. } => progress.left_out += 1,
                    Outcome::Failed(failed) => {
                        progress.failed += 1;
                        if options.stop_at_first_failure {
                            return Err(RunError::Member {
                                name: record.name.clone(),
                                failed: failed.clone(),
                            });
                        }
                    }
                }
                Place {
                    source: earlier::JOURNAL,
                    begins,
                }
            }
        };
        Ok(watch(progress))
    });
    ended?;
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
        gone.extend(
            earlier
                .unused(sources)
                .map_err(|error| unreadable(&folder, &error))?,
        );
        gone.extend(earlier.left_behind.iter().cloned());
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
    let _ = std::fs::remove_file(folder.journal());
    if joining {
        for share in earlier::shares_in(&folder) {
            let _ = std::fs::remove_file(share);
        }
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
    let work = Work {
        rules,
        plan,
        digests: plan.items.iter().map(item_digest).collect(),
        folder: None,
        earlier: None,
        joining: false,
        stop_at_first_failure: options.stop_at_first_failure,
    };
    let mut collected = Collected::default();
    collected.progress.total = choices.count(plan, options.part);
    let mut tally = manifest::Tally::default();
    let members = choices.members(plan, options.part);
    in_parallel(&work, options.workers, members, stop, &mut |_, done| {
        let Done { record, .. } = done.map_err(RunError::Folder)?;
        let progress = &mut collected.progress;
        progress.done += 1;
        match &record.outcome {
            Outcome::Made(made) => {
                progress.made += 1;
                tally.count(&made.findings);
            }
            Outcome::LeftOut { .. } => progress.left_out += 1,
            Outcome::Failed(failed) => {
                progress.failed += 1;
                if options.stop_at_first_failure {
                    return Err(RunError::Member {
                        name: record.name.clone(),
                        failed: failed.clone(),
                    });
                }
                if collected.failures.len() < MOST_TOLD {
                    collected
                        .failures
                        .push((record.name.clone(), failed.clone()));
                }
            }
        }
        Ok(watch(progress))
    })?;
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
    /// Where files are written, if they are.
    folder: Option<&'a Folder>,
    earlier: Option<&'a Earlier>,
    /// Whether nothing is made, but only looked for.
    joining: bool,
    /// Whether nothing is begun any more once a member has failed.
    stop_at_first_failure: bool,
}

/// A member that is done.
struct Done {
    /// Where its record stands already.
    seen: Option<Place>,
    record: Record,
    /// Files that it had and has no more.
    lost: Vec<File>,
}

impl Work<'_> {
    fn done(&self, member: &Member, handles: &mut earlier::Handles) -> Result<Done, FolderError> {
        let item = &self.plan.items[member.item];
        let key = making::key(&self.digests[member.item], member);
        let mut had = Vec::new();
        if let (Some(earlier), Some(folder)) = (self.earlier, self.folder) {
            match earlier.look_up(folder, &member.name, &key, handles) {
                Seen::AsItIs(place, record) => {
                    return Ok(Done {
                        seen: Some(place),
                        record: *record,
                        lost: Vec::new(),
                    });
                }
                Seen::Changed(files) => had = files,
                Seen::Never => {}
            }
            if !self.joining {
                folder.clear_unfinished(&member.name);
            }
        }
        if self.joining {
            let failed = Failed {
                message: String::new(),
                help: None,
                place: None,
                settings: String::new(),
            };
            let record = Record {
                name: member.name.clone(),
                key,
                outcome: Outcome::Failed(failed),
            };
            return Ok(Done {
                seen: None,
                record,
                lost: Vec::new(),
            });
        }
        let Product { mut record, files } =
            making::product(self.rules, item, member, key, self.folder.is_some());
        if let Some(folder) = self.folder {
            let is_new = |path: &str| had.iter().all(|file| file.path != path);
            let mut new = files.iter().filter(|(path, _)| is_new(path));
            if let Some(message) = new.find_map(|(path, bytes)| folder.of_others(path, bytes)) {
                record.outcome = Outcome::Failed(Failed {
                    message,
                    help: Some("move it away, or choose another folder with --out".to_owned()),
                    place: None,
                    settings: making::settings_in_words(member),
                });
                return Ok(Done {
                    seen: None,
                    record,
                    lost: had,
                });
            }
            folder.write(&files)?;
        }
        had.retain(|file| files.iter().all(|(path, _)| *path != file.path));
        Ok(Done {
            seen: None,
            record,
            lost: had,
        })
    }
}

/// Has the members done by all workers; `take` is told of each on this thread, and may end
/// it all.
fn in_parallel<'a>(
    work: &Work<'_>,
    workers: usize,
    members: impl Iterator<Item = Member> + Send + 'a,
    stop: &AtomicBool,
    take: &mut dyn FnMut(usize, Result<Done, FolderError>) -> Result<ControlFlow<()>, RunError>,
) -> Result<(), RunError> {
    let ended = AtomicBool::new(false);
    // Set where a failure is to end it all: nothing further is begun.
    let last = AtomicBool::new(false);
    let members = Mutex::new(members.enumerate());
    let (sender, receiver) = mpsc::sync_channel(64);
    std::thread::scope(|scope| {
        for _ in 0..workers.max(1) {
            let (sender, members) = (sender.clone(), &members);
            let (ended, last) = (&ended, &last);
            scope.spawn(move || {
                work.rules.batch(|| {
                    let mut handles = earlier::Handles::default();
                    while ![stop, ended, last].iter().any(|end| end.load(Relaxed)) {
                        let next = members
                            .lock()
                            .unwrap_or_else(PoisonError::into_inner)
                            .next();
                        let Some((place, member)) = next else { break };
                        let done = work.done(&member, &mut handles);
                        let failed =
                            |done: &Done| matches!(done.record.outcome, Outcome::Failed(_));
                        if work.stop_at_first_failure && done.as_ref().is_ok_and(failed) {
                            last.store(true, Relaxed);
                        }
                        if sender.send((place, done)).is_err() {
                            break;
                        }
                    }
                });
            });
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
}

fn unreadable(folder: &Folder, error: &io::Error) -> FolderError {
    FolderError::new(
        format!(
            "the records in {} cannot be read: {error}",
            folder.path().display()
        ),
        "run the same command again",
    )
}

/// Keeps the files that still lie in the folder, and says their paths.
fn still_there(folder: &Folder, files: &mut Vec<File>) -> Vec<String> {
    files.retain(|file| folder::stays_inside(&file.path) && folder.place(&file.path).is_file());
    files.sort_by(|one, other| one.path.cmp(&other.path));
    files.dedup_by(|one, other| one.path == other.path);
    files.iter().map(|file| file.path.clone()).collect()
}

fn move_out(folder: &Folder, out: &Path, files: &[File]) -> Result<usize, FolderError> {
    for file in files {
        let (from, to) = (folder.place(&file.path), out.join(&file.path));
        let moved = to.parent().map_or(Ok(()), std::fs::create_dir_all);
        let moved = moved.and_then(|()| match std::fs::rename(&from, &to) {
            // Another disk: copied, and then taken away.
            Err(error) if error.kind() == io::ErrorKind::CrossesDevices => {
                std::fs::copy(&from, &to).and_then(|_| std::fs::remove_file(&from))
            }
            moved => moved,
        });
        moved.map_err(|error| {
            FolderError::new(
                format!(
                    "{} cannot be moved to {}: {error}",
                    from.display(),
                    to.display()
                ),
                "choose another folder with --move-out; nothing was lost",
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
