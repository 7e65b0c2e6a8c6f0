//! The low end: what waves do below the frequency at which rays begin to be right.
//!
//! - *Response*: level at a seat from a loudspeaker, in dB re the same loudspeaker as far away in the free field, from [`LOWEST`] to the top frequency; of all loudspeakers together re all of them in
//!   the free field, in phase.
//! - *Third octaves* (base ten, IEC 61260-1): the mean of the energy, its spread over the seat's zone (standard deviation in dB over the middle and six points on its radius), and the decay time
//!   from -5 to -25 dB. A filter a third of an octave wide rings itself: a decay that is not [`SLOWER`] times as long as `1 / bandwidth` is not told.
//! - *Modes*: frequency and decay of each, while they can be told apart (`wave::ringing`), and how loud it is at each seat re the place in the room where it is loudest.
//! - *Dips*: a level that lies [`DEEP_DB`] and more under its third-octave surroundings, named after the surface whose first mirror image cancels there: its way is longer by an odd number of half waves.
//!
//! *References.* By topic: `response`, `dips`, `modes`.
//!
//! *Limits.* What `wave` limits: locally reacting walls, tables whose phase nobody knows, sources that send alike in all directions. A dip that no single image explains has no name.

mod dips;
mod floor;
mod modes;
mod response;
mod spans;

use std::f64::consts::TAU;

use glam::DVec3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::Span;
use crate::modes::shoebox;
use crate::progress::{Cancelled, Progress};
use crate::room::{Emitter, Room};
use crate::scene::Scene;
use crate::wave::sounding::LONGEST;
use crate::wave::stencil::COURANT;
use crate::wave::walls::{Ensemble, fit};
use crate::wave::{Cost, Hearing, NoAir, Seen, Silent, Sounding, TooDear, cost};

pub use dips::DEEP_DB;
use floor::floor;
pub use floor::{BassFloor, BassPlace, FROM, FROM_WALLS};
use modes::modes;
pub use response::SLOWER;
use response::responses;
pub use spans::SAME;
use spans::with_spans;

/// Lowest frequency that is told, Hz.
pub const LOWEST: f64 = 20.0;
/// Highest frequency that is computed unless another is asked for, Hz.
pub const USUAL_TOP: f64 = 250.0;
/// Highest and lowest that may be asked for, Hz.
pub const TOPS: [f64; 2] = [80.0, 500.0];
/// From one frequency of the curves to the next, Hz.
const APART: f64 = 0.5;
/// Memory that a run may take unless more is allowed, bytes.
pub const MEMORY: u64 = 4_000_000_000;

/// Rooms with other walls that are computed unless more or less are asked for, and the most.
pub const OTHERS: usize = 6;
/// Most that may be asked for.
pub const MOST_OTHERS: usize = 100;

/// What is asked of a study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BassAsked {
    /// Highest frequency, Hz.
    pub top_hz: f64,
    /// Bytes that it may take.
    pub memory: u64,
    /// Rooms with other walls, within what tables leave open, that tell where figures may lie; 0: none.
    pub others: usize,
}

impl Default for BassAsked {
    fn default() -> Self {
        Self { top_hz: USUAL_TOP, memory: MEMORY, others: OTHERS }
    }
}

