//! What each type of panel in stock is made of, what it absorbs as it would be hung, and what its owner should know of it.
//!
//! *Cautions.* A facing that turns the high octaves back: the mean random-incidence absorption of the octaves 2 to 8 kHz falls by more than [`HIGH_OCTAVES_LOSS`] against the
//! same panel without the sheets before its first fiber or air. A model that does not hold at some octaves, and the one that computes there. A flow resistivity
//! that is only known by density, where the published laws leave more than a factor of two.
//!
//! *References.* Models and laws: `absorbers`.
//!
//! *Limits.* Absorption is that of an endless panel before a rigid wall, `gap` behind it; what one of its size takes with its edges stands beside it.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::survey::material_source;
use crate::absorbers::sized::piece::Beside;
use crate::absorbers::{BuildUp, Finish};
use crate::bands::{Band, Bands};
use crate::hanging::stands_free;
use crate::room::{build_up, panel_finish};
use crate::scene::build_up::ScatteringRule;
use crate::scene::{Core, CoreLayer, Facing, Fiber, Filling, PanelType, Scene, StockKind};
use crate::units::{Length, LengthUnit};

/// A facing is cautioned against if it takes more than this off the mean absorption of the high octaves: twice what published tables of one material
/// disagree by there.
pub const HIGH_OCTAVES_LOSS: f64 = 0.1;

/// How the source of a coefficient begins that a rule gives.
pub const SCATTERING_RULE: &str = "a rule without a measurement: ";

/// From the lowest to the highest law, above which the owner is told to look for a declared value.
const WIDE_SPREAD: f64 = 2.0;

/// One type of panel.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct StockPanel {
    /// Name of the type.
    pub name: String,
    /// What it is made of, front first, the air behind it last.
    pub made_of: Vec<String>,
    /// From its front to the wall.
    pub depth_m: f64,
    /// Random-incidence absorption by band.
    pub absorption: Bands<f64>,
    /// Bands whose value was filled by rule, or lies outside what the model was fitted on.
    pub extrapolated: Bands<bool>,
    /// What one panel takes on a wall, with what its edges draw in; `null` where it does not hang flat, or nothing but a value with edges in it is known.
    pub edged: Option<EdgedPanel>,
    /// Where the values come from.
    pub source: String,
    /// Scattering coefficient by band.
    pub scattering: Bands<f64>,
    /// By what it is known: the scene, or a rule.
    pub scattering_source: String,
    /// Mean random-incidence absorption of the octaves 2 to 8 kHz without the sheets before its first fiber or air; `None` where there are none.
    pub high_octaves_absorption_unfaced: Option<f64>,
    /// What its owner should know.
    pub cautions: Vec<String>,
}

/// What one panel of its size absorbs on a hard wall by what hangs beside it, by octave.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct EdgedPanel {
    /// Without edges.
    pub endless_m2: Bands<f64>,
    /// By itself.
    pub alone_m2: Bands<f64>,
    /// In a touching row of four.
    pub touching_m2: Bands<f64>,
    /// In a row of four with gaps of 0.3 m.
    pub apart_m2: Bands<f64>,
}

impl EdgedPanel {
    fn of(finish: &Finish, kind: &PanelType) -> Option<Self> {
        if stands_free(kind.kind) || matches!(kind.kind, StockKind::Corner | StockKind::Cloud) {
            return None;
        }
        let Beside { alone, touching, apart } = Beside::of(finish, kind.size)?;
        let area = kind.size.element_product();
        Some(Self { endless_m2: finish.absorption * area, alone_m2: alone * area, touching_m2: touching * area, apart_m2: apart * area })
    }
}

/// Every type in stock.
#[must_use]
pub fn stock(scene: &Scene) -> Vec<StockPanel> {
    scene.stock.iter().map(|kind| panel(scene, kind)).collect()
}

