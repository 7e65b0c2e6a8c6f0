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
//! **In pieces.** A [`Meter`] takes a sound in as it comes and keeps a number for each block; a whole sound is its one piece. Of parts that
//! are added with gains which are known only later it keeps the sums `z_pq` of the products of each two: `z = sum g_p g_q z_pq`.
//!
//! **Gains.** Same scale: one gain for all versions, so that differences of level stay what they are; the largest sample of all lies 3 dB
//! below full scale. Matched: each is brought to the loudness of the quietest, then all to the same 3 dB. So no version is favored for
//! being louder, and none is limited or clipped.
//!
//! *References.* Recommendation ITU-R BS.1770-4 (2015), annex 1: coefficients, weights, gates (from memory; the level of its sine of 997 Hz
//! is met, and the frequencies and gains of its filters come out at every rate).
//!
//! *Limits.* One or two channels, each of weight 1. Peaks are those of samples: between them a signal may rise further, by less than 3 dB
//! in music (common practice, no source). A sound shorter than a block is one block. An hour of sound is 36,000 blocks.

use std::collections::VecDeque;

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
    metered(sound)?.loudness_db([0.0])
}

/// Largest sample in dB re full scale.
///
/// # Errors
/// No sound, or a silent one.
pub fn peak_db(sound: &Sound) -> Result<f64, LoudnessError> {
    metered(sound)?.peak_db()
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
    same_scale_of(&all_metered(versions)?)
}

/// The same of versions that a meter has heard.
///
/// # Errors
/// As [`same_scale`].
pub fn same_scale_of(versions: &[Metered<1>]) -> Result<f64, LoudnessError> {
    Ok(SCALE_PEAK_DB - highest_db(versions, &vec![0.0; versions.len()])?)
}

/// A gain in dB for each version: all as loud as the quietest, the largest sample of all at -3 dB re full scale.
///
/// # Errors
/// No sound, or one that cannot be heard.
pub fn matched(versions: &[Sound]) -> Result<Vec<f64>, LoudnessError> {
    matched_of(&all_metered(versions)?)
}

/// The same of versions that a meter has heard.
///
/// # Errors
/// As [`matched`].
pub fn matched_of(versions: &[Metered<1>]) -> Result<Vec<f64>, LoudnessError> {
    let levels_db = versions.iter().map(|version| version.loudness_db([0.0])).collect::<Result<Vec<_>, _>>()?;
    let quietest_db = levels_db.iter().copied().reduce(f64::min).ok_or(LoudnessError::Nothing)?;
    let gains_db: Vec<f64> = levels_db.into_iter().map(|level_db| quietest_db - level_db).collect();
    let common_db = SCALE_PEAK_DB - highest_db(versions, &gains_db)?;
    Ok(gains_db.into_iter().map(|gain_db| gain_db + common_db).collect())
}

/// What a gain in dB multiplies samples by.
#[must_use]
pub fn factor(gain_db: f64) -> f32 {
    10.0_f64.powf(0.05 * gain_db) as f32
}

/// A sound by so many dB louder.
#[must_use]
pub fn by_gain(sound: &Sound, gain_db: f64) -> Sound {
    let factor = factor(gain_db);
    let channels = sound.channels.iter().map(|channel| channel.iter().map(|value| factor * value).collect()).collect();
    Sound { rate: sound.rate, channels }
}

/// The largest sample of all with these gains, dB re full scale.
fn highest_db(versions: &[Metered<1>], gains_db: &[f64]) -> Result<f64, LoudnessError> {
    // A silent one has no say.
    let peaks = versions.iter().zip(gains_db).filter_map(|(version, gain_db)| Some(version.peak_db().ok()? + gain_db));
    let none = if versions.is_empty() { LoudnessError::Nothing } else { LoudnessError::Silent };
    peaks.reduce(f64::max).ok_or(none)
}

/// Loudness of a mean square over the channels.
fn level_db(power: f64) -> f64 {
    OFFSET_DB + 10.0 * power.log10()
}

