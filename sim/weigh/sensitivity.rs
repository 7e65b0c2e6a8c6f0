//! How a quantity that is linear in the arrivals changes when absorber takes the place of wall, patch by patch.
//!
//! A quantity `Q = sum over arrivals of energy x phi(time, band)`; phi is 1 in the early window for the early level, and the
//! linearized fit of the decay for T30. One backward pass over each ray gives what every bounce would bring with each of the finishes in
//! its footprint, `W(f) = linked x diffuse(f) + later x kept(f) / kept`; blended back over the patches (the footprint's diffusion is its own
//! adjoint), patch `j` that goes from `f` to `a` changes the quantity by `W(a) - W(f)` there. It is the exact derivative of what is
//! weighed. Image arrivals are spread over the footprint of each bounce, as they are weighed.
//!
//! *References.* Adjoint (backward) differentiation of a product along a path: e.g. I. Lux, L. Koblinger, Monte Carlo Particle
//! Transport Methods, 1991, ch. 6 (perturbation by weights).

use std::borrow::Cow;

use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::progress::{Cancelled, Progress};
use crate::rays::Chunk;
use crate::room::{BLEND, PatchGrid, Room};
use crate::settings::BATCHES;

use super::linings::Part;
use super::stochastic::{Bins, parts_of, position_of};
use super::{Footprint, Linings, SpecularPath, Traced};

/// What is differentiated, and what for.
pub struct Quantity<'a> {
    /// Weight of an arrival by source, receiver and bin: `phi[source][receiver][bin]` by band; no arrival counts beyond its end.
    pub phi: &'a [Vec<Vec<Bands<f64>>>],
    /// What takes the place of the finishes; several answers cost little more than one.
    pub exchanged: &'a [&'a Linings],
}

/// Change of the quantity per whole patch of the room exchanged, of classes (b) and (c): `[exchanged][batch][patch]`, each batch an
/// estimate of the whole.
///
/// # Errors
/// [`Cancelled`].
pub fn rays(progress: &Progress, traced: &Traced, linings: &Linings, quantity: &Quantity<'_>) -> Result<Vec<Vec<Vec<f64>>>, Cancelled> {
    let Traced { room, settings, paths, starts, .. } = traced;
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
    let worths = Worths::new(room, linings, quantity.exchanged);
    let batches = (0..BATCHES as usize)
        .into_par_iter()
        .map(|batch| {
            progress.step(0)?;
            let mut sums = vec![0.0; worths.count];
            let mut trail = Vec::new();
            for (group, (_, sources)) in paths.groups.iter().enumerate() {
                for (source, stored) in sources.iter().enumerate() {
                    let chunk = &stored.chunks[batch];
                    let pass = Pass { linings, bins: &bins, phi: &phi[source], source, farthest: farthest[source] };
                    for (index, &start) in starts[source][group][batch].iter().enumerate() {
                        pass.forward(chunk, index, start, &mut trail);
                        pass.backward(chunk, &trail, &worths, &mut sums);
                    }
                }
            }
            Ok((1..worths.states.len()).map(|state| worths.changes(&sums, state)).collect())
        })
        .collect::<Result<Vec<Vec<Vec<f64>>>, Cancelled>>()?;
    let mut changes = vec![Vec::with_capacity(batches.len()); quantity.exchanged.len()];
    for batch in batches {
        for (change, batch) in changes.iter_mut().zip(batch) {
            change.push(batch);
        }
    }
    Ok(changes)
}

/// Where the sums of what bounces are worth stand: for each surface and state one row of patches for each finish on it.
struct Worths<'a> {
    grid: &'a PatchGrid,
    /// As it is, then what it is exchanged for.
    states: Vec<&'a Linings>,
    /// First sum: `first[surface][state]`.
    first: Vec<Vec<usize>>,
    count: usize,
}

impl<'a> Worths<'a> {
    fn new(room: &'a Room, linings: &'a Linings, exchanged: &[&'a Linings]) -> Self {
        let states: Vec<&Linings> = std::iter::once(linings).chain(exchanged.iter().copied()).collect();
        let mut count = 0;
        let mut first = Vec::with_capacity(room.surfaces.len());
        for (surface, own) in room.patches.surfaces.iter().enumerate() {
            let mut rows = |state: &&Linings| {
                let begin = count;
                count += state.layers(surface).len() * own.len();
                begin
            };
            first.push(states.iter().map(&mut rows).collect());
        }
        Self { grid: &room.patches, states, first, count }
    }

    /// Change by patch, out of what the bounces in each patch would bring with each finish.
    fn changes(&self, sums: &[f64], exchanged: usize) -> Vec<f64> {
        let mut changes = vec![0.0; self.grid.count];
        for (surface, own) in self.grid.surfaces.iter().enumerate() {
            for (state, sign) in [(0, -1.0), (exchanged, 1.0)] {
                let layers = self.states[state].layers(surface).len();
                let begin = self.first[surface][state];
                for layer in 0..layers {
                    let worth = &sums[begin + layer * own.len()..begin + (layer + 1) * own.len()];
                    let density = worth.iter().zip(&own.area).map(|(&worth, &area)| if area > 1e-9 { worth / area } else { 0.0 });
                    let mut density: Vec<f64> = density.collect();
                    own.blend(self.grid.side, BLEND, &mut density);
                    for (slot, density) in density.into_iter().enumerate() {
                        let cover = self.states[state].cover(surface, layer, slot);
                        changes[own.first + slot] += sign * cover * density * own.area[slot];
                    }
                }
            }
        }
        changes
    }
}

/// One bounce on the way out: what scattered there and what crossed after it, weighted by phi.
struct Step<'a> {
    hit: usize,
    parts: &'a [Part],
    /// What the finishes leave for the way the ray took.
    kept: [f32; BAND_COUNT],
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
}

