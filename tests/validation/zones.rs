//! The first Fresnel zone of a bounce: its area straight on, against the textbook's for short waves.

use std::f64::consts::PI;

use glam::DVec3;
use roomwright::geometry::Chart;
use roomwright::plan::cloud::zone;

use super::Check;

pub(crate) fn checks() -> Vec<Check> {
    let ceiling = Chart::new(DVec3::ZERO, DVec3::NEG_X, DVec3::Y);
    let row = |[d1, d2, wavelength]: [f64; 3]| {
        let ends = [d1, d2].map(|below| DVec3::new(0.4, -0.3, -below));
        let expected = PI * wavelength * d1 * d2 / (d1 + d2);
        Check {
            what: format!("area of the first Fresnel zone, {d1} and {d2} m from the wall straight on, wavelength {wavelength} m, m2"),
            ours: zone(&ceiling, ends, wavelength).map_or(f64::NAN, |zone| zone.area()),
            expected,
            // (1 / d1 + 1 / d2) lambda / 4 of itself is what the next order brings at the most, and a little.
            tolerance: 0.26 * wavelength * (1.0 / d1 + 1.0 / d2) * expected,
            why: "the textbook's is the first order in the wavelength; of the next order a little more than all",
            source: "radius sqrt(lambda d1 d2 / (d1 + d2)), any textbook of waves",
        }
    };
    [[1.2, 1.2, 0.043], [1.0, 2.0, 0.0429], [3.0, 5.0, 0.01], [1.2, 1.4, 0.34]].map(row).into()
}
