//! The page without a scene: a new room by its measures and materials, a file, or one of the rooms to look around in.

use bevy_egui::egui::{
    Align2, Button, FontId, Id, Label, RichText, ScrollArea, Sense, Stroke, StrokeKind, TextEdit, Ui, WidgetInfo, WidgetType, vec2,
};
use roomwright::scene::starter::RoomSizeError;
use roomwright::scene::{Activity, RoomSize};
use roomwright::units::{Length, LengthUnit};

use super::say::line;
use super::stepper::{stepped, stepper};
use super::swatch::{self, Pattern};
use super::tokens::{ACCENT, CARD, GAP, INK, LINE, PAGE, PAGE_SIDE, QUIET, heading, quiet, subheading, table_letters, wrong};
use super::{Asked, Drafts, Shown, lesson};
use crate::command::{Command, NewRoom};

/// Width of the words before a line of the form.
const WHAT: f32 = 66.0;

/// Sides of a room, as the form calls them.
const SIDES: [&str; 3] = ["length", "width", "height"];

/// Units to choose from; any measure may name another.
const UNITS: [(LengthUnit, &str); 2] = [(LengthUnit::Meter, "meters"), (LengthUnit::Foot, "feet and inches")];

/// What is typed and chosen.
pub(crate) struct Draft {
    name: String,
    /// Length, width, height.
    sides: [String; 3],
    unit: LengthUnit,
    activity: Activity,
    /// Walls, floor, ceiling: index into their choices.
    materials: [usize; 3],
}

impl Default for Draft {
    fn default() -> Self {
        Self {
            name: "My room".to_owned(),
            sides: ["4 m", "3 m", "2.5 m"].map(str::to_owned),
            unit: LengthUnit::Meter,
            activity: Activity::Mixing,
            materials: [0; 3],
        }
    }
}

/// A common material: a short word, its drawing, its name in the table.
pub(crate) type Choice = (&'static str, Pattern, &'static str);

/// Common walls, floors and ceilings.
pub(crate) const CHOICES: [(&str, &[Choice]); 3] = [
    (
        "walls",
        &[
            ("plasterboard", Pattern::Board, "Plasterboard on frame, 100 mm air space"),
            ("plaster on masonry", Pattern::Plaster, "Lime-cement plaster on masonry"),
            ("bare brick", Pattern::Brick, "Standard brickwork"),
            ("concrete", Pattern::Concrete, "Smooth unpainted concrete"),
            ("wood lining", Pattern::Lining, "Wood 16 mm on 40 mm studs"),
        ],
    ),
    (
        "floor",
        &[
            ("boards on joists", Pattern::Boards, "Wood floor (on joists)"),
            ("parquet on concrete", Pattern::Parquet, "Wood parquet in asphalt on concrete"),
            ("linoleum, cork", Pattern::Linoleum, "Linoleum / rubber / cork tile on concrete"),
            ("concrete", Pattern::Screed, "Concrete floor"),
            ("thick carpet", Pattern::Carpet, "Heavy carpet on concrete"),
        ],
    ),
    (
        "ceiling",
        &[
            ("plasterboard", Pattern::Board, "Plasterboard ceiling on battens, large air space above"),
            ("plaster", Pattern::Plaster, "Lime-cement plaster on masonry"),
            ("concrete", Pattern::Concrete, "Smooth unpainted concrete"),
            ("hung tiles", Pattern::Tiles, "Acoustic tile, suspended"),
            ("wood lining", Pattern::Lining, "Wood 16 mm on 40 mm studs"),
        ],
    ),
];

/// Rooms to look around in: what they ask, and their text. Saving one asks where to.
const ROOMS: [(&str, &str); 3] = [
    ("Attic voice room: one side has a sloped ceiling", include_str!("../../scenes/attic-voice-room.toml")),
    ("Basement mix room", include_str!("../../scenes/basement-mix-room.toml")),
    ("L-shaped rehearsal room", include_str!("../../scenes/l-shaped-rehearsal-room.toml")),
];

impl Draft {
    /// One side, or what is wrong with it.
    fn side(&self, which: usize) -> Result<Length, RoomSizeError> {
        let read = if which == 2 { RoomSize::read_height } else { RoomSize::read_side };
        read(self.sides[which].trim(), self.unit)
    }

