//! A string that is plucked, and one that is bowed.
//!
//! **Plucked.** What runs along the string is a delay line closed to a loop. Each round takes one period: `N` samples of the line, one
//! sample of the damping `g (1 + 2 z^-1 + z^-2) / 4`, which takes high overtones first, and a rest of 0.5 to 1.5 samples by an all-pass
//! `(a + z^-1) / (1 + a z^-1)`, `a = (1 - d) / (1 + d)`, so that the note is in tune. The line begins with noise, less the same a fifth of
//! the string later: plucked there, every fifth overtone is missing. `g = 10^(-3 / (f T))` for a decay by 60 dB in T.
//!
//! **Bowed.** Overtones of a sawtooth, `sum sin(k p) / (k (1 + (k f / 4 kHz)^2))`, below 16 kHz, with a slow onset and a vibrato that comes
//! later, and some noise of the bow.
//!
//! *References.* K. Karplus and A. Strong, Computer Music Journal 7 (1983) 43; D. A. Jaffe and J. O. Smith, Computer Music Journal 7 (1983)
//! 56 (both from memory). That a bowed string moves as a sawtooth is Helmholtz's.
//!
//! *Limits.* Strings without an instrument: no body colors them.

use std::f64::consts::TAU;

use super::dry::{MADE_HZ, ease, noise, samples, stream};

/// Lowest note of the plucked string, Hz.
const LOW_HZ: f64 = 110.0;

/// Notes that are plucked, in semitones above the lowest.
const PLUCKED: [i32; 9] = [0, 7, 15, 12, 3, 10, 19, 5, 0];

/// Seconds from one to the next.
const PLUCK_S: f64 = 0.36;

/// Seconds in which a plucked note falls by 60 dB, but for its overtones.
const RINGS_S: f64 = 2.5;

/// Notes that are bowed, Hz, by ratios of small numbers.
const BOWED_HZ: [f64; 4] = [196.0, 261.333, 294.0, 220.5];

/// Seconds of a bowed note.
const BOW_S: f64 = 1.3;

/// Notes of a plucked string; each is damped as the next one but two begins.
pub(super) fn plucked(seed: u64) -> Vec<f64> {
    let mut all = vec![0.0; samples(PLUCK_S * PLUCKED.len() as f64 + RINGS_S)];
    for (index, semitones) in PLUCKED.iter().enumerate() {
        let from = samples(PLUCK_S * index as f64);
        let is_last = index + 1 == PLUCKED.len();
        let held = samples(if is_last { RINGS_S } else { 3.0 * PLUCK_S });
        let released = samples(0.08) as f64;
        let note = string(LOW_HZ * 2.0_f64.powf(f64::from(*semitones) / 12.0), seed, index as u64);
        for (at, value) in note.take(held).enumerate() {
            all[from + at] += value * ease((held - at) as f64 / released);
        }
    }
    all
}

/// One string from its pluck on, at this frequency in Hz.
fn string(frequency_hz: f64, seed: u64, part: u64) -> impl Iterator<Item = f64> {
    let period = MADE_HZ / frequency_hz;
    // One sample is taken by the damping; between 0.5 and 1.5 are left to the all-pass.
    let length = (period - 1.5).floor().max(4.0);
    let rest = period - 1.0 - length;
    let all_pass = (1.0 - rest) / (1.0 + rest);
    let kept = 10.0_f64.powf(-3.0 / (frequency_hz * RINGS_S));
    let length = length as usize;
    let mut line = pluck(seed, part, length);
    let (mut at, mut last, mut before_last, mut passed, mut came) = (0, 0.0, 0.0, 0.0, 0.0);
    std::iter::repeat_with(move || {
        let out = line[at];
        let damped = kept * 0.25 * (out + 2.0 * last + before_last);
        (before_last, last) = (last, out);
        passed = all_pass * (damped - passed) + came;
        came = damped;
        line[at] = passed;
        at = (at + 1) % length;
        out
    })
}

/// What a string of so many samples is plucked with.
fn pluck(seed: u64, part: u64, length: usize) -> Vec<f64> {
    let white = noise(&mut stream(seed, part), length);
    // Fingers are soft: the mean of neighbors, round the circle, then what is missing where it is plucked; a constant would never be heard.
    let soft: Vec<f64> = (0..length).map(|index| (0..6).map(|back| white[(index + length - back % length) % length]).sum()).collect();
    let place = length / 5;
    (0..length).map(|index| soft[index] - soft[(index + length - place) % length]).collect()
}

/// Notes of a bowed string.
pub(super) fn bowed(seed: u64) -> Vec<f64> {
    let length = samples(BOW_S);
    let mut all = Vec::with_capacity(BOWED_HZ.len() * length);
    for (part, frequency_hz) in BOWED_HZ.into_iter().enumerate() {
        let hiss = noise(&mut stream(seed, part as u64), length);
        let mut phase = 0.0;
        for (index, hiss) in hiss.iter().enumerate() {
            let time_s = index as f64 / MADE_HZ;
            let envelope = ease(time_s / 0.2) * ease((BOW_S - 0.05 - time_s) / 0.2);
            // 5.4 Hz by 0.9 % either way, 15 cents.
            let vibrato = 1.0 + 0.009 * ease((time_s - 0.35) / 0.4) * (TAU * 5.4 * time_s).sin();
            phase = (phase + frequency_hz * vibrato / MADE_HZ).fract();
            all.push(envelope * (overtones(TAU * phase, frequency_hz) + 0.01 * hiss));
        }
    }
    all.resize(all.len() + samples(1.0), 0.0);
    all
}

/// The sum of all overtones of a bowed string at this phase.
fn overtones(phase: f64, frequency_hz: f64) -> f64 {
    // sin((k + 1) p) = 2 cos p sin(k p) - sin((k - 1) p).
    let twice_cosine = 2.0 * phase.cos();
    let (mut before, mut now, mut total) = (0.0, phase.sin(), 0.0);
    let mut order = 1.0;
    while order * frequency_hz < 16_000.0 {
        let rolled = order * frequency_hz / 4000.0;
        total += now / (order * (1.0 + rolled * rolled));
        (before, now) = (now, twice_cosine * now - before);
        order += 1.0;
    }
    total
}
