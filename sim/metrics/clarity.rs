//! How much of the energy comes early: clarity, definition, center time.
//!
//! With energy `E` arriving up to and after a time `te` since the direct sound: `C_te = 10 lg (E_before / E_after)` dB, `D50 = E_before / E_all` at 50 ms,
//! `Ts = sum t E / sum E`. A bin across `te` is shared in proportion.
//!
//! *References.* ISO 3382-1:2009, annex A (read in part). Identity `C50 = 10 lg (D50 / (1 - D50))`.
//!
//! *Limits.* Energy after the end of the record is not there: a record should reach 30 dB below its start. The measures and their just-noticeable differences come from concert halls.

use super::direct;

/// Early-to-late measures of one energy-time curve.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Clarity {
    /// Clarity at 50 ms in dB; `None` where nothing comes later.
    pub c50_db: Option<f64>,
    /// Clarity at 80 ms in dB; `None` where nothing comes later.
    pub c80_db: Option<f64>,
    /// Definition, 0 to 1.
    pub d50: f64,
    /// Center time in seconds.
    pub center_time_s: f64,
}

impl Clarity {
    /// The measures of `energy` in bins of `bin_s` seconds from the direct sound on; `None` where no energy arrives or a value is not an energy.
    #[must_use]
    pub fn new(energy: &[f64], bin_s: f64) -> Option<Self> {
        let whole: f64 = energy.iter().sum();
        if !(whole > 0.0 && whole.is_finite() && bin_s > 0.0) || energy.iter().any(|value| *value < 0.0) {
            return None;
        }
        Some(Self {
            c50_db: early_to_late_db(energy, bin_s, 0.050),
            c80_db: early_to_late_db(energy, bin_s, 0.080),
            d50: early(energy, bin_s, 0.050) / whole,
            center_time_s: moment(energy, bin_s) / whole,
        })
    }
}

/// Sum of energy times its time of arrival after the direct sound: the middle of its bin, except for the direct sound itself.
fn moment(energy: &[f64], bin_s: f64) -> f64 {
    let in_bins: f64 = energy.iter().enumerate().map(|(bin, value)| (bin as f64 + 0.5) * value).sum();
    bin_s * (in_bins - 0.5 * direct(energy))
}

/// Energy that arrives within `limit_s` seconds after the direct sound.
#[must_use]
pub fn early(energy: &[f64], bin_s: f64, limit_s: f64) -> f64 {
    share(energy, bin_s, limit_s, |inside| inside)
}

/// Energy before `limit_s` re energy after it, in dB; `None` where either is nothing.
#[must_use]
pub fn early_to_late_db(energy: &[f64], bin_s: f64, limit_s: f64) -> Option<f64> {
    let before = early(energy, bin_s, limit_s);
    // Summed by itself: the difference of two near-equal sums would lose the late energy of a dead room.
    let after = share(energy, bin_s, limit_s, |inside| 1.0 - inside);
    (before > 0.0 && after > 0.0).then(|| 10.0 * (before / after).log10())
}

/// By how many dB that grows for each unit of energy added to a bin, for every bin of the record; `None` where either side is nothing.
///
/// `dC / dE_j = (10 / ln 10) (1 / E_before)` before the limit, `-(10 / ln 10) (1 / E_after)` after it, a bin across it in proportion.
#[must_use]
pub fn sensitivity(energy: &[f64], bin_s: f64, limit_s: f64) -> Option<Vec<f64>> {
    let before = early(energy, bin_s, limit_s);
    let after = share(energy, bin_s, limit_s, |inside| 1.0 - inside);
    let of_bin = |bin: usize| {
        let inside = inside(bin, bin_s, limit_s);
        10.0 / std::f64::consts::LN_10 * (inside / before - (1.0 - inside) / after)
    };
    (before > 0.0 && after > 0.0).then(|| (0..energy.len()).map(of_bin).collect())
}

/// Sums the bins, each times `part` of its share before the limit.
fn share(energy: &[f64], bin_s: f64, limit_s: f64, part: impl Fn(f64) -> f64) -> f64 {
    energy.iter().enumerate().map(|(bin, value)| value * part(inside(bin, bin_s, limit_s))).sum()
}

/// Share of a bin before the limit.
fn inside(bin: usize, bin_s: f64, limit_s: f64) -> f64 {
    let limit = limit_s / bin_s;
    // A limit that means a border of bins may miss it by rounding.
    let limit = if (limit - limit.round()).abs() < 1e-6 { limit.round() } else { limit };
    (limit - bin as f64).clamp(0.0, 1.0)
}
