//! What does an absorber absorb? The materials table listed and searched; rows of it beside the model of a layer; build-ups side by side, for the same price, depth or
//! thickness.
//!
//! What stands beside what is a [`Sample`]: a row of the table, a build-up as the user typed it (`written`), or a type of panel in a scene's stock. All have the same figures, in a
//! diffuse field and at normal incidence, so that one table and one chart hold them all. A [`Choice`] is one of them by itself, for a hand that picks.
//!
//! - *In a diffuse field*: random-incidence absorption by octave. Of a row as published, which may pass 1; of a build-up by its layers.
//! - *Range*: one standard uncertainty to either side (`absorbers::table::range`).
//! - *At normal incidence*: of a row by the law over the angle that rooms are computed with (`absorbers::impedance`), of a build-up by its layers, the mean over the octave.
//!
//! - *With edges*: of panels whose size is known, hung one by one and four in a touching row on a hard wall (`absorbers::sized`).
//!
//! *Limits.* All other figures are those of surfaces without end, but for rows that were measured with edges. Clouds and what is typed as suspended
//! count with both sides (`absorbers::suspended`); a stock's corner panels are compared as if they lay flat on a wall.

mod chosen;
mod compared;
mod written;

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::absorbers::table::{self, Category, Row};
use crate::bands::Bands;
use crate::findings::Span;
use crate::scene::{Diagnostic, Scene};
use crate::units::LengthUnit;

pub use chosen::{Choice, panel_type, typed_name};
pub use compared::{LEAD, PRICE_UNIT};

/// What is asked.
#[derive(Clone, Copy, Debug, Default)]
pub struct Asked<'a> {
    /// Words to search the table for; none where only rows, panels or a scene are asked for, or the whole table.
    pub words: &'a str,
    /// Names of rows to show.
    pub rows: &'a [String],
    /// Build-ups to compare, as the user typed them.
    pub panels: &'a [String],
    /// How much money may be spent on each build-up, in the currency of the prices.
    pub budget: Option<f64>,
}

/// What is wrong with one of the texts that were asked with.
#[derive(Clone, Debug, PartialEq)]
pub struct Mistake {
    /// Which text: `panel 2`, `row 1`, `budget`; of one by itself `build-up`, `row 1`, `stock`.
    pub place: String,
    /// The text.
    pub text: String,
    /// What is wrong with it.
    pub diagnostic: Diagnostic,
}

impl Mistake {
    /// As a person reads it: what is wrong, the text with carets under that part of it, what to type instead.
    #[must_use]
    pub fn render(&self) -> String {
        self.diagnostic.render(&self.text, &self.place)
    }
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Absorbers {
    /// Words that the table was searched for.
    pub search: Option<String>,
    /// Rows of the table that were found, or all of them; none where samples were asked for.
    pub listed: Vec<Listed>,
    /// What was asked for side by side, numbered from 1.
    pub samples: Vec<Sample>,
    /// Which samples are alike in price, depth or thickness, and what they absorb then.
    pub groups: Vec<Group>,
    /// Rows that were asked for beside build-ups of layers.
    pub against: Vec<Against>,
    /// How much money is spent on each sample, in the currency of the prices.
    pub budget: Option<f64>,
    /// What must be known to read the figures.
    pub notes: Vec<String>,
}

/// A row of the materials table in a list.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Listed {
    /// Name.
    pub name: String,
    /// What it is used as.
    pub category: String,
    /// Random-incidence absorption coefficient as published; `null` where the source prints none.
    pub absorption: Bands<Option<f64>>,
    /// Whether a transcription of the source was read, or the row is from memory.
    pub status: String,
}

/// What a sample is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum SampleKind {
    /// Known by octave: a row of the table, or a material of the scene.
    Material,
    /// Known by its layers.
    Layers,
}

