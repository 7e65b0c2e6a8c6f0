//! A voice before and after the work: how much deeper its loudness goes up and down, which octaves came and went, at the same loudness.
//!
//! With `M` the depth of modulation of a take (`measured::voice`) and `m` the share that a room leaves of it, `M = m x` that at the mouth:
//! of two takes of one text `20 lg (M after / M before) = 20 lg (m after / m before)`. What is predicted of the right side are the shares of
//! the scene as it hangs and without its panels: of each octave as in `metrics::speech`, the mean of the octaves that are followed, `sqrt(mean
//! m^2)` of the third octaves about 2, 4 and 8 Hz.
//!
//! *How far one place lies off.* Late sound is noise: with `e(t)` the energy of an octave after the direct sound, its whole being 1, the variance
//! of `m` from place to place is `integral e^2 (cos(2 pi F t - phi) - m)^2 dt / B`, `phi` the phase of `m`, `B` how broad the voice is in the octave;
//! octaves are independent.
//!
//! How much **clearer** in one figure: the mean over 4 and 8 Hz. A change is told where it is beyond what 95 of 100 lie in (Student's t).
//!
//! *References.* T. Houtgast and H. J. M. Steeneken, Acustica 28 (1973) 66. Squares of Gaussian noise: elementary statistics. Loudness: Recommendation ITU-R BS.1770.
//!
//! *Limits.* Same text, same mood, same distance, same gain: what differs in these is told as if the room did it. What materials leave open is not in the error of what is predicted.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::listen::loudness::{LoudnessError, loudness};
use crate::measured::take::TakeAbout;
use crate::measured::voice::{Depth, FOLLOWED, RATES_HZ, VoiceOctave, VoiceTake};
use crate::measured::{Figure, Hint};
use crate::metrics::speech::modulation_transfer;
use crate::response::{Resampled, Response};

/// Rates of modulation, by number, that the one figure is the mean of: 4 and 8 Hz.
const CLEAR: [usize; 2] = [1, 2];

/// What two takes of each voice say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct VoiceProof {
    /// The answer, in sentences.
    pub verdict: Vec<String>,
    /// One for each pair of takes.
    pub voices: Vec<ProvedVoice>,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// Two takes of a voice.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ProvedVoice {
    /// Name of the source.
    pub source: String,
    /// Name of the seat or microphone.
    pub receiver: String,
    /// The take of after.
    pub recording: TakeAbout,
    /// The one of before.
    pub before: TakeAbout,
    /// Loudness of the take of after less that of before, as recorded.
    pub louder_db: f64,
    /// How much deeper its loudness goes up and down, 500 Hz to 4 kHz: mean of 4 and 8 Hz.
    pub clearer_db: Change,
    /// The same at 2, 4 and 8 Hz.
    pub depth_change_db: [Change; 3],
    /// Octaves 125 Hz to 8 kHz, lowest first.
    pub octaves: Vec<ChangedOctave>,
}

/// How much deeper modulation is after than before, in the unit of the key that holds it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Change {
    /// What both takes say.
    pub measured: Figure,
    /// One standard error of that: what was said is only a sample.
    pub measured_sure: Option<f64>,
    /// By how much the change is larger if late sound went up and down as noise does.
    pub measured_more: Option<f64>,
    /// What the scene says of as it hangs against bare, with the error of the tracing.
    pub predicted: Option<Estimate>,
    /// By how much a single place scatters about that, one standard uncertainty.
    pub predicted_scatter: Option<f64>,
}

/// An octave of both takes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct ChangedOctave {
    /// Nominal frequency.
    pub frequency_hz: u32,
    /// How much more of the voice there is after, both takes equally loud.
    pub level_change_db: Figure,
    /// Noise re the voice, before and after.
    pub noise_db: [Option<f64>; 2],
}

/// What 95 of 100 lie in, in standard errors of ten heaps: Student's t with 9 degrees of freedom.
pub const T95: f64 = 2.262;

/// Decibels of a natural logarithm of a ratio of pressures.
const DB: f64 = 20.0 * std::f64::consts::LOG10_E;

