//! Where absorber earns: maps on the surfaces, and hot spots as regions.
//!
//! The early map is `G = -(10 / ln 10)(1/E) dE/dA` in dB/m2: E the early reflected energy in 1-8 kHz of a source flat over frequency,
//! averaged over the listening zone, dA exchanging the wall's reflection for the absorber's. The late map is the share of T30 taken off
//! per square meter, from the linearized fit of the decay over fixed times: with `L(t) = 10 lg S(t)`, `slope = sum_i w_i L(t_i)` and
//! `dT/T = -d slope / slope`. A hot spot is the smallest region that holds half of one reflection's map integral.
//!
//! *References.* Backward integration: M. R. Schroeder, J. Acoust. Soc. Am. 37, 409 (1965).
//!
//! *Limits.* Derivatives: what a whole panel earns is weighed exactly elsewhere. Early energy below 1 kHz is not in the early map.

use glam::DVec2;
use rayon::prelude::*;

use crate::bands::{Band, Bands};
use crate::findings::reflections::place;
use crate::findings::{Estimate, Place};
use crate::metrics::decay::{DecayCurve, Range, Tail};
use crate::progress::{Cancelled, Progress};
use crate::response::Response;
use crate::room::PatchGrid;
use crate::weigh::early::EarlyEnergy;
use crate::weigh::sensitivity::{self, Quantity};
use crate::weigh::{Linings, SpecularPath, Traced, flat_weights};

/// A value on every patch of every surface, per square meter, with its standard error.
#[derive(Clone, Debug)]
pub struct PatchMap {
    /// Value by patch; NaN outside the surfaces.
    pub value: Vec<f64>,
    /// Its standard error.
    pub se: Vec<f64>,
    /// `[batch][patch]`: the value, rays of one batch standing for all; NaN outside the surfaces.
    pub batches: Vec<Vec<f64>>,
}

/// The smallest region that holds half of one reflection's map integral on one surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// Index of the surface.
    pub surface: usize,
    /// Middle, on its chart, meters.
    pub center: DVec2,
    /// Middle, on its surface.
    pub place: Place,
    /// Width and height of the region, meters.
    pub extent: DVec2,
    /// Its area in m2.
    pub area: f64,
    /// Index of the source.
    pub source: usize,
    /// Index of the receiver.
    pub receiver: usize,
    /// Delay after the direct sound, seconds.
    pub delay_s: f64,
    /// Level in 1-8 kHz re direct, dB.
    pub level_db: f64,
    /// Share of the early reflected energy of this source at this receiver that this reflection is.
    pub share: f64,
    /// Number of reflections on its way.
    pub order: usize,
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
    early: &EarlyEnergy,
    (pairs, weights): (&[(usize, usize)], Bands<f64>),
) -> Result<Vec<PatchMap>, Cancelled> {
    let grid: &PatchGrid = &traced.room.patches;
    let bins = (traced.settings.window_s / traced.settings.bin_s).round() as usize;
    let mut phi = vec![vec![Vec::new(); traced.room.receivers.len()]; traced.room.sources.len()];
    let mut images = vec![vec![0.0; grid.count]; exchanged.len()];
    let mut level = 0.0;
    for &(source, receiver) in pairs {
        let direct = (traced.direct_energy(source, traced.room.receivers[receiver].position) * weights).sum();
        let relative = weights * (1.0 / direct);
        level += (early.total(source, receiver) * relative).sum();
        phi[source][receiver] = vec![relative; bins];
        let points = &traced.images[source][receiver].points;
        let share = relative * (1.0 / points.len() as f64);
        let zone = &traced.images[source][receiver];
        let paths: Vec<(&SpecularPath, Bands<f64>)> = zone.early(window(traced)).flatten().map(|path| (path, share)).collect();
        add_specular(traced, linings, exchanged, grid, &paths, &mut images);
    }
    let rays = sensitivity::rays(progress, traced, linings, &Quantity { phi: &phi, exchanged, early: true })?;
    let scale = -10.0 / std::f64::consts::LN_10 / level;
    Ok(rays.iter().zip(&images).map(|(batches, images)| patch_map(grid, batches, images, scale)).collect())
}

/// Paths that one worker takes together.
const PATHS_TOGETHER: usize = 16;

