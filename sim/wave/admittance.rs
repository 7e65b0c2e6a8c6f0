//! What a wall gives way to pressure by: a passive admittance that depends on frequency, as parallel branches of mass, resistance and spring.
//!
//! ```text
//! y(s) = sum over branches of 1 / (R + s L + D / s);   velocity into the wall = y p / (density x speed)
//! ```
//!
//! `R` has no unit (re the impedance of air), `L` is in seconds, `D` in 1/s. With `R, L, D >= 0` no branch ever gives energy back that it did not take, whatever drives it: every sum of
//! such branches is passive. A plasterboard on studs is one branch: its mass `m / (density x speed)`, its loss, the spring `speed / gap` of the air behind; a real admittance is
//! one branch of resistance alone.
//!
//! *References.* S. Bilbao, B. Hamilton, J. Botts, L. Savioja, IEEE/ACM Trans. Audio Speech Lang. Process. 24 (2016) 161 (from memory).
//!
//! *Limits.* Locally reacting: nothing runs along within the wall.

use std::f64::consts::TAU;

use num_complex::Complex64;

/// A mass, a resistance and a spring in a row, re the impedance of air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Branch {
    /// Mass, seconds.
    pub mass: f64,
    /// Resistance, no unit.
    pub resistance: f64,
    /// Spring, 1/s.
    pub spring: f64,
}

/// A wall.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Admittance {
    /// Branches side by side; none: rigid.
    pub branches: Vec<Branch>,
}

impl Branch {
    /// Resistance alone: the admittance `1 / resistance` at every frequency.
    #[must_use]
    pub fn real(admittance: f64) -> Self {
        Self { mass: 0.0, resistance: 1.0 / admittance, spring: 0.0 }
    }

    /// Whether it can never give energy that it did not take, and moves at all.
    #[must_use]
    pub fn is_passive(&self) -> bool {
        let parts = [self.mass, self.resistance, self.spring];
        parts.iter().all(|part| part.is_finite() && *part >= 0.0) && parts.iter().any(|part| *part > 0.0)
    }

    /// Its admittance at a complex frequency `s`, 1/s.
    #[must_use]
    pub fn at(&self, s: Complex64) -> Complex64 {
        (self.resistance + s * self.mass + self.spring / s).inv()
    }
}

impl Admittance {
    /// A rigid wall.
    pub const RIGID: Self = Self { branches: Vec::new() };

    /// The same real admittance at every frequency.
    #[must_use]
    pub fn real(admittance: f64) -> Self {
        Self { branches: if admittance > 0.0 { vec![Branch::real(admittance)] } else { Vec::new() } }
    }

    /// The admittance re that of air at so many Hz.
    #[must_use]
    pub fn at_frequency(&self, frequency: f64) -> Complex64 {
        self.branches.iter().map(|branch| branch.at(Complex64::new(0.0, TAU * frequency))).sum()
    }
}
