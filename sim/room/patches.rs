//! Surfaces cut into square patches: what maps are drawn on, and what the finish that a ray meets is blended over.
//!
//! A path is not heard through a point but through its footprint, so a ray meets the mean of what lies round its bounce. The mean is taken by
//! diffusion over the patches of the surface: `u_i += k sum over neighbors of min(A_i, A_j) / A_i (u_j - u_i)`, repeated until its
//! standard deviation is [`BLEND`] each way. Nothing crosses an edge of the surface, and what a wall absorbs in all is kept, because
//! `A_i M_ij = A_j M_ji`; for the same reason the map of what each patch is worth is the same diffusion of what the bounces are worth.
//!
//! *References.* J. Crank, The Mathematics of Diffusion, ch. 8 (explicit differences; stable for `k <= 1/4`; from memory).

use glam::DVec2;

use crate::geometry::Polygon;

use super::Surface;

/// Standard deviation of the footprint each way, meters: that of a disc of 0.2 m, about the first Fresnel zone at 4 kHz over the ways of a
/// small room, and the listening zone of 0.3 m thrown back onto a wall half way.
pub const BLEND: f64 = 0.1;

/// Share that flows to each of four neighbors in one step, at most.
const FLOW_MAX: f64 = 0.25;

/// Patches on every surface, numbered through.
#[derive(Clone, Debug, PartialEq)]
pub struct PatchGrid {
    /// One for each surface.
    pub surfaces: Vec<SurfaceGrid>,
    /// Patches in all.
    pub count: usize,
    /// Side of a patch, meters.
    pub side: f64,
}

/// The patches of one surface, row by row from its lowest corner.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceGrid {
    /// Number of its first patch.
    pub first: usize,
    /// Lowest corner of the first patch on the chart, meters.
    pub low: DVec2,
    /// Patches in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Area of each patch inside the surface's outline, m2.
    pub area: Vec<f64>,
}

impl PatchGrid {
    /// Patches of `side` meters on every surface.
    #[must_use]
    pub fn new(surfaces: &[Surface], side: f64) -> Self {
        let mut count = 0;
        let surfaces = surfaces
            .iter()
            .map(|surface| {
                let (low, high) = surface.outline.bounds();
                let size = ((high - low) / side - 1e-9).ceil().max(DVec2::ONE);
                let (columns, rows) = (size.x as usize, size.y as usize);
                let area = (0..rows * columns)
                    .map(|patch| {
                        patch_area(&surface.outline, low + side * DVec2::new((patch % columns) as f64, (patch / columns) as f64), side)
                    })
                    .collect();
                let grid = SurfaceGrid { first: count, low, columns, rows, area };
                count += columns * rows;
                grid
            })
            .collect();
        Self { surfaces, count, side }
    }

    /// Number of the patch at a position of a surface.
    #[must_use]
    #[inline]
    pub fn patch(&self, surface: usize, position: DVec2) -> usize {
        let grid = &self.surfaces[surface];
        grid.first + grid.slot(self.side, position)
    }

    /// Divides sums by patch by the patches' areas; NaN where a patch lies outside its surface.
    #[must_use]
    pub fn per_area(&self, sums: &[f64]) -> Vec<f64> {
        let areas = self.surfaces.iter().flat_map(|grid| &grid.area);
        sums.iter().zip(areas).map(|(&sum, &area)| if area > 1e-9 { sum / area } else { f64::NAN }).collect()
    }

    /// Adds up sums by patch of a finer grid of the same surfaces.
    #[must_use]
    pub fn gather(&self, fine: &Self, sums: &[f64]) -> Vec<f64> {
        let mut gathered = vec![0.0; self.count];
        for (surface, own) in fine.surfaces.iter().enumerate() {
            for slot in 0..own.columns * own.rows {
                gathered[self.patch(surface, own.middle(fine.side, slot))] += sums[own.first + slot];
            }
        }
        gathered
    }

    /// Lowest and highest corner of all patches of a surface whose blend a change within these bounds can touch.
    #[must_use]
    pub fn touched(&self, surface: usize, low: DVec2, high: DVec2) -> (DVec2, DVec2) {
        let origin = self.surfaces[surface].low;
        let reach = flow(self.side, BLEND).0 as f64;
        let (first, end) = (((low - origin) / self.side + 1e-9).floor() - reach, ((high - origin) / self.side - 1e-9).ceil() + reach);
        (origin + self.side * first, origin + self.side * end)
    }
}

impl SurfaceGrid {
    /// Patches on the surface's bounds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.area.len()
    }

    /// Never: every surface has a patch.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.area.is_empty()
    }

    /// Number on this surface of the patch at a position; positions beyond the bounds belong to the nearest patch.
    #[must_use]
    #[inline]
    pub fn slot(&self, side: f64, position: DVec2) -> usize {
        let place = ((position - self.low) / side).max(DVec2::ZERO);
        (place.y as usize).min(self.rows - 1) * self.columns + (place.x as usize).min(self.columns - 1)
    }

    /// Lowest corner of a patch on the chart, meters.
    #[must_use]
    pub fn corner(&self, side: f64, slot: usize) -> DVec2 {
        self.low + side * DVec2::new((slot % self.columns) as f64, (slot / self.columns) as f64)
    }

    /// Middle of a patch on the chart, meters.
    #[must_use]
    pub fn middle(&self, side: f64, slot: usize) -> DVec2 {
        self.corner(side, slot) + 0.5 * side
    }

    /// Spreads a density by diffusion until its standard deviation is `spread` meters each way; patches outside the surface keep what they
    /// have.
    pub fn blend(&self, side: f64, spread: f64, density: &mut Vec<f64>) {
        let (steps, share) = flow(side, spread);
        let mut next = density.clone();
        for _ in 0..steps {
            for row in 0..self.rows {
                for column in 0..self.columns {
                    let own = row * self.columns + column;
                    let area = self.area[own];
                    if area <= 1e-9 {
                        continue;
                    }
                    let mut gained = 0.0;
                    let mut flows = |other: usize| gained += self.area[other].min(area) * (density[other] - density[own]);
                    if column > 0 {
                        flows(own - 1);
                    }
                    if column + 1 < self.columns {
                        flows(own + 1);
                    }
                    if row > 0 {
                        flows(own - self.columns);
                    }
                    if row + 1 < self.rows {
                        flows(own + self.columns);
                    }
                    next[own] = density[own] + share * gained / area;
                }
            }
            std::mem::swap(density, &mut next);
        }
    }
}

/// Steps of a diffusion over patches of `side` meters that ends at this standard deviation, and the share that flows in each: a step adds
/// `2 share side^2` to the variance each way, and a bounce counts for its whole patch, which is `side^2 / 12` of it.
fn flow(side: f64, spread: f64) -> (usize, f64) {
    let whole = ((spread / side).powi(2) - 1.0 / 12.0).max(0.0) / 2.0;
    let steps = (whole / FLOW_MAX - 1e-9).ceil().max(0.0);
    (steps as usize, if steps > 0.0 { whole / steps } else { 0.0 })
}

/// Area of a square patch inside an outline, m2.
fn patch_area(outline: &Polygon, corner: DVec2, side: f64) -> f64 {
    let middle = corner + 0.5 * side;
    // Most patches are nowhere near the border.
    if outline.distance_to_boundary(middle) > side {
        return if outline.contains(middle) { side * side } else { 0.0 };
    }
    outline.overlap_area(&Polygon::rectangle(corner, corner + side))
}
