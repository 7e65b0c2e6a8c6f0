//! Absorbers beneath the stage: at the left what there is to pick from, in the middle what the picked absorb over frequency, at the right what
//! they are, where their values come from, and what a material is given to.
//!
//! Every figure is one of `roomwright::study::absorbers`; the chart is that of the command `absorbers`, drawn for the screen.

mod beside;
mod curves;
mod list;
#[cfg(test)]
pub(super) use curves::told_octave;
pub(super) use curves::{look, piece};

use bevy_egui::egui::{Align, Layout, Ui, vec2};
use roomwright::report::absorption::Field;
use roomwright::study::absorbers::{Absorbers, Mistake, typed_name};

use super::tokens::{GAP, quiet, small};
use super::{Asked, Drafts, Shown};
use crate::command::Command;
use crate::comparison::Numbered;

/// Share of the width that a column at a side takes at most; narrowest and widest.
const SIDE: f32 = 0.29;
const SIDE_RANGE: [f32; 2] = [165.0, 380.0];
/// Width that the figures of eight octaves take.
const MIDDLE: f32 = 335.0;

/// What is searched for and typed.
#[derive(Default)]
pub(crate) struct Draft {
    /// Words to search for.
    words: String,
    /// The list for these words.
    listed: Option<(String, Absorbers)>,
    /// A build-up.
    typed: String,
    /// What was read last, and what it is called or all that is wrong with it.
    read: Option<(String, Result<String, Vec<Mistake>>)>,
    /// What the scene's rules say to build-ups as types of stock, of which revision: each text with what is in its way, if anything is.
    judged: (u64, Vec<(String, Option<String>)>),
    /// What stood side by side in the pass before.
    seen: Option<Vec<Numbered>>,
    /// Whether it was drawn in the pass before.
    was_shown: bool,
}

impl Draft {
    /// Notes whether it is shown; when it comes, the search waits for letters.
    pub(crate) fn note_shown(&mut self, is_shown: bool) {
        self.was_shown = is_shown;
    }

    /// What is typed reads as; read anew when it is another text.
    fn read(&mut self) -> Result<&str, &[Mistake]> {
        let read = match self.read.take() {
            Some(read) if read.0 == self.typed => read,
            _ => (self.typed.clone(), typed_name(&self.typed)),
        };
        match &self.read.insert(read).1 {
            Ok(name) => Ok(name),
            Err(mistakes) => Err(mistakes),
        }
    }
}

/// What stands beside the tabs: diffuse field or normal incidence.
pub(crate) fn head(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    ui.separator();
    for field in [Field::Diffuse, Field::Normal] {
        if ui.selectable_label(field == shown.view.comparison.field, small(field.label())).clicked() {
            asked.push(Command::ChooseField(field));
        }
    }
    ui.label(quiet("surfaces without end"))
        .on_hover_text("The edges of a single panel absorb beside: a panel on the wall absorbs more than its area says.");
}

/// The pane.
pub(crate) fn absorbers(ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked) {
    let scene = shown.results.scene.as_deref();
    let size = ui.available_size();
    let left = size.x - 4.0 * GAP;
    let side = (SIDE * left).min(0.5 * (left - MIDDLE)).clamp(SIDE_RANGE[0], SIDE_RANGE[1]);
    let middle = (left - 2.0 * side).max(SIDE_RANGE[0]);
    ui.horizontal_top(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0 * GAP;
        column(ui, side, size.y, |ui| list::list(ui, shown, scene, &mut drafts.absorbers, asked));
        column(ui, middle, size.y, |ui| curves::curves(ui, shown));
        column(ui, side, size.y, |ui| beside::beside(ui, shown, scene, drafts, asked));
    });
}

fn column(ui: &mut Ui, width: f32, height: f32, add: impl FnOnce(&mut Ui)) {
    ui.allocate_ui_with_layout(vec2(width, height), Layout::top_down(Align::Min), |ui| {
        ui.set_width(width);
        ui.spacing_mut().item_spacing.x = GAP;
        add(ui);
    });
}
