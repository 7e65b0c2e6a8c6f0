//! Did it work? What recordings say beside what the scene says, and beside what recordings of before say.
//!
//! - `scatter`: how far one place lies from the mean of many;
//! - `figures`: decay, clarity, speech octave by octave, and how sure their difference is;
//! - `read`: what the filter of an octave reads of predicted sound;
//! - `reflections`: which bounces are there, which are missing, which are new;
//! - `verdict`: all of that in sentences;
//! - `fit`: what materials must absorb for the prediction to meet the measured decay;
//! - `voice`: two takes of a voice.
//!
//! *References.* As those files say.
//!
//! *Limits.* Levels are relative: there is no sound level without a calibrated microphone. A recording is of one place; whether the room is right elsewhere takes more of them.

pub mod figures;
pub mod fit;
pub mod read;
pub mod reflections;
pub mod scatter;
mod verdict;
pub mod voice;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::findings::{EnergyTime, Findings, Pair, Reflection, Target};
use crate::measured::MeasuredBand;
use crate::measured::early::{Early, HALF_S};
use crate::measured::take::{Take, TakeAbout};
use crate::room::Room;
use crate::scene::{Activity, Scene};

pub use figures::{Agreement, Compared, ProvedOctave};
pub use reflections::{Found, Matched, New};

/// Just noticeable difference of the speech transmission index (from memory: 0.03).
const SPEECH_STEP: f64 = 0.03;
/// By how much it scatters from place to place, one standard uncertainty (IEC 60268-16, from memory: repeated measurements lie within 0.02 to 0.03).
const SPEECH_SCATTER: f64 = 0.02;

/// What all recordings say.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// The answer, in sentences.
    pub verdict: Vec<String>,
    /// One for each recording.
    pub recordings: Vec<Proved>,
    /// What is asked of the decay, s; `None` where no document or practice speaks.
    pub asked_s: Option<[f64; 2]>,
    /// Who asks it.
    pub asked_by: Option<String>,
    /// Materials fitted to the measured decays, where that was asked for.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fit: Option<fit::Fit>,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// What one recording says beside the scene.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Proved {
    /// Name of the source.
    pub source: String,
    /// Name of the seat or microphone.
    pub receiver: String,
    /// The recording.
    pub recording: TakeAbout,
    /// The one of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<TakeAbout>,
    /// Mean decay of the octaves that the use is judged in, as far as both are known.
    pub decay_s: Option<Compared>,
    /// The first and last of these octaves, Hz.
    pub decay_octaves_hz: Option<[u32; 2]>,
    /// Speech transmission index, without noise.
    pub speech_transmission_index: Compared,
    /// Octaves, lowest first.
    pub octaves: Vec<ProvedOctave>,
    /// Third octaves as measured, lowest first.
    pub third_octaves: Vec<MeasuredBand>,
    /// Predicted reflections and what became of them; none of a clap, which is not where the source is.
    pub reflections: Vec<Matched>,
    /// Reflections that nothing predicts.
    pub new_reflections: Vec<New>,
    /// What arrives and when, 1-8 kHz within half a millisecond to either side re the direct sound.
    pub energy_time: MeasuredCurve,
}

/// An energy-time curve as measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredCurve {
    /// From one value to the next.
    pub step_ms: f64,
    /// Level re the direct sound, which the first value is.
    pub level_db: Vec<f64>,
    /// The same of the recording of before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before_level_db: Option<Vec<f64>>,
    /// The same as the scene has it; of a clap there is none, which is not where the source is.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub predicted: Option<PredictedCurve>,
}

/// An energy-time curve as predicted, summed as a measured one is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PredictedCurve {
    /// From one value to the next: a bin of the prediction.
    pub step_ms: f64,
    /// Level re the direct sound, from its arrival on.
    pub level_db: Vec<f64>,
}

impl PredictedCurve {
    /// Energy of a predicted curve within half a millisecond to either side of where each bin begins, of a bin that lies there in part that part; `None` where a bin is longer than that millisecond.
    #[must_use]
    pub fn new(curve: &EnergyTime) -> Option<Self> {
        let (bin, reach) = (curve.bin_ms, 1000.0 * HALF_S);
        let energies: Vec<f64> = curve.level_db.iter().map(|level| 10.0_f64.powf(0.1 * level)).collect();
        let bins = (reach / bin).ceil() as usize;
        let level = |place: usize| {
            let at = place as f64 * bin;
            let within = |index: usize| {
                let begins = index as f64 * bin;
                ((begins + bin).min(at + reach) - begins.max(at - reach)).max(0.0) / bin
            };
            let near = place.saturating_sub(bins)..(place + bins).min(energies.len());
            10.0 * near.map(|index| within(index) * energies[index]).sum::<f64>().max(LEAST).log10()
        };
        let shown = ((1000.0 * CURVE_S.0 / bin) as usize).min(energies.len());
        (bin <= 2.0 * reach).then(|| Self { step_ms: bin, level_db: (0..shown).map(level).collect() })
    }
}

