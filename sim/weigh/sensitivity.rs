//! How a quantity that is linear in the arrivals changes when absorber takes the place of wall, patch by patch.
//!
//! A quantity `Q = sum over arrivals of energy x phi(time, band)`; phi is 1 in the early window for the early level, and the
//! linearized fit of the decay for T30. One backward pass over each ray gives what every bounce would bring with each of the finishes in
//! its footprint, `W(f) = linked x diffuse(f) + later x kept(f) / kept`; given back to the patches of its footing (`room::footing`, whose
//! spread is its own adjoint), patch `j` that goes from `f` to `a` changes the quantity by `W(a) - W(f)` there. It is the exact derivative
//! of what is weighed. Image arrivals are spread over the footprint of each bounce, as they are weighed.
//!
//! *References.* Adjoint (backward) differentiation of a product along a path: e.g. I. Lux, L. Koblinger, Monte Carlo Particle
//! Transport Methods, 1991, ch. 6 (perturbation by weights).

use std::borrow::Cow;

use fearless_simd::prelude::*;
use fearless_simd::{dispatch, f32x8};
use rayon::prelude::*;
use smallvec::SmallVec;

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::geometry::instructions::chosen;
use crate::progress::{Cancelled, Progress};
use crate::rays::{Chunk, Hit};
use crate::room::{PatchGrid, Room};
use crate::settings::BATCHES;

use super::linings::Parts;
use super::stochastic::{Bins, RayStarts, parts_of, position_of};
use super::{Footprint, Linings, SpecularPath, Traced};

