//! Real Fourier transforms of a convenient length.
//!
//! *References.* Crate `realfft`; scaling: forward as it is, back divided by the length.
//!
//! *Limits.* Whole signals at once, in memory.

use num_complex::Complex64;
use realfft::{ComplexToReal, RealFftPlanner};

/// The least even length of at least `length` that has no prime factor above 5: transforms of it are quick.
#[must_use]
pub fn quick_length(length: usize) -> usize {
    let is_quick = |length: &usize| {
        let mut rest = *length;
        for prime in [2, 3, 5] {
            while rest.is_multiple_of(prime) {
                rest /= prime;
            }
        }
        rest == 1
    };
    (length.max(2).next_multiple_of(2)..).step_by(2).find(is_quick).unwrap_or(length)
}

/// Spectrum of a signal filled up with zeros to `length` (or cut), `length / 2 + 1` lines.
#[must_use]
pub fn spectrum(signal: &[f64], length: usize) -> Vec<Complex64> {
    let transform = RealFftPlanner::new().plan_fft_forward(length);
    let mut samples = signal[..signal.len().min(length)].to_vec();
    samples.resize(length, 0.0);
    let mut lines = transform.make_output_vec();
    match transform.process(&mut samples, &mut lines) {
        Ok(()) => lines,
        // Only lengths that do not fit are refused, and these fit.
        Err(error) => unreachable!("{error}"),
    }
}

/// Power of each line of a signal under a Hann window.
#[must_use]
pub fn hann_power(samples: &[f64]) -> Vec<f64> {
    let turn = std::f64::consts::TAU / samples.len() as f64;
    let windowed: Vec<f64> = samples.iter().enumerate().map(|(index, value)| value * (1.0 - (turn * index as f64).cos())).collect();
    spectrum(&windowed, samples.len()).iter().map(num_complex::Complex::norm_sqr).collect()
}

/// The signal of `length` samples that has this spectrum. Lines at 0 Hz and half the rate count as real.
#[must_use]
pub fn signal(lines: Vec<Complex64>, length: usize) -> Vec<f64> {
    back(&*RealFftPlanner::new().plan_fft_inverse(length), lines)
}

/// The signals of `length` samples that have these spectra, each as [`signal`] has it; planned once for all.
#[must_use]
pub fn signals(spectra: Vec<Vec<Complex64>>, length: usize) -> Vec<Vec<f64>> {
    let transform = RealFftPlanner::new().plan_fft_inverse(length);
    spectra.into_iter().map(|lines| back(&*transform, lines)).collect()
}

fn back(transform: &dyn ComplexToReal<f64>, mut lines: Vec<Complex64>) -> Vec<f64> {
    let (length, last) = (transform.len(), lines.len() - 1);
    lines[0].im = 0.0;
    if length.is_multiple_of(2) {
        lines[last].im = 0.0;
    }
    let mut samples = transform.make_output_vec();
    match transform.process(&mut lines, &mut samples) {
        Ok(()) => samples.iter().map(|value| value / length as f64).collect(),
        Err(error) => unreachable!("{error}"),
    }
}
