//! How fast the picture moves: frames of an orbit timed one by one, and how long one edit takes to be seen and to be heard.
//!
//! The stage turns once round the room at 1280 x 720 with its map on, on whatever adapter there is; without a window each frame is waited
//! for until the driver has drawn it, with a window until it is handed to the screen, panels and all. Nothing here judges the figures.
//!
//! *Limits.* Without a window there are no panels. A frame is as long as the time between two beginnings of the main loop.

use std::path::PathBuf;
use std::time::{Duration, Instant};

use bevy::camera::RenderTarget;
use bevy::math::DVec3;
use bevy::prelude::*;
use bevy::render::render_resource::TextureFormat;
use bevy::render::renderer::{RenderAdapterInfo, RenderDevice};
use bevy::render::{Render, RenderApp, RenderSystems};
use bevy::window::RequestRedraw;
use wgpu_types::PollType;

use crate::command::Command;
use crate::document::Document;
use crate::recovery::NobodysWork;
use crate::results::{Generation, Results};
use crate::stage::{Rig, StageCamera, triangles};
use crate::view::View;
use crate::{crowd, headless, stopwatch};

/// Width and height of the picture, pixels.
pub(crate) const SIZE: UVec2 = UVec2::new(1280, 720);
/// Frames that are timed.
const FRAMES: usize = 200;
/// Frames before them.
const WARMING: usize = 20;
/// Between two looks at what has been found.
const PAUSE: Duration = Duration::from_millis(10);

/// What is timed.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Subject {
    /// A scene file.
    Scene(PathBuf),
    /// A hall with so many boxes in it.
    Boxes(u32),
}

impl Subject {
    /// What opens it.
    pub(crate) fn commands(&self) -> Vec<Command> {
        match self {
            Self::Scene(path) => vec![Command::Open(path.clone())],
            Self::Boxes(count) => {
                let Ok(size) = roomwright::scene::RoomSize::read("12x10x3.5m") else { return Vec::new() };
                let room = crate::command::NewRoom {
                    name: "Hall of boxes".to_owned(),
                    size,
                    activity: roomwright::scene::Activity::Mixing,
                    materials: [None, None, None],
                };
                vec![Command::New(room), Command::SetText(crowd::text(*count))]
            }
        }
    }
}

/// Where the measurement stands.
#[derive(Debug, Default)]
enum Phase {
    /// The scene is being studied.
    #[default]
    Waiting,
    /// It turns; so many frames are left.
    Turning(usize),
    /// A loudspeaker was moved when this was told, from the scene of this generation.
    Moved(Instant, Generation),
}

/// The measurement.
#[derive(Debug, Default, Resource)]
pub(crate) struct Bench {
    phase: Phase,
    begun: Option<Instant>,
    frames: Vec<Duration>,
    seen: Option<Duration>,
}

/// Measures and closes.
pub(crate) struct BenchPlugin {
    /// Whether each frame is waited for.
    pub(crate) waits: bool,
}

impl Plugin for BenchPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Bench>().init_resource::<NobodysWork>().add_systems(First, run);
        if self.waits
            && let Some(render) = app.get_sub_app_mut(RenderApp)
        {
            render.add_systems(Render, wait.in_set(RenderSystems::Cleanup));
        }
    }
}

/// Waits until the driver has drawn everything.
fn wait(device: Res<RenderDevice>) {
    // A lost device ends the program by other ways.
    drop(device.poll(PollType::wait_indefinitely()));
}

/// One step of the measurement a frame.
#[expect(clippy::disallowed_methods, reason = "a bench looks at the clock")]
fn run(
    mut bench: ResMut<Bench>,
    (view, results, document): (Res<View>, Res<Results>, Res<Document>),
    mut rig: ResMut<Rig>,
    adapter: Option<Res<RenderAdapterInfo>>,
    mut commands: MessageWriter<Command>,
    mut redraw: MessageWriter<RequestRedraw>,
    mut exit: MessageWriter<AppExit>,
) {
    redraw.write(RequestRedraw);
    let now = Instant::now();
    let since = bench.begun.replace(now).map(|begun| now - begun);
    match bench.phase {
        Phase::Waiting => {
            if headless::is_settled(&results, &view) {
                bench.phase = Phase::Turning(WARMING + FRAMES);
            } else {
                std::thread::sleep(PAUSE);
            }
        }
        Phase::Turning(left) => {
            rig.turn += std::f64::consts::TAU / FRAMES as f64;
            if left < FRAMES {
                bench.frames.extend(since);
            }
            bench.phase = Phase::Turning(left.saturating_sub(1));
            if left == 0 {
                let scene = results.scene.as_ref().and_then(|scene| scene.sources.first());
                if let Some(source) = scene {
                    let position = source.position + DVec3::new(0.02, 0.01, 0.0);
                    commands.write(Command::MoveSource { name: source.name.clone(), position });
                }
                bench.phase = Phase::Moved(now, results.generation);
            }
        }
        Phase::Moved(told, before) => {
            let is_new = results.generation != before;
            if is_new && bench.seen.is_none() {
                bench.seen = Some(now - told);
            }
            let is_heard = is_new && results.early.as_ref().is_some_and(|known| results.is_fresh(known));
            // A scene without a loudspeaker has nothing to move.
            if is_heard || document.scene().is_none_or(|scene| scene.sources.is_empty()) {
                let heard = is_heard.then(|| now - told);
                say(&bench, &results, adapter.as_deref(), heard);
                exit.write(AppExit::Success);
            } else if is_new {
                std::thread::sleep(PAUSE);
            }
        }
    }
}

