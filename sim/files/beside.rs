//! What other commands left in a folder, for a report that goes there.
//!
//! *Limits.* What does not read is told in its place; nothing here is an error.

use std::io;
use std::path::Path;

use serde::de::DeserializeOwned;

use super::{Disk, FileError, read_result, read_text};
use crate::scene::{self, Diagnostic, Scene};
use crate::study::handout::{Beside, OF_PLAN, Stored, StoredPlan};

/// Reads all of it.
#[must_use]
pub fn beside(disk: &dyn Disk, folder: &Path) -> Beside {
    let plan = stored(disk, folder, "plan.json").map(|plan| Ok(StoredPlan { plan: plan?, scene: plan_scene(disk, folder)? }));
    Beside {
        plan,
        proof: stored(disk, folder, "prove.json"),
        voice: stored(disk, folder, "voice.json"),
        sounds: stored(disk, folder, "sound.json"),
        plan_sounds: stored(disk, &folder.join(OF_PLAN), "sound.json"),
    }
}

/// A result as JSON.
fn stored<T: DeserializeOwned>(disk: &dyn Disk, folder: &Path, name: &str) -> Stored<T> {
    let bytes = match read_result(disk, &folder.join(name)) {
        Ok(bytes) => bytes,
        Err(FileError::Read { cause, .. }) if cause.kind() == io::ErrorKind::NotFound => return None,
        Err(why) => return Some(Err(why.to_string())),
    };
    Some(serde_json::from_slice(&bytes).map_err(|why| format!("{name} is not what this version writes: {why}")))
}

/// The scene of a plan.
fn plan_scene(disk: &dyn Disk, folder: &Path) -> Result<Scene, String> {
    let text = read_text(disk, &folder.join("plan.toml")).map_err(|why| why.to_string())?;
    let first = |mistakes: Vec<Diagnostic>| mistakes.first().map_or_else(String::new, |one| one.message.clone());
    scene::read(&text).map(|(scene, _)| scene).map_err(|mistakes| format!("plan.toml does not read: {}", first(mistakes)))
}
