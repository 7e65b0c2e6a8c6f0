//! What a recording of a sweep says: responses of the room, drift of the clock, distortion.
//!
//! The whole recording is undone at once, so that a lead-in of any length does not matter: one impulse response a repeat comes out. **Found** is a sweep where in most octaves from 500 Hz to 8 kHz the largest sample stands 20 dB
//! above the mean; they must lie within 50 ms of each other, and must not move with the octave by 2 ms or more: that is what a sweep of another length or range does. Where nothing stands out, a tone that
//! rises through the recording is another sweep, and all else is none. A sample of a third of the response where no repeat has its own is a sweep with another silence.
//!
//! **Clock.** The lag between the responses of the first and the last repeat, by their correlation to a part of a sample, over what it should be; the recording is read anew at that ratio and undone again. **Distortion.** The energy of
//! the response of order k, `L ln k` before the direct one, less the noise just before it, re the energy of the direct one over as long a time.
//!
//! *References.* ISO 18233:2006, annex B; A. Farina, AES 108th convention, 2000 (both from memory).
//!
//! *Limits.* Clocks within 500 parts in a million. One repeat tells no drift. A sweep of the same range and a length that is 0.2 % other is not told from the right one. Distortion is that of what was played and recorded together,
//! of the orders whose band `k f1` to `f2` is in the range, and where reverberation outlasts the time between two orders they mix. A response begins 40 ms
//! early because its lower edge rings both ways in time: of a sweep from 20 Hz what is cut off there moves the level by 0.1 dB at 100 Hz and 0.2 dB at 50 Hz, by 0.4 dB below (a wire from end to end).

use super::filter::{Direction, Filter};
use super::resample::stretched;
use super::sweep::{Sweep, SweepError};
use super::transform::{hann_power, quick_length, signal, spectrum};
use crate::bands::Band;

/// How long before the direct sound a response begins, seconds.
pub const LEAD_S: f64 = 0.040;

/// Largest drift of clocks, as a share.
const DRIFT: f64 = 5e-4;

/// What is correlated of a response, seconds before and after its peak.
const ABOUT_S: (f64, f64) = (0.002, 0.100);

/// The largest sample over the mean, as a ratio of pressures, from which it is a response: 20 dB.
const STANDS_OUT: f64 = 10.0;

/// Pressure re the response that no sample between two repeats may have.
const LOUD: f64 = 0.3;

/// How far the octaves may lie apart, seconds, and by how much they may move with each octave.
const APART_S: (f64, f64) = (0.050, 0.002);

/// How early before the peak the direct sound may lie, seconds.
const EARLIER_S: f64 = 0.050;

/// Highest order of distortion that is told.
const ORDERS: u32 = 5;

/// Samples of a frame in which a tone is sought.
const FRAME: usize = 4096;

/// What a recording says.
#[derive(Clone, Debug, PartialEq)]
pub struct Recorded {
    /// Impulse response of each repeat, re the sweep as it was written; each begins [`LEAD_S`] before its direct sound.
    pub responses: Vec<Vec<f64>>,
    /// Their mean.
    pub average: Vec<f64>,
    /// When the first direct sound of a sweep arrives in the recording, seconds.
    pub start_s: f64,
    /// By how much the clock of the recording ran fast, parts in a million; `None` for one repeat.
    pub drift_ppm: Option<f64>,
    /// Distortion by order, second first.
    pub distortion: Vec<Distortion>,
}

/// Distortion of one order.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Distortion {
    /// 2 to 5.
    pub order: u32,
    /// Its energy re that of the response, dB; `None` where it is lost in noise.
    pub share_db: Option<f64>,
}

