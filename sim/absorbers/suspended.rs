//! What a panel absorbs that hangs free, open on both sides: tone by tone, at each of its faces.
//!
//! *Three shares.* What falls on a face is mirrored, `|R|^2`, turned into heat, or passes through. What passes is not lost. Both ways as much passes, at every angle
//! (reciprocity), so where the field is alike on both sides what leaves through the panel is made up for by what comes: it counts as scattered on the side that it came from.
//! A bounce then loses what the layers turn into heat and nothing else, and no ray goes through a panel.
//!
//! *Sound goes round.* A panel smaller than a wavelength has nearly the same pressure on both sides, and little is driven through it. The air that goes round lies
//! beside the layers as a mass, of a reactance re that of air and on each side
//!
//! `x = (4 / 3 pi) k a (1 + (k a)^2 / 2)`, `a = 2 S / P`
//!
//! with the area `S` and the perimeter `P`. For low `k a` that is the exact force on a hard disc in a flow to and fro; `2 S / P` is the radius of a disc, and gives squares, long
//! and endless strips their own within 8 %. The second term is our own: with it a disc that resists by 0.5 to 8 (re air) absorbs in a diffuse field what its integral equation gives
//! within 14 %, from `k a` 0.1 to 8 (`tests/cases/open_disc.csv`), where a sheet without end is off by a factor of ten and more.
//! What is absorbed by being pressed from both sides alike is not touched.
//!
//! *A wall behind* (a ceiling over a cloud). Up to a gap of a quarter of a wavelength, what passes comes back in step with what is mirrored: the front is that of the layers before the gap and
//! a rigid wall, and that takes all that panel and gap can take: the back takes nothing more. Well above, the room's sound finds both sides, each with free air behind. In the octave round
//! `c / (4 gap)` the one goes over into the other, both in pressure mirrored and in power, evenly on a log scale; so a gap that closes ends as a flush panel. In the gap the air that goes
//! round must go along it: `k a^2 / (8 gap)` is added on that side.
//!
//! *References.* H. Lamb, Hydrodynamics, article 102 (disc), and added masses of rectangular plates (from memory). Layers: `stack`.
//!
//! *Limits.* For a diffuse field on both sides. What passes keeps its direction in truth: a room hears less behind a panel, and more before it, than it does. What edges bend toward the panel at middle and
//! high frequencies (a tenth more, at `k a` of 2 to 5) is left out. Fiber does not move as a whole: light panels do below 100 Hz, and absorb less. The mirrored share is that of layers without
//! end; what a small face cannot mirror is scattered (`room`, edges).

use std::f64::consts::{PI, TAU};

use num_complex::Complex64;

use super::average::{FREQUENCIES_PER_OCTAVE, GAUSS, octave_frequencies};
use super::cache::Bins;
use super::stack::{Chain, Tone};
use super::{BuildUp, COSINE_BINS, angles, bin_weight, held};
use crate::air::REFERENCE_SPEED;
use crate::bands::{Band, Bands};

/// The smallest `2 S / P`, meters.
const SMALLEST: f64 = 1e-6;

/// Which face of the panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Side {
    /// The one that looks into the room.
    Front,
    /// The one that looks at the wall or ceiling behind.
    Back,
}

/// One face of a panel that hangs free.
#[derive(Clone, Debug, PartialEq)]
pub struct Suspended {
    /// The layers as this side meets them, free air behind.
    layers: BuildUp,
    side: Side,
    /// Air between the panel and the wall behind its back, meters; infinite far from any.
    gap: f64,
    /// `2 S / P` in meters; infinite without end.
    radius: f64,
}

/// What becomes of a tone that falls on a face at one angle: shares of its power, together 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shares {
    /// Mirrored.
    pub mirrored: f64,
    /// Turned into heat.
    pub absorbed: f64,
    /// Passes through.
    pub passed: f64,
}

