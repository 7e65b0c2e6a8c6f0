//! The stored paths: 16 bytes a bounce, 8 a link from it to a receiver, 28 a ray, 16 a crossing.
//!
//! A source's rays lie in [`crate::settings::BATCHES`] chunks, one a batch.

use crate::bands::Bands;

use super::groups::BandGroup;

/// All paths of a room.
#[derive(Clone, Debug, Default)]
pub struct Paths {
    /// The early part and the stages of the tail, each in one or more groups of bands, with one entry a source. A group comes after the one that it
    /// goes on from: a ray of the tail begins with what its parent carries at its end, share for share.
    pub groups: Vec<(BandGroup, Vec<SourcePaths>)>,
    /// How many receivers each bounce has links to.
    pub receivers: usize,
    /// Travel time in seconds at which paths end.
    pub end_s: f64,
    /// Share of the rays that effectively carry each band at a quarter of that time: `(sum e)^2 / (n sum e^2)` of their energies by the room's
    /// own finishes.
    pub effective_share: Bands<f64>,
    /// Rays that left the room through a crack between surfaces, of all groups and sources.
    pub escaped: u64,
    /// Rays traced from the sources, of all of these and of all groups of bands that part there.
    pub traced: u64,
    /// Rays of a round that were asked for from each source.
    pub asked: u32,
    /// As many of them as there is room for.
    pub rays: u32,
    /// How many rounds of these there are.
    pub rounds: u32,
    /// Bytes that a round was reckoned to take before anything was traced.
    pub reckoned_bytes: u64,
}

/// Where a ray lies in the store.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct RayNumber {
    /// Index of its group.
    pub group: usize,
    /// Index of its source.
    pub source: usize,
    /// Its batch.
    pub batch: usize,
    /// Its number in the chunk.
    pub ray: usize,
}

/// The rays of one source.
#[derive(Clone, Debug)]
pub struct SourcePaths {
    /// One a batch.
    pub chunks: Vec<Chunk>,
}

/// A batch of rays.
#[derive(Clone, Debug, Default)]
pub struct Chunk {
    /// The rays, in order of their number.
    pub rays: Vec<Ray>,
    /// Bounces of all rays, those of a ray end to end.
    pub hits: Vec<Hit>,
    /// Links of all bounces: `links[hit * receivers + receiver]`.
    pub links: Vec<Link>,
    /// Crossings of all rays, those of a ray in order.
    pub crossings: Vec<Crossing>,
    /// Rays that escaped.
    pub escaped: u64,
}

/// One ray: where its bounces and crossings lie.
#[derive(Clone, Copy, Debug, Default)]
pub struct Ray {
    /// Index of its first bounce in the chunk.
    pub first_hit: u32,
    /// Index of its first crossing in the chunk.
    pub first_crossing: u32,
    /// How many bounces there are.
    pub hits: u32,
    /// How many crossings.
    pub crossings: u32,
    /// Share of the sphere nearer to the source's aim than its first direction: a cosine in single precision would not tell near the aim.
    pub off_aim: f32,
    /// Its share of what the source sends, in the estimate that its chunk is.
    pub share: f32,
    /// Which ray of the group before it goes on from, in the chunk of the same source and batch; its own number in an early part.
    pub parent: u32,
}

/// One bounce.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hit {
    /// Position on the surface's chart, meters.
    pub position: [f32; 2],
    /// Index of the surface.
    pub surface: u16,
    /// Bin of the cosine of the angle of incidence.
    pub cosine_bin: u8,
    /// Probability of a diffuse continuation, in 255ths.
    pub diffuse_probability: u8,
    /// Path length from the source, meters; negative where the ray went on diffusely.
    signed_travelled: f32,
}

/// How often a ray goes on diffusely that is to in so many 255ths: what is drawn against it is a multiple of 2^-24, so the next such multiple, which
/// single precision holds exactly, and 1 less it too. Both ways together are then 1 to the last bit; rounded otherwise, 3e-8 of the energy would be lost or
/// made at every bounce.
#[must_use]
#[inline]
pub(super) fn diffuse_chance(probability: u8) -> f32 {
    CHANCES[usize::from(probability)]
}

const CHANCES: [f32; 256] = {
    const STEPS: f32 = (1 << 24) as f32;
    let mut chances = [0.0; 256];
    let mut probability = 0;
    while probability < chances.len() {
        let steps = probability as f32 / 255.0 * STEPS;
        let below = steps as u32;
        let next = if (below as f32) < steps { below + 1 } else { below };
        chances[probability] = next as f32 / STEPS;
        probability += 1;
    }
    chances
};

impl Hit {
    /// A bounce; `travelled` in meters, above 0.
    #[must_use]
    pub fn new(position: [f32; 2], surface: u16, cosine_bin: u8, diffuse_probability: u8, travelled: f32, diffuse: bool) -> Self {
        let signed_travelled = if diffuse { -travelled } else { travelled };
        Self { position, surface, cosine_bin, diffuse_probability, signed_travelled }
    }

    /// Path length from the source, meters.
    #[must_use]
    pub fn travelled(self) -> f32 {
        self.signed_travelled.abs()
    }

