//! Where panels may hang, and what refuses them; beside it tidy rows (`rows`) and the two rules of thumb (`thumb`).

mod rows;
mod thumb;

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::geometry::Polygon;
use roomwright::layout::candidates::{centered, search};
use roomwright::layout::rows::{moves, tidy};
use roomwright::layout::{Candidate, Free, Refusal, candidates, place};
use roomwright::plan::thumb::{even_spread, first_points};
use roomwright::room::{self, Bodies, Role, Room};
use roomwright::scene::{
    Clearance, ClearanceRegion, Cloud, Opening, OpeningKind, Panel, PanelPlace, PanelType, Rectangle, Scene, Seat, Source, SourceKind,
    StockKind, read, with_panels,
};
use roomwright::{directivity::Directivity, units::LengthUnit};

use self::thumb::mirrors;
use crate::room::{attic, block, l_shape, panel_type, scene as hull, shoebox};

fn built(scene: &Scene) -> (Room, Free) {
    let room = room::build(scene, Bodies::Standing);
    let free = Free::new(scene, &room);
    (room, free)
}

fn seat(ear: (f64, f64, f64)) -> Seat {
    Seat { name: "seat".to_owned(), ear: ear.into(), facing: DVec3::Y, zone_radius: 0.3 }
}

fn source(name: &str, position: (f64, f64, f64)) -> Source {
    Source {
        name: name.to_owned(),
        kind: SourceKind::Loudspeaker,
        position: position.into(),
        aim: DVec3::NEG_Y,
        directivity: Directivity::Omni,
    }
}

fn opening(name: &str, kind: OpeningKind, surface: &str, place: (f64, f64, f64, f64)) -> Opening {
    Opening { name: name.to_owned(), kind, surface: surface.to_owned(), place: rectangle(place), material: "hard".to_owned() }
}

fn rectangle((left, bottom, width, height): (f64, f64, f64, f64)) -> Rectangle {
    Rectangle { left, bottom, width, height }
}

fn hung(surface: &str, left: f64, bottom: f64) -> Panel {
    let place = PanelPlace::Surface { surface: surface.to_owned(), left, bottom, lying: false, gap: 0.05 };
    Panel { kind: "flat".to_owned(), place }
}

fn corner_of(panel: &Panel) -> (f64, f64) {
    match panel.place {
        PanelPlace::Surface { left, bottom, .. } => (left, bottom),
        _ => panic!("{panel:?} does not hang flat"),
    }
}

/// One type of every kind.
fn stock() -> Vec<PanelType> {
    let mut types: Vec<PanelType> = [
        ("flat", StockKind::Panel),
        ("trap", StockKind::Corner),
        ("cloud", StockKind::Cloud),
        ("screen", StockKind::FreeStanding),
        ("curtain", StockKind::Curtain),
        ("rug", StockKind::Rug),
        ("bookcase", StockKind::Bookcase),
        ("diffuser", StockKind::Diffuser),
    ]
    .into_iter()
    .map(|(name, kind)| panel_type(name, kind))
    .collect();
    types[6].size = DVec2::new(0.8, 1.8);
    types[6].thickness = 0.3;
    types[6].gap = 0.0;
    types[7].size = DVec2::new(0.6, 0.6);
    types[7].least_distance = 1.0;
    types
}

/// A listening room with two loudspeakers that stand toward +y.
fn listening(mut scene: Scene) -> Scene {
    scene.stock = stock();
    scene.seats = vec![seat((2.2, 2.0, 1.2))];
    scene.sources = vec![source("left", (1.6, 3.4, 1.2)), source("right", (2.8, 3.4, 1.2))];
    scene
}

