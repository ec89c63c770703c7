//! What a person would call a colour.
//!
//! The words are a choice from an open list, the named colours of the W3C's *CSS Color
//! Module Level 4*: those that an English speaker says and pictures, spelt as words ("sky
//! blue"); and some that makers say of thread, with values of our own. Each is tried as it
//! is and under the modifiers of everyday speech, after the model of the ISCC-NBS method of
//! designating colours (Kelly and Judd, NBS Circular 553, 1955; public domain; from
//! memory), which also gives a hue name a lightness and a vividness: "pale teal", "deep
//! rose", "dusty plum".
//!
//! Makers pick thread by these words, so a modifier is said only of a colour that bears it
//! out, and no name is built that the standard gives to another colour.

use std::collections::BTreeSet;

use std::sync::LazyLock;

use palette::Oklab;

use super::assign::assignment;
use super::space::{distance, oklab, within_gamut};
use super::{Colour, Srgb};

/// Words for colours with a hue, and whether one says them with a modifier too.
const WORDS: [(&str, u32, bool); 80] = [
    ("red", 0x00ff_0000, true),
    ("crimson", 0x00dc_143c, false),
    ("brick red", 0x00b2_2222, false),
    ("maroon", 0x0080_0000, false),
    ("tomato red", 0x00ff_6347, false),
    ("coral", 0x00ff_7f50, true),
    ("salmon", 0x00fa_8072, true),
    ("orange", 0x00ff_a500, true),
    ("peach", 0x00ff_dab9, false),
    ("gold", 0x00ff_d700, false),
    ("goldenrod", 0x00da_a520, true),
    ("yellow", 0x00ff_ff00, true),
    ("wheat", 0x00f5_deb3, false),
    ("khaki", 0x00f0_e68c, false),
    ("olive", 0x0080_8000, true),
    ("olive green", 0x006b_8e23, true),
    ("yellow green", 0x009a_cd32, true),
    ("lime", 0x0000_ff00, false),
    ("lawn green", 0x007c_fc00, false),
    ("green", 0x0000_8000, true),
    ("forest green", 0x0022_8b22, false),
    ("spring green", 0x0000_ff7f, false),
    ("sea green", 0x002e_8b57, true),
    ("aquamarine", 0x007f_ffd4, false),
    ("turquoise", 0x0040_e0d0, true),
    ("teal", 0x0000_8080, true),
    ("powder blue", 0x00b0_e0e6, false),
    ("cyan", 0x0000_ffff, false),
    ("sky blue", 0x0087_ceeb, true),
    ("steel blue", 0x0046_82b4, true),
    ("cornflower blue", 0x0064_95ed, true),
    ("royal blue", 0x0041_69e1, true),
    ("blue", 0x0000_00ff, true),
    ("navy", 0x0000_0080, false),
    ("midnight blue", 0x0019_1970, false),
    ("slate blue", 0x006a_5acd, true),
    ("slate grey", 0x0070_8090, false),
    ("indigo", 0x004b_0082, false),
    ("violet", 0x00ee_82ee, true),
    ("lavender", 0x00e6_e6fa, false),
    ("orchid", 0x00da_70d6, true),
    ("thistle", 0x00d8_bfd8, false),
    ("plum", 0x00dd_a0dd, true),
    ("purple", 0x0080_0080, true),
    ("magenta", 0x00ff_00ff, true),
    ("deep pink", 0x00ff_1493, false),
    ("pink", 0x00ff_c0cb, true),
    ("misty rose", 0x00ff_e4e1, false),
    ("rosy brown", 0x00bc_8f8f, false),
    ("brown", 0x00a5_2a2a, false),
    ("saddle brown", 0x008b_4513, false),
    ("chocolate", 0x00d2_691e, false),
    ("sienna", 0x00a0_522d, true),
    ("tan", 0x00d2_b48c, true),
    ("linen", 0x00fa_f0e6, false),
    ("beige", 0x00f5_f5dc, false),
    ("ivory", 0x00ff_fff0, false),
    ("dark red", 0x008b_0000, false),
    ("dark green", 0x0000_6400, false),
    ("dark olive green", 0x0055_6b2f, false),
    ("dark blue", 0x0000_008b, false),
    ("dark slate blue", 0x0048_3d8b, false),
    ("dark slate grey", 0x002f_4f4f, false),
    ("dark violet", 0x0094_00d3, false),
    ("dark orchid", 0x0099_32cc, false),
    ("dark magenta", 0x008b_008b, false),
    ("light green", 0x0090_ee90, false),
    ("light sea green", 0x0020_b2aa, false),
    ("light blue", 0x00ad_d8e6, false),
    ("light sky blue", 0x0087_cefa, false),
    ("light steel blue", 0x00b0_c4de, false),
    ("pale turquoise", 0x00af_eeee, false),
    // Said of thread, and not in the standard.
    ("rose", 0x00cf_6079, true),
    ("raspberry", 0x00b3_2a5b, false),
    ("apricot", 0x00fb_b173, false),
    ("rust", 0x00a8_4a1c, false),
    ("mustard", 0x00cf_a92c, false),
    ("mint", 0x00a6_e3c4, false),
    ("mauve", 0x00a8_7d9e, true),
    ("lilac", 0x00c3_a2d8, false),
];

