//! Octave and third-octave filters: what of a signal lies in a band.
//!
//! Exact base-ten centers `1000 * 10^(3 k / 10)` Hz (octaves) and `1000 * 10^(k / 10)` Hz (third octaves), edges a factor `10^(3/20)` or `10^(1/20)` to either side. A filter is a
//! Butterworth band pass, `|H|^2 = 1 / (1 + w^2N)`, `w = (O / O0 - O0 / O) / (O2 / O0 - O1 / O0)`, `O = tan(pi f / rate)`, `O0^2 = O1 O2`: edges at 3 dB whatever the rate, order N = 3 and
//! N = 4 where the upper edge lies above a fifth of the rate, as the frequencies crowd together there and the skirt below the band would be too low for class 1. Each of the N pairs of poles
//! is one section of second order, `g (1 - z^-2) / (1 + a1 z^-1 + a2 z^-2)`, of gain 1 at `O0`.
//!
//! Run backward, the ringing of the filter goes before what it answers: a decay that is shorter than that of the filter is left as it is.
//!
//! *References.* IEC 61260-1:2014, clauses 5.2 to 5.5 and limits of table 1, class 1; bilinear transform of a Butterworth band pass, any textbook of digital filters (all from memory).
//! F. Jacobsen, J. H. Rindel, "Time reversed decay measurements", J. Sound Vib. 117 (1987) 187 (from memory).
//!
//! *Limits.* The upper edge lies below 0.45 of the rate. No lower rate for low bands: at 50 Hz and a rate of 96 kHz sections in `f64` keep the response to 1e-7 (tested),
//! far below what any recording holds. Class 1 at 44.1, 48 and 96 kHz (tested).

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use crate::bands::Band;

/// Largest upper edge, re the rate.
const HIGHEST: f64 = 0.45;

/// Upper edges above this share of the rate take one order more.
const CROWDED: f64 = 0.2;

/// Third octaves, by their distance from 1 kHz, that lie in the octaves 63 Hz to 8 kHz: 50 Hz to 10 kHz.
pub const THIRDS: std::ops::RangeInclusive<i32> = -13..=10;

/// Exact mid-band frequency in Hz of a third octave, so many of them above 1 kHz.
#[must_use]
pub fn third_center(index: i32) -> f64 {
    1000.0 * 10.0_f64.powf(0.1 * f64::from(index))
}

/// Nominal frequency in Hz of a third octave, as printed: 50, 63, ... 10000.
#[must_use]
pub fn third_nominal(index: i32) -> f64 {
    let preferred = [1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0];
    1000.0 * 10.0_f64.powi(index.div_euclid(10)) * preferred[index.rem_euclid(10) as usize]
}

/// Which way in time a filter runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Direction {
    /// Its ringing comes after what it answers.
    Forward,
    /// Its ringing comes before.
    Backward,
}

/// A band pass of one octave or third octave.
#[derive(Clone, Debug, PartialEq)]
pub struct Filter {
    /// Exact mid-band frequency, Hz.
    pub center_hz: f64,
    /// Upper minus lower band edge, Hz.
    pub width_hz: f64,
    rate_hz: f64,
    sections: Vec<Section>,
}

/// A pair of poles with zeros at 0 Hz and half the rate.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Section {
    gain: f64,
    a1: f64,
    a2: f64,
}

impl Filter {
    /// An octave at this rate in Hz; `None` where the rate is too low for it.
    #[must_use]
    pub fn octave(band: Band, rate_hz: f64) -> Option<Self> {
        Self::new(band.center(), 10.0_f64.powf(0.15), rate_hz)
    }

    /// A third octave, so many of them above 1 kHz, at this rate in Hz; `None` where the rate is too low for it.
    #[must_use]
    pub fn third(index: i32, rate_hz: f64) -> Option<Self> {
        Self::new(third_center(index), 10.0_f64.powf(0.05), rate_hz)
    }

