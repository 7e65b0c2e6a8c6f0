//! Small pieces of text that several panels share: headings, remarks, what a figure rests on, which source and receiver are in front.

use bevy_egui::egui::{Align, CollapsingHeader, ComboBox, Id, Label, Layout, RichText, Ui, vec2};
use roomwright::findings::{Findings, Pair};
use roomwright::report::text::figures::pair_label;
use roomwright::scene::Scene;

use super::tokens::{GAP, heading, quiet, small, subheading, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::results::Known;

/// The question of a step and its answer.
pub(crate) fn question(ui: &mut Ui, question: &str, answer: impl Into<RichText>) {
    ui.label(heading(question));
    ui.add(Label::new(answer.into()).wrap());
    ui.add_space(GAP);
}

/// A heading over a section.
pub(crate) fn section(ui: &mut Ui, title: &str) {
    ui.add_space(2.0 * GAP);
    ui.label(subheading(title));
}

/// A line of a form: what it is, in so much width, then what is typed or chosen, labelled by it.
pub(crate) fn line(ui: &mut Ui, what: &str, width: f32, add: impl FnOnce(&mut Ui, Id)) {
    ui.horizontal(|ui| {
        let height = ui.spacing().interact_size.y;
        let place = Layout::left_to_right(Align::Center);
        let label = ui.allocate_ui_with_layout(vec2(width, height), place, |ui| {
            ui.set_min_width(width);
            ui.label(small(what)).id
        });
        add(ui, label.inner);
    });
}

/// A section that can be folded away, folded at first.
pub(crate) fn folded(ui: &mut Ui, title: &str, add: impl FnOnce(&mut Ui)) {
    ui.add_space(GAP);
    CollapsingHeader::new(subheading(title)).id_salt(title.trim_start_matches(|c: char| c.is_ascii_digit())).show_unindented(ui, add);
}

/// A remark.
pub(crate) fn remark(ui: &mut Ui, text: impl Into<String>) {
    ui.add(Label::new(quiet(text)).wrap());
}

/// A value of the scene on screen, or an older one with a mark, or a word that it is not known.
pub(crate) fn known<'a, T>(ui: &mut Ui, shown: Shown<'a>, known: Option<&'a Known<T>>) -> Option<&'a T> {
    match known {
        None if shown.document.is_broken() => remark(ui, "Not computed: the scene text has mistakes."),
        None => remark(ui, "Not known yet: it is being computed."),
        Some(known) if !shown.results.is_fresh(known) => {
            ui.label(wrong("Of an earlier scene; the figures follow.").size(11.0));
        }
        Some(_) => {}
    }
    known.map(|known| &*known.value)
}

/// Names of seats and microphones, in the order of the room's receivers.
fn receivers(scene: &Scene) -> Vec<&str> {
    let microphones = scene.microphones.iter().map(|microphone| microphone.name.as_str());
    scene.seats.iter().map(|seat| seat.name.as_str()).chain(microphones).collect()
}

/// Which source and receiver the figures are for.
pub(crate) fn choose_pair(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(scene) = &shown.results.scene else { return };
    let sources: Vec<&str> = scene.sources.iter().map(|source| source.name.as_str()).collect();
    let receivers = receivers(scene);
    ui.horizontal(|ui| {
        ui.label("from");
        choose(ui, "source", &sources, shown.view.source, |index| asked.push(Command::ChooseSource(index)));
        ui.label("to");
        choose(ui, "receiver", &receivers, shown.view.receiver, |index| asked.push(Command::ChooseReceiver(index)));
    });
}

fn choose(ui: &mut Ui, what: &str, names: &[&str], now: usize, mut then: impl FnMut(usize)) {
    ComboBox::from_id_salt(what).selected_text(names.get(now).copied().unwrap_or("-")).show_ui(ui, |ui| {
        for (index, name) in names.iter().enumerate() {
            if ui.selectable_label(index == now, *name).clicked() {
                then(index);
            }
        }
    });
}

/// The pair in front.
pub(crate) fn pair<'a>(shown: Shown<'_>, findings: &'a Findings) -> Option<&'a Pair> {
    let scene = shown.results.scene.as_ref()?;
    let source = scene.sources.get(shown.view.source)?;
    let receiver = receivers(scene).get(shown.view.receiver).copied()?;
    findings.pairs.iter().find(|pair| pair.source == source.name && pair.receiver == receiver)
}

/// Which ear of the seat in front is looked at, where there is a choice; small enough to stand beside a plot.
pub(crate) fn choose_ear(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let found = shown.results.findings.as_ref().and_then(|known| pair(shown, &known.value));
    let ears = found.map_or(&[][..], |pair| &pair.early_responses);
    if ears.len() < 2 {
        ears.iter().for_each(|ear| _ = ui.label(quiet(format!("at the {}", ear.at))));
        return;
    }
    ui.horizontal(|ui| {
        ui.spacing_mut().button_padding = vec2(4.0, 0.0);
        ui.spacing_mut().interact_size.y = 0.0;
        for (index, ear) in ears.iter().enumerate() {
            if ui.selectable_label(index == shown.view.ear, small(&ear.at)).clicked() {
                asked.push(Command::ChooseEar(index));
            }
        }
    });
}

/// `left to desk`, or nothing.
pub(crate) fn label(pair: Option<&Pair>) -> String {
    pair.map_or_else(String::new, pair_label)
}
