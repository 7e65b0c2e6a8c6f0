//! The low end beyond the solver: octaves of what waves leave, walls as they take sound and as they shape a diffuse field, what fiber changes to first order.

use roomwright::bands::Band;

use super::Check;
use crate::bass_corners::wrong;
use crate::join::{COSINES, away_from_walls, free_field, pattern};
use crate::wave_adjoint::first_orders;
use crate::wave_walls::worst_of_table;

pub(crate) fn checks() -> Vec<Check> {
    octaves().into_iter().chain(microphone()).chain(patterns()).chain(walls()).chain(corners()).chain(ducts()).collect()
}

fn octaves() -> Vec<Check> {
    let row = |(index, [share, _]): (usize, [f64; 2])| Check {
        what: format!("free field, octave {}: energy of waves, and of rays where both count, re 1 / (4 pi r^2)", Band::new(index).label()),
        ours: share,
        expected: 1.0,
        tolerance: 0.005,
        why: "edges of the octave as sharp as the record is long",
        source: "energy of a point source (H. Kuttruff, Room Acoustics, from memory)",
    };
    free_field().into_iter().enumerate().map(row).collect()
}

fn microphone() -> Vec<Check> {
    let row = |(cosine, found): (f64, f64)| Check {
        what: format!("cardioid microphone by three pressures, cosine {cosine:.1}: energy re from before it, 125 Hz"),
        ours: found,
        expected: (0.5 + 0.5 * cosine).powi(2),
        tolerance: 0.004,
        why: "difference of two pressures in place of the slope: third order in the distance over the wavelength",
        source: "a + (1 - a) cos, squared (IEC 60268-4, from memory)",
    };
    COSINES.into_iter().zip(pattern()).map(row).collect()
}

fn patterns() -> Vec<Check> {
    let row = |(index, [_, ratio, error]): (usize, [f64; 3])| Check {
        what: format!(
            "modes of a box away from its walls, octave {}: energy re that of a diffuse field by the patterns of walls, mean of 48 pairs",
            Band::new(index).label()
        ),
        ours: ratio,
        expected: 1.0,
        tolerance: 3.0 * error,
        why: "three standard errors of that mean",
        source: "R. V. Waterhouse, J. Acoust. Soc. Am. 27 (1955) 247, and 30 (1958) 4 (from memory)",
    };
    away_from_walls().into_iter().enumerate().map(row).collect()
}

fn walls() -> Vec<Check> {
    let [all, boards] = worst_of_table();
    let row = |what: &str, ours: f64, tolerance: f64| Check {
        what: format!("{what} as passive branches: absorption, 63 to 250 Hz, farthest from its row"),
        ours,
        expected: 0.0,
        tolerance,
        why: "few branches; tables themselves are good to 0.1",
        source: "rows of the table, each with its source (sim/absorbers/table.csv)",
    };
    vec![row("173 rows of walls", all, 0.01), row("36 of them that are boards or leaves", boards, 0.006)]
}

fn corners() -> Vec<Check> {
    let row = |height: f64, tolerance: f64| Check {
        what: format!(
            "{height} m of thin fiber in a corner: what it changes at the seat, first order re a run with it, root mean square of what is wrong"
        ),
        ours: wrong(height, 30.0),
        expected: 0.0,
        tolerance,
        why: "second order, more for more fiber",
        source: "first-order perturbation by reciprocity (P. M. Morse, K. U. Ingard, Theoretical Acoustics, from memory)",
    };
    vec![row(0.28, 0.05), row(1.1, 0.1)]
}

fn ducts() -> Vec<Check> {
    let places = ["along the cells", "turned by 45 degrees", "along the cells, right behind as much that hangs"];
    let row = |(place, [off, left]): (&str, [f64; 2])| Check {
        what: format!(
            "100 mm of fiber in a duct {place}, cells of 50 mm: what it changes to first order, root mean square of what is wrong"
        ),
        ours: off,
        expected: 0.0,
        tolerance: left,
        why: "what two central differences leave, (k h)^2 / 3",
        source: "transfer matrices of a duct (M. L. Munjal, Acoustics of Ducts and Mufflers, ch. 2, from memory)",
    };
    places.into_iter().zip(first_orders()).map(row).collect()
}
