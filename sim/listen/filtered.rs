//! A head as it was measured: what it makes of a plane wave from any direction, out of filters for some directions.
//!
//! **Between directions.** The three measured directions round the asked one (`hull`) share it. Sound reaches an ear later from one of them
//! than from the next, and to add such filters as they are would blot out high octaves. So each spectrum `H` is first turned by the phase
//! of the rigid sphere of [`super::ears`] for its direction, `Q = H conj(S) / |S|`; what is left hardly changes from one direction to the
//! next and is added by the shares, and the sum is turned back by the phase of the sphere for the asked direction. Delays are thereby kept
//! to a fraction of a sample.
//!
//! **Time zero and level.** A file keeps neither the time when the wave passes the middle of the head nor its pressure there. Both are
//! those that agree best with the sphere over all directions `i`, each with its share `w` of the sphere of directions, and both ears:
//! the delay with the largest `sum w Re(H conj(S) e^(j 2 pi f t))` from 300 to 2000 Hz, the gain that makes `sum w |H|^2` that of the
//! sphere from 300 to 1000 Hz, where heads are alike. So the head has the level of the sphere in a diffuse field and keeps all
//! differences between directions, ears and frequencies.
//!
//! **Low octaves.** Filters of some milliseconds do not hold them, nor do most loudspeakers that heads are measured with. A head is small
//! there: up to 150 Hz what is heard is the sphere, from 300 Hz on the file, between them a sum whose shares change as a raised cosine over
//! the logarithm of the frequency.
//!
//! **Rate.** Lines of the spectra stand at the same frequencies at both rates, since the lengths of both transforms last equally long; so
//! samples of one rate become those of the other exactly, as far as the lower one has frequencies ([`super::limit`]).
//!
//! *References.* Turning by a sphere: C. Porschmann, J. M. Arend, F. Brinkmann, "Directional equalization of sparse head-related transfer
//! function sets for spatial upsampling", IEEE/ACM Trans. Audio Speech Lang. Process. 27 (2019) 1060 (from memory; there magnitudes are
//! divided too). Directions on a spiral: as `response::impulse` has them.
//!
//! *Limits.* Of a sphere's filters every 5 degrees what is between is right within 0.1 dB up to 10 kHz, every 10 degrees within 0.4 dB; but
//! 2 dB at the bright spot of an ear that faces away from the source (tested). Of the filters the 3 ms before and 10 ms after time zero are
//! heard. Waves are plane, whatever the distance was. Where the next measured direction is more than 45 degrees away, as below a chair,
//! the nearest one is heard as it is. An ear canal, a microphone and headphones color what is heard as the file has them. One head's
//! filters fit another's ears only so far.

use std::f64::consts::{PI, TAU};
use std::sync::Arc;

use glam::{DMat3, DVec3};
use num_complex::Complex64;
use rayon::prelude::*;

use super::ears::{EarsError, RADIUS, Sphere, check, left_of};
use super::hull::Hull;
use super::limit::Limit;
use super::sphere::{plane_weights, sum};
use crate::dsp::transform::{quick_length, signal, spectrum};
use crate::response::Pickup;

/// Most directions of a set.
pub const DIRECTIONS_MAX: usize = 15_000;
/// Fewest directions of a set.
pub const DIRECTIONS_MIN: usize = 12;
/// Most samples of a filter.
pub const SAMPLES_MAX: usize = 16_384;
/// Most samples of all filters of a set.
pub const VALUES_MAX: usize = 1 << 25;
/// Largest difference between two delays, seconds.
const DELAYS_MAX_S: f64 = 0.1;
/// Rates of filters, samples a second.
const FILTER_RATES: std::ops::RangeInclusive<f64> = 16_000.0..=192_000.0;
/// Least common measure of both rates, samples a second: transforms are as long as they need to be for lines at the same frequencies.
const MEASURE_MIN: u32 = 100;
/// What is kept before and after time zero, seconds.
const KEPT_S: [f64; 2] = [0.003, 0.010];
/// Over which its ends are faded, seconds.
const FADE_S: f64 = 0.0005;
/// Where time zero is looked for, Hz.
const ALIGNED_HZ: [f64; 2] = [300.0, 2000.0];
/// Up to here level is compared, Hz.
const LEVEL_TO_HZ: f64 = 1000.0;
/// Sphere below, file above, Hz.
const LOW_HZ: [f64; 2] = [150.0, 300.0];
/// Farther than this from its corners a direction is not between them: 45 degrees, as a cosine.
const BETWEEN: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Directions that shares of the sphere are counted by.
const COUNTED: usize = 4000;

