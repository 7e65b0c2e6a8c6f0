//! The shell of a scene: which surface a name means, its chart, and whether a rectangle lies on it.
//!
//! The ceiling is the lower envelope of its planes: at a point of the floor plan its height is the least of `height + slope . (x, y)`.
//! Along a wall that height is concave, and so is the region where one plane is the lowest: a rectangle lies on the surface if its
//! corners do, except for notches in the outline, which are tested edge by edge.
//!
//! *Charts*, all as seen from inside. Wall `i`: origin at corner `i + 1` on the floor, right along the floor to corner `i`, up.
//! Floor: origin at the least x and y of the outline, right is +x, up is +y. Ceiling plane: up is uphill along the slope (+y if it is
//! flat), right is `up x normal` with the normal into the air, the origin at the least right and up that the plane reaches where it is
//! the lowest: for a slope that rises from a wall, as one sees it facing that wall.

use glam::{DVec2, DVec3};

use super::{CeilingPlane, Rectangle, Scene};
use crate::geometry::Chart;

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
                let corners = self.ceiling_facet(index);
                let reach = corners.iter().map(|&corner| chart.position(plane_point(plane, corner)));
                chart.origin = chart.point(reach.reduce(DVec2::min).unwrap_or(DVec2::ZERO));
                chart
            }
        }
    }

    /// Corners on the floor plan of the region where a ceiling plane is the lowest, meters; empty if it is so nowhere.
    ///
    /// In a room with notches the region may fall apart; its parts are then joined by edges without width along the cuts.
    #[must_use]
    pub fn ceiling_facet(&self, index: usize) -> Vec<DVec2> {
        let mut corners = self.outline.clone();
        for (other, plane) in self.ceiling.iter().enumerate() {
            // Of two equal planes the first is the ceiling.
            let lead = if other < index { -SLACK } else { SLACK };
            if other != index {
                let above = |point: DVec2| self.ceiling[index].height_at(point) - plane.height_at(point);
                if corners.iter().all(|&corner| above(corner) > lead) || corners.iter().all(|&corner| above(corner).abs() <= SLACK) && other < index {
                    return Vec::new();
                }
                corners = clip(&corners, above);
            }
        }
        if signed_area(&corners).abs() > SLACK { corners } else { Vec::new() }
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
            SurfaceIndex::Floor => (!contains_convex(&self.outline, &corners.map(DVec3::truncate))).then_some(Miss::Outline),
            SurfaceIndex::Ceiling(_) => {
                if !contains_convex(&self.outline, &corners.map(DVec3::truncate)) {
                    return Some(Miss::Outline);
                }
                let lowest = corners.iter().all(|corner| corner.z <= self.ceiling_height(corner.truncate()) + SLACK);
                (!lowest).then_some(Miss::Plane)
            }
        }
    }

    /// Whether a point lies in the air of the shell: over the floor and below the ceiling, not on them (blocks aside).
    #[must_use]
    pub fn in_shell(&self, point: DVec3) -> bool {
        contains(&self.outline, point.truncate()) && point.z > 0.0 && point.z < self.ceiling_height(point.truncate())
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
    let apart = |low: f64, size: f64, other_low: f64, other_size: f64| low + size <= other_low + SLACK || other_low + other_size <= low + SLACK;
    !apart(a.left, a.width, b.left, b.width) && !apart(a.bottom, a.height, b.bottom, b.height)
}

/// Area of a polygon in m2, positive if it runs counterclockwise.
#[must_use]
pub fn signed_area(corners: &[DVec2]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    corners.iter().zip(next).map(|(a, b)| a.perp_dot(*b)).sum::<f64>() / 2.0
}

/// Whether a point lies inside a simple polygon; points on its edge count as outside.
#[must_use]
pub fn contains(polygon: &[DVec2], point: DVec2) -> bool {
    distance_to_edge(polygon, point) > SLACK && winds_round(polygon, point)
}

/// Whether a convex polygon lies in a simple one; they may share edges.
#[must_use]
pub fn contains_convex(polygon: &[DVec2], convex: &[DVec2]) -> bool {
    let middle = convex.iter().copied().sum::<DVec2>() / convex.len().max(1) as f64;
    let inside = |point: DVec2| winds_round(polygon, point) || distance_to_edge(polygon, point) <= SLACK;
    // Corners a hair inside their own place, so that shared edges do not count as crossings.
    let shrunk: Vec<DVec2> = convex.iter().map(|&corner| corner + (middle - corner).clamp_length_max(2.0 * SLACK)).collect();
    let edges = |corners: &[DVec2]| -> Vec<(DVec2, DVec2)> { corners.iter().copied().zip(corners.iter().copied().cycle().skip(1)).collect() };
    let crossed = edges(polygon).iter().any(|&(a, b)| edges(&shrunk).iter().any(|&(c, d)| cross(a, b, c, d)));
    shrunk.iter().all(|&corner| inside(corner)) && !crossed
}

/// Whether two segments cross in a point that is inside both.
#[must_use]
pub fn cross(a: DVec2, b: DVec2, c: DVec2, d: DVec2) -> bool {
    let side = |from: DVec2, to: DVec2, point: DVec2| (to - from).perp_dot(point - from);
    side(a, b, c) * side(a, b, d) < 0.0 && side(c, d, a) * side(c, d, b) < 0.0
}

/// Distance of a point from a segment, meters.
#[must_use]
pub fn distance_to_segment(from: DVec2, to: DVec2, point: DVec2) -> f64 {
    let along = to - from;
    let share = ((point - from).dot(along) / along.length_squared()).clamp(0.0, 1.0);
    if share.is_finite() { point.distance(from + along * share) } else { point.distance(from) }
}

fn distance_to_edge(polygon: &[DVec2], point: DVec2) -> f64 {
    let next = polygon.iter().cycle().skip(1);
    polygon.iter().zip(next).map(|(a, b)| distance_to_segment(*a, *b, point)).fold(f64::INFINITY, f64::min)
}

/// Whether a ray from the point to +x crosses the polygon an odd number of times.
fn winds_round(polygon: &[DVec2], point: DVec2) -> bool {
    let next = polygon.iter().cycle().skip(1);
    let crosses = |a: &DVec2, b: &DVec2| (a.y > point.y) != (b.y > point.y) && point.x < a.x + (point.y - a.y) / (b.y - a.y) * (b.x - a.x);
    polygon.iter().zip(next).filter(|(a, b)| crosses(a, b)).count() % 2 == 1
}

fn plane_point(plane: &CeilingPlane, point: DVec2) -> DVec3 {
    point.extend(plane.height_at(point))
}

/// The part of a polygon where `above` is at most zero, by cutting edge after edge.
fn clip(corners: &[DVec2], above: impl Fn(DVec2) -> f64) -> Vec<DVec2> {
    let mut kept = Vec::new();
    for (a, b) in corners.iter().copied().zip(corners.iter().copied().cycle().skip(1)) {
        let (height_a, height_b) = (above(a), above(b));
        if height_a <= 0.0 {
            kept.push(a);
        }
        if (height_a < 0.0) != (height_b < 0.0) && height_a != 0.0 && height_b != 0.0 {
            kept.push(a.lerp(b, height_a / (height_a - height_b)));
        }
    }
    kept
}
