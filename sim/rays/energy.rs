//! What the room's own finishes leave of every ray: which rays matter later, and how many of them carry a band.
//!
//! Late in a decay most energy travels with few rays, those that kept to hard surfaces. Drawn evenly, hardly any of these would be among the
//! rays of the tail. So the tail is traced in stages, and each begins with rays drawn by what they still carry: the more, the more copies of it
//! go on, each with its part of the share; what carries little is let go as often as that, and what stays stands for it. A tenth of the draw
//! looks at the share alone, so that no ray counts for more than ten drawn evenly, whatever it will be weighed with; a tenth is for rays that run to and
//! fro between two walls (`start`), which carry little when they are drawn and most of what is left in the end. Shares add up in the mean whatever
//! the finishes: what hangs may be changed afterwards.
//!
//! How many rays effectively carry a band is `(sum e)^2 / (n sum e^2)` of their energies.
//!
//! *References.* Splitting and roulette: I. Lux, L. Koblinger, Monte Carlo Particle Transport Methods, 1991, ch. 6 (from memory). Drawing at
//! equal steps from one random number: G. Kitagawa, J. Comput. Graph. Stat. 5 (1996) 1 (from memory). Effective number of weighted samples: A. Kong,
//! Technical Report 348, University of Chicago, 1992.

use fearless_simd::prelude::*;
use fearless_simd::{dispatch, f32x8};

use crate::absorbers::COSINE_BINS;
use crate::bands::{BAND_COUNT, Band, Bands};
use crate::directivity::DirectivityTable;
use crate::geometry::instructions::chosen;
use crate::geometry::lanes::array;
use crate::room::Room;

use super::flight::Origin;
use super::store::{Chunk, Ray};

/// Part of a draw that looks at the shares alone.
const EVEN: f64 = 0.1;

/// Part of a draw that looks at how much more rays are worth than what they carry.
const TO_COME: f64 = 0.1;

/// What the surfaces of a room leave, as they stand: by surface and cosine bin, mirrored and scattered.
pub(super) struct Leavings {
    rows: Vec<[[f32; BAND_COUNT]; 2]>,
    /// How each source sends.
    pub(super) sources: Vec<DirectivityTable>,
}

/// Energy of a ray by band.
pub(super) type Energy = [f32; BAND_COUNT];

/// One that is drawn: the number of the ray, and the share of its copy.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Drawn {
    pub(super) ray: usize,
    pub(super) share: f32,
}

impl Leavings {
    pub(super) fn new(room: &Room) -> Self {
        let of_surface = |surface: &crate::room::Surface| {
            let finish = &room.finishes[surface.finish];
            (0..COSINE_BINS).map(|bin| [finish.specular[bin].0, finish.diffuse[bin].0]).collect::<Vec<_>>()
        };
        let table = |source: &crate::room::Emitter| DirectivityTable::new(source.directivity, room.medium.speed);
        Self { rows: room.surfaces.iter().flat_map(of_surface).collect(), sources: room.sources.iter().map(table).collect() }
    }

    /// What rays that begin at a source carry, by band.
    pub(super) fn sent(&self, source: usize, rays: &[Origin]) -> Vec<Energy> {
        let sent = |ray: &Origin| {
            let sent = self.sources[source].energy(1.0 - 2.0 * f64::from(ray.off_aim));
            sent.map(|sent| sent as f32 * ray.share).0
        };
        rays.iter().map(sent).collect()
    }

    /// What every ray of a chunk carries after so many meters in each band, begun with so much.
    pub(super) fn carried(&self, chunk: &Chunk, begun: &[Energy], ways: &Bands<f32>) -> Vec<Energy> {
        dispatch!(chosen().level(), simd => self.of_chunk(simd, chunk, begun, ways))
    }

    #[inline(always)]
    fn of_chunk<S: Simd>(&self, simd: S, chunk: &Chunk, begun: &[Energy], ways: &Bands<f32>) -> Vec<Energy> {
        let farthest = ways.0.into_iter().fold(0.0, f32::max);
        let (ways, one) = (f32x8::load_array_ref(simd, &ways.0), f32x8::splat(simd, 1.0));
        let mut energies = Vec::with_capacity(chunk.rays.len());
        for (ray, begun) in begun.iter().enumerate() {
            let mut energy = f32x8::load_array_ref(simd, begun);
            for hit in &chunk.hits[chunk.hits_of(ray)] {
                if hit.travelled() > farthest {
                    break;
                }
                let row = &self.rows[usize::from(hit.surface) * COSINE_BINS + usize::from(hit.cosine_bin)];
                let kept = f32x8::load_array_ref(simd, &row[usize::from(hit.went_diffuse())]) * (1.0 / hit.chance());
                energy *= ways.simd_ge(f32x8::splat(simd, hit.travelled())).select(kept, one);
            }
            energies.push(array(energy));
        }
        energies
    }
}