/// What a head makes of plane waves from some directions.
#[derive(Clone, Debug, PartialEq)]
pub struct Filters {
    /// What the set calls itself.
    pub title: String,
    /// Samples a second.
    pub rate_hz: f64,
    /// Unit vectors to where sound comes from: x ahead, y to the left, z up.
    pub directions: Vec<DVec3>,
    /// Of the left and of the right ear, for each direction; all of one length.
    pub responses: Vec<[Vec<f64>; 2]>,
    /// By how much each begins later than its first sample, samples.
    pub delays: Vec<[f64; 2]>,
}

/// Why filters make no head.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum FiltersError {
    /// The head, air or rate of the answer.
    #[error(transparent)]
    Ears(#[from] EarsError),
    /// A rate that no set has.
    #[error("it has {rate_hz} samples a second: sets have 44100, 48000 or 96000, or another multiple of 100 from 16000 to 192000")]
    FilterRate {
        /// Of the filters.
        rate_hz: f64,
    },
    /// Rates that do not go together.
    #[error("responses at {rate} samples a second cannot be made of filters at {rate_hz}: choose 44100, 48000 or 96000")]
    Rate {
        /// Of the filters.
        rate_hz: f64,
        /// Of the answer.
        rate: u32,
    },
    /// Too few or too many directions.
    #[error("it has {count} directions: a head takes 12 to 15000 all round it")]
    Directions {
        /// How many there are.
        count: usize,
    },
    /// Too long.
    #[error(
        "its filters have {samples} samples for each of {count} directions and two ears: up to 16384 each and 33 million in all can be read; a set for listening has 128 to 2048"
    )]
    Long {
        /// Of one filter.
        samples: usize,
        /// Directions.
        count: usize,
    },
    /// Lists that do not go together.
    #[error("its directions, filters and delays are not equally many, or not equally long")]
    Uneven,
    /// A value that is none.
    #[error("direction {number} has a value that is no number, or no direction: the set is damaged; fetch it again")]
    NoNumber {
        /// Counted from 1.
        number: usize,
    },
    /// Delays that no head has.
    #[error("its delays differ by {seconds} s: between two ears it is a thousandth; they are meant as samples, not seconds")]
    Delays {
        /// By how much.
        seconds: f64,
    },
    /// Nothing between 300 and 1000 Hz.
    #[error("its filters are silent between 300 and 1000 Hz, where their level is read")]
    Silent,
    /// Directions that leave half of the sphere empty.
    #[error(
        "no direction is measured within {gap_deg:.0} degrees of some others: a head takes directions all round it, on a ring at least"
    )]
    OneSided {
        /// Farthest from any measured direction, degrees.
        gap_deg: f64,
    },
}

/// A head that listens as it was measured.
#[derive(Clone, Debug)]
pub struct Filtered {
    /// From the world to the head.
    turned: DMat3,
    set: Arc<Set>,
}

/// Filters made ready.
#[derive(Debug)]
struct Set {
    grid: Grid,
    directions: Vec<DVec3>,
    hull: Hull,
    /// For each direction and ear what is left when the phase of the sphere is taken away, line by line.
    turned: Vec<[Vec<Complex64>; 2]>,
}

/// Lines of all spectra, and the sphere there.
#[derive(Debug)]
struct Grid {
    sphere: Sphere,
    limit: Limit,
    /// The sample of every response that is time zero.
    lead: usize,
    /// Samples of a response, and of its transform.
    kept: usize,
    length: usize,
    rate_hz: f64,
    line_hz: f64,
}

/// By how much filters are later and louder than the sphere, once the least delay is taken from all.
#[derive(Clone, Copy)]
struct Fit {
    /// The least delay, samples.
    earliest: f64,
    late_s: f64,
    gain: f64,
}

impl Filters {
    /// All that is wrong with them by themselves, the first of it.
    ///
    /// # Errors
    /// [`FiltersError`].
    pub fn check(&self) -> Result<(), FiltersError> {
        let count = self.directions.len();
        if !(DIRECTIONS_MIN..=DIRECTIONS_MAX).contains(&count) {
            return Err(FiltersError::Directions { count });
        }
        let samples = self.responses.first().map_or(0, |ears| ears[0].len());
        if samples > SAMPLES_MAX || 2 * samples * count > VALUES_MAX {
            return Err(FiltersError::Long { samples, count });
        }
        let is_even = self.responses.len() == count && self.delays.len() == count;
        if samples == 0 || !is_even || self.responses.iter().flatten().any(|ear| ear.len() != samples) {
            return Err(FiltersError::Uneven);
        }
        let is_good = |index: &usize| {
            let values = self.responses[*index].iter().flatten().chain(&self.delays[*index]);
            self.directions[*index].is_normalized() && values.into_iter().all(|value| value.is_finite() && value.abs() < 1e12)
        };
        if let Some(index) = (0..count).find(|index| !is_good(index)) {
            return Err(FiltersError::NoNumber { number: index + 1 });
        }
        let rate_hz = self.rate_hz;
        if !FILTER_RATES.contains(&rate_hz) || rate_hz % f64::from(MEASURE_MIN) != 0.0 {
            return Err(FiltersError::FilterRate { rate_hz });
        }
        let seconds = self.spread() / rate_hz;
        if seconds > DELAYS_MAX_S {
            return Err(FiltersError::Delays { seconds });
        }
        let gap_deg = self.gap_deg();
        if gap_deg > 91.0 { Err(FiltersError::OneSided { gap_deg }) } else { Ok(()) }
    }

