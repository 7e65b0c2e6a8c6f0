//! The wavefront of a short sound, `r = c t` from the source, as curves: where it meets each surface, and where it meets a plane that cuts
//! the room; and the same of its first bounces, which come from the mirror images of the source.
//!
//! A sphere meets a plane at distance `h` in a circle of radius `sqrt(r^2 - h^2)` round the foot of its center. Of that circle only what
//! lies on the surface is drawn, and of it only what the sound reaches in a straight line: the direct one from the source, a bounce
//! through the surface that mirrors it.
//!
//! *References.* J. B. Allen, D. A. Berkley, "Image method for efficiently simulating small-room acoustics", JASA 65 (1979) 943-950
//! (from memory).
//!
//! *Limits.* Straight lines only: what bends round an edge is not drawn, nor what bounces twice, nor what bounces off blocks and panels.
//! Nothing is said of level: how much has landed where is told by the brightness of the surfaces (`roomwright::study::landing`).

use std::f64::consts::TAU;

use bevy::math::{DVec2, DVec3};
use roomwright::geometry::Chart;
use roomwright::room::{Role, Room};

use crate::view::Cut;

/// Steps round a whole circle.
const STEPS: usize = 120;
/// Lengths below this are nothing, meters.
const NOTHING: f64 = 1e-6;

/// One stretch of a curve, meters.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Stretch {
    /// Points along it.
    pub(super) points: Vec<DVec3>,
    /// Bounces on the way: 0 or 1.
    pub(super) bounces: u32,
}

/// Where a sphere meets a plane, as center and radius on the plane's chart; `None` where it does not.
pub(super) fn circle(chart: &Chart, center: DVec3, radius: f64) -> Option<(DVec2, f64)> {
    let height = chart.height(center);
    let square = radius * radius - height * height;
    (square > 0.0).then(|| (chart.position(center), square.sqrt()))
}

/// Whether nothing of the room stands between two points of its air or its surfaces.
fn is_clear(room: &Room, from: DVec3, to: DVec3) -> bool {
    let past = |solid: &roomwright::room::Solid| {
        // What of the stretch lies inside all faces.
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
    };
    let walls = || room.surfaces.iter().filter(|surface| matches!(surface.role, Role::Wall(_) | Role::Ceiling(_)));
    room.solids.iter().all(past)
        && (room.is_shell_convex
            || walls().all(|surface| {
                let (a, b) = (surface.chart.height(from), surface.chart.height(to));
                let crosses = a > NOTHING && b < -NOTHING;
                !crosses || !surface.outline.contains(surface.chart.position(from + (to - from) * (a / (a - b))))
            }))
}

/// Where sound of a source comes from: itself, or its mirror image in a surface.
struct Origin {
    at: DVec3,
    source: DVec3,
    mirror: Option<usize>,
}

impl Origin {
    /// Whether sound reaches a point from here.
    fn reaches(&self, room: &Room, to: DVec3) -> bool {
        let Some(mirror) = self.mirror else { return is_clear(room, self.source, to) };
        let surface = &room.surfaces[mirror];
        let (behind, before) = (surface.chart.height(self.at), surface.chart.height(to));
        if before <= NOTHING {
            return false;
        }
        let bounce = self.at + (to - self.at) * (-behind / (before - behind));
        surface.outline.contains(surface.chart.position(bounce)) && is_clear(room, self.source, bounce) && is_clear(room, bounce, to)
    }
}

/// Consecutive points that belong to the curve, as stretches; `round`: the last is followed by the first.
fn stretches(points: Vec<Option<DVec3>>, bounces: u32, all: &mut Vec<Stretch>) {
    let Some(gap) = points.iter().position(Option::is_none) else {
        let mut points: Vec<DVec3> = points.into_iter().flatten().collect();
        points.extend(points.first().copied());
        all.push(Stretch { points, bounces });
        return;
    };
    let mut current: Vec<DVec3> = Vec::new();
    let count = points.len();
    for at in (0..=count).map(|step| points[(gap + step) % count]) {
        match at {
            Some(point) => current.push(point),
            None if current.len() > 1 => all.push(Stretch { points: std::mem::take(&mut current), bounces }),
            None => current.clear(),
        }
    }
}

