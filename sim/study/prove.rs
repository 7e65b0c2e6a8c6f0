//! Did it work? Recordings beside what the scene says: responses out of the recordings, the room heard as `hear` does, both compared.

use thiserror::Error;

use super::{Sounded, waves_or_why};
use crate::dsp::wav::Sound;
use crate::findings::bass::{BassAsked, BassRun};
use crate::findings::reflections::at_middle;
use crate::findings::{Findings, Reflection, Span};
use crate::hanging::Hanging;
use crate::measured::take::{Signal, Take, TakeError};
use crate::progress::{Cancelled, Progress};
use crate::prove::read::as_read;
use crate::prove::{Proof, Question, proof};
use crate::response::Response;
use crate::scene::{Activity, Scene};
use crate::weigh::{Linings, Traced};

/// A recording of one source at one receiver.
#[derive(Clone, Debug)]
pub struct Recording {
    /// What was recorded.
    pub sound: Sound,
    /// The same of before, where there is one.
    pub before: Option<Sound>,
    /// What it is of.
    pub signal: Signal,
    /// The channel to take, counted from 1.
    pub channel: Option<usize>,
    /// Number of the source in the scene.
    pub source: usize,
    /// Number of the seat or microphone in the scene, seats first.
    pub receiver: usize,
}

/// Numbers of the source and of the seat or microphone that a recording is of if nothing else is said; `None` where that must be said.
///
/// A clap is none of the sources: it takes the first. A voice is judged at its microphone, all else at a seat.
#[must_use]
pub fn usual_ends(scene: &Scene, is_clap: bool) -> [Option<usize>; 2] {
    let source = (scene.sources.len() == 1 || is_clap).then_some(0);
    let receiver = match (scene.activity, scene.seats.len(), scene.microphones.len()) {
        (Activity::Voice, seats, 1) => Some(seats),
        (_, 1, _) | (_, 0, 1) => Some(0),
        _ => None,
    };
    [source, receiver]
}

/// What is wrong with one recording.
#[derive(Clone, Debug, PartialEq, Error)]
#[error("{why}")]
pub struct NoTake {
    /// Which, counted from 0.
    pub recording: usize,
    /// Whether it is the one of before.
    pub is_before: bool,
    /// Why nothing comes of it.
    pub why: TakeError,
}

/// Why nothing is proved.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum ProveError {
    /// Of some recordings nothing comes: all of them.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
    Recordings(Vec<NoTake>),
    /// Stopped.
    #[error(transparent)]
    Stopped(#[from] Cancelled),
}

/// What recordings say beside the scene as it stands, with waves below the crossover where they are asked for.
///
/// # Errors
/// [`ProveError`].
pub fn prove(progress: &Progress, scene: &Scene, recordings: &[Recording], waves: Option<&BassAsked>) -> Result<Proof, ProveError> {
    let (takes, sounded, run) = sounding(progress, scene, recordings, waves)?;
    proved(progress, scene, (recordings, &takes), sounded, (run, waves)).map(|proved| proved.proof)
}

/// A room that waves may have been run in, or why not.
pub(super) type Waves = (Option<BassRun>, Option<String>);

/// Takes of the recordings, and the room that they are of, traced and heard.
pub(super) fn sounding(
    progress: &Progress,
    scene: &Scene,
    recordings: &[Recording],
    waves: Option<&BassAsked>,
) -> Result<(Vec<Both>, Sounded, Waves), ProveError> {
    let takes = takes(progress, recordings)?;
    let waves = waves_or_why(progress, scene, waves)?;
    let sounded = Sounded::new(progress, scene, waves.0.as_ref().map(|run| &run.low))?;
    Ok((takes, sounded, waves))
}

/// What recordings say, and what it was read from.
pub(super) struct Judged {
    pub(super) proof: Proof,
    pub(super) findings: Findings,
    pub(super) traced: Traced,
    pub(super) hanging: Hanging,
}

/// Recordings beside a room that is heard.
pub(super) fn proved(
    progress: &Progress,
    scene: &Scene,
    (recordings, takes): (&[Recording], &[Both]),
    sounded: Sounded,
    (run, waves): (Waves, Option<&BassAsked>),
) -> Result<Judged, ProveError> {
    let response = |recording: &Recording| sounded.heard.response((recording.source, recording.receiver)).clone();
    let responses: Vec<Response> = recordings.iter().map(response).collect();
    let (findings, traced, hanging) = sounded.judged(progress, scene, run, waves)?;
    let linings = Linings::new(&traced.room, &hanging);
    let receivers = traced.room.receivers.len();
    let answers = recordings.iter().zip(takes).zip(&responses).map(|((recording, (take, before)), response)| {
        let at = (recording.source, recording.receiver);
        let pair = &as_read(&findings.pairs[at.0 * receivers + at.1], response, take.about.rate_hz);
        // What materials leave open is told at the worst place of the zone; at the middle it is as wide.
        let inputs = |one: &Reflection| {
            let told = pair.reflections.iter().find(|other| other.surfaces == one.surfaces)?;
            let moved = one.level_db - told.level_db;
            told.level_inputs_db.map(|span| Span { low: span.low + moved, high: span.high + moved })
        };
        let reflections = at_middle(&traced, &linings, at.0, at.1).into_iter();
        let reflections: Vec<Reflection> = reflections.map(|one| Reflection { level_inputs_db: inputs(&one), ..one }).collect();
        let (room, activity, window_s) = (&traced.room, scene.activity, traced.settings.window_s);
        Question { room, activity, window_s, at, pair, reflections: &reflections }.answer(take, before.as_ref())
    });
    let answers = answers.collect();
    Ok(Judged { proof: proof(scene, &findings, answers), findings, traced, hanging })
}

/// A response, and that of before.
pub(super) type Both = (Take, Option<Take>);

/// The responses of all recordings, or all that is wrong with them.
fn takes(progress: &Progress, recordings: &[Recording]) -> Result<Vec<Both>, ProveError> {
    progress.begin("reading the recordings", recordings.len() as u64);
    let (mut takes, mut wrong) = (Vec::new(), Vec::new());
    for (index, recording) in recordings.iter().enumerate() {
        let take = |sound: &Sound, is_before: bool| {
            let take = Take::new(sound, &recording.signal, recording.channel);
            take.map_err(|why| NoTake { recording: index, is_before, why })
        };
        let both = (take(&recording.sound, false), recording.before.as_ref().map(|before| take(before, true)).transpose());
        match both {
            (Ok(take), Ok(before)) => takes.push((take, before)),
            (take, before) => wrong.extend(take.err().into_iter().chain(before.err())),
        }
        progress.step(1)?;
    }
    if wrong.is_empty() { Ok(takes) } else { Err(ProveError::Recordings(wrong)) }
}