    fn room(&self) -> Option<NewRoom> {
        let name = Some(self.name.trim()).filter(|name| !name.is_empty())?.to_owned();
        let [length, width, height] = [0, 1, 2].map(|which| self.side(which).ok());
        let size = RoomSize { length: length?, width: width?, height: height?, unit: self.unit };
        let material = |which: usize| CHOICES[which].1.get(self.materials[which]).map(|choice| choice.2.to_owned());
        Some(NewRoom { name, size, activity: self.activity, materials: [0, 1, 2].map(material) })
    }

    /// Makes a side larger or smaller by steps of its tape, as long as it may be that.
    fn step(&mut self, which: usize, steps: i32) {
        let Some(length) = self.side(which).ok().filter(|_| steps != 0) else { return };
        let stepped = Length(stepped(length.0, steps, self.unit, &(0.0..=f64::INFINITY))).print(self.unit);
        let before = std::mem::replace(&mut self.sides[which], stepped);
        if self.side(which).is_err() {
            self.sides[which] = before;
        }
    }

    /// Goes over to another unit; what reads is written in it.
    fn change_unit(&mut self, unit: LengthUnit) {
        for which in 0..3 {
            if let Ok(length) = self.side(which) {
                self.sides[which] = length.print(unit);
            }
        }
        self.unit = unit;
    }
}

/// The page.
pub(crate) fn start(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        let between = 6.0 * GAP;
        let beside = ui.available_width() >= PAGE + between + PAGE_SIDE;
        let width = if beside { PAGE + between + PAGE_SIDE } else { PAGE };
        ui.horizontal_top(|ui| {
            ui.add_space(((ui.available_width() - width) / 2.0).max(0.0));
            ui.vertical(|ui| {
                ui.set_width(PAGE);
                ui.add_space(2.0 * GAP);
                new_room(ui, &mut drafts.room, asked);
                if !beside {
                    ui.add_space(3.0 * GAP);
                    others(ui, shown, asked);
                }
            });
            if beside {
                ui.add_space(between);
                ui.vertical(|ui| {
                    ui.set_width(PAGE_SIDE);
                    ui.add_space(2.0 * GAP);
                    others(ui, shown, asked);
                });
            }
        });
    });
}

/// Rooms that there are: those opened last, a file, the ones to look around in.
fn others(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    ui.label(heading("A room you have"));
    recent(ui, shown, asked);
    ui.horizontal(|ui| {
        if ui.button("Open a scene file").on_hover_text("Ctrl+O").clicked() {
            asked.push(Command::AskFile);
        }
        ui.label(quiet("or drop it on the window"));
    });
    ui.add_space(3.0 * GAP);
    ui.label(heading("A room to look around in"));
    for (name, text) in ROOMS {
        if ui.button(name).clicked() {
            asked.push(Command::OpenCopy(text.to_owned()));
        }
    }
    ui.add(Label::new(quiet("Opened as a copy that has no file; saving asks where to.")).wrap());
    ui.add_space(3.0 * GAP);
    lesson::list(ui, asked);
    if let Some(notice) = &shown.view.notice {
        ui.add_space(GAP);
        ui.add(Label::new(wrong(notice)).wrap());
    }
}

/// Files opened or saved last; those that are gone can be forgotten.
fn recent(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    if shown.shelf.recent().is_empty() {
        ui.label(quiet("None opened yet."));
    }
    for recent in shown.shelf.recent() {
        let name = recent.path.file_name().unwrap_or(recent.path.as_os_str()).to_string_lossy().into_owned();
        let folder = recent.path.parent().map_or_else(String::new, |folder| folder.display().to_string());
        let whole = recent.path.display().to_string();
        ui.horizontal(|ui| {
            if recent.is_gone {
                let is_forgotten = ui.small_button("forget").on_hover_text("Take it off this list.").clicked();
                ui.label(RichText::new(name).color(QUIET)).on_hover_text(&whole);
                ui.add(Label::new(quiet(format!("is gone from {folder}"))).truncate()).on_hover_text(&whole);
                if is_forgotten {
                    asked.push(Command::Forget(recent.path.clone()));
                }
            } else {
                if ui.button(name).on_hover_text(&whole).clicked() {
                    asked.push(Command::Open(recent.path.clone()));
                }
                if recent.is_left_unsaved {
                    ui.label(wrong("has unsaved work").size(11.0)).on_hover_text("Opening it offers that.");
                }
                ui.add(Label::new(quiet(folder)).truncate()).on_hover_text(&whole);
            }
        });
    }
}

