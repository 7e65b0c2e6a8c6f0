//! The modes of a room out of what many points of it heard after a short pulse: frequency, decay and shape of each, and how sure they are.
//!
//! ```text
//! x(t) at point r, source q = sum over modes of Re [ w_q psi(r) exp((-delta + i omega) t) ],   T = 3 ln 10 / delta
//! ```
//!
//! Band by band, records are turned down by the band's middle, freed from what lies outside and thinned out. A filter of finite length leaves damped exponentials what they are, factors known,
//! once it has run in; so what is left is a sum of few of them (`poles`). Filters are short where the room decays fast and long where it keeps ringing. Neighboring bands overlap and meet in
//! the widest gap between modes. Amplitudes at all points follow by linear least squares.
//!
//! Modes of one frequency cannot be told apart by one source, which drives a single mixture of them. With several sources the amplitudes of one rate are a matrix of sources and points, and
//! its rank says how many modes there are. Modes are told apart up to the frequency where one lies in the half-power bandwidth `delta / pi` of the band's median mode, or in what the length
//! of the records resolves; bands above it are not looked into.
//!
//! *References.* H. Kuttruff, Room Acoustics, chapter 3 (from memory). Window: J. F. Kaiser, R. W. Schafer, IEEE Trans. Acoust. Speech Signal Process. 28 (1980) 105 (from memory).
//!
//! *Limits.* Records begin after the source has fallen silent. Noise is taken as white and as loud as in the quietest part of the spectrum, so that something above the pulse's own band must
//! be left. Uncertainties are those of that noise: what is wrong with the room's cells is not in them. A mode that decays ten times faster than its neighbors within some hertz may be
//! missed. Of modes at one frequency each shape is one of many that span the same.

use std::f64::consts::{LN_10, PI, TAU};
use std::ops::Range;

use nalgebra::{Complex, DMatrix, DMatrixView, SymmetricEigen};

use super::poles::{Covariance, Poles, poles};
use crate::progress::{Cancelled, Progress};

type Number = Complex<f64>;

/// So many records of each source find the rates; the others only tell shapes.
const LISTENERS: usize = 48;

/// Length of a filter times the width of its edge, for [`STOPPED_DB`] beyond the edge.
const SHARPNESS: f64 = (STOPPED_DB - 8.0) / (2.285 * TAU);

/// What filters leave of what lies outside a band, dB.
const STOPPED_DB: f64 = 120.0;

/// Of a record the longest filter takes this share.
const LONGEST: f64 = 0.2;

/// Over a filter the amplitude around it falls by so many nepers at most; about half of that is lost.
const FADED: f64 = 3.0;

/// Noise of steps in single precision re the pressure at that time, measured against double precision: 1.5e-6 to 3e-6 in rigid and in damped rooms.
const ROUNDED: f64 = 3e-6;

/// Records that are read at a time.
const TOGETHER: usize = 64;

/// Values that a record must have, or nothing is looked for.
const SHORTEST: usize = 100;

/// After so many times the mean decay of the amplitude, nepers, a band is not listened to any more.
const GONE: f64 = 20.0;

/// A further mode at one frequency is at least this part as loud as the first: less may be the error of the first one's rate.
const FURTHER: f64 = 1e-3;

/// What points heard.
#[derive(Clone, Copy, Debug)]
pub struct Heard<'a, T> {
    /// For every source, a record a point; all begin together, after the sources have fallen silent, and are equally long.
    pub records: &'a [Vec<Vec<T>>],
    /// Values a second.
    pub rate: f64,
}

/// A mode of a damped room.
#[derive(Clone, Debug)]
pub struct Resonance {
    /// Frequency that it rings at, Hz.
    pub frequency: f64,
    /// Standard uncertainty of the frequency, Hz.
    pub frequency_error: f64,
    /// Decay constant of the pressure, 1/s.
    pub decay: f64,
    /// Standard uncertainty of the decay constant, 1/s.
    pub decay_error: f64,
    /// Pressure at every point, re the point where it is loudest, turned to be as real as can be.
    pub shape: Vec<Number>,
    /// Standard error of the shape at a point, of real and of imaginary part.
    pub shape_error: f64,
    /// Amplitude at the loudest point when the records begin, by the source that drives it most; in their unit.
    pub loudness: f64,
}

impl Resonance {
    /// Seconds in which its level falls by 60 dB; nothing where it does not decay.
    #[must_use]
    pub fn decay_time(&self) -> Option<f64> {
        (self.decay > 0.0).then(|| 3.0 * LN_10 / self.decay)
    }
}