/// Energy re the direct sound that counts as nothing: -120 dB.
const LEAST: f64 = 1e-12;

/// Length of the curve for charts, and its step, seconds.
const CURVE_S: (f64, f64) = (0.060, 0.0002);

/// A recording beside what the scene says of its source and receiver.
pub struct Question<'a> {
    /// The room.
    pub room: &'a Room,
    /// What the use is.
    pub activity: Activity,
    /// How long reflections count as early, seconds.
    pub window_s: f64,
    /// Numbers of source and receiver.
    pub at: (usize, usize),
    /// What the scene says of the two.
    pub pair: &'a Pair,
    /// Its early reflections at the middle of the head.
    pub reflections: &'a [Reflection],
}

impl Question<'_> {
    /// What the recording says, and one of before.
    #[must_use]
    pub fn answer(&self, take: &Take, before: Option<&Take>) -> Proved {
        let early = early(take, self.window_s);
        let ends = (self.room.sources[self.at.0].position, self.room.receivers[self.at.1].position);
        let (reflections, new_reflections) = match take.about.signal.as_str() {
            "clap" => (Vec::new(), Vec::new()),
            _ => reflections::matched(self.reflections, &early, (self.room, ends)),
        };
        let octaves = figures::octaves(self.pair, &take.measured, before.map(|before| &before.measured));
        let mean = figures::mean_decay(&octaves, crate::findings::targets::decay_octaves(self.activity));
        Proved {
            source: self.pair.source.clone(),
            receiver: self.pair.receiver.clone(),
            recording: take.about.clone(),
            before: before.map(|before| before.about.clone()),
            decay_octaves_hz: mean.as_ref().map(|((first, last), _)| [octaves[*first].frequency_hz, octaves[*last].frequency_hz]),
            decay_s: mean.map(|(_, mean)| mean),
            speech_transmission_index: self.speech(take, before),
            octaves,
            third_octaves: take.measured.third_octaves.clone(),
            reflections,
            new_reflections,
            energy_time: MeasuredCurve {
                step_ms: 1000.0 * CURVE_S.1,
                level_db: curve(&early),
                before_level_db: before.map(|before| curve(&self::early(before, self.window_s))),
                predicted: if take.about.signal == "clap" { None } else { PredictedCurve::new(&self.pair.energy_time) },
            },
        }
    }

    /// The speech transmission index; what the scene says of noise is not in the recording's, so then they are not compared.
    fn speech(&self, take: &Take, before: Option<&Take>) -> Compared {
        let own = &take.measured.speech_transmission_index;
        let then = before.map(|before| before.measured.speech_transmission_index.clone());
        let change_steps = own.value.zip(then.as_ref().and_then(|then| then.value)).map(|(now, then)| (now - then) / SPEECH_STEP);
        let predicted = self.pair.speech_transmission_index.filter(|_| self.pair.speech_index_noise_free);
        let inputs = self.pair.speech_transmission_index_inputs.filter(|_| predicted.is_some());
        let steps = |value: f64, other: f64| (value - other) / SPEECH_STEP;
        let compared = figures::compared(own, Some(SPEECH_SCATTER), (predicted, inputs), steps, true);
        Compared { before: then, change_steps, ..compared }
    }
}

/// The first milliseconds of a take.
fn early(take: &Take, window_s: f64) -> Early {
    let rate = take.about.rate_hz;
    Early::new(&take.response, (take.measured.onset_s * rate).round() as usize, rate, window_s)
}

fn curve(early: &Early) -> Vec<f64> {
    let mut curve = early.curve(CURVE_S.1);
    curve.truncate((CURVE_S.0 / CURVE_S.1) as usize);
    curve
}

/// All recordings together.
#[must_use]
pub fn proof(scene: &Scene, findings: &Findings, recordings: Vec<Proved>) -> Proof {
    let target = findings.targets.iter().find(|target| target.unit == "s" && target.low.is_some() && target.high.is_some());
    let by = |target: &Target| match target.verdict.as_str() {
        "outside its range" => format!("{}; the room is outside its range", target.source),
        _ => target.source.clone(),
    };
    let mut proof = Proof {
        verdict: Vec::new(),
        asked_s: target.and_then(|target| Some([target.low?, target.high?])),
        asked_by: target.map(by),
        notes: verdict::notes(&recordings),
        fit: None,
        recordings,
    };
    proof.verdict = verdict::sentences(scene.activity, &proof);
    proof
}
