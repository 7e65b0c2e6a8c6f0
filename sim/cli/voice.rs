//! `prove --is voice`: two takes of each voice, compared and written equally loud.

use std::path::{Path, PathBuf};

use roomwright::files::{self, RealDisk};
use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::{self, ProveError, VoiceRecording};

use super::arguments::Prove;
use super::prove::{Taken, folder, typed, unusable};
use super::{Failure, finish, json, say, waiting, write};

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
    let folder = folder(given, out);
    let files = report::voice_files(scene, &proof, &heard).map_err(|why| Failure::Usage(why.to_string()))?;
    let takes = given.recordings.iter().chain(&given.before).map(PathBuf::as_path);
    let replaced = files::replaced(&RealDisk, (&folder, "voice"), &files, takes);
    if !replaced.is_empty() {
        for path in &replaced {
            say(&format!("error: {} is a take and would be replaced by what is written: move it, or say --out", path.display()));
        }
        return Err(typed(replaced.len()));
    }
    let json = json(&proof)?;
    // By a name of its own, so that it leaves alone what other recordings were proved by.
    let written = write("voice", Some(&given.scene), Some(&folder), &files)?;
    finish(given.json, &written, &json, || report::text::voice(scene, &proof))
}
