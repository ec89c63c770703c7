//! Why a command could not do what it was asked: exit status 2.

use serde::Serialize;

/// Something that the user can do something about.
#[derive(Debug)]
pub(crate) enum Trouble {
    /// A rule made no band, or a setting was refused.
    Rule(hitchwork_rules::Error),
    /// Anything else, with what to do.
    Plain(Plain),
    /// Nobody reads our output any more; not an error.
    OutputClosed,
}

#[derive(Debug, Serialize)]
pub(crate) struct Plain {
    pub(crate) message: String,
    pub(crate) help: Option<String>,
}

impl Trouble {
    pub(crate) fn new(message: impl Into<String>, help: impl Into<String>) -> Self {
        Self::Plain(Plain {
            message: message.into(),
            help: Some(help.into()),
        })
    }

    /// A file that cannot be what it should be, named.
    pub(crate) fn of_file(path: &str, error: &hitchwork_core::Error) -> Self {
        Self::Plain(Plain {
            message: format!("{path}: {error}"),
            help: error.help(),
        })
    }
}

impl From<hitchwork_rules::Error> for Trouble {
    fn from(error: hitchwork_rules::Error) -> Self {
        Self::Rule(error)
    }
}

impl From<hitchwork_rules::load::Unread> for Trouble {
    fn from(unread: hitchwork_rules::load::Unread) -> Self {
        Self::new(unread.to_string(), unread.help())
    }
}

impl From<hitchwork_core::Error> for Trouble {
    fn from(error: hitchwork_core::Error) -> Self {
        Self::Plain(Plain {
            message: error.to_string(),
            help: error.help(),
        })
    }
}

impl From<hitchwork_draw::Error> for Trouble {
    fn from(error: hitchwork_draw::Error) -> Self {
        Self::Plain(Plain {
            message: error.to_string(),
            help: error.help(),
        })
    }
}