/// Names of the standard that begin with a modifier and mislead: they are no colour's here,
/// and no modified word is spelt like one.
const NEVER_SAID: [&str; 17] = [
    "dark orange",
    "dark salmon",
    "dark khaki",
    "dark goldenrod",
    "dark cyan",
    "dark turquoise",
    "dark sea green",
    "deep sky blue",
    "light coral",
    "light pink",
    "light yellow",
    "light cyan",
    "light salmon",
    "light slate grey",
    "pale green",
    "pale goldenrod",
    "pale violet red",
];

/// Words for colours without one, and the lightness in OKLab up to which each holds.
const GREYS: [(&str, f64); 8] = [
    ("black", 0.22),
    ("charcoal", 0.36),
    ("dark grey", 0.5),
    ("grey", 0.68),
    ("light grey", 0.82),
    ("pale grey", 0.93),
    ("off-white", 0.98),
    ("white", f64::INFINITY),
];

/// Below this OKLCH chroma a colour has no hue to speak of.
const GREY_CHROMA: f64 = 0.02;

/// A word that says how a colour lies to the plain one.
struct Modifier {
    word: &'static str,
    /// What it adds to the lightness.
    lighter: f64,
    /// By what it multiplies the chroma.
    duller: f64,
    /// The OKLab lightness that a colour must have to be called so.
    lightness: (f64, f64),
    /// The share of the plain colour's chroma that it must have.
    chroma: (f64, f64),
}

/// Up to this OKLab lightness a colour may be called dark or deep.
const DARK_UP_TO: f64 = 0.68;
/// From this OKLab lightness on a colour may be called light or pale.
const LIGHT_FROM: f64 = 0.66;

static MODIFIERS: [Modifier; 5] = [
    Modifier {
        word: "light",
        lighter: 0.07,
        duller: 0.8,
        lightness: (LIGHT_FROM, 1.0),
        chroma: (0.4, 1.2),
    },
    Modifier {
        word: "pale",
        lighter: 0.16,
        duller: 0.45,
        lightness: (LIGHT_FROM, 1.0),
        chroma: (0.0, 0.8),
    },
    Modifier {
        word: "deep",
        lighter: -0.09,
        duller: 0.95,
        lightness: (0.0, DARK_UP_TO),
        chroma: (0.7, f64::INFINITY),
    },
    Modifier {
        word: "dark",
        lighter: -0.18,
        duller: 0.75,
        lightness: (0.0, DARK_UP_TO),
        chroma: (0.0, f64::INFINITY),
    },
    Modifier {
        word: "dusty",
        lighter: 0.0,
        duller: 0.5,
        lightness: (0.3, 0.9),
        chroma: (0.0, 0.75),
    },
];

/// How much nearer a colour must be to a modified word than to a plain one.
const RESERVE: f64 = 0.018;

/// Above this OKLCH chroma nobody calls a colour dusty.
const MOST_DUSTY: f64 = 0.11;

/// A name that misses its colour by this much would mislead.
const FARTHEST: f64 = 0.15;

/// By how much a colour misses what a name means; nothing to be borne where the name's
/// modifier is untrue of it. A wrong hue misleads more than a wrong lightness: differences
/// of hue and vividness count twice, as in the variant of the OKLab distance that its author
/// gives for large differences (Ottosson 2020, from memory).
fn miss(name: &Name, colour: Oklab<f64>) -> f64 {
    if !name.is_borne_out_by(colour) {
        return f64::INFINITY;
    }
    let doubled = |colour: Oklab<f64>| Oklab::new(colour.l, 2.0 * colour.a, 2.0 * colour.b);
    distance(doubled(name.colour), doubled(colour)) + name.reserve
}

