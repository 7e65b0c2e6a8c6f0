//! How the decay of an octave goes with what its materials absorb, from a few dozen exact weighings: a polynomial that answers in a millionth of the time.
//!
//! The rate of a decay, `1 / T`, is nearly linear in the absorption of each material (Sabine's and Eyring's formulas are), so it is the rate and not the time that is described, re
//! that of the scene as written, and by absorption `v` scaled to `[-1, 1]` between its bounds:
//!
//! ```text
//! T0 / T = c + sum of c_i v_i + sum of c_ij v_i v_j
//! ```
//!
//! by least squares of relative errors. The error is that at points that were not fitted.
//!
//! *References.* Least squares by singular values: any book on numerical mathematics.
//!
//! *Limits.* Between the bounds only.

use nalgebra::{DMatrix, DVector};

/// A rate may not fall below this share of that of the scene.
const LEAST_RATE: f64 = 1e-3;

/// The rate of a decay as a polynomial of second degree.
#[derive(Clone, Debug, PartialEq)]
pub struct Emulator {
    unknowns: usize,
    coefficients: Vec<f64>,
    /// Root of the mean square of relative errors at points that it was not fitted to.
    pub error: f64,
}

/// How many coefficients a polynomial of second degree has.
#[must_use]
pub fn coefficients(unknowns: usize) -> usize {
    (unknowns + 1) * (unknowns + 2) / 2
}

impl Emulator {
    /// Fits rates re that of the scene at points in `[-1, 1]`; the last `kept` of them are not fitted but tell the error. `None` where points are too few or a rate is none.
    #[must_use]
    pub fn new(points: &[Vec<f64>], rates: &[f64], kept: usize) -> Option<Self> {
        let (unknowns, fitted) = (points.first()?.len(), points.len().checked_sub(kept)?);
        let count = coefficients(unknowns);
        if fitted < count || rates.iter().any(|rate| !rate.is_finite() || *rate <= 0.0) {
            return None;
        }
        let rows: Vec<Vec<f64>> = points.iter().map(|point| terms(point).collect()).collect();
        let matrix = DMatrix::from_fn(fitted, count, |row, column| rows[row][column] / rates[row]);
        let solved = matrix.svd(true, true).solve(&DVector::from_element(fitted, 1.0), 1e-9).ok()?;
        let mut emulator = Self { unknowns, coefficients: solved.iter().copied().collect(), error: 0.0 };
        let squares = points[fitted..].iter().zip(&rates[fitted..]).map(|(point, rate)| (emulator.rate(point) / rate - 1.0).powi(2));
        emulator.error = (squares.sum::<f64>() / kept.max(1) as f64).sqrt();
        Some(emulator)
    }

    /// `T0 / T` at a point in `[-1, 1]`.
    #[must_use]
    pub fn rate(&self, point: &[f64]) -> f64 {
        debug_assert_eq!(point.len(), self.unknowns, "a point has all unknowns");
        let mut coefficients = self.coefficients.iter();
        let mut next = || coefficients.next().copied().unwrap_or(0.0);
        let mut sum = next();
        for (index, value) in point.iter().enumerate() {
            let slope = next() + point[..=index].iter().map(|other| next() * other).sum::<f64>();
            sum += value * slope;
        }
        sum.max(LEAST_RATE)
    }

    /// By how much `ln T` grows with each unknown, at a point.
    #[must_use]
    pub fn slopes(&self, point: &[f64]) -> Vec<f64> {
        const STEP: f64 = 1e-4;
        let mut moved = point.to_vec();
        (0..point.len())
            .map(|index| {
                let mut at = |value: f64| {
                    moved[index] = value;
                    -self.rate(&moved).ln()
                };
                let slope = (at(point[index] + STEP) - at(point[index] - STEP)) / (2.0 * STEP);
                moved[index] = point[index];
                slope
            })
            .collect()
    }
}

/// 1, then for each unknown itself and its products with those up to it.
fn terms(point: &[f64]) -> impl Iterator<Item = f64> + '_ {
    let of = |(index, value): (usize, &f64)| {
        let value = *value;
        std::iter::once(value).chain(point[..=index].iter().map(move |other| value * other))
    };
    std::iter::once(1.0).chain(point.iter().enumerate().flat_map(of))
}
