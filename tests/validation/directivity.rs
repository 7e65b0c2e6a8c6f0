//! Directivity of sources and microphones.

use roomwright::bands::{Band, Bands};
use roomwright::directivity::polar::Polar;
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
    checks.push(Check {
        what: "half-power point of the piston's beam, ka sin(theta) where (2 J1(x) / x)^2 = 1/2".to_owned(),
        ours: half_power(),
        expected: 1.616,
        tolerance: rounding("1.616"),
        why: "printed digits",
        source: "Kinsler and Frey, Fundamentals of Acoustics, radiation of a circular piston (from memory)",
    });
    for (ka, angle) in [(1.0, 60.0), (3.0, 32.6), (5.0, 90.0), (10.0, 30.0), (30.0, 12.5)] {
        checks.push(Check {
            what: format!("energy of a piston of ka {ka} at {angle} degrees, re its axis"),
            ours: piston(ka * f64::to_radians(angle).sin()),
            expected: integral_piston(ka * f64::to_radians(angle).sin()),
            tolerance: 1e-6,
            why: "the bar for directivity; J1 keeps 1e-10",
            source: "(2 J1(x) / x)^2, J1 by Bessel's integral (Abramowitz and Stegun 1964, 9.1.21, from memory)",
        });
    }
    checks.extend(polar_checks());
    for radius in [0.02, 0.065, 0.1] {
        let speed = 343.0;
        let band = Band::new(5);
        // The exact mean over the half sphere in front, and the value at 90 degrees behind.
        let expected = octave_mean(band, speed, |wavenumber| {
            let ka = wavenumber * radius;
            let front = 2.0 * (1.0 - integral_j1(2.0 * ka) / ka) / (ka * ka);
            0.5 * (front + integral_piston(ka))
        });
        checks.push(Check {
            what: format!("mean energy of a piston of {radius} m, {}", band.label()),
            ours: Directivity::Piston { radius }.mean_energy(speed)[band],
            expected,
            tolerance: 1e-6,
            why: "the bar for directivity",
            source: "directivity factor (ka)^2 / (1 - J1(2 ka) / ka) of a piston in a wall, closed form (Beranek 1954, from memory)",
        });
    }
    checks.extend(octave_checks());
    checks
}

/// What images, edges and rays read of a piston by octave.
fn octave_checks() -> Vec<Check> {
    let speed = 343.0;
    let mut checks = Vec::new();
    for (radius, octave, angle) in [(0.065, 4000, 35.0), (0.065, 8000, 3.1), (0.065, 8000, 62.0), (0.2, 1000, 47.0), (0.5, 8000, 0.7)] {
        let band = Band::ALL.into_iter().find(|band| band.nominal() == octave).expect("an octave");
        let angle_rad = f64::to_radians(angle);
        checks.push(Check {
            what: format!("energy of a piston of {radius} m at {angle} degrees as images, edges and rays read it, {}, re its axis", band.label()),
            ours: DirectivityTable::new(Directivity::Piston { radius }, speed).energy(angle_rad.cos())[band],
            expected: octave_mean(band, speed, |wavenumber| integral_piston(wavenumber * radius * angle_rad.sin())),
            tolerance: 1e-6,
            why: "the bar for directivity",
            source: "(2 J1(x) / x)^2, J1 by Bessel's integral (Abramowitz and Stegun 1964, 9.1.21, from memory), mean over the octave by Simpson's rule",
        });
    }
    checks
}

/// The mean over an octave, on a logarithmic scale, of what depends on the wavenumber in 1/m: Simpson's rule, off by less than 1e-8 for pistons of up to 0.5 m.
fn octave_mean(band: Band, speed: f64, value: impl Fn(f64) -> f64) -> f64 {
    let steps = 200;
    let at = |step: u32| {
        let frequency = band.lower() * (band.upper() / band.lower()).powf(f64::from(step) / f64::from(steps));
        value(std::f64::consts::TAU * frequency / speed)
    };
    let inner: f64 = (1..steps).map(|step| if step % 2 == 1 { 4.0 } else { 2.0 } * at(step)).sum();
    (at(0) + inner + at(steps)) / f64::from(3 * steps)
}

