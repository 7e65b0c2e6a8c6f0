//! The panels: one file a step of the job, plots beneath, the status at the foot.
//!
//! A panel is a function of an `egui::Ui`, the [`Shown`] state, and a list that it pushes [`Command`]s to: it changes nothing itself, so
//! that it can be tried without a window.

pub(crate) mod tokens;

use bevy::prelude::*;

use crate::command::Command;
use crate::document::Document;
use crate::results::Results;
use crate::view::View;

/// What a panel reads.
#[derive(Clone, Copy)]
pub(crate) struct Shown<'a> {
    /// The scene text, undo, mistakes.
    pub(crate) document: &'a Document,
    /// What is chosen.
    pub(crate) view: &'a View,
    /// What is known.
    pub(crate) results: &'a Results,
}

/// What the panels ask for in one pass.
pub(crate) type Asked = Vec<Command>;

/// Draws the panels.
pub(crate) struct UiPlugin;

impl Plugin for UiPlugin {
    fn build(&self, _app: &mut App) {}
}
