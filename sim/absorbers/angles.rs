//! What a build-up absorbs at many angles of one tone, for the price of a few.
//!
//! Whatever the layers, pressure and velocity at the front are entire functions of `x = c^2`, `c` the cosine of the angle of incidence: the angle enters a layer
//! through `q^2 = n^2 - 1 + x` alone, and `cos(q D)`, `q sin(q D)` and `sin(q D) / q` are even in `q`. So a polynomial through a few Chebyshev points of `x` follows them to the last
//! digits where the absorption itself, with its poles, would need hundreds. Of `cos(D c)`, air over the phase `D = k0 d`, the Chebyshev coefficient of order `m` in `x` is
//! `2 J_2m(D)`; since `|sqrt(a) - sqrt(b)| <= sqrt|a - b|`, no fluid of the same thickness grows faster off the real axis, and the phases of layers add up. So
//!
//! `(D / 2)^2m e^(D^2 / (8 m + 4)) / (2 m)!` with the sum of all phases
//!
//! bounds the first term left out of `m` points (`2 I_2m(D)`, its bound by the series of the modified Bessel function), and the points are as many as make it
//! less than 1e-17. Beyond [`MOST_PHASE`], and where sharp resonances let
//! pressure and velocity together be small at some angle, this angle is computed by itself.
//!
//! *References.* L. N. Trefethen, Approximation Theory and Approximation Practice, chapters 5 and 8 (interpolation in Chebyshev points, from memory). Coefficients:
//! M. Abramowitz and I. Stegun, Handbook of Mathematical Functions, 9.1.46 (from memory).
//!
//! *Limits.* Its error is that of the last digits of pressure and velocity: tables of ordinary build-ups are off by less than 1e-11, the diffuse value of the
//! worst of 200,000 random stacks (sharp resonances, fiber like stone) by 3e-9.

use std::f64::consts::PI;
use std::sync::LazyLock;

use num_complex::Complex64;

use super::COSINE_BINS;
use super::average::GAUSS;
use super::layers::Backing;
use super::stack::{Chain, Front, Tone};

/// How many angles a table is made from: three in each bin of the cosine.
pub(super) const ANGLES: usize = GAUSS.len() * COSINE_BINS;

/// Their cosines, grazing first.
pub(super) static COSINES: LazyLock<[f64; ANGLES]> = LazyLock::new(|| {
    let half_width = 0.5 / COSINE_BINS as f64;
    std::array::from_fn(|index| {
        let (bin, node) = (index / GAUSS.len(), index % GAUSS.len());
        (2 * bin + 1) as f64 * half_width + GAUSS[node].0 * half_width
    })
});

/// Beyond this sum of the layers' phases, radians, each angle costs less by itself.
const MOST_PHASE: f64 = 40.0;

/// Beyond this attenuation, nepers, the common scale of all angles might leave the range of numbers.
const MOST_LOSS: f64 = 200.0;

/// How far the first term that a polynomial leaves out may reach.
const LEFT_OUT: f64 = 1e-17;

/// Where the squares of pressure and velocity are smaller than this share of their largest over the angle, the last digits of a polynomial are too few.
const SMALL: f64 = 1e-4;

/// A polynomial in the square of the cosine, from its values at Chebyshev points to those at [`COSINES`].
struct Polynomial {
    /// The points, as cosines.
    points: Vec<f64>,
    /// What each point counts at each of the angles; angles of one point side by side.
    shares: Vec<[f64; ANGLES]>,
}

/// By how many points.
static POLYNOMIALS: LazyLock<Vec<(f64, Polynomial)>> = LazyLock::new(|| {
    [3, 4, 5, 6, 8, 10, 12, 14, 16, 20, 24, 28, 32, 36, 40].map(|points| (most_phase(points), Polynomial::new(points))).into()
});

