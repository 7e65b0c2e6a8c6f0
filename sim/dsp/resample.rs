//! What a recording would be by another clock, or at another rate.
//!
//! **Clock.** `y(n) = sum_m x(m) sinc(n r - m) w(n r - m)`: interpolation of the samples at places `r` apart by a sine cardinal under a
//! Kaiser window, 32 samples to either side, side lobes 90 dB down. A ratio `r` within a thousandth of 1 needs no other cutoff. (A general
//! resampler brings block sizes, delays and ratios as fractions, none of which a drift of some parts in a million has.)
//!
//! **Rate.** From 44.1, 48 or 96 kHz to another of them: `y(n) = sum_m x(m) h(n a / b - m)`, `h` a low pass of the same kind, whole up to
//! 20 kHz (within 0.0001 dB) and 100 dB down from half of the lower rate on, so that of what the lower rate cannot hold nothing is left that
//! could be heard. `a / b` is a ratio of whole numbers, so that only `b` places between samples occur, each with its own row of weights.
//!
//! *References.* J. F. Kaiser's window with `beta = 0.1102 (A - 8.7)`, A = 90 dB, and its length, `(A - 7.95) / (14.36 w)` samples for a
//! fade over `w` of the rate (from memory).
//!
//! *Limits.* Clocks: up to 0.45 of the rate to -80 dB (tested at 0.2); not for other rates, above 1 nothing keeps off aliases. Rates: only
//! those three; before its beginning and after its end a sound is taken to be silent.

/// Samples to either side.
const REACH: usize = 32;

/// Shape of the window.
const BETA: f64 = 8.96;

/// Entries of the table of the window for one sample.
const FINE: usize = 256;

/// Rates in samples a second that sound is brought to and from.
pub const RATES: [u32; 3] = [44_100, 48_000, 96_000];

/// What of a sound passes to another rate whole, Hz.
const PASSED_HZ: f64 = 20_000.0;

/// How far down is what the lower rate cannot hold, dB.
const STOPPED_DB: f64 = 105.0;

/// Values at places `ratio` samples apart, from the first sample on.
#[must_use]
pub fn stretched(samples: &[f64], ratio: f64) -> Vec<f64> {
    let table: Vec<f64> = (0..=REACH * FINE + 1).map(|index| window(index as f64 / (REACH * FINE) as f64, BETA)).collect();
    let length = (samples.len() as f64 / ratio) as usize;
    (0..length).map(|index| between(samples, index as f64 * ratio, &table)).collect()
}

/// A sound at another rate, its first sample at the same time; `None` unless both rates are among [`RATES`].
#[must_use]
pub fn at_rate(samples: &[f32], from: u32, to: u32) -> Option<Vec<f32>> {
    let mut way = AtRate::new(from, to)?;
    let mut heard = way.push(samples);
    heard.extend(way.finish());
    Some(heard)
}

/// How many samples so many are at another rate.
#[must_use]
pub fn frames_at(frames: u64, from: u32, to: u32) -> u64 {
    (frames * u64::from(to)).div_ceil(u64::from(from))
}

/// A sound on its way to another rate, piece by piece: all pieces together are what the whole would be, to the last bit.
#[derive(Clone, Debug)]
pub struct AtRate {
    /// Samples of the sound to so many of the outcome.
    step: usize,
    places: usize,
    /// Weights of the samples round each place, and how many there are to either side; none where both rates are the same.
    rows: Vec<Vec<f64>>,
    reach: usize,
    /// Samples that are still needed, and how many came before them.
    held: Vec<f32>,
    gone: usize,
    /// Samples given.
    given: usize,
}

impl AtRate {
    /// The way from one rate to another; `None` unless both are among [`RATES`].
    #[must_use]
    pub fn new(from: u32, to: u32) -> Option<Self> {
        if !(RATES.contains(&from) && RATES.contains(&to)) {
            return None;
        }
        let divisor = greatest_divisor(from, to);
        let (step, places) = ((from / divisor) as usize, (to / divisor) as usize);
        let (rows, reach) = if from == to { (Vec::new(), 0) } else { low_pass(f64::from(from), f64::from(to), places) };
        Some(Self { step, places, rows, reach, held: Vec::new(), gone: 0, given: 0 })
    }

