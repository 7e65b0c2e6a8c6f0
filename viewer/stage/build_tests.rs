//! Marks on the stage: where they are drawn, what lies behind them, what is said of the one that is pointed at, and what a click on one does.

use std::sync::Arc;

use bevy::math::{DVec2, Vec2};
use roomwright::room::Room;
use roomwright::scene::Scene;
use roomwright::scene::prices::example;
use roomwright::study;
use roomwright::workshop::MarkKind;

use super::camera::{Rig, Sight};
use super::hand::Hand;
use super::ink::{self, Pen};
use super::overlay::{self, Mark, Seen};
use super::{StageArea, picking, samples};
use crate::command::Command;
use crate::marks;
use crate::results::{Generation, Known, Results};
use crate::view::{CameraView, Step, Thing, View};

fn built(scene: &Scene) -> Results {
    let (mut results, generation) = (Results::default(), Generation(1));
    results.show(generation, &Arc::new(scene.clone()));
    let value = Arc::new(study::build(None, scene, &example()));
    results.build = Some(Known { generation, rays: 0, value });
    results
}

fn sight(room: &Room, camera: CameraView) -> Sight {
    let mut rig = Rig::default();
    rig.fit(room, 1.5);
    rig.fit_flat(room, camera, 1.5);
    Sight { pose: rig.pose(room, camera), area: StageArea { low: Vec2::ZERO, high: Vec2::new(900.0, 600.0) } }
}

/// Square on to each surface every mark of it is where its measures say, tells them when it is pointed at, and chooses its panel when it is clicked.
#[test]
fn keeps_every_mark_under_the_pointer() {
    let (scene, room) = samples::furnished();
    let results = built(&scene);
    let building = results.building().expect("something hangs");
    let mut found = 0;
    for surface in &building.build.surfaces {
        let index = (0..room.surfaces.len()).find(|&index| room.surfaces[index].name == surface.surface).expect("there");
        let camera = CameraView::Elevation(index);
        let sight = sight(&room, camera);
        let mut view = View { step: Step::Build, camera, ..View::default() };
        for mark in surface.panels.iter().flat_map(|panel| &panel.marks) {
            let point = room.surfaces[index].chart.point(DVec2::new(mark.left_m, mark.bottom_m));
            let at = sight.screen(point).expect("parallel");
            let near = picking::mark_near(&view, &results, &sight, at).expect("it is drawn");
            // Of two that lie over each other, either.
            assert!(near.at.distance(point) < 1e-3, "{}: {}", mark.name, near.mark.name);
            let panel = Thing::Panel(near.scene_panel());
            let clicked = picking::clicked(&scene, &room, &view, &results, &sight, at);
            assert_eq!(clicked, [Command::Choose(Some(panel)), Command::ChooseSheet(Some(near.surface.facet))]);
            view.pointer = Some(point);
            let seen =
                Seen { scene: &scene, room: &room, view: &view, results: &results, sight: &sight, hand: &Hand::default(), marks: None };
            let texts: Vec<String> = overlay::laid_out(&seen)
                .into_iter()
                .filter_map(|mark| if let Mark::Text { text, .. } = mark { Some(text) } else { None })
                .collect();
            let words = marks::words(building, &near);
            assert!(words.len() >= 3 && words.iter().all(|line| texts.contains(line)), "{words:?} in {texts:?}");
            found += 1;
        }
        // In another step there is none.
        let elsewhere = View { step: Step::Place, ..view };
        assert!(ink::marks(&elsewhere, &results, &sight.pose).is_empty());
        assert!(ink::build_lines(&elsewhere, &results, &sight.pose).is_empty());
    }
    assert!(found > 8, "{found}");
}

/// The measures of a mark by hand: a panel's own corner and its insets are those of the build; words say them as the tape shows them.
#[test]
fn keeps_what_is_said_of_a_mark() {
    let (scene, _) = samples::furnished();
    let results = built(&scene);
    let building = results.building().expect("something hangs");
    let all = marks::all(building);
    let fixing = all.iter().find(|marked| marked.mark.name == "1a").expect("the wall panel is fixed");
    let [left, bottom] = [fixing.mark.left_m, fixing.mark.bottom_m].map(|meters| format!("{:.0} mm", 1000.0 * meters));
    let words = marks::words(building, fixing);
    assert_eq!(words[..2], ["1a, fixing of panel 1, wall panel".to_owned(), format!("from left {left}, from the lower edge {bottom}")]);
    assert_eq!(words[2], "behind it on east: brickwork");
    // What says that it must not be hung is said of all its marks, and of no others'.
    for marked in &all {
        let stays = building.build.overhead.iter().any(|one| one.number == marked.panel.number && !one.not_to_be_hung.is_empty());
        assert_eq!(marks::words(building, marked).iter().any(|line| line == marks::NOT_TO_BE_HUNG), stays, "{}", marked.mark.name);
    }
}

