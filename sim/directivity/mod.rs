//! How sources send and microphones take in different directions.
//!
//! Energy sent at an angle `theta` from the axis, re that on the axis, averaged over an octave; `c` is the cosine of `theta`:
//!
//! - `Omni`: 1.
//! - `Piston` of radius `a` in a wall: `(2 J1(x) / x)^2`, `x = k a sin theta`, in front (`c >= 0`). Behind, the value at 90 degrees holds.
//! - `Polar`: measured levels at angles off the axis by octave, see `polar`.
//! - `Forward`: `((1 - b) + b c)^2`; `b` rises by octave from 0.05 at 63 Hz to 0.40 at 8 kHz: to the rear -0.9 dB at 63 Hz, -6 dB at 1 kHz, -14 dB at 8 kHz.
//!
//! An octave of a piston is the mean energy over the logarithm of frequency, each frequency re its own value on the axis (the source is equalized flat on its axis);
//! by Gauss and Legendre's rule with 32 points, within 1e-6 of the exact mean for pistons of up to 0.5 m. The mean over all directions in front is
//! `2 (1 - J1(2 k a) / (k a)) / (k a)^2` at each of these frequencies.
//! Microphones of first order take in the pressure `omni + (1 - omni) c`.
//!
//! *References.* Piston and its directivity factor: L. L. Beranek, Acoustics (1954), chapter 4 (from memory). Bessel function: M. Abramowitz and I. A. Stegun (1964),
//! 9.1.10 and 9.2.5; Gauss and Legendre's rule there, 25.4.29; interpolation through four points, 25.2.13.
//! Forward law: common practice, no source.
//!
//! *Limits.* The box is not there behind the piston: its shadow, its edges and the bending of sound round it at low frequencies are not modeled, so the rear is too loud
//! at high frequencies. Several drivers and horns are not modeled; measured data hold both. Voices and instruments differ from each other by more than the forward
//! law from any of them. [`Directivity::limits`] says so in sentences.

pub mod polar;

use std::f64::consts::{FRAC_PI_4, PI, TAU};
use std::sync::LazyLock;

use self::polar::Polar;
use crate::bands::{Band, Bands};

/// How many frequencies an octave's mean is taken over.
const FREQUENCIES: usize = 32;

/// `b` of the forward law by octave.
const FORWARD: [f64; 8] = [0.05, 0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40];

/// Steps of a [`DirectivityTable`] while `k a sin theta` grows by 1 at the upper end of the highest octave.
const STEPS: f64 = 16.0;

/// How a source sends.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(clippy::large_enum_variant, reason = "a room has few sources, and a value that is copied like a number asks nothing of its users")]
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
    /// As measured.
    Polar(Polar),
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
            Self::Piston { radius } => octaves_of_piston(radius * sine_in_front(cosine), speed),
            Self::Forward => Bands(FORWARD.map(|b| {
                let pressure = 1.0 - b + b * cosine;
                pressure * pressure
            })),
            Self::Polar(polar) => polar.energy(cosine),
        }
    }

    /// The word of the scene text for it.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Omni => "omni",
            Self::Piston { .. } => "piston",
            Self::Forward => "forward",
            Self::Polar(_) => "polar",
        }
    }

    /// What it leaves out or takes for granted, in sentences.
    #[must_use]
    pub fn limits(&self) -> Vec<String> {
        match self {
            Self::Omni => Vec::new(),
            Self::Piston { .. } => vec![
                "It sends as a piston in a wall does; the box, its edges and its shadow are not modeled, so that the rear is too loud at high frequencies. \
                 Measured polar data are better."
                    .to_owned(),
            ],
            Self::Forward => vec![
                "It sends by a simple forward law, common practice without a source; voices and instruments differ from each other by more than that.".to_owned(),
            ],
            Self::Polar(polar) => polar_limits(polar),
        }
    }

    /// Mean over all directions of the energy sent, re that on the axis: what a diffuse field gets of it.
    #[must_use]
    pub fn mean_energy(self, speed: f64) -> Bands<f64> {
        match self {
            Self::Omni => Bands::splat(1.0),
            Self::Polar(polar) => polar.mean_energy(),
            // The mean of (1 - b + b c)^2 over c is (1 - b)^2 + b^2 / 3.
            Self::Forward => Bands(FORWARD.map(|b| (1.0 - b) * (1.0 - b) + b * b / 3.0)),
            Self::Piston { radius } => {
                let behind = octaves_of_piston(radius, speed);
                octaves(|frequency| mean_in_front(TAU * frequency / speed * radius)).zip(behind, |front, behind| 0.5 * (front + behind))
            }
        }
    }
}

/// What the measured levels of a source do not say.
fn polar_limits(polar: &Polar) -> Vec<String> {
    let mut limits =
        vec!["Its measured arc is taken for every direction round its axis, levels in dB linear between the angles given.".to_owned()];
    let filled = Band::ALL.into_iter().filter(|&band| polar.taken_from(band) != band);
    let filled: Vec<String> = filled.map(|band| format!("{} as {}", band.label(), polar.taken_from(band).label())).collect();
    if !filled.is_empty() {
        limits.push(format!("Octaves without data send as the nearest one that has them: {}.", filled.join(", ")));
    }
    let last = polar.angles_deg().last().copied().unwrap_or_default();
    if last < 180.0 {
        limits.push(format!("Nothing is known of it beyond {last} degrees: the level there is taken for all that lies behind."));
    }
    limits
}

