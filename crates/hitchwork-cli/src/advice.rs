//! What this command can do about what the libraries found: they know of no command and no
//! option, and the core of no rule.

use std::borrow::Cow;

use hitchwork_collection::folder::FolderErrorKind;
use hitchwork_core::proof::{Code, Finding};

/// What helps with the errors of a code.
pub(crate) fn on_code(code: &str) -> Option<&'static str> {
    Some(match code {
        "limit-work" => "--operations allows a rule more steps, and --seconds more time",
        "not-a-condition" => "`hitchwork explore --measures` lists what can be asked about",
        "not-a-plan" => {
            "`hitchwork collect PLAN --dry-run` reads a plan and lists its members without making anything; `hitchwork colours palettes` lists all palettes"
        }
        "not-tests" => "`hitchwork explain not-tests` shows how tests are written",
        _ => return None,
    })
}

/// What helps beside an error of a code; what the command has just done is not advised again.
pub(crate) fn beside_error(code: &str) -> Option<&'static str> {
    match code {
        "not-a-plan" => Some("`hitchwork explain not-a-plan` shows what a plan looks like"),
        code => on_code(code),
    }
}

/// The help of a finding, with how a rule says what it offers: the core knows no rules.
pub(crate) fn beside_finding(finding: &Finding) -> Cow<'_, str> {
    match finding.code {
        Code::EndDoesNotSuit => Cow::Owned(format!(
            "{} (in a rule the ends are flat(), folded(), half_triangle(LEFT), half_triangle(RIGHT) and triangle())",
            finding.help
        )),
        _ => Cow::Borrowed(&finding.help),
    }
}

/// What helps with a folder.
pub(crate) fn on_folder(kind: FolderErrorKind) -> Option<&'static str> {
    Some(match kind {
        FolderErrorKind::Taken => "--out names another folder",
        FolderErrorKind::NotMovedOut => "--move-out names another folder",
        FolderErrorKind::Share => "--part makes a share",
        FolderErrorKind::NotWhole => "`hitchwork collect PLAN` does so",
        _ => return None,
    })
}
