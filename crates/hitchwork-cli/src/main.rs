//! The `hitchwork` command: makes, proves, draws and writes out knotted bands.
//!
//! Raw arguments are turned into checked ones in `arguments`; `input` finds the rule or
//! band file that is meant; each command has a room of its own; `folder` is the only one
//! that writes files, and `say` the only one that speaks, through the gate in `terminal`.

mod advice;
mod arguments;
mod commands;
mod folder;
mod input;
mod memory;
mod pictures;
mod progress;
mod say;
mod slips;
mod stopping;
mod terminal;
mod trouble;
mod verdict;

use std::process::ExitCode;

use clap::Parser;

use arguments::{Arguments, Command};
use trouble::Trouble;
use verdict::Verdict;

fn main() -> ExitCode {
    if let Err(trouble) = arguments::typed(std::env::args_os()) {
        say::trouble(&trouble, false);
        return ExitCode::from(2);
    }
    let arguments = match Arguments::try_parse() {
        Ok(arguments) => arguments,
        Err(error) => {
            let typed: Vec<String> = std::env::args_os()
                .map(|word| word.to_string_lossy().into_owned())
                .collect();
            slips::explained(error, &typed).exit()
        }
    };
    let outcome = match &arguments.command {
        Command::Make(make) => commands::make::run(make),
        Command::Paint(paint) => commands::paint::run(paint),
        Command::Check(check) => commands::check::run(check),
        Command::Draw(draw) => commands::draw::run(draw),
        Command::Sheet(sheet) => commands::sheet::run(sheet),
        Command::Mend(mend) => commands::mend::run(mend),
        Command::Compare(compare) => commands::compare::run(compare),
        Command::Explore(explore) => commands::explore::run(explore),
        Command::Collect(collect) => commands::collect::run(collect),
        Command::Colours(colours) => commands::colours::run(colours),
        Command::Watch(watch) => commands::watch::run(watch),
        Command::Rules(rules) => commands::rules::run(rules),
        Command::Explain(explain) => commands::explain::run(explain),
        Command::Completions(completions) => commands::generate::completions(completions),
        Command::Manual => commands::generate::manual(),
    };
    match outcome {
        Ok(Verdict::Sound) => ExitCode::SUCCESS,
        Ok(Verdict::Unsound) => ExitCode::from(1),
        Err(Trouble::OutputClosed) => ExitCode::SUCCESS,
        Err(trouble) => {
            say::trouble(&trouble, arguments.command.wants_json());
            ExitCode::from(2)
        }
    }
}
