//! From a recording to a response of the room: a sweep is undone, an impulse response taken as it is, a clap or a bursting balloon cut out.
//!
//! Of several channels one is taken: the first, where all hold the same or no other is asked for; one that is 40 dB louder than the rest, where these are as good as empty.
//!
//! **A clap** is the loudest moment of the recording, with up to a second of quiet before it, until 30 ms before the next one within 20 dB of it (after 0.3 s at the earliest) or the end. What a phone does to it shows in two ways. A room's decay, a sum of
//! exponentials, never falls faster late than early: where T30 is shorter than T20 by more than a tenth in two octaves, *noise suppression* or a gate is at work. And noise after the clap is as loud as before
//! it: 6 dB apart, *gain was moved* by the recorder.
//!
//! *References.* Deconvolution: `dsp::recorded`. Sums of exponentials are convex on a scale of levels (elementary). The limits of 10 % and 6 dB are our own.
//!
//! *Limits.* A clap is no point that sends alike everywhere, and has its own spectrum: decay times of it are good where it stands out of the noise, levels re direct and clarity are those of the hands and
//! of where they were. A gate that opens and closes before the first clap is not seen.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::hints::{Hint, hints};
use super::voice::VoiceError;
use super::{Measured, Unusable, measure, onset};
use crate::dsp::recorded::deconvolve;
use crate::dsp::sweep::{Sweep, SweepError};
use crate::dsp::wav::Sound;

/// What a recording is of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Signal {
    /// This sweep, through a loudspeaker.
    Sweep(Sweep),
    /// An impulse response already.
    Response,
    /// A clap or a bursting balloon.
    Clap,
}

/// A response, and how it came about.
#[derive(Clone, Debug, PartialEq)]
pub struct Take {
    /// Samples of the response.
    pub response: Vec<f64>,
    /// What it says.
    pub measured: Measured,
    /// How it came about.
    pub about: TakeAbout,
}

/// How a response came about.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TakeAbout {
    /// `sweep`, `response`, `clap` or `voice`.
    pub signal: String,
    /// Samples a second.
    pub rate_hz: f64,
    /// Length of the recording.
    pub length_s: f64,
    /// Channels of the recording.
    pub channels: usize,
    /// The one that was taken, counted from 1.
    pub channel: usize,
    /// Largest sample re full scale.
    pub peak_db: f64,
    /// By how much the clock of the recorder ran fast, parts in a million; `None` without repeats of a sweep.
    pub drift_ppm: Option<f64>,
    /// Distortion by order, second first, re the response; `None` where it is lost in noise. Of a sweep alone.
    pub distortion_db: Vec<Option<f64>>,
    /// What speaks against the recording.
    pub hints: Vec<Hint>,
    /// What was decided, in words.
    pub notes: Vec<String>,
}

/// Why nothing comes of a recording.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum TakeError {
    /// No such channel.
    #[error("there is no channel {asked}: the recording has {}", if *.channels == 1 { "one".to_owned() } else { channels.to_string() })]
    Channel {
        /// Counted from 1.
        asked: usize,
        /// How many there are.
        channels: usize,
    },
    /// Nothing on it.
    #[error("the recording is silent: no sample is above -120 dB re full scale; check the input that was recorded")]
    Silent,
    /// No sweep, or another.
    #[error(transparent)]
    Sweep(#[from] SweepError),
    /// A response that says nothing.
    #[error(transparent)]
    Unusable(#[from] Unusable),
    /// The signal itself.
    #[error(
        "no room is heard: 20 ms after the first sound {below_db:.0} dB less are left. This is the signal itself, or came through a cable; record it in the room, by a microphone"
    )]
    NoRoom {
        /// By how much all that comes 20 ms and more after the onset is softer than all of it, dB.
        below_db: f64,
    },
    /// No voice, or too little of it.
    #[error(transparent)]
    Voice(#[from] VoiceError),
}

/// How much louder than the rest a channel is that is taken without being asked for, as a ratio of pressures: 40 dB.
const ALONE: f64 = 100.0;
/// Difference of channels that hold the same, as a ratio of pressures: -60 dB.
const SAME: f64 = 0.001;
/// No room is drier: energy falls by 20 dB in 20 ms where 0.06 s are the decay, and the direct sound of a loudspeaker nearby is some 10 dB above the rest.
const NO_ROOM_DB: f64 = 40.0;
const NO_ROOM_S: f64 = 0.02;
/// A clap may begin so much before its loudest sample, seconds; until the next one at the earliest; noise before it is read up to 10 ms before it, 0.2 s at the least.
const LEAD_S: f64 = 0.03;
const NEXT_S: f64 = 0.3;
const NOISE_S: (f64, f64) = (0.01, 0.2);
/// By how much noise may differ before and after a clap, dB.
const MOVED_DB: f64 = 6.0;
/// By how much T30 is shorter than T20 where a gate is at work, percent.
const GATED_PERCENT: f64 = -10.0;

