//! The cloud study: how high does a cloud hang, how steeply, how large and where, and how much does it matter?
//!
//! The room is traced anew for every height, and once without the cloud (`trial`). At the best height tilts, sizes and places beside the first one are tried, each by itself.
//!
//! **The best height** has the highest score: by how many just-noticed steps the room is better than without the cloud, as layouts are scored (`plan::score`). A height is
//! not told apart from it if their difference, batch by batch, lies within its interval or under a tenth of a step; intervals are so wide that all of the heights lie in theirs together in 95
//! of 100 repeats, or some of many would look worse by chance. How far such heights reach without a break, and those within half a step, is how flat the optimum is.
//!
//! *References.* Early level and criterion: `findings::reflections`; just-noticeable differences: `plan::search`; zones: `fresnel`; both faces of a cloud: `room::open`.
//!
//! *Limits.* The best of many heights looks a little better than it is, as the best of any figures with errors does. Tilts, sizes and places are tried one at a time.

mod fresnel;
mod hang;
mod reasons;
mod sweep;
mod trial;

use glam::DVec2;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Bands;
use crate::findings::Estimate;
use crate::plan::Figures;
use crate::scene::{Cloud, Panel, PanelPlace, Terms};

pub use fresnel::{CeilingBounce, ceiling_bounces, covered, mean_covered, shadow, zone};
pub use hang::{CannotHang, HEIGHTS_MOST};
pub use sweep::{CloudError, cloud};

/// What a height is called at which the cloud hangs already.
pub const NOW: &str = "as it hangs now";

/// What is asked of a study.
#[derive(Clone, Debug, PartialEq)]
pub struct CloudAsked {
    /// Name of the type; without it the cloud that hangs, or the first type in stock.
    pub kind: Option<String>,
    /// Middle of its underside on the floor plan, meters; without it over the ceiling's first reflection points.
    pub center_m: Option<[f64; 2]>,
    /// How many heights.
    pub heights: u32,
    /// Lowest of them, meters; without it by the headroom.
    pub from_m: Option<f64>,
    /// Highest of them, meters; without it where the cloud touches the ceiling.
    pub to_m: Option<f64>,
}

impl Default for CloudAsked {
    fn default() -> Self {
        Self { kind: None, center_m: None, heights: 25, from_m: None, to_m: None }
    }
}

/// A cloud at many heights, and at the best of them otherwise.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CloudStudy {
    /// Type of its panels.
    pub kind: String,
    /// Number among the scene's panels, from 1, of the cloud that hangs there already and was taken down for the comparison; `null` of one from the stock.
    pub hung_panel_number: Option<usize>,
    /// Where its center comes from, in words.
    pub centered: String,
    /// Middle of its underside on the floor plan.
    pub center_m: [f64; 2],
    /// How many panels side by side along x and along y.
    pub panels: [u32; 2],
    /// Its extent along x and along y.
    pub size_m: [f64; 2],
    /// Its thickness.
    pub thickness_m: f64,
    /// Range that the use asks the mean decay to lie in; `null` where nothing asks.
    pub asked_decay_s: Option<[f64; 2]>,
    /// Lowest and highest octave of the mean decay; the lowest lies above Schroeder's frequency.
    pub decay_octaves_hz: [u32; 2],
    /// Schroeder's frequency of the bare room: octaves below it are a statistical reading.
    pub schroeder_hz: f64,
    /// The room without the cloud.
    pub without: Without,
    /// Heights that were tried, the lowest first.
    pub heights: Vec<CloudVariant>,
    /// Heights at which it does not fit, and why.
    pub left_out: Vec<LeftOut>,
    /// Number of the best among `heights`.
    pub best: usize,
    /// From where to where heights are not told apart from the best, without a break.
    pub alike_m: [f64; 2],
    /// From where to where scores are within half a step of the best, without a break.
    pub half_step_m: [f64; 2],
    /// Why that height, in sentences made of these figures; lengths in the scene's unit.
    pub reasons: Vec<String>,
    /// What else was tried at the best height.
    pub besides: Vec<Besides>,
    /// Fewest and most rays from each source that one room took.
    pub rays_per_source: [u32; 2],
    /// Whether every room's early level and mean decay are as sure as the settings ask.
    pub errors_met: bool,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