/// What a meter tells of a whole sound.
fn metered(sound: &Sound) -> Result<Metered<1>, LoudnessError> {
    let mut meter = Meter::new(sound.rate, sound.channels.len())?;
    meter.push([&sound.channels])?;
    meter.finish()
}

fn all_metered(sounds: &[Sound]) -> Result<Vec<Metered<1>>, LoudnessError> {
    sounds.iter().map(metered).collect()
}

/// Takes in a sound piece by piece; one of several parts that are added later.
#[derive(Clone, Debug)]
pub struct Meter<const PARTS: usize> {
    rate_hz: f64,
    sections: [Section; 2],
    /// By channel.
    channels: Vec<Channel<PARTS>>,
    /// Samples of each channel that have come.
    came: usize,
    /// Blocks that have begun: where each ends, and the sums at its beginning.
    begun: VecDeque<(usize, Products<PARTS>)>,
    /// How many have begun so far.
    count: u32,
    metered: Metered<PARTS>,
}

/// Sums of products of each two parts.
type Products<const PARTS: usize> = [[f64; PARTS]; PARTS];

/// A channel on its way through the filters.
#[derive(Clone, Debug)]
struct Channel<const PARTS: usize> {
    kept: [[[f64; 2]; 2]; PARTS],
    /// Sums from the beginning on, so that a block is a difference; squares are positive and doubles have digits to spare.
    sums: Products<PARTS>,
}

/// What a meter has heard.
#[derive(Clone, Debug, PartialEq)]
pub struct Metered<const PARTS: usize> {
    /// Filtered means, all channels added, of blocks of 400 ms that begin each 100 ms.
    blocks: Vec<Products<PARTS>>,
    /// The largest sample of any part.
    peak: f32,
}

impl<const PARTS: usize> Meter<PARTS> {
    /// A meter for so many channels at a rate in samples a second.
    ///
    /// # Errors
    /// A rate or number of channels that has no loudness.
    pub fn new(rate: u32, channels: usize) -> Result<Self, LoudnessError> {
        if !(1..=2).contains(&channels) {
            return Err(LoudnessError::Channels { count: channels });
        }
        if !(8_000..=384_000).contains(&rate) {
            return Err(LoudnessError::Rate { rate });
        }
        let rate_hz = f64::from(rate);
        Ok(Self {
            rate_hz,
            sections: [SHELF.at_rate(rate_hz), HIGH_PASS.at_rate(rate_hz)],
            channels: vec![Channel { kept: [[[0.0; 2]; 2]; PARTS], sums: [[0.0; PARTS]; PARTS] }; channels],
            came: 0,
            begun: VecDeque::new(),
            count: 0,
            metered: Metered { blocks: Vec::new(), peak: 0.0 },
        })
    }

    /// Takes in a piece of each channel of each part, all of one length.
    ///
    /// # Errors
    /// Several lengths, or values that are not numbers; then nothing is taken in.
    pub fn push(&mut self, parts: [&[Vec<f32>]; PARTS]) -> Result<(), LoudnessError> {
        let length = parts[0].first().map_or(0, Vec::len);
        let is_even = |part: &[Vec<f32>]| part.len() == self.channels.len() && part.iter().all(|channel| channel.len() == length);
        if !parts.iter().all(|part| is_even(part)) {
            return Err(LoudnessError::Shape);
        }
        let values = || parts.iter().copied().flatten().flatten();
        if values().any(|value| !value.is_finite()) {
            return Err(LoudnessError::NotFinite);
        }
        self.metered.peak = values().fold(self.metered.peak, |peak, value| peak.max(value.abs()));
        let mut done = 0;
        while done < length {
            self.mark();
            // Up to where the next block begins, or one ends.
            let next =
                [self.start(), self.begun.front().map_or(usize::MAX, |(end, _)| *end)].into_iter().filter(|at| *at > self.came).min();
            let count = next.map_or(length, |next| next - self.came).min(length - done);
            let sections = self.sections;
            for (index, channel) in self.channels.iter_mut().enumerate() {
                channel.run(&sections, parts.map(|part| &part[index][done..done + count]));
            }
            (self.came, done) = (self.came + count, done + count);
        }
        self.mark();
        Ok(())
    }

