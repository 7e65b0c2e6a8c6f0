//! How well speech comes through: the speech transmission index.
//!
//! Speech is told by how its loudness goes up and down. Of a modulation at `F` Hz the room leaves, in an octave with energy `E(t)`,
//!
//! `m(F) = |sum E(t) e^(-j 2 pi F t)| / sum E(t)`,
//!
//! noise at the signal-to-noise ratio `SNR` (dB) leaves `1 / (1 + 10^(-SNR/10))` of that. As an apparent ratio, `10 lg (m / (1 - m))` held between -15 and 15 dB, it counts
//! `(SNR + 15) / 30`; the mean over the fourteen `F` is the transmission index of the octave, and over seven octaves `k`
//!
//! `STI = sum a_k M_k - sum b_k sqrt(M_k M_(k+1))`, at most 1.
//!
//! A bin spreads its energy evenly over its width; the direct sound (see [`super::direct`]) is an instant.
//!
//! *References.* IEC 60268-16:2011 (edition 4) and 2020 (edition 5): modulation frequencies and the weights `a` of male speech (transcriptions were read), weights `b` from memory (they close:
//! sum a - sum b = 1). T. Houtgast and H. J. M. Steeneken, Acustica 28 (1973) 66. Ratings: the same standard (read in part).
//!
//! *Limits.* Without noise and speech level it is the room's share alone, an upper bound. Masking by the lower octave and the threshold of hearing are not in it. Full STI of an
//! impulse response: what a device may do to speech besides is not seen.

use std::f64::consts::PI;

use crate::bands::{Band, Bands};

/// Modulation frequencies in Hz.
pub const MODULATION_FREQUENCIES: [f64; 14] = [0.63, 0.8, 1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0, 10.0, 12.5];

/// The octaves that count: 125 Hz to 8 kHz.
pub const OCTAVES: usize = 7;

/// Weights of the octaves, male speech.
const OCTAVE_WEIGHTS: [f64; OCTAVES] = [0.085, 0.127, 0.230, 0.233, 0.309, 0.224, 0.173];

/// What neighboring octaves share, male speech (from memory).
const REDUNDANCY: [f64; OCTAVES - 1] = [0.085, 0.078, 0.065, 0.011, 0.047, 0.095];

/// Speech transmission index of the energy-time curves of the octaves (bins of `bin_s` seconds from the direct sound on; the 63 Hz octave is not read), noise-free or with this
/// signal-to-noise ratio in dB by octave. `None` where an octave from 125 Hz up has no energy.
#[must_use]
pub fn speech_transmission_index(energy: &Bands<Vec<f64>>, bin_s: f64, signal_to_noise_db: Option<Bands<f64>>) -> Option<f64> {
    let mut indices = [0.0; OCTAVES];
    for (index, band) in indices.iter_mut().zip(&Band::ALL[1..]) {
        let modulation = modulation_transfer(&energy[*band], bin_s)?;
        let kept = signal_to_noise_db.map_or(1.0, |ratio| kept_in_noise(ratio[*band]));
        *index = transmission_index(&modulation.map(|depth| depth * kept));
    }
    Some(weighted(indices))
}

/// Share of each modulation that the room leaves, noise-free; `None` without energy.
#[must_use]
pub fn modulation_transfer(energy: &[f64], bin_s: f64) -> Option<[f64; 14]> {
    let whole: f64 = energy.iter().sum();
    if !(whole > 0.0 && whole.is_finite() && bin_s > 0.0) || energy.iter().any(|value| *value < 0.0) {
        return None;
    }
    let direct = super::direct(energy);
    Some(MODULATION_FREQUENCIES.map(|frequency| {
        // Each bin: a mean of e^(-jwt) over its width, sin(x) / x times its value in the middle.
        let half = PI * frequency * bin_s;
        let spread = half.sin() / half;
        let (step_sine, step_cosine) = (2.0 * half).sin_cos();
        let (mut sine, mut cosine) = half.sin_cos();
        let (mut in_phase, mut across) = (0.0, 0.0);
        for value in energy {
            in_phase += value * cosine;
            across += value * sine;
            // One bin on: a rotation instead of a sine each.
            (sine, cosine) = (sine * step_cosine + cosine * step_sine, cosine * step_cosine - sine * step_sine);
        }
        // The direct sound is taken out of the middle of bin 0 and put at its beginning.
        in_phase = spread * (in_phase - direct * half.cos()) + direct;
        across = spread * (across - direct * half.sin());
        in_phase.hypot(across) / whole
    }))
}

/// Share of a modulation that noise at this signal-to-noise ratio in dB leaves.
#[must_use]
pub fn kept_in_noise(signal_to_noise_db: f64) -> f64 {
    1.0 / (1.0 + 10.0_f64.powf(-0.1 * signal_to_noise_db))
}

/// Transmission index of an octave, 0 to 1, of the fourteen shares of modulation left.
#[must_use]
pub fn transmission_index(modulation: &[f64; 14]) -> f64 {
    let index = |depth: f64| {
        let depth = depth.clamp(0.0, 1.0);
        // At 0 and 1 the ratio is infinite, and held.
        let ratio = (10.0 * (depth / (1.0 - depth)).log10()).clamp(-15.0, 15.0);
        (ratio + 15.0) / 30.0
    };
    modulation.iter().map(|depth| index(*depth)).sum::<f64>() / modulation.len() as f64
}

/// Speech transmission index of the transmission indices of the octaves 125 Hz to 8 kHz.
#[must_use]
pub fn weighted(indices: [f64; OCTAVES]) -> f64 {
    let own: f64 = OCTAVE_WEIGHTS.iter().zip(indices).map(|(weight, index)| weight * index).sum();
    let shared: f64 = REDUNDANCY.iter().zip(indices.windows(2)).map(|(weight, pair)| weight * (pair[0] * pair[1]).sqrt()).sum();
    (own - shared).clamp(0.0, 1.0)
}

/// What an index is called: above 0.75 excellent, above 0.60 good, above 0.45 fair, above 0.30 poor, else bad.
#[must_use]
pub fn rating(index: f64) -> &'static str {
    match index {
        index if index > 0.75 => "excellent",
        index if index > 0.60 => "good",
        index if index > 0.45 => "fair",
        index if index > 0.30 => "poor",
        _ => "bad",
    }
}
