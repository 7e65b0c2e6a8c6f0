//! The hand on the stage: what the pointer could take hold of, what it holds and drags, what it hangs from the stock; and the keys that
//! move and turn what is chosen.
//!
//! A press on a thing that does not move is a click; one that moves drags it: [`Command::BeginDrag`], a move whenever the
//! pointer means another place, [`Command::EndDrag`]. A place that is refused stays wanted until the pointer means another one, so the text
//! keeps the last good place. A drag that something else ends - Escape, undo - is let go.

use bevy::input::ButtonState;
use bevy::input::keyboard::KeyboardInput;
use bevy::math::{DVec2, DVec3};
use bevy::prelude::*;
use bevy::window::PrimaryWindow;
use bevy_egui::input::EguiWantsInput;
use roomwright::plan::HotSpot;
use roomwright::study;

use super::camera::Sight;
use super::drag::{self, Desk, Grip, Guide, Held, Meant};
use super::handle::Handle;
use super::{control, handle, picking, thing};
use crate::command::Command;
use crate::document::Document;
use crate::results::Results;
use crate::view::{Thing, View};

/// How far an arrow key moves what is chosen, meters; and with Shift.
const NUDGE: [f64; 2] = [0.010, 0.100];

/// How far an arrow key with Ctrl tilts a cloud that is chosen, degrees; and with Shift.
const TILT: [f64; 2] = [1.0, 5.0];

/// What the hand does, as far as it is drawn.
#[derive(Clone, Debug, Default, PartialEq, Resource)]
pub(super) struct Hand {
    /// What the pointer could take hold of.
    pub(super) pointed: Option<Thing>,
    /// The handle of the chosen cloud that is pointed at or held.
    pub(super) handle: Option<Handle>,
    /// What is dragged.
    pub(super) dragged: Option<Thing>,
    /// Whether a press that began on a thing lasts.
    pub(super) is_closed: bool,
    /// Where a panel from the stock would hang.
    pub(super) offered: Option<Command>,
    /// What it fell into line with.
    pub(super) guides: Vec<Guide>,
}

/// A press that began on a thing, or hangs a panel.
pub(super) struct Press {
    start: Vec2,
    grip: Grip,
    is_drag: bool,
    /// Whether it began beside the stage: one panel is dragged from the stock.
    is_from_list: bool,
    /// Whether the session has begun the drag.
    is_begun: bool,
    asked: Option<Command>,
    /// The hot spots as they were: what is dragged changes them.
    spots: Vec<HotSpot>,
}

/// What the hand reads.
#[derive(bevy::ecs::system::SystemParam)]
pub(super) struct Senses<'w, 's> {
    window: Option<Single<'w, 's, &'static Window, With<PrimaryWindow>>>,
    buttons: Res<'w, ButtonInput<MouseButton>>,
    gesture: Res<'w, control::Gesture>,
    keys: Res<'w, ButtonInput<KeyCode>>,
    wants: Option<Res<'w, EguiWantsInput>>,
    document: Res<'w, Document>,
    view: Res<'w, View>,
    results: Res<'w, Results>,
    sight: Res<'w, Sight>,
}

impl Senses<'_, '_> {
    /// Whether anything may be changed by hand: the scene on screen is the one of the text, no question is open, and no form waits for a press.
    fn is_able(&self) -> bool {
        let is_asked = self.view.question.is_some() || self.view.asks_place;
        self.document.is_open() && !self.document.is_broken() && !self.results.is_sketch && !is_asked
    }

    fn held(&self) -> Held {
        Held {
            is_free: self.keys.any_pressed([KeyCode::ShiftLeft, KeyCode::ShiftRight]),
            is_upright: self.keys.any_pressed([KeyCode::ControlLeft, KeyCode::ControlRight]),
        }
    }

    /// What a drag is decided by, with these hot spots.
    fn desk<'a>(&'a self, spots: &'a [HotSpot]) -> Option<Desk<'a>> {
        let (scene, room) = (self.results.scene.as_deref()?, &*self.results.room.as_ref()?.value);
        Some(Desk { scene, room, sight: &self.sight, spots })
    }

    fn spots(&self) -> &[HotSpot] {
        self.results.hot_spots.as_ref().map_or(&[], |known| &known.value)
    }

