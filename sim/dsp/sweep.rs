//! The exponential sweep: a sine whose frequency grows by the same factor in the same time, and what undoes it.
//!
//! `x(t) = A sin(2 pi f1 L (e^(t / L) - 1))`, `L = T / ln(f2 / f1)`, faded in and out by half a cosine within its length, so many times with a silence between and after. A recording `y` gives the
//! response by dividing spectra, `H = Y X* / (|X|^2 + e)`: within the range of the sweep `e` is a millionth of `P = A^2 L / (4 f)`, what the sweep has there; where it is faded, and outside, it fills `|X|^2` up to P, so that nothing
//! is ever amplified more than within the range. What distortion of order k makes of a sweep is the same sweep `L ln k` earlier: its responses lie before the direct one.
//!
//! *References.* ISO 18233:2006, annex B; A. Farina, "Simultaneous measurement of impulse response and distortion with a swept-sine technique", AES 108th convention, 2000 (both from memory).
//!
//! *Limits.* The response knows nothing outside the range of the sweep. A room that moves or a noise that comes and goes during the sweep is in it.

use num_complex::Complex64;
use thiserror::Error;

use super::transform::{quick_length, signal, spectrum};

/// Share of the power of the sweep that is added to it within its range.
const ADDED: f64 = 1e-6;

/// A test signal.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// Frequency it begins with, Hz.
    pub low_hz: f64,
    /// Frequency it ends with, Hz.
    pub high_hz: f64,
    /// Length of one sweep, seconds.
    pub seconds: f64,
    /// Samples a second.
    pub rate_hz: f64,
    /// Largest sample re full scale, dB.
    pub level_db: f64,
    /// Fade at its beginning, seconds.
    pub fade_in_s: f64,
    /// Fade at its end, seconds.
    pub fade_out_s: f64,
    /// How often it is played.
    pub repeats: usize,
    /// Silence after each, seconds.
    pub silence_s: f64,
}

/// Why a sweep cannot be made, or nothing comes of a recording.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum SweepError {
    /// A range that is none.
    #[error("a sweep goes from above 0 Hz up to at most 0.48 of its rate, not from {low_hz} Hz to {high_hz} Hz")]
    Range {
        /// From.
        low_hz: f64,
        /// To.
        high_hz: f64,
    },
    /// Lengths that do not fit.
    #[error(
        "a sweep lasts 0.5 s at the least, with fades that fit into it, a silence of 0.2 s at the least, at -120 to 0 dB, once or more often"
    )]
    Lengths,
    /// A recording that ends too early.
    #[error("the recording ends before one whole sweep and its decay")]
    TooShort,
    /// Values that are none.
    #[error("the recording holds values that are not numbers")]
    Unsound,
    /// Noise, speech, silence.
    #[error("no sweep found in the recording")]
    NotFound,
    /// One of another range, length or pause.
    #[error("this is a recording of another sweep: its range, its length or its silence is not that of the signal named")]
    Another,
}

impl Sweep {
    /// A sweep at -30 dB, twice, with 3 s of silence after each, fades of a hundredth of its length at the beginning and a five-hundredth at the end.
    #[must_use]
    pub fn new(low_hz: f64, high_hz: f64, seconds: f64, rate_hz: f64) -> Self {
        let (fade_in_s, fade_out_s) = (0.01 * seconds, 0.002 * seconds);
        Self { low_hz, high_hz, seconds, rate_hz, level_db: -30.0, fade_in_s, fade_out_s, repeats: 2, silence_s: 3.0 }
    }

