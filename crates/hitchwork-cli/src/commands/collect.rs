//! `collect`: every band of a plan in one folder.

mod class;
mod estimate;

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use hitchwork_collection::folder::{FolderError, Share, manifest_name};
use hitchwork_collection::manifest::{self, FileDifference};
use hitchwork_collection::names::{self, told};
use hitchwork_collection::plan::{self, Plan};
use hitchwork_collection::record::Failed;
use hitchwork_collection::run::{
    self, CollectOptions, Collected, Progress, RunError, collect, prove,
};
use hitchwork_rules::Rules;
use hitchwork_rules::load::FileKind;
use serde_json::{Value, json};

use crate::arguments::CollectArguments;
use crate::progress;
use crate::say::LabelledLines;
use crate::stopping::stopped_from_outside;
use crate::terminal::Styled as _;
use crate::trouble::Trouble;
use crate::{Verdict, advice, folder, input, say};

pub(crate) fn run(asked: &CollectArguments) -> Result<Verdict, Trouble> {
    if asked.verify {
        return verify(asked);
    }
    if let Some(out) = &asked.class {
        return class::run(asked, &folder_of(asked)?, out);
    }
    let rules = input::language();
    let plan = plan_of(asked, &rules)?;
    if asked.dry_run {
        return estimate::run(asked, &rules, &plan);
    }
    let stop = stopped_from_outside()?;
    let options = CollectOptions {
        workers: super::workers(asked.workers),
        part: asked.part,
        stop_at_first_failure: asked.stop_at_first_failure,
        move_out: asked.move_out.clone(),
        shares: asked.merge.clone(),
    };
    let mut shown: Option<progress::ProgressReport> = None;
    let mut watch = |now: &Progress| {
        let shown = shown.get_or_insert_with(|| {
            progress::ProgressReport::new(now.total, "members", asked.quiet || asked.json)
        });
        let failed = match now.failed {
            0 => String::new(),
            failed => format!(", {failed} failed"),
        };
        shown.done(now.done, &failed);
        ControlFlow::Continue(())
    };
    let outcome = match asked.check {
        true => prove(&rules, &plan, &options, &stop, &mut watch),
        false => collect(
            &rules,
            &plan,
            &folder_of(asked)?,
            &options,
            &stop,
            &mut watch,
        ),
    };
    if let Some(shown) = shown {
        shown.end();
    }
    let collected = outcome.map_err(|error| trouble(asked, error))?;
    if asked.json {
        say::json(&as_json(&plan, &collected))?;
    } else {
        say::out(words(asked, &plan, &collected)?)?;
    }
    Ok(match collected.progress.failed {
        0 => Verdict::Sound,
        _ => Verdict::Unsound,
    })
}

fn plan_of(asked: &CollectArguments, rules: &Rules) -> Result<Plan, Trouble> {
    let file = folder::as_text(&asked.plan, "rename it, or the folder that it is in")?.to_owned();
    if asked.plan.is_dir() {
        return Err(Trouble::new(
            format!("{file} is a folder, and a plan is a file"),
            "give the plan (.toml) that the collection is made from, or --verify or --class",
        ));
    }
    Ok(plan::read(
        rules,
        &file,
        &input::text(&file, FileKind::Plan)?,
    )?)
}

/// The folder of the collection.
fn folder_of(asked: &CollectArguments) -> Result<PathBuf, Trouble> {
    if let Some(out) = &asked.out {
        return Ok(out.clone());
    }
    if asked.plan.is_dir() {
        return Ok(asked.plan.clone());
    }
    let stem = asked.plan.file_stem().unwrap_or_default();
    let name = names::safe(&stem.to_string_lossy());
    if name.is_empty() {
        return Err(Trouble::new(
            format!("{} has no name", asked.plan.display()),
            "give the plan's file, or say with --out where the collection goes",
        ));
    }
    Ok(Path::new("out").join(name))
}

impl From<FolderError> for Trouble {
    fn from(error: FolderError) -> Self {
        let help = match advice::on_folder(error.kind()) {
            Some(advice) => format!("{} ({advice})", error.help()),
            None => error.help().to_owned(),
        };
        Self::new(error.to_string(), help)
    }
}

