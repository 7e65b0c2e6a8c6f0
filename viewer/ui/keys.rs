//! The keyboard: open, save, undo, redo, layouts A and B, taking down, letting go. While something is typed only opening and saving work.

use bevy_egui::egui::{Context, Key, KeyboardShortcut, Modifiers};

use super::{Asked, Shown};
use crate::command::Command;

/// Reads the keys of this pass.
pub(crate) fn keys(ctx: &Context, shown: Shown<'_>, asked: &mut Asked) {
    let is_typing = ctx.egui_wants_keyboard_input();
    let pressed = |modifiers, key| ctx.input_mut(|input| input.consume_shortcut(&KeyboardShortcut::new(modifiers, key)));
    if shown.view.question.is_some() {
        return;
    }
    if !shown.document.is_open() {
        if pressed(Modifiers::COMMAND, Key::O) {
            asked.push(Command::AskFile);
        }
        return;
    }
    if pressed(Modifiers::COMMAND | Modifiers::SHIFT, Key::S) {
        asked.push(Command::AskWhere);
    } else if pressed(Modifiers::COMMAND, Key::S) {
        asked.push(Command::Save);
    }
    if pressed(Modifiers::COMMAND, Key::O) {
        asked.push(Command::AskFile);
    }
    if is_typing {
        return;
    }
    // The one with more modifiers first: the other would take its key.
    if pressed(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z) || pressed(Modifiers::COMMAND, Key::Y) {
        asked.push(Command::Redo);
    } else if pressed(Modifiers::COMMAND, Key::Z) {
        asked.push(Command::Undo);
    }
    if pressed(Modifiers::NONE, Key::B) {
        asked.push(Command::ToggleLayout);
    }
    if let Some(panel) = shown.view.panel
        && pressed(Modifiers::NONE, Key::Delete)
    {
        asked.push(Command::RemovePanel(panel));
    }
    if shown.view.asks_place {
        if pressed(Modifiers::NONE, Key::Escape) {
            asked.push(Command::AskPlace(false));
        }
    } else if pressed(Modifiers::NONE, Key::Escape) {
        asked.extend([Command::ChooseReflection(None), Command::ChooseHotSpot(None), Command::ChoosePanel(None)]);
    }
}
