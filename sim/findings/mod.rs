//! What is wrong with the room: findings of one layout, ready to print. Keys carry their unit.

pub mod arrivals;
pub mod bass;
pub mod decay_times;
pub mod flutter;
pub mod inputs;
pub mod judge;
pub mod likeness;
pub mod pairs;
pub mod reflections;
pub mod response;
pub mod stock;
pub mod sure;
pub mod survey;
pub mod suspended;
pub mod targets;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Bands;
pub use crate::response::Estimate;
use bass::BassStudy;
pub use stock::StockPanel;
pub use suspended::SuspendedPanel;

/// Level that stands for nothing, dB.
const NOTHING_DB: f64 = -120.0;

/// What a figure rests on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Basis {
    /// Images and rays alone, above Schroeder's frequency of the bare room.
    Geometric,
    /// Waves, below the crossover of the bare room.
    Waves,
    /// Waves and rays: the octave that the crossover lies in, where rays are right above it or most of it lies below.
    Joined,
    /// A statistical reading of images and rays below Schroeder's frequency, where waves rule and were not run, or not so high: shown gray, judged by nothing.
    Statistical,
}

/// Where a figure may lie because of what went in, materials and tape: one standard uncertainty to either side, which two of three rooms keep to (see `findings::inputs`).
/// The error of the tracing is not in it.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Span {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Span {
    /// Where the mean of figures that are off together may lie, which is never too narrow; `None` where one of them is not known or there are none.
    #[must_use]
    pub fn mean(spans: &[Option<Self>]) -> Option<Self> {
        let known: Option<Vec<Self>> = spans.iter().copied().collect();
        let known = known.filter(|known| !known.is_empty())?;
        let sum = |end: fn(&Self) -> f64| known.iter().map(end).sum::<f64>() / known.len() as f64;
        Some(Self { low: sum(|span| span.low), high: sum(|span| span.high) })
    }
}

/// A place on a surface, in meters from its left edge and the floor (or its lower edge), as seen from inside.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Place {
    /// Name of the surface.
    pub surface: String,
    /// From the left edge.
    pub left_m: f64,
    /// From the lower edge.
    pub bottom_m: f64,
}

/// Everything that is said about one layout of a room.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Findings {
    /// Sizes and areas.
    pub survey: Survey,
    /// The low end by waves; left out where none were run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bass: Option<BassStudy>,
    /// One for each source at each receiver.
    pub pairs: Vec<Pair>,
    /// Flutter between facing surfaces.
    pub flutter: Vec<Flutter>,
    /// Left-right likeness, where two loudspeakers face a seat.
    pub likeness: Vec<Likeness>,
    /// Targets of the use and how the room stands to them.
    pub targets: Vec<Target>,
    /// What the figures with an error rest on.
    pub tracing: Tracing,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// Rays that were traced.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Tracing {
    /// From each source, in each group of bands that go together from there.
    pub rays_per_source: u32,
    /// In so many rounds: there are more of them where the errors that are wanted are not met sooner.
    pub rounds: u32,
    /// Whether every T30 and every early level is as sure as the settings ask for.
    pub errors_met: bool,
    /// Of all rays, those that left through a crack between surfaces: none, in a room that is closed.
    pub rays_escaped: u64,
}

