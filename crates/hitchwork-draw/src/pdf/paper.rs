//! What sheets are printed on.

/// The paper that a sheet is printed on, upright.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub enum Paper {
    /// 210 by 297 mm (ISO 216).
    #[default]
    A4,
    /// 8.5 by 11 inches.
    Letter,
}

impl Paper {
    /// Width and height in points, 72 to the inch.
    ///
    /// ```
    /// use hitchwork_draw::pdf::Paper;
    /// assert_eq!(Paper::Letter.size_pt(), (612.0, 792.0));
    /// ```
    #[must_use]
    pub fn size_pt(self) -> (f64, f64) {
        match self {
            Self::A4 => (210.0 / 25.4 * 72.0, 297.0 / 25.4 * 72.0),
            Self::Letter => (612.0, 792.0),
        }
    }
}
