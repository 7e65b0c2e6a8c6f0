//! Where what is held goes, seen from above, from the side and from outside.

use roomwright::findings::Place;

use super::*;
use crate::stage::StageArea;
use crate::stage::camera::Rig;
use crate::stage::samples;
use crate::view::CameraView;

const FREE: Held = Held { is_free: true, is_upright: false };
const UPRIGHT: Held = Held { is_free: false, is_upright: true };

fn sight(room: &Room, camera: CameraView) -> Sight {
    let mut rig = Rig::default();
    rig.fit(room, 1.5);
    rig.fit_flat(room, camera, 1.5);
    Sight { pose: rig.pose(room, camera), area: StageArea { low: Vec2::ZERO, high: Vec2::new(900.0, 600.0) } }
}

fn wall(room: &Room, name: &str) -> usize {
    room.surfaces.iter().position(|surface| surface.name == name).expect("there")
}

fn on(room: &Room, name: &str, left: f64, up: f64) -> DVec3 {
    room.surfaces[wall(room, name)].chart.point(DVec2::new(left, up))
}

/// What a drag from one point of the room to another means.
fn dragged(desk: &Desk<'_>, thing: Thing, from: DVec3, to: DVec3, held: Held) -> Option<Meant> {
    let [from_screen, to_screen] = [from, to].map(|point| desk.sight.screen(point).expect("before the eye"));
    Grip::take(desk, thing, from_screen, from, held).expect("it can be taken").meant(desk, to_screen, held)
}

fn flat(meant: Option<Meant>) -> (String, DVec2) {
    match meant.map(|meant| meant.command) {
        Some(Command::MovePanel { place: PanelPlace::Surface { surface, left, bottom, .. }, .. }) => (surface, DVec2::new(left, bottom)),
        other => panic!("{other:?}"),
    }
}

fn near(one: DVec3, other: DVec3) -> bool {
    one.distance(other) < 1e-9
}

#[test]
fn exact_slide_on_a_wall() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Elevation(wall(&room, "east")));
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    let drag = |to: DVec2| {
        let [from, to] = [DVec2::new(1.6, 0.7), to].map(|at| on(&room, "east", at.x, at.y));
        flat(dragged(&desk, Thing::Panel(0), from, to, FREE))
    };
    // It lies at (1.5, 0.6): 0.1 m left of and below the hand.
    let (surface, low) = drag(DVec2::new(2.0, 0.95));
    assert!(surface == "east" && low.distance(DVec2::new(1.9, 0.85)) < 1e-9, "{surface} {low}");
    // Onto the steps of the tape.
    assert!(drag(DVec2::new(2.0038, 0.95)).1.distance(DVec2::new(1.9, 0.85)) < 1e-9);
    // Beyond the end of the wall it is wanted there, and refused by the rules of the scene.
    let (surface, low) = drag(DVec2::new(5.4, 0.7));
    assert!(surface == "east" && (low.x - 5.3).abs() < 1e-9, "{surface} {low}");
}

#[test]
fn keeps_a_panel_under_the_hand_on_whatever_surface_that_is() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Orbit);
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    let faces = |name: &str| sight.pose.is_before(on(&room, name, 1.0, 1.0), room.surfaces[wall(&room, name)].chart.normal);
    let seen: Vec<&str> = ["east", "south", "knee wall", "north"].into_iter().filter(|name| faces(name)).collect();
    assert!(seen.len() >= 2 && seen.contains(&"north"), "{seen:?}");
    let own = if faces("east") { "east" } else { "north" };
    let mut scene_there = scene.clone();
    scene_there.panels[0].place = PanelPlace::Surface { surface: own.to_owned(), left: 1.5, bottom: 0.6, gap: 0.05, lying: false };
    let desk = Desk { scene: &scene_there, ..desk };
    for target in seen {
        let (surface, low) = flat(dragged(&desk, Thing::Panel(0), on(&room, own, 1.8, 0.9), on(&room, target, 2.5, 0.8), FREE));
        assert_eq!(surface, target);
        // 0.3 m from its left and lower edge, where it was taken; half a step of the tape.
        assert!((low - DVec2::new(2.2, 0.5)).abs().max_element() < 0.0051, "{target}: {low}");
    }
}

