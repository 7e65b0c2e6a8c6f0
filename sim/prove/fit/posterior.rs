//! What measured decays leave of what was not known of the materials of an octave.
//!
//! *Before the recording* each material may absorb anything between its bounds, all factors alike: uniform in the logarithm of its absorption. That bounds are kept, and that materials
//! nobody asks about keep to them, is what regularizes: a few decays can never tell a dozen materials.
//!
//! *A datum* is `ln T` as measured less `ln T` as predicted by the scene as written. Errors of places are independent of one another, what all places have in common (`shared`: tape,
//! tracing, materials that are left out) is not, so the covariance is `diag(sure^2) + shared^2` and by Sherman and Morrison's formula
//!
//! ```text
//! chi^2 = sum r^2 / s^2 - (sum r / s^2)^2 shared^2 / (1 + shared^2 sum 1 / s^2),   r = datum + ln(T0 / T)
//! ```
//!
//! *Draws* come from a walk through the box of all unknowns: a direction by lot (half of them along surfaces of like decay, which are long and thin), and on the line along it a
//! place where `exp(-chi^2 / 2)` is above a level that was drawn below it where the walk stands. It has no step to be tuned and keeps to its bounds.
//!
//! *References.* R. M. Neal, Slice sampling, Ann. Statist. 31 (2003) (from memory); hit and run: R. L. Smith, Oper. Res. 32 (1984) (from memory). Sherman and Morrison: any book on matrices.
//!
//! *Limits.* Quantiles of draws scatter by a hundredth or two of an interval.

use super::emulator::Emulator;
use crate::random::{Purpose, Stream};

/// Steps of the walk that are thrown away, that are kept, and one in how many of those.
const WALK: (usize, usize, usize) = (3_000, 40_000, 4);
/// Places from which the walk begins at the best.
const STARTS: usize = 2_000;

/// One unknown: what a material absorbs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unknown {
    /// As the scene says, 0 to 1.
    pub absorption: f64,
    /// Least, 0 to 1.
    pub low: f64,
    /// Most, 0 to 1.
    pub high: f64,
}

impl Unknown {
    /// Whether there is nothing to tell.
    #[must_use]
    pub fn is_known(&self) -> bool {
        self.high <= self.low
    }

    /// Absorption scaled to `[-1, 1]` between the bounds.
    #[must_use]
    pub fn scaled(&self, absorption: f64) -> f64 {
        if self.is_known() { 0.0 } else { (2.0 * absorption - self.low - self.high) / (self.high - self.low) }
    }

    /// Absorption at a share of the way between the bounds, 0 to 1, in logarithms.
    #[must_use]
    pub fn at(&self, share: f64) -> f64 {
        self.low * (self.high / self.low).powf(share)
    }
}

/// One measured decay.
#[derive(Clone, Debug, PartialEq)]
pub struct Datum {
    /// `ln` of measured over predicted, as written.
    pub off: f64,
    /// Its standard uncertainty, without what all places share.
    pub sure: f64,
    /// How the decay goes with the unknowns.
    pub emulator: Emulator,
}

/// An octave with what was measured in it.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// Materials.
    pub unknowns: Vec<Unknown>,
    /// Measured decays.
    pub data: Vec<Datum>,
    /// One standard uncertainty that all data have in common, as a logarithm.
    pub shared: f64,
}

impl Problem {
    /// Chi-square of materials that absorb so much.
    #[must_use]
    pub fn chi_square(&self, absorption: &[f64]) -> f64 {
        let point: Vec<f64> = self.unknowns.iter().zip(absorption).map(|(unknown, value)| unknown.scaled(*value)).collect();
        let (mut squares, mut sum, mut weight) = (0.0, 0.0, 0.0);
        for datum in &self.data {
            let (left, sure) = (datum.off + datum.emulator.rate(&point).ln(), datum.sure.powi(-2));
            squares += left * left * sure;
            sum += left * sure;
            weight += sure;
        }
        let shared = self.shared * self.shared;
        squares - sum * sum * shared / (1.0 + shared * weight)
    }

    fn at(&self, shares: &[f64]) -> Vec<f64> {
        self.unknowns.iter().zip(shares).map(|(unknown, share)| unknown.at(*share)).collect()
    }

    fn log_density(&self, shares: &[f64]) -> f64 {
        -0.5 * self.chi_square(&self.at(shares))
    }

    /// Mean over the data of how `ln T` goes with the share of each unknown, in the middle of the box.
    #[must_use]
    pub fn slopes(&self) -> Vec<f64> {
        let middle: Vec<f64> = self.unknowns.iter().map(|unknown| unknown.at(0.5)).collect();
        let point: Vec<f64> = self.unknowns.iter().zip(&middle).map(|(unknown, value)| unknown.scaled(*value)).collect();
        let mut sum = vec![0.0; middle.len()];
        for datum in &self.data {
            for (sum, slope) in sum.iter_mut().zip(datum.emulator.slopes(&point)) {
                *sum += slope / self.data.len() as f64;
            }
        }
        // d v / d share = alpha ln(high / low) 2 / (high - low).
        let inner = |(one, value): (&Unknown, f64)| match one.is_known() {
            true => 0.0,
            false => 2.0 * value * (one.high / one.low).ln() / (one.high - one.low),
        };
        sum.into_iter().zip(self.unknowns.iter().zip(middle).map(inner)).map(|(slope, inner)| slope * inner).collect()
    }

