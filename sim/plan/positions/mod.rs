//! Positions: where do seat and loudspeakers stand before a single panel is hung?
//!
//! Everything that belongs together on the floor, the listening set, is moved as one piece (`set`): the sources and receivers of the judged pairs, and the desk and whatever else stands under
//! or among them. A grid of places is tried in the present facing and in its three quarter turns, wherever the set fits (`fit`); the room is traced anew for each (`trial`), since sources, receivers
//! and the desk are geometry. What hangs and what else stands stays where it is.
//!
//! **Three rounds** (`sweep`). The grid with few rays, early terms of the score alone; round the leaders of the grid in half steps with four times the rays; the best of these against the
//! present place with a fresh seed, the rays of the scene and every term of the score. Only the last round is told as a gain: the best of many figures with errors looks better
//! than it is, and a fresh seed knows nothing of that choice. All places of a round have one seed, so that they differ by less than their errors.
//!
//! **A suggestion** is better than the present place by more than the interval of that difference, wide enough for all finalists together, and by a tenth of a step at the least. Where none
//! is, the present place is as good as any that was tried, and that is said.
//!
//! **The low end** (`low`), where waves are asked for: how even it is at each place. It is told beside the score and has no part in it; of finalists that rays cannot tell apart the evenest comes first.
//!
//! *References.* The score: `plan::score`. Distances to keep are common practice, no source (`fit`).
//!
//! *Limits.* The low end has no part in the score and may ask for another place, which is told. Each loudspeaker is a point with a directivity: what its box and a wall close behind it do to
//! each other is not in these figures. A set is turned by quarter turns and never mirrored; between the places of the grid others may be better.

mod fit;
mod low;
mod reasons;
mod set;
mod sweep;
mod trial;

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::findings::Estimate;
use crate::findings::bass::BassEvenness;
use crate::plan::Figures;
use crate::scene::{Scene, Terms};

pub use fit::{CLEAR_WAY, HEAD_FROM_WALL, POINT_FROM_WALL};
pub use set::CannotMove;
pub use sweep::{PositionsError, effort, positions};

/// What is asked of a study.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PositionsAsked {
    /// From one place of the grid to the next, meters; without it as fine as some hundred places allow.
    pub step_m: Option<f64>,
    /// What loudspeakers and microphones keep from walls at least, meters; without it [`POINT_FROM_WALL`].
    pub from_walls_m: Option<f64>,
    /// Names of things that stay where they are, though they would move along.
    pub stays: Vec<String>,
}

/// Where a listening set stands.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SetPlace {
    /// Its middle on the floor plan: the mean of the receivers that move.
    pub middle_m: [f64; 2],
    /// By how much it is turned against the present facing, counterclockwise seen from above: 0, 90, 180 or 270.
    pub turned_deg: u32,
}

impl SetPlace {
    /// Its middle.
    #[must_use]
    pub fn middle(&self) -> DVec2 {
        DVec2::from_array(self.middle_m)
    }

    /// How many quarter turns.
    #[must_use]
    pub fn quarters(&self) -> u32 {
        self.turned_deg / 90 % 4
    }
}

