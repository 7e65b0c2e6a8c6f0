//! The shell of a scene: which surface a name means, its chart, and whether a rectangle lies on it.
//!
//! The ceiling is the lower envelope of its planes: at a point of the floor plan its height is the least of `height + slope . (x, y)`.
//! Along a wall that height is concave: a rectangle lies below it if its upper corners do.
//!
//! *Charts*, all as seen from inside. Wall `i`: origin at corner `i + 1` on the floor, right along the floor to corner `i`, up.
//! Floor: origin at the least x and y of the outline, right is +x, up is +y. Ceiling plane: up is uphill along the slope (+y if it is
//! flat), right is `up x normal` with the normal into the air, the origin at the least right and up that the plane reaches where it is
//! the lowest: for a slope that rises from a wall, as one sees it facing that wall.

use glam::{DVec2, DVec3};

use super::{Rectangle, Scene};
use crate::geometry::{Chart, Polygon};

/// A surface that things may hang on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SurfaceIndex {
    /// Wall of this index.
    Wall(usize),
    /// Ceiling plane of this index.
    Ceiling(usize),
    /// The floor.
    Floor,
}

/// How far a rectangle may stick out and still lie on its surface, meters: rounding, not tape.
pub const SLACK: f64 = 1e-6;

/// The floor's name.
pub const FLOOR: &str = "floor";

impl Scene {
    /// The surface of this name.
    #[must_use]
    pub fn surface(&self, name: &str) -> Option<SurfaceIndex> {
        let wall = self.walls.iter().position(|wall| wall.name == name).map(SurfaceIndex::Wall);
        let ceiling = || self.ceiling.iter().position(|plane| plane.name == name).map(SurfaceIndex::Ceiling);
        wall.or_else(ceiling).or_else(|| (name == FLOOR).then_some(SurfaceIndex::Floor))
    }

    /// Both ends of a wall on the floor plan, meters; from corner `index` to the next.
    #[must_use]
    pub fn wall_ends(&self, index: usize) -> (DVec2, DVec2) {
        (self.outline[index], self.outline[(index + 1) % self.outline.len()])
    }

    /// Length of a wall along the floor, meters.
    #[must_use]
    pub fn wall_length(&self, index: usize) -> f64 {
        let (from, to) = self.wall_ends(index);
        from.distance(to)
    }

    /// Height of the ceiling over a point of the floor plan, meters.
    #[must_use]
    pub fn ceiling_height(&self, point: DVec2) -> f64 {
        self.ceiling.iter().map(|plane| plane.height_at(point)).fold(f64::INFINITY, f64::min)
    }

    /// The chart of a surface; see the conventions above.
    #[must_use]
    pub fn chart(&self, surface: SurfaceIndex) -> Chart {
        match surface {
            SurfaceIndex::Wall(index) => {
                let (left, right) = (self.wall_ends(index).1, self.wall_ends(index).0);
                let along = (right - left).try_normalize().unwrap_or(DVec2::X);
                Chart::new(left.extend(0.0), along.extend(0.0), DVec3::Z)
            }
            SurfaceIndex::Floor => {
                let low = self.outline.iter().copied().reduce(DVec2::min).unwrap_or(DVec2::ZERO);
                Chart::new(low.extend(0.0), DVec3::X, DVec3::Y)
            }
            SurfaceIndex::Ceiling(index) => {
                let plane = &self.ceiling[index];
                let normal = plane.slope.extend(-1.0).try_normalize().unwrap_or(DVec3::NEG_Z);
                let uphill = plane.slope.extend(plane.slope.length_squared()).try_normalize().unwrap_or(DVec3::Y);
                let mut chart = Chart::new(DVec2::ZERO.extend(plane.height), uphill.cross(normal), uphill);
                let facets = self.ceiling_facets(index);
                let corners = facets.iter().flat_map(|facet| &facet.corners);
                let reach = corners.map(|&corner| chart.position(corner.extend(plane.height_at(corner))));
                chart.origin = chart.point(reach.reduce(DVec2::min).unwrap_or(DVec2::ZERO));
                chart
            }
        }
    }

