//! Responses of both versions in the background: which rooms, traced by whom, heard by whom; and how loud a dry sound is in each.
//!
//! | what there is | first | then |
//! | --- | --- | --- |
//! | paths of the scene on screen (`compute`), of more and more rays | from those that are there | from those that come |
//! | a room whose paths nobody holds: another layout with a cloud elsewhere | a trace of 1,000 rays | one of 20,000, kept until that room changes |
//!
//! One worker, a thread. A newer wish takes the place of an older one; of that only the first response, of what is heard, is still made, so
//! that sound follows a hand that does not rest. What takes long in a response is its noise, not the number of rays: it is made once for a
//! listener.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender};
use std::thread;

use roomwright::dsp::wav::Sound;
use roomwright::hanging::from_panels;
use roomwright::listen::dry;
use roomwright::listen::loudness::{loudness, peak_db};
use roomwright::listen::play::Playback;
use roomwright::progress::{Cancelled, Progress};
use roomwright::scene::Scene;
use roomwright::study::{self, ListenError, Listener, Tails, Traced, same_room};

use super::dry::{Dry, Held as HeldSound, Take, Tape};
use super::mixer::Version;
use crate::compute::Held;
use crate::errand::LowEnd;

/// Rays a source of rooms whose paths nobody holds.
const RAYS: [u32; 2] = [1_000, 20_000];

/// What is played dry.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum DryChoice {
    /// A sound of the program's own.
    Own(dry::Dry),
    /// A file.
    File(Arc<Take>),
}

/// A version of the room that is wanted.
#[derive(Clone, Debug)]
pub(crate) struct Room {
    /// The scene.
    pub(crate) scene: Arc<Scene>,
    /// Paths that are held of it.
    pub(crate) held: Option<Held>,
    /// Who hears it, and where.
    pub(crate) ear: Ear,
    /// What waves have told of it, and whether of the room with nothing hung.
    pub(crate) low: Option<(Arc<LowEnd>, bool)>,
    /// Whether somebody else traces it.
    pub(crate) is_traced_elsewhere: bool,
}

/// Who hears a room, and where.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Ear {
    /// The receiver, by its number in the scene.
    pub(crate) receiver: usize,
    /// Who listens there.
    pub(crate) listener: Listener,
}

/// By what it is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct At {
    /// Samples a second.
    pub(crate) rate: u32,
    /// Counts the devices that were opened: each begins with nothing.
    pub(crate) line: u32,
}

/// What is wanted.
pub(crate) struct Wanted {
    /// Counts what was wanted.
    pub(crate) number: u64,
    /// Both versions; one that is none is let be.
    pub(crate) rooms: [Option<Room>; 2],
    /// The one that is heard.
    pub(crate) heard: usize,
    /// By what it is played.
    pub(crate) at: At,
    /// What is played.
    pub(crate) dry: DryChoice,
    /// The way to give it up.
    pub(crate) progress: Progress,
}

/// How loud a dry sound is in a version.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Loud {
    /// Loudness after ITU-R BS.1770, LKFS.
    pub(crate) loudness_db: f64,
    /// Largest sample, dB re full scale.
    pub(crate) peak_db: f64,
}

/// What comes back.
pub(crate) enum Ready {
    /// The dry sound, and how loud it is in each version that there is; `None`: it is silent there.
    Dry(Box<dyn Dry>, [Option<Loud>; 2]),
    /// Why there is none.
    NoDry(String),
    /// The dry sound goes on in silence: why, in a sentence.
    Trouble(String),
    /// The response of a version, from so many rays a source, and how loud the dry sound is in it.
    Version(usize, Box<Version>, u32, Option<Loud>),
    /// The response of a version that was given before is that of the wish, and how loud the dry sound is in it.
    Stands(usize, Option<Loud>),
    /// Why there is none.
    NoVersion(usize, String),
    /// The file of this number was looked at.
    Looked(u64, Result<Take, String>),
    /// All of the wish of this number is done.
    Done(u64),
    /// The worker failed at the wish of this number, and begins anew with the next.
    Failed(u64),
}

/// An answer of the worker, and the number of the device that it is for, if it is for one.
pub(crate) type Answer = (Option<u32>, Ready);

/// Responses by loudspeaker, then ear.
type Responses = Vec<Vec<Vec<f32>>>;

/// What a response was made for.
struct Key {
    scene: Arc<Scene>,
    rays: u32,
    ear: Ear,
    /// Samples a second.
    rate: u32,
    low: Option<Arc<LowEnd>>,
}

