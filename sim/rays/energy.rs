//! What the room's own finishes leave of every ray: which rays matter later, and how many of them carry a band.
//!
//! Late in a decay most energy travels with few rays, those that kept to hard surfaces. Drawn evenly, hardly any of these would be among the
//! rays of the tail. So the tail is traced in stages, and each begins with rays drawn by what they still carry: the more, the more copies of it
//! go on, each with its part of the share; what carries little is let go as often as that, and what stays stands for it. A tenth of the draw
//! looks at the share alone, so that no ray counts for more than ten drawn evenly, whatever it will be weighed with. Shares add up in the mean
//! whatever the finishes: what hangs may be changed afterwards.
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
use crate::room::Room;

use super::store::Chunk;

/// Part of a draw that looks at the shares alone.
const EVEN: f64 = 0.1;
const MIRRORED: f64 = 0.1;

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

    /// Energy of every ray of a chunk, its share in it, after so many meters in each band.
    pub(super) fn energies(&self, chunk: &Chunk, source: usize, ways: &Bands<f32>) -> Vec<Energy> {
        dispatch!(chosen().level(), simd => self.of_chunk(simd, chunk, source, ways))
    }

    #[inline(always)]
    fn of_chunk<S: Simd>(&self, simd: S, chunk: &Chunk, source: usize, ways: &Bands<f32>) -> Vec<Energy> {
        let farthest = ways.0.into_iter().fold(0.0, f32::max);
        let (ways, one) = (f32x8::load_array_ref(simd, &ways.0), f32x8::splat(simd, 1.0));
        let mut energies = Vec::with_capacity(chunk.rays.len());
        for (ray, stored) in chunk.rays.iter().enumerate() {
            let sent = self.sources[source].energy(f64::from(stored.aim_cosine));
            let mut start = [0.0; BAND_COUNT];
            for (start, sent) in start.iter_mut().zip(sent.0) {
                *start = sent as f32 * stored.share;
            }
            let mut energy = f32x8::load_array(simd, start);
            for hit in &chunk.hits[chunk.hits_of(ray)] {
                if hit.travelled() > farthest {
                    break;
                }
                let row = &self.rows[usize::from(hit.surface) * COSINE_BINS + usize::from(hit.cosine_bin)];
                let kept = f32x8::load_array_ref(simd, &row[usize::from(hit.went_diffuse())]) * (1.0 / hit.chance());
                energy *= ways.simd_ge(f32x8::splat(simd, hit.travelled())).select(kept, one);
            }
            energy.store_array(&mut start);
            energies.push(start);
        }
        energies
    }
}

/// Draws `count` rays of a chunk by what they carry in these bands, from one number in [0, 1).
pub(super) fn draw(
    chunk: &Chunk,
    energies: &[Energy],
    worth: impl Fn(usize) -> f32,
    member: &Bands<bool>,
    count: usize,
    random: f64,
) -> Vec<Drawn> {
    let mut totals = [0.0; BAND_COUNT];
    for energy in energies {
        for (total, &energy) in totals.iter_mut().zip(energy) {
            *total += f64::from(energy);
        }
    }
    let shares: f64 = chunk.rays.iter().map(|ray| f64::from(ray.share)).sum();
    let parts: Vec<f64> =
        member.0.iter().zip(totals).map(|(&member, total)| if member && total > 0.0 { 1.0 / total } else { 0.0 }).collect();
    let bands = parts.iter().filter(|part| **part > 0.0).count().max(1) as f64;
    // Chances add up to 1 where any energy is left.
    let chance = |ray: usize| {
        let carried: f64 = energies[ray].iter().zip(&parts).map(|(&energy, part)| f64::from(energy) * part).sum();
        (1.0 - EVEN - MIRRORED) * carried / bands + EVEN * f64::from(chunk.rays[ray].share) / shares
    };
    let worths: Vec<f64> = (0..energies.len()).map(|ray| chance(ray) * (f64::from(worth(ray)) - 1.0)).collect();
    let all_worth: f64 = worths.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    let chance = |ray: usize| chance(ray) + MIRRORED * worths[ray] / all_worth;
    let all: f64 = (0..energies.len()).map(chance).sum();
    let step = all / count as f64;
    let mut drawn = Vec::with_capacity(count);
    let (mut passed, mut next) = (0.0, random * step);
    for ray in 0..energies.len() {
        let own = chance(ray);
        passed += own;
        while next < passed && drawn.len() < count {
            drawn.push(Drawn { ray, share: (f64::from(chunk.rays[ray].share) * step / own) as f32 });
            next += step;
        }
    }
    drawn
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