/// Sizes of the room as built.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Survey {
    /// Air volume.
    pub volume_m3: f64,
    /// Floor area.
    pub floor_area_m2: f64,
    /// Floor, walls and ceiling, openings included.
    pub surface_area_m2: f64,
    /// Clear height over the seat, or the highest point without one.
    pub height_m: f64,
    /// One face of each panel, clouds once, over floor + walls + ceiling.
    pub treated_share: f64,
    /// That area.
    pub treated_area_m2: f64,
    /// All faces of panels that meet air.
    pub exposed_area_m2: f64,
    /// Schroeder's frequency of the bare room, `2000 sqrt(T / V)`, T the bare mid-band (500 Hz, 1 kHz) estimate by Eyring's formula.
    pub schroeder_hz: f64,
    /// First axial modes between parallel facing walls, lowest first.
    pub axial_modes: Vec<AxialMode>,
    /// Each surface with its area and material.
    pub surfaces: Vec<SurfaceArea>,
    /// Each source with where it points and how it sends.
    pub sources: Vec<Sending>,
    /// Each type of panel with what it is made of and absorbs.
    pub stock: Vec<StockPanel>,
    /// Clouds and free-standing panels open on both sides, against the same panel flush: clouds in stock, then what hangs.
    pub suspended: Vec<SuspendedPanel>,
    /// Types in stock that have no place in the room even before anything is hung, and what is in the way, a sentence each; left out where each has one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub without_place: Vec<String>,
    /// What a scene would have to say before anything is drilled and does not: what holds, how panels are made; a sentence each, left out where it says all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unsaid: Vec<String>,
}

/// Where one source points and how it sends.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sending {
    /// Name.
    pub name: String,
    /// `loudspeaker`, `voice` or `instrument`.
    pub kind: String,
    /// `omni`, `piston`, `forward`, or `polar` for measured data.
    pub directivity: String,
    /// Of a piston.
    pub radius_m: Option<f64>,
    /// Where its axis points on the floor plan, clockwise from +y (north); `None` for an omni source, and for one that points straight up or down.
    pub bearing_deg: Option<f64>,
    /// How far its axis points up; `None` for an omni source.
    pub elevation_deg: Option<f64>,
    /// By octave: how much more goes along the axis than on average into all directions.
    pub directivity_index_db: Bands<f64>,
    /// What its directivity leaves out or takes for granted.
    pub limits: Vec<String>,
}

/// One axial mode.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AxialMode {
    /// Its frequency.
    pub frequency_hz: f64,
    /// The two surfaces it stands between.
    pub between: [String; 2],
    /// 1, 2, ...
    pub order: u32,
}

/// One surface or opening.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SurfaceArea {
    /// Name.
    pub name: String,
    /// Area, openings taken out.
    pub area_m2: f64,
    /// Material.
    pub material: String,
    /// Random-incidence absorption by band.
    pub absorption: Bands<f64>,
    /// Bands whose value was filled by rule.
    pub extrapolated: Bands<bool>,
    /// Where the values come from.
    pub source: String,
}

/// What one source does at one receiver.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Pair {
    /// Name of the source.
    pub source: String,
    /// Name of the seat or microphone.
    pub receiver: String,
    /// Whether the receiver is a microphone, not a seat.
    pub at_microphone: bool,
    /// Whether the use of the scene is judged by it.
    #[serde(default)]
    pub judged: bool,
    /// Direct distance.
    pub distance_m: f64,
    /// Measures by octave, 63 Hz first.
    pub octaves: Vec<Octave>,
    /// Speech transmission index; `None` where bands are missing.
    pub speech_transmission_index: Option<Estimate>,
    /// Where it may lie because of materials.
    pub speech_transmission_index_inputs: Option<Span>,
    /// Whether noise and speech levels entered it.
    pub speech_index_noise_free: bool,
    /// Time from the direct sound to the first reflection.
    pub initial_delay_gap_ms: Option<f64>,
    /// Early reflections by delay, worst head position of the zone first in level.
    pub reflections: Vec<Reflection>,
    /// Energy of all reflections in the early window, 1-8 kHz, zone-averaged, re direct.
    pub early_level_db: Estimate,
    /// Where it may lie because of materials.
    pub early_level_inputs_db: Option<Span>,
    /// Sum over reflections of the excess over the criterion, at the worst head position of the zone.
    pub early_excess_db: f64,
    /// Direct-to-reverberant ratio at a microphone, 1-8 kHz energy.
    pub direct_to_reverberant_db: Option<Estimate>,
    /// Comb depth that the strongest early reflection makes at a microphone, `20 lg((1 + a) / |1 - a|)`, at most 40 dB.
    pub comb_depth_db: Option<f64>,
    /// What the first sound does to the tone, at each ear of a seat or at the microphone.
    pub early_responses: Vec<EarlyResponse>,
    /// Energy-time curve, re direct energy, summed over 1-8 kHz octaves for a flat source, one value a bin.
    pub energy_time: EnergyTime,
}

