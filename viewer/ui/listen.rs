//! By ear: what the seat hears of a dry sound, in two versions of the room; what is played, how loud, by whom, and what to know before.

use bevy_egui::egui::{Button, ComboBox, Key, Label, Modifiers, Slider, Ui};
use roomwright::listen::dry::Dry;
use roomwright::report::sheet::grouped;
use roomwright::report::text::figures::number;
use roomwright::study::Listener;
use roomwright::study::listen::NOTES;

use super::say::{folded, remark, section};
use super::tokens::{quiet, small, wrong};
use super::{Asked, Shown};
use crate::command::Command;
use crate::sound::listening::LEAST_DB;
use crate::sound::ready::DryChoice;
use crate::sound::{Listening, SoundChoice};
use crate::view::Step;

/// The keys, as `keys` reads them: play or hold, A or B. Sound begins only where the note on loudness and the volume are in sight; it is
/// held anywhere.
pub(crate) fn keys(shown: Shown<'_>, pressed: impl Fn(Modifiers, Key) -> bool, asked: &mut Asked) {
    let sound = shown.sound;
    let is_in_sight = matches!(shown.view.step, Step::Hear | Step::Place);
    if sound.lack.is_some() {
        return;
    }
    if (is_in_sight || sound.plays) && pressed(Modifiers::NONE, Key::P) {
        asked.push(Command::Sound(SoundChoice::Play(!sound.plays)));
    }
    if is_in_sight && pressed(Modifiers::NONE, Key::X) {
        asked.push(Command::Sound(SoundChoice::Hear(1 - sound.hears)));
    }
}

/// What is heard now, in a few words; nothing while nothing is.
pub(crate) fn heard(sound: &Listening) -> Option<String> {
    let now = sound.sounding();
    let newer = if sound.is_making { " (a newer response is being made)" } else { "" };
    sound.is_on().then(|| format!("heard: {}, {}{newer}", letter(now), sound.told[now].name))
}

fn letter(side: usize) -> char {
    if side == 0 { 'A' } else { 'B' }
}

/// The section.
pub(crate) fn listen(ui: &mut Ui, shown: Shown<'_>, asked: &mut Asked) {
    section(ui, "By ear");
    let sound = shown.sound;
    if let Some(lack) = sound.lack {
        remark(ui, lack);
        return;
    }
    let mut ask = |choice: SoundChoice| asked.push(Command::Sound(choice));
    remark(ui, NOTES[0]);
    ui.horizontal(|ui| {
        let (word, hint) = if sound.plays { ("Hold", "Key: P") } else { ("Play", "Key: P; begins at the volume beside it") };
        let why_not = why_silent(shown);
        let button = ui.add_enabled(why_not.is_none() || sound.plays, Button::new(word)).on_hover_text(hint);
        if button.on_disabled_hover_text(why_not.unwrap_or_default()).clicked() {
            ask(SoundChoice::Play(!sound.plays));
        }
        volume(ui, sound, &mut ask);
    });
    ui.horizontal_wrapped(|ui| {
        for side in [0, 1] {
            let words = format!("{}: {}", letter(side), sound.told[side].name);
            if ui.selectable_label(sound.hears == side, words).on_hover_text("Key: X, from one to the other without a gap").clicked() {
                ask(SoundChoice::Hear(side));
            }
        }
        for (equal, word, hint) in [
            (false, "as loud as they are", "On one scale: the room that swallows more sound is softer"),
            (true, "equally loud", "The louder one is lowered, the softer one never raised: how rooms are compared"),
        ] {
            if ui.selectable_label(sound.equal == equal, word).on_hover_text(hint).clicked() {
                ask(SoundChoice::Equal(equal));
            }
        }
    });
    state(ui, shown);
    dry(ui, sound, &mut ask);
    who(ui, shown, &mut ask);
    device(ui, sound, &mut ask);
    folded(ui, "How this is to be heard", |ui| {
        remark(ui, "Equally loud is how rooms are compared; on one scale the drier room is softer, as it is for who sits there.");
        remark(ui, NOTES[2]);
        remark(ui, "\"roomwright hear SCENE --sound all\" writes the same as files.");
        let on = "Headphones for the head, two loudspeakers for pairs of microphones. A dry sound of one channel comes from all sources alike; \
                  of two, from the left and the right one where there are two, else from all as one.";
        remark(ui, on);
        remark(
            ui,
            "Nothing here raises the volume but your hand. What would pass full scale is lowered, and stays so until you raise the volume.",
        );
    });
}

