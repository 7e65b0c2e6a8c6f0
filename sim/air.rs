//! The air: speed of sound, density, absorption.

use crate::bands::Bands;

/// The air as the solvers see it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Medium {
    /// Speed of sound in m/s.
    pub speed: f64,
    /// Density in kg/m3.
    pub density: f64,
    /// Energy attenuation in 1/m by band.
    pub attenuation: Bands<f64>,
}
