//! What does it sound like? Dry sound through the room, as it hangs and bare: on one scale, equally loud, and in turns.
//!
//! Both states are traced with the same seed and the tails of both are shaped from the same noise, so what is heard between them is the panels. A dry sound of one channel comes from all sources alike.
//!
//! Dry sounds go through the room twice, piece by piece: to be measured (`played`), then, at gains that are known by now, to be written
//! ([`Listened::play`]). So a long one takes no more memory than a short one.
//!
//! *References.* `response::impulse`, `listen`.
//!
//! *Limits.* What those files say; responses are held in memory.

use glam::DMat3;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use super::sound::{SoundAsked, Tails, impulses_of, impulses_with};
use super::{BassAsked, LowEnd, Sounded, Traced, waves_or_why};

mod played;

use crate::dsp::wav::{Form, ReadError, Shape, Sound, WavError};
use crate::findings::Findings;
use crate::hanging::Hanging;
use crate::listen::alternate::{AlternateError, check_turns};
use crate::listen::ears::{Arrangement, EarsError, Head, Pair, RADIUS};
use crate::listen::filtered::{Filtered, Filters, FiltersError};
use crate::listen::loudness::LoudnessError;
use crate::listen::play::{PlayError, Playback, check_channels};
use crate::listen::supply::Supply;
use crate::progress::{Cancelled, Progress};
use crate::response::{Impulse, Pickup, Point};
use crate::room::{Bodies, Room, build};
use crate::scene::{Scene, print_panels};
pub use played::Played;

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
    pub(super) fn pickup(
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
    pub dry: Vec<(String, Supply)>,
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
    /// Names of the sources that sound; none in what was written before this was kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sources: Vec<String>,
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
    /// What hangs in the room that is heard, as a scene file says it; `None` where rooms are compared, and in what was written before this was kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hangs: Option<String>,
}

/// What can be listened to: responses, and dry sounds that are yet to be played.
#[derive(Debug)]
pub struct Listened {
    /// What each file is: responses, then the versions of one dry sound after the other.
    pub sounds: Sounds,
    /// The responses, in the order of their files.
    pub responses: Vec<Sound>,
    /// Each dry sound as it will be played.
    pub played: Vec<Played>,
    /// What they are played through, by state of the room.
    playbacks: Vec<Playback>,
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
    /// One that cannot be read any more.
    #[error("{name}: {why}")]
    Read {
        /// Which.
        name: String,
        /// Why.
        why: ReadError,
    },
    /// One that is too long for the files it would make.
    #[error("{name}: {why}")]
    Long {
        /// Which.
        name: String,
        /// Why.
        why: WavError,
    },
    /// Versions that are not heard at the same place from as many sources.
    #[error(
        "{version}: it has no receiver \"{receiver}\" where the first has it, or another number of sources, so that it cannot be heard beside that one"
    )]
    Unlike {
        /// Which.
        version: String,
        /// Where the first is heard.
        receiver: String,
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

/// What the seat hears now, and what that sounds like; waves as in `hear_with`. Of what is asked all is looked at before anything is traced.
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
    let room = build(scene, Bodies::Standing);
    let pickup = asked.listener.pickup((&room, asked.receiver), (asked.turned_deg, asked.rate), asked.measured.as_ref())?;
    check(asked, (room.sources.len(), pickup.channels()), if is_hung { 2 } else { 1 })?;
    let beside = waves.map(|asked| BassAsked { beside_bare: is_hung, ..*asked });
    let (mut run, why) = waves_or_why(progress, scene, beside.as_ref())?;
    let low = run.as_ref().map(|run| &run.low);
    let sounded = Sounded::new(progress, scene, low)?;
    let heard = SoundAsked { receiver: asked.receiver, pickup: &*pickup, rate_hz: f64::from(asked.rate) };
    let mut tails = Tails::default();
    let hung = impulses_of(progress, (&sounded.traced, low), &sounded.heard, (&heard, &mut tails))?;
    let mut states = vec![State {
        word: if is_hung { "hung" } else { "room" }.to_owned(),
        what: if is_hung { "as it hangs" } else { "as it stands" }.to_owned(),
        impulses: hung,
    }];
    if is_hung {
        let bare = Scene { panels: Vec::new(), ..scene.clone() };
        let low: Option<&LowEnd> = run.as_ref().and_then(|run| run.bare_low.as_ref());
        let sounded = Sounded::new(progress, &bare, low)?;
        let impulses = impulses_of(progress, (&sounded.traced, low), &sounded.heard, (&heard, &mut tails))?;
        states.insert(0, State { word: "bare".to_owned(), what: "bare".to_owned(), impulses });
    }
    let mut listened = listened(progress, &sounded.traced.room, &states, asked)?;
    listened.sounds.hangs = Some(print_panels(scene, &scene.panels));
    if let Some(run) = &mut run {
        // What is told of the room is what `hear` tells of it.
        run.study.bare = None;
    }
    let (findings, ..) = sounded.judged(progress, scene, (run, why), waves)?;
    Ok((findings, room, listened))
}

