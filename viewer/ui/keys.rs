//! The keyboard. While something is typed only opening, saving and pictures work.
//!
//! | key | what it does |
//! | --- | --- |
//! | Ctrl+O | asks which scene to open |
//! | Ctrl+S; Ctrl+Shift+S | saves; asks where to save to |
//! | Ctrl+P | writes the stage as a picture beside the scene |
//! | Ctrl+Z; Ctrl+Y or Ctrl+Shift+Z | takes back; does again |
//! | B | the other one of two layouts |
//! | P | plays what is listened to, on the pages that offer it; anywhere holds it |
//! | X | what is heard goes from A to B, or back, on these pages |
//! | M | absorbers beneath the stage, to search at once; again: plots. In the search: Enter puts the first that was found beside the others, Escape leaves it |
//! | Delete | takes the chosen panel down, removes the chosen opening, block or clearance |
//! | Escape | ends a form's asking for a place, else takes back a drag under way, else ends hanging by hand, else lets go of what is chosen |
//! | arrows | move what is chosen by 10 mm, with Shift by 100 mm; on its surface, or along the room's axis that the arrow means on screen |
//! | Page Up, Page Down | raise and lower it by as much |
//! | Ctrl and an arrow | lifts that edge of the chosen cloud by a degree, with Shift by five |
//! | R | turns the chosen panel upright or lying, a cloud by a quarter |
//!
//! The last four need to know how the room is looked at and are read by the stage (`stage::hand`), as is what the keys mean while the mouse
//! drags: Shift, nothing falls into line; Ctrl, up and down.

use bevy_egui::egui::{Context, Key, KeyboardShortcut, Modifiers};

use super::{Asked, Shown, listen};
use crate::command::Command;
use crate::proving::ProveChoice;
use crate::stage;
use crate::view::Strip;

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
    if pressed(Modifiers::COMMAND, Key::P) {
        asked.push(Command::ExportPicture(None));
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
    listen::keys(shown, pressed, asked);
    if pressed(Modifiers::NONE, Key::M) {
        let strip = if shown.view.strip == Strip::Absorbers { Strip::Plots } else { Strip::Absorbers };
        asked.push(Command::ChooseStrip(strip));
    }
    if let (Some(thing), Some(scene)) = (shown.view.chosen, &shown.results.scene)
        && pressed(Modifiers::NONE, Key::Delete)
    {
        asked.extend(stage::removed(scene, thing));
    }
    if pressed(Modifiers::NONE, Key::Escape) {
        if shown.view.asks_place {
            asked.push(Command::AskPlace(false));
        } else if shown.document.is_dragged() {
            asked.push(Command::CancelDrag);
        } else if shown.view.hanging {
            asked.push(Command::HangByHand(false));
        } else {
            asked.extend([Command::ChooseArrival(None), Command::ChooseHotSpot(None), Command::Choose(None)]);
            asked.extend(shown.view.proving.told.map(|_| Command::Prove(ProveChoice::Tell(None))));
        }
    }
}
