//! Makes a member: its band, proved, and the bytes of its files.

use std::fmt::Write as _;
use std::sync::Arc;

use hitchwork_core::band::{Band, Setting};
use hitchwork_core::file;
use hitchwork_core::proof::{CanonicalForm, ColoursCount, Disguises, Severity};
use hitchwork_core::tied::Tied;
use hitchwork_draw::output::{self, Output};
use hitchwork_rules::{Expression, Recording, Rules};

use crate::digest::sha256;
use crate::plan::{self, Asked, Item, Member};
use crate::record::{self, Failed, MadeMember, MemberOutcome, Record, RecordedFile};

/// The name of the recipe by which members are made: another recipe makes everything again.
const RECIPE: &str = "hitchwork-collection/1";

/// A member with its files.
pub(crate) struct Product {
    pub(crate) record: Record,
    /// The paths from the folder of the collection, with what belongs there.
    pub(crate) files: Vec<(String, Vec<u8>)>,
}

/// A digest of all that an item's members have in common.
pub(crate) fn item_digest(item: &Item) -> String {
    let version = env!("CARGO_PKG_VERSION");
    let rule = &item.rule;
    let all = format!(
        "{RECIPE}\n{version}\n{}\n{}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}\n{:?}",
        rule.name(),
        rule.text(),
        item.own_palettes,
        item.gauge,
        item.habits,
        item.keep,
        item.reject,
        item.write
    );
    sha256(all.as_bytes())
}

/// A digest of all that a member is made from, but for what its rule will ask for.
pub(crate) fn key(item_digest: &str, member: &Member) -> String {
    let mut all = item_digest.to_owned();
    for (name, value) in &member.settings {
        let _ = write!(all, "\n{name}={value:?}");
    }
    let _ = write!(
        all,
        "\n{:?} {} {:?} {:?} {:?}",
        member.palette, member.seed, member.mirrored, member.length_mm, member.wrist_mm
    );
    sha256(all.as_bytes())
}

/// The band of a member, before any condition, and what its rule asked for.
pub(crate) fn band(rules: &Rules, item: &Item, member: &Member) -> (Result<Band, Failed>, Asked) {
    let recording = Recording::new(Arc::clone(&item.beside));
    let rule = item.rule.clone().finding(recording.clone());
    let made = rules.make(&rule, &item.settings_of(member));
    let band = made.map_err(|error| of_rule(&error, member));
    let band = band.map(|made| match member.mirrored {
        false => made.band,
        true => made.band.mirrored(),
    });
    (band, Asked::of(&recording))
}

fn of_rule(error: &hitchwork_rules::Error, member: &Member) -> Failed {
    let first = error.diagnostics().first();
    let place = first.and_then(|first| first.place.as_ref());
    Failed {
        message: first.map_or_else(|| error.to_string(), |first| first.message.clone()),
        help: first.and_then(|first| first.help.clone()),
        place: place.map(|spot| {
            format!(
                "{}, line {}, character {}",
                spot.file, spot.line, spot.character
            )
        }),
        settings: settings_in_words(member),
    }
}

/// With what a member is made.
pub(crate) fn settings_in_words(member: &Member) -> String {
    let set = |(name, value): (&String, &Setting)| format!("{name}={value}");
    let mut words: Vec<String> = member.settings.iter().map(set).collect();
    if let Some(palette) = &member.palette {
        words.push(format!("palette \"{palette}\""));
    }
    words.push(format!("seed {}", member.seed));
    if let Some(length_mm) = member.length_mm {
        words.push(format!("{} cm long", length_mm / 10.0));
    }
    if member.mirrored {
        words.push("mirrored".to_owned());
    }
    words.join(", ")
}

/// The condition that leaves a band out, if one does.
pub(crate) fn left_out(item: &Item, tied: &Tied) -> Result<Option<String>, hitchwork_rules::Error> {
    for condition in &item.keep {
        if !condition.holds(tied)? {
            return Ok(Some(format!("keep {condition}")));
        }
    }
    for condition in &item.reject {
        if condition.holds(tied)? {
            return Ok(Some(format!("reject {condition}")));
        }
    }
    Ok(None)
}

/// How a band ranks among those of which the best are kept: how many preferences it
/// fulfils, and how much it has of what is asked for.
pub(crate) fn rank(
    item: &Item,
    by: Option<&Expression>,
    tied: &Tied,
) -> Result<(usize, f64), hitchwork_rules::Error> {
    let mut preferred = 0;
    for condition in &item.prefer {
        preferred += usize::from(condition.holds(tied)?);
    }
    let score = by.map_or(Ok(0.0), |by| by.value(tied))?;
    Ok((preferred, score))
}

