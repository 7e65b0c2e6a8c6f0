//! The limit in frequency that every response of an ear or microphone has, so that it fits the samples of its rate.
//!
//! Whole up to `f1`, nothing from `f2` on, between them `(1 + cos(pi (f - f1) / (f2 - f1))) / 2`. With the middle `m` and the width `w` of
//! that fade its pulse is `2 m sinc(2 m t) cos(pi w t) / (1 - (2 w t)^2)`: it dies away with the third power of time, before as after. `f1`
//! is 20 kHz or 0.45 of the rate, `f2` 24 kHz or half of the rate, whichever is less.
//!
//! *References.* The pulse of Nyquist with a raised cosine, any textbook of digital transmission.
//!
//! *Limits.* A pulse rings before its time: what it does more than [`RINGING_S`] away is cut, which moves a spectrum by up to 4e-4 (0.004
//! dB) at `f1` and by 3e-5 below 10 kHz (tested).

use std::f64::consts::PI;

/// Seconds before and after a pulse that are kept.
pub const RINGING_S: f64 = 0.003;

/// Seconds over which the ends of a response are faded.
const FADE_S: f64 = 0.0005;

/// Rates in samples a second at which responses are made.
pub(super) const RATES: std::ops::RangeInclusive<u32> = 44_100..=192_000;

/// The limit at one rate.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Limit {
    /// Up to here all passes, Hz.
    pub low_hz: f64,
    /// From here on nothing does, Hz.
    pub high_hz: f64,
    rate_hz: f64,
}

impl Limit {
    /// The limit at a rate in samples a second.
    #[must_use]
    pub fn new(rate: u32) -> Self {
        let rate_hz = f64::from(rate);
        Self { low_hz: (0.45 * rate_hz).min(20_000.0), high_hz: (0.5 * rate_hz).min(24_000.0), rate_hz }
    }

    /// What passes at a frequency in Hz.
    #[must_use]
    pub fn share(self, frequency_hz: f64) -> f64 {
        let place = ((frequency_hz - self.low_hz) / (self.high_hz - self.low_hz)).clamp(0.0, 1.0);
        0.5 + 0.5 * (PI * place).cos()
    }

    /// The pulse at a time in seconds from its top, as a sample of the rate: those of a pulse add up to 1.
    #[must_use]
    pub fn pulse(self, time_s: f64) -> f64 {
        let (twice_middle, width) = (self.low_hz + self.high_hz, self.high_hz - self.low_hz);
        let angle = PI * twice_middle * time_s;
        let sinc = if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle };
        let twice = 2.0 * width * time_s;
        // Numerator and denominator are zero together where `twice` is 1; the quotient there is pi / 4.
        let rest = 1.0 - twice * twice;
        let fade = if rest.abs() < 1e-9 { 0.25 * PI } else { (PI * width * time_s).cos() / rest };
        twice_middle / self.rate_hz * sinc * fade
    }

    /// Samples of a time in seconds, rounded up.
    pub(super) fn samples(self, time_s: f64) -> usize {
        (time_s * self.rate_hz).ceil() as usize
    }

    /// Fades both ends of a response.
    pub(super) fn fade_ends(self, response: &mut [f64]) {
        let length = self.samples(FADE_S).min(response.len() / 2);
        let end = response.len();
        for index in 0..length {
            let share = 0.5 - 0.5 * (PI * (index as f64 + 0.5) / length as f64).cos();
            response[index] *= share;
            response[end - 1 - index] *= share;
        }
    }
}
