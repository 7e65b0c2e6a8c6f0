//! Whether two things that take up space keep their distance.
//!
//! Everything that hangs, stands or must stay free is a convex solid. Two of them keep a gap if, along some direction, the
//! shadow of one ends that much before the shadow of the other begins; for convex solids only the normals of their faces and the
//! cross products of their edges need trying.
//!
//! *References.* S. Gottschalk, M. C. Lin, D. Manocha, "`OBBTree`: a hierarchical structure for rapid interference detection",
//! SIGGRAPH 1996, section 5 (the separating-axis test; from memory).
//!
//! *Limits.* A gap is measured along one direction at a time: two solids that face each other corner to corner are taken to be
//! up to a factor 1.7 closer than they are. That refuses a little too much, never too little.

use glam::{DVec2, DVec3};

use super::Chart;

/// Lengths below this, in meters, are rounding.
const ROUNDING: f64 = 1e-7;

/// A convex body, or a convex flat piece, in room coordinates (meters).
#[derive(Clone, Debug, PartialEq)]
pub struct Solid {
    corners: Vec<DVec3>,
    normals: Vec<DVec3>,
    edges: Vec<DVec3>,
    low: DVec3,
    high: DVec3,
}

impl Solid {
    fn new(corners: Vec<DVec3>, normals: Vec<DVec3>, edges: Vec<DVec3>) -> Self {
        let low = corners.iter().fold(DVec3::INFINITY, |low, &corner| low.min(corner));
        let high = corners.iter().fold(DVec3::NEG_INFINITY, |high, &corner| high.max(corner));
        Self { corners, normals, edges, low, high }
    }

    /// What stands on the rectangle `low..high` of a chart, from the plane up to `depth` meters before it.
    #[must_use]
    pub fn before(chart: &Chart, low: DVec2, high: DVec2, depth: f64) -> Self {
        let mut corners = Vec::with_capacity(8);
        for position in [low, DVec2::new(high.x, low.y), high, DVec2::new(low.x, high.y)] {
            let point = chart.point(position);
            corners.push(point);
            corners.push(point + chart.normal * depth);
        }
        let axes = vec![chart.right, chart.up, chart.normal];
        Self::new(corners, axes.clone(), axes)
    }

    /// A box with edges along x, y, z.
    #[must_use]
    pub fn upright(low: DVec3, high: DVec3) -> Self {
        let chart = Chart::new(DVec3::new(0.0, 0.0, low.z), DVec3::X, DVec3::Y);
        Self::before(&chart, low.truncate(), high.truncate(), high.z - low.z)
    }

    /// A box of this size (own x, own y, z) whose footprint is centered at `center` and turned counterclockwise by `rotation`
    /// radians, from height `base` up.
    #[must_use]
    pub fn turned(center: DVec2, base: f64, size: DVec3, rotation: f64) -> Self {
        let right = DVec3::new(rotation.cos(), rotation.sin(), 0.0);
        let chart = Chart::new(center.extend(base), right, DVec3::Z.cross(right));
        let half = size.truncate() / 2.0;
        Self::before(&chart, -half, half, size.z)
    }

    /// The upright column over a convex footprint between two heights.
    #[must_use]
    pub fn column(footprint: &[DVec2], base: f64, top: f64) -> Self {
        let corners = footprint.iter().flat_map(|&corner| [corner.extend(base), corner.extend(top)]).collect();
        let mut normals = vec![DVec3::Z];
        let mut edges = vec![DVec3::Z];
        for (i, &a) in footprint.iter().enumerate() {
            if let Some(along) = (footprint[(i + 1) % footprint.len()] - a).try_normalize() {
                edges.push(along.extend(0.0));
                normals.push(DVec3::new(along.y, -along.x, 0.0));
            }
        }
        Self::new(corners, normals, edges)
    }

    /// A flat convex piece of a surface, without thickness.
    #[must_use]
    pub fn flat(chart: &Chart, outline: &[DVec2]) -> Self {
        let corners = outline.iter().map(|&corner| chart.point(corner)).collect();
        let mut normals = vec![chart.normal];
        let mut edges = Vec::with_capacity(outline.len());
        for (i, &a) in outline.iter().enumerate() {
            if let Some(along) = (outline[(i + 1) % outline.len()] - a).try_normalize() {
                edges.push(chart.right * along.x + chart.up * along.y);
                normals.push(chart.right * along.y - chart.up * along.x);
            }
        }
        Self::new(corners, normals, edges)
    }

    /// Its corners, meters.
    #[must_use]
    pub fn corners(&self) -> &[DVec3] {
        &self.corners
    }

    /// Lowest and highest coordinates, meters.
    #[must_use]
    pub fn bounds(&self) -> (DVec3, DVec3) {
        (self.low, self.high)
    }

    /// Whether the two keep a gap of `gap` meters (negative: may reach into each other by that much) along some direction.
    #[must_use]
    pub fn apart(&self, other: &Self, gap: f64) -> bool {
        let needed = gap - ROUNDING;
        if (self.low - other.high).max_element().max((other.low - self.high).max_element()) >= needed {
            return true;
        }
        let parts = |axis: DVec3| {
            let (low, high) = self.shadow(axis);
            let (other_low, other_high) = other.shadow(axis);
            (low - other_high).max(other_low - high) >= needed
        };
        self.normals.iter().chain(&other.normals).any(|&axis| parts(axis))
            || self
                .edges
                .iter()
                .any(|&edge| other.edges.iter().any(|&other_edge| edge.cross(other_edge).try_normalize().is_some_and(&parts)))
    }

    /// Where it begins and ends along a direction.
    fn shadow(&self, axis: DVec3) -> (f64, f64) {
        self.corners.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), &corner| {
            let along = corner.dot(axis);
            (low.min(along), high.max(along))
        })
    }
}
