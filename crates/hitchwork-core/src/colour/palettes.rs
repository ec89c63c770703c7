//! The palettes that come with the library, named after the evening class's harbour.

use super::{Colour, Srgb};

/// Named colours in an order, meant to be gone round: the last leads back to the first.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Palette {
    /// The name by which rules and commands ask for it.
    pub name: String,
    /// One sentence that says what it looks like.
    pub sentence: String,
    /// The colours in order.
    pub colours: Vec<Colour>,
}

type Stops = &'static [(&'static str, u32)];

const BUILT_IN: [(&str, &str, Stops); 13] = [
    (
        "spring tide",
        "coral through sand and sea green into deep water, and back by way of plum",
        &[
            ("coral", 0x00ef_6b5c),
            ("apricot", 0x00fb_a755),
            ("sand", 0x00f2_cf6c),
            ("sea green", 0x006f_bf90),
            ("lagoon", 0x001f_9aa7),
            ("deep water", 0x0011_5cb5),
            ("dusk", 0x0053_468d),
            ("plum", 0x0098_4b8a),
        ],
    ),
    (
        "neap tide",
        "the same shore in quiet weather: shell, reed, moss and heather",
        &[
            ("shell", 0x00f2_dcc6),
            ("reed", 0x00cb_c16a),
            ("moss", 0x0069_a484),
            ("channel", 0x002c_7387),
            ("rain", 0x0049_5c90),
            ("heather", 0x00aa_72a0),
        ],
    ),
    (
        "harbour lights",
        "lamps on black water: amber, red, green and night blue",
        &[
            ("lamp", 0x00ff_bb4e),
            ("buoy red", 0x00e2_1a25),
            ("night", 0x0008_052b),
            ("starboard green", 0x0021_9b69),
        ],
    ),
    (
        "regatta",
        "sails and flags: white, red, marine and yellow",
        &[
            ("sail", 0x00e4_f1ed),
            ("flag red", 0x00c5_0529),
            ("marine", 0x0026_4b93),
            ("pennant", 0x00ff_c73d),
        ],
    ),
    (
        "gull",
        "white, two greys and black, with one yellow beak",
        &[
            ("foam", 0x00fd_f4f2),
            ("cloud", 0x00ae_c2bf),
            ("storm", 0x0051_7086),
            ("tar", 0x0024_231e),
            ("beak", 0x00f3_bc25),
        ],
    ),
    (
        "driftwood",
        "bleached wood to wet bark and back",
        &[
            ("bleached", 0x00df_dbc4),
            ("straw", 0x00d6_b882),
            ("rope", 0x00b1_7538),
            ("bark", 0x006f_452b),
            ("wet bark", 0x0032_201e),
            ("clay", 0x00a2_7262),
        ],
    ),
    (
        "morning fog",
        "pale pinks and blues that meet in the middle",
        &[
            ("first light", 0x00ff_d7bf),
            ("peach", 0x00e4_ac8d),
            ("mist", 0x00d4_dae2),
            ("haze", 0x0095_b5cc),
            ("far hills", 0x0068_82af),
            ("lilac", 0x00c7_9cda),
        ],
    ),
    (
        "storm warning",
        "signal orange against blue black",
        &[
            ("signal orange", 0x00f6_7a1c),
            ("squall", 0x0014_497e),
            ("gale", 0x0018_2332),
            ("spray", 0x00d1_dee3),
        ],
    ),
    (
        "red sails",
        "old red sails against a pale evening",
        &[
            ("evening haze", 0x00f6_f2d5),
            ("red sail", 0x00be_233c),
            ("rose", 0x00e8_8d9b),
            ("last light", 0x00f6_c2a2),
        ],
    ),
    (
        "seagrass",
        "greens that sway over pale sand",
        &[
            ("pale sand", 0x00f6_ebd2),
            ("kelp", 0x001c_4e28),
            ("seagrass", 0x0073_a857),
            ("young reed", 0x00ba_c98d),
        ],
    ),
    (
        "night watch",
        "a clear night: midnight blue, stars, moonlight and the last of dusk",
        &[
            ("midnight", 0x0000_0f32),
            ("star", 0x00f4_ef76),
            ("moonlight", 0x00d0_dfdc),
            ("last dusk", 0x004b_5f97),
        ],
    ),
    (
        "open water",
        "foam, shallows and three blues of growing depth",
        &[
            ("white foam", 0x00ef_f9e9),
            ("shallows", 0x0088_bebe),
            ("bright water", 0x0034_8eb5),
            ("blue water", 0x0028_5296),
            ("the deep", 0x000f_3964),
        ],
    ),
    (
        "evening sky",
        "butter yellow through apricot and rose into evening blue",
        &[
            ("butter", 0x00ff_e7ac),
            ("late apricot", 0x00f7_a35e),
            ("sky rose", 0x00de_6e79),
            ("mauve", 0x008e_55ae),
            ("evening blue", 0x003e_497e),
        ],
    ),
];

/// The palettes that come with the library, in the order of the documentation.
///
#[doc = include_str!("palettes.md")]
#[must_use]
pub fn built_in_palettes() -> Vec<Palette> {
    BUILT_IN
        .iter()
        .map(|(name, sentence, stops)| built(name, sentence, stops))
        .collect()
}

/// The built-in palette of that name.
///
/// ```
/// use hitchwork_core::colour::palette;
/// assert_eq!(palette("gull").map(|gull| gull.colours.len()), Some(5));
/// assert!(palette("no such palette").is_none());
/// ```
#[must_use]
pub fn palette(name: &str) -> Option<Palette> {
    let (name, sentence, stops) = BUILT_IN.iter().find(|(built_in, _, _)| *built_in == name)?;
    Some(built(name, sentence, stops))
}

fn built(name: &str, sentence: &str, stops: Stops) -> Palette {
    let colour = |&(name, value): &(&str, u32)| {
        let [_, red, green, blue] = value.to_be_bytes();
        Colour::new(name, Srgb::new(red, green, blue))
    };
    Palette {
        name: name.to_owned(),
        sentence: sentence.to_owned(),
        colours: stops.iter().map(colour).collect(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::colour::{Sight, Vision};
    use crate::craft::Gauge;

    #[test]
    fn every_palette_is_told_apart_as_far_as_its_documentation_says() {
        let knot = Sight::of_knot(&Gauge::default());
        let mut table = include_str!("palettes.md")
            .lines()
            .filter(|line| line.starts_with("| "))
            .skip(1);
        for palette in built_in_palettes() {
            let upto =
                |visions: &[Vision]| palette.told_apart_up_to(knot, visions).unwrap_or_default();
            let (normal, all) = (upto(&[Vision::Normal]), upto(Vision::ALL));
            assert!(
                normal >= 11 && all >= 7,
                "{} reaches too short",
                palette.name
            );
            let row = format!(
                "| {} | {} | {normal} | {all} |",
                palette.name, palette.sentence
            );
            assert_eq!(table.next(), Some(row.as_str()));
            assert!(
                palette.colours.len() <= all,
                "{} fails as it is",
                palette.name
            );
        }
        assert_eq!(table.next(), None);
    }
}
