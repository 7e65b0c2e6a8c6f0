//! A set of panels as patches on the surfaces, for weighing without tracing anew.
//!
//! What hangs flat is a patch by itself. A corner panel is taken as a patch on both walls it touches, as wide as its legs; a cloud as
//! a patch on the ceiling above it, with the air behind it as its gap (at most 300 mm).
//!
//! *Limits.* Good enough to compare layouts with one another; the finished plan is traced anew with every panel as a body.

use glam::DVec2;

use crate::geometry::Polygon;
use crate::hanging::{self, Hanging, Patch};
use crate::room::{Role, Room, panel_finish};
use crate::scene::{Panel, PanelPlace, PanelType, Scene};

/// Air behind a corner panel, averaged over its width, as a share of its width.
const CORNER_AIR: f64 = 0.25;

/// Air behind a cloud counts up to this, meters.
const CLOUD_AIR_MAX: f64 = 0.3;

/// The panels as patches on the room's surfaces.
#[must_use]
pub fn patches(scene: &Scene, room: &Room, panels: &[Panel]) -> Hanging {
    let mut hanging = hanging::from_panels(scene, room, panels);
    for panel in panels {
        let Some(kind) = scene.stock.iter().find(|kind| kind.name == panel.kind) else { continue };
        match panel.place {
            PanelPlace::Surface { .. } => {}
            PanelPlace::Corner { corner, bottom } => corner_patches(scene, room, kind, corner, bottom, &mut hanging),
            PanelPlace::Cloud { center, underside, turned } => cloud_patch(scene, room, kind, (center, underside, turned), &mut hanging),
        }
    }
    hanging
}

fn corner_patches(scene: &Scene, room: &Room, kind: &PanelType, corner: usize, bottom: f64, hanging: &mut Hanging) {
    let leg = kind.size.x / std::f64::consts::SQRT_2;
    let count = scene.outline.len();
    let finish = hanging.finishes.len();
    hanging.finishes.push(panel_finish(scene, kind, CORNER_AIR * kind.size.x));
    for (surface, face) in room.surfaces.iter().enumerate() {
        let Role::Wall(wall) = face.role else { continue };
        let length = scene.outline[wall].distance(scene.outline[(wall + 1) % count]);
        // Seen from inside, wall i begins on the left at corner i + 1 and ends on the right at corner i.
        let left = if (wall + 1) % count == corner {
            0.0
        } else if wall == corner {
            length - leg
        } else {
            continue;
        };
        let low = DVec2::new(left, bottom);
        hanging.patches.push(Patch { surface, region: Polygon::rectangle(low, low + DVec2::new(leg, kind.size.y)), finish });
    }
}

fn cloud_patch(scene: &Scene, room: &Room, kind: &PanelType, place: (DVec2, f64, bool), hanging: &mut Hanging) {
    let (center, underside, turned) = place;
    let half = 0.5 * if turned { kind.size } else { DVec2::new(kind.size.y, kind.size.x) };
    let mut finish = None;
    for (surface, face) in room.surfaces.iter().enumerate() {
        let Role::Ceiling(plane) = face.role else { continue };
        // The outline of the cloud, thrown straight up onto the facet's plane.
        let corners = [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)].map(|(x, y)| {
            let point = center + half * DVec2::new(x, y);
            face.chart.position(point.extend(scene.ceiling[plane].height_at(point)))
        });
        for region in Polygon::new(corners.to_vec()).intersection(&face.outline) {
            if region.area() < 1e-6 {
                continue;
            }
            let index = *finish.get_or_insert_with(|| {
                let air = scene.ceiling[plane].height_at(center) - underside - kind.thickness;
                hanging.finishes.push(panel_finish(scene, kind, air.clamp(0.0, CLOUD_AIR_MAX)));
                hanging.finishes.len() - 1
            });
            hanging.patches.push(Patch { surface, region, finish: index });
        }
    }
}