    /// A band from `center / ratio` to `center * ratio`.
    fn new(center_hz: f64, ratio: f64, rate_hz: f64) -> Option<Self> {
        let (lower, upper) = (center_hz / ratio, center_hz * ratio);
        if !(rate_hz.is_finite() && upper < HIGHEST * rate_hz) {
            return None;
        }
        let order = if upper > CROWDED * rate_hz { 4 } else { 3 };
        let warped = |frequency: f64| (PI * frequency / rate_hz).tan();
        let (low, high) = (warped(lower), warped(upper));
        let (middle_squared, width) = (low * high, high - low);
        let middle = 2.0 * middle_squared.sqrt().atan();
        let sections = poles(order, width, middle_squared).into_iter().map(|pole| Section::new(pole, middle)).collect();
        Some(Self { center_hz, width_hz: upper - lower, rate_hz, sections })
    }

    /// What of a signal lies in the band, sample by sample; what rings on before its beginning or after its end is cut off.
    #[must_use]
    pub fn run(&self, signal: &[f64], direction: Direction) -> Vec<f64> {
        let mut out = signal.to_vec();
        for section in &self.sections {
            match direction {
                Direction::Forward => section.run(out.iter_mut()),
                Direction::Backward => section.run(out.iter_mut().rev()),
            }
        }
        out
    }

    /// Complex gain at a frequency in Hz, run forward.
    #[must_use]
    pub fn gain(&self, frequency_hz: f64) -> Complex64 {
        let angle = TAU * frequency_hz / self.rate_hz;
        self.sections.iter().map(|section| section.gain * section.shape(angle)).product()
    }

    /// Seconds by which it delays energy on the mean: `sum t h^2 / sum h^2` of its own impulse response `h`. A backward run advances by as much.
    #[must_use]
    pub fn delay_s(&self) -> f64 {
        // The slowest pole decays at about a quarter of the bandwidth in rad/s: 20 periods of the bandwidth are over 250 dB.
        let length = (20.0 / self.width_hz * self.rate_hz).ceil() as usize;
        let mut pulse = vec![0.0; length.max(1)];
        pulse[0] = 1.0;
        let (mut energy, mut moment) = (0.0, 0.0);
        for (index, value) in self.run(&pulse, Direction::Forward).iter().enumerate() {
            energy += value * value;
            moment += index as f64 * value * value;
        }
        moment / energy / self.rate_hz
    }
}

impl Section {
    /// The section of a pole of the analog band pass and its conjugate, of gain 1 at the angle `middle` in radians a sample.
    fn new(pole: Complex64, middle: f64) -> Self {
        let pole = (1.0 + pole) / (1.0 - pole);
        let section = Self { gain: 1.0, a1: -2.0 * pole.re, a2: pole.norm_sqr() };
        Self { gain: 1.0 / section.shape(middle).norm(), ..section }
    }

    /// Complex response but for the gain, at an angle in radians a sample.
    fn shape(self, angle: f64) -> Complex64 {
        let (one, two) = (Complex64::from_polar(1.0, -angle), Complex64::from_polar(1.0, -2.0 * angle));
        (1.0 - two) / (1.0 + self.a1 * one + self.a2 * two)
    }

    /// Filters in place (transposed direct form II).
    fn run<'a>(self, samples: impl Iterator<Item = &'a mut f64>) {
        let (mut first, mut second) = (0.0, 0.0);
        for sample in samples {
            let input = self.gain * *sample;
            let output = input + first;
            first = second - self.a1 * output;
            second = -input - self.a2 * output;
            *sample = output;
        }
    }
}

/// One of each conjugate pair of poles of an analog Butterworth band pass: the roots of `s^2 - p width s + middle^2` for the poles `p` of the low pass.
fn poles(order: u32, width: f64, middle_squared: f64) -> Vec<Complex64> {
    let mut found = Vec::new();
    for index in 0..order.div_ceil(2) {
        let angle = PI * f64::from(2 * index + order + 1) / f64::from(2 * order);
        let half = 0.5 * width * Complex64::from_polar(1.0, angle);
        let root = (half * half - middle_squared).sqrt();
        found.push(half + root);
        // The real pole of an odd order gives one pair, the others give two.
        if 2 * index + 1 != order {
            found.push(half - root);
        }
    }
    found
}
