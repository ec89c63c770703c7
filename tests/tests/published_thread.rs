//! Thread diameters against published figures.

use hitchwork_core::craft::Gauge;
use hitchwork_tests::published;
use serde::Deserialize;

/// d = sqrt(4 T / (pi rho phi)), the mass balance of a cylinder (textbook formula); fibre
/// densities from Morton & Hearle (from memory): see `published/yarn_diameter_packing.json`.
#[test]
fn diameters_from_linear_density() {
    #[derive(Deserialize)]
    #[serde(untagged)]
    enum Case {
        Thread {
            id: String,
            tex: f64,
            fibre_density_g_cm3: f64,
            packing_fraction: f64,
            diameter_mm: f64,
        },
        Bundle {
            strands: u8,
            bundle_diameter_over_single: f64,
        },
    }
    for case in published::cases::<Case>("yarn_diameter_packing") {
        match case {
            Case::Thread {
                id,
                tex,
                fibre_density_g_cm3,
                packing_fraction,
                diameter_mm,
            } => {
                let mm = Gauge::diameter_mm(tex, fibre_density_g_cm3, packing_fraction);
                assert!((mm - diameter_mm).abs() <= 1e-6, "{id}: {mm}");
            }
            Case::Bundle {
                strands,
                bundle_diameter_over_single,
            } => {
                let mm = |strands| Gauge::diameter_mm(f64::from(strands) * 40.0, 1.52, 0.6);
                let ratio = mm(strands) / mm(1);
                assert!(
                    (ratio - bundle_diameter_over_single).abs() <= 1e-6,
                    "{strands} strands"
                );
            }
        }
    }
}
