//! The early window, weighed again in milliseconds: an index from places on the walls to the rays that bounce there.
//!
//! Only rays that pass through a changed place are weighed again, before and after the change; the difference is exact.

use fearless_simd::{Simd, SimdBase, dispatch, f32x8};
use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Band, Bands};
use crate::geometry::instructions::chosen;
use crate::progress::{Cancelled, Progress};
use crate::rays::{Chunk, Hit, Paths};
use crate::room::Room;
use crate::settings::BATCHES;

use super::stochastic::{Leaves, Listener, RayStarts, follow, parts_of, position_of};
use super::{Footprint, Linings, SpecularPath, Traced, ZoneImages};

/// Side of a cell of the index, meters.
const CELL: f64 = 0.2;

/// Steps of the table of air absorption.
const AIR_STEPS_PER_METER: f32 = 16.0;

/// Early reflected energy (direct sound left out) from each source at each receiver.
#[derive(Clone, Debug, PartialEq)]
pub struct EarlyEnergy {
    /// `rays[source][receiver][batch]`, classes (b) and (c), 1/m2.
    pub rays: Vec<Vec<Vec<Bands<f64>>>>,
    /// `images[source][receiver]`, class (a), mean over the zone's points, 1/m2.
    pub images: Vec<Vec<Bands<f64>>>,
    /// Mirrored share at each bounce of each early path, `shares[source][receiver][point][path][bounce]`; empty in a difference.
    shares: Vec<Vec<ZoneShares>>,
}

/// `[point][path][bounce]`
type ZoneShares = Vec<Vec<Vec<Bands<f64>>>>;

/// Number of the first octave that the early criterion looks at, 1 kHz; the others up to 8 kHz follow.
pub(super) const JUDGED: usize = 4;

/// Whether the early criterion looks at an octave.
pub(super) fn is_judged(band: Band) -> bool {
    band.index() >= JUDGED
}

impl EarlyEnergy {
    /// This and a [`EarlyIndex::difference`] from it. It holds no more what further differences are reckoned from.
    #[must_use]
    pub fn changed(&self, difference: &Self) -> Self {
        let sum = |(own, more): (&Vec<Bands<f64>>, &Vec<Bands<f64>>)| own.iter().zip(more).map(|(&own, &more)| own + more).collect();
        Self {
            rays: self.rays.iter().zip(&difference.rays).map(|(own, more)| own.iter().zip(more).map(sum).collect()).collect(),
            images: self.images.iter().zip(&difference.images).map(sum).collect(),
            shares: Vec::new(),
        }
    }

    /// Images and rays together, mean over the batches.
    #[must_use]
    pub fn total(&self, source: usize, receiver: usize) -> Bands<f64> {
        let batches = &self.rays[source][receiver];
        let rays = batches.iter().fold(Bands::splat(0.0), |sum, &batch| sum + batch) * (1.0 / batches.len().max(1) as f64);
        self.images[source][receiver] + rays
    }
}

/// A change of what hangs: two states, and the places where they differ.
pub struct Change<'a> {
    /// As it was.
    pub before: &'a Linings,
    /// As it shall be.
    pub after: &'a Linings,
    /// Surface and bounds (low, high, in meters on its chart) of each changed place.
    pub places: &'a [(usize, DVec2, DVec2)],
}

impl Change<'_> {
    /// Whether a changed place touches a footprint in this band.
    #[must_use]
    pub fn meets(&self, room: &Room, footprint: &Footprint, band: Band) -> bool {
        self.places.iter().any(|&(surface, low, high)| footprint.meets(room, self.after, band, surface, low, high))
    }
}

/// Early reflected energy with these linings, once: no index is made for what changes later.
///
/// # Errors
/// [`Cancelled`].
pub fn early_energy(progress: &Progress, traced: &Traced, linings: &Linings) -> Result<EarlyEnergy, Cancelled> {
    EarlyIndex::without_places(traced).weigh(progress, linings)
}

