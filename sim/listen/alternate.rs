//! Versions of one sound in turns: one file in which the sound runs on while what it goes through changes every few seconds.
//!
//! At each change one version fades into the next by `cos` and `sin` over 20 ms, divided by `sqrt(1 + 2 r cos sin)`, `r` how like both are
//! there (`sum x y / sqrt(sum x^2 sum y^2)`, 0 at the least): the power stays whatever they have in common. Without that, versions that
//! differ little would bump by 3 dB at every change.
//!
//! [`Turns`] takes versions in as they come and holds back no more than a change needs; whole ones are its one piece.
//!
//! *Limits.* Versions begin together and may end apart; shorter ones are silent from their end on.

use std::ops::Range;

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
    let rate = versions[0].rate;
    let frames = versions.iter().map(Sound::frames).max().unwrap_or(0);
    let mut turns = Turns::new((versions.len(), versions[0].channels.len()), (rate, frames), seconds)?;
    let pieces: Vec<&[Vec<f32>]> = versions.iter().map(|sound| sound.channels.as_slice()).collect();
    let parts = turns.push(&pieces);
    let channels = parts.into_iter().reduce(|mut sum, part| {
        let values = part.iter().flatten();
        sum.iter_mut().flatten().zip(values).for_each(|(sum, value)| *sum += value);
        sum
    });
    Ok(Alternation { sound: Sound { rate, channels: channels.unwrap_or_default() }, turns: turns.listed(rate) })
}

/// Versions on their way into turns, piece by piece.
#[derive(Clone, Debug)]
pub struct Turns {
    /// Samples of a turn and of a change.
    turn: usize,
    fade: usize,
    /// Samples in all, and turns.
    frames: usize,
    count: usize,
    /// What came and is not told yet, by version and channel.
    held: Vec<Vec<Vec<f32>>>,
    /// Samples told.
    at: usize,
}

impl Turns {
    /// Turns of so many seconds, of versions with so many channels each; at this rate, with so many samples in all.
    ///
    /// # Errors
    /// Fewer than two versions, no samples, turns that are too short.
    pub fn new((versions, channels): (usize, usize), (rate, frames): (u32, usize), seconds: f64) -> Result<Self, AlternateError> {
        check_turns(versions, rate, seconds)?;
        if frames == 0 {
            return Err(AlternateError::Empty);
        }
        let turn = (seconds * f64::from(rate)).round() as usize;
        let fade = (FADE_S * f64::from(rate)).round() as usize;
        // A change has its middle at the border of two turns; one that the end would cut short is left out.
        let count = ((frames + turn).saturating_sub(fade) / turn).max(1);
        Ok(Self { turn, fade, frames, count, held: vec![vec![Vec::new(); channels]; versions], at: 0 })
    }

    /// Takes in a piece of each version, of which shorter ones are silent from their end on, and gives what each version brings, by version
    /// and channel, to what can be told by now: the turns are their sum. Gains that the versions are given afterwards change nothing else.
    pub fn push(&mut self, pieces: &[&[Vec<f32>]]) -> Vec<Vec<Vec<f32>>> {
        let length = pieces.iter().copied().flatten().map(Vec::len).max().unwrap_or(0);
        for (held, piece) in self.held.iter_mut().zip(pieces) {
            for (held, samples) in held.iter_mut().zip(*piece) {
                let end = held.len() + length;
                held.extend_from_slice(samples);
                held.resize(end, 0.0);
            }
        }
        let came = self.at + self.held.first().and_then(|version| version.first()).map_or(0, Vec::len);
        // A change is told as a whole.
        let nearest = (came + self.turn / 2) / self.turn;
        let is_within = (1..self.count).contains(&nearest) && self.change(nearest).contains(&came);
        self.tell(if is_within { self.change(nearest).start } else { came })
    }

    /// The samples of the change before a turn.
    fn change(&self, index: usize) -> Range<usize> {
        let from = index * self.turn - self.fade / 2;
        from..from + self.fade
    }