/// A plane square to an axis of the room, as a chart.
pub(super) fn plane(cut: Cut, at: f64) -> Chart {
    let mut origin = DVec3::ZERO;
    origin[cut.axis()] = at;
    match cut {
        Cut::AlongLength => Chart::new(origin, DVec3::X, DVec3::Z),
        Cut::AcrossWidth => Chart::new(origin, DVec3::Y, DVec3::Z),
        Cut::Level => Chart::new(origin, DVec3::X, DVec3::Y),
    }
}

/// Where a plane cuts the surfaces of a room, as straight edges.
pub(super) fn edges(room: &Room, plane: &Chart) -> Vec<[DVec3; 2]> {
    let mut edges = Vec::new();
    for surface in &room.surfaces {
        let Some(along) = plane.normal.cross(surface.chart.normal).try_normalize() else { continue };
        let corners: Vec<DVec3> = surface.outline.corners.iter().map(|corner| surface.chart.point(*corner)).collect();
        let mut crossings = Vec::new();
        for (index, &from) in corners.iter().enumerate() {
            let to = corners[(index + 1) % corners.len()];
            let (before, after) = (plane.height(from), plane.height(to));
            // A corner on the plane belongs to one side, so that an outline is crossed an even number of times.
            if (before > 0.0) != (after > 0.0) {
                crossings.push(from + (to - from) * (before / (before - after)));
            }
        }
        crossings.sort_by(|a, b| a.dot(along).total_cmp(&b.dot(along)));
        edges.extend(crossings.chunks_exact(2).map(|pair| [pair[0], pair[1]]));
    }
    edges
}

/// Points round the middle of a chart.
fn round(radius: f64) -> impl Iterator<Item = DVec2> {
    (0..STEPS).map(move |step| DVec2::from_angle(TAU * step as f64 / STEPS as f64) * radius)
}

/// The curves of one sphere.
fn sphere(room: &Room, origin: &Origin, radius: f64, section: Option<&Chart>, all: &mut Vec<Stretch>) {
    let bounces = u32::from(origin.mirror.is_some());
    for (index, surface) in room.surfaces.iter().enumerate() {
        if origin.mirror == Some(index) || surface.chart.height(origin.source) <= 0.0 {
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
            // Just before the surface, which must not hide itself.
            (surface.outline.contains(position) && origin.reaches(room, point + 1e-4 * surface.chart.normal)).then_some(point)
        };
        stretches(round(radius).map(|offset| on_surface(middle + offset)).collect(), bounces, all);
    }
    if let Some((section, (middle, radius))) = section.and_then(|section| Some((section, circle(section, origin.at, radius)?))) {
        let in_section = |offset: DVec2| {
            let point = section.point(middle + offset);
            (room.contains(point) && origin.reaches(room, point)).then_some(point)
        };
        stretches(round(radius).map(in_section).collect(), bounces, all);
    }
}