/// Responses out of a recording, at the rate of the sweep.
///
/// # Errors
/// A sweep that is none, a recording that is too short, holds no sweep or another one.
pub fn deconvolve(recording: &[f64], sweep: &Sweep) -> Result<Recorded, SweepError> {
    sweep.check()?;
    if recording.iter().any(|value| !value.is_finite()) {
        return Err(SweepError::Unsound);
    }
    if recording.len() < sweep.length() {
        return Err(SweepError::TooShort);
    }
    let undone = Undone::new(recording, sweep)?;
    let Some(drift) = undone.drift()? else { return Ok(undone.told(None)) };
    // Less than a hundredth of a sample over a repeat is no drift.
    let undone =
        if (drift * sweep.period() as f64).abs() < 0.01 { undone } else { Undone::new(&stretched(recording, 1.0 + drift), sweep)? };
    Ok(undone.told(Some(1e6 * drift)))
}

/// A recording undone: responses one after the other.
struct Undone<'a> {
    sweep: &'a Sweep,
    /// Begins the length of a sweep before the recording: what is undone may lie before it.
    samples: Vec<f64>,
    /// The largest sample of the first repeat.
    peak: usize,
    /// Repeats that are whole, and samples that each is kept for after its peak.
    count: usize,
    kept: usize,
}

impl<'a> Undone<'a> {
    fn new(recording: &[f64], sweep: &'a Sweep) -> Result<Self, SweepError> {
        // As many zeros as a sweep is long hold what comes before the beginning.
        let length = quick_length(recording.len() + sweep.length());
        let mut lines = spectrum(recording, length);
        for (line, inverse) in lines.iter_mut().zip(sweep.inverse(length)) {
            *line *= inverse;
        }
        let mut samples = signal(lines, length);
        samples.rotate_right(sweep.length());
        find(&samples, recording, sweep)?;
        let peak = first_peak(&samples, sweep);
        let left = |repeat: usize| recording.len().checked_sub(peak + repeat * sweep.period());
        let silence = sweep.period() - sweep.length();
        let least = silence.min((0.25 * sweep.rate_hz) as usize);
        let count = (0..sweep.repeats).take_while(|repeat| left(*repeat).is_some_and(|left| left >= least)).count();
        let kept = count.checked_sub(1).and_then(left).ok_or(SweepError::TooShort)?.min(silence);
        let undone = Self { sweep, samples, peak, count, kept };
        if undone.strays() { Err(SweepError::Another) } else { Ok(undone) }
    }

    /// Whether something loud lies where no repeat has its response.
    fn strays(&self) -> bool {
        let (period, before) = (self.sweep.period(), self.samples_in(EARLIER_S) as usize);
        let loud = LOUD * self.samples[self.peak].abs();
        let after_begin = |index: usize| (index + self.samples.len() * period + before - self.peak) % period;
        (0..self.samples.len()).any(|index| self.samples[index].abs() > loud && after_begin(index) > before + self.kept)
    }

    /// A sample re the peak of a repeat.
    fn at(&self, repeat: usize, offset: isize) -> f64 {
        let place = (self.peak + repeat * self.sweep.period()) as isize + offset;
        self.samples[place.rem_euclid(self.samples.len() as isize) as usize]
    }

    fn samples_in(&self, seconds: f64) -> isize {
        (seconds * self.sweep.rate_hz).round() as isize
    }

