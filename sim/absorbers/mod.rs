//! What surfaces are made of: which share of the energy of a bounce is mirrored and which is scattered, by band and angle.

use crate::bands::Bands;

/// How many bins the cosine of the angle of incidence is sorted into.
pub const COSINE_BINS: usize = 64;

/// A surface finish: mirrored and scattered share of the energy for every bin of the cosine of the angle of incidence.
///
/// A bin holds the mean over its cosines, weighted as in a diffuse field (2 cos), so that the diffuse average over all bins is the
/// diffuse value itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Finish {
    /// Name, for print.
    pub name: String,
    /// `(1 - alpha)(1 - s)` by cosine bin (0: grazing) and band.
    pub specular: Vec<Bands<f32>>,
    /// `(1 - alpha) s` by cosine bin and band.
    pub diffuse: Vec<Bands<f32>>,
    /// Random-incidence absorption coefficient.
    pub absorption: Bands<f64>,
    /// Scattering coefficient.
    pub scattering: Bands<f64>,
    /// Whether the value of this band was filled by rule, not measured.
    pub extrapolated: Bands<bool>,
    /// Depth of the build-up before the surface it lies on, meters (0 for bare surfaces).
    pub depth: f64,
}

/// The bin of a cosine of the angle of incidence; 1 (normal incidence) falls into the last.
#[must_use]
pub fn cosine_bin(cosine: f64) -> u8 {
    ((cosine * COSINE_BINS as f64) as usize).min(COSINE_BINS - 1) as u8
}

impl Finish {
    /// Mirrored share of the energy at this cosine of incidence, linear between the middles of the bins.
    #[must_use]
    pub fn specular_at(&self, cosine: f64) -> Bands<f64> {
        let place = (cosine * COSINE_BINS as f64 - 0.5).clamp(0.0, (COSINE_BINS - 1) as f64);
        let low = (place as usize).min(COSINE_BINS - 2);
        let share = place - low as f64;
        self.specular[low].zip(self.specular[low + 1], |a, b| f64::from(a) * (1.0 - share) + f64::from(b) * share)
    }
}