impl Take {
    /// The response in a recording; of `channel`, counted from 1, where one is asked for.
    ///
    /// # Errors
    /// [`TakeError`].
    pub fn new(sound: &Sound, signal: &Signal, channel: Option<usize>) -> Result<Self, TakeError> {
        let (samples, mut about) = begun(sound, channel)?;
        let rate_hz = about.rate_hz;
        let mut hints = hints(&samples, &[], rate_hz);
        if hints.contains(&Hint::Silent) {
            return Err(TakeError::Silent);
        }
        let (word, response) = match signal {
            Signal::Sweep(sweep) => {
                let recorded = deconvolve(&samples, &Sweep { rate_hz, ..*sweep })?;
                about.drift_ppm = recorded.drift_ppm;
                about.distortion_db = recorded.distortion.iter().map(|one| one.share_db).collect();
                ("sweep", recorded.average)
            }
            Signal::Response => ("response", samples),
            Signal::Clap => ("clap", clap(&samples, rate_hz)),
        };
        about.signal = word.to_owned();
        let below_db = before_a_room(&response, rate_hz);
        if below_db > NO_ROOM_DB {
            return Err(TakeError::NoRoom { below_db });
        }
        let measured = measure(&response, rate_hz)?;
        // A response written at its largest sample is not clipped, and what hums is heard in its quiet end.
        let of_response = measured.hints.iter().filter(|hint| !matches!(hint, Hint::Clipped { .. })).cloned();
        hints.extend(of_response);
        if matches!(signal, Signal::Clap) {
            hints.extend(moved(&response, rate_hz));
            hints.extend(gated(&measured));
        }
        about.hints = hints;
        Ok(Self { response, measured, about })
    }
}

/// By how much what comes 20 ms and more after the onset of a response is softer than all of it, dB; of its slope, so that the lowest end of a sweep does not ring on.
fn before_a_room(response: &[f64], rate_hz: f64) -> f64 {
    let energy = |samples: &[f64]| samples.windows(2).map(|pair| (pair[1] - pair[0]).powi(2)).sum::<f64>();
    let late = onset(response).map_or(0, |onset| onset + (NO_ROOM_S * rate_hz) as usize).min(response.len());
    10.0 * (energy(response) / energy(&response[late..])).log10()
}

/// The samples of the channel that is taken, and what is known of how they came about before anybody looks at them.
pub(super) fn begun(sound: &Sound, channel: Option<usize>) -> Result<(Vec<f64>, TakeAbout), TakeError> {
    let (index, note) = choose(&sound.channels, channel)?;
    let samples: Vec<f64> = sound.channels[index].iter().map(|value| f64::from(*value)).collect();
    let about = TakeAbout {
        signal: String::new(),
        rate_hz: f64::from(sound.rate),
        length_s: sound.seconds(),
        channels: sound.channels.len(),
        channel: index + 1,
        peak_db: 20.0 * samples.iter().fold(0.0_f64, |peak, value| peak.max(value.abs())).log10(),
        drift_ppm: None,
        distortion_db: Vec::new(),
        hints: Vec::new(),
        notes: note.into_iter().collect(),
    };
    Ok((samples, about))
}

/// Which channel, counted from 0, and what is to be said about it.
fn choose(channels: &[Vec<f32>], asked: Option<usize>) -> Result<(usize, Option<String>), TakeError> {
    let count = channels.len();
    if let Some(asked) = asked {
        let known = (1..=count).contains(&asked);
        return if known { Ok((asked - 1, None)) } else { Err(TakeError::Channel { asked, channels: count }) };
    }
    let peaks: Vec<f64> = channels.iter().map(|channel| peak(channel.iter().copied())).collect();
    let loudest = (0..count).max_by(|a, b| peaks[*a].total_cmp(&peaks[*b]).then(b.cmp(a))).ok_or(TakeError::Silent)?;
    let alike = |channel: &Vec<f32>| peak(channel.iter().zip(&channels[0]).map(|(own, first)| own - first)) <= SAME * peaks[0];
    if count == 1 || channels.iter().all(alike) {
        return Ok((0, None));
    }
    if (0..count).all(|index| index == loudest || peaks[index] * ALONE <= peaks[loudest]) {
        return Ok((loudest, Some(format!("Of {count} channels only channel {} holds a sound; it was taken.", loudest + 1))));
    }
    Ok((0, Some(format!("Channel 1 of {count} was taken; they differ, and `--channel` takes another."))))
}

fn peak(samples: impl Iterator<Item = f32>) -> f64 {
    samples.fold(0.0, |peak, value| peak.max(f64::from(value.abs())))
}

/// The loudest clap of a recording.
fn clap(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let count = |seconds: f64| (seconds * rate_hz) as usize;
    let loudest = (0..samples.len()).max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs())).unwrap_or(0);
    let begins = onset(&samples[loudest.saturating_sub(count(LEAD_S))..]).unwrap_or(0) + loudest.saturating_sub(count(LEAD_S));
    let another = 0.1 * samples[loudest].abs();
    let quiet_from = (loudest + count(NEXT_S)).min(samples.len());
    let next = samples[quiet_from..].iter().position(|value| value.abs() >= another).map(|place| quiet_from + place);
    let end = next.map_or(samples.len(), |next| next.saturating_sub(count(LEAD_S)).max(quiet_from));
    // With as much quiet before it as there is: that tells whether gain moved.
    let from = begins.saturating_sub(count(1.0));
    samples[from..end].to_vec()
}

/// Whether noise after a clap is another than before it.
fn moved(response: &[f64], rate_hz: f64) -> Option<Hint> {
    let begins = onset(response)?;
    let before = &response[..begins.checked_sub((NOISE_S.0 * rate_hz) as usize)?];
    let least = (NOISE_S.1 * rate_hz) as usize;
    let after = &response[response.len() - response.len() / 10..];
    let power = |part: &[f64]| part.iter().map(|value| value * value).sum::<f64>() / part.len() as f64;
    if before.len() < least || after.len() < least / 2 {
        return None;
    }
    let change_db = 10.0 * (power(after) / power(before)).log10();
    (change_db.abs() > MOVED_DB && change_db.is_finite()).then_some(Hint::GainMoved { change_db })
}

/// Whether decays fall ever faster.
fn gated(measured: &Measured) -> Option<Hint> {
    let falls = measured.octaves.iter().filter_map(|octave| octave.curvature_percent.value).filter(|value| *value < GATED_PERCENT);
    let octaves = falls.count();
    (octaves >= 2).then_some(Hint::FallsFaster { octaves })
}
