//! The rules of thumb: legal, of the same number, even; the first reflection points first; in the shipped scenes too.

use roomwright::plan::thumb::MirrorPoint;

use super::*;
use crate::scenes::shipped;

/// Mirror points of a room by the law of reflection alone.
pub(super) fn mirrors(scene: &Scene, room: &Room) -> Vec<MirrorPoint> {
    let mut points = Vec::new();
    for (source, emitter) in room.sources.iter().enumerate() {
        for (receiver, ear) in room.receivers.iter().enumerate().take(scene.seats.len()) {
            for (surface, face) in room.surfaces.iter().enumerate().filter(|(_, face)| face.role.is_shell()) {
                let image = face.chart.mirror(emitter.position);
                let (below, above) = (face.chart.height(image), face.chart.height(ear.position));
                let at = image + (ear.position - image) * (-below / (above - below));
                let position = face.chart.position(at);
                if face.outline.contains(position) {
                    points.push(MirrorPoint { source, receiver, surface, position });
                }
            }
        }
    }
    points
}

fn count_of(panels: &[Panel], kind: &str) -> u32 {
    panels.iter().filter(|panel| panel.kind == kind).count() as u32
}

#[test]
fn keeps_rules_of_thumb_legal_and_of_the_same_number() {
    for (index, hull) in [shoebox(4.4, 5.2, 2.4), attic()].into_iter().enumerate() {
        let mut scene = listening(hull);
        scene.openings = vec![opening("door", OpeningKind::Door, "wall 1", (0.6, 0.0, 0.8, 2.0))];
        scene.blocks = vec![block("desk", (1.4, 3.5, 0.7), (1.6, 0.7, 0.05), 0.0)];
        let (room, free) = built(&scene);
        let counts = [10, 4, 1, 1, 1, 1, 1, 2];
        let points = mirrors(&scene, &room);
        assert!(points.len() >= 10, "{}", points.len());
        for panels in [first_points(&scene, &room, &free, &counts, &points), even_spread(&scene, &room, &free, &counts)] {
            for (kind, count) in scene.stock.iter().zip(counts) {
                assert_eq!(count_of(&panels, &kind.name), count, "room {index}: {}", kind.name);
            }
            are_legal(&scene, &panels);
        }
    }
}

#[test]
fn exact_first_points_cover_the_side_walls_first() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let points = mirrors(&scene, &room);
    let covered = |panels: &[Panel], wanted: &dyn Fn(&MirrorPoint) -> bool| {
        points.iter().filter(|point| wanted(point)).all(|point| {
            let chart = room.surfaces[point.surface].chart;
            panels.iter().any(|panel| {
                let body = free.body(panel, kind_of(&scene, panel)).expect("in the room");
                match (body.span, body.surface) {
                    (Some((low, high)), Some(surface)) => {
                        surface == point.surface && point.position.cmpge(low).all() && point.position.cmple(high).all()
                    }
                    _ => {
                        let (low, high) = body.solid.bounds();
                        let at = chart.point(point.position).truncate();
                        at.cmpge(low.truncate()).all() && at.cmple(high.truncate()).all()
                    }
                }
            })
        })
    };
    let on = |point: &MirrorPoint, walls: &[usize]| walls.iter().any(|&wall| room.surfaces[point.surface].role == Role::Wall(wall));
    // Loudspeakers stand toward +y: walls 1 and 3 are the sides, wall 0 is behind.
    // Two panels do for both loudspeakers, one a side.
    let two = first_points(&scene, &room, &free, &[2, 0, 0, 0, 0, 0, 0, 0], &points);
    assert_eq!(two.len(), 2);
    assert!(covered(&two, &|point| on(point, &[1, 3])) && !covered(&two, &|point| on(point, &[0])));
    // Then the ceiling, then the wall behind.
    let three = first_points(&scene, &room, &free, &[2, 0, 1, 0, 0, 0, 0, 0], &points);
    assert!(covered(&three, &|point| on(point, &[1, 3]) || matches!(room.surfaces[point.surface].role, Role::Ceiling(_))));
    let four = first_points(&scene, &room, &free, &[3, 0, 1, 0, 0, 0, 0, 0], &points);
    assert!(covered(&four, &|point| on(point, &[0, 1, 3])) && !covered(&four, &|point| on(point, &[2])));
    let more = first_points(&scene, &room, &free, &[8, 4, 1, 0, 0, 0, 0, 0], &points);
    assert!(covered(&more, &|point| on(point, &[0, 1, 3]) || matches!(room.surfaces[point.surface].role, Role::Ceiling(_))));
    // Corners from the floor to the ceiling, those by the loudspeakers first.
    let corners: Vec<_> = more
        .iter()
        .filter_map(|panel| match panel.place {
            PanelPlace::Corner { corner, bottom } => Some((corner, (bottom * 10.0).round() as i32)),
            _ => None,
        })
        .collect();
    assert_eq!(corners, [(2, 0), (2, 12), (3, 0), (3, 12)]);
}

