//! Which damped exponentials sum to what was heard: their rates out of the covariance over time of many records, with the uncertainty of each.
//!
//! ```text
//! y_p(n) = sum over k of a_pk exp(s_k n dt) + noise,   R(n, m) = sum over p of y_p(n) y_p*(m)
//! ```
//!
//! All that is asked of the records is `R`, so that it costs the same however many there are. Sums of `R` along its diagonals are the covariance of all pieces of the records that have a
//! given length; its eigenvectors above the noise span the exponentials, and what takes that span a step further in time has the factors `exp(s_k dt)` as eigenvalues. From there the rates
//! are improved by least squares of all records, amplitudes left free, and exponentials whose amplitudes are not clear of the noise are taken out one after the other, the weakest first.
//! Uncertainties are those of the same least squares.
//!
//! *References.* Rotational invariance: R. Roy, T. Kailath, IEEE Trans. Acoust. Speech Signal Process. 37 (1989) 984 (from memory). Least squares with free amplitudes: G. Golub,
//! V. Pereyra, SIAM J. Numer. Anal. 10 (1973) 413; L. Kaufman, BIT 15 (1975) 49 (from memory).
//!
//! *Limits.* Exponentials of one and the same rate are one; how many shapes stand behind it takes several sources to tell (`ringing`).

use std::f64::consts::TAU;

use nalgebra::linalg::Schur;
use nalgebra::{Complex, DMatrix, DVector, SymmetricEigen};

type Number = Complex<f64>;
type Matrix = DMatrix<Number>;

/// An exponential whose amplitude is less clear of the noise than this, re its own standard error, is none.
const CLEAR: f64 = 3.0;

/// Rounds of least squares after which rates have settled: each round squares what is left of the error.
const ROUNDS: usize = 4;

/// What was heard in a band.
#[derive(Clone, Debug)]
pub(super) struct Covariance {
    /// Sum over the records of each instant times the conjugate of each.
    pub matrix: Matrix,
    /// How many records.
    pub records: usize,
    /// Between instants, seconds.
    pub step: f64,
    /// Variance of the noise of one instant of one record, were it white.
    pub noise: f64,
}

/// Exponentials in a band.
#[derive(Clone, Debug)]
pub(super) struct Poles {
    /// Rates, 1/s: minus the decay constant, and the angular frequency re the middle of the band.
    pub rates: Vec<Number>,
    /// Standard uncertainty of the real part and of the imaginary part of each rate, 1/s.
    pub errors: Vec<f64>,
    /// Standard error of an amplitude in one record, at these rates.
    pub blur: Vec<f64>,
    /// What the uncertainty of the other rates adds to it.
    pub spill: Vec<f64>,
    /// What takes a record to its amplitudes at the first instant: a row each.
    pub readers: Matrix,
}

/// The exponentials in a band.
pub(super) fn poles(heard: &Covariance) -> Poles {
    let mut rates = first_guess(heard);
    loop {
        if rates.is_empty() {
            return Poles {
                rates,
                errors: Vec::new(),
                blur: Vec::new(),
                spill: Vec::new(),
                readers: Matrix::zeros(0, heard.matrix.nrows()),
            };
        }
        for _ in 0..ROUNDS {
            let fit = Fit::new(heard, &rates);
            let change = fit.change();
            rates.iter_mut().zip(&change).for_each(|(rate, change)| *rate += fit.tamed(*change));
            if change.iter().all(|change| change.norm() * fit.length < 1e-9) {
                break;
            }
        }
        let fit = Fit::new(heard, &rates);
        let clear = fit.clear();
        // One after the other: of two that share an exponential neither is clear, and one of them is needed.
        match (0..rates.len()).min_by(|a, b| clear[*a].total_cmp(&clear[*b])) {
            Some(weakest) if clear[weakest] < CLEAR => {
                rates.remove(weakest);
            }
            _ => return fit.poles(rates),
        }
    }
}

/// Rates by rotational invariance, as many as rise above the noise.
fn first_guess(heard: &Covariance) -> Vec<Number> {
    let instants = heard.matrix.nrows();
    // Long pieces tell more modes apart, many pieces average more noise; many records are many pieces already.
    let shifts = (instants as f64 / (1.0 + (heard.records as f64).sqrt())).ceil().max(2.0) as usize;
    let length = instants + 1 - shifts;
    let pieces: Matrix = (0..shifts).map(|shift| heard.matrix.view((shift, shift), (length, length)).into_owned()).sum();
    let SymmetricEigen { eigenvectors, eigenvalues } = SymmetricEigen::new(pieces);
    let mut order: Vec<usize> = (0..length).collect();
    order.sort_by(|a, b| eigenvalues[*b].total_cmp(&eigenvalues[*a]));
    // The greatest eigenvalue of the covariance of nothing but noise (V. Marchenko, L. Pastur, 1967, from memory).
    let rows = (shifts * heard.records) as f64;
    let floor = heard.noise * rows * (1.0 + (length as f64 / rows).sqrt()).powi(2);
    let above = order.iter().filter(|column| eigenvalues[**column] > floor).count().min(length - 2);
    let span = Matrix::from_fn(length, above, |row, column| eigenvectors[(row, order[column])]);
    rotation(&span).iter().map(|factor| factor.ln() / heard.step).filter(|rate| rate.re.is_finite()).collect()
}

