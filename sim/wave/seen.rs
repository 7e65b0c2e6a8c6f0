//! The room as long waves see it: shell, furniture and whatever keeps air out as surfaces, fiber as volumes.
//!
//! *Limits.* Curtains and rugs are left out: below 250 Hz they take next to nothing, and they are named ([`Seen::left_out`]). Cloth before fiber is counted as if its resistance were spread over
//! the fiber behind it, its mass not at all. A panel known by a row of a table alone, and one with a foil, a board or a sheet with holes, is a body with that finish: its fiber is in the finish.

use glam::DVec3;

use super::fiber::Fiber;
use crate::absorbers::Layer;
use crate::room::{Bodies, Role, Room, Solid, build, build_up};
use crate::scene::{Panel, PanelPlace, PanelType, Scene, StockKind};

/// What a solver of waves is given.
#[derive(Clone, Debug)]
pub struct Seen {
    /// The room, fiber taken out.
    pub room: Room,
    /// Fiber.
    pub fibers: Vec<Fiber>,
    /// Names of things that are not in it.
    pub left_out: Vec<String>,
    /// Thinnest layer of fiber, meters; `None` without any.
    pub thinnest: Option<f64>,
}

/// A layer of fiber in a panel: from how deep to how deep behind its front, meters, and its flow resistivity, Pa s/m2.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Slice {
    from: f64,
    to: f64,
    flow_resistivity: f64,
}

impl Seen {
    /// The room of a checked scene with all that hangs in it.
    #[must_use]
    pub fn new(scene: &Scene) -> Self {
        let kind = |panel: &Panel| scene.stock.iter().find(|kind| kind.name == panel.kind);
        let is_flat = |kind: &PanelType| matches!(kind.kind, StockKind::Curtain | StockKind::Rug);
        let slices_of = |panel: &Panel| kind(panel).filter(|kind| !is_flat(kind)).and_then(slices);
        let solids = build(scene, Bodies::All).solids;
        let mut fibers = Vec::new();
        let mut thinnest: Option<f64> = None;
        for solid in &solids {
            let Role::Panel(index) = solid.role else { continue };
            let panel = &scene.panels[index];
            for slice in slices_of(panel).into_iter().flatten() {
                fibers.push(Fiber::new(sliced(solid, panel, slice), slice.flow_resistivity));
                thinnest = Some(thinnest.unwrap_or(f64::INFINITY).min(slice.to - slice.from));
            }
        }
        let panels = scene.panels.iter().filter(|panel| slices_of(panel).is_none()).cloned().collect();
        let mut left_out: Vec<String> =
            scene.panels.iter().filter(|panel| kind(panel).is_some_and(is_flat)).map(|panel| panel.kind.clone()).collect();
        left_out.dedup();
        Self { room: build(&Scene { panels, ..scene.clone() }, Bodies::All), fibers, left_out, thinnest }
    }
}

/// Whether a panel is fiber and air alone, layer by layer.
#[must_use]
pub fn is_fiber(kind: &PanelType) -> bool {
    slices(kind).is_some()
}

/// Fiber of a panel, front first; `None` where something in it keeps air from flowing, or its layers are not known.
fn slices(kind: &PanelType) -> Option<Vec<Slice>> {
    let layers = build_up(kind, 0.0)?.layers;
    let mut slices: Vec<Slice> = Vec::new();
    let (mut depth, mut waiting) = (0.0, 0.0);
    for layer in &layers {
        match *layer {
            Layer::Porous { flow_resistivity, thickness, .. } => {
                slices.push(Slice { from: depth, to: depth + thickness, flow_resistivity: flow_resistivity + waiting / thickness });
                waiting = 0.0;
            }
            Layer::Cloth { resistance, .. } => match slices.last_mut().filter(|last| last.to == depth) {
                Some(last) => last.flow_resistivity += resistance / (last.to - last.from),
                None => waiting += resistance,
            },
            Layer::Air { .. } => {}
            Layer::Membrane { .. } | Layer::Perforated { .. } | Layer::Slotted { .. } => return None,
        }
        depth += layer.thickness();
    }
    (!slices.is_empty()).then_some(slices)
}

/// Faces of a slice of a panel's solid.
fn sliced(solid: &Solid, panel: &Panel, slice: Slice) -> Vec<(DVec3, f64)> {
    let front = match panel.place {
        PanelPlace::Surface { .. } => 5,
        PanelPlace::Corner { .. } => 0,
        PanelPlace::Cloud(_) => 4,
    };
    let (normal, offset) = solid.faces[front];
    let across = solid.faces.iter().filter(|(other, _)| other.dot(normal).abs() < 1.0 - 1e-9);
    across.copied().chain([(normal, offset - slice.from), (-normal, slice.to - offset)]).collect()
}