    /// How far the farthest of all directions lies from the nearest measured one, degrees.
    #[must_use]
    pub fn gap_deg(&self) -> f64 {
        let least = spiral().map(|way| self.nearest(way).1).fold(1.0, f64::min);
        least.clamp(-1.0, 1.0).acos().to_degrees()
    }

    /// The nearest measured direction, and the cosine of the angle to it.
    fn nearest(&self, way: DVec3) -> (usize, f64) {
        nearest(&self.directions, way)
    }

    /// What share of all directions is nearest to each.
    fn shares(&self) -> Vec<f64> {
        let mut shares = vec![0.0; self.directions.len()];
        spiral().for_each(|way| shares[self.nearest(way).0] += 1.0 / COUNTED as f64);
        shares
    }

    fn earliest(&self) -> f64 {
        self.delays.iter().flatten().copied().fold(f64::INFINITY, f64::min)
    }

    /// From the least to the largest delay, samples.
    fn spread(&self) -> f64 {
        self.delays.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max) - self.earliest()
    }

    /// By how much they are later and louder than the sphere that sound takes `crossing_s` to pass half of.
    fn fit(&self, crossing_s: f64) -> Result<Fit, FiltersError> {
        let samples = self.responses[0][0].len();
        let length = quick_length(2 * (samples + self.spread().ceil() as usize + (0.002 * self.rate_hz) as usize));
        let line_hz = self.rate_hz / length as f64;
        let lines = (ALIGNED_HZ[0] / line_hz).ceil() as usize..=((ALIGNED_HZ[1] / line_hz) as usize).min(length / 2);
        let weights: Vec<_> = lines.clone().map(|line| plane_weights(TAU * line as f64 * line_hz * crossing_s)).collect();
        let earliest = self.earliest();
        let of_one = |(index, share): (usize, &f64)| {
            let mut sums = vec![(Complex64::ZERO, 0.0, 0.0); weights.len()];
            for (ear, side) in [1.0, -1.0].into_iter().enumerate() {
                let cosine = side * self.directions[index].y;
                let spectrum = spectrum(&self.responses[index][ear], length);
                let later = self.delays[index][ear] - earliest;
                for (((sums, weights), line), heard) in sums.iter_mut().zip(&weights).zip(lines.clone()).zip(&spectrum[*lines.start()..]) {
                    let sphere = sum(weights, cosine);
                    let turn = Complex64::cis(-TAU * line as f64 * later / length as f64);
                    sums.0 += share * heard * turn * sphere.conj();
                    sums.1 += share * heard.norm_sqr();
                    sums.2 += share * sphere.norm_sqr();
                }
            }
            sums
        };
        let each: Vec<_> = self.shares().par_iter().enumerate().map(of_one).collect();
        let total =
            |line: usize| each.iter().map(|sums| sums[line]).fold((Complex64::ZERO, 0.0, 0.0), |a, b| (a.0 + b.0, a.1 + b.1, a.2 + b.2));
        let totals: Vec<_> = (0..weights.len()).map(total).collect();
        let level = lines.clone().zip(&totals).filter(|(line, _)| *line as f64 * line_hz <= LEVEL_TO_HZ);
        let (heard, sphere) = level.fold((0.0, 0.0), |sums, (_, total)| (sums.0 + total.1, sums.1 + total.2));
        let gain = (sphere / heard).sqrt();
        if !gain.is_finite() || heard <= 0.0 {
            return Err(FiltersError::Silent);
        }
        let turns: Vec<(f64, Complex64)> = lines.map(|line| TAU * line as f64 * line_hz).zip(totals.iter().map(|total| total.0)).collect();
        Ok(Fit { earliest, late_s: latest(&turns, (length / 2) as f64 / self.rate_hz), gain })
    }
}

