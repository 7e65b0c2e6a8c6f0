//! The wavefront of a short sound, `r = c t` from the source, as curves: where it meets each surface, and where it meets a plane that cuts
//! the room; and the same of its first bounces, which come from the mirror images of the source.
//!
//! A sphere meets a plane at distance `h` in a circle of radius `sqrt(r^2 - h^2)` round the foot of its center. Of that circle only what
//! lies on the surface is kept, and of it only what the sound reaches in a straight line: the direct one from the source, a bounce
//! through the surface that mirrors it.
//!
//! *References.* J. B. Allen, D. A. Berkley, "Image method for efficiently simulating small-room acoustics", JASA 65 (1979) 943-950
//! (from memory).
//!
//! *Limits.* Straight lines only: what bends round an edge is left out, and what bounces twice, and what bounces off blocks and panels.
//! A circle is followed in steps of 3 degrees: a gap or shadow narrower than that may be missed, and its ends lie up to one step off.
//! Nothing is said of level: how much has landed where is the answer of [`mod@super::landing`].

use std::f64::consts::TAU;

use glam::{DVec2, DVec3};

use crate::geometry::Chart;
use crate::room::{Role, Room, Solid};

/// Steps round a whole circle.
const STEPS: usize = 120;
/// Lengths below this are nothing, meters.
const NOTHING: f64 = 1e-6;
/// How far before a surface its points are looked at, so that it does not hide itself, meters.
const BEFORE: f64 = 1e-4;

/// One unbroken curve of the wavefront; a whole circle ends where it begins.
#[derive(Clone, Debug, PartialEq)]
pub struct Curve {
    /// Points along it, meters, room coordinates.
    pub points: Vec<DVec3>,
    /// Bounces on the way: 0 or 1.
    pub bounces: u32,
}

/// The wavefront of one source of a room, at any moment.
pub struct Wavefront<'a> {
    room: &'a Room,
    source: DVec3,
    /// The source first, then its images.
    origins: Vec<Origin>,
}

/// Where sound of a source comes from: itself, or its mirror image in a surface.
struct Origin {
    at: DVec3,
    mirror: Option<usize>,
}

impl<'a> Wavefront<'a> {
    /// Of the source with this number; `None` where the room has no such source.
    #[must_use]
    pub fn new(room: &'a Room, source: usize) -> Option<Self> {
        let source = room.sources.get(source)?.position;
        let shell = room.surfaces.iter().enumerate().filter(|(_, surface)| surface.role.is_shell());
        let before = shell.filter(|(_, surface)| surface.chart.height(source) > NOTHING);
        let images = before.map(|(index, surface)| Origin { at: surface.chart.mirror(source), mirror: Some(index) });
        let origins = std::iter::once(Origin { at: source, mirror: None }).chain(images).collect();
        Some(Self { room, source, origins })
    }

    /// How far sound has come `time_s` seconds after the source sounded, meters.
    #[must_use]
    pub fn radius(&self, time_s: f64) -> f64 {
        self.room.medium.speed * time_s
    }

    /// Whether the direct sound gets to a point of the air or of a surface in a straight line.
    #[must_use]
    pub fn reaches(&self, point: DVec3) -> bool {
        is_clear(self.room, self.source, point)
    }

    /// Its curves `time_s` seconds after the source sounded, the direct sound's first: on every surface, and in the air on the plane of
    /// `section`.
    #[must_use]
    pub fn curves(&self, time_s: f64, section: Option<&Chart>) -> Vec<Curve> {
        let radius = self.radius(time_s);
        let mut all = Vec::new();
        if radius <= 0.0 {
            return all;
        }
        for origin in &self.origins {
            // Half way between image and source stands the mirror: what has not come so far has not bounced.
            let way = |index: usize| self.room.surfaces[index].chart.height(self.source);
            if origin.mirror.is_none_or(|index| way(index) < radius) {
                self.on_surfaces(origin, radius, &mut all);
                if let Some(section) = section {
                    self.in_section(origin, radius, section, &mut all);
                }
            }
        }
        all
    }

