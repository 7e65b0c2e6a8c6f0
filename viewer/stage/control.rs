//! The mouse beside things on the stage, and the camera that follows: drag turns, shift or the middle button moves, the wheel zooms, a
//! click chooses. What is on a thing is the business of `hand`.

use bevy::camera::Viewport;
use bevy::core_pipeline::tonemapping::{DebandDither, Tonemapping};
use bevy::input::ButtonState;
use bevy::input::mouse::{AccumulatedMouseMotion, AccumulatedMouseScroll, MouseScrollUnit};
use bevy::math::DVec3;
use bevy::prelude::*;
use bevy::render::renderer::RenderAdapterInfo;
use bevy::window::{PrimaryWindow, RequestRedraw, WindowEvent};
use bevy_egui::input::EguiWantsInput;
use wgpu_types::DeviceType;

use super::camera::{self, Rig, Sight};
use super::draw::Unsettled;
use super::hand::Hand;
use super::{StageArea, picking};
use crate::command::Command;
use crate::results::Results;
use crate::ui::tokens;
use crate::view::{CameraView, View};

/// A press that moves no farther than this is a click, logical pixels.
pub(super) const CLICK: f32 = 4.0;

/// The camera of the stage.
#[derive(Clone, Copy, Component, Debug, Default)]
pub(crate) struct StageCamera;

/// Samples a pixel on screen: four, but one where a processor draws in place of a graphics card.
pub(crate) fn multisampling(adapter: Option<&RenderAdapterInfo>) -> Msaa {
    let is_software = adapter.is_none_or(|adapter| adapter.device_type == DeviceType::Cpu);
    if is_software { Msaa::Off } else { Msaa::Sample4 }
}

/// Everything that a camera of the stage has, on screen or for a file.
pub(super) fn camera(samples: Msaa) -> impl Bundle {
    let [red, green, blue, _] = tokens::CARD.to_array();
    let clear_color = ClearColorConfig::Custom(Color::srgb_u8(red, green, blue));
    (Camera3d::default(), Camera { clear_color, ..default() }, Tonemapping::None, DebandDither::Disabled, samples)
}

pub(super) fn set_up(mut commands: Commands, adapter: Option<Res<RenderAdapterInfo>>) {
    let [red, green, blue, _] = tokens::PAPER.to_array();
    commands.insert_resource(ClearColor(Color::srgb_u8(red, green, blue)));
    commands.spawn((StageCamera, camera(multisampling(adapter.as_deref()))));
}

/// Where the left button went down and came up within this frame, logical pixels: at the frame's end the pointer may be elsewhere.
#[derive(Clone, Copy, Debug, Default, PartialEq, Resource)]
pub(super) struct Gesture {
    /// Where it went down first.
    pub(super) down: Option<Vec2>,
    /// Where it came up last.
    pub(super) up: Option<Vec2>,
}

/// Follows pointer and button in the order in which the window tells of them.
pub(super) fn follow(mut events: MessageReader<WindowEvent>, mut pointer: Local<Option<Vec2>>, mut gesture: ResMut<Gesture>) {
    *gesture = Gesture::default();
    for event in events.read() {
        match event {
            WindowEvent::CursorMoved(moved) => *pointer = Some(moved.position),
            WindowEvent::MouseButtonInput(input) if input.button == MouseButton::Left => match input.state {
                ButtonState::Pressed => gesture.down = gesture.down.or(*pointer),
                ButtonState::Released => gesture.up = *pointer,
            },
            _ => {}
        }
    }
}

/// A press of the mouse that began on the stage.
#[derive(Clone, Copy, Debug)]
pub(super) struct Press {
    button: MouseButton,
    start: Vec2,
    is_drag: bool,
}

/// What of the window the stage takes: all of it until the panels have been laid out.
fn area_in(window: &Window, area: StageArea) -> StageArea {
    let size = area.high - area.low;
    if size.min_element() >= 1.0 { area } else { StageArea { low: Vec2::ZERO, high: Vec2::new(window.width(), window.height()) } }
}

/// Whether a place in the window belongs to the stage, and no panel lies over it.
pub(super) fn is_on_stage(at: Vec2, sight: &Sight, wants: Option<&EguiWantsInput>) -> bool {
    let is_taken = wants.is_some_and(|wants| wants.is_pointer_over_area() || wants.is_popup_open());
    !is_taken && at.cmpge(sight.area.low).all() && at.cmplt(sight.area.high).all()
}

/// Fits the room when it is another one, or looked at in another way.
pub(super) fn fit(
    mut fitted: Local<Option<(DVec3, DVec3, CameraView)>>,
    mut rig: ResMut<Rig>,
    view: Res<View>,
    results: Res<Results>,
    sight: Res<Sight>,
) {
    let Some(room) = results.room.as_ref().map(|known| &*known.value) else { return };
    let (low, high) = camera::bounds(room);
    let now = Some((low, high, view.camera));
    if *fitted == now {
        return;
    }
    if fitted.is_none_or(|(old_low, old_high, _)| (old_low, old_high) != (low, high)) {
        rig.fit(room, sight.aspect());
    }
    rig.fit_flat(room, view.camera, sight.aspect());
    rig.head = bevy::math::DVec2::ZERO;
    *fitted = now;
}

