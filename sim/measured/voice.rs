//! A voice as it was recorded: how loud each octave of it is, over how much noise, and how deep its loudness goes up and down.
//!
//! Speech is told by how its loudness goes up and down, and a room fills its gaps. Let `I(t)` be the mean squares of steps of 10 ms of the
//! octaves 500 Hz to 4 kHz, each less its noise and re its own mean, all added. Stretches of 2.56 s, each half in the next, count where the
//! voice sounds: within 10 dB of the mean of all. With `P(F)` the power of `I` under a Hann window at the rate `F`, added up over the octave
//! of rates about 2, 4 or 8 Hz, the **depth** of modulation is
//!
//! `M(F)^2 = sum P(F) / sum (mean I)^2` over the stretches.
//!
//! Of the depth at the mouth a room leaves the share `m(F)` that `metrics::speech` tells, so that of two takes of one voice and one text the
//! quotient of their depths is that of the two rooms' shares, whoever speaks. Noise is the softest 0.4 s of an octave.
//!
//! *What noise adds.* Late sound is noise, and the loudness of noise goes up and down by itself: of an octave `I_k` with sound `B_k` Hz broad
//! the variance within `D` Hz of rates is `2 D I_k^2 / B_k`. How much less deep each take is without that is kept beside its depth, for a sound that
//! is all late: what is true lies between both. (Pairs of octaves have no such noise in common, but of a voice hardly more: vowels
//! take turns. Tried: no depth left at 2 Hz.)
//!
//! *How broad* the sound of an octave is, `B = (integral S)^2 / integral S^2` of its spectrum `S` over lines of 25 Hz: vowels lie in a few
//! hundred hertz of it, and a room leaves so narrow a sound another share from place to place.
//!
//! *How sure.* The stretches, one after the other, are cut into ten heaps and the depth is found without each of them (jackknife): what one
//! has said is only a sample of what one might have. Heap by heap, a text read twice says the same, so that of a difference of two takes less is open.
//!
//! *References.* T. Houtgast and H. J. M. Steeneken, Acustica 28 (1973) 66, and IEC 60268-16: modulation transfer of octaves. Squares of
//! Gaussian noise: elementary statistics. Jackknife: B. Efron and R. J. Tibshirani, An introduction to the bootstrap (1993), ch. 11 (from
//! memory). Stretches, heaps and gates are our own.
//!
//! *Limits.* Another text or another mood has other depths, which no figure here knows. A recorder that moves its gain flattens them.

use thiserror::Error;

use super::hints::{Hint, hints};
use super::take::{TakeAbout, TakeError, begun};
use crate::bands::{Band, Bands};
use crate::dsp::filter::{Direction, Filter};
use crate::dsp::transform::{hann_power, quick_length};
use crate::dsp::wav::Sound;

/// Rates of modulation, Hz: middles of octaves.
pub const RATES_HZ: [f64; 3] = [2.0, 4.0, 8.0];

/// The octaves whose loudness is followed: 500 Hz to 4 kHz, which have three quarters of the weight in the speech transmission index.
pub const FOLLOWED: std::ops::RangeInclusive<usize> = 3..=6;

/// Steps of the loudness a second.
const STEPS_HZ: f64 = 100.0;
/// Steps of a stretch, and from one to the next.
const STRETCH: usize = 256;
const HOP: usize = 128;
/// A stretch counts whose power is not less than this share of the mean of all: 10 dB.
const COUNTS: f64 = 0.1;
/// Steps that noise is read in: 0.4 s.
const QUIET: usize = 40;
/// An octave is read whose voice stands so far over the noise, dB.
const OVER_NOISE_DB: f64 = 10.0;
/// Length of the windows of the spectrum, seconds: lines are 25 Hz apart.
const WINDOW_S: f64 = 0.04;
/// Less noise than this is told as so much, dB.
const LEAST_NOISE_DB: f64 = -120.0;
/// Heaps of the jackknife, and stretches that are needed at least.
const HEAPS: usize = 10;
const LEAST: usize = 12;
/// A step so far below the voice is none that a microphone heard: its own noise is louder, dB.
const CUT_SILENT_DB: f64 = -70.0;
/// Share of such steps that is said.
const CUT_SILENT: f64 = 0.01;

