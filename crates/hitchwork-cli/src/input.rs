//! Finds the rule or band file that is meant, and makes or reads its band.

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::path::{Path, PathBuf};

use hitchwork_core::band::{Band, Part};
use hitchwork_core::colour::{Palette, PaletteFormat, Stash};
use hitchwork_core::file;
use hitchwork_core::near::did_you_mean;
use hitchwork_core::text::{is_blank, on_one_line};
use hitchwork_rules::load::{self, FileKind};
use hitchwork_rules::{Folder, Limits, Made, Rule, Rules, Settings, Sources as _, built_in_names};

use crate::arguments::Subject;
use crate::say;
use crate::trouble::Trouble;

/// A band with the short name under which its files are written.
pub(crate) struct Input {
    pub(crate) name: String,
    pub(crate) band: Band,
}

/// Makes or reads the band.
pub(crate) fn band(subject: &Subject) -> Result<Input, Trouble> {
    band_of(subject, &subject.rule)
}

/// Makes or reads the band of another name than the subject's own.
pub(crate) fn band_of(subject: &Subject, rule: &str) -> Result<Input, Trouble> {
    if let Some((_, Some(fitted))) = subject.gauge()? {
        say::aside(format!("swatch: {fitted}\n"))?;
    }
    let name = short_name(rule);
    let band = match find(rule)? {
        SubjectKind::BandFile => from_file(subject, rule)?,
        SubjectKind::RuleFile | SubjectKind::BuiltIn => {
            let rules = rules(subject).tracing_pictures();
            let rule = self::rule(&rules, rule)?;
            let settings = settings(subject)?;
            one_palette(subject, &rules, &rule, &settings)?;
            let made = rules.make(&rule, &settings)?;
            say_what_misses(&made)?;
            if subject.mirrored && made.sets_words {
                say::aside(format!("words: {MIRRORED_WORDS}\n"))?;
            }
            made.band
        }
    };
    let band = if subject.mirrored {
        band.mirrored()
    } else {
        band
    };
    Ok(Input { name, band })
}

/// What becomes of words in a band that is mirrored.
pub(crate) const MIRRORED_WORDS: &str = "the rule sets words in letters or flags, and mirrored they are read the wrong way round: mirror the picture in the rule as well, or tie the band as it is";

/// Whose knots were looked for to show a picture wants to know whether they do.
fn say_what_misses(made: &Made) -> Result<(), Trouble> {
    let rows = [Part::LeadIn, Part::Repeat, Part::LeadOut];
    let rows = rows.into_iter().flat_map(|part| made.band.rows(part));
    let trace = made.trace.as_ref();
    match trace.map(|trace| trace.looked_for_and_missed(rows)) {
        None | Some((_, 0)) => Ok(()),
        Some((all, missed)) => {
            let show = if missed == 1 { "shows" } else { "show" };
            say::aside(format!(
                "picture: {missed} of the {all} knots that are to show it {show} another colour\n"
            ))
        }
    }
}

/// The language, with the limits that were asked for.
pub(crate) fn rules(subject: &Subject) -> Rules {
    let ordinary = limits();
    Rules::with_limits(Limits {
        operations: subject.operations.unwrap_or(ordinary.operations),
        seconds: subject.seconds.unwrap_or(ordinary.seconds),
        ..ordinary
    })
}

/// The language, with its ordinary limits.
pub(crate) fn language() -> Rules {
    Rules::with_limits(limits())
}

fn limits() -> Limits {
    Limits {
        memory_meter: Some(crate::memory::in_use),
        ..Limits::default()
    }
}

/// Reads a rule, by its built-in name or from its file.
pub(crate) fn rule(rules: &Rules, name: &str) -> Result<Rule, Trouble> {
    match find(name)? {
        SubjectKind::BuiltIn => Ok(rules.built_in(name).expect("just found")),
        SubjectKind::RuleFile => {
            let text = text(name, FileKind::Rule)?;
            let rule = rules.compile(name, &text)?.finding(Folder::of_file(name));
            // Where it lies on this machine is nobody's business who reads the band file.
            let file = Path::new(name).file_name().unwrap_or_default();
            Ok(rule.known_as(file.to_string_lossy()))
        }
        SubjectKind::BandFile => Err(Trouble::new(
            format!("{name} is a band file, and a rule is needed here"),
            "give a rule's name or a .rhai file",
        )),
    }
}

