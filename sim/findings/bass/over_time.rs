//! How the low end of a response dies away: energy over time and frequency.
//!
//! Bands a third of an octave wide between half powers, one every sixth of an octave (base ten); in each the mean energy of steps of [`STEP`] re the band's width, in dB re the loudest step of all
//! of them: what a source would have that sends all frequencies alike at time zero. Told until everything has fallen by [`FALLEN_DB`], or as far as the record is the room's own.
//!
//! A filter is half a period of a cosine to either side, `(1 + cos(pi (f - f0) / w)) / 2`. Its own ring has its first zero at `1 / w` and is 31 dB down and more beyond. Steep skirts ring longer: those
//! of `Record::band` drew tails at 25 Hz that stood at -35 dB after half a second and were not the room's.
//!
//! *References.* The cosine as a window (Hann): F. J. Harris, Proc. IEEE 66 (1978) 51 (from memory).
//!
//! *Limits.* No band tells more than its width `B` lets it: time is blurred by `1 / B`, to both sides, which is 0.2 s at 22 Hz and 0.02 s at 200 Hz. Narrower bands would part modes that are near,
//! and blur them for longer. Bands overlap: a loud mode shows in three or four. A step holds no whole number of periods: levels of a single mode go up and down by up to 1 dB from step to step.

use std::f64::consts::PI;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::decibels;
use super::response::OWN;
use crate::wave::{Pulse, Record};

/// Length of a step, about, seconds: half a period at 20 Hz, after which the square of the pressure comes round.
const STEP: f64 = 0.025;
/// What has fallen this far is not told, dB.
pub const FALLEN_DB: f64 = 40.0;
/// Middles of the lowest band, whose lower half power lies at 20 Hz, and of the highest that may be told, twentieths of a decade re 1 Hz.
const BANDS: [i32; 2] = [27, 53];
/// How far from its middle a filter passes nothing, re its width between half powers: `pi / (2 acos(sqrt(2) - 1))`.
const NOTHING: f64 = 1.373;

/// Energy of a response over time and frequency.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassOverTime {
    /// Middles of the bands.
    pub bands_hz: Vec<f64>,
    /// Width of each between half powers.
    pub widths_hz: Vec<f64>,
    /// Length of a step; the first begins when the source sends.
    pub step_s: f64,
    /// Band by band, step by step: level re the loudest of all.
    pub levels_db: Vec<Vec<f64>>,
}

/// What a record of a pulse tells.
pub(super) fn over_time(record: &Record, pulse: &Pulse) -> BassOverTime {
    let half = 10.0_f64.powf(0.05);
    let middles = (BANDS[0]..=BANDS[1]).map(|twentieths| 10.0_f64.powf(f64::from(twentieths) / 20.0));
    let width = |middle: &f64| middle * half - middle / half;
    let bands_hz: Vec<f64> = middles.filter(|middle| middle + NOTHING * width(middle) <= pulse.top).collect();
    let length = (STEP / record.interval).round().max(1.0) as usize;
    let own = (OWN * record.pressures.len() as f64) as usize;
    let energies: Vec<Vec<f64>> = bands_hz
        .iter()
        .map(|middle| {
            let edge = NOTHING * width(middle);
            let cosine = |frequency: f64| 0.5 * (1.0 + (PI * (frequency - middle) / edge).cos());
            let band = record.passed(pulse, (middle - edge, middle + edge), cosine);
            let mean = |step: &[f64]| step.iter().map(|value| value * value).sum::<f64>() / length as f64 / width(middle);
            band[..own].chunks_exact(length).map(mean).collect()
        })
        .collect();
    let loudest = energies.iter().flatten().copied().fold(f64::MIN_POSITIVE, f64::max);
    let floor = loudest * 10.0_f64.powf(-0.1 * FALLEN_DB);
    let until = energies.iter().filter_map(|band| band.iter().rposition(|energy| *energy >= floor)).max().map_or(0, |last| last + 1);
    BassOverTime {
        widths_hz: bands_hz.iter().map(width).collect(),
        bands_hz,
        step_s: length as f64 * record.interval,
        levels_db: energies.iter().map(|band| band[..until].iter().map(|energy| decibels(energy / loudest)).collect()).collect(),
    }
}
