//! The room built from a scene: charts, facets, volume, bodies, contacts.

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::absorbers::diffuse_average;
use roomwright::bands::{Band, Bands};
use roomwright::geometry::Polygon;
use roomwright::hanging;
use roomwright::room::{self, Bodies, Role, Room};
use roomwright::scene::making::Construction;
use roomwright::scene::{
    Activity, AirState, AngleLaw, Block, CeilingPlane, Cloud, Core, Goals, Opening, OpeningKind, Panel, PanelPlace, PanelType, Rectangle,
    Scene, StockKind, UserMaterial, Wall,
};
use roomwright::settings::Settings;
use roomwright::units::{Length, LengthUnit};

use super::scenes::shipped_with_lessons;

/// A room over an outline (counterclockwise) under planes (height over the origin, slope), all of one hard material.
pub(crate) fn scene(outline: &[(f64, f64)], planes: &[(f64, (f64, f64))]) -> Scene {
    let material = |name: &str, absorption: f64| UserMaterial {
        name: name.to_owned(),
        absorption: Bands::splat(Some(absorption)),
        scattering: Bands::splat(0.0),
        law: AngleLaw::Uniform,
        moves_like: String::new(),
        source: "test".to_owned(),
    };
    Scene {
        name: "test".to_owned(),
        question: None,
        unit: LengthUnit::Meter,
        tape_tolerance: Length(0.01),
        activity: Activity::Mixing,
        air: AirState { temperature_c: 20.0, humidity_percent: 50.0, pressure_kpa: 101.325 },
        noise_level: None,
        speech_level: None,
        outline: outline.iter().map(|&(x, y)| DVec2::new(x, y)).collect(),
        walls: (0..outline.len()).map(|i| Wall { name: format!("wall {i}"), material: "hard".to_owned() }).collect(),
        floor_material: "hard".to_owned(),
        ceiling: planes
            .iter()
            .enumerate()
            .map(|(i, &(height, (x, y)))| CeilingPlane {
                name: format!("ceiling {i}"),
                material: "hard".to_owned(),
                height,
                slope: DVec2::new(x, y),
            })
            .collect(),
        openings: Vec::new(),
        blocks: Vec::new(),
        sources: Vec::new(),
        seats: Vec::new(),
        microphones: Vec::new(),
        clearances: Vec::new(),
        panels: Vec::new(),
        stock: Vec::new(),
        materials: vec![material("hard", 0.1), material("soft", 0.5)],
        goals: Goals::default(),
        making: roomwright::scene::Making::default(),
        settings: Settings::DEFAULT,
    }
}

pub(crate) fn shoebox(x: f64, y: f64, z: f64) -> Scene {
    scene(&[(0.0, 0.0), (x, 0.0), (x, y), (0.0, y)], &[(z, (0.0, 0.0))])
}

/// A 4.4 x 5.2 m attic: knee wall of 1.1 m along x = 0, rising over 1.9 m to 2.4 m.
pub(crate) fn attic() -> Scene {
    scene(&[(0.0, 0.0), (4.4, 0.0), (4.4, 5.2), (0.0, 5.2)], &[(2.4, (0.0, 0.0)), (1.1, (1.3 / 1.9, 0.0))])
}

pub(crate) fn l_shape() -> Scene {
    scene(&[(0.0, 0.0), (5.0, 0.0), (5.0, 2.0), (2.0, 2.0), (2.0, 4.0), (0.0, 4.0)], &[(2.5, (0.0, 0.0))])
}

pub(crate) fn block(name: &str, low: (f64, f64, f64), size: (f64, f64, f64), rotation: f64) -> Block {
    Block {
        name: name.to_owned(),
        center: DVec2::new(low.0 + size.0 / 2.0, low.1 + size.1 / 2.0),
        base: low.2,
        size: size.into(),
        rotation,
        material: "hard".to_owned(),
        scattering: None,
    }
}

pub(crate) fn panel_type(name: &str, kind: StockKind) -> PanelType {
    PanelType {
        made: None,
        fixing: None,
        name: name.to_owned(),
        kind,
        size: DVec2::new(0.6, 1.2),
        thickness: 0.05,
        core: Core::Material("soft".to_owned()),
        facing: None,
        gap: 0.05,
        other_gaps: Vec::new(),
        count: 10,
        instead_of: None,
        price: None,
        drill: None,
        mass: None,
        scattering: None,
        least_distance: 0.0,
    }
}

