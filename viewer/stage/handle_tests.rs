//! Handles: where they stand in each view, and what pulling at them means.

use roomwright::room::Room;

use super::*;
use crate::stage::StageArea;
use crate::stage::camera::Rig;
use crate::stage::drag::{Grip, Held};
use crate::stage::samples;
use crate::view::CameraView;

const CHOSEN: Option<Thing> = Some(Thing::Panel(2));
const EAST: Side = Side { axis: 0, sign: 1.0 };
const NORTH: Side = Side { axis: 1, sign: 1.0 };

fn sight(room: &Room, camera: CameraView) -> Sight {
    let mut rig = Rig::default();
    rig.fit(room, 1.5);
    rig.fit_flat(room, camera, 1.5);
    Sight { pose: rig.pose(room, camera), area: StageArea { low: Vec2::ZERO, high: Vec2::new(900.0, 600.0) } }
}

fn facing(room: &Room, wall: &str) -> Sight {
    let index = room.surfaces.iter().position(|surface| surface.name == wall).expect("there");
    sight(room, CameraView::Elevation(index))
}

fn cloud_of(scene: &Scene) -> Cloud {
    let PanelPlace::Cloud(cloud) = scene.panels[2].place else { panic!() };
    cloud
}

fn with(scene: &Scene, change: impl FnOnce(&mut Cloud)) -> Scene {
    let mut scene = scene.clone();
    let PanelPlace::Cloud(cloud) = &mut scene.panels[2].place else { panic!() };
    change(cloud);
    scene
}

/// The cloud that pulling a handle by so much in the room means, and the words of the lines that show it.
fn pulled(scene: &Scene, room: &Room, sight: &Sight, handle: Handle, by: DVec3) -> (Cloud, Vec<String>) {
    let desk = Desk { scene, room, sight, spots: &[] };
    let place = handles(scene, CHOSEN, sight).into_iter().find(|(other, _)| *other == handle).expect("it is there").1;
    let [from, to] = [place, place + by].map(|point| sight.screen(point).expect("before the eye"));
    assert_eq!(under(scene, CHOSEN, sight, from), Some(handle));
    let meant =
        Grip::pull(&desk, CHOSEN, handle, from).expect("it can be taken").meant(&desk, to, Held::default()).expect("it means something");
    let Command::MovePanel { panel: 2, place: PanelPlace::Cloud(cloud) } = meant.command else { panic!("{:?}", meant.command) };
    (cloud, meant.guides.into_iter().map(|guide| guide.words).collect())
}

#[test]
fn exact_handles_of_each_view() {
    let (scene, room) = samples::furnished();
    let count = |scene: &Scene, sight: &Sight| {
        let all = handles(scene, CHOSEN, sight);
        let of = |is: fn(&Handle) -> bool| all.iter().filter(|(handle, _)| is(handle)).count();
        [of(|one| matches!(one, Handle::Height)), of(|one| matches!(one, Handle::Tilt(_))), of(|one| matches!(one, Handle::Size(_)))]
    };
    assert_eq!(count(&scene, &sight(&room, CameraView::Orbit)), [1, 4, 4]);
    // No height shows from above; from the side one of its ways is seen end on.
    assert_eq!(count(&scene, &sight(&room, CameraView::Plan)), [0, 0, 4]);
    assert_eq!(count(&scene, &facing(&room, "north")), [1, 2, 2]);
    // While it leans one way, its edges of the other way do not tilt it.
    assert_eq!(count(&with(&scene, |cloud| cloud.tilt.y = 5.0), &sight(&room, CameraView::Orbit)), [1, 2, 4]);
    for other in [None, Some(Thing::Panel(0)), Some(Thing::Panel(1)), Some(Thing::Source(0))] {
        assert!(handles(&scene, other, &sight(&room, CameraView::Orbit)).is_empty(), "{other:?}");
    }
}

#[test]
fn exact_height_by_its_arrow() {
    let (scene, room) = samples::furnished();
    for sight in [facing(&room, "north"), sight(&room, CameraView::Orbit)] {
        let (cloud, words) = pulled(&scene, &room, &sight, Handle::Height, DVec3::Z * -0.12);
        assert!((cloud.underside - 1.98).abs() < 1e-9, "{}", cloud.underside);
        assert_eq!(Cloud { underside: 2.1, ..cloud }, cloud_of(&scene), "nothing else");
        assert_eq!(words, ["1.98 m over the floor"]);
    }
}

