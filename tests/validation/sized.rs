//! Panels of finite size: published formula computed independently, the round piston in closed form, and the limits of the radiation impedance.

use std::f64::consts::PI;

use glam::{DVec2, DVec3};
use num_complex::Complex64;
use roomwright::absorbers::sized::{Array, Rectangle, endless_absorption, impedance, mutual_impedance};
use roomwright::absorbers::{BuildUp, Finish};
use roomwright::bands::{Band, Bands};
use roomwright::geometry::Polygon;
use roomwright::hanging::{Flat, Hanging, Neighbors, Patch, margins};
use roomwright::weigh::Linings;

use super::{Check, rounding};

const TABLE: &str = include_str!("../cases/finite_size.csv");

/// Speed of sound in the case file, m/s.
pub(crate) const SPEED: f64 = 343.2;

/// Locally reacting surface impedance, re air, of a porous layer before a rigid wall at normal incidence: Miki's constants and the text book's two-layer formula.
pub(crate) fn layer(frequency: f64, flow_resistivity: f64, thickness: f64, gap: f64) -> Complex64 {
    let x: f64 = frequency / flow_resistivity;
    let k0 = 2.0 * PI * frequency / SPEED;
    let own = Complex64::new(1.0 + 0.070 * x.powf(-0.632), -0.107 * x.powf(-0.632));
    let k = k0 * Complex64::new(1.0 + 0.109 * x.powf(-0.618), -0.160 * x.powf(-0.618));
    let cot = (k * thickness).tan().inv();
    let j = Complex64::i();
    if gap == 0.0 {
        return -j * own * cot;
    }
    let behind = -j / (k0 * gap).tan();
    own * (own - j * behind * cot) / (behind - j * own * cot)
}

pub(crate) fn checks() -> Vec<Check> {
    let mut checks = layers();
    checks.extend(piston());
    checks.extend(limits());
    checks.extend(apart());
    checks.push(rate());
    checks.extend(carried());
    checks
}

fn layers() -> Vec<Check> {
    let mut checks = Vec::new();
    for line in TABLE.lines().skip(3) {
        let fields: Vec<&str> = line.split(',').collect();
        let number = |index: usize| fields[index].parse::<f64>().expect("a number");
        let (frequency, z) = (number(5), layer(number(5), number(3), number(2), number(4)));
        let array = Array::single(number(0), number(1)).expect("a size");
        let what = format!("{} m, {} Pa s/m2, gap {} m, {frequency} Hz", fields[2], fields[3], fields[4]);
        checks.push(Check {
            what: format!("{} x {} m of {what}", fields[0], fields[1]),
            ours: array.absorption(frequency, |_| z),
            expected: number(6),
            tolerance: rounding(fields[6]) + 5e-4 * number(6),
            why: "printed digits, and five ten-thousandths for a reference converged to 1e-4",
            source: "Thomasson (1980), Miki (1990), computed independently, converged to 1e-4",
        });
        checks.push(Check {
            what: format!("endless, {what}"),
            ours: endless_absorption(|_| z),
            expected: number(7),
            tolerance: rounding(fields[7]) + 1e-4,
            why: "printed digits, and a reference converged to 1e-4",
            source: "Paris integral of a locally reacting layer, Miki (1990), computed independently",
        });
    }
    checks
}

/// `1 - J1(2 ka) / ka + j H1(2 ka) / ka`, by the series of Bessel's and Struve's functions.
fn piston_impedance(ka: f64) -> Complex64 {
    let x = 2.0 * ka;
    let (mut bessel, mut term) = (0.0, 0.5 * x);
    for step in 1..60 {
        bessel += term;
        term *= -0.25 * x * x / (f64::from(step) * f64::from(step + 1));
    }
    let (mut struve, mut term) = (0.0, 2.0 / PI * x * x / 3.0);
    for step in 1..60 {
        struve += term;
        term *= -x * x / (f64::from(2 * step + 1) * f64::from(2 * step + 3));
    }
    Complex64::new(1.0 - bessel / ka, struve / ka)
}

fn piston() -> Vec<Check> {
    // The covariance of a disc of 1 m is the area of the lens of two discs.
    let lens = |distance: f64| {
        let half = (0.5 * distance).min(1.0);
        2.0 * half.acos() - 2.0 * half * (1.0 - half * half).sqrt()
    };
    let row = |ka: f64| {
        let ours = impedance(lens, &[0.0, 2.0], ka, &[1.0])[0];
        let expected = piston_impedance(ka);
        let check = |part: &str, ours, expected| Check {
            what: format!("{part} of a round piston, k a = {ka}"),
            ours,
            expected,
            tolerance: 1e-6,
            why: "Bessel's function is tabled to 1e-6",
            source: "1 - J1(2 ka) / ka + j H1(2 ka) / ka (Rayleigh), series summed in the test",
        };
        [check("resistance", ours.re, expected.re), check("reactance", ours.im, expected.im)]
    };
    [0.1, 0.5, 1.0, 2.0, 5.0].into_iter().flat_map(row).collect()
}

