//! Panels that hang free: what each side of a small disc absorbs, against its integral equation; what steps scatter; a gap that closes, against the flush panel.

use std::f64::consts::TAU;

use roomwright::absorbers::fluid::AIR_IMPEDANCE;
use roomwright::absorbers::suspended::{Side, Suspended};
use roomwright::absorbers::{BuildUp, Layer};
use roomwright::air::REFERENCE_SPEED;

use super::Check;
use crate::suspended::quarter_of_a_wavelength;

/// Rows of the disc: resistance re air, `k a`, absorption.
const DISC: &str = include_str!("../cases/open_disc.csv");

/// What passes for the exact field: the rule's own limit.
const DISC_OFF: f64 = 0.14;

pub(crate) fn disc() -> impl Iterator<Item = [f64; 3]> {
    let numbers = |line: &str| -> Vec<f64> { line.split(',').map(|number| number.parse().expect("a number")).collect() };
    let rows = DISC.lines().filter(|line| !line.starts_with('#')).skip(1);
    rows.map(move |line| numbers(line).try_into().expect("three numbers a row"))
}

/// What a side of a disc of this resistance re air absorbs at this `k a`.
pub(crate) fn disc_absorbs(resistance: f64, reach: f64) -> f64 {
    let sheet = BuildUp::new([Layer::Cloth { resistance: resistance * AIR_IMPEDANCE, mass: f64::INFINITY }]);
    let face = Suspended::new(&sheet, Side::Front, f64::INFINITY, 0.5);
    face.tone(reach / 0.5 * REFERENCE_SPEED / TAU).diffuse().absorbed
}

pub(crate) fn checks() -> Vec<Check> {
    let row = |[resistance, reach, expected]: [f64; 3]| Check {
        what: format!("each side of a disc of resistance {resistance} in free air, k a {reach}, diffuse"),
        ours: disc_absorbs(resistance, reach),
        expected,
        tolerance: DISC_OFF * expected,
        why: "one mass for all the air that goes round: the stated limit of the rule",
        source: "integral equation by Galerkin's method, computed independently (cases/open_disc.csv)",
    };
    disc().filter(|[resistance, ..]| [0.5, 1.45, 4.0].contains(resistance)).map(row).chain([quarter_of_a_wavelength()]).collect()
}

#[test]
fn keeps_every_disc_within_the_stated_limit() {
    let mut rows = 0;
    for [resistance, reach, expected] in disc() {
        let off = disc_absorbs(resistance, reach) / expected - 1.0;
        assert!(off.abs() < DISC_OFF, "{resistance} at {reach}: {off}");
        rows += 1;
    }
    assert_eq!(rows, 36);
    // A sheet without end is no answer at low frequencies.
    let endless = BuildUp::new([Layer::Cloth { resistance: 1.45 * AIR_IMPEDANCE, mass: f64::INFINITY }]).suspended();
    assert!(endless.diffuse(100.0) > 15.0 * disc_absorbs(1.45, 0.25));
}
