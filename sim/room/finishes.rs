//! From names of materials and types of panel to finishes, each made once.
//!
//! A name is looked up among the user's own materials first, then in the shipped table. A panel of layers is a build-up before its
//! gap and a rigid wall; one whose core is a material takes that material's values, whatever the gap.
//!
//! What hangs or stands free of walls is open: each of its faces has a finish of its own (`open`). Every face of any other panel's body takes the finish of
//! its front, but for edges that are closed ([`edge_finish`]).
//!
//! *Limits.* Closed edges take nothing, which is a little less than wood or a hardened skin does. Open ones count as fiber that is as deep as the panel and its gap. What comes into a gap
//! from its sides meets the panel as from its front.

use std::sync::LazyLock;

use super::FinishIndex;
use super::open::{Face, open_finish};
use crate::absorbers::cache::Cache;
use crate::absorbers::resistivity::Estimate;
use crate::absorbers::{BuildUp, Finish, Layer, table};
use crate::air::Medium;
use crate::bands::Bands;
use crate::scene::build_up::FLAT_SCATTERING;
use crate::scene::{AngleLaw, Core, CoreLayer, Facing, PanelType, Scene, UserMaterial};

/// A panel that is moved is made again and again.
static BUILD_UPS: LazyLock<Cache> = LazyLock::new(Cache::new);