/// The mean of `1 / R` over all pairs of points of a rectangle, times its area squared.
fn mean_potential(a: f64, b: f64) -> f64 {
    let diagonal = a.hypot(b);
    2.0 * a * b * (a * (b / a).asinh() + b * (a / b).asinh()) + 2.0 / 3.0 * (a.powi(3) + b.powi(3) - diagonal.powi(3))
}

fn limits() -> Vec<Check> {
    let mut checks = Vec::new();
    let (a, b) = (1.2, 0.6);
    let array = Array::single(a, b).expect("a size");
    let frequency = 1.0;
    let k = 2.0 * PI * frequency / SPEED;
    for (at, ours) in [1.0, 0.5, 0.0].into_iter().zip(array.radiation_impedance(frequency, &[1.0, 0.5, 0.0])) {
        checks.push(Check {
            what: format!("resistance of a small rectangle at cosine {at}, by k^2 S / 2 pi"),
            ours: ours.re / (k * k * a * b / (2.0 * PI)),
            expected: 1.0,
            tolerance: 1e-4,
            why: "the next term is (k D)^2 / 6 and the like, k D = 0.025",
            source: "point source in a hard wall, closed form",
        });
        checks.push(Check {
            what: format!("reactance of a small rectangle at cosine {at}, by k"),
            ours: ours.im / k,
            expected: mean_potential(a, b) / (2.0 * PI * a * b),
            tolerance: 1e-4,
            why: "the next term is (k D)^2, k D = 0.025",
            source: "mean potential of a rectangle, closed form",
        });
    }
    // k L so large that the perimeter's share j P / (pi k S c^3) is all that is left of the size, and itself small.
    let large = Array::single(8.0, 6.0).expect("a size");
    let frequency = 8_000.0;
    let k = 2.0 * PI * frequency / SPEED;
    for (cosine, ours) in [1.0, 0.7, 0.4].into_iter().zip(large.radiation_impedance(frequency, &[1.0, 0.7, 0.4])) {
        let first = 28.0 / (PI * k * 48.0 * f64::powi(cosine, 3));
        for (part, ours, expected) in [("resistance", ours.re, 1.0 / cosine), ("reactance", ours.im, first)] {
            checks.push(Check {
                what: format!("{part} of a large rectangle at cosine {cosine}"),
                ours,
                expected,
                tolerance: 0.3 * first,
                why: "what follows falls as a higher power of k L (here 1,000), against the perimeter's share",
                source: "1 / cos and j P / (pi k S cos^3): area and perimeter of the set covariance, closed form",
            });
        }
    }
    checks
}

fn apart() -> Vec<Check> {
    let one = Rectangle::sized(0.02, 0.01).expect("a size");
    let other = Rectangle::sized(0.01, 0.03).expect("a size").moved(DVec2::new(4.0, 3.0));
    let k = 3.0;
    let row = |cosine: f64| {
        let ours = mutual_impedance(&one, &other, k, cosine);
        let distance = (DVec2::new(4.0, 3.0) + DVec2::new(0.005 - 0.01, 0.015 - 0.005)).length();
        let sine = (1.0 - cosine * cosine).sqrt();
        // The mean over the direction of incidence of the phase between two points.
        let phase = (0..400).map(|step| (k * sine * distance * (PI * (f64::from(step) + 0.5) / 400.0).cos()).cos()).sum::<f64>() / 400.0;
        let expected = Complex64::i() * k * other.area() / (2.0 * PI * distance) * Complex64::from_polar(1.0, -k * distance) * phase;
        let check = |part: &str, ours, expected| Check {
            what: format!("mutual {part} of two small rectangles 5 m apart at cosine {cosine}, x 100,000"),
            ours: 1e5 * ours,
            expected: 1e5 * expected,
            tolerance: 1e5 * 1e-3 * k * other.area() / (2.0 * PI * distance),
            why: "a thousandth of its size: rectangles are no points by (k L)^2 / 24 for each side, 5e-4 in all",
            source: "sound of a point in a hard wall and the mean phase of a plane wave, closed form",
        };
        [check("resistance", ours.re, expected.re), check("reactance", ours.im, expected.im)]
    };
    [1.0, 0.5].into_iter().flat_map(row).collect()
}

