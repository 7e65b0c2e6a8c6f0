//! Doors, windows and hatches.

use bevy_egui::egui::Ui;
use roomwright::report::text::figures::length;
use roomwright::scene::{Opening, OpeningKind, Scene};

use super::rectangle::Fields;
use super::{Draft, adding, choice, free_name, line, material, name, rows, surfaces};
use crate::command::Command;
use crate::ui::say::remark;
use crate::ui::tokens::small;
use crate::ui::{Asked, Shown};
use crate::view::Pressed;

/// Kinds with their words and usual size: lower edge, width, height in meters, material.
const KINDS: [(OpeningKind, &str, [f64; 3], &str); 3] = [
    (OpeningKind::Door, "door", [0.0, 0.8, 1.98], "Solid wooden door"),
    (OpeningKind::Window, "window", [0.9, 1.2, 1.1], "Glass 4 mm"),
    (OpeningKind::Hatch, "hatch", [0.0, 0.6, 0.6], "Solid wooden door"),
];

/// What is typed.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Form {
    kind: OpeningKind,
    name: String,
    surface: String,
    place: Fields,
    pub(super) material: String,
}

impl Form {
    fn blank(scene: &Scene, kind: OpeningKind) -> Self {
        let (_, word, [bottom, width, height], material) = KINDS[of(kind)];
        Self {
            kind,
            name: free_name(word, scene.openings.iter().map(|opening| opening.name.as_str())),
            surface: surfaces(scene).next().unwrap_or_default().to_owned(),
            place: Fields::sized(bottom, width, height, scene),
            material: material.to_owned(),
        }
    }

    fn of(scene: &Scene, opening: &Opening) -> Self {
        Self {
            kind: opening.kind,
            name: opening.name.clone(),
            surface: opening.surface.clone(),
            place: Fields::of(&opening.place, scene),
            material: opening.material.clone(),
        }
    }

    pub(super) fn new_title(&self) -> String {
        format!("Add a {}", KINDS[of(self.kind)].1)
    }

    pub(super) fn show(&mut self, ui: &mut Ui, scene: &Scene) {
        line(ui, "kind", |ui, _| {
            for (kind, word, ..) in KINDS {
                ui.radio_value(&mut self.kind, kind, small(word));
            }
        });
        name(ui, &mut self.name);
        choice(ui, "on", surfaces(scene), &mut self.surface);
        self.place.show(ui, scene, true);
        material(ui, scene, &mut self.material);
        remark(ui, "The left edge from the wall's left end, as you see it from inside; the lower edge from the floor.");
    }

    pub(super) fn command(&self, scene: &Scene, of: Option<&str>) -> Option<Command> {
        let name = Some(self.name.trim()).filter(|name| !name.is_empty())?;
        let opening = Opening {
            name: name.to_owned(),
            kind: self.kind,
            surface: self.surface.clone(),
            place: self.place.read(scene)?,
            material: self.material.clone(),
        };
        Some(match of {
            Some(old) => Command::ChangeOpening { name: old.to_owned(), opening },
            None => Command::AddOpening(opening),
        })
    }

    /// A door keeps its height over the floor.
    pub(super) fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        if surfaces(scene).any(|surface| surface == pressed.surface) {
            self.surface.clone_from(&pressed.surface);
            self.place.place(scene, pressed, self.kind != OpeningKind::Door);
        }
    }
}

/// The row of [`KINDS`].
fn of(kind: OpeningKind) -> usize {
    match kind {
        OpeningKind::Door => 0,
        OpeningKind::Window => 1,
        OpeningKind::Hatch => 2,
    }
}

/// The list of openings.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, draft: &mut Draft, asked: &mut Asked) {
    let is_kind = |form: &super::Form| matches!(form, super::Form::Opening(_));
    let words = scene.openings.iter().map(|opening| {
        let place = &opening.place;
        let at = format!("{}, {} from the left", opening.surface, length(place.left, scene));
        let size = format!("{} wide, {} high, {} up", length(place.width, scene), length(place.height, scene), length(place.bottom, scene));
        (opening.name.clone(), [at, size])
    });
    let heads = ["<name", "<on", "<measures"];
    let none = "None: no door, no window.";
    let clicked = rows(ui, "Doors, windows, hatches", none, heads, words.collect(), |name| draft.is_of(name, is_kind));
    if let Some(opening) = clicked.and_then(|row| scene.openings.get(row)) {
        draft.open(super::Form::Opening(Form::of(scene, opening)), Some(opening.name.clone()));
    }
    if let Some(word) = adding(ui, &["add a door", "add a window", "add a hatch"])
        && let Some((kind, ..)) = KINDS.into_iter().find(|(_, known, ..)| word.ends_with(known))
    {
        draft.open(super::Form::Opening(Form::blank(scene, kind)), None);
    }
    draft.show(ui, shown, scene, asked, is_kind);
}
