//! The low end: what waves do below the frequency at which rays begin to be right.
//!
//! - *Response*: level at a seat from a loudspeaker, in dB re the same loudspeaker as far away in the free field, from [`LOWEST`] to the top frequency; of all loudspeakers together re all of them in
//!   the free field, in phase.
//! - *Third octaves* (base ten, IEC 61260-1): the mean of the energy, its spread over the seat's zone (standard deviation in dB over the middle and six points on its radius), and the decay time
//!   from -5 to -25 dB. A filter a third of an octave wide rings itself: a decay that is not [`SLOWER`] times as long as `1 / bandwidth` is not told.
//! - *Modes*: frequency and decay of each, while they can be told apart (`wave::ringing`), and how loud it is at each seat re the place in the room where it is loudest.
//! - *Dips*: a level that lies [`DEEP_DB`] and more under its third-octave surroundings, named after the surface whose first mirror image cancels there: its way is longer by an odd number of half waves.
//!
//! *References.* IEC 61260-1:2014 (from memory). Bandwidth times decay time, 16 for filters that run forward and 4 for those that run backward: ISO 3382-2 (from memory); ours ring to both sides, and 8 is
//! our own choice between. Interference of a source with its image: text books (from memory).
//!
//! *Limits.* What `wave` limits: locally reacting walls, tables whose phase nobody knows, sources that send alike in all directions. A dip that no single image explains has no name.

use std::f64::consts::{LN_10, TAU};

use glam::DVec3;
use num_complex::Complex64;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::metrics::decay::{DecayCurve, Tail};
use crate::modes::{mode_count, shoebox};
use crate::progress::{Cancelled, Progress};
use crate::room::{Emitter, Room};
use crate::scene::{Scene, SourceKind};
use crate::wave::sounding::LONGEST;
use crate::wave::stencil::COURANT;
use crate::wave::walls::{Draw, fit};
use crate::wave::{Cost, Heard, Hearing, NoAir, Record, Resonance, Seen, Silent, Sounding, TooDear, cost, resonances};

/// Lowest frequency that is told, Hz.
pub const LOWEST: f64 = 20.0;
/// Highest frequency that is computed unless another is asked for, Hz.
pub const USUAL_TOP: f64 = 250.0;
/// Highest and lowest that may be asked for, Hz.
pub const TOPS: [f64; 2] = [80.0, 500.0];
/// From one frequency of the curves to the next, Hz.
const APART: f64 = 0.5;
/// Modes are looked for from here on, Hz.
const FIRST_MODE: f64 = 12.0;
/// Bandwidth times decay time from which on a decay in a band is the room's and not the filter's.
pub const SLOWER: f64 = 8.0;
/// What of a band's record is its own: the last fifth fades out, and what a filter without delay rings before time zero comes round to the end.
const OWN: f64 = 0.6;
/// A dip is so deep at the least, dB.
pub const DEEP_DB: f64 = 6.0;
/// A dip lies this near to where an image cancels, re its frequency.
const MATCHED: f64 = 0.06;
/// Minima nearer than this, re their frequency, are one dip.
const ONE_DIP: f64 = 0.03;
/// Memory that a run may take unless more is allowed, bytes.
pub const MEMORY: u64 = 4_000_000_000;

/// What is asked of a study.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BassAsked {
    /// Highest frequency, Hz.
    pub top_hz: f64,
    /// Bytes that it may take.
    pub memory: u64,
}