#[test]
fn exact_middle_of_a_hot_spot_unless_told_otherwise() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Elevation(wall(&room, "east")));
    let spot = HotSpot {
        center: Place { surface: "east".to_owned(), left_m: 2.6, bottom_m: 1.2 },
        point_m: on(&room, "east", 2.6, 1.2).to_array(),
        extent_m: [0.4, 0.4],
        area_m2: 0.16,
        source: "left".to_owned(),
        receiver: "seat".to_owned(),
        delay_ms: 3.0,
        level_db: -8.0,
        share: 0.2,
    };
    let spots = [spot];
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &spots };
    let drag = |held: Held| dragged(&desk, Thing::Panel(0), on(&room, "east", 1.6, 0.7), on(&room, "east", 2.42, 0.73), held);
    let meant = drag(Held::default()).expect("meant");
    assert_eq!(meant.guides.len(), 2);
    assert_eq!(meant.guides[0].words, "middle of the hot spot");
    assert!(flat(Some(meant)).1.distance(DVec2::new(2.3, 0.6)) < 1e-9);
    let meant = drag(FREE).expect("meant");
    assert!(meant.guides.is_empty() && flat(Some(meant)).1.distance(DVec2::new(2.32, 0.63)) < 1e-9);
}

/// Seen from above, and from the side, and from outside: the hand moves what is in the room level, and with Ctrl upright.
#[test]
fn exact_moves_in_the_room() {
    let (scene, room) = samples::furnished();
    let desk_with = |sight: &'static Sight| Desk { scene: &scene, room: &room, sight, spots: &[] };
    let leaked = |camera: CameraView| -> &'static Sight { Box::leak(Box::new(sight(&room, camera))) };
    let (plan, side, orbit) = (leaked(CameraView::Plan), leaked(CameraView::Elevation(wall(&room, "north"))), leaked(CameraView::Orbit));
    let by = DVec3::new(0.3, -0.2, 0.0);
    let at = |thing: Thing| match spot(&scene, thing) {
        Some(Spot::At(at)) => at,
        other => panic!("{other:?}"),
    };
    let to = |thing: Thing, meant: Option<Meant>| {
        let (wanted, same) = super::super::thing::as_wanted(&scene, &meant.expect("meant").command).expect("it moves");
        assert_eq!(same, thing);
        match spot(&wanted, thing) {
            Some(Spot::At(at)) => at,
            other => panic!("{other:?}"),
        }
    };
    for thing in [Thing::Source(0), Thing::Receiver(0), Thing::Receiver(1), Thing::Panel(2), Thing::Clearance(0), Thing::Block(1)] {
        let start = at(thing);
        for sight in [plan, orbit] {
            let moved = to(thing, dragged(&desk_with(sight), thing, start, start + by, Held::default()));
            assert!((moved - start - by).abs().max_element() < 0.0051 && moved.z == start.z, "{thing:?}: {start} -> {moved}");
        }
        // Looking at the north wall there is no depth: from left to right only.
        let moved = to(thing, dragged(&desk_with(side), thing, start, start + by, Held::default()));
        assert!((moved - start - DVec3::X * 0.3).abs().max_element() < 0.0051 && moved.y == start.y, "{thing:?}: {moved}");
        if thing != Thing::Block(1) {
            for sight in [side, orbit] {
                let moved = to(thing, dragged(&desk_with(sight), thing, start, start + DVec3::Z * 0.15, UPRIGHT));
                assert!((moved - start - DVec3::Z * 0.15).abs().max_element() < 0.0051, "{thing:?}: {start} -> {moved}");
                assert_eq!(moved.truncate(), start.truncate());
            }
        }
    }
    assert!(Grip::take(&desk_with(plan), Thing::Source(0), Vec2::new(450.0, 300.0), at(Thing::Source(0)), UPRIGHT).is_none());
}

#[test]
fn keeps_the_place_when_the_height_is_changed_on_the_way() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Orbit);
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    let (start, thing) = (scene.sources[0].position, Thing::Source(0));
    let screen = |point: DVec3| sight.screen(point).expect("before the eye");
    let grip = Grip::take(&desk, thing, screen(start), start, Held::default()).expect("taken");
    let there = start + DVec3::new(0.2, -0.3, 0.0);
    let moved = grip.meant(&desk, screen(there), Held::default()).expect("meant");
    let (scene, _) = super::super::thing::as_wanted(&scene, &moved.command).expect("moved");
    let level = scene.sources[0].position;
    let desk = Desk { scene: &scene, ..desk };
    let grip = grip.held(&desk, screen(there), UPRIGHT);
    let Some(Command::MoveSource { position, .. }) = grip.meant(&desk, screen(there), UPRIGHT).map(|meant| meant.command) else { panic!() };
    assert!(near(position, level), "nothing jumps: {level} -> {position}");
    let raised = grip.meant(&desk, screen(there + DVec3::Z * 0.2), UPRIGHT).map(|meant| meant.command);
    let Some(Command::MoveSource { position, .. }) = raised else { panic!() };
    assert!((position - level - DVec3::Z * 0.2).abs().max_element() < 0.0051, "{position}");
}