/// Places of a listening set, and what each is worth before anything more hangs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PositionsStudy {
    /// What moves as one piece, in words.
    pub moves: Vec<String>,
    /// Blocks that stay where they are.
    pub stays: Vec<String>,
    /// What its middle is, in words.
    pub middle: String,
    /// From one place of the grid to the next.
    pub step_m: f64,
    /// What loudspeakers and microphones keep from walls at least.
    pub points_from_walls_m: f64,
    /// What heads keep from walls at least.
    pub heads_from_walls_m: f64,
    /// What stays clear before a door beyond its own width.
    pub clear_way_m: f64,
    /// Range that the use asks the mean decay to lie in; `null` where nothing asks.
    pub asked_decay_s: Option<[f64; 2]>,
    /// Lowest and highest octave of the mean decay; the lowest lies above Schroeder's frequency.
    pub decay_octaves_hz: [u32; 2],
    /// Schroeder's frequency of the bare room: octaves below it have no part in the score.
    pub schroeder_hz: f64,
    /// Where it stands now.
    pub present: Present,
    /// The present facing and its quarter turns.
    pub facings: Vec<Facing>,
    /// Places of the grid at which it fits.
    pub tried: Vec<TriedPlace>,
    /// Places of the grid at which it does not fit, and why.
    pub left_out: Vec<LeftOutPlace>,
    /// The best of the search against the present place, with a fresh seed; the best first, of those that rays cannot tell apart the one with the evenest low end.
    pub finalists: Vec<Finalist>,
    /// What waves tell of it; `null` where none were asked for or could be run.
    pub bass: Option<PositionsBass>,
    /// How many places of the grid are within half a step of the best of them.
    pub places_within_half_step: usize,
    /// Where to stand and why, in sentences made of these figures; lengths in the scene's unit.
    pub reasons: Vec<String>,
    /// What to look to before anything is moved.
    pub cautions: Vec<String>,
    /// Rays from each source: at each place of the grid, round its leaders, and the fewest and most of the finalists.
    pub rays_per_source: [u32; 4],
    /// Whether early level and mean decay of the present place and of every finalist are as sure as the settings ask.
    pub errors_met: bool,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// The set as it stands now.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Present {
    /// Where.
    pub place: SetPlace,
    /// Why it would not be suggested to stand there, if something speaks against it.
    pub objection: Option<String>,
    /// In the first round, like the places of the grid.
    pub tried: TriedFigures,
    /// What it is judged by, in the last round.
    pub figures: Figures,
    /// What is wrong with it, term by term.
    pub faults_steps: Terms<Option<Estimate>>,
    /// All terms together.
    pub together_steps: Estimate,
    /// How even the low end is; `null` without waves.
    pub bass: Option<BassEvenness>,
    /// Where its parts stand.
    pub standing: Vec<Standing>,
}

/// A way to face.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Facing {
    /// By how much it is turned against the present one, counterclockwise seen from above.
    pub turned_deg: u32,
    /// Name of the wall that it faces.
    pub wall: String,
    /// Places of the grid at which the set fits.
    pub places_fitting: usize,
    /// Places of the grid.
    pub places: usize,
}

/// What a place of the grid is told by: early terms alone, few rays.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TriedFigures {
    /// Early level of the judged pairs.
    pub early_level_db: Estimate,
    /// What is over the criterion octave by octave, mean of 1-8 kHz, worst pair.
    pub over_criterion_db: f64,
    /// Early level of left against right, either way; `null` without two loudspeakers.
    pub likeness_db: Option<Estimate>,
    /// C50 of voices, worst pair; `null` without a voice.
    pub speech_c50_db: Option<Estimate>,
    /// By how much its early terms together are better than those of the present place.
    pub better_steps: Estimate,
    /// How even the low end is, in large cells and without what moves along; `null` without waves.
    pub bass: Option<BassEvenness>,
}

/// A place of the grid at which the set fits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct TriedPlace {
    /// Where.
    pub place: SetPlace,
    /// What it is told by.
    pub figures: TriedFigures,
}

/// A place of the grid at which the set does not fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LeftOutPlace {
    /// Where.
    pub place: SetPlace,
    /// Why not.
    pub reason: String,
}