impl Default for BassAsked {
    fn default() -> Self {
        Self { top_hz: USUAL_TOP, memory: MEMORY }
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
    /// Standard deviation of the level over the zone; `null` for a microphone.
    pub spread_db: Option<f64>,
    /// Decay time; `null` where the filter rings as long, or the record is too short.
    pub decay_s: Option<f64>,
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
    /// Decay time; `null` where it does not decay.
    pub decay_s: Option<f64>,
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

/// Transfer functions from a source to the zone of a receiver.
struct Way {
    /// Free field at the middle.
    distance: f64,
    /// Point by point, frequency by frequency, re the free field at 1 m.
    transfers: Vec<Vec<Complex64>>,
    /// What the middle heard.
    record: Record,
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
    let runs = room.sources.len() * if bare.is_some() { 2 } else { 1 };
    let step_s = COURANT * spacing / room.medium.speed;
    progress.begin("waves", (LONGEST / step_s) as u64 * runs as u64);
    let frequencies: Vec<f64> = (0..=((asked.top_hz - LOWEST) / APART) as usize).map(|index| LOWEST + APART * index as f64).collect();
    let stands = of_room(progress, scene, &seen, (asked.top_hz, spacing), &frequencies)?;
    let bare = bare.map(|bare| of_room(progress, &bare, &Seen::new(&bare), (asked.top_hz, spacing), &frequencies)).transpose()?;
    let rooms = || std::iter::once(&stands).chain(&bare);
    Ok(BassStudy {
        top_hz: asked.top_hz,
        cost: BassCost {
            cell_m: spacing,
            cells: predicted.cells,
            step_s,
            runs,
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

/// What one state of the room does, up to `top` Hz in cells of `spacing` meters.
fn of_room(
    progress: &Progress,
    scene: &Scene,
    seen: &Seen,
    (top, spacing): (f64, f64),
    frequencies: &[f64],
) -> Result<BassRoom, BassError> {
    let room = &seen.room;
    let walls: Vec<_> = room.finishes.iter().map(|finish| fit(finish, 1.2 * top, Draw::NOMINAL).wall).collect();
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

/// From each source to each receiver, and from all loudspeakers together.
fn responses(room: &Room, zones: &[Vec<DVec3>], heard: &[Hearing], frequencies: &[f64]) -> Vec<BassResponse> {
    let mut all = Vec::new();
    let mut first = 0;
    for (receiver, zone) in zones.iter().enumerate() {
        let ways: Vec<Way> = room
            .sources
            .iter()
            .zip(heard)
            .map(|(source, heard)| Way {
                distance: source.position.distance(zone[0]),
                transfers: heard.ears[first..first + zone.len()]
                    .iter()
                    .map(|record| frequencies.iter().map(|frequency| record.transfer(&heard.pulse, *frequency)).collect())
                    .collect(),
                record: heard.ears[first].clone(),
            })
            .collect();
        for (index, source) in room.sources.iter().enumerate() {
            all.push(response(room, (&[index], receiver), &ways, &heard[index], frequencies, vec![source.name.clone()]));
        }
        let speakers: Vec<usize> = (0..room.sources.len()).filter(|index| room.sources[*index].kind == SourceKind::Loudspeaker).collect();
        if speakers.len() > 1 {
            let names = speakers.iter().map(|index| room.sources[*index].name.clone()).collect();
            all.push(response(room, (&speakers, receiver), &ways, &heard[speakers[0]], frequencies, names));
        }
        first += zone.len();
    }
    all
}

fn response(
    room: &Room,
    (together, receiver): (&[usize], usize),
    ways: &[Way],
    heard: &Hearing,
    frequencies: &[f64],
    sources: Vec<String>,
) -> BassResponse {
    let speed = room.medium.speed;
    let free: Vec<f64> = frequencies
        .iter()
        .map(|frequency| {
            let sum: Complex64 =
                together.iter().map(|index| Complex64::cis(-TAU * frequency * ways[*index].distance / speed) / ways[*index].distance).sum();
            sum.norm_sqr()
        })
        .collect();
    let points = ways[together[0]].transfers.len();
    // Energy re free field at the middle, point by point.
    let energies: Vec<Vec<f64>> = (0..points)
        .map(|point| {
            let energy = |(index, free): (usize, &f64)| {
                together.iter().map(|way| ways[*way].transfers[point][index]).sum::<Complex64>().norm_sqr() / free
            };
            free.iter().enumerate().map(energy).collect()
        })
        .collect();
    let level_db: Vec<f64> = energies[0].iter().map(|energy| decibels(*energy)).collect();
    let summed = summed(together, ways);
    let third = |(band_hz, low, high): (f64, f64, f64)| {
        let mean = |energies: &[f64]| {
            let within: Vec<f64> = frequencies
                .iter()
                .zip(energies)
                .filter(|(frequency, _)| (low..high).contains(*frequency))
                .map(|(_, energy)| *energy)
                .collect();
            decibels(within.iter().sum::<f64>() / within.len() as f64)
        };
        let levels: Vec<f64> = energies.iter().map(|energies| mean(energies)).collect();
        let middle = levels.iter().sum::<f64>() / levels.len() as f64;
        let spread = || (levels.iter().map(|level| (level - middle).powi(2)).sum::<f64>() / (levels.len() - 1) as f64).sqrt();
        Third { band_hz, level_db: levels[0], spread_db: (levels.len() > 1).then(spread), decay_s: decay(&summed, heard, low, high) }
    };
    let dips = dips(room, (together, receiver), frequencies, &level_db);
    let fallen_db = together.iter().map(|index| ways[*index].record.fallen_db()).fold(f64::INFINITY, f64::min);
    let top = frequencies[frequencies.len() - 1];
    BassResponse {
        sources,
        receiver: room.receivers[receiver].name.clone(),
        thirds: thirds(top).map(third).collect(),
        dips,
        level_db,
        fallen_db,
    }
}

/// What the middle hears of several sources together, the longest record's length.
fn summed(together: &[usize], ways: &[Way]) -> Record {
    let records: Vec<&Record> = together.iter().map(|index| &ways[*index].record).collect();
    let longest = records.iter().map(|record| record.pressures.len()).max().unwrap_or(0);
    let at = |index: usize| records.iter().filter_map(|record| record.pressures.get(index)).sum();
    Record { interval: records[0].interval, pressures: (0..longest).map(at).collect() }
}

/// Third octaves that lie between the lowest frequency and `top`: nominal middle, lower and upper border, Hz.
fn thirds(top: f64) -> impl Iterator<Item = (f64, f64, f64)> {
    const NOMINAL: [f64; 10] = [1.0, 1.25, 1.6, 2.0, 2.5, 3.15, 4.0, 5.0, 6.3, 8.0];
    (13..30_i32).filter_map(move |index| {
        let exact = 10.0_f64.powf(f64::from(index) / 10.0);
        let half = 10.0_f64.powf(0.05);
        let nominal = NOMINAL[index.rem_euclid(10) as usize] * 10.0_f64.powi(index.div_euclid(10));
        let (low, high) = (exact / half, exact * half);
        (low >= LOWEST * 0.85 && high <= top * 1.13).then_some((nominal, low.max(LOWEST), high.min(top)))
    })
}

/// Decay time in a band.
fn decay(record: &Record, heard: &Hearing, low: f64, high: f64) -> Option<f64> {
    // The band's skirts stay below the pulse's top.
    let high = high.min(heard.pulse.top / 1.1);
    let energy: Vec<f64> = record.band(&heard.pulse, low, high).iter().map(|value| value * value).collect();
    let own = &energy[..(OWN * energy.len() as f64) as usize];
    let time = DecayCurve::new(own, record.interval, Tail::Exponential).ok()?.t20().ok()?;
    ((high - low) * time > SLOWER).then_some(time)
}

/// Dips of a level, the deepest first.
fn dips(room: &Room, (together, receiver): (&[usize], usize), frequencies: &[f64], level_db: &[f64]) -> Vec<Dip> {
    let energies: Vec<f64> = level_db.iter().map(|level| 10.0_f64.powf(level / 10.0)).collect();
    let around = |frequency: f64| {
        let half = 2.0_f64.powf(1.0 / 3.0);
        let near = frequencies
            .iter()
            .zip(&energies)
            .filter(|(other, _)| (frequency / half..=frequency * half).contains(*other))
            .map(|(_, energy)| *energy);
        let (sum, count) = near.fold((0.0, 0.0), |(sum, count), energy| (sum + energy, count + 1.0));
        decibels(sum / count)
    };
    let mut found: Vec<Dip> = (1..level_db.len() - 1)
        .filter(|at| level_db[*at] < level_db[at - 1] && level_db[*at] <= level_db[at + 1])
        .map(|at| {
            let depth_db = around(frequencies[at]) - level_db[at];
            Dip { frequency_hz: frequencies[at], level_db: level_db[at], depth_db, surface: None }
        })
        .filter(|dip| dip.depth_db >= DEEP_DB)
        .collect();
    found.sort_by(|a, b| b.depth_db.total_cmp(&a.depth_db));
    // Two minima side by side are one dip.
    let mut kept: Vec<Dip> = Vec::new();
    for dip in found {
        if kept.iter().all(|other| (dip.frequency_hz / other.frequency_hz - 1.0).abs() > ONE_DIP) {
            kept.push(dip);
        }
    }
    let mut found = kept;
    if let [source] = together {
        for dip in &mut found {
            dip.surface = cancelling(room, (*source, receiver), dip.frequency_hz);
        }
    }
    found
}

/// The surface of the shell whose image comes later by an odd number of half waves, the nearest to it.
fn cancelling(room: &Room, (source, receiver): (usize, usize), frequency: f64) -> Option<String> {
    let (from, to) = (room.sources[source].position, room.receivers[receiver].position);
    let direct = from.distance(to);
    let off = |surface: &crate::room::Surface| {
        let image = from - 2.0 * surface.chart.height(from) * surface.chart.normal;
        // Where the way meets the plane of the surface.
        let share = surface.chart.height(from) / (surface.chart.height(from) + surface.chart.height(to));
        let meets = surface.outline.contains(surface.chart.position(image.lerp(to, share)));
        let half_waves = (image.distance(to) - direct) * frequency / (0.5 * room.medium.speed);
        // The first and the second time that it cancels: beyond that others have come.
        let odd = if half_waves < 2.0 { 1.0 } else { 3.0 };
        meets.then_some((half_waves / odd - 1.0).abs())
    };
    let shell = room.surfaces.iter().filter(|surface| surface.role.is_shell());
    let near = shell.filter_map(|surface| off(surface).map(|off| (off, surface))).filter(|(off, _)| *off < MATCHED);
    near.min_by(|a, b| a.0.total_cmp(&b.0)).map(|(_, surface)| surface.name.clone())
}

/// Modes, and up to where they are told apart.
fn modes(
    progress: &Progress,
    scene: &Scene,
    room: &Room,
    sounding: &Sounding,
    heard: &[Hearing],
    top: f64,
) -> Result<(f64, Vec<BassMode>), Cancelled> {
    let shortest = heard.iter().filter_map(|heard| heard.places.first()).map(Vec::len).min().unwrap_or(0);
    let records: Vec<Vec<Vec<f32>>> =
        heard.iter().map(|heard| heard.places.iter().map(|place| place[..shortest].to_vec()).collect()).collect();
    let rate = 1.0 / (heard[0].pulse.every() as f64 * heard[0].pulse.step);
    let perimeter: f64 = scene.outline.iter().zip(scene.outline.iter().cycle().skip(1)).map(|(a, b)| a.distance(*b)).sum();
    let edges =
        2.0 * perimeter + scene.outline.len() as f64 * room.volume / (0.5 * (room.shell_area() - perimeter * room.volume.cbrt())).max(1.0);
    let count = |frequency: f64| mode_count(frequency, room.volume, room.shell_area(), edges, room.medium.speed);
    let density = |frequency: f64| count(frequency + 0.5) - count(frequency - 0.5);
    let ringing = resonances(progress, &Heard { records: &records, rate }, FIRST_MODE..top, &density)?;
    let at_receivers = |shape: &[nalgebra::Complex<f64>]| -> Vec<f64> {
        let at = |position: DVec3| {
            let round = sounding.lattice.round(&sounding.grid, &sounding.stencil, position).unwrap_or_default();
            let sum: nalgebra::Complex<f64> = round.iter().map(|(place, weight)| shape[*place] * *weight).sum();
            decibels(sum.norm_sqr())
        };
        room.receivers.iter().map(|receiver| at(receiver.position)).collect()
    };
    let mode = |found: &Resonance| BassMode {
        frequency_hz: found.frequency,
        frequency_error_hz: found.frequency_error,
        decay_s: (found.decay > 0.0).then(|| 3.0 * LN_10 / found.decay),
        at_receivers_db: at_receivers(&found.shape),
    };
    Ok((ringing.told_apart_to, ringing.resonances.iter().map(mode).collect()))
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
        "Tables of absorption tell no phase and end at 63 Hz or 125 Hz: below, walls are taken as there; frequencies of modes may be off by a percent or two in a real room, decays by a third.".to_owned(),
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
