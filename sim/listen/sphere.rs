//! Sound on a rigid sphere: the pressure at a point of its surface, re what would be at its center without it.
//!
//! For `mu = 2 pi f a / c` and an angle `theta` between the directions to the source and to the point, seen from the center, time going as
//! `e^(+j w t)`:
//!
//! - plane wave: `H = -(j / mu^2) sum (2n + 1) j^n P_n(cos theta) / h_n'(mu)`;
//! - source `rho` radii from the center, re the center at that distance:
//!   `H = -(rho / mu) e^(j mu rho) sum (2n + 1) P_n(cos theta) h_n(mu rho) / h_n'(mu)`;
//!
//! `h_n` the spherical Hankel function of the second kind. Hankel functions and Legendre polynomials grow by their upward recurrences: of
//! the former the part that grows outweighs the part whose error grows. Sums end where three terms in a row are below 1e-13 of what is
//! there; at 0 Hz both are taken at `mu = 1e-4`, where a plane wave is 1 within 2e-8.
//!
//! *References.* R. O. Duda and W. L. Martens, "Range dependence of the response of a spherical head model", J. Acoust. Soc. Am. 104 (1998)
//! 3048 (from memory; the sums are checked against values that were computed apart from this program, `tests/listen.rs`).
//!
//! *Limits.* A hard ball: no outer ear, no shoulders, nothing that tells above from below or front from back. Up to `mu` = 1000 (tested);
//! sources down to 1.2 radii for `mu` of 0.01 and more.

use num_complex::Complex64;

/// `mu` that stands for 0 Hz.
const LOWEST: f64 = 1e-4;
/// Terms below this share of the sum no longer count.
const ENOUGH: f64 = 1e-13;
/// Most terms: by then either they have faded or functions have left the range of numbers.
const TERMS_MAX: usize = 2000;

/// Pressure of a plane wave where the direction to the point has this cosine to that to the source, `mu` = 2 pi f a / c.
#[must_use]
pub fn plane(mu: f64, cosine: f64) -> Complex64 {
    sum(&plane_weights(mu), cosine)
}

/// Pressure of a source `rho` radii from the center, above 1, re what it would give at the center.
#[must_use]
pub fn near(mu: f64, rho: f64, cosine: f64) -> Complex64 {
    let mu = mu.max(LOWEST);
    let mut far = Hankel::new(mu * rho);
    let outside = std::iter::from_fn(|| Some(far.next().0));
    let weights = weights(mu, outside.map(|there| Complex64::new(-rho / mu, 0.0) * Complex64::cis(mu * rho) * there));
    sum(&weights, cosine)
}

/// What each Legendre polynomial is multiplied with for a plane wave at `mu`.
pub(super) fn plane_weights(mu: f64) -> Vec<Complex64> {
    let mu = mu.max(LOWEST);
    // -j j^n / mu^2, one turn by j a term.
    let turns = std::iter::successors(Some(Complex64::new(0.0, -1.0 / (mu * mu))), |turn| Some(turn * Complex64::I));
    weights(mu, turns)
}

/// The sum of weighted Legendre polynomials at this cosine.
pub(super) fn sum(weights: &[Complex64], cosine: f64) -> Complex64 {
    let (mut before, mut polynomial) = (0.0, 1.0);
    let mut total = Complex64::ZERO;
    for (order, weight) in weights.iter().enumerate() {
        total += weight * polynomial;
        let order = order as f64;
        (before, polynomial) = (polynomial, ((2.0 * order + 1.0) * cosine * polynomial - order * before) / (order + 1.0));
    }
    total
}

/// `(2n + 1) x factor / h_n'(mu)` as far as it counts.
fn weights(mu: f64, factors: impl Iterator<Item = Complex64>) -> Vec<Complex64> {
    let mut on_surface = Hankel::new(mu);
    let (mut weights, mut largest, mut small) = (Vec::new(), 0.0_f64, 0);
    for (order, factor) in factors.take(TERMS_MAX).enumerate() {
        // By norms: the square of a large function would leave the range of numbers.
        let weight = (2 * order + 1) as f64 * factor.fdiv(on_surface.next().1);
        let size = weight.norm();
        if !size.is_finite() {
            break;
        }
        weights.push(weight);
        largest = largest.max(size);
        // Legendre polynomials are at most 1, so what is left is at most the sum of the sizes.
        small = if size < ENOUGH * largest { small + 1 } else { 0 };
        if small == 3 {
            break;
        }
    }
    weights
}

/// Spherical Hankel functions of the second kind at one argument, order after order.
struct Hankel {
    at: f64,
    order: f64,
    before: Complex64,
    now: Complex64,
}

impl Hankel {
    fn new(at: f64) -> Self {
        // h_0 = j e^(-j x) / x, and h_-1 = h_0 / j.
        let now = Complex64::I * Complex64::cis(-at) / at;
        Self { at, order: 0.0, before: -Complex64::I * now, now }
    }

    /// Value and derivative of this order; the next order is next.
    fn next(&mut self) -> (Complex64, Complex64) {
        let (value, order) = (self.now, self.order);
        let derivative = self.before - value * ((order + 1.0) / self.at);
        self.now = value * ((2.0 * order + 1.0) / self.at) - self.before;
        self.before = value;
        self.order += 1.0;
        (value, derivative)
    }
}
