//! How much of what a surface mirrors do its steps and slots send elsewhere, where nobody has measured it?
//!
//! - *Steps* of random depth up to `h` (books and shelves, wells of a diffuser): what comes back from them adds up with phases spread over `2 k h c`, `c` the cosine of incidence, so of the mirrored
//!   power `sinc^2(k h c)` goes on in the mirrored direction. The rest, its mean over a diffuse field, is scattered: a tenth where `h` is an eighth of a wavelength, a third at a quarter, three
//!   quarters at half a wavelength.
//! - *Slots* that return nothing, between slats as wide as they are: of the power that slats return, the share of the area that is open leaves the mirrored direction.
//! - Nothing is sent elsewhere by what is too narrow: a row of period `p` has another direction than the mirrored one only where `p (1 + sin a) > wavelength`, `a` the angle of incidence; in a diffuse field
//!   in the plane across the row that is a share of `2 - wavelength / p`, between 0 and 1.
//!
//! *References.* Roughness and phase: P. Beckmann, A. Spizzichino, The Scattering of Electromagnetic Waves from Rough Surfaces, chapter 3 (Rayleigh's criterion). Gratings: T. J. Cox, P. D'Antonio, Acoustic
//! Absorbers and Diffusers, chapters on scattering coefficients and diffusers. All from memory.
//!
//! *Limits.* Rules of one dimension without a measurement behind them: a measured coefficient is better, and what the scene says wins. That steps scatter [`FULL`] at most is common practice, no source.

use std::f64::consts::TAU;

use super::average::{FREQUENCIES_PER_OCTAVE, octave_frequencies};
use super::{COSINE_BINS, bin_weight};
use crate::air::REFERENCE_SPEED;
use crate::bands::Bands;

/// The most that steps scatter: their fronts still mirror (common practice, no source).
pub const FULL: f64 = 0.85;

/// Scattering coefficient by octave of steps of random depth up to `depth` in a row that repeats after `period`, meters.
#[must_use]
pub fn steps(depth: f64, period: f64) -> Bands<f64> {
    octaves(|frequency| FULL * out_of_step(TAU * frequency / REFERENCE_SPEED * depth) * diffracted(frequency, period))
}

/// Scattering coefficient by octave of slats between slots that return nothing: `open` is the share of the area that is slots, `slot` the width of one in meters.
#[must_use]
pub fn slots(slot: f64, open: f64) -> Bands<f64> {
    octaves(|frequency| open * diffracted(frequency, slot / open))
}

/// Both, where neither knows of the other: what one leaves the other may scatter.
#[must_use]
pub fn together(one: Bands<f64>, other: Bands<f64>) -> Bands<f64> {
    one.zip(other, |one, other| 1.0 - (1.0 - one) * (1.0 - other))
}

/// Share of the angles in the plane across a row at which it has another direction than the mirrored one.
fn diffracted(frequency: f64, period: f64) -> f64 {
    (2.0 - REFERENCE_SPEED / (frequency * period)).clamp(0.0, 1.0)
}

/// Diffuse mean of `1 - sinc^2(phase c)`.
fn out_of_step(phase: f64) -> f64 {
    let scattered = |cosine: f64| {
        let angle = phase * cosine;
        if angle > 1e-6 { 1.0 - (angle.sin() / angle).powi(2) } else { 0.0 }
    };
    (0..COSINE_BINS).map(|bin| bin_weight(bin) * scattered((bin as f64 + 0.5) / COSINE_BINS as f64)).sum()
}

fn octaves(of: impl Fn(f64) -> f64) -> Bands<f64> {
    Bands::from_fn(|band| octave_frequencies(band, FREQUENCIES_PER_OCTAVE).map(&of).sum::<f64>() / FREQUENCIES_PER_OCTAVE as f64)
}
