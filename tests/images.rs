//! Specular arrivals: against closed forms, against every sequence in rooms that are named, and their symmetries.

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::bands::{Band, Bands};
use roomwright::directivity::{Directivity, DirectivityTable};
use roomwright::geometry::Polygon;
use roomwright::hanging;
use roomwright::images::{self, ImagePath};
use roomwright::progress::Progress;
use roomwright::room::{self, Bodies, Room};
use roomwright::scene::{self, Cloud, Panel, PanelPlace, Scene, SourceKind, StockKind};
use roomwright::weigh::{Linings, SpecularPath, ZoneImages};

use crate::completeness::{heard, same_as_every_sequence};
use crate::rays::furnish;
use crate::room::{attic, block, l_shape, panel_type, scene, shoebox};

pub(crate) fn build(scene: &Scene) -> Room {
    room::build(scene, Bodies::All)
}

pub(crate) fn paths(room: &Room, source: DVec3, point: DVec3, order: u8) -> Vec<ImagePath> {
    images::paths(&Progress::new(), room, source, &[point], order).expect("nobody cancels").remove(0)
}

/// Distances and orders of all images of a box up to an order, sorted: `2 n L + x` and `2 n L - x` along each axis.
pub(crate) fn box_images(size: DVec3, source: DVec3, point: DVec3, order: i32) -> Vec<(f64, usize)> {
    let axis = |length: f64, from: f64, to: f64| {
        (-order..=order).flat_map(move |n| {
            let even = (2.0 * f64::from(n) * length + from - to, (2 * n).unsigned_abs());
            let odd = (2.0 * f64::from(n) * length - from - to, (2 * n - 1).unsigned_abs());
            [even, odd]
        })
    };
    let mut found = Vec::new();
    for (x, i) in axis(size.x, source.x, point.x) {
        for (y, j) in axis(size.y, source.y, point.y) {
            for (z, k) in axis(size.z, source.z, point.z) {
                if i + j + k <= order.unsigned_abs() {
                    found.push((DVec3::new(x, y, z).length(), (i + j + k) as usize));
                }
            }
        }
    }
    found.sort_by(|a, b| a.0.total_cmp(&b.0));
    found
}

#[test]
fn exact_l_shape_against_every_sequence() {
    let room = build(&l_shape());
    // One behind the corner from the other, and both in sight.
    same_as_every_sequence(&room, DVec3::new(4.3, 0.7, 1.1), DVec3::new(0.6, 3.3, 1.3), 3);
    same_as_every_sequence(&room, DVec3::new(1.13, 0.71, 1.1), DVec3::new(0.62, 3.34, 1.3), 3);
    assert!(!paths(&room, DVec3::new(4.3, 0.7, 1.1), DVec3::new(0.6, 3.3, 1.3), 3)[0].bounces.is_empty(), "no direct sound round a corner");
}

#[test]
fn exact_attic_against_every_sequence() {
    let room = build(&attic());
    same_as_every_sequence(&room, DVec3::new(3.1, 1.2, 1.2), DVec3::new(1.4, 3.9, 1.15), 3);
}

#[test]
fn exact_blocks_against_every_sequence() {
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.blocks = vec![block("soffit", (0.0, 0.0, 2.1), (4.0, 0.5, 0.4), 0.0), block("desk", (1.0, 1.0, 0.0), (1.2, 0.6, 0.7), 0.4)];
    let room = build(&scene);
    same_as_every_sequence(&room, DVec3::new(0.73, 0.81, 1.13), DVec3::new(3.17, 2.23, 0.71), 3);
    same_as_every_sequence(&room, DVec3::new(0.73, 0.22, 1.9), DVec3::new(1.71, 2.23, 0.21), 3);
}

#[test]
fn exact_section_of_an_attic() {
    // First reflection from the slope through the plane x-z: source and seat both at y = 2.6, by the mirror rule in the section.
    let room = build(&attic());
    let (source, point) = (DVec3::new(0.9, 2.6, 0.9), DVec3::new(1.6, 2.6, 1.0));
    let slope = DVec3::new(1.3, 0.0, -1.9) / 1.9_f64.hypot(1.3);
    let image = source - 2.0 * slope.dot(source - DVec3::new(0.0, 0.0, 1.1)) * slope;
    let found = paths(&room, source, point, 1);
    let ceiling = room.named("ceiling 1").next().expect("the slope is there").0;
    let share = -slope.dot(point - DVec3::new(0.0, 0.0, 1.1)) / slope.dot(image - point);
    let foot = point + (image - point) * share;
    assert!((0.0..=1.9).contains(&foot.x));
    let path = found.iter().find(|path| path.bounces.len() == 1 && path.bounces[0].surface == ceiling).expect("the slope mirrors it");
    assert!((path.length - image.distance(point)).abs() < 1e-12);
    assert!(path.bounces[0].point.distance(foot) < 1e-12);
    assert!((path.bounces[0].cosine - slope.dot((point - foot) / point.distance(foot))).abs() < 1e-12);
}

