//! What hangs over a bed, a seat or a door, and is held by something that lets go without a sign.
//!
//! *Limits.* A bed or a place to sit is known by its name (`bed`, `bunk`, `cot`, `sofa`, `couch`, `bench`, `chair`), a head by the scene's seats; a door by its opening.

use glam::DVec2;

use super::marking::MarkedSurface;
use super::trouble::Trouble;
use super::words;
use crate::room::Room;
use crate::scene::{OpeningKind, Scene};

/// What people lie or sit on is called.
const WHERE_PEOPLE_ARE: [&str; 7] = ["bed", "bunk", "cot", "sofa", "couch", "bench", "chair"];
/// What falls off a wall lands within this of it, meters (common practice, no source).
const FALLS_WITHIN: f64 = 0.6;

/// Panels on walls that must be held better.
#[must_use]
pub fn above_people(scene: &Scene, room: &Room, surfaces: &[MarkedSurface]) -> Vec<Trouble> {
    let mut found = Vec::new();
    // What hangs overhead is judged there.
    for surface in surfaces.iter().filter(|surface| !surface.is_overhead) {
        for panel in &surface.panels {
            let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
            if kind.held_by().is_positive() || !kind.is_drilled() {
                continue;
            }
            let (low, width) = (DVec2::new(panel.left_m, panel.bottom_m), panel.width_m);
            if let Some(below) = below(scene, room, surface, low, width) {
                found.push(
                    Trouble::new(
                        "held-too-weakly",
                        format!(
                            "panel {} on {} hangs above {below}: not to be hung so; {}",
                            panel.number,
                            surface.surface,
                            words::held_by_alone(kind.held_by())
                        ),
                        "write `fixing = \"clips\"` or \"screws\" in its [[stock]], and hang it by them",
                    )
                    .of(&panel.kind)
                    .on(&surface.surface, vec![panel.number]),
                );
            }
        }
    }
    found
}

/// What is below a panel on a wall.
fn below(scene: &Scene, room: &Room, surface: &MarkedSurface, low: DVec2, width: f64) -> Option<String> {
    let chart = &room.surfaces[surface.facet].chart;
    let within = |point: glam::DVec3, margin: f64| {
        let at = chart.position(point);
        let away = chart.height(point);
        (low.x - margin..=low.x + width + margin).contains(&at.x) && (-1e-6..=FALLS_WITHIN).contains(&away) && at.y <= low.y + 1e-6
    };
    let people =
        |name: &str| name.to_lowercase().split(|letter: char| !letter.is_alphanumeric()).any(|word| WHERE_PEOPLE_ARE.contains(&word));
    let block = scene.blocks.iter().filter(|block| people(&block.name)).find(|block| {
        // Points over its whole top, so that no part of a long one is missed.
        let half = 0.5 * block.size.truncate();
        let turn = DVec2::from_angle(block.rotation);
        (0..=20)
            .flat_map(|x| (0..=20).map(move |y| DVec2::new(f64::from(x), f64::from(y)) / 10.0 - 1.0))
            .any(|share| within((block.center + turn.rotate(share * half)).extend(block.base + block.size.z), 0.0))
    });
    let seat = || scene.seats.iter().find(|seat| within(seat.ear, 0.3)).map(|seat| format!("the seat \"{}\"", seat.name));
    let door = || {
        let over = |place: &crate::scene::Rectangle| {
            place.left < low.x + width && place.left + place.width > low.x && place.bottom + place.height <= low.y + 1e-6
        };
        scene
            .openings
            .iter()
            .find(|opening| opening.kind == OpeningKind::Door && opening.surface == surface.surface && over(&opening.place))
            .map(|opening| format!("the door \"{}\"", opening.name))
    };
    block.map(|block| format!("\"{}\"", block.name)).or_else(seat).or_else(door)
}
