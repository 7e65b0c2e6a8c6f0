//! Where panels may hang, tidy rows, and the two rules of thumb.

use glam::{DVec2, DVec3};
use proptest::prelude::*;
use roomwright::geometry::{Chart, Polygon, Solid};
use roomwright::layout::candidates::{centered, search};
use roomwright::layout::rows::{moves, tidy, tidy_within};
use roomwright::layout::{Candidate, Free, Refusal, candidates, place};
use roomwright::plan::thumb::{MirrorPoint, even_spread, first_points};
use roomwright::room::{self, Bodies, Role, Room};
use roomwright::scene::{
    Clearance, ClearanceRegion, Cloud, Opening, OpeningKind, Panel, PanelPlace, PanelType, Rectangle, Scene, Seat, Source, SourceKind,
    StockKind, read, with_panels,
};
use roomwright::{directivity::Directivity, units::LengthUnit};

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
fn exact_separation_of_solids() {
    let cube = Solid::upright(DVec3::ZERO, DVec3::ONE);
    let beside = |gap: f64| Solid::upright(DVec3::new(1.0 + gap, 0.0, 0.0), DVec3::new(2.0 + gap, 1.0, 1.0));
    assert!(cube.apart(&beside(0.0), 0.0) && !cube.apart(&beside(0.0), 0.001));
    assert!(cube.apart(&beside(0.02), 0.02) && !cube.apart(&beside(0.0199), 0.02));
    assert!(!cube.apart(&beside(-0.002), -0.001) && cube.apart(&beside(-0.002), -0.003));
    // A cube turned by 45 degrees whose edge points at the face: half its diagonal is sqrt(2)/2.
    let turned = |x: f64| Solid::turned(DVec2::new(x, 0.5), 0.0, DVec3::ONE, std::f64::consts::FRAC_PI_4);
    let touching = 1.0 + 0.5_f64.sqrt();
    assert!(turned(touching + 1e-6).apart(&cube, 0.0) && !turned(touching - 1e-3).apart(&cube, 0.0));
    // Two cubes that stand on an edge, edge crossing edge: only the cross product of the edges parts them, over half a diagonal each.
    // All in a frame askew to the axes, where bounds say nothing.
    let third = DVec3::new(1.0, 2.0, 3.0).try_normalize().expect("length");
    let (first, second) = third.any_orthonormal_pair();
    let half = 0.5_f64.sqrt();
    let on_edge = |height: f64, edge: DVec3| {
        let up = (third.cross(edge) + third) * half;
        let normal = edge.cross(up);
        let chart = Chart::new(third * height - normal * 0.5, edge, up);
        Solid::before(&chart, DVec2::splat(-0.5), DVec2::splat(0.5), 1.0)
    };
    let lower = on_edge(0.0, first);
    assert!(on_edge(2.0 * half + 0.0201, second).apart(&lower, 0.02) && !on_edge(2.0 * half + 0.0199, second).apart(&lower, 0.02));
    assert!(on_edge(2.0 * half, second).apart(&lower, 0.0) && !on_edge(2.0 * half - 0.001, second).apart(&lower, 0.0));
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
fn exact_equal_gaps_and_round_measures() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let panels = vec![hung("wall 1", 0.5031, 0.604), hung("wall 1", 1.46, 0.698), hung("wall 1", 2.337, 0.62), hung("wall 1", 3.3, 0.62)];
    let tidied = tidy(&scene, &room, &free, panels);
    let lefts: Vec<f64> = tidied.iter().map(|panel| corner_of(panel).0).collect();
    let gaps: Vec<f64> = lefts.windows(2).map(|pair| pair[1] - pair[0] - 0.6).collect();
    assert!(gaps.iter().all(|gap| (gap - gaps[0]).abs() < 1e-9), "{gaps:?}");
    for value in tidied.iter().flat_map(|panel| [corner_of(panel).0, corner_of(panel).1]) {
        assert!((value * 100.0 - (value * 100.0).round()).abs() < 1e-6, "{value}");
    }
    assert!(tidied.iter().all(|panel| (corner_of(panel).1 - 0.62).abs() < 1e-9), "the level that moves the row least");
    // In a scene measured in inches: half inches.
    let mut inches = scene.clone();
    inches.unit = LengthUnit::Inch;
    for panel in tidy_within(&inches, &room, &free, vec![hung("wall 1", 0.5031, 0.604), hung("wall 2", 1.46, 0.698)], 0.15) {
        let (left, bottom) = corner_of(&panel);
        assert!((left / 0.0127 - (left / 0.0127).round()).abs() < 1e-6 && (bottom / 0.0127 - (bottom / 0.0127).round()).abs() < 1e-6);
    }
    // Nothing to tidy within: stays.
    let apart = vec![hung("wall 1", 0.5, 0.3), hung("wall 1", 2.4, 1.0)];
    assert_eq!(tidy(&scene, &room, &free, apart.clone()), apart);
}