#[test]
fn keeps_an_even_spread_even() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let panels = even_spread(&scene, &room, &free, &[4, 0, 0, 0, 0, 0, 0, 0]);
    let mut walls: Vec<_> = panels.iter().map(|panel| free.body(panel, &scene.stock[0]).expect("hung").surface).collect();
    walls.sort();
    walls.dedup();
    assert_eq!(walls.len(), 4, "four panels take four walls: {panels:?}");
    // No part of the walls is farther from a panel than the corner of the largest wall from its middle, and a little.
    let fronts: Vec<DVec3> = panels.iter().map(|panel| free.body(panel, &scene.stock[0]).expect("hung").front).collect();
    let reach = DVec2::new(5.2 / 2.0, 2.4 / 2.0).length() + 0.2;
    for corner in [(0.0, 0.0), (4.4, 0.0), (4.4, 5.2), (0.0, 5.2)] {
        let floor = DVec3::new(corner.0, corner.1, 0.0);
        let nearest = fronts.iter().map(|front| front.distance(floor)).fold(f64::INFINITY, f64::min);
        assert!(nearest <= reach, "{nearest} m from {floor}");
    }
}

#[test]
fn keeps_a_full_room_graceful() {
    let scene = listening(shoebox(3.0, 3.8, 2.4));
    let (room, free) = built(&scene);
    let counts = [200, 200, 200, 200, 200, 200, 200, 200];
    let spread = even_spread(&scene, &room, &free, &counts);
    assert!(spread.len() > 20 && count_of(&spread, "flat") < 200);
    are_legal(&scene, &spread);
}

/// Text and content of every shipped scene.
fn planned() -> Vec<(String, Scene)> {
    let texts = shipped().into_iter().map(|(_, text)| text);
    texts.map(|text| (text.clone(), read(&text).map(|(scene, _)| scene).unwrap_or_else(|found| panic!("{found:?}")))).collect()
}

/// The scene's own rules accept what hangs.
fn reads_back(text: &str, panels: &[Panel]) {
    let written = with_panels(text, panels).unwrap_or_else(|found| panic!("{found:?}"));
    if let Err(found) = read(&written) {
        panic!("{}", found.iter().map(|one| one.render(&written, "scene.toml")).collect::<Vec<_>>().join("\n"));
    }
}

#[test]
fn keeps_shipped_scenes_readable_with_any_candidate_hung() {
    for (text, scene) in planned() {
        let (room, free) = built(&scene);
        for kind in &scene.stock {
            let found = candidates(&scene, &room, &free, kind, 0.1);
            assert!(!found.is_empty(), "{}: no place for {}", scene.name, kind.name);
            for candidate in found.iter().step_by(found.len() / 40 + 1) {
                reads_back(&text, std::slice::from_ref(&candidate.panel));
            }
        }
    }
}

#[test]
fn keeps_rules_of_thumb_in_shipped_scenes() {
    for (text, scene) in planned() {
        let (room, free) = built(&scene);
        let counts: Vec<u32> = scene.stock.iter().map(|kind| kind.count).collect();
        let points = mirrors(&scene, &room);
        for panels in [first_points(&scene, &room, &free, &counts, &points), even_spread(&scene, &room, &free, &counts)] {
            let mut full = free.clone();
            for panel in &panels {
                full.hang(panel, kind_of(&scene, panel)).expect("a place in the room");
            }
            for (kind, &count) in scene.stock.iter().zip(&counts) {
                // Something is left over only where no place is left for it.
                let hung = count_of(&panels, &kind.name);
                assert!(
                    hung == count || hung < count && candidates(&scene, &room, &full, kind, 0.1).is_empty(),
                    "{}: {hung} {}",
                    scene.name,
                    kind.name
                );
            }
            reads_back(&text, &panels);
            reads_back(&text, &tidy(&scene, &room, &free, panels.clone()));
        }
    }
}

/// A room of this length and height of which only wall 0 may carry something.
fn one_wall(length: f64, height: f64) -> Scene {
    let mut scene = shoebox(length, 3.0, height);
    scene.stock = stock();
    scene.stock[0].mass = Some(20.0);
    let closed = (1..4).map(|wall| {
        let width = if wall == 2 { length } else { 3.0 };
        let region = ClearanceRegion::Surface { surface: format!("wall {wall}"), place: rectangle((0.0, 0.0, width, height)) };
        Clearance { name: format!("closed {wall}"), region }
    });
    scene.clearances = closed.collect();
    scene
}

#[test]
fn exact_two_panels_halve_a_wall() {
    // Each in the middle of its half, at middle height: 1.5 m and 4.5 m of 6 m.
    let scene = one_wall(6.0, 2.4);
    let (room, free) = built(&scene);
    let panels = even_spread(&scene, &room, &free, &[2, 0, 0, 0, 0, 0, 0, 0]);
    let mut middles: Vec<f64> = panels.iter().map(|panel| corner_of(panel).0 + 0.3).collect();
    middles.sort_by(f64::total_cmp);
    assert!((middles[0] - 1.5).abs() <= 0.2 && (middles[1] - 4.5).abs() <= 0.2, "{middles:?}");
    assert!(panels.iter().all(|panel| (corner_of(panel).1 + 0.6 - 1.2).abs() <= 0.1), "{panels:?}");
}

#[test]
fn exact_four_panels_go_where_an_even_spread_would_hold_three() {
    // One in the middle of 2.75 m leaves 1.035 m on each side, room for one more of 0.6 m each; side by side four fit.
    let scene = one_wall(2.75, 1.5);
    let (room, free) = built(&scene);
    for panels in
        [even_spread(&scene, &room, &free, &[4, 0, 0, 0, 0, 0, 0, 0]), first_points(&scene, &room, &free, &[4, 0, 0, 0, 0, 0, 0, 0], &[])]
    {
        assert_eq!(panels.len(), 4);
        are_legal(&scene, &panels);
    }
}
