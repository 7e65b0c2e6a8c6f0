//! The low end of a response: energy over time in the octaves that waves bring, joined with the rays at a crossover.
//!
//! Below the crossover an octave is what the wave solver heard, above it what images and rays bring, and across a third of an octave round it both, weighted so that their energies add up to one:
//!
//! ```text
//! W(f) = cos(s pi / 2), R(f) = sin(s pi / 2), s = x^2 (3 - 2 x), x = 3 log2(f / fx) + 1/2 held between 0 and 1;  W^2 + R^2 = 1
//! ```
//!
//! Octaves begin and end the same way at their borders, so that the powers of neighbors add up to one. Filters have no phase: nothing is delayed. An octave's energy is the mean over its frequencies for a source that sends all of them alike, so that of the waves is
//!
//! ```text
//! E(t) = h(t)^2 dt / (2 B) / (4 pi) * m,   h from H(f) F(f) W(f),   B = integral of F(f)^2 df
//! ```
//!
//! with `H` the pressure re that in the free field at 1 m, `F` the octave's filter, and `m` what the source sends into all directions together re its axis: the waves of a source that sends alike
//! all round are those of one of the same power. Of the rays the share `(integral of F^2 R^2) / B` is left. At a seat `h^2` is the mean over its zone, as rays are counted; a microphone that prefers a
//! direction hears pressure and its slope along its axis, `a p + (1 - a) c / (j w) dp/dn`.
//!
//! The crossover is fixed once for a scene, by its bare room: Schroeder's frequency, or as high as waves are computed where that is less.
//!
//! *References.* Octaves: IEC 61260-1 (from memory). Power-complementary halves of a crossover: text books of filters (from memory).
//!
//! *Limits.* Directivity counts by its power alone, but a microphone that prefers a direction hears more of the low end of what is close by, as it does in truth (a cardioid 7.5 dB at 63 Hz 0.2 m away): rays do not. A filter without delay rings before the direct sound too: what is heard before it counts with it. In an octave `b` wide nothing is
//! known of what takes less time than `1 / b`: 23 ms at 63 Hz. Rays know nothing of the patterns that walls make (R. V. Waterhouse, J. Acoust. Soc. Am. 27 (1955) 247, from memory): a diffuse field is 4 dB louder than the exact sum
//! of modes in the octave of 63 Hz and 2 dB in that of 125 Hz, 0.8 m and more from the walls of a box of 52 m3, at source and ear (`tests/join.rs`); so levels step by that at the crossover, and octaves that are joined lie between.

use std::f64::consts::{FRAC_PI_2, PI, TAU};
use std::ops::Range;

use num_complex::Complex64;
use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::room::{Receiver, Room};
use crate::wave::record::over_time;
use crate::wave::{Hearing, Pulse, Record};

/// Width of the crossover, octaves.
pub const WIDTH: f64 = 1.0 / 3.0;
/// The part of a record whose octaves are its own: its last fifth fades out.
const OWN: f64 = 0.75;
/// What octaves ring before the source begins counts from so long before, seconds.
const BEFORE: f64 = 0.2;
/// Steps of the sums over an octave.
const STEPS: usize = 400;

/// Where waves end and rays begin.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossover {
    /// Its middle, Hz.
    pub frequency: f64,
}

impl Crossover {
    /// At Schroeder's frequency of the bare room, or as high as waves up to `top` Hz allow.
    #[must_use]
    pub fn new(schroeder: f64, top: f64) -> Self {
        Self { frequency: schroeder.min(top / (0.5 * WIDTH).exp2()) }
    }

    /// Share of the pressure that is that of the waves, 1 below and 0 above.
    #[must_use]
    pub fn waves(self, frequency: f64) -> f64 {
        falling(frequency / self.frequency)
    }

    /// Share of the pressure that is that of images and rays.
    #[must_use]
    pub fn rays(self, frequency: f64) -> f64 {
        rising(frequency / self.frequency)
    }

    /// What part of the rays' energy in an octave is left: 0 where the octave is that of waves, 1 where it has none of them.
    #[must_use]
    pub fn rays_share(self, band: Band) -> f64 {
        let mean = |weight: &dyn Fn(f64) -> f64| sum(range(band), |frequency| (passed(band, frequency) * weight(frequency)).powi(2));
        let share = mean(&|frequency| self.rays(frequency)) / mean(&|_| 1.0);
        // Less than a decibel's hundredth of either is nothing.
        if share < LEAST_SHARE {
            0.0
        } else if share > 1.0 - LEAST_SHARE {
            1.0
        } else {
            share
        }
    }
}

