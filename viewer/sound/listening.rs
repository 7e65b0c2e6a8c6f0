//! What is listened to, as it is chosen and as it stands, and the system that has responses made for it and gives orders to whoever plays.
//!
//! The versions are A and B: the two layouts, or, while there is one, the room as it hangs and bare. They keep their places when the
//! layouts are swapped on screen; what is heard goes with the layout that is shown then. Responses are made while sound plays, and again
//! after every edit.
//!
//! **Gains.** On one scale both are as loud as their responses make them; equally loud, the louder one comes down. Both lie so far below
//! the scale of the responses that no sound passes full scale (`pad`); that only falls. So no gain is ever above what the user's hand set
//! the volume to.

use std::path::PathBuf;
use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;

use bevy::prelude::*;
use roomwright::listen::dry::Dry;
use roomwright::progress::Progress;
use roomwright::scene::{self, Panel, Scene};
use roomwright::study::{Listener, same_room};

use super::device::{Line, Machine, Output, Said, Voice};
use super::feeder::{Order, Pulse};
use super::gain::factor;
use super::ready::{self, At, DryChoice, Loud, Ready, Room, Wanted};
use crate::command::Command;
use crate::compute::{Compute, Held, Waker};
use crate::document::Document;
use crate::errand::LowEnd;
use crate::recovery::Storage;
use crate::results::Results;
use crate::session::Session;
use crate::shelf::Shelf;
use crate::view::{Question, View};

/// Where the volume stands at first, dB re full scale.
pub(crate) const FIRST_DB: f64 = -36.0;
/// The least that it can be set to.
pub(crate) const LEAST_DB: f64 = -60.0;
/// What the largest sample may be with the volume all the way up, and where it is brought if it is more, dB re full scale.
const PEAKS_DB: (f64, f64) = (-1.0, -3.0);

/// One thing that is chosen.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum SoundChoice {
    /// Plays, or holds.
    Play(bool),
    /// Hears version A (0) or B (1).
    Hear(usize),
    /// Sets the volume, dB re full scale.
    Volume(f64),
    /// Plays a sound of the program's own.
    Own(Dry),
    /// Asks for a file.
    AskFile,
    /// Plays a file.
    File(PathBuf),
    /// Begins the sound again when it ends, or not.
    Repeat(bool),
    /// Who listens.
    Listener(Listener),
    /// Both versions equally loud, or as loud as they are.
    Equal(bool),
    /// Looks which devices there are.
    FindDevices,
    /// Plays on a device of this name, or on the usual one.
    Device(Option<String>),
}

/// A version of the room, as the page tells it.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Told {
    /// `layout A`, `bare`.
    pub(crate) name: String,
    /// Rays a source that its response rests on; 0 while there is none.
    pub(crate) rays: u32,
    /// How loud the sound is in it, and where its peaks lie.
    pub(crate) loud: Option<Loud>,
    /// Why it cannot be heard.
    pub(crate) why_not: Option<String>,
}

/// What is listened to.
#[derive(Resource)]
pub(crate) struct Listening {
    /// Whether sound is to play.
    pub(crate) plays: bool,
    /// The version that is to be heard.
    pub(crate) hears: usize,
    /// The volume, dB re full scale.
    pub(crate) volume_db: f64,
    /// The dry sound.
    pub(crate) dry: DryChoice,
    /// Whether it begins again.
    pub(crate) repeats: bool,
    /// Who listens at a seat.
    pub(crate) listener: Listener,
    /// Whether both are equally loud.
    pub(crate) equal: bool,
    /// The device by name; `None`: the usual one.
    pub(crate) device: Option<String>,
    /// Devices that were found; `None`: nobody has looked.
    pub(crate) devices: Option<Vec<String>>,
    /// Why nothing can be played here at all.
    pub(crate) lack: Option<&'static str>,
    /// Both versions.
    pub(crate) told: [Told; 2],
    /// Whether responses are being made.
    pub(crate) is_making: bool,
    /// Whether waves have told the low end of both.
    pub(crate) by_waves: bool,
    /// How it goes.
    pub(crate) pulse: Pulse,
    /// What went wrong last, in one sentence.
    pub(crate) wrong: Option<String>,
    /// Both scales lie so far below that of the responses, dB.
    pad_db: f64,
    hand: Hand,
}