/// Why nothing comes of a voice.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum VoiceError {
    /// It is too short.
    #[error("only {seconds:.0} s of voice: read aloud for 20 s at least, the same text both times")]
    TooLittle {
        /// How long stretches with a voice last together.
        seconds: f64,
    },
    /// A rate that octaves cannot be taken from.
    #[error("the recording has {rate} samples a second; 16000 are the least for a voice")]
    Rate {
        /// Samples a second.
        rate: u32,
    },
}

/// Samples a second that a voice takes at least.
const LEAST_RATE: u32 = 16_000;

/// A voice as it was recorded.
#[derive(Clone, Debug, PartialEq)]
pub struct VoiceTake {
    /// How it came about.
    pub about: TakeAbout,
    /// The channel that was taken.
    pub sound: Sound,
    /// What its octaves hold; `None` where nothing stands over the noise.
    pub octaves: Bands<Option<VoiceOctave>>,
    /// Its depth at each of [`RATES_HZ`]; `None` in too much noise.
    pub depth: Option<[Depth; 3]>,
}

/// An octave of a voice.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct VoiceOctave {
    /// Power of the voice itself, re full scale.
    pub power: f64,
    /// Level of the noise re the voice, dB.
    pub noise_db: f64,
    /// How broad the sound in it is, Hz.
    pub bandwidth_hz: f64,
}

impl VoiceOctave {
    /// Whether the voice stands out of the noise.
    #[must_use]
    pub fn is_heard(&self) -> bool {
        self.noise_db <= -OVER_NOISE_DB
    }
}

/// Natural logarithm of a depth of modulation.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Depth {
    /// The logarithm.
    pub log: f64,
    /// The same without each heap of the stretches.
    pub without: [f64; HEAPS],
    /// By how much it is less if the sound is all late, which goes up and down by itself.
    pub noise: f64,
}

impl Depth {
    /// Mean of depths of one take.
    #[must_use]
    pub fn mean(all: &[Self]) -> Self {
        let of = |value: &dyn Fn(&Self) -> f64| mean(&all.iter().map(value).collect::<Vec<_>>());
        Self { log: of(&|one| one.log), noise: of(&|one| one.noise), without: std::array::from_fn(|heap| of(&|one| one.without[heap])) }
    }

    /// By how much this one is larger, and the standard error of that.
    #[must_use]
    pub fn over(&self, other: &Self) -> (f64, f64) {
        let without: Vec<f64> = self.without.iter().zip(other.without).map(|(own, other)| own - other).collect();
        let middle = mean(&without);
        let squares: f64 = without.iter().map(|value| (value - middle).powi(2)).sum();
        (self.log - other.log, (squares * (HEAPS - 1) as f64 / HEAPS as f64).sqrt())
    }
}

impl VoiceTake {
    /// The voice in a recording; of `channel`, counted from 1, where one is asked for.
    ///
    /// # Errors
    /// [`TakeError`]: silent, no such channel, too little voice, or too low a rate.
    pub fn new(sound: &Sound, channel: Option<usize>) -> Result<Self, TakeError> {
        let (samples, about) = begun(sound, channel)?;
        if sound.rate < LEAST_RATE {
            return Err(VoiceError::Rate { rate: sound.rate }.into());
        }
        let rate_hz = about.rate_hz;
        let whole = steps(&samples, rate_hz);
        let quiet = softest(&whole).map_or(0..0, |from| {
            let at = |step: usize| ((step as f64 / STEPS_HZ * rate_hz) as usize).min(samples.len());
            at(from)..at(from + QUIET)
        });
        let mut hints = hints(&samples, &samples[quiet], rate_hz);
        if hints.contains(&Hint::Silent) {
            return Err(TakeError::Silent);
        }
        let counted = counted(&whole);
        if counted.len() < LEAST {
            return Err(VoiceError::TooLittle { seconds: counted.len() as f64 * HOP as f64 / STEPS_HZ }.into());
        }
        hints.extend(cut_silent(&whole, &counted));
        let octave = |band: Band| Some(steps(&Filter::octave(band, rate_hz)?.run(&samples, Direction::Forward), rate_hz));
        let powers = Bands::from_fn(octave);
        let spectrum = Spectrum::new(&samples, rate_hz);
        let octaves = Bands::from_fn(|band| VoiceOctave::new(powers[band].as_ref()?, &counted, spectrum.bandwidth_hz(band)));
        Ok(Self {
            sound: Sound { rate: sound.rate, channels: vec![sound.channels[about.channel - 1].clone()] },
            about: TakeAbout { signal: "voice".to_owned(), hints, ..about },
            depth: depths(&powers, &octaves, &counted),
            octaves,
        })
    }
}