    /// The panel of the chosen type in the hand, if one is to be hung and something here could carry it; and the place that it means. A
    /// panel that hangs here already is rather taken itself.
    fn stock_panel(&self, desk: &Desk<'_>, at: Vec2) -> Option<(Grip, Meant)> {
        let kind = self.view.stock.or_else(|| study::usual_panel(desk.scene)).filter(|_| self.view.hanging)?;
        if matches!(self.thing_at(desk, at), Some((Thing::Panel(_), _))) {
            return None;
        }
        let grip = Grip::fresh(desk, desk.scene.stock.get(kind)?, at)?;
        let meant = grip.meant(desk, at, self.held())?;
        Some((grip, meant))
    }

    /// The handle of the chosen cloud under the pointer; not while panels are hung by hand.
    fn handle_at(&self, desk: &Desk<'_>, at: Vec2) -> Option<Handle> {
        handle::under(desk.scene, self.view.chosen.filter(|_| !self.view.hanging), desk.sight, at)
    }

    fn thing_at(&self, desk: &Desk<'_>, at: Vec2) -> Option<(Thing, DVec3)> {
        picking::thing_at(desk.scene, desk.room, self.view.camera, desk.sight, at)
    }
}

/// The hand.
pub(super) fn reach(
    senses: Senses<'_, '_>,
    (mut press, mut is_from_list): (Local<Option<Press>>, Local<bool>),
    mut hand: ResMut<Hand>,
    mut commands: MessageWriter<Command>,
) {
    let mut next = Hand::default();
    let cursor = senses.gesture.up.or_else(|| senses.window.as_ref().and_then(|window| window.cursor_position()));
    let is_pressed = senses.buttons.just_pressed(MouseButton::Left);
    let place = senses.gesture.down.filter(|_| is_pressed).or(cursor);
    let on_stage = place.filter(|at| control::is_on_stage(*at, &senses.sight, senses.wants.as_deref()));
    let is_dragged = senses.document.is_dragged();
    if press.as_mut().is_some_and(|press| {
        let is_over = press.is_begun && !is_dragged;
        press.is_begun |= is_dragged;
        is_over || !senses.is_able()
    }) {
        *press = None;
    }
    *is_from_list = if is_pressed { on_stage.is_none() } else { *is_from_list && senses.buttons.pressed(MouseButton::Left) };
    if press.is_none() && senses.is_able() {
        if let Some(at) = on_stage.filter(|_| is_pressed || *is_from_list && senses.view.hanging) {
            *press = taken(&senses, at, *is_from_list, &mut commands);
        } else if let Some(at) = on_stage.filter(|_| senses.buttons.get_pressed().next().is_none()) {
            point_at(&senses, at, &mut next);
        }
    }
    if let Some(pressed) = press.as_mut() {
        if let Some(at) = cursor {
            drag_on(&senses, pressed, at, &mut next, &mut commands);
        }
        next.is_closed = true;
        if !senses.buttons.pressed(MouseButton::Left) {
            released(&senses, pressed, &mut commands);
            *press = None;
            // Closed to the end of this frame: the press was the hand's, even one that began in it.
            next = Hand { is_closed: true, ..Hand::default() };
        }
    }
    hand.set_if_neq(next);
}

/// A press on the stage takes hold of what is there, or of a panel from the stock, which it hangs at once.
fn taken(senses: &Senses<'_, '_>, at: Vec2, is_from_list: bool, commands: &mut MessageWriter<Command>) -> Option<Press> {
    let spots = senses.spots();
    let desk = senses.desk(spots)?;
    let press =
        |grip: Grip, is_drag: bool| Press { start: at, grip, is_drag, is_from_list, is_begun: false, asked: None, spots: spots.to_vec() };
    if let Some((grip, _)) = senses.stock_panel(&desk, at) {
        commands.write(Command::BeginDrag);
        return Some(press(grip, true));
    }
    if let Some(handle) = senses.handle_at(&desk, at).filter(|_| !is_from_list) {
        return Grip::pull(&desk, senses.view.chosen, handle, at).map(|grip| press(grip, false));
    }
    let (thing, point) = senses.thing_at(&desk, at).filter(|_| !is_from_list)?;
    Grip::take(&desk, thing, at, point, senses.held()).map(|grip| press(grip, false))
}

