//! The low end beyond the solver: octaves of what waves leave, walls as they take sound, what fiber in a corner changes to first order.

use roomwright::bands::Band;

use super::Check;
use crate::bass_corners::wrong;
use crate::join::{COSINES, free_field, pattern};
use crate::wave_walls::worst_of_table;

pub(crate) fn checks() -> Vec<Check> {
    octaves().into_iter().chain(microphone()).chain(walls()).chain(corners()).collect()
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
