//! What is listened to, as it is chosen and as it stands, and the system that has responses made for it and gives orders to whoever plays.
//!
//! The versions are A and B: the two layouts, or, while there is one, the room as it hangs and bare. They keep their places when the
//! layouts are swapped on screen; what is heard goes with the layout that is shown then. Responses are made while sound plays, and again
//! after every edit.
//!
//! Gains are those of `scale`: they go with the response that they belong to, fall by themselves and rise when the hand acts.
//!
//! Held, nothing is made; another room ends the sound, and like a device that was lost it brings the volume down to where it began.

use std::sync::atomic::{AtomicU32, Ordering};
use std::sync::mpsc::{Receiver, SendError, Sender, channel};
use std::sync::{Arc, Mutex};
use std::thread;

use bevy::prelude::*;
use roomwright::listen::dry::Dry;
use roomwright::progress::Progress;
use roomwright::scene::{self, Panel, Scene};
use roomwright::study::{Listener, same_room};

use super::choice::{SoundChoice, Told};
use super::device::{Line, Machine, Output, Said, Voice, Which};
use super::feeder::{Order, Pulse};
use super::gain::factor;
use super::ready::{self, Answer, At, DryChoice, Loud, Ready, Room, Wanted};
use super::scale::Scale;
use super::wish::{Asked, ear_in};
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
    /// The device; `None`: the usual one.
    pub(crate) device: Option<Which>,
    /// Devices that were found; `None`: nobody has looked.
    pub(crate) devices: Option<Vec<Which>>,
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
    scale: Scale,
    hand: Hand,
}

/// What a device says, and the number of the opening that it speaks of.
type Word = (u32, Said);

/// The ways to everybody who works for it.
struct Hand {
    output: Arc<dyn Output>,
    /// Orders to the device, while one is open, and at how many samples a second it plays, once it has said so.
    line: Option<(Sender<Order>, Option<u32>)>,
    /// Counts openings and closings.
    lines: u32,
    pulse: Arc<Mutex<Pulse>>,
    gaps: Arc<AtomicU32>,
    /// The way to the worker, once there is one.
    wishes: Option<Sender<Wanted>>,
    /// Answers, with the number of the device that they are for.
    ready: (Sender<Answer>, Mutex<Receiver<Answer>>),
    said: (Sender<Word>, Mutex<Receiver<Word>>),
    wake: Arc<dyn Fn() + Send + Sync>,
    asked: Option<Asked>,
    /// Whether the room on screen is being traced.
    waits: bool,
    number: u64,
    /// Counts what was chosen to be played: a file that was looked at for an earlier choice is let be.
    looks: u64,
    progress: Progress,
    /// The text that was seen last, and its revision.
    text: (u64, String),
    /// The layout that is not shown, read.
    other: Option<(Arc<str>, Option<Arc<Scene>>)>,
    /// The room without panels.
    bare: Option<(Arc<Scene>, Arc<Scene>)>,
}

impl Default for Listening {
    fn default() -> Self {
        Self::on(Arc::new(Machine))
    }
}

impl Listening {
    /// Nothing plays yet; what does will play there.
    pub(crate) fn on(output: Arc<dyn Output>) -> Self {
        let (ready, made) = channel();
        let (say, said) = channel();
        let hand = Hand {
            output: output.clone(),
            line: None,
            lines: 0,
            pulse: Arc::default(),
            gaps: Arc::default(),
            wishes: None,
            ready: (ready, Mutex::new(made)),
            said: (say, Mutex::new(said)),
            wake: Arc::new(|| ()),
            asked: None,
            waits: false,
            number: 0,
            looks: 0,
            progress: Progress::new(),
            text: (0, String::new()),
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
            scale: Scale::default(),
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

    /// Whether a device has said that it plays.
    pub(crate) fn is_open(&self) -> bool {
        self.hand.line.as_ref().is_some_and(|(_, rate)| rate.is_some())
    }

    /// By how much both are softer than they would be if the hand began anew, dB: 0 or more.
    pub(crate) fn held_back_db(&self) -> f64 {
        self.scale.held_back_db(self.equal, self.loud())
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
                let before_db = std::mem::replace(&mut self.volume_db, volume_db.clamp(LEAST_DB, 0.0));
                if self.volume_db > before_db {
                    self.scale.anew();
                    self.level();
                }
                self.order(Order::Volume(self.volume_db));
            }
            SoundChoice::Own(dry) => {
                self.hand.looks += 1;
                self.take_up(DryChoice::Own(*dry));
            }
            SoundChoice::File(path) => {
                self.hand.looks += 1;
                ready::look_at(self.hand.looks, path.clone(), self.hand.ready.0.clone(), self.hand.wake.clone());
            }
            SoundChoice::Repeat(repeats) => {
                self.repeats = *repeats;
                self.order(Order::Repeat(*repeats));
            }
            SoundChoice::Listener(listener) => self.listener = *listener,
            SoundChoice::Equal(equal) => {
                self.equal = *equal;
                self.scale.anew();
                self.level();
            }
            SoundChoice::FindDevices => self.hand.output.list(self.voice()),
            SoundChoice::Device(which) => {
                if self.device != *which {
                    // Another device may be louder.
                    (self.device, self.volume_db) = (which.clone(), self.volume_db.min(FIRST_DB));
                    self.close();
                    self.play(self.plays);
                }
            }
            SoundChoice::Volume(_) | SoundChoice::AskFile => {}
        }
    }

