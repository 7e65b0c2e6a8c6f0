//! Whole decays of a room in several states at once that differ from one in a few patches: what each panel is worth in a decay, exactly.
//!
//! A ray carries the same in two states until it first meets a patch where they differ. So one walk follows it as the room is, and beside that once for
//! each variant whose patches it has met by then; what such a variant brings more or less than the room as it is, arrival by arrival, is its change.
//! It is what two weighings differ by, without the rounding of either.
//!
//! What inputs may be off by needs less ([`shares`]): what share of the rays' energy each variant leaves, from some of the batches, over stretches of time. The noise of few rays stays
//! out of that, since both are the same rays.
//!
//! *Cost.* A variant that is followed costs a product a bounce and a sum for each link; looking up what lies where, most of a weighing, is done once for all.
//! 32 bytes are held for each variant of each ray in a batch and of each bin.

use std::ops::Range;
use std::sync::Arc;

use fearless_simd::{Simd, SimdBase, dispatch, f32x8};
use rayon::prelude::*;
use smallvec::SmallVec;

use crate::bands::{BAND_COUNT, Bands};
use crate::geometry::instructions::chosen;
use crate::geometry::lanes::{Lanes, array};
use crate::progress::{Cancelled, Progress};
use crate::rays::{BandGroup, Chunk};
use crate::settings::BATCHES;

use super::patchwork::Patchwork;
use super::stochastic::Bins;
use super::{Linings, RayCurve, Traced};

/// Variants that are followed in one walk: one a bit.
const TOGETHER: usize = u32::BITS as usize;

/// By how much each variant's curves differ from those with `linings`, for these pairs of source and receiver: `[variant][pair]`.
///
/// # Errors
/// [`Cancelled`].
pub fn changes(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    variants: &[&Linings],
    pairs: &[(usize, usize)],
) -> Result<Vec<Vec<RayCurve>>, Cancelled> {
    let bins = Bins::new(&traced.room, traced.paths.end_s, traced.settings.bin_s);
    let walks = Walks { traced, linings, bins: &bins, steps: &Steps::bins(bins.count), batches: BATCHES };
    walks.each(progress, variants, pairs, |walk, sums, receiver| walk.curves(sums, receiver, &walk.air(receiver)))
}

/// What share of the rays' energy each variant leaves, for these pairs of source and receiver: `[variant][pair]`. `curves` are those with `linings`, by source and receiver; as many of
/// their batches are looked at as make 30,000 rays.
///
/// # Errors
/// [`Cancelled`].
pub fn shares(
    progress: &Progress,
    traced: &Traced,
    (linings, curves): (&Linings, &[Vec<RayCurve>]),
    variants: &[&Linings],
    pairs: &[(usize, usize)],
) -> Result<Vec<Vec<Shares>>, Cancelled> {
    let bins = Bins::new(&traced.room, traced.paths.end_s, traced.settings.bin_s);
    let steps = Steps::stretches(bins.count);
    let batches = (u64::from(BATCHES) * SHARE_RAYS).div_ceil(u64::from(traced.rays().max(1))).clamp(1, u64::from(BATCHES)) as u32;
    let walks = Walks { traced, linings, bins: &bins, steps: &steps, batches };
    walks.each(progress, variants, pairs, |walk, sums, receiver| {
        walk.shares(sums, receiver, (&curves[walk.source][receiver], &walk.air(receiver)))
    })
}

/// So many rays from each source are enough to tell shares: noise is in them only as far as rays differ in which materials they met.
const SHARE_RAYS: u64 = 30_000;

/// What share of the rays' energy there is in a variant, over time.
#[derive(Clone, Debug, Default)]
pub struct Shares {
    steps: Steps,
    /// By stretch.
    values: Vec<Bands<f64>>,
}

impl Shares {
    /// In a bin.
    #[must_use]
    pub fn at(&self, bin: usize) -> Bands<f64> {
        self.values[self.steps.of[bin] as usize]
    }
}

/// The times that arrivals are sorted into.
#[derive(Clone, Debug, Default)]
struct Steps {
    /// By bin.
    of: Arc<[u32]>,
    count: usize,
}

impl Steps {
    /// Each bin by itself.
    fn bins(count: usize) -> Self {
        Self { of: (0..count as u32).collect(), count }
    }