    /// Where the next block begins.
    fn start(&self) -> usize {
        (f64::from(self.count) * 0.1 * self.rate_hz).round() as usize
    }

    /// Begins and ends the blocks that begin and end here.
    fn mark(&mut self) {
        let length = (0.4 * self.rate_hz).round() as usize;
        if self.came == self.start() {
            self.begun.push_back((self.came + length, self.sums()));
            self.count += 1;
        }
        if let Some((_, before)) = self.begun.pop_front_if(|(end, _)| *end == self.came) {
            self.keep(before, length);
        }
    }

    /// Sums over the channels.
    fn sums(&self) -> Products<PARTS> {
        let of = |one: usize, other: usize| self.channels.iter().map(|channel| channel.sums[one][other]).sum();
        std::array::from_fn(|one| std::array::from_fn(|other| of(one, other)))
    }

    /// Keeps the block of this length that ends here.
    fn keep(&mut self, before: Products<PARTS>, length: usize) {
        let after = self.sums();
        let mean = |one: usize, other: usize| (after[one][other] - before[one][other]) / length as f64;
        self.metered.blocks.push(std::array::from_fn(|one| std::array::from_fn(|other| mean(one, other))));
    }

    /// Ends the sound.
    ///
    /// # Errors
    /// There was none.
    pub fn finish(mut self) -> Result<Metered<PARTS>, LoudnessError> {
        if self.came == 0 {
            return Err(LoudnessError::Shape);
        }
        if self.metered.blocks.is_empty() {
            self.keep([[0.0; PARTS]; PARTS], self.came);
        }
        Ok(self.metered)
    }
}

impl<const PARTS: usize> Channel<PARTS> {
    /// Takes in some samples of each part.
    fn run(&mut self, sections: &[Section; 2], parts: [&[f32]; PARTS]) {
        for at in 0..parts[0].len() {
            let mut weighted = [0.0; PARTS];
            for ((weighted, part), kept) in weighted.iter_mut().zip(parts).zip(&mut self.kept) {
                let value = f64::from(part[at]);
                *weighted = sections.iter().zip(kept).fold(value, |value, (section, kept)| section.next(value, kept));
            }
            for (sums, one) in self.sums.iter_mut().zip(weighted) {
                sums.iter_mut().zip(weighted).for_each(|(sum, other)| *sum += one * other);
            }
        }
    }
}

impl<const PARTS: usize> Metered<PARTS> {
    /// Loudness in LKFS of all parts with a gain in dB for each.
    ///
    /// # Errors
    /// Nothing that can be heard.
    pub fn loudness_db(&self, gains_db: [f64; PARTS]) -> Result<f64, LoudnessError> {
        let factors = gains_db.map(|gain_db| f64::from(factor(gain_db)));
        let power = |block: &Products<PARTS>| {
            let of = |(row, one): (&[f64; PARTS], f64)| row.iter().zip(factors).map(|(product, other)| product * one * other).sum::<f64>();
            block.iter().zip(factors).map(of).sum::<f64>()
        };
        let powers: Vec<f64> = self.blocks.iter().map(power).collect();
        let mean = |above_db: f64| {
            let counted: Vec<f64> = powers.iter().copied().filter(|power| level_db(*power) > above_db).collect();
            (!counted.is_empty()).then(|| level_db(counted.iter().sum::<f64>() / counted.len() as f64))
        };
        let heard_db = mean(SILENT_DB).ok_or(LoudnessError::Silent)?;
        mean(SILENT_DB.max(heard_db + RELATIVE_DB)).ok_or(LoudnessError::Silent)
    }

    /// The largest sample of any part in dB re full scale.
    ///
    /// # Errors
    /// There is no other than 0.
    pub fn peak_db(&self) -> Result<f64, LoudnessError> {
        if self.peak > 0.0 { Ok(20.0 * f64::from(self.peak).log10()) } else { Err(LoudnessError::Silent) }
    }
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