/// Corners of the space a candidate takes, by its own arithmetic: base corners and how far it comes forward.
fn prism(scene: &Scene, room: &Room, candidate: &Candidate) -> (Vec<DVec3>, DVec3) {
    let kind = &scene.stock[candidate.kind_index];
    match &candidate.panel.place {
        PanelPlace::Surface { surface, left, bottom, lying, gap } => {
            let chart = room.named(surface).next().expect("surface").1.chart;
            let (width, height) = if *lying { (kind.size.y, kind.size.x) } else { (kind.size.x, kind.size.y) };
            let at = |x: f64, y: f64| chart.point(DVec2::new(left + x, bottom + y));
            (vec![at(0.0, 0.0), at(width, 0.0), at(width, height), at(0.0, height)], chart.normal * (gap + kind.thickness))
        }
        PanelPlace::Cloud(Cloud { center, underside, turned, .. }) => {
            let half = if *turned { kind.size } else { DVec2::new(kind.size.y, kind.size.x) } / 2.0;
            let at = |x: f64, y: f64| (*center + half * DVec2::new(x, y)).extend(*underside);
            (vec![at(-1.0, -1.0), at(1.0, -1.0), at(1.0, 1.0), at(-1.0, 1.0)], DVec3::Z * kind.thickness)
        }
        PanelPlace::Corner { corner, bottom } => {
            let n = scene.outline.len();
            let tip = scene.outline[*corner];
            let legs = [(corner + 1) % n, (corner + n - 1) % n].map(|other| (scene.outline[other] - tip).try_normalize().expect("length"));
            let reach = kind.size.x / (legs[0] - legs[1]).length();
            let base = [tip, tip + legs[0] * reach, tip + legs[1] * reach].map(|point| point.extend(*bottom));
            (base.to_vec(), DVec3::Z * kind.size.y)
        }
    }
}

/// Points well within that space.
fn inner_points(base: &[DVec3], forward: DVec3) -> Vec<DVec3> {
    let middle = base.iter().sum::<DVec3>() / base.len() as f64;
    let mut points = Vec::new();
    for depth in [0.01, 0.5, 0.99] {
        for (i, &corner) in base.iter().enumerate() {
            let next = base[(i + 1) % base.len()];
            for share in [0.02, 0.5, 0.98] {
                let rim = corner + (next - corner) * share;
                points.extend([0.01, 0.3, 0.7].map(|inward| rim + (middle - rim) * inward + forward * depth));
            }
        }
        points.push(middle + forward * depth);
    }
    points
}

/// Judges a candidate by the room itself: polygons on charts, and points inside solids.
fn is_legal(scene: &Scene, room: &Room, candidate: &Candidate) {
    let (base, forward) = prism(scene, room, candidate);
    let kind = &scene.stock[candidate.kind_index];
    if let (Some(region), Some(surface)) = (&candidate.region, candidate.surface) {
        let surface = &room.surfaces[surface];
        assert!(surface.outline.covers(region, 1e-6), "{candidate:?} leaves {}", surface.name);
        for lining in &surface.linings {
            assert!(lining.region.distance(region) > 0.0199, "{candidate:?} is on {}", lining.name);
        }
        for clearance in &scene.clearances {
            if let ClearanceRegion::Surface { surface: name, place } = &clearance.region
                && *name == surface.name
            {
                let low = DVec2::new(place.left, place.bottom);
                let kept = Polygon::rectangle(low, low + DVec2::new(place.width, place.height));
                assert!(!kept.overlaps(region, 1e-6), "{candidate:?} is on {}", clearance.name);
            }
        }
    }
    for point in inner_points(&base, forward) {
        assert!(room.contains(point), "{candidate:?} is not free at {point}");
        for clearance in &scene.clearances {
            if let ClearanceRegion::Space { low, high } = clearance.region {
                assert!(!(point.cmpgt(low).all() && point.cmplt(high).all()), "{candidate:?} is in {}", clearance.name);
            }
        }
        for seat in &scene.seats {
            assert!(point.distance(seat.ear) >= kind.least_distance.max(if kind.kind == StockKind::Rug { 0.0 } else { 0.15 }) - 1e-6);
        }
    }
    if let PanelPlace::Cloud(cloud) = candidate.panel.place {
        assert!(cloud.underside >= 2.0 - 1e-9 && candidate.overhead);
    }
}

