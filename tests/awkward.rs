//! Places where a thing is neither here nor there: on walls, edges and corners, on the planes of walls, in panels, overlapping by a hair.
//! Scenes refuse what nobody can mean; what is left, and what only a room can hold, has one answer, and the same from either end.

use std::collections::BTreeSet;

use glam::{DVec2, DVec3};
use roomwright::absorbers::Finish;
use roomwright::bands::Bands;
use roomwright::directivity::{Directivity, DirectivityTable};
use roomwright::geometry::Polygon;
use roomwright::hanging::{Hanging, Patch};
use roomwright::images::ImagePath;
use roomwright::progress::Progress;
use roomwright::room::Room;
use roomwright::scene::{self, Cloud, Panel, PanelPlace, Scene, StockKind};
use roomwright::weigh::{Linings, ZoneImages, zone_points};

use crate::completeness::heard;
use crate::images::{box_images, build, paths};
use crate::rays::uniform_box;
use crate::room::{block, l_shape, panel_type, shoebox};

const SIZE: DVec3 = DVec3::new(4.0, 3.0, 2.5);

fn surfaces(path: &ImagePath) -> Vec<usize> {
    path.bounces.iter().map(|bounce| bounce.surface).collect()
}

/// No way twice, every length a number, and the same lengths back.
fn holds_both_ways(room: &Room, from: DVec3, to: DVec3, order: u8) -> Vec<ImagePath> {
    let (there, back) = (paths(room, from, to, order), paths(room, to, from, order));
    let ways: BTreeSet<Vec<usize>> = there.iter().map(surfaces).collect();
    let reversed: BTreeSet<Vec<usize>> = back.iter().map(|path| surfaces(path).into_iter().rev().collect()).collect();
    assert_eq!(ways.len(), there.len(), "a way is counted twice from {from} to {to}");
    assert_eq!(ways, reversed, "from {from} to {to}");
    for (one, other) in there.iter().zip(&back) {
        assert!((one.length - other.length).abs() <= 1e-12 * one.length, "{} and {}", one.length, other.length);
        assert!(one.bounces.iter().all(|bounce| bounce.point.is_finite() && (0.0..=1.0).contains(&bounce.cosine)));
    }
    there
}

/// The images of a box do not ask whether a place is on its walls: on a wall, an edge, a corner each reflection there comes with the direct
/// sound.
#[test]
fn exact_seats_on_walls_edges_and_corners() {
    let room = build(&shoebox(SIZE.x, SIZE.y, SIZE.z));
    let source = DVec3::new(1.13, 0.91, 1.37);
    let along = [0.0, 0.37, 1.0];
    for x in along {
        for y in along {
            for z in along {
                let point = SIZE * DVec3::new(x, y, z);
                let ours = holds_both_ways(&room, source, point, 4);
                let exact = box_images(SIZE, source, point, 4);
                assert_eq!(ours.len(), exact.len(), "at {point}");
                for (path, (length, _)) in ours.iter().zip(&exact) {
                    assert!((path.length - length).abs() < 1e-9 * length);
                }
                // Rounding of a place does not put it outside.
                for off in [-4e-16, 4e-16, -3e-9, 3e-9, -4e-7] {
                    assert_eq!(
                        paths(&room, source, point + DVec3::splat(off), 2).len(),
                        box_images(SIZE, source, point, 2).len(),
                        "{point} {off}"
                    );
                }
            }
        }
    }
}