/// The room without the cloud.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Without {
    /// What it is judged by.
    pub figures: Figures,
    /// Early level by way of the ceiling; `null` where nothing comes that way.
    pub ceiling_db: Option<f64>,
    /// The same by octave.
    pub ceiling_by_octave_db: Bands<Option<f64>>,
    /// Depth of the comb that the loudest way by the ceiling makes at an ear, the deepest; `null` where none comes.
    pub comb_depth_db: Option<f64>,
}

/// Something that was varied at the best height.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Besides {
    /// `tilt`, `size`, `place`.
    pub what: String,
    /// Each as near to the best height as it fits; how far behind is told against that.
    pub variants: Vec<CloudVariant>,
    /// What does not fit, and why.
    pub left_out: Vec<LeftOut>,
}

/// A cloud that does not fit.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct LeftOut {
    /// What was tried, in words.
    pub what: String,
    /// Height of the middle of its underside.
    pub underside_m: f64,
    /// Why it does not hang there.
    pub reason: String,
}

/// The room with the cloud in one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct CloudVariant {
    /// Its number, from 1.
    pub number: usize,
    /// What is tried, in words.
    pub what: String,
    /// Height of the middle of its underside.
    pub underside_m: f64,
    /// Middle of its underside on the floor plan.
    pub center_m: [f64; 2],
    /// Whether the longer side of its panels lies along y.
    pub turned: bool,
    /// By how much it rises along x and along y.
    pub tilt_deg: [f64; 2],
    /// How many panels side by side along x and along y.
    pub panels: [u32; 2],
    /// Clear height below its lowest edge.
    pub headroom_m: f64,
    /// Air from the middle of its back to the nearest ceiling plane.
    pub air_above_m: f64,
    /// What it is judged by.
    pub figures: Figures,
    /// Early level by way of the ceiling; `null` where nothing comes that way.
    pub ceiling_db: Option<f64>,
    /// The same by octave.
    pub ceiling_by_octave_db: Bands<Option<f64>>,
    /// Early level by way of the cloud's own faces; `null` where nothing comes that way.
    pub cloud_db: Option<f64>,
    /// The same by octave.
    pub cloud_by_octave_db: Bands<Option<f64>>,
    /// Depth of the comb that the loudest way by ceiling or cloud makes at an ear, the deepest; `null` where none comes.
    pub comb_depth_db: Option<f64>,
    /// Share of the first Fresnel zones of the ceiling's bounces that it covers, mean of the bounces; `null` where the ceiling mirrors nothing to a receiver.
    pub zone_share: Option<Bands<f64>>,
    /// What it absorbs as it hangs: front, back and edges.
    pub absorption_m2: Bands<f64>,
    /// How much more that is than flush on a surface.
    pub gained_m2: Bands<f64>,
    /// By how much the mean decay changes against the room without it; `null` where none can be read.
    pub decay_change_percent: Option<Estimate>,
    /// By how much better than without it, term by term.
    pub gains_steps: Terms<Option<Estimate>>,
    /// All terms together.
    pub score_steps: Estimate,
    /// By how much the best is ahead of it.
    pub behind_steps: Estimate,
    /// Whether it is not told apart from the best.
    pub alike: bool,
    /// Rays from each source.
    pub rays_per_source: u32,
}

impl CloudStudy {
    /// The best height.
    #[must_use]
    pub fn best(&self) -> Option<&CloudVariant> {
        self.heights.iter().find(|variant| variant.number == self.best)
    }

    /// The cloud at the best height.
    #[must_use]
    pub fn panel(&self) -> Option<Panel> {
        self.best().map(|best| self.hung(best))
    }

    /// The cloud as one of its variants has it.
    #[must_use]
    pub fn hung(&self, variant: &CloudVariant) -> Panel {
        let [center, tilt] = [variant.center_m, variant.tilt_deg].map(DVec2::from_array);
        let cloud = Cloud { center, underside: variant.underside_m, turned: variant.turned, tilt, panels: variant.panels };
        Panel { kind: self.kind.clone(), place: PanelPlace::Cloud(cloud) }
    }
}
