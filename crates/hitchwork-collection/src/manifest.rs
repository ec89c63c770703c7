//! The manifest of a collection, its table, and whether a folder is what they say.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fs;
use std::io::{self, BufRead, BufReader, Cursor, Seek, Write};
use std::path::{Path, PathBuf};

use hitchwork_core::cell::neutral;
use hitchwork_core::file;
use hitchwork_core::measures::{MEASURES, in_full};
use hitchwork_core::proof::{ColoursCount, Disguise, Disguises};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};

pub use crate::beginnings::FORMAT;
use crate::beginnings::MANIFEST_BEGINS;
use crate::digest::sha256;
use crate::folder::{
    self, FolderError, FolderErrorKind, LockedFolder, Own, Share, read_line, record_at,
};
use crate::gallery;
use crate::making::band_file;
use crate::plan::Plan;
use crate::record::{
    Failed, MOST_TOLD, MadeMember, MemberOutcome, Record, RecordPlace, RecordedFile,
    RecordedFinding,
};

/// The JSON Schema of manifests.
pub const SCHEMA: &str = include_str!("../collection.schema.json");

/// What is written.
pub(crate) struct ManifestParts<'a> {
    pub(crate) plan: &'a Plan,
    pub(crate) choices: Vec<String>,
    pub(crate) left_behind: &'a [RecordedFile],
    /// Where the record of each member stands, in order.
    pub(crate) places: &'a [RecordPlace],
    pub(crate) sources: &'a [PathBuf],
    pub(crate) part: Option<Share>,
}

/// What was seen on the way.
pub(crate) struct Assembled {
    pub(crate) failures: Vec<(String, Failed)>,
    pub(crate) disguised: Vec<(String, String)>,
    pub(crate) findings: Vec<(String, String, u64)>,
}

/// How many findings there are, by code and severity.
#[derive(Default)]
pub(crate) struct FindingTally(BTreeMap<(String, String), u64>);

impl FindingTally {
    pub(crate) fn count(&mut self, findings: &[RecordedFinding]) {
        for finding in findings {
            let key = (finding.code.clone(), finding.severity.clone());
            *self.0.entry(key).or_default() += 1;
        }
    }

    pub(crate) fn counted(self) -> Vec<(String, String, u64)> {
        self.0
            .into_iter()
            .map(|((code, severity), count)| (code, severity, count))
            .collect()
    }
}

/// The records, one after another, from wherever they stand.
struct RecordReader<'a> {
    places: &'a [RecordPlace],
    files: Vec<fs::File>,
    /// What members are of an earlier one, as far as that is known by now.
    same: BTreeMap<String, String>,
}

impl<'a> RecordReader<'a> {
    fn open(written: &'a ManifestParts<'_>) -> io::Result<Self> {
        // A file that is not there has no records, and nobody asks for one.
        let open = |path: &PathBuf| {
            folder::open_to_read(path).or_else(|_| folder::open_to_read(&written.sources[1]))
        };
        Ok(Self {
            places: written.places,
            files: written
                .sources
                .iter()
                .map(open)
                .collect::<io::Result<_>>()?,
            same: BTreeMap::new(),
        })
    }

    fn each(&mut self, mut each: impl FnMut(Record) -> io::Result<()>) -> io::Result<()> {
        for place in self.places {
            let file = &mut self.files[usize::from(place.source)];
            let mut record = record_at(file, place.begins)?;
            if let MemberOutcome::Made(made) = &mut record.outcome {
                made.same_as = self.same.get(&record.name).cloned();
            }
            each(record)?;
        }
        Ok(())
    }
}

