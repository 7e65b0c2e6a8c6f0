//! What clouds and free-standing panels absorb as they hang, open on both sides, against the same panel flush on a surface.
//!
//! Equivalent absorption areas of one panel, by octave: front, back and edges as rays meet them (`room::open`), their sum, and beside it front and edges of the panel lying flush. Every
//! type of cloud in stock is told as one panel far from any surface, every cloud and open free-standing panel of the scene as it hangs.
//!
//! *Limits.* A diffuse field in the room; statistical below Schroeder's frequency. Where panels lie side by side they share front, back and edges of the whole evenly.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::absorbers::suspended::two_sided_above;
use crate::bands::Bands;
use crate::room::{Room, hung_size, open_area, open_gap};
use crate::scene::{PanelPlace, Scene, StockKind};

/// One panel that is open on both sides.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SuspendedPanel {
    /// `cloud 3` as its faces are called, or the name of the type in stock.
    pub name: String,
    /// Of how many panels side by side it is made.
    pub panels: u32,
    /// Whether it hangs in the scene; else it is told as one panel of the stock, far from any surface.
    pub hung: bool,
    /// Air between its back and the ceiling or wall behind, a tilted cloud's mean; `null` far from any.
    pub gap_m: Option<f64>,
    /// Above this frequency its front and back are met alike, each with free air behind; an octave below, front and gap are one build-up and the back takes nothing more.
    pub open_above_hz: Option<f64>,
    /// What the front of one panel absorbs, by octave.
    pub front_m2: Bands<f64>,
    /// What its back absorbs.
    pub back_m2: Bands<f64>,
    /// What its edges absorb.
    pub edges_m2: Bands<f64>,
    /// All of these together.
    pub absorption_m2: Bands<f64>,
    /// What the same panel absorbs lying flush on a surface, front and edges.
    pub flush_m2: Bands<f64>,
}

/// Clouds in stock, then what hangs, in the order of the scene; `room` is built from it.
#[must_use]
pub fn suspended(scene: &Scene, room: &Room) -> Vec<SuspendedPanel> {
    let told = |name: String, count: u32, hung: bool, gap: f64, kind, size| {
        let area = open_area(scene, kind, size, gap);
        let each = 1.0 / f64::from(count.max(1));
        SuspendedPanel {
            name,
            panels: count,
            hung,
            gap_m: Some(gap).filter(|gap| gap.is_finite()),
            open_above_hz: Some(two_sided_above(gap)).filter(|_| gap.is_finite() && gap > 0.0),
            front_m2: area.front * each,
            back_m2: area.back * each,
            edges_m2: area.edges * each,
            absorption_m2: (area.front + area.back + area.edges) * each,
            flush_m2: area.flush * each,
        }
    };
    let clouds = scene.stock.iter().filter(|kind| kind.kind == StockKind::Cloud);
    let in_stock = clouds.map(|kind| told(kind.name.clone(), 1, false, f64::INFINITY, kind, kind.size));
    let hung = scene.panels.iter().enumerate().filter_map(|(index, panel)| {
        let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
        let gap = open_gap(&room.surfaces, kind, panel)?;
        let count = if let PanelPlace::Cloud(cloud) = panel.place { cloud.count() } else { 1 };
        Some(told(format!("{} {}", kind.name, index + 1), count, true, gap, kind, hung_size(kind, &panel.place)))
    });
    in_stock.chain(hung).collect()
}
