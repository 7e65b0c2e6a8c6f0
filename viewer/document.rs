//! The scene text: the only saved state. Every edit is an edit of the text, which is then read anew; undo and redo restore texts exactly.

use std::path::PathBuf;
use std::sync::Arc;

use bevy::prelude::Resource;
use roomwright::scene::{self, Diagnostic, Scene, Severity};

/// The open scene.
#[derive(Debug, Default, Resource)]
pub(crate) struct Document {
    /// Its file; `None` for a new room, or when nothing is open.
    path: Option<PathBuf>,
    /// The text.
    text: String,
    /// The text as the file holds it; `None` if it was never saved.
    saved: Option<String>,
    /// The scene of the text, if it reads.
    scene: Option<Arc<Scene>>,
    /// What is wrong with the text, warnings too.
    mistakes: Vec<Diagnostic>,
    /// Earlier texts, the last one on top.
    undo: Vec<String>,
    /// Texts that were undone, the last one on top.
    redo: Vec<String>,
    /// While a drag lasts: the text when it began.
    drag: Option<String>,
    /// The other layout, as a text.
    other: Option<String>,
    /// Which of the two layouts is shown: A (false) or B.
    shows_b: bool,
    /// Counts texts, so that a change can be noticed.
    revision: u64,
}

impl Document {
    /// Its file.
    pub(crate) fn path(&self) -> Option<&PathBuf> {
        self.path.as_ref()
    }

    /// The text.
    pub(crate) fn text(&self) -> &str {
        &self.text
    }

    /// Whether something is open at all.
    pub(crate) fn is_open(&self) -> bool {
        !self.text.is_empty()
    }

    /// The scene of the text, if it reads.
    pub(crate) fn scene(&self) -> Option<&Arc<Scene>> {
        self.scene.as_ref()
    }

    /// What is wrong with the text.
    pub(crate) fn mistakes(&self) -> &[Diagnostic] {
        &self.mistakes
    }

    /// Whether the file does not hold this text.
    pub(crate) fn is_unsaved(&self) -> bool {
        self.is_open() && self.saved.as_deref() != Some(&self.text)
    }

    /// Whether there is something to undo, and to redo.
    pub(crate) fn can_undo_redo(&self) -> (bool, bool) {
        (!self.undo.is_empty(), !self.redo.is_empty())
    }

    /// Whether layout B is shown; `None` while there is only one.
    pub(crate) fn shows_b(&self) -> Option<bool> {
        self.other.as_ref().map(|_| self.shows_b)
    }

    /// Grows with every change of the text.
    pub(crate) fn revision(&self) -> u64 {
        self.revision
    }

    /// Reads the text anew.
    fn judge(&mut self) {
        self.revision += 1;
        match scene::read(&self.text) {
            Ok((scene, warnings)) => (self.scene, self.mistakes) = (Some(Arc::new(scene)), warnings),
            Err(mistakes) => (self.scene, self.mistakes) = (None, mistakes),
        }
    }

    /// Whether the text has errors.
    pub(crate) fn is_broken(&self) -> bool {
        self.mistakes.iter().any(|mistake| mistake.severity == Severity::Error)
    }
}
