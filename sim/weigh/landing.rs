//! Which energy of a source has landed on each patch of each surface by when.
//!
//! A ray that meets a surface lands there with all it still carries, before the surface takes its share. With `e` the energy that it
//! carries, as a share of what a source sends that sends evenly at its on-axis level, and `A` the area of the patch,
//!
//! ```text
//! F(patch, t) = (4 pi / A) sum over bounces on the patch until t of e exp(-m l)
//! ```
//!
//! is the energy through each square meter of the patch, as a multiple of that of the direct sound at 1 m on axis (`1 / (4 pi)`).
//! Mirrored and scattered energy is in it alike: a stored ray takes either way with its weight, so images have nothing to add.
//!
//! *References.* H. Kuttruff, Room Acoustics, ch. 4 (irradiation strength of a wall; from memory).
//!
//! *Limits.* A patch shows the mean of what lands on it, and its standard error between batches of rays. Patches are coarse (0.2 m, more
//! in rooms of more than `PATCHES_MOST` of them), times are whole milliseconds, and what lands after `END_S` is left out. Straight
//! lines only: nothing bends round edges.

use std::f64::consts::PI;

use rayon::prelude::*;

use crate::bands::{BAND_COUNT, Band};
use crate::progress::{Cancelled, Progress};
use crate::rays::RayNumber;
use crate::room::PatchGrid;
use crate::settings::BATCHES;

use super::patchwork::Patchwork;
use super::stochastic::position_of;
use super::{Linings, Traced};

/// Width of a step of time, seconds.
pub const STEP_S: f64 = 0.001;
/// The last moment, seconds.
pub const END_S: f64 = 0.1;
/// Side of a patch at least, meters.
const PATCH: f64 = 0.2;
/// Patches at most, on all surfaces together, as far as surfaces have more than one each.
const PATCHES_MOST: f64 = 5000.0;
/// Batches that are followed at the same time: each takes a number for every patch and step.
const TOGETHER: usize = 4;

/// The energy that has landed, patch by patch and step by step.
#[derive(Clone, Debug, PartialEq)]
pub struct Landing {
    /// Index of the source.
    pub source: usize,
    /// The octave.
    pub band: Band,
    /// The patches.
    pub grid: PatchGrid,
    /// Steps of [`STEP_S`] that are known.
    pub steps: usize,
    /// What has landed straight from the source, at the end, by patch.
    straight: Vec<Landed>,
    /// `landed[step][patch]`, end to end: what has landed when `step + 1` steps are over.
    landed: Vec<Landed>,
}

/// Energy that has landed on a patch, as a multiple of the direct sound at 1 m; NaN outside the surfaces.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Landed {
    /// The energy.
    pub energy: f32,
    /// Its standard error.
    pub error: f32,
}

impl Landing {
    /// What has landed on a patch `time_s` seconds after the source sounded; steps that are not over do not count.
    #[must_use]
    pub fn landed(&self, patch: usize, time_s: f64) -> Landed {
        // A moment that is meant to be whole must not fall short of it by rounding.
        let over = ((time_s / STEP_S + 1e-6).floor().max(0.0) as usize).min(self.steps);
        match over.checked_sub(1).map(|step| step * self.grid.count + patch) {
            Some(index) => self.landed[index],
            None if self.straight[patch].energy.is_nan() => self.straight[patch],
            None => Landed::default(),
        }
    }

    /// What has landed on a patch straight from the source, at the end.
    #[must_use]
    pub fn straight(&self, patch: usize) -> Landed {
        self.straight[patch]
    }
}

/// One batch of rays: each of its entries is an estimate of the whole.
struct Batch {
    /// By step and patch.
    all: Vec<f64>,
    /// By patch.
    straight: Vec<f64>,
}

/// Sums of batches and of their squares.
struct Moments {
    sum: Vec<f64>,
    squares: Vec<f64>,
}

impl Moments {
    fn new(length: usize) -> Self {
        Self { sum: vec![0.0; length], squares: vec![0.0; length] }
    }

    fn add(&mut self, batch: &[f64]) {
        for ((sum, square), value) in self.sum.iter_mut().zip(&mut self.squares).zip(batch) {
            *sum += value;
            *square += value * value;
        }
    }