/// Both takes side by side; `rooms` are the responses as it hangs and bare.
///
/// # Errors
/// A take that is silent.
pub fn compared(
    (source, receiver): (&str, &str),
    (after, before): (&VoiceTake, &VoiceTake),
    rooms: Option<(&Response, &Response)>,
    schroeder_hz: f64,
) -> Result<ProvedVoice, LoudnessError> {
    let louder_db = loudness(&after.sound)? - loudness(&before.sound)?;
    // Below Schroeder's frequency rays are judged by nothing.
    let rooms = rooms.filter(|_| FOLLOWED.map(Band::new).all(|band| band.center() >= schroeder_hz));
    let shares: Option<[Both; 3]> = rooms.and_then(|(hung, bare)| {
        let (logs, scatter) = ((logs(hung)?, logs(bare)?), (scatter(hung, after)?, scatter(bare, before)?));
        let both =
            |rate: usize| Both { hung: logs.0[rate].clone(), bare: logs.1[rate].clone(), scatter: scatter.0[rate].hypot(scatter.1[rate]) };
        Some(std::array::from_fn(both))
    });
    let change = |rates: &[usize]| {
        let both = |rate: &usize| Some((after.depth.as_ref()?[*rate], before.depth.as_ref()?[*rate]));
        let predicted = shares.as_ref().map(|shares| mean_change(&rates.iter().map(|rate| &shares[*rate]).collect::<Vec<_>>()));
        Change::new(rates.iter().map(both).collect(), predicted)
    };
    let octave = |band: &Band| {
        let takes = (after.octaves[*band], before.octaves[*band]);
        let noise_db = [takes.1, takes.0].map(|take| take.map(|octave| octave.noise_db));
        ChangedOctave { frequency_hz: band.nominal(), level_change_db: level(takes, louder_db), noise_db }
    };
    Ok(ProvedVoice {
        source: source.to_owned(),
        receiver: receiver.to_owned(),
        recording: after.about.clone(),
        before: before.about.clone(),
        louder_db,
        clearer_db: change(&CLEAR),
        depth_change_db: [0, 1, 2].map(|rate| change(&[rate])),
        octaves: Band::ALL[1..].iter().map(octave).collect(),
    })
}

/// Logarithms of the shares that a room leaves as it hangs and bare, and how far one place lies off their difference.
struct Both {
    hung: Resampled<f64>,
    bare: Resampled<f64>,
    scatter: f64,
}

/// Natural logarithms of the shares of its modulation that a room leaves a voice about each rate.
fn logs(response: &Response) -> Option<[Resampled<f64>; 3]> {
    let shares = response.resampled_bands().map(|curves| shares(curves, response.bin_s));
    let of = |rate: usize| shares.measure(|shares| shares.map(|shares| shares[rate].ln()));
    Some([of(0)?, of(1)?, of(2)?])
}

/// Shares of modulation that are left, mean of the octaves that are followed, about each rate.
fn shares(curves: &Bands<Vec<f64>>, bin_s: f64) -> Option<[f64; 3]> {
    let mut mean = [0.0; 14];
    for band in FOLLOWED.map(Band::new) {
        let shares = modulation_transfer(&curves[band], bin_s)?;
        mean.iter_mut().zip(shares).for_each(|(sum, share)| *sum += share / FOLLOWED.count() as f64);
    }
    // Third octaves about 2, 4 and 8 Hz among the fourteen.
    Some([4, 7, 10].map(|first| (mean[first..first + 3].iter().map(|share| share * share).sum::<f64>() / 3.0).sqrt()))
}

/// By how much the logarithms of these shares, as such a take has them, scatter from place to place, one standard uncertainty.
fn scatter(response: &Response, take: &VoiceTake) -> Option<[f64; 3]> {
    let (bin_s, curves) = (response.bin_s, FOLLOWED.map(|index| response.curve(Band::new(index))).collect::<Vec<_>>());
    let of = |rate: f64| {
        let mut sums = (0.0, 0.0);
        for (curve, index) in curves.iter().zip(FOLLOWED) {
            let (band, turn) = (Band::new(index), std::f64::consts::TAU * rate * bin_s);
            let whole: f64 = curve.iter().sum();
            let direct = crate::metrics::direct(curve);
            let noise = || {
                curve.iter().enumerate().map(|(bin, energy)| (turn * (bin as f64 + 0.5), if bin == 0 { energy - direct } else { *energy }))
            };
            let share = noise().map(|(angle, energy)| Complex64::cis(angle) * energy).sum::<Complex64>() / whole + direct / whole;
            let off = |angle: f64| (angle - share.arg()).cos() - share.norm();
            let squares: f64 = noise().map(|(angle, energy)| (energy / whole * off(angle)).powi(2)).sum();
            sums.0 += share.norm();
            sums.1 += squares / bin_s / take.octaves[band]?.bandwidth_hz;
        }
        (sums.0 > 0.0).then(|| sums.1.sqrt() / sums.0)
    };
    let [low, middle, high] = RATES_HZ.map(of);
    Some([low?, middle?, high?])
}

/// Mean of changes of shares in dB, with the error of both tracings, and how far one place lies off it: rates of one place lie off together.
fn mean_change(all: &[&Both]) -> (Estimate, f64) {
    let weight = DB / all.len() as f64;
    let change = Resampled::weighted_sum(all.iter().flat_map(|both| [(0, weight, &both.hung), (1, -weight, &both.bare)]));
    (change, weight * all.iter().map(|both| both.scatter).sum::<f64>())
}

/// How much more there is of an octave, both takes equally loud.
fn level((after, before): (Option<VoiceOctave>, Option<VoiceOctave>), louder_db: f64) -> Figure {
    match (after, before) {
        (Some(after), Some(before)) if after.is_heard() && before.is_heard() => {
            Figure::known(10.0 * (after.power / before.power).log10() - louder_db)
        }
        _ => Figure::missing("the voice is less than 10 dB over the noise"),
    }
}

