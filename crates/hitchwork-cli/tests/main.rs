//! One program for all tests of the command: each file here is a room of it. Linking one program
//! takes a moment, linking twenty takes a minute.

mod common;
mod live;

mod collect;
mod collect_faults;
mod collect_rules_of_ones_own;
mod colours;
mod commands;
mod conflicts;
mod examples;
mod explore;
mod kept_files;
mod limits;
mod mend;
mod paint;
#[cfg(unix)]
mod paths;
mod pictures;
mod rules;
#[cfg(unix)]
mod stopping;
mod strangers;
mod terminal;
mod watch;
mod watch_painting;
