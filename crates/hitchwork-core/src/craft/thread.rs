//! What a thread is: how heavy, of what, and so how thick.

use std::f64::consts::PI;

use super::within;
use crate::error::{Error, Problem};

/// A way of saying how fine a thread is.
///
/// The first three grow with the thread; the counts say how many lengths weigh a pound or
/// a gram, so that a higher count is a finer thread. Factors are exact: a yard is 0.9144 m
/// and a pound 0.453 592 37 kg (ASTM D2260; tex system: ISO 1144, ISO 2947).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Count {
    /// Grams per kilometre.
    Tex,
    /// Grams per ten kilometres.
    Decitex,
    /// Grams per nine kilometres.
    Denier,
    /// Metric count, Nm: kilometres per kilogram.
    Metric,
    /// Cotton count, Ne: hanks of 840 yards per pound. Spun silk counts the same.
    Cotton,
    /// Worsted count: hanks of 560 yards per pound.
    Worsted,
    /// Woollen run: 1600 yards per pound.
    WoollenRun,
    /// Linen lea: 300 yards per pound.
    LinenLea,
    /// Yorkshire skein: 256 yards per pound.
    YorkshireSkein,
}

/// Grams per pound over metres per yard, times a thousand: tex times yards per pound (both
/// exact by definition).
const TEX_YARDS_PER_POUND: f64 = 453.592_37 * 1000.0 / 0.9144;

impl Count {
    /// The tex of a thread whose count in this system is `value`.
    ///
    /// ```
    /// use hitchwork_core::craft::Count;
    /// assert!((Count::Cotton.tex(10.0) - 59.054_125).abs() < 1e-6);
    /// assert!((Count::Denier.tex(900.0) - 100.0).abs() < 1e-9);
    /// assert!((Count::Denier.of_tex(100.0) - 900.0).abs() < 1e-9);
    /// ```
    #[must_use]
    pub fn tex(self, value: f64) -> f64 {
        match self.factor() {
            Factor::PerTex(factor) => value / factor,
            Factor::OverTex(factor) => factor / value,
        }
    }

    /// The count in this system of a thread of this many tex.
    #[must_use]
    pub fn of_tex(self, tex: f64) -> f64 {
        match self.factor() {
            Factor::PerTex(factor) => tex * factor,
            Factor::OverTex(factor) => factor / tex,
        }
    }

    fn factor(self) -> Factor {
        let yards = |per_pound: f64| Factor::OverTex(TEX_YARDS_PER_POUND / per_pound);
        match self {
            Self::Tex => Factor::PerTex(1.0),
            Self::Decitex => Factor::PerTex(10.0),
            Self::Denier => Factor::PerTex(9.0),
            Self::Metric => Factor::OverTex(1000.0),
            Self::Cotton => yards(840.0),
            Self::Worsted => yards(560.0),
            Self::WoollenRun => yards(1600.0),
            Self::LinenLea => yards(300.0),
            Self::YorkshireSkein => yards(256.0),
        }
    }
}

enum Factor {
    /// The count is tex times this.
    PerTex(f64),
    /// The count is this over tex.
    OverTex(f64),
}

/// The diameter of a thread in millimetres: the mass balance of a cylinder.
pub(super) fn diameter_mm(tex: f64, fibre_g_per_cm3: f64, packing: f64) -> f64 {
    // tex / 1000 is grams per metre, which is also square millimetres times g/cm3.
    libm::sqrt(4.0 * tex / 1000.0 / (PI * fibre_g_per_cm3 * packing))
}

/// A thread by its weight, its fibre and how closely its fibres lie.
///
/// ```
/// use hitchwork_core::craft::Yarn;
/// let floss = Yarn::class("floss").expect("built in");
/// assert!((floss.diameter_mm() - 0.59).abs() < 0.005);
/// let by_count: Yarn = "2.4 ne".parse()?;
/// let by_weight: Yarn = "246 tex".parse()?;
/// assert!((by_count.diameter_mm() - by_weight.diameter_mm()).abs() < 0.001);
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Yarn {
    /// Linear density in grams per kilometre.
    pub tex: f64,
    /// Density of the fibre.
    pub fibre_g_per_cm3: f64,
    /// How much of the thread's section is fibre, from above 0 to 1.
    pub packing: f64,
}

/// A class of thread that is sold for knotting, told generically.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct YarnClass {
    /// The name to ask for it by.
    pub name: &'static str,
    /// What it is.
    pub words: &'static str,
    /// An ordinary thread of the class.
    pub yarn: Yarn,
}