/// Eigenvalues of what takes an orthonormal span one step further.
fn rotation(span: &Matrix) -> Vec<Number> {
    if span.is_empty() {
        return Vec::new();
    }
    let last = span.nrows() - 1;
    let (early, late) = (span.rows(0, last), span.rows(1, last));
    let between = early.adjoint() * late;
    // The inverse of `early* early`, which lacks one row of an orthonormal matrix.
    let row = span.row(last).adjoint();
    let rest = 1.0 - row.norm_squared();
    let turn = &between + &row * (row.adjoint() * &between) / Number::from(rest);
    Schur::try_new(turn, f64::EPSILON, 10_000)
        .and_then(|schur| schur.eigenvalues())
        .map_or_else(Vec::new, |values| values.iter().copied().collect())
}

/// Least squares of all records at given rates.
struct Fit {
    /// What takes a record to its amplitudes.
    readers: Matrix,
    /// Sum over the records of each instant times the conjugate of each amplitude.
    read: Matrix,
    /// Sum over the records of an amplitude times the conjugate of another.
    amplitudes: Matrix,
    /// Derivatives by the rates, less what amplitudes can make up for.
    slopes: Matrix,
    /// The amplitudes that make up for the rest of them.
    mixed: Matrix,
    /// Variance of the noise of one instant of one record.
    noise: f64,
    records: f64,
    /// Of the records, seconds.
    length: f64,
}

impl Fit {
    fn new(heard: &Covariance, rates: &[Number]) -> Self {
        let instants = heard.matrix.nrows();
        let time = |instant: usize| instant as f64 * heard.step;
        let columns = Matrix::from_fn(instants, rates.len(), |instant, pole| (rates[pole] * time(instant)).exp());
        let slopes = Matrix::from_fn(instants, rates.len(), |instant, pole| columns[(instant, pole)] * time(instant));
        let (basis, triangle) = columns.qr().unpack();
        let inverse = triangle.solve_upper_triangular(&Matrix::identity(rates.len(), rates.len()));
        let inverse = inverse.unwrap_or_else(|| Matrix::zeros(rates.len(), rates.len()));
        let seen = &heard.matrix * &basis;
        let explained: f64 = basis.column_iter().zip(seen.column_iter()).map(|(basis, seen)| basis.dotc(&seen).re).sum();
        let free = (instants - rates.len()) * heard.records;
        let readers = &inverse * basis.adjoint();
        let along = basis.adjoint() * &slopes;
        let read = seen * inverse.adjoint();
        Self {
            amplitudes: &readers * &read,
            slopes: &slopes - &basis * &along,
            mixed: inverse * along,
            readers,
            read,
            noise: ((heard.matrix.trace().re - explained) / free as f64).max(heard.noise),
            records: heard.records as f64,
            length: time(instants),
        }
    }

    /// The normal matrix of the rates.
    fn normal(&self) -> Matrix {
        (self.slopes.adjoint() * &self.slopes).component_mul(&self.amplitudes.transpose())
    }

    /// One step of Gauss and Newton.
    fn change(&self) -> DVector<Number> {
        let pull: Vec<Number> = self.slopes.column_iter().zip(self.read.column_iter()).map(|(slope, read)| slope.dotc(&read)).collect();
        let pull = DVector::from_vec(pull);
        self.normal().lu().solve(&pull).unwrap_or_else(|| DVector::zeros(pull.len()))
    }

    /// No step longer than the records can tell apart: further off the derivative says nothing.
    fn tamed(&self, change: Number) -> Number {
        let most = 0.25 * TAU / self.length;
        if change.norm() > most { change * (most / change.norm()) } else { change }
    }

    /// Standard error of an amplitude in one record.
    fn blur(&self) -> Vec<f64> {
        self.readers.row_iter().map(|row| row.norm() * self.noise.sqrt()).collect()
    }

    /// Amplitudes, re their standard errors.
    fn clear(&self) -> Vec<f64> {
        let blur = self.blur();
        self.amplitudes.diagonal().iter().zip(&blur).map(|(power, blur)| (power.re.max(0.0) / self.records).sqrt() / blur).collect()
    }

    fn poles(self, rates: Vec<Number>) -> Poles {
        let variances = self.normal().try_inverse().map(|inverse| inverse.diagonal());
        let error = |pole: usize| variances.as_ref().map_or(f64::INFINITY, |all| (0.5 * self.noise * all[pole].re.abs()).sqrt());
        let errors: Vec<f64> = (0..rates.len()).map(error).collect();
        let spilled = |pole: usize, other: usize| {
            self.mixed[(pole, other)].norm_sqr() * 2.0 * errors[other].powi(2) * self.amplitudes[(other, other)].re
        };
        let others = |pole: usize| (0..rates.len()).filter(move |other| *other != pole);
        let spill = |pole: usize| (others(pole).map(|other| spilled(pole, other)).sum::<f64>() / self.records).sqrt();
        let spill = (0..rates.len()).map(spill).collect();
        Poles { blur: self.blur(), spill, rates, errors, readers: self.readers }
    }
}
