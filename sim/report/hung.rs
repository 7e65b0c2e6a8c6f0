//! What hangs where, as a drawing needs it: every panel on the surface or surfaces that it touches, and as a shape in the room.
//!
//! A panel across a corner touches two walls: on each it takes the strip `w / (2 sin(a / 2))` wide beside the corner, `w` its width and
//! `a` the angle between the walls, the legs of the isosceles triangle it closes. The underside of a cloud is thrown straight up onto the ceiling.
//!
//! *Limits.* Panels of unknown type or on unknown surfaces, which a checked scene does not have, are left out.

use glam::{DVec2, DVec3};

use crate::plan::Placed;
use crate::room::{Role, Room, hung_size};
use crate::scene::cloud::Lean;
use crate::scene::{Panel, PanelPlace, PanelType, Scene};

/// One panel on one surface.
#[derive(Clone, Debug, PartialEq)]
pub struct Hung {
    /// Number in hanging order; `None` for one that hangs already.
    pub number: Option<u32>,
    /// Type.
    pub kind: String,
    /// Index into the room's surfaces.
    pub surface: usize,
    /// Its outline on the surface's chart, meters.
    pub outline: Vec<DVec2>,
    /// Width and height of the panel itself, as hung, meters.
    pub size: DVec2,
    /// Thickness, meters.
    pub thickness: f64,
    /// How it hangs.
    pub how: How,
    /// Its front as a shape in the room, meters.
    pub front: Vec<DVec3>,
}

/// How a panel hangs.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum How {
    /// Flat, this much air behind it (meters).
    Flat {
        /// Air behind it, meters.
        gap: f64,
    },
    /// Across the corner at the left or the right end of this surface.
    Corner {
        /// At the left end.
        at_left: bool,
        /// Index of the other wall among the room's surfaces.
        other: usize,
    },
    /// Below the ceiling.
    Cloud {
        /// Height of the middle of the underside over the floor, meters.
        underside: f64,
        /// How it leans; `None` where it hangs level.
        lean: Option<Lean>,
        /// How many panels side by side along x and along y.
        panels: [u32; 2],
    },
}

impl Hung {
    /// Lower left corner of its outline on the chart, meters.
    #[must_use]
    pub fn low(&self) -> DVec2 {
        self.outline.iter().copied().reduce(DVec2::min).unwrap_or(DVec2::ZERO)
    }

    /// Of a tilted cloud the lower and the higher edge of its underside: the middle of each, and its height over the floor; meters.
    #[must_use]
    pub fn edges(&self) -> Option<[(DVec3, f64); 2]> {
        let How::Cloud { lean: Some(lean), .. } = self.how else { return None };
        // Corners go round from the lowest x and y.
        let ends = if lean.axis == 0 { [[3, 0], [1, 2]] } else { [[0, 1], [2, 3]] };
        let mut edges = ends.map(|[a, b]| 0.5 * (self.front[a] + self.front[b])).map(|middle| (middle, middle.z));
        if edges[0].1 > edges[1].1 {
            edges.reverse();
        }
        Some(edges)
    }

    /// Upper right corner of its outline on the chart, meters.
    #[must_use]
    pub fn high(&self) -> DVec2 {
        self.outline.iter().copied().reduce(DVec2::max).unwrap_or(DVec2::ZERO)
    }
}

/// Every panel on every surface that it touches: those that hang already, then the plan's, in hanging order. `panels` are the scene's
/// own followed by one for each of `placed`.
#[must_use]
pub fn panels(scene: &Scene, room: &Room, placed: &[Placed], panels: &[Panel]) -> Vec<Hung> {
    let own = scene.panels.len();
    let mut all = Vec::new();
    for (index, panel) in panels.iter().enumerate() {
        let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
        let number = index.checked_sub(own).map(|order| placed.get(order).map_or(order as u32 + 1, |placed| placed.number));
        hang(&mut all, scene, room, kind, number, panel);
    }
    all
}

