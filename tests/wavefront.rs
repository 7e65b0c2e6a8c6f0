//! The wavefront as curves: length of the way, circles on planes, shadows of blocks and corners, and what it leaves out.

use glam::{DVec2, DVec3};
use roomwright::bands::Bands;
use roomwright::geometry::Chart;
use roomwright::room::{Room, Surface};
use roomwright::scene;
use roomwright::study::{self, Curve, Wavefront};

use crate::rays::uniform_box;
use crate::scenes::shipped;

fn rooms() -> Vec<Room> {
    shipped().iter().map(|(_, text)| study::room(&scene::read(text).expect("a shipped scene reads").0)).collect()
}

fn room_of(name: &str) -> Room {
    let (_, text) = shipped().into_iter().find(|(shipped, _)| shipped == name).expect("it is shipped");
    study::room(&scene::read(&text).expect("a shipped scene reads").0)
}

/// Planes through a point, square to each axis.
fn planes(at: DVec3) -> [Chart; 3] {
    [(DVec3::X, DVec3::Y), (DVec3::X, DVec3::Z), (DVec3::Y, DVec3::Z)].map(|(right, up)| Chart::new(at, right, up))
}

/// Every point of the curves is as far from the source, or by way of one mirroring surface, as sound goes in the time: Pythagoras.
#[test]
fn exact_length_of_the_way() {
    for room in rooms() {
        let source = room.sources[0].position;
        let wavefront = Wavefront::new(&room, 0).expect("a source");
        for (time_s, section) in [0.002, 0.006, 0.012].into_iter().flat_map(|time_s| planes(source).map(|plane| (time_s, plane))) {
            let radius = room.medium.speed * time_s;
            let curves = wavefront.curves(time_s, Some(&section));
            let in_section = |curve: &Curve| curve.points.iter().all(|at| section.height(*at).abs() < 1e-9);
            assert!(curves.iter().any(in_section), "the section through the source is met");
            for curve in &curves {
                for &at in &curve.points {
                    let from_image = |surface: &Surface| surface.chart.mirror(source).distance(at);
                    let shell = room.surfaces.iter().filter(|surface| surface.role.is_shell());
                    let lengths = if curve.bounces == 0 { vec![source.distance(at)] } else { shell.map(from_image).collect() };
                    assert!(lengths.iter().any(|length| (length - radius).abs() < 1e-9), "{at} after {time_s} s");
                }
            }
        }
    }
}

/// 3, 4, 5: a source 3 m over the floor and 4 m under the ceiling of a hall 12 m square, 5 m of sound. It draws a circle of 4 m on the
/// floor, one of 3 m on the ceiling, and no wall is met. On a plane 1 m over the floor the direct sound draws `sqrt(25 - 4)`, its bounce
/// off the floor, from 3 m under it, 3 m; the ceiling's image, 10 m above that plane, has not come there.
#[test]
fn exact_circles_in_a_hall() {
    let source = DVec3::new(6.0, 6.0, 3.0);
    let room = uniform_box([12.0, 12.0, 7.0], 0.1, Bands::splat(0.1), source, DVec3::new(2.0, 2.0, 1.2));
    let wavefront = Wavefront::new(&room, 0).expect("a source");
    let found = |meters: f64| {
        let section = Chart::new(DVec3::new(0.0, 0.0, 1.0), DVec3::X, DVec3::Y);
        wavefront.curves(meters / room.medium.speed, Some(&section))
    };
    let circle = |curves: &[Curve], height: f64, bounces: u32, radius: f64| {
        let is_there = |curve: &&Curve| curve.bounces == bounces && (curve.points[0].z - height).abs() < 1e-9;
        let [curve] = curves.iter().filter(is_there).collect::<Vec<_>>()[..] else { panic!("one curve {height} m high") };
        assert!(curve.points.len() > 100 && curve.points.first() == curve.points.last(), "a whole circle");
        for at in &curve.points {
            assert!((at.z - height).abs() < 1e-9 && (at.truncate().distance(source.truncate()) - radius).abs() < 1e-9, "{at}");
        }
    };
    let curves = found(5.0);
    assert_eq!(curves.len(), 4, "{curves:?}");
    circle(&curves, 0.0, 0, 4.0);
    circle(&curves, 7.0, 0, 3.0);
    circle(&curves, 1.0, 0, 21.0_f64.sqrt());
    circle(&curves, 1.0, 1, 3.0);
    // Before it comes to the floor there is but one circle, on the plane.
    let early = found(2.9);
    assert_eq!(early.len(), 1, "{early:?}");
    circle(&early, 1.0, 0, (2.9_f64 * 2.9 - 4.0).sqrt());
}

/// Behind a block there is no direct sound; beside it there is.
#[test]
fn keeps_shadow_behind_blocks() {
    let room = room_of("attic-voice-room");
    let shelf = room.solids.last().expect("the attic has a shelf");
    let middle = DVec3::new(4.25, 1.95, 0.95);
    assert!(shelf.contains(middle));
    let wavefront = Wavefront::new(&room, 0).expect("a source");
    assert!(!wavefront.reaches(middle + DVec3::new(0.14, 0.0, -0.5)));
    assert!(wavefront.reaches(DVec3::new(2.0, 1.0, 1.5)));
}

/// After everything of first order has passed there is nothing left, before it sounds there is nothing yet, and no source has no wavefront.
#[test]
fn keeps_to_what_it_can_say() {
    let room = room_of("attic-voice-room");
    let wavefront = Wavefront::new(&room, 0).expect("a source");
    let section = Chart::new(DVec3::new(0.0, 0.0, 1.2), DVec3::X, DVec3::Y);
    assert!(wavefront.curves(0.0, Some(&section)).is_empty());
    assert!(!wavefront.curves(0.01, Some(&section)).is_empty());
    assert!(wavefront.curves(0.1, Some(&section)).is_empty());
    assert!(Wavefront::new(&room, 99).is_none());
}

/// Round a corner of an L nothing comes straight.
#[test]
fn keeps_corners_dark() {
    let room = room_of("l-shaped-rehearsal-room");
    assert!(!room.is_shell_convex);
    let source = room.sources[0].position;
    let wavefront = Wavefront::new(&room, 0).expect("a source");
    let floor = room.surfaces.iter().find(|surface| surface.role == roomwright::room::Role::Floor).expect("a floor");
    let corners = || floor.outline.corners.iter().map(|corner| floor.chart.point(*corner).truncate());
    let (low, high) = (corners().reduce(DVec2::min).expect("corners"), corners().reduce(DVec2::max).expect("corners"));
    let (mut hidden, mut seen) = (0, 0);
    for x in 0..20 {
        for y in 0..20 {
            let share = DVec2::new(f64::from(x) + 0.5, f64::from(y) + 0.5) / 20.0;
            let at = (low + (high - low) * share).extend(source.z);
            match (room.contains(at), wavefront.reaches(at)) {
                (true, false) => hidden += 1,
                (true, true) => seen += 1,
                _ => {}
            }
        }
    }
    assert!(hidden > 0, "an L has a part that a source in the other leg does not see");
    assert!(seen > hidden, "and sees its own leg");
}
