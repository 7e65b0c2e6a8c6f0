//! How a porous layer before a rigid wall absorbs, with or without air behind it.
//!
//! Fiber or open foam of flow resistivity `sigma` (Pa s/m2) at frequency `f`, with `X = f / sigma` and time factor `e^(+j w t)`:
//!
//! `Zc / Z0 = 1 + 0.070 X^-0.632 - j 0.107 X^-0.632`, `k / k0 = 1 + 0.109 X^-0.618 - j 0.160 X^-0.618`
//!
//! Sound that meets the layer at angle `theta` goes on inside with `kz = sqrt(k^2 - k0^2 sin^2 theta)` (bulk reaction: the layer carries sound sideways, and so does the air
//! behind it). Pressure and velocity are carried from the rigid wall through the air gap (`k0 cos theta`, impedance `Z0 / cos theta`) and the layer (`kz`, impedance `Zc k / kz`) to the
//! front face; with the surface impedance `Zs` found there, `R = (Zs cos theta - Z0) / (Zs cos theta + Z0)` and `alpha = 1 - |R|^2`. This chain equals the cotangent
//! formulas of the text books and has no poles.
//!
//! *References.* Y. Miki, J. Acoust. Soc. Jpn (E) 11 (1990) 19-24 (constants: a transcription was read). Layers: J.-F. Allard and N. Atalla, Propagation of Sound in Porous Media,
//! chapter 2 and 3; T. J. Cox and P. D'Antonio, Acoustic Absorbers and Diffusers, chapter 6 (from memory).
//!
//! *Limits.* The constants were fitted to fibrous layers for `0.01 < f / sigma < 1`; below, this fit stays passive where older ones do not, but is an extrapolation. Mean values of
//! different models differ by about 0.05 below 1 kHz. The frame does not move, the layer is endless, its cloth breathes. Grids that stop sound from running
//! sideways in the gap absorb more at low frequencies. Air at 20 degrees C: a degree moves the layer's frequencies by 0.2 %.

use std::f64::consts::{SQRT_2, TAU};
use std::ops::{Add, Div, Mul, Sub};

use super::COSINE_BINS;
use crate::air::REFERENCE_SPEED;
use crate::bands::{Band, Bands};

/// How many log-spaced frequencies stand for an octave.
pub const FREQUENCIES_PER_OCTAVE: usize = 9;

/// Nodes and weights of Gauss and Legendre's rule with three points on (-1, 1).
const GAUSS: [(f64, f64); 3] = [(-0.774_596_669_241_483_4, 5.0 / 9.0), (0.0, 8.0 / 9.0), (0.774_596_669_241_483_4, 5.0 / 9.0)];

/// A porous layer before a rigid wall.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Layer {
    /// Flow resistivity in Pa s/m2.
    flow_resistivity: f64,
    /// Thickness in meters.
    thickness: f64,
    /// Air between layer and wall in meters.
    gap: f64,
}

impl Layer {
    /// A layer of this flow resistivity in Pa s/m2 and thickness in meters, `gap` meters before the wall; undefined and negative values count as 0,
    /// resistivities above 1e9 Pa s/m2 (nothing flows) and lengths above 100 m as these.
    #[must_use]
    pub fn new(flow_resistivity: f64, thickness: f64, gap: f64) -> Self {
        let sane = |value: f64, most: f64| if value.is_nan() { 0.0 } else { value.clamp(0.0, most) };
        Self { flow_resistivity: sane(flow_resistivity, 1e9), thickness: sane(thickness, 100.0), gap: sane(gap, 100.0) }
    }

    /// Distance of the front face from the wall in meters.
    #[must_use]
    pub fn depth(&self) -> f64 {
        self.thickness + self.gap
    }

    /// Whether this frequency in Hz lies within the range of `f / sigma` that the constants were fitted on.
    #[must_use]
    pub fn is_fitted_at(&self, frequency: f64) -> bool {
        (0.01 * self.flow_resistivity..=self.flow_resistivity).contains(&frequency)
    }

    /// Absorption coefficient of a tone of `frequency` Hz at this cosine of the angle of incidence.
    #[must_use]
    pub fn absorption(&self, frequency: f64, cosine: f64) -> f64 {
        Tone::new(self, frequency).absorption(self, cosine)
    }

    /// Absorption coefficient of a tone of `frequency` Hz at normal incidence.
    #[must_use]
    pub fn normal(&self, frequency: f64) -> f64 {
        self.absorption(frequency, 1.0)
    }

    /// Absorption coefficient of a tone of `frequency` Hz in a diffuse field (all angles to grazing, weight `2 c dc`).
    #[must_use]
    pub fn diffuse(&self, frequency: f64) -> f64 {
        let tone = Tone::new(self, frequency);
        (0..COSINE_BINS).map(|bin| super::bin_weight(bin) * self.bin_average(&tone, bin)).sum()
    }

    /// Absorption by cosine bin and band, each band the mean of [`FREQUENCIES_PER_OCTAVE`] frequencies at the middles of equal shares of the octave on a log scale.
    pub(crate) fn bins(&self) -> [Bands<f64>; COSINE_BINS] {
        let tones: Bands<[Tone; FREQUENCIES_PER_OCTAVE]> =
            Bands::from_fn(|band| octave_frequencies(band).map(|frequency| Tone::new(self, frequency)));
        std::array::from_fn(|bin| {
            Bands::from_fn(|band| tones[band].iter().map(|tone| self.bin_average(tone, bin)).sum::<f64>() / FREQUENCIES_PER_OCTAVE as f64)
        })
    }

