//! The functions that rules are written in: one room per kind of thing.
//!
//! Every function's doc comment begins with the form in which it is called; error
//! messages and the reference are made from these lines.

#![allow(
    unreachable_pub,
    clippy::needless_pass_by_value,
    clippy::unwrap_used,
    reason = "the engine's macros take public functions, hand arguments over by value, and unwrap those that they have checked"
)]

mod about_rows;
mod bands;
mod chances;
mod colours;
mod given;
mod grids;
mod leaders;
mod letters;
mod lists;
mod numbers;
mod others;
mod parameters;
mod pictures;
mod row_changes;
mod rows;
mod sizes;
mod solved;
mod texts;
mod tied_picture;
mod traces;
mod wishes;

pub(crate) use given::rows_of;
pub(crate) use others::Imports;
use rhai::Module;
pub(crate) use tied_picture::TiedPicture;

/// A room of functions of one kind.
pub(crate) struct FunctionRoom {
    /// What the reference calls it.
    pub(crate) title: &'static str,
    /// What its functions are for.
    pub(crate) sentence: &'static str,
    register: fn(&mut Module),
}

/// The rooms, in the order in which the reference shows them.
pub(crate) const ROOMS: [FunctionRoom; 11] = [
    FunctionRoom {
        title: "settings",
        sentence: "What a maker can choose. Each setting is declared where it is used, with its default, its range and a sentence.",
        register: parameters::register,
    },
    FunctionRoom {
        title: "knots and rows",
        sentence: "Knots in columns, rows of knots, and what can be made of rows. Every function gives a new row and leaves the old one as it was.",
        register: rows::register,
    },
    FunctionRoom {
        title: "rows over a leader",
        sentence: "Rows that lie straight across the band. One thread, the leader, goes from edge to edge, and every knot ties another thread to it: either the others are tied round the leader, show, and hide it, or the leader is tied round them, shows, and hides them.",
        register: leaders::register,
    },
    FunctionRoom {
        title: "pictures",
        sentence: "Small grids of colours: drawn in the rule, read from a file beside it, or set in letters and flags; and the knots that show them. Every function gives a new picture and leaves the old one as it was.",
        register: register_pictures,
    },
    FunctionRoom {
        title: "colours",
        sentence: "Colours, palettes and gradients, and the order in which threads hang.",
        register: colours::register,
    },
    FunctionRoom {
        title: "bands",
        sentence: "The band itself: its rows, its colours and its ends. A rule ends in one.",
        register: bands::register,
    },
    FunctionRoom {
        title: "sizes",
        sentence: "How large a band comes out with its thread, so that a rule can ask before it decides.",
        register: sizes::register,
    },
    FunctionRoom {
        title: "about rows",
        sentence: "What is proved about rows, so that a rule can ask before it decides.",
        register: about_rows::register,
    },
    FunctionRoom {
        title: "chance",
        sentence: "Chance that comes from the seed alone: the same seed always makes the same band, on every machine.",
        register: chances::register,
    },
    FunctionRoom {
        title: "numbers",
        sentence: "Numbers with fractions, for slopes and waves; the same on every machine.",
        register: numbers::register,
    },
    FunctionRoom {
        title: "other rules",
        sentence: "Other rules inside a rule: from its own folder, or from the built-in library.",
        register: others::register,
    },
];

fn register_pictures(module: &mut Module) {
    pictures::register(module);
    letters::register(module);
    solved::register(module);
}

impl FunctionRoom {
    /// The functions of this room alone.
    pub(crate) fn module(&self) -> Module {
        let mut module = Module::new();
        (self.register)(&mut module);
        module
    }
}

/// All functions, as one module.
pub(crate) fn module() -> Module {
    let mut module = Module::new();
    for room in &ROOMS {
        (room.register)(&mut module);
    }
    texts::register(&mut module);
    lists::register(&mut module);
    pictures::register_comparisons(&mut module);
    solved::register_words(&mut module);
    module
}