#[test]
fn exact_places_in_an_inch_room_are_half_inches() {
    let foot = 0.3048;
    let mut scene = shoebox(15.0 * foot, 12.0 * foot, 8.0 * foot);
    scene.unit = LengthUnit::Foot;
    scene.stock = stock();
    scene.stock[0].size = DVec2::new(2.0 * foot, 4.0 * foot);
    let (room, free) = built(&scene);
    let found = candidates(&scene, &room, &free, &scene.stock[0], 0.1);
    assert!(found.len() > 1000);
    for candidate in found {
        let (left, bottom) = corner_of(&candidate.panel);
        assert!((left / 0.0127 - (left / 0.0127).round()).abs() < 1e-6 && (bottom / 0.0127 - (bottom / 0.0127).round()).abs() < 1e-6);
    }
}

#[test]
fn exact_moves_offer_level_column_and_middle() {
    let scene = listening(shoebox(4.4, 5.2, 2.4));
    let (room, free) = built(&scene);
    let panels = vec![hung("wall 1", 0.5, 0.6), hung("wall 1", 1.5, 0.66), hung("wall 1", 2.3, 0.6)];
    let offered = moves(&scene, &room, &free, &panels, 0.15);
    let has = |index: usize, left: f64, bottom: f64| {
        offered
            .iter()
            .any(|(i, panel)| *i == index && (corner_of(panel).0 - left).abs() < 1e-9 && (corner_of(panel).1 - bottom).abs() < 1e-9)
    };
    assert!(has(1, 1.5, 0.6), "level with its neighbors");
    assert!(has(1, 1.4, 0.66), "midway between its neighbors");
    assert!(offered.iter().all(|(index, panel)| *panel != panels[*index]));
}

/// Mirror points of a room by the law of reflection alone.
fn mirrors(scene: &Scene, room: &Room) -> Vec<MirrorPoint> {
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

/// Text and room of every file in `scenes/`.
fn shipped() -> Vec<(String, Scene)> {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("scenes");
    let mut files: Vec<_> = std::fs::read_dir(folder).expect("scenes").map(|entry| entry.expect("a file").path()).collect();
    files.sort();
    let texts = files.into_iter().map(|path| std::fs::read_to_string(path).expect("text"));
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
    for (text, scene) in shipped() {
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
    for (text, scene) in shipped() {
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

#[test]
fn exact_nothing_hangs_between_a_detector_and_the_room() {
    let mut scene = listening(shoebox(4.4, 5.2, 2.4));
    let cloud = |x: f64| Panel { kind: "cloud".into(), place: PanelPlace::Cloud(Cloud::level(DVec2::new(x, 2.0), 2.1, true)) };
    // On the ceiling chart x runs from the east: 2.0 to 2.4 m from the east wall.
    let region = ClearanceRegion::Surface { surface: "ceiling 0".into(), place: rectangle((2.0, 1.8, 0.4, 0.4)) };
    scene.clearances = vec![Clearance { name: "detector".into(), region }];
    let (_, free) = built(&scene);
    assert_eq!(free.fits_panel(&cloud(2.2), &scene.stock[2]).map(|_| ()), Err(Refusal::Clearance("detector".into())));
    assert_eq!(free.fits_panel(&cloud(1.69), &scene.stock[2]).map(|_| ()), Ok(()));
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
