//! How long a room rings: decay curve, early decay time, T20, T30.
//!
//! The decay curve is the energy still to come, `S(t) = int_t^inf E`, in dB re its beginning. A straight line is fitted to it by least squares over a range of levels, and the time for
//! 60 dB is `-60 / slope`. The curve is known at the borders of the bins and straight between them; the fit is the integral of that broken line, from the instant it crosses the
//! upper limit to the instant it crosses the lower one. With these two instants held, the slope is a fixed weighted sum of levels ([`FitWeights`]); [`DecayCurve::sensitivity`], which is
//! what a map of changes needs, moves them with the curve, and the tail with the last eighths.
//!
//! - Early decay time 0 to -10 dB, T20 -5 to -25 dB, T30 -5 to -35 dB.
//! - Where the curve falls below the upper limit within bin 0, it does so by the step of the direct sound: the fit begins at the end of that bin.
//! - A record ends, a decay does not. With [`Tail::Exponential`] the last three eighths of the record (up to its last arrival) hold energies Z, A and B; what comes later is the rest of the geometric series,
//!   `B q / (1 - q)`, `q = B / A` (exact for one exponential).
//! - Straightness: `xi = 1000 (1 - r^2)` permille of the fit; curvature `C = 100 (T30 / T20 - 1)` percent.
//!
//! When a range counts as supported, with [`Tail::Exponential`]: the level that remains at the end of the record lies at least 10 dB below the lower limit; or, where it lies just below the limit, the three
//! eighths agree on one exponential (their two rates differ by at most a quarter). A record that stops decaying (noise: less than 1 dB from one eighth to the last) supports a range only if its last eighth lies 10 dB below the lower limit. In all cases
//! the range spans at least four bins, and a quarter of it in level is left below the step of the direct sound: the time in which the last few tenths of a decibel of 10 fall is no decay
//! time, and turns on how loud the direct sound is to a percent. Otherwise the reason is returned instead of a number.
//!
//! *References.* M. R. Schroeder, J. Acoust. Soc. Am. 37 (1965) 409 (from memory). ISO 3382-1:2009 and ISO 3382-2:2008, with annex B on straightness (read in part, else from memory).
//!
//! *Limits.* A bent decay has no one time: look at xi (above 10 permille doubtful) and C (above 10 % not straight). The tail knows one exponential only. Noise is not subtracted.

use thiserror::Error;

/// Fewest bins that a fit spans.
const FEWEST_BINS: f64 = 4.0;

/// Least share of a range's levels that the step of the direct sound leaves to the decay.
const LEAST_LEFT: f64 = 0.25;

/// How far below the lower limit of the fit the record must reach, dB.
const MARGIN_DB: f64 = 10.0;

/// By how much the rates of the last eighths may differ, re the last, to count as one exponential.
const RATE_TOLERANCE: f64 = 0.25;

/// A record whose last eighth holds more than this share of the eighth before (it falls by less than 1 dB) has stopped decaying.
const LEAST_DECAY: f64 = 0.794;

/// How far to either side of a crossing the curve is looked at for how fast it falls there, re the length of the fit: changes that matter move it by as much, and one bin
/// of a traced curve holds a few rays.
const CROSSING_REACH: f64 = 0.05;

/// A range of levels to fit.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Range {
    /// 0 to -10 dB: early decay time.
    Early,
    /// -5 to -25 dB: T20.
    Twenty,
    /// -5 to -35 dB: T30.
    Thirty,
}

impl Range {
    /// Upper and lower limit in dB.
    #[must_use]
    pub fn limits(self) -> (f64, f64) {
        match self {
            Self::Early => (0.0, -10.0),
            Self::Twenty => (-5.0, -25.0),
            Self::Thirty => (-5.0, -35.0),
        }
    }

    /// `EDT`, `T20`, `T30`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Early => "EDT",
            Self::Twenty => "T20",
            Self::Thirty => "T30",
        }
    }
}

/// What to make of the end of a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Tail {
    /// Nothing comes after it, nothing is asked of it (records already compensated; comparison with plain integration).
    Ignored,
    /// The decay goes on as it ended.
    Exponential,
}