    /// What one sphere draws on the surfaces.
    fn on_surfaces(&self, origin: &Origin, radius: f64, all: &mut Vec<Curve>) {
        for (index, surface) in self.room.surfaces.iter().enumerate() {
            if origin.mirror == Some(index) || surface.chart.height(self.source) <= 0.0 {
                continue;
            }
            let Some((middle, radius)) = circle(&surface.chart, origin.at, radius) else { continue };
            let (low, high) = surface.outline.bounds();
            let farthest = (middle - low).abs().max((middle - high).abs()).length();
            if middle.clamp(low, high).distance(middle) > radius || farthest < radius {
                continue;
            }
            let on_surface = |position: DVec2| {
                let point = surface.chart.point(position);
                let before = point + BEFORE * surface.chart.normal;
                (surface.outline.contains(position) && self.comes_from(origin, before)).then_some(point)
            };
            unbroken(round(radius).map(|offset| on_surface(middle + offset)).collect(), origin, all);
        }
    }

    /// What one sphere draws on a plane through the air.
    fn in_section(&self, origin: &Origin, radius: f64, section: &Chart, all: &mut Vec<Curve>) {
        let Some((middle, radius)) = circle(section, origin.at, radius) else { return };
        let in_air = |offset: DVec2| {
            let point = section.point(middle + offset);
            (self.room.contains(point) && self.comes_from(origin, point)).then_some(point)
        };
        unbroken(round(radius).map(in_air).collect(), origin, all);
    }

    /// Whether sound reaches a point from an origin: in a straight line, or through the surface that mirrors it.
    fn comes_from(&self, origin: &Origin, to: DVec3) -> bool {
        let Some(mirror) = origin.mirror else { return self.reaches(to) };
        let surface = &self.room.surfaces[mirror];
        let (behind, before) = (surface.chart.height(origin.at), surface.chart.height(to));
        if before <= NOTHING {
            return false;
        }
        let bounce = origin.at + (to - origin.at) * (-behind / (before - behind));
        surface.outline.contains(surface.chart.position(bounce)) && self.reaches(bounce) && is_clear(self.room, bounce, to)
    }
}

/// Where a sphere meets a plane, as center and radius on the plane's chart; `None` where it does not.
fn circle(chart: &Chart, center: DVec3, radius: f64) -> Option<(DVec2, f64)> {
    let height = chart.height(center);
    let square = radius * radius - height * height;
    (square > 0.0).then(|| (chart.position(center), square.sqrt()))
}

/// Points round the middle of a chart.
fn round(radius: f64) -> impl Iterator<Item = DVec2> {
    (0..STEPS).map(move |step| DVec2::from_angle(TAU * step as f64 / STEPS as f64) * radius)
}

/// Consecutive points of a circle that belong to the wavefront, as curves.
fn unbroken(points: Vec<Option<DVec3>>, origin: &Origin, all: &mut Vec<Curve>) {
    let bounces = u32::from(origin.mirror.is_some());
    let Some(gap) = points.iter().position(Option::is_none) else {
        let mut points: Vec<DVec3> = points.into_iter().flatten().collect();
        points.extend(points.first().copied());
        all.push(Curve { points, bounces });
        return;
    };
    let mut current: Vec<DVec3> = Vec::new();
    let count = points.len();
    for at in (0..=count).map(|step| points[(gap + step) % count]) {
        match at {
            Some(point) => current.push(point),
            None if current.len() > 1 => all.push(Curve { points: std::mem::take(&mut current), bounces }),
            None => current.clear(),
        }
    }
}

/// Whether nothing of the room stands between two points of its air or its surfaces.
fn is_clear(room: &Room, from: DVec3, to: DVec3) -> bool {
    let walls = || room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Wall(_) | Role::Ceiling(_)));
    room.solids.iter().all(|solid| is_past(solid, from, to))
        && (room.is_shell_convex
            || walls().all(|surface| {
                let (a, b) = (surface.chart.height(from), surface.chart.height(to));
                let crosses = a > NOTHING && b < -NOTHING;
                !crosses || !surface.outline.contains(surface.chart.position(from + (to - from) * (a / (a - b))))
            }))
}

/// Whether no part of a stretch lies inside all faces of a solid.
fn is_past(solid: &Solid, from: DVec3, to: DVec3) -> bool {
    let (mut enter, mut leave) = (0.0_f64, 1.0_f64);
    for &(normal, offset) in &solid.faces {
        let (a, b) = (normal.dot(from) - offset + NOTHING, normal.dot(to) - offset + NOTHING);
        if a >= 0.0 && b >= 0.0 {
            return true;
        }
        let at = a / (a - b);
        if a > 0.0 {
            enter = enter.max(at);
        } else if b > 0.0 {
            leave = leave.min(at);
        }
    }
    enter >= leave
}
