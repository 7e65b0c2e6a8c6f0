//! The scene text: the only saved state. Every edit is an edit of the text, which is then read anew; undo and redo restore texts exactly,
//! and with them the layout that is not shown. A file holds one layout: the other one is unsaved work as long as no file is known that
//! holds it, too.
//!
//! Edits while a drag lasts are one step of undo. An edit that the scene's rules refuse leaves the text as it was. A text with mistakes can
//! be open - it was written elsewhere, or is being typed - and then has no scene.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use bevy::prelude::Resource;
use roomwright::scene::{self, Diagnostic, EditError, Edited, Editor, Refused, Scene, Severity};

use crate::layouts::Layouts;

/// Steps of undo that are kept.
const STEPS_MOST: usize = 1000;

/// The open scene.
#[derive(Debug, Default, Resource)]
pub(crate) struct Document {
    path: Option<PathBuf>,
    /// The text, and the layout that is not shown.
    layouts: Layouts,
    /// The text as the file holds it; `None` if there is no file.
    saved: Option<String>,
    /// What can be had elsewhere: the text of the file before the last "save as", or of the room that this began as a copy of.
    elsewhere: Option<String>,
    scene: Option<Arc<Scene>>,
    mistakes: Vec<Diagnostic>,
    /// Earlier ones, the last one on top.
    undo: Vec<Layouts>,
    /// Those that were undone, the last one on top.
    redo: Vec<Layouts>,
    /// While a drag lasts: those when it began.
    drag: Option<Layouts>,
    revision: u64,
    changes: u64,
}

impl Document {
    /// Its file; `None` for a new room, or when nothing is open.
    pub(crate) fn path(&self) -> Option<&Path> {
        self.path.as_deref()
    }

    /// The text.
    pub(crate) fn text(&self) -> &str {
        &self.layouts.shown
    }

    /// The text, and the layout that is not shown.
    pub(crate) fn layouts(&self) -> &Layouts {
        &self.layouts
    }

    /// Whether something is open at all.
    pub(crate) fn is_open(&self) -> bool {
        !self.text().is_empty() || self.path.is_some()
    }

    /// The scene of the text, if it reads.
    pub(crate) fn scene(&self) -> Option<&Arc<Scene>> {
        self.scene.as_ref()
    }

    /// What is wrong with the text, warnings too.
    pub(crate) fn mistakes(&self) -> &[Diagnostic] {
        &self.mistakes
    }

    /// Whether the text has errors.
    pub(crate) fn is_broken(&self) -> bool {
        self.mistakes.iter().any(|mistake| mistake.severity == Severity::Error)
    }

    /// The text as the file holds it, as far as we know.
    pub(crate) fn saved(&self) -> Option<&str> {
        self.saved.as_deref()
    }

    /// Whether there is work that no file holds, shown or not.
    pub(crate) fn is_unsaved(&self) -> bool {
        self.is_text_unsaved() || self.is_other_unsaved()
    }

    /// Whether the file does not hold the text that is shown.
    pub(crate) fn is_text_unsaved(&self) -> bool {
        // A copy may come with two layouts.
        let is_as_it_came = self.path.is_none() && self.elsewhere.as_deref() == Some(self.text());
        self.is_open() && self.saved() != Some(self.text()) && !is_as_it_came
    }

    /// Whether there is a layout that is not shown and, as far as we know, in no file.
    pub(crate) fn is_other_unsaved(&self) -> bool {
        let is_other = |other: &str| self.saved() != Some(other) && self.elsewhere.as_deref() != Some(other);
        // What is shown is either in the file or asked about.
        self.layouts.other.as_deref().is_some_and(|other| is_other(other) && other != self.text())
    }

    /// Whether it is a copy of a room to look around in, as it came: it has no file, and nothing to save.
    pub(crate) fn is_copy(&self) -> bool {
        self.is_open() && self.path.is_none() && !self.is_unsaved()
    }

    /// Whether there is something to undo, and to redo.
    pub(crate) fn can_undo_redo(&self) -> (bool, bool) {
        (!self.undo.is_empty() || self.drag.as_ref().is_some_and(|before| *before != self.layouts), !self.redo.is_empty())
    }

