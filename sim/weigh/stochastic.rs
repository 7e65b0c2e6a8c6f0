//! Energies of the traced rays: a ray's energy after each bounce is the product of what each finish on its way left it.
//!
//! A ray of the tail begins with what the ray that it goes on from carries at its end, share for share; so groups are weighed in their order, each with
//! what those before it have left.

use fearless_simd::{Simd, SimdBase, dispatch, f32x8};
use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Bands};
use crate::directivity::DirectivityTable;
use crate::geometry::instructions::chosen;
use crate::geometry::lanes::{Lanes, array};
use crate::progress::{Cancelled, Progress};
use crate::rays::{BandGroup, Chunk, Hit, Paths, Ray, SourcePaths};
use crate::room::Room;
use crate::settings::BATCHES;

use super::linings::Parts;
use super::patchwork::Patchwork;
use super::{Linings, Traced};

/// Energy of classes (b) and (c) over time from one source at one receiver, batch by batch.
#[derive(Clone, Debug, Default)]
pub struct RayCurve {
    /// `batches[batch][bin]` by band, 1/m2; each batch is an estimate of the whole. Bin 0 begins when the direct sound arrives.
    pub batches: Vec<Vec<Bands<f64>>>,
}

impl RayCurve {
    /// The mean over the batches, by bin.
    #[must_use]
    pub fn mean(&self) -> Vec<Bands<f64>> {
        let mut mean = vec![Bands::splat(0.0); self.batches.first().map_or(0, Vec::len)];
        for batch in &self.batches {
            for (sum, &value) in mean.iter_mut().zip(batch) {
                *sum = *sum + value;
            }
        }
        let share = 1.0 / self.batches.len().max(1) as f64;
        mean.into_iter().map(|sum| sum * share).collect()
    }

    /// This and a change of it, batch by batch.
    #[must_use]
    pub fn changed(&self, change: &Self) -> Self {
        let sum = |(own, more): (&Vec<Bands<f64>>, &Vec<Bands<f64>>)| own.iter().zip(more).map(|(&own, &more)| own + more).collect();
        Self { batches: self.batches.iter().zip(&change.batches).map(sum).collect() }
    }
}

/// The finishes in the footing of a bounce.
#[inline]
pub(super) fn parts_of(linings: &Linings, hit: Hit) -> Parts<'_> {
    linings.parts(usize::from(hit.surface), position_of(hit))
}

/// What surfaces leave of a bounce.
pub(super) trait Leaves<S: Simd> {
    /// For the way that the ray took, and scattered; by band.
    fn leaves(&self, simd: S, hit: Hit) -> [f32x8<S>; 2];
}

/// Of what lies in the footing of each bounce.
impl<S: Simd> Leaves<S> for Linings {
    #[inline(always)]
    fn leaves(&self, simd: S, hit: Hit) -> [f32x8<S>; 2] {
        let parts = parts_of(self, hit);
        let scattered = self.mean(simd, true, &parts, hit.cosine_bin);
        [if hit.went_diffuse() { scattered } else { self.mean(simd, false, &parts, hit.cosine_bin) }, scattered]
    }
}

/// Position of a bounce on its surface's chart, meters.
#[inline]
pub(super) fn position_of(hit: Hit) -> DVec2 {
    DVec2::new(f64::from(hit.position[0]), f64::from(hit.position[1]))
}

/// Energy that each ray of a batch starts with, by band: its share of what its source sends that way, 0 in bands of other groups.
pub type RayStarts = Vec<Lanes>;

/// What every ray starts with that begins at a source: `[source][group][batch][ray]`; none in groups that go on from others.
pub(super) fn starts(directivity: &[DirectivityTable], paths: &Paths) -> Vec<Vec<Vec<RayStarts>>> {
    let of_chunk = |source: usize, group: &BandGroup, chunk: &Chunk| {
        let start = |ray: &Ray| {
            let share = f64::from(ray.share);
            let sent = directivity[source].energy(1.0 - 2.0 * f64::from(ray.off_aim));
            Bands::from_fn(|band| if group.member[band] { (sent[band] * share) as f32 } else { 0.0 }).0
        };
        chunk.rays.iter().map(start).collect()
    };
    (0..directivity.len())
        .into_par_iter()
        .map(|source| {
            let of_group = |(group, sources): &(BandGroup, Vec<SourcePaths>)| {
                if group.goes_on_from.is_some() {
                    return Vec::new();
                }
                sources[source].chunks.par_iter().map(|chunk| of_chunk(source, group, chunk)).collect()
            };
            paths.groups.iter().map(of_group).collect()
        })
        .collect()
}

