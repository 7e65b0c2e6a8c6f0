//! From samples to figures: what a measured impulse response says, by octave and by third octave.
//!
//! Time begins at the **onset**: the first sample within 20 dB of the largest (ISO 3382-1 lets the response begin where it first rises above the noise, still more than 20 dB below its peak; we take the
//! crossing itself). Of each band: the noise and where the decay meets it (`noise`), Schroeder's backward integral of what lies before, with the rest of the late decay, and what `metrics` says
//! of it (`band`). A figure that the record does not bear is left out, with the reason in its place.
//!
//! - `band`: decay times, straightness, clarity of one band;
//! - `early`: the reflections that stand out of the first milliseconds;
//! - `take`: from a recording to a response: sweep, impulse response as it is, clap;
//! - `voice`: how loud the octaves of a voice are, and how deep their loudness goes up and down;
//! - `noise`: noise floor, cut and compensation;
//! - `hints`: what speaks against a record as such.
//!
//! *References.* ISO 3382-1:2009 and ISO 3382-2:2008 (read in part, else from memory).
//!
//! *Limits.* One response at a time, nothing is averaged over places. Levels are relative: there is no sound level without a calibrated microphone.

pub mod band;
pub mod early;
pub mod hints;
pub mod noise;
pub mod take;
pub mod voice;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::bands::Band;
use crate::dsp::filter::{Filter, THIRDS, third_nominal};
use band::Look;
pub use hints::Hint;

/// How far below the largest sample the response begins, as a ratio of pressures: 20 dB.
const ONSET: f64 = 0.1;

/// A figure, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Figure {
    /// The figure, in the unit that the key of the figure ends with.
    pub value: Option<f64>,
    /// Why it is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reason: Option<String>,
}

impl Figure {
    /// A figure that is known.
    #[must_use]
    pub fn known(value: f64) -> Self {
        Self { value: Some(value), reason: None }
    }

    /// A figure that is missing, and why.
    #[must_use]
    pub fn missing(reason: impl Into<String>) -> Self {
        Self { value: None, reason: Some(reason.into()) }
    }
}

/// What one impulse response says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Measured {
    /// Samples a second.
    pub rate_hz: f64,
    /// When the response begins, from the first sample on.
    pub onset_s: f64,
    /// Speech transmission index of the response itself, its noise taken out: what the room does to speech that is loud enough.
    pub speech_transmission_index: Figure,
    /// All frequencies together.
    pub broadband: MeasuredBand,
    /// Octaves 63 Hz to 8 kHz, lowest first.
    pub octaves: Vec<MeasuredBand>,
    /// Third octaves 50 Hz to 10 kHz, lowest first.
    pub third_octaves: Vec<MeasuredBand>,
    /// What speaks against the record.
    pub hints: Vec<Hint>,
}

/// What a band of an impulse response says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MeasuredBand {
    /// Nominal frequency; `None` for all frequencies together.
    pub nominal_hz: Option<f64>,
    /// Largest sample re the noise.
    pub peak_to_noise_db: Figure,
    /// How far the decay falls before it meets the noise or the end of its record: the lesser of peak to noise and of the integrated curve down to the rest beyond the cut.
    pub range_db: Figure,
    /// When the decay meets the noise or the end of its record, from the onset on.
    pub cut_s: Option<f64>,
    /// Time for 60 dB of the late decay, which fills in for what lies beyond the cut.
    pub late_decay_s: Option<f64>,
    /// Width of the band times the longest-range decay time that is known.
    pub bandwidth_time: Option<f64>,
    /// Whether the filter ran backward in time.
    pub backward: bool,
    /// Early decay time.
    pub edt_s: Figure,
    /// T20.
    pub t20_s: Figure,
    /// T30.
    pub t30_s: Figure,
    /// How far from straight the range of T20 is: above 10 doubtful.
    pub t20_nonlinearity_permille: Figure,
    /// How far from straight the range of T30 is: above 10 doubtful.
    pub t30_nonlinearity_permille: Figure,
    /// `100 (T30 / T20 - 1)`: above 10 not straight.
    pub curvature_percent: Figure,
    /// Clarity at 50 ms.
    pub c50_db: Figure,
    /// Clarity at 80 ms.
    pub c80_db: Figure,
    /// Definition, 0 to 1.
    pub d50: Figure,
    /// Center time.
    pub center_time_ms: Figure,
}

/// Why a record says nothing at all.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum Unusable {
    /// Nothing but zeros.
    #[error("the response is silent")]
    Silent,
    /// A value that is no number, or no rate.
    #[error("the response holds values that are not numbers, or its rate is not above zero")]
    Unsound,
    /// Too little of it.
    #[error("the response ends {length_ms:.0} ms after its onset; {needed_ms:.0} ms are the least that says anything")]
    TooShort {
        /// From the onset to the end.
        length_ms: f64,
        /// The least.
        needed_ms: f64,
    },
}

/// Least length after the onset, milliseconds.
const LEAST_MS: f64 = 100.0;

/// What an impulse response at `rate_hz` samples a second says.
///
/// # Errors
/// Where it says nothing at all.
pub fn measure(response: &[f64], rate_hz: f64) -> Result<Measured, Unusable> {
    if !(rate_hz > 0.0 && rate_hz.is_finite()) || response.iter().any(|value| !value.is_finite()) {
        return Err(Unusable::Unsound);
    }
    let onset = onset(response).ok_or(Unusable::Silent)?;
    // Zeros after the last sound are no record of anything.
    let end = response.iter().rposition(|value| *value != 0.0).map_or(0, |last| last + 1);
    let length_ms = 1000.0 * (end - onset) as f64 / rate_hz;
    if length_ms < LEAST_MS {
        return Err(Unusable::TooShort { length_ms, needed_ms: LEAST_MS });
    }
    let response = &response[..end];
    let look = Look { response, onset, rate_hz };
    let octave = |band: Band| look.band(Filter::octave(band, rate_hz).as_ref(), f64::from(band.nominal()));
    let broadband = look.broadband();
    let cut = broadband.cut_s.map_or(end, |cut| (onset + (cut * rate_hz) as usize).min(end));
    Ok(Measured {
        rate_hz,
        onset_s: onset as f64 / rate_hz,
        speech_transmission_index: look.speech(),
        octaves: Band::ALL.map(octave).to_vec(),
        third_octaves: THIRDS.map(|index| look.band(Filter::third(index, rate_hz).as_ref(), third_nominal(index))).collect(),
        hints: hints::hints(response, &response[cut..], rate_hz),
        broadband,
    })
}

/// The first sample within 20 dB of the largest; `None` for silence.
#[must_use]
pub fn onset(response: &[f64]) -> Option<usize> {
    let largest = response.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
    (largest > 0.0).then(|| response.iter().position(|value| value.abs() >= ONSET * largest)).flatten()
}
