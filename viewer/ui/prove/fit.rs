//! Materials fitted to the recordings that were compared: the button, what came of it in words and columns of the printed page, and the scene with them as a file.

use std::path::Path;

use bevy_egui::egui::{Button, Color32, Label, Ui};
use roomwright::prove::fit::variant::FILE;
use roomwright::prove::fit::{Fit, FitMaterial, FitOctave, Outcome};
use roomwright::report::text::fit::{DECAY_HEADS, DECAYS, HEADING, MATERIAL_HEADS, MATERIALS, decays, materials};
use roomwright::study::fit::nothing_to_plan;

use super::super::errand::errand;
use super::super::say::{folded, remark, section};
use super::super::table::Table;
use super::super::tokens::{ACCENT, INK, QUIET, small, wrong};
use super::super::{Asked, Shown};
use super::is_in_the_way;
use crate::command::Command;
use crate::errand::Errand;
use crate::pages::why_not;
use crate::proving::{NO_DECAY, ProveAsked, ProveChoice, Proven};
use crate::reason::{without_keys, without_options};

/// The button once something was compared, and what came of it.
pub(super) fn fit(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(proven) = shown.results.proof.as_deref() else { return };
    let Some(proof) = &proven.proof else { return };
    section(ui, HEADING);
    begin(ui, shown, asked);
    if let Some(why) = &shown.results.no_fit {
        ui.add(Label::new(wrong(format!("Nothing was fitted. {why}"))).wrap());
    }
    let Some(fit) = &proof.fit else { return };
    for sentence in &fit.verdict {
        ui.add(Label::new(sentence).wrap());
    }
    if proven.variant.is_some() {
        variant(ui, shown, proven, asked);
    }
    tables(ui, fit);
    folded(ui, "How sure the fit is", |ui| fit.notes.iter().for_each(|note| remark(ui, format!("- {}", without_options(note)))));
}

/// The button, or why there is none.
fn begin(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(scene) = &shown.results.scene else { return };
    let listed = &shown.view.proving.listed;
    if listed.iter().all(crate::recordings::Listed::is_voice) {
        remark(ui, NO_DECAY);
        return;
    }
    let fits = Some(shown.document.text().into());
    let wanted = ProveAsked { listed: listed.clone(), waves: shown.view.low_end.waves(), fits };
    ui.add_enabled_ui(!is_in_the_way(shown, scene), |ui| errand(ui, shown, "Fit the materials", Errand::Prove(wanted), asked));
    remark(
        ui,
        "What the materials must absorb for the prediction to meet the decays, and how sure that is. The recordings are compared anew for it.",
    );
}

/// The scene with them: written, then opened.
fn variant(ui: &mut Ui, shown: Shown<'_>, proven: &Proven, asked: &mut Asked) {
    let why_not = why_not(shown.document, shown.results);
    ui.horizontal_wrapped(|ui| {
        let button = Button::new(format!("Write {FILE} with its page"));
        if ui.add_enabled(why_not.is_empty(), button).on_disabled_hover_text(why_not).clicked() {
            asked.push(Command::Prove(ProveChoice::WriteFit));
        }
        if let Some(path) = &shown.view.proving.fitted {
            let name = path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            if ui.button(format!("Open {name} to plan anew")).clicked() {
                asked.push(Command::Open(path.clone()));
            }
        }
    });
    if let Some(path) = &shown.view.proving.fitted {
        written(ui, path);
    }
    if let Some(why) = proven.variant.as_ref().and_then(|variant| nothing_to_plan(&variant.scene)) {
        remark(ui, without_keys(&why));
    }
}

fn written(ui: &mut Ui, path: &Path) {
    remark(ui, format!("It lies in {}. \"place\" plans it anew; the scene that you have open stays as it is.", path.display()));
}

/// Decays before and after, then every material.
fn tables(ui: &mut Ui, fit: &Fit) {
    if fit.octaves.is_empty() {
        return;
    }
    let mut table = Table::new(&DECAY_HEADS);
    decays(fit).into_iter().for_each(|row| _ = table.row(row));
    table.show(ui);
    remark(ui, DECAYS);
    let count = fit.octaves.first().map_or(0, |octave| octave.materials.len());
    let each = (0..count).flat_map(|index| fit.octaves.iter().filter_map(move |octave| Some((octave, octave.materials.get(index)?))));
    let mut open: Option<Table> = None;
    // The name stands over the rows of a material: beside them there is no room.
    for ([name, cells @ ..], of) in materials(fit).into_iter().zip(each) {
        if !name.is_empty() {
            open.take().iter().for_each(|table| table.show(ui));
            ui.label(small(name).strong());
        }
        open.get_or_insert_with(|| Table::new(&MATERIAL_HEADS[1..])).row(cells).colored(color(of));
    }
    open.iter().for_each(|table| table.show(ui));
    remark(ui, MATERIALS);
}

/// What is told stands out from what is not, and what cannot be met from both.
fn color((octave, one): (&FitOctave, &FitMaterial)) -> Color32 {
    match one.outcome {
        _ if !octave.is_met => ACCENT,
        Outcome::Fitted => INK,
        Outcome::NotToldApart | Outcome::NotTold => QUIET,
    }
}
