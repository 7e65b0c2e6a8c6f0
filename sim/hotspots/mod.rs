//! Where absorber earns: maps on the surfaces, and hot spots as regions.
//!
//! The early map is `G = -(10 / ln 10)(1/E) dE/dA` in dB/m2: E the early reflected energy in 1-8 kHz of a source flat over frequency,
//! averaged over the listening zone, dA exchanging the wall's reflection for the absorber's. The map of clarity is what C50 gains per square
//! meter, in dB; below 0 where absorber takes more of the early sound than of the late. The late map is the share of T30 taken off per
//! square meter: with `L(t) = 10 lg S(t)`, `slope = sum_i w_i L(t_i)` and `dT/T = -d slope / slope`, the ends of the fit moving with the curve
//! and the tail with the end of the record (`metrics/decay`). With both held it was off by up to 4 %, octave by octave; against weighing the same
//! rays anew it is right to 0.2 %.
//!
//! *References.* Backward integration: M. R. Schroeder, J. Acoust. Soc. Am. 37, 409 (1965).
//!
//! *Limits.* Derivatives: what a whole panel earns is weighed exactly elsewhere. Early energy below 1 kHz is not in the early map. Standard
//! errors are those of the derivative; what it is divided by (the early level, either side of clarity) has its own, below a percent or two.

mod quantities;
mod spots;

pub use quantities::{CLARITY_LIMIT_S, Octaves, clarity, decay, early, early_energies};
pub use spots::{Spot, hot_spots};

use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::findings::Estimate;
use crate::progress::{Cancelled, Progress};
use crate::response::Responses;
use crate::room::PatchGrid;
use crate::settings::BATCHES;
use crate::weigh::early::EarlyEnergy;
use crate::weigh::sensitivity::{self, Asked, Quantity};
use crate::weigh::{Linings, SpecularPath, Traced};

/// A value on every patch of every surface, per square meter, with its standard error.
#[derive(Clone, Debug)]
pub struct PatchMap {
    /// Value by patch; NaN outside the surfaces.
    pub value: Vec<f64>,
    /// Its standard error.
    pub se: Vec<f64>,
    /// `[batch][patch]`: the value, rays of one batch standing for all; NaN outside the surfaces. Empty where only value and error were
    /// asked for.
    pub batches: Vec<Vec<f64>>,
}

/// The early map G of the pairs of source and receiver that are asked for together (mean of their early energies re direct, the octaves
/// weighted as asked), dB/m2, on the room's patches: how much the early level falls per square meter of wall that becomes what `exchanged`
/// has there. One map for each exchange.
///
/// # Errors
/// [`Cancelled`].
pub fn early_maps(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    energy: &EarlyEnergy,
    (pairs, weights): (&[(usize, usize)], Bands<f64>),
) -> Result<Vec<PatchMap>, Cancelled> {
    let bands: Vec<Band> = Band::ALL.into_iter().filter(|&band| weights[band] != 0.0).collect();
    let quantity = early(traced, energy, pairs, (weights, Octaves::Together(&bands)));
    whole_maps(progress, traced, linings, exchanged, &traced.room.patches, &quantity)
}

/// The late map: percent of T30 taken off per square meter of wall that becomes what `exchanged` has there, mean over the bands and
/// pairs given, on the patches of `grid`, whole numbers of the room's own. One map for each exchange; none where no decay supports the fit.
///
/// # Errors
/// [`Cancelled`].
pub fn late_maps(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    grid: &PatchGrid,
    responses: &(impl Responses + ?Sized),
    (pairs, bands): (&[(usize, usize)], &[Band]),
) -> Result<Vec<PatchMap>, Cancelled> {
    let Some(quantity) = decay(traced, responses, pairs, Octaves::Together(bands)) else { return Ok(Vec::new()) };
    whole_maps(progress, traced, linings, exchanged, grid, &quantity)
}