/// Makes a member and proves it; its files are only made where they are to be written.
pub(crate) fn product(
    rules: &Rules,
    item: &Item,
    member: &Member,
    key: String,
    with_files: bool,
) -> Product {
    let (band, asked) = band(rules, item, member);
    let attempted = band.and_then(|band| attempt(band, item, member, with_files));
    let (outcome, files) =
        attempted.unwrap_or_else(|failed| (MemberOutcome::Failed(failed), Vec::new()));
    Product {
        record: Record {
            name: member.name.clone(),
            key,
            asked,
            outcome,
        },
        files,
    }
}

type Attempted = (MemberOutcome, Vec<(String, Vec<u8>)>);

fn attempt(
    band: Band,
    item: &Item,
    member: &Member,
    with_files: bool,
) -> Result<Attempted, Failed> {
    let mut tied = Tied::by(band, item.habits);
    if let Some(wrist_mm) = member.wrist_mm {
        tied = tied.for_wrist(wrist_mm);
    }
    let why = left_out(item, &tied).map_err(|error| of_rule(&error, member))?;
    if let Some(why) = why {
        return Ok((MemberOutcome::LeftOut { why }, Vec::new()));
    }
    let report = tied.report();
    if let Some(grave) = report
        .findings
        .iter()
        .find(|finding| finding.severity == Severity::Error)
    {
        let place = grave.place.rule.as_ref();
        return Err(Failed {
            message: grave.message.clone(),
            help: Some(grave.help.clone()),
            place: place.map(|rule| {
                format!(
                    "{}, line {}, character {}",
                    rule.file, rule.line, rule.character
                )
            }),
            settings: settings_in_words(member),
        });
    }
    let band = tied.band();
    let design = CanonicalForm::of(band, Disguises::ALL, ColoursCount::ByValue).ok();
    let origin = band.origin();
    let colours = band.used_colours().into_iter().map(|index| {
        let colour = &band.palette()[usize::from(index)];
        (colour.name.clone(), colour.srgb.to_string())
    });
    let text = file::write(band);
    let mut made = MadeMember {
        title: band.title().to_owned(),
        rule: item.rule_name.clone(),
        settings: origin
            .map(|origin| origin.settings.clone())
            .unwrap_or_default(),
        palette: member.palette.clone(),
        seed: member.seed,
        mirrored: member.mirrored,
        digest: sha256(text.as_bytes()),
        design: design.map(|form| form.hex()),
        same_as: None,
        colours: colours.collect(),
        measures: record::measures(&tied),
        findings: record::findings(report),
        files: Vec::new(),
    };
    let mut files = vec![(format!("{}.band.json", member.name), text.into_bytes())];
    if with_files {
        let drawn = outputs(item, &tied).map_err(|error| Failed {
            message: error.to_string(),
            help: error.help(),
            place: None,
            settings: settings_in_words(member),
        })?;
        files.extend(drawn);
    }
    let name = &member.name;
    let files: Vec<(String, Vec<u8>)> = files
        .into_iter()
        .map(|(file, bytes)| (format!("{name}/{file}"), bytes))
        .collect();
    made.files = files
        .iter()
        .map(|(path, bytes)| RecordedFile::of(path, bytes))
        .collect();
    Ok((MemberOutcome::Made(Box::new(made)), files))
}

fn outputs(item: &Item, tied: &Tied) -> Result<Vec<(String, Vec<u8>)>, hitchwork_draw::Error> {
    let options = output::OutputOptions::fitting(tied);
    let mut files = Vec::new();
    for output in &item.write {
        let made = output.files(tied, &options)?;
        files.extend(made.into_iter().map(|file| (file.name, file.bytes)));
    }
    Ok(files)
}

/// The path of a member's band file.
pub(crate) fn band_file(name: &str) -> String {
    format!("{name}/{name}.band.json")
}

/// Whether a path is that of a file in which this output of a member is written.
pub(crate) fn is_file_of(name: &str, output: Output, path: &str) -> bool {
    path.strip_prefix(name)
        .and_then(|path| path.strip_prefix('/'))
        .is_some_and(|file| output.makes(file))
}

/// Whether a path is one that a file of some member of some plan can have.
pub(crate) fn is_file_of_a_member(path: &str) -> bool {
    path.split_once('/').is_some_and(|(name, _)| {
        let is_output = |output| is_file_of(name, output, path);
        plan::refused_name(name).is_none()
            && (path == band_file(name) || Output::all().any(is_output))
    })
}