/// What passes above a border, at a frequency re it: none a sixth of an octave below, all a sixth above.
fn rising(ratio: f64) -> f64 {
    (step(ratio) * FRAC_PI_2).sin()
}

/// What passes below it.
fn falling(ratio: f64) -> f64 {
    (step(ratio) * FRAC_PI_2).cos()
}

/// From 0 to 1 across a border, level at both ends: what rings before and after falls as the third power of time.
fn step(ratio: f64) -> f64 {
    let place = (ratio.log2() / WIDTH + 0.5).clamp(0.0, 1.0);
    place * place * (3.0 - 2.0 * place)
}

/// What share of the pressure an octave lets pass.
fn passed(band: Band, frequency: f64) -> f64 {
    rising(frequency / band.lower()) * falling(frequency / band.upper())
}

/// From where to where it lets anything pass, Hz.
fn range(band: Band) -> Range<f64> {
    let half = (0.5 * WIDTH).exp2();
    band.lower() / half..band.upper() * half
}

/// Shares below this count as none: a hundredth of a decibel.
const LEAST_SHARE: f64 = 0.0023;

/// An integral over a range.
fn sum(range: Range<f64>, of: impl Fn(f64) -> f64) -> f64 {
    let step = (range.end - range.start) / STEPS as f64;
    (0..STEPS).map(|index| of(range.start + (index as f64 + 0.5) * step)).sum::<f64>() * step
}

/// Which ears of a run are those of a receiver.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Listened {
    /// Its zone.
    pub zone: Range<usize>,
    /// The first of two on its axis, the one before and the one behind it, where it prefers a direction.
    pub axis: Option<usize>,
}

/// How far before and behind a microphone its two ears are, meters: 1 % off at 250 Hz.
pub const ON_AXIS: f64 = 0.05;

/// Energies by octave and bin of one source at one receiver, 1/m2, for a source of mean strength 1; none in octaves that waves have no part in.
pub type Octaves = Bands<Vec<f64>>;

/// What waves bring, by source and receiver.
#[derive(Clone, Debug, PartialEq)]
pub struct LowEnd {
    /// Where they end.
    pub crossover: Crossover,
    /// As the scene says.
    pub nominal: Vec<Vec<Octaves>>,
    /// What was heard of it at each receiver itself.
    pub pressures: Vec<Vec<Pressure>>,
    /// The same in larger cells, and rooms with other walls in those: where figures may lie.
    pub beside: Option<Beside>,
}

/// What one receiver heard of one source: at the middle of its zone, or as its pattern has it.
#[derive(Clone, Debug, PartialEq)]
pub struct Pressure {
    pulse: Pulse,
    /// The middle, and two on its axis where it prefers a direction.
    ears: Vec<Record>,
    aim: Aim,
}

/// How a microphone prefers a direction.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Aim {
    /// Pressure's share in it.
    omni: f64,
    /// Speed of sound, m/s.
    speed: f64,
}

impl Aim {
    fn new(room: &Room, receiver: &Receiver) -> Self {
        Self { omni: receiver.pattern.omni, speed: room.medium.speed }
    }

    /// Pressure and its slope along the axis, of what is heard in the middle, before and behind.
    fn mixed(self, frequency: f64, [middle, before, behind]: [Complex64; 3]) -> Complex64 {
        let slope = (before - behind) / (2.0 * ON_AXIS);
        self.omni * middle + (1.0 - self.omni) * self.speed / Complex64::new(0.0, TAU * frequency) * slope
    }
}

impl Pressure {
    /// What it is re that in the free field at 1 m, of a source that sends alike all round, at a frequency in Hz that waves were run for; time begins when the source sounds.
    #[must_use]
    pub fn transfer(&self, frequency: f64) -> Complex64 {
        let at = |ear: usize| self.ears[ear].transfer(&self.pulse, frequency);
        if self.ears.len() < 3 { at(0) } else { self.aim.mixed(frequency, [at(0), at(1), at(2)]) }
    }

    /// How long it was listened to, seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        self.ears[0].interval * self.ears[0].pressures.len() as f64
    }
}