/// Where a ray lies in the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
struct RayAddress {
    group: u16,
    batch: u16,
    ray: u32,
}

struct Grid {
    low: DVec2,
    columns: usize,
    rows: usize,
    /// `start[cell]..start[cell + 1]` in `rays`.
    start: Vec<u32>,
    rays: Vec<RayAddress>,
}

/// The index of one room's stored paths.
pub struct EarlyIndex<'a> {
    room: &'a Room,
    paths: &'a Paths,
    images: &'a [Vec<ZoneImages>],
    window: f64,
    /// `limit[source][receiver]`: path length up to which an arrival is early, meters.
    limit: Vec<Vec<f32>>,
    /// The longest of them, by source.
    farthest: Vec<f32>,
    /// What air absorption leaves after a way, in steps of `1 / AIR_STEPS_PER_METER`.
    air: Vec<Bands<f64>>,
    /// `[source][group][batch][ray]`
    starts: &'a [Vec<Vec<RayStarts>>],
    /// `grids[source][surface]`.
    grids: Vec<Vec<Grid>>,
}

impl<'a> EarlyIndex<'a> {
    /// Indexes the early part of all stored paths.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn new(progress: &Progress, traced: &'a Traced) -> Result<Self, Cancelled> {
        let mut index = Self::without_places(traced);
        index.grids = (0..traced.room.sources.len())
            .into_par_iter()
            .map(|source| {
                progress.step(0)?;
                Ok(index.grids_of(source))
            })
            .collect::<Result<_, Cancelled>>()?;
        Ok(index)
    }

    /// For [`Self::weigh`] alone: it knows no places.
    fn without_places(traced: &'a Traced) -> Self {
        let Traced { room, settings, images, paths, starts, .. } = traced;
        let window = settings.window_s * room.medium.speed;
        let limit: Vec<Vec<f32>> = room
            .sources
            .iter()
            .map(|source| room.receivers.iter().map(|receiver| (source.position.distance(receiver.position) + window) as f32).collect())
            .collect();
        let farthest: Vec<f32> = limit.iter().map(|limits| limits.iter().copied().fold(0.0, f32::max)).collect();
        let longest = farthest.iter().copied().fold(0.0, f32::max);
        let air = (0..=(longest * AIR_STEPS_PER_METER) as usize)
            .map(|step| room.medium.attenuation.map(|m| (-m * (step as f64 + 0.5) / f64::from(AIR_STEPS_PER_METER)).exp()))
            .collect();
        Self { room, paths, images, window, limit, farthest, air, starts, grids: Vec::new() }
    }

    fn grids_of(&self, source: usize) -> Vec<Grid> {
        let mut cells: Vec<Vec<Vec<RayAddress>>> = Vec::new();
        let mut grids: Vec<Grid> = self.room.surfaces.iter().map(|surface| Grid::new(surface.outline.bounds())).collect();
        cells.extend(grids.iter().map(|grid| vec![Vec::new(); grid.columns * grid.rows]));
        // The tail begins after the window.
        for (group, (_, sources)) in self.paths.groups.iter().enumerate().filter(|(_, (group, _))| group.goes_on_from.is_none()) {
            for (batch, chunk) in sources[source].chunks.iter().enumerate() {
                for ray in 0..chunk.rays.len() {
                    let address = RayAddress { group: group as u16, batch: batch as u16, ray: ray as u32 };
                    for hit in &chunk.hits[self.early_hits(source, chunk, ray)] {
                        let surface = usize::from(hit.surface);
                        let cell = grids[surface].cell(DVec2::new(f64::from(hit.position[0]), f64::from(hit.position[1])));
                        let list = &mut cells[surface][cell];
                        if list.last() != Some(&address) {
                            list.push(address);
                        }
                    }
                }
            }
        }
        for (grid, cells) in grids.iter_mut().zip(cells) {
            for list in cells {
                grid.start.push(grid.rays.len() as u32);
                grid.rays.extend(list);
            }
            grid.start.push(grid.rays.len() as u32);
        }
        grids
    }

    /// Bounces of a ray from the first to the last that an early arrival depends on.
    fn early_hits(&self, source: usize, chunk: &Chunk, ray: usize) -> std::ops::Range<usize> {
        let hits = chunk.hits_of(ray);
        let receivers = self.paths.receivers;
        let is_early = |hit: usize| {
            let links = &chunk.links[hit * receivers..(hit + 1) * receivers];
            links.iter().zip(&self.limit[source]).any(|(link, &limit)| link.weight > 0.0 && link.travelled <= limit)
        };
        let within = hits.clone().take_while(|&hit| chunk.hits[hit].travelled() <= self.farthest[source]);
        let linked = within.filter(|&hit| is_early(hit)).last();
        let crossed = chunk.crossings[chunk.crossings_of(ray)]
            .iter()
            .filter(|crossing| crossing.travelled <= self.limit[source][usize::from(crossing.receiver)])
            .map(|crossing| hits.start + usize::from(crossing.after))
            .next_back();
        let end = linked.max(crossed).map_or(hits.start, |last| last + 1);
        hits.start..end
    }

    /// Early reflected energy with these linings, from all paths.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn weigh(&self, progress: &Progress, linings: &Linings) -> Result<EarlyEnergy, Cancelled> {
        let sources = self.room.sources.len();
        let tasks: Vec<(usize, usize)> = (0..sources).flat_map(|source| (0..BATCHES as usize).map(move |batch| (source, batch))).collect();
        let sums = tasks
            .into_par_iter()
            .map(|(source, batch)| {
                progress.step(0)?;
                Ok(dispatch!(chosen().level(), simd => self.batch(simd, source, batch, linings)))
            })
            .collect::<Result<Vec<_>, Cancelled>>()?;
        let mut rays = vec![vec![Vec::with_capacity(BATCHES as usize); self.paths.receivers]; sources];
        for (task, sums) in sums.into_iter().enumerate() {
            for (receiver, sum) in sums.into_iter().enumerate() {
                rays[task / BATCHES as usize][receiver].push(sum);
            }
        }
        let (shares, images) = self.images_with(linings, |_| true);
        Ok(EarlyEnergy { rays, images, shares })
    }

    fn zone_shares(&self, zone: &ZoneImages, linings: &Linings, is_asked: fn(Band) -> bool) -> ZoneShares {
        let shares = |path: &SpecularPath| {
            let share = |footprint: &Footprint, band: Band| {
                if is_asked(band) { footprint.specular(self.room, linings, band) } else { 0.0 }
            };
            path.footprints.iter().map(|footprint| Bands::from_fn(|band| share(footprint, band))).collect()
        };
        zone.early(self.window).map(|paths| paths.map(shares).collect()).collect()
    }

    /// Class (a) in the window, mean over the zone's points.
    fn zone_energy(&self, zone: &ZoneImages, shares: &ZoneShares) -> Bands<f64> {
        let mut sum = Bands::splat(0.0);
        for (paths, shares) in zone.early(self.window).zip(shares) {
            for (path, shares) in paths.zip(shares) {
                sum = sum + shares.iter().fold(path.mirror_energy, |energy, &share| energy * share);
            }
        }
        sum * (1.0 / zone.points.len().max(1) as f64)
    }

    /// What a change does to the early energy, exactly, in the octaves of the criterion (1-8 kHz; the others stay 0): only paths that
    /// meet a changed place are weighed again. `state` is the early energy before the change.
    #[must_use]
    pub fn difference(&self, state: &EarlyEnergy, change: &Change<'_>) -> EarlyEnergy {
        let sources = self.room.sources.len();
        let differing = Differing::new(self.room, change);
        let rays = (0..sources).into_par_iter().map(|source| self.ray_difference(source, &differing)).collect();
        let images = (0..sources)
            .into_par_iter()
            .map(|source| {
                let zones = self.images[source].iter().zip(&state.shares[source]);
                zones.map(|(zone, shares)| self.image_difference(zone, shares, change)).collect()
            })
            .collect();
        EarlyEnergy { rays, images, shares: Vec::new() }
    }

    /// The early energy after a change: rays by their difference, images anew. Octaves below 1 kHz are not kept.
    #[must_use]
    pub fn after(&self, state: &EarlyEnergy, change: &Change<'_>) -> EarlyEnergy {
        let (shares, images) = self.images_with(change.after, is_judged);
        let differing = Differing::new(self.room, change);
        let rays = state
            .rays
            .par_iter()
            .enumerate()
            .map(|(source, receivers)| {
                let added = self.ray_difference(source, &differing);
                let sum = |(batches, added): (&Vec<Bands<f64>>, Vec<Bands<f64>>)| {
                    batches.iter().zip(added).map(|(&batch, added)| batch + added).collect()
                };
                receivers.iter().zip(added).map(sum).collect()
            })
            .collect();
        EarlyEnergy { rays, images, shares }
    }

    /// Mirrored shares and energies of class (a), in the octaves asked for.
    fn images_with(&self, linings: &Linings, is_asked: fn(Band) -> bool) -> (Vec<Vec<ZoneShares>>, Vec<Vec<Bands<f64>>>) {
        let shares_of = |zone: &ZoneImages| self.zone_shares(zone, linings, is_asked);
        let shares: Vec<Vec<ZoneShares>> = self.images.par_iter().map(|receivers| receivers.par_iter().map(shares_of).collect()).collect();
        let images = self
            .images
            .iter()
            .zip(&shares)
            .map(|(receivers, shares)| receivers.iter().zip(shares).map(|(zone, shares)| self.zone_energy(zone, shares)).collect())
            .collect();
        (shares, images)
    }

    fn image_difference(&self, zone: &ZoneImages, shares: &ZoneShares, change: &Change<'_>) -> Bands<f64> {
        let mut sum = Bands::splat(0.0);
        for (paths, shares) in zone.early(self.window).zip(shares) {
            for (path, shares) in paths.zip(shares) {
                for band in Band::ALL.into_iter().filter(|&band| is_judged(band)) {
                    let (mut before, mut after, mut met) = (path.mirror_energy[band], path.mirror_energy[band], false);
                    for (footprint, share) in path.footprints.iter().zip(shares) {
                        before *= share[band];
                        if change.meets(self.room, footprint, band) {
                            met = true;
                            after *= footprint.specular(self.room, change.after, band);
                        } else {
                            after *= share[band];
                        }
                    }
                    if met {
                        sum[band] += after - before;
                    }
                }
            }
        }
        sum * (1.0 / zone.points.len().max(1) as f64)
    }

    fn ray_difference(&self, source: usize, differing: &Differing<'_>) -> Vec<Vec<Bands<f64>>> {
        let mut met: Vec<RayAddress> = Vec::new();
        for &(surface, low, high) in differing.change.places {
            // A bounce meets what lies round it.
            let (low, high) = self.room.patches.footings().touched(surface, low, high);
            self.grids[source][surface].collect(low, high, &mut met);
        }
        met.sort_unstable();
        met.dedup();
        met.retain(|&address| self.is_judged(address));
        dispatch!(chosen().level(), simd => self.changes(simd, source, &met, differing))
    }

    /// What a change makes of the early energy of these rays, `[receiver][batch]`.
    #[inline(always)]
    fn changes<S: Simd>(&self, simd: S, source: usize, met: &[RayAddress], differing: &Differing<'_>) -> Vec<Vec<Bands<f64>>> {
        let mut sums = vec![vec![Bands::splat(0.0); BATCHES as usize]; self.paths.receivers];
        let mut early = Early { index: self, source, sums: vec![Bands::splat(0.0); self.paths.receivers] };
        for &address in met {
            let Some(first) = self.first_changed(source, address, differing) else { continue };
            early.sums.fill(Bands::splat(0.0));
            self.change_of_ray(simd, address, differing, first, &mut early);
            for (sums, &value) in sums.iter_mut().zip(&early.sums) {
                let slot = &mut sums[usize::from(address.batch)];
                *slot = *slot + value;
            }
        }
        sums
    }

    /// The first bounce of a ray, counted from its start, that can meet something else after the change.
    #[inline]
    fn first_changed(&self, source: usize, address: RayAddress, differing: &Differing<'_>) -> Option<usize> {
        let (chunk, _) = self.chunk(source, address);
        let hits = &chunk.hits[chunk.hits_of(address.ray as usize)];
        hits.iter().take_while(|hit| hit.travelled() <= self.farthest[source]).position(|&hit| differing.at(hit))
    }

    /// Adds what a change makes of one ray's early energy at each receiver, `first` being the first bounce that it changes: up to there
    /// both states share their energy, and nothing that arrived before differs.
    #[inline(always)]
    fn change_of_ray<S: Simd>(&self, simd: S, address: RayAddress, differing: &Differing<'_>, first: usize, early: &mut Early<'_>) {
        let source = early.source;
        let (chunk, _) = self.chunk(source, address);
        let index = address.ray as usize;
        let receivers = self.paths.receivers;
        let before = differing.change.before;
        let hits = chunk.hits_of(index);
        let mut start = self.starts(source, address)[index];
        start[..JUDGED].fill(0.0);
        let mut was = f32x8::load_array_ref(simd, &start);
        for &hit in &chunk.hits[hits.start..hits.start + first] {
            was *= before.mean(simd, hit.went_diffuse(), &parts_of(before, hit), hit.cosine_bin) * (1.0 / hit.chance());
        }
        let mut is = was;
        let mut crossings = chunk.crossings_of(index);
        while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) < first {
            crossings.start += 1;
        }
        for hit_index in hits.start + first..hits.end {
            let hit = chunk.hits[hit_index];
            if hit.travelled() > self.farthest[source] {
                return;
            }
            let [[kept, scattered], [kept_after, scattered_after]] = differing.leave(simd, hit);
            let spread = is * scattered_after - was * scattered;
            for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
                early.arrive(receiver, link.travelled, spread * link.weight);
            }
            let inverse = 1.0 / hit.chance();
            was *= kept * inverse;
            is *= kept_after * inverse;
            while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == hit_index - hits.start {
                let crossing = chunk.crossings[crossings.start];
                crossings.start += 1;
                early.arrive(usize::from(crossing.receiver), crossing.travelled, (is - was) * crossing.weight);
            }
        }
    }

    /// Adds an arrival, weakened by the air on its way.
    #[inline]
    fn arrive(&self, travelled: f32, energy: [f32; BAND_COUNT], sum: &mut Bands<f64>) {
        let air = &self.air[((travelled * AIR_STEPS_PER_METER) as usize).min(self.air.len() - 1)];
        for (sum, (energy, air)) in sum.0.iter_mut().zip(energy.into_iter().zip(air.0)) {
            *sum += f64::from(energy) * air;
        }
    }

    fn chunk(&self, source: usize, address: RayAddress) -> (&Chunk, Bands<bool>) {
        let (group, sources) = &self.paths.groups[usize::from(address.group)];
        (&sources[source].chunks[usize::from(address.batch)], group.member)
    }

    /// Whether a ray carries any octave of the criterion.
    fn is_judged(&self, address: RayAddress) -> bool {
        let member = self.paths.groups[usize::from(address.group)].0.member;
        member.0[JUDGED..].contains(&true)
    }

    /// Energy that the rays of a batch start with, each its share of it.
    fn starts(&self, source: usize, address: RayAddress) -> &RayStarts {
        &self.starts[source][usize::from(address.group)][usize::from(address.batch)]
    }

    /// Early energy of one batch of rays at each receiver.
    #[inline(always)]
    fn batch<S: Simd>(&self, simd: S, source: usize, batch: usize, linings: &Linings) -> Vec<Bands<f64>> {
        let mut early = Early { index: self, source, sums: vec![Bands::splat(0.0); self.paths.receivers] };
        for (stored, starts) in self.paths.groups.iter().map(|(_, stored)| &stored[source]).zip(&self.starts[source]) {
            // None of the tail, which begins after the window.
            let Some(starts) = starts.get(batch) else { continue };
            let chunk = (&stored.chunks[batch], self.paths.receivers);
            for ray in starts.iter().enumerate() {
                follow(simd, chunk, linings, ray, self.farthest[source], &mut early);
            }
        }
        early.sums
    }
}