impl<'a> Pass<'a> {
    fn phi_at(&self, receiver: usize, travelled: f32) -> Option<&[f32; BAND_COUNT]> {
        self.phi[receiver].get(self.bins.at(self.source, receiver, travelled)?)
    }

    fn forward(&self, chunk: &Chunk, index: usize, mut energy: [f32; BAND_COUNT], trail: &mut Vec<Step<'a>>) {
        trail.clear();
        let receivers = self.phi.len();
        let mut crossings = chunk.crossings_of(index);
        for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
            let hit = chunk.hits[hit_index];
            if hit.travelled() > self.farthest {
                return;
            }
            let parts = parts_of(self.linings, hit);
            let kept = self.linings.mean(hit.went_diffuse(), parts, hit.cosine_bin);
            let mut step = Step { hit: hit_index, parts, kept, linked: [0.0; BAND_COUNT], crossed: [0.0; BAND_COUNT] };
            for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
                if link.weight > 0.0
                    && let Some(phi) = self.phi_at(receiver, link.travelled)
                {
                    for band in 0..BAND_COUNT {
                        step.linked[band] += energy[band] * link.weight * phi[band];
                    }
                }
            }
            let inverse = 1.0 / hit.chance();
            for band in 0..BAND_COUNT {
                energy[band] *= kept[band] * inverse;
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

    fn backward(&self, chunk: &Chunk, trail: &[Step<'_>], worths: &Worths<'_>, sums: &mut [f64]) {
        let mut later = [0.0_f32; BAND_COUNT];
        for step in trail.iter().rev() {
            let hit = chunk.hits[step.hit];
            let bin = hit.cosine_bin;
            let diffuse = hit.went_diffuse();
            let kept = step.kept;
            let scattered = if diffuse { kept } else { self.linings.mean(true, step.parts, bin) };
            // What arrives later, for each share that the finish would let on.
            let mut onward = [0.0_f32; BAND_COUNT];
            for band in 0..BAND_COUNT {
                let all = later[band] + step.crossed[band];
                onward[band] = if kept[band] > 0.0 { all / kept[band] } else { 0.0 };
                later[band] = all + step.linked[band] * scattered[band];
            }
            let worth = |state: &Linings, finish: u16| {
                let (scattered, way) = (state.row(true, finish, bin), state.row(diffuse, finish, bin));
                let mut worth = 0.0;
                for band in 0..BAND_COUNT {
                    worth += step.linked[band] * scattered[band] + onward[band] * way[band];
                }
                f64::from(worth)
            };
            let surface = usize::from(hit.surface);
            let own = &worths.grid.surfaces[surface];
            let slot = own.slot(worths.grid.side, position_of(hit));
            for (state, &first) in worths.states.iter().zip(&worths.first[surface]) {
                for part in parts_of(state, hit) {
                    sums[first + usize::from(part.layer) * own.len() + slot] += worth(state, part.finish);
                }
            }
        }
    }
}

/// Adds to each of `sums` what one specular path changes per whole patch exchanged, its weight by band being `weight`.
pub fn specular(
    room: &Room,
    linings: &Linings,
    exchanged: &[&Linings],
    path: &SpecularPath,
    weight: Bands<f64>,
    grid: &PatchGrid,
    sums: &mut [Vec<f64>],
) {
    let shares = path.shares(room, linings);
    let energy = shares.iter().fold(path.mirror_energy, |energy, &share| energy * share);
    for (footprint, share) in path.footprints.iter().zip(&shares) {
        for band in Band::ALL {
            let scale = weight[band] * energy[band] / share[band];
            if scale.is_finite() && scale != 0.0 {
                let exchange = Exchange { room, linings, footprint, band, grid };
                exchange.add(exchanged, scale, sums);
            }
        }
    }
}

/// One reflection in one band, patch by patch.
struct Exchange<'a> {
    room: &'a Room,
    linings: &'a Linings,
    footprint: &'a Footprint,
    band: Band,
    grid: &'a PatchGrid,
}

impl Exchange<'_> {
    /// Adds what each exchange changes, `scale` being the energy for each share that is mirrored.
    fn add(&self, exchanged: &[&Linings], scale: f64, sums: &mut [Vec<f64>]) {
        let Self { room, linings, footprint, band, grid } = *self;
        let (surface, rooms) = (footprint.surface, &room.patches);
        let is_own = std::ptr::eq(grid, &raw const **rooms);
        let cells = if is_own {
            footprint.cells(room, linings, band)
        } else {
            Cow::Owned(footprint.cells_on(room, grid, linings.behind(surface), band))
        };
        let kept = linings.mirrors(surface, footprint.cosine, band);
        let (own, rooms_own) = (&grid.surfaces[surface], &rooms.surfaces[surface]);
        for (exchanged, sums) in exchanged.iter().zip(sums) {
            let other = exchanged.mirrors(surface, footprint.cosine, band);
            for &(slot, area) in &cells.on {
                let slot = slot as usize;
                // The finishes are known by the patches of the room.
                let of_room = if is_own { slot } else { rooms_own.slot(rooms.side, own.middle(grid.side, slot)) };
                sums[own.first + slot] += scale * f64::from(area) / cells.total * (other.at(of_room) - kept.at(of_room));
            }
        }
    }
}
