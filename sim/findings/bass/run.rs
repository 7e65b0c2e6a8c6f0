//! From a scene to all that a run of the waves tells: which rooms are run, in which cells, and what is read from what was heard in them.
//!
//! The room as it stands is run in the cells that the top frequency asks for, the same without its panels beside it; rooms with other walls in cells twice as large (`spans`).
//!
//! *References.* None of its own.
//!
//! *Limits.* Sources are run at the same time, and so are rooms with other walls: what they hold adds up over as many as there are threads.

use std::f64::consts::TAU;

use glam::DVec3;
use rayon::prelude::*;

use super::fields::fields;
use super::floor::floor;
use super::modes::{modes, ringing};
use super::response::responses;
use super::small::too_small;
use super::spans::with_spans;
use super::{APART, BassAsked, BassCost, BassError, BassFields, BassRoom, BassRun, BassStudy, BoxMode, BoxSpread, LOWEST, TOPS};
use crate::findings::survey::{bare_room, schroeder};
use crate::modes::shoebox;
use crate::progress::Progress;
use crate::response::low::{Beside, Listened, ON_AXIS, Octaves, Pressure, octaves, pressures};
use crate::response::{Crossover, LowEnd};
use crate::room::{Emitter, Room};
use crate::scene::Scene;
use crate::wave::dispersion;
use crate::wave::leak::closed;
use crate::wave::sounding::LONGEST;
use crate::wave::stencil::COURANT;
use crate::wave::walls::{Ensemble, fit};
use crate::wave::{Cost, Hearing, Seen, Sounding, cost};

/// By how much cells of rooms with other walls are larger: they are fewer by its third power, and so are steps by itself.
pub(super) const LARGER: f64 = 2.0;

/// Whether somebody sounds and hears in a room that closes, up to a frequency that can be.
pub(super) fn check(room: &Room, asked: &BassAsked) -> Result<(), BassError> {
    if !(TOPS[0]..=TOPS[1]).contains(&asked.top_hz) {
        return Err(BassError::Top(asked.top_hz));
    }
    if room.sources.is_empty() {
        return Err(BassError::Nobody("source"));
    }
    if room.receivers.is_empty() {
        return Err(BassError::Nobody("seat or microphone"));
    }
    Ok(closed(room)?)
}

/// Frequencies of the curves up to `top` Hz.
pub(super) fn frequencies(top: f64) -> impl Iterator<Item = f64> {
    (0..=((top - LOWEST) / APART) as usize).map(|index| LOWEST + APART * index as f64)
}

/// The study of a scene as it stands, its panels in it.
///
/// # Errors
/// [`BassError`].
pub fn bass(progress: &Progress, scene: &Scene, asked: &BassAsked) -> Result<BassRun, BassError> {
    let seen = Seen::new(scene);
    let room = &seen.room;
    check(room, asked)?;
    let spacing = cost::spacing(asked.top_hz, room.medium.speed);
    let predicted = predicted(&seen, asked.top_hz, spacing).within(asked.memory)?;
    let bare = (asked.beside_bare && !scene.panels.is_empty()).then(|| Scene { panels: Vec::new(), ..scene.clone() });
    let runs = room.sources.len() * (1 + usize::from(bare.is_some()));
    let step_s = COURANT * spacing / room.medium.speed;
    // Runs in larger cells take half the steps.
    let coarse = if asked.others > 0 { asked.others + 1 } else { 0 };
    progress.begin("waves", (LONGEST / step_s) as u64 * (2 * runs + runs * coarse) as u64 / 2);
    let ways = Ways {
        progress,
        top: asked.top_hz,
        frequencies: frequencies(asked.top_hz).collect(),
        ensemble: Ensemble { seed: scene.settings.seed, others: asked.others },
        crossover: Crossover::new(schroeder(&bare_room(scene)), asked.top_hz),
    };
    let (stands, fields, low) = ways.state(scene, &seen, spacing)?;
    let bare = bare.map(|bare| ways.state(&bare, &Seen::new(&bare), spacing)).transpose()?;
    let (bare, bare_low) = bare.map_or((None, None), |(room, _, low)| (Some(room), Some(low)));
    let rooms = || std::iter::once(&stands).chain(&bare);
    let study = BassStudy {
        top_hz: asked.top_hz,
        crossover_hz: ways.crossover.frequency,
        cost: BassCost {
            cell_m: spacing,
            cells: predicted.cells,
            step_s,
            runs,
            others: asked.others,
            memory_mb: predicted.bytes as f64 / 1e6,
            slow_percent: 100.0 * dispersion::left(TAU * asked.top_hz / room.medium.speed * spacing),
        },
        frequencies_hz: ways.frequencies.clone(),
        receivers: room.receivers.iter().map(|receiver| receiver.name.clone()).collect(),
        box_modes: box_size(scene).map(|size| {
            let modes = shoebox(size, room.medium.speed, rooms().map(|room| room.modes_to_hz).fold(0.0, f64::max));
            modes.iter().map(|mode| BoxMode { half_waves: mode.indices, frequency_hz: mode.frequency }).collect()
        }),
        box_spread: box_size(scene).map(|size| BoxSpread::new(size, room.medium.speed)),
        corners: None,
        left_out: seen.left_out.clone(),
        notes: notes(&seen, spacing, rooms()).into_iter().chain(too_small(scene, asked)).collect(),
        stands,
        bare,
    };
    Ok(BassRun { study, fields, low, bare_low })
}

