//! `prove --is voice`: two takes of each voice, compared and written equally loud.

use std::path::{Path, PathBuf};

use roomwright::report;
use roomwright::scene::Scene;
use roomwright::study::{self, MatchedVoice, ProveError, VoiceRecording};

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
    let taken = replaced(given, &folder, &heard);
    if !taken.is_empty() {
        for path in &taken {
            say(&format!("error: {} is a take and would be replaced by what is written: move it, or say --out", path.display()));
        }
        return Err(typed(taken.len()));
    }
    let json = json(&proof)?;
    let mut files = report::voice_files(scene, &proof, &heard).map_err(|why| Failure::Usage(why.to_string()))?;
    files.insert(1, ("voice.json".into(), format!("{json}\n").into_bytes()));
    // By a name of its own, so that it leaves alone what other recordings were proved by.
    let written = write("voice", Some(&given.scene), Some(&folder), &files)?;
    finish(given.json, &written, &json, || report::text::voice(scene, &proof))
}

/// Takes that lie where sounds would be written.
fn replaced(given: &Prove, folder: &Path, heard: &[Option<MatchedVoice>]) -> Vec<PathBuf> {
    let Ok(folder) = folder.canonicalize() else { return Vec::new() };
    let is_ours = |path: &Path| path.file_name().is_some_and(|name| name.to_string_lossy().starts_with("voice-"));
    let takes = given.recordings.iter().chain(&given.before);
    let lies_there = |path: &&PathBuf| path.canonicalize().is_ok_and(|path| path.parent() == Some(&*folder) && is_ours(&path));
    if heard.iter().all(Option::is_none) { Vec::new() } else { takes.filter(lies_there).cloned().collect() }
}