impl Traced {
    /// Shows a batch of rays of a source, group by group by their number, with what each ray starts with; `visit` answers what each carries at its end.
    pub(super) fn in_order(&self, source: usize, batch: usize, mut visit: impl FnMut(usize, &Chunk, &RayStarts) -> Vec<Lanes>) {
        let mut ends: Vec<Vec<Lanes>> = Vec::with_capacity(self.paths.groups.len());
        for (index, (group, sources)) in self.paths.groups.iter().enumerate() {
            let chunk = &sources[source].chunks[batch];
            let end = match group.goes_on_from {
                None => visit(index, chunk, &self.starts[source][index][batch]),
                Some(before) => visit(index, chunk, &self.handed_on(group, (source, batch), chunk, &ends[before])),
            };
            ends.push(end);
        }
    }

    /// What the rays of a chunk start with that go on from others, which end with so much.
    pub(super) fn handed_on(&self, group: &BandGroup, (source, batch): (usize, usize), chunk: &Chunk, ends: &[Lanes]) -> RayStarts {
        let start = |(parent, part): (usize, Lanes)| Bands(ends[parent]).zip(Bands(part), |end, part| end * part).0;
        self.inherited(group, (source, batch), chunk).map(start).collect()
    }

    /// Of each ray of a chunk the ray that it goes on from, and its share of what that one carries at its end, by band.
    pub(super) fn inherited<'a>(
        &'a self,
        group: &BandGroup,
        (source, batch): (usize, usize),
        chunk: &'a Chunk,
    ) -> impl Iterator<Item = (usize, Lanes)> + 'a {
        let parents = group.goes_on_from.map_or(&[][..], |before| &self.paths.groups[before].1[source].chunks[batch].rays);
        let members = group.member.0.map(|is_member| if is_member { 1.0 } else { 0.0 });
        chunk.rays.iter().map(move |ray| {
            let parent = ray.parent as usize;
            let part = ray.share / parents[parent].share;
            (parent, members.map(|member| part * member))
        })
    }
}

/// What becomes of arrivals.
pub(super) trait Listener<S: Simd> {
    /// Takes one at a receiver after `travelled` meters, air absorption left out; without energy where a bounce is not linked to the receiver.
    fn arrive(&mut self, receiver: usize, travelled: f32, energy: f32x8<S>);
}

/// Follows ray `index` of a chunk with `energy` to start with, and tells `listener` each of its arrivals of classes (b) and (c); stops at
/// the first bounce beyond `farthest` meters. What it carries there.
#[inline(always)]
pub(super) fn follow<S: Simd>(
    simd: S,
    (chunk, receivers): (&Chunk, usize),
    surfaces: &impl Leaves<S>,
    (index, energy): (usize, &Lanes),
    farthest: f32,
    listener: &mut impl Listener<S>,
) -> f32x8<S> {
    let mut energy = f32x8::load_array_ref(simd, energy);
    let mut crossings = chunk.crossings_of(index);
    for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
        let hit = chunk.hits[hit_index];
        if hit.travelled() > farthest {
            return energy;
        }
        let [kept, scattered] = surfaces.leaves(simd, hit);
        let spread = energy * scattered;
        // Whether a link brings anything is anyone's guess, so adding nothing is quicker than asking.
        for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
            listener.arrive(receiver, link.travelled, spread * link.weight);
        }
        energy *= kept * (1.0 / hit.chance());
        while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == bounce {
            let crossing = chunk.crossings[crossings.start];
            crossings.start += 1;
            listener.arrive(usize::from(crossing.receiver), crossing.travelled, energy * crossing.weight);
        }
    }
    energy
}

/// Time bins of every source at every receiver: bin 0 begins when the direct sound arrives.
pub(super) struct Bins {
    /// Direct distance, `[source][receiver]`, meters.
    direct: Vec<Vec<f32>>,
    per_meter: f32,
    pub(super) count: usize,
}

impl Bins {
    pub(super) fn new(room: &Room, end_s: f64, bin_s: f64) -> Self {
        let direct: Vec<Vec<f32>> = room
            .sources
            .iter()
            .map(|source| room.receivers.iter().map(|receiver| source.position.distance(receiver.position) as f32).collect())
            .collect();
        // Paths end `end_s` after they are sent, so the record of the farthest pair ends that much earlier after its direct sound.
        let longest = direct.iter().flatten().copied().fold(0.0, f32::max);
        let count = ((end_s - f64::from(longest) / room.medium.speed) / bin_s).floor().max(1.0) as usize;
        Self { direct, per_meter: (1.0 / (bin_s * room.medium.speed)) as f32, count }
    }