fn hung(kind: &str, surface: &str, left: f64, bottom: f64, lying: bool) -> Panel {
    Panel { kind: kind.to_owned(), place: PanelPlace::Surface { surface: surface.to_owned(), left, bottom, lying, gap: 0.05 } }
}

fn find<'a>(room: &'a Room, name: &str) -> &'a room::Surface {
    room.surfaces.iter().find(|surface| surface.name == name).unwrap_or_else(|| panic!("no surface {name}"))
}

fn close(a: f64, b: f64) {
    assert!((a - b).abs() < 1e-9, "{a} is not {b}");
}

/// Surfaces and contacts together close every body of air: the vector areas add up to nothing, and `V = sum of A (p . n) / 3`, with
/// what bodies cover taken out.
fn closes(room: &Room) {
    let (mut vector, mut volume) = (DVec3::ZERO, 0.0);
    for (index, surface) in room.surfaces.iter().enumerate() {
        let inward = surface.chart.normal * room.open_area(index);
        vector += inward;
        volume -= inward.dot(surface.chart.origin) / 3.0;
    }
    assert!(vector.length() < 1e-9, "{vector}");
    close(volume, room.volume);
}

#[test]
fn exact_charts_of_a_shoebox() {
    let room = room::build(&shoebox(4.0, 3.0, 2.5), Bodies::All);
    assert_eq!(room.surfaces.len(), 6);
    close(room.volume, 30.0);
    let south = find(&room, "wall 0");
    // Seen from inside the left end of the south wall lies in the east.
    assert_eq!(south.chart.origin, DVec3::new(4.0, 0.0, 0.0));
    assert_eq!(south.chart.normal, DVec3::Y);
    assert_eq!(south.chart.right, DVec3::NEG_X);
    assert_eq!(find(&room, "wall 1").chart.normal, DVec3::NEG_X);
    assert_eq!(find(&room, "floor").chart.normal, DVec3::Z);
    let ceiling = find(&room, "ceiling 0");
    assert_eq!((ceiling.chart.origin, ceiling.chart.normal), (DVec3::new(4.0, 0.0, 2.5), DVec3::NEG_Z));
    for surface in &room.surfaces {
        assert!((surface.chart.right.cross(surface.chart.up) - surface.chart.normal).length() < 1e-12);
        assert!(surface.outline.area() > 0.0 && surface.outline.bounds().0.length() < 1e-12);
        assert!(surface.chart.height(DVec3::new(2.0, 1.5, 1.2)) > 0.0);
    }
    closes(&room);
}

#[test]
fn exact_attic() {
    let room = room::build(&attic(), Bodies::All);
    // Section 4.4 x 2.4 less the triangle 1.9 x 1.3 / 2, times 5.2.
    close(room.volume, (4.4 * 2.4 - 0.5 * 1.9 * 1.3) * 5.2);
    assert!((room.volume - 48.49).abs() < 0.005);
    close(find(&room, "wall 3").area(), 1.1 * 5.2);
    close(find(&room, "wall 0").area(), 4.4 * 2.4 - 0.5 * 1.9 * 1.3);
    close(find(&room, "ceiling 1").area(), 1.9_f64.hypot(1.3) * 5.2);
    close(find(&room, "ceiling 0").area(), 2.5 * 5.2);
    let slope = find(&room, "ceiling 1");
    assert!(slope.chart.up.z > 0.0 && slope.chart.normal.z < 0.0 && (slope.chart.origin.z - 1.1).abs() < 1e-12);
    assert!((slope.chart.height(DVec3::new(2.2, 2.6, 1.2))) > 0.0);
    assert!(slope.outline.bounds().0.length() < 1e-12);
    // The gables follow the ceiling: five corners.
    assert_eq!(find(&room, "wall 0").outline.corners.len(), 5);
    assert_eq!(find(&room, "wall 1").outline.corners.len(), 4);
    closes(&room);
    assert!(room.contains(DVec3::new(0.5, 2.0, 1.3)) && !room.contains(DVec3::new(0.2, 2.0, 1.3)));
    assert!(
        !room.contains(DVec3::new(-0.1, 2.0, 0.5))
            && !room.contains(DVec3::new(2.0, 2.0, 2.5))
            && !room.contains(DVec3::new(2.0, 2.0, -0.1))
    );
}