impl Pair {
    /// Level of the strongest early reflection, 1-8 kHz, re direct, dB, at the worst head position of the zone; `None` without one.
    #[must_use]
    pub fn strongest_db(&self) -> Option<f64> {
        strongest_db(&self.reflections)
    }
}

/// An energy-time curve for charts.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EnergyTime {
    /// Width of a bin.
    pub bin_ms: f64,
    /// Energy in the bin re direct, dB; -120 where there is none. Bin 0 begins when the direct sound arrives.
    pub level_db: Vec<f64>,
    /// Backward-integrated decay by octave, dB re its start, at every tenth bin.
    pub decay_db: Bands<Vec<f64>>,
    /// Width of a step of `decay_db`.
    pub decay_step_ms: f64,
}

/// Measures of one octave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Octave {
    /// Nominal frequency.
    pub frequency_hz: u32,
    /// What they rest on.
    pub basis: Basis,
    /// Early decay time.
    pub edt_s: Option<Estimate>,
    /// Where it may lie because of materials and tape.
    pub edt_inputs_s: Option<Span>,
    /// From -5 to -25 dB.
    pub t20_s: Option<Estimate>,
    /// Where it may lie because of materials and tape.
    pub t20_inputs_s: Option<Span>,
    /// From -5 to -35 dB.
    pub t30_s: Option<Estimate>,
    /// Where it may lie because of materials and tape.
    pub t30_inputs_s: Option<Span>,
    /// Clarity, 50 ms.
    pub c50_db: Option<Estimate>,
    /// Where it may lie because of materials.
    pub c50_inputs_db: Option<Span>,
    /// Clarity, 80 ms.
    pub c80_db: Option<Estimate>,
    /// Where it may lie because of materials.
    pub c80_inputs_db: Option<Span>,
    /// Definition.
    pub d50: Option<Estimate>,
    /// Center time.
    pub ts_ms: Option<Estimate>,
    /// Strength.
    pub g_db: Option<Estimate>,
    /// Share of the rays that effectively carry this band.
    pub effective_sample_share: f64,
    /// Why a figure is missing.
    pub note: Option<String>,
}

/// One early reflection at the worst point of the zone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Reflection {
    /// After the direct sound.
    pub delay_ms: f64,
    /// Energy in 1-8 kHz for a flat source, re direct.
    pub level_db: f64,
    /// Where that may lie because of materials; `None` where it is not asked for.
    pub level_inputs_db: Option<Span>,
    /// By octave, re direct.
    pub level_by_octave_db: Bands<f64>,
    /// Over the criterion.
    pub excess_db: f64,
    /// Reflections on its way.
    pub order: u32,
    /// Surfaces it meets, from the source.
    pub surfaces: Vec<String>,
    /// Where, in meters, room coordinates.
    pub points_m: Vec<[f64; 3]>,
    /// The same points on their surfaces.
    pub places: Vec<Place>,
    /// Direction at the head: counterclockwise from the facing, seen from above.
    pub azimuth_deg: f64,
    /// Direction at the head: up from the horizontal.
    pub elevation_deg: f64,
    /// What makes its level.
    pub made_of: MadeOf,
    /// Weaker arrivals within a millisecond that count with it, each as if it came alone, the loudest first.
    pub joined_by: Vec<Reflection>,
}

