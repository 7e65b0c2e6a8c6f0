//! Energies of the traced rays: a ray's energy after each bounce is the product of what each finish on its way left it.

use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Bands};
use crate::directivity::DirectivityTable;
use crate::progress::{Cancelled, Progress};
use crate::rays::{BandGroup, Chunk, Hit, Paths, Ray, SourcePaths};
use crate::room::Room;
use crate::settings::BATCHES;

use super::linings::{Part, Parts};
use super::{Linings, Traced};

/// Energy of classes (b) and (c) over time from one source at one receiver, batch by batch.
#[derive(Clone, Debug)]
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
}

/// What the finishes round a bounce leave for the way the ray took, by band, over the probability of that way.
#[inline]
pub(super) fn onward(linings: &Linings, parts: &[Part], hit: Hit) -> [f32; BAND_COUNT] {
    let inverse = 1.0 / hit.chance();
    linings.mean::<0>(hit.went_diffuse(), parts, hit.cosine_bin).map(|value| value * inverse)
}

/// The finishes round a bounce.
#[inline]
pub(super) fn parts_of(linings: &Linings, hit: Hit) -> Parts<'_> {
    linings.parts(usize::from(hit.surface), position_of(hit), is_late(hit))
}

/// A bounce after this way is late: sound comes from everywhere by then, and where in a patch it bounced matters no more. Meters, beyond
/// the early window of a small room (one of 20 ms ends before).
const LATE_WAY: f32 = 10.0;

/// Whether a bounce counts as one of its whole patch.
#[inline]
pub(super) fn is_late(hit: Hit) -> bool {
    hit.travelled() > LATE_WAY
}

/// Position of a bounce on its surface's chart, meters.
#[inline]
pub(super) fn position_of(hit: Hit) -> DVec2 {
    DVec2::new(f64::from(hit.position[0]), f64::from(hit.position[1]))
}

/// Energy that each ray of a batch starts with, by band: its share of what its source sends that way, 0 in bands of other groups.
pub type RayStarts = Vec<[f32; BAND_COUNT]>;

/// What every stored ray starts with: `[source][group][batch][ray]`.
pub(super) fn starts(directivity: &[DirectivityTable], paths: &Paths) -> Vec<Vec<Vec<RayStarts>>> {
    let of_chunk = |source: usize, group: &BandGroup, chunk: &Chunk| {
        let share = 1.0 / chunk.rays.len().max(1) as f64;
        let start = |ray: &Ray| {
            let sent = directivity[source].energy(f64::from(ray.aim_cosine));
            Bands::from_fn(|band| if group.member[band] { (sent[band] * share) as f32 } else { 0.0 }).0
        };
        chunk.rays.iter().map(start).collect()
    };
    (0..directivity.len())
        .into_par_iter()
        .map(|source| {
            let of_group = |(group, sources): &(BandGroup, Vec<SourcePaths>)| {
                sources[source].chunks.par_iter().map(|chunk| of_chunk(source, group, chunk)).collect()
            };
            paths.groups.iter().map(of_group).collect()
        })
        .collect()
}