    /// A sixteenth as long as the time until they begin, at least a bin: late bins hold few rays, and late energy changes slowly.
    fn stretches(count: usize) -> Self {
        let (mut of, mut next, mut stretch) = (Vec::with_capacity(count), 0, 0);
        for bin in 0..count {
            if bin == next {
                stretch += u32::from(bin > 0);
                next += (bin / 16).max(1);
            }
            of.push(stretch);
        }
        Self { count: of.last().map_or(0, |&last| last as usize + 1), of: of.into() }
    }
}

/// Walks along some of the batches of a traced room.
struct Walks<'a> {
    traced: &'a Traced,
    linings: &'a Linings,
    bins: &'a Bins,
    steps: &'a Steps,
    batches: u32,
}

impl Walks<'_> {
    /// Something made of the changes of each variant at each pair, `[variant][pair]`; `make` does it for all variants of a walk at one receiver, from the sums of its batches.
    fn each<T: Default + Clone + Send>(
        &self,
        progress: &Progress,
        variants: &[&Linings],
        pairs: &[(usize, usize)],
        make: impl Fn(&Walk<'_>, &[Vec<Lanes>], usize) -> Vec<T> + Sync,
    ) -> Result<Vec<Vec<T>>, Cancelled> {
        let Self { traced, bins, steps, .. } = *self;
        let mut all = Vec::with_capacity(variants.len());
        for together in variants.chunks(TOGETHER) {
            let states = States::new(self.linings, together);
            let mut made = vec![vec![T::default(); pairs.len()]; together.len()];
            for source in 0..traced.room.sources.len() {
                let heard: Vec<usize> = (0..traced.paths.receivers).filter(|&receiver| pairs.contains(&(source, receiver))).collect();
                if heard.is_empty() {
                    continue;
                }
                let walk = Walk { traced, states: &states, bins, steps, source, heard: &heard };
                let sums = (0..self.batches as usize)
                    .into_par_iter()
                    .map(|batch| {
                        progress.step(0)?;
                        Ok(walk.sums(batch))
                    })
                    .collect::<Result<Vec<_>, Cancelled>>()?;
                let at_each: Vec<Vec<T>> = heard.par_iter().map(|&receiver| make(&walk, &sums, receiver)).collect();
                for (receiver, of_variants) in heard.iter().zip(at_each) {
                    for pair in (0..pairs.len()).filter(|&pair| pairs[pair] == (source, *receiver)) {
                        made.iter_mut().zip(&of_variants).for_each(|(made, one)| made[pair] = one.clone());
                    }
                }
            }
            all.extend(made);
        }
        Ok(all)
    }
}

/// The room as it is, its variants, and where they differ from it.
struct States<'a> {
    own: Patchwork<'a>,
    variants: Vec<Patchwork<'a>>,
    /// By patch of the room: a bit for each variant that differs there.
    differ: Vec<u32>,
}

impl<'a> States<'a> {
    fn new(linings: &'a Linings, variants: &[&'a Linings]) -> Self {
        let grid = linings.grid();
        let mut differ = vec![0; grid.count];
        for (surface, own) in grid.surfaces.iter().enumerate() {
            for (number, variant) in variants.iter().enumerate() {
                let differs = linings.differing(variant, surface);
                for (bits, _) in differ[own.first..].iter_mut().zip(differs).filter(|(_, differs)| *differs) {
                    *bits |= 1 << number;
                }
            }
        }
        Self { own: Patchwork::new(linings), variants: variants.iter().copied().map(Patchwork::new).collect(), differ }
    }
}

/// What the rays of a group carry: in the room as it is, and in each variant whose patches a ray has met.
struct Carried {
    own: Vec<Lanes>,
    met: Vec<u32>,
    /// `[ray x variants + variant]`, of use where it has been met.
    variants: Vec<Lanes>,
}

/// The rays of one source, heard at some receivers.
struct Walk<'a> {
    traced: &'a Traced,
    states: &'a States<'a>,
    bins: &'a Bins,
    steps: &'a Steps,
    source: usize,
    heard: &'a [usize],
}

