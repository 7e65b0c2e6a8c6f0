//! What a source sends so that one run answers for every frequency.
//!
//! The second derivative of a Gaussian:
//!
//! ```text
//! u(t) = (1 - 2 a) exp(-a),  a = (pi f0 (t - t0))^2;   spectrum proportional to (f / f0)^2 exp(-(f / f0)^2)
//! ```
//!
//! Its integral and its double integral are zero, so it leaves neither a constant pressure nor one that grows in a closed room. With `f0` at 1 / 1.8 of the top frequency it is down by 9.2 dB
//! re its peak at the top, by 82 dB at twice the top, by 215 dB (less than rounding) at three times: a record kept at four times the top frequency has, up to there, nothing in it that belongs
//! elsewhere.
//!
//! *References.* N. Ricker, Geophysics 18 (1953) 10 (from memory).
//!
//! *Limits.* Down by 30 dB re its peak at 0.108 `f0`, which is 15 Hz for a top frequency of 250 Hz.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::kernel::Real;

/// Top frequency over that of the peak.
const TOP: f64 = 1.8;
/// The pulse begins and ends where its Gaussian is `exp(-EDGE^2)`: as small as a rounding.
const EDGE: f64 = 6.0;
/// Values of a record re the top frequency.
const KEPT: f64 = 4.0;

/// A pulse step by step.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// Highest frequency that it is meant for, Hz.
    pub top: f64,
    /// Time between two values, seconds.
    pub step: f64,
    /// Free-field pressure at 1 m; its peak is about 1.
    pub values: Vec<f64>,
}

impl Pulse {
    /// The pulse up to `top` Hz in steps of `step` seconds.
    #[must_use]
    pub fn new(top: f64, step: f64) -> Self {
        let peak = top / TOP;
        let half = (EDGE / (PI * peak * step)).ceil() as i32;
        let value = |index: i32| {
            let a = (PI * peak * step * f64::from(index)).powi(2);
            (1.0 - 2.0 * a) * (-a).exp()
        };
        Self { top, step, values: (-half..=half).map(value).collect() }
    }

    /// When its peak is sent, seconds.
    #[must_use]
    pub fn middle(&self) -> f64 {
        (self.values.len() / 2) as f64 * self.step
    }

    /// The values as a field takes them.
    #[must_use]
    pub fn signal<T: Real>(&self) -> Vec<T> {
        self.values.iter().map(|value| T::of(*value)).collect()
    }

    /// Every how many steps a record is to be kept: four times the top frequency at least.
    #[must_use]
    pub fn every(&self) -> usize {
        (1.0 / (KEPT * self.top * self.step)).floor().max(1.0) as usize
    }

    /// Its spectrum at a frequency in Hz, Pa s for a pulse in Pa: of these very values, not of the formula.
    #[must_use]
    pub fn spectrum(&self, frequency: f64) -> Complex64 {
        self.transform(Complex64::new(0.0, TAU * frequency))
    }

    /// The same at a complex frequency, 1/s.
    #[must_use]
    pub fn transform(&self, s: Complex64) -> Complex64 {
        transform(&self.values, 0.0, self.step, s)
    }
}

/// `sum of x_n exp(-s t_n) dt` of values from the time `first` on, `apart` seconds between two; `s` in 1/s. In four sums side by side, none of which waits for another.
pub(super) fn transform(values: &[f64], first: f64, apart: f64, s: Complex64) -> Complex64 {
    const TOGETHER: usize = 4;
    let turn = (-s * apart).exp();
    let turns = turn.powu(TOGETHER as u32);
    let whole = values.chunks_exact(TOGETHER);
    let mut sums = [Complex64::ZERO; TOGETHER];
    sums.iter_mut().zip(whole.remainder()).for_each(|(sum, value)| *sum = Complex64::from(*value));
    for some in whole.rev() {
        sums.iter_mut().zip(some).for_each(|(sum, value)| *sum = *sum * turns + value);
    }
    let sum = sums.into_iter().rev().fold(Complex64::ZERO, |all, sum| all * turn + sum);
    sum * (-s * first).exp() * apart
}
