//! One state of a room while corners are compared: heard, scored, and told in figures; and what a panel across a corner would change of it.
//!
//! *References.* None of its own.
//!
//! *Limits.* As in `corners`.

use std::collections::BTreeSet;

use glam::{DVec2, DVec3};
use num_complex::Complex64;

use super::corners::{BassCornerChange, BassModeChange, BassThirdChange, CORNER_BANDS};
use super::modes::{modes, ringing};
use super::response::{responses, thirds};
use super::run::zone;
use super::{BassError, BassMode, Third};
use crate::progress::Progress;
use crate::scene::{Panel, PanelPlace, PanelType, Scene};
use crate::wave::adjoint::Sheet;
use crate::wave::walls::{Draw, fit};
use crate::wave::{Cells, Exchange, Hearing, Seen, Sounding, Tones};

/// Tones of a third octave.
pub(super) const TONES: usize = 8;
/// Part of the ring's decay constant by which what is late counts more.
const LATE: f64 = 0.25;
/// A mode of two states is the same if its frequencies differ by less than this, as a difference of logarithms.
const SAME_MODE: f64 = 0.03;

/// A room made ready.
pub(super) struct Trial {
    /// What hangs in it.
    pub(super) scene: Scene,
    seen: Seen,
    cells: Cells,
    sounding: Sounding,
    top: f64,
}

/// What was heard in it.
pub(super) struct Heard {
    zones: Vec<Vec<DVec3>>,
    hearings: Vec<Hearing>,
}

/// Figures of a state.
pub(super) struct Figures {
    thirds: Vec<Third>,
    modes: Vec<BassMode>,
}

/// Fields of all sources and of all receivers.
pub(super) struct Fields {
    sources: Vec<Tones>,
    receivers: Vec<Tones>,
}

impl Trial {
    /// In cells of `spacing` meters, up to `top` Hz.
    pub(super) fn new(scene: Scene, spacing: f64, top: f64) -> Self {
        let seen = Seen::new(&scene);
        let walls: Vec<_> = seen.room.finishes.iter().map(|finish| fit(finish, 1.2 * top, Draw::NOMINAL).wall).collect();
        let sounding = Sounding::new(&seen, &walls, spacing, top);
        let cells = Cells::new(&seen.room, sounding.grid);
        Self { scene, seen, cells, sounding, top }
    }

    /// What of air is exchanged where these panels hang besides.
    pub(super) fn exchanges(&self, kind: &PanelType, panels: &[Panel]) -> Vec<Exchange> {
        let stock = vec![kind.clone()];
        let of = |panel: &Panel| {
            let alone = Scene { panels: vec![panel.clone()], stock: stock.clone(), ..self.scene.clone() };
            let sheet = across(&self.scene, panel, kind);
            let medium = &self.seen.room.medium;
            let exchange = move |fiber: &_| Exchange::new(&self.cells, &self.sounding.stencil, medium, fiber, sheet);
            Seen::new(&alone).fibers.iter().map(exchange).collect::<Vec<_>>()
        };
        panels.iter().flat_map(of).collect()
    }

    /// Runs every source; heard at all receivers, all over the room, and in some cells beyond that.
    pub(super) fn hear(&self, progress: &Progress, more: &[usize]) -> Result<Heard, BassError> {
        let room = &self.seen.room;
        let zones: Vec<Vec<DVec3>> = (0..room.receivers.len()).map(|receiver| zone(room, receiver)).collect();
        let ears: Vec<DVec3> = zones.iter().flatten().copied().collect();
        let cells: Vec<usize> = self.sounding.lattice.cells.iter().chain(more).copied().collect();
        let hear = |source: &crate::room::Emitter| {
            self.sounding.hear_in(progress, source.position, &ears, &cells).map_err(|silent| BassError::of(&source.name, silent))
        };
        Ok(Heard { hearings: room.sources.iter().map(hear).collect::<Result<_, _>>()?, zones })
    }

