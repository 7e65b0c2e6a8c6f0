//! Where the stock hangs, what each panel earns, and how that compares with the rules of thumb.

pub mod choice;
pub mod cloud;
pub mod decay;
pub mod explain;
pub mod flush;
pub mod integral;
pub mod maps;
pub mod place;
pub mod positions;
mod reasons;
pub mod score;
pub mod search;
mod sure;
pub mod thumb;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Band;
use crate::findings::{Estimate, Findings, Place};
use crate::scene::{self, Terms};

pub use choice::Choice;
pub use explain::{AfterPanels, Curve, Earnings};
pub use score::Figures;

/// The smallest region that holds half of one reflection's map integral.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HotSpot {
    /// Its middle.
    pub center: Place,
    /// Its middle in room coordinates.
    pub point_m: [f64; 3],
    /// Width and height of the region.
    pub extent_m: [f64; 2],
    /// Area of the region.
    pub area_m2: f64,
    /// Loudspeaker or voice.
    pub source: String,
    /// Seat or microphone.
    pub receiver: String,
    /// Delay of the reflection after the direct sound.
    pub delay_ms: f64,
    /// Its level in 1-8 kHz re direct.
    pub level_db: f64,
    /// Share of early reflected energy (of this source at this receiver) that goes through here.
    pub share: f64,
}

/// Values on one surface, row by row from its lower left corner.
#[derive(Clone, Debug, PartialEq)]
pub struct SurfaceMap {
    /// Index into the room's surfaces.
    pub surface: usize,
    /// Side of a patch, meters.
    pub patch_m: f64,
    /// Lowest corner of patch (0, 0) in chart coordinates, meters.
    pub origin: glam::DVec2,
    /// Patches in a row.
    pub columns: usize,
    /// Rows.
    pub rows: usize,
    /// Value by patch; NaN outside the surface's outline.
    pub values: Vec<f64>,
    /// Its standard error.
    pub errors: Vec<f64>,
}

/// One placed panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Placed {
    /// Number in hanging order, from 1.
    pub number: u32,
    /// Type.
    pub kind: String,
    /// Lower left corner on its surface (for a corner panel: the wall left of the corner; for a cloud: the ceiling plane above).
    pub place: Place,
    /// Width and height as hung.
    pub size_m: [f64; 2],
    /// How it is put up: `flat`, `corner`, `cloud`, `stands`, `lies`.
    pub mount: String,
    /// Why it is here: `hot spot`, `corner`, `decay`.
    pub reason: String,
    /// What it serves, in words.
    pub serves: String,
    /// Early level lost when this panel alone is removed, mean of the judged sources, dB; earnings do not add up.
    pub earns_early_db: Estimate,
    /// By how many percent T30 grows when this panel alone is removed, mean over the octaves of [`Plan::decay_octaves_hz`] and the judged pairs; earnings do
    /// not add up. `null` where no decay can be read.
    pub earns_decay_percent: Option<Estimate>,
    /// What it is worth in the score.
    pub earns: Earnings,
}

/// One way to hang the stock, judged by a fresh trace.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// `bare`, `plan`, `first reflection points, corners, even spread`, `even spread`.
    pub name: String,
    /// Panels in it.
    pub panels: u32,
    /// Share of floor, walls and ceiling.
    pub treated_share: f64,
    /// What it is judged by.
    pub figures: Figures,
    /// What is wrong with it, in steps that are just noticed, each times its weight; `null` where a term is not asked for or cannot be told.
    pub faults_steps: Terms<Option<Estimate>>,
    /// All of that together.
    pub together_steps: Estimate,
    /// By how much the plan is better, on the same rays; 0 for the plan itself.
    pub plan_better_steps: Estimate,
}

/// The plan and what it is worth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Plan {
    /// Hot spots of the room as it stands.
    pub hot_spots: Vec<HotSpot>,
    /// Where types in stock exclude one another: the alternatives, each planned, and which is hung and why. Left out where there is nothing to choose.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub choice: Option<Choice>,
    /// Panels that the plan hangs.
    pub placed: Vec<Placed>,
    /// Stock left over, by type.
    pub left_over: Vec<(String, u32)>,
    /// Why it stopped.
    pub stopped_because: String,
    /// Lowest and highest octave that the decay of layouts and earnings is the mean of, Hz; the lowest lies above Schroeder's frequency.
    pub decay_octaves_hz: [u32; 2],
    /// Findings as the room stands.
    pub before: Findings,
    /// Findings with the plan hung, as built, traced anew with another seed.
    pub after: Findings,
    /// What a just noticed step of each term of the score counts.
    pub weights: Terms<f64>,
    /// Bare, ours and the rules of thumb, all weighed on one fresh trace.
    pub layouts: Vec<Layout>,
    /// How much is wrong after so many panels, on the same trace; `null` where there is nothing to hang.
    pub curve: Option<Curve>,
    /// Where theory or data stop.
    pub notes: Vec<String>,
}

impl Plan {
    /// Names of the types in stock that the plan decided against.
    #[must_use]
    pub fn out(&self) -> Vec<&str> {
        self.choice.as_ref().map_or_else(Vec::new, Choice::out)
    }

    /// `500 Hz - 4 kHz`: the octaves that decays of layouts are the mean of.
    #[must_use]
    pub fn decay_octaves(&self) -> String {
        let label = |frequency: u32| Band::ALL.into_iter().find(|band| band.nominal() == frequency).map_or("none", Band::label);
        let [low, high] = self.decay_octaves_hz.map(label);
        format!("{low} - {high}")
    }
}

/// Everything `place` hands to the report beyond the JSON.
#[derive(Clone, Debug)]
pub struct PlanPictures {
    /// What one panel of the chosen stock earns, centered at each patch, dB per panel off the early level, all sources, by surface.
    pub earning: Vec<SurfaceMap>,
    /// Early derivative G, dB/m2, all sources.
    pub early: Vec<SurfaceMap>,
    /// Derivative of clarity (C50), dB/m2, all sources.
    pub clarity: Vec<SurfaceMap>,
    /// Late derivative, percent of T30 per m2.
    pub late: Vec<SurfaceMap>,
    /// The scene's own panels plus the placed ones.
    pub panels: Vec<scene::Panel>,
}