fn new_room(ui: &mut Ui, draft: &mut Draft, asked: &mut Asked) {
    ui.label(heading("New room"));
    line(ui, "name", WHAT, |ui, label| {
        ui.add(TextEdit::singleline(&mut draft.name).desired_width(300.0)).labelled_by(label);
        if draft.name.trim().is_empty() {
            ui.label(wrong("It needs a name.").size(11.0));
        }
    });
    line(ui, "unit", WHAT, |ui, _| {
        for (unit, word) in UNITS {
            if ui.radio(draft.unit == unit, word).clicked() && draft.unit != unit {
                draft.change_unit(unit);
            }
        }
        ui.label(quiet("any measure may name its own: 2.4 m, 610 mm, 8 ft 2 1/2 in"));
    });
    for (which, side) in SIDES.into_iter().enumerate() {
        line(ui, side, WHAT, |ui, label| measure(ui, draft, which, label));
    }
    for (which, (part, choices)) in CHOICES.iter().enumerate() {
        line(ui, part, WHAT, |ui, _| {
            for (index, choice) in choices.iter().enumerate() {
                if swatch_button(ui, part, choice, draft.materials[which] == index) {
                    draft.materials[which] = index;
                }
            }
        });
    }
    line(ui, "what for", WHAT, |ui, _| {
        for (activity, words) in [(Activity::Mixing, "two loudspeakers and a seat"), (Activity::Voice, "I talk or play into a microphone")]
        {
            ui.radio_value(&mut draft.activity, activity, words);
        }
    });
    let room = draft.room();
    ui.horizontal(|ui| {
        ui.add_space(WHAT + GAP);
        if ui.add_enabled(room.is_some(), Button::new(subheading("Begin"))).clicked() {
            asked.extend(room.map(Command::New));
        }
        ui.label(quiet("Doors, windows, slopes and what stands in the room come after."));
    });
}

/// The field of a side, and what is wrong with it beside it.
fn measure(ui: &mut Ui, draft: &mut Draft, which: usize, label: Id) {
    ui.add(TextEdit::singleline(&mut draft.sides[which]).desired_width(110.0)).labelled_by(label);
    let steps = ui.scope(|ui| stepper(ui, SIDES[which])).inner;
    draft.step(which, steps);
    match draft.side(which) {
        Err(mistake) => _ = ui.add(Label::new(wrong(mistake.to_string()).size(11.0)).wrap()),
        // What was understood, where it is not what was typed.
        Ok(length) if length.print(draft.unit) != draft.sides[which].trim() => {
            _ = ui.label(quiet(format!("= {}", length.print(draft.unit))));
        }
        Ok(_) => {}
    }
}

/// Whether it was clicked.
fn swatch_button(ui: &mut Ui, part: &str, choice: &Choice, is_chosen: bool) -> bool {
    let (word, pattern, material) = *choice;
    let (rect, response) = ui.allocate_exact_size(vec2(100.0, 62.0), Sense::click());
    response.widget_info(|| WidgetInfo::selected(WidgetType::RadioButton, true, is_chosen, format!("{part}: {word}")));
    let painter = ui.painter();
    painter.rect_filled(rect, 2.0, CARD);
    let drawing = rect.shrink(4.0).with_max_y(rect.top() + 42.0);
    swatch::draw(painter, drawing, pattern);
    let ink = if is_chosen { ACCENT } else { INK };
    painter.text(rect.center_bottom() - vec2(0.0, 3.0), Align2::CENTER_BOTTOM, word, FontId::proportional(9.5), ink);
    let edge = if is_chosen { Stroke::new(2.0, ACCENT) } else { Stroke::new(1.0, if response.hovered() { ACCENT } else { LINE }) };
    painter.rect_stroke(rect, 2.0, edge, StrokeKind::Inside);
    response.on_hover_text(RichText::new(material).font(table_letters())).clicked()
}