fn colour_of(value: u32) -> Oklab<f64> {
    let [_, red, green, blue] = value.to_be_bytes();
    oklab(Srgb::new(red, green, blue))
}

fn chroma(colour: Oklab<f64>) -> f64 {
    libm::hypot(colour.a, colour.b)
}

struct Name {
    words: String,
    colour: Oklab<f64>,
    reserve: f64,
    modifier: Option<&'static Modifier>,
    /// The colour of the word without its modifier, where that is a word too.
    plain: Option<Oklab<f64>>,
    /// Whether it is a word under a modifier and no word of the list: then the modifier says
    /// how vivid it is, too.
    built: bool,
}

impl Name {
    /// A word of the list. Where it begins with a modifier, that must be true of a colour.
    fn plain(words: &str, value: u32) -> Self {
        let parts = words.split_once(' ');
        let modifier = |word: &str| MODIFIERS.iter().find(|modifier| modifier.word == word);
        let plain = parts.and_then(|(_, rest)| WORDS.iter().find(|(word, _, _)| *word == rest));
        Self {
            words: words.to_owned(),
            colour: colour_of(value),
            reserve: 0.0,
            modifier: parts.and_then(|(first, _)| modifier(first)),
            plain: plain.map(|(_, value, _)| colour_of(*value)),
            built: false,
        }
    }

    /// A word under a modifier, if one can say so.
    fn modified(modifier: &'static Modifier, word: &str, value: u32) -> Option<Self> {
        let plain = colour_of(value);
        let words = format!("{} {word}", modifier.word);
        let standard = WORDS.iter().map(|(word, _, _)| word).chain(&NEVER_SAID);
        let lightness = plain.l + modifier.lighter;
        if standard.into_iter().any(|other| *other == words) || !(0.12..=0.97).contains(&lightness)
        {
            return None;
        }
        let duller = modifier.duller;
        let name = Self {
            words,
            colour: within_gamut(Oklab::new(lightness, plain.a * duller, plain.b * duller)),
            reserve: RESERVE,
            modifier: Some(modifier),
            plain: Some(plain),
            built: true,
        };
        let says_something = chroma(name.colour) >= GREY_CHROMA;
        (says_something && name.is_borne_out_by(name.colour)).then_some(name)
    }

    /// Whether the modifier is true of a colour: dark is dark and darker than the plain
    /// word, pale is light, lighter and duller, and so on.
    fn is_borne_out_by(&self, colour: Oklab<f64>) -> bool {
        let Some(modifier) = self.modifier else {
            return true;
        };
        let within = |(least, most): (f64, f64), value: f64| (least..=most).contains(&value);
        if !within(modifier.lightness, colour.l)
            || (modifier.word == "dusty" && chroma(colour) > MOST_DUSTY)
        {
            return false;
        }
        self.plain.is_none_or(|plain| {
            let further = (colour.l - plain.l) * modifier.lighter;
            (!self.built || within(modifier.chroma, chroma(colour) / chroma(plain)))
                && (modifier.lighter == 0.0 || further > 0.0)
        })
    }
}

static NAMES: LazyLock<Vec<Name>> = LazyLock::new(|| {
    let words = WORDS
        .iter()
        .map(|(word, value, _)| Name::plain(word, *value));
    let modified = MODIFIERS.iter().flat_map(|modifier| {
        let said = WORDS.iter().filter(|(_, _, modified)| *modified);
        said.filter_map(move |(word, value, _)| Name::modified(modifier, word, *value))
    });
    words.chain(modified).collect()
});

fn grey(colour: Oklab<f64>) -> Option<&'static str> {
    if chroma(colour) >= GREY_CHROMA {
        return None;
    }
    let held = GREYS.iter().find(|(_, upto)| colour.l <= *upto);
    held.map(|(word, _)| *word)
}

