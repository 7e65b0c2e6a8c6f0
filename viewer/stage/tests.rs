//! The stage drawn without a window, where a graphics driver is found; and what lies over it.

use std::sync::Arc;

use bevy::math::Vec2;
use bevy::prelude::*;
use bevy::render::RenderPlugin;
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::ExitCondition;
use bevy::winit::WinitPlugin;
use roomwright::bands::Band;
use roomwright::files::Disk;
use roomwright::plan::SurfaceMap;
use roomwright::progress::Progress;
use roomwright::report::heatmap::Heat;
use roomwright::room::Role;
use roomwright::scene::Scene;
use roomwright::study::{self, Live, MapChoice, Quantity};

use super::camera::{self, Rig, Sight};
use super::hand::Hand;
use super::overlay::{self, Mark, Seen};
use super::{StageArea, StagePlugin, control, draw, samples};
use crate::command::Command;
use crate::errand::OfScene;
use crate::low_end::Look;
use crate::recovery::Storage;
use crate::results::{Generation, Known, Results};
use crate::session::SessionPlugin;
use crate::test_disk::Memory;
use crate::ui::tokens;
use crate::view::{ArrivalChoice, CameraView, Step, Thing, View, Which};

fn kilohertz() -> Band {
    Band::new(4)
}

const EARLY: MapChoice = MapChoice { quantity: Quantity::Early, source: None, octave: None };

/// What is known of a scene after a coarse trace.
fn known(scene: &Scene) -> Results {
    let progress = Progress::new();
    let traced = study::trace_for_trials(&progress, scene, 3000).expect("not canceled");
    let kind = &scene.stock[study::usual_panel(scene).expect("there is stock")];
    let mut live = Live::new(&progress, &traced).expect("not canceled");
    let generation = Generation(1);
    fn settled<T>(value: T) -> Option<Known<T>> {
        Some(Known { generation: Generation(1), rays: 3000, value: Arc::new(value) })
    }
    let mut results = Results::default();
    results.show(generation, &Arc::new(scene.clone()));
    results.early = settled(live.early(&progress, scene).expect("not canceled"));
    results.earnings = settled(live.earnings(&progress, scene).expect("not canceled"));
    results.hot_spots = settled(live.hot_spots(scene, kind));
    results.landing = settled(study::landing(&progress, scene, &traced, 0, kilohertz()).expect("not canceled"));
    results.maps.extend(settled(live.map(&progress, scene, kind, EARLY).expect("not canceled")).map(|map| (EARLY, map)));
    results
}

fn furnished() -> Scene {
    samples::furnished().0
}

#[test]
fn keeps_labels_apart_and_a_scale_with_its_unit() {
    let scene = furnished();
    let results = known(&scene);
    let room = &results.room.as_ref().expect("shown").value;
    for camera in [CameraView::Orbit, CameraView::Plan, CameraView::Elevation(1), CameraView::Ear(0)] {
        let view = View { camera, step: Step::Hear, chosen: Some(Thing::Panel(0)), time_ms: 4.0, landing: None, ..View::default() };
        let mut rig = Rig::default();
        rig.fit(room, 1.5);
        rig.fit_flat(room, camera, 1.5);
        let area = StageArea { low: Vec2::new(100.0, 20.0), high: Vec2::new(1000.0, 620.0) };
        let sight = Sight { pose: rig.pose(room, camera), area };
        let maps = &results.maps[&EARLY].value;
        let marks = Some((Heat::Early, roomwright::report::heatmap::scale(maps.iter())));
        let marks =
            overlay::laid_out(&Seen { scene: &scene, room, view: &view, results: &results, sight: &sight, hand: &Hand::default(), marks });
        let texts: Vec<(Vec2, f32, overlay::Anchor, &str)> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Text { at, anchor, text, .. } => {
                    Some((*at, roomwright::report::paper::text_width(text, false) as f32 * overlay::letters(), *anchor, text.as_str()))
                }
                _ => None,
            })
            .collect();
        assert!(texts.iter().any(|(.., text)| text.ends_with("dB per m2")), "{camera:?}: {texts:?}");
        // From above all walls are seen edge on.
        assert!(camera == CameraView::Plan || texts.iter().any(|(.., text)| text.contains("ms later")), "{camera:?}: {texts:?}");
        let spans = |(at, long, anchor, _): &(Vec2, f32, overlay::Anchor, &str)| {
            let left = match anchor {
                overlay::Anchor::Left => at.x,
                overlay::Anchor::Middle => at.x - 0.5 * long,
                overlay::Anchor::Right => at.x - long,
            };
            (left, left + long, at.y)
        };
        for (index, one) in texts.iter().enumerate() {
            for other in &texts[..index] {
                let ((a, b, y), (c, d, v)) = (spans(one), spans(other));
                let apart = b <= c || d <= a || (y - v).abs() > 0.9 * overlay::letters();
                assert!(apart, "{camera:?}: \"{}\" lies over \"{}\"", one.3, other.3);
            }
        }
    }
}