    /// What the materials absorb in draws before the recording, `[draw][unknown]`.
    #[must_use]
    pub fn before(&self, seed: u64) -> Vec<Vec<f64>> {
        let mut stream = Stream::new(seed, Purpose::Search, 1);
        (0..WALK.1 / WALK.2).map(|_| self.at(&self.unknowns.iter().map(|_| stream.unit()).collect::<Vec<_>>())).collect()
    }

    /// The same after it, and the least chi-square that was met.
    #[must_use]
    pub fn after(&self, seed: u64) -> (Vec<Vec<f64>>, f64) {
        let mut stream = Stream::new(seed, Purpose::Search, 2);
        let count = self.unknowns.len();
        let mut place: Vec<f64> = vec![0.5; count];
        let mut density = self.log_density(&place);
        let ends = (0..=1).map(|end| vec![f64::from(end); count]).collect::<Vec<_>>();
        let lots = (0..STARTS).map(|_| (0..count).map(|_| stream.unit()).collect::<Vec<f64>>()).collect::<Vec<_>>();
        for start in ends.into_iter().chain(lots) {
            let own = self.log_density(&start);
            if own > density {
                (place, density) = (start, own);
            }
        }
        let slopes = self.slopes();
        let (mut draws, mut best) = (Vec::with_capacity(WALK.1 / WALK.2), density);
        for step in 0..WALK.0 + WALK.1 {
            let direction = direction(&slopes, &mut stream);
            (place, density) = self.step((place, density), &direction, &mut stream);
            best = best.max(density);
            if step >= WALK.0 && (step - WALK.0).is_multiple_of(WALK.2) {
                draws.push(self.at(&place));
            }
        }
        (draws, -2.0 * best)
    }

    /// One step along a line through the box.
    fn step(&self, (place, density): (Vec<f64>, f64), direction: &[f64], stream: &mut Stream) -> (Vec<f64>, f64) {
        let level = density + (1.0 - stream.unit()).ln();
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        for (share, way) in place.iter().zip(direction).filter(|(_, way)| **way != 0.0) {
            let (one, other) = (-share / way, (1.0 - share) / way);
            (low, high) = (low.max(one.min(other)), high.min(one.max(other)));
        }
        if !(low.is_finite() && high.is_finite()) {
            return (place, density);
        }
        // Halved each time or nearly so: sixty take any line to the last bits.
        for _ in 0..60 {
            let along = low + stream.unit() * (high - low);
            let tried: Vec<f64> = place.iter().zip(direction).map(|(share, way)| (share + along * way).clamp(0.0, 1.0)).collect();
            let own = self.log_density(&tried);
            if own >= level {
                return (tried, own);
            }
            if along < 0.0 { low = along } else { high = along }
        }
        (place, density)
    }
}

/// A direction by lot: along one unknown, along all, or along all but not across surfaces of like decay.
fn direction(slopes: &[f64], stream: &mut Stream) -> Vec<f64> {
    let (kind, count) = (stream.unit(), slopes.len());
    if kind < 0.25 {
        let chosen = (stream.unit() * count as f64) as usize;
        return (0..count).map(|index| if index == chosen { 1.0 } else { 0.0 }).collect();
    }
    let mut way: Vec<f64> =
        (0..count).map(|_| (-2.0 * (1.0 - stream.unit()).ln()).sqrt() * (std::f64::consts::TAU * stream.unit()).cos()).collect();
    let square: f64 = slopes.iter().map(|slope| slope * slope).sum();
    if kind < 0.75 && count > 1 && square > 0.0 {
        let across = way.iter().zip(slopes).map(|(way, slope)| way * slope).sum::<f64>() / square;
        way.iter_mut().zip(slopes).for_each(|(way, slope)| *way -= across * slope);
    }
    way
}

/// The value that a share of all lies below; they are sorted.
#[must_use]
pub fn quantile(sorted: &[f64], share: f64) -> f64 {
    let place = share * (sorted.len().saturating_sub(1)) as f64;
    let (below, above) = (place.floor() as usize, place.ceil() as usize);
    let part = place - below as f64;
    sorted.get(below).zip(sorted.get(above)).map_or(f64::NAN, |(low, high)| low + part * (high - low))
}

/// What 90 of 100 draws lie in, and the middle one.
#[must_use]
pub fn interval(mut values: Vec<f64>) -> (f64, [f64; 2]) {
    values.sort_by(f64::total_cmp);
    (quantile(&values, 0.5), [quantile(&values, 0.05), quantile(&values, 0.95)])
}