/// The mouse.
#[expect(clippy::too_many_arguments, reason = "a system names what it reads and writes")]
pub(super) fn steer(
    mut press: Local<Option<Press>>,
    window: Option<Single<&Window, With<PrimaryWindow>>>,
    buttons: Res<ButtonInput<MouseButton>>,
    keys: Res<ButtonInput<KeyCode>>,
    (motion, scroll): (Res<AccumulatedMouseMotion>, Res<AccumulatedMouseScroll>),
    wants: Option<Res<EguiWantsInput>>,
    (view, results, hand): (Res<View>, Res<Results>, Res<Hand>),
    (sight, gesture): (Res<Sight>, Res<Gesture>),
    mut rig: ResMut<Rig>,
    mut commands: MessageWriter<Command>,
) {
    let (Some(window), Some(scene), Some(room)) = (window, &results.scene, &results.room) else { return };
    let (room, height) = (&room.value, f64::from(sight.area.high.y - sight.area.low.y));
    let cursor = gesture.up.or_else(|| window.cursor_position());
    let is_here = |at: &Vec2| is_on_stage(*at, &sight, wants.as_deref());
    let on_stage = cursor.filter(is_here);
    for (button, down) in [(MouseButton::Left, gesture.down.or(cursor)), (MouseButton::Middle, cursor)] {
        let is_free = press.is_none() && !hand.is_closed;
        if let Some(start) = down.filter(is_here).filter(|_| is_free && buttons.just_pressed(button)) {
            *press = Some(Press { button, start, is_drag: false });
        }
    }
    if let (Some(pressed), Some(at)) = (&mut *press, cursor) {
        pressed.is_drag |= at.distance(pressed.start) > CLICK;
        if pressed.is_drag && motion.delta != Vec2::ZERO {
            let drag = motion.delta.as_dvec2();
            let is_flat = matches!(view.camera, CameraView::Plan | CameraView::Elevation(_));
            let shift = keys.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]);
            if is_flat || shift || pressed.button == MouseButton::Middle {
                rig.pan_by(view.camera, &sight.pose, drag, height);
            } else {
                rig.turn_by(view.camera, drag, height);
            }
        }
    }
    if let Some(ended) = press.filter(|press| !buttons.pressed(press.button)) {
        *press = None;
        if !ended.is_drag && ended.button == MouseButton::Left {
            commands.write_batch(picking::clicked(scene, room, &view, &results, &sight, ended.start));
        }
    }
    if on_stage.is_some() && scroll.delta.y != 0.0 {
        let notches = if scroll.unit == MouseScrollUnit::Line { scroll.delta.y } else { scroll.delta.y / 40.0 };
        rig.zoom_by(view.camera, f64::from(notches));
    }
    let pointed = on_stage.filter(|_| press.is_none_or(|press| !press.is_drag)).and_then(|at| {
        let (from, way) = sight.ray(at);
        picking::surface_along(room, from, way, |_| true).map(|(_, place)| place.point)
    });
    if pointed != view.pointer && press.is_none_or(|press| !press.is_drag) {
        commands.write(Command::PointAt(pointed));
    }
}

/// Puts the camera where the rig says, into the stage's part of the window.
pub(super) fn place(
    window: Option<Single<&Window, With<PrimaryWindow>>>,
    (view, results): (Res<View>, Res<Results>),
    (area, rig): (Res<StageArea>, Res<Rig>),
    mut sight: ResMut<Sight>,
    mut unsettled: ResMut<Unsettled>,
    mut cameras: Query<(&mut Camera, &mut Transform, &mut Projection), With<StageCamera>>,
) {
    let area = window.as_ref().map_or(*area, |window| area_in(window, *area));
    let mut next = Sight { area, ..*sight };
    if let Some(room) = &results.room {
        next.pose = rig.pose(&room.value, view.camera);
    }
    let viewport = window.as_ref().and_then(|window| viewport(window, area));
    for (mut camera, mut transform, mut projection) in &mut cameras {
        let frame = |viewport: &Viewport| (viewport.physical_position, viewport.physical_size);
        if camera.viewport.as_ref().map(frame) != viewport.as_ref().map(frame) {
            camera.viewport.clone_from(&viewport);
        }
        if *sight != next || transform.is_added() {
            *transform = next.pose.transform();
            *projection = next.pose.projection(next.aspect());
        }
    }
    if *sight != next {
        *sight = next;
        unsettled.0 = unsettled.0.max(2);
    }
}

/// The stage's part of the window, physical pixels.
fn viewport(window: &Window, area: StageArea) -> Option<Viewport> {
    let whole = UVec2::new(window.physical_width(), window.physical_height());
    let physical = |at: Vec2| (at * window.scale_factor()).round().max(Vec2::ZERO).as_uvec2().min(whole);
    let (low, high) = (physical(area.low), physical(area.high));
    let size = high.saturating_sub(low);
    (size.min_element() > 0).then(|| Viewport { physical_position: low, physical_size: size, ..default() })
}

/// Draws on while the wavefront runs or a pressure moves, and until what has changed is on screen.
pub(super) fn keep_drawing(view: Res<View>, mut unsettled: ResMut<Unsettled>, mut redraw: MessageWriter<RequestRedraw>) {
    if unsettled.0 > 0 {
        unsettled.0 -= 1;
    } else if !view.playing && !view.low_end.playing {
        return;
    }
    redraw.write(RequestRedraw);
}