impl Key {
    /// Whether both are of the same, from however many rays.
    fn is(&self, other: &Self) -> bool {
        let same_low = match (&self.low, &other.low) {
            (Some(one), Some(other)) => Arc::ptr_eq(one, other),
            (one, other) => one.is_none() && other.is_none(),
        };
        let same_ear = (self.ear, self.rate) == (other.ear, other.rate);
        same_low && same_ear && (Arc::ptr_eq(&self.scene, &other.scene) || self.scene == other.scene)
    }
}

/// A version as it was made last.
struct Made {
    key: Key,
    /// The device that it was given to last.
    line: u32,
    responses: Arc<Responses>,
    /// How loud the present dry sound is in it, once that was asked.
    loud: Option<Option<Loud>>,
}

/// The worker.
struct Maker {
    back: Sender<Answer>,
    wake: Arc<dyn Fn() + Send + Sync>,
    made: [Option<Made>; 2],
    /// Rooms that it traced itself.
    traced: Vec<(Arc<Scene>, Arc<Traced>)>,
    /// Noise of the responses, the same in both versions and wherever panels are.
    tails: Tails,
    /// The dry sound, and what its loudness is taken from.
    dry: Option<(DryChoice, At, Arc<Sound>)>,
}

/// Works until nobody wants anything any more. With each answer goes the number of the device that it is for.
///
/// What fails within the computation ends the wish and not the worker: it says so and begins anew with the next.
pub(crate) fn work(wishes: &Receiver<Wanted>, back: &Sender<Answer>, wake: &Arc<dyn Fn() + Send + Sync>) {
    let mut maker = Maker::new(back, wake);
    while let Ok(first) = wishes.recv() {
        let wanted = wishes.try_iter().last().unwrap_or(first);
        let say = |ready: Ready| {
            drop(back.send((Some(wanted.at.line), ready)));
            wake();
        };
        let done = catch_unwind(AssertUnwindSafe(|| match rayon::ThreadPoolBuilder::new().build() {
            Ok(pool) => pool.install(|| maker.make(&wanted, &say)),
            Err(_) => maker.make(&wanted, &say),
        }));
        match done {
            Ok(Ok(())) => say(Ready::Done(wanted.number)),
            Ok(Err(Cancelled)) => {}
            Err(_) => {
                maker = Maker::new(back, wake);
                say(Ready::Failed(wanted.number));
            }
        }
    }
}

/// Looks at the file of this number, on a thread of its own.
pub(crate) fn look_at(number: u64, path: std::path::PathBuf, back: Sender<Answer>, wake: Arc<dyn Fn() + Send + Sync>) {
    thread::spawn(move || {
        drop(back.send((None, Ready::Looked(number, Take::look_at(&path)))));
        wake();
    });
}

impl Maker {
    fn new(back: &Sender<Answer>, wake: &Arc<dyn Fn() + Send + Sync>) -> Self {
        Self { back: back.clone(), wake: wake.clone(), made: [None, None], traced: Vec::new(), tails: Tails::default(), dry: None }
    }

    fn make(&mut self, wanted: &Wanted, say: &(impl Fn(Ready) + Sync)) -> Result<(), Cancelled> {
        self.dry(wanted, say);
        let never = Progress::new();
        for pass in [0, 1] {
            for side in [wanted.heard, 1 - wanted.heard] {
                let Some(room) = &wanted.rooms[side] else { continue };
                let progress = if pass == 0 && side == wanted.heard { &never } else { &wanted.progress };
                progress.step(0)?;
                self.version(progress, wanted.at, (side, room, pass), say)?;
            }
        }
        Ok(())
    }

    /// The dry sound, where it is another one.
    fn dry(&mut self, wanted: &Wanted, say: &impl Fn(Ready)) {
        let At { rate, .. } = wanted.at;
        if self.dry.as_ref().is_some_and(|(choice, at, _)| *choice == wanted.dry && *at == wanted.at) {
            return;
        }
        let seed = wanted.rooms.iter().flatten().next().map_or(0, |room| room.scene.settings.seed);
        let made = match &wanted.dry {
            DryChoice::Own(own) => own.sound(rate, seed).map(Arc::new).map_err(|why| why.to_string()),
            DryChoice::File(take) => take.excerpt(rate).map(Arc::new),
        };
        match made {
            Ok(sound) => {
                self.made.iter_mut().flatten().for_each(|made| made.loud = None);
                self.dry = Some((wanted.dry.clone(), wanted.at, sound.clone()));
                let dry: Box<dyn Dry> = match &wanted.dry {
                    DryChoice::Own(_) => Box::new(HeldSound::new(sound)),
                    DryChoice::File(take) => Box::new(self.tape(take, wanted.at)),
                };
                say(Ready::Dry(dry, [self.loud(0), self.loud(1)]));
            }
            Err(why) => say(Ready::NoDry(why)),
        }
    }

