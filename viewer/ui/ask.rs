//! Questions that need an answer before anything else is done, as a dialog over the window.

use std::path::PathBuf;

use bevy_egui::egui::{Button, Context, Id, Label, Modal, TextEdit, Ui};

use super::tokens::{heading, wrong};
use super::{Asked, Drafts, Shown, chooser};
use crate::command::Command;
use crate::view::Question;

/// The dialog, if something is asked.
pub(crate) fn questions(ctx: &Context, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let Some(question) = &shown.view.question else {
        drafts.file = None;
        drafts.chooser = chooser::Draft::default();
        return;
    };
    Modal::new(Id::new("question")).show(ctx, |ui| {
        ui.set_width(460.0);
        ask(ui, shown, question, drafts, asked);
    });
}

/// What the dialog holds.
pub(crate) fn ask(ui: &mut Ui, shown: Shown<'_>, question: &Question, drafts: &mut Drafts, asked: &mut Asked) {
    let file = shown.document.path().map_or_else(|| "This room".to_owned(), |path| path.display().to_string());
    match question {
        Question::Unsaved => unsaved(ui, shown, &file, asked),
        Question::Which => {
            ui.label(heading("Which scene?"));
            chooser::chooser(ui, shown, &mut drafts.chooser, chooser::Wanted::Open, asked);
        }
        Question::WhichSound => {
            said(ui, "Which sound?", "A WAV file of one or two channels, at 44100, 48000 or 96000 samples a second.");
            chooser::chooser(ui, shown, &mut drafts.chooser, chooser::Wanted::Sound, asked);
        }
        Question::WhereTo(proposed) => {
            said(ui, "Where to?", "A file that exists is not replaced.");
            chooser::chooser(ui, shown, &mut drafts.chooser, chooser::Wanted::Save(proposed), asked);
        }
        Question::WhichRecording(before_of) => {
            let which = if before_of.is_some() { "Which recording of before?" } else { "Which recording?" };
            said(ui, which, "A WAV file of 16, 24 or 32 bits, of one source at one seat or microphone.");
            chooser::chooser(ui, shown, &mut drafts.chooser, chooser::Wanted::Listen(*before_of), asked);
        }
        Question::ChangedOnDisk => {
            let text = format!("{file} was changed by another program. Take its text (undo brings yours back), or put yours in its place?");
            said(ui, "Whose text?", &text);
            answers(
                ui,
                asked,
                &[("Take the file's", Command::Reload), ("Write mine", Command::Overwrite), ("Decide later", Command::Stay)],
            );
            save_as(ui, shown.document.path().unwrap_or("room.toml".as_ref()), drafts, asked);
        }
        Question::Recovery => {
            let text = format!("{file} was left with unsaved work. Take that up again? Undo brings back what the file holds.");
            said(ui, "Take up unsaved work?", &text);
            answers(ui, asked, &[("Take it up", Command::RestoreRecovery), ("Remove it", Command::DiscardRecovery)]);
        }
    }
    if let Some(notice) = &shown.view.notice {
        ui.add(Label::new(wrong(notice)).wrap());
    }
}

/// A file holds one layout: what becomes of the one that is shown is asked first.
fn unsaved(ui: &mut Ui, shown: Shown<'_>, file: &str, asked: &mut Asked) {
    let (document, stay) = (shown.document, ("Go on working", Command::Stay));
    let (letter, other) = (document.layouts().letter(), document.layouts().other_letter());
    match (document.is_text_unsaved(), document.is_other_unsaved()) {
        (_, false) => {
            said(ui, "Save your work?", &format!("{file} has work that no file holds."));
            answers(ui, asked, &[("Save", Command::Save), ("Drop it", Command::Discard), stay]);
        }
        (true, true) => {
            let text =
                format!("{file} has two layouts that no file holds: {letter} is shown and saved first, then {other} is asked about.");
            said(ui, "Save your work?", &text);
            answers(ui, asked, &[("Save", Command::Save), ("Drop both", Command::Discard), stay]);
        }
        (false, true) => {
            let text = format!("{file} holds layout {letter}, which is shown. Layout {other} is in no file.");
            said(ui, &format!("Save layout {other}?"), &text);
            ui.horizontal_wrapped(|ui| {
                if ui.button("Save it in a file of its own").clicked() {
                    asked.extend([Command::ToggleLayout, Command::AskWhere]);
                }
            });
            answers(ui, asked, &[("Drop it", Command::Discard), stay]);
        }
    }
}

fn said(ui: &mut Ui, question: &str, text: &str) {
    ui.label(heading(question));
    ui.add(Label::new(text).wrap());
}

fn answers(ui: &mut Ui, asked: &mut Asked, answers: &[(&str, Command)]) {
    ui.horizontal_wrapped(|ui| {
        for (word, command) in answers {
            if ui.button(*word).clicked() {
                asked.push(command.clone());
            }
        }
    });
}

fn save_as(ui: &mut Ui, proposed: &std::path::Path, drafts: &mut Drafts, asked: &mut Asked) {
    let name = drafts.file.get_or_insert_with(|| proposed.display().to_string());
    ui.horizontal(|ui| {
        let label = ui.label("Save as");
        ui.add(TextEdit::singleline(name).desired_width(280.0)).labelled_by(label.id);
        if ui.add_enabled(!name.trim().is_empty(), Button::new("Save there")).clicked() {
            asked.push(Command::SaveAs(PathBuf::from(name.trim())));
        }
    });
}
