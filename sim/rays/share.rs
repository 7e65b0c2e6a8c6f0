//! How many of the rays effectively carry each band: `(sum w)^2 / (n sum w^2)` of the weights `s / p` and `(1 - s) / (1 - p)` of the ways that
//! they took.
//!
//! *References.* A. Kong, Technical Report 348, University of Chicago, 1992.

use fearless_simd::prelude::*;
use fearless_simd::{dispatch, f32x8};

use crate::bands::{BAND_COUNT, Bands};
use crate::geometry::instructions::chosen;
use crate::room::Room;

use super::store::Chunk;

/// Sums over rays of their weights and of the squares of these.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Moments {
    count: f64,
    sum: [f64; BAND_COUNT],
    squares: [f64; BAND_COUNT],
}

impl Moments {
    /// Of the rays of a chunk after `travelled` meters.
    pub(super) fn of(room: &Room, chunk: &Chunk, travelled: f32) -> Self {
        let scattering: Vec<[f32; BAND_COUNT]> =
            room.surfaces.iter().map(|surface| room.finishes[surface.finish].scattering.map(|s| s as f32).0).collect();
        let mut moments = Self::default();
        dispatch!(chosen().level(), simd => moments.add_all(simd, chunk, &scattering, travelled));
        moments
    }

    #[inline(always)]
    fn add_all<S: Simd>(&mut self, simd: S, chunk: &Chunk, scattering: &[[f32; BAND_COUNT]], travelled: f32) {
        let one = f32x8::splat(simd, 1.0);
        for ray in 0..chunk.rays.len() {
            let mut weight = one;
            for hit in &chunk.hits[chunk.hits_of(ray)] {
                if hit.travelled() > travelled {
                    break;
                }
                let s = f32x8::load_array_ref(simd, &scattering[usize::from(hit.surface)]);
                weight *= if hit.went_diffuse() { s } else { one - s } * (1.0 / hit.chance());
            }
            self.count += 1.0;
            let mut weights = [0.0; BAND_COUNT];
            weight.store_array(&mut weights);
            for (band, weight) in weights.map(f64::from).into_iter().enumerate() {
                self.sum[band] += weight;
                self.squares[band] += weight * weight;
            }
        }
    }

    pub(super) fn add(&mut self, other: &Self) {
        self.count += other.count;
        for band in 0..BAND_COUNT {
            self.sum[band] += other.sum[band];
            self.squares[band] += other.squares[band];
        }
    }

    /// The share of each band; nothing without rays.
    pub(super) fn shares(&self) -> Option<Bands<f64>> {
        let share = |sum: f64, squares: f64| if squares > 0.0 { sum * sum / (self.count * squares) } else { 0.0 };
        (self.count > 0.0).then(|| Bands(std::array::from_fn(|band| share(self.sum[band], self.squares[band]))))
    }
}
