//! Random numbers as a pure function of (seed, purpose, index, dimension): ray 8213 is the same ray on any machine load.
//!
//! A stream is a key mixed from seed, purpose and index; its n-th number is a 64-bit finalizer of `key + n * golden ratio`. Rays go eight
//! side by side and draw from [`StreamLanes`], whose n-th number is a 32-bit finalizer of one half of the key and n, then of that and the
//! other half: vector instructions have no product of 64 bits.
//!
//! *References.* G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014
//! (the `SplitMix64` generator); its finalizer constants are D. Stafford's variant 13 of the `MurmurHash3` finalizer. The finalizer of 32 bits
//! was found by search for the least bias: C. Wellons, 2018 (constants from memory; `tests/random.rs` looks at what comes out).
//!
//! *Limits.* Not for cryptography. Numbers of [`StreamLanes`] are multiples of 2^-24.

use std::convert::Infallible;

use fearless_simd::prelude::*;
use fearless_simd::{f32x8, mask32x8, u32x8};
use rand::rand_core::TryRng;

/// What a random number is for; streams of different purposes never share numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The bounces of a ray.
    Ray,
    /// Those of a ray that only scouts.
    Scout,
    /// Which rays go on into a stage of the tail.
    Draw,
    /// Which way a ray leaves its source.
    Start,
    /// What a wall may be that nobody has measured.
    Wall,
    /// What is noise in a dry sound.
    Dry,
    /// What the sound of rays is made of.
    Tail,
    /// Anything tests or searches draw.
    Search,
}

/// 2^64 divided by the golden ratio, made odd.
const GOLDEN: u64 = 0x9E37_79B9_7F4A_7C15;

fn mix(mut z: u64) -> u64 {
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    z ^ (z >> 31)
}

/// What the numbers of this seed, purpose and index are made of.
#[must_use]
pub fn key(seed: u64, purpose: Purpose, index: u64) -> u64 {
    let purpose = match purpose {
        Purpose::Ray => 1,
        Purpose::Search => 2,
        Purpose::Scout => 3,
        Purpose::Draw => 4,
        Purpose::Start => 5,
        Purpose::Wall => 6,
        Purpose::Dry => 7,
        Purpose::Tail => 8,
    };
    mix(mix(seed.wrapping_add(GOLDEN).wrapping_mul(2 * purpose + 1)).wrapping_add(index.wrapping_mul(GOLDEN)))
}

/// The numbers of one (seed, purpose, index).
#[derive(Clone, Copy, Debug)]
pub struct Stream {
    key: u64,
    next: u64,
}

impl Stream {
    /// The stream of this seed, purpose and index.
    #[must_use]
    pub fn new(seed: u64, purpose: Purpose, index: u64) -> Self {
        Self { key: key(seed, purpose, index), next: 0 }
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.next = self.next.wrapping_add(1);
        mix(self.key.wrapping_add(self.next.wrapping_mul(GOLDEN)))
    }

    /// The next number in [0, 1).
    pub fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }
}

impl TryRng for Stream {
    type Error = Infallible;

    fn try_next_u32(&mut self) -> Result<u32, Infallible> {
        Ok((self.bits() >> 32) as u32)
    }

    fn try_next_u64(&mut self) -> Result<u64, Infallible> {
        Ok(self.bits())
    }

    fn try_fill_bytes(&mut self, destination: &mut [u8]) -> Result<(), Infallible> {
        for chunk in destination.chunks_mut(8) {
            let bytes = self.bits().to_le_bytes();
            chunk.copy_from_slice(&bytes[..chunk.len()]);
        }
        Ok(())
    }
}

/// Eight streams side by side.
#[derive(Clone, Copy, Debug)]
pub struct StreamLanes<S: Simd> {
    /// Halves of the keys.
    low: u32x8<S>,
    high: u32x8<S>,
    next: u32x8<S>,
}

/// 2^32 divided by the golden ratio, made odd.
const GOLDEN_32: u32 = 0x9E37_79B9;

impl<S: Simd> StreamLanes<S> {
    /// Streams of these keys, from their beginning.
    #[inline(always)]
    pub fn new(simd: S, keys: [u64; 8]) -> Self {
        Self {
            low: u32x8::load_array(simd, keys.map(|key| key as u32)),
            high: u32x8::load_array(simd, keys.map(|key| (key >> 32) as u32)),
            next: u32x8::splat(simd, 0),
        }
    }

    /// Goes on with other streams where the mask says so.
    #[inline(always)]
    pub fn replace(&mut self, mask: mask32x8<S>, by: Self) {
        self.low = mask.select(by.low, self.low);
        self.high = mask.select(by.high, self.high);
        self.next = mask.select(by.next, self.next);
    }

    /// The next number of each, in [0, 1).
    #[inline(always)]
    pub fn unit(&mut self, simd: S) -> f32x8<S> {
        self.next += u32x8::splat(simd, GOLDEN_32);
        let bits = mix_32(simd, mix_32(simd, self.low + self.next) ^ self.high);
        f32x8::float_from(bits >> 8) * f32x8::splat(simd, 1.0 / 16_777_216.0)
    }
}

#[inline(always)]
fn mix_32<S: Simd>(simd: S, z: u32x8<S>) -> u32x8<S> {
    let z = (z ^ (z >> 16)) * u32x8::splat(simd, 0x7FEB_352D);
    let z = (z ^ (z >> 15)) * u32x8::splat(simd, 0x846C_A68B);
    z ^ (z >> 16)
}
