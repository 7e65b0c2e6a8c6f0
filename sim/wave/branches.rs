//! Which few branches of mass, resistance and spring come nearest to an admittance that is known tone by tone?
//!
//! ```text
//! y(f) = sum over branches of amplitude / (1 + j (f / heavy - stiff / f))
//! ```
//!
//! A branch of amplitude `a` has the resistance `1 / a`, the mass `1 / (2 pi heavy a)` and the spring `2 pi stiff / a`: below `stiff` its spring holds it, above `heavy` its mass. All three
//! are sought by their logarithms, so that none comes to be negative: whatever is found is passive. With `stiff = 0` or `heavy` without end a branch has no spring or no mass.
//!
//! What is made small is the mean square, tone by tone, of `ln(absorption / wanted)` in a diffuse field and of both parts of `ln(y / wanted)`, size and phase, the latter weighed by how well they
//! are known: in a stiff surface absorption is a small part of the admittance, and a fit of that alone would miss it.
//!
//! *How it searches.* Damped least squares from one branch of four kinds on. The next branch is the one of a coarse grid of corners whose first step promises most, and all move again, until
//! that is no longer worth its time. What springs, masses and branches are hardly missed go.
//!
//! *What is known of a branch.* One may be given by its mass and spring, a board. It stays, with both: only its resistance is sought, near the one that it comes with, and the other branches are
//! what the board alone lacks.
//!
//! *References.* Damped least squares: K. Levenberg, Q. Appl. Math. 2 (1944) 164; D. W. Marquardt, J. SIAM 11 (1963) 431 (both from memory).
//!
//! *Limits.* The best of what was looked at, not of all there is. Outside of the tones that are given it is passive and no more.

use std::f64::consts::TAU;

use num_complex::Complex64;

use super::admittance::{Admittance, Branch};
use super::diffuse::absorbed;

/// Branches at most: each takes time in every cell at the wall.
pub const MOST: usize = 4;
/// A branch has to take so much off the root of the mean square error.
const WORTH: f64 = 0.0025;
/// Size and phase count no less than this in a search of its own.
const STRICT: f64 = 0.3;
/// What takes no more than this off is hardly missed.
const MISSED: f64 = 0.004;
/// Corners of the grid: from this many Hz on, octave by octave.
const FIRST_CORNER: f64 = 5.0;
/// How many.
const CORNERS: i32 = 13;
/// Resonances are no sharper on the grid: square of the quality.
const SHARPEST: f64 = 16.0;
/// The resistance of a given branch stays within this factor.
const NEAR: f64 = 1.5;
/// What is sought.
const UNKNOWNS: usize = 3 * MOST;

/// An admittance that is wanted.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Wanted {
    /// At so many Hz.
    pub frequency: f64,
    /// Re that of air; its real part is more than 0.
    pub admittance: Complex64,
    /// How many tones it counts as.
    pub weight: f64,
}

/// A branch.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Part {
    /// Admittance of its resistance.
    amplitude: f64,
    /// Where spring and resistance are alike, Hz; 0: no spring.
    stiff: f64,
    /// Where mass and resistance are alike, Hz; infinite: no mass.
    heavy: f64,
    /// The amplitude that it came with, where its mass and spring are known and only its resistance is sought.
    given: Option<f64>,
}

/// What is to be met.
struct Task<'a> {
    wanted: &'a [Wanted],
    /// Logarithms of the absorption.
    absorptions: Vec<f64>,
    /// Weight of size and phase.
    known: f64,
    /// Tones in all.
    count: f64,
    /// The branch whose mass and spring are known.
    given: Option<Part>,
}

/// Branches and the root of their mean square error.
#[derive(Clone, Debug)]
struct Found {
    parts: Vec<Part>,
    error: f64,
}