/// Writes manifest, table and gallery, reading the records one by one.
pub(crate) fn write(
    folder: &LockedFolder,
    written: &ManifestParts<'_>,
) -> Result<Assembled, FolderError> {
    let mut assembled = Assembled {
        failures: Vec::new(),
        disguised: Vec::new(),
        findings: Vec::new(),
    };
    let unreadable = |error: io::Error| {
        FolderError::new(
            FolderErrorKind::Other,
            format!(
                "the records of the collection cannot be read: {}",
                folder::reason(&error)
            ),
            "start again: what was finished is whole",
        )
    };
    // Opened once: the manifest that is read from is about to be replaced.
    let mut records = RecordReader::open(written).map_err(unreadable)?;
    let totals = look_through(folder, written, &mut records, &mut assembled).map_err(unreadable)?;
    folder.replace(Own::Manifest, |out| {
        let mut sealed = Sealed::new(out);
        let out: &mut dyn Write = &mut sealed;
        let mut head = json!({
            "format": FORMAT,
            "title": written.plan.title,
            "notes": written.plan.notes,
            "hitchwork": env!("CARGO_PKG_VERSION"),
            "members": totals[0],
            "left_out": totals[1],
            "failed": totals[2],
        });
        if let Some(part) = written.part {
            head["part"] = json!([part.number, part.of]);
        }
        write!(out, "{MANIFEST_BEGINS}{head},\n\"lines\": [")?;
        let mut first = true;
        let mut line = |out: &mut dyn Write, line: &str| {
            let between = if std::mem::take(&mut first) {
                "\n"
            } else {
                ",\n"
            };
            write!(out, "{between}{line}")
        };
        for choice in &written.choices {
            line(out, choice)?;
        }
        for file in written.left_behind {
            line(out, &json!({ "left_behind": file }).to_string())?;
        }
        records.each(|record| line(out, &serde_json::to_string(&record)?))?;
        out.write_all(b"\n],\n")?;
        sealed.close()
    })?;
    if written.part.is_none() {
        folder.replace(Own::Table, |out| table(out, &mut records))?;
        let (title, notes) = (&written.plan.title, &written.plan.notes);
        folder.replace(Own::Gallery, |out| {
            gallery::write(out, title, notes, &mut |each| records.each(each))
        })?;
    }
    Ok(assembled)
}

/// The words before the digest in the last line of a manifest.
const SEAL: &str = "\"sha256\": \"";

/// A manifest that ends in the digest of everything before, so that it is seen when
/// somebody has changed it.
struct Sealed<'a> {
    out: &'a mut dyn Write,
    digest: Sha256,
}

impl<'a> Sealed<'a> {
    fn new(out: &'a mut dyn Write) -> Self {
        Self {
            out,
            digest: Sha256::new(),
        }
    }

    fn close(self) -> io::Result<()> {
        let digest = format!("{:x}", self.digest.finalize());
        writeln!(self.out, "{SEAL}{digest}\"}}")
    }
}

impl Write for Sealed<'_> {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let written = self.out.write(bytes)?;
        self.digest.update(&bytes[..written]);
        Ok(written)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.out.flush()
    }
}

/// What the digest at the end of a manifest says about it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Seal {
    /// It is what was written.
    Whole,
    /// It has been changed since.
    Changed,
    /// It ends before its end.
    CutShort,
    /// There is no manifest.
    Missing,
}

/// Looks at the digest at the end of a manifest.
pub(crate) fn seal(path: &Path) -> io::Result<Seal> {
    match folder::open_to_read(path) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(Seal::Missing),
        opened => seal_of(&mut BufReader::new(opened?)),
    }
}

fn seal_of(from: &mut impl BufRead) -> io::Result<Seal> {
    let (mut digest, mut line) = (Sha256::new(), Vec::new());
    loop {
        if read_line(from, &mut line)? == 0 {
            return Ok(Seal::CutShort);
        }
        if let Some(said) = line.strip_prefix(SEAL.as_bytes()) {
            let found = format!("{:x}\"}}\n", digest.finalize());
            return Ok(match said == found.as_bytes() {
                true => Seal::Whole,
                false => Seal::Changed,
            });
        }
        digest.update(&line);
    }
}