/// Why there is no study.
#[derive(Clone, Debug, Error, PartialEq)]
pub enum BassError {
    /// It would take too much.
    #[error("{0}; or allow more with --memory")]
    TooDear(#[from] TooDear),
    /// Nothing sounds or nobody hears.
    #[error("the scene has no {0}: bass is what goes from a source to a seat")]
    Nobody(&'static str),
    /// A point lies in something solid.
    #[error("{name} lies in no air: {why}")]
    Buried {
        /// Which of them.
        name: String,
        /// Where.
        why: NoAir,
    },
    /// The top frequency is out of reason.
    #[error("--top {0}: the top frequency is between {low:.0} and {high:.0} Hz", low = TOPS[0], high = TOPS[1])]
    Top(f64),
    /// Stopped.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// What the low end of a room is like.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassStudy {
    /// Up to which frequency.
    pub top_hz: f64,
    /// What it took.
    pub cost: BassCost,
    /// Frequencies of the responses.
    pub frequencies_hz: Vec<f64>,
    /// Receivers that the levels of modes belong to, in their order.
    pub receivers: Vec<String>,
    /// The room as it stands, all that hangs in it.
    pub stands: BassRoom,
    /// The same without its panels, if it has any.
    pub bare: Option<BassRoom>,
    /// Modes of a rigid box of the room's size up to the same frequency, where the room is one.
    pub box_modes: Option<Vec<BoxMode>>,
    /// Things of the scene that are not in it.
    pub left_out: Vec<String>,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// What one state of the room does.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassRoom {
    /// Receiver by receiver: from each source, then from all loudspeakers together.
    pub responses: Vec<BassResponse>,
    /// Up to this frequency modes are told apart.
    pub modes_to_hz: f64,
    /// Modes, lowest first.
    pub modes: Vec<BassMode>,
    /// Time that its longest run went on.
    pub longest_s: f64,
    /// How even it is over the floor; `null` for rooms that only tell where figures may lie.
    pub floor: Option<BassFloor>,
}

/// What a study took.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassCost {
    /// Edge of a cell.
    pub cell_m: f64,
    /// Cells of the grid.
    pub cells: u64,
    /// Time of a step.
    pub step_s: f64,
    /// Sources, in as many states of the room as are told, that were run one after the other.
    pub runs: usize,
    /// Rooms with other walls that were run beside, in cells twice as large.
    pub others: usize,
    /// Memory, 1 MB = 1e6 bytes.
    pub memory_mb: f64,
    /// By how much waves along an axis of the grid are slow at the top frequency, percent.
    pub slow_percent: f64,
}

/// What a receiver hears of a source, or of several together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassResponse {
    /// Sources that sound.
    pub sources: Vec<String>,
    /// Who hears it.
    pub receiver: String,
    /// Level re free field at each frequency.
    pub level_db: Vec<f64>,
    /// Where it may lie at least, with other walls; empty where none were asked for.
    pub level_low_db: Vec<f64>,
    /// Where it may lie at most.
    pub level_high_db: Vec<f64>,
    /// Third octaves.
    pub thirds: Vec<Third>,
    /// Dips, the deepest first.
    pub dips: Vec<Dip>,
    /// How far the ring had fallen where its record ends.
    pub fallen_db: f64,
}

/// A third octave.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Third {
    /// Its nominal middle.
    pub band_hz: f64,
    /// Level re free field.
    pub level_db: f64,
    /// Where it may lie with other walls; `null` where none were asked for.
    pub level_span_db: Option<Span>,
    /// Standard deviation of the level over the zone; `null` for a microphone.
    pub spread_db: Option<f64>,
    /// Decay time; `null` where the filter rings as long, or the record is too short.
    pub decay_s: Option<f64>,
    /// Where it may lie with other walls.
    pub decay_span_s: Option<Span>,
}

/// A dip.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Dip {
    /// Where it is deepest.
    pub frequency_hz: f64,
    /// Level there re free field.
    pub level_db: f64,
    /// Under its surroundings.
    pub depth_db: f64,
    /// Surface whose image cancels there, if one does.
    pub surface: Option<String>,
}

/// A mode of the room as it stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassMode {
    /// Frequency that it rings at.
    pub frequency_hz: f64,
    /// Its standard uncertainty by the fit alone.
    pub frequency_error_hz: f64,
    /// Where it may lie with other walls; `null` where none were asked for, or where it is not found in all of them.
    pub frequency_span_hz: Option<Span>,
    /// Decay time; `null` where it does not decay.
    pub decay_s: Option<f64>,
    /// Where it may lie with other walls.
    pub decay_span_s: Option<Span>,
    /// Level at each receiver re where it is loudest, in their order.
    pub at_receivers_db: Vec<f64>,
}

/// A mode of a rigid box.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoxMode {
    /// Half waves along its sides.
    pub half_waves: [u32; 3],
    /// Frequency.
    pub frequency_hz: f64,
}

/// Level that stands for nothing, dB.
const NOTHING_DB: f64 = -60.0;

fn decibels(energy: f64) -> f64 {
    if energy > 0.0 { (10.0 * energy.log10()).max(NOTHING_DB) } else { NOTHING_DB }
}

/// Points of a receiver's zone, its middle first.
fn zone(room: &Room, receiver: usize) -> Vec<DVec3> {
    let receiver = &room.receivers[receiver];
    let round =
        receiver.zone_radius.into_iter().flat_map(|radius| DVec3::AXES.into_iter().flat_map(move |axis| [axis * radius, -axis * radius]));
    std::iter::once(receiver.position).chain(round.map(|off| receiver.position + off).filter(|point| room.contains(*point))).collect()
}

