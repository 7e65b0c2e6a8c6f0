//! One octave fitted: what each material absorbs by the recording, what of that is told by it and not by the table, which materials only together.
//!
//! *Fitted* is a material whose interval, in logarithms, is narrower by [`NARROWED`] or more than it was before the recording.
//!
//! *Not told apart* are materials that are not, but what they take together is: the sum of `w_i alpha_i`, `w_i` by how much the rate of decay grows with the absorption of each, in
//! the middle of the bounds. It begins with the material whose share of that sum is least known, and takes in the one that trades most with those it has (correlation of draws), until the sum is
//! narrower by [`NARROWED`]; then as long as one more narrows it by a twentieth more.
//!
//! *What the variant takes*: of each fitted material the middle draw, of those that are not told apart one factor for all of them, that of their sum. All of them are then moved together, each in
//! units of half its interval, to where chi-square is least with everything else as the scene says: the scene has to ring as was measured.
//!
//! *Limits.* What is computed from layers keeps its layers: a scene cannot say another absorption of them. Where that is what the recording tells, the variant does not ring as was measured, and the residual tells it.

use crate::bands::Band;

use super::posterior::{Problem, interval};

/// What an interval has to be narrower by, as a share, to be told by the recording.
pub const NARROWED: f64 = 0.30;
/// What one more of a group has to narrow their sum by.
const MORE: f64 = 0.05;
/// Materials that move `ln T` by less than this between their bounds are not named with others.
const NAMED: f64 = 0.03;
/// Half of an interval of 90 of 100 in standard deviations of a normal distribution.
const HALF: f64 = 1.645;

/// Steps to either side in which that is sought.
const STEPS: i32 = 200;

/// What the recording says of one material in an octave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Told {
    /// The middle of what it may absorb, and what 90 of 100 lie in.
    pub absorption: f64,
    /// Ends of that.
    pub ends: [f64; 2],
    /// By what share the interval is narrower than before, in logarithms.
    pub narrowed: f64,
}

impl Told {
    /// Whether the recording tells it.
    #[must_use]
    pub fn is_fitted(&self) -> bool {
        self.narrowed >= NARROWED
    }
}

/// Materials that are told together only.
#[derive(Clone, Debug, PartialEq)]
pub struct Together {
    /// Their numbers.
    pub members: Vec<usize>,
    /// By which factor they take more together than the scene says, and what 90 of 100 lie in.
    pub factor: f64,
    /// Ends of that.
    pub ends: [f64; 2],
    /// By what share the interval is narrower than before, in logarithms.
    pub narrowed: f64,
}

/// One octave.
#[derive(Clone, Debug, PartialEq)]
pub struct OctaveFit {
    /// Which.
    pub band: Band,
    /// What it was fitted to.
    pub problem: Problem,
    /// Least chi-square between the bounds, and the one that 99 of 100 rooms keep to if nothing but materials is off.
    pub chi_square: [f64; 2],
    /// By material.
    pub told: Vec<Told>,
    /// What is not told apart.
    pub together: Option<Together>,
    /// What the variant's materials absorb; `None`: as the scene says.
    pub written: Vec<Option<f64>>,
}

impl OctaveFit {
    /// Fits an octave; materials that are `fixed` keep what the scene says in the variant.
    #[must_use]
    pub fn new(band: Band, problem: Problem, fixed: &[bool], seed: u64) -> Self {
        let (draws, least) = problem.after(seed ^ band.index() as u64);
        let before = problem.before(seed ^ band.index() as u64);
        let most = chi_square_99(problem.data.len());
        let of = |draws: &[Vec<f64>], index: usize| interval(draws.iter().map(|draw| draw[index]).collect());
        let width = |ends: [f64; 2]| (ends[1] / ends[0]).ln();
        let told = problem.unknowns.iter().enumerate().map(|(index, unknown)| {
            let (absorption, ends) = of(&draws, index);
            // All factors alike: 0.9 of the logarithm of the whole.
            let narrowed = if unknown.is_known() { 0.0 } else { 1.0 - width(ends) / (0.9 * (unknown.high / unknown.low).ln()) };
            Told { absorption, ends, narrowed }
        });
        let told: Vec<Told> = told.collect();
        let is_met = least <= most;
        let together = if is_met { together(&problem, &told, (&before, &draws)) } else { None };
        let written = vec![None; told.len()];
        let fit = Self { band, problem, chi_square: [least, most], told, together, written };
        if is_met { Self { written: fit.to_write(fixed), ..fit } } else { fit }
    }

    /// Whether materials between their bounds can ring as was measured.
    #[must_use]
    pub fn is_met(&self) -> bool {
        self.chi_square[0] <= self.chi_square[1]
    }

    /// Whether the recording tells this material.
    #[must_use]
    pub fn is_fitted(&self, index: usize) -> bool {
        self.is_met() && self.told[index].is_fitted()
    }

