//! The sound of rays: noise from all around, as loud as their energy.
//!
//! Energy over time is known by bin. Its sum up to each border of a bin goes through these borders as a monotone cubic, so every bin keeps its energy, energy is nowhere below 0, and loudness has no
//! steps. What comes within a sample is the difference of that sum at its ends, `dC`; the sample is
//!
//! ```text
//! x[n] = g[n] sqrt(4 pi dC[n]),   g Gaussian with variance 1
//! ```
//!
//! A pulse of the energy `E` in all bands has the strength `sqrt(4 pi E)` and that square as its sum of squares, and both lie evenly over frequency: so each octave reads the same of noise and pulse of one energy.
//!
//! Noise comes as plane waves from [`WAYS`] directions spread evenly over the sphere, none like another, each as the pickup makes it; so two channels are as much alike as a diffuse field makes them.
//!
//! *References.* Monotone cubic with harmonic means of slopes: F. N. Fritsch, J. Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300 (from memory). Gaussian numbers: G. E. P. Box, M. E. Muller, Ann. Math. Stat. 29 (1958)
//! 610. Directions on a spiral by the golden angle: R. Swinbank, R. J. Purser, Q. J. R. Meteorol. Soc. 132 (2006) 1769 (from memory).
//!
//! *Limits.* Where few rays arrive in a bin, its energy is theirs: the end of a tail that few rays carry is uneven. All directions are alike in every band and at any time. So many directions make two points
//! `d` apart as much alike as a diffuse field does within 0.02 up to `k d = 10` and within 0.05 up to 18 (tested), 5.8 kHz for ears 17 cm apart.

use std::f64::consts::{PI, TAU};

use glam::DVec3;
use num_complex::Complex64;
use rayon::prelude::*;

use super::Pickup;
use crate::dsp::transform::{signal, spectrum};
use crate::progress::{Cancelled, Progress};
use crate::random::{Purpose, Stream};

/// Directions that noise comes from.
pub const WAYS: usize = 96;
/// So many are held at a time.
const AT_ONCE: usize = 8;

/// Directions spread evenly over the sphere: unit vectors towards where sound comes from.
#[must_use]
pub fn ways() -> Vec<DVec3> {
    let turn = PI * (3.0 - 5.0_f64.sqrt());
    let way = |index: usize| {
        let height = 1.0 - (2 * index + 1) as f64 / WAYS as f64;
        let flat = (1.0 - height * height).sqrt();
        let angle = turn * index as f64;
        DVec3::new(flat * angle.cos(), flat * angle.sin(), height)
    };
    (0..WAYS).map(way).collect()
}

/// Gaussian numbers of variance 1.
fn gaussian(mut stream: Stream, count: usize) -> Vec<f64> {
    let pair = |_| {
        let radius = (-2.0 * (1.0 - stream.unit()).ln()).sqrt();
        let (sine, cosine) = (TAU * stream.unit()).sin_cos();
        [radius * cosine, radius * sine]
    };
    (0..count.div_ceil(2)).flat_map(pair).take(count).collect()
}

/// Noise from all around in each channel, of variance 1 where the pickup adds nothing; `transform` samples are a circle, of which the first `count` are given.
///
/// # Errors
/// [`Cancelled`].
pub(super) fn noises(
    progress: &Progress,
    pickup: &dyn Pickup,
    (seed, pair): (u64, u64),
    (count, transform): (usize, usize),
) -> Result<Vec<Vec<f64>>, Cancelled> {
    let channels = pickup.channels();
    let mut sums = vec![vec![Complex64::ZERO; transform / 2 + 1]; channels];
    for (part, ways) in ways().chunks(AT_ONCE).enumerate() {
        progress.step(0)?;
        let of_way = |(index, way): (usize, &DVec3)| {
            let number = pair.wrapping_mul(WAYS as u64).wrapping_add((part * AT_ONCE + index) as u64);
            let noise = spectrum(&gaussian(Stream::new(seed, Purpose::Tail, number), transform), transform);
            let heard = |channel: usize| heard(&noise, &pickup.response(channel, *way), transform);
            (0..channels).map(heard).collect::<Vec<_>>()
        };
        let heard: Vec<_> = ways.par_iter().enumerate().map(of_way).collect();
        for channels in heard {
            for (sum, lines) in sums.iter_mut().zip(channels) {
                sum.iter_mut().zip(lines).for_each(|(sum, line)| *sum += line);
            }
        }
    }
    let share = 1.0 / (WAYS as f64).sqrt();
    let over_time = |lines: Vec<Complex64>| {
        let mut samples = signal(lines, transform);
        samples.truncate(count);
        samples.iter_mut().for_each(|value| *value *= share);
        samples
    };
    Ok(sums.into_par_iter().map(over_time).collect())
}

/// The spectrum of a plane wave as a response makes it.
fn heard(noise: &[Complex64], response: &[f64], transform: usize) -> Vec<Complex64> {
    if let [only] = response {
        return noise.iter().map(|line| line * only).collect();
    }
    noise.iter().zip(spectrum(response, transform)).map(|(line, gain)| line * gain).collect()
}

/// Energy in each of so many samples, of energies in bins of `bin` samples that begin `start` samples after the first.
#[must_use]
pub fn by_sample(energies: &[f64], (start, bin): (f64, f64), count: usize) -> Vec<f64> {
    let sum = Sum::new(energies);
    let up_to = |sample: f64| sum.at((sample - start) / bin);
    let mut before = up_to(-0.5);
    let each = |sample: usize| {
        let now = up_to(sample as f64 + 0.5);
        (now - std::mem::replace(&mut before, now)).max(0.0)
    };
    (0..count).map(each).collect()
}

/// Energy up to a time, as a monotone cubic through what it is at the borders of bins.
struct Sum {
    borders: Vec<f64>,
    slopes: Vec<f64>,
}

impl Sum {
    fn new(energies: &[f64]) -> Self {
        let mut borders = vec![0.0];
        borders.extend(energies.iter().scan(0.0, |sum, energy| {
            *sum += energy;
            Some(*sum)
        }));
        let slope = |border: usize| match (border.checked_sub(1).and_then(|bin| energies.get(bin)), energies.get(border)) {
            (Some(&before), Some(&after)) if before + after > 0.0 => 2.0 * before * after / (before + after),
            (Some(&only), None) | (None, Some(&only)) => only,
            _ => 0.0,
        };
        let slopes = (0..borders.len()).map(slope).collect();
        Self { borders, slopes }
    }

    /// At a time in bins.
    fn at(&self, time: f64) -> f64 {
        let last = self.borders.len() - 1;
        let bin = time.max(0.0) as usize;
        if bin >= last {
            return self.borders[last];
        }
        let place = time.max(0.0) - bin as f64;
        let (from, to) = (self.borders[bin], self.borders[bin + 1]);
        let rest = 1.0 - place;
        let curved = rest * self.slopes[bin] - place * self.slopes[bin + 1];
        from + (to - from) * place * place * (3.0 - 2.0 * place) + place * rest * curved
    }
}