/// How a room rings.
#[derive(Clone, Debug)]
pub struct Ringing {
    /// Modes, lowest first.
    pub resonances: Vec<Resonance>,
    /// Up to this frequency, Hz, modes were told apart: the highest that was asked for, or less where they overlap.
    pub told_apart_to: f64,
}

/// The modes between two frequencies, Hz, of a room that has `density(f)` modes per hertz.
///
/// # Errors
/// Where the work is given up.
///
/// # Panics
/// Where records differ in length.
pub fn resonances<T: Copy + Into<f64>>(
    progress: &Progress,
    heard: &Heard<'_, T>,
    range: Range<f64>,
    density: &dyn Fn(f64) -> f64,
) -> Result<Ringing, Cancelled> {
    let room = Listeners::new(heard);
    if room.length() < SHORTEST || room.noise == 0.0 {
        return Ok(Ringing { resonances: Vec::new(), told_apart_to: range.start });
    }
    let mut bands: Vec<Tuned> = Vec::new();
    let mut told_apart_to = range.end;
    let mut from = range.start;
    progress.begin("modes", range.end as u64);
    while from < told_apart_to {
        let band = Band::new(&room, from);
        progress.step((band.core.end - from) as u64)?;
        let mut tuned = Tuned::new(&room, band);
        let width = (tuned.median_decay().unwrap_or(0.0) / PI).max(room.rate / room.length() as f64 / (1.0 - LONGEST));
        told_apart_to = overlap(from..tuned.band.core.end.min(told_apart_to), width, density).unwrap_or(told_apart_to);
        if let Some(before) = bands.last_mut() {
            let border = before.gap(from..before.band.core.end);
            before.band.core.end = border;
            tuned.band.core.start = border;
        }
        from = tuned.band.core.end - 0.5 * tuned.band.edge;
        bands.push(tuned);
    }
    let voices: Vec<Voice> = bands.iter().flat_map(Tuned::voices).collect();
    let amplitudes = amplitudes(progress, heard, &voices)?;
    let mut resonances: Vec<Resonance> =
        voices.iter().zip(&amplitudes).flat_map(|(voice, amplitudes)| voice.resonances(amplitudes)).collect();
    resonances.retain(|resonance| resonance.frequency < told_apart_to);
    resonances.sort_by(|a, b| a.frequency.total_cmp(&b.frequency));
    Ok(Ringing { resonances, told_apart_to })
}

/// The lowest frequency in a range where a bandwidth, Hz, holds one mode.
fn overlap(range: Range<f64>, width: f64, density: &dyn Fn(f64) -> f64) -> Option<f64> {
    let crowded = |frequency: f64| density(frequency) * width > 1.0;
    let steps = (range.end - range.start).max(0.0).ceil() as usize * 10;
    (0..=steps).map(|step| range.start + 0.1 * step as f64).find(|frequency| crowded(*frequency) && *frequency <= range.end)
}

/// The records that find rates.
struct Listeners {
    records: Vec<Vec<f64>>,
    rate: f64,
    /// Variance of the noise.
    noise: f64,
}

impl Listeners {
    fn new<T: Copy + Into<f64>>(heard: &Heard<'_, T>) -> Self {
        let pick = |source: &Vec<Vec<T>>| {
            let count = source.len().min(LISTENERS);
            // Multiples of the golden ratio spread over any lattice without falling into step with its rows.
            let place = |index: usize| {
                if count < source.len() { (0.618_033_988_75 * index as f64).fract() * source.len() as f64 } else { index as f64 }
            };
            (0..count)
                .map(|index| source[place(index) as usize].iter().map(|value| (*value).into()).collect::<Vec<f64>>())
                .collect::<Vec<_>>()
        };
        let records: Vec<Vec<f64>> = heard.records.iter().flat_map(pick).collect();
        assert!(records.iter().all(|record| record.len() == records[0].len()), "records differ in length");
        let mut listeners = Self { records, rate: heard.rate, noise: 0.0 };
        listeners.noise = listeners.quietest();
        listeners
    }

    fn length(&self) -> usize {
        self.records.first().map_or(0, Vec::len)
    }

    /// What a filter leaves of the records, an instant a row.
    fn filtered(&self, filter: &Filter, instants: usize) -> DMatrix<Number> {
        let instants = instants.min((self.length() + filter.stride).saturating_sub(filter.taps.len()) / filter.stride);
        let values = |record: &Vec<f64>| (0..instants).map(|instant| filter.at(record, instant)).collect::<Vec<_>>();
        DMatrix::from_iterator(instants, self.records.len(), self.records.iter().flat_map(values))
    }

