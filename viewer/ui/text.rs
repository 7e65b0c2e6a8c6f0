//! The scene text as it is saved, to be edited by hand; what is typed is read when the pane is left or the button is pressed.

use bevy_egui::egui::text::{CCursor, CCursorRange};
use bevy_egui::egui::{Align, Button, FontId, Frame, Key, Modifiers, RichText, ScrollArea, TextBuffer, TextEdit, TextStyle, Ui};

use super::tokens::{INK, QUIET, SOFT, quiet, wrong};
use super::{Asked, Drafts, Shown};
use crate::command::Command;

/// What is typed.
#[derive(Default)]
pub(crate) struct Draft {
    text: String,
    /// Revision of the document that the text was taken from.
    revision: u64,
    /// Whether something was typed that was not read.
    is_typed: bool,
    /// A line to show and mark, from 1.
    line: Option<usize>,
}

impl Draft {
    /// Shows a line, counted from 1, in the next pass.
    pub(crate) fn show_line(&mut self, line: usize) {
        self.line = Some(line);
    }

    /// Takes the document's text, unless something was typed that was not read.
    fn follow(&mut self, shown: Shown<'_>) {
        self.is_typed &= self.text != shown.document.text();
        if !self.is_typed {
            self.drop(shown);
        }
    }

    fn drop(&mut self, shown: Shown<'_>) {
        (self.is_typed, self.revision) = (false, shown.document.revision());
        if self.text != shown.document.text() {
            shown.document.text().clone_into(&mut self.text);
        }
    }
}

/// The pane.
pub(crate) fn text(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let draft = &mut drafts.text;
    draft.follow(shown);
    // Before the editor takes it for a new line.
    let mut apply = ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::Enter));
    ui.horizontal(|ui| {
        ui.label(quiet("What is saved. Comments, order and spelling stay as you write them."));
        apply |= ui.add_enabled(draft.is_typed, Button::new("Read it")).on_hover_text("Ctrl+Enter, or click elsewhere").clicked();
        if draft.is_typed && ui.button("Drop what I typed").clicked() {
            draft.drop(shown);
        }
        if draft.is_typed && draft.revision != shown.document.revision() {
            ui.label(wrong("The scene changed meanwhile; reading this puts it in its place.").size(11.0));
        }
    });
    let mono = FontId::monospace(TextStyle::Body.resolve(ui.style()).size);
    ScrollArea::both().id_salt("scene text").auto_shrink(false).show(ui, |ui| {
        ui.horizontal_top(|ui| {
            let lines = draft.text.split('\n').count();
            let numbers: Vec<String> = (1..=lines).map(|line| format!("{line:4} ")).collect();
            ui.label(RichText::new(numbers.join("\n")).font(mono.clone()).color(SOFT));
            apply |= edit(ui, draft, &mono);
        });
    });
    if apply && draft.is_typed {
        asked.push(Command::SetText(draft.text.clone()));
    }
}

/// The text itself. Whether it is to be read.
fn edit(ui: &mut Ui, draft: &mut Draft, mono: &FontId) -> bool {
    // Lines are not broken: the numbers stand beside them.
    let mut lines =
        |ui: &Ui, text: &dyn TextBuffer, _: f32| ui.fonts_mut(|fonts| fonts.layout_no_wrap(text.as_str().to_owned(), mono.clone(), INK));
    let editor = TextEdit::multiline(&mut draft.text)
        .id("scene-text".into())
        .font(mono.clone())
        .layouter(&mut lines)
        .lock_focus(true)
        .desired_width(f32::INFINITY)
        .margin(0.0)
        .frame(Frame::NONE)
        .hint_text(RichText::new("Nothing is open.").color(QUIET));
    let mut output = editor.show(ui);
    draft.is_typed |= output.response.response.changed();
    if let Some(line) = draft.line.take() {
        let start: usize = draft.text.split_inclusive('\n').take(line - 1).map(|line| line.chars().count()).sum();
        let length = draft.text.lines().nth(line - 1).map_or(0, |line| line.chars().count());
        let (from, to) = (CCursor::new(start), CCursor::new(start + length));
        output.state.cursor.set_char_range(Some(CCursorRange::two(from, to)));
        output.state.store(ui.ctx(), "scene-text".into());
        ui.memory_mut(|memory| memory.request_focus("scene-text".into()));
        let place = output.galley.pos_from_cursor(from).translate(output.galley_pos.to_vec2());
        ui.scroll_to_rect(place, Some(Align::Center));
        ui.ctx().request_repaint();
    }
    output.response.response.lost_focus()
}
