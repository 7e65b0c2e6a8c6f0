//! A scene, a sound or a recording chosen in the window: folders and such files of one folder, a name that is typed, the keyboard.
//!
//! Up and down go through the list, Enter takes what the name says: a folder is looked into, a scene opened or saved. A name may be a whole
//! path.

use std::path::{Path, PathBuf};

use bevy_egui::egui::{Button, Key, Label, Modifiers, ScrollArea, Sense, TextEdit, Ui, WidgetInfo, WidgetType, vec2};

use super::tokens::{ACCENT, CARD, INK, QUIET, SHADE, quiet, small, table_letters};
use super::{Asked, Shown};
use crate::command::Command;
use crate::proving::ProveChoice;
use crate::shelf::{SCENE, SOUND, ends_in};
use crate::sound::SoundChoice;

/// Height of a row of the list.
const ROW: f32 = 20.0;
/// Height of the list.
const LIST: f32 = 260.0;
/// Why there may be none of a phone.
const PHONE: &str = " A phone saves other files (.m4a, .3gp) until its recorder is set to WAV or lossless.";
/// The row that leads out of the folder.
const UP: &str = "..";

/// What the file is for.
#[derive(Clone, Copy, PartialEq)]
pub(crate) enum Wanted<'a> {
    /// To be opened.
    Open,
    /// A sound, to be listened to.
    Sound,
    /// To be saved; under this name if nothing else is typed.
    Save(&'a Path),
    /// To be listed as a recording; or as that of before, of the one with this number.
    Listen(Option<usize>),
}

impl Wanted<'_> {
    /// How names of such files end.
    fn ending(self) -> &'static str {
        if matches!(self, Self::Sound | Self::Listen(_)) { SOUND } else { SCENE }
    }
}

/// What is typed, of which folder.
#[derive(Default)]
pub(crate) struct Draft {
    name: Option<String>,
    folder: PathBuf,
}

/// A row: its name, whether it is a folder.
type Row<'a> = (&'a str, bool);

/// The rows, the name, the buttons.
pub(crate) fn chooser(ui: &mut Ui, shown: Shown<'_>, draft: &mut Draft, wanted: Wanted<'_>, asked: &mut Asked) {
    let folder = shown.shelf.folder();
    let held = folder.held.iter().filter(|held| held.is_folder || ends_in(&held.name, wanted.ending()));
    let rows: Vec<Row<'_>> = std::iter::once((UP, true)).chain(held.map(|held| (held.name.as_str(), held.is_folder))).collect();
    let usual = match wanted {
        Wanted::Open | Wanted::Sound | Wanted::Listen(_) => String::new(),
        Wanted::Save(proposed) => proposed.display().to_string(),
    };
    if draft.folder != folder.path {
        draft.folder.clone_from(&folder.path);
        // The name of a row of another folder means nothing here; one that is to be saved does.
        if !matches!(wanted, Wanted::Save(_)) {
            draft.name = None;
        }
    }
    let is_first = draft.name.is_none();
    let name = draft.name.get_or_insert(usual);
    ui.add(Label::new(quiet(folder.path.display().to_string())).truncate());
    let step = ui.input_mut(|input| {
        let down = input.consume_key(Modifiers::NONE, Key::ArrowDown);
        i32::from(down) - i32::from(input.consume_key(Modifiers::NONE, Key::ArrowUp))
    });
    let chosen = rows.iter().position(|row| row.0 == name.as_str());
    let moved = (step != 0).then(|| stepped(chosen, step, rows.len()));
    if let Some(row) = moved {
        rows[row].0.clone_into(name);
    }
    let entered = list(ui, &rows, name, moved, wanted);
    let taken = typed(ui, name, is_first, wanted);
    let is_said = !name.trim().is_empty();
    let mut meaning = None;
    ui.horizontal(|ui| {
        let word = match wanted {
            Wanted::Open | Wanted::Sound => "Open",
            Wanted::Save(_) => "Save there",
            Wanted::Listen(_) => "Take it",
        };
        let pressed = ui.add_enabled(is_said, Button::new(word)).clicked();
        meaning = (is_said && (pressed || taken || entered)).then(|| meant(&rows, &folder.path, name.trim(), wanted));
        if ui.button("Leave it").clicked() || ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape)) {
            asked.push(Command::Stay);
        }
    });
    if matches!(meaning, Some(Command::LookInto(_))) {
        // The folder's name is no name for a file.
        draft.name = None;
    }
    asked.extend(meaning);
}

