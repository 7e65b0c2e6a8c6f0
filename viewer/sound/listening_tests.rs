//! Listening on a bare application: no window, no graphics, no device; what a device would play is taken out by hand.

use std::time::Duration;

use bevy::time::TimeUpdateStrategy;
use roomwright::scene::{Panel, PanelPlace, with_panels};

use super::super::feeder::{Feeder, Player};
use super::*;
use crate::box_tests::SMALL;
use crate::session::SessionPlugin;
use crate::test_disk::Memory;

/// A device that is none: who asks it to play can be fed and emptied by hand.
#[derive(Default)]
struct Fake {
    opened: Mutex<Vec<(Option<Which>, Line)>>,
    rate: u32,
}

impl Output for Fake {
    fn lack(&self) -> Option<&'static str> {
        None
    }

    fn list(&self, voice: Voice) {
        voice.say(Said::Devices(["first", "second"].map(which).to_vec()));
    }

    fn open(&self, name: Option<Which>, line: Line) {
        if name == Some(which("second")) {
            line.voice.say(Said::Lost("the device second is busy".into()));
            return;
        }
        line.voice.say(Said::Opened(self.rate));
        self.opened.lock().unwrap().push((name, line));
    }
}

fn which(name: &str) -> Which {
    Which { id: format!("card:{name}"), name: name.into() }
}

/// What plays.
struct Desk {
    app: App,
    fake: Arc<Fake>,
    feeder: Option<(Feeder, Player)>,
    peak: f32,
}

/// A flat panel of fiber in the small box.
fn text(left: Option<f64>) -> String {
    let stock =
        "\n[[stock]]\nname = \"panel\"\nkind = \"panel\"\ncount = 2\nsize = [0.6, 1.0]\nthickness = 0.1\nflow_resistivity = 12000\n";
    let text = format!("{SMALL}{stock}").replace("position = [0.6, 0.5, 0.4]", "position = [0.6, 0.5, 1.2]");
    let place = |left| PanelPlace::Surface { surface: "east".into(), left, bottom: 0.6, lying: false, gap: 0.0 };
    let panels: Vec<Panel> = left.into_iter().map(|left| Panel { kind: "panel".into(), place: place(left) }).collect();
    with_panels(&text, &panels).unwrap()
}

impl Desk {
    fn opened(left: Option<f64>) -> Self {
        let fake = Arc::new(Fake { rate: 48_000, ..Fake::default() });
        let mut app = App::new();
        app.add_plugins((MinimalPlugins, SessionPlugin, SoundPlugin))
            .insert_resource(TimeUpdateStrategy::ManualDuration(Duration::from_secs(1)))
            .insert_resource(Storage(Memory::holding("rooms/box.toml", &text(left))))
            .insert_resource(Listening::on(fake.clone()));
        app.update();
        let mut desk = Self { app, fake, feeder: None, peak: 0.0 };
        desk.send(Command::Open("rooms/box.toml".into()));
        desk
    }

    fn send(&mut self, command: Command) {
        self.app.world_mut().write_message(command);
        self.update();
    }

    fn choose(&mut self, choice: SoundChoice) {
        self.send(Command::Sound(choice));
    }

    fn sound(&self) -> &Listening {
        self.app.world().resource()
    }

    fn results(&self) -> &Results {
        self.app.world().resource()
    }

    /// One turn of the application and, if something is open, 10 ms of sound.
    fn update(&mut self) {
        self.app.update();
        if let Some((_, line)) = self.fake.opened.lock().unwrap().pop() {
            self.feeder = Some(Feeder::new(48_000, line));
        }
        if let Some((feeder, player)) = &mut self.feeder {
            feeder.step();
            let mut out = vec![0.0_f32; 2 * 480];
            player.fill(&mut out, 2, |value| value);
            self.peak = out.iter().fold(0.0, |peak, value| peak.max(value.abs()));
        }
    }

    /// Goes on until something is so; four minutes and more are long for a small box on a slow machine.
    #[track_caller]
    fn wait(&mut self, until: impl Fn(&Self) -> bool) {
        for _ in 0..60_000 {
            self.update();
            if until(self) {
                return;
            }
            thread::sleep(Duration::from_millis(5));
        }
        panic!("{:?} {:?} {:?}", self.sound().told, self.sound().pulse, self.sound().wrong);
    }

