//! Which signal is the room measured with? The sweep, what it may harm, and how it is recorded.
//!
//! *References.* `dsp::sweep`. Cautions: common practice, no source.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::sweep::{Sweep, SweepError};

/// A sweep to play and to record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TestSignal {
    /// Frequency it begins with.
    pub low_hz: f64,
    /// Frequency it ends with.
    pub high_hz: f64,
    /// Length of one sweep.
    pub length_s: f64,
    /// How often.
    pub repeats: usize,
    /// Silence after each.
    pub silence_s: f64,
    /// Largest sample re full scale.
    pub level_db: f64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Length of all of it.
    pub whole_s: f64,
    /// What can be harmed, and how not to.
    pub cautions: Vec<String>,
    /// How it is recorded, step by step.
    pub steps: Vec<String>,
}

/// What can be harmed, and how not to.
const CAUTIONS: [&str; 4] = [
    "Ears: turn the volume all the way down before it starts, then raise it until it is as loud as speech. Leave the room or wear ear protection; nobody's ear is near a loudspeaker.",
    "Tweeters: the top of a sweep is one tone after another at full level. What sounds moderate in the middle can burn a tweeter at the top: raise the level by small steps, and stop where it distorts. Give --from and --to what the loudspeaker is made for.",
    "Start again with the volume down whenever a cable was moved.",
    "Cables and stands trip people: lay them along walls.",
];

/// How it is recorded.
const STEPS: [&str; 6] = [
    "Put the microphone where the middle of the head is, at ear height, and leave the chair empty or as it will be used; the loudspeaker stands where the scene has it.",
    "One loudspeaker sounds at a time: a recording for each. Turn off equalizers, enhancers, and whatever else listens along.",
    "Record as WAV, 24 bits or float, without automatic gain, noise suppression or voice enhancement; peaks between -20 and -6 dB. Start the recorder first: silence before and after does no harm.",
    "Nobody moves or speaks until the last silence is over; windows shut, fans off.",
    "The same signal, the same level and the same places again after the panels hang: that is what makes before and after comparable.",
    "Then: roomwright prove SCENE RECORDING, with the same --from, --to, --seconds, --repeats and --pause if they were typed here.",
];

/// What is to be known of a sweep.
///
/// # Errors
/// A range or lengths that do not fit.
pub fn sweep(sweep: &Sweep) -> Result<TestSignal, SweepError> {
    sweep.check()?;
    Ok(TestSignal {
        low_hz: sweep.low_hz,
        high_hz: sweep.high_hz,
        length_s: sweep.seconds,
        repeats: sweep.repeats,
        silence_s: sweep.silence_s,
        level_db: sweep.level_db,
        rate_hz: sweep.rate_hz,
        whole_s: (sweep.period() * sweep.repeats) as f64 / sweep.rate_hz,
        cautions: CAUTIONS.map(str::to_owned).to_vec(),
        steps: STEPS.map(str::to_owned).to_vec(),
    })
}