    /// Bin of an arrival after `travelled` meters, if it is within the record.
    #[inline(always)]
    pub(super) fn at(&self, source: usize, receiver: usize, travelled: f32) -> Option<usize> {
        self.after(self.direct[source][receiver], travelled)
    }

    /// The same where the direct sound travels `direct` meters.
    #[inline(always)]
    fn after(&self, direct: f32, travelled: f32) -> Option<usize> {
        let bin = ((travelled - direct) * self.per_meter).max(0.0) as usize;
        (bin < self.count).then_some(bin)
    }

    /// Adds the arrivals of a batch of rays to a histogram, `[receiver x count + bin]`; what each carries at its end.
    fn fill(&self, source: usize, (chunk, starts): (&Chunk, &RayStarts), patchwork: &Patchwork<'_>, histogram: &mut [Lanes]) -> Vec<Lanes> {
        #[inline(always)]
        fn all<S: Simd>(
            simd: S,
            chunk: &Chunk,
            starts: &RayStarts,
            patchwork: &Patchwork<'_>,
            histogram: &mut Histogram<'_>,
        ) -> Vec<Lanes> {
            let receivers = histogram.direct.len();
            let mut ends = Vec::with_capacity(starts.len());
            for ray in starts.iter().enumerate() {
                ends.push(array(follow(simd, (chunk, receivers), patchwork, ray, f32::INFINITY, histogram)));
            }
            ends
        }
        let mut histogram = Histogram { bins: self, direct: &self.direct[source], sums: histogram };
        dispatch!(chosen().level(), simd => all(simd, chunk, starts, patchwork, &mut histogram))
    }

    /// What air absorption leaves at the middle of each bin, by band.
    pub(super) fn air(&self, room: &Room, source: usize, receiver: usize) -> Vec<Bands<f64>> {
        let way = |bin: usize| f64::from(self.direct[source][receiver]) + (bin as f64 + 0.5) / f64::from(self.per_meter);
        (0..self.count).map(|bin| room.medium.attenuation.map(|m| (-m * way(bin)).exp())).collect()
    }
}

/// Arrivals of one source, added up by time.
struct Histogram<'a> {
    bins: &'a Bins,
    /// Direct distance by receiver, meters.
    direct: &'a [f32],
    /// `[receiver x count + bin]`
    sums: &'a mut [Lanes],
}

impl<S: Simd> Listener<S> for Histogram<'_> {
    #[inline(always)]
    fn arrive(&mut self, receiver: usize, travelled: f32, energy: f32x8<S>) {
        if let Some(bin) = self.bins.after(self.direct[receiver], travelled) {
            let sum = &mut self.sums[receiver * self.bins.count + bin];
            let all = f32x8::load_array_ref(energy.simd, sum) + energy;
            all.store_array(sum);
        }
    }
}

/// Energy over time of all rays, `[source][receiver]`.
///
/// # Errors
/// [`Cancelled`].
pub fn weigh_rays(progress: &Progress, traced: &Traced, linings: &Linings) -> Result<Vec<Vec<RayCurve>>, Cancelled> {
    let Traced { room, settings, paths, .. } = traced;
    let bins = Bins::new(room, paths.end_s, settings.bin_s);
    let patchwork = Patchwork::new(linings);
    let tasks: Vec<(usize, usize)> =
        (0..room.sources.len()).flat_map(|source| (0..BATCHES as usize).map(move |batch| (source, batch))).collect();
    let histograms = tasks
        .into_par_iter()
        .map(|(source, batch)| {
            progress.step(0)?;
            let mut histogram = vec![[0.0_f32; BAND_COUNT]; bins.count * paths.receivers];
            traced.in_order(source, batch, |_, chunk, starts| bins.fill(source, (chunk, starts), &patchwork, &mut histogram));
            Ok(histogram)
        })
        .collect::<Result<Vec<_>, Cancelled>>()?;

    let curves = |(source, batches): (usize, &[_])| {
        (0..paths.receivers).into_par_iter().map(|receiver| curve(room, &bins, batches, source, receiver)).collect()
    };
    Ok(histograms.par_chunks(BATCHES as usize).enumerate().map(curves).collect())
}

/// One receiver's curve out of the batches' histograms, air absorption applied at the middle of each bin.
fn curve(room: &Room, bins: &Bins, batches: &[Vec<[f32; BAND_COUNT]>], source: usize, receiver: usize) -> RayCurve {
    let air = bins.air(room, source, receiver);
    let batches = batches
        .iter()
        .map(|histogram| {
            let own = &histogram[receiver * bins.count..(receiver + 1) * bins.count];
            own.iter().zip(&air).map(|(&energy, &air)| Bands(energy).map(f64::from) * air).collect()
        })
        .collect();
    RayCurve { batches }
}