/// The file of a rule, if it is not a built-in one.
pub(crate) fn rule_place(name: &str) -> Result<Option<PathBuf>, Trouble> {
    match find(name)? {
        SubjectKind::BuiltIn => Ok(None),
        SubjectKind::RuleFile if Path::new(name).is_file() => Ok(Some(PathBuf::from(name))),
        SubjectKind::RuleFile => Err(Trouble::new(
            format!("{name} cannot be watched: there is no such file"),
            "check the path; `hitchwork rules new NAME` starts a rule",
        )),
        SubjectKind::BandFile => Err(Trouble::new(
            format!("{name} is a band file: nothing about it changes"),
            "give the rule that made it; its name stands under \"origin\" in the file",
        )),
    }
}

enum SubjectKind {
    BuiltIn,
    RuleFile,
    BandFile,
}

fn find(name: &str) -> Result<SubjectKind, Trouble> {
    let extension = Path::new(name)
        .extension()
        .and_then(|extension| extension.to_str())
        .map(str::to_ascii_lowercase);
    match extension.as_deref() {
        Some("json") => return Ok(SubjectKind::BandFile),
        Some("rhai") => return Ok(SubjectKind::RuleFile),
        _ => {}
    }
    if built_in_names().any(|built_in| built_in == name) {
        return Ok(SubjectKind::BuiltIn);
    }
    if is_blank(name) {
        return Err(Trouble::new(
            "the rule that is asked for has no name",
            "give a built-in rule's name, a .rhai file or a band file (.json); `hitchwork rules list` lists the built-in rules",
        ));
    }
    if Path::new(name).exists() {
        return Err(Trouble::new(
            format!("{name} is neither a rule file nor a band file by its name"),
            "rule files end in .rhai, band files in .json",
        ));
    }
    let own = Folder::of_file(name).names();
    let file = own
        .iter()
        .find(|own| Path::new(name).file_name() == Some(OsStr::new(own)));
    let meant = match file {
        Some(_) => format!("did you mean the file {name}.rhai? "),
        None => did_you_mean(name, built_in_names()),
    };
    let names: Vec<&str> = built_in_names().collect();
    Err(Trouble::new(
        format!("there is no built-in rule called {name}, and no file of that name"),
        format!("{meant}the built-in rules are {}", names.join(", ")),
    ))
}

pub(crate) fn settings(subject: &Subject) -> Result<Settings, Trouble> {
    let mut settings = fixed(subject)?.seed(subject.seed.unwrap_or(0));
    for (name, value) in &subject.settings {
        settings = settings.set(name, value.as_str());
    }
    Ok(match subject.length_mm() {
        Some(length_mm) => settings.length_mm(length_mm),
        None => settings,
    })
}

/// The settings that the live page does not let anybody turn: palette and gauge.
pub(crate) fn fixed(subject: &Subject) -> Result<Settings, Trouble> {
    chosen_once(subject)?;
    let mut settings = Settings::new();
    if let Some(palette) = &subject.palette {
        settings = match palette_file(palette)? {
            Some(own) => {
                let name = own.name.clone();
                settings.own_palette(own).palette(name)
            }
            None => settings.palette(palette),
        };
    }
    Ok(match subject.gauge()? {
        Some((gauge, _)) => settings.gauge(gauge),
        None => settings,
    })
}

/// Refuses a setting that is given two values.
fn chosen_once(subject: &Subject) -> Result<(), Trouble> {
    let mut chosen = BTreeMap::new();
    for (name, value) in &subject.settings {
        let before = chosen.insert(name, value);
        if let Some(before) = before.filter(|before| *before != value) {
            return Err(Trouble::new(
                format!("the setting {name} is chosen twice: {before} and {value}"),
                "leave one of them out",
            ));
        }
    }
    Ok(())
}