/// An answer of the worker, and the number of the device that it is for, if it is for one.
type Answer = (Option<u32>, Ready);

/// The ways to everybody who works for it.
struct Hand {
    output: Arc<dyn Output>,
    /// Orders to the device, while one is open, and at how many samples a second it plays, once it has said so.
    line: Option<(Sender<Order>, Option<u32>)>,
    lines: u32,
    pulse: Arc<Mutex<Pulse>>,
    gaps: Arc<AtomicU32>,
    wishes: Sender<Wanted>,
    unread: Mutex<Option<Receiver<Wanted>>>,
    /// Answers, with the number of the device that they are for.
    ready: (Sender<Answer>, Mutex<Receiver<Answer>>),
    said: (Sender<Said>, Mutex<Receiver<Said>>),
    wake: Arc<dyn Fn() + Send + Sync>,
    asked: Option<Asked>,
    /// Whether the room on screen is being traced.
    waits: bool,
    number: u64,
    progress: Progress,
    /// The layout that is not shown, read.
    other: Option<(Arc<str>, Option<Arc<Scene>>)>,
    /// The room without panels.
    bare: Option<(Arc<Scene>, Arc<Scene>)>,
}

/// What was asked of the worker last.
#[derive(Clone)]
struct Asked {
    rooms: [Option<Room>; 2],
    at: At,
    dry: DryChoice,
}

impl Asked {
    fn is(&self, other: &Self) -> bool {
        let same = |one: &Option<Room>, other: &Option<Room>| match (one, other) {
            (Some(one), Some(other)) => {
                let low = |room: &Room| room.low.as_ref().map(|(low, bare)| (Arc::as_ptr(low), *bare));
                let held = |room: &Room| room.held.as_ref().map(|held| Arc::as_ptr(&held.traced));
                Arc::ptr_eq(&one.scene, &other.scene) && held(one) == held(other) && low(one) == low(other)
            }
            (one, other) => one.is_none() && other.is_none(),
        };
        self.at == other.at && self.dry == other.dry && (0..2).all(|side| same(&self.rooms[side], &other.rooms[side]))
    }
}

impl Default for Listening {
    fn default() -> Self {
        Self::on(Arc::new(Machine))
    }
}

impl Listening {
    /// Nothing plays yet; what does will play there.
    pub(crate) fn on(output: Arc<dyn Output>) -> Self {
        let (wishes, unread) = channel();
        let (ready, made) = channel();
        let (say, said) = channel();
        let hand = Hand {
            output: output.clone(),
            line: None,
            lines: 0,
            pulse: Arc::default(),
            gaps: Arc::default(),
            wishes,
            unread: Mutex::new(Some(unread)),
            ready: (ready, Mutex::new(made)),
            said: (say, Mutex::new(said)),
            wake: Arc::new(|| ()),
            asked: None,
            waits: false,
            number: 0,
            progress: Progress::new(),
            other: None,
            bare: None,
        };
        Self {
            plays: false,
            hears: 0,
            volume_db: FIRST_DB,
            dry: DryChoice::Own(Dry::Clap),
            repeats: true,
            listener: Listener::Head,
            equal: false,
            device: None,
            devices: None,
            lack: output.lack(),
            told: Default::default(),
            is_making: false,
            by_waves: false,
            pulse: Pulse::default(),
            wrong: None,
            pad_db: 0.0,
            hand,
        }
    }

    /// The version that sounds now.
    pub(crate) fn sounding(&self) -> usize {
        if self.is_on() && self.told[self.pulse.heard].rays > 0 { self.pulse.heard } else { self.hears }
    }

    /// Samples that came too late for the device.
    pub(crate) fn gaps(&self) -> u32 {
        self.hand.gaps.load(Ordering::Relaxed)
    }