#[test]
fn keeps_doors_on_the_floor_and_openings_on_their_wall() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Elevation(wall(&room, "south")));
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    let meant = dragged(&desk, Thing::Opening(1), on(&room, "south", 0.5, 1.0), on(&room, "south", 1.5, 1.6), Held::default());
    let Some(Command::MoveOpening { name, low }) = meant.map(|meant| meant.command) else { panic!() };
    assert!(name == "door" && low.distance(DVec2::new(1.3, 0.0)) < 1e-9, "{low}");
}

#[test]
fn keeps_a_corner_panel_in_corners() {
    let (scene, room) = samples::furnished();
    let sight = sight(&room, CameraView::Elevation(wall(&room, "north")));
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    // Corner 2 is the northeast one, the right end of the north wall.
    let drag = |to: DVec3| match dragged(&desk, Thing::Panel(1), on(&room, "north", 4.2, 0.8), to, Held::default()) {
        Some(Meant { command: Command::MovePanel { place: PanelPlace::Corner { corner, bottom }, .. }, .. }) => (corner, bottom),
        other => panic!("{other:?}"),
    };
    let (corner, bottom) = drag(on(&room, "north", 4.0, 1.0));
    assert!(corner == 2 && (bottom - 0.5).abs() < 1e-9, "{corner} {bottom}");
    assert_eq!(drag(on(&room, "north", 0.4, 0.8)), (3, 0.3));
}

#[test]
fn exact_places_of_panels_from_the_stock() {
    let (scene, room) = samples::attic();
    let sight = sight(&room, CameraView::Orbit);
    let desk = Desk { scene: &scene, room: &room, sight: &sight, spots: &[] };
    let hung = |kind: usize, point: DVec3| {
        let at = sight.screen(point).expect("before the eye");
        let meant = Grip::fresh(&desk, &scene.stock[kind], at)?.meant(&desk, at, FREE)?;
        let Command::AddPanel(panel) = meant.command else { panic!("{:?}", meant.command) };
        assert_eq!(panel.kind, scene.stock[kind].name);
        Some(panel.place)
    };
    let Some(PanelPlace::Surface { surface, left, bottom, lying: false, gap }) = hung(0, on(&room, "north", 2.0, 1.2)) else { panic!() };
    assert!(surface == "north" && gap == scene.stock[0].gap);
    assert!((left - 1.7).abs() < 0.0051 && (bottom - 0.6).abs() < 0.0051, "its middle under the hand: {left} {bottom}");
    assert_eq!(hung(0, DVec3::new(2.0, 2.0, 0.0)), None, "not on the floor");
    let Some(PanelPlace::Corner { corner: 2, bottom }) = hung(1, on(&room, "north", 4.0, 1.2)) else { panic!() };
    assert!((bottom - 0.6).abs() < 0.0051, "{bottom}");
    // Below the level ceiling of 2.4 m, 0.15 m of air, 50 mm thick.
    let Some(PanelPlace::Cloud(roomwright::scene::Cloud { center, underside, .. })) = hung(2, DVec3::new(2.9, 3.0, 2.2)) else { panic!() };
    assert!((underside - 2.2).abs() < 1e-9 && center.distance(DVec2::new(2.9, 3.0)) < 0.008, "{center} {underside}");
}

#[test]
fn exact_nudges() {
    let (scene, room) = samples::furnished();
    let plan = sight(&room, CameraView::Plan);
    let nudge = |thing: Thing, x: f64, y: f64, rise: f64| nudged(&scene, &plan, thing, DVec2::new(x, y), rise);
    let Some(Command::MovePanel { place: PanelPlace::Surface { left, bottom, .. }, .. }) = nudge(Thing::Panel(0), -0.01, 0.1, 0.0) else {
        panic!()
    };
    assert!((left - 1.49).abs() < 1e-9 && (bottom - 0.7).abs() < 1e-9);
    let start = scene.sources[0].position;
    let Some(Command::MoveSource { position, .. }) = nudge(Thing::Source(0), 0.0, 0.01, 0.1) else { panic!() };
    assert!(near(position, start + DVec3::new(0.0, 0.01, 0.1)), "{position}");
    // From the other side of the room right is left.
    let south = sight(&room, CameraView::Elevation(wall(&room, "south")));
    let Some(Command::MoveSource { position, .. }) = nudged(&scene, &south, Thing::Source(0), DVec2::new(0.01, 0.1), 0.0) else { panic!() };
    assert!(near(position, start + DVec3::new(-0.01, 0.0, 0.1)), "{position}");
    assert_eq!(nudge(Thing::Opening(1), 0.0, 0.01, 0.0), None, "a door stays on the floor");
}