/// No two panels take the same space, and each is legal where the others hang.
fn are_legal(scene: &Scene, panels: &[Panel]) {
    let (room, base) = built(scene);
    for (index, panel) in panels.iter().enumerate() {
        let mut free = base.clone();
        for (other, hung) in panels.iter().enumerate() {
            if other != index {
                free.hang(hung, kind_of(scene, hung)).expect("a place in the room");
            }
        }
        let kind = kind_of(scene, panel);
        let body = free.fits_panel(panel, kind).unwrap_or_else(|refusal| panic!("{panel:?}: {refusal}"));
        let region = body.span.map(|(low, high)| Polygon::rectangle(low, high));
        let kind_index = scene.stock.iter().position(|other| other.name == kind.name).expect("stock");
        is_legal(
            scene,
            &room,
            &Candidate {
                panel: panel.clone(),
                kind_index,
                surface: body.surface,
                region,
                center: body.center,
                point: body.front,
                overhead: true,
            },
        );
    }
    // The room itself, built with all of them as bodies, has as much less air as they take.
    let mut treated = scene.clone();
    treated.panels.extend_from_slice(panels);
    let built = room::build(&treated, Bodies::All);
    let solids: Vec<_> = built.solids.iter().filter(|solid| matches!(solid.role, Role::Panel(_))).collect();
    for panel in panels {
        let kind_index = scene.stock.iter().position(|kind| kind.name == panel.kind).expect("stock");
        let empty = Candidate {
            panel: panel.clone(),
            kind_index,
            surface: None,
            region: None,
            center: DVec2::ZERO,
            point: DVec3::ZERO,
            overhead: false,
        };
        let (corners, forward) = prism(scene, &room, &empty);
        for point in inner_points(&corners, forward) {
            assert!(solids.iter().filter(|solid| solid.contains(point)).count() <= 1, "two panels at {point}");
        }
    }
}

fn kind_of<'a>(scene: &'a Scene, panel: &Panel) -> &'a PanelType {
    scene.stock.iter().find(|kind| kind.name == panel.kind).expect("stock")
}

/// A rhombus under one level ceiling, with acute corners, to try reach through neighboring walls.
fn rhombus() -> Scene {
    hull(&[(0.0, 0.0), (4.0, 0.0), (6.0, 4.0), (2.0, 4.0)], &[(2.5, (0.0, 0.0))])
}