/// What several quantities fall by together, each as its maps say, per square meter of wall that becomes what each exchange has there: values without errors, on the room's patches.
/// Reflections that count beside the quantities come with what a unit of the energy of each octave adds.
///
/// # Errors
/// [`Cancelled`].
pub fn sum_of_maps(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    quantities: &[Quantity],
    reflections: &[(&SpecularPath, Bands<f64>)],
) -> Result<Vec<Vec<f64>>, Cancelled> {
    let grid = &traced.room.patches;
    let mut sums = along_paths(traced, linings, exchanged, grid, reflections);
    for quantity in quantities {
        for part in 0..quantity.parts.len() {
            let images = of_images(traced, linings, exchanged, grid, quantity, part);
            sums.iter_mut().zip(images).for_each(|(sums, images)| add_to(sums, &images, 1.0));
        }
    }
    let share = 1.0 / f64::from(BATCHES);
    sensitivity::rays(progress, traced, linings, Asked { quantities, exchanged }, |changes| {
        for exchanges in changes {
            for (sums, parts) in sums.iter_mut().zip(exchanges) {
                parts.iter().for_each(|change| add_to(sums, change, share));
            }
        }
    })?;
    Ok(sums.into_iter().map(|sums| grid.per_area(&sums)).collect())
}

fn add_to(sums: &mut [f64], values: &[f64], factor: f64) {
    for (sum, value) in sums.iter_mut().zip(values) {
        *sum += factor * value;
    }
}

/// The first map of a quantity for each exchange, with all batches: what integrals over panels need for their errors.
fn whole_maps(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    grid: &PatchGrid,
    quantity: &Quantity,
) -> Result<Vec<PatchMap>, Cancelled> {
    let images: Vec<Vec<f64>> = of_images(traced, linings, exchanged, grid, quantity, 0);
    let mut batches: Vec<Vec<Vec<f64>>> = vec![Vec::new(); exchanged.len()];
    let asked = Asked { quantities: std::slice::from_ref(quantity), exchanged };
    sensitivity::rays(progress, traced, linings, asked, |changes| {
        for ((batches, images), parts) in batches.iter_mut().zip(&images).zip(changes.into_iter().flatten()) {
            batches.extend(parts.first().map(|change| densities(&traced.room.patches, grid, change, images)));
        }
    })?;
    let map = |batches: Vec<Vec<f64>>| {
        let at = |patch: usize| Estimate::mean(&batches.iter().map(|batch| batch[patch]).collect::<Vec<_>>());
        let (value, se) = (0..grid.count).map(at).map(|estimate| (estimate.value, estimate.se)).unzip();
        PatchMap { value, se, batches }
    };
    Ok(batches.into_iter().map(map).collect())
}

/// All maps of several quantities in one pass over the rays, `[quantity][part]`, each quantity on patches of its own choice (whole numbers of
/// the room's). Batches are folded as they come: 24 bytes are held for each patch of each map, and what [`sensitivity`] says.
///
/// # Errors
/// [`Cancelled`].
pub fn maps(
    progress: &Progress,
    traced: &Traced,
    linings: &Linings,
    exchanged: &Linings,
    quantities: &[Quantity],
    grids: &[&PatchGrid],
) -> Result<Vec<Vec<PatchMap>>, Cancelled> {
    let started = |(quantity, grid): (&Quantity, &&PatchGrid)| -> Vec<Folded> {
        let images = |part: usize| of_images(traced, linings, &[exchanged], grid, quantity, part).concat();
        (0..quantity.parts.len()).map(|part| Folded::new(images(part))).collect()
    };
    let mut folded: Vec<Vec<Folded>> = quantities.iter().zip(grids).map(started).collect();
    sensitivity::rays(progress, traced, linings, Asked { quantities, exchanged: &[exchanged] }, |changes| {
        for ((folded, grid), exchanges) in folded.iter_mut().zip(grids).zip(changes) {
            for (folded, change) in folded.iter_mut().zip(exchanges.into_iter().flatten()) {
                folded.add(&densities(&traced.room.patches, grid, &change, &folded.images));
            }
        }
    })?;
    Ok(folded.into_iter().map(|parts| parts.into_iter().map(Folded::map).collect()).collect())
}

/// Mean and squares of the batches so far.
struct Folded {
    images: Vec<f64>,
    count: f64,
    mean: Vec<f64>,
    /// Sum of the squares of what is off the mean.
    squares: Vec<f64>,
}