/// A name for a colour as one would say it at the table: "pale teal", "deep rose",
/// "dark grey". Different colours may share a name.
///
/// ```
/// use hitchwork_core::colour::{Srgb, spoken_name};
/// assert_eq!(spoken_name(Srgb::new(255, 255, 255)), "white");
/// assert_eq!(spoken_name(Srgb::new(0x80, 0x80, 0x80)), "grey");
/// assert_eq!(spoken_name(Srgb::new(0x0f, 0x8a, 0x8a)), "teal");
/// ```
#[must_use]
pub fn spoken_name(colour: Srgb) -> String {
    let colour = oklab(colour);
    if let Some(word) = grey(colour) {
        return word.to_owned();
    }
    let nearest = NAMES
        .iter()
        .min_by(|a, b| miss(a, colour).total_cmp(&miss(b, colour)));
    nearest.expect("there are names").words.clone()
}

/// With more colours than a band has threads there are no words left to tell them apart,
/// and numbers have to do.
const MOST_NAMED_BY_WORDS: usize = crate::limits::MAX_THREADS as usize;

/// A name for each colour, each name once and none of those taken; the same colour has
/// the same name wherever it stands. The squares of what the names miss are least in sum,
/// so that no single name pays for the others. Where words run out, numbers follow.
pub(super) fn name_unlike(values: &[Srgb], taken: &[&str]) -> Vec<String> {
    let colours: Vec<Srgb> = values
        .iter()
        .copied()
        .collect::<BTreeSet<_>>()
        .into_iter()
        .collect();
    let names = name_distinct(&colours, taken);
    values
        .iter()
        .map(|value| {
            let at = colours.binary_search(value).expect("it is one of them");
            names[at].clone()
        })
        .collect()
}

fn name_distinct(colours: &[Srgb], taken: &[&str]) -> Vec<String> {
    if colours.is_empty() {
        return Vec::new();
    }
    let free: Vec<(&str, Option<&Name>)> = GREYS
        .iter()
        .map(|(word, _)| (*word, None))
        .chain(NAMES.iter().map(|name| (name.words.as_str(), Some(name))))
        .filter(|(words, _)| !taken.contains(words))
        .collect();
    let misses = |colour: Srgb| {
        let lab = oklab(colour);
        let own_grey = grey(lab);
        let missed = move |(words, name): &(&str, Option<&Name>)| match name {
            Some(name) if own_grey.is_none() => miss(name, lab).min(FARTHEST),
            None if own_grey == Some(*words) => 0.0,
            _ => FARTHEST,
        };
        // As many columns of no name at all as there are colours, so that all fit.
        let named = free.iter().map(missed);
        named
            .chain(std::iter::repeat_n(FARTHEST, colours.len()))
            .map(|miss| miss * miss)
            .collect::<Vec<f64>>()
    };
    let mut used: BTreeSet<String> = taken.iter().map(|name| (*name).to_owned()).collect();
    let mut names = vec![String::new(); colours.len()];
    let mut named = vec![false; colours.len()];
    if colours.len() <= MOST_NAMED_BY_WORDS {
        let misses: Vec<Vec<f64>> = colours.iter().map(|colour| misses(*colour)).collect();
        let assigned = assignment(&misses);
        for at in (0..colours.len()).filter(|at| misses[*at][assigned[*at]] < FARTHEST * FARTHEST) {
            free[assigned[at]].0.clone_into(&mut names[at]);
            used.insert(names[at].clone());
            named[at] = true;
        }
    }
    for at in (0..colours.len()).filter(|at| !named[*at]) {
        let name = spoken_name(colours[at]);
        let numbered = (2_usize..).map(|number| format!("{name} {number}"));
        let unused = std::iter::once(name.clone())
            .chain(numbered)
            .find(|name| !used.contains(name));
        names[at] = unused.expect("there are more numbers than colours");
        used.insert(names[at].clone());
    }
    names
}

impl Colour {
    /// Colours named by what they look like, each name once.
    ///
    /// ```
    /// use hitchwork_core::colour::{Colour, Srgb};
    /// let two = Colour::spoken([Srgb::new(200, 30, 30), Srgb::new(205, 32, 30)]);
    /// assert_ne!(two[0].name, two[1].name);
    /// ```
    #[must_use]
    pub fn spoken(values: impl IntoIterator<Item = Srgb>) -> Vec<Self> {
        let values: Vec<Srgb> = values.into_iter().collect();
        let names = name_unlike(&values, &[]);
        names
            .into_iter()
            .zip(values)
            .map(|(name, value)| Self::new(name, value))
            .collect()
    }
}