    /// Whether a drag lasts.
    pub(crate) fn is_dragged(&self) -> bool {
        self.drag.is_some()
    }

    /// Whether layout B is shown; `None` while there is only one.
    pub(crate) fn shows_b(&self) -> Option<bool> {
        self.layouts.other.as_ref().map(|_| self.layouts.shows_b)
    }

    /// Grows with every change of the text.
    pub(crate) fn revision(&self) -> u64 {
        self.revision
    }

    /// Grows with every change of the text, of the layout that is not shown, and of what files hold of them.
    pub(crate) fn changes(&self) -> u64 {
        self.changes
    }

    /// Opens another text in place of this one. `saved`: the file holds it.
    pub(crate) fn open(&mut self, path: Option<PathBuf>, text: String, saved: bool) {
        let saved = saved.then(|| text.clone());
        *self = Self { path, saved, revision: self.revision, changes: self.changes, ..Self::default() };
        self.set(Layouts::one(String::new()), judged(text));
    }

    /// Lays another layout beside the one of a copy, of which there is nothing to save as it came; it is no step.
    pub(crate) fn lay_beside(&mut self, other: String) {
        self.elsewhere = Some(other.clone());
        self.layouts.other = Some(other.into());
        self.changes += 1;
    }

    /// Makes a text that comes with a copy the other layout, or the shown one where that is B; one step.
    pub(crate) fn change_other(&mut self, a: &str, b: String) {
        self.elsewhere = Some(b.clone());
        let layouts = if self.layouts.shows_b {
            Layouts { shown: b, other: Some(a.into()), shows_b: true }
        } else {
            Layouts { shown: self.text().to_owned(), other: Some(b.into()), shows_b: false }
        };
        self.take_up(layouts);
    }

    /// Opens nothing.
    pub(crate) fn close(&mut self) {
        *self = Self { revision: self.revision + 1, changes: self.changes + 1, ..Self::default() };
    }

    /// Changes the text by an editor. Whether it is another text now.
    pub(crate) fn edit(&mut self, change: impl FnOnce(&mut Editor) -> Result<(), EditError>) -> Result<bool, EditError> {
        let edited = self.edited(change)?;
        Ok(self.step_to_text(Ok(edited)))
    }

    /// What the text would be.
    pub(crate) fn edited(&self, change: impl FnOnce(&mut Editor) -> Result<(), EditError>) -> Result<Edited, EditError> {
        let mut editor = self.editor()?;
        change(&mut editor)?;
        Ok(editor.finish()?)
    }

    /// The text, to be looked at as its tables are written.
    pub(crate) fn editor(&self) -> Result<Editor, Refused> {
        match &self.scene {
            Some(scene) => Ok(Editor::of(self.text(), scene)),
            None => Editor::new(self.text()),
        }
    }

    /// Takes another text altogether, mistakes or not. Whether it is another.
    pub(crate) fn replace(&mut self, text: String) -> bool {
        self.step_to_text(judged(text))
    }

    /// Takes up other layouts altogether, as one step. Whether they are others.
    pub(crate) fn take_up(&mut self, layouts: Layouts) -> bool {
        self.end_drag();
        if layouts == self.layouts {
            return false;
        }
        self.step();
        self.restore(layouts);
        true
    }

    /// Takes the text of a file that another program wrote; ours is a step back.
    pub(crate) fn reload(&mut self, text: String) {
        self.note_on_disk(Some(text.clone()));
        self.replace(text);
    }

    /// The file now holds the text.
    pub(crate) fn mark_saved(&mut self, path: PathBuf) {
        if self.path.as_ref() != Some(&path) {
            self.elsewhere = self.saved.take();
        }
        self.path = Some(path);
        self.note_on_disk(Some(self.text().to_owned()));
    }

    /// Another program wrote this into the file, or removed it; what we have stands.
    pub(crate) fn note_on_disk(&mut self, text: Option<String>) {
        self.saved = text;
        self.changes += 1;
    }

