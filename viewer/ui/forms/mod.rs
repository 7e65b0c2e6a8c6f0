//! Forms by which a room is entered: doors, windows and hatches, the ceiling, what stands in the room, what is kept clear, and where
//! loudspeakers and heads are; and what is asked of a plan. One is open at a time, beneath its list.
//!
//! A field takes any length that a tape shows. What is typed stays in the form until it reads and the scene's rules take it: the form asks
//! them on every change ([`objection`]), so that its button is only there for what will be done. The command is sent once, as one step of
//! undo. A press on the stage fills in where ([`Command::AskPlace`]).

mod block;
mod ceiling;
mod clearance;
pub(crate) mod cloud;
pub(crate) mod goals;
mod measure;
mod opening;
mod person;
mod rectangle;

use bevy_egui::egui::{Button, ComboBox, Frame, Label, Stroke, TextEdit, Ui};
use roomwright::absorbers::table;
use roomwright::scene::{Scene, ThingKind};
use roomwright::units::LengthUnit;

use self::measure::{Measure, line};
use super::say::{remark, section};
use super::table::Table;
use super::tokens::{ACCENT, CARD, GAP, small, subheading, wrong};
use super::{Asked, Drafts, Shown};
use crate::command::Command;
use crate::edits::objection;

use crate::view::Pressed;

/// Places and sizes that are typed, meters.
const PLACE: std::ops::RangeInclusive<f64> = 0.0..=100.0;
const SIZE: std::ops::RangeInclusive<f64> = 0.01..=100.0;

/// The form that is open.
#[derive(Default)]
pub(crate) struct Draft {
    open: Option<Open>,
}

/// A form and what it is about.
struct Open {
    form: Form,
    /// The name of what is changed, empty where there is only one; `None`: it is added.
    of: Option<String>,
    /// What the scene's rules said last, of which command on which text.
    judged: Option<(u64, Command, Option<String>)>,
    /// Why it could not be removed.
    refused: Option<String>,
    /// Whether it is drawn for the first time.
    is_new: bool,
}

/// What is typed, by kind of thing.
enum Form {
    Opening(opening::Form),
    Ceiling(ceiling::Form),
    Block(block::Form),
    Clearance(clearance::Form),
    Person(person::Form),
    Cloud(cloud::Form),
    Goals(goals::Form),
}

impl Draft {
    fn open(&mut self, form: Form, of: Option<String>) {
        self.open = Some(Open { form, of, judged: None, refused: None, is_new: true });
    }

    /// Closes the form if it is such a one.
    fn close(&mut self, is_such: impl Fn(&Form) -> bool) {
        if self.open.as_ref().is_some_and(|open| is_such(&open.form)) {
            self.open = None;
        }
    }

    /// What the form that is open is about, and the material in it, if it has one.
    pub(crate) fn material(&mut self) -> Option<(String, &mut String)> {
        let open = self.open.as_mut()?;
        let title = open.title();
        let material = match &mut open.form {
            Form::Opening(form) => &mut form.material,
            Form::Ceiling(form) => &mut form.material,
            Form::Block(form) => &mut form.material,
            Form::Clearance(_) | Form::Person(_) | Form::Cloud(_) | Form::Goals(_) => return None,
        };
        Some((title, material))
    }

    /// Whether this thing's form is open.
    fn is_of(&self, name: &str, is_kind: impl Fn(&Form) -> bool) -> bool {
        self.open.as_ref().is_some_and(|open| open.of.as_deref() == Some(name) && is_kind(&open.form))
    }

    /// Draws the form if it belongs to this list.
    fn show(&mut self, ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked, is_kind: impl Fn(&Form) -> bool) {
        let Some(open) = self.open.as_mut().filter(|open| is_kind(&open.form)) else { return };
        if let (Some(pressed), true) = (&shown.view.pressed, open.form.asks().is_some()) {
            open.form.place(scene, pressed);
            asked.push(Command::AskPlace(false));
        }
        let frame = Frame::new().fill(CARD).stroke(Stroke::new(1.0, ACCENT)).inner_margin(8.0);
        let is_done = frame.show(ui, |ui| {
            ui.set_min_width(ui.available_width());
            open.show(ui, shown, scene, asked)
        });
        if std::mem::take(&mut open.is_new) {
            // It may reach below the edge of the panel.
            is_done.response.scroll_to_me(None);
        }
        if is_done.inner {
            if shown.view.asks_place {
                asked.push(Command::AskPlace(false));
            }
            self.open = None;
        }
    }
}

impl Open {
    fn title(&self) -> String {
        match &self.of {
            Some(name) if !name.is_empty() => format!("Change \"{name}\""),
            _ => self.form.new_title(),
        }
    }