/// The study of a scene as it stands, its panels in it.
///
/// # Errors
/// [`BassError`].
pub fn bass(progress: &Progress, scene: &Scene, asked: &BassAsked) -> Result<BassStudy, BassError> {
    if !(TOPS[0]..=TOPS[1]).contains(&asked.top_hz) {
        return Err(BassError::Top(asked.top_hz));
    }
    let seen = Seen::new(scene);
    let room = &seen.room;
    if room.sources.is_empty() {
        return Err(BassError::Nobody("source"));
    }
    if room.receivers.is_empty() {
        return Err(BassError::Nobody("seat or microphone"));
    }
    let spacing = cost::spacing(asked.top_hz, room.medium.speed);
    let predicted = predicted(&seen, asked.top_hz, spacing).within(asked.memory)?;
    let bare = (!scene.panels.is_empty()).then(|| Scene { panels: Vec::new(), ..scene.clone() });
    let states = if bare.is_some() { 2 } else { 1 };
    let runs = room.sources.len() * states;
    let step_s = COURANT * spacing / room.medium.speed;
    // Runs in larger cells take half the steps.
    let coarse = if asked.others > 0 { asked.others + 1 } else { 0 };
    progress.begin("waves", (LONGEST / step_s) as u64 * (2 * runs + runs * coarse) as u64 / 2);
    let frequencies: Vec<f64> = (0..=((asked.top_hz - LOWEST) / APART) as usize).map(|index| LOWEST + APART * index as f64).collect();
    let ensemble = Ensemble { seed: scene.settings.seed, others: asked.others };
    let state = |scene: &Scene, seen: &Seen| -> Result<BassRoom, BassError> {
        let run =
            |spacing: f64, member: usize| of_room(progress, (scene, seen), (asked.top_hz, spacing), &frequencies, (&ensemble, member));
        let nominal = run(spacing, 0)?;
        if asked.others == 0 {
            return Ok(nominal);
        }
        let coarse = run(2.0 * spacing, 0)?;
        let members = (1..=asked.others).map(|member| run(2.0 * spacing, member)).collect::<Result<Vec<_>, _>>()?;
        Ok(with_spans(nominal, &coarse, &members))
    };
    let stands = state(scene, &seen)?;
    let bare = bare.map(|bare| state(&bare, &Seen::new(&bare))).transpose()?;
    let rooms = || std::iter::once(&stands).chain(&bare);
    Ok(BassStudy {
        top_hz: asked.top_hz,
        cost: BassCost {
            cell_m: spacing,
            cells: predicted.cells,
            step_s,
            runs,
            others: asked.others,
            memory_mb: predicted.bytes as f64 / 1e6,
            slow_percent: 100.0 * (TAU * asked.top_hz / room.medium.speed * spacing).powi(2) / 32.0,
        },
        frequencies_hz: frequencies,
        receivers: room.receivers.iter().map(|receiver| receiver.name.clone()).collect(),
        box_modes: box_size(scene).map(|size| {
            let modes = shoebox(size, room.medium.speed, rooms().map(|room| room.modes_to_hz).fold(0.0, f64::max));
            modes.iter().map(|mode| BoxMode { half_waves: mode.indices, frequency_hz: mode.frequency }).collect()
        }),
        left_out: seen.left_out.clone(),
        notes: notes(&seen, spacing, rooms()),
        stands,
        bare,
    })
}

/// What one state of the room does with the walls of a member, up to `top` Hz in cells of `spacing` meters.
fn of_room(
    progress: &Progress,
    (scene, seen): (&Scene, &Seen),
    (top, spacing): (f64, f64),
    frequencies: &[f64],
    (ensemble, member): (&Ensemble, usize),
) -> Result<BassRoom, BassError> {
    let room = &seen.room;
    let walls: Vec<_> = room.finishes.iter().map(|finish| fit(finish, 1.2 * top, ensemble.draw(member, &finish.name)).wall).collect();
    let sounding = Sounding::new(seen, &walls, spacing, top);
    let zones: Vec<Vec<DVec3>> = (0..room.receivers.len()).map(|receiver| zone(room, receiver)).collect();
    let ears: Vec<DVec3> = zones.iter().flatten().copied().collect();
    let buried = |name: &str, silent: Silent| match silent {
        Silent::NoAir(why) => BassError::Buried { name: name.to_owned(), why },
        Silent::Stopped(stopped) => BassError::Stopped(stopped),
    };
    let hear = |source: &Emitter| sounding.hear(progress, source.position, &ears).map_err(|silent| buried(&source.name, silent));
    let heard: Vec<Hearing> = room.sources.iter().map(hear).collect::<Result<_, _>>()?;
    let (modes_to_hz, modes) = modes(progress, scene, room, &sounding, &heard, top)?;
    Ok(BassRoom {
        responses: responses(room, &zones, &heard, frequencies),
        modes_to_hz,
        modes,
        floor: (member == 0 && spacing < 1.5 * cost::spacing(top, room.medium.speed)).then(|| floor(scene, room, &sounding, &heard, top)),
        longest_s: heard.iter().map(|heard| heard.seconds).fold(0.0, f64::max),
    })
}

/// What the runs of a room would cost at most.
fn predicted(seen: &Seen, top: f64, spacing: f64) -> Cost {
    let grid = crate::wave::Grid::over(&seen.room, spacing);
    let places = crate::wave::lattice::places(seen.room.volume, seen.room.medium.speed / top / 5.5);
    let kept = crate::wave::lattice::bytes(places, (LONGEST * 4.5 * top) as usize) * 2 * seen.room.sources.len() as u64;
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
