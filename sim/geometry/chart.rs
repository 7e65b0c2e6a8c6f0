//! A surface chart: position on a surface <-> point in space.

use glam::{DVec2, DVec3};

/// A plane with an origin and two unit axes, seen from inside the room: `right` to the right, `up` upward (or away), and the
/// normal `right x up` towards the viewer, into the air.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Chart {
    /// Point at (0, 0), meters.
    pub origin: DVec3,
    /// Unit vector of the first coordinate.
    pub right: DVec3,
    /// Unit vector of the second coordinate.
    pub up: DVec3,
    /// Unit normal into the air.
    pub normal: DVec3,
}

impl Chart {
    /// The chart with this origin and these unit axes; the normal is `right x up`.
    #[must_use]
    pub fn new(origin: DVec3, right: DVec3, up: DVec3) -> Self {
        Self { origin, right, up, normal: right.cross(up) }
    }

    /// The point in space at a position on the surface.
    #[must_use]
    pub fn point(&self, position: DVec2) -> DVec3 {
        self.origin + self.right * position.x + self.up * position.y
    }

    /// The position on the surface below a point in space.
    #[must_use]
    pub fn position(&self, point: DVec3) -> DVec2 {
        let offset = point - self.origin;
        DVec2::new(offset.dot(self.right), offset.dot(self.up))
    }

    /// Signed distance of a point from the plane in meters, positive in the air.
    #[must_use]
    pub fn height(&self, point: DVec3) -> f64 {
        (point - self.origin).dot(self.normal)
    }

    /// The point of the plane straight above or below a point of the floor; for an upright plane that point at the origin's height.
    #[must_use]
    pub fn plumb(&self, point: DVec2) -> DVec3 {
        if self.normal.z.abs() < 1e-9 {
            return point.extend(self.origin.z);
        }
        let offset = (self.origin.truncate() - point).dot(self.normal.truncate());
        point.extend(self.origin.z + offset / self.normal.z)
    }

    /// How steep the plane is, degrees: 0 of a level one, whichever way it faces, 90 of an upright one.
    #[must_use]
    pub fn slope_deg(&self) -> f64 {
        self.normal.z.abs().min(1.0).acos().to_degrees()
    }

    /// The mirror image of a point in the plane.
    #[must_use]
    pub fn mirror(&self, point: DVec3) -> DVec3 {
        point - 2.0 * self.height(point) * self.normal
    }
}