/// The value that this share of the frames does not exceed, milliseconds.
fn percentile(sorted: &[Duration], share: f64) -> f64 {
    let index = (share * (sorted.len().max(1) - 1) as f64).round() as usize;
    sorted.get(index).map_or(f64::NAN, |frame| frame.as_secs_f64() * 1000.0)
}

fn say(bench: &Bench, results: &Results, adapter: Option<&RenderAdapterInfo>, heard: Option<Duration>) {
    let mut frames = bench.frames.clone();
    frames.sort_unstable();
    let [low, median, high] = [0.05, 0.5, 0.95].map(|share| percentile(&frames, share));
    let name = adapter.map_or_else(|| "not known".to_owned(), |adapter| format!("{} ({:?})", adapter.name, adapter.device_type));
    let triangles = results.scene.as_ref().zip(results.room.as_ref()).map_or(0, |(scene, room)| triangles(scene, &room.value));
    let millis = |span: Option<Duration>| span.map_or_else(|| "-".to_owned(), |span| format!("{:.0} ms", span.as_secs_f64() * 1000.0));
    let lines = [
        format!("adapter {name}"),
        format!("triangles {triangles}"),
        format!("frames {} of {} x {}", frames.len(), SIZE.x, SIZE.y),
        format!("frame time median {median:.1} ms, 5th percentile {low:.1} ms, 95th percentile {high:.1} ms"),
        format!("frames per second {:.1}", 1000.0 / median),
        format!("a loudspeaker moved: seen after {}, its early window after {}", millis(bench.seen), millis(heard)),
        stopwatch::report(),
    ];
    crate::start::print(&lines.join("\n"));
}

/// Measures without a window.
pub(crate) fn headless(subject: &Subject) -> AppExit {
    let mut app = headless::app(SIZE.as_vec2(), |app| {
        app.add_plugins((BenchPlugin { waits: true }, stopwatch::StopwatchPlugin));
    });
    let target = Image::new_target_texture(SIZE.x, SIZE.y, TextureFormat::Rgba8UnormSrgb, None);
    let target = app.world_mut().resource_mut::<Assets<Image>>().add(target);
    app.world_mut().write_message_batch(subject.commands());
    app.update();
    let mut cameras = app.world_mut().query_filtered::<Entity, With<StageCamera>>();
    let cameras: Vec<Entity> = cameras.iter(app.world()).collect();
    for camera in cameras {
        app.world_mut().entity_mut(camera).insert(RenderTarget::from(target.clone()));
    }
    if !app.world().resource::<Document>().is_open() || app.world().resource::<Results>().is_sketch {
        let view = app.world().resource::<View>();
        crate::start::say(&format!("error: {}", view.notice.as_deref().unwrap_or("the scene has mistakes")));
        return AppExit::from_code(2);
    }
    loop {
        app.update();
        if let Some(exit) = app.should_exit() {
            return exit;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeps_the_hall_a_scene_with_as_many_boxes_as_asked() {
        for boxes in [0, 1, 47, 833] {
            let (scene, _) = roomwright::scene::read(&crowd::text(boxes)).unwrap_or_else(|mistakes| panic!("{mistakes:?}"));
            assert!(scene.blocks.len() as u32 >= boxes);
            let room = roomwright::study::room(&scene);
            assert!(triangles(&scene, &room) as u32 >= 12 * boxes);
        }
    }

    #[test]
    fn exact_percentiles() {
        let frames: Vec<Duration> = (0..=100).map(Duration::from_millis).collect();
        assert_eq!([0.05, 0.5, 0.95].map(|share| percentile(&frames, share)), [5.0, 50.0, 95.0]);
        assert!(percentile(&[], 0.5).is_nan());
    }
}
