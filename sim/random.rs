//! Random numbers as a pure function of (seed, purpose, index, dimension): ray 8213 is the same ray on any machine load.
//!
//! A stream is a key mixed from seed, purpose and index; its n-th number is a 64-bit finalizer of `key + n * golden ratio`.
//!
//! *References.* G. L. Steele, D. Lea, C. H. Flood, "Fast splittable pseudorandom number generators", OOPSLA 2014
//! (the `SplitMix64` generator); its finalizer constants are D. Stafford's variant 13 of the `MurmurHash3` finalizer.
//!
//! *Limits.* Not for cryptography.

use std::convert::Infallible;

use rand::rand_core::TryRng;

/// What a random number is for; streams of different purposes never share numbers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Purpose {
    /// The bounces of a ray.
    Ray,
    /// Those of a ray that only scouts.
    Scout,
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
        let purpose = match purpose {
            Purpose::Ray => 1,
            Purpose::Search => 2,
            Purpose::Scout => 3,
        };
        let key = mix(mix(seed.wrapping_add(GOLDEN).wrapping_mul(2 * purpose + 1)).wrapping_add(index.wrapping_mul(GOLDEN)));
        Self { key, next: 0 }
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
