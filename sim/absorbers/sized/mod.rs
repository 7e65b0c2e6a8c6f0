//! What a panel of finite size absorbs, and several of them side by side.
//!
//! A panel in a hard wall draws sound from the wall round it: waves that an endless absorber would meet at grazing incidence, and hardly absorb, are bent into it at its
//! edges. With the surface impedance `z` (re air) and the radiation impedance `zr` of the panel's shape (`radiation`), both by the cosine `c` of the angle of incidence, a
//! diffuse field loses to it
//!
//! `alpha = 8 Int_0^1 Re z / |z + zr|^2 dc`
//!
//! of what falls on its area, and `alpha S` is its equivalent absorption area. It may be more than `S`: that is no error, and no ray may be told of it. For an endless surface
//! `zr = 1 / c` and `alpha` is the diffuse value of `1 - |R|^2`. The difference goes as perimeter by area, `(P / (pi k S)) (-16) Re z Im z Int c / |1 + z c|^4 dc`, and a
//! grazing part that dies faster, as the power 3/2 of the wavelength by the size.
//!
//! - [`Array`]: rectangles in one wall; touching ones are one larger rectangle, apart they feel each other's sound.
//! - [`Octaves`]: its radiation for all octaves, made once for a size (2 ms of one core; 8 ms for four panels with gaps, 36 ms for twelve) and asked
//!   for any number of materials (20 microseconds each).
//! - [`pairs`]: the same radiation, added up from pairs of panels that are remembered: for panels that are moved about.
//! - [`sample`]: a table's value, measured on a sample of 10 to 12 m2, turned back into a material.
//! - [`piece`]: what a finish absorbs as such a figure.
//! - [`capture`]: how rays carry it, as a margin round the panel and shares that never pass 1.
//!
//! Several rectangles move with one amplitude, that of the mean over all of them. So touching panels are the joined one exactly, and far ones are single.
//!
//! A band is the mean over [`FREQUENCIES_PER_OCTAVE`] frequencies, as everywhere for layers; never the value at its center.
//!
//! *References.* S.-I. Thomasson, On the absorption coefficient, Acustica 44 (1980) 265 (from memory). The asymptotic difference and its test are our own.
//!
//! *Limits.* One amplitude for the whole figure is an approximation, and a low one. Solving for the motion of every 10 cm instead (boundary elements), a single panel of
//! 0.6 x 1.2 m absorbs 1 % more at 250 Hz and 17 % more at 500 Hz if it is 50 mm thick, 5 and 8 % more if it is 100 mm (`tests/sized.rs`). Less is lost by the
//! mean of `zr` over the direction of incidence instead of that of `alpha` (under 1 %) and by one amplitude instead of one a panel (up to 2.5 % in rows with gaps; both
//! computed once, by boundary elements). The wall is hard, endless and flat with the panel's face; a panel that stands off has sides, which absorb as well. Air at
//! 20 degrees C.

mod bessel;
pub mod capture;
pub mod pairs;
pub mod piece;
mod radiation;
mod rectangles;
pub mod sample;

use std::f64::consts::TAU;
use std::sync::LazyLock;

use num_complex::Complex64;

pub use radiation::{impedance, mutual_impedance};
pub use rectangles::{Covariance, Rectangle, beside, disjoint, union_area};

use super::average::{FREQUENCIES_PER_OCTAVE, octave_frequencies};
use super::impedance::{GREATEST_ABSORPTION, IMPEDANCE_OF_GREATEST_ABSORPTION, from_random_incidence};
use crate::air::REFERENCE_SPEED;
use crate::bands::{Band, Bands};

/// How many cosines of incidence stand for a diffuse field; with more, octaves move by less than 2e-4.
const ANGLES: usize = 24;

/// Cosines of incidence and their weights in `Int_0^1 dc`: squares of the places of Gauss and Legendre's rule, since `zr` turns quickly towards grazing incidence.
static INCIDENCE: LazyLock<([f64; ANGLES], [f64; ANGLES])> = LazyLock::new(|| {
    let rule = radiation::gauss::<ANGLES>().map(|(place, weight)| (place * place, 2.0 * place * weight));
    (rule.map(|(cosine, _)| cosine), rule.map(|(_, weight)| weight))
});

/// Wave number in air at this frequency in Hz, 1/m.
fn wave_number(frequency: f64) -> f64 {
    TAU * frequency / REFERENCE_SPEED
}

/// Rectangles in one hard wall.
#[derive(Clone, Debug)]
pub struct Array {
    covariance: Covariance,
    area: f64,
}

impl Array {
    /// Of these rectangles; what two of them cover counts once. `None` without any.
    #[must_use]
    pub fn new(rectangles: &[Rectangle]) -> Option<Self> {
        let parts = disjoint(rectangles);
        let area = parts.iter().map(|one| one.area()).sum();
        (area > 0.0).then(|| Self { covariance: Covariance::of(&parts), area })
    }

    /// A single one of this width and height in meters; `None` where they are no sizes.
    #[must_use]
    pub fn single(width: f64, height: f64) -> Option<Self> {
        Self::new(&[Rectangle::sized(width, height)?])
    }