/// Names what is the same in disguise, and counts members made, left out and failed.
fn look_through(
    folder: &LockedFolder,
    written: &ManifestParts<'_>,
    records: &mut RecordReader<'_>,
    assembled: &mut Assembled,
) -> io::Result<[u64; 3]> {
    let mut firsts: BTreeMap<u128, (String, String, bool)> = BTreeMap::new();
    let mut same = BTreeMap::new();
    let mut totals = [0; 3];
    let mut tally = FindingTally::default();
    records.each(|record| {
        match &record.outcome {
            MemberOutcome::Made(made) => {
                totals[0] += 1;
                tally.count(&made.findings);
                // Shares do not know each other's members.
                let design = made.design.as_ref().filter(|_| written.part.is_none());
                let Some(design) =
                    design.and_then(|hex| u128::from_str_radix(hex.get(..32)?, 16).ok())
                else {
                    return Ok(());
                };
                if let Some((first, digest, mirrored)) = firsts.get(&design) {
                    let words = disguise(folder, (first, digest), (&record.name, &made.digest));
                    // A plan that asks for mirror images too knows that they are alike.
                    if *mirrored == made.mirrored && assembled.disguised.len() < MOST_TOLD {
                        assembled
                            .disguised
                            .push((record.name.clone(), words.clone()));
                    }
                    same.insert(record.name, words);
                } else {
                    firsts.insert(design, (record.name, made.digest.clone(), made.mirrored));
                }
            }
            MemberOutcome::LeftOut { .. } => totals[1] += 1,
            MemberOutcome::Failed(failed) => {
                totals[2] += 1;
                if assembled.failures.len() < MOST_TOLD {
                    assembled
                        .failures
                        .push((record.name.clone(), failed.clone()));
                }
            }
        }
        Ok(())
    })?;
    assembled.findings = tally.counted();
    records.same = same;
    Ok(totals)
}

/// What a member is of an earlier one, each given as its name and the digest of its band file:
/// "the mirror image of drift-8". A band file that somebody has changed tells nothing.
fn disguise(folder: &LockedFolder, first: (&str, &str), second: (&str, &str)) -> String {
    let band = |(name, digest): (&str, &str)| {
        let bytes = fs::read(folder.place(&band_file(name))).ok()?;
        let bytes = (sha256(&bytes) == digest).then_some(bytes)?;
        file::read(&bytes).ok()
    };
    let both = band(first).zip(band(second));
    let disguise = both.and_then(|(first, second)| {
        Disguise::between(&first, &second, Disguises::ALL, ColoursCount::ByValue)
            .ok()
            .flatten()
    });
    let first = first.0;
    disguise.map_or_else(|| first.to_owned(), |disguise| disguise.words(first))
}

/// The members as a table (RFC 4180). Words are written so that a spreadsheet does not
/// reckon with them; measures stay numbers.
fn table(out: &mut dyn Write, records: &mut RecordReader<'_>) -> io::Result<()> {
    let mut csv = csv::Writer::from_writer(out);
    let measures = MEASURES.iter().map(|measure| measure.name);
    let header = [
        "name", "outcome", "title", "rule", "palette", "seed", "mirrored", "settings",
    ];
    let more = ["same_as", "findings", "digest"];
    csv.write_record(header.into_iter().chain(measures).chain(more))?;
    records.each(|record| {
        let fields: Vec<String> = match &record.outcome {
            MemberOutcome::Made(made) => row(&record.name, made),
            MemberOutcome::LeftOut { why } => vec![
                neutral(&record.name).into_owned(),
                format!("left out: {why}"),
            ],
            MemberOutcome::Failed(failed) => vec![
                neutral(&record.name).into_owned(),
                format!("failed: {}", failed.message),
            ],
        };
        let width = header.len() + MEASURES.len() + more.len();
        let empty = std::iter::repeat_n(String::new(), width - fields.len());
        csv.write_record(fields.iter().cloned().chain(empty))?;
        Ok(())
    })?;
    csv.flush()
}