/// Adds what these specular paths change, each with its weight, patch by patch; in parallel, summed in order.
fn add_specular(
    traced: &Traced,
    linings: &Linings,
    exchanged: &[&Linings],
    grid: &PatchGrid,
    paths: &[(&SpecularPath, Bands<f64>)],
    sums: &mut [Vec<f64>],
) {
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
    for part in parts {
        for (sums, part) in sums.iter_mut().zip(part) {
            for (sum, value) in sums.iter_mut().zip(part) {
                *sum += value;
            }
        }
    }
}

/// Way in meters that sound travels within the early window.
fn window(traced: &Traced) -> f64 {
    traced.settings.window_s * traced.room.medium.speed
}

/// Mean over the batches, plus the images, per area, times `scale`.
fn patch_map(grid: &PatchGrid, batches: &[Vec<f64>], images: &[f64], scale: f64) -> PatchMap {
    let batches: Vec<Vec<f64>> = batches
        .iter()
        .map(|batch| grid.per_area(&batch.iter().zip(images).map(|(ray, image)| (ray + image) * scale).collect::<Vec<_>>()))
        .collect();
    let estimates: Vec<Estimate> =
        (0..grid.count).map(|patch| Estimate::mean(&batches.iter().map(|batch| batch[patch]).collect::<Vec<_>>())).collect();
    PatchMap {
        value: estimates.iter().map(|estimate| estimate.value).collect(),
        se: estimates.iter().map(|estimate| estimate.se).collect(),
        batches,
    }
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
    responses: &[Vec<Response>],
    asked: (&[(usize, usize)], &[Band]),
) -> Result<Vec<PatchMap>, Cancelled> {
    let (pairs, bands) = asked;
    let mut fits = 0_usize;
    let mut phi = vec![vec![Vec::new(); traced.room.receivers.len()]; traced.room.sources.len()];
    for &(source, receiver) in pairs {
        let response = &responses[source][receiver];
        let mut weights: Vec<Bands<f64>> = Vec::new();
        for &band in bands {
            let curve = response.curve(band);
            if let Some(band_weights) = decay_weights(&curve, response.bin_s) {
                fits += 1;
                weights.resize(curve.len(), Bands::splat(0.0));
                for (slot, weight) in weights.iter_mut().zip(band_weights) {
                    slot[band] = weight;
                }
            }
        }
        phi[source][receiver] = weights;
    }
    if fits == 0 {
        return Ok(Vec::new());
    }
    let rays = sensitivity::rays(progress, traced, linings, &Quantity { phi: &phi, exchanged, early: false })?;
    let mut images = vec![vec![0.0; grid.count]; exchanged.len()];
    let per_meter = 1.0 / (traced.settings.bin_s * traced.room.medium.speed);
    for &(source, receiver) in pairs {
        let direct = traced.distance(source, receiver);
        let reflected = traced.images[source][receiver].heard.iter().filter(|path| !path.path.bounces.is_empty());
        let weighted = reflected.filter_map(|path| {
            let bin = ((path.path.length - direct) * per_meter).max(0.0) as usize;
            phi[source][receiver].get(bin).map(|&weight| (path, weight))
        });
        add_specular(traced, linings, exchanged, grid, &weighted.collect::<Vec<_>>(), &mut images);
    }
    let map = |(batches, images): (&Vec<Vec<f64>>, &Vec<f64>)| {
        let batches: Vec<Vec<f64>> = batches.iter().map(|batch| grid.gather(&traced.room.patches, batch)).collect();
        patch_map(grid, &batches, images, -100.0 / fits as f64)
    };
    Ok(rays.iter().zip(&images).map(map).collect())
}

/// `d(T/T) / d(energy in bin)` of T30 of one curve (T20 where the record does not reach), its fit linearized over fixed times.
fn decay_weights(energy: &[f64], bin_s: f64) -> Option<Vec<f64>> {
    let curve = DecayCurve::new(energy, bin_s, Tail::Exponential).ok()?;
    let fit = curve.fit(Range::Thirty).or_else(|_| curve.fit(Range::Twenty)).ok()?;
    Some(curve.sensitivity(&fit))
}