impl VoiceOctave {
    /// Of the powers of its steps, in the stretches (by their first step) that count.
    fn new(steps: &[f64], counted: &[usize], bandwidth_hz: f64) -> Option<Self> {
        let noise = noise(steps)?;
        let power = mean(&counted.iter().map(|from| mean(&steps[*from..from + STRETCH])).collect::<Vec<_>>()) - noise;
        let noise_db = (10.0 * (noise / power).log10()).max(LEAST_NOISE_DB);
        (power > 0.0 && power.is_finite()).then_some(Self { power, noise_db, bandwidth_hz })
    }
}

/// Power over frequency, mean of windows of 40 ms that follow one another.
struct Spectrum {
    power: Vec<f64>,
    line_hz: f64,
}

impl Spectrum {
    fn new(samples: &[f64], rate_hz: f64) -> Self {
        let window = quick_length((WINDOW_S * rate_hz) as usize);
        let mut power = vec![0.0; window / 2 + 1];
        for part in samples.chunks_exact(window) {
            power.iter_mut().zip(hann_power(part)).for_each(|(sum, value)| *sum += value);
        }
        Self { power, line_hz: rate_hz / window as f64 }
    }

    /// How broad the sound within an octave is.
    fn bandwidth_hz(&self, band: Band) -> f64 {
        let line = |hertz: f64| ((hertz / self.line_hz).round() as usize).min(self.power.len());
        let octave = &self.power[line(band.lower())..line(band.upper())];
        let (sum, squares) = octave.iter().fold((0.0, f64::MIN_POSITIVE), |(sum, squares), value| (sum + value, squares + value * value));
        self.line_hz * sum * sum / squares
    }
}

/// The depths of all octaves that are followed, together; `None` where one of them does not stand over its noise.
fn depths(powers: &Bands<Option<Vec<f64>>>, octaves: &Bands<Option<VoiceOctave>>, counted: &[usize]) -> Option<[Depth; 3]> {
    let mut each: Vec<Followed> = Vec::new();
    for band in FOLLOWED.map(Band::new) {
        let (steps, octave) = (powers[band].as_ref()?, octaves[band].filter(VoiceOctave::is_heard)?);
        let noise = noise(steps)?;
        each.push((steps.iter().map(|step| (step - noise) / octave.power).collect(), octave.bandwidth_hz));
    }
    let stretches: Vec<Stretch> = counted.iter().map(|from| Stretch::new(&each, *from)).collect();
    Some([depth(&stretches, 0)?, depth(&stretches, 1)?, depth(&stretches, 2)?])
}

/// An octave that is followed: its steps without noise re its mean, and how broad its sound is, Hz.
type Followed = (Vec<f64>, f64);

/// What a stretch adds to the sums of the depths.
#[derive(Clone, Copy)]
struct Stretch {
    /// Power of the modulation about each rate, and what of it noise makes that goes up and down by itself.
    modulation: [f64; 3],
    noise: [f64; 3],
    /// Square of the mean.
    square: f64,
}

impl Stretch {
    fn new(octaves: &[Followed], from: usize) -> Self {
        let stretch = |steps: &'_ [f64]| -> Vec<f64> { steps[from..from + STRETCH].to_vec() };
        let each: Vec<(Vec<f64>, f64)> = octaves.iter().map(|(steps, broad)| (stretch(steps), *broad)).collect();
        let sum: Vec<f64> = (0..STRETCH).map(|step| each.iter().map(|(steps, _)| steps[step]).sum()).collect();
        let middle = mean(&sum);
        let power = hann_power(&sum.iter().map(|value| value - middle).collect::<Vec<_>>());
        // The power of white noise of variance 1 in each line under the window is the sum of its squares; that of steps of noise has 1 / (B 0.01 s) in it that is no louder sound.
        let turn = std::f64::consts::TAU / STRETCH as f64;
        let own = |(steps, broad): &(Vec<f64>, f64)| {
            let squares = steps.iter().enumerate().map(|(step, value)| ((1.0 - (turn * step as f64).cos()) * value).powi(2)).sum::<f64>();
            squares / (1.0 + STEPS_HZ / broad) * STEPS_HZ / broad
        };
        let own: f64 = each.iter().map(own).sum();
        let lines = RATES_HZ.map(lines);
        Self {
            modulation: lines.clone().map(|lines| power[lines].iter().sum()),
            noise: lines.map(|lines| own * lines.len() as f64),
            square: middle * middle,
        }
    }
}