/// One of the best places, judged with a fresh seed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Finalist {
    /// Its number, from 1, the best first.
    pub number: usize,
    /// Where.
    pub place: SetPlace,
    /// Name of the wall that it faces.
    pub facing: String,
    /// How far its middle is from the present one.
    pub moved_m: f64,
    /// What it is judged by.
    pub figures: Figures,
    /// By how much it is better than the present place, term by term.
    pub gains_steps: Terms<Option<Estimate>>,
    /// All terms together.
    pub score_steps: Estimate,
    /// Half the width of the interval of that, wide enough for all finalists together.
    pub half_width_steps: f64,
    /// Whether that is more than its error and noticed: then it is suggested.
    pub is_better: bool,
    /// What is lost in early terms half a step of the grid beside it, the most of the places that fit, in steps that are noticed; `null` where none does.
    pub lost_beside_steps: Option<f64>,
    /// How even the low end is; `null` without waves.
    pub bass: Option<BassEvenness>,
    /// By how much it is evener than at the present place.
    pub evener_db: Option<f64>,
    /// Where its parts stand.
    pub standing: Vec<Standing>,
    /// Rays from each source.
    pub rays_per_source: u32,
}

/// What waves tell of the set: at the least even of the judged receivers, all judged loudspeakers together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct PositionsBass {
    /// Up to which frequency.
    pub top_hz: f64,
    /// Third octaves that count, nominal middles of the lowest and the highest.
    pub octaves_hz: [f64; 2],
    /// Sources that sound together.
    pub sources: Vec<String>,
    /// Edge of a cell at the present place, the finalists and the evenest place.
    pub cell_m: f64,
    /// Edge of a cell over the grid.
    pub grid_cell_m: f64,
    /// By how much evenness over the grid is off that in smaller cells with all that moves, the most of the places that were heard both ways.
    pub grid_off_db: Option<f64>,
    /// The evenest place of all that were heard in the smaller cells: it may be the present one or a finalist.
    pub evenest: Option<EvenestPlace>,
}

/// The best place for the low end alone.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EvenestPlace {
    /// Where.
    pub place: SetPlace,
    /// Name of the wall that it faces.
    pub facing: String,
    /// How far its middle is from the present one.
    pub moved_m: f64,
    /// How even the low end is.
    pub bass: BassEvenness,
    /// By how much its early terms together are better than those of the present place, few rays; `null` where it is not a place of the grid.
    pub score_steps: Option<Estimate>,
    /// Where its parts stand.
    pub standing: Vec<Standing>,
}

/// Where a part of the set stands, for a tape.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Standing {
    /// What it is: `seat`, `loudspeaker`, `block`, ...
    pub kind: String,
    /// Its name.
    pub name: String,
    /// The point that is measured: the ears, the acoustic center, the middle of a block's footprint at its underside.
    pub point_m: [f64; 3],
    /// Distances from walls that are not parallel, square to each, the nearer first.
    pub from_walls: Vec<WallDistance>,
    /// Direction of its own x axis against the x axis of the plan, of a block that is turned with the set; `null` of others.
    pub rotation_deg: Option<f64>,
}

/// A distance square to a wall.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct WallDistance {
    /// Name of the wall.
    pub wall: String,
    /// The distance.
    pub distance_m: f64,
}

impl PositionsStudy {
    /// The place that is suggested; `None` where the present one is as good as any that was tried.
    #[must_use]
    pub fn suggested(&self) -> Option<&Finalist> {
        self.finalists.first().filter(|finalist| finalist.is_better)
    }

    /// What was in the way of places that do not fit, and of how many, the most frequent first.
    #[must_use]
    pub fn in_the_way(&self) -> Vec<(&str, usize)> {
        reasons::by_reason(&self.left_out)
    }

    /// The scene with the set at the suggested place, asked as it was; `None` where nothing is suggested.
    #[must_use]
    pub fn moved(&self, scene: &Scene, asked: &PositionsAsked) -> Option<Scene> {
        self.moved_to(scene, asked, self.suggested()?)
    }

    /// The scene with the set at one of the best places, asked as it was; `None` where nothing moves.
    #[must_use]
    pub fn moved_to(&self, scene: &Scene, asked: &PositionsAsked, one: &Finalist) -> Option<Scene> {
        set::ListeningSet::of(scene, asked).ok().map(|set| set.at(scene, one.place))
    }
}
