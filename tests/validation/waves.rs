//! The low end by the wave solver: modes of rigid rooms, decays by a wall's admittance, a layer of fiber in a tube.

use roomwright::modes;
use roomwright::wave::{Admittance, Resonance};

use super::Check;
use crate::wave::{SPEED, attic};
use crate::wave_fiber::{ADIABATIC, ISOTHERMAL, tube_modes};
use crate::wave_modes::{ATTIC, DAMPED, SHOEBOX, boxed, rung};
use crate::wave_response::order;

pub(crate) fn checks() -> Vec<Check> {
    let fibers = [("fiber", 1.0, ADIABATIC), ("isothermal fiber", 1.399_7, ISOTHERMAL)];
    let fibers = fibers.into_iter().flat_map(|(layer, compressibility, modes)| fiber(layer, compressibility, &modes));
    rigid().into_iter().chain(damped()).chain(fibers).chain([second_order()]).collect()
}

fn second_order() -> Check {
    Check {
        what: "box with walls of admittance 0.05, cells of 100 to 41 mm: power of their size by which what is wrong with a response falls"
            .to_owned(),
        ours: order(),
        expected: 2.0,
        tolerance: 0.2,
        why: "a fit over six sizes, walls cutting cells anyhow",
        source: "second order of central differences; exact sums of the modes of the box",
    }
}

fn rigid() -> Vec<Check> {
    let exact: Vec<f64> = modes::shoebox(SHOEBOX, SPEED, 109.95).iter().map(|mode| mode.frequency).collect();
    let rooms: [(_, _, &[f64], _, _, _, _); 2] = [
        (
            "box 5.1 x 3.9 x 2.6 m, cells of 80 mm",
            boxed(SHOEBOX),
            &exact,
            0.08,
            0.001,
            "demanded: 0.1 %",
            "closed form (H. Kuttruff, Room Acoustics, from memory)",
        ),
        (
            "attic under a slope, cells of 100 mm",
            attic(),
            &ATTIC,
            0.1,
            0.003,
            "demanded: 0.3 %",
            "finite elements of second order, computed independently",
        ),
    ];
    let mut checks = Vec::new();
    for (room, scene, wanted, spacing, bar, why, source) in rooms {
        let found = rung(&scene, Admittance::RIGID, spacing, 1.0, 110.0);
        for (index, (wanted, found)) in wanted.iter().zip(&found).enumerate() {
            let what = format!("rigid {room}: mode {}, Hz", index + 1);
            checks.push(Check { what, ours: found.frequency, expected: *wanted, tolerance: bar * wanted, why, source });
        }
    }
    checks
}

fn damped() -> Vec<Check> {
    let found = rung(&boxed(SHOEBOX), Admittance::real(0.02), 0.08, 1.0, 105.0);
    let nearest = |frequency: f64| -> Option<&Resonance> {
        found.iter().min_by(|a, b| (a.frequency - frequency).abs().total_cmp(&(b.frequency - frequency).abs()))
    };
    let rows = |(frequency, decay): &(f64, f64)| {
        let mode = nearest(*frequency);
        let row = |what: &str, ours: Option<f64>, expected: f64, part: f64, why| Check {
            what: format!("the same box, walls of admittance 0.02: {what}"),
            ours: ours.unwrap_or(f64::NAN),
            expected,
            tolerance: part * expected,
            why,
            source: "exact complex roots of k tan, computed independently",
        };
        [
            row(
                &format!("frequency of the mode at {frequency:.2} Hz, Hz"),
                mode.map(|mode| mode.frequency),
                *frequency,
                0.001,
                "demanded: 0.1 %",
            ),
            row(&format!("decay constant at {frequency:.2} Hz, 1/s"), mode.map(|mode| mode.decay), *decay, 0.02, "demanded: 2 %"),
        ]
    };
    DAMPED.iter().flat_map(rows).collect()
}

fn fiber(layer: &str, compressibility: f64, modes: &[(f64, f64)]) -> Vec<Check> {
    let found = tube_modes(0.05, compressibility);
    let rows = |(index, (frequency, decay)): (usize, &(f64, f64))| {
        let source = "complex roots of a line of two parts, computed independently (C. Zwikker, C. W. Kosten, from memory)";
        let of = |what: &str, ours: f64, expected: f64, part: f64, why: &'static str| Check {
            what: format!("tube of 3 m before 100 mm of {layer}, cells of 50 mm: {what} of mode {}", index + 1),
            ours,
            expected,
            tolerance: part * expected,
            why,
            source,
        };
        [
            of("frequency in Hz", found[index].0, *frequency, 0.002, "demanded: 0.2 %"),
            of("decay constant in 1/s", found[index].1, *decay, 0.05, "demanded: 5 %"),
        ]
    };
    modes.iter().enumerate().flat_map(rows).collect()
}
