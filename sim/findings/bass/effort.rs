//! What a study of the low end would take, told before it is made; and what else waves are run for.
//!
//! ```text
//! time = (runs + runs in larger cells x (edge / their edge)^4) x (work of one run at its longest) / (cells of air stepped a second)
//! ```
//!
//! *References.* None of its own; what a run takes is that of `wave::cost`.
//!
//! *Limits.* The work is counted, and is the most that there is: a room that rings out before the longest run ends takes less. How fast it is done is not known but estimated, from one machine shared with others;
//! others may be twice as fast or half.

use super::run::{LARGER, check, predicted};
use super::{BassAsked, BassError};
use crate::room::Room;
use crate::scene::Scene;
use crate::wave::sounding::LONGEST;
use crate::wave::{Cost, Grid, Seen, cost};

/// Cells of air that a thread steps a second, the rest of the work included, measured on one shared machine: an estimate for others.
const STEPPED: f64 = 4e8;

/// What it would take.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BassEffort {
    /// Edge of a cell, meters.
    pub cell_m: f64,
    /// Cells of the grid.
    pub cells: u64,
    /// Sources, each run in as many states of the room as are told.
    pub runs: usize,
    /// Runs beside them in larger cells.
    pub larger_runs: usize,
    /// Memory, 1 MB = 1e6 bytes.
    pub memory_mb: f64,
    /// Cells of air times steps, of all runs at their longest.
    pub updates: f64,
    /// The same of one run in cells of that edge.
    pub one_run: f64,
}

impl BassEffort {
    /// Seconds that it takes on so many threads if all rooms ring to the end of the longest run: an estimate, within a factor of two.
    #[must_use]
    pub fn seconds(&self, threads: usize) -> f64 {
        self.updates / (STEPPED * threads.max(1) as f64)
    }

    /// With so many runs more.
    #[must_use]
    pub fn and_runs(self, runs: usize) -> Self {
        Self { runs: self.runs + runs, updates: self.updates + self.one_run * runs as f64, ..self }
    }

    /// With so many runs more in cells `larger` times as large.
    #[must_use]
    pub fn and_larger(self, runs: usize, larger: f64) -> Self {
        Self { larger_runs: self.larger_runs + runs, updates: self.updates + self.one_run * runs as f64 / larger.powi(4), ..self }
    }
}

/// What a study of a scene would take.
///
/// # Errors
/// [`BassError`] as the study itself, as far as nothing needs to be run for it.
pub fn effort(scene: &Scene, asked: &BassAsked) -> Result<BassEffort, BassError> {
    let states = if asked.beside_bare && !scene.panels.is_empty() { 2 } else { 1 };
    effort_of_states(scene, asked, states)
}

/// What so many states of a scene's room would take, each told as in a study.
///
/// # Errors
/// As [`effort`].
pub fn effort_of_states(scene: &Scene, asked: &BassAsked, states: usize) -> Result<BassEffort, BassError> {
    let seen = Seen::new(scene);
    check(&seen.room, asked)?;
    let predicted = predicted(&seen, asked.top_hz, cost::spacing(asked.top_hz, seen.room.medium.speed)).within(asked.memory)?;
    let runs = seen.room.sources.len() * states;
    let larger = if asked.others > 0 { runs * (asked.others + 1) } else { 0 };
    Ok(by_runs(predicted, runs).and_larger(larger, LARGER))
}

/// What runs of a room take whose field nobody looks at.
///
/// # Errors
/// As [`effort`].
pub(super) fn effort_of_runs(room: &Room, asked: &BassAsked, runs: usize) -> Result<BassEffort, BassError> {
    check(room, asked)?;
    let grid = Grid::over(room, cost::spacing(asked.top_hz, room.medium.speed));
    Ok(by_runs(Cost::new(&grid, room.volume, room.medium.speed, LONGEST, 0).within(asked.memory)?, runs))
}

fn by_runs(one: Cost, runs: usize) -> BassEffort {
    BassEffort {
        cell_m: one.spacing,
        cells: one.cells,
        runs,
        larger_runs: 0,
        memory_mb: one.bytes as f64 / 1e6,
        updates: one.updates * runs as f64,
        one_run: one.updates,
    }
}
