//! How a quantity that is linear in the arrivals changes when absorber takes the place of wall, patch by patch.
//!
//! A quantity `Q = sum over arrivals of energy x phi(time, band)`; phi is 1 in the early window for the early level, and the
//! linearized fit of the decay for T30. One backward pass over each ray gives `dQ/dA` on every patch: at a bounce all that arrives
//! later carries the factor the finish there left it, so exchanging the finish changes it by `(a - f) / f`. Image arrivals are spread
//! over the Fresnel zone of each bounce, as they are weighed.
//!
//! *References.* Adjoint (backward) differentiation of a product along a path: e.g. I. Lux, L. Koblinger, Monte Carlo Particle
//! Transport Methods, 1991, ch. 6 (perturbation by weights).

use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::geometry::Polygon;
use crate::progress::{Cancelled, Progress};
use crate::rays::Chunk;
use crate::room::Room;
use crate::settings::BATCHES;

use super::stochastic::{Bins, finish_of, sent, way_taken};
use super::{Linings, SpecularPath, Traced};

/// Patches on every surface, numbered through.
#[derive(Clone, Debug, PartialEq)]
pub struct PatchGrid {
    /// One for each surface.
    pub surfaces: Vec<SurfaceGrid>,
    /// Patches in all.
    pub count: usize,
    /// Side of a patch, meters.
    pub side: f64,
}

/// The patches of one surface, row by row from its lowest corner.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceGrid {
    /// Number of its first patch.
    pub first: usize,
    /// Lowest corner of the first patch on the chart, meters.
    pub low: DVec2,
    /// Patches in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Area of each patch inside the surface's outline, m2.
    pub area: Vec<f64>,
}

impl PatchGrid {
    /// Patches of `side` meters on every surface.
    #[must_use]
    pub fn new(room: &Room, side: f64) -> Self {
        let mut count = 0;
        let surfaces = room
            .surfaces
            .iter()
            .map(|surface| {
                let (low, high) = surface.outline.bounds();
                let size = ((high - low) / side - 1e-9).ceil().max(DVec2::ONE);
                let (columns, rows) = (size.x as usize, size.y as usize);
                let area = (0..rows * columns)
                    .map(|patch| {
                        patch_area(&surface.outline, low + side * DVec2::new((patch % columns) as f64, (patch / columns) as f64), side)
                    })
                    .collect();
                let grid = SurfaceGrid { first: count, low, columns, rows, area };
                count += columns * rows;
                grid
            })
            .collect();
        Self { surfaces, count, side }
    }

    /// Number of the patch at a position of a surface.
    #[must_use]
    pub fn patch(&self, surface: usize, position: DVec2) -> usize {
        let grid = &self.surfaces[surface];
        let place = ((position - grid.low) / self.side).max(DVec2::ZERO);
        grid.first + (place.y as usize).min(grid.rows - 1) * grid.columns + (place.x as usize).min(grid.columns - 1)
    }

    /// Divides sums by patch by the patches' areas; NaN where a patch lies outside its surface.
    #[must_use]
    pub fn per_area(&self, sums: &[f64]) -> Vec<f64> {
        let areas = self.surfaces.iter().flat_map(|grid| &grid.area);
        sums.iter().zip(areas).map(|(&sum, &area)| if area > 1e-9 { sum / area } else { f64::NAN }).collect()
    }
}

impl PatchGrid {
    /// Spreads sums by patch evenly over a disc of `radius` meters round each patch of the same surface: a path is not heard through a
    /// point, but through its footprint. Densities are kept at the surface's edges.
    #[must_use]
    pub fn spread(&self, sums: &[f64], radius: f64) -> Vec<f64> {
        let reach = (radius / self.side).floor() as isize;
        if reach < 1 {
            return sums.to_vec();
        }
        let square = (radius / self.side).powi(2);
        let mut spread = vec![0.0; self.count];
        for own in &self.surfaces {
            let (columns, rows) = (own.columns as isize, own.rows as isize);
            // Running sums along each row make a disc a handful of differences.
            let wide = own.columns + 1;
            let (mut along_sums, mut along_areas) = (vec![0.0; wide * own.rows], vec![0.0; wide * own.rows]);
            for row in 0..own.rows {
                for column in 0..own.columns {
                    let (patch, slot) = (row * own.columns + column, row * wide + column);
                    along_sums[slot + 1] = along_sums[slot] + sums[own.first + patch];
                    along_areas[slot + 1] = along_areas[slot] + own.area[patch];
                }
            }
            for patch in 0..own.columns * own.rows {
                let (column, row) = (patch as isize % columns, patch as isize / columns);
                let (mut sum, mut area) = (0.0, 0.0);
                for other in (row - reach).max(0)..=(row + reach).min(rows - 1) {
                    let half = (square - ((other - row) as f64).powi(2)).max(0.0).sqrt().floor() as isize;
                    let (from, to) = ((column - half).max(0) as usize, (column + half + 1).min(columns) as usize);
                    let line = other as usize * wide;
                    sum += along_sums[line + to] - along_sums[line + from];
                    area += along_areas[line + to] - along_areas[line + from];
                }
                if area > 1e-12 {
                    spread[own.first + patch] = sum / area * own.area[patch];
                }
            }
        }
        spread
    }
}

