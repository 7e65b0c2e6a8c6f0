//! Octave bands: which frequencies the program speaks about, and a value for each of them.
//!
//! Octaves 63 Hz to 8 kHz with exact mid-band frequencies `1000 * 10^(3 k / 10)` Hz, k = -4 ..= 3, and band edges a factor
//! `10^(3/20)` below and above.
//!
//! *References.* IEC 61260-1:2014, clause 5 (base-ten exact mid-band frequencies and band edges; from memory).
//!
//! *Limits.* Third octaves are not represented.

use std::ops::{Add, Index, IndexMut, Mul, Sub};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// How many octaves the program knows.
pub const BAND_COUNT: usize = 8;

/// One octave band, 63 Hz to 8 kHz.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Band(u8);

impl Band {
    /// All octaves, lowest first.
    pub const ALL: [Self; BAND_COUNT] = [Self(0), Self(1), Self(2), Self(3), Self(4), Self(5), Self(6), Self(7)];

    /// The band with this index, 0 (63 Hz) to 7 (8 kHz); panics beyond.
    #[must_use]
    pub fn new(index: usize) -> Self {
        Self::ALL[index]
    }

    /// 0 (63 Hz) to 7 (8 kHz).
    #[must_use]
    pub fn index(self) -> usize {
        usize::from(self.0)
    }

    /// The nominal frequency in Hz, as printed: 63, 125, ... 8000.
    #[must_use]
    pub fn nominal(self) -> u32 {
        [63, 125, 250, 500, 1000, 2000, 4000, 8000][self.index()]
    }

    /// The exact mid-band frequency in Hz.
    #[must_use]
    pub fn center(self) -> f64 {
        1000.0 * 10.0_f64.powf(0.3 * (f64::from(self.0) - 4.0))
    }

    /// Lower band edge in Hz.
    #[must_use]
    pub fn lower(self) -> f64 {
        self.center() / 10.0_f64.powf(0.15)
    }

    /// Upper band edge in Hz.
    #[must_use]
    pub fn upper(self) -> f64 {
        self.center() * 10.0_f64.powf(0.15)
    }

    /// `63 Hz`, `125 Hz`, ... `8 kHz`.
    #[must_use]
    pub fn label(self) -> &'static str {
        ["63 Hz", "125 Hz", "250 Hz", "500 Hz", "1 kHz", "2 kHz", "4 kHz", "8 kHz"][self.index()]
    }
}

/// One value for each octave, 63 Hz first.
#[derive(Clone, Copy, Debug, PartialEq, Default, Serialize, Deserialize, JsonSchema)]
#[serde(transparent)]
pub struct Bands<T>(pub [T; BAND_COUNT]);

impl<T: Copy> Bands<T> {
    /// The same value in every band.
    #[must_use]
    pub fn splat(value: T) -> Self {
        Self([value; BAND_COUNT])
    }

    /// Applies `f` to each value.
    #[must_use]
    pub fn map<U>(self, f: impl FnMut(T) -> U) -> Bands<U> {
        Bands(self.0.map(f))
    }

    /// Combines two spectra band by band.
    #[must_use]
    pub fn zip<U: Copy, V>(self, other: Bands<U>, mut f: impl FnMut(T, U) -> V) -> Bands<V> {
        Bands(std::array::from_fn(|index| f(self.0[index], other.0[index])))
    }
}

impl<T> Bands<T> {
    /// The value of `f` in each band.
    #[must_use]
    pub fn from_fn(mut f: impl FnMut(Band) -> T) -> Self {
        Self(std::array::from_fn(|index| f(Band::new(index))))
    }

    /// Band and value, lowest band first.
    pub fn iter(&self) -> impl Iterator<Item = (Band, &T)> {
        Band::ALL.into_iter().zip(self.0.iter())
    }
}

impl Bands<f64> {
    /// Sum over the bands.
    #[must_use]
    pub fn sum(self) -> f64 {
        self.0.iter().sum()
    }

    /// What is known at the centers of the octaves, at a frequency in Hz: linear between them over the logarithm of frequency, constant beyond.
    #[must_use]
    pub fn between(&self, frequency: f64) -> f64 {
        let place = ((frequency / Band::ALL[0].center()).log10() / 0.3).clamp(0.0, (BAND_COUNT - 1) as f64);
        let low = (place as usize).min(BAND_COUNT - 2);
        self.0[low] + (place - low as f64) * (self.0[low + 1] - self.0[low])
    }
}

impl<T> Index<Band> for Bands<T> {
    type Output = T;
    fn index(&self, band: Band) -> &T {
        &self.0[band.index()]
    }
}

impl<T> IndexMut<Band> for Bands<T> {
    fn index_mut(&mut self, band: Band) -> &mut T {
        &mut self.0[band.index()]
    }
}

impl<T: Copy + Add<Output = T>> Add for Bands<T> {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        self.zip(other, |a, b| a + b)
    }
}

impl<T: Copy + Sub<Output = T>> Sub for Bands<T> {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        self.zip(other, |a, b| a - b)
    }
}

impl<T: Copy + Mul<Output = T>> Mul for Bands<T> {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        self.zip(other, |a, b| a * b)
    }
}

impl<T: Copy + Mul<Output = T>> Mul<T> for Bands<T> {
    type Output = Self;
    fn mul(self, factor: T) -> Self {
        self.map(|value| value * factor)
    }
}