    /// A second of sound, in which whatever was made is exchanged.
    fn rest(&mut self) {
        self.wait(Self::is_made);
        (0..100).for_each(|_| self.update());
    }

    /// Both versions are made and nothing more is on its way.
    fn is_made(&self) -> bool {
        let sound = self.sound();
        let rests = self.results().status.stage.is_none();
        rests && !sound.is_making && sound.told.iter().all(|told| told.rays > 0 && told.loud.is_some()) && sound.pulse.exchanges[1] > 0
    }
}

#[test]
fn keeps_sound_to_who_asks_for_it() {
    let mut desk = Desk::opened(Some(0.8));
    for _ in 0..20 {
        desk.update();
    }
    assert!(desk.feeder.is_none() && !desk.sound().is_making, "nothing is opened or made unasked");
    assert_eq!((desk.sound().plays, desk.sound().volume_db), (false, FIRST_DB));
    desk.choose(SoundChoice::Own(Dry::Pink));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    desk.wait(|desk| desk.peak > 0.0);
    let sound = desk.sound();
    assert_eq!(sound.told.each_ref().map(|told| told.name.as_str()), ["as it hangs", "bare"]);
    assert_eq!(sound.told.each_ref().map(|told| told.rays), [400, 400]);
    assert!(sound.louder_b_db().unwrap() > 0.2, "the bare room is louder: {:?}", sound.louder_b_db());
    assert!(desk.peak < factor(FIRST_DB), "and it begins low: {}", desk.peak);
    // Held, nothing comes out, a sound that never rests either; nothing is made while panels move.
    desk.choose(SoundChoice::Play(false));
    desk.wait(|desk| desk.peak == 0.0);
    for _ in 0..20 {
        desk.update();
        assert_eq!(desk.peak, 0.0);
    }
    desk.send(Command::RemovePanel(0));
    desk.update();
    assert!(!desk.sound().is_making);
    // Away from the room it ends.
    desk.choose(SoundChoice::Play(true));
    desk.send(Command::ToStart);
    desk.send(Command::Discard);
    desk.update();
    assert!(!desk.sound().plays);
}

#[test]
fn keeps_playing_while_an_edit_exchanges_the_response() {
    let mut desk = Desk::opened(Some(0.8));
    desk.choose(SoundChoice::Own(Dry::Pink));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let (before, loud) = (desk.sound().pulse.exchanges, desk.sound().told.each_ref().map(|told| told.loud));
    desk.send(Command::RemovePanel(0));
    assert!(desk.sound().is_making && desk.sound().pulse.plays);
    desk.wait(|desk| desk.sound().pulse.exchanges[0] > before[0] && desk.is_made());
    let after = desk.sound();
    assert_eq!(after.pulse.exchanges[1], before[1], "the bare room is what it was: it is not made again");
    let now = after.told.each_ref().map(|told| told.loud);
    assert!(now[1] == loud[1] && now[0].unwrap().loudness_db > loud[0].unwrap().loudness_db + 0.2);
    assert!(after.louder_b_db().unwrap().abs() < 0.01, "with nothing hung both are the same");
    assert!(after.pulse.plays && after.gaps() == 0 && after.wrong.is_none());
    // Undone, it is what it was.
    desk.send(Command::Undo);
    desk.wait(|desk| desk.sound().told[0].loud == loud[0]);
}

