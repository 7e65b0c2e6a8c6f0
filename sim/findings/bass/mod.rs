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

mod beside;
mod box_spread;
pub mod corners;
mod dips;
mod effort;
mod evenness;
mod fields;
mod floor;
mod modes;
mod over_time;
mod places;
mod response;
mod run;
mod slice;
mod small;
mod spans;
mod trial;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::Span;
use crate::progress::Cancelled;
use crate::response::LowEnd;
use crate::wave::{Leak, NoAir, Silent, TooDear};

pub use beside::in_rooms;
pub use box_spread::{BoxSpread, BoxThird, ENOUGH, ONE, SideRatio, WHOLE};
pub use corners::{BassCorners, CornerCandidate, CornerPlace, CornerStep, corner_order, corners, with_order};
pub use dips::DEEP_DB;
pub use effort::{BassEffort, effort, effort_of_states};
pub use evenness::{BassEvenness, FROM};
pub use fields::BassFields;
pub use floor::{BassFloor, BassPlace, FROM_WALLS};
pub use over_time::{BassOverTime, FALLEN_DB};
pub use places::{BassPlaces, Cells, effort_over_places};
pub use response::SLOWER;
pub use run::bass;
pub use slice::{BassPicture, BassSlice};
pub use small::too_small;
pub use spans::SAME;

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
    /// Whether the room is told without its panels too.
    pub beside_bare: bool,
}

impl Default for BassAsked {
    fn default() -> Self {
        Self { top_hz: USUAL_TOP, memory: MEMORY, others: OTHERS, beside_bare: true }
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
    /// The room is open.
    #[error(transparent)]
    Leak(#[from] Leak),
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

impl BassError {
    /// Why nothing is heard of somebody.
    fn of(name: &str, silent: Silent) -> Self {
        match silent {
            Silent::NoAir(why) => Self::Buried { name: name.to_owned(), why },
            Silent::Stopped(stopped) => Self::Stopped(stopped),
        }
    }
}

/// All that a run of the waves tells.
#[derive(Clone, Debug)]
pub struct BassRun {
    /// What the low end is like.
    pub study: BassStudy,
    /// The field all over the room as it stands.
    pub fields: BassFields,
    /// What the rays of the room as it stands are joined with.
    pub low: LowEnd,
    /// Those of the room without its panels, where that was run beside it.
    pub bare_low: Option<LowEnd>,
}

/// What the low end of a room is like.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BassStudy {
    /// Up to which frequency.
    pub top_hz: f64,
    /// Where rays take over: fixed by the bare room.
    pub crossover_hz: f64,
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
    /// What published criteria say of that box: information, and no verdict on this room.
    pub box_spread: Option<BoxSpread>,
    /// What panels across its corners would buy, where that was asked for.
    pub corners: Option<BassCorners>,
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
    /// Sources, each run in as many states of the room as are told.
    pub runs: usize,
    /// Rooms with other walls that were run beside, in cells twice as large.
    pub others: usize,
    /// Memory, 1 MB = 1e6 bytes.
    pub memory_mb: f64,
    /// By how much waves along an axis of the grid are told too low at the top frequency, percent; what is on the mean of all directions is put right.
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
    /// How it dies away; `null` for rooms that only tell where figures may lie.
    pub over_time: Option<BassOverTime>,
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
