//! How even the low end is at many places of one room, sources and listeners wherever they are put: a run from a point tells what all others send to it.
//!
//! A field from `a` to `b` is that from `b` to `a`: sent is at the listener, and heard where the sources would stand.
//!
//! *References.* Reciprocity: Lord Rayleigh, *The Theory of Sound*, vol. 2, section 294 (from memory).
//!
//! *Limits.* As in `evenness`; the room itself is the same for all of them.

use glam::DVec3;
use rayon::prelude::*;

use super::effort::effort_of_runs;
use super::evenness::{BassEvenness, Way, octaves};
use super::run::check;
use super::{BassAsked, BassEffort, BassError};
use crate::progress::{Cancelled, Progress};
use crate::scene::Scene;
use crate::wave::sounding::LONGEST;
use crate::wave::walls::{Draw, fit};
use crate::wave::{Cost, Grid, Seen, Silent, Sounding, cost};

/// Cells in the shortest wave where many places are looked over: waves along an axis are slow by 1.5 % at the top frequency, a fifteenth of a third octave, and a run takes a ninetieth of the work.
const COARSE: f64 = 9.0;
/// Cells there at most, meters: half of what loudspeakers keep from walls. Up to 80 Hz cells of 0.48 m, as wide as that rule alone has them, had evenness off by up to 2.4 dB in a hard box of 5.5 x 3.4 x 2.4 m
/// where some third octave is all but lost, these by 0.3 dB, of 7 to 15 dB, against the sum of its modes.
const WIDEST: f64 = 0.16;

/// How large the cells are.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cells {
    /// As in a study.
    Fine,
    /// Larger, to look over many places.
    Coarse,
}

impl Cells {
    /// Their edge where sound goes `speed` m/s, for a top frequency in Hz, meters.
    fn spacing(self, top: f64, speed: f64) -> f64 {
        match self {
            Self::Fine => cost::spacing(top, speed),
            Self::Coarse => (speed / (COARSE * top)).min(WIDEST),
        }
    }
}

/// What runs from so many points in the fine cells and from so many in the coarse ones would take.
///
/// # Errors
/// [`BassError`]: nobody sounds or hears in the scene, or it takes too much.
pub fn effort_over_places(scene: &Scene, asked: &BassAsked, [fine, coarse]: [usize; 2]) -> Result<BassEffort, BassError> {
    let room = Seen::new(scene).room;
    let [edge, larger] = [Cells::Fine, Cells::Coarse].map(|cells| cells.spacing(asked.top_hz, room.medium.speed));
    Ok(effort_of_runs(&room, asked, fine)?.and_larger(coarse, larger / edge))
}

/// A room made ready.
pub struct BassPlaces {
    sounding: Sounding,
    octaves: Vec<(f64, f64, f64)>,
}

impl BassPlaces {
    /// A scene with all that stands and hangs in it; sources and listeners are put later.
    ///
    /// # Errors
    /// [`BassError`]: nobody sounds or hears in the scene, or it takes too much.
    pub fn new(scene: &Scene, asked: &BassAsked, cells: Cells) -> Result<Self, BassError> {
        let seen = Seen::new(scene);
        let (room, top) = (&seen.room, asked.top_hz);
        check(room, asked)?;
        let spacing = cells.spacing(top, room.medium.speed);
        Cost::new(&Grid::over(room, spacing), room.volume, room.medium.speed, LONGEST, 0).within(asked.memory)?;
        let walls: Vec<_> = room.finishes.iter().map(|finish| fit(finish, 1.2 * top, Draw::NOMINAL).wall).collect();
        Ok(Self { sounding: Sounding::new(&seen, &walls, spacing, top), octaves: octaves(top) })
    }

    /// Edge of its cells, meters.
    #[must_use]
    pub const fn cell_m(&self) -> f64 {
        self.sounding.grid.spacing
    }

    /// Nominal middles of the lowest and the highest third octave that count, Hz.
    #[must_use]
    pub fn octaves_hz(&self) -> [f64; 2] {
        [self.octaves[0].0, self.octaves[self.octaves.len() - 1].0]
    }

    /// How even the low end is at a point from each group of sources that sound together: one run. A single source and a listener may change places. `None` where a point lies in no air.
    ///
    /// # Errors
    /// [`Cancelled`].
    pub fn at(&self, progress: &Progress, point: DVec3, groups: &[Vec<DVec3>]) -> Result<Option<Vec<BassEvenness>>, Cancelled> {
        let sources: Vec<DVec3> = groups.iter().flatten().copied().collect();
        let hearing = match self.sounding.hear_in(progress, point, &sources, &[]) {
            Ok(hearing) => hearing,
            Err(Silent::NoAir(_)) => return Ok(None),
            Err(Silent::Stopped(stopped)) => return Err(stopped),
        };
        let way = |(source, record): (&DVec3, &crate::wave::Record)| Way {
            record: record.clone(),
            pulse: &hearing.pulse,
            distance: source.distance(point).max(self.cell_m()),
        };
        let mut rest = sources.iter().zip(&hearing.ears);
        let ways: Vec<Vec<Way<'_>>> = groups.iter().map(|group| rest.by_ref().take(group.len()).map(way).collect()).collect();
        progress.step(0)?;
        Ok(Some(ways.par_iter().map(|ways| BassEvenness::of(ways, &self.octaves)).collect()))
    }
}