/// Refuses a setting that is varied, and has one value as well.
pub(crate) fn varied_alone<'a>(
    subject: &Subject,
    mut varied: impl Iterator<Item = &'a str>,
) -> Result<(), Trouble> {
    let chosen = |name: &&str| subject.settings.iter().any(|(chosen, _)| chosen == name);
    match varied.find(chosen) {
        None => Ok(()),
        Some(name) => Err(Trouble::new(
            format!("the setting {name} is chosen by --set, and varied by --over"),
            "leave one of them out",
        )),
    }
}

/// Refuses a palette that the band would not have, since a setting names another.
pub(crate) fn one_palette(
    subject: &Subject,
    rules: &Rules,
    rule: &Rule,
    settings: &Settings,
) -> Result<(), Trouble> {
    // To know which settings are palettes, the rule has to be run.
    if subject.palette.is_none() || subject.settings.is_empty() {
        return Ok(());
    }
    let parameters = rules.parameters(rule, settings);
    match settings.palette_without_effect(&parameters) {
        None => Ok(()),
        Some((palette, parameter)) => Err(Trouble::new(
            format!(
                "the palette is chosen twice: {palette} by --palette, and {} by --set {}",
                parameter.value, parameter.name
            ),
            "leave one of them out",
        )),
    }
}

/// The palette in a file, if the name is that of one.
pub(crate) fn palette_file(name: &str) -> Result<Option<Palette>, Trouble> {
    let path = Path::new(name);
    let extension = path.extension().and_then(|extension| extension.to_str());
    let Some(format) = extension.and_then(PaletteFormat::of_extension) else {
        return Ok(None);
    };
    let stem = path.file_stem().and_then(|stem| stem.to_str());
    let bytes = load::bytes(path, name, FileKind::Palette)?;
    let palette = Palette::read(stem.unwrap_or(name), &bytes, format);
    palette
        .map(Some)
        .map_err(|error| Trouble::of_file(name, &error))
}

/// The threads in a file; says which of its columns mean nothing.
pub(crate) fn stash(name: &str) -> Result<Stash, Trouble> {
    let stash = stash_quietly(name)?;
    let ignored = stash.ignored_columns();
    if !ignored.is_empty() {
        let ignored = ignored.join(", ");
        say::aside(format!("  {name}: not used: {}\n", on_one_line(&ignored)))?;
    }
    Ok(stash)
}

/// The threads in a file.
pub(crate) fn stash_quietly(name: &str) -> Result<Stash, Trouble> {
    let bytes = load::bytes(Path::new(name), name, FileKind::Stash)?;
    Stash::read(&bytes).map_err(|error| Trouble::of_file(name, &error))
}

fn from_file(subject: &Subject, path: &str) -> Result<Band, Trouble> {
    if !subject.settings.is_empty() || subject.seed.is_some() || subject.palette.is_some() {
        return Err(Trouble::new(
            format!(
                "{path} is a band file: its settings, seed and palette can no longer be chosen"
            ),
            "give them to the rule that made it; its name and settings stand under \"origin\" in the file",
        ));
    }
    let bytes = load::bytes(Path::new(path), path, FileKind::BandFile)?;
    let mut band = file::read(&bytes).map_err(|error| Trouble::of_file(path, &error))?;
    if let Some((gauge, _)) = subject.gauge()? {
        let mut parts = band.into_parts();
        parts.gauge = gauge;
        band = Band::new(parts)?;
    }
    Ok(match subject.length_mm() {
        Some(length_mm) => band.at_least_mm(length_mm)?,
        None => band,
    })
}

/// A file that people write, as text.
pub(crate) fn text(name: &str, kind: FileKind) -> Result<String, Trouble> {
    Ok(load::text(Path::new(name), name, kind)?)
}

/// `out/gulls.band.json` is called gulls, and so is `gulls.rhai`. Files and folders are called
/// by this name, so it is one that every system can write.
pub(crate) fn short_name(path: &str) -> String {
    let name = Path::new(path)
        .file_name()
        .and_then(|name| name.to_str())
        .unwrap_or("band");
    let name = name
        .strip_suffix(".band.json")
        .or(name.strip_suffix(".json"))
        .or(name.strip_suffix(".rhai"))
        .unwrap_or(name);
    let name = hitchwork_collection::names::safe(name);
    match name.is_empty() {
        true => "band".to_owned(),
        false => name,
    }
}
