//! Which reflections stand out of the first milliseconds of a response: when each arrives after the direct sound, and how loud it is.
//!
//! The response passes 1 to 8 kHz, the octaves that reflections are judged in, without delay; with its Hilbert transform it has an envelope. A **reflection** is a maximum of that envelope whose energy within half a
//! millisecond to either side is down by at most 30 dB re the direct sound, the same way, and whose top stands 10 dB over the median of the envelope's square in the 4 ms about it; weaker ones within a millisecond count with it. Its time is the top of the parabola
//! through the maximum and its neighbors.
//!
//! *References.* The window of a millisecond and the octaves are those of `findings::reflections`.
//!
//! *Limits.* Levels are those of the loudspeaker's own pulse: what it rings longer than half a millisecond counts with what comes later. Later than some 20 ms reflections lie too close to be told apart.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Band;
use crate::dsp::transform::{quick_length, signal, spectrum};

/// Half of what counts as one arrival, seconds.
pub const HALF_S: f64 = 0.0005;
/// How close two reflections may be, and how close the first to the direct sound, seconds.
const APART_S: f64 = 0.001;
/// The weakest that are told, dB re direct.
const WEAKEST_DB: f64 = -30.0;
/// Half of what a reflection stands out of, seconds, and by how much its top does of the median there, as a ratio of powers: 10 dB. Of noise the largest of so many tops passes that in one of thirty such times.
const ABOUT_S: f64 = 0.002;
const STANDS_OUT: f64 = 10.0;
/// How much of the response is looked at after its beginning, seconds.
const LENGTH_S: f64 = 0.1;
/// Width of the edges of the band, octaves.
const EDGE: f64 = 1.0 / 3.0;

/// A reflection that was measured.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Arrival {
    /// After the direct sound.
    pub delay_ms: f64,
    /// Energy in 1-8 kHz re direct.
    pub level_db: f64,
}

/// The first milliseconds of a response.
#[derive(Clone, Debug, PartialEq)]
pub struct Early {
    rate_hz: f64,
    /// Energy within half a millisecond round each sample re that of the direct sound, from the direct sound on.
    within: Vec<f64>,
    /// What stands out within the window, by delay.
    pub arrivals: Vec<Arrival>,
}

impl Early {
    /// The first tenth of a second of a response that begins at `onset`, and the reflections within `window_s` seconds after the direct sound.
    #[must_use]
    pub fn new(response: &[f64], onset: usize, rate_hz: f64, window_s: f64) -> Self {
        let samples = |seconds: f64| (seconds * rate_hz).round() as usize;
        // What the filter rings before and after is kept.
        let from = onset.saturating_sub(samples(0.02));
        let to = (onset + samples(LENGTH_S)).min(response.len());
        let envelope = envelope(&response[from..to], rate_hz);
        let sums = sums(&envelope, samples(HALF_S));
        let near = onset - from;
        // The direct sound is the strongest of the first millisecond: a filter may begin before it.
        let first = near.saturating_sub(samples(HALF_S))..(near + samples(APART_S)).min(envelope.len());
        let direct = first.max_by(|a, b| envelope[*a].total_cmp(&envelope[*b])).unwrap_or(0);
        let within: Vec<f64> = sums[direct..].iter().map(|sum| sum / sums[direct]).collect();
        let origin = top(&envelope, direct);
        let last = samples(window_s).min(within.len().saturating_sub(samples(ABOUT_S) + 1));
        let stands_out = |place: &usize| {
            let at = direct + place;
            let is_top = envelope[at] >= envelope[at - 1] && envelope[at] > envelope[at + 1];
            let is_heard = || within[*place] >= 10.0_f64.powf(0.1 * WEAKEST_DB);
            is_top && is_heard() && envelope[at] >= STANDS_OUT * median(&envelope[at - samples(ABOUT_S).min(at)..at + samples(ABOUT_S)])
        };
        let mut tops: Vec<usize> = (samples(APART_S).max(1)..last).filter(stands_out).collect();
        tops.sort_by(|a, b| envelope[direct + b].total_cmp(&envelope[direct + a]).then(a.cmp(b)));
        let mut kept: Vec<usize> = Vec::new();
        for place in tops {
            if kept.iter().all(|other| other.abs_diff(place) >= samples(APART_S)) {
                kept.push(place);
            }
        }
        kept.sort_unstable();
        let arrival = |place: &usize| Arrival {
            delay_ms: 1000.0 * (top(&envelope, direct + place) - origin) / rate_hz,
            level_db: 10.0 * within[*place].log10(),
        };
        Self { rate_hz, arrivals: kept.iter().map(arrival).collect(), within }
    }

    /// The most that arrives within half a millisecond round any instant between two delays, dB re direct.
    #[must_use]
    pub fn most_db(&self, from_ms: f64, to_ms: f64) -> Option<f64> {
        let place = |ms: f64| ((0.001 * ms * self.rate_hz).round().max(0.0) as usize).min(self.within.len());
        let most = self.within[place(from_ms)..place(to_ms)].iter().copied().fold(0.0, f64::max);
        (most > 0.0).then(|| 10.0 * most.log10())
    }

    /// Energy in bins of `bin_s` seconds re that of the direct sound, dB.
    #[must_use]
    pub fn curve(&self, bin_s: f64) -> Vec<f64> {
        let step = (bin_s * self.rate_hz).round().max(1.0) as usize;
        self.within.iter().step_by(step).map(|energy| 10.0 * energy.max(1e-12).log10()).collect()
    }
}

/// Square of the envelope between 1 and 8 kHz.
fn envelope(samples: &[f64], rate_hz: f64) -> Vec<f64> {
    let length = quick_length(2 * samples.len());
    let (low, high) = (Band::new(4).lower(), Band::new(7).upper().min(0.45 * rate_hz));
    let passed = |frequency: f64| {
        let edge = |octaves: f64| 0.5 - 0.5 * (std::f64::consts::PI * (octaves / EDGE + 0.5).clamp(0.0, 1.0)).cos();
        if frequency > 0.0 { edge((frequency / low).log2()) * edge((high / frequency).log2()) } else { 0.0 }
    };
    let mut lines = spectrum(samples, length);
    for (index, line) in lines.iter_mut().enumerate() {
        *line *= passed(index as f64 * rate_hz / length as f64);
    }
    let turned: Vec<Complex64> = lines.iter().map(|line| line * -Complex64::I).collect();
    let (own, turned) = (signal(lines, length), signal(turned, length));
    own.iter().zip(turned).take(samples.len()).map(|(own, turned)| own * own + turned * turned).collect()
}

/// Sum over so many samples to either side.
fn sums(energies: &[f64], reach: usize) -> Vec<f64> {
    let mut before = Vec::with_capacity(energies.len() + 1);
    before.push(0.0);
    let mut sum = 0.0;
    for energy in energies {
        sum += energy;
        before.push(sum);
    }
    let at = |index: usize| before[(index + reach + 1).min(energies.len())] - before[index.saturating_sub(reach)];
    (0..energies.len()).map(at).collect()
}

/// The one in the middle of them by size.
fn median(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(sorted.len() / 2).copied().unwrap_or(0.0)
}

/// Where the parabola through a maximum and its neighbors has its top, samples.
fn top(values: &[f64], place: usize) -> f64 {
    let Some(&[below, middle, above]) = place.checked_sub(1).and_then(|first| values.get(first..place + 2)) else { return place as f64 };
    let bend = below - 2.0 * middle + above;
    let off = if bend < 0.0 { (0.5 * (below - above) / bend).clamp(-0.5, 0.5) } else { 0.0 };
    place as f64 + off
}
