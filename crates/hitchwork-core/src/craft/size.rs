//! How long a band has to be for a wrist.

use super::within;
use crate::error::{Error, Problem};

/// A wrist that a band may be made for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wrist {
    /// The name to ask for it by.
    pub name: &'static str,
    /// Its circumference.
    pub mm: f64,
}

/// Ordinary wrists, rounded to 5 mm: grown-ups as the means of ANSUR II (2012: 154.8 mm
/// for women, 175.9 mm for men), and children of six between the means of Öztürk et al.
/// (2017: 130 mm for boys, 124.8 mm for girls).
pub const WRISTS: &[Wrist] = &[
    Wrist {
        name: "child",
        mm: 125.0,
    },
    Wrist {
        name: "woman",
        mm: 155.0,
    },
    Wrist {
        name: "man",
        mm: 175.0,
    },
];

/// How loosely a band sits, and how much of the round is left to its ties.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ease {
    /// What is added to the wrist: jewellery practice gives 13 to 25 mm, and 19 mm (three
    /// quarters of an inch) is snug with room for two fingers.
    pub ease_mm: f64,
    /// The gap between both ends of the knotted part, bridged by the tied ties (common
    /// practice, no source).
    pub tie_gap_mm: f64,
}

impl Default for Ease {
    fn default() -> Self {
        Self {
            ease_mm: 19.0,
            tie_gap_mm: 25.0,
        }
    }
}

/// The knotted length that a wrist needs: its circumference and the ease, without the gap
/// that the ties bridge.
///
/// ```
/// use hitchwork_core::craft::{Ease, knotted_mm_for_wrist};
/// assert_eq!(knotted_mm_for_wrist(160.0, Ease::default())?, 154.0);
/// assert!(knotted_mm_for_wrist(0.0, Ease::default()).is_err());
/// # Ok::<(), hitchwork_core::Error>(())
/// ```
///
/// # Errors
/// When the wrist is outside 60 to 400 mm, ease or gap are absurd, or the gap leaves
/// nothing to knot.
pub fn knotted_mm_for_wrist(wrist_mm: f64, ease: Ease) -> Result<f64, Error> {
    within("a wrist", wrist_mm, 60.0, 400.0, " mm")?;
    within("the ease", ease.ease_mm, 0.0, 100.0, " mm")?;
    within("the gap of the ties", ease.tie_gap_mm, 0.0, 400.0, " mm")?;
    let knotted = wrist_mm + ease.ease_mm - ease.tie_gap_mm;
    if knotted < 10.0 {
        return Err(Problem::Craft {
            message: format!(
                "the ends alone are longer than the band: {} mm round the wrist leave nothing to knot beside a gap of {} mm for the ties",
                wrist_mm + ease.ease_mm,
                ease.tie_gap_mm
            ),
            help: "leave a smaller gap for the ties".to_owned(),
        }
        .into());
    }
    Ok(knotted)
}
