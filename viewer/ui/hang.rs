//! Where a panel of a type may hang so that it covers a hot spot: centered on it if nothing is in the way, else as near as can be.
//!
//! *Limits.* Other places are looked for on a grid of 0.1 m.

use bevy::math::{DVec2, DVec3};
use roomwright::layout::candidates::centered;
use roomwright::layout::{Candidate, Free, Refusal, candidates};
use roomwright::plan::HotSpot;
use roomwright::room::Room;
use roomwright::scene::{Panel, PanelType, Scene, StockKind};

/// Grid of other places, meters.
const STEP: f64 = 0.1;

/// The panel to hang, or what is in the way everywhere.
pub(crate) fn near(scene: &Scene, room: &Room, kind: &PanelType, spot: &HotSpot) -> Result<Panel, Refusal> {
    let free = Free::new(scene, room);
    let surface = room.surfaces.iter().position(|surface| surface.name == spot.center.surface);
    let is_flat = !matches!(kind.kind, StockKind::Corner | StockKind::Cloud | StockKind::FreeStanding);
    let middle = DVec2::new(spot.center.left_m, spot.center.bottom_m);
    let mut refusal = Refusal::NoPlace(kind.name.clone());
    if let (true, Some(surface)) = (is_flat, surface) {
        for lying in [false, true] {
            match centered(scene, &free, kind, surface, middle, lying) {
                Ok(found) => return Ok(found.panel),
                Err(reason) => refusal = reason,
            }
        }
    }
    let point = DVec3::from(spot.point_m);
    // What hangs flat covers a spot only on its own surface.
    let fits = |one: &Candidate| !is_flat || one.surface == surface;
    let far = |one: &Candidate| one.point.distance(point);
    let nearest = candidates(scene, room, &free, kind, STEP).into_iter().filter(fits).min_by(|a, b| far(a).total_cmp(&far(b)));
    nearest.map(|found| found.panel).ok_or(refusal)
}