/// The time from -2 ms to `until_s` at which lines (angular frequency, value) agree best.
fn latest(lines: &[(f64, Complex64)], until_s: f64) -> f64 {
    let agree = |time_s: f64| lines.iter().map(|(angular, value)| (value * Complex64::cis(angular * time_s)).re).sum::<f64>();
    let step = 0.05 / ALIGNED_HZ[1];
    let best = (0..((until_s + 0.002) / step) as usize).map(|index| index as f64 * step - 0.002).map(|time_s| (time_s, agree(time_s)));
    let (mut time_s, _) = best.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or_default();
    // At the top the slope is nothing.
    for _ in 0..8 {
        let slopes = |(angular, value): &(f64, Complex64)| {
            let now = value * Complex64::cis(angular * time_s);
            [-angular * now.im, -angular * angular * now.re]
        };
        let [slope, bend] = lines.iter().map(slopes).fold([0.0, 0.0], |sum, one| [sum[0] + one[0], sum[1] + one[1]]);
        if bend < 0.0 {
            time_s -= (slope / bend).clamp(-step, step);
        }
    }
    time_s
}

/// Directions spread evenly over the sphere.
fn spiral() -> impl Iterator<Item = DVec3> {
    let turn = PI * (3.0 - 5.0_f64.sqrt());
    (0..COUNTED).map(move |index| {
        let height = 1.0 - (2 * index + 1) as f64 / COUNTED as f64;
        let (sine, cosine) = (turn * index as f64).sin_cos();
        let flat = (1.0 - height * height).sqrt();
        DVec3::new(flat * cosine, flat * sine, height)
    })
}

fn nearest(directions: &[DVec3], way: DVec3) -> (usize, f64) {
    let cosines = directions.iter().map(|direction| direction.dot(way)).enumerate();
    cosines.max_by(|a, b| a.1.total_cmp(&b.1)).unwrap_or((0, 1.0))
}

impl Grid {
    fn new(speed: f64, rate: u32, length_of: u32) -> Self {
        let limit = Limit::new(rate);
        let lead = limit.samples(KEPT_S[0] + FADE_S);
        let kept = lead + limit.samples(KEPT_S[1] + FADE_S);
        // Twice as long, so that what rings on beyond either end does not come in again at the other.
        let length = quick_length(2 * kept).next_multiple_of(length_of as usize);
        let rate_hz = f64::from(rate);
        Self { sphere: Sphere::new(RADIUS / speed, limit, rate), limit, lead, kept, length, rate_hz, line_hz: rate_hz / length as f64 }
    }

    /// Lines that count.
    fn lines(&self) -> usize {
        (self.limit.high_hz / self.line_hz) as usize + 1
    }

    /// The sphere where the direction to the ear has this cosine to that to the source.
    fn sphere(&self, cosine: f64) -> Vec<Complex64> {
        // Its own time zero may stand at another sample.
        let mut response = vec![0.0; self.lead.saturating_sub(self.sphere.lead)];
        response.extend(self.sphere.at(cosine).into_iter().skip(self.sphere.lead.saturating_sub(self.lead)));
        let mut lines = spectrum(&response, self.length);
        lines.truncate(self.lines());
        lines
    }

    /// What is left of a filter of an ear when the phase of the sphere is taken away.
    fn turned(&self, filters: &Filters, (index, ear): (usize, usize), fit: Fit) -> Vec<Complex64> {
        let sphere = self.sphere([1.0, -1.0][ear] * filters.directions[index].y);
        let rate_hz = filters.rate_hz;
        let length = (self.length as f64 * rate_hz / self.rate_hz).round() as usize;
        // Sample 0 of the filter in the samples of its own rate after the begin of the response.
        let lead_s = self.lead as f64 / self.rate_hz;
        let begin = filters.delays[index][ear] - fit.earliest + (lead_s - fit.late_s) * rate_hz;
        let whole = begin.floor();
        let mut samples = vec![0.0; length];
        for (sample, value) in filters.responses[index][ear].iter().enumerate() {
            let place = sample as f64 + whole;
            let share = share(place / rate_hz - lead_s);
            if share > 0.0 && place >= 0.0 && place < length as f64 {
                samples[place as usize] = share * value;
            }
        }
        let passed = Limit::new(rate_hz as u32);
        let heard = spectrum(&samples, length);
        let of_line = |(line, sphere): (usize, Complex64)| {
            let frequency_hz = line as f64 * self.line_hz;
            let phase = if sphere.norm() > 1e-9 { sphere / sphere.norm() } else { Complex64::ZERO };
            let passing = self.limit.share(frequency_hz).min(passed.share(frequency_hz));
            let turn = Complex64::from_polar(fit.gain * passing, -TAU * frequency_hz * (begin - whole) / rate_hz);
            let file = heard.get(line).map_or(Complex64::ZERO, |heard| heard * turn);
            let [low, high] = LOW_HZ;
            let place = ((frequency_hz / low).log2() / (high / low).log2()).clamp(0.0, 1.0);
            let of_file = 0.5 - 0.5 * (PI * place).cos();
            (sphere * (1.0 - of_file) + file * of_file) * phase.conj()
        };
        sphere.into_iter().enumerate().map(of_line).collect()
    }
}