    /// Mean and standard error, each times `scale`.
    fn landed(&self, index: usize, scale: f64) -> Landed {
        let n = f64::from(BATCHES);
        let mean = self.sum[index] / n;
        let variance = ((self.squares[index] / n - mean * mean) / (n - 1.0)).max(0.0);
        Landed { energy: (scale * mean) as f32, error: (scale * variance.sqrt()) as f32 }
    }
}

/// Patches of a size that keeps their number modest.
fn patches(traced: &Traced) -> PatchGrid {
    let area: f64 = traced.room.surfaces.iter().map(|surface| surface.outline.area()).sum();
    PatchGrid::new(&traced.room.surfaces, PATCH.max((area / PATCHES_MOST).sqrt()))
}

/// What lands of a source in an octave until `END_S`, or until the paths end.
///
/// # Errors
/// [`Cancelled`].
pub fn landing(progress: &Progress, traced: &Traced, linings: &Linings, source: usize, band: Band) -> Result<Landing, Cancelled> {
    let grid = patches(traced);
    let steps = (traced.paths.end_s.min(END_S) / STEP_S + 1e-6).floor() as usize;
    let patchwork = Patchwork::new(linings);
    let fall = Fall { traced, patchwork: &patchwork, grid: &grid, steps, source, band };
    let (mut all, mut straight) = (Moments::new(steps * grid.count), Moments::new(grid.count));
    progress.begin("landing energy", u64::from(BATCHES));
    let batches: Vec<usize> = (0..BATCHES as usize).collect();
    for together in batches.chunks(TOGETHER) {
        let landed: Vec<Batch> = together.par_iter().map(|&batch| fall.batch(batch)).collect();
        for batch in &landed {
            all.add(&batch.all);
            straight.add(&batch.straight);
            progress.step(1)?;
        }
    }
    let areas: Vec<f64> = grid.surfaces.iter().flat_map(|own| own.area.iter().copied()).collect();
    let scale = |patch: usize| if areas[patch] > 1e-9 { 4.0 * PI / areas[patch] } else { f64::NAN };
    Ok(Landing {
        source,
        band,
        steps,
        straight: (0..grid.count).map(|patch| straight.landed(patch, scale(patch))).collect(),
        landed: (0..steps * grid.count).map(|index| all.landed(index, scale(index % grid.count))).collect(),
        grid,
    })
}

/// What is followed.
struct Fall<'a> {
    traced: &'a Traced,
    patchwork: &'a Patchwork<'a>,
    grid: &'a PatchGrid,
    steps: usize,
    source: usize,
    band: Band,
}

impl Fall<'_> {
    fn batch(&self, batch: usize) -> Batch {
        let band = self.band.index();
        let mut landed = Batch { all: vec![0.0; self.steps * self.grid.count], straight: vec![0.0; self.grid.count] };
        self.traced.in_order(self.source, batch, |group, chunk, starts| {
            let mut ends = Vec::with_capacity(starts.len());
            for (ray, start) in starts.iter().enumerate() {
                let number = RayNumber { group, source: self.source, batch, ray };
                let mut end = [0.0; BAND_COUNT];
                end[band] = if start[band] > 0.0 {
                    let hits = chunk.hits_of(ray).map(|hit| chunk.hits[hit]);
                    self.follow(&mut landed, hits, start[band], !self.traced.paths.has_bounced_before(number))
                } else {
                    0.0
                };
                ends.push(end);
            }
            ends
        });
        // From what lands in each step to what has landed after it.
        for index in self.grid.count..landed.all.len() {
            landed.all[index] += landed.all[index - self.grid.count];
        }
        landed
    }

    /// Follows one ray, straight from its source or from where it has bounced before; what it carries in the end.
    fn follow(&self, landed: &mut Batch, hits: impl Iterator<Item = crate::rays::Hit>, mut energy: f32, is_straight: bool) -> f32 {
        let medium = &self.traced.room.medium;
        let attenuation = medium.attenuation[self.band];
        let per_meter = 1.0 / (medium.speed * STEP_S);
        for (bounce, hit) in hits.enumerate() {
            let way = f64::from(hit.travelled());
            let step = (way * per_meter) as usize;
            if step >= self.steps {
                break;
            }
            let arriving = f64::from(energy) * (-attenuation * way).exp();
            let patch = self.grid.patch(usize::from(hit.surface), position_of(hit));
            landed.all[step * self.grid.count + patch] += arriving;
            if bounce == 0 && is_straight {
                landed.straight[patch] += arriving;
            }
            energy *= self.patchwork.kept(hit, self.band) / hit.chance();
        }
        energy
    }
}