/// A directivity made ready for quick reading.
///
/// A piston is tabulated over `sin(theta)`, over which its beam is even and smooth everywhere, and read by the cubic through the four nearest values: with steps of `h`
/// in `k a sin(theta)` that is off by at most `3/128 h^4` times its fourth derivative, 5/8 on the axis and less beyond, 2e-7 of the energy on the axis whatever
/// the piston's size (tested). Everything else is read as it is.
#[derive(Clone, Debug, PartialEq)]
pub struct DirectivityTable {
    sent: Sent,
    mean: Bands<f64>,
}

/// What a table reads.
#[derive(Clone, Debug, PartialEq)]
enum Sent {
    /// The sine in so many equal steps, from one step before the axis to one beyond the side.
    Piston { steps: f64, values: Vec<Bands<f64>> },
    /// By its law or as measured, where sound travels at `speed` m/s.
    Plain { directivity: Box<Directivity>, speed: f64 },
}

impl DirectivityTable {
    /// The table of this directivity where sound travels at `speed` m/s.
    #[must_use]
    pub fn new(directivity: Directivity, speed: f64) -> Self {
        let sent = match directivity {
            Directivity::Piston { radius } => {
                let steps = (STEPS * TAU * Band::ALL[Band::ALL.len() - 1].upper() / speed * radius).ceil();
                let sine = |index: usize| (index as f64 - 1.0) / steps;
                Sent::Piston {
                    steps,
                    values: (0..steps as usize + 3).map(|index| octaves_of_piston(radius * sine(index), speed)).collect(),
                }
            }
            Directivity::Omni | Directivity::Forward | Directivity::Polar(_) => Sent::Plain { directivity: Box::new(directivity), speed },
        };
        Self { sent, mean: directivity.mean_energy(speed) }
    }

    /// Energy sent at an angle of this cosine from the axis, re that on the axis.
    #[must_use]
    pub fn energy(&self, cosine: f64) -> Bands<f64> {
        let (steps, values) = match &self.sent {
            Sent::Piston { steps, values } => (steps, values),
            Sent::Plain { directivity, speed } => return directivity.energy(cosine, *speed),
        };
        let place = sine_in_front(cosine) * steps;
        // The last interval takes in its end.
        let low = (place as usize).min(values.len() - 4);
        let share = place - low as f64;
        let (before, after, beyond) = (share + 1.0, share - 1.0, share - 2.0);
        let weights =
            [-share * after * beyond / 6.0, before * after * beyond / 2.0, -before * share * beyond / 2.0, before * share * after / 6.0];
        Bands(std::array::from_fn(|band| (0..4).map(|near| weights[near] * values[low + near].0[band]).sum()))
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

/// Sine of the angle off the axis, its cosine given; that of the side for what lies behind.
fn sine_in_front(cosine: f64) -> f64 {
    let front = cosine.clamp(0.0, 1.0);
    ((1.0 - front) * (1.0 + front)).sqrt()
}

/// What a piston sends by octave, `across` being its radius in meters times the sine of the angle off its axis.
fn octaves_of_piston(across: f64, speed: f64) -> Bands<f64> {
    octaves(|frequency| piston(TAU * frequency / speed * across))
}

/// Mean over all directions in front of what a piston of this `k a` sends, re its axis.
fn mean_in_front(ka: f64) -> f64 {
    // The closed form is a small difference there; the first terms of the beam's series stand for it.
    if ka < 1e-3 { 1.0 - ka * ka / 6.0 } else { 2.0 * (1.0 - bessel_j1(2.0 * ka) / ka) / (ka * ka) }
}

/// The mean over every octave, on a logarithmic scale, of what depends on the frequency in Hz.
fn octaves(value: impl Fn(f64) -> f64) -> Bands<f64> {
    Bands::from_fn(|band| {
        let ratio = band.upper() / band.lower();
        GAUSS.iter().map(|(place, weight)| weight * value(band.lower() * ratio.powf(*place))).sum()
    })
}

/// Places in (0, 1) and weights of Gauss and Legendre's rule: the zeros of Legendre's polynomial by Newton's method.
static GAUSS: LazyLock<[(f64, f64); FREQUENCIES]> = LazyLock::new(|| {
    std::array::from_fn(|index| {
        let mut zero = (PI * (index as f64 + 0.75) / (FREQUENCIES as f64 + 0.5)).cos();
        let mut slope = 1.0;
        // From this beginning four steps reach the last bit.
        for _ in 0..8 {
            let (mut before, mut legendre) = (1.0, zero);
            for degree in 2..=FREQUENCIES {
                let degree = degree as f64;
                (before, legendre) = (legendre, ((2.0 * degree - 1.0) * zero * legendre - (degree - 1.0) * before) / degree);
            }
            slope = FREQUENCIES as f64 * (before - zero * legendre) / (1.0 - zero * zero);
            zero -= legendre / slope;
        }
        (0.5 * (1.0 + zero), 1.0 / ((1.0 - zero * zero) * slope * slope))
    })
});