    /// Variance of the noise, from the later half of the records where the spectrum is lowest; never less than what steps in single precision add to it while it is loud.
    fn quietest(&self) -> f64 {
        let half = 0.5 * self.length() as f64 / self.rate;
        let width = self.rate / 40.0;
        let power = |band: usize| {
            let middle = (band as f64 + 0.5) * 0.5 * self.rate / 20.0;
            let filter = Filter::new(self.rate, middle, 0.5 * width, SHARPNESS / width, 0.5 / width);
            let heard = self.filtered(&filter, usize::MAX);
            // A short record may end before a filter this narrow comes to its later half.
            let first = (half / filter.interval(self.rate)) as usize;
            let late = heard.rows_range(first.min(heard.nrows())..);
            (!late.is_empty()).then(|| late.norm_squared() / late.len() as f64 / filter.power())
        };
        let early = self.length().div_ceil(10);
        let loud = self.records.iter().flat_map(|record| &record[..early]).map(|value| value * value).sum::<f64>();
        let rounding = loud / (early * self.records.len()) as f64 * ROUNDED.powi(2);
        (0..20).filter_map(power).min_by(f64::total_cmp).unwrap_or(rounding).max(rounding)
    }

    /// Decay constant of the energy around a frequency, as of one exponential with the same center of time.
    fn decay_near(&self, frequency: f64) -> f64 {
        let length = (0.1_f64).min(self.length() as f64 / self.rate / 8.0);
        let filter = Filter::new(self.rate, frequency, 0.0, length, 0.25 * length);
        let hop = filter.interval(self.rate);
        let (mut weight, mut moment) = (0.0, 0.0);
        for (index, instant) in self.filtered(&filter, usize::MAX).row_iter().enumerate() {
            weight += instant.norm_squared();
            moment += instant.norm_squared() * index as f64 * hop;
        }
        (hop * weight / moment).ln_1p() / (2.0 * hop)
    }
}

/// What turns a record down by a frequency, keeps what is near to it and thins it out.
#[derive(Clone, Debug)]
struct Filter {
    taps: Vec<Number>,
    /// Values of the record from instant to instant.
    stride: usize,
    /// Angle of the frequency from value to value.
    angle: f64,
}

impl Filter {
    /// At `rate`, around `middle` Hz, flat up to `half` Hz from there, over `length` seconds, an instant every `interval` seconds or a little more often.
    fn new(rate: f64, middle: f64, half: f64, length: f64, interval: f64) -> Self {
        let count = (length * rate).ceil().max(3.0) as usize;
        let angle = TAU * middle / rate;
        let cutoff = half + 0.5 * SHARPNESS / length;
        let kaiser = 0.1102 * (STOPPED_DB - 8.7);
        let tap = |index: usize| {
            let place = index as f64 - 0.5 * (count - 1) as f64;
            let share = 2.0 * place / (count - 1) as f64;
            let phase = TAU * cutoff / rate * place;
            let sinc = if phase.abs() < 1e-9 { 1.0 } else { phase.sin() / phase };
            2.0 * cutoff / rate * sinc * bessel(kaiser * (1.0 - share * share).max(0.0).sqrt()) / bessel(kaiser)
        };
        let taps = (0..count).map(|index| Number::from_polar(1.0, -angle * index as f64) * tap(index)).collect();
        Self { taps, stride: (interval * rate).floor().max(1.0) as usize, angle }
    }

    /// What it makes of a record at an instant.
    fn at(&self, record: &[f64], instant: usize) -> Number {
        let begin = instant * self.stride;
        let sum: Number = self.taps.iter().zip(&record[begin..]).map(|(tap, value)| tap * value).sum();
        sum * self.turn(instant)
    }

    fn turn(&self, instant: usize) -> Number {
        Number::from_polar(1.0, -self.angle * (instant * self.stride) as f64)
    }

    /// Seconds from instant to instant.
    fn interval(&self, rate: f64) -> f64 {
        self.stride as f64 / rate
    }

    /// What it makes of white noise of power 1.
    fn power(&self) -> f64 {
        self.taps.iter().map(Number::norm_sqr).sum()
    }

    /// What it makes of `exp(s n)` at the first instant.
    fn gain(&self, exponent: Number) -> Number {
        self.taps.iter().enumerate().map(|(index, tap)| tap * (exponent * index as f64).exp()).sum()
    }

