//! `watch`: a rule's band on a page beside the editor.
//!
//! `desk` runs the rule whenever something has changed, on a thread of its own, and keeps
//! the newest of what came out; `files` notices changes of the rule; `server` hands the
//! page and the news to the browser; `guard` lets nobody else in.

mod desk;
mod files;
mod guard;
mod page;
mod server;
mod view;

use std::path::Path;
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use crate::arguments::Watch;
use crate::trouble::Trouble;
use crate::{Verdict, input, say};

pub(crate) fn run(watch: &Watch) -> Result<Verdict, Trouble> {
    let name = input::short_name(&watch.subject.rule);
    let out = watch
        .out
        .clone()
        .unwrap_or_else(|| Path::new("out").join(&name));
    let source = input::rule_place(&watch.subject.rule)?;
    let desk = Arc::new(desk::Desk::new(&watch.subject, name, out)?);
    if let Some(path) = source {
        desk.notice(&path)?;
    }
    desk.begin();
    server::serve(desk, watch.port, &|address| {
        say::aside(format!("{address}\nPress Ctrl-C to end.\n"))?;
        if watch.open {
            open(address);
        }
        Ok(())
    })?;
    Ok(Verdict::Sound)
}

/// Takes a lock, also where somebody panicked who held it: nothing here is ever half changed.
fn locked<T>(of: &Mutex<T>) -> MutexGuard<'_, T> {
    of.lock().unwrap_or_else(PoisonError::into_inner)
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
