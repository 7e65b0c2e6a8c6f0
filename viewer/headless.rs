//! The stage without a window: a picture of a scene as a file, from the command line.
//!
//! *Limits.* The panels are not in it: the picture is the one that `Command::ExportPicture` writes.

use std::path::{Path, PathBuf};
use std::time::Duration;

use bevy::log::{Level, LogPlugin};
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;

use crate::command::Command;
use crate::results::Results;
use crate::session::{DRAWING, SessionPlugin};
use crate::stage::{StageArea, StagePlugin};
use crate::view::View;

/// Size of the stage that pictures are laid out for, logical pixels.
const STAGE: Vec2 = Vec2::new(1100.0, 760.0);
/// Between two looks at what has been found.
const PAUSE: Duration = Duration::from_millis(20);
/// Frames until the camera has found the room.
const FRAMES: u32 = 3;

/// Everything but window and panels, ready to be run frame by frame.
pub(crate) fn app(size: Vec2, add: impl FnOnce(&mut App)) -> App {
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .set(LogPlugin { level: Level::ERROR, filter: "wgpu_hal=off".to_owned(), ..default() })
            .disable::<WinitPlugin>(),
    )
    .add_plugins((SessionPlugin, StagePlugin));
    add(&mut app);
    while app.plugins_state() == bevy::app::PluginsState::Adding {
        bevy::tasks::tick_global_task_pools_on_main_thread();
    }
    app.finish();
    app.cleanup();
    app.insert_resource(StageArea { low: Vec2::ZERO, high: size });
    app
}

/// Whether everything that was asked of the scene on screen is known.
pub(crate) fn is_settled(results: &Results, view: &View) -> bool {
    let has = results.has(view.map, view.lands());
    let lacks_nothing = results.status.rays_wanted > 0 && has.findings >= results.status.rays_wanted;
    lacks_nothing && results.status.stage.is_none()
}

/// Why there is nothing to draw, if there is nothing.
fn failure(app: &App) -> Option<String> {
    let (view, results) = (app.world().resource::<View>(), app.world().resource::<Results>());
    if results.scene.is_none() || results.is_sketch {
        let why = "the scene has mistakes; `roomwright survey` lists them".to_owned();
        return Some(view.notice.clone().unwrap_or(why));
    }
    None
}

/// Writes the picture of a scene, its map in it, and says what became of it.
///
/// # Errors
/// What went wrong, in one sentence.
pub(crate) fn picture(scene: &Path, file: PathBuf) -> Result<String, String> {
    let mut app = app(STAGE, |_| ());
    app.world_mut().write_message(Command::Open(scene.to_owned()));
    app.update();
    if let Some(failure) = failure(&app) {
        return Err(failure);
    }
    while !is_settled(app.world().resource::<Results>(), app.world().resource::<View>()) {
        std::thread::sleep(PAUSE);
        app.update();
    }
    for _ in 0..FRAMES {
        app.update();
    }
    // Not what was said on the way.
    app.world_mut().resource_mut::<View>().notice = None;
    app.world_mut().write_message(Command::ExportPicture(Some(file)));
    loop {
        app.update();
        let Some(said) = app.world().resource::<View>().notice.clone().filter(|said| said != DRAWING) else { continue };
        return if said.starts_with("Saved") { Ok(said) } else { Err(said) };
    }
}