/// What a layer is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum LayerKind {
    /// A cavity.
    #[default]
    Air,
    /// Fiber or open foam.
    Fiber,
    /// Cloth that resists.
    Cloth,
    /// Film, foil, thin board.
    Membrane,
    /// A sheet with round holes.
    Perforated,
    /// A sheet with slots, or slats.
    Slotted,
}

/// A layer of a sample; what it has none of is `null`.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SampleLayer {
    /// What it is.
    pub what: LayerKind,
    /// Thickness; 0 of membranes and cloth.
    pub thickness_m: f64,
    /// Flow resistivity of fiber.
    pub flow_resistivity_pa_s_per_m2: Option<f64>,
    /// Flow resistance of cloth.
    pub flow_resistance_pa_s_per_m: Option<f64>,
    /// Mass of a membrane, or of a cloth that moves.
    pub mass_kg_per_m2: Option<f64>,
    /// Diameter of holes, or width of slots.
    pub opening_m: Option<f64>,
    /// Share of a sheet that is open.
    pub open_percent: Option<f64>,
}

/// One thing that is compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sample {
    /// Its number in tables and charts, from 1.
    pub number: usize,
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: SampleKind,
    /// Layers, front first; none of a material.
    pub layers: Vec<SampleLayer>,
    /// Whether it hangs in free air, far from any wall.
    pub suspended: bool,
    /// Whether partitions keep sound from running sideways in the layers.
    pub cells: bool,
    /// Of a material: where its values come from.
    pub source: Option<String>,
    /// Of a row of the table: whether a transcription of the source was read, or the row is from memory.
    pub status: Option<String>,
    /// Random-incidence absorption coefficient by octave; as published, it may pass 1. Of what is suspended both sides together, up to 2.
    pub absorption: Bands<f64>,
    /// Where it may lie, one standard uncertainty to either side.
    pub absorption_range: Bands<Span>,
    /// Whether the octave was filled by rule, or lies outside the range that the model of a layer was fitted on.
    pub extrapolated: Bands<bool>,
    /// The same as rooms are computed with: at most 0.99 where it comes from a table.
    pub absorption_used: Bands<f64>,
    /// Of what is suspended: how much of it is the back's.
    pub absorption_back: Option<Bands<f64>>,
    /// Of a panel whose size is known, before a wall: what 1 m2 of it absorbs hung one by one, edges included; it may pass 1.
    pub absorption_alone: Option<Bands<f64>>,
    /// The same of four in a touching row.
    pub absorption_touching: Option<Bands<f64>>,
    /// Absorption coefficient at normal incidence by octave.
    pub absorption_normal: Bands<f64>,
    /// Of a material: the real impedance, re air, that absorbs like this over the angles; `null` where nothing is absorbed.
    pub impedance: Option<Bands<Option<f64>>>,
    /// Of a material: the share of a deep layer matched to air beside it, above what any impedance absorbs.
    pub deep_share: Option<Bands<f64>>,
    /// Scattering coefficient.
    pub scattering: Bands<f64>,
    /// Absorption over frequency, of layers.
    pub curve: Option<AbsorptionCurve>,
    /// Thickness without air.
    pub thickness_m: Option<f64>,
    /// From the wall to the front, air included.
    pub depth_m: Option<f64>,
    /// Price of a square meter, in any currency.
    pub price_per_m2: Option<f64>,
    /// What the budget buys of it.
    pub bought: Option<Bought>,
}

/// Absorption of tones.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct AbsorptionCurve {
    /// Frequencies, log-spaced.
    pub frequency_hz: Vec<f64>,
    /// Absorption coefficient in a diffuse field; of what is suspended both sides together.
    pub absorption_diffuse: Vec<f64>,
    /// Absorption coefficient at normal incidence, on the front.
    pub absorption_normal: Vec<f64>,
}

