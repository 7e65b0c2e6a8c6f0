//! What is smaller than the cells that waves run in, which cells would do, and what these would cost.
//!
//! Counted is how far a body reaches along its own axes where air lies on both sides of it: a cloud's thickness, the width of a narrow panel, a desk's board. What stands flush against something
//! moves that by its depth, which cells have exactly however thin it is, and fiber before a wall is right as well (`wave::fiber`). Cells of edge `h` come with a top frequency of `c / (27.5 h)`.
//!
//! *References.* None of its own.
//!
//! *Limits.* How wrong such a thing is told is not known: a solid one stands up to a cell from its place (`wave::Cells::parted`), fiber that hangs free is spread over a cell.

use glam::DVec3;

use super::effort::effort;
use super::{BassAsked, TOPS};
use crate::room::{Bodies, Role, Room, Solid, build};
use crate::scene::{Panel, PanelPlace, Scene};
use crate::wave::cost::{CELLS_IN_WAVE, spacing};

/// Air is looked for so far before a face, meters.
const BEFORE: f64 = 1e-3;
/// Rounding of lengths as they are typed, meters.
const ROUNDING: f64 = 1e-6;
/// Names that are told.
const NAMES: usize = 4;

/// Names what is smaller than a cell, and says which top frequency has cells as small and what that would cost; `None` where nothing is.
#[must_use]
pub fn too_small(scene: &Scene, asked: &BassAsked) -> Option<String> {
    let room = build(scene, Bodies::All);
    let speed = room.medium.speed;
    let cell = spacing(asked.top_hz, speed);
    let mut things: Vec<(&str, f64)> = Vec::new();
    for solid in &room.solids {
        let Some((name, least)) = named(scene, &room, solid).filter(|(_, least)| *least < cell - ROUNDING) else { continue };
        match things.iter_mut().find(|(other, _)| *other == name) {
            Some((_, other)) => *other = other.min(least),
            None => things.push((name, least)),
        }
    }
    let least = things.iter().map(|(_, least)| *least).reduce(f64::min)?;
    let told: Vec<String> = things.iter().take(NAMES).map(|(name, least)| format!("{name} ({:.0} mm)", 1e3 * least)).collect();
    let more = if things.len() > NAMES { format!(" and {} more", things.len() - NAMES) } else { String::new() };
    Some(format!(
        "Cells of {:.0} mm are larger than what hangs or stands free: {}{more}. Waves see these as one cell has them, up to a cell from their place. {}",
        1e3 * cell,
        told.join(", "),
        remedy(scene, asked, (speed / (CELLS_IN_WAVE * least)).ceil())
    ))
}

/// What it is called and how far it reaches where it reaches least.
fn named<'a>(scene: &'a Scene, room: &Room, solid: &Solid) -> Option<(&'a str, f64)> {
    match solid.role {
        Role::Block(index) => Some((scene.blocks[index].name.as_str(), free_width(room, solid)?)),
        Role::Panel(index) => {
            let panel = &scene.panels[index];
            let least = if let PanelPlace::Corner { .. } = panel.place { across_corner(scene, panel) } else { free_width(room, solid) };
            Some((panel.kind.as_str(), least?))
        }
        Role::Wall(_) | Role::Floor | Role::Ceiling(_) | Role::Face(_) => None,
    }
}

/// A panel across a corner has air before it, behind it and round it.
fn across_corner(scene: &Scene, panel: &Panel) -> Option<f64> {
    let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
    Some(kind.size.min_element().min(kind.thickness))
}

/// How far a box reaches along those of its axes that have air at both ends: the least.
fn free_width(room: &Room, solid: &Solid) -> Option<f64> {
    let opposite = |normal: DVec3| solid.faces.iter().find(|(other, _)| other.dot(normal) < -1.0 + 1e-9);
    // Every axis twice, once from either side.
    let axes = || solid.faces.iter().filter_map(|(normal, above)| opposite(*normal).map(|(_, below)| (*normal, *above, *below)));
    let middle = 0.5 * axes().map(|(normal, above, below)| normal * 0.5 * (above - below)).sum::<DVec3>();
    let is_free = |(normal, above, below): &(DVec3, f64, f64)| {
        let out = 0.5 * (above + below) + BEFORE;
        room.contains(middle + out * *normal) && room.contains(middle - out * *normal)
    };
    axes().filter(is_free).map(|(_, above, below)| above + below).reduce(f64::min)
}

/// Which top frequency has cells as small, and what it would cost.
fn remedy(scene: &Scene, asked: &BassAsked, top: f64) -> String {
    let [_, highest] = TOPS;
    let cost = |top_hz: f64| {
        let effort = effort(scene, &BassAsked { top_hz, memory: u64::MAX, ..*asked }).ok()?;
        let more = if effort.memory_mb * 1e6 > asked.memory as f64 { ", which --memory must allow," } else { "" };
        let minutes = (effort.seconds(1) / 60.0).ceil();
        Some(format!("{:.2} GB of memory{more} and about {minutes:.0} min on one thread", effort.memory_mb / 1e3))
    };
    let told = |top: f64| cost(top).map_or_else(String::new, |cost| format!(": {cost}"));
    if top <= highest {
        return format!("Cells as small come with --top {top:.0}{}.", told(top));
    }
    format!(
        "Cells as small would come with --top {top:.0}, and {highest:.0} is the most{}. Draw them thicker, or take their part in the bass as rough.",
        told(highest)
    )
}
