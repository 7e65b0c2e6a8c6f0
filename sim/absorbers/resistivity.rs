//! How strongly fiber resists the flow of air, from what a label says: density and diameter of the fibers.
//!
//! With density `m` in kg/m3, fiber diameter `b` and radius `a = b / 2` in meters, viscosity `eta`, and `s = m / (density of the fiber itself)`:
//!
//! - glass: `3.2 eta s^1.42 / a^2` and `3.18e-9 m^1.53 / b^2`;
//! - mineral (rock or slag): `4.4 eta s^1.59 / a^2` and `3.18e-9 m^1.53 / b^2`;
//! - polyester: `15e-9 m^1.53 / b^2` and `26 m^1.404` measured at 33 micrometers, taken over to other diameters by `1 / b^2`.
//!
//! The likely value is the geometric mean of the two laws; the range reaches from the lower to the higher, and where no diameter is given, from the thickest to the
//! thinnest fibers in use ([`Fiber::usual_diameters`]). A value that the user knows wins over all of this.
//!
//! *References.* T. J. Cox and P. D'Antonio, Acoustic Absorbers and Diffusers, table 5.1 (the first law of each; a transcription was read). D. A. Bies and C. H. Hansen, Appl. Acoust. 14
//! (1980) (from memory). M. Garai and F. Pompoli, Appl. Acoust. 66 (2005) (from memory). Densities of the fibers themselves and usual diameters: common practice, from memory.
//!
//! *Limits.* Fibers of one diameter, laid at random and pressed to a board. Shot (beads that did not become fiber) adds mass without resistance: mineral wool may
//! have a third less. A declared value of a product is a least one and better than any law.

use super::fluid::AIR_VISCOSITY;

/// What the fibers are made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Fiber {
    /// Glass wool.
    Glass,
    /// Wool of rock or slag.
    Mineral,
    /// Polyester fleece.
    Polyester,
}

/// What the laws say of one material: likely, lowest and highest flow resistivity, Pa s/m2.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Estimate {
    /// Geometric mean of the laws at the usual or the given diameter.
    pub likely: f64,
    /// The least that a law says.
    pub low: f64,
    /// The most that a law says.
    pub high: f64,
}

impl Fiber {
    /// Density of the fiber itself, kg/m3.
    #[must_use]
    pub fn solid_density(self) -> f64 {
        match self {
            Self::Glass => 2500.0,
            Self::Mineral => 2700.0,
            Self::Polyester => 1380.0,
        }
    }

    /// Diameters in use, in meters: thinnest, usual, thickest.
    #[must_use]
    pub fn usual_diameters(self) -> [f64; 3] {
        match self {
            Self::Glass | Self::Mineral => [5e-6, 6e-6, 8e-6],
            Self::Polyester => [15e-6, 20e-6, 33e-6],
        }
    }

    /// Flow resistivity in Pa s/m2 at a density in kg/m3 and fiber diameter in meters, by each law.
    #[must_use]
    pub fn laws(self, density: f64, diameter: f64) -> [f64; 2] {
        let square = diameter * diameter;
        let share = density / self.solid_density();
        let by_diameter = 3.18e-9 * density.powf(1.53) / square;
        match self {
            Self::Glass => [3.2 * AIR_VISCOSITY * share.powf(1.42) / (0.25 * square), by_diameter],
            Self::Mineral => [4.4 * AIR_VISCOSITY * share.powf(1.59) / (0.25 * square), by_diameter],
            Self::Polyester => [15e-9 * density.powf(1.53) / square, 26.0 * density.powf(1.404) * 33e-6_f64.powi(2) / square],
        }
    }

    /// What the laws say at a density in kg/m3 and, where it is known, a fiber diameter in meters; nothing where these are no positive numbers, or the
    /// material would be denser than its fibers.
    #[must_use]
    pub fn resistivity(self, density: f64, diameter: Option<f64>) -> Option<Estimate> {
        let [thinnest, usual, thickest] = diameter.map_or_else(|| self.usual_diameters(), |diameter| [diameter; 3]);
        let plausible = density > 0.0 && density < self.solid_density() && thinnest > 0.0 && thinnest.is_finite();
        plausible.then(|| {
            let [first, second] = self.laws(density, usual);
            let least = self.laws(density, thickest);
            let most = self.laws(density, thinnest);
            Estimate { likely: (first * second).sqrt(), low: least[0].min(least[1]), high: most[0].max(most[1]) }
        })
    }
}