#[test]
fn exact_refusals_name_what_is_in_the_way() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    scene.openings = vec![
        opening("door", OpeningKind::Door, "wall 0", (0.05, 0.0, 0.8, 2.0)),
        opening("window", OpeningKind::Window, "wall 1", (2.0, 0.9, 1.0, 1.0)),
    ];
    scene.blocks = vec![block("duct", (0.0, 0.0, 2.1), (0.4, 5.2, 0.3), 0.0)];
    scene.clearances = vec![
        Clearance {
            name: "socket".into(),
            region: ClearanceRegion::Surface { surface: "wall 2".into(), place: rectangle((2.0, 0.3, 0.1, 0.1)) },
        },
        Clearance {
            name: "lamp".into(),
            region: ClearanceRegion::Space { low: DVec3::new(2.0, 2.5, 2.3), high: DVec3::new(2.4, 2.9, 2.4) },
        },
    ];
    scene.panels = vec![hung("wall 2", 0.5, 0.6)];
    let (_, free) = built(&scene);
    let flat = &scene.stock[0];
    let at = |surface: &str, left: f64, bottom: f64| free.fits_panel(&hung(surface, left, bottom), flat).map(|_| ());
    assert_eq!(at("wall 0", 0.3, 0.6), Err(Refusal::Opening("door".into())));
    assert_eq!(at("wall 0", 0.865, 0.6), Err(Refusal::Opening("door".into())));
    assert_eq!(at("wall 0", 0.871, 0.6), Ok(()));
    // Wall 1 ends at the corner beside the door: a panel there stands in the way of the door.
    assert_eq!(at("wall 1", 4.55, 0.6), Err(Refusal::Sweep("door".into())));
    assert_eq!(at("wall 1", 2.5, 0.9), Err(Refusal::Opening("window".into())));
    assert_eq!(at("wall 2", 1.8, 0.02), Err(Refusal::Clearance("socket".into())));
    assert_eq!(at("wall 2", 1.11, 0.6), Err(Refusal::Panel("flat".into())));
    assert_eq!(at("wall 2", 1.12, 0.6), Ok(()));
    assert_eq!(at("wall 3", 1.0, 1.0), Err(Refusal::Block("duct".into())));
    assert_eq!(at("wall 3", 1.0, 0.9), Ok(()));
    assert_eq!(at("wall 3", 0.01, 0.8), Err(Refusal::Edge("wall 3".into())));
    assert_eq!(at("wall 9", 1.0, 0.8), Err(Refusal::NoSurface("wall 9".into())));
    assert_eq!(at("floor", 1.0, 1.0), Err(Refusal::WrongSurface { kind: "flat".into(), surface: "floor".into() }));
    // The ceiling is seen from below, its left edge in the east.
    assert_eq!(at("ceiling 0", 1.9, 2.0), Err(Refusal::Clearance("lamp".into())));
    let mut heavy = flat.clone();
    heavy.mass = Some(12.0);
    assert_eq!(free.fits_panel(&hung("ceiling 0", 0.5, 0.5), &heavy).map(|_| ()), Err(Refusal::TooHeavy("flat".into())));
    let (wall, _) = room::build(&scene, Bodies::Standing).named("wall 0").next().map(|(i, s)| (i, s.clone())).expect("wall");
    assert_eq!(free.fits(wall, rectangle((0.871, 0.6, 0.6, 1.2)), 0.1), Ok(()));
    assert_eq!(free.fits(wall, rectangle((0.3, 0.6, 0.6, 1.2)), 0.1), Err(Refusal::Opening("door".into())));
    let low = PanelPlace::Cloud(Cloud::level(DVec2::new(2.2, 2.0), 1.9, false));
    assert_eq!(free.fits_panel(&Panel { kind: "cloud".into(), place: low }, &scene.stock[2]).map(|_| ()), Err(Refusal::Headroom));
    // A corner panel whose edge would cover the socket's wall does not hide the socket.
    let mut hidden = scene.clone();
    hidden.clearances = vec![Clearance {
        name: "socket".into(),
        region: ClearanceRegion::Surface { surface: "wall 2".into(), place: rectangle((4.2, 0.3, 0.1, 0.1)) },
    }];
    hidden.panels.clear();
    let (_, free) = built(&hidden);
    let trap = |bottom: f64| {
        free.fits_panel(&Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom } }, &hidden.stock[1]).map(|_| ())
    };
    assert_eq!(trap(0.0), Err(Refusal::Clearance("socket".into())));
    assert_eq!(trap(0.4), Ok(()));
}

#[test]
fn exact_a_room_that_is_all_clearance_has_no_place_and_says_why() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    scene.clearances =
        vec![Clearance { name: "everything".into(), region: ClearanceRegion::Space { low: DVec3::splat(-1.0), high: DVec3::splat(9.0) } }];
    let (room, free) = built(&scene);
    for kind in &scene.stock {
        let found = search(&scene, &room, &free, kind, 0.1);
        assert!(found.candidates.is_empty(), "{}", kind.name);
        assert_eq!(found.refusals[0].0, Refusal::Clearance("everything".into()), "{}", kind.name);
        assert_eq!(found.refusals[0].0.to_string(), "`everything` must stay clear");
    }
    assert_eq!(even_spread(&scene, &room, &free, &[3, 3, 3, 3, 3, 3, 3, 3]), []);
    assert_eq!(first_points(&scene, &room, &free, &[3, 3, 3, 3, 3, 3, 3, 3], &mirrors(&scene, &room)), []);
}