/// What is wrong with dry sounds and turns for so many sources and ears.
pub(super) fn check(asked: &ListenAsked, (sources, ears): (usize, usize), states: usize) -> Result<(), ListenError> {
    if states > 1 {
        check_turns(states, asked.rate, asked.turn_s)?;
    }
    for (name, supply) in &asked.dry {
        let name = || name.clone();
        check_channels(supply.channels(), sources)
            .and_then(|()| supply.check(asked.rate))
            .map_err(|why| ListenError::Play { name: name(), why })?;
        if supply.peak() == 0.0 {
            return Err(ListenError::Loudness { name: name(), why: LoudnessError::Silent });
        }
        let shape = Shape { rate: asked.rate, channels: ears, frames: supply.frames_at(asked.rate), form: Form::Pcm24 };
        shape.check().map_err(|why| ListenError::Long { name: name(), why })?;
    }
    Ok(())
}

/// A state of the room and what is heard in it, a response for each source.
pub(super) struct State {
    /// What its files are called by.
    pub(super) word: String,
    /// What it is, for print.
    pub(super) what: String,
    /// By source.
    pub(super) impulses: Vec<Impulse>,
}

/// What is listened to in these states, every dry sound measured.
pub(super) fn listened(progress: &Progress, room: &Room, states: &[State], asked: &ListenAsked) -> Result<Listened, ListenError> {
    let receiver = &room.receivers[asked.receiver].name;
    let (mut files, mut responses) = (Vec::new(), Vec::new());
    for state in states {
        for (source, impulse) in room.sources.iter().map(|source| &source.name).zip(&state.impulses) {
            let sound = Sound { rate: asked.rate, channels: impulse.channels.clone() };
            let what = format!("impulse response of {source} at {receiver}, {}; 1 is its pressure in the free field at 1 m", state.what);
            let name = file_name(&format!("response {source} at {receiver} {}", state.word));
            files.push(SoundFile { name, what, loudness_db: None, gain_db: 0.0, length_s: sound.seconds() });
            responses.push(sound);
        }
    }
    let playback = |state: &State| Playback::new(asked.rate, state.impulses.iter().map(|impulse| impulse.channels.clone()).collect());
    let playbacks: Vec<Playback> =
        states.iter().map(playback).collect::<Result<_, _>>().map_err(|why| ListenError::Play { name: receiver.clone(), why })?;
    let (mut played, mut softer_db) = (Vec::new(), None);
    for (name, supply) in &asked.dry {
        let one = Played::measured(progress, (name, supply), (&playbacks, states), asked.turn_s)?;
        softer_db = softer_db.or(one.softer_db());
        files.extend(one.files.iter().map(|(file, _)| file.clone()));
        played.push(one);
    }
    let sounds = Sounds {
        receiver: receiver.clone(),
        sources: room.sources.iter().map(|source| source.name.clone()).collect(),
        listener: asked.listener.word().to_owned(),
        listener_is: asked.listener_is(),
        rate_hz: f64::from(asked.rate),
        softer_db,
        files,
        notes: NOTES.map(str::to_owned).to_vec(),
        hangs: None,
    };
    Ok(Listened { sounds, responses, played, playbacks })
}

impl Listened {
    /// Plays a dry sound once more, at its gains: `give` gets what comes next in each of its files, by file and channel.
    ///
    /// # Errors
    /// [`ListenError`], or what `give` says.
    pub fn play<E: From<ListenError>>(
        &self,
        progress: &Progress,
        played: &Played,
        give: impl FnMut(&[Vec<Vec<f32>>]) -> Result<(), E>,
    ) -> Result<(), E> {
        played.again(progress, &self.playbacks, give)
    }
}

/// Letters and digits with hyphens between, and the ending.
fn file_name(words: &str) -> String {
    let parts = words.split(|letter: char| !letter.is_ascii_alphanumeric()).filter(|part| !part.is_empty());
    format!("{}.wav", parts.map(str::to_lowercase).collect::<Vec<_>>().join("-"))
}