/// What a face is made of.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Spec<'a> {
    /// A material by name, with another scattering coefficient if the user gave one.
    Material { name: &'a str, scattering: Option<Bands<f64>> },
    /// A panel with this much air behind it, meters.
    Panel { kind: &'a PanelType, gap: f64 },
    /// An edge of such a panel.
    Edge { kind: &'a PanelType, gap: f64 },
    /// A face of a panel that is open on both sides.
    Open { kind: &'a PanelType, face: Face },
}

/// Finishes in use and where each came from.
pub(super) struct Palette<'a> {
    scene: &'a Scene,
    pub(super) finishes: Vec<Finish>,
    known: Vec<(Spec<'a>, Bands<f64>)>,
}

impl<'a> Palette<'a> {
    pub(super) fn new(scene: &'a Scene) -> Self {
        Self { scene, finishes: Vec::new(), known: Vec::new() }
    }

    /// The finish of a large surface of this material.
    pub(super) fn material(&mut self, name: &'a str) -> FinishIndex {
        self.face(&Spec::Material { name, scattering: None }, Bands::splat(0.0))
    }

    /// The finish of a face that scatters this share because of its size.
    pub(super) fn face(&mut self, spec: &Spec<'a>, edge_scattering: Bands<f64>) -> FinishIndex {
        if let Some(index) = self.known.iter().position(|known| *known == (*spec, edge_scattering)) {
            return index;
        }
        let plain = edge_scattering == Bands::splat(0.0);
        let finish = if plain {
            match *spec {
                Spec::Material { name, scattering } => material_finish(self.scene, name, scattering),
                Spec::Panel { kind, gap } => panel_finish(self.scene, kind, gap),
                Spec::Edge { kind, gap } => edge_finish(self.scene, kind, gap),
                Spec::Open { kind, face } => open_finish(self.scene, kind, face),
            }
        } else {
            let base = self.face(spec, Bands::splat(0.0));
            self.finishes[base].with_edge(edge_scattering)
        };
        self.finishes.push(finish);
        self.known.push((*spec, edge_scattering));
        self.finishes.len() - 1
    }
}

/// The air of the scene.
pub(super) fn medium(scene: &Scene) -> Medium {
    Medium::new(scene.air.temperature_c, scene.air.humidity_percent, scene.air.pressure_kpa)
}

/// The finish of a material of the scene or else of the table; its own scattering, unless another is given.
pub(crate) fn material_finish(scene: &Scene, name: &str, scattering: Option<Bands<f64>>) -> Finish {
    if let Some(material) = scene.materials.iter().find(|material| material.name == name) {
        return user_finish(material, scattering, false);
    }
    let row = table::find(name);
    debug_assert!(row.is_some(), "a checked scene names known materials, not `{name}`");
    row.map_or_else(
        || Finish::uniform(name, Bands::splat(0.0), scattering.unwrap_or_default()),
        |row| {
            let (absorption, extrapolated) = row.absorption();
            Finish { body: row.body, ..Finish::tabled(row.name, absorption, scattering.unwrap_or_else(|| row.scattering()), extrapolated) }
        },
    )
}

fn user_finish(material: &UserMaterial, scattering: Option<Bands<f64>>, porous: bool) -> Finish {
    let (absorption, filled) = table::fill(material.absorption, porous);
    let scattering = scattering.unwrap_or(material.scattering);
    let finish = match material.law {
        AngleLaw::LocalReaction => Finish::tabled(&material.name, absorption, scattering, filled),
        AngleLaw::Uniform => {
            let mut finish = Finish::uniform(&material.name, absorption, scattering);
            finish.extrapolated = filled;
            finish
        }
    };
    Finish { body: table::find(&material.moves_like).and_then(|row| row.body), ..finish }
}

/// The finish of a panel hung with this much air behind it, meters; its depth is thickness and gap.
#[must_use]
pub fn panel_finish(scene: &Scene, kind: &PanelType, gap: f64) -> Finish {
    let mut finish = match (build_up(kind, gap), &kind.core) {
        (Some(build_up), _) => BUILD_UPS.finish(&kind.name, &build_up, kind.scattering()),
        (None, Core::Material(name)) => match scene.materials.iter().find(|material| material.name == *name) {
            Some(material) => user_finish(material, Some(kind.scattering()), true),
            None => material_finish(scene, name, Some(kind.scattering())),
        },
        (None, Core::Porous(_) | Core::Layers(_)) => unreachable!("all but measured rows are layers"),
    };
    finish.name.clone_from(&kind.name);
    finish.depth = kind.thickness + gap;
    finish.by_resistivity = extremes(kind, |mut layers| {
        layers.push(Layer::Air { thickness: gap });
        BUILD_UPS.finish("", &BuildUp::new(layers), Bands::splat(0.0)).absorption
    });
    finish
}

/// The finish of an edge of a panel hung with this much air behind it, meters: of an open one that of the front; where it is closed the panel's own thickness takes nothing, and only
/// what comes in between panel and wall meets it.
#[must_use]
pub(super) fn edge_finish(scene: &Scene, kind: &PanelType, gap: f64) -> Finish {
    let open = panel_finish(scene, kind, gap);
    if kind.has_open_edges() {
        return open;
    }
    let share = gap / (kind.thickness + gap);
    let by_resistivity = open.by_resistivity.map(|ends| ends.map(|ends| ends.map(|value| share * value)));
    Finish { name: open.name.clone(), by_resistivity, ..Finish::mixed(&closed_edge(kind), &open, share) }
}

/// What takes nothing: an edge that a frame or a hardener closes.
pub(super) fn closed_edge(kind: &PanelType) -> Finish {
    Finish::uniform(&kind.name, Bands::splat(0.0), kind.scattering.unwrap_or(Bands::splat(FLAT_SCATTERING)))
}

/// What a panel absorbs in a diffuse field, by what its layers do, at the least and at the most flow resistivity that the densities of its fiber leave open, all of it alike; `None`
/// where nothing is left open.
pub(super) fn extremes(kind: &PanelType, absorbs: impl Fn(Vec<Layer>) -> Bands<f64>) -> Option<Bands<[f64; 2]>> {
    let is_open = |layer: &CoreLayer| {
        let CoreLayer::Porous { filling, .. } = layer else { return false };
        let Estimate { low, high, .. } = filling.resistivity();
        low < high
    };
    let parts = kind.layers()?;
    parts.iter().any(is_open).then(|| {
        let at = |end: fn(Estimate) -> f64| absorbs(parts.iter().map(|part| layer(part, end)).collect());
        at(|estimate| estimate.low).zip(at(|estimate| estimate.high), |least, most| [least, most])
    })
}

/// A panel as layers before a rigid wall, the air of its gap last; `None` where its core is a measured row.
#[must_use]
pub fn build_up(kind: &PanelType, gap: f64) -> Option<BuildUp> {
    let mut layers = layers(kind)?;
    layers.push(Layer::Air { thickness: gap });
    Some(BuildUp::new(layers))
}

/// The layers of a panel without its gap, front first; `None` where its core is a measured row.
pub(super) fn layers(kind: &PanelType) -> Option<Vec<Layer>> {
    Some(kind.layers()?.iter().map(|part| layer(part, |estimate| estimate.likely)).collect())
}

/// A layer as it is computed, with one of what is known of its flow resistivity.
fn layer(layer: &CoreLayer, of: impl Fn(Estimate) -> f64) -> Layer {
    match *layer {
        CoreLayer::Porous { filling, thickness } => {
            Layer::Porous { flow_resistivity: of(filling.resistivity()), thickness, model: filling.model() }
        }
        CoreLayer::Air { thickness } => Layer::Air { thickness },
        CoreLayer::Sheet(sheet) => match sheet {
            // As good as air, which is what a cavity without depth is.
            Facing::OpenCloth => Layer::Air { thickness: 0.0 },
            Facing::Cloth { flow_resistance, mass } => Layer::Cloth { resistance: flow_resistance, mass },
            Facing::Membrane { mass } => Layer::Membrane { mass, resistance: 0.0 },
            Facing::Perforated { hole, open, thickness } => Layer::Perforated { hole, open, thickness },
            Facing::Slotted { slot, open, thickness } => Layer::Slotted { slot, open, thickness },
        },
    }
}
