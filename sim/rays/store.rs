//! The stored paths: 16 bytes a bounce, 8 a link from it to a receiver, 28 a ray, 16 a crossing.
//!
//! A source's rays lie in [`crate::settings::BATCHES`] chunks, one a batch.

use crate::bands::Bands;

use super::groups::BandGroup;

/// All paths of a room.
#[derive(Clone, Debug, Default)]
pub struct Paths {
    /// The early part and the stages of the tail, each in one or more groups of bands, with one entry a source. Rays of the tail hold their
    /// earlier bounces too, without links, since their energy depends on them.
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
    /// Rays that were asked for from each source.
    pub asked: u32,
    /// As many of them as there is room for.
    pub rays: u32,
    /// Bytes that the store was reckoned to take before anything was traced.
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
    /// Cosine between its first direction and the source's aim.
    pub aim_cosine: f32,
    /// Its share of what the source sends, in the estimate that its chunk is.
    pub share: f32,
    /// Which ray of the part before it goes on from, in the chunk of the same source and batch; its own number in an early part.
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
        let p = f32::from(self.diffuse_probability) / 255.0;
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
    /// Number of the bounce (within its ray) after which it passes.
    pub after: u16,
    /// Which receiver.
    pub receiver: u16,
    /// Chord over volume of the ball inside the room, in 1/m2, with the microphone's pattern in it.
    pub weight: f32,
    /// Path length to the middle of the chord, meters.
    pub travelled: f32,
}

impl Chunk {
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