/// How every room of a study is heard.
struct Ways<'a> {
    progress: &'a Progress,
    /// Highest frequency, Hz.
    top: f64,
    frequencies: Vec<f64>,
    ensemble: Ensemble,
    crossover: Crossover,
}

/// One room of a study.
struct Told {
    room: BassRoom,
    fields: BassFields,
    octaves: Vec<Vec<Octaves>>,
    pressures: Vec<Vec<Pressure>>,
}

impl Ways<'_> {
    /// A state of the room, and where its figures may lie.
    fn state(&self, scene: &Scene, seen: &Seen, spacing: f64) -> Result<(BassRoom, BassFields, LowEnd), BassError> {
        let nominal = self.hear(scene, seen, spacing, 0)?;
        let low = LowEnd { crossover: self.crossover, nominal: nominal.octaves, pressures: nominal.pressures, beside: None };
        if self.ensemble.others == 0 {
            return Ok((nominal.room, nominal.fields, low));
        }
        let members = (0..=self.ensemble.others).into_par_iter();
        let members = members.map(|member| self.hear(scene, seen, LARGER * spacing, member).map(|told| (told.room, told.octaves)));
        let members: Vec<_> = members.collect();
        let (mut rooms, mut walls): (Vec<BassRoom>, Vec<_>) = members.into_iter().collect::<Result<Vec<_>, _>>()?.into_iter().unzip();
        let (coarse, beside) = (rooms.remove(0), walls.remove(0));
        let beside = Beside { nominal: beside, others: walls };
        Ok((with_spans(nominal.room, &coarse, &rooms), nominal.fields, LowEnd { beside: Some(beside), ..low }))
    }

    /// Edge of the cells that the top frequency asks for, meters.
    fn fine(&self, room: &Room) -> f64 {
        cost::spacing(self.top, room.medium.speed)
    }

    /// What one state of the room does with the walls of a member, in cells of `spacing` meters.
    fn hear(&self, scene: &Scene, seen: &Seen, spacing: f64, member: usize) -> Result<Told, BassError> {
        let Self { progress, top, frequencies, ensemble, crossover } = self;
        let (room, top) = (&seen.room, *top);
        let walls: Vec<_> = room.finishes.iter().map(|finish| fit(finish, 1.2 * top, ensemble.draw(member, &finish.name)).wall).collect();
        let is_told = spacing <= self.fine(room);
        let members = if is_told { 1 } else { ensemble.others + 1 };
        let sounding = Sounding::new(seen, &walls, spacing, top).beside(members * room.sources.len());
        let sounding = if is_told { sounding } else { sounding.thinned() };
        let (zones, listened, ears) = ears(room);
        let hear = |source: &Emitter| sounding.hear(progress, source.position, &ears).map_err(|silent| BassError::of(&source.name, silent));
        let heard: Vec<_> = room.sources.par_iter().map(hear).collect();
        let heard: Vec<Hearing> = heard.into_iter().collect::<Result<_, _>>()?;
        let ringing = ringing(&progress.part(), scene, room, &heard, top)?;
        let told = BassRoom {
            responses: responses(room, &zones, &heard, frequencies, is_told),
            modes_to_hz: ringing.told_apart_to,
            modes: modes(room, &sounding, &ringing),
            floor: is_told.then(|| floor(scene, room, &sounding, &heard, top)),
            longest_s: heard.iter().map(|heard| heard.seconds).fold(0.0, f64::max),
        };
        let octaves = octaves(room, &listened, &heard, *crossover, scene.settings.bin_s);
        let pressures = pressures(room, &listened, &heard);
        Ok(Told { room: told, fields: fields(room, &sounding, heard, &ringing, top), octaves, pressures })
    }
}