/// A zone that ends on a wall hears there as much on either side of the room.
#[test]
fn keeps_zones_that_end_on_walls() {
    let mut scene = shoebox(SIZE.x, SIZE.y, SIZE.z);
    scene.seats = [0.3, SIZE.x - 0.3]
        .map(|x| scene::Seat { name: String::new(), ear: DVec3::new(x, 1.5, 1.2), facing: DVec3::Y, zone_radius: 0.3 })
        .to_vec();
    let room = build(&scene);
    let heard = |receiver: usize, away: f64| {
        let points = zone_points(&room, &room.receivers[receiver]);
        let on_wall: Vec<&DVec3> = points.iter().filter(|point| point.x <= 1e-9 || point.x >= SIZE.x - 1e-9).collect();
        assert_eq!(on_wall.len(), 1);
        paths(&room, DVec3::new(away, 0.7, 1.1), *on_wall[0], 1).iter().map(|path| path.length).collect::<Vec<f64>>()
    };
    let (west, east) = (heard(0, 1.7), heard(1, SIZE.x - 1.7));
    assert_eq!((west.len(), east.len()), (7, 7));
    assert!(west.iter().zip(&east).all(|(a, b)| (a - b).abs() < 1e-9), "{west:?} {east:?}");
}

/// In the L the planes of the two walls at the inner corner go on through the air: a place on them is no special place.
#[test]
fn exact_places_on_the_plane_of_a_wall_that_ends_before() {
    let room = build(&l_shape());
    let source = DVec3::new(0.83, 0.71, 1.1);
    // Inner corner at (2, 2): wall 2 lies in y = 2 from there on, wall 3 in x = 2.
    for (point, aside) in
        [(DVec3::new(1.37, 2.0, 1.3), DVec3::Y), (DVec3::new(2.0, 0.9, 1.4), DVec3::X), (DVec3::new(2.0, 1.2, 1.2), DVec3::X)]
    {
        let here = holds_both_ways(&room, source, point, 3);
        for off in [-1e-6, 1e-6] {
            let beside = paths(&room, source, point + off * aside, 3);
            let ways = |found: &[ImagePath]| found.iter().map(surfaces).collect::<BTreeSet<_>>();
            assert_eq!(ways(&here), ways(&beside), "at {point}");
        }
    }
    // On the inner edge itself, in both planes at once, a place hears what the air before both walls hears.
    let on_edge = DVec3::new(2.0, 2.0, 1.3);
    let ways = |found: &[ImagePath]| found.iter().map(surfaces).collect::<BTreeSet<_>>();
    let before = paths(&room, source, on_edge - DVec3::new(1e-6, 1e-6, 0.0), 3);
    assert_eq!(ways(&holds_both_ways(&room, source, on_edge, 3)), ways(&before));
}

/// Mirror points exactly in an edge or corner belong to one order of reflections, from either end.
#[test]
fn exact_images_on_corners_are_counted_once() {
    let cube = build(&shoebox(3.0, 3.0, 3.0));
    let size = DVec3::splat(3.0);
    // On a space diagonal every corner is met exactly; on a face's diagonal every upright edge.
    for (from, to) in [
        (size * 0.25, size * 0.75),
        (size * 0.5, size * 0.25),
        (DVec3::new(1.0, 1.0, 0.8), DVec3::new(2.0, 2.0, 2.1)),
        (size * 0.5, DVec3::new(1.5, 1.5, 0.5)),
    ] {
        let ours = holds_both_ways(&cube, from, to, 5);
        let exact = box_images(size, from, to, 5);
        assert_eq!(ours.len(), exact.len());
        assert!(ours.iter().zip(&exact).all(|(path, (length, _))| (path.length - length).abs() < 1e-9 * length));
    }
    // At the edges of a block: straight past it, and mirrored exactly at the rim of its top.
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.blocks = vec![block("table", (1.0, 1.0, 0.0), (1.0, 1.0, 0.75), 0.0)];
    let room = build(&scene);
    for (from, to) in [
        (DVec3::new(0.5, 1.5, 0.25), DVec3::new(1.5, 1.5, 1.25)),
        (DVec3::new(0.5, 1.5, 1.25), DVec3::new(1.5, 1.5, 1.25)),
        (DVec3::new(0.5, 0.5, 1.25), DVec3::new(1.5, 1.5, 1.25)),
        (DVec3::new(1.0, 0.5, 0.3), DVec3::new(1.0, 2.5, 0.3)),
        (DVec3::new(0.5, 0.5, 0.75), DVec3::new(2.5, 2.5, 0.75)),
    ] {
        holds_both_ways(&room, from, to, 4);
    }
}

