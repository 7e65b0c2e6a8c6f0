//! Hot spots: where on which surface a reflection of the early window is best taken away.
//!
//! A hot spot is the smallest region that holds half of one reflection's map integral on one surface.
//!
//! *Limits.* Mirror reflections only, as the head hears them; the early energy of the rays has no place of its own.

use glam::DVec2;
use rayon::prelude::*;

use crate::findings::Place;
use crate::findings::reflections::place;
use crate::room::PatchGrid;
use crate::weigh::{Linings, SpecularPath, Traced, flat_weights, sensitivity};

use super::window;

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