/// Wires that carry hang plumb and are as long as is said; members lie where the scene has them, within their surface.
#[test]
fn keeps_wires_plumb_and_members_in_their_surface() {
    let (scene, room) = samples::furnished();
    let results = built(&scene);
    let building = results.building().expect("something hangs");
    let mut wires = 0;
    for marked in marks::all(building) {
        let Some(wire) = marked.wire else {
            assert_eq!(marked.mark.what, MarkKind::Fixing);
            continue;
        };
        let [anchor, fitting] = wire.ends;
        assert!(anchor.distance(marked.at) < 2e-3, "a wire begins at its mark: {anchor} {}", marked.at);
        if marked.mark.what == MarkKind::Wire {
            assert!(anchor.truncate().distance(fitting.truncate()) < 1e-9);
            assert!((anchor.z - fitting.z - wire.long_m[0]).abs() < 1e-9 && wire.long_m[0] > 0.0);
            wires += 1;
        }
    }
    assert!(wires >= 4, "{wires}");
    let index = room.surfaces.iter().position(|surface| surface.name == "ceiling").expect("there");
    let of = |camera: CameraView| {
        let view = View { step: Step::Build, ..View::default() };
        ink::build_lines(&view, &results, &sight(&room, camera).pose)
    };
    let lines = of(CameraView::Elevation(index));
    let ceiling = building.build.surfaces.iter().find(|surface| surface.surface == "ceiling").expect("the cloud hangs from it");
    let host = &building.room.surfaces[ceiling.facet];
    let is_tie = |line: &ink::Strip| line.pen == Pen::Dashed && line.points.iter().all(|point| host.chart.height(*point).abs() < 1e-6);
    // From outside the ceiling faces away: the wires are drawn, its ties are not. Square on to a wall neither is.
    let (outside, wall) = (of(CameraView::Orbit), room.surfaces.iter().position(|surface| surface.name == "east").expect("there"));
    assert!(outside.iter().filter(|line| line.pen == Pen::Fine).count() == wires && !outside.iter().any(is_tie));
    assert!(of(CameraView::Elevation(wall)).is_empty(), "nothing stands in the brickwork");
    let mut levels: Vec<f64> = lines
        .iter()
        .filter(|line| is_tie(line))
        .map(|line| {
            let ends: Vec<DVec2> = line.points.iter().map(|point| host.chart.position(*point)).collect();
            assert!((ends[0].y - ends[1].y).abs() < 1e-9, "ties run across: {ends:?}");
            assert!(host.outline.contains(ends[0].midpoint(ends[1])));
            ends[0].y
        })
        .collect();
    levels.sort_by(f64::total_cmp);
    // The scene: the first at 0.25 m, then every 0.4 m; a room of 5.2 m holds 13.
    assert_eq!(levels.len(), 13, "{levels:?}");
    assert!(levels.iter().zip(0_u8..).all(|(level, step)| (level - 0.25 - 0.4 * f64::from(step)).abs() < 1e-9), "{levels:?}");
}

/// A line is cut where the outline of its surface ends: an L is left by a line that passes its nook.
#[test]
fn exact_lines_within_an_outline() {
    let corners = [(0.0, 0.0), (4.0, 0.0), (4.0, 3.0), (3.0, 3.0), (3.0, 1.0), (1.0, 1.0), (1.0, 3.0), (0.0, 3.0)];
    let outline = roomwright::geometry::Polygon::new(corners.map(|(x, y)| DVec2::new(x, y)).to_vec());
    let of = |upright: bool, at: f64| ink::within(&outline, upright, at);
    assert_eq!(of(true, 2.0), [[DVec2::new(2.0, 0.0), DVec2::new(2.0, 1.0)]]);
    assert_eq!(of(false, 2.0), [[DVec2::new(0.0, 2.0), DVec2::new(1.0, 2.0)], [DVec2::new(3.0, 2.0), DVec2::new(4.0, 2.0)]]);
    assert!(of(true, 5.0).is_empty());
}

/// Where to drill is asked on bare paper: the map is not painted in this step, and is kept for the others.
#[test]
fn keeps_the_map_off_the_marks() {
    let view = View { step: Step::Build, ..View::default() };
    assert!(view.map.is_some() && view.painted_map().is_none());
    assert_eq!(View { step: Step::Hear, ..view.clone() }.painted_map(), view.map);
}
