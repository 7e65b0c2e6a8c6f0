//! Room-acoustic measures of an energy-time curve, predicted or measured.
//!
//! All of them take the energy that arrives in bins of equal width; bin 0 begins when the direct sound arrives. The direct sound is an instant, the rest is spread over its bin: where a
//! measure needs to know when within a bin, what bin 0 holds in excess of bin 1 counts at its beginning ([`direct`]), all else at the middle of its bin.
//!
//! - `decay`: early decay time, T20, T30, how straight the decay is, and the weights of the fit for maps of what changes it;
//! - `clarity`: clarity, definition, center time;
//! - `speech`: speech transmission index.

pub mod clarity;
pub mod decay;
pub mod speech;

/// What counts as direct sound, an instant at the beginning of bin 0: the excess of bin 0 over bin 1.
#[must_use]
pub fn direct(energy: &[f64]) -> f64 {
    match energy {
        [] => 0.0,
        [only] => *only,
        [first, second, ..] => (first - second).max(0.0),
    }
}
