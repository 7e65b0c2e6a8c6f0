//! What a map is worth over a panel: integrals over rectangles in constant time.
//!
//! *References.* F. C. Crow, "Summed-area tables for texture mapping", Computer Graphics (SIGGRAPH) 18 (1984) 207.

use std::sync::Arc;

use glam::DVec2;

use crate::findings::Estimate;
use crate::hotspots::PatchMap;
use crate::room::PatchGrid;

/// Sums over rectangles of a map in constant time.
pub struct Integral {
    grid: Arc<PatchGrid>,
    /// `(columns + 1) x (rows + 1)` cumulative sums for each surface.
    sums: Vec<Vec<f64>>,
}

impl Integral {
    /// Of a map in units per square meter; patches that have no value count for nothing.
    #[must_use]
    pub fn new(grid: &Arc<PatchGrid>, map: &[f64]) -> Self {
        let sums = grid
            .surfaces
            .iter()
            .map(|own| {
                let wide = own.columns + 1;
                let mut sums = vec![0.0; wide * (own.rows + 1)];
                for row in 0..own.rows {
                    let mut along = 0.0;
                    for column in 0..own.columns {
                        let patch = row * own.columns + column;
                        let value = map.get(own.first + patch).copied().unwrap_or(f64::NAN);
                        along += if value.is_finite() { value * own.area[patch] } else { 0.0 };
                        sums[(row + 1) * wide + column + 1] = sums[row * wide + column + 1] + along;
                    }
                }
                sums
            })
            .collect();
        Self { grid: Arc::clone(grid), sums }
    }

    /// Integral of the map over rectangles on surfaces (low and high corner in meters).
    #[must_use]
    pub fn over_all(&self, places: &[(usize, DVec2, DVec2)]) -> f64 {
        places.iter().map(|&(surface, low, high)| self.over(surface, low, high)).sum()
    }

    /// Integral of the map over a rectangle, linear between the patches' corners.
    #[must_use]
    pub fn over(&self, surface: usize, low: DVec2, high: DVec2) -> f64 {
        let own = &self.grid.surfaces[surface];
        let at = |corner: DVec2| {
            let place = ((corner - own.low) / self.grid.side).clamp(DVec2::ZERO, DVec2::new(own.columns as f64, own.rows as f64));
            let (column, row) = ((place.x as usize).min(own.columns - 1), (place.y as usize).min(own.rows - 1));
            let (x, y) = (place.x - column as f64, place.y - row as f64);
            let value = |column: usize, row: usize| self.sums[surface][row * (own.columns + 1) + column];
            let lower = value(column, row) * (1.0 - x) + value(column + 1, row) * x;
            let upper = value(column, row + 1) * (1.0 - x) + value(column + 1, row + 1) * x;
            lower * (1.0 - y) + upper * y
        };
        at(high) - at(DVec2::new(low.x, high.y)) - at(DVec2::new(high.x, low.y)) + at(low)
    }
}

/// Integrals of a map with their errors, which are those of the batches' integrals: neighbors share rays.
pub struct MapIntegral {
    batches: Vec<Integral>,
}

impl MapIntegral {
    /// Of a map on this grid.
    #[must_use]
    pub fn new(grid: &Arc<PatchGrid>, map: &PatchMap) -> Self {
        Self { batches: map.batches.iter().map(|batch| Integral::new(grid, batch)).collect() }
    }

    /// Integral over rectangles on surfaces (low and high corner in meters).
    #[must_use]
    pub fn over(&self, places: &[(usize, DVec2, DVec2)]) -> Estimate {
        Estimate::mean(&self.batches.iter().map(|batch| batch.over_all(places)).collect::<Vec<f64>>())
    }
}
