//! The page without a scene: a new room by its measures and materials, a file, or one of the rooms to look around in.

use std::path::PathBuf;

use bevy_egui::egui::{
    Align2, Button, ComboBox, FontId, Label, RichText, ScrollArea, Sense, Stroke, StrokeKind, TextEdit, Ui, WidgetInfo, WidgetType, vec2,
};
use roomwright::scene::{Activity, RoomSize};
use roomwright::units::LengthUnit;

use super::swatch::{self, Pattern};
use super::tokens::{ACCENT, CARD, GAP, INK, LINE, PAGE, heading, quiet, small, subheading, table_letters, wrong};
use super::{Asked, Drafts, Shown};
use crate::command::{Command, NewRoom};

/// Width of the words before a line of the form.
const WHAT: f32 = 66.0;

/// What is typed and chosen.
pub(crate) struct Draft {
    name: String,
    /// Length, width, height.
    sides: [String; 3],
    unit: LengthUnit,
    activity: Activity,
    /// Walls, floor, ceiling: index into their choices.
    materials: [usize; 3],
    file: String,
}

impl Default for Draft {
    fn default() -> Self {
        Self {
            name: "My room".to_owned(),
            sides: ["3.6", "2.9", "2.4"].map(str::to_owned),
            unit: LengthUnit::Meter,
            activity: Activity::Mixing,
            materials: [0; 3],
            file: String::new(),
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
            ("wood lining", Pattern::Planks, "Wood 16 mm on 40 mm studs"),
        ],
    ),
    (
        "floor",
        &[
            ("boards on joists", Pattern::Planks, "Wood floor (on joists)"),
            ("parquet on concrete", Pattern::Tiles, "Wood parquet in asphalt on concrete"),
            ("linoleum, cork", Pattern::Plaster, "Linoleum / rubber / cork tile on concrete"),
            ("concrete", Pattern::Concrete, "Concrete floor"),
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
            ("wood lining", Pattern::Planks, "Wood 16 mm on 40 mm studs"),
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
    /// `3.6 m x 2.9 m x 2.4 m`: measures without a unit take the chosen one.
    fn size(&self) -> String {
        let has_unit = |side: &str| side.chars().any(|c| c.is_alphabetic() || "'\"\u{2032}\u{2033}".contains(c));
        let side = |side: &String| if has_unit(side) { side.clone() } else { format!("{} {}", side.trim(), self.unit.symbol()) };
        self.sides.each_ref().map(side).join(" x ")
    }

    fn room(&self) -> NewRoom {
        let material = |which: usize| CHOICES[which].1.get(self.materials[which]).map(|choice| choice.2.to_owned());
        NewRoom { name: self.name.trim().to_owned(), size: self.size(), activity: self.activity, materials: [0, 1, 2].map(material) }
    }
}

/// The page.
pub(crate) fn start(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        ui.horizontal(|ui| {
            ui.add_space(((ui.available_width() - PAGE) / 2.0).max(0.0));
            ui.vertical(|ui| {
                ui.set_width(PAGE);
                ui.add_space(2.0 * GAP);
                new_room(ui, &mut drafts.room, asked);
                ui.add_space(3.0 * GAP);
                ui.label(heading("A room you have"));
                file(ui, &mut drafts.room.file, asked);
                ui.add_space(3.0 * GAP);
                ui.label(heading("A room to look around in"));
                for (name, text) in ROOMS {
                    if ui.button(name).clicked() {
                        asked.push(Command::SetText(text.to_owned()));
                    }
                }
                if let Some(notice) = &shown.view.notice {
                    ui.add_space(GAP);
                    ui.add(Label::new(wrong(notice)).wrap());
                }
            });
        });
    });
}

fn file(ui: &mut Ui, file: &mut String, asked: &mut Asked) {
    ui.horizontal(|ui| {
        let label = ui.label("scene file");
        let typed = ui.add(TextEdit::singleline(file).desired_width(420.0)).labelled_by(label.id);
        let entered = typed.lost_focus() && ui.input(|input| input.key_pressed(bevy_egui::egui::Key::Enter));
        let open = ui.add_enabled(!file.trim().is_empty(), Button::new("Open")).clicked();
        if open || (entered && !file.trim().is_empty()) {
            asked.push(Command::Open(PathBuf::from(file.trim())));
        }
    });
}

fn new_room(ui: &mut Ui, draft: &mut Draft, asked: &mut Asked) {
    ui.label(heading("New room"));
    line(ui, "name", |ui| {
        ui.add(TextEdit::singleline(&mut draft.name).desired_width(300.0).hint_text("name"));
    });
    line(ui, "measures", |ui| _ = ui.horizontal(|ui| measures(ui, draft)));
    for (which, (part, choices)) in CHOICES.iter().enumerate() {
        line(ui, part, |ui| {
            for (index, choice) in choices.iter().enumerate() {
                if swatch_button(ui, part, choice, draft.materials[which] == index) {
                    draft.materials[which] = index;
                }
            }
        });
    }
    line(ui, "what for", |ui| {
        for (activity, words) in [(Activity::Mixing, "two loudspeakers and a seat"), (Activity::Voice, "I talk or play into a microphone")]
        {
            ui.radio_value(&mut draft.activity, activity, words);
        }
    });
    let size = RoomSize::read(&draft.size());
    let can = size.is_ok() && !draft.name.trim().is_empty();
    ui.horizontal(|ui| {
        if ui.add_enabled(can, Button::new(subheading("Begin"))).clicked() {
            asked.push(Command::New(draft.room()));
        }
        match size {
            Ok(_) if draft.name.trim().is_empty() => _ = ui.label(wrong("It needs a name.")),
            Ok(_) => _ = ui.label(quiet("Doors, windows, slopes and what stands in the room come after.")),
            Err(error) => _ = ui.add(Label::new(wrong(error.to_string())).wrap()),
        }
    });
}

/// A line of the form: what it is, then what is typed or chosen.
fn line(ui: &mut Ui, what: &str, add: impl FnOnce(&mut Ui)) {
    ui.horizontal_top(|ui| {
        let (rect, _) = ui.allocate_exact_size(vec2(WHAT, 20.0), Sense::hover());
        ui.painter().text(rect.left_center(), Align2::LEFT_CENTER, what, FontId::proportional(12.5), INK);
        add(ui);
    });
}

fn measures(ui: &mut Ui, draft: &mut Draft) {
    for (side, name) in draft.sides.iter_mut().zip(["length", "width", "height"]) {
        let label = ui.label(small(name));
        ui.add(TextEdit::singleline(side).desired_width(70.0)).labelled_by(label.id);
    }
    ComboBox::from_id_salt("unit").selected_text(draft.unit.symbol()).show_ui(ui, |ui| {
        for unit in LengthUnit::ALL {
            ui.selectable_value(&mut draft.unit, unit, unit.symbol());
        }
    });
    ui.label(quiet("or 12 ft 6 in"));
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