#[test]
fn exact_ridge_and_ceiling_down_to_the_floor() {
    // A tent: two planes from the floor up to a ridge of 2 m; the long walls have no area and are left out.
    let room =
        room::build(&scene(&[(0.0, 0.0), (4.0, 0.0), (4.0, 5.0), (0.0, 5.0)], &[(0.0, (1.0, 0.0)), (4.0, (-1.0, 0.0))]), Bodies::All);
    close(room.volume, 4.0 * 2.0 / 2.0 * 5.0);
    assert_eq!(room.surfaces.len(), 5);
    close(find(&room, "wall 0").area(), 4.0);
    closes(&room);
}

#[test]
fn exact_l_shape_under_a_ridge_has_several_facets_a_plane() {
    let mut scene = l_shape();
    scene.ceiling = vec![
        CeilingPlane { name: "flat".into(), material: "hard".into(), height: 2.5, slope: DVec2::ZERO },
        // Lower than the flat one where x + y > 4.5: on both arms' ends.
        CeilingPlane { name: "slope".into(), material: "hard".into(), height: 3.4, slope: DVec2::new(-0.2, -0.2) },
    ];
    let room = room::build(&scene, Bodies::All);
    assert_eq!(room.named("slope").count(), 2);
    assert_eq!(room.named("flat").count(), 1);
    closes(&room);
    for (_, facet) in room.named("slope") {
        assert!(facet.outline.is_simple() && facet.outline.bounds().0.min_element() > -1e-9);
    }
}

#[test]
fn exact_l_shape() {
    let room = room::build(&l_shape(), Bodies::All);
    close(room.volume, 14.0 * 2.5);
    close(room.shell_area(), 2.0 * 14.0 + 18.0 * 2.5);
    assert_eq!(room.surfaces.len(), 8);
    closes(&room);
}

#[test]
fn exact_openings_are_taken_out() {
    let mut scene = attic();
    let place = Rectangle { left: 1.0, bottom: 0.0, width: 0.8, height: 2.0 };
    let hatch = Rectangle { left: 0.5, bottom: 0.25, width: 0.7, height: 1.0 };
    let opening = |name: &str, surface: &str, place| Opening {
        name: name.into(),
        kind: OpeningKind::Door,
        surface: surface.into(),
        place,
        material: "soft".into(),
    };
    scene.openings = vec![opening("door", "wall 1", place), opening("window", "ceiling 1", hatch)];
    let room = room::build(&scene, Bodies::All);
    let wall = find(&room, "wall 1");
    close(wall.area(), 5.2 * 2.4 - 1.6);
    close(find(&room, "ceiling 1").area(), 1.9_f64.hypot(1.3) * 5.2 - 0.7);
    // The east wall's left end, seen from inside, is in the north (corner 2).
    assert_ne!(wall.finish_at(wall.chart.position(DVec3::new(4.4, 5.2 - 1.4, 1.0))), wall.finish);
    assert_eq!(wall.finish_at(wall.chart.position(DVec3::new(4.4, 1.4, 1.0))), wall.finish);
    let absorption: f64 = room.finished_areas().iter().map(|&(finish, area)| room.finishes[finish].absorption[Band::new(4)] * area).sum();
    close(absorption, 0.1 * (room.shell_area() - 2.3) + 0.5 * 2.3);
}