#[test]
fn exact_ties_in_a_square_room_are_counted_once() {
    // Source and point on the diagonal: corner reflections meet the edges exactly; and mid-way, everything is symmetric.
    let room = build(&shoebox(4.0, 4.0, 2.5));
    for (source, point) in [
        (DVec3::new(1.0, 1.0, 1.25), DVec3::new(3.0, 3.0, 1.25)),
        (DVec3::new(2.0, 2.0, 1.0), DVec3::new(2.0, 2.0, 1.5)),
        (DVec3::new(1.0, 2.0, 1.25), DVec3::new(3.0, 2.0, 1.25)),
    ] {
        let ours = paths(&room, source, point, 4);
        let exact = box_images(DVec3::new(4.0, 4.0, 2.5), source, point, 4);
        assert_eq!(ours.len(), exact.len());
        for (path, (length, _)) in ours.iter().zip(&exact) {
            assert!((path.length - length).abs() < 1e-9);
        }
    }
}

#[test]
fn exact_coplanar_facets_are_one_mirror() {
    // The same box with its long walls in three pieces and its ceiling in two equal halves: as many arrivals as without.
    let outline = [(0.0, 0.0), (1.5, 0.0), (2.5, 0.0), (5.0, 0.0), (5.0, 3.0), (2.5, 3.0), (0.0, 3.0)];
    let pieces = build(&scene(&outline, &[(2.4, (0.0, 0.0))]));
    let (source, point) = (DVec3::new(2.0, 1.5, 1.2), DVec3::new(3.0, 1.5, 1.2));
    let ours = paths(&pieces, source, point, 4);
    assert_eq!(ours.len(), box_images(DVec3::new(5.0, 3.0, 2.4), source, point, 4).len());
}

#[test]
fn exact_shadow_behind_a_screen() {
    // A screen across a box from wall to wall: direct sound and floor path gone, ceiling path there.
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.blocks = vec![block("screen", (1.9, 0.0, 0.0), (0.2, 3.0, 1.8), 0.0)];
    let room = build(&scene);
    let found = paths(&room, DVec3::new(1.0, 1.0, 1.2), DVec3::new(3.0, 2.0, 1.2), 1);
    assert_eq!(found.len(), 1);
    assert_eq!(room.surfaces[found[0].bounces[0].surface].name, "ceiling 0");
}

/// The attic with furniture, some 40 polygons, and 31 panels: flat ones on every wall and both ceilings, across corners, clouds.
pub(crate) fn furnished_attic() -> Scene {
    let mut scene = attic();
    scene.blocks = vec![
        block("desk", (2.0, 0.6, 0.68), (1.4, 0.7, 0.04), 0.0),
        block("shelf", (4.05, 2.0, 0.0), (0.35, 0.9, 1.8), 0.0),
        block("stand", (1.5, 4.3, 0.0), (0.3, 0.3, 0.9), 0.0),
        block("case", (1.2, 2.2, 0.0), (0.5, 0.4, 0.5), 0.3),
        block("rack", (3.2, 3.6, 0.0), (0.5, 0.5, 0.6), -0.2),
        block("chest", (1.4, 0.4, 0.0), (0.5, 0.4, 0.4), 0.1),
    ];
    scene.stock = vec![panel_type("flat", StockKind::Panel), panel_type("trap", StockKind::Corner), panel_type("cloud", StockKind::Cloud)];
    let rows: [(&str, f64, bool, &[f64]); 7] = [
        ("wall 0", 0.7, false, &[0.45, 1.1, 1.75, 2.4]),
        ("wall 1", 0.8, false, &[0.45, 1.1, 1.7, 3.25, 3.9]),
        ("wall 2", 0.7, false, &[1.2, 1.85, 2.5, 3.15]),
        ("wall 3", 0.3, true, &[0.1, 1.4, 2.7, 3.95]),
        ("ceiling 1", 0.5, false, &[0.3, 1.2, 2.1, 3.0, 3.9]),
        ("ceiling 0", 0.6, false, &[0.3, 1.2]),
        ("ceiling 0", 2.6, false, &[0.3, 1.2]),
    ];
    for (surface, bottom, lying, lefts) in rows {
        let place = |&left: &f64| PanelPlace::Surface { surface: surface.into(), left, bottom, lying, gap: 0.05 };
        scene.panels.extend(lefts.iter().map(|left| Panel { kind: "flat".into(), place: place(left) }));
    }
    scene.panels.push(Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 1, bottom: 0.0 } });
    scene.panels.push(Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom: 1.2 } });
    for (y, tilt) in [(1.2, 0.0), (2.0, 6.0), (2.8, 0.0)] {
        let cloud = Cloud { tilt: DVec2::new(tilt, 0.0), ..Cloud::level(DVec2::new(2.6, y), 2.0, false) };
        scene.panels.push(Panel { kind: "cloud".into(), place: PanelPlace::Cloud(cloud) });
    }
    assert_eq!(scene.panels.len(), 31);
    let text = scene::print(&heard(scene.clone()));
    if let Err(mistakes) = scene::read(&text) {
        panic!("{}", mistakes.iter().map(|mistake| mistake.render(&text, "attic")).collect::<String>());
    }
    scene
}

