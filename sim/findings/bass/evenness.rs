//! How even the low end is at one place: what the third octaves of all that sounds there are off their mean.
//!
//! ```text
//! L(band) = 10 log10 (mean over its frequencies of |sum over sources of H|^2 / sum over sources of 1 / r^2)
//! evenness = sqrt(mean over bands of (L - mean L)^2);   weakest = min L - mean L
//! ```
//!
//! `H` the transfer function re the free field at 1 m, `r` the distance of a source in meters, bands the third octaves from [`FROM`] up to the top frequency; less is evener.
//!
//! *References.* None of its own; a standard deviation of third octaves over frequency is common practice, no source.
//!
//! *Limits.* Evenness says nothing of decay, and no more than [`FROM`] and up. What of it is noticed is not known here.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::decibels;
use super::response::thirds;
use crate::wave::{Pulse, Record};

/// The lowest third octave that counts, Hz: most loudspeakers send little below.
pub const FROM: f64 = 31.5;
/// From one frequency to the next, Hz.
const APART: f64 = 1.0;

/// How even the low end is at a place.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassEvenness {
    /// Standard deviation of the levels of the third octaves.
    pub evenness_db: f64,
    /// The weakest third octave re their mean.
    pub weakest_db: f64,
    /// Which one that is, its nominal middle.
    pub weakest_hz: f64,
}

/// What is heard of one of the sources that sound together.
pub(super) struct Way<'a> {
    pub(super) record: Record,
    /// What the source sent.
    pub(super) pulse: &'a Pulse,
    /// How far away it is, meters.
    pub(super) distance: f64,
}

/// Third octaves that count up to `top` Hz: nominal middle, lower and upper border, Hz.
pub(super) fn octaves(top: f64) -> Vec<(f64, f64, f64)> {
    thirds(top).filter(|(nominal, ..)| *nominal >= FROM).collect()
}

impl BassEvenness {
    /// Of what these ways bring together, over these third octaves.
    pub(super) fn of(ways: &[Way<'_>], octaves: &[(f64, f64, f64)]) -> Self {
        let levels: Vec<f64> = octaves.iter().map(|(_, low, high)| level(ways, *low, *high)).collect();
        let mean = levels.iter().sum::<f64>() / levels.len() as f64;
        let evenness_db = (levels.iter().map(|level| (level - mean).powi(2)).sum::<f64>() / levels.len() as f64).sqrt();
        let weakest = octaves.iter().zip(&levels).min_by(|a, b| a.1.total_cmp(b.1));
        let (weakest_hz, level) = weakest.map_or((FROM, mean), |((nominal, ..), level)| (*nominal, *level));
        Self { evenness_db, weakest_db: level - mean, weakest_hz }
    }
}

/// Level of a band re the powers of the free fields, dB: their phases would cancel off the middle, and what cancels is no measure.
fn level(ways: &[Way<'_>], low: f64, high: f64) -> f64 {
    let free: f64 = ways.iter().map(|way| way.distance.powi(-2)).sum();
    let count = ((high - low) / APART).ceil().max(1.0) as usize;
    let energy = |index: usize| {
        let frequency = low + (index as f64 + 0.5) * (high - low) / count as f64;
        ways.iter().map(|way| way.record.transfer(way.pulse, frequency)).sum::<Complex64>().norm_sqr() / free
    };
    decibels((0..count).map(energy).sum::<f64>() / count as f64)
}
