//! How far a figure measured at one place lies from the mean over many places, though room and prediction are right: one standard uncertainty.
//!
//! Reverberant sound of one place is one draw of a random process; a band of width `B` has `B T` independent parts in a decay of `T`. With `k = 6 ln 10 / T`:
//!
//! | figure | standard uncertainty | from |
//! | --- | --- | --- |
//! | T20 | `0.88 T sqrt((1 + 1.90 / n) / (B T))`, `n = 10` for an impulse response | ISO 3382-2:2008, annex A (from memory) |
//! | T30 | `0.55 T sqrt((1 + 1.52 / n) / (B T))` | the same |
//! | EDT | `1.83 T sqrt(1 / (B T))` | 10,000 decays of noise drawn by a test, which finds 0.91 and 0.56 for the two above |
//! | C of `t` ms | `(10 / ln 10) sqrt(k (1 + q) / (2 B (1 - q)) + k / (2 B))`, `q = exp(-k t)` | energies of decaying noise before and after `t` |
//! | D50 | `D (1 - D) (ln 10 / 10)` times that of C50 | the same |
//! | center time | `1 / (2 sqrt(k B))` | the same |
//! | mean of octaves | root of the sum of squares over their number | bands are independent |
//!
//! *References.* ISO 3382-2:2008, annex A. Means and variances of squares of Gaussian noise: elementary (an energy with weights w has the relative variance `int w^2 / (int w)^2 / B`).
//!
//! *Limits.* Sound that is all reverberant: direct sound and early reflections, the same in every draw, make C, D and the center time surer than is told here. A band below Schroeder's frequency has fewer parts than `B T`.

/// Decays that one impulse response counts for (ISO 3382-2, from memory).
const DECAYS: f64 = 10.0;

/// Figures whose scatter is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Early decay time, s.
    Early,
    /// T20, s.
    Twenty,
    /// T30, s.
    Thirty,
    /// Clarity at 50 ms, dB.
    C50,
    /// Clarity at 80 ms, dB.
    C80,
    /// Definition, 0 to 1.
    D50,
    /// Center time, ms.
    CenterTime,
}

impl Measure {
    /// Standard uncertainty of a value, in its unit, in a band `width_hz` wide whose decay time is `decay_s`.
    #[must_use]
    pub fn scatter(self, value: f64, width_hz: f64, decay_s: f64) -> f64 {
        let parts = (width_hz * decay_s).sqrt();
        let rate = 6.0 * std::f64::consts::LN_10 / decay_s;
        match self {
            Self::Early => 1.83 * value / parts,
            Self::Twenty => 0.88 * value * (1.0 + 1.90 / DECAYS).sqrt() / parts,
            Self::Thirty => 0.55 * value * (1.0 + 1.52 / DECAYS).sqrt() / parts,
            Self::C50 => clarity(rate, width_hz, 0.050),
            Self::C80 => clarity(rate, width_hz, 0.080),
            Self::D50 => value * (1.0 - value) * 0.1 * std::f64::consts::LN_10 * clarity(rate, width_hz, 0.050),
            Self::CenterTime => 1000.0 / (2.0 * (rate * width_hz).sqrt()),
        }
    }

    /// By how many just noticeable steps one value is more than another: 5 % of a decay time, 1 dB of clarity, 0.05 of definition, 10 ms of center time (ISO 3382-1:2009, table A.1; C50, T20 and T30 are not in it and
    /// borrow from C80 and EDT; all of them come from concert halls).
    #[must_use]
    pub fn steps(self, value: f64, other: f64) -> f64 {
        match self {
            Self::Early | Self::Twenty | Self::Thirty => (value / other).ln() / 1.05_f64.ln(),
            Self::C50 | Self::C80 => value - other,
            Self::D50 => (value - other) / 0.05,
            Self::CenterTime => (value - other) / 10.0,
        }
    }
}

/// Of the level of early over late energy, dB.
fn clarity(rate: f64, width_hz: f64, limit_s: f64) -> f64 {
    let left = (-rate * limit_s).exp();
    let (early, late) = (rate * (1.0 + left) / (2.0 * width_hz * (1.0 - left)), rate / (2.0 * width_hz));
    10.0 / std::f64::consts::LN_10 * (early + late).sqrt()
}