/// Why there is no number.
#[derive(Clone, Copy, Debug, PartialEq, Error)]
pub enum NotSupported {
    /// No energy at all.
    #[error("no energy arrives")]
    Empty,
    /// Not energies.
    #[error("the record holds values that are not energies")]
    Unsound,
    /// The record ends too early.
    #[error("the record ends {end_db:.0} dB re its start; {} needs {needed_db:.0} dB", range.name())]
    TooShort {
        /// What was asked.
        range: Range,
        /// Level that remains at the end, dB.
        end_db: f64,
        /// Level at which it would be enough, dB.
        needed_db: f64,
    },
    /// The record stops decaying.
    #[error("the record stops decaying at {level_db:.0} dB re its start; {} needs {needed_db:.0} dB", range.name())]
    NotDecaying {
        /// What was asked.
        range: Range,
        /// Level of its last eighth, dB.
        level_db: f64,
        /// Level at which it would be enough, dB.
        needed_db: f64,
    },
    /// The decay is over within a few bins.
    #[error("{} is over within {bins:.1} bins of the record", range.name())]
    TooFast {
        /// What was asked.
        range: Range,
        /// Length of the range in bins.
        bins: f64,
    },
    /// The step of the direct sound takes nearly all of the range.
    #[error("the direct sound stands {step_db:.1} dB above all that follows, which leaves {} next to nothing", range.name())]
    Stepped {
        /// What was asked.
        range: Range,
        /// By how much the curve falls within bin 0, dB.
        step_db: f64,
    },
}

/// How a record ends.
#[derive(Clone, Copy, Debug, PartialEq)]
enum End {
    /// Nothing is asked of it.
    Ignored,
    /// It has fewer than eight bins.
    Over,
    /// It decays on; whether the last three eighths agree on the rate.
    Decaying { agreed: bool },
    /// It does not decay; level of its last eighth in dB re the start.
    Level { db: f64 },
}

/// What comes after a record: the rest of the geometric series that its last eighths begin.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Rest {
    energy: f64,
    /// By how much it grows for each unit of energy in the last eighth and in the one before; bins of the record from the first of these on, and in an eighth.
    by_last: f64,
    by_before: f64,
    first: usize,
    eighth: usize,
}

impl Rest {
    /// `B q / (1 - q) = B^2 / (A - B)`, of `B` in the last eighth and `A` in the one before it, which begins at `first`.
    fn new(last: f64, before: f64, (first, eighth): (usize, usize)) -> Self {
        let fall = before - last;
        let (by_last, by_before) = (last * (2.0 * before - last) / (fall * fall), -(last * last) / (fall * fall));
        Self { energy: last * last / fall, by_last, by_before, first, eighth }
    }

    /// By how much it grows for each unit of energy in this bin.
    fn grows_by(&self, bin: usize) -> f64 {
        match bin.checked_sub(self.first) {
            Some(bin) if bin < self.eighth => self.by_before,
            Some(bin) if bin < 2 * self.eighth => self.by_last,
            _ => 0.0,
        }
    }
}

/// A backward-integrated decay.
#[derive(Clone, Debug, PartialEq)]
pub struct DecayCurve {
    bin_s: f64,
    remaining: Vec<f64>,
    level_db: Vec<f64>,
    rest: Rest,
    end: End,
}

/// A straight line through part of a decay.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Time for 60 dB at its slope, seconds.
    pub time_s: f64,
    /// Its slope, dB/s, below 0.
    pub slope_db_per_s: f64,
    /// Level of the line when the direct sound arrives, dB re the start of the curve.
    pub intercept_db: f64,
    /// When the fit begins, seconds after the direct sound.
    pub start_s: f64,
    /// Whether it begins with the curve itself or at the end of the direct sound's step, not where the curve crosses the upper limit.
    pub starts_held: bool,
    /// When it ends.
    pub end_s: f64,
    /// `1000 (1 - r^2)`: how far from straight the decay is.
    pub xi_permille: f64,
    /// The slope as a weighted sum of levels.
    pub weights: FitWeights,
}