fn trouble(asked: &CollectArguments, error: RunError) -> Trouble {
    match error {
        RunError::Folder(error) => error.into(),
        RunError::Stopped(done) => Trouble::new(
            format!("stopped with {} of {} members done", done.done, done.total),
            match asked.check {
                true => "nothing was written",
                false => "what is done stays done; run the same command again to continue",
            },
        ),
        RunError::Member { name, failed } => Trouble::new(
            format!("{name}: {}", one_line(&failed)),
            failed.help.unwrap_or_default(),
        ),
        RunError::NoRoom => Trouble::new(error.to_string(), "allow the command more memory"),
        RunError::Missing {
            missing,
            total,
            first,
        } => Trouble::new(
            format!("{missing} of {total} members are in none of the shares; the first is {first}"),
            "make the missing shares with --part, from the same plan, rules and palettes, or name all the folders that they are in",
        ),
        error => Trouble::new(
            error.to_string(),
            "put that right, and run the same command again to continue",
        ),
    }
}

fn one_line(failed: &Failed) -> String {
    match &failed.place {
        Some(place) => format!("{} ({place}; {})", failed.message, failed.settings),
        None => format!("{} ({})", failed.message, failed.settings),
    }
}

fn verify(asked: &CollectArguments) -> Result<Verdict, Trouble> {
    let folder = folder_of(asked)?;
    // A folder alone does not know from what it would be made today.
    let (files, differences, outdated) = match asked.plan.is_dir() {
        true => {
            let (files, differences) = manifest::verify(&folder)?;
            (files, differences, Vec::new())
        }
        false => {
            let verified = run::verify(&plan_of(asked, &input::language())?, &folder)?;
            (verified.files, verified.differences, verified.outdated)
        }
    };
    let verdict = match differences.is_empty() && outdated.is_empty() {
        true => Verdict::Sound,
        false => Verdict::Unsound,
    };
    let place = folder.display();
    if asked.json {
        let data = |name: &str, differences: &[FileDifference]| {
            let data = differences
                .iter()
                .map(|difference| json!({ name: difference.path, "what": difference.what }));
            data.collect::<Vec<_>>()
        };
        say::json(&json!({
            "files": files,
            "differences": data("path", &differences),
            "outdated": data("member", &outdated),
        }))?;
        return Ok(verdict);
    }
    let lines = |differences: &[FileDifference]| {
        let lines = differences
            .iter()
            .map(|difference| format!("  {} {}\n", difference.path, difference.what));
        lines.collect::<String>()
    };
    let mut words = match differences.len() {
        0 => format!(
            "{place}: all {} are what the manifest says\n",
            say::counted(files as u64, "file")
        ),
        wrong => format!(
            "{place}: {wrong} of {files} files are not as the manifest says\n{}",
            lines(&differences)
        ),
    };
    if !outdated.is_empty() {
        words.push_str(&format!(
            "{place}: what the plan asks for has changed in {}\n{}",
            say::counted(outdated.len() as u64, "place"),
            lines(&outdated)
        ));
    }
    if verdict == Verdict::Unsound {
        words.push_str("Run collect with the plan again: it makes again what is missing or outdated, and nothing else. A file that was changed stays until you rename or delete it.\n");
    }
    say::out(words)?;
    Ok(verdict)
}

fn as_json(plan: &Plan, collected: &Collected) -> Value {
    let progress = &collected.progress;
    json!({
        "title": plan.title,
        "members": progress.total,
        "made": progress.made,
        "reused": progress.reused,
        "left_out": progress.left_out,
        "failed": progress.failed,
        "failures": collected.failures.iter().map(|(name, failed)| json!({ "name": name, "failed": failed })).collect::<Vec<_>>(),
        "disguised": collected.disguised.iter().map(|(name, is)| json!({ "name": name, "is": is })).collect::<Vec<_>>(),
        "findings": collected.findings.iter().map(|(code, severity, count)| json!({ "code": code, "severity": severity, "count": count })).collect::<Vec<_>>(),
        "damage": collected.damage,
        "kept": collected.kept,
        "left_behind": collected.left_behind,
        "left_of_failed": collected.left_of_failed,
        "left_changed": collected.left_changed,
        "moved_out": collected.moved_out,
    })
}