/// Rays to draw from.
pub(super) struct Urn<'a> {
    pub(super) rays: &'a [Ray],
    /// What each carries.
    pub(super) energies: &'a [Energy],
    /// How many times more each is worth than that by what is to come; 0 of one that is lost.
    pub(super) worths: &'a [f32],
}

impl Urn<'_> {
    /// Draws `count` rays by what they carry in these bands, from one number in [0, 1); none where all are lost.
    pub(super) fn draw(&self, member: &Bands<bool>, count: usize, random: f64) -> Vec<Drawn> {
        let chances = self.chances(member);
        let step = chances.iter().sum::<f64>() / count as f64;
        let mut drawn = Vec::with_capacity(count);
        let (mut passed, mut next) = (0.0, random * step);
        for (ray, &own) in chances.iter().enumerate() {
            passed += own;
            while next < passed && drawn.len() < count {
                drawn.push(Drawn { ray, share: (f64::from(self.rays[ray].share) * step / own) as f32 });
                next += step;
            }
        }
        drawn
    }

    /// How often each is drawn, re each other.
    fn chances(&self, member: &Bands<bool>) -> Vec<f64> {
        let mut totals = [0.0; BAND_COUNT];
        let mut shares = 0.0;
        for ((ray, energy), _) in self.rays.iter().zip(self.energies).zip(self.worths).filter(|&(_, &worth)| worth > 0.0) {
            shares += f64::from(ray.share);
            for (total, &energy) in totals.iter_mut().zip(energy) {
                *total += f64::from(energy);
            }
        }
        let parts = totals.map(|total| if total > 0.0 { 1.0 / total } else { 0.0 });
        let bands: Vec<usize> = (0..BAND_COUNT).filter(|&band| member.0[band] && parts[band] > 0.0).collect();
        let carried =
            |energy: &Energy| bands.iter().map(|&band| f64::from(energy[band]) * parts[band]).sum::<f64>() / bands.len().max(1) as f64;
        let rays = self.rays.iter().zip(self.energies).zip(self.worths);
        let plain = |((ray, energy), &worth): ((&Ray, &Energy), &f32)| {
            if worth > 0.0 { (1.0 - EVEN - TO_COME) * carried(energy) + EVEN * f64::from(ray.share) / shares } else { 0.0 }
        };
        let plain: Vec<f64> = rays.map(plain).collect();
        let more = |(&chance, &worth): (&f64, &f32)| chance * (f64::from(worth) - 1.0).max(0.0);
        let all: f64 = plain.iter().zip(self.worths).map(more).sum();
        let part = if all > 0.0 { TO_COME / all } else { 0.0 };
        plain.iter().zip(self.worths).map(|ray| ray.0 + part * more(ray)).collect()
    }
}

/// Sums over rays of their energies and of the squares of these.
#[derive(Clone, Copy, Debug, Default)]
pub(super) struct Moments {
    count: [f64; BAND_COUNT],
    sum: [f64; BAND_COUNT],
    squares: [f64; BAND_COUNT],
}

impl Moments {
    /// In these bands.
    pub(super) fn of(energies: &[Energy], bands: &[Band]) -> Self {
        let mut moments = Self::default();
        for band in bands {
            moments.count[band.index()] = energies.len() as f64;
        }
        for energy in energies {
            for band in bands.iter().map(|band| band.index()) {
                let energy = f64::from(energy[band]);
                moments.sum[band] += energy;
                moments.squares[band] += energy * energy;
            }
        }
        moments
    }

    pub(super) fn add(&mut self, other: &Self) {
        for band in 0..BAND_COUNT {
            self.count[band] += other.count[band];
            self.sum[band] += other.sum[band];
            self.squares[band] += other.squares[band];
        }
    }

    /// The share of rays that carry a band; nothing without rays.
    pub(super) fn share(&self, band: Band) -> Option<f64> {
        let (count, sum, squares) = (self.count[band.index()], self.sum[band.index()], self.squares[band.index()]);
        (count > 0.0).then(|| if squares > 0.0 { sum * sum / (count * squares) } else { 0.0 })
    }
}