/// Early arrivals of one source, added up by receiver.
struct Early<'a> {
    index: &'a EarlyIndex<'a>,
    source: usize,
    sums: Vec<Bands<f64>>,
}

impl<S: Simd> Listener<S> for Early<'_> {
    #[inline(always)]
    fn arrive(&mut self, receiver: usize, travelled: f32, energy: f32x8<S>) {
        if travelled <= self.index.limit[self.source][receiver] {
            let mut arriving = [0.0; BAND_COUNT];
            energy.store_array(&mut arriving);
            self.index.arrive(travelled, arriving, &mut self.sums[receiver]);
        }
    }
}

/// Where the two states of a change differ.
struct Differing<'a> {
    change: &'a Change<'a>,
    room: &'a Room,
    /// By surface and patch: whether a bounce there can meet something else; empty where nothing changes.
    surfaces: Vec<Vec<bool>>,
}

impl<'a> Differing<'a> {
    fn new(room: &'a Room, change: &'a Change<'a>) -> Self {
        let mut surfaces = vec![Vec::new(); room.surfaces.len()];
        for &(surface, ..) in change.places {
            if surfaces[surface].is_empty() {
                surfaces[surface] = change.before.differing(change.after, surface);
            }
        }
        Self { change, room, surfaces }
    }

