//! `watch`: a rule's band on a page beside the editor.
//!
//! `session` holds what is wanted (`settings`) and the newest of what came of it (`good`, `update`);
//! `runs` runs the rule whenever something has changed, and goes on whatever becomes of a run, and
//! `work` is what each run does; `command_words` are the words of a command that makes the same;
//! `files` notices changes of the rule; `server` hands the page and the updates to the browser;
//! `guard` lets nobody else in. `painting` keeps what is painted over the rule's pictures, and
//! `canvas` is the session for whoever paints.

mod canvas;
mod command_words;
mod files;
mod good;
mod guard;
mod lock;
mod page;
mod painting;
mod runs;
mod server;
mod session;
mod settings;
mod update;
mod work;

use std::sync::Arc;

use hitchwork_collection::digest::sha256;

use crate::arguments::WatchArguments;
use crate::trouble::Trouble;
use crate::{Verdict, input, say};

pub(crate) fn run(watch: &WatchArguments) -> Result<Verdict, Trouble> {
    let source = input::rule_place(&watch.subject.rule)?;
    if let Some((_, Some(fitted))) = watch.subject.gauge()? {
        say::aside(format!("swatch: {fitted}\n"))?;
    }
    let rules = input::rules(&watch.subject);
    // A rule that cannot be read is shown on the page.
    if let Ok(rule) = input::rule(&rules, &watch.subject.rule) {
        let settings = input::settings(&watch.subject)?;
        input::one_palette(&watch.subject, &rules, &rule, &settings)?;
    }
    let (session, runs) = session::Session::new(watch, rules)?;
    if let Some(path) = &source {
        session.notice(path)?;
    }
    runs.begin(Arc::clone(&session));
    let painted = Arc::clone(&session);
    server::serve(session, &ports(watch), &|address| {
        say::aside(format!("{address}\nPress Ctrl-C to end.\n"))?;
        if watch.open {
            open(address);
        }
        Ok(())
    })?;
    for name in painted.unsaved_pictures() {
        say::aside(format!(
            "what was painted on {name} was not saved; a page that is still open paints it again when this command is started again\n"
        ))?;
    }
    Ok(Verdict::Sound)
}

/// The ports that the page may have, the preferred one first.
fn ports(watch: &WatchArguments) -> Vec<u16> {
    match watch.port {
        Some(port) => vec![port],
        None => vec![usual_port(&watch.subject.rule), 0],
    }
}

/// A port that is the same whenever this rule is watched, so that a page which is still open
/// finds its way back to the command when that is started again. It lies below those that
/// systems give away by themselves (from 32768 on Linux, from 49152 by RFC 6335).
fn usual_port(rule: &str) -> u16 {
    const FIRST: u16 = 20_000;
    const COUNT: u32 = 12_000;
    let place = std::path::absolute(rule).unwrap_or_else(|_| rule.into());
    let digest = sha256(place.to_string_lossy().as_bytes());
    let number = u32::from_str_radix(&digest[..8], 16).expect("hexadecimal digits");
    FIRST + u16::try_from(number % COUNT).expect("below the count")
}

/// Opens the page in the browser that this computer prefers; if that fails, the address
/// stands on the terminal all the same.
fn open(address: &str) {
    let program = if cfg!(target_os = "macos") {
        "open"
    } else if cfg!(windows) {
        "explorer"
    } else {
        "xdg-open"
    };
    let quiet = std::process::Stdio::null;
    let _ = std::process::Command::new(program)
        .arg(address)
        .stdin(quiet())
        .stdout(quiet())
        .stderr(quiet())
        .spawn();
}