    /// The parts of the floor plan over which a ceiling plane is the lowest; none if it is so nowhere. Of equal planes the first counts.
    #[must_use]
    pub fn ceiling_facets(&self, index: usize) -> Vec<Polygon> {
        let plane = &self.ceiling[index];
        let mut pieces = vec![Polygon { corners: self.outline.clone() }];
        for (other, rival) in self.ceiling.iter().enumerate().filter(|(other, _)| *other != index) {
            let (normal, offset) = (plane.slope - rival.slope, rival.height - plane.height);
            let equal = normal.length() <= SLACK && offset.abs() <= SLACK;
            if !equal {
                pieces = pieces.iter().flat_map(|piece| piece.clip(normal, offset)).collect();
            } else if other < index {
                return Vec::new();
            }
        }
        // A sliver left out would leave a hole in the room: only what has no area goes.
        pieces.retain(|piece| piece.area() > 1e-12);
        pieces
    }

    /// Why a rectangle does not lie on a surface, in words that follow the rectangle's name; `None` if it does.
    #[must_use]
    pub fn off_surface(&self, surface: SurfaceIndex, place: &Rectangle) -> Option<Miss> {
        if place.left < -SLACK || place.bottom < -SLACK {
            return Some(if place.left < -SLACK { Miss::Left } else { Miss::Bottom });
        }
        let chart = self.chart(surface);
        let corners = rectangle_corners(place).map(|corner| chart.point(corner));
        match surface {
            SurfaceIndex::Wall(index) => {
                let length = self.wall_length(index);
                if place.left + place.width > length + SLACK {
                    return Some(Miss::Right(length));
                }
                let top = place.bottom + place.height;
                let under = corners.iter().map(|corner| self.ceiling_height(corner.truncate())).fold(f64::INFINITY, f64::min);
                (top > under + SLACK).then_some(Miss::Top(under))
            }
            SurfaceIndex::Floor | SurfaceIndex::Ceiling(_) => {
                let shadow = Polygon::new(corners.map(DVec3::truncate).to_vec());
                if !self.floor_plan().covers(&shadow, SLACK) {
                    return Some(Miss::Outline);
                }
                let SurfaceIndex::Ceiling(index) = surface else { return None };
                let lowest = corners.iter().all(|corner| corner.z <= self.ceiling_height(corner.truncate()) + SLACK);
                (!lowest || self.ceiling_facets(index).is_empty()).then_some(Miss::Plane)
            }
        }
    }

    /// The outline as a polygon.
    #[must_use]
    pub fn floor_plan(&self) -> Polygon {
        Polygon { corners: self.outline.clone() }
    }

    /// Whether a point lies in the air of the shell: between the walls, over the floor and below the ceiling, not on them (blocks aside).
    #[must_use]
    pub fn in_shell(&self, point: DVec3) -> bool {
        let heights = SLACK..self.ceiling_height(point.truncate()) - SLACK;
        self.floor_plan().contains_strictly(point.truncate(), SLACK) && heights.contains(&point.z)
    }
}

/// How a rectangle misses its surface.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Miss {
    /// Its left edge lies beyond the surface's left edge.
    Left,
    /// Its lower edge lies below the surface's lower edge.
    Bottom,
    /// Its right edge lies beyond the wall's end, at this length in meters.
    Right(f64),
    /// Its upper edge reaches into the ceiling, which is this high there, meters.
    Top(f64),
    /// It reaches beyond the outline of the room.
    Outline,
    /// It reaches beyond the edge where another ceiling plane takes over.
    Plane,
}

/// The corners of a rectangle in chart coordinates, counterclockwise from its left lower one.
#[must_use]
pub fn rectangle_corners(place: &Rectangle) -> [DVec2; 4] {
    let low = DVec2::new(place.left, place.bottom);
    [low, low + DVec2::X * place.width, low + DVec2::new(place.width, place.height), low + DVec2::Y * place.height]
}

/// Whether two rectangles on the same surface share more than an edge.
#[must_use]
pub fn overlap(a: &Rectangle, b: &Rectangle) -> bool {
    let apart =
        |low: f64, size: f64, other_low: f64, other_size: f64| low + size <= other_low + SLACK || other_low + other_size <= low + SLACK;
    !apart(a.left, a.width, b.left, b.width) && !apart(a.bottom, a.height, b.bottom, b.height)
}