/// What is kept of a filter at a time after time zero, seconds.
fn share(time_s: f64) -> f64 {
    let beyond = (-KEPT_S[0] - time_s).max(time_s - KEPT_S[1]);
    0.5 + 0.5 * (PI * (beyond / FADE_S).clamp(0.0, 1.0)).cos()
}

impl Filtered {
    /// A head that faces there, in air where sound has this speed in m/s, at this rate in samples a second. Takes a second for some
    /// thousand directions; [`Self::turned`] takes none.
    ///
    /// # Errors
    /// [`FiltersError`].
    pub fn new(facing: DVec3, filters: &Filters, speed: f64, rate: u32) -> Result<Self, FiltersError> {
        let turned = head(facing)?;
        check(speed, rate)?;
        filters.check()?;
        let measure = common(filters.rate_hz as u32, rate);
        if measure < MEASURE_MIN {
            return Err(FiltersError::Rate { rate_hz: filters.rate_hz, rate });
        }
        let fit = filters.fit(RADIUS / speed)?;
        let grid = Grid::new(speed, rate, rate / measure);
        let count = filters.directions.len();
        let turned_of = |index: usize| [0, 1].map(|ear| grid.turned(filters, (index, ear), fit));
        let lines = (0..count).into_par_iter().map(turned_of).collect();
        let set = Set { hull: Hull::new(&filters.directions), directions: filters.directions.clone(), turned: lines, grid };
        Ok(Self { turned, set: Arc::new(set) })
    }

    /// The same head, turned to face there.
    ///
    /// # Errors
    /// A vector that is zero, plumb or no number.
    pub fn turned(&self, facing: DVec3) -> Result<Self, EarsError> {
        Ok(Self { turned: head(facing)?, set: Arc::clone(&self.set) })
    }
}

impl Pickup for Filtered {
    fn channels(&self) -> usize {
        2
    }

    /// The sample of every response at which the wave passes the middle of the head.
    fn lead(&self) -> usize {
        self.set.grid.lead
    }

    /// Pressure at an ear (0 left, 1 right) for a pulse that comes from this direction (world coordinates, from the head to where sound
    /// comes from), re the same pulse without head. Nothing of an ear that there is not, or from a direction that is none.
    fn response(&self, channel: usize, from: DVec3) -> Vec<f64> {
        let grid = &self.set.grid;
        let (Some(from), Some(side)) = (from.try_normalize(), [1.0, -1.0].get(channel)) else { return vec![0.0; grid.kept] };
        let from = self.turned * from;
        let mut lines = grid.sphere(side * from.y);
        let around = self.set.around(from);
        for (line, value) in lines.iter_mut().enumerate() {
            let size = value.norm();
            let phase = if size > 1e-9 { *value / size } else { Complex64::ZERO };
            let left: Complex64 = around.iter().map(|(index, share)| share * self.set.turned[*index][channel][line]).sum();
            *value = phase * left;
        }
        lines.resize(grid.length / 2 + 1, Complex64::ZERO);
        let mut response = signal(lines, grid.length);
        response.truncate(grid.kept);
        grid.limit.fade_ends(&mut response);
        response
    }
}

impl Set {
    /// The measured directions that share a direction.
    fn around(&self, from: DVec3) -> Vec<(usize, f64)> {
        let is_near = |(index, _): &(usize, f64)| self.directions[*index].dot(from) > BETWEEN;
        match self.hull.around(from) {
            Some(corners) if corners.iter().all(is_near) => corners.to_vec(),
            _ => vec![(nearest(&self.directions, from).0, 1.0)],
        }
    }
}

/// From the world to a head that faces there: x ahead, y to the left, z up.
fn head(facing: DVec3) -> Result<DMat3, EarsError> {
    let left = left_of(facing)?;
    let ahead = facing.try_normalize().ok_or(EarsError::Facing)?;
    Ok(DMat3::from_cols(ahead, left, ahead.cross(left)).transpose())
}

/// The greatest common divisor.
fn common(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { common(b, a % b) }
}
