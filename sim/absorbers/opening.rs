//! What holes and slots in a thin sheet are to sound: the mass and the friction of the air that moves through them.
//!
//! A sheet of thickness `t`, of which the share `e` is open, adds the impedance (per area of the sheet)
//!
//! `Z = (1 / e) [j w rho0 (t H + (D1 + D2) d) + 4 Rs]`
//!
//! - `H` is the density of air between walls that hold it, re free air. Round holes of diameter `b`: `1 / (1 - 2 J1(q) / (q J0(q)))`, `q = x sqrt(-j)`,
//!   `x = (b / 2) sqrt(w rho0 / eta)`. Slots of width `b`: `1 / (1 - tanh(u) / u)`, `u = x sqrt(j)`.
//! - `d` is the end correction of one side. Round holes: `8 b / (6 pi)` times Fok's function of `sqrt(e)`, by which neighbors hinder each other less the closer they are.
//!   Slots: `(b / pi) ln(1 / sin(pi e / 2))`, the flow through a grating, in which the neighbors are. Both vanish where all is open.
//! - `D1`, `D2` are the densities, re air, of what lies at the two sides: where fiber touches the sheet, the air that crowds into a hole rubs on it.
//! - `4 Rs`, `Rs = sqrt(2 eta w rho0) / 2`: the friction on the faces of the sheet, two for each face.
//!
//! *References.* I. B. Crandall, Theory of Vibrating Systems and Sound (1926); C. Zwikker and C. W. Kosten, Sound Absorbing Materials (1949) (holes and slots). V. A. Fok (1941),
//! its coefficients as in T. H. Melling, J. Sound Vib. 29 (1973). J. M. A. Smits and C. W. Kosten, Acustica 1 (1951) (end of a slot). U. Ingard, J. Acoust. Soc. Am. 25 (1953)
//! (friction on the faces); J.-F. Allard and N. Atalla, Propagation of Sound in Porous Media, chapter 9 (the neighbor's density). All from memory; the end corrections
//! are held to each other and to their limits by tests.
//!
//! *Limits.* Quiet sound: no whirls. Holes much smaller than a wavelength, on a square grid; the friction on the faces is known to a factor of two. Fiber at the
//! back is taken to be thicker than the end correction; cloth stretched over the holes acts with the whole area of the sheet: where it is glued on, its
//! resistance is that of the cloth divided by the open share.

use std::f64::consts::{FRAC_1_SQRT_2, FRAC_PI_2, PI, TAU};

use num_complex::Complex64;

use super::fluid::{AIR_DENSITY, AIR_IMPEDANCE, AIR_VISCOSITY};

/// The form of the openings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Form {
    /// Round holes, on a square grid.
    Round,
    /// Long parallel slots.
    Slot,
}

/// A thin sheet with openings.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sheet {
    /// Form of its openings.
    pub form: Form,
    /// Diameter of the holes or width of the slots, meters.
    pub width: f64,
    /// Share of the area that is open.
    pub open: f64,
    /// Thickness in meters.
    pub thickness: f64,
}

/// Coefficients of the inverse of Fok's function, by power of the root of the open share.
const FOK: [f64; 9] = [1.0, -1.4092, 0.0, 0.33818, 0.0, 0.06793, -0.02287, 0.03015, -0.01641];

/// Above this ratio of the radius to the layer that the walls hold, the asymptotic series of Bessel's functions is exact to 1e-6.
const WIDE: f64 = 50.0;

impl Sheet {
    /// End correction of one side in meters.
    #[must_use]
    pub fn end_correction(&self) -> f64 {
        match self.form {
            Form::Round => {
                let root = self.open.sqrt();
                let crowd = FOK.iter().rev().fold(0.0, |sum, &coefficient| sum * root + coefficient);
                8.0 / (6.0 * PI) * self.width * crowd.max(0.0)
            }
            Form::Slot => -self.width / PI * (FRAC_PI_2 * self.open).sin().min(1.0).ln(),
        }
    }

    /// Impedance at a frequency in Hz, re that of air, with media of these densities (re air) at its two sides.
    #[must_use]
    pub fn impedance(&self, frequency: f64, densities: [Complex64; 2]) -> Complex64 {
        let omega = TAU * frequency;
        let ratio = 0.5 * self.width * (omega * AIR_DENSITY / AIR_VISCOSITY).sqrt();
        let inside = match self.form {
            Form::Round => density_in_hole(ratio),
            Form::Slot => density_in_slot(ratio),
        };
        let moved = inside * self.thickness + (densities[0] + densities[1]) * self.end_correction();
        let faces = 2.0 * (2.0 * AIR_VISCOSITY * omega * AIR_DENSITY).sqrt();
        (Complex64::I * omega * AIR_DENSITY * moved + faces) / (self.open * AIR_IMPEDANCE)
    }
}

/// Density of the air in a long round hole, re free air; `ratio` is `radius x sqrt(w rho0 / eta)`.
#[must_use]
pub fn density_in_hole(ratio: f64) -> Complex64 {
    // 2 J1(q) / (q J0(q)).
    let held = if ratio > WIDE {
        let inverse = 1.0 / (ratio * Complex64::new(FRAC_1_SQRT_2, -FRAC_1_SQRT_2));
        -2.0 * Complex64::I * inverse * (1.0 + Complex64::I * inverse / 2.0 + inverse * inverse / 8.0)
    } else {
        // Gauss's continued fraction in q^2, from far enough behind the terms that count.
        let square = Complex64::new(0.0, -ratio * ratio);
        let terms = 20 + 2 * ratio as u32;
        let fraction =
            (1..=terms).rev().fold(Complex64::from(2.0 * f64::from(terms + 1)), |behind, term| 2.0 * f64::from(term) - square / behind);
        2.0 / fraction
    };
    1.0 / (1.0 - held)
}

/// Density of the air in a long slot, re free air; `ratio` is `half the width x sqrt(w rho0 / eta)`.
#[must_use]
pub fn density_in_slot(ratio: f64) -> Complex64 {
    let u = ratio * Complex64::new(FRAC_1_SQRT_2, FRAC_1_SQRT_2);
    // 1 to the last digit where the hyperbolic functions would overflow.
    let tangent = if ratio > WIDE { Complex64::ONE } else { u.tanh() };
    1.0 / (1.0 - tangent / u)
}