/// What makes the level of a reflection re the direct sound: all of it, octave by octave, adds up to that.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct MadeOf {
    /// Its way, and that of the direct sound.
    pub way_m: [f64; 2],
    /// By the longer way, `20 lg(direct / way)`.
    pub spreading_db: f64,
    /// By the air on the longer way.
    pub air_db: Bands<f64>,
    /// By what the source sends along it, less what it sends straight to the listener.
    pub source_db: Bands<f64>,
    /// By the pattern of the microphone; 0 at a seat.
    pub pattern_db: f64,
    /// By each bounce: what the surface mirrors at this angle over the part that counts, absorption, scattering and size together.
    pub bounces_db: Vec<Bands<f64>>,
    /// Angle of incidence at each bounce, from the surface's normal.
    pub angles_deg: Vec<f64>,
    /// By weaker arrivals within a millisecond that count with it.
    pub others_db: Bands<f64>,
}

impl Reflection {
    /// Whether it exceeds the criterion.
    #[must_use]
    pub fn is_too_loud(&self) -> bool {
        self.excess_db > 0.0
    }
}

/// Level of the strongest of some reflections, 1-8 kHz, re direct, dB; images are exact, so it has no error of the tracing. `None` without one.
#[must_use]
pub fn strongest_db(reflections: &[Reflection]) -> Option<f64> {
    reflections.iter().map(|reflection| reflection.level_db).max_by(f64::total_cmp)
}

/// Direct sound, mirror images and edges within the early window, summed with their phases at one ear or microphone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EarlyResponse {
    /// `left ear`, `right ear` or `microphone`.
    pub at: String,
    /// Where that is, in meters, room coordinates.
    pub position_m: [f64; 3],
    /// What comes straight from the source.
    pub direct: DirectSound,
    /// Frequencies, 48 to the octave.
    pub frequency_hz: Vec<f64>,
    /// Level at each re the direct sound alone.
    pub level_db: Vec<f64>,
    /// How far the greatest and the least level of an octave are apart.
    pub comb_depth_db: Bands<f64>,
    /// Where single reflections by walls, floor and ceiling first meet the direct sound in opposite phase, lowest first.
    pub boundary_dips: Vec<BoundaryDip>,
    /// Sound bent round edges, loudest first, down to 40 dB below the direct sound.
    pub edges: Vec<EdgeArrival>,
    /// All edges that are in the sum.
    pub edges_counted: u32,
}

/// What comes straight from a source, and what makes its level.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct DirectSound {
    /// Its way.
    pub way_m: f64,
    /// When it arrives after it left the source.
    pub arrives_ms: f64,
    /// Surfaces that stand in its way, from the source: where there is one nothing of it arrives, and what is told re direct is re what would.
    pub hidden_by: Vec<String>,
    /// What arrives of it re all of it: 0 at a seat, by the pattern of a microphone, -120 where it is hidden.
    pub level_db: f64,
    /// Direction at the head: counterclockwise from the facing, seen from above.
    pub azimuth_deg: f64,
    /// Direction at the head: up from the horizontal.
    pub elevation_deg: f64,
    /// By octave, were nothing in its way, re what the source sends 1 m along its axis: the sum of what follows.
    pub level_by_octave_db: Bands<f64>,
    /// By its way, `20 lg(1 m / way)`.
    pub spreading_db: f64,
    /// By the air on its way.
    pub air_db: Bands<f64>,
    /// By what the source sends along it, re its axis.
    pub source_db: Bands<f64>,
    /// By the pattern of the microphone; 0 at a seat.
    pub pattern_db: f64,
}

/// Where a reflection meets the direct sound in opposite phase.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BoundaryDip {
    /// The surface that reflects.
    pub surface: String,
    /// Where on it.
    pub place: Place,
    /// How much longer its way is than the direct one.
    pub longer_m: f64,
    /// The lowest frequency of opposite phase.
    pub frequency_hz: f64,
    /// Level there if it came alone with the direct sound, re that.
    pub alone_db: f64,
    /// Level there of all the first sound.
    pub level_db: f64,
}