/// A face at one frequency.
#[derive(Clone, Debug)]
pub struct SuspendedTone {
    layers: Tone,
    side: Side,
    /// How much of the face counts as close to the wall, 0 to 1.
    close: f64,
    /// `k gap`.
    phase: f64,
    /// Admittance of the air that goes round, re that of air.
    round: Complex64,
}

/// `2 S / P` of a rectangle of these sides in meters.
#[must_use]
pub fn radius(width: f64, height: f64) -> f64 {
    width * height / (width + height)
}

/// Front and back of a panel in free air, far from any wall; `2 S / P` in meters, infinite without end.
#[derive(Clone, Debug, PartialEq)]
pub struct BothSides([Suspended; 2]);

impl BothSides {
    /// Of a panel of these layers, front first.
    #[must_use]
    pub fn new(layers: &BuildUp, radius: f64) -> Self {
        Self([Side::Front, Side::Back].map(|side| Suspended::new(layers, side, f64::INFINITY, radius)))
    }

    /// Absorption coefficient of front and back in a diffuse field by octave, each the mean over the band.
    #[must_use]
    pub fn octaves(&self) -> [Bands<f64>; 2] {
        self.0.each_ref().map(|side| super::averaged(&side.bins()[1]))
    }

    /// What a square meter of it absorbs in a diffuse field with both sides, by frequency in Hz; m2.
    #[must_use]
    pub fn curve(&self, frequencies: &[f64]) -> Vec<f64> {
        let both = |&frequency: &f64| self.0.iter().map(|side| side.tone(frequency).diffuse().absorbed).sum();
        frequencies.iter().map(both).collect()
    }
}

/// Above which frequency in Hz both sides are met alike, so many meters before a wall: half an octave above a gap of a quarter of a wavelength.
#[must_use]
pub fn two_sided_above(gap: f64) -> f64 {
    REFERENCE_SPEED / (4.0 * gap) * std::f64::consts::SQRT_2
}

impl Suspended {
    /// A face of a panel of these layers (front first, no wall), so many meters before a wall and with this `2 S / P` in meters; either may be infinite.
    #[must_use]
    pub fn new(layers: &BuildUp, side: Side, gap: f64, radius: f64) -> Self {
        let layers = layers.clone().suspended();
        let layers = if side == Side::Back { layers.reversed() } else { layers };
        let gap = if gap.is_nan() { f64::INFINITY } else { gap.max(0.0) };
        Self { layers, side, gap, radius: radius.max(SMALLEST) }
    }

    /// The layers as this side meets them.
    #[must_use]
    pub fn layers(&self) -> &BuildUp {
        &self.layers
    }

    /// At one frequency in Hz.
    #[must_use]
    pub fn tone(&self, frequency: f64) -> SuspendedTone {
        let wave_number = TAU * held(frequency, 0.01, 1e9) / REFERENCE_SPEED;
        let phase = wave_number * self.gap;
        // Octaves above a gap of a quarter of a wavelength.
        let above = (phase / (0.5 * PI)).log2();
        let reach = wave_number * self.radius;
        let open = 4.0 / (3.0 * PI) * reach * (1.0 + 0.5 * reach * reach);
        let along_gap = if self.gap.is_finite() { reach * self.radius / (8.0 * self.gap) } else { 0.0 };
        let around = 2.0 * open + along_gap;
        SuspendedTone {
            layers: self.layers.tone(frequency),
            side: self.side,
            close: held(0.5 - above, 0.0, 1.0),
            phase,
            round: if around.is_nan() { Complex64::ZERO } else { Complex64::new(0.0, -1.0 / around) },
        }
    }

    /// Pressure mirrored re the one that comes, there, at a frequency in Hz and cosine of the angle of incidence.
    #[must_use]
    pub fn reflection_factor(&self, frequency: f64, cosine: f64) -> Complex64 {
        self.tone(frequency).reflection_factor(cosine)
    }