/// How fast a growing rectangle tends to the endless value.
fn rate() -> Check {
    let frequency = 500.0;
    let z = layer(frequency, 20_000.0, 0.05, 0.0);
    let k = 2.0 * PI * frequency / SPEED;
    // Excess by P / S; it should be K + C / sqrt(L), so two sizes a factor four apart give K.
    let excess = |side: f64| {
        // A midpoint rule of the test's own: so large a rectangle turns within a hundredth of grazing incidence.
        let places: Vec<f64> = (0..1000).map(|step| (f64::from(step) + 0.5) / 1000.0).collect();
        let cosines: Vec<f64> = places.iter().map(|place| place * place).collect();
        let radiation = Array::single(2.0 * side, side).expect("a size").radiation_impedance(frequency, &cosines);
        let of = |zr: Complex64| z.re / (z + zr).norm_sqr();
        let parts = places.iter().zip(&cosines).zip(radiation);
        let sum: f64 = parts.map(|((place, &cosine), zr)| 2.0 * place * (of(zr) - of(Complex64::from(1.0 / cosine)))).sum();
        8.0 * sum / 1000.0 * side / 3.0
    };
    let integral =
        (0..4000).map(|step| (f64::from(step) + 0.5) / 4000.0).map(|c| c / (1.0 + z * c).norm_sqr().powi(2)).sum::<f64>() / 4000.0;
    Check {
        what: "excess of large samples by perimeter / area, m (50 mm, 20,000 Pa s/m2, 500 Hz)".to_owned(),
        ours: 2.0 * excess(64.0) - excess(16.0),
        expected: -16.0 * z.re * z.im / (PI * k) * integral,
        tolerance: 5e-4,
        why: "one hundredth of it: sides of 16 and 64 m leave the next power of the wavelength by the size",
        source: "first-order perturbation by j P / (pi k S cos^3), closed form",
    }
}

/// One panel, a touching row and one with gaps on the wall of a room, as rays meet patches and margins; an octave is the mean over 40 tones here, each by the formula.
fn carried() -> Vec<Check> {
    let room = crate::rays::uniform_box([6.1, 4.3, 3.0], 0.05, Bands::splat(0.2), DVec3::ONE, DVec3::splat(2.0));
    let build_up = BuildUp::panel(20_000.0, 0.05, 0.0);
    let finishes = [Finish::of("fiber", &build_up, Bands::splat(0.1))];
    let row = |count: usize, gap: f64| -> Vec<Rectangle> {
        let panel = Rectangle::sized(0.6, 1.2).expect("a size");
        (0..count).map(|index| panel.moved(DVec2::new(1.2 + index as f64 * (0.6 + gap), 0.9))).collect()
    };
    let mut checks = Vec::new();
    for (name, panels) in
        [("one panel of 0.6 x 1.2 m", row(1, 0.0)), ("four of them touching", row(4, 0.0)), ("four with gaps of 0.3 m", row(4, 0.3))]
    {
        let flat: Vec<Flat<'_>> =
            panels.iter().map(|&rectangle| Flat { surface: "wall 0", rectangle, finish: 0, is_body: false }).collect();
        let patch = |one: &Rectangle| Patch { surface: 0, region: Polygon::rectangle(one.low, one.high), finish: 0 };
        let patches = panels.iter().map(patch).collect();
        let hanging = Hanging { finishes: finishes.to_vec(), patches, margins: margins(&room, &finishes, &flat, &[], Neighbors::Heard) };
        let losses = Linings::new(&room, &hanging).diffuse_losses(&room, 0);
        let array = Array::new(&panels).expect("an area");
        for band in [Band::new(1), Band::new(2), Band::new(3), Band::new(4), Band::new(6)] {
            let tones = (0..40).map(|tone| band.lower() * (band.upper() / band.lower()).powf((f64::from(tone) + 0.5) / 40.0));
            let mean =
                tones.map(|frequency| array.absorption(frequency, |cosine| build_up.surface_impedance(frequency, cosine))).sum::<f64>()
                    / 40.0;
            checks.push(Check {
                what: format!("{name}, 50 mm of 20,000 Pa s/m2, as rays meet it, {}: m2", band.label()),
                ours: losses[band] - 0.05 * (6.1 * 3.0 - array.area()),
                expected: mean * array.area(),
                tolerance: 0.01 * mean * array.area(),
                why: "one percent: nine tones an octave for forty (0.3 %), pairs that are not heard of each other (0.3 %), patches",
                source: "Thomasson (1980), Miki (1990), tone by tone",
            });
        }
    }
    checks
}
