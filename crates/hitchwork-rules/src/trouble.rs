//! What went wrong in a function of the language, on its way through the engine.

use rhai::{Dynamic, EvalAltResult, Position};

use crate::error::Diagnostic;
use crate::limits::Stopped;

pub(crate) type ScriptResult<T> = Result<T, Box<EvalAltResult>>;

pub(crate) fn declared_wrongly(message: String, help: &str) -> Box<EvalAltResult> {
    stop(Diagnostic::new("setting-declared-wrongly", message, help))
}

/// Ends the run with this diagnostic; the engine adds the place of the call.
pub(crate) fn stop(diagnostic: Diagnostic) -> Box<EvalAltResult> {
    Box::new(EvalAltResult::ErrorRuntime(
        Dynamic::from(RaisedDiagnostic(diagnostic)),
        Position::NONE,
    ))
}

/// A diagnostic on its way through the engine.
#[derive(Clone, Debug)]
pub(crate) struct RaisedDiagnostic(pub(crate) Diagnostic);

impl std::fmt::Display for RaisedDiagnostic {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(&self.0.message)
    }
}

/// What the core refused, as a diagnostic of the rule.
pub(crate) fn refused(error: &hitchwork_core::Error) -> Box<EvalAltResult> {
    let code = if error.is_drift() {
        "no-drift"
    } else {
        "wrong-value"
    };
    stop(Diagnostic {
        help: error.help(),
        ..Diagnostic::new(code, error.to_string(), "")
    })
}

/// A value that a function does not take.
pub(crate) fn wrong_value(
    message: impl Into<String>,
    help: impl Into<String>,
) -> Box<EvalAltResult> {
    stop(Diagnostic::new("wrong-value", message, help))
}

/// What ends a run from within a native function; no rule can catch it.
pub(crate) fn ended<T>(outcome: Result<T, Stopped>) -> ScriptResult<T> {
    outcome.map_err(|stopped| {
        Box::new(EvalAltResult::ErrorTerminated(
            Dynamic::from(stopped),
            Position::NONE,
        ))
    })
}
