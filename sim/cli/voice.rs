//! `prove --is voice`: two takes of each voice, compared and written equally loud.

use std::path::Path;

use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::{self, ProveError, VoiceRecording};

use super::arguments::Prove;
use super::prove::{Taken, folder, unusable};
use super::{Failure, finish, json, waiting, write};

/// Takes of after beside those of before.
pub(super) fn voices(given: &Prove, (scene, taken): (&Scene, Vec<Taken>), out: Option<&Path>) -> Result<(), Failure> {
    let take = |one: Taken| {
        let Taken { sound, before, source, receiver } = one;
        Some(VoiceRecording { sound, before: before?, channel: given.channel, source, receiver })
    };
    let takes: Vec<VoiceRecording> = taken.into_iter().filter_map(take).collect();
    let (proof, heard) = waiting::wait(|progress| match study::prove_voices(progress, scene, &takes) {
        Ok(told) => Ok(Ok(told)),
        Err(ProveError::Recordings(wrong)) => Ok(Err(unusable(given, &wrong))),
        Err(ProveError::Stopped(stopped)) => Err(stopped),
    })??;
    let json = json(&proof)?;
    let mut files = report::voice_files(scene, &proof, &heard).map_err(|why| Failure::Usage(why.to_string()))?;
    files.insert(1, ("voice.json".into(), format!("{json}\n").into_bytes()));
    // By a name of its own, so that it leaves alone what other recordings were proved by.
    let written = write("voice", Some(&given.scene), Some(&folder(given, out)), &files)?;
    finish(given.json, &written, &json, || report::text::voice(scene, &proof))
}