/// One panel.
fn hang(all: &mut Vec<Hung>, scene: &Scene, room: &Room, kind: &PanelType, number: Option<u32>, panel: &Panel) {
    let hung = |surface, outline, size, how, front| Hung {
        number,
        kind: kind.name.clone(),
        surface,
        outline,
        size,
        thickness: kind.thickness,
        how,
        front,
    };
    match &panel.place {
        PanelPlace::Surface { surface, left, bottom, gap, .. } => {
            let size = hung_size(kind, &panel.place);
            let low = DVec2::new(*left, *bottom);
            let outline = rectangle(low, size);
            let Some(index) = room.surface_at(surface, low + 0.5 * size) else { return };
            let chart = room.surfaces[index].chart;
            let front = outline.iter().map(|corner| chart.point(*corner) + chart.normal * (gap + kind.thickness)).collect();
            all.push(hung(index, outline, size, How::Flat { gap: *gap }, front));
        }
        PanelPlace::Corner { corner, bottom } => corner_panel(room, scene, *corner, *bottom, kind.size, |index, outline, how, front| {
            all.push(hung(index, outline, kind.size, how, front));
        }),
        PanelPlace::Cloud(cloud) => {
            let (size, front) = (cloud.size(kind), cloud.underside_corners(kind));
            let Some(index) = room.ceiling_over(cloud.center) else { return };
            let chart = room.surfaces[index].chart;
            let mut outline = front.map(|corner| chart.position(chart.plumb(corner.truncate()))).to_vec();
            // A chart seen from below turns the corners round.
            outline.reverse();
            // Its own size, not that of its shadow.
            let across = chart.right.truncate().abs();
            let on_chart = if across.x >= across.y { size } else { DVec2::new(size.y, size.x) };
            let how = How::Cloud { underside: cloud.underside, lean: cloud.lean(kind), panels: cloud.panels };
            all.push(hung(index, outline, on_chart, how, front.to_vec()));
        }
    }
}

/// The two strips of a panel across the corner between the walls that end and begin there.
fn corner_panel(
    room: &Room,
    scene: &Scene,
    corner: usize,
    bottom: f64,
    size: DVec2,
    mut push: impl FnMut(usize, Vec<DVec2>, How, Vec<DVec3>),
) {
    let count = scene.outline.len();
    if corner >= count {
        return;
    }
    let (before, after) = ((corner + count - 1) % count, corner);
    let (back, at, ahead) = (scene.outline[before], scene.outline[corner], scene.outline[(corner + 1) % count]);
    let (Some(to_back), Some(to_ahead)) = ((back - at).try_normalize(), (ahead - at).try_normalize()) else { return };
    let half_angle = 0.5 * to_back.dot(to_ahead).clamp(-1.0, 1.0).acos();
    if half_angle < 0.1 {
        return;
    }
    let leg = size.x / (2.0 * half_angle.sin());
    let front: Vec<DVec3> = [(to_back, 0.0), (to_ahead, 0.0), (to_ahead, size.y), (to_back, size.y)]
        .iter()
        .map(|(along, rise)| (at + *along * leg).extend(bottom + rise))
        .collect();
    let walls = (wall_index(room, before), wall_index(room, after));
    let (Some(before), Some(after)) = walls else { return };
    for (index, other) in [(before, after), (after, before)] {
        let surface = &room.surfaces[index];
        let x = surface.chart.position(at.extend(0.0)).x;
        let low_edge = surface.outline.corners.iter().map(|corner| corner.x).fold(f64::INFINITY, f64::min);
        let at_left = (x - low_edge).abs() < 0.5 * leg;
        let low = DVec2::new(if at_left { x } else { x - leg }, bottom);
        push(index, rectangle(low, DVec2::new(leg, size.y)), How::Corner { at_left, other }, front.clone());
    }
}

/// Corners of an upright rectangle, counterclockwise from its lowest.
fn rectangle(low: DVec2, size: DVec2) -> Vec<DVec2> {
    vec![low, low + DVec2::new(size.x, 0.0), low + size, low + DVec2::new(0.0, size.y)]
}

/// The wall with this index among the room's surfaces.
fn wall_index(room: &Room, wall: usize) -> Option<usize> {
    room.surfaces.iter().position(|surface| surface.role == Role::Wall(wall))
}