/// This many of a kind are told; a manifest tells them all.
const MOST_TOLD: usize = 5;

fn words(asked: &CollectArguments, plan: &Plan, collected: &Collected) -> Result<String, Trouble> {
    let title = format!("{}\n", plan.title.styled(say::heading()));
    let mut summary = LabelledLines::under(title, 10);
    say_members(&mut summary, asked.check, collected);
    say_files(&mut summary, collected);
    if !asked.check {
        say_places(&mut summary, &folder_of(asked)?, asked.part);
    }
    Ok(summary.text)
}

/// What became of the members, and what was found about them.
fn say_members(summary: &mut LabelledLines, proved_only: bool, collected: &Collected) {
    let progress = &collected.progress;
    if let Some(damage) = collected.damage {
        summary.add("damage", damage);
    }
    let made = say::counted(progress.made, "band");
    match proved_only {
        true => summary.add("proved", made),
        false if progress.reused > 0 => {
            let reused = progress.reused;
            summary.add("made", format!("{made}; {reused} were there already"));
        }
        false => summary.add("made", made),
    }
    if progress.left_out > 0 {
        let left_out = progress.left_out;
        summary.add("left out", format!("{left_out} by the plan's conditions"));
    }
    let failures = collected.failures.iter().take(MOST_TOLD);
    let failure = |(name, failed): &(String, Failed)| format!("{name}: {}", one_line(failed));
    summary.add_all("failed", failures.map(failure));
    if progress.failed > MOST_TOLD as u64 {
        let more = progress.failed - MOST_TOLD as u64;
        summary.add("", format!("and {more} more"));
    }
    let disguised = collected.disguised.iter().take(MOST_TOLD);
    summary.add_all(
        "alike",
        disguised.map(|(name, is)| format!("{name} is {is}")),
    );
    let findings = collected.findings.iter();
    let weighty = findings.filter(|(_, severity, _)| severity != "note");
    summary.add_all(
        "findings",
        weighty.map(|(code, severity, count)| format!("{severity} {code}: {count} times")),
    );
}

/// What became of files that were there before.
fn say_files(summary: &mut LabelledLines, collected: &Collected) {
    let Collected {
        kept,
        left_behind,
        left_of_failed,
        left_changed,
        ..
    } = collected;
    let counted = |count: usize| say::counted(count as u64, "file");
    // Files that somebody has changed: which, and what becomes of them.
    let changed = |which: &str, files: &[String], [of_one, of_many]: [&str; 2]| {
        let (was, becomes) = match files {
            [_] => ("was", of_one),
            _ => ("were", of_many),
        };
        let count = counted(files.len());
        format!(
            "{count} {which} {was} changed since{becomes}: {}",
            told(files)
        )
    };
    if !kept.is_empty() {
        let kept = changed("that", kept, ["", ""]);
        summary.add(
            "kept",
            format!("{kept}; rename or delete one, and it is made again"),
        );
    }
    if let Some(one) = left_of_failed.first() {
        let count = counted(left_of_failed.len());
        summary.add(
            "left",
            format!("{count} of bands that failed now and were made before, such as {one}; put their rules right, and they are made again"),
        );
    }
    if let Some(one) = left_behind.first() {
        let count = counted(left_behind.len());
        summary.add(
            "left",
            format!("{count} of bands that are no longer in the plan, such as {one}; --move-out FOLDER moves them away"),
        );
    }
    if !left_changed.is_empty() {
        let stay = [", and stays where it is", ", and stay where they are"];
        summary.add("", changed("of such bands", left_changed, stay));
    }
    if collected.moved_out > 0 {
        summary.add("moved", format!("{} out", counted(collected.moved_out)));
    }
}

/// Where what was made lies.
fn say_places(summary: &mut LabelledLines, folder: &Path, part: Option<Share>) {
    if part.is_some() {
        let manifest = folder.join(manifest_name(part));
        summary.add("share", manifest.display());
    } else {
        summary.add("gallery", folder.join("index.html").display());
        summary.add("table", folder.join("collection.csv").display());
    }
}