/// The hot spots of one source at one receiver, the loudest reflection first: every reflection of the early window that is at most
/// `floor_db` below the loudest, on each surface it meets.
#[must_use]
pub fn hot_spots(
    traced: &Traced,
    linings: &Linings,
    exchanged: &Linings,
    grid: &PatchGrid,
    pair: (usize, usize),
    floor_db: f64,
) -> Vec<Spot> {
    let (source, receiver) = pair;
    let weights = flat_weights();
    let points = &traced.images[source][receiver].points;
    let share = weights * (1.0 / points.len() as f64);
    let direct_point = traced.room.receivers[receiver].position;
    let direct = (traced.direct_energy(source, direct_point) * weights).sum();
    let direct_length = traced.distance(source, receiver);
    // The same reflection at every point of the zone: the same surfaces in the same order.
    let reflections: Vec<&SpecularPath> =
        traced.images[source][receiver].early(window(traced)).next().map_or_else(Vec::new, Iterator::collect);
    let same = |a: &SpecularPath, b: &SpecularPath| {
        a.path.bounces.len() == b.path.bounces.len() && a.path.bounces.iter().zip(&b.path.bounces).all(|(a, b)| a.surface == b.surface)
    };
    let energy_of = |path: &SpecularPath| (path.energy(&traced.room, linings) * weights).sum();
    let energies: Vec<f64> = reflections.iter().map(|path| energy_of(path)).collect();
    let total: f64 = energies.iter().sum();
    let loudest = energies.iter().copied().fold(0.0, f64::max);
    let floor = loudest * 10.0_f64.powf(floor_db / 10.0);

    let mut spots: Vec<Spot> = reflections
        .par_iter()
        .zip(&energies)
        .filter(|(_, energy)| **energy >= floor)
        .flat_map_iter(|(&path, &energy)| {
            let mut sums = [vec![0.0; grid.count]];
            for twin in points.iter().flatten().filter(|other| same(path, other)) {
                sensitivity::specular(&traced.room, linings, &[exchanged], twin, share, grid, &mut sums);
            }
            let [sums] = sums;
            let mut surfaces: Vec<usize> = path.path.bounces.iter().map(|bounce| bounce.surface).collect();
            surfaces.sort_unstable();
            surfaces.dedup();
            let level_db = 10.0 * (energy / direct).log10();
            let delay_s = (path.path.length - direct_length) / traced.room.medium.speed;
            surfaces
                .into_iter()
                .filter_map(|surface| {
                    let (center, extent, area) = half_region(grid, surface, &sums)?;
                    let place = place(&traced.room, surface, traced.room.surfaces[surface].chart.point(center));
                    let order = path.path.bounces.len();
                    Some(Spot { surface, center, place, extent, area, source, receiver, delay_s, level_db, share: energy / total, order })
                })
                .collect::<Vec<_>>()
        })
        .collect();
    spots.sort_by(|a, b| b.level_db.total_cmp(&a.level_db).then(a.surface.cmp(&b.surface)));
    spots
}

/// Middle, extent and area of the smallest set of patches that holds half of what `sums` takes off on one surface.
fn half_region(grid: &PatchGrid, surface: usize, sums: &[f64]) -> Option<(DVec2, DVec2, f64)> {
    let own = &grid.surfaces[surface];
    let earned = |patch: usize| (-sums[own.first + patch]).max(0.0);
    let mut order: Vec<usize> = (0..own.columns * own.rows).filter(|&patch| own.area[patch] > 1e-9 && earned(patch) > 0.0).collect();
    order.sort_by(|&a, &b| (earned(b) / own.area[b]).total_cmp(&(earned(a) / own.area[a])).then(a.cmp(&b)));
    let total: f64 = order.iter().map(|&patch| earned(patch)).sum();
    if total <= 0.0 {
        return None;
    }
    let (mut held, mut area, mut center) = (0.0, 0.0, DVec2::ZERO);
    let (mut low, mut high) = (DVec2::INFINITY, DVec2::NEG_INFINITY);
    for patch in order {
        if held >= 0.5 * total {
            break;
        }
        let corner = own.low + grid.side * DVec2::new((patch % own.columns) as f64, (patch / own.columns) as f64);
        held += earned(patch);
        area += own.area[patch];
        center += earned(patch) * (corner + 0.5 * grid.side);
        low = low.min(corner);
        high = high.max(corner + grid.side);
    }
    Some((center / held, high - low, area))
}
