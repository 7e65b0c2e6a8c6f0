//! What a room makes of a click: the impulse response of one source at one receiver as samples, in as many channels as a pickup has.
//!
//! Sample 0 is when the source sounds; 1 is its pressure in the free field at 1 m on its axis. The response has three parts:
//!
//! - **Images**: a pulse each (`pulse`) at its time of flight, `sqrt(4 pi E)` strong in each octave for its energy `E` in 1/m2, octaves put together by shares whose sum is 1 (`complement`).
//! - **Rays**: noise from all around (`tail`), as loud over time as their energy says, octave by octave with the same shares.
//! - **Waves**, where they were run: their pressure itself below the crossover.
//!
//! The crossover `fx` is that of [`super::low`], but its halves are causal, since nothing sounds before the source does: with `s = j f / fx` and `B` Butterworth's polynomial of order 4,
//!
//! ```text
//! X = sqrt(m) H / B(s)^2 + s^8 / B(s)^2 images + sqrt(2) s^4 B(s / 2^(1/8)) / B(s)^2 rays
//! ```
//!
//! The direct sound and the first reflections are the same sound in waves and images: their halves are in phase at every frequency, and their sum has the level of the whole (an all-pass). The sound of rays is a stranger to
//! both: its power and that of the waves' half add up to one. Waves know the power of a source alone, `m` re its axis, and pass a high pass at 20 Hz (Butterworth, of fourth order, 0.01 dB at 44 Hz, where the octave of 63 Hz begins), as loudspeakers have one that is
//! higher: below its lowest mode a tight room's pressure rises by 12 dB an octave, which nobody hears and no loudspeaker brings.
//!
//! *References.* M. Vorlaender, Auralization (2008), chapter 11: noise as loud as the energy of rays. Squares of Butterworth filters as crossovers: S. H. Linkwitz, J. Audio Eng. Soc. 24 (1976) 2 (both from memory).
//!
//! *Limits.* Images interfere as they do in truth where walls turn no phase: an octave's energy is then that of their pressures, not the sum of theirs that the curve holds. A reflection comes
//! from where the middle of a zone hears it, as loud as the zone hears it on the mean. Waves come through the pickup as if all of them came straight from the source, which is right for what is small against them. This crossover is wider than
//! that of the energies: the octave that it lies in, and a little of its neighbors, have another mixture than the curve. Waves count up to 1.68 `fx`, where 0.016 of them is left: beyond the frequency that their cells are made for, but there they have lost 11 dB. Energy ends where the
//! curve has fallen by 60 dB, or where rays were followed no further, 20 ms after the direct sound at the least; the last 10 ms fade out.

pub mod complement;
pub mod pulse;
pub mod tail;

use std::f64::consts::{PI, TAU};

use glam::DVec3;
use num_complex::Complex64;
use rayon::prelude::*;

use super::low::Pressure;
use super::{Crossover, LowEnd, Response, heard_energies};
use crate::bands::{Band, Bands};
use crate::dsp::transform::{quick_length, signal, spectrum};
use crate::progress::{Cancelled, Progress};
use crate::weigh::{Linings, SpecularPath, Traced};
pub use tail::Tails;

/// What a channel of the listener makes of a plane wave.
pub trait Pickup: Sync {
    /// How many there are.
    fn channels(&self) -> usize;
    /// Finite response, at the rate of the impulse response, of a channel to a plane wave that comes from the direction of this unit vector.
    fn response(&self, channel: usize, from: DVec3) -> Vec<f64>;
    /// The sample of it that is time zero: when the wave passes the receiver.
    fn lead(&self) -> usize;
}

/// A point that hears all directions alike: one channel, nothing added. The pattern of a receiver is in its energies already.
#[derive(Clone, Copy, Debug)]
pub struct Point;

impl Pickup for Point {
    fn channels(&self) -> usize {
        1
    }

    fn response(&self, _: usize, _: DVec3) -> Vec<f64> {
        vec![1.0]
    }

    fn lead(&self) -> usize {
        0
    }
}

/// Which impulse response is asked for.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// The source, counted as the room has them.
    pub source: usize,
    /// The receiver.
    pub receiver: usize,
    /// What hears there.
    pub pickup: &'a dyn Pickup,
    /// Samples a second; its half is to lie above the octave of 8 kHz.
    pub rate_hz: f64,
    /// Seed of the noise.
    pub seed: u64,
}

/// An impulse response.
#[derive(Clone, Debug, PartialEq)]
pub struct Impulse {
    /// Samples a second.
    pub rate_hz: f64,
    /// Channel by channel, all of one length, pressure re that of the source in the free field at 1 m on its axis; sample 0 is when the source sounds.
    pub channels: Vec<Vec<f32>>,
    /// When the direct sound passes the receiver, seconds from sample 0 on, whether or not anything stands between.
    pub arrival_s: f64,
}