/// The wavefront of a source this long after it sounded (seconds), with its first bounces, on every surface and on a plane.
pub(super) fn wavefront(room: &Room, source: usize, time_s: f64, section: Option<&Chart>) -> Vec<Stretch> {
    let Some(emitter) = room.sources.get(source) else { return Vec::new() };
    let radius = room.medium.speed * time_s;
    if radius <= 0.0 {
        return Vec::new();
    }
    let source = emitter.position;
    let mut all = Vec::new();
    sphere(room, &Origin { at: source, source, mirror: None }, radius, section, &mut all);
    for (index, surface) in room.surfaces.iter().enumerate().filter(|(_, surface)| surface.role.is_shell()) {
        let height = surface.chart.height(source);
        if height > NOTHING && height < radius {
            let origin = Origin { at: surface.chart.mirror(source), source, mirror: Some(index) };
            sphere(room, &origin, radius, section, &mut all);
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::samples;

    /// Every point of the curves is as far from the source, or by way of one mirroring surface, as sound goes in the time: Pythagoras.
    #[test]
    fn exact_length_of_the_way() {
        let cuts = [Cut::Level, Cut::AlongLength, Cut::AcrossWidth];
        for (_, room) in samples::all() {
            for (time_s, cut) in [0.002, 0.006, 0.012].into_iter().flat_map(|time_s| cuts.map(|cut| (time_s, cut))) {
                let radius = room.medium.speed * time_s;
                let source = room.sources[0].position;
                let section = plane(cut, source[cut.axis()]);
                let curves = wavefront(&room, 0, time_s, Some(&section));
                assert!(!curves.is_empty());
                let in_section = |stretch: &&Stretch| stretch.points.iter().all(|at| section.height(*at).abs() < 1e-9);
                assert!(curves.iter().any(|stretch| in_section(&stretch)), "the section through the source is met");
                for stretch in &curves {
                    for &at in &stretch.points {
                        let from_image = |surface: &roomwright::room::Surface| surface.chart.mirror(source).distance(at);
                        let lengths: Vec<f64> = if stretch.bounces == 0 {
                            vec![source.distance(at)]
                        } else {
                            room.surfaces.iter().filter(|surface| surface.role.is_shell()).map(from_image).collect()
                        };
                        assert!(lengths.iter().any(|length| (length - radius).abs() < 1e-9), "{at} after {time_s} s");
                    }
                }
            }
        }
    }

    #[test]
    fn exact_circle_on_a_plane() {
        let chart = Chart::new(DVec3::ZERO, DVec3::X, DVec3::Y);
        let (middle, radius) = circle(&chart, DVec3::new(1.0, 2.0, 3.0), 5.0).expect("it meets");
        assert_eq!((middle, radius), (DVec2::new(1.0, 2.0), 4.0));
        assert_eq!(circle(&chart, DVec3::new(1.0, 2.0, 3.0), 2.9), None);
    }

    /// A box 3 m long, 2 m wide, 2.5 m high cut in the middle: four edges, as long as the sides of the cut.
    #[test]
    fn exact_edges_of_a_section() {
        let text = roomwright::scene::starter("Box", &roomwright::scene::RoomSize::read("3x2x2.5m").expect("a size"));
        let mut boxed = roomwright::scene::read(&text).expect("a starter reads").0;
        boxed.blocks.clear();
        let room = roomwright::study::room(&boxed);
        for (cut, at, around) in [(Cut::AlongLength, 1.0, 11.0), (Cut::AcrossWidth, 1.5, 9.0), (Cut::Level, 1.2, 10.0)] {
            let found = edges(&room, &plane(cut, at));
            assert_eq!(found.len(), 4, "{cut:?}");
            assert!(found.iter().flatten().all(|point| (point[cut.axis()] - at).abs() < 1e-12));
            let long: f64 = found.iter().map(|[from, to]| from.distance(*to)).sum();
            assert!((long - around).abs() < 1e-9, "{cut:?}: {long}");
        }
        assert!(edges(&room, &plane(Cut::Level, 3.0)).is_empty());
    }

    /// Behind a block there is no direct sound; above it there is.
    #[test]
    fn keeps_shadow_behind_blocks() {
        let (_, room) = samples::attic();
        let shelf = room.solids.last().expect("the attic has a shelf");
        let middle = DVec3::new(4.25, 1.95, 0.95);
        assert!(shelf.contains(middle));
        let source = room.sources[0].position;
        assert!(!is_clear(&room, source, middle + DVec3::new(0.14, 0.0, -0.5)));
        assert!(is_clear(&room, source, DVec3::new(2.0, 1.0, 1.5)));
    }

    /// After everything of first order has passed there is nothing left to draw, and before it sounds there is nothing yet.
    #[test]
    fn keeps_to_what_it_can_say() {
        let (_, room) = samples::attic();
        assert!(wavefront(&room, 0, 0.0, Some(&plane(Cut::Level, 1.2))).is_empty());
        assert!(wavefront(&room, 0, 0.1, Some(&plane(Cut::Level, 1.2))).is_empty());
        assert!(wavefront(&room, 99, 0.01, None).is_empty());
    }

    /// Round a corner of an L nothing comes straight.
    #[test]
    fn keeps_corners_dark() {
        let (_, room) = samples::all().remove(2);
        assert!(!room.is_shell_convex);
        let source = room.sources[0].position;
        let (low, high) = crate::stage::camera::bounds(&room);
        let mut hidden = 0;
        for x in 0..20 {
            for y in 0..20 {
                let share = DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) / 20.0;
                let at = (low.truncate() + (high - low).truncate() * share).extend(source.z);
                hidden += i32::from(room.contains(at) && !is_clear(&room, source, at));
            }
        }
        assert!(hidden > 0, "an L has a part that a source in the other leg does not see");
    }
}