    /// Area in m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.area
    }

    /// Radiation impedance, re air, at this frequency in Hz for each of these cosines of incidence.
    #[must_use]
    pub fn radiation_impedance(&self, frequency: f64, cosines: &[f64]) -> Vec<Complex64> {
        impedance(|distance| self.covariance.at(distance), &self.covariance.bends, wave_number(frequency), cosines)
    }

    /// Absorption coefficient in a diffuse field for a tone of `frequency` Hz, re the array's area, of a material of this surface impedance (re air) by the cosine of
    /// incidence.
    #[must_use]
    pub fn absorption(&self, frequency: f64, impedance: impl Fn(f64) -> Complex64) -> f64 {
        absorbed(&self.radiation_impedance(frequency, &INCIDENCE.0), &INCIDENCE.0.map(impedance))
    }

    /// Its radiation in all octaves.
    #[must_use]
    pub fn octaves(&self) -> Octaves {
        let tones = Bands::from_fn(|band| {
            let nodes = radiation::Nodes::new(|distance| self.covariance.at(distance), &self.covariance.bends, wave_number(band.upper()));
            let tone = |frequency| {
                let radiated = nodes.radiated(wave_number(frequency), &INCIDENCE.0);
                Tone { frequency, radiation: std::array::from_fn(|angle| radiated[angle] / self.area) }
            };
            octave_frequencies(band, FREQUENCIES_PER_OCTAVE).map(tone).collect()
        });
        Octaves { tones, area: self.area }
    }
}

/// The radiation impedance of a shape at one frequency.
#[derive(Clone, Copy, Debug)]
struct Tone {
    /// Hz.
    frequency: f64,
    /// By angle of [`INCIDENCE`], re air.
    radiation: [Complex64; ANGLES],
}

/// The radiation of an [`Array`] in all octaves: what any material on it absorbs.
#[derive(Clone, Debug)]
pub struct Octaves {
    tones: Bands<Vec<Tone>>,
    area: f64,
}

impl Octaves {
    /// Area in m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        self.area
    }

    /// Absorption coefficient in a diffuse field re the array's area, which may pass 1, of a material of this surface impedance (re air) by frequency in Hz and cosine of
    /// incidence.
    #[must_use]
    pub fn absorption(&self, impedance: impl Fn(f64, f64) -> Complex64) -> Bands<f64> {
        Bands::from_fn(|band| self.absorption_in(band, &impedance))
    }

    /// The same in one octave.
    #[must_use]
    pub fn absorption_in(&self, band: Band, impedance: impl Fn(f64, f64) -> Complex64) -> f64 {
        let tones = &self.tones[band];
        let at = |tone: &Tone| absorbed(&tone.radiation, &INCIDENCE.0.map(|cosine| impedance(tone.frequency, cosine)));
        tones.iter().map(at).sum::<f64>() / tones.len() as f64
    }

    /// The same of a material whose impedance is known tone by tone.
    fn absorption_of(&self, impedances: &piece::Impedances) -> Bands<f64> {
        Bands::from_fn(|band| {
            let tones = &self.tones[band];
            let sum: f64 = tones.iter().zip(&impedances[band]).map(|(tone, impedance)| absorbed(&tone.radiation, impedance)).sum();
            sum / tones.len() as f64
        })
    }

    /// The same of a material that is known by the absorption coefficient of its endless surface, 0 to 1: a real impedance, in part a deep layer above what one absorbs at most
    /// (`impedance`).
    #[must_use]
    pub fn material(&self, band: Band, absorption: f64) -> f64 {
        if absorption <= GREATEST_ABSORPTION {
            return self.resistance(band, from_random_incidence(absorption));
        }
        let share = (absorption - GREATEST_ABSORPTION) / (1.0 - GREATEST_ABSORPTION);
        // A deep layer whose waves are those of air.
        let deep = self.absorption_in(band, |_, cosine| Complex64::from(cosine.recip()));
        (1.0 - share) * self.resistance(band, IMPEDANCE_OF_GREATEST_ABSORPTION) + share * deep
    }

    /// The same of a resistance re air.
    fn resistance(&self, band: Band, z: f64) -> f64 {
        self.absorption_in(band, |_, _| Complex64::from(z))
    }

    /// Equivalent absorption area in a diffuse field, m2.
    #[must_use]
    pub fn equivalent_area(&self, impedance: impl Fn(f64, f64) -> Complex64) -> Bands<f64> {
        self.absorption(impedance) * self.area
    }
}

/// What an endless surface of this impedance (re air, by cosine of incidence) absorbs of a diffuse field, by the same sums.
#[must_use]
pub fn endless_absorption(impedance: impl Fn(f64) -> Complex64) -> f64 {
    absorbed(&INCIDENCE.0.map(|cosine| Complex64::from(cosine.recip())), &INCIDENCE.0.map(impedance))
}

/// `8 Int Re z / |z + zr|^2 dc`; a surface whose impedance is no number or infinite absorbs nothing.
fn absorbed(radiation: &[Complex64], impedances: &[Complex64; ANGLES]) -> f64 {
    let of = |((&radiation, &z), &weight): ((&Complex64, &Complex64), &f64)| {
        let share = weight * z.re / (z + radiation).norm_sqr();
        if share.is_finite() { share } else { 0.0 }
    };
    8.0 * radiation.iter().zip(impedances).zip(&INCIDENCE.1).map(of).sum::<f64>()
}
