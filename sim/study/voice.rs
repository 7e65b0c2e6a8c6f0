//! Two takes of a voice, before and after, beside what the scene says of its panels: compared by number, and made equally loud for the ear.
//!
//! *References.* `measured::voice`, `prove::voice`.
//!
//! *Limits.* By images and rays alone: a voice has little below Schroeder's frequency of a room.

use super::prove::{NoTake, ProveError};
use super::{LowEnd, Sounded};
use crate::dsp::resample::at_rate;
use crate::dsp::wav::Sound;
use crate::listen::alternate::alternate;
use crate::listen::loudness::{by_gain, loudness, matched};
use crate::measured::take::TakeError;
use crate::measured::voice::VoiceTake;
use crate::progress::Progress;
use crate::prove::voice::{VoiceProof, compared, proof};
use crate::scene::Scene;

/// Two takes of a voice at one place.
#[derive(Clone, Debug)]
pub struct VoiceRecording {
    /// After the work.
    pub sound: Sound,
    /// Before it.
    pub before: Sound,
    /// The channel to take of both, counted from 1.
    pub channel: Option<usize>,
    /// Number of the source in the scene.
    pub source: usize,
    /// Number of the seat or microphone in the scene, seats first.
    pub receiver: usize,
}

/// Takes that are equally loud, and both in turns.
#[derive(Clone, Debug, PartialEq)]
pub struct MatchedVoice {
    /// Before the work.
    pub before: Sound,
    /// After it.
    pub after: Sound,
    /// In turns, before first.
    pub turns: Sound,
}

impl MatchedVoice {
    /// Each with a word for its file and what it is.
    #[must_use]
    pub fn files(&self) -> [(&'static str, &'static str, &Sound); 3] {
        [
            ("before", "before the work", &self.before),
            ("after", "after it", &self.after),
            ("turns", "both in turns of 4 s, before first", &self.turns),
        ]
    }
}

/// How long a turn lasts, seconds.
const TURN_S: f64 = 4.0;

/// What pairs of takes say, and the takes to listen to, in their order.
///
/// # Errors
/// [`ProveError`].
pub fn prove_voices(
    progress: &Progress,
    scene: &Scene,
    recordings: &[VoiceRecording],
) -> Result<(VoiceProof, Vec<Option<MatchedVoice>>), ProveError> {
    let takes = takes(progress, recordings)?;
    let none: Option<&LowEnd> = None;
    let hung = Sounded::new(progress, scene, none)?;
    let bare = match scene.panels.is_empty() {
        true => None,
        false => Some(Sounded::new(progress, &Scene { panels: Vec::new(), ..scene.clone() }, none)?),
    };
    let schroeder_hz = hung.survey.schroeder_hz;
    let mut voices = Vec::new();
    let mut heard = Vec::new();
    let mut wrong = Vec::new();
    for (index, (one, (after, before))) in recordings.iter().zip(&takes).enumerate() {
        let at = (one.source, one.receiver);
        let room = &hung.traced.room;
        let names = (room.sources[at.0].name.as_str(), room.receivers[at.1].name.as_str());
        let rooms = bare.as_ref().map(|bare| (hung.heard.response(at), bare.heard.response(at)));
        let silent = |is_before: bool| NoTake { recording: index, is_before, why: TakeError::Silent };
        let sides = [(after, false), (before, true)];
        wrong.extend(sides.iter().filter(|(take, _)| loudness(&take.sound).is_err()).map(|(_, is_before)| silent(*is_before)));
        if let Ok(voice) = compared(names, (after, before), rooms, schroeder_hz) {
            voices.push(voice);
            heard.push(equally_loud(after, before));
        }
    }
    if wrong.is_empty() { Ok((proof(voices), heard)) } else { Err(ProveError::Recordings(wrong)) }
}

/// A take of after and one of before.
type Both = (VoiceTake, VoiceTake);

/// The takes of all recordings, or all that is wrong with them.
fn takes(progress: &Progress, recordings: &[VoiceRecording]) -> Result<Vec<Both>, ProveError> {
    progress.begin("reading the recordings", recordings.len() as u64);
    let (mut takes, mut wrong) = (Vec::new(), Vec::new());
    for (index, one) in recordings.iter().enumerate() {
        let take =
            |sound: &Sound, is_before: bool| VoiceTake::new(sound, one.channel).map_err(|why| NoTake { recording: index, is_before, why });
        match (take(&one.sound, false), take(&one.before, true)) {
            (Ok(after), Ok(before)) => takes.push((after, before)),
            (after, before) => wrong.extend(after.err().into_iter().chain(before.err())),
        }
        progress.step(1)?;
    }
    if wrong.is_empty() { Ok(takes) } else { Err(ProveError::Recordings(wrong)) }
}

/// Both takes equally loud, at the rate of the one of before, and in turns; `None` where they cannot be brought to one rate.
fn equally_loud(after: &VoiceTake, before: &VoiceTake) -> Option<MatchedVoice> {
    let rate = before.sound.rate;
    let after = match after.sound.rate == rate {
        true => after.sound.clone(),
        false => Sound { rate, channels: vec![at_rate(&after.sound.channels[0], after.sound.rate, rate)?] },
    };
    let versions = [before.sound.clone(), after];
    let gains = matched(&versions).ok()?;
    let both = [0, 1].map(|index| by_gain(&versions[index], gains[index]));
    let turns = alternate(&both, TURN_S).ok()?.sound;
    let [before, after] = both;
    Some(MatchedVoice { before, after, turns })
}
