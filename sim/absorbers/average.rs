//! What a build-up absorbs from all angles and in an octave.
//!
//! *Angles.* In a diffuse field the power that falls on a surface is spread over the cosine `c` of the angle as `2 c dc`, from grazing to normal. The cosine is cut into
//! [`COSINE_BINS`] equal bins, each with Gauss and Legendre's three points.
//!
//! *Octaves.* A band is the mean over [`FREQUENCIES_PER_OCTAVE`] frequencies at the middles of equal shares of the octave on a log scale: alike power in each share, as pink noise has.
//!
//! *References.* Diffuse average: E. T. Paris, Phil. Mag. 5 (1928) (from memory).
//!
//! *Limits.* Nine frequencies follow fiber and broad resonances to 0.002; a resonance narrower than a tenth of an octave, of a membrane without fill, is met or missed: ask for its curve.

use super::layers::{BuildUp, Incidence};
use super::stack::Tone;
use super::{COSINE_BINS, bin_weight};
use crate::bands::{Band, Bands};

/// How many log-spaced frequencies stand for an octave.
pub const FREQUENCIES_PER_OCTAVE: usize = 9;

/// Nodes and weights of Gauss and Legendre's rule with three points on (-1, 1).
const GAUSS: [(f64, f64); 3] = [(-0.774_596_669_241_483_4, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483_4, 5.0 / 9.0)];

/// Frequencies in Hz that stand for an octave: the middles of equal shares on a log scale.
#[must_use]
pub fn octave_frequencies(band: Band) -> [f64; FREQUENCIES_PER_OCTAVE] {
    std::array::from_fn(|index| {
        let place = (index as f64 + 0.5) / FREQUENCIES_PER_OCTAVE as f64;
        band.lower() * (band.upper() / band.lower()).powf(place)
    })
}

impl Tone {
    /// Absorption coefficient in a diffuse field, all angles to grazing.
    #[must_use]
    pub fn diffuse(&self) -> f64 {
        (0..COSINE_BINS).map(|bin| bin_weight(bin) * self.bin_average(bin)).sum()
    }

    /// The same of angles from normal to this least cosine alone: measurements are often compared with a field that ends at 78 degrees.
    #[must_use]
    pub fn diffuse_within(&self, least_cosine: f64) -> f64 {
        let half_width = 0.5 * (1.0 - least_cosine) / COSINE_BINS as f64;
        let parts = (0..COSINE_BINS).map(|bin| self.between(least_cosine + (2 * bin + 1) as f64 * half_width, half_width));
        let (sum, weights) = parts.fold((0.0, 0.0), |whole, part| (whole.0 + part.0, whole.1 + part.1));
        sum / weights
    }

    /// Mean over the cosines of a bin, weight `2 c`.
    fn bin_average(&self, bin: usize) -> f64 {
        let half_width = 0.5 / COSINE_BINS as f64;
        let (sum, weights) = self.between((2 * bin + 1) as f64 * half_width, half_width);
        sum / weights
    }

    /// Absorbed and incident power of the cosines round a middle, up to the same factor.
    fn between(&self, middle: f64, half_width: f64) -> (f64, f64) {
        let (mut sum, mut weights) = (0.0, 0.0);
        for (node, weight) in GAUSS {
            let cosine = middle + node * half_width;
            sum += weight * cosine * self.absorption(cosine);
            weights += weight * cosine;
        }
        (sum, weights)
    }
}

impl BuildUp {
    /// Absorption coefficient by cosine bin and band.
    #[must_use]
    pub fn bins(&self) -> [Bands<f64>; COSINE_BINS] {
        let tones: Bands<[Tone; FREQUENCIES_PER_OCTAVE]> =
            Bands::from_fn(|band| octave_frequencies(band).map(|frequency| self.tone(frequency)));
        std::array::from_fn(|bin| {
            Bands::from_fn(|band| tones[band].iter().map(|tone| tone.bin_average(bin)).sum::<f64>() / FREQUENCIES_PER_OCTAVE as f64)
        })
    }

    /// Absorption coefficient by octave, each the mean over the band.
    #[must_use]
    pub fn octaves(&self, incidence: Incidence) -> Bands<f64> {
        Bands::from_fn(|band| self.curve(&octave_frequencies(band), incidence).iter().sum::<f64>() / FREQUENCIES_PER_OCTAVE as f64)
    }
}