fn panel(scene: &Scene, kind: &PanelType) -> StockPanel {
    let finish = panel_finish(scene, kind, kind.gap);
    let unfaced = unfaced(kind).map(|bare| high_octaves(&bare));
    let mut cautions = Vec::new();
    if let Some(without) = unfaced.filter(|without| without - high_octaves(&finish) > HIGH_OCTAVES_LOSS) {
        cautions.push(format!(
            "What lies before it turns the high octaves back: of 2 to 8 kHz it absorbs {:.2} on average, without that {without:.2}.",
            high_octaves(&finish)
        ));
    }
    if let Some(build_up) = build_up(kind, kind.gap) {
        cautions.extend(substitutes(&build_up));
    }
    if !kind.other_gaps.is_empty() {
        let told = if kind.gap > 0.0 { format!("{} of air", thickness(kind.gap, scene.unit)) } else { "no air".to_owned() };
        cautions.push(format!("What is told of it holds with {told} behind it, the first of its gaps; a plan chooses one for each panel."));
    }
    for filling in fillings(kind) {
        let estimate = filling.resistivity();
        if estimate.high > WIDE_SPREAD * estimate.low {
            cautions.push(format!(
                "By its density its flow resistivity may be {:.0} to {:.0} Pa s/m2; {:.0} is computed with. A declared value is better.",
                estimate.low, estimate.high, estimate.likely
            ));
        }
    }
    StockPanel {
        name: kind.name.clone(),
        made_of: made_of(kind, scene.unit),
        depth_m: finish.depth,
        absorption: finish.absorption,
        extrapolated: finish.extrapolated,
        edged: EdgedPanel::of(&finish, kind),
        source: source(scene, kind),
        scattering: kind.scattering(),
        scattering_source: scattering_source(kind, scene.unit),
        high_octaves_absorption_unfaced: unfaced,
        cautions,
    }
}

/// Mean of the octaves 2 to 8 kHz.
fn high_octaves(finish: &Finish) -> f64 {
    (5..8).map(|index| finish.absorption[Band::new(index)]).sum::<f64>() / 3.0
}

/// The same panel without the sheets before its first fiber or air; `None` where there are none, and for measured rows.
fn unfaced(kind: &PanelType) -> Option<Finish> {
    let full = build_up(kind, kind.gap)?;
    let sheets = kind.layers()?.iter().take_while(|layer| matches!(layer, CoreLayer::Sheet(_))).count();
    (sheets > 0).then(|| Finish::of(&kind.name, &BuildUp { layers: full.layers[sheets..].to_vec(), ..full.clone() }, kind.scattering()))
}

/// Where another model computes than the one that was asked for.
fn substitutes(build_up: &BuildUp) -> Vec<String> {
    let one = |substitute: &crate::absorbers::layers::Substitute| {
        let bands: Vec<&str> = Band::ALL.iter().filter(|&&band| substitute.bands[band]).map(|band| band.label()).collect();
        format!("{} does not hold at {}; {} computes there.", substitute.asked.label(), joined(&bands), substitute.used.label())
    };
    let mut said: Vec<String> = build_up.substitutes().iter().map(one).collect();
    said.dedup();
    said
}