/// Points of every receiver's zone, its middle first; then two on the axis of each that prefers a direction. Zones, which ears are whose, all ears.
pub(super) fn ears(room: &Room) -> (Vec<Vec<DVec3>>, Vec<Listened>, Vec<DVec3>) {
    let zones: Vec<Vec<DVec3>> = (0..room.receivers.len()).map(|receiver| zone(room, receiver)).collect();
    let mut ears: Vec<DVec3> = zones.iter().flatten().copied().collect();
    let mut first = 0;
    let mut listened = Vec::new();
    for (receiver, zone) in room.receivers.iter().zip(&zones) {
        let axis = (receiver.pattern.omni < 1.0).then_some(ears.len());
        if axis.is_some() {
            ears.extend([ON_AXIS, -ON_AXIS].map(|off| receiver.position + off * receiver.facing));
        }
        listened.push(Listened { zone: first..first + zone.len(), axis });
        first += zone.len();
    }
    (zones, listened, ears)
}

/// Points of a receiver's zone, its middle first.
pub(super) fn zone(room: &Room, receiver: usize) -> Vec<DVec3> {
    let receiver = &room.receivers[receiver];
    let round =
        receiver.zone_radius.into_iter().flat_map(|radius| DVec3::AXES.into_iter().flat_map(move |axis| [axis * radius, -axis * radius]));
    std::iter::once(receiver.position).chain(round.map(|off| receiver.position + off).filter(|point| room.contains(*point))).collect()
}

/// What the runs of a room would cost at most.
pub(super) fn predicted(seen: &Seen, top: f64, spacing: f64) -> Cost {
    let grid = crate::wave::Grid::over(&seen.room, spacing);
    let places = crate::wave::lattice::places(seen.room.volume, seen.room.medium.speed / top / 5.5);
    // Twice while a run hands them over, and those of the first run, which are kept.
    let kept = crate::wave::lattice::bytes(places, (LONGEST * 4.5 * top) as usize) * 3 * seen.room.sources.len() as u64;
    Cost::new(&grid, seen.room.volume, seen.room.medium.speed, LONGEST, kept)
}

/// Sides of a room that is a box.
fn box_size(scene: &Scene) -> Option<DVec3> {
    let [a, b, c, d] = scene.outline[..] else { return None };
    let [ceiling] = &scene.ceiling[..] else { return None };
    let (along, across) = (b - a, d - a);
    let is_square = along.dot(across).abs() < 1e-9 * along.length() * across.length() && (c - b).distance(across) < 1e-9 * across.length();
    (is_square && ceiling.slope.length() == 0.0).then(|| DVec3::new(along.length(), across.length(), ceiling.height))
}

fn notes<'a>(seen: &Seen, spacing: f64, rooms: impl Iterator<Item = &'a BassRoom>) -> Vec<String> {
    let mut notes = vec![
        "Levels are re the same source as far away in the free field: 0 dB is what it would do out of doors.".to_owned(),
        "Tables of absorption tell no phase and end at 63 Hz or 125 Hz: below, walls are taken as there. Boards, panes and doors of the table move by their mass and the air behind them, usual ones where their row names none; materials of your own do not.".to_owned(),
        "Sources send alike in all directions. Air itself takes nothing here: 1.3 dB in a kilometer at 250 Hz.".to_owned(),
    ];
    for room in rooms {
        let least = room.responses.iter().map(|response| response.fallen_db).fold(f64::INFINITY, f64::min);
        if least < 40.0 {
            notes.push(format!(
                "A state of the room still rings after {:.1} s, {least:.0} dB down: its sharpest peaks are told a little too wide and low, and long decays may lack.",
                room.longest_s
            ));
        }
    }
    if let Some(thinnest) = seen.thinnest.filter(|thinnest| *thinnest < 0.5 * spacing) {
        notes.push(format!(
            "The thinnest fiber, {:.0} mm, fills less than half of a cell of {:.0} mm: what it takes is right before a wall, less so where it hangs free.",
            1e3 * thinnest,
            1e3 * spacing
        ));
    }
    notes
}