#[test]
fn exact_corners_are_found_and_stacked() {
    let count = |scene: &Scene| {
        let (room, free) = built(scene);
        candidates(scene, &room, &free, &panel_type("trap", StockKind::Corner), 0.1)
            .iter()
            .map(|candidate| match candidate.panel.place {
                PanelPlace::Corner { corner, bottom } => (corner, (bottom * 100.0).round() as i32),
                _ => panic!("not in a corner"),
            })
            .collect::<Vec<_>>()
    };
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.stock = stock();
    assert_eq!(count(&scene), [(0, 0), (0, 120), (1, 0), (1, 120), (2, 0), (2, 120), (3, 0), (3, 120)]);
    // The inner corner of the L points into the room.
    let mut scene = l_shape();
    scene.stock = stock();
    assert_eq!(count(&scene).iter().map(|(corner, _)| *corner).collect::<Vec<_>>(), [0, 0, 1, 1, 2, 2, 4, 4, 5, 5]);
    // Under the knee wall of the attic 1.1 m are too low for 1.2 m.
    let mut scene = attic();
    scene.stock = stock();
    assert_eq!(count(&scene), [(1, 0), (1, 120), (2, 0), (2, 120)]);
    // Acute corners of the rhombus (63 degrees) count, obtuse ones (117 degrees) still do.
    let mut scene = rhombus();
    scene.stock = stock();
    assert_eq!(count(&scene).len(), 8);
    // On top of a chest in the corner.
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.stock = stock();
    scene.blocks = vec![block("chest", (0.0, 0.0, 0.0), (0.5, 0.5, 0.6), 0.0)];
    assert_eq!(count(&scene)[..2], [(0, 60), (0, 120)]);
}

#[test]
fn exact_places_to_measure_from() {
    let mut scene = shoebox(4.0, 3.0, 2.5);
    scene.stock = stock();
    let (_, free) = built(&scene);
    let (at, size) = place(&free, &hung("wall 1", 0.7, 0.4), &scene.stock[0]).expect("a wall");
    assert_eq!((at.surface.as_str(), at.left_m, at.bottom_m), ("wall 1", 0.7, 0.4));
    assert!((size - DVec2::new(0.6, 1.2)).length() < 1e-9);
    // Across a right angle legs are width / sqrt(2); the wall left of corner 2 is wall 2, 4 m long, the corner at its right end.
    let trap = Panel { kind: "trap".into(), place: PanelPlace::Corner { corner: 2, bottom: 1.2 } };
    let (at, _) = place(&free, &trap, &scene.stock[1]).expect("a corner");
    assert_eq!(at.surface, "wall 2");
    assert!((at.left_m - (4.0 - 0.6 / 2.0_f64.sqrt())).abs() < 1e-9 && (at.bottom_m - 1.2).abs() < 1e-9);
    let cloud = Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(1.0, 1.5), 2.2, false)) };
    let (at, size) = place(&free, &cloud, &scene.stock[2]).expect("a cloud");
    assert_eq!(at.surface, "ceiling 0");
    assert!((at.left_m - 2.4).abs() < 1e-9 && (at.bottom_m - 1.2).abs() < 1e-9 && (size - DVec2::new(1.2, 0.6)).length() < 1e-9);
    // Below a slope a cloud hangs level: its lower edge, plumb above, is 0.4 m from the knee wall, sqrt(1 + m^2) as much up the slope.
    let mut scene = attic();
    scene.stock = stock();
    let (_, free) = built(&scene);
    let cloud = Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(1.0, 2.0), 1.2, false)) };
    let (at, size) = place(&free, &cloud, &scene.stock[2]).expect("a cloud");
    let rise = 1.3 / 1.9_f64;
    assert_eq!(at.surface, "ceiling 1");
    assert!((at.left_m - 1.7).abs() < 1e-9 && (at.bottom_m - 0.4 * (1.0 + rise * rise).sqrt()).abs() < 1e-9, "{at:?}");
    assert!((size - DVec2::new(0.6, 1.2)).length() < 1e-9, "its own size: {size}");
}

