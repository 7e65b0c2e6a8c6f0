//! Rooms for the tests of the stage.

use bevy::math::DVec2;
use roomwright::room::Room;
use roomwright::scene::{self, Cloud, Panel, PanelPlace, Scene};
use roomwright::study;

fn read(text: &str) -> (Scene, Room) {
    let scene = scene::read(text).expect("the scenes of the house read").0;
    let room = study::room(&scene);
    (scene, room)
}

pub(super) fn attic() -> (Scene, Room) {
    read(include_str!("../../scenes/attic-voice-room.toml"))
}

/// The scenes of the house.
pub(super) fn all() -> Vec<(Scene, Room)> {
    let texts = [include_str!("../../scenes/basement-mix-room.toml"), include_str!("../../scenes/l-shaped-rehearsal-room.toml")];
    let mut all = vec![attic()];
    all.extend(texts.map(read));
    all
}

/// The attic with one flat panel on its east wall.
pub(super) fn with_panel() -> (Scene, Room) {
    let (mut scene, _) = attic();
    let gap = scene.stock[0].gap;
    let place = PanelPlace::Surface { surface: "east".to_owned(), left: 1.5, bottom: 0.6, gap, lying: false };
    scene.panels.push(Panel { kind: scene.stock[0].name.clone(), place });
    let room = study::room(&scene);
    (scene, room)
}

/// The attic with a flat panel on its east wall, one across a corner and a cloud.
pub(super) fn furnished() -> (Scene, Room) {
    let (mut scene, _) = with_panel();
    let named = |kind: usize| scene.stock[kind].name.clone();
    let (corner, cloud) = (named(1), named(2));
    let place = PanelPlace::Corner { corner: 2, bottom: 0.3 };
    scene.panels.push(Panel { kind: corner, place });
    let place = PanelPlace::Cloud(Cloud::level(DVec2::new(2.9, 3.4), 2.1, true));
    scene.panels.push(Panel { kind: cloud, place });
    let room = study::room(&scene);
    (scene, room)
}