    /// Whether the ray went on diffusely.
    #[must_use]
    #[inline]
    pub fn went_diffuse(self) -> bool {
        self.signed_travelled < 0.0
    }

    /// Probability of the way the ray took.
    #[must_use]
    #[inline]
    pub fn chance(self) -> f32 {
        let p = diffuse_chance(self.diffuse_probability);
        if self.went_diffuse() { p } else { 1.0 - p }
    }
}

/// How a receiver hears a bounce by Lambert's law: energy at the receiver = energy scattered x `weight`.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Link {
    /// `cos / (pi r^2)` in 1/m2 with the microphone's pattern in it; 0 where it is out of sight.
    pub weight: f32,
    /// Whole path length to the receiver, meters.
    pub travelled: f32,
}

/// A ray that passes through a receiver's ball after a mirror reflection.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Crossing {
    /// Number of the bounce, within its ray in its group, after which it passes.
    pub after: u16,
    /// Which receiver.
    pub receiver: u16,
    /// Chord over volume of the ball inside the room, in 1/m2, with the microphone's pattern in it.
    pub weight: f32,
    /// Path length to the middle of the chord, meters.
    pub travelled: f32,
}

impl SourcePaths {
    /// Rays of each chunk.
    fn counts(&self) -> Vec<usize> {
        self.chunks.iter().map(|chunk| chunk.rays.len()).collect()
    }
}

impl Chunk {
    /// Puts the rays of another round behind its own, each with its part of the shares; `parents` is how many rays stood before those that its rays go on
    /// from.
    fn append(&mut self, more: Self, parts: [f32; 2], parents: usize) {
        let (hits, crossings) = (self.hits.len() as u32, self.crossings.len() as u32);
        for ray in &mut self.rays {
            ray.share *= parts[0];
        }
        let behind = |ray: Ray| Ray {
            first_hit: ray.first_hit + hits,
            first_crossing: ray.first_crossing + crossings,
            share: ray.share * parts[1],
            parent: ray.parent + parents as u32,
            ..ray
        };
        // The store is reckoned by what it holds, not by what it might.
        self.rays.reserve_exact(more.rays.len());
        self.rays.extend(more.rays.into_iter().map(behind));
        self.hits.reserve_exact(more.hits.len());
        self.hits.extend(more.hits);
        self.links.reserve_exact(more.links.len());
        self.links.extend(more.links);
        self.crossings.extend(more.crossings);
        self.escaped += more.escaped;
    }

    /// Range of a ray's bounces.
    #[must_use]
    pub fn hits_of(&self, ray: usize) -> std::ops::Range<usize> {
        let Ray { first_hit, hits, .. } = self.rays[ray];
        first_hit as usize..(first_hit + hits) as usize
    }

    /// Range of a ray's crossings.
    #[must_use]
    pub fn crossings_of(&self, ray: usize) -> std::ops::Range<usize> {
        let Ray { first_crossing, crossings, .. } = self.rays[ray];
        first_crossing as usize..(first_crossing + crossings) as usize
    }
}

impl Paths {
    /// Takes another round in: each batch is the mean of what both say.
    pub(super) fn join(&mut self, more: Self) {
        let all = (self.rounds + more.rounds) as f32;
        let parts = [self.rounds as f32 / all, more.rounds as f32 / all];
        let before: Vec<Option<usize>> = self.groups.iter().map(|(group, _)| group.goes_on_from).collect();
        let known: Vec<Vec<Vec<usize>>> =
            self.groups.iter().map(|(_, sources)| sources.iter().map(SourcePaths::counts).collect()).collect();
        for (group, ((_, own), (_, sources))) in self.groups.iter_mut().zip(more.groups).enumerate() {
            for (source, (own, more)) in own.iter_mut().zip(sources).enumerate() {
                for (batch, (own, more)) in own.chunks.iter_mut().zip(more.chunks).enumerate() {
                    own.append(more, parts, before[group].map_or(0, |before| known[before][source][batch]));
                }
            }
        }
        self.effective_share = self.effective_share * f64::from(parts[0]) + more.effective_share * f64::from(parts[1]);
        self.escaped += more.escaped;
        self.traced += more.traced;
        self.rounds += more.rounds;
    }

    /// Whether a ray had bounced before it came into its group.
    #[must_use]
    pub fn has_bounced_before(&self, mut number: RayNumber) -> bool {
        let stored = |number: RayNumber| self.groups[number.group].1[number.source].chunks[number.batch].rays[number.ray];
        while let Some(before) = self.groups[number.group].0.goes_on_from {
            number = RayNumber { group: before, ray: stored(number).parent as usize, ..number };
            if stored(number).hits > 0 {
                return true;
            }
        }
        false
    }

    /// Bytes that the stored paths take.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.groups
            .iter()
            .flat_map(|(_, sources)| sources)
            .flat_map(|source| &source.chunks)
            .map(|chunk| {
                size_of_val(chunk.rays.as_slice())
                    + size_of_val(chunk.hits.as_slice())
                    + size_of_val(chunk.links.as_slice())
                    + size_of_val(chunk.crossings.as_slice())
            })
            .sum()
    }
}