/// Both layouts keep their letters; what is heard goes with the one that is shown, and X changes the ear alone.
#[test]
fn keeps_a_and_b_at_their_places_when_layouts_are_swapped() {
    let mut desk = Desk::opened(Some(0.8));
    desk.choose(SoundChoice::Own(Dry::Pink));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let a = desk.sound().told[0].loud;
    desk.send(Command::ToggleLayout);
    desk.send(Command::RemovePanel(0));
    desk.wait(|desk| {
        desk.is_made() && desk.sound().louder_b_db().is_some_and(|louder_db| louder_db > 0.2) && desk.sound().pulse.heard == 1
    });
    desk.rest();
    let sound = desk.sound();
    assert_eq!(sound.told.each_ref().map(|told| told.name.as_str()), ["layout A", "layout B"]);
    assert_eq!((sound.hears, sound.told[0].loud), (1, a));
    let made = sound.pulse.exchanges;
    desk.choose(SoundChoice::Hear(0));
    desk.wait(|desk| desk.sound().pulse.heard == 0);
    assert_eq!(desk.app.world().resource::<Document>().shows_b(), Some(true), "the screen stays as it is");
    desk.send(Command::ToggleLayout);
    desk.send(Command::ToggleLayout);
    desk.wait(|desk| desk.sound().pulse.heard == 1 && desk.is_made());
    desk.rest();
    assert_eq!(desk.sound().pulse.exchanges, made, "both were ready: nothing is made anew");
    assert!(desk.sound().told[0].loud == a);
    // When there is one layout again, it is heard and not the bare room.
    desk.wait(|desk| desk.app.world().resource::<Document>().shows_b() == Some(true));
    for _ in 0..4 {
        desk.send(Command::Undo);
    }
    desk.update();
    assert_eq!((desk.sound().hears, desk.sound().told[0].name.as_str()), (0, "as it hangs"));
    // What was made for a device that is closed is let be.
    let lines = desk.sound().hand.lines;
    desk.sound().hand.ready.0.send((Some(lines - 1), Ready::NoVersion(0, "of another rate".into()))).unwrap();
    desk.update();
    assert_eq!(desk.sound().told[0].why_not, None);
}

/// Equally loud: the louder one comes down, the softer one does not go up; and until the hand acts no gain rises, whatever is made.
#[test]
fn keeps_every_gain_from_rising_by_itself() {
    let mut sound = Listening::on(Arc::new(Fake::default()));
    let loud = |loudness_db, peak_db| Some(Loud { loudness_db, peak_db });
    let tell = |sound: &mut Listening, side, loud| {
        sound.hand.ready.0.send((Some(sound.hand.lines), Ready::Stands(side, loud))).unwrap();
        sound.take();
    };
    let is = |sound: &mut Listening, gains_db: [f64; 2]| {
        let gains = sound.gains();
        assert!((0..2).all(|side| (gains[side] / factor(gains_db[side]) - 1.0).abs() < 1e-5), "{gains:?} for {gains_db:?} dB");
    };
    tell(&mut sound, 0, loud(-24.0, -10.0));
    tell(&mut sound, 1, loud(-20.0, -8.0));
    is(&mut sound, [0.0, 0.0]);
    sound.choose(&SoundChoice::Equal(true));
    is(&mut sound, [0.0, -4.0]);
    // A louder A comes down to where both were; B stays, though A alone would let it rise.
    tell(&mut sound, 0, loud(-21.0, -9.0));
    is(&mut sound, [-3.0, -4.0]);
    assert!((sound.held_back_db() - 3.0).abs() < 1e-9);
    // A softer A takes B down; back again, both stay down.
    tell(&mut sound, 0, loud(-26.0, -12.0));
    is(&mut sound, [-3.0, -9.0]);
    tell(&mut sound, 0, loud(-24.0, -10.0));
    is(&mut sound, [-5.0, -9.0]);
    // The hand begins anew: the scale, or a volume that is raised; not one that is lowered.
    sound.choose(&SoundChoice::Volume(-50.0));
    is(&mut sound, [-5.0, -9.0]);
    sound.choose(&SoundChoice::Volume(-40.0));
    is(&mut sound, [0.0, -4.0]);
    // What would pass full scale with the volume all the way up comes down with the other one, and stays there until another sound.
    tell(&mut sound, 1, loud(-20.0, 7.0));
    is(&mut sound, [-10.0, -14.0]);
    tell(&mut sound, 1, loud(-20.0, -8.0));
    is(&mut sound, [-10.0, -14.0]);
    sound.choose(&SoundChoice::Own(Dry::Pink));
    assert!(sound.louder_b_db().is_none(), "with another sound it is another figure");
    is(&mut sound, [0.0, 0.0]);
}

/// Before the first sound, too, the volume is one that is risen to.
#[test]
fn keeps_the_first_sound_low_wherever_the_volume_stands() {
    let mut desk = Desk::opened(None);
    desk.choose(SoundChoice::Own(Dry::Pink));
    desk.choose(SoundChoice::Volume(0.0));
    desk.choose(SoundChoice::Play(true));
    desk.wait(|desk| desk.peak > 0.0);
    assert!(desk.peak < factor(FIRST_DB + 3.0), "{}", desk.peak);
    let before = desk.peak;
    (0..400).for_each(|_| desk.update());
    assert!(desk.peak > 10.0 * before, "and rises: {} from {before}", desk.peak);
}