/// The branches that come nearest, where errors of size and phase count `known` times one of the absorption; a `given` one comes first, with its mass and spring and about its resistance.
#[must_use]
pub fn nearest(wanted: &[Wanted], known: f64, given: Option<Branch>) -> Admittance {
    let task = Task::new(wanted, known, given.map(Part::given));
    // Where phases count little a search soon has no reason to follow them: another that takes them seriously has its branches moved by what counts.
    let strict = (known < STRICT).then(|| task.settled(Task::new(wanted, STRICT, task.given).searched()));
    let searched = task.settled(task.searched());
    let Some(mut best) = least([searched].into_iter().chain(strict)) else { return Admittance::RIGID };
    let bound = best.error + MISSED;
    loop {
        let less = least(simpler(&best.parts).into_iter().map(|parts| task.settled(parts)));
        let Some(less) = less.filter(|less| less.error <= bound) else { break };
        best = less;
    }
    Admittance { branches: best.parts.iter().map(|part| part.branch()).collect() }
}

/// The one with the least error.
fn least(all: impl Iterator<Item = Found>) -> Option<Found> {
    all.min_by(|a, b| a.error.total_cmp(&b.error))
}

/// The same without one of its branches, springs or masses.
fn simpler(parts: &[Part]) -> Vec<Vec<Part>> {
    let with = |index: usize, part: Option<Part>| {
        let of = |(at, own): (usize, &Part)| if at == index { part } else { Some(*own) };
        parts.iter().enumerate().filter_map(of).collect::<Vec<_>>()
    };
    let of = |(index, part): (usize, &Part)| {
        let gone = (parts.len() > 1).then(|| with(index, None));
        let loose = (part.stiff > 0.0).then(|| with(index, Some(Part { stiff: 0.0, ..*part })));
        let light = part.heavy.is_finite().then(|| with(index, Some(Part { heavy: f64::INFINITY, ..*part })));
        [gone, loose, light].into_iter().flatten()
    };
    parts.iter().enumerate().filter(|(_, part)| part.given.is_none()).flat_map(of).collect()
}

/// Corners that are tried first.
fn grid() -> impl Iterator<Item = (f64, f64)> {
    let corners = || (0..CORNERS).map(|octave| FIRST_CORNER * 2.0_f64.powi(octave));
    let all =
        std::iter::once(0.0).chain(corners()).flat_map(move |stiff| corners().chain([f64::INFINITY]).map(move |heavy| (stiff, heavy)));
    all.filter(|(stiff, heavy)| *stiff <= SHARPEST * heavy)
}

impl Part {
    /// One that is sought.
    fn new(stiff: f64, heavy: f64) -> Self {
        Self { amplitude: 1.0, stiff, heavy, given: None }
    }

    /// One whose mass and spring are known.
    fn given(branch: Branch) -> Self {
        let Branch { mass, resistance, spring } = branch;
        let amplitude = 1.0 / resistance;
        Self { amplitude, stiff: spring * amplitude / TAU, heavy: 1.0 / (TAU * mass * amplitude), given: Some(amplitude) }
    }

    fn at(self, frequency: f64) -> Complex64 {
        self.amplitude / Complex64::new(1.0, frequency / self.heavy - self.stiff / frequency)
    }

    /// By how much its admittance changes with the logarithms of amplitude, `stiff` and `heavy`; of what is given with that of its amplitude alone.
    fn changes(self, frequency: f64) -> [Complex64; 3] {
        let own = self.at(frequency);
        if self.given.is_some() {
            return [own * own / self.amplitude, Complex64::ZERO, Complex64::ZERO];
        }
        let turned = Complex64::I * own * own / self.amplitude;
        [own, turned * (self.stiff / frequency), turned * (frequency / self.heavy)]
    }

    /// The same with its logarithms changed; no step goes further than a factor of e.
    fn moved(self, by: &[f64]) -> Self {
        let [amplitude, stiff, heavy] = [0, 1, 2].map(|at| by[at].clamp(-1.0, 1.0).exp());
        if let Some(given) = self.given {
            // Mass and spring stay where both corners move with the resistance.
            let amplitude = (self.amplitude * amplitude).clamp(given / NEAR, given * NEAR);
            let times = amplitude / self.amplitude;
            return Self { amplitude, stiff: self.stiff * times, heavy: self.heavy / times, ..self };
        }
        Self { amplitude: self.amplitude * amplitude, stiff: self.stiff * stiff, heavy: self.heavy * heavy, given: None }
    }