/// The row after or before this one.
fn stepped(chosen: Option<usize>, step: i32, count: usize) -> usize {
    match (chosen, step > 0) {
        (None, true) => usize::from(count > 1),
        (None, false) => count - 1,
        (Some(row), true) => (row + 1).min(count - 1),
        (Some(row), false) => row.saturating_sub(1),
    }
}

/// What a name in a folder means: a folder that is looked into, or a file.
fn meant(rows: &[Row<'_>], folder: &Path, name: &str, wanted: Wanted<'_>) -> Command {
    let path = folder.join(name);
    let is_folder = name.ends_with(['/', '\\']) || name == "." || rows.iter().any(|row| row.1 && row.0 == name);
    match wanted {
        _ if is_folder => Command::LookInto(path),
        Wanted::Open => Command::Open(path),
        Wanted::Sound => Command::Sound(SoundChoice::File(path)),
        Wanted::Save(_) => Command::SaveAs(path),
        Wanted::Listen(before_of) => Command::Prove(ProveChoice::Take(before_of, path)),
    }
}

/// The rows; a click takes the name, two take what it means. Whether it is to be taken.
fn list(ui: &mut Ui, rows: &[Row<'_>], name: &mut String, moved: Option<usize>, wanted: Wanted<'_>) -> bool {
    let mut entered = false;
    ui.scope(|ui| {
        ui.style_mut().visuals.extreme_bg_color = CARD;
        ScrollArea::vertical().id_salt("files").max_height(LIST).min_scrolled_height(LIST).auto_shrink([false, true]).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 0.0;
            for (index, (row, is_folder)) in rows.iter().enumerate() {
                let is_chosen = row == name;
                let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), ROW), Sense::click());
                response.widget_info(|| WidgetInfo::selected(WidgetType::SelectableLabel, true, is_chosen, *row));
                if moved == Some(index) {
                    response.scroll_to_me(None);
                }
                if is_chosen {
                    ui.painter().rect_filled(rect, 0.0, SHADE);
                }
                let ink = if response.hovered() { ACCENT } else { INK };
                let words = match (*is_folder, *row) {
                    (_, UP) => "../   (the folder above)".to_owned(),
                    (true, _) => format!("{row}/"),
                    _ => (*row).to_owned(),
                };
                let place = rect.left_center() + vec2(6.0, 0.0);
                ui.painter().text(place, bevy_egui::egui::Align2::LEFT_CENTER, words, table_letters(), ink);
                // A folder is looked into at once; a scene is named first, so that one sees what will be opened or taken for the name.
                if response.clicked() {
                    (*row).clone_into(name);
                    entered |= *is_folder;
                }
                entered |= response.double_clicked() && !matches!(wanted, Wanted::Save(_));
            }
            if rows.len() == 1 {
                let what = match wanted {
                    Wanted::Open | Wanted::Save(_) => "scene",
                    Wanted::Sound => "sound",
                    Wanted::Listen(_) => "recording",
                };
                let hint = if matches!(wanted, Wanted::Listen(_)) { PHONE } else { "" };
                ui.add(Label::new(small(format!("No folder and no {what} (*.{}) in here.{hint}", wanted.ending())).color(QUIET)).wrap());
            }
        });
    });
    entered
}

/// The name. Whether Enter was pressed in it.
fn typed(ui: &mut Ui, name: &mut String, is_first: bool, wanted: Wanted<'_>) -> bool {
    ui.horizontal(|ui| {
        let label = ui.label(if matches!(wanted, Wanted::Save(_)) { "Save as" } else { "file" });
        let field = ui.add(TextEdit::singleline(name).desired_width(ui.available_width() - 8.0)).labelled_by(label.id);
        if is_first {
            field.request_focus();
        }
        let entered = field.lost_focus() && ui.input(|input| input.key_pressed(Key::Enter));
        if entered {
            field.request_focus();
        }
        entered
    })
    .inner
}