/// A slope as a weighted sum of the levels at the borders of the bins: `slope = sum_i weights[i] level_db[first_bin + i]`, at fixed times.
#[derive(Clone, Debug, PartialEq)]
pub struct FitWeights {
    /// The bin whose beginning the first weight belongs to.
    pub first_bin: usize,
    /// Weights in 1/s; their sum is 0.
    pub weights: Vec<f64>,
}

impl DecayCurve {
    /// Integrates `energy`, in bins of `bin_s` seconds from the direct sound on, backward.
    ///
    /// # Errors
    /// [`NotSupported::Empty`] and [`NotSupported::Unsound`].
    pub fn new(energy: &[f64], bin_s: f64, tail: Tail) -> Result<Self, NotSupported> {
        if !(bin_s > 0.0 && bin_s.is_finite()) || energy.iter().any(|value| !(value.is_finite() && *value >= 0.0)) {
            return Err(NotSupported::Unsound);
        }
        let whole: f64 = energy.iter().sum();
        if whole == 0.0 {
            return Err(NotSupported::Empty);
        }
        let (rest, end) = match tail {
            Tail::Ignored => (Rest::default(), End::Ignored),
            Tail::Exponential => end_of(energy, whole),
        };
        let mut remaining = vec![rest.energy; energy.len() + 1];
        for bin in (0..energy.len()).rev() {
            remaining[bin] = remaining[bin + 1] + energy[bin];
        }
        let level_db = remaining.iter().map(|value| 10.0 * (value / remaining[0]).log10()).collect();
        Ok(Self { bin_s, remaining, level_db, rest, end })
    }

    /// Level in dB re its start at the borders of the bins: one more than there are bins; minus infinity where nothing comes any more.
    #[must_use]
    pub fn level_db(&self) -> &[f64] {
        &self.level_db
    }

    /// Energy still to come at the borders of the bins.
    #[must_use]
    pub fn remaining(&self) -> &[f64] {
        &self.remaining
    }

    /// Early decay time in seconds.
    ///
    /// # Errors
    /// Where the record does not support it.
    pub fn edt(&self) -> Result<f64, NotSupported> {
        self.fit(Range::Early).map(|fit| fit.time_s)
    }

    /// T20 in seconds.
    ///
    /// # Errors
    /// Where the record does not support it.
    pub fn t20(&self) -> Result<f64, NotSupported> {
        self.fit(Range::Twenty).map(|fit| fit.time_s)
    }

    /// T30 in seconds.
    ///
    /// # Errors
    /// Where the record does not support it.
    pub fn t30(&self) -> Result<f64, NotSupported> {
        self.fit(Range::Thirty).map(|fit| fit.time_s)
    }

    /// Fits a straight line to a range of levels.
    ///
    /// # Errors
    /// Where the record does not support it.
    pub fn fit(&self, range: Range) -> Result<Fit, NotSupported> {
        let (upper, lower) = range.limits();
        self.check_end(range, lower)?;
        let too_short = || NotSupported::TooShort { range, end_db: self.lowest_db(), needed_db: lower };
        // Within bin 0 the curve falls by the step of the direct sound.
        let (start, is_held) = match self.crossing(upper).ok_or_else(too_short)? {
            0.0 => (0.0, true),
            place if place < 1.0 => (1.0, true),
            place => (place, false),
        };
        let end = self.crossing(lower).ok_or_else(too_short)?;
        if end - start < FEWEST_BINS {
            return Err(NotSupported::TooFast { range, bins: (end - start).max(0.0) });
        }
        if self.level_db[1].min(upper) - lower < LEAST_LEFT * (upper - lower) {
            return Err(NotSupported::Stepped { range, step_db: -self.level_db[1] });
        }
        Ok(self.line(start, end, is_held))
    }

    /// Whether the end of the record lets a fit down to `lower` dB stand.
    fn check_end(&self, range: Range, lower: f64) -> Result<(), NotSupported> {
        let needed_db = lower - MARGIN_DB;
        let end_db = self.level_db[self.level_db.len() - 1];
        match self.end {
            End::Decaying { agreed } if end_db > (if agreed { lower } else { needed_db }) => {
                Err(NotSupported::TooShort { range, end_db, needed_db: if agreed { lower } else { needed_db } })
            }
            End::Level { db } if db > needed_db => Err(NotSupported::NotDecaying { range, level_db: db, needed_db }),
            _ => Ok(()),
        }
    }

