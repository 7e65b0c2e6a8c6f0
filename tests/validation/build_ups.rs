//! What lies before a panel, written in a scene and computed by its closed form.
//!
//! A membrane adds `j w m` to the surface impedance of what is behind it, at every angle; the fiber behind it has `-j Zc (k / kz) cot(kz d)` with Miki's constants.
//! Both are evaluated here, apart from the program, over as many angles and tones as it takes.

use std::f64::consts::TAU;

use num_complex::Complex64;
use roomwright::air::REFERENCE_SPEED;
use roomwright::bands::Band;
use roomwright::study;

use super::Check;
use crate::build_up::closet;

/// Density of air at 20 degrees C, kg/m3.
const DENSITY: f64 = 1.2041;

/// Equal steps of the cosine, and of an octave on a log scale.
const ANGLES: u32 = 1000;
const TONES: u32 = 45;

const SOURCE: &str =
    "surface impedance of a layer by Miki's constants (1990) plus j w m, averaged over angles by Paris's formula; evaluated in the test";

pub(crate) fn checks() -> Vec<Check> {
    let plain = "thickness = 0.05\nflow_resistivity = 12000\n";
    let mut checks = Vec::new();
    for mass in [0.0, 0.05, 0.5] {
        let facing = if mass > 0.0 { format!("facing = {{ kind = \"membrane\", mass = {mass} }}\n") } else { String::new() };
        let panel = study::survey(&closet(&(plain.to_owned() + &facing))).stock.remove(0);
        for band in (4..8).map(Band::new) {
            checks.push(Check {
                what: format!("50 mm of 12000 Pa s/m2 behind a membrane of {mass} kg/m2, {}: diffuse absorption", band.label()),
                ours: panel.absorption[band],
                expected: octave(12_000.0, 0.05, mass, band),
                tolerance: 0.002,
                why: "asked for; nine tones of the octave stand for all",
                source: SOURCE,
            });
        }
    }
    checks
}

/// Diffuse absorption coefficient of an octave.
fn octave(flow_resistivity: f64, thickness: f64, mass: f64, band: Band) -> f64 {
    let tone = |index: u32| {
        let share = (f64::from(index) + 0.5) / f64::from(TONES);
        let frequency = band.lower() * (band.upper() / band.lower()).powf(share);
        let at = |angle: u32| {
            let cosine = (f64::from(angle) + 0.5) / f64::from(ANGLES);
            2.0 * cosine * absorption(flow_resistivity, thickness, mass, frequency, cosine)
        };
        (0..ANGLES).map(at).sum::<f64>() / f64::from(ANGLES)
    };
    (0..TONES).map(tone).sum::<f64>() / f64::from(TONES)
}

fn absorption(flow_resistivity: f64, thickness: f64, mass: f64, frequency: f64, cosine: f64) -> f64 {
    let (x, wave_number) = (frequency / flow_resistivity, TAU * frequency / REFERENCE_SPEED);
    let power = |exponent: f64| x.powf(exponent);
    let impedance = Complex64::new(1.0 + 0.070 * power(-0.632), -0.107 * power(-0.632));
    let index = Complex64::new(1.0 + 0.109 * power(-0.618), -0.160 * power(-0.618));
    let across = (index * index - (1.0 - cosine * cosine)).sqrt();
    let layer = -Complex64::I * impedance * index / across / (across * wave_number * thickness).tan();
    let surface = layer + Complex64::new(0.0, wave_number * mass / DENSITY);
    1.0 - ((surface * cosine - 1.0) / (surface * cosine + 1.0)).norm_sqr()
}