/// Density of cotton fibre in g/cm3 (Morton & Hearle, from memory).
const COTTON: f64 = 1.52;
/// Density of polyester fibre in g/cm3 (Morton & Hearle, from memory).
const POLYESTER: f64 = 1.38;

/// Packing of threads of soft strands: Peirce (1937) gives cotton a specific volume of 1.1
/// cm3/g, which is 0.598 at the density above.
const SOFT: f64 = 0.6;
/// Packing of a firmly plied twist (our own judgement: above soft strands, far below the
/// 0.907 of round fibres as close as they can lie).
const TWISTED: f64 = 0.65;
/// Packing of a cord whose gaps are partly filled with wax, which is weighed with the
/// fibres (our own judgement; with it, the weight gives the 0.8 mm by which such cord is
/// sold).
const WAXED: f64 = 0.75;

/// The classes. Weights are from memory; a swatch or a scale corrects them.
const CLASSES: [YarnClass; 4] = [
    YarnClass {
        name: "floss",
        words: "six-strand cotton floss, all six strands together",
        yarn: Yarn {
            tex: 250.0,
            fibre_g_per_cm3: COTTON,
            packing: SOFT,
        },
    },
    YarnClass {
        name: "perle",
        words: "perle-type cotton twist",
        yarn: Yarn {
            tex: 200.0,
            fibre_g_per_cm3: COTTON,
            packing: TWISTED,
        },
    },
    YarnClass {
        name: "polyester",
        words: "braided polyester cord of about a millimetre",
        yarn: Yarn {
            tex: 650.0,
            fibre_g_per_cm3: POLYESTER,
            packing: SOFT,
        },
    },
    YarnClass {
        name: "waxed",
        words: "waxed polyester cord of about 0.8 mm",
        yarn: Yarn {
            tex: 520.0,
            fibre_g_per_cm3: POLYESTER,
            packing: WAXED,
        },
    },
];

/// How far a diameter may be from that of a class to be told as one of its threads, in
/// millimetres: diameters are told to a tenth, and the defaults are rounded to a hundredth (our
/// own judgement).
const SAME_CLASS_MM: f64 = 0.01;

impl YarnClass {
    /// The class whose ordinary thread is as thick as this, to a hundredth of a millimetre.
    ///
    /// ```
    /// use hitchwork_core::craft::{Gauge, YarnClass};
    /// let usual = YarnClass::of_diameter(Gauge::default().thread_mm);
    /// assert_eq!(usual.map(|class| class.name), Some("floss"));
    /// assert!(YarnClass::of_diameter(0.7).is_none());
    /// ```
    #[must_use]
    pub fn of_diameter(mm: f64) -> Option<&'static Self> {
        let is_it = |class: &&Self| (class.yarn.diameter_mm() - mm).abs() < SAME_CLASS_MM;
        CLASSES.iter().find(is_it)
    }
}

impl Yarn {
    /// A thread whose count in a system is `value`, of cotton packed as floss is.
    ///
    /// ```
    /// use hitchwork_core::craft::{Count, Yarn};
    /// assert_eq!(Yarn::of_count(Count::Tex, 250.0)?.tex, 250.0);
    /// assert!(Yarn::of_count(Count::Tex, 0.0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When that is not a thread of 1 to 50 000 tex.
    pub fn of_count(count: Count, value: f64) -> Result<Self, Error> {
        within("a thread's fineness", value, 1e-6, 1e9, "")?;
        let tex = count.tex(value);
        within("a thread's weight", tex, 1.0, 50_000.0, " tex")?;
        Ok(Self {
            tex,
            fibre_g_per_cm3: COTTON,
            packing: SOFT,
        })
    }

    /// A thread of this many millimetres across, of cotton packed as floss is.
    ///
    /// ```
    /// use hitchwork_core::craft::Yarn;
    /// assert!((Yarn::of_diameter(0.8)?.diameter_mm() - 0.8).abs() < 1e-9);
    /// assert!(Yarn::of_diameter(20.0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When that is outside 0.05 to 10 mm.
    pub fn of_diameter(mm: f64) -> Result<Self, Error> {
        within("a thread's diameter", mm, 0.05, 10.0, " mm")?;
        Ok(Self {
            tex: mm * mm * PI * COTTON * SOFT / 4.0 * 1000.0,
            fibre_g_per_cm3: COTTON,
            packing: SOFT,
        })
    }