#[test]
fn keeps_pointed_places_in_words() {
    let (scene, room) = samples::attic();
    let east = room.named("east").next().expect("there").1;
    let point = east.chart.point(bevy::math::DVec2::new(1.25, 0.8));
    let words = overlay::place_text(&scene, &room, point);
    assert_eq!(words.as_deref(), Some("east: 1.25 m from the left edge, 0.8 m from the floor"));
    assert_eq!(overlay::place_text(&scene, &room, bevy::math::DVec3::new(2.0, 2.0, 1.0)), None);
}

/// Whether there is a Vulkan driver to draw with: where the loader looks for one on this kind of machine.
fn has_driver() -> bool {
    if std::env::var_os("VK_DRIVER_FILES").is_some_and(|path| !std::path::Path::new(&path).exists()) {
        return false;
    }
    let folders = ["/usr/share/vulkan/icd.d", "/etc/vulkan/icd.d", "/usr/local/share/vulkan/icd.d"];
    folders.iter().any(|folder| std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_some()))
}

/// The stage without a window.
fn stage(results: Results, view: View) -> App {
    let mut app = App::new();
    app.add_plugins(
        DefaultPlugins
            .set(WindowPlugin { primary_window: None, exit_condition: ExitCondition::DontExit, ..default() })
            .set(RenderPlugin { synchronous_pipeline_compilation: true, ..default() })
            .disable::<bevy::log::LogPlugin>()
            .disable::<WinitPlugin>(),
    )
    .add_plugins((SessionPlugin, StagePlugin));
    while app.plugins_state() == bevy::app::PluginsState::Adding {
        bevy::tasks::tick_global_task_pools_on_main_thread();
    }
    app.finish();
    app.cleanup();
    app.insert_resource(results).insert_resource(view);
    app.insert_resource(StageArea { low: Vec2::ZERO, high: Vec2::new(960.0, 640.0) });
    app
}

#[derive(Default, Resource)]
struct Caught(Option<Image>);

