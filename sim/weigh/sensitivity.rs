//! How quantities that are linear in the arrivals change when absorber takes the place of wall, patch by patch and octave by octave.
//!
//! A quantity `Q = sum over arrivals of energy x phi(time, band)`; phi is 1 in the early window for the early level, the linearized fit of
//! the decay for T30, what either side of the limit weighs for clarity. One backward pass over each ray gives what every bounce would bring
//! to every quantity with each of the finishes in its footprint, `W(f) = linked x diffuse(f) + later x kept(f) / kept`; given back to the
//! patches of its footing (`room::footing`, whose spread is its own adjoint), patch `j` that goes from `f` to `a` changes the quantity by
//! `W(a) - W(f)` there. It is the exact derivative of what is weighed. Image arrivals are spread over the footprint of each bounce, as they
//! are weighed.
//!
//! A ray of the tail hands what it brings in all back to the ray that it goes on from, which brings that too: groups are walked from the last to the
//! first, once what each ray begins with is known.
//!
//! A ray is walked once for all quantities whose bounces meet the same; octaves go side by side. A batch is handed over as soon as it and
//! those before it are known, so a thread holds no more than one: 32 bytes for each patch, finish of its surface (one more for each
//! exchange) and quantity of one source, and 8 bytes for each patch, quantity, exchange and map of it.
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
use crate::geometry::lanes::{Lanes, array};
use crate::progress::{Cancelled, Progress};
use crate::rays::{BandGroup, Chunk, Hit};
use crate::room::{PatchGrid, Room};
use crate::settings::BATCHES;

use super::linings::Parts;
use super::stochastic::{Bins, RayStarts, parts_of, position_of};
use super::{Footprint, Linings, SpecularPath, Traced};

/// One quantity that is differentiated.
#[derive(Clone, Debug)]
pub struct Quantity {
    /// Weight of an arrival by source, receiver and bin: `phi[source][receiver][bin]` by band; no arrival counts beyond its end.
    pub phi: Vec<Vec<Vec<Bands<f64>>>>,
    /// Whether it is one of the early window, where a bounce meets its own footing; in a whole decay it meets the spread of its patch.
    pub early: bool,
    /// The octaves of each of its maps, which shows their sum.
    pub parts: Vec<Vec<Band>>,
}

/// What is asked of one pass.
#[derive(Clone, Copy)]
pub struct Asked<'a> {
    /// What is differentiated.
    pub quantities: &'a [Quantity],
    /// What takes the place of the finishes; several answers cost little more than one.
    pub exchanged: &'a [&'a Linings],
}

/// Changes of quantities per whole patch of the room exchanged: `[quantity][exchanged][part][patch]`.
pub type Changes = Vec<Vec<Vec<Vec<f64>>>>;

/// Hands over what one batch after the other says of the changes by classes (b) and (c), each batch an estimate of the whole.
///
/// # Errors
/// [`Cancelled`].
pub fn rays(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    asked: Asked<'_>,
    mut take: impl FnMut(Changes),
) -> Result<(), Cancelled> {
    let bins = Bins::new(&traced.room, traced.paths.end_s, traced.settings.bin_s);
    let sweeps = Sweep::all(traced, linings, asked, &bins);
    let none = |quantity: &Quantity| vec![vec![vec![0.0; traced.room.patches.count]; quantity.parts.len()]; asked.exchanged.len()];
    let batch = |batch: usize| {
        let mut changes: Changes = asked.quantities.iter().map(none).collect();
        for sweep in &sweeps {
            progress.step(0)?;
            let sums = sweep.sums(traced, linings, &bins, batch);
            sweep.changes(asked, &sums, &mut changes);
        }
        Ok(changes)
    };
    // Whatever the number of threads: the batches come in order.
    let batches: Vec<usize> = (0..BATCHES as usize).collect();
    for together in batches.chunks(rayon::current_num_threads().max(1)) {
        let known = together.par_iter().map(|&index| batch(index)).collect::<Result<Vec<Changes>, Cancelled>>()?;
        known.into_iter().for_each(&mut take);
    }
    Ok(())
}