    /// The same thread of another fibre or packing.
    ///
    /// ```
    /// use hitchwork_core::craft::{Count, Yarn};
    /// let cotton = Yarn::of_count(Count::Tex, 250.0)?;
    /// // The same weight of a lighter fibre is a thicker thread.
    /// assert!(cotton.of_fibre(1.14, 0.6)?.diameter_mm() > cotton.diameter_mm());
    /// assert!(cotton.of_fibre(1.14, 2.0).is_err());
    /// # Ok::<(), hitchwork_core::Error>(())
    /// ```
    ///
    /// # Errors
    /// When the density is outside 0.5 to 5 g/cm3, or the packing outside 0.1 to 1.
    pub fn of_fibre(self, fibre_g_per_cm3: f64, packing: f64) -> Result<Self, Error> {
        within("a fibre's density", fibre_g_per_cm3, 0.5, 5.0, " g/cm3")?;
        within("the packing of fibres", packing, 0.1, 1.0, "")?;
        Ok(Self {
            fibre_g_per_cm3,
            packing,
            ..self
        })
    }

    /// An ordinary thread of the class of that name.
    #[must_use]
    pub fn class(name: &str) -> Option<Self> {
        let class = CLASSES.iter().find(|class| class.name == name)?;
        Some(class.yarn)
    }

    /// The classes of thread that have a name.
    #[must_use]
    pub const fn classes() -> &'static [YarnClass] {
        &CLASSES
    }

    /// Its diameter: see [`Gauge::diameter_mm`](super::Gauge::diameter_mm).
    #[must_use]
    pub fn diameter_mm(&self) -> f64 {
        diameter_mm(self.tex, self.fibre_g_per_cm3, self.packing)
    }
}

/// The diameter of a bundle of this many threads of one diameter, packed as closely as
/// their fibres are: it grows with the root of their number (mass balance of a cylinder).
///
/// ```
/// assert_eq!(hitchwork_core::craft::bundle_mm(4, 0.6), 1.2);
/// ```
#[must_use]
pub fn bundle_mm(threads: u16, thread_mm: f64) -> f64 {
    thread_mm * libm::sqrt(f64::from(threads))
}

impl std::str::FromStr for Yarn {
    type Err = Error;

    /// Reads the name of a class, or a number with its unit: `0.6 mm`, `250 tex`, `2500 dtex`, `2250 den`, `4 nm` (metric), `2.4 ne` (cotton).
    fn from_str(text: &str) -> Result<Self, Error> {
        let text = text.trim().to_ascii_lowercase();
        if let Some(class) = Self::class(&text) {
            return Ok(class);
        }
        let unit_at = text
            .find(|letter: char| !(letter.is_ascii_digit() || ".+-".contains(letter)))
            .unwrap_or(text.len());
        let (number, unit) = (&text[..unit_at], text[unit_at..].trim());
        let count = match unit {
            "mm" => None,
            "tex" => Some(Count::Tex),
            "dtex" => Some(Count::Decitex),
            "den" | "denier" => Some(Count::Denier),
            "nm" => Some(Count::Metric),
            "ne" => Some(Count::Cotton),
            "" if number.parse::<f64>().is_ok() => return Err(without_unit(number)),
            _ => return Err(unreadable(&text)),
        };
        let value: f64 = number.parse().map_err(|_| unreadable(&text))?;
        match count {
            None => Self::of_diameter(value),
            Some(count) => Self::of_count(count, value),
        }
    }
}

/// A bare number is as often a number of threads as a diameter.
fn without_unit(number: &str) -> Error {
    let number = crate::error::shortened(number);
    Problem::Craft {
        message: format!("a thread of {number} does not say {number} of what"),
        help: format!(
            "write {number}mm if that is how thick it is, or another unit: 250tex, 2250den, 4nm (metric count), 2.4ne (cotton count)"
        ),
    }
    .into()
}

fn unreadable(text: &str) -> Error {
    let classes: Vec<&str> = CLASSES.iter().map(|class| class.name).collect();
    Problem::Craft {
        message: format!("\"{}\" is not a thread", crate::error::shortened(text)),
        help: format!(
            "give one of {}, or a number with its unit: 0.6mm, 250tex, 2250den, 4nm (metric count), 2.4ne (cotton count)",
            classes.join(", ")
        ),
    }
    .into()
}