/// Draws what the camera of the stage sees into a picture.
fn drawn(app: &mut App) -> Image {
    let target = Image::new_target_texture(960, 640, bevy::render::render_resource::TextureFormat::Rgba8UnormSrgb, None);
    let target = app.world_mut().resource_mut::<Assets<Image>>().add(target);
    app.update();
    let cameras: Vec<Entity> = app.world_mut().query_filtered::<Entity, With<control::StageCamera>>().iter(app.world()).collect();
    for camera in cameras {
        app.world_mut().entity_mut(camera).insert(bevy::camera::RenderTarget::from(target.clone()));
    }
    for _ in 0..4 {
        app.update();
    }
    app.init_resource::<Caught>();
    app.world_mut()
        .spawn(Screenshot::image(target))
        .observe(|captured: On<ScreenshotCaptured>, mut caught: ResMut<Caught>| caught.0 = Some(captured.image.clone()));
    for _ in 0..200 {
        app.update();
        if let Some(image) = app.world_mut().resource_mut::<Caught>().0.take() {
            return image;
        }
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    panic!("no picture came back");
}

/// Writes the picture of the stage into a file.
fn export(app: &mut App, path: &std::path::Path) {
    app.world_mut().write_message(Command::ExportPicture(Some(path.to_owned())));
    for _ in 0..60 {
        app.update();
        if path.exists() {
            break;
        }
    }
    app.update();
    let bytes = std::fs::read(path).expect("the picture is written");
    assert!(bytes.starts_with(b"\x89PNG") && bytes.len() > 30_000, "{}: {} bytes", path.display(), bytes.len());
    let notice = app.world().resource::<View>().notice.clone().unwrap_or_default();
    assert!(notice.starts_with("Saved the picture"), "{notice}");
}

/// Area of the smallest convex outline round these points: the cross products along the chain of outermost ones (monotone chain).
fn spanned(points: &[Vec2]) -> f64 {
    let mut points = points.to_vec();
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let chain = |points: &mut dyn Iterator<Item = Vec2>| {
        let mut chain: Vec<Vec2> = Vec::new();
        for point in points {
            while let [.., a, b] = chain[..] {
                if (b - a).perp_dot(point - b) > 0.0 {
                    break;
                }
                chain.pop();
            }
            chain.push(point);
        }
        chain
    };
    let mut outline = chain(&mut points.iter().copied());
    outline.extend(chain(&mut points.iter().rev().copied()));
    let sides = outline.iter().zip(outline.iter().cycle().skip(1));
    0.5 * sides.map(|(from, to)| f64::from(from.perp_dot(*to))).sum::<f64>().abs()
}

/// Share of the pixels of this color, within 3 of 255 in each channel.
fn share(image: &Image, color: [u8; 3]) -> f64 {
    let pixels = image.data.as_deref().expect("it has pixels").chunks_exact(4);
    let count = pixels.len();
    let alike = |pixel: &&[u8]| (0..3).all(|channel| pixel[channel].abs_diff(color[channel]) <= 3);
    pixels.filter(alike).count() as f64 / count as f64
}

#[test]
#[expect(clippy::print_stderr, reason = "a test that is skipped says so")]
fn keeps_the_picture_of_the_attic() {
    if !has_driver() {
        eprintln!("skipped: no graphics driver on this machine");
        return;
    }
    let results = known(&furnished());
    let view = View {
        step: Step::Hear,
        chosen: Some(Thing::Panel(0)),
        time_ms: 5.0,
        landing: None,
        arrival: Some(ArrivalChoice { pair: 0, which: Which::Reflection(0) }),
        ..View::default()
    };
    let mut app = stage(results, view);
    let image = drawn(&mut app);
    let orbit = *app.world().resource::<Sight>();
    let folder = std::env::temp_dir().join(format!("roomwright-stage-{}", std::process::id()));
    std::fs::create_dir_all(&folder).expect("a folder for pictures");
    for (name, camera) in
        [("orbit", CameraView::Orbit), ("plan", CameraView::Plan), ("elevation", CameraView::Elevation(1)), ("ear", CameraView::Ear(0))]
    {
        app.world_mut().write_message(Command::CameraTo(camera));
        app.update();
        export(&mut app, &folder.join(format!("{name}.png")));
    }
    // The room hides the ground just as far as its corners say: one without a nook is seen as what its corners span. Lines are up to 3
    // pixels wide and half of them lies outside, along an outline of some 1,700 pixels; nothing else is to differ.
    let room = app.world().resource::<Results>().room.as_ref().expect("shown").value.clone();
    let corners: Vec<Vec2> = camera::corners(&room).into_iter().filter_map(|corner| orbit.screen(corner)).collect();
    let [red, green, blue, _] = tokens::CARD.to_array();
    let (ground, spanned) = (share(&image, [red, green, blue]), spanned(&corners) / (960.0 * 640.0));
    assert!((ground + spanned - 1.0).abs() < 0.006, "ground {ground}, spanned by the room {spanned}");
    // The largest value on a wall that is seen is there in its color, and so is nothing.
    let color = |share: f64| {
        let color = Heat::Early.colors().color((share * 63.0).round() / 63.0);
        [color.0, color.1, color.2]
    };
    let (results, sight) = (app.world().resource::<Results>(), orbit);
    let room = &results.room.as_ref().expect("shown").value;
    let is_seen = |map: &&SurfaceMap| {
        let surface = &room.surfaces[map.surface];
        matches!(surface.role, Role::Wall(_)) && sight.pose.is_before(surface.chart.origin, surface.chart.normal)
    };
    let values = results.maps[&EARLY].value.iter().filter(is_seen).flat_map(|map| map.values.iter().copied());
    let highest = values.filter(|value| value.is_finite()).fold(0.0, f64::max);
    let (_, marks) = app.world().resource::<draw::MapScale>().0.expect("a map is shown");
    assert!(marks.share(highest) > 0.3, "there is something to see: {highest}");
    // A patch of 0.1 m at this distance is some 40 pixels, all of one color; half of it is enough to tell.
    let hottest = share(&image, color(marks.share(highest).min(1.0))) * 960.0 * 640.0;
    assert!(hottest > 20.0, "the hottest patch: {hottest} pixels");
    assert!(share(&image, color(0.0)) > 0.01, "the coldest patches");
    let [red, green, blue, _] = tokens::ACCENT.to_array();
    assert!(share(&image, [red, green, blue]) > 0.001, "what is chosen");

    // Lit up by what has landed, the surfaces are as dark as the scale goes where nothing has, and brighter round the loudspeaker.
    for command in [Command::CameraTo(CameraView::Orbit), Command::ChooseLanding(Some(kilohertz())), Command::SetTime(6.0)] {
        app.world_mut().write_message(command);
    }
    let image = drawn(&mut app);
    let Some((Heat::Landed, _)) = app.world().resource::<draw::MapScale>().0 else { panic!("what has landed is shown") };
    let landed = |share: f64| {
        let color = Heat::Landed.colors().color(share);
        [color.0, color.1, color.2]
    };
    assert!(share(&image, landed(0.0)) > 0.05, "most is dark yet");
    let lit: f64 = (32..64).map(|level| share(&image, landed(f64::from(level) / 63.0))).sum();
    assert!(lit > 0.02, "something is lit: {lit}");
    export(&mut app, &folder.join("landed.png"));

    // Asked for in the window it goes beside the scene, under a number of its own.
    let disk = Arc::new(Memory::default());
    app.insert_resource(Storage(disk.clone()));
    for _ in 0..2 {
        let held = disk.names().len();
        app.world_mut().write_message(Command::ExportPicture(None));
        for _ in 0..60 {
            app.update();
            if disk.names().len() > held {
                break;
            }
        }
    }
    assert_eq!(disk.names(), ["attic-voice-room-1.png", "attic-voice-room-2.png"]);
    let pictures = ["attic-voice-room-1.png", "attic-voice-room-2.png"].map(|name| disk.read(name.as_ref(), u64::MAX).expect("written"));
    let landed = std::fs::read(folder.join("landed.png")).expect("written");
    assert!(pictures.iter().all(|picture| *picture == landed), "the same picture as under a name");
    app.update();
    assert_eq!(app.world().resource::<View>().notice.as_deref(), Some("Saved the picture as attic-voice-room-2.png."));

    if std::env::var_os("KEEP_PICTURES").is_none() {
        std::fs::remove_dir_all(&folder).expect("the folder is ours");
    }
}

/// A slice of the low end: drawn in its colors where there is air, its scale with its unit, and no map beside it.
#[test]
fn keeps_a_slice_of_the_low_end_on_the_stage() {
    let scene = samples::attic().0;
    let asked = study::BassAsked { top_hz: 80.0, others: 0, ..study::BassAsked::default() };
    let found = study::waves(&Progress::new(), &scene, &asked).expect("it can be run");
    let mut results = known(&scene);
    results.low_end = Some(Arc::new(OfScene { scene: results.scene.clone().expect("shown"), found: Ok(found) }));
    let mut view = View { step: Step::Hear, camera: CameraView::Plan, ..View::default() };
    view.low_end.field = Some(Look::Pressure);
    view.low_end.frequency_hz = 45.0;
    let texts = |app: &App| -> Vec<String> {
        let (view, results) = (app.world().resource::<View>(), app.world().resource::<Results>());
        let room = &results.room.as_ref().expect("shown").value;
        let sight = app.world().resource::<Sight>();
        let marks = app.world().resource::<draw::MapScale>().0;
        let seen = Seen { scene: &scene, room, view, results, sight, hand: &Hand::default(), marks };
        overlay::laid_out(&seen)
            .into_iter()
            .filter_map(|mark| match mark {
                Mark::Text { text, .. } => Some(text),
                _ => None,
            })
            .collect()
    };
    if !has_driver() {
        return;
    }
    let mut app = stage(results, view);
    let first = drawn(&mut app);
    let words = texts(&app);
    for wanted in ["pressure at 45.0 Hz", "over the floor", "re the free field of one source at 1 m = 1"] {
        assert!(words.iter().any(|text| text.contains(wanted)), "{wanted}: {words:?}");
    }
    assert!(!words.iter().any(|text| text.ends_with("dB per m2")), "one scale at a time: {words:?}");
    // Half a period later what was red is blue.
    app.world_mut().resource_mut::<View>().low_end.periods = 0.5;
    let second = drawn(&mut app);
    let lean = |image: &Image| -> Vec<i32> {
        let pixels = image.data.as_ref().expect("there are pixels");
        pixels.chunks_exact(4).map(|pixel| i32::from(pixel[0]) - i32::from(pixel[2])).collect()
    };
    let (first, second) = (lean(&first), lean(&second));
    let turned = first.iter().zip(&second).filter(|(one, other)| **one > 60 && **other < -30 || **one < -30 && **other > 60).count();
    assert!(turned > 10_000, "{turned} pixels have turned");
    app.world_mut().resource_mut::<View>().low_end.field = None;
    app.world_mut().resource_mut::<View>().map = None;
    let third = lean(&drawn(&mut app));
    assert!(third.iter().filter(|lean| **lean < -30).count() < turned / 10, "it is gone");
}
