//! The fifth step: did it work? Recordings are read in on the command line; the page says how.

use bevy_egui::egui::{Label, RichText, Ui};

use super::say::{question, remark, section};
use super::tokens::QUIET;

/// The panel.
pub(crate) fn prove(ui: &mut Ui) {
    question(ui, "Did it work?", RichText::new("Recordings are read in on the command line, not here yet.").color(QUIET));
    section(ui, "With a recording");
    ui.add(
        Label::new(
            "roomwright sweep writes a test signal and says how to play it without harm and how to record it. roomwright prove SCENE RECORDING --before RECORDING compares what \
             was recorded with what this room predicts, and with before: decay, clarity, each early reflection.",
        )
        .wrap(),
    );
    section(ui, "By ear");
    ui.add(
        Label::new(
            "Clap where the flutter of \"hear\" says to stand, before and after; record your voice at the same place, before and after, and \
             listen to both at the same loudness.",
        )
        .wrap(),
    );
    remark(ui, "Every figure of the other steps is computed, with its error; none is measured.");
}