    /// By what share the last repeat is late re the first; `None` for one repeat.
    fn drift(&self) -> Result<Option<f64>, SweepError> {
        let Some(last) = self.count.checked_sub(1).filter(|last| *last > 0) else { return Ok(None) };
        let nominal = (last * self.sweep.period()) as f64;
        let reach = (DRIFT * nominal).ceil() as isize + 2;
        let (before, after) = (self.samples_in(ABOUT_S.0), self.samples_in(ABOUT_S.1).min(self.kept as isize));
        let first: Vec<f64> = (-before..after).map(|offset| self.at(0, offset)).collect();
        let other: Vec<f64> = (-before - reach..after + reach).map(|offset| self.at(last, offset)).collect();
        let product = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a * b).sum::<f64>();
        let by_lag: Vec<f64> = other.windows(first.len()).map(|part| product(part, &first)).collect();
        let best = (1..by_lag.len().saturating_sub(1)).max_by(|a, b| by_lag[*a].total_cmp(&by_lag[*b])).ok_or(SweepError::TooShort)?;
        // The repeat must be there: at least a tenth of the first in pressure.
        if by_lag[best] < 0.1 * product(&first, &first) {
            return Err(SweepError::Another);
        }
        let (below, middle, above) = (by_lag[best - 1], by_lag[best], by_lag[best + 1]);
        let part = 0.5 * (below - above) / (below - 2.0 * middle + above);
        let lag = best as f64 - reach as f64 + if part.abs() <= 1.0 { part } else { 0.0 };
        Ok(Some(lag / nominal))
    }

    /// All that there is to tell.
    fn told(&self, drift_ppm: Option<f64>) -> Recorded {
        let mean = |offset: isize| (0..self.count).map(|repeat| self.at(repeat, offset)).sum::<f64>() / self.count as f64;
        let earlier = self.samples_in(EARLIER_S);
        let direct = (-earlier..0).find(|offset| mean(*offset).abs() >= 0.1 * mean(0).abs()).unwrap_or(0);
        let offsets = direct - self.samples_in(LEAD_S)..self.kept as isize;
        Recorded {
            responses: (0..self.count).map(|repeat| offsets.clone().map(|offset| self.at(repeat, offset)).collect()).collect(),
            average: offsets.clone().map(mean).collect(),
            start_s: (self.peak as isize + direct - self.sweep.length() as isize) as f64 / self.sweep.rate_hz,
            drift_ppm,
            distortion: (2..=ORDERS).map(|order| Distortion { order, share_db: self.share_db(order, direct, &mean) }).collect(),
        }
    }

    /// Energy of an order of distortion re the response, dB.
    fn share_db(&self, order: u32, direct: isize, mean: &impl Fn(isize) -> f64) -> Option<f64> {
        let stretch = self.sweep.stretch_s();
        let (own, above, below) = (f64::from(order), f64::from(order + 1), f64::from(order - 1));
        if own * self.sweep.low_hz >= self.sweep.high_hz {
            return None;
        }
        let energy = |from: isize, length: isize| (from..from + length).map(|offset| mean(offset).powi(2)).sum::<f64>();
        let margin = self.samples_in(ABOUT_S.0);
        let begin = direct - self.samples_in(stretch * own.ln()) - margin;
        let length = self.samples_in(0.6 * stretch * (own / below).ln()).min(self.kept as isize);
        let quiet = self.samples_in(0.15 * stretch * (above / own).ln()).max(1);
        let noise = energy(begin - quiet, quiet) / quiet as f64 * length as f64;
        let found = energy(begin, length) - noise;
        (found > 0.3 * noise && found > 0.0).then(|| 10.0 * (found / energy(direct - margin, length)).log10())
    }
}

/// The largest sample of the first repeat: of all samples that lie so many repeats before the largest one, that from which on repeats hold the most.
fn first_peak(samples: &[f64], sweep: &Sweep) -> usize {
    let largest = |from: usize, to: usize| {
        let range = from.min(samples.len())..to.min(samples.len());
        range.max_by(|a, b| samples[*a].abs().total_cmp(&samples[*b].abs())).unwrap_or(0)
    };
    let near = |place: usize| {
        let reach = (DRIFT * (sweep.repeats * sweep.period()) as f64) as usize + 2;
        largest(place.saturating_sub(reach), place + reach)
    };
    let all = largest(0, samples.len());
    let held = |first: usize| {
        (0..sweep.repeats).map(|repeat| samples.get(near(first + repeat * sweep.period())).map_or(0.0, |v| v.abs())).sum::<f64>()
    };
    let begins = (0..sweep.repeats).filter_map(|repeat| all.checked_sub(repeat * sweep.period()));
    // Of two that hold as much, the later: what lies before it is no repeat.
    let best = begins.map(|first| (first, held(first))).fold((all, 0.0), |best, one| if one.1 > 1.05 * best.1 { one } else { best });
    near(best.0)
}