#[test]
fn exact_blocks_and_what_they_touch() {
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.blocks = vec![
        block("soffit", (0.0, 0.0, 2.1), (4.0, 0.5, 0.4), 0.0),
        block("desk", (1.0, 1.0, 0.0), (1.2, 0.6, 0.7), 0.4),
        block("box", (1.3, 1.1, 0.7), (0.3, 0.3, 0.3), 0.4),
        block("beam", (2.5, 2.0, 1.8), (0.2, 0.2, 0.2), 0.0),
    ];
    let room = room::build(&scene, Bodies::All);
    let faces =
        |name: &str| room.surfaces.iter().filter(|surface| surface.name.starts_with(name)).map(|s| s.name.clone()).collect::<Vec<_>>();
    // Three sides of the soffit are flush with walls, its top with the ceiling.
    assert_eq!(faces("soffit"), ["soffit, underside", "soffit, back"]);
    assert_eq!(faces("desk"), ["desk, top", "desk, left", "desk, right", "desk, front", "desk, back"]);
    assert_eq!(faces("box").len(), 5);
    assert_eq!(faces("beam").len(), 6);
    close(room.volume, 30.0 - 4.0 * 0.5 * 0.4 - 1.2 * 0.6 * 0.7 - 0.027 - 0.008);
    closes(&room);
    let desk_top = room.surfaces.iter().position(|surface| surface.name == "desk, top").expect("it is there");
    close(room.open_area(desk_top), 0.72 - 0.09);
    let south = room.surfaces.iter().position(|surface| surface.name == "wall 0").expect("it is there");
    close(room.open_area(south), 4.0 * 2.1);
    assert!(
        !room.contains(DVec3::new(1.6, 1.3, 0.3)) && room.contains(DVec3::new(1.6, 1.3, 1.1)) && !room.contains(DVec3::new(1.0, 0.2, 2.3))
    );
    // The top's normal and its own axes.
    let top = find(&room, "desk, top");
    assert!(top.chart.right.distance(DVec3::new(0.4_f64.cos(), 0.4_f64.sin(), 0.0)) < 1e-12 && top.chart.normal.distance(DVec3::Z) < 1e-12);
    assert!((find(&room, "desk, left").chart.up - DVec3::Z).length() < 1e-12);
    // Edges: a small face scatters what it cannot mirror, less at high frequencies; the shell nothing.
    let beam = find(&room, "beam, top").edge_scattering;
    let zone = std::f64::consts::PI * room.medium.speed / Band::new(4).center() * room.mean_free_path() / 2.0;
    close(beam[Band::new(4)], 1.0 - 0.04 / zone);
    assert!(beam[Band::new(0)] > beam[Band::new(7)]);
    assert_eq!(find(&room, "floor").edge_scattering, Bands::splat(0.0));
    let finish = &room.finishes[find(&room, "beam, top").finish];
    assert!((finish.scattering[Band::new(4)] - beam[Band::new(4)]).abs() < 1e-9, "edges are in the finish");
}

#[test]
fn exact_panels_as_patches_and_as_bodies() {
    let mut scene = attic();
    scene.stock = vec![panel_type("flat", StockKind::Panel), panel_type("rug", StockKind::Rug), panel_type("shelf", StockKind::Bookcase)];
    scene.panels = vec![
        hung("flat", "wall 1", 1.0, 0.5, false),
        hung("flat", "ceiling 1", 1.0, 0.5, true),
        hung("rug", "floor", 1.0, 1.0, false),
        hung("shelf", "wall 2", 0.5, 0.0, false),
    ];
    let standing = room::build(&scene, Bodies::Standing);
    let patches = hanging::from_panels(&scene, &standing, &scene.panels);
    assert_eq!(patches.patches.len(), 3);
    for patch in &patches.patches {
        close(patch.region.area(), 0.72);
        assert!(standing.surfaces[patch.surface].outline.covers(&patch.region, 1e-9));
    }
    close(patches.finishes[patches.patches[0].finish].depth, 0.1);
    let size = |patch: &hanging::Patch| patch.region.bounds().1 - patch.region.bounds().0;
    assert!((size(&patches.patches[0]) - DVec2::new(0.6, 1.2)).length() < 1e-9);
    assert!((size(&patches.patches[1]) - DVec2::new(1.2, 0.6)).length() < 1e-9);
    assert_eq!(
        standing.surfaces.iter().filter(|surface| matches!(surface.role, Role::Panel(3))).count(),
        4,
        "floor and wall meet two faces"
    );
    close(standing.volume, room::build(&attic(), Bodies::All).volume - 0.6 * 1.2 * 0.1);
    closes(&standing);

    let all = room::build(&scene, Bodies::All);
    assert_eq!(hanging::from_panels(&scene, &all, &scene.panels).patches.len(), 1, "the rug");
    close(all.volume, standing.volume - 2.0 * 0.72 * 0.1);
    closes(&all);
    let front = find(&all, "flat 2, front");
    assert_eq!(front.edge_scattering, Bands::splat(0.0));
    close(find(&all, "ceiling 1").chart.height(front.chart.point(DVec2::new(0.3, 0.3))), 0.1);
    assert!(find(&all, "flat 1, left edge").edge_scattering[Band::new(4)] > 0.5);
    assert_eq!(all.surfaces.iter().filter(|surface| surface.role == Role::Panel(0)).count(), 5);
}

