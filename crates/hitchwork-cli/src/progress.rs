//! How far long work has come: a bar on a terminal, plain lines where errors are piped.

use std::io::{self, IsTerminal};
use std::time::{Duration, Instant};

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

use crate::say;
use crate::terminal::let_through;

/// How often a plain line is written.
const BETWEEN_LINES: Duration = Duration::from_secs(5);

/// The progress of long work.
pub(crate) struct ProgressReport {
    form: ProgressForm,
}

enum ProgressForm {
    Bar(ProgressBar),
    Lines {
        thing: &'static str,
        total: u64,
        began: Instant,
        next: Duration,
    },
    Nothing,
}

impl ProgressReport {
    /// Over this many things; says nothing at all where that is asked for.
    pub(crate) fn new(total: u64, thing: &'static str, quiet: bool) -> Self {
        let form = match (quiet, io::stderr().is_terminal()) {
            (true, _) => ProgressForm::Nothing,
            (false, true) => {
                let target = ProgressDrawTarget::stderr_with_hz(10);
                let bar = ProgressBar::with_draw_target(Some(total), target);
                let style = ProgressStyle::with_template(
                    "{bar:30} {human_pos} of {human_len} {prefix}, {per_sec}, {eta} left{msg}",
                );
                bar.set_style(style.expect("the template is tested"));
                bar.set_prefix(thing);
                ProgressForm::Bar(bar)
            }
            (false, false) => ProgressForm::Lines {
                thing,
                total,
                began: Instant::now(),
                next: BETWEEN_LINES,
            },
        };
        Self { form }
    }

    /// This many are done; `more` is said behind, such as ", 3 kept".
    pub(crate) fn done(&mut self, done: u64, more: &str) {
        match &mut self.form {
            ProgressForm::Bar(bar) => {
                bar.set_message(let_through(more).into_owned());
                bar.set_position(done);
            }
            ProgressForm::Lines {
                thing,
                total,
                began,
                next,
            } => {
                let passed = began.elapsed();
                if passed < *next || done == 0 {
                    return;
                }
                *next = passed + BETWEEN_LINES;
                #[allow(clippy::cast_precision_loss, reason = "a rate for people")]
                let (done_f, total_f) = (done as f64, *total as f64);
                let rate = done_f / passed.as_secs_f64();
                let left = (total_f - done_f).max(0.0) / rate;
                say::on_standard_error(&format!(
                    "{done} of {total} {thing}, {rate:.0} a second, about {left:.0} s left{more}\n"
                ));
            }
            ProgressForm::Nothing => {}
        }
    }

    /// The work has ended.
    pub(crate) fn end(self) {
        if let ProgressForm::Bar(bar) = self.form {
            bar.finish_and_clear();
        }
    }
}
