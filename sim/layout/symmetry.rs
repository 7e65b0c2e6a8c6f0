//! Panels that are nearly mirror images of one another over the plane between two loudspeakers: the moves that make them so.
//!
//! A panel at `p` has its twin at `p - 2 ((p - o) . n) n`, with `n` the unit vector from one loudspeaker to the other, level, and `o` the head. A panel of the same type and the same way up
//! that hangs no farther from there than the tolerance is moved there; one that is nearly its own twin is moved into the plane.
//!
//! *Limits.* Only what hangs flat, and only within the surface where it hangs: two walls that are not mirror images of one another have none. Measures stay multiples of the measuring step.

use glam::{DVec2, DVec3};

use super::free::Free;
use super::measure_step;
use crate::room::Room;
use crate::scene::{Panel, PanelPlace, Scene};

/// The plane between left and right.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MirrorPlane {
    /// A point in it, meters.
    through: DVec3,
    /// Unit vector across it, level.
    normal: DVec3,
}

impl MirrorPlane {
    /// The upright plane through a head that stands across the way from one loudspeaker to the other; `None` where they stand above one another. Meters.
    #[must_use]
    pub fn between(left: DVec3, right: DVec3, head: DVec3) -> Option<Self> {
        let across = (right - left).truncate().try_normalize()?;
        Some(Self { through: head, normal: across.extend(0.0) })
    }

    fn mirrored(&self, point: DVec3) -> DVec3 {
        point - 2.0 * (point - self.through).dot(self.normal) * self.normal
    }
}

/// A panel that hangs flat.
struct Tile<'a> {
    panel: &'a Panel,
    surface: usize,
    size: DVec2,
    lying: bool,
    middle: DVec3,
}

/// Panels that hang nearly, but not quite, as a twin of another one or of themselves would, each with where it would hang then; `tolerance` in meters. What is in the way there is not asked.
#[must_use]
pub fn nearly(scene: &Scene, room: &Room, free: &Free, panels: &[Panel], plane: MirrorPlane, tolerance: f64) -> Vec<(usize, Panel)> {
    let tiles: Vec<(usize, Tile<'_>)> =
        panels.iter().enumerate().filter_map(|(index, panel)| Some((index, tile(scene, room, free, panel)?))).collect();
    let unit = measure_step(scene.unit);
    let mut found = Vec::new();
    for (index, tile) in &tiles {
        let own = plane.mirrored(tile.middle);
        let off = own.distance(tile.middle);
        if off <= 2.0 * tolerance {
            found.extend(tile.at(room, 0.5 * (own + tile.middle), unit).map(|panel| (*index, panel)));
            continue;
        }
        let is_twin = |other: &&(usize, Tile<'_>)| {
            other.0 != *index
                && other.1.panel.kind == tile.panel.kind
                && other.1.lying == tile.lying
                && plane.mirrored(other.1.middle).distance(tile.middle) <= tolerance
        };
        let twins = tiles.iter().filter(is_twin);
        found.extend(twins.filter_map(|(_, other)| tile.at(room, plane.mirrored(other.middle), unit)).map(|panel| (*index, panel)));
    }
    found
}

impl Tile<'_> {
    /// The panel with its middle there, on whole measuring steps; `None` where that is where it hangs, or not on its surface.
    fn at(&self, room: &Room, middle: DVec3, unit: f64) -> Option<Panel> {
        let chart = &room.surfaces[self.surface].chart;
        if chart.height(middle).abs() > unit {
            return None;
        }
        let PanelPlace::Surface { surface, left, bottom, lying, gap } = &self.panel.place else { return None };
        let low = ((chart.position(middle) - 0.5 * self.size) / unit).round() * unit;
        let moves = (low - DVec2::new(*left, *bottom)).abs().max_element() > 0.5 * unit;
        let place = PanelPlace::Surface { surface: surface.clone(), left: low.x, bottom: low.y, lying: *lying, gap: *gap };
        moves.then(|| Panel { kind: self.panel.kind.clone(), place })
    }
}

fn tile<'a>(scene: &Scene, room: &Room, free: &Free, panel: &'a Panel) -> Option<Tile<'a>> {
    let PanelPlace::Surface { lying, .. } = panel.place else { return None };
    let kind = scene.stock.iter().find(|kind| kind.name == panel.kind)?;
    let body = free.body(panel, kind).ok()?;
    let (surface, (low, high)) = (body.surface?, body.span?);
    Some(Tile { panel, surface, size: high - low, lying, middle: room.surfaces[surface].chart.point(0.5 * (low + high)) })
}