/// The largest phase that this many points follow.
fn most_phase(points: usize) -> f64 {
    let order = 2.0 * points as f64;
    let log_factorial: f64 = (1..=2 * points).map(|factor| (factor as f64).ln()).sum();
    let is_followed = |phase: f64| order * (0.5 * phase).ln() + phase * phase / (4.0 * order + 4.0) - log_factorial < LEFT_OUT.ln();
    let (mut low, mut high) = (0.0, MOST_PHASE * 2.0);
    for _ in 0..50 {
        let middle = 0.5 * (low + high);
        if is_followed(middle) {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

impl Polynomial {
    fn new(count: usize) -> Self {
        let angle = |point: usize| PI * (point as f64 + 0.5) / count as f64;
        let squares: Vec<f64> = (0..count).map(|point| 0.5 - 0.5 * angle(point).cos()).collect();
        // The barycentric formula; an angle never is a point exactly, since one is rational and the other is not but at 1/2.
        let weights: Vec<f64> = (0..count).map(|point| if point % 2 == 0 { angle(point).sin() } else { -angle(point).sin() }).collect();
        let share = |point: usize, square: f64| weights[point] / (square - squares[point]);
        let sums = COSINES.map(|cosine| (0..count).map(|point| share(point, cosine * cosine)).sum::<f64>());
        let shares = (0..count)
            .map(|point| {
                std::array::from_fn(|index| {
                    let cosine = COSINES[index];
                    share(point, cosine * cosine) / sums[index]
                })
            })
            .collect();
        Self { points: squares.into_iter().map(f64::sqrt).collect(), shares }
    }

    /// Values at all angles from those at the points.
    fn follow(&self, values: &[f64]) -> [f64; ANGLES] {
        let mut all = [0.0; ANGLES];
        for (shares, &value) in self.shares.iter().zip(values) {
            for (sum, share) in all.iter_mut().zip(shares) {
                *sum += share * value;
            }
        }
        all
    }

    /// The same of complex values, real and imaginary parts.
    fn follow_complex(&self, values: &[Complex64]) -> [[f64; ANGLES]; 2] {
        let part = |of: fn(&Complex64) -> f64| self.follow(&values.iter().map(of).collect::<Vec<f64>>());
        [part(|value| value.re), part(|value| value.im)]
    }
}

/// Absorption coefficient at [`COSINES`].
pub(super) fn absorption(tone: &Tone) -> [f64; ANGLES] {
    let (phase, loss) = tone.phase_and_loss();
    match POLYNOMIALS.iter().find(|(most, _)| phase <= *most) {
        Some((_, polynomial)) if phase <= MOST_PHASE && loss <= MOST_LOSS => followed(tone, loss, polynomial),
        _ => COSINES.map(|cosine| tone.absorption(cosine)),
    }
}

/// The layers as a chain at [`COSINES`].
pub(super) fn chains(tone: &Tone) -> Vec<Chain> {
    let (phase, loss) = tone.phase_and_loss();
    match POLYNOMIALS.iter().find(|(most, _)| phase <= *most) {
        Some((_, polynomial)) if phase <= MOST_PHASE && loss <= MOST_LOSS => {
            let columns = [Front::of(1.0, 0.0), Front::of(0.0, 1.0)].map(|start| column(tone, start, loss, polynomial));
            let scale = (-loss).exp();
            let front = |(pressure, velocity): &Column, index: usize| {
                let of = |parts: &[[f64; ANGLES]; 2]| Complex64::new(parts[0][index], parts[1][index]);
                Front { pressure: of(pressure), velocity: of(velocity), scale }
            };
            (0..ANGLES).map(|index| Chain::of(front(&columns[0], index), front(&columns[1], index))).collect()
        }
        _ => COSINES.iter().map(|&cosine| tone.chain(cosine)).collect(),
    }
}

/// Pressure and velocity at the front at [`COSINES`], real and imaginary parts, all made smaller by `e^loss`.
type Column = ([[f64; ANGLES]; 2], [[f64; ANGLES]; 2]);

fn column(tone: &Tone, start: Front, loss: f64, polynomial: &Polynomial) -> Column {
    let fronts: Vec<Front> = polynomial.points.iter().map(|&cosine| tone.carried(start, cosine).scaled(loss)).collect();
    let part = |of: fn(&Front) -> Complex64| polynomial.follow_complex(&fronts.iter().map(of).collect::<Vec<Complex64>>());
    (part(|front| front.pressure), part(|front| front.velocity))
}

fn followed(tone: &Tone, loss: f64, polynomial: &Polynomial) -> [f64; ANGLES] {
    let column = |start: Front| column(tone, start, loss, polynomial);
    let (mut pressure, mut velocity) = column(Front::of(1.0, 0.0));
    let passed = match tone.backing() {
        Backing::Rigid => 0.0,
        Backing::FreeAir => {
            let (more_pressure, more_velocity) = column(Front::of(0.0, 1.0));
            for (whole, more) in [(&mut pressure, &more_pressure), (&mut velocity, &more_velocity)] {
                for (whole, more) in whole.iter_mut().zip(more) {
                    for ((whole, more), cosine) in whole.iter_mut().zip(more).zip(&*COSINES) {
                        *whole += more * cosine;
                    }
                }
            }
            (-2.0 * loss).exp()
        }
    };
    let fronts: [Front; ANGLES] = std::array::from_fn(|index| {
        let of = |parts: &[[f64; ANGLES]; 2]| Complex64::new(parts[0][index], parts[1][index]);
        Front { pressure: of(&pressure), velocity: of(&velocity), scale: 1.0 }
    });
    let largest = fronts.iter().map(Front::size).fold(0.0, f64::max);
    std::array::from_fn(|index| {
        let cosine = COSINES[index];
        if fronts[index].size() < SMALL * largest { tone.absorption(cosine) } else { fronts[index].absorbed(cosine, passed) }
    })
}