/// Area of a square patch inside an outline, m2.
fn patch_area(outline: &Polygon, corner: DVec2, side: f64) -> f64 {
    let middle = corner + 0.5 * side;
    // Most patches are nowhere near the border.
    if outline.distance_to_boundary(middle) > side {
        return if outline.contains(middle) { side * side } else { 0.0 };
    }
    outline.overlap_area(&Polygon::rectangle(corner, corner + side))
}

/// What is differentiated, and what for.
pub struct Quantity<'a> {
    /// Weight of an arrival by source, receiver and bin: `phi[source][receiver][bin]` by band; no arrival counts beyond its end.
    pub phi: &'a [Vec<Vec<Bands<f64>>>],
    /// What takes the place of the finishes.
    pub exchanged: &'a Linings,
}

/// Change of the quantity per whole patch exchanged, of classes (b) and (c): `[batch][patch]`, each batch an estimate of the whole.
///
/// # Errors
/// [`Cancelled`].
pub fn rays(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    grid: &PatchGrid,
    quantity: &Quantity<'_>,
) -> Result<Vec<Vec<f64>>, Cancelled> {
    let Traced { room, settings, directivity, paths, .. } = traced;
    let bins = Bins::new(room, paths.end_s, settings.bin_s);
    // Air absorption belongs to the arrivals; folded into the weights it costs nothing.
    let phi: Vec<Vec<Vec<[f32; BAND_COUNT]>>> = (0..room.sources.len())
        .map(|source| {
            (0..paths.receivers)
                .map(|receiver| {
                    let weights = &quantity.phi[source][receiver];
                    weights
                        .iter()
                        .zip(bins.air(room, source, receiver))
                        .map(|(&phi, air)| (phi * air).map(|value| value as f32).0)
                        .collect()
                })
                .collect()
        })
        .collect();
    let farthest: Vec<f32> = (0..room.sources.len())
        .map(|source| {
            let reach = |receiver: usize| {
                let direct = room.sources[source].position.distance(room.receivers[receiver].position);
                direct + phi[source][receiver].len() as f64 * settings.bin_s * room.medium.speed
            };
            (0..paths.receivers).map(reach).fold(0.0, f64::max) as f32
        })
        .collect();
    (0..BATCHES as usize)
        .into_par_iter()
        .map(|batch| {
            progress.step(0)?;
            let mut sums = vec![0.0; grid.count];
            for (group, sources) in &paths.groups {
                for (source, stored) in sources.iter().enumerate() {
                    let chunk = &stored.chunks[batch];
                    let pass =
                        Pass { linings, bins: &bins, phi: &phi[source], source, farthest: farthest[source], exchanged: quantity.exchanged };
                    let share = 1.0 / chunk.rays.len().max(1) as f64;
                    let mut trail = Vec::new();
                    for index in 0..chunk.rays.len() {
                        let start = sent(&directivity[source], group.member, chunk.rays[index].aim_cosine, share);
                        pass.forward(chunk, index, start, &mut trail);
                        pass.backward(chunk, &trail, grid, &mut sums);
                    }
                }
            }
            Ok(sums)
        })
        .collect()
}

/// One bounce on the way out: what scattered there and what crossed after it, weighted by phi.
struct Step {
    hit: usize,
    finish: usize,
    /// `sum over receivers of energy x link x phi`, before the finish's diffuse share.
    linked: [f32; BAND_COUNT],
    /// The same of the crossings behind this bounce, the finish's share included.
    crossed: [f32; BAND_COUNT],
}

struct Pass<'a> {
    linings: &'a Linings,
    bins: &'a Bins,
    /// `[receiver][bin]`
    phi: &'a [Vec<[f32; BAND_COUNT]>],
    source: usize,
    farthest: f32,
    exchanged: &'a Linings,
}