    /// From here on edits are one step.
    pub(crate) fn begin_drag(&mut self) {
        if self.drag.is_none() {
            self.drag = Some(self.layouts.clone());
        }
    }

    /// Ends the step.
    pub(crate) fn end_drag(&mut self) {
        if let Some(before) = self.drag.take()
            && before != self.layouts
        {
            self.redo.clear();
            self.remember(before);
        }
    }

    /// Takes back what was changed since the drag began; it is no step, and what could be done again still can.
    pub(crate) fn cancel_drag(&mut self) {
        if let Some(before) = self.drag.take() {
            self.restore(before);
        }
    }

    /// Takes back the last step. Whether there was one.
    pub(crate) fn undo(&mut self) -> bool {
        self.end_drag();
        let Some(before) = self.undo.pop() else { return false };
        self.redo.push(self.layouts.clone());
        self.restore(before);
        true
    }

    /// Does it again. Whether there was something.
    pub(crate) fn redo(&mut self) -> bool {
        self.end_drag();
        let Some(after) = self.redo.pop() else { return false };
        self.undo.push(self.layouts.clone());
        self.restore(after);
        true
    }

    /// Swaps the layout with the other one, as one step; the first time both are alike.
    pub(crate) fn toggle_layout(&mut self) {
        if self.is_open() {
            self.take_up(self.layouts.swapped());
        }
    }

    /// Another text of the layout that is shown.
    fn step_to_text(&mut self, read: Result<Edited, Refused>) -> bool {
        let (Ok(Edited { text, .. }) | Err(Refused { text, .. })) = &read;
        if text == self.text() {
            return false;
        }
        self.step();
        self.set(self.layouts.clone(), read);
        true
    }

    /// What is, becomes a step back, unless a drag lasts.
    fn step(&mut self) {
        if self.drag.is_none() {
            self.redo.clear();
            self.remember(self.layouts.clone());
        }
    }

    fn remember(&mut self, layouts: Layouts) {
        self.undo.push(layouts);
        if self.undo.len() > STEPS_MOST {
            self.undo.remove(0);
        }
    }

    /// Takes layouts as they are; a text that is the same is not read anew.
    fn restore(&mut self, layouts: Layouts) {
        if layouts.shown == self.layouts.shown {
            self.layouts = layouts;
            self.changes += 1;
        } else {
            let read = judged(layouts.shown.clone());
            self.set(layouts, read);
        }
    }

    /// Takes layouts, with this text shown.
    fn set(&mut self, layouts: Layouts, read: Result<Edited, Refused>) {
        self.revision += 1;
        self.changes += 1;
        let text;
        match read {
            Ok(Edited { text: read, scene, warnings }) => (text, self.scene, self.mistakes) = (read, Some(Arc::new(scene)), warnings),
            Err(Refused { text: read, diagnostics }) => (text, self.scene, self.mistakes) = (read, None, diagnostics),
        }
        self.layouts = Layouts { shown: text, ..layouts };
    }
}