    /// What each version brings up to a sample.
    fn tell(&mut self, end: usize) -> Vec<Vec<Vec<f32>>> {
        let (begin, versions) = (self.at, self.held.len());
        let mut parts: Vec<Vec<Vec<f32>>> = self.held.iter_mut().map(|version| taken(version, end - begin)).collect();
        for index in (begin / self.turn).saturating_sub(1)..(end / self.turn + 2).min(self.count) {
            let from = if index == 0 { 0 } else { self.change(index).end };
            let to = if index + 1 == self.count { self.frames } else { self.change(index + 1).start };
            let (from, to) = (from.max(begin), to.min(end));
            let others = parts.iter_mut().enumerate().filter(|(version, _)| *version != index % versions);
            if from < to {
                others.flat_map(|(_, part)| part).for_each(|channel| channel[from - begin..to - begin].fill(0.0));
            }
            let change = if index == 0 { 0..0 } else { self.change(index) };
            if begin <= change.start && change.end <= end && !change.is_empty() {
                self.fade(&mut parts, index, change.start - begin);
            }
        }
        self.at = end;
        parts
    }

    /// Fades the version before a turn into that of the turn, and leaves the others out.
    fn fade(&self, parts: &mut [Vec<Vec<f32>>], index: usize, from: usize) {
        let pair = [(index - 1) % parts.len(), index % parts.len()];
        let samples = from..from + self.fade;
        let both = |channel: usize, at: usize| pair.map(|version| parts[version][channel][at]);
        let all = (0..parts[0].len()).flat_map(|channel| samples.clone().map(move |at| (channel, at)));
        let fade = Fade::new(all.map(|(channel, at)| both(channel, at)), self.fade);
        for (version, part) in parts.iter_mut().enumerate() {
            let side = pair.iter().position(|one| *one == version);
            for channel in part {
                for (at, value) in channel[samples.clone()].iter_mut().enumerate() {
                    *value = side.map_or(0.0, |side| (fade.weights(at)[side] * f64::from(*value)) as f32);
                }
            }
        }
    }

    /// Which version is heard when.
    fn listed(&self, rate: u32) -> Vec<Turn> {
        let seconds = |frames: usize| frames as f64 / f64::from(rate);
        let to = |index: usize| if index + 1 == self.count { self.frames } else { (index + 1) * self.turn };
        let of = |index: usize| Turn { version: index % self.held.len(), from_s: seconds(index * self.turn), to_s: seconds(to(index)) };
        (0..self.count).map(of).collect()
    }
}

/// The first samples of each channel, which are taken out.
fn taken(channels: &mut [Vec<f32>], count: usize) -> Vec<Vec<f32>> {
    channels.iter_mut().map(|channel| channel.drain(..count).collect()).collect()
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
        let [falling, rising] = self.weights(index);
        (falling * f64::from(before) + rising * f64::from(after)) as f32
    }

    /// What each version is multiplied by there.
    fn weights(&self, index: usize) -> [f64; 2] {
        let (rising, falling) = (std::f64::consts::FRAC_PI_2 * (index as f64 + 0.5) / self.length as f64).sin_cos();
        let power = (1.0 + 2.0 * self.likeness * rising * falling).sqrt();
        [falling / power, rising / power]
    }
}

/// Whether so many versions can take turns of so many seconds.
///
/// # Errors
/// Why not.
pub fn check_turns(versions: usize, rate: u32, seconds: f64) -> Result<(), AlternateError> {
    if versions < 2 {
        return Err(AlternateError::TooFew);
    }
    if !(0.1..=600.0).contains(&seconds) {
        return Err(AlternateError::Seconds { seconds });
    }
    if rate < 8_000 { Err(AlternateError::Rate { rate }) } else { Ok(()) }
}

fn check(versions: &[Sound], seconds: f64) -> Result<(), AlternateError> {
    check_turns(versions.len(), versions.first().map_or(0, |first| first.rate), seconds)?;
    let first = &versions[0];
    for (version, sound) in (1..).zip(versions) {
        let alike = sound.rate == first.rate && sound.channels.len() == first.channels.len();
        if !alike || sound.channels.iter().any(|channel| channel.len() != sound.frames()) {
            return Err(AlternateError::Unlike { version });
        }
        if sound.channels.iter().flatten().any(|value| !value.is_finite()) {
            return Err(AlternateError::NotFinite { version });
        }
    }
    Ok(())
}