impl Walk<'_> {
    fn variants(&self) -> usize {
        self.states.variants.len()
    }

    /// Changes of a batch: `[(heard x steps + step) x variants + variant]`, air absorption left out.
    fn sums(&self, batch: usize) -> Vec<Lanes> {
        let mut sums = vec![[0.0; BAND_COUNT]; self.heard.len() * self.steps.count * self.variants()];
        let mut ends: Vec<Carried> = Vec::new();
        for (index, (group, sources)) in self.traced.paths.groups.iter().enumerate() {
            let chunk = &sources[self.source].chunks[batch];
            let mut carried = self.begin((index, group), batch, chunk, &ends);
            dispatch!(chosen().level(), simd => self.follow(simd, chunk, &mut carried, &mut sums));
            ends.push(carried);
        }
        sums
    }

    /// What the rays of a group begin with.
    fn begin(&self, (index, group): (usize, &BandGroup), batch: usize, chunk: &Chunk, ends: &[Carried]) -> Carried {
        let count = self.variants();
        let Some(before) = group.goes_on_from.map(|before| &ends[before]) else {
            let own = self.traced.starts[self.source][index][batch].clone();
            let variants = vec![[0.0; BAND_COUNT]; own.len() * count];
            return Carried { met: vec![0; own.len()], variants, own };
        };
        let rays = chunk.rays.len();
        let mut carried =
            Carried { own: Vec::with_capacity(rays), met: Vec::with_capacity(rays), variants: Vec::with_capacity(rays * count) };
        for (parent, part) in self.traced.inherited(group, (self.source, batch), chunk) {
            let of = |whole: &Lanes| Bands(*whole).zip(Bands(part), |whole, part| whole * part).0;
            carried.own.push(of(&before.own[parent]));
            carried.met.push(before.met[parent]);
            carried.variants.extend(before.variants[parent * count..(parent + 1) * count].iter().map(of));
        }
        carried
    }

    /// Follows all rays of a chunk from what they begin with to what they carry at their ends.
    #[inline(always)]
    fn follow<S: Simd>(&self, simd: S, chunk: &Chunk, carried: &mut Carried, sums: &mut [Lanes]) {
        let count = self.variants();
        let mut beside = Beside { met: 0, energies: SmallVec::new(), changes: SmallVec::new() };
        for index in 0..chunk.rays.len() {
            let mut own = f32x8::load_array_ref(simd, &carried.own[index]);
            let ends = &mut carried.variants[index * count..(index + 1) * count];
            beside.begin(simd, carried.met[index], ends);
            self.ray(simd, chunk, index, &mut own, &mut beside, sums);
            carried.own[index] = array(own);
            carried.met[index] = beside.met;
            for &(variant, energy) in &beside.energies {
                energy.store_array(&mut ends[variant]);
            }
        }
    }

    #[inline(always)]
    fn ray<S: Simd>(&self, simd: S, chunk: &Chunk, index: usize, own: &mut f32x8<S>, beside: &mut Beside<S>, sums: &mut [Lanes]) {
        let receivers = self.traced.paths.receivers;
        let mut crossings = chunk.crossings_of(index);
        for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
            let hit = chunk.hits[hit_index];
            let patch = self.states.own.patch(hit);
            let differ = self.states.differ[patch];
            beside.meet(differ, *own);
            let [kept, scattered] = self.states.own.leaves_in(simd, hit, patch);
            let (spread, on) = (*own * scattered, 1.0 / hit.chance());
            *own *= kept * on;
            let passed = passed(&mut crossings, chunk, bounce);
            if beside.energies.is_empty() {
                continue;
            }
            beside.changes.clear();
            for (variant, energy) in &mut beside.energies {
                let [kept, scattered] = if differ & (1 << *variant) == 0 {
                    [kept, scattered]
                } else {
                    self.states.variants[*variant].leaves_in(simd, hit, patch)
                };
                beside.changes.push(*energy * scattered - spread);
                *energy *= kept * on;
            }
            for (place, &receiver) in self.heard.iter().enumerate() {
                let link = chunk.links[hit_index * receivers + receiver];
                if link.weight > 0.0
                    && let Some(sums) = self.at(place, link.travelled, sums)
                {
                    for (&change, (variant, _)) in beside.changes.iter().zip(&beside.energies) {
                        add(simd, &mut sums[*variant], change * link.weight);
                    }
                }
            }
            for crossing in &chunk.crossings[passed] {
                let place = self.heard.iter().position(|&receiver| receiver == usize::from(crossing.receiver));
                if let Some(sums) = place.and_then(|place| self.at(place, crossing.travelled, sums)) {
                    for &(variant, energy) in &beside.energies {
                        add(simd, &mut sums[variant], (energy - *own) * crossing.weight);
                    }
                }
            }
        }
    }

    /// The sums of all variants for an arrival, if it is within the record.
    #[inline(always)]
    fn at<'s>(&self, place: usize, travelled: f32, sums: &'s mut [Lanes]) -> Option<&'s mut [Lanes]> {
        let bin = self.bins.at(self.source, self.heard[place], travelled)?;
        let begin = (place * self.steps.count + self.steps.of[bin] as usize) * self.variants();
        Some(&mut sums[begin..begin + self.variants()])
    }

    /// What air absorption leaves in each bin at a receiver.
    fn air(&self, receiver: usize) -> Vec<Bands<f64>> {
        self.bins.air(&self.traced.room, self.source, receiver)
    }

    /// The change of each variant at a receiver, out of the sums of all batches; steps are bins.
    fn curves(&self, sums: &[Vec<Lanes>], receiver: usize, air: &[Bands<f64>]) -> Vec<RayCurve> {
        let curve = |variant: usize| {
            let batch = |sums: &Vec<Lanes>| (0..air.len()).map(|bin| self.change(sums, receiver, bin, variant) * air[bin]).collect();
            RayCurve { batches: sums.iter().map(batch).collect() }
        };
        (0..self.variants()).map(curve).collect()
    }

    /// The change of one variant at a receiver in a step, air absorption left out.
    fn change(&self, sums: &[Lanes], receiver: usize, step: usize, variant: usize) -> Bands<f64> {
        let place = self.heard.iter().position(|&heard| heard == receiver).unwrap_or_default();
        Bands(sums[(place * self.steps.count + step) * self.variants() + variant]).map(f64::from)
    }

    /// What share of what arrives at a receiver with `curve` there is in each variant.
    fn shares(&self, sums: &[Vec<Lanes>], receiver: usize, (curve, air): (&RayCurve, &[Bands<f64>])) -> Vec<Shares> {
        let mut own = vec![Bands::splat(0.0); self.steps.count];
        for batch in &curve.batches[..sums.len()] {
            for ((&energy, &air), &step) in batch.iter().zip(air).zip(&*self.steps.of) {
                let sum = &mut own[step as usize];
                *sum = *sum + energy.zip(air, |energy, air| if air > 0.0 { energy / air } else { 0.0 });
            }
        }
        let share = |variant: usize, step: usize| {
            let change = sums.iter().fold(Bands::splat(0.0), |sum, batch| sum + self.change(batch, receiver, step, variant));
            // Where nothing arrives, nothing can be told.
            own[step].zip(change, |own, change| if own > 0.0 { (1.0 + change / own).max(0.0) } else { 1.0 })
        };
        let values = |variant: usize| (0..self.steps.count).map(|step| share(variant, step)).collect();
        (0..self.variants()).map(|variant| Shares { steps: self.steps.clone(), values: values(variant) }).collect()
    }
}