#[test]
fn exact_tilt_by_an_edge() {
    let (scene, room) = samples::furnished();
    let half = 0.5 * cloud_of(&scene).size(&scene.stock[2]);
    for (side, view) in [(EAST, facing(&room, "north")), (NORTH, facing(&room, "east")), (EAST, sight(&room, CameraView::Orbit))] {
        for degrees in [12.0_f64, -7.0] {
            // 0.3 degrees beside it: to whole degrees.
            let rise = half[side.axis] * (degrees + 0.3).to_radians().sin();
            let (cloud, words) = pulled(&scene, &room, &view, Handle::Tilt(side), DVec3::Z * rise);
            let mut tilt = DVec2::ZERO;
            tilt[side.axis] = degrees;
            assert_eq!(cloud, Cloud { tilt, ..cloud_of(&scene) });
            assert!(words.len() == 2 && words.iter().all(|words| words.starts_with("edge ")), "{words:?}");
            // The other edge of this way means the opposite.
            let other = Side { sign: -side.sign, ..side };
            assert_eq!(pulled(&scene, &room, &view, Handle::Tilt(other), DVec3::Z * -rise).0.tilt, tilt);
        }
        // No steeper than it may be, and back to level from any tilt.
        let mut steepest = DVec2::ZERO;
        steepest[side.axis] = TILT_MOST;
        assert_eq!(pulled(&scene, &room, &view, Handle::Tilt(side), DVec3::Z * half[side.axis]).0.tilt, steepest);
        let tilted = with(&scene, |cloud| cloud.tilt[side.axis] = 20.0);
        let down = -half[side.axis] * 20.0_f64.to_radians().sin();
        assert_eq!(pulled(&tilted, &room, &view, Handle::Tilt(side), DVec3::Z * down).0.tilt, DVec2::ZERO);
    }
}

#[test]
fn exact_whole_panels_by_a_side() {
    let (scene, room) = samples::furnished();
    let (start, kind) = (cloud_of(&scene), &scene.stock[2]);
    let one = start.panel_size(kind);
    for (side, way) in [(EAST, DVec2::X), (NORTH, DVec2::Y), (Side { axis: 0, sign: -1.0 }, DVec2::NEG_X)] {
        for sight in [sight(&room, CameraView::Plan), sight(&room, CameraView::Orbit)] {
            let by = |panels: f64| (way * one[side.axis] * panels).extend(0.0);
            // More than half a panel is one; the opposite side stays.
            let (cloud, words) = pulled(&scene, &room, &sight, Handle::Size(side), by(0.6));
            let mut panels = [1, 1];
            panels[side.axis] = 2;
            assert_eq!((cloud.panels, cloud.underside), (panels, start.underside));
            assert!(cloud.center.distance(start.center + way * 0.5 * one[side.axis]) < 1e-9, "{}", cloud.center);
            assert!(words[0].ends_with("2 panels"), "{words:?}");
            assert_eq!(pulled(&scene, &room, &sight, Handle::Size(side), by(0.4)).0, start);
            // There is always one.
            assert_eq!(pulled(&scene, &room, &sight, Handle::Size(side), by(-0.8)).0, start);
        }
    }
}

#[test]
fn exact_size_of_a_tilted_cloud() {
    let (scene, room) = samples::furnished();
    let scene = with(&scene, |cloud| (cloud.tilt.x, cloud.underside) = (20.0, 1.9));
    let (start, kind) = (cloud_of(&scene), &scene.stock[2]);
    let way = start.chart().right;
    let (cloud, _) = pulled(&scene, &room, &facing(&room, "north"), Handle::Size(EAST), way * start.panel_size(kind).x);
    assert_eq!((cloud.panels, cloud.tilt), ([2, 1], start.tilt));
    // Corners 0 and 3 are those at the smaller x.
    for corner in [0, 3] {
        let moved = cloud.underside_corners(kind)[corner].distance(start.underside_corners(kind)[corner]);
        assert!(moved < 0.001, "the opposite side stays to a millimeter: {moved}");
    }
    let millimeters = cloud.underside * 1000.0;
    assert!((millimeters - millimeters.round()).abs() < 1e-6, "{millimeters}");
}

#[test]
fn exact_tilt_by_keys() {
    let (scene, room) = samples::furnished();
    let lean = |scene: &Scene, sight: &Sight, x: f64, y: f64| leaned(scene, sight, Thing::Panel(2), DVec2::new(x, y) * 0.01, 5.0);
    let tilt = |command: Option<Command>| match command {
        Some(Command::MovePanel { place: PanelPlace::Cloud(cloud), .. }) => cloud.tilt,
        other => panic!("{other:?}"),
    };
    let plan = sight(&room, CameraView::Plan);
    // From above, x to the right and y upward.
    assert_eq!(tilt(lean(&scene, &plan, 1.0, 0.0)), DVec2::new(5.0, 0.0));
    assert_eq!(tilt(lean(&scene, &plan, 0.0, -1.0)), DVec2::new(0.0, -5.0));
    let steep = with(&scene, |cloud| cloud.tilt.x = 58.0);
    assert_eq!(tilt(lean(&steep, &plan, 1.0, 0.0)), DVec2::new(TILT_MOST, 0.0));
    assert!(matches!(lean(&steep, &plan, 0.0, 1.0), Some(Command::Say(_))), "it leans one way");
    assert_eq!(leaned(&scene, &plan, Thing::Panel(0), DVec2::X, 1.0), None, "no cloud");
}
