//! A room made ready for waves, and what is heard in it of one source: at chosen points, and all over the room.
//!
//! A run goes on until what rings has fallen by [`FALLEN_DB`] at all points, or for [`LONGEST`] seconds: a hard room that rings longer is cut off with a fade (`record`), and how far it had
//! come is told.
//!
//! *References.* None of its own.
//!
//! *Limits.* Sources send alike in all directions, as loudspeakers do whose boxes are small against the wavelength.

use glam::DVec3;
use thiserror::Error;

use super::admittance::Admittance;
use super::cells::Cells;
use super::fiber::Fill;
use super::grid::Grid;
use super::lattice::{self, Lattice};
use super::layout::Layout;
use super::pulse::Pulse;
use super::record::Record;
use super::seen::Seen;
use super::source::{listener, source};
use super::spread::NoAir;
use super::stencil::Stencil;
use super::step::{Driving, Field, Listening, Port};
use crate::progress::{Cancelled, Progress};

/// Seconds of the first part of a run, and of each further one.
const PART: f64 = 0.5;
/// What rings has fallen far enough, dB.
pub const FALLEN_DB: f64 = 50.0;
/// Longest run, seconds.
pub const LONGEST: f64 = 3.0;
/// By what places are thinned out.
const THINNED: usize = 4;
/// Places of the lattice lie this part of the shortest wave apart.
const OF_A_WAVE: f64 = 5.5;

/// A room made ready.
#[derive(Clone, Debug)]
pub struct Sounding {
    /// Its cells.
    pub grid: Grid,
    /// What a step does to them.
    pub stencil: Stencil,
    /// Places all over it.
    pub lattice: Lattice,
    layout: Layout<f32>,
    top: f64,
    threads: usize,
}

/// What is heard of one source.
#[derive(Clone, Debug)]
pub struct Hearing {
    /// What it sent.
    pub pulse: Pulse,
    /// What each point heard.
    pub ears: Vec<Record>,
    /// What each place of the lattice, or each cell that was asked for, heard.
    pub places: Vec<Vec<f32>>,
    /// The first moment after the pulse.
    pub after: usize,
    /// Seconds that it went on.
    pub seconds: f64,
}

/// Why nothing is heard.
#[derive(Clone, Copy, Debug, Error, PartialEq)]
pub enum Silent {
    /// A point lies in something solid.
    #[error(transparent)]
    NoAir(#[from] NoAir),
    /// Stopped.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

impl Sounding {
    /// A room in cells of `spacing` meters, with a wall for each of its finishes, to be heard up to `top` Hz.
    #[must_use]
    pub fn new(seen: &Seen, walls: &[Admittance], spacing: f64, top: f64) -> Self {
        let cells = Cells::new(&seen.room, Grid::over(&seen.room, spacing));
        let medium = &seen.room.medium;
        let stencil = Stencil::new(&cells, medium.speed, walls);
        let fill = Fill::new(&cells, &stencil, &seen.fibers);
        let stencil = stencil.filled(&fill, cells.grid.strides(), medium.density);
        let lattice = Lattice::new(&cells.grid, &stencil, medium.speed / top / OF_A_WAVE);
        Self { layout: Layout::new(&cells.grid, &stencil), grid: cells.grid, stencil, lattice, top, threads: rayon::current_num_threads() }
    }

    /// The same where so many runs go on at a time: each has its part of the threads.
    #[must_use]
    pub fn beside(self, runs: usize) -> Self {
        Self { threads: (rayon::current_num_threads() / runs.max(1)).max(1), ..self }
    }

    /// The same with places four times as far apart: enough to find modes by, not for what lies between.
    #[must_use]
    pub fn thinned(self) -> Self {
        let apart = (THINNED * self.lattice.every) as f64 * self.grid.spacing;
        Self { lattice: Lattice::new(&self.grid, &self.stencil, apart), ..self }
    }

    /// Steps of the longest run.
    #[must_use]
    pub fn most_steps(&self) -> u64 {
        (LONGEST / self.stencil.step).ceil() as u64
    }

    /// What points hear of a source, and places all over the room.
    ///
    /// # Errors
    /// [`Silent`].
    pub fn hear(&self, progress: &Progress, from: DVec3, ears: &[DVec3]) -> Result<Hearing, Silent> {
        self.hear_in(progress, from, ears, &self.lattice.cells)
    }

    /// What points hear of a source, and these cells in place of the lattice's.
    ///
    /// # Errors
    /// [`Silent`].
    pub fn hear_in(&self, progress: &Progress, from: DVec3, ears: &[DVec3], cells: &[usize]) -> Result<Hearing, Silent> {
        let pulse = Pulse::new(self.top, self.stencil.step);
        let every = pulse.every();
        let mut ports: Vec<Port<f32>> = Vec::new();
        for (signal, ear) in ears.iter().enumerate() {
            ports.extend(listener(&self.grid, &self.layout, &self.stencil, *ear, signal)?);
        }
        ports.extend(lattice::ports(cells, &self.grid, &self.layout).map(|port| Port { signal: port.signal + ears.len(), ..port }));
        let sends: Vec<Port<f32>> = source(&self.grid, &self.layout, &self.stencil, from, 0)?;
        let mut field = Field::new(self.layout.clone());
        let mut signals = [pulse.signal::<f32>()];
        let mut heard: Vec<Vec<f32>> = vec![Vec::new(); ears.len() + cells.len()];
        // Whole moments a part, so that moments stay evenly apart.
        let part = ((PART / self.stencil.step) as usize).next_multiple_of(every).max(pulse.values.len().next_multiple_of(every));
        let mut steps = 0;
        let records = loop {
            let (driving, listening) = (Driving { ports: &sends, signals: &signals }, Listening { ports: &ports, every });
            let more = field.run(progress, self.threads, driving, listening, part)?;
            heard.iter_mut().zip(more).for_each(|(heard, more)| heard.extend(more));
            signals = [Vec::new()];
            steps += part;
            let records: Vec<Record> = heard[..ears.len()].iter().map(|heard| Record::new(&pulse, every, heard)).collect();
            let has_fallen = records.iter().all(|record| record.fallen_db() >= FALLEN_DB);
            if has_fallen || (steps + part) as f64 * self.stencil.step > LONGEST {
                break records;
            }
        };
        let after = pulse.values.len().div_ceil(every);
        let places = heard.split_off(ears.len());
        Ok(Hearing { pulse, ears: records, places, after, seconds: steps as f64 * self.stencil.step })
    }
}