#[test]
fn exact_centered_comes_within_half_a_step() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let (wall, _) = room.named("wall 1").next().expect("wall");
    let center = DVec2::new(2.3437, 1.2119);
    let found = centered(&scene, &free, &scene.stock[0], wall, center, true).expect("free");
    assert!((found.center - center).abs().max_element() <= 0.005 + 1e-9);
    let (left, bottom) = corner_of(&found.panel);
    assert!((left * 100.0 - (left * 100.0).round()).abs() < 1e-6 && (bottom * 100.0 - (bottom * 100.0).round()).abs() < 1e-6);
}

#[test]
fn keeps_snapped_places_and_fixed_order() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    scene.panels = vec![hung("wall 1", 1.237, 0.713)];
    let (room, free) = built(&scene);
    let found = candidates(&scene, &room, &free, &scene.stock[0], 0.1);
    assert_eq!(found, candidates(&scene, &room, &free, &scene.stock[0], 0.1));
    let wall = room.named("wall 1").next().expect("wall").0;
    let has = |left: f64, bottom: f64| {
        found.iter().any(|candidate| {
            candidate.surface == Some(wall) && {
                let (x, y) = corner_of(&candidate.panel);
                (x - left).abs() < 1e-9 && (y - bottom).abs() < 1e-9
            }
        })
    };
    assert!(has(0.02, 0.02), "flush with both edges");
    assert!(has(1.86, 0.713), "beside and level with what hangs");
    assert!(has(3.0, 0.6), "on the grid, at ear height");
    assert!(found.iter().any(|candidate| candidate.overhead) && found.iter().any(|candidate| !candidate.overhead));
}

