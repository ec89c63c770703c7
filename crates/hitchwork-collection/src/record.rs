//! What is remembered of a member: one line of the journal and of the manifest.

use std::collections::BTreeMap;

use hitchwork_core::band::Setting;
use hitchwork_core::proof::Report;
use hitchwork_core::tied::Tied;
use serde::{Deserialize, Serialize};
use serde_json::{Value, json};

use crate::digest::sha256;
use crate::plan::Asked;

/// As many failures, disguises and files are told as are worth reading.
pub(crate) const MOST_TOLD: usize = 20;

/// Where the record of a member stands: in which file, and where it begins.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct RecordPlace {
    pub(crate) source: u8,
    pub(crate) begins: u64,
}

/// One member and what became of it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Record {
    /// Its name, and that of its folder.
    pub name: String,
    /// A digest of all that it is made from, but for other rules: where neither has changed,
    /// the member has not.
    pub key: String,
    /// The other rules that its rule asked for: where they have changed, it is made again.
    #[serde(default, skip_serializing_if = "Asked::is_empty")]
    pub asked: Asked,
    /// What became of it.
    #[serde(flatten)]
    pub outcome: MemberOutcome,
}

/// What became of a member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "outcome", rename_all = "kebab-case")]
#[non_exhaustive]
pub enum MemberOutcome {
    /// It is there.
    Made(Box<MadeMember>),
    /// The plan's conditions left it out.
    LeftOut {
        /// The condition.
        why: String,
    },
    /// There is no such band, or it is not sound.
    Failed(Failed),
}

/// A member that is there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct MadeMember {
    /// What the band is called.
    pub title: String,
    /// Its rule.
    pub rule: String,
    /// Every parameter of the rule with its value.
    pub settings: BTreeMap<String, Setting>,
    /// Its palette, where the plan says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub palette: Option<String>,
    /// Its seed.
    pub seed: u64,
    /// Whether it is the mirror image of what the rule makes.
    pub mirrored: bool,
    /// The SHA-256 of its band file.
    pub digest: String,
    /// The SHA-256 of its canonical form, colours counted: the same for the same design
    /// mirrored, turned, or begun at another row. Nothing where its colours come round too late to compare.
    pub design: Option<String>,
    /// The first member of the collection that is the same design, and what this one is of
    /// it in disguise.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub same_as: Option<String>,
    /// The colours that hang, with their names.
    pub colours: Vec<(String, String)>,
    /// All measures by their names.
    pub measures: BTreeMap<String, Value>,
    /// What was found.
    pub findings: Vec<RecordedFinding>,
    /// Its files, from the folder of the collection.
    pub files: Vec<RecordedFile>,
}

/// A finding, as it is remembered.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct RecordedFinding {
    /// Its code.
    pub code: String,
    /// "error", "warning" or "note".
    pub severity: String,
    /// What was found.
    pub message: String,
}

/// A file of a member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct RecordedFile {
    /// Its path from the folder of the collection, with slashes.
    pub path: String,
    /// Its length.
    pub bytes: u64,
    /// The SHA-256 of what is in it.
    pub sha256: String,
}

impl RecordedFile {
    /// A file with these bytes.
    pub(crate) fn of(path: &str, bytes: &[u8]) -> Self {
        Self {
            path: path.to_owned(),
            bytes: bytes.len() as u64,
            sha256: sha256(bytes),
        }
    }
}

/// Why a member is not there.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[non_exhaustive]
pub struct Failed {
    /// What is wrong, in one line.
    pub message: String,
    /// What to do about it.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub help: Option<String>,
    /// The file, the line and the character of the rule.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
    /// The settings, as they would be given to `make`.
    pub settings: String,
}

/// All measures of a band by their names, as data.
pub(crate) fn measures(tied: &Tied) -> BTreeMap<String, Value> {
    let named = tied
        .measures()
        .map(|(known, value)| (known.name.to_owned(), json!(value)));
    named.collect()
}

/// What was found of a band, as it is remembered.
pub(crate) fn findings(report: &Report) -> Vec<RecordedFinding> {
    let said = |finding: &hitchwork_core::proof::Finding| RecordedFinding {
        code: finding.code.name().to_owned(),
        severity: finding.severity.to_string(),
        message: finding.message.clone(),
    };
    report.findings.iter().map(said).collect()
}
