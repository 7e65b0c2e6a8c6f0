//! The fourth step: what do I cut, and where do I drill? What exists of it is made by the command line.

use bevy_egui::egui::{Label, RichText, Ui};

use super::Shown;
use super::say::{question, remark, section};
use super::tokens::QUIET;

/// The panel.
pub(crate) fn build(ui: &mut Ui, shown: Shown<'_>) {
    question(ui, "What do I cut, and where do I drill?", RichText::new("There is no cut list and no shopping list yet.").color(QUIET));
    section(ui, "What there is");
    ui.add(
        Label::new(
            "Working drawings: one sheet a surface, with running measures, fixings and the cautions where the hazard is. The command line \
             writes them with its plan:",
        )
        .wrap(),
    );
    let file = shown.document.path().map_or_else(|| "scene.toml".into(), |path| path.display().to_string());
    ui.add(Label::new(RichText::new(format!("roomwright place {file}")).monospace()).wrap());
    remark(ui, "It reads the file, so save first. Panels that hang already are drawn as they hang; what it adds is numbered.");
    section(ui, "What is to come");
    remark(ui, "Cut list, fabric, fixings and prices of the stock that hangs; the sheets from here.");
}