    /// Fields at some cells, those that `heard` holds beyond the lattice's; a run more for each receiver.
    pub(super) fn fields(&self, progress: &Progress, heard: &Heard, cells: &[usize], tones: &[Complex64]) -> Result<Fields, BassError> {
        let first = self.sounding.lattice.cells.len();
        let sources: Vec<DVec3> = self.seen.room.sources.iter().map(|source| source.position).collect();
        let back = |receiver: &crate::room::Receiver| {
            let hearing = self.sounding.hear_in(progress, receiver.position, &sources, cells);
            hearing.map(|hearing| Tones::new(&hearing, (cells, 0), tones)).map_err(|silent| BassError::of(&receiver.name, silent))
        };
        Ok(Fields {
            sources: heard.hearings.iter().map(|hearing| Tones::new(hearing, (cells, first), tones)).collect(),
            receivers: self.seen.room.receivers.iter().map(back).collect::<Result<_, _>>()?,
        })
    }

    /// What is told of it: all loudspeakers together, or the only source, at the first receiver.
    pub(super) fn figures(&self, progress: &Progress, heard: &Heard) -> Result<Figures, BassError> {
        let frequencies: Vec<f64> = super::run::frequencies(self.top).collect();
        let room = &self.seen.room;
        let mut all = responses(room, &heard.zones, &heard.hearings, &frequencies, false);
        let of_first = all.len() / room.receivers.len();
        let thirds = all.swap_remove(of_first - 1).thirds;
        let lattice = self.sounding.lattice.cells.len();
        let shortened = |hearing: &Hearing| Hearing { places: hearing.places[..lattice].to_vec(), ..hearing.clone() };
        let hearings: Vec<Hearing> = heard.hearings.iter().map(shortened).collect();
        let modes = modes(room, &self.sounding, &ringing(progress, &self.scene, room, &hearings, self.top)?);
        Ok(Figures { thirds, modes })
    }

    /// The room as waves see it.
    pub(super) const fn seen(&self) -> &Seen {
        &self.seen
    }

    /// Edge of its cells, meters.
    pub(super) const fn spacing(&self) -> f64 {
        self.sounding.grid.spacing
    }
}

impl Heard {
    /// Tones that it is scored by, so that what rings late counts more, 1/s.
    pub(super) fn tones(&self, top: f64) -> Vec<Complex64> {
        let decay = |hearing: &Hearing| {
            let fallen = hearing.ears.iter().map(crate::wave::Record::fallen_db).fold(f64::INFINITY, f64::min);
            // Between the middles of the first and the last fifth.
            fallen / (20.0 * std::f64::consts::LOG10_E) / (0.8 * hearing.seconds)
        };
        let slowest = self.hearings.iter().map(decay).fold(f64::INFINITY, f64::min).max(0.0);
        let within = |(_, low, high): (f64, f64, f64)| {
            let part = (high / low).powf(1.0 / TONES as f64);
            (0..TONES).map(move |tone| low * part.powf(tone as f64 + 0.5))
        };
        let frequencies = thirds(top).filter(|(nominal, ..)| CORNER_BANDS.contains(nominal)).flat_map(within);
        frequencies.map(|frequency| Complex64::new(-LATE * slowest, std::f64::consts::TAU * frequency)).collect()
    }

    /// What the middle of each receiver's zone hears of each source, receiver by receiver.
    pub(super) fn transfers(&self, tones: &[Complex64]) -> Vec<Vec<Complex64>> {
        let mut first = 0;
        let mut all = Vec::new();
        for zone in &self.zones {
            all.extend(self.hearings.iter().map(|hearing| hearing.ears[first].transfers(&hearing.pulse, tones)));
            first += zone.len();
        }
        all
    }
}