/// Both are heard at the seat of one name; a layout that has none says so, and nothing else stops.
#[test]
fn keeps_the_seat_by_its_name() {
    let mut desk = Desk::opened(Some(0.8));
    let one = desk.results().scene.as_ref().unwrap().seats[0].name.clone();
    let mut with = |names: &[&str]| {
        let more = |name: &&str| {
            format!("\n[[microphone]]\nname = \"{name}\"\nposition = [{}, 1.5, 1.2]\n", if *name == "low" { 1.5 } else { 1.2 })
        };
        desk.send(Command::SetText(format!("{}{}", text(Some(0.8)), names.iter().map(more).collect::<String>())));
    };
    with(&["low", "high"]);
    desk.send(Command::ToggleLayout);
    desk.send(Command::SetText(format!("{}\n[[microphone]]\nname = \"high\"\nposition = [1.2, 1.5, 1.2]\n", text(None))));
    desk.send(Command::ChooseReceiver(1));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let heard =
        |desk: &Desk| desk.sound().hand.asked.as_ref().unwrap().rooms.each_ref().map(|room| room.as_ref().map(|room| room.ear.receiver));
    assert_eq!(heard(&desk), [Some(2), Some(1)], "{one}, then those of each");
    // The layout that is shown has a receiver that the other one lacks.
    desk.send(Command::ToggleLayout);
    desk.send(Command::ChooseReceiver(1));
    desk.wait(|desk| desk.sound().told[1].why_not.is_some() && !desk.sound().is_making && desk.sound().told[0].loud.is_some());
    assert_eq!(desk.sound().told[1].why_not.as_deref(), Some("it has no microphone named low"));
    assert_eq!(heard(&desk), [Some(1), None]);
    desk.send(Command::ChooseReceiver(0));
    desk.wait(Desk::is_made);
    assert_eq!(desk.sound().told.each_ref().map(|told| told.why_not.clone()), [None, None]);
}

/// A wish that the worker fails at is said, and the next one is made all the same.
#[test]
fn keeps_the_worker_alive() {
    let mut desk = Desk::opened(Some(0.8));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let hand = &desk.sound().hand;
    let asked = hand.asked.clone().unwrap();
    let mut rooms = asked.rooms.clone();
    rooms[0].as_mut().unwrap().ear.receiver = 99;
    let wanted = Wanted { number: hand.number, rooms, heard: 0, at: asked.at, dry: asked.dry, progress: Progress::new() };
    hand.wishes.as_ref().unwrap().send(wanted).unwrap();
    desk.wait(|desk| desk.sound().wrong.as_ref().is_some_and(|why| why.starts_with("The program failed")));
    let before = desk.sound().pulse.exchanges[0];
    desk.send(Command::RemovePanel(0));
    desk.wait(|desk| desk.is_made() && desk.sound().pulse.exchanges[0] > before);
    // One that is gone altogether is replaced.
    desk.app.world_mut().resource_mut::<Listening>().hand.wishes = Some(channel().0);
    let before = desk.sound().pulse.exchanges[0];
    desk.send(Command::Undo);
    desk.wait(|desk| desk.is_made() && desk.sound().pulse.exchanges[0] > before);
}

/// What cannot be heard says so until what is wanted can be.
#[test]
fn keeps_the_reason_as_long_as_it_holds() {
    let mut desk = Desk::opened(Some(0.8));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let line = desk.sound().hand.lines;
    for side in [0, 1] {
        desk.sound().hand.ready.0.send((Some(line), Ready::NoVersion(side, "of a reason".into()))).unwrap();
    }
    (0..5).for_each(|_| desk.update());
    assert_eq!(desk.sound().told.each_ref().map(|told| told.why_not.as_deref()), [Some("of a reason"); 2]);
    desk.send(Command::RemovePanel(0));
    desk.send(Command::Undo);
    desk.wait(Desk::is_made);
    assert_eq!(desk.sound().told.each_ref().map(|told| told.why_not.clone()), [None, None]);
}