    fn voice(&self) -> Voice {
        Voice { line: self.hand.lines, back: self.hand.said.0.clone(), wake: self.hand.wake.clone() }
    }

    fn play(&mut self, plays: bool) {
        self.plays = plays && self.lack.is_none();
        if self.plays && self.hand.line.is_none() {
            self.open();
        }
        if !self.plays {
            self.rest();
        }
        self.order(Order::Play(self.plays));
    }

    fn open(&mut self) {
        let (orders, taken) = channel();
        self.hand.lines += 1;
        self.told.iter_mut().for_each(|told| told.rays = 0);
        self.hand.line = Some((orders, None));
        (self.hand.pulse, self.hand.gaps, self.pulse) = (Arc::default(), Arc::default(), Pulse::default());
        let (pulse, gaps) = (self.hand.pulse.clone(), self.hand.gaps.clone());
        // It begins low, wherever the volume stands, and rises to it.
        let line = Line { orders: taken, voice: self.voice(), pulse, gaps, volume_db: self.volume_db.min(FIRST_DB) };
        self.hand.output.open(self.device.clone(), line);
        self.order(Order::Volume(self.volume_db));
        self.order(Order::Hear(self.hears));
        self.order(Order::Repeat(self.repeats));
        self.wrong = None;
    }

    /// Lets the device go; what is on its way from it or for it is let be.
    fn close(&mut self) {
        self.order(Order::Play(false));
        self.rest();
        self.hand.lines += 1;
        (self.hand.line, self.hand.pulse, self.pulse) = (None, Arc::default(), Pulse::default());
    }

    /// Nothing is made any more; when it plays again it is asked for anew.
    fn rest(&mut self) {
        self.hand.progress.cancel();
        (self.hand.asked, self.is_making) = (None, false);
    }

    /// Another dry sound.
    fn take_up(&mut self, dry: DryChoice) {
        (self.dry, self.wrong) = (dry, None);
        self.scale.anew();
        self.told.iter_mut().for_each(|told| told.loud = None);
    }

    fn loud(&self) -> [Option<Loud>; 2] {
        self.told.each_ref().map(|told| told.loud)
    }

    /// Gains of both versions as they are now.
    fn gains(&mut self) -> [f32; 2] {
        let loud = self.loud();
        self.scale.follow(self.equal, loud).map(factor)
    }

    /// Brings both to their gains.
    fn level(&mut self) {
        for (side, gain) in self.gains().into_iter().enumerate() {
            self.order(Order::Gain(side, gain));
        }
    }

    /// By how much B is louder than A, dB, where both are known.
    pub(crate) fn louder_b_db(&self) -> Option<f64> {
        let [a, b] = self.loud();
        Some(b?.loudness_db - a?.loudness_db)
    }

    /// Takes in what was made.
    pub(crate) fn take(&mut self) {
        let reports: Vec<Answer> = self.hand.ready.1.get_mut().map(|ready| ready.try_iter().collect()).unwrap_or_default();
        // What was made for a device that is closed may have another rate.
        let lines = self.hand.lines;
        for (_, report) in reports.into_iter().filter(|(line, _)| line.is_none_or(|line| line == lines)) {
            self.hear_of(report);
        }
        let said: Vec<Word> = self.hand.said.1.get_mut().map(|said| said.try_iter().collect()).unwrap_or_default();
        for (line, said) in said {
            match said {
                Said::Devices(found) => self.devices = Some(found),
                // Of a device that was let go.
                _ if line != self.hand.lines => {}
                Said::Opened(rate) => {
                    if let Some((_, at)) = &mut self.hand.line {
                        *at = Some(rate);
                    }
                }
                Said::Lost(why) => {
                    let begins = if self.is_open() { "Sound has stopped" } else { "No sound" };
                    self.wrong = Some(format!("{begins}: {}.", why.trim_end_matches('.')));
                    self.end();
                }
                Said::Closed => {
                    let plays = self.plays;
                    self.close();
                    // Asked to play while it was closing, it opens again.
                    self.play(plays);
                }
                Said::Pulse => {}
            }
        }
        let now = self.hand.pulse.lock().map(|pulse| *pulse).unwrap_or_default();
        if now.ends > self.pulse.ends && !self.repeats && self.plays {
            // A sound that is played once ends by itself.
            self.play(false);
        }
        self.pulse = now;
    }

    /// Sound ends, and begins low the next time.
    fn end(&mut self) {
        self.close();
        (self.plays, self.volume_db) = (false, self.volume_db.min(FIRST_DB));
    }