/// What every receiver of a run of each source heard itself.
#[must_use]
pub fn pressures(room: &Room, ears: &[Listened], heard: &[Hearing]) -> Vec<Vec<Pressure>> {
    let at = |heard: &Hearing, (receiver, ears): (&Receiver, &Listened)| {
        let own = std::iter::once(ears.zone.start).chain(ears.axis.into_iter().flat_map(|axis| [axis, axis + 1]));
        Pressure { pulse: heard.pulse.clone(), ears: own.map(|ear| heard.ears[ear].clone()).collect(), aim: Aim::new(room, receiver) }
    };
    heard.iter().map(|heard| room.receivers.iter().zip(ears).map(|each| at(heard, each)).collect()).collect()
}

/// Rooms that tell where figures may lie.
#[derive(Clone, Debug, PartialEq)]
pub struct Beside {
    /// The nominal walls.
    pub nominal: Vec<Vec<Octaves>>,
    /// Others.
    pub others: Vec<Vec<Vec<Octaves>>>,
}

/// The octaves of all receivers of a run of each source, in bins of `bin_s` seconds from the direct sound on.
#[must_use]
pub fn octaves(room: &Room, ears: &[Listened], heard: &[Hearing], crossover: Crossover, bin_s: f64) -> Vec<Vec<Octaves>> {
    let at = |(source, heard): (usize, &Hearing)| {
        let of_receiver = |(receiver, ears): (usize, &Listened)| {
            let receiver = &room.receivers[receiver];
            let direct = room.sources[source].position.distance(receiver.position) / room.medium.speed;
            let signals = signals(room, receiver, ears, heard);
            Bands::from_fn(|band| {
                if crossover.rays_share(band) >= 1.0 {
                    return Vec::new();
                }
                octave(&signals, heard, (band, crossover), (direct, bin_s))
            })
        };
        ears.iter().enumerate().map(of_receiver).collect()
    };
    heard.par_iter().enumerate().map(at).collect()
}

/// A transfer function.
type Transfer<'a> = Box<dyn Fn(f64) -> Complex64 + 'a>;

/// What a receiver hears: pressure at each point of its zone, or what its pattern makes of it.
fn signals<'a>(room: &Room, receiver: &Receiver, ears: &Listened, heard: &'a Hearing) -> Vec<Transfer<'a>> {
    let at = |ear: usize| move |frequency: f64| heard.ears[ear].transfer(&heard.pulse, frequency);
    let Some(axis) = ears.axis else { return ears.zone.clone().map(|ear| -> Transfer<'a> { Box::new(at(ear)) }).collect() };
    let aim = Aim::new(room, receiver);
    let own = [at(ears.zone.start), at(axis), at(axis + 1)];
    vec![Box::new(move |frequency: f64| aim.mixed(frequency, [own[0](frequency), own[1](frequency), own[2](frequency)]))]
}

/// Energy over time of an octave.
fn octave(signals: &[Transfer<'_>], heard: &Hearing, (band, crossover): (Band, Crossover), (direct, bin_s): (f64, f64)) -> Vec<f64> {
    let range = range(band);
    let bandwidth = sum(range.clone(), |frequency| passed(band, frequency).powi(2));
    let record = &heard.ears[0];
    let within = range.start..range.end.min(crossover.frequency * (0.5 * WIDTH).exp2());
    let mut energies = vec![0.0; ((OWN * record.pressures.len() as f64 * record.interval - direct) / bin_s).floor().max(1.0) as usize];
    let scale = record.interval / (2.0 * bandwidth) / (4.0 * PI) / signals.len() as f64;
    let before = (BEFORE / record.interval).ceil();
    for signal in signals {
        let shaped = |frequency: f64| {
            let later = Complex64::cis(-TAU * frequency * before * record.interval);
            signal(frequency) * passed(band, frequency) * crossover.waves(frequency) * later
        };
        let values = over_time(shaped, within.clone(), (record.pressures.len() + before as usize, record.interval));
        for (index, value) in values.iter().enumerate() {
            let begin = (index as f64 - before - 0.5) * record.interval - direct;
            share_out(&mut energies, (begin / bin_s, record.interval / bin_s), value * value * scale);
        }
    }
    energies
}

/// Energy that lasts for a time, shared out over the bins that it covers; times in bins. What comes before the first counts with it, what comes after the last does not count.
fn share_out(energies: &mut [f64], (begin, lasts): (f64, f64), energy: f64) {
    let end = begin + lasts;
    for bin in begin.floor().max(0.0) as usize..=end.max(0.0) as usize {
        let from = if bin == 0 { begin } else { begin.max(bin as f64) };
        let covered = (end.min(bin as f64 + 1.0) - from) / lasts;
        if let Some(slot) = energies.get_mut(bin).filter(|_| covered > 0.0) {
            *slot += covered * energy;
        }
    }
}