fn row(name: &str, made: &MadeMember) -> Vec<String> {
    let settings = made
        .settings
        .iter()
        .map(|(name, value)| format!("{name}={value}"));
    let words = |text: &str| neutral(text).into_owned();
    let mut row = vec![
        words(name),
        "made".to_owned(),
        words(&made.title),
        words(&made.rule),
        words(made.palette.as_deref().unwrap_or_default()),
        made.seed.to_string(),
        made.mirrored.to_string(),
        words(&settings.collect::<Vec<_>>().join(" ")),
    ];
    row.extend(
        MEASURES
            .iter()
            .map(|measure| match made.measures.get(measure.name) {
                Some(Value::String(word)) => words(&in_full(word)),
                Some(other) => other.to_string(),
                None => String::new(),
            }),
    );
    let codes = made.findings.iter().map(|finding| finding.code.as_str());
    row.push(words(made.same_as.as_deref().unwrap_or_default()));
    row.push(words(&codes.collect::<Vec<_>>().join(" ")));
    row.push(words(&made.digest));
    row
}

/// What is known of a collection from its manifest.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Manifest {
    /// What it is called.
    pub title: String,
    /// Its members, in order, with those that were left out or failed.
    pub records: Vec<Record>,
}

/// Reads the manifest of a folder whole.
///
/// ```
/// # use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// # use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// # let rules = hitchwork_rules::Rules::new();
/// # let plan = plan::read(&rules, "drifts.toml", "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n")?;
/// # let folder = tempfile::tempdir()?;
/// # collect(&rules, &plan, folder.path(), &CollectOptions::default(), &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))?;
/// use hitchwork_collection::manifest;
/// // `folder`: a collection of two bands.
/// let manifest = manifest::read(folder.path())?;
/// assert_eq!((manifest.title.as_str(), manifest.records.len()), ("Drifts", 2));
/// assert!(manifest::read(&folder.path().join("elsewhere")).is_err());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When there is none, or it is not what was written.
pub fn read(folder: &Path) -> Result<Manifest, FolderError> {
    let mut records = Vec::new();
    let title = each_record(folder, &mut |record| records.push(record))?;
    Ok(Manifest { title, records })
}

/// Reads a manifest from its bytes, wherever they come from.
///
/// # Errors
/// When they are not what was written.
///
/// ```
/// use hitchwork_collection::manifest;
/// let refused = manifest::from_bytes(b"{\"about\": {}").expect_err("its end is missing");
/// assert_eq!(refused.to_string(), "the manifest is cut short: its end is missing");
/// ```
pub fn from_bytes(bytes: &[u8]) -> Result<Manifest, FolderError> {
    let mut records = Vec::new();
    let title = records_in(&mut Cursor::new(bytes), "the manifest", &mut |record| {
        records.push(record);
    })?;
    Ok(Manifest { title, records })
}

/// Reads the records of a folder's manifest one after another, and says its title.
///
/// ```
/// # use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// # use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// # let rules = hitchwork_rules::Rules::new();
/// # let plan = plan::read(&rules, "drifts.toml", "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n")?;
/// # let folder = tempfile::tempdir()?;
/// # collect(&rules, &plan, folder.path(), &CollectOptions::default(), &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))?;
/// use hitchwork_collection::manifest;
/// let mut names = Vec::new();
/// let title = manifest::each_record(folder.path(), &mut |record| names.push(record.name))?;
/// assert_eq!((title.as_str(), names.len()), ("Drifts", 2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When there is no manifest, or it is not what was written.
pub fn each_record(folder: &Path, each: &mut dyn FnMut(Record)) -> Result<String, FolderError> {
    let path = folder.join(folder::manifest_name(None));
    let name = path.display().to_string();
    let file = folder::open_to_read(&path).map_err(|error| unread(&name, &error))?;
    records_in(&mut BufReader::new(file), &name, each)
}

