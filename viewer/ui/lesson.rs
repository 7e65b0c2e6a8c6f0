//! A lesson beside the room: what is asked, which version stands as B, the difference, what to keep in mind and what to change next. And the
//! difference of two layouts by itself, whatever room it is.

use bevy_egui::egui::{Label, Ui};
use roomwright::report::text::compare::{CHANGES, answers, rows};
use roomwright::scene::lessons::Lesson;

use super::errand::errand;
use super::say::{folded, remark, section};
use super::table::Table;
use super::tokens::{GAP, heading, quiet, subheading, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::errand::Errand;
use crate::lesson::Beside;

/// Lessons to choose from.
pub(super) fn list(ui: &mut Ui, asked: &mut Asked) {
    ui.label(heading("A lesson"));
    for lesson in &Lesson::ALL {
        if ui.button(format!("{}  {}", lesson.number, lesson.title)).on_hover_text(lesson.about).clicked() {
            asked.push(Command::OpenLesson(lesson.number));
        }
    }
    remark(ui, "Each is a small room as layout A and a version of it as B, to be looked at, heard, changed and compared.");
}

/// The lesson that is open; nothing where none is.
pub(super) fn lesson(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(lesson) = shown.view.lesson else { return };
    ui.label(subheading(format!("Lesson {}: {}", lesson.number, lesson.title)));
    if let Some(question) = shown.results.scene.as_ref().and_then(|scene| scene.question.as_deref()) {
        ui.add(Label::new(question).wrap());
    }
    remark(ui, lesson.about);
    ui.label(quiet(format!("A: {}", lesson.first)));
    ui.label(quiet("B, one thing changed:"));
    let b = Beside::of(shown.document, None).map(|beside| beside.texts[1].clone());
    for (index, variation) in lesson.variations.iter().enumerate() {
        let is_b = b.as_deref() == Some(variation.applied(lesson.text).as_str());
        if ui.radio(is_b, variation.name).clicked() && !is_b {
            asked.push(Command::ShowVersion(index));
        }
    }
    remark(ui, "Key B goes between the layouts; in the steps hear and place P plays a sound, and X goes from A to B by ear.");
    difference(ui, shown, asked);
    if shown.results.difference.is_some() {
        ui.add(Label::new(lesson.kept).wrap());
    }
    folded(ui, "Change one thing", |ui| remark(ui, lesson.try_next));
    ui.add_space(GAP);
    ui.separator();
}

/// The difference of the two layouts, or the button that asks for it; nothing while there is only one.
pub(super) fn difference(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(beside) = Beside::of(shown.document, shown.view.lesson) else { return };
    errand(ui, shown, "Ask for the difference", Errand::Difference(Box::new(beside.clone())), asked);
    let Some(difference) = shown.results.difference.as_deref() else {
        remark(ui, "A and B are traced by themselves until each is sure, some seconds each; then every figure stands side by side.");
        return;
    };
    if difference.asked != beside {
        remark(ui, "This is of the layouts as they were; ask again.");
    }
    match &difference.found {
        Err(why) => _ = ui.add(Label::new(wrong(why)).wrap()),
        Ok(comparison) => {
            section(ui, &format!("{} against {}", difference.asked.names[1], difference.asked.names[0]));
            for answer in answers(comparison) {
                ui.add(Label::new(answer).wrap());
            }
            let mut table = Table::new(&["<figure", "A", "B", "B less A"]);
            for row in rows(comparison, 1) {
                table.row(row);
            }
            table.show(ui);
            folded(ui, "How to read the difference", |ui| remark(ui, CHANGES));
        }
    }
}