    /// The lowest level before nothing remains, dB.
    fn lowest_db(&self) -> f64 {
        self.level_db.iter().rev().copied().find(|level| level.is_finite()).unwrap_or(0.0)
    }

    /// Where, in bins, the curve first falls to this level; `None` where it never does, or falls to nothing at once.
    fn crossing(&self, level_db: f64) -> Option<f64> {
        let after = self.level_db.iter().position(|level| *level <= level_db)?;
        if after == 0 {
            return Some(0.0);
        }
        let (above, below) = (self.level_db[after - 1], self.level_db[after]);
        below.is_finite().then(|| (after - 1) as f64 + (above - level_db) / (above - below))
    }

    /// The straight line through the curve between two places given in bins.
    fn line(&self, start: f64, end: f64, starts_held: bool) -> Fit {
        let weights = FitWeights::new(self.bin_s, start, end);
        let slope = weights.slope(&self.level_db);
        let (mut sum, mut squares) = (0.0, 0.0);
        for_each_node(start, end, |bin, place, width| {
            let level = self.level_db[bin] * (1.0 - place) + self.level_db[bin + 1] * place;
            sum += width * level;
            squares += width * level * level;
        });
        let bins = end - start;
        let mean = sum / bins;
        let variance = squares / bins - mean * mean;
        let explained = slope * slope * (bins * self.bin_s).powi(2) / 12.0;
        Fit {
            time_s: -60.0 / slope,
            slope_db_per_s: slope,
            intercept_db: mean - slope * 0.5 * (start + end) * self.bin_s,
            start_s: start * self.bin_s,
            starts_held,
            end_s: end * self.bin_s,
            xi_permille: 1000.0 * (1.0 - explained / variance).max(0.0),
            weights,
        }
    }

    /// By what share the time of a fit grows for each unit of energy added to a bin, for every bin of the record.
    ///
    /// `d ln T / dE_j = -(10 / ln 10) (1 / slope) sum_i W_i (dS_i / dE_j) / S_i`: energy in bin `j` raises the curve up to its beginning, and all of it where
    /// the tail grows with it. The `W` are the weights of the fit and what the fit gains as its ends move.
    #[must_use]
    pub fn sensitivity(&self, fit: &Fit) -> Vec<f64> {
        let factor = -10.0 / (std::f64::consts::LN_10 * fit.slope_db_per_s);
        let mut weights = vec![0.0; self.level_db.len()];
        for (sum, weight) in weights[fit.weights.first_bin..].iter_mut().zip(&fit.weights.weights) {
            *sum += weight;
        }
        self.add_moving_ends(fit, &mut weights);
        // Nothing remains where nothing weighs.
        let each: Vec<f64> =
            weights.iter().zip(&self.remaining).map(|(weight, rest)| if *weight == 0.0 { 0.0 } else { weight / rest }).collect();
        let whole: f64 = each.iter().sum();
        let mut sum = 0.0;
        (each.iter().take(self.remaining.len() - 1).enumerate())
            .map(|(bin, each)| {
                sum += each;
                factor * (sum + whole * self.rest.grows_by(bin))
            })
            .collect()
    }

    /// Adds what the slope of a fit gains by each level because the curve crosses the limits elsewhere.
    ///
    /// As an end moves, a slope of least squares over a length `d` changes by `6 r / d^2`, `r` the height of the curve above the line there. A curve that falls
    /// with the slope `s` and rises by `dL` re its beginning crosses a limit later by `-dL / s`.
    fn add_moving_ends(&self, fit: &Fit, weights: &mut [f64]) {
        let length = fit.end_s - fit.start_s;
        let ends = [fit.end_s, fit.start_s];
        for time in ends.into_iter().take(if fit.starts_held { 1 } else { 2 }) {
            let place = time / self.bin_s;
            let above = self.level_at(place) - (fit.intercept_db + fit.slope_db_per_s * time);
            let weight = -6.0 * above / (length * length * self.slope_about(place, CROSSING_REACH * length / self.bin_s));
            let (bin, share) = (place as usize, place.fract());
            weights[bin] += weight * (1.0 - share);
            if share > 0.0 {
                weights[bin + 1] += weight * share;
            }
            weights[0] -= weight;
        }
    }

