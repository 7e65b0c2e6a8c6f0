//! How loud a sound is, and gains that make versions of it fit to be compared.
//!
//! **Loudness.** Each channel passes two filters of second order, a shelf that raises high frequencies by 4 dB as a head does and a high
//! pass near 38 Hz. Mean squares `z` of blocks of 400 ms, one each 100 ms, are added over the channels: `l = -0.691 + 10 lg sum z`. The
//! loudness is that of the mean of the blocks above -70 LKFS and above 10 LU less than the mean of those.
//!
//! The standard has coefficients for 48 kHz. For another rate they are taken back through the bilinear transform,
//! `s = (1 - z^-1) / (1 + z^-1)`, stretched by `k / k'`, `k = tan(pi f / rate)` at the frequency `f` of their poles, and transformed anew:
//! at 48 kHz that is the published filter.
//!
//! **Gains.** Same scale: one gain for all versions, so that differences of level stay what they are; the largest sample of all lies 3 dB
//! below full scale. Matched: each is brought to the loudness of the quietest, then all to the same 3 dB. So no version is favored for
//! being louder, and none is limited or clipped.
//!
//! *References.* Recommendation ITU-R BS.1770-4 (2015), annex 1: coefficients, weights, gates (from memory; the level of its sine of 997 Hz
//! is met, and the frequencies and gains of its filters come out at every rate).
//!
//! *Limits.* One or two channels, each of weight 1. Peaks are those of samples: between them a signal may rise further, by less than 3 dB
//! in music (common practice, no source). A sound shorter than a block is one block.

use crate::dsp::wav::Sound;

/// Rate in samples a second that the coefficients are for.
const PUBLISHED_HZ: f64 = 48_000.0;
/// The shelf at that rate.
const SHELF: Section = Section {
    b: [1.535_124_859_586_97, -2.691_696_189_406_38, 1.198_392_810_852_85],
    a: [1.0, -1.690_659_293_182_41, 0.732_480_774_215_85],
};
/// The high pass at that rate.
const HIGH_PASS: Section = Section { b: [1.0, -2.0, 1.0], a: [1.0, -1.990_047_454_833_98, 0.990_072_250_366_21] };

/// What a block of loudness 0 is less than its mean square, dB: it undoes the gain of the filters at 997 Hz.
const OFFSET_DB: f64 = -0.691;
/// Below this no block counts, LKFS.
const SILENT_DB: f64 = -70.0;
/// Nor so far below the mean of the others, LU.
const RELATIVE_DB: f64 = -10.0;

/// Where the largest sample of versions on one scale lies, dB re full scale.
pub const SCALE_PEAK_DB: f64 = -3.0;
/// What the largest sample of a matched pair never exceeds, dB re full scale.
pub const MATCH_PEAK_DB: f64 = -1.0;

/// Why a sound has no loudness, or versions no gains.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LoudnessError {
    /// No versions.
    #[error("there is no sound to compare")]
    Nothing,
    /// No samples, or channels of several lengths.
    #[error("a sound has samples, as many in each channel")]
    Shape,
    /// More than two channels, or none.
    #[error("loudness is that of one or two channels, not of {count}")]
    Channels {
        /// How many it has.
        count: usize,
    },
    /// A rate that is none for sound.
    #[error("loudness is measured at 8000 to 384000 samples a second, not at {rate}")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
    /// A value that is none.
    #[error("a sound holds values that are not numbers")]
    NotFinite,
    /// Nothing to hear.
    #[error("a sound is silent (below -70 LKFS throughout): nothing can be made as loud")]
    Silent,
}

/// Gains in dB for two sounds that are to be equally loud.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Match {
    /// For the reference: 0, or less where the other would else go beyond [`MATCH_PEAK_DB`].
    pub reference_db: f64,
    /// For the other.
    pub other_db: f64,
}