impl Change {
    /// Mean over depths of after and before.
    fn new(depths: Option<Vec<(Depth, Depth)>>, predicted: Option<(Estimate, f64)>) -> Self {
        let (predicted, predicted_scatter) = predicted.unzip();
        let Some(depths) = depths else {
            let reason = "in some octave from 500 Hz to 4 kHz the voice is less than 10 dB over the noise";
            return Self { measured: Figure::missing(reason), measured_sure: None, measured_more: None, predicted, predicted_scatter };
        };
        let mean = |of: fn(&(Depth, Depth)) -> Depth| Depth::mean(&depths.iter().map(of).collect::<Vec<_>>());
        let (after, before) = (mean(|both| both.0), mean(|both| both.1));
        let (change, error) = after.over(&before);
        let more = Some(DB * (before.noise - after.noise));
        Self { measured: Figure::known(DB * change), measured_sure: Some(DB * error), measured_more: more, predicted, predicted_scatter }
    }
}

/// All voices together, in sentences.
#[must_use]
pub fn proof(voices: Vec<ProvedVoice>) -> VoiceProof {
    let mut verdict = Vec::new();
    let mut notes = Vec::new();
    for voice in &voices {
        let of = if voices.len() > 1 { format!("{} at {}: ", voice.source, voice.receiver) } else { String::new() };
        verdict.extend(sentences(voice).into_iter().map(|sentence| format!("{of}{sentence}")));
        for (when, about) in [("", &voice.recording), (", before", &voice.before)] {
            let said = about.hints.iter().map(Hint::sentence).chain(about.notes.iter().cloned());
            notes.extend(said.map(|sentence| format!("{} at {}{when}: {sentence}", voice.source, voice.receiver)));
        }
    }
    let rates = RATES_HZ.map(|rate| format!("{rate:.0}")).join(", ");
    notes.extend([
        format!("Depth: how far the loudness of an octave goes up and down at {rates} times a second; a room that rings fills the gaps. Syllables come 2 to 8 times a second."),
        "Both takes must be of one text, read alike, at one distance, with automatic gain and noise suppression off: what differs in these is told as if the room did it.".to_owned(),
        "+- holds 95 of 100 for what happened to be said; that a voice never says a thing twice alike is not in it.".to_owned(),
        "Predicted: the scene as it hangs against the scene without its panels; what materials leave open is not in its error. A scene without panels predicts no change.".to_owned(),
        "Late sound goes up and down by itself, as all noise does, and the wetter take has more of it: the change may be larger than told by up to what stands beside it.".to_owned(),
        "Leave two seconds of silence before the first word: noise is the softest 0.4 s, and a room that still rings would be taken for it. Takes are not aligned word by word, so turns jump in the text.".to_owned(),
        "For decay times and reflections record a sweep or a clap: a voice cannot tell them.".to_owned(),
    ]);
    VoiceProof { verdict, voices, notes }
}

/// What was predicted, and whether both takes say so: what they say lies between the change itself and that without what late sound may have added to it.
fn predicted(change: &Change, value: f64, sure: f64) -> Option<String> {
    let (predicted, scatter, more) = (change.predicted?, change.predicted_scatter?, change.measured_more?);
    let place = predicted.se.hypot(scatter);
    let open = (T95 * sure).hypot(2.0 * place);
    let off = predicted.value - predicted.value.clamp(value.min(value + more), value.max(value + more));
    let agrees = if off.abs() <= open {
        "what was measured agrees with that".to_owned()
    } else {
        let word = if off < 0.0 { "more" } else { "less" };
        format!("what was measured is {:.1} dB {word}, beyond what both leave open", off.abs())
    };
    Some(format!("Predicted for the panels of the scene: {:+.1} dB +-{:.1} dB at a single place; {agrees}.", predicted.value, 2.0 * place))
}

/// What two takes say.
fn sentences(voice: &ProvedVoice) -> Vec<String> {
    let mut told = Vec::new();
    let clearer = &voice.clearer_db;
    match (clearer.measured.value, clearer.measured_sure) {
        (Some(value), Some(sure)) => {
            let open = T95 * sure;
            let by = |word: &str| {
                format!(
                    "its loudness goes up and down {:.1} dB +-{open:.1} dB {word} (at 4 and 8 times a second, 500 Hz to 4 kHz)",
                    value.abs()
                )
            };
            told.push(if value > open {
                format!("The voice is clearer after the work: {}.", by("deeper"))
            } else if value < -open {
                format!("The voice is less clear after the work: {}.", by("less deep"))
            } else {
                format!("These takes do not tell whether the voice is clearer: the change is {value:+.1} dB and +-{open:.1} dB are open.")
            });
            told.extend(predicted(clearer, value, sure));
        }
        _ => told.push(format!("How much clearer the voice is cannot be told: {}.", clearer.measured.reason.clone().unwrap_or_default())),
    }
    let known = voice.octaves.iter().filter_map(|octave| Some((octave.frequency_hz, octave.level_change_db.value?)));
    if let Some((frequency, change)) = known.max_by(|a, b| a.1.abs().total_cmp(&b.1.abs())).filter(|(_, change)| change.abs() >= 1.0) {
        let more = if change > 0.0 { "more" } else { "less" };
        told.push(format!("Equally loud, the tone changed most at {frequency} Hz: {:.1} dB {more} of it.", change.abs()));
    }
    told
}
