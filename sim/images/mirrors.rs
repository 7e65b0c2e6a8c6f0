//! The surfaces, prepared: what each can see, what can stand in the way of what, and which lie in one another.
//!
//! Held are some 250 bytes a surface, 40 a corner, and a bit a pair (`sight`): for 5,000 surfaces 2 MB and 3 MB. Preparing looks at pairs, most of them by their spheres alone.

use glam::{DVec2, DVec3};
use rayon::prelude::*;

use super::sight::Sight;
use crate::geometry::polygon::distance_to_segment;
use crate::geometry::{Chart, Polygon};
use crate::room::{CONTACT, Room};

/// A leg that ends this close to a plane (m) ends on it and does not cross it. Far below [`super::NUDGE`], far above rounding.
const ON_PLANE: f64 = 1e-11;

/// Beyond its radius by this, in meters, a sphere lies on one side of a plane whatever is rounded.
const SURELY: f64 = 1e-6;

/// A surface as a mirror and as an obstacle.
pub(super) struct Mirror {
    pub(super) chart: Chart,
    outline: Polygon,
    low: DVec2,
    high: DVec2,
    /// Corners in space of the outline's convex hull.
    pub(super) hull: Vec<DVec3>,
    /// Middle and radius of a sphere round it, meters.
    pub(super) center: DVec3,
    pub(super) radius: f64,
    /// Earlier surfaces in the same plane that face the same way and may share some of it: two clouds that overlap by a hair. Where they do,
    /// the first of them mirrors.
    earlier: Vec<usize>,
}

impl Mirror {
    pub(super) fn new(chart: Chart, outline: &Polygon) -> Self {
        let (low, high) = outline.bounds();
        let center = (low + high) / 2.0;
        let radius = outline.corners.iter().map(|corner| corner.distance(center)).fold(0.0, f64::max);
        let hull = Polygon::hull(&outline.corners).corners.into_iter().map(|corner| chart.point(corner)).collect();
        Self { chart, outline: outline.clone(), low, high, hull, center: chart.point(center), radius, earlier: Vec::new() }
    }

    /// Whether either has some part in front of the other.
    pub(super) fn sees(&self, other: &Self) -> bool {
        let in_front = |a: &Self, b: &Self| b.rises_over(|corner| a.chart.height(corner));
        in_front(self, other) && in_front(other, self)
    }

    /// Whether another lies in the same plane, faces the same way and is near enough to share some of it.
    fn may_share(&self, other: &Self) -> bool {
        self.chart.normal.dot(other.chart.normal) > 0.5
            && self.center.distance_squared(other.center) < (self.radius + other.radius).powi(2)
            && other.hull.iter().all(|&corner| self.chart.height(corner).abs() <= ON_PLANE)
    }

    /// Whether a point in space lies on it, its edges included.
    pub(super) fn holds(&self, point: DVec3) -> bool {
        let position = self.chart.position(point);
        let is_on_edge = || self.outline.edges().any(|(a, b)| distance_to_segment(position, a, b) <= CONTACT);
        self.chart.height(point).abs() <= CONTACT && (self.outline.winds(position) || is_on_edge())
    }

    /// Whether any corner rises over a plane. Of most surfaces the middle tells.
    fn rises_over(&self, height: impl Fn(DVec3) -> f64) -> bool {
        let middle = height(self.center);
        let surely = self.radius + SURELY;
        middle > surely || (middle > -surely && self.hull.iter().any(|&corner| height(corner) > super::NUDGE))
    }

    /// Where the segment from a target in front to an image behind crosses the plane.
    pub(super) fn crossing(&self, target: DVec3, image: DVec3) -> Option<DVec3> {
        let (above, below) = (self.chart.height(target), self.chart.height(image));
        (above > 0.0 && below < 0.0).then(|| target + (image - target) * (above / (above - below)))
    }

    /// Whether it stands between two points. From the air, bodies and walls are met from the front.
    pub(super) fn shades(&self, from: DVec3, to: DVec3) -> bool {
        let (above, below) = (self.chart.height(from), self.chart.height(to));
        above > ON_PLANE && below < -ON_PLANE && self.contains(from + (to - from) * (above / (above - below)))
    }

    /// Whether a point of the plane lies within the outline.
    fn contains(&self, point: DVec3) -> bool {
        let position = self.chart.position(point);
        position.cmpge(self.low).all() && position.cmple(self.high).all() && self.outline.winds(position)
    }
}

/// All surfaces of a room.
pub(super) struct Mirrors {
    pub(super) all: Vec<Mirror>,
    /// Which surfaces see which.
    pub(super) sight: Sight,
    /// Surfaces that have something behind them, and so may stand in the way.
    obstacles: Vec<usize>,
}

impl Mirrors {
    /// Of a room, sight held up to so many surfaces.
    pub(super) fn new(room: &Room, held_most: usize) -> Self {
        let mut all: Vec<Mirror> = room.surfaces.iter().map(|surface| Mirror::new(surface.chart, &surface.outline)).collect();
        let earlier = |k: usize| (0..k).filter(|&j| all[k].may_share(&all[j])).collect();
        let shared: Vec<Vec<usize>> = (0..all.len()).into_par_iter().map(earlier).collect();
        for (mirror, earlier) in all.iter_mut().zip(shared) {
            mirror.earlier = earlier;
        }
        let behind = |a: &Mirror, b: &Mirror| b.rises_over(|corner| -a.chart.height(corner));
        let obstacles = (0..all.len()).into_par_iter().filter(|&k| all.iter().any(|other| behind(&all[k], other))).collect();
        Self { sight: Sight::new(&all, held_most), all, obstacles }
    }

    /// Whether a point of a surface's plane is mirrored by it: within its outline, and in none that shares the plane and comes before it.
    pub(super) fn mirrors_at(&self, surface: usize, point: DVec3) -> bool {
        let mirror = &self.all[surface];
        mirror.contains(point) && !mirror.earlier.iter().any(|&index| self.all[index].contains(point))
    }

    /// Whether anything but the two surfaces at its ends stands between two points.
    pub(super) fn blocked(&self, from: DVec3, to: DVec3, ends: [Option<usize>; 2]) -> bool {
        self.shades(from, to, |index| ends.contains(&Some(index)))
    }
}

impl Mirrors {
    /// The surfaces that may stand in the way, with their numbers.
    pub(super) fn obstacles(&self) -> impl Iterator<Item = (usize, &Mirror)> {
        self.obstacles.iter().map(|&index| (index, &self.all[index]))
    }

    /// Whether anything but what is left out stands between two points.
    pub(super) fn shades(&self, from: DVec3, to: DVec3, left_out: impl Fn(usize) -> bool) -> bool {
        self.obstacles().any(|(index, mirror)| !left_out(index) && mirror.shades(from, to))
    }
}