fn clearance_strategy() -> impl Strategy<Value = Clearance> {
    let on_surface =
        (0_usize..4, 0.2_f64..2.5, 0.0_f64..0.8, 0.1_f64..0.8, 0.05_f64..0.3).prop_map(|(wall, left, bottom, width, height)| {
            ClearanceRegion::Surface { surface: format!("wall {wall}"), place: rectangle((left, bottom, width, height)) }
        });
    let in_space = (0.0_f64..3.5, 0.0_f64..4.5, 0.0_f64..2.0, 0.1_f64..1.0, 0.1_f64..1.0, 0.1_f64..1.0)
        .prop_map(|(x, y, z, a, b, c)| ClearanceRegion::Space { low: DVec3::new(x, y, z), high: DVec3::new(x + a, y + b, z + c) });
    prop_oneof![on_surface, in_space].prop_map(|region| Clearance { name: "kept".to_owned(), region })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn keeps_candidates_where_nothing_is_in_the_way(
        which in 0_usize..4,
        clearances in prop::collection::vec(clearance_strategy(), 0..5),
        door in (1_usize..3, 0.1_f64..2.0),
        window in (1_usize..3, 2.9_f64..3.1, 0.5_f64..1.0),
        chest in (0.5_f64..2.5, 0.6_f64..1.4, 0.2_f64..0.8, 0.3_f64..1.0, 0.0_f64..3.0),
        panel in (0.1_f64..3.0, 0.1_f64..1.1),
    ) {
        let (hull, door_wall) = match which {
            0 => (shoebox(4.4, 5.2, 2.4), door.0),
            1 => (attic(), 1),
            2 => (l_shape(), 0),
            _ => (rhombus(), door.0),
        };
        let mut scene = listening(hull);
        scene.seats[0].ear = DVec3::new(2.4, 0.9, 1.2);
        scene.sources[0].position = DVec3::new(1.6, 1.6, 1.2);
        scene.sources[1].position = DVec3::new(3.2, 1.6, 1.2);
        scene.clearances = clearances;
        scene.openings = vec![opening("door", OpeningKind::Door, &format!("wall {door_wall}"), (door.1, 0.0, 0.8, 2.0))];
        if which < 2 {
            scene.openings.push(opening("window", OpeningKind::Window, "wall 1", (window.1, 0.9, 0.6, window.2)));
        }
        let (x, y, size, height, rotation) = chest;
        scene.blocks = vec![block("chest", (x, y, 0.0), (size, size, height), rotation)];
        let (room, free) = built(&scene);
        let flat = scene.stock[0].clone();
        let old = hung("wall 0", panel.0, panel.1);
        if free.fits_panel(&old, &flat).is_ok() {
            scene.panels = vec![old];
        }
        let (_, free) = built(&scene);
        // Judged in the room with everything as a body.
        let solid = room::build(&scene, Bodies::All);
        for kind in &scene.stock {
            for candidate in candidates(&scene, &room, &free, kind, 0.37) {
                is_legal(&scene, &solid, &candidate);
            }
        }
    }

    #[test]
    fn keeps_tidy_rows_legal_and_near(
        lefts in prop::collection::vec(0.0_f64..1.0, 4),
        bottoms in prop::collection::vec(0.6_f64..0.74, 4),
        fixed in any::<bool>(),
    ) {
        let mut scene = listening(shoebox(4.4, 5.2, 2.4));
        if fixed {
            scene.panels = vec![hung("wall 1", 0.1234, 0.6543)];
        }
        // Four panels in turn along the wall, each somewhere in its own 1 m, no closer than the least gap.
        let panels: Vec<Panel> = (0..4).map(|i| hung("wall 1", 0.85 + 1.02 * i as f64 + lefts[i] * 0.38, bottoms[i])).collect();
        let (room, free) = built(&scene);
        are_legal(&scene, &panels);
        let tidied = tidy(&scene, &room, &free, panels.clone());
        are_legal(&scene, &tidied);
        prop_assert_eq!(tidied.len(), panels.len());
        for (before, after) in panels.iter().zip(&tidied) {
            let (from, to) = (corner_of(before), corner_of(after));
            prop_assert!((from.0 - to.0).abs() <= 0.16 + 1e-9 && (from.1 - to.1).abs() <= 0.16 + 1e-9);
        }
        let (_, level) = corner_of(&tidied[0]);
        prop_assert!(tidied.iter().all(|panel| (corner_of(panel).1 - level).abs() < 1e-9));
        if fixed && (level - 0.6543).abs() > 1e-9 {
            prop_assert!(bottoms.iter().any(|bottom| (bottom - 0.6543).abs() > 0.15), "level with what hangs already");
        }
        for (index, panel) in moves(&scene, &room, &free, &panels, 0.15) {
            let mut moved = panels.clone();
            moved[index] = panel;
            are_legal(&scene, &moved);
        }
    }
}

