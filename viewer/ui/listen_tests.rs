//! The section by ear, by what it says and by clicks.

use roomwright::listen::dry::Dry;
use roomwright::study::Listener;
use roomwright::study::listen::NOTES;

use super::*;
use crate::sound::SoundChoice;
use crate::sound::device::{Line, Output, Said, Voice, Which};
use crate::sound::feeder::Pulse;
use crate::sound::listening::FIRST_DB;
use crate::sound::ready::Loud;

/// A device that is asked and never answers.
struct Mute;

impl Output for Mute {
    fn lack(&self) -> Option<&'static str> {
        None
    }

    fn list(&self, _: Voice) {}

    fn open(&self, _: Option<Which>, _: Line) {}
}

/// One that plays at once, at 48,000 samples a second.
struct Ready;

impl Output for Ready {
    fn lack(&self) -> Option<&'static str> {
        None
    }

    fn list(&self, _: Voice) {}

    fn open(&self, _: Option<Which>, line: Line) {
        line.voice.say(Said::Opened(48_000));
    }
}

fn listen_panel(ui: &mut Ui, shown: Shown<'_>, _: &mut Drafts, asked: &mut Asked) {
    listen::listen(ui, shown, asked);
}

/// The attic with a device.
fn desk(change: impl FnOnce(&mut Listening)) -> Desk {
    let mut sound = Listening::on(Arc::new(Mute));
    sound.told[0].name = "as it hangs".into();
    sound.told[1].name = "bare".into();
    change(&mut sound);
    Desk { sound, ..Desk::studied() }
}

fn sound(choice: SoundChoice) -> Asked {
    vec![Command::Sound(choice)]
}

#[test]
fn keeps_the_note_on_hearing_beside_the_button() {
    let harness = shown(desk(|_| ()), listen_panel);
    assert!(says(&harness, NOTES[0]));
    let note = harness.query_all_by_label_contains("Begin with the volume").next().unwrap().rect();
    let button = find_begin(&harness, "Play").rect();
    assert!(note.bottom() <= button.top() && button.top() - note.bottom() < 20.0, "it stands right over it");
    assert!((harness.state().sound.volume_db - FIRST_DB).abs() < 1e-9);
    // On both pages.
    for panel in [hear_panel as Drawn, place::place] {
        assert!(says(&shown(desk(|_| ()), panel), NOTES[0]));
    }
}

#[test]
fn keeps_every_choice_a_click_away() {
    let mut harness = shown(desk(|_| ()), listen_panel);
    assert_eq!(click(&mut harness, "Play"), sound(SoundChoice::Play(true)));
    assert_eq!(click(&mut harness, "A: as it hangs"), sound(SoundChoice::Hear(0)));
    assert_eq!(click(&mut harness, "B: bare"), sound(SoundChoice::Hear(1)));
    assert_eq!(click(&mut harness, "equally loud"), sound(SoundChoice::Equal(true)));
    assert_eq!(click(&mut harness, "as loud as they are"), sound(SoundChoice::Equal(false)));
    assert_eq!(click(&mut harness, "A file of yours"), sound(SoundChoice::AskFile));
    assert_eq!(click(&mut harness, "over and over"), sound(SoundChoice::Repeat(false)));
    assert_eq!(click(&mut harness, "Look for others"), sound(SoundChoice::FindDevices));
    let mut harness = shown(desk(|sound| sound.plays = true), listen_panel);
    assert_eq!(click(&mut harness, "Hold"), sound(SoundChoice::Play(false)));
}

#[test]
fn keeps_what_can_be_chosen_in_the_lists() {
    let device = |id: &str, name: &str| Which { id: id.into(), name: name.into() };
    let chosen = |now: &str, word: &str| {
        let found = [("card:0", "headphones"), ("card:1", "monitors"), ("card:2", "monitors")];
        let mut harness = shown(desk(|sound| sound.devices = Some(found.map(|(id, name)| device(id, name)).to_vec())), listen_panel);
        harness.get_by_value(now).click();
        harness.run_ok();
        click(&mut harness, word)
    };
    assert_eq!(chosen("clap", "bowed"), sound(SoundChoice::Own(Dry::Bowed)));
    assert_eq!(chosen("head", "crossed"), sound(SoundChoice::Listener(Listener::Crossed)));
    assert_eq!(chosen("the usual device", "headphones"), sound(SoundChoice::Device(Some(device("card:0", "headphones")))));
    // Those of one name are told apart.
    assert_eq!(chosen("the usual device", "monitors (card:2)"), sound(SoundChoice::Device(Some(device("card:2", "monitors")))));
}