    /// Whether it can be made.
    ///
    /// # Errors
    /// A range or lengths that do not fit.
    pub fn check(&self) -> Result<(), SweepError> {
        let (low_hz, high_hz) = (self.low_hz, self.high_hz);
        if !(low_hz > 0.0 && high_hz >= 2.0 * low_hz && high_hz <= 0.48 * self.rate_hz && self.rate_hz.is_finite()) {
            return Err(SweepError::Range { low_hz, high_hz });
        }
        let fades = self.fade_in_s >= 0.0 && self.fade_out_s >= 0.0 && self.fade_in_s + self.fade_out_s <= 0.5 * self.seconds;
        let lasts = (0.5..=600.0).contains(&self.seconds) && (0.2..=60.0).contains(&self.silence_s);
        if fades && lasts && (1..=64).contains(&self.repeats) && (-120.0..=0.0).contains(&self.level_db) {
            Ok(())
        } else {
            Err(SweepError::Lengths)
        }
    }

    /// `L`: seconds in which the frequency grows by a factor e.
    #[must_use]
    pub fn stretch_s(&self) -> f64 {
        self.seconds / (self.high_hz / self.low_hz).ln()
    }

    /// Samples of one sweep.
    #[must_use]
    pub fn length(&self) -> usize {
        (self.seconds * self.rate_hz).round() as usize
    }

    /// Samples from one sweep to the next.
    #[must_use]
    pub fn period(&self) -> usize {
        self.length() + (self.silence_s * self.rate_hz).round() as usize
    }

    /// One sweep, without silence.
    #[must_use]
    pub fn once(&self) -> Vec<f64> {
        let (stretch, length) = (self.stretch_s(), self.length());
        let fade =
            |left_s: f64, fade_s: f64| if left_s < fade_s { 0.5 - 0.5 * (std::f64::consts::PI * left_s / fade_s).cos() } else { 1.0 };
        let at = |index: usize| {
            let (time, left) = (index as f64 / self.rate_hz, (length - index) as f64 / self.rate_hz);
            let phase = std::f64::consts::TAU * self.low_hz * stretch * (time / stretch).exp_m1();
            self.amplitude() * fade(time, self.fade_in_s) * fade(left, self.fade_out_s) * phase.sin()
        };
        (0..length).map(at).collect()
    }

    /// All of it, each sweep with its silence.
    #[must_use]
    pub fn signal(&self) -> Vec<f32> {
        let mut once: Vec<f32> = self.once().into_iter().map(|value| value as f32).collect();
        once.resize(self.period(), 0.0);
        once.repeat(self.repeats)
    }

    /// What undoes one sweep: convolved with it, a pulse of 1 as many samples later as one sweep is long, limited to its range.
    #[must_use]
    pub fn inverse_filter(&self) -> Vec<f32> {
        let length = quick_length(2 * self.length());
        let mut filter = signal(self.inverse(length), length);
        filter.rotate_right(self.length());
        filter.into_iter().map(|value| value as f32).collect()
    }

    fn amplitude(&self) -> f64 {
        10.0_f64.powf(0.05 * self.level_db)
    }

    /// What a spectrum of `length` samples is multiplied with to undo one sweep.
    pub(super) fn inverse(&self, length: usize) -> Vec<Complex64> {
        let line_hz = self.rate_hz / length as f64;
        let lines = spectrum(&self.once(), length);
        let of_line = |(index, line): (usize, &Complex64)| {
            let power = line.norm_sqr();
            line.conj() / (power + self.added(index as f64 * line_hz, power))
        };
        lines.iter().enumerate().map(of_line).collect()
    }

    /// `e` at a frequency in Hz where the sweep has this power.
    fn added(&self, frequency_hz: f64, power: f64) -> f64 {
        let stretch = self.stretch_s();
        let nearest = frequency_hz.clamp(self.low_hz, self.high_hz);
        let full = (self.amplitude() * self.rate_hz).powi(2) * stretch / (4.0 * nearest);
        let whole = self.low_hz * (self.fade_in_s / stretch).exp()..self.high_hz * (-self.fade_out_s / stretch).exp();
        // A hundredth at the least: the sweep ripples about its mean beside the fades.
        if whole.contains(&frequency_hz) { ADDED * full } else { (full - power).max(0.01 * full) }
    }
}
