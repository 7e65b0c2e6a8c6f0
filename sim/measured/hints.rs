//! What speaks against a record as such: clipped, hum of the mains in it, nothing on it, pauses cut silent.
//!
//! **Clipping**: at least three samples in a row at the one largest value, of either sign; each such run counts. **Hum**: in the quiet end of the record, under a Hann window, a line at 50 or 60 Hz or one of
//! their multiples below 300 Hz (which both have), 15 dB above the median of the lines about it (the power of noise passes that in one of a billion places). **Silence**: no sample above -120 dB re full scale.
//!
//! *References.* Elementary statistics: the power of one line of noise is distributed exponentially, with a median of ln 2 of its mean.
//!
//! *Limits.* Hum takes 0.4 s of quiet. A limiter that bends instead of clips leaves no runs.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::dsp::transform::hann_power;

/// Shortest run that counts as clipped, samples.
const RUN: usize = 3;

/// Least and longest quiet end that is looked at for hum, seconds.
const QUIET_S: (f64, f64) = (0.4, 4.0);

/// How far above its neighbors a line stands, dB.
const LINE_DB: f64 = 15.0;

/// Multiples of the mains that are looked at lie below this, Hz: the first that 50 and 60 Hz share.
const SHARED_HZ: f64 = 300.0;

/// Pressure of silence re full scale: -120 dB.
const SILENCE: f64 = 1e-6;

/// Something that speaks against a record.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case", tag = "kind", deny_unknown_fields)]
pub enum Hint {
    /// Runs of samples at one largest value.
    Clipped {
        /// How many runs.
        runs: usize,
        /// The longest, samples.
        longest_samples: usize,
    },
    /// The mains are heard in the noise.
    Hum {
        /// Frequency of the mains.
        mains_hz: f64,
        /// The line that stands out most.
        line_hz: f64,
        /// How far it stands above the noise about it.
        above_noise_db: f64,
    },
    /// Nothing above -120 dB re full scale.
    Silent,
    /// Noise after a clap is louder or softer than before it.
    GainMoved {
        /// By how much.
        change_db: f64,
    },
    /// Pauses of a voice are softer than the noise of any microphone.
    CutSilent {
        /// Share of the recording.
        share_percent: f64,
    },
    /// Decays fall ever faster, which no room does.
    FallsFaster {
        /// In how many octaves.
        octaves: usize,
    },
}

impl Hint {
    /// What it means, in a sentence.
    #[must_use]
    pub fn sentence(&self) -> String {
        match self {
            Self::Clipped { runs, longest_samples } => format!(
                "The recording is clipped in {runs} {} (the longest {longest_samples} samples): record it again, 10 dB lower.",
                if *runs == 1 { "place" } else { "places" }
            ),
            Self::Hum { mains_hz, line_hz, above_noise_db } => format!(
                "The mains hum: {line_hz:.0} Hz stands {above_noise_db:.0} dB over the noise about it (mains of {mains_hz:.0} Hz); look for a ground loop or a dimmer."
            ),
            Self::Silent => "Nothing is on the recording.".to_owned(),
            Self::GainMoved { change_db } => format!(
                "Noise after the clap is {change_db:+.0} dB re before it: the recorder moved its gain; turn automatic gain off, or use another recorder."
            ),
            Self::CutSilent { share_percent } => format!(
                "{share_percent:.0} % of the recording is more silent than any microphone: noise suppression or a gate of the recorder cuts the room off with the pauses; turn it off and record again."
            ),
            Self::FallsFaster { octaves } => format!(
                "In {octaves} octaves the decay falls ever faster, which no room does: noise suppression or a gate of the recorder; turn it off, decay times are too short with it."
            ),
        }
    }
}

/// What speaks against a record whose `quiet` part holds no more than noise.
#[must_use]
pub fn hints(record: &[f64], quiet: &[f64], rate_hz: f64) -> Vec<Hint> {
    if record.iter().all(|value| value.abs() < SILENCE) {
        return vec![Hint::Silent];
    }
    clipped(record).into_iter().chain([50.0, 60.0].into_iter().filter_map(|mains| hum(quiet, rate_hz, mains))).collect()
}

/// Runs at the largest value.
fn clipped(record: &[f64]) -> Option<Hint> {
    let largest = record.iter().fold(0.0_f64, |largest, value| largest.max(value.abs()));
    let equal = |a: &f64, b: &f64| a == b && a.abs() >= largest;
    let long = || record.chunk_by(equal).filter(|run| run.len() >= RUN && run[0].abs() >= largest).map(<[f64]>::len);
    long().max().map(|longest_samples| Hint::Clipped { runs: long().count(), longest_samples })
}

/// The multiple of the mains that stands out most.
fn hum(quiet: &[f64], rate_hz: f64, mains_hz: f64) -> Option<Hint> {
    let quiet = &quiet[quiet.len().saturating_sub((QUIET_S.1 * rate_hz) as usize)..];
    if (quiet.len() as f64) < QUIET_S.0 * rate_hz {
        return None;
    }
    let power = hann_power(quiet);
    let line_width = rate_hz / quiet.len() as f64;
    let strongest = |multiple: u32| {
        let line_hz = mains_hz * f64::from(multiple);
        let middle = (line_hz / line_width).round() as usize;
        let near = power.get(middle.checked_sub(1)?..middle + 2)?.iter().copied().fold(0.0, f64::max);
        let below = power.get(middle.saturating_sub(27)..middle.saturating_sub(3))?;
        let mut about: Vec<f64> = below.iter().chain(power.get(middle + 4..middle + 28)?).copied().collect();
        about.sort_by(f64::total_cmp);
        let median = *about.get(about.len() / 2)?;
        (near > 0.0 && median > 0.0).then(|| (line_hz, 10.0 * (near / median).log10()))
    };
    let lines = (1..).take_while(|multiple| mains_hz * f64::from(*multiple) < SHARED_HZ).filter_map(strongest);
    let (line_hz, above_noise_db) = lines.max_by(|a, b| a.1.total_cmp(&b.1))?;
    (above_noise_db >= LINE_DB).then_some(Hint::Hum { mains_hz, line_hz, above_noise_db })
}