/// Follows ray `index` of a chunk with `energy` to start with, and calls `arrive(receiver, travelled, energy)` for each of its
/// arrivals of classes (b) and (c), air absorption left out; stops at the first bounce beyond `farthest` meters.
#[inline]
pub(super) fn follow(
    chunk: &Chunk,
    receivers: usize,
    linings: &Linings,
    index: usize,
    mut energy: [f32; BAND_COUNT],
    farthest: f32,
    mut arrive: impl FnMut(usize, f32, [f32; BAND_COUNT]),
) {
    let mut crossings = chunk.crossings_of(index);
    for (bounce, hit_index) in chunk.hits_of(index).enumerate() {
        let hit = chunk.hits[hit_index];
        if hit.travelled() > farthest {
            return;
        }
        let parts = parts_of(linings, hit);
        let kept = linings.mean::<0>(hit.went_diffuse(), &parts, hit.cosine_bin);
        let scattered = if hit.went_diffuse() { kept } else { linings.mean::<0>(true, &parts, hit.cosine_bin) };
        for (receiver, link) in chunk.links[hit_index * receivers..(hit_index + 1) * receivers].iter().enumerate() {
            if link.weight > 0.0 {
                arrive(receiver, link.travelled, std::array::from_fn(|band| energy[band] * scattered[band] * link.weight));
            }
        }
        let inverse = 1.0 / hit.chance();
        for band in 0..BAND_COUNT {
            energy[band] *= kept[band] * inverse;
        }
        while crossings.start < crossings.end && usize::from(chunk.crossings[crossings.start].after) == bounce {
            let crossing = chunk.crossings[crossings.start];
            crossings.start += 1;
            arrive(usize::from(crossing.receiver), crossing.travelled, energy.map(|value| value * crossing.weight));
        }
    }
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
    #[inline]
    pub(super) fn at(&self, source: usize, receiver: usize, travelled: f32) -> Option<usize> {
        let bin = ((travelled - self.direct[source][receiver]) * self.per_meter).max(0.0) as usize;
        (bin < self.count).then_some(bin)
    }

    /// Adds the arrivals of a batch of rays to a histogram, `[receiver x count + bin]`.
    #[inline]
    fn fill(&self, source: usize, (chunk, starts): (&Chunk, &RayStarts), linings: &Linings, histogram: &mut [[f32; BAND_COUNT]]) {
        let receivers = self.direct[source].len();
        for (index, &start) in starts.iter().enumerate() {
            let add = |receiver: usize, travelled: f32, energy: [f32; BAND_COUNT]| {
                if let Some(bin) = self.at(source, receiver, travelled) {
                    let slot = &mut histogram[receiver * self.count + bin];
                    for band in 0..BAND_COUNT {
                        slot[band] += energy[band];
                    }
                }
            };
            follow(chunk, receivers, linings, index, start, f32::INFINITY, add);
        }
    }

    /// What air absorption leaves at the middle of each bin, by band.
    pub(super) fn air(&self, room: &Room, source: usize, receiver: usize) -> Vec<Bands<f64>> {
        let way = |bin: usize| f64::from(self.direct[source][receiver]) + (bin as f64 + 0.5) / f64::from(self.per_meter);
        (0..self.count).map(|bin| room.medium.attenuation.map(|m| (-m * way(bin)).exp())).collect()
    }
}

/// Energy over time of all rays, `[source][receiver]`.
///
/// # Errors
/// [`Cancelled`].
pub fn weigh_rays(progress: &Progress, traced: &Traced, linings: &Linings) -> Result<Vec<Vec<RayCurve>>, Cancelled> {
    let Traced { room, settings, paths, starts, .. } = traced;
    let bins = Bins::new(room, paths.end_s, settings.bin_s);
    let tasks: Vec<(usize, usize)> =
        (0..room.sources.len()).flat_map(|source| (0..BATCHES as usize).map(move |batch| (source, batch))).collect();
    let histograms = tasks
        .into_par_iter()
        .map(|(source, batch)| {
            progress.step(0)?;
            let mut histogram = vec![[0.0_f32; BAND_COUNT]; bins.count * paths.receivers];
            for ((_, sources), starts) in paths.groups.iter().zip(&starts[source]) {
                let chunk = &sources[source].chunks[batch];
                bins.fill(source, (chunk, &starts[batch]), linings, &mut histogram);
            }
            Ok(histogram)
        })
        .collect::<Result<Vec<_>, Cancelled>>()?;

    let mut histograms = histograms.into_iter();
    Ok((0..room.sources.len())
        .map(|source| {
            let batches: Vec<_> = histograms.by_ref().take(BATCHES as usize).collect();
            (0..paths.receivers).map(|receiver| curve(room, &bins, &batches, source, receiver)).collect()
        })
        .collect())
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