/// What a frame or a hardener closes takes nothing; of 100 mm from wall to front the air behind is open, whatever the panel is made like.
#[test]
fn exact_edges_of_panels_as_they_are_made() {
    let of = |made: Option<Construction>, gap: f64| {
        let mut scene = attic();
        let kind = PanelType { core: Core::porous(12_000.0), made, ..panel_type("flat", StockKind::Panel) };
        scene.stock = vec![kind];
        scene.panels = vec![hung("flat", "wall 1", 1.0, 0.5, false)];
        let PanelPlace::Surface { gap: behind, .. } = &mut scene.panels[0].place else { panic!() };
        *behind = gap;
        let room = room::build(&scene, Bodies::All);
        let finish = |name: &str| room.finishes[find(&room, name).finish].clone();
        (finish("flat 1, front"), ["left", "right", "lower", "upper"].map(|side| finish(&format!("flat 1, {side} edge"))))
    };
    for gap in [0.0, 0.05, 0.15] {
        for (made, is_open) in [(None, false), (Some(Construction::WoodenFrame), false), (Some(Construction::Bought), true)] {
            let (front, edges) = of(made, gap);
            assert!(front.absorption[Band::new(4)] > 0.5);
            let share = if is_open { 1.0 } else { gap / (0.05 + gap) };
            for edge in edges {
                for band in Band::ALL {
                    assert!((edge.absorption[band] - share * front.absorption[band]).abs() < 1e-9, "{made:?} {gap} {}", band.label());
                }
                let mean = 1.0 - diffuse_average(&edge.specular)[Band::new(4)] - diffuse_average(&edge.diffuse)[Band::new(4)];
                assert!((mean - edge.absorption[Band::new(4)]).abs() < 1e-6);
                assert_eq!(edge.name, "flat", "off by as much as its panel");
            }
        }
    }
}

#[test]
fn exact_corner_panels_and_clouds() {
    let mut scene = attic();
    scene.stock = vec![panel_type("trap", StockKind::Corner), panel_type("cloud", StockKind::Cloud)];
    scene.panels = vec![
        Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom: 0.0 } },
        Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom: 1.2 } },
        Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(3.0, 2.6), 2.1, false)) },
    ];
    let room = room::build(&scene, Bodies::Standing);
    // Across a right angle: the prism's section is a right triangle over a hypotenuse of 0.6 m.
    let section = 0.6 * 0.3 / 2.0;
    close(room.volume, room::build(&attic(), Bodies::All).volume - 2.0 * 1.2 * section - 0.72 * 0.05);
    closes(&room);
    let faces = |index: usize| {
        room.surfaces.iter().filter(|surface| surface.role == Role::Panel(index)).map(|s| s.name.clone()).collect::<Vec<_>>()
    };
    // Floor, walls, ceiling and one another take all but the fronts.
    assert_eq!(faces(0), ["trap 1, front"]);
    assert_eq!(faces(1), ["trap 2, front"]);
    assert_eq!(faces(2).len(), 6);
    let front = find(&room, "trap 1, front");
    close(front.area(), 0.72);
    assert!(front.chart.height(DVec3::new(2.0, 2.0, 1.0)) > 0.0 && front.chart.up == DVec3::Z);
    assert!(
        !room.contains(DVec3::new(4.3, 5.1, 1.0)) && room.contains(DVec3::new(4.0, 4.8, 1.0)) && !room.contains(DVec3::new(3.0, 2.6, 2.12))
    );
    let under = find(&room, "cloud 3, underside");
    let (low, high) = under.outline.bounds();
    assert!((high - low - DVec2::new(1.2, 0.6)).length() < 1e-9 && under.chart.normal == DVec3::NEG_Z);
}

