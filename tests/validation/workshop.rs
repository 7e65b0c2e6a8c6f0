//! What is cut, what a corner panel closes, what a wire bears: against hand-made sums and instances whose least is known.

use glam::DVec2;
use roomwright::workshop::{pieces, statics};

use super::Check;
use crate::cutting::{OF_TRIPLETS, paper_rolls};

pub(crate) fn checks() -> Vec<Check> {
    let inch = 0.0254;
    let cloth = pieces::cloth_size(DVec2::new(24.0, 48.0) * inch, 2.0 * inch, 4.0 * inch) / inch;
    let corner = pieces::corner_cut(DVec2::new(0.6, 1.2), 0.1, std::f64::consts::FRAC_PI_2).expect("a right angle holds it");
    let corners = [DVec2::new(-1.0, -2.0), DVec2::new(1.0, -2.0), DVec2::new(-1.0, 2.0), DVec2::new(1.0, 2.0)];
    let lost = statics::one_lost(&corners, DVec2::ZERO);
    let most = lost[0].as_ref().expect("three wires hold it").iter().copied().fold(0.0, f64::max);
    let row = |what: &str, ours: f64, expected: f64, tolerance: f64, why, source| Check {
        what: what.to_owned(),
        ours,
        expected,
        tolerance,
        why,
        source,
    };
    let practice = "common practice, no source";
    let exact = "rounding";
    let mut checks = vec![
        row("cloth of a board of 24 x 48 in, 2 in thick, with 4 in on the back: width, in", cloth.x, 36.0, 1e-9, exact, practice),
        row("the same: length, in", cloth.y, 60.0, 1e-9, exact, practice),
        row(
            "air behind a panel of 0.6 x 1.2 m, 0.1 m thick, across a right angle, m3",
            corner.air_m3,
            0.048,
            1e-9,
            exact,
            "triangle of 0.4 m, 0.2 m high",
        ),
        row(
            "share of the weight on a wire when the one beside it of four is lost",
            most,
            0.5,
            1e-9,
            exact,
            "equilibrium: the diagonal that is left holds it",
        ),
    ];
    checks.extend(paper_rolls());
    checks.extend(OF_TRIPLETS.iter().cloned());
    checks
}
