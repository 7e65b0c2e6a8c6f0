//! Dry sounds that the program makes itself: what goes into a room to hear what it does.
//!
//! All are made at 48 kHz and brought to the rate that is asked for, so that they are the same sound at every rate, with nothing above 20
//! kHz; then made so loud that the largest sample is 12 dB below full scale. Noise comes from [`crate::random`]: the same seed gives the
//! same samples.
//!
//! - Clap: noise in the octaves 500 Hz to 4 kHz times three decays, `sum g e^(-t / T)`, the last of them the loudest and the slowest;
//!   twice.
//! - Pink burst: lines of random phase 2 Hz apart whose power falls as `1 / f`, 40 Hz to 18 kHz, so that every octave has the same; 0.5 s
//!   long, three times. Lines instead of noise: 0.5 s of noise has a power in the 63 Hz octave that is known to 0.9 dB only.
//! - Plucked and bowed: see `string`. Speech-like: see `talk`.
//!
//! *References.* Beside the parts.
//!
//! *Limits.* Made sounds, not recorded ones: they show what a room does, not how a certain instrument or voice sounds in it.

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::{string, talk};
use crate::bands::Band;
use crate::dsp::filter::{Direction, Filter};
use crate::dsp::resample::{RATES, at_rate};
use crate::dsp::transform::signal;
use crate::dsp::wav::Sound;
use crate::random::{Purpose, Stream};

/// Rate at which all of them are made, samples a second.
pub(super) const MADE_HZ: f64 = 48_000.0;
/// The same, as sounds have it.
const MADE: u32 = 48_000;

/// Largest sample re full scale: -12 dB.
const PEAK: f64 = 0.251;

/// A dry sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dry {
    /// Two hand claps: shows echoes, flutter and how sound dies away.
    Clap,
    /// Three bursts of noise with the same power in every octave: show coloration while they last and the decay of all octaves after them.
    Pink,
    /// Notes of a plucked string: show how attacks blur and which notes of the bass ring on.
    Plucked,
    /// Notes of a bowed string: show how a room sustains a tone and colors its overtones.
    Bowed,
    /// Noises in the rhythm and spectrum of a male voice: show how well syllables stay apart. Not speech: there is not a word in it.
    SpeechLike,
}

/// Why there is no such sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum DryError {
    /// A rate that no dry sound is made at.
    #[error("dry sounds are made at 44100, 48000 or 96000 samples a second, not at {rate}")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
}

impl Dry {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Clap, Self::Pink, Self::Plucked, Self::Bowed, Self::SpeechLike];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Clap => "clap",
            Self::Pink => "pink",
            Self::Plucked => "plucked",
            Self::Bowed => "bowed",
            Self::SpeechLike => "speech-like",
        }
    }

    /// The sound of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|dry| dry.word() == word)
    }

    /// What to listen for with it.
    #[must_use]
    pub fn shows(self) -> &'static str {
        match self {
            Self::Clap => "two hand claps: echoes, flutter, how sound dies away",
            Self::Pink => "three bursts of noise with the same power in every octave: coloration while they last, decay after them",
            Self::Plucked => "notes of a plucked string: how attacks blur, which notes of the bass ring on",
            Self::Bowed => "notes of a bowed string: how the room sustains a tone and colors its overtones",
            Self::SpeechLike => {
                "noises in the rhythm and spectrum of a male voice: how well syllables stay apart; not speech, there is not a word in it"
            }
        }
    }

    /// The sound, one channel, at 44100, 48000 or 96000 samples a second.
    ///
    /// # Errors
    /// Another rate.
    pub fn sound(self, rate: u32, seed: u64) -> Result<Sound, DryError> {
        if !RATES.contains(&rate) {
            return Err(DryError::Rate { rate });
        }
        let made = match self {
            Self::Clap => claps(seed),
            Self::Pink => pink(seed),
            Self::Plucked => string::plucked(seed),
            Self::Bowed => string::bowed(seed),
            Self::SpeechLike => talk::syllables(seed),
        };
        let made: Vec<f32> = made.into_iter().map(|value| value as f32).collect();
        let mut samples = at_rate(&made, MADE, rate).ok_or(DryError::Rate { rate })?;
        let peak = samples.iter().fold(0.0_f32, |peak, value| peak.max(value.abs()));
        // None of them is silent, so there is something to divide by.
        let gain = (PEAK / f64::from(peak)) as f32;
        samples.iter_mut().for_each(|value| *value *= gain);
        Ok(Sound { rate, channels: vec![samples] })
    }
}

/// Random numbers for one part of a sound.
pub(super) fn stream(seed: u64, part: u64) -> Stream {
    Stream::new(seed, Purpose::Dry, part)
}

/// White noise between -1 and 1.
pub(super) fn noise(stream: &mut Stream, length: usize) -> Vec<f64> {
    (0..length).map(|_| 2.0 * stream.unit() - 1.0).collect()
}

/// Samples of a time in seconds.
pub(super) fn samples(seconds: f64) -> usize {
    (seconds * MADE_HZ).round() as usize
}

/// From 0 to 1 by half a cosine while `place` goes from 0 to 1.
pub(super) fn ease(place: f64) -> f64 {
    0.5 - 0.5 * (PI * place.clamp(0.0, 1.0)).cos()
}

/// Two claps, 1.5 s each.
fn claps(seed: u64) -> Vec<f64> {
    // Start in seconds, gain, decay constant in seconds: both hands meet more than once.
    let strokes = [(0.0, 0.6, 0.001), (0.0055, 0.8, 0.001), (0.0115, 1.0, 0.005)];
    // How much of each octave, 500 Hz to 4 kHz.
    let octaves = [(3, 0.5), (4, 1.0), (5, 0.9), (6, 0.6)];
    let one = |part: u64| {
        let white = noise(&mut stream(seed, part), samples(0.1));
        let mut clap = vec![0.0; samples(1.5)];
        for (band, share) in octaves {
            let Some(filter) = Filter::octave(Band::new(band), MADE_HZ) else { continue };
            for (index, value) in filter.run(&white, Direction::Forward).into_iter().enumerate() {
                let time_s = index as f64 / MADE_HZ;
                let stroke = |(start_s, gain, decay_s): (f64, f64, f64)| {
                    let since_s = time_s - start_s;
                    if since_s < 0.0 { 0.0 } else { gain * ease(since_s / 0.0002) * (-since_s / decay_s).exp() }
                };
                clap[index] += share * value * strokes.map(stroke).iter().sum::<f64>();
            }
        }
        clap
    };
    [one(0), one(1)].concat()
}

/// Three bursts of 0.5 s with 1 s of silence after each.
fn pink(seed: u64) -> Vec<f64> {
    let length = samples(0.5);
    let line_hz = MADE_HZ / length as f64;
    let burst = |part: u64| {
        let mut random = stream(seed, part);
        let line = |index: usize| {
            let frequency_hz = index as f64 * line_hz;
            let phase = TAU * random.unit();
            let passes = (40.0..=18_000.0).contains(&frequency_hz);
            if passes { Complex64::from_polar(frequency_hz.powf(-0.5), phase) } else { Complex64::ZERO }
        };
        let mut burst = signal((0..=length / 2).map(line).collect(), length);
        let fade = samples(0.005);
        for index in 0..fade {
            let share = ease((index as f64 + 0.5) / fade as f64);
            burst[index] *= share;
            burst[length - 1 - index] *= share;
        }
        burst.resize(samples(1.5), 0.0);
        burst
    };
    (0..3).flat_map(burst).collect()
}
