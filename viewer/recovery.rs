//! What a crash leaves: a copy of the unsaved work beside the scene, `.NAME.toml.unsaved`, offered at the next start. It is the text, or
//! both layouts where there are two (`layouts` says how).
//!
//! It is written whole after every step of undo, and every few seconds within a long one; it goes when the text is saved or given up.
//! The file of the scene itself is looked at every few seconds: what another program wrote into it is never overwritten unasked.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use bevy::prelude::*;
use roomwright::files::{self, Disk, FileError, RealDisk};

use crate::document::Document;
use crate::layouts::Layouts;
use crate::view::{Question, View};

/// Within a drag the copy is written this often.
const EVERY: Duration = Duration::from_secs(2);

/// The file is looked at this often.
const LOOK: Duration = Duration::from_secs(2);

/// Where files are.
#[derive(Clone, Resource)]
pub(crate) struct Storage(pub(crate) Arc<dyn Disk + Send + Sync>);

impl Default for Storage {
    fn default() -> Self {
        Self(Arc::new(RealDisk))
    }
}

/// What is edited here is nobody's work, and no copy is kept of it: something is measured.
#[derive(Debug, Default, Resource)]
pub(crate) struct NobodysWork;

/// What a recovery copy holds that waits for an answer.
#[derive(Debug, Default, Resource)]
pub(crate) struct Recovered(pub(crate) Option<Layouts>);

/// The copy's place: beside the scene; of a room without a file in the current folder.
pub(crate) fn place(scene: Option<&Path>) -> PathBuf {
    let scene = scene.unwrap_or_else(|| Path::new("new-room.toml"));
    let name = scene.file_name().unwrap_or_default().to_string_lossy();
    scene.with_file_name(format!(".{name}.unsaved"))
}

/// What a copy holds, if one was left that says something else than the scene.
pub(crate) fn left(disk: &dyn Disk, scene: Option<&Path>, text: &str) -> Option<Layouts> {
    let copy = Layouts::of_copy(files::read_text(disk, &place(scene)).ok()?);
    let is_new = copy.shown != text || copy.other.as_deref().is_some_and(|other| other != text);
    is_new.then_some(copy)
}

/// Whether opening the scene would offer a copy.
pub(crate) fn waits(disk: &dyn Disk, scene: &Path) -> bool {
    // Hardly ever is there one: then the scene is not read.
    disk.canonical(&place(Some(scene))).is_ok() && files::read_text(disk, scene).is_ok_and(|text| left(disk, Some(scene), &text).is_some())
}

/// Removes the copy. That it cannot be removed does no harm: it is offered once more.
pub(crate) fn clear(disk: &dyn Disk, scene: Option<&Path>) {
    drop(files::remove(disk, &place(scene)));
}

/// What the copy holds.
#[derive(Default)]
pub(crate) struct Copied {
    changes: u64,
    at: Duration,
}

/// Writes the copy when there is unsaved work, and removes it when there is none.
pub(crate) fn keep(
    document: Res<Document>,
    mut view: ResMut<View>,
    storage: Res<Storage>,
    time: Res<Time<Real>>,
    mut copied: Local<Copied>,
) {
    let is_asked = matches!(view.question, Some(Question::Recovery));
    let waits = document.is_dragged() && time.elapsed().saturating_sub(copied.at) < EVERY;
    if is_asked || waits || !document.is_open() || document.changes() == copied.changes {
        return;
    }
    *copied = Copied { changes: document.changes(), at: time.elapsed() };
    if document.is_unsaved() {
        let place = place(document.path());
        if let Err(failure) = files::replace(&*storage.0, &place, document.layouts().copy().as_bytes()) {
            view.notice = Some(format!("No recovery copy: {failure}. Save often."));
        }
    } else {
        clear(&*storage.0, document.path());
    }
}

/// Notices that another program changed the file, once for each change.
pub(crate) fn watch(
    mut document: ResMut<Document>,
    mut view: ResMut<View>,
    storage: Res<Storage>,
    time: Res<Time<Real>>,
    mut looked: Local<(Duration, Option<String>)>,
) {
    let (last, told) = &mut *looked;
    if time.elapsed().saturating_sub(*last) < LOOK && *last > Duration::ZERO {
        return;
    }
    *last = time.elapsed();
    let (Some(path), None) = (document.path(), &view.question) else { return };
    match files::read_text(&*storage.0, path) {
        Ok(text) => {
            let is_ours = document.saved() == Some(&text) || document.text() == text;
            if !is_ours && told.as_ref() != Some(&text) {
                view.question = Some(Question::ChangedOnDisk);
                *told = Some(text);
            }
        }
        Err(FileError::Read { cause, .. }) if cause.kind() == std::io::ErrorKind::NotFound && document.saved().is_some() => {
            view.notice = Some(format!("{} is gone; saving writes it again.", path.display()));
            document.note_on_disk(None);
        }
        // What cannot be read now is looked at again.
        Err(_) => {}
    }
}
