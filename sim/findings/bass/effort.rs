//! What a study of the low end would take, told before it is made.
//!
//! ```text
//! time = runs x (work of one run at its longest) x (1 + rooms in cells twice as large / 16) / (cells of air stepped a second)
//! ```
//!
//! *References.* None of its own; what a run takes is that of `wave::cost`.
//!
//! *Limits.* The work is counted, and is the most that there is: a room that rings out before the longest run ends takes less. How fast it is done is not known but estimated, from one machine shared with others;
//! others may be twice as fast or half.

use super::larger::LARGER;
use super::run::{check, predicted};
use super::{BassAsked, BassError};
use crate::scene::Scene;
use crate::wave::{Seen, cost};

/// Cells of air that a thread steps a second, measured on one shared machine: an estimate for others.
const STEPPED: f64 = 2.5e8;

/// What it would take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BassEffort {
    /// Edge of a cell, meters.
    pub cell_m: f64,
    /// Cells of the grid.
    pub cells: u64,
    /// Sources, each run in as many states of the room as are told.
    pub runs: usize,
    /// Runs beside them in cells twice as large.
    pub larger_runs: usize,
    /// Memory, 1 MB = 1e6 bytes.
    pub memory_mb: f64,
    /// Cells of air times steps, of all runs at their longest.
    pub updates: f64,
}

impl BassEffort {
    /// Seconds that it takes on so many threads if all rooms ring to the end of the longest run: an estimate, within a factor of two.
    #[must_use]
    pub fn seconds(&self, threads: usize) -> f64 {
        self.updates / (STEPPED * threads.max(1) as f64)
    }
}

/// What a study of a scene would take.
///
/// # Errors
/// [`BassError`] as the study itself, as far as nothing needs to be run for it.
pub fn effort(scene: &Scene, asked: &BassAsked) -> Result<BassEffort, BassError> {
    let seen = Seen::new(scene);
    check(&seen.room, asked)?;
    let predicted = predicted(&seen, asked.top_hz, cost::spacing(asked.top_hz, seen.room.medium.speed)).within(asked.memory)?;
    let runs = seen.room.sources.len() * if asked.beside_bare && !scene.panels.is_empty() { 2 } else { 1 };
    let larger = if asked.others > 0 { asked.others + 1 } else { 0 };
    Ok(BassEffort {
        cell_m: predicted.spacing,
        cells: predicted.cells,
        runs,
        larger_runs: runs * larger,
        memory_mb: predicted.bytes as f64 / 1e6,
        updates: predicted.updates * runs as f64 * (1.0 + larger as f64 / LARGER.powi(4)),
    })
}