impl Fields {
    /// Change of the ring's energy by these exchanges, to first order, dB.
    pub(super) fn predicted(&self, exchanges: &[Exchange], transfers: &[Vec<Complex64>], tones: &[Complex64]) -> f64 {
        let pairs = self.receivers.iter().flat_map(|receiver| self.sources.iter().map(move |source| (source, receiver)));
        let relative = |(pair, heard): ((&Tones, &Tones), &Vec<Complex64>)| {
            let moved = |(tone, (s, heard)): (usize, (&Complex64, &Complex64))| {
                let change: Complex64 = exchanges.iter().map(|exchange| exchange.change(pair, (tone, *s))).sum();
                2.0 * (heard.conj() * change).re
            };
            tones.iter().zip(heard).enumerate().map(moved).sum::<f64>() / energy(heard)
        };
        let mean = pairs.zip(transfers).map(relative).sum::<f64>() / transfers.len() as f64;
        10.0 * std::f64::consts::LOG10_E * mean
    }
}

/// Change of the ring's energy from one state to another, the mean over sources and receivers, dB.
pub(super) fn verified(before: &[Vec<Complex64>], after: &[Vec<Complex64>]) -> f64 {
    let mean = before.iter().zip(after).map(|(before, after)| energy(after) / energy(before)).sum::<f64>() / before.len() as f64;
    10.0 * mean.log10()
}

fn energy(heard: &[Complex64]) -> f64 {
    heard.iter().map(Complex64::norm_sqr).sum()
}

/// Cells that all of these exchanges are told by.
pub(super) fn cells_of<'a>(exchanges: impl Iterator<Item = &'a Exchange>) -> Vec<usize> {
    exchanges.flat_map(Exchange::cells).collect::<BTreeSet<_>>().into_iter().collect()
}

impl Figures {
    /// From another state to this one.
    pub(super) fn since(&self, before: &Self) -> BassCornerChange {
        let third = |(after, before): (&Third, &Third)| BassThirdChange {
            band_hz: after.band_hz,
            level_change_db: after.level_db - before.level_db,
            decay_s: before.decay_s,
            decay_change_s: after.decay_s.zip(before.decay_s).map(|(after, before)| after - before),
        };
        let mode = |before: &BassMode| {
            let off = |other: &BassMode| (other.frequency_hz / before.frequency_hz).ln().abs();
            let same = self.modes.iter().min_by(|a, b| off(a).total_cmp(&off(b))).filter(|near| off(near) < SAME_MODE);
            BassModeChange {
                frequency_hz: before.frequency_hz,
                frequency_change_hz: same.map(|same| same.frequency_hz - before.frequency_hz),
                decay_s: before.decay_s,
                decay_change_s: same.and_then(|same| same.decay_s.zip(before.decay_s)).map(|(after, before)| after - before),
            }
        };
        BassCornerChange {
            thirds: self.thirds.iter().zip(&before.thirds).map(third).collect(),
            modes: before.modes.iter().map(mode).collect(),
        }
    }
}

/// How flow meets a panel across a corner: behind the middle of its fiber lies a wedge.
fn across(scene: &Scene, panel: &Panel, kind: &PanelType) -> Sheet {
    let PanelPlace::Corner { corner, .. } = panel.place else {
        return Sheet { normal: DVec3::Z, thickness: kind.thickness, behind: 0.0 };
    };
    let outline = &scene.outline;
    let along = |other: usize| (outline[other % outline.len()] - outline[corner]).normalize_or(DVec2::X);
    let (next, previous) = (along(corner + 1), along(corner + outline.len() - 1));
    let half = 0.5 * next.angle_to(previous).abs();
    let deepest = 0.5 * kind.size.x / half.tan();
    let behind = (deepest - 0.5 * kind.thickness).max(0.0).powi(2) / (2.0 * deepest);
    Sheet { normal: (next + previous).normalize_or(DVec2::X).extend(0.0), thickness: kind.thickness.min(deepest), behind }
}