    /// Mirrored and absorbed share by cosine bin and band, each the mean over the octave.
    pub(super) fn bins(&self) -> [Bins; 2] {
        let (mut mirrored, mut absorbed) = ([Bands::splat(0.0); COSINE_BINS], [Bands::splat(0.0); COSINE_BINS]);
        for band in Band::ALL {
            for frequency in octave_frequencies(band, FREQUENCIES_PER_OCTAVE) {
                for (bin, shares) in self.tone(frequency).bins().into_iter().enumerate() {
                    mirrored[bin][band] += shares[0] / FREQUENCIES_PER_OCTAVE as f64;
                    absorbed[bin][band] += shares[1] / FREQUENCIES_PER_OCTAVE as f64;
                }
            }
        }
        [mirrored, absorbed]
    }
}

impl SuspendedTone {
    /// Pressure mirrored re the one that comes.
    #[must_use]
    pub fn reflection_factor(&self, cosine: f64) -> Complex64 {
        let cosine = held(cosine, 0.0, 1.0);
        self.mirrored(&self.layers.chain(cosine), cosine)
    }

    /// What becomes of the power that comes.
    #[must_use]
    pub fn shares(&self, cosine: f64) -> Shares {
        let cosine = held(cosine, 0.0, 1.0);
        self.shares_of(&self.layers.chain(cosine), cosine)
    }

    fn shares_of(&self, chain: &Chain, cosine: f64) -> Shares {
        let beside = |behind: Complex64| chain.absorbed_beside(self.round, behind, cosine);
        let mut absorbed = 0.0;
        if self.close < 1.0 {
            absorbed += (1.0 - self.close) * beside(Complex64::from(cosine));
        }
        if self.close > 0.0 && self.side == Side::Front {
            absorbed += self.close * beside(self.gap_admittance(cosine));
        }
        let absorbed = held(absorbed, 0.0, 1.0);
        let mirrored = self.mirrored(chain, cosine).norm_sqr().min(1.0 - absorbed);
        Shares { mirrored, absorbed, passed: 1.0 - absorbed - mirrored }
    }

    fn mirrored(&self, chain: &Chain, cosine: f64) -> Complex64 {
        let open = chain.reflection_factor(Complex64::from(cosine), cosine);
        if self.close == 0.0 {
            return open;
        }
        let close = match self.side {
            Side::Front => chain.reflection_factor(self.gap_admittance(cosine), cosine),
            // Close to the wall it takes nothing.
            Side::Back => Complex64::ONE,
        };
        open * (1.0 - self.close) + close * self.close
    }

    /// Of the gap with the wall behind it, re that of air.
    fn gap_admittance(&self, cosine: f64) -> Complex64 {
        Complex64::new(0.0, cosine * (cosine * self.phase).tan())
    }

    /// Mirrored and absorbed share by bin: the mean over its cosines, weight `2 c`.
    fn bins(&self) -> [[f64; 2]; COSINE_BINS] {
        let chains = angles::chains(&self.layers);
        std::array::from_fn(|bin| {
            let (mut mirrored, mut absorbed, mut weights) = (0.0, 0.0, 0.0);
            for (node, (_, weight)) in GAUSS.into_iter().enumerate() {
                let index = GAUSS.len() * bin + node;
                let cosine = angles::COSINES[index];
                let shares = self.shares_of(&chains[index], cosine);
                mirrored += weight * cosine * shares.mirrored;
                absorbed += weight * cosine * shares.absorbed;
                weights += weight * cosine;
            }
            [mirrored / weights, absorbed / weights]
        })
    }

    /// Diffuse mean of the shares, weight `2 c dc`.
    #[must_use]
    pub fn diffuse(&self) -> Shares {
        let [mirrored, absorbed] = self
            .bins()
            .iter()
            .enumerate()
            .fold([0.0; 2], |sum, (bin, shares)| std::array::from_fn(|which| sum[which] + bin_weight(bin) * shares[which]));
        Shares { mirrored, absorbed, passed: (1.0 - mirrored - absorbed).max(0.0) }
    }
}