/// By how much the curve falls until it counts as over, as a ratio of energies: 60 dB.
const OVER: f64 = 1e-6;
/// The end that fades out, seconds.
const FADE_S: f64 = 0.010;
/// What shares of octaves ring, to either side, is over after so long, seconds.
const RINGS_S: f64 = 0.25;
/// Where the sound of waves begins, Hz: where a sweep does, and what is heard.
const WAVES_FROM: f64 = 20.0;
/// Where it ends, re the crossover.
const WAVES_TO: f64 = 1.68;

/// The impulse response of a pair whose energies are `response`, with what waves brought into that; `tails` keep what the next one can take over.
///
/// # Errors
/// [`Cancelled`].
pub fn impulse(
    progress: &Progress,
    (traced, linings): (&Traced, &Linings),
    response: &Response,
    low: Option<&LowEnd>,
    (asked, tails): (&Asked<'_>, &mut Tails),
) -> Result<Impulse, Cancelled> {
    let Asked { source, receiver, pickup, rate_hz, seed } = *asked;
    let arrival_s = traced.distance(source, receiver) / traced.room.medium.speed;
    let waves = low.map(|low| (low.crossover, &low.pressures[source][receiver]));
    let count = ((arrival_s + lasts_s(response).max(2.0 * FADE_S)) * rate_hz).ceil() as usize;
    // What rings before the first sample comes round after the last, and so would what waves bring later.
    let longest = waves.map_or(0, |(_, pressure)| (pressure.seconds() * rate_hz) as usize).max(count);
    let transform = quick_length(longest + (RINGS_S * rate_hz) as usize);
    progress.begin("making an impulse response", 1);
    let pair = (source * traced.room.receivers.len() + receiver) as u64;
    let whole = Whole {
        rate_hz,
        transform,
        lines: complement::lines(transform, rate_hz),
        paths: traced.images[source][receiver].heard.iter().zip(heard_energies(traced, linings, (source, receiver))).collect(),
        speed: traced.room.medium.speed,
        loudness: loudness(response, (arrival_s, rate_hz), count),
        waves: waves.map(|(crossover, pressure)| Low::new(response, (crossover, pressure), transform, rate_hz)),
        towards: (traced.room.sources[source].position - traced.room.receivers[receiver].position).try_normalize().unwrap_or(DVec3::X),
        pickup,
    };
    let noises = tails.of(progress, pickup, (seed, pair), count)?;
    let channels = noises.par_iter().enumerate().map(|(channel, noise)| faded(whole.channel(channel, noise), count, rate_hz));
    let channels = channels.collect();
    progress.step(1)?;
    Ok(Impulse { rate_hz, channels, arrival_s })
}

/// How long the curves of all octaves last from the direct sound on, seconds.
fn lasts_s(response: &Response) -> f64 {
    let of = |band: Band| {
        let curve = response.curve(band);
        let least = OVER * curve.iter().sum::<f64>();
        let mut left = 0.0;
        let quiet = curve.iter().rev().take_while(|energy| {
            left += **energy;
            left <= least
        });
        curve.len() - quiet.count()
    };
    Band::ALL.into_iter().map(of).max().unwrap_or(0) as f64 * response.bin_s
}

/// What noise is multiplied by in each octave, sample by sample.
fn loudness(response: &Response, (arrival_s, rate_hz): (f64, f64), count: usize) -> Bands<Vec<f64>> {
    Bands::from_fn(|band| {
        let energies: Vec<f64> = response.rays().iter().map(|energy| 4.0 * PI * energy[band]).collect();
        let mut each = tail::by_sample(&energies, (arrival_s * rate_hz, response.bin_s * rate_hz), count);
        each.iter_mut().for_each(|energy| *energy = energy.sqrt());
        each
    })
}

/// Samples with their end faded out.
fn faded(samples: Vec<f64>, count: usize, rate_hz: f64) -> Vec<f32> {
    let fade = FADE_S * rate_hz;
    let left = |sample: usize| ((count - sample) as f64 / fade).min(1.0);
    samples.into_iter().take(count).enumerate().map(|(sample, value)| (value * 0.5 * (1.0 - (PI * left(sample)).cos())) as f32).collect()
}

/// What waves bring, line by line as far as they go.
struct Low {
    crossover: Crossover,
    lines: Vec<Complex64>,
}

impl Low {
    fn new(response: &Response, (crossover, pressure): (Crossover, &Pressure), transform: usize, rate_hz: f64) -> Self {
        let at = |line: usize| line as f64 * rate_hz / transform as f64;
        let end = crossover.frequency * WAVES_TO;
        let last = (0..=transform / 2).take_while(|&line| at(line) < end).count();
        let value = |line: usize| {
            if line == 0 {
                return Complex64::ZERO;
            }
            let frequency = at(line);
            let sent: f64 = complement::shares(frequency).zip(response.mean_sent, |share, energy| share * energy.sqrt()).sum();
            pressure.transfer(frequency) * begun(frequency) * halves(frequency / crossover.frequency)[0] * sent
        };
        Self { crossover, lines: (0..last).into_par_iter().map(value).collect() }
    }
}

/// What is left of the sound of waves near its lower end: a high pass of fourth order that rings after what it answers alone, since nothing sounds before
/// the source does.
#[must_use]
pub fn begun(frequency: f64) -> Complex64 {
    let s = Complex64::new(0.0, frequency / WAVES_FROM);
    s.powi(4) / butterworth(s)
}

/// What each part has of its pressure at a frequency re the crossover: waves, images, rays.
#[must_use]
pub fn halves(ratio: f64) -> [Complex64; 3] {
    let s = Complex64::new(0.0, ratio);
    let both = butterworth(s).powi(-2);
    [both, s.powi(8) * both, std::f64::consts::SQRT_2 * s.powi(4) * butterworth(s / 2.0_f64.powf(0.125)) * both]
}

/// Butterworth's polynomial of order 4.
fn butterworth(s: Complex64) -> Complex64 {
    [PI / 8.0, 3.0 * PI / 8.0].into_iter().map(|angle| s * s + 2.0 * angle.cos() * s + 1.0).product()
}

/// All that the channels of a response share.
struct Whole<'a> {
    rate_hz: f64,
    transform: usize,
    lines: Vec<Bands<f64>>,
    paths: Vec<(&'a SpecularPath, Bands<f64>)>,
    speed: f64,
    loudness: Bands<Vec<f64>>,
    waves: Option<Low>,
    /// Where the source is.
    towards: DVec3,
    pickup: &'a dyn Pickup,
}

impl Whole<'_> {
    /// One channel, whose tail is made of this noise, over the whole circle.
    fn channel(&self, channel: usize, noise: &[f64]) -> Vec<f64> {
        let whole = |octaves: &Bands<Vec<f64>>| complement::together(&self.lines, self.transform, octaves);
        let images = whole(&self.images(channel));
        let tail = |band: Band| self.loudness[band].iter().zip(noise).map(|(loudness, noise)| loudness * noise).collect();
        let tail = whole(&Bands::from_fn(tail));
        let joined = |(line, (images, tail)): (usize, (Complex64, Complex64))| {
            let frequency = line as f64 * self.rate_hz / self.transform as f64;
            let [_, of_images, of_rays] =
                self.waves.as_ref().map_or([Complex64::ONE; 3], |low| halves(frequency / low.crossover.frequency));
            images * of_images + tail * of_rays
        };
        let mut lines: Vec<Complex64> = images.into_iter().zip(tail).enumerate().map(joined).collect();
        if let Some(low) = &self.waves {
            let lead = self.pickup.lead() as f64;
            let heard = spectrum(&self.pickup.response(channel, self.towards), self.transform);
            for (index, ((line, wave), heard)) in lines.iter_mut().zip(&low.lines).zip(heard).enumerate() {
                *line += wave * heard * Complex64::cis(TAU * index as f64 / self.transform as f64 * lead);
            }
        }
        signal(lines, self.transform)
    }

    /// The pulses of all images in one channel, octave by octave.
    fn images(&self, channel: usize) -> Bands<Vec<f64>> {
        let mut octaves = Bands::from_fn(|_| vec![0.0; self.transform]);
        let lead = self.pickup.lead() as i64;
        for (path, energy) in &self.paths {
            let response = self.pickup.response(channel, path.path.arrival);
            let strength = energy.map(|energy| (4.0 * PI * energy).sqrt());
            let taps: Vec<_> = pulse::taps(path.path.length / self.speed * self.rate_hz).collect();
            let mut heard = vec![0.0; taps.len() + response.len()];
            for (index, (_, tap)) in taps.iter().enumerate() {
                heard[index..].iter_mut().zip(&response).for_each(|(sum, gain)| *sum += tap * gain);
            }
            let first = taps.first().map_or(0, |(first, _)| *first) - lead;
            for (index, value) in (first..).zip(heard) {
                let Some(sample) = usize::try_from(index).ok().filter(|sample| *sample < self.transform) else { continue };
                for (octave, strength) in octaves.0.iter_mut().zip(strength.0) {
                    octave[sample] += strength * value;
                }
            }
        }
        octaves
    }
}
