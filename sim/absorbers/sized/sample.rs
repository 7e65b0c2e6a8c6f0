//! A tabled absorption coefficient, measured on a sample of finite size, turned back into a material.
//!
//! A reverberation room tells the equivalent absorption area of a sample, divided by its area: what a finite piece absorbs, above 1 where its edges draw in more than falls
//! on it. The material is found as the one of a family whose piece of that size absorbs the tabled value. Two families:
//!
//! - [`Sample::material`]: nothing is known but the value. A real locally reacting impedance, held through the octave, as `impedance` takes one for rows of
//!   tables: the endless surface absorbs `a`, from 0 to 0.95122, and its piece more, rising with `a`. Where no resistance reaches the value and a deep layer matched to air
//!   would (from 1 kHz on), the mosaic of both that `impedance` takes above 0.95122, up to its greatest value kept, 0.99.
//! - [`Sample::parameter`]: something is known, say the thickness. Any family of impedances with one number to find; the least number that fits.
//!
//! Where no member reaches the value, the one that comes closest is given and marked `capped`.
//!
//! *References.* The measurement: ISO 354 (sample of 10 to 12 m2, width to length 0.7 to 1; from memory). The inversion is our own.
//!
//! *Limits.* A resistance takes too little off: most thin layers are springs, which the mass of the air at the edges meets half way. 100 mm of 20 kPa s/m2 at 125 Hz absorb
//! 0.90 on a sample; a resistance that does absorbs 0.63 without edges, the layer 0.45. Known thickness closes the gap (`tests/sized.rs`). The wall round the sample counts as
//! hard, its sides as covered.

use std::fmt;
use std::sync::LazyLock;

use num_complex::Complex64;

use super::super::impedance::{GREATEST_ABSORPTION, GREATEST_KEPT};
use super::{Array, Octaves};
use crate::bands::{Band, Bands};

/// Halvings that take an interval to its last bits.
const HALVINGS: u32 = 60;

/// Steps, equal on a logarithmic scale, in which the first greatest absorption of a family is looked for.
const STEPS: u32 = 60;

/// The usual sample.
static USUAL: LazyLock<Sample> = LazyLock::new(|| Sample::new(3.6, 3.0).expect("3.6 x 3.0 m is a size"));

/// A piece of a material as it was measured.
#[derive(Clone, Debug)]
pub struct Sample {
    /// Width and height in meters.
    size: [f64; 2],
    octaves: Octaves,
    /// By octave, the endless absorption of the resistance of which it absorbs most.
    summit: Bands<f64>,
}

/// A material as found from a sample, in one octave.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Found {
    /// What it absorbs of a diffuse field as an endless surface, 0 to [`GREATEST_KEPT`].
    pub absorption: f64,
    /// Whether the sample absorbed more than one of any such material would.
    pub capped: bool,
}

impl fmt::Display for Sample {
    fn fmt(&self, formatter: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(formatter, "sample of {:.1} x {:.1} m", self.size[0], self.size[1])
    }
}

impl Sample {
    /// Of this width and height in meters; `None` where they are no sizes.
    #[must_use]
    pub fn new(width: f64, height: f64) -> Option<Self> {
        let octaves = Array::single(width, height)?.octaves();
        // It lies a hair beside that of which an endless surface absorbs most; of two that absorb alike the harder is taken.
        let summit = Bands::from_fn(|band| summit(0.9, GREATEST_ABSORPTION, |material| octaves.material(band, material)));
        Some(Self { size: [width, height], octaves, summit })
    }

    /// 3.6 x 3.0 m, 10.8 m2: taken where a table does not say.
    #[must_use]
    pub fn usual() -> &'static Self {
        &USUAL
    }

    /// The absorption coefficients, octave by octave, of the endless material whose sample absorbs these.
    ///
    /// Undefined and negative values count as 0.
    #[must_use]
    pub fn material(&self, tabled: Bands<f64>) -> Bands<Found> {
        Bands::from_fn(|band| self.material_in(band, tabled[band]))
    }

    /// What the sample of an endless material absorbs that is known by its absorption coefficient, 0 to 1: the inverse of [`Sample::material`].
    #[must_use]
    pub fn absorption(&self, band: Band, material: f64) -> f64 {
        self.octaves.material(band, material)
    }

    /// The number, within a range of positive ones, of the member of a family of impedances (re air, by number, frequency in Hz and cosine of incidence) whose sample
    /// absorbs the tabled value; on the branch that rises from the range's lower end. Its second part says whether the value lies beyond that branch: then the number is
    /// that of its nearer end.
    #[must_use]
    pub fn parameter(&self, band: Band, tabled: f64, range: (f64, f64), family: impl Fn(f64, f64, f64) -> Complex64) -> (f64, bool) {
        let of = |number: f64| self.octaves.absorption_in(band, |frequency, cosine| family(number, frequency, cosine));
        let (low, high) = (range.0.min(range.1), range.0.max(range.1));
        let at = |step: u32| low * (high / low).powf(f64::from(step) / f64::from(STEPS));
        let mut before = of(low);
        if before >= tabled {
            return (low, before > tabled);
        }
        for step in 1..=STEPS {
            let here = of(at(step));
            if here >= tabled {
                return (between(at(step - 1), at(step), |number| of(number) < tabled), false);
            }
            if here < before {
                let peak = summit(at(step.saturating_sub(2)), at(step), of);
                let reached = of(peak) >= tabled;
                return (if reached { between(at(step.saturating_sub(2)), peak, |number| of(number) < tabled) } else { peak }, !reached);
            }
            before = here;
        }
        (high, true)
    }

    fn material_in(&self, band: Band, tabled: f64) -> Found {
        let tabled = if tabled.is_nan() { 0.0 } else { tabled.max(0.0) };
        let of = |material: f64| self.absorption(band, material);
        let resistance = self.summit[band];
        if tabled <= of(resistance) {
            return Found { absorption: between(0.0, resistance, |material| of(material) < tabled), capped: false };
        }
        // The mosaic goes on from there where it adds anything.
        if of(GREATEST_KEPT) <= of(resistance) {
            return Found { absorption: resistance, capped: true };
        }
        if tabled > of(GREATEST_KEPT) {
            return Found { absorption: GREATEST_KEPT, capped: true };
        }
        Found { absorption: between(resistance, GREATEST_KEPT, |material| of(material) < tabled), capped: false }
    }
}

/// Where a condition that holds at the lower end of an interval ends.
fn between(mut low: f64, mut high: f64, holds: impl Fn(f64) -> bool) -> f64 {
    for _ in 0..HALVINGS {
        let middle = 0.5 * (low + high);
        if holds(middle) { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// Where a function that rises and then falls is greatest, by thirds.
fn summit(mut low: f64, mut high: f64, of: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..HALVINGS {
        let third = (high - low) / 3.0;
        if of(low + third) < of(high - third) { low += third } else { high -= third }
    }
    0.5 * (low + high)
}
