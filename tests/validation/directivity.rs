//! Directivity of sources and microphones.

use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, DirectivityTable, Pattern, bessel_j1, piston};

use super::{Check, rounding};

/// Values of the Bessel function J1, M. Abramowitz and I. A. Stegun, Handbook of Mathematical Functions (1964), Table 9.1 (from memory; the test below recomputes them).
const BESSEL: [(f64, &str); 5] =
    [(1.0, "0.4400505857"), (2.0, "0.5767248078"), (5.0, "-0.3275791376"), (10.0, "0.0434727462"), (15.0, "0.2051040386")];

pub(crate) fn checks() -> Vec<Check> {
    let mut checks: Vec<Check> = BESSEL
        .into_iter()
        .map(|(x, printed)| Check {
            what: format!("J1({x})"),
            ours: bessel_j1(x),
            expected: printed.parse().expect("a number"),
            tolerance: rounding(printed),
            why: "printed digits",
            source: "Abramowitz and Stegun (1964), Table 9.1 (from memory)",
        })
        .collect();
    checks.push(Check {
        what: "first zero of the piston's beam, J1(x) / x at x = 3.8317060".to_owned(),
        ours: bessel_j1(3.831_706_0) / 3.831_706_0,
        expected: 0.0,
        tolerance: 1e-8,
        why: "eight printed digits of the zero",
        source: "Abramowitz and Stegun (1964), Table 9.5 (from memory)",
    });
    for radius in [0.02, 0.065, 0.1] {
        let speed = 343.0;
        let band = Band::new(5);
        // Mean over frequency of the exact mean over the half sphere in front, and the value at 90 degrees behind.
        let frequencies = 4001;
        let mut expected = 0.0;
        for index in 0..frequencies {
            let frequency = band.lower() * 10.0_f64.powf(0.3 * (f64::from(index) + 0.5) / f64::from(frequencies));
            let ka = std::f64::consts::TAU * frequency / speed * radius;
            let front = 2.0 * (1.0 - integral_j1(2.0 * ka) / ka) / (ka * ka);
            let edge = 2.0 * integral_j1(ka) / ka;
            expected += 0.5 * (front + edge * edge) / f64::from(frequencies);
        }
        checks.push(Check {
            what: format!("mean energy of a piston of {radius} m, {}", band.label()),
            ours: Directivity::Piston { radius }.mean_energy(speed)[band],
            expected,
            tolerance: 1e-3,
            why: "nine frequencies stand for the octave",
            source: "directivity factor (ka)^2 / (1 - J1(2 ka) / ka) of a piston in a wall, closed form (Beranek 1954, from memory)",
        });
    }
    checks
}

/// J1 by Bessel's integral, `(1 / pi) int_0^pi cos(t - x sin t) dt`; the trapezoidal rule on a full period converges faster than any power.
fn integral_j1(x: f64) -> f64 {
    let points = 2 * (x.abs() as usize) + 60;
    (0..points)
        .map(|index| {
            let angle = std::f64::consts::TAU * index as f64 / points as f64;
            (angle - x * angle.sin()).cos()
        })
        .sum::<f64>()
        / points as f64
}

#[test]
fn exact_bessel_function_against_its_integral() {
    for step in -300..=600 {
        let x = 0.1 * f64::from(step);
        assert!((bessel_j1(x) - integral_j1(x)).abs() < 1e-9, "J1({x}): {} is not {}", bessel_j1(x), integral_j1(x));
    }
    assert_eq!(piston(0.0), 1.0);
}

#[test]
fn exact_axis_is_one_and_the_rear_holds_the_side() {
    for directivity in [Directivity::Omni, Directivity::Piston { radius: 0.08 }, Directivity::Forward] {
        assert!(directivity.energy(1.0, 343.0).0.iter().all(|value| (value - 1.0).abs() < 1e-12), "{directivity:?}");
    }
    let piston = Directivity::Piston { radius: 0.08 };
    assert_eq!(piston.energy(-0.7, 343.0), piston.energy(0.0, 343.0));
    let rear = Directivity::Forward.energy(-1.0, 343.0);
    assert!((10.0 * rear.0[4].log10() + 6.02).abs() < 0.01);
}

#[test]
fn keeps_beams_narrowing_with_frequency() {
    for directivity in [Directivity::Piston { radius: 0.08 }, Directivity::Forward] {
        let mean = directivity.mean_energy(343.0);
        assert!(mean.0.windows(2).all(|pair| pair[1] < pair[0]) && mean.0[0] < 1.0, "{mean:?}");
    }
    assert_eq!(Directivity::Omni.mean_energy(343.0), Bands::splat(1.0));
}

#[test]
fn keeps_the_table_within_its_stated_error() {
    for directivity in [
        Directivity::Omni,
        Directivity::Piston { radius: 0.013 },
        Directivity::Piston { radius: 0.08 },
        Directivity::Piston { radius: 0.2 },
        Directivity::Forward,
    ] {
        let table = DirectivityTable::new(directivity, 343.0);
        let mut worst = 0.0_f64;
        for step in 0..=20_000 {
            let cosine = f64::from(step) / 10_000.0 - 1.0;
            let difference = table.energy(cosine) - directivity.energy(cosine, 343.0);
            worst = difference.0.iter().fold(worst, |worst, value| worst.max(value.abs()));
        }
        assert!(worst < 2e-4, "{directivity:?}: {worst}");
        assert_eq!(table.mean_energy(), directivity.mean_energy(343.0));
    }
}

#[test]
fn exact_mean_of_the_table_over_directions() {
    // A mean over equal steps of the cosine is the mean over the sphere.
    for directivity in [Directivity::Piston { radius: 0.08 }, Directivity::Forward] {
        let table = DirectivityTable::new(directivity, 343.0);
        let steps = 20_000;
        let mut mean = Bands::splat(0.0);
        for step in 0..steps {
            mean = mean + table.energy((f64::from(step) + 0.5) * 2.0 / f64::from(steps) - 1.0) * (1.0 / f64::from(steps));
        }
        for band in Band::ALL {
            assert!((mean[band] - table.mean_energy()[band]).abs() < 1e-4, "{}", band.label());
        }
    }
}

#[test]
fn exact_microphone_patterns() {
    assert_eq!(Pattern { omni: 1.0 }.energy(-0.3), 1.0);
    assert_eq!(Pattern { omni: 0.5 }.energy(-1.0), 0.0);
    assert_eq!(Pattern { omni: 0.0 }.energy(0.0), 0.0);
    // Random efficiency: cardioid and figure of eight take in a third of a diffuse field, a hypercardioid a quarter.
    for (omni, mean) in [(1.0, 1.0), (0.5, 1.0 / 3.0), (0.0, 1.0 / 3.0), (0.25, 0.25)] {
        assert!((Pattern { omni }.mean_energy() - mean).abs() < 1e-12);
    }
}
