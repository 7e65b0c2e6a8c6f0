//! What a run takes, before anything of it is made: cells, steps, memory, work.
//!
//! ```text
//! cells = grid over the room;  steps = c seconds / (l h);  work = volume / h^3 x steps;  h = c / (21 top frequency), 0.15 m at most
//! ```
//!
//! Twice the top frequency takes 8 times the memory and 16 times the work.
//!
//! *Limits.* Memory is that of cells, stencil and field in `f32` while all three are held, of cut cells as of whole ones, and of what is kept of the field; the room itself and the program come on top.

use thiserror::Error;

use super::grid::Grid;
use super::stencil::COURANT;

/// Cells in the shortest wavelength by default: waves along an axis are then told too low by 0.15 % at the top frequency (`dispersion`).
pub const CELLS_IN_WAVE: f64 = 21.0;
/// Bytes of a cell: air and three faces in `cells`, the same in `stencil`, all in `f64`, and a pressure at two steps in `f32`.
const CELL_BYTES: u64 = 2 * 4 * 8 + 2 * 4;

/// Cost of a run.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cost {
    /// Edge of a cell, meters.
    pub spacing: f64,
    /// Cells of the grid, air or not.
    pub cells: u64,
    /// Steps.
    pub steps: u64,
    /// Memory, bytes.
    pub bytes: u64,
    /// Cells in air times steps.
    pub updates: f64,
}

/// A run needs more memory than it is given.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
#[error(
    "{} cells of {:.1} mm and {} steps take {:.2} GB of memory, and {:.2} GB are allowed: take cells of {:.1} mm or larger, a top frequency {:.2} times as high, or keep less of the field",
    .cost.cells, 1e3 * .cost.spacing, .cost.steps, .cost.bytes as f64 / 1e9, *.limit as f64 / 1e9, 1e3 * .spacing, .cost.spacing / .spacing
)]
pub struct TooDear {
    /// What it would cost.
    pub cost: Cost,
    /// Bytes that are allowed.
    pub limit: u64,
    /// Cells of this size would take no more if all memory goes by their number, meters.
    pub spacing: f64,
}

/// The largest cells that are taken by default, meters: rooms and what stands in them are to be seen, however low the frequency.
pub const LARGEST: f64 = 0.15;

/// Edge of the cells for a top frequency in Hz where sound goes `speed` m/s, meters.
#[must_use]
pub fn spacing(top: f64, speed: f64) -> f64 {
    (speed / (CELLS_IN_WAVE * top)).min(LARGEST)
}

impl Cost {
    /// Of so many seconds on a grid in a room with `volume` m3 of air where sound goes `speed` m/s, and `kept` bytes of the field are kept.
    #[must_use]
    pub fn new(grid: &Grid, volume: f64, speed: f64, seconds: f64, kept: u64) -> Self {
        let cells = grid.len() as u64;
        let steps = (speed * seconds / (COURANT * grid.spacing)).ceil();
        let updates = volume / grid.spacing.powi(3) * steps;
        Self { spacing: grid.spacing, cells, steps: steps as u64, bytes: cells * CELL_BYTES + kept, updates }
    }

    /// The cost again, if it needs no more than `limit` bytes.
    ///
    /// # Errors
    /// [`TooDear`] if it does.
    pub fn within(self, limit: u64) -> Result<Self, TooDear> {
        let spacing = self.spacing * (self.bytes as f64 / limit as f64).cbrt();
        if self.bytes > limit { Err(TooDear { cost: self, limit, spacing }) } else { Ok(self) }
    }
}
