//! The radiation impedance of a figure in a hard wall whose parts move as a plane wave sweeps over them.
//!
//! A wave at angle `theta` (cosine `c`, sine `s`) moves every point of the figure alike but for the phase `e^(-j k s (x cos phi + y sin phi))`. The pressure that this
//! motion makes of itself, averaged over the figure with the phase turned back, is the impedance re air
//!
//! `zr = (j k / 2 pi S) Int Int e^(-j k R) / R e^(j k s (r - r0) . e_phi) dS dS0`, `R = |r - r0|`
//!
//! four integrals. The integrand knows the two points by `r - r0` only, and the pairs of points at a given difference fill what the figure shares with itself moved by
//! it. So two integrals are the set covariance; averaged over `phi`, the phase is Bessel's `J0(k s R)`, which depends on the distance alone, so the third is the
//! mean of the covariance over directions `C(R)` (`rectangles`, closed), and one integral is left:
//!
//! `zr = (j k / S) Int_0^D e^(-j k R) J0(k s R) C(R) dR`
//!
//! With `C = S` throughout it is `1 / c`, the impedance of a plane wave; with the next term `-R P / pi` it adds `j P / (pi k S c^3)`: perimeter by area. Small figures tend to
//! `Re zr = k^2 S / 2 pi`, at every angle. It is summed by Gauss and Legendre's rule between the bends of `C`, at which it goes as a root.
//!
//! *References.* S.-I. Thomasson, On the absorption coefficient, Acustica 44 (1980) 265 (the impedance and its mean over `phi`; from memory). The reduction to one integral is
//! our own; it is held to published values of the rectangle, to the closed form of a round piston and to both limits (`tests/validation/sized.rs`).
//!
//! *Limits.* An endless hard wall. Errors of the sum are below 1e-5 of the value up to 8 kHz and 8 m.

use std::f64::consts::PI;
use std::sync::LazyLock;

use num_complex::Complex64;

use super::bessel;
use super::rectangles::{Covariance, Rectangle};

/// The rule between two bends.
static GAUSS: LazyLock<[(f64, f64); 10]> = LazyLock::new(gauss);

/// Radians that `k R` may grow by between two sets of nodes; the integrand turns twice as fast.
const PHASE: f64 = 4.0;

/// Nodes along the distance, with what the figure's shape gives to each.
#[derive(Clone, Debug)]
pub(super) struct Nodes {
    distance: Vec<f64>,
    /// Weight of the rule by the covariance, m3.
    weight: Vec<f64>,
}

impl Nodes {
    /// Fine enough for wave numbers up to this, 1/m.
    pub(super) fn new(covariance: impl Fn(f64) -> f64, bends: &[f64], wave_number: f64) -> Self {
        let (mut distance, mut weight) = (Vec::new(), Vec::new());
        for ends in bends.windows(2) {
            let length = ends[1] - ends[0];
            let cells = (length * wave_number / PHASE).ceil().max(1.0) as usize;
            let size = length / cells as f64;
            for cell in 0..cells {
                for (place, share) in *GAUSS {
                    let (place, share) = thickened(place, share, cell == 0, cell + 1 == cells);
                    let at = ends[0] + size * (cell as f64 + place);
                    let shared = covariance(at);
                    // Between figures that lie apart there are distances at which nothing is met.
                    if shared > 0.0 {
                        distance.push(at);
                        weight.push(size * share * shared);
                    }
                }
            }
        }
        Self { distance, weight }
    }

    /// The integral of `e^(-j k R) J0(k s R) C(R)`, times `j k`, for each of these cosines of incidence; m2.
    pub(super) fn radiated(&self, wave_number: f64, cosines: &[f64]) -> Vec<Complex64> {
        let table = bessel::table();
        let parts: Vec<(f64, f64, f64)> = (self.distance.iter().zip(&self.weight))
            .map(|(&distance, &weight)| {
                let phase = wave_number * distance;
                let (sine, cosine) = phase.sin_cos();
                // j k e^(-j phase) = k (sin phase + j cos phase).
                (phase, wave_number * weight * sine, wave_number * weight * cosine)
            })
            .collect();
        let of = |&cosine: &f64| {
            let sine = (1.0 - cosine * cosine).max(0.0).sqrt();
            let (mut re, mut im) = (0.0, 0.0);
            for &(phase, resistive, reactive) in &parts {
                let mean = bessel::j0(table, phase * sine);
                re += resistive * mean;
                im += reactive * mean;
            }
            Complex64::new(re, im)
        };
        cosines.iter().map(of).collect()
    }
}

/// A place in (0, 1) and its weight, drawn towards the ends behind or before which the covariance may go as a root.
fn thickened(place: f64, share: f64, begins: bool, ends: bool) -> (f64, f64) {
    match (begins, ends) {
        (false, false) => (place, share),
        (true, false) => (place * place, 2.0 * place * share),
        (false, true) => (place * (2.0 - place), 2.0 * (1.0 - place) * share),
        (true, true) => (place * place * (3.0 - 2.0 * place), 6.0 * place * (1.0 - place) * share),
    }
}

/// Radiation impedance, re air, of a figure with this set covariance (mean over directions, m2, at a distance in meters) that bends at `bends` (0 first, the figure's
/// diameter last), for each of these cosines of incidence; `wave_number` in 1/m.
#[must_use]
pub fn impedance(covariance: impl Fn(f64) -> f64, bends: &[f64], wave_number: f64, cosines: &[f64]) -> Vec<Complex64> {
    let area = covariance(0.0);
    let radiated = Nodes::new(covariance, bends, wave_number).radiated(wave_number, cosines);
    radiated.into_iter().map(|value| value / area).collect()
}

/// Mutual radiation impedance, re air, of two rectangles in one hard wall: the mean pressure on `one` of a motion of `other`, both as a wave sweeps over them, mean over
/// the directions it may come from. Times the area of `one` it is the same both ways.
#[must_use]
pub fn mutual_impedance(one: &Rectangle, other: &Rectangle, wave_number: f64, cosine: f64) -> Complex64 {
    let covariance = Covariance::between(one, other);
    let radiated = Nodes::new(|distance| covariance.at(distance), &covariance.bends, wave_number).radiated(wave_number, &[cosine]);
    radiated[0] / one.area()
}

/// Places in (0, 1) and weights of Gauss and Legendre's rule: the zeros of Legendre's polynomial by Newton's method.
pub(super) fn gauss<const COUNT: usize>() -> [(f64, f64); COUNT] {
    let count = COUNT as f64;
    std::array::from_fn(|index| {
        let mut zero = (PI * (index as f64 + 0.75) / (count + 0.5)).cos();
        let mut slope = 1.0;
        // From this beginning four steps reach the last bit.
        for _ in 0..8 {
            let (mut before, mut legendre) = (1.0, zero);
            for degree in 2..=COUNT {
                let degree = degree as f64;
                (before, legendre) = (legendre, ((2.0 * degree - 1.0) * zero * legendre - (degree - 1.0) * before) / degree);
            }
            slope = count * (before - zero * legendre) / (1.0 - zero * zero);
            zero -= legendre / slope;
        }
        (0.5 * (1.0 + zero), 1.0 / ((1.0 - zero * zero) * slope * slope))
    })
}