/// Another room ends the sound and brings the volume down; nothing of the one before is told of it.
#[test]
fn keeps_the_sound_of_a_room_to_that_room() {
    let mut desk = Desk::opened(Some(0.8));
    desk.choose(SoundChoice::Own(Dry::Pink));
    desk.choose(SoundChoice::Play(true));
    desk.choose(SoundChoice::Volume(-10.0));
    desk.wait(Desk::is_made);
    desk.send(Command::RemovePanel(0));
    desk.send(Command::Undo);
    desk.wait(Desk::is_made);
    assert!(desk.sound().plays, "an edit is no other room");
    let other = text(None).replace("0.6, 0.5, 1.2", "0.7, 0.5, 1.2");
    desk.app.world().resource::<Storage>().0.write("rooms/other.toml".as_ref(), other.as_bytes(), true).unwrap();
    desk.send(Command::Open("rooms/other.toml".into()));
    let sound = desk.sound();
    assert!(!sound.plays && !sound.is_open() && sound.told.iter().all(|told| told.rays == 0 && told.loud.is_none()));
    assert!((sound.volume_db - FIRST_DB).abs() < 1e-9);
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    assert!(desk.sound().plays);
}

/// Of two files that are looked at the one chosen last is played, whichever is looked at first.
#[test]
fn keeps_the_choice_that_came_last() {
    let mut sound = Listening::on(Arc::new(Fake::default()));
    sound.choose(&SoundChoice::File("none.wav".into()));
    let first = sound.hand.looks;
    sound.choose(&SoundChoice::Own(Dry::Pink));
    sound.hand.ready.0.send((None, Ready::Looked(first, Err("none.wav cannot be read.".into())))).unwrap();
    sound.take();
    assert!(sound.wrong.is_none() && sound.dry == DryChoice::Own(Dry::Pink));
}

#[test]
fn keeps_on_with_what_was_when_a_file_cannot_be_played() {
    let folder = std::env::temp_dir().join(format!("roomwright-listening-{}", std::process::id()));
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join("tale.wav"), b"once upon a time").unwrap();
    let tone = |index: i32| ((f64::from(index) * 0.05).sin() * 8000.0) as i16;
    let samples: Vec<u8> = (0..44_100).flat_map(|index| tone(index).to_le_bytes()).collect();
    let mut good = b"RIFF\0\0\0\0WAVEfmt \x10\0\0\0\x01\0\x01\0\x44\xAC\0\0\x88\x58\x01\0\x02\0\x10\0data".to_vec();
    good.extend((samples.len() as u32).to_le_bytes());
    good.extend(samples);
    std::fs::write(folder.join("tone.wav"), good).unwrap();
    let mut desk = Desk::opened(None);
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    desk.choose(SoundChoice::AskFile);
    assert_eq!(desk.app.world().resource::<View>().question, Some(Question::WhichSound));
    desk.choose(SoundChoice::File(folder.join("tale.wav")));
    assert_eq!(desk.app.world().resource::<View>().question, None);
    desk.wait(|desk| desk.sound().wrong.as_ref().is_some_and(|why| why.starts_with("tale.wav: this is not a WAV file")));
    assert!(desk.sound().pulse.plays && desk.sound().dry == DryChoice::Own(Dry::Clap));
    let loud = desk.sound().told[0].loud;
    desk.choose(SoundChoice::File(folder.join("tone.wav")));
    desk.wait(|desk| desk.sound().told[0].loud != loud && desk.peak > 0.0);
    assert!(matches!(&desk.sound().dry, DryChoice::File(take) if take.rate == 44_100) && desk.sound().wrong.is_none());
    std::fs::remove_dir_all(&folder).unwrap();
}