fn not_what_was_written(name: &str, why: &str) -> FolderError {
    FolderError::new(
        FolderErrorKind::NotWhole,
        format!("{name} {why}"),
        "make the collection again from its plan: the manifest becomes new, and only those members that are not whole are made again",
    )
}

fn unread(name: &str, error: &io::Error) -> FolderError {
    not_what_was_written(name, &format!("cannot be read: {}", folder::reason(error)))
}

fn records_in<R: BufRead + Seek>(
    from: &mut R,
    name: &str,
    each: &mut dyn FnMut(Record),
) -> Result<String, FolderError> {
    let refused = |why: &str| not_what_was_written(name, why);
    let unread = |error: io::Error| unread(name, &error);
    let mut first = Vec::new();
    read_line(from, &mut first).map_err(unread)?;
    let about = first.trim_ascii().strip_prefix(MANIFEST_BEGINS.as_bytes());
    let about = about.map_or(&[][..], |about| about.strip_suffix(b",").unwrap_or(about));
    let about: Value = serde_json::from_slice(about).unwrap_or_default();
    let format = about["format"].as_str();
    if let Some(format) = format.filter(|format| *format != FORMAT) {
        return Err(refused(&format!(
            "is in the format \"{format}\", and this version reads {FORMAT}"
        )));
    }
    from.rewind().map_err(unread)?;
    match seal_of(from).map_err(unread)? {
        Seal::Whole if format.is_some() => {}
        Seal::CutShort => return Err(refused("is cut short: its end is missing")),
        _ => {
            return Err(refused(
                "was changed by hand or is damaged: it is not what was written",
            ));
        }
    }
    from.rewind().map_err(unread)?;
    folder::for_each_line(from, |_, _, record| each(record)).map_err(unread)?;
    Ok(about["title"].as_str().unwrap_or("").to_owned())
}

/// What is not as the manifest says.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct FileDifference {
    /// The file.
    pub path: String,
    /// What is wrong with it.
    pub what: Cow<'static, str>,
}

/// Proves a folder against its manifest: every file is there, and is what it was.
///
/// ```
/// # use std::{ops::ControlFlow, sync::atomic::AtomicBool};
/// # use hitchwork_collection::{plan, run::{CollectOptions, collect}};
/// # let rules = hitchwork_rules::Rules::new();
/// # let plan = plan::read(&rules, "drifts.toml", "title = \"Drifts\"\n[[item]]\nrule = \"drift\"\ngrid = { threads = [6, 8] }\n")?;
/// # let folder = tempfile::tempdir()?;
/// # collect(&rules, &plan, folder.path(), &CollectOptions::default(), &AtomicBool::new(false), &mut |_| ControlFlow::Continue(()))?;
/// use hitchwork_collection::{folder::FolderErrorKind, manifest};
/// let (files, differences) = manifest::verify(folder.path())?;
/// assert!(files > 0 && differences.is_empty());
/// std::fs::remove_file(folder.path().join("collection.json"))?;
/// let error = manifest::verify(folder.path()).unwrap_err();
/// assert_eq!(error.kind(), FolderErrorKind::NotWhole);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// When there is no manifest, or it is damaged.
pub fn verify(folder: &Path) -> Result<(usize, Vec<FileDifference>), FolderError> {
    let mut differences = Vec::new();
    let mut count = 0;
    each_record(folder, &mut |record| {
        let MemberOutcome::Made(made) = record.outcome else {
            return;
        };
        for file in made.files {
            count += 1;
            let what = if !folder::stays_inside(&file.path) {
                "leads out of the collection"
            } else if fs::symlink_metadata(folder.join(&file.path)).is_err() {
                "is missing"
            } else if !folder::holds(folder, &file) {
                "is not what it was"
            } else {
                continue;
            };
            differences.push(FileDifference {
                path: file.path,
                what: what.into(),
            });
        }
    })?;
    Ok((count, differences))
}