impl Pass<'_> {
    fn phi_at(&self, receiver: usize, travelled: f32) -> Option<&[f32; BAND_COUNT]> {
        self.phi[receiver].get(self.bins.at(self.source, receiver, travelled)?)
    }

    fn forward(&self, chunk: &Chunk, index: usize, mut energy: [f32; BAND_COUNT], trail: &mut Vec<Step>) {
        trail.clear();
        let receivers = self.phi.len();
        let tail_from = usize::from(chunk.rays[index].tail_from);
        let mut crossings = chunk.crossings_of(index);
        for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
            let hit = chunk.hits[hit_index];
            if hit.travelled() > self.farthest {
                return;
            }
            if bounce == tail_from {
                energy = energy.map(|value| value * chunk.tail_factor);
            }
            let finish = finish_of(self.linings, hit);
            let mut step = Step { hit: hit_index, finish, linked: [0.0; BAND_COUNT], crossed: [0.0; BAND_COUNT] };
            for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
                if link.weight > 0.0
                    && let Some(phi) = self.phi_at(receiver, link.travelled)
                {
                    for band in 0..BAND_COUNT {
                        step.linked[band] += energy[band] * link.weight * phi[band];
                    }
                }
            }
            let (share, chance) = way_taken(self.linings, finish, hit);
            for band in 0..BAND_COUNT {
                energy[band] *= share[band] / chance;
            }
            while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == bounce {
                let crossing = chunk.crossings[crossings.start];
                crossings.start += 1;
                if let Some(phi) = self.phi_at(usize::from(crossing.receiver), crossing.travelled) {
                    for band in 0..BAND_COUNT {
                        step.crossed[band] += energy[band] * crossing.weight * phi[band];
                    }
                }
            }
            trail.push(step);
        }
    }

    fn backward(&self, chunk: &Chunk, trail: &[Step], grid: &PatchGrid, sums: &mut [f64]) {
        let mut later = [0.0_f32; BAND_COUNT];
        for step in trail.iter().rev() {
            let hit = chunk.hits[step.hit];
            let other = finish_of(self.exchanged, hit);
            let scattered = self.linings.diffuse(step.finish, hit.cosine_bin);
            let exchanged_scattered = self.exchanged.diffuse(other, hit.cosine_bin);
            let (kept, _) = way_taken(self.linings, step.finish, hit);
            let (exchanged, _) = way_taken(self.exchanged, other, hit);
            let mut change = 0.0;
            for band in 0..BAND_COUNT {
                let onward = later[band] + step.crossed[band];
                let ratio = if kept[band] > 0.0 { (exchanged[band] - kept[band]) / kept[band] } else { 0.0 };
                change += step.linked[band] * (exchanged_scattered[band] - scattered[band]) + onward * ratio;
                later[band] = onward + step.linked[band] * scattered[band];
            }
            let position = DVec2::new(f64::from(hit.position[0]), f64::from(hit.position[1]));
            sums[grid.patch(usize::from(hit.surface), position)] += f64::from(change);
        }
    }
}

/// Adds to `sums` what one specular path changes per whole patch exchanged, its weight by band being `weight`.
pub fn specular(
    room: &Room,
    linings: &Linings,
    exchanged: &Linings,
    path: &SpecularPath,
    weight: Bands<f64>,
    grid: &PatchGrid,
    sums: &mut [f64],
) {
    let shares = path.shares(room, linings);
    let energy = shares.iter().fold(path.mirror_energy, |energy, &share| energy * share);
    for (footprint, share) in path.footprints.iter().zip(&shares) {
        for band in Band::ALL {
            let scale = weight[band] * energy[band] / share[band];
            if !scale.is_finite() || scale == 0.0 {
                continue;
            }
            // Samples beyond an edge see no finish; the others share the reflection.
            let seen: Vec<(DVec2, usize)> = footprint
                .fine_samples(band, footprint.samples_for(band, grid.side))
                .filter_map(|position| Some((position, linings.finish_seen(room, footprint.surface, position)?)))
                .collect();
            let per_sample = scale / seen.len() as f64;
            for (position, finish) in seen {
                if linings.is_on(room, footprint.surface, position) {
                    let kept = linings.finish(finish).specular_in(footprint.cosine, band);
                    let other = exchanged.finish(exchanged.finish_at(footprint.surface, position)).specular_in(footprint.cosine, band);
                    sums[grid.patch(footprint.surface, position)] += per_sample * (other - kept);
                }
            }
        }
    }
}
