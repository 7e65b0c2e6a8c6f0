//! Eight vectors side by side, and which of eight: the words that the loops over rays are written in.
//!
//! Everything here is inlined always and takes no closure: what is not inlined loses the vector instructions of the loop that it stands in.

use std::ops::{Add, Mul, Sub};

use fearless_simd::prelude::*;
use fearless_simd::{f32x8, mask32x8};
use glam::Vec3;

/// How many go side by side.
pub const LANES: usize = 8;
/// One number for each.
pub type Lanes = [f32; LANES];

/// Eight vectors.
#[derive(Clone, Copy, Debug)]
pub struct Vec3Lanes<S: Simd> {
    /// Along x.
    pub x: f32x8<S>,
    /// Along y.
    pub y: f32x8<S>,
    /// Along z.
    pub z: f32x8<S>,
}

impl<S: Simd> Vec3Lanes<S> {
    /// One vector eight times.
    #[inline(always)]
    pub fn splat(simd: S, vector: Vec3) -> Self {
        Self { x: f32x8::splat(simd, vector.x), y: f32x8::splat(simd, vector.y), z: f32x8::splat(simd, vector.z) }
    }

    /// From eight numbers along each axis.
    #[inline(always)]
    pub fn load(simd: S, [x, y, z]: &[Lanes; 3]) -> Self {
        Self { x: f32x8::load_array_ref(simd, x), y: f32x8::load_array_ref(simd, y), z: f32x8::load_array_ref(simd, z) }
    }

    /// Eight numbers along each axis.
    #[inline(always)]
    pub fn store(self) -> [Lanes; 3] {
        [array(self.x), array(self.y), array(self.z)]
    }

    /// Sum of the products of the components, fused where that is quick.
    #[inline(always)]
    pub fn dot(self, other: Self) -> f32x8<S> {
        self.x.mul_add(other.x, self.y.mul_add(other.y, self.z * other.z))
    }

    /// These and so many times the others, fused where that is quick.
    #[inline(always)]
    #[must_use]
    pub fn plus(self, times: f32x8<S>, other: Self) -> Self {
        Self { x: times.mul_add(other.x, self.x), y: times.mul_add(other.y, self.y), z: times.mul_add(other.z, self.z) }
    }

    /// These where the mask says so, else the others.
    #[inline(always)]
    #[must_use]
    pub fn or(self, mask: mask32x8<S>, other: Self) -> Self {
        Self { x: mask.select(self.x, other.x), y: mask.select(self.y, other.y), z: mask.select(self.z, other.z) }
    }

    /// One of them eight times.
    #[inline(always)]
    #[must_use]
    pub fn only(self, simd: S, lane: usize) -> Self {
        let [x, y, z] = self.store();
        Self::splat(simd, Vec3::new(x[lane], y[lane], z[lane]))
    }
}

impl<S: Simd> Add for Vec3Lanes<S> {
    type Output = Self;

    #[inline(always)]
    fn add(self, other: Self) -> Self {
        Self { x: self.x + other.x, y: self.y + other.y, z: self.z + other.z }
    }
}

impl<S: Simd> Sub for Vec3Lanes<S> {
    type Output = Self;

    #[inline(always)]
    fn sub(self, other: Self) -> Self {
        Self { x: self.x - other.x, y: self.y - other.y, z: self.z - other.z }
    }
}

impl<S: Simd> Mul<f32x8<S>> for Vec3Lanes<S> {
    type Output = Self;

    #[inline(always)]
    fn mul(self, scale: f32x8<S>) -> Self {
        Self { x: self.x * scale, y: self.y * scale, z: self.z * scale }
    }
}

/// The numbers of eight lanes.
#[inline(always)]
pub fn array<S: Simd>(lanes: f32x8<S>) -> Lanes {
    let mut values = [0.0; LANES];
    lanes.store_array(&mut values);
    values
}

/// Some of eight lanes, a bit each; counts them up as an iterator.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Some8(pub u8);

impl Some8 {
    /// Where a mask is set.
    #[inline(always)]
    pub fn of<S: Simd>(mask: mask32x8<S>) -> Self {
        Self(mask.to_bitmask() as u8)
    }

    /// Whether a lane is among them.
    #[inline(always)]
    #[must_use]
    pub fn has(self, lane: usize) -> bool {
        self.0 >> lane & 1 == 1
    }

    /// Puts a lane among them or takes it out.
    #[inline(always)]
    pub fn set(&mut self, lane: usize, among: bool) {
        self.0 = self.0 & !(1 << lane) | u8::from(among) << lane;
    }
}

impl Iterator for Some8 {
    type Item = usize;

    #[inline(always)]
    fn next(&mut self) -> Option<usize> {
        if self.0 == 0 {
            return None;
        }
        let lane = self.0.trailing_zeros() as usize;
        self.0 &= self.0 - 1;
        Some(lane)
    }
}

/// Eight rays side by side, or one ray eight times.
#[derive(Clone, Copy, Debug)]
pub struct RayLanes<S: Simd> {
    /// Where they begin, meters.
    pub origin: Vec3Lanes<S>,
    /// Unit vectors.
    pub direction: Vec3Lanes<S>,
}

impl<S: Simd> RayLanes<S> {
    /// One ray eight times.
    #[inline(always)]
    pub fn splat(simd: S, origin: Vec3, direction: Vec3) -> Self {
        Self { origin: Vec3Lanes::splat(simd, origin), direction: Vec3Lanes::splat(simd, direction) }
    }

    /// Points so many meters on.
    #[inline(always)]
    pub fn at(&self, distance: f32x8<S>) -> Vec3Lanes<S> {
        self.origin.plus(distance, self.direction)
    }
}
