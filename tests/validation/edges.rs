//! Sound bent round edges: exact half-planes, and a rigid square plate by boundary elements.

use super::Check;
use crate::edges::{half_planes, plates};

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = Vec::new();
    for (case, frequency, ours, expected) in half_planes() {
        if frequency == 125.0 || frequency == 1000.0 || frequency == 8000.0 {
            checks.push(Check {
                what: format!("rigid half-plane, {case}, {frequency} Hz: level re 1 m in free field, dB"),
                ours,
                expected,
                tolerance: 0.2,
                why: "asked for; the slices of the way are good to 0.02",
                source: "H. M. Macdonald, Proc. London Math. Soc. 14 (1915) 410, contour integral (exact)",
            });
        }
    }
    for (case, k_half, ours, expected) in plates().into_iter().filter(|plate| plate.1 >= 3.0) {
        checks.push(Check {
            what: format!("rigid square plate, {case}, k x half side {k_half}: level re 1 m in free field, dB"),
            ours,
            expected,
            tolerance: 1.0,
            why: "asked for; bends beyond the second are left out",
            source: "boundary elements (Galerkin, Maue's identity), good to 1e-4 dB: tests/cases/edges/plate.json",
        });
    }
    checks
}