    /// Whether sound comes out, or is to as soon as there is a response.
    pub(crate) fn is_on(&self) -> bool {
        self.plays && self.hand.line.is_some()
    }

    fn order(&self, order: Order) {
        if let Some((orders, _)) = &self.hand.line {
            drop(orders.send(order));
        }
    }

    /// Does what the user wants.
    pub(crate) fn choose(&mut self, choice: &SoundChoice) {
        match choice {
            SoundChoice::Play(plays) => self.play(*plays),
            SoundChoice::Hear(side) => {
                self.hears = (*side).min(1);
                self.order(Order::Hear(self.hears));
            }
            SoundChoice::Volume(volume_db) if volume_db.is_finite() => {
                self.volume_db = volume_db.clamp(LEAST_DB, 0.0);
                self.order(Order::Volume(self.volume_db));
            }
            SoundChoice::Own(dry) => (self.dry, self.wrong) = (DryChoice::Own(*dry), None),
            SoundChoice::File(path) => ready::look_at(path.clone(), self.hand.ready.0.clone(), self.hand.wake.clone()),
            SoundChoice::Repeat(repeats) => {
                self.repeats = *repeats;
                self.order(Order::Repeat(*repeats));
            }
            SoundChoice::Listener(listener) => self.listener = *listener,
            SoundChoice::Equal(equal) => {
                self.equal = *equal;
                self.order(Order::Gains(self.gains()));
            }
            SoundChoice::FindDevices => self.hand.output.list(self.voice()),
            SoundChoice::Device(name) => {
                if self.device != *name {
                    // Another device may be louder.
                    (self.device, self.volume_db) = (name.clone(), self.volume_db.min(FIRST_DB));
                    self.hand.line = None;
                    self.play(self.plays);
                }
            }
            SoundChoice::Volume(_) | SoundChoice::AskFile => {}
        }
    }

    fn voice(&self) -> Voice {
        Voice { back: self.hand.said.0.clone(), wake: self.hand.wake.clone() }
    }

    fn play(&mut self, plays: bool) {
        self.plays = plays && self.lack.is_none();
        if self.plays && self.hand.line.is_none() {
            let (orders, taken) = channel();
            self.hand.lines += 1;
            self.told.iter_mut().for_each(|told| told.rays = 0);
            self.hand.line = Some((orders, None));
            (self.hand.pulse, self.hand.gaps) = (Arc::default(), Arc::default());
            let (pulse, gaps) = (self.hand.pulse.clone(), self.hand.gaps.clone());
            let line = Line { orders: taken, voice: self.voice(), pulse, gaps, volume_db: self.volume_db };
            self.hand.output.open(self.device.clone(), line);
            self.order(Order::Hear(self.hears));
            self.order(Order::Repeat(self.repeats));
            self.wrong = None;
        }
        self.order(Order::Play(self.plays));
    }

    /// Gains of both versions.
    fn gains(&self) -> [f32; 2] {
        let loud = self.told.each_ref().map(|told| told.loud.map(|loud| loud.loudness_db));
        let softer = loud.iter().flatten().copied().reduce(f64::min).unwrap_or(0.0);
        loud.map(|loud| {
            let lowered = if self.equal { loud.map_or(0.0, |loud| softer - loud) } else { 0.0 };
            factor(self.pad_db + lowered.min(0.0))
        })
    }

    /// By how much B is louder than A, dB, where both are known.
    pub(crate) fn louder_b_db(&self) -> Option<f64> {
        let [a, b] = self.told.each_ref().map(|told| told.loud.map(|loud| loud.loudness_db));
        Some(b? - a?)
    }