    /// Mean over the cosines of a bin, weight `2 c`.
    fn bin_average(&self, tone: &Tone, bin: usize) -> f64 {
        let half_width = 0.5 / COSINE_BINS as f64;
        let middle = (2 * bin + 1) as f64 * half_width;
        let (mut sum, mut weights) = (0.0, 0.0);
        for (node, weight) in GAUSS {
            let cosine = middle + node * half_width;
            sum += weight * cosine * tone.absorption(self, cosine);
            weights += weight * cosine;
        }
        sum / weights
    }
}

/// Frequencies in Hz that stand for an octave: the middles of equal shares on a log scale.
#[must_use]
pub fn octave_frequencies(band: Band) -> [f64; FREQUENCIES_PER_OCTAVE] {
    std::array::from_fn(|index| {
        let place = (index as f64 + 0.5) / FREQUENCIES_PER_OCTAVE as f64;
        band.lower() * (band.upper() / band.lower()).powf(place)
    })
}

/// What a layer is to one frequency.
#[derive(Clone, Copy, Debug)]
struct Tone {
    /// Wave number in air, 1/m.
    wave_number: f64,
    /// Characteristic impedance of the layer, re air.
    impedance: Complex,
    /// Wave number in the layer, re air.
    index: Complex,
}

impl Tone {
    fn new(layer: &Layer, frequency: f64) -> Self {
        // A layer without resistance has an infinite X: the powers vanish and leave air. Below a hundredth of a hertz nothing is asked.
        let frequency = frequency.max(0.01);
        let x = frequency / layer.flow_resistivity;
        let (for_impedance, for_index) = (x.powf(-0.632), x.powf(-0.618));
        Self {
            wave_number: TAU * frequency / REFERENCE_SPEED,
            impedance: Complex::new(1.0 + 0.070 * for_impedance, -0.107 * for_impedance),
            index: Complex::new(1.0 + 0.109 * for_index, -0.160 * for_index),
        }
    }

    fn absorption(&self, layer: &Layer, cosine: f64) -> f64 {
        let square_sine = 1.0 - cosine * cosine;
        // Pressure and velocity (times Z0) behind the layer; at the wall they are 1 and 0.
        let (gap_sine, gap_cosine) = (self.wave_number * layer.gap * cosine).sin_cos();
        let pressure = Complex::new(gap_cosine, 0.0);
        let velocity = Complex::new(0.0, gap_sine * cosine);
        // Through the layer.
        let across = (self.index * self.index - Complex::new(square_sine, 0.0)).root();
        let impedance = self.impedance * self.index / across;
        let (sine, cosine_of_phase) = (across * Complex::new(self.wave_number * layer.thickness, 0.0)).scaled_sine_and_cosine();
        let turned = Complex::new(0.0, 1.0) * sine;
        let front_pressure = cosine_of_phase * pressure + turned * impedance * velocity;
        let front_velocity = turned / impedance * pressure + cosine_of_phase * velocity;
        // 1 - |R|^2 with R = (p cos - v) / (p cos + v) is 4 Re(p cos v*) / |p cos + v|^2: no difference of near-equals for hard surfaces.
        let incoming = front_pressure * Complex::new(cosine, 0.0);
        let sum = (incoming + front_velocity).square_length();
        let absorbed = 4.0 * (incoming.re * front_velocity.re + incoming.im * front_velocity.im);
        if sum > 0.0 { absorbed / sum } else { 0.0 }
    }
}

/// A complex number; the few operations that layers need.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Complex {
    re: f64,
    im: f64,
}

impl Complex {
    const fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    fn square_length(self) -> f64 {
        self.re * self.re + self.im * self.im
    }

    /// The square root with a real part of 0 or more; for the wave numbers here, the wave that dies away.
    fn root(self) -> Self {
        let length = self.re.hypot(self.im);
        let re = (length + self.re).max(0.0).sqrt() / SQRT_2;
        let im = (length - self.re).max(0.0).sqrt() / SQRT_2;
        Self::new(re, im.copysign(self.im))
    }

    /// Sine and cosine, both divided by `e^|im|` so that thick or dense layers do not overflow.
    fn scaled_sine_and_cosine(self) -> (Self, Self) {
        let (sine, cosine) = self.re.sin_cos();
        let small = (-2.0 * self.im.abs()).exp();
        let (even, odd) = (0.5 * (1.0 + small), 0.5 * (1.0 - small).copysign(self.im));
        (Self::new(sine * even, cosine * odd), Self::new(cosine * even, -sine * odd))
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        Self::new(self.re * other.re - self.im * other.im, self.re * other.im + self.im * other.re)
    }
}

impl Div for Complex {
    type Output = Self;
    fn div(self, other: Self) -> Self {
        let square = other.square_length();
        Self::new((self.re * other.re + self.im * other.im) / square, (self.im * other.re - self.re * other.im) / square)
    }
}
