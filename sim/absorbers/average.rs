//! What a build-up absorbs from all angles and in an octave.
//!
//! *Angles.* In a diffuse field the power that falls on a surface is spread over the cosine `c` of the angle as `2 c dc`, from grazing to normal. The cosine is cut into
//! [`COSINE_BINS`] equal bins, each with Gauss and Legendre's three points (`angles` says how these come cheap).
//!
//! *Octaves.* A band is the mean over frequencies at the middles of equal shares of the octave on a log scale: alike power in each share, as pink noise has.
//! Tables and diffuse values take [`FREQUENCIES_PER_OCTAVE`], a single angle, where nothing smooths the ripples of a deep gap, [`FREQUENCIES_AT_AN_ANGLE`].
//!
//! *References.* Diffuse average: E. T. Paris, Phil. Mag. 5 (1928) (from memory).
//!
//! *Limits.* Nine frequencies meet the diffuse value of an octave to 0.001, of fiber to 0.0003, and ninety that of one angle to 0.001 (tested on fiber, filled resonators and gaps up
//! to 300 mm). A resonance narrower than a tenth of an octave, of a membrane or sheet before empty air, is met or missed: ask for its curve.

use super::layers::{BuildUp, Incidence};
use super::stack::Tone;
use super::{COSINE_BINS, angles, bin_weight, held};
use crate::bands::{Band, Bands};

/// How many log-spaced frequencies stand for an octave from all angles.
pub const FREQUENCIES_PER_OCTAVE: usize = 9;

/// How many stand for an octave at one angle.
pub const FREQUENCIES_AT_AN_ANGLE: usize = 90;

/// Nodes and weights of Gauss and Legendre's rule with three points on (-1, 1).
pub(super) const GAUSS: [(f64, f64); 3] = [(-0.774_596_669_241_483_4, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483_4, 5.0 / 9.0)];

/// This many frequencies in Hz that stand for an octave: the middles of equal shares on a log scale.
pub fn octave_frequencies(band: Band, count: usize) -> impl Iterator<Item = f64> {
    (0..count).map(move |index| {
        let place = (index as f64 + 0.5) / count as f64;
        band.lower() * (band.upper() / band.lower()).powf(place)
    })
}

impl Tone {
    /// Absorption coefficient in a diffuse field, all angles to grazing.
    #[must_use]
    pub fn diffuse(&self) -> f64 {
        self.bins().iter().enumerate().map(|(bin, value)| bin_weight(bin) * value).sum()
    }

    /// Mean over the cosines of each bin, weight `2 c`.
    fn bins(&self) -> [f64; COSINE_BINS] {
        let absorption = angles::absorption(self);
        std::array::from_fn(|bin| {
            let (mut sum, mut weights) = (0.0, 0.0);
            for (node, (_, weight)) in GAUSS.into_iter().enumerate() {
                let index = GAUSS.len() * bin + node;
                sum += weight * angles::COSINES[index] * absorption[index];
                weights += weight * angles::COSINES[index];
            }
            sum / weights
        })
    }

    /// The same of angles from normal to this least cosine alone: measurements are often compared with a field that ends at 78 degrees.
    #[must_use]
    pub fn diffuse_within(&self, least_cosine: f64) -> f64 {
        let least_cosine = held(least_cosine, 0.0, 1.0 - 1e-9);
        let half_width = 0.5 * (1.0 - least_cosine) / COSINE_BINS as f64;
        let (mut sum, mut weights) = (0.0, 0.0);
        for bin in 0..COSINE_BINS {
            for (node, weight) in GAUSS {
                let cosine = least_cosine + ((2 * bin + 1) as f64 + node) * half_width;
                sum += weight * cosine * self.absorption(cosine);
                weights += weight * cosine;
            }
        }
        sum / weights
    }
}

impl BuildUp {
    /// Absorption coefficient by cosine bin and band.
    #[must_use]
    pub fn bins(&self) -> [Bands<f64>; COSINE_BINS] {
        let mut bins = [Bands::splat(0.0); COSINE_BINS];
        for band in Band::ALL {
            for frequency in octave_frequencies(band, FREQUENCIES_PER_OCTAVE) {
                for (bin, value) in bins.iter_mut().zip(self.tone(frequency).bins()) {
                    bin[band] += value;
                }
            }
        }
        bins.map(|bin| bin.map(|sum| held(sum / FREQUENCIES_PER_OCTAVE as f64, 0.0, 1.0)))
    }

    /// Absorption coefficient by octave, each the mean over the band.
    #[must_use]
    pub fn octaves(&self, incidence: Incidence) -> Bands<f64> {
        let count = if incidence == Incidence::Diffuse { FREQUENCIES_PER_OCTAVE } else { FREQUENCIES_AT_AN_ANGLE };
        let absorbed = |frequency| self.absorption_by(frequency, incidence);
        Bands::from_fn(|band| octave_frequencies(band, count).map(absorbed).sum::<f64>() / count as f64)
    }
}