/// A text and what it reads as.
fn judged(text: String) -> Result<Edited, Refused> {
    match scene::read(&text) {
        Ok((scene, warnings)) => Ok(Edited { text, scene, warnings }),
        Err(diagnostics) => Err(Refused { text, diagnostics }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::reason::reason;

    const TEXT: &str = include_str!("../scenes/attic-voice-room.toml");

    fn opened() -> Document {
        let mut document = Document::default();
        document.open(Some("attic.toml".into()), TEXT.to_owned(), true);
        document
    }

    fn count(document: &mut Document, count: u32) -> bool {
        document.edit(|editor| editor.set_stock_count("cloud", count)).unwrap()
    }

    #[test]
    fn keeps_the_exact_text_through_undo_and_redo() {
        let mut document = opened();
        assert!(!document.is_unsaved() && document.scene().is_some() && document.can_undo_redo() == (false, false));
        let mut texts = vec![TEXT.to_owned()];
        for number in [3, 4, 5] {
            assert!(count(&mut document, number));
            texts.push(document.text().to_owned());
        }
        assert!(!count(&mut document, 5), "the same again is no step");
        assert!(document.is_unsaved());
        for text in texts.iter().rev().skip(1) {
            assert!(document.undo());
            assert_eq!(document.text(), text);
        }
        assert!(!document.undo() && !document.is_unsaved());
        for text in &texts[1..] {
            assert!(document.redo());
            assert_eq!(document.text(), text);
        }
        assert!(!document.redo());
        document.undo();
        count(&mut document, 9);
        assert!(!document.redo(), "an edit ends what was undone");
    }

    #[test]
    fn keeps_a_drag_one_step() {
        let mut document = opened();
        document.begin_drag();
        for number in 3..20 {
            count(&mut document, number);
        }
        document.end_drag();
        assert_eq!(document.scene().unwrap().stock[2].count, 19);
        assert!(document.undo() && document.text() == TEXT && !document.undo());
        assert!(document.redo() && document.scene().unwrap().stock[2].count == 19);
        // A drag that comes back to where it began is none; one that is undone before it ends, ends.
        document.begin_drag();
        count(&mut document, 3);
        count(&mut document, 19);
        document.end_drag();
        assert!(document.undo() && document.text() == TEXT);
        document.begin_drag();
        count(&mut document, 7);
        assert!(document.undo() && document.text() == TEXT && !document.is_dragged());
    }

    #[test]
    fn keeps_no_trace_of_a_drag_that_is_taken_back() {
        let mut document = opened();
        count(&mut document, 4);
        let four = document.text().to_owned();
        count(&mut document, 5);
        document.undo();
        document.begin_drag();
        count(&mut document, 7);
        count(&mut document, 8);
        document.cancel_drag();
        assert!(document.text() == four && !document.is_dragged());
        assert_eq!(document.scene().unwrap().stock[2].count, 4);
        assert_eq!(document.can_undo_redo(), (true, true), "what was undone before can still be done again");
        assert!(document.redo() && document.scene().unwrap().stock[2].count == 5);
        assert!(document.undo() && document.undo() && document.text() == TEXT && !document.undo());
        // Without a drag there is nothing to take back.
        document.cancel_drag();
        assert_eq!(document.text(), TEXT);
    }

    #[test]
    fn keeps_the_text_when_an_edit_is_refused() {
        let mut document = opened();
        let revision = document.revision();
        let refused = document.edit(|editor| editor.move_source("left", bevy::math::DVec3::new(9.0, 1.0, 1.0))).unwrap_err();
        assert!(reason(&refused).contains("outside"), "{}", reason(&refused));
        let missing = document.edit(|editor| editor.remove_panel(0)).unwrap_err();
        assert_eq!(reason(&missing), "there is no panel 1");
        assert_eq!((document.text(), document.revision(), document.can_undo_redo().0), (TEXT, revision, false));
    }

    #[test]
    fn keeps_a_text_with_mistakes_open() {
        let mut document = opened();
        let broken = TEXT.replace("material = \"Solid wooden door\"", "material = \"Solid wooden dor\"");
        assert!(document.replace(broken.clone()));
        assert!(document.scene().is_none() && document.is_broken() && document.text() == broken);
        assert!(document.mistakes().iter().all(|mistake| mistake.line > 1));
        assert!(document.edit(|editor| editor.set_stock_count("cloud", 1)).is_err());
        assert!(document.undo() && !document.is_broken() && document.scene().is_some());
    }

    #[test]
    fn keeps_two_layouts() {
        let mut document = opened();
        assert_eq!(document.shows_b(), None);
        document.toggle_layout();
        assert_eq!((document.shows_b(), document.text()), (Some(true), TEXT));
        count(&mut document, 7);
        let b = document.text().to_owned();
        document.toggle_layout();
        assert_eq!((document.shows_b(), document.text()), (Some(false), TEXT));
        document.toggle_layout();
        assert_eq!((document.shows_b(), document.text()), (Some(true), b.as_str()));
        assert!(document.undo() && document.text() == TEXT);
        // Without a scene there is nothing to lay out.
        let mut closed = Document::default();
        closed.toggle_layout();
        assert!(closed.shows_b().is_none() && !closed.can_undo_redo().0 && !closed.is_unsaved());
    }

    /// Whatever was done in whichever layout, a step back gives the text, the other one and the letter; a step forth, too.
    #[test]
    fn keeps_both_layouts_through_undo_and_redo() {
        let mut document = opened();
        let mut states = vec![document.layouts().clone()];
        let steps: [fn(&mut Document); 7] = [
            Document::toggle_layout,
            |document| assert!(count(document, 7)),
            Document::toggle_layout,
            |document| assert!(count(document, 3)),
            Document::toggle_layout,
            |document| {
                document.begin_drag();
                count(document, 8);
                count(document, 9);
                document.end_drag();
            },
            Document::toggle_layout,
        ];
        for step in steps {
            step(&mut document);
            states.push(document.layouts().clone());
        }
        let letters: Vec<Option<bool>> = states.iter().map(|state| state.other.as_ref().map(|_| state.shows_b)).collect();
        assert_eq!(letters, [None, Some(true), Some(true), Some(false), Some(false), Some(true), Some(true), Some(false)]);
        for state in states.iter().rev().skip(1) {
            assert!(document.undo());
            assert_eq!(document.layouts(), state);
            assert_eq!(document.scene().unwrap().stock[2].count, scene::read(&state.shown).unwrap().0.stock[2].count);
        }
        assert!(!document.undo() && !document.is_unsaved());
        for state in &states[1..] {
            assert!(document.redo());
            assert_eq!(document.layouts(), state);
        }
        assert!(!document.redo());
        // A toggle ends a drag, whose step stays its own.
        document.begin_drag();
        count(&mut document, 11);
        document.toggle_layout();
        assert!(!document.is_dragged() && document.undo());
        assert_eq!((document.shows_b(), document.scene().unwrap().stock[2].count), (Some(false), 11));
        assert!(document.undo() && document.layouts() == states.last().unwrap());
    }

    #[test]
    fn keeps_a_hidden_layout_unsaved_until_a_file_holds_it() {
        let what = |document: &Document| (document.is_text_unsaved(), document.is_other_unsaved());
        let mut document = opened();
        document.toggle_layout();
        assert_eq!(what(&document), (false, false), "both are what the file holds");
        count(&mut document, 7);
        assert_eq!(what(&document), (true, false), "the file holds A");
        document.toggle_layout();
        assert!(what(&document) == (false, true) && document.is_unsaved());
        count(&mut document, 3);
        assert_eq!(what(&document), (true, true));
        document.mark_saved("attic.toml".into());
        assert_eq!(what(&document), (false, true), "saving writes the one that is shown");
        // B goes into a file of its own, and A stays in the other one.
        document.toggle_layout();
        document.mark_saved("attic-b.toml".into());
        assert!(what(&document) == (false, false) && !document.is_unsaved());
        // A that is changed afterwards is in neither.
        document.toggle_layout();
        count(&mut document, 5);
        document.toggle_layout();
        assert_eq!(what(&document), (false, true));
        // One that is written over is in no file any more.
        let mut document = opened();
        document.toggle_layout();
        count(&mut document, 7);
        document.mark_saved("attic.toml".into());
        assert_eq!(what(&document), (false, true));
        // A copy of a room to look around in can be had again.
        let mut document = Document::default();
        document.open(None, TEXT.to_owned(), true);
        document.toggle_layout();
        assert!(document.is_copy());
        count(&mut document, 7);
        document.mark_saved("mine.toml".into());
        assert_eq!(what(&document), (false, false));
    }

    #[test]
    fn keeps_what_the_file_holds_apart_from_the_text() {
        let mut document = opened();
        count(&mut document, 5);
        let ours = document.text().to_owned();
        document.reload(TEXT.replace("Attic voice room", "Attic"));
        assert!(!document.is_unsaved());
        assert!(document.undo() && document.text() == ours && document.is_unsaved());
        document.mark_saved("other.toml".into());
        assert!(!document.is_unsaved() && document.path() == Some(Path::new("other.toml")));
        document.note_on_disk(None);
        assert!(document.is_unsaved());
    }
}