#[test]
fn exact_nothing_hangs_between_a_detector_and_the_room() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    let cloud = |x: f64| Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(x, 2.0), 2.1, true)) };
    // On the ceiling chart x runs from the east: 2.0 to 2.4 m from the east wall.
    let region = ClearanceRegion::Surface { surface: "ceiling 0".into(), place: rectangle((2.0, 1.8, 0.4, 0.4)) };
    scene.clearances = vec![Clearance { name: "detector".into(), region }];
    let (_, free) = built(&scene);
    assert_eq!(free.fits_panel(&cloud(2.2), &scene.stock[2]).map(|_| ()), Err(Refusal::Clearance("detector".into())));
    // Room is kept round it, as what holds a cloud asks for it: 0.3 m; none is asked for round what is called nothing in particular.
    assert_eq!(free.fits_panel(&cloud(1.41), &scene.stock[2]).map(|_| ()), Err(Refusal::Clearance("detector".into())));
    assert_eq!(free.fits_panel(&cloud(1.39), &scene.stock[2]).map(|_| ()), Ok(()));
    scene.clearances[0].name = "thing".into();
    assert_eq!(built(&scene).1.fits_panel(&cloud(1.69), &scene.stock[2]).map(|_| ()), Ok(()));
    // Things on the floor below do not mind.
    let rug = Panel {
        kind: "rug".into(),
        place: PanelPlace::Surface { surface: "floor".into(), left: 2.0, bottom: 1.5, lying: false, gap: 0.0 },
    };
    assert_eq!(free.fits_panel(&rug, &scene.stock[5]).map(|_| ()), Ok(()));
}

#[test]
fn exact_nothing_is_squeezed_in_below_a_slope() {
    let mut scene = listening(attic());
    // A chest of 1.2 m in the middle of the slope, where that is 1.1 + 0.95 * 1.3 / 1.9 = 1.75 m high.
    scene.blocks = vec![block("chest", (0.6, 2.2, 0.0), (0.7, 0.7, 1.2), 0.0)];
    let (room, free) = built(&scene);
    let (slope, surface) = room.named("ceiling 1").next().expect("slope");
    let over = surface.chart.position(DVec3::new(0.95, 2.55, 1.75));
    let at = |bottom: f64| free.fits_panel(&hung("ceiling 1", over.x - 0.3, bottom), &scene.stock[0]).map(|_| ());
    // Along the slope the panel begins at 0.02 m: 1.03 m above the floor at its lowest, lower than the chest, which it does not touch.
    assert_eq!(at(0.02), Err(Refusal::Block("chest".into())));
    assert_eq!(free.fits(slope, rectangle((over.x - 0.3, 0.5, 0.6, 1.2)), 0.1), Ok(()));
    // A panel above the knee wall is refused one below it that reaches as high and as far out.
    let mut knee = scene.clone();
    knee.blocks.clear();
    knee.panels = vec![Panel {
        kind: "flat".into(),
        place: PanelPlace::Surface { surface: "wall 3".into(), left: 2.0, bottom: 0.48, lying: true, gap: 0.05 },
    }];
    let (_, free) = built(&knee);
    let reach = |bottom: f64| {
        free.fits_panel(&hung("ceiling 1", surface.chart.position(DVec3::new(0.0, 2.7, 1.1)).x - 0.3, bottom), &knee.stock[0]).map(|_| ())
    };
    assert_eq!(reach(0.02), Err(Refusal::Panel("flat".into())));
    assert_eq!(reach(0.2), Ok(()));
}

#[test]
fn exact_heads_and_floors() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    scene.seats[0].ear = DVec3::new(2.2, 0.2, 1.2);
    let (_, free) = built(&scene);
    // Wall 0 is seen from inside with its left end in the east: 2.2 m from both ends. The head reaches to 0.05 m from it.
    assert_eq!(free.fits_panel(&hung("wall 0", 1.9, 0.6), &scene.stock[0]).map(|_| ()), Err(Refusal::Seat("seat".into())));
    let mut thin = scene.stock[0].clone();
    thin.thickness = 0.0;
    assert_eq!(free.fits_panel(&hung("wall 0", 1.9, 0.6), &thin).map(|_| ()), Ok(()));
    let bookcase = |bottom: f64| {
        let place = PanelPlace::Surface { surface: "wall 2".into(), left: 1.0, bottom, lying: false, gap: 0.0 };
        free.fits_panel(&Panel { kind: "bookcase".into(), place }, &scene.stock[6]).map(|_| ())
    };
    assert_eq!(bookcase(0.0), Ok(()));
    assert_eq!(bookcase(0.3), Err(Refusal::Edge("wall 2".into())));
}
