//! Members: one band each.

use std::collections::BTreeMap;

use hitchwork_core::band::Setting;
use hitchwork_rules::Settings;
use serde::{Deserialize, Serialize};

use super::Item;

/// For which hand a member is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hand {
    /// As the rule makes it.
    One,
    /// Mirrored.
    Other,
}

impl Hand {
    /// The name by which plans call it.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::One => "one",
            Self::Other => "other",
        }
    }
}

/// One member of a collection.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// Its item, from 0.
    pub(crate) item: usize,
    /// Its number within the item, from 1.
    pub number: u64,
    /// Its name, and that of its folder.
    pub name: String,
    /// Its settings.
    pub settings: BTreeMap<String, Setting>,
    /// Its palette, where the plan says.
    pub palette: Option<String>,
    /// Its seed.
    pub seed: u64,
    /// Its hand.
    pub hand: Hand,
    /// Its length in millimetres, where the plan says.
    pub length_mm: Option<f64>,
}

impl Item {
    /// How many members it describes, before any condition.
    #[must_use]
    pub fn candidates(&self) -> u64 {
        let lengths = |count: usize| (count as u64).max(1);
        let grid = self.grid.values().map(|values| values.len() as u64);
        let all = [
            lengths(self.palettes.len()),
            lengths(self.lengths_mm.len()),
            lengths(self.hands.len()),
            self.seeds.count(),
        ];
        grid.chain(all).fold(1, u64::saturating_mul)
    }

    /// The member of a number, from 0: the seeds change fastest, then hands, lengths,
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
        let hand = self.hands.get(place(digit(self.hands.len() as u64)));
        let length_mm = self
            .lengths_mm
            .get(place(digit(self.lengths_mm.len() as u64)));
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
            hand: hand.copied().unwrap_or(Hand::One),
            length_mm: length_mm.copied(),
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
