//! A regular grid of cubic cells over a room.
//!
//! *Limits.* Cells are cubes along the room's axes; nothing here knows what is air.

use glam::DVec3;

use crate::room::Room;

/// Cells of solid round the room, so that every cell that holds air has six neighbors.
const MARGIN: usize = 1;
/// Cells along each axis at least, margins apart: steps take a few at a time.
const FEWEST: f64 = 2.0;

/// Cubes of one size in rows along x, rows in layers along y and z.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Grid {
    /// Edge of a cell, meters.
    pub spacing: f64,
    /// Lowest corner of the first cell, meters.
    pub origin: DVec3,
    /// How many along x, y and z.
    pub counts: [usize; 3],
}

impl Grid {
    /// The grid with cells of `spacing` meters whose cell borders lie on the room's lowest corner.
    #[must_use]
    pub fn over(room: &Room, spacing: f64) -> Self {
        let corners = room.surfaces.iter().flat_map(|surface| surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)));
        let (low, high) = corners.fold((DVec3::INFINITY, DVec3::NEG_INFINITY), |(low, high), at| (low.min(at), high.max(at)));
        // What ends on a border within rounding gets no further cell.
        let counts = ((high - low) / spacing - 1e-9).ceil().max(DVec3::splat(FEWEST)).to_array().map(|count| count as usize + 2 * MARGIN);
        Self { spacing, origin: low - MARGIN as f64 * spacing, counts }
    }

    /// How many cells.
    #[must_use]
    pub fn len(&self) -> usize {
        self.counts.iter().product()
    }

    /// Whether there are none.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// From a cell to the next one along x, y and z.
    #[must_use]
    pub fn strides(&self) -> [usize; 3] {
        [1, self.counts[0], self.counts[0] * self.counts[1]]
    }

    /// Index of a cell.
    #[must_use]
    pub fn index(&self, [x, y, z]: [usize; 3]) -> usize {
        (z * self.counts[1] + y) * self.counts[0] + x
    }

    /// Where a cell is along x, y and z.
    #[must_use]
    pub fn place(&self, index: usize) -> [usize; 3] {
        let [x, y, _] = self.counts;
        [index % x, index / x % y, index / (x * y)]
    }

    /// Middle of a cell, meters.
    #[must_use]
    pub fn middle(&self, index: usize) -> DVec3 {
        self.origin + self.spacing * (DVec3::from_array(self.place(index).map(|at| at as f64)) + 0.5)
    }

    /// The cell that holds a point; `None` beyond the grid.
    #[must_use]
    pub fn cell_at(&self, point: DVec3) -> Option<usize> {
        let at = ((point - self.origin) / self.spacing).floor();
        let is_within = (0..3).all(|axis| at[axis] >= 0.0 && at[axis] < self.counts[axis] as f64);
        is_within.then(|| self.index(at.to_array().map(|at| at as usize)))
    }
}
