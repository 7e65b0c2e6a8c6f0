//! How sources send and microphones take in different directions.
//!
//! Energy sent at an angle `theta` from the axis, re that on the axis, averaged over an octave; `c` is the cosine of `theta`:
//!
//! - `Omni`: 1.
//! - `Piston` of radius `a` in a wall: `(2 J1(x) / x)^2`, `x = k a sin theta`, in front (`c >= 0`). Behind, the value at 90 degrees holds.
//! - `Forward`: `((1 - b) + b c)^2`; `b` rises by octave from 0.05 at 63 Hz to 0.40 at 8 kHz: to the rear -0.9 dB at 63 Hz, -6 dB at 1 kHz, -14 dB at 8 kHz.
//!
//! An octave is the mean energy of [`FREQUENCIES_PER_OCTAVE`] frequencies, log-spaced over the band, each re its own value on the axis (the source is equalized flat on its axis).
//! Microphones of first order take in the pressure `omni + (1 - omni) c`.
//!
//! *References.* Piston: L. L. Beranek, Acoustics (1954), chapter 4 (from memory). Bessel function: M. Abramowitz and I. A. Stegun (1964), 9.1.10 and 9.2.5.
//! Forward law: common practice, no source.
//!
//! *Limits.* The box is not there behind the piston: its shadow and the bending of sound round it at low frequencies are not modeled, so the rear is too loud at high
//! frequencies. Several drivers and horns are not modeled. Voices differ from each other by more than the forward law from any of them.

use std::f64::consts::{FRAC_PI_4, PI, TAU};

use crate::bands::{Band, Bands};

/// How many log-spaced frequencies stand for an octave.
pub const FREQUENCIES_PER_OCTAVE: usize = 9;

/// `b` of the forward law by octave.
const FORWARD: [f64; 8] = [0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40];

/// Intervals of a [`DirectivityTable`].
const INTERVALS: usize = 2048;

/// How a source sends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Directivity {
    /// The same into every direction.
    Omni,
    /// A rigid circular piston of this radius in meters, in a box.
    Piston {
        /// Radius in meters.
        radius: f64,
    },
    /// A talking head or an instrument: a forward law, see above.
    Forward,
}

impl Directivity {
    /// Energy sent at an angle of this cosine from the axis, re that on the axis; `speed` is that of sound in m/s.
    ///
    /// For many directions use a [`DirectivityTable`].
    #[must_use]
    pub fn energy(self, cosine: f64, speed: f64) -> Bands<f64> {
        let cosine = cosine.clamp(-1.0, 1.0);
        match self {
            Self::Omni => Bands::splat(1.0),
            Self::Piston { radius } => {
                let front = cosine.max(0.0);
                let sine = (1.0 - front * front).sqrt();
                Bands::from_fn(|band| {
                    let sum: f64 = octave_frequencies(band).map(|frequency| piston(TAU * frequency / speed * radius * sine)).iter().sum();
                    sum / FREQUENCIES_PER_OCTAVE as f64
                })
            }
            Self::Forward => Bands(FORWARD.map(|b| {
                let pressure = 1.0 - b + b * cosine;
                pressure * pressure
            })),
        }
    }

    /// Mean over all directions of the energy sent, re that on the axis: what a diffuse field gets of it.
    #[must_use]
    pub fn mean_energy(self, speed: f64) -> Bands<f64> {
        match self {
            Self::Omni => Bands::splat(1.0),
            // The mean of (1 - b + b c)^2 over c is (1 - b)^2 + b^2 / 3.
            Self::Forward => Bands(FORWARD.map(|b| (1.0 - b) * (1.0 - b) + b * b / 3.0)),
            Self::Piston { .. } => {
                // Over c = 0..1 in front by Simpson's rule, a constant behind.
                const STEPS: usize = 512;
                let mut front = Bands::splat(0.0);
                for step in 0..=STEPS {
                    let weight = if step == 0 || step == STEPS {
                        1.0
                    } else if step % 2 == 1 {
                        4.0
                    } else {
                        2.0
                    };
                    front = front + self.energy(step as f64 / STEPS as f64, speed) * (weight / (3 * STEPS) as f64);
                }
                (front + self.energy(0.0, speed)) * 0.5
            }
        }
    }
}

/// A directivity tabulated for quick reading.
///
/// Linear between 2048 equal steps of `sin(theta / 2)`; off by at most 2e-4 of the energy on the axis for pistons of up to 0.2 m radius (tested).
#[derive(Clone, Debug, PartialEq)]
pub struct DirectivityTable {
    values: Vec<Bands<f64>>,
    mean: Bands<f64>,
}