    fn branch(self) -> Branch {
        let Self { amplitude, stiff, heavy, .. } = self;
        Branch { mass: 1.0 / (TAU * heavy * amplitude), resistance: 1.0 / amplitude, spring: TAU * stiff / amplitude }
    }
}

/// Errors of a tone, and by how much they change with the logarithm of the size and with the phase.
struct Errors {
    own: [f64; 3],
    by_size: [f64; 3],
    by_phase: [f64; 3],
}

/// Derivatives of the absorption are differences over this.
const STEP: f64 = 1e-6;

impl<'a> Task<'a> {
    fn new(wanted: &'a [Wanted], known: f64, given: Option<Part>) -> Self {
        let absorptions = wanted.iter().map(|one| absorbed(one.admittance).ln()).collect();
        Self { wanted, absorptions, known, count: wanted.iter().map(|one| one.weight).sum(), given }
    }

    /// Branches one after the other, as long as they are worth it.
    fn searched(&self) -> Vec<Part> {
        let Some(mut best) = least(self.beginnings().map(|part| self.settled(vec![part]))) else { return Vec::new() };
        while best.parts.len() < MOST && best.error > WORTH {
            let Some(part) = self.promising(&best.parts) else { break };
            let next = self.settled([&best.parts[..], &[part]].concat());
            if next.error > best.error - WORTH {
                break;
            }
            best = next;
        }
        best.parts
    }

    /// What is given, or else one branch that resists, one held by its spring, one by its mass, and one that resonates, each as large as is wanted in the middle.
    fn beginnings(&self) -> impl Iterator<Item = Part> {
        let [low, high] = [self.wanted.first(), self.wanted.last()].map(|one| one.map_or(1.0, |one| one.frequency));
        let middle = (low * high).sqrt();
        let size = self.wanted.iter().map(|one| one.admittance.norm().ln()).sum::<f64>() / self.wanted.len() as f64;
        let kinds = [(0.0, f64::INFINITY), (high, f64::INFINITY), (0.0, low), (middle, middle)];
        let sought = kinds.into_iter().map(move |(stiff, heavy)| {
            let part = Part::new(stiff, heavy);
            Part { amplitude: size.exp() / part.at(middle).norm(), ..part }
        });
        let is_free = self.given.is_none();
        self.given.into_iter().chain(sought.filter(move |_| is_free))
    }

    fn errors(&self, index: usize, admittance: Complex64) -> Errors {
        let off = (admittance / self.wanted[index].admittance).ln();
        let logarithm = |by: Complex64| absorbed(admittance * by.exp()).ln();
        let own = logarithm(Complex64::ZERO);
        let [by_size, by_phase] = [Complex64::ONE, Complex64::I].map(|way| (logarithm(STEP * way) - own) / STEP);
        let (known, root) = (self.known, self.wanted[index].weight.sqrt());
        let weighed = |errors: [f64; 3]| errors.map(|error| root * error);
        Errors {
            own: weighed([own - self.absorptions[index], known * off.re, known * off.im]),
            by_size: weighed([by_size, known, 0.0]),
            by_phase: weighed([by_phase, 0.0, known]),
        }
    }

    fn error(&self, parts: &[Part]) -> f64 {
        let of = |(one, wanted): (&Wanted, &f64)| {
            let has: Complex64 = parts.iter().map(|part| part.at(one.frequency)).sum();
            let off = (has / one.admittance).ln();
            one.weight * ((absorbed(has).ln() - wanted).powi(2) + self.known.powi(2) * off.norm_sqr())
        };
        let sum: f64 = self.wanted.iter().zip(&self.absorptions).map(of).sum();
        // What is not a number is no answer.
        let error = (sum / self.count).sqrt();
        if error.is_nan() { f64::INFINITY } else { error }
    }