/// What could be taken here, or where the panel from the stock would hang.
fn point_at(senses: &Senses<'_, '_>, at: Vec2, next: &mut Hand) {
    let Some(desk) = senses.desk(senses.spots()) else { return };
    if let Some((_, meant)) = senses.stock_panel(&desk, at) {
        (next.offered, next.guides) = (Some(meant.command), meant.guides);
    } else if let Some(handle) = senses.handle_at(&desk, at) {
        (next.handle, next.pointed) = (Some(handle), senses.view.chosen);
    } else {
        next.pointed = senses.thing_at(&desk, at).map(|(thing, _)| thing);
    }
}

/// The pointer is here while something is held.
fn drag_on(senses: &Senses<'_, '_>, press: &mut Press, at: Vec2, next: &mut Hand, commands: &mut MessageWriter<Command>) {
    let Some(desk) = senses.desk(&press.spots) else { return };
    let thing = press.grip.thing;
    if !press.is_drag && at.distance(press.start) > control::CLICK {
        press.is_drag = true;
        commands.write_batch([Command::BeginDrag, Command::Choose(Some(thing))]);
    }
    (next.pointed, next.handle) = (Some(thing), press.grip.handle());
    if !press.is_drag {
        return;
    }
    next.dragged = Some(thing);
    let grip = press.grip.clone().held(&desk, at, senses.held());
    if let Some(meant) = grip.meant(&desk, at, senses.held()) {
        if press.asked.as_ref() != Some(&meant.command) {
            commands.write(meant.command.clone());
            press.asked = Some(meant.command);
        }
        next.guides = meant.guides;
    }
    press.grip = grip;
}

/// The hand opens.
fn released(senses: &Senses<'_, '_>, press: &Press, commands: &mut MessageWriter<Command>) {
    if press.is_drag {
        commands.write(Command::EndDrag);
        if press.is_from_list {
            commands.write(Command::HangByHand(false));
        }
    } else if press.grip.handle().is_none()
        && let Some(desk) = senses.desk(&press.spots)
    {
        commands.write_batch(picking::clicked(desk.scene, desk.room, &senses.view, &senses.results, &senses.sight, press.start));
    }
}

/// Keys that move and turn what is chosen: arrows, with Ctrl tilting a cloud, `PageUp` and `PageDown`, R. All moves while a key is held are one step of undo.
pub(super) fn nudge(
    mut is_held: Local<bool>,
    senses: Senses<'_, '_>,
    hand: Res<Hand>,
    mut pressed: MessageReader<KeyboardInput>,
    mut commands: MessageWriter<Command>,
) {
    let ways = [
        (KeyCode::ArrowRight, DVec2::X, 0.0),
        (KeyCode::ArrowLeft, DVec2::NEG_X, 0.0),
        (KeyCode::ArrowUp, DVec2::Y, 0.0),
        (KeyCode::ArrowDown, DVec2::NEG_Y, 0.0),
        (KeyCode::PageUp, DVec2::ZERO, 1.0),
        (KeyCode::PageDown, DVec2::ZERO, -1.0),
    ];
    if *is_held && !senses.keys.any_pressed(ways.map(|(key, ..)| key)) {
        commands.write(Command::EndDrag);
        *is_held = false;
    }
    let is_typing = senses.wants.as_ref().is_some_and(|wants| wants.wants_any_keyboard_input());
    let chosen = senses.view.chosen.filter(|_| senses.is_able() && !is_typing && !hand.is_closed);
    let (Some(thing), Some(desk)) = (chosen, senses.desk(&[])) else {
        pressed.clear();
        return;
    };
    let step = NUDGE[usize::from(senses.held().is_free)];
    for input in pressed.read().filter(|input| input.state == ButtonState::Pressed) {
        if let (KeyCode::KeyR, Thing::Panel(panel), false) = (input.key_code, thing, input.repeat) {
            commands.write_batch(thing::turned(desk.scene, panel));
        }
        let Some((_, arrow, rise)) = ways.into_iter().find(|(key, ..)| *key == input.key_code) else { continue };
        let nudged = || drag::nudged(desk.scene, desk.sight, thing, arrow * step, rise * step);
        let tilts = senses.held().is_upright && arrow != DVec2::ZERO;
        let leaned = || handle::leaned(desk.scene, desk.sight, thing, arrow, TILT[usize::from(senses.held().is_free)]);
        let Some(command) = (if tilts { leaned() } else { None }).or_else(nudged) else { continue };
        if !*is_held {
            commands.write(Command::BeginDrag);
            *is_held = true;
        }
        commands.write(command);
    }
}

#[cfg(test)]
#[path = "hand_tests.rs"]
mod tests;