    /// A file as it is played; what goes wrong with it is said.
    fn tape(&self, take: &Take, at: At) -> Tape {
        let (back, wake) = (self.back.clone(), self.wake.clone());
        take.play(at.rate, move |why| {
            drop(back.send((Some(at.line), Ready::Trouble(why))));
            wake();
        })
    }

    /// The response of a version, where it is another one or the device is.
    fn version(
        &mut self,
        progress: &Progress,
        at: At,
        (side, room, pass): (usize, &Room, usize),
        say: &impl Fn(Ready),
    ) -> Result<(), Cancelled> {
        let Some(traced) = self.paths(progress, room, pass)? else { return Ok(()) };
        let (scene, rays, ear) = (room.scene.clone(), traced.rays(), room.ear);
        let key = Key { scene, rays, ear, rate: at.rate, low: room.low.as_ref().map(|(low, _)| low.clone()) };
        match &self.made[side] {
            Some(made) if made.key.is(&key) && made.key.rays >= rays => {
                if made.line == at.line {
                    say(Ready::Stands(side, self.loud(side)));
                    return Ok(());
                }
            }
            _ => {
                let run = room.low.as_ref().and_then(|(low, bare)| Some((low.found.as_ref().ok()?, *bare)));
                let low = run.and_then(|(run, bare)| if bare { run.bare_low.as_ref() } else { Some(&run.low) });
                let hanging = from_panels(&room.scene, &traced.room, &room.scene.panels);
                let asked = (ear.receiver, ear.listener, at.rate);
                let responses: Responses = match study::responses(progress, (&traced, low), &hanging, (asked, &mut self.tails)) {
                    Ok(impulses) => impulses.into_iter().map(|impulse| impulse.channels).collect(),
                    Err(ListenError::Stopped(stopped)) => return Err(stopped),
                    Err(why) => {
                        say(Ready::NoVersion(side, why.to_string()));
                        return Ok(());
                    }
                };
                self.made[side] = Some(Made { key, line: at.line, responses: Arc::new(responses), loud: None });
            }
        }
        let loud = self.loud(side);
        if let Some(made) = &mut self.made[side] {
            made.line = at.line;
            match Version::new(at.rate, (*made.responses).clone()) {
                Ok(version) => say(Ready::Version(side, Box::new(version), made.key.rays, loud)),
                Err(why) => say(Ready::NoVersion(side, why.to_string())),
            }
        }
        Ok(())
    }

    /// Paths of a room: those that are held, or its own.
    fn paths(&mut self, progress: &Progress, room: &Room, pass: usize) -> Result<Option<Arc<Traced>>, Cancelled> {
        if room.held.is_some() || room.is_traced_elsewhere {
            return Ok(room.held.as_ref().map(|held| held.traced.clone()));
        }
        let wanted = RAYS[pass].min(room.scene.settings.rays);
        let known = self.traced.iter().find(|(scene, _)| same_room(scene, &room.scene)).map(|(_, traced)| traced.clone());
        if let Some(known) = known.filter(|known| known.rays() >= wanted) {
            return Ok(Some(known));
        }
        let traced = Arc::new(study::trace_for_trials(progress, &room.scene, wanted)?);
        self.traced.retain(|(scene, _)| !same_room(scene, &room.scene));
        self.traced.insert(0, (room.scene.clone(), traced.clone()));
        self.traced.truncate(2);
        Ok(Some(traced))
    }

    /// How loud the dry sound is in a version; `None`: there is none, or it is silent there.
    fn loud(&mut self, side: usize) -> Option<Loud> {
        let sound = self.dry.as_ref().map(|(_, _, sound)| sound.clone())?;
        let made = self.made[side].as_mut().filter(|made| made.key.rate == sound.rate)?;
        *made.loud.get_or_insert_with(|| {
            let fitting = fitted(&sound, made.responses.len());
            let heard = Playback::new(sound.rate, (*made.responses).clone()).and_then(|playback| playback.whole(&fitting)).ok()?;
            Some(Loud { loudness_db: loudness(&heard).ok()?, peak_db: peak_db(&heard).ok()? })
        })
    }
}

/// A dry sound as so many loudspeakers play it: channels that are not one for each are mixed to one.
fn fitted(sound: &Sound, loudspeakers: usize) -> Sound {
    let channels = sound.channels.len();
    if channels == 1 || channels == loudspeakers {
        return sound.clone();
    }
    let share = 1.0 / channels.max(1) as f32;
    let mixed = (0..sound.frames()).map(|frame| sound.channels.iter().map(|channel| share * channel[frame]).sum()).collect();
    Sound { rate: sound.rate, channels: vec![mixed] }
}
