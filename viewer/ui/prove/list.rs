//! The recordings: a file, what it is of, from where to where, the file of before, and what is in the way of each.

use bevy_egui::egui::{ComboBox, DragValue, Label, Ui};
use roomwright::dsp::sweep::Sweep;
use roomwright::report::sheet::grouped;
use roomwright::report::text::figures::number;
use roomwright::scene::Scene;

use super::super::say::{line, remark};
use super::super::tokens::{GAP, quiet, small, subheading, wrong};
use super::super::{Asked, Shown};
use crate::command::Command;
use crate::proving::{ProveChoice, faults};
use crate::recordings::{Kind, Listed, SoundFile, receivers, sources};

/// How a recording that can be read comes off a phone.
const PHONE: &str = "A phone saves compressed sound unless its recorder is set to WAV or lossless: do that, turn voice enhancement and automatic gain off, and copy the file by cable; a chat compresses it again.";

/// How a voice is recorded.
const VOICE: &str = "Read the same text for 20 s or longer both times, at the same place and distance, after two seconds of silence.";

/// Width of the words before a field.
const WHAT: f32 = 62.0;

/// All of them, and the button that adds one.
pub(super) fn list(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    let Some(scene) = shown.results.scene.as_deref() else { return };
    let listed = &shown.view.proving.listed;
    if listed.is_empty() {
        how(ui);
    }
    for (number, one) in listed.iter().enumerate() {
        ui.push_id(("recording", number), |ui| recording(ui, shown, scene, (number, one), asked));
        ui.separator();
    }
    let word = if listed.is_empty() { "Choose a recording..." } else { "Add another recording..." };
    if ui.button(word).clicked() {
        asked.push(Command::Prove(ProveChoice::Ask(None)));
    }
}

/// How one is made.
fn how(ui: &mut Ui) {
    ui.add(
        Label::new(
            "Play the test signal through one loudspeaker and record it where the middle of the head is: a WAV file for each loudspeaker and seat. \"roomwright sweep\" writes the signal and says how to play \
             it without harm. An impulse response of another program does as well; a clap on a phone tells decay times alone.",
        )
        .wrap(),
    );
    remark(ui, PHONE);
    remark(
        ui,
        "Recorded bare, and again at the same level and places once the panels hang, both are set side by side. The scene is the room as it stands when it is recorded.",
    );
}

fn recording(ui: &mut Ui, shown: Shown<'_>, scene: &Scene, (number, one): (usize, &Listed), asked: &mut Asked) {
    let mut now = one.clone();
    ui.horizontal(|ui| {
        ui.label(subheading(one.file.name())).on_hover_text(one.file.path.display().to_string());
        if ui.button(small("take out")).on_hover_text("Off the list; the file stays where it is.").clicked() {
            asked.push(Command::Prove(ProveChoice::LeaveOut(number)));
        }
    });
    holds(ui, &one.file);
    kind(ui, &mut now);
    if now.is_voice() {
        remark(ui, VOICE);
    }
    if matches!(now.kind, Kind::Clap | Kind::Voice) {
        remark(ui, PHONE);
    }
    ends(ui, scene, &mut now);
    channel(ui, &mut now);
    if now.kind == Kind::Sweep {
        sweep(ui, &mut now.sweep);
    }
    before(ui, (number, one), &mut now, asked);
    let wrongs = faults(shown.results, scene, one);
    for (is_before, why) in &wrongs {
        let of = if *is_before { "Before: " } else { "" };
        ui.add(Label::new(wrong(format!("{of}{why}"))).wrap());
    }
    // It was listened to, and was not what it was taken for.
    if one.kind == Kind::Sweep && !wrongs.is_empty() && one.faults(scene).is_empty() {
        remark(ui, "If it was another sweep, say above how it was made; if it is none, say what it is.");
    }
    if now != *one {
        asked.push(Command::Prove(ProveChoice::Change(number, Box::new(now))));
    }
    ui.add_space(GAP);
}

/// How long it is, as far as it could be read.
fn holds(ui: &mut Ui, file: &SoundFile) {
    if file.found.is_none() {
        ui.label(quiet("reading ..."));
    }
    if let Some(sound) = file.sound() {
        let channels = match sound.channels.len() {
            1 => "one channel".to_owned(),
            more => format!("{more} channels"),
        };
        ui.label(quiet(format!("{} s, {} samples a second, {channels}", number(sound.seconds(), 1), grouped(sound.rate))));
    }
}