    /// Takes in an answer of the worker.
    fn hear_of(&mut self, report: Ready) {
        match report {
            Ready::Dry(dry, loud) => {
                self.told.iter_mut().zip(loud).for_each(|(told, loud)| told.loud = loud);
                let gains = self.gains();
                self.order(Order::Dry(dry, gains));
            }
            Ready::NoDry(why) => self.wrong = Some(format!("That sound cannot be played: {}.", why.trim_end_matches('.'))),
            Ready::Trouble(why) => self.wrong = Some(why),
            Ready::Version(side, version, rays, loud) => {
                let told = &mut self.told[side];
                (told.rays, told.loud, told.why_not) = (rays, loud, None);
                let gains = self.gains();
                self.order(Order::Version(side, version, gains[side]));
                self.order(Order::Gain(1 - side, gains[1 - side]));
            }
            Ready::Stands(side, loud) => {
                (self.told[side].loud, self.told[side].why_not) = (loud, None);
                self.level();
            }
            Ready::NoVersion(side, why) => self.told[side].why_not = Some(why),
            Ready::Looked(number, looked) if number == self.hand.looks => match looked {
                Ok(take) => self.take_up(DryChoice::File(Arc::new(take))),
                Err(why) => self.wrong = Some(why),
            },
            Ready::Done(number) if number == self.hand.number => self.is_making = self.hand.waits,
            Ready::Failed(number) if number == self.hand.number => {
                self.is_making = false;
                self.wrong = Some("The program failed at this response. Hold and play again to try anew, or change something.".to_owned());
            }
            Ready::Looked(..) | Ready::Done(_) | Ready::Failed(_) => {}
        }
    }

    /// Has responses made of what is on screen now.
    fn follow(&mut self, document: &Document, view: &View, results: &Results, held: Option<&Held>) {
        if self.is_another(document) {
            // What was made is of another room, and that may be louder.
            (self.told, self.hand.other, self.hand.bare) = Default::default();
            self.scale.anew();
            self.hears = 0;
            self.end();
        }
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
        let (asked, why_not) = self.wanted(document, view, results, (held, &shown), rate);
        if self.hand.asked.as_ref().is_some_and(|before| before.is(&asked)) {
            return;
        }
        for (side, why_not) in why_not.into_iter().enumerate() {
            self.told[side].why_not = why_not;
            if self.hand.asked.as_ref().is_none_or(|before| !before.sounds_like(&asked, side)) {
                self.told[side].loud = None;
            }
        }
        self.hand.progress.cancel();
        self.hand.progress = Progress::new();
        self.hand.number += 1;
        self.is_making = true;
        let Asked { rooms, at, dry } = asked.clone();
        let (number, heard, progress) = (self.hand.number, self.hears, self.hand.progress.clone());
        self.wish(Wanted { number, rooms, heard, at, dry, progress });
        self.hand.asked = Some(asked);
    }

    /// Whether another room was opened since it was asked last: there is nothing to take back, and the text is another one.
    fn is_another(&mut self, document: &Document) -> bool {
        if self.hand.text.0 == document.revision() || document.is_dragged() {
            return false;
        }
        self.hand.text.0 = document.revision();
        if self.hand.text.1 == document.text() {
            return false;
        }
        document.text().clone_into(&mut self.hand.text.1);
        document.can_undo_redo() == (false, false)
    }

    /// Tells the worker, which begins when something is wanted for the first time, or when it is gone.
    fn wish(&mut self, wanted: Wanted) {
        let unheard = match &self.hand.wishes {
            Some(wishes) => wishes.send(wanted).err().map(|SendError(wanted)| wanted),
            None => Some(wanted),
        };
        if let Some(wanted) = unheard {
            let (wishes, unread) = channel();
            let (back, wake) = (self.hand.ready.0.clone(), self.hand.wake.clone());
            thread::spawn(move || ready::work(&unread, &back, &wake));
            drop(wishes.send(wanted));
            self.hand.wishes = Some(wishes);
        }
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

    /// What is to be made, and why not, of each version.
    fn wanted(
        &mut self,
        document: &Document,
        view: &View,
        results: &Results,
        (held, shown): (Option<&Held>, &Arc<Scene>),
        rate: u32,
    ) -> (Asked, [Option<String>; 2]) {
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
        let ear = ear_in(shown, (shown, view.receiver), self.listener);
        let on_screen = ear.map(|ear| Room { scene: shown.clone(), held: paths(shown), ear, low, is_traced_elsewhere: true });
        let low = low_of_other.map(|low| (low, !shown.panels.is_empty()));
        let beside = other.ok_or_else(|| "its text has mistakes".to_owned()).and_then(|scene| {
            let ear = ear_in(&scene, (shown, view.receiver), self.listener)?;
            Ok(Room { held: paths(&scene), scene, ear, low, is_traced_elsewhere: false })
        });
        let why_not = [&on_screen, &beside].map(|room| room.as_ref().err().cloned());
        let (rooms, why_not) = match (document.shows_b() == Some(true), [on_screen.ok(), beside.ok()], why_not) {
            (false, rooms, why_not) => (rooms, why_not),
            (true, [on_screen, beside], [why, why_beside]) => ([beside, on_screen], [why_beside, why]),
        };
        (Asked { rooms, at: At { rate, line: self.hand.lines }, dry: self.dry.clone() }, why_not)
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
