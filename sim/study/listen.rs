//! What does it sound like? Dry sound through the room, as it hangs and bare: on one scale, equally loud, and in turns.
//!
//! Both states are traced with the same seed and the tails of both are shaped from the same noise, so what is heard between them is the panels. A dry sound of one channel comes from all sources alike.
//!
//! *References.* `response::impulse`, `listen`.
//!
//! *Limits.* What those files say; whole sounds are held in memory.

use glam::DMat3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::sound::{SoundAsked, Tails, impulses_of, impulses_with};
use super::{BassAsked, LowEnd, Sounded, Traced, waves_or_why};
use crate::dsp::wav::Sound;
use crate::findings::Findings;
use crate::hanging::Hanging;
use crate::listen::alternate::{AlternateError, alternate};
use crate::listen::ears::{Arrangement, EarsError, Head, Pair, RADIUS};
use crate::listen::filtered::{Filtered, Filters, FiltersError};
use crate::listen::loudness::{LoudnessError, by_gain, loudness, matched, same_scale};
use crate::listen::play::{PlayError, Playback};
use crate::progress::{Cancelled, Progress};
use crate::response::{Impulse, Pickup, Point};
use crate::room::Room;
use crate::scene::Scene;

/// Who listens.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Listener {
    /// Two ears on a head, for headphones.
    Head,
    /// Two cardioids at one place, 90 degrees apart.
    Crossed,
    /// Two omnis 40 cm apart.
    Apart,
    /// Two cardioids 17 cm and 110 degrees apart.
    Splayed,
    /// One point, or the microphone of the scene as it is.
    Point,
}

impl Listener {
    /// All of them.
    pub const ALL: [Self; 5] = [Self::Head, Self::Crossed, Self::Apart, Self::Splayed, Self::Point];

    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Head => "head",
            Self::Crossed => "crossed",
            Self::Apart => "apart",
            Self::Splayed => "splayed",
            Self::Point => "point",
        }
    }

    /// The one of this word.
    #[must_use]
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|listener| listener.word() == word)
    }

    /// What it is, and what its sound is played on.
    #[must_use]
    pub fn what(self) -> &'static str {
        match self {
            Self::Head => "two ears on a hard sphere of 87.5 mm radius: for headphones",
            Self::Crossed => "two cardioids at one place, 90 degrees between them: for two loudspeakers",
            Self::Apart => "two omnis 40 cm apart: for two loudspeakers",
            Self::Splayed => "two cardioids 17 cm apart, 110 degrees between them: for two loudspeakers",
            Self::Point => "one channel: a point at the head, or the microphone of the scene",
        }
    }

    /// As a pickup at a receiver, turned to the left by so many degrees; a head as it was measured, where it was.
    fn pickup(
        self,
        (room, receiver): (&Room, usize),
        (turned_deg, rate): (f64, u32),
        measured: Option<&Filters>,
    ) -> Result<Box<dyn Pickup>, ListenError> {
        let facing = DMat3::from_rotation_z(turned_deg.to_radians()) * room.receivers[receiver].facing;
        let speed = room.medium.speed;
        let pair = |arrangement| Ok::<Box<dyn Pickup>, ListenError>(Box::new(Pair::new(facing, arrangement, speed, rate)?));
        match (self, measured) {
            (Self::Head, Some(filters)) => Ok(Box::new(Filtered::new(facing, filters, speed, rate)?)),
            (Self::Head, None) => Ok(Box::new(Head::new(facing, RADIUS, speed, rate)?)),
            (Self::Crossed, _) => pair(Arrangement::CROSSED),
            (Self::Apart, _) => pair(Arrangement::APART),
            (Self::Splayed, _) => pair(Arrangement::SPLAYED),
            (Self::Point, _) => Ok(Box::new(Point)),
        }
    }
}

/// What is to be heard.
#[derive(Clone, Debug)]
pub struct ListenAsked {
    /// Dry sounds, each with a name for its files.
    pub dry: Vec<(String, Sound)>,
    /// Number of the seat or microphone, seats first.
    pub receiver: usize,
    /// Who listens there.
    pub listener: Listener,
    /// A head as it was measured, in place of the sphere.
    pub measured: Option<Filters>,
    /// By how much the listener is turned to the left of its facing, degrees.
    pub turned_deg: f64,
    /// Samples a second: 44100, 48000 or 96000.
    pub rate: u32,
    /// How long a turn of one version lasts where they alternate, seconds.
    pub turn_s: f64,
}

impl ListenAsked {
    /// What the listener is, and what its sound is played on.
    fn listener_is(&self) -> String {
        let Some(filters) = self.measured.as_ref().filter(|_| self.listener == Listener::Head) else {
            return self.listener.what().to_owned();
        };
        format!(
            "two ears as measured on a head (\"{}\", {} directions, no other more than {:.0} degrees from one of them): for headphones",
            filters.title,
            filters.directions.len(),
            filters.gap_deg()
        )
    }
}