/// The weights of arrivals from one source, air absorption in them.
struct Weights {
    source: usize,
    /// `[receiver]`: the quantities that hear it, by their number in the sweep, each with its weights by bin.
    heard: Vec<Vec<(usize, Vec<Lanes>)>>,
    /// No arrival counts beyond this way, meters.
    farthest: f32,
}

impl Weights {
    fn new(traced: &Traced, bins: &Bins, (source, quantities): (usize, &[&Quantity])) -> Self {
        let Traced { room, settings, paths, .. } = traced;
        let mut farthest = 0.0_f64;
        let heard = (0..paths.receivers)
            .map(|receiver| {
                let air = bins.air(room, source, receiver);
                let mut heard = Vec::new();
                for (index, quantity) in quantities.iter().enumerate() {
                    let phi = &quantity.phi[source][receiver];
                    if !phi.is_empty() {
                        let way = phi.len() as f64 * settings.bin_s * room.medium.speed;
                        farthest = farthest.max(traced.distance(source, receiver) + way);
                        // Air absorption belongs to the arrivals; folded into the weights it costs nothing.
                        heard.push((index, phi.iter().zip(&air).map(|(&phi, &air)| (phi * air).map(|value| value as f32).0).collect()));
                    }
                }
                heard
            })
            .collect();
        Self { source, heard, farthest: farthest as f32 }
    }

    /// Whether an octave counts for anything.
    fn weighs(&self, band: Band) -> bool {
        self.heard.iter().flatten().any(|(_, phi)| phi.iter().any(|phi| phi[band.index()] != 0.0))
    }
}

/// Sources that count for the same quantities, and these: what one walk along their rays answers.
struct Sweep<'a> {
    /// By their number among those asked for.
    quantities: Vec<usize>,
    sources: Vec<(Weights, Bands<bool>)>,
    worths: Worths<'a>,
}

impl<'a> Sweep<'a> {
    fn all(traced: &'a Traced, linings: &'a Linings, asked: Asked<'a>, bins: &Bins) -> Vec<Self> {
        let mut sweeps: Vec<Self> = Vec::new();
        for early in [true, false] {
            for source in 0..traced.room.sources.len() {
                let counts = |quantity: &Quantity| quantity.early == early && quantity.phi[source].iter().any(|phi| !phi.is_empty());
                let quantities: Vec<usize> = (0..asked.quantities.len()).filter(|&index| counts(&asked.quantities[index])).collect();
                let own: Vec<&Quantity> = quantities.iter().map(|&index| &asked.quantities[index]).collect();
                let weights = Weights::new(traced, bins, (source, &own));
                let weighs = Bands::from_fn(|band| weights.weighs(band));
                match sweeps.iter_mut().find(|sweep| sweep.quantities == quantities) {
                    _ if quantities.is_empty() => {}
                    Some(sweep) => sweep.sources.push((weights, weighs)),
                    None => {
                        let worths = Worths::new(&traced.room, linings, asked.exchanged, (early, quantities.len()));
                        sweeps.push(Self { quantities, sources: vec![(weights, weighs)], worths });
                    }
                }
            }
        }
        sweeps
    }

