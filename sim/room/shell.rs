//! Walls, floor and ceiling with their openings, from the charts and facets of the scene (`scene::shell`).

use glam::DVec2;

use super::finishes::Palette;
use super::{Lining, Role, Surface};
use crate::bands::Bands;
use crate::geometry::{Chart, Polygon};
use crate::scene::shell::{FLOOR, SurfaceIndex};
use crate::scene::{CeilingPlane, Scene};

/// Walls and facets smaller than this, in m2, are none: where the ceiling comes down to the floor.
const LEAST_AREA: f64 = 1e-9;

fn surface(name: &str, role: Role, chart: Chart, outline: Polygon, finish: usize) -> Surface {
    Surface { name: name.to_owned(), role, chart, outline, finish, linings: Vec::new(), edge_scattering: Bands::splat(0.0) }
}

/// The walls, in outline order.
pub(super) fn walls<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Vec<Surface> {
    let mut walls = Vec::with_capacity(scene.walls.len());
    for (i, wall) in scene.walls.iter().enumerate() {
        let (right, left) = scene.wall_ends(i);
        let outline = wall_outline(scene, left, right);
        if outline.area() > LEAST_AREA {
            let chart = scene.chart(SurfaceIndex::Wall(i));
            walls.push(surface(&wall.name, Role::Wall(i), chart, outline, palette.material(&wall.material)));
        }
    }
    walls
}

/// A wall between two corners, its top along the lower envelope.
fn wall_outline(scene: &Scene, left: DVec2, right: DVec2) -> Polygon {
    let length = left.distance(right);
    let mut corners = vec![DVec2::ZERO, DVec2::new(length, 0.0), DVec2::new(length, scene.ceiling_height(right))];
    let mut kinks: Vec<f64> = Vec::new();
    for (k, one) in scene.ceiling.iter().enumerate() {
        for other in &scene.ceiling[k + 1..] {
            let (at_left, at_right) = (one.height_at(left) - other.height_at(left), one.height_at(right) - other.height_at(right));
            if at_left * at_right >= 0.0 {
                continue;
            }
            let share = at_left / (at_left - at_right);
            let point = left.lerp(right, share);
            if one.height_at(point) <= scene.ceiling_height(point) + 1e-12 {
                kinks.push(share);
            }
        }
    }
    kinks.sort_by(|a, b| b.total_cmp(a));
    corners.extend(kinks.iter().map(|&share| DVec2::new(share * length, scene.ceiling_height(left.lerp(right, share)))));
    corners.push(DVec2::new(0.0, scene.ceiling_height(left)));
    Polygon { corners }.tidied()
}

/// The floor.
pub(super) fn floor<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Surface {
    let (low, _) = scene.floor_plan().bounds();
    let outline = scene.floor_plan().moved(-low);
    surface(FLOOR, Role::Floor, scene.chart(SurfaceIndex::Floor), outline, palette.material(&scene.floor_material))
}

/// Volume under the ceiling in m3: over each cell, plan area times the height over its centroid.
pub(super) fn volume(scene: &Scene) -> f64 {
    let over = |(index, plane): (usize, &CeilingPlane)| {
        let facets = scene.ceiling_facets(index);
        facets.iter().map(|cell| cell.area() * plane.height_at(cell.centroid())).sum::<f64>()
    };
    scene.ceiling.iter().enumerate().map(over).sum()
}

/// The facets of the ceiling, plane by plane.
pub(super) fn ceiling<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Vec<Surface> {
    let mut facets = Vec::new();
    for (k, plane) in scene.ceiling.iter().enumerate() {
        let cells = scene.ceiling_facets(k);
        if cells.is_empty() {
            continue;
        }
        let (chart, finish) = (scene.chart(SurfaceIndex::Ceiling(k)), palette.material(&plane.material));
        let on_chart = |corner: &DVec2| chart.position(corner.extend(plane.height_at(*corner)));
        for cell in cells {
            let outline = Polygon::new(cell.tidied().corners.iter().map(on_chart).collect());
            facets.push(surface(&plane.name, Role::Ceiling(k), chart, outline, finish));
        }
    }
    facets
}

/// Doors, windows and hatches become linings of the surface (or of each facet of the plane) they lie on.
pub(super) fn add_openings<'a>(scene: &'a Scene, palette: &mut Palette<'a>, surfaces: &mut [Surface]) {
    for opening in &scene.openings {
        let place = opening.place;
        let low = DVec2::new(place.left, place.bottom);
        let region = Polygon::rectangle(low, low + DVec2::new(place.width, place.height));
        let finish = palette.material(&opening.material);
        for surface in surfaces.iter_mut().filter(|surface| surface.name == opening.surface) {
            let pieces = region.intersection(&surface.outline);
            surface.linings.extend(pieces.into_iter().map(|region| Lining { name: opening.name.clone(), region, finish }));
        }
    }
}
