//! The wavefront as it is drawn: its curves (`roomwright::study::Wavefront`, with their limits) in the colors of direct sound and first
//! bounces, the plane that they are drawn on, and where that plane cuts the room.

use bevy::math::DVec3;
use roomwright::geometry::Chart;
use roomwright::room::Room;
use roomwright::study::{Curve, Wavefront};

use super::ink::{Pen, Strip};
use crate::ui::tokens;
use crate::view::{CameraView, Cut, View};

/// A plane square to an axis of the room, as a chart.
fn plane(cut: Cut, at: f64) -> Chart {
    let mut origin = DVec3::ZERO;
    origin[cut.axis()] = at;
    match cut {
        Cut::AlongLength => Chart::new(origin, DVec3::X, DVec3::Z),
        Cut::AcrossWidth => Chart::new(origin, DVec3::Y, DVec3::Z),
        Cut::Level => Chart::new(origin, DVec3::X, DVec3::Y),
    }
}

/// The plane that the wavefront is drawn on: the chosen one, else level at the ear; seen from the ear itself that is a line across everything.
fn section(room: &Room, view: &View) -> Option<Chart> {
    let is_outside = !matches!(view.camera, CameraView::Ear(_));
    let at_ear = || room.receivers.get(view.receiver).filter(|_| is_outside).map(|receiver| plane(Cut::Level, receiver.position.z));
    view.section.map_or_else(at_ear, |section| Some(plane(section.cut, section.at)))
}

/// Where a plane cuts the surfaces of a room, as straight edges.
fn edges(room: &Room, plane: &Chart) -> Vec<[DVec3; 2]> {
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

/// The lines of the moment that is chosen; none before the source sounds.
pub(super) fn lines(room: &Room, view: &View) -> Vec<Strip> {
    if view.time_ms <= 0.0 {
        return Vec::new();
    }
    let section = section(room, view);
    let curves = Wavefront::new(room, view.source).map(|wavefront| wavefront.curves(view.time_ms / 1000.0, section.as_ref()));
    let line = |Curve { points, bounces }| {
        let color = if bounces == 0 { tokens::ACCENT } else { tokens::SOFT };
        Strip { pen: Pen::Wave, color, points }
    };
    let mut lines: Vec<Strip> = curves.into_iter().flatten().map(line).collect();
    let edges = section.filter(|_| view.section.is_some()).map_or_else(Vec::new, |section| edges(room, &section));
    lines.extend(edges.into_iter().map(|edge| Strip { pen: Pen::Wave, color: tokens::PALE, points: edge.to_vec() }));
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stage::samples;
    use crate::view::Section;

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

    /// Every curve is drawn, direct sound and bounces apart; the edges of a section only where one is chosen; from the ear no level plane.
    #[test]
    fn keeps_a_line_for_every_curve() {
        let (_, room) = samples::attic();
        let mut view = View { time_ms: 6.0, ..View::default() };
        let count = |lines: &[Strip], color| lines.iter().filter(|line| line.color == color).count();
        let expect = |view: &View, section: Option<Chart>, edges: usize| {
            let curves = Wavefront::new(&room, view.source).expect("a source").curves(0.006, section.as_ref());
            let direct = curves.iter().filter(|curve| curve.bounces == 0).count();
            assert!(direct > 0 && direct < curves.len(), "both are there to be told apart");
            let lines = lines(&room, view);
            let found = [tokens::ACCENT, tokens::SOFT, tokens::PALE].map(|color| count(&lines, color));
            assert_eq!(found, [direct, curves.len() - direct, edges]);
        };
        let ear = plane(Cut::Level, room.receivers[view.receiver].position.z);
        expect(&view, Some(ear), 0);
        view.camera = CameraView::Ear(view.receiver);
        expect(&view, None, 0);
        view.section = Some(Section { cut: Cut::AcrossWidth, at: 2.0 });
        let chosen = plane(Cut::AcrossWidth, 2.0);
        expect(&view, Some(chosen), edges(&room, &chosen).len());
        view.time_ms = 0.0;
        assert!(lines(&room, &view).is_empty(), "nothing has sounded yet");
    }
}