/// Two clouds in one plane that overlap by less than the rules of a scene see mirror in the strip they share once, not twice, as one cloud
/// does; one over the other by a hair stands before it.
#[test]
fn exact_clouds_that_overlap_by_a_hair() {
    let cloud = |x: f64, underside: f64| Panel {
        kind: "cloud".into(),
        place: PanelPlace::Cloud(Cloud::level(DVec2::new(x, 1.5), underside, false)),
    };
    let with = |panels: Vec<Panel>| Scene { panels, stock: vec![panel_type("cloud", StockKind::Cloud)], ..shoebox(SIZE.x, SIZE.y, SIZE.z) };
    let hair = 5e-5;
    let (from, to) = (DVec3::new(1.5, 1.43, 1.1), DVec3::new(2.5 - hair, 1.61, 1.1));
    let undersides = |scene: &Scene| {
        let room = build(scene);
        let found = holds_both_ways(&room, from, to, 3);
        found.iter().filter(|path| path.bounces.len() == 1 && room.surfaces[path.bounces[0].surface].name.ends_with("underside")).count()
    };
    for (scene, how) in [
        (with(vec![cloud(1.4, 2.0), cloud(2.6 - hair, 2.0)]), "in one plane"),
        (with(vec![cloud(1.4, 2.0), cloud(2.6 - hair, 2.0 + 2e-5)]), "the second a hair above"),
        (with(vec![cloud(1.4, 2.0), cloud(2.6 - hair, 2.0 - 2e-5)]), "the second a hair below"),
        (with(vec![cloud(1.9, 2.0)]), "one cloud"),
    ] {
        assert_eq!(undersides(&scene), 1, "{how}");
    }
    // The rules let a hair pass and refuse what can be seen.
    let diagnosis = |overlap: f64| scene::read(&scene::print(&heard(with(vec![cloud(1.4, 2.0), cloud(2.6 - overlap, 2.0)]))));
    assert!(diagnosis(hair).is_ok());
    assert!(diagnosis(2e-4).is_err_and(|found| found.iter().all(|found| found.id == "panels-overlap")));
}

/// A microphone, or a source, exactly on a surface or a hair before it, which a room built from parts may hold: what it hears of the surface that it lies on is a point, and
/// that point has the finish of its place, hung on or bare.
#[test]
fn exact_footprint_of_a_point_on_a_surface() {
    let finish = |absorption: f64| Finish::uniform("even", Bands::splat(absorption), Bands::splat(0.0));
    for off in [0.0, 1e-15, 1e-9, 1e-6] {
        for (place, absorbed) in [(DVec3::new(1.0, 1.0, off), 0.7), (DVec3::new(3.0, 1.0, off), 0.1), (DVec3::new(1.5, 1.5, off), 0.7)] {
            for (source, microphone) in [(DVec3::new(2.2, 1.9, 1.3), place), (place, DVec3::new(2.2, 1.9, 1.3))] {
                let mut room = uniform_box(SIZE.to_array(), 0.1, Bands::splat(0.0), source, microphone);
                room.receivers[0].zone_radius = None;
                let floor = room.surfaces.iter().position(|surface| surface.chart.normal.z > 0.5).expect("there is a floor");
                room.finishes = vec![finish(0.1); room.finishes.len()];
                let chart = room.surfaces[floor].chart;
                let corners = [DVec3::new(0.5, 0.5, 0.0), DVec3::new(1.75, 1.75, 0.0)].map(|corner| chart.position(corner));
                let region = Polygon::rectangle(corners[0].min(corners[1]), corners[0].max(corners[1]));
                let hanging = Hanging {
                    finishes: vec![finish(0.7)],
                    patches: vec![Patch { surface: floor, region, finish: 0 }],
                    ..Hanging::default()
                };
                let linings = Linings::new(&room, &hanging);
                let table = [DirectivityTable::new(Directivity::Omni, room.medium.speed)];
                let heard = ZoneImages::all(&Progress::new(), &room, 2, &table).expect("nobody cancels").remove(0).remove(0);
                let own: Vec<_> = heard.heard.iter().filter(|path| surfaces(&path.path) == [floor]).collect();
                assert_eq!(own.len(), 1, "{place} {off}");
                for share in own[0].shares(&room, &linings).into_iter().flat_map(|share| share.0) {
                    assert!((share - (1.0 - absorbed)).abs() < 1e-6, "{place}: {share} of {}", 1.0 - absorbed);
                }
                for path in &heard.heard {
                    assert!(path.energy(&room, &linings).0.iter().all(|energy| energy.is_finite() && *energy > 0.0));
                }
            }
        }
    }
}

