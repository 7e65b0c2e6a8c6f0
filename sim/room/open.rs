//! What is open on both sides: clouds below a ceiling, and free-standing panels with air behind. What is each of their faces made of, and what do all of them absorb?
//!
//! - *Front and back*: the layers as that side meets them, free air behind, sound going round the whole, and the wall or ceiling behind the back (`absorbers::suspended`);
//! - *edges*: the fiber laid bare, as deep as all fiber of the panel together, before a rigid plate. For long waves it takes as little as a flush panel, since there the pressure is alike
//!   all round; for short ones it takes what comes. In a frame, or hardened, they take nothing (`finishes::edge_finish`).
//!
//! *Together* ([`open_area`]): what comes into a gap comes through its open sides, `S_o = P gap`, `P` the perimeter. Of a back that would absorb `A` in the room's field that leaves
//! `A S_o / (A + S_o)`, as of a room behind an opening; rays find that by themselves.
//!
//! *References.* Rooms behind an opening: H. Kuttruff, Room Acoustics, chapter on coupled rooms (from memory).
//!
//! The gap is measured from the middle of the back, square to the nearest ceiling plane: the mean of a tilted cloud's.
//!
//! *Limits.* A core known by a row of a table alone takes its values on every open face: no table tells what passes through. Other bodies behind a panel are not asked for.

use glam::DVec2;

use super::finishes::{closed_edge, extremes, layers};
use super::{Role, Surface, panel_finish};
use crate::absorbers::suspended::{Side, Suspended, radius};
use crate::absorbers::{BuildUp, Finish, Layer};
use crate::bands::Bands;
use crate::scene::build_up::FLAT_SCATTERING;
use crate::scene::{Cloud, Panel, PanelPlace, PanelType, Scene, StockKind};

/// A face of an open panel.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Face {
    /// Front or back.
    Side {
        /// Which of them.
        side: Side,
        /// Air behind the back, meters; infinite far from any wall.
        gap: f64,
        /// Width and height of the whole, meters.
        size: DVec2,
    },
    /// Any edge.
    Edge,
}

/// What the faces of an open panel absorb, each as an equivalent absorption area by octave in m2, in a room with a diffuse field.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OpenArea {
    /// Of its front.
    pub front: Bands<f64>,
    /// Of its back, by what comes into the gap.
    pub back: Bands<f64>,
    /// Of its edges.
    pub edges: Bands<f64>,
    /// Of the same lying flush on a surface: front and edges.
    pub flush: Bands<f64>,
}

/// The finish of a face.
#[must_use]
pub fn open_finish(scene: &Scene, kind: &PanelType, face: Face) -> Finish {
    if face == Face::Edge && !kind.has_open_edges() {
        return closed_edge(kind);
    }
    let Some(layers) = layers(kind) else { return panel_finish(scene, kind, 0.0) };
    let mut finish = of_layers(kind, layers, face);
    finish.by_resistivity = extremes(kind, |layers| of_layers(kind, layers, face).absorption);
    finish
}

/// The finish of a face of a panel of these layers.
fn of_layers(kind: &PanelType, layers: Vec<Layer>, face: Face) -> Finish {
    // Slats lie before its front alone.
    let plain = kind.scattering.unwrap_or(Bands::splat(FLAT_SCATTERING));
    match face {
        Face::Side { side, gap, size } => {
            let face = Suspended::new(&BuildUp::new(layers), side, gap, radius(size.x, size.y));
            Finish::suspended(&kind.name, &face, if side == Side::Front { kind.scattering() } else { plain })
        }
        Face::Edge => {
            let fiber: Vec<Layer> = layers.into_iter().filter(|layer| matches!(layer, Layer::Porous { .. })).collect();
            Finish::of(&kind.name, &BuildUp::new(fiber), plain)
        }
    }
}

/// Air behind the back of a panel of the scene that is open on both sides, meters; `None` of all others. Infinite where no ceiling is over a cloud.
#[must_use]
pub fn open_gap(surfaces: &[Surface], kind: &PanelType, panel: &Panel) -> Option<f64> {
    match panel.place {
        PanelPlace::Cloud(cloud) => Some(gap_over(surfaces, &cloud, kind)),
        PanelPlace::Surface { gap, .. } if kind.kind == StockKind::FreeStanding && gap > super::CONTACT => Some(gap),
        PanelPlace::Surface { .. } | PanelPlace::Corner { .. } => None,
    }
}

/// From the middle of a cloud's back to the nearest ceiling plane, meters.
fn gap_over(surfaces: &[Surface], cloud: &Cloud, kind: &PanelType) -> f64 {
    let chart = cloud.chart();
    let back = chart.point(DVec2::ZERO) + chart.normal * kind.thickness;
    let ceilings = surfaces.iter().filter(|surface| matches!(surface.role, Role::Ceiling(_)));
    ceilings.map(|ceiling| ceiling.chart.height(back).max(0.0)).fold(f64::INFINITY, f64::min)
}

/// What an open panel of this type absorbs, of this size as it hangs and so far before what is behind it, meters.
#[must_use]
pub fn open_area(scene: &Scene, kind: &PanelType, size: DVec2, gap: f64) -> OpenArea {
    let finish = |face| open_finish(scene, kind, face).absorption;
    let side = |side| finish(Face::Side { side, gap, size }) * (size.x * size.y);
    let edges = finish(Face::Edge) * (2.0 * (size.x + size.y) * kind.thickness);
    let flush = panel_finish(scene, kind, 0.0).absorption * (size.x * size.y) + edges;
    let sides = 2.0 * (size.x + size.y) * gap;
    let through = |back: f64| if sides.is_finite() && sides > 0.0 { back * sides / (back + sides) } else { back };
    OpenArea { front: side(Side::Front), back: side(Side::Back).map(through), edges, flush }
}