/// A file of sound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct SoundFile {
    /// Its name.
    pub name: String,
    /// What is in it.
    pub what: String,
    /// Its loudness after ITU-R BS.1770, LKFS; `None` of responses, and of what is silent.
    pub loudness_db: Option<f64>,
    /// By how much it was made louder than it came out of the responses.
    pub gain_db: f64,
    /// Length.
    pub length_s: f64,
}

/// What can be listened to.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub struct Sounds {
    /// Name of the seat or microphone.
    pub receiver: String,
    /// Who listens there: `head`, `crossed`, `apart`, `splayed` or `point`.
    pub listener: String,
    /// What that is.
    pub listener_is: String,
    /// Samples a second.
    pub rate_hz: f64,
    /// By how much the first dry sound is softer as it hangs than bare; `None` where nothing hangs.
    pub softer_db: Option<f64>,
    /// Every file.
    pub files: Vec<SoundFile>,
    /// What to know before one listens.
    pub notes: Vec<String>,
}

/// The sounds with their samples, in the order of their files.
#[derive(Clone, Debug, PartialEq)]
pub struct Listened {
    /// What each is.
    pub sounds: Sounds,
    /// Samples of each.
    pub samples: Vec<Sound>,
}

/// Why nothing can be heard.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ListenError {
    /// A dry sound that does not go with the room.
    #[error("{name}: {why}")]
    Play {
        /// Which.
        name: String,
        /// Why.
        why: PlayError,
    },
    /// One that is silent.
    #[error("{name}: {why}")]
    Loudness {
        /// Which.
        name: String,
        /// Why.
        why: LoudnessError,
    },
    /// Turns too short.
    #[error(transparent)]
    Turns(#[from] AlternateError),
    /// Ears that cannot be.
    #[error(transparent)]
    Ears(#[from] EarsError),
    /// A measured head that cannot be.
    #[error("the measured head: {0}")]
    Measured(#[from] FiltersError),
    /// Stopped.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// What to know before one listens.
pub const NOTES: [&str; 3] = [
    "Begin with the volume all the way down and raise it slowly: nothing here limits how loud your amplifier is. Sounds that are pleasant for a minute can be too loud for an hour.",
    "Matched versions are equally loud, which is how rooms are compared; the others are on one scale, so that the treated room is as much softer as it is.",
    "Sounds of the program are made, not recorded. Late sound is noise with the predicted decay: it tells how the room rings, not every detail of it.",
];

/// The impulse responses of a listener at a receiver, one a source, of a room that is traced, with what hangs flat in it and what waves bring in it as it hangs:
/// what is played while panels move; `tails` keep what the next ones can take over. Nothing is judged.
///
/// # Errors
/// [`ListenError`].
pub fn responses(
    progress: &Progress,
    (traced, low): (&Traced, Option<&LowEnd>),
    hanging: &Hanging,
    ((receiver, listener, rate), tails): ((usize, Listener, u32), &mut Tails),
) -> Result<Vec<Impulse>, ListenError> {
    let pickup = listener.pickup((&traced.room, receiver), (0.0, rate), None)?;
    let asked = SoundAsked { receiver, pickup: &*pickup, rate_hz: f64::from(rate) };
    Ok(impulses_with(progress, (traced, low), hanging, (&asked, tails))?)
}

/// What the seat hears now, and what that sounds like; waves as in `hear_with`.
///
/// # Errors
/// [`ListenError`].
pub fn hear_and_listen(
    progress: &Progress,
    scene: &Scene,
    waves: Option<&BassAsked>,
    asked: &ListenAsked,
) -> Result<(Findings, Room, Listened), ListenError> {
    let is_hung = !scene.panels.is_empty();
    let beside = waves.map(|asked| BassAsked { beside_bare: is_hung, ..*asked });
    let (mut run, why) = waves_or_why(progress, scene, beside.as_ref())?;
    let low = run.as_ref().map(|run| &run.low);
    let sounded = Sounded::new(progress, scene, low)?;
    let pickup = asked.listener.pickup((&sounded.traced.room, asked.receiver), (asked.turned_deg, asked.rate), asked.measured.as_ref())?;
    let sources: Vec<String> = sounded.traced.room.sources.iter().map(|source| source.name.clone()).collect();
    let receiver = sounded.traced.room.receivers[asked.receiver].name.clone();
    let heard = SoundAsked { receiver: asked.receiver, pickup: &*pickup, rate_hz: f64::from(asked.rate) };
    let mut tails = Tails::default();
    let hung = impulses_of(progress, (&sounded.traced, low), &sounded.heard, (&heard, &mut tails))?;
    let mut states = vec![State {
        word: if is_hung { "hung" } else { "room" },
        what: if is_hung { "as it hangs" } else { "as it stands" },
        impulses: hung,
    }];
    if is_hung {
        let bare = Scene { panels: Vec::new(), ..scene.clone() };
        let low: Option<&LowEnd> = run.as_ref().and_then(|run| run.bare_low.as_ref());
        let sounded = Sounded::new(progress, &bare, low)?;
        let impulses = impulses_of(progress, (&sounded.traced, low), &sounded.heard, (&heard, &mut tails))?;
        states.insert(0, State { word: "bare", what: "bare", impulses });
    }
    let mut made = Made { names: (&sources, &receiver), rate: asked.rate, files: Vec::new(), samples: Vec::new(), softer_db: None };
    made.responses(&states);
    for (name, dry) in &asked.dry {
        made.sounds(&states, (name, dry), asked.turn_s)?;
        progress.step(0)?;
    }
    let listened = Listened {
        sounds: Sounds {
            receiver: receiver.clone(),
            listener: asked.listener.word().to_owned(),
            listener_is: asked.listener_is(),
            rate_hz: f64::from(asked.rate),
            softer_db: made.softer_db,
            files: made.files,
            notes: NOTES.map(str::to_owned).to_vec(),
        },
        samples: made.samples,
    };
    if let Some(run) = &mut run {
        // What is told of the room is what `hear` tells of it.
        run.study.bare = None;
    }
    let (findings, traced, _) = sounded.judged(progress, scene, (run, why), waves)?;
    Ok((findings, traced.room, listened))
}

/// A state of the room and what is heard in it, a response for each source.
struct State {
    word: &'static str,
    what: &'static str,
    impulses: Vec<Impulse>,
}

/// Files in the making.
struct Made<'a> {
    /// Of the sources and of the receiver.
    names: (&'a [String], &'a str),
    rate: u32,
    files: Vec<SoundFile>,
    samples: Vec<Sound>,
    softer_db: Option<f64>,
}

impl Made<'_> {
    /// One file.
    fn add(&mut self, name: &str, what: String, gain_db: f64, sound: Sound, is_response: bool) {
        let loudness_db = if is_response { None } else { loudness(&sound).ok() };
        self.files.push(SoundFile { name: format!("{}.wav", slug(name)), what, loudness_db, gain_db, length_s: sound.seconds() });
        self.samples.push(sound);
    }

    /// The responses of all sources in all states.
    fn responses(&mut self, states: &[State]) {
        for state in states {
            for (source, impulse) in self.names.0.iter().zip(&state.impulses) {
                let sound = Sound { rate: self.rate, channels: impulse.channels.clone() };
                let name = format!("response {source} at {} {}", self.names.1, state.word);
                let what =
                    format!("impulse response of {source} at {}, {}; 1 is its pressure in the free field at 1 m", self.names.1, state.what);
                self.add(&name, what, 0.0, sound, true);
            }
        }
    }

    /// One dry sound in all states: on one scale, equally loud, in turns.
    fn sounds(&mut self, states: &[State], (name, dry): (&str, &Sound), turn_s: f64) -> Result<(), ListenError> {
        let play = |state: &State| {
            let responses = state.impulses.iter().map(|impulse| impulse.channels.clone()).collect();
            Playback::new(self.rate, responses)
                .and_then(|playback| playback.whole(dry))
                .map_err(|why| ListenError::Play { name: name.to_owned(), why })
        };
        let played: Vec<Sound> = states.iter().map(play).collect::<Result<_, _>>()?;
        let silent = |why| ListenError::Loudness { name: name.to_owned(), why };
        let scale_db = same_scale(&played).map_err(silent)?;
        for (state, sound) in states.iter().zip(&played) {
            self.add(
                &format!("sound {name} {}", state.word),
                format!("{name}, {}, on one scale", state.what),
                scale_db,
                by_gain(sound, scale_db),
                false,
            );
        }
        if let [bare, hung] = &played[..] {
            let gains_db = matched(&played).map_err(silent)?;
            self.softer_db = self.softer_db.or(Some(loudness(bare).map_err(silent)? - loudness(hung).map_err(silent)?));
            let versions: Vec<Sound> = played.iter().zip(&gains_db).map(|(sound, gain_db)| by_gain(sound, *gain_db)).collect();
            let turns = alternate(&versions, turn_s)?;
            for ((state, sound), gain_db) in states.iter().zip(versions).zip(gains_db) {
                self.add(
                    &format!("sound {name} {} matched", state.word),
                    format!("{name}, {}, equally loud", state.what),
                    gain_db,
                    sound,
                    false,
                );
            }
            let what = format!("{name}, equally loud, bare and as it hangs in turns of {turn_s} s, bare first");
            self.add(&format!("sound {name} turns"), what, 0.0, turns.sound, false);
        }
        Ok(())
    }
}

/// Letters and digits with hyphens between.
fn slug(words: &str) -> String {
    let parts = words.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
    parts.map(str::to_lowercase).collect::<Vec<_>>().join("-")
}
