//! Plans: a collection written down as rules, what is combined, and what is asked for.

mod beside;
mod member;
mod name;
mod read;
mod values;

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use hitchwork_core::band::Setting;
use hitchwork_core::colour::Palette;
use hitchwork_core::craft::{Gauge, Habits};
use hitchwork_draw::output::Output;
use hitchwork_rules::{Expression, Rule, Settings};

pub use beside::Asked;
pub(crate) use beside::RulesBeside;
pub(crate) use beside::is_file;
pub use member::Member;
pub use name::Template;
pub(crate) use name::refused as refused_name;
pub use read::read;
pub(crate) use values::Seeds;

/// The most members of one plan.
pub const MOST_MEMBERS: u64 = 1_000_000;

/// The JSON Schema of plans (TOML files are checked as the data that they hold).
pub const SCHEMA: &str = include_str!("../plan.schema.json");

/// A plan that has been read and checked: every rule can be read, every condition is over
/// measures that exist, and no two members have one name.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Plan {
    /// What the collection is called.
    pub title: String,
    /// What its designer wants to say about it.
    pub notes: String,
    /// Its items, in the order in which they stand.
    pub items: Vec<Item>,
}

/// How long a band is to be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MemberLength {
    /// In millimetres of knotting.
    pub mm: f64,
    /// For which wrist that is, in millimetres round, where it was asked for by the wrist.
    pub wrist_mm: Option<f64>,
}

/// Bands of one rule.
#[derive(Clone, Debug)]
pub struct Item {
    /// The rule, read.
    pub rule: Rule,
    /// What it is called in names: its file's name without the ending.
    pub rule_name: String,
    /// Settings that all its members have.
    pub settings: BTreeMap<String, Setting>,
    /// Settings that are combined, each with each.
    pub grid: BTreeMap<String, Vec<Setting>>,
    /// Palettes to make it in; its own if there are none.
    pub palettes: Vec<String>,
    /// Those of them that come from files.
    pub own_palettes: Vec<Palette>,
    pub(crate) seeds: Seeds,
    /// As the rule makes it, mirrored, or both.
    pub mirrored: Vec<bool>,
    /// How long; as the rule says if there are none.
    pub lengths: Vec<MemberLength>,
    /// The thread that it is tied with, if it is another than the rule's.
    pub gauge: Option<Gauge>,
    /// Who ties it.
    pub habits: Habits,
    /// What a member must fulfil.
    pub keep: Vec<Expression>,
    /// What no member may fulfil.
    pub reject: Vec<Expression>,
    /// What puts members before others where only the best are kept.
    pub prefer: Vec<Expression>,
    /// How many are kept, and by what.
    pub best: Option<Best>,
    /// How its members are called.
    pub name: Template,
    /// What is written of each besides the band file.
    pub write: BTreeSet<Output>,
    /// The rules that its rule can use.
    pub(crate) beside: Arc<RulesBeside>,
}

impl Item {
    /// How many members it describes, before any condition.
    #[must_use]
    pub fn candidates(&self) -> u64 {
        let lengths = |count: usize| (count as u64).max(1);
        let grid = self.grid.values().map(|values| values.len() as u64);
        let all = [
            lengths(self.palettes.len()),
            lengths(self.lengths.len()),
            lengths(self.mirrored.len()),
            self.seeds.count(),
        ];
        grid.chain(all).fold(1, u64::saturating_mul)
    }

    /// The member of a number, from 0: the seeds change fastest, then mirror images, lengths,
    /// palettes, and the settings of the grid from the last name to the first.
    pub(crate) fn member(&self, item: usize, nth: u64) -> Member {
        let mut rest = nth;
        let mut digit = |count: u64| {
            let digit = rest % count.max(1);
            rest /= count.max(1);
            digit
        };
        let place = |digit: u64| usize::try_from(digit).expect("below a length");
        let seed = self.seeds.nth(digit(self.seeds.count()));
        let mirrored = self.mirrored.get(place(digit(self.mirrored.len() as u64)));
        let length = self.lengths.get(place(digit(self.lengths.len() as u64)));
        let palette = self.palettes.get(place(digit(self.palettes.len() as u64)));
        let mut settings = self.settings.clone();
        for (name, values) in self.grid.iter().rev() {
            let value = &values[place(digit(values.len() as u64))];
            settings.insert(name.clone(), value.clone());
        }
        let mut member = Member {
            item,
            number: nth + 1,
            name: String::new(),
            settings,
            palette: palette.cloned(),
            seed,
            mirrored: mirrored.copied().unwrap_or(false),
            length_mm: length.map(|length| length.mm),
            wrist_mm: length.and_then(|length| length.wrist_mm),
        };
        member.name = self.name.of(&self.rule_name, &member);
        member
    }

    /// What the rule is run with for a member.
    #[must_use]
    pub fn settings_of(&self, member: &Member) -> Settings {
        let mut settings = Settings::new().seed(member.seed);
        for (name, value) in &member.settings {
            settings = settings.set(name, value.clone());
        }
        for palette in &self.own_palettes {
            settings = settings.own_palette(palette.clone());
        }
        if let Some(palette) = &member.palette {
            settings = settings.palette(palette);
        }
        if let Some(length_mm) = member.length_mm {
            settings = settings.length_mm(length_mm);
        }
        match self.gauge {
            Some(gauge) => settings.gauge(gauge),
            None => settings,
        }
    }
}

/// A limit on how many members an item keeps.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Best {
    /// How many.
    pub count: usize,
    /// Those with the most of this; the first of them without it.
    pub by: Option<Expression>,
}

impl Plan {
    /// How many members it describes, before any condition.
    #[must_use]
    pub fn candidates(&self) -> u64 {
        self.items.iter().map(Item::candidates).sum()
    }

    /// The most members that can be made of these: of a choice of the best, as many as it
    /// keeps.
    #[must_use]
    pub fn most_made(&self) -> u64 {
        let of = |item: &Item| match &item.best {
            Some(best) => item.candidates().min(best.count as u64),
            None => item.candidates(),
        };
        self.items.iter().map(of).sum()
    }

    /// The members that it describes, before any condition, in order.
    pub fn members(&self) -> impl Iterator<Item = Member> + '_ {
        let items = self.items.iter().enumerate();
        items.flat_map(|(at, item)| (0..item.candidates()).map(move |nth| item.member(at, nth)))
    }
}
