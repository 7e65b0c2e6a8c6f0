//! The foot: what the machine does, how sure the figures are, and what was done or refused last.

use bevy_egui::egui::{Align, Label, Layout, ProgressBar, Ui};
use roomwright::report::sheet::grouped;
use roomwright::report::text::figures::estimate;

use super::tokens::{ACCENT, quiet, small, wrong};
use super::{Shown, listen};
use crate::errand::Running;

/// The line.
pub(crate) fn status(ui: &mut Ui, shown: Shown<'_>) {
    let status = &shown.results.status;
    ui.horizontal_centered(|ui| {
        match status.stage {
            _ if shown.document.is_broken() => _ = ui.label(wrong("Not computed: the scene text has mistakes.").size(11.0)),
            Some(stage) => {
                let doing = if stage.is_empty() { "beginning" } else { stage };
                ui.add(ProgressBar::new(status.done.clamp(0.0, 1.0)).desired_width(60.0).desired_height(6.0));
                ui.label(small(format!("{doing}, {:.0} %", 100.0 * status.done)));
            }
            None => _ = ui.label(small("All is computed.")),
        }
        if let Some(Running { errand, stage, done, .. }) = &status.errand {
            ui.separator();
            ui.label(small(format!("{}: {stage}, {:.0} %", errand.doing(), 100.0 * done.clamp(0.0, 1.0))));
        }
        if let Some(heard) = listen::heard(shown.sound) {
            ui.separator();
            ui.label(small(heard).color(ACCENT));
        }
        if status.rays_wanted > 0 {
            ui.separator();
            let wanted = if status.rays < status.rays_wanted { format!(" of {}", grouped(status.rays_wanted)) } else { String::new() };
            ui.label(quiet(format!("{}{wanted} rays a source", grouped(status.rays))));
        }
        if let Some(early) = &shown.results.early {
            ui.separator();
            ui.label(quiet(format!("early level {} dB re direct", estimate(early.value.level_db, 1)))).on_hover_text(
                "Mean of the judged sources, 1 - 8 kHz. +- holds 95 of 100 repeats of the tracing; materials add their own doubt.",
            );
            if !shown.results.is_fresh(early) {
                ui.label(wrong("of an earlier scene").size(11.0));
            }
        }
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            let refused = shown.view.refused.as_ref().map(|refused| wrong(format!("Not done: {}.", refused.reason.trim_end_matches('.'))));
            let notice = shown.view.notice.as_ref().map(small);
            if let Some(said) = refused.map(|text| text.size(11.0)).or(notice) {
                let text = said.text().to_owned();
                ui.add(Label::new(said).truncate()).on_hover_text(text);
            }
        });
    });
}
