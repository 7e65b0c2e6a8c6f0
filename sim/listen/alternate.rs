//! Versions of one sound in turns: one file in which the sound runs on while what it goes through changes every few seconds.
//!
//! At each change one version fades into the next by `cos` and `sin` over 20 ms, divided by `sqrt(1 + 2 r cos sin)`, `r` how like both are
//! there (`sum x y / sqrt(sum x^2 sum y^2)`, 0 at the least): the power stays whatever they have in common. Without that, versions that
//! differ little would bump by 3 dB at every change.
//!
//! *Limits.* Versions begin together and may end apart; shorter ones are silent from their end on.

use crate::dsp::wav::Sound;

/// Seconds that a change takes.
pub const FADE_S: f64 = 0.02;

/// Turns of versions in one sound.
#[derive(Clone, Debug, PartialEq)]
pub struct Alternation {
    /// All of it.
    pub sound: Sound,
    /// Which version is heard when, in order.
    pub turns: Vec<Turn>,
}

/// A stretch of one version.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Turn {
    /// Which version, from 0.
    pub version: usize,
    /// Seconds from the beginning at which it begins: the middle of the change.
    pub from_s: f64,
    /// Seconds at which it ends.
    pub to_s: f64,
}

/// Why versions cannot take turns.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum AlternateError {
    /// Fewer than two.
    #[error("there are two versions at the least to take turns")]
    TooFew,
    /// Rates or numbers of channels that differ, or no samples.
    #[error("version {version} has another rate or number of channels than the first, or not as many samples in each channel")]
    Unlike {
        /// Which one, from 1.
        version: usize,
    },
    /// Nothing in any of them.
    #[error("the versions have no samples")]
    Empty,
    /// A value that is none.
    #[error("version {version} holds values that are not numbers")]
    NotFinite {
        /// Which one, from 1.
        version: usize,
    },
    /// A rate that is none for sound.
    #[error("turns are taken at 8000 samples a second at the least, not at {rate}")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
    /// Turns too short for their changes.
    #[error("a turn lasts 0.1 to 600 s, not {seconds} s")]
    Seconds {
        /// Asked for.
        seconds: f64,
    },
}

/// One sound of all versions in turns of so many seconds each, in their order and over again until the longest ends.
///
/// # Errors
/// Versions that do not go together, or turns that are too short.
pub fn alternate(versions: &[Sound], seconds: f64) -> Result<Alternation, AlternateError> {
    check(versions, seconds)?;
    let rate_hz = f64::from(versions[0].rate);
    let frames = versions.iter().map(Sound::frames).max().unwrap_or(0);
    let turn = (seconds * rate_hz).round() as usize;
    let fade = (FADE_S * rate_hz).round() as usize;
    // A change has its middle at the border of two turns; one that the end would cut short is left out.
    let count = ((frames + turn).saturating_sub(fade) / turn).max(1);
    let mut channels = vec![vec![0.0; frames]; versions[0].channels.len()];
    let mut turns = Vec::new();
    for index in 0..count {
        let version = &versions[index % versions.len()];
        let (from, to) = (index * turn, if index + 1 == count { frames } else { (index + 1) * turn });
        turns.push(Turn { version: index % versions.len(), from_s: from as f64 / rate_hz, to_s: to as f64 / rate_hz });
        for (out, samples) in channels.iter_mut().zip(&version.channels) {
            let end = to.min(samples.len());
            if from < end {
                out[from..end].copy_from_slice(&samples[from..end]);
            }
        }
    }
    for index in 1..count {
        let pair = [&versions[(index - 1) % versions.len()], &versions[index % versions.len()]];
        change(&mut channels, pair, index * turn - fade / 2, fade);
    }
    Ok(Alternation { sound: Sound { rate: versions[0].rate, channels }, turns })
}

/// How one version goes into the next.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fade {
    /// How like both are while it lasts, 0 to 1.
    likeness: f64,
    /// Samples that it lasts.
    length: usize,
}

impl Fade {
    /// Over so many samples of each channel; `both` are all of them, each beside that of the other version.
    pub fn new(both: impl Iterator<Item = [f32; 2]>, length: usize) -> Self {
        let mut sums = [0.0; 3];
        for [x, y] in both.map(|both| both.map(f64::from)) {
            sums.iter_mut().zip([x * x, y * y, x * y]).for_each(|(sum, term)| *sum += term);
        }
        let [x, y, product] = sums;
        let likeness = if x > 0.0 && y > 0.0 { (product / (x * y).sqrt()).clamp(0.0, 1.0) } else { 0.0 };
        Self { likeness, length }
    }

    /// What is heard at the sample of this number.
    #[must_use]
    pub fn heard(&self, index: usize, [before, after]: [f32; 2]) -> f32 {
        let (rising, falling) = (std::f64::consts::FRAC_PI_2 * (index as f64 + 0.5) / self.length as f64).sin_cos();
        let mixed = falling * f64::from(before) + rising * f64::from(after);
        (mixed / (1.0 + 2.0 * self.likeness * rising * falling).sqrt()) as f32
    }
}

/// Fades one version into the next over `length` samples from `from` on.
fn change(channels: &mut [Vec<f32>], versions: [&Sound; 2], from: usize, length: usize) {
    let both = |channel: usize, at: usize| versions.map(|sound| sound.channels[channel].get(at).copied().unwrap_or(0.0));
    let all = (0..channels.len()).flat_map(|channel| (from..from + length).map(move |at| (channel, at)));
    let fade = Fade::new(all.map(|(channel, at)| both(channel, at)), length);
    for (channel, out) in channels.iter_mut().enumerate() {
        for (index, out) in out[from..].iter_mut().take(length).enumerate() {
            *out = fade.heard(index, both(channel, from + index));
        }
    }
}

fn check(versions: &[Sound], seconds: f64) -> Result<(), AlternateError> {
    let [first, _, ..] = versions else { return Err(AlternateError::TooFew) };
    if !(0.1..=600.0).contains(&seconds) {
        return Err(AlternateError::Seconds { seconds });
    }
    if first.rate < 8_000 {
        return Err(AlternateError::Rate { rate: first.rate });
    }
    for (version, sound) in (1..).zip(versions) {
        let alike = sound.rate == first.rate && sound.channels.len() == first.channels.len();
        if !alike || sound.channels.iter().any(|channel| channel.len() != sound.frames()) {
            return Err(AlternateError::Unlike { version });
        }
        if sound.channels.iter().flatten().any(|value| !value.is_finite()) {
            return Err(AlternateError::NotFinite { version });
        }
    }
    if versions.iter().all(|sound| sound.frames() == 0) { Err(AlternateError::Empty) } else { Ok(()) }
}
