//! Walls, floor and ceiling: the lower envelope of the ceiling planes over the outline.

use glam::{DVec2, DVec3};

use super::finishes::Palette;
use super::{Lining, Role, Surface};
use crate::bands::Bands;
use crate::geometry::{Chart, Polygon};
use crate::scene::{CeilingPlane, Scene};

/// Walls and facets smaller than this, in m2, are none: where the ceiling comes down to the floor.
const LEAST_AREA: f64 = 1e-9;

/// Height of the ceiling over a point of the plan, meters.
fn height_at(scene: &Scene, point: DVec2) -> f64 {
    scene.ceiling.iter().map(|plane| plane.height_at(point)).fold(f64::INFINITY, f64::min)
}

fn surface(name: &str, role: Role, chart: Chart, outline: Polygon, finish: usize) -> Surface {
    Surface { name: name.to_owned(), role, chart, outline, finish, linings: Vec::new(), edge_scattering: Bands::splat(0.0) }
}

/// The walls, in outline order.
pub(super) fn walls<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Vec<Surface> {
    let n = scene.outline.len();
    let mut walls = Vec::with_capacity(n);
    for (i, wall) in scene.walls.iter().enumerate() {
        let (left, right) = (scene.outline[(i + 1) % n], scene.outline[i]);
        let Some(along) = (right - left).try_normalize() else {
            debug_assert!(false, "a checked outline has no edge without length");
            continue;
        };
        let outline = wall_outline(scene, left, right);
        if outline.area() > LEAST_AREA {
            let chart = Chart::new(left.extend(0.0), along.extend(0.0), DVec3::Z);
            walls.push(surface(&wall.name, Role::Wall(i), chart, outline, palette.material(&wall.material)));
        }
    }
    walls
}

/// A wall between two corners, its top along the lower envelope.
fn wall_outline(scene: &Scene, left: DVec2, right: DVec2) -> Polygon {
    let length = left.distance(right);
    let mut corners = vec![DVec2::ZERO, DVec2::new(length, 0.0), DVec2::new(length, height_at(scene, right))];
    let mut kinks: Vec<f64> = Vec::new();
    for (k, one) in scene.ceiling.iter().enumerate() {
        for other in &scene.ceiling[k + 1..] {
            let (at_left, at_right) = (one.height_at(left) - other.height_at(left), one.height_at(right) - other.height_at(right));
            if at_left * at_right >= 0.0 {
                continue;
            }
            let share = at_left / (at_left - at_right);
            let point = left.lerp(right, share);
            if one.height_at(point) <= height_at(scene, point) + 1e-12 {
                kinks.push(share);
            }
        }
    }
    kinks.sort_by(|a, b| b.total_cmp(a));
    corners.extend(kinks.iter().map(|&share| DVec2::new(share * length, height_at(scene, left.lerp(right, share)))));
    corners.push(DVec2::new(0.0, height_at(scene, left)));
    Polygon { corners }.tidied()
}

/// The floor.
pub(super) fn floor<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Surface {
    let plan = Polygon { corners: scene.outline.clone() };
    let (low, _) = plan.bounds();
    let chart = Chart::new(low.extend(0.0), DVec3::X, DVec3::Y);
    surface("floor", Role::Floor, chart, plan.moved(-low), palette.material(&scene.floor_material))
}

/// The cells of the lower envelope on the plan, with the index of their plane.
fn cells(scene: &Scene) -> Vec<(usize, Polygon)> {
    let mut cells = Vec::new();
    for (k, plane) in scene.ceiling.iter().enumerate() {
        let mut pieces = vec![Polygon { corners: scene.outline.clone() }];
        for (j, other) in scene.ceiling.iter().enumerate().filter(|&(j, _)| j != k) {
            // Where this plane is the lower one: (slope - other slope) . p <= other height - height.
            let (slope, rise) = (plane.slope - other.slope, other.height - plane.height);
            match slope.try_normalize() {
                Some(normal) => pieces = pieces.iter().flat_map(|piece| piece.clip(normal, rise / slope.length())).collect(),
                // Parallel planes: the lower one rules, of equal ones the first.
                None if rise < 0.0 || (rise == 0.0 && j < k) => pieces.clear(),
                None => {}
            }
        }
        cells.extend(pieces.into_iter().filter(|piece| piece.area() > LEAST_AREA).map(|piece| (k, piece.tidied())));
    }
    cells
}

/// Volume under the ceiling in m3: over each cell, plan area times the height over its centroid.
pub(super) fn volume(scene: &Scene) -> f64 {
    cells(scene).iter().map(|(plane, cell)| cell.area() * scene.ceiling[*plane].height_at(cell.centroid())).sum()
}

/// Chart of a plane whose origin lies over the plan's origin.
fn plane_chart(plane: &CeilingPlane) -> Chart {
    let up = match plane.slope.try_normalize() {
        Some(uphill) => uphill.extend(plane.slope.length()).try_normalize().unwrap_or(DVec3::Y),
        None => DVec3::Y,
    };
    let down = DVec3::new(plane.slope.x, plane.slope.y, -1.0).try_normalize().unwrap_or(DVec3::NEG_Z);
    Chart::new(DVec3::new(0.0, 0.0, plane.height), up.cross(down), up)
}

/// The facets of the ceiling, plane by plane.
pub(super) fn ceiling<'a>(scene: &'a Scene, palette: &mut Palette<'a>) -> Vec<Surface> {
    let cells = cells(scene);
    let mut facets = Vec::with_capacity(cells.len());
    for (k, plane) in scene.ceiling.iter().enumerate() {
        let mut chart = plane_chart(plane);
        let lifted = |corner: &DVec2| corner.extend(plane.height_at(*corner));
        let on_chart = |cell: &Polygon| Polygon::new(cell.corners.iter().map(|corner| chart.position(lifted(corner))).collect());
        let outlines: Vec<Polygon> = cells.iter().filter(|(index, _)| *index == k).map(|(_, cell)| on_chart(cell)).collect();
        let low = outlines.iter().map(|outline| outline.bounds().0).fold(DVec2::INFINITY, DVec2::min);
        if outlines.is_empty() {
            continue;
        }
        chart.origin = chart.point(low);
        let finish = palette.material(&plane.material);
        facets.extend(outlines.iter().map(|outline| surface(&plane.name, Role::Ceiling(k), chart, outline.moved(-low), finish)));
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