    /// The sum over a record that tells the same as a sum over instants with these weights.
    fn spread(&self, weights: impl ExactSizeIterator<Item = Number>) -> Vec<Number> {
        let mut sum = vec![Number::ZERO; (weights.len() - 1) * self.stride + self.taps.len()];
        for (instant, weight) in weights.enumerate() {
            let weight = weight * self.turn(instant);
            sum[instant * self.stride..].iter_mut().zip(&self.taps).for_each(|(sum, tap)| *sum += tap * weight);
        }
        sum
    }
}

/// The modified Bessel function of order 0, by its series: terms grow up to half the argument and then fall.
fn bessel(argument: f64) -> f64 {
    let mut term = 1.0;
    let mut sum = 1.0;
    let mut order = 0.0;
    while term > 1e-17 * sum {
        order += 1.0;
        term *= (0.5 * argument / order).powi(2);
        sum += term;
    }
    sum
}

/// A stretch of the spectrum.
#[derive(Clone, Debug)]
struct Band {
    /// Where modes are taken from, Hz.
    core: Range<f64>,
    middle: f64,
    /// Beyond the core, Hz, what the filter takes to fall.
    edge: f64,
    filter: Filter,
    /// How many instants are listened to.
    instants: usize,
}

impl Band {
    /// From a frequency on, as wide as the decay there asks for.
    fn new(room: &Listeners, from: f64) -> Self {
        let decay = room.decay_near(from);
        let length = (FADED / decay).min(LONGEST * room.length() as f64 / room.rate);
        let edge = SHARPNESS / length;
        let middle = from + edge;
        let filter = Filter::new(room.rate, middle, edge, length, 0.25 / edge);
        let instants = (GONE / decay / filter.interval(room.rate)).ceil() as usize;
        Self { core: from..from + 2.0 * edge, middle, edge, filter, instants }
    }
}

/// A band and the exponentials in it.
struct Tuned {
    band: Band,
    poles: Poles,
    rate: f64,
}

impl Tuned {
    fn new(room: &Listeners, band: Band) -> Self {
        let values = room.filtered(&band.filter, band.instants);
        let heard = Covariance {
            matrix: &values * values.adjoint(),
            records: room.records.len(),
            step: band.filter.interval(room.rate),
            noise: room.noise / band.filter.stride as f64,
        };
        Self { poles: poles(&heard), band, rate: room.rate }
    }

    /// Frequency, Hz.
    fn frequency(&self, pole: usize) -> f64 {
        self.band.middle + self.poles.rates[pole].im / TAU
    }

    /// The exponentials in the core that can be modes: they do not grow, and ring rather than thud.
    fn modes(&self) -> impl Iterator<Item = usize> {
        let width = self.band.edge;
        let holds = move |pole: &usize| {
            let (decay, error) = (-self.poles.rates[*pole].re, self.poles.errors[*pole]);
            self.band.core.contains(&self.frequency(*pole)) && decay > -3.0 * error && decay < PI * width
        };
        (0..self.poles.rates.len()).filter(holds)
    }

    fn median_decay(&self) -> Option<f64> {
        let mut decays: Vec<f64> = self.modes().map(|pole| -self.poles.rates[pole].re).collect();
        decays.sort_by(f64::total_cmp);
        decays.get(decays.len() / 2).copied()
    }

    /// The middle of the widest gap between modes in a range.
    fn gap(&self, range: Range<f64>) -> f64 {
        let mut marks: Vec<f64> = self.modes().map(|pole| self.frequency(pole)).filter(|frequency| range.contains(frequency)).collect();
        marks.extend([range.start, range.end]);
        marks.sort_by(f64::total_cmp);
        let widest = marks.windows(2).max_by(|a, b| (a[1] - a[0]).total_cmp(&(b[1] - b[0])));
        widest.map_or(range.end, |gap| 0.5 * (gap[0] + gap[1]))
    }

    /// What reads the modes of the core out of records.
    fn voices(&self) -> Vec<Voice> {
        let filter = &self.band.filter;
        let voice = |pole: usize| {
            let rate = self.poles.rates[pole];
            // The other half of the amplitude is that of the conjugate.
            let scale = 2.0 / filter.gain((rate + Number::new(0.0, TAU * self.band.middle)) / self.rate);
            Voice {
                frequency: self.frequency(pole),
                decay: -rate.re,
                error: self.poles.errors[pole],
                reader: filter.spread(self.poles.readers.row(pole).iter().map(|weight| weight * scale)),
                blur: self.poles.blur[pole] * scale.norm(),
                spill: self.poles.spill[pole] * scale.norm(),
            }
        };
        self.modes().map(voice).collect()
    }
}

