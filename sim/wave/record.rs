//! What a place heard of a pulse: the transfer function re free field at 1 m, and the response in a band.
//!
//! ```text
//! H(f) = (sum over moments of p exp(-j w t) D) / (sum over steps of u exp(-j w t) dt)
//! ```
//!
//! `D` the time between moments, `u` the pulse as it was sent (`pulse`), time zero when it leaves the source: in the free field `H = exp(-j k r) / r`, `r` in meters. Up to the pulse's top frequency both sums
//! are integrals to a hundred-thousandth. Both are taken at the frequency that cells have for `w` (`dispersion`).
//!
//! **The end of the record.** The last fifth fades out by half a period of a cosine, whether the ring is over or not. A ring `exp(-d t)` that has fallen by `F` dB when the fade begins is
//! then off by `10^(-F / 20)` of itself at most at its frequency, and is told as wide as the record is short: 0.1 % for 60 dB, 1 % (0.09 dB) for 40 dB. [`Record::fallen_db`] says how far it
//! had come.
//!
//! *References.* Deconvolution by division of spectra: A. V. Oppenheim, R. W. Schafer, *Discrete-Time Signal Processing* (from memory).
//!
//! *Limits.* `fallen_db` is that of all frequencies together: a faint ring that outlasts the loud ones is cut off sooner re its own beginning. Nothing is known above the pulse's top frequency.

use std::f64::consts::{PI, TAU};
use std::ops::Range;

use num_complex::Complex64;

use super::dispersion::in_cells;
use super::kernel::Real;
use super::pulse::{Pulse, transform};

/// The part of a record that fades out.
const FADE: f64 = 0.2;
/// Skirts of a band, re the frequency at each of its ends.
const SKIRT: f64 = 0.1;

/// Pressure at a place over time, from a field that was silent before the pulse.
#[derive(Clone, Debug, PartialEq)]
pub struct Record {
    /// Time between two moments, seconds; the first is so long after the pulse begins.
    pub interval: f64,
    /// Pressures, Pa for a pulse in Pa.
    pub pressures: Vec<f64>,
    /// The same, the last of them faded out.
    faded: Vec<f64>,
}

impl Record {
    /// What a [`Listening`](super::Listening) that was kept every so many steps of a pulse has heard.
    #[must_use]
    pub fn new<T: Real>(pulse: &Pulse, every: usize, heard: &[T]) -> Self {
        Self::of(every as f64 * pulse.step, heard.iter().map(|value| value.number()).collect())
    }

    /// Of pressures so many seconds apart.
    #[must_use]
    pub fn of(interval: f64, pressures: Vec<f64>) -> Self {
        let faded = pressures.iter().enumerate().map(|(index, value)| value * fade(index, pressures.len())).collect();
        Self { interval, pressures, faded }
    }

    /// Pressure re that in the free field at 1 m, at a frequency in Hz.
    #[must_use]
    pub fn transfer(&self, pulse: &Pulse, frequency: f64) -> Complex64 {
        self.at(pulse, Complex64::new(0.0, TAU * frequency))
    }

    /// The same at complex frequencies `s`, 1/s: at `j w - d` that of the pressure times `exp(d t)`, to which what rings late counts more.
    #[must_use]
    pub fn transfers(&self, pulse: &Pulse, tones: &[Complex64]) -> Vec<Complex64> {
        tones.iter().map(|tone| self.at(pulse, *tone)).collect()
    }

    fn at(&self, pulse: &Pulse, tone: Complex64) -> Complex64 {
        let tone = in_cells(tone, pulse.step);
        transform(&self.faded, self.interval, self.interval, tone) / pulse.transform(tone)
    }

    /// How far the ring has fallen where its end fades out: level of the first fifth re that of the last, decibels.
    #[must_use]
    pub fn fallen_db(&self) -> f64 {
        let part = ((FADE * self.pressures.len() as f64) as usize).max(1).min(self.pressures.len());
        let power = |values: &[f64]| values.iter().map(|value| value * value).sum::<f64>();
        10.0 * (power(&self.pressures[..part]) / power(&self.pressures[self.pressures.len() - part..])).log10()
    }

    /// The response from `low` to `high` Hz as a source would have it that sends all of these alike from time zero on, at multiples of the interval; with skirts of a tenth of `low` below and
    /// of `high` above, to be under the pulse's top frequency. For decays in a band; the values are of pressure re 1 m times bandwidth, 1/s.
    #[must_use]
    pub fn band(&self, pulse: &Pulse, low: f64, high: f64) -> Vec<f64> {
        let skirts = |frequency: f64| {
            let outside = ((low - frequency) / (SKIRT * low)).max((frequency - high) / (SKIRT * high)).clamp(0.0, 1.0);
            0.5 * (1.0 + (PI * outside).cos())
        };
        self.passed(pulse, ((1.0 - SKIRT) * low, (1.0 + SKIRT) * high), skirts)
    }

    /// The same through a filter without delay that passes nothing outside of two frequencies, Hz, `gain` of a frequency within.
    #[must_use]
    pub fn passed(&self, pulse: &Pulse, (low, high): (f64, f64), gain: impl Fn(f64) -> f64) -> Vec<f64> {
        over_time(|frequency| self.transfer(pulse, frequency) * gain(frequency), low..high, (self.pressures.len(), self.interval))
    }
}

/// How loud a moment of so many is left by the fade at their end.
fn fade(index: usize, count: usize) -> f64 {
    let begin = (1.0 - FADE) * count as f64;
    if index as f64 <= begin {
        return 1.0;
    }
    0.5 * (1.0 + (PI * (index as f64 - begin) / (count as f64 - begin)).cos())
}

/// Weights of so many moments, `interval` seconds apart: the sum of a record with them is its [`Record::transfer`]. For many records of one pulse and one length.
#[must_use]
pub fn readers(pulse: &Pulse, interval: f64, count: usize, frequency: f64) -> Vec<Complex64> {
    let tone = in_cells(Complex64::new(0.0, TAU * frequency), pulse.step);
    let scale = interval / pulse.transform(tone);
    (0..count).map(|index| scale * fade(index, count) * (-tone * interval * (index + 1) as f64).exp()).collect()
}

/// The response over time, `count` values `interval` seconds apart from time zero on, of which the transfer function is this in a range of frequencies in Hz, and nothing outside: `h(t) = 2 Re (integral of
/// H exp(j w t) df)`, so that the integral of its square over time is twice that of `|H|^2` over the range. Lines lie half as far apart as so long a record needs: what rings before time zero comes round after its end.
#[must_use]
pub fn over_time(transfer: impl Fn(f64) -> Complex64, range: Range<f64>, (count, interval): (usize, f64)) -> Vec<f64> {
    let apart = 0.5 / (count as f64 * interval);
    let (first, last) = ((range.start / apart).ceil() as usize, (range.end / apart).floor() as usize);
    let mut values = vec![0.0; count];
    for frequency in (first..=last).map(|line| line as f64 * apart) {
        let turn = Complex64::cis(TAU * frequency * interval);
        let mut line = transfer(frequency) * 2.0 * apart;
        for value in &mut values {
            *value += line.re;
            line *= turn;
        }
    }
    values
}
