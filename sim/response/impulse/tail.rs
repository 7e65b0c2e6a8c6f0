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
use crate::dsp::transform::{signals, spectrum};
use crate::progress::{Cancelled, Progress};
use crate::random::{Purpose, Stream, key};

/// Directions that noise comes from.
pub const WAYS: usize = 96;
/// So many blocks are made at a time.
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

/// Noise from all around as a pickup hears it, kept for the next response of the same listener: while panels move, nothing of it changes.
///
/// It is made in blocks, each from numbers of its own, so that the beginning of a long one is that of a short one, bit by bit.
#[derive(Debug, Default)]
pub struct Tails {
    /// What the pickup answers to [`PROBES`], channel by channel: one that answers otherwise is another one.
    answers: Vec<Vec<f64>>,
    /// Transfer of each channel for each of the ways, and how long it rings, samples.
    ways: Vec<Vec<Vec<Complex64>>>,
    rings: usize,
    /// By seed and pair of source and receiver.
    made: Vec<((u64, u64), Noise)>,
}

/// Directions that tell one pickup from another: none lies in a plane or on an axis of another's symmetry.
const PROBES: [DVec3; 3] = [DVec3::new(0.48, 0.6, 0.64), DVec3::new(-0.36, 0.48, -0.8), DVec3::new(0.75, -0.433, 0.5)];

/// Noise of one pair, channel by channel, as far as it was made.
#[derive(Debug, Default)]
struct Noise {
    channels: Vec<Vec<f64>>,
    /// What the last block rings on with.
    rings_on: Vec<Vec<f64>>,
    blocks: usize,
}

impl Tails {
    /// Noise in each channel, of variance 1 where the pickup adds nothing, `count` samples at the least.
    ///
    /// # Errors
    /// [`Cancelled`]; what was made until then is kept.
    pub(super) fn of(
        &mut self,
        progress: &Progress,
        pickup: &dyn Pickup,
        (seed, pair): (u64, u64),
        count: usize,
    ) -> Result<&[Vec<f64>], Cancelled> {
        self.hear_by(pickup);
        let place = self.made.iter().position(|(of, _)| *of == (seed, pair)).unwrap_or_else(|| {
            self.made.push(((seed, pair), Noise::default()));
            self.made.len() - 1
        });
        let (ways, rings, noise) = (&self.ways, self.rings, &mut self.made[place].1);
        while noise.channels.first().is_none_or(|samples| samples.len() < count) {
            progress.step(0)?;
            let next = noise.blocks..noise.blocks + AT_ONCE;
            let blocks: Vec<_> = next.into_par_iter().map(|index| block(ways, rings, (seed, pair, index as u64))).collect();
            blocks.into_iter().for_each(|block| noise.append(block, rings));
        }
        Ok(&self.made[place].1.channels)
    }

    /// Begins anew where the pickup is another one than before.
    fn hear_by(&mut self, pickup: &dyn Pickup) {
        let channels = 0..pickup.channels();
        let answers: Vec<Vec<f64>> = channels.clone().flat_map(|channel| PROBES.map(|probe| pickup.response(channel, probe))).collect();
        if self.answers == answers {
            return;
        }
        let rings = answers.iter().map(Vec::len).max().unwrap_or(0);
        let transform = transform(rings);
        let of_way = |way: &DVec3| channels.clone().map(|channel| spectrum(&pickup.response(channel, *way), transform)).collect();
        *self = Self { answers, ways: ways().par_iter().map(of_way).collect(), rings, made: Vec::new() };
    }
}

impl Noise {
    /// Goes on with the next block of each channel, of which the last so many samples are what it rings on with. The first block only rings into the second.
    fn append(&mut self, block: Vec<Vec<f64>>, rings: usize) {
        self.channels.resize(block.len(), Vec::new());
        self.rings_on.resize(block.len(), Vec::new());
        for ((samples, rings_on), mut block) in self.channels.iter_mut().zip(&mut self.rings_on).zip(block) {
            block.iter_mut().zip(rings_on.iter()).for_each(|(sample, before)| *sample += before);
            *rings_on = block.split_off(block.len() - rings);
            if self.blocks > 0 {
                samples.append(&mut block);
            }
        }
        self.blocks += 1;
    }
}

/// Length of the transform of a block whose noise rings on for so many samples: it holds four times as many at the least.
fn transform(rings: usize) -> usize {
    (4 * rings).next_power_of_two().max(8192)
}

/// A block of noise in each channel, the last `rings` samples of it what it rings on with.
fn block(ways: &[Vec<Vec<Complex64>>], rings: usize, (seed, pair, index): (u64, u64, u64)) -> Vec<Vec<f64>> {
    let transform = transform(rings);
    let mut sums = vec![vec![Complex64::ZERO; transform / 2 + 1]; ways.first().map_or(0, Vec::len)];
    for (number, gains) in (pair.wrapping_mul(WAYS as u64)..).zip(ways) {
        let stream = Stream::new(key(seed, Purpose::Tail, number), Purpose::Tail, index);
        let noise = spectrum(&gaussian(stream, transform - rings), transform);
        for (sum, gains) in sums.iter_mut().zip(gains) {
            sum.iter_mut().zip(&noise).zip(gains).for_each(|((sum, line), gain)| *sum += line * gain);
        }
    }
    let share = 1.0 / (WAYS as f64).sqrt();
    let mut channels = signals(sums, transform);
    channels.iter_mut().flatten().for_each(|value| *value *= share);
    channels
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
