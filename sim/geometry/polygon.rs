//! A simple polygon in the plane.

use glam::DVec2;

/// A simple polygon, corners counterclockwise, in meters.
#[derive(Clone, Debug, PartialEq)]
pub struct Polygon {
    /// Corners, counterclockwise.
    pub corners: Vec<DVec2>,
}