    /// What the bounces of a batch are worth.
    fn sums(&self, traced: &Traced, linings: &Linings, bins: &Bins, batch: usize) -> Vec<Lanes> {
        let mut sums = vec![[0.0; BAND_COUNT]; self.worths.count * self.worths.quantities];
        for (weights, weighs) in &self.sources {
            let pass = Pass { linings, bins, weights, worths: &self.worths };
            let counts = |group: &BandGroup| {
                let is_heard = group.goes_on_from.is_none() || group.heard_from <= weights.farthest;
                is_heard && Band::ALL.into_iter().any(|band| group.member[band] && weighs[band])
            };
            let groups: Vec<Begun<'_>> = pass.begun(traced, batch, counts);
            // By group and ray: what the rays that go on from it bring to each quantity.
            let mut later: Vec<Vec<Lanes>> =
                groups.iter().map(|begun| vec![[0.0; BAND_COUNT]; begun.rays() * self.worths.quantities]).collect();
            for (index, begun) in groups.iter().enumerate().rev().filter(|(_, begun)| begun.counts) {
                let mut brought = std::mem::take(&mut later[index]);
                if self.worths.quantities == 1 {
                    dispatch!(chosen().level(), simd => pass.there_and_back::<_, true>(simd, begun, &mut brought, &mut sums));
                } else {
                    dispatch!(chosen().level(), simd => pass.there_and_back::<_, false>(simd, begun, &mut brought, &mut sums));
                }
                if let Some(before) = begun.group.goes_on_from {
                    begun.hand_back(&brought, &mut later[before]);
                }
            }
        }
        sums
    }

    /// Adds the changes by patch, out of what the bounces in each patch would bring with each finish.
    fn changes(&self, asked: Asked<'_>, sums: &[Lanes], changes: &mut Changes) {
        for (index, &quantity) in self.quantities.iter().enumerate() {
            for (number, exchanged) in changes[quantity].iter_mut().enumerate() {
                for (octaves, change) in asked.quantities[quantity].parts.iter().zip(exchanged) {
                    self.worths.changes(sums, (index, octaves), number + 1, change);
                }
            }
        }
    }
}

/// Where the sums of what bounces are worth stand: for each surface, patch and quantity one for each finish of each state, side by side,
/// since a bounce is worth something with all of them.
struct Worths<'a> {
    room: &'a Room,
    /// As it is, then what it is exchanged for.
    states: Vec<&'a Linings>,
    surfaces: Vec<SurfaceWorths>,
    /// Sums of one quantity.
    count: usize,
    quantities: usize,
    early: bool,
}

struct SurfaceWorths {
    /// First sum, if there were one quantity.
    first: usize,
    /// Sums of a patch and quantity.
    wide: usize,
    /// The first finish of each state among these.
    begin: Vec<usize>,
}