/// A rate, and what reads its amplitudes.
struct Voice {
    /// Hz.
    frequency: f64,
    /// 1/s.
    decay: f64,
    /// Standard uncertainty of decay and angular frequency, 1/s.
    error: f64,
    /// The sum of a record with these weights is its amplitude.
    reader: Vec<Number>,
    /// Standard error of an amplitude.
    blur: f64,
    /// What of other voices may be in it.
    spill: f64,
}

impl Voice {
    /// One mode or several of one rate, from amplitudes by source and point.
    fn resonances(&self, amplitudes: &DMatrix<Number>) -> Vec<Resonance> {
        let SymmetricEigen { eigenvectors, eigenvalues } = SymmetricEigen::new(amplitudes * amplitudes.adjoint());
        let [sources, points] = [amplitudes.nrows() as f64, amplitudes.ncols() as f64];
        // Noise is spread over all mixtures of sources, what spills over is one of them.
        let noise = 4.0 * (self.blur * (sources.sqrt() + points.sqrt())).powi(2) + 9.0 * self.spill.powi(2) * sources * points;
        let floor = noise.max(FURTHER.powi(2) * eigenvalues.max());
        let mut order: Vec<usize> = (0..eigenvalues.len()).collect();
        order.sort_by(|a, b| eigenvalues[*b].total_cmp(&eigenvalues[*a]));
        let (first, others) = order.split_first().expect("there is a source");
        let others = others.iter().filter(|mixture| eigenvalues[**mixture] > floor);
        let resonance = |mixture: &usize| {
            let drive = eigenvectors.column(*mixture);
            let shape: Vec<Number> = (drive.adjoint() * amplitudes).iter().copied().collect();
            let (shape, loudest) = upright(shape);
            Resonance {
                frequency: self.frequency,
                frequency_error: self.error / TAU,
                decay: self.decay,
                decay_error: self.error,
                shape,
                shape_error: self.blur.hypot(self.spill) / loudest * 0.5_f64.sqrt(),
                loudness: loudest * drive.camax(),
            }
        };
        std::iter::once(first).chain(others).map(resonance).collect()
    }
}

/// For every voice its amplitudes, a row a source, a column a point.
fn amplitudes<T: Copy + Into<f64>>(progress: &Progress, heard: &Heard<'_, T>, voices: &[Voice]) -> Result<Vec<DMatrix<Number>>, Cancelled> {
    let length = voices.iter().map(|voice| voice.reader.len()).max().unwrap_or(0);
    let mut readers = DMatrix::zeros(2 * voices.len(), length);
    for (index, voice) in voices.iter().enumerate() {
        for (at, weight) in voice.reader.iter().enumerate() {
            readers[(2 * index, at)] = weight.re;
            readers[(2 * index + 1, at)] = weight.im;
        }
    }
    let mut all = vec![DMatrix::zeros(heard.records.len(), heard.records[0].len()); voices.len()];
    let mut values = Vec::new();
    for (source, records) in heard.records.iter().enumerate() {
        // Few enough at a time that they stay near while all voices read them.
        for (block, records) in records.chunks(TOGETHER).enumerate() {
            progress.step(0)?;
            values.clear();
            records.iter().for_each(|record| values.extend(record[..length].iter().map(|value| (*value).into())));
            let sums = &readers * DMatrixView::from_slice(&values, length, records.len());
            for (point, sums) in sums.column_iter().enumerate() {
                for (amplitudes, sum) in all.iter_mut().zip(sums.as_slice().chunks(2)) {
                    amplitudes[(source, TOGETHER * block + point)] = Number::new(sum[0], sum[1]);
                }
            }
        }
    }
    Ok(all)
}

/// A shape turned to be as real as can be, its largest value 1; and how large that was.
fn upright(mut shape: Vec<Number>) -> (Vec<Number>, f64) {
    let turn: Number = shape.iter().map(|value| value * value).sum();
    let loudest = shape.iter().copied().max_by(|a, b| a.norm_sqr().total_cmp(&b.norm_sqr())).unwrap_or(Number::ONE);
    let turned = Number::from_polar(1.0, -0.5 * turn.arg());
    let scale = turned / (loudest.norm() * (loudest * turned).re.signum());
    shape.iter_mut().for_each(|value| *value *= scale);
    (shape, loudest.norm())
}
