//! `report`: what there is about a room, gathered from what other commands wrote beside it, as one page and one PDF.

use std::io;
use std::path::{Path, PathBuf};

use roomwright::files::{self, FileError, RealDisk, Written};
use roomwright::plan::Plan;
use roomwright::prove::Proof;
use roomwright::prove::voice::VoiceProof;
use roomwright::report::{self, Handout};
use roomwright::scene::{self, Scene};
use roomwright::study::Placement;
use roomwright::study::handout::{Gathered, StoredPlan, gather};
use roomwright::study::listen::Sounds;
use serde::de::DeserializeOwned;

use super::arguments::{Judged, OneScene};
use super::{Failure, begin_sheets, finish, json, read, waiting, write};

/// Writes both for a plan that has just been made.
pub(super) fn of_plan(given: &OneScene, (planned, placement): (&Scene, &Placement), folder: &Path) -> Result<Written, Failure> {
    let beside = Beside::read(folder);
    let (plan, pictures) = (&placement.plan, &placement.pictures);
    let handout = Handout {
        scene: planned,
        room: &placement.room,
        now: &plan.before,
        plan: Ok((plan, pictures)),
        maps: pictures,
        doubt: None,
        proof: told(&beside.proof, NOT_MEASURED),
        voice: beside.voice.as_ref().and_then(|voice| voice.as_ref().ok()),
        sounds: told(&beside.sounds, NO_SOUNDS),
    };
    let (_, sheets) = report::handout_files(&handout).map_err(|why| Failure::Usage(why.to_string()))?;
    write("report", Some(&given.scene), Some(folder), &sheets)
}

/// Said where nothing was measured, and where there are no sounds.
const NOT_MEASURED: &str = "Nothing was measured yet: `roomwright sweep` writes a signal to play, `roomwright prove` with the recording tells whether the room does what was predicted.";
const NO_SOUNDS: &str = "There are no sounds yet: `roomwright hear --sound all` with the plan writes what the room sounds like bare and treated, equally loud and in turns.";

/// Gathers, and writes both.
pub(super) fn report(judged: &Judged, out: Option<&Path>) -> Result<(), Failure> {
    let (_, scene) = read(&judged.of.scene)?;
    let folder = out.map_or_else(|| files::sheets_folder(&judged.of.scene, "".as_ref()), PathBuf::from);
    let beside = Beside::read(&folder);
    let asked = judged.waves.asked();
    let made = waiting::wait(|progress| {
        let gathered = gather(progress, &scene, beside.plan, (!judged.rays_only).then_some(&asked))?;
        begin_sheets(progress)?;
        let handout = handout(&gathered, (&beside.proof, &beside.voice, &beside.sounds));
        let made = report::handout_files(&handout);
        progress.step(1)?;
        Ok(made)
    })?;
    let (contents, sheets) = made.map_err(|why| Failure::Usage(why.to_string()))?;
    let written = write("report", Some(&judged.of.scene), Some(&folder), &sheets)?;
    finish(judged.of.json, &written, &json(&contents)?, || report::text::report(&scene, &contents))
}

/// What other commands wrote, or why it cannot be read; `None` where there is none.
type Stored<T> = Option<Result<T, String>>;

/// All that a report takes from the folder that it is written into.
struct Beside {
    plan: Stored<StoredPlan>,
    proof: Stored<Proof>,
    voice: Stored<VoiceProof>,
    sounds: Stored<Sounds>,
}

impl Beside {
    fn read(folder: &Path) -> Self {
        let plan = stored::<Plan>(folder, "plan.json").map(|plan| Ok(StoredPlan { plan: plan?, scene: plan_scene(folder)? }));
        Self { plan, proof: stored(folder, "prove.json"), voice: stored(folder, "voice.json"), sounds: stored(folder, "sound.json") }
    }
}

/// A result as JSON.
fn stored<T: DeserializeOwned>(folder: &Path, name: &str) -> Stored<T> {
    let bytes = match files::read_result(&RealDisk, &folder.join(name)) {
        Ok(bytes) => bytes,
        Err(FileError::Read { cause, .. }) if cause.kind() == io::ErrorKind::NotFound => return None,
        Err(why) => return Some(Err(why.to_string())),
    };
    Some(serde_json::from_slice(&bytes).map_err(|why| format!("{name} is not what this version writes: {why}")))
}

/// The scene of a plan.
fn plan_scene(folder: &Path) -> Result<Scene, String> {
    let text = files::read_text(&RealDisk, &folder.join("plan.toml")).map_err(|why| why.to_string())?;
    let first = |mistakes: Vec<scene::Diagnostic>| mistakes.first().map_or_else(String::new, |one| one.message.clone());
    scene::read(&text).map(|(scene, _)| scene).map_err(|mistakes| format!("plan.toml does not read: {}", first(mistakes)))
}

/// All of it, with sentences in place of what is not there.
fn handout<'a>(
    gathered: &'a Gathered,
    (proof, voice, sounds): (&'a Stored<Proof>, &'a Stored<VoiceProof>, &'a Stored<Sounds>),
) -> Handout<'a> {
    Handout {
        scene: &gathered.scene,
        room: &gathered.room,
        now: &gathered.now,
        plan: gathered.plan.as_ref().map(|plan| (plan, &gathered.pictures)).map_err(Clone::clone),
        maps: &gathered.pictures,
        doubt: gathered.doubt.clone(),
        proof: told(proof, NOT_MEASURED),
        voice: voice.as_ref().and_then(|voice| voice.as_ref().ok()),
        sounds: told(sounds, NO_SOUNDS),
    }
}

/// What is there, or why not.
fn told<'a, T>(stored: &'a Stored<T>, none: &str) -> Result<&'a T, String> {
    match stored {
        None => Err(none.to_owned()),
        Some(Ok(there)) => Ok(there),
        Some(Err(why)) => Err(format!("{why}. Run its command again.")),
    }
}