impl<'a> Worths<'a> {
    fn new(room: &'a Room, linings: &'a Linings, exchanged: &[&'a Linings], (early, quantities): (bool, usize)) -> Self {
        let states: Vec<&Linings> = std::iter::once(linings).chain(exchanged.iter().copied()).collect();
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
        Self { room, states, surfaces, count, quantities, early }
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
    #[inline(always)]
    fn add<S: Simd>(&self, simd: S, hit: Hit, worth: &[f32x8<S>], sums: &mut [Lanes]) {
        let surface = usize::from(hit.surface);
        let first = self.surfaces[surface].first * self.quantities;
        if !self.early {
            let begin = first + self.room.patches.surfaces[surface].slot(position_of(hit)) * worth.len();
            return add_to(simd, &mut sums[begin..begin + worth.len()], worth, 1.0);
        }
        let footing = self.room.patches.footings().footing(surface, position_of(hit));
        for row in 0..footing.rows() {
            let (slot, weights) = footing.row(row);
            let begin = first + slot * worth.len();
            let patches = &mut sums[begin..begin + weights.len() * worth.len()];
            for (sums, &weight) in patches.chunks_exact_mut(worth.len()).zip(weights) {
                add_to(simd, sums, worth, weight);
            }
        }
    }

    /// Adds what some octaves of one quantity change.
    fn changes(&self, sums: &[Lanes], (quantity, octaves): (usize, &[Band]), exchanged: usize, changes: &mut [f64]) {
        for (surface, (own, worths)) in self.room.patches.surfaces.iter().zip(&self.surfaces).enumerate() {
            let first = worths.first * self.quantities + quantity * worths.wide;
            // Worth per area of the patch with one of the finishes.
            let density = |finish: usize, slot: usize| {
                let area = own.area[slot];
                let sum = &sums[first + slot * worths.wide * self.quantities + finish];
                if area > 1e-9 { octaves.iter().map(|band| f64::from(sum[band.index()])).sum::<f64>() / area } else { 0.0 }
            };
            let spread = |mut density: Vec<f64>| {
                self.room.patches.footings().spread(surface, own, &mut density);
                density
            };
            let (before, after) = (worths.begin[0], worths.begin[exchanged]);
            let layers = [0, exchanged].map(|state| self.states[state].layers(surface).len());
            if layers == [1, 1] {
                let worth = spread((0..own.len()).map(|slot| density(after, slot) - density(before, slot)).collect());
                for (slot, worth) in worth.into_iter().enumerate() {
                    changes[own.first + slot] += worth * own.area[slot];
                }
                continue;
            }
            for (state, begin, layers, sign) in [(0, before, layers[0], -1.0), (exchanged, after, layers[1], 1.0)] {
                for layer in 0..layers {
                    let worth = spread((0..own.len()).map(|slot| density(begin + layer, slot)).collect());
                    for (slot, worth) in worth.into_iter().enumerate() {
                        changes[own.first + slot] += sign * self.states[state].cover(surface, layer, slot) * worth * own.area[slot];
                    }
                }
            }
        }
    }
}

/// Adds so many times what a bounce is worth.
#[inline(always)]
fn add_to<S: Simd>(simd: S, sums: &mut [Lanes], worth: &[f32x8<S>], times: f32) {
    for (sum, &worth) in sums.iter_mut().zip(worth) {
        let all = f32x8::load_array_ref(simd, sum) + worth * times;
        all.store_array(sum);
    }
}

/// One bounce on the way out.
struct Step<'a, S: Simd> {
    hit: Hit,
    parts: Parts<'a>,
    /// What the finishes leave, for the way that the ray took and scattered.
    kept: f32x8<S>,
    scattered: f32x8<S>,
}

/// What of a ray is known on its way out, and what is made of it on its way back.
struct Trail<'a, S: Simd> {
    steps: Vec<Step<'a, S>>,
    /// By step and quantity: `sum over receivers of energy x link x phi`, before the finish's diffuse share.
    linked: Vec<f32x8<S>>,
    /// The same of the crossings behind this bounce, the finish's share included; on the way back what all that arrives later would be for
    /// each share that the finish lets on.
    onward: Vec<f32x8<S>>,
    /// By quantity: what arrives after the bounce in hand; at first by the rays that go on from this one.
    later: Vec<f32x8<S>>,
    /// By quantity and finish: what the bounce in hand is worth.
    worth: Vec<f32x8<S>>,
}

/// The rays of a group in a batch.
struct Begun<'a> {
    group: &'a BandGroup,
    chunk: &'a Chunk,
    /// What each begins with.
    starts: Cow<'a, RayStarts>,
    /// Whether anything of it is asked for.
    counts: bool,
}

impl Begun<'_> {
    fn rays(&self) -> usize {
        if self.counts { self.chunk.rays.len() } else { 0 }
    }

    /// Adds what each ray brings to what is brought after the one that it goes on from.
    fn hand_back(&self, brought: &[Lanes], later: &mut [Lanes]) {
        let quantities = brought.len() / self.rays().max(1);
        for (ray, brought) in self.chunk.rays.iter().zip(brought.chunks_exact(quantities.max(1))) {
            let begin = ray.parent as usize * quantities;
            for (later, brought) in later[begin..begin + quantities].iter_mut().zip(brought) {
                for (later, brought) in later.iter_mut().zip(brought) {
                    *later += brought;
                }
            }
        }
    }
}

struct Pass<'a> {
    linings: &'a Linings,
    bins: &'a Bins,
    weights: &'a Weights,
    worths: &'a Worths<'a>,
}