/// A device that is lost, or cannot be opened, ends the sound with a sentence; another one begins low again.
#[test]
fn keeps_a_lost_device_a_sentence() {
    let mut desk = Desk::opened(None);
    desk.choose(SoundChoice::FindDevices);
    desk.update();
    assert_eq!(desk.sound().devices.as_deref(), Some(&["first", "second"].map(which)[..]));
    desk.choose(SoundChoice::Play(true));
    desk.choose(SoundChoice::Volume(-10.0));
    desk.wait(Desk::is_made);
    let voice = desk.sound().voice();
    voice.say(Said::Lost("the device is gone".into()));
    desk.update();
    assert!(!desk.sound().plays && desk.sound().wrong.as_deref() == Some("Sound has stopped: the device is gone."));
    assert!((desk.sound().volume_db - FIRST_DB).abs() < 1e-9, "the next one may be louder");
    assert!(!desk.feeder.as_mut().unwrap().0.step().0, "the old line is let go");
    desk.choose(SoundChoice::Device(Some(which("second"))));
    assert_eq!((desk.sound().volume_db, desk.sound().plays), (FIRST_DB, false), "another device may be louder");
    desk.choose(SoundChoice::Play(true));
    desk.update();
    assert!(desk.sound().wrong.as_deref() == Some("No sound: the device second is busy.") && !desk.sound().plays);
    desk.choose(SoundChoice::Device(Some(which("first"))));
    desk.choose(SoundChoice::Play(true));
    desk.wait(|desk| desk.peak > 0.0);
    assert!(desk.sound().wrong.is_none());
    // What a device says that was let go is of no concern to this one.
    voice.say(Said::Lost("the device is gone".into()));
    voice.say(Said::Opened(44_100));
    desk.update();
    assert!(desk.sound().plays && desk.sound().wrong.is_none() && desk.sound().hand.asked.as_ref().unwrap().at.rate == 48_000);
    // Closed while it is held, it opens anew, and low.
    desk.choose(SoundChoice::Volume(-3.0));
    desk.choose(SoundChoice::Play(false));
    desk.sound().voice().say(Said::Closed);
    desk.update();
    assert!(!desk.sound().is_open() && desk.sound().wrong.is_none());
    desk.choose(SoundChoice::Play(true));
    desk.wait(|desk| desk.peak > 0.0);
    assert!(desk.sound().is_open() && desk.peak < factor(FIRST_DB + 3.0), "{}", desk.peak);
}

#[test]
fn keeps_a_sound_that_is_played_once_to_its_end() {
    let mut desk = Desk::opened(None);
    desk.choose(SoundChoice::Repeat(false));
    desk.choose(SoundChoice::Play(true));
    desk.wait(|desk| desk.peak > 0.0);
    for _ in 0..2_000 {
        desk.update();
    }
    assert!(!desk.sound().plays && desk.peak == 0.0);
}

/// Of a microphone of the scene its own pattern hears.
#[test]
fn keeps_microphones_to_themselves() {
    let mut desk = Desk::opened(None);
    let microphone = format!("{}\n[[microphone]]\nname = \"mic\"\nposition = [1.5, 1.5, 1.2]\n", text(None));
    desk.send(Command::SetText(microphone));
    desk.choose(SoundChoice::Play(true));
    desk.wait(Desk::is_made);
    let before = desk.sound().pulse.exchanges;
    desk.send(Command::ChooseReceiver(1));
    desk.wait(|desk| desk.is_made() && desk.sound().pulse.exchanges[0] > before[0]);
    assert_eq!(
        desk.sound().hand.asked.as_ref().unwrap().rooms.each_ref().map(|room| room.as_ref().unwrap().ear.listener),
        [Listener::Point; 2]
    );
    assert_eq!(desk.sound().told.each_ref().map(|told| told.why_not.clone()), [None, None]);
}

/// Without the feature nothing can be played, and what would do is said.
#[cfg(not(feature = "sound"))]
#[test]
fn keeps_a_build_without_sound_to_one_sentence() {
    let mut sound = Listening::default();
    sound.choose(&SoundChoice::Play(true));
    assert!(!sound.plays && !sound.is_on() && sound.lack.is_some_and(|lack| lack.contains("--features sound")));
}

/// With it a machine without such a device gets a sentence; the usual one, where there is any, plays silence for a moment.
#[cfg(feature = "sound")]
#[test]
fn keeps_a_machine_without_a_device_to_a_sentence() {
    let said = |device: Option<&str>| {
        let mut sound = Listening::default();
        assert!(sound.lack.is_none());
        sound.device = device.map(which);
        sound.choose(&SoundChoice::Play(true));
        for _ in 0..60_000 {
            sound.take();
            if sound.wrong.is_some() || sound.hand.line.as_ref().is_some_and(|(_, rate)| rate.is_some()) {
                assert!(sound.plays == sound.wrong.is_none());
                return sound.wrong;
            }
            thread::sleep(Duration::from_millis(5));
        }
        panic!("nothing was said");
    };
    let why = said(Some("no device has this name")).unwrap();
    assert!(why.starts_with("No sound: ") && why.ends_with('.'), "{why}");
    assert!(said(None).is_none_or(|why| why.starts_with("No sound: ")));
}
