//! Where the stock hangs, what each panel earns, and how that compares with the rules of thumb.

pub mod accounts;
pub mod bass;
pub mod choice;
pub mod cloud;
pub mod decay;
pub mod explain;
pub mod flush;
pub mod integral;
pub mod low;
pub mod maps;
pub mod place;
pub mod positions;
mod reasons;
pub mod score;
pub mod search;
pub mod stock;
mod sure;
pub mod thumb;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::bands::Band;
use crate::findings::{Estimate, Findings, Place};
use crate::scene::{self, Terms};

pub use bass::BassOctave;
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
    /// Air behind what hangs or stands before a surface, m; left out for corner panels and clouds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gap_m: Option<f64>,
    /// Height over the floor of the middle of a cloud's underside, m; left out for all else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub underside_m: Option<f64>,
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

/// What becomes of a panel that hangs already.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Becomes {
    /// It stays where it is.
    Stays,
    /// It hangs elsewhere.
    Moves,
    /// It goes back into the stack.
    ComesDown,
}

/// A panel that hangs already, where the plan may move it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HungBefore {
    /// Its number among the panels of the scene, from 1.
    pub panel: u32,
    /// Type.
    pub kind: String,
    /// Where it hangs now: its lower left corner.
    pub place: Place,
    /// Width and height as it hangs.
    pub size_m: [f64; 2],
    /// What becomes of it.
    pub becomes: Becomes,
    /// Its number in the plan, if it stays or moves.
    pub number: Option<u32>,
}

/// Pieces of a type that are bought.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bought {
    /// Type.
    pub kind: String,
    /// How many.
    pub count: u32,
    /// Price of one, in the currency of the scene.
    pub price: f64,
    /// Price of all, in the currency of the scene.
    pub cost: f64,
}

/// One piece more than the plan hangs, and what it would bring.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct NextPurchase {
    /// Type.
    pub kind: String,
    /// Price of one, in the currency of the scene.
    pub price: f64,
    /// Where it would hang: its lower left corner.
    pub place: Place,
    /// By how much the room would be better, on the rays that layouts are judged by.
    pub better_steps: Estimate,
}

/// What the plan costs.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Purchase {
    /// Money that may be spent, in the currency of the scene.
    pub budget: f64,
    /// What is bought, by type.
    pub bought: Vec<Bought>,
    /// What all of it costs, in the currency of the scene.
    pub cost: f64,
    /// What is left of the money, in the currency of the scene.
    pub rest: f64,
    /// What would bring most for its price if it were bought, too; `null` where nothing that is for sale and has a place promises anything.
    pub next: Option<NextPurchase>,
}

/// One way to hang the stock, judged by a fresh trace.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Layout {
    /// `bare`, `as it hangs` where what hangs may be moved, `plan`, `first reflection points, corners, even spread`, `even spread`.
    pub name: String,
    /// Panels in it.
    pub panels: u32,
    /// What hangs in it, as a scene file says it: copied into one, it is that layout. Nothing where nothing hangs, and in plans that were written before this was kept.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub hangs: String,
    /// Share of floor, walls and ceiling.
    pub treated_share: f64,
    /// What its pieces cost that are not owned, in the currency of the scene; left out without a budget.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost: Option<f64>,
    /// What it is judged by.
    pub figures: Figures,
    /// What is wrong with it, in steps that are just noticed, each times its weight; `null` where a term is not asked for or cannot be told.
    pub faults_steps: Terms<Option<Estimate>>,
    /// All of that together.
    pub together_steps: Estimate,
    /// By how much the plan is better, on the same rays; 0 for the plan itself.
    pub plan_better_steps: Estimate,
}

/// A panel of a plan that is not to be hung before what holds it is known.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct HeldBack {
    /// Its number in hanging order.
    pub number: u32,
    /// What it would hang under.
    pub surface: String,
    /// Why not.
    pub why: Vec<String>,
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
    /// Those of them that are not to be hung as the scene stands; left out where there are none. The search does not know it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub held_back: Vec<HeldBack>,
    /// Findings with the plan hung but for what is held back, as built, by images and rays alone; left out where nothing is held back, and in plans that were written before this was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub meanwhile: Option<Findings>,
    /// What hangs already and may be moved, and what becomes of each; left out where nothing may.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub hung_before: Vec<HungBefore>,
    /// Where there is a budget: what the plan costs. Left out without one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub purchase: Option<Purchase>,
    /// Owned stock left over, by type.
    pub left_over: Vec<(String, u32)>,
    /// Why it stopped.
    pub stopped_because: String,
    /// Lowest and highest octave that the decay of layouts and earnings is the mean of, Hz; the lowest lies above Schroeder's frequency.
    pub decay_octaves_hz: [u32; 2],
    /// Octaves that the term `bass` of the layouts is the mean of; left out where no waves were run, or it counts nothing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub bass_octaves: Vec<BassOctave>,
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

    /// Numbers among the panels of the scene, from 0, of those that leave their places.
    #[must_use]
    pub fn leaving(&self) -> Vec<usize> {
        self.hung_before.iter().filter(|before| before.becomes != Becomes::Stays).map(|before| before.panel as usize - 1).collect()
    }

    /// Whether a panel of the plan hangs there already.
    #[must_use]
    pub fn hangs_already(&self, number: u32) -> bool {
        self.hung_before.iter().any(|before| before.becomes == Becomes::Stays && before.number == Some(number))
    }

    /// Of the panels that the plan hangs, in its order, those that do not hang there already.
    #[must_use]
    pub fn to_hang(&self, placed: &[scene::Panel]) -> Vec<scene::Panel> {
        let numbered = self.placed.iter().zip(placed);
        numbered.filter(|(placed, _)| !self.hangs_already(placed.number)).map(|(_, panel)| panel.clone()).collect()
    }

    /// Whether the bass of an octave counts in the score of its layouts.
    #[must_use]
    pub fn counts_bass(&self, band: Band) -> bool {
        self.bass_octaves.iter().any(|octave| octave.frequency_hz == band.nominal())
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
#[derive(Clone, Debug, Default)]
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
    /// All that hangs in each of [`Plan::layouts`], in their order.
    pub layouts: Vec<Vec<scene::Panel>>,
}