/// Why nothing can be played in what is shown, if nothing can.
fn why_silent(shown: Shown<'_>) -> Option<&'static str> {
    match &shown.results.scene {
        _ if shown.results.is_sketch => Some("The scene text has mistakes: the room is heard when it has none."),
        Some(scene) if scene.sources.is_empty() => Some("Nobody sounds in this room: it has no source."),
        Some(_) => None,
        None => Some("There is no room yet."),
    }
}

/// How loud; raised by hand alone.
fn volume(ui: &mut Ui, sound: &Listening, ask: &mut impl FnMut(SoundChoice)) {
    let mut volume_db = sound.volume_db;
    ui.label("volume");
    ui.spacing_mut().slider_width = (ui.available_width() - 90.0).max(80.0);
    let slider = Slider::new(&mut volume_db, LEAST_DB..=0.0).suffix(" dB").fixed_decimals(0);
    let hint =
        "Below the most that the device plays. Sound starts low and rises to it by 12 dB a second at most, however fast you move it.";
    if ui.add(slider).on_hover_text(hint).changed() {
        ask(SoundChoice::Volume(volume_db));
    }
}

/// What is heard, how sure that is, and what went wrong.
fn state(ui: &mut Ui, shown: Shown<'_>) {
    let sound = shown.sound;
    for (side, told) in sound.told.iter().enumerate() {
        if let Some(why) = &told.why_not {
            ui.add(Label::new(wrong(format!("{} cannot be heard: {}.", letter(side), why.trim_end_matches('.'))).size(11.0)).wrap());
        }
    }
    let made = sound.told.each_ref().map(|told| told.rays);
    if sound.is_on() {
        let now = sound.sounding();
        let words = match (made[now], sound.is_making) {
            _ if made[now] > 0 && made[sound.hears] == 0 => {
                format!("{} is being made; until then {} is heard.", letter(sound.hears), letter(now))
            }
            _ if !sound.is_open() => "The device is being opened.".to_owned(),
            (0, _) if why_silent(shown).is_some() || sound.told[sound.hears].why_not.is_some() => "Nothing is heard.".to_owned(),
            (0, _) => "The response is being made; sound follows by itself.".to_owned(),
            (_, true) => "Newer responses are being made; the last ones sound until then.".to_owned(),
            (rays, false) => {
                let low = if sound.by_waves { "with the low end by waves" } else { "low octaves a statistical reading" };
                format!("Heard is {} from {} rays a source, {low}.", letter(now), grouped(rays))
            }
        };
        remark(ui, words);
    }
    // Held, nothing is asked anew when panels move.
    if let Some(louder_db) = sound.louder_b_db().filter(|_| sound.is_on()) {
        let words = match louder_db {
            -0.05..0.05 => "as loud as".to_owned(),
            _ => format!("{} dB {} than", number(louder_db.abs(), 1), if louder_db < 0.0 { "softer" } else { "louder" }),
        };
        remark(ui, format!("With this sound B is {words} A (loudness after ITU-R BS.1770)."));
    }
    if sound.is_on() && sound.held_back_db() >= 0.5 {
        let words = format!(
            "Both are {} dB softer than they could be, for nothing gets louder by itself: choose the scale again, or raise the volume.",
            number(sound.held_back_db(), 1)
        );
        remark(ui, words);
    }
    let hangs = shown.results.scene.as_ref().is_some_and(|scene| !scene.panels.is_empty());
    if shown.document.shows_b().is_none() && !hangs {
        remark(ui, "Nothing hangs: A and B are the same.");
    }
    if sound.pulse.guard_db < 0.0 {
        let words = format!(
            "Lowered by {} dB, or it would have passed full scale; it stays so until you raise the volume.",
            number(-sound.pulse.guard_db, 1)
        );
        ui.add(Label::new(wrong(words).size(11.0)).wrap());
    }
    if sound.gaps() > 0 {
        remark(ui, "The machine was late for the device and the sound had a gap: other work slowed it.");
    }
    if let Some(why) = &sound.wrong {
        ui.add(Label::new(wrong(why).size(11.0)).wrap());
    }
}

/// What is played.
fn dry(ui: &mut Ui, sound: &Listening, ask: &mut impl FnMut(SoundChoice)) {
    ui.horizontal(|ui| {
        ui.label("sound");
        let now = match &sound.dry {
            DryChoice::Own(dry) => dry.word().to_owned(),
            DryChoice::File(take) => take.path.file_name().map_or_else(String::new, |name| name.to_string_lossy().into_owned()),
        };
        ComboBox::from_id_salt("dry sound").selected_text(now).width(150.0).show_ui(ui, |ui| {
            for dry in Dry::ALL {
                let is_now = sound.dry == DryChoice::Own(dry);
                if ui.selectable_label(is_now, dry.word()).on_hover_text(dry.shows()).clicked() {
                    ask(SoundChoice::Own(dry));
                }
            }
        });
        if ui.button("A file of yours").on_hover_text("A WAV file of one or two channels, recorded close and dry").clicked() {
            ask(SoundChoice::AskFile);
        }
        let mut repeats = sound.repeats;
        if ui.checkbox(&mut repeats, "over and over").changed() {
            ask(SoundChoice::Repeat(repeats));
        }
    });
    let shows = match &sound.dry {
        DryChoice::Own(dry) => format!("{}: {}.", dry.word(), dry.shows()),
        DryChoice::File(take) => {
            let kind = if take.channels == 2 { "two channels" } else { "one channel" };
            format!("{} s, {kind}, {} samples a second.", number(take.seconds, 1), take.rate)
        }
    };
    remark(ui, shows);
}

/// Who listens, and where.
fn who(ui: &mut Ui, shown: Shown<'_>, ask: &mut impl FnMut(SoundChoice)) {
    let sound = shown.sound;
    let Some(scene) = &shown.results.scene else { return };
    let receiver = shown.view.receiver;
    ui.horizontal(|ui| {
        ui.label("heard by");
        match scene.seats.get(receiver) {
            Some(seat) => {
                ComboBox::from_id_salt("listener").selected_text(sound.listener.word()).width(90.0).show_ui(ui, |ui| {
                    for listener in Listener::ALL {
                        if ui.selectable_label(sound.listener == listener, listener.word()).on_hover_text(listener.what()).clicked() {
                            ask(SoundChoice::Listener(listener));
                        }
                    }
                });
                ui.label(format!("at {}", seat.name)).on_hover_text("Another one: the choice \"from .. to\" above");
            }
            None => _ = ui.label("the microphone of the scene"),
        }
    });
    if scene.seats.get(receiver).is_some() {
        remark(ui, format!("{}: {}.", sound.listener.word(), sound.listener.what()));
    }
}

/// What it is played on.
fn device(ui: &mut Ui, sound: &Listening, ask: &mut impl FnMut(SoundChoice)) {
    ui.horizontal(|ui| {
        ui.label("on");
        let usual = "the usual device";
        let now = sound.device.as_ref().map_or(usual, |which| which.name.as_str());
        ComboBox::from_id_salt("device").selected_text(now).width(200.0).show_ui(ui, |ui| {
            if ui.selectable_label(sound.device.is_none(), usual).clicked() {
                ask(SoundChoice::Device(None));
            }
            for which in sound.devices.iter().flatten() {
                let is_one_of_many = sound.devices.iter().flatten().filter(|other| other.name == which.name).count() > 1;
                let words = if is_one_of_many { format!("{} ({})", which.name, which.id) } else { which.name.clone() };
                if ui.selectable_label(sound.device.as_ref() == Some(which), words).clicked() {
                    ask(SoundChoice::Device(Some(which.clone())));
                }
            }
        });
        let word = if sound.devices.is_some() { "Look again" } else { "Look for others" };
        if ui.button(small(word)).clicked() {
            ask(SoundChoice::FindDevices);
        }
        if sound.devices.as_ref().is_some_and(Vec::is_empty) {
            ui.label(quiet("none was found"));
        }
    });
}