/// Loudness in LKFS.
///
/// # Errors
/// No sound, or a silent one.
pub fn loudness(sound: &Sound) -> Result<f64, LoudnessError> {
    check(sound)?;
    let blocks = blocks(sound);
    let mean = |above_db: f64| {
        let counted: Vec<f64> = blocks.iter().copied().filter(|power| level_db(*power) > above_db).collect();
        (!counted.is_empty()).then(|| level_db(counted.iter().sum::<f64>() / counted.len() as f64))
    };
    let heard_db = mean(SILENT_DB).ok_or(LoudnessError::Silent)?;
    mean(SILENT_DB.max(heard_db + RELATIVE_DB)).ok_or(LoudnessError::Silent)
}

/// Largest sample in dB re full scale.
///
/// # Errors
/// No sound, or a silent one.
pub fn peak_db(sound: &Sound) -> Result<f64, LoudnessError> {
    check(sound)?;
    let peak = sound.channels.iter().flatten().fold(0.0_f32, |peak, value| peak.max(value.abs()));
    if peak > 0.0 { Ok(20.0 * f64::from(peak).log10()) } else { Err(LoudnessError::Silent) }
}

/// What makes `other` as loud as `reference`. The gain of the reference is 0 unless the other would need more than keeps it under -1 dB re
/// full scale: then both come down.
///
/// # Errors
/// No sound, or a silent one.
pub fn gain_to_match(reference: &Sound, other: &Sound) -> Result<Match, LoudnessError> {
    let gain_db = loudness(reference)? - loudness(other)?;
    let highest_db = peak_db(reference)?.max(peak_db(other)? + gain_db);
    let down_db = (MATCH_PEAK_DB - highest_db).min(0.0);
    Ok(Match { reference_db: down_db, other_db: gain_db + down_db })
}

/// The one gain in dB that takes the largest sample of all versions to -3 dB re full scale. Silent versions are taken as they are, but not
/// all of them.
///
/// # Errors
/// No sound, or none that can be heard.
pub fn same_scale(versions: &[Sound]) -> Result<f64, LoudnessError> {
    Ok(SCALE_PEAK_DB - highest_db(versions, &vec![0.0; versions.len()])?)
}

/// A gain in dB for each version: all as loud as the quietest, the largest sample of all at -3 dB re full scale.
///
/// # Errors
/// No sound, or one that cannot be heard.
pub fn matched(versions: &[Sound]) -> Result<Vec<f64>, LoudnessError> {
    let levels_db = versions.iter().map(loudness).collect::<Result<Vec<_>, _>>()?;
    let quietest_db = levels_db.iter().copied().reduce(f64::min).ok_or(LoudnessError::Nothing)?;
    let gains_db: Vec<f64> = levels_db.into_iter().map(|level_db| quietest_db - level_db).collect();
    let common_db = SCALE_PEAK_DB - highest_db(versions, &gains_db)?;
    Ok(gains_db.into_iter().map(|gain_db| gain_db + common_db).collect())
}

/// A sound by so many dB louder.
#[must_use]
pub fn by_gain(sound: &Sound, gain_db: f64) -> Sound {
    let factor = 10.0_f64.powf(0.05 * gain_db) as f32;
    let channels = sound.channels.iter().map(|channel| channel.iter().map(|value| factor * value).collect()).collect();
    Sound { rate: sound.rate, channels }
}

/// The largest sample of all with these gains, dB re full scale.
fn highest_db(versions: &[Sound], gains_db: &[f64]) -> Result<f64, LoudnessError> {
    let mut highest = Err(LoudnessError::Nothing);
    for (version, gain_db) in versions.iter().zip(gains_db) {
        match (peak_db(version), highest) {
            (Ok(peak), Ok(so_far)) => highest = Ok((peak + gain_db).max(so_far)),
            (Ok(peak), Err(_)) => highest = Ok(peak + gain_db),
            // A silent one has no say.
            (Err(LoudnessError::Silent), Err(_)) => highest = Err(LoudnessError::Silent),
            (Err(LoudnessError::Silent), Ok(_)) => {}
            (Err(error), _) => return Err(error),
        }
    }
    highest
}

