//! Whole decays of a room in several states at once that differ from one in a few patches: what each panel is worth in a decay, exactly.
//!
//! A ray carries the same in two states until it first meets a patch where they differ. So one walk follows it as the room is, and beside that once for
//! each variant whose patches it has met by then; what such a variant brings more or less than the room as it is, arrival by arrival, is its change.
//! It is what two weighings differ by, without the rounding of either.
//!
//! *Cost.* A variant that is followed costs a product a bounce and a sum for each link; looking up what lies where, most of a weighing, is done once for all.
//! 32 bytes are held for each variant of each ray in a batch and of each bin.

use std::ops::Range;

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
    variants: &[Linings],
    pairs: &[(usize, usize)],
) -> Result<Vec<Vec<RayCurve>>, Cancelled> {
    let bins = Bins::new(&traced.room, traced.paths.end_s, traced.settings.bin_s);
    let mut all = Vec::with_capacity(variants.len());
    for together in variants.chunks(TOGETHER) {
        let states = States::new(linings, together);
        let mut curves = vec![vec![RayCurve { batches: Vec::new() }; pairs.len()]; together.len()];
        for source in 0..traced.room.sources.len() {
            let heard: Vec<usize> = (0..traced.paths.receivers).filter(|&receiver| pairs.contains(&(source, receiver))).collect();
            if heard.is_empty() {
                continue;
            }
            let walk = Walk { traced, states: &states, bins: &bins, source, heard: &heard };
            let sums = (0..BATCHES as usize)
                .into_par_iter()
                .map(|batch| {
                    progress.step(0)?;
                    Ok(walk.sums(batch))
                })
                .collect::<Result<Vec<_>, Cancelled>>()?;
            for (variant, curves) in curves.iter_mut().enumerate() {
                for (&(_, receiver), curve) in pairs.iter().zip(curves).filter(|((from, _), _)| *from == source) {
                    *curve = walk.curve(&sums, variant, receiver);
                }
            }
        }
        all.extend(curves);
    }
    Ok(all)
}

/// The room as it is, its variants, and where they differ from it.
struct States<'a> {
    own: Patchwork<'a>,
    variants: Vec<Patchwork<'a>>,
    /// By patch of the room: a bit for each variant that differs there.
    differ: Vec<u32>,
}

impl<'a> States<'a> {
    fn new(linings: &'a Linings, variants: &'a [Linings]) -> Self {
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
        Self { own: Patchwork::new(linings), variants: variants.iter().map(Patchwork::new).collect(), differ }
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
    source: usize,
    heard: &'a [usize],
}

impl Walk<'_> {
    fn variants(&self) -> usize {
        self.states.variants.len()
    }

    /// Changes of a batch: `[(heard x bins + bin) x variants + variant]`, air absorption left out.
    fn sums(&self, batch: usize) -> Vec<Lanes> {
        let mut sums = vec![[0.0; BAND_COUNT]; self.heard.len() * self.bins.count * self.variants()];
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
        let begin = (place * self.bins.count + bin) * self.variants();
        Some(&mut sums[begin..begin + self.variants()])
    }

    /// The change of one variant at a receiver, out of the sums of all batches.
    fn curve(&self, sums: &[Vec<Lanes>], variant: usize, receiver: usize) -> RayCurve {
        let place = self.heard.iter().position(|&heard| heard == receiver).unwrap_or_default();
        let air = self.bins.air(&self.traced.room, self.source, receiver);
        let at = |sums: &[Lanes], bin: usize| Bands(sums[(place * self.bins.count + bin) * self.variants() + variant]).map(f64::from);
        let batch = |sums: &Vec<Lanes>| air.iter().enumerate().map(|(bin, &air)| at(sums, bin) * air).collect();
        RayCurve { batches: sums.iter().map(batch).collect() }
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
