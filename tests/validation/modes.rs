//! Modes of rigid boxes, mode counts and Schroeder's frequency.

use glam::DVec3;
use roomwright::modes::{self, mode_count, schroeder, shoebox};

use super::{Check, rounding};

const SIZE: DVec3 = DVec3::new(5.1, 3.9, 2.6);

/// The first modes of a rigid box of 5.1 x 3.9 x 2.6 m at 343.0 m/s in Hz; closed form, computed independently and confirmed by finite elements within 0.4 %.
const SHOEBOX: [([u32; 3], &str); 30] = [
    ([1, 0, 0], "33.6275"),
    ([0, 1, 0], "43.9744"),
    ([1, 1, 0], "55.3584"),
    ([0, 0, 1], "65.9615"),
    ([2, 0, 0], "67.2549"),
    ([1, 0, 1], "74.0387"),
    ([0, 1, 1], "79.2759"),
    ([2, 1, 0], "80.3552"),
    ([1, 1, 1], "86.1131"),
    ([0, 2, 0], "87.9487"),
    ([1, 2, 0], "94.1583"),
    ([2, 0, 1], "94.2027"),
    ([3, 0, 0], "100.8824"),
    ([2, 1, 1], "103.9610"),
    ([0, 2, 1], "109.9359"),
    ([3, 1, 0], "110.0500"),
    ([2, 2, 0], "110.7168"),
    ([1, 2, 1], "114.9639"),
    ([3, 0, 1], "120.5329"),
    ([3, 1, 1], "128.3040"),
    ([2, 2, 1], "128.8764"),
    ([0, 0, 2], "131.9231"),
    ([0, 3, 0], "131.9231"),
    ([3, 2, 0], "133.8366"),
    ([4, 0, 0], "134.5098"),
    ([1, 0, 2], "136.1415"),
    ([1, 3, 0], "136.1415"),
    ([0, 1, 2], "139.0591"),
    ([4, 1, 0], "141.5155"),
    ([1, 1, 2], "143.0673"),
];

/// Reverberation time in s, volume in m3, Schroeder's frequency in Hz; `2000 sqrt(T / V)`, computed independently.
const SCHROEDER: [(f64, f64, &str); 12] = [
    (0.2, 20.0, "200.0"),
    (0.3, 20.0, "244.9"),
    (0.5, 20.0, "316.2"),
    (0.2, 30.0, "163.3"),
    (0.3, 30.0, "200.0"),
    (0.5, 30.0, "258.2"),
    (0.2, 50.0, "126.5"),
    (0.3, 50.0, "154.9"),
    (0.5, 50.0, "200.0"),
    (0.2, 100.0, "89.4"),
    (0.3, 100.0, "109.5"),
    (0.5, 100.0, "141.4"),
];

/// Modes of the same box in third octaves from 20 Hz, computed independently.
const THIRD_OCTAVES: [usize; 11] = [0, 0, 1, 1, 1, 2, 5, 7, 11, 22, 45];

pub(crate) fn checks() -> Vec<Check> {
    let modes = shoebox(SIZE, 343.0, 150.0);
    let mut checks: Vec<Check> = SHOEBOX
        .into_iter()
        .zip(&modes)
        .map(|((indices, printed), mode)| Check {
            what: format!("mode {indices:?} of 5.1 x 3.9 x 2.6 m, Hz"),
            ours: mode.frequency,
            expected: printed.parse().expect("a number"),
            tolerance: rounding(printed),
            why: "printed digits",
            source: "rigid box, closed form, computed independently, confirmed by finite elements",
        })
        .collect();
    checks.extend(SCHROEDER.into_iter().map(|(time, volume, printed)| Check {
        what: format!("Schroeder's frequency, {time} s, {volume} m3, Hz"),
        ours: schroeder(time, volume),
        expected: printed.parse().expect("a number"),
        tolerance: rounding(printed),
        why: "printed digits",
        source: "Schroeder and Kuttruff (1962), computed independently",
    }));
    checks.push(Check {
        what: "modes below 100 Hz, counted".to_owned(),
        ours: shoebox(SIZE, 343.0, 100.0).len() as f64,
        expected: 12.0,
        tolerance: 0.0,
        why: "a count",
        source: "rigid box, closed form, computed independently",
    });
    checks.push(Check {
        what: "modes below 100 Hz, smoothed".to_owned(),
        ours: mode_count(100.0, 5.1 * 3.9 * 2.6, 2.0 * (5.1 * 3.9 + 5.1 * 2.6 + 3.9 * 2.6), 4.0 * (5.1 + 3.9 + 2.6), 343.0),
        expected: 12.84,
        tolerance: rounding("12.84"),
        why: "printed digits",
        source: "smoothed mode count of a box, computed independently",
    });
    for (index, expected) in THIRD_OCTAVES.into_iter().enumerate() {
        let center = 1000.0 * 10.0_f64.powf((index as f64 - 17.0) / 10.0);
        let half = 10.0_f64.powf(0.05);
        let modes = shoebox(SIZE, 343.0, 400.0);
        checks.push(Check {
            what: format!("modes in the third octave at {center:.1} Hz"),
            ours: modes.iter().filter(|mode| (center / half..center * half).contains(&mode.frequency)).count() as f64,
            expected: expected as f64,
            tolerance: 0.0,
            why: "a count",
            source: "rigid box, closed form, computed independently",
        });
    }
    checks
}

#[test]
fn exact_order_of_the_modes() {
    for ((indices, _), mode) in SHOEBOX.into_iter().zip(shoebox(SIZE, 343.0, 150.0)) {
        assert_eq!(indices, mode.indices);
        assert_eq!(mode.dimensions(), indices.iter().filter(|&&index| index > 0).count());
    }
}

#[test]
fn exact_axial_modes() {
    assert_eq!(modes::axial(3.43, 343.0, 3).collect::<Vec<_>>(), [50.0, 100.0, 150.0]);
}

#[test]
fn keeps_a_list_finite_whatever_is_asked() {
    assert!(shoebox(SIZE, 343.0, 1e9).len() <= modes::GREATEST_MODE_COUNT);
    assert!(shoebox(DVec3::new(1e12, 1e-3, 1e-3), 343.0, 1e9).len() <= modes::GREATEST_MODE_COUNT);
    assert!(shoebox(DVec3::new(0.0, 1.0, 1.0), 343.0, 100.0).is_empty());
    assert!(shoebox(SIZE, f64::NAN, 100.0).is_empty());
    assert!(shoebox(SIZE, 343.0, f64::NAN).is_empty());
}
