//! The region that sound from an image can reach through the surfaces met so far: a cone over the last of them, cut to what
//! came through the ones before. Generous by [`SLACK`]; what it lets through is checked exactly.

use glam::DVec3;

use super::mirrors::Mirror;

/// How far outside, in meters, still counts as inside.
const SLACK: f64 = 1e-6;

/// The half spaces `normal . point >= offset` that bound a beam.
pub(super) struct Beam {
    sides: Vec<(DVec3, f64)>,
}

impl Beam {
    /// No bounds: the source itself, before any surface.
    pub(super) fn everywhere() -> Self {
        Self { sides: Vec::new() }
    }

    /// A quick look: false only if the surface lies wholly outside.
    pub(super) fn may_meet(&self, mirror: &Mirror) -> bool {
        self.sides.iter().all(|&(normal, offset)| {
            let middle = normal.dot(mirror.center) - offset;
            middle >= -SLACK
                || (middle >= -mirror.radius - SLACK && mirror.hull.iter().any(|&corner| normal.dot(corner) - offset >= -SLACK))
        })
    }

    /// The beam from the image behind `mirror` through that part of it which this beam reaches; `None` if it reaches none.
    pub(super) fn through(&self, mirror: &Mirror, image: DVec3) -> Option<Self> {
        let mut window = mirror.hull.clone();
        let mut cut = Vec::with_capacity(window.len() + 4);
        for &(normal, offset) in &self.sides {
            clip(&window, normal, offset - SLACK, &mut cut);
            std::mem::swap(&mut window, &mut cut);
            if window.len() < 3 {
                return None;
            }
        }
        let mut sides = Vec::with_capacity(window.len() + 1);
        let normal = mirror.chart.normal;
        sides.push((normal, normal.dot(mirror.chart.origin)));
        let middle = window.iter().sum::<DVec3>() / window.len() as f64;
        for (i, &a) in window.iter().enumerate() {
            let b = window[(i + 1) % window.len()];
            // An edge seen end on bounds nothing.
            let Some(side) = (a - image).cross(b - image).try_normalize() else { continue };
            let depth = side.dot(middle - image);
            if a.distance_squared(b) > SLACK * SLACK && depth.abs() > SLACK {
                let inward = side * depth.signum();
                sides.push((inward, inward.dot(image)));
            }
        }
        Some(Self { sides })
    }
}

/// What of a convex polygon in space lies where `normal . point >= offset`.
fn clip(window: &[DVec3], normal: DVec3, offset: f64, kept: &mut Vec<DVec3>) {
    kept.clear();
    let depth = |point: DVec3| normal.dot(point) - offset;
    for (i, &a) in window.iter().enumerate() {
        let b = window[(i + 1) % window.len()];
        let (at_a, at_b) = (depth(a), depth(b));
        if at_a >= 0.0 {
            kept.push(a);
        }
        if (at_a >= 0.0) != (at_b >= 0.0) {
            kept.push(a + (b - a) * (at_a / (at_a - at_b)));
        }
    }
}
