//! `completions` and `manual`, made from the command line's own description.

use clap::CommandFactory;

use crate::arguments::{Arguments, CompletionsArguments};
use crate::trouble::Trouble;
use crate::{Verdict, say};

pub(crate) fn completions(completions: &CompletionsArguments) -> Result<Verdict, Trouble> {
    let mut bytes = Vec::new();
    clap_complete::generate(
        completions.shell,
        &mut Arguments::command(),
        "hitchwork",
        &mut bytes,
    );
    say::raw(&bytes)?;
    Ok(Verdict::Sound)
}

pub(crate) fn manual() -> Result<Verdict, Trouble> {
    let mut bytes = Vec::new();
    let page = clap_mangen::Man::new(Arguments::command());
    page.render(&mut bytes).expect("writing to memory");
    for command in Arguments::command().get_subcommands() {
        let named = command
            .clone()
            .display_name(format!("hitchwork {}", command.get_name()));
        clap_mangen::Man::new(named)
            .render_description_section(&mut bytes)
            .expect("writing to memory");
        let named = command.clone();
        clap_mangen::Man::new(named)
            .render_options_section(&mut bytes)
            .expect("writing to memory");
    }
    say::raw(&bytes)?;
    Ok(Verdict::Sound)
}