    /// What the variant's materials absorb.
    fn to_write(&self, fixed: &[bool]) -> Vec<Option<f64>> {
        let unknowns = &self.problem.unknowns;
        let own = |index: usize| -> Option<(f64, f64)> {
            let told = self.told[index];
            let half = |ends: [f64; 2]| 0.5 * (ends[1] / ends[0]).ln() / HALF;
            if fixed[index] {
                None
            } else if told.is_fitted() {
                Some((told.absorption, half(told.ends)))
            } else {
                let group = self.together.as_ref().filter(|group| group.members.contains(&index))?;
                Some((unknowns[index].absorption * group.factor, half(group.ends)))
            }
        };
        let moved: Vec<Option<(f64, f64)>> = (0..unknowns.len()).map(own).collect();
        let at = |along: f64| -> Vec<Option<f64>> {
            let of = |(one, unknown): (&Option<(f64, f64)>, &super::posterior::Unknown)| {
                one.map(|(value, half)| (value * (along * half).exp()).clamp(unknown.low, unknown.high))
            };
            moved.iter().zip(unknowns).map(of).collect()
        };
        let is_layers_told = (0..fixed.len()).any(|index| fixed[index] && self.told[index].is_fitted());
        if moved.iter().all(Option::is_none) || is_layers_told {
            return at(0.0);
        }
        let chi_square = |along: f64| {
            let written = at(along);
            let values: Vec<f64> = written.iter().zip(unknowns).map(|(value, unknown)| value.unwrap_or(unknown.absorption)).collect();
            self.problem.chi_square(&values)
        };
        // As far as the intervals reach.
        let steps = (-STEPS..=STEPS).map(|step| HALF * f64::from(step) / f64::from(STEPS));
        let best = steps.map(|along| (chi_square(along), along)).min_by(|a, b| a.0.total_cmp(&b.0));
        at(best.map_or(0.0, |(_, along)| along))
    }
}

/// Upper 1 % point of chi-square (Wilson and Hilferty 1931).
fn chi_square_99(degrees: usize) -> f64 {
    // 6.635 at one degree, where the formula is a little low.
    let n = degrees.max(1) as f64;
    (n * (1.0 - 2.0 / (9.0 * n) + 2.326 * (2.0 / (9.0 * n)).sqrt()).powi(3)).max(6.635)
}

/// Draws before and after.
type Draws<'a> = (&'a [Vec<f64>], &'a [Vec<f64>]);

/// Materials whose sum alone is told.
fn together(problem: &Problem, told: &[Told], (before, after): Draws<'_>) -> Option<Together> {
    let slopes = problem.slopes();
    let mut free: Vec<usize> = (0..told.len()).filter(|&index| !told[index].is_fitted() && slopes[index].abs() >= NAMED).collect();
    // d(rate) / d(alpha), but for a factor that all have.
    let weight = |index: usize| {
        let unknown = problem.unknowns[index];
        (-slopes[index]).max(0.0) / (unknown.at(0.5) * (unknown.high / unknown.low).ln())
    };
    let spread = |index: usize| weight(index) * (problem.unknowns[index].high - problem.unknowns[index].low);
    let first = (0..free.len()).max_by(|&a, &b| spread(free[a]).total_cmp(&spread(free[b])))?;
    let mut members = vec![free.remove(first)];
    let sums = |members: &[usize], draws: &[Vec<f64>]| -> Vec<f64> {
        draws.iter().map(|draw| members.iter().map(|&index| weight(index) * draw[index]).sum()).collect()
    };
    let of = |members: &[usize]| {
        let (then, now) = (interval(sums(members, before)), interval(sums(members, after)));
        let width = |ends: [f64; 2]| (ends[1] / ends[0]).ln();
        (1.0 - width(now.1) / width(then.1), now)
    };
    let mut best: Option<Together> = None;
    while !free.is_empty() {
        let sum = sums(&members, after);
        let trades = |index: usize| correlation(&sum, &after.iter().map(|draw| draw[index]).collect::<Vec<_>>());
        let next = (0..free.len()).min_by(|&a, &b| trades(free[a]).total_cmp(&trades(free[b])))?;
        let next = free.remove(next);
        members.push(next);
        let (narrowed, (middle, ends)) = of(&members);
        let written: f64 = members.iter().map(|&index| weight(index) * problem.unknowns[index].absorption).sum();
        let found = || {
            let mut members = members.clone();
            members.sort_unstable();
            Together { members, factor: middle / written, ends: ends.map(|end| end / written), narrowed }
        };
        match &best {
            None if narrowed >= NARROWED => best = Some(found()),
            Some(known) if narrowed >= known.narrowed + MORE => best = Some(found()),
            Some(_) => break,
            None => {}
        }
    }
    best
}

fn correlation(one: &[f64], other: &[f64]) -> f64 {
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    let (a, b) = (mean(one), mean(other));
    let product = |left: &[f64], (from, right): (f64, f64), values: &[f64]| -> f64 {
        left.iter().zip(values).map(|(left, value)| (left - from) * (value - right)).sum()
    };
    let both = (product(one, (a, a), one) * product(other, (b, b), other)).sqrt();
    if both > 0.0 { product(one, (a, b), other) / both } else { 0.0 }
}