#[test]
fn keeps_saying_what_is_heard() {
    let mut on = desk(|sound| sound.choose(&SoundChoice::Play(true)));
    assert_eq!(listen::heard(&on.sound).as_deref(), Some("heard: A, as it hangs"));
    assert!(says(&shown(desk(|sound| sound.choose(&SoundChoice::Play(true))), listen_panel), "The device is being opened."));
    let open = |change: fn(&mut Listening)| {
        let mut sound = Listening::on(Arc::new(Ready));
        (sound.told[0].name, sound.told[1].name) = ("as it hangs".into(), "bare".into());
        sound.choose(&SoundChoice::Play(true));
        sound.take();
        change(&mut sound);
        Desk { sound, ..Desk::studied() }
    };
    assert!(says(&shown(open(|_| ()), listen_panel), "The response is being made"));
    let without = open(|sound| sound.told[0].why_not = Some("it has no seat named mix".into()));
    let harness = shown(without, listen_panel);
    assert!(says(&harness, "A cannot be heard: it has no seat named mix.") && says(&harness, "Nothing is heard."));
    on.sound = open(|_| ()).sound;
    on.sound.hears = 1;
    for (told, loudness_db) in on.sound.told.iter_mut().zip([-24.0, -21.5]) {
        (told.rays, told.loud) = (2000, Some(Loud { loudness_db, peak_db: -10.0 }));
    }
    on.sound.pulse = Pulse { guard_db: -3.5, heard: 1, ..Pulse::default() };
    on.sound.wrong = Some("tale.wav: this is not a WAV file.".into());
    on.sound.is_making = false;
    let harness = shown(on, listen_panel);
    for words in ["Heard is B from 2,000 rays", "B is 2.5 dB louder than A", "Lowered by 3.5 dB", "tale.wav: this is not a WAV file."] {
        assert!(says(&harness, words), "{words}");
    }
    let mut desk = harness.into_state();
    desk.sound.is_making = true;
    let harness = shown(desk, listen_panel);
    assert!(says(&harness, "the last ones sound until then"));
    assert_eq!(listen::heard(&harness.state().sound).as_deref(), Some("heard: B, bare (a newer response is being made)"));
    let mut desk = harness.into_state();
    (desk.sound.hears, desk.sound.told[0].rays) = (0, 0);
    assert!(says(&shown(desk, listen_panel), "A is being made; until then B is heard."));
    assert_eq!(listen::heard(&Listening::on(Arc::new(Mute))), None);
}

/// The keys that the page names, while nobody types.
#[test]
fn keeps_the_keys_of_the_ear() {
    let keyed = |desk: Desk, key: Key| {
        let mut harness = shown(desk, |ui, shown, drafts, asked| {
            listen_panel(ui, shown, drafts, asked);
            keys::keys(ui.ctx(), shown, asked);
        });
        harness.state_mut().asked.clear();
        harness.key_press(key);
        harness.run_ok();
        std::mem::take(&mut harness.state_mut().asked)
    };
    for step in [Step::Hear, Step::Place] {
        let desk = |change: fn(&mut Listening)| desk(change).with_view(|view| view.step = step);
        assert_eq!(keyed(desk(|_| ()), Key::P), sound(SoundChoice::Play(true)));
        assert_eq!(keyed(desk(|sound| sound.plays = true), Key::P), sound(SoundChoice::Play(false)));
        assert_eq!(keyed(desk(|_| ()), Key::X), sound(SoundChoice::Hear(1)));
        assert_eq!(keyed(desk(|sound| sound.hears = 1), Key::X), sound(SoundChoice::Hear(0)));
    }
    // Where neither the note nor the volume stands nothing begins; what plays is held all the same.
    for step in [Step::Survey, Step::Build, Step::Prove] {
        let desk = |change: fn(&mut Listening)| desk(change).with_view(|view| view.step = step);
        assert_eq!((keyed(desk(|_| ()), Key::P), keyed(desk(|_| ()), Key::X)), (vec![], vec![]));
        assert_eq!(keyed(desk(|sound| sound.plays = true), Key::P), sound(SoundChoice::Play(false)));
    }
}

/// A build without sound says so, and how its files are written; nothing else is offered.
#[cfg(not(feature = "sound"))]
#[test]
fn keeps_a_build_without_sound_honest() {
    let harness = shown(Desk::studied(), listen_panel);
    assert!(says(&harness, "This build has no sound output") && says(&harness, "roomwright hear SCENE --sound all"));
    assert!(!says(&harness, "Play") && !says(&harness, "volume"));
}

/// The file chooser offers sounds alone.
#[test]
fn keeps_the_chooser_of_sounds_to_sounds() {
    let memory = crate::test_disk::Memory::holding("rooms/guitar.wav", "");
    memory.put("rooms/attic.toml", "");
    let mut desk = desk(|_| ());
    desk.shelf.look_into("rooms".as_ref(), &*memory).unwrap();
    desk.view.question = Some(Question::WhichSound);
    let ask = |ui: &mut Ui, shown: Shown<'_>, drafts: &mut Drafts, asked: &mut Asked| {
        ask::ask(ui, shown, shown.view.question.as_ref().unwrap(), drafts, asked);
    };
    let mut harness = shown(desk, ask);
    assert!(!says(&harness, "attic.toml"));
    click(&mut harness, "guitar.wav");
    assert_eq!(click(&mut harness, "Open"), sound(SoundChoice::File("rooms/guitar.wav".into())));
    let mut desk = harness.into_state();
    desk.view.question = Some(Question::Which);
    assert!(!says(&shown(desk, ask), "guitar.wav"));
}