/// `a, b and c`
fn joined(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [word] => (*word).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

fn fillings(kind: &PanelType) -> Vec<Filling> {
    let layers = kind.layers().unwrap_or_default();
    layers.into_iter().filter_map(|layer| if let CoreLayer::Porous { filling, .. } = layer { Some(filling) } else { None }).collect()
}

fn source(scene: &Scene, kind: &PanelType) -> String {
    let mut models: Vec<&str> = fillings(kind).iter().map(|filling| filling.model().label()).collect();
    models.dedup();
    match &kind.core {
        Core::Material(material) => material_source(scene, material),
        _ if models.is_empty() => "computed from its layers".to_owned(),
        _ => format!("computed from its layers (fiber and foam: {})", joined(&models)),
    }
}

/// By what its scattering coefficient is known.
fn scattering_source(kind: &PanelType, unit: LengthUnit) -> String {
    match kind.scattering_rule() {
        ScatteringRule::Given => "the scene".to_owned(),
        ScatteringRule::Flat => "flat things (common practice, no source)".to_owned(),
        ScatteringRule::Slots { period } => format!("{SCATTERING_RULE}slats and slots that repeat after {}", thickness(period, unit)),
        ScatteringRule::Steps { depth, period } => {
            format!("{SCATTERING_RULE}steps up to {} deep over {}", thickness(depth, unit), thickness(period, unit))
        }
    }
}

/// What it is made of in words, front first, the air behind it last.
#[must_use]
pub fn made_of(kind: &PanelType, unit: LengthUnit) -> Vec<String> {
    let thin = |meters: f64| thickness(meters, unit);
    let mut words = match (kind.layers(), &kind.core) {
        (Some(layers), _) => layers.iter().map(|layer| words_of(layer, unit)).collect(),
        (None, Core::Material(material)) => vec![format!("{}: {material}", thin(kind.thickness))],
        (None, _) => Vec::new(),
    };
    if kind.facing == Some(Facing::OpenCloth) {
        words.insert(0, "open cloth".to_owned());
    }
    let gaps: Vec<String> = kind.gaps().map(thin).collect();
    words.extend(kind.gaps().any(|gap| gap > 0.0).then(|| format!("{} air", gaps.join(" or "))));
    words
}

fn words_of(layer: &CoreLayer, unit: LengthUnit) -> String {
    let thin = |meters: f64| thickness(meters, unit);
    match layer {
        CoreLayer::Porous { filling, thickness } => format!("{} {}", thin(*thickness), filling_words(filling)),
        CoreLayer::Air { thickness } => format!("{} air", thin(*thickness)),
        CoreLayer::Sheet(sheet) => match *sheet {
            Facing::OpenCloth => "open cloth".to_owned(),
            Facing::Cloth { flow_resistance, mass } => format!("cloth of {flow_resistance} Pa s/m and {mass} kg/m2"),
            Facing::Membrane { mass } => format!("membrane of {mass} kg/m2"),
            Facing::Perforated { hole, open, thickness } => {
                format!("{} sheet, {:.1} % open by holes of {}", fine(thickness), 100.0 * open, fine(hole))
            }
            Facing::Slotted { slot, open, thickness } => {
                format!("{} slats, {:.1} % open by slots of {}", fine(thickness), 100.0 * open, fine(slot))
            }
        },
    }
}

fn filling_words(filling: &Filling) -> String {
    let resistivity = filling.resistivity().likely;
    let Some(fiber) = filling.fiber else { return format!("fiber or foam of {resistivity:.0} Pa s/m2") };
    let kind = match fiber.kind {
        Fiber::Glass => "glass fiber",
        Fiber::Mineral => "mineral fiber",
        Fiber::Polyester => "polyester fiber",
    };
    let known = if filling.flow_resistivity.is_some() { "" } else { "about " };
    format!("{kind}, {} kg/m3, {known}{resistivity:.0} Pa s/m2", fiber.density)
}

/// A thickness as it is bought: millimeters, or inches where the scene is in feet or inches.
#[must_use]
pub fn thickness(meters: f64, unit: LengthUnit) -> String {
    match unit {
        LengthUnit::Foot | LengthUnit::Inch => Length(meters).print(LengthUnit::Inch),
        LengthUnit::Meter | LengthUnit::Centimeter | LengthUnit::Millimeter | LengthUnit::Micrometer => {
            Length(meters).print(LengthUnit::Millimeter)
        }
    }
}

/// Millimeters to a tenth: holes and sheets are thin in every unit.
fn fine(meters: f64) -> String {
    format!("{} mm", (meters * 10_000.0).round() / 10.0)
}