impl Folded {
    fn new(images: Vec<f64>) -> Self {
        Self { count: 0.0, mean: vec![0.0; images.len()], squares: vec![0.0; images.len()], images }
    }

    fn add(&mut self, batch: &[f64]) {
        self.count += 1.0;
        for ((mean, squares), value) in self.mean.iter_mut().zip(&mut self.squares).zip(batch) {
            let off = value - *mean;
            *mean += off / self.count;
            *squares += off * (value - *mean);
        }
    }

    fn map(self) -> PatchMap {
        let degrees = (self.count * (self.count - 1.0)).max(1.0);
        let se = self.squares.into_iter().map(|squares| (squares / degrees).sqrt()).collect();
        PatchMap { value: self.mean, se, batches: Vec::new() }
    }
}

/// What one batch of rays and the images change per square meter, on the patches of a grid.
fn densities(rooms: &PatchGrid, grid: &PatchGrid, change: &[f64], images: &[f64]) -> Vec<f64> {
    let add = |rays: &[f64]| grid.per_area(&rays.iter().zip(images).map(|(ray, image)| ray + image).collect::<Vec<_>>());
    if std::ptr::eq(rooms, grid) { add(change) } else { add(&grid.gather(rooms, change)) }
}

/// Paths that one worker takes together.
const PATHS_TOGETHER: usize = 16;

/// What the images change in one map of a quantity, for each exchange, patch by patch; in parallel, summed in order.
fn of_images(
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    grid: &PatchGrid,
    quantity: &Quantity,
    part: usize,
) -> Vec<Vec<f64>> {
    along_paths(traced, linings, exchanged, grid, &weighted_images(traced, quantity, &quantity.parts[part]))
}

/// What these reflections change, each with its weight.
fn along_paths(
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    grid: &PatchGrid,
    paths: &[(&SpecularPath, Bands<f64>)],
) -> Vec<Vec<f64>> {
    let parts: Vec<Vec<Vec<f64>>> = paths
        .par_chunks(PATHS_TOGETHER)
        .map(|chunk| {
            let mut part = vec![vec![0.0; grid.count]; exchanged.len()];
            for &(path, weight) in chunk {
                sensitivity::specular(&traced.room, linings, exchanged, path, weight, grid, &mut part);
            }
            part
        })
        .collect();
    let mut sums = vec![vec![0.0; grid.count]; exchanged.len()];
    for part in parts {
        sums.iter_mut().zip(part).for_each(|(sums, part)| add_to(sums, &part, 1.0));
    }
    sums
}

/// The reflections by mirrors that count for some octaves of a quantity, each with its weight: those of the early window as the mean over
/// the points of the zone, those of a whole response as they join the rays.
fn weighted_images<'a>(traced: &'a Traced, quantity: &Quantity, octaves: &[Band]) -> Vec<(&'a SpecularPath, Bands<f64>)> {
    let of_octaves = |phi: Bands<f64>| Bands::from_fn(|band| if octaves.contains(&band) { phi[band] } else { 0.0 });
    let mut weighted = Vec::new();
    for (source, receivers) in quantity.phi.iter().enumerate() {
        for (receiver, phi) in receivers.iter().enumerate() {
            let (Some(&first), zone) = (phi.first(), &traced.images[source][receiver]) else { continue };
            if quantity.early {
                let weight = of_octaves(first) * (1.0 / zone.points.len() as f64);
                weighted.extend(zone.early(window(traced)).flatten().map(|path| (path, weight)));
            } else {
                let direct = traced.distance(source, receiver);
                let per_meter = 1.0 / (traced.settings.bin_s * traced.room.medium.speed);
                let reflected = zone.heard.iter().filter(|path| !path.path.bounces.is_empty());
                weighted.extend(reflected.filter_map(|path| {
                    let bin = ((path.path.length - direct) * per_meter).max(0.0) as usize;
                    phi.get(bin).map(|&weight| (path, of_octaves(weight)))
                }));
            }
        }
    }
    weighted
}

/// Way in meters that sound travels within the early window.
fn window(traced: &Traced) -> f64 {
    traced.settings.window_s * traced.room.medium.speed
}