/// Where our own piston has lost half its energy.
fn half_power() -> f64 {
    let (mut low, mut high) = (1.0_f64, 2.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if piston(middle) > 0.5 { low = middle } else { high = middle }
    }
    low
}

/// `(2 J1(x) / x)^2` by Bessel's integral.
fn integral_piston(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { (2.0 * integral_j1(x) / x).powi(2) }
}

/// A loudspeaker as measured: a lobe beside the axis, a dip, a loud rear; 8 kHz and what is below 500 Hz not given.
fn measured() -> Polar {
    let angles = [0.0, 12.5, 20.0, 45.0, 60.0, 90.0, 127.0, 150.0, 180.0];
    let mut levels = Bands([const { None }; 8]);
    levels.0[3] = Some(vec![0.0, -0.1, -0.5, -1.5, -3.0, -6.0, -9.0, -10.0, -9.5]);
    levels.0[4] = Some(vec![0.0, 0.0, -1.0, -4.0, -7.5, -12.0, -14.0, -15.5, -13.0]);
    levels.0[5] = Some(vec![0.0, 1.5, 2.5, -3.0, -22.0, -11.0, -16.0, -20.0, -18.0]);
    levels.0[6] = Some(vec![0.0, -2.0, -5.0, -14.0, -9.0, -20.0, -35.0, -60.0, -24.0]);
    Polar::new(&angles, &levels).expect("sound data")
}

/// An arc whose octave at 1 kHz, and with it all others, has these levels.
fn arc(angles: &[f64], levels: &[f64]) -> Option<Polar> {
    Polar::new(angles, &Bands::from_fn(|band| (band.nominal() == 1000).then(|| levels.to_vec())))
}