    /// Whether it is done with.
    fn show(&mut self, ui: &mut Ui, shown: Shown<'_>, scene: &Scene, asked: &mut Asked) -> bool {
        ui.label(subheading(self.title()));
        self.form.show(ui, scene, self.of.is_none());
        if let Some(what) = self.form.asks() {
            ui.horizontal_wrapped(|ui| {
                if shown.view.asks_place {
                    ui.label(wrong(format!("Press {what} in the room.")).size(11.0));
                    if ui.button(small("never mind")).clicked() {
                        asked.push(Command::AskPlace(false));
                    }
                } else if ui.button(small("press it in the room")).on_hover_text(format!("Then press {what}.")).clicked() {
                    asked.push(Command::AskPlace(true));
                }
            });
        }
        let command = self.form.command(scene, self.of.as_deref());
        let said = command.as_ref().and_then(|command| self.judge(shown, command));
        if let Some(said) = &said {
            ui.add(Label::new(wrong(said).size(11.0)).wrap());
        }
        if let Some(refused) = &self.refused {
            ui.add(Label::new(wrong(format!("It stays: {refused}")).size(11.0)).wrap());
        }
        self.buttons(ui, shown, scene, command.filter(|_| said.is_none()), asked)
    }

    fn buttons(&mut self, ui: &mut Ui, shown: Shown<'_>, scene: &Scene, command: Option<Command>, asked: &mut Asked) -> bool {
        ui.horizontal(|ui| {
            let word = if self.of.is_some() { "Change it" } else { "Add it" };
            let mut is_done = false;
            if ui.add_enabled(command.is_some(), Button::new(word)).clicked() {
                asked.extend(command);
                is_done = true;
            }
            if let Some(remove) = self.of.as_ref().and_then(|name| self.form.removal(scene, name))
                && ui.button("Remove it").clicked()
            {
                self.refused = objection(shown.document, &remove);
                if self.refused.is_none() {
                    asked.push(remove);
                    is_done = true;
                }
            }
            is_done | ui.button("Leave it").clicked()
        })
        .inner
    }

    /// What the scene's rules say to a command; asked anew when it or the text is another.
    fn judge(&mut self, shown: Shown<'_>, command: &Command) -> Option<String> {
        let revision = shown.document.revision();
        let is_judged = self.judged.as_ref().is_some_and(|(then, known, _)| *then == revision && known == command);
        if !is_judged {
            self.judged = Some((revision, command.clone(), objection(shown.document, command)));
        }
        self.judged.as_ref().and_then(|(.., said)| said.clone())
    }
}

impl Form {
    fn new_title(&self) -> String {
        match self {
            Self::Opening(form) => form.new_title(),
            Self::Ceiling(form) => form.new_title(),
            Self::Block(_) => "What stands or hangs in the room".to_owned(),
            Self::Clearance(_) => "Keep a place clear".to_owned(),
            Self::Goals(_) => "What is asked of a plan".to_owned(),
            Self::Person(_) | Self::Cloud(_) => String::new(),
        }
    }

    fn show(&mut self, ui: &mut Ui, scene: &Scene, is_new: bool) {
        match self {
            Self::Opening(form) => form.show(ui, scene),
            Self::Ceiling(form) => form.show(ui, scene, is_new),
            Self::Block(form) => form.show(ui, scene),
            Self::Clearance(form) => form.show(ui, scene),
            Self::Person(form) => form.show(ui, scene),
            Self::Cloud(form) => form.show(ui, scene),
            Self::Goals(form) => form.show(ui, scene),
        }
    }

    /// What the form asks for, `None` while something in it does not read.
    fn command(&self, scene: &Scene, of: Option<&str>) -> Option<Command> {
        match self {
            Self::Opening(form) => form.command(scene, of),
            Self::Ceiling(form) => form.command(scene, of),
            Self::Block(form) => form.command(scene, of),
            Self::Clearance(form) => form.command(scene, of),
            Self::Person(form) => form.command(scene),
            Self::Cloud(form) => form.command(scene),
            Self::Goals(form) => form.command(),
        }
    }

    fn removal(&self, scene: &Scene, name: &str) -> Option<Command> {
        let thing = |kind| Some(Command::RemoveThing(kind, name.to_owned()));
        match self {
            Self::Opening(_) => thing(ThingKind::Opening),
            Self::Block(_) => thing(ThingKind::Block),
            Self::Clearance(_) => thing(ThingKind::Clearance),
            Self::Cloud(form) => Some(Command::RemovePanel(form.panel)),
            Self::Ceiling(_) if scene.ceiling.len() > 1 => Some(Command::SetCeiling { away: vec![name.to_owned()], add: Vec::new() }),
            Self::Ceiling(_) | Self::Person(_) | Self::Goals(_) => None,
        }
    }

    /// What may be pressed on the stage for it.
    fn asks(&self) -> Option<&'static str> {
        match self {
            Self::Opening(_) => Some("the middle of it on its wall or ceiling"),
            Self::Block(_) => Some("the middle of where it stands on the floor"),
            Self::Clearance(_) => Some("the middle of it"),
            Self::Person(_) => Some("the floor beneath it"),
            Self::Cloud(_) => Some("the floor beneath its middle"),
            Self::Ceiling(_) | Self::Goals(_) => None,
        }
    }

    fn place(&mut self, scene: &Scene, pressed: &Pressed) {
        match self {
            Self::Opening(form) => form.place(scene, pressed),
            Self::Block(form) => form.place(scene, pressed),
            Self::Clearance(form) => form.place(scene, pressed),
            Self::Person(form) => form.place(scene, pressed),
            Self::Cloud(form) => form.place(scene, pressed),
            Self::Ceiling(_) | Self::Goals(_) => {}
        }
    }
}

