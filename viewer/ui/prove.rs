//! The fifth step: did it work? Measuring does not exist yet.

use bevy_egui::egui::{Label, RichText, Ui};

use super::say::{question, remark, section};
use super::tokens::QUIET;

/// The panel.
pub(crate) fn prove(ui: &mut Ui) {
    question(ui, "Did it work?", RichText::new("That cannot be answered here yet: no measurement can be taken or read in.").color(QUIET));
    section(ui, "Until then");
    ui.add(
        Label::new(
            "Clap where the flutter of \"hear\" says to stand, before and after; record your voice at the same place, before and after, and \
             listen to both at the same loudness.",
        )
        .wrap(),
    );
    remark(ui, "Every figure of the other steps is computed, with its error; none is measured.");
}