/// Whether it is this sweep that was recorded.
fn find(samples: &[f64], recording: &[f64], sweep: &Sweep) -> Result<(), SweepError> {
    let inside = |band: &Band| band.index() >= 3 && band.lower() >= sweep.low_hz && band.upper() <= sweep.high_hz;
    let heard: Vec<(f64, bool)> =
        Band::ALL.iter().filter(|band| inside(band)).filter_map(|band| stands_out(samples, *band, sweep)).collect();
    if 2 * heard.iter().filter(|(_, stands_out)| *stands_out).count() < heard.len().max(1) {
        return Err(if rises(recording) { SweepError::Another } else { SweepError::NotFound });
    }
    let period = sweep.period() as f64 / sweep.rate_hz;
    let times: Vec<f64> = heard.iter().map(|(time, _)| (time - heard[0].0 + 0.5 * period).rem_euclid(period) - 0.5 * period).collect();
    let (least, most) = times.iter().fold((0.0_f64, 0.0_f64), |(least, most), time| (least.min(*time), most.max(*time)));
    let (slope, explained) = trend(&times);
    if most - least > APART_S.0 || (explained > 0.9 && slope.abs() > APART_S.1) { Err(SweepError::Another) } else { Ok(()) }
}

/// When the largest sample of an octave comes, less the delay of the filter, and whether it stands out.
fn stands_out(samples: &[f64], band: Band, sweep: &Sweep) -> Option<(f64, bool)> {
    let filter = Filter::octave(band, sweep.rate_hz)?;
    let heard = filter.run(samples, Direction::Forward);
    let energy: f64 = heard.iter().map(|value| value * value).sum::<f64>() / heard.len() as f64;
    let peak = (0..heard.len()).max_by(|a, b| heard[*a].abs().total_cmp(&heard[*b].abs()))?;
    let time = peak as f64 / sweep.rate_hz - filter.delay_s();
    Some((time, heard[peak].abs() > STANDS_OUT * energy.sqrt()))
}

/// Slope of the line of least squares through values one after the other, and the share of their variance that it explains.
fn trend(values: &[f64]) -> (f64, f64) {
    let count = values.len() as f64;
    let (middle, mean) = (0.5 * (count - 1.0), values.iter().sum::<f64>() / count);
    let (mut xx, mut xy, mut yy) = (0.0, 0.0, 0.0);
    for (index, value) in values.iter().enumerate() {
        let (x, y) = (index as f64 - middle, value - mean);
        xx += x * x;
        xy += x * y;
        yy += y * y;
    }
    if xx > 0.0 && yy > 0.0 { (xy / xx, xy * xy / (xx * yy)) } else { (0.0, 0.0) }
}

/// Whether one tone rises through the loud part of a recording: in most frames half of the energy lies in one place, which seldom falls and climbs two octaves.
fn rises(recording: &[f64]) -> bool {
    let energy = |frame: &[f64]| frame.iter().map(|value| value * value).sum::<f64>();
    let loudest = recording.chunks_exact(FRAME).map(energy).fold(0.0, f64::max);
    let loud = recording.chunks_exact(FRAME).filter(|frame| energy(frame) > 0.01 * loudest);
    let tones: Vec<(usize, f64)> = loud.filter_map(tone).collect();
    let sure = tones.iter().filter(|(_, share)| *share > 0.5).count();
    let climbs = tones.windows(2).filter(|pair| pair[1].0 + 1 >= pair[0].0).count();
    let (Some(first), Some(highest)) = (tones.first(), tones.iter().map(|tone| tone.0).max()) else { return false };
    tones.len() >= 4 && 2 * sure > tones.len() && 5 * climbs > 4 * (tones.len() - 1) && highest > 4 * first.0.max(1)
}

/// The strongest line of a frame, and the share of its energy that lies within three lines of it.
fn tone(frame: &[f64]) -> Option<(usize, f64)> {
    let power = hann_power(frame);
    let strongest = (1..power.len()).max_by(|a, b| power[*a].total_cmp(&power[*b]))?;
    let near: f64 = power[strongest.saturating_sub(3)..(strongest + 4).min(power.len())].iter().sum();
    let all: f64 = power.iter().sum();
    (all > 0.0).then_some((strongest, near / all))
}