impl<'a> Pass<'a> {
    /// The groups of a batch with what each ray begins with; nothing in those that count for nothing.
    fn begun<'b>(&self, traced: &'b Traced, batch: usize, counts: impl Fn(&BandGroup) -> bool) -> Vec<Begun<'b>> {
        let source = self.weights.source;
        let mut groups: Vec<Begun<'_>> = Vec::with_capacity(traced.paths.groups.len());
        for (index, (group, sources)) in traced.paths.groups.iter().enumerate() {
            let (chunk, counts) = (&sources[source].chunks[batch], counts(group));
            let starts = match group.goes_on_from {
                _ if !counts => Cow::Owned(Vec::new()),
                None => Cow::Borrowed(&traced.starts[source][index][batch]),
                Some(before) => {
                    let Begun { chunk: parents, starts, .. } = &groups[before];
                    let ends = dispatch!(chosen().level(), simd => self.ends(simd, parents, starts));
                    Cow::Owned(traced.handed_on(group, (source, batch), chunk, &ends))
                }
            };
            groups.push(Begun { group, chunk, starts, counts });
        }
        groups
    }

    /// What rays carry at their ends.
    #[inline(always)]
    fn ends<S: Simd>(&self, simd: S, chunk: &Chunk, starts: &RayStarts) -> Vec<Lanes> {
        let mut ends = Vec::with_capacity(starts.len());
        for (index, start) in starts.iter().enumerate() {
            let mut energy = f32x8::load_array_ref(simd, start);
            for &hit in &chunk.hits[chunk.hits_of(index)] {
                let parts = self.worths.met(self.linings, hit);
                energy *= self.linings.mean(simd, hit.went_diffuse(), &parts, hit.cosine_bin) * (1.0 / hit.chance());
            }
            ends.push(array(energy));
        }
        ends
    }

    /// Walks the rays of a group. `brought` is, by ray and quantity, what those bring that go on from it, and then what it brings with them.
    #[inline(always)]
    fn there_and_back<S: Simd, const ONE: bool>(&self, simd: S, begun: &Begun<'_>, brought: &mut [Lanes], sums: &mut [Lanes]) {
        let mut trail = Trail { steps: Vec::new(), linked: Vec::new(), onward: Vec::new(), later: Vec::new(), worth: Vec::new() };
        let quantities = self.quantities::<ONE>();
        for (index, start) in begun.starts.iter().enumerate() {
            let brought = &mut brought[index * quantities..(index + 1) * quantities];
            trail.later.clear();
            for brought in brought.iter() {
                trail.later.push(f32x8::load_array_ref(simd, brought));
            }
            self.forward::<S, ONE>(simd, begun.chunk, (index, start), &mut trail);
            self.backward::<S, ONE>(simd, &mut trail, sums);
            for (brought, later) in brought.iter_mut().zip(&trail.later) {
                later.store_array(brought);
            }
        }
    }

    /// How many quantities there are: told to the compiler where it is one, the usual case.
    #[inline(always)]
    fn quantities<const ONE: bool>(&self) -> usize {
        if ONE { 1 } else { self.worths.quantities }
    }

    /// Adds an arrival to what each quantity makes of it.
    #[inline(always)]
    fn arrive<S: Simd>(&self, simd: S, (receiver, travelled): (usize, f32), energy: f32x8<S>, sums: &mut [f32x8<S>]) {
        let Some(bin) = self.bins.at(self.weights.source, receiver, travelled) else { return };
        for (quantity, phi) in &self.weights.heard[receiver] {
            if let Some(phi) = phi.get(bin) {
                sums[*quantity] += energy * f32x8::load_array_ref(simd, phi);
            }
        }
    }

    #[inline(always)]
    fn forward<S: Simd, const ONE: bool>(&self, simd: S, chunk: &Chunk, (index, start): (usize, &Lanes), trail: &mut Trail<'a, S>) {
        trail.steps.clear();
        trail.linked.clear();
        trail.onward.clear();
        let (receivers, quantities) = (self.weights.heard.len(), self.quantities::<ONE>());
        let none = f32x8::splat(simd, 0.0);
        let mut energy = f32x8::load_array_ref(simd, start);
        let mut crossings = chunk.crossings_of(index);
        for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
            let hit = chunk.hits[hit_index];
            if hit.travelled() > self.weights.farthest {
                return;
            }
            let parts = self.worths.met(self.linings, hit);
            let scattered = self.linings.mean(simd, true, &parts, hit.cosine_bin);
            let kept = if hit.went_diffuse() { scattered } else { self.linings.mean(simd, false, &parts, hit.cosine_bin) };
            let begin = trail.linked.len();
            trail.linked.resize(begin + quantities, none);
            trail.onward.resize(begin + quantities, none);
            for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
                if link.weight > 0.0 {
                    self.arrive(simd, (receiver, link.travelled), energy * link.weight, &mut trail.linked[begin..]);
                }
            }
            energy *= kept * (1.0 / hit.chance());
            while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == bounce {
                let crossing = chunk.crossings[crossings.start];
                crossings.start += 1;
                let (receiver, arriving) = (usize::from(crossing.receiver), energy * crossing.weight);
                self.arrive(simd, (receiver, crossing.travelled), arriving, &mut trail.onward[begin..]);
            }
            trail.steps.push(Step { hit, parts, kept, scattered });
        }
    }

    #[inline(always)]
    fn backward<S: Simd, const ONE: bool>(&self, simd: S, trail: &mut Trail<'_, S>, sums: &mut [Lanes]) {
        let Trail { steps, linked, onward, later, worth } = trail;
        let quantities = self.quantities::<ONE>();
        let none = f32x8::splat(simd, 0.0);
        for (index, &Step { hit, ref parts, kept, scattered }) in steps.iter().enumerate().rev() {
            let own = index * quantities..(index + 1) * quantities;
            let (linked, onward) = (&linked[own.clone()], &mut onward[own]);
            let lets_on = kept.simd_gt(none);
            let mut any = none;
            for ((later, onward), &linked) in later.iter_mut().zip(onward.iter_mut()).zip(linked) {
                // What arrives later, for each share that the finish would let on.
                let behind = *later + *onward;
                *onward = lets_on.select(behind / kept, none);
                *later = behind + linked * scattered;
                any += linked.abs() + onward.abs();
            }
            if any.simd_eq(none).all_true() {
                continue;
            }
            let SurfaceWorths { wide, begin, .. } = &self.worths.surfaces[usize::from(hit.surface)];
            worth.clear();
            worth.resize(wide * quantities, none);
            for (index, (state, begin)) in self.worths.states.iter().zip(begin).enumerate() {
                let parts = if index == 0 { parts } else { &self.worths.met(state, hit) };
                for part in parts.iter() {
                    let [mirrored, diffuse] = state.both(part.finish, hit.cosine_bin);
                    let scattered = f32x8::load_array_ref(simd, diffuse);
                    let way = if hit.went_diffuse() { scattered } else { f32x8::load_array_ref(simd, mirrored) };
                    let finish = begin + usize::from(part.layer);
                    for (worth, (&linked, &onward)) in worth.chunks_exact_mut(*wide).zip(linked.iter().zip(onward.iter())) {
                        worth[finish] = linked * scattered + onward * way;
                    }
                }
            }
            self.worths.add(simd, hit, worth, sums);
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
    for band in Band::ALL.into_iter().filter(|&band| weight[band] != 0.0) {
        let shares: SmallVec<[f64; 8]> = path.footprints.iter().map(|footprint| footprint.specular(room, linings, band)).collect();
        let energy = path.mirror_energy[band] * shares.iter().product::<f64>();
        for (footprint, share) in path.footprints.iter().zip(&shares) {
            let scale = weight[band] * energy / share;
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
            Cow::Owned(footprint.cells_on(room, grid, linings.beside(surface), band))
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