/// Sound bent round an edge.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EdgeArrival {
    /// The two faces that meet there.
    pub faces: [String; 2],
    /// Bends on its way: 1, or 2 over a thin body from edge to edge.
    pub bends: u32,
    /// Where its way bends first and last, in meters, room coordinates: the same point, or one on another edge of a sheet.
    pub points_m: [[f64; 3]; 2],
    /// The same points on a face that ends there.
    pub places: [Place; 2],
    /// After the direct sound.
    pub delay_ms: f64,
    /// Energy in 1-8 kHz for a flat source, re direct.
    pub level_db: f64,
    /// By octave, re direct.
    pub level_by_octave_db: Bands<f64>,
    /// Direction at the head: counterclockwise from the facing, seen from above.
    pub azimuth_deg: f64,
    /// Direction at the head: up from the horizontal.
    pub elevation_deg: f64,
    /// Frequency above which a single bend tells enough about this edge.
    pub holds_above_hz: f64,
    /// What makes its level.
    pub made_of: BendMadeOf,
}

/// What makes the level of sound bent round an edge re the direct sound: spreading, air, source, pattern, bend, faces and the rest within the octave, octave by octave,
/// add up to that.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct BendMadeOf {
    /// From the source to where it bends first, from there to where it bends last, and on.
    pub legs_m: [f64; 3],
    /// The way of the direct sound.
    pub direct_m: f64,
    /// By how much its way turns where it bends first and last; the same twice where it bends once, or round both edges of a corner.
    pub turns_deg: [f64; 2],
    /// By the longer way, `20 lg(direct / way)`.
    pub spreading_db: f64,
    /// By the air on the longer way.
    pub air_db: Bands<f64>,
    /// By what the source sends along it, less what it sends straight to the listener.
    pub source_db: Bands<f64>,
    /// By the pattern of the microphone; 0 at a seat.
    pub pattern_db: f64,
    /// By the edge itself were its faces hard, re sound that goes the same way unbent: mean energy of the octave.
    pub bend_db: Bands<f64>,
    /// By what its faces do not mirror.
    pub faces_db: Bands<f64>,
    /// What either face mirrors at the angle where its mirror image ends; counted in `faces_db`.
    pub mirrored_db: [Bands<f64>; 2],
    /// By what air and source change within the octave, where the bend differs over it.
    pub within_octave_db: Bands<f64>,
}

/// Flutter between two facing surfaces.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Flutter {
    /// The two surfaces.
    pub between: [String; 2],
    /// Distance between them.
    pub distance_m: f64,
    /// Time of one round trip.
    pub period_ms: f64,
    /// Decay of the pair alone by octave, to -60 dB, extrapolated from its first 30 dB.
    pub t_s: Bands<f64>,
    /// Room's own T30 (or T20) by octave, where known.
    pub room_t_s: Bands<Option<f64>>,
    /// Decays more than twice slower than the room in some octave from 500 Hz up.
    pub audible: bool,
    /// Where to stand and clap.
    pub clap_at_m: [f64; 3],
}

/// How alike the left and right loudspeaker are at a seat.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Likeness {
    /// Left loudspeaker.
    pub left: String,
    /// Right loudspeaker.
    pub right: String,
    /// Seat.
    pub seat: String,
    /// Early reflected level left minus right by octave.
    pub early_difference_db: Bands<f64>,
    /// Direct level left minus right by octave.
    pub direct_difference_db: Bands<f64>,
}

/// A recommended range and where the room stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Target {
    /// What is asked: `reverberation, 250 Hz - 4 kHz` ...
    pub question: String,
    /// Document or "common practice, no source".
    pub source: String,
    /// Lower bound.
    pub low: Option<f64>,
    /// Upper bound.
    pub high: Option<f64>,
    /// Unit of the bounds and the value.
    pub unit: String,
    /// Where the room stands.
    pub value: Option<Estimate>,
    /// Where the value may lie because of materials and tape, for decay times and reflections.
    pub inputs: Option<Span>,
    /// `met`, `too high`, `too low`, `outside its range`, `not known`; of the treated share, which nobody misses, `less`, `as usual`, `more`.
    pub verdict: String,
}
