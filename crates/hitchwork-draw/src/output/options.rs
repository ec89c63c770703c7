//! How outputs are wanted.

use hitchwork_core::tied::Tied;

use crate::{fabric, knots, strands};

/// How outputs are wanted.
#[derive(Clone, Debug, Default)]
pub struct OutputOptions {
    /// How the fabric and the tile are drawn.
    pub fabric: fabric::FabricOptions,
    /// How the working chart is drawn.
    pub strands: strands::ChartOptions,
    /// How the knot chart is drawn.
    pub knots: knots::KnotChartOptions,
    /// The paper of what is printed.
    #[cfg(feature = "pdf")]
    pub paper: crate::pdf::Paper,
    /// Whether [`Output::files`](super::Output::files) gives fabric and tile as pixels too, each beside its SVG.
    #[cfg(feature = "png")]
    pub pixels_too: bool,
}

impl OutputOptions {
    /// The usual options, with as many repeats of the fabric as show well in one picture: see
    /// [`fabric::repeats_to_draw`].
    #[must_use]
    pub fn fitting(tied: &Tied) -> Self {
        Self {
            fabric: fabric::FabricOptions {
                repeats: Some(fabric::repeats_to_draw(tied.band())),
                ..fabric::FabricOptions::default()
            },
            ..Self::default()
        }
    }
}