/// Every list of things with the form that is open beneath it.
pub(crate) fn lists(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, drafts: &mut Drafts, asked: &mut Asked) {
    ui.add_enabled_ui(!shown.document.is_broken(), |ui| {
        let draft = &mut drafts.form;
        ceiling::list(ui, shown, scene, draft, asked);
        opening::list(ui, shown, scene, draft, asked);
        block::list(ui, shown, scene, draft, asked);
        clearance::list(ui, shown, scene, draft, asked);
        person::list(ui, shown, scene, draft, asked);
    });
}

/// A row of a list: name and words.
type Words = (String, [String; 2]);

/// A list to choose from; the number of the row that was clicked.
fn rows(ui: &mut Ui, title: &str, none: &str, heads: [&str; 3], words: Vec<Words>, is_open: impl Fn(&str) -> bool) -> Option<usize> {
    section(ui, title);
    if words.is_empty() {
        remark(ui, none);
        return None;
    }
    let mut table = Table::new(&heads);
    for (name, [first, second]) in words {
        let is_chosen = is_open(&name);
        table.row([name, first, second]).chosen(is_chosen).hint("Click to change or remove it.");
    }
    table.choose(ui)
}

/// Buttons that open an empty form; the one that was clicked.
fn adding<'a>(ui: &mut Ui, words: &[&'a str]) -> Option<&'a str> {
    let clicked = ui.horizontal_wrapped(|ui| words.iter().copied().filter(|word| ui.button(small(*word)).clicked()).last());
    ui.add_space(GAP);
    clicked.inner
}

/// A line with a name; what is wrong with it beside it.
fn name(ui: &mut Ui, text: &mut String) {
    line(ui, "name", |ui, label| {
        ui.add(TextEdit::singleline(text).desired_width(190.0)).labelled_by(label);
        if text.trim().is_empty() {
            ui.label(wrong("It needs a name.").size(11.0));
        }
    });
}

/// A line with a choice among names.
fn choice<'a>(ui: &mut Ui, what: &str, names: impl Iterator<Item = &'a str>, chosen: &mut String) {
    line(ui, what, |ui, label| {
        let shown = ComboBox::from_id_salt(("form", what)).selected_text(small(chosen.as_str())).width(240.0).truncate().height(320.0);
        let combo = shown.show_ui(ui, |ui| {
            for name in names {
                ui.selectable_value(chosen, name.to_owned(), small(name));
            }
        });
        combo.response.labelled_by(label);
    });
}

/// A line with the materials of the scene, then those of the table.
fn material(ui: &mut Ui, scene: &Scene, chosen: &mut String) {
    let mut names: Vec<&str> = scene.materials.iter().map(|material| material.name.as_str()).collect();
    table::names().for_each(|name| names.push(name));
    choice(ui, "material", names.into_iter(), chosen);
}

/// Names of walls and parts of the ceiling.
fn surfaces(scene: &Scene) -> impl Iterator<Item = &str> {
    scene.walls.iter().map(|wall| wall.name.as_str()).chain(scene.ceiling.iter().map(|plane| plane.name.as_str()))
}

/// A name of this kind that nothing has: `door`, `door 2`.
pub(super) fn free_name<'a>(word: &str, taken: impl Iterator<Item = &'a str> + Clone) -> String {
    let numbered = (2_u32..).map(|number| format!("{word} {number}"));
    let is_free = |name: &String| !taken.clone().any(|taken| taken == name);
    std::iter::once(word.to_owned()).chain(numbered).find(is_free).unwrap_or_default()
}

/// A field with a usual size, round in the scene's unit: the nearest centimeter, or inch.
fn usual(meters: f64, scene: &Scene) -> Measure {
    stepped(meters, if is_imperial(scene) { 0.0254 } else { 0.01 }, scene)
}

/// What a press on the stage comes to: the nearest centimeter, or half inch.
fn pressed_measure(meters: f64, scene: &Scene) -> Measure {
    stepped(meters, if is_imperial(scene) { 0.0127 } else { 0.01 }, scene)
}

fn stepped(meters: f64, step: f64, scene: &Scene) -> Measure {
    Measure::of(to_nanometers((meters / step).round() * step), scene.unit)
}

fn is_imperial(scene: &Scene) -> bool {
    matches!(scene.unit, LengthUnit::Foot | LengthUnit::Inch)
}

/// Sums of typed lengths end in `0.30000000000000004`; nanometers are kept.
fn to_nanometers(meters: f64) -> f64 {
    (meters * 1e9).round() / 1e9
}