    /// Level at a place given in bins.
    fn level_at(&self, place: f64) -> f64 {
        let (bin, share) = (place as usize, place.fract());
        if share == 0.0 { self.level_db[bin] } else { self.level_db[bin] * (1.0 - share) + self.level_db[bin + 1] * share }
    }

    /// How fast the curve falls about a place, to so many bins on either side, half of one at the least; dB/s. The step of the direct sound is left out.
    fn slope_about(&self, place: f64, reach: f64) -> f64 {
        let last = self.level_db.iter().rposition(|level| level.is_finite()).unwrap_or(0) as f64;
        let reach = reach.max(0.5).min(place - 1.0).min(last - place).max(0.0);
        let (from, to) = if reach > 0.0 { (place - reach, place + reach) } else { (place.floor(), place.floor() + 1.0) };
        (self.level_at(to) - self.level_at(from)) / ((to - from) * self.bin_s)
    }
}

impl FitWeights {
    /// Weights of the least-squares slope of a broken line between two places, given in bins of `bin_s` seconds.
    fn new(bin_s: f64, start: f64, end: f64) -> Self {
        let first_bin = start as usize;
        let mut weights = vec![0.0; end.ceil() as usize - first_bin + 1];
        let middle = 0.5 * (start + end);
        // Slope = int (t - middle) L dt / int (t - middle)^2 dt.
        let scale = 12.0 / ((end - start).powi(3) * bin_s);
        for_each_node(start, end, |bin, place, width| {
            let lever = scale * width * (bin as f64 + place - middle);
            weights[bin - first_bin] += lever * (1.0 - place);
            weights[bin - first_bin + 1] += lever * place;
        });
        Self { first_bin, weights }
    }

    /// The slope in dB/s of a curve given at the borders of the bins.
    #[must_use]
    pub fn slope(&self, level_db: &[f64]) -> f64 {
        self.weights.iter().zip(&level_db[self.first_bin..]).map(|(weight, level)| weight * level).sum()
    }
}

/// `C = 100 (T30 / T20 - 1)` percent: how much a decay flattens.
#[must_use]
pub fn curvature_percent(t20_s: f64, t30_s: f64) -> f64 {
    100.0 * (t30_s / t20_s - 1.0)
}

/// Calls `visit(bin, place in the bin, width)` at two Gauss points of every bin, or part of one, between two places given in bins: exact for products of two straight lines.
fn for_each_node(start: f64, end: f64, mut visit: impl FnMut(usize, f64, f64)) {
    let node = 0.5 / 3.0_f64.sqrt();
    for bin in start as usize..end.ceil() as usize {
        let from = (start - bin as f64).max(0.0);
        let to = (end - bin as f64).min(1.0);
        let (middle, width) = (0.5 * (from + to), to - from);
        visit(bin, middle - node * width, 0.5 * width);
        visit(bin, middle + node * width, 0.5 * width);
    }
}

/// What comes after the record, and how it ends.
fn end_of(energy: &[f64], whole: f64) -> (Rest, End) {
    // Silence after the last arrival is no evidence of how the decay went on.
    let energy = &energy[..energy.iter().rposition(|value| *value > 0.0).map_or(0, |last| last + 1)];
    let eighth = energy.len() / 8;
    let part = |from_end: usize| -> f64 {
        let end = energy.len() - from_end * eighth;
        energy[end - eighth..end].iter().sum()
    };
    if eighth == 0 {
        // Too few bins to judge by; no fit will find four of them.
        return (Rest::default(), End::Over);
    }
    let (last, before, earlier) = (part(0), part(1), part(2));
    if last >= LEAST_DECAY * before {
        return (Rest::default(), End::Level { db: 10.0 * (last / whole).log10() });
    }
    let (rate, rate_before) = ((before / last).ln(), (earlier / before).ln());
    let rest = Rest::new(last, before, (energy.len() - 2 * eighth, eighth));
    (rest, End::Decaying { agreed: (rate_before - rate).abs() <= RATE_TOLERANCE * rate })
}
