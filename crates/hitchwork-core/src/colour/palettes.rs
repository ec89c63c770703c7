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
            ("coral", 0x00f2_6b5e),
            ("apricot", 0x00f7_a15a),
            ("sand", 0x00f3_d37c),
            ("sea green", 0x006f_bf8e),
            ("lagoon", 0x0023_97a3),
            ("deep water", 0x0023_5f95),
            ("dusk", 0x0055_4a8f),
            ("plum", 0x0098_4a8a),
        ],
    ),
    (
        "neap tide",
        "the same shore in quiet weather: shell, reed, slate and heather",
        &[
            ("shell", 0x00ef_d9c3),
            ("reed", 0x00bd_b887),
            ("moss", 0x007c_9a78),
            ("slate", 0x0054_7480),
            ("rain", 0x0062_6a8e),
            ("heather", 0x00a3_7f9f),
        ],
    ),
    (
        "harbour lights",
        "lamps on black water: amber, red, green and night blue",
        &[
            ("lamp", 0x00ff_c145),
            ("buoy red", 0x00d9_3a35),
            ("night", 0x001c_2541),
            ("starboard green", 0x0018_9a62),
        ],
    ),
    (
        "regatta",
        "sails and flags: white, red, marine and yellow",
        &[
            ("sail", 0x00f4_f1e8),
            ("flag red", 0x00cc_2f3c),
            ("marine", 0x001f_4b87),
            ("pennant", 0x00f2_b91d),
        ],
    ),
    (
        "gull",
        "white, two greys and black, with one yellow beak",
        &[
            ("foam", 0x00f5_f4ef),
            ("cloud", 0x00b4_bcc2),
            ("storm", 0x0061_6d78),
            ("tar", 0x0022_2529),
            ("beak", 0x00ee_b422),
        ],
    ),
    (
        "driftwood",
        "bleached wood to wet bark and back",
        &[
            ("bleached", 0x00e6_d8c3),
            ("straw", 0x00cf_ac77),
            ("rope", 0x00a6_7c4c),
            ("bark", 0x0066_4530),
            ("wet bark", 0x003b_2a25),
            ("clay", 0x00a9_5f45),
        ],
    ),
    (
        "morning fog",
        "pale pinks and blues that meet in the middle",
        &[
            ("first light", 0x00f6_c9c0),
            ("peach", 0x00f2_b08f),
            ("mist", 0x00d7_d9dc),
            ("haze", 0x0099_b7cf),
            ("far hills", 0x0070_86b5),
            ("lilac", 0x00b9_9fc9),
        ],
    ),
    (
        "storm warning",
        "signal orange against blue black",
        &[
            ("signal orange", 0x00f4_7a1f),
            ("squall", 0x0038_4f66),
            ("gale", 0x0019_2433),
            ("spray", 0x00cf_dde2),
        ],
    ),
    (
        "red sails",
        "old red sails against a pale evening",
        &[
            ("evening haze", 0x00f5_e9d8),
            ("red sail", 0x00c2_2f45),
            ("rose", 0x00e2_8c95),
            ("last light", 0x00f4_bf9f),
        ],
    ),
    (
        "seagrass",
        "greens that sway over pale sand",
        &[
            ("pale sand", 0x00f3_ead0),
            ("kelp", 0x0023_5c44),
            ("seagrass", 0x0077_a957),
            ("young reed", 0x00b7_cf83),
        ],
    ),
    (
        "night watch",
        "a clear night: midnight blue, stars, moonlight and the last of dusk",
        &[
            ("midnight", 0x0015_1e3c),
            ("star", 0x00f8_e3a0),
            ("moonlight", 0x00c9_d6e6),
            ("last dusk", 0x0048_5c95),
        ],
    ),
    (
        "open water",
        "foam, shallows and three blues of growing depth",
        &[
            ("white foam", 0x00f3_f6f0),
            ("shallows", 0x008f_ccc8),
            ("bright water", 0x0037_8fb8),
            ("blue water", 0x0020_5f92),
            ("the deep", 0x0014_3a63),
        ],
    ),
    (
        "evening sky",
        "butter yellow through apricot and rose into evening blue",
        &[
            ("butter", 0x00fb_dd92),
            ("late apricot", 0x00f5_a463),
            ("sky rose", 0x00df_6f78),
            ("mauve", 0x008f_5d97),
            ("evening blue", 0x003a_4b86),
        ],
    ),
];

/// The palettes that come with the library, in the order of the documentation.
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