/// Loudness of a mean square over the channels.
fn level_db(power: f64) -> f64 {
    OFFSET_DB + 10.0 * power.log10()
}

/// Filtered mean squares, all channels added, of blocks of 400 ms that begin each 100 ms.
fn blocks(sound: &Sound) -> Vec<f64> {
    let rate_hz = f64::from(sound.rate);
    let sections = [SHELF.at_rate(rate_hz), HIGH_PASS.at_rate(rate_hz)];
    let frames = sound.frames();
    // Sums up to each sample, so that a block is a difference; all terms are positive and doubles have digits to spare.
    let mut sums = vec![0.0; frames + 1];
    for channel in &sound.channels {
        let mut kept = [[0.0; 2]; 2];
        let mut sum = 0.0;
        for (value, total) in channel.iter().zip(&mut sums[1..]) {
            let weighted = sections.iter().zip(&mut kept).fold(f64::from(*value), |value, (section, kept)| section.next(value, kept));
            sum += weighted * weighted;
            *total += sum;
        }
    }
    let length = ((0.4 * rate_hz).round() as usize).min(frames);
    let step = 0.1 * rate_hz;
    let starts = (0..).map(|index| (f64::from(index) * step).round() as usize).take_while(|start| start + length <= frames);
    starts.map(|start| (sums[start + length] - sums[start]) / length as f64).collect()
}

fn check(sound: &Sound) -> Result<(), LoudnessError> {
    let count = sound.channels.len();
    if !(1..=2).contains(&count) {
        return Err(LoudnessError::Channels { count });
    }
    if !(8_000..=384_000).contains(&sound.rate) {
        return Err(LoudnessError::Rate { rate: sound.rate });
    }
    if sound.frames() == 0 || sound.channels.iter().any(|channel| channel.len() != sound.frames()) {
        return Err(LoudnessError::Shape);
    }
    if sound.channels.iter().flatten().any(|value| !value.is_finite()) {
        return Err(LoudnessError::NotFinite);
    }
    Ok(())
}

/// A filter of second order, `(b0 + b1 z^-1 + b2 z^-2) / (a0 + a1 z^-1 + a2 z^-2)`, a0 = 1.
#[derive(Clone, Copy, Debug)]
struct Section {
    b: [f64; 3],
    a: [f64; 3],
}

impl Section {
    /// The published filter as it is at another rate in Hz.
    fn at_rate(self, rate_hz: f64) -> Self {
        // Powers of s, lowest first; the poles lie where s^2 is the first over the last.
        let (above, below) = (analog(self.b), analog(self.a));
        let place = (below[0] / below[2]).sqrt();
        let frequency = place.atan() * PUBLISHED_HZ / std::f64::consts::PI;
        let stretch = place / (std::f64::consts::PI * frequency / rate_hz).tan();
        let (b, a) = (digital(above, stretch), digital(below, stretch));
        Self { b: b.map(|value| value / a[0]), a: a.map(|value| value / a[0]) }
    }

    /// Filters one sample (transposed direct form II).
    fn next(&self, input: f64, kept: &mut [f64; 2]) -> f64 {
        let output = self.b[0] * input + kept[0];
        *kept = [self.b[1] * input - self.a[1] * output + kept[1], self.b[2] * input - self.a[2] * output];
        output
    }
}

/// A polynomial in `z^-1` as one in `s`, but for a factor: `z^-1 = (1 - s) / (1 + s)`.
fn analog([zero, one, two]: [f64; 3]) -> [f64; 3] {
    [zero + one + two, 2.0 * (zero - two), zero - one + two]
}

/// A polynomial in `s`, stretched, as one in `z^-1`, but for the same factor.
fn digital([zero, one, two]: [f64; 3], stretch: f64) -> [f64; 3] {
    let (one, two) = (one * stretch, two * stretch * stretch);
    [zero + one + two, 2.0 * (zero - two), zero - one + two]
}
