//! What has the rhythm and spectrum of a voice and says nothing.
//!
//! Syllables of 0.14 to 0.34 s in phrases with pauses between. A syllable begins with a hiss or without, then pulses, which fall from 130
//! to 95 a second through a phrase, pass three resonances `1 / (1 - 2 r cos(w) z^-1 + r^2 z^-2)`, `r = e^(-pi b / rate)`, of a vowel drawn
//! by chance. At last the whole is filtered, without phase, so that its octaves have the levels of male speech.
//!
//! *References.* IEC 60268-16:2011, octave levels of male speech re their A-weighted sum: 2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8 dB, 125
//! Hz to 8 kHz (from memory). G. E. Peterson and H. L. Barney, J. Acoust. Soc. Am. 24 (1952) 175, resonances of vowels of men (from
//! memory).
//!
//! *Limits.* Not speech: there are no words in it, and nothing about who would understand any follows from it.

use std::f64::consts::{PI, TAU};

use super::dry::{MADE_HZ, ease, noise, samples, stream};
use crate::bands::{Band, Bands};
use crate::dsp::transform::{quick_length, signal, spectrum};
use crate::random::Stream;

/// Levels of the octaves 125 Hz to 8 kHz, dB.
const LEVELS_DB: [f64; 7] = [2.9, 2.9, -0.8, -6.8, -12.8, -18.8, -24.8];

/// Gain at 63 Hz, where the standard has no level and a man has no voice, re that at 125 Hz, dB.
const BELOW_DB: f64 = -20.0;

/// Resonances of vowels, Hz.
const VOWELS: [[f64; 3]; 5] =
    [[730.0, 1090.0, 2440.0], [270.0, 2290.0, 3010.0], [300.0, 870.0, 2240.0], [530.0, 1840.0, 2480.0], [570.0, 840.0, 2410.0]];

/// How wide they are, Hz.
const WIDTHS_HZ: [f64; 3] = [80.0, 100.0, 140.0];

/// Syllables of each phrase.
const PHRASES: [usize; 4] = [6, 4, 7, 5];

/// Silence after a phrase, seconds.
const PAUSE_S: f64 = 0.45;

/// Phrases of syllables that mean nothing.
pub(super) fn syllables(seed: u64) -> Vec<f64> {
    let mut random = stream(seed, 0);
    let mut mouth = Mouth { to_pulse: 0.0, resonances: VOWELS[0], kept: [[0.0; 2]; 3] };
    let mut all = Vec::new();
    for count in PHRASES {
        for index in 0..count {
            let rest = 1.0 - index as f64 / count as f64;
            mouth.syllable(&mut random, 95.0 + 35.0 * rest, &mut all);
        }
        all.resize(all.len() + samples(PAUSE_S), 0.0);
    }
    shaped(&all)
}

/// Where pulses and resonances stand.
struct Mouth {
    /// Share of a period until the next pulse.
    to_pulse: f64,
    resonances: [f64; 3],
    /// The last two values of each resonance.
    kept: [[f64; 2]; 3],
}

impl Mouth {
    /// Adds one syllable.
    fn syllable(&mut self, random: &mut Stream, pulses_hz: f64, all: &mut Vec<f64>) {
        let length_s = 0.14 + 0.2 * random.unit();
        let hiss_s = if random.unit() < 0.6 { 0.04 + 0.04 * random.unit() } else { 0.0 };
        let vowel = VOWELS[(random.unit() * VOWELS.len() as f64) as usize];
        let loud = 0.6 + 0.4 * random.unit();
        let hiss = noise(random, samples(hiss_s));
        for (index, pair) in hiss.windows(2).enumerate() {
            // A hiss is bright: differences of noise.
            all.push(0.05 * loud * (pair[1] - pair[0]) * (PI * index as f64 / hiss.len() as f64).sin());
        }
        let (length, before) = (samples(length_s - hiss_s), self.resonances);
        for index in 0..length {
            let place = index as f64 / length as f64;
            let moved = ease(4.0 * place);
            self.resonances = std::array::from_fn(|one| before[one] + moved * (vowel[one] - before[one]));
            let envelope = loud * (PI * place).sin().powi(2);
            all.push(envelope * self.voice(pulses_hz * (1.0 + 0.01 * (random.unit() - 0.5))));
        }
    }

    /// The next sample of a voice with so many pulses a second.
    fn voice(&mut self, pulses_hz: f64) -> f64 {
        self.to_pulse -= pulses_hz / MADE_HZ;
        let mut value = 0.0;
        if self.to_pulse <= 0.0 {
            self.to_pulse += 1.0;
            value = 1.0;
        }
        for ((frequency_hz, width_hz), kept) in self.resonances.into_iter().zip(WIDTHS_HZ).zip(&mut self.kept) {
            let radius = (-PI * width_hz / MADE_HZ).exp();
            let first = 2.0 * radius * (TAU * frequency_hz / MADE_HZ).cos();
            // Gain 1 at 0 Hz.
            value = (1.0 - first + radius * radius) * value + first * kept[0] - radius * radius * kept[1];
            *kept = [value, kept[0]];
        }
        value
    }
}

/// A signal filtered so that its octaves have the levels of speech.
fn shaped(made: &[f64]) -> Vec<f64> {
    // Room for what filters without phase bring before the beginning and after the end.
    let length = quick_length(made.len() + samples(0.5));
    let lines = spectrum(made, length);
    let line_hz = MADE_HZ / length as f64;
    let mut gains_db = Bands::splat(0.0);
    let share = |gains_db: &Bands<f64>, frequency_hz: f64| 10.0_f64.powf(0.05 * gains_db.between(frequency_hz)) * edges(frequency_hz);
    // Neighbors pull at each other through the slopes between their centers; each round leaves a fraction of it.
    for _ in 0..30 {
        let mut next_db = gains_db;
        for (band, aim_db) in Band::ALL[1..].iter().zip(LEVELS_DB) {
            let of_band = (band.lower() / line_hz).ceil() as usize..(band.upper() / line_hz).ceil() as usize;
            let energy: f64 = of_band.map(|line| lines[line].norm_sqr() * share(&gains_db, line as f64 * line_hz).powi(2)).sum();
            next_db[*band] += 0.7 * (aim_db - 10.0 * energy.max(f64::MIN_POSITIVE).log10());
        }
        next_db[Band::ALL[0]] = next_db[Band::ALL[1]] + BELOW_DB;
        gains_db = next_db;
    }
    let filtered = lines.iter().enumerate().map(|(line, value)| value * share(&gains_db, line as f64 * line_hz)).collect();
    let mut out = signal(filtered, length);
    out.truncate(made.len());
    out
}

/// What is left outside the octaves: nothing below 40 Hz and above 14 kHz.
fn edges(frequency_hz: f64) -> f64 {
    ease((frequency_hz - 40.0) / 20.0) * ease((14_000.0 - frequency_hz) / 2000.0)
}
