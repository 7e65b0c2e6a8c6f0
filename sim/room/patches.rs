//! Surfaces cut into square patches: what maps are drawn on, and what is known of the finishes (`footing` says how a bounce meets them).

use std::sync::OnceLock;

use glam::DVec2;

use crate::geometry::Polygon;

use super::Surface;
use super::footing::Footings;

/// Patches on every surface, numbered through.
#[derive(Clone, Debug, PartialEq)]
pub struct PatchGrid {
    /// One for each surface.
    pub surfaces: Vec<SurfaceGrid>,
    /// Patches in all.
    pub count: usize,
    /// Side of a patch, meters.
    pub side: f64,
    footings: OnceLock<Footings>,
}

/// The patches of one surface, row by row from its lowest corner.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceGrid {
    /// Number of its first patch.
    pub first: usize,
    /// Lowest corner of the first patch on the chart, meters.
    pub low: DVec2,
    /// Highest corner of the surface on the chart, meters; the last patches may reach beyond it.
    pub high: DVec2,
    /// Patches in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Side of a patch, meters.
    pub side: f64,
    /// Patches in a meter.
    per_meter: f64,
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
                let grid = SurfaceGrid { first: count, low, high, columns, rows, side, per_meter: 1.0 / side, area };
                count += columns * rows;
                grid
            })
            .collect();
        Self { surfaces, count, side, footings: OnceLock::new() }
    }

    /// How the bounces of rays meet what lies on these patches.
    #[must_use]
    pub fn footings(&self) -> &Footings {
        self.footings.get_or_init(|| Footings::new(self))
    }

    /// Number of the patch at a position of a surface.
    #[must_use]
    #[inline]
    pub fn patch(&self, surface: usize, position: DVec2) -> usize {
        let grid = &self.surfaces[surface];
        grid.first + grid.slot(position)
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
                gathered[self.patch(surface, own.middle(slot))] += sums[own.first + slot];
            }
        }
        gathered
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
    pub fn slot(&self, position: DVec2) -> usize {
        let place = ((position - self.low) * self.per_meter).max(DVec2::ZERO);
        (place.y as usize).min(self.rows - 1) * self.columns + (place.x as usize).min(self.columns - 1)
    }

    /// Lowest corner of a patch on the chart, meters.
    #[must_use]
    pub fn corner(&self, slot: usize) -> DVec2 {
        self.low + self.side * DVec2::new((slot % self.columns) as f64, (slot / self.columns) as f64)
    }

    /// Middle of a patch on the chart, meters.
    #[must_use]
    pub fn middle(&self, slot: usize) -> DVec2 {
        self.corner(slot) + 0.5 * self.side
    }
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