/// What is differentiated, and what for.
pub struct Quantity<'a> {
    /// Weight of an arrival by source, receiver and bin: `phi[source][receiver][bin]` by band; no arrival counts beyond its end.
    pub phi: &'a [Vec<Vec<Bands<f64>>>],
    /// What takes the place of the finishes; several answers cost little more than one.
    pub exchanged: &'a [&'a Linings],
    /// Whether it is one of the early window, where a bounce meets its own footing; in a whole decay it meets the spread of its patch.
    pub early: bool,
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
    let worths = Worths::new(room, linings, quantity);
    let batches = (0..BATCHES as usize)
        .into_par_iter()
        .map(|batch| {
            progress.step(0)?;
            let mut sums = vec![0.0; worths.count];
            for (group, (bands, sources)) in paths.groups.iter().enumerate() {
                for (source, stored) in sources.iter().enumerate() {
                    let (phi, farthest) = (&phi[source][..], farthest[source]);
                    let (chunk, starts) = (&stored.chunks[batch], &starts[source][group][batch]);
                    let weighs = |band: Band| bands.member[band] && phi.iter().flatten().any(|phi| phi[band.index()] != 0.0);
                    if Band::ALL.into_iter().any(weighs) {
                        let pass = Pass { linings, bins: &bins, phi, source, farthest };
                        dispatch!(chosen().level(), simd => pass.there_and_back(simd, (chunk, starts), &worths, &mut sums));
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

/// Where the sums of what bounces are worth stand: for each surface and patch one for each finish of each state, side by side, since a
/// bounce is worth something with all of them.
struct Worths<'a> {
    room: &'a Room,
    /// As it is, then what it is exchanged for.
    states: Vec<&'a Linings>,
    surfaces: Vec<SurfaceWorths>,
    count: usize,
    early: bool,
}

struct SurfaceWorths {
    /// First sum.
    first: usize,
    /// Sums of a patch.
    wide: usize,
    /// The first finish of each state among these.
    begin: Vec<usize>,
}

impl<'a> Worths<'a> {
    fn new(room: &'a Room, linings: &'a Linings, quantity: &Quantity<'a>) -> Self {
        let states: Vec<&Linings> = std::iter::once(linings).chain(quantity.exchanged.iter().copied()).collect();
        let mut count = 0;
        let mut surfaces = Vec::with_capacity(room.surfaces.len());
        for (surface, own) in room.patches.surfaces.iter().enumerate() {
            let (first, mut wide) = (count, 0);
            let begin = states
                .iter()
                .map(|state| {
                    wide += state.layers(surface).len();
                    wide - state.layers(surface).len()
                })
                .collect();
            count += wide * own.len();
            surfaces.push(SurfaceWorths { first, wide, begin });
        }
        Self { room, states, surfaces, count, early: quantity.early }
    }

    /// The finishes that a bounce meets in a state.
    #[inline]
    fn met<'state>(&self, state: &'state Linings, hit: Hit) -> Parts<'state> {
        if self.early {
            return parts_of(state, hit);
        }
        let surface = usize::from(hit.surface);
        Parts::Known(state.round(surface, self.room.patches.surfaces[surface].slot(position_of(hit))))
    }

    /// Adds what a bounce is worth with each finish of its surface to the patches of its footing.
    fn add(&self, hit: Hit, worth: &[f64], sums: &mut [f64]) {
        let surface = usize::from(hit.surface);
        let SurfaceWorths { first, wide, .. } = self.surfaces[surface];
        let mut add = |slot: usize, weight: f32| {
            let begin = first + slot * wide;
            for (sum, worth) in sums[begin..begin + wide].iter_mut().zip(worth) {
                *sum += f64::from(weight) * worth;
            }
        };
        if !self.early {
            return add(self.room.patches.surfaces[surface].slot(position_of(hit)), 1.0);
        }
        let footing = self.room.patches.footings().footing(surface, position_of(hit));
        footing.patches().for_each(|(slot, weight)| add(slot, weight));
    }

    /// Change by patch, out of what the bounces in each patch would bring with each finish.
    fn changes(&self, sums: &[f64], exchanged: usize) -> Vec<f64> {
        let mut changes = vec![0.0; self.room.patches.count];
        for (surface, (own, worths)) in self.room.patches.surfaces.iter().zip(&self.surfaces).enumerate() {
            for (state, sign) in [(0, -1.0), (exchanged, 1.0)] {
                for layer in 0..self.states[state].layers(surface).len() {
                    let finish = worths.first + worths.begin[state] + layer;
                    let worth = sums[finish..].iter().step_by(worths.wide);
                    let density = worth.zip(&own.area).map(|(&worth, &area)| if area > 1e-9 { worth / area } else { 0.0 });
                    let mut density: Vec<f64> = density.collect();
                    self.room.patches.footings().spread(surface, own, &mut density);
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
struct Step<'a, S: Simd> {
    hit: Hit,
    parts: Parts<'a>,
    /// What the finishes leave, for the way that the ray took and scattered.
    kept: f32x8<S>,
    scattered: f32x8<S>,
    /// `sum over receivers of energy x link x phi`, before the finish's diffuse share.
    linked: f32x8<S>,
    /// The same of the crossings behind this bounce, the finish's share included.
    crossed: f32x8<S>,
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
    #[inline(always)]
    fn there_and_back<S: Simd>(&self, simd: S, (chunk, starts): (&Chunk, &RayStarts), worths: &Worths<'_>, sums: &mut [f64]) {
        let mut trail = Vec::new();
        for (index, start) in starts.iter().enumerate() {
            self.forward(simd, chunk, (index, start), worths, &mut trail);
            self.backward(simd, &trail, worths, sums);
        }
    }

    #[inline(always)]
    fn phi_at(&self, receiver: usize, travelled: f32) -> Option<&[f32; BAND_COUNT]> {
        self.phi[receiver].get(self.bins.at(self.source, receiver, travelled)?)
    }

    #[inline(always)]
    fn forward<S: Simd>(
        &self,
        simd: S,
        chunk: &Chunk,
        (index, start): (usize, &[f32; BAND_COUNT]),
        worths: &Worths<'_>,
        trail: &mut Vec<Step<'a, S>>,
    ) {
        trail.clear();
        let receivers = self.phi.len();
        let mut energy = f32x8::load_array_ref(simd, start);
        let mut crossings = chunk.crossings_of(index);
        for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
            let hit = chunk.hits[hit_index];
            if hit.travelled() > self.farthest {
                return;
            }
            let parts = worths.met(self.linings, hit);
            let scattered = self.linings.mean(simd, true, &parts, hit.cosine_bin);
            let kept = if hit.went_diffuse() { scattered } else { self.linings.mean(simd, false, &parts, hit.cosine_bin) };
            let (mut linked, mut crossed) = (f32x8::splat(simd, 0.0), f32x8::splat(simd, 0.0));
            for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
                if link.weight > 0.0
                    && let Some(phi) = self.phi_at(receiver, link.travelled)
                {
                    linked += energy * f32x8::load_array_ref(simd, phi) * link.weight;
                }
            }
            energy *= kept * (1.0 / hit.chance());
            while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == bounce {
                let crossing = chunk.crossings[crossings.start];
                crossings.start += 1;
                if let Some(phi) = self.phi_at(usize::from(crossing.receiver), crossing.travelled) {
                    crossed += energy * f32x8::load_array_ref(simd, phi) * crossing.weight;
                }
            }
            trail.push(Step { hit, parts, kept, scattered, linked, crossed });
        }
    }

    #[inline(always)]
    fn backward<S: Simd>(&self, simd: S, trail: &[Step<'_, S>], worths: &Worths<'_>, sums: &mut [f64]) {
        let none = f32x8::splat(simd, 0.0);
        let mut later = none;
        let mut all: SmallVec<[f64; 16]> = SmallVec::new();
        for &Step { hit, ref parts, kept, scattered, linked, crossed } in trail.iter().rev() {
            // What arrives later, for each share that the finish would let on.
            let behind = later + crossed;
            let onward = kept.simd_gt(none).select(behind / kept, none);
            later = behind + linked * scattered;
            if linked.simd_eq(none).all_true() && onward.simd_eq(none).all_true() {
                continue;
            }
            let SurfaceWorths { wide, begin, .. } = &worths.surfaces[usize::from(hit.surface)];
            all.clear();
            all.resize(*wide, 0.0);
            for (index, (state, begin)) in worths.states.iter().zip(begin).enumerate() {
                let parts = if index == 0 { parts } else { &worths.met(state, hit) };
                for part in parts.iter() {
                    let [mirrored, diffuse] = state.both(part.finish, hit.cosine_bin);
                    let scattered = f32x8::load_array_ref(simd, diffuse);
                    let way = if hit.went_diffuse() { scattered } else { f32x8::load_array_ref(simd, mirrored) };
                    all[begin + usize::from(part.layer)] = sum(linked * scattered + onward * way);
                }
            }
            worths.add(hit, &all, sums);
        }
    }
}

/// The sum over the octaves, in the same order on every machine.
#[inline(always)]
fn sum<S: Simd>(octaves: f32x8<S>) -> f64 {
    let mut each = [0.0; BAND_COUNT];
    octaves.store_array(&mut each);
    let [a, b, c, d, e, f, g, h] = each;
    f64::from(((a + b) + (c + d)) + ((e + f) + (g + h)))
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
                let of_room = if is_own { slot } else { rooms_own.slot(own.middle(slot)) };
                sums[own.first + slot] += scale * f64::from(area) / cells.total * (other.at(of_room) - kept.at(of_room));
            }
        }
    }
}