fn polar_checks() -> Vec<Check> {
    let at = Band::new(4);
    let mut checks = Vec::new();
    for fall in [0.0, 6.0, 20.0, 60.0] {
        // exp(k theta) over the sphere: (1 + exp(k pi)) / (2 (k^2 + 1)).
        let k = -fall * std::f64::consts::LN_10 / (10.0 * std::f64::consts::PI);
        checks.push(Check {
            what: format!("mean energy of polar data that fall by {fall} dB from the axis to the rear"),
            ours: arc(&[0.0, 55.0, 180.0], &[0.0, -fall * 55.0 / 180.0, -fall]).expect("sound data").mean_energy()[at],
            expected: (1.0 + (k * std::f64::consts::PI).exp()) / (2.0 * (k * k + 1.0)),
            tolerance: 1e-12,
            why: "rounding",
            source: "closed form: the mean of exp(k theta) over the sphere is (1 + exp(k pi)) / (2 (k^2 + 1))",
        });
    }
    // A cardioid every 5 degrees; the zero at the rear stands at the least level that may be given.
    let angles: Vec<f64> = (0..=36).map(|step| 5.0 * f64::from(step)).collect();
    let levels: Vec<f64> = angles.iter().map(|angle: &f64| (20.0 * (0.5 + 0.5 * angle.to_radians().cos()).log10()).max(-60.0)).collect();
    checks.push(Check {
        what: "mean energy of a cardioid given every 5 degrees".to_owned(),
        ours: arc(&angles, &levels).expect("sound data").mean_energy()[at],
        expected: 1.0 / 3.0,
        tolerance: 5e-4,
        why: "decibels linear between steps of 5 degrees",
        source: "closed form: random efficiency of a cardioid, 1/3",
    });
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

/// Over ka from 0.1 to 30 and all angles from 0 to 90 degrees: J1 and the energy to 1e-6 of that on the axis, and so the mean over an octave.
#[test]
fn exact_piston_against_the_integral() {
    let (mut worst, mut count) = (0.0_f64, 0);
    for step in 1..=300 {
        let ka = 0.1 * f64::from(step);
        for angle in 0..=180 {
            let x = ka * (0.5 * f64::from(angle)).to_radians().sin();
            worst = worst.max((piston(x) - integral_piston(x)).abs()).max((bessel_j1(x) - integral_j1(x)).abs());
            count += 1;
        }
    }
    assert!(worst < 1e-6, "off by {worst} at the worst of {count} points");
}

/// Over every octave, the least, usual and greatest pistons that a scene may hold, in cold and hot air: the law, and what images, edges and rays read, within 1e-6 of the
/// energy on the axis of the exact mean over the octave. Angles lie densest near the axis, and between the steps of the table.
#[test]
fn exact_octaves_of_a_piston_and_of_its_table() {
    for (radius, speed) in [(0.005, 343.0), (0.013, 331.0), (0.065, 343.0), (0.1, 355.0), (0.2, 343.0), (0.5, 319.0)] {
        let directivity = Directivity::Piston { radius };
        let table = DirectivityTable::new(directivity, speed);
        for step in 0..=120 {
            // From the axis to the side and as far again behind it.
            let angle = std::f64::consts::FRAC_PI_2 * (f64::from(step) / 100.0).powi(2);
            let sine = angle.min(std::f64::consts::FRAC_PI_2).sin();
            for band in Band::ALL {
                let expected = octave_mean(band, speed, |wavenumber| integral_piston(wavenumber * radius * sine));
                for (what, ours) in [("law", directivity.energy(angle.cos(), speed)), ("table", table.energy(angle.cos()))] {
                    let off = (ours[band] - expected).abs();
                    assert!(off < 1e-6, "{what} of a piston of {radius} m, {} at {angle} rad: off by {off}", band.label());
                }
            }
        }
    }
}

/// At the angles the levels that were given, halfway between two the mean of both in decibels; octaves not given as the nearest.
#[test]
fn exact_levels_of_measured_data() {
    let polar = measured();
    let angles = polar.angles_deg();
    for band in Band::ALL {
        let levels = polar.given_db(polar.taken_from(band)).expect("taken from an octave that is given");
        let found = |angle: f64| 10.0 * polar.energy(angle.to_radians().cos())[band].log10();
        for (&angle, &level) in angles.iter().zip(&levels) {
            assert!((found(angle) - level).abs() < 1e-6, "{} at {angle}: {} is not {level}", band.label(), found(angle));
        }
        for (angles, levels) in angles.windows(2).zip(levels.windows(2)) {
            let (angle, level) = (0.5 * (angles[0] + angles[1]), 0.5 * (levels[0] + levels[1]));
            assert!((found(angle) - level).abs() < 1e-6, "{} at {angle}: {} is not {level}", band.label(), found(angle));
        }
    }
    let taken = Band::ALL.map(|band| polar.taken_from(band).index());
    assert_eq!(taken, [3, 3, 3, 3, 4, 5, 6, 6]);
    assert_eq!(polar.energy(1.0), Bands::splat(1.0));
    // Beyond the last angle its level holds.
    let half = arc(&[0.0, 90.0], &[0.0, -6.0]).expect("sound data");
    assert_eq!(half.level_db(135.0), half.level_db(90.0));
    assert_eq!(half.level_db(180.0), Bands::splat(-6.0));
}

#[test]
fn exact_mean_of_measured_data_against_a_fine_sum() {
    for polar in [measured(), arc(&[0.0, 1.0, 100.0], &[0.0, -60.0, 20.0]).expect("sound data")] {
        let steps = 360_000;
        let mut sum = Bands::splat(0.0);
        for step in 0..steps {
            let angle = (f64::from(step) + 0.5) * 180.0 / f64::from(steps);
            sum = sum + polar.level_db(angle).map(|level| 10.0_f64.powf(0.1 * level)) * angle.to_radians().sin();
        }
        let mean = sum * (0.5 * std::f64::consts::PI / f64::from(steps));
        for band in Band::ALL {
            let exact = polar.mean_energy()[band];
            assert!((mean[band] - exact).abs() < 1e-8 * exact.max(1.0), "{}: {} is not {exact}", band.label(), mean[band]);
        }
    }
}

#[test]
fn keeps_unsound_data_out() {
    let refused = |angles: &[f64], levels: &[f64]| arc(angles, levels).is_none();
    assert!(!refused(&[0.0, 90.0], &[0.0, -3.0]));
    assert!(refused(&[0.0, 80.0], &[0.0, -3.0]), "ends before the side");
    assert!(refused(&[0.0, 181.0], &[0.0, -3.0]), "more than half a turn");
    assert!(refused(&[1.0, 90.0], &[0.0, -3.0]), "does not begin on the axis");
    assert!(refused(&[0.0, 50.0, 50.0, 90.0], &[0.0; 4]), "does not rise");
    assert!(refused(&[0.0, f64::NAN, 90.0], &[0.0; 3]), "no number");
    assert!(refused(&[0.0, 90.0], &[0.0]), "a level too few");
    assert!(refused(&[0.0, 90.0], &[1.0, 0.0]), "not re the axis");
    assert!(refused(&[0.0, 90.0], &[0.0, f64::NAN]), "no number");
    assert!(refused(&[0.0, 90.0], &[0.0, 21.0]), "louder than can be");
    assert!(refused(&[], &[]), "nothing");
    let angles: Vec<f64> = (0..38).map(|step| 4.0 * f64::from(step)).collect();
    assert!(refused(&angles, &[0.0; 38]), "too many");
    let gap = Bands::from_fn(|band| [500, 2000].contains(&band.nominal()).then(|| vec![0.0, -3.0]));
    assert!(Polar::new(&[0.0, 90.0], &gap).is_none(), "1 kHz is left out");
    assert!(Polar::new(&[0.0, 90.0], &Bands([const { None }; 8])).is_none(), "no octave");
}

/// What the findings say of each kind: nothing of an omni source, that the box is not modeled, that the law has no source, what was filled.
#[test]
fn keeps_limits_in_words() {
    let said = |directivity: Directivity| directivity.limits().join(" ");
    assert_eq!(said(Directivity::Omni), "");
    assert!(said(Directivity::Piston { radius: 0.1 }).contains("the box, its edges and its shadow are not modeled"));
    assert!(said(Directivity::Forward).contains("common practice without a source"));
    let polar = said(Directivity::Polar(measured()));
    assert!(
        polar.contains("every direction round its axis") && polar.contains("250 Hz as 500 Hz") && polar.contains("8 kHz as 4 kHz"),
        "{polar}"
    );
    assert!(!polar.contains("beyond"), "{polar}");
    let half = said(Directivity::Polar(arc(&[0.0, 120.0], &[0.0, -6.0]).expect("sound data")));
    assert!(half.contains("beyond 120 degrees"), "{half}");
}

#[test]
fn exact_axis_is_one_and_the_rear_holds_the_side() {
    for directivity in [Directivity::Omni, Directivity::Piston { radius: 0.08 }, Directivity::Forward, Directivity::Polar(measured())] {
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

/// The table against the law at 20,001 places evenly spread over the cosine and as many crowded to the axis, where a beam is narrowest: within 2e-7 of the axis, and where
/// the beam is weak within a ten-thousandth of itself (0.0005 dB). What is not a piston is read as it is.
#[test]
fn keeps_the_table_within_its_stated_error() {
    let pistons = [0.005, 0.013, 0.08, 0.2, 0.5].map(|radius| Directivity::Piston { radius });
    for directivity in pistons.into_iter().chain([Directivity::Omni, Directivity::Forward, Directivity::Polar(measured())]) {
        let table = DirectivityTable::new(directivity, 343.0);
        let (mut worst, mut share) = (0.0_f64, 0.0_f64);
        for step in 0..=20_000 {
            let place = f64::from(step) / 10_000.0 - 1.0;
            for cosine in [place, 1.0 - 0.05 * (1.0 + place).powi(2)] {
                let exact = directivity.energy(cosine, 343.0);
                let off = (table.energy(cosine) - exact).map(f64::abs);
                worst = off.0.into_iter().fold(worst, f64::max);
                share = off.zip(exact, |off, exact| off / exact).0.into_iter().fold(share, f64::max);
            }
        }
        let most = if matches!(directivity, Directivity::Piston { .. }) { (2e-7, 1e-4) } else { (0.0, 0.0) };
        assert!(worst <= most.0 && share <= most.1, "{directivity:?}: {worst}, {share} of itself");
        assert_eq!(table.mean_energy(), directivity.mean_energy(343.0));
    }
}

#[test]
fn exact_mean_of_the_table_over_directions() {
    // A mean over equal steps of the cosine is the mean over the sphere.
    for directivity in [Directivity::Piston { radius: 0.08 }, Directivity::Forward, Directivity::Polar(measured())] {
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