fn kind(ui: &mut Ui, now: &mut Listed) {
    line(ui, "it is", WHAT, |ui, label| {
        let list = ComboBox::from_id_salt("kind").selected_text(now.kind.words()).show_ui(ui, |ui| {
            for kind in Kind::ALL {
                ui.selectable_value(&mut now.kind, kind, kind.words());
            }
        });
        list.response.labelled_by(label);
    });
}

/// From which source to which seat or microphone.
fn ends(ui: &mut Ui, scene: &Scene, now: &mut Listed) {
    let chosen = [now.source(scene).ok(), now.receiver(scene).ok()];
    let lists = [("from", sources(scene), &mut now.source), ("at", receivers(scene), &mut now.receiver)];
    for ((what, names, slot), chosen) in lists.into_iter().zip(chosen) {
        line(ui, what, WHAT, |ui, label| {
            let text = chosen.and_then(|number| names.get(number)).copied().unwrap_or("choose");
            let list = ComboBox::from_id_salt(what).selected_text(text).show_ui(ui, |ui| {
                for (number, name) in names.iter().enumerate() {
                    if ui.selectable_label(chosen == Some(number), *name).clicked() {
                        *slot = Some((*name).to_owned());
                    }
                }
            });
            list.response.labelled_by(label);
        });
    }
}

/// Which channel, where there are several.
fn channel(ui: &mut Ui, now: &mut Listed) {
    let channels = now.channels();
    if channels < 2 {
        return;
    }
    let word = |channel: Option<usize>| channel.map_or_else(|| "the one with sound, else 1".to_owned(), |channel| channel.to_string());
    line(ui, "channel", WHAT, |ui, label| {
        let list = ComboBox::from_id_salt("channel").selected_text(word(now.channel)).show_ui(ui, |ui| {
            for channel in std::iter::once(None).chain((1..=channels).map(Some)) {
                ui.selectable_value(&mut now.channel, channel, word(channel));
            }
        });
        list.response.labelled_by(label);
    });
}

/// How the sweep was made: as it is written if nothing is asked of it, unless something else is said here.
fn sweep(ui: &mut Ui, sweep: &mut Sweep) {
    let was = *sweep;
    let (mut repeats, mut seconds) = (was.repeats, was.seconds);
    let field = |ui: &mut Ui, what: &str, value: DragValue<'_>| line(ui, what, WHAT, |ui, label| _ = ui.add(value).labelled_by(label));
    field(ui, "goes from", DragValue::new(&mut sweep.low_hz).range(1.0..=20_000.0).suffix(" Hz"));
    field(ui, "up to", DragValue::new(&mut sweep.high_hz).range(2.0..=96_000.0).speed(50.0).suffix(" Hz"));
    field(ui, "lasts", DragValue::new(&mut seconds).range(0.5..=600.0).speed(0.1).suffix(" s"));
    field(ui, "repeats", DragValue::new(&mut repeats).range(1..=64).speed(0.05));
    field(ui, "pause", DragValue::new(&mut sweep.silence_s).range(0.2..=60.0).speed(0.1).suffix(" s"));
    field(ui, "level", DragValue::new(&mut sweep.level_db).range(-120.0..=0.0).suffix(" dB"));
    field(ui, "rate", DragValue::new(&mut sweep.rate_hz).range(8_000.0..=192_000.0).speed(100.0).suffix(" Hz"));
    sweep.repeats = repeats;
    if seconds != was.seconds {
        // Fades are shares of its length.
        let whole = Sweep::new(sweep.low_hz, sweep.high_hz, seconds, sweep.rate_hz);
        *sweep = Sweep { level_db: sweep.level_db, repeats, silence_s: sweep.silence_s, ..whole };
    }
}

/// The file of before, or the button that asks for it.
fn before(ui: &mut Ui, (number, one): (usize, &Listed), now: &mut Listed, asked: &mut Asked) {
    line(ui, "before", WHAT, |ui, _| {
        if let Some(before) = &one.before {
            ui.label(small(before.name())).on_hover_text(before.path.display().to_string());
            if ui.button(small("leave out")).clicked() {
                now.before = None;
            }
        } else if ui.button(small("Choose the same of before...")).clicked() {
            asked.push(Command::Prove(ProveChoice::Ask(Some(number))));
        }
    });
    if let Some(before) = &one.before {
        holds(ui, before);
    }
}