    /// Takes in what was made.
    fn take(&mut self) {
        let reports: Vec<Answer> = self.hand.ready.1.get_mut().map(|ready| ready.try_iter().collect()).unwrap_or_default();
        // What was made for a device that is closed may have another rate.
        let lines = self.hand.lines;
        for (_, report) in reports.into_iter().filter(|(line, _)| line.is_none_or(|line| line == lines)) {
            match report {
                Ready::Dry(dry) => self.order(Order::Dry(dry)),
                Ready::NoDry(why) => self.wrong = Some(format!("That sound cannot be played: {why}.")),
                Ready::Loud(side, loud) => {
                    self.told[side].loud = loud;
                    if let Some(loud) = loud
                        && loud.peak_db + self.pad_db > PEAKS_DB.0
                    {
                        self.pad_db = PEAKS_DB.1 - loud.peak_db;
                    }
                    self.order(Order::Gains(self.gains()));
                }
                Ready::Version(side, version, rays) => {
                    (self.told[side].rays, self.told[side].why_not) = (rays, None);
                    self.order(Order::Version(side, version));
                }
                Ready::NoVersion(side, why) => self.told[side].why_not = Some(why),
                Ready::Looked(Ok(take)) => (self.dry, self.wrong) = (DryChoice::File(Arc::new(take)), None),
                Ready::Looked(Err(why)) => self.wrong = Some(why),
                Ready::Done(number) if number == self.hand.number => self.is_making = self.hand.waits,
                Ready::Done(_) => {}
            }
        }
        let said: Vec<Said> = self.hand.said.1.get_mut().map(|said| said.try_iter().collect()).unwrap_or_default();
        for said in said {
            match said {
                Said::Devices(names) => self.devices = Some(names),
                Said::Opened(rate) => {
                    if let Some((_, at)) = &mut self.hand.line {
                        *at = Some(rate);
                    }
                }
                Said::Lost(why) => {
                    self.wrong = Some(format!("Sound has stopped: {}.", why.trim_end_matches('.')));
                    (self.hand.line, self.plays, self.is_making) = (None, false, false);
                }
                Said::Pulse => {}
            }
        }
        let now = self.hand.pulse.lock().map(|pulse| *pulse).unwrap_or_default();
        // A sound that is played once ends by itself.
        if self.pulse.plays && !now.plays && self.plays && !self.repeats {
            self.plays = false;
        }
        self.pulse = now;
    }

    /// Has responses made of what is on screen now.
    fn follow(&mut self, document: &Document, view: &View, results: &Results, held: Option<&Held>) {
        self.name(document);
        let shown = results.scene.clone().filter(|_| document.is_open() && !results.is_sketch);
        let Some(shown) = shown else {
            if self.plays {
                self.play(false);
            }
            return;
        };
        let Some((_, Some(rate))) = self.hand.line else { return };
        if !self.plays {
            return;
        }
        let asked = self.wanted(document, view, results, (held, &shown), rate);
        if self.hand.asked.as_ref().is_some_and(|before| before.is(&asked)) {
            return;
        }
        self.hand.progress.cancel();
        self.hand.progress = Progress::new();
        self.hand.number += 1;
        self.is_making = true;
        let Asked { rooms, at, dry } = asked.clone();
        let (number, heard, progress) = (self.hand.number, self.hears, self.hand.progress.clone());
        self.start();
        drop(self.hand.wishes.send(Wanted { number, rooms, heard, at, dry, progress }));
        self.hand.asked = Some(asked);
    }

    /// The worker begins when something is wanted for the first time.
    fn start(&self) {
        let Some(unread) = self.hand.unread.lock().ok().and_then(|mut unread| unread.take()) else { return };
        let (back, wake) = (self.hand.ready.0.clone(), self.hand.wake.clone());
        thread::spawn(move || ready::work(&unread, &back, &*wake));
    }

    fn name(&mut self, document: &Document) {
        let names = if document.shows_b().is_some() { ["layout A", "layout B"] } else { ["as it hangs", "bare"] };
        if self.told[0].name == "layout A" && names[0] != "layout A" {
            // Of two layouts one is left: it is heard, not the bare room.
            self.choose(&SoundChoice::Hear(0));
        }
        for (told, name) in self.told.iter_mut().zip(names) {
            if told.name != name {
                name.clone_into(&mut told.name);
            }
        }
    }