    /// The branch of the grid whose first step takes most off the error, as large as that step.
    fn promising(&self, parts: &[Part]) -> Option<Part> {
        let tones: Vec<(f64, Complex64, Errors)> = (self.wanted.iter().enumerate())
            .map(|(index, one)| {
                let has: Complex64 = parts.iter().map(|part| part.at(one.frequency)).sum();
                (one.frequency, has, self.errors(index, has))
            })
            .collect();
        let of = |(stiff, heavy)| {
            let part = Part::new(stiff, heavy);
            let (mut along, mut square) = (0.0, 0.0);
            for (frequency, has, errors) in &tones {
                let change = part.at(*frequency) / has;
                for row in 0..3 {
                    let by = errors.by_size[row] * change.re + errors.by_phase[row] * change.im;
                    along -= by * errors.own[row];
                    square += by * by;
                }
            }
            (along > 0.0).then(|| (along * along / square, Part { amplitude: along / square, ..part }))
        };
        grid().filter_map(of).max_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, part)| part)
    }

    /// Branches moved to where the error is least, downhill from where they are.
    fn settled(&self, parts: Vec<Part>) -> Found {
        let error = self.error(&parts);
        let mut best = Found { parts, error };
        let mut damping = 1e-2;
        let mut slope = self.slope(&best.parts);
        for _ in 0..STEPS {
            let parts = step(&slope, damping, &best.parts);
            let error = self.error(&parts);
            if error < best.error {
                let is_done = error > SETTLED * best.error;
                best = Found { parts, error };
                if is_done {
                    break;
                }
                slope = self.slope(&best.parts);
                damping = (damping / 4.0).max(1e-9);
            } else if damping > 1e6 {
                break;
            } else {
                damping *= 5.0;
            }
        }
        best
    }

    /// Products of all derivatives of the errors with each other and with the errors.
    fn slope(&self, parts: &[Part]) -> Slope {
        let mut slope = Slope { matrix: [[0.0; UNKNOWNS]; UNKNOWNS], right: [0.0; UNKNOWNS] };
        for (index, one) in self.wanted.iter().enumerate() {
            let has: Complex64 = parts.iter().map(|part| part.at(one.frequency)).sum();
            let errors = self.errors(index, has);
            let mut changes = [Complex64::ZERO; UNKNOWNS];
            for (changes, part) in changes.chunks_exact_mut(3).zip(parts) {
                changes.copy_from_slice(&part.changes(one.frequency).map(|change| change / has));
            }
            for row in 0..3 {
                let by = changes.map(|change| errors.by_size[row] * change.re + errors.by_phase[row] * change.im);
                for (at, line) in slope.matrix.iter_mut().enumerate() {
                    line.iter_mut().zip(by).for_each(|(sum, other)| *sum += by[at] * other);
                    slope.right[at] -= by[at] * errors.own[row];
                }
            }
        }
        slope
    }
}

/// Steps at most.
const STEPS: usize = 100;
/// A step that leaves more than this of the error is the last.
const SETTLED: f64 = 0.999;

/// Normal equations.
struct Slope {
    matrix: [[f64; UNKNOWNS]; UNKNOWNS],
    right: [f64; UNKNOWNS],
}

/// Branches after a damped step: Cholesky's factors, row by row.
fn step(slope: &Slope, damping: f64, parts: &[Part]) -> Vec<Part> {
    let (mut matrix, mut right) = (slope.matrix, slope.right);
    let count = 3 * parts.len();
    for row in 0..count {
        // What nothing depends on stays where it is.
        matrix[row][row] = matrix[row][row] * (1.0 + damping) + 1e-12;
        for place in 0..=row {
            let product: f64 = (0..place).map(|at| matrix[row][at] * matrix[place][at]).sum();
            let left = matrix[row][place] - product;
            matrix[row][place] = if row == place { left.max(1e-15).sqrt() } else { left / matrix[place][place] };
        }
        let known: f64 = (0..row).map(|at| matrix[row][at] * right[at]).sum();
        right[row] = (right[row] - known) / matrix[row][row];
    }
    for row in (0..count).rev() {
        let known: f64 = (row + 1..count).map(|at| matrix[at][row] * right[at]).sum();
        right[row] = (right[row] - known) / matrix[row][row];
    }
    parts.iter().zip(right.chunks_exact(3)).map(|(part, by)| part.moved(by)).collect()
}