/// Lines of a stretch in the octave about a rate.
fn lines(rate: f64) -> std::ops::Range<usize> {
    let line = |hertz: f64| (hertz * STRETCH as f64 / STEPS_HZ).ceil() as usize;
    line(rate / std::f64::consts::SQRT_2)..line(rate * std::f64::consts::SQRT_2)
}

/// Of what is told to be noise so much is left at least, as a share of the power.
const LEFT: f64 = 0.1;

/// The depth at a rate, whole and without each heap of the stretches.
fn depth(stretches: &[Stretch], rate: usize) -> Option<Depth> {
    let of = |left_out: Option<usize>| {
        let kept = || {
            stretches.iter().enumerate().filter(|(index, _)| Some(index * HEAPS / stretches.len()) != left_out).map(|(_, stretch)| stretch)
        };
        0.5 * (kept().map(|stretch| stretch.modulation[rate]).sum::<f64>() / kept().map(|stretch| stretch.square).sum::<f64>()).ln()
    };
    let sum = |of: fn(&Stretch) -> [f64; 3]| stretches.iter().map(|stretch| of(stretch)[rate]).sum::<f64>();
    let noise = -0.5 * (1.0 - sum(|stretch| stretch.noise) / sum(|stretch| stretch.modulation)).max(LEFT).ln();
    let depth = Depth { log: of(None), without: std::array::from_fn(|heap| of(Some(heap))), noise };
    (depth.log.is_finite() && depth.without.iter().all(|value| value.is_finite())).then_some(depth)
}

/// Power of the softest 0.4 s.
fn noise(steps: &[f64]) -> Option<f64> {
    softest(steps).map(|from| mean(&steps[from..from + QUIET]))
}

/// Mean squares of steps of 10 ms.
fn steps(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let at = |step: usize| (step as f64 * rate_hz / STEPS_HZ).round() as usize;
    let count = (samples.len() as f64 / rate_hz * STEPS_HZ) as usize;
    let power = |step: usize| {
        let part = samples.get(at(step)..at(step + 1).min(samples.len())).unwrap_or_default();
        part.iter().map(|value| value * value).sum::<f64>() / part.len().max(1) as f64
    };
    (0..count).map(power).collect()
}

/// Where the softest 0.4 s begin.
fn softest(steps: &[f64]) -> Option<usize> {
    let sums = steps.windows(QUIET).map(|window| window.iter().sum::<f64>()).enumerate();
    sums.min_by(|a, b| a.1.total_cmp(&b.1)).map(|(from, _)| from)
}

/// First steps of the stretches that count.
fn counted(steps: &[f64]) -> Vec<usize> {
    let starts = || (0..(steps.len() + HOP).saturating_sub(STRETCH) / HOP).map(|index| index * HOP);
    let power = |from: &usize| mean(&steps[*from..from + STRETCH]);
    let all: Vec<f64> = starts().map(|from| power(&from)).collect();
    let least = COUNTS * mean(&all);
    starts().filter(|from| power(from) > least).collect()
}

/// Pauses between words that no microphone leaves so silent.
fn cut_silent(steps: &[f64], counted: &[usize]) -> Option<Hint> {
    let stretches = || counted.iter().map(|from| &steps[*from..from + STRETCH]);
    let voice = mean(&stretches().map(mean).collect::<Vec<_>>());
    let limit = voice * 10.0_f64.powf(0.1 * CUT_SILENT_DB);
    let silent = stretches().flatten().filter(|power| **power < limit).count();
    let share = silent as f64 / (counted.len() * STRETCH) as f64;
    (share > CUT_SILENT).then_some(Hint::CutSilent { share_percent: 100.0 * share })
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len().max(1) as f64
}