#[test]
fn keeps_reciprocity_among_furniture() {
    let room = build(&furnished_attic());
    let (a, b) = (DVec3::new(3.0, 0.9, 1.2), DVec3::new(2.4, 2.9, 1.15));
    let (there, back) = (paths(&room, a, b, 3), paths(&room, b, a, 3));
    assert_eq!(there.len(), back.len());
    assert!(there.len() > 20, "{}", there.len());
    for (one, other) in there.iter().zip(&back) {
        assert!((one.length - other.length).abs() < 1e-12);
        assert!(one.departure.distance(other.arrival) < 1e-12 || there.iter().filter(|p| (p.length - one.length).abs() < 1e-9).count() > 1);
    }
}

#[test]
fn keeps_every_bit_whatever_the_threads() {
    let room = build(&furnished_attic());
    let run = |threads: usize| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("a small pool");
        pool.install(|| paths(&room, DVec3::new(3.0, 0.9, 1.2), DVec3::new(2.4, 2.9, 1.15), 3))
    };
    let one = run(1);
    assert_eq!(one, run(2));
    assert_eq!(one, run(7));
}

#[test]
fn keeps_cancelling() {
    let progress = Progress::new();
    progress.cancel();
    let room = build(&attic());
    assert!(images::paths(&progress, &room, DVec3::new(3.0, 0.9, 1.2), &[DVec3::new(2.4, 2.9, 1.15)], 3).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn exact_random_shoeboxes(size in prop::array::uniform3(2.0_f64..6.0), from in prop::array::uniform3(0.02_f64..0.98), to in prop::array::uniform3(0.02_f64..0.98), order in 0_u8..=6) {
        let size = DVec3::from(size);
        let (source, point) = (size * DVec3::from(from), size * DVec3::from(to));
        let room = build(&shoebox(size.x, size.y, size.z));
        let ours = paths(&room, source, point, order);
        let exact = box_images(size, source, point, i32::from(order));
        prop_assert_eq!(ours.len(), exact.len());
        for (path, (length, _)) in ours.iter().zip(&exact) {
            prop_assert!((path.length / length - 1.0).abs() < 1e-9);
            let mut walk = source;
            let mut walked = 0.0;
            for bounce in &path.bounces {
                walked += walk.distance(bounce.point);
                walk = bounce.point;
                prop_assert!(room.surfaces[bounce.surface].chart.height(bounce.point).abs() < 1e-9);
            }
            prop_assert!((walked + walk.distance(point) - length).abs() < 1e-9 * length.max(1.0));
        }
        let back = paths(&room, point, source, order);
        for (one, other) in ours.iter().zip(&back) {
            prop_assert!((one.length - other.length).abs() < 1e-12);
        }
    }

    #[test]
    fn keeps_sequences_of_random_rooms(radii in prop::collection::vec(1.2_f64..4.0, 4..7), tilt in -0.2_f64..0.2) {
        let n = radii.len() as f64;
        let outline: Vec<(f64, f64)> = radii.iter().enumerate()
            .map(|(i, radius)| (DVec2::from_angle(std::f64::consts::TAU * i as f64 / n) * *radius).into()).collect();
        let mut scene = scene(&outline, &[(2.5, (tilt, 0.1)), (2.7, (-tilt, -0.05))]);
        scene.blocks = vec![block("table", (-0.2, -0.3, 0.5), (0.4, 0.3, 0.2), 0.3)];
        let room = build(&scene);
        prop_assume!(Polygon { corners: scene.outline.clone() }.contains(DVec2::new(0.3, 0.3)));
        same_as_every_sequence(&room, DVec3::new(0.31, 0.33, 1.2), DVec3::new(-0.37, 0.21, 1.3), 2);
    }
}

/// A hall of 400 turned boxes: 2,400 faces in sight of each other.
fn crowded() -> Room {
    let mut scene = shoebox(12.0, 10.0, 3.5);
    for index in 0..400 {
        let (column, row) = (index % 20, index / 20);
        let low = (0.3 + 0.55 * f64::from(column), 0.3 + 0.45 * f64::from(row), [0.0, 0.4, 2.3, 3.1][(index % 4) as usize]);
        scene.blocks.push(block(&format!("box {index}"), low, (0.2, 0.15, 0.1), f64::from(index % 7) * 0.1));
    }
    let mut room = build(&scene);
    room.sources.push(room::Emitter {
        name: "source".to_owned(),
        kind: SourceKind::Loudspeaker,
        position: DVec3::new(3.0, 4.1, 1.3),
        aim: DVec3::X,
        directivity: Directivity::Omni,
    });
    room
}

/// An order that would take too long is left to the rays; what is affordable does not depend on threads, and small rooms keep what they
/// ask for.
#[test]
fn keeps_the_search_bounded_among_many_surfaces() {
    let order = |room: &Room, asked: u8| {
        images::affordable_order(&Progress::new(), room, &images::Prepared::new(room), asked).expect("nobody cancels")
    };
    let room = crowded();
    assert!(room.surfaces.len() > 2000);
    let held = order(&room, 6);
    assert!((1..6).contains(&held), "{held}");
    assert_eq!(order(&room, held), held, "what is affordable is not held");
    assert_eq!(order(&room, 1), 1);
    assert_eq!(crate::support::on_threads(1, || order(&room, 6)), held);
    let mut small = build(&attic());
    small.sources.clone_from(&room.sources);
    assert_eq!(order(&small, 6), 6);
}

/// Whether sight among surfaces is held or asked anew, the same paths come in the same order.
#[test]
fn keeps_what_is_seen_held_or_asked() {
    let room = crowded();
    let points: Vec<DVec3> = (0..20).map(|index| DVec3::new(0.7 + 0.5 * f64::from(index), 1.9 + 0.31 * f64::from(index), 1.6)).collect();
    let paths = |held_most: usize| {
        let prepared = images::Prepared::holding(&room, held_most);
        images::paths_among(&Progress::new(), &prepared, room.sources[0].position, &points, 2).expect("nobody cancels")
    };
    let (held, asked) = (paths(room.surfaces.len()), paths(room.surfaces.len() - 1));
    assert_eq!(held, asked);
    let seen: usize = held.iter().map(Vec::len).sum();
    assert!(seen > 100, "{seen} paths make a poor sample");
}

/// What an image loses at panels on a wall is the mean over its footprint whether they are patches or bodies: a panel at the mirror point, two side by side,
/// one beside it.
#[test]
fn keeps_the_footprint_among_panels_as_built() {
    let kept = |lefts: &[f64], bodies: Bodies| -> Bands<f64> {
        let place = |&left: &f64| PanelPlace::Surface { surface: "wall 0".into(), left, bottom: 0.6, lying: false, gap: 0.05 };
        let panels = lefts.iter().map(|left| Panel { kind: "flat".into(), place: place(left) }).collect();
        let scene = Scene { stock: vec![panel_type("flat", StockKind::Panel)], panels, ..shoebox(5.0, 4.0, 2.5) };
        let mut room = room::build(&scene, bodies);
        furnish(&mut room, &[DVec3::new(2.3, 2.0, 1.2)], &[DVec3::new(2.7, 2.1, 1.2)]);
        let directivity = [DirectivityTable::new(Directivity::Omni, room.medium.speed)];
        let linings = Linings::new(&room, &hanging::from_panels(&scene, &room, &scene.panels));
        let zones = ZoneImages::all(&Progress::new(), &room, 1, &directivity).expect("nobody cancels");
        let of_wall =
            |path: &&SpecularPath| path.path.bounces.first().is_some_and(|bounce| room.surfaces[bounce.surface].chart.normal.y > 0.9);
        let met: Vec<&SpecularPath> = zones[0][0].heard.iter().filter(of_wall).collect();
        let sum = |energy: &dyn Fn(&SpecularPath) -> Bands<f64>| met.iter().fold(Bands::splat(0.0), |sum, path| sum + energy(path));
        let (energy, mirrored) = (sum(&|path| path.energy(&room, &linings)), sum(&|path| path.mirror_energy));
        energy.zip(mirrored, |energy, mirrored| energy / mirrored)
    };
    let [one, two] = [&[2.2][..], &[1.9, 2.5]].map(|lefts| kept(lefts, Bodies::All));
    // From 4 kHz on one panel holds all of the footprint.
    for band in Band::ALL.into_iter().skip(2).take(3) {
        assert!(two[band] < one[band] - 0.05, "{}: two leave {:.3}, one {:.3}", band.label(), two[band], one[band]);
    }
    for lefts in [&[2.2][..], &[1.9, 2.5], &[2.55], &[1.9, 2.55]] {
        let (patches, bodies) = (kept(lefts, Bodies::Standing), kept(lefts, Bodies::All));
        for band in Band::ALL {
            assert!(
                (bodies[band] - patches[band]).abs() < 0.03,
                "{lefts:?}, {}: {:.3} and {:.3}",
                band.label(),
                bodies[band],
                patches[band]
            );
        }
    }
}

/// A cloud comes nearer to its ceiling, a centimeter at a time, and no image of it jumps: what goes on round it counts less and less the further both are apart, and from 0.35 m on not at all.
#[test]
fn keeps_images_of_a_cloud_from_jumping() {
    let kept = |underside: f64| -> Bands<f64> {
        let place = PanelPlace::Cloud(Cloud::level(DVec2::new(2.5, 2.05), underside, false));
        let panels = vec![Panel { kind: "cloud".into(), place }];
        let scene = Scene { stock: vec![panel_type("cloud", StockKind::Cloud)], panels, ..shoebox(5.0, 4.0, 2.5) };
        let mut room = room::build(&scene, Bodies::Standing);
        furnish(&mut room, &[DVec3::new(2.3, 2.0, 1.2)], &[DVec3::new(2.7, 2.1, 1.2)]);
        let directivity = [DirectivityTable::new(Directivity::Omni, room.medium.speed)];
        let linings = Linings::new(&room, &hanging::from_panels(&scene, &room, &scene.panels));
        let zones = ZoneImages::all(&Progress::new(), &room, 1, &directivity).expect("nobody cancels");
        let of_cloud =
            |path: &&SpecularPath| path.path.bounces.iter().any(|bounce| room.surfaces[bounce.surface].name == "cloud 1, underside");
        let met: Vec<&SpecularPath> = zones[0][0].heard.iter().filter(of_cloud).collect();
        assert!(!met.is_empty(), "the cloud hangs over both");
        let sum = |energy: &dyn Fn(&SpecularPath) -> Bands<f64>| met.iter().fold(Bands::splat(0.0), |sum, path| sum + energy(path));
        let (energy, mirrored) = (sum(&|path| path.energy(&room, &linings)), sum(&|path| path.mirror_energy));
        energy.zip(mirrored, |energy, mirrored| energy / mirrored)
    };
    let heights: Vec<f64> = (0..=40).map(|step| 2.0 + 0.01 * f64::from(step)).collect();
    let all: Vec<Bands<f64>> = heights.iter().map(|height| kept(*height)).collect();
    for (height, pair) in heights.iter().zip(all.windows(2)) {
        for band in Band::ALL.into_iter().skip(4) {
            let jump = (pair[1][band] - pair[0][band]).abs();
            assert!(jump < 0.05, "{} from {height:.2} m on: {:.3} to {:.3}", band.label(), pair[0][band], pair[1][band]);
        }
    }
    let (far, near) = (all[0], all[40]);
    assert!(near[Band::new(4)] > far[Band::new(4)] + 0.1, "close to the ceiling it goes on round the cloud: {far:?}, {near:?}");
}