/// The crossings behind a bounce, taken from those that are left.
#[inline(always)]
fn passed(left: &mut Range<usize>, chunk: &Chunk, bounce: usize) -> Range<usize> {
    let begin = left.start;
    while left.start < left.end && usize::from(chunk.crossings[left.start].after) == bounce {
        left.start += 1;
    }
    begin..left.start
}

/// A ray in the variants whose patches it has met.
struct Beside<S: Simd> {
    /// A bit for each.
    met: u32,
    /// Variant and what the ray carries in it.
    energies: SmallVec<[(usize, f32x8<S>); TOGETHER]>,
    /// Of each: what it scatters more at the bounce in hand.
    changes: SmallVec<[f32x8<S>; TOGETHER]>,
}

impl<S: Simd> Beside<S> {
    /// A ray that has met these, with what it carries in each.
    #[inline(always)]
    fn begin(&mut self, simd: S, met: u32, carried: &[Lanes]) {
        self.met = met;
        self.energies.clear();
        for variant in bits(met) {
            self.energies.push((variant, f32x8::load_array_ref(simd, &carried[variant])));
        }
    }

    /// Those that it meets now carried until here what the room as it is does.
    #[inline(always)]
    fn meet(&mut self, differ: u32, own: f32x8<S>) {
        for variant in bits(differ & !self.met) {
            self.energies.push((variant, own));
        }
        self.met |= differ;
    }
}

/// The numbers of the bits that are set, from the lowest.
#[inline(always)]
fn bits(mut set: u32) -> impl Iterator<Item = usize> {
    std::iter::from_fn(move || {
        (set != 0).then(|| {
            let lowest = set.trailing_zeros() as usize;
            set &= set - 1;
            lowest
        })
    })
}

#[inline(always)]
fn add<S: Simd>(simd: S, sum: &mut Lanes, more: f32x8<S>) {
    let all = f32x8::load_array_ref(simd, sum) + more;
    all.store_array(sum);
}