    #[inline]
    fn at(&self, hit: Hit) -> bool {
        let surface = usize::from(hit.surface);
        let patches = &self.surfaces[surface];
        !patches.is_empty() && patches[self.room.patches.surfaces[surface].slot(position_of(hit))]
    }

    /// What is left of a bounce before and after; where nothing has changed, both states meet the same.
    #[inline(always)]
    fn leave<S: Simd>(&self, simd: S, hit: Hit) -> [[f32x8<S>; 2]; 2] {
        let Change { before, after, .. } = *self.change;
        let left = before.leaves(simd, hit);
        [left, if self.at(hit) { after.leaves(simd, hit) } else { left }]
    }
}

impl Grid {
    fn new((low, high): (DVec2, DVec2)) -> Self {
        let size = ((high - low) / CELL).ceil().max(DVec2::ONE);
        Self { low, columns: size.x as usize, rows: size.y as usize, start: Vec::new(), rays: Vec::new() }
    }

    fn column_row(&self, position: DVec2) -> (usize, usize) {
        let place = ((position - self.low) / CELL).max(DVec2::ZERO);
        ((place.x as usize).min(self.columns - 1), (place.y as usize).min(self.rows - 1))
    }

    fn cell(&self, position: DVec2) -> usize {
        let (column, row) = self.column_row(position);
        row * self.columns + column
    }

    fn collect(&self, low: DVec2, high: DVec2, into: &mut Vec<RayAddress>) {
        let (first_column, first_row) = self.column_row(low);
        let (last_column, last_row) = self.column_row(high);
        for row in first_row..=last_row {
            let (from, to) = (row * self.columns + first_column, row * self.columns + last_column + 1);
            into.extend_from_slice(&self.rays[self.start[from] as usize..self.start[to] as usize]);
        }
    }
}