    /// Takes in a piece and gives what can be told by now.
    pub fn push(&mut self, piece: &[f32]) -> Vec<f32> {
        if self.rows.is_empty() {
            return piece.to_vec();
        }
        self.held.extend_from_slice(piece);
        // A value needs `reach` samples after the one before it.
        let known = (self.gone + self.held.len()).saturating_sub(self.reach);
        let given = self.give((known * self.places).div_ceil(self.step));
        let needed = (self.given * self.step / self.places + 1).saturating_sub(self.reach);
        self.held.drain(..needed.saturating_sub(self.gone));
        self.gone = self.gone.max(needed);
        given
    }

    /// Ends the sound and gives the rest.
    #[must_use]
    pub fn finish(mut self) -> Vec<f32> {
        let length = ((self.gone + self.held.len()) * self.places).div_ceil(self.step);
        if self.rows.is_empty() { Vec::new() } else { self.give(length) }
    }

    /// What comes next, up to a sample of the outcome.
    fn give(&mut self, end: usize) -> Vec<f32> {
        let value = |index: usize| {
            let (whole, place) = (index * self.step / self.places, index * self.step % self.places);
            // The row begins `reach - 1` samples before the whole one.
            let first = (whole + 1).saturating_sub(self.reach);
            let skipped = (self.reach - 1).saturating_sub(whole);
            let heard = self.held.get(first - self.gone..).unwrap_or_default();
            heard.iter().zip(&self.rows[place][skipped..]).map(|(sample, weight)| f64::from(*sample) * weight).sum::<f64>() as f32
        };
        let given = (self.given..end).map(value).collect();
        self.given = self.given.max(end);
        given
    }
}

/// Weights of the samples round each place between two of them, and how many there are to either side.
fn low_pass(from_hz: f64, to_hz: f64, places: usize) -> (Vec<Vec<f64>>, usize) {
    let lower = from_hz.min(to_hz);
    let (middle, width) = (0.5 * (PASSED_HZ + 0.5 * lower), 0.5 * lower - PASSED_HZ);
    let beta = 0.1102 * (STOPPED_DB - 8.7);
    let reach = (0.5 * (STOPPED_DB - 7.95) / (14.36 * width / from_hz)).ceil();
    let cutoff = 2.0 * middle / from_hz;
    let weight = |ahead: f64| {
        let angle = std::f64::consts::PI * cutoff * ahead;
        let sinc = if angle.abs() < 1e-9 { 1.0 } else { angle.sin() / angle };
        cutoff * sinc * window(ahead.abs() / reach, beta)
    };
    let row = |place: usize| {
        let part = place as f64 / places as f64;
        (0..2 * reach as usize).map(|index| weight(part + reach - 1.0 - index as f64)).collect()
    };
    ((0..places).map(row).collect(), reach as usize)
}

fn greatest_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { greatest_divisor(b, a % b) }
}

/// The value at a place between samples.
fn between(samples: &[f64], place: f64, table: &[f64]) -> f64 {
    let (whole, part) = (place.floor(), place.fract());
    let whole = whole as usize;
    if part == 0.0 {
        return samples.get(whole).copied().unwrap_or(0.0);
    }
    let wave = (std::f64::consts::PI * part).sin() / std::f64::consts::PI;
    let from = (whole + 1).saturating_sub(REACH);
    let to = (whole + REACH + 1).min(samples.len());
    let sum = |(index, sample): (usize, &f64)| {
        let ahead = place - (from + index) as f64;
        let at = ahead.abs() * FINE as f64;
        let (entry, share) = (at as usize, at.fract());
        let weight = table[entry] + share * (table[entry + 1] - table[entry]);
        // sin(pi (place - m)) is that of the part, with the sign of the distance in whole samples.
        let sign = if (whole.abs_diff(from + index)).is_multiple_of(2) { 1.0 } else { -1.0 };
        sample * sign * weight / ahead
    };
    wave * samples.get(from..to).unwrap_or_default().iter().enumerate().map(sum).sum::<f64>()
}

/// Kaiser's window of this shape at a share of its reach.
fn window(share: f64, beta: f64) -> f64 {
    if share > 1.0 { 0.0 } else { bessel(beta * (1.0 - share * share).sqrt()) / bessel(beta) }
}

/// Modified Bessel function of the first kind and order 0, by its series.
fn bessel(x: f64) -> f64 {
    let quarter = 0.25 * x * x;
    let terms = (1..60).scan(1.0, |term, index| {
        *term *= quarter / f64::from(index * index);
        Some(*term)
    });
    1.0 + terms.sum::<f64>()
}
