//! The button that begins an errand, and while it is run how far it is and what stops it.

use std::sync::Arc;

use bevy_egui::egui::{Button, ProgressBar, Ui};
use roomwright::scene::Scene;

use super::say::remark;
use super::{Asked, Shown};
use crate::command::Command;
use crate::errand::Errand;

/// Width of the bar, points.
const BAR: f32 = 220.0;

/// The button with these words, or the bar.
pub(super) fn errand(ui: &mut Ui, shown: Shown<'_>, words: &str, errand: Errand, asked: &mut Asked) {
    let running = shown.results.status.errand.as_ref();
    if let Some(running) = running.filter(|running| running.errand.is_like(&errand)) {
        ui.horizontal_wrapped(|ui| {
            ui.add(ProgressBar::new(running.done.clamp(0.0, 1.0)).desired_width(BAR).text(running.stage));
            if ui.button("Stop").clicked() {
                asked.push(Command::StopErrand);
            }
            if running.can_end
                && ui.button("Take the best so far").on_hover_text("Ends the search; what it has found is judged like any plan.").clicked()
            {
                asked.push(Command::EndErrand);
            }
        });
        return;
    }
    let why_not = match running {
        _ if shown.document.is_broken() => "The scene text has mistakes.",
        Some(_) => "Another study is being made; stop it first, or wait for it.",
        None => "",
    };
    if ui.add_enabled(why_not.is_empty(), Button::new(words)).on_disabled_hover_text(why_not).clicked() {
        asked.push(Command::Begin(errand));
    }
}

/// Whether what was found in a scene holds for the one on screen; `again` says what to do where it does not.
pub(super) fn holds(ui: &mut Ui, shown: Shown<'_>, scene: &Arc<Scene>, again: &str) -> bool {
    let holds = shown.results.shows(scene) && !shown.document.is_broken();
    if !holds {
        remark(ui, format!("This is of the scene as it was; {again}."));
    }
    holds
}
