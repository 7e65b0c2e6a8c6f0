//! What of an ellipse lies in a polygon, exactly.
//!
//! Moved to the origin, turned and stretched to a circle of radius 1, all areas are `a b` times smaller, `a` and `b` the half axes. There the common area is a sum over the edges of the
//! polygon: each brings, with its sign, what the circle shares with the triangle of that edge and the middle; that is a triangle where the edge runs inside the circle, a sector where it
//! runs outside.
//!
//! *References.* The area of a circle and a polygon by signed triangles and sectors: any handbook of computational geometry.
//!
//! *Limits.* Polygons are simple. An ellipse of no width has no area.

use glam::DVec2;

use super::Polygon;

/// An ellipse on a chart, in meters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ellipse {
    /// Its middle.
    pub center: DVec2,
    /// Unit vector of the first axis.
    pub along: DVec2,
    /// Half axes: along, across.
    pub half: DVec2,
}

impl Ellipse {
    /// Its area in m2.
    #[must_use]
    pub fn area(&self) -> f64 {
        std::f64::consts::PI * self.half.x * self.half.y
    }

    /// The area in m2 that it shares with a polygon.
    #[must_use]
    pub fn overlap_area(&self, polygon: &Polygon) -> f64 {
        if self.half.min_element() <= 0.0 {
            return 0.0;
        }
        let round = |corner: DVec2| {
            let offset = corner - self.center;
            DVec2::new(offset.dot(self.along), self.along.perp_dot(offset)) / self.half
        };
        let sum: f64 = polygon.edges().map(|(from, to)| of_edge(round(from), round(to))).sum();
        (sum * self.half.x * self.half.y).abs()
    }
}

/// Signed area that the circle of radius 1 shares with the triangle of an edge and its middle.
fn of_edge(from: DVec2, to: DVec2) -> f64 {
    let sector = |a: DVec2, b: DVec2| 0.5 * a.perp_dot(b).atan2(a.dot(b));
    let way = to - from;
    let (square, half) = (way.length_squared(), way.dot(from));
    let root = half * half - square * (from.length_squared() - 1.0);
    if square <= 0.0 || root <= 0.0 {
        return sector(from, to);
    }
    let [enters, leaves] = [-root.sqrt(), root.sqrt()].map(|root| ((root - half) / square).clamp(0.0, 1.0));
    if enters >= leaves {
        return sector(from, to);
    }
    let (a, b) = (from + way * enters, from + way * leaves);
    // Nothing where it begins or ends inside.
    let before = if enters > 0.0 { sector(from, a) } else { 0.0 };
    let after = if leaves < 1.0 { sector(b, to) } else { 0.0 };
    before + 0.5 * a.perp_dot(b) + after
}