    fn wanted(
        &mut self,
        document: &Document,
        view: &View,
        results: &Results,
        (held, shown): (Option<&Held>, &Arc<Scene>),
        rate: u32,
    ) -> Asked {
        let low_end = results.low_end().cloned();
        let paths = |scene: &Arc<Scene>| held.filter(|held| same_room(&held.scene, scene)).cloned();
        let is_other = document.shows_b().is_some();
        let other = if is_other { self.other(document) } else { Some(self.bare(shown)) };
        let low_of_other = low_end.clone().filter(|low: &Arc<LowEnd>| {
            !is_other && (shown.panels.is_empty() || low.found.as_ref().is_ok_and(|run| run.bare_low.is_some()))
        });
        // One with waves and one without would not be comparable.
        let low = low_end.filter(|_| low_of_other.is_some()).map(|low| (low, false));
        self.by_waves = low.is_some();
        self.hand.waits = paths(shown).is_none();
        let on_screen = Room { scene: shown.clone(), held: paths(shown), low, is_traced_elsewhere: true };
        let low_of_other = low_of_other.map(|low| (low, !shown.panels.is_empty()));
        let beside = other.map(|scene| Room { held: paths(&scene), scene, low: low_of_other, is_traced_elsewhere: false });
        let letter = usize::from(document.shows_b() == Some(true));
        self.told[1 - letter].why_not = beside.is_none().then(|| "its text has mistakes".to_owned());
        let rooms = if letter == 0 { [Some(on_screen), beside] } else { [beside, Some(on_screen)] };
        let receiver = view.receiver;
        let listener = if receiver >= shown.seats.len() { Listener::Point } else { self.listener };
        Asked { rooms, at: At { receiver, listener, rate, line: self.hand.lines }, dry: self.dry.clone() }
    }

    /// The layout that is not shown.
    fn other(&mut self, document: &Document) -> Option<Arc<Scene>> {
        let text = document.layouts().other.clone()?;
        if self.hand.other.as_ref().is_none_or(|(known, _)| !Arc::ptr_eq(known, &text)) {
            let read = scene::read(&text).ok().map(|(scene, _)| Arc::new(scene));
            self.hand.other = Some((text, read));
        }
        self.hand.other.as_ref()?.1.clone()
    }

    /// The room with nothing hung.
    fn bare(&mut self, shown: &Arc<Scene>) -> Arc<Scene> {
        match &self.hand.bare {
            Some((of, bare)) if Arc::ptr_eq(of, shown) => bare.clone(),
            _ => {
                let bare = Arc::new(Scene { panels: Vec::<Panel>::new(), ..(**shown).clone() });
                self.hand.bare = Some((shown.clone(), bare.clone()));
                bare
            }
        }
    }
}

/// Listening, after the session.
pub(crate) struct SoundPlugin;

impl Plugin for SoundPlugin {
    fn build(&self, app: &mut App) {
        app.init_resource::<Listening>().add_systems(Startup, wake).add_systems(Update, listen.after(Session));
    }
}

/// Lets workers and devices wake whoever draws.
fn wake(mut listening: ResMut<Listening>, waker: Res<Waker>) {
    listening.hand.wake = waker.0.clone();
}

/// What the user chose, what was made, what is to be made.
fn listen(
    mut commands: MessageReader<Command>,
    (document, results, compute, storage): (Res<Document>, Res<Results>, Res<Compute>, Res<Storage>),
    (mut view, mut shelf, mut listening): (ResMut<View>, ResMut<Shelf>, ResMut<Listening>),
) {
    for command in commands.read() {
        match command {
            Command::Sound(SoundChoice::AskFile) => {
                let nearby = shelf.nearby(document.path());
                view.notice = shelf.look_into(&nearby, &*storage.0).err();
                view.question = Some(Question::WhichSound);
            }
            Command::Sound(choice) => {
                if matches!(choice, SoundChoice::File(_)) {
                    view.question = None;
                }
                listening.choose(choice);
            }
            Command::ToggleLayout => {
                let shown = usize::from(document.shows_b() == Some(true));
                listening.choose(&SoundChoice::Hear(shown));
            }
            _ => {}
        }
    }
    listening.take();
    listening.follow(&document, &view, &results, compute.held());
}

#[cfg(test)]
#[path = "listening_tests.rs"]
mod tests;