/// What a budget buys.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Bought {
    /// Whole panels; `null` where only the price of a square meter is known.
    pub panels: Option<u32>,
    /// What they cost.
    pub price: f64,
    /// Their area.
    pub area_m2: f64,
    /// What they absorb, by octave.
    pub absorption_m2: Bands<f64>,
}

/// What samples of a group have in common.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "lowercase")]
pub enum Same {
    /// Money.
    Price,
    /// From the wall to the front.
    Depth,
    /// Of what was bought, air left out.
    Thickness,
}

/// Samples that are alike.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Group {
    /// In what.
    pub same: Same,
    /// Depth or thickness; of price there is none.
    pub size_m: Option<f64>,
    /// Its samples.
    pub members: Vec<Member>,
    /// Number of the sample that absorbs more than every other by a tenth at least, by octave.
    pub ahead: Bands<Option<usize>>,
}

/// A sample of a group.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Member {
    /// Its number.
    pub number: usize,
    /// What is absorbed by octave: by what 100 of the currency buy, or by a square meter.
    pub absorbed_m2: Bands<f64>,
}

/// A row beside the model of a build-up.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Against {
    /// Number of the row.
    pub row: usize,
    /// Number of the build-up.
    pub layers: usize,
    /// Random-incidence absorption coefficient of the row, less that of the layers.
    pub difference: Bands<f64>,
    /// Whether their ranges do not touch.
    pub apart: Bands<bool>,
}

/// The unit that lengths of the answer are printed in: the scene's, or that of the first length that was typed.
#[must_use]
pub fn unit(asked: &Asked<'_>, scene: Option<&Scene>) -> LengthUnit {
    let typed = || asked.panels.iter().find_map(|text| written::read(text).ok()?.unit);
    scene.map(|scene| scene.unit).or_else(typed).unwrap_or(LengthUnit::Millimeter)
}

/// Answers what is asked; types of panel in a scene's stock are compared with the rest.
///
/// # Errors
/// Everything that is wrong with the texts.
pub fn absorbers(asked: &Asked<'_>, scene: Option<&Scene>) -> Result<Absorbers, Vec<Mistake>> {
    let (samples, mut mistakes) = compared::samples(asked, scene);
    let wanted = !asked.rows.is_empty() || !asked.panels.is_empty() || scene.is_some();
    if let Some(mistake) = compared::budget_mistake(asked.budget, &samples).filter(|_| mistakes.is_empty()) {
        mistakes.push(mistake);
    }
    if !mistakes.is_empty() {
        return Err(mistakes);
    }
    let words = asked.words.trim();
    let mut notes = Vec::new();
    let listed = if wanted { Vec::new() } else { listed(words, &mut notes) };
    let by_density = asked.panels.iter().any(|text| written::read(text).is_ok_and(|written| written.extremes.is_some()));
    notes.extend(compared::notes(&samples, scene, by_density));
    Ok(Absorbers {
        search: (!words.is_empty()).then(|| words.to_owned()),
        listed,
        groups: compared::groups(&samples),
        against: compared::against(&samples, asked.rows.len()),
        samples,
        budget: asked.budget,
        notes,
    })
}

/// Rows that are called nearly so when nothing is called so.
const NEAREST: usize = 3;

/// The rows that are searched for, or all, category by category.
fn listed(words: &str, notes: &mut Vec<String>) -> Vec<Listed> {
    if words.is_empty() {
        let rows = |category| table::rows().iter().filter(move |row| row.category == category);
        return Category::ALL.into_iter().flat_map(rows).map(in_list).collect();
    }
    let mut rows = table::search(words);
    if rows.is_empty() {
        notes.push(format!("No row is called \"{words}\"; these names are the nearest."));
        rows = table::nearest(words, NEAREST);
    }
    rows.into_iter().map(in_list).collect()
}

fn in_list(row: &Row) -> Listed {
    Listed {
        name: row.name.to_owned(),
        category: row.category.label().to_owned(),
        absorption: row.published,
        status: row.status.label().to_owned(),
    }
}