/// What a scene says to a place of a loudspeaker.
fn refusal(scene: &Scene, loudspeaker: DVec3) -> Option<&'static str> {
    let mut scene = heard(scene.clone());
    scene.sources[0].position = loudspeaker;
    scene::read(&scene::print(&scene)).err().map(|found| {
        assert_eq!(found.len(), 1, "{found:?}");
        found[0].id
    })
}

/// On a wall, on the floor or ceiling, on an edge, within a thin cloud or on its faces: told, not computed.
#[test]
fn keeps_places_in_walls_and_panels_refused() {
    let mut scene = shoebox(SIZE.x, SIZE.y, SIZE.z);
    scene.blocks = vec![block("desk", (1.6, 2.0, 0.0), (1.2, 0.6, 0.7), 0.0)];
    scene.stock = vec![panel_type("cloud", StockKind::Cloud)];
    scene.stock[0].thickness = 0.02;
    scene.panels = vec![Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(2.0, 1.2), 1.9, false)) }];
    assert_eq!(refusal(&scene, DVec3::new(0.5, 1.2, 1.9)), None);
    for on_shell in [
        (0.0, 1.0, 1.2),
        (SIZE.x, 1.0, 1.2),
        (1.0, SIZE.y, 1.2),
        (0.0, 0.0, 1.2),
        (1.0, 1.0, 0.0),
        (1.0, 1.0, SIZE.z),
        (0.0, 0.0, 0.0),
        (1.0, 1.0, 1e-9),
        (1.0, 1.0, SIZE.z - 1e-9),
        (1e-9, 1.0, 1.0),
    ] {
        assert_eq!(refusal(&scene, on_shell.into()), Some("outside-room"), "{on_shell:?}");
    }
    for on_desk in [(2.0, 2.2, 0.7), (1.6, 2.0, 0.7), (1.6, 2.3, 0.4), (2.0, 2.2, 0.7 + 1e-9)] {
        assert_eq!(refusal(&scene, on_desk.into()), Some("inside-block"), "{on_desk:?}");
    }
    for in_cloud in [
        (2.0, 1.2, 1.91),
        (2.0, 1.2, 1.9),
        (2.0, 1.2, 1.92),
        (2.6, 1.2, 1.91),
        (2.6, 1.5, 1.9),
        (2.0, 1.2, 1.9 - 1e-9),
        (2.0, 1.2, 1.92 + 1e-9),
    ] {
        assert_eq!(refusal(&scene, in_cloud.into()), Some("panel-in-the-way"), "{in_cloud:?}");
    }
    for beside in [(2.0, 1.2, 1.9 - 1e-5), (2.0, 1.2, 1.92 + 1e-5), (2.0, 2.2, 0.7 + 1e-5), (1.0, 1.0, 1e-5)] {
        assert_eq!(refusal(&scene, beside.into()), None, "{beside:?}");
    }
}