impl DirectivityTable {
    /// The table of this directivity where sound travels at `speed` m/s.
    #[must_use]
    pub fn new(directivity: Directivity, speed: f64) -> Self {
        let values = (0..=INTERVALS)
            .map(|index| {
                let half_sine = index as f64 / INTERVALS as f64;
                directivity.energy(1.0 - 2.0 * half_sine * half_sine, speed)
            })
            .collect();
        Self { values, mean: directivity.mean_energy(speed) }
    }

    /// Energy sent at an angle of this cosine from the axis, re that on the axis.
    #[must_use]
    pub fn energy(&self, cosine: f64) -> Bands<f64> {
        let place = (0.5 * (1.0 - cosine)).clamp(0.0, 1.0).sqrt() * INTERVALS as f64;
        let low = (place as usize).min(INTERVALS - 1);
        let share = place - low as f64;
        self.values[low].zip(self.values[low + 1], |a, b| a + share * (b - a))
    }

    /// Mean over all directions of the energy sent, re that on the axis.
    #[must_use]
    pub fn mean_energy(&self) -> Bands<f64> {
        self.mean
    }
}

/// First-order microphone pattern: pressure factor `omni + (1 - omni) cos`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pattern {
    /// 1 omni, 0.5 cardioid, 0 figure of eight.
    pub omni: f64,
}

impl Pattern {
    /// Pressure taken in from an angle of this cosine from the axis, re that from the axis; negative where it is turned round.
    #[must_use]
    pub fn pressure(self, cosine: f64) -> f64 {
        self.omni + (1.0 - self.omni) * cosine
    }

    /// Energy taken in from an angle of this cosine from the axis, re that from the axis.
    #[must_use]
    pub fn energy(self, cosine: f64) -> f64 {
        self.pressure(cosine).powi(2)
    }

    /// Mean over all directions of the energy taken in, re that from the axis.
    #[must_use]
    pub fn mean_energy(self) -> f64 {
        let gradient = 1.0 - self.omni;
        self.omni * self.omni + gradient * gradient / 3.0
    }
}

/// `(2 J1(x) / x)^2`.
#[must_use]
pub fn piston(x: f64) -> f64 {
    if x.abs() < 1e-8 {
        return 1.0;
    }
    let pressure = 2.0 * bessel_j1(x) / x;
    pressure * pressure
}

/// The Bessel function of the first kind and order 1, within 1e-10.
///
/// The power series up to 12, beyond it the expansion for large arguments, cut at its smallest term.
#[must_use]
pub fn bessel_j1(x: f64) -> f64 {
    let size = x.abs();
    if size.is_nan() || size.is_infinite() {
        return 0.0;
    }
    let value = if size < 12.0 { j1_series(size) } else { j1_far(size) };
    // An odd function.
    value * x.signum()
}

/// `sum (-1)^n (x/2)^(2n+1) / (n! (n+1)!)`.
fn j1_series(x: f64) -> f64 {
    let quarter = 0.25 * x * x;
    let mut term = 0.5 * x;
    let mut sum = term;
    for n in 1..60 {
        term *= -quarter / (f64::from(n) * f64::from(n + 1));
        sum += term;
        if term.abs() < 1e-17 * sum.abs() {
            break;
        }
    }
    sum
}

/// `sqrt(2 / (pi x)) [P cos(x - 3 pi / 4) - Q sin(x - 3 pi / 4)]` with the asymptotic series for P and Q.
fn j1_far(x: f64) -> f64 {
    let (mut even, mut odd) = (1.0, 0.0);
    let mut term = 1.0_f64;
    for n in 1..40 {
        let order = f64::from(2 * n - 1);
        let next = term * (4.0 - order * order) / (f64::from(n) * 8.0 * x);
        if next.abs() > term.abs() {
            break;
        }
        term = next;
        // The signs go + + - - with the order of the term.
        match n % 4 {
            1 => odd += term,
            2 => even -= term,
            3 => odd -= term,
            _ => even += term,
        }
    }
    let (sine, cosine) = (x - 3.0 * FRAC_PI_4).sin_cos();
    (2.0 / (PI * x)).sqrt() * (even * cosine - odd * sine)
}

/// Frequencies in Hz that stand for an octave: the middles of equal shares on a log scale.
fn octave_frequencies(band: Band) -> [f64; FREQUENCIES_PER_OCTAVE] {
    std::array::from_fn(|index| {
        let place = (index as f64 + 0.5) / FREQUENCIES_PER_OCTAVE as f64;
        band.lower() * (band.upper() / band.lower()).powf(place)
    })
}