#[test]
fn keeps_the_scenes_of_the_repository_closed() {
    for (name, text) in shipped_with_lessons() {
        let (scene, _) = roomwright::scene::read(&text).unwrap_or_else(|mistakes| panic!("{name}: {mistakes:?}"));
        for bodies in [Bodies::Standing, Bodies::All] {
            let room = room::build(&scene, bodies);
            closes(&room);
            for surface in &room.surfaces {
                assert!(surface.outline.is_simple() && surface.area() > 0.0, "{}", surface.name);
                let shares = surface.edge_scattering.0;
                assert!(shares.iter().all(|share| (0.0..1.0).contains(share)) && (!surface.role.is_shell() || shares == [0.0; 8]));
            }
            for position in room.sources.iter().map(|s| s.position).chain(room.receivers.iter().map(|r| r.position)) {
                assert!(room.contains(position), "{name}: {position}");
            }
            let seats = room.receivers.iter().filter(|receiver| receiver.zone_radius.is_some()).count();
            assert!(room.receivers[..seats].iter().all(|receiver| receiver.zone_radius.is_some()), "seats come first");
            for patch in hanging::from_panels(&scene, &room, &scene.panels).patches {
                assert!(room.surfaces[patch.surface].outline.covers(&patch.region, 1e-6));
            }
            for (band, time) in hanging::eyring(&room, &hanging::from_panels(&scene, &room, &scene.panels)).iter() {
                // The shortest is that of a lesson whose walls are as good as open.
                assert!((0.02..5.0).contains(time), "{name}: {time} s at {}", band.label());
            }
        }
    }
}

proptest! {
    #[test]
    fn keeps_rooms_closed_under_any_planes(
        radii in prop::collection::vec(1.5_f64..4.0, 3..9),
        planes in prop::collection::vec((2.5_f64..3.5, (-0.25_f64..0.25, -0.25_f64..0.25)), 1..5),
    ) {
        let n = radii.len() as f64;
        let outline: Vec<(f64, f64)> = radii.iter().enumerate()
            .map(|(i, radius)| (DVec2::from_angle(std::f64::consts::TAU * i as f64 / n) * *radius).into()).collect();
        let room = room::build(&scene(&outline, &planes), Bodies::All);
        closes(&room);
        let floor = find(&room, "floor");
        for (_, ceiling) in room.surfaces.iter().enumerate().filter(|(_, s)| matches!(s.role, Role::Ceiling(_))) {
            prop_assert!(ceiling.outline.is_simple());
            for corner in &ceiling.outline.corners {
                let point = ceiling.chart.point(*corner);
                prop_assert!(floor.outline.contains(floor.chart.position(point)) || floor.outline.distance_to(floor.chart.position(point)) < 1e-7);
            }
        }
        prop_assert!(room.contains(DVec3::new(0.0, 0.0, 0.5)));
        let plan = Polygon { corners: outline.iter().map(|&(x, y)| DVec2::new(x, y)).collect() };
        prop_assert!((floor.area() - plan.area()).abs() < 1e-9);
    }
}

/// Bodies that touch are found among many that do not, whatever the order they are named in: the area of each contact is that of the pair
/// alone.
#[test]
fn keeps_contacts_among_many_bodies() {
    let stack = |x: f64, y: f64| {
        [block("under", (x, y, 0.0), (0.3, 0.2, 0.4), 0.0), block("over", (x + 0.1, y, 0.4), (0.3, 0.2, 0.4), 0.0)].map(|mut one| {
            one.name = format!("{} at {x} {y}", one.name);
            one
        })
    };
    let mut scene = shoebox(9.0, 8.0, 2.5);
    for index in 0..60 {
        scene.blocks.extend(stack(0.5 + 0.8 * f64::from(index % 10), 0.4 + 1.2 * f64::from(index / 10)));
    }
    scene.blocks.reverse();
    let room = room::build(&scene, Bodies::Standing);
    let areas: Vec<f64> = room.contacts.iter().map(|contact| contact.region.area()).collect();
    // Each lower box on the floor, 0.3 x 0.2; each upper one on it, 0.2 x 0.2, seen from both.
    let expected = 60.0 * (0.3 * 0.2 + 2.0 * 0.2 * 0.2);
    let found: f64 = areas.iter().sum();
    assert!((found - expected).abs() < 1e-9, "{found} for {expected}");
    assert_eq!(areas.len(), 180);
}
